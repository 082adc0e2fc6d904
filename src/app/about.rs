//! The about box: version, cautions, licences.

use super::question;
use super::theme;
use egui::text::LayoutJob;
use egui::{Color32, FontId, RichText, ScrollArea, TextFormat, Ui};

/// Greatest width of the box, points.
const WIDTH: f32 = 560.0;

/// Where the cautions stand; the one place for their words.
const README: &str = include_str!("../../README.md");
/// The crates in the program and their licences; a test keeps them current.
const CRATES: &str = include_str!("../../assets/licences.txt");
/// Origin and licence of the typeface.
const TYPEFACE: &str = include_str!("../../assets/fonts/OFL.txt");

/// The pages of the box.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Page {
    #[default]
    Program,
    Cautions,
    Licences,
}

/// The state of the box while it is shown.
#[derive(Default)]
pub(crate) struct About {
    page: Page,
}

/// Shows the box; tells whether it was left.
pub(crate) fn show(ctx: &egui::Context, about: &mut About) -> bool {
    let mut closed = false;
    let left = question::dialog(ctx, "about", |ui| {
        ui.set_width(question::width(ctx, WIDTH));
        ui.horizontal(|ui| {
            for (page, name) in [
                (Page::Program, "Vialwright"),
                (Page::Cautions, "Cautions"),
                (Page::Licences, "Licences"),
            ] {
                ui.selectable_value(&mut about.page, page, name);
            }
        });
        ui.separator();
        let height = (ctx.content_rect().height() - 190.0).clamp(80.0, 420.0);
        ScrollArea::vertical()
            .id_salt(about.page as u8)
            .min_scrolled_height(height)
            .max_height(height)
            .auto_shrink([false, false])
            .show(ui, |ui| match about.page {
                Page::Program => program(ui),
                Page::Cautions => {
                    for block in blocks(cautions()) {
                        paragraph(ui, &block);
                    }
                }
                Page::Licences => licences(ui),
            });
        ui.separator();
        let close = ui.button("Close");
        closed = close.clicked();
        Some(close.id)
    });
    closed || left
}

fn program(ui: &mut Ui) {
    let quiet = theme::of(ui).quiet;
    ui.label(RichText::new("Vialwright").font(theme::heavy(20.0)));
    ui.label(RichText::new(concat!("Version ", env!("CARGO_PKG_VERSION"))).color(quiet));
    ui.add_space(6.0);
    ui.label(concat!(env!("CARGO_PKG_DESCRIPTION"), "."));
    ui.add_space(6.0);
    ui.label(RichText::new("Not a safety instrument.").font(theme::heavy(13.5)));
    for block in blocks(cautions()).iter().take(1) {
        paragraph(ui, block);
    }
    ui.label("All cautions stand on the next page.");
    ui.add_space(6.0);
    ui.label(concat!("Licence: ", env!("CARGO_PKG_LICENSE"), "."));
}

fn licences(ui: &mut Ui) {
    let quiet = theme::of(ui).quiet;
    ui.label(concat!("Vialwright itself: ", env!("CARGO_PKG_LICENSE"), "."));
    ui.add_space(8.0);
    ui.label(RichText::new("Typeface").font(theme::heavy(13.5)));
    for block in blocks(TYPEFACE) {
        paragraph(ui, &block);
    }
    ui.add_space(8.0);
    ui.label(RichText::new("Libraries").font(theme::heavy(13.5)));
    ui.label("Vialwright is built from these libraries, each under its own licence.");
    ui.add_space(4.0);
    for line in CRATES.lines() {
        let (name, licence) = line.split_once('\t').unwrap_or((line, ""));
        ui.horizontal_wrapped(|ui| {
            ui.label(name);
            ui.label(RichText::new(licence).color(quiet));
        });
    }
}

/// The cautions as they stand in the README.
fn cautions() -> &'static str {
    let section = README.split_once("\n## Safety\n").map_or("", |(_, after)| after);
    section.split_once("\n## ").map_or(section, |(section, _)| section)
}

/// Paragraphs and list items, each on one line; rules between them are left out.
fn blocks(text: &str) -> Vec<String> {
    let mut blocks: Vec<String> = Vec::new();
    let mut open = false;
    for line in text.lines() {
        let trimmed = line.trim();
        if trimmed.trim_matches('-').is_empty() {
            open = false;
            continue;
        }
        match blocks.last_mut() {
            Some(block) if open && !trimmed.starts_with("- ") => {
                block.push(' ');
                block.push_str(trimmed);
            }
            _ => blocks.push(trimmed.to_owned()),
        }
        open = true;
    }
    blocks
}

/// A paragraph; what stands between pairs of asterisks is heavier.
fn paragraph(ui: &mut Ui, block: &str) {
    let colours = theme::of(ui);
    let (text, indent) = match block.strip_prefix("- ") {
        Some(item) => (item, 10.0),
        None => (block, 0.0),
    };
    let format = |font_id: FontId, color: Color32| TextFormat {
        font_id,
        color,
        ..TextFormat::default()
    };
    let mut job = LayoutJob::default();
    for (i, part) in text.split("**").enumerate() {
        let font = if i % 2 == 1 {
            theme::heavy(13.5)
        } else {
            theme::plain(13.5)
        };
        job.append(part, 0.0, format(font, colours.text));
    }
    ui.horizontal_top(|ui| {
        ui.add_space(indent);
        ui.vertical(|ui| ui.label(job));
    });
    ui.add_space(4.0);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cautions_are_those_of_the_readme() {
        let blocks = blocks(cautions());
        assert!(blocks.len() >= 5, "{blocks:?}");
        assert!(blocks[0].contains("nothing that it reports makes an apparatus safe"));
        assert!(
            blocks
                .iter()
                .any(|block| block.starts_with("- **No number here makes glass safe.**"))
        );
        assert!(blocks.iter().all(|block| block.matches("**").count() % 2 == 0));
    }
}
