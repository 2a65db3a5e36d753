//! What can be written on the command line.

use super::point_args::PointArgs;
use clap::{Args, Parser, Subcommand};
use std::path::PathBuf;

/// Records buried and cast-in services before they are covered, and answers planned digs.
#[derive(Debug, Parser)]
#[command(name = "coverbook", version, about, arg_required_else_help = true)]
pub(crate) struct Cli {
    /// The register's file (default: COVERBOOK_REGISTER, or coverbook.db)
    #[arg(long, global = true, value_name = "FILE")]
    pub(crate) register: Option<PathBuf>,
    /// Write results as JSON
    #[arg(long, global = true)]
    pub(crate) json: bool,
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Load the invented site through the front door and serve it
    Demo(Demo),
    /// Serve the register to browsers on this machine
    Serve(Serve),
    /// Open, list and show sites
    Site(SiteArgs),
    /// Read a file into a site
    Import(Box<Import>),
    /// Adjust one set-up, no register needed; exit 1 unless it fits and its check passes
    Station(StationArgs),
    /// Set a station anew by the readings it has; every point and run that hangs on it moves
    SetAnew(super::anew::AnewArgs),
    /// Reduce one level book, no register needed; exit 1 unless it closes
    Levels(LevelsArgs),
    /// Check cover, fall and completeness; exit 1 unless all is met
    Cover(Cover),
    /// Ask what is recorded near a planned dig
    Dig(Dig),
    /// Ask whether an area of work can be covered, and decide it; exit 1 while an item is open
    Hold(Hold),
    /// Attach a file, such as a photo, to a run, point, station or searched area
    Attach(Attach),
    /// Lay out a sheet as PDF
    Sheet(SheetArgs),
    /// Write a site out in an open format
    Export(Export),
    /// Recompute the chain, the answers' rows and the files, and say what that proves; exit 1 if it does not hold
    Verify(Verify),
    /// Copy the register, whole, to a new file
    Backup(FileArg),
    /// Bring a backup back as the register
    Restore(FileArg),
    /// List, show and adopt rule sets
    Rules(RulesArgs),
    /// Record a point by tape, satellite or detector, and show one
    Point(PointArgs),
    /// Lay, amend and retire runs, and show one
    Run(RunArgs),
    /// Record a surface of one level, or a plane through points
    Surface(SurfaceArgs),
    /// Write a remark in the book
    Note(Note),
    /// Take an entry back, with the reason; it stays readable
    Withdraw(Withdraw),
    /// Read the book, newest entry first
    Book(Book),
}

#[derive(Debug, Args)]
pub(crate) struct OfSite {
    /// The site, by name or id; may be left out when the register holds one
    #[arg(long, value_name = "S")]
    pub(crate) site: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct By {
    /// Who does it (default: COVERBOOK_BY)
    #[arg(long, value_name = "NAME")]
    pub(crate) by: Option<String>,
}

/// What is said of observations and level books.
#[derive(Debug, Args)]
pub(crate) struct MeasuredArgs {
    /// Observations: name of the station, for a file without a station column
    #[arg(long, value_name = "NAME")]
    pub(crate) station: Option<String>,
    /// Observations: how angles were read: degrees, gon, dms or packed-dms
    #[arg(long, value_name = "UNIT")]
    pub(crate) angles: Option<String>,
    /// Observations: the instrument, as its maker states it: mm,ppm,direction seconds,zenith seconds
    #[arg(long, value_name = "MM,PPM,SEC,SEC")]
    pub(crate) instrument: Option<String>,
    /// Observations: the air, where the instrument did not reckon with it: degrees C, hPa, humidity %, and from its manual
    /// the wavelength in micrometres and the refractivity at 0 ppm; a sixth figure is the ppm set in it, taken off again
    #[arg(
        long,
        value_name = "C,HPA,%,UM,PPM[,SET]",
        conflicts_with = "air_in_instrument"
    )]
    pub(crate) air: Option<String>,
    /// Observations: what the instrument reckoned with itself, as it was set, such as "18 C, 1013 hPa"
    #[arg(long, value_name = "WORDS")]
    pub(crate) air_in_instrument: Option<String>,
    /// Observations: the largest difference accepted at a check, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) tolerance_mm: Option<String>,
    /// Observations: why a station is used without a passed check
    #[arg(long, value_name = "REASON")]
    pub(crate) unchecked_reason: Option<String>,
    /// Levels: name of the level book
    #[arg(long, value_name = "NAME")]
    pub(crate) book: Option<String>,
    /// Levels: k of the allowable misclosure, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) allowable_k_mm: Option<String>,
    /// Levels: k is for each root of a set-up, not of a kilometre
    #[arg(long)]
    pub(crate) by_setups: bool,
    /// Levels: how the misclosure is spread: not-spread, by-setups or by-distance
    #[arg(long, value_name = "HOW")]
    pub(crate) spread: Option<String>,
    /// Levels: standard deviation of one set-up's height difference, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) setup_sigma_mm: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct StationArgs {
    /// The observations of one set-up
    pub(crate) file: PathBuf,
    /// The control list
    #[arg(long, value_name = "FILE")]
    pub(crate) control: PathBuf,
    /// Grid distance over ground distance
    #[arg(long, value_name = "FACTOR", default_value_t = 1.0)]
    pub(crate) grid_scale: f64,
    #[command(flatten)]
    pub(crate) measured: MeasuredArgs,
}

#[derive(Debug, Args)]
pub(crate) struct LevelsArgs {
    /// The level book
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) measured: MeasuredArgs,
}

#[derive(Debug, Args)]
pub(crate) struct Demo {
    /// Address to listen on; port 0 takes a free one
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:8017")]
    pub(crate) listen: String,
    /// Load the site and stop, without serving it
    #[arg(long)]
    pub(crate) no_serve: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Serve {
    /// Address to listen on; port 0 takes a free one
    #[arg(long, value_name = "ADDR:PORT", default_value = "127.0.0.1:8017")]
    pub(crate) listen: String,
    /// A name by which browsers may address this server, besides the address itself
    #[arg(long, value_name = "NAME")]
    pub(crate) host: Vec<String>,
}

#[derive(Debug, Args)]
pub(crate) struct SiteArgs {
    #[command(subcommand)]
    pub(crate) what: SiteCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum SiteCommand {
    /// Open a site
    Open(SiteOpen),
    /// List the sites of the register
    List,
    /// Show a site as it stands
    Show(OfSite),
}

#[derive(Debug, Args)]
pub(crate) struct SiteOpen {
    /// Its name
    #[arg(long)]
    pub(crate) name: String,
    /// EPSG code of its projected grid; leave out for a grid tied to nothing
    #[arg(long)]
    pub(crate) epsg: Option<u32>,
    /// Named level datum
    #[arg(long)]
    pub(crate) level_datum: String,
    /// Bench mark that the levels hang on
    #[arg(long)]
    pub(crate) bench_mark: String,
    /// Roughly where: easting,northing,level in metres
    #[arg(long, value_name = "E,N,LEVEL", allow_hyphen_values = true)]
    pub(crate) near: String,
    /// How far from there a point may lie, metres
    #[arg(long, value_name = "M")]
    pub(crate) reach: Option<String>,
    /// How far above or below there a level may lie, metres
    #[arg(long, value_name = "M")]
    pub(crate) level_reach: Option<String>,
    /// Distances are on the ground, not on the grid
    #[arg(long)]
    pub(crate) ground_distances: bool,
    /// Whom to ring, as printed on sheets
    #[arg(long)]
    pub(crate) contact: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Import {
    /// The file; - reads standard input
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// points, control, surface, runs, searched, expected, observations, levels, ties, offsets, satellite or detected
    #[arg(long = "as", value_name = "KIND")]
    pub(crate) kind: String,
    /// Read and check only; record nothing
    #[arg(long)]
    pub(crate) dry_run: bool,
    /// Columns of a file without header, such as point,easting,northing,level
    #[arg(long, value_name = "COLUMNS")]
    pub(crate) order: Option<String>,
    /// Unit of coordinates without a suffix: m, mm, ft, usft
    #[arg(long)]
    pub(crate) unit: Option<String>,
    /// What was touched, for rows that do not say
    #[arg(long)]
    pub(crate) touched: Option<String>,
    /// How the points are known, for rows that do not say
    #[arg(long)]
    pub(crate) known: Option<String>,
    /// What the runs carry, for rows that do not say
    #[arg(long)]
    pub(crate) service: Option<String>,
    /// The run of rows that name none
    #[arg(long)]
    pub(crate) run: Option<String>,
    /// Standard deviation in plan, each axis, for rows that do not say, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) sigma_h_mm: Option<String>,
    /// Standard deviation in level, for rows that do not say, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) sigma_v_mm: Option<String>,
    /// Put before every label and run name
    #[arg(long)]
    pub(crate) prefix: Option<String>,
    /// Name of the surface
    #[arg(long)]
    pub(crate) name: Option<String>,
    /// What the surface is: existing, stripped, formation, finished-design, finished-built
    #[arg(long, value_name = "SURFACE KIND")]
    pub(crate) kind_of_surface: Option<String>,
    /// When it was observed: 2031-05-03 or RFC 3339
    #[arg(long, value_name = "TIME")]
    pub(crate) observed_at: Option<String>,
    #[command(flatten)]
    pub(crate) measured: MeasuredArgs,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Cover {
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// One run only
    #[arg(long)]
    pub(crate) run: Option<String>,
    /// The surface, by name
    #[arg(long)]
    pub(crate) surface: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Question {
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Corners "E,N E,N ...", or a file of them (GeoJSON in the site's grid, or CSV), or - for standard input
    #[arg(long, value_name = "FILE|E,N ...|-", allow_hyphen_values = true)]
    pub(crate) area: Option<String>,
    /// Width: the corners are then a line and the dig a trench along it, metres
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub(crate) width: Option<f64>,
    /// Centre of a post, pile, rod or core: E,N; needs --radius
    #[arg(long, value_name = "E,N", allow_hyphen_values = true, conflicts_with = "area")]
    pub(crate) point: Option<String>,
    /// Axis of a bore: "E,N,LEVEL E,N,LEVEL ..."; needs --radius and --deviation
    #[arg(long, value_name = "E,N,LEVEL ...", allow_hyphen_values = true, conflicts_with_all = ["area", "point"])]
    pub(crate) bore: Option<String>,
    /// Radius of the post or bore, metres
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub(crate) radius: Option<f64>,
    /// How far the bore may stray, metres
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub(crate) deviation: Option<f64>,
    /// Depth below the surface, metres straight down
    #[arg(
        long,
        value_name = "M",
        conflicts_with = "floor",
        allow_negative_numbers = true
    )]
    pub(crate) depth: Option<f64>,
    /// Level of the floor, metres
    #[arg(long, value_name = "LEVEL", allow_negative_numbers = true)]
    pub(crate) floor: Option<f64>,
    /// The surface, by name
    #[arg(long)]
    pub(crate) surface: Option<String>,
    /// Allowance for digging too deep, metres
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub(crate) over_dig: Option<f64>,
    /// Allowance for setting out, metres
    #[arg(long, value_name = "M", allow_negative_numbers = true)]
    pub(crate) set_out: Option<f64>,
    /// Batter of the sides, horizontal per vertical
    #[arg(long, value_name = "RATIO", allow_negative_numbers = true)]
    pub(crate) batter: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct Dig {
    #[command(flatten)]
    pub(crate) question: Question,
    /// Keep the question and the answer in the book
    #[arg(long)]
    pub(crate) keep: bool,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Hold {
    /// Name of the pour, trench length or other area of work
    #[arg(long, value_name = "NAME")]
    pub(crate) area: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Its outline: corners "E,N E,N ...", a file of them, or - for standard input
    #[arg(long, value_name = "FILE|E,N ...", allow_hyphen_values = true)]
    pub(crate) ring: Option<String>,
    /// A run that belongs to it, beside those that the outline meets; may be given again
    #[arg(long = "run", value_name = "R")]
    pub(crate) runs: Vec<String>,
    /// The surface that covers hang on
    #[arg(long, value_name = "NAME")]
    pub(crate) surface: Option<String>,
    /// A reason for an open item, by its key in brackets; may be given again
    #[arg(long = "accept", value_name = "ITEM=REASON")]
    pub(crate) accepted: Vec<String>,
    /// Release it: every open item needs a reason, and --head the list that was looked at
    #[arg(long, conflicts_with = "refuse", requires = "head")]
    pub(crate) release: bool,
    /// The head that stands under the list that was looked at
    #[arg(long, value_name = "N:HEX")]
    pub(crate) head: Option<String>,
    /// Record that it is not released
    #[arg(long)]
    pub(crate) refuse: bool,
    /// Own words to stand on the certificate
    #[arg(long, value_name = "WORDS")]
    pub(crate) statement: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Attach {
    /// The file
    pub(crate) file: PathBuf,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// The run, point, station or searched area that it is about
    #[arg(long, value_name = "NAME")]
    pub(crate) about: String,
    /// When it was taken
    #[arg(long, value_name = "TIME")]
    pub(crate) observed_at: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct SheetArgs {
    #[command(flatten)]
    pub(crate) question: Question,
    /// Which sheet: dig, or hold for the certificate of a hold point
    #[arg(long, value_name = "K", default_value = "dig")]
    pub(crate) kind: String,
    /// For a certificate: the decision, by its entry's number or id
    #[arg(long, value_name = "ENTRY")]
    pub(crate) release: Option<String>,
    /// A4, A3 or Letter
    #[arg(long, default_value = "A4")]
    pub(crate) paper: String,
    /// When to ask again, as printed
    #[arg(long, value_name = "DATE")]
    pub(crate) recheck_by: Option<String>,
    /// Emergency services, as dialled on this site
    #[arg(long, value_name = "NUMBER")]
    pub(crate) emergency: Option<String>,
    /// The PDF to write
    #[arg(short, long, value_name = "FILE.pdf")]
    pub(crate) output: PathBuf,
    /// Who issues it: the sheet is then entered in the book and kept
    #[arg(long, value_name = "NAME")]
    pub(crate) by: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Export {
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// geojson or csv
    #[arg(long, value_name = "FORMAT")]
    pub(crate) to: String,
    /// The file to write; - writes standard output
    #[arg(short, long, value_name = "FILE")]
    pub(crate) output: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct Verify {
    /// Another register's file, such as a backup
    pub(crate) pack: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// A head that somebody else holds, as printed on a sheet
    #[arg(long, value_name = "N:HEX")]
    pub(crate) head: Option<String>,
    /// First make the cached rows of runs again from the journal
    #[arg(long)]
    pub(crate) rebuild: bool,
}

#[derive(Debug, Args)]
pub(crate) struct FileArg {
    /// The backup's file
    pub(crate) file: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct RulesArgs {
    #[command(subcommand)]
    pub(crate) what: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum RulesCommand {
    /// List the rule sets that ship, switched off
    List,
    /// Show one that ships, or the one a site adopted
    Show(RulesShow),
    /// Adopt one for a site
    Adopt(RulesAdopt),
}

#[derive(Debug, Args)]
pub(crate) struct RulesShow {
    /// Its id; without one, the set that the site adopted
    pub(crate) id: Option<String>,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Print its text
    #[arg(long)]
    pub(crate) text: bool,
}

#[derive(Debug, Args)]
pub(crate) struct RulesAdopt {
    /// Id of a set that ships, or a file of your own (TOML)
    pub(crate) rules: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Ids of figures not seen at their source that you vouch for
    #[arg(long, value_name = "ID", value_delimiter = ',')]
    pub(crate) confirm: Vec<String>,
    /// Ids of figures that do not apply on this site
    #[arg(long, value_name = "ID", value_delimiter = ',')]
    pub(crate) leave_out: Vec<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct RunArgs {
    #[command(subcommand)]
    pub(crate) what: RunCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum RunCommand {
    /// Lay a run through recorded points
    Lay(RunLay),
    /// Amend a run; what is not given stays as it is
    Amend(RunAmend),
    /// Say that a run is no longer in use
    Retire(RunRetire),
    /// Show a run, whole
    Show(RunShow),
}

#[derive(Debug, Args)]
pub(crate) struct RunDetails {
    /// Its points in order, by label; for a gravity service in the direction of flow
    #[arg(long, value_name = "LABELS", value_delimiter = ',')]
    pub(crate) points: Vec<String>,
    /// What it carries
    #[arg(long)]
    pub(crate) service: Option<String>,
    /// Nominal size, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) size_mm: Option<String>,
    /// Outside diameter, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) outside_mm: Option<String>,
    /// Wall, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) wall_mm: Option<String>,
    /// Material
    #[arg(long)]
    pub(crate) material: Option<String>,
    /// Rows of a bank
    #[arg(long)]
    pub(crate) rows: Option<u32>,
    /// Columns of a bank
    #[arg(long)]
    pub(crate) columns: Option<u32>,
    /// Centre spacing of a bank, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) spacing_mm: Option<String>,
    /// How it begins: capped, continues, joins:RUN, enters:STRUCTURE
    #[arg(long, value_name = "HOW")]
    pub(crate) begins: Option<String>,
    /// How it ends
    #[arg(long, value_name = "HOW")]
    pub(crate) ends: Option<String>,
    /// How far a leg may bow off its chord, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) bow_mm: Option<String>,
    /// Whose it is
    #[arg(long)]
    pub(crate) owner: Option<String>,
    /// A remark
    #[arg(long)]
    pub(crate) note: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct RunLay {
    /// Its name
    pub(crate) run: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    #[command(flatten)]
    pub(crate) details: RunDetails,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct RunAmend {
    /// Its name
    pub(crate) run: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    #[command(flatten)]
    pub(crate) details: RunDetails,
    /// The entry of the revision you saw (default: the newest)
    #[arg(long, value_name = "N")]
    pub(crate) saw: Option<u64>,
    /// Why
    #[arg(long)]
    pub(crate) reason: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct RunRetire {
    /// Its name
    pub(crate) run: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// abandoned, removed or superseded
    #[arg(long)]
    pub(crate) how: String,
    /// You saw it taken out of the ground
    #[arg(long)]
    pub(crate) removal_seen: bool,
    /// The runs that take its place
    #[arg(long, value_name = "RUNS", value_delimiter = ',')]
    pub(crate) successors: Vec<String>,
    /// Why
    #[arg(long)]
    pub(crate) reason: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct RunShow {
    /// Its name
    pub(crate) run: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// The surface that depths hang on
    #[arg(long)]
    pub(crate) surface: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct SurfaceArgs {
    #[command(subcommand)]
    pub(crate) what: SurfaceCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum SurfaceCommand {
    /// One level everywhere
    Level(SurfaceLevel),
    /// The plane through three or more points
    Plane(SurfacePlane),
}

#[derive(Debug, Args)]
pub(crate) struct SurfaceFacts {
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Its name
    #[arg(long)]
    pub(crate) name: String,
    /// existing, stripped, formation, finished-design or finished-built
    #[arg(long, value_name = "KIND")]
    pub(crate) kind: String,
    /// When it was observed: 2031-05-03 or RFC 3339
    #[arg(long, value_name = "TIME")]
    pub(crate) observed_at: String,
    /// Standard deviation of its level, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) sigma_v_mm: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct SurfaceLevel {
    /// The level, metres
    #[arg(allow_negative_numbers = true)]
    pub(crate) level: String,
    #[command(flatten)]
    pub(crate) facts: SurfaceFacts,
}

#[derive(Debug, Args)]
pub(crate) struct SurfacePlane {
    /// "E,N,LEVEL E,N,LEVEL E,N,LEVEL ..."
    #[arg(allow_hyphen_values = true)]
    pub(crate) points: String,
    #[command(flatten)]
    pub(crate) facts: SurfaceFacts,
}

#[derive(Debug, Args)]
pub(crate) struct Note {
    /// The remark
    pub(crate) text: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// What it is about
    #[arg(long)]
    pub(crate) about: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Withdraw {
    /// The entry, by number or id
    pub(crate) entry: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Why
    #[arg(long)]
    pub(crate) reason: String,
    #[command(flatten)]
    pub(crate) by: By,
}

#[derive(Debug, Args)]
pub(crate) struct Book {
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// Entries before this number
    #[arg(long, value_name = "N")]
    pub(crate) before: Option<u64>,
    /// How many
    #[arg(long, value_name = "K", default_value_t = 20)]
    pub(crate) limit: u64,
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_holds_together() {
        Cli::command().debug_assert();
    }
}
