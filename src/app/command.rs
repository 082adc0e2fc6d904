//! Everything that can be done by a menu or a key: label, key and when it is possible, in one place.

use super::deed::{Deed, Fitting, Item, Stride, Way};
use super::examples::Example;
use super::session::Session;
use egui::{Key, KeyboardShortcut, Modifiers};

/// A command. Menus, keys and tests send the same value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Command {
    /// Clear the bench for a new design.
    New,
    /// Make an apparatus from a few numbers.
    Starter,
    /// Put a worked example on the bench.
    Example(Example),
    /// Choose a design file and open it.
    Open,
    /// Write the document to its file, or ask for one.
    Save,
    /// Write the document to a file to be chosen.
    SaveAs,
    /// Offer what earlier runs did not save.
    UnsavedWork,
    /// Empty the list of recent files.
    ForgetRecent,
    /// Close the window.
    Quit,
    /// Take back the last change.
    Undo,
    /// Bring back what was taken back.
    Redo,
    /// Drop the selection.
    SelectNothing,
    /// Something that is done to pieces.
    Piece(Deed),
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
    /// To the next mark of the tilt ring anticlockwise.
    MarkAnticlockwise,
    /// To the next mark of the tilt ring clockwise.
    MarkClockwise,
    /// One degree towards the viewer.
    RollTowards,
    /// One degree away from the viewer.
    RollAway,
    /// Play the run, or let it stand.
    PlayRun,
    /// To the next stop of the run.
    NextStop,
    /// To the stop of the run before.
    PreviousStop,
    /// Add the present stance to the run.
    AddStop,
    /// Show or hide the strip of the run.
    RunStrip,
    /// Show or hide the chart of the run.
    RunChart,
    /// Shows or hides the measured fills.
    Measured,
    /// Show or hide the tray.
    Tray,
    /// Show or hide the column of numbers.
    Column,
    /// Show or hide the plots below the bench.
    Plots,
    /// Show or hide the list of findings below the bench.
    Findings,
    /// Show or hide the page on which runs and sizes are found.
    Find,
    /// Show or hide the stages of the job below the bench.
    Job,
    /// Choose, look at and save the sheets for the workshop.
    Sheets,
    /// Show lengths in inches, or in millimetres again.
    Inches,
    /// Light colours.
    Light,
    /// Dark colours.
    Dark,
    /// The system's choice of colours.
    FollowSystem,
    /// Text and controls a tenth larger.
    Larger,
    /// Text and controls a tenth smaller.
    Smaller,
    /// Text and controls as large as the system has them.
    UsualSize,
    /// Let things take their places at once, or move there.
    LessMotion,
    /// Give the focus to the next part of the window.
    NextRegion,
    /// Give the focus to the part of the window before.
    PreviousRegion,
    /// List everything that can be done.
    AllActions,
    /// Show the first hint.
    Hint,
    /// Version, cautions and licences.
    About,
}

impl Command {
    /// Every command.
    pub const ALL: &[Self] = &[
        Self::New,
        Self::Starter,
        Self::Example(Example::RubidiumSix),
        Self::Example(Example::GalliumIndiumEight),
        Self::Example(Example::BenzeneFive),
        Self::Example(Example::TeachingThree),
        Self::Open,
        Self::Save,
        Self::SaveAs,
        Self::Sheets,
        Self::UnsavedWork,
        Self::ForgetRecent,
        Self::Quit,
        Self::Undo,
        Self::Redo,
        Self::SelectNothing,
        Self::Piece(Deed::Take(Item::Tube)),
        Self::Piece(Deed::Take(Item::Bulb)),
        Self::Piece(Deed::Take(Item::Bridge)),
        Self::Piece(Deed::Take(Item::Ampoule)),
        Self::Piece(Deed::Take(Item::Row)),
        Self::Piece(Deed::Take(Item::Fitting(Fitting::VacuumPort))),
        Self::Piece(Deed::Take(Item::Fitting(Fitting::GasPort))),
        Self::Piece(Deed::Take(Item::Fitting(Fitting::Stopcock))),
        Self::Piece(Deed::Take(Item::Fitting(Fitting::Joint))),
        Self::Piece(Deed::Take(Item::Fitting(Fitting::Cap))),
        Self::Piece(Deed::SelectAll),
        Self::Piece(Deed::SelectNext),
        Self::Piece(Deed::SelectPrevious),
        Self::Piece(Deed::SelectRow),
        Self::Piece(Deed::Cut),
        Self::Piece(Deed::Copy),
        Self::Piece(Deed::Paste),
        Self::Piece(Deed::Duplicate),
        Self::Piece(Deed::Mirror),
        Self::Piece(Deed::MirrorDrawing),
        Self::Piece(Deed::Remove),
        Self::Piece(Deed::Rename),
        Self::Piece(Deed::Menu),
        Self::Piece(Deed::Shift(Way::Left, Stride::Plain)),
        Self::Piece(Deed::Shift(Way::Left, Stride::Fine)),
        Self::Piece(Deed::Shift(Way::Left, Stride::Wide)),
        Self::Piece(Deed::Shift(Way::Right, Stride::Plain)),
        Self::Piece(Deed::Shift(Way::Right, Stride::Fine)),
        Self::Piece(Deed::Shift(Way::Right, Stride::Wide)),
        Self::Piece(Deed::Shift(Way::Up, Stride::Plain)),
        Self::Piece(Deed::Shift(Way::Up, Stride::Fine)),
        Self::Piece(Deed::Shift(Way::Up, Stride::Wide)),
        Self::Piece(Deed::Shift(Way::Down, Stride::Plain)),
        Self::Piece(Deed::Shift(Way::Down, Stride::Fine)),
        Self::Piece(Deed::Shift(Way::Down, Stride::Wide)),
        Self::Piece(Deed::Turn(true, Stride::Plain)),
        Self::Piece(Deed::Turn(true, Stride::Fine)),
        Self::Piece(Deed::Turn(false, Stride::Plain)),
        Self::Piece(Deed::Turn(false, Stride::Fine)),
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
        Self::MarkAnticlockwise,
        Self::MarkClockwise,
        Self::RollTowards,
        Self::RollAway,
        Self::PlayRun,
        Self::NextStop,
        Self::PreviousStop,
        Self::AddStop,
        Self::RunStrip,
        Self::RunChart,
        Self::Measured,
        Self::Tray,
        Self::Column,
        Self::Plots,
        Self::Findings,
        Self::Find,
        Self::Job,
        Self::Inches,
        Self::Light,
        Self::Dark,
        Self::FollowSystem,
        Self::Larger,
        Self::Smaller,
        Self::UsualSize,
        Self::LessMotion,
        Self::NextRegion,
        Self::PreviousRegion,
        Self::AllActions,
        Self::Hint,
        Self::About,
    ];

    /// Its words in a menu. Undo and redo name the step.
    pub fn label(self, session: &Session) -> String {
        let named = |verb: &str, step: Option<&str>| step.map_or(verb.to_owned(), |step| format!("{verb}: {step}"));
        match self {
            Self::Undo => named("Undo", session.document.undo_words()),
            Self::Redo => named("Redo", session.document.redo_words()),
            Self::New => "New".into(),
            Self::Starter => "Starter…".into(),
            Self::Example(example) => format!("Example: {}", example.name()),
            Self::Open => "Open…".into(),
            Self::Save => "Save".into(),
            Self::SaveAs => "Save as…".into(),
            Self::UnsavedWork => "Unsaved work…".into(),
            Self::ForgetRecent => "Forget recent files".into(),
            Self::Quit => "Quit".into(),
            Self::SelectNothing => "Select nothing".into(),
            Self::Piece(deed) => deed.label(session),
            Self::Fit => "Fit".into(),
            Self::ZoomIn => "Closer".into(),
            Self::ZoomOut => "Farther".into(),
            Self::TrueSize => "True size".into(),
            Self::Calibrate => "Measure the screen for true size…".into(),
            Self::LookLeft => "Look left".into(),
            Self::LookRight => "Look right".into(),
            Self::LookUp => "Look up".into(),
            Self::LookDown => "Look down".into(),
            Self::Dimensions => "Dimensions".into(),
            Self::Grid => "Grid".into(),
            Self::Rulers => "Rulers".into(),
            Self::FrameTimes => "Frame times".into(),
            Self::Upright => "As drawn".into(),
            Self::TiltAnticlockwise => "Tilt 1° anticlockwise".into(),
            Self::TiltClockwise => "Tilt 1° clockwise".into(),
            Self::NudgeAnticlockwise => "Tilt 0.1° anticlockwise".into(),
            Self::NudgeClockwise => "Tilt 0.1° clockwise".into(),
            Self::MarkAnticlockwise => "To the next mark anticlockwise".into(),
            Self::MarkClockwise => "To the next mark clockwise".into(),
            Self::RollTowards => "Roll 1° towards you".into(),
            Self::RollAway => "Roll 1° away".into(),
            Self::PlayRun => "Play or pause the run".into(),
            Self::NextStop => "To the next stop of the run".into(),
            Self::PreviousStop => "To the stop of the run before".into(),
            Self::AddStop => "Add the present stance as a stop".into(),
            Self::RunStrip => "Run".into(),
            Self::RunChart => "Chart of the run".into(),
            Self::Measured => "Measured fills".into(),
            Self::Tray => "Tray".into(),
            Self::Column => "Numbers".into(),
            Self::Plots => "Plots".into(),
            Self::Findings => "Findings".into(),
            Self::Find => "Find runs and sizes".into(),
            Self::Job => "Job".into(),
            Self::Sheets => "Sheets for the workshop…".into(),
            Self::Inches => "Show lengths in inches".into(),
            Self::Light => "Light".into(),
            Self::Dark => "Dark".into(),
            Self::FollowSystem => "As the system".into(),
            Self::Larger => "Larger text".into(),
            Self::Smaller => "Smaller text".into(),
            Self::UsualSize => "Usual text size".into(),
            Self::LessMotion => "Less motion".into(),
            Self::NextRegion => "Next part of the window".into(),
            Self::PreviousRegion => "Previous part of the window".into(),
            Self::AllActions => "All actions…".into(),
            Self::Hint => "First hint".into(),
            Self::About => "About Vialwright…".into(),
        }
    }

    /// Its key, if it has one.
    pub fn shortcut(self) -> Option<KeyboardShortcut> {
        let plain = |key| KeyboardShortcut::new(Modifiers::NONE, key);
        let shift = |key| KeyboardShortcut::new(Modifiers::SHIFT, key);
        let command = |key| KeyboardShortcut::new(Modifiers::COMMAND, key);
        let command_shift = |key| KeyboardShortcut::new(Modifiers::COMMAND | Modifiers::SHIFT, key);
        let alt = |key| KeyboardShortcut::new(Modifiers::ALT, key);
        let alt_shift = |key| KeyboardShortcut::new(Modifiers::ALT | Modifiers::SHIFT, key);
        Some(match self {
            Self::New => command(Key::N),
            Self::Starter => command_shift(Key::N),
            Self::Example(_) => return None,
            Self::Open => command(Key::O),
            Self::Save => command(Key::S),
            Self::SaveAs => command_shift(Key::S),
            Self::Sheets => command(Key::P),
            Self::Quit => command(Key::Q),
            Self::Undo => command(Key::Z),
            Self::Redo => command_shift(Key::Z),
            Self::SelectNothing => plain(Key::Escape),
            Self::Fit => plain(Key::F),
            Self::ZoomIn => plain(Key::Plus),
            Self::ZoomOut => plain(Key::Minus),
            Self::TrueSize => plain(Key::Num1),
            Self::LookLeft => shift(Key::PageUp),
            Self::LookRight => shift(Key::PageDown),
            Self::LookUp => plain(Key::PageUp),
            Self::LookDown => plain(Key::PageDown),
            Self::Dimensions => plain(Key::D),
            Self::Grid => plain(Key::L),
            Self::Rulers => shift(Key::L),
            Self::FrameTimes => plain(Key::F12),
            Self::Upright => plain(Key::Home),
            Self::TiltAnticlockwise => alt(Key::ArrowLeft),
            Self::TiltClockwise => alt(Key::ArrowRight),
            Self::NudgeAnticlockwise => alt_shift(Key::ArrowLeft),
            Self::NudgeClockwise => alt_shift(Key::ArrowRight),
            Self::MarkAnticlockwise => plain(Key::Comma),
            Self::MarkClockwise => plain(Key::Period),
            Self::RollTowards => alt(Key::ArrowDown),
            Self::RollAway => alt(Key::ArrowUp),
            Self::PlayRun => plain(Key::K),
            Self::NextStop => plain(Key::O),
            Self::PreviousStop => plain(Key::I),
            Self::AddStop => shift(Key::S),
            Self::RunStrip => plain(Key::S),
            Self::RunChart => shift(Key::P),
            Self::Measured => plain(Key::M),
            Self::Tray => command(Key::T),
            Self::Column => command(Key::B),
            Self::Plots => plain(Key::P),
            Self::Findings => plain(Key::G),
            Self::Find => command_shift(Key::F),
            Self::Job => plain(Key::W),
            Self::Light => command_shift(Key::L),
            Self::Dark => command_shift(Key::D),
            Self::Larger => command(Key::Plus),
            Self::Smaller => command(Key::Minus),
            Self::UsualSize => command(Key::Num0),
            Self::NextRegion => plain(Key::F6),
            Self::PreviousRegion => shift(Key::F6),
            Self::AllActions => command(Key::K),
            Self::UnsavedWork
            | Self::ForgetRecent
            | Self::Calibrate
            | Self::Inches
            | Self::FollowSystem
            | Self::LessMotion
            | Self::Hint
            | Self::About => return None,
            Self::Piece(deed) => return deed.shortcut(),
        })
    }

    /// A second key that hands may expect; it works and is listed, but stands in no menu.
    pub fn second_shortcut(self) -> Option<KeyboardShortcut> {
        match self {
            Self::Redo => Some(KeyboardShortcut::new(Modifiers::COMMAND, Key::Y)),
            Self::AllActions => Some(KeyboardShortcut::new(Modifiers::NONE, Key::F1)),
            _ => None,
        }
    }

    fn shortcuts(self, session: &Session) -> impl Iterator<Item = KeyboardShortcut> {
        let all = [self.shortcut(), self.second_shortcut(), self.bare_key(session)];
        all.into_iter().flatten()
    }

    /// The key without Alt, which it has while nothing is selected: the arrows move what is selected, and turn the
    /// glass when nothing is.
    pub fn bare_key(self, session: &Session) -> Option<KeyboardShortcut> {
        let keys = self.shortcut().filter(|keys| keys.modifiers.alt)?;
        let bare = Modifiers {
            alt: false,
            ..keys.modifiers
        };
        session
            .selection
            .is_empty()
            .then(|| KeyboardShortcut::new(bare, keys.logical_key))
    }

    /// Whether its key means something else while a field is typed into or another control has the focus.
    pub fn yields_to_fields(self) -> bool {
        let is_function = |key| matches!(key, Key::F1 | Key::F6 | Key::F12);
        let is_arrow = matches!(self, Self::Piece(Deed::Shift(..)));
        is_arrow
            || self
                .shortcut()
                .is_some_and(|keys| !keys.modifiers.command && !is_function(keys.logical_key))
    }

    /// Whether its key means something else while text is typed.
    fn yields_to_text(self) -> bool {
        self.yields_to_fields() || matches!(self, Self::Piece(_))
    }

    /// Whether it can be done now.
    pub fn is_possible(self, session: &Session) -> bool {
        self.why_not(session).is_none()
    }

    /// Why it can't be done now.
    pub fn why_not(self, session: &Session) -> Option<&'static str> {
        let (possible, reason) = match self {
            Self::Undo => (session.document.undo_words().is_some(), "Nothing has been done yet"),
            Self::Redo => (session.document.redo_words().is_some(), "Nothing was taken back"),
            Self::SelectNothing => (!session.selection.is_empty(), "Nothing is selected"),
            Self::PlayRun | Self::NextStop | Self::PreviousStop => {
                (!session.document.now().run.stops.is_empty(), "The run has no stops yet")
            }
            Self::Piece(deed) => (deed.is_possible(session), deed.needs()),
            _ => return None,
        };
        (!possible).then_some(reason)
    }

    /// The command whose key was pressed in this frame. Keys with more modifiers are asked first, so that they
    /// are not taken for those with fewer.
    pub(crate) fn pressed(ctx: &egui::Context, session: &Session, in_text: bool, in_field: bool) -> Option<Self> {
        let mut keys: Vec<_> = Self::ALL
            .iter()
            .copied()
            .filter(|c| !(in_field && c.yields_to_fields() || in_text && c.yields_to_text()))
            .flat_map(|c| c.shortcuts(session).map(move |keys| (c, keys)))
            .filter(|(c, _)| !matches!(c, Self::Piece(Deed::Shift(..))) || c.is_possible(session))
            .collect();
        keys.sort_by_key(|(_, keys)| std::cmp::Reverse(chord(keys.modifiers)));
        let found = ctx.input_mut(|input| keys.into_iter().find(|(_, keys)| input.consume_shortcut(keys)));
        found.map(|(command, _)| command)
    }
}

/// A key with its modifiers for people: arrows and signs as such.
pub(crate) fn keys_in_words(ctx: &egui::Context, keys: &KeyboardShortcut) -> String {
    let whole = ctx.format_shortcut(keys);
    let sign = match keys.logical_key {
        Key::ArrowLeft => "←",
        Key::ArrowRight => "→",
        Key::ArrowUp => "↑",
        Key::ArrowDown => "↓",
        Key::Plus => "+",
        Key::Minus => "−",
        _ => return whole,
    };
    let modifiers = whole.strip_suffix(keys.logical_key.name()).unwrap_or_default();
    format!("{modifiers}{sign}")
}

fn chord(modifiers: Modifiers) -> u8 {
    u8::from(modifiers.command) + u8::from(modifiers.shift) + u8::from(modifiers.alt)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::Document;

    #[test]
    fn no_key_is_given_twice() {
        let apparatus = crate::model::sample::apparatus();
        let mut session = Session::new(Document::new(apparatus, None));
        for selected in [false, true] {
            if selected {
                session.selection.only("pot");
            }
            let moves = |c: &&Command| matches!(c, Command::Piece(Deed::Shift(..)));
            let commands = Command::ALL.iter().filter(|c| selected || !moves(c));
            let keys: Vec<_> = commands.flat_map(|c| c.shortcuts(&session)).collect();
            for (i, key) in keys.iter().enumerate() {
                assert!(!keys[..i].contains(key), "{key:?}");
            }
        }
    }

    #[test]
    fn keys_are_written_for_people() {
        let ctx = egui::Context::default();
        ctx.set_os(egui::os::OperatingSystem::Nix);
        let words = |command: Command| command.shortcut().map(|keys| keys_in_words(&ctx, &keys));
        assert_eq!(words(Command::NudgeAnticlockwise).as_deref(), Some("Alt+Shift+←"));
        assert_eq!(words(Command::Larger).as_deref(), Some("Ctrl++"));
        assert_eq!(words(Command::Undo).as_deref(), Some("Ctrl+Z"));
    }
}
