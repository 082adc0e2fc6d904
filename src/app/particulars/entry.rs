//! The list of everything that can be changed about the selected pieces: what they have in common, and where they
//! differ.

use super::aim::{self, Aim, FREE, Value};
use crate::app::field;
use crate::model::limits::{self, Limit};
use crate::model::reseat::Footing;
use crate::model::{Apparatus, End, FittingKind, Form, Seat, TubeSize, param};
use crate::units::LengthUnit;

/// Where in the particulars an entry belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// The piece itself: what the drawing shows.
    Form,
    /// Where it stands.
    Place,
    /// The row of which it is a member.
    Row,
    /// The liquid given to it.
    Liquid,
    /// What it is called.
    Name,
}

/// What kind of control an entry needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Kind {
    /// A number within a limit.
    Number(&'static Limit),
    /// A tube size.
    Size,
    /// One of several; a long list is searched.
    Choice {
        /// Whether the list is searched.
        is_searched: bool,
    },
    /// A text.
    Text,
    /// On or off.
    Switch,
}

/// Something that can be changed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Entry {
    /// Where it belongs.
    pub part: Part,
    /// What it changes.
    pub aim: Aim,
    /// The pieces or rows whose it is.
    pub owners: Vec<String>,
    /// Full name, `Group: detail`.
    pub label: String,
    /// The value; `None` where the pieces differ.
    pub value: Option<Value>,
    /// What kind of control it needs.
    pub kind: Kind,
}

impl Entry {
    /// Words for the history.
    pub(super) fn words(&self) -> String {
        match self.owners.as_slice() {
            [owner] => format!("{} of {owner}", self.label),
            owners => format!("{} of {} pieces", self.label, owners.len()),
        }
    }

    /// The group and the detail of the label; no group for a label without one.
    pub(super) fn parts(&self) -> (&str, &str) {
        self.label.split_once(": ").unwrap_or(("", &self.label))
    }

    /// The value in words and figures, as its control shows it.
    pub(super) fn value_text(&self, unit: LengthUnit) -> String {
        match (&self.value, self.kind) {
            (Some(Value::Number(value)), Kind::Number(limit)) => field::value_text(*value, limit.unit, unit),
            (Some(Value::Size(size)), _) => unit.size_text(size.od_mm, size.wall_mm),
            (Some(Value::Text(text)), _) => text.clone(),
            (Some(Value::Switch(on)), _) => (if *on { "yes" } else { "no" }).to_owned(),
            (_, _) => field::VARIOUS.to_owned(),
        }
    }

    /// The owners to be edited: of members that share their row's pattern one stands for all.
    pub(super) fn targets(&self, apparatus: &Apparatus) -> Vec<String> {
        let shares_form = matches!(self.aim, Aim::Number(_) | Aim::Size(_) | Aim::Bottom);
        let mut rows: Vec<&str> = Vec::new();
        let mut targets: Vec<String> = Vec::new();
        for owner in &self.owners {
            if shares_form
                && let Some((row, member)) = apparatus.member(owner)
                && !row.departs(member)
            {
                if rows.contains(&row.name.as_str()) {
                    continue;
                }
                rows.push(&row.name);
            }
            targets.push(owner.clone());
        }
        targets
    }
}

/// What can be changed about these pieces together.
pub(super) fn of_pieces(apparatus: &Apparatus, names: &[String]) -> Vec<Entry> {
    let mut lists = names.iter().map(|name| of_piece(apparatus, name));
    let Some(mut common) = lists.next() else {
        return Vec::new();
    };
    for list in lists {
        common.retain_mut(|entry| {
            let same = list
                .iter()
                .find(|other| other.aim == entry.aim && other.label == entry.label && other.kind == entry.kind);
            let Some(other) = same else { return false };
            if entry.value != other.value {
                entry.value = None;
            }
            for owner in &other.owners {
                // Members share their row; everything else belongs to one piece.
                if entry.part != Part::Row || !entry.owners.contains(owner) {
                    entry.owners.push(owner.clone());
                }
            }
            true
        });
    }
    // A name is unique, and so belongs to one piece or row.
    common.retain(|entry| entry.aim != Aim::Name || entry.owners.len() == 1);
    common
}

/// What can be changed about a piece, its row included.
fn of_piece(apparatus: &Apparatus, name: &str) -> Vec<Entry> {
    let Some(piece) = apparatus.find(name) else {
        return Vec::new();
    };
    let mut list = List {
        owner: name.to_owned(),
        entries: Vec::new(),
    };
    let numbers = apparatus.parameters(name).unwrap_or_default();
    let (seat, form): (Vec<_>, Vec<_>) = numbers.into_iter().partition(|number| number.key.starts_with("seat."));
    list.form(&piece.form, matches!(piece.seat, Seat::Free { .. }), form);
    let member = apparatus.member(name);
    if member.is_none() {
        list.seat(&piece.seat, seat);
    }
    if let Some((row, _)) = member {
        list.owner.clone_from(&row.name);
        list.choice(Part::Row, Aim::Host(Footing::First), "Row: host", &row.first.host, true);
        let own = ["first.", "pitch_mm", "count"];
        let numbers = apparatus.parameters(&row.name).unwrap_or_default();
        for number in numbers
            .into_iter()
            .filter(|n| own.iter().any(|key| n.key.starts_with(key)))
        {
            let label = match number.key.as_str() {
                "first.at_mm" => "Row: first member at".to_owned(),
                "first.turn_deg" => "Row: turn from the host".to_owned(),
                _ => format!("Row: {}", number.label.to_lowercase()),
            };
            list.number(Part::Row, Aim::Number(number.key), &label, number.value, number.limit);
        }
        list.text(Part::Row, Aim::Name, "Row: name", &row.name);
        list.owner = name.to_owned();
    }
    let fills = apparatus.charge.fills.iter();
    let given = fills
        .filter(|fill| fill.piece == name)
        .fold(0.0, |sum, fill| sum + fill.volume_ml);
    list.number(Part::Liquid, Aim::Given, "Liquid: given", given, &limits::FILL);
    if member.is_none() {
        list.text(Part::Name, Aim::Name, "Name", name);
    }
    list.entries
}

struct List {
    owner: String,
    entries: Vec<Entry>,
}

impl List {
    fn add(&mut self, part: Part, aim: Aim, label: &str, value: Value, kind: Kind) {
        self.entries.push(Entry {
            part,
            aim,
            owners: vec![self.owner.clone()],
            label: label.to_owned(),
            value: Some(value),
            kind,
        });
    }

    fn number(&mut self, part: Part, aim: Aim, label: &str, value: f64, limit: &'static Limit) {
        self.add(part, aim, label, Value::Number(value), Kind::Number(limit));
    }

    fn choice(&mut self, part: Part, aim: Aim, label: &str, word: &str, is_searched: bool) {
        let value = Value::Text(word.to_owned());
        self.add(part, aim, label, value, Kind::Choice { is_searched });
    }

    fn text(&mut self, part: Part, aim: Aim, label: &str, text: &str) {
        self.add(part, aim, label, Value::Text(text.to_owned()), Kind::Text);
    }

    fn switch(&mut self, aim: Aim, label: &str, on: bool) {
        self.add(Part::Form, aim, label, Value::Switch(on), Kind::Switch);
    }

    /// The numbers of a form, outside diameter and wall joined to sizes, and its choices.
    fn form(&mut self, form: &Form, is_free: bool, numbers: Vec<param::Parameter>) {
        match form {
            Form::Bulb(bulb) => self.choice(Part::Form, Aim::Shape, "Shape", aim::shape_word(bulb.shape), false),
            Form::Fitting(fitting) => self.kind(&fitting.kind),
            Form::Bridge(bridge) => {
                self.choice(Part::Form, Aim::Route, "Route", aim::route_word(&bridge.route), false);
            }
            Form::Tube(tube) if is_free => self.end(false, "Start", &tube.start),
            Form::Tube(_) | Form::Ampoule(_) => {}
        }
        let mut diameter = 0.0;
        for number in numbers {
            if number.key.ends_with(".od_mm") {
                diameter = number.value;
            } else if let Some(key) = number.key.strip_suffix(".wall_mm") {
                let size = TubeSize::new(diameter, number.value);
                let label = number.label.replace(": wall", ": size");
                self.add(
                    Part::Form,
                    Aim::Size(key.to_owned()),
                    &label,
                    Value::Size(size),
                    Kind::Size,
                );
            } else {
                if number.key == "bottom.length_mm" {
                    self.bottom(form);
                }
                let aim = Aim::Number(number.key);
                self.number(Part::Form, aim, &number.label, number.value, number.limit);
            }
        }
        if !self.entries.iter().any(|entry| entry.aim == Aim::Bottom) {
            self.bottom(form);
        }
        if let Form::Tube(tube) = form {
            self.end(true, "End", &tube.end);
        }
    }

    fn bottom(&mut self, form: &Form) {
        if let Form::Ampoule(ampoule) = form {
            let word = aim::bottom_word(ampoule.bottom);
            self.choice(Part::Form, Aim::Bottom, "Bottom: shape", word, false);
        }
    }

    fn kind(&mut self, kind: &FittingKind) {
        self.choice(Part::Form, Aim::Kind, "Kind", aim::kind_word(kind), false);
        match kind {
            FittingKind::Stopcock { open } => self.switch(Aim::StopcockOpen, "Open", *open),
            FittingKind::Joint { designation, stoppered } => {
                self.choice(Part::Form, Aim::Joint, "Joint", designation, true);
                self.switch(Aim::Stoppered, "Stoppered", *stoppered);
            }
            FittingKind::VacuumPort | FittingKind::GasPort | FittingKind::Cap => {}
        }
    }

    fn end(&mut self, far: bool, label: &str, end: &End) {
        self.choice(Part::Form, Aim::End(far), label, aim::end_word(end), false);
        if let End::Joint { designation, stoppered } = end {
            self.choice(
                Part::Form,
                Aim::EndJoint(far),
                &format!("{label}: joint"),
                designation,
                true,
            );
            self.switch(Aim::EndStoppered(far), &format!("{label}: stoppered"), *stoppered);
        }
    }

    /// The seat: hosts before the numbers of their places.
    fn seat(&mut self, seat: &Seat, numbers: Vec<param::Parameter>) {
        let mut hosts: Vec<(Footing, &str, &str, &str)> = match seat {
            Seat::Free { .. } => vec![(Footing::Seat, "seat.", "Place: host", FREE)],
            Seat::On(place) => vec![(Footing::Seat, "seat.", "Place: host", &place.host)],
            Seat::Between { from, to } => vec![
                (Footing::From, "seat.from", "From: host", &from.host),
                (Footing::To, "seat.to", "To: host", &to.host),
            ],
        };
        for number in numbers {
            if let Some(i) = hosts.iter().position(|host| number.key.starts_with(host.1)) {
                let (footing, _, label, host) = hosts.remove(i);
                self.choice(Part::Place, Aim::Host(footing), label, host, true);
            }
            let label = match number.key.as_str() {
                "seat.x_mm" => "Place: to the right",
                "seat.y_mm" => "Place: upwards",
                "seat.heading_deg" => "Place: heading",
                _ => &number.label,
            };
            self.number(
                Part::Place,
                Aim::Number(number.key.clone()),
                label,
                number.value,
                number.limit,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    fn find<'a>(list: &'a [Entry], label: &str) -> &'a Entry {
        list.iter().find(|entry| entry.label == label).unwrap()
    }

    fn names(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| (*name).to_owned()).collect()
    }

    #[test]
    fn every_number_of_a_piece_has_an_entry_and_labels_are_unique() {
        let apparatus = sample::apparatus();
        for name in apparatus.names() {
            let list = of_pieces(&apparatus, std::slice::from_ref(&name));
            for number in apparatus.parameters(&name).unwrap() {
                let size = number.key.trim_end_matches(".od_mm").trim_end_matches(".wall_mm");
                let is_there = list.iter().any(|entry| match &entry.aim {
                    Aim::Number(key) => *key == number.key,
                    Aim::Size(key) => key == size,
                    _ => false,
                });
                assert!(is_there, "{name}: {}", number.key);
            }
            for (i, entry) in list.iter().enumerate() {
                assert!(
                    list[..i].iter().all(|other| other.label != entry.label),
                    "{name}: {}",
                    entry.label
                );
            }
        }
    }

    #[test]
    fn several_show_what_they_share_and_where_they_differ() {
        let apparatus = sample::apparatus();
        // The second member departs from the pattern with a body of 50 mm.
        let list = of_pieces(&apparatus, &names(&["vial-1", "vial-2", "vial-3"]));
        assert_eq!(find(&list, "Body: straight length").value, None);
        assert_eq!(find(&list, "Stem: length").value, Some(Value::Number(20.0)));
        assert_eq!(find(&list, "Row: pitch").owners, ["vial"]);
        assert_eq!(
            find(&list, "Body: straight length").targets(&apparatus),
            ["vial-1", "vial-2"]
        );
        assert_eq!(find(&list, "Liquid: given").targets(&apparatus).len(), 3);
        assert_eq!(
            find(&list, "Body: straight length").words(),
            "Body: straight length of 3 pieces"
        );
        let mixed = of_pieces(&apparatus, &names(&["vial-1", "pot"]));
        assert_eq!(find(&mixed, "Neck: size").value, None);
        assert!(
            mixed
                .iter()
                .all(|entry| entry.aim != Aim::Name && entry.label != "Stem: length")
        );
    }

    #[test]
    fn choices_bring_what_belongs_to_them() {
        let apparatus = sample::apparatus();
        let header = of_pieces(&apparatus, &names(&["header"]));
        assert_eq!(find(&header, "End: joint").value, Some(Value::Text("14/23".into())));
        assert_eq!(find(&header, "End: stoppered").value, Some(Value::Switch(false)));
        assert_eq!(find(&header, "Place: host").value, Some(Value::Text(FREE.into())));
        let bridge = of_pieces(&apparatus, &names(&["bridge"]));
        let hosts: Vec<_> = bridge.iter().filter(|e| matches!(e.aim, Aim::Host(_))).collect();
        assert_eq!(hosts.len(), 2);
        let pump = of_pieces(&apparatus, &names(&["pump"]));
        assert!(pump.iter().all(|entry| entry.label != "Start"));
    }
}
