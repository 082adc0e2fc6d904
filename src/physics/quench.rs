//! What a residue of alkali metal gives off when it is quenched.

use super::{ATMOSPHERE, Formula, R};
use crate::data::Known;
use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::units::si::{
    AmountOfSubstance, Energy, Mass, MolarEnergy, ThermodynamicTemperature, Volume, cubic_metres, kilojoules_per_mole,
};

/// See [`hydrogen`].
pub const HYDROGEN: Formula = Formula {
    name: "hydrogen and heat of a quench",
    text: "M + H2O -> MOH + 1/2 H2 (or M + ROH -> MOR + 1/2 H2)",
    holds: "all of it reacts; with alcohols the heat with water to dissolved hydroxide is an upper bound",
    source: "CRC formation enthalpies, as in chemicals 1.5.2; gas law",
    known: Known::Read,
};

/// Formation enthalpy of liquid water, kJ/mol.
const WATER: f64 = -285.8;
/// Formation enthalpy of dissolved hydroxide, kJ/mol.
const HYDROXIDE_ION: f64 = -230.0;
/// Heat of burning the hydrogen of a mole of metal: the formation of half a mole of water, kJ/mol.
const BURNT: f64 = 142.9;

/// Hydrogen from a mass of metal, half a mole a mole.
///
/// # Errors
/// When the molar mass is not known.
pub fn hydrogen(liquid: &Liquid, mass: Mass) -> Result<AmountOfSubstance, NoValue> {
    Ok(mass / liquid.molar_mass()? / 2.0)
}

/// Volume of an amount of gas at one atmosphere.
pub fn gas_volume(amount: AmountOfSubstance, t: ThermodynamicTemperature) -> Volume {
    cubic_metres(amount.value * R * t.value / ATMOSPHERE)
}

/// Heats of a mole of metal with water.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heats {
    /// To solid hydroxide.
    pub solid: MolarEnergy,
    /// To hydroxide in much water.
    pub dissolved: MolarEnergy,
    /// More when the hydrogen burns.
    pub burning: MolarEnergy,
}

/// Heats given off with water.
///
/// # Errors
/// When the formation enthalpies of the liquid are not known.
pub fn heats(liquid: &Liquid) -> Result<Heats, NoValue> {
    let unknown = || NoValue::Unknown {
        what: "heat of reaction with water",
        liquid: liquid.name.clone(),
    };
    let solid = liquid.hydroxide.as_ref().ok_or_else(unknown)?.value;
    let ion = liquid.ion.as_ref().ok_or_else(unknown)?.value;
    Ok(Heats {
        solid: kilojoules_per_mole(WATER) - solid,
        dissolved: kilojoules_per_mole(WATER - HYDROXIDE_ION) - ion,
        burning: kilojoules_per_mole(BURNT),
    })
}

/// Heat given off by a mass of metal with much water.
///
/// # Errors
/// When molar mass or enthalpies are not known.
pub fn heat(liquid: &Liquid, mass: Mass) -> Result<Energy, NoValue> {
    Ok(heats(liquid)?.dissolved * (mass / liquid.molar_mass()?))
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::data::liquids::liquid;
    use crate::units::si::*;

    /// formulas.md, section 8.
    #[test]
    fn each_metal_by_the_gram() {
        close(in_litres(gas_volume(moles(1.0), celsius(20.0))), 24.05512, 1e-6);
        for (name, mol, ml, solid, solid_g, dissolved, dissolved_g) in [
            ("sodium", 0.021749, 523.170, 140.0, 6.0897, 184.3, 8.0166),
            ("potassium", 0.012788, 307.624, 138.8, 3.5500, 196.6, 5.0284),
            ("rubidium", 0.005850, 140.726, 133.0, 1.5561, 195.4, 2.2862),
            ("caesium", 0.003762, 90.497, 130.4, 0.9811, 202.5, 1.5236),
        ] {
            let metal = liquid(name).unwrap();
            let gas = hydrogen(metal, grams(1.0)).unwrap();
            close(in_moles(gas), mol, 1e-4);
            close(in_millilitres(gas_volume(gas, celsius(20.0))), ml, 1e-5);
            let heats = heats(metal).unwrap();
            close(in_kilojoules_per_mole(heats.solid), solid, 1e-9);
            close(in_kilojoules_per_mole(heats.dissolved), dissolved, 1e-9);
            close(in_kilojoules(heat(metal, grams(1.0)).unwrap()), dissolved_g, 5e-5);
            close(
                in_kilojoules(heats.solid * (grams(1.0) / metal.molar_mass().unwrap())),
                solid_g,
                5e-5,
            );
        }
        assert!(heats(liquid("toluene").unwrap()).is_err());
    }
}
