//! A box that holds one value as text: it can be typed into, stepped by arrow keys and dragged, and says why it
//! refuses. What kind of value it is, is the business of its fronts.

mod number;
mod size;
mod text;

pub(crate) use number::{Change, Field, Number, limit_text, read, sentence, value_text};
pub(crate) use size::{SizeChange, SizeField};
pub(crate) use text::TextField;

use super::theme;
use egui::accesskit::{Action, ActionData, Invalid, Node, Role};
use egui::text::LayoutJob;
use egui::{
    Align2, CursorIcon, EventFilter, Id, Key, Rect, Response, Sense, Stroke, StrokeKind, TextFormat, Ui, WidgetInfo,
    vec2,
};

/// Shown where several pieces have different values.
pub(crate) const VARIOUS: &str = "various";

/// What the user did to a box in this frame.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Deed {
    /// Typed something and left.
    Typed(String),
    /// So many steps by arrow keys, up positive.
    Stepped(f64),
    /// Took hold of it.
    Held,
    /// Dragged it so far to the right since it was taken hold of, points; a tenth of that while shift is down.
    Dragged(f64),
    /// Let go.
    LetGo,
}

/// A box as it was shown.
pub(crate) struct Shown<T> {
    /// What the user did.
    pub change: Option<T>,
    /// Where it stands.
    pub rect: Rect,
    /// Whether it is under the pointer, dragged or typed into.
    pub is_hot: bool,
}

/// A box with one line of text.
pub(crate) struct Cell<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The value as it is shown and as typing starts from it; `None` where several pieces differ.
    pub text: Option<String>,
    /// Symbol of the unit after it.
    pub unit: &'a str,
    /// The value in full: what is typed grows stale when it changes.
    pub stands: String,
    /// Width, points.
    pub width: f32,
    /// Whether it can be dragged.
    pub drags: bool,
    /// Whether arrow keys step it.
    pub steps: bool,
    /// Whether the text starts at the left, as names do, or ends at the right, as numbers do.
    pub from_left: bool,
    /// Whether its place in the drawing is pointed at.
    pub is_lit: bool,
    /// What the pointer is told: limits and the like.
    pub hint: String,
    /// Size of the type, points.
    pub type_size: f32,
}

/// Size of type in a field that stands in a list, points.
pub(crate) const IN_LIST: f32 = 13.5;
/// Size of type in a field beside a drawing, points.
pub(crate) const IN_DRAWING: f32 = 12.5;
/// Space between the edge of a field and its text, points.
const PAD: f32 = 7.0;
/// The same for the toolkit.
const MARGIN: i8 = 7;

/// What is typed but not (yet) taken.
#[derive(Clone, Debug, Default, PartialEq)]
struct Draft {
    text: String,
    refusal: Option<String>,
    /// The value when it was typed.
    stands: String,
}

impl Cell<'_> {
    /// Shows the box; `describe` completes what assistive tools are told.
    pub(crate) fn show(self, ui: &mut Ui, role: Role, describe: impl Fn(&mut Node)) -> Shown<Deed> {
        if ui.memory(|memory| memory.has_focus(self.id)) {
            self.typing(ui, role, describe)
        } else {
            self.resting(ui, role, describe)
        }
    }

    fn resting(self, ui: &mut Ui, role: Role, describe: impl Fn(&mut Node)) -> Shown<Deed> {
        let id = self.id;
        let draft = self.draft(ui);
        let colours = theme::of(ui);
        let (rect, _) = ui.allocate_exact_size(vec2(self.width, theme::TARGET), Sense::hover());
        let (sense, cursor) = if self.drags {
            (Sense::click_and_drag(), CursorIcon::ResizeHorizontal)
        } else {
            (Sense::click(), CursorIcon::Text)
        };
        let mut response = ui.interact(rect, id, sense).on_hover_cursor(cursor);
        if response.gained_focus() {
            response.scroll_to_me(None);
        }
        let refused = draft.as_ref().is_some_and(|draft| draft.refusal.is_some());
        let line = if refused {
            Stroke::new(1.5, colours.stop)
        } else if self.is_lit {
            Stroke::new(2.0, colours.accent)
        } else {
            ui.style().interact(&response).bg_stroke
        };
        let fill = if response.hovered() || response.dragged() || self.is_lit {
            colours.chosen
        } else {
            colours.field
        };
        ui.painter().rect(rect, 4.0, fill, line, StrokeKind::Inside);
        let mut job = LayoutJob::default();
        let format = |colour| TextFormat {
            font_id: theme::plain(self.type_size),
            color: colour,
            ..TextFormat::default()
        };
        match (&draft, &self.text) {
            (Some(draft), _) if refused => job.append(&draft.text, 0.0, format(colours.stop)),
            (_, Some(text)) => {
                job.append(text, 0.0, format(colours.text));
                let gap = if self.unit == "°" { 0.0 } else { 4.0 };
                job.append(self.unit, gap, format(colours.quiet));
            }
            (_, None) => job.append(VARIOUS, 0.0, format(colours.quiet)),
        }
        let galley = ui.painter().layout_job(job);
        let room = rect.shrink2(vec2(PAD, 2.0));
        let align = if self.from_left || galley.size().x > room.width() {
            Align2::LEFT_CENTER
        } else {
            Align2::RIGHT_CENTER
        };
        let at = align.align_size_within_rect(galley.size(), room).min;
        ui.painter()
            .with_clip_rect(room.intersect(ui.clip_rect()))
            .galley(at, galley, colours.text);
        self.tell(ui, &response, role, describe);
        if !self.hint.is_empty() && !response.dragged() {
            response = response.on_hover_text(&self.hint);
        }
        let shown = |change| Shown {
            change,
            rect,
            is_hot: response.hovered() || response.dragged(),
        };
        if response.clicked() {
            let draft = draft.unwrap_or_else(|| self.fresh_draft());
            select_all(ui, id, draft.text.chars().count());
            self.remember(ui, draft);
            ui.memory_mut(|memory| memory.request_focus(id));
            return shown(None);
        }
        shown(self.dragging(ui, &response).or_else(|| self.asked_by_tool(ui)))
    }

    fn typing(self, ui: &mut Ui, role: Role, describe: impl Fn(&mut Node)) -> Shown<Deed> {
        let id = self.id;
        let stored = self.draft(ui);
        let arrived = stored.is_none();
        let mut draft = stored.unwrap_or_else(|| self.fresh_draft());
        if arrived {
            select_all(ui, id, draft.text.chars().count());
        }
        let step = if self.steps {
            ui.input_mut(|input| {
                f64::from(u8::from(input.consume_key(egui::Modifiers::NONE, Key::ArrowUp)))
                    - f64::from(u8::from(input.consume_key(egui::Modifiers::NONE, Key::ArrowDown)))
            })
        } else {
            0.0
        };
        let align = if self.from_left {
            Align2::LEFT_CENTER
        } else {
            Align2::RIGHT_CENTER
        };
        // Escape is the field's own, so that it does not drop the selection as well.
        let filter = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            escape: true,
            ..EventFilter::default()
        };
        let edit = egui::TextEdit::singleline(&mut draft.text)
            .id(id)
            .event_filter(filter)
            .font(theme::plain(self.type_size))
            .align(align)
            .margin(egui::Margin::symmetric(MARGIN, 2))
            .desired_width(self.width - 2.0 * PAD)
            .min_size(vec2(self.width, theme::TARGET));
        let response = ui.add_sized([self.width, theme::TARGET], edit);
        if arrived {
            response.scroll_to_me(None);
        }
        if response.changed() {
            draft.refusal = None;
        }
        self.tell(ui, &response, role, describe);
        let shown = |change| Shown {
            change,
            rect: response.rect,
            is_hot: true,
        };
        if ui.input(|input| input.key_pressed(Key::Escape)) {
            forget(ui, id);
            ui.memory_mut(|memory| memory.surrender_focus(id));
            return shown(None);
        }
        if step != 0.0 {
            forget(ui, id);
            return shown(Some(Deed::Stepped(step)));
        }
        if !response.lost_focus() {
            self.remember(ui, draft);
            return shown(None);
        }
        if draft.text == self.text.as_deref().unwrap_or_default() {
            // Nothing was typed: what stands is not rewritten, however many digits it has beyond those shown.
            forget(ui, id);
            return shown(None);
        }
        let text = draft.text.clone();
        // Kept in case the value is refused; an accepted one is shown as itself.
        self.remember(ui, draft);
        shown(Some(Deed::Typed(text)))
    }

    fn dragging(&self, ui: &Ui, response: &Response) -> Option<Deed> {
        if response.drag_started() {
            forget(ui, self.id);
            return Some(Deed::Held);
        }
        if response.drag_stopped() {
            return Some(Deed::LetGo);
        }
        if !response.dragged() {
            return None;
        }
        let fine = ui.input(|input| input.modifiers.shift);
        let points = f64::from(response.total_drag_delta()?.x);
        Some(Deed::Dragged(if fine { points / 10.0 } else { points }))
    }

    /// A text that an assistive tool asked for.
    fn asked_by_tool(&self, ui: &Ui) -> Option<Deed> {
        ui.input(|input| {
            let mut requests = input.accesskit_action_requests(self.id, Action::SetValue);
            requests.find_map(|request| match &request.data {
                Some(ActionData::Value(text)) => Some(Deed::Typed(text.to_string())),
                _ => None,
            })
        })
    }

    fn fresh_draft(&self) -> Draft {
        Draft {
            text: self.text.clone().unwrap_or_default(),
            refusal: None,
            stands: self.stands.clone(),
        }
    }

    fn draft(&self, ui: &Ui) -> Option<Draft> {
        ui.data(|data| data.get_temp::<Draft>(self.id))
            .filter(|draft| draft.stands == self.stands)
    }

    fn remember(&self, ui: &Ui, draft: Draft) {
        ui.data_mut(|data| data.insert_temp(self.id, draft));
    }

    /// Name, role and value for assistive tools, and the reason of a refusal.
    fn tell(&self, ui: &Ui, response: &Response, role: Role, describe: impl Fn(&mut Node)) {
        response.widget_info(|| WidgetInfo::labeled(role, true, self.label));
        let refusal = self.draft(ui).and_then(|draft| draft.refusal);
        ui.ctx().accesskit_node_builder(response.id, |node| {
            node.set_role(role);
            node.set_label(self.label.to_owned());
            let value = match &self.text {
                Some(text) if self.unit == "°" => format!("{text}°"),
                Some(text) => format!("{text} {}", self.unit).trim().to_owned(),
                None => VARIOUS.to_owned(),
            };
            node.set_value(value);
            node.add_action(Action::SetValue);
            if let Some(refusal) = refusal {
                node.set_invalid(Invalid::True);
                node.set_description(refusal);
            }
            describe(node);
        });
    }
}

/// Says why the box, whose value is `stands`, refuses `text`, or what was typed into it.
pub(crate) fn refuse(ui: &Ui, id: Id, reason: String, text: Option<String>, stands: String) {
    ui.data_mut(|data| {
        let typed = data.get_temp::<Draft>(id).map(|draft| draft.text);
        let text = text.or(typed).unwrap_or_default();
        data.insert_temp(
            id,
            Draft {
                text,
                refusal: Some(reason),
                stands,
            },
        );
    });
}

/// Begins to type into the field, whose value is `stands`, with `text` typed already.
pub(crate) fn begin(ctx: &egui::Context, id: Id, text: &str, stands: f64) {
    use egui::text::{CCursor, CCursorRange};
    let draft = Draft {
        text: text.to_owned(),
        refusal: None,
        stands: stands.to_string(),
    };
    ctx.data_mut(|data| data.insert_temp(id, draft));
    ctx.memory_mut(|memory| memory.request_focus(id));
    let mut state = egui::TextEdit::load_state(ctx, id).unwrap_or_default();
    let end = CCursor::new(text.chars().count());
    state.cursor.set_char_range(Some(CCursorRange::one(end)));
    state.store(ctx, id);
}

/// Forgets what was typed or dragged and not taken.
pub(crate) fn forget(ui: &Ui, id: Id) {
    ui.data_mut(|data| data.remove::<Draft>(id));
}

/// The reason why the box, whose value is `stands`, refuses what was typed or dragged.
pub(crate) fn refusal_of(ui: &Ui, id: Id, stands: &str) -> Option<String> {
    ui.data(|data| data.get_temp::<Draft>(id))
        .filter(|draft| draft.stands == stands)?
        .refusal
}

/// Notes how the apparatus took the value `asked` of a number field: `None` if it was accepted, else the reason
/// against it. `stands` is the value that it has kept.
pub(crate) fn answer(ui: &Ui, id: Id, refusal: Option<String>, asked: f64, stands: f64) {
    let Some(reason) = refusal else {
        return forget(ui, id);
    };
    let typed = ui.data(|data| data.get_temp::<Draft>(id)).map(|draft| draft.text);
    let text = typed.filter(|text| !text.is_empty());
    refuse(
        ui,
        id,
        reason,
        text.or_else(|| Some(asked.to_string())),
        stands.to_string(),
    );
}

/// The reason why the number field, whose value is `stands`, refuses what was typed or dragged.
pub(crate) fn refusal(ui: &Ui, id: Id, stands: f64) -> Option<String> {
    refusal_of(ui, id, &stands.to_string())
}

/// Selects all of what is typed into a field.
pub(crate) fn select_all(ui: &Ui, id: Id, length: usize) {
    use egui::text::{CCursor, CCursorRange};
    let mut state = egui::TextEdit::load_state(ui.ctx(), id).unwrap_or_default();
    state
        .cursor
        .set_char_range(Some(CCursorRange::two(CCursor::default(), CCursor::new(length))));
    state.store(ui.ctx(), id);
}
