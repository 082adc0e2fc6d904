//! What commands do to the pieces.

use super::super::clip::{self, Clip};
use super::super::deed::{Deed, Stride, Way};
use super::super::handles;
use super::super::names::Renaming;
use super::super::piece_menu::PieceMenu;
use super::super::removal;
use super::super::session::Session;
use super::super::shift;
use super::Editor;
use crate::model::Edit;
use crate::model::place::Point;

impl Editor {
    /// Does a deed; `text` is what the clipboard holds, when it came with it.
    pub(crate) fn carry_out(&mut self, ctx: &egui::Context, session: &mut Session, deed: Deed, text: Option<String>) {
        if !deed.is_possible(session) {
            return;
        }
        self.keep_nudge(session, deed);
        self.notice = None;
        let outcome = match deed {
            Deed::Take(item) => {
                self.take(item, false);
                Ok(())
            }
            Deed::SelectAll => {
                let names = session.document.now().names();
                session.selection.set(names);
                Ok(())
            }
            Deed::SelectNext => self.step(session, 1),
            Deed::SelectPrevious => self.step(session, -1),
            Deed::SelectRow => {
                let row = session
                    .selection
                    .shown()
                    .and_then(|name| session.document.now().member(name));
                let names: Vec<String> = row.map(|(row, _)| row.member_names().collect()).unwrap_or_default();
                session.selection.set(names);
                Ok(())
            }
            Deed::Copy | Deed::Cut => self.copy(ctx, session, deed == Deed::Cut),
            Deed::Paste => match text {
                Some(text) => {
                    self.awaiting_paste = None;
                    clip::paste(session, self.clip.as_ref(), Some(&text))
                }
                None => {
                    // The clipboard is asked; its answer comes as an event.
                    ctx.send_viewport_cmd(egui::ViewportCommand::RequestPaste);
                    ctx.request_repaint();
                    self.awaiting_paste = Some(2);
                    Ok(())
                }
            },
            Deed::Duplicate => clip::duplicate(session),
            Deed::Mirror => {
                let edit = Edit::MirrorPieces(shift::roots(session.document.settled(), session.selection.names()));
                change(session, &edit)
            }
            Deed::MirrorDrawing => change(session, &Edit::Mirror),
            Deed::Remove => match removal::begin(session) {
                Ok(removal) => {
                    self.drop_all();
                    self.removal = removal;
                    Ok(())
                }
                Err(reason) => Err(reason),
            },
            Deed::Rename => {
                let name = session.selection.shown().map(str::to_owned);
                self.drop_all();
                self.renaming = name.and_then(|name| Renaming::begin(session, &name));
                Ok(())
            }
            Deed::Shift(way, stride) => self.nudge(session, way, stride),
            Deed::Turn(anticlockwise, stride) => {
                let step = if stride == Stride::Fine { 1.0 } else { 15.0 };
                let deg = if anticlockwise { step } else { -step };
                shift::turned(session.document.settled(), session.selection.names(), deg)
                    .map_err(|error| error.words(session.length_unit))
                    .map(|moved| session.document.change(&moved.words, moved.next))
            }
            Deed::Menu => {
                let at = session.selection.shown().and_then(|name| self.place_of(session, name));
                self.menu = at.map(|at| PieceMenu::open(ctx, at, true));
                Ok(())
            }
        };
        match outcome {
            // What was said of something else goes.
            Ok(()) => _ = self.notice.get_or_insert_default(),
            Err(reason) => self.notice = Some(reason),
        }
        session.check_selection();
    }

    /// What the clipboard answered to a paste by the menu; nothing means that it can't be read here.
    pub(crate) fn await_paste(&mut self, session: &mut Session) {
        match self.awaiting_paste {
            Some(0) => {
                self.awaiting_paste = None;
                if let Err(reason) = clip::paste(session, self.clip.as_ref(), None) {
                    self.notice = Some(reason);
                }
            }
            Some(frames) => self.awaiting_paste = Some(frames - 1),
            None => {}
        }
    }

    /// Whether the clipboard's answer is still awaited, so that another frame is needed.
    pub(crate) fn is_waiting(&self) -> bool {
        self.awaiting_paste.is_some()
    }

    fn copy(&mut self, ctx: &egui::Context, session: &mut Session, and_remove: bool) -> Result<(), String> {
        let (clip, text) = clip::copy(session).ok_or_else(|| "Select the pieces to copy first.".to_owned())?;
        ctx.copy_text(text);
        self.clip = Some(clip);
        if !and_remove {
            return Ok(());
        }
        let names = session.selection.names().to_vec();
        let edit = Edit::Remove(names.clone());
        let settled = session.document.settled();
        let next = settled
            .apply(&edit)
            .map_err(|error| handles::refusal(&error, session.length_unit))?;
        let words = match names.as_slice() {
            [name] => format!("Cut {name}"),
            names => format!("Cut {} pieces", names.len()),
        };
        let lost = settled.removed_with(&names).len() - self.clip.as_ref().map_or(0, Clip::count);
        if lost > 0 {
            let what = if lost == 1 {
                "1 piece"
            } else {
                &format!("{lost} pieces")
            };
            self.notice = Some(format!(
                "{what} joined to others went without a copy. Undo brings all back."
            ));
        }
        session.document.change(&words, next);
        session.selection.clear();
        Ok(())
    }

    /// Goes from piece to piece.
    fn step(&mut self, session: &mut Session, by: isize) -> Result<(), String> {
        let names = session.document.now().names();
        let present = session
            .selection
            .shown()
            .and_then(|shown| names.iter().position(|name| name == shown));
        let count = isize::try_from(names.len()).unwrap_or(isize::MAX).max(1);
        let next = match present.and_then(|i| isize::try_from(i).ok()) {
            Some(i) => (i + by).rem_euclid(count),
            None if by > 0 => 0,
            None => count - 1,
        };
        if let Some(name) = usize::try_from(next).ok().and_then(|i| names.get(i)) {
            session.selection.only(name);
        }
        Ok(())
    }

    fn nudge(&mut self, session: &mut Session, way: Way, stride: Stride) -> Result<(), String> {
        let tilt = session.stance.tilt_deg.to_radians();
        let arrow = match way {
            Way::Left => Point::new(-1.0, 0.0),
            Way::Right => Point::new(1.0, 0.0),
            Way::Up => Point::new(0.0, 1.0),
            Way::Down => Point::new(0.0, -1.0),
        };
        // The arrow on the drawing, which is turned by the tilt.
        let (sin, cos) = tilt.sin_cos();
        let arrow = Point::new(arrow.x * cos + arrow.y * sin, arrow.y * cos - arrow.x * sin);
        let moved = shift::nudged(
            session.document.now(),
            session.selection.names(),
            arrow,
            stride.mm(),
            session.length_unit,
        )
        .map_err(|error| error.words(session.length_unit))?;
        session.document.preview(moved.next);
        self.nudge = Some(moved.words);
        Ok(())
    }

    /// A nudge ends as one step when its key is let go.
    pub(super) fn settle_nudge(&mut self, ctx: &egui::Context, session: &mut Session) {
        let held = ctx.input(|input| Way::ALL.iter().any(|way| input.key_down(way.key())));
        if !held && let Some(words) = self.nudge.take() {
            session.document.keep(&words);
        }
    }

    /// Anything else that is done ends the nudge first.
    fn keep_nudge(&mut self, session: &mut Session, deed: Deed) {
        if !matches!(deed, Deed::Shift(..))
            && let Some(words) = self.nudge.take()
        {
            session.document.keep(&words);
        }
    }
}

/// Makes a change that stands by itself.
fn change(session: &mut Session, edit: &Edit) -> Result<(), String> {
    let next = session
        .document
        .settled()
        .apply(edit)
        .map_err(|error| handles::refusal(&error, session.length_unit))?;
    session.document.change(&edit.words(), next);
    Ok(())
}
