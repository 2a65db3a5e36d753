//! The services a run can carry, with the letters and line pattern that tell them apart without colour.

use serde::{Deserialize, Serialize};

/// What a run carries.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Service {
    /// Low-voltage electricity.
    ElectricLv,
    /// High-voltage electricity.
    ElectricHv,
    /// Communications.
    Comms,
    /// Gas.
    Gas,
    /// Potable water.
    Water,
    /// Fire main.
    Fire,
    /// Recycled or other non-potable water.
    Recycled,
    /// Gravity sewer.
    Sewer,
    /// Rising main: pumped sewer.
    RisingMain,
    /// Stormwater and subsoil drains.
    Stormwater,
    /// Irrigation.
    Irrigation,
    /// Earthing and bonding.
    Earthing,
    /// Fuel, oil, LPG.
    Fuel,
    /// Thermal: steam, hot or chilled water.
    Thermal,
    /// Empty on purpose.
    Spare,
    /// Slab post-tensioning.
    PostTension,
    /// Not known what it is: shown loudly and assumed live.
    Unknown,
}

/// How one service is written and drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ServiceStyle {
    /// As written in files and JSON.
    pub slug: &'static str,
    /// Letters repeated along the line.
    pub letters: &'static str,
    /// Its name for a person.
    pub name: &'static str,
    /// Dash pattern along the line in millimetres on paper: drawn, gap, drawn, gap...; empty is solid.
    pub dash_mm: &'static [f64],
    /// Colour, the third signal after letters and pattern.
    pub colour: &'static str,
    /// True when it flows by gravity, so that its falls matter.
    pub gravity: bool,
}

const fn style(
    slug: &'static str,
    letters: &'static str,
    name: &'static str,
    dash_mm: &'static [f64],
    colour: &'static str,
    gravity: bool,
) -> ServiceStyle {
    ServiceStyle {
        slug,
        letters,
        name,
        dash_mm,
        colour,
        gravity,
    }
}

impl Service {
    /// Every service, in legend order.
    pub const ALL: [Service; 17] = [
        Service::ElectricLv,
        Service::ElectricHv,
        Service::Comms,
        Service::Gas,
        Service::Water,
        Service::Fire,
        Service::Recycled,
        Service::Sewer,
        Service::RisingMain,
        Service::Stormwater,
        Service::Irrigation,
        Service::Earthing,
        Service::Fuel,
        Service::Thermal,
        Service::Spare,
        Service::PostTension,
        Service::Unknown,
    ];

    /// Returns how it is written and drawn.
    ///
    /// Letters are common practice. Colours are taken from Okabe and Ito's colour-blind-safe set (2008) and
    /// darkened where paper needs it; they never carry meaning alone.
    pub const fn style(self) -> ServiceStyle {
        match self {
            Service::ElectricLv => style("electric-lv", "E", "electric, low voltage", &[], "#b34700", false),
            Service::ElectricHv => style(
                "electric-hv",
                "HV",
                "electric, high voltage",
                &[6.0, 1.0, 1.0, 1.0],
                "#b34700",
                false,
            ),
            Service::Comms => style("comms", "C", "communications", &[3.0, 1.5], "#8a5a00", false),
            Service::Gas => style("gas", "G", "gas", &[8.0, 1.5, 1.5, 1.5], "#6b6300", false),
            Service::Water => style("water", "W", "potable water", &[6.0, 2.0], "#005a8c", false),
            Service::Fire => style("fire", "F", "fire main", &[6.0, 1.0, 2.0, 1.0], "#a63a00", false),
            Service::Recycled => style("recycled", "R", "recycled water", &[2.0, 1.0], "#9a4f7f", false),
            Service::Sewer => style("sewer", "S", "sewer", &[], "#6b3358", true),
            Service::RisingMain => style("rising-main", "RM", "rising main", &[9.0, 1.5], "#6b3358", false),
            Service::Stormwater => style("stormwater", "SW", "stormwater", &[10.0, 2.0], "#1f6f8b", true),
            Service::Irrigation => style("irrigation", "I", "irrigation", &[1.5, 1.5], "#3f7fa6", false),
            Service::Earthing => style("earthing", "EA", "earthing", &[0.6, 1.2], "#444444", false),
            Service::Fuel => style(
                "fuel",
                "FU",
                "fuel",
                &[4.0, 1.0, 1.0, 1.0, 1.0, 1.0],
                "#7a2f00",
                false,
            ),
            Service::Thermal => style(
                "thermal",
                "TH",
                "thermal",
                &[5.0, 1.0, 1.0, 1.0],
                "#9a4f7f",
                false,
            ),
            Service::Spare => style("spare", "SP", "spare conduit", &[1.0, 2.0], "#555555", false),
            Service::PostTension => style(
                "post-tension",
                "PT",
                "post-tensioning",
                &[2.0, 0.8, 0.6, 0.8],
                "#222222",
                false,
            ),
            Service::Unknown => style(
                "unknown",
                "?",
                "unknown service",
                &[4.0, 2.0, 0.6, 2.0],
                "#000000",
                false,
            ),
        }
    }

    /// Returns the service written as `text` (its slug, any case), if it is one.
    pub fn from_slug(text: &str) -> Option<Service> {
        let wanted = text.trim().to_ascii_lowercase();
        Service::ALL.into_iter().find(|s| s.style().slug == wanted)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::HashSet;

    #[test]
    fn every_service_is_told_apart_by_its_letters_alone() {
        let letters: HashSet<_> = Service::ALL.iter().map(|s| s.style().letters).collect();
        assert_eq!(letters.len(), Service::ALL.len());
    }

    #[test]
    fn the_slug_is_what_serde_writes() {
        for service in Service::ALL {
            let written = serde_json::to_value(service).unwrap();
            assert_eq!(written, service.style().slug);
            assert_eq!(Service::from_slug(service.style().slug), Some(service));
        }
    }
}
