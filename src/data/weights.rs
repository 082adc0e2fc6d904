//! Standard atomic weights. The table is `assets/atomic_weights.csv`.

use crate::units::si::{MolarMass, grams_per_mole};
use std::collections::HashMap;
use std::sync::LazyLock;

/// Where the weights come from.
pub const SOURCE: &str = "IUPAC CIAAW standard atomic weights 2021 (Prohaska et al., Pure Appl. Chem. 94 (2022) 573)";

/// Symbol and weight, g/mol.
static WEIGHTS: LazyLock<HashMap<String, f64>> = LazyLock::new(|| {
    let mut reader = csv::Reader::from_reader(include_str!("../../assets/atomic_weights.csv").as_bytes());
    let rows = reader.records().flatten();
    rows.filter_map(|row| Some((row.get(0)?.to_owned(), row.get(2)?.parse().ok()?)))
        .collect()
});

/// Standard atomic weight of an element; `None` where there is none, as for short-lived elements.
pub fn atomic_weight(symbol: &str) -> Option<MolarMass> {
    WEIGHTS.get(symbol).copied().map(grams_per_mole)
}

/// Molar mass of a formula of symbols and counts alone, such as `C6H6`.
pub(super) fn simple_molar_mass(formula: &str) -> Option<MolarMass> {
    let mut sum = grams_per_mole(0.0);
    let mut rest = formula;
    while !rest.is_empty() {
        let letters = rest.char_indices().skip(1).find(|(_, c)| !c.is_ascii_lowercase());
        let (symbol, after) = rest.split_at(letters.map_or(rest.len(), |(i, _)| i));
        let digits = after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len());
        let (count, next) = after.split_at(digits);
        let count: f64 = if count.is_empty() { 1.0 } else { count.parse().ok()? };
        sum += atomic_weight(symbol)? * count;
        rest = next;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::si::in_grams_per_mole;

    #[test]
    fn the_table_is_whole() {
        assert_eq!(WEIGHTS.len(), 85);
        for (symbol, weight) in WEIGHTS.iter() {
            assert!((1.0..240.0).contains(weight), "{symbol} {weight}");
        }
        assert_eq!(atomic_weight("Rb").map(in_grams_per_mole), Some(85.4678));
        assert_eq!(atomic_weight("Tc"), None);
    }

    #[test]
    fn molar_masses_are_those_of_the_reference() {
        // liquids.csv, rows of molar mass.
        for (formula, weight) in [
            ("H2O", 18.015),
            ("D2O", 20.027),
            ("C4H8O", 72.107),
            ("CH2Cl2", 84.927),
            ("Br2", 159.808),
        ] {
            let found = simple_molar_mass(formula).map(in_grams_per_mole).unwrap();
            assert!((found - weight).abs() < 6e-4, "{formula} {found}");
        }
        assert_eq!(simple_molar_mass("Xx2"), None);
        assert_eq!(simple_molar_mass("h2o"), None);
    }
}
