//! What pieces are made of: bends, stock sizes, joints, and whether a target fits.

use super::{Found, Glass, Severity};
use crate::data;
use crate::model::{Ampoule, Apparatus, Bottom, Element, Form, TubeSize, param};
use crate::units::{MM3_PER_ML, length_text};
use std::f64::consts::PI;

/// Least radius of a bend, in outside diameters.
const BEND_LEAST: f64 = 1.5;
/// Radius of an easy bend, in outside diameters.
const BEND_EASY: f64 = 2.0;

pub(super) fn bend_tight(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        bends(&name, &form, found);
    }
}

pub(super) fn not_in_stock(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        stock(glass.apparatus, &name, &form, found);
    }
}

pub(super) fn joint_unknown(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        joints(&name, &form, found);
    }
}

pub(super) fn target_too_large(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        if let Form::Ampoule(ampoule) = &form {
            target(&name, ampoule, found);
        }
    }
}

fn bends(name: &str, form: &Form, found: &mut Found) {
    let mut check = |radius_mm: f64, size: TubeSize| {
        let ratio = radius_mm / size.od_mm;
        if ratio >= BEND_EASY {
            return;
        }
        let (severity, words) = if ratio < BEND_LEAST {
            (Severity::Stop, "A bend is tighter than can be made")
        } else {
            (Severity::Watch, "A bend is tight")
        };
        found.add(
            severity,
            name,
            [
                words.to_owned(),
                format!(
                    "Its radius is {}, {ratio:.1} times the outside diameter of {}; {BEND_LEAST} is the least, \
                     {BEND_EASY} easy.",
                    length_text(radius_mm),
                    length_text(size.od_mm)
                ),
                format!("Make the radius {} or more.", length_text(BEND_EASY * size.od_mm)),
            ],
        );
    };
    match form {
        Form::Tube(tube) => {
            let mut present = tube.size;
            for element in &tube.course {
                match *element {
                    Element::Bend { radius_mm, angle_deg } if angle_deg != 0.0 => check(radius_mm, present),
                    Element::Taper { to, .. } => present = to,
                    _ => {}
                }
            }
        }
        Form::Bridge(bridge) if bridge.route != crate::model::Route::Straight => {
            check(bridge.bend_radius_mm, bridge.size);
        }
        _ => {}
    }
}

/// Sizes that are cut from stock: not what is pulled or blown to size.
fn stock(apparatus: &Apparatus, name: &str, form: &Form, found: &mut Found) {
    let cut: Vec<(&str, TubeSize)> = match form {
        Form::Tube(tube) => vec![("tube", tube.size)],
        Form::Bulb(bulb) => vec![("neck", bulb.neck)],
        Form::Bridge(bridge) => vec![("tube", bridge.size)],
        Form::Ampoule(ampoule) => vec![("stem", ampoule.stem), ("body", ampoule.body)],
        Form::Fitting(fitting) => vec![("tube", fitting.size)],
    };
    for (part, size) in cut {
        let own = apparatus.own_stock.iter().any(|own| own.tube == size);
        if own || data::stock(size.od_mm, size.wall_mm).is_some() {
            continue;
        }
        let Some(near) = data::nearest_stock(size.od_mm, size.wall_mm) else {
            continue;
        };
        found.add_known(
            Severity::Note,
            name,
            near.known,
            [
                format!("The {part} is not a stock size"),
                format!(
                    "{} x {} mm is in neither the catalogue nor your own sizes.",
                    size.od_mm, size.wall_mm
                ),
                format!(
                    "The nearest is {} x {} mm; or add the size to your own.",
                    near.od_mm, near.wall_mm
                ),
            ],
        );
    }
}

fn joints(name: &str, form: &Form, found: &mut Found) {
    for (_, designation) in param::joints_of(form) {
        if data::joint(designation).is_none() {
            let known: Vec<&str> = data::JOINTS_K6.iter().map(|joint| joint.designation).collect();
            found.add(
                Severity::Note,
                name,
                [
                    format!("The joint \"{designation}\" is not in the table"),
                    "Its sizes are not known, so it is drawn as plain tube.".to_owned(),
                    format!("Known are {}.", known.join(", ")),
                ],
            );
        }
    }
}

/// Inside volume of an ampoule's straight body and bottom, mL.
pub fn body_ml(ampoule: &Ampoule) -> f64 {
    let r = ampoule.body.bore_mm() / 2.0;
    let area = PI * r * r;
    let volume = match ampoule.bottom {
        Bottom::Round => area * (ampoule.body_mm + 2.0 / 3.0 * r),
        Bottom::Flat => area * (ampoule.body_mm - ampoule.body.wall_mm),
        Bottom::Conical { length_mm } => area * (ampoule.body_mm + length_mm / 3.0),
    };
    volume / MM3_PER_ML
}

fn target(name: &str, ampoule: &Ampoule, found: &mut Found) {
    let body = body_ml(ampoule);
    if ampoule.target_ml > body {
        found.add(
            Severity::Stop,
            name,
            [
                "The target volume does not fit into the body".to_owned(),
                format!(
                    "{:.2} mL are wanted; bottom and straight body hold {body:.2} mL.",
                    ampoule.target_ml
                ),
                "Make the body longer or wider, or want less.".to_owned(),
            ],
        );
    }
}
