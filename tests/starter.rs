//! The starter: whatever is asked, it gives an apparatus that a glassblower would accept and that pours, or a reason.

#![allow(clippy::unwrap_used, reason = "a test fails by it")]

use proptest::prelude::*;
use proptest::sample::select;
use vialwright::findings::{self, Severity};
use vialwright::geom::build::build;
use vialwright::geom::{Interior, Question, Stance, Tilts, tilts};
use vialwright::model::{Apparatus, Edit, Form, TubeSize, file};
use vialwright::starter::{self, Part, Refusal, Side, Sizes, Start, Wish};

/// Every combination of what can be taken or left.
fn topologies() -> Vec<Wish> {
    let mut list = Vec::new();
    for bits in 0..64_u32 {
        let bit = |i: u32| bits >> i & 1 == 1;
        list.push(Wish {
            pot: bit(0),
            receiver: bit(1),
            return_tube: bit(2),
            vacuum_port: bit(3),
            gas_port: bit(4),
            side: if bit(5) { Side::Left } else { Side::Right },
            ..Wish::default()
        });
    }
    list
}

/// Severity, rule and piece of everything graver than a note.
fn grave(apparatus: &Apparatus) -> Vec<(Severity, &'static str, String)> {
    let built = build(apparatus).unwrap();
    findings::geometric(apparatus, &built)
        .into_iter()
        .filter(|finding| finding.severity != Severity::Note)
        .map(|finding| (finding.severity, finding.rule, finding.piece))
        .collect()
}

fn interior(apparatus: &Apparatus) -> (Interior, Vec<usize>) {
    let built = build(apparatus).unwrap();
    let vials = built.vessels().collect();
    (
        Interior::new(built.names, built.primitives, built.ports).unwrap(),
        vials,
    )
}

/// The piece in which the charge lies, and its volume, mm3.
fn charge(apparatus: &Apparatus, interior: &Interior) -> (usize, f64) {
    let [fill] = apparatus.charge.fills.as_slice() else {
        panic!("one fill: {:?}", apparatus.charge.fills)
    };
    (interior.piece_index(&fill.piece).unwrap(), fill.volume_ml * 1000.0)
}

fn tilts_of_charge(apparatus: &Apparatus) -> Tilts {
    let (interior, _) = interior(apparatus);
    let (source, volume) = charge(apparatus, &interior);
    let ask = Question {
        volume: Some(volume),
        ..Question::default()
    };
    tilts(&interior, source, ask, Stance::default())
}

/// Everything that a starter promises and that is quickly told.
fn keeps_its_promises(wish: &Wish, start: &Start) -> Result<(), TestCaseError> {
    let apparatus = &start.apparatus;
    prop_assert!(apparatus.check().is_ok());
    prop_assert_eq!(grave(apparatus), vec![]);
    prop_assert_eq!(file::read(&file::write(apparatus)).unwrap(), apparatus.clone());
    let (interior, vials) = interior(apparatus);
    prop_assert_eq!(vials.len(), wish.vessels);
    let (source, volume) = charge(apparatus, &interior);
    prop_assert!(volume >= 1050.0 * wish.target_ml * wish.vessels as f64);

    // As drawn the charge stays where it was given.
    let rest = interior.at(Stance::default()).settle(&[(source, volume)]);
    prop_assert!(rest.lost.is_empty() && rest.left_over == 0.0);
    prop_assert!(rest.pools.iter().all(|pool| pool.piece == source));
    // Tilted to pour, every vial has its target and nothing is lost.
    let poured = interior
        .at(Stance::new(start.sums.pour_deg, 0.0))
        .settle(&[(source, volume)]);
    prop_assert!(poured.lost.is_empty() && poured.left_over == 0.0);
    for vial in vials {
        let shares = poured.pools.iter().flat_map(|pool| &pool.shares);
        let held: f64 = shares.filter(|(piece, _)| *piece == vial).map(|(_, v)| v).sum();
        prop_assert!(
            (held / (1000.0 * wish.target_ml) - 1.0).abs() < 5e-3,
            "{} holds {}",
            vial,
            held
        );
    }
    let sums = &start.sums;
    prop_assert!(sums.sealed_ml > wish.target_ml && sums.room_mm >= 30.0 - 1e-9);
    prop_assert!(sums.body_mm <= 120.0 && sums.header_mm <= 1500.0 && sums.pitch_mm >= 40.0);
    Ok(())
}

fn size(part: Part) -> impl Strategy<Value = Option<TubeSize>> {
    let list: Vec<TubeSize> = starter::offered(part).collect();
    prop_oneof![3 => Just(None), 2 => select(list).prop_map(Some)]
}

fn wish() -> impl Strategy<Value = Wish> {
    let sizes = (
        size(Part::Header),
        size(Part::Body),
        size(Part::Neck),
        size(Part::Bridge),
    );
    let target = prop_oneof![
        2 => (1_u32..=40).prop_map(|tenths| f64::from(tenths) / 10.0),
        1 => (1_u32..=250).prop_map(|tenths| f64::from(tenths) / 10.0),
        1 => 0.1..25.0_f64,
    ];
    let parts = any::<(bool, bool, bool, bool, bool, bool)>();
    (1_usize..=24, target, sizes, 0_u32..=20, parts).prop_map(
        |(vessels, target_ml, (header, body, neck, bridge), slope, parts)| Wish {
            vessels,
            target_ml,
            liquid: "Water".to_owned(),
            sizes: Sizes {
                header,
                body,
                neck,
                bridge,
            },
            slope_deg: f64::from(slope) / 2.0,
            side: if parts.0 { Side::Left } else { Side::Right },
            pot: parts.1,
            receiver: parts.2,
            return_tube: parts.3,
            vacuum_port: parts.4,
            gas_port: parts.5,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn whatever_is_asked_it_is_sound_or_refused_with_a_limit(wish in wish()) {
        match starter::start(&wish) {
            Ok(start) => keeps_its_promises(&wish, &start)?,
            Err(refusal) => {
                // No sizes from stock get as far as the last guard.
                prop_assert!(!matches!(refusal, Refusal::Unsound { .. } | Refusal::Unfit(_)), "{refusal}");
                let words = refusal.to_string();
                prop_assert!(words.ends_with('.') && words.len() > 20, "{words}");
            }
        }
    }

    #[test]
    fn sizes_out_of_the_blue_give_a_reason_and_no_panic(
        od in prop_oneof![any::<f64>(), 0.0..60.0_f64],
        wall in prop_oneof![any::<f64>(), 0.0..20.0_f64],
        target in prop_oneof![any::<f64>(), -1.0..30.0_f64],
        slope in prop_oneof![any::<f64>(), -1.0..12.0_f64],
        vessels in 0_usize..30,
        part in select(Part::ALL.to_vec()),
        liquid in ".{0,40}",
    ) {
        let mut wish = Wish { vessels, target_ml: target, slope_deg: slope, liquid, ..Wish::default() };
        *wish.sizes.of_mut(part) = Some(TubeSize::new(od, wall));
        if let Ok(start) = starter::start(&wish) {
            prop_assert!(start.apparatus.check().is_ok());
            prop_assert_eq!(grave(&start.apparatus), vec![]);
        }
    }
}

#[test]
fn every_topology_is_made_or_refused_for_want_of_a_port_or_a_vessel() {
    let (mut made, mut names) = (0, std::collections::BTreeSet::new());
    for wish in topologies() {
        match starter::start(&wish) {
            Ok(start) => {
                keeps_its_promises(&wish, &start).unwrap();
                let has = |name: &str| start.apparatus.piece(name).is_some();
                assert_eq!(has("receiver"), wish.receiver);
                assert_eq!(has("pot"), wish.pot);
                assert_eq!(has("return"), wish.return_tube);
                assert_eq!(has("pump"), wish.vacuum_port);
                assert_eq!(has("gas"), wish.gas_port);
                assert_eq!(has("leg"), !wish.pot && !wish.receiver);
                names.insert(start.apparatus.charge.fills[0].piece.clone());
                made += 1;
            }
            Err(refusal) if !wish.vacuum_port && !wish.gas_port => assert_eq!(refusal, Refusal::NoPort),
            Err(refusal) => {
                assert!(wish.return_tube && !wish.pot && !wish.receiver);
                assert_eq!(refusal, Refusal::NothingToReturnTo);
            }
        }
    }
    // Of 64, 16 have no port, and of the rest 6 have nothing to return to.
    assert_eq!(made, 64 - 16 - 6);
    assert_eq!(names.into_iter().collect::<Vec<_>>(), ["leg", "pot", "receiver"]);
}

/// The charge stays put over a band about the stance as drawn, and some turn empties its vessel into the header.
#[test]
fn the_charge_is_held_upright_and_drains() {
    for wish in topologies() {
        let Ok(start) = starter::start(&wish) else { continue };
        let found = tilts_of_charge(&start.apparatus);
        let hold = found.hold.unwrap();
        assert!(hold.0 < -5.0 && hold.1 > 5.0, "{wish:?}: {hold:?}");
        let right = wish.side == Side::Right;
        let drain = if right {
            found.drain.clockwise
        } else {
            found.drain.anticlockwise
        };
        assert!(drain.unwrap().abs() < 130.0, "{wish:?}: {drain:?}");
        let spill = if right {
            found.spill.clockwise
        } else {
            found.spill.anticlockwise
        };
        assert!(
            spill.unwrap().abs() < start.sums.pour_deg.abs(),
            "{wish:?}: it spills before it meters"
        );
    }
}

#[test]
fn the_pour_tilt_is_the_metering_tilt_of_every_vial() {
    for side in [Side::Right, Side::Left] {
        let start = starter::start(&Wish {
            side,
            slope_deg: 2.0,
            ..Wish::default()
        })
        .unwrap();
        let (interior, vials) = interior(&start.apparatus);
        for vial in vials {
            let ask = Question {
                target: Some(1500.0),
                ..Question::default()
            };
            let both = tilts(&interior, vial, ask, Stance::default()).metering;
            let found = if side == Side::Right {
                both.clockwise
            } else {
                both.anticlockwise
            };
            assert!(
                (found.unwrap() - start.sums.pour_deg).abs() < 1e-3,
                "{found:?} {}",
                start.sums.pour_deg
            );
        }
    }
}

#[test]
fn the_default_has_six_vials_and_nothing_to_complain_of() {
    let start = starter::start(&Wish::default()).unwrap();
    keeps_its_promises(&Wish::default(), &start).unwrap();
    assert_eq!(start.apparatus.title, "Water, 6 ampoules of 1.5 mL");
    assert_eq!(start.apparatus.rows[0].count, 6);
    assert!(start.notes.len() <= 1, "{:?}", start.notes);
    assert!((start.sums.charge_ml - 9.9).abs() < 0.25, "{:?}", start.sums);
}

#[test]
fn left_is_the_mirror_of_right() {
    let right = starter::start(&Wish::default()).unwrap();
    let left = starter::start(&Wish {
        side: Side::Left,
        ..Wish::default()
    })
    .unwrap();
    assert_eq!(left.apparatus, right.apparatus.apply(&Edit::Mirror).unwrap());
    assert_eq!(left.sums.pour_deg, -right.sums.pour_deg);
}

#[test]
fn what_is_wished_is_used() {
    let header = TubeSize::new(22.0, 1.8);
    let neck = TubeSize::new(6.0, 1.5);
    let wish = Wish {
        sizes: Sizes {
            header: Some(header),
            neck: Some(neck),
            ..Sizes::default()
        },
        ..Wish::default()
    };
    let start = starter::start(&wish).unwrap();
    let Some(Form::Tube(tube)) = start.apparatus.piece("header").map(|piece| piece.form.clone()) else {
        panic!("a header")
    };
    assert_eq!((tube.size, start.apparatus.rows[0].pattern.neck), (header, neck));
    assert_eq!((start.sums.sizes.header, start.sums.sizes.neck), (header, neck));
}

#[test]
fn a_refusal_names_the_number_and_the_limit() {
    let words = |wish: Wish| starter::start(&wish).unwrap_err().to_string();
    let with = |part: Part, od: f64, wall: f64| {
        let mut wish = Wish::default();
        *wish.sizes.of_mut(part) = Some(TubeSize::new(od, wall));
        wish
    };
    for (wish, said) in [
        (
            Wish {
                vessels: 0,
                ..Wish::default()
            },
            "number of vials must be 1 to 24",
        ),
        (
            Wish {
                vessels: 25,
                ..Wish::default()
            },
            "number of vials must be 1 to 24",
        ),
        (
            Wish {
                target_ml: f64::NAN,
                ..Wish::default()
            },
            "target fill must be 0.1 to 25 mL",
        ),
        (
            Wish {
                slope_deg: -1.0,
                ..Wish::default()
            },
            "slope of the header must be 0 to 10",
        ),
        (with(Part::Header, 40.0, 1.4), "8 to 32 mm"),
        (with(Part::Body, 7.0, 1.0), "the limit is 120 mm"),
        (
            Wish {
                target_ml: 0.5,
                ..with(Part::Body, 22.0, 1.2)
            },
            "no less than",
        ),
        (with(Part::Neck, 12.0, 1.0), "7.7 mm at most"),
        (with(Part::Header, 8.0, 3.6), "a bore of 1 to 40 mm"),
        (
            Wish {
                vessels: 24,
                target_ml: 25.0,
                ..Wish::default()
            },
            "tube comes in 1500 mm",
        ),
        (
            Wish {
                vessels: 24,
                target_ml: 5.0,
                pot: false,
                receiver: false,
                ..Wish::default()
            },
            "limit is 300 mm",
        ),
        (
            Wish {
                vacuum_port: false,
                ..Wish::default()
            },
            "port",
        ),
    ] {
        let words = words(wish.clone());
        assert!(words.contains(said), "{words} for {wish:?}");
    }
    let narrow = Wish {
        sizes: Sizes {
            header: Some(TubeSize::new(8.0, 1.0)),
            body: Some(TubeSize::new(16.0, 1.2)),
            neck: Some(TubeSize::new(10.0, 1.0)),
            ..Sizes::default()
        },
        ..Wish::default()
    };
    assert!(words(narrow).contains("wider than the header of 8 mm"));
}
