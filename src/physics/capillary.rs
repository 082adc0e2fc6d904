//! Surface tension in narrow bores: what sticks, what enters, what films over.

use super::{Formula, G};
use crate::data::Known;
use crate::units::si::{
    Angle, DynamicViscosity, Length, MassDensity, Pressure, SurfaceTension, Time, VolumeRate, m3_per_second, metres,
    pascals,
};
use std::f64::consts::PI;

/// See [`capillary_length`].
pub const CAPILLARY_LENGTH: Formula = Formula {
    name: "capillary length",
    text: "l = sqrt(sigma / (rho g))",
    holds: "any liquid",
    source: "balance of weight and surface tension, derived",
    known: Known::Read,
};

/// The length at which weight and surface tension balance, `sqrt(sigma/(rho g))`.
pub fn capillary_length(sigma: SurfaceTension, rho: MassDensity) -> Length {
    metres((sigma.value / (rho.value * G)).sqrt())
}

/// Bond number of a tube of radius `r`: `rho g r^2/sigma`, the square of radius over capillary length.
pub fn bond(rho: MassDensity, r: Length, sigma: SurfaceTension) -> f64 {
    rho.value * G * r.value * r.value / sigma.value
}

/// See [`jurin`].
pub const JURIN: Formula = Formula {
    name: "capillary rise",
    text: "h = 2 sigma cos(theta) / (rho g r)",
    holds: "bore radius much smaller than the capillary length",
    source: "Jurin's law, derived",
    known: Known::Read,
};

/// Height that a liquid rises in a thin tube; negative where it does not wet and is pushed down.
pub fn jurin(sigma: SurfaceTension, theta: Angle, rho: MassDensity, r: Length) -> Length {
    metres(2.0 * sigma.value * theta.value.cos() / (rho.value * G * r.value))
}

/// Critical Bond numbers of a meniscus that can slide, by contact angle in degrees.
const CRITICAL_BOND: [(f64, f64); 12] = [
    (0.0, 0.8420),
    (5.0, 1.0272),
    (10.0, 1.2228),
    (20.0, 1.6293),
    (30.0, 2.0330),
    (40.0, 2.4106),
    (45.0, 2.5838),
    (50.0, 2.7439),
    (60.0, 3.0181),
    (70.0, 3.2220),
    (80.0, 3.3476),
    (90.0, 3.3900),
];

/// See [`sticking_radius`].
pub const STICKING: Formula = Formula {
    name: "plug limit",
    text: "r = l sqrt(Bo(theta)), Bo(0) = 0.842, Bo(90) = 3.39",
    holds: "vertical round bore, still liquid, contact line free to slide; knocks, tilting and a second way for the gas defeat it",
    source: "F. P. Bretherton, J. Fluid Mech. 10 (1961) 166 for 0 degrees; between, the Young-Laplace equation integrated",
    known: Known::Read,
};

/// The Bond number below which liquid stays above gas in a vertical bore, by contact angle; the same for theta and
/// 180 degrees less theta.
pub fn critical_bond(theta: Angle) -> f64 {
    let deg = theta.value.to_degrees().clamp(0.0, 180.0);
    let deg = deg.min(180.0 - deg);
    let after = CRITICAL_BOND.iter().position(|(at, _)| deg <= *at).unwrap_or(11).max(1);
    let ((t0, b0), (t1, b1)) = (CRITICAL_BOND[after - 1], CRITICAL_BOND[after]);
    b0 + (b1 - b0) * (deg - t0) / (t1 - t0)
}

/// Bore radius below which a plug of liquid stays above gas, and a long bubble does not rise.
pub fn sticking_radius(length: Length, theta: Angle) -> Length {
    length * critical_bond(theta).sqrt()
}

/// First zero of the Bessel function J1, for a flat meniscus pinned at a sharp rim.
const J_1_1: f64 = 3.831_705_970_207_512;

/// Radius below which a flat meniscus pinned at a sharp rim holds liquid up (Maxwell's treatment of Duprez; memory).
pub fn pinned_radius(length: Length) -> Length {
    length * J_1_1
}

/// See [`entry_pressure`].
pub const ENTRY: Formula = Formula {
    name: "entry pressure",
    text: "dp = -2 sigma cos(theta + a) / r,  head = dp / (rho g)",
    holds: "round bore; a is half the angle of a narrowing cone, 0 in a parallel bore",
    source: "Young-Laplace equation, derived",
    known: Known::Read,
};

/// Pressure that drives a liquid into a bore of radius `r` that narrows with half-angle `cone` (negative where it
/// widens); negative where the liquid is drawn in.
pub fn entry_pressure(sigma: SurfaceTension, theta: Angle, r: Length, cone: Angle) -> Pressure {
    let angle = (theta.value + cone.value).clamp(0.0, PI);
    pascals(-2.0 * sigma.value * angle.cos() / r.value)
}

/// Height of liquid that gives a pressure.
pub fn head(pressure: Pressure, rho: MassDensity) -> Length {
    metres(pressure.value / (rho.value * G))
}

/// Laminar flow through a bore of radius `r` and length `l` under a head `h`; holds for Reynolds numbers below 2000.
pub fn laminar_drain(r: Length, l: Length, h: Length, rho: MassDensity, mu: DynamicViscosity) -> VolumeRate {
    m3_per_second(PI * r.value.powi(4) * rho.value * G * h.value / (8.0 * mu.value * l.value))
}

/// Reynolds number of a flow through a bore of radius `r`.
pub fn reynolds(flow: VolumeRate, r: Length, rho: MassDensity, mu: DynamicViscosity) -> f64 {
    2.0 * rho.value * flow.value / (PI * r.value * mu.value)
}

/// See [`orifice_drain`].
pub const ORIFICE: Formula = Formula {
    name: "drain rate",
    text: "Q = Cd pi r^2 sqrt(2 g h)",
    holds: "once it runs, where laminar flow would have a Reynolds number above 2000; Cd about 0.6",
    source: "orifice formula; discharge coefficient recalled",
    known: Known::Memory,
};

/// Flow through a short bore of radius `r` under a head `h` with discharge coefficient `cd`.
pub fn orifice_drain(cd: f64, r: Length, h: Length) -> VolumeRate {
    m3_per_second(cd * PI * r.value * r.value * (2.0 * G * h.value.max(0.0)).sqrt())
}

/// See [`film_thickness`].
pub const FILM: Formula = Formula {
    name: "film left on the wall",
    text: "d = sqrt(mu z / (rho g t))",
    holds: "a liquid that wets, draining down an upright wall",
    source: "drainage of a film, trade practice",
    known: Known::Memory,
};

/// Thickness of the film left at a distance `z` below the top of a wall, after a time.
pub fn film_thickness(mu: DynamicViscosity, z: Length, rho: MassDensity, after: Time) -> Length {
    metres((mu.value * z.value / (rho.value * G * after.value)).sqrt())
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::*;

    const PART: f64 = 2e-5;

    fn water() -> (SurfaceTension, MassDensity) {
        (newtons_per_metre(0.07197), kg_per_m3(997.05))
    }

    fn mercury() -> (SurfaceTension, MassDensity) {
        (newtons_per_metre(0.48548), kg_per_m3(13533.6))
    }

    /// formulas.md, 2.1.
    #[test]
    fn capillary_lengths_and_bond_numbers() {
        let (sigma, rho) = water();
        close(in_millimetres(capillary_length(sigma, rho)), 2.71304, PART);
        close(bond(rho, millimetres(2.0), sigma), 0.543433, PART);
        let (sigma, rho) = mercury();
        close(in_millimetres(capillary_length(sigma, rho)), 1.91258, PART);
        close(
            bond(kg_per_m3(1459.7), millimetres(2.0), newtons_per_metre(0.0871)),
            0.657395,
            PART,
        );
    }

    /// formulas.md, 2.2.
    #[test]
    fn rise_and_depression() {
        let (sigma, rho) = water();
        close(
            in_millimetres(jurin(sigma, degrees(0.0), rho, millimetres(0.5))),
            29.4424,
            PART,
        );
        let (sigma, rho) = mercury();
        close(
            in_millimetres(jurin(sigma, degrees(140.0), rho, millimetres(0.5))),
            -11.2086,
            PART,
        );
    }

    /// formulas.md, 2.3 and 2.4.
    #[test]
    fn plugs_stick_below_the_critical_radius() {
        let radius = |sigma, rho, deg| in_millimetres(sticking_radius(capillary_length(sigma, rho), degrees(deg)));
        let (sigma, rho) = water();
        close(radius(sigma, rho, 0.0), 2.48950, 1e-4);
        close(radius(sigma, rho, 90.0), 4.99521, 1e-4);
        close(
            in_millimetres(pinned_radius(capillary_length(sigma, rho))),
            10.3955,
            PART,
        );
        close(radius(newtons_per_metre(0.0871), kg_per_m3(1459.7), 0.0), 2.26346, 1e-4);
        close(radius(newtons_per_metre(0.02372), kg_per_m3(790.0), 0.0), 1.60561, 1e-4);
        let (sigma, rho) = mercury();
        close(radius(sigma, rho, 0.0), 1.75499, 1e-4);
        close(radius(sigma, rho, 140.0), 2.96950, 1e-4);
        close(radius(sigma, rho, 90.0), 3.52140, 1e-4);
        for (deg, bo, part) in [
            (0.0, 0.9176, 1e-4),
            (40.0, 1.5526, 1e-4),
            (130.0, 1.6565, 1e-4),
            (180.0, 0.9176, 1e-4),
        ] {
            close(critical_bond(degrees(deg)).sqrt(), bo, part);
        }
        assert!(critical_bond(degrees(f64::NAN)).is_nan() || critical_bond(degrees(f64::NAN)) > 0.0);
    }

    /// formulas.md, 2.5.
    #[test]
    fn a_liquid_that_does_not_wet_needs_a_head() {
        let (sigma, rho) = mercury();
        let p = |cone| entry_pressure(sigma, degrees(140.0), millimetres(1.0), degrees(cone));
        close(in_pascals(p(0.0)), 743.799, PART);
        close(in_millimetres(head(p(0.0), rho)), 5.60430, PART);
        close(in_pascals(p(15.0)), 879.989, PART);
        close(in_pascals(p(-15.0)), 556.920, PART);
        let p = entry_pressure(
            newtons_per_metre(0.535),
            degrees(150.0),
            millimetres(0.75),
            degrees(0.0),
        );
        close(in_pascals(p), 1235.53, PART);
        close(in_millimetres(head(p, kg_per_m3(6440.0))), 19.5635, PART);
    }

    /// formulas.md, 2.6; the viscosity behind its laminar number is 0.602 mPa s.
    #[test]
    fn drain_rates() {
        let (r, rho, mu) = (millimetres(0.75), kg_per_m3(1459.7), millipascal_seconds(0.602));
        let laminar = laminar_drain(r, millimetres(5.0), millimetres(30.0), rho, mu);
        close(laminar.value * 1e6, 17.729, 1e-3);
        close(reynolds(laminar, r, rho, mu), 36494.0, 2e-3);
        close(orifice_drain(0.6, r, millimetres(30.0)).value * 1e6, 0.81332, PART);
    }

    /// practice.md, 5.3: 1 mPa s, 100 mm, 60 s gives 13 um.
    #[test]
    fn a_film_is_left() {
        let d = film_thickness(
            millipascal_seconds(1.0),
            millimetres(100.0),
            kg_per_m3(1000.0),
            seconds(60.0),
        );
        close(in_millimetres(d), 0.013, 0.01);
    }

    /// liquids_formulas.md, section 8: capillary data of the liquids that have them at the temperature given.
    #[test]
    fn capillary_data_of_the_liquids() {
        for (name, t, l, wetting, free, pinned, part) in [
            ("water", 20.0, 2.7274, 5.005, 10.043, 20.902, 5e-4),
            ("heavy water", 20.0, 2.5882, 4.750, 9.531, 19.834, 5e-4),
            ("bromine", 20.0, 1.1694, 2.146, 4.306, 8.961, 5e-4),
            ("toluene", 20.0, 1.8318, 3.362, 6.745, 14.037, 2e-3),
            ("methanol", 20.0, 1.7014, 3.123, 6.265, 13.039, 3e-3),
            ("dichloromethane", 20.0, 1.4623, 2.684, 5.385, 11.207, 5e-4),
            ("mercury", 25.0, 1.9126, 3.510, 7.043, 14.657, 5e-4),
            ("caesium", 40.0, 1.9714, 3.618, 7.260, 15.108, 1e-2),
            ("rubidium", 40.0, 2.4653, 4.524, 9.078, 18.893, 5e-3),
            ("sodium", 110.0, 4.6622, 8.556, 17.168, 35.728, 5e-3),
        ] {
            let liquid = crate::data::liquids::liquid(name).unwrap();
            let sigma = liquid.surface_tension_at(celsius(t)).unwrap();
            let length = capillary_length(sigma, liquid.density_at(celsius(t)).unwrap());
            close(in_millimetres(length), l, part);
            close(
                2.0 * in_millimetres(sticking_radius(length, degrees(0.0))),
                wetting,
                part,
            );
            close(2.0 * in_millimetres(sticking_radius(length, degrees(90.0))), free, part);
            close(2.0 * in_millimetres(pinned_radius(length)), pinned, part);
        }
    }
}
