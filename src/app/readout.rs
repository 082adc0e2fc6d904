//! The number under the hand, live beside it, as fields that can be typed into.

use super::field::{self, Change, Field, Number};
use super::handles::{Measure, refusal};
use super::session::Session;
use super::tag;
use super::theme;
use crate::model::param::Parameter;
use egui::{Align, Id, Layout, Pos2, Rect, RichText, Ui, UiBuilder, Vec2, vec2};

/// Width of the words before a number, points.
const CAPTION: f32 = 148.0;
/// Room around the numbers, points.
const MARGIN: Vec2 = vec2(8.0, 6.0);

/// Numbers of a piece beside the place where they are changed.
pub(crate) struct Readout {
    /// The piece that was shown when it began.
    piece: Option<String>,
    measures: Vec<Measure>,
    /// Where the hand is on the screen.
    at: Pos2,
    /// What the numbers are to keep off.
    clear: Option<Pos2>,
    /// Why what the hand asks for is refused.
    refused: Option<String>,
    /// A pull was given up for typing: what it showed goes unless a number is taken.
    pending: bool,
    /// The document as it was last shown here.
    revision: u64,
    /// The first number is to be typed into once the click that asked for it is over.
    opens: bool,
}

/// What became of a readout in a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Fate {
    /// It stays.
    Stays,
    /// It is over.
    Over,
}

impl Readout {
    /// A readout of `measures` beside a position on the screen, off `clear`.
    pub(crate) fn new(session: &Session, measures: Vec<Measure>, beside: Pos2, clear: Option<Pos2>) -> Self {
        Self {
            piece: session.selection.shown().map(str::to_owned),
            measures,
            at: beside,
            clear,
            refused: None,
            pending: false,
            revision: 0,
            opens: false,
        }
    }

    /// Whether it belongs to the piece that is shown.
    pub(crate) fn is_of(&self, shown: Option<&str>) -> bool {
        shown.is_some() && self.piece.as_deref() == shown
    }

    /// Goes along with the hand.
    pub(crate) fn follow(&mut self, session: &Session, beside: Pos2, refused: Option<String>) {
        self.at = beside;
        self.refused = refused;
        self.revision = session.document.revision();
    }

    /// The hand has let go: the numbers stay to be typed into.
    pub(crate) fn rest(&mut self, session: &Session) {
        self.refused = None;
        self.revision = session.document.revision();
    }

    fn id(measure: &Measure) -> Id {
        Id::unique("readout").with(&measure.owner).with(&measure.key)
    }

    /// Whether one of its fields is typed into.
    pub(crate) fn is_typed_into(&self, ctx: &egui::Context) -> bool {
        let focused = ctx.memory(|memory| memory.focused());
        focused.is_some_and(|id| self.measures.iter().any(|measure| Self::id(measure) == id))
    }

    /// Begins to type into the first number; what is shown of a pull under way stays until it is taken or left.
    pub(crate) fn begin(&mut self, ctx: &egui::Context, session: &Session, text: &str) {
        let first = self.measures.first();
        if let Some((measure, parameter)) = first.and_then(|m| Some((m, m.read(session.document.now())?))) {
            field::begin(ctx, Self::id(measure), text, parameter.value);
            self.pending = session.document.is_previewing();
            self.refused = None;
            self.revision = session.document.revision();
        }
    }

    /// Opens the first number to be typed into. A click takes the focus from every field, so that it is given after
    /// it.
    pub(crate) fn open(&mut self, session: &Session) {
        self.opens = true;
        self.revision = session.document.revision();
    }

    /// Shows the numbers and takes what is typed.
    pub(crate) fn show(&mut self, ui: &mut Ui, session: &mut Session, bench: Rect, held: bool) -> Fate {
        let numbers: Vec<(Measure, Parameter)> = self
            .measures
            .iter()
            .filter_map(|measure| Some((measure.clone(), measure.read(session.document.now())?)))
            .collect();
        if self.opens && !ui.input(|input| input.pointer.any_click()) {
            self.opens = false;
            if let Some((measure, _)) = numbers.first() {
                ui.memory_mut(|memory| memory.request_focus(Self::id(measure)));
            }
        } else if self.opens {
            ui.ctx().request_repaint();
        }
        let typed = self.is_typed_into(ui.ctx());
        let colours = theme::of(ui);
        if numbers.is_empty() {
            let Some(reason) = self.refused.clone().filter(|_| held) else {
                return Fate::Over;
            };
            tag::show(ui, bench, self.at, self.clear, &[(reason, colours.stop)]);
            return Fate::Stays;
        }
        if !held && !typed && !self.pending && session.document.revision() != self.revision {
            return Fate::Over;
        }
        let reason = numbers
            .iter()
            .find_map(|(measure, parameter)| field::refusal(ui, Self::id(measure), parameter.value))
            .or_else(|| self.refused.clone());
        let lines = if reason.is_some() { 2.0 } else { 0.0 };
        let height = (theme::TARGET + 4.0) * numbers.len() as f32 - 4.0 + 17.0 * lines;
        let size = vec2(CAPTION + 8.0 + Field::WIDTH, height) + 2.0 * MARGIN;
        let rect = tag::beside(bench, self.at, self.clear, size);
        tag::sheet(ui, rect);
        let mut inner = ui.new_child(UiBuilder::new().max_rect(rect.shrink2(MARGIN)));
        let mut answer = None;
        for (measure, parameter) in &numbers {
            let id = Self::id(measure);
            let change = inner
                .horizontal(|ui| {
                    let caption = UiBuilder::new()
                        .max_rect(Rect::from_min_size(ui.cursor().min, vec2(CAPTION, theme::TARGET)))
                        .layout(Layout::left_to_right(Align::Center));
                    ui.scope_builder(caption, |ui| {
                        ui.set_min_size(vec2(CAPTION, theme::TARGET));
                        let words = RichText::new(caption_of(&parameter.label)).size(12.5);
                        ui.add(egui::Label::new(words).truncate());
                    });
                    let field = Number {
                        id,
                        label: &parameter.label,
                        value: Some(parameter.value),
                        limit: parameter.limit,
                        length_unit: session.length_unit,
                        width: Field::WIDTH,
                        is_lit: false,
                        type_size: 13.5,
                    };
                    field.show(ui).change
                })
                .inner;
            answer = take(&inner, session, measure, parameter.value, change).or(answer);
        }
        if let Some(reason) = reason {
            inner.label(RichText::new(reason).font(theme::plain(12.0)).color(colours.stop));
        }
        match answer {
            Some(Ok(())) => (self.pending, self.refused, self.revision) = (false, None, session.document.revision()),
            Some(Err(reason)) if self.pending => {
                session.document.abandon();
                (self.pending, self.refused, self.revision) = (false, Some(reason), session.document.revision());
            }
            Some(Err(_)) => {}
            None if self.pending && !self.is_typed_into(ui.ctx()) => {
                session.document.abandon();
                return Fate::Over;
            }
            None => {}
        }
        Fate::Stays
    }
}

/// The label of a number without what the place on the bench tells anyway.
fn caption_of(label: &str) -> String {
    let detail = label.strip_prefix("Place: ").unwrap_or(label);
    let mut chars = detail.chars();
    chars
        .next()
        .map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// Carries out what was done to a field; `None` when nothing was, else whether the document took it or why not.
fn take(
    ui: &Ui,
    session: &mut Session,
    measure: &Measure,
    stands: f64,
    change: Option<Change>,
) -> Option<Result<(), String>> {
    let id = Readout::id(measure);
    let (value, is_final) = match change? {
        Change::Keep => {
            let words = measure.words(session.document.now(), stands, session.length_unit);
            session.document.keep(&words);
            return Some(Ok(()));
        }
        Change::Preview(value) => (value, false),
        Change::Set(value) => (value, true),
    };
    Some(match session.document.settled().apply(&measure.edit(value)) {
        Ok(next) if is_final => {
            session
                .document
                .change(&measure.words(&next, value, session.length_unit), next);
            field::forget(ui, id);
            Ok(())
        }
        Ok(next) => {
            session.document.preview(next);
            field::forget(ui, id);
            Ok(())
        }
        Err(error) => {
            let reason = refusal(&error, session.length_unit);
            field::answer(ui, id, Some(reason.clone()), value, stands);
            Err(reason)
        }
    })
}
