//! The menu of a piece on the bench: the commands that can be done to it.

use super::command::Command;
use super::deed::{Deed, Fitting, Stride};
use super::menu;
use super::session::Session;
use super::theme;
use crate::model::{Edit, Fitting as FittingForm, Form};
use egui::{Id, Popup, PopupAnchor, PopupCloseBehavior, PopupKind, Pos2, Ui};

const NAME: &[Deed] = &[Deed::Rename];
const COPIES: &[Deed] = &[Deed::Cut, Deed::Copy, Deed::Paste, Deed::Duplicate];
const TURNS: &[Deed] = &[
    Deed::Mirror,
    Deed::Turn(true, Stride::Plain),
    Deed::Turn(false, Stride::Plain),
];
const SELECTS: &[Deed] = &[Deed::SelectRow, Deed::SelectAll];
const REMOVES: &[Deed] = &[Deed::Remove];

/// An open menu.
pub(crate) struct PieceMenu {
    at: Pos2,
    fresh: bool,
    by_key: bool,
}

impl PieceMenu {
    fn id() -> Id {
        Id::unique("piece menu")
    }

    /// Opens it at a position; by a key its first line has the focus.
    pub(crate) fn open(ctx: &egui::Context, at: Pos2, by_key: bool) -> Self {
        Popup::open_id(ctx, Self::id());
        Self {
            at,
            fresh: true,
            by_key,
        }
    }

    /// Shows it; gives what was chosen, and whether it is still open.
    pub(crate) fn show(&mut self, ui: &Ui, session: &mut Session) -> (Option<Deed>, bool) {
        let ctx = ui.ctx().clone();
        let mut chosen = None;
        let shown = Popup::new(Self::id(), ctx, PopupAnchor::Position(self.at), ui.layer_id())
            .kind(PopupKind::Menu)
            .style(egui::containers::menu::menu_style)
            .layout(egui::Layout::top_down_justified(egui::Align::Min))
            .close_behavior(PopupCloseBehavior::CloseOnClick)
            .open_memory(None)
            .show(|ui| {
                theme::outline_focus(ui);
                ui.set_min_width(230.0);
                for (i, deeds) in [NAME, COPIES, TURNS, SELECTS, REMOVES].iter().enumerate() {
                    if i > 0 {
                        ui.separator();
                    }
                    if i == 3 {
                        make_another(ui, session);
                    }
                    for deed in *deeds {
                        let (response, picked) = menu::item(ui, Command::Piece(*deed), session, None);
                        if std::mem::take(&mut self.fresh) && self.by_key {
                            response.request_focus();
                        }
                        if picked {
                            chosen = Some(*deed);
                        }
                    }
                }
            });
        (chosen, shown.is_some())
    }
}

/// For a fitting: what else it could be.
fn make_another(ui: &mut Ui, session: &mut Session) {
    let Some(name) = session.selection.shown().map(str::to_owned) else {
        return;
    };
    let Some(Form::Fitting(present)) = session.document.now().find(&name).map(|piece| piece.form) else {
        return;
    };
    ui.menu_button("Make it a", |ui| {
        theme::outline_focus(ui);
        for fitting in Fitting::ALL {
            let kind = fitting.kind();
            let same = std::mem::discriminant(&kind) == std::mem::discriminant(&present.kind);
            if ui.add_enabled(!same, egui::Button::new(fitting.label())).clicked() {
                let edit = Edit::Reshape {
                    piece: name.clone(),
                    form: Form::Fitting(FittingForm {
                        kind,
                        ..present.clone()
                    }),
                };
                if let Ok(next) = session.document.settled().apply(&edit) {
                    let words = format!("Make {name} a {}", fitting.label().to_lowercase());
                    session.document.change(&words, next);
                }
                ui.close();
            }
        }
    });
    ui.separator();
}
