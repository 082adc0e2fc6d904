//! The sheets of the four examples: nothing left out, nothing empty that is known, cautions where they belong; numbers
//! worked out by hand from the designs.

use super::trials::{EXAMPLES, job, lines, with};
use super::*;
use crate::findings::Severity;

/// Steps of a block.
fn steps_of(block: &Block) -> &[Step] {
    match block {
        Block::Steps(steps) => steps,
        _ => &[],
    }
}

fn steps(leaf: &Leaf) -> Vec<&Step> {
    leaf.blocks.iter().flat_map(steps_of).collect()
}

fn leaves(case: &Case) -> [Leaf; 4] {
    [
        cuts::leaf(case),
        assembly::leaf(case),
        procedure::leaf(case),
        order::leaf(case),
    ]
}

/// An empty cell only where its head asks for something; as many cells as heads; no text empty; nothing not a number.
fn holds_together(leaf: &Leaf) {
    for block in &leaf.blocks {
        match block {
            Block::Table(table) => {
                assert_eq!(table.heads.len(), table.numbers.len(), "{}", leaf.title);
                for row in &table.rows {
                    assert_eq!(row.len(), table.heads.len(), "{row:?}");
                    for (cell, head) in row.iter().zip(&table.heads) {
                        assert!(
                            !cell.is_empty() || head.ends_with('\u{2026}'),
                            "{}: {head}: {row:?}",
                            leaf.title
                        );
                    }
                }
            }
            Block::Heading(text) | Block::Text(text) | Block::Caution(text) | Block::Note(text) => {
                assert!(!text.trim().is_empty());
            }
            Block::Steps(steps) => assert!(!steps.is_empty() && steps.iter().all(|step| !step.text.is_empty())),
            Block::Fields(fields) => assert!(fields.iter().all(|field| !field.label.is_empty())),
            Block::Figure(_) => {}
        }
    }
    for line in lines(leaf) {
        assert!(
            !line.contains("NaN") && !line.contains("inf ") && !line.contains(".."),
            "{line}"
        );
    }
}

#[test]
fn nothing_is_left_out_and_cautions_stand() {
    for (name, _) in EXAMPLES {
        with(name, |case| {
            let leaves = leaves(case);
            for leaf in &leaves {
                holds_together(leaf);
            }
            let [cuts, assembly, run, order] = leaves.map(|leaf| lines(&leaf).join("\n"));
            for piece in &case.built().names {
                assert!(assembly.contains(piece.as_str()), "{name}: {piece}");
            }
            for vessel in &case.job().vessels {
                assert!(
                    run.contains(&format!("Seal {}, ", vessel.name)),
                    "{name}: {}",
                    vessel.name
                );
                assert!(run.contains(&format!("{} | ", vessel.name)), "{name}: {}", vessel.name);
            }
            assert!(cuts.contains(case.apparatus().title.as_str()) && order.contains("must arrive clean"));
            // Every finding that stands is told somewhere, a stop as one.
            for finding in &case.review().findings {
                let what = finding.what.trim_end_matches('.');
                assert!(run.contains(what) || assembly.contains(what), "{name}: {what}");
                if finding.severity == Severity::Stop {
                    assert!(run.contains("! STOP. ") || assembly.contains("! STOP. "), "{name}");
                }
            }
            let hazards = case.job().liquid.as_ref().and_then(|liquid| liquid.hazards.clone());
            if let Some(hazards) = hazards {
                assert!(run.contains(&hazards.value) && order.contains(&hazards.value), "{name}");
            }
        });
    }
}

/// Rubidium: what goes in follows from formula masses (RbCl 120.921, Ca 40.078, Rb 85.4678 g/mol), the reaction, its
/// yield of 80 % and twice the calcium; where liquid lies from the run of the design.
#[test]
fn the_run_sheet_of_rubidium() {
    with("rubidium-six", |case| {
        let leaf = procedure::leaf(case);
        let text = lines(&leaf).join("\n");
        // 6 x 1.5 mL and half a per cent of heel at 1.4555 g/mL.
        let rb_g = 9.0 * 1.005 * 1.4555;
        let rbcl_g = rb_g / 85.4678 / 0.8 * 120.921;
        let ca_g = rb_g / 85.4678 / 0.8 / 2.0 * 2.0 * 40.078;
        for (grams, what) in [(rbcl_g, "RbCl"), (ca_g, "Ca")] {
            let line = text
                .lines()
                .find(|line| line.starts_with("- Weigh") && line.contains(&format!(" g of {what} into pot")));
            let told: f64 = line.unwrap().split(' ').nth(2).unwrap().parse().unwrap();
            assert!((told / grams - 1.0).abs() < 2e-3, "{told} {grams}");
        }
        // 209500 ppm x (1/1000)^3.
        assert!(text.contains("3 times: pump to 1 mbar, fill with argon to 1000 mbar. Oxygen left then: 0.00021 ppm"));
        // From 0 to -67.89 degrees at 2 degrees a second.
        assert!(text.contains("In 34 s, at 2\u{b0} a second, turn to tilt -67.9\u{b0}, roll 0.0\u{b0}; rest 60 s."));
        let moments: Vec<usize> = steps(&leaf)
            .iter()
            .filter_map(|step| match step.figure {
                Some(Figure::Moment { stop }) => Some(stop),
                _ => None,
            })
            .collect();
        // Distilling shows the first stop as well.
        assert_eq!(moments, [0, 0, 1, 2]);
        // What the vials hold after the pour is the charge but for what the receiver keeps.
        let pour = steps(&leaf)
            .into_iter()
            .find(|step| step.text.starts_with("Pour."))
            .unwrap();
        let number = |name: &str| name.strip_prefix("vial-").and_then(|number| number.parse::<f64>().ok());
        let count = |label: &str| match label.trim_end_matches(", each").split_once(" to ") {
            Some((first, last)) => number(last).unwrap() - number(first).unwrap() + 1.0,
            None => 1.0,
        };
        let fields = pour.fields.iter();
        let held = fields.filter_map(|field| {
            let each: f64 = field.value.strip_suffix(" mL")?.parse().ok()?;
            Some(each * count(&field.label))
        });
        let held: f64 = held.sum();
        assert!((held - 9.1).abs() < 0.05, "{held}");
        assert!(text.contains("Seal the neck in riser (8 mm outside, bore 5 mm): the pot is cut off."));
        assert!(text.contains("no water, carbon dioxide or halon") && text.contains("tert-butanol in heptane"));
    });
}

#[test]
fn the_sheets_of_the_other_examples_speak_of_their_own() {
    with("gallium-indium-eight", |case| {
        let text = lines(&procedure::leaf(case)).join("\n");
        assert!(text.contains("It is not distilled") && !text.contains("class D"));
        // 8 x 2.5 mL, one spare, half a per cent of heel: 22.6 mL, of which the design draws 20.2.
        assert!(
            text.contains("Wanted in the end: 22.60 mL") && text.contains("Drawn as charge in the design: 20.20 mL")
        );
        let assembly = lines(&assembly::leaf(case)).join("\n");
        assert!(assembly.contains("does not go into the oven of 600.0 mm"));
        let order = lines(&order::leaf(case)).join("\n");
        assert!(
            order.contains("charging-joint | ground joint 14/23")
                && order.contains("gas | stopcock, arms 10 \u{d7} 1 mm")
        );
    });
    with("benzene-d6-five", |case| {
        let text = lines(&procedure::leaf(case)).join("\n");
        assert!(text.contains("freeze, pump, thaw") && text.contains("Stopper pot-joint"));
        // 5 x 0.8 mL and half a per cent of heel, and a film of a thin liquid.
        assert!(text.contains("pot at 30.0 \u{b0}C"));
    });
}

/// Every join of the assembly sheet but a closing one leaves a route for breath, and the hosts come before the guests.
#[test]
fn joins_have_their_route_and_their_order() {
    for (name, _) in EXAMPLES {
        job(name, |job| {
            let stages = crate::stages::Stages::of(job);
            let steps = &stages.build().steps;
            assert_eq!(steps.len(), job.built.names.len());
            for (i, step) in steps.iter().enumerate() {
                let is_made = |host: &String| steps[..i].iter().any(|earlier| earlier.piece == *host);
                assert!(step.to.iter().all(is_made), "{name}: {}", step.piece);
                assert!(step.vent.is_some(), "{name}: {}", step.piece);
                assert!(
                    step.open.contains(step.vent.as_ref().unwrap()),
                    "{name}: {}",
                    step.piece
                );
            }
        });
    }
    with("rubidium-six", |case| {
        let leaf = assembly::leaf(case);
        let inlet = steps(&leaf)
            .into_iter()
            .find(|step| step.text.starts_with("inlet to pot at 22.0 mm"))
            .unwrap();
        // The riser's butt seal is the 22 mm of neck away.
        assert!(inlet.cautions.iter().any(|text| text.contains("riser is 22.0 mm away")));
        let value = |label: &str| {
            inlet
                .fields
                .iter()
                .find(|field| field.label == label)
                .unwrap()
                .value
                .clone()
        };
        assert_eq!(
            (value("Breath by"), value("Plugged")),
            ("pump".to_owned(), "nothing".to_owned())
        );
        assert!(value("Initials").is_empty());
        // 550 to 480 degrees at 12 K/min for 3 mm by the makers' table, carried to the thickest joint of 2.8 mm.
        let rate = 12.0 * (3.0f64 / 2.8).powi(2);
        assert!(
            lines(&leaf)
                .join("\n")
                .contains(&format!("480.0 \u{b0}C at {rate:.1} K/min"))
        );
    });
}
