//! The table of rules.

use super::{
    Found, Glass, Judge, Rule, Work, arms, blowing, charging, cleaning, connection, courses, distilling, necks,
    purging, sealing, strain, touching,
};
use crate::data::Known;

const fn of_glass(
    id: &'static str,
    about: &'static str,
    source: &'static str,
    known: Known,
    judge: fn(&Glass, &mut Found),
) -> Rule {
    Rule {
        id,
        about,
        source,
        known,
        judge: Judge::Glass(judge),
    }
}

const fn of_job(
    id: &'static str,
    about: &'static str,
    source: &'static str,
    known: Known,
    judge: fn(&Work, &mut Found),
) -> Rule {
    Rule {
        id,
        about,
        source,
        known,
        judge: Judge::Job(judge),
    }
}

/// What the trade does and nobody has written down.
const PRACTICE: &str = "common practice, no source";

/// Every rule: first those of the glass, then those of the job in the order of the work.
pub static RULES: &[Rule] = &[
    of_glass(
        "neck-wider",
        "necks wider than what they join",
        PRACTICE,
        Known::CommonPractice,
        necks::wider,
    ),
    of_glass(
        "seal-outside",
        "seal-off places outside their necks",
        PRACTICE,
        Known::CommonPractice,
        necks::outside,
    ),
    of_glass(
        "neck-hard-to-seal",
        "necks wide for a ready seal",
        "J. Tanaka, Encapsulation in Borosilicate Glass Ampoules, J. Chem. Educ.",
        Known::Read,
        necks::hard_to_seal,
    ),
    of_glass(
        "bend-tight",
        "radius of bends",
        "glassblowing defaults, recalled",
        Known::Memory,
        courses::bend_tight,
    ),
    of_glass(
        "not-in-stock",
        "sizes cut from stock",
        "tube makers' catalogue",
        Known::Memory,
        courses::not_in_stock,
    ),
    of_glass(
        "joint-unknown",
        "designations of joints",
        "ISO 383:1976, k6 series",
        Known::Memory,
        courses::joint_unknown,
    ),
    of_glass(
        "target-too-large",
        "targets against bodies",
        PRACTICE,
        Known::CommonPractice,
        courses::target_too_large,
    ),
    of_glass(
        "beyond-host",
        "places on hosts",
        PRACTICE,
        Known::CommonPractice,
        connection::beyond_host,
    ),
    of_glass(
        "corner-no-room",
        "corners of bridges",
        PRACTICE,
        Known::CommonPractice,
        connection::corner_no_room,
    ),
    of_glass(
        "leg-not-up",
        "legs of arches",
        PRACTICE,
        Known::CommonPractice,
        connection::leg_not_up,
    ),
    of_glass(
        "arm-wider",
        "arms wider than their host",
        "glassblowing defaults, recalled",
        Known::Memory,
        arms::wider,
    ),
    of_glass(
        "arm-nearly-as-wide",
        "arms nearly as wide as their host",
        "glassblowing defaults, recalled",
        Known::Memory,
        arms::nearly_as_wide,
    ),
    of_glass(
        "arms-close",
        "distance of arms",
        "glassblowing defaults, recalled",
        Known::Memory,
        arms::close,
    ),
    of_glass(
        "necks-close",
        "distance of necks",
        "trade practice, recalled",
        Known::Memory,
        necks::close,
    ),
    of_glass(
        "glass-overlaps",
        "glass that runs into glass",
        PRACTICE,
        Known::CommonPractice,
        touching::overlaps,
    ),
    of_glass(
        "not-connected",
        "whether the interior is one",
        PRACTICE,
        Known::CommonPractice,
        connection::not_connected,
    ),
    of_glass(
        "no-port",
        "whether it has a port",
        "safety lines of glass makers and laboratories",
        Known::Read,
        connection::no_port,
    ),
    of_job(
        "liquid-unknown",
        "data of the liquid",
        PRACTICE,
        Known::CommonPractice,
        charging::liquid_unknown,
    ),
    of_job(
        "charge-short",
        "charge against what is needed",
        PRACTICE,
        Known::CommonPractice,
        charging::short,
    ),
    of_job(
        "charge-surplus",
        "charge left over",
        PRACTICE,
        Known::CommonPractice,
        charging::surplus,
    ),
    of_job(
        "target-differs",
        "mass or amount asked for against targets",
        PRACTICE,
        Known::CommonPractice,
        charging::target_differs,
    ),
    of_job(
        "reaction-wrong",
        "balance of the reaction",
        "stoichiometry with IUPAC standard atomic weights",
        Known::Read,
        charging::reaction,
    ),
    of_job(
        "yield-hopeful",
        "expected yield",
        PRACTICE,
        Known::CommonPractice,
        charging::yield_low,
    ),
    of_job(
        "filling-solid",
        "filling temperature against the melting point",
        "CRC Handbook, as in chemicals 1.5.2",
        Known::Read,
        charging::filling_solid,
    ),
    of_job(
        "poured-in-air",
        "alkali metal in air",
        "alkali metal operating procedures of universities",
        Known::Read,
        charging::in_air,
    ),
    of_job(
        "not-distillable",
        "whether it distils in glass",
        "vapour-pressure forms of the liquid",
        Known::Read,
        distilling::not_in_glass,
    ),
    of_job(
        "pot-too-hot",
        "pot against what the glass bears",
        "strain point: makers' data; attack by alkali: trade practice",
        Known::Memory,
        distilling::too_hot,
    ),
    of_job(
        "still-backwards",
        "pot warmer than receiver",
        "vapour-pressure forms of the liquid",
        Known::Read,
        distilling::backwards,
    ),
    of_job(
        "still-slow",
        "time of distilling",
        "Hertz-Knudsen and conductance along the bores",
        Known::Memory,
        distilling::slow,
    ),
    of_job(
        "still-past-exposure",
        "time of distilling against time to the last seal",
        PRACTICE,
        Known::CommonPractice,
        distilling::hours_of_exposure,
    ),
    of_job(
        "residual-gas",
        "gas in the way of the vapour",
        "kinetic theory; the tenth is a judgement",
        Known::CommonPractice,
        distilling::residual,
    ),
    of_job(
        "pot-overfull",
        "fill of the pot",
        "trade practice, recalled",
        Known::Memory,
        distilling::overfull,
    ),
    of_job(
        "pot-deep",
        "depth of the pool",
        "trade practice, recalled",
        Known::Memory,
        distilling::deep,
    ),
    of_job(
        "pot-splashes",
        "room above the pool",
        PRACTICE,
        Known::CommonPractice,
        distilling::splash,
    ),
    of_job(
        "receiver-solid",
        "receiver against the melting point",
        "CRC Handbook, as in chemicals 1.5.2",
        Known::Read,
        distilling::solid,
    ),
    of_job(
        "receiver-runs-over",
        "whether the condensate stays back",
        "geometry; back tilt of 2 to 5 degrees recalled",
        Known::Memory,
        distilling::runs_on,
    ),
    of_job(
        "purge-never",
        "pressures of pump and fill",
        "dilution, derived",
        Known::Read,
        purging::never,
    ),
    of_job(
        "purge-short",
        "number of cycles",
        "dilution, derived",
        Known::Read,
        purging::short,
    ),
    of_job(
        "leak-too-large",
        "leak-up reading",
        "gas law, derived",
        Known::Read,
        purging::leaks,
    ),
    of_job(
        "dead-end",
        "volumes with one way in",
        "kinetic theory of gases",
        Known::Memory,
        purging::dead_ends,
    ),
    of_job(
        "neck-short",
        "length of necks",
        "glassblowing defaults, recalled",
        Known::Memory,
        sealing::neck_short,
    ),
    of_job(
        "neck-thin",
        "wall of necks under vacuum",
        "glassblowing defaults, recalled",
        Known::Memory,
        sealing::neck_thin,
    ),
    of_job(
        "neck-sucked-in",
        "wide necks under vacuum",
        "J. Tanaka, Encapsulation in Borosilicate Glass Ampoules, J. Chem. Educ.; 8 mm is a judgement",
        Known::Memory,
        sealing::sucked_in,
    ),
    of_job(
        "seal-near-liquid",
        "distance of the flame from the liquid",
        "B. D. Bolas, Handbook of Laboratory Glass-Blowing (1921); 25 to 30 mm recalled",
        Known::Memory,
        sealing::near_liquid,
    ),
    of_job(
        "seal-wetted",
        "liquid in the seal zone during the run",
        "trade practice, recalled",
        Known::Memory,
        sealing::wetted,
    ),
    of_job(
        "neck-plugs",
        "liquid past gas in the neck",
        "F. P. Bretherton, J. Fluid Mech. 10 (1961) 166",
        Known::Read,
        sealing::plug,
    ),
    of_job(
        "neck-not-entered",
        "entry of a liquid that does not wet",
        "Young-Laplace equation; contact angles as marked with the liquid",
        Known::Memory,
        sealing::entry,
    ),
    of_job(
        "torch-no-room",
        "room for the torch",
        "trade practice, recalled",
        Known::Memory,
        sealing::torch,
    ),
    of_job(
        "tail-short",
        "room along the axis",
        "trade practice, recalled",
        Known::Memory,
        sealing::tail,
    ),
    of_job(
        "neck-blows-out",
        "gas pressure at closing",
        "gas law, trade practice",
        Known::Memory,
        sealing::blow_out,
    ),
    of_job(
        "pump-cut-off",
        "order of sealing",
        "trade practice, recalled",
        Known::Memory,
        sealing::cut_off,
    ),
    of_job(
        "ampoule-too-full",
        "fill of ampoules",
        "trade practice, recalled",
        Known::Memory,
        sealing::overfilled,
    ),
    of_job(
        "ampoule-full-when-warm",
        "hydraulic-full temperature",
        "expansion, derived",
        Known::Read,
        sealing::hydraulic,
    ),
    of_job(
        "ampoule-bursts-frozen",
        "room for freezing",
        "densities of liquid and solid",
        Known::Memory,
        sealing::freezing,
    ),
    of_job(
        "gas-condenses",
        "gas over a cold bath",
        "boiling points, recalled; trade practice",
        Known::Memory,
        sealing::condenses,
    ),
    of_job(
        "seal-under-vapour",
        "vapour while sealing",
        "trade practice, recalled",
        Known::Memory,
        sealing::vapour,
    ),
    of_job(
        "metal-in-wrong-gas",
        "gas that the metal meets",
        "alkali metal operating procedures of universities",
        Known::Read,
        sealing::metal_closed_in_air,
    ),
    of_job(
        "ampoule-pressure",
        "pressure in sealed ampoules",
        "EN 1595 design stress of 7 N/mm2; trusted part is a judgement",
        Known::Read,
        strain::ampoule,
    ),
    of_job(
        "ampoule-above-two-bar",
        "hand-made ampoules above 2 bar",
        "judgement without a source",
        Known::CommonPractice,
        strain::hand_made,
    ),
    of_job(
        "overpressure",
        "overpressure while it is worked",
        "EN 1595 design stress of 7 N/mm2; trusted part is a judgement",
        Known::Read,
        strain::over,
    ),
    of_job(
        "collapses",
        "tubes and bulbs under vacuum",
        "Bresse (1859); Zoelly (1915)",
        Known::Memory,
        strain::collapse,
    ),
    of_job(
        "flat-end-weak",
        "flat ends under vacuum",
        "S. Timoshenko; Roark; EN 1595 design stress",
        Known::Memory,
        strain::flat,
    ),
    of_job(
        "shock",
        "temperature difference",
        "plate theory; makers' 120 K",
        Known::Read,
        strain::shock,
    ),
    of_job(
        "strain-reading",
        "polariscope reading",
        "SCHOTT brochure, stress-optical coefficient",
        Known::Read,
        strain::reading,
    ),
    of_job(
        "derating-hopeful",
        "trusted part of the rating",
        "judgement without a source",
        Known::CommonPractice,
        strain::trust,
    ),
    of_job(
        "closed-while-heated",
        "open routes while it is built",
        "judgement without a source",
        Known::CommonPractice,
        blowing::closed,
    ),
    of_job(
        "oven-too-small",
        "parts against the oven",
        PRACTICE,
        Known::CommonPractice,
        blowing::oven,
    ),
    of_job(
        "run-between-bends",
        "straight runs between bends",
        "glassblowing defaults, recalled",
        Known::Memory,
        blowing::short_runs,
    ),
    of_job(
        "quench-unreached",
        "whether a quench reaches every hollow",
        "geometry",
        Known::Read,
        cleaning::unreached,
    ),
    of_job(
        "residue-behind-seal",
        "residue behind seals",
        PRACTICE,
        Known::CommonPractice,
        cleaning::behind_seal,
    ),
    of_job(
        "quench-violent",
        "what quenches",
        "alkali metal operating procedures of universities",
        Known::Read,
        cleaning::water,
    ),
    of_job(
        "quench-much-gas",
        "hydrogen of the quench",
        "CRC formation enthalpies, as in chemicals 1.5.2",
        Known::Read,
        cleaning::much_gas,
    ),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_stand_once_and_every_rule_is_sourced() {
        let mut ids: Vec<&str> = RULES.iter().map(|rule| rule.id).collect();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), RULES.len());
        assert!(
            RULES
                .iter()
                .all(|rule| !rule.about.is_empty() && !rule.source.is_empty())
        );
    }
}
