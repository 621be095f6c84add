//! What single readings say by themselves about where things stand: starts for the adjustment.

use nalgebra::Vector3;

use crate::units::Approach;

/// What single readings say about where things stand, without the rest of the cell.
#[derive(Debug, Clone, Default)]
pub struct Hints {
    /// Hole counts.
    pub counts: Vec<CountHint>,
    /// Notches at the switch.
    pub notches: Vec<NotchHint>,
    /// Touches: tip and target.
    pub pairs: Vec<PairHint>,
    /// Touches of marks on the platter.
    pub turns: Vec<TurnHint>,
}

/// A hole count: where along x (0) or y (1) a feature stood, mm, at a reading of the track.
#[derive(Debug, Clone, Copy)]
pub struct CountHint {
    /// 0: along x; 1: along y.
    pub along: usize,
    /// The feature's place on the carriage, mm.
    pub feature_mm: Vector3<f64>,
    /// Where it stood, mm.
    pub position_mm: f64,
    /// The track's reading.
    pub track: f64,
    /// The track's approach.
    pub approach: Approach,
}

/// A touch: tip and target in the plate frame, mm, at the geometry at hand.
#[derive(Debug, Clone, Copy)]
pub struct PairHint {
    /// Where the chain says that the tip is.
    pub tip_mm: Vector3<f64>,
    /// Where the target is.
    pub target_mm: Vector3<f64>,
}

/// A notch at the switch.
#[derive(Debug, Clone, Copy)]
pub struct NotchHint {
    /// Nominal angle of the notch in the platter frame, rad.
    pub angle_rad: f64,
    /// The table's reading.
    pub table: f64,
    /// The table's approach.
    pub approach: Approach,
}

/// A touch of a mark on the platter.
#[derive(Debug, Clone, Copy)]
pub struct TurnHint {
    /// Which mark.
    pub mark: usize,
    /// Turn of the platter at the geometry at hand, rad.
    pub turn_rad: f64,
    /// Where the mark was touched, by the chain of the arm, plate frame, mm.
    pub at_mm: Vector3<f64>,
}
