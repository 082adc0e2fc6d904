//! Facts from standards and catalogues. Every row cites its source and says whether it was read there or recalled.

pub mod glass;
pub mod law;
pub mod liquids;
mod tables;
pub mod weights;

pub use tables::{FLASK_SIZES, JOINTS_K6, STOCK};

/// How a value is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// Read in the source.
    Read,
    /// Recalled; to be checked against the source before anything hangs on it.
    Memory,
    /// A rule of the trade without a single source.
    CommonPractice,
}

impl Known {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Memory => "memory",
            Self::CommonPractice => "common practice",
        }
    }
}

/// A stock size of tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stock {
    /// Outside diameter, mm.
    pub od_mm: f64,
    /// Wall, mm.
    pub wall_mm: f64,
    /// Tolerance of the outside diameter, plus or minus mm, where known.
    pub od_tolerance_mm: Option<f64>,
    /// Tolerance of the wall, plus or minus mm, where known.
    pub wall_tolerance_mm: Option<f64>,
    /// Where the row comes from.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

/// A conical ground joint; the taper is 1:10 on the diameter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Joint {
    /// Designation, such as 14/23.
    pub designation: &'static str,
    /// Large-end diameter of the ground zone, mm.
    pub large_mm: f64,
    /// Length of the ground zone, mm.
    pub length_mm: f64,
    /// Where the row comes from.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

impl Joint {
    /// Small-end diameter, mm.
    pub fn small_mm(&self) -> f64 {
        self.large_mm - self.length_mm / 10.0
    }
}

/// A round-bottom flask.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flask {
    /// Nominal capacity, mL.
    pub capacity_ml: f64,
    /// Outside diameter of the sphere, mm.
    pub od_mm: f64,
    /// Wall, mm.
    pub wall_mm: f64,
    /// Where the row comes from.
    pub source: &'static str,
    /// How it is known.
    pub known: Known,
}

/// Sizes that differ less than this are the same, mm.
const SAME_MM: f64 = 1e-6;

/// The stock row of that size.
pub fn stock(od_mm: f64, wall_mm: f64) -> Option<&'static Stock> {
    STOCK
        .iter()
        .find(|row| (row.od_mm - od_mm).abs() < SAME_MM && (row.wall_mm - wall_mm).abs() < SAME_MM)
}

/// The stock row nearest to a size: the nearest outside diameter, then the nearest wall.
pub fn nearest_stock(od_mm: f64, wall_mm: f64) -> Option<&'static Stock> {
    STOCK.iter().min_by(|a, b| {
        let off = |row: &Stock| ((row.od_mm - od_mm).abs(), (row.wall_mm - wall_mm).abs());
        let (a, b) = (off(a), off(b));
        a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
    })
}

/// The joint of that designation.
pub fn joint(designation: &str) -> Option<&'static Joint> {
    JOINTS_K6.iter().find(|row| row.designation == designation)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_ordered_sourced_and_possible() {
        for pair in STOCK.windows(2) {
            assert!(
                (pair[0].od_mm, pair[0].wall_mm) < (pair[1].od_mm, pair[1].wall_mm),
                "{:?}",
                pair[1]
            );
        }
        for row in STOCK {
            assert!(row.od_mm > 2.0 * row.wall_mm && !row.source.is_empty());
            assert_eq!(row.known == Known::Read, row.od_mm <= 32.0, "{row:?}");
        }
        assert!(FLASK_SIZES.iter().all(|row| {
            let bore_mm = row.od_mm - 2.0 * row.wall_mm;
            std::f64::consts::PI / 6.0 * bore_mm.powi(3) / 1000.0 > row.capacity_ml
        }));
    }

    #[test]
    fn known_sizes_are_found() {
        assert_eq!(stock(16.0, 1.2).and_then(|row| row.od_tolerance_mm), Some(0.18));
        assert_eq!(stock(32.0, 2.8).and_then(|row| row.wall_tolerance_mm), None);
        assert!(stock(16.0, 1.3).is_none());
        assert_eq!(
            nearest_stock(16.4, 1.7).map(|row| (row.od_mm, row.wall_mm)),
            Some((16.0, 1.8))
        );
        let joint = joint("14/23").unwrap();
        assert!((joint.small_mm() - 12.2).abs() < 1e-12);
        assert_eq!(JOINTS_K6.len(), 14);
    }
}
