//! Necks as the drawing gives them: what can be sealed at all, and how near to each other.

use super::{Found, Glass, Severity};
use crate::geom::glass::MarkKind;
use crate::model::place::CONTACT_MM;
use crate::model::{Element, Form, TubeSize};
use crate::units::length_text;

/// Least distance of necks for a fine hand torch, mm.
const NECK_PITCH_MM: f64 = 30.0;
/// Widest neck that is sealed readily, outside diameter, mm.
const SEAL_EASY_MM: f64 = 6.0;

/// The necks of a form, each with the widths beside it and their names.
fn necks(form: &Form) -> Vec<(TubeSize, Vec<(TubeSize, &'static str)>)> {
    match form {
        Form::Ampoule(ampoule) => vec![(ampoule.neck, vec![(ampoule.stem, "stem"), (ampoule.body, "body")])],
        Form::Tube(tube) => {
            let mut present = tube.size;
            let mut list = Vec::new();
            for element in &tube.course {
                match *element {
                    Element::Neck { size, .. } => list.push((size, vec![(present, "tube")])),
                    Element::Taper { to, .. } => present = to,
                    Element::Straight { .. } | Element::Bend { .. } | Element::Bulb { .. } => {}
                }
            }
            list
        }
        Form::Bulb(_) | Form::Bridge(_) | Form::Fitting(_) => Vec::new(),
    }
}

pub(super) fn wider(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        for (neck, beside) in necks(&form) {
            for (beside, beside_name) in beside {
                // A hair of rounding is not a finding.
                if neck.bore_mm() <= beside.bore_mm() + CONTACT_MM {
                    continue;
                }
                found.add(
                    Severity::Stop,
                    &name,
                    [
                        format!("The neck is wider than its {beside_name}"),
                        format!(
                            "Its bore is {}, that of the {beside_name} {}: there is nothing to seal off.",
                            length_text(neck.bore_mm()),
                            length_text(beside.bore_mm())
                        ),
                        format!("Make the neck's bore smaller than {}.", length_text(beside.bore_mm())),
                    ],
                );
            }
        }
    }
}

pub(super) fn outside(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        if let Form::Ampoule(ampoule) = form
            && ampoule.seal_mm > ampoule.neck_mm
        {
            found.add(
                Severity::Stop,
                &name,
                [
                    "The seal-off place is outside the neck".to_owned(),
                    format!(
                        "It lies {} along a neck of {}.",
                        length_text(ampoule.seal_mm),
                        length_text(ampoule.neck_mm)
                    ),
                    "Move it into the neck, or make the neck longer.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn hard_to_seal(glass: &Glass, found: &mut Found) {
    for (name, form) in glass.forms() {
        if let Some((neck, _)) = necks(&form).iter().find(|(neck, _)| neck.od_mm > SEAL_EASY_MM) {
            found.add(
                Severity::Note,
                &name,
                [
                    "The neck needs a skilled hand to seal".to_owned(),
                    format!(
                        "Its outside diameter is {}; up to {} is sealed readily.",
                        length_text(neck.od_mm),
                        length_text(SEAL_EASY_MM)
                    ),
                    "Pull the neck narrower if the liquid passes a smaller bore.".to_owned(),
                ],
            );
        }
    }
}

/// Distances between the seal-off places of ampoules.
pub(super) fn close(glass: &Glass, found: &mut Found) {
    let built = glass.built;
    let mut seals: Vec<(f64, f64, usize)> = Vec::new();
    for glass in built.glass.iter().filter(|glass| glass.target_ml.is_some()) {
        for mark in glass.marks.iter().filter(|mark| mark.kind == MarkKind::Seal) {
            seals.push((mark.at.x, mark.at.y, glass.piece));
        }
    }
    seals.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (i, one) in seals.iter().enumerate() {
        let near = seals[i + 1..].iter().take_while(|two| two.0 - one.0 < NECK_PITCH_MM);
        let distance = |two: &&(f64, f64, usize)| (two.0 - one.0).hypot(two.1 - one.1);
        let Some(two) = near.min_by(|a, b| distance(a).total_cmp(&distance(b))) else {
            continue;
        };
        if distance(&two) < NECK_PITCH_MM - CONTACT_MM {
            found.add(
                Severity::Watch,
                &built.names[two.2],
                [
                    format!("Its neck is close to that of {}", built.names[one.2]),
                    format!(
                        "The seal-off places are {} apart; a fine hand torch needs {}.",
                        length_text(distance(&two)),
                        length_text(NECK_PITCH_MM)
                    ),
                    "Widen the pitch, or stagger the necks.".to_owned(),
                ],
            );
        }
    }
}
