//! Numbers as people type and read them: values with units and simple arithmetic, and formatting.
//!
//! Conversions go through uom; each quantity is kept in one unit, the one in which it is stored: millimetres,
//! degrees, millilitres, grams, seconds, millibars. Lengths can be shown and typed in inches as well: see [`LengthUnit`].

mod lengths;
pub mod si;

pub use lengths::LengthUnit;

use thiserror::Error;
use uom::si::angle::{degree, minute, radian};
use uom::si::f64::{Angle, Length, Mass, Pressure, Time, Volume};
use uom::si::length::{centimeter, foot, inch, meter, micrometer, millimeter};
use uom::si::mass::{gram, kilogram, milligram};
use uom::si::pressure::{bar, hectopascal, kilopascal, millibar, millimeter_of_mercury, pascal};
use uom::si::time::{hour, minute as minute_of_time, second};
use uom::si::volume::{cubic_centimeter, cubic_millimeter, liter, microliter, milliliter};

/// Cubic millimetres in a millilitre: the engine counts in the former, people in the latter.
pub const MM3_PER_ML: f64 = 1000.0;
/// Millimetres in an inch, exactly.
pub const MM_PER_INCH: f64 = 25.4;
/// Square millimetres in a square centimetre.
pub const MM2_PER_CM2: f64 = 100.0;

/// Sine and cosine of an angle in degrees; exact at multiples of 90 degrees, so that glass drawn level is level.
pub fn sin_cos_deg(deg: f64) -> (f64, f64) {
    let quarter = (deg / 90.0).round();
    // The rest lies within 45 degrees, so that sine and cosine are accurate.
    let (sin, cos) = (deg - quarter * 90.0).to_radians().sin_cos();
    let (sin, cos) = match quarter.rem_euclid(4.0) as u8 {
        0 => (sin, cos),
        1 => (cos, -sin),
        2 => (-sin, -cos),
        _ => (-cos, sin),
    };
    // Adding zero turns -0 into 0.
    (sin + 0.0, cos + 0.0)
}

/// A kind of number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quantity {
    /// Length; stored and, without a unit, entered in millimetres.
    Length,
    /// Angle; degrees.
    Angle,
    /// Volume; millilitres.
    Volume,
    /// Mass; grams.
    Mass,
    /// A span of time; seconds.
    Time,
    /// Pressure; millibars.
    Pressure,
    /// A bare number.
    Number,
}

impl Quantity {
    fn name(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Angle => "an angle",
            Self::Volume => "a volume",
            Self::Mass => "a mass",
            Self::Time => "a time",
            Self::Pressure => "a pressure",
            Self::Number => "a bare number",
        }
    }
}

/// Why a text is not a value.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ParseError {
    /// Nothing there.
    #[error("nothing is entered")]
    Empty,
    /// Longer than anybody types.
    #[error("longer than {MAX_CHARS} characters")]
    TooLong,
    /// Something that belongs to no value.
    #[error("\"{found}\" at character {at} is not understood")]
    Unknown {
        /// What was found.
        found: String,
        /// Where, counted from 1.
        at: usize,
    },
    /// A unit that is not known, or of another quantity.
    #[error("\"{unit}\" is not a unit of {}", quantity.name())]
    Unit {
        /// The unit.
        unit: String,
        /// What was wanted.
        quantity: Quantity,
    },
    /// The text ends early.
    #[error("the text ends where a number is expected")]
    Unfinished,
    /// Two values with units multiplied or divided, or a bare number added to one with a unit.
    #[error("{0}")]
    Mixed(&'static str),
    /// A division by zero, or a number too large.
    #[error("the result is not a number")]
    NotFinite,
}

/// Longest text that is read.
const MAX_CHARS: usize = 200;

/// Deepest nesting of brackets and signs.
const MAX_DEPTH: usize = 30;

/// Reads a value such as `12.5`, `1/4 in`, `1 1/4 in`, `6.35mm`, `2 ml`, `3*25+1`, `(2+3) cm`; a decimal comma is
/// taken for a point. A unit holds for the product before it, so that `1/4 in` is a quarter inch; where no unit
/// stands at all, the quantity's own is meant.
///
/// # Errors
/// Saying why the text is no such value.
pub fn parse(text: &str, quantity: Quantity) -> Result<f64, ParseError> {
    evaluate(text, quantity).map(|value| value.number)
}

/// The value that a text stands for, and whether a unit stood in it.
fn evaluate(text: &str, quantity: Quantity) -> Result<Value, ParseError> {
    if text.trim().is_empty() {
        return Err(ParseError::Empty);
    }
    let chars: Vec<char> = text.chars().collect();
    if chars.len() > MAX_CHARS {
        return Err(ParseError::TooLong);
    }
    let mut reader = Reader {
        chars,
        at: 0,
        quantity,
        depth: 0,
    };
    let value = reader.sum()?;
    reader.blanks();
    if let Some(&found) = reader.chars.get(reader.at) {
        return Err(ParseError::Unknown {
            found: found.to_string(),
            at: reader.at + 1,
        });
    }
    if value.number.is_finite() {
        Ok(value)
    } else {
        Err(ParseError::NotFinite)
    }
}

/// A number, and whether a unit has been applied to it.
#[derive(Clone, Copy)]
struct Value {
    number: f64,
    with_unit: bool,
}

struct Reader {
    chars: Vec<char>,
    at: usize,
    quantity: Quantity,
    depth: usize,
}

impl Reader {
    fn blanks(&mut self) {
        while self.chars.get(self.at).is_some_and(|c| c.is_whitespace()) {
            self.at += 1;
        }
    }

    fn peek(&mut self) -> Option<char> {
        self.blanks();
        self.chars.get(self.at).copied()
    }

    fn sum(&mut self) -> Result<Value, ParseError> {
        let mut value = self.product()?;
        while let Some(sign @ ('+' | '-' | '\u{2212}')) = self.peek() {
            self.at += 1;
            let next = self.product()?;
            if value.with_unit != next.with_unit {
                return Err(ParseError::Mixed("a sum needs a unit on every term or on none"));
            }
            value.number += if sign == '+' { next.number } else { -next.number };
        }
        Ok(value)
    }

    /// Factors, then perhaps a unit for all of them.
    fn product(&mut self) -> Result<Value, ParseError> {
        let mut value = self.factor()?;
        loop {
            match self.peek() {
                Some(sign @ ('*' | '/' | '\u{d7}')) => {
                    self.at += 1;
                    let next = self.factor()?;
                    if next.with_unit && (sign == '/' || value.with_unit) {
                        return Err(ParseError::Mixed("only one factor may have a unit, and not a divisor"));
                    }
                    value.with_unit |= next.with_unit;
                    if sign == '/' {
                        value.number /= next.number;
                    } else {
                        value.number *= next.number;
                    }
                }
                Some(c) if is_unit_char(c) => {
                    let unit = self.word();
                    if value.with_unit {
                        return Err(ParseError::Mixed("two units stand on one value"));
                    }
                    let number = convert(value.number, &unit, self.quantity).ok_or(ParseError::Unit {
                        unit,
                        quantity: self.quantity,
                    })?;
                    value = Value {
                        number,
                        with_unit: true,
                    };
                }
                _ => return Ok(value),
            }
        }
    }

    fn factor(&mut self) -> Result<Value, ParseError> {
        self.depth += 1;
        if self.depth > MAX_DEPTH {
            return Err(ParseError::TooLong);
        }
        let value = match self.peek() {
            None => Err(ParseError::Unfinished),
            Some('+') => {
                self.at += 1;
                self.factor()
            }
            Some('-' | '\u{2212}') => {
                self.at += 1;
                self.factor().map(|value| Value {
                    number: -value.number,
                    ..value
                })
            }
            Some('(') => {
                self.at += 1;
                let value = self.sum()?;
                match self.peek() {
                    Some(')') => {
                        self.at += 1;
                        Ok(value)
                    }
                    None => Err(ParseError::Unfinished),
                    Some(found) => Err(ParseError::Unknown {
                        found: found.to_string(),
                        at: self.at + 1,
                    }),
                }
            }
            Some(c) if c.is_ascii_digit() || c == '.' || c == ',' => self.number(),
            Some(found) => Err(ParseError::Unknown {
                found: found.to_string(),
                at: self.at + 1,
            }),
        };
        self.depth -= 1;
        value
    }

    /// A number, or a whole number and a fraction after it: `1 1/4`.
    fn number(&mut self) -> Result<Value, ParseError> {
        let start = self.at;
        let mut value = self.decimal()?;
        if self.chars[start..self.at].iter().all(char::is_ascii_digit)
            && let Some((fraction, end)) = self.fraction()
        {
            value.number += fraction;
            self.at = end;
        }
        Ok(value)
    }

    /// A fraction after at least one blank, and where it ends; nothing is read yet.
    fn fraction(&self) -> Option<(f64, usize)> {
        let digits = |from: usize| {
            let rest = self.chars.get(from..)?;
            let count = rest.iter().take_while(|c| c.is_ascii_digit()).count();
            let number: f64 = rest[..count].iter().collect::<String>().parse().ok()?;
            Some((number, from + count))
        };
        let blanks = self
            .chars
            .get(self.at..)?
            .iter()
            .take_while(|c| c.is_whitespace())
            .count();
        let (above, slash) = digits(self.at + blanks).filter(|_| blanks > 0)?;
        let (below, end) = digits(slash + 1).filter(|_| self.chars.get(slash) == Some(&'/'))?;
        (!matches!(self.chars.get(end), Some('.' | ','))).then_some((above / below, end))
    }

    fn decimal(&mut self) -> Result<Value, ParseError> {
        let start = self.at;
        let mut text = String::new();
        while let Some(&c) = self.chars.get(self.at) {
            match c {
                '0'..='9' => text.push(c),
                '.' | ',' => text.push('.'),
                _ => break,
            }
            self.at += 1;
        }
        match text.parse() {
            Ok(number) => Ok(Value {
                number,
                with_unit: false,
            }),
            Err(_) => {
                let found = self.chars[start..self.at].iter().collect();
                Err(ParseError::Unknown { found, at: start + 1 })
            }
        }
    }

    fn word(&mut self) -> String {
        let start = self.at;
        while self.chars.get(self.at).is_some_and(|&c| is_unit_char(c)) {
            self.at += 1;
        }
        // The exponent of mm3 and cm3 is the one digit that a unit has.
        if self.chars.get(self.at) == Some(&'3') && self.chars[start..self.at].ends_with(&['m']) {
            self.at += 1;
        }
        self.chars[start..self.at].iter().collect()
    }
}

fn is_unit_char(c: char) -> bool {
    c.is_alphabetic() || matches!(c, '"' | '\'' | '\u{b0}' | '\u{2033}' | '\u{b3}' | '\u{b5}')
}

/// A number in a unit, in the quantity's own unit. `None` for a unit of another quantity.
fn convert(number: f64, unit: &str, quantity: Quantity) -> Option<f64> {
    let unit = unit.to_lowercase();
    match quantity {
        Quantity::Length => {
            // uom stores metres, which would cost a millimetre its last bit.
            let length = match unit.as_str() {
                "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => {
                    return Some(number);
                }
                "cm" => Length::new::<centimeter>(number),
                "m" => Length::new::<meter>(number),
                "um" | "\u{b5}m" | "\u{3bc}m" => Length::new::<micrometer>(number),
                "in" | "inch" | "inches" | "\"" | "\u{2033}" => Length::new::<inch>(number),
                "ft" | "foot" | "feet" | "'" => Length::new::<foot>(number),
                _ => return None,
            };
            Some(tidy(length.get::<millimeter>()))
        }
        Quantity::Angle => {
            let angle = match unit.as_str() {
                "deg" | "degree" | "degrees" | "\u{b0}" => return Some(number),
                "rad" => Angle::new::<radian>(number),
                "arcmin" => Angle::new::<minute>(number),
                _ => return None,
            };
            Some(tidy(angle.get::<degree>()))
        }
        Quantity::Volume => {
            let volume = match unit.as_str() {
                "ml" | "millilitre" | "millilitres" | "milliliter" | "milliliters" => {
                    return Some(number);
                }
                "cc" | "ccm" | "cm3" | "cm\u{b3}" => Volume::new::<cubic_centimeter>(number),
                "mm3" | "mm\u{b3}" => Volume::new::<cubic_millimeter>(number),
                "ul" | "\u{b5}l" | "\u{3bc}l" => Volume::new::<microliter>(number),
                "l" | "litre" | "litres" | "liter" | "liters" => Volume::new::<liter>(number),
                _ => return None,
            };
            Some(tidy(volume.get::<milliliter>()))
        }
        Quantity::Mass => {
            let mass = match unit.as_str() {
                "g" | "gram" | "grams" => return Some(number),
                "mg" | "milligram" | "milligrams" => Mass::new::<milligram>(number),
                "kg" | "kilogram" | "kilograms" => Mass::new::<kilogram>(number),
                _ => return None,
            };
            Some(tidy(mass.get::<gram>()))
        }
        Quantity::Time => {
            let time = match unit.as_str() {
                "s" | "sec" | "second" | "seconds" => return Some(number),
                "min" | "minute" | "minutes" => Time::new::<minute_of_time>(number),
                "h" | "hour" | "hours" => Time::new::<hour>(number),
                _ => return None,
            };
            Some(tidy(time.get::<second>()))
        }
        Quantity::Pressure => {
            let pressure = match unit.as_str() {
                "mbar" | "millibar" | "millibars" => return Some(number),
                "bar" => Pressure::new::<bar>(number),
                "pa" => Pressure::new::<pascal>(number),
                "hpa" => Pressure::new::<hectopascal>(number),
                "kpa" => Pressure::new::<kilopascal>(number),
                "mmhg" | "torr" => Pressure::new::<millimeter_of_mercury>(number),
                _ => return None,
            };
            Some(tidy(pressure.get::<millibar>()))
        }
        Quantity::Number => None,
    }
}

/// A converted value rounded to 12 significant digits, so that 1/4 in is 6.35 mm and not 6.3500000000000005 mm.
fn tidy(value: f64) -> f64 {
    format!("{value:.11e}").parse().unwrap_or(value)
}

/// A length to 0.1 mm with its unit.
pub fn length_text(mm: f64) -> String {
    format!("{} mm", fixed(mm, 1))
}

/// An angle to 0.1 degree with its unit.
pub fn angle_text(deg: f64) -> String {
    format!("{}\u{b0}", fixed(deg, 1))
}

/// A volume to 0.01 mL with its unit.
pub fn volume_text(ml: f64) -> String {
    format!("{} mL", fixed(ml, 2))
}

/// A number with fixed decimals and without a minus sign before zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| matches!(c, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

/// A number with fixed decimals and always a sign.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    match text.strip_prefix('-') {
        Some(size) => format!("\u{2212}{size}"),
        None => format!("+{text}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn values_with_units_and_arithmetic() {
        for (text, quantity, value) in [
            ("12.5", Quantity::Length, 12.5),
            ("12,5", Quantity::Length, 12.5),
            ("1/4 in", Quantity::Length, 6.35),
            ("6.35mm", Quantity::Length, 6.35),
            ("1/4\"", Quantity::Length, 6.35),
            ("1.5 min", Quantity::Time, 90.0),
            ("2 h", Quantity::Time, 7200.0),
            ("30", Quantity::Time, 30.0),
            ("1 bar", Quantity::Pressure, 1000.0),
            ("50 kPa", Quantity::Pressure, 500.0),
            ("200 hPa", Quantity::Pressure, 200.0),
            ("1 1/4 in", Quantity::Length, 31.75),
            ("2 1/2 * 4", Quantity::Length, 10.0),
            ("-1 1/2", Quantity::Length, -1.5),
            ("2*45+3", Quantity::Length, 93.0),
            ("120/8", Quantity::Length, 15.0),
            ("1.5 cm", Quantity::Length, 15.0),
            ("3*25+1", Quantity::Length, 76.0),
            ("2 cm + 5 mm", Quantity::Length, 25.0),
            ("-(2+3) cm", Quantity::Length, -50.0),
            ("2 * 3cm", Quantity::Length, 60.0),
            ("3 mm * 4", Quantity::Length, 12.0),
            ("500 um", Quantity::Length, 0.5),
            ("2 ml", Quantity::Volume, 2.0),
            ("2 mL", Quantity::Volume, 2.0),
            ("150 \u{b5}L", Quantity::Volume, 0.15),
            ("3 cm3 + 1 ml", Quantity::Volume, 4.0),
            ("0.5 l", Quantity::Volume, 500.0),
            ("4.6 g", Quantity::Mass, 4.6),
            ("850 mg", Quantity::Mass, 0.85),
            ("45\u{b0}", Quantity::Angle, 45.0),
            ("30 arcmin", Quantity::Angle, 0.5),
            ("90 deg / 2", Quantity::Angle, 45.0),
            ("6", Quantity::Number, 6.0),
        ] {
            assert_eq!(parse(text, quantity), Ok(value), "{text}");
        }
    }

    #[test]
    fn signs_are_shown_where_they_matter() {
        assert_eq!(
            [signed(-0.4, 2), signed(0.0, 1), signed(-0.01, 1)],
            ["\u{2212}0.40", "+0.0", "+0.0"]
        );
    }

    #[test]
    fn refusals_say_why() {
        let why = |text: &str, quantity| parse(text, quantity).unwrap_err().to_string();
        assert_eq!(why(" ", Quantity::Length), "nothing is entered");
        assert_eq!(why("2 ml", Quantity::Length), "\"ml\" is not a unit of a length");
        assert_eq!(why("2 +", Quantity::Length), "the text ends where a number is expected");
        assert_eq!(why("2 ; 3", Quantity::Length), "\";\" at character 3 is not understood");
        assert_eq!(
            why("1.2.3", Quantity::Length),
            "\"1.2.3\" at character 1 is not understood"
        );
        assert_eq!(why("1/0", Quantity::Length), "the result is not a number");
        assert!(why("2 + 3 mm", Quantity::Length).contains("every term"));
        // A fraction goes with a whole number alone, and needs a number below.
        assert!(why("1.5 1/2", Quantity::Length).contains("not understood"));
        assert!(why("1 1/", Quantity::Length).contains("not understood"));
        assert_eq!(why("1 1/0", Quantity::Length), "the result is not a number");
        assert!(why("2 mm * 3 mm", Quantity::Length).contains("two units"));
        assert!(why("(2 mm) * (3 mm)", Quantity::Length).contains("one factor"));
        assert!(why(&"(".repeat(100), Quantity::Length).contains("longer"));
        assert!(why("6 mm", Quantity::Number).contains("bare number"));
    }

    #[test]
    fn texts_are_short_and_without_minus_zero() {
        assert_eq!(
            (length_text(12.345), angle_text(-0.04), volume_text(1.499)),
            ("12.3 mm".into(), "0.0\u{b0}".into(), "1.50 mL".into())
        );
        assert_eq!(length_text(-0.26), "-0.3 mm");
    }

    /// A sum, product or bracket as text, with the value that it has.
    fn expression() -> impl Strategy<Value = (String, f64)> {
        let number = "[0-9]{1,3}\\.[0-9]{2}".prop_map(|text: String| {
            let value = text.parse().unwrap();
            (text, value)
        });
        let fraction = (1_u32..20, 1_u32..9, 2_u32..16).prop_map(|(whole, above, below)| {
            let value = f64::from(whole) + f64::from(above) / f64::from(below);
            (format!("({whole} {above}/{below})"), value)
        });
        prop_oneof![number, fraction].prop_recursive(4, 16, 2, |inner| {
            (inner.clone(), 0_usize..4, inner).prop_map(|((a, x), sign, (b, y))| match sign {
                0 => (format!("({a} + {b})"), x + y),
                1 => (format!("({a}-{b})"), x - y),
                2 => (format!("({a}*{b})"), x * y),
                _ => (format!("({a} / ({b}*{b}+1))"), x / (y * y + 1.0)),
            })
        })
    }

    proptest! {
        #[test]
        fn arithmetic_is_as_anywhere((text, value) in expression()) {
            match parse(&text, Quantity::Length) {
                Ok(read) => prop_assert_eq!(read, value),
                Err(ParseError::TooLong) => prop_assert!(text.chars().count() > MAX_CHARS),
                Err(error) => prop_assert!(false, "{text}: {error}"),
            }
        }

        #[test]
        fn any_text_is_read_or_refused(text in ".{0,60}") {
            for quantity in [Quantity::Length, Quantity::Angle, Quantity::Volume, Quantity::Number] {
                if let Ok(value) = parse(&text, quantity) {
                    prop_assert!(value.is_finite());
                }
            }
        }

        #[test]
        fn sums_and_brackets_of_anything_like_arithmetic(text in "[0-9+*/(). m-]{0,40}") {
            let _ = parse(&text, Quantity::Length);
        }

        #[test]
        fn plain_numbers_come_back(value in -1e6..1e6f64) {
            prop_assert_eq!(parse(&value.to_string(), Quantity::Length), Ok(value));
            prop_assert_eq!(parse(&format!("{value} mm"), Quantity::Length), Ok(value));
        }
    }
}
