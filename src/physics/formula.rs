//! Chemical formulas as people type them: `RbCl`, `CaCl2`, `Ca(OH)2`, `CuSO4*5H2O`.

use crate::data::weights::atomic_weight;
use crate::units::si::{MolarMass, grams_per_mole};
use std::collections::BTreeMap;
use thiserror::Error;

/// Atoms of each element in a formula.
pub type Atoms = BTreeMap<String, f64>;

/// Why a text is no formula.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum FormulaError {
    /// Nothing there.
    #[error("a formula is missing")]
    Empty,
    /// A sign that belongs to no formula.
    #[error("\"{found}\" in \"{formula}\" is not understood")]
    Sign {
        /// What was found.
        found: String,
        /// The formula.
        formula: String,
    },
    /// A bracket without its partner.
    #[error("a bracket in \"{0}\" has no partner")]
    Bracket(String),
    /// Not an element, or one without a standard weight.
    #[error("\"{0}\" is no element with a standard atomic weight")]
    Element(String),
    /// A count that is zero or too large.
    #[error("a count in \"{0}\" is zero or too large")]
    Count(String),
}

/// Deepest nesting of brackets.
const MOST_BRACKETS: usize = 10;
/// Greatest count of an atom or group.
const MOST: f64 = 1e6;

/// Atoms of a formula.
///
/// # Errors
/// Saying why the text is no formula.
pub fn atoms(formula: &str) -> Result<Atoms, FormulaError> {
    let formula = formula.trim();
    if formula.is_empty() {
        return Err(FormulaError::Empty);
    }
    let mut sum = Atoms::new();
    // Parts joined by a dot, as water of crystallisation.
    for part in formula.split(['*', '\u{b7}', '\u{2022}']) {
        let digits = part.find(|c: char| !c.is_ascii_digit()).unwrap_or(part.len());
        let (count, rest) = part.split_at(digits);
        let count = read_count(count, formula)?;
        let mut reader = Reader {
            chars: rest.chars().collect(),
            at: 0,
            formula,
        };
        let group = reader.group(0)?;
        if reader.at < reader.chars.len() {
            return Err(FormulaError::Bracket(formula.to_owned()));
        }
        if group.is_empty() {
            return Err(FormulaError::Empty);
        }
        add(&mut sum, &group, count);
    }
    Ok(sum)
}

/// Molar mass of a formula, by the standard atomic weights.
///
/// # Errors
/// Saying why the text is no formula.
pub fn molar_mass(formula: &str) -> Result<MolarMass, FormulaError> {
    let mut sum = grams_per_mole(0.0);
    for (symbol, count) in atoms(formula)? {
        sum += atomic_weight(&symbol).ok_or(FormulaError::Element(symbol))? * count;
    }
    Ok(sum)
}

fn add(sum: &mut Atoms, group: &Atoms, count: f64) {
    for (symbol, atoms) in group {
        *sum.entry(symbol.clone()).or_insert(0.0) += atoms * count;
    }
}

fn read_count(digits: &str, formula: &str) -> Result<f64, FormulaError> {
    if digits.is_empty() {
        return Ok(1.0);
    }
    match digits.parse::<f64>() {
        Ok(count) if count > 0.0 && count <= MOST => Ok(count),
        _ => Err(FormulaError::Count(formula.to_owned())),
    }
}

struct Reader<'a> {
    chars: Vec<char>,
    at: usize,
    formula: &'a str,
}

impl Reader<'_> {
    fn peek(&self) -> Option<char> {
        self.chars.get(self.at).copied()
    }

    fn group(&mut self, depth: usize) -> Result<Atoms, FormulaError> {
        let mut sum = Atoms::new();
        while let Some(c) = self.peek() {
            let unit = match c {
                '(' | '[' => {
                    if depth >= MOST_BRACKETS {
                        return Err(FormulaError::Bracket(self.formula.to_owned()));
                    }
                    self.at += 1;
                    let inner = self.group(depth + 1)?;
                    let close = if c == '(' { ')' } else { ']' };
                    if self.peek() != Some(close) {
                        return Err(FormulaError::Bracket(self.formula.to_owned()));
                    }
                    self.at += 1;
                    inner
                }
                ')' | ']' => break,
                c if c.is_ascii_uppercase() => {
                    let symbol = self.symbol();
                    if atomic_weight(&symbol).is_none() {
                        return Err(FormulaError::Element(symbol));
                    }
                    Atoms::from([(symbol, 1.0)])
                }
                c => {
                    return Err(FormulaError::Sign {
                        found: c.to_string(),
                        formula: self.formula.to_owned(),
                    });
                }
            };
            let count = self.count()?;
            add(&mut sum, &unit, count);
        }
        Ok(sum)
    }

    fn symbol(&mut self) -> String {
        let start = self.at;
        self.at += 1;
        while self.peek().is_some_and(|c| c.is_ascii_lowercase()) {
            self.at += 1;
        }
        self.chars[start..self.at].iter().collect()
    }

    fn count(&mut self) -> Result<f64, FormulaError> {
        let start = self.at;
        while self.peek().is_some_and(|c| c.is_ascii_digit()) {
            self.at += 1;
        }
        let digits: String = self.chars[start..self.at].iter().collect();
        read_count(&digits, self.formula)
    }
}

#[cfg(test)]
mod tests {
    use super::super::close;
    use super::*;
    use crate::units::si::in_grams_per_mole;
    use proptest::prelude::*;

    #[test]
    fn molar_masses() {
        for (formula, mass) in [
            ("NaCl", 58.43977),
            ("KCl", 74.54830),
            ("RbCl", 120.91780),
            ("CsCl", 168.35545),
            ("Ca(OH)2", 74.092),
            ("CuSO4*5H2O", 249.677),
            ("[Cu(NH3)4]SO4", 227.726),
        ] {
            close(molar_mass(formula).map(in_grams_per_mole).unwrap(), mass, 2e-5);
        }
    }

    #[test]
    fn what_is_no_formula_says_why() {
        for (text, words) in [
            ("", "missing"),
            ("Rbx", "\"Rbx\""),
            ("Tc", "standard"),
            ("Ca(OH2", "bracket"),
            ("CaOH)2", "bracket"),
            ("Rb-Cl", "\"-\""),
            ("H0", "zero"),
            ("*", "missing"),
        ] {
            let error = molar_mass(text).unwrap_err().to_string();
            assert!(error.contains(words), "{text}: {error}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in ".{0,40}", brackets in "[(\\[]{0,40}[A-Z)]{0,9}") {
            let _ = molar_mass(&text);
            let _ = molar_mass(&brackets);
        }
    }
}
