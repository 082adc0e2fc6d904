//! The pictures of the sheets: the whole apparatus, the glass at a stop with its liquid, bars of stock.

use super::font;
use super::header::fitted;
use super::leaf::Figure;
use super::names::{self, Kept, Wanted};
use super::page::{Anchor, Layer, Part, Placing, Point, Role, Text, Tone, Weight, rectangle};
use super::plate::{Details, Plate, SMALL};
use crate::geom::{Pool, Stance};
use crate::out::section;
use crate::run::Outcome;
use crate::units::{MM3_PER_ML, angle_text, fixed};
use nalgebra::Vector2;

/// What pictures are drawn from.
pub struct Pictures<'a> {
    /// The glass.
    pub plate: &'a Plate<'a>,
    /// What its run comes to; none where there is no run.
    pub outcome: Option<&'a Outcome>,
}

/// How much higher a picture may be where the glass is higher than it is wide.
const UPRIGHT: f64 = 1.4;
/// Less liquid than this is not named, mL.
const LEAST_ML: f64 = 0.005;
/// Space about the glass for names, mm.
const SPACE: f64 = 10.0;
/// Error of drawn curves of the liquid, mm.
const TOLERANCE_MM: f64 = 0.05;

impl Pictures<'_> {
    /// A picture no wider and no higher than stated: its height and its parts. None where there is nothing to draw.
    pub fn draw(&self, figure: &Figure, width: f64, most: f64) -> Option<(f64, Vec<Part>)> {
        match figure {
            Figure::Overview => self.overview(width, most),
            Figure::Moment { stop } => self.moment(*stop, width, most),
            Figure::Stock(bars, stock_mm) => stock(bars, *stock_mm, width),
        }
    }

    /// Where the glass stands within a picture, and the picture's height.
    fn placed(&self, turn: f64, width: f64, most: f64) -> Option<(Placing, f64)> {
        if self.plate.drawing.outsides.is_empty() {
            return None;
        }
        let [low, high] = self.plate.extent(turn);
        // What stands upright would be too small to see in the height that is enough for what lies.
        let stands = high.y - low.y > high.x - low.x;
        let most = if stands { most * UPRIGHT } else { most };
        let (extent, room) = (high - low, Vector2::new(width, most) - Vector2::repeat(2.0 * SPACE));
        let scale = (room.x / extent.x.max(1.0)).min(room.y / extent.y.max(1.0)).min(1.0);
        let height = extent.y * scale + 2.0 * SPACE;
        let origin = Point::new((width - extent.x * scale) / 2.0 - low.x * scale, SPACE + high.y * scale);
        Some((Placing { scale, turn, origin }, height))
    }

    fn overview(&self, width: f64, most: f64) -> Option<(f64, Vec<Part>)> {
        let (placing, height) = self.placed(0.0, width, most)?;
        let mut part = Part::new(Role::Figure(
            "The whole apparatus with the names of its pieces.".to_owned(),
        ));
        let details = Details {
            tinted: true,
            ticks: true,
            is_small: placing.scale < SMALL,
            ..Details::default()
        };
        self.plate.draw(&mut part, &placing, details);
        let mut wanted = self.plate.names(&placing, false);
        wanted.extend(self.plate.fittings(&placing));
        let words = self.named(&wanted, &placing, [Point::zeros(), Point::new(width, height)]);
        Some((height, vec![part, words]))
    }

    fn named(&self, wanted: &[Wanted], placing: &Placing, limits: [Point; 2]) -> Part {
        let mut words = Part::new(Role::Text);
        let is_glass = |p: Point| self.plate.is_at(placing, p, 0.5);
        names::draw(&mut words, &names::place(wanted, limits, &is_glass, &Kept::default()));
        words
    }

    fn moment(&self, stop: usize, width: f64, most: f64) -> Option<(f64, Vec<Part>)> {
        let outcome = self.outcome?;
        let (halt, rest) = (outcome.halts.get(stop)?, outcome.stops.get(stop)?);
        let stance = halt.stance;
        let (placing, height) = self.placed(stance.tilt_deg.to_radians(), width, most)?;
        let words = format!("The glass at {}, with the liquid at rest.", told(stance));
        let mut part = Part::new(Role::Figure(words));
        for glass in &self.plate.drawing.glass {
            part.fill(Tone::Wall, placing.path(&glass.outer));
        }
        for glass in &self.plate.drawing.glass {
            part.fill(Tone::White, placing.path(&glass.inner));
        }
        for pool in &rest.settled.pools {
            draw_pool(&mut part, pool, stance, &placing);
        }
        let details = Details {
            is_small: placing.scale < SMALL,
            ..Details::default()
        };
        self.plate.draw_lines(&mut part, &placing, details);
        let is_wet = |name: &str| {
            let piece = self.plate.drawing.pieces.iter().position(|known| known == name)?;
            let sealed = rest.sealed.iter().filter(|(known, _)| *known == piece);
            let volume = rest.held.get(piece)? + sealed.map(|(_, volume)| volume).sum::<f64>();
            Some(volume / MM3_PER_ML >= LEAST_ML)
        };
        let mut wanted = self.plate.names(&placing, false);
        // A fitting's name is followed by what it is.
        let piece = |name: &Wanted| name.text.split(", ").next().unwrap_or_default().to_owned();
        wanted.retain(|name| is_wet(&piece(name)).unwrap_or(false));
        let mut words = self.named(&wanted, &placing, [Point::zeros(), Point::new(width, height)]);
        let text = Text::new(told(stance), Point::new(0.0, height - 0.6), 2.8);
        words.text(text.toned(Tone::Grey));
        Some((height, vec![part, words]))
    }
}

/// A stance in words.
fn told(stance: Stance) -> String {
    let tilt = angle_text(stance.tilt_deg);
    match stance.roll_deg {
        0.0 => format!("tilt {tilt}"),
        roll => format!("tilt {tilt}, roll {} (drawn square to the glass)", angle_text(roll)),
    }
}

/// Liquid: the bores it wets, cut off at its level.
fn draw_pool(part: &mut Part, pool: &Pool, stance: Stance, placing: &Placing) {
    let up = stance.up();
    let depth = |p: &Vector2<f64>| pool.level - up.xy().dot(p);
    for shape in &pool.wetted {
        let stations = section::stations(shape, TOLERANCE_MM);
        for pair in stations.windows(2) {
            let quad = [pair[0].right(), pair[1].right(), pair[1].left(), pair[0].left()];
            let wet: Vec<Point> = below(&quad, &depth).iter().map(|p| placing.point(*p)).collect();
            part.fill_polygon(Tone::Liquid, &wet);
        }
        for [a, b] in section::surface(&stations, up, pool.level) {
            part.line(Layer::Level, placing.point(a), placing.point(b));
        }
    }
}

/// The part of a polygon with a depth of 0 or more (Sutherland and Hodgman, 1974).
fn below(polygon: &[Vector2<f64>], depth: &dyn Fn(&Vector2<f64>) -> f64) -> Vec<Vector2<f64>> {
    let mut found = Vec::with_capacity(polygon.len() + 1);
    for (i, a) in polygon.iter().enumerate() {
        let b = &polygon[(i + 1) % polygon.len()];
        let (da, db) = (depth(a), depth(b));
        if da >= 0.0 {
            found.push(*a);
        }
        if (da >= 0.0) != (db >= 0.0) {
            found.push(a + (b - a) * (da / (da - db)));
        }
    }
    found
}

/// Bars of stock with the pieces to be cut from them, to scale along their length.
fn stock(bars: &[Vec<(String, f64)>], stock_mm: f64, width: f64) -> Option<(f64, Vec<Part>)> {
    const LABEL: f64 = 13.0;
    const BAR: f64 = 7.0;
    const ROW: f64 = 12.5;
    const SIZE: f64 = 2.6;
    if bars.is_empty() || stock_mm <= 0.0 {
        return None;
    }
    let scale = (width - LABEL) / stock_mm;
    let mut part = Part::new(Role::Figure("Bars of stock with the pieces cut from them.".to_owned()));
    let number = |mm: f64| fixed(mm, 1).trim_end_matches('0').trim_end_matches('.').to_owned();
    for (row, pieces) in bars.iter().enumerate() {
        let y = row as f64 * ROW;
        part.text(Text::new(format!("bar {}", row + 1), Point::new(0.0, y + 4.6), SIZE));
        part.fill(
            Tone::Pale,
            rectangle(Point::new(LABEL, y), Point::new(width - LABEL, BAR)),
        );
        let mut x = LABEL;
        for (name, mm) in pieces {
            let length = mm * scale;
            part.fill(Tone::White, rectangle(Point::new(x, y), Point::new(length, BAR)));
            part.rectangle(Layer::Name, Point::new(x, y), Point::new(length, BAR));
            let middle = x + length / 2.0;
            let measure = number(*mm);
            let mut put = |text: String, at: Point, weight: Weight, angle: f64| {
                let text = Text::new(text, at, SIZE).anchored(Anchor::Middle).turned(angle);
                part.text(Text { weight, ..text });
            };
            let (inside, below) = (y + 4.5, y + BAR + 3.0);
            let is_wide = |text: &str, weight: Weight| font::width(text, weight, SIZE) <= length - 0.6;
            if is_wide(&measure, Weight::Regular) {
                let name = fitted(name, length - 0.8, SIZE);
                put(name, Point::new(middle, inside), Weight::SemiBold, 0.0);
                put(measure, Point::new(middle, below), Weight::Regular, 0.0);
            } else if length > SIZE {
                let upright = Point::new(middle + SIZE * font::CAPITALS / 2.0, y + BAR / 2.0);
                put(measure, upright, Weight::Regular, 90.0);
                if is_wide(name, Weight::SemiBold) {
                    put(name.clone(), Point::new(middle, below), Weight::SemiBold, 0.0);
                }
            }
            x += length;
        }
        let left = stock_mm - pieces.iter().map(|(_, mm)| mm).sum::<f64>();
        let text = format!("{} left", number(left.max(0.0)));
        if font::width(&text, Weight::Regular, SIZE) < width - x - 1.0 {
            let at = Point::new(f64::midpoint(x, width), y + 4.5);
            part.text(Text::new(text, at, SIZE).anchored(Anchor::Middle).toned(Tone::Grey));
        }
        part.rectangle(Layer::Name, Point::new(LABEL, y), Point::new(width - LABEL, BAR));
    }
    Some((bars.len() as f64 * ROW, vec![part]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn liquid_is_cut_at_its_level() {
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]].map(Vector2::from);
        let area = |points: &[Vector2<f64>]| {
            let n = points.len();
            (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum::<f64>() / 2.0
        };
        assert!((area(&below(&square, &|p| 4.0 - p.y)) - 40.0).abs() < 1e-12);
        assert!((area(&below(&square, &|p| p.x + p.y - 10.0)) - 50.0).abs() < 1e-12);
        assert!(below(&square, &|_| -1.0).is_empty());
    }
}
