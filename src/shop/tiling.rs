//! A plane of glass in full size cut into tiles, one a page, that overlap.

use super::header::{BOTTOM, MARGIN, TOP};
use super::page::{Paper, Point};
use nalgebra::Vector2;

/// Width of the strip that neighbouring tiles share, mm.
pub const OVERLAP: f64 = 10.0;
/// Space kept about the glass, mm.
pub const ROOM: f64 = 12.0;
/// Room at the left for the upright check bar, and at the foot for the level one, mm.
const BARS: Point = Point::new(9.0, 12.0);

/// A tile.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tile {
    /// Column, from 0 at the left.
    pub column: usize,
    /// Row, from 0 at the top.
    pub row: usize,
    /// Lowest coordinates shown, mm of the apparatus frame, y up.
    pub low: Vector2<f64>,
    /// Greatest coordinates shown.
    pub high: Vector2<f64>,
}

impl Tile {
    /// `A1` and so on: rows by letter from the top, columns by number.
    pub fn name(&self) -> String {
        let letter = char::from_u32(u32::from(b'A') + (self.row % 26) as u32).unwrap_or('A');
        format!("{letter}{}", self.column + 1)
    }

    /// Whether a point is on it.
    pub fn holds(&self, p: Vector2<f64>) -> bool {
        p.x >= self.low.x && p.y >= self.low.y && p.x <= self.high.x && p.y <= self.high.y
    }
}

/// How the plane is cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiling {
    /// Width and height of a page, mm.
    pub page: Point,
    /// Upper left corner of the window that shows a tile, mm of the page.
    pub corner: Point,
    /// Width and height of the window, mm.
    pub window: Vector2<f64>,
    /// Columns and rows.
    pub grid: [usize; 2],
    /// The tiles, row by row from the top.
    pub tiles: Vec<Tile>,
}

impl Tiling {
    /// The fewest tiles that show everything from `low` to `high`, on upright or lying paper.
    pub fn of(low: Vector2<f64>, high: Vector2<f64>, paper: Paper) -> Self {
        let upright = Self::on(low, high, paper.portrait());
        let lying = Self::on(low, high, paper.landscape());
        if lying.tiles.len() < upright.tiles.len() {
            lying
        } else {
            upright
        }
    }

    fn on(low: Vector2<f64>, high: Vector2<f64>, page: Point) -> Self {
        let corner = Point::new(MARGIN + BARS.x, TOP);
        let window = page - corner - Point::new(MARGIN, BOTTOM + BARS.y);
        let step = window - Vector2::repeat(OVERLAP);
        let extent = high - low + Vector2::repeat(2.0 * ROOM);
        let count = |k: usize| ((extent[k] - OVERLAP) / step[k]).ceil().clamp(1.0, 200.0) as usize;
        let grid = [count(0), count(1)];
        let whole = Vector2::new(grid[0] as f64 * step.x, grid[1] as f64 * step.y) + Vector2::repeat(OVERLAP);
        let middle = (low + high) / 2.0;
        let (left, top) = (middle.x - whole.x / 2.0, middle.y + whole.y / 2.0);
        let mut tiles = Vec::with_capacity(grid[0] * grid[1]);
        for row in 0..grid[1] {
            for column in 0..grid[0] {
                let corner = Vector2::new(left + column as f64 * step.x, top - row as f64 * step.y);
                tiles.push(Tile {
                    column,
                    row,
                    low: Vector2::new(corner.x, corner.y - window.y),
                    high: Vector2::new(corner.x + window.x, corner.y),
                });
            }
        }
        Self {
            page,
            corner,
            window,
            grid,
            tiles,
        }
    }

    /// Where tiles are laid together: in the middle of the shared strips, each mark on every tile that holds it.
    pub fn registers(&self) -> Vec<Vector2<f64>> {
        let mut marks = Vec::new();
        for tile in &self.tiles {
            let at = |part: f64, k: usize| tile.low[k] + (tile.high[k] - tile.low[k]) * part;
            for part in [0.25, 0.75] {
                if tile.column + 1 < self.grid[0] {
                    marks.push(Vector2::new(tile.high.x - OVERLAP / 2.0, at(part, 1)));
                }
                if tile.row + 1 < self.grid[1] {
                    marks.push(Vector2::new(at(part, 0), tile.low.y + OVERLAP / 2.0));
                }
            }
        }
        marks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_point_is_on_a_tile_and_neighbours_share_what_is_stated(
            x in -500.0..500.0_f64, y in -500.0..500.0_f64,
            width in 0.0..1500.0_f64, height in 0.0..1500.0_f64,
            part in (0.0..=1.0_f64, 0.0..=1.0_f64), which in 0..3_usize,
        ) {
            let paper = [Paper::A4, Paper::A3, Paper::Letter][which];
            let low = Vector2::new(x, y);
            let high = low + Vector2::new(width, height);
            let tiling = Tiling::of(low, high, paper);
            let p = low + Vector2::new(width * part.0, height * part.1);
            prop_assert!(tiling.tiles.iter().any(|tile| tile.holds(p)));
            for tile in &tiling.tiles {
                for other in &tiling.tiles {
                    if other.row == tile.row && other.column == tile.column + 1 {
                        prop_assert!(tile.high.x - other.low.x >= OVERLAP - 1e-9);
                    }
                    if other.column == tile.column && other.row == tile.row + 1 {
                        prop_assert!(other.high.y - tile.low.y >= OVERLAP - 1e-9);
                    }
                }
                prop_assert!(((tile.high - tile.low) - tiling.window).norm() < 1e-9, "full size");
            }
            for mark in tiling.registers() {
                prop_assert!(tiling.tiles.iter().filter(|tile| tile.holds(mark)).count() >= 2);
            }
        }
    }

    #[test]
    fn the_window_lies_within_the_page() {
        for paper in [Paper::A4, Paper::A3, Paper::Letter] {
            let tiling = Tiling::of(Vector2::zeros(), Vector2::new(400.0, 300.0), paper);
            let far = tiling.corner + tiling.window;
            assert!(far.x <= tiling.page.x - MARGIN && far.y <= tiling.page.y - BOTTOM);
            assert_eq!(tiling.tiles.len(), tiling.grid[0] * tiling.grid[1]);
        }
    }
}
