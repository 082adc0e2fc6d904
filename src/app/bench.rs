//! The bench: the glass turned by the tilt, the liquid level in it, the tilt ring and the roll scale around it.

use super::paint::{self, Outline};
use super::ring::{self, Event, Ring, RollScale};
use super::scene::{Scene, Still};
use super::session::Session;
use super::theme::{self, Palette};
use super::view::{Placed, View};
use crate::geom::glass::Path;
use crate::geom::{Pool, Port, Stance};
use crate::out::drawing::{Drawing, TickKind};
use crate::out::section::{self, Station};
use egui::accesskit::{Action, Orientation, Role};
use egui::{
    Align2, CursorIcon, EventFilter, Id, Key, Mesh, Rect, Sense, Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Greatest error of a curve on the screen, points.
const TOLERANCE_POINTS: f64 = 0.1;
/// Width of the lines at both sides of the wall, points: no wider than a quarter of a thin wall, so that the wall
/// itself is always seen.
fn fine(scale: f64) -> f32 {
    #[allow(clippy::cast_possible_truncation, reason = "a width on the screen")]
    let quarter = (0.25 * scale) as f32;
    quarter.clamp(0.3, 0.8)
}
/// How near to the glass a click still meets it, points.
const NEAR_POINTS: f64 = 3.0;

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
    outlines: Option<Outlines>,
}

impl Bench {
    /// Shows the whole apparatus from the next frame on.
    pub(crate) fn fit(&mut self) {
        self.fitted = true;
        self.rect = None;
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
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene, still: &Still, events: &[Event]) {
        let revision = session.document.revision();
        let (rect, response) = ui.allocate_exact_size(ui.available_size(), Sense::click_and_drag());
        let ring = Ring::within(rect);
        let scale = RollScale::beside(rect);
        self.settle_view(rect, &ring, scene);
        self.act(ui, &response, session, scene, &ring, events);
        let ring_id = self.turn_by_ring(ui, session, &ring);
        let scale_id = roll_by_scale(ui, session, scale);

        let stance = session.stance;
        let placed = self.view.placed(rect, stance.tilt_deg);
        let colours = theme::of(ui);
        let painter = ui.painter_at(rect);
        painter.rect_filled(rect, 0.0, colours.bench);
        let outlines = Outlines::refreshed(self.outlines.take(), revision, &scene.drawing, placed.scale());
        let selected = session.selected.as_ref();
        let chosen = selected.and_then(|name| scene.drawing.pieces.iter().position(|piece| piece == name));
        let glass = Glass {
            placed,
            colours,
            stance,
            clip: rect,
            drawing: &scene.drawing,
            chosen,
        };
        glass.paint(&painter, &outlines, still);
        glass.paint_names(&painter);
        self.outlines = Some(outlines);
        // Over the glass, which may be zoomed beyond it.
        ring.paint_rim(&painter, colours);
        ring.paint_events(&painter, colours, events);
        ring.paint_needle(&painter, colours, stance.tilt_deg);
        scale.paint(&painter, colours, stance.roll_deg);
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
        piece_nodes(ui, session, scene, still, &placed, rect);
        self.explain(ui, &response, session, scene, &ring, events, &placed);
    }

    fn settle_view(&mut self, rect: Rect, ring: &Ring, scene: &Scene) {
        if self.rect != Some(rect) {
            if self.fitted || self.rect.is_none() {
                let (centre, radius) = scene.drawing.circle();
                self.view = View::fit(centre, radius, ring.room());
            }
            self.rect = Some(rect);
        }
    }

    fn act(
        &mut self,
        ui: &Ui,
        response: &egui::Response,
        session: &mut Session,
        scene: &Scene,
        ring: &Ring,
        events: &[Event],
    ) {
        let placed = self.view.placed(response.rect, session.stance.tilt_deg);
        let (origin, space, coarse) = ui.input(|input| {
            (
                input.pointer.press_origin(),
                input.key_down(Key::Space),
                input.modifiers.command,
            )
        });
        if response.drag_started() {
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
            && let Some(at) = response.interact_pointer_pos()
        {
            if let Some(event) = ring.event_at(at, events) {
                session.tilt_to(event.tilt_deg());
            } else if ring.is_on_rim(at) {
                session.tilt_to(ring.tilt_at(at).round());
            } else {
                let found = scene
                    .drawing
                    .piece_at(placed.to_world(at), NEAR_POINTS / placed.scale());
                session.selected = found.map(str::to_owned);
            }
        }
        if let Some(at) = response.hover_pos() {
            let (scroll, pinch) = ui.input(|input| (input.smooth_scroll_delta().y, input.zoom_delta()));
            let factor = f64::from(pinch) * (f64::from(scroll) * 0.004).exp();
            if factor != 1.0 {
                self.view.zoom(&placed, at, factor);
                self.fitted = false;
            }
        }
    }

    /// The ring as a control of its own: focus, arrow keys, assistive tools.
    fn turn_by_ring(&self, ui: &Ui, session: &mut Session, ring: &Ring) -> Id {
        let id = Id::unique("tilt ring");
        let response = ui.interact(ring.bounds(), id, Sense::focusable_noninteractive());
        let tilt = session.stance.tilt_deg;
        let step = keys(ui, id, (Key::ArrowRight, Key::ArrowLeft));
        let asked = asked(ui, id);
        if step != 0.0 {
            session.tilt_to(tilt + step);
        }
        if let Some(value) = asked {
            session.tilt_to(value);
        }
        describe(ui, &response, "Tilt ring", session.stance.tilt_deg, (-180.0, 180.0));
        id
    }

    #[allow(clippy::too_many_arguments, reason = "what can lie under the pointer")]
    fn explain(
        &self,
        ui: &Ui,
        response: &egui::Response,
        session: &Session,
        scene: &Scene,
        ring: &Ring,
        events: &[Event],
        placed: &Placed,
    ) {
        if let Gesture::Turn { .. } | Gesture::Pan = self.gesture {
            ui.set_cursor_icon(CursorIcon::Grabbing);
            return;
        }
        let Some(at) = response.hover_pos() else { return };
        if let Some(event) = ring.event_at(at, events) {
            ui.set_cursor_icon(CursorIcon::PointingHand);
            let piece = session.selected.as_deref().unwrap_or_default();
            response.show_tooltip_text(event.words(piece));
        } else if ring.is_on_rim(at) {
            ui.set_cursor_icon(CursorIcon::Grab);
        } else if scene
            .drawing
            .piece_at(placed.to_world(at), NEAR_POINTS / placed.scale())
            .is_some()
        {
            ui.set_cursor_icon(CursorIcon::PointingHand);
        }
    }
}

/// The roll scale as a control: drag, arrow keys, assistive tools.
fn roll_by_scale(ui: &Ui, session: &mut Session, scale: RollScale) -> Id {
    let id = Id::unique("roll scale");
    let response = ui
        .interact(scale.rect, id, Sense::click_and_drag())
        .on_hover_cursor(CursorIcon::ResizeVertical);
    if (response.dragged() || response.clicked())
        && let Some(at) = response.interact_pointer_pos()
    {
        session.roll_to(scale.roll_at(at.y).round());
    }
    let step = keys(ui, id, (Key::ArrowUp, Key::ArrowDown));
    if step != 0.0 {
        session.roll_to(session.stance.roll_deg + step);
    }
    if let Some(value) = asked(ui, id) {
        session.roll_to(value);
    }
    describe(ui, &response, "Roll scale", session.stance.roll_deg, (-90.0, 90.0));
    id
}

/// Degrees asked for by arrow keys while the control has the focus; shift makes them tenths.
fn keys(ui: &Ui, id: Id, (less, more): (Key, Key)) -> f64 {
    if !ui.memory(|memory| memory.has_focus(id)) {
        return 0.0;
    }
    let filter = EventFilter {
        horizontal_arrows: true,
        vertical_arrows: true,
        ..EventFilter::default()
    };
    ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
    ui.input_mut(|input| {
        let unit = if input.modifiers.shift { 0.1 } else { 1.0 };
        let up = input.count_and_consume_key(egui::Modifiers::NONE, more);
        let down = input.count_and_consume_key(egui::Modifiers::NONE, less);
        unit * (up as f64 - down as f64)
    })
}

/// A value that an assistive tool asked for.
fn asked(ui: &Ui, id: Id) -> Option<f64> {
    ui.input(|input| {
        input
            .accesskit_action_requests(id, Action::SetValue)
            .find_map(|request| match request.data {
                Some(egui::accesskit::ActionData::NumericValue(value)) => Some(value),
                _ => None,
            })
    })
}

/// Name, role and value of an angle control.
fn describe(ui: &Ui, response: &egui::Response, name: &str, value_deg: f64, (low, high): (f64, f64)) {
    response.widget_info(|| WidgetInfo::labeled(Role::Slider, true, name));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_numeric_value(value_deg);
        node.set_value(ring::degrees(value_deg));
        node.set_min_numeric_value(low);
        node.set_max_numeric_value(high);
        node.set_numeric_value_step(1.0);
        node.set_orientation(Orientation::Vertical);
        node.add_action(Action::SetValue);
    });
}

/// One node for each piece that is seen, with its name and what it holds; it can be focused and chosen by key.
fn piece_nodes(ui: &Ui, session: &mut Session, scene: &Scene, still: &Still, placed: &Placed, bench: Rect) {
    let base = Id::unique("piece");
    for (index, name) in scene.drawing.pieces.iter().enumerate() {
        let Some(bounds) = scene.drawing.bounds_of(index) else {
            continue;
        };
        let rect = Rect::from_points(&bounds.map(|p| placed.to_screen(p)));
        if !rect.intersects(bench) {
            continue;
        }
        let id = base.with(name);
        let response = ui.interact(rect.intersect(bench), id, Sense::focusable_noninteractive());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_role(Role::GraphicsObject);
            node.set_value(still.words(name));
            node.set_selected(session.selected.as_deref() == Some(name));
            node.add_action(Action::Click);
        });
        let focused = response.has_focus();
        let chosen = ui.input_mut(|input| {
            input.has_accesskit_action_request(id, Action::Click)
                || (focused && input.consume_key(egui::Modifiers::NONE, Key::Enter))
                || (focused && input.consume_key(egui::Modifiers::NONE, Key::Space))
        });
        if chosen {
            session.selected = Some(name.clone());
        }
        if focused {
            let colours = theme::of(ui);
            let stroke = Stroke::new(2.0, colours.accent);
            ui.painter()
                .rect_stroke(rect.expand(4.0), 4.0, stroke, StrokeKind::Outside);
        }
    }
}

/// Spans that touch or overlap made one, in order.
fn joined(mut spans: Vec<[f32; 2]>) -> Vec<[f32; 2]> {
    spans.sort_by(|a, b| a[0].total_cmp(&b[0]));
    let mut found: Vec<[f32; 2]> = Vec::new();
    for [from, to] in spans {
        match found.last_mut() {
            Some(last) if from <= last[1] + 0.5 => last[1] = last[1].max(to),
            _ => found.push([from, to]),
        }
    }
    found
}

/// Outlines made for a scale; they last while the glass only turns and moves.
struct Outlines {
    revision: u64,
    scale: f64,
    tolerance_mm: f64,
    outer: Vec<Outline>,
    inner: Vec<Outline>,
}

impl Outlines {
    /// `old` if it still fits, else new ones.
    fn refreshed(old: Option<Self>, revision: u64, drawing: &Drawing, scale: f64) -> Self {
        old.filter(|old| old.revision == revision && old.scale == scale)
            .unwrap_or_else(|| {
                let tolerance_mm = TOLERANCE_POINTS / scale;
                let outline = |path: &Path| Outline::new(path, tolerance_mm, scale);
                Self {
                    revision,
                    scale,
                    tolerance_mm,
                    outer: drawing.glass.iter().map(|glass| outline(&glass.outer)).collect(),
                    inner: drawing.glass.iter().map(|glass| outline(&glass.inner)).collect(),
                }
            })
    }
}

/// The glass as it is drawn in this frame.
struct Glass<'a> {
    placed: Placed,
    colours: &'static Palette,
    stance: Stance,
    clip: Rect,
    drawing: &'a Drawing,
    chosen: Option<usize>,
}

impl Glass<'_> {
    fn paint(&self, painter: &egui::Painter, outlines: &Outlines, still: &Still) {
        let colours = self.colours;
        let fine = fine(self.placed.scale());
        let chosen = self.chosen.and_then(|i| outlines.outer.get(i));
        for outline in &outlines.outer {
            painter.add(outline.edge(&self.placed, fine + 0.5, colours.edge));
        }
        if let Some(outline) = chosen {
            painter.add(outline.edge(&self.placed, fine + 1.6, colours.accent));
        }
        let mut mesh = Mesh::default();
        for outline in &outlines.outer {
            outline.fill(&mut mesh, &self.placed, colours.wall);
        }
        // The chosen piece once more on top, so that all of its wall is seen.
        if let Some(outline) = chosen {
            outline.fill(&mut mesh, &self.placed, colours.wall_chosen);
        }
        painter.add(Shape::mesh(mesh));
        for outline in &outlines.inner {
            painter.add(outline.edge(&self.placed, fine + 0.2, colours.edge));
        }
        let mut mesh = Mesh::default();
        for outline in &outlines.inner {
            outline.fill(&mut mesh, &self.placed, colours.bore);
        }
        painter.add(Shape::mesh(mesh));
        for pool in &still.pools {
            self.paint_pool(painter, pool, outlines.tolerance_mm);
        }
        for mouth in &self.drawing.mouths {
            self.paint_mouth(painter, mouth);
        }
        for glass in &self.drawing.glass {
            let points = glass.centreline.points(outlines.tolerance_mm);
            let stroke = Stroke::new(0.8, colours.centreline);
            painter.extend(paint::chain_line(&self.placed, &points, stroke));
        }
        for tick in &self.drawing.ticks {
            let ends = tick.ends.map(|p| self.placed.to_screen(p));
            let stroke = Stroke::new(1.4, colours.mark);
            match tick.kind {
                TickKind::Target => _ = painter.line_segment(ends, stroke),
                TickKind::Seal => painter.extend(Shape::dashed_line(&ends, stroke, 3.0, 2.0)),
            }
        }
    }

    /// Liquid: the bores it wets, cut off at its level, which on the screen is a level line.
    fn paint_pool(&self, painter: &egui::Painter, pool: &Pool, tolerance_mm: f64) {
        let up = self.stance.up();
        let wetted: Vec<Vec<Station>> = pool
            .wetted
            .iter()
            .map(|shape| section::stations(shape, tolerance_mm))
            .collect();
        if self.stance.roll_deg != 0.0 {
            let mut mesh = Mesh::default();
            for stations in &wetted {
                for tile in section::shadow(stations, up, pool.level, 2.0) {
                    paint::tile(&mut mesh, &self.placed, &tile, self.colours.liquid_beyond);
                }
            }
            painter.add(Shape::mesh(mesh));
        }
        let mut below = self.clip;
        match self.level_on_screen(pool.level) {
            Some(y) => below.min.y = below.min.y.max(y),
            None if pool.level < 0.0 => return,
            None => {}
        }
        if below.is_positive() {
            let mut mesh = Mesh::default();
            for stations in &wetted {
                paint::fill(&mut mesh, &self.placed, stations, self.colours.liquid);
            }
            painter.with_clip_rect(below).add(Shape::mesh(mesh));
        }
        if let Some(y) = self.level_on_screen(pool.level) {
            let cuts = wetted
                .iter()
                .flat_map(|stations| section::surface(stations, up, pool.level));
            let spans = cuts.map(|[a, b]| [a, b].map(|p| self.placed.to_screen(p).x));
            let y = painter.round_to_pixel_center(y);
            for [from, to] in joined(spans.map(|[a, b]| [a.min(b), a.max(b)]).collect()) {
                painter.hline(from..=to, y, Stroke::new(1.5, self.colours.level));
            }
        }
    }

    /// Where a level cuts the drawing plane on the screen; `None` when the plane itself lies level.
    fn level_on_screen(&self, level: f64) -> Option<f32> {
        let up = self.stance.up().xy();
        let steepness = up.norm_squared();
        (steepness > 1e-12).then(|| self.placed.to_screen(up * (level / steepness)).y)
    }

    /// An open end: the line across the bore is taken away and a small arrow shows the way out.
    fn paint_mouth(&self, painter: &egui::Painter, mouth: &Port) {
        let out = nalgebra::Vector2::new(mouth.heading.cos(), mouth.heading.sin());
        let across = nalgebra::Vector2::new(-out.y, out.x) * mouth.r;
        let at = self.placed.to_screen(mouth.at);
        let out = self.placed.to_screen(mouth.at + out) - at;
        let out = out.normalized();
        let edge = [
            self.placed.to_screen(mouth.at + across),
            self.placed.to_screen(mouth.at - across),
        ];
        let half = (fine(self.placed.scale()) + 0.5) / 2.0;
        painter.line_segment(
            edge.map(|p| p + out * half),
            Stroke::new(2.0 * half + 1.0, self.colours.bore),
        );
        painter.arrow(at + out * 5.0, out * 13.0, Stroke::new(1.2, self.colours.division));
    }

    /// Names of the vessels, below their bottoms; one that would lie on another is left out.
    fn paint_names(&self, painter: &egui::Painter) {
        let mut taken: Vec<Rect> = Vec::new();
        for foot in &self.drawing.feet {
            let Some(name) = self.drawing.pieces.get(foot.piece) else {
                continue;
            };
            let at = self.placed.to_screen(foot.at);
            let away = (self.placed.to_screen(foot.at + foot.out) - at).normalized();
            let is_chosen = self.chosen == Some(foot.piece);
            let (font, colour) = if is_chosen {
                (theme::heavy(12.5), self.colours.accent)
            } else {
                (theme::plain(12.0), self.colours.quiet)
            };
            let galley = painter.layout_no_wrap(name.clone(), font, colour);
            // Far enough that the text clears the glass whichever way the bottom points.
            let reach = 6.0 + galley.size().x / 2.0 * away.x.abs() + galley.size().y / 2.0 * away.y.abs();
            let rect: Rect = Align2::CENTER_CENTER.anchor_size(at + away * reach, galley.size());
            if !self.clip.contains_rect(rect) || (!is_chosen && taken.iter().any(|t| t.intersects(rect))) {
                continue;
            }
            taken.push(rect);
            painter.rect_filled(
                rect.expand2(vec2(2.0, 0.0)),
                3.0,
                self.colours.bench.gamma_multiply(0.8),
            );
            painter.galley(rect.min, galley, colour);
        }
    }
}
