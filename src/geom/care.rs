//! How closely an interior is taken.

/// How closely volumes are found and liquid is followed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Care {
    /// As closely as promised, and with what ran where.
    #[default]
    Full,
    /// Volumes alone, to about 1e-3 of a joint and 1e-4 of the charge for each event of a pour: for searches among many glasses.
    Shares,
}
