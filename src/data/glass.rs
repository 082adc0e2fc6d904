//! Borosilicate glass 3.3. The table is `assets/glass.csv`.

use super::law::{Fact, Origin};
use super::liquids::known;
use crate::units::si::{
    DiffusionCoefficient, DynamicViscosity, MassDensity, Pressure, ThermodynamicTemperature, celsius, in_celsius,
    kg_per_m3, m2_per_second, newtons_per_mm2, pascal_seconds, pascals,
};
use std::collections::HashMap;
use std::sync::LazyLock;

static TABLE: LazyLock<HashMap<String, Fact<f64>>> = LazyLock::new(|| {
    let mut reader = csv::Reader::from_reader(include_str!("../../assets/glass.csv").as_bytes());
    let rows = reader.records().flatten();
    rows.filter_map(|row| {
        let origin = Origin {
            source: row.get(6)?.to_owned(),
            known: known(row.get(7)?),
            uncertainty: row.get(5)?.to_owned(),
        };
        let value = row.get(2)?.parse().ok()?;
        Some((row.get(0)?.to_owned(), Fact { value, origin }))
    })
    .collect()
});

/// Makes the row of a key known by name; a test makes sure that each is there.
macro_rules! rows {
    ($($(#[$doc:meta])* $name:ident: $type:ty, $make:expr;)*) => {
        $(
            $(#[$doc])*
            pub fn $name() -> $type {
                let value = TABLE.get(stringify!($name)).map_or(f64::NAN, |fact| fact.value);
                ($make)(value)
            }
        )*
        #[cfg(test)]
        const KEYS: &[&str] = &[$(stringify!($name)),*];
    };
}

rows! {
    /// Mean linear expansion, 20 to 300 degrees C, 1/K.
    expansion: f64, |v| v;
    /// Density.
    density: MassDensity, kg_per_m3;
    /// Young's modulus.
    young: Pressure, pascals;
    /// Poisson's ratio.
    poisson: f64, |v| v;
    /// Thermal conductivity, W/(m K).
    conductivity: f64, |v| v;
    /// Specific heat, J/(kg K).
    heat_capacity: f64, |v| v;
    /// Strain point.
    strain_point: ThermodynamicTemperature, celsius;
    /// Annealing point.
    annealing_point: ThermodynamicTemperature, celsius;
    /// Softening point.
    softening_point: ThermodynamicTemperature, celsius;
    /// Working point.
    working_point: ThermodynamicTemperature, celsius;
    /// Viscosity constant A.
    vft_a: f64, |v| v;
    /// Viscosity constant B, K.
    vft_b: f64, |v| v;
    /// Viscosity constant T0, degrees C.
    vft_t0: f64, |v| v;
    /// Stress-optical coefficient, mm2/N.
    stress_optical: f64, |v| v;
    /// Permissible tensile stress K/S of clean, annealed, stress-free tube with open ends.
    design_stress: Pressure, newtons_per_mm2;
    /// Permissible compressive stress.
    compressive_stress: Pressure, newtons_per_mm2;
    /// Greatest difference of temperature recommended for tube by its makers, K.
    shock: f64, |v| v;
    /// Usual limit of long service of stressed apparatus.
    service_limit: ThermodynamicTemperature, celsius;
    /// Annealing temperature.
    anneal_temperature: ThermodynamicTemperature, celsius;
    /// Longest annealing hold, minutes.
    anneal_hold: f64, |v| v;
    /// Cooling rate of a 3 mm wall from 550 to 480 degrees C, K/min.
    cool_from_550_3mm: f64, |v| v;
    /// Cooling rate of a 3 mm wall from 480 to 400 degrees C, K/min.
    cool_from_480_3mm: f64, |v| v;
    /// Cooling rate of a 3 mm wall from 400 to 20 degrees C, K/min.
    cool_from_400_3mm: f64, |v| v;
}

/// Where a row comes from.
pub fn origin(key: &str) -> Option<&'static Origin> {
    TABLE.get(key).map(|fact| &fact.origin)
}

/// Thermal diffusivity `k/(rho cp)`.
pub fn diffusivity() -> DiffusionCoefficient {
    m2_per_second(conductivity() / (density().value * heat_capacity()))
}

/// Viscosity, `log10(eta/Pa s) = A + B/(t - T0)`; fitted from 550 to 1450 degrees C.
pub fn viscosity(t: ThermodynamicTemperature) -> DynamicViscosity {
    pascal_seconds(10f64.powf(vft_a() + vft_b() / (in_celsius(t) - vft_t0())))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_is_in_the_table_and_sourced() {
        for key in KEYS {
            let fact = TABLE.get(*key).unwrap_or_else(|| panic!("{key}"));
            assert!(!fact.origin.source.is_empty() && fact.value.is_finite(), "{key}");
        }
    }

    #[test]
    fn diffusivity_and_viscosity_are_those_of_the_reference() {
        // formulas.md, section 5.8: kappa = 5.49099e-7 m2/s; 557.508 C at 1e12 Pa s.
        assert!((diffusivity().value / 5.49099e-7 - 1.0).abs() < 1e-5);
        for (t, log) in [(557.508, 12.0), (814.805, 6.6), (1250.96, 3.0), (516.228, 13.5)] {
            assert!((viscosity(celsius(t)).value.log10() - log).abs() < 1e-4, "{t}");
        }
    }
}
