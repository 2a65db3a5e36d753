//! A point's card, recorded or only tried.

use super::map::on_grid;
use crate::body::{MeasuredFrom, PointRow};
use crate::site::{Point, Refusal, Site};
use crate::view::{PointCard, Up, Why};
use crate::words::Known;
use survey::uncertainty::{radial95, u95_from_sigma};
use uuid::Uuid;

impl Site {
    /// Returns the card of a recorded point.
    ///
    /// # Errors
    /// No point of that label.
    pub fn point_card(&self, label: &str) -> Result<PointCard, Refusal> {
        let point = self.points.get(label).ok_or_else(|| {
            Refusal::about(
                "no-such-point",
                label,
                "no point of that label is recorded; check the label",
            )
        })?;
        let mut card = self.card_of(point)?;
        card.entry = Some(point.entry);
        card.why.remove("entry");
        Ok(card)
    }

    /// Returns the cards of points as they would be recorded, and fills in what their readings give; nothing is
    /// recorded.
    ///
    /// # Errors
    /// As [`Site::fill_measured`].
    pub fn try_points(
        &self,
        points: &mut [PointRow],
        observed_at: &str,
    ) -> Result<Vec<PointCard>, Vec<Refusal>> {
        let placed = self.fill_measured(points, observed_at)?;
        let cards = points.iter().zip(placed).map(|(row, placed)| {
            self.card_of(&Point {
                row: row.clone(),
                placed,
                observed_at: observed_at.to_owned(),
                by: Uuid::nil(),
                entry: 0,
                corrected: Vec::new(),
            })
        });
        cards.collect::<Result<_, _>>().map_err(|refusal| vec![refusal])
    }

    fn card_of(&self, point: &Point) -> Result<PointCard, Refusal> {
        let placed = &point.placed;
        let mut why = Why::new();
        why.insert("entry".into(), "it is not recorded yet".into());
        let unknown = "its uncertainty is not known; see its doubts, or state it";
        for (field, sigma) in [("u95_h_m", placed.sigma_h_m), ("u95_v_m", placed.sigma_v_m)] {
            if sigma.is_none() {
                why.insert(field.into(), unknown.into());
            }
        }
        let hangs_on = point.row.measured.iter().flat_map(MeasuredFrom::hangs_on);
        Ok(PointCard {
            format: "coverbook.point/1".into(),
            point: point.row.point.clone(),
            at: on_grid(&self.frame()?, placed.at),
            touched: point.row.touched.slug().into(),
            known: placed.known.unwrap_or(Known::Assumed).slug().into(),
            u95_h_m: placed.sigma_h_m.map(|sigma| Up(radial95(sigma))),
            u95_v_m: placed.sigma_v_m.map(|sigma| Up(u95_from_sigma(sigma))),
            how: self.how(point),
            measured_from: hangs_on.map(str::to_owned).collect(),
            doubts: placed.doubts.clone(),
            suspect: placed.suspect,
            observed_at: point.observed_at().to_owned(),
            entry: None,
            why,
        })
    }
}
