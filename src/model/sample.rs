//! A small design for tests: pot, receiver, bridge, header with a row, port.

use super::*;

pub(crate) fn on(host: &str, at_mm: f64, turn_deg: f64) -> Place {
    Place {
        host: host.to_owned(),
        at_mm,
        turn_deg,
    }
}

pub(crate) fn ampoule() -> Ampoule {
    Ampoule {
        stem: TubeSize::new(8.0, 1.0),
        stem_mm: 20.0,
        funnel_mm: 10.0,
        neck: TubeSize::new(6.0, 1.5),
        neck_mm: 20.0,
        seal_mm: 10.0,
        shoulder_mm: 8.0,
        body: TubeSize::new(12.0, 1.0),
        body_mm: 45.0,
        bottom: Bottom::Round,
        target_ml: 1.5,
    }
}

/// A run for [`apparatus`].
pub(crate) fn run() -> Run {
    Run {
        gas: Gas::Filled { pressure_mbar: 800.0 },
        drips_into: Some("header".to_owned()),
        capillarity: true,
        stops: vec![
            Stop {
                name: "upright".to_owned(),
                ..Stop::default()
            },
            Stop {
                name: "filling".to_owned(),
                rate_deg_per_s: 0.5,
                wait_s: 30.0,
                seals: vec!["vial-1".to_owned(), "vial-3".to_owned()],
                ..Stop::at(42.5, -10.0)
            },
            Stop::at(0.0, 0.0),
        ],
        measured: Vec::new(),
    }
}

pub(crate) fn apparatus() -> Apparatus {
    let piece = |name: &str, seat, form| Piece {
        name: name.to_owned(),
        seat,
        form,
    };
    Apparatus {
        title: "Sample".to_owned(),
        own_stock: vec![OwnSize {
            tube: TubeSize::new(13.5, 1.25),
            note: "rack 2".to_owned(),
        }],
        pieces: vec![
            piece(
                "header",
                Seat::Free {
                    x_mm: 0.0,
                    y_mm: 0.0,
                    heading_deg: 0.0,
                },
                Form::Tube(Tube {
                    size: TubeSize::new(16.0, 1.2),
                    course: vec![
                        Element::Straight { length_mm: 200.0 },
                        Element::Bend {
                            angle_deg: 90.0,
                            radius_mm: 32.0,
                        },
                        Element::Taper {
                            length_mm: 12.5,
                            to: TubeSize::new(10.0, 1.0),
                        },
                        Element::Neck {
                            size: TubeSize::new(6.0, 1.5),
                            taper_mm: 10.0,
                            length_mm: 20.0,
                        },
                        Element::Bulb {
                            size: TubeSize::new(20.0, 1.0),
                            length_mm: 24.0,
                        },
                        Element::Straight { length_mm: 30.0 },
                    ],
                    start: End::Round,
                    end: End::Joint {
                        designation: "14/23".to_owned(),
                        stoppered: false,
                    },
                }),
            ),
            piece(
                "pot",
                Seat::Free {
                    x_mm: -150.0,
                    y_mm: 20.0,
                    heading_deg: -90.0,
                },
                Form::Bulb(Bulb {
                    shape: BulbShape::Flask { flat_mm: 20.0 },
                    body: TubeSize::new(40.0, 1.4),
                    neck: TubeSize::new(12.0, 1.0),
                    neck_mm: 50.0,
                }),
            ),
            piece(
                "bridge",
                Seat::Between {
                    from: on("pot", 10.0, 180.0),
                    to: on("header", 20.0, 90.0),
                },
                Form::Bridge(Bridge {
                    size: TubeSize::new(10.0, 1.0),
                    bend_radius_mm: 20.0,
                    route: Route::Arched { rise_mm: 40.0 },
                }),
            ),
            piece(
                "pump",
                Seat::On(on("header", 180.0, 90.0)),
                Form::Fitting(Fitting {
                    kind: FittingKind::VacuumPort,
                    size: TubeSize::new(10.0, 1.0),
                    length_mm: 60.0,
                }),
            ),
        ],
        rows: vec![Row {
            name: "vial".to_owned(),
            first: on("header", 40.0, -90.0),
            pitch_mm: 45.0,
            count: 3,
            pattern: ampoule(),
            departures: vec![Departure {
                member: 2,
                ampoule: Ampoule {
                    body_mm: 50.0,
                    ..ampoule()
                },
            }],
        }],
        charge: Charge {
            liquid: "water".to_owned(),
            fills: vec![Fill {
                piece: "pot".to_owned(),
                volume_ml: 6.8,
            }],
        },
        run: Run::default(),
        job: Job::default(),
    }
}
