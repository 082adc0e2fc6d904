//! A formula as data, and one use of it.

use crate::data::Known;
use crate::data::law::Property;
use crate::units::si::{ThermodynamicTemperature, temperature_text};
use serde::Serialize;

/// A published formula.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Formula {
    /// What it gives.
    pub name: &'static str,
    /// The formula in one line.
    pub text: &'static str,
    /// Where it holds, and what it leaves out.
    pub holds: &'static str,
    /// Author and work.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

/// A quantity that went into a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Term {
    /// Its sign in the formula.
    pub symbol: &'static str,
    /// What it is, here.
    pub meaning: String,
    /// Its value with its unit.
    pub value: String,
}

/// A formula, what went into it and what came out.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Working {
    /// The formula in one line.
    pub formula: &'static str,
    /// What went into it.
    pub terms: Vec<Term>,
    /// Where it holds, and what it leaves out.
    pub holds: &'static str,
    /// Where the formula and the figures come from.
    pub source: String,
    /// How they are known: the weakest of them.
    pub known: &'static str,
}

impl Working {
    /// A use of a formula; the terms follow.
    pub fn of(formula: &Formula) -> Self {
        Self {
            formula: formula.text,
            terms: Vec::new(),
            holds: formula.holds,
            source: formula.source.to_owned(),
            known: formula.known.words(),
        }
    }

    /// A property of a liquid taken at a temperature.
    pub fn of_property(property: &Property, t: ThermodynamicTemperature) -> Self {
        let origin = &property.origin;
        let uncertainty = if origin.uncertainty.is_empty() {
            String::new()
        } else {
            format!("; uncertainty {}", origin.uncertainty)
        };
        Self {
            formula: property.law.text(),
            terms: Vec::new(),
            holds: "",
            source: format!("{}; known from {}{uncertainty}", origin.source, property.range_text()),
            known: origin.known.words(),
        }
        .with("T", "temperature", temperature_text(t))
    }

    /// With one more term.
    #[must_use]
    pub fn with(mut self, symbol: &'static str, meaning: impl Into<String>, value: impl Into<String>) -> Self {
        self.terms.push(Term {
            symbol,
            meaning: meaning.into(),
            value: value.into(),
        });
        self
    }

    /// With one more source, such as that of a property.
    #[must_use]
    pub fn from(mut self, source: &str, known: Known) -> Self {
        if !self.source.contains(source) {
            self.source = format!("{}; {source}", self.source);
        }
        if known == Known::Memory {
            self.known = known.words();
        }
        self
    }

    /// The working in lines, as a page prints it.
    pub fn lines(&self) -> Vec<String> {
        let terms: Vec<String> = self
            .terms
            .iter()
            .map(|term| format!("{} = {} ({})", term.symbol, term.value, term.meaning))
            .collect();
        let mut lines = vec![self.formula.to_owned()];
        if !terms.is_empty() {
            lines.push(terms.join(", "));
        }
        if !self.holds.is_empty() {
            lines.push(format!("Holds: {}", self.holds));
        }
        lines.push(format!("Source: {} ({})", self.source, self.known));
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_working_shows_formula_inputs_range_and_the_weakest_mark() {
        let formula = Formula {
            name: "test",
            text: "y = 2 x",
            holds: "x above 0",
            source: "a book",
            known: Known::Read,
        };
        let working = Working::of(&formula)
            .with("x", "input", "3 mm")
            .from("a table", Known::Memory);
        let lines = working.lines().join("\n");
        assert_eq!(
            lines,
            "y = 2 x\nx = 3 mm (input)\nHolds: x above 0\nSource: a book; a table (memory)"
        );
    }
}
