//! Whole millimetres and usual angles, unless the user asks for finer ones.

use crate::units::{LengthUnit, fixed};

/// Usual angles are multiples of this, degrees: 15, 30, 45, 60, 90.
const USUAL_DEG: f64 = 15.0;
/// An angle nearer than this to a usual one becomes it, degrees.
const CATCH_DEG: f64 = 3.0;

/// How far values are rounded while something is dragged.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Snap {
    /// Suspended: only as fine as numbers are shown.
    pub suspended: bool,
}

impl Snap {
    /// As the keys say that are held now.
    pub(crate) fn now(ctx: &egui::Context) -> Self {
        Self {
            suspended: ctx.input(|input| input.modifiers.alt),
        }
    }

    /// A length, mm: whole, or to a tenth.
    pub(crate) fn length(self, mm: f64) -> f64 {
        if self.suspended { tenths(mm) } else { mm.round() + 0.0 }
    }

    /// An angle, degrees: a usual one when it is near, else whole; or to a tenth.
    pub(crate) fn angle(self, deg: f64) -> f64 {
        if self.suspended {
            return tenths(deg);
        }
        let usual = (deg / USUAL_DEG).round() * USUAL_DEG + 0.0;
        if (usual - deg).abs() <= CATCH_DEG {
            usual
        } else {
            deg.round() + 0.0
        }
    }
}

/// To a tenth, without a negative zero.
pub(crate) fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

/// The same direction in (-180, 180], degrees.
pub(crate) fn within_turn(deg: f64) -> f64 {
    let deg = deg.rem_euclid(360.0);
    if deg > 180.0 { deg - 360.0 } else { deg }
}

/// A length as it is told beside the glass, in the unit shown: a tenth of a millimetre only where there is one, with
/// a real minus sign.
pub(crate) fn length_words(mm: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Millimetre => format!("{} mm", short(mm)),
        LengthUnit::Inch => unit.text(mm),
    }
}

/// An angle likewise.
pub(crate) fn angle_words(deg: f64) -> String {
    format!("{}°", short(deg))
}

/// A number to a tenth where it has one.
pub(crate) fn short(value: f64) -> String {
    let text = fixed(value, 1);
    text.strip_suffix(".0").unwrap_or(&text).replace('-', "−")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_become_whole_and_angles_usual_unless_suspended() {
        let snap = Snap::default();
        assert_eq!((snap.length(44.6), snap.length(-0.4)), (45.0, 0.0));
        for (asked, got) in [(43.0, 45.0), (-88.0, -90.0), (20.4, 20.0), (29.9, 30.0), (-1.0, 0.0)] {
            assert_eq!(snap.angle(asked), got, "{asked}");
        }
        let fine = Snap { suspended: true };
        assert_eq!((fine.length(44.63), fine.angle(43.04)), (44.6, 43.0));
    }

    #[test]
    fn numbers_are_short() {
        assert_eq!(length_words(45.0, LengthUnit::Millimetre), "45 mm");
        assert_eq!(length_words(45.25, LengthUnit::Millimetre), "45.2 mm");
        assert_eq!(length_words(50.8, LengthUnit::Inch), "2.000 in");
        assert_eq!(angle_words(-90.0), "−90°");
        assert_eq!(within_turn(270.0), -90.0);
        assert_eq!(within_turn(-180.0), 180.0);
    }
}
