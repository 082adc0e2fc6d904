//! The bar at the top: menus, undo and redo, the document's name.

use super::command::{Command, keys_in_words};
use super::deed::{Deed, Fitting, Item, Stride, Way};
use super::examples::Example;
use super::region::Region;
use super::session::Session;
use super::shelf::Page;
use super::theme;
use egui::accesskit::{Role, Toggled};
use egui::{Align, Button, Layout, MenuBar, RichText, ScrollArea, ThemePreference, Ui};
use std::path::{Path, PathBuf};

const COPIES: &[Command] = &[
    Command::Piece(Deed::Cut),
    Command::Piece(Deed::Copy),
    Command::Piece(Deed::Paste),
    Command::Piece(Deed::Duplicate),
    Command::Piece(Deed::Remove),
];
const SELECTION: &[Command] = &[
    Command::Piece(Deed::SelectAll),
    Command::Piece(Deed::SelectRow),
    Command::Piece(Deed::SelectNext),
    Command::Piece(Deed::SelectPrevious),
    Command::SelectNothing,
];
const PLACES: &[Command] = &[
    Command::Piece(Deed::Take(Item::Tube)),
    Command::Piece(Deed::Take(Item::Bulb)),
    Command::Piece(Deed::Take(Item::Bridge)),
    Command::Piece(Deed::Take(Item::Ampoule)),
    Command::Piece(Deed::Take(Item::Row)),
];
const FITTINGS: &[Command] = &[
    Command::Piece(Deed::Take(Item::Fitting(Fitting::VacuumPort))),
    Command::Piece(Deed::Take(Item::Fitting(Fitting::GasPort))),
    Command::Piece(Deed::Take(Item::Fitting(Fitting::Stopcock))),
    Command::Piece(Deed::Take(Item::Fitting(Fitting::Joint))),
    Command::Piece(Deed::Take(Item::Fitting(Fitting::Cap))),
];
const PIECE: &[Command] = &[
    Command::Piece(Deed::Rename),
    Command::Piece(Deed::Turn(true, Stride::Plain)),
    Command::Piece(Deed::Turn(false, Stride::Plain)),
    Command::Piece(Deed::Mirror),
    Command::Piece(Deed::MirrorDrawing),
    Command::Piece(Deed::Shift(Way::Left, Stride::Plain)),
    Command::Piece(Deed::Shift(Way::Right, Stride::Plain)),
    Command::Piece(Deed::Shift(Way::Up, Stride::Plain)),
    Command::Piece(Deed::Shift(Way::Down, Stride::Plain)),
];

/// All menus with their groups. Every command stands in one of them.
pub(crate) const MENUS: &[(&str, &[&[Command]])] = &[
    (
        "File",
        &[
            &[Command::New, Command::Open, Command::ForgetRecent],
            &[
                Command::Starter,
                Command::Example(Example::RubidiumSix),
                Command::Example(Example::GalliumIndiumEight),
                Command::Example(Example::BenzeneFive),
                Command::Example(Example::TeachingThree),
            ],
            &[Command::Save, Command::SaveAs],
            &[Command::Sheets],
            &[Command::UnsavedWork],
            &[Command::Quit],
        ],
    ),
    ("Edit", &[&[Command::Undo, Command::Redo], COPIES, SELECTION]),
    ("Piece", &[PLACES, FITTINGS, PIECE]),
    (
        "Glass",
        &[
            &[Command::Upright],
            &[
                Command::TiltAnticlockwise,
                Command::TiltClockwise,
                Command::NudgeAnticlockwise,
                Command::NudgeClockwise,
            ],
            &[Command::MarkAnticlockwise, Command::MarkClockwise],
            &[Command::RollTowards, Command::RollAway],
            &[
                Command::PlayRun,
                Command::NextStop,
                Command::PreviousStop,
                Command::AddStop,
            ],
        ],
    ),
    (
        "View",
        &[
            &[
                Command::Fit,
                Command::ZoomIn,
                Command::ZoomOut,
                Command::TrueSize,
                Command::Calibrate,
            ],
            &[
                Command::LookLeft,
                Command::LookRight,
                Command::LookUp,
                Command::LookDown,
            ],
            &[Command::Dimensions, Command::Grid, Command::Rulers],
            &[
                Command::Tray,
                Command::Column,
                Command::RunStrip,
                Command::RunChart,
                Command::Measured,
                Command::Plots,
                Command::Findings,
                Command::Find,
                Command::Job,
            ],
            &[Command::Larger, Command::Smaller, Command::UsualSize],
            &[Command::Inches],
            &[Command::Light, Command::Dark, Command::FollowSystem],
            &[Command::LessMotion],
            &[Command::NextRegion, Command::PreviousRegion],
        ],
    ),
    (
        "Help",
        &[
            &[Command::AllActions, Command::Hint],
            &[Command::FrameTimes],
            &[Command::About],
        ],
    ),
];

/// What the bar shows beside the session.
pub(crate) struct Facts<'a> {
    /// Whether the tray is shown.
    pub tray: bool,
    /// Whether the numbers are shown.
    pub column: bool,
    /// Whether the strip of the run is shown.
    pub run_strip: bool,
    /// What the shelf shows.
    pub shelf: Page,
    /// Whether motion is off.
    pub less_motion: bool,
    /// Whether lengths are shown in inches.
    pub inches: bool,
    /// Recent files, the latest first.
    pub recent: &'a [PathBuf],
}

/// What was chosen in the bar.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Choice {
    /// A command.
    Command(Command),
    /// A recent file.
    Recent(PathBuf),
    /// The focus for a part of the window.
    Region(Region),
}

/// Shows the bar; gives what was chosen.
pub(crate) fn show(ui: &mut Ui, session: &Session, facts: &Facts<'_>) -> Option<Choice> {
    let mut chosen = None;
    MenuBar::new().ui(ui, |ui| {
        theme::outline_focus(ui);
        ui.set_min_height(30.0);
        for (name, groups) in MENUS {
            ui.menu_button(*name, |ui| {
                theme::outline_focus(ui);
                ui.set_min_width(230.0);
                // A low window still reaches the last line.
                let room = (ui.ctx().content_rect().height() - 60.0).max(80.0);
                let list = ScrollArea::vertical().max_height(room).min_scrolled_height(room);
                list.show(ui, |ui| {
                    for (i, commands) in groups.iter().enumerate() {
                        if i > 0 {
                            ui.separator();
                        }
                        for command in *commands {
                            chosen = entry(ui, *command, session, facts).or(chosen.take());
                        }
                    }
                });
            });
        }
        let roomy = ui.ctx().content_rect().width() > 640.0;
        ui.add_space(if roomy { 8.0 } else { 0.0 });
        for (command, sign, word) in [(Command::Undo, "↺", "Undo"), (Command::Redo, "↻", "Redo")] {
            let text = if roomy {
                format!("{sign} {word}")
            } else {
                sign.to_owned()
            };
            let response = ui.add_enabled(command.is_possible(session), Button::new(text));
            let label = command.label(session);
            if !roomy {
                ui.ctx()
                    .accesskit_node_builder(response.id, |node| node.set_label(label.clone()));
            }
            if response.on_hover_text(label).clicked() {
                chosen = Some(Choice::Command(command));
            }
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.add_space(8.0);
            let label = Command::Column.label(session);
            if ui.selectable_label(facts.column, label).clicked() {
                chosen = Some(Choice::Command(Command::Column));
            }
            let colours = theme::of(ui);
            let name = RichText::new(name_of(session)).color(colours.quiet);
            ui.add(egui::Label::new(name).truncate());
        });
    });
    chosen
}

fn entry(ui: &mut Ui, command: Command, session: &Session, facts: &Facts<'_>) -> Option<Choice> {
    if command == Command::ForgetRecent {
        return recent(ui, facts.recent);
    }
    let (_, chosen) = item(ui, command, session, is_on(ui.ctx(), command, session, facts));
    chosen.then_some(Choice::Command(command))
}

/// A command as a line of a menu, with whether it stands on if it switches something; its response, and whether it
/// was chosen.
pub(crate) fn item(ui: &mut Ui, command: Command, session: &Session, on: Option<bool>) -> (egui::Response, bool) {
    let label = command.label(session);
    let keys = command.bare_key(session).or(command.shortcut());
    let keys = keys.map(|keys| keys_in_words(ui.ctx(), &keys));
    let mut button = Button::new(&label).selected(on.unwrap_or(false));
    if let Some(keys) = &keys {
        button = button.shortcut_text(keys);
    }
    let response = ui.add_enabled(command.is_possible(session), button);
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_label(label);
        if let Some(keys) = keys {
            node.set_keyboard_shortcut(keys);
        }
        match on {
            Some(on) => {
                node.set_role(Role::MenuItemCheckBox);
                node.set_toggled(if on { Toggled::True } else { Toggled::False });
            }
            None => node.set_role(Role::MenuItem),
        }
    });
    let response = match command.why_not(session) {
        Some(reason) => response.on_disabled_hover_text(reason),
        None => response,
    };
    let chosen = response.clicked();
    if chosen {
        ui.close();
    }
    (response, chosen)
}

/// Whether a command that switches something stands on; `None` for the others.
pub(crate) fn is_on(ctx: &egui::Context, command: Command, session: &Session, facts: &Facts<'_>) -> Option<bool> {
    let colours = ctx.options(|options| options.theme_preference);
    Some(match command {
        Command::Tray => facts.tray,
        Command::Column => facts.column,
        Command::RunStrip => facts.run_strip,
        Command::RunChart => facts.shelf == Page::Run,
        Command::Measured => facts.shelf == Page::Measured,
        Command::Plots => facts.shelf == Page::Plots,
        Command::Find => facts.shelf == Page::Find,
        Command::Findings => facts.shelf == Page::Findings,
        Command::Job => facts.shelf == Page::Job,
        Command::LessMotion => facts.less_motion,
        Command::Inches => facts.inches,
        Command::Dimensions => session.sheet.dimensions,
        Command::Grid => session.sheet.grid,
        Command::Rulers => session.sheet.rulers,
        Command::Light => colours == ThemePreference::Light,
        Command::Dark => colours == ThemePreference::Dark,
        Command::FollowSystem => colours == ThemePreference::System,
        _ => return None,
    })
}

/// The recent files in a menu of their own; one that is gone says so.
fn recent(ui: &mut Ui, files: &[PathBuf]) -> Option<Choice> {
    let mut chosen = None;
    ui.add_enabled_ui(!files.is_empty(), |ui| {
        ui.menu_button("Open recent", |ui| {
            theme::outline_focus(ui);
            ui.set_min_width(260.0);
            for path in files {
                let there = path.is_file();
                let button = Button::new(recent_words(path, there)).wrap_mode(egui::TextWrapMode::Extend);
                let response = ui.add_enabled(there, button).on_hover_text(path.display().to_string());
                if response.clicked() {
                    ui.close();
                    chosen = Some(Choice::Recent(path.clone()));
                }
            }
            ui.separator();
            if ui.button("Forget recent files").clicked() {
                ui.close();
                chosen = Some(Choice::Command(Command::ForgetRecent));
            }
        });
    });
    chosen
}

/// A recent file in words.
pub(crate) fn recent_words(path: &Path, there: bool) -> String {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let folder = path.parent().and_then(Path::file_name).unwrap_or_default();
    let gone = if there { "" } else { " – gone" };
    format!("{name}  ({}){gone}", folder.to_string_lossy())
}

/// The menu in which a command stands.
pub(crate) fn menu_of(command: Command) -> &'static str {
    let holds = |(_, groups): &&(&str, &[&[Command]])| groups.iter().any(|group| group.contains(&command));
    // Finer steps stand in no menu, and belong to their plain ones.
    MENUS.iter().find(holds).map_or("Piece", |(name, _)| name)
}

/// The document's name, and whether it has been changed since it was saved.
pub(crate) fn name_of(session: &Session) -> String {
    let document = &session.document;
    let name = document.path().and_then(Path::file_name).map_or_else(
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_command_but_finer_steps_stands_in_one_menu() {
        for command in Command::ALL {
            let places = MENUS
                .iter()
                .flat_map(|(_, groups)| groups.iter())
                .flat_map(|group| group.iter())
                .filter(|placed| *placed == command)
                .count();
            let is_finer = matches!(
                command,
                Command::Piece(Deed::Shift(_, Stride::Fine | Stride::Wide) | Deed::Turn(_, Stride::Fine) | Deed::Menu)
            );
            assert_eq!(places, usize::from(!is_finer), "{command:?}");
        }
    }
}
