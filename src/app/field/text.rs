//! A field that holds a name or another text.

use super::{Cell, Deed, IN_LIST, Shown};
use egui::accesskit::Role;
use egui::{Id, Ui};

/// A text field.
pub(crate) struct TextField<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The text; `None` where several pieces differ.
    pub value: Option<&'a str>,
    /// Width, points.
    pub width: f32,
    /// What the pointer is told.
    pub hint: &'a str,
}

impl TextField<'_> {
    /// Shows the field; gives the text that was typed, without blanks at its ends.
    pub(crate) fn show(self, ui: &mut Ui) -> Shown<String> {
        let cell = Cell {
            id: self.id,
            label: self.label,
            text: self.value.map(str::to_owned),
            unit: "",
            stands: self.value.unwrap_or_default().to_owned(),
            width: self.width,
            drags: false,
            steps: false,
            from_left: true,
            is_lit: false,
            hint: self.hint.to_owned(),
            type_size: IN_LIST,
        };
        let shown = cell.show(ui, Role::TextInput, |_| ());
        Shown {
            change: match shown.change {
                Some(Deed::Typed(text)) => Some(text.trim().to_owned()),
                _ => None,
            },
            rect: shown.rect,
            is_hot: shown.is_hot,
        }
    }
}
