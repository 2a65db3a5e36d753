//! The first velocity correction: what the air does to a distance measured by light.
//!
//! Formulas: [`crate::sources::IAG_1999`].

/// The air along a sight and the light that crosses it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Air {
    /// The instrument's carrier wavelength, in micrometres.
    pub wavelength_um: f64,
    /// Air temperature, in degrees Celsius.
    pub temperature_c: f64,
    /// Air pressure at the instrument (not reduced to sea level), in hectopascals.
    pub pressure_hpa: f64,
    /// Relative humidity, in percent.
    pub relative_humidity_pct: f64,
}

/// Why the air cannot be used.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AirError {
    /// A reading lies outside what air and instruments can be.
    #[error("{what} of {value} {unit} is outside {low} to {high} {unit}; check the reading and its unit")]
    OutOfRange {
        /// Which reading.
        what: &'static str,
        /// The value given.
        value: f64,
        /// The unit it was taken in.
        unit: &'static str,
        /// The least value accepted.
        low: f64,
        /// The greatest value accepted.
        high: f64,
    },
}

impl Air {
    /// Checks that every reading is one that air can have.
    pub fn checked(self) -> Result<Self, AirError> {
        let within = |what, value: f64, unit, low, high| {
            if (low..=high).contains(&value) {
                Ok(())
            } else {
                Err(AirError::OutOfRange {
                    what,
                    value,
                    unit,
                    low,
                    high,
                })
            }
        };
        within("wavelength", self.wavelength_um, "um", 0.35, 2.0)?;
        within("temperature", self.temperature_c, "degrees C", -60.0, 70.0)?;
        within("pressure", self.pressure_hpa, "hPa", 400.0, 1100.0)?;
        within("humidity", self.relative_humidity_pct, "%", 0.0, 100.0)?;
        Ok(self)
    }

    /// Returns the partial pressure of water vapour, in hectopascals.
    pub fn vapour_pressure_hpa(&self) -> f64 {
        let (t, p) = (self.temperature_c, self.pressure_hpa);
        let saturated = (1.0007 + 3.46e-6 * p) * 6.1121 * (17.502 * t / (240.94 + t)).exp();
        saturated * self.relative_humidity_pct / 100.0
    }

    /// Returns the group refractivity of this air, in parts per million.
    pub fn group_refractivity_ppm(&self) -> f64 {
        let kelvin = self.temperature_c + 273.15;
        273.15 / 1013.25 * standard_group_refractivity_ppm(self.wavelength_um) * self.pressure_hpa / kelvin
            - 11.27 * self.vapour_pressure_hpa() / kelvin
    }
}

/// Returns the group refractivity of standard air (0 degrees C, 1013.25 hPa, dry, 0.0375 % CO2), in parts per million.
pub fn standard_group_refractivity_ppm(wavelength_um: f64) -> f64 {
    let l2 = wavelength_um * wavelength_um;
    287.6155 + 4.88660 / l2 + 0.06800 / (l2 * l2)
}

/// Returns the correction to add to a displayed distance, in parts per million.
///
/// `reference_refractivity_ppm` is the one the instrument's display is scaled for, from its manual.
pub fn first_velocity_ppm(air: &Air, reference_refractivity_ppm: f64) -> Result<f64, AirError> {
    let air = air.checked()?;
    if !reference_refractivity_ppm.is_finite() {
        return Err(AirError::OutOfRange {
            what: "reference refractivity",
            value: reference_refractivity_ppm,
            unit: "ppm",
            low: 200.0,
            high: 400.0,
        });
    }
    Ok(reference_refractivity_ppm - air.group_refractivity_ppm())
}

#[cfg(test)]
mod tests {
    use super::*;

    const AIR: Air = Air {
        wavelength_um: 0.658,
        temperature_c: 20.0,
        pressure_hpa: 1013.25,
        relative_humidity_pct: 60.0,
    };

    #[test]
    fn a_degree_of_warmth_is_about_one_part_in_a_million() {
        // Common practice: about 1 ppm per degree Celsius.
        let warmer = Air {
            temperature_c: 21.0,
            ..AIR
        };
        let change = first_velocity_ppm(&warmer, 286.34).unwrap() - first_velocity_ppm(&AIR, 286.34).unwrap();
        assert!((change - 1.0).abs() < 0.1, "{change}");
    }

    #[test]
    fn pressure_in_kilopascals_is_refused() {
        let wrong = Air {
            pressure_hpa: 101.3,
            ..AIR
        };
        let error = first_velocity_ppm(&wrong, 286.34).unwrap_err();
        assert!(error.to_string().contains("pressure of 101.3 hPa"), "{error}");
        assert!(
            first_velocity_ppm(
                &Air {
                    temperature_c: f64::NAN,
                    ..AIR
                },
                286.34
            )
            .is_err()
        );
    }
}
