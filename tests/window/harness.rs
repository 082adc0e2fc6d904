//! Opens a window without a screen and drives it as a person would.

use egui::accesskit::Role;
use egui::{Key, Modifiers, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::PathBuf;
use vialwright::app::{Opening, Window};
use vialwright::model::file;

/// The window, made in its first frame, when there is a context to make it in.
pub(crate) struct Held {
    path: Option<PathBuf>,
    window: Option<Window>,
}

impl std::ops::Deref for Held {
    type Target = Window;

    fn deref(&self) -> &Window {
        self.window.as_ref().unwrap()
    }
}

pub(crate) fn open(path: Option<PathBuf>) -> Harness<'static, Held> {
    let frame = |ui: &mut egui::Ui, held: &mut Held| {
        let path = held.path.take();
        let ctx = ui.ctx().clone();
        let opening = Opening {
            path,
            system_dialogs: false,
        };
        held.window.get_or_insert_with(|| Window::new(&ctx, opening)).show(ui);
    };
    let mut harness = Harness::builder()
        .with_size([1280.0, 800.0])
        .with_max_steps(20)
        .build_ui_state(frame, Held { path, window: None });
    harness.run();
    harness
}

/// The document as it would be written now.
pub(crate) fn bytes(harness: &Harness<'_, Held>) -> String {
    file::write(harness.state().session().document.now())
}

pub(crate) fn undo_words(harness: &Harness<'_, Held>) -> Option<String> {
    harness.state().session().document.undo_words().map(str::to_owned)
}

/// The words of the vessel's row in the ledger.
pub(crate) fn row(harness: &Harness<'_, Held>, vessel: &str) -> String {
    let start = format!("{vessel}: ");
    let of_vessel =
        |node: &egui_kittest::Node<'_>| node.accesskit_node().label().is_some_and(|l| l.starts_with(&start));
    let node = harness.get_all_by_role(Role::ListBoxOption).find(of_vessel).unwrap();
    node.accesskit_node().label().unwrap()
}

pub(crate) fn select(harness: &mut Harness<'_, Held>, piece: &str) {
    harness.get_by_role_and_label(Role::GraphicsObject, piece).click();
    harness.run();
    assert_eq!(harness.state().session().selection.shown(), Some(piece));
}

/// Types into a field and leaves it with Enter.
pub(crate) fn enter(harness: &mut Harness<'_, Held>, field: &str, text: &str) {
    harness.get_by_role_and_label(Role::SpinButton, field).scroll_to_me();
    harness.run();
    harness.get_by_role_and_label(Role::SpinButton, field).click();
    harness.run();
    let field = harness.get_by_role_and_label(Role::SpinButton, field);
    assert!(field.is_focused());
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    field.type_text(text);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
}

/// Presses at `from`, moves over `to` in steps and lets go.
pub(crate) fn drag(harness: &mut Harness<'_, Held>, from: Pos2, to: Pos2) {
    harness.drag_at(from);
    harness.run();
    for part in [0.25, 0.5, 0.75, 1.0] {
        harness.hover_at(from + (to - from) * part);
        harness.run();
    }
    harness.drop_at(to);
    harness.run();
}

/// Closes the window and opens another one where the first was, as the next run of the program would.
pub(crate) fn reopen(harness: &mut Harness<'_, Held>) {
    harness.state_mut().window = None;
    harness.run();
}
