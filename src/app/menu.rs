//! The bar at the top: menus, undo and redo, the document's name.

use super::command::Command;
use super::session::Session;
use super::theme;
use egui::{Align, Button, Layout, MenuBar, RichText, Ui};

const FILE: &[Command] = &[Command::Open, Command::Save, Command::SaveAs, Command::Quit];
const EDIT: &[Command] = &[Command::Undo, Command::Redo, Command::SelectNothing];
const VIEW: &[Command] = &[Command::Fit, Command::ZoomIn, Command::ZoomOut, Command::Column];
const LOOK: &[Command] = &[
    Command::TrueSize,
    Command::Calibrate,
    Command::LookLeft,
    Command::LookRight,
    Command::LookUp,
    Command::LookDown,
];
const SHEET: &[Command] = &[Command::Dimensions, Command::Grid, Command::Rulers, Command::FrameTimes];
const COLOURS: &[Command] = &[Command::Light, Command::Dark, Command::FollowSystem];
const GLASS: &[Command] = &[
    Command::Upright,
    Command::TiltAnticlockwise,
    Command::TiltClockwise,
    Command::NudgeAnticlockwise,
    Command::NudgeClockwise,
    Command::RollTowards,
    Command::RollAway,
];

/// Shows the bar; gives the command that was chosen.
pub(crate) fn show(ui: &mut Ui, session: &Session, numbers_shown: bool) -> Option<Command> {
    let mut chosen = None;
    MenuBar::new().ui(ui, |ui| {
        ui.set_min_height(30.0);
        for (name, groups) in [
            ("File", &[FILE][..]),
            ("Edit", &[EDIT]),
            ("Glass", &[GLASS]),
            ("View", &[VIEW, LOOK, SHEET, COLOURS]),
        ] {
            ui.menu_button(name, |ui| {
                ui.set_min_width(230.0);
                for (i, commands) in groups.iter().enumerate() {
                    if i > 0 {
                        ui.separator();
                    }
                    for command in *commands {
                        chosen = item(ui, *command, session).or(chosen);
                    }
                }
            });
        }
        ui.add_space(8.0);
        for (command, text) in [(Command::Undo, "↺ Undo"), (Command::Redo, "↻ Redo")] {
            let response = ui.add_enabled(command.is_possible(session), Button::new(text));
            if response.on_hover_text(command.label(session)).clicked() {
                chosen = Some(command);
            }
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.add_space(8.0);
            let label = Command::Column.label(session);
            if ui.selectable_label(numbers_shown, label).clicked() {
                chosen = Some(Command::Column);
            }
            let colours = theme::of(ui);
            let name = RichText::new(name_of(session)).color(colours.quiet);
            ui.add(egui::Label::new(name).truncate());
        });
    });
    chosen
}

fn item(ui: &mut Ui, command: Command, session: &Session) -> Option<Command> {
    let keys = command
        .shortcut()
        .map_or_else(String::new, |keys| ui.ctx().format_shortcut(&keys));
    let button = Button::new(command.label(session)).shortcut_text(keys);
    let response = ui.add_enabled(command.is_possible(session), button);
    if response.clicked() {
        ui.close();
        return Some(command);
    }
    None
}

/// The document's name, and whether it has been changed since it was saved.
pub(crate) fn name_of(session: &Session) -> String {
    let document = &session.document;
    let name = document.path().and_then(std::path::Path::file_name).map_or_else(
        || document.now().title.clone(),
        |name| name.to_string_lossy().into_owned(),
    );
    let name = if name.is_empty() { "Untitled".to_owned() } else { name };
    if document.is_unsaved() {
        format!("{name} – not saved")
    } else {
        name
    }
}
