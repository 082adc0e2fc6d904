//! Annealing: the hold that lets stress go, and the cooling rate that brings little of it back.

use super::Formula;
use crate::data::{Known, glass};
use crate::units::si::{
    Length, Pressure, TemperatureInterval, ThermodynamicTemperature, Time, kelvins_apart, newtons_per_mm2, pascals,
    seconds,
};

/// A rate of cooling.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct CoolingRate {
    /// Kelvin per minute.
    pub k_per_min: f64,
}

impl CoolingRate {
    /// A rate from kelvin per minute.
    pub fn new(k_per_min: f64) -> Self {
        Self { k_per_min }
    }

    fn si(self) -> f64 {
        self.k_per_min / 60.0
    }

    /// In words.
    pub fn text(self) -> String {
        format!("{} K/min", crate::units::si::significant(self.k_per_min, 3))
    }
}

/// Which faces of a wall are cooled.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Faces {
    /// Both, as an open tube.
    Both,
    /// One, as a closed vessel.
    One,
}

impl Faces {
    /// What a wall counts for: one cooled face makes it twice as thick.
    fn counts(self, wall: Length) -> f64 {
        match self {
            Self::Both => wall.value,
            Self::One => 2.0 * wall.value,
        }
    }
}

/// See [`permanent_stress`].
pub const COOLING: Formula = Formula {
    name: "cooling rate after annealing",
    text: "r = 12 kappa (1 - nu) sigma / (alpha E d^2)",
    holds: "steady cooling through the annealing range; d is twice the wall where only one face is cooled",
    source: "heat conduction in a plate, derived",
    known: Known::Read,
};

fn alpha_e() -> f64 {
    glass::expansion() * glass::young().value / (1.0 - glass::poisson())
}

/// How much hotter the middle of a wall is than its surface while it cools.
pub fn centre_lag(rate: CoolingRate, wall: Length, faces: Faces) -> TemperatureInterval {
    kelvins_apart(rate.si() * faces.counts(wall).powi(2) / (8.0 * glass::diffusivity().value))
}

/// How much hotter the mean of a wall is than its surface while it cools.
pub fn mean_lag(rate: CoolingRate, wall: Length, faces: Faces) -> TemperatureInterval {
    kelvins_apart(rate.si() * faces.counts(wall).powi(2) / (12.0 * glass::diffusivity().value))
}

/// Compression of the surface that stays after cooling at a rate; the tension of the middle is half of it.
pub fn permanent_stress(rate: CoolingRate, wall: Length, faces: Faces) -> Pressure {
    pascals(alpha_e() * mean_lag(rate, wall, faces).value)
}

/// Fastest cooling that leaves no more than a stress.
pub fn fastest_cooling(stress: Pressure, wall: Length, faces: Faces) -> CoolingRate {
    let si = 12.0 * glass::diffusivity().value * stress.value / (alpha_e() * faces.counts(wall).powi(2));
    CoolingRate::new(si * 60.0)
}

/// Permanent stress that the makers' table of cooling rates stands for.
pub fn makers_stress() -> Pressure {
    newtons_per_mm2(0.5)
}

/// A rate of the makers' table for a 3 mm wall, carried to another wall as 1/wall^2.
pub fn makers_rate(for_3_mm: f64, wall: Length) -> CoolingRate {
    CoolingRate::new(for_3_mm * (3e-3 / wall.value).powi(2))
}

/// See [`hold`].
pub const HOLD: Formula = Formula {
    name: "annealing hold",
    text: "t = 3 eta / G,  G = E / [2 (1 + nu)],  log10(eta/Pa s) = A + B/(t - T0)",
    holds: "stress falls to 1/e^3; real glass relaxes more slowly at the end, makers say up to 30 min at 550 C",
    source: "Maxwell relaxation with the viscosity of the glass",
    known: Known::Read,
};

/// Time in which stress falls to 1/e^3 at a temperature.
pub fn hold(t: ThermodynamicTemperature) -> Time {
    let shear = glass::young().value / (2.0 * (1.0 + glass::poisson()));
    seconds(3.0 * glass::viscosity(t).value / shear)
}

/// Time in which stress falls from one value to another by the law of Adams and Williamson, `1/s - 1/s0 = A t`
/// (J. Franklin Inst. 190 (1920) 597). The constant A of borosilicate 3.3 was not found: it has to be given,
/// 1/(Pa s).
pub fn adams_williamson(from: Pressure, to: Pressure, a: f64) -> Time {
    seconds((1.0 / to.value - 1.0 / from.value) / a)
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::*;

    const PART: f64 = 2e-5;

    /// formulas.md, 5.8, cooling.
    #[test]
    fn lags_and_permanent_stress() {
        let (d, r) = (millimetres(3.0), CoolingRate::new(12.0));
        close(in_kelvins_apart(centre_lag(r, d, Faces::Both)), 0.409762, PART);
        close(in_kelvins_apart(mean_lag(r, d, Faces::Both)), 0.273175, PART);
        let stress = |r, d, faces| in_newtons_per_mm2(permanent_stress(CoolingRate::new(r), millimetres(d), faces));
        close(stress(12.0, 3.0, Faces::Both), 0.0709914, PART);
        close(stress(12.0, 3.0, Faces::One), 0.283965, PART);
        close(stress(3.0, 6.0, Faces::Both), 0.0709914, PART);
        close(stress(0.8, 12.0, Faces::Both), 0.0757241, PART);
    }

    /// formulas.md, 5.8, fastest rates for 0.5 MPa.
    #[test]
    fn fastest_rates() {
        for (d, rate) in [(1.8, 234.770), (3.0, 84.5173), (5.0, 30.4262), (10.0, 7.60656)] {
            let found = |faces| fastest_cooling(newtons_per_mm2(0.5), millimetres(d), faces).k_per_min;
            close(found(Faces::Both), rate, PART);
            close(found(Faces::One), rate / 4.0, PART);
        }
    }

    /// formulas.md, 5.8: the makers' table is one stress level, so that it scales.
    #[test]
    fn the_makers_table_scales() {
        for (d, rate) in [(3.0, 12.0), (6.0, 3.0), (12.0, 0.75)] {
            close(
                makers_rate(glass::cool_from_550_3mm(), millimetres(d)).k_per_min,
                rate,
                1e-12,
            );
        }
    }

    /// formulas.md, 5.8, hold.
    #[test]
    fn holds() {
        for (t, minutes) in [(560.0, 1.57780), (550.0, 3.40260), (530.0, 17.6520), (510.0, 107.870)] {
            close(in_minutes(hold(celsius(t))), minutes, PART);
        }
        let t = adams_williamson(newtons_per_mm2(10.0), newtons_per_mm2(0.5), 0.01 / 60.0 / 1e6);
        close(in_minutes(t), 190.0, 1e-9);
    }
}
