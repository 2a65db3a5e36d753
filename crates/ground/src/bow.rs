//! Bow: how far a flexible leg may wander between two shots.

use crate::tube::Growth;
use survey::uncertainty::{radial95, u95_from_sigma};

/// Returns the farthest a leg of a given chord can stand off it when laid at most `1 + slack` times as long, metres.
///
/// `c = (L/2) sqrt((1 + e)^2 - 1)`: the leg goes straight to one point beside the middle and straight back. A hard
/// bound and no sigma, so it is added to a growth as it is.
pub fn bow_m(chord_m: f64, slack: f64) -> f64 {
    let slack = slack.max(0.0);
    // (1 + e)^2 - 1 written so that a small slack keeps its digits.
    chord_m / 2.0 * (slack * (2.0 + slack)).sqrt()
}

/// Returns the growth at a vertex from its standard deviations and a hard bound; `None` when either is unknown.
///
/// `sigma_h_m` is one sigma per plan axis (the semi-major one where they differ), relative to site control. The bound
/// is what was not shot there ([`crate::unshot`]); it is added as it is.
pub fn growth(sigma_h_m: Option<f64>, sigma_v_m: Option<f64>, bow_m: f64) -> Option<Growth> {
    Some(Growth {
        horizontal_m: radial95(sigma_h_m?) + bow_m,
        vertical_m: u95_from_sigma(sigma_v_m?) + bow_m,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_metres_with_a_thousandth_to_spare_bow_134_millimetres() {
        // Closed form: 3 sqrt(1.001^2 - 1) = 0.134197...
        assert!((bow_m(6.0, 0.001) - 3.0 * (1.001f64 * 1.001 - 1.0).sqrt()).abs() < 1e-9);
        assert!((bow_m(6.0, 0.001) - 0.134_2).abs() < 5e-5);
        assert_eq!(bow_m(6.0, 0.0), 0.0);
    }

    #[test]
    fn growth_is_two_factors_and_the_bow_and_never_a_guess() {
        // FGDC-STD-007.3 (factors from memory): radial 95 % is 2.4477 sigma per axis, vertical 1.9600 sigma.
        let grown = growth(Some(0.010), Some(0.005), 0.02).unwrap();
        assert!((grown.horizontal_m - (0.024_477 + 0.02)).abs() < 1e-6);
        assert!((grown.vertical_m - (0.009_800 + 0.02)).abs() < 1e-6);
        assert_eq!(growth(Some(0.01), None, 0.0), None);
        assert_eq!(growth(None, Some(0.01), 0.0), None);
    }
}
