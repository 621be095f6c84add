//! Stand-alone fits: each answers one question of the bench from its own readings, without the joint
//! adjustment, and gives that adjustment its start.
//!
//! | module | question |
//! |---|---|
//! | [`mod@line`] | where does the carriage stand at track reading 0, what is the scale, what is lost at a reversal? |
//! | [`circular`] | what is the mean of these angles; what is the turntable's index? |
//! | [`harmonic`] | is the notch circle eccentric? |
//! | [`plane`], [`circle`] | which plane, which circle do these points lie on? |
//! | [`turns`] | where is the axis, given one mark touched at known table angles? |
//! | [`rigid`] | which rotation and translation carry these points onto those? |
//! | [`play`] | what does the free play left and right of the tip say? |
//!
//! Lengths are in whatever unit the caller uses throughout (mm in this program), angles are in radians.
//! Weights multiply squared residuals: give `1/u²`. A weight of 0 leaves a row out of the fit.
//! Numbers that are not finite are refused on the way in and never handed out.

// Comparisons are negated on purpose where a value that is not a number must land on the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod checks;
pub mod circle;
pub mod circular;
pub mod harmonic;
pub mod line;
pub mod lsq;
pub mod plane;
pub mod play;
pub mod rigid;
mod svd3;
pub mod turns;

/// The sense in which a *value* (mm of travel, angle of turn) was changing when the axis came to rest.
///
/// A row of readings notes whether the controller's reading was rising; with a negative scale the value was
/// then falling. [`Approach::of_value`] makes that step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Approach {
    /// The value was falling: dir = −1.
    Falling,
    /// Nobody noted it: dir = 0.
    #[default]
    Unknown,
    /// The value was rising: dir = +1.
    Rising,
}

impl From<crate::units::Approach> for Approach {
    fn from(reading: crate::units::Approach) -> Self {
        match reading {
            crate::units::Approach::Up => Approach::Rising,
            crate::units::Approach::Down => Approach::Falling,
            crate::units::Approach::Unnoted => Approach::Unknown,
        }
    }
}

impl Approach {
    /// −1, 0 or +1.
    #[must_use]
    pub fn sign(self) -> f64 {
        match self {
            Approach::Falling => -1.0,
            Approach::Unknown => 0.0,
            Approach::Rising => 1.0,
        }
    }

    /// The approach of the value, given the approach of the reading (`self`) and the scale between them.
    #[must_use]
    pub fn of_value(self, scale: f64) -> Self {
        match (self, scale < 0.0) {
            (Approach::Falling, true) => Approach::Rising,
            (Approach::Rising, true) => Approach::Falling,
            (same, _) => same,
        }
    }
}
