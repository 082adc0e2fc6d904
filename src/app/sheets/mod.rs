//! The sheets for the workshop: chosen, looked at page by page, and written to a file.

mod paint;
mod press;

use super::question;
use super::session::Session;
use super::theme;
use crate::shop::page::{Page, Paper};
use crate::shop::sheet::{Format, Request, What};
use egui::accesskit::Role;
use egui::{
    Button, Context, Frame, Id, Margin, Rect, RichText, ScrollArea, Sense, Ui, UiBuilder, Vec2, WidgetInfo, vec2,
};
use press::Press;

/// Greatest width of the dialog, points.
const WIDTH: f32 = 1200.0;
/// Width of the column of choices, points.
const CHOICES: f32 = 180.0;
/// Room for the bar by which the choices are scrolled, points.
const BAR: f32 = 10.0;
/// Room between pages, points.
const GAP: f32 = 12.0;
/// The pages are shown as they fit, times one of these.
const ZOOMS: [f32; 6] = [0.5, 0.75, 1.0, 1.5, 2.0, 3.0];
/// Which of them is the usual.
const FIT: usize = 2;

/// A sheet that is to be written to a file.
pub(crate) struct Written {
    /// What it is called.
    pub title: String,
    /// As what.
    pub format: Format,
    /// What is written.
    pub bytes: Vec<u8>,
}

/// The dialog while it is shown.
pub(crate) struct Sheets {
    what: What,
    paper: Paper,
    format: Format,
    zoom: usize,
    press: Press,
    /// Pages and the question that they answer.
    pages: Option<press::Made<press::Wanted, Vec<Page>>>,
    complaint: Option<String>,
}

/// What came of a frame of the dialog.
pub(crate) enum Outcome {
    /// It stays.
    Open,
    /// It was left.
    Closed,
    /// A sheet is to be saved.
    Save(Written),
}

impl Sheets {
    /// The dialog as it opens; `ctx` is repainted when a sheet has been made.
    pub(crate) fn new(ctx: &Context) -> Self {
        Self {
            what: What::Template,
            paper: Paper::A4,
            format: Format::Pdf,
            zoom: FIT,
            press: Press::new(ctx),
            pages: None,
            complaint: None,
        }
    }

    /// Shows the dialog.
    pub(crate) fn show(&mut self, ctx: &Context, session: &Session) -> Outcome {
        let apparatus = session.document.settled();
        let wanted = press::Wanted {
            revision: session.document.revision(),
            what: self.what,
            paper: self.paper,
        };
        if self.pages.as_ref().map(|(of, _)| *of) != Some(wanted) {
            self.press.ask_for_pages(wanted, apparatus);
        }
        let mut outcome = Outcome::Open;
        if let Some(pages) = self.press.pages() {
            self.pages = Some(pages);
        }
        match self.press.file() {
            Some((request, Ok(bytes))) => {
                outcome = Outcome::Save(Written {
                    title: format!("{} {}", apparatus.title, request.what.title()),
                    format: request.format,
                    bytes,
                });
            }
            Some((_, Err(complaint))) => self.complaint = Some(complaint),
            None => {}
        }
        let mut closed = false;
        let left = question::dialog(ctx, "sheets", |ui| {
            let room = vec2(
                question::width(ctx, WIDTH),
                (ctx.content_rect().height() - 90.0).max(240.0),
            );
            ui.set_min_size(room);
            ui.set_max_size(room);
            let rect = Rect::from_min_size(ui.min_rect().min, room);
            let (mut left, mut right) = (rect, rect);
            left.set_width(CHOICES);
            right.min.x = left.right() + 14.0;
            let first = ui
                .scope_builder(UiBuilder::new().max_rect(left), |ui| {
                    ScrollArea::vertical()
                        .id_salt("choices")
                        .auto_shrink([false, false])
                        .show(ui, |ui| self.choices(ui, session, &mut closed))
                        .inner
                })
                .inner;
            ui.scope_builder(UiBuilder::new().max_rect(right), |ui| self.look(ui, wanted));
            Some(first)
        });
        if (closed || left) && matches!(outcome, Outcome::Open) {
            return Outcome::Closed;
        }
        outcome
    }

    /// What is chosen; gives the control that has the focus first.
    fn choices(&mut self, ui: &mut Ui, session: &Session, closed: &mut bool) -> Id {
        let mut first = None;
        ui.label(RichText::new("Sheet").font(theme::heavy(13.5)));
        for what in What::ALL {
            let response = ui.selectable_label(self.what == what, what.title());
            first.get_or_insert(response.id);
            if response.clicked() {
                response.request_focus();
                self.what = what;
                self.complaint = None;
                if !what.formats().contains(&self.format) {
                    self.format = Format::Pdf;
                }
            }
        }
        ui.add_space(8.0);
        ui.label(RichText::new("Paper").font(theme::heavy(13.5)));
        ui.horizontal(|ui| {
            for paper in [Paper::A4, Paper::A3, Paper::Letter] {
                ui.selectable_value(&mut self.paper, paper, paper.name());
            }
        });
        ui.add_space(8.0);
        ui.label(RichText::new("Kind of file").font(theme::heavy(13.5)));
        ui.horizontal(|ui| {
            for format in self.what.formats() {
                ui.selectable_value(&mut self.format, *format, format.name().to_uppercase());
            }
        });
        ui.add_space(8.0);
        let is_busy = self.press.is_writing();
        let words = if is_busy {
            "Writing\u{2026}"
        } else {
            "Save this sheet\u{2026}"
        };
        let save = Button::new(words).min_size(vec2(CHOICES - BAR, theme::TARGET));
        if ui.add_enabled(!is_busy, save).clicked() {
            let request = Request {
                what: self.what,
                format: self.format,
                paper: self.paper,
                date: press::today(),
            };
            self.complaint = None;
            self.press.ask_for_file(request, session.document.settled());
        }
        let close = Button::new("Close").min_size(vec2(CHOICES - BAR, theme::TARGET));
        *closed = ui.add(close).clicked();
        if let Some(complaint) = &self.complaint {
            ui.add_space(6.0);
            ui.colored_label(theme::of(ui).stop, complaint);
        }
        first.unwrap_or(Id::NULL)
    }

    /// The pages.
    fn look(&mut self, ui: &mut Ui, wanted: press::Wanted) {
        let quiet = theme::of(ui).quiet;
        let pages = match &self.pages {
            Some((of, Ok(pages))) if of.what == wanted.what && of.paper == wanted.paper => pages,
            Some((of, Err(complaint))) if *of == wanted => {
                ui.colored_label(quiet, format!("There is no such sheet: {complaint}."));
                return;
            }
            _ => {
                ui.colored_label(quiet, "The pages are being made.");
                return;
            }
        };
        let count = pages.len();
        ui.horizontal(|ui| {
            let words = if count == 1 {
                "1 page".to_owned()
            } else {
                format!("{count} pages")
            };
            ui.label(words);
            for (sign, name, step) in [("\u{2212}", "Smaller pages", -1), ("+", "Larger pages", 1)] {
                let to = self.zoom.checked_add_signed(step).filter(|to| *to < ZOOMS.len());
                let button = Button::new(sign).min_size(Vec2::splat(theme::TARGET));
                let response = ui.add_enabled(to.is_some(), button).on_hover_text(name);
                response.widget_info(|| WidgetInfo::labeled(Role::Button, true, name));
                if let (true, Some(to)) = (response.clicked(), to) {
                    self.zoom = to;
                }
            }
        });
        let scale = fit(pages, ui.available_size() - Vec2::splat(4.0 * GAP)) * ZOOMS[self.zoom];
        let ground = Frame::new()
            .fill(theme::of(ui).rule)
            .inner_margin(Margin::same(GAP as i8));
        ground.show(ui, |ui| {
            ScrollArea::both()
                .id_salt((wanted.what as u8, wanted.paper as u8))
                .auto_shrink([false, false])
                .show(ui, |ui| show_pages(ui, pages, scale));
        });
    }
}

/// Points for a millimetre at which pages are as wide as there is room; one that lies is shown whole.
fn fit(pages: &[Page], room: Vec2) -> f32 {
    let scales = pages.iter().map(|page| {
        let (width, height) = (page.size.x as f32, page.size.y as f32);
        let across = room.x.max(80.0) / width;
        if width > height {
            across.min(room.y.max(80.0) / height)
        } else {
            across
        }
    });
    scales.fold(f32::INFINITY, f32::min)
}

/// The pages one below the other; `scale` is points for a millimetre.
fn show_pages(ui: &mut Ui, pages: &[Page], scale: f32) {
    for (i, page) in pages.iter().enumerate() {
        let size = vec2(page.size.x as f32, page.size.y as f32) * scale;
        let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
        let name = format!("Page {} of {}", i + 1, pages.len());
        response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &name));
        if ui.is_rect_visible(rect) {
            paint::page(ui.painter(), page, rect, scale);
        }
        ui.add_space(GAP);
    }
}
