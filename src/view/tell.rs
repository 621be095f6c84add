//! What the page is told.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::view::ask::AxesRead;
use crate::view::ask::ViewName;
use crate::view::ask::Which;

/// `cell`: what does not change.
#[derive(Debug, Clone, Serialize)]
pub struct CellTold {
    /// Of this interface.
    pub format: u32,
    /// Of the program.
    pub version: &'static str,
    /// What people call the cell.
    pub name: String,
    /// Which geometries there are.
    pub geometries: Vec<&'static str>,
    /// Where each is from.
    pub sources: BTreeMap<&'static str, String>,
    /// What may be thought of each.
    pub verdicts: BTreeMap<&'static str, VerdictTold>,
    /// Track, table, joints.
    pub axes: Vec<AxisTold>,
    /// Pictures of what stands still, by geometry.
    pub drawings: BTreeMap<&'static str, Views>,
    /// Where to begin, by geometry.
    pub start: BTreeMap<&'static str, State>,
    /// All points.
    pub points: Vec<PointNamed>,
    /// Names of the tasks.
    pub tasks: Vec<String>,
    /// The file that `save` writes.
    pub save_file: &'static str,
    /// What goes with every position.
    pub caution: &'static str,
}

/// What may be thought of a geometry.
#[derive(Debug, Clone, Serialize)]
pub struct VerdictTold {
    /// accepted or look; null as drawn.
    pub verdict: Option<String>,
    /// The same in a sentence, and why it does not count any more where it does not.
    pub words: String,
    /// A word for why it does not count any more: a newer record, a recheck, a drift that has gone too far; null
    /// where it counts.
    pub lapsed: Option<&'static str>,
}

/// An axis.
#[derive(Debug, Clone, Serialize)]
pub struct AxisTold {
    /// track, table, j1 …
    pub id: String,
    /// track, table, joint.
    pub kind: &'static str,
    /// What people call it.
    pub name: String,
    /// What the controller shows; the cell file does not say.
    pub unit: &'static str,
    /// Turns without end.
    pub endless: bool,
    /// About a millimetre or a degree.
    pub step: f64,
    /// Ten of them.
    pub coarse: f64,
}

/// One text for each view.
#[derive(Debug, Clone, Serialize)]
pub struct Views {
    /// From above.
    pub plan: String,
    /// From the side.
    pub elevation: String,
}

/// A point by name.
#[derive(Debug, Clone, Serialize)]
pub struct PointNamed {
    /// Its name.
    pub name: String,
    /// What it belongs to.
    pub frame: &'static str,
    /// Whether it was taught.
    pub taught: bool,
}

/// Where everything is at a set of readings.
#[derive(Debug, Clone, Serialize)]
pub struct State {
    /// Which geometry.
    pub geometry: Which,
    /// What all axes read.
    pub stand: AxesRead,
    /// Each of them against its limits.
    pub axes: Vec<AxisAt>,
    /// The tip.
    pub tip: Tip,
    /// How the arm holds itself.
    pub posture: String,
    /// What is nearest to the arm.
    pub clearances: Clearances,
    /// What a person must look at.
    pub looks: Vec<String>,
    /// The arm, in groups for the pictures.
    pub moving: Views,
    /// What can be dragged.
    pub handles: Vec<HandleTold>,
    /// Why the arm did not follow.
    pub held: Option<String>,
    /// Where the tip would be at the same readings in the other geometry; null where there is none.
    pub other: Option<OtherTold>,
    /// Why this position cannot be kept as a taught point; null where it can.
    pub unkept: Option<String>,
}

/// The tip in the other geometry, against that of the state.
#[derive(Debug, Clone, Serialize)]
pub struct OtherTold {
    /// Which one.
    pub geometry: Which,
    /// From the tip of the state to that one, plate frame, mm.
    pub by_mm: [f64; 3],
    /// The same in the platter's frame, where the platter too lies elsewhere; null without a turntable.
    pub by_platter_mm: Option<[f64; 3]>,
    /// Both in words.
    pub text: String,
}

/// An axis at its reading.
#[derive(Debug, Clone, Serialize)]
pub struct AxisAt {
    /// As in [`AxisTold`].
    pub id: String,
    /// What it reads.
    pub reading: f64,
    /// The same, rounded.
    pub text: String,
    /// Its lower limit as a reading; null where there is none.
    pub low: Option<f64>,
    /// Not below `low`.
    pub high: Option<f64>,
    /// Both, rounded inward as readings are shown; empty where there is none.
    pub limits: String,
    /// Whether that is within its limits.
    pub inside: bool,
    /// How far to the nearest limit, in words; empty without limits.
    pub room: String,
}

/// The tip in both frames.
#[derive(Debug, Clone, Serialize)]
pub struct Tip {
    /// In the plate's.
    pub plate: Option<TipTold>,
    /// In the platter's; null without a turntable.
    pub platter: Option<TipTold>,
}

/// The tip in one frame.
#[derive(Debug, Clone, Serialize)]
pub struct TipTold {
    /// Where, mm.
    pub at_mm: [f64; 3],
    /// −90: straight down.
    pub elevation_deg: f64,
    /// From the frame's x.
    pub azimuth_deg: f64,
    /// About the tool's z.
    pub roll_deg: f64,
    /// Radius that holds 95 % of the tips; null as drawn.
    pub u95_mm: Option<f64>,
    /// Rounded as the uncertainty allows.
    pub text: TipWords,
}

/// The tip in words.
#[derive(Debug, Clone, Serialize)]
pub struct TipWords {
    /// Its place.
    pub at: String,
    /// Its direction.
    pub direction: String,
    /// How surely; empty as drawn.
    pub u95: String,
}

/// What is nearest to the arm; null where the cell tells nothing of it.
#[derive(Debug, Clone, Serialize)]
pub struct Clearances {
    /// Of keep-outs and plate.
    pub around: Option<Clearance>,
    /// Of the arm's own bodies.
    pub own: Option<Clearance>,
}

/// Something near to the arm.
#[derive(Debug, Clone, Serialize)]
pub struct Clearance {
    /// How near.
    pub mm: f64,
    /// What it is.
    pub what: String,
    /// Whether that is as far as it must be.
    pub clear: bool,
    /// All of it in words.
    pub text: String,
}

/// What can be dragged, and where it is.
#[derive(Debug, Clone, Serialize)]
pub struct HandleTold {
    /// track, table, j1 …, tip.
    pub id: String,
    /// In which picture.
    pub view: ViewName,
    /// Where, px.
    pub at: [f64; 2],
    /// In words.
    pub label: String,
}

/// `points`.
#[derive(Debug, Clone, Serialize)]
pub struct PointsTold {
    /// Whether more is to come.
    pub pending: bool,
    /// Those that are known already.
    pub points: Vec<PointTold>,
    /// Readings between which the track travels; null without a track or a travel.
    pub travel: Option<[f64; 2]>,
    /// Tasks that are known already.
    pub tasks: Vec<TaskTold>,
    /// What the stretches do not say.
    pub note: &'static str,
}

/// How a point is reached.
#[derive(Debug, Clone, Serialize)]
pub struct PointTold {
    /// Its name.
    pub name: String,
    /// What it belongs to.
    pub frame: String,
    /// Whether it was taught.
    pub taught: bool,
    /// Whether it is reached from anywhere, clear of all.
    pub reachable: bool,
    /// That it is reached under a condition alone, in words; null where it is reached or not at all.
    pub condition: Option<&'static str>,
    /// Why it cannot be asked for.
    pub refused: Option<String>,
    /// Degrees to the nearest joint limit of the best posture.
    pub margin_deg: Option<f64>,
    /// Its clearance.
    pub clearance_mm: Option<f64>,
    /// The tip's there.
    pub u95_mm: Option<f64>,
    /// The same in words.
    pub text: String,
    /// Track readings from which it is reached, at some reading of the table.
    pub intervals: Vec<[f64; 2]>,
    /// The same in words.
    pub intervals_text: String,
}

/// What became of a task.
#[derive(Debug, Clone, Serialize)]
pub struct TaskTold {
    /// Its name.
    pub name: String,
    /// Whether every step and every way can be done.
    pub possible: bool,
    /// The same in a sentence.
    pub text: String,
}

/// `point`.
#[derive(Debug, Clone, Serialize)]
pub struct OnePoint {
    /// Its name.
    pub name: String,
    /// Why there is no posture.
    pub why_not: Option<String>,
    /// That it is not reached from where track and table stand; null where it is.
    pub not_from_here: Option<String>,
    /// From here, from the best station, as taught.
    pub postures: Vec<PostureTold>,
    /// Its map.
    pub map: Option<String>,
    /// Where track and table stand in it, px: on its edge where they stand beside it.
    pub map_at: Option<[f64; 2]>,
    /// How it was made, in a sentence.
    pub map_note: Option<&'static str>,
    /// Why there is none.
    pub map_why_not: Option<String>,
}

/// A posture at a point.
#[derive(Debug, Clone, Serialize)]
pub struct PostureTold {
    /// What all axes read.
    pub stand: AxesRead,
    /// here, best or taught.
    pub from: &'static str,
    /// How the arm holds itself.
    pub posture: String,
    /// Degrees to the nearest joint limit.
    pub limit_margin_deg: f64,
    /// What is nearest to the arm.
    pub clearance_mm: Option<f64>,
    /// What that is.
    pub clearance_to: Option<String>,
    /// The tip's, in the point's frame.
    pub u95_mm: Option<f64>,
    /// The same in words.
    pub text: String,
}

/// `station`: a place of a map.
#[derive(Debug, Clone, Serialize)]
pub struct StationTold {
    /// Whether the point is reached there, clear of all.
    pub reached: bool,
    /// Where it is, and what the best posture there is worth.
    pub text: String,
}

/// `residuals`.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Residuals {
    /// Those of a report.
    pub drawings: Vec<DrawingTold>,
    /// Why there are none.
    pub why_not: Option<String>,
}

/// A drawing of a report.
#[derive(Debug, Clone, Serialize)]
pub struct DrawingTold {
    /// Its short name.
    pub slug: String,
    /// Its heading.
    pub heading: String,
    /// What to see in it.
    pub sentence: String,
    /// The drawing.
    pub svg: String,
}

/// `fresh`.
#[derive(Debug, Clone, Serialize)]
pub struct FreshTold {
    /// What changed in the cell folder since it was read, in a sentence; null where nothing did.
    pub changed: Option<String>,
}

/// `save`.
#[derive(Debug, Clone, Serialize)]
pub struct SaveTold {
    /// The file.
    pub file: &'static str,
    /// The row.
    pub row: String,
    /// Whether it stands there now.
    pub written: bool,
    /// What was or would be written where.
    pub text: String,
}
