//! The blocks of a leaf as chunks: headings, paragraphs, cautions, forms and steps.

use super::figures::Pictures;
use super::font::{CAPITALS, broken};
use super::leaf::{Block, Field, Figure, Leaf, Step};
use super::page::{Layer, Part, Point, Role, Text, Tone, Weight, through};
use super::table;
use super::typeset::Chunk;

/// Sizes of the type, mm: title, headings, text, notes and labels.
const TITLE: f64 = 5.6;
const HEADING: f64 = 4.3;
const TEXT: f64 = 3.4;
const NOTE: f64 = 2.8;
/// Distance of lines as a multiple of the size.
const LEADING: f64 = 1.38;
/// Side of a box to tick, mm.
const BOX: f64 = 4.4;
/// Where the text of a step begins, mm.
const INDENT: f64 = 15.0;
/// Height of a field, mm: room for handwriting.
const FIELD: f64 = 11.0;
/// Space between columns of fields, mm.
const GUTTER: f64 = 8.0;
/// Greatest heights of pictures, mm: on their own, and in a step.
const PICTURE: f64 = 95.0;
const STEP_PICTURE: f64 = 72.0;

/// All chunks of a leaf for a width in mm. Tables are counted on from `tables`.
pub fn chunks(leaf: &Leaf, pictures: &Pictures<'_>, width: f64, tables: &mut usize) -> Vec<Chunk> {
    let mut chunks = vec![Chunk {
        keeps_next: true,
        ..paragraph(&leaf.title, Role::Title, TITLE, Weight::SemiBold, Tone::Black, width)
    }];
    for (i, block) in leaf.blocks.iter().enumerate() {
        match block {
            Block::Heading(text) => chunks.push(Chunk {
                above: 6.0,
                keeps_next: true,
                ..paragraph(text, Role::Heading, HEADING, Weight::SemiBold, Tone::Black, width)
            }),
            Block::Text(text) => chunks.extend(lines(text, TEXT, Tone::Black, width)),
            Block::Note(text) => chunks.extend(lines(text, NOTE, Tone::Grey, width).into_iter().map(|chunk| Chunk {
                above: chunk.above / 2.0,
                ..chunk
            })),
            Block::Caution(text) => chunks.push(caution(text, width)),
            Block::Fields(fields) => chunks.extend(fields.chunks(2).map(|pair| field_row(pair, width))),
            Block::Table(table) => {
                chunks.extend(table::chunks(table, width, *tables));
                *tables += 1;
            }
            Block::Steps(steps) => {
                for (i, step) in steps.iter().enumerate() {
                    chunks.extend(step_chunks(i + 1, step, pictures, width));
                }
            }
            Block::Figure(figure) => chunks.extend(picture(figure, pictures, width, PICTURE)),
        }
        // Words that lead to a picture or a table stay with it.
        let leads = matches!(block, Block::Text(_))
            && matches!(leaf.blocks.get(i + 1), Some(Block::Figure(_) | Block::Table(_)));
        if let Some(last) = chunks.last_mut().filter(|_| leads) {
            last.keeps_next = true;
        }
    }
    chunks
}

/// Where the baseline of a line stands below its top.
fn baseline(size: f64) -> f64 {
    size * (LEADING + CAPITALS) / 2.0
}

fn paragraph(text: &str, role: Role, size: f64, weight: Weight, tone: Tone, width: f64) -> Chunk {
    let mut part = Part::new(role);
    let mut height = 0.0;
    for line in broken(text, weight, size, width) {
        let text = Text::new(line, Point::new(0.0, height + baseline(size)), size).toned(tone);
        part.text(Text { weight, ..text });
        height += size * LEADING;
    }
    Chunk {
        height,
        above: 2.5,
        parts: vec![part],
        ..Chunk::default()
    }
}

/// A paragraph; a long one may be broken over pages between its lines.
fn lines(text: &str, size: f64, tone: Tone, width: f64) -> Vec<Chunk> {
    const MOST: usize = 12;
    let all = broken(text, Weight::Regular, size, width);
    let groups = all.chunks(MOST).enumerate();
    groups
        .map(|(i, group)| Chunk {
            above: if i == 0 { 2.5 } else { 0.0 },
            ..paragraph(&group.join("\n"), Role::Text, size, Weight::Regular, tone, width)
        })
        .collect()
}

/// A danger: a frame with a sign, on a tint.
fn caution(text: &str, width: f64) -> Chunk {
    const PAD: f64 = 2.4;
    const SIGN: f64 = 8.0;
    let left = PAD * 2.0 + SIGN;
    let inner = paragraph(
        text,
        Role::Text,
        TEXT,
        Weight::SemiBold,
        Tone::Black,
        width - left - PAD,
    );
    let height = (inner.height + 2.0 * PAD).max(SIGN + 2.0 * PAD);
    let mut frame = Part::new(Role::Furniture);
    let (corner, size) = (Point::zeros(), Point::new(width, height));
    frame.fill(Tone::Signal, super::page::rectangle(corner, size));
    frame.rectangle(Layer::Frame, corner, size);
    sign(&mut frame, Point::new(PAD, (height - SIGN) / 2.0), SIGN);
    let drop = (height - inner.height) / 2.0;
    let words = inner.parts.into_iter().map(|part| part.moved(Point::new(left, drop)));
    let mut parts = vec![frame];
    parts.extend(words);
    Chunk {
        height,
        above: 3.0,
        parts,
        ..Chunk::default()
    }
}

/// The general warning sign (ISO 7010, W001): an exclamation mark in a triangle.
fn sign(part: &mut Part, corner: Point, size: f64) {
    let at = |x: f64, y: f64| corner + Point::new(x, y) * size;
    if let Some(path) = through(&[at(0.5, 0.05), at(1.0, 0.92), at(0.0, 0.92)], true) {
        part.fill(Tone::White, path.clone());
        part.path(Layer::Frame, path);
    }
    part.fill_polygon(
        Tone::Black,
        &[at(0.45, 0.34), at(0.55, 0.34), at(0.53, 0.65), at(0.47, 0.65)],
    );
    part.fill(Tone::Black, super::page::circle(at(0.5, 0.77), 0.055 * size));
}

/// One or two fields side by side: the label above, the value or a line below it.
fn field_row(fields: &[Field], width: f64) -> Chunk {
    let column = (width - GUTTER) / 2.0;
    let mut chunk = Chunk {
        height: FIELD,
        above: 0.8,
        ..Chunk::default()
    };
    for (i, field) in fields.iter().enumerate() {
        let left = i as f64 * (column + GUTTER);
        let mut words = Part::new(Role::Text);
        let mut y = 0.0;
        for line in broken(&field.label, Weight::Regular, NOTE, column) {
            y += NOTE * 1.25;
            words.text(Text::new(line, Point::new(left, y), NOTE).toned(Tone::Grey));
        }
        let mut rule = Part::new(Role::Furniture);
        if field.value.is_empty() {
            y = (y + 7.0).max(FIELD - 1.0);
            rule.line(Layer::Rule, Point::new(left, y), Point::new(left + column, y));
        } else {
            for line in broken(&field.value, Weight::Regular, TEXT, column) {
                y += TEXT * LEADING;
                words.text(Text::new(line, Point::new(left, y), TEXT));
            }
        }
        chunk.height = chunk.height.max(y + 1.5);
        chunk.parts.extend([words, rule]);
    }
    chunk
}

/// A step: number, box to tick, text; below it what to beware of, what is written down, and how it looks.
fn step_chunks(number: usize, step: &Step, pictures: &Pictures<'_>, width: f64) -> Vec<Chunk> {
    let inner = width - INDENT;
    let mut chunks = vec![paragraph(
        &step.text,
        Role::Text,
        TEXT,
        Weight::Regular,
        Tone::Black,
        inner,
    )];
    chunks.extend(step.cautions.iter().map(|text| caution(text, inner)));
    chunks.extend(step.fields.chunks(2).map(|pair| field_row(pair, inner)));
    if let Some(figure) = &step.figure {
        chunks.extend(picture(figure, pictures, inner, STEP_PICTURE));
    }
    let last = chunks.len() - 1;
    for (i, chunk) in chunks.iter_mut().enumerate() {
        chunk.keeps_next = i < last;
        let parts = std::mem::take(&mut chunk.parts);
        chunk.parts = parts
            .into_iter()
            .map(|part| part.moved(Point::new(INDENT, 0.0)))
            .collect();
    }
    if let Some(first) = chunks.first_mut() {
        first.above = 4.5;
        first.height = first.height.max(BOX + 1.0);
        let mut mark = Part::new(Role::Furniture);
        mark.rectangle(Layer::Name, Point::new(0.0, 0.2), Point::repeat(BOX));
        let at = Point::new(BOX + 2.0, baseline(TEXT));
        mark.text(Text::new(format!("{number}."), at, TEXT).bold());
        first.parts.insert(0, mark);
    }
    chunks
}

fn picture(figure: &Figure, pictures: &Pictures<'_>, width: f64, most: f64) -> Option<Chunk> {
    let (height, parts) = pictures.draw(figure, width, most)?;
    Some(Chunk {
        height,
        above: 3.5,
        parts,
        ..Chunk::default()
    })
}
