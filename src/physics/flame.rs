//! What happens at the neck in the flame.

use super::{ATMOSPHERE, Formula};
use crate::data::{Known, glass};
use crate::units::si::{Length, Pressure, ThermodynamicTemperature, Time, celsius, metres, pascals, seconds};

/// See [`closing_time`].
pub const CLOSING: Formula = Formula {
    name: "time in which a soft neck closes",
    text: "t = 4 eta w / (dp R)",
    holds: "thin wall of even viscosity, pressure difference from outside to inside",
    source: "viscous hoop flow, recalled",
    known: Known::Memory,
};

/// Time in which the pressure difference closes a neck of outside radius `r` and wall `w` at a glass temperature.
pub fn closing_time(t: ThermodynamicTemperature, r: Length, w: Length, dp: Pressure) -> Time {
    seconds(4.0 * glass::viscosity(t).value * w.value / (dp.value * r.value))
}

/// See [`greatest_sealing_pressure`].
pub const BLOW_OUT: Formula = Formula {
    name: "greatest gas pressure for closing",
    text: "p = p_atm (293 K / T_gas)",
    holds: "the volume that is shut off at that moment, filled cold and warmed to T_gas while it closes",
    source: "gas law, trade practice",
    known: Known::Memory,
};

/// Cold pressure of a gas that reaches one atmosphere when the closed volume has the mean temperature `t`.
pub fn greatest_sealing_pressure(t: ThermodynamicTemperature) -> Pressure {
    pascals(ATMOSPHERE * celsius(20.0).value / t.value)
}

/// See [`heat_reach`].
pub const REACH: Formula = Formula {
    name: "reach of the flame's heat along the glass",
    text: "x = sqrt(4 kappa t)",
    holds: "conduction alone; the wash of the flame and warm vapour reach farther",
    source: "heat conduction, derived",
    known: Known::Read,
};

/// Distance that heat spreads along the glass in a time.
pub fn heat_reach(time: Time) -> Length {
    metres((4.0 * glass::diffusivity().value * time.value).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::*;

    /// practice.md, 2.3: 8 x 1 mm under vacuum, about 11 ms at 10^3 Pa s and 45 s at the softening point.
    #[test]
    fn a_neck_under_vacuum_closes() {
        let time = |t| {
            in_seconds(closing_time(
                celsius(t),
                millimetres(4.0),
                millimetres(1.0),
                atmospheres(1.0),
            ))
        };
        // The viscosity fit reaches 10^3 Pa s at 1251 C.
        close(time(1250.96), 9.9e-3, 0.02);
        assert!((25.0..60.0).contains(&time(820.0)), "{}", time(820.0));
    }

    /// practice.md, 2.3: 0.84, 0.73, 0.65, 0.59 of an atmosphere at 350, 400, 450, 500 K.
    #[test]
    fn gas_blows_out() {
        for (t, part) in [(350.0, 0.84), (400.0, 0.73), (450.0, 0.65), (500.0, 0.59)] {
            close(in_atmospheres(greatest_sealing_pressure(kelvins(t))), part, 7e-3);
        }
    }

    /// practice.md, 2.2 with a diffusivity of 6.5e-7: 9, 12.5 and 18 mm after 30, 60 and 120 s.
    #[test]
    fn heat_spreads() {
        for (t, mm) in [(30.0, 9.0), (60.0, 12.5), (120.0, 18.0)] {
            close(in_millimetres(heat_reach(seconds(t))), mm, 0.1);
        }
    }
}
