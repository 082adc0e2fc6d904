//! Glass that runs into glass though it is not joined.

use super::arms::od_at;
use super::{Found, Glass, Severity, overlap};
use crate::geom::build::Built;
use crate::geom::{Primitive, Shape};
use crate::model::Form;
use nalgebra::Vector2;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::ControlFlow;

/// Outlines that overlap less than this only touch, mm.
const TOUCH_MM: f64 = 0.05;
/// Pairs of overlapping pieces that are reported at most; more help nobody.
const MOST_PAIRS: usize = 100;

/// Glass that overlaps though it is not joined.
pub(super) fn overlaps(glass: &Glass, found: &mut Found) {
    let built = glass.built;
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
        found.add(
            Severity::Stop,
            &built.names[two],
            [
                what,
                format!("Their walls overlap by more than {TOUCH_MM} mm, yet they are not joined."),
                mend,
            ],
        );
        found.place(at);
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
