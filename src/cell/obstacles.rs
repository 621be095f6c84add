//! What the arm must stay clear of, and the capsules that the arm is made of.

use nalgebra::Vector3;

use crate::cell::Belongs;

/// A thing that the arm must stay clear of.
#[derive(Debug, Clone, PartialEq)]
pub struct KeepOut {
    /// Its name, unique in the cell, never `plate`.
    pub name: String,
    /// What it is fixed to, and the frame that its shape is given in.
    pub frame: Belongs,
    /// What it fills.
    pub shape: Shape,
}

/// What a keep-out fills, in its own frame. Lengths in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    /// A box, turned by `turn_rad` about the vertical through its middle.
    Box {
        /// Its middle, mm.
        centre_mm: Vector3<f64>,
        /// Half of its sizes along its own x, y and z, each above 0, mm.
        half_mm: Vector3<f64>,
        /// Turn about the frame's z, rad.
        turn_rad: f64,
    },
    /// A cylinder that stands from its foot along its axis.
    Cylinder {
        /// Centre of the foot, mm.
        at_mm: Vector3<f64>,
        /// Unit vector from the foot's centre to the head's.
        axis: Vector3<f64>,
        /// Radius, above 0, mm.
        radius_mm: f64,
        /// Height, above 0, mm.
        height_mm: f64,
    },
    /// All that lies behind a wall.
    HalfSpace {
        /// A point of the wall, mm.
        at_mm: Vector3<f64>,
        /// Unit vector out of the wall, to the side where the arm may be.
        free: Vector3<f64>,
    },
}

/// One capsule of the arm: all points within `radius_mm` of its middle line.
#[derive(Debug, Clone, PartialEq)]
pub struct Body {
    /// What carries it.
    pub on: On,
    /// What people call it; several bodies may have the same name.
    pub name: String,
    /// One end of the middle line, mm, in the frame that `on` tells.
    pub from_mm: Vector3<f64>,
    /// The other end; the same as `from_mm` for a ball.
    pub to_mm: Vector3<f64>,
    /// Radius, above 0, mm.
    pub radius_mm: f64,
    /// What it is not checked against.
    pub may_touch: Vec<Touch>,
}

/// What carries a body, and so the frame that the body is given in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum On {
    /// The carriage, in the carriage frame.
    Carriage,
    /// The arm's base, in the base frame.
    Base,
    /// The link that the joint of this index (from 0) moves; in the base frame as it lies with all
    /// joints at 0.
    Link(usize),
    /// The flange, in the flange frame.
    Flange,
    /// The tool, in the tool frame.
    Tool,
}

impl On {
    /// Joints between the base and what carries the body, in an arm of `joints` joints.
    pub fn level(self, joints: usize) -> usize {
        match self {
            On::Carriage | On::Base => 0,
            On::Link(index) => index + 1,
            On::Flange | On::Tool => joints,
        }
    }
}

/// What a body may touch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Touch {
    /// The plate.
    Plate,
    /// The keep-out of this index.
    KeepOut(usize),
    /// The body of this index.
    Body(usize),
}
