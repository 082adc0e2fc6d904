//! The workshop drawing: the glass to a standard scale on one lying page, dimensioned by its centrelines, with a title
//! block (fields of ISO 7200), glass, tolerances and notes. What found no room is listed, not dropped.

use super::font;
use super::header::Heading;
use super::names;
use super::page::{Anchor, Layer, Page, Paper, Part, Placing, Point, Role, Text, Tone, Weight};
use super::plate::{Details, Plate};
use super::title_block;
use crate::model::{Apparatus, Form};
use crate::out::dimensions::{self, Dimension, Drawn, Pen};
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
/// Size of the lettering of dimensions, mm: capitals of 2.2 mm.
const SIZE: f64 = 3.0;
/// A point of the lettering on paper, mm: distances between rows are told in it.
const POINT: f64 = 0.28;
/// Length and half-width of an arrow, mm.
const ARROW: (f64, f64) = (2.2, 0.4);
/// Frame: distance from the edge, mm; wider at the left, where the sheet is filed.
const EDGE: (f64, f64) = (20.0, 10.0);

/// A finished drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// The page.
    pub page: Page,
    /// Millimetres of paper for one of glass.
    pub scale: f64,
    /// The dimensions that found no room.
    pub left_out: Vec<Dimension>,
}

/// Makes the drawing.
pub fn drawing(plate: &Plate<'_>, apparatus: &Apparatus, heading: &Heading, paper: Paper) -> Finished {
    let size = paper.landscape();
    let frame = [Point::new(EDGE.0, EDGE.1), size - Vector2::repeat(EDGE.1)];
    let mut area = frame;
    area[1].y -= title_block::HEIGHT;
    let (area, room) = (area, area[1] - area[0] - Vector2::repeat(6.0));
    let pieces: Vec<usize> = (0..plate.built.placed.pieces.len()).collect();
    let wanted = dimensions::survey(apparatus, &plate.built.placed, &pieces);
    let tries = SCALES
        .iter()
        .map(|&(scale, name)| (name, Laid::out(plate, &wanted, scale)));
    let mut last = None;
    for (name, laid) in tries {
        let extent = (laid.high - laid.low) * laid.scale;
        let fits = extent.x <= room.x && extent.y <= room.y;
        last = Some((name, laid));
        if fits {
            break;
        }
    }
    let (name, laid) = last.unwrap_or_else(|| ("1:1", Laid::out(plate, &wanted, 1.0)));
    let mut page = Page::new(size);
    page.bookmark = Some(heading.sheet.clone());
    laid.draw(&mut page, plate, &wanted, area);
    title_block::draw(&mut page, frame, &title_block::facts(apparatus, heading, name, paper));
    let left_out = wanted
        .iter()
        .enumerate()
        .filter(|(i, _)| laid.drawn.iter().all(|drawn| drawn.dimension != *i));
    Finished {
        left_out: left_out.map(|(_, dimension)| dimension.clone()).collect(),
        scale: laid.scale,
        page,
    }
}

/// Whether the work hangs on it: what sets the fill of a vessel, and the neck that is sealed.
fn is_critical(plate: &Plate<'_>, dimension: &Dimension) -> bool {
    let piece = plate.built.placed.pieces.get(dimension.piece);
    let is_vessel = piece.is_some_and(|piece| matches!(piece.form, Form::Ampoule(_)));
    let decides = |key: &str| {
        ["neck", "seal", "body", "bottom"]
            .iter()
            .any(|start| key.starts_with(start))
    };
    is_vessel && dimension.knobs.iter().any(|knob| decides(&knob.key))
}

/// Dimensions laid out for a scale, mm of the glass.
struct Laid {
    scale: f64,
    drawn: Vec<Drawn>,
    feet: Vec<names::Named>,
    /// Least and greatest coordinates of all.
    low: Vector2<f64>,
    high: Vector2<f64>,
}

impl Laid {
    fn out(plate: &Plate<'_>, wanted: &[Dimension], scale: f64) -> Self {
        // Names of vessels go first: they belong at the feet. For them the glass lies on a page without end.
        let placing = Placing {
            scale,
            turn: 0.0,
            origin: Point::zeros(),
        };
        let endless = [Point::repeat(-1e6), Point::repeat(1e6)];
        let is_glass = |p: Point| plate.is_at(&placing, p, 0.8);
        let feet = names::place(&plate.names(&placing, true), endless, &is_glass, &[]);
        let mut kept: Vec<Vec<Vector2<f64>>> = plate.drawing.ticks.iter().map(|tick| tick.ends.to_vec()).collect();
        kept.extend(feet.iter().map(|name| {
            let [a, b] = name.frame;
            [a, Point::new(b.x, a.y), b, Point::new(a.x, b.y)]
                .map(|p| placing.back(p))
                .to_vec()
        }));
        let pen = Pen {
            point_mm: POINT / scale,
            height_points: SIZE / POINT,
            width_points: &|text| width(text) / POINT,
            unit: LengthUnit::Millimetre,
        };
        let drawn = dimensions::lay_out(wanted, &plate.drawing.outsides, &kept, &pen);
        let [mut low, mut high] = plate.extent(0.0);
        let lines = drawn.iter().flat_map(|drawn| drawn.line.iter().copied());
        let leads = drawn
            .iter()
            .flat_map(|drawn| drawn.extensions.iter().flatten().copied());
        let texts = drawn
            .iter()
            .flat_map(|drawn| drawn.label.corners(drawn.label.is_turned_over(0.0)));
        for p in lines.chain(leads).chain(texts).chain(kept.into_iter().flatten()) {
            (low, high) = (low.inf(&p), high.sup(&p));
        }
        Self {
            scale,
            drawn,
            feet,
            low,
            high,
        }
    }

    fn draw(&self, page: &mut Page, plate: &Plate<'_>, wanted: &[Dimension], area: [Point; 2]) {
        let middle = (self.low + self.high) / 2.0 * self.scale;
        let placing = Placing {
            scale: self.scale,
            turn: 0.0,
            origin: (area[0] + area[1]) / 2.0 + Vector2::new(-middle.x, middle.y),
        };
        let mut part = Part::new(Role::Figure("The glass in section, dimensioned.".to_owned()));
        let details = Details {
            tinted: true,
            centrelines: true,
            marks: false,
            ticks: true,
        };
        plate.draw(&mut part, &placing, details);
        page.parts.push(part);

        let mut part = Part::new(Role::Text);
        let mut kept = Vec::new();
        for drawn in &self.drawn {
            if let Some(dimension) = wanted.get(drawn.dimension) {
                let text = shown(dimension, is_critical(plate, dimension));
                draw_dimension(&mut part, drawn, &text, &placing);
            }
            kept.extend(taken(drawn, &placing));
        }
        let feet: Vec<names::Named> = self.feet.iter().map(|name| moved(name, placing.origin)).collect();
        kept.extend(feet.iter().map(|name| name.frame));
        names::draw(&mut part, &feet);
        let is_vessel = |text: &str| feet.iter().any(|name| name.text == text);
        let mut others = plate.names(&placing, false);
        others.retain(|name| !is_vessel(&name.text));
        others.extend(plate.fittings(&placing));
        let is_glass = |p: Point| plate.is_at(&placing, p, 0.6);
        names::draw(&mut part, &names::place(&others, area, &is_glass, &kept));
        page.parts.push(part);
    }
}

/// As it is written, and whether it is critical.
fn shown(dimension: &Dimension, is_critical: bool) -> (String, Weight) {
    let text = dimension.text(LengthUnit::Millimetre);
    if is_critical {
        (format!("{text} *"), Weight::SemiBold)
    } else {
        (text, Weight::Regular)
    }
}

/// Room for a text, whether it is critical or not.
fn width(text: &str) -> f64 {
    font::width(&format!("{text} *"), Weight::SemiBold, SIZE)
}

fn draw_dimension(part: &mut Part, drawn: &Drawn, (text, weight): &(String, Weight), placing: &Placing) {
    let line: Vec<Point> = drawn.line.iter().map(|p| placing.point(*p)).collect();
    part.lines(Layer::Dimension, &line);
    for [from, to] in &drawn.extensions {
        part.line(Layer::Dimension, placing.point(*from), placing.point(*to));
    }
    for arrow in &drawn.arrows {
        let (tip, way) = (placing.point(arrow.tip), placing.way(arrow.towards));
        let (back, side) = (tip - way * ARROW.0, Vector2::new(-way.y, way.x) * ARROW.1);
        part.fill_polygon(Tone::Black, &[tip, back + side, back - side]);
    }
    let over = drawn.label.is_turned_over(0.0);
    let corners = drawn.label.corners(over).map(|p| placing.point(p));
    let reading = placing.way(drawn.label.reading(over));
    let up = Vector2::new(reading.y, -reading.x);
    let at = (corners[0] + corners[1]) / 2.0 + up * (SIZE * 0.16);
    let text = Text {
        weight: *weight,
        ..Text::new(text.clone(), at, SIZE)
    };
    let angle = (-reading.y).atan2(reading.x).to_degrees();
    part.text(text.anchored(Anchor::Middle).turned(angle).on(Layer::Dimension));
}

/// What a dimension covers, as small upright rectangles.
fn taken(drawn: &Drawn, placing: &Placing) -> Vec<[Point; 2]> {
    let mut found = Vec::new();
    let mut cover = |from: Point, to: Point| {
        let steps = ((to - from).norm() / 1.5).ceil().max(1.0) as usize;
        found.extend((0..=steps).map(|k| {
            let p = from + (to - from) * (k as f64 / steps as f64);
            [p - Vector2::repeat(0.4), p + Vector2::repeat(0.4)]
        }));
    };
    let line: Vec<Point> = drawn.line.iter().map(|p| placing.point(*p)).collect();
    for pair in line.windows(2) {
        cover(pair[0], pair[1]);
    }
    for [from, to] in &drawn.extensions {
        cover(placing.point(*from), placing.point(*to));
    }
    let [a, b, c, d] = drawn
        .label
        .corners(drawn.label.is_turned_over(0.0))
        .map(|p| placing.point(p));
    for part in [0.0, 0.5, 1.0] {
        cover(a + (d - a) * part, b + (c - b) * part);
    }
    found
}

fn moved(name: &names::Named, by: Vector2<f64>) -> names::Named {
    names::Named {
        text: name.text.clone(),
        frame: name.frame.map(|p| p + by),
        leader: name.leader.map(|ends| ends.map(|p| p + by)),
    }
}
