//! A bridge without a pointer: from which piece to which.

use super::placing;
use super::propose::Bench;
use super::session::Session;
use super::theme;
use egui::{ComboBox, Id, Modal, RichText, Ui};

/// The two pieces as chosen so far.
pub(crate) struct Joining {
    from: Option<String>,
    to: Option<String>,
    refusal: Option<String>,
    fresh: bool,
}

/// What came of it in a frame.
#[derive(Debug, PartialEq)]
pub(crate) enum Joined {
    /// It goes on.
    Not,
    /// It was left.
    Left,
    /// The bridge was put: its name.
    Put(Vec<String>),
}

impl Joining {
    /// Begins with the selected piece.
    pub(crate) fn begin(session: &Session) -> Self {
        Self {
            from: session.selection.shown().map(str::to_owned),
            to: None,
            refusal: None,
            fresh: true,
        }
    }

    /// Asks, and puts the bridge.
    pub(crate) fn show(&mut self, ctx: &egui::Context, session: &mut Session) -> Joined {
        let names = session.document.now().names();
        let mut joined = Joined::Not;
        let modal = Modal::new(Id::unique("joining"))
            .frame(theme::dialog(ctx))
            .show(ctx, |ui| {
                ui.set_width(300.0);
                ui.heading("Bridge between two pieces");
                ui.add_space(6.0);
                let first = choose(ui, "From", &names, &mut self.from);
                if std::mem::take(&mut self.fresh) {
                    first.request_focus();
                }
                choose(ui, "To", &names, &mut self.to);
                if let Some(refusal) = &self.refusal {
                    ui.label(RichText::new(refusal).color(theme::of(ui).stop));
                }
                ui.add_space(8.0);
                ui.horizontal(|ui| {
                    if ui.button("Put the bridge").clicked() {
                        match self.put(session) {
                            Ok(names) => joined = Joined::Put(names),
                            Err(reason) => self.refusal = Some(reason),
                        }
                    }
                    if ui.button("Cancel").clicked() {
                        joined = Joined::Left;
                    }
                });
            });
        if modal.should_close() && joined == Joined::Not {
            joined = Joined::Left;
        }
        joined
    }

    fn put(&self, session: &mut Session) -> Result<Vec<String>, String> {
        let (Some(from), Some(to)) = (&self.from, &self.to) else {
            return Err("Choose both pieces.".to_owned());
        };
        if from == to {
            return Err("Choose two different pieces.".to_owned());
        }
        let apparatus = session.document.settled();
        let placed = apparatus.place().map_err(|fault| fault.to_string())?;
        let bench = Bench {
            apparatus,
            placed: &placed,
            length_unit: session.length_unit,
        };
        let proposal = bench.bridge_between(from, to)?;
        placing::put(session, &proposal)
    }
}

fn choose(ui: &mut Ui, label: &str, names: &[String], chosen: &mut Option<String>) -> egui::Response {
    ui.horizontal(|ui| {
        let caption = ui.add_sized([44.0, theme::TARGET], egui::Label::new(label));
        let shown = ComboBox::from_id_salt(label)
            .selected_text(chosen.as_deref().unwrap_or("Choose"))
            .width(220.0)
            .show_ui(ui, |ui| {
                for name in names {
                    if ui.selectable_label(chosen.as_ref() == Some(name), name).clicked() {
                        *chosen = Some(name.clone());
                    }
                }
            });
        shown.response.labelled_by(caption.id)
    })
    .inner
}
