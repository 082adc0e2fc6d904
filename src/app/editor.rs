//! Drawing and editing on the bench: what is in hand, what is held, what is asked and written there.
//!
//! Of all this at most one thing goes on at a time. Everything that it changes goes through the document, as a preview
//! while it is under way and as one step when it is done.

mod deeds;
mod pointer;

use super::catch::Frame;
use super::clip::Clip;
use super::deed::{Deed, Item};
use super::grip::Grip;
use super::handle_marks;
use super::handles::{self, Handle};
use super::joining::{Joined, Joining};
use super::names::{self, Renaming, Written};
use super::piece_menu::PieceMenu;
use super::placing::{self, Hand, Outcome};
use super::readout::{Fate, Readout};
use super::removal::{Removal, Said};
use super::scene::Scene;
use super::session::Session;
use super::view::Placed;
use egui::{CursorIcon, Event, Key, Modifiers, PointerButton, Pos2, Rect, Ui};

/// The state of drawing and editing.
#[derive(Default)]
pub(crate) struct Editor {
    hand: Option<Hand>,
    grip: Option<Grip>,
    readout: Option<Readout>,
    frame: Option<Frame>,
    removal: Option<Removal>,
    renaming: Option<Renaming>,
    menu: Option<PieceMenu>,
    joining: Option<Joining>,
    clip: Option<Clip>,
    /// A paste was asked for by a menu; the clipboard's answer is awaited for this many frames.
    awaiting_paste: Option<u8>,
    /// Words of the nudge under way while its key is held.
    nudge: Option<String>,
    /// A reason to be shown at the foot of the window.
    notice: Option<String>,
    /// Names as they were drawn last.
    names: Vec<(String, Rect)>,
    /// The bench as it was seen last.
    seen: Option<(Rect, Placed)>,
    /// A piece that is to have the focus from the next frame on.
    focus: Option<String>,
    /// A new piece that is to be seen.
    look: Option<String>,
}

impl Editor {
    /// A reason that has come up since it was asked last.
    pub(crate) fn take_notice(&mut self) -> Option<String> {
        self.notice.take()
    }

    /// Whether a question stands on the bench that must be answered first.
    pub(crate) fn is_asking(&self) -> bool {
        self.removal.is_some() || self.joining.is_some()
    }

    /// What is in hand.
    pub(crate) fn in_hand(&self) -> Option<Item> {
        self.hand.as_ref().map(Hand::item)
    }

    /// Takes an item in hand.
    pub(crate) fn take(&mut self, item: Item, carried: bool) {
        self.drop_all();
        self.hand = Some(Hand::new(item, carried));
    }

    /// Puts an item where there is room; what can't be put so is told.
    pub(crate) fn put(&mut self, session: &mut Session, item: Item) {
        self.drop_all();
        if item == Item::Bridge && session.selection.names().len() != 2 {
            self.joining = Some(Joining::begin(session));
            return;
        }
        match placing::put_unseen(session, item) {
            Ok(names) => self.choose(session, names),
            Err(reason) => self.notice = Some(format!("{reason}.")),
        }
    }

    /// Selects what is new, and gives it the focus, so that the arrow keys move it at once.
    fn choose(&mut self, session: &mut Session, names: Vec<String>) {
        self.focus = names.first().cloned();
        self.look = names.last().cloned();
        session.selection.set(names.into_iter().take(1));
    }

    /// The piece that is to have the focus now.
    pub(crate) fn take_focus(&mut self) -> Option<String> {
        self.focus.take()
    }

    /// A new piece that was put without a pointer and may lie outside of what is seen, once it stands.
    pub(crate) fn take_look(&mut self, scene: &Scene) -> Option<usize> {
        let index = self.look.as_ref().and_then(|name| scene.placed.index(name))?;
        self.look = None;
        Some(index)
    }

    fn drop_all(&mut self) {
        self.hand = None;
        self.readout = None;
        self.renaming = None;
        self.removal = None;
        self.joining = None;
    }

    /// Keys that belong to what goes on, before any command gets them.
    pub(crate) fn take_keys(&mut self, ctx: &egui::Context, session: &mut Session, in_text: bool, in_field: bool) {
        self.settle_nudge(ctx, session);
        if in_text || self.is_asking() {
            return;
        }
        if let Some(hand) = &mut self.hand {
            match hand.take_keys(ctx, session, in_field) {
                Outcome::Held => {}
                Outcome::LetGo => self.hand = None,
                Outcome::Put(names) => {
                    self.hand = None;
                    self.choose(session, names);
                }
                Outcome::Refused if hand.item() == Item::Bridge => {
                    self.hand = None;
                    self.joining = Some(Joining::begin(session));
                }
                Outcome::Refused => {}
            }
            return;
        }
        if in_field {
            return;
        }
        if self.grip.is_some() || self.frame.is_some() {
            let escape = ctx.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
            if escape {
                session.document.abandon();
                self.grip = self.grip.take().map(|_| Grip::GivenUp);
                self.frame = None;
                self.readout = None;
            }
        }
        if let (Some(readout), Some(text)) = (&mut self.readout, typed_number(ctx)) {
            readout.begin(ctx, session, &text);
            self.grip = self.grip.take().map(|_| Grip::GivenUp);
        }
    }

    /// The deed whose key or clipboard event came in this frame, beyond those that have one key.
    pub(crate) fn pressed(ctx: &egui::Context, in_text: bool, in_field: bool) -> Option<(Deed, Option<String>)> {
        if in_text {
            return None;
        }
        ctx.input_mut(|input| {
            let mut found = None;
            input.events.retain(|event| {
                let deed = match event {
                    Event::Copy => (Deed::Copy, None),
                    Event::Cut => (Deed::Cut, None),
                    Event::Paste(text) => (Deed::Paste, Some(text.clone())),
                    _ => return true,
                };
                found = Some(deed);
                false
            });
            let removes = !in_field && input.consume_key(Modifiers::NONE, Key::Backspace);
            let menu = !in_field && input.consume_key(Modifiers::NONE, Key::Menu);
            found
                .or(removes.then_some((Deed::Remove, None)))
                .or(menu.then_some((Deed::Menu, None)))
        })
    }

    /// Where a piece is on the screen: its name, or the middle of its glass.
    fn place_of(&self, session: &Session, name: &str) -> Option<Pos2> {
        let (bench, screen) = self.seen?;
        let placed = session.document.now().place().ok()?;
        let line = &placed.lines[placed.index(name)?];
        let middle = screen.to_screen(line.spot(line.length_mm / 2.0).at);
        names::place_of(&self.names, name, Some(middle.clamp(bench.min, bench.max)))
    }

    /// The pointer's look over the bench while something goes on.
    pub(crate) fn cursor(&self) -> Option<CursorIcon> {
        if self.hand.is_some() {
            return Some(CursorIcon::Crosshair);
        }
        match self.grip {
            Some(Grip::Pieces { .. } | Grip::Handle { .. }) => Some(CursorIcon::Grabbing),
            _ => self.frame.is_some().then_some(CursorIcon::Crosshair),
        }
    }

    /// Shows what goes on, over the glass. `names` are where names were drawn, and `taken` where other texts stand.
    pub(crate) fn show(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        scene: &Scene,
        screen: Placed,
        bench: Rect,
        (names, taken): (Vec<(String, Rect)>, &[Rect]),
    ) {
        self.names = names;
        let has_handles = self.hand.is_none() && !self.is_asking();
        let handles = if has_handles {
            handles_of(session, scene, screen)
        } else {
            Vec::new()
        };
        let marks = handles.iter().map(|handle| handle_marks::room(handle.at(screen)));
        let taken: Vec<Rect> = taken.iter().copied().chain(marks).collect();
        names::paint_selected(ui, session, &scene.placed, screen, (bench, &taken), &mut self.names);
        self.seen = Some((bench, screen));
        if let Some(hand) = &mut self.hand {
            let pointer = ui
                .input(|input| input.pointer.latest_pos())
                .filter(|at| bench.contains(*at));
            hand.paint(ui, screen, bench, pointer);
        } else if let Some(name) = session.selection.shown() {
            let clear = middle_of(scene, screen, name);
            for handle in &handles {
                self.show_handle(ui, session, (handle, clear), screen, bench);
            }
        }
        if let Some(frame) = &self.frame {
            frame.paint(ui, bench);
        }
        let shown = session.selection.shown();
        if self.grip.is_none() && self.readout.as_ref().is_some_and(|readout| !readout.is_of(shown)) {
            self.readout = None;
        }
        if let Some(readout) = &mut self.readout
            && readout.show(ui, session, bench, self.grip.is_some()) == Fate::Over
        {
            self.readout = None;
        }
        self.show_questions(ui, session, scene, screen, bench);
        if let Some(menu) = &mut self.menu {
            let (chosen, open) = menu.show(ui, session);
            if !open || chosen.is_some() {
                self.menu = None;
            }
            if let Some(deed) = chosen {
                self.carry_out(&ui.ctx().clone(), session, deed, None);
            }
        }
        self.settle_nudge(&ui.ctx().clone(), session);
    }

    fn show_questions(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene, screen: Placed, bench: Rect) {
        if let Some(mut renaming) = self.renaming.take() {
            let at = session.selection.shown().and_then(|name| self.place_of(session, name));
            match renaming.show(ui, session, bench, at.unwrap_or(bench.center())) {
                Written::Not => self.renaming = Some(renaming),
                Written::Over(reason) => self.notice = reason.or(self.notice.take()),
            }
        }
        if let Some(mut removal) = self.removal.take() {
            match removal.show(ui, session, scene, screen, bench) {
                Said::Nothing => self.removal = Some(removal),
                Said::Leave => {}
                Said::Remove => {
                    if let Err(reason) = removal.carry_out(session) {
                        self.notice = Some(reason);
                    }
                }
            }
        }
        if let Some(mut joining) = self.joining.take() {
            match joining.show(ui.ctx(), session) {
                Joined::Not => self.joining = Some(joining),
                Joined::Left => {}
                Joined::Put(names) => self.choose(session, names),
            }
        }
    }

    fn show_handle(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        (handle, clear): (&Handle, Option<Pos2>),
        screen: Placed,
        bench: Rect,
    ) {
        let now = session.document.now();
        let numbers: Vec<_> = handle
            .measures()
            .filter_map(|measure| Some((measure, measure.read(now)?)))
            .collect();
        let parameters: Vec<_> = numbers.iter().map(|(_, parameter)| parameter.clone()).collect();
        let is_held = matches!(&self.grip, Some(Grip::Handle { handle: held, .. }) if held.measure == handle.measure);
        let Some(mark) = handle_marks::show(
            ui,
            handle,
            (&parameters, session.length_unit),
            screen,
            bench,
            is_held,
            self.readout.is_some(),
        ) else {
            return;
        };
        let response = mark.response;
        if response.drag_started_by(PointerButton::Primary)
            && let Some(origin) = ui.input(|input| input.pointer.press_origin())
        {
            self.hold(
                Some(Grip::handle(handle, screen.to_world(origin))),
                session,
                origin,
                clear,
            );
        }
        let is_held = matches!(&self.grip, Some(Grip::Handle { handle: held, .. }) if held.measure == handle.measure);
        if (is_held || matches!(self.grip, Some(Grip::GivenUp)))
            && let Some(at) = response.interact_pointer_pos()
        {
            self.pull(&response.ctx, session, screen, at);
            if response.drag_stopped() {
                self.let_go(session);
            }
        }
        if response.clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            let measures = handle.measures().cloned().collect();
            let mut readout = Readout::new(session, measures, at, clear);
            readout.open(session);
            self.readout = Some(readout);
        }
        if let Some((index, asked)) = mark.asked
            && let Some((measure, parameter)) = numbers.get(index)
        {
            let value = parameter.limit.nearest(asked);
            let words = measure.words(session.document.now(), value, session.length_unit);
            match session.document.settled().apply(&measure.edit(value)) {
                Ok(next) => session.document.change(&words, next),
                Err(error) => self.notice = Some(handles::refusal(&error, session.length_unit)),
            }
        }
    }
}

/// The handles of what is selected. Several pieces have none, but for the members of one row, which go together.
fn handles_of(session: &Session, scene: &Scene, screen: Placed) -> Vec<Handle> {
    let apparatus = session.document.now();
    let Some(name) = session.selection.shown() else {
        return Vec::new();
    };
    let owner = apparatus.owner(name);
    let others = session.selection.names();
    if others.len() > 1 && others.iter().any(|other| apparatus.owner(other) != owner) {
        return Vec::new();
    }
    handles::of(apparatus, &scene.placed, name, 1.0 / screen.scale())
}

/// The middle of a piece on the screen.
fn middle_of(scene: &Scene, screen: Placed, name: &str) -> Option<Pos2> {
    let line = &scene.placed.lines[scene.placed.index(name)?];
    Some(screen.to_screen(line.spot(line.length_mm / 2.0).at))
}

/// Figures that were typed in this frame; they are taken out of the input.
fn typed_number(ctx: &egui::Context) -> Option<String> {
    ctx.input_mut(|input| {
        let is_number =
            |text: &str| !text.is_empty() && text.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',');
        let mut typed = String::new();
        input.events.retain(|event| match event {
            Event::Text(text) if is_number(text) => {
                typed.push_str(text);
                false
            }
            _ => true,
        });
        (!typed.is_empty()).then_some(typed)
    })
}
