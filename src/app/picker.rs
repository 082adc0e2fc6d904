//! A list to choose from: it drops from a button, is searched by typing and moved through by arrow keys.

use super::theme;
use egui::accesskit::{Action, HasPopup, Role};
use egui::{
    Align2, CursorIcon, EventFilter, Id, Key, Modifiers, Popup, PopupCloseBehavior, Rect, Response, ScrollArea, Sense,
    Shape, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Height of the list before it scrolls, points.
const LIST_HEIGHT: f32 = 300.0;

/// After so many frames a list has its size, and what is in it can have the focus.
const SETTLED: u8 = 2;

/// One of the things to choose from.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Choice {
    /// What it is called.
    pub text: String,
    /// What else is known of it.
    pub remark: String,
}

impl From<&str> for Choice {
    fn from(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            remark: String::new(),
        }
    }
}

/// What the button looks like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Face<'a> {
    /// A box with the present choice.
    Box(&'a str),
    /// An arrow alone, beside a field.
    Arrow,
    /// Three dots: what can be done with something.
    Dots,
    /// Words: what the list offers.
    Words(&'a str),
}

/// A button with a list.
pub(crate) struct Picker<'a> {
    /// Distinguishes it from the others.
    pub id: Id,
    /// Its name for people and assistive tools.
    pub label: &'a str,
    /// What the button looks like.
    pub face: Face<'a>,
    /// Width of the button, points.
    pub width: f32,
    /// Width of the list, points.
    pub list_width: f32,
    /// Whether the list is searched by typing.
    pub is_searched: bool,
    /// Whether its place in the drawing is pointed at.
    pub is_lit: bool,
}

/// Where the user is in an open list.
#[derive(Clone, Debug, Default, PartialEq)]
struct Progress {
    query: String,
    /// Position among the choices that are found.
    at: usize,
    /// How often the list has been shown, up to a few times.
    frames: u8,
}

impl Picker<'_> {
    /// Shows the button and, when it is open, the list. `choices` is asked for only then; with it comes the position
    /// of the present choice. Gives the button and the position of what was chosen.
    pub(crate) fn show(
        self,
        ui: &mut Ui,
        choices: impl FnOnce() -> (Vec<Choice>, Option<usize>),
    ) -> (Response, Option<usize>) {
        let popup = self.id.with("list");
        let was_open = Popup::is_id_open(ui.ctx(), popup);
        // Before the button is laid out, which would take Enter for a click that closes the list.
        let keys = if was_open { Keys::take(ui) } else { Keys::default() };
        let button = self.button(ui);
        if button.clicked() {
            Popup::toggle_id(ui.ctx(), popup);
        }
        if !Popup::is_id_open(ui.ctx(), popup) {
            ui.data_mut(|data| data.remove::<Progress>(self.id));
            return (button, None);
        }
        let (choices, present) = choices();
        let mut progress = ui
            .data(|data| data.get_temp::<Progress>(self.id))
            .unwrap_or_else(|| Progress {
                at: present.unwrap_or(0),
                ..Progress::default()
            });
        let filter = EventFilter {
            vertical_arrows: true,
            escape: true,
            ..EventFilter::default()
        };
        let holder = if self.is_searched {
            self.id.with("search")
        } else {
            self.id
        };
        ui.memory_mut(|memory| {
            if progress.frames < SETTLED {
                memory.request_focus(holder);
            }
            memory.set_focus_lock_filter(holder, filter);
        });
        let mut chosen = None;
        Popup::from_response(&button)
            .id(popup)
            .open_memory(None)
            .close_behavior(PopupCloseBehavior::CloseOnClickOutside)
            .accessible_name(self.label.to_owned())
            .width(self.list_width)
            .show(|ui| {
                ui.set_width(self.list_width);
                if self.is_searched {
                    let edit = egui::TextEdit::singleline(&mut progress.query)
                        .id(holder)
                        .hint_text("Search")
                        .desired_width(self.list_width - 8.0)
                        .min_size(vec2(0.0, theme::TARGET));
                    let search = ui.add(edit);
                    if search.changed() {
                        progress.at = 0;
                    }
                    ui.ctx().accesskit_node_builder(holder, |node| {
                        node.set_label(format!("{}: search", self.label));
                    });
                }
                chosen = list(ui, &choices, present, &mut progress, keys, self.id);
            });
        progress.frames = progress.frames.saturating_add(1).min(SETTLED);
        ui.data_mut(|data| data.insert_temp(self.id, progress));
        if chosen.is_some() {
            Popup::close_id(ui.ctx(), popup);
        }
        if chosen.is_some() || keys.leave {
            ui.memory_mut(|memory| memory.request_focus(self.id));
        }
        (button, chosen)
    }

    fn button(&self, ui: &mut Ui) -> Response {
        let (rect, _) = ui.allocate_exact_size(vec2(self.width, theme::TARGET), Sense::hover());
        let response = ui
            .interact(rect, self.id, Sense::click())
            .on_hover_cursor(CursorIcon::PointingHand);
        let colours = theme::of(ui);
        let visuals = ui.style().interact(&response);
        let line = if self.is_lit || response.has_focus() {
            Stroke::new(2.0, colours.accent)
        } else {
            visuals.bg_stroke
        };
        let fill = if self.is_lit { colours.chosen } else { visuals.bg_fill };
        let painter = ui.painter();
        painter.rect(rect, 4.0, fill, line, StrokeKind::Inside);
        match self.face {
            Face::Arrow => arrow(painter, rect, colours.text),
            Face::Dots => {
                for shift in [-5.0, 0.0, 5.0] {
                    painter.circle_filled(rect.center() + vec2(shift, 0.0), 1.5, colours.text);
                }
            }
            Face::Box(text) | Face::Words(text) => {
                let end = Rect::from_min_max(pos2(rect.right() - 22.0, rect.top()), rect.max);
                arrow(painter, end, colours.quiet);
                let room = Rect::from_min_max(rect.min, end.left_bottom()).shrink2(vec2(8.0, 2.0));
                painter.with_clip_rect(room.intersect(ui.clip_rect())).text(
                    room.left_center(),
                    Align2::LEFT_CENTER,
                    text,
                    theme::plain(13.5),
                    colours.text,
                );
            }
        }
        let role = match self.face {
            Face::Box(_) => Role::ComboBox,
            Face::Arrow | Face::Dots | Face::Words(_) => Role::Button,
        };
        let open = Popup::is_id_open(ui.ctx(), self.id.with("list"));
        response.widget_info(|| WidgetInfo::labeled(role, true, self.label));
        ui.ctx().accesskit_node_builder(self.id, |node| {
            node.set_has_popup(HasPopup::Listbox);
            node.set_expanded(open);
            if let Face::Box(text) = self.face {
                node.set_value(text);
            }
        });
        if response.gained_focus() {
            response.scroll_to_me(None);
        }
        match self.face {
            Face::Arrow | Face::Dots => response.on_hover_text(self.label),
            Face::Box(_) | Face::Words(_) => response,
        }
    }
}

/// Keys that move through an open list.
#[derive(Clone, Copy, Debug, Default)]
struct Keys {
    /// Rows downwards.
    rows: i32,
    choose: bool,
    leave: bool,
}

impl Keys {
    fn take(ui: &Ui) -> Self {
        ui.input_mut(|input| {
            let mut count = |key| i32::try_from(input.count_and_consume_key(Modifiers::NONE, key)).unwrap_or(0);
            let rows = count(Key::ArrowDown) - count(Key::ArrowUp) + 10 * (count(Key::PageDown) - count(Key::PageUp));
            Self {
                rows,
                choose: input.consume_key(Modifiers::NONE, Key::Enter),
                // The list closes itself by this key.
                leave: input.key_pressed(Key::Escape),
            }
        })
    }
}

fn list(
    ui: &mut Ui,
    choices: &[Choice],
    present: Option<usize>,
    progress: &mut Progress,
    keys: Keys,
    id: Id,
) -> Option<usize> {
    let found: Vec<usize> = (0..choices.len())
        .filter(|&i| choices.get(i).is_some_and(|choice| matches(choice, &progress.query)))
        .collect();
    let last = found.len().saturating_sub(1);
    let at = i64::try_from(progress.at).unwrap_or(0) + i64::from(keys.rows);
    progress.at = usize::try_from(at).unwrap_or(0).min(last);
    if found.is_empty() {
        ui.add_space(4.0);
        ui.label("Nothing of that name.");
        return None;
    }
    let mut chosen = None;
    let moved = keys.rows != 0 || progress.frames < SETTLED;
    ScrollArea::vertical()
        .id_salt(id)
        .max_height(LIST_HEIGHT)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            for (place, &i) in found.iter().enumerate() {
                let Some(choice) = choices.get(i) else { continue };
                let response = row(
                    ui,
                    id.with(("choice", i)),
                    choice,
                    place == progress.at,
                    present == Some(i),
                );
                if moved && place == progress.at {
                    response.scroll_to_me(None);
                }
                if response.clicked() || (keys.choose && place == progress.at) {
                    chosen = Some(i);
                }
            }
        });
    chosen
}

/// Whether every word of the search is found; signs between figures do not count, so that `16x1.2` finds
/// `16.0 × 1.2 mm`.
fn matches(choice: &Choice, query: &str) -> bool {
    let plain = |text: &str| {
        let text = text.to_lowercase().replace(['×', '*'], "x").replace(',', ".");
        text.replace(" x ", "x").replace(".0x", "x").replace(".0 ", " ")
    };
    let all = plain(&format!("{} {} ", choice.text, choice.remark));
    let asked = plain(&format!("{} ", query.trim()).replace(" x ", "x"));
    let mut words = asked.split_whitespace().filter(|word| *word != "x");
    words.all(|word| all.contains(word))
}

fn row(ui: &mut Ui, id: Id, choice: &Choice, is_at: bool, is_present: bool) -> Response {
    let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), theme::TARGET), Sense::hover());
    let response = ui.interact(rect, id, Sense::CLICK);
    response.widget_info(|| WidgetInfo::selected(Role::ListBoxOption, true, is_present, &choice.text));
    ui.ctx().accesskit_node_builder(id, |node| {
        if !choice.remark.is_empty() {
            node.set_description(choice.remark.clone());
        }
        node.add_action(Action::Click);
    });
    let colours = theme::of(ui);
    let painter = ui.painter_at(rect);
    if is_at || response.hovered() {
        painter.rect_filled(rect, 3.0, colours.chosen);
    }
    if is_at {
        painter.rect_stroke(rect, 3.0, Stroke::new(1.5, colours.accent), StrokeKind::Inside);
    }
    let font = if is_present { theme::heavy } else { theme::plain };
    painter.text(
        rect.left_center() + vec2(8.0, 0.0),
        Align2::LEFT_CENTER,
        &choice.text,
        font(13.5),
        colours.text,
    );
    painter.text(
        rect.right_center() - vec2(8.0, 0.0),
        Align2::RIGHT_CENTER,
        &choice.remark,
        theme::plain(12.0),
        colours.quiet,
    );
    response
}

/// A small triangle that points down.
fn arrow(painter: &egui::Painter, rect: Rect, colour: egui::Color32) {
    let at = rect.center();
    let points = vec![at + vec2(-4.0, -2.5), at + vec2(4.0, -2.5), at + vec2(0.0, 3.0)];
    painter.add(Shape::convex_polygon(points, colour, Stroke::NONE));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_found_however_they_are_written() {
        let choice = Choice {
            text: "16.0 × 1.2 mm".into(),
            remark: "rack 2".into(),
        };
        for query in [
            "",
            "16",
            "16 x 1.2",
            "16x1.2",
            "16.0 × 1.2",
            "16,0 x 1,2",
            "rack",
            "RACK 16",
            "16 x",
        ] {
            assert!(matches(&choice, query), "{query}");
        }
        for query in ["18", "16 x 1.8", "rack 3", "16x1.25"] {
            assert!(!matches(&choice, query), "{query}");
        }
    }
}
