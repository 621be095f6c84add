//! `task`: a whole task as a document, as a table for people and as CSV.

mod csv;
mod ground;
mod notes;
mod words;

pub use csv::csv;
pub use ground::Ground;
pub use words::task;

use serde::Serialize;

use crate::margins::ToLimit;
use crate::report::margins::MarginsDocument;
use crate::report::number::fixed;
use crate::tasks::Part;

/// `task --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TaskDocument {
    /// Name of the task: of its file, without folder and ending.
    pub task: String,
    /// good, or look: a person must look at something.
    pub verdict: &'static str,
    /// fewest or travel.
    pub prefer: &'static str,
    /// Track readings from which the task is done, in the order of first use.
    pub stations: Vec<f64>,
    /// No fewer stations of those that were tried can do all steps that are possible.
    pub stations_at_least: usize,
    /// How many track readings were tried.
    pub stations_tried: usize,
    /// How far the track moves in all, in units of its reading.
    pub track_travel: f64,
    /// Whether the table turns without end: its readings follow on from one another then, the short way.
    pub table_without_end: bool,
    /// Least distance to a joint limit that is no scant one, degrees.
    pub margin_needed_deg: f64,
    /// Least clearance that counts as clear, mm; null where the cell tells no bodies.
    pub clearance_needed_mm: Option<f64>,
    /// Every step.
    pub steps: Vec<StepDocument>,
    /// The ways from each step that is done to the next one.
    pub ways: Vec<WayDocument>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepDocument {
    /// From 1.
    pub step: usize,
    /// Line in the task's file.
    pub line: usize,
    /// The point.
    pub point: String,
    /// plate or platter.
    pub frame: &'static str,
    /// Whether it can be done.
    pub possible: bool,
    /// Why it cannot; null otherwise.
    pub why: Option<String>,
    /// What would make it possible.
    pub would_help: Vec<HelpDocument>,
    /// Reading of the track; null without one, or where the step is not possible.
    pub track: Option<f64>,
    /// Reading of the table; null where it does not matter.
    pub table: Option<f64>,
    /// Joint readings at the point.
    pub joints: Option<Vec<f64>>,
    /// How the arm holds itself.
    pub posture: Option<String>,
    /// Joint readings before the point; null without an approach.
    pub approach_joints: Option<Vec<f64>>,
    /// Joint readings after it; null without a depart.
    pub depart_joints: Option<Vec<f64>>,
    /// Distance of the joints to their limits there, degrees.
    pub approach_margin_deg: Option<f64>,
    /// See `approach_margin_deg`.
    pub depart_margin_deg: Option<f64>,
    /// 95 % radius of the tip there, mm; null as drawn.
    pub approach_u95_mm: Option<f64>,
    /// See `approach_u95_mm`.
    pub depart_u95_mm: Option<f64>,
    /// tool or up.
    pub along: &'static str,
    /// mm before the point.
    pub approach_mm: f64,
    /// mm after it.
    pub depart_mm: f64,
    /// How far the tip strays from the straight line meanwhile, mm.
    pub stray_mm: Option<f64>,
    /// How long it stays, s.
    pub dwell_s: Option<f64>,
    /// Smallest distance to a joint limit at the point and the places before and after it, degrees.
    pub smallest_margin_deg: Option<f64>,
    /// Where that is: approach, at or depart.
    pub smallest_margin_at: Option<&'static str>,
    /// Which joint it is.
    pub smallest_margin_joint: Option<String>,
    /// Whether that is less than `[accept] margin_deg` asks for.
    pub scant: bool,
    /// Lean to the side that remains at the point, degrees.
    pub side_lean_deg: Option<f64>,
    /// How far above the point the tip stays where the arm cannot lift, mm.
    pub height_off_mm: Option<f64>,
    /// What the task's file says of the step for people.
    pub note: String,
    /// Smallest clearance at all of these and on the ways between them, mm.
    pub smallest_clearance_mm: Option<f64>,
    /// What is nearest then, in words.
    pub smallest_clearance_to: Option<String>,
    /// Margins at the point; the chance out of reach is the largest of point, approach and depart.
    pub margins: Option<MarginsDocument>,
}

/// One change that would make a step possible.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HelpDocument {
    /// track, table, approach, depart, elevation, azimuth, roll or obstacle.
    pub change: &'static str,
    /// The value to change it to (a reading, mm or degrees); of an obstacle, how many mm are lacking.
    pub value: Option<f64>,
    /// In words.
    pub sentence: String,
}

/// The way from one step to the next.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayDocument {
    /// Number of the step that it leaves.
    pub from_step: usize,
    /// Number of the step that it comes to.
    pub to_step: usize,
    /// clear (proved), blocked, unproved, or not checked (the cell tells no bodies).
    pub state: &'static str,
    /// Smallest clearance of the postures looked at, mm.
    pub clearance_mm: Option<f64>,
    /// What that is, in words.
    pub near: Option<String>,
    /// Where it is blocked or not proved, as a share (0 to 1) of the way.
    pub share: Option<f64>,
    /// Whether the arm flips over to another way of holding itself.
    pub flips: bool,
    /// Move of the track, in units of its reading.
    pub track_move: f64,
    /// Turn of the table, in units of its reading.
    pub table_move: f64,
    /// The joint that turns most.
    pub joint: String,
    /// How far, degrees of its value.
    pub turn_deg: f64,
}

/// What a step's posture is worth.
#[derive(Debug, Clone, PartialEq)]
pub struct Worth {
    /// Margins at the point.
    pub margins: MarginsDocument,
    /// The point, and the places before and after it.
    pub places: Vec<PlaceWorth>,
}

/// What one place of a step is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaceWorth {
    /// Which place.
    pub part: Part,
    /// The joint nearest to its limit.
    pub limit: ToLimit,
    /// 95 % radius of the tip, mm; `None` as drawn.
    pub u95_mm: Option<f64>,
}

/// A reading as people write it: two decimals at the most.
fn reading(value: f64) -> String {
    let text = fixed(value, 2);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}
