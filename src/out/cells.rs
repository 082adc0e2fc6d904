//! Where shapes lie: a grid over the drawing, so that the few that may hold a point need not be looked for among all.

use crate::geom::{Primitive, Shape};
use nalgebra::Vector2;

/// Cells along the longer side of the grid.
const CELLS: f64 = 64.0;

/// Shapes by the cells that their extents touch.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Cells {
    low: Vector2<f64>,
    /// Side of a cell, mm.
    side: f64,
    /// Cells along x and y.
    count: [usize; 2],
    /// For each cell, row by row, the numbers of its shapes, rising.
    shapes: Vec<Vec<usize>>,
}

impl Cells {
    /// The cells of shapes.
    pub(super) fn of(shapes: &[Primitive]) -> Self {
        let extents: Vec<_> = shapes.iter().map(|shape| extent(&shape.shape)).collect();
        let whole = extents.iter().copied().reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1)));
        let Some((low, high)) = whole.filter(|(low, high)| low.iter().chain(high.iter()).all(|x| x.is_finite())) else {
            return Self::default();
        };
        let side = ((high - low).max() / CELLS).max(1.0);
        let mut cells = Self {
            low,
            side,
            count: [0, 1].map(|axis| index((high - low)[axis] / side) + 1),
            shapes: Vec::new(),
        };
        cells.shapes = vec![Vec::new(); cells.count[0] * cells.count[1]];
        for (number, (low, high)) in extents.into_iter().enumerate() {
            for cell in cells.within(low, high) {
                cells.shapes[cell].push(number);
            }
        }
        cells
    }

    /// The numbers of the shapes that may reach within `margin_mm` of a point, the last first; one may come twice.
    pub(super) fn near(&self, point: Vector2<f64>, margin_mm: f64) -> impl Iterator<Item = usize> {
        let margin = Vector2::repeat(margin_mm);
        let cells = self.within(point - margin, point + margin);
        let mut found: Vec<usize> = cells.flat_map(|cell| self.shapes[cell].iter().copied()).collect();
        found.sort_unstable();
        found.into_iter().rev()
    }

    /// The cells that a rectangle touches.
    fn within(&self, low: Vector2<f64>, high: Vector2<f64>) -> impl Iterator<Item = usize> + use<> {
        let [columns, rows] = self.count;
        let span = |axis: usize, count: usize| {
            let (from, to) = ((low - self.low)[axis] / self.side, (high - self.low)[axis] / self.side);
            if to < 0.0 || count == 0 {
                0..0
            } else {
                index(from)..(index(to) + 1).min(count)
            }
        };
        let (across, up) = (span(0, columns), span(1, rows));
        up.flat_map(move |row| across.clone().map(move |column| row * columns + column))
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the value is clamped to what fits"
)]
fn index(cells: f64) -> usize {
    cells.clamp(0.0, 2.0 * CELLS) as usize
}

/// Corners of an upright rectangle that holds the section of a shape; a bend counts as a whole ring.
fn extent(shape: &Shape) -> (Vector2<f64>, Vector2<f64>) {
    let about = |centre: Vector2<f64>, r: f64| (centre - Vector2::repeat(r), centre + Vector2::repeat(r));
    match *shape {
        Shape::Frustum { from, to, r_from, r_to } => {
            let (a, b) = (about(from, r_from), about(to, r_to));
            (a.0.inf(&b.0), a.1.sup(&b.1))
        }
        Shape::Spheroid {
            centre,
            semi_axial,
            semi_radial,
            ..
        } => about(centre, semi_axial.max(semi_radial)),
        Shape::Torus { centre, radius, r, .. } => about(centre, radius + r),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::sample;
    use crate::out::section::contains;

    #[test]
    fn no_shape_that_holds_a_point_is_missed() {
        let outsides = build(&sample::apparatus()).unwrap().outsides;
        let cells = Cells::of(&outsides);
        let mut held = 0;
        for i in 0..120 {
            for k in 0..120 {
                let point = Vector2::new(-300.0 + 5.3 * f64::from(i), -300.0 + 5.1 * f64::from(k));
                for margin in [0.0, 4.0] {
                    let holds = |n: &usize| contains(&outsides[*n].shape, point, margin);
                    let all = (0..outsides.len()).rev().find(holds);
                    assert_eq!(cells.near(point, margin).find(holds), all, "{point} {margin}");
                    held += usize::from(all.is_some());
                }
            }
        }
        assert!(held > 100, "{held}");
    }

    #[test]
    fn nothing_is_near_where_there_is_nothing() {
        assert_eq!(Cells::of(&[]).near(Vector2::zeros(), 10.0).count(), 0);
        assert_eq!(Cells::default().near(Vector2::new(f64::NAN, 0.0), 1.0).count(), 0);
    }
}
