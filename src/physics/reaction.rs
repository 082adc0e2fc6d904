//! A reaction as people type it, `2 RbCl + Ca -> 2 Rb + CaCl2`: checked for balance, and worked out by mass.

use super::Formula;
use super::formula::{self, Atoms, FormulaError};
use crate::data::Known;
use crate::units::si::{AmountOfSubstance, Mass, MolarMass, Ratio, moles};
use thiserror::Error;

/// See [`Reaction::needed`].
pub const STOICHIOMETRY: Formula = Formula {
    name: "reagents",
    text: "m = n (nu/nu_product) M (1 + excess) / yield",
    holds: "one reaction that runs as written; the yield is an expectation",
    source: "stoichiometry with IUPAC standard atomic weights",
    known: Known::Read,
};

/// One substance of a reaction.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Its formula as typed.
    pub formula: String,
    /// Its number in the reaction.
    pub count: f64,
    /// Its molar mass.
    pub molar: MolarMass,
    atoms: Atoms,
}

/// A balanced reaction.
#[derive(Clone, Debug, PartialEq)]
pub struct Reaction {
    /// What goes in.
    pub reagents: Vec<Part>,
    /// What comes out.
    pub products: Vec<Part>,
}

/// Why a text is no reaction.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ReactionError {
    /// No arrow, or more than one.
    #[error("a reaction has one arrow, as in \"2 RbCl + Ca -> 2 Rb + CaCl2\"")]
    Arrow,
    /// A formula that is not understood.
    #[error(transparent)]
    Formula(#[from] FormulaError),
    /// A number before a formula that is not one.
    #[error("\"{0}\" is not a number above 0")]
    Count(String),
    /// Atoms that do not agree.
    #[error("not balanced: {0}")]
    Unbalanced(String),
    /// The product asked for is not among the products.
    #[error("{0} is not among the products")]
    NoProduct(String),
}

/// What a reagent comes to.
#[derive(Clone, Debug, PartialEq)]
pub struct Needed {
    /// Its formula.
    pub formula: String,
    /// Amount.
    pub amount: AmountOfSubstance,
    /// Mass.
    pub mass: Mass,
}

/// What given masses come to.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Index of the reagent that runs out first.
    pub limiting: usize,
    /// Amount of the product at full yield.
    pub product: AmountOfSubstance,
    /// What is left of each reagent at full conversion.
    pub left: Vec<Needed>,
}

/// Longest text that is read.
const MOST_CHARS: usize = 400;

impl Reaction {
    /// Reads a reaction and checks its balance.
    ///
    /// # Errors
    /// Saying why the text is no balanced reaction.
    pub fn parse(text: &str) -> Result<Self, ReactionError> {
        if text.chars().count() > MOST_CHARS {
            return Err(ReactionError::Arrow);
        }
        let text = text.replace('\u{2192}', "->").replace("=>", "->").replace('=', "->");
        let mut sides = text.split("->");
        let (Some(left), Some(right), None) = (sides.next(), sides.next(), sides.next()) else {
            return Err(ReactionError::Arrow);
        };
        let reaction = Self {
            reagents: side(left)?,
            products: side(right)?,
        };
        reaction.check_balance()?;
        Ok(reaction)
    }

    fn check_balance(&self) -> Result<(), ReactionError> {
        let (left, right) = (sum(&self.reagents), sum(&self.products));
        let mut off = Vec::new();
        let symbols: std::collections::BTreeSet<&String> = left.keys().chain(right.keys()).collect();
        for symbol in symbols {
            let [a, b] = [&left, &right].map(|side| side.get(symbol).copied().unwrap_or(0.0));
            if (a - b).abs() > 1e-9 * (a + b) {
                off.push(format!("{symbol} {a} against {b}"));
            }
        }
        if off.is_empty() {
            Ok(())
        } else {
            Err(ReactionError::Unbalanced(off.join(", ")))
        }
    }

    /// The product of that formula.
    ///
    /// # Errors
    /// When there is none.
    pub fn product(&self, formula: &str) -> Result<&Part, ReactionError> {
        let wanted = formula::atoms(formula)?;
        let product = self.products.iter().find(|part| part.atoms == wanted);
        product.ok_or_else(|| ReactionError::NoProduct(formula.to_owned()))
    }

    /// What every reagent comes to for an amount of a product, with the yield of the limiting one (the first) and an
    /// excess of each of the others.
    pub fn needed(&self, product: &Part, amount: AmountOfSubstance, yield_part: Ratio, excess: Ratio) -> Vec<Needed> {
        let turns = amount / product.count / yield_part.value;
        self.reagents
            .iter()
            .enumerate()
            .map(|(i, part)| {
                let more = if i == 0 { 1.0 } else { 1.0 + excess.value };
                let amount = turns * part.count * more;
                Needed {
                    formula: part.formula.clone(),
                    amount,
                    mass: amount * part.molar,
                }
            })
            .collect()
    }

    /// What given masses, one for each reagent, come to.
    pub fn outcome(&self, product: &Part, given: &[Mass]) -> Option<Outcome> {
        let turns: Vec<f64> = self
            .reagents
            .iter()
            .zip(given)
            .map(|(part, mass)| (*mass / part.molar).value / part.count)
            .collect();
        if turns.len() != self.reagents.len() {
            return None;
        }
        let (limiting, least) = turns.iter().copied().enumerate().min_by(|a, b| a.1.total_cmp(&b.1))?;
        let left = self.reagents.iter().zip(&turns).map(|(part, have)| {
            let amount = moles((have - least) * part.count);
            Needed {
                formula: part.formula.clone(),
                amount,
                mass: amount * part.molar,
            }
        });
        Some(Outcome {
            limiting,
            product: moles(least * product.count),
            left: left.collect(),
        })
    }
}

fn side(text: &str) -> Result<Vec<Part>, ReactionError> {
    text.split('+').map(part).collect()
}

fn part(text: &str) -> Result<Part, ReactionError> {
    let text = text.trim();
    let digits = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/')))
        .unwrap_or(text.len());
    let (count, formula) = text.split_at(digits);
    let formula = formula.trim();
    Ok(Part {
        count: read_count(count)?,
        molar: formula::molar_mass(formula)?,
        atoms: formula::atoms(formula)?,
        formula: formula.to_owned(),
    })
}

fn read_count(text: &str) -> Result<f64, ReactionError> {
    if text.is_empty() {
        return Ok(1.0);
    }
    let value = match text.split_once('/') {
        Some((over, under)) => over
            .parse::<f64>()
            .ok()
            .zip(under.parse::<f64>().ok())
            .map(|(a, b)| a / b),
        None => text.parse().ok(),
    };
    match value {
        Some(count) if count.is_finite() && count > 0.0 && count < 1e6 => Ok(count),
        _ => Err(ReactionError::Count(text.to_owned())),
    }
}

fn sum(parts: &[Part]) -> Atoms {
    let mut sum = Atoms::new();
    for part in parts {
        for (symbol, atoms) in &part.atoms {
            *sum.entry(symbol.clone()).or_insert(0.0) += atoms * part.count;
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::data::liquids::liquid;
    use crate::units::si::*;
    use proptest::prelude::*;

    /// formulas.md, section 7: what 10 g of each salt give, and the volume of the liquid metal.
    #[test]
    fn metallothermic_reduction() {
        for (metal, mol, product, calcium, chloride) in [
            ("Na", 0.171116, 3.93393, 3.42900, 9.49508),
            ("K", 0.134141, 5.24469, 2.68806, 7.44336),
            ("Rb", 0.082701, 7.06826, 1.65724, 4.58899),
            ("Cs", 0.059398, 7.89434, 1.19028, 3.29594),
        ] {
            let reaction = Reaction::parse(&format!("2 {metal}Cl + Ca -> 2 {metal} + CaCl2")).unwrap();
            let wanted = reaction.product(metal).unwrap();
            let outcome = reaction.outcome(wanted, &[grams(10.0), grams(1000.0)]).unwrap();
            assert_eq!(outcome.limiting, 0);
            close(in_moles(outcome.product), mol, 1e-5);
            close(in_grams(outcome.product * wanted.molar), product, 1e-5);
            let needed = reaction.needed(wanted, outcome.product, percents(100.0), percents(0.0));
            close(in_grams(needed[0].mass), 10.0, 1e-9);
            close(in_grams(needed[1].mass), calcium, 1e-5);
            let salt = reaction.product("CaCl2").unwrap();
            close(in_grams(outcome.product / 2.0 * salt.molar), chloride, 1e-5);
        }
        for (metal, grams_of, t, ml) in [
            ("rubidium", 7.06826, 40.0, 4.84232),
            ("caesium", 7.89434, 40.0, 4.29833),
            ("potassium", 5.24469, 70.0, 6.34573),
        ] {
            let volume = grams(grams_of) / liquid(metal).unwrap().density_at(celsius(t)).unwrap();
            close(in_millilitres(volume), ml, 1e-5);
        }
    }

    /// formulas.md, section 7: eight ampoules of 1.000 g of rubidium at 80 % yield.
    #[test]
    fn eight_ampoules_of_rubidium() {
        let reaction = Reaction::parse("2RbCl + Ca -> 2Rb + CaCl2").unwrap();
        let rb = reaction.product("Rb").unwrap();
        let amount = grams(8.0) / rb.molar;
        let needed = reaction.needed(rb, amount, percents(80.0), percents(0.0));
        close(in_grams(needed[0].mass), 14.14776, 1e-6);
        close(in_grams(needed[1].mass), 2.34462, 3e-6);
        let needed = reaction.needed(rb, amount, percents(80.0), percents(100.0));
        close(in_grams(needed[1].mass), 4.68925, 1e-6);
        let outcome = reaction.outcome(rb, &[grams(14.14776), grams(4.68925)]).unwrap();
        close(in_grams(outcome.left[1].mass), 4.68925 - 2.34462, 1e-5);
    }

    #[test]
    fn what_is_no_reaction_says_why() {
        for (text, words) in [
            ("RbCl + Ca", "arrow"),
            ("RbCl -> Rb -> Cl2", "arrow"),
            ("RbCl + Ca -> Rb + CaCl2", "Cl 1 against 2"),
            ("2 RbCl + Q -> 2 Rb + CaCl2", "\"Q\""),
            ("0 RbCl + Ca -> Rb", "\"0\""),
            ("2 RbCl + -> 2 Rb", "missing"),
        ] {
            let error = Reaction::parse(text).unwrap_err().to_string();
            assert!(error.contains(words), "{text}: {error}");
        }
        let reaction = Reaction::parse("2 H2 + O2 = 2 H2O").unwrap();
        assert!(reaction.product("Rb").unwrap_err().to_string().contains("Rb"));
        assert!(Reaction::parse("H2 + 1/2 O2 \u{2192} H2O").is_ok());
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in ".{0,60}", near in "[0-9A-Za-z+ ()/.>-]{0,40}") {
            let _ = Reaction::parse(&text);
            let _ = Reaction::parse(&near);
        }
    }
}
