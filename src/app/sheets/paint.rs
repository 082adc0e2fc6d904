//! A page on the screen: the same flat list that is printed.

use super::super::theme;
use crate::geom::glass::Path;
use crate::out::trapezoids::trapezoids;
use crate::shop::page::{Anchor, Layer, Page, Part, Text, Thing, Tone, Weight};
use egui::epaint::TextShape;
use egui::{Color32, Mesh, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2, pos2, vec2};
use nalgebra::Vector2;

/// Finest line, points.
const FINEST: f32 = 0.5;
/// How far a drawn curve may be from its own, points.
const CURVE: f64 = 0.2;

/// Paints a page into a rectangle; `scale` is points for a millimetre.
pub(super) fn page(painter: &Painter, page: &Page, rect: Rect, scale: f32) {
    painter.rect_filled(rect, 0.0, colour(Tone::White));
    let edge = Stroke::new(1.0, colour(Tone::Grey));
    painter.rect_stroke(rect, 0.0, edge, StrokeKind::Outside);
    for part in &page.parts {
        let place = Place {
            origin: rect.min,
            scale,
        };
        let clip = part
            .clip
            .map_or(rect, |[from, to]| Rect::from_two_pos(place.at(from), place.at(to)));
        place.part(&painter.with_clip_rect(clip.intersect(painter.clip_rect())), part);
    }
}

fn colour(tone: Tone) -> Color32 {
    let [r, g, b] = tone.rgb();
    Color32::from_rgb(r, g, b)
}

/// Where the page lies.
struct Place {
    origin: Pos2,
    scale: f32,
}

impl Place {
    fn at(&self, p: Vector2<f64>) -> Pos2 {
        self.origin + vec2(p.x as f32, p.y as f32) * self.scale
    }

    fn points(&self, path: &Path) -> Vec<Vector2<f64>> {
        path.points(CURVE / f64::from(self.scale))
    }

    fn part(&self, painter: &Painter, part: &Part) {
        for thing in &part.things {
            match thing {
                Thing::Line { layer, path } => self.line(painter, *layer, path),
                Thing::Area { tone, path } => self.area(painter, *tone, path),
                Thing::Text(text) => self.text(painter, text),
            }
        }
    }

    fn line(&self, painter: &Painter, layer: Layer, path: &Path) {
        let kind = layer.kind();
        let mut points: Vec<Pos2> = self.points(path).into_iter().map(|p| self.at(p)).collect();
        if path.closed {
            points.extend(points.first().copied());
        }
        let stroke = Stroke::new((kind.width as f32 * self.scale).max(FINEST), colour(kind.tone));
        if kind.dashes.is_empty() {
            painter.add(Shape::line(points, stroke));
            return;
        }
        let lengths = |skip: usize| -> Vec<f32> {
            let every = kind.dashes.iter().skip(skip).step_by(2);
            every.map(|mm| *mm as f32 * self.scale).collect()
        };
        painter.extend(Shape::dashed_line_with_offset(
            &points,
            stroke,
            &lengths(0),
            &lengths(1),
            0.0,
        ));
    }

    fn area(&self, painter: &Painter, tone: Tone, path: &Path) {
        let mut mesh = Mesh::default();
        for tile in trapezoids(&self.points(path)) {
            let first = mesh.vertices.len() as u32;
            for corner in tile {
                mesh.colored_vertex(self.at(corner), colour(tone));
            }
            mesh.add_triangle(first, first + 1, first + 2);
            mesh.add_triangle(first, first + 2, first + 3);
        }
        painter.add(mesh);
    }

    fn text(&self, painter: &Painter, text: &Text) {
        let size = text.size as f32 * self.scale;
        let font = match text.weight {
            Weight::Regular => theme::plain(size),
            Weight::SemiBold => theme::heavy(size),
        };
        let galley = painter.layout_no_wrap(text.text.clone(), font, colour(text.tone));
        let baseline = galley
            .rows
            .first()
            .and_then(|row| Some(row.pos.y + row.glyphs.first()?.pos.y))
            .unwrap_or(galley.size().y);
        let along = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => galley.size().x / 2.0,
            Anchor::End => galley.size().x,
        };
        // The screen's y runs down, so that angles run the other way.
        let angle = -text.angle_deg.to_radians() as f32;
        let turned = egui::emath::Rot2::from_angle(angle) * Vec2::new(along, baseline);
        let at = self.at(text.at);
        let shape = TextShape::new(pos2(at.x - turned.x, at.y - turned.y), galley, colour(text.tone));
        painter.add(shape.with_angle(angle));
    }
}
