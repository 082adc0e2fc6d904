//! Dimensions for a target: which stock, how long a body, how much neck, and how the header leans.
//!
//! **Method.** For every stock size allowed, the body's length follows from the target and the headspace in closed form; the
//! neck is lengthened until the seal-off place is clear of the liquid. What can't be made (the rules of
//! [`crate::findings`]), is too long or has no room beside its neighbours is dropped. For the best in proportion a run is
//! sought ([`super::even`]), with lean and slope varied by COBYLA where that is allowed. Answers are ranked: those that fill
//! every vessel within the tolerance first, then by findings, then by the deviation, then by proportion.

use std::f64::consts::PI;

use super::even::{self, even};
use super::{Watch, targets};
use crate::data::STOCK;
use crate::findings::{Severity, body_ml, geometric};
use crate::geom::build::build;
use crate::geom::{Interior, Stance};
use crate::model::{Ampoule, Apparatus, Bottom, Element, Form, Row, Seat, Stop, TubeSize};
use crate::stages::Pouring;
use crate::units::MM3_PER_ML;

/// Length of a body that is in proportion, in bores.
const BODY_BORES: f64 = 2.5;
/// Shortest body, mm.
const BODY_LEAST_MM: f64 = 6.0;
/// A neck with more than this part of the body's bore leaves no shoulder.
const NECK_PART: f64 = 0.7;
/// Between the outsides of neighbouring bodies, mm: room for fingers and flame.
const BODY_GAP_MM: f64 = 15.0;
/// Answers for which a run is sought.
const RUN_SOUGHT: usize = 3;
/// Runs tried in varying one.
const VARIED: usize = 12;

/// What may be changed beside the vessels themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Vary {
    /// The distance of vessels in a row; the host grows with it.
    Pitch,
    /// The angle at which vessels leave their host.
    Lean,
    /// The last bend of the host: the slope of a header.
    Slope,
}

/// What is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// Rows and ampoules to be sized; all when empty.
    pub vessels: Vec<String>,
    /// Target of each, mL; their own when none.
    pub target_ml: Option<f64>,
    /// Part of bottom and straight body that stays free above the target.
    pub headspace: f64,
    /// Least length from the level to the seal-off place, mm.
    pub clearance_mm: f64,
    /// Sizes at hand for bodies; the catalogue's and the user's own when empty.
    pub stock: Vec<TubeSize>,
    /// Longest vessel from the host's centreline, mm.
    pub longest_mm: f64,
    /// Least distance of vessels, mm.
    pub least_pitch_mm: f64,
    /// What else may be changed.
    pub vary: Vec<Vary>,
    /// Tolerance of the fills in the run, as a part of the target.
    pub tolerance: f64,
    /// Tilts allowed in the run, degrees.
    pub tilts: (f64, f64),
    /// Most answers.
    pub most: usize,
}

impl Default for Question {
    fn default() -> Self {
        Self {
            vessels: Vec::new(),
            target_ml: None,
            headspace: 0.25,
            clearance_mm: 30.0,
            stock: Vec::new(),
            longest_mm: 250.0,
            least_pitch_mm: 30.0,
            vary: Vec::new(),
            tolerance: 0.03,
            tilts: (-100.0, 100.0),
            most: 5,
        }
    }
}

/// A design that fits.
#[derive(Clone, Debug)]
pub struct Answer {
    /// The whole apparatus with the new dimensions, and with the run that was found.
    pub apparatus: Apparatus,
    /// Tube of the bodies.
    pub body: TubeSize,
    /// Length of the straight body of the first vessel, mm.
    pub body_mm: f64,
    /// From the level to the seal-off place, mm, upright.
    pub room_mm: f64,
    /// Length of the vessel from its host's centreline, mm.
    pub length_mm: f64,
    /// Distance of vessels, mm; 0 outside rows.
    pub pitch_mm: f64,
    /// Greatest deviation from a target in the run, as a part of it; none where no run was sought.
    pub worst: Option<f64>,
    /// Findings that stop it, and that bear watching.
    pub findings: (usize, usize),
    /// What speaks for and against it, in words.
    pub reasons: Vec<String>,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// There is nothing to be sized.
    #[error("there is no ampoule or row {0}")]
    NoVessel(String),
    /// Nothing fits: the reason that dropped most sizes.
    #[error("no size at hand fits: {0}")]
    NothingFits(String),
}

/// Finds sizes. None when it was stopped.
///
/// # Errors
/// When there is nothing to be sized, or nothing fits.
pub fn size(apparatus: &Apparatus, question: &Question, watch: &dyn Watch) -> Option<Result<Vec<Answer>, Refusal>> {
    let mut sought = apparatus.clone();
    if let Err(refusal) = chosen(&mut sought, question) {
        return Some(Err(refusal));
    }
    let mut answers = Vec::new();
    let mut dropped: Vec<String> = Vec::new();
    for body in bodies(apparatus, question) {
        match sized(&sought, question, body) {
            Ok(answer) => answers.push(answer),
            Err(why) => dropped.push(why),
        }
        if !watch.at(0.1) {
            return None;
        }
    }
    if answers.is_empty() {
        return Some(Err(Refusal::NothingFits(most_frequent(dropped))));
    }
    answers.sort_by(|a, b| {
        rank(a, question)
            .partial_cmp(&rank(b, question))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    answers.truncate(question.most.max(1));
    let count = answers.len().min(RUN_SOUGHT);
    for (i, answer) in answers.iter_mut().take(RUN_SOUGHT).enumerate() {
        let part = |part: f64| 0.1 + 0.9 * (i as f64 + part) / count as f64;
        with_run(answer, question, &Part(watch, &part))?;
    }
    answers.sort_by(|a, b| {
        rank(a, question)
            .partial_cmp(&rank(b, question))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    Some(Ok(answers))
}

/// A watch over a part of the work.
struct Part<'a>(&'a dyn Watch, &'a (dyn Fn(f64) -> f64 + Sync));

impl Watch for Part<'_> {
    fn at(&self, part: f64) -> bool {
        self.0.at((self.1)(part))
    }
}

/// Whether a vessel is one of those to be sized.
fn is_asked(question: &Question, name: &str) -> bool {
    question.vessels.is_empty() || question.vessels.iter().any(|asked| asked == name)
}

/// Every ampoule to be sized, to be changed.
fn asked<'a>(apparatus: &'a mut Apparatus, question: &'a Question) -> impl Iterator<Item = &'a mut Ampoule> {
    let Apparatus { pieces, rows, .. } = apparatus;
    let single = pieces.iter_mut().filter(|piece| is_asked(question, &piece.name));
    let single = single.filter_map(|piece| match &mut piece.form {
        Form::Ampoule(ampoule) => Some(ampoule),
        _ => None,
    });
    let rows = rows.iter_mut().filter(|row| is_asked(question, &row.name));
    single.chain(rows.flat_map(|row| {
        let departures = row.departures.iter_mut().map(|departure| &mut departure.ampoule);
        std::iter::once(&mut row.pattern).chain(departures)
    }))
}

/// Sets the target, and sees that there is something to be sized.
fn chosen(apparatus: &mut Apparatus, question: &Question) -> Result<(), Refusal> {
    let known = |name: &String| {
        let single = apparatus
            .pieces
            .iter()
            .any(|p| p.name == *name && matches!(p.form, Form::Ampoule(_)));
        single || apparatus.rows.iter().any(|row| row.name == *name)
    };
    if let Some(unknown) = question.vessels.iter().find(|name| !known(name)) {
        return Err(Refusal::NoVessel(format!("\"{unknown}\"")));
    }
    let mut count = 0;
    for ampoule in asked(apparatus, question) {
        count += 1;
        if let Some(target_ml) = question.target_ml {
            ampoule.target_ml = target_ml;
        }
    }
    if count == 0 {
        Err(Refusal::NoVessel("in the design".to_owned()))
    } else {
        Ok(())
    }
}

/// Sizes that bodies may be made of.
fn bodies(apparatus: &Apparatus, question: &Question) -> Vec<TubeSize> {
    if !question.stock.is_empty() {
        return question.stock.clone();
    }
    let catalogue = STOCK.iter().map(|row| TubeSize {
        od_mm: row.od_mm,
        wall_mm: row.wall_mm,
    });
    let own = apparatus.own_stock.iter().map(|own| own.tube);
    // The thinnest wall of each diameter: what bodies are made of unless something speaks against it.
    let mut sizes: Vec<TubeSize> = Vec::new();
    for size in catalogue.chain(own) {
        match sizes.iter_mut().find(|known| known.od_mm == size.od_mm) {
            Some(known) if size.wall_mm < known.wall_mm => *known = size,
            Some(_) => {}
            None => sizes.push(size),
        }
    }
    sizes
}

/// The apparatus with bodies of a size, or why that can't be.
fn sized(apparatus: &Apparatus, question: &Question, body: TubeSize) -> Result<Answer, String> {
    let mut sized = apparatus.clone();
    let mut first: Option<(f64, f64, f64)> = None;
    let mut longer_neck_mm = 0.0f64;
    for ampoule in asked(&mut sized, question) {
        if ampoule.neck.bore_mm() > NECK_PART * body.bore_mm() {
            return Err(format!(
                "the neck leaves no shoulder below a bore of {:.1} mm",
                ampoule.neck.bore_mm() / NECK_PART
            ));
        }
        let wider = (body.od_mm - ampoule.neck.od_mm) / (ampoule.body.od_mm - ampoule.neck.od_mm).max(0.1);
        ampoule.shoulder_mm *= wider.clamp(0.5, 3.0);
        ampoule.body = body;
        let with = |body_mm: f64| {
            body_ml(&Ampoule {
                body_mm,
                ..ampoule.clone()
            })
        };
        let wanted = ampoule.target_ml / (1.0 - question.headspace.clamp(0.0, 0.9));
        ampoule.body_mm = (wanted - with(0.0)) / (with(1.0) - with(0.0));
        if ampoule.body_mm < BODY_LEAST_MM {
            return Err(format!(
                "a body of {:.0} mm is too wide: it would be shorter than {BODY_LEAST_MM:.0} mm",
                body.od_mm
            ));
        }
        ampoule.body_mm = (ampoule.body_mm * 10.0).ceil() / 10.0;
        let lack = question.clearance_mm - room_mm(ampoule);
        if lack > 0.0 {
            ampoule.neck_mm += lack.ceil();
            longer_neck_mm = longer_neck_mm.max(lack.ceil());
        }
        let length = length_mm(ampoule);
        if length > question.longest_mm {
            return Err(format!(
                "a vessel of {length:.0} mm is longer than {:.0} mm",
                question.longest_mm
            ));
        }
        first.get_or_insert((ampoule.body_mm, room_mm(ampoule), length));
    }
    let pitch_mm = spaced(&mut sized, question, body)?;
    let built = build(&sized).map_err(|error| error.to_string())?;
    let found = geometric(&sized, &built);
    let count = |severity: Severity| found.iter().filter(|finding| finding.severity == severity).count();
    let stops = count(Severity::Stop);
    if let Some(stop) = found.iter().find(|finding| finding.severity == Severity::Stop) {
        return Err(format!("{}: {}", stop.piece, stop.what.to_lowercase()));
    }
    let (body_mm, room_mm, length_mm) = first.unwrap_or_default();
    let mut reasons = vec![format!("the body is {:.1} bores long", body_mm / body.bore_mm())];
    if longer_neck_mm > 0.0 {
        reasons.push(format!(
            "the neck is {longer_neck_mm:.0} mm longer, so that the flame stays off the liquid"
        ));
    }
    if let Some(row) = sized
        .rows
        .iter()
        .zip(&apparatus.rows)
        .find(|(new, old)| new.pitch_mm != old.pitch_mm)
    {
        reasons.push(format!("the pitch grows to {:.0} mm", row.0.pitch_mm));
    }
    let watches = count(Severity::Watch);
    if watches > 0 {
        reasons.push(format!("{watches} to watch"));
    }
    Ok(Answer {
        apparatus: sized,
        body,
        body_mm,
        room_mm,
        length_mm,
        pitch_mm,
        worst: None,
        findings: (stops, watches),
        reasons,
    })
}

/// From the level of the target to the seal-off place, mm, upright.
fn room_mm(ampoule: &Ampoule) -> f64 {
    let r = 0.5 * ampoule.body.bore_mm();
    let free = (body_ml(ampoule) - ampoule.target_ml) * MM3_PER_ML / (PI * r * r);
    free + ampoule.shoulder_mm + ampoule.neck_mm - ampoule.seal_mm
}

fn length_mm(ampoule: &Ampoule) -> f64 {
    let bottom = match ampoule.bottom {
        Bottom::Round => 0.5 * ampoule.body.od_mm,
        Bottom::Flat => 0.0,
        Bottom::Conical { length_mm } => length_mm,
    };
    ampoule.stem_mm + ampoule.funnel_mm + ampoule.neck_mm + ampoule.shoulder_mm + ampoule.body_mm + bottom
}

/// Sees that bodies have room beside each other, and makes room where the pitch may grow. Gives the pitch of the first row.
fn spaced(apparatus: &mut Apparatus, question: &Question, body: TubeSize) -> Result<f64, String> {
    let least = question.least_pitch_mm.max(body.od_mm + BODY_GAP_MM);
    let mut first = 0.0;
    for i in 0..apparatus.rows.len() {
        let row = &apparatus.rows[i];
        if !is_asked(question, &row.name) || row.count < 2 {
            continue;
        }
        if row.pitch_mm < least {
            if !question.vary.contains(&Vary::Pitch) {
                return Err(format!("bodies of {:.0} mm need a pitch of {least:.0} mm", body.od_mm));
            }
            widen(apparatus, i, least);
        }
        if first == 0.0 {
            first = apparatus.rows[i].pitch_mm;
        }
    }
    Ok(first)
}

/// Sets a row's pitch, and lengthens the host's last straight part and moves what sits beyond the row by as much.
fn widen(apparatus: &mut Apparatus, row: usize, pitch_mm: f64) {
    let Row {
        first,
        count,
        pitch_mm: old,
        ..
    } = &apparatus.rows[row];
    let end = first.at_mm + old * (count.saturating_sub(1)) as f64;
    let more = (pitch_mm - old) * (count.saturating_sub(1)) as f64;
    let host = first.host.clone();
    apparatus.rows[row].pitch_mm = pitch_mm;
    for piece in &mut apparatus.pieces {
        if piece.name == host
            && let Form::Tube(tube) = &mut piece.form
            && let Some(Element::Straight { length_mm }) = tube
                .course
                .iter_mut()
                .rev()
                .find(|element| matches!(element, Element::Straight { .. }))
        {
            *length_mm += more;
        }
        for place in piece.seat.places_mut() {
            if place.host == host && place.at_mm > end {
                place.at_mm += more;
            }
        }
    }
    for other in apparatus
        .rows
        .iter_mut()
        .filter(|other| other.first.host == host && other.first.at_mm > end)
    {
        other.first.at_mm += more;
    }
}

/// Smaller is better.
fn rank(answer: &Answer, question: &Question) -> (usize, usize, f64, f64) {
    let proportion = (answer.body_mm / (BODY_BORES * answer.body.bore_mm())).ln().abs();
    match answer.worst {
        Some(worst) => {
            let missed = usize::from(worst > question.tolerance);
            (
                missed,
                answer.findings.1,
                if missed == 1 { worst } else { 0.0 },
                proportion,
            )
        }
        None => (2, answer.findings.1, 0.0, proportion),
    }
}

/// Seeks the run of an answer, varying what may be varied.
fn with_run(answer: &mut Answer, question: &Question, watch: &dyn Watch) -> Option<()> {
    let free: Vec<Vary> = question
        .vary
        .iter()
        .copied()
        .filter(|vary| *vary != Vary::Pitch)
        .collect();
    let evened = evened(&answer.apparatus, question, watch);
    if !watch.at(0.5) {
        return None;
    }
    let Some((stops, worst)) = evened else {
        answer
            .reasons
            .push("no run was sought, as no piece is given liquid".to_owned());
        return Some(());
    };
    set_run(&mut answer.apparatus, &stops);
    answer.worst = Some(worst);
    if !free.is_empty() && worst > question.tolerance {
        let start = vec![0.0; free.len()];
        let bounds = vec![(-30.0, 30.0); free.len()];
        let base = answer.apparatus.clone();
        let cost = |x: &[f64], _: &mut ()| {
            if !watch.at(0.6) {
                return f64::MAX;
            }
            let varied = varied(&base, question, &free, x);
            evened_quickly(&varied, question, watch).map_or(f64::MAX, |(_, worst)| worst)
        };
        let none: &[fn(&[f64], &mut ()) -> f64] = &[];
        let found = cobyla::minimize(cost, &start, &bounds, none, (), VARIED, cobyla::RhoBeg::All(4.0), None);
        let (Ok((_, x, _)) | Err((_, x, _))) = found;
        let varied = varied(&base, question, &free, &x);
        if let Some((stops, better)) = evened_quickly(&varied, question, watch)
            && better < worst
        {
            answer.apparatus = varied;
            set_run(&mut answer.apparatus, &stops);
            answer.worst = Some(better);
            for (vary, by) in free.iter().zip(&x) {
                let what = if *vary == Vary::Lean {
                    "the vessels lean"
                } else {
                    "the header slopes"
                };
                answer.reasons.push(format!("{what} {:.1} degrees otherwise", by.abs()));
            }
        }
    }
    if !watch.at(1.0) {
        return None;
    }
    if let Some(worst) = answer.worst {
        answer.reasons.push(format!(
            "the run leaves every vessel within {:.1} % of its target",
            100.0 * worst
        ));
    }
    Some(())
}

fn set_run(apparatus: &mut Apparatus, stops: &[Stance]) {
    let first = apparatus.run.stops.first().cloned().unwrap_or_default();
    let stops = stops.iter().map(|s| Stop::at(s.tilt_deg, s.roll_deg));
    apparatus.run.stops = std::iter::once(first.clone()).chain(stops).chain([first]).collect();
}

fn evened(apparatus: &Apparatus, question: &Question, watch: &dyn Watch) -> Option<(Vec<Stance>, f64)> {
    let built = build(apparatus).ok()?;
    let interior = Interior::new(built.names, built.primitives, built.ports).ok()?;
    let mut plan = Pouring::of(apparatus, &interior).plan;
    if plan.given.is_empty() {
        return None;
    }
    plan.halts.truncate(1);
    if plan.halts.is_empty() {
        plan.halts.push(crate::run::Halt::default());
    }
    let finish = plan.halts[0].stance;
    let targets = targets(apparatus, &interior);
    let ask = even::Question {
        targets: targets.clone(),
        tolerance: question.tolerance,
        tilts: question.tilts,
        rolls: (0.0, 0.0),
        finish,
        most_stops: 1,
    };
    let found = even(&interior, &plan, &ask, watch)?;
    Some((found.stops, found.shares.worst(&targets)))
}

/// As [`evened`]; what is varied little needs no other search.
fn evened_quickly(apparatus: &Apparatus, question: &Question, watch: &dyn Watch) -> Option<(Vec<Stance>, f64)> {
    let near = apparatus.run.stops.get(1).map_or(0.0, |stop| stop.tilt_deg);
    let narrow = Question {
        tilts: ((near - 20.0).max(question.tilts.0), (near + 20.0).min(question.tilts.1)),
        ..question.clone()
    };
    evened(apparatus, &narrow, watch)
}

/// The apparatus with lean and slope changed, degrees.
fn varied(base: &Apparatus, question: &Question, free: &[Vary], by: &[f64]) -> Apparatus {
    let mut varied = base.clone();
    let hosts: Vec<String> = varied
        .rows
        .iter()
        .filter(|row| is_asked(question, &row.name))
        .map(|row| row.first.host.clone())
        .collect();
    for (vary, by) in free.iter().zip(by) {
        match vary {
            Vary::Pitch => {}
            Vary::Lean => {
                for row in varied.rows.iter_mut().filter(|row| is_asked(question, &row.name)) {
                    row.first.turn_deg += by;
                }
                for piece in varied.pieces.iter_mut().filter(|piece| is_asked(question, &piece.name)) {
                    if let (Form::Ampoule(_), Seat::On(place)) = (&piece.form, &mut piece.seat) {
                        place.turn_deg += by;
                    }
                }
            }
            Vary::Slope => {
                for piece in varied.pieces.iter_mut().filter(|piece| hosts.contains(&piece.name)) {
                    if let Form::Tube(tube) = &mut piece.form
                        && let Some(Element::Bend { angle_deg, .. }) = tube
                            .course
                            .iter_mut()
                            .rev()
                            .find(|element| matches!(element, Element::Bend { .. }))
                    {
                        *angle_deg += by;
                    }
                }
            }
        }
    }
    varied
}

fn most_frequent(reasons: Vec<String>) -> String {
    let count = |reason: &String| reasons.iter().filter(|other| *other == reason).count();
    let best = reasons.iter().max_by_key(|reason| count(reason)).cloned();
    best.unwrap_or_else(|| "there is no stock".to_owned())
}
