//! The plan boxes by which an index finds a run.

use crate::run_record::RunRecord;
use ground::Vec2;
use ground::axis::AxisError;
use ground::facet::PlanBox;
use ground::lay::LaidTube;
use ground::tube::{Section, TubeVertex};
use survey::uncertainty::radial95;

/// Legs in one box.
const LEGS_PER_BOX: usize = 16;

/// How far beyond its recorded place a run is looked for when no uncertainty was stated for it. Metres.
///
/// The program's own figure: such a run is told as not placed within this distance of a dig.
const UNPLACED_REACH_M: f64 = 30.0;

impl RunRecord {
    /// Returns boxes in the site's frame, each round up to 16 legs of the tube with their stated uncertainty.
    ///
    /// Class defaults of the rule set are left to the search, since adopting another set must not rewrite every box.
    ///
    /// # Errors
    /// As [`RunRecord::lay`].
    pub fn plan_boxes(&self) -> Result<Vec<PlanBox>, AxisError> {
        let laid = self.lay(None)?;
        let tube = &laid.tube;
        let reach_m = self.reach_m(&laid);
        let round = |(vertex, reach_m): (&TubeVertex, &f64)| {
            let margin = Vec2::new(*reach_m, *reach_m);
            [vertex.axis.xy() - margin, vertex.axis.xy() + margin]
        };
        let legs = tube.vertices.len().saturating_sub(1);
        let boxes = (0..legs).step_by(LEGS_PER_BOX).filter_map(|first| {
            let last = (first + LEGS_PER_BOX).min(legs);
            let part = tube.vertices[first..=last].iter();
            PlanBox::around(part.zip(&reach_m[first..=last]).flat_map(round))
        });
        Ok(boxes.collect())
    }

    /// Returns how far from the axis in plan the run may lie at each vertex of its tube, outside included. Metres.
    pub(crate) fn reach_m(&self, laid: &LaidTube) -> Vec<f64> {
        let half_m = match laid.tube.section {
            Section::Round { radius_m } => radius_m,
            Section::Bank {
                half_width_m,
                half_height_m,
            } => half_width_m.hypot(half_height_m),
        };
        // Where the level's uncertainty is not stated there is no growth, and the plan's may be stated all the same.
        let sigmas = || self.shots.iter().map(|shot| shot.sigma_h_m);
        let stated_m = radial95(sigmas().flatten().fold(0.0, f64::max));
        let unplaced_m = if sigmas().any(|sigma| sigma.is_none()) {
            UNPLACED_REACH_M
        } else {
            0.0
        };
        // What was not shot counts there too, and what has no bound is looked for as far as what is not placed.
        let without_growth_m = |unshot_m: f64| {
            if unshot_m.is_finite() {
                stated_m + unshot_m + unplaced_m
            } else {
                stated_m + UNPLACED_REACH_M
            }
        };
        let at = |(vertex, unshot_m): (&TubeVertex, &f64)| {
            let growth = vertex.growth.map(|g| g.horizontal_m);
            half_m + growth.unwrap_or_else(|| without_growth_m(*unshot_m))
        };
        laid.tube.vertices.iter().zip(&laid.unshot_m).map(at).collect()
    }
}

#[cfg(test)]
mod tests {
    use crate::body::{Act, PointRow};
    use crate::service::Service;
    use crate::site::tests::{Book, point, run};
    use crate::words::Touched;

    /// The margin of the only run, due east from the origin of the frame, by its first box; and how many boxes.
    fn margin_of(change: fn(PointRow) -> PointRow, points: usize) -> (f64, usize) {
        let mut book = Book::opened();
        let labels: Vec<String> = (0..points).map(|i| i.to_string()).collect();
        let at = |label: &String| {
            let e = 431_000 + label.parse::<u32>().unwrap();
            change(point(label, &e.to_string(), "5712000", "9.5", Touched::Centre))
        };
        book.points(labels.iter().map(at).collect()).unwrap();
        let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
        book.write(Act::RunLaid(run("E1", Service::ElectricLv, &labels, "50")))
            .unwrap();
        let boxes = book.site.runs["E1"].record.plan_boxes().unwrap();
        assert!(
            boxes.iter().zip(&boxes[1..]).all(|(one, next)| one.meets(next)),
            "{boxes:?}"
        );
        assert!(
            (boxes[0].max.y + boxes[0].min.x).abs() < 1e-9 && (boxes[0].max.y + boxes[0].min.y).abs() < 1e-9
        );
        assert!((boxes[boxes.len() - 1].max.x - (points as f64 - 1.0) - boxes[0].max.y).abs() < 1e-9);
        (boxes[0].max.y, boxes.len())
    }

    /// Closed form: the radius of 25 mm and 2.447747 (FGDC-STD-007.3, from memory) times 3 mm, and 16 legs a box.
    #[test]
    fn boxes_hold_the_tube_and_its_stated_95_percent() {
        let expected = 0.025 + 2.447_746_830_680_816 * 0.003;
        for (points, boxes) in [(2, 1), (17, 1), (18, 2)] {
            let (margin_m, count) = margin_of(|row| row, points);
            assert!((margin_m - expected).abs() < 1e-9, "{margin_m}");
            assert_eq!(count, boxes);
        }
        let plan_only = |row| PointRow {
            sigma_v_mm: None,
            ..row
        };
        assert!((margin_of(plan_only, 2).0 - expected).abs() < 1e-9);
    }

    /// Closed form: a right angle of radius 0.9 m marked by its ends alone; its corner stands 0.9 (sqrt 2 - 1) m outside.
    #[test]
    fn boxes_hold_what_was_not_shot_of_a_bend() {
        use crate::words::Fitting;
        let east = |sigma_h_mm: Option<&str>| {
            let mut book = Book::opened();
            let at = |label: &str, e: &str, n: &str, fitting| PointRow {
                fitting,
                sigma_h_mm: sigma_h_mm.map(crate::site::tests::decimal),
                // Only the plan is stated: there is no growth, and the bound counts all the same.
                sigma_v_mm: None,
                ..point(label, e, n, "9.5", Touched::Centre)
            };
            book.points(vec![
                at("1", "431000.0", "5712000.0", None),
                at("2", "431005.0", "5712000.0", Some(Fitting::BendStart)),
                at("3", "431005.9", "5712000.9", Some(Fitting::BendEnd)),
                at("4", "431005.9", "5712006.0", None),
            ])
            .unwrap();
            book.write(Act::RunLaid(run(
                "E1",
                Service::ElectricLv,
                &["1", "2", "3", "4"],
                "50",
            )))
            .unwrap();
            let boxes = book.site.runs["E1"].record.plan_boxes().unwrap();
            boxes.iter().map(|b| b.max.x).fold(f64::NEG_INFINITY, f64::max)
        };
        let bend_m = 5.9 + 0.025 + 0.9 * (2f64.sqrt() - 1.0);
        // Chords of the arc add up to 0.05 mm to the radius.
        let stated = east(Some("10")) - bend_m - 0.024_477;
        assert!((0.0..1e-4).contains(&stated), "{stated}");
        let unstated = east(None) - bend_m - 30.0;
        assert!((0.0..1e-4).contains(&unstated), "{unstated}");
    }

    #[test]
    fn a_run_without_stated_uncertainty_is_looked_for_30_m_around() {
        let unplaced = |row| PointRow {
            sigma_h_mm: None,
            ..row
        };
        assert!((margin_of(unplaced, 2).0 - 30.025).abs() < 1e-9);
    }
}
