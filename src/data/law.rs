//! How a property of a liquid depends on temperature: the published forms, with their range and where they are from.

use super::Known;
use crate::units::si::{ThermodynamicTemperature, in_kelvins, kelvins, temperature_text};
use thiserror::Error;

/// Pascal in a standard atmosphere.
const ATMOSPHERE_PA: f64 = 101_325.0;
/// Kelvin at 0 degrees Celsius.
const ZERO_C: f64 = 273.15;

/// A published form; T in kelvin, the value in SI units.
#[derive(Clone, Debug, PartialEq)]
pub enum Law {
    /// One value, known at one temperature or constant over a range.
    Constant(f64),
    /// `a + b (T - c)`.
    Linear([f64; 3]),
    /// A polynomial of the Celsius temperature, constant first.
    Quartic([f64; 5]),
    /// `a / (1 + b (T - d) + c (T - d)^2)`: a density by its cubic expansion.
    VolumeSeries([f64; 4]),
    /// `log10(p/atm) = a + b/T + c log10 T + d 1e-3 T`, in Pa.
    Alcock([f64; 4]),
    /// `log10(p/Pa) = a - b/(T + c)`.
    Antoine([f64; 3]),
    /// `ln(p/Pa) = a - b/(T + c)`.
    AntoineE([f64; 3]),
    /// `M c1 / c2^(1 + (1 - T/c3)^c4)`, c1 in mol/m3, with the molar mass in kg/mol last.
    Rackett([f64; 4], f64),
    /// `exp(a + b/T + c ln T + d T^e)`.
    Exponential([f64; 5]),
    /// `1e-3 10^(a + b/(c - T))`.
    PowerOfTen([f64; 3]),
    /// Straight lines between points (T, value).
    Points(Vec<(f64, f64)>),
    /// Straight lines of the logarithm against 1/T between points (T, value).
    LogPoints(Vec<(f64, f64)>),
}

impl Law {
    /// The form in one line.
    pub fn text(&self) -> &'static str {
        match self {
            Self::Constant(_) => "one value",
            Self::Linear(_) => "a + b (T - c)",
            Self::Quartic(_) => "a0 + a1 t + a2 t^2 + a3 t^3 + a4 t^4",
            Self::VolumeSeries(_) => "a / (1 + b (T - d) + c (T - d)^2)",
            Self::Alcock(_) => "log10(p/atm) = a + b/T + c log10 T + d T/1000",
            Self::Antoine(_) => "log10(p/Pa) = a - b/(T + c)",
            Self::AntoineE(_) => "ln(p/Pa) = a - b/(T + c)",
            Self::Rackett(..) => "M c1 / c2^(1 + (1 - T/c3)^c4)",
            Self::Exponential(_) => "exp(a + b/T + c ln T + d T^e)",
            Self::PowerOfTen(_) => "10^(a + b/(c - T)) mPa s",
            Self::Points(_) => "straight lines between points",
            Self::LogPoints(_) => "straight lines of the logarithm against 1/T",
        }
    }

    /// The value at T kelvin, in SI units, wherever the form can be evaluated.
    fn value(&self, t: f64) -> f64 {
        match self {
            Self::Constant(value) => *value,
            Self::Linear([a, b, c]) => a + b * (t - c),
            Self::Quartic(c) => c.iter().rev().fold(0.0, |sum, c| sum * (t - ZERO_C) + c),
            Self::VolumeSeries([a, b, c, d]) => a / (1.0 + b * (t - d) + c * (t - d).powi(2)),
            Self::Alcock([a, b, c, d]) => ATMOSPHERE_PA * 10f64.powf(a + b / t + c * t.log10() + d * 1e-3 * t),
            Self::Antoine([a, b, c]) => 10f64.powf(a - b / (t + c)),
            Self::AntoineE([a, b, c]) => (a - b / (t + c)).exp(),
            Self::Rackett([c1, c2, c3, c4], molar_kg) => {
                molar_kg * c1 / c2.powf(1.0 + (1.0 - t / c3).max(0.0).powf(*c4))
            }
            Self::Exponential([a, b, c, d, e]) => (a + b / t + c * t.ln() + d * t.powf(*e)).exp(),
            Self::PowerOfTen([a, b, c]) => 1e-3 * 10f64.powf(a + b / (c - t)),
            Self::Points(points) => between(points, t, |t| t, |v| v),
            Self::LogPoints(points) => between(points, t, |t| 1.0 / t, f64::ln).exp(),
        }
    }
}

/// Linear interpolation in transformed coordinates; beyond the ends the last line goes on.
fn between(points: &[(f64, f64)], t: f64, x: fn(f64) -> f64, y: fn(f64) -> f64) -> f64 {
    match points {
        [] => f64::NAN,
        [(_, only)] => y(*only),
        _ => {
            let last = points.len() - 2;
            let i = points
                .iter()
                .skip(1)
                .position(|(at, _)| t <= *at)
                .unwrap_or(last)
                .min(last);
            let ((t0, v0), (t1, v1)) = (points[i], points[i + 1]);
            y(v0) + (y(v1) - y(v0)) * (x(t) - x(t0)) / (x(t1) - x(t0))
        }
    }
}

/// Where a value comes from.
#[derive(Clone, Debug, PartialEq)]
pub struct Origin {
    /// Author, work, or what it was computed from.
    pub source: String,
    /// How it is known.
    pub known: Known,
    /// Its uncertainty in words; empty where the source gives none.
    pub uncertainty: String,
}

/// One value with its origin.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact<T> {
    /// The value.
    pub value: T,
    /// Where it comes from.
    pub origin: Origin,
}

/// A property that depends on temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct Property {
    /// What it is, such as `density`.
    pub what: &'static str,
    /// Its form.
    pub law: Law,
    /// Least temperature for which the form was made.
    pub low: ThermodynamicTemperature,
    /// Greatest temperature for which the form was made.
    pub high: ThermodynamicTemperature,
    /// Where it comes from.
    pub origin: Origin,
}

/// Why there is no value.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum NoValue {
    /// The data have no such property.
    #[error("the {what} of {liquid} is not known")]
    Unknown {
        /// The property.
        what: &'static str,
        /// The liquid.
        liquid: String,
    },
    /// The form does not hold there.
    #[error(
        "the {what} of {liquid} is known from {} to {}, not at {}",
        temperature_text(*.low), temperature_text(*.high), temperature_text(*.asked)
    )]
    OutOfRange {
        /// The property.
        what: &'static str,
        /// The liquid.
        liquid: String,
        /// The temperature asked for.
        asked: ThermodynamicTemperature,
        /// Least temperature of the form.
        low: ThermodynamicTemperature,
        /// Greatest temperature of the form.
        high: ThermodynamicTemperature,
    },
    /// Something else that it follows from is missing.
    #[error("{0}")]
    Because(String),
}

/// Rounding of a range's ends as they are published, K.
const HAIR_K: f64 = 0.05;

impl Property {
    /// Whether the form was made for that temperature.
    pub fn holds_at(&self, t: ThermodynamicTemperature) -> bool {
        let t = in_kelvins(t);
        t >= in_kelvins(self.low) - HAIR_K && t <= in_kelvins(self.high) + HAIR_K
    }

    /// The value at a temperature, SI units.
    ///
    /// # Errors
    /// When the form does not hold there.
    pub fn at(&self, t: ThermodynamicTemperature, liquid: &str) -> Result<f64, NoValue> {
        if self.holds_at(t) {
            Ok(self.law.value(in_kelvins(t)))
        } else {
            Err(NoValue::OutOfRange {
                what: self.what,
                liquid: liquid.to_owned(),
                asked: t,
                low: self.low,
                high: self.high,
            })
        }
    }

    /// Change of the value with temperature, SI units per kelvin, by a central difference.
    ///
    /// # Errors
    /// When the form does not hold there.
    pub fn slope(&self, t: ThermodynamicTemperature, liquid: &str) -> Result<f64, NoValue> {
        self.at(t, liquid)?;
        let (t, step) = (in_kelvins(t), 1e-3);
        Ok((self.law.value(t + step) - self.law.value(t - step)) / (2.0 * step))
    }

    /// The temperature at which a value that grows with temperature is reached, found by bisection within the range.
    pub fn temperature_of(&self, value: f64) -> Option<ThermodynamicTemperature> {
        let (mut low, mut high) = (in_kelvins(self.low), in_kelvins(self.high));
        let (least, most) = (self.law.value(low), self.law.value(high));
        if !(least <= value && value <= most && least < most) {
            return None;
        }
        for _ in 0..80 {
            let middle = f64::midpoint(low, high);
            if self.law.value(middle) < value {
                low = middle;
            } else {
                high = middle;
            }
        }
        Some(kelvins(f64::midpoint(low, high)))
    }

    /// The range in words.
    pub fn range_text(&self) -> String {
        format!("{} to {}", temperature_text(self.low), temperature_text(self.high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn property(law: Law) -> Property {
        Property {
            what: "vapour pressure",
            law,
            low: kelvins(300.0),
            high: kelvins(400.0),
            origin: Origin {
                source: "a test".to_owned(),
                known: Known::Read,
                uncertainty: String::new(),
            },
        }
    }

    #[test]
    fn out_of_range_is_said_with_the_range() {
        let p = property(Law::Linear([1.0, 0.5, 300.0]));
        assert_eq!(p.at(kelvins(310.0), "x"), Ok(6.0));
        let error = p.at(kelvins(401.0), "x").unwrap_err().to_string();
        assert!(
            error.contains("26.9 \u{b0}C to 126.9 \u{b0}C") && error.contains("127.9"),
            "{error}"
        );
    }

    #[test]
    fn a_value_is_found_again() {
        let p = property(Law::LogPoints(vec![(300.0, 1.0), (350.0, 10.0), (400.0, 50.0)]));
        assert!((p.at(kelvins(350.0), "x").unwrap() - 10.0).abs() < 1e-12);
        let t = p.temperature_of(20.0).unwrap();
        assert!((p.at(t, "x").unwrap() - 20.0).abs() < 1e-9);
        assert_eq!(p.temperature_of(60.0), None);
        let slope = property(Law::Linear([1.0, -0.25, 300.0])).slope(kelvins(350.0), "x");
        assert!((slope.unwrap() + 0.25).abs() < 1e-9);
    }

    #[test]
    fn one_point_is_a_constant_and_two_make_a_line() {
        let one = property(Law::Points(vec![(320.0, 7.0)]));
        assert_eq!(one.law.value(390.0), 7.0);
        let two = property(Law::Points(vec![(300.0, 1.0), (400.0, 3.0)]));
        assert!((two.law.value(350.0) - 2.0).abs() < 1e-12);
    }
}
