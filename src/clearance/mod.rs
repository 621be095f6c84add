//! How far the arm stays clear of what stands around it and of itself: at one posture, and over the
//! whole way between two.
//!
//! The arm is made of capsules (`[[arm.body]]`): a middle line and a radius. Their clearance from a
//! shape is the distance from the middle line less the radius. Where the middle line itself enters
//! the shape, the clearance is given as −radius: at least that deep, how much deeper is not said.
//! Two capsules' clearance is the distance of their middle lines less both radii.
//!
//! What is compared:
//! - every body with every keep-out that it may not touch;
//! - every body with the plate, but not those on carriage and base, which stand on it. The plate is
//!   a box: the field of holes and half a pitch all round, its top at z = 0, 1000 mm deep;
//! - two bodies whose carriers have at least two joints between them. Neighbours touch at their joint.
//!
//! Distances are rounded to the safe side: what is told is never above the true distance by more
//! than the rounding of the coordinates, and below it by less than 0.001 mm.

mod always;
mod distance;
mod surroundings;
mod way;

pub use surroundings::Surroundings;

use crate::kinematics::MAX_JOINTS;

/// How deep the plate is taken to be, mm: deeper than an arm can come from above.
pub const PLATE_DEPTH_MM: f64 = 1000.0;

/// Values (not readings) of all axes. What the cell does not have is ignored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisValues {
    /// Travel of the carriage, mm.
    pub travel_mm: f64,
    /// Turn of the platter, rad.
    pub turn_rad: f64,
    /// Turns of the joints, base to tip, rad.
    pub joints_rad: [f64; MAX_JOINTS],
}

impl AxisValues {
    /// The values at a share (0 to 1) of the way to others, all axes moving in proportion.
    pub fn toward(&self, to: &AxisValues, share: f64) -> AxisValues {
        let between = |a: f64, b: f64| a + (b - a) * share;
        AxisValues {
            travel_mm: between(self.travel_mm, to.travel_mm),
            turn_rad: between(self.turn_rad, to.turn_rad),
            joints_rad: std::array::from_fn(|i| between(self.joints_rad[i], to.joints_rad[i])),
        }
    }
}

/// What a body is near to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Other {
    /// The plate.
    Plate,
    /// The keep-out of this index in `Cell::keep_outs`.
    KeepOut(usize),
    /// The body of this index in `Cell::bodies`.
    Body(usize),
}

/// A body and what it is near to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// Their clearance, mm; below 0 where they overlap.
    pub clearance_mm: f64,
    /// Index of the body in `Cell::bodies`.
    pub body: usize,
    /// The other.
    pub other: Other,
}

/// What is known of the clearance over a way.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WayClearance {
    /// Nowhere below what was asked for.
    Clear {
        /// A lower bound that holds all along the way, mm; `None` where there is nothing to compare.
        at_least_mm: Option<f64>,
        /// The nearest pair of the postures looked at.
        nearest: Option<Nearest>,
    },
    /// Too near somewhere.
    Blocked {
        /// The nearest pair there.
        nearest: Nearest,
        /// How much of the way (0 to 1) is done there: the first such posture of those looked at.
        share: f64,
    },
    /// No posture looked at is too near, but some stretch could not be proven clear.
    Unproved {
        /// Where such a stretch begins, as a share of the way.
        share: f64,
        /// The nearest pair of the postures looked at.
        nearest: Nearest,
        /// A lower bound that holds all along the way, mm.
        at_least_mm: f64,
    },
}
