//! The section of one piece: its real glass, small, with the host it sits on, and the lines that show where a number
//! stands.

use super::entry::Entry;
use crate::app::paint::{Dashes, Outline};
use crate::app::theme::{self, Palette};
use crate::app::view::{Placed, View};
use crate::geom::glass::Glass;
use crate::model::{Apparatus, Seat};
use crate::out::callouts::{Callout, Mark, callouts};
use crate::out::drawing::{Drawing, TickKind};
use crate::units::LengthUnit;
use egui::accesskit::Role;
use egui::{Id, Mesh, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, vec2};
use nalgebra::Vector2;

/// Greatest error of a curve, points.
const TOLERANCE_POINTS: f64 = 0.1;
/// Error of the outlines from which extents are taken, mm.
const EXTENT_MM: f64 = 0.2;
/// Distance of a dimension line from the glass, points.
pub(super) const LANE: f32 = 9.0;
/// How near to a line the pointer meets it, points.
const NEAR: f32 = 6.0;
/// Key of the target's level.
pub(super) const TARGET: &str = "target_ml";

/// The section of a piece and the places of its numbers.
pub(super) struct Section<'a> {
    name: &'a str,
    glass: &'a Glass,
    /// The glass that the piece sits on.
    host: Option<&'a Glass>,
    seals: Vec<[Vector2<f64>; 2]>,
    target: Option<[Vector2<f64>; 2]>,
    /// The places of its numbers.
    pub callouts: Vec<Callout>,
}

/// A section laid out on the screen.
#[derive(Clone, Copy)]
pub(super) struct Laid {
    placed: Placed,
    /// The rectangle around the piece's own glass.
    pub bounds: Rect,
    /// What may be drawn on.
    pub clip: Rect,
}

impl<'a> Section<'a> {
    /// The section of the piece of that name; `None` when it is not drawn.
    pub(super) fn of(drawing: &'a Drawing, apparatus: &Apparatus, name: &'a str) -> Option<Self> {
        let index = drawing.pieces.iter().position(|piece| piece == name)?;
        let glass = drawing.glass.get(index)?;
        let piece = apparatus.find(name)?;
        let host = match &piece.seat {
            Seat::On(place) => drawing.pieces.iter().position(|piece| *piece == place.host),
            Seat::Free { .. } | Seat::Between { .. } => None,
        };
        let ticks = |kind| {
            let own = drawing.ticks.iter();
            own.filter(move |tick| tick.piece == index && tick.kind == kind)
                .map(|tick| tick.ends)
        };
        let target = ticks(TickKind::Target).next();
        let mut places = callouts(&piece.form, &glass.centreline);
        if let Some([right, _]) = target {
            places.push(Callout {
                key: TARGET.to_owned(),
                mark: Mark::Point { at: right },
            });
        }
        Some(Self {
            name,
            glass,
            host: host.and_then(|host| drawing.glass.get(host)),
            seals: ticks(TickKind::Seal).collect(),
            target,
            callouts: places,
        })
    }

    /// The place of a number.
    pub(super) fn mark(&self, key: &str) -> Option<Mark> {
        self.callouts
            .iter()
            .find(|callout| callout.key == key)
            .map(|callout| callout.mark)
    }

    /// Least and greatest coordinates of the glass when it is turned by `tilt_deg`, mm.
    fn turned_bounds(&self, tilt_deg: f64) -> (Vector2<f64>, Vector2<f64>) {
        let (sin, cos) = tilt_deg.to_radians().sin_cos();
        let turned = |p: Vector2<f64>| Vector2::new(p.x * cos - p.y * sin, p.x * sin + p.y * cos);
        let points = self.glass.outer.points(EXTENT_MM).into_iter().map(turned);
        let start = turned(self.glass.outer.start);
        points.fold((start, start), |(low, high), p| (low.inf(&p), high.sup(&p)))
    }

    /// Width and height when it is turned by `tilt_deg`, mm.
    pub(super) fn extent(&self, tilt_deg: f64) -> Vector2<f64> {
        let (low, high) = self.turned_bounds(tilt_deg);
        (high - low).sup(&Vector2::repeat(1e-3))
    }

    /// The tilt at which a straight piece hangs straight down from its start.
    pub(super) fn hanging_deg(&self) -> f64 {
        let along = self.glass.centreline.end() - self.glass.centreline.start;
        -90.0 - crate::model::place::heading_deg(along)
    }

    /// The tilt at which the piece is narrowest, its start above its end.
    pub(super) fn narrowest_deg(&self) -> f64 {
        let hanging = self.hanging_deg();
        let candidates = (-18..18).map(|i| hanging + f64::from(i) * 5.0);
        let narrowest = candidates.min_by(|a, b| {
            // Hanging straight is preferred to what is hardly narrower.
            let cost = |deg: f64| self.extent(deg).x + 0.001 * (deg - hanging).abs();
            cost(*a).total_cmp(&cost(*b))
        });
        narrowest.unwrap_or(hanging)
    }

    /// Lays the piece out in the middle of `rect`, turned by `tilt_deg`, as large as fits but no larger than
    /// `greatest` points per millimetre.
    pub(super) fn lay(&self, rect: Rect, clip: Rect, tilt_deg: f64, greatest: f64) -> Laid {
        let (low, high) = self.turned_bounds(tilt_deg);
        let extent = (high - low).sup(&Vector2::repeat(1e-3));
        let scale = (f64::from(rect.width().max(1.0)) / extent.x)
            .min(f64::from(rect.height().max(1.0)) / extent.y)
            .min(greatest);
        let middle = (low + high) / 2.0;
        let (sin, cos) = tilt_deg.to_radians().sin_cos();
        let pivot = Vector2::new(middle.x * cos + middle.y * sin, middle.y * cos - middle.x * sin);
        let view = View { pivot, scale };
        let placed = view.placed(rect, tilt_deg);
        #[allow(clippy::cast_possible_truncation, reason = "a size on the screen")]
        let size = vec2((extent.x * scale) as f32, (extent.y * scale) as f32);
        Laid {
            placed,
            bounds: Rect::from_center_size(rect.center(), size),
            clip,
        }
    }

    /// Draws the glass, its centreline and its marks, and faintly the host.
    pub(super) fn paint(&self, ui: &Ui, laid: &Laid) {
        let colours = theme::of(ui);
        let painter = ui.painter().with_clip_rect(laid.clip.intersect(ui.clip_rect()));
        let placed = &laid.placed;
        let scale = placed.scale();
        let tolerance_mm = TOLERANCE_POINTS / scale;
        if let Some(host) = self.host {
            for path in [&host.outer, &host.inner] {
                let points = path
                    .points(tolerance_mm)
                    .into_iter()
                    .map(|p| placed.to_screen(p))
                    .collect();
                painter.add(Shape::closed_line(points, Stroke::new(1.0, colours.rule)));
            }
            let mut mesh = Mesh::default();
            let centreline = Dashes::chain(&host.centreline.points(tolerance_mm), scale);
            centreline.paint(&mut mesh, placed, 1.0, colours.rule);
            painter.add(Shape::mesh(mesh));
        }
        let outer = Outline::new(&self.glass.outer, tolerance_mm, scale);
        let inner = Outline::new(&self.glass.inner, tolerance_mm, scale);
        let centreline = Dashes::chain(&self.glass.centreline.points(tolerance_mm), scale);
        let mut mesh = Mesh::default();
        outer.edge(&mut mesh, placed, 1.0, colours.edge);
        outer.fill(&mut mesh, placed, colours.wall);
        inner.edge(&mut mesh, placed, 0.8, colours.edge);
        inner.fill(&mut mesh, placed, colours.bore);
        centreline.paint(&mut mesh, placed, 0.8, colours.centreline);
        painter.add(Shape::mesh(mesh));
        let stroke = Stroke::new(1.4, colours.mark);
        for ends in &self.seals {
            let ends = ends.map(|p| placed.to_screen(p));
            painter.extend(Shape::dashed_line(&ends, stroke, 3.0, 2.0));
        }
        if let Some(ends) = self.target {
            painter.line_segment(ends.map(|p| placed.to_screen(p)), stroke);
        }
    }

    /// Discs on the screen that cover the glass and more where it is slimmer than elsewhere.
    pub(super) fn knots(&self, laid: &Laid) -> Vec<(Pos2, f32)> {
        let radii = self.callouts.iter().filter_map(|callout| match callout.mark {
            Mark::Length { radius_mm, .. } | Mark::Diameter { radius_mm, .. } => Some(radius_mm),
            Mark::Turn { .. } | Mark::Radius { .. } | Mark::Point { .. } => None,
        });
        let radius = laid.points(radii.fold(0.0, f64::max)).max(3.0);
        let line: Vec<Pos2> = self
            .glass
            .centreline
            .points(EXTENT_MM)
            .into_iter()
            .map(|p| laid.at(p))
            .collect();
        let mut knots = Vec::new();
        for pair in line.windows(2) {
            let way = pair[1] - pair[0];
            let parts = (way.length() / radius).ceil().clamp(1.0, 200.0);
            let mut part = 0.0;
            while part <= parts {
                knots.push((pair[0] + way * (part / parts), radius));
                part += 1.0;
            }
        }
        knots
    }

    /// Lets the pointer act on the places of numbers; gives the one under the pointer and the one that was clicked.
    /// Each is told to assistive tools with its value.
    pub(super) fn listen(&self, ui: &Ui, laid: &Laid, spots: &[Spot<'_>]) -> Pointed {
        let id = Id::unique("section").with(self.name);
        let area = ui.interact(laid.clip, id, Sense::hover());
        area.widget_info(|| WidgetInfo::labeled(Role::GraphicsObject, true, format!("Section of {}", self.name)));
        // What is small lies over what is large.
        let mut areas: Vec<(&Spot<'_>, Rect)> = spots
            .iter()
            .filter_map(|spot| Some((spot, laid.area_of(self.mark(spot.entry.aim.key())?, spot.lane)?)))
            .collect();
        let key = |spot: &Spot<'_>| spot.entry.aim.key().to_owned();
        areas.sort_by(|a, b| b.1.area().total_cmp(&a.1.area()).then_with(|| key(a.0).cmp(&key(b.0))));
        // Several fields may lead to one place.
        areas.dedup_by(|a, b| key(a.0) == key(b.0));
        let mut pointed = Pointed {
            id,
            at: None,
            clicked: None,
        };
        for (spot, rect) in areas {
            let key = key(spot);
            let id = id.with(&key);
            let response = ui.interact(rect, id, Sense::CLICK);
            let label = format!("{} in the drawing", spot.entry.label);
            response.widget_info(|| WidgetInfo::labeled(Role::GraphicsSymbol, true, &label));
            ui.ctx()
                .accesskit_node_builder(id, |node| node.set_value(spot.entry.value_text(spot.length_unit)));
            if response.hovered() {
                ui.set_cursor_icon(egui::CursorIcon::PointingHand);
                pointed.at = Some(key.clone());
            }
            if response.clicked() {
                pointed.clicked = Some(key);
            }
        }
        pointed
    }
}

/// An entry whose place in the drawing can be pointed at.
pub(super) struct Spot<'a> {
    /// The entry.
    pub entry: &'a Entry,
    /// The unit in which lengths are shown.
    pub length_unit: LengthUnit,
    /// For a length with a dimension line: whether that stands at the left of its direction, and how far off.
    pub lane: Option<(bool, f32)>,
}

/// What the pointer does in the drawing.
pub(super) struct Pointed {
    /// The drawing.
    id: Id,
    /// Key of the number under the pointer.
    pub at: Option<String>,
    /// Key of the number that was clicked.
    pub clicked: Option<String>,
}

impl Pointed {
    /// Tells assistive tools which number is lit.
    pub(super) fn tell(&self, ui: &Ui, label: Option<&str>) {
        ui.ctx()
            .accesskit_node_builder(self.id, |node| node.set_value(label.unwrap_or("nothing lit")));
    }
}

impl Laid {
    /// Screen position of a point of the piece.
    pub(super) fn at(&self, point: Vector2<f64>) -> Pos2 {
        self.placed.to_screen(point)
    }

    /// Screen length, points.
    #[allow(clippy::cast_possible_truncation, reason = "a length on the screen")]
    pub(super) fn points(&self, mm: f64) -> f32 {
        (mm * self.placed.scale()) as f32
    }

    /// The unit vector on the screen along `to - from`, and the one to the right of it.
    fn frame(&self, from: Vector2<f64>, to: Vector2<f64>) -> (Vec2, Vec2) {
        let along = (self.at(to) - self.at(from)).normalized();
        (along, vec2(-along.y, along.x))
    }

    /// Where the pointer meets a number: the glass or the line that it is about.
    fn area_of(&self, mark: Mark, lane: Option<(bool, f32)>) -> Option<Rect> {
        let around = |points: &[Pos2]| Rect::from_points(points).expand(NEAR);
        let rect = match mark {
            Mark::Length { from, to, radius_mm } => {
                let (_, right) = self.frame(from, to);
                let near = self.points(radius_mm);
                let [one, other] = match lane {
                    Some((true, lane)) => [right * -(lane + NEAR), Vec2::ZERO],
                    Some((false, lane)) => [right * (lane + NEAR), Vec2::ZERO],
                    None => [right * (near + NEAR), right * -(near + NEAR)],
                };
                let (a, b) = (self.at(from), self.at(to));
                Rect::from_points(&[a + one, a + other, b + one, b + other])
            }
            Mark::Diameter { at, across, radius_mm } => {
                around(&[self.at(at + across * radius_mm), self.at(at - across * radius_mm)])
            }
            Mark::Turn { .. } => {
                let at = self.at(mark.anchor());
                around(&[at + vec2(NEAR, NEAR), at - vec2(NEAR, NEAR)])
            }
            Mark::Radius { centre, to } => around(&[
                self.at(centre + (to - centre) * 0.4),
                self.at(centre + (to - centre) * 0.7),
            ]),
            Mark::Point { at } => around(&[self.at(at)]),
        };
        let seen = rect.intersect(self.clip);
        seen.is_positive().then_some(seen)
    }

    /// The unit vector away from the axis on which the dimension line of a length stands, on the screen, and how far
    /// off the line is.
    fn beside(
        &self,
        from: Vector2<f64>,
        to: Vector2<f64>,
        radius_mm: f64,
        left: bool,
        lane: Option<f32>,
    ) -> (Vec2, f32) {
        let (_, right) = self.frame(from, to);
        let side = if left { -right } else { right };
        (side, lane.unwrap_or_else(|| self.points(radius_mm) + LANE))
    }

    /// Whether the dimension line of a length stands farther from the middle of the piece at the left of its direction.
    pub(super) fn is_free_at_left(&self, mark: Mark) -> bool {
        let Mark::Length { from, to, .. } = mark else {
            return false;
        };
        let (_, right) = self.frame(from, to);
        (self.at(mark.anchor()) - self.bounds.center()).dot(right) < 0.0
    }

    /// Where a leader line meets the lines of a number.
    pub(super) fn meets(&self, mark: Mark, left: bool, lane: Option<f32>) -> Pos2 {
        match mark {
            Mark::Length { from, to, radius_mm } => {
                let (side, lane) = self.beside(from, to, radius_mm, left, lane);
                self.at(mark.anchor()) + side * lane
            }
            Mark::Diameter { at, across, radius_mm } => {
                let ends = [self.at(at - across * radius_mm), self.at(at + across * radius_mm)];
                ends[usize::from(left == (ends[1].x < ends[0].x))]
            }
            Mark::Turn { .. } | Mark::Radius { .. } | Mark::Point { .. } => self.at(mark.anchor()),
        }
    }

    /// The space that a dimension line takes, beyond the glass.
    pub(super) fn dimension_line(&self, mark: Mark, left: bool) -> Option<Rect> {
        let Mark::Length { from, to, radius_mm } = mark else {
            return None;
        };
        let (side, lane) = self.beside(from, to, radius_mm, left, None);
        let (from, to) = (self.at(from) + side * lane, self.at(to) + side * lane);
        // Without its very ends, where the next one begins.
        let ends = [from + (to - from) * 0.2, to + (from - to) * 0.2];
        Some(Rect::from_points(&ends).expand(1.5))
    }

    /// Draws the lines of a number. A length stands at the right of its direction, or at the left when `left`;
    /// `lane` points off its axis, or just beside the glass. Gives the point where a leader line would meet it.
    pub(super) fn paint_mark(&self, painter: &Painter, mark: Mark, left: bool, lane: Option<f32>, stroke: Stroke) {
        match mark {
            Mark::Length { from, to, radius_mm } => {
                let (side, lane) = self.beside(from, to, radius_mm, left, lane);
                let near = self.points(radius_mm).min(lane) + 2.0;
                let (from, to) = (self.at(from), self.at(to));
                for axis in [from, to] {
                    painter.line_segment([axis + side * near, axis + side * (lane + 3.0)], stroke);
                }
                arrows(painter, [from + side * lane, to + side * lane], stroke);
            }
            Mark::Diameter { at, across, radius_mm } => {
                let ends = [self.at(at - across * radius_mm), self.at(at + across * radius_mm)];
                arrows(painter, ends, stroke);
            }
            Mark::Turn {
                centre,
                radius_mm,
                start,
                sweep,
            } => {
                let at = |part: f64| {
                    let (sin, cos) = (start + sweep * part).sin_cos();
                    self.at(centre + Vector2::new(cos, sin) * radius_mm)
                };
                let thin = Stroke::new(stroke.width.min(1.0), stroke.color);
                painter.line_segment([self.at(centre), at(0.0)], thin);
                painter.line_segment([self.at(centre), at(1.0)], thin);
                let points = (0..=24).map(|i| at(f64::from(i) / 24.0)).collect();
                painter.add(Shape::line(points, stroke));
            }
            Mark::Radius { centre, to } => {
                let ends = [self.at(centre), self.at(to)];
                painter.line_segment(ends, stroke);
                head(painter, ends[1], (ends[1] - ends[0]).normalized(), stroke);
                painter.circle_filled(ends[0], 1.5, stroke.color);
            }
            Mark::Point { at } => _ = painter.circle_stroke(self.at(at), 3.5, stroke),
        }
    }
}

/// A line with heads at both ends; dots where there is no room for them.
fn arrows(painter: &Painter, ends: [Pos2; 2], stroke: Stroke) {
    painter.line_segment(ends, stroke);
    let along = (ends[1] - ends[0]).normalized();
    if (ends[1] - ends[0]).length() >= 14.0 {
        head(painter, ends[0], -along, stroke);
        head(painter, ends[1], along, stroke);
    } else {
        for end in ends {
            painter.circle_filled(end, 1.5, stroke.color);
        }
    }
}

fn head(painter: &Painter, tip: Pos2, along: Vec2, stroke: Stroke) {
    let across = vec2(-along.y, along.x);
    let back = tip - along * 5.5;
    let points = vec![tip, back + across * 2.0, back - across * 2.0];
    painter.add(Shape::convex_polygon(points, stroke.color, Stroke::NONE));
}

/// The line of a number: quiet, or lit.
pub(super) fn stroke(colours: &Palette, is_lit: bool) -> Stroke {
    if is_lit {
        Stroke::new(1.8, colours.accent)
    } else {
        Stroke::new(1.0, colours.division)
    }
}
