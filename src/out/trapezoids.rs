//! A closed outline cut into trapezoids that tile its inside, for devices that fill triangles only.

use nalgebra::Vector2;

/// A trapezoid with two level sides, as four corners in turn.
pub type Trapezoid = [Vector2<f64>; 4];

/// An edge that rises from `low` to `high`.
struct Edge {
    low: Vector2<f64>,
    high: Vector2<f64>,
    /// +1 when the outline runs up along it, -1 when it runs down.
    winding: i32,
}

impl Edge {
    fn x_at(&self, y: f64) -> f64 {
        self.low.x + (self.high.x - self.low.x) * ((y - self.low.y) / (self.high.y - self.low.y))
    }
}

/// Trapezoids whose union is what the closed outline through `points` winds around (any winding number but 0).
///
/// Time grows with the number of points times the number of edges that a level crosses. Where edges cross each
/// other between two corners, the tiling differs from the inside by the small triangles at the crossing.
pub fn trapezoids(points: &[Vector2<f64>]) -> Vec<Trapezoid> {
    let mut edges: Vec<Edge> = (0..points.len())
        .filter_map(|i| {
            let (a, b) = (points[i], points[(i + 1) % points.len()]);
            match a.y.partial_cmp(&b.y)? {
                std::cmp::Ordering::Less => Some(Edge {
                    low: a,
                    high: b,
                    winding: 1,
                }),
                std::cmp::Ordering::Greater => Some(Edge {
                    low: b,
                    high: a,
                    winding: -1,
                }),
                std::cmp::Ordering::Equal => None,
            }
        })
        .collect();
    edges.sort_by(|a, b| a.low.y.total_cmp(&b.low.y));
    let mut levels: Vec<f64> = points.iter().map(|p| p.y).collect();
    levels.sort_by(f64::total_cmp);
    levels.dedup();

    let mut tiles = Vec::new();
    let mut next = 0;
    let mut live: Vec<&Edge> = Vec::new();
    for pair in levels.windows(2) {
        let (bottom, top) = (pair[0], pair[1]);
        live.retain(|edge| edge.high.y > bottom);
        while let Some(edge) = edges.get(next).filter(|edge| edge.low.y <= bottom) {
            live.push(edge);
            next += 1;
        }
        let middle = bottom + (top - bottom) / 2.0;
        live.sort_by(|a, b| a.x_at(middle).total_cmp(&b.x_at(middle)));
        let mut winding = 0;
        let mut left: Option<&Edge> = None;
        for edge in &live {
            let before = winding;
            winding += edge.winding;
            if before == 0 {
                left = Some(edge);
            }
            if winding == 0
                && let Some(left) = left.take()
            {
                tiles.push([
                    Vector2::new(left.x_at(bottom), bottom),
                    Vector2::new(edge.x_at(bottom), bottom),
                    Vector2::new(edge.x_at(top), top),
                    Vector2::new(left.x_at(top), top),
                ]);
            }
        }
    }
    tiles
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(points: &[Vector2<f64>]) -> f64 {
        let n = points.len();
        (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum::<f64>() / 2.0
    }

    fn check(points: &[[f64; 2]]) {
        let points: Vec<Vector2<f64>> = points.iter().map(|p| Vector2::from(*p)).collect();
        let whole = area(&points).abs();
        for turn in [0.0, 0.3, 1.1, 2.0, 3.1] {
            let turned: Vec<_> = points.iter().map(|p| nalgebra::Rotation2::new(turn) * p).collect();
            for outline in [turned.clone(), turned.into_iter().rev().collect()] {
                let found: f64 = trapezoids(&outline).iter().map(|t| area(t).abs()).sum();
                assert!(
                    (found - whole).abs() < 1e-9 * whole.max(1.0),
                    "{found} for {whole} turned by {turn}"
                );
            }
        }
    }

    #[test]
    fn tiles_have_the_area_of_the_outline() {
        check(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0]]);
        check(&[
            [0.0, 0.0],
            [9.0, 0.0],
            [9.0, 2.0],
            [6.0, 2.0],
            [6.0, 7.0],
            [3.0, 7.0],
            [3.0, 2.0],
            [0.0, 2.0],
        ]);
        check(&[
            [0.0, 0.0],
            [10.0, 0.0],
            [10.0, 10.0],
            [8.0, 10.0],
            [8.0, 2.0],
            [2.0, 2.0],
            [2.0, 10.0],
            [0.0, 10.0],
        ]);
    }

    #[test]
    fn an_outline_that_overlaps_itself_is_filled_once() {
        // A square run through twice.
        let square = [[0.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]].map(Vector2::from);
        let twice: Vec<_> = square.iter().chain(&square).copied().collect();
        let found: f64 = trapezoids(&twice).iter().map(|t| area(t).abs()).sum();
        assert!((found - 4.0).abs() < 1e-12);
    }

    #[test]
    fn too_few_or_strange_points_give_nothing() {
        assert!(trapezoids(&[]).is_empty());
        assert!(
            trapezoids(&[Vector2::new(1.0, 1.0), Vector2::new(2.0, 2.0)])
                .iter()
                .all(|t| area(t) == 0.0)
        );
        assert!(trapezoids(&[Vector2::new(f64::NAN, 1.0); 3]).is_empty());
    }
}
