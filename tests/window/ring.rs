//! The marks of the tilt ring and the roll scale.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use std::time::{Duration, Instant};
use vialwright::geom::Interior;
use vialwright::geom::build::build;
use vialwright::geom::events::{Asked, Event, Turn, Turning, Vessel, What, of_turn};
use vialwright::model::Form;

/// How long the marks of a turn may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// Runs frames until something is found.
fn wait<T>(harness: &mut Harness<'_, Held>, what: &str, find: impl Fn(&Harness<'_, Held>) -> Option<T>) -> T {
    let began = Instant::now();
    loop {
        harness.run();
        if let Some(found) = find(harness) {
            return found;
        }
        assert!(began.elapsed() < PATIENCE, "{what} does not come");
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The value of a mark, once it is there.
fn value(harness: &mut Harness<'_, Held>, mark: &str) -> String {
    wait(harness, mark, |h| h.query_all_by_label(mark).next()?.value())
}

/// Angle and piece of what the engine finds for a turn of the document from its start.
fn found(harness: &Harness<'_, Held>, turning: Turning) -> (Vec<String>, Turn) {
    let apparatus = harness.state().session().document.now();
    let built = build(apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    let given = apparatus.charge.fills.iter();
    let given = given.map(|fill| (built.placed.index(&fill.piece).unwrap(), fill.volume_ml * 1000.0));
    let pieces = built.placed.pieces.iter().enumerate();
    let vessels = pieces.map(|(piece, it)| Vessel {
        piece,
        target: match &it.form {
            Form::Ampoule(ampoule) => Some(ampoule.target_ml * 1000.0),
            _ => None,
        },
    });
    let asked = Asked {
        turning,
        given: given.collect(),
        vessels: vessels.collect(),
    };
    let found = of_turn(&interior, &asked, &|| true).unwrap();
    (built.names, found)
}

fn event(harness: &Harness<'_, Held>, turning: Turning, name: &str, is_it: impl Fn(&What) -> bool) -> Event {
    let (names, turn) = found(harness, turning);
    let its = |e: &&Event| names[e.piece] == name && is_it(&e.what);
    *turn.events.iter().find(its).unwrap()
}

const TILT: Turning = Turning::Tilt { roll_deg: 0.0 };

fn brims(what: &What) -> bool {
    matches!(what, What::Brims { .. })
}

fn tilt(harness: &Harness<'_, Held>) -> f64 {
    harness.state().session().stance.tilt_deg
}

#[test]
fn the_example_shows_what_a_turn_brings() {
    let mut harness = open(None);
    let begins = value(&mut harness, "Tilt: vial-1 reaches its brim");
    let brim = event(&harness, TILT, "vial-1", brims);
    let What::Brims { volume, .. } = brim.what else {
        unreachable!()
    };
    let words = format!("{:.1}°, {:.2} mL", brim.at_deg, volume / 1000.0).replace('-', "−");
    assert_eq!(begins, words);
    for mark in [
        "Tilt: receiver has drained",
        "Tilt: vial-6 reaches its brim",
        "Tilt: Liquid runs out of pump",
    ] {
        assert!(harness.query_all_by_label(mark).count() > 0, "{mark}");
    }
    // Either way.
    assert_eq!(harness.query_all_by_label("Tilt: receiver begins to run").count(), 2);
    assert_eq!(
        harness
            .query_all_by_label("Tilt: vial-1 to vial-6 meter their targets")
            .count(),
        2
    );
    let header = |h: &Harness<'_, Held>| h.query_all_by_label_contains("Tilt: header").count();
    assert_eq!(header(&harness), 0, "a tube is no vessel");
    select(&mut harness, "header");
    assert!(header(&harness) > 0, "but has its marks when it is selected");
}

#[test]
fn a_click_on_a_mark_goes_just_there() {
    let mut harness = open(None);
    value(&mut harness, "Tilt: vial-2 reaches its brim");
    let at = harness.get_by_label("Tilt: vial-2 reaches its brim").rect().center();
    click_at(&mut harness, at);
    let brim = event(&harness, TILT, "vial-2", brims);
    assert_eq!(tilt(&harness), brim.at_deg);
    let told = harness
        .query_all_by_label_contains("vial-2 reaches its brim at")
        .count();
    assert!(told > 0, "the words stand on the bench");
    let row = row(&harness, "vial-2");
    let What::Brims { volume, .. } = brim.what else {
        unreachable!()
    };
    let volume = format!("vial-2: {:.2} mL", volume / 1000.0);
    assert!(row.starts_with(&volume), "{row}: it is full there, {volume}");
    // By an assistive tool as well.
    harness.get_by_label("Tilt: vial-1 reaches its brim").click_accesskit();
    harness.run();
    assert_eq!(tilt(&harness), event(&harness, TILT, "vial-1", brims).at_deg);
}

#[test]
fn keys_step_through_all_marks_in_their_order() {
    let mut harness = open(None);
    value(&mut harness, "Tilt: vial-1 reaches its brim");
    let (names, turn) = found(&harness, TILT);
    let is_vessel = |piece: usize| names[piece].starts_with("vial") || ["receiver", "pot"].contains(&&*names[piece]);
    let events = turn.events.iter().filter(|e| is_vessel(e.piece)).map(|e| e.at_deg);
    let mut places: Vec<f64> = events.chain(turn.losses.iter().map(|l| l.from_deg)).collect();
    places.sort_by(f64::total_cmp);
    places.dedup_by(|b, a| *b - *a <= 0.002);
    for (key, way) in [(Key::Period, -1.0), (Key::Comma, 1.0)] {
        // Clockwise from as drawn, over the lower end and on to where the walk began.
        let mut order = places.clone();
        if way < 0.0 {
            order.reverse();
        }
        let first = order.iter().position(|at| at * way > 0.0).unwrap();
        order.rotate_left(first);
        harness.key_press(Key::Home);
        harness.run();
        for (i, place) in order.iter().enumerate() {
            harness.key_press(key);
            harness.run();
            assert!(
                (tilt(&harness) - place).abs() <= 0.002,
                "{key:?} {i}: {} for {place}",
                tilt(&harness)
            );
        }
        harness.key_press(key);
        harness.run();
        assert!((tilt(&harness) - order[0]).abs() <= 0.002, "around again");
    }
    // With the focus on the ring the same keys do the same.
    harness.key_press(Key::Home);
    harness.run();
    harness.get_by_label("Tilt ring").focus();
    harness.run();
    harness.key_press(Key::Period);
    harness.run();
    let next = places.iter().rev().find(|at| **at < 0.0).unwrap();
    assert!((tilt(&harness) - next).abs() <= 0.002);
}

#[test]
fn marks_move_with_a_dragged_dimension() {
    let mut harness = open(None);
    select(&mut harness, "vial-1");
    let mark = "Tilt: vial-1 reaches its brim";
    let before = value(&mut harness, mark);
    let field = harness
        .get_by_role_and_label(Role::SpinButton, "Body: straight length")
        .rect();
    harness.drag_at(field.center());
    harness.run();
    for step in [0.3, 0.6, 1.0] {
        harness.hover_at(field.center() + vec2(60.0 * step, 0.0));
        harness.run();
    }
    let during = wait(&mut harness, "another place", |h| {
        let now = h.query_by_label(mark)?.value()?;
        (now != before).then_some(now)
    });
    assert!(
        harness.state().session().document.is_previewing(),
        "the hand has not let go"
    );
    harness.drop_at(field.center() + vec2(60.0, 0.0));
    harness.run();
    let brim = event(&harness, TILT, "vial-1", brims);
    let words = format!("{:.1}°", brim.at_deg).replace('-', "−");
    wait(&mut harness, "the place for the new glass", |h| {
        h.query_by_label(mark)?.value()?.starts_with(&words).then_some(())
    });
    harness.get_by_label("↺ Undo").click();
    harness.run();
    wait(&mut harness, "the place of before", |h| {
        (h.query_by_label(mark)?.value()? == before).then_some(())
    });
    assert_ne!(during, before);
}

#[test]
fn liquid_that_runs_out_is_told_unmistakably() {
    let mut harness = open(None);
    let mark = value(&mut harness, "Tilt: Liquid runs out of pump");
    assert!(mark.ends_with("10.00 mL"), "{mark}");
    assert!(
        harness.query_by_label_contains("mL lost").is_none(),
        "nothing is lost as drawn"
    );
    enter(&mut harness, "Tilt", "-95");
    assert!(harness.query_by_label("Runs out of pump: 10.00 mL lost").is_some());
    // Beyond what the present stance alone loses, what was lost on the way is told.
    harness.key_press(Key::Home);
    harness.run();
    select(&mut harness, "pump");
    harness.key_press(Key::Delete);
    harness.run();
    wait(&mut harness, "the end of the loss", |h| {
        (h.query_all_by_label_contains("Liquid runs out").count() == 0).then_some(())
    });
}

#[test]
fn the_pointer_over_a_mark_shows_what_it_means() {
    let mut harness = open(None);
    value(&mut harness, "Tilt: vial-2 reaches its brim");
    assert!(
        harness
            .query_by_label_contains("the surplus runs on to vial-3")
            .is_none()
    );
    let at = harness.get_by_label("Tilt: vial-2 reaches its brim").rect().center();
    harness.hover_at(at);
    harness.run();
    let words = harness.query_by_label_contains("the surplus runs on to vial-3");
    let brim = event(&harness, TILT, "vial-2", brims);
    let What::Brims { volume, .. } = brim.what else {
        unreachable!()
    };
    let start = format!(
        "vial-2 reaches its brim at {:.1}°: {:.2} mL",
        brim.at_deg,
        volume / 1000.0
    );
    let words = words.unwrap().value().unwrap();
    assert!(
        words.starts_with(&start.replace('-', "−").replace("vial−", "vial-")),
        "{words}"
    );
    // The band along the rim: held as drawn.
    let rim = harness.get_by_label("Tilt ring").rect();
    harness.hover_at(rim.center() - vec2(0.0, rim.height() / 2.0 + 4.0));
    harness.run();
    assert!(
        harness
            .query_by_label_contains("receiver holds its 10.00 mL from")
            .is_some()
    );
}

#[test]
fn the_marks_of_what_is_selected_stand_alone() {
    let mut harness = open(None);
    value(&mut harness, "Tilt: vial-1 to vial-6 meter their targets");
    select(&mut harness, "vial-2");
    assert_eq!(harness.query_all_by_label("Tilt: vial-2 meters its target").count(), 2);
    assert_eq!(
        harness
            .query_all_by_label("Tilt: vial-1 to vial-6 meter their targets")
            .count(),
        0
    );
}

#[test]
fn the_roll_scale_has_marks_of_its_own() {
    let mut harness = open(None);
    enter(&mut harness, "Tilt", "-30");
    let turning = Turning::Roll { tilt_deg: -30.0 };
    let begins = event(&harness, turning, "vial-2", |what| matches!(what, What::Begins { .. }));
    let words = format!("{:.1}°", begins.at_deg).replace('-', "−");
    wait(&mut harness, "the marks at this tilt", |h| {
        let mut marks = h.query_all_by_label("Roll: vial-2 begins to run");
        marks
            .any(|mark| mark.value().is_some_and(|value| value.starts_with(&words)))
            .then_some(())
    });
    let marks = harness.query_all_by_label("Roll: vial-2 begins to run");
    let mark = marks
        .into_iter()
        .find(|m| m.value().is_some_and(|v| v.starts_with(&words)))
        .unwrap();
    mark.click_accesskit();
    harness.run();
    let stance = harness.state().session().stance;
    assert_eq!((stance.tilt_deg, stance.roll_deg), (-30.0, begins.at_deg));
    // The ring follows: what happens by the tilt at this roll.
    let ring = event(
        &harness,
        Turning::Tilt {
            roll_deg: stance.roll_deg,
        },
        "receiver",
        |what| matches!(what, What::Begins { .. }),
    );
    let words = format!("{:.1}°", ring.at_deg).replace('-', "−");
    wait(&mut harness, "the marks at this roll", |h| {
        let mut marks = h.query_all_by_label("Tilt: receiver begins to run");
        marks
            .any(|mark| mark.value().is_some_and(|value| value.starts_with(&words)))
            .then_some(())
    });
}

#[test]
fn the_window_rests_when_the_marks_are_there() {
    let mut harness = open(None);
    value(&mut harness, "Tilt: vial-1 reaches its brim");
    // The roll scale's answer comes last.
    wait(&mut harness, "the marks of the roll", |h| {
        (h.query_all_by_label_contains("Roll: ").count() > 0).then_some(())
    });
    harness.run();
    harness.step();
    let root = &harness.output().viewport_output[&egui::ViewportId::ROOT];
    assert!(
        root.repaint_delay > Duration::from_secs(3600),
        "{:?}",
        root.repaint_delay
    );
}
