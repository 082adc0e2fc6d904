//! Dimensions can be read at every scale and tilt: what is drawn is compared pair by pair, by other means than those
//! that placed it.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails the test")]

use nalgebra::{Rotation2, Vector2};
use proptest::prelude::*;
use vialwright::geom::build::{Built, build};
use vialwright::model::{Apparatus, Edit, file};
use vialwright::out::dimensions::{Dimension, Drawn, Pen, lay_out, survey};
use vialwright::out::section;
use vialwright::units::LengthUnit;

type Point = Vector2<f64>;

const EXAMPLES: [&str; 4] = [
    include_str!("../examples/rubidium-six.json"),
    include_str!("../examples/gallium-indium-eight.json"),
    include_str!("../examples/benzene-d6-five.json"),
    include_str!("../examples/teaching-three.json"),
];

/// Scales from the whole apparatus in a small window to a neck that fills a large one, points to a millimetre.
const SCALES: [f64; 7] = [0.15, 0.4, 0.9, 1.4, 3.0, 9.0, 40.0];

const TILTS: [f64; 9] = [0.0, 12.5, 30.0, 75.0, 90.0, 123.4, 180.0, -45.0, -90.0];

fn example(index: usize) -> Apparatus {
    file::read(EXAMPLES[index]).unwrap()
}

/// Much like the window's typeface at the size of its dimensions.
fn width_points(text: &str) -> f64 {
    text.chars().count() as f64 * 6.6
}

struct Page {
    built: Built,
    dimensions: Vec<Dimension>,
    drawn: Vec<Drawn>,
    scale: f64,
}

impl Page {
    fn of(apparatus: &Apparatus, chosen: &[usize], scale: f64) -> Self {
        let built = build(apparatus).unwrap();
        let dimensions = survey(apparatus, &built.placed, chosen);
        let pen = Pen {
            point_mm: 1.0 / scale,
            height_points: 14.0,
            width_points: &width_points,
            unit: LengthUnit::Millimetre,
        };
        let drawn = lay_out(&dimensions, &built.outsides, &[], &pen);
        Self {
            built,
            dimensions,
            drawn,
            scale,
        }
    }

    fn name(&self, drawn: &Drawn) -> &str {
        &self.dimensions[drawn.dimension].name
    }

    /// Everything that cannot be read at a tilt.
    fn complaints(&self, tilt_deg: f64) -> Vec<String> {
        let turn = Rotation2::new(tilt_deg.to_radians());
        let seen = |p: &Point| turn * p * self.scale;
        let texts: Vec<[Point; 4]> = self
            .drawn
            .iter()
            .map(|d| d.label.corners(d.label.is_turned_over(tilt_deg)).map(|p| seen(&p)))
            .collect();
        let mut found = Vec::new();
        for (i, a) in self.drawn.iter().enumerate() {
            for (j, b) in self.drawn.iter().enumerate() {
                if i < j && common_area(&texts[i], &texts[j]) > 0.05 {
                    found.push(format!("text of {} on text of {}", self.name(a), self.name(b)));
                }
                let lines = b.line.windows(2).map(|pair| [pair[0], pair[1]]);
                for ends in lines.chain(b.extensions.iter().copied()) {
                    if crosses(&texts[i], ends.map(|p| seen(&p))) {
                        found.push(format!(
                            "a line of {} through the text of {}",
                            self.name(b),
                            self.name(a)
                        ));
                    }
                }
                if i < j && lie_on_each_other(a, b, self.scale) {
                    found.push(format!("the lines of {} and {}", self.name(a), self.name(b)));
                }
            }
            // The same places as on the screen, in the axes of the apparatus.
            let [from, right, _, up] = a.label.corners(a.label.is_turned_over(tilt_deg));
            for k in 0..60 {
                let (u, v) = (f64::from(k % 12) / 11.0, f64::from(k / 12) / 4.0);
                let p = from + (right - from) * u + (up - from) * v;
                if self
                    .built
                    .outsides
                    .iter()
                    .any(|o| section::contains(&o.shape, p, -0.6 / self.scale))
                {
                    found.push(format!("text of {} on glass", self.name(a)));
                    break;
                }
            }
            let label = turn * a.label.reading(a.label.is_turned_over(tilt_deg));
            if !(-89.5..90.51).contains(&label.y.atan2(label.x).to_degrees()) {
                found.push(format!("text of {} on its head", self.name(a)));
            }
        }
        found
    }
}

/// Area that two convex quadrilaterals, anticlockwise, have in common: one clipped by the sides of the other.
fn common_area(a: &[Point; 4], b: &[Point; 4]) -> f64 {
    let mut points = a.to_vec();
    for i in 0..4 {
        let (from, to) = (b[i], b[(i + 1) % 4]);
        let depth = |p: &Point| (to - from).perp(&(p - from));
        let mut next = Vec::new();
        for (k, p) in points.iter().enumerate() {
            let q = points[(k + 1) % points.len()];
            let (dp, dq) = (depth(p), depth(&q));
            if dp >= 0.0 {
                next.push(*p);
            }
            if (dp >= 0.0) != (dq >= 0.0) {
                next.push(p + (q - p) * (dp / (dp - dq)));
            }
        }
        points = next;
    }
    let n = points.len();
    (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum::<f64>().abs() / 2.0
}

/// Whether a line runs through a rectangle: more than a tenth of a point of it lies inside.
fn crosses(text: &[Point; 4], [from, to]: [Point; 2]) -> bool {
    let (u, v) = (text[1] - text[0], text[3] - text[0]);
    let way = to - from;
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for side in [u, v] {
        let unit = side.normalize();
        let (start, rate, length) = ((from - text[0]).dot(&unit), way.dot(&unit), side.norm());
        if rate.abs() < 1e-12 {
            if start <= 0.05 || start >= length - 0.05 {
                return false;
            }
            continue;
        }
        let (a, b) = (-start / rate, (length - start) / rate);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    (leave - enter) * way.norm() > 0.1
}

/// Whether straight dimension lines lie side by side nearer than three points over more than four.
fn lie_on_each_other(a: &Drawn, b: &Drawn, scale: f64) -> bool {
    let parts = |d: &Drawn| {
        d.line
            .windows(2)
            .map(|p| [p[0] * scale, p[1] * scale])
            .collect::<Vec<_>>()
    };
    parts(a).iter().any(|[p, q]| {
        parts(b).iter().any(|[r, s]| {
            let way = q - p;
            let length = way.norm();
            if length < 1e-9 || way.perp(&(s - r)).abs() > 1e-6 * length * (s - r).norm() {
                return false;
            }
            let unit = way / length;
            let apart = unit.perp(&(r - p)).abs();
            let (x, y) = ((r - p).dot(&unit), (s - p).dot(&unit));
            apart < 3.0 && x.max(y).min(length) - x.min(y).max(0.0) > 4.0
        })
    })
}

fn check(page: &Page) -> Result<(), TestCaseError> {
    for tilt in TILTS {
        let complaints = page.complaints(tilt);
        prop_assert!(
            complaints.is_empty(),
            "scale {}, tilt {tilt}: {complaints:#?}",
            page.scale
        );
    }
    Ok(())
}

#[test]
fn the_oracle_finds_what_overlaps() {
    let square =
        |x: f64, y: f64| [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)].map(|(a, b)| Point::new(x + a, y + b));
    assert_eq!(common_area(&square(0.0, 0.0), &square(1.0, 1.0)), 1.0);
    assert_eq!(common_area(&square(0.0, 0.0), &square(3.0, 0.0)), 0.0);
    assert!(crosses(
        &square(0.0, 0.0),
        [Point::new(-1.0, 0.5), Point::new(3.0, 1.5)]
    ));
    assert!(!crosses(
        &square(0.0, 0.0),
        [Point::new(-1.0, -0.1), Point::new(3.0, -0.1)]
    ));
    let page = Page::of(&example(0), &[], 1.4);
    assert!(page.drawn.len() > 10);
    let mut doubled = page;
    let mut moved = doubled.drawn[0].clone();
    moved.label.at += Vector2::new(0.5, 0.5);
    doubled.drawn.push(moved);
    assert!(!doubled.complaints(0.0).is_empty());
}

#[test]
fn the_examples_can_be_read_at_every_scale_and_tilt() {
    for index in 0..EXAMPLES.len() {
        let apparatus = example(index);
        for scale in SCALES {
            check(&Page::of(&apparatus, &[], scale)).unwrap();
        }
    }
}

#[test]
fn every_piece_can_be_read_at_every_scale_and_tilt() {
    for index in 0..EXAMPLES.len() {
        let apparatus = example(index);
        for piece in 0..apparatus.names().len() {
            for scale in SCALES {
                check(&Page::of(&apparatus, &[piece], scale)).unwrap();
            }
        }
    }
}

#[test]
fn what_is_left_out_for_want_of_room_is_there_when_looked_at_closely() {
    let apparatus = example(0);
    let vial = apparatus.names().iter().position(|name| name == "vial-3").unwrap();
    let shown = |scale: f64| Page::of(&apparatus, &[vial], scale).drawn.len();
    let page = Page::of(&apparatus, &[vial], 6.0);
    assert!(shown(0.3) < page.drawn.len());
    let left_out: Vec<_> = (0..page.dimensions.len())
        .filter(|i| page.drawn.iter().all(|d| d.dimension != *i))
        .map(|i| page.dimensions[i].name.as_str())
        .collect();
    assert!(left_out.is_empty(), "{left_out:?}");
    for key in [
        "stem.od_mm",
        "stem_mm",
        "funnel_mm",
        "neck.od_mm",
        "neck_mm",
        "seal_mm",
        "shoulder_mm",
        "body.od_mm",
        "body_mm",
    ] {
        let mut knobs = page.dimensions.iter().flat_map(|d| &d.knobs);
        assert!(knobs.any(|knob| knob.key == key), "{key}");
    }
}

#[test]
fn shorter_lengths_stand_nearer_to_the_glass() {
    let apparatus = example(0);
    let header = apparatus.names().iter().position(|name| name == "header").unwrap();
    let page = Page::of(&apparatus, &[header], 3.0);
    let height = |name: &str| {
        let drawn = page.drawn.iter().find(|d| page.name(d) == name).unwrap();
        let axis = page.built.placed.lines[header].end();
        (drawn.label.at - axis.at).dot(&Vector2::new(
            -axis.heading_deg.to_radians().sin(),
            axis.heading_deg.to_radians().cos(),
        ))
    };
    let (pitch, pump) = (height("Pitch of vial"), height("Place of pump on header"));
    assert!(pitch * pump > 0.0 && pitch.abs() < pump.abs(), "{pitch} {pump}");
}

#[test]
fn every_dimension_sets_the_number_that_it_shows() {
    for index in 0..EXAMPLES.len() {
        let apparatus = example(index);
        let built = build(&apparatus).unwrap();
        let pieces = (0..built.names.len()).map(|i| vec![i]).chain([Vec::new()]);
        for chosen in pieces {
            for dimension in survey(&apparatus, &built.placed, &chosen) {
                for knob in &dimension.knobs {
                    let list = apparatus.parameters(&knob.owner).unwrap();
                    let stored = list.iter().find(|p| p.key == knob.key).unwrap().value;
                    assert_eq!(knob.value_of(knob.shown), stored, "{}", knob.name);
                    let (low, high) = knob.range();
                    assert!(low <= knob.shown && knob.shown <= high, "{}", knob.name);
                    // Shown anew it is what was typed, where the apparatus takes it.
                    let edit = Edit::Set {
                        piece: knob.owner.clone(),
                        key: knob.key.clone(),
                        value: knob.value_of(knob.shown + 1.0),
                    };
                    let Ok(next) = apparatus.apply(&edit) else { continue };
                    let built = build(&next).unwrap();
                    let anew = survey(&next, &built.placed, &chosen);
                    let same = anew.iter().flat_map(|d| &d.knobs).find(|k| k.name == knob.name);
                    let same = same.unwrap_or_else(|| panic!("{} is gone", knob.name));
                    assert!(
                        (same.shown - knob.shown - 1.0).abs() < 1e-6,
                        "{}: {}",
                        knob.name,
                        same.shown
                    );
                }
            }
        }
    }
}

/// An example after some of its numbers were changed, as far as they are taken.
fn designs() -> impl Strategy<Value = Apparatus> {
    let change = (any::<prop::sample::Index>(), any::<prop::sample::Index>(), 0.3..2.2f64);
    (0..EXAMPLES.len(), prop::collection::vec(change, 0..12)).prop_map(|(index, changes)| {
        let mut apparatus = example(index);
        let owners: Vec<String> = apparatus
            .pieces
            .iter()
            .map(|p| p.name.clone())
            .chain(apparatus.rows.iter().map(|r| r.name.clone()))
            .collect();
        for (owner, key, factor) in changes {
            let piece = owner.get(&owners).clone();
            let list = apparatus.parameters(&piece).unwrap();
            let parameter = key.get(&list);
            let edit = Edit::Set {
                piece,
                key: parameter.key.clone(),
                value: parameter.limit.nearest(parameter.value * factor),
            };
            if let Ok(next) = apparatus.apply(&edit) {
                apparatus = next;
            }
        }
        apparatus
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn any_design_can_be_read(
        apparatus in designs(),
        chosen in prop::collection::vec(any::<prop::sample::Index>(), 0..3),
        scale in prop::sample::select(&SCALES[..]),
    ) {
        let names = apparatus.names();
        let chosen: Vec<usize> = chosen.iter().map(|index| index.index(names.len())).collect();
        check(&Page::of(&apparatus, &chosen, scale))?;
    }
}
