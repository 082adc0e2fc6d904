//! What an apparatus must satisfy to be handled at all; what is merely doubtful is left to the findings.
//!
//! Each fault names its holder, the key within it, the value and the limit.

use super::limits::{self, Limit};
use super::param;
use super::{Ampoule, Apparatus, Bottom, Element, Form, Piece, Place, Seat, TubeSize};
use std::collections::{HashMap, HashSet};
use std::fmt;
use thiserror::Error;

/// What holds the value at fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Holder {
    /// The apparatus itself.
    Whole,
    /// One of the user's own tube sizes, by position.
    OwnSize(usize),
    /// A piece, by position and name.
    Piece(usize, String),
    /// A row, by position and name.
    Row(usize, String),
    /// A departure of a row: position and name of the row, position of the departure.
    Departure(usize, String, usize),
    /// The charge.
    Charge,
    /// The run.
    Run,
    /// The job.
    Job,
}

impl fmt::Display for Holder {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Whole => f.write_str("apparatus"),
            Self::OwnSize(i) => write!(f, "own tube size {}", i + 1),
            Self::Piece(_, name) | Self::Row(_, name) => write!(f, "\"{name}\""),
            Self::Departure(_, name, i) => write!(f, "\"{name}\", departure {}", i + 1),
            Self::Charge => f.write_str("charge"),
            Self::Run => f.write_str("run"),
            Self::Job => f.write_str("job"),
        }
    }
}

/// A fault with its place.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{holder}: {key}: {wrong}")]
pub struct Fault {
    /// What holds the value.
    pub holder: Holder,
    /// Key of the value within the holder, as in [`param`].
    pub key: String,
    /// What is wrong with it.
    pub wrong: Wrong,
}

/// What can be wrong.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Wrong {
    /// A number outside its limit, or not a number.
    #[error("{value} is outside the limit of the {}, {limit}", limit.label)]
    Range {
        /// The value.
        value: f64,
        /// Its limit.
        limit: &'static Limit,
    },
    /// Too many things, or a text too long or empty.
    #[error("{count} {}; the limit is {limit}", limit.label)]
    Count {
        /// How many there are.
        count: usize,
        /// The limit.
        limit: &'static Limit,
    },
    /// A wall that leaves no bore.
    #[error("outside diameter {od_mm} mm and wall {wall_mm} mm leave a bore of {bore_mm:.3} mm; the least is {} mm", limits::BORE.min)]
    Bore {
        /// Outside diameter, mm.
        od_mm: f64,
        /// Wall, mm.
        wall_mm: f64,
        /// What is left, mm.
        bore_mm: f64,
    },
    /// A bend whose bore would cross itself.
    #[error("bend radius {radius_mm} mm is less than half the bore, {half_bore_mm} mm")]
    Bend {
        /// Radius of the centreline, mm.
        radius_mm: f64,
        /// Radius of the bore, mm.
        half_bore_mm: f64,
    },
    /// A length used up by the walls in it.
    #[error("length {length_mm} mm leaves no room inside walls of {wall_mm} mm")]
    NoRoom {
        /// The length, mm.
        length_mm: f64,
        /// The wall, mm.
        wall_mm: f64,
    },
    /// A name used before.
    #[error("the name \"{0}\" is used before")]
    Duplicate(String),
    /// A name or text with line breaks or other control characters, or with blanks at its ends.
    #[error("{0:?} has control characters or outer blanks")]
    Text(String),
    /// A reference to a piece that does not exist.
    #[error("there is no piece \"{0}\"")]
    Missing(String),
    /// Temperatures that do not grow along a list.
    #[error("temperatures have to grow along the list; {t_c} does not")]
    Unordered {
        /// The temperature, degrees Celsius.
        t_c: f64,
    },
    /// Hosts that stand on each other in a ring.
    #[error("its hosts form a ring: {}", .0.join(" on "))]
    Ring(Vec<String>),
    /// A bridge that is not between two places, or another piece that is.
    #[error("a bridge, and only a bridge, stands between two places")]
    Seat,
    /// A departure of a member that the row does not have, or a second one of the same member.
    #[error("member {member} is not one of the row's {count}, or departs twice")]
    Member {
        /// Number of the member.
        member: usize,
        /// Members of the row.
        count: usize,
    },
    /// A piece to be sealed off that has no place for it.
    #[error("\"{0}\" has no seal-off place")]
    NoSeal(String),
    /// A piece sealed off a second time.
    #[error("\"{0}\" is sealed off before")]
    SealedTwice(String),
}

impl Fault {
    pub(super) fn new(holder: &Holder, key: impl Into<String>, wrong: Wrong) -> Self {
        Self {
            holder: holder.clone(),
            key: key.into(),
            wrong,
        }
    }
}

impl Apparatus {
    /// Checks everything that must hold, in time near linear in the size of the design.
    ///
    /// # Errors
    /// The first fault found.
    pub fn check(&self) -> Result<(), Fault> {
        self.check_counts()?;
        check_text(&Holder::Whole, "title", &self.title)?;
        for (i, own) in self.own_stock.iter().enumerate() {
            let holder = Holder::OwnSize(i);
            check_value(&holder, "od_mm", own.tube.od_mm, &limits::OD)?;
            check_value(&holder, "wall_mm", own.tube.wall_mm, &limits::WALL)?;
            check_bore(&holder, "od_mm", own.tube)?;
            check_text(&holder, "note", &own.note)?;
        }
        for (i, piece) in self.pieces.iter().enumerate() {
            check_piece(&Holder::Piece(i, piece.name.clone()), piece)?;
        }
        for (i, row) in self.rows.iter().enumerate() {
            let holder = Holder::Row(i, row.name.clone());
            check_name(&holder, &row.name)?;
            for parameter in param::of_row(row) {
                check_value(&holder, &parameter.key, parameter.value, parameter.limit)?;
            }
            check_ampoule(&holder, &row.pattern)?;
            let mut seen = HashSet::new();
            for (k, departure) in row.departures.iter().enumerate() {
                let holder = Holder::Departure(i, row.name.clone(), k);
                let member = departure.member;
                if !(1..=row.count).contains(&member) || !seen.insert(member) {
                    return Err(Fault::new(
                        &holder,
                        "member",
                        Wrong::Member {
                            member,
                            count: row.count,
                        },
                    ));
                }
                for parameter in param::of_ampoule(&departure.ampoule) {
                    check_value(&holder, &parameter.key, parameter.value, parameter.limit)?;
                }
                check_ampoule(&holder, &departure.ampoule)?;
            }
        }
        self.check_references()
    }

    fn check_counts(&self) -> Result<(), Fault> {
        let members = self.rows.iter().fold(0usize, |sum, row| sum.saturating_add(row.count));
        for (key, count, limit) in [
            ("rows", self.rows.len(), &limits::ROWS),
            ("pieces", self.pieces.len().saturating_add(members), &limits::PIECES),
            ("own_stock", self.own_stock.len(), &limits::OWN_SIZES),
            ("charge.fills", self.charge.fills.len(), &limits::FILLS),
        ] {
            check_count(&Holder::Whole, key, count, limit)?;
        }
        Ok(())
    }

    /// Names, hosts, fills and the run.
    fn check_references(&self) -> Result<(), Fault> {
        let mut used: HashSet<String> = HashSet::new();
        let mut index: HashMap<String, usize> = HashMap::new();
        for (i, piece) in self.pieces.iter().enumerate() {
            if !used.insert(piece.name.clone()) {
                let holder = Holder::Piece(i, piece.name.clone());
                return Err(Fault::new(&holder, "name", Wrong::Duplicate(piece.name.clone())));
            }
            index.insert(piece.name.clone(), i);
        }
        for (i, row) in self.rows.iter().enumerate() {
            // A row stands for its members when hosts are followed.
            let node = self.pieces.len() + i;
            for name in (1..=row.count)
                .map(|member| row.member_name(member))
                .chain([row.name.clone()])
            {
                if !used.insert(name.clone()) {
                    return Err(Fault::new(
                        &Holder::Row(i, row.name.clone()),
                        "name",
                        Wrong::Duplicate(name),
                    ));
                }
                index.insert(name, node);
            }
            index.remove(&row.name);
        }
        let mut hosts: Vec<Vec<usize>> = Vec::with_capacity(self.pieces.len() + self.rows.len());
        for (i, piece) in self.pieces.iter().enumerate() {
            let holder = Holder::Piece(i, piece.name.clone());
            let keys: &[&str] = match piece.seat {
                Seat::Between { .. } => &["seat.from.host", "seat.to.host"],
                _ => &["seat.host"],
            };
            let places = keys.iter().copied().zip(piece.seat.places());
            hosts.push(
                places
                    .map(|(key, place)| host_of(&index, &holder, key, place))
                    .collect::<Result<_, _>>()?,
            );
        }
        for (i, row) in self.rows.iter().enumerate() {
            hosts.push(vec![host_of(
                &index,
                &Holder::Row(i, row.name.clone()),
                "first.host",
                &row.first,
            )?]);
        }
        if let Some(ring) = ring(&hosts) {
            let name = |node: usize| match self.pieces.get(node) {
                Some(piece) => piece.name.clone(),
                None => self.rows[node - self.pieces.len()].name.clone(),
            };
            let first = ring[0];
            let holder = match self.pieces.get(first) {
                Some(piece) => Holder::Piece(first, piece.name.clone()),
                None => Holder::Row(first - self.pieces.len(), name(first)),
            };
            // Ten names show a ring well enough.
            let names = ring.iter().take(10).map(|&node| name(node)).collect();
            return Err(Fault::new(&holder, "seat", Wrong::Ring(names)));
        }
        check_text(&Holder::Charge, "liquid", &self.charge.liquid)?;
        for (i, fill) in self.charge.fills.iter().enumerate() {
            check_value(
                &Holder::Charge,
                &format!("fills.{i}.volume_ml"),
                fill.volume_ml,
                &limits::FILL,
            )?;
            if !index.contains_key(&fill.piece) {
                let wrong = Wrong::Missing(fill.piece.clone());
                return Err(Fault::new(&Holder::Charge, format!("fills.{i}.piece"), wrong));
            }
        }
        self.job.check()?;
        self.check_run(|name| index.contains_key(name))
    }
}

fn host_of(index: &HashMap<String, usize>, holder: &Holder, key: &str, place: &Place) -> Result<usize, Fault> {
    index
        .get(&place.host)
        .copied()
        .ok_or_else(|| Fault::new(holder, key, Wrong::Missing(place.host.clone())))
}

/// A ring in the graph of hosts, if there is one: nodes without a host are taken away until none is left.
fn ring(hosts: &[Vec<usize>]) -> Option<Vec<usize>> {
    let mut waiting: Vec<usize> = hosts.iter().map(Vec::len).collect();
    let mut guests: Vec<Vec<usize>> = vec![Vec::new(); hosts.len()];
    for (node, list) in hosts.iter().enumerate() {
        for &host in list {
            guests[host].push(node);
        }
    }
    let mut free: Vec<usize> = (0..hosts.len()).filter(|&node| waiting[node] == 0).collect();
    while let Some(node) = free.pop() {
        for &guest in &guests[node] {
            waiting[guest] -= 1;
            if waiting[guest] == 0 {
                free.push(guest);
            }
        }
    }
    // Every node left waits for a host that is also left: following those must come round.
    let mut node = (0..hosts.len()).find(|&node| waiting[node] > 0)?;
    let mut path: Vec<usize> = Vec::new();
    let mut place: HashMap<usize, usize> = HashMap::new();
    loop {
        if let Some(&start) = place.get(&node) {
            let mut ring = path.split_off(start);
            ring.push(node);
            return Some(ring);
        }
        place.insert(node, path.len());
        path.push(node);
        node = hosts[node].iter().copied().find(|&host| waiting[host] > 0)?;
    }
}

pub(super) fn check_value(holder: &Holder, key: &str, value: f64, limit: &'static Limit) -> Result<(), Fault> {
    if limit.allows(value) {
        Ok(())
    } else {
        Err(Fault::new(holder, key, Wrong::Range { value, limit }))
    }
}

pub(super) fn check_count(holder: &Holder, key: &str, count: usize, limit: &'static Limit) -> Result<(), Fault> {
    if limit.allows_count(count) {
        Ok(())
    } else {
        Err(Fault::new(holder, key, Wrong::Count { count, limit }))
    }
}

fn check_bore(holder: &Holder, key: &str, size: TubeSize) -> Result<(), Fault> {
    let bore_mm = size.bore_mm();
    if limits::BORE.allows(bore_mm) {
        return Ok(());
    }
    Err(Fault::new(
        holder,
        key,
        Wrong::Bore {
            od_mm: size.od_mm,
            wall_mm: size.wall_mm,
            bore_mm,
        },
    ))
}

pub(super) fn check_text(holder: &Holder, key: &str, text: &str) -> Result<(), Fault> {
    check_count(holder, key, text.chars().count(), &limits::TEXT)?;
    if text.chars().any(char::is_control) {
        return Err(Fault::new(holder, key, Wrong::Text(text.to_owned())));
    }
    Ok(())
}

fn check_name(holder: &Holder, name: &str) -> Result<(), Fault> {
    let count = name.chars().count();
    if name.is_empty() || !limits::NAME.allows_count(count) {
        return Err(Fault::new(
            holder,
            "name",
            Wrong::Count {
                count,
                limit: &limits::NAME,
            },
        ));
    }
    if name.chars().any(char::is_control) || name.trim() != name {
        return Err(Fault::new(holder, "name", Wrong::Text(name.to_owned())));
    }
    Ok(())
}

fn check_piece(holder: &Holder, piece: &Piece) -> Result<(), Fault> {
    check_name(holder, &piece.name)?;
    if matches!(piece.form, Form::Bridge(_)) != matches!(piece.seat, Seat::Between { .. }) {
        return Err(Fault::new(holder, "seat", Wrong::Seat));
    }
    match &piece.form {
        Form::Tube(tube) => check_count(holder, "course", tube.course.len(), &limits::ELEMENTS)?,
        Form::Bridge(bridge) => {
            if let super::Route::Via { corners_mm } = &bridge.route {
                check_count(holder, "corners", corners_mm.len(), &limits::CORNERS)?;
            }
        }
        _ => {}
    }
    for parameter in param::of_piece(piece) {
        check_value(holder, &parameter.key, parameter.value, parameter.limit)?;
    }
    for (key, designation) in param::joints_of(&piece.form) {
        check_text(holder, key, designation)?;
    }
    match &piece.form {
        Form::Ampoule(ampoule) => return check_ampoule(holder, ampoule),
        form => {
            for (key, size) in param::sizes_of(form) {
                check_bore(holder, &format!("{key}.od_mm"), size)?;
            }
        }
    }
    match &piece.form {
        Form::Tube(tube) => {
            let mut present = tube.size;
            for (i, element) in tube.course.iter().enumerate() {
                match *element {
                    Element::Straight { .. } | Element::Neck { .. } => {}
                    Element::Bend { radius_mm, .. } => {
                        check_bend(holder, &format!("course.{i}.radius_mm"), radius_mm, present)?;
                    }
                    Element::Taper { to, .. } => present = to,
                    Element::Bulb { size, length_mm } => {
                        check_room(holder, &format!("course.{i}.length_mm"), length_mm, 2.0 * size.wall_mm)?;
                    }
                }
            }
            Ok(())
        }
        Form::Bridge(bridge) => check_bend(holder, "bend_radius_mm", bridge.bend_radius_mm, bridge.size),
        _ => Ok(()),
    }
}

fn check_ampoule(holder: &Holder, ampoule: &Ampoule) -> Result<(), Fault> {
    check_bore(holder, "stem.od_mm", ampoule.stem)?;
    check_bore(holder, "neck.od_mm", ampoule.neck)?;
    check_bore(holder, "body.od_mm", ampoule.body)?;
    match ampoule.bottom {
        Bottom::Flat => check_room(holder, "body_mm", ampoule.body_mm, ampoule.body.wall_mm),
        Bottom::Round | Bottom::Conical { .. } => Ok(()),
    }
}

fn check_bend(holder: &Holder, key: &str, radius_mm: f64, size: TubeSize) -> Result<(), Fault> {
    let half_bore_mm = size.bore_mm() / 2.0;
    if radius_mm >= half_bore_mm {
        return Ok(());
    }
    Err(Fault::new(
        holder,
        key,
        Wrong::Bend {
            radius_mm,
            half_bore_mm,
        },
    ))
}

fn check_room(holder: &Holder, key: &str, length_mm: f64, wall_mm: f64) -> Result<(), Fault> {
    if length_mm - wall_mm >= limits::BORE.min {
        return Ok(());
    }
    Err(Fault::new(holder, key, Wrong::NoRoom { length_mm, wall_mm }))
}
