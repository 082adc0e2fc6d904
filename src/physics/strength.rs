//! Stress in glass under pressure and heat.
//!
//! Stresses are positive in tension. The design stress covers clean, annealed, round tube with open ends and nothing
//! else: no flame-closed ends, no scratches, no heat.

use super::{ATMOSPHERE, Formula};
use crate::data::{Known, glass};
use crate::units::si::{Length, Pressure, TemperatureInterval, kelvins_apart, newtons_per_mm2, pascals};
use std::f64::consts::PI;

/// See [`thin_hoop`].
pub const MAKERS_RULE: Formula = Formula {
    name: "makers' rule for tube",
    text: "p/bar = 20 (K/S) w / (OD - w)",
    holds: "pristine, stress-free, round tube with open ends and no thermal load",
    source: "tube makers' brochures, citing EN 1595",
    known: Known::Read,
};

/// Hoop stress of a thin tube of mean diameter `d` and wall `w`, `p d/(2 w)`.
pub fn thin_hoop(p: Pressure, od: Length, w: Length) -> Pressure {
    p * ((od.value - w.value) / (2.0 * w.value))
}

/// Pressure at which the thin tube reaches the stress: the makers' rule.
pub fn makers_pressure(stress: Pressure, od: Length, w: Length) -> Pressure {
    stress * (2.0 * w.value / (od.value - w.value))
}

/// See [`lame_pressure`].
pub const LAME: Formula = Formula {
    name: "pressure inside a tube",
    text: "sigma = p (ro^2 + ri^2) / (ro^2 - ri^2)",
    holds: "long round tube, any wall; greatest at the bore. Flame-closed ends, scratches and heat are not covered",
    source: "G. Lame; design stress 7 N/mm2 of EN 1595",
    known: Known::Memory,
};

/// Stress at the bore of a tube per unit of internal pressure.
fn lame_factor(od: Length, w: Length) -> f64 {
    let (ro, ri) = (od.value / 2.0, od.value / 2.0 - w.value);
    (ro * ro + ri * ri) / (ro * ro - ri * ri)
}

/// Hoop stress at the bore of a tube of any wall under internal pressure.
pub fn lame(p: Pressure, od: Length, w: Length) -> Pressure {
    p * lame_factor(od, w)
}

/// Internal pressure at which the bore reaches the stress.
pub fn lame_pressure(stress: Pressure, od: Length, w: Length) -> Pressure {
    stress / lame_factor(od, w)
}

/// See [`sphere_pressure`].
pub const SPHERE_INSIDE: Formula = Formula {
    name: "pressure inside a bulb",
    text: "p = 4 sigma w / (OD - w)",
    holds: "thin round sphere; its neck and flame-worked seams are weaker",
    source: "membrane stress of a sphere; design stress 7 N/mm2 of EN 1595",
    known: Known::Memory,
};

/// Internal pressure at which a thin sphere reaches the stress.
pub fn sphere_pressure(stress: Pressure, od: Length, w: Length) -> Pressure {
    stress * (4.0 * w.value / (od.value - w.value))
}

/// Hoop stress at the bore of a tube under external pressure: compression, negative.
pub fn external_hoop(p: Pressure, od: Length, w: Length) -> Pressure {
    let (ro, ri) = (od.value / 2.0, od.value / 2.0 - w.value);
    p * (-2.0 * ro * ro / (ro * ro - ri * ri))
}

/// See [`tube_buckling`].
pub const TUBE_BUCKLING: Formula = Formula {
    name: "buckling of a tube",
    text: "p = [2 E / (1 - nu^2)] (w / Dm)^3",
    holds: "long, round, cold tube; ovality, scratches and hot spots govern in practice",
    source: "Bresse (1859)",
    known: Known::Memory,
};

/// External pressure at which a long tube buckles elastically.
pub fn tube_buckling(od: Length, w: Length) -> Pressure {
    let (e, nu) = (glass::young().value, glass::poisson());
    pascals(2.0 * e / (1.0 - nu * nu) * (w.value / (od.value - w.value)).powi(3))
}

/// The same for a tube of finite length between stiff ends (von Mises 1914, membrane ends; memory): the least over
/// the number of lobes.
pub fn short_tube_buckling(od: Length, w: Length, length: Length) -> Pressure {
    let (e, nu) = (glass::young().value, glass::poisson());
    let (t, rm) = (w.value, (od.value - w.value) / 2.0);
    let lobes = (2..=60).map(f64::from).map(|n| {
        let z = (n * length.value / (PI * rm)).powi(2);
        let n2 = n * n - 1.0;
        e * t / rm / (n2 * (1.0 + z).powi(2))
            + e * t.powi(3) / (12.0 * rm.powi(3) * (1.0 - nu * nu)) * (n2 + (2.0 * n * n - 1.0 - nu) / (1.0 + z))
    });
    pascals(lobes.fold(f64::INFINITY, f64::min))
}

/// See [`plate_clamped`].
pub const PLATE: Formula = Formula {
    name: "flat end",
    text: "sigma = (3/4) p (a/w)^2 clamped, 3 (3 + nu)/8 p (a/w)^2 supported",
    holds: "flat round plate of even wall; a flame-made corner lies between the two, and is strained",
    source: "S. Timoshenko; Roark",
    known: Known::Memory,
};

/// Stress at the edge of a clamped round plate of radius `a`.
pub fn plate_clamped(p: Pressure, a: Length, w: Length) -> Pressure {
    p * (0.75 * (a.value / w.value).powi(2))
}

/// Stress at the centre of a simply supported round plate of radius `a`.
pub fn plate_supported(p: Pressure, a: Length, w: Length) -> Pressure {
    p * (3.0 * (3.0 + glass::poisson()) / 8.0 * (a.value / w.value).powi(2))
}

/// See [`sphere_buckling`].
pub const SPHERE_BUCKLING: Formula = Formula {
    name: "buckling of a bulb",
    text: "p = 0.2 [2 E / sqrt(3 (1 - nu^2))] (w / Rm)^2",
    holds: "cold round shell; 0.2 stands for the flaws of a real one",
    source: "Zoelly (1915); knock-down recalled",
    known: Known::Memory,
};

/// Part of the classical load that a real shell bears.
pub const REAL_SHELL: f64 = 0.2;

/// Mean radius of a shell.
fn mean_radius(od: Length, w: Length) -> f64 {
    (od.value - w.value) / 2.0
}

/// Membrane stress of a sphere under external pressure (compression, given positive).
pub fn sphere_membrane(p: Pressure, od: Length, w: Length) -> Pressure {
    p * (mean_radius(od, w) / (2.0 * w.value))
}

/// Classical external pressure at which a perfect sphere buckles.
pub fn sphere_buckling(od: Length, w: Length) -> Pressure {
    let (e, nu) = (glass::young().value, glass::poisson());
    pascals(2.0 * e / (3.0 * (1.0 - nu * nu)).sqrt() * (w.value / mean_radius(od, w)).powi(2))
}

/// See [`thermal_wall`].
pub const THERMAL: Formula = Formula {
    name: "stress of a temperature difference",
    text: "sigma = alpha E dT / [2 (1 - nu)] through a wall; alpha E dT / (1 - nu) when a surface is quenched",
    holds: "plate of even wall, steady or at once; add it to the stress of pressure before comparing",
    source: "S. Timoshenko & J. N. Goodier, from plate theory",
    known: Known::Memory,
};

/// `alpha E/(1 - nu)`, Pa/K.
fn quench_modulus() -> f64 {
    glass::expansion() * glass::young().value / (1.0 - glass::poisson())
}

/// Tension on the colder face of a thin wall with a steady difference across it.
pub fn thermal_wall(dt: TemperatureInterval) -> Pressure {
    pascals(quench_modulus() * dt.value / 2.0)
}

/// Stress at the bore and at the outside of a thick tube whose inside is hotter by `dt`.
pub fn thermal_tube(dt: TemperatureInterval, od: Length, w: Length) -> (Pressure, Pressure) {
    let (ro, ri) = (od.value / 2.0, od.value / 2.0 - w.value);
    let log = (ro / ri).ln();
    let q = quench_modulus() * dt.value / (2.0 * log);
    let across = ro * ro - ri * ri;
    (
        pascals(q * (1.0 - 2.0 * ro * ro * log / across)),
        pascals(q * (1.0 - 2.0 * ri * ri * log / across)),
    )
}

/// Tension of a surface that is cooled at once by `dt` while the rest stays hot.
pub fn quench_stress(dt: TemperatureInterval) -> Pressure {
    pascals(quench_modulus() * dt.value)
}

/// Sudden difference at which a cooled surface reaches the stress.
pub fn quench_limit(stress: Pressure) -> TemperatureInterval {
    kelvins_apart(stress.value / quench_modulus())
}

/// See [`stress_of_strain`].
pub const STRAIN: Formula = Formula {
    name: "strain reading",
    text: "sigma = retardation / (K path)",
    holds: "stress in one direction along the whole path through the glass",
    source: "SCHOTT brochure, stress-optical coefficient 4.0e-6 mm2/N",
    known: Known::Read,
};

/// Stress from an optical retardation along a path through the glass.
pub fn stress_of_strain(retardation: Length, path: Length) -> Pressure {
    newtons_per_mm2(retardation.value / path.value / glass::stress_optical())
}

/// One standard atmosphere.
pub fn atmosphere() -> Pressure {
    pascals(ATMOSPHERE)
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::*;

    const PART: f64 = 2e-5;

    fn mm(od: f64, w: f64) -> (Length, Length) {
        (millimetres(od), millimetres(w))
    }

    fn seven() -> Pressure {
        glass::design_stress()
    }

    /// formulas.md, 5.1 and 5.2.
    #[test]
    fn internal_pressure() {
        let (od, w) = mm(20.0, 1.8);
        close(in_newtons_per_mm2(thin_hoop(bars(10.0), od, w)), 5.05556, PART);
        close(in_bars(makers_pressure(seven(), od, w)), 13.8462, PART);
        close(in_newtons_per_mm2(lame(bars(10.0), od, w)), 5.10501, PART);
        close(in_bars(lame_pressure(seven(), od, w)), 13.7120, PART);
        let (od, w) = mm(6.0, 1.5);
        close(in_bars(lame_pressure(seven(), od, w)), 42.0, PART);
        close(in_bars(makers_pressure(seven(), od, w)), 46.6667, PART);
        let (od, w) = mm(64.0, 1.2);
        close(in_bars(sphere_pressure(seven(), od, w)), 5.35032, PART);
    }

    /// practice.md, 2.4: the makers' rule for stock sizes.
    #[test]
    fn the_makers_rule_for_stock() {
        for (od, w, bar) in [
            (6.0, 1.0, 28.0),
            (8.0, 1.0, 20.0),
            (10.0, 1.5, 24.7),
            (12.0, 1.0, 12.7),
            (16.0, 1.8, 17.7),
            (20.0, 1.2, 8.9),
        ] {
            let (od, w) = mm(od, w);
            close(in_bars(makers_pressure(seven(), od, w)), bar, 5e-3);
        }
    }

    /// formulas.md, 5.3 and 5.4.
    #[test]
    fn external_pressure_and_buckling() {
        let (od, w) = mm(50.0, 1.8);
        close(in_newtons_per_mm2(external_hoop(atmosphere(), od, w)), -1.45985, PART);
        close(in_bars(tube_buckling(od, w)), 68.3559, PART);
        let (od, w) = mm(20.0, 1.2);
        close(in_bars(tube_buckling(od, w)), 341.326, PART);
        let (od, w) = mm(100.0, 2.5);
        close(in_bars(tube_buckling(od, w)), 22.1261, PART);
        close(in_bars(short_tube_buckling(od, w, millimetres(300.0))), 65.4890, PART);
        close(in_bars(short_tube_buckling(od, w, metres(1000.0))), 22.1262, PART);
    }

    /// formulas.md, 5.5 and 5.6.
    #[test]
    fn flat_ends_and_spheres() {
        for (t, clamped, supported) in [
            (3.0, 4.08677, 6.53884),
            (5.0, 1.47124, 2.35398),
            (8.0, 0.574703, 0.919524),
        ] {
            let (a, t) = mm(22.0, t);
            close(in_newtons_per_mm2(plate_clamped(atmosphere(), a, t)), clamped, PART);
            close(in_newtons_per_mm2(plate_supported(atmosphere(), a, t)), supported, PART);
        }
        let (od, w) = mm(105.0, 1.5);
        close(in_newtons_per_mm2(sphere_membrane(atmosphere(), od, w)), 1.74786, PART);
        close(in_bars(sphere_buckling(od, w)), 623.787, PART);
        close(in_bars(sphere_buckling(od, w)) * REAL_SHELL, 124.757, PART);
    }

    /// formulas.md, 5.7.
    #[test]
    fn heat() {
        close(in_newtons_per_mm2(thermal_wall(kelvins_apart(20.0))), 2.59875, PART);
        let (od, w) = mm(50.0, 3.0);
        let (inner, outer) = thermal_tube(kelvins_apart(20.0), od, w);
        close(in_newtons_per_mm2(inner), -2.70937, PART);
        close(in_newtons_per_mm2(outer), 2.48813, PART);
        close(in_kelvins_apart(quench_limit(seven())), 26.9360, PART);
        close(in_newtons_per_mm2(quench_stress(kelvins_apart(120.0))), 31.1850, PART);
    }

    /// practice.md, 2.6: 100 nm over 2 mm of glass is 12.5 N/mm2.
    #[test]
    fn strain_readings() {
        let stress = stress_of_strain(metres(100e-9), millimetres(2.0));
        close(in_newtons_per_mm2(stress), 12.5, 1e-9);
    }
}
