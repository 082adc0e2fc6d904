//! What the headless commands answer, with the units in the names.
//!
//! The JSON form is a stable contract: keys are only ever added. Lengths are millimetres, volumes millilitres,
//! areas square centimetres, angles degrees. Heights (`level_mm`, `sill_mm`) are `u . p`, so they compare within one
//! stance.

use std::fmt::Write;

use serde::Serialize;

use crate::geom::{Below, BothWays, Interior, Pool, RunsTo, Settled, Stance, Tilts};
use crate::units::{MM2_PER_CM2, MM3_PER_ML};

/// A stance.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct StanceAnswer {
    /// Tilt, degrees.
    pub tilt_deg: f64,
    /// Roll, degrees.
    pub roll_deg: f64,
}

/// Volume of a piece.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PieceAnswer {
    /// Name of the piece.
    pub piece: String,
    /// Its internal volume, mL; shared volume counts for the lowest primitive id.
    pub volume_ml: f64,
}

/// Where an overflow comes to rest.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum RunsToAnswer {
    /// In this piece.
    Piece(String),
    /// Out of the port of this piece.
    Port {
        /// Name of the piece with the port.
        port: String,
    },
}

/// A pool, or an empty basin.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PoolAnswer {
    /// The piece that holds the lowest point.
    pub piece: String,
    /// The pieces wetted.
    pub pieces: Vec<String>,
    /// Volume, mL.
    pub volume_ml: f64,
    /// Height of the level.
    pub level_mm: f64,
    /// Level above the lowest point.
    pub depth_mm: f64,
    /// Area of the top.
    pub free_surface_cm2: f64,
    /// Height of the sill; null when nothing can run over.
    pub sill_mm: Option<f64>,
    /// Volume at the sill; null when nothing can run over.
    pub brim_ml: Option<f64>,
    /// Where the overflow comes to rest first.
    pub runs_to: Option<RunsToAnswer>,
}

/// Volume lost by a port.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LostAnswer {
    /// Name of the piece with the port.
    pub port: String,
    /// Volume, mL.
    pub volume_ml: f64,
}

/// The connected part of the interior below a height.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BelowAnswer {
    /// The piece whose lowest point it holds.
    pub piece: String,
    /// The height.
    pub level_mm: f64,
    /// Volume, mL.
    pub volume_ml: f64,
    /// Area at that height.
    pub free_surface_cm2: f64,
}

/// The answer of `measure`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasureAnswer {
    /// The stance measured at.
    pub stance: StanceAnswer,
    /// Internal volume of everything.
    pub total_ml: f64,
    /// Internal volume by piece.
    pub pieces: Vec<PieceAnswer>,
    /// The pools, or the empty basins when no liquid was given.
    pub pools: Vec<PoolAnswer>,
    /// What ran out, by port.
    pub lost: Vec<LostAnswer>,
    /// Volumes below asked heights.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub volume_below: Option<Vec<BelowAnswer>>,
}

/// A tilt in each direction; null where it never happens within one turn.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BothWaysAnswer {
    /// Turning anticlockwise, degrees.
    pub anticlockwise: Option<f64>,
    /// Turning clockwise, degrees.
    pub clockwise: Option<f64>,
}

/// The answer of `tilts`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TiltsAnswer {
    /// Where the volume first runs over.
    pub spill_deg: BothWaysAnswer,
    /// Between which tilts it stays put.
    pub hold_deg: Option<[f64; 2]>,
    /// Where it has drained.
    pub drain_deg: BothWaysAnswer,
    /// Where the brim volume equals the target.
    pub metering_deg: BothWaysAnswer,
}

impl MeasureAnswer {
    /// Puts an answer together. `settled` is none when no liquid was given; `below` holds piece, height and result.
    pub fn new(
        interior: &Interior,
        stance: Stance,
        pools: &[Pool],
        settled: Option<&Settled>,
        below: &[(usize, f64, Below)],
    ) -> Self {
        let name = |piece: usize| interior.pieces()[piece].clone();
        let port_name = |port: usize| name(interior.ports()[port].piece);
        let volumes = interior.piece_volumes();
        let volume_below = below.iter().map(|&(piece, level_mm, below)| BelowAnswer {
            piece: name(piece),
            level_mm,
            volume_ml: below.volume / MM3_PER_ML,
            free_surface_cm2: below.free_surface / MM2_PER_CM2,
        });
        Self {
            stance: StanceAnswer {
                tilt_deg: stance.tilt_deg,
                roll_deg: stance.roll_deg,
            },
            total_ml: interior.total_volume() / MM3_PER_ML,
            pieces: volumes
                .iter()
                .enumerate()
                .map(|(piece, v)| PieceAnswer {
                    piece: name(piece),
                    volume_ml: v / MM3_PER_ML,
                })
                .collect(),
            pools: pools
                .iter()
                .map(|pool| PoolAnswer {
                    piece: name(pool.piece),
                    pieces: pool.pieces.iter().map(|&p| name(p)).collect(),
                    volume_ml: pool.volume / MM3_PER_ML,
                    level_mm: pool.level,
                    depth_mm: pool.depth(),
                    free_surface_cm2: pool.free_surface / MM2_PER_CM2,
                    sill_mm: pool.sill,
                    brim_ml: pool.brim.map(|v| v / MM3_PER_ML),
                    runs_to: pool.runs_to.map(|to| match to {
                        RunsTo::Piece(piece) => RunsToAnswer::Piece(name(piece)),
                        RunsTo::Port(port) => RunsToAnswer::Port { port: port_name(port) },
                    }),
                })
                .collect(),
            lost: settled.map_or_else(Vec::new, |s| {
                s.lost
                    .iter()
                    .map(|&(port, v)| LostAnswer {
                        port: port_name(port),
                        volume_ml: v / MM3_PER_ML,
                    })
                    .collect()
            }),
            volume_below: (!below.is_empty()).then(|| volume_below.collect()),
        }
    }

    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        writeln!(
            out,
            "Stance: tilt {:.1} deg, roll {:.1} deg",
            self.stance.tilt_deg, self.stance.roll_deg
        )?;
        writeln!(out, "\n{:<24} {:>12}", "Piece", "volume / mL")?;
        for piece in &self.pieces {
            writeln!(out, "{:<24} {:>12.2}", piece.piece, piece.volume_ml)?;
        }
        writeln!(out, "{:<24} {:>12.2}", "all", self.total_ml)?;
        let empty = self.pools.iter().all(|p| p.volume_ml == 0.0);
        let (what, first) = if empty {
            ("Basin", "lowest / mm")
        } else {
            ("Pool", "level / mm")
        };
        writeln!(
            out,
            "\n{what:<24} {:>10} {:>10} {first:>12} {:>10} {:>13} {:>10}  runs to",
            "held / mL", "brim / mL", "depth / mm", "surface / cm2", "sill / mm"
        )?;
        let or_never =
            |v: Option<f64>, digits: usize| v.map_or_else(|| "never".to_owned(), |v| format!("{v:.digits$}"));
        for pool in &self.pools {
            let runs_to = match &pool.runs_to {
                None => "nowhere".to_owned(),
                Some(RunsToAnswer::Piece(piece)) => piece.clone(),
                Some(RunsToAnswer::Port { port }) => format!("OUT of {port}"),
            };
            writeln!(
                out,
                "{:<24} {:>10.2} {:>10} {:>12.1} {:>10.1} {:>13.2} {:>10}  {runs_to}",
                pool.pieces.join(" + "),
                pool.volume_ml,
                or_never(pool.brim_ml, 2),
                pool.level_mm,
                pool.depth_mm,
                pool.free_surface_cm2,
                or_never(pool.sill_mm, 1),
            )?;
        }
        for lost in &self.lost {
            writeln!(out, "\nLOST out of {}: {:.2} mL", lost.port, lost.volume_ml)?;
        }
        for below in self.volume_below.iter().flatten() {
            writeln!(
                out,
                "\nBelow {:.1} mm, with {}: {:.2} mL, surface {:.2} cm2",
                below.level_mm, below.piece, below.volume_ml, below.free_surface_cm2
            )?;
        }
        Ok(())
    }
}

impl From<BothWays> for BothWaysAnswer {
    fn from(both: BothWays) -> Self {
        Self {
            anticlockwise: both.anticlockwise,
            clockwise: both.clockwise,
        }
    }
}

impl From<Tilts> for TiltsAnswer {
    fn from(tilts: Tilts) -> Self {
        Self {
            spill_deg: tilts.spill.into(),
            hold_deg: tilts.hold.map(|(lo, hi)| [lo, hi]),
            drain_deg: tilts.drain.into(),
            metering_deg: tilts.metering.into(),
        }
    }
}

impl TiltsAnswer {
    /// The answer as a person reads it.
    pub fn text(&self) -> String {
        let tilt = |t: Option<f64>| t.map_or_else(|| "never".to_owned(), |t| format!("{t:.2}"));
        let row = |what: &str, both: BothWaysAnswer| {
            format!(
                "{what:<22} {:>14} {:>14}\n",
                tilt(both.clockwise),
                tilt(both.anticlockwise)
            )
        };
        let spills = self.spill_deg.clockwise.or(self.spill_deg.anticlockwise).is_some();
        let hold = match self.hold_deg {
            Some([lo, hi]) => format!("It stays put from {lo:.2} to {hi:.2} deg.\n"),
            None if spills => "It does not stay put at the starting tilt.\n".to_owned(),
            // No volume was asked about.
            None => String::new(),
        };
        format!("{:<22} {:>14} {:>14}\n", "Tilt / deg", "clockwise", "anticlockwise")
            + &row("begins to run", self.spill_deg)
            + &row("has drained", self.drain_deg)
            + &row("brim equals target", self.metering_deg)
            + &hold
    }
}
