//! Findings: what is doubtful or impossible at the bench, each with the numbers behind it and a way to mend it.
//!
//! A finding never stands in the way of an edit. Where its figures come from is part of it.

mod overlap;
mod place;

use crate::data::{self, Known};
use crate::geom::build::Built;
use crate::geom::glass::MarkKind;
use crate::geom::{Primitive, Shape};
use crate::model::fresh::{ARM_PITCH_DIAMETERS, ARM_PITCH_MM};
use crate::model::place::{CONTACT_MM, Strain};
use crate::model::{Ampoule, Apparatus, Bottom, Bulb, Element, Form, Piece, Place, TubeSize, param};
use crate::units::MM3_PER_ML;
use crate::units::length_text;
use nalgebra::Vector2;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::ControlFlow;

/// How grave a finding is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// It cannot be made or cannot work.
    Stop,
    /// It may well fail.
    Watch,
    /// Worth knowing.
    Note,
}

/// Something found in a design.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// How grave.
    pub severity: Severity,
    /// Id of the rule.
    pub rule: &'static str,
    /// Name of the piece or row; empty for the whole apparatus.
    pub piece: String,
    /// What was found.
    pub what: String,
    /// Why it matters, with the numbers.
    pub why: String,
    /// How it can be mended.
    pub mend: String,
    /// How the rule's figure is known.
    pub known: Known,
    /// Where on the glass it belongs, mm; none for the whole apparatus.
    pub at: Option<Vector2<f64>>,
}

/// Least radius of a bend, in outside diameters.
const BEND_LEAST: f64 = 1.5;
/// Radius of an easy bend, in outside diameters.
const BEND_EASY: f64 = 2.0;
/// Side arms wider than this part of the main tube are hard to join.
pub(crate) const ARM_EASY: f64 = 0.8;
/// Least distance of necks for a fine hand torch, mm.
const NECK_PITCH_MM: f64 = 30.0;
/// Widest neck that is sealed readily, outside diameter, mm.
const SEAL_EASY_MM: f64 = 6.0;
/// Outlines that overlap less than this only touch, mm.
const TOUCH_MM: f64 = 0.05;
/// Pairs of overlapping pieces that are reported at most; more help nobody.
const MOST_PAIRS: usize = 100;

/// Everything found by geometry alone, the gravest first and otherwise in a fixed order.
pub fn geometric(apparatus: &Apparatus, built: &Built) -> Vec<Finding> {
    let mut list = Vec::new();
    for (name, form) in forms(apparatus) {
        necks(&name, &form, &mut list);
        bends(&name, &form, &mut list);
        stock(apparatus, &name, &form, &mut list);
        joints(&name, &form, &mut list);
        if let Form::Ampoule(ampoule) = &form {
            target(&name, ampoule, &mut list);
        }
    }
    strains(built, &mut list);
    arms(built, &mut list);
    neck_pitch(built, &mut list);
    touching(built, &mut list);
    connection(built, &mut list);
    list.sort_by_key(|finding| finding.severity);
    for finding in &mut list {
        finding.at = finding.at.or_else(|| place::of(finding, built));
    }
    list
}

/// Every form once: a row's pattern under the row's name, departures under the member's.
fn forms(apparatus: &Apparatus) -> Vec<(String, Form)> {
    let mut list: Vec<(String, Form)> = apparatus
        .pieces
        .iter()
        .map(|piece| (piece.name.clone(), piece.form.clone()))
        .collect();
    for row in &apparatus.rows {
        list.push((row.name.clone(), Form::Ampoule(row.pattern.clone())));
        for departure in &row.departures {
            list.push((
                row.member_name(departure.member),
                Form::Ampoule(departure.ampoule.clone()),
            ));
        }
    }
    list
}

fn push(
    list: &mut Vec<Finding>,
    (severity, rule, known): (Severity, &'static str, Known),
    piece: &str,
    [what, why, mend]: [String; 3],
) {
    list.push(Finding {
        severity,
        rule,
        piece: piece.to_owned(),
        what,
        why,
        mend,
        known,
        at: None,
    });
}

fn necks(name: &str, form: &Form, list: &mut Vec<Finding>) {
    let mut check = |neck: TubeSize, beside: TubeSize, beside_name: &str| {
        // A hair of rounding is not a finding.
        if neck.bore_mm() > beside.bore_mm() + CONTACT_MM {
            push(
                list,
                (Severity::Stop, "neck-wider", Known::CommonPractice),
                name,
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
    };
    let mut sealed = Vec::new();
    match form {
        Form::Ampoule(ampoule) => {
            check(ampoule.neck, ampoule.stem, "stem");
            check(ampoule.neck, ampoule.body, "body");
            sealed.push(ampoule.neck);
            if ampoule.seal_mm > ampoule.neck_mm {
                push(
                    list,
                    (Severity::Stop, "seal-outside", Known::CommonPractice),
                    name,
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
        Form::Tube(tube) => {
            let mut present = tube.size;
            for element in &tube.course {
                match *element {
                    Element::Neck { size, .. } => {
                        check(size, present, "tube");
                        sealed.push(size);
                    }
                    Element::Taper { to, .. } => present = to,
                    Element::Straight { .. } | Element::Bend { .. } | Element::Bulb { .. } => {}
                }
            }
        }
        Form::Bulb(_) | Form::Bridge(_) | Form::Fitting(_) => {}
    }
    if let Some(neck) = sealed.iter().find(|neck| neck.od_mm > SEAL_EASY_MM) {
        push(
            list,
            (Severity::Note, "neck-hard-to-seal", Known::Read),
            name,
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

fn bends(name: &str, form: &Form, list: &mut Vec<Finding>) {
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
        push(
            list,
            (severity, "bend-tight", Known::Memory),
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
fn stock(apparatus: &Apparatus, name: &str, form: &Form, list: &mut Vec<Finding>) {
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
        push(
            list,
            (Severity::Note, "not-in-stock", near.known),
            name,
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

fn joints(name: &str, form: &Form, list: &mut Vec<Finding>) {
    for (_, designation) in param::joints_of(form) {
        if data::joint(designation).is_none() {
            let known: Vec<&str> = data::JOINTS_K6.iter().map(|joint| joint.designation).collect();
            push(
                list,
                (Severity::Note, "joint-unknown", Known::Memory),
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
    let area = std::f64::consts::PI * r * r;
    let volume = match ampoule.bottom {
        Bottom::Round => area * (ampoule.body_mm + 2.0 / 3.0 * r),
        Bottom::Flat => area * (ampoule.body_mm - ampoule.body.wall_mm),
        Bottom::Conical { length_mm } => area * (ampoule.body_mm + length_mm / 3.0),
    };
    volume / MM3_PER_ML
}

fn target(name: &str, ampoule: &Ampoule, list: &mut Vec<Finding>) {
    let body = body_ml(ampoule);
    if ampoule.target_ml > body {
        push(
            list,
            (Severity::Stop, "target-too-large", Known::CommonPractice),
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

fn strains(built: &Built, list: &mut Vec<Finding>) {
    for strain in &built.placed.strains {
        match strain {
            Strain::Beyond {
                piece,
                host,
                at_mm,
                length_mm,
            } => push(
                list,
                (Severity::Stop, "beyond-host", Known::CommonPractice),
                piece,
                [
                    format!("It stands beyond the end of {host}"),
                    format!(
                        "Its place is {}; {host} ends at {}.",
                        length_text(*at_mm),
                        length_text(*length_mm)
                    ),
                    format!("Move it back, or make {host} longer."),
                ],
            ),
            Strain::Corner {
                piece,
                asked_mm,
                drawn_mm,
            } => push(
                list,
                (Severity::Stop, "corner-no-room", Known::CommonPractice),
                piece,
                [
                    "A corner has no room for its bend".to_owned(),
                    format!(
                        "The legs leave room for a radius of {}, not {}.",
                        length_text(*drawn_mm),
                        length_text(*asked_mm)
                    ),
                    "Make the bend radius smaller or the legs longer.".to_owned(),
                ],
            ),
            Strain::Leg { piece, heading_deg } => push(
                list,
                (Severity::Stop, "leg-not-up", Known::CommonPractice),
                piece,
                [
                    "A leg does not lead upwards".to_owned(),
                    format!(
                        "Its heading is {heading_deg:.1} degrees, so it never meets the crossbar; the bridge is drawn straight."
                    ),
                    "Turn its place upwards, or choose another route.".to_owned(),
                ],
            ),
        }
    }
}

/// Outside diameter of a piece at a distance along its centreline, mm.
fn od_at(piece: &Piece, at_mm: f64) -> f64 {
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

/// Widths and distances of side arms.
fn arms(built: &Built, list: &mut Vec<Finding>) {
    let pieces = &built.placed.pieces;
    let index: HashMap<&str, usize> = built
        .names
        .iter()
        .enumerate()
        .map(|(i, name)| (name.as_str(), i))
        .collect();
    let mut by_host: BTreeMap<usize, Vec<(f64, usize)>> = BTreeMap::new();
    for (guest, piece) in pieces.iter().enumerate() {
        for place in piece.seat.places() {
            let Some(&host) = index.get(place.host.as_str()) else {
                continue;
            };
            if in_line(place, built.placed.lines[host].length_mm) {
                continue;
            }
            let (arm, main) = (piece.form.joined_od_mm(), od_at(&pieces[host], place.at_mm));
            if !matches!(pieces[host].form, Form::Bulb(_)) || main <= pieces[host].form.joined_od_mm() {
                by_host.entry(host).or_default().push((place.at_mm, guest));
            }
            if arm > main {
                push(
                    list,
                    (Severity::Stop, "arm-wider", Known::Memory),
                    &piece.name,
                    [
                        format!("The arm is wider than {}", place.host),
                        format!(
                            "Its outside diameter is {}, that of its host there {}.",
                            length_text(arm),
                            length_text(main)
                        ),
                        "Join a narrower arm, or widen the host.".to_owned(),
                    ],
                );
            } else if arm > ARM_EASY * main {
                push(
                    list,
                    (Severity::Note, "arm-nearly-as-wide", Known::Memory),
                    &piece.name,
                    [
                        format!("The arm is nearly as wide as {}", place.host),
                        format!(
                            "{} on {}: arms within 20 % of the main tube are harder to join.",
                            length_text(arm),
                            length_text(main)
                        ),
                        format!("An arm of {} or less is easier.", length_text(ARM_EASY * main)),
                    ],
                );
            }
        }
    }
    for (host, mut places) in by_host {
        places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        for pair in places.windows(2) {
            let [(at, one), (next, two)] = [pair[0], pair[1]];
            let least = ARM_PITCH_MM.max(ARM_PITCH_DIAMETERS * od_at(&pieces[host], at));
            // A hair of rounding is not a finding.
            if next - at < least - CONTACT_MM {
                push(
                    list,
                    (Severity::Watch, "arms-close", Known::Memory),
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

/// Distances between the seal-off places of ampoules.
fn neck_pitch(built: &Built, list: &mut Vec<Finding>) {
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
            push(
                list,
                (Severity::Watch, "necks-close", Known::Memory),
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

/// Glass that overlaps though it is not joined.
fn touching(built: &Built, list: &mut Vec<Finding>) {
    let pieces = &built.placed.pieces;
    let index: HashMap<&str, usize> = built
        .names
        .iter()
        .enumerate()
        .map(|(i, name)| (name.as_str(), i))
        .collect();
    let hosts: Vec<Vec<usize>> = pieces
        .iter()
        .map(|piece| {
            piece
                .seat
                .places()
                .filter_map(|place| index.get(place.host.as_str()).copied())
                .collect()
        })
        .collect();
    let outsides = trimmed(built, &index);
    let mut pairs: BTreeMap<(usize, usize), Vector2<f64>> = BTreeMap::new();
    let wanted = |a: &overlap::Patch, b: &overlap::Patch| {
        if a.piece != b.piece {
            return !hosts[a.piece].contains(&b.piece) && !hosts[b.piece].contains(&a.piece);
        }
        // Within a piece only the parts of a course that are not neighbours.
        let parts = matches!(pieces[a.piece].form, Form::Tube(_) | Form::Bridge(_));
        let blown = [a, b]
            .iter()
            .any(|patch| matches!(outsides[patch.primitive].shape, Shape::Spheroid { .. }));
        parts && !blown && a.primitive.abs_diff(b.primitive) > 1
    };
    overlap::overlaps(&overlap::patches(&outsides), TOUCH_MM, |pair| {
        let (a, b) = (pair.a.piece, pair.b.piece);
        let key = (a.min(b), a.max(b));
        if !pairs.contains_key(&key) && wanted(pair.a, pair.b) && pair.meets() {
            pairs.insert(key, pair.middle());
        }
        if pairs.len() < MOST_PAIRS {
            ControlFlow::Continue(())
        } else {
            ControlFlow::Break(())
        }
    });
    for ((one, two), at) in pairs {
        let (what, mend) = if one == two {
            ("It runs into itself".to_owned(), "Lead its course apart.".to_owned())
        } else {
            (
                format!("It runs into {}", built.names[one]),
                "Move one of them, or seat one on the other.".to_owned(),
            )
        };
        push(
            list,
            (Severity::Stop, "glass-overlaps", Known::CommonPractice),
            &built.names[two],
            [
                what,
                format!("Their walls overlap by more than {TOUCH_MM} mm, yet they are not joined."),
                mend,
            ],
        );
        if let Some(finding) = list.last_mut() {
            finding.at = Some(at);
        }
    }
}

/// The outsides of all pieces, what is fused into a host cut off at the host's wall.
fn trimmed(built: &Built, index: &HashMap<&str, usize>) -> Vec<Primitive> {
    let pieces = &built.placed.pieces;
    let mut list = built.outsides.clone();
    let mut first: HashMap<usize, usize> = HashMap::new();
    let mut last: HashMap<usize, usize> = HashMap::new();
    for (i, primitive) in list.iter().enumerate() {
        first.entry(primitive.piece).or_insert(i);
        last.insert(primitive.piece, i);
    }
    let mut gone: BTreeSet<usize> = BTreeSet::new();
    for (guest, piece) in pieces.iter().enumerate() {
        for (k, place) in piece.seat.places().enumerate() {
            let Some(&host) = index.get(place.host.as_str()) else {
                continue;
            };
            let Some(&end) = (if k == 0 { &first } else { &last }).get(&guest) else {
                continue;
            };
            let sin = place.turn_deg.to_radians().sin().abs();
            if sin < 0.1 {
                continue;
            }
            let cut = od_at(&pieces[host], place.at_mm) / 2.0 / sin;
            if let Shape::Frustum { from, to, r_from, r_to } = &mut list[end].shape {
                let length = (*to - *from).norm();
                if cut >= length {
                    gone.insert(end);
                    continue;
                }
                let step = (*to - *from) * (cut / length);
                let change = (*r_to - *r_from) * (cut / length);
                if k == 0 {
                    (*from, *r_from) = (*from + step, *r_from + change);
                } else {
                    (*to, *r_to) = (*to - step, *r_to - change);
                }
            }
        }
    }
    let kept = list.into_iter().enumerate().filter(|(i, _)| !gone.contains(i));
    kept.map(|(_, primitive)| primitive).collect()
}

/// Parts of the interior that do not communicate, and an interior without a port.
fn connection(built: &Built, list: &mut Vec<Finding>) {
    let mut parent: Vec<usize> = (0..built.names.len()).collect();
    fn root(parent: &mut [usize], mut i: usize) -> usize {
        while parent[i] != i {
            parent[i] = parent[parent[i]];
            i = parent[i];
        }
        i
    }
    // Two ends that share a disc communicate without overlapping.
    overlap::overlaps(&overlap::patches(&built.primitives), -CONTACT_MM, |pair| {
        let (a, b) = (root(&mut parent, pair.a.piece), root(&mut parent, pair.b.piece));
        if a != b && pair.meets() {
            parent[a.max(b)] = a.min(b);
        }
        ControlFlow::Continue(())
    });
    let roots: Vec<usize> = (0..parent.len()).map(|i| root(&mut parent, i)).collect();
    let parts: BTreeSet<usize> = roots.iter().copied().collect();
    for &part in parts.iter().skip(1) {
        push(
            list,
            (Severity::Stop, "not-connected", Known::CommonPractice),
            &built.names[part],
            [
                format!("Its bore is not connected with that of {}", built.names[0]),
                format!("The interior is in {} parts that do not communicate.", parts.len()),
                "Join the parts with a bridge, or seat one on the other.".to_owned(),
            ],
        );
    }
    for &part in &parts {
        if !built.ports.iter().any(|port| roots[port.piece] == part) {
            push(
                list,
                (Severity::Stop, "no-port", Known::Read),
                &built.names[part],
                [
                    "The interior has no port".to_owned(),
                    "A closed volume can be neither pumped nor vented, and bursts or collapses when it is heated."
                        .to_owned(),
                    "Add a vacuum or gas port, or open a joint.".to_owned(),
                ],
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Edit, End, FittingKind, Seat, sample};

    fn found(apparatus: &Apparatus) -> Vec<(Severity, &'static str, String)> {
        let built = build(apparatus).unwrap();
        geometric(apparatus, &built)
            .into_iter()
            .map(|f| (f.severity, f.rule, f.piece))
            .collect()
    }

    fn has(apparatus: &Apparatus, severity: Severity, rule: &str, piece: &str) -> bool {
        found(apparatus)
            .iter()
            .any(|(s, r, p)| (*s, *r, p.as_str()) == (severity, rule, piece))
    }

    fn changed(piece: &str, key: &str, value: f64) -> Apparatus {
        sample::apparatus()
            .apply(&Edit::Set {
                piece: piece.to_owned(),
                key: key.to_owned(),
                value,
            })
            .unwrap()
    }

    #[test]
    fn a_sound_design_has_no_stop() {
        assert_eq!(
            found(&sample::apparatus())
                .iter()
                .filter(|f| f.0 == Severity::Stop)
                .count(),
            0,
            "{:?}",
            found(&sample::apparatus())
        );
    }

    #[test]
    fn findings_stand_where_they_belong() {
        let faulty = changed("vial", "seal_mm", 21.0);
        let built = build(&faulty).unwrap();
        let list = geometric(&faulty, &built);
        let seal = list.iter().find(|f| f.rule == "seal-outside").unwrap();
        let first = built.names.iter().position(|name| name == "vial-1").unwrap();
        let mark = built.glass[first].marks.iter().find(|m| m.kind == MarkKind::Seal);
        assert_eq!(
            seal.at,
            mark.map(|mark| mark.at),
            "a row's finding stands at its first member"
        );
        let faulty = changed("header", "course.1.radius_mm", 20.0);
        let built = build(&faulty).unwrap();
        let list = geometric(&faulty, &built);
        let bend = list.iter().find(|f| f.rule == "bend-tight").unwrap();
        let line = &built.placed.lines[built.names.iter().position(|name| name == "header").unwrap()];
        assert_eq!(bend.at, Some(line.spot(line.length_mm / 2.0).at));
    }

    #[test]
    fn each_rule_fires_on_its_own_fault_only() {
        let sound = sample::apparatus();
        for (severity, rule, piece, faulty) in [
            (
                Severity::Stop,
                "neck-wider",
                "vial",
                changed("vial", "neck.od_mm", 11.0),
            ),
            (Severity::Stop, "seal-outside", "vial", changed("vial", "seal_mm", 21.0)),
            (
                Severity::Note,
                "neck-hard-to-seal",
                "vial",
                changed("vial", "neck.od_mm", 6.5),
            ),
            (
                Severity::Stop,
                "bend-tight",
                "header",
                changed("header", "course.1.radius_mm", 20.0),
            ),
            (
                Severity::Watch,
                "bend-tight",
                "header",
                changed("header", "course.1.radius_mm", 28.0),
            ),
            (
                Severity::Stop,
                "bend-tight",
                "bridge",
                changed("bridge", "bend_radius_mm", 14.0),
            ),
            (
                Severity::Note,
                "not-in-stock",
                "vial",
                changed("vial", "body.wall_mm", 1.1),
            ),
            (
                Severity::Stop,
                "target-too-large",
                "vial",
                changed("vial", "target_ml", 4.0),
            ),
            (
                Severity::Stop,
                "beyond-host",
                "vial-3",
                changed("vial", "pitch_mm", 200.0),
            ),
            (
                Severity::Stop,
                "corner-no-room",
                "bridge",
                changed("bridge", "bend_radius_mm", 45.0),
            ),
            (
                Severity::Stop,
                "leg-not-up",
                "bridge",
                changed("bridge", "seat.from.turn_deg", 0.0),
            ),
            (
                Severity::Stop,
                "arm-wider",
                "vial-1",
                changed("vial", "stem.od_mm", 17.0),
            ),
            (
                Severity::Note,
                "arm-nearly-as-wide",
                "vial-1",
                changed("vial", "stem.od_mm", 14.0),
            ),
            (
                Severity::Watch,
                "arms-close",
                "vial-2",
                changed("vial", "pitch_mm", 35.0),
            ),
            (
                Severity::Watch,
                "necks-close",
                "vial-2",
                changed("vial", "pitch_mm", 25.0),
            ),
            (
                Severity::Stop,
                "glass-overlaps",
                "vial-2",
                changed("vial", "pitch_mm", 11.0),
            ),
            (
                Severity::Stop,
                "not-connected",
                "vial-3",
                changed("vial", "pitch_mm", 200.0),
            ),
        ] {
            assert!(
                has(&faulty, severity, rule, piece),
                "{rule} {piece}: {:?}",
                found(&faulty)
            );
            assert!(!has(&sound, severity, rule, piece), "{rule} {piece}");
        }
    }

    #[test]
    fn a_closed_interior_has_no_port() {
        let mut apparatus = sample::apparatus();
        apparatus.set("bridge", "seat.from.at_mm", 0.0).unwrap();
        if let Form::Tube(tube) = &mut apparatus.pieces[0].form {
            tube.end = End::Joint {
                designation: "99/1".to_owned(),
                stoppered: true,
            };
        }
        assert!(!has(&apparatus, Severity::Stop, "no-port", "header"));
        assert!(has(&apparatus, Severity::Note, "joint-unknown", "header"));
        if let Form::Fitting(fitting) = &mut apparatus.pieces[3].form {
            fitting.kind = FittingKind::Cap;
        }
        assert!(has(&apparatus, Severity::Stop, "no-port", "header"));
    }

    #[test]
    fn a_course_that_meets_itself_is_found() {
        let mut apparatus = sample::apparatus();
        let tube = |angle_deg| {
            Form::Tube(crate::model::Tube {
                size: TubeSize::new(10.0, 1.0),
                course: vec![
                    Element::Straight { length_mm: 60.0 },
                    Element::Bend {
                        angle_deg,
                        radius_mm: 25.0,
                    },
                    Element::Straight { length_mm: 60.0 },
                ],
                start: End::Open,
                end: End::Round,
            })
        };
        let seat = Seat::Free {
            x_mm: 500.0,
            y_mm: 0.0,
            heading_deg: 0.0,
        };
        apparatus.pieces.push(Piece {
            name: "coil".to_owned(),
            seat,
            form: tube(180.0),
        });
        assert!(!has(&apparatus, Severity::Stop, "glass-overlaps", "coil"));
        apparatus.pieces[4].form = tube(270.0);
        assert!(has(&apparatus, Severity::Stop, "glass-overlaps", "coil"));
    }
}
