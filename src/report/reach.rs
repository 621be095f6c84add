//! `reach`: from where each point can be reached.

use serde::Serialize;

use crate::cell::Cell;

/// `reach --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReachDocument {
    /// Every point asked for.
    pub points: Vec<PointDocument>,
}

/// One point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PointDocument {
    /// Its name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// Whether it was taught by driving there.
    pub taught: bool,
    /// Whether any station asked for reaches it.
    pub reachable: bool,
    /// Why it cannot be asked for at all; null otherwise.
    pub refused: Option<String>,
    /// Stations from which it is reached.
    pub stations: Vec<StationDocument>,
    /// Ends of travel between which it is reached.
    pub track_intervals: Vec<IntervalsDocument>,
}

/// One position of track and table, in readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationDocument {
    /// Null without a track.
    pub track: Option<f64>,
    /// Null for a point of the plate.
    pub table: Option<f64>,
    /// Postures, largest margin first.
    pub solutions: Vec<SolutionDocument>,
}

/// One posture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SolutionDocument {
    /// Joint readings.
    pub joints: Vec<f64>,
    /// Degrees of the value to the nearest joint limit.
    pub limit_margin_deg: f64,
    /// Lean to the side that remains.
    pub side_lean_deg: f64,
    /// The tip's, in the point's frame; null as drawn.
    pub u95_mm: Option<f64>,
    /// The miss on returning to a taught point; null for others and as drawn.
    pub return_u95_mm: Option<f64>,
}

/// Ends of travel, in readings of the track.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct IntervalsDocument {
    /// Table reading; null for a point of the plate.
    pub table: Option<f64>,
    /// Ascending.
    pub intervals: Vec<[f64; 2]>,
}

/// The answer for people.
pub fn reach(
    _cell: &Cell,
    _document: &ReachDocument,
    _source: &str,
    _verdict: Option<&str>,
) -> String {
    String::new()
}
