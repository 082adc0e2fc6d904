//! Tables as chunks: a row stays whole, and the head goes before the rows of every page.

use super::font::{broken, width};
use super::leaf::Table;
use super::page::{Anchor, Layer, Part, Point, Role, Text, Tone, Weight, rectangle};
use super::typeset::Chunk;

/// Size of the type, distance of its lines, and space about a cell, mm.
const SIZE: f64 = 3.1;
const LINE: f64 = 4.2;
const PAD: Point = Point::new(1.6, 1.1);
/// Width of a column to write in, and height of a row with one, mm.
const WRITTEN: f64 = 26.0;
const WRITTEN_ROW: f64 = 8.2;

/// Head and rows for a width in mm.
pub fn chunks(table: &Table, whole: f64, number: usize) -> Vec<Chunk> {
    let grid = Grid {
        widths: widths(table, whole),
        table,
        number,
    };
    let heads: Vec<String> = table.heads.iter().map(|head| plain(head).to_owned()).collect();
    let head = Chunk {
        above: 3.0,
        keeps_next: true,
        ..grid.row(&heads, 0, true)
    };
    let mut repeated = head.clone();
    for part in &mut repeated.parts {
        part.role = Role::Furniture;
    }
    let rows = table.rows.iter().enumerate().map(|(i, row)| Chunk {
        head: Some(Box::new(repeated.clone())),
        ..grid.row(row, i + 1, false)
    });
    std::iter::once(head).chain(rows).collect()
}

/// A head as it is printed.
fn plain(head: &str) -> &str {
    head.trim_end_matches('…').trim_end()
}

fn is_written(head: &str) -> bool {
    head.ends_with('…')
}

/// Widths of the columns: as wide as their longest cell, narrowed in proportion to what they can give up where that is
/// too much, and filled up to the whole width.
fn widths(table: &Table, whole: f64) -> Vec<f64> {
    let weight = Weight::SemiBold;
    let padded = |mm: f64| mm + 2.0 * PAD.x + 0.1;
    let columns = table.heads.iter().enumerate().map(|(k, head)| {
        let cells = table.rows.iter().filter_map(|row| row.get(k)).map(String::as_str);
        let texts = cells.chain([plain(head)]);
        let mut ends = (0.0_f64, 0.0_f64);
        for text in texts {
            let words = text.split(' ').map(|word| width(word, weight, SIZE));
            ends = (
                ends.0.max(words.fold(0.0, f64::max)),
                ends.1.max(width(text, weight, SIZE)),
            );
        }
        let least = if is_written(head) {
            WRITTEN.min(whole / 4.0)
        } else {
            0.0
        };
        (padded(ends.0).max(least), padded(ends.1).max(least))
    });
    let columns: Vec<(f64, f64)> = columns.collect();
    let (least, most) = columns.iter().fold((0.0, 0.0), |sum, c| (sum.0 + c.0, sum.1 + c.1));
    if most <= whole {
        let more = (whole - most) / columns.len().max(1) as f64;
        // A table of few, narrow columns is not drawn apart over the whole width.
        return columns.iter().map(|c| c.1 + more.min(12.0)).collect();
    }
    if least >= whole {
        return columns.iter().map(|c| c.0 * whole / least).collect();
    }
    let part = (whole - least) / (most - least);
    columns.iter().map(|c| c.0 + (c.1 - c.0) * part).collect()
}

struct Grid<'a> {
    table: &'a Table,
    widths: Vec<f64>,
    number: usize,
}

impl Grid<'_> {
    fn row(&self, cells: &[String], row: usize, is_head: bool) -> Chunk {
        let weight = if is_head { Weight::SemiBold } else { Weight::Regular };
        let columns = self.widths.iter().enumerate();
        let texts: Vec<Vec<String>> = columns
            .map(|(k, mm)| broken(cells.get(k).map_or("", String::as_str), weight, SIZE, mm - 2.0 * PAD.x))
            .collect();
        let is_line = |k: usize| {
            let is_empty = cells.get(k).is_none_or(|cell| cell.trim().is_empty());
            !is_head && is_empty && self.table.heads.get(k).is_some_and(|head| is_written(head))
        };
        let lines = texts.iter().map(Vec::len).max().unwrap_or(1);
        let mut height = lines as f64 * LINE + 2.0 * PAD.y - (LINE - SIZE) / 2.0;
        if (0..self.widths.len()).any(is_line) {
            height = height.max(WRITTEN_ROW);
        }
        let whole: f64 = self.widths.iter().sum();
        let mut rules = Part::new(Role::Furniture);
        if is_head {
            rules.fill(Tone::Pale, rectangle(Point::zeros(), Point::new(whole, height)));
        }
        rules.line(Layer::Rule, Point::new(0.0, height), Point::new(whole, height));
        let mut parts = Vec::new();
        let mut left = 0.0;
        for (k, (lines, mm)) in texts.iter().zip(&self.widths).enumerate() {
            let mut cell = Part::new(Role::Cell {
                table: self.number,
                row,
                is_head,
            });
            let is_number = self.table.numbers.get(k).copied().unwrap_or(false);
            let (x, anchor) = if is_number {
                (left + mm - PAD.x, Anchor::End)
            } else {
                (left + PAD.x, Anchor::Start)
            };
            for (i, line) in lines.iter().enumerate() {
                let at = Point::new(x, PAD.y + SIZE * 0.87 + LINE * i as f64);
                let text = Text::new(line.clone(), at, SIZE).anchored(anchor);
                cell.text(Text { weight, ..text });
            }
            if is_line(k) {
                let y = height - 1.6;
                rules.line(
                    Layer::Name,
                    Point::new(left + PAD.x, y),
                    Point::new(left + mm - PAD.x, y),
                );
            }
            parts.push(cell);
            left += mm;
        }
        parts.insert(0, rules);
        Chunk {
            height,
            parts,
            ..Chunk::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_fill_no_more_than_the_page() {
        let cell = |k: usize| "word ".repeat(k);
        for columns in 1..9 {
            let table = Table {
                heads: (0..columns)
                    .map(|k| format!("Head {k}{}", if k % 3 == 2 { "…" } else { "" }))
                    .collect(),
                rows: vec![(0..columns).map(|k| cell(4 * k)).collect()],
                numbers: vec![false; columns],
            };
            let sum: f64 = widths(&table, 186.0).iter().sum();
            assert!(sum <= 186.0 + 1e-9, "{columns} columns: {sum}");
        }
    }
}
