//! The window: lays out bench and column, and keeps what follows from the document up to date.

mod about;
mod actions;
mod bench;
mod calibration;
mod carrying;
mod catch;
mod choices;
mod clip;
mod columns;
mod command;
mod controls;
mod deed;
mod desk;
mod dialogs;
mod dims;
mod doubts;
mod edge;
mod editor;
mod events;
mod examples;
mod fan;
mod field;
mod fill_bar;
mod finder;
mod findings_list;
mod foot;
mod ghost;
mod glass;
mod grip;
mod handle_marks;
mod handles;
mod hint;
mod joining;
mod keeper;
mod ledger;
mod lists;
mod mark_finder;
mod mark_paint;
mod marks;
mod measured;
mod menu;
mod meter;
mod names;
mod nodes;
mod notice;
mod numbers;
mod opening;
mod paint;
mod paper;
mod particulars;
mod picker;
mod piece_menu;
mod pins;
mod placing;
mod plot_view;
mod plots;
mod propose;
mod question;
mod reading;
mod readout;
mod region;
mod removal;
mod restore;
mod ring;
mod ring_marks;
mod roll;
mod run_strip;
mod scene;
mod seeker;
mod session;
mod settings;
mod sheets;
mod shelf;
mod shift;
mod sketch;
mod snap;
mod spots;
mod stages;
mod start;
mod symbols;
mod tag;
mod tell;
mod theme;
mod tray;
mod turning;
mod vessel;
mod view;
mod worker;

pub use command::Command;
pub use deed::{Deed, Fitting, Item, Stride, Way};
pub use examples::Example;
pub use opening::{Opening, run};
pub use paper::Sheet;
pub use session::{Document, Selection, Session};

use crate::geom::Stance;
use crate::model::Apparatus;
use crate::units::LengthUnit;
use about::About;
use actions::{Actions, Outcome};
use bench::Bench;
use calibration::{Calibration, Screens};
use choices::{Choices, Chosen};
use desk::Desk;
use egui::{CentralPanel, Frame, Margin, Panel, Ui};
use hint::Hint;
use mark_finder::MarkFinder;
use meter::{Meter, Part};
use notice::Notice;
use numbers::{Leaf, Place};
use reading::Reading;
use region::Region;
use run_strip::RunStrip;
use scene::{Scene, Still};
use sheets::Sheets;
use shelf::{Page, Shelf};
use start::Starter;
use std::time::Instant;
use tray::Tray;

/// The example that is shown when no file is named.
const DEMO: Example = Example::RubidiumSix;

/// What [`Still`] was computed for.
#[derive(Clone, Copy, PartialEq)]
struct Basis {
    revision: u64,
    stance: Stance,
    /// The moment of the run.
    moment: Option<run_strip::Key>,
}

/// The window's state.
pub struct Window {
    session: Session,
    bench: Bench,
    tray: Tray,
    scene: Option<(u64, Scene)>,
    still: Still,
    marks: MarkFinder,
    basis: Option<Basis>,
    desk: Desk,
    shelf: Shelf,
    run: RunStrip,
    job: stages::Work,
    starter: Starter,
    choices: Choices,
    /// An empty bench was asked for: nothing is offered there until something has stood on it.
    is_blank: bool,
    notice: Option<Notice>,
    /// The revision at which something was last said that is no refusal; it goes with the next change.
    said_at: u64,
    actions: Option<Actions>,
    about: Option<About>,
    sheets: Option<Sheets>,
    hint: Option<Hint>,
    /// Whether the drawer of a small window is open.
    drawer: bool,
    leaf: Leaf,
    title: String,
    calibration: Calibration,
    meter: Meter,
}

impl Window {
    /// A window on the design that `opening` names, or on the example.
    pub fn new(ctx: &egui::Context, opening: Opening) -> Self {
        theme::install(ctx);
        let (desk, complaint) = Desk::new(ctx, &opening);
        theme::set_motion(ctx, desk.settings().less_motion);
        desk.settings().reading.set(ctx);
        desk.settings().screens.set(ctx);
        let (document, refusal) = match opening.path.as_deref().map(desk::read_design) {
            Some(Ok(document)) => (document, None),
            Some(Err(message)) => (Document::new(Apparatus::default(), None), Some(message)),
            None => (Document::new(DEMO.apparatus(), None), None),
        };
        let mut session = Session::new(document);
        session.length_unit = LengthUnit::of(desk.settings().inches);
        session.sheet = desk.settings().sheet;
        let shows_hint = opening.data_folder.is_some() && !desk.settings().hint_done;
        let mut bench = Bench::default();
        bench.fit();
        let mut window = Self {
            hint: shows_hint.then(|| Hint::new(&session)),
            session,
            bench,
            tray: Tray::default(),
            scene: None,
            still: Still::default(),
            marks: MarkFinder::new(ctx),
            basis: None,
            desk,
            shelf: Shelf::new(ctx),
            run: RunStrip::new(ctx),
            job: stages::Work::new(ctx, opening.works_out_job),
            starter: Starter::default(),
            choices: Choices::default(),
            is_blank: false,
            notice: None,
            said_at: 0,
            actions: None,
            about: None,
            sheets: None,
            drawer: false,
            leaf: Leaf::default(),
            title: String::new(),
            calibration: Calibration::default(),
            meter: Meter::default(),
        };
        window.note_opened();
        if let Some(text) = complaint.or(refusal) {
            window.refuse(text);
        }
        window
    }

    /// Document, stance and selection.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Our own work in the last frames that had such: what it was, and its last, median and worst time, ms.
    pub fn frame_times(&self) -> Vec<(&'static str, [f64; 3])> {
        self.meter.times()
    }

    fn shows_column(&self, ctx: &egui::Context) -> bool {
        match Place::within(ctx.content_rect().size()) {
            Place::Drawer => self.drawer,
            Place::Beside | Place::Below => self.desk.settings().column.unwrap_or(true),
        }
    }

    /// What an empty bench offers.
    fn offer(&mut self, ui: &mut Ui, ctx: &egui::Context) {
        match self.choices.show(ui, ui.max_rect()) {
            Some(Chosen::Do(command)) => self.carry_out(ctx, command),
            Some(Chosen::Blank) => self.is_blank = true,
            None => {}
        }
    }

    /// What stands over the window.
    fn show_over(&mut self, ctx: &egui::Context) {
        if let Some(actions) = &mut self.actions {
            match actions::show(ctx, actions, &self.session, &self.desk.settings().recent) {
                Outcome::Open => {}
                Outcome::Closed => self.actions = None,
                Outcome::Chosen(choice) => {
                    self.actions = None;
                    self.carry_out_choice(ctx, choice);
                }
            }
        }
        if let Some(about) = &mut self.about
            && about::show(ctx, about)
        {
            self.about = None;
        }
        match self.sheets.as_mut().map(|sheets| sheets.show(ctx, &self.session)) {
            Some(sheets::Outcome::Closed) if !self.desk.is_asking() => self.sheets = None,
            Some(sheets::Outcome::Save(written)) => self.ask_where_to_save_sheet(ctx, written),
            _ => {}
        }
        self.show_desk(ctx);
    }

    /// Computes what follows from the document and the stance, if they have changed.
    fn bring_up_to_date(&mut self, ctx: &egui::Context) {
        let revision = self.session.document.revision();
        if self.scene.as_ref().is_none_or(|(of, _)| *of != revision) {
            let began = Instant::now();
            self.scene = Some((
                revision,
                Scene::of(self.session.document.now(), self.session.length_unit),
            ));
            self.meter.note(ctx, Part::Scene, began);
        }
        if let Some((_, scene)) = &self.scene {
            let is_wanted = self.desk.settings().run_strip || Reading::of(ctx).shelf == Page::Run;
            self.run.follow(ctx, &mut self.session, scene, is_wanted);
        }
        let basis = Basis {
            revision,
            stance: self.session.stance,
            moment: self.run.key(),
        };
        if self.basis == Some(basis) {
            return;
        }
        if let Some((_, scene)) = &self.scene {
            let began = Instant::now();
            self.still = self.run.still(scene).unwrap_or_else(|| Still::at(scene, basis.stance));
            self.meter.note(ctx, Part::Settle, began);
        }
        self.basis = Some(basis);
    }

    /// Something was drawn before the change that it depends on: this frame is laid out once more.
    fn lay_out_again_if_changed_since(&self, before: &(Option<Basis>, Selection), ctx: &egui::Context) {
        if self.basis != before.0 || self.session.selection != before.1 {
            ctx.request_discard("the document, the stance or the selection changed within the frame");
        }
    }

    /// The same of a change beside the bench. While a number is dragged there, what stood above the change follows in the
    /// next frame instead, so that a frame is laid out once.
    fn follow_change_since(&self, before: &(Option<Basis>, Selection), ctx: &egui::Context) {
        if ctx.input(|input| input.pointer.is_decidedly_dragging()) && self.session.selection == before.1 {
            if self.basis != before.0 {
                ctx.request_repaint();
            }
        } else {
            self.lay_out_again_if_changed_since(before, ctx);
        }
    }

    /// Asks for the marks of ring and roll scale, and takes what has been found since.
    fn follow_events(&mut self) {
        if let Some((_, scene)) = &self.scene {
            self.marks.follow(scene, self.session.stance);
        }
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
        self.take_events(&ctx);
        let colours = theme::of(ui);
        let bar = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(6, 2));
        let facts = menu::Facts {
            tray: !self.desk.settings().tray_away,
            column: self.shows_column(&ctx),
            run_strip: self.desk.settings().run_strip,
            shelf: Reading::of(&ctx).shelf,
            less_motion: self.desk.settings().less_motion,
            inches: self.session.length_unit == LengthUnit::Inch,
            recent: &self.desk.settings().recent,
        };
        let chosen = Panel::top("menu")
            .frame(bar)
            .show(ui, |ui| {
                Region::Menu.mark(ui, ui.max_rect().expand(2.0));
                menu::show(ui, &self.session, &facts)
            })
            .inner;
        if let Some(choice) = chosen {
            self.carry_out_choice(&ctx, choice);
        }
        self.bring_up_to_date(&ctx);
        let before = (self.basis, self.session.selection.clone());
        // What can follow leaves the processor to the first frame.
        let is_first = ctx.cumulative_frame_nr() == 0;
        if is_first {
            ctx.request_repaint();
        } else {
            self.follow_events();
        }
        let place = Place::within(ctx.content_rect().size());
        let numbers = self.shows_column(&ctx);
        if numbers && place == Place::Beside {
            numbers::beside(ui, &mut self.session, numbers::Seen::of(&self.still, &self.scene));
        }
        let foot = Frame::new().fill(colours.panel).inner_margin(Margin::symmetric(10, 4));
        let over = Panel::bottom("strip")
            .exact_size(36.0)
            .frame(foot)
            .show(ui, |ui| {
                Region::Strip.mark(ui, ui.max_rect().expand(2.0));
                self.strip(ui)
            })
            .inner;
        if numbers && place == Place::Below {
            numbers::below(ui, &mut self.session, numbers::Seen::of(&self.still, &self.scene));
        }
        if !self.desk.settings().tray_away {
            self.show_tray(ui);
        }
        self.bring_up_to_date(&ctx);
        if !is_first {
            self.job.follow(&self.session);
        }
        let mut folds = false;
        if let Some((_, scene)) = &self.scene {
            if self.desk.settings().run_strip {
                folds = self.run.show(ui, &mut self.session, scene);
            }
            let asked = self
                .shelf
                .show(ui, &mut self.session, scene, &self.still, &mut self.job, &mut self.run);
            if let Some(export) = asked {
                self.ask_where_to_save_chart(&ctx, export);
            }
        }
        if folds {
            self.carry_out_in_run(&ctx, Command::RunStrip);
        }
        self.bring_up_to_date(&ctx);
        self.follow_change_since(&before, &ctx);
        let before = (self.basis, self.session.selection.clone());
        let empty = is_empty(self.session.document.now());
        self.is_blank &= empty;
        // A piece that was taken from the tray is an answer as well.
        let offers = empty && !self.is_blank && self.bench.editor.in_hand().is_none();
        let bench = ui.available_rect_before_wrap();
        CentralPanel::no_frame().show(ui, |ui| {
            Region::Bench.mark(ui, bench);
            if offers {
                self.offer(ui, &ctx);
            } else if let Some((_, scene)) = &self.scene {
                let began = Instant::now();
                self.bench.show(ui, &mut self.session, scene, &self.still, &self.marks);
                self.meter.note(&ctx, Part::Bench, began);
                if empty && self.bench.editor.in_hand().is_none() {
                    choices::say_blank(ui, bench);
                }
            }
        });
        if let Some(finding) = self.bench.take_pinned() {
            findings_list::select(&mut self.session, &finding);
            self.shelf.show_findings_of(&ctx, &finding.piece);
        }
        if numbers && place == Place::Drawer {
            numbers::drawer(
                &ctx,
                bench,
                &mut self.leaf,
                &mut self.session,
                numbers::Seen::of(&self.still, &self.scene),
            );
        }
        if let Some(begun) = self.starter.show(&ctx, is_empty(self.session.document.now())) {
            self.put(&begun.words, begun.apparatus, false);
        }
        // The hint speaks of what is on the bench, so it waits until something can be.
        if let Some(hint) = self.hint.as_ref().filter(|_| !offers)
            && hint.show(&ctx, &self.session, bench)
        {
            self.hint = None;
            self.desk.remember(|settings| settings.hint_done = true);
        }
        if over.is_some_and(|message| message.show_over(&ctx, bench)) {
            self.notice = None;
        }
        self.bring_up_to_date(&ctx);
        self.lay_out_again_if_changed_since(&before, &ctx);
        self.take_notice();
        if self.bench.editor.is_waiting() {
            ctx.request_repaint();
        }
        self.show_over(&ctx);
        if let Some(scale) = self.calibration.show(&ctx) {
            self.bench.scale_to(&self.session, scale);
            let screens = Screens::of(&ctx);
            self.desk.remember(move |settings| settings.screens = screens.clone());
        }
        self.meter.show(&ctx, bench);
        self.keep_unsaved();
        let reading = Reading::of(&ctx);
        if reading != self.desk.settings().reading {
            self.desk.remember(move |settings| settings.reading = reading);
        }
        let title = format!("{} – Vialwright", menu::name_of(&self.session));
        if title != self.title {
            ctx.send_viewport_cmd(egui::ViewportCommand::Title(title.clone()));
            self.title = title;
        }
        self.meter.note(&ctx, Part::Window, began);
    }
}

/// Whether nothing stands on the bench.
fn is_empty(apparatus: &Apparatus) -> bool {
    apparatus.pieces.is_empty() && apparatus.rows.is_empty()
}
