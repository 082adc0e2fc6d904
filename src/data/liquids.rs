//! The liquids: what is published of each, with range and source. The table is `assets/liquids.csv`.

use super::Known;
use super::law::{Fact, Law, NoValue, Origin, Property};
use super::weights;
use crate::units::si::{
    Angle, DynamicViscosity, MassDensity, MolarEnergy, MolarMass, Pressure, Ratio, SurfaceTension,
    ThermodynamicTemperature, celsius, degrees, grams_per_mole, in_grams_per_mole, in_kelvins, kelvins, kg_per_m3,
    kilojoules_per_mole, newtons_per_metre, pascal_seconds, pascals,
};
use std::sync::LazyLock;

/// What kind of liquid it is, as far as rules depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Family {
    /// Lithium to caesium, and their alloys.
    AlkaliMetal,
    /// Any other metal.
    Metal,
    /// Water or heavy water.
    Water,
    /// Chlorine to iodine.
    Halogen,
    /// Anything else.
    #[default]
    Solvent,
}

/// A liquid.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Liquid {
    /// Its name.
    pub name: String,
    /// Other names, in lower case.
    pub aliases: Vec<String>,
    /// Its kind.
    pub family: Family,
    /// Chemical formula of a pure substance.
    pub formula: Option<String>,
    /// Mean molar mass.
    pub molar_mass: Option<Fact<MolarMass>>,
    /// Melting point.
    pub melting: Option<Fact<ThermodynamicTemperature>>,
    /// Boiling point at one atmosphere.
    pub boiling: Option<Fact<ThermodynamicTemperature>>,
    /// Density of the liquid.
    pub density: Option<Property>,
    /// Density of the solid near its melting point.
    pub density_solid: Option<Fact<MassDensity>>,
    /// Vapour pressure over the liquid.
    pub vapour_pressure: Option<Property>,
    /// Vapour pressure over the solid.
    pub vapour_pressure_solid: Option<Property>,
    /// Surface tension.
    pub surface_tension: Option<Property>,
    /// Dynamic viscosity.
    pub viscosity: Option<Property>,
    /// Least and greatest contact angle on clean borosilicate glass.
    pub contact: Option<(Fact<Angle>, Fact<Angle>)>,
    /// How it behaves on glass.
    pub behaviour: Option<Fact<String>>,
    /// Hazards in short.
    pub hazards: Option<Fact<String>>,
    /// What it must not meet.
    pub never: Option<Fact<String>>,
    /// Oxygen that a mole of it takes up, mol.
    pub oxygen_uptake: Option<Fact<f64>>,
    /// Formation enthalpy of its solid hydroxide.
    pub hydroxide: Option<Fact<MolarEnergy>>,
    /// Formation enthalpy of its dissolved ion.
    pub ion: Option<Fact<MolarEnergy>>,
    /// Temperature above which it attacks borosilicate glass.
    pub glass_limit: Option<Fact<ThermodynamicTemperature>>,
}

impl Liquid {
    fn of<'a>(&'a self, property: &'a Option<Property>, what: &'static str) -> Result<&'a Property, NoValue> {
        property.as_ref().ok_or_else(|| NoValue::Unknown {
            what,
            liquid: self.name.clone(),
        })
    }

    /// Density of the liquid.
    ///
    /// # Errors
    /// When it is not known, or not at that temperature.
    pub fn density_at(&self, t: ThermodynamicTemperature) -> Result<MassDensity, NoValue> {
        self.of(&self.density, "density")?.at(t, &self.name).map(kg_per_m3)
    }

    /// Vapour pressure: over the solid below the melting point where that is known, else over the liquid.
    ///
    /// # Errors
    /// When it is not known, or not at that temperature.
    pub fn vapour_pressure_at(&self, t: ThermodynamicTemperature) -> Result<Pressure, NoValue> {
        let solid = self.vapour_pressure_solid.as_ref().filter(|law| law.holds_at(t));
        let is_solid = self.melting.as_ref().is_some_and(|melting| t < melting.value);
        match solid.filter(|_| is_solid) {
            Some(solid) => solid.at(t, &self.name).map(pascals),
            None => self
                .of(&self.vapour_pressure, "vapour pressure")?
                .at(t, &self.name)
                .map(pascals),
        }
    }

    /// The temperature at which the vapour pressure over the liquid has that value, within its range.
    pub fn boils_at(&self, pressure: Pressure) -> Option<ThermodynamicTemperature> {
        self.vapour_pressure.as_ref()?.temperature_of(pressure.value)
    }

    /// Surface tension.
    ///
    /// # Errors
    /// When it is not known, or not at that temperature.
    pub fn surface_tension_at(&self, t: ThermodynamicTemperature) -> Result<SurfaceTension, NoValue> {
        let law = self.of(&self.surface_tension, "surface tension")?;
        law.at(t, &self.name).map(newtons_per_metre)
    }

    /// Dynamic viscosity.
    ///
    /// # Errors
    /// When it is not known, or not at that temperature.
    pub fn viscosity_at(&self, t: ThermodynamicTemperature) -> Result<DynamicViscosity, NoValue> {
        self.of(&self.viscosity, "viscosity")?
            .at(t, &self.name)
            .map(pascal_seconds)
    }

    /// Cubic expansion, 1/K: `-(d rho/dT)/rho`.
    ///
    /// # Errors
    /// When the density is not known, or not at that temperature.
    pub fn expansion_at(&self, t: ThermodynamicTemperature) -> Result<f64, NoValue> {
        let law = self.of(&self.density, "density")?;
        Ok(-law.slope(t, &self.name)? / law.at(t, &self.name)?)
    }

    /// Molar mass.
    ///
    /// # Errors
    /// When it is not known.
    pub fn molar_mass(&self) -> Result<MolarMass, NoValue> {
        let fact = self.molar_mass.as_ref();
        fact.map(|fact| fact.value).ok_or_else(|| NoValue::Unknown {
            what: "molar mass",
            liquid: self.name.clone(),
        })
    }

    /// Growth of the volume on freezing; negative where the solid is denser. From the densities of solid and liquid.
    ///
    /// # Errors
    /// When one of them is not known.
    pub fn freezing_growth(&self) -> Result<Ratio, NoValue> {
        let unknown = |what| NoValue::Unknown {
            what,
            liquid: self.name.clone(),
        };
        let solid = self
            .density_solid
            .as_ref()
            .ok_or_else(|| unknown("density of the solid"))?;
        let melting = self.melting.as_ref().ok_or_else(|| unknown("melting point"))?;
        let law = self.of(&self.density, "density")?;
        // Some forms begin a little above the melting point.
        let t = if melting.value < law.low {
            law.low
        } else {
            melting.value
        };
        let liquid = law.at(t, &self.name)?;
        Ok(kg_per_m3(liquid) / solid.value - kg_per_m3(1.0) / kg_per_m3(1.0))
    }

    /// Whether a text names this liquid.
    pub fn is_named(&self, name: &str) -> bool {
        let name = name.trim().to_lowercase();
        self.name.to_lowercase() == name || self.aliases.contains(&name)
    }
}

/// The liquids of the table, in its order.
pub static LIQUIDS: LazyLock<Vec<Liquid>> = LazyLock::new(|| read(include_str!("../../assets/liquids.csv")));

/// The liquid of that name or alias.
pub fn liquid(name: &str) -> Option<&'static Liquid> {
    LIQUIDS.iter().find(|liquid| liquid.is_named(name))
}

/// Reads the table; a test makes sure that no row of it is passed over.
fn read(text: &str) -> Vec<Liquid> {
    let mut list: Vec<Liquid> = Vec::new();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    for record in reader.records().flatten() {
        let name = &record[0];
        if list.last().is_none_or(|last| last.name != *name) {
            match list.iter().position(|other| other.name == *name) {
                // Rows of one liquid need not stand together.
                Some(i) => {
                    let liquid = list.remove(i);
                    list.push(liquid);
                }
                None => list.push(Liquid {
                    name: name.to_owned(),
                    ..Liquid::default()
                }),
            }
        }
        if let Some(liquid) = list.last_mut() {
            take(liquid, &Row::of(&record));
        }
    }
    for liquid in &mut list {
        complete(liquid);
    }
    list
}

/// A row of the table.
struct Row<'a> {
    quantity: &'a str,
    form: &'a str,
    numbers: Vec<f64>,
    range_k: Option<(f64, f64)>,
    origin: Origin,
    text: &'a str,
}

impl<'a> Row<'a> {
    fn of(record: &'a csv::StringRecord) -> Self {
        let field = |i: usize| record.get(i).unwrap_or("");
        let number = |i: usize| field(i).parse::<f64>().ok();
        Self {
            quantity: field(1),
            form: field(2),
            numbers: (3..8).map_while(number).collect(),
            range_k: number(8).zip(number(9)),
            origin: Origin {
                source: field(12).to_owned(),
                known: known(field(13)),
                uncertainty: field(11).to_owned(),
            },
            text: field(14),
        }
    }

    fn fact<T>(&self, make: fn(f64) -> T) -> Option<Fact<T>> {
        Some(Fact {
            value: make(*self.numbers.first()?),
            origin: self.origin.clone(),
        })
    }

    fn words(&self) -> Option<Fact<String>> {
        Some(Fact {
            value: self.text.to_owned(),
            origin: self.origin.clone(),
        })
    }

    fn property(&self, what: &'static str) -> Option<Property> {
        let (low, high) = self.range_k?;
        Some(Property {
            what,
            law: self.law()?,
            low: kelvins(low),
            high: kelvins(high),
            origin: self.origin.clone(),
        })
    }

    fn law(&self) -> Option<Law> {
        fn array<const N: usize>(numbers: &[f64]) -> Option<[f64; N]> {
            numbers.get(..N)?.try_into().ok()
        }
        let n = &self.numbers;
        Some(match self.form {
            "constant" => Law::Constant(*n.first()?),
            "linear" => Law::Linear(array(n)?),
            "quartic" => Law::Quartic(array(n)?),
            "volume_series" => Law::VolumeSeries(array(n)?),
            "alcock" => Law::Alcock(array(n)?),
            "antoine" => Law::Antoine(array(n)?),
            "antoine_e" => Law::AntoineE(array(n)?),
            // The molar mass follows when all rows are read.
            "rackett" => Law::Rackett(array(n)?, f64::NAN),
            "exponential" => Law::Exponential(array(n)?),
            "power_of_ten" => Law::PowerOfTen(array(n)?),
            "points" => Law::Points(points(self.text)?),
            "log_points" => Law::LogPoints(points(self.text)?),
            _ => return None,
        })
    }
}

fn points(text: &str) -> Option<Vec<(f64, f64)>> {
    text.split_whitespace()
        .map(|point| {
            let (t, value) = point.split_once(':')?;
            Some((t.parse().ok()?, value.parse().ok()?))
        })
        .collect()
}

pub(super) fn known(word: &str) -> Known {
    if word.starts_with("read") {
        Known::Read
    } else if word.starts_with("common") {
        Known::CommonPractice
    } else {
        Known::Memory
    }
}

/// Puts a row into its liquid; whether the row was understood.
fn take(liquid: &mut Liquid, row: &Row) -> bool {
    fn put<T>(place: &mut Option<T>, value: Option<T>) -> bool {
        *place = value;
        place.is_some()
    }
    match row.quantity {
        "formula" => put(&mut liquid.formula, Some(row.text.to_owned())),
        "aliases" => {
            liquid.aliases = row.text.split(',').map(|alias| alias.trim().to_lowercase()).collect();
            true
        }
        "family" => {
            liquid.family = match row.text {
                "alkali metal" => Family::AlkaliMetal,
                "metal" => Family::Metal,
                "water" => Family::Water,
                "halogen" => Family::Halogen,
                _ => Family::Solvent,
            };
            liquid.family != Family::Solvent || row.text == "solvent"
        }
        "molar_mass" => put(&mut liquid.molar_mass, row.fact(grams_per_mole)),
        "melting" => put(&mut liquid.melting, row.fact(kelvins)),
        "boiling" => put(&mut liquid.boiling, row.fact(kelvins)),
        "density" => put(&mut liquid.density, row.property("density")),
        "density_solid" => put(&mut liquid.density_solid, row.fact(kg_per_m3)),
        "vapour_pressure" => put(&mut liquid.vapour_pressure, row.property("vapour pressure")),
        "vapour_pressure_solid" => put(
            &mut liquid.vapour_pressure_solid,
            row.property("vapour pressure over the solid"),
        ),
        "surface_tension" => put(&mut liquid.surface_tension, row.property("surface tension")),
        "viscosity" => put(&mut liquid.viscosity, row.property("viscosity")),
        "contact_low" => put(&mut liquid.contact, row.fact(degrees).map(|low| (low.clone(), low))),
        "contact_high" => match (&mut liquid.contact, row.fact(degrees)) {
            (Some((_, high)), Some(fact)) => {
                *high = fact;
                true
            }
            _ => false,
        },
        "behaviour" => put(&mut liquid.behaviour, row.words()),
        "hazards" => put(&mut liquid.hazards, row.words()),
        "never" => put(&mut liquid.never, row.words()),
        "oxygen_uptake" => put(&mut liquid.oxygen_uptake, row.fact(|mol| mol)),
        "hydroxide" => put(&mut liquid.hydroxide, row.fact(kilojoules_per_mole)),
        "ion" => put(&mut liquid.ion, row.fact(kilojoules_per_mole)),
        "glass_limit" => put(&mut liquid.glass_limit, row.fact(celsius)),
        _ => false,
    }
}

/// What follows from other rows: the molar mass from the formula, and with it the densities by moles.
fn complete(liquid: &mut Liquid) {
    if liquid.molar_mass.is_none()
        && let Some(value) = liquid.formula.as_deref().and_then(weights::simple_molar_mass)
    {
        liquid.molar_mass = Some(Fact {
            value,
            origin: Origin {
                source: weights::SOURCE.to_owned(),
                known: Known::Read,
                uncertainty: String::new(),
            },
        });
    }
    if let (
        Some(Property {
            law: Law::Rackett(_, kg),
            ..
        }),
        Some(molar),
    ) = (&mut liquid.density, &liquid.molar_mass)
    {
        *kg = in_grams_per_mole(molar.value) / 1000.0;
    }
}

/// Whether a temperature lies below a liquid's melting point; `None` where that is not known.
pub fn is_solid(liquid: &Liquid, t: ThermodynamicTemperature) -> Option<bool> {
    let melting = liquid.melting.as_ref()?;
    Some(in_kelvins(t) < in_kelvins(melting.value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::si::{in_kg_per_m3, in_pascals, in_percents};

    #[test]
    fn every_row_is_understood_and_sourced() {
        let text = include_str!("../../assets/liquids.csv");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let mut liquid = Liquid::default();
        for record in reader.records() {
            let record = record.unwrap();
            if record[1] == *"contact_high" {
                liquid.contact = Row::of(&record).fact(degrees).map(|low| (low.clone(), low));
            }
            let row = Row::of(&record);
            assert!(take(&mut liquid, &row), "{record:?}");
            assert!(!row.origin.source.is_empty(), "{record:?}");
            assert!(["read", "memory"].contains(&&record[13]), "{record:?}");
        }
    }

    #[test]
    fn each_liquid_has_the_fields_that_the_stages_need() {
        assert!(LIQUIDS.len() >= 22);
        for liquid in LIQUIDS.iter() {
            let name = &liquid.name;
            assert!(liquid.molar_mass().is_ok() && liquid.melting.is_some(), "{name}");
            for property in [
                &liquid.density,
                &liquid.vapour_pressure,
                &liquid.surface_tension,
                &liquid.viscosity,
            ] {
                let property = property.as_ref().unwrap_or_else(|| panic!("{name}"));
                assert!(property.low < property.high, "{name} {}", property.what);
                for t in [property.low, property.high] {
                    let value = property.at(t, name).unwrap();
                    assert!(value.is_finite() && value > 0.0, "{name} {} {value}", property.what);
                }
            }
            let (low, high) = liquid.contact.as_ref().unwrap();
            assert!(low.value < high.value, "{name}");
            assert!(liquid.hazards.is_some() && liquid.never.is_some() && liquid.behaviour.is_some());
        }
    }

    #[test]
    fn liquids_are_found_by_name_and_alias() {
        for (name, found) in [
            ("Rubidium", "rubidium"),
            (" rb ", "rubidium"),
            ("EGaIn", "Ga-In eutectic"),
            ("D2O", "heavy water"),
        ] {
            assert_eq!(liquid(name).map(|liquid| liquid.name.as_str()), Some(found));
        }
        assert_eq!(liquid("unobtainium"), None);
    }

    #[test]
    fn below_the_melting_point_the_solid_counts() {
        // liquids_formulas.md, section 1: rubidium solid at 25 C, 5.3154e-5 Pa.
        let p = liquid("rubidium").unwrap().vapour_pressure_at(celsius(25.0)).unwrap();
        assert!((in_pascals(p) / 5.3154e-5 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn freezing_growth_has_the_right_sign() {
        // Gallium grows by about 3 %, water by about 9 %, alkali metals shrink (formulas.md, section 6).
        let growth = |name: &str| in_percents(liquid(name).unwrap().freezing_growth().unwrap());
        assert!((2.5..3.5).contains(&growth("gallium")), "{}", growth("gallium"));
        assert!((8.5..9.5).contains(&growth("water")), "{}", growth("water"));
        assert!(growth("rubidium") < 0.0);
        assert!(liquid("toluene").unwrap().freezing_growth().is_err());
        let density = liquid("water").unwrap().density_at(celsius(20.0)).unwrap();
        assert!((in_kg_per_m3(density) - 998.2005).abs() < 1e-3);
    }
}
