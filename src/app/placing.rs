//! A piece in hand: its ghost stands where it would go, a click puts it there.
//!
//! A tube is drawn out by a pull, a bridge is pulled from one piece to another. The wheel or the turning keys turn
//! what is in hand; Enter puts it where its ghost stands, also when no pointer is on the bench.

use super::deed::{Deed, Item, Stride};
use super::ghost::{Ghost, Tint};
use super::propose::{Anchor, Bench, Proposal};
use super::scene::Scene;
use super::session::Session;
use super::snap::Snap;
use super::tag;
use super::theme;
use super::view::Placed;
use crate::model::fresh::Kind;
use crate::model::place::Point;
use crate::model::{Apparatus, Edit, Place};
use egui::{Key, Modifiers, PointerButton, Pos2, Response, Stroke, Ui, vec2};

/// How near to the glass of a host the pointer takes hold of it, points.
const NEAR_POINTS: f64 = 14.0;
/// Steps in which that reach is widened.
const STEPS: u32 = 7;
/// How near to the end of a host the pointer shows the end itself, points.
const END_POINTS: f64 = 9.0;
/// Way of a smooth wheel that turns by one step, points.
const NOTCH_POINTS: f32 = 40.0;
/// A pull shorter than this is a click, points.
const CLICK_POINTS: f32 = 6.0;

/// What is in hand.
pub(crate) struct Hand {
    item: Item,
    /// Turned by the user, degrees.
    turned_deg: f64,
    /// Where a pull began: the place it shows, and the pointer.
    begun: Option<(Anchor, Pos2)>,
    /// Where the ghost stands and why it can't stand there.
    shown: Option<Shown>,
    /// What the wheel has turned and not yet made a step, in steps.
    wheel: f32,
    /// Drawn out of the tray: it is put where the pointer lets go.
    carried: bool,
}

struct Shown {
    revision: u64,
    scale: f64,
    proposal: Result<Proposal, String>,
    next: Option<Apparatus>,
    ghost: Option<Ghost>,
}

/// What became of what was in hand.
#[derive(Debug, PartialEq)]
pub(crate) enum Outcome {
    /// It is still in hand.
    Held,
    /// It was let go.
    LetGo,
    /// It can't be put where it is.
    Refused,
    /// It was put: the names of the new pieces.
    Put(Vec<String>),
}

impl Hand {
    /// Takes an item in hand; `carried` when the pointer holds it by a pressed button.
    pub(crate) fn new(item: Item, carried: bool) -> Self {
        Self {
            item,
            turned_deg: 0.0,
            begun: None,
            shown: None,
            wheel: 0.0,
            carried,
        }
    }

    /// What it is.
    pub(crate) fn item(&self) -> Item {
        self.item
    }

    /// Turns it by a step.
    fn turn(&mut self, anticlockwise: bool, stride: Stride) {
        let step = if stride == Stride::Fine { 1.0 } else { 15.0 };
        self.turned_deg += if anticlockwise { step } else { -step };
    }

    /// Lets the pointer lead it; on a click or at the end of a pull it is put.
    pub(crate) fn follow(
        &mut self,
        response: &Response,
        session: &mut Session,
        scene: &Scene,
        screen: Placed,
    ) -> Outcome {
        let snap = Snap::now(&response.ctx);
        self.take_wheel(response);
        let over = response.contains_pointer() || response.is_pointer_button_down_on();
        let pointer = response.ctx.input(|input| input.pointer.latest_pos()).filter(|_| over);
        let pulls = matches!(self.item, Item::Tube | Item::Bridge);
        let released = response.ctx.input(|input| input.pointer.primary_released());
        if pulls && response.is_pointer_button_down_on() && self.begun.is_none() {
            let origin = response.ctx.input(|input| input.pointer.press_origin());
            let anchor = origin.and_then(|at| Some((self.anchor(session, scene, screen, at, snap)?, at)));
            self.begun = anchor;
        }
        let proposal = self.proposal(session, scene, screen, pointer, snap);
        self.show_at(session, screen.scale(), proposal);
        let by_click = !pulls && response.clicked_by(PointerButton::Primary);
        let by_pull = pulls && released && (response.drag_stopped() || response.clicked_by(PointerButton::Primary));
        if by_pull {
            self.begun = None;
        }
        let by_carry = self.carried && released && over && self.item != Item::Bridge;
        if released {
            self.carried = false;
        }
        if by_click || by_pull || by_carry {
            self.put(session)
        } else {
            Outcome::Held
        }
    }

    /// Puts it where its ghost stands.
    pub(crate) fn put(&mut self, session: &mut Session) -> Outcome {
        let Some(Shown {
            proposal: Ok(proposal),
            next: Some(next),
            ..
        }) = self.shown.take()
        else {
            return Outcome::Refused;
        };
        session.document.change(&proposal.edit.words(), next);
        Outcome::Put(proposal.names())
    }

    /// The wheel turns what is in hand while the pointer is over the bench; with the zoom key it zooms as ever.
    fn take_wheel(&mut self, response: &Response) {
        if !response.hovered() {
            return;
        }
        let steps: f32 = response.ctx.input(|input| {
            let wheel = input.events.iter().filter_map(|event| match event {
                egui::Event::MouseWheel {
                    unit, delta, modifiers, ..
                } if !modifiers.command => Some(match unit {
                    egui::MouseWheelUnit::Point => delta.y / NOTCH_POINTS,
                    egui::MouseWheelUnit::Line | egui::MouseWheelUnit::Page => delta.y,
                }),
                _ => None,
            });
            wheel.sum()
        });
        self.wheel += steps;
        while self.wheel.abs() >= 1.0 {
            self.turn(self.wheel > 0.0, Stride::Plain);
            self.wheel -= 1.0_f32.copysign(self.wheel);
        }
    }

    /// The place that a position on the screen shows.
    fn anchor(&self, session: &Session, scene: &Scene, screen: Placed, at: Pos2, snap: Snap) -> Option<Anchor> {
        let point = screen.to_world(at);
        let bench = Bench {
            apparatus: session.document.settled(),
            placed: &scene.placed,
            length_unit: session.length_unit,
        };
        // The nearest glass: the reach is widened in steps until something lies within.
        let reaches = (0..=STEPS).map(|k| NEAR_POINTS * f64::from(k) / f64::from(STEPS) / screen.scale());
        let mut hosts = reaches.filter_map(|reach| scene.drawing.piece_at(point, reach));
        let host = hosts.next();
        let Some(host) = host else {
            return (self.item != Item::Bridge)
                .then(|| Anchor::Free(Point::new(snap.length(point.x), snap.length(point.y))));
        };
        let place = bench.place_at(host, point, END_POINTS / screen.scale(), snap)?;
        Some(Anchor::Host(match self.item {
            Item::Bridge => bench.upwards(place),
            _ => place,
        }))
    }

    fn proposal(
        &self,
        session: &Session,
        scene: &Scene,
        screen: Placed,
        pointer: Option<Pos2>,
        snap: Snap,
    ) -> Result<Proposal, String> {
        let bench = Bench {
            apparatus: session.document.settled(),
            placed: &scene.placed,
            length_unit: session.length_unit,
        };
        let kind = self.item.kind();
        let Some(at) = pointer else {
            return bench.unseen(&kind, session.selection.names(), self.turned_deg);
        };
        let here = self.anchor(session, scene, screen, at, snap);
        match (&self.begun, self.item) {
            (Some((Anchor::Host(from), _)), Item::Bridge) => match here {
                Some(Anchor::Host(to)) => bench.bridge(from.clone(), to),
                _ => Err("Let go on the piece where the bridge ends".to_owned()),
            },
            (None, Item::Bridge) => Err(match here {
                Some(Anchor::Host(Place { at_mm, host, .. })) => {
                    format!(
                        "Pull from {} on {host} to another piece",
                        super::snap::length_words(at_mm, session.length_unit)
                    )
                }
                _ => "Press on the piece where the bridge begins".to_owned(),
            }),
            (Some((anchor, from)), Item::Tube) if (at - *from).length() >= CLICK_POINTS => {
                Ok(bench.tube_to(anchor, screen.to_world(at), snap))
            }
            (Some((anchor, _)), _) => bench.piece_at(&kind, anchor, self.turned_deg),
            (None, _) => {
                let anchor = here.ok_or_else(|| "Point at the bench".to_owned())?;
                bench.piece_at(&kind, &anchor, self.turned_deg)
            }
        }
    }

    /// Keeps the ghost of a proposal; one that has not changed is not built anew.
    fn show_at(&mut self, session: &Session, scale: f64, proposal: Result<Proposal, String>) {
        let revision = session.document.revision();
        let same = |shown: &Shown| shown.revision == revision && shown.scale == scale && shown.proposal == proposal;
        if self.shown.as_ref().is_some_and(same) {
            return;
        }
        let tried = proposal.and_then(|proposal| {
            let next = session.document.settled().apply(&proposal.edit);
            next.map(|next| (proposal, next))
                .map_err(|error| super::handles::refusal(&error, session.length_unit))
        });
        self.shown = Some(match tried {
            Ok((proposal, next)) => Shown {
                revision,
                scale,
                ghost: Ghost::of(&next, &proposal.names(), scale),
                proposal: Ok(proposal),
                next: Some(next),
            },
            Err(reason) => Shown {
                revision,
                scale,
                proposal: Err(reason),
                next: None,
                ghost: None,
            },
        });
    }

    /// Draws the ghost and tells where it stands.
    pub(crate) fn paint(&self, ui: &Ui, screen: Placed, bench: egui::Rect, pointer: Option<Pos2>) {
        let colours = theme::of(ui);
        let painter = ui.painter_at(bench);
        let Some(shown) = &self.shown else { return };
        if let (Some((_, from)), Some(to), true) = (&self.begun, pointer, self.item == Item::Bridge) {
            let line = egui::Shape::dashed_line(&[*from, to], Stroke::new(1.2, colours.accent), 6.0, 4.0);
            painter.extend(line);
            painter.circle_stroke(*from, 5.0, Stroke::new(2.0, colours.accent));
        }
        if let Some(ghost) = &shown.ghost {
            ghost.paint(&painter, &screen, &Tint::ghost(colours), 1.0);
        }
        let (text, is_refusal) = match &shown.proposal {
            Ok(proposal) => (proposal.words.clone(), false),
            Err(reason) => (reason.clone(), true),
        };
        let colour = if is_refusal { colours.quiet } else { colours.text };
        let at = pointer.unwrap_or(bench.center_top() + vec2(-140.0, 20.0));
        let clear = shown.ghost.as_ref().and_then(|ghost| ghost.middle(&screen));
        let lines = [(text, colour), (self.help(pointer.is_some()), colours.quiet)];
        tag::show(ui, bench, at, clear, &lines);
    }

    fn help(&self, by_pointer: bool) -> String {
        let put = match (by_pointer, self.item) {
            (true, Item::Tube) => "Click or pull to put",
            (true, Item::Bridge) => "Pull from piece to piece",
            (true, _) => "Click to put, wheel turns",
            (false, _) => "Enter puts, Q and E turn",
        };
        format!("{put}, Esc lets go")
    }

    /// Keys while something is in hand: the turning keys turn it, Enter puts it, Escape lets go. While another control
    /// has the focus Enter is its own.
    pub(crate) fn take_keys(&mut self, ctx: &egui::Context, session: &mut Session, in_field: bool) -> Outcome {
        for (anticlockwise, stride) in [
            (true, Stride::Fine),
            (false, Stride::Fine),
            (true, Stride::Plain),
            (false, Stride::Plain),
        ] {
            let keys = Deed::Turn(anticlockwise, stride).shortcut();
            if keys.is_some_and(|keys| ctx.input_mut(|input| input.consume_shortcut(&keys))) {
                self.turn(anticlockwise, stride);
            }
        }
        let (enter, escape) = ctx.input_mut(|input| {
            (
                !in_field && input.consume_key(Modifiers::NONE, Key::Enter),
                input.consume_key(Modifiers::NONE, Key::Escape),
            )
        });
        match (escape, enter) {
            (true, _) => Outcome::LetGo,
            (false, true) => self.put(session),
            (false, false) => Outcome::Held,
        }
    }
}

/// Puts an item where there is room, without a pointer; the names of the new pieces.
pub(crate) fn put_unseen(session: &mut Session, item: Item) -> Result<Vec<String>, String> {
    let apparatus = session.document.settled();
    let placed = apparatus.place().map_err(|fault| fault.to_string())?;
    let bench = Bench {
        apparatus,
        placed: &placed,
        length_unit: session.length_unit,
    };
    let kind: Kind = item.kind();
    let proposal = bench.unseen(&kind, session.selection.names(), 0.0)?;
    put(session, &proposal)
}

/// Puts what was proposed; the names of the new pieces.
pub(crate) fn put(session: &mut Session, proposal: &Proposal) -> Result<Vec<String>, String> {
    let edit: &Edit = &proposal.edit;
    let next = session
        .document
        .settled()
        .apply(edit)
        .map_err(|error| super::handles::refusal(&error, session.length_unit))?;
    session.document.change(&edit.words(), next);
    Ok(proposal.names())
}
