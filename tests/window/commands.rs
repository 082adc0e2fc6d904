//! Every command that has a key, done by its key in one window and by the list of actions in another: both come to the
//! same, and to something else than before.

use crate::harness::*;
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, OutputCommand};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::collections::BTreeSet;
use std::path::PathBuf;
use std::time::{Duration, Instant};
use vialwright::app::{Command, Deed, Stride, Way};

type Window = Harness<'static, Held>;

/// How long work beside the window may take on a busy machine.
const PATIENCE: Duration = Duration::from_secs(60);

/// A window on a file of its own.
struct Opened {
    window: Window,
    folder: PathBuf,
    /// What is on the clipboard.
    clipboard: String,
}

/// Everything that a command may change: the document, what is set, and all that can be seen, line by line.
fn state(Opened { window, folder, .. }: &Opened) -> BTreeSet<String> {
    let session = window.state().session();
    let document = &session.document;
    let mut lines = BTreeSet::from([
        format!("design {}", bytes(window)),
        format!("unsaved {}", document.is_unsaved()),
        format!("undo {:?}", document.undo_words()),
        format!("redo {:?}", document.redo_words()),
        format!("selected {:?}", session.selection.names()),
        format!("stance {:?}", session.stance),
        format!("sheet {:?} in {:?}", session.sheet, session.length_unit),
        format!("theme {:?}", window.ctx.options(|options| options.theme_preference)),
        format!("scale {}", window.ctx.zoom_factor()),
    ]);
    lines.extend(window.get_all_by(|_| true).filter_map(|node| {
        let access = node.accesskit_node();
        let label = access.label().unwrap_or_default();
        // Times of frames differ from run to run.
        let is_number = |text: &str| text.parse::<f64>().is_ok();
        let is_number = access.value().is_some_and(|value| is_number(&value));
        (!is_number).then(|| {
            format!(
                "{:?} {label}: {:?} {:?} {:?} at {:?}",
                access.role(),
                access.value(),
                access.numeric_value(),
                access.is_selected(),
                access.bounding_box().map(|b| [b.x0, b.y0, b.x1, b.y1].map(f64::round)),
            )
        })
    }));
    // The folders of two windows differ.
    let folder = folder.display().to_string();
    lines.into_iter().map(|line| line.replace(&folder, "")).collect()
}

/// Marks of a turn, which are found beside the window and may come at any time; `ring` has tests of theirs.
fn comes_late(line: &str) -> bool {
    ["Tilt: ", "Roll: "].iter().any(|late| line.contains(late))
}

/// What has the focus.
fn focused(window: &Window) -> String {
    let mut focused = window.query_all_by(|node| node.is_focused());
    let node = focused.next().map(|node| {
        let access = node.accesskit_node();
        format!("{:?} {:?}", access.role(), access.label())
    });
    format!("focus on {node:?}")
}

fn carry_out(window: &mut Window, command: Command) {
    let ctx = window.ctx.clone();
    window.state_mut().carry_out(&ctx, command);
    window.step();
}

/// The key of a command as the system would send it. Those of the clipboard come as events of their own.
fn press_key_of(Opened { window, clipboard, .. }: &mut Opened, command: Command) {
    let keys = command.shortcut().unwrap();
    match command {
        Command::Piece(Deed::Cut) => window.event(Event::Cut),
        Command::Piece(Deed::Copy) => window.event(Event::Copy),
        Command::Piece(Deed::Paste) => window.event(Event::Paste(clipboard.clone())),
        _ => window.key_press_modifiers(keys.modifiers, keys.logical_key),
    }
}

/// Chooses a command in the list of actions, by keys.
fn choose_in_list(window: &mut Window, command: Command) {
    let label = command.label(window.state().session());
    let label = label.trim_end_matches('…');
    press(window, Modifiers::COMMAND, Key::K);
    type_text(window, label);
    let is_it = |line: &String| line == label || line.starts_with(&format!("{label}, "));
    let lines = window.get_all_by_role(Role::ListBoxOption);
    let listed = lines.filter(|line| line.accesskit_node().position_in_set().is_none());
    let listed: Vec<String> = listed.filter_map(|line| line.accesskit_node().label()).collect();
    let at = listed
        .iter()
        .position(is_it)
        .unwrap_or_else(|| panic!("{label}: {listed:?}"));
    for _ in 0..at {
        press_key(window, Key::ArrowDown);
    }
    window.key_press(Key::Enter);
}

/// A window in which a command can be done and has something to do: a step done and one taken back, a piece selected,
/// the glass held askew, seen closer, the text larger.
fn before(command: Command, folder: PathBuf) -> Opened {
    std::fs::create_dir(&folder).unwrap();
    let path = folder.join("design.json");
    std::fs::copy("examples/teaching-three.json", &path).unwrap();
    let mut window = open(Some(path));
    select(&mut window, "receiver");
    let step = Command::Piece(Deed::Shift(Way::Right, Stride::Plain));
    for command in [step, step, Command::Undo, Command::Piece(Deed::Copy)] {
        carry_out(&mut window, command);
    }
    let told = window.output().platform_output.commands.iter();
    let mut clipboard = told.filter_map(|told| match told {
        OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    let clipboard = clipboard.next_back().unwrap();
    for command in [
        Command::TiltAnticlockwise,
        Command::TiltAnticlockwise,
        Command::RollTowards,
        Command::ZoomIn,
        Command::Larger,
    ] {
        carry_out(&mut window, command);
    }
    if command == Command::Dark {
        carry_out(&mut window, Command::Light);
    }
    if matches!(command, Command::PlayRun | Command::NextStop | Command::PreviousStop) {
        carry_out(&mut window, Command::NextStop);
        carry_out(&mut window, Command::NextStop);
    }
    window.run();
    let mut opened = Opened {
        window,
        folder,
        clipboard,
    };
    if matches!(command, Command::MarkAnticlockwise | Command::MarkClockwise) {
        // The marks are found beside the window.
        let began = Instant::now();
        while !state(&opened).iter().any(|line| line.contains("Tilt: receiver")) {
            assert!(began.elapsed() < PATIENCE, "no marks");
            std::thread::sleep(Duration::from_millis(10));
            opened.window.step();
        }
    }
    opened
}

/// Goes on with what a command has begun until it rests, as far as the window itself is concerned.
fn let_rest(window: &mut Window, command: Command) {
    match command {
        // It plays to its end.
        Command::PlayRun => {
            window.run_steps(4);
            assert!(window.query_by_label("Pause the run").is_some(), "it plays");
            for _ in 0..2000 {
                if window.query_by_label("Pause the run").is_none() {
                    break;
                }
                window.step();
            }
        }
        _ => window.run_steps(3),
    }
    window.run();
    // What was put on the clipboard is seen when it is put in.
    if matches!(command, Command::Piece(Deed::Copy | Deed::Cut)) {
        carry_out(window, Command::SelectNothing);
        carry_out(window, Command::Piece(Deed::Paste));
        window.run_steps(4);
    }
}

/// The first lines in which two states differ, for a message.
fn difference(a: &BTreeSet<String>, b: &BTreeSet<String>) -> String {
    let only = |a: &BTreeSet<String>, b| a.difference(b).take(6).cloned().collect::<Vec<_>>().join("\n  ");
    format!("only by key:\n  {}\nonly by the list:\n  {}", only(a, b), only(b, a))
}

fn check(command: Command) -> Result<(), String> {
    let folder = tempfile::tempdir().unwrap();
    // Digits are alike in width, so that a path takes the same room.
    let [mut by_key, mut by_list] = ["4", "6"].map(|name| before(command, folder.path().join(name)));
    // The focus counts where it is what is moved.
    let moves_focus = matches!(command, Command::NextRegion | Command::PreviousRegion);
    let settled = |opened: &Opened| -> BTreeSet<String> {
        let seen = state(opened).into_iter().filter(|line| !comes_late(line));
        seen.chain(moves_focus.then(|| focused(&opened.window))).collect()
    };
    let at_first = settled(&by_key);
    assert!(command.is_possible(by_key.window.state().session()), "{command:?}");
    press_key_of(&mut by_key, command);
    let_rest(&mut by_key.window, command);
    choose_in_list(&mut by_list.window, command);
    let_rest(&mut by_list.window, command);
    if settled(&by_key) == at_first {
        return Err(format!("{command:?} does nothing"));
    }
    if moves_focus {
        // The list has had the focus itself, so that the next part of the window is another from there.
        return Ok(());
    }
    // What else is worked out beside the windows comes to the same in the end.
    let began = Instant::now();
    loop {
        let (a, b) = (settled(&by_key), settled(&by_list));
        if a == b {
            return Ok(());
        }
        if began.elapsed() > PATIENCE {
            return Err(format!("{command:?}\n{}", difference(&a, &b)));
        }
        std::thread::sleep(Duration::from_millis(10));
        by_key.window.step();
        by_list.window.step();
    }
}

/// Checks every `parts`-th command that has a key, from number `part` on.
fn check_part(part: usize, parts: usize) {
    let with_key = Command::ALL.iter().copied().filter(|command| match command {
        // The list of actions does not list itself; that its key opens it is seen by all others.
        Command::AllActions => false,
        // The system hands the wish to close back as an event; `basics` has a test of what follows.
        Command::Quit => false,
        _ => command.shortcut().is_some(),
    });
    let faults: Vec<String> = with_key
        .skip(part)
        .step_by(parts)
        .filter_map(|command| check(command).err())
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_command_does_the_same_by_key_and_by_the_list_1() {
    check_part(0, 2);
}

#[test]
fn every_command_does_the_same_by_key_and_by_the_list_2() {
    check_part(1, 2);
}
