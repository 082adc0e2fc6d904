//! The stages on whole designs: numbers that can be worked out by hand, and the commands that print them.

#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use std::path::{Path, PathBuf};
use std::process::Command;
use vialwright::geom::Interior;
use vialwright::geom::build::{Built, build};
use vialwright::model::job::Input;
use vialwright::model::{Apparatus, Gas, Run, Stop, file};
use vialwright::stages::{Case, Stages};
use vialwright::units::si::*;

fn example(name: &str) -> Apparatus {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
    file::read(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn with<T>(apparatus: &Apparatus, look: impl for<'a> FnOnce(&'a Case<'a>, &Stages<'a>) -> T) -> T {
    let built: Built = build(apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    let case = Case::new(apparatus, &built, &interior);
    look(&case, &Stages::of(&case))
}

#[track_caller]
fn close(got: f64, expected: f64, part: f64) {
    assert!((got / expected - 1.0).abs() <= part, "got {got}, expected {expected}");
}

/// formulas.md, section 7: eight ampoules of 1.000 g of rubidium at 80 % yield take 14.14776 g of RbCl and 2.34462 g
/// of calcium, twice as much at 100 % excess.
#[test]
fn the_charge_of_eight_ampoules_of_rubidium() {
    let mut apparatus = example("gallium-indium-eight.json");
    apparatus.charge.liquid = "Rb".to_owned();
    apparatus.job.reaction = "2 RbCl + Ca -> 2 Rb + CaCl2".to_owned();
    for (input, value) in [
        (Input::AskedG, 1.0),
        (Input::Spares, 0.0),
        (Input::Heel, 0.0),
        (Input::Yield, 80.0),
        (Input::Excess, 100.0),
        (Input::Filling, 40.0),
    ] {
        apparatus.job.set(input, Some(value));
    }
    with(&apparatus, |_, stages| {
        let charge = stages.charge();
        close(in_grams(charge.needed_mass.clone().unwrap()), 8.0, 1e-12);
        close(in_millilitres(charge.needed.clone().unwrap()), 8.0 / 1.459684, 1e-6);
        let reagents = charge.reagents.clone().unwrap().unwrap();
        close(in_grams(reagents[0].mass), 14.14776, 1e-6);
        close(in_grams(reagents[1].mass), 4.68925, 2e-6);
    });
    apparatus.job.reaction = "RbCl + Ca -> Rb + CaCl2".to_owned();
    with(&apparatus, |_, stages| {
        let why = stages.charge().reagents.clone().unwrap().unwrap_err().to_string();
        assert!(why.contains("not balanced: Cl 1 against 2"), "{why}");
    });
}

#[test]
fn distilling_is_held_up_by_the_lesser_limit() {
    let mut apparatus = example("rubidium-six.json");
    apparatus.job.set(Input::Pot, Some(200.0));
    with(&apparatus, |case, stages| {
        let still = stages.still();
        // liquids_formulas.md: rubidium at 200 C, 6.0498 Pa.
        close(in_pascals(still.pot_p.clone().unwrap()), 6.0498, 1e-4);
        let levels = still.levels.clone().unwrap();
        assert_eq!(levels.len(), 8);
        for pair in levels.windows(2) {
            assert!(pair[1].surface < pair[0].surface && pair[1].depth < pair[0].depth);
        }
        for level in &levels {
            let least = level.by_surface.value.min(level.by_way.value);
            assert!(level.rate.value < least && level.rate.value > 0.3 * least);
        }
        // The way is so narrow that the rate hardly changes: the time is the mass by the rate.
        let mass = stages.charge().needed.clone().unwrap() * case.liquid().unwrap().density_at(celsius(200.0)).unwrap();
        let time = still.time.clone().unwrap();
        close(in_seconds(time), mass.value / levels[0].rate.value, 0.02);
        let held = still.held.clone().unwrap();
        let bands: Vec<(f64, f64)> = held.iter().map(|held| held.band_deg.unwrap()).collect();
        assert!(
            bands
                .windows(2)
                .all(|pair| pair[1].0 >= pair[0].0 - 1e-6 && pair[1].1 <= pair[0].1 + 1e-6),
            "{bands:?}"
        );
    });
    // Ten degrees more in the pot than in the receiver or none: nothing drives it over.
    apparatus.job.set(Input::Receiver, Some(200.0));
    with(&apparatus, |_, stages| assert!(stages.still().time.is_err()));
    apparatus.job.set(Input::Pot, Some(400.0));
    with(&apparatus, |_, stages| {
        let why = stages.still().pot_p.clone().unwrap_err().to_string();
        assert!(why.contains("39.3 \u{b0}C to 276.9 \u{b0}C"), "{why}");
    });
}

#[test]
fn an_unknown_liquid_leaves_nothing_green() {
    let mut apparatus = example("teaching-three.json");
    apparatus.charge.liquid = "elixir".to_owned();
    with(&apparatus, |_, stages| {
        assert!(stages.charge().density.is_err() && stages.still().time.is_err());
        let neck = &stages.seal().necks[0];
        assert!(neck.full.is_err() && neck.plug_bore.is_err() && neck.warm.is_err());
        let unknown = stages.seal().sheet.groups.iter().flat_map(|group| &group.lines);
        assert!(
            unknown
                .filter(|line| line.unknown)
                .all(|line| line.value.starts_with("unknown: "))
        );
        // What needs no liquid is known all the same.
        assert!(stages.gas().pump_down.is_ok() && !stages.strength().parts.is_empty());
    });
}

#[test]
fn the_run_says_what_is_sealed_in_which_order_and_where_it_wets() {
    let mut apparatus = example("teaching-three.json");
    let stop = |tilt_deg: f64, seals: &[&str]| Stop {
        seals: seals.iter().map(|name| (*name).to_owned()).collect(),
        ..Stop::at(tilt_deg, 0.0)
    };
    // So much that the necks stand full while it lies on its side.
    apparatus.charge.fills[0].volume_ml = 30.0;
    apparatus.run = Run {
        gas: Gas::Filled { pressure_mbar: 800.0 },
        drips_into: None,
        stops: vec![
            stop(0.0, &[]),
            stop(-75.0, &[]),
            stop(0.0, &["vial-1", "vial-2", "vial-3"]),
        ],
        ..Run::default()
    };
    with(&apparatus, |case, stages| {
        close(in_millibars(stages.seal().closing), 800.0, 1e-9);
        assert!(case.has_gas());
        assert_eq!(stages.seal().cut_off, []);
        assert_eq!(stages.seal().order.len(), 3);
        // The order is by the way to the pump.
        assert!(stages.seal().necks.iter().any(|neck| neck.wetted_at.is_some()));
    });
}

#[test]
fn every_join_of_the_examples_has_an_open_route() {
    for name in [
        "rubidium-six.json",
        "gallium-indium-eight.json",
        "benzene-d6-five.json",
        "teaching-three.json",
    ] {
        with(&example(name), |case, stages| {
            let steps = &stages.build().steps;
            assert_eq!(steps.len(), case.built.names.len(), "{name}");
            for step in steps.iter().filter(|step| !step.to.is_empty()) {
                assert!(step.vent.is_some(), "{name}: {step:?}");
            }
        });
    }
}

fn vialwright(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_vialwright"))
        .current_dir(PathBuf::from(env!("CARGO_MANIFEST_DIR")))
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

#[test]
fn the_commands_print_stages_with_their_workings() {
    let (status, text, _) = vialwright(&["charge", "examples/rubidium-six.json"]);
    assert_eq!(status, 0);
    assert!(text.contains("m = V rho") && text.contains("Source: ") && text.contains("proposed: 10 K above"));
    let (_, brief, _) = vialwright(&["charge", "examples/rubidium-six.json", "--brief"]);
    assert!(!brief.contains("Source: ") && brief.contains("product needed"));
    let (status, json, _) = vialwright(&["seal", "examples/teaching-three.json", "--json"]);
    let sheets: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((status, sheets[0]["title"].as_str()), (0, Some("Necks and sealing")));
    assert_eq!(sheets[1]["title"].as_str(), Some("Strength and heat"));
    let lines = sheets[0]["groups"][0]["lines"].as_array().unwrap();
    assert!(lines.iter().any(|line| line["working"]["formula"].is_string()));
    let (status, _, error) = vialwright(&["still", "Cargo.toml"]);
    assert_eq!(status, 3);
    assert!(error.contains("Cargo.toml"), "{error}");
}
