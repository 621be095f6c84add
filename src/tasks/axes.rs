//! Readings of track and table as values, and whether an axis may stand there.

use crate::cell::Cell;
use crate::kinematics::table_value_rad;
use crate::kinematics::track_value_mm;
use crate::reach::Solver;
use crate::units::Approach;
use crate::units::Range;
use crate::units::Reading;

/// A value this far beyond a limit is still at the limit, mm or rad.
const SLACK: f64 = 1e-9;

/// Track and table of a cell in one geometry.
#[derive(Debug, Clone, Copy)]
pub struct Axes<'a> {
    /// Limits.
    pub cell: &'a Cell,
    /// The arm, and with it the geometry.
    pub solver: &'a Solver<'a>,
}

impl Axes<'_> {
    /// Travel at a track reading, mm; 0 without a track or a reading.
    pub fn travel_mm(&self, reading: Option<f64>) -> f64 {
        let track = self.solver.geometry().track.as_ref();
        let value = |r| track.map(|t| track_value_mm(t, Reading(r), Approach::Unnoted));
        reading.and_then(value).unwrap_or(0.0)
    }

    /// Turn at a table reading, rad; 0 without a turntable or a reading.
    pub fn turn_rad(&self, reading: Option<f64>) -> f64 {
        let table = self.solver.geometry().turntable.as_ref();
        let value = |r| table.map(|t| table_value_rad(t, Reading(r), Approach::Unnoted));
        reading.and_then(value).unwrap_or(0.0)
    }

    /// Whether both axes may stand there; what is not given may.
    pub fn may_stand(&self, track: Option<f64>, table: Option<f64>) -> bool {
        let holds = |limits: Option<Range>, v: f64| {
            limits.is_none_or(|l| v >= l.low - SLACK && v <= l.high + SLACK)
        };
        let travel = self.cell.track.and_then(|t| t.travel_mm);
        let turn = self.cell.turntable.as_ref().and_then(|t| t.travel_rad);
        (track.is_none() || holds(travel, self.travel_mm(track)))
            && (table.is_none() || holds(turn, self.turn_rad(table)))
    }
}
