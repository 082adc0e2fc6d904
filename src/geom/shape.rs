//! The primitive shapes whose union is the interior.
//!
//! All axes lie in the drawing plane z = 0 and every cross-section is a disc, so a shape is `|z| <= d(x, y)`
//! with its *half-depth* `d`.

use nalgebra::Vector2;

/// A primitive shape, mm and radians.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Flat-ended cone frustum; a cylinder when the radii agree.
    Frustum {
        /// Centre of the first end.
        from: Vector2<f64>,
        /// Centre of the second end.
        to: Vector2<f64>,
        /// Radius at the first end.
        r_from: f64,
        /// Radius at the second end.
        r_to: f64,
    },
    /// Spheroid about an axis in the plane; a sphere when the semi-axes agree.
    Spheroid {
        /// Centre.
        centre: Vector2<f64>,
        /// Direction of the axis, radians.
        heading: f64,
        /// Semi-axis along the axis.
        semi_axial: f64,
        /// Semi-axis across.
        semi_radial: f64,
    },
    /// Bend: a disc of radius `r` swept along the arc of `radius` about `centre`.
    Torus {
        /// Centre of the arc.
        centre: Vector2<f64>,
        /// Radius of the arc; not less than `r`.
        radius: f64,
        /// Radius of the bore.
        r: f64,
        /// Direction from the centre to the start, radians.
        start: f64,
        /// Angle swept, radians, anticlockwise positive.
        sweep: f64,
    },
}

/// A shape and the piece that it belongs to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Primitive {
    /// Index of the piece in the interior's list of names.
    pub piece: usize,
    /// The shape.
    pub shape: Shape,
}

/// A disc through which the interior meets the outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Port {
    /// Index of the piece in the interior's list of names.
    pub piece: usize,
    /// Centre.
    pub at: Vector2<f64>,
    /// Outward direction, radians.
    pub heading: f64,
    /// Radius.
    pub r: f64,
}
