//! Where the names of a chart's lines stand: beside their line, where it runs apart from the others.
//!
//! Everything is in the units of the page or screen, x to the right and y down. Each line is tried at places along
//! it, above and below; the place farthest from all lines and names is taken, and of places about as good the one
//! nearest to the line's end. Lines that run together everywhere share one name.

/// A point: x, y.
pub type Point = [f64; 2];

/// A rectangle: left, top, right, bottom.
pub type Rect = [f64; 4];

/// A line to be named; its points are in rising order of x.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Its name.
    pub name: String,
    /// Its points.
    pub points: Vec<Point>,
}

/// A name and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Index of the first line that it names.
    pub line: usize,
    /// The text.
    pub text: String,
    /// Where it stands.
    pub rect: Rect,
}

/// Lines that are nowhere farther apart than this are one to the eye.
const TOGETHER: f64 = 1.5;
/// Gap between a line and its name.
const GAP: f64 = 3.0;
/// Distance beyond which a place gets no better.
const FREE: f64 = 14.0;
/// Distance of tried places along x.
const STEP: f64 = 12.0;
/// What a place at the line's start is worth less than one at its end.
const END: f64 = 4.0;

/// Places the names within `frame`. `width` gives the width of a text, `height` is that of every text; `base` is the
/// y at which a line shows nothing (zero), where no name is put while the line has another place.
pub fn place(frame: Rect, lines: &[Named], base: f64, height: f64, width: impl Fn(&str) -> f64) -> Vec<Label> {
    let mut labels: Vec<Label> = Vec::new();
    for (members, text) in groups(lines) {
        let size = [width(&text), height];
        let Some(&first) = members.first() else { continue };
        let own = &lines[first];
        let mut best: Option<(f64, Rect)> = None;
        let mut last_x = f64::NEG_INFINITY;
        for point in &own.points {
            if point[0] - last_x < STEP || !point[1].is_finite() {
                continue;
            }
            last_x = point[0];
            for rect in around(*point, size) {
                if rect[0] < frame[0] || rect[1] < frame[1] || rect[2] > frame[2] || rect[3] > frame[3] {
                    continue;
                }
                let near_lines = lines.iter().map(|line| distance(rect, &line.points));
                let near = near_lines.fold(FREE, f64::min);
                let clear = labels.iter().map(|label| apart(rect, label.rect)).fold(FREE, f64::min);
                if clear < 1.0 {
                    continue;
                }
                let others = lines.iter().enumerate().filter(|(i, _)| !members.contains(i));
                let alone = others
                    .map(|(_, line)| (height_at(line, point[0]) - point[1]).abs())
                    .fold(FREE, f64::min);
                let along = (point[0] - frame[0]) / (frame[2] - frame[0]).max(1.0);
                let empty = if (point[1] - base).abs() < 2.0 { 3.0 * FREE } else { 0.0 };
                let worth = 2.0 * near + clear.min(6.0) + alone + END * along - empty;
                if best.is_none_or(|(found, _)| worth > found) {
                    best = Some((worth, rect));
                }
            }
        }
        if let Some((_, rect)) = best {
            labels.push(Label {
                line: first,
                text,
                rect,
            });
        }
    }
    labels
}

/// Lines that run together, with all their names.
fn groups(lines: &[Named]) -> Vec<(Vec<usize>, String)> {
    let mut found: Vec<(Vec<usize>, String)> = Vec::new();
    for (i, line) in lines.iter().enumerate() {
        let runs_with = |members: &[usize]| members.first().is_some_and(|first| together(&lines[*first], line));
        match found.iter_mut().find(|(members, _)| runs_with(members)) {
            Some((members, text)) => {
                members.push(i);
                *text += ", ";
                *text += &line.name;
            }
            None => found.push((vec![i], line.name.clone())),
        }
    }
    found
}

fn together(a: &Named, b: &Named) -> bool {
    a.points.len() == b.points.len()
        && a.points
            .iter()
            .zip(&b.points)
            .all(|(a, b)| (a[0] - b[0]).abs() <= TOGETHER && (a[1] - b[1]).abs() <= TOGETHER)
}

/// Above, below, and with its end or start at the point.
fn around(at: Point, [width, height]: [f64; 2]) -> [Rect; 6] {
    let rect = |left: f64, top: f64| [left, top, left + width, top + height];
    let (above, below) = (at[1] - GAP - height, at[1] + GAP);
    [
        rect(at[0] - width / 2.0, above),
        rect(at[0] - width / 2.0, below),
        rect(at[0] + GAP, above),
        rect(at[0] - GAP - width, above),
        rect(at[0] + GAP, at[1] - height / 2.0),
        rect(at[0] - GAP - width, at[1] - height / 2.0),
    ]
}

/// Distance between two rectangles, negative when they overlap.
fn apart(a: Rect, b: Rect) -> f64 {
    let x = (a[0] - b[2]).max(b[0] - a[2]);
    let y = (a[1] - b[3]).max(b[1] - a[3]);
    x.max(y)
}

/// Distance of a rectangle from a line, 0 when the line runs through it.
fn distance(rect: Rect, points: &[Point]) -> f64 {
    let from = points.partition_point(|p| p[0] < rect[0] - FREE).saturating_sub(1);
    let to = points.partition_point(|p| p[0] <= rect[2] + FREE) + 1;
    let near = points.get(from..to.min(points.len())).unwrap_or_default();
    let segments = near.windows(2).map(|pair| {
        // The box around a piece of the line: pieces are short, or upright where the line jumps.
        let (a, b) = (pair[0], pair[1]);
        let around = [a[0].min(b[0]), a[1].min(b[1]), a[0].max(b[0]), a[1].max(b[1])];
        apart(rect, around).max(0.0)
    });
    segments.filter(|d| d.is_finite()).fold(FREE, f64::min)
}

/// The y of a line at `x`.
fn height_at(line: &Named, x: f64) -> f64 {
    let after = line.points.partition_point(|p| p[0] < x);
    line.points.get(after).or(line.points.last()).map_or(f64::NAN, |p| p[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    const FRAME: Rect = [0.0, 0.0, 400.0, 200.0];

    fn named(name: &str, y: impl Fn(f64) -> f64) -> Named {
        Named {
            name: name.to_owned(),
            points: (0..=400).map(|x| [f64::from(x), y(f64::from(x))]).collect(),
        }
    }

    fn width(text: &str) -> f64 {
        7.0 * text.chars().count() as f64
    }

    #[test]
    fn names_stand_beside_their_own_line_and_clear_of_others() {
        let bump = |middle: f64| move |x: f64| 190.0 - 150.0 * (-((x - middle) / 40.0).powi(2)).exp();
        let lines = [
            named("vial-1", bump(90.0)),
            named("vial-2", bump(200.0)),
            named("vial-3", bump(310.0)),
        ];
        let labels = place(FRAME, &lines, 190.0, 14.0, width);
        assert_eq!(labels.len(), 3);
        for (i, label) in labels.iter().enumerate() {
            assert_eq!(label.text, lines[label.line].name);
            for line in &lines {
                assert!(distance(label.rect, &line.points) > 0.0, "{label:?} on {}", line.name);
            }
            let own = distance(label.rect, &lines[label.line].points);
            assert!(own <= GAP + 1.0, "{label:?} is {own} from its line");
            for other in &labels[..i] {
                assert!(apart(label.rect, other.rect) > 0.0, "{label:?} on {other:?}");
            }
            assert!(label.rect[3] < 180.0, "{label:?} where nothing is shown");
        }
    }

    #[test]
    fn lines_that_run_together_share_a_name() {
        let lines = [
            named("vial-1", |_| 50.0),
            named("vial-2", |_| 50.5),
            named("pot", |_| 120.0),
        ];
        let labels = place(FRAME, &lines, 200.0, 14.0, width);
        let texts: Vec<&str> = labels.iter().map(|label| label.text.as_str()).collect();
        assert_eq!(texts, ["vial-1, vial-2", "pot"]);
    }

    #[test]
    fn a_name_that_finds_no_room_is_left_out() {
        let lines = [named("a very long name indeed", |_| 10.0)];
        assert!(place([0.0, 0.0, 60.0, 60.0], &lines, 60.0, 14.0, width).is_empty());
        assert!(place(FRAME, &[], 0.0, 14.0, width).is_empty());
    }
}
