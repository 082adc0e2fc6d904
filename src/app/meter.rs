//! How long our own work takes in each frame: a hidden panel for whoever wants to know. It asks for no frames of its
//! own; the numbers are those of the frames that happen anyway.

use super::theme;
use egui::{Align2, Area, Context, Frame, Grid, Id, Order, RichText, vec2};
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Frames that are remembered.
const FRAMES: usize = 120;

/// A part of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Part {
    /// Walls, bores and drawing from the document.
    Scene,
    /// The liquid coming to rest.
    Settle,
    /// The bench: layout of dimensions, outlines, everything painted on it.
    Bench,
    /// The whole window, up to the list of shapes.
    Window,
    /// All of a frame as the toolkit counts it, triangles included.
    Frame,
}

impl Part {
    const ALL: [Self; 5] = [Self::Scene, Self::Settle, Self::Bench, Self::Window, Self::Frame];

    fn label(self) -> &'static str {
        match self {
            Self::Scene => "Scene",
            Self::Settle => "Settling",
            Self::Bench => "Bench",
            Self::Window => "Window",
            Self::Frame => "Frame with triangles",
        }
    }
}

/// Times of the last frames in which a part had something to do.
#[derive(Default)]
struct Times {
    /// Within the present frame, which may be laid out more than once.
    now: Duration,
    past: VecDeque<Duration>,
}

impl Times {
    fn close(&mut self) {
        let now = std::mem::take(&mut self.now);
        if now > Duration::ZERO {
            self.push(now);
        }
    }

    fn push(&mut self, time: Duration) {
        if self.past.len() == FRAMES {
            self.past.pop_front();
        }
        self.past.push_back(time);
    }

    /// Last, median and worst.
    fn summary(&self) -> Option<[Duration; 3]> {
        let last = *self.past.back()?;
        let mut sorted: Vec<_> = self.past.iter().copied().collect();
        sorted.sort_unstable();
        Some([last, *sorted.get(sorted.len() / 2)?, *sorted.last()?])
    }
}

/// The meter.
#[derive(Default)]
pub(crate) struct Meter {
    shown: bool,
    parts: [Times; 5],
    frame: Option<u64>,
}

impl Meter {
    /// Shows or hides the panel.
    pub(crate) fn toggle(&mut self) {
        self.shown = !self.shown;
    }

    /// Notes work of the present frame that began at `began`.
    pub(crate) fn note(&mut self, ctx: &Context, part: Part, began: Instant) {
        let frame = ctx.cumulative_frame_nr();
        if self.frame != Some(frame) {
            self.frame = Some(frame);
            self.parts.iter_mut().for_each(Times::close);
        }
        self.parts[part as usize].now += began.elapsed();
    }

    /// Notes the time of a whole frame as the toolkit has measured it.
    pub(crate) fn note_frame(&mut self, seconds: f32) {
        if let Ok(time) = Duration::try_from_secs_f32(seconds) {
            self.parts[Part::Frame as usize].push(time);
        }
    }

    /// Each part with its last, median and worst time, ms.
    pub(crate) fn times(&self) -> Vec<(&'static str, [f64; 3])> {
        let summary = |part: Part| Some((part.label(), self.parts[part as usize].summary()?));
        let ms = |times: [Duration; 3]| times.map(|time| time.as_secs_f64() * 1e3);
        Part::ALL
            .into_iter()
            .filter_map(summary)
            .map(|(label, times)| (label, ms(times)))
            .collect()
    }

    /// The panel at the top right of `bench`, if it is shown.
    pub(crate) fn show(&self, ctx: &Context, bench: egui::Rect) {
        if !self.shown {
            return;
        }
        let colours = theme::palette(ctx.theme());
        Area::new(Id::unique("frame times"))
            .order(Order::Foreground)
            .interactable(false)
            .pivot(Align2::RIGHT_TOP)
            .fixed_pos(bench.right_top() + vec2(-10.0, 10.0))
            .show(ctx, |ui| {
                Frame::popup(ui.style()).show(ui, |ui| {
                    ui.label(RichText::new("Frame times, ms").font(theme::heavy(12.5)));
                    Grid::new("frame times").spacing([14.0, 2.0]).show(ui, |ui| {
                        for head in ["", "Last", "Median", "Worst"] {
                            ui.label(RichText::new(head).color(colours.quiet));
                        }
                        ui.end_row();
                        for (label, times) in self.times() {
                            ui.label(label);
                            for time in times {
                                ui.label(format!("{time:.2}"));
                            }
                            ui.end_row();
                        }
                    });
                    let words =
                        format!("Of the last {FRAMES} frames with such work; a screen of 60 Hz allows 16.7 ms.");
                    ui.label(RichText::new(words).font(theme::plain(11.5)).color(colours.quiet));
                });
            });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_summary_is_of_the_last_frames_that_had_work() {
        let mut times = Times::default();
        assert_eq!(times.summary(), None);
        for ms in [900, 5, 1, 3, 2, 4] {
            times.now += Duration::from_millis(ms);
            times.close();
            times.close();
        }
        let ms = |ms| Duration::from_millis(ms);
        assert_eq!(times.summary(), Some([ms(4), ms(4), ms(900)]));
        for _ in 0..FRAMES {
            times.now += ms(2);
            times.close();
        }
        assert_eq!(
            times.summary(),
            Some([ms(2), ms(2), ms(2)]),
            "the early ones are forgotten"
        );
    }
}
