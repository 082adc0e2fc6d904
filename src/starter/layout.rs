//! Where the pieces stand: drawn with the header to the right, mirrored afterwards if it is to run to the left.
//!
//! The vessel of the charge has its middle at the origin. The header leaves it upwards, bends to its slope and carries
//! the vials below and the ports above; the pot stands at the other side.

use super::sizes::{Choice, LEAN_DEG, arm_on};
use super::{HEADER_LENGTH, LEG_LENGTH, Refusal, Wish};
use crate::data::JOINTS_K6;
use crate::model::fresh::{ARM_PITCH_DIAMETERS, ARM_PITCH_MM};
use crate::model::place::direction;
use crate::model::{
    Apparatus, Bridge, Bulb, BulbShape, Charge, Element, End, Fitting, FittingKind, Form, Piece, Place, Route, Row,
    Seat, Tube, TubeSize,
};
use crate::units::MM3_PER_ML;
use nalgebra::Vector2;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// How much steeper than its slope the header leaves the vessel of the charge, degrees.
const RISE_DEG: f64 = 15.0;
/// How much steeper than the header a closed leg stands, degrees.
const LEG_DEG: f64 = 40.0;
/// Straight tube beside a bend, to hold it by, mm.
const HOLD_MM: f64 = 25.0;
/// Between glass that is not joined, mm.
const GAP_MM: f64 = 15.0;
/// Radius of a bend, in outside diameters: rather more than the least that is easily made.
const BEND_DIAMETERS: f64 = 2.5;
/// The charge fills this part of the lower half of its vessel, or of a closed leg.
const CHARGE_PART: f64 = 0.7;
/// The charge fills this part of the pot that it is distilled from.
const POT_PART: f64 = 0.4;
/// Parallel part and each taper of the neck between pot and receiver, mm.
const NECK_MM: f64 = 20.0;
const NECK_TAPER_MM: f64 = 10.0;
/// What is charged beyond the targets, as a part of them and at least, mL.
const SPARE: (f64, f64) = (0.1, 0.1);

/// The vessel in which the charge lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Source {
    Receiver,
    Pot,
    Leg,
}

/// The dimensions that several pieces depend on.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    /// Name of the vessel of the charge.
    pub(super) holder: &'static str,
    pub(super) pitch_mm: f64,
    source: Source,
    /// Outside radius and wall of the vessel of the charge; no radius for a leg.
    radius_mm: f64,
    wall_mm: f64,
    /// Length of a closed leg.
    leg_mm: f64,
    /// First straight of the header.
    rise_mm: f64,
    bend_radius_mm: f64,
    /// End of the header's bend, where its long straight starts.
    bend_end: Vector2<f64>,
    /// Places on the header: the bend's end, the first vial, the arm on top, the end.
    bend_at_mm: f64,
    first_at_mm: f64,
    arm_at_mm: f64,
    header_mm: f64,
}

/// What is charged for the targets, before what stays behind, mL.
pub(super) fn wanted_ml(vessels: usize, target_ml: f64) -> f64 {
    let targets = vessels as f64 * target_ml;
    targets + (SPARE.0 * targets).max(SPARE.1)
}

/// Places the header and the vials.
pub(super) fn plan(wish: &Wish, choice: &Choice) -> Result<Plan, Refusal> {
    let source = match (wish.receiver, wish.pot) {
        (true, _) => Source::Receiver,
        (false, true) => Source::Pot,
        (false, false) => Source::Leg,
    };
    let (header, bridge) = (choice.sizes.header, choice.sizes.bridge);
    let charge_ml = wanted_ml(wish.vessels, choice.ampoule.target_ml);
    let area = PI * (header.bore_mm() / 2.0).powi(2);
    let bend_radius_mm = (BEND_DIAMETERS * header.od_mm).ceil();

    let (body, leg_mm, turn_deg) = match source {
        Source::Leg => {
            let leg_mm = (charge_ml * MM3_PER_ML / (CHARGE_PART * area)).max(60.0).ceil();
            if !LEG_LENGTH.allows(leg_mm) {
                return Err(Refusal::LegTooLong {
                    charge_ml,
                    length_mm: leg_mm,
                });
            }
            (None, leg_mm, LEG_DEG)
        }
        Source::Receiver | Source::Pot => {
            // Room for the arms that leave the sphere upwards and sideways.
            let least_od = 1.1 * (header.od_mm + bridge.od_mm);
            (Some(sphere(2.0 * charge_ml / CHARGE_PART, least_od)), 0.0, RISE_DEG)
        }
    };
    let (radius_mm, wall_mm) = body.map_or((0.0, 0.0), |body| (body.od_mm / 2.0, body.wall_mm));
    let rise_mm = body.map_or(0.0, |_| (radius_mm + HOLD_MM).ceil());
    let arc_mm = turn_deg.to_radians() * bend_radius_mm;
    // The centre of the bend lies to the right of the header.
    let heading = wish.slope_deg + turn_deg;
    let centre = direction(heading) * rise_mm + direction(heading - 90.0) * bend_radius_mm;
    let bend_end = centre + direction(wish.slope_deg + 90.0) * bend_radius_mm;

    // The first vial keeps clear of the sphere: distance of its axis from the origin.
    let vial = direction(wish.slope_deg + LEAN_DEG);
    let lean = LEAN_DEG.to_radians().sin().abs();
    let clear_mm = radius_mm + choice.ampoule.body.od_mm / 2.0 + GAP_MM;
    let run_mm = ((clear_mm + bend_end.perp(&vial)) / lean).max(HOLD_MM + choice.ampoule.stem.od_mm / 2.0);
    let bend_at_mm = rise_mm + arc_mm;
    let first_at_mm = (bend_at_mm + run_mm).ceil();

    let arm_pitch_mm = (ARM_PITCH_DIAMETERS * header.od_mm).max(ARM_PITCH_MM).ceil();
    let arm_at_mm = first_at_mm + choice.pitch_mm * (wish.vessels as f64 - 1.0) + arm_pitch_mm;
    // What is left over lies in the end, below the arm on top.
    let surplus_mm = (charge_ml - wish.vessels as f64 * choice.ampoule.target_ml) * MM3_PER_ML / area;
    let end_mm = arm_at_mm + (surplus_mm + 0.4 * header.od_mm + 10.0).max(HOLD_MM).ceil();
    let header_mm = bend_at_mm + tenths(end_mm - bend_at_mm);
    if !HEADER_LENGTH.allows(header_mm) {
        return Err(Refusal::HeaderTooLong { length_mm: header_mm });
    }
    Ok(Plan {
        holder: match source {
            Source::Receiver => "receiver",
            Source::Pot => "pot",
            Source::Leg => "leg",
        },
        pitch_mm: choice.pitch_mm,
        source,
        radius_mm,
        wall_mm,
        leg_mm,
        rise_mm,
        bend_radius_mm,
        bend_end,
        bend_at_mm,
        first_at_mm,
        arm_at_mm,
        header_mm,
    })
}

/// A sphere that holds a volume, no narrower than `least_od_mm`.
fn sphere(volume_ml: f64, least_od_mm: f64) -> TubeSize {
    let bore_mm = 2.0 * (3.0 * volume_ml * MM3_PER_ML / (4.0 * PI)).cbrt();
    let wall_mm = match bore_mm {
        ..45.0 => 1.4,
        ..80.0 => 1.8,
        _ => 2.2,
    };
    let od_mm = (bore_mm + 2.0 * wall_mm).max(least_od_mm).max(24.0);
    TubeSize::new(2.0 * (od_mm / 2.0).ceil(), wall_mm)
}

/// The pieces as far as they are drawn.
struct Sketch<'a> {
    wish: &'a Wish,
    choice: &'a Choice,
    plan: &'a Plan,
    pieces: Vec<Piece>,
}

/// Draws everything but the charge.
pub(super) fn draw(wish: &Wish, choice: &Choice, plan: &Plan) -> Apparatus {
    let mut sketch = Sketch {
        wish,
        choice,
        plan,
        pieces: Vec::new(),
    };
    let back = wish.return_tube.then(|| Return::new(wish, choice, plan));
    sketch.source(back.as_ref());
    if plan.source == Source::Receiver && wish.pot {
        sketch.pot(back.as_ref());
    }
    sketch.header();
    match &back {
        Some(back) => sketch.return_tube(back),
        None => sketch.ports("header", plan.arm_at_mm, choice.sizes.header.od_mm),
    }
    let vials = if wish.vessels == 1 { "ampoule" } else { "ampoules" };
    let what = format!("{} {vials} of {} mL", wish.vessels, choice.ampoule.target_ml);
    Apparatus {
        title: match wish.liquid.trim() {
            "" => what,
            liquid => format!("{liquid}, {what}"),
        },
        own_stock: Vec::new(),
        pieces: sketch.pieces,
        rows: vec![Row {
            name: "vial".to_owned(),
            first: on("header", plan.first_at_mm, LEAN_DEG),
            pitch_mm: plan.pitch_mm,
            count: wish.vessels,
            pattern: choice.ampoule.clone(),
            departures: Vec::new(),
        }],
        charge: Charge {
            liquid: wish.liquid.trim().to_owned(),
            fills: Vec::new(),
        },
        ..Apparatus::default()
    }
}

fn on(host: &str, at_mm: f64, turn_deg: f64) -> Place {
    Place {
        host: host.to_owned(),
        at_mm,
        turn_deg,
    }
}

fn straight(length_mm: f64) -> Element {
    Element::Straight { length_mm }
}

/// A tenth of a millimetre is what a drawing says.
fn tenths(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}

/// Designation of the ground joint that is nearest to a tube.
fn joint_for(tube: TubeSize) -> String {
    let off = |large_mm: f64| (large_mm - tube.od_mm).abs();
    let nearest = JOINTS_K6
        .iter()
        .min_by(|a, b| off(a.large_mm).total_cmp(&off(b.large_mm)));
    nearest.map_or_else(String::new, |joint| joint.designation.to_owned())
}

/// The neck between pot and receiver, pulled to half the tube's width: where the tube is not wide, easily sealed.
fn neck_of(tube: TubeSize) -> Element {
    let od_mm = (0.5 * tube.od_mm).clamp(3.0, 10.0).round();
    Element::Neck {
        size: TubeSize::new(od_mm, tenths(0.2 * od_mm)),
        taper_mm: NECK_TAPER_MM,
        length_mm: NECK_MM,
    }
}

/// The tube from the header's end back over the vials: from the neck of the charge's vessel along the header to a
/// corner above its last arm, and down to it.
struct Return {
    size: TubeSize,
    bend_radius_mm: f64,
    /// Its start, above the middle of the vessel.
    start_y_mm: f64,
    corner: Vector2<f64>,
    /// Place of its start on the neck, and length from the neck's mouth to the middle of the vessel.
    at_mm: f64,
    neck_mm: f64,
}

impl Return {
    fn new(wish: &Wish, choice: &Choice, plan: &Plan) -> Self {
        let (header, bridge) = (choice.sizes.header, choice.sizes.bridge);
        let size = arm_on(header.od_mm.min(bridge.od_mm), 12.0);
        let bend_radius_mm = (BEND_DIAMETERS * size.od_mm).ceil();
        let along = direction(wish.slope_deg);
        let foot = plan.bend_end + along * (plan.arm_at_mm - plan.bend_at_mm);
        // Height above the header: room for the bend and, beside the vessel, for a hand.
        let axis_y = plan.bend_end.y - plan.bend_end.x * along.y / along.x;
        let over_sphere = (plan.radius_mm + size.od_mm / 2.0 + GAP_MM - axis_y) * along.x;
        let over_header = (bend_radius_mm + header.od_mm / 2.0 + GAP_MM).max(40.0);
        let height_mm = over_sphere.max(over_header).ceil();
        let corner = foot + direction(wish.slope_deg + 90.0) * height_mm;
        let start_y_mm = tenths(axis_y + height_mm / along.x);
        let at_mm = HOLD_MM;
        Self {
            size,
            bend_radius_mm,
            start_y_mm,
            corner: Vector2::new(tenths(corner.x), tenths(corner.y)),
            at_mm,
            neck_mm: tenths(start_y_mm + at_mm),
        }
    }

    /// Length of its run along the header, up to the bend.
    fn run_mm(&self) -> f64 {
        (self.corner - Vector2::new(0.0, self.start_y_mm)).norm() - self.bend_radius_mm
    }
}

impl Sketch<'_> {
    fn add(&mut self, name: &str, seat: Seat, form: Form) {
        self.pieces.push(Piece {
            name: name.to_owned(),
            seat,
            form,
        });
    }

    fn fitting(&mut self, name: &str, place: Place, kind: FittingKind, size: TubeSize, length_mm: f64) {
        let fitting = Fitting { kind, size, length_mm };
        self.add(name, Seat::On(place), Form::Fitting(fitting));
    }

    fn joint(&mut self, name: &str, place: Place, size: TubeSize, length_mm: f64) {
        let kind = FittingKind::Joint {
            designation: joint_for(size),
            stoppered: true,
        };
        self.fitting(name, place, kind, size, length_mm);
    }

    /// From the mouth of the charge's vessel to its middle, mm.
    fn neck_mm(&self, back: Option<&Return>) -> f64 {
        back.map_or((self.plan.radius_mm + 30.0).ceil(), |back| back.neck_mm)
    }

    /// The vessel in which the charge lies, its middle at the origin.
    fn source(&mut self, back: Option<&Return>) {
        let bridge = self.choice.sizes.bridge;
        let shape = match self.plan.source {
            Source::Leg => {
                let heading_deg = self.wish.slope_deg + LEG_DEG;
                let start = direction(heading_deg) * -self.plan.leg_mm;
                let seat = Seat::Free {
                    x_mm: tenths(start.x),
                    y_mm: tenths(start.y),
                    heading_deg,
                };
                let tube = Tube {
                    size: self.choice.sizes.header,
                    course: vec![straight(self.plan.leg_mm)],
                    start: End::Round,
                    end: End::Open,
                };
                self.add(self.plan.holder, seat, Form::Tube(tube));
                return;
            }
            Source::Receiver => BulbShape::Sphere,
            Source::Pot => BulbShape::Flask {
                flat_mm: self.plan.radius_mm.floor(),
            },
        };
        let body = TubeSize::new(2.0 * self.plan.radius_mm, self.plan.wall_mm);
        let neck_mm = self.neck_mm(back);
        let seat = Seat::Free {
            x_mm: 0.0,
            y_mm: neck_mm,
            heading_deg: -90.0,
        };
        let bulb = Bulb {
            shape,
            body,
            neck: bridge,
            neck_mm,
        };
        self.add(self.plan.holder, seat, Form::Bulb(bulb));
        if !(self.wish.pot && self.wish.receiver) {
            self.joint("charging-joint", on(self.plan.holder, 0.0, 180.0), bridge, 40.0);
        }
    }

    /// A pot beside the receiver, with a riser that can be sealed off and a bridge.
    fn pot(&mut self, back: Option<&Return>) {
        let bridge = self.choice.sizes.bridge;
        let charge_ml = wanted_ml(self.wish.vessels, self.choice.ampoule.target_ml);
        let body = sphere(charge_ml / POT_PART, 1.5 * bridge.od_mm);
        let bend_radius_mm = (BEND_DIAMETERS * bridge.od_mm).ceil();
        let riser = [straight(HOLD_MM), neck_of(bridge), straight(HOLD_MM)];
        let riser_mm = 2.0 * HOLD_MM + NECK_MM + 2.0 * NECK_TAPER_MM;
        // The inlet leans away from the riser; its upper edge stays on the neck.
        let inlet = arm_on(bridge.od_mm, 14.0);
        let inlet_at_mm = (bridge.od_mm / 2.0 + inlet.od_mm * FRAC_1_SQRT_2 + 4.0).ceil();
        let neck_mm = (body.od_mm / 2.0 + inlet_at_mm + HOLD_MM).ceil();
        let aside_mm = (self.plan.radius_mm + body.od_mm / 2.0 + 60.0).max(2.0 * bend_radius_mm + 40.0);
        let seat = Seat::Free {
            x_mm: -(aside_mm / 10.0).ceil() * 10.0,
            y_mm: self.neck_mm(back) + 20.0 - riser_mm,
            heading_deg: -90.0,
        };
        let bulb = Bulb {
            shape: BulbShape::Flask {
                flat_mm: (body.od_mm / 2.0).floor(),
            },
            body,
            neck: bridge,
            neck_mm,
        };
        self.add("pot", seat, Form::Bulb(bulb));
        self.joint("charging-joint", on("pot", inlet_at_mm, -135.0), inlet, 45.0);
        let tube = Tube {
            size: bridge,
            course: riser.to_vec(),
            start: End::Open,
            end: End::Open,
        };
        self.add("riser", Seat::On(on("pot", 0.0, 180.0)), Form::Tube(tube));
        let seat = Seat::Between {
            from: on("riser", riser_mm, 0.0),
            to: on(self.plan.holder, 0.0, 180.0),
        };
        let form = Form::Bridge(Bridge {
            size: bridge,
            bend_radius_mm,
            route: Route::Arched {
                rise_mm: bend_radius_mm + 10.0,
            },
        });
        self.add("bridge", seat, form);
    }

    fn header(&mut self) {
        let plan = self.plan;
        let (place, turn_deg) = match plan.source {
            Source::Leg => (on(plan.holder, plan.leg_mm, 0.0), LEG_DEG),
            Source::Receiver | Source::Pot => {
                let middle = self.pieces.first().map_or(0.0, |piece| match &piece.form {
                    Form::Bulb(bulb) => bulb.neck_mm,
                    _ => 0.0,
                });
                (on(plan.holder, middle, 90.0 + self.wish.slope_deg + RISE_DEG), RISE_DEG)
            }
        };
        let bend = Element::Bend {
            angle_deg: -turn_deg,
            radius_mm: plan.bend_radius_mm,
        };
        let run_mm = tenths(plan.header_mm - plan.bend_at_mm);
        let rise = (plan.rise_mm > 0.0).then(|| straight(plan.rise_mm));
        let tube = Tube {
            size: self.choice.sizes.header,
            course: rise.into_iter().chain([bend, straight(run_mm)]).collect(),
            start: End::Open,
            end: End::Round,
        };
        self.add("header", Seat::On(place), Form::Tube(tube));
    }

    fn return_tube(&mut self, back: &Return) {
        let from = on(self.plan.holder, back.at_mm, 90.0 + self.wish.slope_deg);
        let to = on("header", self.plan.arm_at_mm, 90.0);
        let corner = [back.corner.x, tenths(back.corner.y - back.start_y_mm)];
        let form = Form::Bridge(Bridge {
            size: back.size,
            bend_radius_mm: back.bend_radius_mm,
            route: Route::Via {
                corners_mm: vec![corner],
            },
        });
        self.add("return", Seat::Between { from, to }, form);
        // Above the vials, where no liquid comes.
        self.ports("return", (back.run_mm() - HOLD_MM).floor(), back.size.od_mm);
    }

    /// The ports that are wished for: one on the host, a second one beside it or on the first.
    fn ports(&mut self, host: &str, at_mm: f64, host_od_mm: f64) {
        let size = arm_on(host_od_mm, 12.0);
        let branch_mm = (host_od_mm / 2.0 + HOLD_MM).ceil();
        let length_mm = branch_mm + HOLD_MM + 10.0;
        let first = on(host, at_mm, 90.0);
        if self.wish.vacuum_port {
            self.fitting("pump", first, FittingKind::VacuumPort, size, length_mm);
            if self.wish.gas_port {
                let branch = on("pump", branch_mm, -90.0);
                self.fitting("gas", branch, FittingKind::GasPort, arm_on(size.od_mm, 10.0), 45.0);
            }
        } else {
            self.fitting("gas", first, FittingKind::GasPort, size, length_mm);
        }
    }
}
