//! Satellite positions: what a kind of solution can be worth, and what its stated figures are taken as.
//!
//! The figures here are the program's own (common practice, from memory), not published ones. They stand in where
//! the receiver's are not stated, and no stated figure is believed below the least of its kind.

/// The kind of solution that a receiver shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Solution {
    /// Carrier phase with its whole cycles found.
    Fixed,
    /// Carrier phase with its cycles not found yet.
    Float,
    /// Codes with corrections.
    Differential,
    /// Codes alone, as of a telephone.
    Single,
}

/// One sigma on each plan axis and of the level, m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SolutionSigmas {
    /// On each plan axis.
    pub plan_m: f64,
    /// Of the level.
    pub level_m: f64,
}

impl Solution {
    /// What stands in where the receiver's own figures are not stated.
    pub fn assumed(self) -> SolutionSigmas {
        let (plan_m, level_m) = match self {
            Solution::Fixed => (0.03, 0.05),
            Solution::Float => (0.5, 1.0),
            Solution::Differential => (1.5, 3.0),
            Solution::Single => (5.0, 10.0),
        };
        SolutionSigmas { plan_m, level_m }
    }

    /// The least that is believed of a stated figure.
    pub fn least(self) -> SolutionSigmas {
        let (plan_m, level_m) = match self {
            Solution::Fixed => (0.005, 0.01),
            Solution::Float => (0.1, 0.2),
            Solution::Differential => (0.3, 0.6),
            Solution::Single => (1.0, 2.0),
        };
        SolutionSigmas { plan_m, level_m }
    }

    /// True when its level is good enough to be one.
    pub fn gives_a_level(self) -> bool {
        matches!(self, Solution::Fixed | Solution::Float)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_worse_kind_is_never_better() {
        let kinds = [
            Solution::Fixed,
            Solution::Float,
            Solution::Differential,
            Solution::Single,
        ];
        for pair in kinds.windows(2) {
            for of in [Solution::assumed, Solution::least] {
                let (better, worse) = (of(pair[0]), of(pair[1]));
                assert!(better.plan_m < worse.plan_m && better.level_m < worse.level_m);
            }
        }
        for kind in kinds {
            let (least, assumed) = (kind.least(), kind.assumed());
            assert!(least.plan_m < assumed.plan_m && least.level_m < assumed.level_m);
        }
    }
}
