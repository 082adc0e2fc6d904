//! Frame and title block of a drawing: the fields of ISO 7200, and beside them what holds for all of it.

use super::font::broken;
use super::header::{Heading, fitted};
use super::page::{Layer, Page, Part, Point, Role, Text, Tone, Weight};
use crate::model::Apparatus;
use crate::seek::spread::Tolerances;
use crate::units::fixed;
use nalgebra::Vector2;

/// Height of the block, mm.
pub const HEIGHT: f64 = 40.0;
/// Width of the block (ISO 7200), mm.
const WIDTH: f64 = 180.0;
/// Size of the labels and of what stands in the fields, mm.
const LABEL: f64 = 2.5;
const VALUE: f64 = 3.3;

/// What stands in and beside the block.
pub struct Facts {
    /// Label, value, width in hundredths of the block; row by row.
    rows: Vec<Vec<(&'static str, String, f64)>>,
    /// Notes.
    notes: Vec<String>,
}

impl Facts {
    /// What a page of the drawing of an apparatus says of itself; `sheet` is its number and how many there are.
    pub fn of(apparatus: &Apparatus, heading: &Heading, scale: &str, sheet: [usize; 2]) -> Self {
        let blank = String::new;
        let rows = vec![
            vec![
                ("Legal owner", blank(), 34.0),
                ("Created by", blank(), 33.0),
                ("Approved by", blank(), 33.0),
            ],
            vec![
                ("Title", heading.design.clone(), 67.0),
                ("Document type", heading.sheet.clone(), 33.0),
            ],
            vec![
                ("Glass", "Borosilicate 3.3 (ISO 3585)".to_owned(), 34.0),
                ("Identification number", blank(), 33.0),
                ("Liquid", apparatus.charge.liquid.clone(), 33.0),
            ],
            vec![
                ("Scale", scale.to_owned(), 25.0),
                ("Unit", "mm, degrees".to_owned(), 20.0),
                ("Revision", blank(), 11.0),
                ("Date of issue", heading.date.to_string(), 22.0),
                ("Language", "en".to_owned(), 11.0),
                ("Sheet", format!("{}/{}", sheet[0], sheet[1]), 11.0),
            ],
        ];
        Self {
            rows,
            notes: notes(&Tolerances::default()),
        }
    }
}

fn notes(tolerances: &Tolerances) -> Vec<String> {
    let number = |value: f64| {
        let text = fixed(value, 2);
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    };
    vec![
        format!(
            "Tolerances: lengths ±{} mm, places of joins ±{} mm, angles ±{}°, bores of necks ±{} %.",
            number(tolerances.length_mm),
            number(tolerances.place_mm),
            number(tolerances.angle_deg),
            number(tolerances.neck_part * 100.0),
        ),
        "* Critical: it sets what a vessel holds, or the neck that is sealed. Measure before and after.".to_owned(),
        "⌀ a × b: outside diameter × wall. Lengths run along centrelines, to centrelines at joins.".to_owned(),
        "In brackets: follows from other numbers. Thick dashes: seal off here. Bar across a body: its fill, held upright.".to_owned(),
        "Walls are drawn in section, views as seen from the front. Anneal before use under vacuum.".to_owned(),
    ]
}

/// Draws frame, block and notes.
pub fn draw(page: &mut Page, frame: [Point; 2], facts: &Facts) {
    let mut lines = Part::new(Role::Furniture);
    lines.rectangle(Layer::Frame, frame[0], frame[1] - frame[0]);
    let corner = Point::new(frame[1].x - WIDTH, frame[1].y - HEIGHT);
    lines.rectangle(Layer::Frame, corner, Vector2::new(WIDTH, HEIGHT));
    let mut words = Part::new(Role::Text);
    let height = HEIGHT / facts.rows.len().max(1) as f64;
    for (k, row) in facts.rows.iter().enumerate() {
        let y = corner.y + k as f64 * height;
        if k > 0 {
            lines.line(Layer::Rule, Point::new(corner.x, y), Point::new(frame[1].x, y));
        }
        let mut x = corner.x;
        for (label, value, share) in row {
            let width = WIDTH * share / 100.0;
            if x > corner.x {
                lines.line(Layer::Rule, Point::new(x, y), Point::new(x, y + height));
            }
            words.text(Text::new(*label, Point::new(x + 1.5, y + 3.2), LABEL).toned(Tone::Grey));
            let value = fitted(value, width - 3.0, VALUE);
            words.text(Text::new(value, Point::new(x + 1.5, y + 7.9), VALUE).bold());
            x += width;
        }
    }
    let left = frame[0].x + 3.0;
    let most = corner.x - left - 4.0;
    let mut y = frame[1].y - HEIGHT + 4.5;
    if most > 30.0 {
        for note in &facts.notes {
            for line in broken(note, Weight::Regular, 2.5, most) {
                words.text(Text::new(line, Point::new(left, y), 2.5));
                y += 3.3;
            }
        }
    }
    page.parts.push(lines);
    page.parts.push(words);
}
