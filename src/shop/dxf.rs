//! A page as DXF in true millimetres: lines, arcs, polylines and texts on named layers.
//!
//! A page in full size is a drawing in the glass's own millimetres.

use super::date::Date;
use super::font::CAPITALS;
use super::page::{Anchor, Layer as Shown, Page, Text, Thing, Tone};
use crate::geom::glass::{Path, Stroke};
use dxf::entities::{Arc, Entity, EntityType, Line, LwPolyline, Text as Words};
use dxf::enums::{AcadVersion, DrawingUnits, HorizontalTextJustification, Units, VerticalTextJustification};
use dxf::tables::{Layer, LineType};
use dxf::{Color, Drawing, DxfError, LwPolylineVertex, Point};
use nalgebra::Vector2;
use thiserror::Error;

/// Why a page could not be written.
#[derive(Debug, Error)]
#[error("the DXF can't be written: {0}")]
pub struct WriteError(#[from] DxfError);

/// Error of curves that are no arcs of circles, mm.
const TOLERANCE_MM: f64 = 0.005;

/// Writes a page that carries a day.
///
/// # Errors
/// When the writer refuses.
pub fn write(page: &Page, date: Date) -> Result<Vec<u8>, WriteError> {
    let mut writer = Writer {
        drawing: Drawing::new(),
        height: page.size.y,
    };
    writer.prepare(date)?;
    for thing in page.parts.iter().flat_map(|part| &part.things) {
        match thing {
            Thing::Line { layer, path } => writer.path(*layer, path),
            Thing::Area {
                tone: Tone::Black,
                path,
            } => writer.outline(path),
            // Tints are for paper.
            Thing::Area { .. } => {}
            Thing::Text(text) => writer.text(text),
        }
    }
    let mut bytes = Vec::new();
    writer.drawing.save(&mut bytes)?;
    Ok(bytes)
}

/// An empty drawing of a day. The library keeps local times, and makes numbers of them that depend on the time zone; those
/// that it has read come out as they went in.
fn dated(date: Date) -> Result<Drawing, DxfError> {
    let day = date.julian_day();
    let dates = ["$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE"];
    let dates = dates.map(|name| format!("  9\n{name}\n 40\n{day}.0\n")).concat();
    let text = format!("  0\nSECTION\n  2\nHEADER\n{dates}  0\nENDSEC\n  0\nEOF\n");
    Drawing::load(&mut text.as_bytes())
}

struct Writer {
    drawing: Drawing,
    height: f64,
}

impl Writer {
    fn prepare(&mut self, date: Date) -> Result<(), WriteError> {
        let dated = dated(date)?.header;
        let header = &mut self.drawing.header;
        // The first version whose texts are Unicode.
        header.version = AcadVersion::R2007;
        header.default_drawing_units = Units::Millimeters;
        header.drawing_units = DrawingUnits::Metric;
        // The same page gives the same bytes: neither the clock nor random numbers.
        header.creation_date = dated.creation_date;
        header.creation_date_universal = dated.creation_date_universal;
        header.update_date = dated.update_date;
        header.update_date_universal = dated.update_date_universal;
        header.fingerprint_guid = Default::default();
        header.version_guid = Default::default();
        for layer in Shown::ALL {
            let kind = layer.kind();
            let mut line_type_name = "CONTINUOUS".to_owned();
            if !kind.dashes.is_empty() {
                layer.name().clone_into(&mut line_type_name);
                self.line_type(&line_type_name, kind.dashes);
            }
            self.drawing.add_layer(Layer {
                name: layer.name().to_owned(),
                color: Color::from_index(if kind.tone == Tone::Grey { 8 } else { 7 }),
                line_type_name,
                ..Layer::default()
            });
        }
        Ok(())
    }

    fn line_type(&mut self, name: &str, dashes: &[f64]) {
        // Gaps are negative.
        let signed = dashes.iter().zip([1.0, -1.0].iter().cycle());
        let lengths: Vec<f64> = signed.map(|(mm, sign)| mm * sign).collect();
        self.drawing.add_line_type(LineType {
            name: name.to_owned(),
            element_count: lengths.len() as i32,
            total_pattern_length: lengths.iter().map(|mm| mm.abs()).sum(),
            dash_dot_space_lengths: lengths,
            ..LineType::default()
        });
    }

    /// A point of the page, whose y runs down, in the drawing's frame.
    fn at(&self, p: Vector2<f64>) -> Vector2<f64> {
        Vector2::new(p.x, self.height - p.y)
    }

    fn point(&self, p: Vector2<f64>) -> Point {
        let p = self.at(p);
        Point::new(p.x, p.y, 0.0)
    }

    fn add(&mut self, layer: Shown, what: EntityType) {
        let mut entity = Entity::new(what);
        layer.name().clone_into(&mut entity.common.layer);
        self.drawing.add_entity(entity);
    }

    fn path(&mut self, layer: Shown, path: &Path) {
        let only_lines = path.strokes.iter().all(|s| matches!(s, Stroke::Line { .. }));
        if only_lines && (path.strokes.len() > 1 || path.closed) {
            return self.polyline(layer, &path.points(TOLERANCE_MM), path.closed);
        }
        let mut from = path.start;
        for stroke in &path.strokes {
            self.stroke(layer, from, stroke);
            from = stroke.point(1.0);
        }
        if path.closed && (from - path.start).norm() > 1e-9 {
            self.stroke(layer, from, &Stroke::Line { to: path.start });
        }
    }

    fn outline(&mut self, path: &Path) {
        self.polyline(Shown::Dimension, &path.points(TOLERANCE_MM), true);
    }

    fn stroke(&mut self, layer: Shown, from: Vector2<f64>, stroke: &Stroke) {
        match *stroke {
            Stroke::Line { to } => {
                let (p1, p2) = (self.point(from), self.point(to));
                self.add(
                    layer,
                    EntityType::Line(Line {
                        p1,
                        p2,
                        ..Line::default()
                    }),
                );
            }
            Stroke::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start,
                sweep,
            } if semi_axial == semi_radial => {
                // With y up the turn is the other way; an arc of the file always runs anticlockwise.
                let (first, last) = (-(heading + start), -(heading + start + sweep));
                let (low, high) = if sweep > 0.0 { (last, first) } else { (first, last) };
                let arc = Arc {
                    center: self.point(centre),
                    radius: semi_axial,
                    start_angle: low.to_degrees().rem_euclid(360.0),
                    end_angle: high.to_degrees().rem_euclid(360.0),
                    ..Arc::default()
                };
                self.add(layer, EntityType::Arc(arc));
            }
            Stroke::Arc { .. } => {
                let path = Path {
                    start: from,
                    strokes: vec![*stroke],
                    closed: false,
                };
                self.polyline(layer, &path.points(TOLERANCE_MM), false);
            }
        }
    }

    fn polyline(&mut self, layer: Shown, points: &[Vector2<f64>], closed: bool) {
        let vertices = points.iter().map(|&p| {
            let p = self.at(p);
            LwPolylineVertex {
                x: p.x,
                y: p.y,
                ..LwPolylineVertex::default()
            }
        });
        let mut line = LwPolyline {
            vertices: vertices.collect(),
            ..LwPolyline::default()
        };
        line.set_is_closed(closed);
        self.add(layer, EntityType::LwPolyline(line));
    }

    fn text(&mut self, text: &Text) {
        let at = self.point(text.at);
        let justification = match text.anchor {
            Anchor::Start => HorizontalTextJustification::Left,
            Anchor::Middle => HorizontalTextJustification::Center,
            Anchor::End => HorizontalTextJustification::Right,
        };
        let words = Words {
            location: at.clone(),
            second_alignment_point: at,
            text_height: text.size * CAPITALS,
            value: text.text.chars().filter(|c| !c.is_control()).collect(),
            rotation: text.angle_deg,
            horizontal_text_justification: justification,
            vertical_text_justification: VerticalTextJustification::Baseline,
            ..Words::default()
        };
        self.add(text.layer, EntityType::Text(words));
    }
}

#[cfg(test)]
mod tests {
    use super::super::page::{Part, Point as OnPage, Role, circle};
    use super::*;

    /// What was written, read back.
    fn read(page: &Page) -> Drawing {
        let bytes = write(page, Date::of_unix_days(20_000)).expect("it can be written");
        Drawing::load(&mut bytes.as_slice()).expect("it can be read")
    }

    #[test]
    fn lines_are_as_long_as_the_glass() {
        let mut part = Part::new(Role::Furniture);
        part.line(Shown::Wall, OnPage::new(10.0, 20.0), OnPage::new(60.0, 20.0));
        let quarter = Stroke::Arc {
            centre: OnPage::new(0.0, 0.0),
            heading: 0.0,
            semi_axial: 10.0,
            semi_radial: 10.0,
            start: 0.0,
            sweep: std::f64::consts::FRAC_PI_2,
        };
        let path = Path {
            start: quarter.point(0.0),
            strokes: vec![quarter],
            closed: false,
        };
        part.path(Shown::Bore, path);
        part.path(Shown::Cross, circle(OnPage::new(5.0, 5.0), 1.0));
        let mut page = Page::new(OnPage::new(210.0, 297.0));
        page.parts.push(part);
        let drawing = read(&page);
        assert_eq!(drawing.header.default_drawing_units, Units::Millimeters);
        let entities: Vec<&Entity> = drawing.entities().collect();
        let EntityType::Line(line) = &entities[0].specific else {
            panic!("a line first")
        };
        assert_eq!(entities[0].common.layer, "WALL");
        assert!((line.p2.x - line.p1.x - 50.0).abs() < 1e-9);
        let EntityType::Arc(arc) = &entities[1].specific else {
            panic!("an arc second")
        };
        // From three o'clock clockwise as seen to six o'clock: anticlockwise from 270 to 360 degrees.
        assert_eq!((arc.start_angle, arc.end_angle, arc.radius), (270.0, 0.0, 10.0));
    }

    #[test]
    fn the_day_is_the_one_given() {
        let page = Page::new(OnPage::new(210.0, 297.0));
        let day = |days| write(&page, Date::of_unix_days(days)).unwrap();
        assert_eq!(day(20_000), day(20_000), "no clock, no chance");
        // 2024-10-04 has the Julian day 2460588 (Seidelmann, Explanatory Supplement, 12.92: 1970-01-01 has 2440588).
        let text = String::from_utf8(day(20_000)).unwrap();
        for name in ["$TDCREATE", "$TDUCREATE", "$TDUPDATE", "$TDUUPDATE"] {
            let mut lines = text.lines().map(str::trim).skip_while(|line| *line != name).skip(2);
            let day: f64 = lines.next().unwrap().parse().unwrap();
            assert!(
                (day - 2_460_588.0).abs() < 2.0 / 86_400.0,
                "{name}: to two seconds, not {day}"
            );
        }
    }
}
