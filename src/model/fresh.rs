//! New pieces: what the trade calls them, how they start out, and where on a host there is room for them.

use super::place::{Placed, Segment};
use super::{
    Ampoule, Apparatus, Bottom, Bridge, Bulb, BulbShape, Element, End, Fitting, FittingKind, Form, Piece, Place, Route,
    Row, Seat, Tube, TubeSize,
};
use std::collections::HashSet;

/// Least distance between the centres of two arms so that one is made without reheating the other, in outside
/// diameters of their host.
pub const ARM_PITCH_DIAMETERS: f64 = 2.5;
/// The same, mm: the greater of the two holds.
pub const ARM_PITCH_MM: f64 = 30.0;
/// Characters of a word that a name is made from.
const LONGEST_BASE: usize = 50;
/// How many places along a host are looked at before any will do.
const MOST_TRIES: usize = 4000;
/// Raster of free places along a host, mm.
const RASTER_MM: f64 = 5.0;

/// A kind of new piece.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A straight tube.
    Tube,
    /// A bulb on a neck.
    Bulb,
    /// A bridge between two pieces.
    Bridge,
    /// A single ampoule.
    Ampoule,
    /// A row of like ampoules.
    Row,
    /// A fitting.
    Fitting(FittingKind),
}

impl Kind {
    /// The word from which names are made.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Tube => "tube",
            Self::Bulb => "bulb",
            Self::Bridge => "bridge",
            Self::Ampoule => "ampoule",
            Self::Row => "vial",
            Self::Fitting(FittingKind::VacuumPort) => "pump",
            Self::Fitting(FittingKind::GasPort) => "gas",
            Self::Fitting(FittingKind::Stopcock { .. }) => "stopcock",
            Self::Fitting(FittingKind::Joint { .. }) => "joint",
            Self::Fitting(FittingKind::Cap) => "cap",
        }
    }

    /// What a new piece of this kind is; for a row, what its members are.
    pub fn form(&self) -> Form {
        let size = TubeSize::new(10.0, 1.0);
        match self {
            Self::Tube => Form::Tube(Tube {
                size: TubeSize::new(16.0, 1.2),
                course: vec![Element::Straight { length_mm: 120.0 }],
                start: End::Round,
                end: End::Round,
            }),
            Self::Bulb => Form::Bulb(Bulb {
                shape: BulbShape::Sphere,
                body: TubeSize::new(38.0, 1.4),
                neck: TubeSize::new(12.0, 1.0),
                neck_mm: 45.0,
            }),
            Self::Bridge => Form::Bridge(Bridge {
                size,
                bend_radius_mm: 25.0,
                route: Route::Arched { rise_mm: 45.0 },
            }),
            Self::Ampoule | Self::Row => Form::Ampoule(ampoule()),
            Self::Fitting(kind) => Form::Fitting(Fitting {
                kind: kind.clone(),
                size,
                length_mm: match kind {
                    FittingKind::VacuumPort | FittingKind::Stopcock { .. } => 60.0,
                    FittingKind::GasPort | FittingKind::Joint { .. } => 50.0,
                    FittingKind::Cap => 40.0,
                },
            }),
        }
    }
}

/// A new ampoule, as most are made from tube that every shop has.
fn ampoule() -> Ampoule {
    Ampoule {
        stem: TubeSize::new(8.0, 1.0),
        stem_mm: 20.0,
        funnel_mm: 15.0,
        neck: TubeSize::new(7.0, 1.0),
        neck_mm: 20.0,
        seal_mm: 10.0,
        shoulder_mm: 10.0,
        body: TubeSize::new(14.0, 1.0),
        body_mm: 25.0,
        bottom: Bottom::Round,
        target_ml: 1.5,
    }
}

/// Members of a new row where its host has room for them.
const MEMBERS: usize = 3;

impl Form {
    /// Outside diameter where it is joined to its host, mm.
    pub fn joined_od_mm(&self) -> f64 {
        match self {
            Self::Tube(tube) => tube.size.od_mm,
            Self::Bulb(bulb) => bulb.neck.od_mm,
            Self::Bridge(bridge) => bridge.size.od_mm,
            Self::Ampoule(ampoule) => ampoule.stem.od_mm,
            Self::Fitting(fitting) => fitting.size.od_mm,
        }
    }

    /// Greatest outside diameter, mm.
    pub fn greatest_od_mm(&self) -> f64 {
        let sizes = super::param::sizes_of(self);
        sizes.iter().map(|(_, size)| size.od_mm).fold(0.0, f64::max)
    }
}

impl Apparatus {
    /// A name that nothing has: the word itself, or the word and a number. A number after the name of a row would
    /// be taken for a member of it; then a letter follows.
    pub fn fresh_name(&self, word: &str) -> String {
        self.fresh_name_beside(word, &HashSet::new(), false)
    }

    /// The same for a row, whose members need names of their own.
    pub fn fresh_row_name(&self, word: &str) -> String {
        self.fresh_name_beside(word, &HashSet::new(), true)
    }

    /// The same, with names that are about to be given.
    pub(super) fn fresh_name_beside(&self, word: &str, given: &HashSet<String>, for_row: bool) -> String {
        let used = self.used_names(given);
        // Room for the number within the limit on names.
        let base: String = base_of(word).chars().take(LONGEST_BASE).collect();
        let numbered = (2..=used.len() + 2).map(|n| format!("{base}-{n}"));
        let lettered = (0..=used.len()).map(|n| format!("{base}-{}", letters(n)));
        let bare = std::iter::once(base.clone());
        let mut names = bare.chain(numbered.filter(|_| !for_row)).chain(lettered);
        names.find(|name| self.is_fresh(name, &used, for_row)).unwrap_or(base)
    }

    /// A name that is wanted where nothing has it, or else a fresh one made from it.
    pub(super) fn kept_or_fresh_name(&self, name: &str, given: &HashSet<String>, for_row: bool) -> String {
        if self.is_fresh(name, &self.used_names(given), for_row) {
            name.to_owned()
        } else {
            self.fresh_name_beside(name, given, for_row)
        }
    }

    fn used_names(&self, given: &HashSet<String>) -> HashSet<String> {
        let rows = self.rows.iter().map(|row| row.name.clone());
        self.names()
            .into_iter()
            .chain(rows)
            .chain(given.iter().cloned())
            .collect()
    }

    fn is_fresh(&self, name: &str, used: &HashSet<String>, for_row: bool) -> bool {
        let number = |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
        let mut heads = name.rsplit_once('-').into_iter();
        let looks_like_a_member = heads.any(|(head, tail)| number(tail) && self.row(head).is_some());
        let heads_a_number = |other: &String| {
            let rest = other.strip_prefix(name).and_then(|rest| rest.strip_prefix('-'));
            rest.is_some_and(number)
        };
        let heads_members = for_row && used.iter().any(heads_a_number);
        !(used.contains(name) || looks_like_a_member || heads_members)
    }

    /// A new piece of a kind on a seat; for a row see [`Apparatus::new_row`]. A tube that is fused to a host opens into
    /// it.
    pub fn new_piece(&self, kind: &Kind, seat: Seat) -> Piece {
        let mut form = kind.form();
        if let (Form::Tube(tube), Seat::On(_)) = (&mut form, &seat) {
            tube.start = End::Open;
        }
        Piece {
            name: self.fresh_name(kind.word()),
            seat,
            form,
        }
    }

    /// A new row from a place on, with as many members as its host has room for, three at most.
    pub fn new_row(&self, placed: &Placed, first: Place) -> Row {
        let pattern = ampoule();
        let host = placed.index(&first.host);
        let host_od = host.map_or(0.0, |i| placed.pieces[i].form.joined_od_mm());
        let length = host.map_or(0.0, |i| placed.lines[i].length_mm);
        let pitch_mm = up_to_raster(arm_pitch_mm(host_od).max(pattern.body.od_mm + 10.0));
        let room = ((length - host_od / 2.0 - first.at_mm) / pitch_mm).floor();
        let count = (1..=MEMBERS).rev().find(|n| (*n as f64 - 1.0) <= room).unwrap_or(1);
        Row {
            name: self.fresh_row_name(Kind::Row.word()),
            first,
            pitch_mm,
            count,
            pattern,
            departures: Vec::new(),
        }
    }

    /// The first place along a host, from `from_mm` on, where `span_mm` of it keep the distance of arms from
    /// everything that sits there. Places on the straight parts come first; where there is none at all, it is
    /// `from_mm` itself, brought within the host. `None` when there is no such host.
    pub fn free_place_mm(&self, placed: &Placed, host: &str, span_mm: f64, from_mm: f64) -> Option<f64> {
        let index = placed.index(host)?;
        let (line, form) = (&placed.lines[index], &placed.pieces[index].form);
        let od = form.joined_od_mm();
        let pitch = arm_pitch_mm(od);
        let taken: Vec<f64> = placed
            .pieces
            .iter()
            .flat_map(|piece| piece.seat.places())
            .filter(|place| place.host == host)
            .map(|place| place.at_mm)
            .collect();
        // An arm stands its host's width away from the ends.
        let (low, high) = (od, line.length_mm - od - span_mm);
        let mut bends = Vec::new();
        let mut along = 0.0;
        for segment in &line.segments {
            let length = segment.length_mm();
            if matches!(segment, Segment::Arc { .. }) {
                bends.push((along - od / 2.0, along + length + od / 2.0));
            }
            along += length;
        }
        let free = |at: f64| {
            taken
                .iter()
                .all(|other| *other <= at - pitch || *other >= at + span_mm + pitch)
        };
        let straight = |at: f64| bends.iter().all(|(from, to)| *to <= at || *from >= at + span_mm);
        let start = up_to_raster(low.max(from_mm));
        let raster = |from: f64| (0..MOST_TRIES).map(move |k| from + RASTER_MM * k as f64);
        let onwards = raster(start).take_while(|at| *at <= high);
        let before = raster(up_to_raster(low)).take_while(|at| *at < start.min(high));
        let tries: Vec<f64> = onwards.chain(before).filter(|at| free(*at)).collect();
        let best = tries.iter().copied().find(|at| straight(*at));
        let place = best.or_else(|| tries.first().copied());
        Some(place.unwrap_or(from_mm.clamp(0.0, line.length_mm.max(0.0))))
    }
}

/// Least distance between arms on a host of that outside diameter, mm.
fn arm_pitch_mm(host_od_mm: f64) -> f64 {
    ARM_PITCH_MM.max(ARM_PITCH_DIAMETERS * host_od_mm)
}

fn up_to_raster(mm: f64) -> f64 {
    (mm / RASTER_MM).ceil() * RASTER_MM
}

/// The word of a name without the number or letter that told it from others.
fn base_of(name: &str) -> &str {
    match name.rsplit_once('-') {
        Some((head, tail)) if !head.is_empty() && !tail.is_empty() && tail.bytes().all(|b| b.is_ascii_digit()) => head,
        _ => name,
    }
}

/// b, c, … z, ba, bb and so on.
fn letters(n: usize) -> String {
    let mut text = String::new();
    let mut rest = n + 1;
    loop {
        text.insert(0, char::from(b'a' + u8::try_from(rest % 26).unwrap_or(0)));
        rest /= 26;
        if rest == 0 {
            return text;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use crate::data;

    #[test]
    fn new_pieces_are_made_of_stock_and_hold_together() {
        let fittings = [
            FittingKind::VacuumPort,
            FittingKind::GasPort,
            FittingKind::Stopcock { open: true },
            FittingKind::Cap,
        ];
        let kinds = [Kind::Tube, Kind::Bulb, Kind::Ampoule].into_iter();
        let mut apparatus = Apparatus::default();
        for kind in kinds.chain(fittings.map(Kind::Fitting)) {
            let seat = Seat::Free {
                x_mm: 0.0,
                y_mm: 0.0,
                heading_deg: 0.0,
            };
            let piece = apparatus.new_piece(&kind, seat);
            for (key, size) in super::super::param::sizes_of(&piece.form) {
                assert!(data::stock(size.od_mm, size.wall_mm).is_some(), "{kind:?} {key}");
            }
            apparatus.pieces.push(piece);
        }
        assert!(apparatus.check().is_ok());
        assert_eq!(apparatus.names()[..3], ["tube", "bulb", "ampoule"]);
    }

    #[test]
    fn names_are_fresh_and_never_look_like_members() {
        let mut apparatus = sample::apparatus();
        assert_eq!(apparatus.fresh_name("tube"), "tube");
        assert_eq!(apparatus.fresh_name("header"), "header-2");
        // The row vial may get more members at any time.
        assert_eq!(apparatus.fresh_name("vial"), "vial-b");
        assert_eq!(apparatus.fresh_name("vial-2"), "vial-b");
        assert_eq!(apparatus.fresh_row_name("vial"), "vial-b");
        apparatus.pieces[0].name = "tube".into();
        apparatus.pieces[1].name = "tube-2".into();
        assert_eq!(apparatus.fresh_name("tube"), "tube-3");
        assert_eq!(apparatus.fresh_name("tube-2"), "tube-3");
        apparatus.pieces[1].name = "row-2".into();
        assert_eq!(apparatus.fresh_row_name("row"), "row-b", "row-2 would be its member");
        assert_eq!(
            (letters(0), letters(24), letters(25)),
            ("b".into(), "z".into(), "ba".into())
        );
    }

    #[test]
    fn free_places_keep_the_distance_of_arms() {
        let apparatus = sample::apparatus();
        let placed = apparatus.place().unwrap();
        // The header has arms at 20, 40, 85, 130 and 180 mm and a bend from 200 mm on; arms stand 40 mm apart.
        let at = apparatus.free_place_mm(&placed, "header", 0.0, 0.0).unwrap();
        assert!(
            [20.0, 40.0, 85.0, 130.0, 180.0]
                .iter()
                .all(|arm: &f64| (arm - at).abs() >= 40.0),
            "{at}"
        );
        assert!(at > 250.0, "not on the bend: {at}");
        let pot = apparatus.free_place_mm(&placed, "pot", 0.0, 0.0).unwrap();
        assert!((pot - 10.0).abs() >= 30.0, "{pot}");
        assert_eq!(apparatus.free_place_mm(&placed, "nobody", 0.0, 0.0), None);
        // No room for so much: it goes where it was asked for.
        assert_eq!(apparatus.free_place_mm(&placed, "header", 5000.0, 60.0), Some(60.0));
    }

    #[test]
    fn a_new_row_has_the_members_that_fit() {
        let mut apparatus = Apparatus::default();
        let seat = Seat::Free {
            x_mm: 0.0,
            y_mm: 0.0,
            heading_deg: 0.0,
        };
        apparatus.pieces.push(apparatus.new_piece(&Kind::Tube, seat));
        let placed = apparatus.place().unwrap();
        let row = apparatus.new_row(&placed, sample::on("tube", 20.0, -90.0));
        assert_eq!((row.count, row.pitch_mm), (3, 40.0));
        let row = apparatus.new_row(&placed, sample::on("tube", 90.0, -90.0));
        assert_eq!(row.count, 1);
        apparatus.rows.push(row);
        assert!(apparatus.check().is_ok());
    }
}
