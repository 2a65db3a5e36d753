//! What can be written of a point on the command line.

use super::args::{By, OfSite};
use clap::{Args, Subcommand};

#[derive(Debug, Args)]
pub(crate) struct PointArgs {
    #[command(subcommand)]
    pub(crate) what: PointCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum PointCommand {
    /// Record a point by tape, satellite or detector: one way to its place, one to its level
    Measure(Box<PointMeasure>),
    /// Show a point: where it is, how sure, and how that came about
    Show(PointShow),
}

#[derive(Debug, Args)]
pub(crate) struct PointShow {
    /// Its label
    pub(crate) point: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
}

#[derive(Debug, Args)]
pub(crate) struct PointMeasure {
    /// Its label, unique in the site
    pub(crate) point: String,
    #[command(flatten)]
    pub(crate) of: OfSite,
    /// What was touched: outside-top, invert, centre, outside-bottom, side, ground or other
    #[arg(long)]
    pub(crate) touched: String,
    /// How it is known: seen-checked, seen, traced, drawn or assumed
    #[arg(long)]
    pub(crate) known: Option<String>,
    /// Reckon and show it only; record nothing
    #[arg(long)]
    pub(crate) dry_run: bool,
    /// Place: a tie, FROM=METRES, and =RISE for a tape along a slope; two or more, the first two fix the point
    #[arg(long, value_name = "FROM=M[=RISE]", conflicts_with_all = ["line", "at"])]
    pub(crate) tie: Vec<String>,
    /// Place: the line of an offset, between two known points
    #[arg(long, value_name = "FROM,TO", conflicts_with = "at")]
    pub(crate) line: Option<String>,
    /// Distance along the line, metres
    #[arg(long, value_name = "M", requires = "line", allow_hyphen_values = true)]
    pub(crate) chainage: Option<String>,
    /// Distance square to the line, metres
    #[arg(long, value_name = "M", requires = "line")]
    pub(crate) offset: Option<String>,
    /// left or right of the line, or of the first mark to the second; on-line for no offset
    #[arg(long)]
    pub(crate) side: Option<String>,
    /// Standard deviation of each taped distance, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) tape_sigma_mm: Option<String>,
    /// Standard deviation of each RISE, millimetres; 20 is assumed, and said, when not said
    #[arg(long, value_name = "MM", requires = "tie")]
    pub(crate) rise_sigma_mm: Option<String>,
    /// Standard deviation of the offset's right angle, degrees; set by eye when not said
    #[arg(long, value_name = "DEG", requires = "line")]
    pub(crate) square_sigma_deg: Option<String>,
    /// Place: easting,northing; of a satellite position with --fix, else found otherwise
    #[arg(long, value_name = "E,N", allow_hyphen_values = true)]
    pub(crate) at: Option<String>,
    /// Standard deviation of --at, each axis, millimetres
    #[arg(long, value_name = "MM", requires = "at", conflicts_with = "fix")]
    pub(crate) sigma_h_mm: Option<String>,
    /// Satellite: the solution: fixed, float, differential, single or not-stated
    #[arg(long, requires = "at")]
    pub(crate) fix: Option<String>,
    /// Satellite: what the receiver states of its plan position, millimetres
    #[arg(long, value_name = "MM", requires = "fix")]
    pub(crate) horizontal_mm: Option<String>,
    /// Satellite: what it states of its height, millimetres
    #[arg(long, value_name = "MM", requires = "fix")]
    pub(crate) vertical_mm: Option<String>,
    /// Satellite, detector: what the stated figures mean: sigma, 95 or 50 (per cent of errors)
    #[arg(long)]
    pub(crate) means: Option<String>,
    /// Level: as read or reckoned otherwise, metres
    #[arg(long, value_name = "M", allow_hyphen_values = true)]
    pub(crate) level: Option<String>,
    /// Level: a staff, MARK,READING ON THE MARK,READING HERE
    #[arg(long, value_name = "MARK,BACK,FORE")]
    pub(crate) staff: Option<String>,
    /// Level: depth straight down below --below, metres
    #[arg(long, value_name = "M", requires = "below")]
    pub(crate) depth: Option<String>,
    /// The surface that --depth is below, as it stood that day
    #[arg(long, value_name = "SURFACE", requires = "depth")]
    pub(crate) below: Option<String>,
    /// Standard deviation of the level, the staff or the depth, millimetres
    #[arg(long, value_name = "MM")]
    pub(crate) sigma_v_mm: Option<String>,
    /// Level: the receiver's height, metres
    #[arg(long, value_name = "M", allow_hyphen_values = true, requires = "fix")]
    pub(crate) height: Option<String>,
    /// What --height is above: site-datum or ellipsoid
    #[arg(long, value_name = "WHAT", requires = "height")]
    pub(crate) height_above: Option<String>,
    /// Height of the antenna still to be taken off, metres; 0 where the receiver has done so
    #[arg(long, value_name = "M", requires = "height")]
    pub(crate) antenna: Option<String>,
    /// Detected, not seen: how: active, passive, sonde or radar; --depth is then as displayed
    #[arg(long, requires = "depth")]
    pub(crate) method: Option<String>,
    /// Detector: stated accuracy, per cent of the depth
    #[arg(long, requires = "method")]
    pub(crate) percent: Option<String>,
    /// Detector: and so much besides, millimetres
    #[arg(long, value_name = "MM", requires = "method")]
    pub(crate) constant_mm: Option<String>,
    /// Detector: stated accuracy across the line, millimetres
    #[arg(long, value_name = "MM", requires = "method")]
    pub(crate) across_mm: Option<String>,
    /// When it was measured: 2031-05-03 or RFC 3339
    #[arg(long, value_name = "TIME")]
    pub(crate) observed_at: Option<String>,
    /// The recorded point that this one measures again
    #[arg(long, value_name = "LABEL")]
    pub(crate) same_as: Option<String>,
    /// A remark
    #[arg(long)]
    pub(crate) note: Option<String>,
    #[command(flatten)]
    pub(crate) by: By,
}
