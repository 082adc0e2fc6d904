//! Lengths and tube sizes as they are shown and typed, in millimetres or in inches.
//!
//! They are stored in millimetres whatever is shown: what is only looked at is never changed.

use super::{ParseError, Quantity, Value, evaluate, fixed, is_unit_char, tidy};

/// The unit in which lengths are shown, and in which a length typed without a unit is meant.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum LengthUnit {
    /// Millimetres, to 0.1 mm.
    #[default]
    Millimetre,
    /// Inches, to 0.001 in.
    Inch,
}

/// Millimetres in an inch, by definition.
const MM_PER_INCH: f64 = 25.4;

impl LengthUnit {
    /// Inches, or millimetres.
    pub fn of(inches: bool) -> Self {
        if inches { Self::Inch } else { Self::Millimetre }
    }

    /// Symbol after a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Millimetre => "mm",
            Self::Inch => "in",
        }
    }

    /// A length in this unit.
    pub fn from_mm(self, mm: f64) -> f64 {
        match self {
            Self::Millimetre => mm,
            Self::Inch => mm / MM_PER_INCH,
        }
    }

    /// Millimetres of a length in this unit.
    pub fn to_mm(self, length: f64) -> f64 {
        match self {
            Self::Millimetre => length,
            Self::Inch => tidy(length * MM_PER_INCH),
        }
    }

    /// Digits after the point of a length that was computed or measured: tenths of a millimetre, thousandths of an
    /// inch.
    pub fn digits(self) -> usize {
        match self {
            Self::Millimetre => 1,
            Self::Inch => 3,
        }
    }

    /// Digits after the point of a length of `mm` that was entered: hundredths of a millimetre where it has them.
    pub fn digits_of(self, mm: f64) -> usize {
        let has_tenths = (mm * 10.0 - (mm * 10.0).round()).abs() < 1e-6;
        self.digits() + usize::from(self == Self::Millimetre && !has_tenths)
    }

    /// A length as a number without its unit.
    pub fn number(self, mm: f64) -> String {
        shown(self.from_mm(mm), self.digits())
    }

    /// A length with its unit, such as `12.5 mm` or `0.492 in`. This is how lengths are told to people.
    pub fn text(self, mm: f64) -> String {
        format!("{} {}", self.number(mm), self.symbol())
    }

    /// A length that was entered, without its unit.
    pub fn entered_number(self, mm: f64) -> String {
        shown(self.from_mm(mm), self.digits_of(mm))
    }

    /// A length that was entered, with its unit.
    pub fn entered_text(self, mm: f64) -> String {
        format!("{} {}", self.entered_number(mm), self.symbol())
    }

    /// A tube size without its unit, such as `16.0 × 1.2`.
    pub fn size_number(self, od_mm: f64, wall_mm: f64) -> String {
        format!("{} \u{d7} {}", self.entered_number(od_mm), self.entered_number(wall_mm))
    }

    /// A tube size with its unit: outside diameter and wall.
    pub fn size_text(self, od_mm: f64, wall_mm: f64) -> String {
        format!("{} {}", self.size_number(od_mm, wall_mm), self.symbol())
    }

    /// Reads a length, mm; without a unit this one is meant.
    ///
    /// # Errors
    /// Saying why the text is no length.
    pub fn parse(self, text: &str) -> Result<f64, ParseError> {
        evaluate(text, Quantity::Length).map(|value| self.mm_of(value))
    }

    /// Reads a tube size, outside diameter by wall, mm: `16 x 1.2`, `1/2 in x 1.5 mm`. A unit after the wall holds
    /// for the diameter too if that has none. A number alone is the diameter.
    ///
    /// # Errors
    /// Saying why the text is no tube size.
    pub fn parse_size(self, text: &str) -> Result<(f64, Option<f64>), ParseError> {
        let Some((diameter, wall)) = text.split_once(['x', 'X', '\u{d7}']) else {
            return Ok((self.parse(text)?, None));
        };
        let wall_value = evaluate(wall, Quantity::Length)?;
        let value = evaluate(diameter, Quantity::Length)?;
        let value = if wall_value.with_unit && !value.with_unit {
            evaluate(&format!("({diameter}) {}", last_unit(wall)), Quantity::Length)?
        } else {
            value
        };
        Ok((self.mm_of(value), Some(self.mm_of(wall_value))))
    }

    fn mm_of(self, value: Value) -> f64 {
        if value.with_unit {
            value.number
        } else {
            self.to_mm(value.number)
        }
    }
}

/// A number with the minus sign that people read.
fn shown(value: f64, digits: usize) -> String {
    fixed(value, digits).replace('-', "\u{2212}")
}

/// The unit at the end of a text; millimetres where something else stands there, such as a bracket.
fn last_unit(text: &str) -> &str {
    let text = text.trim_end();
    let number = text.trim_end_matches(is_unit_char);
    match &text[number.len()..] {
        "" => "mm",
        unit => unit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MM: LengthUnit = LengthUnit::Millimetre;
    const INCH: LengthUnit = LengthUnit::Inch;

    #[test]
    fn lengths_are_written_with_the_digits_they_deserve() {
        for (mm, metric, inches) in [
            (12.5, "12.5 mm", "0.492 in"),
            (1.25, "1.25 mm", "0.049 in"),
            (25.4, "25.4 mm", "1.000 in"),
            (120.0 / 7.0, "17.14 mm", "0.675 in"),
            (-6.35, "\u{2212}6.35 mm", "\u{2212}0.250 in"),
            (-0.0, "0.0 mm", "0.000 in"),
        ] {
            let both = (MM.entered_text(mm), INCH.entered_text(mm));
            assert_eq!(both, (metric.to_owned(), inches.to_owned()));
        }
        assert_eq!(
            (MM.text(17.142), INCH.text(17.142)),
            ("17.1 mm".into(), "0.675 in".into())
        );
        assert_eq!(MM.size_text(16.0, 1.25), "16.0 \u{d7} 1.25 mm");
        assert_eq!(INCH.size_text(12.7, 1.5), "0.500 \u{d7} 0.059 in");
    }

    #[test]
    fn a_plain_number_is_in_the_unit_shown_and_any_other_can_be_typed() {
        for (text, metric, inches) in [
            ("0.25", 0.25, 6.35),
            ("1/4", 0.25, 6.35),
            ("1 1/2", 1.5, 38.1),
            ("1/4 in", 6.35, 6.35),
            ("6.35mm", 6.35, 6.35),
            ("1.5 cm", 15.0, 15.0),
            ("2*45+3", 93.0, 2362.2),
            ("-(1/4)", -0.25, -6.35),
        ] {
            assert_eq!((MM.parse(text), INCH.parse(text)), (Ok(metric), Ok(inches)), "{text}");
        }
    }

    #[test]
    fn sizes_are_read_as_they_are_said() {
        for (text, metric) in [
            ("16 x 1.2", (16.0, Some(1.2))),
            ("16x1.2", (16.0, Some(1.2))),
            ("16 \u{d7} 1,2 mm", (16.0, Some(1.2))),
            ("1/2 in x 1.5", (12.7, Some(1.5))),
            ("1/2 in x 1/16 in", (12.7, Some(1.5875))),
            ("1/2 x 1/16 in", (12.7, Some(1.5875))),
            ("1.4 cm X 2*0.5", (14.0, Some(1.0))),
            ("1 x (0.1 cm)", (1.0, Some(1.0))),
            ("14", (14.0, None)),
        ] {
            assert_eq!(MM.parse_size(text), Ok(metric), "{text}");
        }
        assert_eq!(INCH.parse_size("1/2 x 1/16"), Ok((12.7, Some(1.5875))));
        assert_eq!(INCH.parse_size("1/2 x 1.5 mm"), Ok((0.5, Some(1.5))));
        for text in ["x", "16 x", "x 1.2", "16 x 1 x 2", "16 x 2 ml", ""] {
            assert!(MM.parse_size(text).is_err(), "{text}");
        }
    }

    proptest! {
        #[test]
        fn what_is_shown_and_typed_back_differs_by_less_than_its_last_digit(mm in -9999.0..9999.0f64) {
            let back = INCH.parse(&INCH.text(mm)).unwrap();
            prop_assert!((back - mm).abs() <= 0.0005 * 25.4 + 1e-9, "{} for {}", back, mm);
            let back = MM.parse(&MM.text(mm)).unwrap();
            prop_assert!((back - mm).abs() <= 0.05 + 1e-9);
        }

        #[test]
        fn thousandths_of_an_inch_come_back_as_typed(thousandths in -400_000..400_000i32) {
            let typed = f64::from(thousandths) / 1000.0;
            let mm = INCH.parse(&typed.to_string()).unwrap();
            prop_assert_eq!(fixed(INCH.from_mm(mm), 3), fixed(typed, 3));
            prop_assert_eq!(INCH.to_mm(INCH.from_mm(mm)), mm);
        }

        #[test]
        fn any_text_is_a_size_or_refused(text in "[0-9x× ./*()inm-]{0,30}") {
            if let Ok((od_mm, wall_mm)) = MM.parse_size(&text) {
                prop_assert!(od_mm.is_finite() && wall_mm.is_none_or(f64::is_finite));
            }
        }
    }
}
