//! Files, recovery, settings, the list of all actions, regions and small windows.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use vialwright::app::{Command, Opening};
use vialwright::files::recovery::Store;
use vialwright::model::{Apparatus, file};

/// A window that keeps what it has to in a folder.
fn open_in(data: &Path, path: Option<PathBuf>) -> Harness<'static, Held> {
    open_as(Opening {
        path,
        data_folder: Some(data.to_owned()),
        ..Opening::default()
    })
}

fn ctrl(harness: &mut Harness<'_, Held>, key: Key) {
    harness.key_press_modifiers(Modifiers::COMMAND, key);
    harness.run();
}

fn click(harness: &mut Harness<'_, Held>, label: &str) {
    harness.get_by_label(label).click();
    harness.run();
}

/// The teaching example under a name of its own.
fn design_in(folder: &Path, name: &str) -> PathBuf {
    let example = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/teaching-three.json");
    let path = folder.join(name);
    std::fs::copy(example, &path).unwrap();
    path
}

/// Changes the title of the design in a file, as another program would.
fn change_outside(path: &Path, title: &str) -> Apparatus {
    let mut theirs = file::read(&std::fs::read_to_string(path).unwrap()).unwrap();
    theirs.title = title.to_owned();
    std::fs::write(path, file::write(&theirs)).unwrap();
    theirs
}

fn get_focus(harness: &mut Harness<'_, Held>) {
    harness.event(egui::Event::WindowFocused(true));
    harness.run();
}

fn change_target(harness: &mut Harness<'_, Held>, target: &str) {
    select(harness, "vial-1");
    enter(harness, "Target volume", target);
}

fn records(data: &Path) -> usize {
    let entries = std::fs::read_dir(data.join("recovery")).map(|entries| {
        let paths = entries.flatten().map(|entry| entry.path());
        paths
            .filter(|path| path.extension().is_some_and(|e| e == "json"))
            .count()
    });
    entries.unwrap_or(0)
}

#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        std::fs::read(&self.0).map_err(|error| error.to_string())
    }
}

fn drop_files(harness: &mut Harness<'_, Held>, paths: &[&Path]) {
    for path in paths {
        let file = Arc::new(Dropped(path.to_path_buf()));
        harness.input_mut().dropped_files.push(file);
    }
    harness.run();
}

#[test]
fn unsaved_work_of_an_ended_program_is_offered_and_restored() {
    let (data, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let path = design_in(folder.path(), "mine.json");
    let mut first = open_in(data.path(), Some(path.clone()));
    let start = bytes(&first);
    change_target(&mut first, "1.75");
    let work = bytes(&first);
    drop(first);
    assert_eq!(records(data.path()), 1);

    let mut second = open_in(data.path(), None);
    assert!(says(&second, "Work that was not saved"));
    assert!(says(&second, "(Target volume of vial-1)"));
    click(&mut second, "Restore");
    assert!(bytes(&second) == work, "the work");
    let document = &second.state().session().document;
    assert!(document.is_unsaved());
    assert_eq!(document.path(), Some(path.as_path()));
    ctrl(&mut second, Key::Z);
    assert!(bytes(&second) == start, "before the work is what was saved");
    second.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    second.run();
    ctrl(&mut second, Key::S);
    assert!(std::fs::read_to_string(&path).unwrap() == work);
    drop(second);
    assert_eq!(records(data.path()), 0, "saved work is not kept");
    let third = open_in(data.path(), None);
    assert!(!says(&third, "Work that was not saved"));
}

#[test]
fn nothing_that_was_left_goes_without_the_users_say() {
    let data = tempfile::tempdir().unwrap();
    for target in ["1.25", "1.75"] {
        let mut window = open_in(data.path(), None);
        if says(&window, "Work that was not saved") {
            click(&mut window, "Keep for later");
        }
        change_target(&mut window, target);
    }
    assert_eq!(records(data.path()), 2);
    let mut window = open_in(data.path(), None);
    assert_eq!(window.get_all_by_label("Restore").count(), 2);
    press_key(&mut window, Key::Escape);
    assert!(!says(&window, "Work that was not saved"));
    window.get_by_label("File").click();
    window.run();
    click(&mut window, "Unsaved work…");
    window.get_all_by_label("Discard…").next().unwrap().click();
    window.run();
    assert_eq!(records(data.path()), 2, "it is asked first");
    click(&mut window, "Keep it");
    assert_eq!(records(data.path()), 2);
    window.get_all_by_label("Discard…").next().unwrap().click();
    window.run();
    click(&mut window, "Discard for good");
    assert_eq!(records(data.path()), 1);
    assert_eq!(window.get_all_by_label("Restore").count(), 1);
}

#[test]
fn two_windows_keep_their_work_apart() {
    let data = tempfile::tempdir().unwrap();
    let mut one = open_in(data.path(), None);
    change_target(&mut one, "1.25");
    let mut two = open_in(data.path(), None);
    assert!(!says(&two, "Work that was not saved"), "the first lives");
    change_target(&mut two, "1.75");
    let mut works = [bytes(&one), bytes(&two)];
    drop(one);
    drop(two);
    let left = Store::new(data.path().join("recovery")).scan().left;
    let mut kept: Vec<_> = left.iter().map(|left| left.record.text.clone()).collect();
    works.sort();
    kept.sort();
    assert!(kept == works);
}

#[test]
fn closing_with_the_changes_given_up_keeps_nothing() {
    let data = tempfile::tempdir().unwrap();
    let mut window = open_in(data.path(), None);
    change_target(&mut window, "1.25");
    let root = window.input_mut().viewports.entry(egui::ViewportId::ROOT).or_default();
    root.events.push(egui::ViewportEvent::Close);
    window.step();
    window
        .input_mut()
        .viewports
        .entry(egui::ViewportId::ROOT)
        .or_default()
        .events
        .clear();
    window.run();
    click(&mut window, "Drop the changes");
    let root = window.input_mut().viewports.entry(egui::ViewportId::ROOT).or_default();
    root.events.push(egui::ViewportEvent::Close);
    window.step();
    drop(window);
    assert_eq!(records(data.path()), 0);
}

#[test]
fn damaged_work_is_put_aside_and_named() {
    let data = tempfile::tempdir().unwrap();
    let recovery = data.path().join("recovery");
    std::fs::create_dir_all(&recovery).unwrap();
    std::fs::write(recovery.join("work-1.json"), "{\"format\"").unwrap();
    let window = open_in(data.path(), None);
    assert!(says(&window, "work-1.damaged"));
    assert_eq!(
        std::fs::read_to_string(recovery.join("work-1.damaged")).unwrap(),
        "{\"format\""
    );
}

#[test]
fn a_folder_that_cannot_be_written_is_told_in_the_strip() {
    let data = tempfile::tempdir().unwrap();
    let file = data.path().join("file");
    std::fs::write(&file, "x").unwrap();
    let mut window = open_in(&file, None);
    change_target(&mut window, "1.25");
    let start = std::time::Instant::now();
    while !says(&window, "Unsaved work can't be kept") {
        assert!(start.elapsed().as_secs() < 20, "the strip is silent");
        std::thread::sleep(std::time::Duration::from_millis(50));
        window.run();
    }
}

#[test]
fn a_file_changed_by_another_program_is_noticed_and_can_be_reloaded() {
    let folder = tempfile::tempdir().unwrap();
    let path = design_in(folder.path(), "mine.json");
    let mut window = open(Some(path.clone()));
    get_focus(&mut window);
    assert!(!says(&window, "changed by another program"));
    // Written anew with the same meaning: no change.
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replace('\n', "\r\n")).unwrap();
    get_focus(&mut window);
    assert!(!says(&window, "changed by another program"));

    let before = bytes(&window);
    let theirs = change_outside(&path, "Theirs");
    get_focus(&mut window);
    assert!(says(&window, "changed by another program"));
    click(&mut window, "Reload");
    assert!(*window.state().session().document.now() == theirs);
    assert!(!window.state().session().document.is_unsaved());
    ctrl(&mut window, Key::Z);
    assert!(bytes(&window) == before, "reloading is a step");

    change_outside(&path, "Theirs again");
    get_focus(&mut window);
    click(&mut window, "Keep mine");
    assert!(window.state().session().document.is_unsaved());
    get_focus(&mut window);
    assert!(!says(&window, "changed by another program"), "it is asked once");
    ctrl(&mut window, Key::S);
    assert!(std::fs::read_to_string(&path).unwrap() == before, "the choice was made");
}

#[test]
fn saving_over_a_foreign_change_asks() {
    let folder = tempfile::tempdir().unwrap();
    let path = design_in(folder.path(), "mine.json");
    let mut window = open(Some(path.clone()));
    change_target(&mut window, "1.25");
    change_outside(&path, "Theirs");
    let theirs = std::fs::read_to_string(&path).unwrap();
    ctrl(&mut window, Key::S);
    assert!(says(&window, "changed by another program"));
    click(&mut window, "Cancel");
    assert!(std::fs::read_to_string(&path).unwrap() == theirs);
    ctrl(&mut window, Key::S);
    click(&mut window, "Replace it");
    assert!(std::fs::read_to_string(&path).unwrap() == bytes(&window));
    assert!(!window.state().session().document.is_unsaved());
}

#[test]
fn a_file_that_is_gone_leaves_the_document_unsaved() {
    let folder = tempfile::tempdir().unwrap();
    let path = design_in(folder.path(), "mine.json");
    let mut window = open(Some(path.clone()));
    std::fs::remove_file(&path).unwrap();
    get_focus(&mut window);
    assert!(says(&window, "is gone"));
    assert!(window.state().session().document.is_unsaved());
    ctrl(&mut window, Key::S);
    assert!(std::fs::read_to_string(&path).unwrap() == bytes(&window));
}

#[test]
fn a_refused_save_names_the_file_and_keeps_the_work() {
    let folder = tempfile::tempdir().unwrap();
    let path = design_in(folder.path(), "mine.json");
    let old = std::fs::read_to_string(&path).unwrap();
    let mut window = open(Some(path.clone()));
    change_target(&mut window, "1.25");
    let mut permissions = std::fs::metadata(&path).unwrap().permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&path, permissions).unwrap();
    ctrl(&mut window, Key::S);
    assert!(says(&window, "mine.json: the file is read-only"));
    assert!(window.state().session().document.is_unsaved());
    assert!(std::fs::read_to_string(&path).unwrap() == old);
    std::fs::remove_dir_all(folder.path()).unwrap();
    ctrl(&mut window, Key::S);
    assert!(says(&window, "there is no folder"));
    assert!(window.state().session().document.is_unsaved());
    change_target(&mut window, "1.5");
    assert!(says(&window, "there is no folder"), "a refusal stays");
    click(&mut window, "Dismiss the message");
    assert!(!says(&window, "there is no folder"));
}

#[test]
fn saving_under_a_name_that_is_taken_asks() {
    let folder = tempfile::tempdir().unwrap();
    let path = design_in(folder.path(), "taken.vialwright.json");
    let old = std::fs::read_to_string(&path).unwrap();
    let mut window = open(None);
    window.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::S);
    window.run();
    ctrl(&mut window, Key::A);
    let field = window.get_by_role_and_label(Role::TextInput, "File");
    field.type_text(&folder.path().join("taken").display().to_string());
    window.run();
    press_key(&mut window, Key::Enter);
    assert!(says(&window, "There is a file of that name"));
    assert!(std::fs::read_to_string(&path).unwrap() == old);
    click(&mut window, "Replace it");
    assert!(std::fs::read_to_string(&path).unwrap() == bytes(&window));
}

#[test]
fn a_dropped_file_is_opened_and_unsaved_work_is_asked_about() {
    let folder = tempfile::tempdir().unwrap();
    let (one, two) = (
        design_in(folder.path(), "one.json"),
        design_in(folder.path(), "two.json"),
    );
    let theirs = change_outside(&two, "The second");
    let mut window = open(None);
    drop_files(&mut window, &[&one, &two]);
    assert_eq!(window.state().session().document.path(), Some(one.as_path()));
    assert!(says(&window, "1 more file dropped with it stayed closed"));
    change_target(&mut window, "1.25");
    drop_files(&mut window, &[&two]);
    assert!(says(&window, "changes that are not saved"));
    click(&mut window, "Cancel");
    assert_eq!(window.state().session().document.path(), Some(one.as_path()));
    drop_files(&mut window, &[&two]);
    click(&mut window, "Save");
    assert!(*window.state().session().document.now() == theirs);
    let kept = file::read(&std::fs::read_to_string(&one).unwrap()).unwrap();
    assert_eq!(kept.rows[0].ampoule(1).target_ml, 1.25);
    drop_files(&mut window, &[folder.path()]);
    assert_eq!(
        window.state().session().document.path(),
        Some(two.as_path()),
        "a folder is refused"
    );
}

#[test]
fn recent_files_are_remembered_and_missing_ones_say_so() {
    let (data, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (one, two) = (
        design_in(folder.path(), "one.json"),
        design_in(folder.path(), "two.json"),
    );
    for path in [&one, &two] {
        open_in(data.path(), Some(path.clone()));
    }
    std::fs::remove_file(&two).unwrap();
    let mut window = open_in(data.path(), None);
    window.get_by_label("File").click();
    window.run();
    window.get_by_label_contains("Open recent").click();
    window.run();
    let gone = window.get_by_label_contains("two.json");
    assert!(gone.accesskit_node().label().unwrap().ends_with("gone"));
    assert!(gone.accesskit_node().is_disabled());
    window.get_by_label_contains("one.json").click();
    window.run();
    assert_eq!(window.state().session().document.path(), Some(one.as_path()));
}

#[test]
fn new_clears_the_bench_and_asks_about_unsaved_work() {
    let mut window = open(None);
    change_target(&mut window, "1.25");
    ctrl(&mut window, Key::N);
    assert!(says(&window, "before the bench is cleared"));
    press_key(&mut window, Key::Escape);
    assert!(!window.state().session().document.now().names().is_empty());
    ctrl(&mut window, Key::N);
    click(&mut window, "Drop the changes");
    let document = &window.state().session().document;
    assert!(document.now().names().is_empty());
    assert!(!document.is_unsaved() && document.path().is_none());
}

#[test]
fn all_actions_can_be_found_and_done_by_keys() {
    let mut window = open(None);
    ctrl(&mut window, Key::K);
    let of_new = |node: &egui_kittest::Node<'_>| node.accesskit_node().label().is_some_and(|l| l.starts_with("New"));
    let first = window.get_all_by_role(Role::ListBoxOption).find(of_new).unwrap();
    assert!(first.is_focused(), "the line that Enter takes");
    let field = window.get_by_role_and_label(Role::TextInput, "All actions");
    let lines = window.get_all_by_role(Role::ListBoxOption);
    let listed: Vec<String> = lines.filter_map(|node| node.accesskit_node().label()).collect();
    for command in Command::ALL.iter().filter(|c| **c != Command::AllActions) {
        let label = command.label(window.state().session());
        let label = label.trim_end_matches('…');
        assert!(listed.iter().any(|line| line.starts_with(label)), "{label}");
    }
    assert!(
        listed
            .iter()
            .any(|line| line.starts_with("Undo, ") && line.contains("not now: Nothing has been done"))
    );
    field.type_text("tilt antic 1°");
    window.run();
    press_key(&mut window, Key::ArrowDown);
    press_key(&mut window, Key::ArrowUp);
    press_key(&mut window, Key::Enter);
    assert_eq!(window.state().session().stance.tilt_deg, 1.0);
    assert!(!says(&window, "All actions"));

    ctrl(&mut window, Key::K);
    window
        .get_by_role_and_label(Role::TextInput, "All actions")
        .type_text("redo");
    window.run();
    press_key(&mut window, Key::Enter);
    assert!(says(&window, "Nothing was taken back"), "it stays, with the reason");
    press_key(&mut window, Key::Escape);
    assert!(!says(&window, "Nothing was taken back"));
}

#[test]
fn keys_move_the_focus_between_the_parts_of_the_window() {
    let mut window = open(None);
    let focused = |window: &Harness<'_, Held>, label: &str| {
        let node = window.query_by_role_and_label(Role::Region, label);
        node.is_some_and(|node| node.is_focused())
    };
    press_key(&mut window, Key::F6);
    assert!(focused(&window, "Bench"));
    press_key(&mut window, Key::ArrowLeft);
    assert_eq!(
        window.state().session().stance.tilt_deg,
        1.0,
        "keys still turn the glass"
    );
    press_key(&mut window, Key::F6);
    assert!(focused(&window, "Tray of pieces to place"));
    press_key(&mut window, Key::F6);
    assert!(focused(&window, "Particulars of the selected piece"));
    press_key(&mut window, Key::F6);
    assert!(focused(&window, "Ledger of the vessels"));
    let on_row = |window: &Harness<'_, Held>| {
        let mut rows = window.get_all_by_role(Role::ListBoxOption);
        rows.any(|row| row.is_focused())
    };
    for _ in 0..12 {
        if !on_row(&window) {
            press_key(&mut window, Key::Tab);
        }
    }
    assert!(on_row(&window), "Tab goes into the part");
    press_key(&mut window, Key::F6);
    assert!(focused(&window, "Stance and messages"));
    window.key_press_modifiers(Modifiers::SHIFT, Key::F6);
    window.run();
    assert!(focused(&window, "Ledger of the vessels"));
}

#[test]
fn the_list_of_actions_leads_to_every_part() {
    let mut window = open(None);
    for (typed, label) in [("go to ledger", "Ledger of the vessels"), ("go to menus", "Menus")] {
        ctrl(&mut window, Key::K);
        window
            .get_by_role_and_label(Role::TextInput, "All actions")
            .type_text(typed);
        window.run();
        press_key(&mut window, Key::Enter);
        assert!(
            window.get_by_role_and_label(Role::Region, label).is_focused(),
            "{label}"
        );
    }
}

#[test]
fn what_the_user_chose_is_remembered() {
    let data = tempfile::tempdir().unwrap();
    let mut window = open_in(data.path(), None);
    assert!(says(&window, "Drag the ring to tilt the glass"));
    click(&mut window, "Understood");
    click(&mut window, "Numbers");
    assert!(!says(&window, "Ledger"));
    window.get_by_label("View").click();
    window.run();
    window.get_by_label("Less motion").scroll_to_me();
    window.run();
    click(&mut window, "Less motion");
    assert_eq!(window.ctx.global_style().animation_time, 0.0);
    assert!(window.query_by_role_and_label(Role::Button, "Ampoule").is_some());
    ctrl(&mut window, Key::T);
    assert!(window.query_by_role_and_label(Role::Button, "Ampoule").is_none());
    drop(window);
    let window = open_in(data.path(), None);
    assert!(window.query_by_label("Ampoule").is_none());
    assert!(!says(&window, "Drag the ring"));
    assert!(window.query_by_label("Ledger").is_none());
    assert_eq!(window.ctx.global_style().animation_time, 0.0);
}

#[test]
fn the_first_hint_goes_with_the_first_use_and_comes_when_asked() {
    let data = tempfile::tempdir().unwrap();
    let mut window = open_in(data.path(), None);
    press_key(&mut window, Key::ArrowLeft);
    assert!(!says(&window, "Drag the ring"));
    let mut window = open(None);
    assert!(!says(&window, "Drag the ring"), "nowhere to remember it");
    window.get_by_label("Help").click();
    window.run();
    click(&mut window, "First hint");
    assert!(says(&window, "Drag the ring"));
}

#[test]
fn the_about_box_has_version_cautions_and_licences() {
    let mut window = open(None);
    window.get_by_label("Help").click();
    window.run();
    click(&mut window, "About Vialwright…");
    assert!(says(&window, concat!("Version ", env!("CARGO_PKG_VERSION"))));
    assert!(says(&window, "Not a safety instrument"));
    click(&mut window, "Cautions");
    assert!(says(&window, "No number here makes glass safe."));
    click(&mut window, "Licences");
    assert!(says(&window, "SIL OPEN FONT LICENSE"));
    assert!(window.query_by_label("egui").is_some());
    press_key(&mut window, Key::Escape);
    assert!(!says(&window, "SIL OPEN FONT LICENSE"));
}

#[test]
fn menus_work_by_keys_alone() {
    let mut window = open(None);
    window.key_press_modifiers(Modifiers::SHIFT, Key::F6);
    window.run();
    press_key(&mut window, Key::Tab);
    for _ in 0..3 {
        press_key(&mut window, Key::Tab);
    }
    assert!(window.get_by_label("Glass").is_focused());
    press_key(&mut window, Key::Enter);
    for _ in 0..3 {
        press_key(&mut window, Key::ArrowDown);
    }
    press_key(&mut window, Key::Enter);
    assert_eq!(window.state().session().stance.tilt_deg, -1.0);
}

#[test]
fn a_small_window_has_the_numbers_in_a_drawer() {
    let mut window = open(None);
    for (size, both) in [([700.0, 560.0], true), ([512.0, 320.0], false)] {
        window.set_size(size.into());
        window.run();
        assert!(window.query_by_label("Ledger").is_none());
        click(&mut window, "Numbers");
        if both {
            assert!(window.query_by_label("Ledger").is_some());
            assert!(window.query_by_label("Particulars").is_some());
        } else {
            click(&mut window, "Ledger");
        }
        let row = window.get_all_by_role(Role::ListBoxOption).next().unwrap();
        let size: egui::Vec2 = size.into();
        assert!(
            row.rect().right() <= size.x && row.rect().left() > 100.0,
            "{:?}",
            row.rect()
        );
        row.click();
        window.run();
        assert!(window.state().session().selection.shown().is_some());
        press_key(&mut window, Key::Escape);
        window.run();
        press_key(&mut window, Key::Escape);
        assert!(window.query_by_label("Ledger").is_none(), "Escape shuts the drawer");
    }
}

#[test]
fn nothing_is_cut_off_in_a_small_window() {
    let mut window = open(None);
    for size in [[1024.0, 640.0], [700.0, 900.0], [700.0, 500.0], [512.0, 320.0]] {
        window.set_size(size.into());
        window.run();
        let room = egui::Rect::from_min_size(egui::Pos2::ZERO, size.into()).expand(0.5);
        let mut seen = 0;
        for role in [Role::Button, Role::SpinButton, Role::ComboBox] {
            for node in window.query_all_by_role(role) {
                let label = node.accesskit_node().label();
                // The tray scrolls where it is too low for all pieces.
                let rect = node.rect();
                let is_in_tray = rect.right() < 90.0 && room.x_range().contains(rect.right());
                assert!(
                    is_in_tray || room.contains_rect(rect),
                    "{label:?} at {size:?}: {rect:?}"
                );
                seen += 1;
            }
        }
        assert!(seen >= 10, "{seen}");
    }
}

#[test]
fn a_narrow_but_high_window_has_the_numbers_under_the_bench() {
    let mut window = open(None);
    window.set_size(vec2(700.0, 900.0));
    window.run();
    let ledger = window.get_by_label("Ledger").rect();
    let particulars = window.get_by_label("Particulars").rect();
    assert!(ledger.top() > 450.0 && particulars.top() > 450.0);
    assert!(ledger.left() > particulars.right());
}

#[test]
fn text_can_be_made_larger_by_command() {
    let mut window = open(None);
    ctrl(&mut window, Key::Plus);
    assert!((window.ctx.zoom_factor() - 1.1).abs() < 1e-3);
    ctrl(&mut window, Key::Num0);
    assert!((window.ctx.zoom_factor() - 1.0).abs() < 1e-3);
}
