//! The way from one piece to another, bore by bore, and what it lets through.
//!
//! Pieces hang on each other at places along their centrelines. The way with the fewest pieces is taken; of each piece
//! counts what lies between the place where the way enters and the place where it leaves. A taper is cut into short
//! tubes. In the piece at either end counts its neck, when it is a bulb, and nothing else.

use crate::geom::build::Built;
use crate::model::{Ampoule, BulbShape, Element, Form};
use crate::physics::vacuum::{self, Gas};
use crate::units::si::{Length, Volume, VolumeRate, cubic_metres, millimetres, mm2};
use std::collections::{BTreeMap, VecDeque};
use std::f64::consts::PI;

/// A short tube of one bore.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bore {
    /// Piece that it belongs to.
    pub piece: usize,
    /// Length, mm.
    pub length_mm: f64,
    /// Bore, mm.
    pub d_mm: f64,
}

/// A way.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Way {
    /// The pieces in order, both ends included.
    pub pieces: Vec<usize>,
    /// The bores in order.
    pub bores: Vec<Bore>,
}

impl Way {
    /// Its length, mm.
    pub fn length_mm(&self) -> f64 {
        self.bores.iter().map(|bore| bore.length_mm).sum()
    }

    /// Its narrowest bore.
    pub fn narrowest(&self) -> Option<&Bore> {
        self.bores.iter().min_by(|a, b| a.d_mm.total_cmp(&b.d_mm))
    }

    /// Inside volume of its bores.
    pub fn volume(&self) -> Volume {
        let mm3: f64 = self
            .bores
            .iter()
            .map(|bore| PI / 4.0 * bore.d_mm * bore.d_mm * bore.length_mm)
            .sum();
        cubic_metres(mm3 * 1e-9)
    }
}

/// Steps into which a taper is cut.
const TAPER_STEPS: usize = 6;

/// The bores of a piece along its centreline: length and diameters at both ends, mm.
fn course(form: &Form, length_mm: f64) -> Vec<(f64, f64, f64)> {
    match form {
        Form::Tube(tube) => {
            let mut now = tube.size.bore_mm();
            let mut list = Vec::new();
            for element in &tube.course {
                match *element {
                    Element::Straight { length_mm } => list.push((length_mm, now, now)),
                    Element::Bend { angle_deg, radius_mm } => {
                        list.push((angle_deg.to_radians().abs() * radius_mm, now, now));
                    }
                    Element::Taper { length_mm, to } => {
                        list.push((length_mm, now, to.bore_mm()));
                        now = to.bore_mm();
                    }
                    Element::Neck {
                        size,
                        taper_mm,
                        length_mm,
                    } => {
                        let neck = size.bore_mm();
                        list.extend([(taper_mm, now, neck), (length_mm, neck, neck), (taper_mm, neck, now)]);
                    }
                    Element::Bulb { size, length_mm } => list.push((length_mm, size.bore_mm(), size.bore_mm())),
                }
            }
            list
        }
        Form::Bulb(bulb) => {
            let (neck, r) = (bulb.neck.bore_mm(), bulb.body.bore_mm() / 2.0);
            // Where the neck's bore meets the sphere, or the pear's cone begins.
            let reach = match bulb.shape {
                BulbShape::Pear => 2.0 * r,
                BulbShape::Sphere | BulbShape::Flask { .. } => (r * r - neck * neck / 4.0).max(0.0).sqrt(),
            };
            let first = (bulb.neck_mm - reach).max(0.0);
            let rest = (length_mm - first).max(0.0);
            vec![(first, neck, neck), (rest, 2.0 * r, 2.0 * r)]
        }
        Form::Bridge(bridge) => vec![(length_mm, bridge.size.bore_mm(), bridge.size.bore_mm())],
        Form::Ampoule(ampoule) => ampoule_course(ampoule),
        Form::Fitting(fitting) => vec![(length_mm, fitting.size.bore_mm(), fitting.size.bore_mm())],
    }
}

fn ampoule_course(ampoule: &Ampoule) -> Vec<(f64, f64, f64)> {
    let (stem, neck, body) = (ampoule.stem.bore_mm(), ampoule.neck.bore_mm(), ampoule.body.bore_mm());
    vec![
        (ampoule.stem_mm, stem, stem),
        (ampoule.funnel_mm, stem, neck),
        (ampoule.neck_mm, neck, neck),
        (ampoule.shoulder_mm, neck, body),
        (ampoule.body_mm, body, body),
    ]
}

/// Where the way begins or ends in a piece: at the inner end of its neck.
fn inner_end(form: &Form) -> Option<f64> {
    match form {
        Form::Bulb(_) => course(form, f64::INFINITY).first().map(|neck| neck.0),
        Form::Ampoule(ampoule) => Some(ampoule.stem_mm + ampoule.funnel_mm + ampoule.neck_mm + ampoule.shoulder_mm),
        Form::Fitting(fitting) => Some(fitting.length_mm),
        Form::Tube(_) | Form::Bridge(_) => None,
    }
}

/// A join of two pieces: the other piece, and the places along this one and the other, mm.
type Join = (usize, f64, f64);

fn joins(built: &Built) -> BTreeMap<usize, Vec<Join>> {
    let mut joins: BTreeMap<usize, Vec<Join>> = BTreeMap::new();
    for (guest, piece) in built.placed.pieces.iter().enumerate() {
        for (k, place) in piece.seat.places().enumerate() {
            let Some(host) = built.placed.index(&place.host) else {
                continue;
            };
            let at = if k == 0 {
                0.0
            } else {
                built.placed.lines[guest].length_mm
            };
            joins.entry(guest).or_default().push((host, at, place.at_mm));
            joins.entry(host).or_default().push((guest, place.at_mm, at));
        }
    }
    joins
}

impl Way {
    /// The way between two pieces; none when they are not joined.
    pub fn between(built: &Built, from: usize, to: usize) -> Option<Self> {
        Self::avoiding(built, from, to, |_| false)
    }

    /// The way between two pieces that does not pass through closed ones.
    pub fn avoiding(built: &Built, from: usize, to: usize, is_closed: impl Fn(usize) -> bool) -> Option<Self> {
        let joins = joins(built);
        let mut came: BTreeMap<usize, Option<(usize, Join)>> = BTreeMap::from([(from, None)]);
        let mut open = VecDeque::from([from]);
        while let Some(piece) = open.pop_front() {
            for &join in joins.get(&piece).into_iter().flatten() {
                if !came.contains_key(&join.0) && (join.0 == to || !is_closed(join.0)) {
                    came.insert(join.0, Some((piece, join)));
                    open.push_back(join.0);
                }
            }
        }
        let mut steps = Vec::new();
        let mut at = to;
        while let Some((before, join)) = *came.get(&at)? {
            steps.push((before, join));
            at = before;
        }
        steps.reverse();
        let mut way = Self::default();
        let mut entered = inner_end(&built.placed.pieces.get(from)?.form);
        for (piece, (_, leave, enter)) in &steps {
            way.pieces.push(*piece);
            way.add(built, *piece, entered.unwrap_or(*leave), *leave);
            entered = Some(*enter);
        }
        way.pieces.push(to);
        if let (Some(entered), Some(end)) = (entered, inner_end(&built.placed.pieces.get(to)?.form)) {
            way.add(built, to, entered, end);
        }
        Some(way)
    }

    /// Adds what lies between two places of a piece.
    fn add(&mut self, built: &Built, piece: usize, from: f64, to: f64) {
        let (low, high) = (from.min(to), from.max(to));
        let mut bores = Vec::new();
        let mut start = 0.0;
        for (length, d0, d1) in course(&built.placed.pieces[piece].form, built.placed.lines[piece].length_mm) {
            let steps = if d0 == d1 { 1 } else { TAPER_STEPS };
            for k in 0..steps {
                let (a, b) = (k as f64 / steps as f64, (k + 1) as f64 / steps as f64);
                let (first, last) = ((start + length * a).max(low), (start + length * b).min(high));
                if last > first {
                    bores.push(Bore {
                        piece,
                        length_mm: last - first,
                        d_mm: d0 + (d1 - d0) * f64::midpoint(a, b),
                    });
                }
            }
            start += length;
        }
        if from > to {
            bores.reverse();
        }
        self.bores.extend(bores);
    }
}

/// What a way lets through at a mean pressure: its tubes one after the other, and an opening at each place that is
/// narrower than what comes before it.
pub fn conductance(way: &Way, gas: &Gas) -> VolumeRate {
    let v = vacuum::mean_speed(gas.t, gas.molar);
    let tubes = way
        .bores
        .iter()
        .map(|bore| vacuum::tube(gas, mm(bore.d_mm), mm(bore.length_mm)));
    let openings = narrowings(&way.bores).into_iter().map(|d_mm| {
        let area = mm2(PI / 4.0 * d_mm * d_mm);
        // In viscous flow an opening resists little beside the tubes; the same blend as in a tube brings it in.
        let molecular = vacuum::aperture(1.0, area, v);
        molecular + vacuum::viscous_tube(mm(d_mm), mm(d_mm), gas.mean, gas.eta)
    });
    vacuum::series(tubes.chain(openings))
}

fn mm(mm: f64) -> Length {
    millimetres(mm)
}

/// Bores at which the way has narrowed, mm; the beginning counts as wide.
fn narrowings(bores: &[Bore]) -> Vec<f64> {
    let mut list = Vec::new();
    let mut before = f64::INFINITY;
    let mut narrowing = false;
    for bore in bores {
        if bore.d_mm > before {
            if narrowing {
                list.push(before);
            }
            narrowing = false;
        } else if bore.d_mm < before {
            narrowing = true;
        }
        before = bore.d_mm;
    }
    if narrowing {
        list.push(before);
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::sample;
    use crate::units::si::{celsius, grams_per_mole, in_litres_per_second, pascal_seconds, pascals};

    #[test]
    fn the_way_counts_what_lies_between_the_joins() {
        let built = build(&sample::apparatus()).unwrap();
        let of = |name: &str| built.placed.index(name).unwrap();
        let way = Way::between(&built, of("pot"), of("header")).unwrap();
        assert_eq!(way.pieces, [of("pot"), of("bridge"), of("header")]);
        // The pot's neck from where it meets the sphere (50 - sqrt(18.6^2 - 5^2) mm) up to 10 mm, then the bridge.
        let neck = 50.0 - (18.6f64 * 18.6 - 25.0).sqrt() - 10.0;
        assert!((way.bores[0].length_mm - neck).abs() < 1e-9, "{:?}", way.bores[0]);
        let bridge = built.placed.lines[of("bridge")].length_mm;
        assert!((way.length_mm() - neck - bridge).abs() < 1e-9);
        assert_eq!(way.narrowest().unwrap().d_mm, 8.0);
        let back = Way::between(&built, of("header"), of("pot")).unwrap();
        assert!((back.length_mm() - way.length_mm()).abs() < 1e-9);
        assert_eq!(
            Way::avoiding(&built, of("pot"), of("vial-1"), |piece| piece == of("header")),
            None
        );
    }

    /// formulas.md, 3.2 and 3.3: one tube of 10 x 500 mm lets 0.236084 L/s through with its opening (Dushman).
    #[test]
    fn one_tube_with_its_opening() {
        let way = Way {
            pieces: vec![0],
            bores: vec![Bore {
                piece: 0,
                length_mm: 500.0,
                d_mm: 10.0,
            }],
        };
        let gas = Gas {
            t: celsius(20.0),
            molar: grams_per_mole(28.9647),
            eta: pascal_seconds(1.82e-5),
            mean: pascals(1e-6),
        };
        assert!((in_litres_per_second(conductance(&way, &gas)) / 0.236084 - 1.0).abs() < 1e-4);
    }

    #[test]
    fn a_way_narrows_once_at_each_waist() {
        let bores: Vec<Bore> = [12.0, 8.0, 5.0, 8.0, 12.0, 6.0]
            .map(|d_mm| Bore {
                piece: 0,
                length_mm: 1.0,
                d_mm,
            })
            .to_vec();
        assert_eq!(narrowings(&bores), [5.0, 6.0]);
    }
}
