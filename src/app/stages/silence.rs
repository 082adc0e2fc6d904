//! Silencing a finding with a reason, and letting it speak again.

use super::entry;
use crate::app::field::TextField;
use crate::app::region::is_clicked;
use crate::app::session::Session;
use crate::app::theme;
use crate::findings::{Finding, Unknown};
use crate::model::Edit;
use egui::accesskit::Role;
use egui::{Button, Id, RichText, Ui, Vec2, WidgetInfo};

/// The finding whose reason is being typed.
#[derive(Debug, Default)]
pub(crate) struct Silencing {
    of: Option<(&'static str, String)>,
    /// The finding that had the focus last: its button stays while the pointer goes there.
    near: Option<(&'static str, String)>,
}

impl Silencing {
    /// Whether this finding is offered to be silenced, or its reason is being typed.
    pub(crate) fn is_of(&self, finding: &Finding) -> bool {
        let is = |key: &(&'static str, String)| key.0 == finding.rule && key.1 == finding.piece;
        self.of.as_ref().is_some_and(is) || self.near.as_ref().is_some_and(is)
    }

    /// Notes that a finding has the focus.
    pub(crate) fn come_near(&mut self, finding: &Finding) {
        if !self.is_of(finding) {
            self.near = Some((finding.rule, finding.piece.clone()));
        }
    }

    /// Offers to silence a finding: a button, or the field for the reason.
    pub(crate) fn offer(&mut self, ui: &mut Ui, session: &mut Session, finding: &Finding, indent: f32) {
        let key = (finding.rule, finding.piece.clone());
        let about = if finding.piece.is_empty() {
            finding.what.clone()
        } else {
            format!("{}: {}", finding.piece, finding.what)
        };
        let id = Id::unique("silence").with((finding.rule, &finding.piece));
        ui.horizontal(|ui| {
            ui.add_space(indent);
            if self.of.as_ref() != Some(&key) {
                let button = Button::new(RichText::new("Silence…").font(theme::plain(12.0)))
                    .min_size(Vec2::new(70.0, theme::TARGET));
                let response = ui
                    .add(button)
                    .on_hover_text("Put it away, with a reason that is saved and printed");
                let words = format!("Silence {about}");
                response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
                if is_clicked(&response) {
                    self.of = Some(key);
                    ui.memory_mut(|memory| memory.request_focus(id));
                }
                return;
            }
            ui.label("Reason");
            let field = TextField {
                id,
                label: "Reason to silence it",
                value: Some(""),
                width: (ui.available_width() - 20.0).clamp(120.0, 420.0),
                hint: "Enter silences it; without a reason it stands",
            };
            if let Some(reason) = field.show(ui).change {
                silence(ui, session, (finding.rule, &finding.piece), &reason, &about);
                self.of = None;
            } else if ui.input(|input| input.key_pressed(egui::Key::Escape)) {
                self.of = None;
            }
        });
    }
}

/// Silences a finding for a reason; without one it speaks again.
fn silence(ui: &Ui, session: &mut Session, (rule, piece): (&str, &str), reason: &str, about: &str) {
    let mut job = session.document.settled().job.clone();
    job.silence(rule, piece, reason);
    let verb = if reason.trim().is_empty() {
        "Let speak"
    } else {
        "Silence"
    };
    let edit = Edit::Job {
        words: format!("{verb}: {about}"),
        job: Box::new(job),
    };
    entry::apply(ui, session, Id::unique("silence").with((rule, piece)), &edit, "");
}

/// Lists what is silenced, each with its reason.
pub(crate) fn list(ui: &mut Ui, session: &mut Session, silenced: &[(Finding, String)]) {
    if silenced.is_empty() {
        return;
    }
    let quiet = theme::of(ui).quiet;
    ui.add_space(4.0);
    let head = format!(
        "Silenced, {}. Put away with a reason; they are printed all the same.",
        silenced.len()
    );
    ui.label(RichText::new(head).font(theme::heavy(12.5)).color(quiet));
    for (finding, reason) in silenced {
        ui.horizontal_wrapped(|ui| {
            ui.add_space(26.0);
            let about = if finding.piece.is_empty() {
                String::new()
            } else {
                format!("{}: ", finding.piece)
            };
            ui.label(RichText::new(format!("{about}{}.", finding.what)).font(theme::plain(13.0)));
            ui.label(
                RichText::new(format!("Reason: {reason}"))
                    .font(theme::plain(13.0))
                    .color(quiet),
            );
            let response = ui.add(
                Button::new(RichText::new("Let it speak").font(theme::plain(12.0)))
                    .min_size(Vec2::new(70.0, theme::TARGET)),
            );
            let words = format!("Let speak {about}{}", finding.what);
            response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &words));
            if is_clicked(&response) {
                silence(ui, session, (finding.rule, &finding.piece), "", &finding.what);
            }
        });
    }
}

/// Lists what could not be judged.
pub(crate) fn list_unknown(ui: &mut Ui, unknown: &[Unknown]) {
    if unknown.is_empty() {
        return;
    }
    let quiet = theme::of(ui).quiet;
    ui.add_space(4.0);
    let head = format!("Not judged, {}. Unknown is not fine.", unknown.len());
    ui.label(RichText::new(head).font(theme::heavy(12.5)).color(quiet));
    for entry in unknown {
        let of = if entry.piece.is_empty() {
            String::new()
        } else {
            format!(" of {}", entry.piece)
        };
        let words = format!("{}{of}: {}", crate::app::field::sentence(entry.about), entry.why);
        ui.horizontal_top(|ui| {
            ui.add_space(26.0);
            ui.add(egui::Label::new(RichText::new(words).font(theme::plain(12.5)).color(quiet)).wrap());
        });
    }
}
