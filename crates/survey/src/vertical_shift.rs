//! The tie of site levels to a level datum: one shift, apart from the plan.

use crate::finding::Finding;

/// A point whose level is known on the site's own datum and on the one tied to.
#[derive(Debug, Clone, PartialEq)]
pub struct LevelPair {
    /// The point's name.
    pub name: String,
    /// Its level on the site datum, m.
    pub local_level_m: f64,
    /// Its level on the datum tied to, m.
    pub datum_level_m: f64,
}

/// A shift of levels with what is left over at each point.
#[derive(Debug, Clone, PartialEq)]
pub struct VerticalShift {
    /// To be added to a site level, m.
    pub shift_m: f64,
    /// Shifted minus given, m, in the order of the points.
    pub residuals_m: Vec<f64>,
    /// Standard deviation of one difference, m; none with one point.
    pub sigma0_m: Option<f64>,
    /// Standard deviation of the shift, m; none with one point.
    pub sigma_shift_m: Option<f64>,
}

/// A shift could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShiftError {
    /// No point was given.
    #[error("no point is known on both level datums; level from a bench mark to one site point at least")]
    NoPoints,
    /// A level is not a finite number.
    #[error("point {name}: a level is not a finite number")]
    NotFinite {
        /// The point.
        name: String,
    },
}

/// Finds the shift from site levels to a datum as the mean difference.
///
/// Findings: `one-level-unchecked`; `level-differs` for a residual above `limit_m`, which names the point
/// whose difference lies farthest from the median of all.
/// # Errors
/// [`ShiftError`]; nothing is computed.
pub fn fit_vertical_shift(
    pairs: &[LevelPair],
    limit_m: f64,
) -> Result<(VerticalShift, Vec<Finding>), ShiftError> {
    if pairs.is_empty() {
        return Err(ShiftError::NoPoints);
    }
    let mut differences = Vec::with_capacity(pairs.len());
    for pair in pairs {
        let difference = pair.datum_level_m - pair.local_level_m;
        if !difference.is_finite() {
            return Err(ShiftError::NotFinite {
                name: pair.name.clone(),
            });
        }
        differences.push(difference);
    }
    let count = pairs.len() as f64;
    let shift_m = differences.iter().sum::<f64>() / count;
    let residuals_m: Vec<f64> = differences.iter().map(|d| shift_m - d).collect();
    let sum: f64 = residuals_m.iter().map(|r| r * r).sum();
    let sigma0_m = (pairs.len() > 1).then(|| (sum / (count - 1.0)).sqrt());
    let mut findings = Vec::new();
    if pairs.len() == 1 {
        findings.push(Finding::new(
            "one-level-unchecked",
            pairs[0].name.clone(),
            "one point ties the levels and nothing checks it; level to a second bench mark",
        ));
    }
    if residuals_m.iter().any(|r| r.abs() > limit_m) {
        let middle = median(&differences);
        let from_middle = |i: &usize| (differences[*i] - middle).abs();
        let worst = (0..pairs.len()).max_by(|i, j| from_middle(i).total_cmp(&from_middle(j)));
        if let Some(worst) = worst {
            let off_mm = (differences[worst] - middle) * 1000.0;
            let advice = if pairs.len() > 2 {
                "differs from the middle one of all by"
            } else {
                "and the other point disagree, by half each:"
            };
            findings.push(Finding::new(
                "level-differs",
                pairs[worst].name.clone(),
                format!("{advice} {off_mm:+.0} mm; a wrong mark, a wrong reading or another datum"),
            ));
        }
    }
    let shift = VerticalShift {
        shift_m,
        residuals_m,
        sigma0_m,
        sigma_shift_m: sigma0_m.map(|s| s / count.sqrt()),
    };
    Ok((shift, findings))
}

fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.len() / 2;
    if sorted.len() % 2 == 1 {
        sorted[middle]
    } else {
        0.5 * (sorted[middle - 1] + sorted[middle])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(name: &str, local_level_m: f64, datum_level_m: f64) -> LevelPair {
        LevelPair {
            name: name.to_owned(),
            local_level_m,
            datum_level_m,
        }
    }

    #[test]
    fn a_mark_on_another_datum_is_named() {
        // A common field failure: a site bench of 100.000 among levels of the national datum.
        let pairs = [
            pair("A", 100.0, 52.170),
            pair("B", 101.0, 53.171),
            pair("C", 100.5, 100.5),
            pair("D", 99.0, 51.169),
        ];
        let (_, findings) = fit_vertical_shift(&pairs, 0.010).unwrap();
        assert_eq!(findings.len(), 1);
        assert_eq!(
            (findings[0].code, findings[0].place.as_str()),
            ("level-differs", "C")
        );
    }

    #[test]
    fn the_shift_is_the_mean_and_one_point_has_no_sigma() {
        let pairs = [
            pair("A", 10.0, 52.004),
            pair("B", 11.0, 52.996),
            pair("C", 12.0, 54.0),
        ];
        let (shift, findings) = fit_vertical_shift(&pairs, 0.010).unwrap();
        assert!((shift.shift_m - 42.0).abs() < 1e-12);
        assert!((shift.sigma0_m.unwrap() - 0.004).abs() < 1e-12);
        assert!((shift.sigma_shift_m.unwrap() - 0.004 / 3f64.sqrt()).abs() < 1e-12);
        assert!(findings.is_empty());
        let (alone, findings) = fit_vertical_shift(&pairs[..1], 0.010).unwrap();
        assert_eq!((alone.sigma0_m, alone.sigma_shift_m), (None, None));
        assert_eq!(findings[0].code, "one-level-unchecked");
        assert_eq!(fit_vertical_shift(&[], 0.010), Err(ShiftError::NoPoints));
        assert!(fit_vertical_shift(&[pair("A", f64::NAN, 1.0)], 0.010).is_err());
    }
}
