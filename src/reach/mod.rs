//! Which points the tool attains, from where, in which posture, with what margin.
//!
//! A [`Solver`] knows one arm as drawn or as registered; [`grid`] makes the stations,
//! [`reach_point`] lists what is attained there and between which ends of the travel, and
//! [`recommend`] finds the best station alone, faster. Nothing here reads files or prints.

// One index runs over residuals, derivatives and joints alike.
#![allow(clippy::needless_range_loop)]
// Negated comparisons send NaN to the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

mod azimuth;
mod bearing;
mod conditions;
mod curves;
mod edge;
mod family;
mod grid;
mod held;
mod intervals;
mod level;
mod limits;
mod lines;
mod nearness;
mod numeric;
mod pairs;
mod pattern;
mod plan;
mod planar;
mod polish;
mod promise;
mod raster;
mod recommend;
mod refine;
mod shared;
mod shoulder;
mod six;
mod sixes;
mod small;
mod solver;
mod spare;
mod taught;
mod trig;
mod triple;
mod wrist;

pub use bearing::Bearing;
pub use edge::Edge;
pub use edge::EdgeBy;
pub use edge::FARTHEST_MM;
pub use grid::Grid;
pub use grid::grid;
pub use grid::parse_grid;
pub use grid::table_nodes;
pub use grid::track_nodes;
pub use intervals::TableIntervals;
pub use intervals::track_intervals;
pub use nearness::Cause;
pub use nearness::NEARLY_RAD;
pub use nearness::Nearness;
pub use nearness::Way;
pub use pairs::Curve;
pub use pairs::Pair;
pub use plan::Refusal;
pub use promise::room_of_cost;
pub use raster::Inverse;
pub use raster::Margins;
pub use raster::NO_BRANCH;
pub use raster::OUT_OF_REACH_RAD;
pub use raster::Raster;
pub use raster::Reached;
pub use recommend::Recommended;
pub use recommend::reach_point;
pub use recommend::reach_point_telling;
pub use recommend::recommend;
pub use shared::shared;
pub use solver::Solver;

use nalgebra::Vector3;

use crate::cell::Belongs;

/// A point to reach, written in its own frame. An angle that is `None` is free.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// The frame that the point belongs to.
    pub frame: Belongs,
    /// Where the tip shall be, mm.
    pub at_mm: Vector3<f64>,
    /// Elevation of the tool, rad; −π/2 is straight down.
    pub elevation_rad: Option<f64>,
    /// Azimuth of the tool, rad.
    pub azimuth_rad: Option<f64>,
    /// Roll of the tool, rad.
    pub roll_rad: Option<f64>,
}

/// A posture that reaches a point within all limits.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// Joint readings, in the controller's units.
    pub readings: Vec<f64>,
    /// Joint values, rad. Of the values that differ by full turns, the one farthest from its
    /// limits.
    pub values_rad: Vec<f64>,
    /// Least distance of a joint's value to one of its limits, rad.
    pub limit_margin_rad: f64,
    /// Lean to the side that a planar arm keeps when steeper than 89°, rad; else 0.
    pub side_lean_rad: f64,
    /// How far above the point the tip stays where the arm cannot lift, mm; else 0.
    pub height_off_mm: f64,
}

/// One position of track and table, and the postures that reach the point there.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Track reading; `None` without a track.
    pub track: Option<f64>,
    /// Table reading; `None` for a point of the plate.
    pub table: Option<f64>,
    /// Postures, largest margin first. Never empty in a [`PointReach`].
    pub solutions: Vec<Solution>,
}

/// All that is known of one point's reach.
#[derive(Debug, Clone, PartialEq)]
pub struct PointReach {
    /// Stations from which the point is reached.
    pub stations: Vec<Station>,
    /// Ends of travel between which it is reached, a table angle each; empty without a track.
    pub intervals: Vec<TableIntervals>,
}

impl PointReach {
    /// Whether any station reaches the point.
    pub fn reachable(&self) -> bool {
        !self.stations.is_empty()
    }
}
