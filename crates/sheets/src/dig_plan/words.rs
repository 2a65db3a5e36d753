//! Figures and words as the sheet writes them.

use register::service::Service;
use register::view::Up;
use register::words::DigVerdict;

/// Returns `±20 mm`, `±1.25 m`, or that it is not known.
pub fn plus_minus(u95: Option<Up>) -> String {
    match u95 {
        None => "± not known".into(),
        Some(u) if u.rounded_m() < 1.0 => format!("±{:.0} mm", u.rounded_m() * 1000.0),
        Some(u) => format!("±{} m", u.text()),
    }
}

/// Returns a verdict in capitals, or that there is none.
pub fn verdict(verdict: Option<DigVerdict>) -> String {
    verdict.map_or_else(
        || "NO VERDICT".into(),
        |v| v.slug().replace('-', " ").to_uppercase(),
    )
}

/// Returns the service's name for a person; the slug itself when it is none of ours.
pub fn service_name(slug: &str) -> &str {
    Service::from_slug(slug).map_or(slug, |s| s.style().name)
}

/// Returns the name out of `NAME, KIND, DATE`.
pub fn surface_name(below: &str) -> &str {
    below.split(',').next().unwrap_or(below).trim()
}
