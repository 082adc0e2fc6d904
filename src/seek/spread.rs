//! How sure an outcome is: the same run in many glasses, each as a hand might make it.
//!
//! **Method.** Every dimension of every piece is drawn anew from its tolerance (bores and walls of stock from the catalogue,
//! the rest from what hands hold), the apparatus is built and the run carried out with the level a little off. Dimensions
//! are drawn independently, from a normal distribution whose two-sigma range is the tolerance, cut off at three sigma.
//! Each sample has its own stream of the generator (ChaCha8), so that a seed gives the same answer on any machine and any
//! number of processors.
//!
//! **Given deviations.** The same dimensions can be made to deviate by given amounts ([`fills`]), one standard deviation
//! being half the tolerance: so derivatives of a run are taken, and what was measured is held against what hands do.
//!
//! **What matters.** A dimension's weight is the part of the variance of the vessels' fills that goes with it: the
//! squared correlation, summed over the vessels by their variance.

use std::sync::atomic::{AtomicUsize, Ordering};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use super::{Shares, Watch, targets};
use crate::data::stock;
use crate::geom::build::build;
use crate::geom::{Care, Interior, Stance};
use crate::model::{Ampoule, Apparatus, Bottom, Bulb, Element, Form, Piece, Route, Row, Seat, TubeSize};
use crate::run::Outcome;
use crate::stages::Pouring;

/// What hands and stock hold, plus or minus. The first values are common practice at the bench.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerances {
    /// Lengths, mm.
    pub length_mm: f64,
    /// Places along a host, mm.
    pub place_mm: f64,
    /// Angles of bends and branches, degrees.
    pub angle_deg: f64,
    /// Bore of a drawn neck, as a part of it.
    pub neck_part: f64,
    /// Outside diameter and wall of tube that is not in the catalogue, mm.
    pub tube_mm: f64,
    /// Tilt and roll of the whole apparatus at every stop, degrees.
    pub level_deg: f64,
    /// Volume of the charge, as a part of it.
    pub charge_part: f64,
}

impl Default for Tolerances {
    /// Common practice at the bench: lengths and places 1 mm, angles 2 degrees, the bore of a constriction 20 %; a level of
    /// 0.25 degree and 1 % of the charge.
    fn default() -> Self {
        Self {
            length_mm: 1.0,
            place_mm: 1.0,
            angle_deg: 2.0,
            neck_part: 0.2,
            tube_mm: 0.2,
            level_deg: 0.25,
            charge_part: 0.01,
        }
    }
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Question {
    /// Glasses to be tried.
    pub samples: usize,
    /// Seed of the generator.
    pub seed: u64,
    /// What hands and stock hold.
    pub tolerances: Tolerances,
}

/// How a vessel's fill spreads. Volumes are mm3.
#[derive(Clone, Debug, PartialEq)]
pub struct Vessel {
    /// Index of the piece.
    pub piece: usize,
    /// Volume wanted.
    pub target: f64,
    /// What it holds in each glass, ascending.
    pub fills: Vec<f64>,
    /// Mean.
    pub mean: f64,
    /// Standard deviation.
    pub deviation: f64,
    /// Part of the glasses in which it holds less than 95 % of its target.
    pub under: f64,
    /// Part of the glasses in which it stands at its brim in the last stance.
    pub brimful: f64,
}

impl Vessel {
    /// The fill below which a part of the glasses stays.
    pub fn quantile(&self, part: f64) -> f64 {
        let last = self.fills.len().saturating_sub(1) as f64;
        let at = (part.clamp(0.0, 1.0) * last).round() as usize;
        self.fills.get(at).copied().unwrap_or_default()
    }
}

/// Name of the level's tilt among the dimensions.
pub const LEVEL_TILT: &str = "whole apparatus, tilt";
/// Name of the level's roll among the dimensions.
pub const LEVEL_ROLL: &str = "whole apparatus, roll";
/// Name of the charge's volume among the dimensions.
pub const CHARGE: &str = "charge, volume";

/// Part of the target below which a vessel counts as under it.
pub const UNDER_PART: f64 = 0.95;

/// A dimension and how much of the spread goes with it.
#[derive(Clone, Debug, PartialEq)]
pub struct Weight {
    /// Whose it is, and which: `header, bore`.
    pub dimension: String,
    /// Part of the variance of all fills, 0 to 1.
    pub part: f64,
}

/// How sure the outcome of a run is.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    /// The vessels, in the order of the pieces.
    pub vessels: Vec<Vessel>,
    /// Dimensions by weight, the weightiest first.
    pub weights: Vec<Weight>,
    /// Glasses in which something was lost by a port, as a part of all.
    pub losing: f64,
    /// Glasses that could be built and poured.
    pub samples: usize,
    /// Glasses that could not be built, as their dimensions no longer go together.
    pub unbuildable: usize,
}

/// What a deviation is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountedIn {
    /// Millimetres.
    Mm,
    /// Degrees.
    Deg,
    /// Parts of what is meant.
    Part,
}

impl CountedIn {
    /// `mm`, `deg` or `part`.
    pub fn symbol(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Deg => "deg",
            Self::Part => "part",
        }
    }
}

/// A dimension that may deviate from what is meant.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// Whose it is, and which: `header, place`.
    pub name: String,
    /// What its deviation is counted in.
    pub unit: CountedIn,
    /// One standard deviation, half the tolerance.
    pub sigma: f64,
}

/// Every dimension of an apparatus that may deviate.
pub fn dimensions(apparatus: &Apparatus, tolerances: Tolerances) -> Vec<Dimension> {
    Draw::of(apparatus, tolerances, Hand::Given(&[])).dimensions
}

/// What a run leaves in the vessels when dimensions (indices into [`dimensions`]) deviate by so many standard deviations.
/// None when the glass can't be built like that.
pub fn fills(apparatus: &Apparatus, tolerances: Tolerances, deviations: &[(usize, f64)]) -> Option<Shares> {
    carry_out(&Draw::of(apparatus, tolerances, Hand::Given(deviations)), Care::Full).map(|(shares, _)| shares)
}

/// One glass.
struct Sample {
    drawn: Vec<f64>,
    shares: Shares,
    brimful: Vec<bool>,
}

/// Carries out the run of an apparatus in many glasses. None when it was stopped.
pub fn spread(apparatus: &Apparatus, question: Question, watch: &dyn Watch) -> Option<Spread> {
    let names: Vec<String> = dimensions(apparatus, question.tolerances)
        .into_iter()
        .map(|dimension| dimension.name)
        .collect();
    let done = AtomicUsize::new(0);
    let samples: Option<Vec<Option<Sample>>> = (0..question.samples as u64)
        .into_par_iter()
        .map(|number| {
            let part = done.fetch_add(1, Ordering::Relaxed) as f64 / question.samples.max(1) as f64;
            watch.at(part).then(|| sample(apparatus, question, number))
        })
        .collect();
    let samples: Vec<Option<Sample>> = samples?;
    let unbuildable = samples.iter().filter(|s| s.is_none()).count();
    let samples: Vec<Sample> = samples.into_iter().flatten().collect();
    let built = build(apparatus).ok()?;
    let interior = Interior::new(built.names, built.primitives, built.ports).ok()?;
    let vessels: Vec<Vessel> = targets(apparatus, &interior)
        .iter()
        .enumerate()
        .map(|(i, target)| vessel(target.piece, target.volume, i, &samples))
        .collect();
    let count = samples.len().max(1) as f64;
    Some(Spread {
        weights: weights(&names, &samples),
        losing: samples.iter().filter(|s| s.shares.lost > 0.0).count() as f64 / count,
        vessels,
        samples: samples.len(),
        unbuildable,
    })
}

fn sample(apparatus: &Apparatus, question: Question, number: u64) -> Option<Sample> {
    let mut rng = ChaCha8Rng::seed_from_u64(question.seed);
    rng.set_stream(number);
    let draw = Draw::of(apparatus, question.tolerances, Hand::Random(Box::new(rng)));
    let (shares, brimful) = carry_out(&draw, Care::Shares)?;
    Some(Sample {
        brimful,
        shares,
        drawn: draw.drawn,
    })
}

/// Carries out the run in a glass: what it leaves, and which vessels stand at their brims in the end.
fn carry_out(draw: &Draw, care: Care) -> Option<(Shares, Vec<bool>)> {
    let built = build(&draw.apparatus).ok()?;
    let interior = Interior::with(built.names, built.primitives, built.ports, care).ok()?;
    let mut plan = Pouring::of(&draw.apparatus, &interior).plan;
    for halt in &mut plan.halts {
        halt.stance = Stance::new(halt.stance.tilt_deg + draw.level.0, halt.stance.roll_deg + draw.level.1);
    }
    for (_, volume) in &mut plan.given {
        *volume *= draw.charge;
    }
    let outcome = Outcome::of(&interior, &plan, || true)?;
    let targets = targets(&draw.apparatus, &interior);
    let last = outcome.stops.last()?;
    let brimful = targets.iter().map(|target| {
        let pools = last.settled.pools.iter().filter(|pool| pool.piece == target.piece);
        pools
            .into_iter()
            .any(|pool| pool.brim.is_some_and(|brim| pool.volume >= brim * (1.0 - 1e-6)))
    });
    Some((Shares::of(&outcome, &targets), brimful.collect()))
}

fn vessel(piece: usize, target: f64, i: usize, samples: &[Sample]) -> Vessel {
    let count = samples.len().max(1) as f64;
    let mut fills: Vec<f64> = samples
        .iter()
        .map(|s| s.shares.held.get(i).copied().unwrap_or(0.0))
        .collect();
    fills.sort_by(f64::total_cmp);
    let mean = fills.iter().sum::<f64>() / count;
    let square = fills.iter().map(|fill| (fill - mean).powi(2)).sum::<f64>();
    Vessel {
        piece,
        target,
        mean,
        deviation: (square / (count - 1.0).max(1.0)).sqrt(),
        under: fills.iter().filter(|fill| **fill < UNDER_PART * target).count() as f64 / count,
        brimful: samples.iter().filter(|s| s.brimful.get(i) == Some(&true)).count() as f64 / count,
        fills,
    }
}

fn weights(names: &[String], samples: &[Sample]) -> Vec<Weight> {
    let count = samples.len().max(1) as f64;
    let vessels = samples.first().map_or(0, |s| s.shares.held.len());
    let centred = |of: &dyn Fn(&Sample) -> f64| -> Vec<f64> {
        let mean = samples.iter().map(of).sum::<f64>() / count;
        samples.iter().map(|s| of(s) - mean).collect()
    };
    let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(x, y)| x * y).sum::<f64>();
    let fills: Vec<Vec<f64>> = (0..vessels).map(|i| centred(&|s: &Sample| s.shares.held[i])).collect();
    let total: f64 = fills.iter().map(|fill| dot(fill, fill)).sum();
    let mut weights: Vec<Weight> = names
        .iter()
        .enumerate()
        .map(|(k, name)| {
            let drawn = centred(&|s: &Sample| s.drawn.get(k).copied().unwrap_or(0.0));
            let own = dot(&drawn, &drawn);
            let with: f64 = fills.iter().map(|fill| dot(fill, &drawn).powi(2)).sum();
            Weight {
                dimension: name.clone(),
                part: if own > 0.0 && total > 0.0 {
                    with / own / total
                } else {
                    0.0
                },
            }
        })
        .collect();
    weights.sort_by(|a, b| b.part.total_cmp(&a.part).then_with(|| a.dimension.cmp(&b.dimension)));
    weights
}

/// How dimensions come to deviate.
enum Hand<'a> {
    /// As it happens.
    Random(Box<ChaCha8Rng>),
    /// These (by index) by so many standard deviations, the others as they are meant.
    Given(&'a [(usize, f64)]),
}

/// A glass as a hand might make it.
struct Draw<'a> {
    apparatus: Apparatus,
    /// Tilt and roll that are added to every stance, degrees.
    level: (f64, f64),
    /// The charge, as a part of the wanted one.
    charge: f64,
    /// What was drawn, in standard deviations, in the order of `dimensions`.
    drawn: Vec<f64>,
    dimensions: Vec<Dimension>,
    tolerances: Tolerances,
    hand: Hand<'a>,
}

impl<'a> Draw<'a> {
    fn of(apparatus: &Apparatus, tolerances: Tolerances, hand: Hand<'a>) -> Self {
        let mut draw = Self {
            apparatus: one_by_one(apparatus),
            level: (0.0, 0.0),
            charge: 1.0,
            drawn: Vec::new(),
            dimensions: Vec::new(),
            tolerances,
            hand,
        };
        let mut pieces = std::mem::take(&mut draw.apparatus.pieces);
        for piece in &mut pieces {
            draw.piece(piece);
        }
        draw.apparatus.pieces = pieces;
        let level = draw.tolerances.level_deg;
        draw.level = (
            draw.vary(LEVEL_TILT, CountedIn::Deg, level),
            draw.vary(LEVEL_ROLL, CountedIn::Deg, level),
        );
        draw.charge = 1.0 + draw.vary(CHARGE, CountedIn::Part, draw.tolerances.charge_part);
        draw
    }

    /// A deviation within a tolerance.
    fn vary(&mut self, name: impl Into<String>, unit: CountedIn, tolerance: f64) -> f64 {
        let index = self.dimensions.len();
        let sigmas: f64 = match &mut self.hand {
            Hand::Random(rng) => {
                let drawn: f64 = StandardNormal.sample(rng.as_mut());
                drawn.clamp(-3.0, 3.0)
            }
            Hand::Given(given) => given
                .iter()
                .filter(|(known, _)| *known == index)
                .map(|(_, sigmas)| sigmas)
                .sum(),
        };
        let sigma = 0.5 * tolerance;
        self.drawn.push(sigmas);
        self.dimensions.push(Dimension {
            name: name.into(),
            unit,
            sigma,
        });
        sigma * sigmas
    }

    /// A length, kept above a tenth of what it was.
    fn length(&mut self, name: &str, which: &str, length_mm: &mut f64) {
        if *length_mm > 0.0 {
            let by = self.vary(format!("{name}, {which}"), CountedIn::Mm, self.tolerances.length_mm);
            *length_mm = (*length_mm + by).max(0.1 * *length_mm);
        }
    }

    /// A tube from stock: the same rod for the same size in one piece.
    fn tube(&mut self, name: &str, which: &str, size: &mut TubeSize) {
        let row = stock(size.od_mm, size.wall_mm);
        let of = |tolerance: Option<f64>| tolerance.unwrap_or(self.tolerances.tube_mm);
        let (od, wall) = (
            of(row.and_then(|row| row.od_tolerance_mm)),
            of(row.and_then(|row| row.wall_tolerance_mm)),
        );
        let od = self.vary(format!("{name}, outside diameter{which}"), CountedIn::Mm, od);
        let wall = self.vary(
            format!("{name}, wall{which}"),
            CountedIn::Mm,
            wall.min(0.3 * size.wall_mm),
        );
        let bore = size.bore_mm();
        size.wall_mm += wall;
        size.od_mm = (size.od_mm + od).max(0.5 * bore + 2.0 * size.wall_mm);
    }

    /// A drawn neck, whose bore is what the hand makes it.
    fn neck(&mut self, name: &str, which: &str, size: &mut TubeSize) {
        let bore = size.bore_mm()
            * (1.0
                + self.vary(
                    format!("{name}, bore{which}"),
                    CountedIn::Part,
                    self.tolerances.neck_part,
                ));
        size.od_mm = bore + 2.0 * size.wall_mm;
    }

    fn piece(&mut self, piece: &mut Piece) {
        let name = piece.name.clone();
        if !matches!(piece.seat, Seat::Free { .. }) {
            for place in piece.seat.places_mut() {
                place.at_mm = (place.at_mm
                    + self.vary(format!("{name}, place"), CountedIn::Mm, self.tolerances.place_mm))
                .max(0.0);
                place.turn_deg += self.vary(format!("{name}, angle"), CountedIn::Deg, self.tolerances.angle_deg);
            }
        }
        match &mut piece.form {
            Form::Tube(tube) => {
                self.tube(&name, "", &mut tube.size);
                for (i, element) in tube.course.iter_mut().enumerate() {
                    self.element(&name, i + 1, element);
                }
            }
            Form::Bulb(bulb) => self.bulb(&name, bulb),
            Form::Bridge(bridge) => {
                self.tube(&name, "", &mut bridge.size);
                if let Route::Arched { rise_mm } = &mut bridge.route {
                    self.length(&name, "rise", rise_mm);
                }
            }
            Form::Ampoule(ampoule) => self.ampoule(&name, ampoule),
            Form::Fitting(fitting) => {
                self.tube(&name, "", &mut fitting.size);
                self.length(&name, "length", &mut fitting.length_mm);
            }
        }
    }

    fn element(&mut self, name: &str, number: usize, element: &mut Element) {
        match element {
            Element::Straight { length_mm } => self.length(name, &format!("length of part {number}"), length_mm),
            Element::Bend { angle_deg, .. } => {
                *angle_deg += self.vary(
                    format!("{name}, bend {number}"),
                    CountedIn::Deg,
                    self.tolerances.angle_deg,
                );
            }
            Element::Taper { length_mm, .. } => self.length(name, &format!("length of part {number}"), length_mm),
            Element::Neck { size, length_mm, .. } => {
                self.neck(name, &format!(" of part {number}"), size);
                self.length(name, &format!("length of part {number}"), length_mm);
            }
            Element::Bulb { size, .. } => {
                size.od_mm += self.vary(
                    format!("{name}, diameter of part {number}"),
                    CountedIn::Mm,
                    self.tolerances.length_mm,
                );
            }
        }
    }

    fn bulb(&mut self, name: &str, bulb: &mut Bulb) {
        bulb.body.od_mm += self.vary(format!("{name}, diameter"), CountedIn::Mm, self.tolerances.length_mm);
        self.tube(name, " of the neck", &mut bulb.neck);
        self.length(name, "neck length", &mut bulb.neck_mm);
    }

    fn ampoule(&mut self, name: &str, ampoule: &mut Ampoule) {
        self.tube(name, " of the stem", &mut ampoule.stem);
        self.length(name, "stem length", &mut ampoule.stem_mm);
        self.length(name, "funnel length", &mut ampoule.funnel_mm);
        self.neck(name, " of the neck", &mut ampoule.neck);
        self.length(name, "neck length", &mut ampoule.neck_mm);
        self.length(name, "shoulder length", &mut ampoule.shoulder_mm);
        self.tube(name, " of the body", &mut ampoule.body);
        self.length(name, "body length", &mut ampoule.body_mm);
        if let Bottom::Conical { length_mm } = &mut ampoule.bottom {
            self.length(name, "tip length", length_mm);
        }
    }
}

/// The same apparatus with the members of rows as pieces of their own, so that each can be made a little otherwise.
fn one_by_one(apparatus: &Apparatus) -> Apparatus {
    Apparatus {
        pieces: apparatus.expanded(),
        rows: Vec::<Row>::new(),
        ..apparatus.clone()
    }
}
