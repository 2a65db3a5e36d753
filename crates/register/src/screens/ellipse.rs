//! How sure a point is in plan: its 95 % ellipse, for card and plan.

use super::map::on_grid;
use crate::body::ControlRow;
use crate::run_record::{RunShot, sigmas_m};
use crate::site::{Frame, Point, Site};
use crate::view::{EllipseView, MapControl, MapPoint, Near, Up, Why};
use crate::words::Known;
use survey::Decimal;
use survey::uncertainty::{ErrorEllipse, PlanCovariance, u95_from_sigma};

/// Returns an ellipse of one sigma as its 95 % axes, rounded up, and the direction of the longer one.
///
/// The factor is 2.4477 for both axes; the longer is the radial figure of the point.
pub(super) fn ellipse_view(ellipse: ErrorEllipse) -> EllipseView {
    let (semi_major_m, semi_minor_m) = ellipse.semi_axes_u95_m();
    // An axis at 180 degrees is the one at 0.
    let azimuth_deg = |rad: f64| super::stations::tenths(rad.to_degrees()) % 180.0;
    EllipseView {
        semi_major_m: Up(semi_major_m),
        semi_minor_m: Up(semi_minor_m),
        azimuth_deg: ellipse.major_azimuth_rad.map(azimuth_deg),
    }
}

fn circle(sigma_m: f64) -> Option<ErrorEllipse> {
    PlanCovariance::circle(sigma_m).ok().map(PlanCovariance::ellipse)
}

impl Site {
    /// Returns the ellipse of a shot of a run: by the covariance of its point, or a circle by the class default.
    pub(super) fn ellipse_of(&self, shot: &RunShot) -> Option<EllipseView> {
        let by_point = self.points.get(&shot.point).and_then(|point| point.placed.plan);
        let by_class = || circle(shot.sigmas_m(self.rules.as_deref()).0?);
        by_point
            .map(PlanCovariance::ellipse)
            .or_else(by_class)
            .map(ellipse_view)
    }

    /// Returns a measured point for the plan.
    pub(super) fn map_point(&self, label: &str, point: &Point, frame: &Frame) -> MapPoint {
        let placed = &point.placed;
        let (sigma_h_m, sigma_v_m, assumed) = sigmas_m(
            self.rules.as_deref(),
            placed.known.unwrap_or(Known::Assumed),
            [placed.sigma_h_m, placed.sigma_v_m],
            placed.not_defaulted,
        );
        let by_plan = placed.plan.map(PlanCovariance::ellipse);
        let ellipse = by_plan.or_else(|| circle(sigma_h_m?));
        let mut why = Why::new();
        for (field, missing) in [("ellipse", ellipse.is_none()), ("u95_v_m", sigma_v_m.is_none())] {
            if missing {
                why.insert(
                    field.into(),
                    "no uncertainty was stated, and no class default counts".into(),
                );
            }
        }
        MapPoint {
            point: label.into(),
            at: on_grid(frame, placed.at),
            ellipse: ellipse.map(ellipse_view),
            u95_v_m: sigma_v_m.map(|sigma| Up(u95_from_sigma(sigma))),
            assumed,
            why,
        }
    }
}

/// Returns a control point for the plan, as sure as it was stated.
pub(super) fn map_control(row: &ControlRow) -> MapControl {
    let metres = |mm: &Option<Decimal>| mm.as_ref().map(|mm| mm.to_f64() / 1000.0);
    let (sigma_h_m, sigma_v_m) = (metres(&row.sigma_h_mm), metres(&row.sigma_v_mm));
    let mut why = Why::new();
    for (field, missing) in [("ellipse", sigma_h_m.is_none()), ("u95_v_m", sigma_v_m.is_none())] {
        if missing {
            why.insert(field.into(), "its uncertainty was not stated".into());
        }
    }
    MapControl {
        point: row.point.clone(),
        at: [&row.easting_m, &row.northing_m, &row.level_m].map(|d| Near(d.to_f64())),
        ellipse: sigma_h_m.and_then(circle).map(ellipse_view),
        u95_v_m: sigma_v_m.map(|sigma| Up(u95_from_sigma(sigma))),
        why,
    }
}
