//! The JSON document of a registration: full precision, millimetres and degrees.

use serde::Deserialize;
use serde::Serialize;

use crate::registration::findings::CauseDocument;
use crate::registration::findings::ChecksDocument;
use crate::registration::findings::RestDocument;
use crate::registration::findings::SuspectDocument;
use crate::registration::findings::UnsolvedDocument;
use crate::registration::repeats::RepeatsDocument;
use crate::registration::robust::RobustDocument;
use crate::registration::simulation::SimulationDocument;

/// `register --json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// Name of the cell.
    pub cell: String,
    /// The unknowns.
    pub parameters: Vec<ParameterDocument>,
    /// In the order and units of `parameters`.
    pub covariance: Vec<Vec<f64>>,
    /// S at the result.
    pub chi2: Option<f64>,
    /// Residuals minus unknowns.
    pub dof: Option<usize>,
    /// √(S/dof).
    pub sigma0: Option<f64>,
    /// P(χ² ≥ S).
    pub p_value: Option<f64>,
    /// Every residual.
    pub readings: Vec<ReadingDocument>,
    /// Rows with `use = no`.
    pub left_out: Vec<PlaceDocument>,
    /// Rows with `use = no` that are not filled in yet.
    #[serde(default)]
    pub unfinished: Vec<PlaceDocument>,
    /// Play of joint 1 seen at touches.
    pub play: Vec<PlayDocument>,
    /// Combinations that only tolerances settle.
    pub by_tolerance_only: Vec<DirectionDocument>,
    /// Combinations that nothing settles.
    pub undetermined: Vec<DirectionDocument>,
    /// u95 at the points.
    pub points: Vec<PointDocument>,
    /// What does not fit, in the order in which it was found.
    #[serde(default)]
    pub suspects: Vec<SuspectDocument>,
    /// How the search for suspects ended: null where nothing is suspect; else `agrees` (what is left
    /// agrees), `whole` (one slip of a whole file or cell explains all), `held` (a value that the
    /// drawing holds explains all), `too many` or `nothing stands out`.
    #[serde(default)]
    pub search: Option<String>,
    /// What one slip that nobody notices could do; null without points.
    #[serde(default)]
    pub reliability: Option<ReliabilityDocument>,
    /// What the readings cannot tell, what hardly, what nothing checks; and the reading that would
    /// settle it.
    #[serde(default)]
    pub advice: Vec<AdviceDocument>,
    /// What noisy copies say of the statistics; null where none were asked for.
    #[serde(default)]
    pub simulation: Option<SimulationDocument>,
    /// What a robust estimate says; null where there is none.
    #[serde(default)]
    pub robust: Option<RobustDocument>,
    /// What repeated readings say; null where nothing is repeated.
    #[serde(default)]
    pub repeats: Option<RepeatsDocument>,
    /// What is left without the suspects.
    #[serde(default)]
    pub rest: Option<RestDocument>,
    /// Causes that are named.
    #[serde(default)]
    pub causes: Vec<CauseDocument>,
    /// Slips of a whole file or cell that may be behind it, where none is named.
    #[serde(default)]
    pub possible_causes: Vec<CauseDocument>,
    /// What the drawing holds and is probably wrong there, where much does not fit.
    #[serde(default)]
    pub unsolved: Vec<UnsolvedDocument>,
    /// Suspects that were set aside because that was asked for.
    #[serde(default)]
    pub set_aside: Vec<PlaceDocument>,
    /// Readings that were kept out to check the result.
    #[serde(default)]
    pub checks: Option<ChecksDocument>,
    /// `independently` (check rows agree), `not confirmed` (they do not), `only with itself` (there are none).
    #[serde(default)]
    pub verified: Option<String>,
    /// After a move: what was solved anew, and what the rest is tied to; null for a full registration.
    #[serde(default)]
    pub moved: Option<MovedDocument>,
    /// accepted, look or undetermined.
    pub verdict: String,
}

/// What was solved anew after a move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MovedDocument {
    /// Parts that moved.
    pub parts: Vec<String>,
    /// Joints that were freed too, since they are set after one of these.
    pub followed: Vec<String>,
    /// The record that the rest is tied to.
    pub from: String,
    /// Parameters that were freed.
    pub freed: Vec<String>,
    /// Of these, parameters that a tolerance of `[solve]` holds.
    pub by_tolerance: Vec<String>,
    /// What each part did, in a sentence.
    pub sentences: Vec<String>,
    /// Every parameter's change.
    pub changes: Vec<ChangeDocument>,
    /// Readings of before that no longer count.
    pub no_longer_count: Vec<UnusedDocument>,
}

/// A parameter's change between two registrations.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChangeDocument {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Its value before.
    pub before: f64,
    /// Its value now.
    pub after: f64,
    /// Their difference.
    pub change: f64,
    /// Standard uncertainty of the difference; 0 where neither registration solved for it.
    pub u: f64,
    /// `real` (beyond 3.29 u), `perhaps` (beyond 1.96 u), `same`, or `drawing` (changed in cell.toml).
    pub verdict: String,
}

/// Readings of one file that no longer count.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UnusedDocument {
    /// The file.
    pub file: String,
    /// Physical lines.
    pub lines: Vec<usize>,
    /// Readings of the file that took part.
    pub of: usize,
    /// Why.
    pub why: String,
}

/// One unknown.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ParameterDocument {
    /// Its name.
    pub name: String,
    /// Solved value.
    pub value: Option<f64>,
    /// Standard uncertainty.
    pub u: Option<f64>,
    /// mm, deg, mm/unit or deg/unit.
    pub unit: String,
    /// Nominal value.
    pub nominal: f64,
    /// Tolerance of the nominal value; null if free.
    pub tolerance: Option<f64>,
    /// Redundancy of its tolerance row.
    pub redundancy: Option<f64>,
    /// Standardised residual of its tolerance row.
    pub standardized: Option<f64>,
    /// Whether its tolerance row is suspect.
    pub suspect: bool,
    /// Whether the readings say almost nothing of it.
    pub weak: bool,
}

/// One residual.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReadingDocument {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
    /// x, y, z for a touch.
    pub component: Option<String>,
    /// mm or degrees.
    pub residual: f64,
    /// mm or deg.
    pub unit: String,
    /// Standard uncertainty as used.
    pub u: f64,
    /// 0 to 1.
    pub redundancy: f64,
    /// Standardised residual.
    pub standardized: Option<f64>,
    /// Smallest error noticed with 80 % power.
    pub detectable: Option<f64>,
    /// Whether it does not fit.
    pub suspect: bool,
    /// How far an error of it that stays unnoticed could move the tip at some point, mm; where nothing
    /// checks it, per mm or degree of error.
    #[serde(default)]
    pub unnoticed_tip_mm: Option<f64>,
    /// Likely cause.
    pub cause: Option<CauseDocument>,
}

/// The largest tip error that one slip could cause which nobody notices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ReliabilityDocument {
    /// How far it moves the tip, mm.
    pub tip_mm: f64,
    /// The point where it moves it most.
    pub point: String,
    /// File of the reading.
    pub file: String,
    /// Its line.
    pub line: usize,
    /// Its component.
    pub component: Option<String>,
    /// The error: just too small to be noticed with 80 % power.
    pub error: f64,
    /// mm or deg.
    pub unit: String,
}

/// Something open, and the reading that would settle it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdviceDocument {
    /// `undetermined`, `tolerance only`, `hardly settled` or `unchecked`.
    pub about: String,
    /// The parameters, largest share first; empty for a reading.
    pub parameters: Vec<String>,
    /// Readings that nothing checks; empty for parameters.
    pub readings: Vec<PlaceDocument>,
    /// In a sentence.
    pub sentence: String,
    /// Points at which it moves the tip.
    pub matters_for: Vec<String>,
    /// What to do, in words of the bench; null where no reading that can be taken would help.
    pub reading: Option<String>,
    /// The file of that reading.
    pub file: Option<String>,
    /// What is given in its row.
    pub cells: std::collections::BTreeMap<String, String>,
}

/// A row of a file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlaceDocument {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
}

/// Play at a touch.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlayDocument {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
    /// Which joint.
    pub joint: String,
    /// Degrees.
    pub lost_motion_deg: f64,
}

/// A combination of parameters.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DirectionDocument {
    /// Parameters with their shares, largest first.
    pub parameters: Vec<ShareDocument>,
}

/// A parameter's share of a combination.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShareDocument {
    /// Name.
    pub name: String,
    /// Squared component.
    pub share: f64,
}

/// How sure the tip is at a point.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PointDocument {
    /// Name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// Whether it was taught by driving there.
    pub taught: bool,
    /// mm; null where it cannot be reached.
    pub u95_mm: Option<f64>,
    /// Why it cannot be reached.
    pub unreachable: Option<String>,
}
