//! The limits of every number in a design, declared once: the check refuses by them, the message quotes them and
//! a control takes its range from them.
//!
//! They are bounds of what can be handled at all, not of good practice: what is doubtful at the bench is a
//! finding and stays editable.

use crate::units::Quantity;
use std::fmt;

/// Unit in which a number is stored and shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Unit {
    /// Millimetres.
    Mm,
    /// Degrees.
    Deg,
    /// Millilitres.
    Ml,
    /// Seconds.
    S,
    /// Degrees per second.
    DegPerS,
    /// Millibars, absolute.
    Mbar,
    /// Degrees Celsius.
    Celsius,
    /// Kelvin, of a difference.
    Kelvin,
    /// Per cent.
    Percent,
    /// Parts in a million by volume.
    Ppm,
    /// Grams.
    G,
    /// Milligrams.
    Mg,
    /// Moles.
    Mol,
    /// Litres per second.
    LPerS,
    /// Hours.
    Hours,
    /// Minutes.
    Minutes,
    /// Nanometres.
    Nm,
    /// A part of one, or a number without unit.
    Part,
    /// A whole number of things.
    Count,
}

impl Unit {
    /// Symbol after a number; empty for counts.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Deg => "deg",
            Self::Ml => "mL",
            Self::S => "s",
            Self::DegPerS => "deg/s",
            Self::Mbar => "mbar",
            Self::Celsius => "\u{b0}C",
            Self::Kelvin => "K",
            Self::Percent => "%",
            Self::Ppm => "ppm",
            Self::G => "g",
            Self::Mg => "mg",
            Self::Mol => "mol",
            Self::LPerS => "L/s",
            Self::Hours => "h",
            Self::Minutes => "min",
            Self::Nm => "nm",
            Self::Count | Self::Part => "",
        }
    }

    /// What a text that stands for such a number may have as its unit. A rate has the unit of its angle.
    pub fn quantity(self) -> Quantity {
        match self {
            Self::Mm => Quantity::Length,
            Self::Deg | Self::DegPerS => Quantity::Angle,
            Self::Ml => Quantity::Volume,
            Self::S => Quantity::Time,
            Self::Mbar => Quantity::Pressure,
            Self::Celsius
            | Self::Kelvin
            | Self::Percent
            | Self::Ppm
            | Self::G
            | Self::Mg
            | Self::Mol
            | Self::LPerS
            | Self::Hours
            | Self::Minutes
            | Self::Nm
            | Self::Part
            | Self::Count => Quantity::Number,
        }
    }
}

/// Least and greatest value of a kind of number.
#[derive(Debug, PartialEq)]
pub struct Limit {
    /// Name of the kind of number.
    pub key: &'static str,
    /// The kind of number in words.
    pub label: &'static str,
    /// Unit of `min`, `max` and `step`.
    pub unit: Unit,
    /// Least value, itself allowed.
    pub min: f64,
    /// Greatest value, itself allowed.
    pub max: f64,
    /// A sensible step for a control.
    pub step: f64,
}

impl Limit {
    /// Whether the value lies within; NaN does not. A count must be whole.
    pub fn allows(&self, value: f64) -> bool {
        (self.min..=self.max).contains(&value) && (self.unit != Unit::Count || value.fract() == 0.0)
    }

    /// The nearest allowed value; NaN gives the least.
    pub fn nearest(&self, value: f64) -> f64 {
        let value = if self.unit == Unit::Count { value.round() } else { value };
        if value.is_nan() {
            self.min
        } else {
            value.clamp(self.min, self.max)
        }
    }

    /// Whether a number of things is within the limit.
    pub fn allows_count(&self, count: usize) -> bool {
        count as f64 <= self.max
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} to {}", self.min, self.max)?;
        match self.unit.symbol() {
            "" => Ok(()),
            symbol => write!(f, " {symbol}"),
        }
    }
}

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident: $key:literal, $label:literal, $unit:ident, $min:literal, $max:literal, $step:literal;)*) => {
        $($(#[$doc])* pub static $name: Limit = Limit {
            key: $key, label: $label, unit: Unit::$unit, min: $min, max: $max, step: $step,
        };)*
        /// Every limit.
        pub static ALL: &[&Limit] = &[$(&$name),*];
    };
}

limits! {
    /// Coordinates on the drawing, and corners of a bridge.
    COORDINATE: "coordinate", "coordinate", Mm, -10000.0, 10000.0, 1.0;
    /// Heading of a free piece. The range maps onto itself when the drawing is mirrored (h to 180 - h).
    HEADING: "heading", "heading", Deg, -180.0, 360.0, 1.0;
    /// Distance along a host.
    AT: "at", "distance along the host", Mm, 0.0, 10000.0, 1.0;
    /// Turn of a guest from its host's direction.
    TURN: "turn", "turn from the host", Deg, -360.0, 360.0, 1.0;
    /// Outside diameters.
    OD: "od", "outside diameter", Mm, 1.0, 300.0, 0.5;
    /// Wall thicknesses.
    WALL: "wall", "wall", Mm, 0.1, 20.0, 0.1;
    /// What outside diameter and wall must leave as bore.
    BORE: "bore", "bore", Mm, 0.2, 300.0, 0.1;
    /// Lengths of a part.
    LENGTH: "length", "length", Mm, 0.5, 5000.0, 1.0;
    /// Lengths that may vanish.
    SHORT: "short", "length", Mm, 0.0, 5000.0, 1.0;
    /// Radius of a bend's centreline.
    RADIUS: "radius", "bend radius", Mm, 0.5, 2000.0, 1.0;
    /// Angle of a bend.
    ANGLE: "angle", "bend angle", Deg, -350.0, 350.0, 1.0;
    /// Distance between members of a row.
    PITCH: "pitch", "pitch", Mm, 1.0, 1000.0, 1.0;
    /// Members of a row.
    MEMBERS: "members", "members of a row", Count, 1.0, 400.0, 1.0;
    /// Target volumes.
    TARGET: "target", "target volume", Ml, 0.0, 10000.0, 0.1;
    /// Volumes given to pieces.
    FILL: "fill", "volume", Ml, 0.0, 100000.0, 0.1;
    /// Pieces of a design, members of rows included.
    PIECES: "pieces", "pieces", Count, 0.0, 5000.0, 1.0;
    /// Elements of a tube's course.
    ELEMENTS: "elements", "elements of a course", Count, 0.0, 200.0, 1.0;
    /// Corners of a bridge.
    CORNERS: "corners", "corners of a bridge", Count, 0.0, 50.0, 1.0;
    /// Rows of a design.
    ROWS: "rows", "rows", Count, 0.0, 400.0, 1.0;
    /// The user's own tube sizes.
    OWN_SIZES: "own_sizes", "own tube sizes", Count, 0.0, 500.0, 1.0;
    /// Fills of a charge.
    FILLS: "fills", "fills", Count, 0.0, 5000.0, 1.0;
    /// Tilt of a stop.
    TILT: "tilt", "tilt", Deg, -360.0, 360.0, 1.0;
    /// Roll of a stop.
    ROLL: "roll", "roll", Deg, -360.0, 360.0, 1.0;
    /// How fast the glass is turned.
    RATE: "rate", "rate of turning", DegPerS, 0.01, 180.0, 0.5;
    /// How long the glass rests at a stop.
    WAIT: "wait", "wait", S, 0.0, 86400.0, 5.0;
    /// Pressure of the gas in the glass.
    PRESSURE: "pressure", "pressure", Mbar, 0.001, 5000.0, 10.0;
    /// Stops of a run.
    STOPS: "stops", "stops of a run", Count, 0.0, 200.0, 1.0;
    /// Characters of a name.
    NAME: "name", "characters of a name", Count, 1.0, 60.0, 1.0;
    /// Characters of a title, remark, liquid or designation.
    TEXT: "text", "characters of a text", Count, 0.0, 500.0, 1.0;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_are_ordered_and_named_once() {
        for (i, limit) in ALL.iter().enumerate() {
            assert!(limit.min < limit.max && limit.step > 0.0, "{}", limit.key);
            assert!(
                ALL[..i].iter().all(|other| other.key != limit.key),
                "{} twice",
                limit.key
            );
        }
    }

    #[test]
    fn strange_numbers_are_not_allowed() {
        for limit in ALL {
            for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300] {
                assert!(!limit.allows(value), "{} {value}", limit.key);
                assert!(limit.allows(limit.nearest(value)), "{} {value}", limit.key);
            }
        }
        assert!(!MEMBERS.allows(2.5));
        assert_eq!(MEMBERS.nearest(2.6), 3.0);
        assert_eq!(OD.to_string(), "1 to 300 mm");
    }
}
