//! The workshop drawing: the glass to a standard scale on one lying page, dimensioned by its centrelines, with a title
//! block, tolerances and notes. Pieces whose dimensions found no room there are shown again, larger and each by itself,
//! on further pages; what has no room even so is listed.

use super::header::Heading;
use super::leaf::{Block, Leaf, Table};
use super::page::{Anchor, Page, Paper, Part, Point, Role, Text};
use super::plate::Plate;
use super::title_block;
use super::view::View;
use crate::geom::build::Built;
use crate::model::place::heading_deg;
use crate::model::{Apparatus, Form};
use crate::out::dimensions::{self, Dimension};
use crate::units::LengthUnit;
use nalgebra::Vector2;

/// Scales of ISO 5455 that are tried, the largest first: millimetres of paper for one of glass, and their names.
const SCALES: [(f64, &str); 6] = [
    (2.0, "2:1"),
    (1.0, "1:1"),
    (0.5, "1:2"),
    (0.2, "1:5"),
    (0.1, "1:10"),
    (0.05, "1:20"),
];
/// Frame: distance from the edge, mm; wider at the left, where the sheet is filed.
const EDGE: (f64, f64) = (20.0, 10.0);
/// Space about a view, and height of the title of a detail, mm.
const SPACE: f64 = 6.0;
const TITLE: f64 = 7.0;

/// A finished drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// The pages: the whole first, then details.
    pub pages: Vec<Page>,
    /// Millimetres of paper for one of glass on the first page.
    pub scale: f64,
    /// What found no room on any page; no leaf when there is no such thing.
    pub left_out: Option<Leaf>,
}

/// Makes the drawing.
pub fn drawing(plate: &Plate<'_>, apparatus: &Apparatus, heading: &Heading, paper: Paper) -> Finished {
    let size = paper.landscape();
    let frame = [Point::new(EDGE.0, EDGE.1), size - Vector2::repeat(EDGE.1)];
    let area = [frame[0], frame[1] - Vector2::new(0.0, title_block::HEIGHT)];
    let pieces: Vec<usize> = (0..plate.built.placed.pieces.len()).collect();
    let wanted = dimensions::survey(apparatus, &plate.built.placed, &pieces);
    let room = area[1] - area[0] - Vector2::repeat(SPACE);
    let (view, scale) = fitted(plate, &wanted, &SCALES, room, None);
    let mut page = Page::new(size);
    page.bookmark = Some(heading.sheet.clone());
    view.draw(&mut page, area);

    let left_out: Vec<&Dimension> = view.left_out().collect();
    let mut details = Details {
        size,
        area,
        pages: Vec::new(),
        at: area[0],
        shelf: 0.0,
        missing: Vec::new(),
    };
    let crowded = left_out.iter().filter(|dimension| is_own(dimension));
    let crowded: Vec<usize> = crowded.map(|dimension| dimension.piece).collect();
    let mut scales = vec![scale];
    for piece in (0..pieces.len()).filter(|piece| crowded.contains(piece)) {
        details.add(plate, apparatus, &wanted, piece);
    }
    let places = left_out.into_iter().filter(|dimension| !is_own(dimension));
    let missing: Vec<&Dimension> = places.chain(details.missing.iter()).collect();
    let left_out = (!missing.is_empty()).then(|| list(&missing, plate));
    let mut pages = vec![page];
    scales.resize(details.pages.len() + 1, "as stated");
    pages.append(&mut details.pages);
    let count = pages.len();
    for (i, (page, scale)) in pages.iter_mut().zip(scales).enumerate() {
        let facts = title_block::facts(apparatus, heading, scale, paper, [i + 1, count]);
        title_block::draw(page, frame, &facts);
    }
    Finished {
        scale: view.scale(),
        pages,
        left_out,
    }
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

/// Pages of details, filled in rows from the upper left.
struct Details {
    size: Point,
    area: [Point; 2],
    pages: Vec<Page>,
    at: Point,
    /// Height of the row that is being filled, mm.
    shelf: f64,
    /// What had no room in its detail either.
    missing: Vec<Dimension>,
}

impl Details {
    fn add(&mut self, plate: &Plate<'_>, apparatus: &Apparatus, all: &[Dimension], piece: usize) {
        let own = all
            .iter()
            .filter(|dimension| dimension.piece == piece && is_own(dimension));
        let wanted: Vec<Dimension> = own.cloned().collect();
        if wanted.is_empty() {
            return;
        }
        let built = alone(plate.built, piece);
        let plate = Plate::of(&built);
        let whole = self.area[1] - self.area[0] - Vector2::new(2.0 * SPACE, TITLE + 2.0 * SPACE);
        let half = Vector2::new(whole.x / 2.0 - SPACE, whole.y);
        let turn = Some(turn_of(&built, piece));
        // Details are no larger than the glass. What would be small beside another has the whole width.
        let scales = &SCALES[1..];
        let beside = fitted(&plate, &wanted, scales, half, turn);
        let (view, scale) = if beside.0.scale() < 0.5 {
            fitted(&plate, &wanted, scales, whole, turn)
        } else {
            beside
        };
        let size = view.size() + Vector2::new(2.0 * SPACE, TITLE + 2.0 * SPACE);
        let title = format!("{} {scale}", called(apparatus, &plate.drawing.pieces[piece]));
        let size = Vector2::new(
            size.x
                .max(super::font::width(&title, super::page::Weight::SemiBold, 3.6) + SPACE),
            size.y,
        );
        let corner = self.room_for(size);
        if let Some(page) = self.pages.last_mut() {
            view.draw(page, [corner + Vector2::new(0.0, TITLE), corner + size]);
            let mut part = Part::new(Role::Heading);
            let at = Point::new(corner.x + size.x / 2.0, corner.y + TITLE);
            part.text(Text::new(title, at, 3.6).bold().anchored(Anchor::Middle));
            page.parts.push(part);
        }
        self.missing.extend(view.left_out().cloned());
    }

    /// The upper left corner of the next free place of that size.
    fn room_for(&mut self, size: Vector2<f64>) -> Point {
        if self.at.x + size.x > self.area[1].x {
            self.at = Point::new(self.area[0].x, self.at.y + self.shelf);
            self.shelf = 0.0;
        }
        if self.pages.is_empty() || self.at.y + size.y > self.area[1].y {
            self.pages.push(Page::new(self.size));
            self.at = self.area[0];
            self.shelf = 0.0;
        }
        let corner = self.at;
        self.at.x += size.x;
        self.shelf = self.shelf.max(size.y);
        corner
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

/// What is not drawn, as a table.
fn list(missing: &[&Dimension], plate: &Plate<'_>) -> Leaf {
    let rows = missing.iter().map(|dimension| {
        let piece = plate.drawing.pieces.get(dimension.piece).cloned().unwrap_or_default();
        vec![piece, dimension.name.clone(), dimension.text(LengthUnit::Millimetre)]
    });
    Leaf {
        title: "Dimensions without room on the drawing".to_owned(),
        blocks: vec![Block::Table(Table {
            heads: ["Piece", "Dimension", "mm, degrees"].map(str::to_owned).to_vec(),
            rows: rows.collect(),
            numbers: vec![false, false, true],
        })],
    }
}
