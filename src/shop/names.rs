//! Where names stand beside the glass: level, clear of glass, of lines to keep free and of each other.

use super::font;
use super::page::{Anchor, Layer, Part, Point, Text, Weight};
use nalgebra::Vector2;

/// A name that wants a place.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The name.
    pub text: String,
    /// Places on the glass where it may stand, with the unit vector away from the glass; the best first. Millimetres of
    /// the page.
    pub spots: Vec<(Point, Vector2<f64>)>,
}

/// A name in its place.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// The name.
    pub text: String,
    /// Upper left and lower right corner.
    pub frame: [Point; 2],
    /// From the glass to the name, where it stands off.
    pub leader: Option<[Point; 2]>,
}

impl Named {
    /// The same elsewhere.
    pub fn moved(&self, by: Vector2<f64>) -> Self {
        Self {
            text: self.text.clone(),
            frame: self.frame.map(|p| p + by),
            leader: self.leader.map(|ends| ends.map(|p| p + by)),
        }
    }
}

/// Size of the lettering of names, mm.
pub const SIZE: f64 = 3.2;
/// Distances from the glass that are tried, mm.
const GAPS: [f64; 9] = [1.5, 3.0, 5.0, 8.0, 12.0, 17.0, 23.0, 30.0, 40.0];
/// From this distance on a line leads to the name, mm.
const LED: f64 = 3.5;
/// Space kept about a name, mm.
const SPACE: f64 = 0.8;

/// What names stay clear of, as upright rectangles.
#[derive(Clone, Debug, Default)]
pub struct Kept {
    /// Texts: nothing lies on them.
    pub texts: Vec<[Point; 2]>,
    /// Lines: no name lies on them, and a leader crosses them only where there is no other way.
    pub lines: Vec<[Point; 2]>,
}

/// Places names within `limits`. `is_glass` tells whether glass lies at a point of the page. What finds no place is left
/// out.
pub fn place(wanted: &[Wanted], limits: [Point; 2], is_glass: &dyn Fn(Point) -> bool, kept: &Kept) -> Vec<Named> {
    let mut taken = kept.clone();
    let mut named = Vec::new();
    for one in wanted {
        let size = Vector2::new(font::width(&one.text, Weight::SemiBold, SIZE), SIZE);
        let find = |may_cross: bool| {
            let tries = GAPS
                .iter()
                .flat_map(|gap| one.spots.iter().map(move |spot| (*gap, *spot)));
            let mut fits = tries.filter_map(|(gap, (at, away))| {
                if !inside(at, limits) {
                    return None;
                }
                let tip = at + away * gap;
                let middle = tip + Vector2::new(away.x * size.x, away.y * size.y) / 2.0;
                let frame = [middle - size / 2.0, middle + size / 2.0];
                let leader = (gap > LED).then_some([at, tip]);
                let crossed = if may_cross { &[][..] } else { &taken.lines };
                let free = is_free(frame, limits, is_glass, &taken)
                    && leader.is_none_or(|[from, to]| is_led_freely(from, to, is_glass, &taken.texts, crossed));
                free.then_some((frame, leader))
            });
            fits.next()
        };
        if let Some((frame, leader)) = find(false).or_else(|| find(true)) {
            taken.texts.push(frame);
            // A leader is kept free by points along it.
            if let Some([from, to]) = leader {
                taken.lines.extend(along(from, to).map(|p| [p, p]));
            }
            named.push(Named {
                text: one.text.clone(),
                frame,
                leader,
            });
        }
    }
    named
}

/// Draws names.
pub fn draw(part: &mut Part, named: &[Named]) {
    for one in named {
        if let Some([from, to]) = one.leader {
            part.line(Layer::Name, from, to);
        }
        let [low, high] = one.frame;
        let foot = high.y - (SIZE - font::CAPITALS * SIZE) / 2.0;
        let at = Point::new(f64::midpoint(low.x, high.x), foot);
        let text = Text::new(one.text.clone(), at, SIZE).bold();
        part.text(text.anchored(Anchor::Middle).on(Layer::Name));
    }
}

fn inside(p: Point, [low, high]: [Point; 2]) -> bool {
    p.x >= low.x && p.y >= low.y && p.x <= high.x && p.y <= high.y
}

fn along(from: Point, to: Point) -> impl Iterator<Item = Point> {
    let steps = ((to - from).norm() / 1.0).ceil().max(1.0) as usize;
    (0..=steps).map(move |k| from + (to - from) * (k as f64 / steps as f64))
}

fn is_free([low, high]: [Point; 2], limits: [Point; 2], is_glass: &dyn Fn(Point) -> bool, taken: &Kept) -> bool {
    let space = Vector2::repeat(SPACE);
    let (low, high) = (low - space, high + space);
    let apart =
        |other: &[Point; 2]| other[1].x < low.x || other[0].x > high.x || other[1].y < low.y || other[0].y > high.y;
    if !inside(low, limits) || !inside(high, limits) || !taken.texts.iter().chain(&taken.lines).all(apart) {
        return false;
    }
    let size = high - low;
    let (columns, rows) = ((size.x / 1.5).ceil() as usize, (size.y / 1.5).ceil() as usize);
    let mut points = (0..=columns).flat_map(|i| {
        (0..=rows).map(move |k| low + Vector2::new(size.x * i as f64 / columns as f64, size.y * k as f64 / rows as f64))
    });
    points.all(|p| !is_glass(p))
}

fn is_led_freely(
    from: Point,
    to: Point,
    is_glass: &dyn Fn(Point) -> bool,
    texts: &[[Point; 2]],
    lines: &[[Point; 2]],
) -> bool {
    let way = (to - from).try_normalize(0.0).unwrap_or_default();
    along(from + way * 1.0, to).all(|p| !is_glass(p) && texts.iter().chain(lines).all(|frame| !inside(p, *frame)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_stay_clear_of_glass_and_each_other() {
        // A bar of glass from left to right; all names want to stand at the same place above it, or else beside that.
        let is_glass = |p: Point| (40.0..60.0).contains(&p.y);
        let limits = [Point::zeros(), Point::new(200.0, 100.0)];
        let spot = |x: f64, up: f64| (Point::new(x, 50.0 - 10.0 * up), Vector2::new(0.0, -up));
        let wanted: Vec<Wanted> = ["first", "second", "third"]
            .map(|text| Wanted {
                text: text.to_owned(),
                spots: [100.0, 110.0, 60.0].map(|x| spot(x, 1.0)).to_vec(),
            })
            .to_vec();
        let named = place(&wanted, limits, &is_glass, &Kept::default());
        assert_eq!(named.len(), 3);
        for (i, one) in named.iter().enumerate() {
            assert!(one.frame[1].y <= 40.0);
            for other in &named[..i] {
                let apart = |k: usize| other.frame[1][k] < one.frame[0][k] || other.frame[0][k] > one.frame[1][k];
                assert!(apart(0) || apart(1), "{one:?} and {other:?}");
            }
        }
        assert!(
            place(
                &wanted,
                [Point::zeros(), Point::new(5.0, 5.0)],
                &is_glass,
                &Kept::default()
            )
            .is_empty()
        );
    }
}
