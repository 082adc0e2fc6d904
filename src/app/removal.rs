//! Asking before what sits on a piece goes with it: everything that would go is shown on the bench.

use super::ghost::Ghost;
use super::scene::Scene;
use super::session::Session;
use super::theme;
use super::view::Placed;
use crate::model::Edit;
use egui::{Align2, Area, Button, Frame, Id, Key, Margin, Modifiers, Order, Rect, RichText, Stroke, Ui, vec2};

/// A removal that waits for a word.
pub(crate) struct Removal {
    names: Vec<String>,
    /// Everything that goes, by name.
    goes: Vec<String>,
    revision: u64,
    ghost: Option<(f64, Ghost)>,
    fresh: bool,
}

/// What the user said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Said {
    /// Nothing yet.
    Nothing,
    /// To remove.
    Remove,
    /// To leave everything.
    Leave,
}

/// Removes what is selected when nothing else goes with it; else gives the question to ask.
pub(crate) fn begin(session: &mut Session) -> Result<Option<Removal>, String> {
    let names = session.selection.names().to_vec();
    let goes = session.document.now().removed_with(&names);
    let removal = Removal {
        revision: session.document.revision(),
        ghost: None,
        fresh: true,
        names,
        goes,
    };
    if removal.guests() == 0 {
        removal.carry_out(session)?;
        return Ok(None);
    }
    Ok(Some(removal))
}

impl Removal {
    /// How many pieces go along that are not selected.
    fn guests(&self) -> usize {
        self.goes.len() - self.goes.iter().filter(|name| self.names.contains(name)).count()
    }

    fn words(&self) -> String {
        let what = match self.names.as_slice() {
            [name] => name.clone(),
            names => format!("{} pieces", names.len()),
        };
        let (guests, sits) = match self.guests() {
            1 => ("1 piece".to_owned(), "sits"),
            n => (format!("{n} pieces"), "sit"),
        };
        let it = if self.names.len() == 1 { "it" } else { "them" };
        format!("Remove {what} and {guests} that {sits} on {it}?")
    }

    /// Removes.
    pub(crate) fn carry_out(&self, session: &mut Session) -> Result<(), String> {
        let edit = Edit::Remove(self.names.clone());
        let next = session
            .document
            .settled()
            .apply(&edit)
            .map_err(|error| super::handles::refusal(&error, session.length_unit))?;
        session.document.change(&edit.words(), next);
        session.selection.clear();
        Ok(())
    }

    /// Draws what would go, asks, and gives the answer.
    pub(crate) fn show(&mut self, ui: &Ui, session: &Session, scene: &Scene, screen: Placed, bench: Rect) -> Said {
        if session.document.revision() != self.revision {
            return Said::Leave;
        }
        self.paint(ui, scene, screen, bench);
        let colours = theme::of(ui);
        let ctx = ui.ctx().clone();
        let escape = ctx.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        let mut said = if escape { Said::Leave } else { Said::Nothing };
        let at = bench.center_bottom() - vec2(0.0, 56.0);
        Area::new(Id::unique("removal"))
            .order(Order::Foreground)
            .pivot(Align2::CENTER_BOTTOM)
            .fixed_pos(at)
            .constrain_to(bench)
            .show(&ctx, |ui| {
                let frame = Frame::popup(ui.style())
                    .stroke(Stroke::new(2.0, colours.stop))
                    .inner_margin(Margin::symmetric(14, 10));
                frame.show(ui, |ui| {
                    ui.label(RichText::new(self.words()).font(theme::heavy(14.0)));
                    ui.label(
                        RichText::new("What goes is crossed out on the bench. Undo brings it back.")
                            .color(colours.quiet),
                    );
                    ui.add_space(4.0);
                    ui.horizontal(|ui| {
                        let text = RichText::new("Remove").color(colours.stop);
                        let remove = ui.add(Button::new(text).stroke(Stroke::new(1.5, colours.stop)));
                        if std::mem::take(&mut self.fresh) {
                            remove.request_focus();
                        }
                        if remove.clicked() {
                            said = Said::Remove;
                        }
                        if ui.button("Leave").clicked() {
                            said = Said::Leave;
                        }
                    });
                });
            });
        said
    }

    /// Outlines in the colour of a stop, and each piece crossed out, so that colour is not all that tells.
    fn paint(&mut self, ui: &Ui, scene: &Scene, screen: Placed, bench: Rect) {
        let colours = theme::of(ui);
        let painter = ui.painter_at(bench);
        let goes: Vec<usize> = (0..scene.drawing.pieces.len())
            .filter(|i| self.goes.contains(&scene.drawing.pieces[*i]))
            .collect();
        let kept = self.ghost.take().filter(|(scale, _)| *scale == screen.scale());
        let (_, ghost) = self.ghost.insert(kept.unwrap_or_else(|| {
            let glass = goes.iter().filter_map(|i| scene.drawing.glass.get(*i));
            (screen.scale(), Ghost::from_glass(glass, screen.scale()))
        }));
        ghost.stroke(&painter, &screen, 1.5, colours.stop);
        for glass in goes.iter().filter_map(|i| scene.drawing.glass.get(*i)) {
            let line = glass.centreline.points(0.5 / screen.scale());
            let Some(middle) = middle_of(&line) else { continue };
            let at = screen.to_screen(middle);
            for (from, to) in [(vec2(-6.0, -6.0), vec2(6.0, 6.0)), (vec2(-6.0, 6.0), vec2(6.0, -6.0))] {
                painter.line_segment([at + from, at + to], Stroke::new(5.0, colours.bench));
                painter.line_segment([at + from, at + to], Stroke::new(2.5, colours.stop));
            }
        }
    }
}

/// The point halfway along a line.
fn middle_of(line: &[nalgebra::Vector2<f64>]) -> Option<nalgebra::Vector2<f64>> {
    let lengths = || line.windows(2).map(|pair| (pair[1] - pair[0]).norm());
    let mut rest = lengths().sum::<f64>() / 2.0;
    for (pair, length) in line.windows(2).zip(lengths()) {
        if rest <= length && length > 0.0 {
            return Some(pair[0] + (pair[1] - pair[0]) * (rest / length));
        }
        rest -= length;
    }
    line.first().copied()
}
