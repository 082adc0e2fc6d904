//! The workshop drawing: the glass to a standard scale, dimensioned by its centrelines, with a title block, tolerances and
//! notes. On paper it lies on one page; pieces whose dimensions found no room there are shown again, larger and each by
//! itself, on further pages, and what has no room even so is listed. As one sheet it is full size and as large as it must
//! be.

use super::details::{self, Item};
use super::header::Heading;
use super::page::{Page, Paper, Point};
use super::plate::Plate;
use super::title_block::{self, Facts};
use super::view::View;
use crate::geom::build::Built;
use crate::model::place::heading_deg;
use crate::model::{Apparatus, Form};
use crate::out::dimensions::{self, Dimension};
use crate::units::LengthUnit;
use nalgebra::Vector2;

/// Scales that are tried, the largest first: millimetres of paper for one of glass, and their names. Those of ISO 5455, and
/// between 1:2 and 1:5, where most glass falls, the intermediate ones that it allows.
const SCALES: [(f64, &str); 9] = [
    (2.0, "2:1"),
    (1.0, "1:1"),
    (0.5, "1:2"),
    (0.4, "1:2.5"),
    (1.0 / 3.0, "1:3"),
    (0.25, "1:4"),
    (0.2, "1:5"),
    (0.1, "1:10"),
    (0.05, "1:20"),
];
/// Frame: distance from the edge, mm; wider at the left, where the sheet is filed.
const EDGE: (f64, f64) = (20.0, 10.0);
/// Space about a view, mm.
const SPACE: f64 = 6.0;
/// Least width of a sheet that is as large as it must be, mm: title block and notes stand beside each other.
const LEAST_WIDTH: f64 = 297.0;
/// How much larger the lettering of a drawing in full size may be than that of one on paper.
const LETTERING: [f64; 3] = [1.4, 2.0, 3.0];
/// Width of what is not drawn, in words, where it stands beside details, mm.
const NOTE_WIDTH: f64 = 120.0;

/// The drawing on paper: the whole first, then details.
pub fn pages(plate: &Plate<'_>, apparatus: &Apparatus, heading: &Heading, paper: Paper) -> Vec<Page> {
    let size = paper.landscape();
    let frame = [Point::new(EDGE.0, EDGE.1), size - Vector2::repeat(EDGE.1)];
    let area = [frame[0], frame[1] - Vector2::new(0.0, title_block::HEIGHT)];
    let wanted = survey(plate, apparatus);
    let room = area[1] - area[0] - Vector2::repeat(SPACE);
    let (view, scale) = fitted(plate, &wanted, &SCALES, room, None);
    let (own, mut missing): (Vec<&Dimension>, Vec<&Dimension>) = view.left_out().partition(|one| is_own(one));
    let pieces = 0..plate.built.names.len();
    let crowded = pieces.filter(|piece| own.iter().any(|dimension| dimension.piece == *piece));
    let alone: Vec<Alone> = crowded
        .map(|piece| Alone::of(plate, apparatus, &wanted, piece))
        .collect();
    let plates: Vec<Plate<'_>> = alone.iter().map(|one| Plate::of(&one.built)).collect();
    let mut items = Vec::with_capacity(alone.len());
    for (one, plate) in alone.iter().zip(&plates) {
        let (view, scale) = detail(plate, one, area[1] - area[0]);
        missing.extend(view.left_out());
        items.push(Item::view(format!("{} {scale}", one.title), view));
    }
    let mut page = Page::new(size);
    page.bookmark = Some(heading.sheet.clone());
    let whole = area[1] - area[0];
    let height = |notes: &[Item<'_>]| notes.iter().map(|note| note.size().y).sum::<f64>();
    // Below the view there is room for a few words; more of them go with the details.
    let few = height(&notes(&missing, &[String::new()], whole.x, f64::INFINITY));
    let has_room = view.size().y + SPACE + few <= whole.y;
    let foot = if has_room { area[1].y - few } else { area[1].y };
    let nameless = view.draw(&mut page, [area[0], Point::new(area[1].x, foot)]);
    if has_room {
        for note in notes(&missing, &nameless, whole.x, f64::INFINITY) {
            note.draw(&mut page, Point::new(area[0].x, foot));
        }
    } else {
        items.extend(notes(&missing, &nameless, NOTE_WIDTH, whole.y));
    }
    let mut pages = vec![page];
    pages.extend(details::pages(&items, size, area));
    let count = pages.len();
    for (i, page) in pages.iter_mut().enumerate() {
        let scale = if i == 0 { scale } else { "as stated" };
        let scale = format!("{scale} on {}", paper.name());
        let facts = Facts::of(apparatus, heading, &scale, [i + 1, count]);
        title_block::draw(page, frame, &facts);
    }
    pages
}

/// The drawing as one sheet in full size.
pub fn whole(plate: &Plate<'_>, apparatus: &Apparatus, heading: &Heading) -> Page {
    let wanted = survey(plate, apparatus);
    let (view, larger) = lettered(plate, &wanted);
    let missing: Vec<&Dimension> = view.left_out().collect();
    // Names may stand beyond the dimensions.
    let about = (view.size() + Vector2::repeat(6.0 * SPACE)) * larger;
    let about = Vector2::new(about.x.max(LEAST_WIDTH - EDGE.0 - EDGE.1), about.y);
    let corner = Point::new(EDGE.0, EDGE.1);
    let mut figure = Page::new(about);
    let nameless = view.draw(&mut figure, [Point::zeros(), about / larger]);
    let notes = notes(&missing, &nameless, about.x, f64::INFINITY);
    let foot: f64 = notes.iter().map(|note| note.size().y).sum();
    let size = corner + about + Vector2::new(EDGE.1, EDGE.1 + foot + title_block::HEIGHT);
    let mut page = Page::new(size);
    page.bookmark = Some(heading.sheet.clone());
    let parts = figure.parts.into_iter();
    page.parts.extend(parts.map(|part| part.enlarged(larger).moved(corner)));
    for note in &notes {
        note.draw(&mut page, corner + Vector2::new(0.0, about.y));
    }
    let facts = Facts::of(apparatus, heading, "1:1", [1, 1]);
    title_block::draw(&mut page, [corner, size - Vector2::repeat(EDGE.1)], &facts);
    page
}

/// The view whose lettering, in a drawing of full size, leaves out the fewest dimensions: small lettering stands in the
/// glass, large lettering reaches far beside it. Gives how much larger than the view the drawing is.
fn lettered<'a>(plate: &'a Plate<'a>, wanted: &'a [Dimension]) -> (View<'a>, f64) {
    let count = |view: &View<'_>| view.left_out().count();
    let mut best = (View::of(plate, wanted, 1.0, 0.0, true), 1.0);
    for larger in LETTERING {
        if count(&best.0) == 0 {
            break;
        }
        let view = View::of(plate, wanted, 1.0 / larger, 0.0, true);
        if count(&view) < count(&best.0) {
            best = (view, larger);
        }
    }
    best
}

fn survey(plate: &Plate<'_>, apparatus: &Apparatus) -> Vec<Dimension> {
    let pieces: Vec<usize> = (0..plate.built.placed.pieces.len()).collect();
    dimensions::survey(apparatus, &plate.built.placed, &pieces)
}

/// The view at the largest of the scales at which it has room, and the scale's name; at the least one where it never has.
/// A view of a piece alone is turned by the angle given.
fn fitted<'a>(
    plate: &'a Plate<'a>,
    wanted: &'a [Dimension],
    scales: &[(f64, &'static str)],
    room: Vector2<f64>,
    alone_deg: Option<f64>,
) -> (View<'a>, &'static str) {
    let turn_deg = alone_deg.unwrap_or(0.0);
    let [low, high] = plate.extent(turn_deg.to_radians());
    let extent = high - low;
    let (least, name) = SCALES[SCALES.len() - 1];
    let view = |scale: f64| View::of(plate, wanted, scale, turn_deg, alone_deg.is_none());
    // Where the glass alone is too large nothing need be laid out.
    let possible = scales
        .iter()
        .filter(|(scale, _)| extent.x * scale <= room.x && extent.y * scale <= room.y);
    let mut tries = possible.map(|&(scale, name)| (view(scale), name));
    let found = tries.find(|(view, _)| view.size().x <= room.x && view.size().y <= room.y);
    found.unwrap_or_else(|| (view(least), name))
}

/// A piece by itself, with its own dimensions.
struct Alone {
    built: Built,
    wanted: Vec<Dimension>,
    turn_deg: f64,
    title: String,
}

impl Alone {
    fn of(plate: &Plate<'_>, apparatus: &Apparatus, all: &[Dimension], piece: usize) -> Self {
        let own = all
            .iter()
            .filter(|dimension| dimension.piece == piece && is_own(dimension));
        Self {
            wanted: own.cloned().collect(),
            turn_deg: turn_of(plate.built, piece),
            title: called(apparatus, &plate.built.names[piece]),
            built: alone(plate.built, piece),
        }
    }
}

/// The view of a piece by itself: no larger than the glass, beside another one where it is not too small so.
fn detail<'a>(plate: &'a Plate<'a>, one: &'a Alone, area: Vector2<f64>) -> (View<'a>, &'static str) {
    let room = area - Item::about_a_view();
    let scales = &SCALES[1..];
    let half = Vector2::new(room.x / 2.0 - SPACE, room.y);
    let beside = fitted(plate, &one.wanted, scales, half, Some(one.turn_deg));
    if beside.0.scale() >= 0.5 {
        return beside;
    }
    fitted(plate, &one.wanted, scales, room, Some(one.turn_deg))
}

/// What is not drawn, in words over a width, in parts no higher than there is room, mm; none when all is.
fn notes<'a>(missing: &[&Dimension], nameless: &[String], width: f64, room: f64) -> Vec<Item<'a>> {
    let told = missing.iter().map(|dimension| {
        let text = dimension.text(LengthUnit::Millimetre);
        let unit = if text.ends_with('\u{b0}') { "" } else { " mm" };
        format!("{}: {text}{unit}", dimension.name)
    });
    let told: Vec<String> = told.chain(nameless.iter().cloned()).collect();
    if told.is_empty() {
        return Vec::new();
    }
    let text = format!("Not drawn for want of room. {}.", told.join("; "));
    Item::notes(&text, width, room)
}

/// Whether a dimension is measured on its piece alone, not from another one.
fn is_own(dimension: &Dimension) -> bool {
    let places = ["at_mm", "turn_deg", "pitch_mm"];
    let sets_place = |key: &str| {
        places
            .iter()
            .any(|place| key == *place || key.ends_with(&format!(".{place}")))
    };
    !dimension.knobs.is_empty() && !dimension.knobs.iter().any(|knob| sets_place(&knob.key))
}

/// What was built of one piece.
fn alone(built: &Built, piece: usize) -> Built {
    let of = |shapes: &[crate::geom::Primitive]| shapes.iter().filter(|s| s.piece == piece).copied().collect();
    Built {
        names: built.names.clone(),
        primitives: of(&built.primitives),
        outsides: of(&built.outsides),
        ports: Vec::new(),
        glass: built
            .glass
            .iter()
            .filter(|glass| glass.piece == piece)
            .cloned()
            .collect(),
        placed: built.placed.clone(),
    }
}

/// A vessel is drawn hanging down; the rest as it stands.
fn turn_of(built: &Built, piece: usize) -> f64 {
    let placed = &built.placed;
    match (placed.pieces.get(piece), placed.lines.get(piece)) {
        (Some(known), Some(line)) if matches!(known.form, Form::Ampoule(_) | Form::Bulb(_)) => {
            -90.0 - heading_deg(line.end().at - line.start.at)
        }
        _ => 0.0,
    }
}

/// A piece by its name, and by its row where others are like it.
fn called(apparatus: &Apparatus, name: &str) -> String {
    let row = apparatus
        .rows
        .iter()
        .find(|row| row.member_names().any(|member| member == name));
    match row {
        Some(row) if row.departures.is_empty() && row.count > 1 => {
            format!("{} to {}, alike", row.member_name(1), row.member_name(row.count))
        }
        _ => name.to_owned(),
    }
}
