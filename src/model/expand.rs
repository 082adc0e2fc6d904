//! Rows written out as pieces, and who sits on whom.

use super::{Ampoule, Apparatus, Form, Piece, Place, Row, Seat};
use std::collections::{HashMap, HashSet};

impl Row {
    /// Name of a member, counted from 1.
    pub fn member_name(&self, member: usize) -> String {
        format!("{}-{member}", self.name)
    }

    /// Names of the members in order.
    pub fn member_names(&self) -> impl Iterator<Item = String> {
        (1..=self.count).map(|member| self.member_name(member))
    }

    /// Number of the member of that name, if it is one of this row's.
    pub fn member_of_name(&self, name: &str) -> Option<usize> {
        let digits = name.strip_prefix(self.name.as_str())?.strip_prefix('-')?;
        let member: usize = digits.parse().ok()?;
        // `NAME-03` and `NAME-+3` are not names that this row gives.
        ((1..=self.count).contains(&member) && self.member_name(member) == name).then_some(member)
    }

    /// What a member is: its departure or the pattern.
    pub fn ampoule(&self, member: usize) -> &Ampoule {
        self.departures
            .iter()
            .find(|d| d.member == member)
            .map_or(&self.pattern, |d| &d.ampoule)
    }

    /// Whether a member departs from the pattern.
    pub fn departs(&self, member: usize) -> bool {
        self.departures.iter().any(|d| d.member == member)
    }

    /// Distance of a member along the host, mm.
    pub fn at_mm(&self, member: usize) -> f64 {
        self.first.at_mm + self.pitch_mm * member.saturating_sub(1) as f64
    }

    /// A member as a piece.
    pub fn member(&self, member: usize) -> Piece {
        Piece {
            name: self.member_name(member),
            seat: Seat::On(Place {
                at_mm: self.at_mm(member),
                ..self.first.clone()
            }),
            form: Form::Ampoule(self.ampoule(member).clone()),
        }
    }
}

impl Seat {
    /// The places on hosts that the seat names.
    pub fn places(&self) -> impl Iterator<Item = &Place> {
        let (one, two) = match self {
            Self::Free { .. } => (None, None),
            Self::On(place) => (Some(place), None),
            Self::Between { from, to } => (Some(from), Some(to)),
        };
        one.into_iter().chain(two)
    }

    /// The same, to be changed.
    pub fn places_mut(&mut self) -> impl Iterator<Item = &mut Place> {
        let (one, two) = match self {
            Self::Free { .. } => (None, None),
            Self::On(place) => (Some(place), None),
            Self::Between { from, to } => (Some(from), Some(to)),
        };
        one.into_iter().chain(two)
    }
}

impl Apparatus {
    /// Every piece in order, then the members of every row in order.
    pub fn expanded(&self) -> Vec<Piece> {
        let members = self
            .rows
            .iter()
            .flat_map(|row| (1..=row.count).map(|member| row.member(member)));
        self.pieces.iter().cloned().chain(members).collect()
    }

    /// Names of all pieces in the order of [`Apparatus::expanded`].
    pub fn names(&self) -> Vec<String> {
        let members = self
            .rows
            .iter()
            .flat_map(|row| (1..=row.count).map(|member| row.member_name(member)));
        self.pieces
            .iter()
            .map(|piece| piece.name.clone())
            .chain(members)
            .collect()
    }

    /// The piece of that name that is not a member of a row.
    pub fn piece(&self, name: &str) -> Option<&Piece> {
        self.pieces.iter().find(|piece| piece.name == name)
    }

    /// The row of that name.
    pub fn row(&self, name: &str) -> Option<&Row> {
        self.rows.iter().find(|row| row.name == name)
    }

    /// The row and number of the member of that name.
    pub fn member(&self, name: &str) -> Option<(&Row, usize)> {
        self.rows
            .iter()
            .find_map(|row| row.member_of_name(name).map(|member| (row, member)))
    }

    /// The piece or member of that name, as a piece.
    pub fn find(&self, name: &str) -> Option<Piece> {
        self.piece(name)
            .cloned()
            .or_else(|| self.member(name).map(|(row, member)| row.member(member)))
    }

    /// Names of the pieces and rows that sit on a piece or member, directly or through others, without itself.
    /// A bridge is a guest of both its hosts. For the name of a row: the guests of all its members.
    pub fn guests_of(&self, name: &str) -> Vec<String> {
        let mut guests_of: HashMap<&str, Vec<&str>> = HashMap::new();
        for piece in &self.pieces {
            for place in piece.seat.places() {
                guests_of.entry(place.host.as_str()).or_default().push(&piece.name);
            }
        }
        let rows: HashMap<&str, &Row> = self.rows.iter().map(|row| (row.name.as_str(), row)).collect();
        for row in &self.rows {
            guests_of.entry(row.first.host.as_str()).or_default().push(&row.name);
        }
        let mut seen: HashSet<&str> = HashSet::from([name]);
        let mut guests = Vec::new();
        let mut waiting: Vec<String> = vec![name.to_owned()];
        while let Some(host) = waiting.pop() {
            if let Some(row) = rows.get(host.as_str()) {
                waiting.extend((1..=row.count).map(|member| row.member_name(member)));
            }
            for &guest in guests_of.get(host.as_str()).into_iter().flatten() {
                if seen.insert(guest) {
                    guests.push(guest.to_owned());
                    waiting.push(guest.to_owned());
                }
            }
        }
        guests
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn members_are_named_and_placed_along_the_host() {
        let apparatus = sample::apparatus();
        assert_eq!(apparatus.names()[4..], ["vial-1", "vial-2", "vial-3"]);
        let member = apparatus.find("vial-3").unwrap();
        assert_eq!(member.seat, Seat::On(sample::on("header", 130.0, -90.0)));
        for name in [
            "vial-0",
            "vial-4",
            "vial-03",
            "vial-+1",
            "vial-",
            "vial",
            "vial-99999999999999999999",
        ] {
            assert!(apparatus.member(name).is_none(), "{name}");
        }
    }

    #[test]
    fn guests_follow_through_rows_and_bridges() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces[3].seat = Seat::On(sample::on("vial-3", 10.0, 90.0));
        let sorted = |name: &str| {
            let mut guests = apparatus.guests_of(name);
            guests.sort();
            guests
        };
        assert_eq!(sorted("header"), ["bridge", "pump", "vial"]);
        assert_eq!(sorted("vial"), ["pump"]);
        assert_eq!(sorted("vial-3"), ["pump"]);
        assert_eq!(sorted("pot"), ["bridge"]);
        assert!(sorted("nobody").is_empty());
    }
}
