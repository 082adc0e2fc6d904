//! Small pictures of the glass at the stops, with the liquid in it; all at one scale.

use crate::app::glass::{Glass, Outlines};
use crate::app::scene::{Scene, Still};
use crate::app::theme;
use crate::app::view::View;
use crate::geom::{Pool, Stance};
use crate::out::drawing::{self, Drawing};
use egui::{Rect, Ui};

/// The pictures' glass, made once for a revision.
#[derive(Default)]
pub(super) struct Thumbs {
    made: Option<Made>,
}

struct Made {
    revision: u64,
    drawing: Drawing,
    view: View,
    outlines: Option<Outlines>,
}

impl Thumbs {
    /// Makes the glass anew if it has changed, for pictures so many points high and wide.
    pub(super) fn refresh(&mut self, revision: u64, scene: &Scene, size: f32) {
        if self.made.as_ref().is_some_and(|made| made.revision == revision) {
            return;
        }
        let mut drawing = scene.drawing.clone();
        drawing.ticks.clear();
        drawing.mouths.clear();
        for glass in &mut drawing.glass {
            glass.centreline.strokes.clear();
        }
        let (centre, radius) = drawing::circle(scene.hull());
        self.made = Some(Made {
            revision,
            drawing,
            view: View::fit(centre, radius, size / 2.0),
            outlines: self.made.take().and_then(|made| made.outlines),
        });
    }

    /// Draws the glass at a stance with its liquid.
    pub(super) fn paint(&mut self, ui: &Ui, rect: Rect, stance: Stance, pools: Vec<Pool>) {
        let Some(made) = &mut self.made else { return };
        let placed = made.view.placed(rect, stance.tilt_deg);
        let mut outlines = Outlines::refreshed(made.outlines.take(), made.revision, &made.drawing, placed.scale());
        let clip = rect.intersect(ui.clip_rect());
        let glass = Glass {
            placed,
            colours: theme::of(ui),
            stance,
            clip,
            drawing: &made.drawing,
            chosen: vec![false; made.drawing.pieces.len()],
        };
        let still = Still {
            pools,
            ..Still::default()
        };
        glass.paint(&ui.painter().with_clip_rect(clip), &mut outlines, &still);
        made.outlines = Some(outlines);
    }
}
