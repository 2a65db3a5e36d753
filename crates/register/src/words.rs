//! The closed lists of the record: what was touched, how a leg is known, how a run ends.

use serde::{Deserialize, Serialize};

macro_rules! word_list {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $slug:tt),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $slug)] $variant),+
        }
        impl $name {
            /// Every word of the list.
            pub const ALL: &'static [$name] = &[$($name::$variant),+];
            /// Returns the word as written in files and JSON.
            pub const fn slug(self) -> &'static str {
                match self { $($name::$variant => $slug),+ }
            }
            /// Returns the word written as `text` (any case), if it is one of the list.
            pub fn from_slug(text: &str) -> Option<Self> {
                let wanted = text.trim().to_ascii_lowercase();
                Self::ALL.iter().copied().find(|w| w.slug() == wanted)
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.slug())
            }
        }
    };
}

word_list! {
    /// What the pole, staff or tape was standing on. Asked for, never defaulted.
    Touched {
        /// Highest point of the outside.
        OutsideTop = "outside-top",
        /// Lowest point of the inside.
        Invert = "invert",
        /// The axis.
        Centre = "centre",
        /// Lowest point of the outside.
        OutsideBottom = "outside-bottom",
        /// The side, at half height; needs the direction from axis to side.
        Side = "side",
        /// The ground or another surface.
        Ground = "ground",
        /// Anything else.
        Other = "other",
    }
}

word_list! {
    /// How a leg is known, best first.
    Known {
        /// Seen open, and a second set-up, closed levels or a tape agrees.
        SeenChecked = "seen-checked",
        /// Seen open when measured.
        Seen = "seen",
        /// Found with a detector, not seen.
        Traced = "traced",
        /// Taken from records.
        Drawn = "drawn",
        /// Backfilled before measuring, bored, interpolated, or simply not stated.
        Assumed = "assumed",
    }
}

impl Known {
    /// True for what was measured while it could be seen.
    pub fn is_seen(self) -> bool {
        matches!(self, Known::SeenChecked | Known::Seen)
    }
}

word_list! {
    /// What a point on a run is, where it is more than a point on a straight.
    Fitting {
        /// First tangent point of a bend.
        BendStart = "bend-start",
        /// A point on the curve of a bend.
        BendMid = "bend-mid",
        /// Last tangent point of a bend.
        BendEnd = "bend-end",
        /// Where the two straights of a bend would meet.
        BendPi = "bend-pi",
        /// A joint.
        Joint = "joint",
        /// A tee or other branch.
        Tee = "tee",
        /// A pit or chamber.
        Pit = "pit",
        /// A valve.
        Valve = "valve",
        /// A stub-up or riser.
        Riser = "riser",
        /// A cap.
        Cap = "cap",
    }
}

word_list! {
    /// How angles were read. Asked for, never guessed.
    AngleRead {
        /// Decimal degrees.
        Degrees = "degrees",
        /// Gon.
        Gon = "gon",
        /// Degrees, minutes, seconds.
        Dms = "dms",
        /// Packed `ddd.mmss`.
        PackedDms = "packed-dms",
    }
}

impl AngleRead {
    /// Returns the unit that reads it.
    pub fn unit(self) -> survey::angle_text::AngleUnit {
        use survey::angle_text::AngleUnit;
        match self {
            AngleRead::Degrees => AngleUnit::Degrees,
            AngleRead::Gon => AngleUnit::Gon,
            AngleRead::Dms => AngleUnit::DegreesMinutesSeconds,
            AngleRead::PackedDms => AngleUnit::PackedDms,
        }
    }
}

word_list! {
    /// Which side of the telescope the vertical circle stood.
    FaceRead {
        /// Zenith angles below 180 degrees.
        Left = "left",
        /// Zenith angles above 180 degrees.
        Right = "right",
    }
}

word_list! {
    /// What a known point was sighted for.
    SightKind {
        /// To find the station.
        Control = "control",
        /// To check it; takes no part in finding it.
        Check = "check",
    }
}

word_list! {
    /// What a check of a station says.
    CheckOutcome {
        /// Inside the tolerance and its own 95 % bound.
        Passed = "passed",
        /// Outside one of them.
        Failed = "failed",
        /// Nobody checked.
        NotDone = "not-done",
    }
}

word_list! {
    /// What a receiver of satellites says of its solution.
    SatelliteFix {
        /// Carrier phase, whole cycles found.
        Fixed = "fixed",
        /// Carrier phase, whole cycles not found.
        Float = "float",
        /// Codes with corrections.
        Differential = "differential",
        /// Codes alone, as of a telephone.
        Single = "single",
        /// Nobody wrote it down.
        NotStated = "not-stated",
    }
}

word_list! {
    /// What an instrument's own figure means. Asked for, never guessed.
    FigureMeans {
        /// One standard deviation; in plan on each axis.
        Sigma = "sigma",
        /// 95 in 100 errors are smaller.
        P95 = "95",
        /// Half of all errors are smaller; in plan the circular error probable.
        P50 = "50",
    }
}

impl FigureMeans {
    /// Returns it as the survey reckons with it.
    pub fn stated(self) -> survey::stated_accuracy::StatedMeans {
        use survey::stated_accuracy::StatedMeans;
        match self {
            FigureMeans::Sigma => StatedMeans::Sigma,
            FigureMeans::P95 => StatedMeans::P95,
            FigureMeans::P50 => StatedMeans::P50,
        }
    }
}

word_list! {
    /// What a receiver's height is above.
    HeightAbove {
        /// The site's level datum: it is a level.
        SiteDatum = "site-datum",
        /// The ellipsoid: it is no level, and is refused.
        Ellipsoid = "ellipsoid",
    }
}

word_list! {
    /// How a detector found what it found.
    DetectorMethod {
        /// A signal put on the line by a transmitter.
        Active = "active",
        /// A signal that the line carries anyway.
        Passive = "passive",
        /// A transmitter pushed through the pipe.
        Sonde = "sonde",
        /// Ground radar.
        Radar = "radar",
    }
}

word_list! {
    /// How a misclosure is spread.
    Spread {
        /// Not at all.
        NotSpread = "not-spread",
        /// In proportion to the set-ups passed.
        BySetups = "by-setups",
        /// In proportion to the distance passed.
        ByDistance = "by-distance",
    }
}

word_list! {
    /// What a surface is.
    SurfaceKind {
        /// As found, before work.
        Existing = "existing",
        /// Topsoil or paving taken off.
        Stripped = "stripped",
        /// The level that is built upon.
        Formation = "formation",
        /// The finished surface as drawn; never answers a dig unless named.
        FinishedDesign = "finished-design",
        /// The finished surface as measured.
        FinishedBuilt = "finished-built",
    }
}

word_list! {
    /// How a search of an area ended.
    SearchOutcome {
        /// Everything found was recorded: the only outcome that counts toward a dig.
        AllFoundRecorded = "all-found-recorded",
        /// Something found was not recorded.
        SomeNotRecorded = "some-not-recorded",
        /// The search could not be carried out.
        Unable = "unable",
    }
}

word_list! {
    /// How a run left the ground, or did not.
    Retirement {
        /// Left in the ground: stays in every answer; treat as live.
        Abandoned = "abandoned",
        /// Taken out of the ground.
        Removed = "removed",
        /// Replaced by named successors.
        Superseded = "superseded",
    }
}

word_list! {
    /// A verdict of a cover, fall or completeness check.
    CheckVerdict {
        /// Recorded as expected, and at least the minimum at 95 %.
        Met = "met",
        /// Measured less than the minimum.
        Short = "short",
        /// Between, unknown, or without uncertainty or rule.
        NotProved = "not-proved",
        /// Expected, and not recorded.
        Missing = "missing",
    }
}

word_list! {
    /// A verdict on a place where two runs meet.
    SeparationVerdict {
        /// At least the minimum at 95 %.
        Met = "met",
        /// Runs of one service that join there: no conflict.
        Joins = "joins",
        /// Between, unknown, or without uncertainty or rule.
        NotProved = "not-proved",
        /// Measured less than the minimum.
        Short = "short",
    }
}

word_list! {
    /// A verdict of a planned dig on one run, worst first.
    DigVerdict {
        /// The dig meets it, or may at 95 %.
        InTheWay = "in-the-way",
        /// Inside the hand-dig zone at 95 %.
        HandDig = "hand-dig",
        /// Within the near distance at 95 %.
        Near = "near",
        /// Recorded, with no uncertainty to place it by.
        NotPlaced = "not-placed",
        /// Recorded, and farther than the near distance at 95 %.
        Beyond = "beyond",
    }
}

word_list! {
    /// How an item of a hold point's list stands.
    HoldState {
        /// Met, at 95 % where it is a figure.
        Passes = "passes",
        /// Cannot be told from the record: a person has to say why it may be covered all the same.
        NeedsReason = "needs-reason",
        /// Found wanting.
        Fails = "fails",
    }
}

word_list! {
    /// How a hold point's list stands as a whole.
    HoldVerdict {
        /// Every item passes.
        AllMet = "all-met",
        /// No item is without a pass or a person's reason.
        WithReasons = "with-reasons",
        /// At least one item is open.
        Open = "open",
    }
}

word_list! {
    /// What was decided at a hold point.
    ReleaseOutcome {
        /// It may be covered.
        Released = "released",
        /// It may be covered, with the exceptions listed and the reason for each.
        WithExceptions = "released-with-exceptions",
        /// It may not be covered.
        NotReleased = "not-released",
    }
}
