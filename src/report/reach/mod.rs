//! `reach`: from where each point can be reached.

mod standing;
mod travel;
mod words;

pub use standing::Standing;
pub use standing::standing;
pub use words::best_of;
pub use words::best_pair;
pub use words::reach;
pub use words::why_spare;

use serde::Serialize;

use crate::report::margins::MarginsDocument;

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
    /// Joint readings when it was taught.
    #[serde(skip)]
    pub posture: Option<Vec<f64>>,
    /// Least clearance that counts as clear, mm.
    #[serde(skip)]
    pub clearance_needed_mm: f64,
    /// Whether any station asked for reaches it, clear of all that it must be clear of.
    pub reachable: bool,
    /// Why it cannot be asked for at all; null otherwise.
    pub refused: Option<String>,
    /// The best posture of all stations asked for (of a target that needs them: of all pairs), with all
    /// its margins; null where there is none.
    pub best: Option<BestDocument>,
    /// Stations from which it is reached.
    pub stations: Vec<StationDocument>,
    /// Ends of travel between which it is reached.
    pub track_intervals: Vec<IntervalsDocument>,
    /// Pairs of track and table at which a target is met that asks for one condition more than the arm
    /// has joints: curves over the travel; null for other targets.
    pub pairs: Option<Vec<CurveDocument>>,
}

/// The best posture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BestDocument {
    /// Null without a track.
    pub track: Option<f64>,
    /// Null for a point of the plate.
    pub table: Option<f64>,
    /// Joint readings.
    pub joints: Vec<f64>,
    /// How the arm holds itself.
    pub posture: String,
    /// How many joints the point leaves to spare; 0 where the posture is one of a few.
    pub spare_joints: usize,
    /// Where joints are to spare: why this posture, in words; null elsewhere.
    pub why: Option<String>,
    /// What it is worth.
    pub margins: MarginsDocument,
}

/// A curve of pairs, by rising track reading where its scale is positive.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CurveDocument {
    /// How the arm holds itself where its margin is largest.
    pub posture: String,
    /// Its places; the first and the last are its ends.
    pub places: Vec<PairDocument>,
}

/// One pair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairDocument {
    /// Clearance of what is nearest to the arm, mm; null where the cell tells no bodies.
    pub clearance_mm: Option<f64>,
    /// Null without a track.
    pub track: Option<f64>,
    /// Reading of the table.
    pub table: f64,
    /// Joint readings.
    pub joints: Vec<f64>,
    /// Degrees of the value to the nearest joint limit.
    pub limit_margin_deg: f64,
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
    /// How far above the point the tip stays where the arm cannot lift, mm; else 0.
    pub height_off_mm: f64,
    /// How the arm holds itself.
    pub posture: String,
    /// Clearance of what is nearest to the arm, mm; null where the cell tells no bodies.
    pub clearance_mm: Option<f64>,
    /// What that is, in words.
    pub clearance_to: Option<String>,
    /// Of a point of the plate beside keep-outs that turn with the table: the table reading, of those
    /// tried, that leaves most room; null elsewhere.
    pub clear_at_table: Option<f64>,
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
