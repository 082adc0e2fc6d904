//! The bench: the glass turned by the tilt, the liquid level in it, the tilt ring and the roll scale around it.

use super::calibration;
use super::controls;
use super::dims::{Dims, Place};
use super::editor::Editor;
use super::glass::{Glass, Outlines};
use super::mark_finder::{MarkFinder, Scale};
use super::marks::Marks;
use super::nodes;
use super::paper;
use super::pins;
use super::ring::{self, Ring};
use super::ring_marks::RingMarks;
use super::roll::RollScale;
use super::scene::{Scene, Still};
use super::session::Session;
use super::spots;
use super::tell;
use super::theme;
use super::view::View;
use crate::findings::Finding;
use crate::out::drawing;
use egui::{Align2, CursorIcon, Key, Rect, Sense, Stroke, StrokeKind, Ui, Vec2, pos2, vec2};
use nalgebra::Vector2;

/// How much of the glass stays in sight, points.
const IN_SIGHT: f32 = 40.0;
/// Room for dimensions around the glass when it is fitted, points.
const DIMENSIONS: f32 = 52.0;

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
    /// The view, bench and tilt for which the glass was last found in sight.
    in_sight: Option<(View, Rect, f64)>,
    outlines: Option<Outlines>,
    dims: Dims,
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

    /// Fits the view anew if it follows the window.
    pub(crate) fn fit_again(&mut self) {
        if self.fitted {
            self.rect = None;
        }
    }

    /// Whether the focus is on a piece.
    pub(crate) fn has_focus(&self, ctx: &egui::Context, session: &Session) -> bool {
        let focused = ctx.memory(|memory| memory.focused());
        focused.is_some_and(|id| session.document.now().names().iter().any(|name| nodes::id(name) == id))
    }

    /// A press on the bench takes the focus from controls elsewhere, so that keys mean the glass again. A field that is
    /// typed into gives it up by itself, once it has taken what was typed.
    pub(crate) fn take_focus_from_others(&self, ctx: &egui::Context) {
        let pressed = ctx.input(|input| input.pointer.primary_pressed().then(|| input.pointer.interact_pos()));
        let (Some(at), Some(bench)) = (pressed.flatten(), self.rect) else {
            return;
        };
        let is_covered = ctx
            .layer_id_at(at)
            .is_some_and(|layer| layer.order != egui::Order::Background);
        if !bench.contains(at) || is_covered {
            return;
        }
        let elsewhere = |id: &egui::Id| {
            let response = ctx.read_response(*id);
            response.is_some_and(|response| !bench.contains(response.rect.center()))
        };
        let in_text = |id: &egui::Id| egui::TextEdit::load_state(ctx, *id).is_some();
        let focused = ctx.memory(|memory| memory.focused());
        if let Some(id) = focused.filter(|id| elsewhere(id) && !in_text(id)) {
            ctx.memory_mut(|memory| memory.surrender_focus(id));
        }
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

    /// Shows the glass at a scale, points to a millimetre.
    pub(crate) fn scale_to(&mut self, session: &Session, scale: f64) {
        self.zoom(session, scale / self.view.scale);
    }

    /// Moves the glass by `delta` points on the screen.
    pub(crate) fn pan(&mut self, session: &Session, delta: Vec2) {
        if let Some(rect) = self.rect {
            let placed = self.view.placed(rect, session.stance.tilt_deg);
            self.view.pan(&placed, delta);
            self.fitted = false;
        }
    }

    /// Whether something on the bench is open to be typed into.
    pub(crate) fn is_typed_into(&self) -> bool {
        self.dims.is_open()
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
        let before = (session.document.revision(), session.stance);
        let (whole, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
        let rect = session.sheet.inside(whole);
        let ring = Ring::within(rect);
        let scale = RollScale::beside(rect);
        self.settle_view(rect, &ring, session, scene);
        self.look(rect, &ring, session, scene);
        // The marks are those of a turn from the charge as given; in a run they would mislead.
        let none = Marks::default();
        let (turn, roll) = match still.run {
            Some(_) => (&none, &none),
            None => (finder.of(Scale::Ring), finder.of(Scale::Roll)),
        };
        // A change of the selection within the frame has it laid out once more.
        let selection = session.selection.clone();
        let marks = RingMarks::new(ring, turn, &selection);
        self.act(ui, &response, session, scene, &ring, &marks);
        let ring_id = controls::turn_by_ring(ui, session, &ring, turn);
        let roll_spots = scale.spots(roll, &selection);
        let scale_id = controls::roll_by_scale(ui, session, scale, roll, &roll_spots);

        if (session.document.revision(), session.stance) != before {
            ui.ctx().request_discard("the bench was changed by hand");
        }
        self.settle_view(rect, &ring, session, scene);
        let place = Place {
            placed: self.view.placed(rect, session.stance.tilt_deg),
            tilt_deg: session.stance.tilt_deg,
            ring: &ring,
            bench: rect,
        };
        let names = self.paint(ui, session, scene, still, &place);
        let painter = ui.painter_at(rect);
        let colours = theme::of(ui);
        // Over the glass, which may be zoomed beyond it.
        ring.paint_rim(&painter, colours);
        marks.paint(&painter, colours);
        ring.paint_needle(&painter, colours, session.stance.tilt_deg);
        scale.paint(&painter, colours, session.stance.roll_deg);
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
        if session.sheet.rulers {
            paper::paint_rulers(
                ui,
                colours,
                (&place.placed, session.length_unit),
                whole,
                session.stance.tilt_deg,
            );
        }
        self.tell_scale(ui, session, rect);
        let placed = place.placed;
        nodes::show(ui, session, scene, still, &placed, rect);
        if let Some(name) = self.editor.take_focus() {
            ui.memory_mut(|memory| memory.request_focus(nodes::id(&name)));
        }
        self.dims.nodes(ui, session, &place);
        let lettered = self.dims.boxes(&place);
        // While a piece is in hand a click is to place it.
        if self.editor.in_hand().is_none() {
            let taken: Vec<Rect> = names.iter().map(|(_, rect)| *rect).chain(lettered.clone()).collect();
            let pinned = pins::show(ui, &scene.findings, &scene.drawing, &placed, (rect, &ring, &taken));
            self.pinned = pinned.and_then(|i| scene.findings.get(i)).cloned();
        }
        self.editor.show(ui, session, scene, placed, rect, (names, &lettered));
        let tilt_deg = session.stance.tilt_deg;
        let (warning, caption) = match &still.run {
            Some(run) => (run.warning(&still.lost_ml), Some(run.caption())),
            None => (
                tell::loss_in_words(&still.lost_ml, &turn.lost_by(tilt_deg)),
                turn.words_at(&selection, tilt_deg),
            ),
        };
        if let Some(words) = warning {
            tell::warn(ui, &painter, rect, &words);
        }
        if let Some(words) = caption {
            tell::caption(ui, &painter, rect, &words);
        }
        if let Some(at) = spots::nodes(ui, "Tilt", &marks.spots) {
            session.tilt_exactly(at);
        }
        if let Some(at) = spots::nodes(ui, "Roll", &roll_spots) {
            session.roll_exactly(at);
        }
        self.explain(ui, &response, scene, &marks, &place);
    }

    /// Paper, glass, liquid, dimensions and names. In a pass that is laid out once more only the texts are drawn: what
    /// else follows from the change is not there yet, but a text that is not drawn is forgotten and would have to be
    /// set anew. Gives where names stand.
    fn paint(
        &mut self,
        ui: &Ui,
        session: &Session,
        scene: &Scene,
        still: &Still,
        place: &Place<'_>,
    ) -> Vec<(String, Rect)> {
        let Place { placed, bench, .. } = *place;
        let is_kept = !ui.ctx().will_discard();
        let colours = theme::of(ui);
        let painter = ui.painter_at(bench);
        painter.rect_filled(bench, 0.0, colours.bench);
        let pieces = scene.drawing.pieces.iter();
        let chosen: Vec<bool> = pieces.map(|name| session.selection.contains(name)).collect();
        let indices = chosen.iter().enumerate().filter(|(_, chosen)| **chosen);
        let indices: Vec<usize> = indices.map(|(index, _)| index).collect();
        let glass = Glass {
            placed,
            colours,
            stance: session.stance,
            clip: bench,
            drawing: &scene.drawing,
            chosen,
        };
        if is_kept {
            if session.sheet.grid {
                paper::paint_grid(&painter, colours, (&placed, session.length_unit), bench);
            }
            let revision = session.document.revision();
            let mut outlines = Outlines::refreshed(self.outlines.take(), revision, &scene.drawing, placed.scale());
            glass.paint(&painter, &mut outlines, still);
            self.outlines = Some(outlines);
            if let Some(run) = &still.run {
                run.paint(&painter, colours, &placed);
            }
        }
        if session.sheet.dimensions {
            if is_kept {
                self.dims.refresh(ui, session, scene, placed.scale(), indices);
            }
            self.dims.paint(ui, colours, place);
        } else {
            self.dims.hide();
        }
        glass.paint_names(&painter, &self.dims.boxes(place))
    }

    /// Fits the view where it is to be fitted, and keeps the glass in sight where it was moved or turned.
    fn settle_view(&mut self, rect: Rect, ring: &Ring, session: &Session, scene: &Scene) {
        if self.rect != Some(rect) {
            if self.rect.is_none() {
                self.fitted_to = drawing::circle(scene.hull());
            }
            // A window of another size shows the same part of the bench, whatever has been drawn since.
            if self.fitted || self.rect.is_none() {
                let (centre, radius) = self.fitted_to;
                let margin = if session.sheet.dimensions { DIMENSIONS } else { 0.0 };
                self.view = View::fit(centre, radius, (ring.room() - margin).max(20.0));
            }
            self.rect = Some(rect);
        }
        let tilt_deg = session.stance.tilt_deg;
        if self.in_sight != Some((self.view, rect, tilt_deg)) {
            self.view.keep_in_sight(rect, tilt_deg, scene.hull(), IN_SIGHT);
            self.in_sight = Some((self.view, rect, tilt_deg));
        }
    }

    /// Shows everything when a new piece would else be out of sight.
    fn look(&mut self, rect: Rect, ring: &Ring, session: &Session, scene: &Scene) {
        let bounds = self.editor.take_look(scene).and_then(|piece| scene.bounds_of(piece));
        let placed = self.view.placed(rect, session.stance.tilt_deg);
        if bounds.is_some_and(|corners| corners.iter().any(|corner| !rect.contains(placed.to_screen(*corner)))) {
            self.fit();
            self.settle_view(rect, ring, session, scene);
        }
    }

    /// In the corner: the unit of the dimensions, and the scale when it is not simply all that is seen.
    fn tell_scale(&self, ui: &Ui, session: &Session, rect: Rect) {
        let mut words = Vec::new();
        if session.sheet.dimensions {
            words.push(format!("Dimensions in {}", session.length_unit.symbol()));
        }
        if !self.fitted {
            let (true_scale, is_measured) = calibration::points_per_mm(ui.ctx());
            let proportion = paper::proportion(self.view.scale, true_scale);
            words.push(if is_measured {
                proportion
            } else {
                format!("about {proportion}")
            });
        }
        if words.is_empty() {
            return;
        }
        let colours = theme::of(ui);
        let galley = ui
            .painter()
            .layout_no_wrap(words.join("   "), theme::plain(12.0), colours.quiet);
        let at = Align2::RIGHT_BOTTOM.anchor_size(rect.right_bottom() - vec2(12.0, 8.0), galley.size());
        let painter = ui.painter_at(rect);
        painter.rect_filled(at.expand2(vec2(5.0, 2.0)), 4.0, colours.bench.gamma_multiply(0.85));
        painter.galley(at.min, galley, colours.quiet);
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
        let rect = session.sheet.inside(response.rect);
        let placed = self.view.placed(rect, session.stance.tilt_deg);
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
        let place = Place {
            placed,
            tilt_deg: session.stance.tilt_deg,
            ring,
            bench: rect,
        };
        let taken = editing || response.clicked() && self.dims.take_click(ui, response, &place);
        if response.clicked()
            && !taken
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

    fn explain(&self, ui: &Ui, response: &egui::Response, scene: &Scene, marks: &RingMarks<'_>, place: &Place<'_>) {
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
            tell::at_pointer(response, words);
        }
        if marks.place_under(at).is_some() {
            ui.set_cursor_icon(CursorIcon::PointingHand);
        } else if place.ring.is_on_rim(at) {
            ui.set_cursor_icon(CursorIcon::Grab);
        } else if self.dims.is_at(place, at) {
            ui.set_cursor_icon(CursorIcon::Text);
        } else if self.editor.piece_under(scene, place.placed, at).is_some() {
            ui.set_cursor_icon(CursorIcon::PointingHand);
        }
    }
}
