//! Pages as PDF: true to size, the typeface embedded as a subset, tagged for reading aloud. The same pages and date
//! give the same bytes.

use super::date::Date;
use super::font;
use super::page::{Anchor, Layer, Page, Part, Point, Role, Text, Thing, Tone, Weight};
use crate::geom::glass::{Path, Stroke};
use krilla::color::rgb;
use krilla::destination::XyzDestination;
use krilla::error::KrillaError;
use krilla::geom::{PathBuilder, Point as PdfPoint, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Stroke as PdfStroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, Identifier, Node, SpanTag, TableHeaderScope, Tag, TagGroup, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Document, SerializeSettings};
use std::num::NonZeroU16;
use thiserror::Error;

/// Why pages could not be written.
#[derive(Debug, Error)]
pub enum PdfError {
    /// The typeface can't be read.
    #[error("the typeface can't be read")]
    Typeface,
    /// A page has no area.
    #[error("a page of {0} x {1} mm can't be written")]
    Size(f64, f64),
    /// The writer refused.
    #[error("the PDF can't be written: {0:?}")]
    Writer(Box<KrillaError>),
}

/// What the document says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct About {
    /// Title.
    pub title: String,
    /// What it is.
    pub subject: String,
    /// Day that it carries.
    pub date: Date,
}

/// Points for a millimetre.
const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// Writes pages.
///
/// # Errors
/// When a page has no area, or the writer refuses.
pub fn write(pages: &[Page], about: &About) -> Result<Vec<u8>, PdfError> {
    let face = |weight| Font::new(font::bytes(weight).into(), 0).ok_or(PdfError::Typeface);
    let mut writer = Writer {
        regular: face(Weight::Regular)?,
        semi_bold: face(Weight::SemiBold)?,
        read: Vec::new(),
    };
    let mut document = Document::new_with(SerializeSettings {
        enable_tagging: true,
        ..SerializeSettings::default()
    });
    let mut outline = Outline::new();
    for (index, page) in pages.iter().enumerate() {
        writer.page(&mut document, page)?;
        if let Some(bookmark) = &page.bookmark {
            let top = XyzDestination::new(index, PdfPoint::from_xy(0.0, 0.0));
            outline.push_child(OutlineNode::new(bookmark.clone(), top));
        }
    }
    document.set_outline(outline);
    document.set_tag_tree(tree(writer.read));
    document.set_metadata(metadata(about));
    document.finish().map_err(|error| PdfError::Writer(Box::new(error)))
}

fn metadata(about: &About) -> Metadata {
    let Date { year, month, day } = about.date;
    Metadata::new()
        .title(about.title.clone())
        .description(about.subject.clone())
        .language("en".to_owned())
        .creator("Vialwright".to_owned())
        .creation_date(DateTime::new(year).month(month).day(day))
}

/// What is read aloud, from the parts in their order.
fn tree(read: Vec<(Role, Identifier)>) -> TagTree {
    let mut tree = TagTree::new().with_lang(Some("en".to_owned()));
    let mut table: Option<Table> = None;
    let heading = |level: u16| Tag::Hn(NonZeroU16::new(level).unwrap_or(NonZeroU16::MIN), None);
    for (role, id) in read {
        let cell = match role {
            Role::Cell { table, row, is_head } => Some((table, row, is_head)),
            _ => None,
        };
        if let Some(done) = table.take_if(|table| cell.is_none_or(|(number, ..)| number != table.number)) {
            tree.push(done.group());
        }
        let id = vec![Node::Leaf(id)];
        match role {
            Role::Furniture => {}
            Role::Title => tree.push(TagGroup::with_children(heading(1), id)),
            Role::Heading => tree.push(TagGroup::with_children(heading(2), id)),
            Role::Text => tree.push(TagGroup::with_children(Tag::P, id)),
            Role::Figure(alt) => tree.push(TagGroup::with_children(Tag::Figure(Some(alt)), id)),
            Role::Cell {
                table: number,
                row,
                is_head,
            } => {
                let group = if is_head {
                    TagGroup::with_children(Tag::TH(TableHeaderScope::Column), id)
                } else {
                    TagGroup::with_children(Tag::TD, id)
                };
                table.get_or_insert_with(|| Table::new(number)).push(row, group);
            }
        }
    }
    if let Some(done) = table {
        tree.push(done.group());
    }
    tree
}

/// A table that is being gathered.
struct Table {
    number: usize,
    rows: Vec<(usize, TagGroup)>,
}

impl Table {
    fn new(number: usize) -> Self {
        Self {
            number,
            rows: Vec::new(),
        }
    }

    fn push(&mut self, row: usize, cell: TagGroup) {
        match self.rows.last_mut().filter(|(last, _)| *last == row) {
            Some((_, group)) => group.push(cell),
            None => self
                .rows
                .push((row, TagGroup::with_children(Tag::TR, vec![cell.into()]))),
        }
    }

    fn group(self) -> TagGroup {
        let rows = self.rows.into_iter().map(|(_, row)| row.into());
        TagGroup::with_children(Tag::Table, rows.collect())
    }
}

struct Writer {
    regular: Font,
    semi_bold: Font,
    /// What is read aloud.
    read: Vec<(Role, Identifier)>,
}

impl Writer {
    fn page(&mut self, document: &mut Document, page: &Page) -> Result<(), PdfError> {
        let size = page.size;
        let settings = PageSettings::from_wh(points(size.x), points(size.y)).ok_or(PdfError::Size(size.x, size.y))?;
        let mut sheet = document.start_page_with(settings);
        let mut surface = sheet.surface();
        for part in page.parts.iter().filter(|part| !part.things.is_empty()) {
            self.part(&mut surface, part);
        }
        surface.finish();
        sheet.finish();
        Ok(())
    }

    fn part(&mut self, surface: &mut Surface<'_>, part: &Part) {
        let tag = match part.role {
            Role::Furniture => ContentTag::Artifact(Artifact::with_kind(ArtifactType::Page)),
            Role::Figure(_) => ContentTag::Other,
            _ => ContentTag::Span(SpanTag::empty()),
        };
        let clip = part.clip.and_then(|[low, high]| {
            let outline = super::page::rectangle(low, high - low);
            pdf_path(&outline)
        });
        if let Some(clip) = &clip {
            surface.push_clip_path(clip, &FillRule::NonZero);
        }
        let id = surface.start_tagged(tag);
        if part.role != Role::Furniture {
            self.read.push((part.role.clone(), id));
        }
        for thing in &part.things {
            match thing {
                Thing::Line { layer, path } => draw_line(surface, *layer, path),
                Thing::Area { tone, path } => draw_area(surface, *tone, path),
                Thing::Text(text) => self.draw_text(surface, text),
            }
        }
        surface.end_tagged();
        if clip.is_some() {
            surface.pop();
        }
    }

    fn draw_text(&self, surface: &mut Surface<'_>, text: &Text) {
        let font = match text.weight {
            Weight::Regular => &self.regular,
            Weight::SemiBold => &self.semi_bold,
        };
        let width = font::width(&text.text, text.weight, text.size);
        let shift = match text.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => width / 2.0,
            Anchor::End => width,
        };
        let glyphs: Vec<KrillaGlyph> = text
            .text
            .char_indices()
            .map(|(start, c)| {
                let glyph = font::glyph(c, text.weight);
                let range = start..start + c.len_utf8();
                KrillaGlyph::new(GlyphId::new(glyph.id), glyph.advance as f32, 0.0, 0.0, 0.0, range, None)
            })
            .collect();
        // The page's y runs down, so that a turn anticlockwise as seen has a negative angle there.
        let (sin, cos) = text.angle_deg.to_radians().sin_cos();
        let (sin, cos) = (sin as f32, cos as f32);
        let turn = Transform::from_row(cos, -sin, sin, cos, points(text.at.x), points(text.at.y));
        surface.set_stroke(None);
        surface.set_fill(Some(fill(text.tone)));
        surface.push_transform(&turn);
        let start = PdfPoint::from_xy(-points(shift), 0.0);
        surface.draw_glyphs(start, &glyphs, font.clone(), &text.text, points(text.size), false);
        surface.pop();
    }
}

fn draw_line(surface: &mut Surface<'_>, layer: Layer, path: &Path) {
    let Some(path) = pdf_path(path) else { return };
    let kind = layer.kind();
    let dash = (!kind.dashes.is_empty()).then(|| StrokeDash {
        array: kind.dashes.iter().map(|mm| points(*mm)).collect(),
        offset: 0.0,
    });
    surface.set_fill(None);
    surface.set_stroke(Some(PdfStroke {
        paint: colour(kind.tone).into(),
        width: points(kind.width),
        line_cap: LineCap::Butt,
        line_join: LineJoin::Round,
        dash,
        ..PdfStroke::default()
    }));
    surface.draw_path(&path);
}

fn draw_area(surface: &mut Surface<'_>, tone: Tone, path: &Path) {
    let Some(path) = pdf_path(path) else { return };
    surface.set_stroke(None);
    surface.set_fill(Some(fill(tone)));
    surface.draw_path(&path);
}

fn fill(tone: Tone) -> Fill {
    Fill {
        paint: colour(tone).into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    }
}

fn colour(tone: Tone) -> rgb::Color {
    let [red, green, blue] = tone.rgb();
    rgb::Color::new(red, green, blue)
}

fn points(mm: f64) -> f32 {
    (mm * POINTS_PER_MM) as f32
}

fn pdf_path(path: &Path) -> Option<krilla::geom::Path> {
    let mut builder = PathBuilder::new();
    builder.move_to(points(path.start.x), points(path.start.y));
    for stroke in &path.strokes {
        match *stroke {
            Stroke::Line { to } => builder.line_to(points(to.x), points(to.y)),
            Stroke::Arc { .. } => {
                for [a, b, to] in curves(stroke) {
                    let [ax, ay, bx, by, x, y] = [a.x, a.y, b.x, b.y, to.x, to.y].map(points);
                    builder.cubic_to(ax, ay, bx, by, x, y);
                }
            }
        }
    }
    if path.closed {
        builder.close();
    }
    builder.finish()
}

/// Most of an arc that one curve shows, radians: it then deviates by 4e-6 of the radius.
const MOST_ARC: f64 = std::f64::consts::FRAC_PI_4;

/// An arc as cubic curves: two control points and the end of each.
fn curves(arc: &Stroke) -> Vec<[Point; 3]> {
    let Stroke::Arc {
        heading,
        semi_axial,
        semi_radial,
        start,
        sweep,
        ..
    } = *arc
    else {
        return Vec::new();
    };
    let count = (sweep.abs() / MOST_ARC).ceil().max(1.0);
    let reach = 4.0 / 3.0 * (sweep / count / 4.0).tan();
    let (sin_h, cos_h) = heading.sin_cos();
    let rate = |part: f64| {
        let (sin, cos) = (start + sweep * part).sin_cos();
        let (along, across) = (-semi_axial * sin, semi_radial * cos);
        Point::new(cos_h * along - sin_h * across, sin_h * along + cos_h * across) * reach
    };
    let parts = (0..count as usize).map(|k| (k as f64 / count, (k + 1) as f64 / count));
    parts
        .map(|(from, to)| {
            let (a, b) = (arc.point(from), arc.point(to));
            [a + rate(from), b - rate(to), b]
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_keep_to_their_circle() {
        let centre = Point::new(30.0, 40.0);
        let arc = Stroke::Arc {
            centre,
            heading: 0.2,
            semi_axial: 100.0,
            semi_radial: 100.0,
            start: 0.1,
            sweep: -4.0,
        };
        let mut from = arc.point(0.0);
        for [a, b, to] in curves(&arc) {
            // De Casteljau at the middle.
            let middle = (from + a * 3.0 + b * 3.0 + to) / 8.0;
            assert!(((middle - centre).norm() - 100.0).abs() < 1e-3);
            from = to;
        }
        assert!((from - arc.point(1.0)).norm() < 1e-9);
    }
}
