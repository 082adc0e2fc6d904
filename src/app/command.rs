//! Everything that can be done by a menu or a key: label, key and when it is possible, in one place.

use super::session::Session;
use egui::{Key, KeyboardShortcut, Modifiers};

/// A command. Menus, keys and tests send the same value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Choose a design file and open it.
    Open,
    /// Write the document to its file, or ask for one.
    Save,
    /// Write the document to a file to be chosen.
    SaveAs,
    /// Close the window.
    Quit,
    /// Take back the last change.
    Undo,
    /// Bring back what was taken back.
    Redo,
    /// Drop the selection.
    SelectNothing,
    /// Show the whole apparatus within the tilt ring.
    Fit,
    /// Look closer.
    ZoomIn,
    /// Look from farther away.
    ZoomOut,
    /// Show the glass as large as it is.
    TrueSize,
    /// Measure this screen for the true size.
    Calibrate,
    /// Move the paper so that more is seen at the left.
    LookLeft,
    /// At the right.
    LookRight,
    /// Above.
    LookUp,
    /// Below.
    LookDown,
    /// Show or hide the dimensions.
    Dimensions,
    /// Show or hide the grid.
    Grid,
    /// Show or hide the rulers.
    Rulers,
    /// Show or hide the times of frames.
    FrameTimes,
    /// Hold the glass as drawn: no tilt, no roll.
    Upright,
    /// One degree anticlockwise.
    TiltAnticlockwise,
    /// One degree clockwise.
    TiltClockwise,
    /// A tenth of a degree anticlockwise.
    NudgeAnticlockwise,
    /// A tenth of a degree clockwise.
    NudgeClockwise,
    /// One degree towards the viewer.
    RollTowards,
    /// One degree away from the viewer.
    RollAway,
    /// Show or hide the column of numbers.
    Column,
    /// Light colours.
    Light,
    /// Dark colours.
    Dark,
    /// The system's choice of colours.
    FollowSystem,
}

impl Command {
    /// Every command.
    pub const ALL: &[Self] = &[
        Self::Open,
        Self::Save,
        Self::SaveAs,
        Self::Quit,
        Self::Undo,
        Self::Redo,
        Self::SelectNothing,
        Self::Fit,
        Self::ZoomIn,
        Self::ZoomOut,
        Self::TrueSize,
        Self::Calibrate,
        Self::LookLeft,
        Self::LookRight,
        Self::LookUp,
        Self::LookDown,
        Self::Dimensions,
        Self::Grid,
        Self::Rulers,
        Self::FrameTimes,
        Self::Upright,
        Self::TiltAnticlockwise,
        Self::TiltClockwise,
        Self::NudgeAnticlockwise,
        Self::NudgeClockwise,
        Self::RollTowards,
        Self::RollAway,
        Self::Column,
        Self::Light,
        Self::Dark,
        Self::FollowSystem,
    ];

    /// Its words in a menu. Undo and redo name the step.
    pub fn label(self, session: &Session) -> String {
        let shown = |what: &str, now: bool| format!("{} {what}", if now { "Hide" } else { "Show" });
        let named = |verb: &str, step: Option<&str>| step.map_or(verb.to_owned(), |step| format!("{verb}: {step}"));
        match self {
            Self::Undo => named("Undo", session.document.undo_words()),
            Self::Redo => named("Redo", session.document.redo_words()),
            Self::Open => "Open…".into(),
            Self::Save => "Save".into(),
            Self::SaveAs => "Save as…".into(),
            Self::Quit => "Quit".into(),
            Self::SelectNothing => "Select nothing".into(),
            Self::Fit => "Fit".into(),
            Self::ZoomIn => "Closer".into(),
            Self::ZoomOut => "Farther".into(),
            Self::TrueSize => "True size".into(),
            Self::Calibrate => "Measure the screen for true size…".into(),
            Self::LookLeft => "Look left".into(),
            Self::LookRight => "Look right".into(),
            Self::LookUp => "Look up".into(),
            Self::LookDown => "Look down".into(),
            Self::Dimensions => shown("dimensions", session.sheet.dimensions),
            Self::Grid => shown("grid", session.sheet.grid),
            Self::Rulers => shown("rulers", session.sheet.rulers),
            Self::FrameTimes => "Frame times".into(),
            Self::Upright => "As drawn".into(),
            Self::TiltAnticlockwise => "Tilt 1° anticlockwise".into(),
            Self::TiltClockwise => "Tilt 1° clockwise".into(),
            Self::NudgeAnticlockwise => "Tilt 0.1° anticlockwise".into(),
            Self::NudgeClockwise => "Tilt 0.1° clockwise".into(),
            Self::RollTowards => "Roll 1° towards you".into(),
            Self::RollAway => "Roll 1° away".into(),
            Self::Column => "Numbers".into(),
            Self::Light => "Light".into(),
            Self::Dark => "Dark".into(),
            Self::FollowSystem => "As the system".into(),
        }
    }

    /// Its key, if it has one.
    pub fn shortcut(self) -> Option<KeyboardShortcut> {
        let plain = |key| KeyboardShortcut::new(Modifiers::NONE, key);
        let shift = |key| KeyboardShortcut::new(Modifiers::SHIFT, key);
        let alt = |key| KeyboardShortcut::new(Modifiers::ALT, key);
        let command = |key| KeyboardShortcut::new(Modifiers::COMMAND, key);
        let command_shift = |key| KeyboardShortcut::new(Modifiers::COMMAND | Modifiers::SHIFT, key);
        Some(match self {
            Self::Open => command(Key::O),
            Self::Save => command(Key::S),
            Self::SaveAs => command_shift(Key::S),
            Self::Quit => command(Key::Q),
            Self::Undo => command(Key::Z),
            Self::Redo => command_shift(Key::Z),
            Self::SelectNothing => plain(Key::Escape),
            Self::Fit => plain(Key::F),
            Self::ZoomIn => plain(Key::Plus),
            Self::ZoomOut => plain(Key::Minus),
            Self::TrueSize => plain(Key::Num1),
            Self::LookLeft => alt(Key::ArrowLeft),
            Self::LookRight => alt(Key::ArrowRight),
            Self::LookUp => alt(Key::ArrowUp),
            Self::LookDown => alt(Key::ArrowDown),
            Self::Dimensions => plain(Key::D),
            Self::Grid => plain(Key::G),
            Self::Rulers => shift(Key::G),
            Self::FrameTimes => plain(Key::F12),
            Self::Upright => plain(Key::Home),
            Self::TiltAnticlockwise => plain(Key::ArrowLeft),
            Self::TiltClockwise => plain(Key::ArrowRight),
            Self::NudgeAnticlockwise => shift(Key::ArrowLeft),
            Self::NudgeClockwise => shift(Key::ArrowRight),
            Self::RollTowards => plain(Key::ArrowDown),
            Self::RollAway => plain(Key::ArrowUp),
            Self::Column => command(Key::B),
            Self::Light => command_shift(Key::L),
            Self::Dark => command_shift(Key::D),
            Self::Calibrate | Self::FollowSystem => return None,
        })
    }

    /// Whether its key means something else while a field is typed into or another control has the focus.
    pub fn yields_to_fields(self) -> bool {
        self.shortcut().is_some_and(|keys| !keys.modifiers.command)
    }

    /// Whether it can be done now.
    pub fn is_possible(self, session: &Session) -> bool {
        match self {
            Self::Undo => session.document.undo_words().is_some(),
            Self::Redo => session.document.redo_words().is_some(),
            Self::SelectNothing => !session.selection.is_empty(),
            _ => true,
        }
    }

    /// The command whose key was pressed in this frame. Keys with more modifiers are asked first, so that they
    /// are not taken for those with fewer.
    pub(crate) fn pressed(ctx: &egui::Context, in_field: bool) -> Option<Self> {
        let mut commands: Vec<_> = Self::ALL
            .iter()
            .copied()
            .filter(|c| !(in_field && c.yields_to_fields()))
            .collect();
        commands.sort_by_key(|c| std::cmp::Reverse(c.shortcut().map_or(0, |keys| chord(keys.modifiers))));
        ctx.input_mut(|input| {
            commands
                .into_iter()
                .find(|c| c.shortcut().is_some_and(|keys| input.consume_shortcut(&keys)))
        })
    }
}

fn chord(modifiers: Modifiers) -> u8 {
    u8::from(modifiers.command) + u8::from(modifiers.shift) + u8::from(modifiers.alt)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_is_given_twice() {
        let keys: Vec<_> = Command::ALL.iter().filter_map(|c| c.shortcut()).collect();
        for (i, key) in keys.iter().enumerate() {
            assert!(!keys[..i].contains(key), "{key:?}");
        }
    }
}
