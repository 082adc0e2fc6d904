//! Side arms: how wide, and how near to each other.

use super::{Found, Glass, Severity};
use crate::geom::build::Built;
use crate::model::fresh::{ARM_PITCH_DIAMETERS, ARM_PITCH_MM};
use crate::model::place::CONTACT_MM;
use crate::model::{Bulb, Element, Form, Piece, Place};
use crate::units::length_text;
use std::collections::{BTreeMap, HashMap};

/// Side arms wider than this part of the main tube are hard to join.
pub(crate) const ARM_EASY: f64 = 0.8;

/// Outside diameter of a piece at a distance along its centreline, mm.
pub(super) fn od_at(piece: &Piece, at_mm: f64) -> f64 {
    match &piece.form {
        Form::Tube(tube) => {
            let (mut od, mut from) = (tube.size.od_mm, 0.0);
            for element in &tube.course {
                let (length, here, after) = match *element {
                    Element::Straight { length_mm } => (length_mm, od, od),
                    Element::Bend { angle_deg, radius_mm } => (angle_deg.to_radians().abs() * radius_mm, od, od),
                    Element::Taper { length_mm, to } => (length_mm, od.max(to.od_mm), to.od_mm),
                    Element::Neck {
                        taper_mm, length_mm, ..
                    } => (2.0 * taper_mm + length_mm, od, od),
                    Element::Bulb { size, length_mm } => (length_mm, size.od_mm, od),
                };
                if at_mm <= from + length {
                    return here;
                }
                (od, from) = (after, from + length);
            }
            od
        }
        Form::Bulb(Bulb {
            body, neck, neck_mm, ..
        }) => {
            if at_mm < neck_mm - body.od_mm / 2.0 {
                neck.od_mm
            } else {
                body.od_mm
            }
        }
        Form::Bridge(bridge) => bridge.size.od_mm,
        Form::Ampoule(ampoule) => {
            let neck = ampoule.stem_mm + ampoule.funnel_mm;
            if at_mm <= ampoule.stem_mm {
                ampoule.stem.od_mm
            } else if at_mm <= neck + ampoule.neck_mm {
                ampoule.stem.od_mm.max(ampoule.neck.od_mm)
            } else {
                ampoule.body.od_mm
            }
        }
        Form::Fitting(fitting) => fitting.size.od_mm,
    }
}

/// Whether a guest goes on from its host's end in line, rather than as an arm.
fn in_line(place: &Place, host_mm: f64) -> bool {
    let end = place.at_mm <= CONTACT_MM || place.at_mm >= host_mm - CONTACT_MM;
    end && place.turn_deg.to_radians().sin().abs() < 0.1
}

/// An arm on a host.
struct Arm<'a> {
    guest: usize,
    host: usize,
    place: &'a Place,
    /// Outside diameters of the arm and of the host there, mm.
    arm_mm: f64,
    main_mm: f64,
}

/// Every arm, in the order of the pieces.
fn arms(built: &Built) -> Vec<Arm<'_>> {
    let names = built.names.iter().enumerate();
    let index: HashMap<&str, usize> = names.map(|(i, name)| (name.as_str(), i)).collect();
    let pieces = &built.placed.pieces;
    let mut list = Vec::new();
    for (guest, piece) in pieces.iter().enumerate() {
        for place in piece.seat.places() {
            let Some(&host) = index.get(place.host.as_str()) else {
                continue;
            };
            if !in_line(place, built.placed.lines[host].length_mm) {
                list.push(Arm {
                    guest,
                    host,
                    place,
                    arm_mm: piece.form.joined_od_mm(),
                    main_mm: od_at(&pieces[host], place.at_mm),
                });
            }
        }
    }
    list
}

pub(super) fn wider(glass: &Glass, found: &mut Found) {
    for arm in arms(glass.built).iter().filter(|arm| arm.arm_mm > arm.main_mm) {
        found.add(
            Severity::Stop,
            &glass.built.names[arm.guest],
            [
                format!("The arm is wider than {}", arm.place.host),
                format!(
                    "Its outside diameter is {}, that of its host there {}.",
                    length_text(arm.arm_mm),
                    length_text(arm.main_mm)
                ),
                "Join a narrower arm, or widen the host.".to_owned(),
            ],
        );
    }
}

pub(super) fn nearly_as_wide(glass: &Glass, found: &mut Found) {
    let nearly = |arm: &&Arm| arm.arm_mm <= arm.main_mm && arm.arm_mm > ARM_EASY * arm.main_mm;
    for arm in arms(glass.built).iter().filter(nearly) {
        found.add(
            Severity::Note,
            &glass.built.names[arm.guest],
            [
                format!("The arm is nearly as wide as {}", arm.place.host),
                format!(
                    "{} on {}: arms within 20 % of the main tube are harder to join.",
                    length_text(arm.arm_mm),
                    length_text(arm.main_mm)
                ),
                format!("An arm of {} or less is easier.", length_text(ARM_EASY * arm.main_mm)),
            ],
        );
    }
}

pub(super) fn close(glass: &Glass, found: &mut Found) {
    let built = glass.built;
    let pieces = &built.placed.pieces;
    let mut by_host: BTreeMap<usize, Vec<(f64, usize)>> = BTreeMap::new();
    for arm in arms(built) {
        let form = &pieces[arm.host].form;
        if !matches!(form, Form::Bulb(_)) || arm.main_mm <= form.joined_od_mm() {
            by_host.entry(arm.host).or_default().push((arm.place.at_mm, arm.guest));
        }
    }
    for (host, mut places) in by_host {
        places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for pair in places.windows(2) {
            let [(at, one), (next, two)] = [pair[0], pair[1]];
            let least = ARM_PITCH_MM.max(ARM_PITCH_DIAMETERS * od_at(&pieces[host], at));
            // A hair of rounding is not a finding.
            if next - at < least - CONTACT_MM {
                found.add(
                    Severity::Watch,
                    &built.names[two],
                    [
                        format!("It is joined close to {}", built.names[one]),
                        format!(
                            "Their centres are {} apart on {}; {} lets one be made without reheating the other.",
                            length_text(next - at),
                            built.names[host],
                            length_text(least)
                        ),
                        "Move them apart.".to_owned(),
                    ],
                );
            }
        }
    }
}
