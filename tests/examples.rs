//! The worked examples stay readable, keep their bytes, and are sound at the bench.

#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use std::path::PathBuf;
use vialwright::geom::build::build;
use vialwright::geom::{Interior, Question, Stance, tilts};
use vialwright::model::Apparatus;
use vialwright::model::file;

fn examples() -> Vec<(String, String, Apparatus)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut list: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ext| ext == "json"))
        .map(|path| {
            let text = std::fs::read_to_string(&path).unwrap();
            let apparatus = file::read(&text).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
            (
                path.file_stem().unwrap().to_string_lossy().into_owned(),
                text,
                apparatus,
            )
        })
        .collect();
    list.sort_by(|a, b| a.0.cmp(&b.0));
    list
}

#[test]
fn there_are_four_and_they_keep_their_bytes() {
    let names: Vec<String> = examples().into_iter().map(|(name, ..)| name).collect();
    assert_eq!(
        names,
        [
            "benzene-d6-five",
            "gallium-indium-eight",
            "rubidium-six",
            "teaching-three"
        ]
    );
    for (name, text, apparatus) in examples() {
        assert!(file::write(&apparatus) == text, "{name}");
    }
}

#[test]
fn the_charge_covers_the_targets() {
    for (name, _, apparatus) in examples() {
        let targets: f64 = apparatus
            .rows
            .iter()
            .map(|row| (1..=row.count).map(|i| row.ampoule(i).target_ml).sum::<f64>())
            .sum();
        let charge: f64 = apparatus.charge.fills.iter().map(|fill| fill.volume_ml).sum();
        assert!(
            // What is more than the heel ends in the vessels.
            charge >= 1.005 * targets && charge <= 1.03 * targets,
            "{name}: {charge} mL for {targets} mL"
        );
        assert!(
            apparatus.charge.fills.iter().all(|fill| fill.piece == "receiver"),
            "{name}"
        );
    }
}

#[test]
fn everything_stands_as_drawn_and_has_a_port() {
    for (name, _, apparatus) in examples() {
        let built = build(&apparatus).unwrap();
        assert_eq!(built.placed.strains, [], "{name}");
        assert_eq!(built.ports.len(), 1, "{name}: {:?}", built.ports);
        assert_eq!(built.vessels().count(), apparatus.rows[0].count, "{name}");
    }
}

#[test]
fn a_glassblower_would_accept_them() {
    for (name, _, apparatus) in examples() {
        let built = build(&apparatus).unwrap();
        for finding in vialwright::findings::geometric(&apparatus, &built) {
            assert!(
                finding.severity == vialwright::findings::Severity::Note,
                "{name}: {finding:?}"
            );
        }
    }
}

/// As drawn everything stays in the receiver; poured at the metering tilt every vial gets its target.
#[test]
fn they_pour_what_they_are_meant_to() {
    for (name, _, apparatus) in examples() {
        let built = build(&apparatus).unwrap();
        let vessels: Vec<usize> = built.vessels().collect();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        let receiver = interior.piece_index("receiver").unwrap();
        let given = [(receiver, apparatus.charge.fills[0].volume_ml * 1000.0)];
        let rest = interior.at(Stance::new(0.0, 0.0)).settle(&given);
        assert_eq!(rest.pools.len(), 1, "{name}");
        assert_eq!((rest.pools[0].piece, rest.lost.len()), (receiver, 0), "{name}");

        let target = apparatus.rows[0].pattern.target_ml * 1000.0;
        let ask = Question {
            target: Some(target),
            ..Question::default()
        };
        let metering = tilts(&interior, vessels[0], ask, Stance::default())
            .metering
            .clockwise
            .unwrap();
        assert!((-90.0..-45.0).contains(&metering), "{name}: {metering}");
        let poured = interior.at(Stance::new(metering, 0.0)).settle(&given);
        assert!(poured.lost.is_empty(), "{name}: {:?}", poured.lost);
        for vessel in vessels {
            let pools = poured.pools.iter().filter(|pool| pool.piece == vessel);
            let volume: f64 = pools.map(|pool| pool.volume).sum();
            assert!(
                (volume / target - 1.0).abs() < 1e-3,
                "{name}: {vessel} holds {volume} of {target}"
            );
        }
    }
}
