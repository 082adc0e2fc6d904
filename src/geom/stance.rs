//! Stance and gravity.

use nalgebra::Vector3;

use crate::units::sin_cos_deg;

/// How the glass is held: turned by `tilt_deg` anticlockwise in its own plane, then by `roll_deg` about the
/// laboratory's horizontal x axis; positive roll brings the top towards the viewer. (0, 0) is as drawn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stance {
    /// Tilt, degrees, any number of turns.
    pub tilt_deg: f64,
    /// Roll, degrees.
    pub roll_deg: f64,
}

impl Stance {
    /// A stance from tilt and roll, degrees.
    pub const fn new(tilt_deg: f64, roll_deg: f64) -> Self {
        Self { tilt_deg, roll_deg }
    }

    /// The stance at a part (0 to 1) of the way to another, tilt and roll each in proportion; exact at both ends.
    pub fn toward(self, to: Self, part: f64) -> Self {
        let mix = |a: f64, b: f64| if part >= 1.0 { b } else { a + (b - a) * part };
        Self::new(mix(self.tilt_deg, to.tilt_deg), mix(self.roll_deg, to.roll_deg))
    }

    /// How far it is to another, degrees of the larger of tilt and roll.
    pub fn apart_deg(self, other: Self) -> f64 {
        (self.tilt_deg - other.tilt_deg)
            .abs()
            .max((self.roll_deg - other.roll_deg).abs())
    }

    /// Up in the apparatus frame, a unit vector: the height of a point is its product with it.
    pub fn up(self) -> Vector3<f64> {
        let (st, ct) = sin_cos_deg(self.tilt_deg);
        let (sr, cr) = sin_cos_deg(self.roll_deg);
        Vector3::new(st * cr, ct * cr, -sr)
    }

    /// Up after the tie rule: the stance as if its tilt were larger by [`TIE_TILT`], which decides where a floor
    /// is exactly level or two sills are exactly equal. Lying flat (roll 90 degrees), where tilt moves nothing,
    /// the limit from smaller roll is taken.
    pub(super) fn tie_broken_up(self) -> Vector3<f64> {
        let (st, ct) = sin_cos_deg(self.tilt_deg);
        let (_, cr) = sin_cos_deg(self.roll_deg);
        let side = if cr < 0.0 { -TIE_TILT } else { TIE_TILT };
        (self.up() + Vector3::new(ct, -st, 0.0) * side).normalize()
    }
}

/// The infinitesimal tilt of the tie rule, rad. At 300 mm it moves a height by 6e-9 mm: below every promised
/// accuracy, and far above the rounding of a height (1e-13 mm).
const TIE_TILT: f64 = 2e-11;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn up_is_the_stated_vector() {
        // Conventions: u = (sin t cos r, cos t cos r, -sin r); with t > 0 a point on +x rises.
        let u = Stance::new(30.0, 20.0).up();
        let (t, r) = (30f64.to_radians(), 20f64.to_radians());
        assert!((u - Vector3::new(t.sin() * r.cos(), t.cos() * r.cos(), -r.sin())).norm() < 1e-15);
        assert!(Stance::new(1.0, 0.0).up().x > 0.0);
        assert_eq!(Stance::new(-270.0, 0.0).up(), Vector3::new(1.0, 0.0, -0.0));
    }
}
