//! The starter's dialog: a few numbers at the left, the apparatus that they give at the right, drawn anew with every
//! change.

use super::field::{self, Change, Field};
use super::sketch::Sketch;
use super::theme;
use crate::model::limits::{Limit, Unit};
use crate::model::{Apparatus, TubeSize};
use crate::starter::{self, Part, Refusal, SLOPE, Side, Start, TARGET, VESSELS, Wish};
use crate::units::{self, Quantity, angle_text, length_text, volume_text};
use egui::{
    Align, Align2, Button, Checkbox, ComboBox, EventFilter, Grid, Id, Key, Layout, Modal, Modifiers, Rect, RichText,
    Role, ScrollArea, Sense, TextEdit, Ui, WidgetInfo, pos2, vec2,
};

/// Width of the numbers, points.
const NUMBERS: f32 = 296.0;
/// Largest size of the dialog's content, points.
const LARGEST: egui::Vec2 = vec2(960.0, 520.0);
/// Least width of the picture beside them, points.
const LEAST_PICTURE: f32 = 320.0;
/// Width from which the sums stand in two columns, points.
const TWO_COLUMNS: f32 = 460.0;
/// Height of a line of the sums, points.
const SUM: f32 = 20.0;
/// Lines of the sums.
const SUMS: usize = 8;
/// Width of the choice of a tube, points.
const TUBE: f32 = 164.0;
/// The choice that leaves a tube to the starter.
const SUITS: &str = "What suits";
/// Longest name of a liquid that can be typed, characters.
const LONGEST_NAME: usize = 80;

/// The dialog. Its numbers stay when it is closed, for the next time.
#[derive(Default)]
pub(crate) struct Starter {
    wish: Wish,
    is_open: bool,
    /// Opened in this frame: the first number gets the focus.
    is_fresh: bool,
    /// Asked for by key; carried out once the field that was typed into has been read.
    is_asked: bool,
    /// A field holds something that it does not take.
    refuses: bool,
    shown: Option<Shown>,
}

/// What a wish came to.
struct Shown {
    wish: Wish,
    outcome: Result<Start, Refusal>,
    /// Of the last apparatus that could be made.
    sketch: Sketch,
}

/// An apparatus for the bench, and words for the history.
pub(crate) struct Begun {
    pub apparatus: Apparatus,
    pub words: String,
}

impl Starter {
    /// Opens the dialog.
    pub(crate) fn open(&mut self) {
        self.is_open = true;
        self.is_fresh = true;
        self.is_asked = false;
    }

    /// Whether it is open.
    pub(crate) fn is_open(&self) -> bool {
        self.is_open
    }

    /// Shows the dialog if it is open; gives the apparatus once it is to be put on the bench.
    pub(crate) fn show(&mut self, ctx: &egui::Context, bench_is_empty: bool) -> Option<Begun> {
        if !self.is_open {
            return None;
        }
        self.follow(ctx);
        let mut put = std::mem::take(&mut self.is_asked);
        // Escape in a field gives up what is typed there, not the dialog.
        let (focused, popup) = (ctx.memory(|memory| memory.focused()), egui::Popup::is_any_open(ctx));
        let leaves_field = focused.is_some() && ctx.input(|input| input.key_pressed(Key::Escape));
        if ctx.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::Enter)) {
            // A field that is typed into is read at its own Enter, later in this frame.
            if ctx.text_edit_focused() {
                ctx.input_mut(|input| input.events.push(enter()));
            }
            self.is_asked = true;
            ctx.request_discard("what is typed is read before the apparatus is taken");
        } else if focused.is_none() && !popup && ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Enter)) {
            put = true;
        }
        let mut cancel = false;
        let modal = Modal::new(Id::unique("starter"))
            .frame(theme::dialog(ctx))
            .show(ctx, |ui| {
                let room = ctx.content_rect().size() - vec2(64.0, 64.0);
                let size = LARGEST.min(room).max(vec2(280.0, 200.0));
                ui.set_width(size.x);
                ui.set_height(size.y);
                ui.heading("Starter");
                ui.add_space(4.0);
                let body = vec2(size.x, ui.available_height() - theme::TARGET - 18.0);
                self.body(ui, body);
                ui.add_space(8.0);
                ui.horizontal(|ui| {
                    let can = self.start().is_some();
                    let colours = theme::of(ui);
                    let words =
                        RichText::new("Put it on the bench").color(if can { colours.on_accent } else { colours.quiet });
                    let button = Button::new(words).fill(if can { colours.accent } else { colours.panel });
                    let keys = ctx.format_shortcut(&egui::KeyboardShortcut::new(Modifiers::COMMAND, Key::Enter));
                    put |= ui.add_enabled(can, button).on_hover_text(keys).clicked();
                    cancel = ui.button("Cancel").clicked();
                    if !bench_is_empty {
                        let words = "Undo brings back what is on the bench now.";
                        ui.add(egui::Label::new(RichText::new(words).color(colours.quiet)).truncate());
                    }
                });
            });
        self.is_fresh = false;
        if cancel || (modal.should_close() && !leaves_field) {
            self.is_open = false;
            return None;
        }
        let begun = self.start().filter(|_| put).map(|start| {
            let vials = if self.wish.vessels == 1 { "vial" } else { "vials" };
            Begun {
                apparatus: start.apparatus.clone(),
                words: format!(
                    "Starter: {} {vials} of {}",
                    self.wish.vessels,
                    volume_text(self.wish.target_ml)
                ),
            }
        });
        self.is_open = begun.is_none();
        begun
    }

    /// The apparatus, if it can be made and nothing else has been typed.
    fn start(&self) -> Option<&Start> {
        let shown = self.shown.as_ref().filter(|_| !self.refuses);
        shown.and_then(|shown| shown.outcome.as_ref().ok())
    }

    /// Makes the apparatus anew if the wish has changed.
    fn follow(&mut self, ctx: &egui::Context) {
        if self.shown.as_ref().is_some_and(|shown| shown.wish == self.wish) {
            return;
        }
        // What stands above the change was drawn before it.
        ctx.request_discard("the wish has changed");
        let outcome = starter::start(&self.wish);
        let before = self.shown.take().map(|shown| shown.sketch);
        let sketch = match &outcome {
            Ok(start) => Sketch::of(&start.apparatus),
            Err(_) => before.unwrap_or_else(|| Sketch::of(&Apparatus::default())),
        };
        self.shown = Some(Shown {
            wish: self.wish.clone(),
            outcome,
            sketch,
        });
    }

    /// Numbers and picture, side by side where there is room, else one below the other.
    fn body(&mut self, ui: &mut Ui, size: egui::Vec2) {
        let beside = size.x >= NUMBERS + LEAST_PICTURE;
        ui.allocate_ui_with_layout(size, Layout::left_to_right(Align::Min), |ui| {
            ui.set_min_size(size);
            let numbers = vec2(if beside { NUMBERS } else { size.x }, size.y);
            ui.allocate_ui_with_layout(numbers, Layout::top_down(Align::Min), |ui| {
                ui.set_min_size(numbers);
                let area = ScrollArea::vertical().id_salt("numbers").auto_shrink(false);
                area.show(ui, |ui| {
                    self.numbers(ui);
                    self.follow(ui.ctx());
                    if !beside {
                        self.picture(ui, 170.0);
                    }
                });
            });
            if beside {
                ui.add_space(8.0);
                let rest = vec2(ui.available_width(), size.y);
                ui.allocate_ui_with_layout(rest, Layout::top_down(Align::Min), |ui| {
                    #[allow(clippy::cast_precision_loss, reason = "a few lines")]
                    let sums = SUM * SUMS.div_ceil(columns(rest.x)) as f32;
                    self.picture(ui, size.y - sums - 38.0);
                });
            }
        });
    }

    /// What is wished.
    fn numbers(&mut self, ui: &mut Ui) {
        let wish = &mut self.wish;
        let mut vessels = wish.vessels as f64;
        self.refuses = number(ui, "Number of vials", &mut vessels, &VESSELS);
        if self.is_fresh {
            ui.memory_mut(|memory| memory.request_focus(id_of("Number of vials")));
        }
        if VESSELS.allows(vessels) {
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "a whole number up to 24"
            )]
            let whole = vessels as usize;
            wish.vessels = whole;
        }
        self.refuses |= number(ui, "Target fill of each", &mut wish.target_ml, &TARGET);
        line(ui, "Liquid", |ui, label| {
            let edit = TextEdit::singleline(&mut wish.liquid)
                .char_limit(LONGEST_NAME)
                .desired_width(Field::WIDTH - 8.0)
                .min_size(vec2(Field::WIDTH, theme::TARGET));
            let name = ui.add(edit).labelled_by(label);
            // Come to by Tab it is typed over, as numbers are.
            if name.gained_focus() && !ui.input(|input| input.pointer.any_pressed()) {
                field::select_all(ui, name.id, wish.liquid.chars().count());
            }
        });
        heading(ui, "Parts");
        Grid::new("parts")
            .num_columns(2)
            .spacing(vec2(24.0, 2.0))
            .show(ui, |ui| {
                let parts = [
                    ("Receiver", &mut wish.receiver),
                    ("Pot", &mut wish.pot),
                    ("Vacuum port", &mut wish.vacuum_port),
                    ("Gas port", &mut wish.gas_port),
                    ("Return tube", &mut wish.return_tube),
                ];
                for (i, (name, on)) in parts.into_iter().enumerate() {
                    ui.add(Checkbox::new(on, name));
                    if i % 2 == 1 {
                        ui.end_row();
                    }
                }
            });
        heading(ui, "Header");
        self.refuses |= number(ui, "Slope, rising away", &mut wish.slope_deg, &SLOPE);
        line(ui, "Runs to the", |ui, _| {
            ui.spacing_mut().item_spacing.x = 4.0;
            let half = vec2((Field::WIDTH - 4.0) / 2.0, theme::TARGET);
            // Laid out from the right.
            for (side, name) in [(Side::Right, "Right"), (Side::Left, "Left")] {
                let button = Button::selectable(wish.side == side, name).min_size(half);
                if ui.add(button).clicked() {
                    wish.side = side;
                }
            }
        });
        heading(ui, "Tubes");
        let chosen = match &self.shown {
            Some(Shown { outcome: Ok(start), .. }) => Some(start.sums.sizes),
            _ => None,
        };
        for part in Part::ALL {
            let suits = chosen.map(|sizes| *sizes.of(part));
            tube(ui, part, wish.sizes.of_mut(part), suits);
        }
        ui.add_space(4.0);
    }

    /// The picture, and below it the sums or the refusal.
    fn picture(&mut self, ui: &mut Ui, height: f32) {
        let Some(shown) = &mut self.shown else { return };
        let colours = theme::of(ui);
        let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, "The apparatus as drawn"));
        let mut painter = ui.painter_at(rect);
        painter.rect_filled(rect, 6.0, colours.bench);
        if shown.outcome.is_err() {
            // The last one that could be made stays, as what it is: not what was asked for.
            painter.set_opacity(0.25);
        }
        shown.sketch.paint(&painter, colours, rect.shrink(18.0));
        ui.add_space(6.0);
        match &shown.outcome {
            Ok(start) => sums(ui, start),
            Err(refusal) => {
                let words = refusal.to_string().replace(" deg", "°");
                ui.label(RichText::new(words).color(colours.stop));
            }
        }
    }
}

fn heading(ui: &mut Ui, words: &str) {
    ui.add_space(6.0);
    ui.label(RichText::new(words).font(theme::heavy(12.5)));
}

/// The key that ends typing.
fn enter() -> egui::Event {
    egui::Event::Key {
        key: Key::Enter,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::NONE,
    }
}

/// A label and, at the right edge, what belongs to it.
fn line(ui: &mut Ui, words: &str, content: impl FnOnce(&mut Ui, Id)) {
    ui.horizontal(|ui| {
        ui.set_min_height(theme::TARGET);
        let label = ui.label(words);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            // Room for the bar of what scrolls.
            ui.add_space(6.0);
            content(ui, label.id);
        });
    });
}

fn id_of(words: &str) -> Id {
    Id::unique("starter").with(words)
}

/// A number with its limits; tells whether it refuses what was typed.
pub(crate) fn number(ui: &mut Ui, words: &str, value: &mut f64, limit: &'static Limit) -> bool {
    let id = id_of(words);
    let (unit, digits, quantity) = match limit.unit {
        Unit::Mm => ("mm", 1, Quantity::Length),
        Unit::Deg => ("°", 1, Quantity::Angle),
        Unit::Count => ("", 0, Quantity::Number),
        unit => (unit.symbol(), 2, unit.quantity()),
    };
    let stands = *value;
    line(ui, words, |ui, _| {
        let field = Field {
            id,
            label: words,
            value: stands,
            unit,
            digits,
            step: limit.step,
            range: (limit.min, limit.max),
        };
        let parse = |text: &str| units::parse(text, quantity).map_err(|error| format!("Can't be: {error}."));
        match field.show(ui, parse) {
            Some(Change::Set(asked)) if !limit.allows(asked) => {
                let reason = format!("Must be {limit}.").replace(" deg", "°");
                field::answer(ui, id, Some(reason), asked, stands);
            }
            Some(Change::Set(asked) | Change::Preview(asked)) => {
                *value = limit.nearest(asked);
                field::forget(ui, id);
            }
            Some(Change::Keep) | None => {}
        }
    });
    let refusal = field::refusal(ui, id, stands);
    if let Some(refusal) = &refusal {
        let colour = theme::of(ui).stop;
        ui.label(RichText::new(refusal).font(theme::plain(12.0)).color(colour));
    }
    refusal.is_some()
}

/// A tube: what suits, or one from stock. Arrow keys step through the stock without opening the list.
fn tube(ui: &mut Ui, part: Part, wished: &mut Option<TubeSize>, suits: Option<TubeSize>) {
    let size_text = |size: TubeSize| format!("{} × {} mm", size.od_mm, size.wall_mm);
    let suited = suits.map_or_else(|| SUITS.to_owned(), |size| format!("Suits: {}", size_text(size)));
    let name = match part {
        Part::Header => "Header",
        Part::Body => "Body of a vial",
        Part::Neck => "Neck of a vial",
        Part::Bridge => "Bridge",
    };
    line(ui, name, |ui, label| {
        let text = wished.map_or_else(|| suited.clone(), size_text);
        let shown = ComboBox::from_id_salt(name)
            .selected_text(text)
            .width(TUBE)
            .height(280.0)
            .show_ui(ui, |ui| {
                ui.selectable_value(wished, None, SUITS);
                for size in starter::offered(part) {
                    ui.selectable_value(wished, Some(size), size_text(size));
                }
            });
        let response = shown.response.labelled_by(label);
        let id = response.id;
        if !response.has_focus() || shown.inner.is_some() {
            return;
        }
        let filter = EventFilter {
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|memory| memory.set_focus_lock_filter(id, filter));
        let step = ui.input_mut(|input| {
            let up = input.count_and_consume_key(Modifiers::NONE, Key::ArrowUp);
            let down = input.count_and_consume_key(Modifiers::NONE, Key::ArrowDown);
            up as i64 - down as i64
        });
        if step != 0 {
            *wished = stepped(part, wished.or(suits), step);
        }
    });
}

/// The size so many places up or down the stock; below the least, what suits.
fn stepped(part: Part, from: Option<TubeSize>, step: i64) -> Option<TubeSize> {
    let stock: Vec<TubeSize> = starter::offered(part).collect();
    let at = from.and_then(|from| stock.iter().position(|size| *size == from));
    let to = at.map_or(0, |at| i64::try_from(at).unwrap_or(0) + step);
    usize::try_from(to)
        .ok()
        .map(|to| to.min(stock.len() - 1))
        .and_then(|to| stock.get(to).copied())
}

/// Columns of the sums.
fn columns(width: f32) -> usize {
    if width >= TWO_COLUMNS { 2 } else { 1 }
}

/// The sums of an apparatus, and what was found in it.
fn sums(ui: &mut Ui, start: &Start) {
    let sums = &start.sums;
    let colours = theme::of(ui);
    let lines: [_; SUMS] = [
        ("Vial up to its seal-off place", volume_text(sums.sealed_ml)),
        ("Level to the seal-off place", length_text(sums.room_mm)),
        ("Body, straight", length_text(sums.body_mm)),
        ("Charge", volume_text(sums.charge_ml)),
        ("Header", length_text(sums.header_mm)),
        ("From vial to vial", length_text(sums.pitch_mm)),
        (
            "Fills the vials at a tilt of",
            angle_text(sums.pour_deg).replace('-', "−"),
        ),
        ("Glass, along all centrelines", length_text(sums.glass_mm)),
    ];
    let columns = columns(ui.available_width());
    let width = ui.available_width();
    let height = SUM;
    let rows = lines.len().div_ceil(columns);
    let (rect, _) = ui.allocate_exact_size(vec2(width, height * rows as f32), Sense::hover());
    for (i, (words, value)) in lines.iter().enumerate() {
        let column = (width - 28.0 * (columns as f32 - 1.0)) / columns as f32;
        let left = rect.left() + (i / rows) as f32 * (column + 28.0);
        let at = Rect::from_min_size(
            pos2(left, rect.top() + height * (i % rows) as f32),
            vec2(column, height),
        );
        let response = ui.interact(at, ui.scope_id().with(words), Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{words}: {value}")));
        let painter = ui.painter();
        painter.text(
            at.left_center(),
            Align2::LEFT_CENTER,
            words,
            theme::plain(12.5),
            colours.quiet,
        );
        painter.text(
            at.right_center(),
            Align2::RIGHT_CENTER,
            value,
            theme::heavy(13.0),
            colours.text,
        );
    }
    let found = match start.notes.as_slice() {
        [] => "Nothing is doubtful or in the way.".to_owned(),
        [note] => format!("1 note: {} ({}).", note.what, note.piece),
        [first, more @ ..] => format!("{} notes, first: {} ({}).", 1 + more.len(), first.what, first.piece),
    };
    let all: Vec<String> = start
        .notes
        .iter()
        .map(|note| format!("{}: {}. {} {}", note.piece, note.what, note.why, note.mend))
        .collect();
    let label = egui::Label::new(RichText::new(found).color(colours.text)).truncate();
    let response = ui.add(label);
    if !all.is_empty() {
        response.on_hover_text(all.join("\n"));
    }
}
