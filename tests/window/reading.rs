//! Reading: the ledger's order and sums, the plots and what is written of them, the findings.

use crate::harness::*;
use egui::accesskit::{Role, SortDirection};
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::{Path, PathBuf};
use vialwright::app::Opening;
use vialwright::geom::build::build;
use vialwright::geom::{Interior, Stance};
use vialwright::model::{Apparatus, Fill, Form, file};

/// The example, changed and written to a file of its own.
fn changed(change: impl FnOnce(&mut Apparatus)) -> (tempfile::TempDir, PathBuf) {
    let text = include_str!("../../examples/rubidium-six.json");
    let mut apparatus = file::read(text).unwrap();
    change(&mut apparatus);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("design.json");
    std::fs::write(&path, file::write(&apparatus)).unwrap();
    (folder, path)
}

/// Liquid in the receiver and, of very different amounts, in five vials.
fn filled(apparatus: &mut Apparatus) {
    let fills = [
        ("receiver", 10.0),
        ("vial-1", 1.2),
        ("vial-2", 1.5),
        ("vial-3", 2.1),
        ("vial-4", 4.8),
        ("vial-5", 0.3),
    ];
    apparatus.charge.fills = fills
        .map(|(piece, volume_ml)| Fill {
            piece: piece.to_owned(),
            volume_ml,
        })
        .to_vec();
}

/// A design with faults of all three severities.
fn faulty(apparatus: &mut Apparatus) {
    let row = &mut apparatus.rows[0];
    row.pitch_mm = 26.0;
    row.pattern.seal_mm = row.pattern.neck_mm + 4.0;
    for piece in &mut apparatus.pieces {
        if let Form::Bridge(bridge) = &mut piece.form {
            bridge.bend_radius_mm = 15.0;
        }
    }
}

fn interior(harness: &Harness<'_, Held>) -> Interior {
    let built = build(harness.state().session().document.now()).unwrap();
    Interior::new(built.names, built.primitives, built.ports).unwrap()
}

/// What is given, mm3, by piece.
fn given(harness: &Harness<'_, Held>, interior: &Interior) -> Vec<(usize, f64)> {
    let fills = &harness.state().session().document.now().charge.fills;
    let given = |fill: &Fill| (interior.piece_index(&fill.piece).unwrap(), fill.volume_ml * 1000.0);
    fills.iter().map(given).collect()
}

/// The rows of the ledger in words, from top to bottom.
fn rows(harness: &Harness<'_, Held>) -> Vec<String> {
    let mut rows: Vec<(f32, String)> = harness
        .get_all_by_role(Role::ListBoxOption)
        .map(|node| (node.rect().top(), node.accesskit_node().label().unwrap()))
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    rows.into_iter().map(|(_, words)| words).collect()
}

/// The row of a vessel.
fn row_node<'a>(harness: &'a Harness<'_, Held>, vessel: &str) -> egui_kittest::Node<'a> {
    let start = format!("{vessel}: ");
    let mut all = harness.get_all_by_role(Role::ListBoxOption);
    all.find(|node| node.accesskit_node().label().is_some_and(|l| l.starts_with(&start)))
        .unwrap()
}

fn names(harness: &Harness<'_, Held>) -> Vec<String> {
    let name = |words: String| words.split(':').next().unwrap().to_owned();
    rows(harness).into_iter().map(name).collect()
}

/// The number after `before` and in front of `after` in the words of a row.
fn number(words: &str, before: &str, after: &str) -> Option<f64> {
    let from = words.find(before)? + before.len();
    let rest = &words[from..];
    let text = &rest[..rest.find(after)?];
    text.replace('−', "-").parse().ok()
}

/// What stands in the row under the head of a column.
fn value(words: &str, column: &str) -> Option<f64> {
    match column {
        "Volume, mL" => number(words, ": ", " mL"),
        "Filled, %" => {
            let until = words.find(" % of the target")?;
            words[..until].rsplit(' ').next()?.parse().ok()
        }
        "Level, mm" => number(words, "level ", " mm"),
        // It stands higher than any other.
        "To seal, mm" if words.contains("stands at the seal-off place") => Some(-1e3),
        "To seal, mm" => {
            let until = words.find(" mm to the seal-off place")?;
            words[..until].rsplit(' ').next()?.replace('−', "-").parse().ok()
        }
        "Brim, mL" => number(words, "brim ", " mL"),
        "Target, mL" => number(words, " of ", " mL"),
        "Surface, cm²" => number(words, "free surface ", " cm²"),
        "Per mL, cm²/mL" => {
            let until = words.find(" cm² per mL")?;
            words[..until].rsplit(' ').next()?.parse().ok()
        }
        other => panic!("no column {other}"),
    }
}

fn click(harness: &mut Harness<'_, Held>, role: Role, label: &str) {
    harness.get_by_role_and_label(role, label).click();
    harness.run();
}

/// The shelf's turn is computed beside the window.
fn wait_for_the_turn(harness: &mut Harness<'_, Held>) {
    for _ in 0..600 {
        harness.run();
        if harness.query_by_label("Save chart: Held against tilt").is_some() {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    panic!("the turn is never there");
}

/// Asks for a chart as `form` and gives the file's path to the dialog.
fn save_chart(harness: &mut Harness<'_, Held>, chart: &str, form: &str, path: &Path) -> String {
    harness.get_by_label(&format!("Save chart: {chart}")).click();
    harness.run();
    harness.get_by_label_contains(form).click();
    harness.run();
    give_file(harness, path);
    harness.run();
    assert!(harness.query_by_label_contains("Chart saved as").is_some());
    std::fs::read_to_string(path).unwrap()
}

fn records(text: &str) -> (Vec<String>, Vec<csv::StringRecord>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().unwrap().iter().map(str::to_owned).collect();
    (head, reader.records().map(Result::unwrap).collect())
}

/// Names of the elements and the text of a document that must be sound.
fn document(text: &str) -> (Vec<String>, String) {
    use quick_xml::events::Event;
    let mut reader = quick_xml::Reader::from_str(text);
    let (mut names, mut words) = (Vec::new(), String::new());
    loop {
        match reader.read_event().unwrap() {
            Event::Eof => return (names, words),
            Event::Start(element) | Event::Empty(element) => {
                names.push(String::from_utf8(element.name().as_ref().to_vec()).unwrap());
            }
            Event::Text(text) => words += &text.decode().unwrap(),
            _ => {}
        }
    }
}

#[test]
fn rows_are_put_in_the_order_of_each_column() {
    let (_folder, path) = changed(filled);
    let mut harness = open(Some(path));
    let design = names(&harness);
    let fill = ["Volume, mL", "Filled, %", "Level, mm", "To seal, mm", "Brim, mL"];
    let surface = ["Target, mL", "Surface, cm²", "Per mL, cm²/mL"];
    for (choice, columns) in [("Fill", &fill[..]), ("Surface", &surface)] {
        harness.get_by_label(choice).click();
        harness.run();
        for column in columns {
            for falling in [false, true] {
                click(&mut harness, Role::ColumnHeader, column);
                let values: Vec<Option<f64>> = rows(&harness).iter().map(|row| value(row, column)).collect();
                let known: Vec<f64> = values.iter().copied().flatten().collect();
                assert!(!known.is_empty(), "{column}");
                assert!(
                    values[..known.len()].iter().all(Option::is_some),
                    "{column}: what is unknown comes last: {values:?}"
                );
                let ordered = |pair: &[f64]| {
                    if falling {
                        pair[0] >= pair[1]
                    } else {
                        pair[0] <= pair[1]
                    }
                };
                assert!(known.windows(2).all(ordered), "{column}, falling {falling}: {known:?}");
                let head = harness.get_by_role_and_label(Role::ColumnHeader, column);
                let told = if falling {
                    SortDirection::Descending
                } else {
                    SortDirection::Ascending
                };
                assert_eq!(head.accesskit_node().data().sort_direction(), Some(told), "{column}");
            }
            click(&mut harness, Role::ColumnHeader, column);
            assert_eq!(
                names(&harness),
                design,
                "{column}: the third click gives the design's order back"
            );
        }
    }
    harness.get_by_role_and_label(Role::ColumnHeader, "Vessel").focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    let mut sorted = design.clone();
    sorted.sort();
    assert_eq!(names(&harness), sorted, "a head can be used by key");
}

#[test]
fn order_and_shelf_are_remembered() {
    let folder = tempfile::tempdir().unwrap();
    let opening = || Opening {
        data_folder: Some(folder.path().to_owned()),
        ..Opening::default()
    };
    let mut harness = open_as(opening());
    click(&mut harness, Role::ColumnHeader, "Brim, mL");
    click(&mut harness, Role::ColumnHeader, "Brim, mL");
    harness.key_press(Key::P);
    harness.run();
    let order = names(&harness);
    drop(harness);
    let harness = open_as(opening());
    assert_eq!(names(&harness), order);
    let head = harness.get_by_role_and_label(Role::ColumnHeader, "Brim, mL");
    assert_eq!(
        head.accesskit_node().data().sort_direction(),
        Some(SortDirection::Descending)
    );
    assert!(harness.query_by_label("Shut the shelf").is_some());
}

#[test]
fn a_narrow_ledger_shows_one_choice_of_columns_or_the_other() {
    let mut harness = open(None);
    assert!(harness.query_by_label("Per mL, cm²/mL").is_none());
    click(&mut harness, Role::Button, "Surface");
    assert!(harness.query_by_label("Per mL, cm²/mL").is_some());
    assert!(harness.query_by_label("Level, mm").is_none());
}

#[test]
fn the_ledger_says_what_is_over_at_the_brim_and_at_the_seal() {
    let (_folder, path) = changed(filled);
    let harness = open(Some(path));
    assert!(
        row(&harness, "vial-1").contains("80 % of the target"),
        "{}",
        row(&harness, "vial-1")
    );
    assert!(!row(&harness, "vial-2").contains("over the target"));
    let over = row(&harness, "vial-3");
    assert!(over.contains("over the target") && !over.contains("brim,"), "{over}");
    let full = row(&harness, "vial-4");
    assert!(full.contains("at its brim"), "{full}");
    assert!(full.contains("stands at the seal-off place"), "{full}");
    assert!(row(&harness, "vial-5").contains("mm to the seal-off place"));
}

#[test]
fn the_sums_are_those_of_the_rows() {
    let (_folder, path) = changed(filled);
    let mut harness = open(Some(path));
    enter(&mut harness, "Tilt", "-40");
    let sum = |harness: &Harness<'_, Held>, words: &str| {
        let start = format!("{words}: ");
        let node = harness.get_by_label_contains(&start);
        // A text is its own value.
        let label = node.value().unwrap();
        number(&label, &start, " mL").unwrap_or_else(|| panic!("{label}"))
    };
    let interior = interior(&harness);
    let settled = interior.at(Stance::new(-40.0, 0.0)).settle(&given(&harness, &interior));
    let (mut held, mut heel) = (0.0, 0.0);
    for words in rows(&harness) {
        let name = words.split(':').next().unwrap();
        let volume = settled.held_by(interior.piece_index(name).unwrap()) / 1000.0;
        assert!(
            (value(&words, "Volume, mL").unwrap() - volume).abs() < 0.0051,
            "{words}"
        );
        held += volume;
        heel += if words.contains("of the target") { 0.0 } else { volume };
    }
    assert!((sum(&harness, "Held") - held).abs() < 0.006);
    assert!((sum(&harness, "Heel") - heel).abs() < 0.006);
    assert!((sum(&harness, "Targets") - 9.0).abs() < 1e-9);
    enter(&mut harness, "Tilt", "180");
    assert!(sum(&harness, "Lost through pump") > 1.0);
}

#[test]
fn rows_and_pieces_are_chosen_together() {
    let (_folder, path) = changed(filled);
    let mut harness = open(Some(path));
    let press = |harness: &mut Harness<'_, Held>, name: &str, modifiers: Modifiers| {
        row_node(harness, name).click_modifiers(modifiers);
        harness.run();
    };
    let selected = |harness: &Harness<'_, Held>| harness.state().session().selection.names().to_vec();
    press(&mut harness, "vial-2", Modifiers::NONE);
    press(&mut harness, "vial-4", Modifiers::COMMAND);
    assert_eq!(selected(&harness), ["vial-2", "vial-4"]);
    let on_bench = harness.get_by_role_and_label(Role::GraphicsObject, "vial-4");
    assert_eq!(on_bench.accesskit_node().is_selected(), Some(true));
    press(&mut harness, "vial-2", Modifiers::COMMAND);
    assert_eq!(selected(&harness), ["vial-4"]);
    press(&mut harness, "vial-1", Modifiers::SHIFT);
    assert_eq!(selected(&harness), ["vial-4", "vial-3", "vial-2", "vial-1"]);
    // The other way: chosen on the bench, marked and in view in the ledger.
    harness.set_size(vec2(1024.0, 420.0));
    harness.run();
    select(&mut harness, "vial-6");
    let clip = harness.get_by_role_and_label(Role::ListBox, "Vessels").rect();
    assert!(
        clip.y_range().contains(row_node(&harness, "vial-6").rect().center().y),
        "the row is brought into view"
    );
}

#[test]
fn arrows_move_through_the_rows() {
    let mut harness = open(None);
    let first = names(&harness)[0].clone();
    let shown = |harness: &Harness<'_, Held>| harness.state().session().selection.shown().map(str::to_owned);
    harness.get_all_by_role(Role::ListBoxOption).next().unwrap().focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(shown(&harness), Some(first));
    let order = names(&harness);
    for (key, at) in [
        (Key::ArrowDown, 1),
        (Key::ArrowDown, 2),
        (Key::ArrowUp, 1),
        (Key::End, order.len() - 1),
        (Key::ArrowDown, order.len() - 1),
        (Key::Home, 0),
    ] {
        harness.key_press(key);
        harness.run();
        assert_eq!(shown(&harness).as_ref(), Some(&order[at]), "{key:?}");
    }
    harness.key_press_modifiers(Modifiers::SHIFT, Key::ArrowDown);
    harness.run();
    assert_eq!(harness.state().session().selection.names(), &order[..2]);
    assert_eq!(
        harness.state().session().stance.roll_deg,
        0.0,
        "the keys did not turn the glass"
    );
}

#[test]
fn the_plot_against_height_shows_what_the_engine_answers() {
    let (folder, path) = changed(filled);
    let mut harness = open(Some(path));
    enter(&mut harness, "Tilt", "-12");
    harness.key_press(Key::Escape);
    harness.key_press(Key::P);
    harness.run();
    assert!(harness.query_by_label_contains("Choose a piece on the bench").is_some());
    select(&mut harness, "vial-3");
    let interior = interior(&harness);
    let posture = interior.at(Stance::new(-12.0, 0.0));
    let piece = interior.piece_index("vial-3").unwrap();
    let settled = posture.settle(&given(&harness, &interior));
    let pool = settled.main_pool(piece).unwrap();
    let plot = harness.get_by_role_and_label(Role::Image, "Volume against height");
    let words = plot.value().unwrap();
    let level = pool.level - pool.bottom;
    let expected = format!("now at {level:.1} mm, {:.2} mL", pool.volume / 1000.0);
    assert!(words.contains(&expected), "{expected} in {words}");
    assert!(words.contains("seal-off at") && words.contains("brim at"), "{words}");

    let table = save_chart(
        &mut harness,
        "Volume against height in vial-3",
        "table",
        &folder.path().join("rise.csv"),
    );
    let (head, records) = records(&table);
    assert_eq!(head, ["Height (mm)", "Volume (mL)", "Mark"]);
    let (bottom, _) = posture.extent(piece).unwrap();
    let sill = posture.sill_of_piece(piece).unwrap();
    let mut marks = Vec::new();
    for record in &records {
        let [height, volume] = [&record[0], &record[1]].map(|text| text.parse::<f64>().unwrap());
        let below = posture.below(piece, (bottom + height).min(sill - 1e-9)).volume / 1000.0;
        assert!((volume - below).abs() < 1e-7, "{volume} for {below} at {height}");
        marks.extend((!record[2].is_empty()).then(|| record[2].to_owned()));
    }
    assert!(records.len() > 100);
    for mark in ["now", "target", "seal-off", "brim"] {
        assert!(marks.iter().any(|found| found == mark), "{mark} in {marks:?}");
    }
}

#[test]
fn the_plot_against_tilt_shows_what_the_engine_answers_and_turns_the_glass() {
    let (folder, path) = changed(filled);
    let mut harness = open(Some(path));
    select(&mut harness, "vial-4");
    harness.key_press(Key::P);
    wait_for_the_turn(&mut harness);
    let table = save_chart(
        &mut harness,
        "Held against tilt",
        "table",
        &folder.path().join("turn.csv"),
    );
    let (head, records) = records(&table);
    let interior = interior(&harness);
    let given = given(&harness, &interior);
    assert_eq!(head[0], "Tilt (deg)");
    assert_eq!(records.len(), 721);
    let lost = head.iter().position(|name| name == "Volume of lost (mL)").unwrap();
    for record in records.iter().step_by(37) {
        let tilt: f64 = record[0].parse().unwrap();
        let settled = interior.at(Stance::new(tilt, 0.0)).settle(&given);
        for vial in 1..=6 {
            let name = format!("vial-{vial}");
            let column = format!("Volume of {name} (mL)");
            let at = head.iter().position(|name| *name == column).unwrap();
            let volume = settled.held_by(interior.piece_index(&name).unwrap()) / 1000.0;
            assert_eq!(record[at].parse::<f64>().unwrap(), volume, "{name} at {tilt}");
        }
        let at = head
            .iter()
            .position(|name| name == "Free surface of vial-4 (cm2)")
            .unwrap();
        let pool = settled.main_pool(interior.piece_index("vial-4").unwrap());
        let surface = pool.map_or(0.0, |pool| pool.free_surface / 100.0);
        assert_eq!(record[at].parse::<f64>().unwrap(), surface, "at {tilt}");
        let lost_ml: f64 = settled.lost.iter().map(|(_, volume)| volume / 1000.0).sum();
        assert_eq!(record[lost].parse::<f64>().unwrap(), lost_ml, "at {tilt}");
    }
    let plot = harness.get_by_role_and_label(Role::Slider, "Held against tilt");
    let rect = plot.rect();
    drag(
        &mut harness,
        rect.center(),
        rect.center() + vec2(rect.width() / 8.0, 0.0),
    );
    let tilt = harness.state().session().stance.tilt_deg;
    assert!((30.0..65.0).contains(&tilt), "an eighth of a turn or nearly: {tilt}");
    assert_eq!(undo_words(&harness), None, "turning is no change");
    let words = harness
        .get_by_role_and_label(Role::Slider, "Held against tilt")
        .value()
        .unwrap();
    assert!(words.contains(&format!("now at {tilt:.1}°")), "{words}");
    harness.get_by_role_and_label(Role::Slider, "Held against tilt").focus();
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    assert_eq!(
        harness.state().session().stance.tilt_deg,
        ((tilt + 1.0) * 100.0).round() / 100.0
    );
}

#[test]
fn a_chart_is_written_as_a_picture() {
    let (folder, path) = changed(filled);
    let mut harness = open(Some(path));
    select(&mut harness, "vial-3");
    harness.key_press(Key::P);
    wait_for_the_turn(&mut harness);
    let picture = save_chart(
        &mut harness,
        "Held against tilt",
        "picture",
        &folder.path().join("turn.svg"),
    );
    let (names, words) = document(&picture);
    assert_eq!(names[0], "svg");
    assert!(names.iter().filter(|name| *name == "path").count() >= 6, "{names:?}");
    for expected in ["Volume, mL", "Free surface, cm²", "Tilt, °", "vial-3", "lost", "now"] {
        assert!(words.contains(expected), "{expected}");
    }
}

#[test]
fn the_shelf_opens_and_shuts_by_key_menu_and_button() {
    let mut harness = open(None);
    let is_open = |harness: &Harness<'_, Held>| harness.query_by_label("Shut the shelf").is_some();
    assert!(!is_open(&harness));
    harness.key_press(Key::P);
    harness.run();
    assert!(is_open(&harness) && harness.query_by_label("List of findings").is_none());
    harness.key_press(Key::G);
    harness.run();
    assert!(harness.query_by_label("List of findings").is_some());
    harness.key_press(Key::G);
    harness.run();
    assert!(!is_open(&harness));
    harness.get_by_label("View").click();
    harness.run();
    harness.get_by_label_contains("Plots").click();
    harness.run();
    assert!(is_open(&harness));
    harness.get_by_label("Shut the shelf").click();
    harness.run();
    assert!(!is_open(&harness));
}

/// Runs frames until something holds: the review of a design comes from a thread.
fn wait_until(harness: &mut Harness<'_, Held>, holds: impl Fn(&Harness<'_, Held>) -> bool) {
    let began = std::time::Instant::now();
    while !holds(harness) {
        assert!(began.elapsed() < std::time::Duration::from_secs(60), "it does not come");
        std::thread::sleep(std::time::Duration::from_millis(5));
        harness.run();
    }
}

fn is_reviewed(harness: &Harness<'_, Held>) -> bool {
    harness.query_by_label_contains("Not judged,").is_some()
}

#[test]
fn findings_are_listed_by_severity_and_select_their_piece() {
    let (_folder, path) = changed(faulty);
    let mut harness = open(Some(path));
    let items = |harness: &Harness<'_, Held>| -> Vec<String> {
        let all = harness.query_all_by_role(Role::ListItem);
        all.map(|node| node.accesskit_node().label().unwrap()).collect()
    };
    assert!(items(&harness).is_empty());
    harness.get_by_label_contains("Findings: ").click();
    wait_until(&mut harness, is_reviewed);
    let listed = items(&harness);
    assert!(listed.len() >= 14, "{listed:?}");
    let gravity = |words: &String| match words.split('.').next() {
        Some("Stop") => 0,
        Some("Watch") => 1,
        Some("Note") => 2,
        other => panic!("{other:?}"),
    };
    assert!(listed.is_sorted_by_key(gravity), "{listed:?}");
    let bend = listed.iter().find(|words| words.contains("bridge")).unwrap();
    for part in [
        "tighter than can be made",
        "15.0 mm",
        "To mend: Make the radius 28.0 mm",
        "Known from: memory",
    ] {
        assert!(bend.contains(part), "{part} in {bend}");
    }
    harness.get_by_label(bend).click();
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some("bridge"));
    let row = listed.iter().find(|words| words.starts_with("Stop. vial:")).unwrap();
    harness.get_by_label(row).click();
    harness.run();
    assert_eq!(
        harness.state().session().selection.names().len(),
        6,
        "all members of the row"
    );

    click(&mut harness, Role::CheckBox, "Show watch: 10");
    assert_eq!(items(&harness).len(), 4);
    assert!(
        harness.query_by_label_contains("Pin at vial-3").is_none(),
        "nor is it pinned"
    );
    click(&mut harness, Role::CheckBox, "Show watch: 10");
    assert_eq!(items(&harness).len(), 14);
}

#[test]
fn a_pin_opens_the_list_at_its_piece() {
    let (_folder, path) = changed(faulty);
    let mut harness = open(Some(path));
    let pins: Vec<_> = harness
        .get_all_by_label_contains("Pin at ")
        .map(|pin| pin.rect())
        .collect();
    assert_eq!(pins.len(), 8, "bridge, riser, the row, and five vials that stand close");
    for (i, pin) in pins.iter().enumerate() {
        assert!(pins[..i].iter().all(|other| !other.intersects(*pin)), "{pin:?}");
    }
    harness.get_by_label_contains("Pin at vial-4: 2 watch").click();
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some("vial-4"));
    assert!(harness.query_by_label("List of findings").is_some());
    let list = harness.get_by_label("List of findings").rect();
    let close = harness
        .get_by_label_contains("Watch. vial-4: It is joined close to vial-3")
        .rect();
    assert!(list.y_range().contains(close.center().y), "{close:?} in {list:?}");
}

#[test]
fn when_nothing_is_found_it_says_what_is_not_judged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.json");
    std::fs::write(&path, file::write(&Apparatus::default())).unwrap();
    let mut harness = open(Some(path));
    harness.get_by_label("Findings: nothing found").click();
    harness.run();
    assert!(harness.query_by_label("Nothing found.").is_some());
    wait_until(&mut harness, is_reviewed);
}

#[test]
fn findings_follow_a_change_and_its_undo() {
    let mut harness = open(None);
    let before = harness
        .get_by_label_contains("Findings: ")
        .accesskit_node()
        .label()
        .unwrap();
    select(&mut harness, "vial-2");
    enter(&mut harness, "Target volume", "40");
    wait_until(&mut harness, |h| h.query_by_label_contains("1 stop").is_some());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    wait_until(&mut harness, |h| h.query_by_label_contains(&before).is_some());
}
