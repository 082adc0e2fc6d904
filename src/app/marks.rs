//! The events of a turn as marks: what each is in words, which are shown, which stand together.

use super::mark_finder::Question;
use super::ring::degrees;
use super::session::Selection;
use crate::geom::events::{Event, Moment, Turn, Turning, What};
use crate::geom::{Interior, RunsTo};
use crate::units::MM3_PER_ML;
use std::ops::Range;

/// Marks nearer than this are one place to step to, degrees.
const SAME_DEG: f64 = 0.002;

/// What a mark stands for. The order is that in which marks at one place stand beside each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Kind {
    /// Liquid begins to run out of a port.
    Loss,
    /// A vessel's liquid begins to run.
    Begins,
    /// A vessel is filled to its brim.
    Brims,
    /// A vessel's brim volume equals its target.
    Meters,
    /// A vessel has drained.
    Drained,
}

/// A mark.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Mark {
    /// What it stands for.
    pub kind: Kind,
    /// Where, degrees.
    pub at_deg: f64,
    /// Name of the piece.
    pub name: String,
    /// Volume that goes with it, mL: held, brim, target, heel or lost at the end.
    pub volume_ml: f64,
    /// Whether it is shown whatever is selected.
    always: bool,
    /// What follows the headline.
    detail: String,
}

/// The angles between which a vessel keeps what it was given.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stay {
    /// Name of the piece.
    pub name: String,
    /// From and to, degrees.
    pub range_deg: Range<f64>,
    words: String,
}

/// The angles over which a port takes liquid.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Leak {
    /// Name of the piece with the port.
    pub name: String,
    /// From where it begins to where it ends, away from 0, degrees.
    pub from_deg: f64,
    /// Where it ends.
    pub to_deg: f64,
    /// In words.
    pub words: String,
}

/// The marks of a turn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Marks {
    /// The marks, by angle.
    list: Vec<Mark>,
    stays: Vec<Stay>,
    /// What ports take.
    pub leaks: Vec<Leak>,
    moments: Vec<Moment>,
    /// Name of each port's piece.
    ports: Vec<String>,
}

/// How a mark stands out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Weight {
    /// Nothing is selected.
    Plain,
    /// It belongs to a selected piece.
    Strong,
    /// Others are selected.
    Back,
}

/// Marks of one kind that are drawn as one.
#[derive(Clone, Debug)]
pub(crate) struct Group<'a> {
    /// What they stand for.
    pub kind: Kind,
    /// How they stand out.
    pub weight: Weight,
    /// The marks, by angle; never empty.
    pub marks: Vec<&'a Mark>,
}

impl Marks {
    /// The marks of a turn that was walked; `is_vessel` tells which pieces have theirs shown always.
    pub(crate) fn new(question: &Question, turn: Turn, is_vessel: impl Fn(usize) -> bool) -> Self {
        let Question { interior, asked } = question;
        let names = Names {
            interior,
            is_roll: matches!(asked.turning, Turning::Roll { .. }),
        };
        let mut list: Vec<Mark> = turn.events.iter().map(|e| names.mark(e, is_vessel(e.piece))).collect();
        let mut leaks = Vec::new();
        for loss in &turn.losses {
            let name = names.of_port(loss.port);
            let (lost, all) = (loss.by_end - loss.before, loss.by_end / MM3_PER_ML);
            let (from, to) = (names.at(loss.from_deg), names.at(loss.to_deg));
            let mut detail = format!(" from {from}: {} lost by {to}", ml(lost));
            if loss.before > 0.0 {
                detail += &format!(", {} with what was lost before", ml(loss.by_end));
            }
            leaks.push(Leak {
                words: format!("Liquid runs out of {name}{detail}"),
                name: name.clone(),
                from_deg: loss.from_deg,
                to_deg: loss.to_deg,
            });
            list.push(Mark {
                kind: Kind::Loss,
                at_deg: loss.from_deg,
                name,
                volume_ml: all,
                always: true,
                detail,
            });
        }
        list.sort_by(|a, b| a.at_deg.total_cmp(&b.at_deg).then(a.kind.cmp(&b.kind)));
        let stay = |hold: &crate::geom::events::Hold| {
            let name = names.of(hold.piece);
            let (from, to) = (degrees(hold.from_deg), degrees(hold.to_deg));
            let turned = if names.is_roll { " of roll" } else { "" };
            Stay {
                words: format!("{name} holds its {} from {from} to {to}{turned}", ml(hold.volume)),
                name,
                range_deg: hold.from_deg..hold.to_deg,
            }
        };
        Self {
            list,
            stays: turn.holds.iter().map(stay).collect(),
            leaks,
            moments: turn.moments,
            ports: (0..interior.ports().len()).map(|port| names.of_port(port)).collect(),
        }
    }

    /// Drops what belongs to pieces that are gone.
    pub(crate) fn keep_those_of(&mut self, pieces: &[String]) {
        let is_there = |name: &String| pieces.contains(name);
        if !self.ports.iter().all(is_there) {
            *self = Self::default();
            return;
        }
        self.list.retain(|mark| is_there(&mark.name));
        self.stays.retain(|stay| is_there(&stay.name));
    }

    /// The marks to show: those of vessels and losses, and of any piece that is selected.
    pub(crate) fn shown<'a>(&'a self, selection: &'a Selection) -> impl Iterator<Item = &'a Mark> {
        self.list
            .iter()
            .filter(|mark| mark.always || selection.contains(&mark.name))
    }

    /// The marks to show, those of a kind and a weight within `span_deg` as one.
    pub(crate) fn groups<'a>(&'a self, selection: &'a Selection, span_deg: f64) -> Vec<Group<'a>> {
        let is_chosen = |mark: &Mark| selection.contains(&mark.name);
        let any_chosen = self.list.iter().any(is_chosen);
        let mut groups: Vec<Group<'a>> = Vec::new();
        for mark in self.shown(selection) {
            let weight = match mark.kind {
                _ if is_chosen(mark) => Weight::Strong,
                Kind::Loss => Weight::Plain,
                _ if any_chosen => Weight::Back,
                _ => Weight::Plain,
            };
            let near = groups.iter_mut().rev().find(|group| {
                let is_like = group.kind == mark.kind && group.weight == weight;
                is_like && (mark.at_deg - group.marks[0].at_deg) <= span_deg
            });
            match near {
                Some(group) => group.marks.push(mark),
                None => groups.push(Group {
                    kind: mark.kind,
                    weight,
                    marks: vec![mark],
                }),
            }
        }
        groups
    }

    /// The angles over which nothing runs of what is asked about: of the selected pieces, or of all; and in words.
    pub(crate) fn stay(&self, selection: &Selection) -> Option<(Range<f64>, String)> {
        let chosen: Vec<&Stay> = self.stays.iter().filter(|s| selection.contains(&s.name)).collect();
        let stays: Vec<&Stay> = if chosen.is_empty() {
            self.stays.iter().collect()
        } else {
            chosen
        };
        let range = stays.iter().map(|s| s.range_deg.clone()).reduce(|a, b| {
            let (from, to) = (a.start.max(b.start), a.end.min(b.end));
            from..to
        })?;
        let words: Vec<&str> = stays.iter().map(|s| s.words.as_str()).collect();
        (range.end > range.start).then(|| (range, words.join("\n")))
    }

    /// The next place with a mark beyond an angle, going up (`way` 1) or down (-1), around a full turn.
    pub(crate) fn next(&self, selection: &Selection, at_deg: f64, way: f64) -> Option<f64> {
        let beyond = |mark: &&Mark| (mark.at_deg - at_deg) * way > SAME_DEG;
        let first = |a: f64, b: f64| if (a - b) * way <= 0.0 { a } else { b };
        let places = || self.shown(selection).map(|mark| mark.at_deg);
        let ahead = self.shown(selection).filter(beyond).map(|mark| mark.at_deg);
        ahead.reduce(first).or_else(|| places().reduce(first))
    }

    /// What stands at an angle, in words.
    pub(crate) fn words_at(&self, selection: &Selection, at_deg: f64) -> Option<String> {
        let here = self
            .groups(selection, SAME_DEG)
            .into_iter()
            .filter(|group| group.marks.iter().any(|m| (m.at_deg - at_deg).abs() <= SAME_DEG))
            .map(|group| group.words());
        here.reduce(|all, words| all + "\n" + &words)
    }

    /// What has been lost on the way to an angle: piece with the port and volume, mL.
    pub(crate) fn lost_by(&self, at_deg: f64) -> Vec<(String, f64)> {
        let Some(after) = self.moments.iter().position(|m| m.at_deg >= at_deg) else {
            return self.lost_at(self.moments.last());
        };
        let (Some(b), Some(a)) = (
            self.moments.get(after),
            after.checked_sub(1).and_then(|i| self.moments.get(i)),
        ) else {
            return self.lost_at(self.moments.first());
        };
        let part = (at_deg - a.at_deg) / (b.at_deg - a.at_deg);
        let between = Moment {
            lost: a.lost.iter().zip(&b.lost).map(|(a, b)| a + (b - a) * part).collect(),
            ..a.clone()
        };
        self.lost_at(Some(&between))
    }

    fn lost_at(&self, moment: Option<&Moment>) -> Vec<(String, f64)> {
        let lost = moment.map_or(&[][..], |m| &m.lost);
        let by_port = self.ports.iter().zip(lost).filter(|(_, lost)| **lost > 0.0);
        by_port.map(|(name, lost)| (name.clone(), lost / MM3_PER_ML)).collect()
    }
}

/// The pieces and ports of an interior in words.
struct Names<'a> {
    interior: &'a Interior,
    is_roll: bool,
}

impl Names<'_> {
    fn of(&self, piece: usize) -> String {
        self.interior.pieces().get(piece).cloned().unwrap_or_default()
    }

    fn of_port(&self, port: usize) -> String {
        self.interior
            .ports()
            .get(port)
            .map(|p| self.of(p.piece))
            .unwrap_or_default()
    }

    fn at(&self, deg: f64) -> String {
        // The ends of the turn are one place, which the ring calls 180 degrees.
        let deg = if deg <= -180.0 { deg + 360.0 } else { deg };
        let roll = if self.is_roll { "roll " } else { "" };
        format!("{roll}{}", degrees(deg))
    }

    fn mark(&self, event: &Event, always: bool) -> Mark {
        let at = self.at(event.at_deg);
        let onwards = |before: &str, to: Option<RunsTo>| match to {
            Some(RunsTo::Piece(piece)) if piece == event.piece => String::new(),
            Some(RunsTo::Piece(piece)) => format!("{before} to {}", self.of(piece)),
            Some(RunsTo::Port(port)) => format!("{before} out of {}", self.of_port(port)),
            None => String::new(),
        };
        let (kind, volume, detail) = match event.what {
            What::Begins { volume, to } => {
                let detail = format!(" at {at}: {}{}", ml(volume), onwards(", first", to));
                (Kind::Begins, volume, detail)
            }
            What::Brims { volume, to } => {
                let detail = format!(" at {at}: {}{}", ml(volume), onwards("; the surplus runs on", to));
                (Kind::Brims, volume, detail)
            }
            What::Drained { heel } => (Kind::Drained, heel, format!(" at {at}: {} stays behind", ml(heel))),
            What::Meters { target } => (
                Kind::Meters,
                target,
                format!(" at {at}: its brim holds {} there", ml(target)),
            ),
        };
        Mark {
            kind,
            at_deg: event.at_deg,
            name: self.of(event.piece),
            volume_ml: volume / MM3_PER_ML,
            always,
            detail,
        }
    }
}

/// A volume given in mm3, for people.
fn ml(volume: f64) -> String {
    format!("{:.2} mL", volume / MM3_PER_ML)
}

impl Mark {
    /// Number of the vessel within its row: the figures that its name ends with.
    pub(crate) fn number(&self) -> Option<&str> {
        let stem = self.name.trim_end_matches(|c: char| c.is_ascii_digit());
        let number = &self.name[stem.len()..];
        (!stem.is_empty() && !number.is_empty()).then_some(number)
    }
}

impl Group<'_> {
    /// Where it is gone to: its mark nearest to the start of the turn.
    pub(crate) fn at_deg(&self) -> f64 {
        let places = self.marks.iter().map(|mark| mark.at_deg);
        let nearest = places.reduce(|a, b| if a.abs() <= b.abs() { a } else { b });
        nearest.unwrap_or_default()
    }

    /// What it is, without where.
    pub(crate) fn headline(&self) -> String {
        let (names, one) = (names_in_words(&self.marks), self.marks.len() == 1);
        match (self.kind, one) {
            (Kind::Loss, _) => format!("Liquid runs out of {names}"),
            (Kind::Begins, true) => format!("{names} begins to run"),
            (Kind::Begins, false) => format!("{names} begin to run"),
            (Kind::Brims, true) => format!("{names} reaches its brim"),
            (Kind::Brims, false) => format!("{names} reach their brims"),
            (Kind::Meters, true) => format!("{names} meters its target"),
            (Kind::Meters, false) => format!("{names} meter their targets"),
            (Kind::Drained, true) => format!("{names} has drained"),
            (Kind::Drained, false) => format!("{names} have drained"),
        }
    }

    /// All of it in words; of several marks, a line each.
    pub(crate) fn words(&self) -> String {
        const MOST: usize = 12;
        if let [mark] = self.marks[..] {
            return self.headline() + &mark.detail;
        }
        let lines = self
            .marks
            .iter()
            .take(MOST)
            .map(|mark| format!("\n{}{}", mark.name, mark.detail));
        let mut words = self.headline() + &lines.collect::<String>();
        if self.marks.len() > MOST {
            words += &format!("\nand {} more", self.marks.len() - MOST);
        }
        words
    }

    /// What is written beside it: the vessel's number, a run of numbers, or how many there are.
    pub(crate) fn label(&self) -> Option<String> {
        if self.kind == Kind::Loss {
            return None;
        }
        let numbers: Vec<u32> = self.marks.iter().filter_map(|m| m.number()?.parse().ok()).collect();
        match self.marks.len() {
            1 => self.marks[0].number().map(str::to_owned),
            count => Some(run(&numbers, count).map_or(format!("×{count}"), |(a, b)| format!("{a}–{b}"))),
        }
    }
}

/// The least and greatest of `count` numbers that follow on each other without a gap, of one row.
fn run(numbers: &[u32], count: usize) -> Option<(u32, u32)> {
    let (least, greatest) = (numbers.iter().min()?, numbers.iter().max()?);
    let mut sorted = numbers.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let is_whole = sorted.len() == count && numbers.len() == count && (greatest - least) as usize == count - 1;
    is_whole.then_some((*least, *greatest))
}

/// Names as a person lists them: `vial-1 to vial-6`, or one by one.
fn names_in_words(marks: &[&Mark]) -> String {
    const MOST: usize = 3;
    let mut names: Vec<&str> = Vec::new();
    for mark in marks {
        if !names.contains(&mark.name.as_str()) {
            names.push(&mark.name);
        }
    }
    let stem = |name: &'_ str| name.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let one_row = marks
        .iter()
        .all(|m| m.name[..stem(&m.name)] == marks[0].name[..stem(&marks[0].name)]);
    let numbers: Vec<u32> = marks.iter().filter_map(|m| m.number()?.parse().ok()).collect();
    if let Some((least, greatest)) = run(&numbers, names.len()).filter(|_| one_row && names.len() > 2) {
        let stem = &marks[0].name[..stem(&marks[0].name)];
        return format!("{stem}{least} to {stem}{greatest}");
    }
    match names.len() {
        0..=MOST => {
            let last = names.pop().unwrap_or_default();
            if names.is_empty() {
                last.to_owned()
            } else {
                format!("{} and {last}", names.join(", "))
            }
        }
        more => format!("{} and {} more", names[..MOST - 1].join(", "), more + 1 - MOST),
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    /// Marks of a kind at angles, of vessels with the names that go with them.
    pub(crate) fn marks(kind: Kind, places: &[(&str, f64)]) -> Marks {
        let mark = |(name, at_deg): &(&str, f64)| Mark {
            kind,
            at_deg: *at_deg,
            name: (*name).to_owned(),
            volume_ml: 1.5,
            always: !name.starts_with("header"),
            detail: format!(" at {}: 1.50 mL", degrees(*at_deg)),
        };
        Marks {
            list: places.iter().map(mark).collect(),
            ..Marks::default()
        }
    }

    fn chosen(name: &str) -> Selection {
        let mut selection = Selection::default();
        selection.only(name);
        selection
    }

    #[test]
    fn a_row_is_told_as_one() {
        let row = marks(Kind::Meters, &[("vial-1", -40.0), ("vial-2", -40.0), ("vial-3", -40.0)]);
        let none = Selection::default();
        let groups = row.groups(&none, 0.02);
        assert_eq!(groups.len(), 1);
        assert_eq!(groups[0].headline(), "vial-1 to vial-3 meter their targets");
        assert_eq!(groups[0].label().as_deref(), Some("1–3"));
        let gap = marks(Kind::Brims, &[("vial-1", -40.0), ("vial-3", -40.0), ("pot", -40.0)]);
        let groups = gap.groups(&none, 0.02);
        assert_eq!(groups[0].headline(), "vial-1, vial-3 and pot reach their brims");
        assert_eq!(groups[0].label().as_deref(), Some("×3"));
        let many: Vec<String> = (0..20).map(|i| format!("bulb{}", 2 * i)).collect();
        let many: Vec<(&str, f64)> = many.iter().map(|name| (name.as_str(), 3.0)).collect();
        let many = marks(Kind::Drained, &many);
        let words = many.groups(&none, 0.02)[0].words();
        assert!(
            words.starts_with("bulb0, bulb2 and 18 more have drained\nbulb0 at 3.0°"),
            "{words}"
        );
        assert!(words.ends_with("and 8 more"), "{words}");
    }

    #[test]
    fn what_is_selected_stands_out() {
        let row = marks(Kind::Brims, &[("vial-1", -40.0), ("header", -30.0), ("vial-2", -20.0)]);
        let names = |selection: &Selection| -> Vec<(String, Weight)> {
            let groups = row.groups(selection, 0.02);
            groups.iter().map(|g| (g.marks[0].name.clone(), g.weight)).collect()
        };
        let weights = |list: &[(&str, Weight)]| -> Vec<(String, Weight)> {
            list.iter()
                .map(|(name, weight)| ((*name).to_owned(), *weight))
                .collect()
        };
        assert_eq!(
            names(&Selection::default()),
            weights(&[("vial-1", Weight::Plain), ("vial-2", Weight::Plain)])
        );
        assert_eq!(
            names(&chosen("vial-2")),
            weights(&[("vial-1", Weight::Back), ("vial-2", Weight::Strong)])
        );
        assert_eq!(
            names(&chosen("header")),
            weights(&[
                ("vial-1", Weight::Back),
                ("header", Weight::Strong),
                ("vial-2", Weight::Back)
            ])
        );
        assert_eq!(
            names(&chosen("pump")),
            weights(&[("vial-1", Weight::Plain), ("vial-2", Weight::Plain)]),
            "a piece without marks changes nothing"
        );
    }

    #[test]
    fn steps_go_to_the_next_place_and_around() {
        let row = marks(Kind::Brims, &[("vial-1", -40.0), ("vial-2", -39.999), ("vial-3", 20.0)]);
        let none = Selection::default();
        for (at, way, next) in [
            (0.0, 1.0, 20.0),
            (20.0, 1.0, -40.0),
            (0.0, -1.0, -39.999),
            (-40.0, -1.0, 20.0),
            (-40.0, 1.0, 20.0),
        ] {
            assert_eq!(row.next(&none, at, way), Some(next), "{at} {way}");
        }
        assert_eq!(Marks::default().next(&none, 0.0, 1.0), None);
        let words = row.words_at(&none, -40.0).expect("two marks stand there");
        assert!(words.starts_with("vial-1 and vial-2 reach their brims"), "{words}");
        assert_eq!(row.words_at(&none, 0.0), None);
    }

    #[test]
    fn what_is_lost_by_an_angle_lies_between_the_steps() {
        let moment = |at_deg: f64, lost: f64| Moment {
            at_deg,
            held: Vec::new(),
            lost: vec![lost],
            left_over: 0.0,
        };
        let marks = Marks {
            moments: vec![
                moment(-90.0, 3000.0),
                moment(-80.0, 0.0),
                moment(0.0, 0.0),
                moment(80.0, 0.0),
            ],
            ports: vec!["pump".into()],
            ..Marks::default()
        };
        let lost = |at: f64| marks.lost_by(at).first().map(|(_, ml)| *ml);
        assert_eq!(lost(0.0), None);
        assert_eq!(lost(-85.0), Some(1.5));
        assert_eq!(lost(-90.0), Some(3.0));
        assert_eq!(lost(-170.0), Some(3.0), "it stays lost");
        assert_eq!(lost(170.0), None);
    }
}
