//! The strip at the foot of the window: the stance as numbers, the count of findings, and what there is to say.

use super::Window;
use super::field::{self, Change, Field};
use super::findings_list;
use super::notice::Notice;
use super::reading::Reading;
use super::shelf::{self, Page};
use super::theme;
use crate::geom::Stance;
use crate::units::{self, Quantity};
use egui::{Id, RichText, Ui};

impl Window {
    /// Says something at the foot of the window.
    pub(super) fn say(&mut self, text: String) {
        self.notice = Some(Notice {
            text,
            is_refusal: false,
            can_go: true,
        });
        self.said_at = self.session.document.revision();
    }

    /// Says why something was not done.
    pub(super) fn refuse(&mut self, text: String) {
        self.notice = Some(Notice {
            text,
            is_refusal: true,
            can_go: true,
        });
    }

    /// Shows what the editing has to say at the foot of the window.
    pub(super) fn take_notice(&mut self) {
        match self.bench.editor.take_notice() {
            Some(text) if text.is_empty() => self.notice = None,
            Some(text) => self.refuse(text),
            None => {}
        }
    }

    /// The strip under the bench: the stance as numbers, and the last message. A message that is too long for it
    /// is given back.
    pub(super) fn strip(&mut self, ui: &mut Ui) -> Option<Notice> {
        let mut over = None;
        ui.horizontal_centered(|ui| {
            let Stance { tilt_deg, roll_deg } = self.session.stance;
            for (label, value, range) in [("Tilt", tilt_deg, (-180.0, 180.0)), ("Roll", roll_deg, (-90.0, 90.0))] {
                ui.label(label);
                let id = Id::unique("stance").with(label);
                let field = Field {
                    id,
                    label,
                    value,
                    unit: "°",
                    digits: 1,
                    step: 1.0,
                    range,
                };
                let parse = |text: &str| units::parse(text, Quantity::Angle).map_err(|error| error.to_string());
                match field.show(ui, parse) {
                    Some(Change::Set(asked)) if !(range.0..=range.1).contains(&asked) => {
                        let reason =
                            format!("{label} must lie between {}° and {}°.", range.0, range.1).replace('-', "−");
                        field::answer(ui, id, Some(reason), asked, value);
                    }
                    Some(Change::Set(asked) | Change::Preview(asked)) => {
                        field::forget(ui, id);
                        if label == "Tilt" {
                            self.session.tilt_to(asked)
                        } else {
                            self.session.roll_to(asked)
                        }
                    }
                    Some(Change::Keep) | None => {}
                }
                if let Some(refusal) = field::refusal(ui, id, value) {
                    ui.label(RichText::new(refusal).color(theme::of(ui).stop));
                }
            }
            if ui.button("As drawn").clicked() {
                self.session.stance = Stance::default();
            }
            if ui.button("Fit").clicked() {
                self.bench.fit();
            }
            let findings = match &self.scene {
                Some((_, scene)) => &self.job.review(&self.session, scene).findings[..],
                None => &[],
            };
            let is_open = Reading::of(ui.ctx()).shelf == Page::Findings;
            if findings_list::show_count(ui, findings, is_open) {
                shelf::toggle(ui.ctx(), Page::Findings);
            }
            match self.message() {
                Some(message) if !message.fits(ui) => over = Some(message),
                Some(message) if message.show(ui) => self.notice = None,
                _ => {}
            }
        });
        over
    }

    /// What there is to say.
    fn message(&mut self) -> Option<Notice> {
        if let Some(problem) = self.scene.as_ref().and_then(|(_, scene)| scene.problem.clone()) {
            return Some(Notice {
                text: problem,
                is_refusal: true,
                can_go: false,
            });
        }
        let is_past = self.said_at != self.session.document.revision();
        if is_past && self.notice.as_ref().is_some_and(|notice| !notice.is_refusal) {
            self.notice = None;
        }
        self.notice.clone()
    }
}
