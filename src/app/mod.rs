//! The window: takes commands, lays out bench and column, and keeps what follows from the document up to date.

mod bench;
mod calibration;
mod command;
mod controls;
mod dialogs;
mod dims;
mod field;
mod glass;
mod ledger;
mod menu;
mod meter;
mod nodes;
mod paint;
mod paper;
mod particulars;
mod ring;
mod scene;
mod session;
mod theme;
mod view;
mod worker;

pub use command::Command;
pub use paper::Sheet;
pub use session::{Document, Selection, Session};

use crate::files::{self, FilesError};
use crate::geom::Stance;
use crate::model::{Apparatus, file};
use crate::units::{self, Quantity};
use bench::Bench;
use calibration::Calibration;
use dialogs::{Dialogs, Purpose};
use egui::{CentralPanel, Frame, Id, Margin, Modal, Panel, RichText, ScrollArea, ThemePreference, Ui, vec2};
use field::{Change, Field};
use meter::{Meter, Part};
use ring::Event;
use scene::{Scene, Still};
use std::path::{Path, PathBuf};
use std::time::Instant;
use worker::{Subject, Worker};

/// The example that is shown when no file is named.
const DEMO: &str = include_str!("../../examples/rubidium-six.json");
/// How far a key moves the paper, points.
const LOOK: f32 = 60.0;
/// Below this width the column of numbers starts hidden, points.
const NARROW: f32 = 820.0;

/// How a window starts.
#[derive(Clone, Debug)]
pub struct Opening {
    /// The design to show; the example when there is none.
    pub path: Option<PathBuf>,
    /// Whether files are asked for by the system's dialog where there is one.
    pub system_dialogs: bool,
}

/// Opens the window and returns when it is closed.
///
/// # Errors
/// When the system gives no window.
pub fn run(path: Option<PathBuf>) -> Result<(), eframe::Error> {
    let icon = eframe::icon_data::from_png_bytes(include_bytes!("../../assets/icon.png")).unwrap_or_default();
    let options = eframe::NativeOptions {
        viewport: egui::ViewportBuilder::default()
            .with_app_id("vialwright")
            .with_title("Vialwright")
            .with_icon(icon)
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([512.0, 360.0]),
        renderer: eframe::Renderer::Glow,
        ..Default::default()
    };
    let opening = Opening {
        path,
        system_dialogs: true,
    };
    eframe::run_native(
        "Vialwright",
        options,
        Box::new(|cc| Ok(Box::new(Window::new(&cc.egui_ctx, opening)))),
    )
}

/// What is being asked before something unsaved would be lost.
#[derive(Clone, Debug, PartialEq)]
enum Doubt {
    /// Close the window.
    Close,
    /// Open another design.
    Open(PathBuf),
}

/// A line at the foot of the window.
struct Notice {
    text: String,
    is_refusal: bool,
}

/// What [`Still`] was computed for.
#[derive(Clone, Copy, PartialEq)]
struct Basis {
    revision: u64,
    stance: Stance,
}

/// The window's state.
pub struct Window {
    session: Session,
    bench: Bench,
    scene: Option<(u64, Scene)>,
    still: Still,
    events: (Subject, Vec<Event>),
    worker: Worker,
    basis: Option<Basis>,
    dialogs: Dialogs,
    notice: Option<Notice>,
    doubt: Option<Doubt>,
    /// What to do once a save that was asked for in doubt is done.
    after_save: Option<Doubt>,
    may_close: bool,
    column: Option<bool>,
    title: String,
    calibration: Calibration,
    meter: Meter,
}

impl Window {
    /// A window on the design that `opening` names, or on the example.
    pub fn new(ctx: &egui::Context, opening: Opening) -> Self {
        theme::install(ctx);
        let mut notice = None;
        let document = match opening.path.as_deref().map(read_design) {
            Some(Ok(document)) => document,
            Some(Err(message)) => {
                notice = Some(Notice {
                    text: message,
                    is_refusal: true,
                });
                Document::new(Apparatus::default(), None)
            }
            None => Document::new(demo(), None),
        };
        let mut bench = Bench::default();
        bench.fit();
        Self {
            session: Session::new(document),
            bench,
            scene: None,
            still: Still::default(),
            events: (Subject::default(), Vec::new()),
            worker: Worker::new(ctx),
            basis: None,
            dialogs: Dialogs::new(opening.system_dialogs),
            notice,
            doubt: None,
            after_save: None,
            may_close: false,
            column: None,
            title: String::new(),
            calibration: Calibration::default(),
            meter: Meter::default(),
        }
    }

    /// Document, stance and selection.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Our own work in the last frames that had such: what it was, and its last, median and worst time, ms.
    pub fn frame_times(&self) -> Vec<(&'static str, [f64; 3])> {
        self.meter.times()
    }

    /// Carries out a command.
    pub fn carry_out(&mut self, ctx: &egui::Context, command: Command) {
        if !command.is_possible(&self.session) {
            return;
        }
        let Stance { tilt_deg, roll_deg } = self.session.stance;
        match command {
            Command::Open => {
                let near = self.session.document.path().map(Path::to_path_buf);
                self.dialogs.ask(ctx, Purpose::Open, near.as_deref(), "");
            }
            Command::Save => match self.session.document.path().map(Path::to_path_buf) {
                Some(path) => self.save(ctx, path),
                None => self.ask_where_to_save(ctx),
            },
            Command::SaveAs => self.ask_where_to_save(ctx),
            Command::Quit => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            Command::Undo => self.session.document.undo(),
            Command::Redo => self.session.document.redo(),
            Command::SelectNothing => self.session.selection.clear(),
            Command::Fit => self.bench.fit(),
            Command::ZoomIn => self.bench.zoom(&self.session, 1.25),
            Command::ZoomOut => self.bench.zoom(&self.session, 0.8),
            Command::TrueSize => match calibration::points_per_mm(ctx) {
                (scale, true) => self.bench.scale_to(&self.session, scale),
                (_, false) => self.calibration.open(ctx),
            },
            Command::Calibrate => self.calibration.open(ctx),
            Command::LookLeft => self.bench.pan(&self.session, vec2(LOOK, 0.0)),
            Command::LookRight => self.bench.pan(&self.session, vec2(-LOOK, 0.0)),
            Command::LookUp => self.bench.pan(&self.session, vec2(0.0, LOOK)),
            Command::LookDown => self.bench.pan(&self.session, vec2(0.0, -LOOK)),
            Command::Dimensions => {
                self.session.sheet.dimensions ^= true;
                self.bench.fit_again();
            }
            Command::Grid => self.session.sheet.grid ^= true,
            Command::Rulers => self.session.sheet.rulers ^= true,
            Command::FrameTimes => self.meter.toggle(),
            Command::Upright => self.session.stance = Stance::default(),
            Command::TiltAnticlockwise => self.session.tilt_to(tilt_deg + 1.0),
            Command::TiltClockwise => self.session.tilt_to(tilt_deg - 1.0),
            Command::NudgeAnticlockwise => self.session.tilt_to(tilt_deg + 0.1),
            Command::NudgeClockwise => self.session.tilt_to(tilt_deg - 0.1),
            Command::RollTowards => self.session.roll_to(roll_deg + 1.0),
            Command::RollAway => self.session.roll_to(roll_deg - 1.0),
            Command::Column => self.column = Some(!self.shows_column(ctx)),
            Command::Light => ctx.set_theme(ThemePreference::Light),
            Command::Dark => ctx.set_theme(ThemePreference::Dark),
            Command::FollowSystem => ctx.set_theme(ThemePreference::System),
        }
        self.session.sheet.keep(ctx);
        self.session.check_selection();
    }

    fn shows_column(&self, ctx: &egui::Context) -> bool {
        self.column.unwrap_or(ctx.content_rect().width() >= NARROW)
    }

    fn ask_where_to_save(&mut self, ctx: &egui::Context) {
        let near = self.session.document.path().map(Path::to_path_buf);
        let name = file_name_for(&self.session.document.settled().title);
        self.dialogs.ask(ctx, Purpose::Save, near.as_deref(), &name);
    }

    fn save(&mut self, ctx: &egui::Context, path: PathBuf) {
        let apparatus = self.session.document.settled().clone();
        match write_design(&path, &apparatus) {
            Ok(()) => {
                self.notice = Some(Notice {
                    text: format!("Saved as {}", path.display()),
                    is_refusal: false,
                });
                self.session.document.note_saved(apparatus, path);
                if let Some(next) = self.after_save.take() {
                    self.proceed(ctx, next);
                }
            }
            Err(error) => {
                self.after_save = None;
                self.notice = Some(Notice {
                    text: format!("Not saved: {error}"),
                    is_refusal: true,
                });
            }
        }
    }

    fn open(&mut self, path: &Path) {
        match read_design(path) {
            Ok(document) => {
                self.session = Session::new(document);
                self.scene = None;
                self.basis = None;
                self.notice = None;
                self.bench.fit();
            }
            Err(message) => {
                self.notice = Some(Notice {
                    text: message,
                    is_refusal: true,
                })
            }
        }
    }

    /// Does what was asked, whether or not something is unsaved.
    fn proceed(&mut self, ctx: &egui::Context, doubt: Doubt) {
        match doubt {
            Doubt::Close => {
                self.may_close = true;
                ctx.send_viewport_cmd(egui::ViewportCommand::Close);
            }
            Doubt::Open(path) => self.open(&path),
        }
    }

    /// Takes answers of dialogs, the wish to close, and keys.
    fn take_events(&mut self, ctx: &egui::Context) {
        match self.dialogs.poll(ctx) {
            Some((Purpose::Open, path)) if self.session.document.is_unsaved() => self.doubt = Some(Doubt::Open(path)),
            Some((Purpose::Open, path)) => self.open(&path),
            Some((Purpose::Save, path)) => self.save(ctx, path),
            None if !self.dialogs.is_open() && self.doubt.is_none() => self.after_save = None,
            None => {}
        }
        let close = ctx.input(|input| input.viewport().close_requested());
        if close && !self.may_close && self.session.document.is_unsaved() {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.doubt = Some(Doubt::Close);
        }
        if self.doubt.is_some() || self.dialogs.is_open() || self.calibration.is_open() {
            return;
        }
        let in_field = ctx.memory(|memory| memory.focused().is_some())
            || egui::Popup::is_any_open(ctx)
            || self.bench.is_typed_into();
        if let Some(command) = Command::pressed(ctx, in_field) {
            self.carry_out(ctx, command);
        }
    }

    /// Asks what to do about unsaved changes.
    fn ask_in_doubt(&mut self, ctx: &egui::Context) {
        let Some(doubt) = self.doubt.clone() else { return };
        let modal = Modal::new(Id::unique("unsaved"))
            .frame(theme::dialog(ctx))
            .show(ctx, |ui| {
                ui.set_width(360.0);
                ui.heading("The design has changes that are not saved");
                ui.add_space(4.0);
                ui.label(if doubt == Doubt::Close {
                    "Save them before closing?"
                } else {
                    "Save them before another is opened?"
                });
                ui.add_space(10.0);
                ui.horizontal(|ui| {
                    if ui.button("Save").clicked() {
                        self.doubt = None;
                        self.after_save = Some(doubt.clone());
                        self.carry_out(ctx, Command::Save);
                    }
                    if ui.button("Drop the changes").clicked() {
                        self.doubt = None;
                        self.proceed(ctx, doubt.clone());
                    }
                    if ui.button("Cancel").clicked() {
                        self.doubt = None;
                    }
                });
            });
        if modal.should_close() {
            self.doubt = None;
        }
    }

    /// Computes what follows from the document and the stance, if they have changed.
    fn bring_up_to_date(&mut self, ctx: &egui::Context) {
        let revision = self.session.document.revision();
        let basis = Basis {
            revision,
            stance: self.session.stance,
        };
        if self.basis == Some(basis) {
            return;
        }
        if self.scene.as_ref().is_none_or(|(of, _)| *of != revision) {
            let began = Instant::now();
            self.scene = Some((revision, Scene::of(self.session.document.now())));
            self.meter.note(ctx, Part::Scene, began);
        }
        if let Some((_, scene)) = &self.scene {
            let began = Instant::now();
            self.still = Still::at(scene, basis.stance);
            self.meter.note(ctx, Part::Settle, began);
        }
        self.basis = Some(basis);
    }

    /// Something was drawn before the change that it depends on: this frame is laid out once more.
    fn lay_out_again_if_changed_since(&self, before: Option<Basis>, ctx: &egui::Context) {
        if self.basis != before {
            ctx.request_discard("the document or the stance changed within the frame");
        }
    }

    /// Asks for the events of the selected piece and takes what has been found since. While a number is dragged the
    /// marks of the value before stay until the new ones are there; those of another piece go at once.
    fn follow_events(&mut self) {
        let Some((revision, scene)) = &self.scene else { return };
        let selected = self.session.selection.shown();
        let subject = selected.and_then(|name| scene.subject(*revision, name, self.session.stance, &self.still));
        if let (Some(subject), Some(interior)) = (&subject, &scene.interior) {
            self.worker.ask(subject, interior);
        }
        if let Some(answer) = self.worker.answer() {
            self.events = answer;
        }
        if subject.is_none_or(|subject| subject.piece != self.events.0.piece) {
            self.events.1.clear();
        }
    }

    fn column(&mut self, ui: &mut Ui) {
        let height = ui.available_height();
        let frame = Frame::new()
            .fill(theme::of(ui).panel)
            .inner_margin(Margin::symmetric(10, 8));
        Panel::bottom("ledger")
            .resizable(true)
            .frame(frame)
            .default_size(height * 0.5)
            .size_range(110.0..=height - 120.0)
            .show(ui, |ui| {
                ui.heading("Ledger");
                ScrollArea::vertical()
                    .id_salt("ledger")
                    .auto_shrink([false, false])
                    .show(ui, |ui| {
                        ui.spacing_mut().item_spacing.y = 0.0;
                        ledger::show(ui, &mut self.session, &self.still);
                    });
            });
        CentralPanel::no_frame().frame(frame).show(ui, |ui| {
            ui.heading("Particulars");
            particulars::show(ui, &mut self.session);
        });
    }

    /// The strip under the bench: the stance as numbers, and the last message.
    fn strip(&mut self, ui: &mut Ui) {
        ui.horizontal_centered(|ui| {
            let Stance { tilt_deg, roll_deg } = self.session.stance;
            for (label, value, range) in [("Tilt", tilt_deg, (-180.0, 180.0)), ("Roll", roll_deg, (-90.0, 90.0))] {
                ui.label(label);
                let id = Id::unique("stance").with(label);
                let field = Field {
                    id,
                    label,
                    value,
                    unit: "°",
                    digits: 1,
                    step: 1.0,
                    range,
                };
                let parse = |text: &str| units::parse(text, Quantity::Angle).map_err(|error| error.to_string());
                match field.show(ui, parse) {
                    Some(Change::Set(asked)) if !(range.0..=range.1).contains(&asked) => {
                        let reason =
                            format!("{label} must lie between {}° and {}°.", range.0, range.1).replace('-', "−");
                        field::answer(ui, id, Some(reason), asked, value);
                    }
                    Some(Change::Set(asked) | Change::Preview(asked)) => {
                        field::forget(ui, id);
                        if label == "Tilt" {
                            self.session.tilt_to(asked)
                        } else {
                            self.session.roll_to(asked)
                        }
                    }
                    Some(Change::Keep) | None => {}
                }
                if let Some(refusal) = field::refusal(ui, id, value) {
                    ui.label(RichText::new(refusal).color(theme::of(ui).stop));
                }
            }
            if ui.button("As drawn").clicked() {
                self.session.stance = Stance::default();
            }
            if ui.button("Fit").clicked() {
                self.bench.fit();
            }
            let problem = self.scene.as_ref().and_then(|(_, scene)| scene.problem.clone());
            let colours = theme::of(ui);
            let (text, colour) = match (&problem, &self.notice) {
                (Some(problem), _) => (problem.as_str(), colours.stop),
                (None, Some(notice)) => (
                    notice.text.as_str(),
                    if notice.is_refusal { colours.stop } else { colours.quiet },
                ),
                (None, None) => ("", colours.quiet),
            };
            ui.add(egui::Label::new(RichText::new(text).color(colour)).truncate());
        });
    }
}

impl eframe::App for Window {
    fn ui(&mut self, ui: &mut Ui, frame: &mut eframe::Frame) {
        if let Some(seconds) = frame.info().cpu_usage {
            self.meter.note_frame(seconds);
        }
        self.show(ui);
    }

    fn clear_color(&self, visuals: &egui::Visuals) -> [f32; 4] {
        visuals.panel_fill.to_normalized_gamma_f32()
    }
}

impl Window {
    /// One frame of the window, into whatever holds it.
    pub fn show(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let began = Instant::now();
        self.session.sheet = Sheet::of(&ctx);
        self.take_events(&ctx);
        let colours = theme::of(ui);
        let bar = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(6, 2));
        let numbers = self.shows_column(&ctx);
        let chosen = Panel::top("menu")
            .frame(bar)
            .show(ui, |ui| menu::show(ui, &self.session, numbers))
            .inner;
        if let Some(command) = chosen {
            self.carry_out(&ctx, command);
        }
        self.bring_up_to_date(&ctx);
        let before = self.basis;
        self.follow_events();
        if self.shows_column(&ctx) {
            let width = (ctx.content_rect().width() * 0.27).clamp(300.0, 400.0);
            Panel::right("column")
                .resizable(false)
                .exact_size(width)
                .frame(Frame::new().fill(colours.panel))
                .show(ui, |ui| {
                    self.column(ui);
                });
        }
        let foot = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(10, 4));
        Panel::bottom("strip")
            .exact_size(36.0)
            .frame(foot)
            .show(ui, |ui| self.strip(ui));
        self.bring_up_to_date(&ctx);
        self.lay_out_again_if_changed_since(before, &ctx);
        CentralPanel::no_frame().show(ui, |ui| {
            if let Some((_, scene)) = &self.scene {
                let began = Instant::now();
                self.bench
                    .show(ui, &mut self.session, scene, &self.still, &self.events.1);
                self.meter.note(&ctx, Part::Bench, began);
            }
        });
        self.bring_up_to_date(&ctx);
        self.lay_out_again_if_changed_since(before, &ctx);
        self.ask_in_doubt(&ctx);
        if let Some(scale) = self.calibration.show(&ctx) {
            self.bench.scale_to(&self.session, scale);
        }
        if let Some(bench) = self.bench.rect() {
            self.meter.show(&ctx, bench);
        }
        let title = format!("{} – Vialwright", menu::name_of(&self.session));
        if title != self.title {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title = title;
        }
        self.meter.note(&ctx, Part::Window, began);
    }
}

/// The example; a test makes sure that it can be read.
fn demo() -> Apparatus {
    file::read(DEMO).unwrap_or_default()
}

/// Reads a design; the message of a refusal names the file and the place in it.
fn read_design(path: &Path) -> Result<Document, String> {
    let text = files::read_text(path).map_err(|error| error.to_string())?;
    match file::read(&text) {
        Ok(apparatus) => Ok(Document::new(apparatus, Some(path.to_path_buf()))),
        Err(error) => Err(format!("{}: {error}", path.display())),
    }
}

fn write_design(path: &Path, apparatus: &Apparatus) -> Result<(), FilesError> {
    files::write_whole(path, file::write(apparatus).as_bytes())
}

/// A file name made from a title: letters and figures kept, anything else a hyphen.
fn file_name_for(title: &str) -> String {
    let plain: String = title
        .chars()
        .map(|c| {
            if c.is_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<_> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let name = if words.is_empty() {
        "apparatus".to_owned()
    } else {
        words.join("-")
    };
    format!("{name}.json")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_becomes_a_file_name() {
        assert_eq!(file_name_for("Rubidium, six ampoules"), "rubidium-six-ampoules.json");
        assert_eq!(file_name_for("../.."), "apparatus.json");
    }

    #[test]
    fn the_example_can_be_read() {
        assert!(demo().names().len() >= 8);
    }
}
