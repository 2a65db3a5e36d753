//! Fall: how a run drops between inverts, how sure that is, and whether it proves a minimum.
//!
//! Sign of a fall: a drop in the direction of flow is positive, a back-fall negative.

/// An invert along a run, in the direction of flow.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Invert {
    /// Distance along the run in plan, metres, growing in the direction of flow.
    pub chainage_m: f64,
    /// Level of the invert, metres.
    pub level_m: f64,
    /// One standard deviation of the level, metres; `None` when not known.
    pub sigma_v_m: Option<f64>,
}

/// Inverts that give no fall. Inverts are counted from 1 in the direction of flow.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FallError {
    /// Fewer than two inverts.
    #[error("a fall needs two inverts and {found} were given; book the invert at the other end")]
    TooFew {
        /// How many there are.
        found: usize,
    },
    /// Chainage that does not grow.
    #[error(
        "inverts {invert} and {next}: no plan length lies between them; check the chainages and their order"
    )]
    NoLength {
        /// The earlier invert.
        invert: usize,
        /// The one after it.
        next: usize,
    },
    /// A value that is not a finite number, or a negative standard deviation.
    #[error("invert {invert}: its {what} is not a usable number; enter it again")]
    NotANumber {
        /// The invert.
        invert: usize,
        /// What is wrong.
        what: &'static str,
    },
}

/// Whether a fall proves a minimum gradient.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FallVerdict {
    /// The gradient less its 95 % is at least the minimum.
    Met,
    /// The gradient and its 95 % together stay below the minimum; or it was measured below and nothing says how well.
    Short,
    /// Between: shoot a longer length, or repeat. Also whenever the uncertainty is not known.
    NotProved,
}

/// The fall between two inverts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fall {
    /// Chainage of the upper (first) invert, metres.
    pub from_m: f64,
    /// Chainage of the lower (second) invert, metres.
    pub to_m: f64,
    /// Plan length between them, metres, above zero.
    pub plan_length_m: f64,
    /// Drop in the direction of flow, metres; negative is a back-fall.
    pub drop_m: f64,
    /// 95 % of the drop, metres; `None` when either level's uncertainty is not known.
    pub drop_u95_m: Option<f64>,
}

impl Fall {
    /// Returns the drop per metre of plan length.
    pub fn gradient(&self) -> f64 {
        self.drop_m / self.plan_length_m
    }

    /// Returns 95 % of the gradient; the plan length is taken as free of error.
    pub fn gradient_u95(&self) -> Option<f64> {
        self.drop_u95_m.map(|u| u / self.plan_length_m)
    }

    /// Returns the gradient in percent.
    pub fn percent(&self) -> f64 {
        100.0 * self.gradient()
    }

    /// Returns n of "1 in n": plan length over drop, negative for a back-fall, `None` when level.
    pub fn one_in(&self) -> Option<f64> {
        (self.drop_m != 0.0).then(|| self.plan_length_m / self.drop_m)
    }

    /// Tells whether the run falls the wrong way here, as measured.
    pub fn is_back_fall(&self) -> bool {
        self.drop_m < 0.0
    }

    /// Judges the fall against a minimum gradient (drop per metre); unrounded numbers.
    pub fn judge(&self, minimum_gradient: f64) -> FallVerdict {
        let gradient = self.gradient();
        match self.gradient_u95() {
            Some(u) if gradient - u >= minimum_gradient => FallVerdict::Met,
            Some(u) if gradient + u < minimum_gradient => FallVerdict::Short,
            None if gradient < minimum_gradient => FallVerdict::Short,
            _ => FallVerdict::NotProved,
        }
    }
}

/// The falls of a run.
#[derive(Debug, Clone, PartialEq)]
pub struct RunFall {
    /// Between each two neighbouring inverts: a good average hides a dip.
    pub legs: Vec<Fall>,
    /// From the first to the last.
    pub whole: Fall,
}

impl RunFall {
    /// Judges every leg and the whole: met only if all are, short if any is.
    pub fn judge(&self, minimum_gradient: f64) -> FallVerdict {
        let mut verdict = self.whole.judge(minimum_gradient);
        for leg in &self.legs {
            verdict = match (verdict, leg.judge(minimum_gradient)) {
                (FallVerdict::Short, _) | (_, FallVerdict::Short) => FallVerdict::Short,
                (FallVerdict::NotProved, _) | (_, FallVerdict::NotProved) => FallVerdict::NotProved,
                (FallVerdict::Met, FallVerdict::Met) => FallVerdict::Met,
            };
        }
        verdict
    }
}

/// Takes the falls between inverts given in the direction of flow.
///
/// The two levels are taken as independent, which is on the safe side where one set-up gave both: its own share
/// cancels. Give sigmas without that share where it is known to cancel.
/// # Errors
/// [`FallError`] with fewer than two inverts, chainages that do not grow, or a value that is not finite.
/// # Source
/// Definition of gradient; 95 % as 1.960 sigma of a difference of two levels.
pub fn falls(inverts: &[Invert]) -> Result<RunFall, FallError> {
    if inverts.len() < 2 {
        return Err(FallError::TooFew { found: inverts.len() });
    }
    for (i, invert) in inverts.iter().enumerate() {
        let bad = |what| Err(FallError::NotANumber { invert: i + 1, what });
        if !invert.chainage_m.is_finite() {
            return bad("chainage");
        }
        if !invert.level_m.is_finite() {
            return bad("level");
        }
        if invert.sigma_v_m.is_some_and(|s| !(s.is_finite() && s >= 0.0)) {
            return bad("standard deviation");
        }
    }
    let mut legs = Vec::with_capacity(inverts.len() - 1);
    for (i, pair) in inverts.windows(2).enumerate() {
        if pair[1].chainage_m <= pair[0].chainage_m {
            return Err(FallError::NoLength {
                invert: i + 1,
                next: i + 2,
            });
        }
        legs.push(between(&pair[0], &pair[1]));
    }
    Ok(RunFall {
        legs,
        whole: between(&inverts[0], &inverts[inverts.len() - 1]),
    })
}

fn between(upper: &Invert, lower: &Invert) -> Fall {
    let sigma = upper.sigma_v_m.zip(lower.sigma_v_m).map(|(a, b)| a.hypot(b));
    Fall {
        from_m: upper.chainage_m,
        to_m: lower.chainage_m,
        plan_length_m: lower.chainage_m - upper.chainage_m,
        drop_m: upper.level_m - lower.level_m,
        drop_u95_m: sigma.map(survey::uncertainty::u95_from_sigma),
    }
}
