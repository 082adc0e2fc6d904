//! Every number of a design under a uniform key, so that any panel, edit, check or message can name and change it.
//!
//! Keys follow the fields: `body_mm`, `body.od_mm`, `course.2.length_mm`, `seat.at_mm`. Positions count from 0.

use super::limits::{self, Limit};
use super::{Ampoule, Bottom, BulbShape, Element, FittingKind, Form, Piece, Place, Route, Row, Seat, TubeSize};

/// One number that can be edited.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameter {
    /// Its key within the piece or row.
    pub key: String,
    /// Its name for people.
    pub label: String,
    /// Its value, in the limit's unit.
    pub value: f64,
    /// Its limit.
    pub limit: &'static Limit,
}

/// Called with key, label, limit and the number.
type Visit<'a> = &'a mut dyn FnMut(&str, &str, &'static Limit, &mut f64);

/// The numbers of a piece, its seat first.
pub fn of_piece(piece: &Piece) -> Vec<Parameter> {
    let mut piece = piece.clone();
    collect(|visit| visit_piece(&mut piece, visit))
}

/// The numbers of a row: place, pitch, count and pattern.
pub fn of_row(row: &Row) -> Vec<Parameter> {
    // The departures are left out of the copy: they have numbers of their own.
    let mut row = Row {
        departures: Vec::new(),
        ..row.clone()
    };
    collect(|visit| visit_row(&mut row, visit))
}

/// The numbers of an ampoule.
pub fn of_ampoule(ampoule: &Ampoule) -> Vec<Parameter> {
    let mut ampoule = ampoule.clone();
    collect(|visit| visit_ampoule(&mut ampoule, visit))
}

fn collect(walk: impl FnOnce(Visit<'_>)) -> Vec<Parameter> {
    let mut list = Vec::new();
    walk(&mut |key, label, limit, value| {
        list.push(Parameter {
            key: key.to_owned(),
            label: label.to_owned(),
            value: *value,
            limit,
        });
    });
    list
}

pub(super) fn visit_piece(piece: &mut Piece, visit: Visit<'_>) {
    visit_seat(&mut piece.seat, visit);
    visit_form(&mut piece.form, visit);
}

pub(super) fn visit_row(row: &mut Row, visit: Visit<'_>) {
    visit_place("first", "First member", &mut row.first, visit);
    visit("pitch_mm", "Pitch", &limits::PITCH, &mut row.pitch_mm);
    let mut count = row.count as f64;
    visit("count", "Members", &limits::MEMBERS, &mut count);
    // Within the limit the number is whole and small; anything else keeps the old count and is refused by key.
    if limits::MEMBERS.allows(count) {
        row.count = count as usize;
    }
    visit_ampoule(&mut row.pattern, visit);
}

fn visit_seat(seat: &mut Seat, visit: Visit<'_>) {
    match seat {
        Seat::Free {
            x_mm,
            y_mm,
            heading_deg,
        } => {
            visit("seat.x_mm", "Position to the right", &limits::COORDINATE, x_mm);
            visit("seat.y_mm", "Position upwards", &limits::COORDINATE, y_mm);
            visit("seat.heading_deg", "Heading", &limits::HEADING, heading_deg);
        }
        Seat::On(place) => visit_place("seat", "Place", place, visit),
        Seat::Between { from, to } => {
            visit_place("seat.from", "From", from, visit);
            visit_place("seat.to", "To", to, visit);
        }
    }
}

fn visit_place(key: &str, label: &str, place: &mut Place, visit: Visit<'_>) {
    visit(
        &format!("{key}.at_mm"),
        &format!("{label}: along the host"),
        &limits::AT,
        &mut place.at_mm,
    );
    visit(
        &format!("{key}.turn_deg"),
        &format!("{label}: turn from the host"),
        &limits::TURN,
        &mut place.turn_deg,
    );
}

fn visit_size(key: &str, label: &str, size: &mut TubeSize, visit: Visit<'_>) {
    visit(
        &format!("{key}.od_mm"),
        &format!("{label}: outside diameter"),
        &limits::OD,
        &mut size.od_mm,
    );
    visit(
        &format!("{key}.wall_mm"),
        &format!("{label}: wall"),
        &limits::WALL,
        &mut size.wall_mm,
    );
}

fn visit_form(form: &mut Form, visit: Visit<'_>) {
    match form {
        Form::Tube(tube) => {
            visit_size("size", "Tube", &mut tube.size, visit);
            for (i, element) in tube.course.iter_mut().enumerate() {
                visit_element(i, element, visit);
            }
        }
        Form::Bulb(bulb) => {
            visit_size("body", "Body", &mut bulb.body, visit);
            visit_size("neck", "Neck", &mut bulb.neck, visit);
            visit(
                "neck_mm",
                "Mouth to centre of the body",
                &limits::LENGTH,
                &mut bulb.neck_mm,
            );
            if let BulbShape::Flask { flat_mm } = &mut bulb.shape {
                visit("flat_mm", "Diameter of the flat", &limits::SHORT, flat_mm);
            }
        }
        Form::Bridge(bridge) => {
            visit_size("size", "Tube", &mut bridge.size, visit);
            visit(
                "bend_radius_mm",
                "Bend radius",
                &limits::RADIUS,
                &mut bridge.bend_radius_mm,
            );
            match &mut bridge.route {
                Route::Straight => {}
                Route::Arched { rise_mm } => visit("rise_mm", "Rise of the crossbar", &limits::SHORT, rise_mm),
                Route::Via { corners_mm } => {
                    for (i, [x, y]) in corners_mm.iter_mut().enumerate() {
                        let n = i + 1;
                        visit(
                            &format!("corners.{i}.x_mm"),
                            &format!("Corner {n}: right"),
                            &limits::COORDINATE,
                            x,
                        );
                        visit(
                            &format!("corners.{i}.y_mm"),
                            &format!("Corner {n}: up"),
                            &limits::COORDINATE,
                            y,
                        );
                    }
                }
            }
        }
        Form::Ampoule(ampoule) => visit_ampoule(ampoule, visit),
        Form::Fitting(fitting) => {
            visit_size("size", "Tube", &mut fitting.size, visit);
            visit("length_mm", "Length", &limits::LENGTH, &mut fitting.length_mm);
        }
    }
}

fn visit_element(i: usize, element: &mut Element, visit: Visit<'_>) {
    let n = i + 1;
    match element {
        Element::Straight { length_mm } => {
            visit(
                &format!("course.{i}.length_mm"),
                &format!("{n}, straight: length"),
                &limits::LENGTH,
                length_mm,
            );
        }
        Element::Bend { angle_deg, radius_mm } => {
            visit(
                &format!("course.{i}.angle_deg"),
                &format!("{n}, bend: angle"),
                &limits::ANGLE,
                angle_deg,
            );
            visit(
                &format!("course.{i}.radius_mm"),
                &format!("{n}, bend: radius"),
                &limits::RADIUS,
                radius_mm,
            );
        }
        Element::Taper { length_mm, to } => {
            visit(
                &format!("course.{i}.length_mm"),
                &format!("{n}, taper: length"),
                &limits::LENGTH,
                length_mm,
            );
            visit_size(&format!("course.{i}.to"), &format!("{n}, taper to"), to, visit);
        }
        Element::Neck {
            size,
            taper_mm,
            length_mm,
        } => {
            visit_size(&format!("course.{i}.size"), &format!("{n}, neck"), size, visit);
            visit(
                &format!("course.{i}.taper_mm"),
                &format!("{n}, neck: each taper"),
                &limits::LENGTH,
                taper_mm,
            );
            visit(
                &format!("course.{i}.length_mm"),
                &format!("{n}, neck: parallel part"),
                &limits::LENGTH,
                length_mm,
            );
        }
        Element::Bulb { size, length_mm } => {
            visit_size(&format!("course.{i}.size"), &format!("{n}, bulb"), size, visit);
            visit(
                &format!("course.{i}.length_mm"),
                &format!("{n}, bulb: length"),
                &limits::LENGTH,
                length_mm,
            );
        }
    }
}

pub(super) fn visit_ampoule(ampoule: &mut Ampoule, visit: Visit<'_>) {
    visit("target_ml", "Target volume", &limits::TARGET, &mut ampoule.target_ml);
    visit_size("stem", "Stem", &mut ampoule.stem, visit);
    visit("stem_mm", "Stem: length", &limits::LENGTH, &mut ampoule.stem_mm);
    visit("funnel_mm", "Funnel: length", &limits::LENGTH, &mut ampoule.funnel_mm);
    visit_size("neck", "Neck", &mut ampoule.neck, visit);
    visit("neck_mm", "Neck: length", &limits::LENGTH, &mut ampoule.neck_mm);
    visit("seal_mm", "Neck: seal-off place", &limits::SHORT, &mut ampoule.seal_mm);
    visit(
        "shoulder_mm",
        "Shoulder: length",
        &limits::LENGTH,
        &mut ampoule.shoulder_mm,
    );
    visit_size("body", "Body", &mut ampoule.body, visit);
    visit(
        "body_mm",
        "Body: straight length",
        &limits::LENGTH,
        &mut ampoule.body_mm,
    );
    if let Bottom::Conical { length_mm } = &mut ampoule.bottom {
        visit(
            "bottom.length_mm",
            "Bottom: length of the cone",
            &limits::LENGTH,
            length_mm,
        );
    }
}

/// The tube sizes of a form under their keys, such as `body` or `course.2.to`.
pub(super) fn visit_sizes(form: &mut Form, visit: &mut dyn FnMut(&str, &mut TubeSize)) {
    match form {
        Form::Tube(tube) => {
            visit("size", &mut tube.size);
            for (i, element) in tube.course.iter_mut().enumerate() {
                match element {
                    Element::Straight { .. } | Element::Bend { .. } => {}
                    Element::Taper { to, .. } => visit(&format!("course.{i}.to"), to),
                    Element::Neck { size, .. } | Element::Bulb { size, .. } => visit(&format!("course.{i}.size"), size),
                }
            }
        }
        Form::Bulb(bulb) => {
            visit("body", &mut bulb.body);
            visit("neck", &mut bulb.neck);
        }
        Form::Bridge(bridge) => visit("size", &mut bridge.size),
        Form::Ampoule(ampoule) => visit_ampoule_sizes(ampoule, visit),
        Form::Fitting(fitting) => visit("size", &mut fitting.size),
    }
}

pub(super) fn visit_ampoule_sizes(ampoule: &mut Ampoule, visit: &mut dyn FnMut(&str, &mut TubeSize)) {
    visit("stem", &mut ampoule.stem);
    visit("neck", &mut ampoule.neck);
    visit("body", &mut ampoule.body);
}

/// The tube sizes of a form with their keys.
pub fn sizes_of(form: &Form) -> Vec<(String, TubeSize)> {
    let mut form = form.clone();
    let mut list = Vec::new();
    visit_sizes(&mut form, &mut |key, size| list.push((key.to_owned(), *size)));
    list
}

/// The designation of the ground joint that a fitting or tube end names, with its key.
pub fn joints_of(form: &Form) -> Vec<(&'static str, &str)> {
    use super::End;
    match form {
        Form::Fitting(fitting) => match &fitting.kind {
            FittingKind::Joint { designation, .. } => {
                vec![("kind.designation", designation.as_str())]
            }
            _ => Vec::new(),
        },
        Form::Tube(tube) => [("start.designation", &tube.start), ("end.designation", &tube.end)]
            .into_iter()
            .filter_map(|(key, end)| match end {
                End::Joint { designation, .. } => Some((key, designation.as_str())),
                _ => None,
            })
            .collect(),
        _ => Vec::new(),
    }
}
