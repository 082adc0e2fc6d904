//! What each command does.

use super::about::About;
use super::actions::Actions;
use super::command::Command;
use super::deed::Deed;
use super::hint::Hint;
use super::mark_finder::Scale;
use super::numbers::Place;
use super::sheets::Sheets;
use super::shelf::{self, Page};
use super::{Window, calibration, is_empty, menu, region, theme};
use crate::geom::Stance;
use crate::model::Apparatus;
use crate::units::LengthUnit;
use egui::{ThemePreference, vec2};

/// How far a key moves the paper, points.
const LOOK: f32 = 60.0;

impl Window {
    /// Carries out a command.
    pub fn carry_out(&mut self, ctx: &egui::Context, command: Command) {
        if !command.is_possible(&self.session) {
            return;
        }
        let Stance { tilt_deg, roll_deg } = self.session.stance;
        match command {
            Command::Starter => self.starter.open(),
            Command::Example(example) => self.put(&format!("Example: {}", example.name()), example.apparatus(), true),
            Command::New
            | Command::Open
            | Command::Save
            | Command::SaveAs
            | Command::UnsavedWork
            | Command::ForgetRecent
            | Command::Quit => self.carry_out_at_desk(ctx, command),
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
            Command::MarkAnticlockwise => self.go_to_mark(1.0),
            Command::MarkClockwise => self.go_to_mark(-1.0),
            Command::RollTowards => self.session.roll_to(roll_deg + 1.0),
            Command::RollAway => self.session.roll_to(roll_deg - 1.0),
            Command::Piece(deed) => self.do_to_pieces(ctx, deed, None),
            Command::PlayRun | Command::NextStop | Command::PreviousStop | Command::AddStop | Command::RunStrip => {
                self.carry_out_in_run(ctx, command);
            }
            Command::RunChart => shelf::toggle(ctx, Page::Run),
            Command::Measured => shelf::toggle(ctx, Page::Measured),
            Command::Tray => {
                let away = !self.desk.settings().tray_away;
                self.desk.remember(move |settings| settings.tray_away = away);
            }
            Command::Column => self.turn_column(ctx),
            Command::Plots => shelf::toggle(ctx, Page::Plots),
            Command::Find => shelf::toggle(ctx, Page::Find),
            Command::Findings => shelf::toggle(ctx, Page::Findings),
            Command::Job => shelf::toggle(ctx, Page::Job),
            Command::Inches => {
                let inches = self.session.length_unit == LengthUnit::Millimetre;
                self.desk.remember(move |settings| settings.inches = inches);
                self.session.length_unit = LengthUnit::of(inches);
                // Its findings tell lengths.
                (self.scene, self.basis) = (None, None);
            }
            Command::Light => theme::choose(ctx, ThemePreference::Light),
            Command::Dark => theme::choose(ctx, ThemePreference::Dark),
            Command::FollowSystem => theme::choose(ctx, ThemePreference::System),
            Command::Larger => theme::scale_by(ctx, 0.1),
            Command::Smaller => theme::scale_by(ctx, -0.1),
            Command::UsualSize => ctx.set_zoom_factor(1.0),
            Command::LessMotion => {
                let less = !self.desk.settings().less_motion;
                self.desk.remember(move |settings| settings.less_motion = less);
                theme::set_motion(ctx, less);
            }
            Command::NextRegion => region::turn(ctx, true),
            Command::PreviousRegion => region::turn(ctx, false),
            Command::AllActions => self.actions = Some(Actions::default()),
            Command::Hint => self.hint = Some(Hint::new(&self.session)),
            Command::About => self.about = Some(About::default()),
            Command::Sheets => self.sheets = Some(Sheets::new(ctx)),
        }
        let sheet = self.session.sheet;
        if sheet != self.desk.settings().sheet {
            self.desk.remember(move |settings| settings.sheet = sheet);
        }
        self.session.check_selection();
    }

    /// Carries out a command of the run; one that needs its strip unfolds it.
    pub(super) fn carry_out_in_run(&mut self, ctx: &egui::Context, command: Command) {
        let is_shown = self.desk.settings().run_strip;
        let shows = command != Command::RunStrip || !is_shown;
        if shows != is_shown {
            self.desk.remember(move |settings| settings.run_strip = shows);
        }
        match command {
            Command::PlayRun => self.run.play(ctx, &mut self.session),
            Command::NextStop => self.run.step(&mut self.session, true),
            Command::PreviousStop => self.run.step(&mut self.session, false),
            Command::AddStop => self.run.add_present(&mut self.session),
            _ if !shows => self.run.leave(),
            _ => {}
        }
    }

    /// Turns the glass to the next mark of the tilt ring, anticlockwise (1) or clockwise (-1).
    fn go_to_mark(&mut self, way: f64) {
        let (marks, tilt) = (self.marks.of(Scale::Ring), self.session.stance.tilt_deg);
        if let Some(at) = marks.next(&self.session.selection, tilt, way) {
            self.session.tilt_exactly(at);
        }
    }

    /// Does something to the pieces on the bench; `text` is what the clipboard holds, when it came with it.
    pub(super) fn do_to_pieces(&mut self, ctx: &egui::Context, deed: Deed, text: Option<String>) {
        self.bench.editor.carry_out(ctx, &mut self.session, deed, text);
        self.take_notice();
    }

    /// Shows the numbers or hides them. The drawer of a small window is no matter of memory.
    fn turn_column(&mut self, ctx: &egui::Context) {
        let shown = !self.shows_column(ctx);
        match Place::within(ctx.content_rect().size()) {
            Place::Drawer => self.drawer = shown,
            Place::Beside | Place::Below => self.desk.remember(move |settings| settings.column = Some(shown)),
        }
    }

    /// Puts another design on the bench as one step; `kept` as in [`Document::replace`](super::session::Document::replace).
    pub(super) fn put(&mut self, words: &str, apparatus: Apparatus, kept: bool) {
        let had_glass = !is_empty(self.session.document.now());
        self.session.document.replace(words, apparatus, kept);
        self.session.selection.clear();
        self.session.stance = Stance::default();
        self.bench.fit();
        if had_glass {
            self.say("Undo brings back what was on the bench.".to_owned());
        }
    }

    /// Carries out what was chosen in the menus or in the list of all actions.
    pub(super) fn carry_out_choice(&mut self, ctx: &egui::Context, choice: menu::Choice) {
        match choice {
            menu::Choice::Command(command) => self.carry_out(ctx, command),
            menu::Choice::Recent(path) => self.open_recent(ctx, path),
            menu::Choice::Region(region) => region.take_focus(ctx),
        }
    }
}
