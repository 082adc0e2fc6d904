//! What the pointer does on the bench: putting, choosing, catching, moving, asking for the menu.

use super::super::catch::Frame;
use super::super::grip::Grip;
use super::super::names::{self, Renaming};
use super::super::piece_menu::PieceMenu;
use super::super::placing::{Hand, Outcome};
use super::super::readout::Readout;
use super::super::scene::Scene;
use super::super::session::Session;
use super::super::snap::Snap;
use super::super::view::Placed;
use super::{Editor, middle_of};
use egui::{Key, PointerButton, Pos2, Response};

/// How near to the glass a press still meets it, points.
const NEAR_POINTS: f64 = 3.0;

impl Editor {
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
    pub(super) fn hold(&mut self, grip: Option<Grip>, session: &Session, at: Pos2, clear: Option<Pos2>) {
        self.renaming = None;
        let measures = grip.as_ref().map(|grip| grip.measures(session.document.now()));
        self.readout = measures.map(|measures| Readout::new(session, measures, at, clear));
        self.grip = grip;
    }

    pub(super) fn pull(&mut self, ctx: &egui::Context, session: &mut Session, screen: Placed, at: Pos2) {
        let Some(grip) = &mut self.grip else { return };
        if matches!(grip, Grip::GivenUp) {
            return;
        }
        let refused = grip.pull(session, screen.to_world(at), Snap::now(ctx)).err();
        if let Some(readout) = &mut self.readout {
            readout.follow(session, at, refused);
        }
    }

    pub(super) fn let_go(&mut self, session: &mut Session) {
        if let Some(grip) = self.grip.take() {
            grip.let_go(session);
        }
        if let Some(readout) = &mut self.readout
            && !session.document.is_previewing()
        {
            readout.rest(session);
        }
    }
}
