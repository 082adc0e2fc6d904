//! Drawing and editing on the bench: what is in hand, what is held, what is asked and written there.
//!
//! Of all this at most one thing goes on at a time. Everything that it changes goes through the document, as a preview
//! while it is under way and as one step when it is done.

use super::catch::Frame;
use super::clip::{self, Clip};
use super::deed::{Deed, Item, Stride, Way};
use super::grip::Grip;
use super::handle_marks;
use super::handles::{self, Handle};
use super::joining::{Joined, Joining};
use super::names::{self, Renaming, Written};
use super::piece_menu::PieceMenu;
use super::placing::{self, Hand, Outcome};
use super::readout::{Fate, Readout};
use super::removal::{self, Removal, Said};
use super::scene::Scene;
use super::session::Session;
use super::shift;
use super::snap::Snap;
use super::view::Placed;
use crate::model::place::Point;
use egui::{CursorIcon, Event, Key, Modifiers, PointerButton, Pos2, Rect, Response, Ui};

/// How near to the glass a press still meets it, points.
const NEAR_POINTS: f64 = 3.0;

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
    pub(crate) fn take_keys(&mut self, ctx: &egui::Context, session: &mut Session, in_field: bool) {
        self.settle_nudge(ctx, session);
        if in_field || self.is_asking() {
            return;
        }
        if let Some(hand) = &mut self.hand {
            let (outcome, let_go) = hand.take_keys(ctx, session);
            if let Outcome::Put(names) = outcome {
                self.hand = None;
                self.choose(session, names);
            } else if let_go {
                self.hand = None;
            }
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

    /// Does a deed; `text` is what the clipboard holds, when it came with it.
    pub(crate) fn carry_out(&mut self, ctx: &egui::Context, session: &mut Session, deed: Deed, text: Option<String>) {
        if !deed.is_possible(session) {
            return;
        }
        self.keep_nudge(session, deed);
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
                Some(text) => clip::paste(session, self.clip.as_ref(), Some(&text)),
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
                let edit = crate::model::Edit::MirrorPieces(shift::roots(
                    session.document.settled(),
                    session.selection.names(),
                ));
                change(session, &edit)
            }
            Deed::MirrorDrawing => change(session, &crate::model::Edit::Mirror),
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
            Ok(()) => self.notice = Some(String::new()),
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
        let edit = crate::model::Edit::Remove(names.clone());
        let settled = session.document.settled();
        let next = settled
            .apply(&edit)
            .map_err(|error| handles::refusal(&error, session.length_unit))?;
        let words = match names.as_slice() {
            [name] => format!("Cut {name}"),
            names => format!("Cut {} pieces", names.len()),
        };
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
        let moved = shift::nudged(session.document.now(), session.selection.names(), arrow, stride.mm())
            .map_err(|error| error.words(session.length_unit))?;
        session.document.preview(moved.next);
        self.nudge = Some(moved.words);
        Ok(())
    }

    /// A nudge ends as one step when its key is let go.
    fn settle_nudge(&mut self, ctx: &egui::Context, session: &mut Session) {
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

    /// Where a piece is on the screen: its name, or the middle of its glass.
    fn place_of(&self, session: &Session, name: &str) -> Option<Pos2> {
        let (bench, screen) = self.seen?;
        let placed = session.document.now().place().ok()?;
        let line = &placed.lines[placed.index(name)?];
        let middle = screen.to_screen(line.spot(line.length_mm / 2.0).at);
        names::place_of(&self.names, name, Some(middle.clamp(bench.min, bench.max)))
    }

    /// Lets the pointer act. `on_rim` tells whether a position lies on the tilt ring. Gives whether the pointer's
    /// click or drag belongs to the editing.
    pub(crate) fn act(
        &mut self,
        response: &Response,
        session: &mut Session,
        scene: &Scene,
        screen: Placed,
        on_rim: impl Fn(Pos2) -> bool,
    ) -> bool {
        if let Some(hand) = &mut self.hand {
            if let Outcome::Put(names) = hand.follow(response, session, scene, screen) {
                let several = response.ctx.input(|input| input.modifiers.shift);
                let item = hand.item();
                self.hand = several.then(|| Hand::new(item, false));
                session.selection.set(names.into_iter().take(1));
            }
            return true;
        }
        if self.removal.is_some() {
            if response.clicked() {
                self.removal = None;
            }
            return true;
        }
        if response.secondary_clicked()
            && let Some(at) = response.interact_pointer_pos()
        {
            self.open_menu(&response.ctx, session, scene, screen, at);
            return true;
        }
        if response.double_clicked()
            && let Some(at) = response.interact_pointer_pos()
            && let Some(name) = names::name_at(&self.names, at).map(str::to_owned)
        {
            session.selection.only(&name);
            self.readout = None;
            self.renaming = Renaming::begin(session, &name);
            return true;
        }
        self.drag(response, session, scene, screen, on_rim)
    }

    fn open_menu(&mut self, ctx: &egui::Context, session: &mut Session, scene: &Scene, screen: Placed, at: Pos2) {
        let name = self.piece_under(scene, screen, at);
        match name {
            Some(name) if !session.selection.contains(&name) => session.selection.only(&name),
            Some(_) => {}
            None => session.selection.clear(),
        }
        self.menu = Some(PieceMenu::open(ctx, at, false));
    }

    /// The piece whose glass or name lies under a position.
    pub(crate) fn piece_under(&self, scene: &Scene, screen: Placed, at: Pos2) -> Option<String> {
        let glass = scene
            .drawing
            .piece_at(screen.to_world(at), NEAR_POINTS / screen.scale());
        glass.or_else(|| names::name_at(&self.names, at)).map(str::to_owned)
    }

    fn drag(
        &mut self,
        response: &Response,
        session: &mut Session,
        scene: &Scene,
        screen: Placed,
        on_rim: impl Fn(Pos2) -> bool,
    ) -> bool {
        let (origin, space, shift) = response.ctx.input(|input| {
            let held = input.key_down(Key::Space);
            (input.pointer.press_origin(), held, input.modifiers.shift)
        });
        if response.drag_started_by(PointerButton::Primary)
            && !space
            && let Some(origin) = origin.filter(|at| !on_rim(*at))
        {
            if shift {
                self.frame = Some(Frame::new(origin));
            } else if let Some(name) = self.piece_under(scene, screen, origin) {
                if !session.selection.contains(&name) {
                    session.selection.only(&name);
                }
                let clear = middle_of(scene, screen, &name);
                self.hold(
                    Grip::pieces(session, &name, screen.to_world(origin)),
                    session,
                    origin,
                    clear,
                );
            }
        }
        let Some(at) = response.interact_pointer_pos() else {
            return self.grip.is_some() || self.frame.is_some();
        };
        let mut taken = false;
        if let Some(frame) = &mut self.frame {
            taken = true;
            frame.stretch(at);
            if response.drag_stopped() {
                frame.catch(session, scene, screen);
                self.frame = None;
            }
        }
        if matches!(self.grip, Some(Grip::Pieces { .. } | Grip::GivenUp))
            && (response.dragged() || response.drag_stopped())
        {
            taken = true;
            self.pull(&response.ctx, session, screen, at);
            if response.drag_stopped() {
                self.let_go(session);
            }
        }
        taken
    }

    /// Takes hold, with the numbers beside the pointer.
    fn hold(&mut self, grip: Option<Grip>, session: &Session, at: Pos2, clear: Option<Pos2>) {
        self.renaming = None;
        let measures = grip.as_ref().map(|grip| grip.measures(session.document.now()));
        self.readout = measures.map(|measures| Readout::new(measures, at, clear));
        self.grip = grip;
    }

    fn pull(&mut self, ctx: &egui::Context, session: &mut Session, screen: Placed, at: Pos2) {
        let Some(grip) = &mut self.grip else { return };
        if matches!(grip, Grip::GivenUp) {
            return;
        }
        let refused = grip.pull(session, screen.to_world(at), Snap::now(ctx)).err();
        if let Some(readout) = &mut self.readout {
            readout.follow(session, at, refused);
        }
    }

    fn let_go(&mut self, session: &mut Session) {
        if let Some(grip) = self.grip.take() {
            grip.let_go(session);
        }
        if let Some(readout) = &mut self.readout
            && !session.document.is_previewing()
        {
            readout.rest(session);
        }
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

    /// Shows what goes on, over the glass. `names` are where names were drawn.
    pub(crate) fn show(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        scene: &Scene,
        screen: Placed,
        bench: Rect,
        names: Vec<(String, Rect)>,
    ) {
        self.names = names;
        names::paint_selected(ui, session, &scene.placed, screen, bench, &mut self.names);
        self.seen = Some((bench, screen));
        if let Some(hand) = &mut self.hand {
            let pointer = ui
                .input(|input| input.pointer.latest_pos())
                .filter(|at| bench.contains(*at));
            hand.paint(ui, screen, bench, pointer);
        } else if !self.is_asking() {
            self.show_handles(ui, session, scene, screen, bench);
        }
        if let Some(frame) = &self.frame {
            frame.paint(ui, bench);
        }
        if session.selection.is_empty() {
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

    fn show_handles(&mut self, ui: &mut Ui, session: &mut Session, scene: &Scene, screen: Placed, bench: Rect) {
        let [name] = session.selection.names() else { return };
        let name = name.clone();
        let list = handles::of(session.document.now(), &scene.placed, &name, 1.0 / screen.scale());
        let clear = middle_of(scene, screen, &name);
        for handle in &list {
            self.show_handle(ui, session, (handle, clear), screen, bench);
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
        let Some(parameter) = handle.measure.read(session.document.now()) else {
            return;
        };
        let is_held = matches!(&self.grip, Some(Grip::Handle { handle: held, .. }) if held.measure == handle.measure);
        let Some(mark) = handle_marks::show(
            ui,
            handle,
            (&parameter, session.length_unit),
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
            let mut readout = Readout::new(vec![handle.measure.clone()], at, clear);
            readout.open(session);
            self.readout = Some(readout);
        }
        if let Some(asked) = mark.asked {
            let value = parameter.limit.nearest(asked);
            let words = handle.measure.words(session.document.now(), value);
            match session.document.settled().apply(&handle.measure.edit(value)) {
                Ok(next) => session.document.change(&words, next),
                Err(error) => self.notice = Some(handles::refusal(&error, session.length_unit)),
            }
        }
    }
}

/// The middle of a piece on the screen.
fn middle_of(scene: &Scene, screen: Placed, name: &str) -> Option<Pos2> {
    let line = &scene.placed.lines[scene.placed.index(name)?];
    Some(screen.to_screen(line.spot(line.length_mm / 2.0).at))
}

/// Makes a change that stands by itself.
fn change(session: &mut Session, edit: &crate::model::Edit) -> Result<(), String> {
    let next = session
        .document
        .settled()
        .apply(edit)
        .map_err(|error| handles::refusal(&error, session.length_unit))?;
    session.document.change(&edit.words(), next);
    Ok(())
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
