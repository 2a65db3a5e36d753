//! Rule sets: cited figures that a site adopts whole, by an entry that carries their full text.
//!
//! They ship switched off. A figure that is not marked `seen` counts only once the adopting person has
//! confirmed it. A missing figure can never pass a check.

use crate::body::RulesAdopted;
use crate::service::Service;
use crate::words::Known;
use serde::Deserialize;
use std::collections::BTreeSet;

/// A rule set as written in TOML.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RuleSet {
    /// `coverbook.rules/1`.
    pub format: String,
    /// Short id.
    pub id: String,
    /// Title.
    pub title: String,
    /// Where it holds.
    pub jurisdiction: String,
    /// What else to know.
    #[serde(default)]
    pub note: String,
    /// Least covers.
    #[serde(default)]
    pub cover: Vec<CoverRule>,
    /// Least falls.
    #[serde(default)]
    pub fall: Vec<FallRule>,
    /// Least separations between runs.
    #[serde(default)]
    pub separation: Vec<SeparationRule>,
    /// Zones of a planned dig.
    pub dig: Option<DigRule>,
    /// Standard deviations to take where none was stated.
    #[serde(default)]
    pub uncertainty: Vec<UncertaintyRule>,
}

/// Where a figure comes from, and how far it can be relied on.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct Citation {
    /// Unique in the set.
    pub id: String,
    /// Title of the source.
    pub source: String,
    /// Its edition.
    pub edition: String,
    /// Clause or table.
    pub clause: String,
    /// How it was come by.
    pub status: Status,
}

/// A separation is looked for this far at most, metres: what is larger is a slip of the decimal point.
const MOST_SEPARATION_M: f64 = 50.0;

/// How a figure was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum Status {
    /// Seen in the source itself, or decided by the site.
    #[serde(rename = "seen")]
    Seen,
    /// Seen quoted elsewhere.
    #[serde(rename = "second-hand")]
    SecondHand,
    /// From memory of the trade.
    #[serde(rename = "from memory")]
    FromMemory,
}

impl Status {
    /// Returns the words of the file.
    pub fn words(self) -> &'static str {
        match self {
            Status::Seen => "seen",
            Status::SecondHand => "second-hand",
            Status::FromMemory => "from memory",
        }
    }
}

/// How a cover is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CoverMeasure {
    /// Straight up.
    #[default]
    Vertical,
    /// The shortest way to the surface.
    Shortest,
}

/// A least cover to the outside top.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct CoverRule {
    /// Where it comes from.
    #[serde(flatten)]
    pub cited: Citation,
    /// Services it speaks of.
    pub services: Vec<Service>,
    /// The situation, in words. Of several that match a run the largest figure governs, unless the adopting
    /// person leaves out those that do not apply on the site.
    #[serde(rename = "where")]
    pub situation: String,
    /// The figure.
    pub minimum_m: f64,
    /// How it is measured.
    #[serde(default)]
    pub measure: CoverMeasure,
}

/// A least fall of a gravity run.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct FallRule {
    /// Where it comes from.
    #[serde(flatten)]
    pub cited: Citation,
    /// Services it speaks of.
    pub services: Vec<Service>,
    /// Smallest nominal size it speaks of.
    #[serde(default)]
    pub size_mm_min: Option<f64>,
    /// Largest nominal size it speaks of.
    #[serde(default)]
    pub size_mm_max: Option<f64>,
    /// The figure, metres down per metre along.
    pub minimum: f64,
}

/// How a separation is measured, outside to outside.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
pub enum SeparationMeasure {
    /// The shortest way, wherever they meet.
    #[serde(rename = "3d")]
    Shortest,
    /// In plan at any depth, where they lie side by side or one over the other along a stretch.
    #[serde(rename = "horizontal")]
    Horizontal,
    /// From the underside of the upper to the top of the lower, where one crosses over the other.
    #[serde(rename = "vertical-crossing")]
    VerticalCrossing,
}

impl SeparationMeasure {
    /// Returns the words of the file.
    pub fn words(self) -> &'static str {
        match self {
            SeparationMeasure::Shortest => "3d",
            SeparationMeasure::Horizontal => "horizontal",
            SeparationMeasure::VerticalCrossing => "vertical-crossing",
        }
    }
}

/// One of the two sides of a separation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Side {
    /// The services listed first.
    First,
    /// The services listed second.
    Second,
}

/// A least separation between runs of some services and runs of others.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct SeparationRule {
    /// Where it comes from.
    #[serde(flatten)]
    pub cited: Citation,
    /// The two sides it speaks of.
    pub between: [Vec<Service>; 2],
    /// The situation, in words. Of several that match a place the most severe governs, unless the adopting person
    /// leaves out those that do not apply on the site.
    #[serde(rename = "where")]
    pub situation: String,
    /// How it is measured.
    pub measure: SeparationMeasure,
    /// The side that lies above where it holds, for `vertical-crossing`; either when left out.
    #[serde(default)]
    pub above: Option<Side>,
    /// The figure.
    pub minimum_m: f64,
    /// Exceptions that need a person's word: who gives it leaves the figure out when adopting.
    #[serde(default)]
    pub unless: Vec<String>,
    /// What the figure asks besides and nothing here measures: with it a place is never met, at best not proved.
    #[serde(default)]
    pub also: Vec<String>,
}

/// How a gap is measured against a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ZoneMeasure {
    /// In plan, at any depth.
    Horizontal,
    /// The shortest way.
    Shortest,
    /// Straight down from the floor, over the tube's own footprint.
    VerticalBelow,
}

/// The zones and allowances of a planned dig.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct DigRule {
    /// Where it comes from.
    #[serde(flatten)]
    pub cited: Citation,
    /// How gaps are measured; the most severe wins.
    #[serde(default = "horizontal")]
    pub measure: Vec<ZoneMeasure>,
    /// By hand within this distance.
    pub hand_dig_m: f64,
    /// Near within this distance.
    pub near_m: f64,
    /// How much wider `near` is for what is known worse than seen.
    #[serde(default = "twice")]
    pub near_unseen_factor: f64,
    /// Allowance for setting out.
    pub set_out_m: f64,
    /// Allowance for over-digging.
    pub over_dig_m: f64,
    /// The services that the headline share asks for.
    pub services: Vec<Service>,
}

fn horizontal() -> Vec<ZoneMeasure> {
    vec![ZoneMeasure::Horizontal]
}
fn twice() -> f64 {
    2.0
}

/// Standard deviations to take, marked as assumed, where none was stated.
#[derive(Debug, Clone, PartialEq, Deserialize)]
pub struct UncertaintyRule {
    /// Where it comes from.
    #[serde(flatten)]
    pub cited: Citation,
    /// The way of knowing it speaks of.
    pub known: Known,
    /// Each axis in plan.
    pub sigma_h_mm: f64,
    /// Level.
    pub sigma_v_mm: f64,
}

/// A text that is no rule set.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RulesError {
    /// It does not parse.
    #[error("the rule set does not read: {0}")]
    Toml(String),
    /// Another format.
    #[error("format is {0:?}; this program reads \"coverbook.rules/1\"")]
    Format(String),
    /// Two figures of one id.
    #[error("figure {0} stands twice; give each its own id")]
    Twice(String),
    /// A figure that cannot be.
    #[error("figure {id}: {field} is {value}; it must be {must}")]
    Figure {
        /// Which.
        id: String,
        /// Its field.
        field: &'static str,
        /// As written.
        value: String,
        /// What it must be.
        must: &'static str,
    },
    /// A confirmation of what is not there.
    #[error("{0} is named as confirmed or left out, and no figure has that id")]
    NoSuchFigure(String),
}

impl RuleSet {
    /// Reads a rule set.
    ///
    /// # Errors
    /// [`RulesError`] names the figure and what it must be.
    pub fn read(text: &str) -> Result<RuleSet, RulesError> {
        let set: RuleSet =
            toml::from_str(text).map_err(|e| RulesError::Toml(e.to_string().trim().to_string()))?;
        if set.format != "coverbook.rules/1" {
            return Err(RulesError::Format(set.format));
        }
        let mut ids = BTreeSet::new();
        for cited in set.citations() {
            if !ids.insert(cited.id.as_str()) {
                return Err(RulesError::Twice(cited.id.clone()));
            }
        }
        let at_least = |cited: &Citation, field, value: f64, least: f64, must| {
            if value.is_finite() && value >= least {
                Ok(())
            } else {
                Err(RulesError::Figure {
                    id: cited.id.clone(),
                    field,
                    value: value.to_string(),
                    must,
                })
            }
        };
        for rule in &set.cover {
            at_least(
                &rule.cited,
                "minimum_m",
                rule.minimum_m,
                0.0,
                "a length of 0 or more",
            )?;
        }
        for rule in &set.fall {
            at_least(&rule.cited, "minimum", rule.minimum, 0.0, "a slope of 0 or more")?;
        }
        for rule in &set.separation {
            at_least(
                &rule.cited,
                "minimum_m",
                rule.minimum_m,
                0.0,
                "a length of 0 or more",
            )?;
            let refuse = |field, value: String, must| {
                Err(RulesError::Figure {
                    id: rule.cited.id.clone(),
                    field,
                    value,
                    must,
                })
            };
            if rule.minimum_m > MOST_SEPARATION_M {
                return refuse("minimum_m", rule.minimum_m.to_string(), "no more than 50 m");
            }
            if rule.between.iter().any(Vec::is_empty) {
                return refuse("between", "[]".into(), "two lists of services, neither empty");
            }
            if rule.above.is_some() && rule.measure != SeparationMeasure::VerticalCrossing {
                return refuse(
                    "above",
                    "given".into(),
                    "left out unless the measure is vertical-crossing",
                );
            }
        }
        for rule in &set.uncertainty {
            at_least(&rule.cited, "sigma_h_mm", rule.sigma_h_mm, 0.1, "at least 0.1 mm")?;
            at_least(&rule.cited, "sigma_v_mm", rule.sigma_v_mm, 0.1, "at least 0.1 mm")?;
        }
        if let Some(dig) = &set.dig {
            at_least(
                &dig.cited,
                "hand_dig_m",
                dig.hand_dig_m,
                0.0,
                "a length of 0 or more",
            )?;
            at_least(
                &dig.cited,
                "near_m",
                dig.near_m,
                dig.hand_dig_m,
                "no less than hand_dig_m",
            )?;
            at_least(
                &dig.cited,
                "near_unseen_factor",
                dig.near_unseen_factor,
                1.0,
                "1 or more",
            )?;
            at_least(
                &dig.cited,
                "set_out_m",
                dig.set_out_m,
                0.0,
                "a length of 0 or more",
            )?;
            at_least(
                &dig.cited,
                "over_dig_m",
                dig.over_dig_m,
                0.0,
                "a length of 0 or more",
            )?;
            if dig.measure.is_empty() {
                return Err(RulesError::Figure {
                    id: dig.cited.id.clone(),
                    field: "measure",
                    value: "[]".into(),
                    must: "one or more of horizontal, shortest, vertical-below",
                });
            }
        }
        Ok(set)
    }

    /// Returns every citation in the set.
    pub fn citations(&self) -> impl Iterator<Item = &Citation> {
        (self.cover.iter().map(|r| &r.cited))
            .chain(self.fall.iter().map(|r| &r.cited))
            .chain(self.separation.iter().map(|r| &r.cited))
            .chain(self.dig.iter().map(|r| &r.cited))
            .chain(self.uncertainty.iter().map(|r| &r.cited))
    }
}

/// A rule set as a site adopted it.
#[derive(Debug, Clone, PartialEq)]
pub struct Adopted {
    /// The set.
    pub set: RuleSet,
    /// SHA-256 of its text.
    pub sha256: String,
    /// Ids of the figures that the adopting person vouches for.
    pub confirmed: BTreeSet<String>,
    /// Ids of the figures that the adopting person says do not apply on this site.
    pub left_out: BTreeSet<String>,
    /// The entry.
    pub entry: u64,
}

impl Adopted {
    /// Reads the text of an adoption.
    ///
    /// # Errors
    /// As [`RuleSet::read`]; and when a figure is confirmed or left out that the set does not have.
    pub fn read(adopted: &RulesAdopted, entry: u64) -> Result<Adopted, RulesError> {
        let set = RuleSet::read(&adopted.text)?;
        for id in adopted.confirmed.iter().chain(&adopted.left_out) {
            if !set.citations().any(|cited| &cited.id == id) {
                return Err(RulesError::NoSuchFigure(id.clone()));
            }
        }
        Ok(Adopted {
            set,
            sha256: crate::chain::sha256_hex(adopted.text.as_bytes()),
            confirmed: adopted.confirmed.iter().cloned().collect(),
            left_out: adopted.left_out.iter().cloned().collect(),
            entry,
        })
    }

    /// True when a figure counts: seen, or vouched for; and not left out.
    pub fn counts(&self, cited: &Citation) -> bool {
        (cited.status == Status::Seen || self.confirmed.contains(&cited.id))
            && !self.left_out.contains(&cited.id)
    }

    /// Returns the least cover that governs a service: the largest figure that counts.
    pub fn cover(&self, service: Service) -> Option<&CoverRule> {
        let matching = self
            .set
            .cover
            .iter()
            .filter(|r| speaks_of(&r.services, service) && self.counts(&r.cited));
        matching.max_by(|a, b| a.minimum_m.total_cmp(&b.minimum_m))
    }

    /// Returns the least fall that governs a service of a size: the steepest figure that counts.
    ///
    /// A run whose size is not stated is held to every size's figure.
    pub fn fall(&self, service: Service, size_mm: Option<f64>) -> Option<&FallRule> {
        let fits = |rule: &&FallRule| {
            let within = size_mm.is_none_or(|size| {
                rule.size_mm_min.is_none_or(|min| size >= min)
                    && rule.size_mm_max.is_none_or(|max| size <= max)
            });
            within && speaks_of(&rule.services, service) && self.counts(&rule.cited)
        };
        self.set
            .fall
            .iter()
            .filter(fits)
            .max_by(|a, b| a.minimum.total_cmp(&b.minimum))
    }

    /// Returns the separations that speak of two services, counting or not, and which of the two is the rule's first
    /// side: a figure whose sides both match both comes twice.
    pub fn separations(&self, one: Service, two: Service) -> impl Iterator<Item = (&SeparationRule, Side)> {
        self.set.separation.iter().flat_map(move |rule| {
            let fits =
                |first, second| speaks_of(&rule.between[0], first) && speaks_of(&rule.between[1], second);
            let straight = fits(one, two).then_some((rule, Side::First));
            // The same order again says nothing new, unless it matters which lies above.
            let turned = fits(two, one) && (straight.is_none() || rule.above.is_some());
            straight.into_iter().chain(turned.then_some((rule, Side::Second)))
        })
    }

    /// Returns the largest least separation that counts, metres; 0 when there is none.
    pub fn largest_separation_m(&self) -> f64 {
        let counting = self.set.separation.iter().filter(|r| self.counts(&r.cited));
        counting.map(|r| r.minimum_m).fold(0.0, f64::max)
    }

    /// Returns the zones of a planned dig, when they count.
    pub fn dig(&self) -> Option<&DigRule> {
        self.set.dig.as_ref().filter(|r| self.counts(&r.cited))
    }

    /// Returns the class default for a way of knowing: plan and level standard deviations in metres.
    pub fn sigma_m(&self, known: Known) -> Option<(f64, f64)> {
        let rule = self
            .set
            .uncertainty
            .iter()
            .find(|r| r.known == known && self.counts(&r.cited))?;
        Some((rule.sigma_h_mm / 1000.0, rule.sigma_v_mm / 1000.0))
    }

    /// Returns the largest plan standard deviation of all class defaults that count, in metres.
    pub fn largest_sigma_h_m(&self) -> f64 {
        let counting = self.set.uncertainty.iter().filter(|r| self.counts(&r.cited));
        counting.map(|r| r.sigma_h_mm / 1000.0).fold(0.0, f64::max)
    }
}

/// A service nobody could name is held to every rule.
fn speaks_of(services: &[Service], service: Service) -> bool {
    service == Service::Unknown || services.contains(&service)
}

/// A rule set that ships with the program, switched off.
#[derive(Debug, Clone, Copy)]
pub struct Shipped {
    /// Its id.
    pub id: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// The rule sets that ship with the program.
pub const SHIPPED: [Shipped; 10] = [
    Shipped {
        id: "us-nec-conduit-cover",
        text: include_str!("../rules/us-nec-conduit-cover.toml"),
    },
    Shipped {
        id: "us-ipc-drain-fall",
        text: include_str!("../rules/us-ipc-drain-fall.toml"),
    },
    Shipped {
        id: "au-nz-drain-fall",
        text: include_str!("../rules/au-nz-drain-fall.toml"),
    },
    Shipped {
        id: "us-ca-tolerance-zone",
        text: include_str!("../rules/us-ca-tolerance-zone.toml"),
    },
    Shipped {
        id: "gb-site-practice",
        text: include_str!("../rules/gb-site-practice.toml"),
    },
    Shipped {
        id: "us-ipc-water-separation",
        text: include_str!("../rules/us-ipc-water-separation.toml"),
    },
    Shipped {
        id: "us-ny-water-separation",
        text: include_str!("../rules/us-ny-water-separation.toml"),
    },
    Shipped {
        id: "us-oh-park-water-separation",
        text: include_str!("../rules/us-oh-park-water-separation.toml"),
    },
    Shipped {
        id: "au-nz-separation",
        text: include_str!("../rules/au-nz-separation.toml"),
    },
    Shipped {
        id: "slab-tendon-separation",
        text: include_str!("../rules/slab-tendon-separation.toml"),
    },
];

#[cfg(test)]
#[path = "rules_tests.rs"]
mod tests;
