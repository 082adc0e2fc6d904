//! Dimensions on the bench: they turn with the glass, their texts stay upright, and each can be opened and typed into
//! where it stands.

use super::field::{self, Change, Field};
use super::handles;
use super::ring::Ring;
use super::scene::Scene;
use super::session::Session;
use super::theme::{self, Palette};
use super::view::Placed;
use crate::model::Edit;
use crate::model::limits::Unit;
use crate::out::dimensions::{self, Dimension, Drawn, Knob, Label, Measure, Pen};
use crate::units::LengthUnit;
use egui::accesskit::{Action, Role};
use egui::epaint::TextShape;
use egui::{
    Area, FontId, Frame, Id, Key, Order, Pos2, Rect, RichText, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, vec2,
};
use nalgebra::Vector2;
use std::cell::RefCell;
use std::collections::HashMap;

/// Size of the texts, points.
const TEXT: f32 = 11.5;
/// Length and half-width of an arrow, points.
const ARROW: (f32, f32) = (7.0, 1.7);
/// How far marks of the ring reach inwards and outwards from its rim, points.
const MARKS: (f32, f32) = (18.0, 24.0);

/// What a layout was made for.
#[derive(Clone, PartialEq)]
struct Basis {
    revision: u64,
    scale: f64,
    pixels_per_point: f32,
    chosen: Vec<usize>,
    unit: LengthUnit,
}

/// A layout.
struct Laid {
    basis: Basis,
    dimensions: Vec<Dimension>,
    drawn: Vec<Drawn>,
}

/// The dimension that is being typed into.
struct Open {
    name: String,
    /// Whether it was opened by key, so that the focus goes back to it.
    by_key: bool,
    /// Whether it was opened just now: in its first frame its field is only measured and cannot have the focus.
    is_fresh: bool,
    /// Frames since something in it had the focus.
    idle: u8,
}

/// The dimensions of the bench.
#[derive(Default)]
pub(crate) struct Dims {
    laid: Option<Laid>,
    sizes: Sizes,
    open: Option<Open>,
}

/// Sizes of texts. While something is dragged everything is laid out in every frame, and setting a text takes longer
/// than placing it.
#[derive(Default)]
struct Sizes {
    pixels_per_point: f32,
    of: HashMap<(String, bool), Vec2>,
}

/// Texts whose sizes are remembered at most; more than that and all are forgotten.
const MOST_SIZES: usize = 4000;

impl Sizes {
    /// Forgets all where texts are set anew.
    fn refresh(&mut self, ui: &Ui) {
        let pixels_per_point = ui.ctx().pixels_per_point();
        if self.pixels_per_point != pixels_per_point || self.of.len() > MOST_SIZES {
            self.of.clear();
            self.pixels_per_point = pixels_per_point;
        }
    }

    /// Size of a dimension, or of a vessel's name.
    fn of(&mut self, ui: &Ui, text: &str, is_name: bool) -> Vec2 {
        let font = if is_name { theme::heavy(12.5) } else { font() };
        *self.of.entry((text.to_owned(), is_name)).or_insert_with(|| {
            let colour = egui::Color32::PLACEHOLDER;
            ui.painter().layout_no_wrap(text.to_owned(), font, colour).size()
        })
    }
}

/// The bench on which dimensions are drawn in this frame.
#[derive(Clone, Copy)]
pub(crate) struct Place<'a> {
    pub placed: Placed,
    pub tilt_deg: f64,
    pub ring: &'a Ring,
    pub bench: Rect,
}

impl Place<'_> {
    /// Whether a text is seen whole: on the bench and not under the marks of the ring.
    fn shows(&self, corners: &[Pos2; 4]) -> bool {
        let rim = self.ring.bounds().width() / 2.0;
        let (near, far) = (self.ring.inner - MARKS.0, rim + MARKS.1);
        let distances = corners.map(|corner| (corner - self.ring.centre).length());
        let within = distances.iter().all(|d| *d < near);
        // A text outside the ring keeps clear of it by its nearest point, not its nearest corner.
        let centre = corners[0] + (corners[2] - corners[0]) / 2.0;
        let reach = (corners[2] - corners[0]).length() / 2.0;
        let without = (centre - self.ring.centre).length() - reach > far;
        (within || without) && corners.iter().all(|corner| self.bench.contains(*corner))
    }

    fn corners(&self, label: &Label) -> [Pos2; 4] {
        label
            .corners(label.is_turned_over(self.tilt_deg))
            .map(|corner| self.placed.to_screen(corner))
    }
}

fn font() -> FontId {
    theme::plain(TEXT)
}

impl Dims {
    /// Lays out anew if document, scale or selection have changed; `chosen` are the selected pieces.
    pub(crate) fn refresh(&mut self, ui: &Ui, session: &Session, scene: &Scene, scale: f64, chosen: Vec<usize>) {
        let basis = Basis {
            revision: session.document.revision(),
            scale,
            pixels_per_point: ui.ctx().pixels_per_point(),
            chosen,
            unit: session.length_unit,
        };
        if self.laid.as_ref().is_some_and(|laid| laid.basis == basis) {
            return;
        }
        let dimensions = dimensions::survey(session.document.now(), &scene.placed, &basis.chosen);
        self.sizes.refresh(ui);
        let mut kept = names(ui, &mut self.sizes, scene, scale);
        kept.extend(scene.drawing.ticks.iter().map(|tick| tick.ends.to_vec()));
        let height_points = f64::from(self.sizes.of(ui, "0", false).y);
        let sizes = RefCell::new(&mut self.sizes);
        let width = |text: &str| f64::from(sizes.borrow_mut().of(ui, text, false).x);
        let pen = Pen {
            point_mm: 1.0 / scale,
            height_points,
            width_points: &width,
            unit: basis.unit,
        };
        let drawn = dimensions::lay_out(&dimensions, &scene.drawing.outsides, &kept, &pen);
        self.laid = Some(Laid {
            basis,
            dimensions,
            drawn,
        });
    }

    /// Whether a dimension is open to be typed into.
    pub(crate) fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Forgets the layout and what is open.
    pub(crate) fn hide(&mut self) {
        self.laid = None;
        self.open = None;
    }

    /// What is seen in this frame.
    fn seen<'a>(&'a self, place: &'a Place<'_>) -> impl Iterator<Item = (&'a Dimension, &'a Drawn, [Pos2; 4])> {
        self.laid.iter().flat_map(move |laid| {
            laid.drawn.iter().filter_map(move |drawn| {
                let corners = place.corners(&drawn.label);
                let dimension = laid.dimensions.get(drawn.dimension)?;
                place.shows(&corners).then_some((dimension, drawn, corners))
            })
        })
    }

    /// The texts, so that others keep clear of them: upright boxes that cover them closely whichever way they run.
    pub(crate) fn boxes(&self, place: &Place<'_>) -> Vec<Rect> {
        let mut boxes = Vec::new();
        for (.., [from, right, _, up]) in self.seen(place) {
            let (run, rise) = (right - from, up - from);
            // Pieces as long as they are high.
            let parts = (run.length() / rise.length().max(1.0)).ceil().clamp(1.0, 40.0);
            let mut at = 0.0;
            while at < parts {
                let (a, b) = (from + run * (at / parts), from + run * ((at + 1.0) / parts));
                boxes.push(Rect::from_points(&[a, b, a + rise, b + rise]));
                at += 1.0;
            }
        }
        boxes
    }

    /// The dimension whose text lies under a position, within a finger's reach of it.
    fn at(&self, place: &Place<'_>, at: Pos2) -> Option<String> {
        let near = |corners: &[Pos2; 4]| {
            let (foot, up) = (corners[1] - corners[0], corners[3] - corners[0]);
            let middle = corners[0] + (foot + up) / 2.0;
            let reach = |side: egui::Vec2| {
                (at - middle).dot(side.normalized()).abs() <= (side.length() / 2.0).max(theme::TARGET / 2.0)
            };
            reach(foot) && reach(up)
        };
        let found = self.seen(place).find(|(.., corners)| near(corners));
        found.map(|(dimension, ..)| dimension.name.clone())
    }

    /// Takes a click on a dimension: it gets the focus, and a second click opens it. Gives whether it did.
    pub(crate) fn take_click(&mut self, ui: &Ui, response: &egui::Response, place: &Place<'_>) -> bool {
        let Some(name) = response.interact_pointer_pos().and_then(|at| self.at(place, at)) else {
            return false;
        };
        if response.double_clicked() {
            self.open(ui, &name, false);
        } else if self.open.is_none() {
            ui.memory_mut(|memory| memory.request_focus(id_of(&name)));
        }
        true
    }

    /// Whether a dimension lies under a position.
    pub(crate) fn is_at(&self, place: &Place<'_>, at: Pos2) -> bool {
        self.at(place, at).is_some()
    }

    fn open(&mut self, ui: &Ui, name: &str, by_key: bool) {
        let dimension = self
            .laid
            .as_ref()
            .and_then(|laid| laid.dimensions.iter().find(|d| d.name == name));
        let Some(dimension) = dimension else { return };
        for knob in &dimension.knobs {
            field::forget(ui, field_id(knob));
        }
        self.open = Some(Open {
            name: name.to_owned(),
            by_key,
            is_fresh: true,
            idle: 0,
        });
    }

    /// Draws lines, arrows and texts.
    pub(crate) fn paint(&self, ui: &Ui, colours: &Palette, place: &Place<'_>) {
        let painter = ui.painter_at(place.bench);
        let hovered = ui.ctx().pointer_hover_pos().and_then(|at| self.at(place, at));
        for (dimension, drawn, corners) in self.seen(place) {
            let is_open = self.open.as_ref().is_some_and(|open| open.name == dimension.name);
            let is_focused = ui.memory(|memory| memory.has_focus(id_of(&dimension.name)));
            let marked = is_open || is_focused || hovered.as_ref() == Some(&dimension.name);
            let (line, text) = if marked {
                (colours.accent, colours.accent)
            } else {
                (colours.division, colours.quiet)
            };
            let stroke = Stroke::new(if marked { 1.3 } else { 0.8 }, line);
            let points: Vec<Pos2> = drawn.line.iter().map(|p| place.placed.to_screen(*p)).collect();
            painter.add(Shape::line(points, stroke));
            for ends in &drawn.extensions {
                painter.line_segment(ends.map(|p| place.placed.to_screen(p)), stroke);
            }
            for arrow in &drawn.arrows {
                let tip = place.placed.to_screen(arrow.tip);
                let towards = place.placed.to_screen(arrow.tip + arrow.towards) - tip;
                let (along, across) = (towards.normalized(), towards.normalized().rot90());
                let foot = tip - along * ARROW.0;
                let points = vec![tip, foot + across * ARROW.1, foot - across * ARROW.1];
                painter.add(Shape::convex_polygon(points, line, Stroke::NONE));
            }
            self.paint_text(&painter, drawn, corners, text);
            if is_focused {
                let ring = corners.map(|corner| {
                    let middle = corners[0] + (corners[2] - corners[0]) / 2.0;
                    corner + (corner - middle).normalized() * 4.0
                });
                painter.add(Shape::closed_line(ring.to_vec(), Stroke::new(2.0, colours.accent)));
            }
        }
    }

    fn paint_text(&self, painter: &egui::Painter, drawn: &Drawn, corners: [Pos2; 4], colour: egui::Color32) {
        let galley = painter.layout_no_wrap(drawn.label.text.clone(), font(), colour);
        let foot = corners[1] - corners[0];
        let angle = foot.angle();
        // A text that runs along the pixels is set sharp on them.
        let angle = if angle.abs() < 1e-4 { 0.0 } else { angle };
        painter.add(TextShape::new(corners[3], galley, colour).with_angle(angle));
    }

    /// One node for each dimension that is seen; then the fields of the one that is open.
    pub(crate) fn nodes(&mut self, ui: &Ui, session: &mut Session, place: &Place<'_>) {
        let mut asked = None;
        for (dimension, _, corners) in self.seen(place) {
            let id = id_of(&dimension.name);
            let rect = Rect::from_points(&corners).intersect(place.bench);
            let response = ui.interact(rect, id, Sense::focusable_noninteractive());
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &dimension.name));
            ui.ctx().accesskit_node_builder(id, |node| {
                node.set_value(dimension.measure.words(session.length_unit));
                node.add_action(Action::Click);
            });
            let focused = response.has_focus();
            let opens = ui.input_mut(|input| {
                input.has_accesskit_action_request(id, Action::Click)
                    || (focused && input.consume_key(egui::Modifiers::NONE, Key::Enter))
                    || (focused && input.consume_key(egui::Modifiers::NONE, Key::Space))
            });
            if opens {
                asked = Some(dimension.name.clone());
            }
        }
        if let Some(name) = asked {
            self.open(ui, &name, true);
        }
        self.edit(ui, session, place);
    }

    /// The fields of the open dimension, at its place.
    fn edit(&mut self, ui: &Ui, session: &mut Session, place: &Place<'_>) {
        let Some(open) = &mut self.open else { return };
        let found = self.laid.as_ref().and_then(|laid| {
            let index = laid.dimensions.iter().position(|d| d.name == open.name)?;
            let drawn = laid.drawn.iter().find(|drawn| drawn.dimension == index)?;
            Some((laid.dimensions.get(index)?, drawn))
        });
        let Some((dimension, drawn)) = found else {
            self.open = None;
            return;
        };
        if open.is_fresh
            && let Some(knob) = dimension.knobs.first()
        {
            ui.memory_mut(|memory| memory.request_focus(field_id(knob)));
        }
        let at = place.corners(&drawn.label);
        let middle = at[0] + (at[2] - at[0]) / 2.0;
        let escaped = ui.input(|input| input.key_pressed(Key::Escape));
        let entered = ui.input(|input| input.key_pressed(Key::Enter));
        let area = Area::new(Id::unique("dimension").with("fields"))
            .order(Order::Foreground)
            .pivot(egui::Align2::CENTER_CENTER)
            .fixed_pos(middle)
            .constrain_to(place.bench)
            .show(ui.ctx(), |ui| {
                Frame::popup(ui.style())
                    .show(ui, |ui| fields(ui, session, dimension, entered))
                    .inner
            });
        let Edited { has_focus, refused } = area.inner;
        let pressed_outside = ui.input(|input| {
            input.pointer.any_pressed()
                && input
                    .pointer
                    .interact_pos()
                    .is_some_and(|at| !area.response.rect.contains(at))
        });
        let was_fresh = open.is_fresh;
        open.is_fresh &= !has_focus && !dimension.knobs.is_empty();
        open.idle = if has_focus || refused || was_fresh {
            0
        } else {
            open.idle + 1
        };
        if escaped || open.idle > 1 || (pressed_outside && !has_focus && !was_fresh) {
            for knob in &dimension.knobs {
                field::forget(ui, field_id(knob));
            }
            if open.by_key && !pressed_outside {
                let id = id_of(&open.name);
                ui.memory_mut(|memory| memory.request_focus(id));
            }
            self.open = None;
            ui.ctx().request_repaint();
        } else if open.idle == 1 || was_fresh {
            // The focus is on its way to the first field, or may be from one to the next.
            ui.ctx().request_repaint();
        }
    }
}

/// What the fields of a dimension tell.
struct Edited {
    has_focus: bool,
    refused: bool,
}

/// Name, fields and refusals.
fn fields(ui: &mut Ui, session: &mut Session, dimension: &Dimension, entered: bool) -> Edited {
    let colours = theme::of(ui);
    let mut edited = Edited {
        has_focus: false,
        refused: false,
    };
    let name = RichText::new(&dimension.name).font(theme::plain(12.0));
    ui.label(name.color(colours.quiet));
    if dimension.knobs.is_empty() {
        let words = "It follows from where its ends stand; move those to change it.";
        ui.label(RichText::new(words).font(theme::plain(12.0)));
        // There is nothing to give the focus to; it stays until it is sent away.
        edited.refused = true;
        return edited;
    }
    let told = Told::of(dimension, session.length_unit);
    ui.horizontal(|ui| {
        for (k, knob) in dimension.knobs.iter().enumerate() {
            let sign = match (dimension.measure, k) {
                (Measure::Size(_) | Measure::Diameter(_), 0) => "⌀",
                (Measure::Size(_), _) => "×",
                (Measure::Radius(_), _) => "R",
                _ => "",
            };
            if !sign.is_empty() {
                ui.label(sign);
            }
            let id = field_id(knob);
            let field = Field {
                id,
                label: &knob.name,
                value: told.of_shown(knob.shown),
                unit: told.symbol(),
                digits: told.unit.digits_of(knob.shown),
                step: told.step(knob.limit.step),
                range: (told.of_shown(knob.range().0), told.of_shown(knob.range().1)),
            };
            let change = field.show(ui, |text| told.read(text));
            let dragged = matches!(change, Some(Change::Preview(_)));
            apply(ui, session, (knob, told), change);
            let refused = field::refusal(ui, id, told.of_shown(knob.shown)).is_some();
            if refused && entered {
                ui.memory_mut(|memory| memory.request_focus(id));
            }
            edited.refused |= refused;
            edited.has_focus |= dragged || ui.memory(|memory| memory.has_focus(id)) || ui.ctx().is_being_dragged(id);
        }
    });
    for knob in &dimension.knobs {
        if let Some(refusal) = field::refusal(ui, field_id(knob), told.of_shown(knob.shown)) {
            let refusal = RichText::new(refusal).font(theme::plain(12.0));
            ui.label(refusal.color(colours.stop));
        }
    }
    edited
}

/// How the numbers of a dimension are told: angles in degrees, lengths in the unit shown.
#[derive(Clone, Copy)]
struct Told {
    is_angle: bool,
    /// For an angle the millimetre, whose digits it has.
    unit: LengthUnit,
}

impl Told {
    fn of(dimension: &Dimension, unit: LengthUnit) -> Self {
        let is_angle = matches!(dimension.measure, Measure::Angle(_));
        Self {
            is_angle,
            unit: if is_angle { LengthUnit::Millimetre } else { unit },
        }
    }

    fn of_shown(self, shown: f64) -> f64 {
        self.unit.from_mm(shown)
    }

    fn symbol(self) -> &'static str {
        if self.is_angle { "°" } else { self.unit.symbol() }
    }

    /// A twentieth of an inch is about a millimetre.
    fn step(self, step: f64) -> f64 {
        match self.unit {
            LengthUnit::Millimetre => step,
            LengthUnit::Inch => step / 20.0,
        }
    }

    fn read(self, text: &str) -> Result<f64, String> {
        let unit = if self.is_angle { Unit::Deg } else { Unit::Mm };
        field::read(text, unit, self.unit).map(|value| self.of_shown(value))
    }
}

/// Carries a change of a field into the document.
fn apply(ui: &Ui, session: &mut Session, (knob, told): (&Knob, Told), change: Option<Change>) {
    let id = field_id(knob);
    let words = &knob.name;
    let edit = |told_value: f64| Edit::Set {
        piece: knob.owner.clone(),
        key: knob.key.clone(),
        value: knob.value_of(told.unit.to_mm(told_value)),
    };
    let refuse = |ui: &Ui, error, asked, unit| {
        let reason = handles::refusal(&error, unit);
        field::answer(ui, id, Some(reason), asked, told.of_shown(knob.shown));
    };
    match change {
        Some(Change::Preview(value)) => match session.document.settled().apply(&edit(value)) {
            Ok(next) => {
                session.document.preview(next);
                field::forget(ui, id);
            }
            Err(error) => refuse(ui, error, value, session.length_unit),
        },
        Some(Change::Keep) => {
            session.document.keep(words);
            field::forget(ui, id);
        }
        Some(Change::Set(value)) => match session.document.settled().apply(&edit(value)) {
            Ok(next) => {
                session.document.change(words, next);
                field::forget(ui, id);
            }
            Err(error) => refuse(ui, error, value, session.length_unit),
        },
        None => {}
    }
}

fn id_of(name: &str) -> Id {
    Id::unique("dimension").with(name)
}

fn field_id(knob: &Knob) -> Id {
    Id::unique("dimension field").with(&knob.owner).with(&knob.key)
}

/// Where the names of vessels may stand at any tilt, mm: they stay upright below the feet while the glass turns.
fn names(ui: &Ui, sizes: &mut Sizes, scene: &Scene, scale: f64) -> Vec<Vec<Vector2<f64>>> {
    let feet = scene.drawing.feet.iter().filter_map(|foot| {
        let name = scene.drawing.pieces.get(foot.piece)?;
        let half = sizes.of(ui, name, true) / 2.0 + vec2(2.0, 1.0);
        let across = Vector2::new(-foot.out.y, foot.out.x) * (f64::from(half.x) / scale);
        let (near, far) = (
            foot.at + foot.out * (3.0 / scale),
            foot.at + foot.out * (f64::from(6.0 + 2.0 * half.x) / scale),
        );
        Some(vec![near - across, near + across, far + across, far - across])
    });
    feet.collect()
}
