//! The time line: waits and turns in proportion to their times, what happens above them, and the place that the bench
//! shows; played, stepped, dragged and walked by keys.

use super::happenings::{Happening, Kind};
use super::player::{Place, SPEEDS};
use super::{RunStrip, clock_text};
use crate::app::controls;
use crate::app::mark_paint::{self, Symbol};
use crate::app::marks::{self, Weight};
use crate::app::session::Session;
use crate::app::tell;
use crate::app::theme::{self, Palette};
use crate::run::Outcome;
use egui::accesskit::{Action, ActionData, Orientation, Role};
use egui::{
    Align2, Button, Color32, ComboBox, CursorIcon, Id, Key, Modifiers, Painter, Pos2, Rect, RichText, Sense, Shape,
    Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};

/// Height of the time line, points.
const HEIGHT: f32 = 40.0;
/// Height of the bar at its foot.
const BAR: f32 = 15.0;
/// Room at both ends.
const END: f32 = 9.0;
/// Things that happen within this are one mark, points.
const NEAR: f32 = 13.0;
/// Width of the time, and the width from which it is shown, points.
const TIME: f32 = 112.0;
const ROOMY: f32 = 430.0;
/// Most lines of words beside a mark.
const MOST: usize = 10;
/// Times closer than this are the same, s.
const SAME_S: f64 = 1e-6;

/// Things that happen at one place of the line.
struct Spot<'a> {
    x: f32,
    all: Vec<&'a Happening>,
}

impl Spot<'_> {
    fn kind(&self) -> Kind {
        self.all
            .iter()
            .map(|happening| happening.kind)
            .min()
            .unwrap_or(Kind::Ends)
    }

    fn time_s(&self) -> f64 {
        self.all.first().map_or(0.0, |happening| happening.time_s)
    }

    fn words(&self) -> String {
        let mut lines: Vec<&str> = self.all.iter().take(MOST).map(|it| it.words.as_str()).collect();
        let more = format!("and {} more", self.all.len().saturating_sub(MOST));
        if self.all.len() > MOST {
            lines.push(&more);
        }
        lines.join("\n")
    }
}

/// The line on the screen.
#[derive(Clone, Copy)]
struct Scale {
    rect: Rect,
    lasts_s: f64,
}

impl Scale {
    #[allow(clippy::cast_possible_truncation, reason = "a place on the screen")]
    fn x(&self, time_s: f64) -> f32 {
        let part = if self.lasts_s > 0.0 { time_s / self.lasts_s } else { 0.0 };
        self.rect.left() + END + (self.rect.width() - 2.0 * END) * part.clamp(0.0, 1.0) as f32
    }

    fn time_s(&self, x: f32) -> f64 {
        let part = (x - self.rect.left() - END) / (self.rect.width() - 2.0 * END).max(1.0);
        f64::from(part.clamp(0.0, 1.0)) * self.lasts_s
    }

    fn bar(&self) -> Rect {
        Rect::from_min_max(pos2(self.rect.left(), self.rect.bottom() - BAR), self.rect.max)
    }

    fn spots<'a>(&self, happenings: &'a [Happening]) -> Vec<Spot<'a>> {
        let mut spots: Vec<Spot<'a>> = Vec::new();
        for happening in happenings {
            let x = self.x(happening.time_s);
            match spots.last_mut() {
                Some(spot) if x - spot.x < NEAR => spot.all.push(happening),
                _ => spots.push(Spot {
                    x,
                    all: vec![happening],
                }),
            }
        }
        spots
    }

    fn sign(&self, spot: &Spot<'_>) -> Pos2 {
        pos2(spot.x, self.rect.top() + 12.0)
    }
}

/// The signs on the buttons.
#[derive(Clone, Copy)]
enum Sign {
    Before,
    Play,
    Pause,
    Next,
}

impl RunStrip {
    /// Buttons, time line and time.
    pub(super) fn line(&mut self, ui: &mut Ui, session: &mut Session) {
        ui.horizontal(|ui| {
            ui.set_min_height(HEIGHT);
            ui.spacing_mut().item_spacing.x = 5.0;
            let is_roomy = ui.available_width() >= ROOMY;
            let plays = self.player.played_to.is_some();
            if button(ui, Sign::Before, "To the stop before") {
                self.step(session, false);
            }
            let (sign, words) = if plays {
                (Sign::Pause, "Pause the run")
            } else {
                (Sign::Play, "Play the run")
            };
            if button(ui, sign, words) {
                self.play(&ui.ctx().clone(), session);
            }
            if button(ui, Sign::Next, "To the next stop") {
                self.step(session, true);
            }
            self.speed(ui);
            let room = if is_roomy { TIME } else { 0.0 };
            let width = (ui.available_width() - room).max(80.0);
            self.scrub(ui, session, width);
            if is_roomy {
                let score = self.score();
                let now = clock_text(self.player.time_s(score));
                let of = clock_text(score.lasts_s());
                let colours = theme::of(ui);
                let text = if self.player.is_on {
                    format!("{now} of {of}")
                } else {
                    of
                };
                ui.add(egui::Label::new(RichText::new(text).color(colours.quiet)).truncate());
            }
        });
    }

    fn speed(&mut self, ui: &mut Ui) {
        let words = |speed: f64| format!("{speed}×");
        let combo = ComboBox::from_id_salt("run speed")
            .selected_text(words(self.player.speed))
            .width(52.0)
            .show_ui(ui, |ui| {
                for speed in SPEEDS {
                    ui.selectable_value(&mut self.player.speed, speed, words(speed));
                }
            });
        let response = combo.response;
        let speed = self.player.speed;
        response.widget_info(|| WidgetInfo::labeled(Role::ComboBox, true, "How fast it is played"));
        ui.ctx()
            .accesskit_node_builder(response.id, |node| node.set_value(words(speed)));
        response.on_hover_text("How many times faster than it is done");
    }

    fn scrub(&mut self, ui: &mut Ui, session: &mut Session, width: f32) {
        let (rect, _) = ui.allocate_exact_size(vec2(width, HEIGHT), Sense::hover());
        let id = Id::unique("time line");
        let response = ui.interact(rect, id, Sense::click_and_drag());
        let score = self.score();
        let scale = Scale {
            rect,
            lasts_s: score.lasts_s(),
        };
        let time_s = self.player.time_s(score);
        let happenings = self.shown().map_or(&[][..], |poured| &poured.happenings[..]);
        let spots = scale.spots(happenings);
        let under = |at: Pos2| {
            spots
                .iter()
                .find(|spot| scale.sign(spot).distance(at) <= theme::TARGET / 2.0)
        };
        let colours = theme::of(ui);
        paint(ui, scale, score, &spots, self.player.is_on.then_some(time_s));
        if response.has_focus() {
            ui.painter().rect_stroke(
                rect.expand(2.0),
                4.0,
                Stroke::new(2.0, colours.accent),
                StrokeKind::Outside,
            );
        }
        let mut asked = asked_by_key(ui, id, time_s, scale.lasts_s, happenings);
        let mut plays = false;
        match response.interact_pointer_pos() {
            Some(at) if response.clicked() => {
                asked = Some(under(at).map_or_else(|| scale.time_s(at.x), Spot::time_s));
            }
            Some(at) if response.dragged() => asked = Some(scale.time_s(at.x)),
            Some(_) => {}
            None => plays = response.clicked(),
        }
        let hovered = response.hover_pos().and_then(under).map(Spot::words);
        asked = asked.or(nodes(ui, scale, &spots));
        describe(ui, &response, time_s, &scale, &self.told(score));
        let cursor = if hovered.is_some() {
            CursorIcon::PointingHand
        } else {
            CursorIcon::ResizeHorizontal
        };
        let response = response.on_hover_cursor(cursor);
        if let Some(words) = hovered {
            tell::at_pointer(&response, words);
        }
        if plays {
            self.play(&ui.ctx().clone(), session);
        } else if let Some(time_s) = asked {
            self.go(session, Place::Time(time_s.clamp(0.0, scale.lasts_s)));
        }
    }

    /// What is shown of the run, in words.
    fn told(&self, score: &Outcome) -> String {
        let (moment, stop) = self.player.moment(score);
        let name = |stop: usize| super::happenings::stop_name(score, stop);
        let place = match stop {
            Some(stop) => format!("at {}", name(stop)),
            None => format!("turning to {}", name(moment.leg + 1)),
        };
        let time = clock_text(self.player.time_s(score));
        let stance = super::happenings::stance_text(score.stance(moment));
        format!("{time}, {place}, tilt {stance}")
    }
}

/// The time that a key asked for while the line has the focus.
fn asked_by_key(ui: &Ui, id: Id, time_s: f64, lasts_s: f64, happenings: &[Happening]) -> Option<f64> {
    let by_tool = ui.input(|input| {
        let mut requests = input.accesskit_action_requests(id, Action::SetValue);
        requests.find_map(|request| match request.data {
            Some(ActionData::NumericValue(value)) => Some(value),
            _ => None,
        })
    });
    if by_tool.is_some() || !ui.memory(|memory| memory.has_focus(id)) {
        return by_tool;
    }
    let step = controls::keys(ui, id, (Key::ArrowLeft, Key::ArrowRight));
    let pressed = |key| ui.input_mut(|input| input.consume_key(Modifiers::NONE, key));
    let times = || happenings.iter().map(|happening| happening.time_s);
    if step != 0.0 {
        Some(time_s + step)
    } else if pressed(Key::Home) {
        Some(0.0)
    } else if pressed(Key::End) {
        Some(lasts_s)
    } else if pressed(Key::PageDown) {
        times().find(|time| *time > time_s + SAME_S)
    } else if pressed(Key::PageUp) {
        times().rfind(|time| *time < time_s - SAME_S)
    } else {
        None
    }
}

fn describe(ui: &Ui, response: &egui::Response, time_s: f64, scale: &Scale, words: &str) {
    response.widget_info(|| WidgetInfo::labeled(Role::Slider, true, "Time line of the run"));
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_numeric_value(time_s);
        node.set_value(words.to_owned());
        node.set_description("Arrows go by a second, page keys to what happens, Space plays");
        node.set_min_numeric_value(0.0);
        node.set_max_numeric_value(scale.lasts_s);
        node.set_numeric_value_step(1.0);
        node.set_orientation(Orientation::Horizontal);
        node.add_action(Action::SetValue);
    });
}

/// A node for each mark; gives the time of one that an assistive tool asked for.
fn nodes(ui: &Ui, scale: Scale, spots: &[Spot<'_>]) -> Option<f64> {
    let mut asked = None;
    for (i, spot) in spots.iter().enumerate() {
        let id = Id::unique("happening").with(i);
        let rect = Rect::from_center_size(scale.sign(spot), Vec2::splat(theme::TARGET));
        let response = ui.interact(rect, id, Sense::hover());
        let name = format!("Run: {}", spot.words());
        response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
        ui.ctx().accesskit_node_builder(id, |node| {
            node.set_value(clock_text(spot.time_s()));
            node.add_action(Action::Click);
        });
        if ui.input(|input| input.has_accesskit_action_request(id, Action::Click)) {
            asked = Some(spot.time_s());
        }
    }
    asked
}

fn paint(ui: &Ui, scale: Scale, score: &Outcome, spots: &[Spot<'_>], now_s: Option<f64>) {
    let (colours, painter, bar) = (theme::of(ui), ui.painter(), scale.bar());
    let line = Stroke::new(1.0, colours.outline);
    painter.rect(
        bar,
        3.0,
        colours.field,
        Stroke::new(1.0, colours.rule),
        StrokeKind::Inside,
    );
    let ends = [scale.x(0.0), scale.x(scale.lasts_s)];
    painter.hline(ends[0]..=ends[1], bar.center().y, Stroke::new(2.0, colours.division));
    for (stop, halt) in score.halts.iter().enumerate() {
        let reached_s = score.reached_s(stop);
        let (from, to) = (scale.x(reached_s), scale.x(reached_s + halt.wait_s));
        let wait = Rect::from_x_y_ranges((from - 1.0)..=to.max(from + 1.0), bar.y_range().shrink(1.0));
        painter.rect(wait, 2.0, colours.chosen, line, StrokeKind::Inside);
        if wait.width() >= 13.0 {
            let number = (stop + 1).to_string();
            painter.text(
                wait.center(),
                Align2::CENTER_CENTER,
                number,
                theme::plain(11.0),
                colours.text,
            );
        }
    }
    for (i, spot) in spots.iter().enumerate() {
        paint_sign(painter, colours, scale.sign(spot), spot.kind(), bar.top());
        let has_room = spots.get(i + 1).is_none_or(|next| next.x - spot.x > 2.0 * NEAR);
        if spot.all.len() > 1 && has_room {
            let at = scale.sign(spot) + vec2(5.0, -12.0);
            let count = spot.all.len().to_string();
            painter.text(at, Align2::LEFT_TOP, count, theme::plain(9.5), colours.quiet);
        }
    }
    if let Some(now_s) = now_s {
        let x = painter.round_to_pixel_center(scale.x(now_s));
        painter.vline(x, scale.rect.y_range(), Stroke::new(2.0, colours.accent));
        let knob = pos2(x, bar.center().y);
        painter.circle(knob, 6.0, colours.accent, Stroke::new(1.5, colours.panel));
    }
}

/// The sign of a kind over its place on the bar.
fn paint_sign(painter: &Painter, colours: &Palette, at: Pos2, kind: Kind, bar_y: f32) {
    let as_on_ring = |kind: marks::Kind| {
        let colour = mark_paint::colour(colours, kind, Weight::Plain);
        let sign = Symbol {
            centre: at,
            out: vec2(0.0, -1.0),
            size: if kind == marks::Kind::Loss { 17.0 } else { 13.0 },
        };
        sign.paint(painter, kind, colour);
        colour
    };
    let colour = match kind {
        Kind::Loss => as_on_ring(marks::Kind::Loss),
        Kind::Begins => as_on_ring(marks::Kind::Begins),
        Kind::Ends => as_on_ring(marks::Kind::Drained),
        Kind::Brims => as_on_ring(marks::Kind::Brims),
        Kind::Locks => paint_lock(painter, at, colours.stop),
        Kind::Seals => paint_seal(painter, at, colours.mark),
        Kind::SealsWet => paint_seal(painter, at, colours.stop),
    };
    painter.vline(at.x, (at.y + 8.0)..=bar_y, Stroke::new(0.8, colour));
}

/// A bore with a plug across it.
fn paint_lock(painter: &Painter, at: Pos2, colour: Color32) -> Color32 {
    for side in [-5.0, 5.0] {
        painter.vline(at.x + side, (at.y - 7.0)..=(at.y + 7.0), Stroke::new(2.0, colour));
    }
    let plug = Rect::from_center_size(at, vec2(10.0, 6.0));
    painter.rect_filled(plug, 0.0, colour);
    colour
}

/// A neck drawn together in the flame.
fn paint_seal(painter: &Painter, at: Pos2, colour: Color32) -> Color32 {
    for out in [-1.0, 1.0] {
        let wide = vec2(5.0, 7.0 * out);
        let corners = vec![at, at + wide, at + vec2(-wide.x, wide.y)];
        painter.add(Shape::convex_polygon(
            corners,
            Color32::TRANSPARENT,
            Stroke::new(1.8, colour),
        ));
    }
    colour
}

fn button(ui: &mut Ui, sign: Sign, words: &str) -> bool {
    let response = ui.add(Button::new("").min_size(vec2(30.0, theme::TARGET + 2.0)));
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, words));
    paint_button(ui.painter(), response.rect.center(), sign, theme::of(ui).text);
    response.on_hover_text(words).clicked()
}

fn paint_button(painter: &Painter, at: Pos2, sign: Sign, colour: Color32) {
    let bar = |x: f32, width: f32| {
        let bar = Rect::from_center_size(at + vec2(x, 0.0), vec2(width, 12.0));
        painter.rect_filled(bar, 0.0, colour);
    };
    let triangle = |x: f32, way: f32| {
        let corners = vec![
            at + vec2(x + 5.0 * way, 0.0),
            at + vec2(x - 5.0 * way, -6.0),
            at + vec2(x - 5.0 * way, 6.0),
        ];
        painter.add(Shape::convex_polygon(corners, colour, Stroke::NONE));
    };
    match sign {
        Sign::Play => triangle(0.5, 1.0),
        Sign::Pause => [-3.0, 3.0].into_iter().for_each(|x| bar(x, 3.5)),
        Sign::Before => {
            bar(-6.0, 2.0);
            triangle(1.0, -1.0);
        }
        Sign::Next => {
            bar(6.0, 2.0);
            triangle(-1.0, 1.0);
        }
    }
}
