//! The kinds of piece and their parameters.
//!
//! Every piece has a *centreline* with a start, a direction and a length: a place on it is a distance from its
//! start. Centrelines lie in the drawing plane.

/// Outside diameter and wall of a tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubeSize {
    /// Outside diameter, mm.
    pub od_mm: f64,
    /// Wall thickness, mm.
    pub wall_mm: f64,
}

impl TubeSize {
    /// A size from outside diameter and wall, both mm.
    pub const fn new(od_mm: f64, wall_mm: f64) -> Self {
        Self { od_mm, wall_mm }
    }

    /// Bore (inside diameter), mm.
    pub fn bore_mm(self) -> f64 {
        self.od_mm - 2.0 * self.wall_mm
    }
}

/// One piece of glass.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Unique name; other pieces refer to it.
    pub name: String,
    /// Where it stands.
    pub seat: Seat,
    /// What it is.
    pub form: Form,
}

/// Where a piece stands.
#[derive(Clone, Debug, PartialEq)]
pub enum Seat {
    /// Free on the drawing: the start of its centreline and its heading.
    Free {
        /// Start of the centreline, mm to the right.
        x_mm: f64,
        /// Start of the centreline, mm upwards.
        y_mm: f64,
        /// Heading of the centreline at its start, degrees.
        heading_deg: f64,
    },
    /// On a host: its centreline starts on the host's centreline.
    On(Place),
    /// Between two places: bridges only.
    Between {
        /// Where the bridge starts.
        from: Place,
        /// Where it ends.
        to: Place,
    },
}

/// A place on a host's centreline.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Name of the host.
    pub host: String,
    /// Distance along the host's centreline from its start, mm.
    pub at_mm: f64,
    /// Angle from the host's direction there to the guest's, degrees anticlockwise (0 = straight on).
    pub turn_deg: f64,
}

/// What a piece is.
#[derive(Clone, Debug, PartialEq)]
pub enum Form {
    /// A tube: a course of elements.
    Tube(Tube),
    /// A bulb blown on a neck.
    Bulb(Bulb),
    /// A tube that joins two other pieces.
    Bridge(Bridge),
    /// A vial to be filled and sealed off.
    Ampoule(Ampoule),
    /// A port, stopcock, joint or cap.
    Fitting(Fitting),
}

/// A tube: elements one after the other from its start.
#[derive(Clone, Debug, PartialEq)]
pub struct Tube {
    /// Size at the start.
    pub size: TubeSize,
    /// The course, from the start.
    pub course: Vec<Element>,
    /// How the start is made; without meaning when the tube sits on a host, where the start is fused in.
    pub start: End,
    /// How the far end is made.
    pub end: End,
}

/// An element of a tube's course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Element {
    /// A straight run of the present size.
    Straight {
        /// Length, mm.
        length_mm: f64,
    },
    /// A bend of the present size.
    Bend {
        /// Turn, degrees anticlockwise.
        angle_deg: f64,
        /// Radius of the centreline, mm.
        radius_mm: f64,
    },
    /// A conical change to another size, which then holds.
    Taper {
        /// Length along the axis, mm.
        length_mm: f64,
        /// Size after it.
        to: TubeSize,
    },
    /// A constriction: taper, parallel part, taper back to the present size.
    Neck {
        /// Size of the parallel part.
        size: TubeSize,
        /// Length of each taper, mm.
        taper_mm: f64,
        /// Length of the parallel part, mm.
        length_mm: f64,
    },
    /// A bulb blown in line: a spheroid about the axis, joined to the tube at both sides.
    Bulb {
        /// Outside diameter at the equator and wall there.
        size: TubeSize,
        /// Outside length along the axis between the poles of the spheroid, mm.
        length_mm: f64,
    },
}

/// How a tube end is made.
#[derive(Clone, Debug, PartialEq)]
pub enum End {
    /// Cut open. It lets liquid and gas out, unless another piece sits on it.
    Open,
    /// Closed round: a hemisphere beyond the last element.
    Round,
    /// Closed flat: the inside ends with the last element, the floor's wall lies beyond.
    Flat,
    /// A ground joint by its designation (`14/23`), open until it is stoppered.
    Joint {
        /// Designation of a standard joint.
        designation: String,
        /// Closed by a stopper.
        stoppered: bool,
    },
    /// A connection to a vacuum or gas line.
    Port,
}

/// A bulb on a neck; the centreline runs from the neck's mouth to the bottom of the bulb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bulb {
    /// Outline of the body.
    pub shape: BulbShape,
    /// Greatest outside diameter and wall of the body.
    pub body: TubeSize,
    /// Size of the neck.
    pub neck: TubeSize,
    /// Length from the neck's mouth to the centre of the body's sphere, mm. The centreline goes on to the lowest
    /// point of the inside.
    pub neck_mm: f64,
}

/// Outline of a bulb.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BulbShape {
    /// A sphere.
    Sphere,
    /// A sphere with a cone that runs into the neck. The cone touches the sphere; its sides stand at 60 degrees to
    /// each other, or, where the neck is too short for that, it starts at the mouth.
    Pear,
    /// A sphere that stands on a flat at its lowest point: a cone that touches the sphere runs down to the flat.
    Flask {
        /// Outside diameter of the flat, mm; 0 gives a round bottom, and more than the body counts as the body's.
        flat_mm: f64,
    },
}

/// A tube between two places.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Size of the tube.
    pub size: TubeSize,
    /// Radius of the centreline in its bends, mm.
    pub bend_radius_mm: f64,
    /// Its way.
    pub route: Route,
}

/// The way of a bridge.
#[derive(Clone, Debug, PartialEq)]
pub enum Route {
    /// Straight from place to place (the turns of both places are not used).
    Straight,
    /// Up from both places along their headings to a level crossbar.
    Arched {
        /// Height of the crossbar above the higher place, mm in the drawing.
        rise_mm: f64,
    },
    /// Through corner points, given from the first place; each corner is rounded with the bend radius.
    Via {
        /// Corners, mm to the right and upwards from the first place.
        corners_mm: Vec<[f64; 2]>,
    },
}

/// A vial: from its mouth, stem, funnel, neck, shoulder, body, bottom. The centreline runs that way.
#[derive(Clone, Debug, PartialEq)]
pub struct Ampoule {
    /// Size of the stem.
    pub stem: TubeSize,
    /// Length of the stem from the host's centreline, mm.
    pub stem_mm: f64,
    /// Length of the taper from stem to neck, mm.
    pub funnel_mm: f64,
    /// Size of the neck, its bore being what controls.
    pub neck: TubeSize,
    /// Length of the parallel neck, mm.
    pub neck_mm: f64,
    /// Seal-off place, mm along the neck from its upper end.
    pub seal_mm: f64,
    /// Length of the taper from neck to body, mm.
    pub shoulder_mm: f64,
    /// Size of the body.
    pub body: TubeSize,
    /// Length of the straight body, mm.
    pub body_mm: f64,
    /// Bottom below the straight body.
    pub bottom: Bottom,
    /// Volume wanted, mL.
    pub target_ml: f64,
}

/// Bottom of an ampoule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Bottom {
    /// A hemisphere.
    Round,
    /// Flat: the floor's wall lies within the length of the body.
    Flat,
    /// A cone that ends in a point.
    Conical {
        /// Inside length of the cone, mm.
        length_mm: f64,
    },
}

/// A fitting; its centreline runs from the host outwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitting {
    /// What it is.
    pub kind: FittingKind,
    /// Size of its tube.
    pub size: TubeSize,
    /// Length from the host's centreline, mm.
    pub length_mm: f64,
}

/// Kinds of fitting.
#[derive(Clone, Debug, PartialEq)]
pub enum FittingKind {
    /// Connection to the pump.
    VacuumPort,
    /// Connection to the gas line.
    GasPort,
    /// A stopcock; open, it is a port.
    Stopcock {
        /// Whether it stands open.
        open: bool,
    },
    /// A ground joint by its designation; open, it is a port.
    Joint {
        /// Designation of a standard joint.
        designation: String,
        /// Closed by a stopper.
        stoppered: bool,
    },
    /// A closed round end.
    Cap,
}

/// Like ampoules along a host at a pitch, from one pattern. Members are named `NAME-1`, `NAME-2` and so on.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Name of the row, unique among rows and pieces.
    pub name: String,
    /// Place of the first member.
    pub first: Place,
    /// Distance between members along the host's centreline, mm.
    pub pitch_mm: f64,
    /// Number of members.
    pub count: usize,
    /// What every member is, unless it departs.
    pub pattern: Ampoule,
    /// Members that depart from the pattern.
    pub departures: Vec<Departure>,
}

/// A member of a row that departs from the pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct Departure {
    /// Which member, from 1.
    pub member: usize,
    /// What it is instead.
    pub ampoule: Ampoule,
}
