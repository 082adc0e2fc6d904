//! Where the handles of each kind of piece stand.

use super::{ASIDE, Handle, Lever, Look, Measure, OFF, ROOMY};
use crate::model::place::{Centreline, Placed, Point, Segment, Spot, direction};
use crate::model::{Ampoule, Apparatus, Bottom, Bridge, Element, End, Form, Route, Row, Seat, Tube};

/// The handles of a piece or member. `mm` is the length of a point on the screen.
pub(crate) fn of(apparatus: &Apparatus, placed: &Placed, name: &str, mm: f64) -> Vec<Handle> {
    let Some(index) = placed.index(name) else {
        return Vec::new();
    };
    let (piece, line) = (&placed.pieces[index], &placed.lines[index]);
    let mut list = Vec::new();
    match &piece.form {
        Form::Tube(tube) => of_tube(&mut list, name, tube, line),
        Form::Bulb(bulb) => {
            let along = direction(line.end().heading_deg);
            let centre = line.spot(bulb.neck_mm).at;
            let bottom = centre + along * (bulb.body.od_mm / 2.0);
            list.push(end_handle(name, "neck_mm", bottom, along));
            let side = side_handle(name, "body", centre, along, bulb.body.od_mm);
            let lever = Lever::Across(side.pull, None);
            list.push(Handle { lever, ..side });
        }
        Form::Ampoule(ampoule) => of_ampoule(&mut list, name, ampoule, line, mm),
        Form::Fitting(_) => {
            let end = line.end();
            list.push(end_handle(name, "length_mm", end.at, direction(end.heading_deg)));
        }
        Form::Bridge(bridge) => {
            of_ends(&mut list, placed, name, &piece.seat, line);
            of_route(&mut list, name, bridge, line);
        }
    }
    let row = apparatus.member(name).map(|(row, _)| row);
    let turn = match (&piece.seat, row) {
        (_, Some(row)) => Some(Measure::new(&row.name, "first.turn_deg")),
        (Seat::Free { .. }, None) => Some(Measure::new(name, "seat.heading_deg")),
        (Seat::On(_), None) => Some(Measure::new(name, "seat.turn_deg")),
        (Seat::Between { .. }, None) => None,
    };
    if let Some(measure) = turn {
        list.push(turn_handle(measure, line, &piece.form, mm));
    }
    if let Some(row) = row {
        of_row(&mut list, placed, row, line.start);
    }
    list
}

fn across(along: Point) -> Point {
    Point::new(-along.y, along.x)
}

/// Lengthens: stands at the end of the glass.
fn end_handle(owner: &str, key: impl Into<String>, end: Point, along: Point) -> Handle {
    Handle {
        measure: Measure::new(owner, key),
        look: Look::Arrows,
        anchor: end,
        away: (along, OFF),
        pull: along,
        lever: Lever::Along(along),
    }
}

/// Widens: stands at the side of the glass.
fn side_handle(owner: &str, size: &str, centre: Point, along: Point, od_mm: f64) -> Handle {
    let side = across(along);
    Handle {
        measure: Measure::new(owner, format!("{size}.od_mm")),
        look: Look::Arrows,
        anchor: centre + side * (od_mm / 2.0),
        away: (side, OFF),
        pull: side,
        lever: Lever::Across(side, Some(size.to_owned())),
    }
}

/// Turns about the start: stands beside the end.
fn turn_handle(measure: Measure, line: &Centreline, form: &Form, mm: f64) -> Handle {
    let (start, end) = (line.start, line.end());
    let reach = (end.at - start.at).norm();
    // A piece that is short on the screen, or comes back to its start, is turned by a longer arm.
    let arm = f64::from(ASIDE) * 1.5 * mm;
    let (at, along) = if reach < arm {
        let along = direction(start.heading_deg);
        (start.at + along * arm, along)
    } else {
        (end.at, (end.at - start.at) / reach)
    };
    let side = -across(along);
    let half = form.greatest_od_mm() / 2.0;
    let aside = Handle {
        measure,
        look: Look::Arc,
        anchor: at + side * half,
        away: (side, ASIDE),
        pull: side,
        lever: Lever::Around(start.at),
    };
    Handle {
        pull: across(along),
        ..aside
    }
}

fn of_tube(list: &mut Vec<Handle>, name: &str, tube: &Tube, line: &Centreline) {
    of_bends(list, name, tube, line);
    let straight = |element: &Element| matches!(element, Element::Straight { .. });
    let Some(last) = tube.course.iter().rposition(straight) else {
        return;
    };
    let Some(segment) = line.segments.get(last) else { return };
    let along = direction(segment.end_heading_deg());
    let end = line.end();
    let size = tube.course.iter().fold(tube.size, |size, element| match element {
        Element::Taper { to, .. } => *to,
        _ => size,
    });
    let beyond = if tube.end == End::Round { size.od_mm / 2.0 } else { 0.0 };
    let away = direction(end.heading_deg);
    list.push(Handle {
        away: (away, OFF),
        ..end_handle(name, format!("course.{last}.length_mm"), end.at + away * beyond, along)
    });
    // The size at the start holds up to the first taper: its handle stands on the longest straight part.
    let tapered = tube
        .course
        .iter()
        .position(|element| matches!(element, Element::Taper { .. }));
    let of_start = line
        .segments
        .iter()
        .zip(&tube.course)
        .take(tapered.unwrap_or(usize::MAX));
    let longest = of_start
        .filter(|(_, element)| straight(element))
        .map(|(segment, _)| segment)
        .max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()));
    if let Some(segment) = longest {
        let along = direction(segment.end_heading_deg());
        let at = segment.from() + (segment.to() - segment.from()) * 0.7;
        list.push(side_handle(name, "size", at, along, tube.size.od_mm));
    }
}

fn of_ampoule(list: &mut Vec<Handle>, name: &str, ampoule: &Ampoule, line: &Centreline, mm: f64) {
    let along = direction(line.start.heading_deg);
    let shoulder = ampoule.stem_mm + ampoule.funnel_mm + ampoule.neck_mm + ampoule.shoulder_mm;
    let bottom = shoulder
        + ampoule.body_mm
        + match ampoule.bottom {
            Bottom::Round => ampoule.body.od_mm / 2.0,
            Bottom::Flat => 0.0,
            Bottom::Conical { length_mm } => length_mm + ampoule.body.wall_mm,
        };
    let at = |mm: f64| line.start.at + along * mm;
    list.push(end_handle(name, "body_mm", at(bottom), along));
    list.push(side_handle(
        name,
        "body",
        at(shoulder + ampoule.body_mm / 2.0),
        along,
        ampoule.body.od_mm,
    ));
    if line.length_mm < f64::from(ROOMY) * mm {
        return;
    }
    // The stem's end and the seal-off place stand at the sides, where the body's width leaves room.
    let mut push = |key: &str, at_mm: f64, side: Point, od_mm: f64| {
        list.push(Handle {
            measure: Measure::new(name, key),
            look: Look::Arrows,
            anchor: at(at_mm) + side * (od_mm / 2.0),
            away: (side, OFF),
            pull: along,
            lever: Lever::Along(along),
        });
    };
    let side = across(along);
    push("stem_mm", ampoule.stem_mm, -side, ampoule.stem.od_mm);
    let seal = ampoule.stem_mm + ampoule.funnel_mm + ampoule.seal_mm;
    push("seal_mm", seal, side, ampoule.neck.od_mm);
}

/// The bends of a tube: the angle at the end of each, the radius at its middle.
fn of_bends(list: &mut Vec<Handle>, name: &str, tube: &Tube, line: &Centreline) {
    let mut size = tube.size;
    for (i, (element, segment)) in tube.course.iter().zip(&line.segments).enumerate() {
        if let Element::Taper { to, .. } = element {
            size = *to;
        }
        let (Element::Bend { .. }, Some(arc)) = (element, Arc::of(segment)) else {
            continue;
        };
        let out = (arc.to - arc.centre).normalize();
        list.push(Handle {
            measure: Measure::new(name, format!("course.{i}.angle_deg")),
            look: Look::Arc,
            anchor: arc.to + out * (size.od_mm / 2.0),
            away: (out, OFF),
            pull: across(out),
            lever: Lever::Around(arc.corner),
        });
        // The start of the arc stays: its middle moves along the chord, by twice the sine of a quarter of the turn.
        let gain = 2.0 * (arc.turn / 4.0).sin();
        list.extend(arc.radius_handle(name, format!("course.{i}.radius_mm"), arc.from, gain, size.od_mm));
    }
}

/// A bend of a centreline.
struct Arc {
    from: Point,
    to: Point,
    middle: Point,
    centre: Point,
    /// Where the straight parts beside it would meet.
    corner: Point,
    /// Its turn either way, radians.
    turn: f64,
}

/// Least way of a bend's middle for a millimetre more of radius at which the radius has a handle, mm.
const LEAST_GAIN: f64 = 0.2;

impl Arc {
    fn of(segment: &Segment) -> Option<Self> {
        let Segment::Arc {
            from,
            to,
            heading_deg,
            centre,
            radius_mm,
            turn_deg,
        } = *segment
        else {
            return None;
        };
        let turn = turn_deg.to_radians().abs();
        // The sides of a bend meet at the radius times the tangent of half its turn; those of half a turn never do.
        let reach = radius_mm * (turn.min(MOST_TURN) / 2.0).tan();
        let half = heading_deg + turn_deg / 2.0;
        let middle = centre - across(direction(half)) * (radius_mm * turn_deg.signum());
        (radius_mm > 0.0 && turn > 0.0).then_some(Self {
            from,
            to,
            middle,
            centre,
            corner: from + direction(heading_deg) * reach,
            turn,
        })
    }

    /// The handle of its radius: the middle moves away from the point that stays, by `gain` for each millimetre.
    fn radius_handle(&self, name: &str, key: String, fixed: Point, gain: f64, od_mm: f64) -> Option<Handle> {
        let way = self.middle - fixed;
        let along = way.try_normalize(f64::EPSILON).filter(|_| gain >= LEAST_GAIN)?;
        let inwards = (self.centre - self.middle).normalize();
        Some(Handle {
            measure: Measure::new(name, key),
            look: Look::Arrows,
            anchor: self.middle + inwards * (od_mm / 2.0),
            away: (inwards, OFF),
            pull: along,
            lever: Lever::Along(along / gain),
        })
    }
}

/// Turn beyond which the straight parts beside a bend count as meeting no farther away, radians.
const MOST_TURN: f64 = 2.6;

/// The places where a bridge stands on its hosts.
fn of_ends(list: &mut Vec<Handle>, placed: &Placed, name: &str, seat: &Seat, line: &Centreline) {
    for ((place, key), spot) in seat
        .places()
        .zip(["seat.from.at_mm", "seat.to.at_mm"])
        .zip([line.start, line.end()])
    {
        let Some(host) = placed.index(&place.host) else {
            continue;
        };
        let along = direction(placed.lines[host].spot(place.at_mm).heading_deg);
        let out = direction(spot.heading_deg) * if key == "seat.from.at_mm" { 1.0 } else { -1.0 };
        list.push(Handle {
            measure: Measure::new(name, key),
            look: Look::Arrows,
            anchor: spot.at,
            away: (-out, OFF),
            pull: along,
            lever: Lever::Rail(placed.lines[host].clone(), 1.0),
        });
    }
}

/// The way of a bridge: the rise of an arch, the corners, the radius of the first bend.
fn of_route(list: &mut Vec<Handle>, name: &str, bridge: &Bridge, line: &Centreline) {
    match &bridge.route {
        Route::Straight => {}
        Route::Arched { .. } => {
            let up = Point::new(0.0, 1.0);
            let middle = line.spot(line.length_mm / 2.0).at;
            list.push(end_handle(name, "rise_mm", middle, up));
        }
        Route::Via { corners_mm } => {
            for (i, [x, y]) in corners_mm.iter().enumerate() {
                let at = line.start.at + Point::new(*x, *y);
                list.push(Handle {
                    measure: Measure::new(name, format!("corners.{i}.x_mm")),
                    look: Look::Cross,
                    anchor: at,
                    away: (Point::new(0.0, 1.0), 0.0),
                    pull: Point::new(1.0, 0.0),
                    lever: Lever::About(Measure::new(name, format!("corners.{i}.y_mm"))),
                });
            }
        }
    }
    if let Some(arc) = line.segments.iter().find_map(Arc::of) {
        // The corner stays: the middle moves away from it, as the secant of half the turn exceeds one.
        let gain = 1.0 / (arc.turn / 2.0).cos().max(f64::EPSILON) - 1.0;
        let od_mm = bridge.size.od_mm;
        list.extend(arc.radius_handle(name, "bend_radius_mm".to_owned(), arc.corner, gain, od_mm));
    }
}

/// Pitch and number of members: on the host, on the side away from the members.
fn of_row(list: &mut Vec<Handle>, placed: &Placed, row: &Row, start: Spot) {
    let Some(host) = placed.index(&row.first.host) else {
        return;
    };
    let (line, form) = (&placed.lines[host], &placed.pieces[host].form);
    let away = -direction(start.heading_deg);
    let half = form.joined_od_mm() / 2.0;
    let mut push = |key: &str, at_mm: f64, look, share| {
        let spot = line.spot(at_mm);
        list.push(Handle {
            measure: Measure::new(&row.name, key),
            look,
            anchor: spot.at + away * half,
            away: (away, OFF),
            pull: direction(spot.heading_deg),
            lever: Lever::Rail(line.clone(), share),
        });
    };
    if row.count > 1 {
        push("pitch_mm", row.at_mm(2), Look::Arrows, 1.0);
    }
    let last = row.at_mm(row.count);
    push(
        "count",
        (last + row.pitch_mm / 2.0).min(line.length_mm.max(last)),
        Look::Count,
        row.pitch_mm,
    );
}
