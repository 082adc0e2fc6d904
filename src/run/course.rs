//! A run under way: the glass as it stands, with the liquid in it and the bores that are shut.
//!
//! **Plugs.** Where gas fills the glass, a dead end behind a bore so narrow that liquid and gas can't pass each other
//! in it takes nothing: such a neck is shut from the start, and its vessel is *locked* while liquid stands over its mouth.
//! The gas behind it is compressed by the head of that liquid; what is pressed in so is told, but stays counted outside.
//! Where on a way a vessel is locked is found by halving between the places where the liquid is known, to
//! [`MOMENT_PART`]; a lock that comes and goes between two of them is not seen.
//!
//! **Entry.** Where the liquid does not wet the glass, a narrow neck is shut too, until the liquid stands over its
//! mouth by the entry head; from there on it is open. The stance of that is found by halving, to [`MOMENT_PART`] of the way.
//!
//! **Seals.** A vessel that is sealed off has its neck shut for good. What it holds stays in it.

use std::sync::Arc;

use nalgebra::Vector3;

use super::Passage;
use super::given::give;
use super::plan::{Hindrance, Plan};
use crate::geom::{Bar, Interior, Liquid, Neck, Posture, Postures, Poured, Settled, Shut, Stance, pour};

/// The moment at which a neck opens, or locks, is known to this part of a way.
const MOMENT_PART: f64 = 1e-6;
/// The mouth of a neck is looked at this far outside the place where it is shut, mm.
const BESIDE_MM: f64 = 1e-2;

/// A run under way.
#[derive(Clone, Debug)]
pub struct Course<'a> {
    whole: Arc<Postures<'a>>,
    /// The glass with what is shut; none where nothing is.
    shut: Option<Arc<Shut>>,
    liquid: Liquid,
    here: Stance,
    hindrance: Hindrance,
    /// Narrow necks and whether they still are shut.
    necks: Vec<(Neck, bool)>,
    sealed: Vec<(usize, Bar)>,
}

/// A part of the way between two stops, in one glass.
#[derive(Clone, Debug)]
pub struct Stretch {
    /// Where it begins and ends, as parts of the way.
    pub parts: (f64, f64),
    /// The glass, where bores are shut in it.
    shut: Option<Arc<Shut>>,
    /// What the turn did to the liquid; its parts are those of the stretch.
    pub poured: Poured,
    /// Vessels that were locked on it, with the greatest head, and from which to which part of the stretch.
    pub(super) locks: Vec<(Locked, (f64, f64))>,
}

impl Stretch {
    /// The glass.
    pub fn glass<'s>(&'s self, whole: &'s Interior) -> &'s Interior {
        self.shut.as_ref().map_or(whole, |shut| &shut.interior)
    }

    /// The liquid at rest at a part of the way within the stretch, where the stance is known.
    pub fn settled(&self, whole: &Interior, stance: Stance, part: f64) -> Settled {
        let (from, to) = self.parts;
        let own = if to > from { (part - from) / (to - from) } else { 1.0 };
        self.poured
            .before(own.clamp(0.0, 1.0))
            .at(&self.glass(whole).at(stance))
    }

    /// The part of the way at a part of the stretch.
    pub(super) fn of_way(&self, part: f64) -> f64 {
        let (from, to) = self.parts;
        if part >= 1.0 { to } else { from + (to - from) * part }
    }
}

/// A vessel that takes nothing, though liquid stands over the mouth of its neck.
#[derive(Clone, Debug, PartialEq)]
pub struct Locked {
    /// The neck.
    pub neck: Neck,
    /// Head of liquid over its mouth, mm.
    pub head_mm: f64,
    /// Head at which the liquid, which does not wet the bore, enters it, mm; none where gas bars it whatever the head.
    pub entry_mm: Option<f64>,
    /// What the head presses into it against the gas, mm3; nothing is known where there is no gas but vapour.
    pub pressed_in: f64,
}

impl<'a> Course<'a> {
    /// The glass at the first stop, with what is given there; and what ran on at once.
    pub fn start(whole: &Arc<Postures<'a>>, plan: &Plan) -> (Self, Vec<Passage>) {
        let here = plan.halts.first().map_or_else(Stance::default, |halt| halt.stance);
        let hindrance = plan.hindrance;
        let necks = whole
            .interior()
            .necks(hindrance.narrow_mm())
            .into_iter()
            .map(|neck| (neck, true))
            .collect();
        let mut course = Self {
            whole: Arc::clone(whole),
            shut: None,
            liquid: Liquid::default(),
            here,
            hindrance,
            necks,
            sealed: Vec::new(),
        };
        course.reshut();
        let (liquid, run_on) = give(&course.at(here), &plan.given);
        course.liquid = liquid;
        course.enter_at_once();
        (course, run_on)
    }

    /// Opens the necks over which the liquid that was given stands high enough.
    fn enter_at_once(&mut self) {
        for _ in 0..self.necks.len() {
            let enters = |locked: &Locked| locked.entry_mm.is_some_and(|entry_mm| locked.head_mm >= entry_mm);
            let Some(entered) = self.locked().into_iter().find(enters) else {
                return;
            };
            for (neck, is_shut) in &mut self.necks {
                *is_shut &= *neck != entered.neck;
            }
            self.reshut();
        }
    }

    /// The glass as it stands.
    pub fn glass(&self) -> &Interior {
        self.shut.as_ref().map_or(self.whole.interior(), |shut| &shut.interior)
    }

    /// The glass as it stands, held at a stance.
    fn at(&self, stance: Stance) -> Arc<Posture<'_>> {
        match &self.shut {
            Some(shut) => Arc::new(shut.interior.at(stance)),
            None => self.whole.at(stance),
        }
    }

    /// Turns the glass as it stands.
    fn pour(&self, to: Stance) -> Poured {
        let liquid = self.liquid.clone();
        match &self.shut {
            Some(shut) => pour(&Postures::new(&shut.interior), liquid, self.here, to),
            None => pour(&self.whole, liquid, self.here, to),
        }
    }

    /// The stance.
    pub fn stance(&self) -> Stance {
        self.here
    }

    /// The liquid in the glass as it stands.
    pub fn liquid(&self) -> &Liquid {
        &self.liquid
    }

    /// The liquid at rest.
    pub fn settled(&self) -> Settled {
        self.liquid.at(&self.at(self.here))
    }

    /// Turns the glass to a stance, and opens the necks that the liquid enters on the way.
    pub fn turn_to(&mut self, to: Stance) -> Vec<Stretch> {
        let from = self.here;
        let at = |part: f64| from.toward(to, part);
        let mut stretches: Vec<Stretch> = Vec::new();
        let mut begin = 0.0;
        // Each round opens a neck.
        for _ in 0..=self.necks.len() {
            let poured = self.pour(to);
            let whole_part = |part: f64| begin + (1.0 - begin) * part;
            let Some((part, opened)) = self.first_entry(&poured, |part| at(whole_part(part))) else {
                stretches.push(self.stretch((begin, 1.0), poured, to));
                self.liquid = stretches
                    .last()
                    .map(|stretch| stretch.poured.last())
                    .unwrap_or_default();
                self.here = to;
                break;
            };
            let end = whole_part(part);
            let (until, liquid) = {
                let posture = self.at(at(end));
                let liquid = poured.before(part).resting(&posture);
                (poured.until(part, liquid.clone()), liquid)
            };
            let stretch = self.stretch((begin, end), until, at(end));
            stretches.push(stretch);
            (self.liquid, self.here) = (liquid, at(end));
            self.necks[opened].1 = false;
            self.reshut();
            begin = end;
        }
        stretches
    }

    /// Seals a piece off at a place. What stood in the way stays with the side of its deepest point.
    pub fn seal(&mut self, piece: usize, bar: Bar) {
        self.sealed.push((piece, bar));
        self.reshut();
    }

    /// Head of liquid over the seal-off place of a piece, mm; none where none stands there.
    pub fn head_at(&self, bar: &Bar) -> Option<f64> {
        let posture = self.at(self.here);
        let place = Vector3::new(bar.at.x, bar.at.y, 0.0);
        head(&self.liquid.at(&posture), &posture, &place)
    }

    /// The vessels that are locked here.
    pub fn locked(&self) -> Vec<Locked> {
        if self.shut_necks().next().is_none() {
            return Vec::new();
        }
        let posture = self.at(self.here);
        let settled = self.liquid.at(&posture);
        let head = |neck: &Neck| head(&settled, &posture, &mouth(neck));
        self.shut_necks()
            .filter_map(|neck| Some(self.locked_by(neck, head(neck)?)))
            .collect()
    }

    fn shut_necks(&self) -> impl Iterator<Item = &Neck> {
        self.necks.iter().filter(|(_, is_shut)| *is_shut).map(|(neck, _)| neck)
    }

    fn locked_by(&self, neck: &Neck, head_mm: f64) -> Locked {
        Locked {
            head_mm,
            entry_mm: self.hindrance.entry_head_mm(neck.least_r),
            pressed_in: self.hindrance.pressed_in(neck.volume, head_mm),
            neck: neck.clone(),
        }
    }

    /// A turn from where the glass is to a stance, which has been poured.
    fn stretch(&self, parts: (f64, f64), poured: Poured, to: Stance) -> Stretch {
        Stretch {
            parts,
            shut: self.shut.clone(),
            locks: self.locks(&poured, to),
            poured,
        }
    }

    /// The vessels that are locked on a turn to a stance: with the greatest head at places where the liquid is known,
    /// and from which to which part of the turn.
    fn locks(&self, poured: &Poured, to: Stance) -> Vec<(Locked, (f64, f64))> {
        let necks: Vec<&Neck> = self.shut_necks().collect();
        if necks.is_empty() {
            return Vec::new();
        }
        let heads = |part: f64, of: &[&Neck]| -> Vec<Option<f64>> {
            let posture = self.at(self.here.toward(to, part));
            let settled = poured.before(part).at(&posture);
            of.iter().map(|neck| head(&settled, &posture, &mouth(neck))).collect()
        };
        let parts: Vec<f64> = poured.states.iter().map(|(part, _)| *part).collect();
        let known: Vec<Vec<Option<f64>>> = parts.iter().map(|part| heads(*part, &necks)).collect();
        let mut locks: Vec<(Locked, (f64, f64))> = Vec::new();
        for (i, neck) in necks.into_iter().enumerate() {
            let is_held = |part: f64| matches!(heads(part, &[neck])[..], [Some(_)]);
            let mut before: Option<f64> = None;
            for (k, part) in parts.iter().enumerate() {
                let head_mm = known[k][i];
                match (before, head_mm) {
                    (None, Some(head_mm)) => {
                        let begins = k.checked_sub(1).map_or(*part, |k| edge(parts[k], *part, is_held));
                        locks.push((self.locked_by(neck, head_mm), (begins, *part)));
                    }
                    (Some(_), now) => {
                        if let Some((locked, (_, ends))) = locks.last_mut() {
                            *ends = match now {
                                Some(_) => *part,
                                None => edge(*part, parts[k - 1], is_held),
                            };
                            if let Some(head_mm) = now.filter(|head_mm| *head_mm > locked.head_mm) {
                                *locked = self.locked_by(neck, head_mm);
                            }
                        }
                    }
                    (None, None) => {}
                }
                before = head_mm;
            }
        }
        locks
    }

    /// Shuts what is to be shut now, and moves the liquid over.
    fn reshut(&mut self) {
        let narrow = self
            .necks
            .iter()
            .filter(|(_, is_shut)| *is_shut)
            .map(|(neck, _)| neck.bar);
        let bars: Vec<Bar> = narrow.chain(self.sealed.iter().map(|(_, bar)| *bar)).collect();
        let liquid = match &self.shut {
            Some(shut) => shut.leave(&self.liquid),
            None => self.liquid.clone(),
        };
        // Too many parts is all that can be wrong, and then nothing can be shut.
        let shut = (!bars.is_empty())
            .then(|| self.whole.interior().shut(&bars).ok())
            .flatten();
        self.shut = shut.map(Arc::new);
        let liquid = match &self.shut {
            Some(shut) => shut.enter(self.whole.interior(), &liquid),
            None => liquid,
        };
        self.liquid = liquid.resting(&self.at(self.here));
    }

    /// Where on a way the liquid first stands high enough over a shut neck to enter it, and which.
    fn first_entry(&self, poured: &Poured, at: impl Fn(f64) -> Stance) -> Option<(f64, usize)> {
        let mut first: Option<(f64, usize)> = None;
        for (i, (neck, _)) in self.necks.iter().enumerate().filter(|(_, (_, is_shut))| *is_shut) {
            let Some(entry_mm) = self.hindrance.entry_head_mm(neck.least_r) else {
                continue;
            };
            let place = mouth(neck);
            let enters = |part: f64| {
                let posture = self.at(at(part));
                let settled = poured.before(part).at(&posture);
                head(&settled, &posture, &place).is_some_and(|head_mm| head_mm >= entry_mm)
            };
            let parts: Vec<f64> = poured.states.iter().map(|(part, _)| *part).collect();
            let Some(k) = parts.iter().position(|part| enters(*part)) else {
                continue;
            };
            let entered = edge(parts[k.saturating_sub(1)], parts[k], enters);
            if first.is_none_or(|(part, _)| entered < part) {
                first = Some((entered, i));
            }
        }
        first
    }
}

/// The part of a way nearest to `without` at which something holds that holds at `with`, by halving.
fn edge(mut without: f64, mut with: f64, holds: impl Fn(f64) -> bool) -> f64 {
    while (with - without).abs() > MOMENT_PART {
        let middle = 0.5 * (without + with);
        if holds(middle) {
            with = middle;
        } else {
            without = middle;
        }
    }
    with
}

/// The middle of a neck's bore, just outside the place where it is shut.
fn mouth(neck: &Neck) -> Vector3<f64> {
    let at = neck.bar.at - neck.inward * BESIDE_MM;
    Vector3::new(at.x, at.y, 0.0)
}

/// Head of liquid over a place, mm; none where the place is dry.
fn head(settled: &Settled, posture: &Posture<'_>, place: &Vector3<f64>) -> Option<f64> {
    let height = posture.height_of(place);
    let pools = settled.pools.iter().filter(|pool| pool.level > height);
    let over = pools.filter(|pool| pool.wetted.iter().any(|shape| shape.contains(place)));
    over.map(|pool| pool.level - height).reduce(f64::max)
}
