//! What hangs on what: points on known points and on surfaces, and everything placed again when one of them moves.

use super::{Change, Placed, Refusal, Site};
use crate::words::SurfaceKind;
use std::collections::{BTreeMap, BTreeSet, HashSet};

impl Site {
    /// Places points again and makes the runs through them again; on refusal all is as it was.
    ///
    /// What hangs on any of them follows, however far.
    pub(super) fn place_again(&mut self, labels: &[String], n: u64) -> Result<Vec<Change>, Refusal> {
        self.place_again_agreeing(labels, &HashSet::new(), n)
    }

    /// As [`Site::place_again`]; the readings of the points named must give the positions written beside them.
    pub(super) fn place_again_agreeing(
        &mut self,
        labels: &[String],
        agreeing: &HashSet<&str>,
        n: u64,
    ) -> Result<Vec<Change>, Refusal> {
        let labels = self.with_hanging_on(labels)?;
        if labels.is_empty() {
            return Ok(Vec::new());
        }
        let mut before: Vec<(String, Placed)> = Vec::with_capacity(labels.len());
        let restore = |site: &mut Site, before: Vec<(String, Placed)>| {
            for (label, placed) in before {
                if let Some(point) = site.points.get_mut(&label) {
                    point.placed = placed;
                }
            }
        };
        for label in &labels {
            let Some(point) = self.points.get(label) else {
                continue;
            };
            let (row, at) = (&point.row, point.observed_at());
            let placed = if agreeing.contains(label.as_str()) {
                self.place_new(row, at, &|_| None)
            } else {
                self.place(row, at, &|_| None)
            };
            match placed {
                Ok(placed) => {
                    if let Some(point) = self.points.get_mut(label) {
                        before.push((label.clone(), std::mem::replace(&mut point.placed, placed)));
                    }
                }
                Err(refusal) => {
                    restore(self, before);
                    return Err(refusal);
                }
            }
        }
        let labels: Vec<&str> = labels.iter().map(String::as_str).collect();
        match self.remake_runs_through(self, &labels) {
            Ok(remade) => Ok(self.put_remade(remade, n)),
            Err(refusal) => {
                restore(self, before);
                Err(refusal)
            }
        }
    }

    /// Returns the labels of the recorded points among those named, and of every point that hangs on one of them, in an
    /// order that places each after all that it hangs on. A control point may be named too.
    ///
    /// # Errors
    /// Points that hang on each other in a circle.
    pub(crate) fn with_hanging_on(&self, named: &[String]) -> Result<Vec<String>, Refusal> {
        // What hangs on each name; few points hang on others, so all are looked through once.
        let mut hanging: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for (label, point) in &self.points {
            let Some(measured) = &point.row.measured else {
                continue;
            };
            for on in measured.hangs_on() {
                hanging.entry(on).or_default().push(label);
            }
        }
        // A point hangs on what was measured again of it.
        for (first, again) in &self.same {
            for label in again {
                hanging.entry(label).or_default().push(first);
            }
        }
        if hanging.is_empty() {
            let recorded = named.iter().filter(|label| self.points.contains_key(*label));
            return Ok(recorded.cloned().collect());
        }
        let mut met: BTreeSet<&str> = BTreeSet::new();
        let mut waiting: Vec<&str> = named.iter().map(String::as_str).collect();
        while let Some(name) = waiting.pop() {
            if met.insert(name) {
                waiting.extend(hanging.get(name).into_iter().flatten());
            }
        }
        // Each is ready once everything it hangs on among these is in order.
        let mut open: BTreeMap<&str, usize> = met.iter().map(|name| (*name, 0)).collect();
        for name in &met {
            for label in hanging.get(name).into_iter().flatten() {
                if let Some(count) = open.get_mut(label) {
                    *count += 1;
                }
            }
        }
        let mut ready: Vec<&str> = met.iter().copied().filter(|name| open[name] == 0).collect();
        let mut order = Vec::with_capacity(met.len());
        while let Some(name) = ready.pop() {
            order.push(name);
            for label in hanging.get(name).into_iter().flatten() {
                if let Some(count) = open.get_mut(label) {
                    *count -= 1;
                    if *count == 0 {
                        ready.push(label);
                    }
                }
            }
        }
        if order.len() < met.len() {
            let circle: Vec<&str> = met.iter().copied().filter(|name| open[name] > 0).collect();
            let says = format!(
                "{} would hang on each other in a circle, so none of them is known; measure one of them from control",
                circle.join(", ")
            );
            return Err(Refusal::about("circle", &format!("point {}", circle[0]), says));
        }
        let recorded = order.into_iter().filter(|name| self.points.contains_key(*name));
        Ok(recorded.map(str::to_owned).collect())
    }

    /// Returns the labels of the points whose levels are depths below a surface.
    pub(super) fn below_surface(&self, name: &str, kind: SurfaceKind) -> Vec<String> {
        let of_it = self.points.iter().filter(|(_, point)| {
            let measured = point.row.measured.as_ref();
            measured.and_then(crate::body::MeasuredFrom::below) == Some((name, kind))
        });
        let mut labels: Vec<String> = of_it.map(|(label, _)| label.clone()).collect();
        labels.sort_unstable();
        labels
    }
}
