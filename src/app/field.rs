//! A number with its unit that can be dragged, typed and stepped, and that says why it refuses.

use super::theme;
use egui::text::LayoutJob;
use egui::{Align2, CursorIcon, Id, Key, Sense, Stroke, StrokeKind, TextFormat, Ui, WidgetInfo, vec2};

/// What the user did to a field in this frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Change {
    /// The value is being dragged: show it, but it is not final.
    Preview(f64),
    /// The drag is over.
    Keep,
    /// A final value: typed, stepped, or set by an assistive tool.
    Set(f64),
}

/// A number field.
pub(crate) struct Field<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// The value shown.
    pub value: f64,
    /// Symbol of the unit, empty if it has none.
    pub unit: &'a str,
    /// Digits after the point.
    pub digits: usize,
    /// Change for one arrow key; a drag over four points changes as much.
    pub step: f64,
    /// Least and greatest value.
    pub range: (f64, f64),
}

/// What is typed but not (yet) taken.
#[derive(Clone, Debug, Default, PartialEq)]
struct Draft {
    text: String,
    refusal: Option<String>,
    /// The value when it was typed. A value changed since by something else makes the draft stale.
    value: f64,
}

impl Field<'_> {
    /// Width of every field, so that numbers stand in one column, points.
    pub(crate) const WIDTH: f32 = 104.0;

    /// Shows the field. `parse` turns typed text into a value in the field's unit or says why it can't.
    pub(crate) fn show(self, ui: &mut Ui, parse: impl Fn(&str) -> Result<f64, String>) -> Option<Change> {
        let id = self.id;
        if ui.memory(|memory| memory.has_focus(id)) {
            return self.typing(ui, parse);
        }
        let draft = self.draft(ui);
        let colours = theme::of(ui);
        let (rect, _) = ui.allocate_exact_size(vec2(Self::WIDTH, theme::TARGET), Sense::hover());
        let response = ui
            .interact(rect, id, Sense::click_and_drag())
            .on_hover_cursor(CursorIcon::ResizeHorizontal);
        let refused = draft.as_ref().is_some_and(|d| d.refusal.is_some());
        let line = if refused {
            Stroke::new(1.5, colours.stop)
        } else {
            ui.style().interact(&response).bg_stroke
        };
        let fill = if response.hovered() || response.dragged() {
            colours.chosen
        } else {
            colours.field
        };
        ui.painter().rect(rect, 4.0, fill, line, StrokeKind::Inside);
        let mut job = LayoutJob::default();
        let format = |colour| TextFormat {
            font_id: theme::plain(13.5),
            color: colour,
            ..TextFormat::default()
        };
        match &draft {
            Some(draft) if refused => job.append(&draft.text, 0.0, format(colours.stop)),
            _ => {
                job.append(&self.number(), 0.0, format(colours.text));
                job.append(
                    self.unit,
                    if self.unit == "°" { 0.0 } else { 4.0 },
                    format(colours.quiet),
                );
            }
        }
        let galley = ui.painter().layout_job(job);
        let at = Align2::RIGHT_CENTER
            .align_size_within_rect(galley.size(), rect.shrink2(vec2(8.0, 2.0)))
            .min;
        ui.painter().with_clip_rect(rect).galley(at, galley, colours.text);
        self.tell(ui, &response);

        if response.clicked() {
            if draft.is_none() {
                self.remember(ui, self.fresh_draft());
            }
            ui.memory_mut(|memory| memory.request_focus(id));
            select_all(
                ui,
                id,
                self.number()
                    .chars()
                    .count()
                    .max(draft.map_or(0, |d| d.text.chars().count())),
            );
            return None;
        }
        self.dragging(ui, &response).or_else(|| self.asked_by_tool(ui))
    }

    /// The value without its unit.
    fn number(&self) -> String {
        let text = format!("{:.*}", self.digits, self.value);
        // "-0.0" is shown as "0.0".
        let text = if text.trim_start_matches(['-', '0', '.']).is_empty() {
            text.replace('-', "")
        } else {
            text
        };
        text.replace('-', "−")
    }

    fn typing(self, ui: &mut Ui, parse: impl Fn(&str) -> Result<f64, String>) -> Option<Change> {
        let id = self.id;
        let stored = self.draft(ui);
        let arrived = stored.is_none();
        let mut draft = stored.unwrap_or_else(|| self.fresh_draft());
        if arrived {
            select_all(ui, id, draft.text.chars().count());
        }
        let step = ui.input_mut(|input| {
            f64::from(u8::from(input.consume_key(egui::Modifiers::NONE, Key::ArrowUp)))
                - f64::from(u8::from(input.consume_key(egui::Modifiers::NONE, Key::ArrowDown)))
        });
        let edit = egui::TextEdit::singleline(&mut draft.text)
            .id(id)
            .font(theme::plain(13.5))
            .align(Align2::RIGHT_CENTER)
            .desired_width(Self::WIDTH - 16.0)
            .min_size(vec2(Self::WIDTH, theme::TARGET));
        let response = ui.add_sized([Self::WIDTH, theme::TARGET], edit);
        if response.changed() {
            draft.refusal = None;
        }
        self.tell(ui, &response);
        if ui.input(|input| input.key_pressed(Key::Escape)) {
            ui.data_mut(|data| data.remove::<Draft>(id));
            ui.memory_mut(|memory| memory.surrender_focus(id));
            return None;
        }
        if step != 0.0 {
            ui.data_mut(|data| data.remove::<Draft>(id));
            return Some(Change::Set(self.nearest(self.value + step * self.step)));
        }
        if !response.lost_focus() {
            self.remember(ui, draft);
            return None;
        }
        if draft.text == self.number() {
            ui.data_mut(|data| data.remove::<Draft>(id));
            return None;
        }
        match parse(&draft.text) {
            Ok(value) => {
                // Kept in case the apparatus refuses the value; an accepted one is shown as itself.
                self.remember(ui, draft);
                Some(Change::Set(value))
            }
            Err(reason) => {
                self.remember(
                    ui,
                    Draft {
                        refusal: Some(reason),
                        ..draft
                    },
                );
                None
            }
        }
    }

    fn dragging(&self, ui: &Ui, response: &egui::Response) -> Option<Change> {
        let start_id = self.id.with("start");
        if response.drag_started() {
            ui.data_mut(|data| {
                data.insert_temp(start_id, self.value);
                data.remove::<Draft>(self.id);
            });
        }
        if response.drag_stopped() {
            return Some(Change::Keep);
        }
        if !response.dragged() {
            return None;
        }
        let moved = response.total_drag_delta()?;
        let start = ui.data(|data| data.get_temp::<f64>(start_id))?;
        let fine = if ui.input(|input| input.modifiers.shift) {
            0.1
        } else {
            1.0
        };
        let raw = start + f64::from(moved.x) / 4.0 * self.step * fine;
        let unit = 10_f64.powi(i32::try_from(self.digits).unwrap_or(0));
        let value = self.nearest((raw * unit).round() / unit);
        (value != self.value).then_some(Change::Preview(value))
    }

    /// What an assistive tool asked for.
    fn asked_by_tool(&self, ui: &Ui) -> Option<Change> {
        use egui::accesskit::{Action, ActionData};
        let (step, set) = ui.input(|input| {
            let up = input.num_accesskit_action_requests(self.id, Action::Increment);
            let down = input.num_accesskit_action_requests(self.id, Action::Decrement);
            let set = input
                .accesskit_action_requests(self.id, Action::SetValue)
                .find_map(|request| match request.data {
                    Some(ActionData::NumericValue(value)) => Some(value),
                    _ => None,
                });
            (up as f64 - down as f64, set)
        });
        let asked = set.or((step != 0.0).then(|| self.nearest(self.value + step * self.step)))?;
        Some(Change::Set(asked))
    }

    fn nearest(&self, value: f64) -> f64 {
        value.clamp(self.range.0, self.range.1)
    }

    fn fresh_draft(&self) -> Draft {
        Draft {
            text: self.number(),
            refusal: None,
            value: self.value,
        }
    }

    fn draft(&self, ui: &Ui) -> Option<Draft> {
        ui.data(|data| data.get_temp::<Draft>(self.id))
            .filter(|draft| draft.value == self.value)
    }

    fn remember(&self, ui: &Ui, draft: Draft) {
        ui.data_mut(|data| data.insert_temp(self.id, draft));
    }

    /// Name, role and value for assistive tools.
    fn tell(&self, ui: &Ui, response: &egui::Response) {
        use egui::accesskit::Action;
        response.widget_info(|| WidgetInfo::drag_value(true, self.value));
        ui.ctx().accesskit_node_builder(response.id, |node| {
            node.set_label(self.label.to_owned());
            node.set_value(format!("{} {}", self.number(), self.unit).trim().to_owned());
            if self.range.0.is_finite() && self.range.1.is_finite() {
                node.set_min_numeric_value(self.range.0);
                node.set_max_numeric_value(self.range.1);
            }
            node.set_numeric_value_step(self.step);
            node.add_action(Action::SetValue);
            node.add_action(Action::Increment);
            node.add_action(Action::Decrement);
        });
    }
}

/// Notes how the apparatus took the value `asked` of the field: `None` if it was accepted, else the reason against
/// it. `stands` is the value that it has kept.
pub(crate) fn answer(ui: &Ui, id: Id, refusal: Option<String>, asked: f64, stands: f64) {
    ui.data_mut(|data| match refusal {
        None => data.remove::<Draft>(id),
        refusal => {
            let typed = data
                .get_temp::<Draft>(id)
                .map(|draft| draft.text)
                .filter(|text| !text.is_empty());
            let text = typed.unwrap_or_else(|| asked.to_string());
            data.insert_temp(
                id,
                Draft {
                    text,
                    refusal,
                    value: stands,
                },
            );
        }
    });
}

/// Begins to type into the field, whose value is `stands`, with `text` typed already.
pub(crate) fn begin(ctx: &egui::Context, id: Id, text: &str, stands: f64) {
    use egui::text::{CCursor, CCursorRange};
    let draft = Draft {
        text: text.to_owned(),
        refusal: None,
        value: stands,
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

/// The reason why the field, whose value is `stands`, refuses what was typed or dragged.
pub(crate) fn refusal(ui: &Ui, id: Id, stands: f64) -> Option<String> {
    ui.data(|data| data.get_temp::<Draft>(id))
        .filter(|draft| draft.value == stands)?
        .refusal
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
