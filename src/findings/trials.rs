//! Every rule of the job with a design that trips it and one that just does not.

use super::{RULES, Severity, by_rule};
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::job::Input;
use crate::model::{
    Apparatus, Bottom, BulbShape, Element, End, FittingKind, Form, Gas, Place, Run, Seat, Stop, Tube, TubeSize, file,
    sample,
};
use crate::stages::{Case, Stages};

/// A small manifold with water: nothing is distilled, three vials of 1.5 mL.
fn water() -> Apparatus {
    let mut apparatus = sample::apparatus();
    apparatus.charge.fills[0].volume_ml = 6.8;
    apparatus
}

/// The worked example: rubidium is distilled and poured into six vials.
fn rubidium() -> Apparatus {
    let mut apparatus = file::read(include_str!("../../examples/rubidium-six.json")).unwrap();
    apparatus.job = crate::model::Job::default();
    apparatus.run = Run::default();
    apparatus
}

/// What a rule says of a design: severities, pieces, and whether something stayed unknown.
fn says(rule: &str, apparatus: &Apparatus) -> (Vec<(Severity, String)>, usize) {
    let built = build(apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    let case = Case::new(apparatus, &built, &interior);
    let (findings, unknown) = by_rule(rule, &Stages::of(&case));
    for finding in &findings {
        assert!(!finding.what.is_empty() && !finding.mend.is_empty(), "{rule}");
        assert!(
            finding.why.ends_with('.') && finding.mend.ends_with('.'),
            "{rule}: {}",
            finding.why
        );
    }
    let told = findings.into_iter().map(|finding| (finding.severity, finding.piece));
    (told.collect(), unknown.len())
}

type Change = fn(&mut Apparatus);

/// A rule, what it says of which piece, a change that trips it and one that just does not.
type Trial = (&'static str, Severity, &'static str, Change, Change);

fn check(base: fn() -> Apparatus, trials: &[Trial]) {
    for (rule, severity, piece, trips, just_not) in trials {
        assert!(RULES.iter().any(|known| known.id == *rule), "{rule}");
        let (mut bad, mut good) = (base(), base());
        trips(&mut bad);
        just_not(&mut good);
        let (told, _) = says(rule, &bad);
        assert!(
            told.contains(&(*severity, (*piece).to_owned())),
            "{rule} {severity:?}: {told:?}"
        );
        let (told, _) = says(rule, &good);
        assert!(
            !told.contains(&(*severity, (*piece).to_owned())),
            "{rule} {severity:?} was to stay silent: {told:?}"
        );
    }
}

fn set(apparatus: &mut Apparatus, input: Input, value: f64) {
    apparatus.job.set(input, Some(value));
}

fn vial(apparatus: &mut Apparatus, change: impl Fn(&mut crate::model::Ampoule)) {
    let row = &mut apparatus.rows[0];
    row.departures.clear();
    change(&mut row.pattern);
}

fn gas(apparatus: &mut Apparatus, mbar: f64) {
    apparatus.run.gas = Gas::Filled { pressure_mbar: mbar };
}

fn stop(tilt_deg: f64, seals: &[&str]) -> Stop {
    Stop {
        seals: seals.iter().map(|name| (*name).to_owned()).collect(),
        ..Stop::at(tilt_deg, 0.0)
    }
}

use Severity::{Note, Stop as Halt, Watch};

#[test]
fn rules_of_the_charge() {
    check(
        water,
        &[
            (
                "liquid-unknown",
                Watch,
                "",
                |a| a.charge.liquid = "elixir".into(),
                |a| a.charge.liquid = "water".into(),
            ),
            (
                "charge-short",
                Halt,
                "",
                |a| a.charge.fills[0].volume_ml = 4.48,
                |a| a.charge.fills[0].volume_ml = 4.5,
            ),
            (
                "charge-short",
                Watch,
                "",
                |a| a.charge.fills[0].volume_ml = 5.9,
                |a| a.charge.fills[0].volume_ml = 6.8,
            ),
            (
                "charge-surplus",
                Note,
                "",
                |a| a.charge.fills[0].volume_ml = 9.0,
                |a| a.charge.fills[0].volume_ml = 7.0,
            ),
            // 1.5 mL of water at 20 C are 1.4973 g.
            (
                "target-differs",
                Watch,
                "vial",
                |a| {
                    vial(a, |_| {});
                    set(a, Input::AskedG, 1.6)
                },
                |a| {
                    vial(a, |_| {});
                    set(a, Input::AskedG, 1.5)
                },
            ),
            (
                "reaction-wrong",
                Halt,
                "",
                |a| a.job.reaction = "H2 + O2 -> H2O".into(),
                |a| a.job.reaction = "2 H2 + O2 -> 2 H2O".into(),
            ),
            (
                "yield-hopeful",
                Note,
                "",
                |a| {
                    a.job.reaction = "2 H2 + O2 -> 2 H2O".into();
                    set(a, Input::Yield, 100.0)
                },
                |a| {
                    a.job.reaction = "2 H2 + O2 -> 2 H2O".into();
                    set(a, Input::Yield, 99.0)
                },
            ),
            (
                "filling-solid",
                Halt,
                "",
                |a| set(a, Input::Filling, -0.5),
                |a| set(a, Input::Filling, 5.1),
            ),
            (
                "poured-in-air",
                Halt,
                "",
                |a| {
                    a.charge.liquid = "NaK".into();
                    a.run.gas = Gas::Open
                },
                |a| {
                    a.charge.liquid = "NaK".into();
                    gas(a, 800.0)
                },
            ),
        ],
    );
}

#[test]
fn rules_of_distilling() {
    check(
        rubidium,
        &[
            (
                "not-distillable",
                Note,
                "pot",
                |a| a.charge.liquid = "gallium".into(),
                |_| {},
            ),
            (
                "not-distillable",
                Halt,
                "pot",
                |a| {
                    a.charge.liquid = "EGaIn".into();
                    set(a, Input::Pot, 280.0)
                },
                |a| a.charge.liquid = "EGaIn".into(),
            ),
            (
                "pot-too-hot",
                Halt,
                "pot",
                |a| set(a, Input::Pot, 351.0),
                |a| set(a, Input::Pot, 350.0),
            ),
            (
                "pot-too-hot",
                Watch,
                "pot",
                |a| set(a, Input::Pot, 301.0),
                |a| set(a, Input::Pot, 300.0),
            ),
            (
                "still-backwards",
                Halt,
                "receiver",
                |a| set(a, Input::Receiver, 212.5),
                |a| set(a, Input::Receiver, 200.0),
            ),
            (
                "still-slow",
                Watch,
                "pot",
                |a| set(a, Input::Pot, 230.0),
                |a| set(a, Input::Pot, 270.0),
            ),
            (
                "still-past-exposure",
                Note,
                "",
                |a| set(a, Input::Exposed, 10.0),
                |a| set(a, Input::Exposed, 100.0),
            ),
            (
                "residual-gas",
                Watch,
                "pot",
                |a| set(a, Input::Residual, 0.011),
                |a| set(a, Input::Residual, 0.009),
            ),
            (
                "receiver-solid",
                Watch,
                "receiver",
                |a| set(a, Input::Receiver, 39.0),
                |a| set(a, Input::Receiver, 40.0),
            ),
            (
                "receiver-runs-over",
                Halt,
                "receiver",
                |a| set(a, Input::StillTilt, -12.0),
                |a| set(a, Input::StillTilt, 0.0),
            ),
            (
                "receiver-runs-over",
                Watch,
                "receiver",
                |a| set(a, Input::StillTilt, -7.0),
                |a| set(a, Input::StillTilt, -6.0),
            ),
        ],
    );
}

/// The pot of the example as a bulb of another size.
fn pot(apparatus: &mut Apparatus, od_mm: f64) {
    if let Form::Bulb(bulb) = &mut apparatus.pieces[1].form {
        bulb.shape = BulbShape::Sphere;
        bulb.body.od_mm = od_mm;
    }
}

#[test]
fn rules_of_the_pot() {
    assert_eq!(rubidium().pieces[1].name, "pot");
    check(
        rubidium,
        &[
            ("pot-overfull", Watch, "pot", |a| pot(a, 30.0), |a| pot(a, 44.0)),
            ("pot-deep", Watch, "pot", |a| pot(a, 32.0), |a| pot(a, 40.0)),
            ("pot-splashes", Watch, "pot", |a| pot(a, 34.0), |a| pot(a, 48.0)),
        ],
    );
}

#[test]
fn rules_of_gas() {
    check(
        water,
        &[
            (
                "purge-never",
                Halt,
                "",
                |a| set(a, Input::PurgeLow, 1000.0),
                |a| set(a, Input::PurgeLow, 900.0),
            ),
            (
                "purge-short",
                Watch,
                "",
                |a| set(a, Input::Cycles, 1.0),
                |a| set(a, Input::Cycles, 2.0),
            ),
            (
                "dead-end",
                Note,
                "vial",
                |a| {
                    vial(a, |v| v.body_mm = 90.0);
                    gas(a, 800.0)
                },
                |a| {
                    vial(a, |v| {
                        v.stem_mm = 10.0;
                        v.funnel_mm = 5.0;
                        v.neck_mm = 15.0;
                        v.shoulder_mm = 5.0;
                        v.body_mm = 10.0
                    });
                    gas(a, 800.0)
                },
            ),
        ],
    );
    check(
        rubidium,
        &[(
            "leak-too-large",
            Halt,
            "",
            |a| {
                set(a, Input::LeakFrom, 0.0);
                set(a, Input::LeakTo, 0.16);
                set(a, Input::LeakHours, 1.0)
            },
            |a| {
                set(a, Input::LeakFrom, 0.0);
                set(a, Input::LeakTo, 0.14);
                set(a, Input::LeakHours, 1.0)
            },
        )],
    );
}

#[test]
fn rules_of_necks() {
    check(
        water,
        &[
            (
                "neck-short",
                Watch,
                "vial",
                |a| vial(a, |v| v.neck_mm = 14.5),
                |a| vial(a, |v| v.neck_mm = 15.0),
            ),
            (
                "neck-short",
                Halt,
                "vial",
                |a| {
                    vial(a, |v| {
                        v.neck_mm = 7.5;
                        v.seal_mm = 3.0
                    })
                },
                |a| {
                    vial(a, |v| {
                        v.neck_mm = 8.0;
                        v.seal_mm = 3.0
                    })
                },
            ),
            (
                "neck-thin",
                Watch,
                "vial",
                |a| vial(a, |v| v.neck.wall_mm = 0.7),
                |a| vial(a, |v| v.neck.wall_mm = 0.8),
            ),
            (
                "neck-sucked-in",
                Watch,
                "vial",
                |a| vial(a, |v| v.neck.od_mm = 8.5),
                |a| vial(a, |v| v.neck.od_mm = 8.0),
            ),
            // 1.5 mL stand some 19 mm high in the sample's vials: 50 mm of body leave 55 mm.
            (
                "seal-near-liquid",
                Halt,
                "vial",
                |a| vial(a, |v| v.target_ml = 4.2),
                |a| vial(a, |v| v.target_ml = 3.4),
            ),
            (
                "seal-near-liquid",
                Watch,
                "vial",
                |a| vial(a, |v| v.target_ml = 3.6),
                |a| vial(a, |v| v.target_ml = 2.8),
            ),
            (
                "seal-near-liquid",
                Note,
                "vial",
                |a| vial(a, |v| v.target_ml = 1.6),
                |a| vial(a, |v| v.target_ml = 1.0),
            ),
            (
                "tail-short",
                Note,
                "vial",
                |a| vial(a, |v| v.stem_mm = 37.5),
                |a| vial(a, |v| v.stem_mm = 38.5),
            ),
            (
                "torch-no-room",
                Watch,
                "vial-1",
                |a| {
                    vial(a, |_| {});
                    a.rows[0].pitch_mm = 22.9
                },
                |a| {
                    vial(a, |_| {});
                    a.rows[0].pitch_mm = 23.1
                },
            ),
            (
                "torch-no-room",
                Halt,
                "vial-1",
                |a| {
                    vial(a, |v| v.body.od_mm = 8.0);
                    a.rows[0].pitch_mm = 10.9
                },
                |a| {
                    vial(a, |v| v.body.od_mm = 8.0);
                    a.rows[0].pitch_mm = 11.1
                },
            ),
            (
                "seal-under-vapour",
                Watch,
                "",
                |a| set(a, Input::ClosingT, 20.0),
                |a| a.charge.liquid = "mercury".into(),
            ),
            (
                "seal-under-vapour",
                Halt,
                "",
                |a| {
                    a.charge.liquid = "diethyl ether".into();
                    set(a, Input::ClosingT, 20.0)
                },
                |a| {
                    a.charge.liquid = "diethyl ether".into();
                    set(a, Input::ClosingT, 10.0)
                },
            ),
        ],
    );
}

#[test]
fn rules_of_capillarity() {
    check(
        water,
        &[
            // Bore of 3 mm against 5.0 to 7.0 mm; the sample's bore is 3 mm.
            (
                "neck-plugs",
                Halt,
                "vial",
                |a| {
                    vial(a, |v| {
                        v.neck = TubeSize::new(6.8, 1.0);
                        v.stem = TubeSize::new(8.0, 1.0)
                    });
                    gas(a, 700.0)
                },
                |a| {
                    vial(a, |v| v.neck = TubeSize::new(7.2, 1.0));
                    gas(a, 700.0)
                },
            ),
            (
                "neck-plugs",
                Watch,
                "vial",
                |a| {
                    vial(a, |v| v.neck = TubeSize::new(7.2, 1.0));
                    gas(a, 700.0)
                },
                |a| {
                    vial(a, |v| {
                        v.neck = TubeSize::new(9.2, 1.0);
                        v.stem = TubeSize::new(12.0, 1.0)
                    });
                    gas(a, 700.0)
                },
            ),
            (
                "neck-plugs",
                Note,
                "vial",
                |a| vial(a, |v| v.neck = TubeSize::new(6.8, 1.0)),
                |a| vial(a, |v| v.neck = TubeSize::new(7.2, 1.0)),
            ),
            // Mercury in a bore of 0.5 mm: 2 sigma |cos 148|/(rho g r) is 25 mm; 26.8 mm stand over it.
            (
                "neck-not-entered",
                Halt,
                "vial",
                |a| {
                    a.charge.liquid = "mercury".into();
                    vial(a, |v| {
                        v.neck = TubeSize::new(5.4, 2.5);
                        v.stem_mm = 15.0
                    })
                },
                |a| {
                    a.charge.liquid = "mercury".into();
                    vial(a, |v| v.neck = TubeSize::new(5.6, 2.3))
                },
            ),
            (
                "neck-not-entered",
                Watch,
                "vial",
                |a| {
                    a.charge.liquid = "mercury".into();
                    vial(a, |v| {
                        v.neck = TubeSize::new(5.5, 2.5);
                        v.stem_mm = 20.0
                    })
                },
                |a| {
                    a.charge.liquid = "mercury".into();
                    vial(a, |v| v.neck = TubeSize::new(5.6, 2.3))
                },
            ),
        ],
    );
}

#[test]
fn rules_of_sealing() {
    check(
        water,
        &[
            ("neck-blows-out", Halt, "", |a| gas(a, 750.0), |a| gas(a, 740.0)),
            (
                "ampoule-too-full",
                Halt,
                "vial",
                |a| vial(a, |v| v.target_ml = 3.8),
                |a| vial(a, |v| v.target_ml = 3.6),
            ),
            (
                "ampoule-too-full",
                Watch,
                "vial",
                |a| vial(a, |v| v.target_ml = 3.2),
                |a| vial(a, |v| v.target_ml = 3.1),
            ),
            (
                "ampoule-full-when-warm",
                Halt,
                "vial",
                |a| benzene(a, 80.0),
                |a| benzene(a, 60.0),
            ),
            (
                "ampoule-full-when-warm",
                Watch,
                "vial",
                |a| benzene(a, 60.0),
                |a| benzene(a, 40.0),
            ),
            (
                "ampoule-bursts-frozen",
                Halt,
                "vial",
                |a| {
                    vial(a, |v| v.target_ml = 3.7);
                    set(a, Input::Coldest, -5.0)
                },
                |a| {
                    vial(a, |v| v.target_ml = 3.6);
                    set(a, Input::Coldest, -5.0)
                },
            ),
            (
                "ampoule-bursts-frozen",
                Note,
                "vial",
                |a| {
                    vial(a, |_| {});
                    set(a, Input::Coldest, -5.0)
                },
                |a| {
                    vial(a, |_| {});
                    set(a, Input::Coldest, 1.0)
                },
            ),
            (
                "gas-condenses",
                Halt,
                "",
                |a| {
                    gas(a, 700.0);
                    set(a, Input::Bath, -196.0)
                },
                |a| {
                    gas(a, 700.0);
                    set(a, Input::Bath, -78.0)
                },
            ),
            (
                "metal-in-wrong-gas",
                Halt,
                "",
                |a| {
                    a.charge.liquid = "K".into();
                    a.job.gas = "air".into();
                    gas(a, 700.0)
                },
                |a| {
                    a.charge.liquid = "K".into();
                    a.job.gas = "argon".into();
                    gas(a, 700.0)
                },
            ),
        ],
    );
    // Laid over with much liquid the necks stand full; upright they do not.
    check(
        rubidium,
        &[(
            "seal-wetted",
            Watch,
            "vial-1",
            |a| {
                a.charge.fills[0].volume_ml = 40.0;
                a.run.stops = vec![stop(0.0, &[]), stop(-80.0, &[])]
            },
            |a| {
                a.charge.fills[0].volume_ml = 5.0;
                a.run.stops = vec![stop(0.0, &[])]
            },
        )],
    );
}

#[test]
fn sealing_off_what_lies_between_another_and_the_pump() {
    // A fourth vial hangs on the stem of the first: sealing the first cuts it off.
    let design = |order: [&str; 2]| {
        let mut apparatus = water();
        let mut piece = apparatus.pieces[3].clone();
        piece.name = "far".to_owned();
        piece.seat = Seat::On(Place {
            host: "vial-1".to_owned(),
            at_mm: 85.0,
            turn_deg: 90.0,
        });
        piece.form = Form::Ampoule(sample::ampoule());
        apparatus.pieces.push(piece);
        apparatus.run.stops = vec![stop(0.0, &order)];
        apparatus
    };
    let (told, _) = says("pump-cut-off", &design(["vial-1", "far"]));
    assert_eq!(told, [(Halt, "far".to_owned())]);
    let (told, unknown) = says("pump-cut-off", &design(["far", "vial-1"]));
    assert_eq!((told, unknown), (vec![], 0));
    assert_eq!(says("pump-cut-off", &water()).1, 1, "without a run it is unknown");
}

/// Vials of benzene so full that the liquid fills them at some 63 degrees.
fn benzene(apparatus: &mut Apparatus, warmest_c: f64) {
    apparatus.charge.liquid = "benzene".to_owned();
    vial(apparatus, |v| v.target_ml = 3.95);
    set(apparatus, Input::Warmest, warmest_c);
}

/// The vial's sealed part under a pressure: closed with gas at one atmosphere and warmed.
fn warmed(apparatus: &mut Apparatus, c: f64) {
    apparatus.charge.liquid = "benzene".to_owned();
    vial(apparatus, |v| v.target_ml = 2.0);
    gas(apparatus, 1000.0);
    set(apparatus, Input::Warmest, c);
}

#[test]
fn rules_of_strength() {
    check(
        water,
        &[
            // A body of 12 x 1 mm is rated 12.6 bar; a quarter are 3.1 bar.
            (
                "ampoule-pressure",
                Halt,
                "vial",
                |a| {
                    warmed(a, 103.0);
                    set(a, Input::Derating, 10.0)
                },
                |a| {
                    warmed(a, 40.0);
                    set(a, Input::Derating, 10.0)
                },
            ),
            (
                "ampoule-pressure",
                Watch,
                "vial",
                |a| {
                    warmed(a, 103.0);
                    set(a, Input::Derating, 20.0)
                },
                |a| warmed(a, 60.0),
            ),
            (
                "ampoule-above-two-bar",
                Watch,
                "vial",
                |a| {
                    warmed(a, 103.0);
                    set(a, Input::Derating, 50.0)
                },
                |a| {
                    warmed(a, 60.0);
                    set(a, Input::Derating, 50.0)
                },
            ),
            // The flat of the sample's flask, 20 x 1.4 mm, is the weakest: 1.5 bar, a quarter are 386 mbar.
            (
                "overpressure",
                Halt,
                "pot",
                |a| set(a, Input::Over, 390.0),
                |a| set(a, Input::Over, 380.0),
            ),
            (
                "collapses",
                Watch,
                "pot",
                |a| thin_pot(a, 290.0, 0.6),
                |a| thin_pot(a, 290.0, 0.7),
            ),
            ("collapses", Halt, "tube", |a| thin_tube(a, 0.8), |a| thin_tube(a, 2.5)),
            (
                "flat-end-weak",
                Halt,
                "vial",
                |a| {
                    vial(a, |v| {
                        v.bottom = Bottom::Flat;
                        v.body.wall_mm = 0.6
                    })
                },
                |a| {
                    vial(a, |v| {
                        v.bottom = Bottom::Flat;
                        v.body.wall_mm = 1.0
                    })
                },
            ),
            (
                "flat-end-weak",
                Watch,
                "vial",
                |a| {
                    vial(a, |v| {
                        v.bottom = Bottom::Flat;
                        v.body.wall_mm = 0.75
                    })
                },
                |a| {
                    vial(a, |v| {
                        v.bottom = Bottom::Flat;
                        v.body.wall_mm = 1.0
                    })
                },
            ),
            (
                "shock",
                Halt,
                "",
                |a| set(a, Input::Difference, 121.0),
                |a| set(a, Input::Difference, 120.0),
            ),
            (
                "shock",
                Watch,
                "",
                |a| set(a, Input::Difference, 27.0),
                |a| set(a, Input::Difference, 26.9),
            ),
            // 7 N/mm2 through 2 mm are 56 nm.
            (
                "strain-reading",
                Halt,
                "",
                |a| {
                    set(a, Input::Strain, 57.0);
                    set(a, Input::StrainPath, 2.0)
                },
                |a| {
                    set(a, Input::Strain, 55.0);
                    set(a, Input::StrainPath, 2.0)
                },
            ),
            (
                "strain-reading",
                Watch,
                "",
                |a| {
                    set(a, Input::Strain, 29.0);
                    set(a, Input::StrainPath, 2.0)
                },
                |a| {
                    set(a, Input::Strain, 27.0);
                    set(a, Input::StrainPath, 2.0)
                },
            ),
            (
                "derating-hopeful",
                Watch,
                "",
                |a| set(a, Input::Derating, 35.0),
                |a| set(a, Input::Derating, 34.0),
            ),
        ],
    );
}

fn thin_pot(apparatus: &mut Apparatus, od_mm: f64, wall_mm: f64) {
    if let Form::Bulb(bulb) = &mut apparatus.pieces[1].form {
        bulb.shape = BulbShape::Sphere;
        bulb.body = TubeSize::new(od_mm, wall_mm);
        bulb.neck_mm = 200.0;
    }
}

fn thin_tube(apparatus: &mut Apparatus, wall_mm: f64) {
    let mut piece = apparatus.pieces[0].clone();
    piece.name = "tube".to_owned();
    piece.seat = Seat::Free {
        x_mm: 0.0,
        y_mm: 900.0,
        heading_deg: 0.0,
    };
    piece.form = Form::Tube(Tube {
        size: TubeSize::new(120.0, wall_mm),
        course: vec![Element::Straight { length_mm: 100.0 }],
        start: End::Open,
        end: End::Round,
    });
    apparatus.pieces.push(piece);
}

#[test]
fn rules_of_blowing() {
    check(
        water,
        &[
            ("closed-while-heated", Halt, "bridge", shut, |_| {}),
            (
                "oven-too-small",
                Watch,
                "header",
                |a| set(a, Input::Oven, 300.0),
                |a| set(a, Input::Oven, 400.0),
            ),
            (
                "oven-too-small",
                Note,
                "",
                |a| set(a, Input::Oven, 400.0),
                |a| set(a, Input::Oven, 500.0),
            ),
            (
                "run-between-bends",
                Watch,
                "header",
                |a| second_bend(a, 24.5),
                |a| second_bend(a, 25.0),
            ),
        ],
    );
}

/// The header with another bend a straight run after its first.
fn second_bend(apparatus: &mut Apparatus, length_mm: f64) {
    if let Form::Tube(tube) = &mut apparatus.pieces[0].form {
        tube.course.insert(2, Element::Straight { length_mm });
        tube.course.insert(
            3,
            Element::Bend {
                angle_deg: -90.0,
                radius_mm: 40.0,
            },
        );
    }
}

/// Nothing is open when the bridge goes in: the pump is a cap, the header's far end is round.
fn shut(apparatus: &mut Apparatus) {
    if let Form::Fitting(fitting) = &mut apparatus.pieces[3].form {
        fitting.kind = FittingKind::Cap;
    }
    if let Form::Tube(tube) = &mut apparatus.pieces[0].form {
        tube.end = End::Round;
    }
    if let Seat::Between { from, .. } = &mut apparatus.pieces[2].seat {
        from.at_mm = 0.0;
    }
}

#[test]
fn rules_of_cleaning_up() {
    check(
        rubidium,
        &[
            ("quench-unreached", Halt, "sump", sump, |_| {}),
            (
                "residue-behind-seal",
                Watch,
                "pot",
                |a| a.run.stops = vec![stop(0.0, &[])],
                |a| {
                    a.run.stops = vec![stop(0.0, &[])];
                    without_neck(a)
                },
            ),
            (
                "quench-violent",
                Halt,
                "",
                |a| a.job.quench = "water".into(),
                |a| a.job.quench = "tert-butanol".into(),
            ),
            (
                "quench-much-gas",
                Watch,
                "",
                |a| set(a, Input::Residue, 3.6),
                |a| set(a, Input::Residue, 3.5),
            ),
        ],
    );
}

/// A hollow that communicates with nothing: what is poured in by a port never comes there.
fn sump(apparatus: &mut Apparatus) {
    let mut piece = apparatus.pieces[1].clone();
    piece.name = "sump".to_owned();
    piece.seat = Seat::Free {
        x_mm: 900.0,
        y_mm: 0.0,
        heading_deg: -90.0,
    };
    apparatus.pieces.push(piece);
    let mut stopper = apparatus.pieces[4].clone();
    stopper.name = "stopper".to_owned();
    stopper.seat = Seat::On(Place {
        host: "sump".to_owned(),
        at_mm: 0.0,
        turn_deg: 180.0,
    });
    apparatus.pieces.push(stopper);
    apparatus.run.stops = vec![stop(0.0, &[])];
}

fn without_neck(apparatus: &mut Apparatus) {
    if let Form::Tube(tube) = &mut apparatus.pieces[2].form {
        tube.course.retain(|element| !matches!(element, Element::Neck { .. }));
        tube.course.push(Element::Straight { length_mm: 40.0 });
    }
}

#[test]
fn every_rule_has_its_trial() {
    let trials = concat!(include_str!("trials.rs"), include_str!("mod.rs"));
    for rule in RULES {
        assert!(trials.contains(&format!("\"{}\"", rule.id)), "{}", rule.id);
    }
}

/// Nothing is green merely because it was not computed.
#[test]
fn an_unknown_liquid_leaves_its_rules_unknown() {
    let mut apparatus = rubidium();
    apparatus.charge.liquid = "elixir".to_owned();
    for rule in [
        "filling-solid",
        "pot-too-hot",
        "still-slow",
        "neck-plugs",
        "ampoule-full-when-warm",
        "ampoule-pressure",
    ] {
        let (told, unknown) = says(rule, &apparatus);
        assert!(told.is_empty() && unknown > 0, "{rule}: {told:?} {unknown}");
    }
}

#[test]
fn a_silenced_finding_stands_apart_with_its_reason() {
    let mut apparatus = water();
    apparatus.charge.fills[0].volume_ml = 1.0;
    apparatus.job.silence("charge-short", "", "a second charge follows");
    let built = build(&apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    let case = Case::new(&apparatus, &built, &interior);
    let review = super::review(&Stages::of(&case));
    assert!(review.findings.iter().all(|finding| finding.rule != "charge-short"));
    assert!(
        review
            .silenced
            .iter()
            .any(|(finding, reason)| finding.rule == "charge-short" && reason == "a second charge follows")
    );
}
