//! Pouring: what becomes of liquid while the glass turns slowly from one stance to another.
//!
//! **State.** Liquid is a list of bodies, each a volume at the deepest point of its hollow. One *move* takes it to another
//! stance: every body follows the floor from its point into the hollow there, and what that cannot hold runs on as in
//! [`Posture::settle`]. A pool that lies over several hollows is one body for each, cut at their common sills.
//!
//! **Exactness.** While the way of every stream stays the same and no brim of a running pool passes its least value, one
//! move gives the same as any number of smaller ones: a vessel has given up what its last brim does not hold. So the
//! path is halved wherever one move and two disagree by more than [`PART`] of the charge, or a body has left its hollow
//! in one leap, down to [`LEAST_DEG`]. The halving closes in on every event at which the way of the liquid changes: a
//! sill that vanishes, a pool that splits, a stream that finds another mouth. What is left of the error is of the order of
//! [`PART`] for each such event. Events that fall together within [`STEP_DEG`] and undo each other there are not seen.
//!
//! **Shares.** Where only the volumes count ([`Care::Shares`]), the same is done with longer moves and to
//! [`SHARES_PART`], and it is not noted what ran where.
//!
//! **Stances.** Moves end at multiples of their length, and a way is halved at the multiple of a power of two nearest to its
//! middle, so that the same stances come again and again; [`Postures`] keeps those.
//!
//! **Stances of transfers.** A transfer begins where the volume that a pool holds equals its brim: a root within the
//! move in which it was first seen, to a millionth of a degree. It ends where its volume no longer grows.

use std::sync::Arc;

use super::care::Care;
use super::liquid::Liquid;
use super::moving::Move;
use super::pools::RunsTo;
use super::posture::Posture;
use super::postures::Postures;
use super::stance::Stance;
use super::transfer::{Last, Open};

/// Longest move that is tried, degrees of tilt or roll.
const STEP_DEG: f64 = 2.0;
/// Shortest move, degrees: an event is known to this.
const LEAST_DEG: f64 = 1e-6;
/// Part of the charge by which one move and two may differ.
const PART: f64 = 1e-8;
/// The same three where only the shares count.
const SHARES_STEP_DEG: f64 = 8.0;
const SHARES_LEAST_DEG: f64 = 1e-3;
const SHARES_PART: f64 = 1e-4;
/// How many times the tolerance may leave a hollow in one leap: where it then lies is exact, whence it came is not noted.
pub(super) const STRAY_TIMES: f64 = 100.0;
/// Stances on the way are multiples of this, degrees.
const SNAP_DEG: f64 = 1.0 / (1 << 24) as f64;

/// Liquid that ran from one place to another in one go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// Piece (index) that holds the lowest point of the pool that gave it up.
    pub from: usize,
    /// Where it came to rest, past every pool at its brim.
    pub to: RunsTo,
    /// Volume, mm3.
    pub volume: f64,
    /// Where it began and ended, as a part of the way from the first stance (0) to the last (1).
    pub begins: f64,
    /// See `begins`.
    pub ends: f64,
}

/// What a turn did to the liquid.
#[derive(Clone, Debug, Default)]
pub struct Poured {
    /// The liquid along the way: the part of the way, ascending from 0 to 1, and the liquid there.
    pub states: Vec<(f64, Liquid)>,
    /// What ran where, in the order in which it began.
    pub transfers: Vec<Transfer>,
}

impl Poured {
    /// The liquid at the end of the way.
    pub fn last(&self) -> Liquid {
        self.states.last().map(|(_, liquid)| liquid.clone()).unwrap_or_default()
    }

    /// The way cut off at a part of it, where the liquid is known.
    pub fn until(&self, end: f64, liquid: Liquid) -> Self {
        let scaled = |part: f64| if end > 0.0 { (part / end).min(1.0) } else { 1.0 };
        let before = self.states.iter().filter(|(part, _)| *part < end);
        let states = before
            .map(|(part, liquid)| (scaled(*part), liquid.clone()))
            .chain([(1.0, liquid)]);
        let begun = self.transfers.iter().filter(|transfer| transfer.begins < end);
        let transfers = begun.map(|transfer| Transfer {
            begins: scaled(transfer.begins),
            ends: scaled(transfer.ends),
            ..*transfer
        });
        Self {
            states: states.collect(),
            transfers: transfers.collect(),
        }
    }

    /// The liquid at the last known place at or before a part of the way; [`Liquid::at`] takes it on from there.
    pub fn before(&self, part: f64) -> Liquid {
        let after = self.states.partition_point(|(at, _)| *at <= part);
        let state = after.checked_sub(1).and_then(|i| self.states.get(i));
        state.map(|(_, liquid)| liquid.clone()).unwrap_or_default()
    }
}

/// Turns the glass slowly from one stance to another, tilt and roll each in proportion to the way, with liquid that
/// rests at the first.
pub fn pour(postures: &Postures<'_>, liquid: Liquid, from: Stance, to: Stance) -> Poured {
    let care = postures.interior().care;
    let (step_deg, least_deg, part) = match care {
        Care::Full => (STEP_DEG, LEAST_DEG, PART),
        Care::Shares => (SHARES_STEP_DEG, SHARES_LEAST_DEG, SHARES_PART),
    };
    let mut walk = Walk {
        postures,
        from,
        to,
        care,
        span_deg: from.apart_deg(to),
        leading: leading(from, to),
        least_deg,
        tolerance: part * liquid.volume(),
        liquid: liquid.clone(),
        here: postures.at(from),
        open: Vec::new(),
        last: None,
        poured: Poured {
            states: vec![(0.0, liquid)],
            transfers: Vec::new(),
        },
    };
    if walk.liquid.is_empty() || walk.span_deg == 0.0 {
        let state = (1.0, walk.liquid);
        walk.poured.states.push(state);
        return walk.poured;
    }
    let mut a = 0.0;
    for b in cuts(from, to, step_deg) {
        let end = walk.posture(b);
        let whole = Move::new(&walk.liquid, &walk.here, &end);
        walk.advance(a, b, &end, whole);
        a = b;
    }
    walk.finish()
}

/// Where the moves of a way end, ascending to 1: at multiples of a step of what turns farther, tilt or roll.
fn cuts(from: Stance, to: Stance, step_deg: f64) -> impl Iterator<Item = f64> {
    let (a, by) = leading(from, to);
    let sign = by.signum();
    let first = (sign * a / step_deg).floor() + 1.0;
    let inner = (0..).map(move |i| (sign * (first + f64::from(i)) * step_deg - a) / by);
    inner.take_while(|part| *part < 1.0).chain([1.0])
}

/// What turns farther, tilt or roll: where it begins, and by how much it turns, degrees.
fn leading(from: Stance, to: Stance) -> (f64, f64) {
    let tilt = (from.tilt_deg, to.tilt_deg - from.tilt_deg);
    let roll = (from.roll_deg, to.roll_deg - from.roll_deg);
    if tilt.1.abs() >= roll.1.abs() { tilt } else { roll }
}

pub(super) struct Walk<'w, 'a> {
    postures: &'w Postures<'a>,
    from: Stance,
    to: Stance,
    care: Care,
    pub(super) span_deg: f64,
    /// What turns farther, tilt or roll: where it begins, and by how much it turns, degrees.
    leading: (f64, f64),
    least_deg: f64,
    pub(super) tolerance: f64,
    pub(super) liquid: Liquid,
    /// The posture at which the liquid rests.
    pub(super) here: Arc<Posture<'a>>,
    pub(super) open: Vec<Open>,
    pub(super) last: Option<Last<'a>>,
    pub(super) poured: Poured,
}

impl<'a> Walk<'_, 'a> {
    pub(super) fn posture(&self, part: f64) -> Arc<Posture<'a>> {
        let stance = self.from.toward(self.to, part);
        let is_on_way = part > 0.0 && part < 1.0;
        let snapped = |turn: f64| {
            if is_on_way {
                (turn / SNAP_DEG).round() * SNAP_DEG
            } else {
                turn
            }
        };
        self.postures
            .at(Stance::new(snapped(stance.tilt_deg), snapped(stance.roll_deg)))
    }

    /// Goes from `a` to `b`, whose posture is `end`; `whole` is the one move there.
    fn advance(&mut self, a: f64, b: f64, end: &Arc<Posture<'a>>, whole: Move) {
        if whole.astray() > self.tolerance {
            self.pass_event(a, b, end, whole);
            return;
        }
        if self.care == Care::Shares && whole.is_quiet(&self.liquid, &self.here, end) {
            self.accept(a, b, end, &whole);
            return;
        }
        let middle = self.middle(a, b);
        let mid = self.posture(middle);
        let first = Move::new(&self.liquid, &self.here, &mid);
        let second = Move::new(&self.liquid.after(&mid, &first.spread), &mid, end);
        let agree = whole.difference(&first, &second, end) <= self.tolerance
            && first.astray().max(second.astray()) <= self.tolerance
            && Move::dip(&self.liquid, &self.here, (&first, &mid), (&whole, end)) <= self.tolerance;
        if agree || self.is_least(a, b) {
            self.accept(a, middle, &mid, &first);
            self.accept(middle, b, end, &second);
            return;
        }
        self.advance(a, middle, &mid, first);
        let second = Move::new(&self.liquid, &self.here, end);
        self.advance(middle, b, end, second);
    }

    /// Goes from `a` to `b` past an event that sends liquid another way: up to it, over it in the least move, and on.
    fn pass_event(&mut self, a: f64, b: f64, end: &Arc<Posture<'a>>, whole: Move) {
        let (mut lo, mut hi) = (a, b);
        let (mut before, mut after) = (None, None);
        while !self.is_least(lo, hi) {
            let middle = self.middle(lo, hi);
            let posture = self.posture(middle);
            let done = Move::new(&self.liquid, &self.here, &posture);
            if done.astray() > self.tolerance {
                (hi, after) = (middle, Some((posture, done)));
            } else {
                (lo, before) = (middle, Some((posture, done)));
            }
        }
        let is_met = before.is_some();
        if let Some((posture, done)) = before {
            self.advance(a, lo, &posture, done);
        }
        let Some((posture, done)) = after else {
            let whole = if is_met {
                Move::new(&self.liquid, &self.here, end)
            } else {
                whole
            };
            self.accept(lo, b, end, &whole);
            return;
        };
        let done = if is_met {
            Move::new(&self.liquid, &self.here, &posture)
        } else {
            done
        };
        self.accept(lo, hi, &posture, &done);
        let rest = Move::new(&self.liquid, &self.here, end);
        self.advance(hi, b, end, rest);
    }

    /// The stance between two of the way that is a multiple of a power of two and nearest to the middle: no part is
    /// longer than three quarters of the whole.
    fn middle(&self, a: f64, b: f64) -> f64 {
        let (from, by) = self.leading;
        let step = (0.5 * by.abs() * (b - a)).log2().floor().exp2();
        let middle = from + by * 0.5 * (a + b);
        ((middle / step).round() * step - from) / by
    }

    fn is_least(&self, a: f64, b: f64) -> bool {
        (b - a) * self.span_deg <= self.least_deg
    }

    /// Takes a move as done.
    fn accept(&mut self, a: f64, b: f64, posture: &Arc<Posture<'a>>, done: &Move) {
        match self.care {
            Care::Full => self.note(a, b, posture, done),
            Care::Shares => {
                self.go_on(b, posture, done);
            }
        }
    }

    /// Makes a move, and returns the posture and the liquid as they were before.
    pub(super) fn go_on(&mut self, b: f64, posture: &Arc<Posture<'a>>, done: &Move) -> (Arc<Posture<'a>>, Liquid) {
        let after = self.liquid.after(posture, &done.spread);
        self.poured.states.push((b, after.clone()));
        let here = std::mem::replace(&mut self.here, Arc::clone(posture));
        (here, std::mem::replace(&mut self.liquid, after))
    }

    fn finish(mut self) -> Poured {
        let key = |transfer: &Transfer| transfer.begins;
        self.poured.transfers.sort_by(|x, y| key(x).total_cmp(&key(y)));
        self.poured
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector2;

    use super::*;
    use crate::geom::{Interior, Port, Primitive, Question, Shape, tilts};

    fn tube(from: (f64, f64), to: (f64, f64), r: f64) -> Shape {
        Shape::Frustum {
            from: Vector2::new(from.0, from.1),
            to: Vector2::new(to.0, to.1),
            r_from: r,
            r_to: r,
        }
    }

    /// A vessel open at its top, radius 10 mm, 60 mm deep.
    fn cup() -> Interior {
        let primitive = Primitive {
            piece: 0,
            shape: tube((0.0, 0.0), (0.0, 60.0), 10.0),
        };
        let port = Port {
            piece: 0,
            at: Vector2::new(0.0, 60.0),
            heading: std::f64::consts::FRAC_PI_2,
            r: 10.0,
        };
        Interior::new(vec!["cup".into()], vec![primitive], vec![port]).unwrap()
    }

    /// Three vials below a header that slopes down to the right, fed by a receiver on the left.
    fn comb() -> Interior {
        let mut pieces = vec!["header".to_owned(), "receiver".to_owned()];
        let mut shapes = vec![
            (0, tube((0.0, 0.0), (150.0, 0.0), 7.0)),
            (1, tube((0.0, 0.0), (-60.0, 0.0), 7.0)),
        ];
        for (k, x) in [30.0, 70.0, 110.0].into_iter().enumerate() {
            pieces.push(format!("vial-{}", k + 1));
            shapes.push((k + 2, tube((x, 0.0), (x, -40.0), 4.0)));
        }
        let primitives = shapes.into_iter().map(|(piece, shape)| Primitive { piece, shape });
        Interior::new(pieces, primitives.collect(), Vec::new()).unwrap()
    }

    #[test]
    fn a_cup_keeps_what_its_lip_holds() {
        // formulas.md 1.4: pi R^2 (L - R tan phi) while the level meets the wall, 15,708.0 mm3 at 45 degrees; else an ungula,
        // 4316.25 mm3 at 80 degrees.
        let cup = cup();
        let full = cup.at(Stance::default()).give(&[(0, 18_000.0)]);
        for (tilt, held) in [(45.0, 15_707.963), (80.0, 4_316.25)] {
            let to = Stance::new(tilt, 0.0);
            let poured = pour(&Postures::new(&cup), full.clone(), Stance::default(), to);
            let left = poured.last().volume();
            assert!((left - held).abs() < 0.01, "{left}");
            let [transfer] = poured.transfers[..] else {
                panic!("{:?}", poured.transfers)
            };
            assert_eq!((transfer.from, transfer.to), (0, RunsTo::Port(0)));
            assert!((transfer.volume - (18_000.0 - left)).abs() < 1e-6);
            // Begins where 18,000 mm3 stands at the lip: tan phi = (L - V / (pi R^2)) / R.
            let begins = ((60.0 - 18_000.0 / (std::f64::consts::PI * 100.0)) / 10.0f64)
                .atan()
                .to_degrees();
            assert!(
                (transfer.begins * tilt - begins).abs() < 1e-5,
                "{}",
                transfer.begins * tilt
            );
            assert_eq!(transfer.ends, 1.0);
        }
    }

    #[test]
    fn vials_fill_in_turn_and_each_passes_on_from_its_brim() {
        let comb = comb();
        let from = Stance::new(30.0, 0.0);
        let to = Stance::new(-6.0, 0.0);
        let charge = 4_500.0;
        let poured = pour(&Postures::new(&comb), comb.at(from).give(&[(1, charge)]), from, to);
        let mut filled: Vec<_> = poured.transfers.iter().map(|t| t.to).collect();
        let mut seen = Vec::new();
        filled.retain(|to| {
            !seen.contains(to) && {
                seen.push(*to);
                true
            }
        });
        assert_eq!(filled, [RunsTo::Piece(2), RunsTo::Piece(3), RunsTo::Piece(4)]);
        // The first begins where the hollow of the receiver holds the charge no longer.
        let ask = Question {
            volume: Some(charge),
            target: None,
            heel: None,
        };
        let spill = tilts(&comb, 1, ask, from).spill.clockwise.unwrap();
        let begins = 30.0 - 36.0 * poured.transfers[0].begins;
        assert!((begins - spill).abs() < 1e-4, "{begins} {spill}");
        // At the end each vial but the last stands at its brim, as a vial that was overfilled at that stance does.
        let posture = comb.at(to);
        let settled = poured.last().at(&posture);
        let brims = posture.basins();
        for piece in [2, 3] {
            let held = settled.pools.iter().find(|p| p.piece == piece).unwrap().volume;
            let brim = brims.iter().find(|p| p.piece == piece).unwrap().brim.unwrap();
            assert!((held - brim).abs() < 1e-6 * charge, "{held} {brim}");
        }
        let all: f64 = settled.pools.iter().map(|p| p.volume).sum();
        assert!((all - charge).abs() < 1e-12 * charge);
    }

    #[test]
    fn what_ran_from_a_hollow_that_has_vanished_is_told() {
        // A receiver to the left of a header with a vial below, turned by 0.7 degrees so that the vial lies level within a
        // long move. It has run out then and is no hollow any more, and all glass is one closed hollow, of which nothing
        // can run over: only where the liquid lay tells that it ran.
        let turn = 0.7f64;
        let at = |x: f64, y: f64| {
            let (sin, cos) = turn.to_radians().sin_cos();
            (x * cos - y * sin, x * sin + y * cos)
        };
        let shapes = [
            (0, tube(at(0.0, 0.0), at(150.0, 0.0), 7.0)),
            (1, tube(at(0.0, 0.0), at(-60.0, 0.0), 7.0)),
            (2, tube(at(110.0, 0.0), at(110.0, -40.0), 4.0)),
        ];
        let pieces = ["header", "receiver", "vial"].map(str::to_owned).to_vec();
        let primitives = shapes.into_iter().map(|(piece, shape)| Primitive { piece, shape });
        let glass = Interior::new(pieces, primitives.collect(), Vec::new()).unwrap();
        // formulas.md 1.4: what stands at the lip of a vial, here of 33 mm below the header's wall, at 88.5 degrees.
        let (begins, r, length) = (88.5f64, 4.0f64, 33.0);
        let b = length / begins.to_radians().tan();
        let a = (1.0 - b / r).acos();
        let volume = length * r.powi(3) / b * (a.sin() - a.sin().powi(3) / 3.0 - a * a.cos());
        let (from, to) = (Stance::new(30.0, 0.0), Stance::new(95.0, 0.0));
        let given = glass.at(from).give(&[(1, 1_000.0), (2, volume)]);
        let poured = pour(&Postures::new(&glass), given, from, to);
        let first = poured.transfers[0];
        assert_eq!((first.from, first.to), (2, RunsTo::Piece(1)));
        let found = 30.0 + 65.0 * first.begins + turn;
        assert!((found - begins).abs() < 1e-4, "{found}");
        assert!(
            poured
                .transfers
                .iter()
                .all(|t| (t.from, t.to) == (first.from, first.to)),
            "{:?}",
            poured.transfers
        );
        let ran: f64 = poured.transfers.iter().map(|t| t.volume).sum();
        assert!((ran - volume).abs() < 1e-6 * volume, "{ran} {volume}");
    }

    #[test]
    fn liquid_that_is_given_later_joins_what_is_there() {
        let cup = cup();
        let upright = cup.at(Stance::default());
        let liquid = upright.give(&[(0, 1_000.0)]).and_give(&upright, &[(0, 500.0)]);
        assert_eq!(liquid.volume(), 1_500.0);
        assert_eq!(liquid.at(&upright).pools.len(), 1);
        let full = upright.give(&[(0, 20_000.0)]);
        let lost: Vec<_> = full.lost().collect();
        let held = 100.0 * 60.0 * std::f64::consts::PI;
        assert!((lost[0].1 - (20_000.0 - held)).abs() < 1e-6, "{lost:?}");
    }

    #[test]
    fn nothing_is_poured_of_nothing() {
        let poured = pour(
            &Postures::new(&cup()),
            Liquid::default(),
            Stance::default(),
            Stance::new(170.0, 20.0),
        );
        assert!(poured.transfers.is_empty() && poured.last().volume() == 0.0);
        let still = pour(
            &Postures::new(&cup()),
            Liquid::default(),
            Stance::default(),
            Stance::default(),
        );
        assert_eq!(still.states.len(), 2);
    }
}
