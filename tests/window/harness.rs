//! Opens a window without a screen and drives it as a person would.

use egui::accesskit::Role;
use egui::{Key, Modifiers, Pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use std::path::{Path, PathBuf};
use vialwright::app::{Opening, Window};
use vialwright::model::{Apparatus, file};

/// The window, made in its first frame, when there is a context to make it in.
pub(crate) struct Held {
    opening: Opening,
    window: Option<Window>,
}

impl std::ops::DerefMut for Held {
    fn deref_mut(&mut self) -> &mut Window {
        self.window.as_mut().unwrap()
    }
}

impl std::ops::Deref for Held {
    type Target = Window;

    fn deref(&self) -> &Window {
        self.window.as_ref().unwrap()
    }
}

pub(crate) fn open(path: Option<PathBuf>) -> Harness<'static, Held> {
    open_as(Opening {
        path,
        ..Opening::default()
    })
}

pub(crate) fn open_as(opening: Opening) -> Harness<'static, Held> {
    let frame = |ui: &mut egui::Ui, held: &mut Held| {
        let opening = std::mem::take(&mut held.opening);
        let ctx = ui.ctx().clone();
        held.window.get_or_insert_with(|| Window::new(&ctx, opening)).show(ui);
    };
    let mut harness = Harness::builder()
        .with_size([1280.0, 800.0])
        .with_max_steps(20)
        .build_ui_state(frame, Held { opening, window: None });
    harness.run();
    harness
}

/// The three-vial example.
pub(crate) fn teaching() -> Harness<'static, Held> {
    open(Some(PathBuf::from("examples/teaching-three.json")))
}

/// The design.
pub(crate) fn now<'a>(harness: &'a Harness<'_, Held>) -> &'a Apparatus {
    harness.state().session().document.now()
}

/// Whether a text is to be read somewhere.
pub(crate) fn says(harness: &Harness<'_, Held>, text: &str) -> bool {
    harness.query_by_label_contains(text).is_some()
}

pub(crate) fn press(harness: &mut Harness<'_, Held>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

/// The same without modifiers that would replace those held.
pub(crate) fn press_key(harness: &mut Harness<'_, Held>, key: Key) {
    harness.key_press(key);
    harness.run();
}

pub(crate) fn undo(harness: &mut Harness<'_, Held>) {
    press(harness, Modifiers::COMMAND, Key::Z);
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

/// Types into whatever has the focus.
pub(crate) fn type_text(harness: &mut Harness<'_, Held>, text: &str) {
    harness.event(egui::Event::Text(text.to_owned()));
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

/// Where a handle stands.
pub(crate) fn handle(harness: &Harness<'_, Held>, label: &str) -> Pos2 {
    harness.get_by_role_and_label(Role::Slider, label).rect().center()
}

/// Holds a press at `from` moved to `to`, not yet let go.
pub(crate) fn pull(harness: &mut Harness<'_, Held>, from: Pos2, to: Pos2) {
    harness.drag_at(from);
    harness.run();
    for part in [0.3, 0.7, 1.0] {
        harness.hover_at(from + (to - from) * part);
        harness.run();
    }
}

pub(crate) fn let_go(harness: &mut Harness<'_, Held>, at: Pos2) {
    harness.drop_at(at);
    harness.run();
}

/// Types the path of a file into the dialog and takes it.
pub(crate) fn give_file(harness: &mut Harness<'_, Held>, path: &Path) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness
        .get_by_role_and_label(Role::TextInput, "File")
        .type_text(&path.display().to_string());
    harness.run();
    harness.key_press(Key::Enter);
}

/// The screen position of a point of the drawing, mm, as the nodes of two pieces show it.
pub(crate) fn on_screen(harness: &Harness<'_, Held>, x: f64, y: f64) -> Pos2 {
    use vialwright::geom::build::build;
    use vialwright::out::drawing::Drawing;
    let session = harness.state().session();
    let drawing = Drawing::new(&build(session.document.now()).unwrap());
    let tilt = session.stance.tilt_deg.to_radians();
    let turned = |x: f64, y: f64| {
        let (sin, cos) = tilt.sin_cos();
        (x * cos - y * sin, x * sin + y * cos)
    };
    // The middle of a piece's bounds lies at the middle of its node, whatever the tilt.
    let mut known: Vec<((f64, f64), Pos2)> = Vec::new();
    for (name, corners) in drawing.pieces.iter().zip(drawing.bounds()) {
        let corners = corners.unwrap();
        let middle = (corners[0] + corners[2]) / 2.0;
        let node = harness.get_by_role_and_label(Role::GraphicsObject, name);
        known.push((turned(middle.x, middle.y), node.rect().center()));
    }
    let (a, at_a) = known[0];
    let far = |b: &&((f64, f64), Pos2)| (b.0.0 - a.0).hypot(b.0.1 - a.1);
    let (b, at_b) = known[1..].iter().max_by(|p, q| far(p).total_cmp(&far(q))).unwrap();
    let scale = f64::from((*at_b - at_a).length()) / (b.0 - a.0).hypot(b.1 - a.1);
    let (x, y) = turned(x, y);
    at_a + egui::vec2(((x - a.0) * scale) as f32, ((a.1 - y) * scale) as f32)
}

/// A point on the centreline of a piece, on the screen.
pub(crate) fn along(harness: &Harness<'_, Held>, piece: &str, at_mm: f64) -> Pos2 {
    let placed = harness.state().session().document.now().place().unwrap();
    let at = placed.lines[placed.index(piece).unwrap()].spot(at_mm).at;
    on_screen(harness, at.x, at.y)
}

/// Presses or releases modifier keys that stay as they are.
pub(crate) fn hold(harness: &mut Harness<'_, Held>, modifiers: Modifiers) {
    harness.event(egui::Event::ModifiersChanged(modifiers));
    harness.run();
}

/// Clicks at a position.
pub(crate) fn click_at(harness: &mut Harness<'_, Held>, at: Pos2) {
    harness.hover_at(at);
    harness.run();
    for pressed in [true, false] {
        harness.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    harness.run();
}
