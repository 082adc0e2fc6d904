//! The joined glass as lines: the walls of every piece, cut off where another piece is fused over them.
//!
//! A point of an outline is hidden when the place just outside of it lies within another piece. Outlines are walked in
//! short steps, and where they come out of hiding is found by halving; lines and arcs stay lines and arcs.

use crate::geom::Primitive;
use crate::geom::build::Built;
use crate::geom::glass::{Path, Stroke};
use crate::out::section;
use nalgebra::Vector2;

/// Length of a step, mm: no part that is seen or hidden is longer and missed.
const STEP_MM: f64 = 0.4;
/// How far outside of an outline it is looked, mm.
const OUTSIDE_MM: f64 = 1e-3;
/// Halvings of a step: 0.4 mm come to less than a nanometre.
const HALVINGS: u32 = 30;

/// The lines of the joined glass, in the apparatus frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outlines {
    /// Outsides of the walls, with the piece each belongs to.
    pub outer: Vec<(usize, Path)>,
    /// Insides of the walls.
    pub inner: Vec<(usize, Path)>,
}

impl Outlines {
    /// The lines of what was built.
    pub fn of(built: &Built) -> Self {
        let outer = built.glass.iter().map(|glass| (glass.piece, &glass.outer));
        let inner = built.glass.iter().map(|glass| (glass.piece, &glass.inner));
        Self {
            outer: seen(outer, &built.outsides),
            inner: seen(inner, &built.primitives),
        }
    }
}

fn seen<'p>(outlines: impl Iterator<Item = (usize, &'p Path)>, shapes: &[Primitive]) -> Vec<(usize, Path)> {
    let mut found = Vec::new();
    for (piece, outline) in outlines {
        let others: Vec<&Primitive> = shapes.iter().filter(|shape| shape.piece != piece).collect();
        let hides = |p: Vector2<f64>| others.iter().any(|other| section::contains(&other.shape, p, 0.0));
        found.extend(uncovered(outline, &hides).into_iter().map(|path| (piece, path)));
    }
    found
}

/// A stroke with its start.
#[derive(Clone, Copy)]
struct Run {
    from: Vector2<f64>,
    stroke: Stroke,
}

impl Run {
    fn point(&self, part: f64) -> Vector2<f64> {
        match self.stroke {
            Stroke::Line { to } => self.from + (to - self.from) * part,
            Stroke::Arc { .. } => self.stroke.point(part),
        }
    }

    fn length(&self) -> f64 {
        match self.stroke {
            Stroke::Line { to } => (to - self.from).norm(),
            Stroke::Arc {
                semi_axial,
                semi_radial,
                sweep,
                ..
            } => semi_axial.max(semi_radial) * sweep.abs(),
        }
    }

    /// The place just to the left of the way, or to the right where `side` is negative.
    fn beside(&self, part: f64, side: f64) -> Vector2<f64> {
        let step = 1e-4;
        let way = self.point((part + step).min(1.0)) - self.point((part - step).max(0.0));
        let left = Vector2::new(-way.y, way.x).try_normalize(0.0).unwrap_or_default();
        self.point(part) + left * (OUTSIDE_MM * side)
    }

    /// The stroke between two parts of it.
    fn cut(&self, from: f64, to: f64) -> Stroke {
        match self.stroke {
            Stroke::Line { .. } => Stroke::Line { to: self.point(to) },
            Stroke::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start,
                sweep,
            } => Stroke::Arc {
                centre,
                heading,
                semi_axial,
                semi_radial,
                start: start + sweep * from,
                sweep: sweep * (to - from),
            },
        }
    }
}

/// The parts of a closed outline that are not hidden.
fn uncovered(outline: &Path, hides: &dyn Fn(Vector2<f64>) -> bool) -> Vec<Path> {
    let mut runs = Vec::with_capacity(outline.strokes.len() + 1);
    let mut from = outline.start;
    let closing = Stroke::Line { to: outline.start };
    let last = outline.closed.then_some(&closing);
    for stroke in outline.strokes.iter().chain(last) {
        let run = Run { from, stroke: *stroke };
        if run.length() > 1e-9 {
            runs.push(run);
        }
        from = stroke.point(1.0);
    }
    // An outline that runs anticlockwise has its outside on the right.
    let points = outline.points(0.1);
    let n = points.len();
    let area: f64 = (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum();
    let side = if area > 0.0 { -1.0 } else { 1.0 };

    let mut found: Vec<Path> = Vec::new();
    for run in &runs {
        for (from, to) in open_parts(run, &|part| !hides(run.beside(part, side))) {
            let start = run.point(from);
            let stroke = run.cut(from, to);
            match found.last_mut().filter(|path| (path.end() - start).norm() < 1e-6) {
                Some(path) => path.strokes.push(stroke),
                None => found.push(Path {
                    start,
                    strokes: vec![stroke],
                    closed: false,
                }),
            }
        }
    }
    join_ends(&mut found);
    found
}

/// Where a run is open: from and to, as parts of it.
fn open_parts(run: &Run, is_open: &dyn Fn(f64) -> bool) -> Vec<(f64, f64)> {
    let steps = (run.length() / STEP_MM).ceil().clamp(1.0, 1e5);
    // In the middle of steps, as the ends lie on other strokes.
    let middle = |k: f64| (k + 0.5) / steps;
    let mut parts = Vec::new();
    let mut opened = is_open(middle(0.0)).then_some(0.0);
    let mut k = 1.0;
    while k < steps {
        let (before, after) = (middle(k - 1.0), middle(k));
        match (opened, is_open(after)) {
            (None, true) => opened = Some(change(before, after, is_open)),
            (Some(from), false) => {
                parts.push((from, change(before, after, is_open)));
                opened = None;
            }
            _ => {}
        }
        k += 1.0;
    }
    if let Some(from) = opened {
        parts.push((from, 1.0));
    }
    parts
}

/// Where a run changes between open and hidden.
fn change(mut before: f64, mut after: f64, is_open: &dyn Fn(f64) -> bool) -> f64 {
    let first = is_open(before);
    for _ in 0..HALVINGS {
        let middle = f64::midpoint(before, after);
        if is_open(middle) == first {
            before = middle;
        } else {
            after = middle;
        }
    }
    f64::midpoint(before, after)
}

/// The walk may have begun in the middle of a line that is seen: its last part goes before its first; where there is
/// only one, it closes.
fn join_ends(found: &mut Vec<Path>) {
    let meet = match (found.first(), found.last()) {
        (Some(first), Some(last)) => (last.end() - first.start).norm() < 1e-6,
        _ => false,
    };
    if !meet {
        return;
    }
    if let [only] = &mut found[..] {
        only.closed = true;
    } else if let Some(mut last) = found.pop() {
        let first = found.remove(0);
        last.strokes.extend(first.strokes);
        found.insert(0, last);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Apparatus, Element, End, Form, Piece, Place, Seat, Tube, TubeSize};

    /// Length of lines.
    fn length(paths: &[(usize, Path)]) -> f64 {
        let of = |path: &Path| {
            let mut from = path.start;
            let mut sum = 0.0;
            for stroke in &path.strokes {
                sum += Run { from, stroke: *stroke }.length();
                from = stroke.point(1.0);
            }
            sum
        };
        paths.iter().map(|(_, path)| of(path)).sum()
    }

    #[test]
    fn a_tee_has_no_lines_through_its_joint() {
        // A run of 100 mm, OD 16, with a side arm of OD 8 that ends 40 mm from its axis, both open.
        let mut apparatus = Apparatus::default();
        let size = TubeSize::new;
        let piece = |name: &str, seat, size, length_mm| Piece {
            name: name.to_owned(),
            seat,
            form: Form::Tube(Tube {
                size,
                course: vec![Element::Straight { length_mm }],
                start: End::Open,
                end: End::Open,
            }),
        };
        let free = Seat::Free {
            x_mm: 0.0,
            y_mm: 0.0,
            heading_deg: 0.0,
        };
        let on = Seat::On(Place {
            host: "run".to_owned(),
            at_mm: 50.0,
            turn_deg: 90.0,
        });
        apparatus.pieces.push(piece("run", free, size(16.0, 1.0), 100.0));
        apparatus.pieces.push(piece("arm", on, size(8.0, 1.0), 40.0));
        let outlines = Outlines::of(&build(&apparatus).expect("a tee"));
        // Outside: the run's outline without the mouth of the arm, and the arm beyond the run's wall.
        let outside = 2.0 * (100.0 + 16.0) - 8.0 + 2.0 * (40.0 - 8.0) + 8.0;
        assert!(
            (length(&outlines.outer) - outside).abs() < 1e-5,
            "{}",
            length(&outlines.outer)
        );
        let inside = 2.0 * (100.0 + 14.0) - 6.0 + 2.0 * (40.0 - 7.0) + 6.0;
        assert!(
            (length(&outlines.inner) - inside).abs() < 1e-5,
            "{}",
            length(&outlines.inner)
        );
    }
}
