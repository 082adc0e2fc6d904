//! How fast a liquid leaves its surface and travels, and how it bumps.

use super::{Formula, G, R};
use crate::data::Known;
use crate::data::law::{NoValue, Property};
use crate::units::si::{
    Length, MassDensity, MassFlux, MassRate, MolarEnergy, MolarMass, Pressure, TemperatureInterval,
    ThermodynamicTemperature, VolumeRate, in_kelvins, joules_per_mole, kelvins_apart, kg_per_m2_second, kg_per_second,
    pascals,
};
use std::f64::consts::PI;

/// See [`hertz_knudsen`].
pub const HERTZ_KNUDSEN: Formula = Formula {
    name: "greatest evaporation",
    text: "m'' = a (p_s - p) sqrt(M / (2 pi R T))",
    holds: "clean free surface, a at most 1; real rates are often 1 to 30 % of it (films, oxide)",
    source: "I. Langmuir, Phys. Rev. 2 (1913) 329, after Hertz and Knudsen",
    known: Known::Memory,
};

/// Greatest flux that a surface can give: accommodation `a`, vapour pressure `ps` against a pressure `p` above it.
pub fn hertz_knudsen(a: f64, ps: Pressure, p: Pressure, molar: MolarMass, t: ThermodynamicTemperature) -> MassFlux {
    kg_per_m2_second(a * (ps.value - p.value) * (molar.value / (2.0 * PI * R * t.value)).sqrt())
}

/// See [`transport`].
pub const TRANSPORT: Formula = Formula {
    name: "transport through the way",
    text: "m' = C (p1 - p2) M / (R T)",
    holds: "conductance C between the two pressures, the whole way at T",
    source: "definition of a conductance",
    known: Known::Read,
};

/// Mass that a conductance carries between two pressures.
pub fn transport(c: VolumeRate, p1: Pressure, p2: Pressure, molar: MolarMass, t: ThermodynamicTemperature) -> MassRate {
    kg_per_second(c.value * (p1.value - p2.value) * molar.value / (R * t.value))
}

/// Pressure at a second temperature for a constant heat of vaporisation: Clausius and Clapeyron.
pub fn clausius_clapeyron(
    p1: Pressure,
    t1: ThermodynamicTemperature,
    t2: ThermodynamicTemperature,
    heat: MolarEnergy,
) -> Pressure {
    p1 * (heat.value / R * (1.0 / t1.value - 1.0 / t2.value)).exp()
}

/// See [`vaporisation_heat`].
pub const VAPORISATION: Formula = Formula {
    name: "heat of vaporisation",
    text: "dHv = R T^2 (dp/dT) / p",
    holds: "vapour as an ideal gas, volume of the liquid left out",
    source: "Clausius and Clapeyron, from the slope of the vapour-pressure form",
    known: Known::Read,
};

/// Heat of vaporisation from the slope of a vapour-pressure form.
///
/// # Errors
/// When the form does not hold at that temperature.
pub fn vaporisation_heat(law: &Property, t: ThermodynamicTemperature, liquid: &str) -> Result<MolarEnergy, NoValue> {
    let slope = law.slope(t, liquid)? / law.at(t, liquid)?;
    Ok(joules_per_mole(R * t.value * t.value * slope))
}

/// See [`superheat`].
pub const SUPERHEAT: Formula = Formula {
    name: "bumping measure",
    text: "dT = T_s(p + rho g h) - T_s(p)",
    holds: "liquid at rest; how much hotter the bottom must be than the surface before a bubble can stand there",
    source: "hydrostatics and the vapour-pressure form, derived",
    known: Known::Read,
};

/// Superheat that the liquid at a depth needs before it boils there.
///
/// # Errors
/// When one of the two pressures lies outside the vapour-pressure form.
pub fn superheat(
    law: &Property,
    p: Pressure,
    depth: Length,
    rho: MassDensity,
    liquid: &str,
) -> Result<TemperatureInterval, NoValue> {
    let boils = |p: Pressure| {
        law.temperature_of(p.value).ok_or_else(|| {
            NoValue::Because(format!(
                "the vapour pressure of {liquid} is known from {}, which leaves out {:.3} Pa",
                law.range_text(),
                p.value
            ))
        })
    };
    let below = pascals(p.value + rho.value * G * depth.value);
    Ok(kelvins_apart(in_kelvins(boils(below)?) - in_kelvins(boils(p)?)))
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::super::vacuum::{VAPOUR_DIAMETER_M, long_tube, mean_free_path, mean_speed};
    use super::*;
    use crate::data::liquids::liquid;
    use crate::units::si::*;

    const PART: f64 = 3e-5;

    fn rubidium(t: f64) -> (Pressure, MolarMass, ThermodynamicTemperature) {
        let rb = liquid("rubidium").unwrap();
        (
            rb.vapour_pressure_at(celsius(t)).unwrap(),
            rb.molar_mass().unwrap(),
            celsius(t),
        )
    }

    /// formulas.md, 4.1.
    #[test]
    fn the_surface_limits() {
        for (t, si, per_hour) in [
            (100.0, 6.55343e-5, 0.0235923),
            (150.0, 1.17850e-3, 0.424261),
            (200.0, 1.12496e-2, 4.04987),
        ] {
            let (ps, m, t) = rubidium(t);
            let flux = hertz_knudsen(1.0, ps, pascals(0.0), m, t);
            close(flux.value, si, PART);
            close(flux.value * 360.0, per_hour, PART);
        }
        let water = hertz_knudsen(
            1.0,
            pascals(2344.66),
            pascals(0.0),
            grams_per_mole(18.015),
            celsius(20.0),
        );
        // By the Antoine form, 2344.7 Pa at 20 C.
        close(water.value, 2.54299, PART);
    }

    /// formulas.md, 4.2.
    #[test]
    fn the_way_limits() {
        for (t, grams_per_hour, path) in [
            (100.0, 9.88234e-3, 148.2),
            (150.0, 0.177714, 8.776),
            (200.0, 1.69640, 0.9722),
        ] {
            let (ps, m, t) = rubidium(t);
            let c = long_tube(millimetres(20.0), millimetres(200.0), mean_speed(t, m));
            let rate = transport(c, ps, pascals(0.0), m, t);
            close(rate.value * 3.6e6, grams_per_hour, 5e-5);
            close(
                in_millimetres(mean_free_path(t, ps, metres(VAPOUR_DIAMETER_M))),
                path,
                1e-3,
            );
        }
    }

    /// formulas.md, 4.3.
    #[test]
    fn clausius_and_clapeyron() {
        let p = clausius_clapeyron(pascals(2339.3), celsius(20.0), celsius(40.0), kilojoules_per_mole(44.0));
        close(in_pascals(p), 7409.70, PART);
        let (p1, _, t1) = rubidium(150.0);
        let p = clausius_clapeyron(p1, t1, celsius(200.0), kilojoules_per_mole(76.962));
        close(in_pascals(p), 6.04802, PART);
    }

    /// liquids_formulas.md, section 1: heats of vaporisation from the slope.
    #[test]
    fn heats_of_vaporisation() {
        for (name, t, heat) in [
            ("rubidium", 40.0, 78433.0),
            ("rubidium", 150.0, 77234.0),
            ("caesium", 40.0, 74288.0),
            ("caesium", 150.0, 73066.0),
            ("potassium", 100.0, 85998.0),
            ("potassium", 150.0, 85483.0),
            ("sodium", 100.0, 104217.0),
            ("sodium", 150.0, 103728.0),
            ("mercury", 25.0, 61072.0),
        ] {
            let law = liquid(name).unwrap().vapour_pressure.as_ref().unwrap();
            let found = vaporisation_heat(law, celsius(t), name).unwrap();
            close(in_kilojoules_per_mole(found) * 1000.0, heat, 2e-5);
        }
    }

    /// formulas.md, 4.4.
    #[test]
    fn bumping() {
        let law = |name: &str| liquid(name).unwrap().vapour_pressure.clone().unwrap();
        let dt = |law: &Property, pa, depth, rho| {
            superheat(law, pascals(pa), millimetres(depth), kg_per_m3(rho), "it").map(in_kelvins_apart)
        };
        // The reference takes water from an equation of state, the program its Antoine form: 0.5 % apart.
        close(dt(&law("water"), 2000.0, 50.0, 998.7).unwrap(), 3.50310, 0.01);
        // Its acetone density is not stated; 825 kg/m3 is that at -11 C.
        close(dt(&law("acetone"), 5000.0, 50.0, 825.0).unwrap(), 1.31225, 0.02);
        // The upper temperature leaves the range of the form, which the program says; the reference extrapolates.
        let mut rb = law("rubidium");
        assert!(dt(&rb, 10.0, 20.0, 1400.0).is_err());
        rb.high = kelvins(800.0);
        close(dt(&rb, 10.0, 20.0, 1400.0).unwrap(), 105.082, 1e-4);
        close(dt(&rb, 1.0, 20.0, 1400.0).unwrap(), 156.269, 1e-4);
    }
}
