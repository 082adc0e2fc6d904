//! What follows from the document and the stance: the drawing, the interior, the liquid at rest. Each is computed
//! once for a revision and a stance, within the frame: a rebuild takes less than a millisecond.

use super::mark_finder::Question;
use super::run_strip::Seen;
use super::vessel::{Plan, Vessel};
use crate::findings::{self, Finding};
use crate::geom::build::{Built, build};
use crate::geom::events::{self, Asked, Turning};
use crate::geom::glass::MarkKind;
use crate::geom::{Interior, Pool, Posture, Settled, Stance};
use crate::model::place::Placed;
use crate::model::{Apparatus, Form};
use crate::out::drawing::Drawing;
use crate::units::{LengthUnit, MM3_PER_ML};
use nalgebra::Vector2;
use std::cell::OnceCell;
use std::sync::Arc;

/// What follows from the document alone.
pub(crate) struct Scene {
    /// The drawing of the glass.
    pub drawing: Drawing,
    /// For each piece, the corners of an upright rectangle around its glass, mm.
    bounds: Vec<Option<[Vector2<f64>; 4]>>,
    hull: OnceCell<Vec<Vector2<f64>>>,
    /// The interior; `None` when there is none that can be computed.
    pub interior: Option<Arc<Interior>>,
    /// Where everything stands.
    pub placed: Placed,
    /// Why there is no interior.
    pub problem: Option<String>,
    /// What is wrong, doubtful or worth a note in the glass.
    pub findings: Vec<Finding>,
    vessels: Vec<Plan>,
    given: Vec<(usize, f64)>,
}

impl Scene {
    /// Builds the glass, its drawing and its interior. A fault leaves what could be made. Findings tell lengths in
    /// `unit`.
    pub(crate) fn of(apparatus: &Apparatus, unit: LengthUnit) -> Self {
        let built = match build(apparatus) {
            Ok(built) => built,
            Err(error) => {
                return Self {
                    problem: Some(error.to_string()),
                    ..Self::empty()
                };
            }
        };
        let (interior, problem) =
            match Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()) {
                Ok(interior) => (Some(Arc::new(interior)), None),
                // An empty bench has no interior, and nothing is wrong with that.
                Err(_) if built.primitives.is_empty() => (None, None),
                Err(error) => (None, Some(error.to_string())),
            };
        let fills = apparatus.charge.fills.iter();
        let given = fills.filter_map(|f| Some((built.placed.index(&f.piece)?, f.volume_ml * MM3_PER_ML)));
        let drawing = Drawing::new(&built);
        Self {
            bounds: drawing.bounds(),
            hull: OnceCell::new(),
            drawing,
            findings: findings::geometric(apparatus, &built)
                .into_iter()
                .map(|finding| finding.told_in(unit))
                .collect(),
            vessels: plans(&built),
            given: given.collect(),
            placed: built.placed,
            interior,
            problem,
        }
    }

    /// What is given to which piece by its number, mm3.
    pub(crate) fn given(&self) -> &[(usize, f64)] {
        &self.given
    }

    /// What the ledger knows of the pieces beforehand, in their order.
    pub(crate) fn plans(&self) -> &[Plan] {
        &self.vessels
    }

    /// The convex outline of all of the glass, anticlockwise, mm.
    pub(crate) fn hull(&self) -> &[Vector2<f64>] {
        self.hull.get_or_init(|| self.drawing.hull())
    }

    /// The corners of an upright rectangle around a piece's glass, mm; `None` when it has none.
    pub(crate) fn bounds_of(&self, piece: usize) -> Option<[Vector2<f64>; 4]> {
        self.bounds.get(piece).copied().flatten()
    }

    fn empty() -> Self {
        Self {
            drawing: Drawing::default(),
            bounds: Vec::new(),
            hull: OnceCell::new(),
            interior: None,
            placed: Placed::default(),
            problem: None,
            findings: Vec::new(),
            vessels: Vec::new(),
            given: Vec::new(),
        }
    }

    /// The question for a turn: every piece is asked about, what was given is followed from the turn's start.
    pub(crate) fn question(&self, turning: Turning) -> Option<Question> {
        let interior = self.interior.as_ref()?;
        let vessel = |plan: &Plan| events::Vessel {
            piece: plan.piece,
            target: plan.target_ml.map(|ml| ml * MM3_PER_ML).filter(|v| *v > 0.0),
        };
        Some(Question {
            interior: Arc::clone(interior),
            asked: Asked {
                turning,
                given: self.given.clone(),
                vessels: self.vessels.iter().map(vessel).collect(),
            },
        })
    }

    /// Whether a piece counts as a vessel: one that the ledger always lists, or one that liquid was given to.
    pub(crate) fn is_vessel(&self, piece: usize) -> bool {
        let is_listed = |plan: &Plan| plan.piece == piece && plan.always;
        self.vessels.iter().any(is_listed) || self.given.iter().any(|(at, volume)| *at == piece && *volume > 0.0)
    }
}

/// The rows that the ledger may have: ampoules and bulbs always, any other piece while it holds liquid.
fn plans(built: &Built) -> Vec<Plan> {
    let pieces = built.placed.pieces.iter().enumerate();
    let seals = |piece: usize| {
        let marks = built.glass.get(piece).map(|glass| glass.marks.as_slice());
        let marks = marks.unwrap_or_default().iter();
        marks.filter(|mark| mark.kind == MarkKind::Seal).map(|mark| mark.at)
    };
    pieces
        .map(|(piece, it)| Plan {
            name: it.name.clone(),
            piece,
            target_ml: match &it.form {
                Form::Ampoule(ampoule) => Some(ampoule.target_ml),
                _ => None,
            },
            seals: seals(piece).collect(),
            always: matches!(it.form, Form::Ampoule(_) | Form::Bulb(_)),
        })
        .collect()
}

/// What follows from the document and a stance.
#[derive(Default)]
pub(crate) struct Still {
    /// The liquid.
    pub pools: Vec<Pool>,
    /// Rows of the ledger.
    pub vessels: Vec<Vessel>,
    /// Volume in the glass, mL.
    pub held_ml: f64,
    /// Volume that finds no room in the glass, mL.
    pub left_over_ml: f64,
    /// Volumes lost, mL, by the piece through whose open end they ran.
    pub lost_ml: Vec<(String, f64)>,
    /// Sum of all targets, mL.
    pub targets_ml: f64,
    /// Volumes that stay in pieces without a target, mL, the largest first.
    pub heel_ml: Vec<(String, f64)>,
    /// The moment of the run that is shown; none where the charge has come to rest as it was given.
    pub run: Option<Seen>,
}

impl Still {
    /// What a piece holds, in words.
    pub(crate) fn words(&self, name: &str) -> String {
        match self.vessels.iter().find(|vessel| vessel.name == name) {
            Some(Vessel {
                volume_ml,
                target_ml: Some(target_ml),
                ..
            }) => {
                format!("{volume_ml:.2} mL of {target_ml:.2} mL")
            }
            Some(vessel) => format!("{:.2} mL", vessel.volume_ml),
            None => "empty".to_owned(),
        }
    }

    /// Lets the liquid come to rest at a stance.
    pub(crate) fn at(scene: &Scene, stance: Stance) -> Self {
        let Some(interior) = &scene.interior else {
            return Self::default();
        };
        let posture = interior.at(stance);
        let settled = posture.settle(&scene.given);
        Self::of(scene, &posture, stance, settled)
    }

    /// Liquid that has come to rest in a posture of the glass.
    pub(crate) fn of(scene: &Scene, posture: &Posture<'_>, stance: Stance, settled: Settled) -> Self {
        let basins = posture.basins();
        let rows = scene.vessels.iter();
        let vessels = rows.filter_map(|plan| Vessel::of(plan, posture, stance, &basins, &settled));
        let vessels: Vec<Vessel> = vessels.collect();
        let is_target = |vessel: &&Vessel| vessel.part().is_some();
        let heel = vessels
            .iter()
            .filter(|vessel| !is_target(vessel) && vessel.volume_ml > 0.0);
        let mut heel_ml: Vec<(String, f64)> = heel.map(|vessel| (vessel.name.clone(), vessel.volume_ml)).collect();
        heel_ml.sort_by(|a, b| b.1.total_cmp(&a.1));
        // Adding zero turns the -0 of no pools at all into 0.
        let held = settled.pools.iter().map(|pool| pool.volume).sum::<f64>() + 0.0;
        let port_name = |port: usize| {
            let interior = scene.interior.as_ref();
            let piece = interior.and_then(|interior| interior.pieces().get(interior.ports().get(port)?.piece));
            piece.cloned().unwrap_or_default()
        };
        Self {
            targets_ml: vessels.iter().filter_map(|v| v.target_ml).fold(0.0, |sum, ml| sum + ml),
            heel_ml,
            vessels,
            // The sum of nothing is a negative zero.
            held_ml: held / MM3_PER_ML + 0.0,
            left_over_ml: settled.left_over / MM3_PER_ML,
            lost_ml: settled
                .lost
                .iter()
                .map(|(port, v)| (port_name(*port), v / MM3_PER_ML))
                .collect(),
            pools: settled.pools,
            run: None,
        }
    }
}
