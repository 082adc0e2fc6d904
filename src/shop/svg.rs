//! A page as SVG: one unit is one millimetre, and the size is stated in millimetres, so that it prints true to size.

use super::font;
use super::page::{Anchor, Layer, Page, Part, Role, Text, Thing, Tone, Weight};
use crate::geom::glass::{Path, Stroke};
use std::f64::consts::PI;
use svg::Document;
use svg::node::element::{ClipPath, Definitions, Description, Group, Path as Line, Rectangle, Text as Words, Title};

/// Writes a page; `title` and `subject` are for those who cannot see it.
pub fn write(page: &Page, title: &str, subject: &str) -> String {
    let (width, height) = (page.size.x, page.size.y);
    let mut document = Document::new()
        .set("width", format!("{}mm", number(width)))
        .set("height", format!("{}mm", number(height)))
        .set("viewBox", format!("0 0 {} {}", number(width), number(height)))
        .set("lang", "en")
        .set("font-family", "'Vialwright Sans', Inter, Helvetica, Arial, sans-serif")
        .add(Title::new(plain(title)))
        .add(Description::new().add(svg::node::Text::new(plain(subject))));
    let paper = Rectangle::new()
        .set("width", number(width))
        .set("height", number(height));
    document = document.add(paper.set("fill", colour(Tone::White)));
    for (index, part) in page.parts.iter().enumerate() {
        document = document.add(group(index, part));
    }
    let mut text = document.to_string();
    text.push('\n');
    text
}

fn group(index: usize, part: &Part) -> Group {
    let mut group = Group::new();
    match &part.role {
        Role::Furniture => group = group.set("aria-hidden", "true"),
        Role::Figure(words) => group = group.set("role", "img").add(Title::new(plain(words))),
        Role::Title | Role::Heading | Role::Text | Role::Cell { .. } => {}
    }
    if let Some([low, high]) = part.clip {
        let name = format!("clip-{index}");
        let size = high - low;
        let window = Rectangle::new()
            .set("x", number(low.x))
            .set("y", number(low.y))
            .set("width", number(size.x))
            .set("height", number(size.y));
        let clip = ClipPath::new().set("id", name.as_str()).add(window);
        group = group
            .add(Definitions::new().add(clip))
            .set("clip-path", format!("url(#{name})"));
    }
    for thing in &part.things {
        group = match thing {
            Thing::Line { layer, path } => group.add(line(*layer, path)),
            Thing::Area { tone, path } => group.add(Line::new().set("d", data(path)).set("fill", colour(*tone))),
            Thing::Text(text) => group.add(words(text)),
        };
    }
    group
}

fn line(layer: Layer, path: &Path) -> Line {
    let kind = layer.kind();
    let line = Line::new()
        .set("class", layer.name().to_lowercase())
        .set("d", data(path))
        .set("fill", "none")
        .set("stroke", colour(kind.tone))
        .set("stroke-width", number(kind.width))
        .set("stroke-linejoin", "round");
    if kind.dashes.is_empty() {
        return line;
    }
    let dashes: Vec<String> = kind.dashes.iter().map(|mm| number(*mm)).collect();
    line.set("stroke-dasharray", dashes.join(" "))
}

/// A text is held to its width, whichever typeface shows it.
fn words(text: &Text) -> Words {
    let anchor = match text.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let width = font::width(&text.text, text.weight, text.size);
    let mut words = Words::new(plain(&text.text))
        .set("x", number(text.at.x))
        .set("y", number(text.at.y))
        .set("font-size", number(text.size))
        .set("text-anchor", anchor)
        .set("textLength", number(width))
        .set("lengthAdjust", "spacingAndGlyphs")
        .set("fill", colour(text.tone));
    if text.weight == Weight::SemiBold {
        words = words.set("font-weight", "600");
    }
    if text.angle_deg != 0.0 {
        let [angle, x, y] = [-text.angle_deg, text.at.x, text.at.y].map(number);
        words = words.set("transform", format!("rotate({angle} {x} {y})"));
    }
    words
}

/// Path data. An arc is cut at half turns, as its ends must not coincide.
fn data(path: &Path) -> String {
    let mut data = format!("M{} {}", number(path.start.x), number(path.start.y));
    for stroke in &path.strokes {
        match *stroke {
            Stroke::Line { to } => data += &format!("L{} {}", number(to.x), number(to.y)),
            Stroke::Arc {
                heading,
                semi_axial,
                semi_radial,
                sweep,
                ..
            } => {
                let count = (sweep.abs() / (0.9 * PI)).ceil().max(1.0) as usize;
                let [rx, ry, turn] = [semi_axial, semi_radial, heading.to_degrees()].map(number);
                // The page's y runs down, so that a positive sweep runs clockwise as seen: flag 1.
                let flag = u8::from(sweep > 0.0);
                for k in 1..=count {
                    let to = stroke.point(k as f64 / count as f64);
                    data += &format!("A{rx} {ry} {turn} 0 {flag} {} {}", number(to.x), number(to.y));
                }
            }
        }
    }
    if path.closed {
        data.push('Z');
    }
    data
}

fn colour(tone: Tone) -> String {
    let [red, green, blue] = tone.rgb();
    format!("#{red:02x}{green:02x}{blue:02x}")
}

/// Ten-thousandths of a millimetre, without trailing zeros.
fn number(value: f64) -> String {
    let text = format!("{value:.4}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" {
        "0".to_owned()
    } else {
        short.to_owned()
    }
}

/// Without what no document may hold.
fn plain(words: &str) -> String {
    words.chars().filter(|c| !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::super::page::{Point, circle};
    use super::*;

    #[test]
    fn it_is_true_to_size_and_well_formed() {
        let mut part = Part::new(Role::Figure("a < b".to_owned()));
        part.path(Layer::Wall, circle(Point::new(20.0, 20.0), 5.0));
        part.text(Text::new("⌀8 & <more>\u{1}", Point::new(1.0, 2.0), 3.0).turned(90.0));
        part.clip = Some([Point::zeros(), Point::new(30.0, 30.0)]);
        let mut page = Page::new(Point::new(210.0, 297.5));
        page.parts.push(part);
        let text = write(&page, "title", "subject");
        assert!(text.contains("width=\"210mm\"") && text.contains("viewBox=\"0 0 210 297.5\""));
        assert!(text.contains("M25 20A5 5 0 0 1 "), "{text}");
        assert!(text.contains("rotate(-90 1 2)") && !text.contains('\u{1}'));
        let mut reader = quick_xml::Reader::from_str(&text);
        loop {
            match reader.read_event() {
                Ok(quick_xml::events::Event::Eof) => break,
                Ok(_) => {}
                Err(error) => panic!("{error}"),
            }
        }
    }
}
