//! What can be done to the pieces on the bench by a menu or a key: label, key and when it is possible.

use super::session::Session;
use crate::model::FittingKind;
use crate::model::fresh::Kind;
use egui::{Key, KeyboardShortcut, Modifiers};

/// A thing on the tray.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Item {
    /// A straight tube.
    Tube,
    /// A bulb on a neck.
    Bulb,
    /// A bridge between two pieces.
    Bridge,
    /// A single ampoule.
    Ampoule,
    /// A row of like ampoules.
    Row,
    /// A fitting of some kind.
    Fitting(Fitting),
}

/// A kind of fitting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Fitting {
    /// Connection to the pump.
    #[default]
    VacuumPort,
    /// Connection to the gas line.
    GasPort,
    /// A stopcock.
    Stopcock,
    /// A ground joint.
    Joint,
    /// A closed round end.
    Cap,
}

impl Fitting {
    /// Every kind.
    pub const ALL: &[Self] = &[Self::VacuumPort, Self::GasPort, Self::Stopcock, Self::Joint, Self::Cap];

    /// Its name in the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::VacuumPort => "Vacuum port",
            Self::GasPort => "Gas port",
            Self::Stopcock => "Stopcock",
            Self::Joint => "Ground joint",
            Self::Cap => "Cap",
        }
    }

    /// What a new one is: open where it can be.
    pub(crate) fn kind(self) -> FittingKind {
        match self {
            Self::VacuumPort => FittingKind::VacuumPort,
            Self::GasPort => FittingKind::GasPort,
            Self::Stopcock => FittingKind::Stopcock { open: true },
            Self::Joint => FittingKind::Joint {
                designation: "14/23".to_owned(),
                stoppered: false,
            },
            Self::Cap => FittingKind::Cap,
        }
    }
}

impl Item {
    /// Every item, fittings by each kind.
    pub const ALL: &[Self] = &[
        Self::Tube,
        Self::Bulb,
        Self::Bridge,
        Self::Ampoule,
        Self::Row,
        Self::Fitting(Fitting::VacuumPort),
        Self::Fitting(Fitting::GasPort),
        Self::Fitting(Fitting::Stopcock),
        Self::Fitting(Fitting::Joint),
        Self::Fitting(Fitting::Cap),
    ];

    /// Its name in the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::Tube => "Tube",
            Self::Bulb => "Bulb",
            Self::Bridge => "Bridge",
            Self::Ampoule => "Ampoule",
            Self::Row => "Row of ampoules",
            Self::Fitting(fitting) => fitting.label(),
        }
    }

    /// The kind of piece that it makes.
    pub(crate) fn kind(self) -> Kind {
        match self {
            Self::Tube => Kind::Tube,
            Self::Bulb => Kind::Bulb,
            Self::Bridge => Kind::Bridge,
            Self::Ampoule => Kind::Ampoule,
            Self::Row => Kind::Row,
            Self::Fitting(fitting) => Kind::Fitting(fitting.kind()),
        }
    }
}

/// A direction on the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// To the left.
    Left,
    /// To the right.
    Right,
    /// Upwards.
    Up,
    /// Downwards.
    Down,
}

impl Way {
    /// Every direction.
    pub const ALL: [Self; 4] = [Self::Left, Self::Right, Self::Up, Self::Down];

    fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Up => "up",
            Self::Down => "down",
        }
    }

    /// Its arrow key.
    pub(crate) fn key(self) -> Key {
        match self {
            Self::Left => Key::ArrowLeft,
            Self::Right => Key::ArrowRight,
            Self::Up => Key::ArrowUp,
            Self::Down => Key::ArrowDown,
        }
    }
}

/// How far one stroke of a key goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stride {
    /// A tenth of a millimetre, or one degree.
    Fine,
    /// One millimetre, or 15 degrees.
    Plain,
    /// Ten millimetres.
    Wide,
}

impl Stride {
    /// Its length, mm.
    pub(crate) fn mm(self) -> f64 {
        match self {
            Self::Fine => 0.1,
            Self::Plain => 1.0,
            Self::Wide => 10.0,
        }
    }

    fn modifiers(self) -> Modifiers {
        match self {
            Self::Fine => Modifiers::SHIFT,
            Self::Plain => Modifiers::NONE,
            Self::Wide => Modifiers::COMMAND,
        }
    }
}

/// Something that is done to pieces.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Take a new piece in hand.
    Take(Item),
    /// Select every piece.
    SelectAll,
    /// Select the piece after the selected one.
    SelectNext,
    /// Select the piece before the selected one.
    SelectPrevious,
    /// Select all members of the row.
    SelectRow,
    /// Copy the selection and remove it.
    Cut,
    /// Copy the selection.
    Copy,
    /// Put in what was copied: on the selected piece, or beside the original.
    Paste,
    /// Put in a copy beside the selection.
    Duplicate,
    /// Mirror the selection with what sits on it.
    Mirror,
    /// Mirror the drawing.
    MirrorDrawing,
    /// Remove the selection with what sits on it.
    Remove,
    /// Write another name in its place.
    Rename,
    /// Move the selection along its host, as seen on the screen.
    Shift(Way, Stride),
    /// Turn the selection; true is anticlockwise.
    Turn(bool, Stride),
    /// Open the menu of the selected piece.
    Menu,
}

impl Deed {
    /// Its words in a menu.
    pub(crate) fn label(self, session: &Session) -> String {
        let what = match session.selection.names() {
            [] => "selection".to_owned(),
            [name] => name.clone(),
            names => format!("{} pieces", names.len()),
        };
        match self {
            Self::Take(item) => format!("Place: {}", item.label().to_lowercase()),
            Self::SelectAll => "Select all".into(),
            Self::SelectNext => "Select the next piece".into(),
            Self::SelectPrevious => "Select the piece before".into(),
            Self::SelectRow => "Select the whole row".into(),
            Self::Cut => format!("Cut {what}"),
            Self::Copy => format!("Copy {what}"),
            Self::Paste => "Paste".into(),
            Self::Duplicate => format!("Duplicate {what}"),
            Self::Mirror => format!("Mirror {what}"),
            Self::MirrorDrawing => "Mirror the whole drawing".into(),
            Self::Remove => format!("Remove {what}"),
            Self::Rename => format!("Rename {what}…"),
            Self::Shift(way, Stride::Fine) => format!("Move 0.1 mm {}", way.word()),
            Self::Shift(way, Stride::Plain) => format!("Move 1 mm {}", way.word()),
            Self::Shift(way, Stride::Wide) => format!("Move 10 mm {}", way.word()),
            Self::Turn(anticlockwise, stride) => {
                let step = if stride == Stride::Fine { "1°" } else { "15°" };
                let sense = if anticlockwise { "anticlockwise" } else { "clockwise" };
                format!("Turn {what} {step} {sense}")
            }
            Self::Menu => "Menu of the piece".into(),
        }
    }

    /// Its key, if it has one.
    pub(crate) fn shortcut(self) -> Option<KeyboardShortcut> {
        let plain = |key| KeyboardShortcut::new(Modifiers::NONE, key);
        let shift = |key| KeyboardShortcut::new(Modifiers::SHIFT, key);
        let command = |key| KeyboardShortcut::new(Modifiers::COMMAND, key);
        Some(match self {
            Self::Take(Item::Tube) => plain(Key::T),
            Self::Take(Item::Bulb) => plain(Key::B),
            Self::Take(Item::Bridge) => plain(Key::J),
            Self::Take(Item::Ampoule) => plain(Key::A),
            Self::Take(Item::Row) => plain(Key::R),
            Self::Take(Item::Fitting(Fitting::VacuumPort)) => plain(Key::V),
            Self::Take(Item::Fitting(_)) | Self::SelectRow => return None,
            Self::SelectAll => command(Key::A),
            Self::SelectNext => plain(Key::N),
            Self::SelectPrevious => shift(Key::N),
            Self::Cut => command(Key::X),
            Self::Copy => command(Key::C),
            Self::Paste => command(Key::V),
            Self::Duplicate => command(Key::D),
            Self::Mirror => command(Key::M),
            Self::MirrorDrawing => KeyboardShortcut::new(Modifiers::COMMAND | Modifiers::SHIFT, Key::M),
            Self::Remove => plain(Key::Delete),
            Self::Rename => plain(Key::F2),
            Self::Shift(way, stride) => KeyboardShortcut::new(stride.modifiers(), way.key()),
            Self::Turn(anticlockwise, stride) => {
                let key = if anticlockwise { Key::Q } else { Key::E };
                KeyboardShortcut::new(stride.modifiers(), key)
            }
            Self::Menu => shift(Key::F10),
        })
    }

    /// What is missing when it can't be done.
    pub(crate) fn needs(self) -> &'static str {
        match self {
            Self::Take(_) | Self::Paste => "",
            Self::SelectAll | Self::SelectNext | Self::SelectPrevious | Self::MirrorDrawing => "The bench is empty",
            Self::SelectRow => "No member of a row is selected",
            Self::Rename | Self::Menu => "Not exactly one piece is selected",
            _ => "Nothing is selected",
        }
    }

    /// Whether it can be done now.
    pub(crate) fn is_possible(self, session: &Session) -> bool {
        let apparatus = session.document.now();
        let names = session.selection.names();
        match self {
            Self::Take(_) | Self::Paste => true,
            Self::SelectAll | Self::SelectNext | Self::SelectPrevious | Self::MirrorDrawing => {
                !(apparatus.pieces.is_empty() && apparatus.rows.is_empty())
            }
            Self::SelectRow => names.last().is_some_and(|name| apparatus.member(name).is_some()),
            Self::Rename | Self::Menu => names.len() == 1,
            Self::Cut
            | Self::Copy
            | Self::Duplicate
            | Self::Mirror
            | Self::Remove
            | Self::Shift(..)
            | Self::Turn(..) => !names.is_empty(),
        }
    }
}
