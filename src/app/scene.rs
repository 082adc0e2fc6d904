//! What follows from the document and the stance: the drawing, the interior, the liquid at rest. Each is computed
//! once for a revision and a stance, within the frame: a rebuild takes less than a millisecond.

use super::worker::Question;
use crate::geom::build::{Built, build};
use crate::geom::turn::{self, Asked, Turning};
use crate::geom::{Interior, Pool, Stance};
use crate::model::place::Placed;
use crate::model::{Apparatus, Form};
use crate::out::drawing::Drawing;
use crate::units::{LengthUnit, MM2_PER_CM2, MM3_PER_ML};
use std::collections::HashMap;
use std::sync::Arc;

/// What follows from the document alone.
pub(crate) struct Scene {
    /// The drawing of the glass.
    pub drawing: Drawing,
    /// The interior; `None` when there is none that can be computed.
    pub interior: Option<Arc<Interior>>,
    /// Where everything stands.
    pub placed: Placed,
    /// Why there is no interior.
    pub problem: Option<String>,
    vessels: Vec<VesselPlan>,
    given: Vec<(usize, f64)>,
}

/// A piece that the ledger lists.
struct VesselPlan {
    name: String,
    /// Its number within the interior.
    piece: usize,
    target_ml: Option<f64>,
    /// Listed even when it is empty.
    always: bool,
}

impl Scene {
    /// Builds the glass, its drawing and its interior. A fault leaves what could be made.
    pub(crate) fn of(apparatus: &Apparatus) -> Self {
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
        Self {
            drawing: Drawing::new(&built),
            vessels: plans(&built),
            given: given.collect(),
            placed: built.placed,
            interior,
            problem,
        }
    }

    fn empty() -> Self {
        Self {
            drawing: Drawing::default(),
            interior: None,
            placed: Placed::default(),
            problem: None,
            vessels: Vec::new(),
            given: Vec::new(),
        }
    }

    /// The question for a turn: every piece is asked about, what was given is followed from the turn's start.
    pub(crate) fn question(&self, turning: Turning) -> Option<Question> {
        let interior = self.interior.as_ref()?;
        let vessel = |plan: &VesselPlan| turn::Vessel {
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
        let is_listed = |plan: &VesselPlan| plan.piece == piece && plan.always;
        self.vessels.iter().any(is_listed) || self.given.iter().any(|(at, volume)| *at == piece && *volume > 0.0)
    }
}

/// The rows that the ledger may have: ampoules and bulbs always, any other piece while it holds liquid.
fn plans(built: &Built) -> Vec<VesselPlan> {
    let pieces = built.placed.pieces.iter().enumerate();
    pieces
        .map(|(piece, it)| VesselPlan {
            name: it.name.clone(),
            piece,
            target_ml: match &it.form {
                Form::Ampoule(ampoule) => Some(ampoule.target_ml),
                _ => None,
            },
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
}

/// A row of the ledger.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Vessel {
    /// Name of the piece.
    pub name: String,
    /// What it holds, mL.
    pub volume_ml: f64,
    /// Level above the lowest place of its pool, mm; `None` when it is dry.
    pub level_mm: Option<f64>,
    /// What it would hold at its sill, mL; `None` when it is no basin at this stance or nothing runs over.
    pub brim_ml: Option<f64>,
    /// Free surface of its pool, cm2.
    pub free_surface_cm2: Option<f64>,
    /// Volume wanted, mL.
    pub target_ml: Option<f64>,
}

impl Vessel {
    /// The row in words, for assistive tools.
    pub(crate) fn words(&self, length_unit: LengthUnit) -> String {
        let mut words = format!("{}: {:.2} mL", self.name, self.volume_ml);
        if let Some(target) = self.target_ml {
            words += &format!(" of {target:.2} mL");
        }
        if let Some(level) = self.level_mm {
            words += &format!(", level {}", length_unit.text(level));
        }
        if let Some(brim) = self.brim_ml {
            words += &format!(", brim {brim:.2} mL");
        }
        words
    }
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
        let basins = posture.basins();
        let settled = posture.settle(&scene.given);
        let mut shares: HashMap<usize, f64> = HashMap::new();
        for (piece, volume) in settled.pools.iter().flat_map(|pool| &pool.shares) {
            *shares.entry(*piece).or_default() += volume;
        }
        let vessels = scene
            .vessels
            .iter()
            .filter_map(|plan| {
                let volume = shares.get(&plan.piece).copied().unwrap_or(0.0);
                if !plan.always && volume <= 0.0 {
                    return None;
                }
                let in_it = |pool: &&Pool| pool.shares.iter().any(|(piece, v)| *piece == plan.piece && *v > 0.0);
                // Of several pools in a piece the largest is shown.
                let pool = settled
                    .pools
                    .iter()
                    .filter(in_it)
                    .max_by(|a, b| a.volume.total_cmp(&b.volume));
                let own = |pool: &&Pool| pool.piece == plan.piece;
                let basin = basins.iter().filter(own).min_by(|a, b| a.bottom.total_cmp(&b.bottom));
                let bottom = basin.map(|b| b.bottom);
                Some(Vessel {
                    name: plan.name.clone(),
                    volume_ml: volume / MM3_PER_ML,
                    level_mm: pool.map(|p| p.level - bottom.unwrap_or(p.bottom)),
                    brim_ml: basin.and_then(|b| b.brim).map(|v| v / MM3_PER_ML),
                    free_surface_cm2: pool.map(|p| p.free_surface / MM2_PER_CM2),
                    target_ml: plan.target_ml,
                })
            })
            .collect();
        // Adding zero turns the -0 of no pools at all into 0.
        let held = settled.pools.iter().map(|pool| pool.volume).sum::<f64>() + 0.0;
        let port_name = |port: usize| {
            let piece = interior
                .ports()
                .get(port)
                .and_then(|port| interior.pieces().get(port.piece));
            piece.cloned().unwrap_or_default()
        };
        Self {
            vessels,
            held_ml: held / MM3_PER_ML,
            left_over_ml: settled.left_over / MM3_PER_ML,
            lost_ml: settled
                .lost
                .iter()
                .map(|(port, v)| (port_name(*port), v / MM3_PER_ML))
                .collect(),
            pools: settled.pools,
        }
    }
}
