//! Gas in tubes: free paths, conductance from molecular to viscous flow, pumping and purging.

use super::{Formula, K_B, R};
use crate::data::Known;
use crate::units::si::{
    AmountOfSubstance, Area, DiffusionCoefficient, DynamicViscosity, Length, MolarMass, Power, Pressure,
    ThermodynamicTemperature, Time, Velocity, Volume, VolumeRate, m2_per_second, m3_per_second, metres,
    metres_per_second, pascal_seconds, seconds, watts,
};
use std::f64::consts::{PI, SQRT_2};

/// Collision diameter of air, m (formulas.md, 3.1).
pub const AIR_DIAMETER_M: f64 = 3.7e-10;
/// Collision diameter assumed for every vapour, m: an order of magnitude, there is no table.
pub const VAPOUR_DIAMETER_M: f64 = 5e-10;
/// Mean molar mass of air, kg/mol.
pub const AIR_MOLAR_KG: f64 = 0.028_964_7;
/// Viscosity of air at 20 degrees C, Pa s.
pub const AIR_VISCOSITY_PA_S: f64 = 1.82e-5;
/// Part of oxygen in dry air by volume.
pub const OXYGEN_IN_AIR: f64 = 0.2095;
/// Molecules in a mole.
const AVOGADRO: f64 = 6.022_140_76e23;

/// See [`mean_free_path`].
pub const FREE_PATH: Formula = Formula {
    name: "mean free path",
    text: "lambda = k T / (sqrt(2) pi d^2 p)",
    holds: "a gas at rest; the diameter of a vapour's molecule is assumed, 0.5 nm",
    source: "kinetic theory of gases",
    known: Known::Memory,
};

/// Mean free path of a gas of molecules of diameter `d`.
pub fn mean_free_path(t: ThermodynamicTemperature, p: Pressure, d: Length) -> Length {
    metres(K_B * t.value / (SQRT_2 * PI * d.value * d.value * p.value))
}

/// How a gas flows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regime {
    /// Molecules meet each other far more than the wall.
    Viscous,
    /// Between.
    Transition,
    /// Molecules meet the wall far more than each other.
    Molecular,
}

impl Regime {
    /// The regime of a Knudsen number: viscous below 0.01, molecular above 0.5 (textbook convention).
    pub fn of(knudsen: f64) -> Self {
        if knudsen < 0.01 {
            Self::Viscous
        } else if knudsen > 0.5 {
            Self::Molecular
        } else {
            Self::Transition
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Viscous => "viscous",
            Self::Transition => "transition",
            Self::Molecular => "molecular",
        }
    }
}

/// Mean speed of molecules, `sqrt(8 R T/(pi M))`.
pub fn mean_speed(t: ThermodynamicTemperature, molar: MolarMass) -> Velocity {
    metres_per_second((8.0 * R * t.value / (PI * molar.value)).sqrt())
}

/// Conductance of a long tube in molecular flow, `pi D^3 v/(12 L)` (Knudsen, Ann. Phys. 28 (1909) 75; memory).
pub fn long_tube(d: Length, l: Length, v: Velocity) -> VolumeRate {
    m3_per_second(PI * d.value.powi(3) * v.value / (12.0 * l.value))
}

/// Probability that a molecule passes a tube of `x` = length over radius, Berman's closed form of the Clausing
/// factor (J. Appl. Phys. 36 (1965) 3356; checked against a Monte Carlo run). Numerically it loses digits above 1e4.
pub fn clausing(x: f64) -> f64 {
    let q = (x * x + 4.0).sqrt();
    let over = ((8.0 - x * x) * q + x.powi(3) - 16.0).powi(2);
    1.0 + x * x / 4.0 - x * q / 4.0 - over / (72.0 * x * q - 288.0 * f64::midpoint(x, q).ln())
}

/// Dushman's form of the same, `1/(1 + 3 x/8)`, up to 12 % too high.
pub fn dushman(x: f64) -> f64 {
    1.0 / (1.0 + 3.0 * x / 8.0)
}

/// See [`aperture`] and [`viscous_tube`].
pub const CONDUCTANCE: Formula = Formula {
    name: "conductance of a way",
    text: "1/C = sum over bores 1/(C_visc + Z C_mol) + sum over narrowings 1/(A v/4),  C_mol = pi D^3 v/(12 L),  C_visc = pi r^4 p/(8 eta L)",
    holds: "steady flow, whole way at one temperature; end effects by adding an opening at each narrowing (up to 12 % high)",
    source: "M. Knudsen, Ann. Phys. 28 (1909) 75; S. Dushman; Poiseuille for a gas",
    known: Known::Memory,
};

/// Conductance of an opening in molecular flow, `W A v/4`; `w` is 1 for a hole in a thin wall.
pub fn aperture(w: f64, area: Area, v: Velocity) -> VolumeRate {
    m3_per_second(w * area.value * v.value / 4.0)
}

/// Conductance of a tube in viscous flow at a mean pressure.
pub fn viscous_tube(d: Length, l: Length, mean: Pressure, eta: DynamicViscosity) -> VolumeRate {
    m3_per_second(PI * (d.value / 2.0).powi(4) * mean.value / (8.0 * eta.value * l.value))
}

/// Knudsen's part of molecular flow that remains between the two, `(1 + X)/(1 + 1.24 X)`.
pub fn transition_part(
    t: ThermodynamicTemperature,
    molar: MolarMass,
    d: Length,
    mean: Pressure,
    eta: DynamicViscosity,
) -> f64 {
    let x = (molar.value / (R * t.value)).sqrt() * d.value * mean.value / eta.value;
    (1.0 + x) / (1.0 + 1.24 * x)
}

/// A gas that flows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gas {
    /// Temperature.
    pub t: ThermodynamicTemperature,
    /// Molar mass.
    pub molar: MolarMass,
    /// Viscosity.
    pub eta: DynamicViscosity,
    /// Mean pressure.
    pub mean: Pressure,
}

/// Conductance of a long tube at any pressure: `C_visc + Z C_mol`.
pub fn tube(gas: &Gas, d: Length, l: Length) -> VolumeRate {
    let molecular = long_tube(d, l, mean_speed(gas.t, gas.molar));
    viscous_tube(d, l, gas.mean, gas.eta) + molecular * transition_part(gas.t, gas.molar, d, gas.mean, gas.eta)
}

/// Conductance of parts one after the other; none of them: no resistance.
pub fn series(parts: impl IntoIterator<Item = VolumeRate>) -> VolumeRate {
    m3_per_second(1.0 / parts.into_iter().map(|c| 1.0 / c.value).sum::<f64>())
}

/// Viscosity of a gas of hard spheres, `(5/16) sqrt(pi m k T)/(pi d^2)` (Chapman and Enskog, first order; memory).
pub fn kinetic_viscosity(t: ThermodynamicTemperature, molar: MolarMass, d: Length) -> DynamicViscosity {
    let m = molar.value / AVOGADRO;
    pascal_seconds(5.0 / 16.0 * (PI * m * K_B * t.value).sqrt() / (PI * d.value * d.value))
}

/// See [`pump_down`].
pub const PUMP_DOWN: Formula = Formula {
    name: "pump-down time",
    text: "t = sum over steps of pressure (V/S) ln(p0/p1),  1/S = 1/S_pump + 1/C",
    holds: "no outgassing and no leak; below about 0.1 mbar water from the glass governs, for which there is no trustworthy rate",
    source: "balance of the gas pumped",
    known: Known::Read,
};

/// Time to pump a volume from one pressure to another at an effective speed, without outgassing.
pub fn pump_down(volume: Volume, speed: VolumeRate, from: Pressure, to: Pressure) -> Time {
    seconds(volume.value / speed.value * (from.value / to.value).ln())
}

/// See [`purge_remainder`].
pub const PURGE: Formula = Formula {
    name: "pump and fill",
    text: "part left = (p_low / p_fill)^n",
    holds: "perfect mixing, no leak; the purity of the gas sets the floor, and walls give off water",
    source: "dilution, derived",
    known: Known::Read,
};

/// Part of the first gas that is left after `n` pump-and-fill cycles.
pub fn purge_remainder(low: Pressure, fill: Pressure, n: u32) -> f64 {
    (low.value / fill.value).powi(i32::try_from(n).unwrap_or(i32::MAX))
}

/// Least number of cycles that leaves no more than a part; `None` when pumping goes no lower than filling.
pub fn purge_cycles(low: Pressure, fill: Pressure, part: f64) -> Option<u32> {
    let step = low.value / fill.value;
    if !(step > 0.0 && step < 1.0 && part > 0.0) {
        return None;
    }
    // A hair under a whole number is that number: rounding must not ask for one cycle more.
    let n = (part.ln() / step.ln() - 1e-9).ceil().max(0.0);
    (n < 1e6).then_some(n as u32)
}

/// See [`leak_of_rise`].
pub const LEAK_UP: Formula = Formula {
    name: "leak-up",
    text: "Q = V dp / dt",
    holds: "isolated volume; a straight rise is a leak, one that bends over is outgassing",
    source: "gas law at constant temperature",
    known: Known::Read,
};

/// Gas flow into an isolated volume whose pressure rises.
pub fn leak_of_rise(volume: Volume, rise: Pressure, within: Time) -> Power {
    watts(volume.value * rise.value / within.value)
}

/// See [`leak_for_oxygen`].
pub const LEAK_ALLOWED: Formula = Formula {
    name: "allowable leak",
    text: "Q = n(O2) R T / (0.2095 t)",
    holds: "every molecule of oxygen that comes in is taken up",
    source: "gas law; part of oxygen in dry air",
    known: Known::Read,
};

/// Leak of air that brings in an amount of oxygen within a time.
pub fn leak_for_oxygen(oxygen: AmountOfSubstance, t: ThermodynamicTemperature, within: Time) -> Power {
    watts(oxygen.value * R * t.value / (OXYGEN_IN_AIR * within.value))
}

/// Diffusivity of a gas in itself, `lambda v/3`: kinetic theory, an order of magnitude.
pub fn self_diffusion(path: Length, v: Velocity) -> DiffusionCoefficient {
    m2_per_second(path.value * v.value / 3.0)
}

/// Time in which a gas mixes over a blind length by diffusion, `L^2/D`.
pub fn mixing_time(l: Length, diffusion: DiffusionCoefficient) -> Time {
    seconds(l.value * l.value / diffusion.value)
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::*;

    const PART: f64 = 2e-5;

    fn air() -> (ThermodynamicTemperature, MolarMass) {
        // formulas.md gives v = 462.911 m/s at 20 C.
        (celsius(20.0), grams_per_mole(28.9647))
    }

    /// formulas.md, 3.1.
    #[test]
    fn free_paths_and_regimes() {
        let path = |pa| mean_free_path(celsius(20.0), pascals(pa), metres(AIR_DIAMETER_M));
        close(in_millimetres(path(1.0)), 6.65434, PART);
        close((path(1.0) / millimetres(10.0)).value, 0.66543, PART);
        close((path(100.0) / millimetres(10.0)).value, 0.0066543, PART);
        assert_eq!(Regime::of(0.66543), Regime::Molecular);
        assert_eq!(Regime::of(0.0066543), Regime::Viscous);
        assert_eq!(Regime::of(0.1), Regime::Transition);
    }

    /// formulas.md, 3.2 and 3.3.
    #[test]
    fn molecular_conductance() {
        let (t, m) = air();
        let v = mean_speed(t, m);
        close(v.value, 462.911, PART);
        let long = long_tube(millimetres(10.0), millimetres(500.0), v);
        close(in_litres_per_second(long), 0.242380, PART);
        let area = mm2(PI * 25.0);
        close(in_litres_per_second(aperture(clausing(4.0), area, v)), 3.24100, PART);
        close(in_litres_per_second(aperture(dushman(4.0), area, v)), 3.63570, PART);
        close(in_litres_per_second(aperture(dushman(100.0), area, v)), 0.236084, 1e-4);
        for (x, berman, dush) in [
            (0.5, 0.80127, 0.84211),
            (1.0, 0.67198, 0.72727),
            (2.0, 0.51423, 0.57143),
            (5.0, 0.31053, 0.34783),
            (10.0, 0.19099, 0.21053),
            (20.0, 0.10938, 0.11765),
            (50.0, 0.04851, 0.05063),
            (100.0, 0.02529, 0.02597),
        ] {
            close(clausing(x), berman, 2e-4);
            close(dushman(x), dush, 2e-4);
        }
    }

    /// formulas.md, 3.4 and 3.5.
    #[test]
    fn viscous_and_transition_conductance() {
        let (t, m) = air();
        let (d, l, eta) = (
            millimetres(10.0),
            millimetres(500.0),
            pascal_seconds(AIR_VISCOSITY_PA_S),
        );
        close(
            in_litres_per_second(viscous_tube(d, l, pascals(100.0), eta)),
            2.69711,
            PART,
        );
        close(transition_part(t, m, d, pascals(1.0), eta), 0.86425, PART);
        close(transition_part(t, m, d, pascals(10.0), eta), 0.81436, PART);
        for (pa, c) in [(1.0, 0.236448), (10.0, 0.467094)] {
            let gas = Gas {
                t,
                molar: m,
                eta,
                mean: pascals(pa),
            };
            close(in_litres_per_second(tube(&gas, d, l)), c, PART);
        }
    }

    /// formulas.md, 3.6 to 3.8.
    #[test]
    fn pumping_and_purging() {
        let c = series([litres_per_second(2.0), litres_per_second(3.0)]);
        close(in_litres_per_second(c), 1.2, 1e-12);
        let c = series([litres_per_second(1.0), litres_per_second(0.24238)]);
        close(in_litres_per_second(c), 0.195093, PART);
        let t = pump_down(litres(2.0), litres_per_second(0.5), pascals(1e5), pascals(10.0));
        close(in_seconds(t), 36.8414, PART);
        close(purge_remainder(pascals(10.0), pascals(1e5), 3), 1e-12, 1e-9);
        close(purge_remainder(pascals(100.0), pascals(1e5), 5), 1e-15, 1e-9);
        assert_eq!(purge_cycles(pascals(100.0), pascals(1e5), 1e-6), Some(2));
        assert_eq!(purge_cycles(pascals(100.0), pascals(1e5), 0.9e-6), Some(3));
        assert_eq!(purge_cycles(pascals(1e5), pascals(1e5), 1e-6), None);
    }

    /// practice.md, 4.2: from 1 mbar to 1000 mbar, 209 500 ppm of oxygen fall to 210, 0.21 and 2e-4 ppm.
    #[test]
    fn purge_in_parts_of_oxygen() {
        for (n, ppm) in [(1, 210.0), (2, 0.21), (3, 2.1e-4)] {
            close(209_500.0 * purge_remainder(millibars(1.0), bars(1.0), n), ppm, 0.01);
        }
    }

    /// practice.md, 4.2 and 4.3: 1e-6 mbar L/s for 10 h brings 0.0076 mbar L of oxygen and spoils about 0.16 mg of
    /// caesium; a volume of 1 L then rises by 3.6e-3 mbar in an hour.
    #[test]
    fn leaks() {
        let caesium = grams(0.165e-3) / grams_per_mole(132.905);
        let q = leak_for_oxygen(caesium / 4.0, kelvins(295.0), hours(10.0));
        close(in_mbar_litres_per_second(q), 1e-6, 0.02);
        let q = leak_of_rise(litres(1.0), millibars(3.6e-3), hours(1.0));
        close(in_mbar_litres_per_second(q), 1e-6, 1e-9);
    }

    #[test]
    fn hard_spheres_give_the_viscosity_of_air() {
        let (t, m) = air();
        close(
            kinetic_viscosity(t, m, metres(AIR_DIAMETER_M)).value,
            AIR_VISCOSITY_PA_S,
            0.06,
        );
    }
}
