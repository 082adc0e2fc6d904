//! Whether it can be blown: order of the joins with an open route at each, sizes for hand and oven.

use super::case::Case;
use super::sheet::{Line, Sheet, Verdict};
use crate::model::job::{Input, Stage};
use crate::model::{End, FittingKind, Form, Seat};
use crate::units::si::{Length, millimetres, mm_text};
use std::collections::BTreeSet;

/// A step of the build.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// What is joined.
    pub piece: String,
    /// What it is joined to; more than one for a bridge, none for the first of a part.
    pub to: Vec<String>,
    /// Where the heated volume is open: a piece with an open end; none when it is closed.
    pub vent: Option<String>,
    /// Every piece of the heated part with an open end, the vent among them: all but the vent are plugged.
    pub open: Vec<String>,
}

/// A straight run beside a bend that is too short to hold.
#[derive(Clone, Debug, PartialEq)]
pub struct ShortRun {
    /// Its piece.
    pub piece: String,
    /// Its length.
    pub length: Length,
}

/// The stage.
#[derive(Clone, Debug)]
pub struct Build {
    /// The joins in an order that keeps a route open as long as there is one.
    pub steps: Vec<Step>,
    /// The longest part that goes into the oven, with its name.
    pub longest: (String, Length),
    /// The oven; an error when it is not given.
    pub oven: Verdict<Length>,
    /// From the leftmost to the rightmost and from the lowest to the highest point of the whole.
    pub extent: (Length, Length),
    /// Straight runs beside bends that are too short.
    pub short_runs: Vec<ShortRun>,
    /// In words.
    pub sheet: Sheet,
}

/// Least straight run beside a bend, to hold it by.
pub const HOLD_MM: f64 = 25.0;

pub(super) fn work_out(case: &Case) -> Build {
    let mut sheet = Sheet::new(Stage::Build);
    sheet.inputs = case.inputs.lines(Stage::Build);
    let steps = steps(case);
    let lines = case.built.placed.lines.iter().enumerate();
    let longest = lines
        .map(|(i, line)| (i, line.length_mm))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let longest = longest.map_or((String::new(), millimetres(0.0)), |(i, mm)| {
        (case.name(i).to_owned(), millimetres(mm))
    });
    let oven = case.number(Input::Oven).map(millimetres);
    let extent = extent(case);
    let short_runs = short_runs(case);
    let order = steps
        .iter()
        .filter(|step| !step.to.is_empty())
        .enumerate()
        .map(|(i, step)| {
            let vent = step
                .vent
                .as_ref()
                .map_or_else(|| "NO OPEN ROUTE".to_owned(), |vent| format!("breath by {vent}"));
            Line::new(format!("{}. {} to {}", i + 1, step.piece, step.to.join(" and ")), vent)
        });
    sheet.group("Order of the joins, with an open route at each", order.collect());
    sheet.group(
        "For the oven and the hand",
        vec![
            Line::new("longest piece", format!("{}, {}", longest.0, mm_text(longest.1))),
            Line::new(
                "the whole, across and high",
                format!("{} by {}", mm_text(extent.0), mm_text(extent.1)),
            ),
            Line::of("oven takes", &oven, |oven| mm_text(*oven)),
        ],
    );
    sheet.cautions.push(
        "every volume that is heated needs an open route; stop no second end but the one you blow into".to_owned(),
    );
    sheet.cautions.push(
        "hand tolerances: lengths 1 mm, places of joins 1 mm, angles 2\u{b0}, bores of necks 20 % (common practice)"
            .to_owned(),
    );
    Build {
        steps,
        longest,
        oven,
        extent,
        short_runs,
        sheet,
    }
}

fn extent(case: &Case) -> (Length, Length) {
    let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
    for glass in &case.built.glass {
        for point in glass.outer.points(0.5) {
            for k in 0..2 {
                low[k] = low[k].min(point[k]);
                high[k] = high[k].max(point[k]);
            }
        }
    }
    let side = |k: usize| millimetres((high[k] - low[k]).max(0.0));
    (side(0), side(1))
}

/// The ends of a piece that are open while it lies on the bench: (at the start, at the end). A stopper comes out for
/// the work.
fn open_ends(form: &Form) -> (bool, bool) {
    let open = |end: &End| matches!(end, End::Open | End::Joint { .. } | End::Port);
    match form {
        Form::Tube(tube) => (open(&tube.start), open(&tube.end)),
        Form::Bulb(_) | Form::Ampoule(_) => (true, false),
        Form::Bridge(_) => (true, true),
        Form::Fitting(fitting) => (true, fitting.kind != FittingKind::Cap),
    }
}

/// Joins one after the other: those whose heated volume stays open come before those that close one.
fn steps(case: &Case) -> Vec<Step> {
    let pieces = &case.built.placed.pieces;
    let count = pieces.len();
    // Which of the ends of each piece are still open.
    let mut open: Vec<(bool, bool)> = pieces.iter().map(|piece| open_ends(&piece.form)).collect();
    let mut part: Vec<usize> = (0..count).collect();
    let mut waiting: BTreeSet<usize> = (0..count).collect();
    let mut steps = Vec::new();
    while !waiting.is_empty() {
        let hosts = |i: usize| -> Vec<(usize, f64)> {
            let places = pieces[i].seat.places();
            places
                .filter_map(|place| Some((case.built.placed.index(&place.host)?, place.at_mm)))
                .collect()
        };
        let ready: Vec<usize> = waiting
            .iter()
            .copied()
            .filter(|i| hosts(*i).iter().all(|(host, _)| !waiting.contains(host)))
            .collect();
        let after = |i: usize| {
            let mut open = open.clone();
            if !matches!(pieces[i].seat, Seat::Free { .. }) {
                open[i].0 = false;
            }
            if matches!(pieces[i].seat, Seat::Between { .. }) {
                open[i].1 = false;
            }
            for (host, at_mm) in hosts(i) {
                let end = case.built.placed.lines[host].length_mm;
                open[host].0 &= at_mm > 0.01;
                open[host].1 &= at_mm < end - 0.01;
            }
            open
        };
        let open_at = |i: usize, open: &[(bool, bool)]| -> Vec<usize> {
            let mut parts: BTreeSet<usize> = hosts(i).iter().map(|(host, _)| part[*host]).collect();
            parts.insert(part[i]);
            (0..count)
                .filter(|k| parts.contains(&part[*k]))
                .filter(|k| open[*k].0 || open[*k].1)
                .collect()
        };
        let has_vent = |i: usize| !open_at(i, &after(i)).is_empty();
        // First what leaves a route, of that what stands alone, then in the order of the design.
        let chosen = ready
            .iter()
            .copied()
            .find(|i| hosts(*i).is_empty())
            .or_else(|| {
                ready
                    .iter()
                    .copied()
                    .find(|i| !is_cap(&pieces[*i].form) && has_vent(*i))
            })
            .or_else(|| ready.iter().copied().find(|i| has_vent(*i)))
            .or_else(|| ready.first().copied());
        let Some(chosen) = chosen else {
            break;
        };
        let next = after(chosen);
        let open_here = open_at(chosen, &next);
        let open_here: Vec<String> = open_here.into_iter().map(|i| pieces[i].name.clone()).collect();
        let to: Vec<String> = pieces[chosen].seat.places().map(|place| place.host.clone()).collect();
        let own = part[chosen];
        for host in hosts(chosen)
            .into_iter()
            .map(|(host, _)| part[host])
            .collect::<BTreeSet<_>>()
        {
            for k in &mut part {
                if *k == host {
                    *k = own;
                }
            }
        }
        open = next;
        waiting.remove(&chosen);
        steps.push(Step {
            piece: pieces[chosen].name.clone(),
            to,
            vent: open_here.first().cloned(),
            open: open_here,
        });
    }
    steps
}

fn is_cap(form: &Form) -> bool {
    matches!(form, Form::Fitting(fitting) if fitting.kind == FittingKind::Cap)
}

/// Straight runs between two bends that leave nothing to hold.
fn short_runs(case: &Case) -> Vec<ShortRun> {
    use crate::model::place::Segment;
    let pieces = case.built.placed.pieces.iter().zip(&case.built.placed.lines);
    let mut list = Vec::new();
    for (piece, line) in pieces {
        for trio in line.segments.windows(3) {
            if let [
                Segment::Arc { .. },
                Segment::Line { length_mm, .. },
                Segment::Arc { .. },
            ] = trio
                && *length_mm < HOLD_MM
            {
                list.push(ShortRun {
                    piece: piece.name.clone(),
                    length: millimetres(*length_mm),
                });
            }
        }
    }
    list
}
