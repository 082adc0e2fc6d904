//! The engine's tolerances, one a meaning. Lengths in mm.

/// Bores closer than this touch and communicate. A thousandth of a micrometre: far above the rounding of
/// coordinates (1e-13 mm at 300 mm), far below any wall.
pub(super) const CONTACT_MM: f64 = 1e-6;

/// Hollows shallower than this are no basins. Ten times below the promised accuracy of a level's aim (1e-8 mm)
/// would drown in the tie rule's shift; this stands just above it.
pub(super) const SHALLOW_MM: f64 = 1e-7;

/// A direction whose cross component is below this is taken as square to the level (sine of the angle). The
/// neglected volume is of the order r^3 times this.
pub(super) const SQUARE: f64 = 1e-9;

/// Axes whose directions differ by less than this (sine) and whose offset is below [`CONTACT_MM`] are one axis.
pub(super) const PARALLEL: f64 = 1e-9;

/// Error allowed in the volume of a whole joint, found once, as a part of the bore's volume along it.
pub(super) const FULL_JOINT_PART: f64 = 1e-10;

/// The same for a joint cut by a level, found at every stance. A joint square to its host is a sliver as long as the
/// sagitta of the mouth, some 20 mm3 of bore: 2e-7 mm3 in a pool of some mL.
pub(super) const JOINT_PART: f64 = 1e-8;

/// The same where only shares count; the free surface is then left as it comes.
pub(super) const ROUGH_JOINT_PART: f64 = 1e-3;

/// Error allowed in the free surface of a joint cut by a level, as a part of the joint's lengthwise section.
pub(super) const JOINT_SURFACE_PART: f64 = 1e-6;

/// A level is found when Newton's last step is below this; the error left is of its square.
pub(super) const LEVEL_MM: f64 = 1e-9;

/// Numbers (mm, or parts of one) in which joints may differ and still be taken for alike: well above the rounding by which
/// the members of a row differ, far below what a volume could show.
pub(super) const ALIKE: f64 = 1e-9;
