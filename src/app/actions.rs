//! The list of everything that can be done, with keys: typed into, it shows what fits; unfiltered, it is the sheet of
//! keys. What can't be done now stands there as well, with the reason.

use super::command::{Command, keys_in_words};
use super::menu::{self, Choice};
use super::question;
use super::region::Region;
use super::session::Session;
use super::theme;
use egui::text::{LayoutJob, TextWrapping};
use egui::{
    Align2, Id, Key, Modifiers, Rect, Role, ScrollArea, Sense, TextEdit, TextFormat, Ui, WidgetInfo, pos2, vec2,
};
use std::path::PathBuf;

/// Height of a line, points.
const LINE: f32 = 28.0;
/// Greatest width of the list, points.
const WIDTH: f32 = 560.0;

/// The state of the list while it is shown.
#[derive(Default)]
pub(crate) struct Actions {
    typed: String,
    /// The line that Enter takes.
    line: usize,
}

/// A line of the list.
struct Action {
    label: String,
    /// Where else it can be found, or what it is about.
    menu: &'static str,
    keys: String,
    /// Why it can't be done now.
    why_not: Option<&'static str>,
    choice: Choice,
}

impl Action {
    fn of_command(ctx: &egui::Context, command: Command, session: &Session) -> Self {
        let keys = command.shortcut().into_iter().chain(command.second_shortcut());
        let keys: Vec<_> = keys.map(|keys| keys_in_words(ctx, &keys)).collect();
        Self {
            label: command.label(session).trim_end_matches('…').to_owned(),
            menu: menu::menu_of(command),
            keys: keys.join(" or "),
            why_not: command.why_not(session),
            choice: Choice::Command(command),
        }
    }

    fn of_recent(path: &std::path::Path) -> Self {
        let there = path.is_file();
        Self {
            label: format!("Open {}", menu::recent_words(path, true)),
            menu: "Recent",
            keys: String::new(),
            why_not: (!there).then_some("The file is gone"),
            choice: Choice::Recent(path.to_path_buf()),
        }
    }

    fn of_region(ctx: &egui::Context, region: Region) -> Self {
        Self {
            label: format!("Go to: {}", region.label()),
            menu: "Focus",
            keys: String::new(),
            why_not: (!region.is_shown(ctx)).then_some("It is not shown now"),
            choice: Choice::Region(region),
        }
    }

    /// Whether every word that was typed stands in its words or keys.
    fn fits(&self, typed: &str) -> bool {
        let text = format!("{} {} {}", self.label, self.menu, self.keys).to_lowercase();
        let typed = typed.to_lowercase();
        typed.split_whitespace().all(|word| text.contains(word))
    }

    /// The line in words, for assistive tools.
    fn words(&self) -> String {
        let keys = if self.keys.is_empty() { "" } else { ", " };
        let why_not = self
            .why_not
            .map_or_else(String::new, |reason| format!(", not now: {reason}"));
        format!("{}{keys}{}{why_not}", self.label, self.keys)
    }
}

/// What the list gives back.
pub(crate) enum Outcome {
    /// It stays.
    Open,
    /// It was left.
    Closed,
    /// Something was chosen.
    Chosen(Choice),
}

/// Shows the list.
pub(crate) fn show(ctx: &egui::Context, state: &mut Actions, session: &Session, recent: &[PathBuf]) -> Outcome {
    let commands = Command::ALL.iter().filter(|c| **c != Command::AllActions);
    let all = commands
        .map(|command| Action::of_command(ctx, *command, session))
        .chain(Region::ORDER.map(|region| Action::of_region(ctx, region)))
        .chain(recent.iter().map(|path| Action::of_recent(path)));
    let fitting: Vec<_> = all.filter(|action| action.fits(&state.typed)).collect();
    let last = fitting.len().saturating_sub(1);
    let mut taken = None;
    let left = question::dialog(ctx, "all actions", |ui| {
        ui.set_width(question::width(ctx, WIDTH));
        let label = ui.heading("All actions");
        let before = state.line;
        let enter = move_line(ui, state, last);
        let edit = TextEdit::singleline(&mut state.typed)
            .hint_text("Type words or a key, such as tilt or ctrl+Z")
            .desired_width(f32::INFINITY)
            .align(Align2::LEFT_CENTER)
            .min_size(vec2(0.0, theme::TARGET + 4.0));
        let response = ui.add(edit).labelled_by(label.id);
        if response.changed() {
            state.line = 0;
        }
        state.line = state.line.min(last);
        if enter {
            taken = Some(state.line);
        }
        ui.add_space(4.0);
        let height = (ctx.content_rect().height() - 170.0).clamp(3.0 * LINE, 15.0 * LINE);
        ScrollArea::vertical()
            .min_scrolled_height(height)
            .max_height(height)
            .auto_shrink([false, false])
            .show(ui, |ui| {
                ui.spacing_mut().item_spacing.y = 0.0;
                if fitting.is_empty() {
                    ui.label("Nothing fits these words.");
                }
                for (number, action) in fitting.iter().enumerate() {
                    let chosen = number == state.line;
                    let line = row(ui, action, chosen, number);
                    if chosen && state.line != before {
                        line.scroll_to_me(None);
                    }
                    if chosen {
                        let active = line.id.accesskit_id();
                        ctx.accesskit_node_builder(response.id, |node| node.set_active_descendant(active));
                    }
                    if line.clicked() {
                        taken = Some(number);
                    }
                }
            });
        Some(response.id)
    });
    let taken = taken.and_then(|number| fitting.into_iter().nth(number));
    match taken {
        // What can't be done leaves the list open, where its reason stands.
        Some(action) if action.why_not.is_none() => Outcome::Chosen(action.choice),
        _ if left => Outcome::Closed,
        _ => Outcome::Open,
    }
}

/// Moves from line to line while the field has the focus; tells whether Enter was pressed.
fn move_line(ui: &Ui, state: &mut Actions, last: usize) -> bool {
    ui.input_mut(|input| {
        let mut pressed = |key| input.count_and_consume_key(Modifiers::NONE, key);
        let (down, up) = (pressed(Key::ArrowDown), pressed(Key::ArrowUp));
        let (page_down, page_up) = (pressed(Key::PageDown), pressed(Key::PageUp));
        let line = state.line + down + 10 * page_down;
        state.line = line.saturating_sub(up + 10 * page_up).min(last);
        pressed(Key::Enter) > 0
    })
}

fn row(ui: &mut Ui, action: &Action, chosen: bool, number: usize) -> egui::Response {
    let colours = theme::of(ui);
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), LINE), Sense::hover());
    // The field keeps the focus; lines are reached by arrows, by pointer and by assistive tools.
    let sense = Sense::CLICK;
    let response = ui.interact(rect, Id::unique("action").with(number), sense);
    let possible = action.why_not.is_none();
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, possible, chosen, action.words()));
    let painter = ui.painter();
    if chosen {
        painter.rect_filled(rect, 4.0, colours.chosen);
        let mark = Rect::from_min_max(rect.left_top(), pos2(rect.left() + 3.0, rect.bottom()));
        painter.rect_filled(mark, 1.0, colours.accent);
    } else if response.hovered() {
        painter.rect_filled(rect, 4.0, colours.bench);
    }
    let right = pos2(rect.right() - 8.0, rect.center().y);
    let keys = painter.text(
        right,
        Align2::RIGHT_CENTER,
        &action.keys,
        theme::plain(12.5),
        colours.quiet,
    );
    let mut job = LayoutJob {
        wrap: TextWrapping::truncate_at_width(keys.left() - rect.left() - 24.0),
        ..LayoutJob::default()
    };
    let format = |size: f32, color| TextFormat {
        font_id: theme::plain(size),
        color,
        ..TextFormat::default()
    };
    let text = if possible { colours.text } else { colours.quiet };
    job.append(&action.label, 0.0, format(13.5, text));
    job.append(action.why_not.unwrap_or(action.menu), 10.0, format(12.0, colours.quiet));
    let galley = painter.layout_job(job);
    let at = pos2(rect.left() + 12.0, rect.center().y - galley.size().y / 2.0);
    painter.galley(at, galley, text);
    response
}
