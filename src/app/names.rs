//! Names on the bench: where they stand, and writing another one in their place.

use super::session::Session;
use super::tag;
use super::theme;
use super::view::Placed;
use crate::model::place::direction;
use crate::model::{Edit, Form};
use egui::{Align2, Id, Key, Pos2, Rect, RichText, TextEdit, Ui, UiBuilder, vec2};

/// A name that is being written anew.
pub(crate) struct Renaming {
    /// The piece or row.
    owner: String,
    text: String,
    refusal: Option<String>,
    fresh: bool,
}

/// What became of a renaming in a frame.
#[derive(Debug, PartialEq)]
pub(crate) enum Written {
    /// It goes on.
    Not,
    /// It is over, with the reason when the name was not taken.
    Over(Option<String>),
}

impl Renaming {
    /// Begins to rename a piece, or the row of a member.
    pub(crate) fn begin(session: &Session, name: &str) -> Option<Self> {
        let owner = session.document.now().owner(name).ok()?;
        Some(Self {
            text: owner.clone(),
            owner,
            refusal: None,
            fresh: true,
        })
    }

    /// Shows the field at `at`, and takes the name on Enter.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, bench: Rect, at: Pos2) -> Written {
        if session.document.now().owner(&self.owner).is_err() {
            return Written::Over(None);
        }
        let colours = theme::of(ui);
        let is_row = session.document.now().row(&self.owner).is_some();
        let caption = if is_row { "Name of the row" } else { "Name" };
        let lines = if self.refusal.is_some() { 2.0 } else { 0.0 };
        let size = vec2(196.0, 58.0 + 17.0 * lines);
        // The text stands where the name stood.
        let rect = tag::within(bench, at - vec2(16.0, 40.0), size);
        tag::sheet(ui, rect);
        let mut ui = ui.new_child(UiBuilder::new().max_rect(rect.shrink2(vec2(8.0, 6.0))));
        let id = Id::unique("rename");
        let label = ui.label(RichText::new(caption).size(11.5).color(colours.quiet));
        let edit = TextEdit::singleline(&mut self.text)
            .id(id)
            .font(theme::heavy(13.5))
            .min_size(vec2(180.0, theme::TARGET))
            .desired_width(164.0);
        let response = ui.add(edit).labelled_by(label.id);
        if std::mem::take(&mut self.fresh) {
            response.request_focus();
            super::field::select_all(&ui, id, self.text.chars().count());
            return Written::Not;
        }
        if response.changed() {
            self.refusal = None;
        }
        if let Some(refusal) = &self.refusal {
            ui.label(RichText::new(refusal).font(theme::plain(12.0)).color(colours.stop));
        }
        let (enter, escape) = ui.input(|input| (input.key_pressed(Key::Enter), input.key_pressed(Key::Escape)));
        if escape {
            return Written::Over(None);
        }
        if !response.lost_focus() {
            return Written::Not;
        }
        match self.take(session) {
            Ok(()) => Written::Over(None),
            Err(reason) if enter => {
                self.refusal = Some(reason);
                response.request_focus();
                Written::Not
            }
            Err(reason) => Written::Over(Some(format!("{} keeps its name. {reason}", self.owner))),
        }
    }

    fn take(&self, session: &mut Session) -> Result<(), String> {
        let to = self.text.trim();
        if to == self.owner {
            return Ok(());
        }
        let edit = Edit::Rename {
            from: self.owner.clone(),
            to: to.to_owned(),
        };
        let settled = session.document.settled();
        let next = settled
            .apply(&edit)
            .map_err(|error| super::handles::refusal(&error, session.length_unit))?;
        let (old, new) = (settled.names(), next.names());
        let follow = |name: &String| match old.iter().position(|other| other == name) {
            Some(i) => new.get(i).cloned().unwrap_or_else(|| name.clone()),
            None => name.clone(),
        };
        let selected: Vec<String> = session.selection.names().iter().map(follow).collect();
        session.document.change(&edit.words(), next);
        session.selection.set(selected);
        Ok(())
    }
}

/// Writes the names of the selected pieces that have none on the bench, beside the middle of their glass.
pub(crate) fn paint_selected(
    ui: &Ui,
    session: &Session,
    placed: &crate::model::place::Placed,
    screen: Placed,
    bench: Rect,
    names: &mut Vec<(String, Rect)>,
) {
    let colours = theme::of(ui);
    let painter = ui.painter_at(bench);
    for name in session.selection.names() {
        let index = placed
            .index(name)
            .filter(|_| names.iter().all(|(other, _)| other != name));
        let Some(index) = index else { continue };
        let (line, half) = (&placed.lines[index], placed.pieces[index].form.greatest_od_mm() / 2.0);
        let spot = line.spot(line.length_mm / 2.0);
        // The handle of a bridge's crossbar stands on the other side.
        let is_bridge = matches!(placed.pieces[index].form, Form::Bridge(_));
        let out = direction(spot.heading_deg + if is_bridge { -90.0 } else { 90.0 });
        let at = screen.to_screen(spot.at + out * half);
        let away = (screen.to_screen(spot.at + out * (half + 1.0)) - at).normalized();
        let galley = painter.layout_no_wrap(name.clone(), theme::heavy(12.5), colours.accent);
        let reach = 8.0 + galley.size().x / 2.0 * away.x.abs() + galley.size().y / 2.0 * away.y.abs();
        let rect = Align2::CENTER_CENTER.anchor_size(at + away * reach, galley.size());
        if bench.contains_rect(rect) {
            painter.rect_filled(rect.expand2(vec2(3.0, 0.0)), 3.0, colours.bench.gamma_multiply(0.85));
            painter.galley(rect.min, galley, colours.accent);
            names.push((name.clone(), rect));
        }
    }
}

/// Where the name of a piece begins on the screen, from where the names were drawn; `otherwise` when it was not.
pub(crate) fn place_of(names: &[(String, Rect)], name: &str, otherwise: Option<Pos2>) -> Option<Pos2> {
    let drawn = names.iter().find(|(other, _)| other == name);
    drawn.map(|(_, rect)| rect.left_center()).or(otherwise)
}

/// The piece whose name stands at a position.
pub(crate) fn name_at(names: &[(String, Rect)], at: Pos2) -> Option<&str> {
    let hit = |(_, rect): &&(String, Rect)| rect.expand(2.0).contains(at);
    names.iter().find(hit).map(|(name, _)| name.as_str())
}
