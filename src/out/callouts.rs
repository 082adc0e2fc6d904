//! Where in its section each number of a piece stands, mm: the lines and points that a workshop drawing would give
//! it. Keys are those of [`crate::model::param`]; a tube size has one place under the key of the size.

use crate::geom::glass::{Path, Stroke};
use crate::model::{Ampoule, Bottom, Bridge, Bulb, BulbShape, Element, Fitting, Form, Route, Tube};
use nalgebra::Vector2;

/// A number and its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Callout {
    /// Key of the number, size or choice within the piece.
    pub key: String,
    /// Where it stands.
    pub mark: Mark,
}

/// The place of a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mark {
    /// A length between two points.
    Length {
        /// Where it starts.
        from: Vector2<f64>,
        /// Where it ends.
        to: Vector2<f64>,
        /// Half the width of the glass beside it, mm: a dimension line stands farther off.
        radius_mm: f64,
    },
    /// A diameter.
    Diameter {
        /// Its middle, on the axis.
        at: Vector2<f64>,
        /// Unit vector across the axis.
        across: Vector2<f64>,
        /// Half the diameter, mm.
        radius_mm: f64,
    },
    /// The turn of a bend.
    Turn {
        /// Centre of the bend.
        centre: Vector2<f64>,
        /// Radius of the centreline, mm.
        radius_mm: f64,
        /// Direction from the centre to the start, radians.
        start: f64,
        /// Turn, radians anticlockwise.
        sweep: f64,
    },
    /// The radius of a bend.
    Radius {
        /// Centre of the bend.
        centre: Vector2<f64>,
        /// Middle of the bend on the centreline.
        to: Vector2<f64>,
    },
    /// A point: an end, a corner, a level.
    Point {
        /// Where.
        at: Vector2<f64>,
    },
}

impl Mark {
    /// The point that a leader line leads to.
    pub fn anchor(&self) -> Vector2<f64> {
        match *self {
            Self::Length { from, to, .. } => (from + to) / 2.0,
            Self::Turn {
                centre,
                radius_mm,
                start,
                sweep,
            } => {
                let (sin, cos) = (start + sweep / 2.0).sin_cos();
                centre + Vector2::new(cos, sin) * radius_mm
            }
            Self::Radius { centre, to } => (centre + to) / 2.0,
            Self::Diameter { at, .. } | Self::Point { at } => at,
        }
    }
}

/// The places of a form's numbers; `line` is the centreline of its drawn glass.
pub fn callouts(form: &Form, line: &Path) -> Vec<Callout> {
    let mut list = List::default();
    match form {
        Form::Tube(tube) => list.tube(tube, line),
        Form::Bulb(bulb) => list.bulb(bulb, line),
        Form::Bridge(bridge) => list.bridge(bridge, line),
        Form::Ampoule(ampoule) => list.ampoule(ampoule, line),
        Form::Fitting(fitting) => list.fitting(fitting, line),
    }
    list.0
}

#[derive(Default)]
struct List(Vec<Callout>);

impl List {
    fn add(&mut self, key: impl Into<String>, mark: Mark) {
        self.0.push(Callout { key: key.into(), mark });
    }

    fn length(&mut self, key: impl Into<String>, from: Vector2<f64>, to: Vector2<f64>, radius_mm: f64) {
        self.add(key, Mark::Length { from, to, radius_mm });
    }

    fn diameter(&mut self, key: impl Into<String>, at: Vector2<f64>, along: Vector2<f64>, od_mm: f64) {
        let mark = Mark::Diameter {
            at,
            across: left_of(along),
            radius_mm: od_mm / 2.0,
        };
        self.add(key, mark);
    }

    fn point(&mut self, key: impl Into<String>, at: Vector2<f64>) {
        self.add(key, Mark::Point { at });
    }

    fn ampoule(&mut self, ampoule: &Ampoule, line: &Path) {
        let (start, along) = axis(line);
        let at = |s: f64| start + along * s;
        let funnel = ampoule.stem_mm;
        let neck = funnel + ampoule.funnel_mm;
        let shoulder = neck + ampoule.neck_mm;
        let body = shoulder + ampoule.shoulder_mm;
        let foot = body + ampoule.body_mm;
        let (stem_r, neck_r, body_r) = (
            ampoule.stem.od_mm / 2.0,
            ampoule.neck.od_mm / 2.0,
            ampoule.body.od_mm / 2.0,
        );
        self.diameter("stem", at(funnel / 2.0), along, ampoule.stem.od_mm);
        self.length("stem_mm", at(0.0), at(funnel), stem_r);
        self.length("funnel_mm", at(funnel), at(neck), stem_r.max(neck_r));
        // Below the seal-off place where there is room, so that the two do not meet.
        let below = (neck + ampoule.seal_mm.min(ampoule.neck_mm) + shoulder) / 2.0;
        self.diameter("neck", at(below), along, ampoule.neck.od_mm);
        self.length("neck_mm", at(neck), at(shoulder), neck_r);
        self.length("seal_mm", at(neck), at(neck + ampoule.seal_mm), neck_r);
        self.length("shoulder_mm", at(shoulder), at(body), neck_r.max(body_r));
        // High up, so that it rarely meets the level of the target.
        self.diameter("body", at(body + ampoule.body_mm / 5.0), along, ampoule.body.od_mm);
        self.length("body_mm", at(body), at(foot), body_r);
        match ampoule.bottom {
            Bottom::Round => self.point("bottom", at(foot + body_r)),
            Bottom::Flat => self.point("bottom", at(foot)),
            Bottom::Conical { length_mm } => {
                self.length("bottom.length_mm", at(foot), at(foot + length_mm), body_r);
                self.point("bottom", at(foot + length_mm));
            }
        }
    }

    fn bulb(&mut self, bulb: &Bulb, line: &Path) {
        let (mouth, along) = axis(line);
        let centre = mouth + along * bulb.neck_mm;
        let radius = bulb.body.od_mm / 2.0;
        // In the middle of what is seen of the neck.
        let seen = (bulb.neck_mm - radius).max(0.0);
        self.diameter("neck", mouth + along * (seen / 2.0), along, bulb.neck.od_mm);
        self.diameter("body", centre, along, bulb.body.od_mm);
        self.length("neck_mm", mouth, centre, radius);
        let foot = centre + along * radius;
        if let BulbShape::Flask { flat_mm } = bulb.shape {
            self.diameter("flat_mm", foot, along, flat_mm.min(bulb.body.od_mm));
        }
        // On the wall below the middle, at the right of its direction; (0.6, 0.8) is a unit vector.
        self.point("shape", centre + (along * 0.6 - left_of(along) * 0.8) * radius);
    }

    fn fitting(&mut self, fitting: &Fitting, line: &Path) {
        let (start, along) = axis(line);
        let end = start + along * fitting.length_mm;
        self.diameter("size", (start + end) / 2.0, along, fitting.size.od_mm);
        self.length("length_mm", start, end, fitting.size.od_mm / 2.0);
        self.point("kind", end);
    }

    fn tube(&mut self, tube: &Tube, line: &Path) {
        self.point("start", line.start);
        let mut present = tube.size;
        let mut from = line.start;
        for (i, (element, stroke)) in tube.course.iter().zip(&line.strokes).enumerate() {
            let to = stroke.point(1.0);
            let along = direction(to - from);
            let radius = present.od_mm / 2.0;
            let key = |name: &str| format!("course.{i}.{name}");
            if i == 0 {
                let (at, along) = quarter(from, stroke);
                self.diameter("size", at, along, tube.size.od_mm);
            }
            match *element {
                Element::Straight { .. } => self.length(key("length_mm"), from, to, radius),
                Element::Bend { radius_mm, .. } => {
                    if let Stroke::Arc {
                        centre, start, sweep, ..
                    } = *stroke
                    {
                        let turn = Mark::Turn {
                            centre,
                            radius_mm,
                            start,
                            sweep,
                        };
                        self.add(key("angle_deg"), turn);
                        let to = turn.anchor();
                        self.add(key("radius_mm"), Mark::Radius { centre, to });
                    }
                }
                Element::Taper { to: size, .. } => {
                    self.length(key("length_mm"), from, to, radius.max(size.od_mm / 2.0));
                    self.diameter(key("to"), to, along, size.od_mm);
                    present = size;
                }
                Element::Neck { size, taper_mm, .. } => {
                    let (first, second) = (from + along * taper_mm, to - along * taper_mm);
                    self.diameter(key("size"), (from + to) / 2.0, along, size.od_mm);
                    self.length(key("taper_mm"), from, first, radius);
                    self.length(key("length_mm"), first, second, radius);
                }
                Element::Bulb { size, .. } => {
                    self.diameter(key("size"), (from + to) / 2.0, along, size.od_mm);
                    self.length(key("length_mm"), from, to, radius.max(size.od_mm / 2.0));
                }
            }
            from = to;
        }
        if tube.course.is_empty() {
            self.diameter("size", line.start, Vector2::x(), tube.size.od_mm);
        }
        self.point("end", from);
    }

    fn bridge(&mut self, bridge: &Bridge, line: &Path) {
        let (start, end) = (line.start, line.end());
        let mut from = start;
        let mut longest: Option<(Vector2<f64>, Vector2<f64>)> = None;
        let mut bend = None;
        for stroke in &line.strokes {
            let to = stroke.point(1.0);
            match *stroke {
                Stroke::Line { .. } => {
                    if longest.is_none_or(|(a, b)| (to - from).norm() > (b - a).norm()) {
                        longest = Some((from, to));
                    }
                }
                Stroke::Arc { centre, .. } => bend = bend.or(Some((centre, stroke.point(0.5)))),
            }
            from = to;
        }
        let (a, b) = longest.unwrap_or((start, end));
        self.diameter("size", (a + b) / 2.0, direction(b - a), bridge.size.od_mm);
        if let Some((centre, to)) = bend {
            self.add("bend_radius_mm", Mark::Radius { centre, to });
        }
        match &bridge.route {
            Route::Straight => {}
            Route::Arched { rise_mm } => {
                let higher = if start.y >= end.y { start } else { end };
                let top = higher + Vector2::y() * *rise_mm;
                self.length("rise_mm", higher, top, bridge.size.od_mm / 2.0);
            }
            Route::Via { corners_mm } => {
                for (i, &[x, y]) in corners_mm.iter().enumerate() {
                    let corner = start + Vector2::new(x, y);
                    self.point(format!("corners.{i}.x_mm"), corner);
                    self.point(format!("corners.{i}.y_mm"), corner);
                }
            }
        }
        for key in ["seat.from.host", "seat.from.at_mm", "seat.from.turn_deg"] {
            self.point(key, start);
        }
        for key in ["seat.to.host", "seat.to.at_mm", "seat.to.turn_deg"] {
            self.point(key, end);
        }
    }
}

/// Start and direction of a straight piece.
fn axis(line: &Path) -> (Vector2<f64>, Vector2<f64>) {
    (line.start, direction(line.end() - line.start))
}

/// A place a quarter along a stroke and the direction there.
fn quarter(from: Vector2<f64>, stroke: &Stroke) -> (Vector2<f64>, Vector2<f64>) {
    match *stroke {
        Stroke::Line { to } => (from + (to - from) / 4.0, direction(to - from)),
        Stroke::Arc { centre, .. } => {
            let at = stroke.point(0.25);
            (at, direction(-left_of(at - centre)))
        }
    }
}

/// Unit vector along `v`, or +x when `v` vanishes.
fn direction(v: Vector2<f64>) -> Vector2<f64> {
    let length = v.norm();
    if length > 0.0 { v / length } else { Vector2::x() }
}

fn left_of(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::{Built, build};
    use crate::model::{Apparatus, TubeSize, sample};

    fn of(apparatus: &Apparatus, name: &str) -> Vec<Callout> {
        let built: Built = build(apparatus).unwrap();
        let i = built.names.iter().position(|n| n == name).unwrap();
        callouts(&apparatus.find(name).unwrap().form, &built.glass[i].centreline)
    }

    fn mark(list: &[Callout], key: &str) -> Mark {
        list.iter().find(|callout| callout.key == key).unwrap().mark
    }

    fn near(a: Vector2<f64>, x: f64, y: f64) {
        assert!((a - Vector2::new(x, y)).norm() < 1e-9, "{a} for {x}, {y}");
    }

    #[test]
    fn an_ampoules_lengths_follow_each_other_down_its_axis() {
        // The first vial hangs from the header at x = 40.
        let list = of(&sample::apparatus(), "vial-1");
        for (key, from, to) in [
            ("stem_mm", 0.0, -20.0),
            ("funnel_mm", -20.0, -30.0),
            ("neck_mm", -30.0, -50.0),
            ("seal_mm", -30.0, -40.0),
            ("shoulder_mm", -50.0, -58.0),
            ("body_mm", -58.0, -103.0),
        ] {
            let Mark::Length { from: a, to: b, .. } = mark(&list, key) else {
                panic!("{key} is a length")
            };
            near(a, 40.0, from);
            near(b, 40.0, to);
        }
        near(mark(&list, "neck").anchor(), 40.0, -45.0);
        near(mark(&list, "body").anchor(), 40.0, -67.0);
        // The hemisphere's outside has half the body's diameter, 6 mm.
        near(mark(&list, "bottom").anchor(), 40.0, -109.0);
    }

    #[test]
    fn a_course_is_marked_element_by_element() {
        let list = of(&sample::apparatus(), "header");
        near(mark(&list, "start").anchor(), 0.0, 0.0);
        near(mark(&list, "size").anchor(), 50.0, 0.0);
        near(mark(&list, "course.0.length_mm").anchor(), 100.0, 0.0);
        // A quarter turn to the left about (200, 32).
        let off = 32.0 / 2.0_f64.sqrt();
        near(mark(&list, "course.1.angle_deg").anchor(), 200.0 + off, 32.0 - off);
        near(
            mark(&list, "course.1.radius_mm").anchor(),
            200.0 + off / 2.0,
            32.0 - off / 2.0,
        );
        near(mark(&list, "course.2.to").anchor(), 232.0, 44.5);
        near(mark(&list, "course.3.taper_mm").anchor(), 232.0, 49.5);
        near(mark(&list, "course.3.length_mm").anchor(), 232.0, 64.5);
        near(mark(&list, "course.4.size").anchor(), 232.0, 96.5);
        near(mark(&list, "end").anchor(), 232.0, 138.5);
    }

    #[test]
    fn every_number_of_a_form_has_its_place() {
        let apparatus = sample::apparatus();
        for name in ["header", "pot", "bridge", "pump", "vial-1"] {
            let list = of(&apparatus, name);
            for parameter in apparatus.parameters(name).unwrap() {
                let key = parameter.key.trim_end_matches(".od_mm").trim_end_matches(".wall_mm");
                // A target's level is found by filling, a place on a host by the host.
                if key == "target_ml" || (key.starts_with("seat.") && name != "bridge") {
                    continue;
                }
                assert!(list.iter().any(|callout| callout.key == key), "{name}: {key}");
            }
        }
    }

    #[test]
    fn an_arch_rises_from_its_higher_place_and_corners_are_points() {
        let mut apparatus = sample::apparatus();
        // From the pot's neck at (-150, 10) to the header at (20, 0).
        let Mark::Length { from, to, .. } = mark(&of(&apparatus, "bridge"), "rise_mm") else {
            panic!("a length")
        };
        near(from, -150.0, 10.0);
        near(to, -150.0, 50.0);
        let Form::Bridge(bridge) = &mut apparatus.pieces[2].form else {
            panic!("a bridge")
        };
        bridge.route = Route::Via {
            corners_mm: vec![[0.0, 30.0], [170.0, 30.0]],
        };
        bridge.size = TubeSize::new(12.0, 1.0);
        let list = of(&apparatus, "bridge");
        near(mark(&list, "corners.1.y_mm").anchor(), 20.0, 40.0);
        near(mark(&list, "size").anchor(), -65.0, 40.0);
        near(mark(&list, "seat.to.at_mm").anchor(), 20.0, 0.0);
    }
}
