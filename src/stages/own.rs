//! The liquid of a design: the user's own of that name, else that of the table.

use crate::data::Known;
use crate::data::law::{Fact, Law, Origin, Property};
use crate::data::liquids::{self, Family, Liquid};
use crate::model::Apparatus;
use crate::model::job::{OwnLiquid, PointAt};
use crate::physics::formula;
use crate::units::si::{celsius, degrees, grams_per_ml, grams_per_mole, in_kelvins};

/// The liquid that a design names; none when nobody knows it.
pub fn liquid_of(apparatus: &Apparatus) -> Option<Liquid> {
    liquid_named(apparatus, &apparatus.charge.liquid)
}

/// The liquid of a name: the design's own, else that of the table; none when nobody knows it.
pub fn liquid_named(apparatus: &Apparatus, name: &str) -> Option<Liquid> {
    let name = name.trim();
    let own = apparatus
        .job
        .own_liquids
        .iter()
        .find(|own| own.name.eq_ignore_ascii_case(name));
    own.map(liquid).or_else(|| liquids::liquid(name).cloned())
}

fn liquid(own: &OwnLiquid) -> Liquid {
    let source = if own.source.is_empty() {
        "your own entry".to_owned()
    } else {
        format!("your own entry: {}", own.source)
    };
    let origin = Origin {
        source,
        known: Known::Memory,
        uncertainty: String::new(),
    };
    fn fact<T>(value: T, origin: &Origin) -> Fact<T> {
        Fact {
            value,
            origin: origin.clone(),
        }
    }
    let property = |what, points: &[PointAt], scale: f64, log: bool| {
        let points: Vec<(f64, f64)> = points
            .iter()
            .map(|point| (in_kelvins(celsius(point.t_c)), point.value * scale))
            .collect();
        let (first, last) = (points.first()?.0, points.last()?.0);
        Some(Property {
            what,
            law: if log {
                Law::LogPoints(points)
            } else {
                Law::Points(points)
            },
            low: crate::units::si::kelvins(first),
            high: crate::units::si::kelvins(last),
            origin: origin.clone(),
        })
    };
    let text = |text: &str| (!text.is_empty()).then(|| fact(text.to_owned(), &origin));
    let molar = own.molar_mass_g_per_mol.map(grams_per_mole);
    let molar = molar.or_else(|| formula::molar_mass(&own.formula).ok());
    Liquid {
        name: own.name.clone(),
        aliases: Vec::new(),
        family: Family::Solvent,
        formula: (!own.formula.is_empty()).then(|| own.formula.clone()),
        molar_mass: molar.map(|value| fact(value, &origin)),
        melting: own.melting_c.map(|t| fact(celsius(t), &origin)),
        boiling: own.boiling_c.map(|t| fact(celsius(t), &origin)),
        density: property("density", &own.density, 1000.0, false),
        density_solid: own.density_solid_g_per_ml.map(|rho| fact(grams_per_ml(rho), &origin)),
        vapour_pressure: property("vapour pressure", &own.vapour_pressure, 1.0, true),
        vapour_pressure_solid: None,
        surface_tension: property("surface tension", &own.surface_tension, 1e-3, false),
        viscosity: property("viscosity", &own.viscosity, 1e-3, true),
        contact: own
            .contact_deg
            .map(|(low, high)| (fact(degrees(low), &origin), fact(degrees(high), &origin))),
        hazards: text(&own.hazards),
        never: text(&own.never),
        ..Liquid::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::si::{in_grams_per_mole, in_kg_per_m3, in_pascals};

    #[test]
    fn an_own_liquid_goes_before_the_table() {
        let mut apparatus = Apparatus::default();
        apparatus.charge.liquid = "Water".to_owned();
        assert_eq!(liquid_of(&apparatus).unwrap().name, "water");
        apparatus.job.own_liquids.push(OwnLiquid {
            name: "water".to_owned(),
            formula: "C6D6".to_owned(),
            density: vec![PointAt { t_c: 20.0, value: 0.95 }, PointAt { t_c: 40.0, value: 0.93 }],
            vapour_pressure: vec![PointAt { t_c: 20.0, value: 1e4 }, PointAt { t_c: 40.0, value: 2e4 }],
            ..OwnLiquid::default()
        });
        let own = liquid_of(&apparatus).unwrap();
        assert!((in_grams_per_mole(own.molar_mass().unwrap()) - 84.15).abs() < 0.01);
        assert!((in_kg_per_m3(own.density_at(celsius(30.0)).unwrap()) - 940.0).abs() < 1e-9);
        let p = in_pascals(own.vapour_pressure_at(celsius(30.0)).unwrap());
        assert!((1.4e4..1.5e4).contains(&p), "{p}");
        assert!(own.density_at(celsius(41.0)).is_err() && own.viscosity_at(celsius(20.0)).is_err());
        apparatus.charge.liquid = "unobtainium".to_owned();
        assert_eq!(liquid_of(&apparatus), None);
    }
}
