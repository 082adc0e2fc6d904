//! Blanks: the straight tubes from which the pieces of an apparatus are made, with what is to be marked on them.
//!
//! - A blank is cut from tube of one size. Where a course changes its size, the taper is drawn from the wider tube, and
//!   the two blanks are joined end to end. An ampoule's body with its shoulder is one blank, its stem with funnel and neck
//!   the other, unless both are of one size.
//! - Glass keeps its volume: a neck, taper, in-line bulb or blown bulb uses as much tube as has its volume of glass. A
//!   bend uses its centreline, a round end half the outside diameter nearly (its volume again).
//! - A guest begins where its centreline leaves the glass of its host; on a side it is as long as its longer side.
//! - Marks are told on the blank as it is cut, from its datum end: the end towards the host, or the start of a free piece.

use super::parts::{self, Part, area, density_g_per_mm3, short, size_text};
use crate::geom::{Interior, Primitive};
use crate::model::job::Input;
use crate::model::place::CONTACT_MM;
use crate::model::{Bottom, End, FittingKind, Form, Piece, Seat, TubeSize};
use crate::stages::Case;
use crate::stages::build::HOLD_MM;
use crate::units::{angle_text, fixed};
use nalgebra::{Vector2, Vector3};

/// A straight tube to be cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Blank {
    /// Piece that it is for.
    pub piece: String,
    /// Which part of it; empty for the whole.
    pub part: &'static str,
    /// Outside diameter and wall of the tube.
    pub stock: TubeSize,
    /// Length of the finished part along its centreline, without what lies in a host, mm.
    pub finished_mm: f64,
    /// Length of tube that has the glass of the finished part, mm.
    pub used_mm: f64,
    /// What is cut beyond that: what for, and how much, mm.
    pub allowances: Vec<(&'static str, f64)>,
    /// How the datum end and the far end are made.
    pub ends: [String; 2],
    /// What is marked.
    pub marks: Vec<Mark>,
    /// Bends: angle, degrees, and radius of the centreline, mm.
    pub bends: Vec<(f64, f64)>,
}

/// Something to be marked on a blank.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// What it is.
    pub what: String,
    /// Where.
    pub place: Place,
}

/// Where a mark stands on the cut blank, mm from its datum end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Place {
    /// A ring round the tube.
    At(f64),
    /// From one ring to another.
    Between(f64, f64),
    /// On glass that is blown first: it is set on the finished piece.
    Blown,
}

impl Place {
    /// In words, mm.
    pub fn text(self) -> String {
        match self {
            Self::At(at) => fixed(at, 1),
            Self::Between(from, to) => format!("{} to {}", fixed(from, 1), fixed(to, 1)),
            Self::Blown => "on blown glass".to_owned(),
        }
    }
}

impl Blank {
    /// Length to be cut, mm.
    pub fn cut_mm(&self) -> f64 {
        self.used_mm + self.allowances.iter().map(|(_, mm)| mm).sum::<f64>()
    }

    /// Mass of the cut blank, g.
    pub fn mass_g(&self) -> f64 {
        area(self.stock) * self.cut_mm() * density_g_per_mm3()
    }
}

/// All glass of a bulb, mm3: what its outside encloses without its bore.
fn bulb_glass(case: &Case, piece: usize) -> f64 {
    let volume = |primitives: &[Primitive]| {
        let own = primitives.iter().filter(|primitive| primitive.piece == piece);
        let own = own.map(|primitive| Primitive { piece: 0, ..*primitive }).collect();
        Interior::new(vec![String::new()], own, Vec::new()).map_or(0.0, |solid| solid.total_volume())
    };
    volume(&case.built.outsides) - volume(&case.built.primitives)
}

/// Where a centreline leaves the glass of a host, mm from its start; `line` runs away from the host.
fn leaves(case: &Case, host: usize, line: impl Fn(f64) -> Vector2<f64>, length_mm: f64) -> f64 {
    /// Halvings of a step of 0.25 mm.
    const HALVINGS: usize = 30;
    const STEP_MM: f64 = 0.25;
    let shapes: Vec<_> = case
        .built
        .outsides
        .iter()
        .filter(|outside| outside.piece == host)
        .collect();
    let is_in = |mm: f64| {
        let at = line(mm);
        shapes
            .iter()
            .any(|outside| outside.shape.contains(&Vector3::new(at.x, at.y, 0.0)))
    };
    let steps = (length_mm / STEP_MM).ceil() as usize;
    let Some(out) = (1..=steps).find(|k| !is_in(*k as f64 * STEP_MM)) else {
        return length_mm;
    };
    let (mut low, mut high) = ((out - 1) as f64 * STEP_MM, out as f64 * STEP_MM);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(low, high);
        if is_in(middle) { low = middle } else { high = middle }
    }
    // At the end of a host nothing lies within it.
    if low < CONTACT_MM { 0.0 } else { high }
}

/// An end that is sealed onto a host.
struct Sealed {
    /// What lies within the host, mm.
    within_mm: f64,
    /// By how much the longer side reaches beyond the centreline towards the host, mm.
    mitre_mm: f64,
    words: String,
    is_side: bool,
}

/// Below this sine of the angle between two axes the saddle has no longer side to speak of.
const LEAST_SIN: f64 = 0.2;

fn sealed(case: &Case, piece: usize, at_end: bool) -> Option<Sealed> {
    let placed = &case.built.placed;
    let places: Vec<_> = placed.pieces[piece].seat.places().collect();
    let place = if at_end { places.get(1)? } else { places.first()? };
    let host = placed.index(&place.host)?;
    let line = &placed.lines[piece];
    let along = |mm: f64| line.spot(if at_end { line.length_mm - mm } else { mm }).at;
    let within_mm = leaves(case, host, along, line.length_mm);
    if within_mm == 0.0 {
        return Some(Sealed {
            within_mm,
            mitre_mm: 0.0,
            words: format!("butt seal to {}", place.host),
            is_side: false,
        });
    }
    // On a sphere every arm towards its centre stands square.
    let is_on_body = matches!(&placed.pieces[host].form, Form::Bulb(bulb) if place.at_mm >= bulb.neck_mm - CONTACT_MM);
    let (sin, cos) = place.turn_deg.to_radians().sin_cos();
    let r = placed.pieces[piece].form.joined_od_mm() / 2.0;
    Some(Sealed {
        within_mm,
        mitre_mm: if is_on_body || sin.abs() < LEAST_SIN {
            0.0
        } else {
            r * (cos / sin).abs()
        },
        words: format!("side seal to {}", place.host),
        is_side: true,
    })
}

/// An end that stands free: in words, and what it takes.
struct Own {
    words: String,
    takes: Option<Input>,
}

impl Own {
    fn open(words: &str) -> Self {
        Self {
            words: words.to_owned(),
            takes: None,
        }
    }

    fn closed(words: &str) -> Self {
        Self {
            words: words.to_owned(),
            takes: Some(Input::PulledOff),
        }
    }

    fn of(end: &End) -> Self {
        match end {
            End::Open => Self::open("open, fire-polished"),
            End::Round => Self::closed("closed round"),
            End::Flat => Self::closed("closed flat"),
            End::Joint { designation, .. } => Self {
                words: format!("butt seal to joint {designation}"),
                takes: Some(Input::Butt),
            },
            End::Port => Self::open("open, to the line"),
        }
    }

    /// Both ends of a piece.
    fn both(form: &Form) -> [Self; 2] {
        let far = match form {
            Form::Tube(tube) => return [Self::of(&tube.start), Self::of(&tube.end)],
            Form::Bulb(_) => Self::closed("blown"),
            Form::Bridge(_) => Self::of(&End::Open),
            Form::Ampoule(ampoule) => Self::closed(match ampoule.bottom {
                Bottom::Round => "closed round",
                Bottom::Flat => "closed flat",
                Bottom::Conical { .. } => "closed to a point",
            }),
            Form::Fitting(fitting) if fitting.kind == FittingKind::Cap => Self::closed("closed round, last"),
            Form::Fitting(_) => Self::of(&End::Port),
        };
        [Self::of(&End::Open), far]
    }
}

/// A piece bought ready, with the tube that it comes on.
pub fn bought(form: &Form) -> Option<String> {
    let Form::Fitting(fitting) = form else {
        return None;
    };
    let length = short(fitting.length_mm);
    match &fitting.kind {
        FittingKind::Stopcock { .. } => Some(format!(
            "stopcock with arms of {}, {length} mm to the centreline of its host",
            size_text(fitting.size)
        )),
        FittingKind::Joint { designation, .. } => Some(format!(
            "ground joint {designation} on tube of {}, {length} mm to the centreline of its host",
            size_text(fitting.size)
        )),
        FittingKind::VacuumPort | FittingKind::GasPort | FittingKind::Cap => None,
    }
}

/// The blanks of an apparatus, piece by piece.
pub fn blanks(case: &Case) -> Vec<Blank> {
    let pieces = case.built.placed.pieces.iter().enumerate();
    let made = pieces.filter(|(_, piece)| bought(&piece.form).is_none());
    made.flat_map(|(i, piece)| of_piece(case, i, piece)).collect()
}

fn of_piece(case: &Case, index: usize, piece: &Piece) -> Vec<Blank> {
    let parts = match &piece.form {
        Form::Tube(tube) => parts::tube_parts(tube),
        Form::Bulb(bulb) => parts::bulb_parts(bulb, bulb_glass(case, index)),
        Form::Bridge(bridge) => parts::bridge_parts(bridge.size, &case.built.placed.lines[index]),
        Form::Ampoule(ampoule) => parts::ampoule_parts(ampoule),
        Form::Fitting(fitting) => parts::fitting_parts(fitting),
    };
    let first = sealed(case, index, false);
    let last = sealed(case, index, true);
    let within = [&first, &last].map(|end| end.as_ref().map_or(0.0, |end| end.within_mm));
    let total: f64 = parts.iter().map(|part| part.length_mm).sum();
    let mut spots = spots(case, index, piece);
    let mut runs: Vec<Run> = Vec::new();
    let mut at = 0.0_f64;
    for part in parts {
        let (from, to) = (at.max(within[0]), (at + part.length_mm).min(total - within[1]));
        at += part.length_mm;
        if to - from < CONTACT_MM {
            continue;
        }
        let kept = (to - from) / part.length_mm;
        let is_new = runs.last().is_none_or(|run| run.stock != part.stock);
        if is_new {
            runs.push(Run {
                stock: part.stock,
                parts: Vec::new(),
            });
        }
        if let Some(run) = runs.last_mut() {
            run.parts.push((from, to, part.used_mm() * kept, part));
        }
    }
    let ends = run_ends(case, index, piece, &runs, first, last);
    let words = part_words(&piece.form, runs.len());
    let made = runs.iter().zip(ends).enumerate();
    made.map(|(k, (run, ends))| run.blank(&piece.name, words.get(k).copied().unwrap_or(""), ends, &mut spots))
        .collect()
}

/// Which part of a piece a blank is.
fn part_words(form: &Form, count: usize) -> &'static [&'static str] {
    match (form, count) {
        (Form::Ampoule(_), 2) => &["stem and neck", "body"],
        (_, 0 | 1) => &[""],
        _ => &["first part", "second part", "third part", "fourth part", "fifth part"],
    }
}

/// Parts of one size: from, to (along the centreline), tube used, what it is.
struct Run {
    stock: TubeSize,
    parts: Vec<(f64, f64, f64, Part)>,
}

/// How an end of a blank is made, and what is cut beyond it.
struct BlankEnd {
    words: String,
    allowances: Vec<(&'static str, f64)>,
}

/// What is marked on a piece: where along its centreline, what, whether it is a seal-off place within its neck.
fn spots(case: &Case, index: usize, piece: &Piece) -> Vec<(f64, String)> {
    let placed = &case.built.placed;
    let length = placed.lines[index].length_mm;
    let mut spots: Vec<(f64, String)> = Vec::new();
    for guest in &placed.pieces {
        let here = guest.seat.places().filter(|place| place.host == piece.name);
        for place in here {
            if place.at_mm > CONTACT_MM && place.at_mm < length - CONTACT_MM {
                let turn = angle_text(place.turn_deg);
                spots.push((place.at_mm, format!("{} sits here, {turn} to the axis", guest.name)));
            }
        }
    }
    if let Form::Ampoule(ampoule) = &piece.form {
        let at = ampoule.stem_mm + ampoule.funnel_mm + ampoule.seal_mm;
        spots.push((at, "seal-off place".to_owned()));
    }
    spots.sort_by(|a, b| a.0.total_cmp(&b.0));
    spots
}

fn run_ends(
    case: &Case,
    index: usize,
    piece: &Piece,
    runs: &[Run],
    first: Option<Sealed>,
    last: Option<Sealed>,
) -> Vec<[BlankEnd; 2]> {
    let number = |input: Input| case.inputs.value(input).unwrap_or(0.0);
    let butt = || vec![("butt seal", number(Input::Butt))];
    let taken = taken(case, index);
    let own = Own::both(&piece.form);
    let outer = |sealed: Option<Sealed>, at: usize| match (sealed, &taken[at]) {
        (Some(sealed), _) => BlankEnd {
            allowances: match sealed.is_side {
                true => vec![
                    ("side seal", number(Input::SideSeal)),
                    ("longer side of the saddle", sealed.mitre_mm),
                ],
                false => butt(),
            },
            words: sealed.words,
        },
        (None, Some(guest)) => BlankEnd {
            words: format!("butt seal to {guest}"),
            allowances: butt(),
        },
        (None, None) => BlankEnd {
            words: own[at].words.clone(),
            allowances: match own[at].takes {
                Some(Input::PulledOff) => vec![("pulled off", number(Input::PulledOff))],
                Some(_) => butt(),
                None => Vec::new(),
            },
        },
    };
    let inner = || BlankEnd {
        words: "butt seal to its other part".to_owned(),
        allowances: butt(),
    };
    let (mut first, mut last) = (Some(outer(first, 0)), Some(outer(last, 1)));
    let count = runs.len();
    (0..count)
        .map(|k| {
            let start = if k == 0 { first.take() } else { None };
            let end = if k + 1 == count { last.take() } else { None };
            [start.unwrap_or_else(inner), end.unwrap_or_else(inner)]
        })
        .collect()
}

/// Names of the pieces that sit on the start and on the end of a piece.
fn taken(case: &Case, index: usize) -> [Option<String>; 2] {
    let placed = &case.built.placed;
    let (name, length) = (&placed.pieces[index].name, placed.lines[index].length_mm);
    let closes = |form: &Form| matches!(form, Form::Bulb(_) | Form::Ampoule(_));
    let mut found = [None, None];
    for guest in &placed.pieces {
        for place in guest.seat.places().filter(|place| place.host == *name) {
            if place.at_mm <= CONTACT_MM {
                found[0] = Some(guest.name.clone());
            } else if place.at_mm >= length - CONTACT_MM && !closes(&placed.pieces[index].form) {
                found[1] = Some(guest.name.clone());
            }
        }
    }
    if !matches!(placed.pieces[index].seat, Seat::Free { .. }) {
        found[0] = None;
    }
    found
}

impl Run {
    fn blank(
        &self,
        piece: &str,
        part: &'static str,
        [start, end]: [BlankEnd; 2],
        spots: &mut Vec<(f64, String)>,
    ) -> Blank {
        let before: f64 = start.allowances.iter().map(|(_, mm)| mm).sum();
        let mut allowances = start.allowances;
        allowances.extend(end.allowances);
        allowances.extend(self.to_hold());
        let allowances: Vec<_> = allowances.into_iter().filter(|(_, mm)| *mm > CONTACT_MM).collect();
        let hold = self.hold_before();
        let (mut at, mut marks, mut bends) = (before + hold, Vec::new(), Vec::new());
        for (from, to, used, part) in &self.parts {
            if let Some(what) = part.what.clone() {
                let place = Place::Between(at, at + used);
                marks.push(Mark { what, place });
            }
            bends.extend(part.bend);
            let is_blown = part.bend.is_none() && !part.is_run && part.what.is_some() && to - from > 0.0;
            while let Some((spot, _)) = spots.first().filter(|(spot, _)| *spot <= *to + CONTACT_MM) {
                let ring = Place::At(at + used * ((spot - from) / (to - from)).clamp(0.0, 1.0));
                let (_, what) = spots.remove(0);
                let is_neck = what.starts_with("seal-off");
                let place = if is_blown && !is_neck { Place::Blown } else { ring };
                marks.push(Mark { what, place });
            }
            at += used;
        }
        Blank {
            piece: piece.to_owned(),
            part,
            stock: self.stock,
            finished_mm: self.parts.iter().map(|(from, to, ..)| to - from).sum(),
            used_mm: self.parts.iter().map(|(_, _, used, _)| used).sum(),
            allowances,
            ends: [start.words, end.words],
            marks,
            bends,
        }
    }

    /// Missing length of the straight run before the first bend, to hold it by, mm.
    fn hold_before(&self) -> f64 {
        let first = self.parts.iter().position(|(.., part)| part.bend.is_some());
        first.map_or(0.0, |k| missing(&self.parts[..k]))
    }

    fn to_hold(&self) -> Option<(&'static str, f64)> {
        let last = self.parts.iter().rposition(|(.., part)| part.bend.is_some())?;
        let mm = self.hold_before() + missing(&self.parts[last + 1..]);
        (mm > 0.0).then_some(("to hold it by at a bend", mm))
    }
}

/// What a run beside a bend is short of being held by, mm.
fn missing(parts: &[(f64, f64, f64, Part)]) -> f64 {
    (HOLD_MM - parts.iter().map(|(from, to, ..)| to - from).sum::<f64>()).max(0.0)
}
