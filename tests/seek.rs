//! Runs under gas and with entry heads, sealed vessels, and what is found: against worked examples (reference values by
//! number: 2.4 plug limits, 2.5 entry heads), closed forms, and the pour itself.

use nalgebra::Vector2;
use vialwright::data::liquids::liquid;
use vialwright::geom::build::build;
use vialwright::geom::{Interior, Port, Postures, Primitive, Shape, Stance, pour};
use vialwright::model::{Apparatus, Gas, file};
use vialwright::run::{Halt, Hindrance, Outcome, Plan};
use vialwright::seek::even::{self, Obstacle, even};
use vialwright::seek::size::{self, Refusal, size};
use vialwright::seek::spread::{self, spread};
use vialwright::seek::{Shares, Unwatched, Watch, targets};
use vialwright::units::si::{celsius, degrees};

fn example(name: &str) -> Apparatus {
    let path = format!("{}/examples/{name}.json", env!("CARGO_MANIFEST_DIR"));
    file::read(&std::fs::read_to_string(path).expect("the example is there")).expect("the example is sound")
}

fn interior(apparatus: &Apparatus) -> Interior {
    let built = build(apparatus).expect("the apparatus can be built");
    Interior::new(built.names, built.primitives, built.ports).expect("its interior is sound")
}

fn tube(piece: usize, from: (f64, f64), to: (f64, f64), r: f64) -> Primitive {
    let shape = Shape::Frustum {
        from: Vector2::new(from.0, from.1),
        to: Vector2::new(to.0, to.1),
        r_from: r,
        r_to: r,
    };
    Primitive { piece, shape }
}

/// A header, with a vent at its right, with a vial on a neck of 2 mm bore radius below, and one on a stem of 5 mm.
fn manifold() -> Interior {
    let primitives = vec![
        tube(0, (0.0, 0.0), (120.0, 0.0), 8.0),
        tube(1, (30.0, 0.0), (30.0, -30.0), 2.0),
        tube(1, (30.0, -30.0), (30.0, -70.0), 6.0),
        tube(2, (80.0, 0.0), (80.0, -30.0), 5.0),
        tube(2, (80.0, -30.0), (80.0, -70.0), 6.0),
        tube(3, (115.0, 0.0), (115.0, 40.0), 4.0),
    ];
    let port = Port {
        piece: 3,
        at: Vector2::new(115.0, 40.0),
        heading: std::f64::consts::FRAC_PI_2,
        r: 4.0,
    };
    let names = ["header", "narrow", "wide", "vent"].map(str::to_owned).to_vec();
    Interior::new(names, primitives, vec![port]).expect("the manifold is sound")
}

fn plan(given: &[(usize, f64)], stops: &[f64], hindrance: Hindrance) -> Plan {
    let halt = |tilt: &f64| Halt {
        stance: Stance::new(*tilt, 0.0),
        ..Halt::default()
    };
    Plan {
        given: given.to_vec(),
        halts: stops.iter().map(halt).collect(),
        hindrance,
        ..Plan::default()
    }
}

#[test]
fn hindrances_are_those_of_the_worked_examples() {
    let mercury = liquid("mercury").expect("mercury is listed");
    let hindrance = Hindrance::of(mercury, celsius(25.0), degrees(140.0), Gas::Open, true).expect("its data are known");
    // 2.4: mercury, 25 C, 140 degrees: limiting radius 2.96950 mm. 2.5: r = 1 mm, 140 degrees: 5.60430 mm of head.
    assert!(
        (hindrance.plug_mm / 2.96950 - 1.0).abs() < 2e-4,
        "{}",
        hindrance.plug_mm
    );
    assert!(
        (hindrance.entry_mm2 / 5.60430 - 1.0).abs() < 2e-4,
        "{}",
        hindrance.entry_mm2
    );
    let water = liquid("water").expect("water is listed");
    let wetting = Hindrance::of(water, celsius(25.0), degrees(0.0), Gas::Open, true).expect("its data are known");
    // 2.3: water, 25 C: 2.48950 mm; what wets the glass needs no head.
    assert!((wetting.plug_mm / 2.48950 - 1.0).abs() < 1e-3, "{}", wetting.plug_mm);
    assert_eq!(wetting.entry_mm2, 0.0);
    let nothing = Hindrance::of(water, celsius(25.0), degrees(0.0), Gas::Evacuated, false).expect("nothing is asked");
    assert_eq!(nothing, Hindrance::default());
}

#[test]
fn under_gas_a_narrow_neck_takes_nothing_and_says_so() {
    let manifold = manifold();
    let hindrance = Hindrance {
        plug_mm: 2.5,
        gas_pa: 101_325.0,
        density_kg_m3: 1000.0,
        entry_mm2: 0.0,
    };
    let stops = [0.0, 0.2];
    let free =
        Outcome::of(&manifold, &plan(&[(0, 9_000.0)], &stops, Hindrance::default()), || true).expect("not stopped");
    assert!(
        free.stops[1].held[1] > 4_000.0,
        "evacuated it fills: {:?}",
        free.stops[1].held
    );
    let gas = Outcome::of(&manifold, &plan(&[(0, 9_000.0)], &stops, hindrance), || true).expect("not stopped");
    let rest = &gas.stops[1];
    assert!(rest.held[1] < 1.0, "{:?}", rest.held);
    let [locked] = &rest.locked[..] else {
        panic!("{:?}", rest.locked)
    };
    assert_eq!(locked.neck.vessel, 1);
    // Boyle: p V = (p + rho g h)(V - dV).
    let head_pa = 1000.0 * 9.80665 * locked.head_mm * 1e-3;
    let pressed = locked.neck.volume * (1.0 - 101_325.0 / (101_325.0 + head_pa));
    assert!(
        locked.head_mm > 2.0 && (locked.pressed_in - pressed).abs() < 1e-9 * pressed,
        "{locked:?}"
    );
    let all: f64 = rest.held.iter().sum();
    assert!((all + rest.settled.lost.iter().map(|l| l.1).sum::<f64>() - 9_000.0).abs() < 1e-6);
}

#[test]
fn a_lock_begins_and_ends_where_the_level_passes_the_mouth() {
    // A cup, 20 mm deep in liquid, with a bulb behind a narrow side arm 6 mm above the level. The level turns about its
    // middle, so that it reaches the arm's mouth, at the wall of 10 mm radius, where tan(tilt) = -6 / 10.
    let primitives = vec![
        tube(0, (0.0, 0.0), (0.0, 60.0), 10.0),
        tube(1, (0.0, 26.0), (40.0, 26.0), 2.0),
        tube(1, (40.0, 26.0), (70.0, 26.0), 6.0),
    ];
    let port = Port {
        piece: 0,
        at: Vector2::new(0.0, 60.0),
        heading: std::f64::consts::FRAC_PI_2,
        r: 10.0,
    };
    let names = ["cup", "bulb"].map(str::to_owned).to_vec();
    let cup = Interior::new(names, primitives, vec![port]).expect("the cup is sound");
    let hindrance = Hindrance {
        plug_mm: 2.5,
        gas_pa: 101_325.0,
        density_kg_m3: 1000.0,
        entry_mm2: 0.0,
    };
    let given = [(0, std::f64::consts::PI * 100.0 * 20.0)];
    let stops = [0.0, -50.0, -45.0, 0.0];
    let outcome = Outcome::of(&cup, &plan(&given, &stops, hindrance), || true).expect("not stopped");
    let [lock] = &outcome.locks[..] else {
        panic!("{:?}", outcome.locks)
    };
    let expected = -(6.0f64 / 10.0).atan().to_degrees();
    let tilts = [lock.begins, lock.ends].map(|moment| outcome.stance(moment).tilt_deg);
    // The place that is looked at lies a hundredth of a millimetre outside the neck.
    assert!(tilts.iter().all(|tilt| (tilt - expected).abs() < 0.05), "{tilts:?}");
    assert_eq!((lock.begins.leg, lock.ends.leg), (0, 2));
    // At 50 degrees it stands over the mouth by 10 sin 50 - 6 cos 50.
    let (sin, cos) = 50f64.to_radians().sin_cos();
    let head = 10.0 * sin - 6.0 * cos;
    assert!(
        (lock.locked.head_mm - head).abs() < 0.02,
        "{} {head}",
        lock.locked.head_mm
    );
    assert_eq!(
        outcome.stops.iter().map(|rest| rest.locked.len()).collect::<Vec<_>>(),
        [0, 1, 1, 0]
    );
    let free = Outcome::of(&cup, &plan(&given, &stops, Hindrance::default()), || true).expect("not stopped");
    assert!(free.locks.is_empty() && free.stops[1].held[1] > 10.0);
}

#[test]
fn a_liquid_that_does_not_wet_enters_at_its_entry_head() {
    let manifold = manifold();
    // Enters a bore of 2 mm radius at 6 mm of head.
    let hindrance = Hindrance {
        entry_mm2: 12.0,
        density_kg_m3: 6_000.0,
        ..Hindrance::default()
    };
    let held = |given: f64| {
        // The wide vial is full from the start, so that the header fills.
        let given = [(2, 5_500.0), (0, given)];
        let outcome = Outcome::of(&manifold, &plan(&given, &[0.1, 0.3], hindrance), || true).expect("not stopped");
        assert!(
            outcome
                .locks
                .iter()
                .all(|lock| lock.locked.entry_mm == Some(6.0) && lock.locked.head_mm <= 6.01),
            "{:?}",
            outcome.locks
        );
        outcome.stops[1].held[1]
    };
    assert!(held(1_000.0) < 1.0, "{}", held(1_000.0));
    assert!(held(12_000.0) > 3_000.0, "{}", held(12_000.0));
}

#[test]
fn a_vessel_that_is_sealed_off_keeps_what_it_holds() {
    let mut apparatus = example("teaching-three");
    apparatus.run.stops[2].seals = vec!["vial-2".to_owned()];
    let mut over = apparatus.run.stops[1].clone();
    over.tilt_deg = 170.0;
    apparatus.run.stops.push(over);
    let interior = interior(&apparatus);
    let outcome = Outcome::of(&interior, &Plan::of(&apparatus, &interior), || true).expect("not stopped");
    let vial = interior.piece_index("vial-2").expect("vial-2 is there");
    let before = outcome.stops[2].held[vial];
    assert!(before > 1_900.0);
    assert_eq!(outcome.stops[3].sealed, [(vial, before)]);
    assert!(
        outcome.stops[3].held[vial].abs() < 1e-6,
        "{}",
        outcome.stops[3].held[vial]
    );
    let others: f64 = outcome.stops[3].held.iter().sum::<f64>() + before;
    let lost: f64 = outcome.stops[3].settled.lost.iter().map(|l| l.1).sum();
    assert!((others + lost - 6_100.0).abs() < 1e-6, "{others} {lost}");
    assert!(outcome.wet_seals.is_empty(), "{:?}", outcome.wet_seals);
}

#[test]
fn the_examples_carry_a_run_that_meets_their_targets() {
    for name in [
        "teaching-three",
        "rubidium-six",
        "benzene-d6-five",
        "gallium-indium-eight",
    ] {
        let apparatus = example(name);
        let interior = interior(&apparatus);
        let targets = targets(&apparatus, &interior);
        let outcome = Outcome::of(&interior, &Plan::of(&apparatus, &interior), || true).expect("not stopped");
        let shares = Shares::of(&outcome, &targets);
        assert!(
            shares.worst(&targets) < 0.02 && shares.lost == 0.0,
            "{name}: {shares:?}"
        );
    }
}

fn question(apparatus: &Apparatus, interior: &Interior) -> even::Question {
    even::Question {
        targets: targets(apparatus, interior),
        tolerance: 0.03,
        tilts: (-80.0, -40.0),
        rolls: (0.0, 0.0),
        finish: Stance::default(),
        most_stops: 1,
    }
}

#[test]
fn an_even_run_is_found_and_pours_as_told() {
    let mut apparatus = example("teaching-three");
    let interior = interior(&apparatus);
    let mut plan = Plan::of(&apparatus, &interior);
    plan.halts.truncate(1);
    let ask = question(&apparatus, &interior);
    let found = even(&interior, &plan, &ask, &Unwatched).expect("not stopped");
    assert!(found.is_met && found.stops.len() == 1, "{:?}", found.stops);
    // The pour itself, without the search.
    let (first, pouring) = (plan.halts[0].stance, found.stops[0]);
    let filled = interior.at(first).give(&plan.given);
    let there = pour(&Postures::new(&interior), filled, first, pouring).last();
    let back = pour(&Postures::new(&interior), there, pouring, ask.finish)
        .last()
        .at(&interior.at(ask.finish));
    let held = vialwright::run::held(&interior, &back);
    for (target, told) in ask.targets.iter().zip(&found.shares.held) {
        assert!(
            (held[target.piece] - told).abs() < 1e-6 * told,
            "{} {told}",
            held[target.piece]
        );
    }
    // With more than the targets there is no such run, and it says by how much.
    apparatus.charge.fills[0].volume_ml = 7.0;
    let mut plan = Plan::of(&apparatus, &interior);
    plan.halts.truncate(1);
    let found = even(&interior, &plan, &ask, &Unwatched).expect("not stopped");
    assert!(!found.is_met);
    let over = found.obstacles.iter().find_map(|obstacle| match obstacle {
        Obstacle::ChargeOver(over) => Some(*over),
        _ => None,
    });
    assert!(
        over.is_some_and(|over| (850.0..1_000.0).contains(&over)),
        "{:?}",
        found.obstacles
    );
}

#[test]
fn a_search_can_be_stopped() {
    struct Impatient;
    impl Watch for Impatient {
        fn at(&self, _: f64) -> bool {
            false
        }
    }
    let apparatus = example("teaching-three");
    let interior = interior(&apparatus);
    let plan = Plan::of(&apparatus, &interior);
    assert!(even(&interior, &plan, &question(&apparatus, &interior), &Impatient).is_none());
    let ask = spread::Question {
        samples: 50,
        seed: 1,
        tolerances: spread::Tolerances::default(),
    };
    assert!(spread(&apparatus, ask, &Impatient).is_none());
    assert!(size(&apparatus, &size::Question::default(), &Impatient).is_none());
}

#[test]
fn without_tolerances_all_glasses_are_alike_and_a_seed_gives_the_same_again() {
    let apparatus = example("teaching-three");
    let none = spread::Tolerances {
        length_mm: 0.0,
        place_mm: 0.0,
        angle_deg: 0.0,
        neck_part: 0.0,
        tube_mm: 0.0,
        level_deg: 0.0,
        charge_part: 0.0,
    };
    let ask = |seed: u64, tolerances: spread::Tolerances| spread::Question {
        samples: 12,
        seed,
        tolerances,
    };
    let usual = spread::Tolerances::default();
    let first = spread(&apparatus, ask(7, usual), &Unwatched).expect("not stopped");
    assert_eq!(
        first,
        spread(&apparatus, ask(7, usual), &Unwatched).expect("not stopped")
    );
    assert_ne!(
        first,
        spread(&apparatus, ask(8, usual), &Unwatched).expect("not stopped")
    );
    assert!(first.vessels.iter().all(|vessel| vessel.deviation > 1.0));
    // Stock keeps its own tolerance, so that only the fills' spread shrinks.
    let still = spread(&apparatus, ask(7, none), &Unwatched).expect("not stopped");
    for (before, after) in first.vessels.iter().zip(&still.vessels) {
        assert!(
            after.deviation < 0.5 * before.deviation,
            "{} {}",
            after.deviation,
            before.deviation
        );
    }
}

#[test]
fn sizes_hold_the_target_with_the_headspace() {
    let apparatus = example("teaching-three");
    let ask = size::Question {
        headspace: 0.3,
        target_ml: Some(2.5),
        most: 3,
        ..size::Question::default()
    };
    let answers = size(&apparatus, &ask, &Unwatched)
        .expect("not stopped")
        .expect("something fits");
    assert!(!answers.is_empty() && answers.len() <= 3);
    for answer in &answers {
        let ampoule = &answer.apparatus.rows[0].pattern;
        // A flat bottom: its wall lies within the body. Lengths are rounded up to 0.1 mm.
        let r = 0.5 * ampoule.body.bore_mm();
        let area = std::f64::consts::PI * r * r;
        let held_ml = area * (ampoule.body_mm - ampoule.body.wall_mm) / 1000.0;
        let wanted = 2.5 / 0.7;
        assert!(
            held_ml >= wanted - 1e-9 && held_ml <= wanted + area * 0.1 / 1000.0,
            "{held_ml} {wanted}"
        );
        assert!(answer.room_mm >= ask.clearance_mm - 1e-9, "{}", answer.room_mm);
        assert_eq!(ampoule.target_ml, 2.5);
    }
    let unknown = size::Question {
        vessels: vec!["flask".to_owned()],
        ..size::Question::default()
    };
    let refusal = size(&apparatus, &unknown, &Unwatched)
        .expect("not stopped")
        .unwrap_err();
    assert_eq!(refusal, Refusal::NoVessel("\"flask\"".to_owned()));
    let short = size::Question {
        longest_mm: 20.0,
        ..size::Question::default()
    };
    assert!(matches!(
        size(&apparatus, &short, &Unwatched),
        Some(Err(Refusal::NothingFits(_)))
    ));
}
