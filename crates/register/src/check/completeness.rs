//! What the record lacks: a list of gaps, each with its mend.

use super::Checked;
use crate::body::ExpectedRow;
use crate::site::{RecordedSurface, Site};
use crate::view::{CompletenessGap, ExpectedRun};
use crate::words::Touched;
use std::collections::HashSet;
use survey::Decimal;

fn gap(code: &str, about: &str, says: String) -> CompletenessGap {
    CompletenessGap {
        code: code.into(),
        about: about.into(),
        says,
    }
}

/// Returns the gaps of one run.
pub(crate) fn of_run(checked: &Checked, below: Option<&RecordedSurface>) -> Vec<CompletenessGap> {
    let run = &checked.run;
    let mut gaps = Vec::new();
    gaps.extend(
        checked
            .axis_gaps
            .iter()
            .map(|(code, says)| gap(code, &run.run, says.clone())),
    );
    if let Some(cover) = &checked.cover
        && cover.unknown_m > 0.0
    {
        let name = below.map(|b| b.name.as_str()).unwrap_or_default();
        let says = format!(
            "no surface here: {name} does not reach over {} m of it; record the surface there",
            run.cover_unknown_m.text()
        );
        gaps.push(gap("no-surface", &run.run, says));
    }
    let bounded = checked.laid.tube.vertices.iter().zip(&checked.laid.unshot_m);
    if bounded
        .into_iter()
        .any(|(v, bound_m)| v.growth.is_none() && bound_m.is_finite())
    {
        let says =
            "some of its points have no uncertainty; give sigma_h_mm and sigma_v_mm, or adopt class defaults";
        gaps.push(gap("no-uncertainty", &run.run, says.into()));
    }
    gaps
}

/// Returns the gaps of the site as a whole.
pub(super) fn of_site(site: &Site, expected: &[ExpectedRun]) -> Vec<CompletenessGap> {
    let mut gaps: Vec<_> = expected
        .iter()
        .filter(|e| !e.recorded)
        .map(|e| {
            gap(
                "missing-run",
                &e.run,
                format!("{}; record it before it is covered", e.says),
            )
        })
        .collect();
    let mut on_a_run = HashSet::new();
    for (name, run) in &site.runs {
        on_a_run.extend(run.laid.points.iter().map(String::as_str));
        on_a_run.extend(run.held.iter().flat_map(|h| &h.laid.points).map(String::as_str));
        for (which, end) in ["start", "end"].iter().zip(&run.record.ends) {
            if end.is_open() {
                let says = format!("its {which} is {end}; say where it goes, or cap it");
                gaps.push(gap("end-not-stated", name, says));
            }
        }
        if run.record.section.assumed {
            let says = format!("{}; measure the outside", run.record.section.words);
            gaps.push(gap("size-assumed", name, says));
        }
    }
    let wants_a_run = |touched: Touched| !matches!(touched, Touched::Ground | Touched::Other);
    let mut loose: Vec<&str> = site
        .points
        .iter()
        .filter(|(label, point)| {
            let measures_again = point.row.same_as.is_some();
            wants_a_run(point.row.touched) && !measures_again && !on_a_run.contains(label.as_str())
        })
        .map(|(label, _)| label.as_str())
        .collect();
    if !loose.is_empty() {
        loose.sort_unstable();
        let first: Vec<&str> = loose.iter().take(8).copied().collect();
        let more = if loose.len() > first.len() { ", ..." } else { "" };
        let says = format!(
            "{} points are on no run: {}{more}; lay runs through them",
            loose.len(),
            first.join(", ")
        );
        gaps.push(gap("point-on-no-run", first[0], says));
    }
    gaps
}

impl Site {
    /// Returns every expected run and whether it is recorded as expected.
    pub(crate) fn expected_runs(&self) -> Vec<ExpectedRun> {
        self.expected
            .values()
            .filter_map(|states| states.last())
            .map(|(row, _)| self.expected_run(row))
            .collect()
    }

    fn expected_run(&self, row: &ExpectedRow) -> ExpectedRun {
        let mut differs = Vec::new();
        match self.runs.get(&row.run) {
            None => differs.push("expected, and not recorded".to_string()),
            Some(run) => {
                let record = &run.record;
                if run.in_the_ground().next().is_none() {
                    differs.push("expected, and recorded as removed".into());
                }
                if record.service != row.service {
                    let (is, wanted) = (record.service.style().slug, row.service.style().slug);
                    differs.push(format!("expected as {wanted}, and recorded as {is}"));
                }
                let ways = record.section.ways;
                if let Some(count) = row.count
                    && count > ways
                {
                    differs.push(format!("expected {count} ways, and {ways} are recorded"));
                }
                if let Some(wanted) = row.size_mm.as_ref().map(Decimal::to_f64) {
                    let way_mm = if record.section.bank {
                        None
                    } else {
                        Some(record.section.width_m * 1000.0)
                    };
                    let sizes = [record.section.size_mm, way_mm];
                    if !sizes.iter().flatten().any(|is| (is - wanted).abs() <= 0.5) && !record.section.bank {
                        differs.push(format!(
                            "expected as size {wanted}, and recorded as {}",
                            record.section.words
                        ));
                    }
                }
            }
        }
        ExpectedRun {
            run: row.run.clone(),
            service: row.service.style().slug.into(),
            from: row.from.clone(),
            to: row.to.clone(),
            recorded: differs.is_empty(),
            says: if differs.is_empty() {
                "recorded (from and to are not compared)".into()
            } else {
                differs.join("; ")
            },
        }
    }
}
