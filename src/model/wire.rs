//! The design file's own types: what stands in the JSON, key by key. The model is converted to and from them, so that
//! the file keeps its shape when the program changes.

mod job;

use super::{
    Ampoule, Apparatus, Bottom, Bridge, Bulb, BulbShape, Charge, Departure, Element, End, Fill, Fitting, FittingKind,
    Form, Gas, Job, OwnSize, Piece, Place, Route, Row, Run, Seat, Stop, Tube, TubeSize,
};
use job::WireJob;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize, Serializer};

/// A number; whole ones are written without a fraction, as they were entered.
#[derive(Clone, Copy, Deserialize, JsonSchema)]
#[serde(transparent)]
pub(super) struct Num(f64);

impl Serialize for Num {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        // Up to 2^53 every whole number has one f64 of its own.
        if self.0.fract() == 0.0 && self.0.abs() < 9_007_199_254_740_992.0 {
            serializer.serialize_i64(self.0 as i64)
        } else {
            serializer.serialize_f64(self.0)
        }
    }
}

/// A design for vialwright. Lengths are millimetres, angles degrees (anticlockwise, 0 = to the right), volumes
/// millilitres; every key says so.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct WireDesign {
    /// Always "vialwright-design".
    pub(super) format: String,
    /// Version of the format.
    pub(super) version: u32,
    /// What the user calls the design.
    title: String,
    /// Tube sizes added to the catalogue.
    own_stock: Vec<WireOwn>,
    /// The pieces that are not members of rows.
    pieces: Vec<WirePiece>,
    /// Rows of like ampoules; members are named NAME-1, NAME-2 and so on.
    rows: Vec<WireRow>,
    /// The liquid.
    charge: WireCharge,
    /// The stances in which it is poured; since version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    run: Option<WireRun>,
    /// What is wanted of it; since version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    job: Option<WireJob>,
}

/// A tube size added by the user.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireOwn {
    /// Outside diameter.
    od_mm: Num,
    /// Wall.
    wall_mm: Num,
    /// Remark.
    note: String,
}

/// Outside diameter and wall of a tube.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireSize {
    /// Outside diameter.
    od_mm: Num,
    /// Wall.
    wall_mm: Num,
}

/// A piece of glass.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WirePiece {
    /// Unique name.
    name: String,
    /// Where it stands.
    seat: WireSeat,
    /// What it is.
    form: WireForm,
}

/// Where a piece stands.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireSeat {
    /// Free on the drawing: start and heading of its centreline.
    Free {
        /// To the right.
        x_mm: Num,
        /// Upwards.
        y_mm: Num,
        /// Heading.
        heading_deg: Num,
    },
    /// On a host.
    On(WirePlace),
    /// Between two places: bridges only.
    Between {
        /// Where it starts.
        from: WirePlace,
        /// Where it ends.
        to: WirePlace,
    },
}

/// A place on a host's centreline.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WirePlace {
    /// Name of the host.
    host: String,
    /// Distance along the host's centreline.
    at_mm: Num,
    /// Angle from the host's direction.
    turn_deg: Num,
}

/// What a piece is.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireForm {
    /// A course of elements.
    Tube(WireTube),
    /// A bulb on a neck.
    Bulb(WireBulb),
    /// A tube between two places.
    Bridge(WireBridge),
    /// A vial.
    Ampoule(WireAmpoule),
    /// A port, stopcock, joint or cap.
    Fitting(WireFitting),
}

/// A tube.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireTube {
    /// Size at the start.
    size: WireSize,
    /// Elements from the start.
    course: Vec<WireElement>,
    /// How the start is made.
    start: WireEnd,
    /// How the far end is made.
    end: WireEnd,
}

/// An element of a course.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireElement {
    /// A straight run.
    Straight {
        /// Length.
        length_mm: Num,
    },
    /// A bend.
    Bend {
        /// Turn.
        angle_deg: Num,
        /// Radius of the centreline.
        radius_mm: Num,
    },
    /// A conical change to another size.
    Taper {
        /// Length.
        length_mm: Num,
        /// Size after it.
        to: WireSize,
    },
    /// A constriction.
    Neck {
        /// Size of the parallel part.
        size: WireSize,
        /// Length of each taper.
        taper_mm: Num,
        /// Length of the parallel part.
        length_mm: Num,
    },
    /// A bulb blown in line.
    Bulb {
        /// Size at the equator.
        size: WireSize,
        /// Outside length between the poles.
        length_mm: Num,
    },
}

/// How a tube end is made.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireEnd {
    /// Cut open.
    Open,
    /// Closed round.
    Round,
    /// Closed flat.
    Flat,
    /// A ground joint.
    Joint {
        /// Designation, such as 14/23.
        designation: String,
        /// Closed by a stopper.
        stoppered: bool,
    },
    /// A connection to a vacuum or gas line.
    Port,
}

/// A bulb on a neck.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireBulb {
    /// Outline.
    shape: WireBulbShape,
    /// Greatest outside diameter and wall.
    body: WireSize,
    /// Size of the neck.
    neck: WireSize,
    /// From the neck's mouth to the centre of the body.
    neck_mm: Num,
}

/// Outline of a bulb.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireBulbShape {
    /// A sphere.
    Sphere,
    /// A sphere with a cone into the neck.
    Pear,
    /// A sphere on a flat.
    Flask {
        /// Outside diameter of the flat; 0 gives a round bottom.
        flat_mm: Num,
    },
}

/// A tube between two places.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireBridge {
    /// Size.
    size: WireSize,
    /// Radius of the centreline in its bends.
    bend_radius_mm: Num,
    /// Its way.
    route: WireRoute,
}

/// The way of a bridge.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireRoute {
    /// Straight from place to place.
    Straight,
    /// Up from both places to a level crossbar.
    Arched {
        /// Height of the crossbar above the higher place.
        rise_mm: Num,
    },
    /// Through corners.
    Via {
        /// Corners from the first place.
        corners: Vec<WireCorner>,
    },
}

/// A corner of a bridge, from its first place.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireCorner {
    /// To the right.
    x_mm: Num,
    /// Upwards.
    y_mm: Num,
}

/// A vial.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireAmpoule {
    /// Volume wanted.
    target_ml: Num,
    /// Size of the stem.
    stem: WireSize,
    /// Length of the stem from the host's centreline.
    stem_mm: Num,
    /// Length of the taper from stem to neck.
    funnel_mm: Num,
    /// Size of the neck.
    neck: WireSize,
    /// Length of the parallel neck.
    neck_mm: Num,
    /// Seal-off place along the neck from its upper end.
    seal_mm: Num,
    /// Length of the taper from neck to body.
    shoulder_mm: Num,
    /// Size of the body.
    body: WireSize,
    /// Length of the straight body.
    body_mm: Num,
    /// Bottom.
    bottom: WireBottom,
}

/// Bottom of an ampoule.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireBottom {
    /// A hemisphere.
    Round,
    /// Flat.
    Flat,
    /// A cone that ends in a point.
    Conical {
        /// Inside length of the cone.
        length_mm: Num,
    },
}

/// A fitting.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireFitting {
    /// What it is.
    kind: WireFittingKind,
    /// Size of its tube.
    size: WireSize,
    /// Length from the host's centreline.
    length_mm: Num,
}

/// Kinds of fitting.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireFittingKind {
    /// Connection to the pump.
    VacuumPort,
    /// Connection to the gas line.
    GasPort,
    /// A stopcock.
    Stopcock {
        /// Whether it stands open.
        open: bool,
    },
    /// A ground joint.
    Joint {
        /// Designation, such as 14/23.
        designation: String,
        /// Closed by a stopper.
        stoppered: bool,
    },
    /// A closed round end.
    Cap,
}

/// Like ampoules along a host.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireRow {
    /// Unique name.
    name: String,
    /// Place of the first member.
    first: WirePlace,
    /// Distance between members.
    pitch_mm: Num,
    /// Number of members.
    count: usize,
    /// What every member is unless it departs.
    pattern: WireAmpoule,
    /// Members that depart.
    departures: Vec<WireDeparture>,
}

/// A member that departs from its row's pattern.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireDeparture {
    /// Which member, from 1.
    member: usize,
    /// What it is instead.
    ampoule: WireAmpoule,
}

/// The liquid.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireCharge {
    /// Its name.
    liquid: String,
    /// Where it lies at the start.
    fills: Vec<WireFill>,
}

/// A volume in a piece.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireFill {
    /// Name of the piece.
    piece: String,
    /// Volume.
    volume_ml: Num,
}

/// The stances in which the charge is poured.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireRun {
    /// What fills the space above the liquid.
    gas: WireGas,
    /// Piece into which the whole charge drips at the first stop, instead of lying in the pieces it is given to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    drips_into: Option<String>,
    /// Whether the head counts that the liquid needs to enter a narrow bore that it does not wet.
    #[serde(default, skip_serializing_if = "is_off")]
    capillarity: bool,
    /// Stops in their order; the charge is given at the first.
    stops: Vec<WireStop>,
    /// What was measured in vessels after the run.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    measured: Vec<WireFill>,
}

/// What fills the space above the liquid.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
enum WireGas {
    /// Nothing that could hinder.
    Evacuated,
    /// Air, with every port open to it.
    Open,
    /// Gas, with the ports closed.
    Filled {
        /// Its pressure at the first stop, absolute.
        pressure_mbar: Num,
    },
}

/// A stance at which the glass rests.
#[derive(Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
struct WireStop {
    /// What the user calls it.
    name: String,
    /// Tilt.
    tilt_deg: Num,
    /// Roll.
    roll_deg: Num,
    /// How fast the glass is turned there from the stop before.
    rate_deg_per_s: Num,
    /// How long the glass rests there.
    wait_s: Num,
    /// Ampoules sealed off there after the wait.
    seals: Vec<String>,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "the serializer hands over a reference")]
fn is_off(on: &bool) -> bool {
    !on
}

fn into_each<A, B: From<A>>(list: Vec<A>) -> Vec<B> {
    list.into_iter().map(B::from).collect()
}

fn from_each<'a, A, B: From<&'a A>>(list: &'a [A]) -> Vec<B> {
    list.iter().map(B::from).collect()
}

/// Conversions that take a struct's fields one by one, both ways.
macro_rules! both_ways {
    ($model:ident, $wire:ident { $($num:ident),* ; $($part:ident),* ; $($copy:ident),* ; $($list:ident),* }) => {
        impl From<&$model> for $wire {
            fn from(from: &$model) -> Self {
                Self {
                    $($num: Num(from.$num),)*
                    $($part: (&from.$part).into(),)*
                    $($copy: from.$copy.clone(),)*
                    $($list: from_each(&from.$list),)*
                }
            }
        }
        impl From<$wire> for $model {
            fn from(from: $wire) -> Self {
                Self {
                    $($num: from.$num.0,)*
                    $($part: from.$part.into(),)*
                    $($copy: from.$copy,)*
                    $($list: into_each(from.$list),)*
                }
            }
        }
    };
}

both_ways!(TubeSize, WireSize { od_mm, wall_mm; ; ; });
both_ways!(Place, WirePlace { at_mm, turn_deg; ; host; });
both_ways!(Piece, WirePiece { ; seat, form; name; });
both_ways!(Tube, WireTube { ; size, start, end; ; course });
both_ways!(Bulb, WireBulb { neck_mm; shape, body, neck; ; });
both_ways!(Bridge, WireBridge { bend_radius_mm; size, route; ; });
both_ways!(Fitting, WireFitting { length_mm; kind, size; ; });
both_ways!(Ampoule, WireAmpoule {
    target_ml, stem_mm, funnel_mm, neck_mm, seal_mm, shoulder_mm, body_mm; stem, neck, body, bottom; ;
});
both_ways!(Row, WireRow { pitch_mm; first, pattern; name, count; departures });
both_ways!(Departure, WireDeparture { ; ampoule; member; });
both_ways!(Charge, WireCharge { ; ; liquid; fills });
both_ways!(Fill, WireFill { volume_ml; ; piece; });
both_ways!(Run, WireRun { ; gas; drips_into, capillarity; stops, measured });
both_ways!(Stop, WireStop { tilt_deg, roll_deg, rate_deg_per_s, wait_s; ; name, seals; });

impl From<&OwnSize> for WireOwn {
    fn from(from: &OwnSize) -> Self {
        Self {
            od_mm: Num(from.tube.od_mm),
            wall_mm: Num(from.tube.wall_mm),
            note: from.note.clone(),
        }
    }
}

impl From<WireOwn> for OwnSize {
    fn from(from: WireOwn) -> Self {
        Self {
            tube: TubeSize::new(from.od_mm.0, from.wall_mm.0),
            note: from.note,
        }
    }
}

impl From<&Seat> for WireSeat {
    fn from(from: &Seat) -> Self {
        match from {
            Seat::Free {
                x_mm,
                y_mm,
                heading_deg,
            } => Self::Free {
                x_mm: Num(*x_mm),
                y_mm: Num(*y_mm),
                heading_deg: Num(*heading_deg),
            },
            Seat::On(place) => Self::On(place.into()),
            Seat::Between { from, to } => Self::Between {
                from: from.into(),
                to: to.into(),
            },
        }
    }
}

impl From<WireSeat> for Seat {
    fn from(from: WireSeat) -> Self {
        match from {
            WireSeat::Free {
                x_mm,
                y_mm,
                heading_deg,
            } => Self::Free {
                x_mm: x_mm.0,
                y_mm: y_mm.0,
                heading_deg: heading_deg.0,
            },
            WireSeat::On(place) => Self::On(place.into()),
            WireSeat::Between { from, to } => Self::Between {
                from: from.into(),
                to: to.into(),
            },
        }
    }
}

impl From<&Form> for WireForm {
    fn from(from: &Form) -> Self {
        match from {
            Form::Tube(tube) => Self::Tube(tube.into()),
            Form::Bulb(bulb) => Self::Bulb(bulb.into()),
            Form::Bridge(bridge) => Self::Bridge(bridge.into()),
            Form::Ampoule(ampoule) => Self::Ampoule(ampoule.into()),
            Form::Fitting(fitting) => Self::Fitting(fitting.into()),
        }
    }
}

impl From<WireForm> for Form {
    fn from(from: WireForm) -> Self {
        match from {
            WireForm::Tube(tube) => Self::Tube(tube.into()),
            WireForm::Bulb(bulb) => Self::Bulb(bulb.into()),
            WireForm::Bridge(bridge) => Self::Bridge(bridge.into()),
            WireForm::Ampoule(ampoule) => Self::Ampoule(ampoule.into()),
            WireForm::Fitting(fitting) => Self::Fitting(fitting.into()),
        }
    }
}

impl From<&Element> for WireElement {
    fn from(from: &Element) -> Self {
        match *from {
            Element::Straight { length_mm } => Self::Straight {
                length_mm: Num(length_mm),
            },
            Element::Bend { angle_deg, radius_mm } => Self::Bend {
                angle_deg: Num(angle_deg),
                radius_mm: Num(radius_mm),
            },
            Element::Taper { length_mm, ref to } => Self::Taper {
                length_mm: Num(length_mm),
                to: to.into(),
            },
            Element::Neck {
                ref size,
                taper_mm,
                length_mm,
            } => Self::Neck {
                size: size.into(),
                taper_mm: Num(taper_mm),
                length_mm: Num(length_mm),
            },
            Element::Bulb { ref size, length_mm } => Self::Bulb {
                size: size.into(),
                length_mm: Num(length_mm),
            },
        }
    }
}

impl From<WireElement> for Element {
    fn from(from: WireElement) -> Self {
        match from {
            WireElement::Straight { length_mm } => Self::Straight { length_mm: length_mm.0 },
            WireElement::Bend { angle_deg, radius_mm } => Self::Bend {
                angle_deg: angle_deg.0,
                radius_mm: radius_mm.0,
            },
            WireElement::Taper { length_mm, to } => Self::Taper {
                length_mm: length_mm.0,
                to: to.into(),
            },
            WireElement::Neck {
                size,
                taper_mm,
                length_mm,
            } => Self::Neck {
                size: size.into(),
                taper_mm: taper_mm.0,
                length_mm: length_mm.0,
            },
            WireElement::Bulb { size, length_mm } => Self::Bulb {
                size: size.into(),
                length_mm: length_mm.0,
            },
        }
    }
}

impl From<&End> for WireEnd {
    fn from(from: &End) -> Self {
        match from {
            End::Open => Self::Open,
            End::Round => Self::Round,
            End::Flat => Self::Flat,
            End::Joint { designation, stoppered } => Self::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            End::Port => Self::Port,
        }
    }
}

impl From<WireEnd> for End {
    fn from(from: WireEnd) -> Self {
        match from {
            WireEnd::Open => Self::Open,
            WireEnd::Round => Self::Round,
            WireEnd::Flat => Self::Flat,
            WireEnd::Joint { designation, stoppered } => Self::Joint { designation, stoppered },
            WireEnd::Port => Self::Port,
        }
    }
}

impl From<&BulbShape> for WireBulbShape {
    fn from(from: &BulbShape) -> Self {
        match *from {
            BulbShape::Sphere => Self::Sphere,
            BulbShape::Pear => Self::Pear,
            BulbShape::Flask { flat_mm } => Self::Flask { flat_mm: Num(flat_mm) },
        }
    }
}

impl From<WireBulbShape> for BulbShape {
    fn from(from: WireBulbShape) -> Self {
        match from {
            WireBulbShape::Sphere => Self::Sphere,
            WireBulbShape::Pear => Self::Pear,
            WireBulbShape::Flask { flat_mm } => Self::Flask { flat_mm: flat_mm.0 },
        }
    }
}

impl From<&Route> for WireRoute {
    fn from(from: &Route) -> Self {
        match from {
            Route::Straight => Self::Straight,
            Route::Arched { rise_mm } => Self::Arched { rise_mm: Num(*rise_mm) },
            Route::Via { corners_mm } => Self::Via {
                corners: corners_mm
                    .iter()
                    .map(|&[x, y]| WireCorner {
                        x_mm: Num(x),
                        y_mm: Num(y),
                    })
                    .collect(),
            },
        }
    }
}

impl From<WireRoute> for Route {
    fn from(from: WireRoute) -> Self {
        match from {
            WireRoute::Straight => Self::Straight,
            WireRoute::Arched { rise_mm } => Self::Arched { rise_mm: rise_mm.0 },
            WireRoute::Via { corners } => Self::Via {
                corners_mm: corners.iter().map(|corner| [corner.x_mm.0, corner.y_mm.0]).collect(),
            },
        }
    }
}

impl From<&Bottom> for WireBottom {
    fn from(from: &Bottom) -> Self {
        match *from {
            Bottom::Round => Self::Round,
            Bottom::Flat => Self::Flat,
            Bottom::Conical { length_mm } => Self::Conical {
                length_mm: Num(length_mm),
            },
        }
    }
}

impl From<WireBottom> for Bottom {
    fn from(from: WireBottom) -> Self {
        match from {
            WireBottom::Round => Self::Round,
            WireBottom::Flat => Self::Flat,
            WireBottom::Conical { length_mm } => Self::Conical { length_mm: length_mm.0 },
        }
    }
}

impl From<&FittingKind> for WireFittingKind {
    fn from(from: &FittingKind) -> Self {
        match from {
            FittingKind::VacuumPort => Self::VacuumPort,
            FittingKind::GasPort => Self::GasPort,
            FittingKind::Stopcock { open } => Self::Stopcock { open: *open },
            FittingKind::Joint { designation, stoppered } => Self::Joint {
                designation: designation.clone(),
                stoppered: *stoppered,
            },
            FittingKind::Cap => Self::Cap,
        }
    }
}

impl From<WireFittingKind> for FittingKind {
    fn from(from: WireFittingKind) -> Self {
        match from {
            WireFittingKind::VacuumPort => Self::VacuumPort,
            WireFittingKind::GasPort => Self::GasPort,
            WireFittingKind::Stopcock { open } => Self::Stopcock { open },
            WireFittingKind::Joint { designation, stoppered } => Self::Joint { designation, stoppered },
            WireFittingKind::Cap => Self::Cap,
        }
    }
}

impl From<&Gas> for WireGas {
    fn from(from: &Gas) -> Self {
        match *from {
            Gas::Evacuated => Self::Evacuated,
            Gas::Open => Self::Open,
            Gas::Filled { pressure_mbar } => Self::Filled {
                pressure_mbar: Num(pressure_mbar),
            },
        }
    }
}

impl From<WireGas> for Gas {
    fn from(from: WireGas) -> Self {
        match from {
            WireGas::Evacuated => Self::Evacuated,
            WireGas::Open => Self::Open,
            WireGas::Filled { pressure_mbar } => Self::Filled {
                pressure_mbar: pressure_mbar.0,
            },
        }
    }
}

impl WireDesign {
    /// The first version that knows everything that stands in the design.
    pub(super) fn least_version(&self) -> u32 {
        if self.run.is_some() || self.job.is_some() { 2 } else { 1 }
    }

    pub(super) fn new(format: &str, version: u32, from: &Apparatus) -> Self {
        Self {
            format: format.to_owned(),
            version,
            title: from.title.clone(),
            own_stock: from_each(&from.own_stock),
            pieces: from_each(&from.pieces),
            rows: from_each(&from.rows),
            charge: (&from.charge).into(),
            run: (from.run != Run::default()).then(|| (&from.run).into()),
            job: (from.job != Job::default()).then(|| (&from.job).into()),
        }
    }
}

impl From<WireDesign> for Apparatus {
    fn from(from: WireDesign) -> Self {
        Self {
            title: from.title,
            own_stock: into_each(from.own_stock),
            pieces: into_each(from.pieces),
            rows: into_each(from.rows),
            charge: from.charge.into(),
            run: from.run.map(Run::from).unwrap_or_default(),
            job: from.job.map(Job::from).unwrap_or_default(),
        }
    }
}
