//! What is measured on each kind of piece.

use super::survey::{COMMON, Found, LEAST, MINOR, Surveyor, girth};
use super::{Figure, Knob, Measure};
use crate::model::place::{Centreline, Point, Segment, direction};
use crate::model::{Ampoule, Bottom, Bridge, Bulb, BulbShape, Element, Fitting, Form, Route, Tube, TubeSize};
use nalgebra::Vector2;

/// A straight part of a course that is shorter than so many diameters is no main one.
const MAIN_DIAMETERS: f64 = 1.5;

/// A piece that is measured.
#[derive(Clone, Copy)]
struct Site<'s> {
    piece: usize,
    name: &'s str,
    line: &'s Centreline,
    /// Half its greatest outside diameter, mm.
    clear_mm: f64,
}

impl Surveyor<'_> {
    /// All that is measured on a piece itself; where it sits is not.
    pub(super) fn form(&mut self, piece: usize) {
        let placed = self.placed;
        let it = &placed.pieces[piece];
        let site = Site {
            piece,
            name: &it.name,
            line: &placed.lines[piece],
            clear_mm: girth(&it.form),
        };
        match &it.form {
            Form::Tube(tube) => self.tube(site, tube),
            Form::Bulb(bulb) => self.bulb(site, bulb),
            Form::Bridge(bridge) => self.bridge(site, bridge),
            Form::Ampoule(ampoule) => self.ampoule(site, ampoule),
            Form::Fitting(fitting) => self.fitting(site, fitting),
        }
    }

    fn fitting(&mut self, site: Site<'_>, fitting: &Fitting) {
        let ends = [site.line.start.at, site.line.end().at];
        self.length(site, "length_mm", ends, MINOR);
        self.tube_size(site, "size", fitting.size, ends, MINOR);
    }

    /// A length beside a straight axis. One that starts at a host's centreline leads through the host.
    fn length(&mut self, site: Site<'_>, key: &str, ends: [Point; 2], rank: u8) {
        let way = ends[1] - ends[0];
        if way.norm() < LEAST {
            return;
        }
        let figure = Figure::Between {
            ends,
            along: way.normalize(),
            clear_mm: site.clear_mm,
        };
        let at_host = (ends[0] - site.line.start.at).norm() < LEAST;
        let through: Vec<usize> = self.host(site.piece).filter(|_| at_host).into_iter().collect();
        let found = Found::on(site.piece, Measure::Length(way.norm()), figure);
        // All lengths of a chosen piece are equals, so that the shortest stand nearest to it.
        let rank = if self.all { COMMON } else { rank };
        self.set(found.ranked(rank).through(&through), site.name, key);
    }

    /// The size of a straight part. What of it lies within a host is not seen.
    fn tube_size(&mut self, site: Site<'_>, key: &str, size: TubeSize, [from, to]: [Point; 2], rank: u8) {
        let at_host = (from - site.line.start.at).norm() < LEAST;
        let hidden = match self.host(site.piece).filter(|_| at_host) {
            Some(host) => girth(&self.placed.pieces[host].form),
            None => 0.0,
        };
        let length = (to - from).norm();
        let share = if length > 0.0 { (hidden / length).min(0.9) } else { 0.0 };
        let figure = Figure::Tube {
            from: from + (to - from) * share,
            to,
            r_mm: size.od_mm / 2.0,
        };
        self.size(site, key, size, figure, rank);
    }

    /// Outside diameter and wall.
    fn size(&mut self, site: Site<'_>, key: &str, size: TubeSize, figure: Figure, rank: u8) {
        let knobs = ["od_mm", "wall_mm"].map(|part| self.knob(site.name, &format!("{key}.{part}"), 1.0));
        let [Some(od), Some(wall)] = knobs else { return };
        let name = od.name.replacen(": outside diameter", "", 1);
        let found = Found::on(site.piece, Measure::Size(size), figure).ranked(rank);
        self.add(found, name, vec![od, wall]);
    }

    fn tube(&mut self, site: Site<'_>, tube: &Tube) {
        let mut now = (tube.size, "size".to_owned());
        // The longest straight part of each size shows it.
        let mut sizes: Vec<(String, TubeSize, [Point; 2])> = Vec::new();
        for (i, (element, segment)) in tube.course.iter().zip(&site.line.segments).enumerate() {
            let ends = [segment.from(), segment.to()];
            let [from, to] = ends;
            let along = direction(segment.end_heading_deg());
            let key = |field: &str| format!("course.{i}.{field}");
            match *element {
                Element::Straight { length_mm } => {
                    if self.all || length_mm >= MAIN_DIAMETERS * now.0.od_mm {
                        self.length(site, &key("length_mm"), ends, COMMON);
                    }
                    match sizes.iter_mut().find(|(key, ..)| *key == now.1) {
                        Some((_, _, longest)) if (longest[1] - longest[0]).norm() < length_mm => *longest = ends,
                        Some(_) => {}
                        None => sizes.push((now.1.clone(), now.0, ends)),
                    }
                }
                Element::Bend { .. } => {
                    let clear_mm = now.0.od_mm / 2.0;
                    self.bend(site, [&key("angle_deg"), &key("radius_mm")], segment, clear_mm);
                }
                Element::Taper { to: size, .. } => {
                    if self.all {
                        self.length(site, &key("length_mm"), ends, MINOR);
                    }
                    now = (size, key("to"));
                }
                Element::Neck {
                    size,
                    taper_mm,
                    length_mm,
                } => {
                    let neck = [from + along * taper_mm, from + along * (taper_mm + length_mm)];
                    self.length(site, &key("length_mm"), neck, MINOR);
                    if self.all {
                        self.length(site, &key("taper_mm"), [from, neck[0]], MINOR);
                    }
                    sizes.push((key("size"), size, neck));
                }
                Element::Bulb { size, .. } => {
                    if self.all {
                        self.length(site, &key("length_mm"), ends, MINOR);
                    }
                    // Only its equator has the diameter that is told.
                    let (middle, little) = ((from + to) / 2.0, along * 1e-3);
                    sizes.push((key("size"), size, [middle - little, middle + little]));
                }
            }
        }
        for (key, size, ends) in sizes {
            let rank = if key == "size" { COMMON } else { MINOR };
            self.tube_size(site, &key, size, ends, rank);
        }
    }

    /// Angle and radius of a bend.
    fn bend(&mut self, site: Site<'_>, [angle, radius]: [&str; 2], arc: &Segment, clear_mm: f64) {
        let Segment::Arc {
            radius_mm, turn_deg, ..
        } = *arc
        else {
            return;
        };
        if turn_deg.abs() < LEAST {
            return;
        }
        // A right angle needs no words until it is asked for.
        if self.all || (turn_deg.abs() - 90.0).abs() > LEAST {
            let figure = Figure::Sweep { arc: *arc, clear_mm };
            let found = Found::on(site.piece, Measure::Angle(turn_deg.abs()), figure).ranked(MINOR);
            self.set_by(found, site.name, angle, turn_deg.signum());
        }
        if self.all {
            let figure = Figure::Bend { arc: *arc, clear_mm };
            self.set(
                Found::on(site.piece, Measure::Radius(radius_mm), figure),
                site.name,
                radius,
            );
        }
    }

    fn bulb(&mut self, site: Site<'_>, bulb: &Bulb) {
        let axis = direction(site.line.start.heading_deg);
        let mouth = site.line.start.at;
        let centre = mouth + axis * bulb.neck_mm;
        let (body_r, neck_r) = (bulb.body.od_mm / 2.0, bulb.neck.od_mm / 2.0);
        self.length(site, "neck_mm", [mouth, centre], COMMON);
        let figure = Figure::Ball {
            centre,
            axis,
            r_mm: body_r,
        };
        self.size(site, "body", bulb.body, figure, COMMON);
        // The straight part of the neck ends at the sphere, or where a pear's cone begins.
        let end = match bulb.shape {
            BulbShape::Pear => bulb.neck_mm - 2.0 * body_r + 3.0_f64.sqrt() * neck_r,
            BulbShape::Sphere | BulbShape::Flask { .. } => bulb.neck_mm - body_r,
        };
        self.tube_size(site, "neck", bulb.neck, [mouth, mouth + axis * end.max(0.0)], MINOR);
        if let BulbShape::Flask { flat_mm } = bulb.shape
            && self.all
            && flat_mm > LEAST
        {
            let across = Vector2::new(-axis.y, axis.x);
            let foot = mouth + axis * (bulb.neck_mm + body_r);
            let half = across * (flat_mm / 2.0).min(body_r);
            let figure = Figure::Between {
                ends: [foot - half, foot + half],
                along: across,
                clear_mm: 0.0,
            };
            let found = Found::on(site.piece, Measure::Diameter(flat_mm), figure);
            self.set(found, site.name, "flat_mm");
        }
    }

    fn ampoule(&mut self, site: Site<'_>, ampoule: &Ampoule) {
        let axis = direction(site.line.start.heading_deg);
        let mut at = site.line.start.at;
        let mut part = |length_mm: f64| {
            let from = at;
            at += axis * length_mm;
            [from, at]
        };
        let stem = part(ampoule.stem_mm);
        let funnel = part(ampoule.funnel_mm);
        let neck = part(ampoule.neck_mm);
        let shoulder = part(ampoule.shoulder_mm);
        let body = part(ampoule.body_mm);
        for (key, ends) in [("stem_mm", stem), ("neck_mm", neck), ("body_mm", body)] {
            self.length(site, key, ends, COMMON);
        }
        if self.all {
            self.length(site, "funnel_mm", funnel, COMMON);
            self.length(site, "shoulder_mm", shoulder, COMMON);
            self.length(site, "seal_mm", [neck[0], neck[0] + axis * ampoule.seal_mm], COMMON);
            if let Bottom::Conical { length_mm } = ampoule.bottom {
                self.length(site, "bottom.length_mm", [body[1], body[1] + axis * length_mm], COMMON);
            }
            self.tube_size(site, "stem", ampoule.stem, stem, COMMON);
        }
        self.tube_size(site, "body", ampoule.body, body, COMMON);
        self.tube_size(site, "neck", ampoule.neck, neck, COMMON);
    }

    fn bridge(&mut self, site: Site<'_>, bridge: &Bridge) {
        let clear_mm = site.clear_mm;
        let lines = site.line.segments.iter().filter(|s| matches!(s, Segment::Line { .. }));
        if let Some(longest) = lines.max_by(|a, b| a.length_mm().total_cmp(&b.length_mm())) {
            let figure = Figure::Tube {
                from: longest.from(),
                to: longest.to(),
                r_mm: clear_mm,
            };
            self.size(site, "size", bridge.size, figure, COMMON);
        }
        let (from, to) = (site.line.start.at, site.line.end().at);
        match &bridge.route {
            Route::Straight => {
                let way = to - from;
                if way.norm() > LEAST {
                    let along = way.normalize();
                    let found = self.apart(site, [from, to], along, way.norm());
                    self.add(found, format!("Length of {}", site.name), Vec::new());
                }
            }
            Route::Arched { rise_mm } => {
                let higher = if from.y >= to.y { from } else { to };
                let top = Point::new(higher.x, higher.y + rise_mm);
                let found = self.apart(site, [higher, top], Vector2::y(), *rise_mm);
                self.set(found, site.name, "rise_mm");
            }
            Route::Via { .. } if !self.all => {}
            Route::Via { corners_mm } => {
                for (i, &[x, y]) in corners_mm.iter().enumerate() {
                    let ends = [from, from + Vector2::new(x, y)];
                    for (axis, along, value) in [("x", Vector2::x(), x), ("y", Vector2::y(), y)] {
                        if value.abs() > LEAST {
                            let found = self.apart(site, ends, along, value.abs());
                            self.set_by(found, site.name, &format!("corners.{i}.{axis}_mm"), value.signum());
                        }
                    }
                }
            }
        }
        if self.all
            && let Some(arc) = site.line.segments.iter().find(|s| matches!(s, Segment::Arc { .. }))
        {
            let figure = Figure::Bend { arc: *arc, clear_mm };
            let measure = Measure::Radius(bridge.bend_radius_mm);
            self.set(Found::on(site.piece, measure, figure), site.name, "bend_radius_mm");
        }
        self.span(site, [from, to]);
    }

    /// A distance between two places, whatever lies between.
    fn apart(&self, site: Site<'_>, ends: [Point; 2], along: Vector2<f64>, length_mm: f64) -> Found {
        let figure = Figure::Between {
            ends,
            along,
            clear_mm: site.clear_mm,
        };
        Found::on(site.piece, Measure::Length(length_mm), figure).through(&[site.piece])
    }

    /// How far apart the two sides of a bridge stand. Where they stand on different free pieces, the one that the
    /// bridge starts from can be moved.
    fn span(&mut self, site: Site<'_>, [from, to]: [Point; 2]) {
        let [first, second] = self.hosts(site.piece)[..] else {
            return;
        };
        let (Some(near), Some(far)) = (self.root(first), self.root(second)) else {
            return;
        };
        if near == far {
            return;
        }
        let placed = self.placed;
        let [owner, other] = [near, far].map(|i| placed.pieces[i].name.as_str());
        for (key, words, along, rank) in [
            ("seat.x_mm", "across", Vector2::x(), COMMON),
            ("seat.y_mm", "in height", Vector2::y(), MINOR),
        ] {
            let delta = (to - from).dot(&along);
            let distance = delta.abs();
            if distance < LEAST || (rank == MINOR && !self.all) {
                continue;
            }
            let name = format!("Distance {words}, {owner} to {other}");
            // The start moves: a greater distance takes it away from the end.
            if let Some(knob) = self.knob(owner, key, -delta.signum()) {
                let knob = Knob {
                    name: name.clone(),
                    shown: distance,
                    offset: knob.shown * knob.factor + delta,
                    ..knob
                };
                let found = self.apart(site, [from, to], along, distance).ranked(rank);
                self.add(found, name, vec![knob]);
            }
        }
    }
}
