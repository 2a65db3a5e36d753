//! Setting a station anew: tried on a copy of the site, then recorded with the control that was corrected for it.

use super::append::NewEntry;
use super::trial::trial;
use super::{ActError, Author, Receipt, Register};
use register::body::{Act, ControlRecorded, ControlRow, StationSet};
use register::entry::Attached;
use register::site::Site;
use register::view::AnewView;
use register::words::SightKind;
use serde::Deserialize;
use survey::Decimal;
use utoipa::ToSchema;
use uuid::Uuid;

/// A control point put right: what is not stated stays as recorded last.
#[derive(Debug, Clone, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ControlEdit {
    /// The point; one that is not recorded yet needs all three coordinates.
    pub point: String,
    /// Easting.
    #[schema(value_type = Option<String>)]
    pub easting_m: Option<Decimal>,
    /// Northing.
    #[schema(value_type = Option<String>)]
    pub northing_m: Option<Decimal>,
    /// Level.
    #[schema(value_type = Option<String>)]
    pub level_m: Option<Decimal>,
    /// Standard deviation in plan, each axis.
    #[schema(value_type = Option<String>)]
    pub sigma_h_mm: Option<Decimal>,
    /// Standard deviation of the level.
    #[schema(value_type = Option<String>)]
    pub sigma_v_mm: Option<Decimal>,
    /// Remarks, such as where the better figures come from.
    pub note: Option<String>,
}

/// Control put right together with a station, and the id of its entry.
#[derive(Debug, Clone, Default, PartialEq, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ControlEdits {
    /// The entry's own id, made by the author's device: sending the same twice then changes nothing.
    #[schema(value_type = Option<String>)]
    pub id: Option<Uuid>,
    /// The points.
    pub points: Vec<ControlEdit>,
}

/// What is different when a station is set anew by the readings it has.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct AnewEdits {
    /// Targets that take no part any more.
    pub leave_out: Vec<String>,
    /// Checks that take part now.
    pub take_in: Vec<String>,
    /// Control that is kept as check now.
    pub keep_as_check: Vec<String>,
    /// Prism constants put right: target, millimetres.
    pub prism_mm: Vec<(String, Decimal)>,
    /// Target heights put right: target, metres.
    pub target_height_m: Vec<(String, Decimal)>,
    /// Why it is used without a passed check.
    pub unchecked_reason: Option<String>,
}

impl ControlEdit {
    /// Returns the whole row, with what stands for what was not stated.
    fn row(self, site: &Site) -> Result<ControlRow, ActError> {
        let standing = site.control_point(&self.point).map(|control| &control.row);
        let of = |given: Option<Decimal>, old: Option<&Decimal>, what: &str| {
            given.or_else(|| old.cloned()).ok_or_else(|| {
                let says = format!("control {} is not recorded yet; give its {what}", self.point);
                ActError::asked("control", says)
            })
        };
        Ok(ControlRow {
            easting_m: of(self.easting_m, standing.map(|row| &row.easting_m), "easting_m")?,
            northing_m: of(self.northing_m, standing.map(|row| &row.northing_m), "northing_m")?,
            level_m: of(self.level_m, standing.map(|row| &row.level_m), "level_m")?,
            sigma_h_mm: self
                .sigma_h_mm
                .or_else(|| standing.and_then(|row| row.sigma_h_mm.clone())),
            sigma_v_mm: self
                .sigma_v_mm
                .or_else(|| standing.and_then(|row| row.sigma_v_mm.clone())),
            note: self.note.or_else(|| standing.and_then(|row| row.note.clone())),
            point: self.point,
        })
    }
}

impl ControlEdits {
    fn act(self, site: &Site) -> Result<Act, ActError> {
        let points: Result<Vec<_>, _> = self.points.into_iter().map(|edit| edit.row(site)).collect();
        Ok(Act::ControlRecorded(ControlRecorded {
            import: None,
            points: points?,
        }))
    }
}

impl AnewEdits {
    /// Returns the standing setting of a station with these differences.
    ///
    /// # Errors
    /// No such station, or a target it did not sight.
    pub fn applied(&self, site: &Site, station: &str) -> Result<StationSet, ActError> {
        let standing = site.stations.get(station).ok_or_else(|| {
            ActError::NotThere(format!("no station {station} is set here; list the stations"))
        })?;
        let mut set = standing.solved.set.clone();
        set.saw = standing.entries.last().copied();
        set.import = None;
        set.unchecked_reason.clone_from(&self.unchecked_reason);
        let names = self
            .leave_out
            .iter()
            .chain(&self.take_in)
            .chain(&self.keep_as_check)
            .chain(self.prism_mm.iter().map(|(target, _)| target))
            .chain(self.target_height_m.iter().map(|(target, _)| target));
        for name in names {
            if !set.sights.iter().any(|s| s.target == *name) {
                let says = format!("{name} was not sighted from {station}; name one that was");
                return Err(ActError::asked("target", says));
            }
        }
        for sight in &mut set.sights {
            if self.take_in.contains(&sight.target) {
                sight.sighted_as = SightKind::Control;
            }
            if self.keep_as_check.contains(&sight.target) {
                sight.sighted_as = SightKind::Check;
            }
            for (target, value) in &self.prism_mm {
                if *target == sight.target {
                    sight.sight.prism_mm = value.clone();
                }
            }
            for (target, value) in &self.target_height_m {
                if *target == sight.target {
                    sight.sight.target_height_m = value.clone();
                }
            }
        }
        set.sights.retain(|sight| !self.leave_out.contains(&sight.target));
        Ok(set)
    }
}

impl Register {
    /// Tells what setting a station anew would move; nothing is recorded.
    ///
    /// # Errors
    /// No such station, readings or control that do not fix it.
    pub fn try_anew(
        &self,
        site: Uuid,
        mut set: StationSet,
        control: ControlEdits,
    ) -> Result<AnewView, ActError> {
        let before = self.site(site)?;
        let station = set.station.clone();
        let standing = before.stations.get(&station).ok_or_else(|| {
            ActError::NotThere(format!("no station {station} is set here; set it up first"))
        })?;
        set.saw = set.saw.or_else(|| standing.entries.last().copied());
        let given = set.unchecked_reason.clone();
        if given.as_deref().is_none_or(|reason| reason.trim().is_empty()) {
            // The fold asks for a reason only where no check passes; a trial shows that instead of refusing it.
            set.unchecked_reason = Some("tried".into());
        }
        let mut after = (*before).clone();
        if !control.points.is_empty() {
            let act = control.act(&before)?;
            after.apply(&trial(&after, act, self.now(), &Attached::new()))?;
        }
        let act = Act::StationSet(Box::new(set));
        after.apply(&trial(&after, act, self.now(), &Attached::new()))?;
        let mut view = after.anew_view(&before, &station)?;
        view.after.unchecked_reason = given;
        Ok(view)
    }

    /// Sets a station, with the control that was put right for it: both or neither.
    ///
    /// # Errors
    /// As the fold refuses it.
    pub fn set_station(
        &self,
        site: Uuid,
        author: &Author,
        station: NewEntry,
        control: ControlEdits,
    ) -> Result<Receipt, ActError> {
        if control.points.is_empty() {
            return self.append(site, author, vec![station]);
        }
        let id = control.id;
        let observed_at = station.observed_at.clone();
        let entry = NewEntry {
            act: control.act(&*self.site(site)?)?,
            id,
            observed_at,
        };
        self.append(site, author, vec![entry, station])
    }
}
