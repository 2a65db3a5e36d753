//! `site`, `rules`, `surface`, `note`, `withdraw`, `book`.

use super::args::{
    Book, Cli, Note, OfSite, RulesAdopt, RulesArgs, RulesCommand, RulesShow, SiteArgs, SiteCommand, SiteOpen,
    SurfaceArgs, SurfaceCommand, SurfaceFacts, Withdraw,
};
use super::import::{decimal, word};
use super::output::Output;
use super::table::Table;
use super::{Ended, Outcome, register_file};
use crate::acts::{ActError, Near, OpenSite, RuleSetView, SurfaceAsk, shipped_text, shipped_views};
use register::body::Distances;
use register::view::{JournalView, SiteView};
use register::words::SurfaceKind;
use survey::Decimal;

/// Opens, lists or shows sites.
pub(crate) fn site(cli: &Cli, args: &SiteArgs, output: &Output) -> Outcome {
    match &args.what {
        SiteCommand::Open(args) => open(cli, args, output),
        SiteCommand::List => {
            let sites = register_file::to_read(cli)?.sites()?;
            output.result(&sites, |sites| {
                let mut table = Table::with(&["site", "entries", "head", "last recorded"]);
                for site in sites {
                    table.row([
                        site.name.clone(),
                        site.head.n.to_string(),
                        site.head.hex[..12].to_owned(),
                        site.head.recorded_at.clone().unwrap_or_default(),
                    ]);
                }
                match table.text() {
                    text if text.is_empty() => "no site is open in this register".to_owned(),
                    text => text,
                }
            })?;
            Ok(Ended::Done)
        }
        SiteCommand::Show(of) => show(cli, of, output),
    }
}

fn open(cli: &Cli, args: &SiteOpen, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let [easting, northing, level] = triple(&args.near, "--near")?;
    let ask = OpenSite {
        name: args.name.clone(),
        epsg: args.epsg,
        level_datum: args.level_datum.clone(),
        bench_mark: args.bench_mark.clone(),
        distances: Some(if args.ground_distances {
            Distances::Ground
        } else {
            Distances::Grid
        }),
        near: Near {
            easting,
            northing,
            level,
        },
        reach_m: decimal(&args.reach, "reach")?,
        level_reach_m: decimal(&args.level_reach, "level-reach")?,
        contact: args.contact.clone(),
        observed_at: None,
    };
    let register = register_file::to_begin(cli)?;
    let (site, receipt) = register.open_site(ask, &author)?;
    receipt.shown(|| output.result(&register.site_view(site)?, site_text))?;
    Ok(Ended::Done)
}

fn show(cli: &Cli, of: &OfSite, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, of.site.as_deref())?;
    output.result(&register.site_view(site)?, site_text)?;
    Ok(Ended::Done)
}

fn site_text(site: &SiteView) -> String {
    let mut text = format!("{} ({})\n", site.name, site.id);
    if let Some(why) = &site.read_only {
        text += &format!("! read-only: {why}\n");
    }
    let code = site
        .grid
        .epsg
        .map(|code| format!(" (EPSG:{code})"))
        .unwrap_or_default();
    text += &format!(
        "grid: {}{code}, distances on the {}\n",
        site.grid.name, site.grid.distances
    );
    text += &format!(
        "levels: {}, from bench mark {}\n",
        site.grid.level_datum, site.grid.bench_mark
    );
    let counts = &site.counts;
    text += &format!(
        "{} points, {} runs of {} legs, {} expected, {} searched areas, {} control points\n",
        counts.points, counts.runs, counts.legs, counts.expected, counts.searched, counts.control
    );
    match &site.rules {
        Some(rules) => text += &format!("rules: {} ({})\n", rules.title, rules.says),
        None => text += "rules: none adopted, so no check can be met\n",
    }
    let mut table = Table::with(&["surface", "kind", "shape", "observed", "± m", "points", "entry"]);
    for surface in &site.surfaces {
        table.row([
            surface.name.clone(),
            surface.kind.clone(),
            surface.shape.clone(),
            surface.observed_at.clone(),
            surface.u95_m.map_or("-".to_owned(), |u95| u95.text()),
            surface.points.to_string(),
            surface.entry.to_string(),
        ]);
    }
    text += &table.text();
    text += &format!("head {}:{}\n", site.head.n, site.head.hex);
    text
}

/// Lists, shows or adopts rule sets.
pub(crate) fn rules(cli: &Cli, args: &RulesArgs, output: &Output) -> Outcome {
    match &args.what {
        RulesCommand::List => {
            output.result(&shipped_views()?, |sets| {
                let mut table = Table::with(&["id", "figures", "where", "title"]);
                for set in sets {
                    table.row([
                        set.id.clone(),
                        set.figures.len().to_string(),
                        set.jurisdiction.clone(),
                        set.title.clone(),
                    ]);
                }
                format!("{}none counts until a site adopts it\n", table.text())
            })?;
            Ok(Ended::Done)
        }
        RulesCommand::Show(args) => show_rules(cli, args, output),
        RulesCommand::Adopt(args) => adopt_rules(cli, args, output),
    }
}

fn show_rules(cli: &Cli, args: &RulesShow, output: &Output) -> Outcome {
    if let Some(id) = &args.id {
        let text = shipped_text(id)?;
        if args.text {
            output.bytes(text.as_bytes())?;
            return Ok(Ended::Done);
        }
        let set = shipped_views()?.into_iter().find(|set| &set.id == id);
        output.result(&set, |set| set.as_ref().map_or(String::new(), rules_text))?;
        return Ok(Ended::Done);
    }
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    output.result(&register.adopted_rules(site)?, |set| {
        set.as_ref()
            .map_or_else(|| "no rule set is adopted".to_owned(), rules_text)
    })?;
    Ok(Ended::Done)
}

fn rules_text(set: &RuleSetView) -> String {
    let mut text = format!("{}: {}\n{}\n", set.id, set.title, set.jurisdiction);
    if !set.note.is_empty() {
        text += &format!("{}\n", set.note);
    }
    for figure in &set.figures {
        text += &format!(
            "  {}: {}\n    {} [{}]\n",
            figure.id, figure.says, figure.source, figure.status
        );
    }
    text
}

fn adopt_rules(cli: &Cli, args: &RulesAdopt, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let text = if std::path::Path::new(&args.rules).is_file() {
        std::fs::read_to_string(&args.rules).map_err(|e| ActError::File {
            file: args.rules.clone(),
            why: e.to_string(),
        })?
    } else {
        shipped_text(&args.rules)?.to_owned()
    };
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let (confirm, leave_out) = (args.confirm.clone(), args.leave_out.clone());
    let receipt = register.adopt_rules(site, &text, confirm, leave_out, &author, None)?;
    receipt.shown(|| {
        output.result(&register.adopted_rules(site)?, |set| {
            set.as_ref().map_or(String::new(), rules_text)
        })
    })?;
    Ok(Ended::Done)
}

/// Records a surface of one level or of a plane.
pub(crate) fn surface(cli: &Cli, args: &SurfaceArgs, output: &Output) -> Outcome {
    let (level, points, facts): (Option<Decimal>, Vec<[Decimal; 3]>, &SurfaceFacts) = match &args.what {
        SurfaceCommand::Level(args) => (
            decimal(&Some(args.level.clone()), "level")?,
            Vec::new(),
            &args.facts,
        ),
        SurfaceCommand::Plane(args) => {
            let points = args
                .points
                .split_whitespace()
                .map(|point| triple(point, "a point"));
            (None, points.collect::<Result<_, _>>()?, &args.facts)
        }
    };
    let author = register_file::author(facts.by.by.as_deref())?;
    let kind =
        word(&Some(facts.kind.clone()), "kind", SurfaceKind::from_slug)?.unwrap_or(SurfaceKind::Existing);
    let ask = SurfaceAsk {
        name: facts.name.clone(),
        kind,
        id: None,
        observed_at: Some(facts.observed_at.clone()),
        level_m: level,
        points,
        within: None,
        sigma_v_mm: decimal(&facts.sigma_v_mm, "sigma-v-mm")?,
    };
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, facts.of.site.as_deref())?;
    let receipt = register.record_surface(site, ask, &author)?;
    receipt.shown(|| output.result(&register.site_view(site)?, site_text))?;
    Ok(Ended::Done)
}

/// Writes a remark in the book.
pub(crate) fn note(cli: &Cli, args: &Note, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let receipt = register.note(site, &args.text, args.about.as_deref(), &author, None)?;
    receipt.shown(|| output.result(&register.journal(site, None, 1)?, book_text))?;
    Ok(Ended::Done)
}

/// Takes an entry back.
pub(crate) fn withdraw(cli: &Cli, args: &Withdraw, output: &Output) -> Outcome {
    let author = register_file::author(args.by.by.as_deref())?;
    let register = register_file::to_write(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    let receipt = register.withdraw(site, &args.entry, &args.reason, &author, None)?;
    receipt.shown(|| output.result(&register.journal(site, None, 1)?, book_text))?;
    Ok(Ended::Done)
}

/// Reads the book.
pub(crate) fn book(cli: &Cli, args: &Book, output: &Output) -> Outcome {
    let register = register_file::to_read(cli)?;
    let site = register_file::site(&register, args.of.site.as_deref())?;
    output.result(&register.journal(site, args.before, args.limit)?, book_text)?;
    Ok(Ended::Done)
}

fn book_text(book: &JournalView) -> String {
    let mut text = String::new();
    for entry in &book.entries {
        text += &format!("{} {} {}: {}\n", entry.n, entry.recorded_at, entry.by, entry.says);
        if let Some(withdrawn) = &entry.withdrawn {
            text += &format!("    withdrawn: {withdrawn}\n");
        }
    }
    text += &format!("head {}:{}\n", book.head.n, book.head.hex);
    text
}

fn triple(given: &str, what: &str) -> Result<[Decimal; 3], ActError> {
    let refuse = |why: String| {
        ActError::asked(
            "position",
            format!("{what} {given:?}: {why}write easting,northing,level"),
        )
    };
    let numbers: Vec<Decimal> = given
        .split(',')
        .map(|number| {
            number
                .trim()
                .parse::<Decimal>()
                .map_err(|e| refuse(format!("{e}; ")))
        })
        .collect::<Result<_, _>>()?;
    let count = numbers.len();
    <[Decimal; 3]>::try_from(numbers).map_err(|_numbers| refuse(format!("{count} numbers; ")))
}
