//! The offer of work that an earlier run did not save.

use super::question;
use super::theme;
use crate::files::recovery::{Left, Record};
use egui::{Button, Id, RichText, ScrollArea, Ui};
use std::path::PathBuf;
use std::time::SystemTime;

/// Widest text, points.
const WIDTH: f32 = 480.0;

/// The state of the offer while it is shown.
#[derive(Default)]
pub(crate) struct Offer {
    /// The number of the work of which it is asked whether it may go for good.
    discarding: Option<usize>,
}

/// What the user chose.
#[derive(Debug, PartialEq)]
pub(crate) enum Choice {
    /// Take up this work.
    Restore(usize),
    /// Open the file as it was saved; the work stays.
    OpenSaved(PathBuf),
    /// Remove this work for good.
    Discard(usize),
    /// Decide another time; all of it stays.
    Later,
}

/// Shows what was left behind.
pub(crate) fn show(ctx: &egui::Context, offer: &mut Offer, left: &[Left], now: SystemTime) -> Option<Choice> {
    let mut choice = None;
    let closed = question::dialog(ctx, "unsaved work", |ui| {
        ui.set_width(question::width(ctx, WIDTH));
        ui.heading("Work that was not saved");
        ui.label("The program ended before this was saved. It is kept until you decide.");
        ui.add_space(6.0);
        let mut first = None;
        ScrollArea::vertical()
            .max_height((ctx.content_rect().height() - 190.0).max(90.0))
            .auto_shrink([false, true])
            .show(ui, |ui| {
                for (number, one) in left.iter().enumerate() {
                    ui.separator();
                    let chosen = row(ui, offer, number, &one.record, now, &mut first);
                    choice = chosen.or(choice.take());
                }
            });
        ui.separator();
        let later = ui.button("Keep for later");
        if later.clicked() {
            choice = Some(Choice::Later);
        }
        first.or(Some(later.id))
    });
    choice.or(closed.then_some(Choice::Later))
}

fn row(
    ui: &mut Ui,
    offer: &mut Offer,
    number: usize,
    record: &Record,
    now: SystemTime,
    first: &mut Option<Id>,
) -> Option<Choice> {
    let mut choice = None;
    let quiet = theme::of(ui).quiet;
    let name = name_of(record);
    ui.label(RichText::new(&name).font(theme::heavy(13.5)));
    let mut words = format!("Last changed {}", ago(record.kept_at, now));
    if let Some(step) = &record.last_step {
        words += &format!(" ({step})");
    }
    ui.label(words);
    if let Some(path) = &record.path {
        ui.label(RichText::new(path.display().to_string()).color(quiet));
    }
    if offer.discarding == Some(number) {
        ui.label("Discard this work for good? It can't be brought back.");
        ui.horizontal_wrapped(|ui| {
            let keep = ui.button("Keep it");
            first.get_or_insert(keep.id);
            if keep.clicked() {
                offer.discarding = None;
            }
            if ui.button("Discard for good").clicked() {
                choice = Some(Choice::Discard(number));
            }
        });
        return choice;
    }
    ui.horizontal_wrapped(|ui| {
        let restore = named(ui, "Restore", &name, true);
        first.get_or_insert(restore.id);
        if restore.clicked() {
            choice = Some(Choice::Restore(number));
        }
        if let Some(path) = &record.path {
            let there = path.is_file();
            let open = named(ui, "Open as saved", &name, there);
            if open.on_disabled_hover_text("The file is gone.").clicked() {
                choice = Some(Choice::OpenSaved(path.clone()));
            }
        }
        if named(ui, "Discard…", &name, true).clicked() {
            offer.discarding = Some(number);
        }
    });
    choice
}

/// A button that assistive tools hear with what it belongs to.
fn named(ui: &mut Ui, text: &str, of: &str, enabled: bool) -> egui::Response {
    let response = ui.add_enabled(enabled, Button::new(text));
    let description = of.to_owned();
    ui.ctx()
        .accesskit_node_builder(response.id, |node| node.set_description(description));
    response
}

/// The name under which work is offered: its file, else its title.
fn name_of(record: &Record) -> String {
    let file = record.path.as_deref().and_then(std::path::Path::file_name);
    if let Some(file) = file {
        return file.to_string_lossy().into_owned();
    }
    let title = crate::model::file::read(&record.text).map(|design| design.title);
    title
        .ok()
        .filter(|title| !title.is_empty())
        .unwrap_or_else(|| "Untitled".to_owned())
}

/// How long ago something was, in words.
fn ago(then: SystemTime, now: SystemTime) -> String {
    // A clock that was set back gives no time: that is "just now" as well.
    let minutes = now.duration_since(then).unwrap_or_default().as_secs() / 60;
    let (count, unit) = match minutes {
        0 => return "less than a minute ago".to_owned(),
        1..60 => (minutes, "minute"),
        60..1440 => (minutes / 60, "hour"),
        _ => (minutes / 1440, "day"),
    };
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {unit}{plural} ago")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn times_are_told_in_words() {
        let now = SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000);
        for (seconds, words) in [
            (5, "less than a minute ago"),
            (60, "1 minute ago"),
            (59 * 60, "59 minutes ago"),
            (3600, "1 hour ago"),
            (86_400, "1 day ago"),
            (3 * 86_400 + 7, "3 days ago"),
        ] {
            assert_eq!(ago(now - Duration::from_secs(seconds), now), words);
        }
        assert_eq!(ago(now + Duration::from_secs(99), now), "less than a minute ago");
    }
}
