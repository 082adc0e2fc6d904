//! A dimensioned view of the glass: laid out for a scale, then put onto a page.

use super::font;
use super::names::{self, Kept, Named, Wanted};
use super::page::{Anchor, Layer, Page, Part, Placing, Point, Role, Text, Tone, Weight};
use super::plate::{Details, Plate};
use crate::model::Form;
use crate::out::dimensions::{self, Dimension, Drawn, Pen};
use crate::out::drawing::TickKind;
use crate::units::LengthUnit;
use nalgebra::Vector2;

/// Size of the lettering of dimensions, mm: capitals of 2.2 mm.
const SIZE: f64 = 3.0;
/// A point of the lettering on paper, mm: distances between rows are told in it.
const POINT: f64 = 0.28;
/// Length and half-width of an arrow, mm.
const ARROW: (f64, f64) = (2.2, 0.4);
/// How the glass is drawn.
const DETAILS: Details = Details {
    tinted: true,
    centrelines: true,
    marks: false,
    ticks: true,
    is_small: false,
};

/// A view that has been laid out.
pub struct View<'a> {
    plate: &'a Plate<'a>,
    wanted: &'a [Dimension],
    placing: Placing,
    turn_deg: f64,
    is_named: bool,
    drawn: Vec<Drawn>,
    feet: Vec<Named>,
    /// Upper left and lower right corner of all that is drawn, mm of paper from where the glass has its origin.
    ends: [Point; 2],
}

impl<'a> View<'a> {
    /// Lays dimensions out at a scale (millimetres of paper for one of glass), the glass turned anticlockwise, with names
    /// where it is not the piece alone.
    pub fn of(plate: &'a Plate<'a>, wanted: &'a [Dimension], scale: f64, turn_deg: f64, is_named: bool) -> Self {
        let placing = Placing {
            scale,
            turn: turn_deg.to_radians(),
            origin: Point::zeros(),
        };
        // Names of vessels go first: they belong at the feet. For them the glass lies on a page without end.
        let endless = [Point::repeat(-1e6), Point::repeat(1e6)];
        let is_glass = |p: Point| plate.is_at(&placing, p, 0.8);
        let vessels = if is_named {
            plate.names(&placing, true)
        } else {
            Vec::new()
        };
        let feet = names::place(&vessels, endless, &is_glass, &Kept::default());
        // A seal-off place is measured to: extension lines may lie on its mark.
        let levels = plate.drawing.ticks.iter().filter(|tick| tick.kind == TickKind::Target);
        let mut kept: Vec<Vec<Vector2<f64>>> = levels.map(|tick| tick.ends.to_vec()).collect();
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
        let mut view = Self {
            plate,
            wanted,
            placing,
            turn_deg,
            is_named,
            drawn,
            feet,
            ends: [Point::zeros(); 2],
        };
        view.ends = view.extent(&kept);
        view
    }

    fn extent(&self, kept: &[Vec<Vector2<f64>>]) -> [Point; 2] {
        let hull = self.plate.drawing.hull();
        let of = |drawn: &Drawn| {
            let mut points = drawn.line.clone();
            points.extend(drawn.extensions.iter().flatten());
            points.extend(drawn.label.corners(drawn.label.is_turned_over(self.turn_deg)));
            points
        };
        let all = hull
            .into_iter()
            .chain(self.drawn.iter().flat_map(of))
            .chain(kept.iter().flatten().copied());
        let ends = all.map(|p| self.placing.point(p)).map(|p| (p, p));
        let ends = ends.reduce(|(low, high), (p, _)| (low.inf(&p), high.sup(&p)));
        ends.map_or([Point::zeros(); 2], |(low, high)| [low, high])
    }

    /// Millimetres of paper for one of glass.
    pub fn scale(&self) -> f64 {
        self.placing.scale
    }

    /// Width and height on paper, mm.
    pub fn size(&self) -> Vector2<f64> {
        self.ends[1] - self.ends[0]
    }

    /// The dimensions that found no room.
    pub fn left_out(&self) -> impl Iterator<Item = &'a Dimension> {
        let wanted = self.wanted.iter().enumerate();
        let is_drawn = |i: usize| self.drawn.iter().any(|drawn| drawn.dimension == i);
        wanted
            .filter(move |(i, _)| !is_drawn(*i))
            .map(|(_, dimension)| dimension)
    }

    /// Draws it into the middle of an area; gives the names that found no room.
    pub fn draw(&self, page: &mut Page, area: [Point; 2]) -> Vec<String> {
        let mut homeless = Vec::new();
        let by = (area[0] + area[1] - self.ends[0] - self.ends[1]) / 2.0;
        let placing = Placing {
            origin: by,
            ..self.placing
        };
        let mut part = Part::new(Role::Figure("The glass in section, dimensioned.".to_owned()));
        self.plate.draw(&mut part, &placing, DETAILS);
        page.parts.push(part);

        let mut part = Part::new(Role::Text);
        let mut kept = Kept::default();
        for drawn in &self.drawn {
            if let Some(dimension) = self.wanted.get(drawn.dimension) {
                self.draw_dimension(&mut part, drawn, dimension, &placing);
            }
            self.keep_free(drawn, &placing, &mut kept);
        }
        let feet: Vec<Named> = self.feet.iter().map(|name| name.moved(by)).collect();
        kept.texts.extend(feet.iter().map(|name| name.frame));
        names::draw(&mut part, &feet);
        if self.is_named {
            let mut others = self.plate.names(&placing, false);
            others.retain(|name| feet.iter().all(|vessel| vessel.text != name.text));
            others.extend(self.plate.fittings(&placing));
            let is_glass = |p: Point| self.plate.is_at(&placing, p, 0.6);
            let mut named = names::place(&others, area, &is_glass, &kept);
            kept.texts.extend(named.iter().map(|name| name.frame));
            let is_placed = |one: &Wanted| named.iter().any(|name| name.text == one.text);
            let unplaced: Vec<Wanted> = others.into_iter().filter(|one| !is_placed(one)).collect();
            // Where there is no room for all that a name tells, its first word may have some.
            let first = |one: &Wanted| one.text.split(", ").next().unwrap_or_default().to_owned();
            let short = unplaced.iter().map(|one| Wanted {
                text: first(one),
                spots: one.spots.clone(),
            });
            let short: Vec<Wanted> = short.collect();
            named.extend(names::place(&short, area, &is_glass, &kept));
            homeless.extend(unplaced.into_iter().map(|one| one.text.replacen(", ", ": ", 1)));
            names::draw(&mut part, &named);
        }
        page.parts.push(part);
        homeless
    }

    fn draw_dimension(&self, part: &mut Part, drawn: &Drawn, dimension: &Dimension, placing: &Placing) {
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
        let over = drawn.label.is_turned_over(self.turn_deg);
        let corners = drawn.label.corners(over).map(|p| placing.point(p));
        let reading = placing.way(drawn.label.reading(over));
        let up = Vector2::new(reading.y, -reading.x);
        let at = (corners[0] + corners[1]) / 2.0 + up * (SIZE * 0.16);
        let angle = (-reading.y).atan2(reading.x).to_degrees();
        let mut text = Text::new(dimension.text(LengthUnit::Millimetre), at, SIZE);
        if is_critical(self.plate, dimension) {
            text.text += " *";
            text.weight = Weight::SemiBold;
        }
        part.text(text.anchored(Anchor::Middle).turned(angle).on(Layer::Dimension));
    }

    /// What a dimension covers, as small upright squares.
    fn keep_free(&self, drawn: &Drawn, placing: &Placing, kept: &mut Kept) {
        const HALF: f64 = 0.4;
        let cover = |found: &mut Vec<[Point; 2]>, from: Point, to: Point| {
            let steps = ((to - from).norm() / HALF).ceil().max(1.0) as usize;
            found.extend((0..=steps).map(|k| {
                let p = from + (to - from) * (k as f64 / steps as f64);
                [p - Vector2::repeat(HALF), p + Vector2::repeat(HALF)]
            }));
        };
        let line: Vec<Point> = drawn.line.iter().map(|p| placing.point(*p)).collect();
        for pair in line.windows(2) {
            cover(&mut kept.lines, pair[0], pair[1]);
        }
        for [from, to] in &drawn.extensions {
            cover(&mut kept.lines, placing.point(*from), placing.point(*to));
        }
        let corners = drawn.label.corners(drawn.label.is_turned_over(self.turn_deg));
        let [a, b, c, d] = corners.map(|p| placing.point(p));
        for part in [0.0, 0.25, 0.5, 0.75, 1.0] {
            cover(&mut kept.texts, a + (d - a) * part, b + (c - b) * part);
        }
    }
}

/// Room for a text, whether it is critical or not.
fn width(text: &str) -> f64 {
    font::width(&format!("{text} *"), Weight::SemiBold, SIZE)
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
