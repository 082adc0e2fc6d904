//! The typeface of the sheets: which glyph shows a character, and how wide it runs.

use super::page::Weight;
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};
use std::collections::HashMap;
use std::sync::LazyLock;

/// Bytes of the typeface.
pub fn bytes(weight: Weight) -> &'static [u8] {
    match weight {
        Weight::Regular => include_bytes!("../../assets/fonts/VialwrightSans-Regular.otf"),
        Weight::SemiBold => include_bytes!("../../assets/fonts/VialwrightSans-SemiBold.otf"),
    }
}

/// A glyph of the typeface.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Glyph {
    /// Its number; 0 shows that there is none.
    pub id: u32,
    /// Its advance as a part of the size.
    pub advance: f64,
}

/// Height of capitals as a part of the size.
pub const CAPITALS: f64 = 0.727;

#[derive(Default)]
struct Face {
    glyphs: HashMap<char, Glyph>,
    missing: Glyph,
}

impl Face {
    fn read(weight: Weight) -> Self {
        let Ok(font) = FontRef::new(bytes(weight)) else {
            return Self::default();
        };
        let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
        let glyph = |id: skrifa::GlyphId| Glyph {
            id: id.to_u32(),
            advance: f64::from(metrics.advance_width(id).unwrap_or_default()),
        };
        let mappings = font.charmap().mappings();
        let glyphs = mappings.filter_map(|(code, id)| Some((char::from_u32(code)?, glyph(id))));
        Self {
            glyphs: glyphs.collect(),
            missing: glyph(skrifa::GlyphId::NOTDEF),
        }
    }
}

static REGULAR: LazyLock<Face> = LazyLock::new(|| Face::read(Weight::Regular));
static SEMI_BOLD: LazyLock<Face> = LazyLock::new(|| Face::read(Weight::SemiBold));

/// The glyph of a character.
pub fn glyph(character: char, weight: Weight) -> Glyph {
    let face = match weight {
        Weight::Regular => &REGULAR,
        Weight::SemiBold => &SEMI_BOLD,
    };
    face.glyphs.get(&character).copied().unwrap_or(face.missing)
}

/// Width of a text for a size of the type, in the unit of the size.
pub fn width(text: &str, weight: Weight, size: f64) -> f64 {
    size * text.chars().map(|c| glyph(c, weight).advance).sum::<f64>()
}

/// Breaks a text into lines no wider than `most`, at spaces, and within a word that is wider by itself.
pub fn broken(text: &str, weight: Weight, size: f64, most: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.split('\n') {
        let mut line = String::new();
        for word in paragraph.split(' ').filter(|word| !word.is_empty()) {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if width(&longer, weight, size) <= most {
                line = longer;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            line = push_word(word, weight, size, most, &mut lines);
        }
        lines.push(line);
    }
    lines
}

/// Puts a word on lines of its own as far as it fills them; gives what is left.
fn push_word(word: &str, weight: Weight, size: f64, most: f64, lines: &mut Vec<String>) -> String {
    let mut line = String::new();
    for c in word.chars() {
        line.push(c);
        if width(&line, weight, size) > most && line.chars().count() > 1 {
            line.pop();
            lines.push(std::mem::take(&mut line));
            line.push(c);
        }
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_signs_of_the_sheets_have_glyphs() {
        for weight in [Weight::Regular, Weight::SemiBold] {
            for c in "Az09⌀×°−–—…±µ²³≥≤→·Ø½α".chars() {
                assert!(glyph(c, weight).id > 0, "{c}");
            }
        }
        assert_eq!(glyph('\u{1f600}', Weight::Regular).id, 0);
    }

    #[test]
    fn figures_are_equally_wide_and_lines_keep_their_width() {
        let w = |text: &str| width(text, Weight::Regular, 10.0);
        assert_eq!(w("111"), w("888"), "tabular figures");
        let text = "Anneal the whole apparatus before it meets a vacuum; averyveryverylongwordwithoutanyspaces.";
        for most in [12.0, 30.0, 55.0, 400.0] {
            let lines = broken(text, Weight::Regular, 3.0, most);
            assert!(lines.iter().all(|line| width(line, Weight::Regular, 3.0) <= most));
            let joined: String = lines.concat().split(' ').collect();
            assert_eq!(joined, text.split(' ').collect::<String>(), "nothing is lost");
        }
    }
}
