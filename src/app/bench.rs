//! The bench: the glass turned by the tilt, the liquid level in it, the tilt ring and the roll scale around it.

use super::controls;
use super::editor::Editor;
use super::glass::{Glass, Outlines};
use super::mark_finder::MarkFinder;
use super::nodes;
use super::pins;
use super::ring::{self, Ring};
use super::ring_marks::RingMarks;
use super::roll::RollScale;
use super::scene::{Scene, Still};
use super::session::Session;
use super::spots;
use super::tell;
use super::theme;
use super::view::{Placed, View};
use super::worker::Scale;
use crate::findings::Finding;
use egui::{CursorIcon, Key, Rect, Sense, Stroke, StrokeKind, Ui, pos2};
use nalgebra::Vector2;

/// What the pointer is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
enum Gesture {
    /// Nothing.
    #[default]
    None,
    /// Moving the paper.
    Pan,
    /// Turning the glass.
    Turn {
        /// Tilt when the drag began, degrees.
        from_deg: f64,
        /// Where on the ring it was taken hold of, degrees.
        held_deg: f64,
    },
}

/// The state of the bench that is no part of the document.
#[derive(Default)]
pub(crate) struct Bench {
    view: View,
    gesture: Gesture,
    /// Whether the view follows the window's size; ends when the user pans or zooms.
    fitted: bool,
    rect: Option<Rect>,
    /// Centre and radius of what was fitted, mm.
    fitted_to: (Vector2<f64>, f64),
    outlines: Option<Outlines>,
    /// Drawing and editing.
    pub editor: Editor,
    /// The finding whose pin was clicked in this frame.
    pinned: Option<Finding>,
}

impl Bench {
    /// Shows the whole apparatus from the next frame on.
    pub(crate) fn fit(&mut self) {
        self.fitted = true;
        self.rect = None;
    }

    /// Whether the focus is on a piece.
    pub(crate) fn has_focus(&self, ctx: &egui::Context, session: &Session) -> bool {
        let focused = ctx.memory(|memory| memory.focused());
        focused.is_some_and(|id| session.document.now().names().iter().any(|name| nodes::id(name) == id))
    }

    /// The finding whose pin was clicked in the last frame.
    pub(crate) fn take_pinned(&mut self) -> Option<Finding> {
        self.pinned.take()
    }

    /// Zooms about the middle of the bench.
    pub(crate) fn zoom(&mut self, session: &Session, factor: f64) {
        if let Some(rect) = self.rect {
            let placed = self.view.placed(rect, session.stance.tilt_deg);
            self.view.zoom(&placed, rect.center(), factor);
            self.fitted = false;
        }
    }

    /// Lets the user act, then draws.
    pub(crate) fn show(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        scene: &Scene,
        still: &Still,
        finder: &MarkFinder,
    ) {
        let revision = session.document.revision();
        let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
        let ring = Ring::within(rect);
        let scale = RollScale::beside(rect);
        self.settle_view(rect, &ring, scene);
        self.look(rect, &ring, session, scene);
        let (turn, roll) = (finder.of(Scale::Ring), finder.of(Scale::Roll));
        // A change of the selection within the frame has it laid out once more.
        let selection = session.selection.clone();
        let marks = RingMarks::new(ring, turn, &selection);
        self.act(ui, &response, session, scene, &ring, &marks);
        let ring_id = controls::turn_by_ring(ui, session, &ring, turn);
        let roll_spots = scale.spots(roll, &selection);
        let scale_id = controls::roll_by_scale(ui, session, scale, roll, &roll_spots);

        let stance = session.stance;
        let placed = self.view.placed(rect, stance.tilt_deg);
        let colours = theme::of(ui);
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, colours.bench);
        let outlines = Outlines::refreshed(self.outlines.take(), revision, &scene.drawing, placed.scale());
        let pieces = scene.drawing.pieces.iter();
        let chosen = pieces.map(|name| session.selection.contains(name)).collect();
        let glass = Glass {
            placed,
            colours,
            stance,
            clip: rect,
            drawing: &scene.drawing,
            chosen,
        };
        glass.paint(&painter, &outlines, still);
        let names = glass.paint_names(&painter);
        self.outlines = Some(outlines);
        // Over the glass, which may be zoomed beyond it.
        ring.paint_rim(&painter, colours);
        marks.paint(&painter, colours);
        ring.paint_needle(&painter, colours, stance.tilt_deg);
        scale.paint(&painter, colours, stance.roll_deg);
        scale.paint_marks(&painter, colours, roll, &selection, &roll_spots);
        ring::paint_plumb(&painter, colours.division, pos2(rect.left() + 24.0, rect.top() + 20.0));
        for (id, place) in [(ring_id, ring.bounds()), (scale_id, scale.rect)] {
            if ui.memory(|memory| memory.has_focus(id)) {
                painter.rect_stroke(
                    place.expand(3.0),
                    6.0,
                    Stroke::new(2.0, colours.accent),
                    StrokeKind::Outside,
                );
            }
        }
        nodes::show(ui, session, scene, still, &placed, rect);
        if let Some(name) = self.editor.take_focus() {
            ui.memory_mut(|memory| memory.request_focus(nodes::id(&name)));
        }
        // While a piece is in hand a click is to place it.
        if self.editor.in_hand().is_none() {
            let taken: Vec<Rect> = names.iter().map(|(_, rect)| *rect).collect();
            let pinned = pins::show(ui, &scene.findings, &scene.drawing, &placed, (rect, &ring, &taken));
            self.pinned = pinned.and_then(|i| scene.findings.get(i)).cloned();
        }
        self.editor.show(ui, session, scene, placed, rect, names);
        if let Some(words) = tell::loss_in_words(&still.lost_ml, &turn.lost_by(stance.tilt_deg)) {
            tell::warn(ui, &painter, rect, &words);
        }
        if let Some(words) = turn.words_at(&selection, stance.tilt_deg) {
            tell::caption(ui, &painter, rect, &words);
        }
        if let Some(at) = spots::nodes(ui, "Tilt", &marks.spots) {
            session.tilt_exactly(at);
        }
        if let Some(at) = spots::nodes(ui, "Roll", &roll_spots) {
            session.roll_exactly(at);
        }
        self.explain(ui, &response, scene, &ring, &marks, &placed);
    }

    fn settle_view(&mut self, rect: Rect, ring: &Ring, scene: &Scene) {
        if self.rect == Some(rect) {
            return;
        }
        if self.rect.is_none() {
            self.fitted_to = scene.drawing.circle();
        }
        // A window of another size shows the same part of the bench, whatever has been drawn since.
        if self.fitted || self.rect.is_none() {
            let (centre, radius) = self.fitted_to;
            self.view = View::fit(centre, radius, ring.room());
        }
        self.rect = Some(rect);
    }

    /// Shows everything when a new piece would else be out of sight.
    fn look(&mut self, rect: Rect, ring: &Ring, session: &Session, scene: &Scene) {
        let bounds = self
            .editor
            .take_look(scene)
            .and_then(|piece| scene.drawing.bounds_of(piece));
        let placed = self.view.placed(rect, session.stance.tilt_deg);
        if bounds.is_some_and(|corners| corners.iter().any(|corner| !rect.contains(placed.to_screen(*corner)))) {
            self.fit();
            self.settle_view(rect, ring, scene);
        }
    }

    fn act(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        session: &mut Session,
        scene: &Scene,
        ring: &Ring,
        marks: &RingMarks<'_>,
    ) {
        let placed = self.view.placed(response.rect, session.stance.tilt_deg);
        let (origin, space, coarse, several) = ui.input(|input| {
            (
                input.pointer.press_origin(),
                input.key_down(Key::Space),
                input.modifiers.command,
                input.modifiers.command || input.modifiers.shift,
            )
        });
        let editing = self.editor.act(response, session, scene, placed, |at| {
            ring.is_on_rim(at) || marks.place_under(at).is_some()
        });
        if response.drag_started() && !editing {
            let on_rim = origin.is_some_and(|at| ring.is_on_rim(at));
            self.gesture = match origin {
                Some(at) if on_rim && !space && response.dragged_by(egui::PointerButton::Primary) => Gesture::Turn {
                    from_deg: session.stance.tilt_deg,
                    held_deg: ring.tilt_at(at),
                },
                _ => Gesture::Pan,
            };
        }
        match self.gesture {
            Gesture::Pan if response.dragged() => {
                self.view.pan(&placed, response.drag_delta());
                self.fitted = false;
            }
            Gesture::Turn { from_deg, held_deg } => {
                if let Some(at) = response.interact_pointer_pos() {
                    let step = if coarse { 5.0 } else { 0.1 };
                    session.tilt_to(((from_deg + ring.tilt_at(at) - held_deg) / step).round() * step);
                }
            }
            _ => {}
        }
        if response.drag_stopped() {
            self.gesture = Gesture::None;
        }
        if response.clicked()
            && !editing
            && let Some(at) = response.interact_pointer_pos()
        {
            if let Some(tilt) = marks.place_under(at) {
                session.tilt_exactly(tilt);
            } else if ring.is_on_rim(at) {
                session.tilt_to(ring.tilt_at(at).round());
            } else {
                match self.editor.piece_under(scene, placed, at) {
                    Some(name) if several => session.selection.toggle(&name),
                    Some(name) => session.selection.only(&name),
                    None => session.selection.clear(),
                }
            }
        }
        if let Some(at) = response.hover_pos() {
            let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
            // The wheel turns what is in hand.
            let scroll = if self.editor.in_hand().is_some() { 0.0 } else { scroll };
            let factor = f64::from(pinch) * (f64::from(scroll) * 0.004).exp();
            if factor != 1.0 {
                self.view.zoom(&placed, at, factor);
                self.fitted = false;
            }
        }
    }

    fn explain(
        &self,
        ui: &Ui,
        response: &egui::Response,
        scene: &Scene,
        ring: &Ring,
        marks: &RingMarks<'_>,
        placed: &Placed,
    ) {
        if let Gesture::Turn { .. } | Gesture::Pan = self.gesture {
            ui.set_cursor_icon(CursorIcon::Grabbing);
            return;
        }
        if let Some(cursor) = self.editor.cursor().filter(|_| response.contains_pointer()) {
            ui.set_cursor_icon(cursor);
            return;
        }
        let Some(at) = response.hover_pos() else { return };
        if let Some(words) = marks.words_under(at) {
            response.show_tooltip_text(words);
        }
        if marks.place_under(at).is_some() {
            ui.set_cursor_icon(CursorIcon::PointingHand);
        } else if ring.is_on_rim(at) {
            ui.set_cursor_icon(CursorIcon::Grab);
        } else if self.editor.piece_under(scene, *placed, at).is_some() {
            ui.set_cursor_icon(CursorIcon::PointingHand);
        }
    }
}
