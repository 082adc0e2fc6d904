//! The sourced rows.

use super::{Flask, Joint, Known, Stock};

const TUBING: &str =
    "SCHOTT/DURAN tubing, capillary and rod catalogue: table of outside diameter, wall, mass per 1500 mm";
const TUBING_WIDE: &str = "DURAN tubing catalogue, sizes above 32 mm";
const JOINTS: &str = "ISO 383:1976, k6 series; DIN 12242";
const FLASKS: &str = "ISO 1773:1997; DURAN catalogue; wall assumed";

const fn read(od_mm: f64, wall_mm: f64, od_tolerance_mm: f64, wall_tolerance_mm: Option<f64>) -> Stock {
    Stock {
        od_mm,
        wall_mm,
        od_tolerance_mm: Some(od_tolerance_mm),
        wall_tolerance_mm,
        source: TUBING,
        known: Known::Read,
    }
}

const fn recalled(od_mm: f64, wall_mm: f64) -> Stock {
    Stock {
        od_mm,
        wall_mm,
        od_tolerance_mm: None,
        wall_tolerance_mm: None,
        source: TUBING_WIDE,
        known: Known::Memory,
    }
}

/// Tube of borosilicate glass 3.3, by outside diameter and then wall.
pub static STOCK: &[Stock] = &[
    read(3.0, 0.7, 0.14, Some(0.04)),
    read(4.0, 0.8, 0.14, Some(0.04)),
    read(5.0, 0.8, 0.14, Some(0.04)),
    read(6.0, 1.0, 0.14, Some(0.04)),
    read(6.0, 1.5, 0.14, Some(0.08)),
    read(7.0, 1.0, 0.14, Some(0.04)),
    read(7.0, 1.5, 0.14, Some(0.08)),
    read(8.0, 1.0, 0.14, Some(0.04)),
    read(8.0, 1.5, 0.14, Some(0.08)),
    read(9.0, 1.0, 0.14, Some(0.04)),
    read(9.0, 1.5, 0.14, Some(0.08)),
    read(10.0, 1.0, 0.14, Some(0.04)),
    read(10.0, 1.5, 0.14, Some(0.08)),
    read(10.0, 2.2, 0.14, Some(0.12)),
    read(11.0, 1.0, 0.18, Some(0.04)),
    read(11.0, 1.5, 0.18, Some(0.1)),
    read(11.0, 2.2, 0.18, Some(0.12)),
    read(12.0, 1.0, 0.18, Some(0.04)),
    read(12.0, 1.5, 0.18, Some(0.1)),
    read(12.0, 2.2, 0.18, Some(0.12)),
    read(13.0, 1.0, 0.18, Some(0.04)),
    read(13.0, 1.5, 0.18, Some(0.1)),
    read(13.0, 2.2, 0.18, Some(0.12)),
    read(14.0, 1.0, 0.18, Some(0.04)),
    read(14.0, 1.5, 0.18, Some(0.1)),
    read(14.0, 2.2, 0.18, Some(0.12)),
    read(15.0, 1.2, 0.18, Some(0.05)),
    read(15.0, 1.8, 0.18, Some(0.09)),
    read(15.0, 2.5, 0.18, Some(0.13)),
    read(16.0, 1.2, 0.18, Some(0.05)),
    read(16.0, 1.8, 0.18, Some(0.09)),
    read(16.0, 2.5, 0.18, Some(0.13)),
    read(17.0, 1.2, 0.18, Some(0.05)),
    read(17.0, 1.8, 0.18, Some(0.09)),
    read(17.0, 2.5, 0.18, Some(0.13)),
    read(18.0, 1.2, 0.18, Some(0.05)),
    read(18.0, 1.8, 0.18, Some(0.09)),
    read(18.0, 2.5, 0.18, Some(0.13)),
    read(19.0, 1.2, 0.18, Some(0.05)),
    read(19.0, 1.8, 0.18, Some(0.09)),
    read(19.0, 2.5, 0.18, Some(0.13)),
    read(20.0, 1.2, 0.25, Some(0.05)),
    read(20.0, 1.8, 0.25, Some(0.1)),
    read(20.0, 2.5, 0.25, Some(0.15)),
    read(22.0, 1.2, 0.25, Some(0.05)),
    read(22.0, 1.8, 0.25, Some(0.1)),
    read(22.0, 2.5, 0.25, Some(0.15)),
    read(24.0, 1.2, 0.25, Some(0.05)),
    read(24.0, 1.8, 0.25, Some(0.1)),
    read(24.0, 2.5, 0.25, Some(0.15)),
    read(26.0, 1.4, 0.25, Some(0.05)),
    read(26.0, 2.0, 0.25, Some(0.1)),
    read(26.0, 2.8, 0.25, Some(0.15)),
    read(28.0, 1.4, 0.25, Some(0.05)),
    read(28.0, 2.0, 0.25, Some(0.1)),
    read(28.0, 2.8, 0.25, Some(0.15)),
    read(30.0, 1.4, 0.35, Some(0.08)),
    read(30.0, 2.0, 0.35, Some(0.1)),
    read(30.0, 2.8, 0.35, Some(0.15)),
    read(32.0, 1.4, 0.35, Some(0.08)),
    read(32.0, 2.0, 0.35, Some(0.1)),
    read(32.0, 2.8, 0.35, None),
    recalled(34.0, 1.4),
    recalled(34.0, 2.0),
    recalled(34.0, 2.8),
    recalled(36.0, 1.4),
    recalled(36.0, 2.0),
    recalled(36.0, 2.8),
    recalled(38.0, 1.4),
    recalled(38.0, 2.0),
    recalled(38.0, 2.8),
    recalled(40.0, 1.4),
    recalled(40.0, 2.0),
    recalled(40.0, 2.8),
    recalled(42.0, 1.6),
    recalled(42.0, 2.3),
    recalled(42.0, 3.2),
    recalled(44.0, 1.6),
    recalled(44.0, 2.3),
    recalled(44.0, 3.2),
    recalled(46.0, 1.6),
    recalled(46.0, 2.3),
    recalled(46.0, 3.2),
    recalled(48.0, 1.6),
    recalled(48.0, 2.3),
    recalled(48.0, 3.2),
    recalled(50.0, 1.6),
    recalled(50.0, 2.3),
    recalled(50.0, 3.2),
];

const fn joint(designation: &'static str, large_mm: f64, length_mm: f64) -> Joint {
    Joint {
        designation,
        large_mm,
        length_mm,
        source: JOINTS,
        known: Known::Memory,
    }
}

/// Conical ground joints of the k6 series. The designations, lengths and the taper of 1:10 were read, the exact
/// large diameters are recalled.
pub static JOINTS_K6: &[Joint] = &[
    joint("5/13", 5.0, 13.0),
    joint("7.5/16", 7.5, 16.0),
    joint("10/19", 10.0, 19.0),
    joint("12/21", 12.5, 21.0),
    joint("14/23", 14.5, 23.0),
    joint("19/26", 18.8, 26.0),
    joint("21.5/28", 21.5, 28.0),
    joint("24/29", 24.0, 29.0),
    joint("29/32", 29.2, 32.0),
    joint("34/35", 34.5, 35.0),
    joint("40/38", 40.0, 38.0),
    joint("45/40", 45.0, 40.0),
    joint("50/42", 50.0, 42.0),
    joint("60/46", 60.0, 46.0),
];

const fn flask(capacity_ml: f64, od_mm: f64, wall_mm: f64) -> Flask {
    Flask {
        capacity_ml,
        od_mm,
        wall_mm,
        source: FLASKS,
        known: Known::Memory,
    }
}

/// Round-bottom flasks by nominal capacity.
pub static FLASK_SIZES: &[Flask] = &[
    flask(50.0, 51.0, 1.0),
    flask(100.0, 64.0, 1.1),
    flask(250.0, 85.0, 1.2),
    flask(500.0, 105.0, 1.5),
    flask(1000.0, 131.0, 1.5),
    flask(2000.0, 166.0, 1.7),
    flask(4000.0, 206.0, 2.0),
    flask(6000.0, 236.0, 2.2),
    flask(10000.0, 279.0, 2.5),
];
