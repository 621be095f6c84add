//! `task`: a whole task as a table, as a document and as CSV.

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Cell;
use crate::clearance::AxisValues;
use crate::clearance::Surroundings;
use crate::kinematics::joint_reading;
use crate::margins::ToLimit;
use crate::reach::Solver;
use crate::report::margins::MarginsDocument;
use crate::report::margins::chance;
use crate::report::margins::clearance;
use crate::report::margins::edge;
use crate::report::number::fixed;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;
use crate::tasks::Advice;
use crate::tasks::Along;
use crate::tasks::Held;
use crate::tasks::Part;
use crate::tasks::State;
use crate::tasks::Step;
use crate::tasks::Way;
use crate::tasks::WayState;
use crate::tasks::WhyNot;

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
    /// Whether that is less than [accept] margin_deg asks for.
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

/// What the document is made from, besides the steps.
pub struct Ground<'a> {
    /// The cell.
    pub cell: &'a Cell,
    /// The arm.
    pub solver: &'a Solver<'a>,
    /// What stands around.
    pub surroundings: &'a Surroundings<'a>,
}

impl Ground<'_> {
    /// Joint readings of values.
    pub fn readings(&self, at: &AxisValues) -> Vec<f64> {
        let joints = self.solver.geometry().joints.iter().zip(&at.joints_rad);
        joints.map(|(j, v)| joint_reading(j, *v).0).collect()
    }

    /// A step that is done.
    pub fn done(
        &self,
        number: usize,
        step: &Step,
        frame: &'static str,
        state: &State,
        worth: &Worth,
    ) -> StepDocument {
        let mut document = blank(number, step, frame);
        let tightest = worth.places.iter().min_by(|a, b| {
            let distance = |p: &PlaceWorth| p.limit.distance_rad;
            distance(a).total_cmp(&distance(b))
        });
        document.smallest_margin_at = tightest.map(|t| t.part.as_str());
        document.smallest_margin_joint = tightest.map(|t| format!("j{}", t.limit.joint + 1));
        document.scant = state.margin_rad < self.cell.accept.margin_rad;
        document.side_lean_deg = Some(state.solution.side_lean_rad.to_degrees());
        document.height_off_mm = Some(state.solution.height_off_mm);
        let at = |part: Part| worth.places.iter().find(|p| p.part == part);
        let margin = |part: Part| at(part).map(|p| p.limit.distance_rad.to_degrees());
        let u95 = |part: Part| at(part).and_then(|p| p.u95_mm);
        document.approach_margin_deg = margin(Part::Approach);
        document.depart_margin_deg = margin(Part::Depart);
        document.approach_u95_mm = u95(Part::Approach);
        document.depart_u95_mm = u95(Part::Depart);
        document.smallest_clearance_to = state.clearance.map(|c| clearance(self.surroundings, &c));
        document.possible = true;
        document.track = state.track;
        document.table = state.table;
        document.joints = Some(self.readings(&state.at));
        document.posture = Some(state.bearing.to_string());
        document.approach_joints = state.approach.as_ref().map(|a| self.readings(a));
        document.depart_joints = state.depart.as_ref().map(|a| self.readings(a));
        let moves = state.approach.is_some() || state.depart.is_some();
        document.stray_mm = moves.then_some(state.stray_mm);
        document.smallest_margin_deg = Some(state.margin_rad.to_degrees());
        document.smallest_clearance_mm = state.clearance.map(|c| c.clearance_mm);
        document.margins = Some(worth.margins.clone());
        document
    }

    /// A step that cannot be done.
    pub fn impossible(
        &self,
        number: usize,
        step: &Step,
        frame: &'static str,
        why: &WhyNot,
        advice: &[Advice],
    ) -> StepDocument {
        let mut document = blank(number, step, frame);
        document.why = Some(self.why(step, why));
        document.would_help = advice.iter().map(|a| self.help(a)).collect();
        document
    }

    /// A way.
    pub fn way(&self, way: &Way, track_move: f64, table_move: f64) -> WayDocument {
        let (state, near, share) = match &way.clearance {
            WayState::NotChecked => ("not checked", None, None),
            WayState::Clear(near) => ("clear", Some(near), None),
            WayState::Blocked(near, share) => ("blocked", Some(near), Some(*share)),
            WayState::Unproved(near, share) => ("unproved", Some(near), Some(*share)),
        };
        WayDocument {
            from_step: way.from + 1,
            to_step: way.to + 1,
            state,
            clearance_mm: near.map(|n| n.clearance_mm),
            near: near.map(|n| clearance(self.surroundings, n)),
            share,
            flips: way.flips,
            track_move,
            table_move,
            joint: format!("j{}", way.joint + 1),
            turn_deg: way.turn_rad.to_degrees(),
        }
    }

    fn why(&self, step: &Step, why: &WhyNot) -> String {
        let axes = |step: &Step| {
            let held = |axis: &str, held: Held| match held {
                Held::At(r) => Some(format!("{axis} {}", reading(r))),
                Held::Same => Some(format!("{axis} as at the step before")),
                Held::Free => None,
            };
            let held = [held("track", step.track), held("table", step.table)];
            let held: Vec<String> = held.into_iter().flatten().collect();
            match held.is_empty() {
                true => "any station that was tried".to_owned(),
                false => format!("where its row holds the axes ({})", held.join(", ")),
            }
        };
        let part = |part: &Part| match part {
            Part::At => "the point",
            Part::Approach => "the place before it (approach)",
            Part::Depart => "the place after it (depart)",
        };
        match why {
            WhyNot::OutsideTravel => {
                format!("track or table would stand outside its travel, {}", axes(step))
            }
            WhyNot::OutOfReach => {
                format!("no posture within the joint limits reaches it from {}", axes(step))
            }
            WhyNot::PartOutOfReach(p) => {
                format!("the point is reached, but not {}", part(p))
            }
            WhyNot::TooNear(p, near) => format!(
                "too near at {}: {}; {} mm are asked for",
                part(p),
                clearance(self.surroundings, near),
                fixed(self.cell.accept.clearance_mm, 1)
            ),
            WhyNot::NotTogether => {
                "it can be done, but not with track or table as at the step before, where it asks for that"
                    .to_owned()
            }
            WhyNot::Unproved(p) => {
                format!(
                    "the way between the point and {} cannot be proved clear",
                    part(p)
                )
            }
        }
    }

    fn help(&self, advice: &Advice) -> HelpDocument {
        let (change, value, sentence) = match advice {
            Advice::Track(r) => (
                "track",
                Some(*r),
                format!("with the track at {}", reading(*r)),
            ),
            Advice::Table(r, track) => (
                "table",
                Some(*r),
                match track {
                    Some(s) => {
                        format!("with the table at {} (track {})", fixed(*r, 3), reading(*s))
                    }
                    None => format!("with the table at {}", fixed(*r, 3)),
                },
            ),
            Advice::TrackAndTable(s, t) => (
                "track",
                Some(*s),
                format!(
                    "with the track at {} and the table at {}",
                    reading(*s),
                    reading(*t)
                ),
            ),
            Advice::Approach(mm, both) => (
                "approach",
                Some(*mm),
                match both {
                    true => format!("with approach and depart of {mm:.0} mm or less"),
                    false => format!("with an approach of {mm:.0} mm or less"),
                },
            ),
            Advice::Depart(mm) => (
                "depart",
                Some(*mm),
                format!("with a depart of {mm:.0} mm or less"),
            ),
            Advice::Elevation(rad) => (
                "elevation",
                Some(rad.to_degrees()),
                format!("with an elevation of {} deg", fixed(rad.to_degrees(), 0)),
            ),
            Advice::AzimuthFree => ("azimuth", None, "with its azimuth left free".to_owned()),
            Advice::RollFree => ("roll", None, "with its roll left free".to_owned()),
            Advice::OutOfTheWay(near, lacking) => (
                "obstacle",
                Some(*lacking),
                format!(
                    "perhaps with more room at {}: at least {} mm are lacking there",
                    self.surroundings.other_name(near.other),
                    fixed(*lacking, 1)
                ),
            ),
        };
        HelpDocument {
            change,
            value,
            sentence,
        }
    }
}

fn blank(number: usize, step: &Step, frame: &'static str) -> StepDocument {
    StepDocument {
        step: number,
        line: step.line,
        point: step.point.clone(),
        frame,
        possible: false,
        why: None,
        would_help: Vec::new(),
        track: None,
        table: None,
        joints: None,
        posture: None,
        approach_joints: None,
        depart_joints: None,
        approach_margin_deg: None,
        depart_margin_deg: None,
        approach_u95_mm: None,
        depart_u95_mm: None,
        smallest_margin_at: None,
        smallest_margin_joint: None,
        scant: false,
        side_lean_deg: None,
        height_off_mm: None,
        note: step.note.clone(),
        smallest_clearance_to: None,
        along: match step.along {
            Along::Tool => "tool",
            Along::Up => "up",
        },
        approach_mm: step.approach_mm,
        depart_mm: step.depart_mm,
        stray_mm: None,
        dwell_s: step.dwell_s,
        smallest_margin_deg: None,
        smallest_clearance_mm: None,
        margins: None,
    }
}

fn reading(value: f64) -> String {
    let text = fixed(value, 2);
    match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text,
    }
}

/// The answer for people.
pub fn task(
    document: &TaskDocument,
    joints: usize,
    source: &str,
    verdict: Option<&str>,
    drawn: bool,
) -> String {
    let n = document.steps.len();
    let done = document.steps.iter().filter(|s| s.possible).count();
    let name = &document.task;
    let bad_ways = document
        .ways
        .iter()
        .filter(|w| matches!(w.state, "blocked" | "unproved"));
    let bad_ways: Vec<&WayDocument> = bad_ways.collect();
    let scant = document.steps.iter().any(|s| s.scant);
    let mut out = match (done == n, bad_ways.is_empty()) {
        (true, true) if scant => {
            format!("LOOK: TASK {name}: every step can be done, some only just")
        }
        (true, true) if n == 1 => format!("TASK {name}: THE STEP CAN BE DONE"),
        (true, true) => format!("TASK {name}: ALL {n} STEPS CAN BE DONE"),
        (true, false) => {
            format!("LOOK: TASK {name}: every step can be done, but not every way between")
        }
        (false, _) => format!(
            "LOOK: TASK {name}: {} of {} can be done",
            done,
            counted(n, "step")
        ),
    };
    if !document.stations.is_empty() {
        let list: Vec<String> = document.stations.iter().map(|s| reading(*s)).collect();
        let _ = write!(out, ", from track {}", list.join(", "));
    }
    out = wrap("", 2, &out);
    stations(&mut out, document, done);
    if verdict == Some("look") {
        out.push_str("Look: this registration's verdict was look, not accepted.\n");
    }
    impossible(&mut out, document);
    for way in &bad_ways {
        let text = format!(
            "the way from step {} to step {} is {} {} % of the way on; nearest: {}. Depart farther, or \
             put a point between.",
            way.from_step,
            way.to_step,
            if way.state == "blocked" {
                "blocked from"
            } else {
                "not proved clear from"
            },
            fixed(100.0 * way.share.unwrap_or(0.0), 0),
            way.near.as_deref().unwrap_or("")
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    out.push('\n');
    table(&mut out, document, joints);
    out.push('\n');
    notes(&mut out, document, drawn);
    out.push_str(&wrap("From ", 5, source));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

fn stations(out: &mut String, document: &TaskDocument, done: usize) {
    let used = document.stations.len();
    if done == 0 || used == 0 {
        return;
    }
    let text = match (document.prefer, used <= document.stations_at_least) {
        ("travel", _) => format!(
            "Chosen for little travel of the track from step to step: {} in all, of the {} positions \
             tried.",
            reading(document.track_travel),
            document.stations_tried
        ),
        _ if done < document.steps.len() => return,
        (_, true) if used == 1 => return,
        (_, true) => format!(
            "No fewer of the {} track positions tried can do it, with the table angles tried.",
            document.stations_tried
        ),
        (_, false) => format!(
            "At least {} of the {} track positions tried are needed; whether fewer than {used} do was \
             not proved.",
            document.stations_at_least, document.stations_tried
        ),
    };
    out.push_str(&wrap("", 0, &text));
}

fn impossible(out: &mut String, document: &TaskDocument) {
    for step in document.steps.iter().filter(|s| !s.possible) {
        let why = step.why.as_deref().unwrap_or("");
        let text = format!(
            "step {} ({}, line {}): {why}.",
            step.step, step.point, step.line
        );
        out.push_str(&wrap("NOT possible: ", 14, &text));
        let help: Vec<&str> = step
            .would_help
            .iter()
            .map(|h| h.sentence.as_str())
            .collect();
        let text = match help.is_empty() {
            true => "No single change that was tried makes it possible.".to_owned(),
            false => format!("Possible {}.", help.join("; or ")),
        };
        out.push_str(&wrap("              ", 14, &text));
    }
}

fn table(out: &mut String, document: &TaskDocument, joints: usize) {
    let with_track = document.steps.iter().any(|s| s.track.is_some());
    let with_table = document.steps.iter().any(|s| s.table.is_some());
    let width = 8;
    let name = document.steps.iter().map(|s| s.point.chars().count()).max();
    let room: usize = if joints <= 6 { 14 } else { 7 };
    let name = name.unwrap_or(5).clamp(5, room);
    let mut head = format!("step {:name$}", "point");
    if with_track {
        let _ = write!(head, "{:>8}", "track");
    }
    if with_table {
        let _ = write!(head, "{:>8}", "table");
    }
    for k in 1..=joints {
        let _ = write!(head, "{:>width$}", format!("j{k}"));
    }
    head.push_str("  margin  clear");
    out.push_str(head.trim_end());
    out.push('\n');
    for step in &document.steps {
        let mut line = format!("{:>4} {:name$}", step.step, cut(&step.point, name));
        let Some(values) = &step.joints else {
            line.push_str("  not possible, see above");
            out.push_str(&line);
            out.push('\n');
            continue;
        };
        let cell = |value: Option<f64>| value.map_or("-".to_owned(), |v| fixed(v, 2));
        if with_track {
            let _ = write!(line, "{:>8}", cell(step.track));
        }
        if with_table {
            let _ = write!(line, "{:>8}", cell(step.table));
        }
        for v in values {
            let _ = write!(line, "{:>width$}", fixed(*v, 2));
        }
        let margin = step
            .smallest_margin_deg
            .map_or(String::new(), |m| fixed(m, 1));
        let way = document.ways.iter().find(|w| w.to_step == step.step);
        let least = [step.smallest_clearance_mm, way.and_then(|w| w.clearance_mm)];
        let least = least.into_iter().flatten().reduce(f64::min);
        let clear = least.map_or("-".to_owned(), |c| fixed(c.floor(), 0));
        let _ = write!(line, "{margin:>8}{clear:>7}");
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

/// Joints that turn more on one way are told, degrees.
const FAR_TURN_DEG: f64 = 120.0;

/// What the arm comes nearest to in the whole task.
fn nearest(out: &mut String, document: &TaskDocument) {
    let steps = document.steps.iter().filter_map(|s| {
        let place = format!("step {}", s.step);
        Some((
            s.smallest_clearance_mm?,
            place,
            s.smallest_clearance_to.clone()?,
        ))
    });
    let ways = document.ways.iter().filter_map(|w| {
        let place = format!("on the way from step {} to step {}", w.from_step, w.to_step);
        Some((w.clearance_mm?, place, w.near.clone()?))
    });
    if let Some((_, place, near)) = steps.chain(ways).min_by(|a, b| a.0.total_cmp(&b.0)) {
        out.push_str(&wrap(
            "Smallest clearance: ",
            4,
            &format!("{place}, {near}."),
        ));
    }
}

/// How the arm holds itself, by steps.
fn postures(out: &mut String, done: &[&StepDocument]) {
    let mut groups: Vec<(&str, Vec<usize>)> = Vec::new();
    for step in done {
        let posture = step.posture.as_deref().unwrap_or("");
        match groups.iter_mut().find(|(p, _)| *p == posture) {
            Some((_, steps)) => steps.push(step.step),
            None => groups.push((posture, vec![step.step])),
        }
    }
    let text: Vec<String> = match groups.as_slice() {
        [(only, _)] if done.len() > 1 => vec![format!("{only} at every step")],
        _ => groups
            .iter()
            .filter(|(p, _)| !p.is_empty())
            .map(|(p, steps)| format!("{p} ({})", numbers(steps)))
            .collect(),
    };
    if !text.is_empty() {
        out.push_str(&wrap("Posture: ", 4, &format!("{}.", text.join("; "))));
    }
}

fn cut(text: &str, width: usize) -> String {
    match text.chars().count() > width {
        true => text.chars().take(width - 1).chain(['~']).collect(),
        false => text.to_owned(),
    }
}

/// Step numbers: `3, 5, 9`, a few of many.
fn numbers(steps: &[usize]) -> String {
    let shown: Vec<String> = steps.iter().take(12).map(usize::to_string).collect();
    let more = match steps.len() > 12 {
        true => format!(" and {} more", steps.len() - 12),
        false => String::new(),
    };
    let word = if steps.len() == 1 { "step" } else { "steps" };
    format!("{word} {}{more}", shown.join(", "))
}

fn notes(out: &mut String, document: &TaskDocument, drawn: bool) {
    let done: Vec<&StepDocument> = document.steps.iter().filter(|s| s.possible).collect();
    let margins = || {
        done.iter()
            .filter_map(|s| Some((s.step, s.margins.as_ref()?)))
    };
    if let Some(worst) = done.iter().min_by(|a, b| {
        let m = |s: &StepDocument| s.smallest_margin_deg.unwrap_or(f64::INFINITY);
        m(a).total_cmp(&m(b))
    }) && let Some(m) = &worst.margins
    {
        let joint = worst.smallest_margin_joint.as_deref().unwrap_or("");
        let place = match worst.smallest_margin_at {
            Some("approach") => " before the point",
            Some("depart") => " after the point",
            _ => " at the point",
        };
        let text = format!(
            "step {} ({}), {} deg of {joint}{place}; at the point itself {} deg, {}.",
            worst.step,
            worst.point,
            fixed(worst.smallest_margin_deg.unwrap_or(0.0), 1),
            fixed(m.limit_margin_deg, 1),
            edge(m)
        );
        out.push_str(&wrap("Smallest margin: ", 4, &text));
        nearest(out, document);
    }
    let tip = done.iter().flat_map(|s| {
        let at = s.margins.as_ref().and_then(|m| m.u95_mm);
        let all = [at, s.approach_u95_mm, s.depart_u95_mm];
        all.into_iter().flatten().map(|u| (s.step, u))
    });
    if let Some((step, u)) = tip.max_by(|a, b| a.1.total_cmp(&b.1)) {
        let text = format!(
            "within {} mm (95 %) at every point and the places before and after, worst at step {step}.",
            fixed(u.max(0.01), 2)
        );
        out.push_str(&wrap("Tip: ", 4, &text));
    }
    let unsure: Vec<(usize, &MarginsDocument)> = margins()
        .filter(|(_, m)| m.out_of_reach.is_some_and(|c| c.at_most > 0.001))
        .collect();
    for (step, m) in unsure.iter().take(5) {
        let Some(c) = &m.out_of_reach else { continue };
        let text = format!(
            "step {step}: the chance that this posture cannot reach it is {}.",
            chance(c)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    if unsure.len() > 5 {
        let _ = writeln!(
            out,
            "Look: the same of {} more steps, see --json.",
            unsure.len() - 5
        );
    }
    for (step, m) in margins() {
        if let Some(words) = &m.nearly_singular {
            out.push_str(&wrap("Look: ", 6, &format!("step {step}: {words}.")));
        }
    }
    for way in document.ways.iter().filter(|w| w.flips) {
        let posture = |n: usize| {
            document
                .steps
                .get(n - 1)
                .and_then(|s| s.posture.clone())
                .unwrap_or_default()
        };
        let text = format!(
            "the arm flips between step {} ({}) and step {} ({}); {} turns {} deg. Give it room.",
            way.from_step,
            posture(way.from_step),
            way.to_step,
            posture(way.to_step),
            way.joint,
            fixed(way.turn_deg, 0)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    for step in done.iter().filter(|s| s.scant) {
        let text = format!(
            "step {}: only {} deg to the limit of {} ({}); {} are asked for.",
            step.step,
            fixed(step.smallest_margin_deg.unwrap_or(0.0), 1),
            step.smallest_margin_joint.as_deref().unwrap_or(""),
            step.smallest_margin_at.unwrap_or("at"),
            fixed(document.margin_needed_deg, 1)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    let leaning = done
        .iter()
        .filter(|s| s.side_lean_deg.is_some_and(|l| l > 0.005));
    let leaning: Vec<usize> = leaning.map(|s| s.step).collect();
    if !leaning.is_empty() {
        let most = done
            .iter()
            .filter_map(|s| s.side_lean_deg)
            .fold(0.0, f64::max);
        let text = format!(
            "asked to point straight up or down the tool leans up to {} deg to the side, as near as this \
             arm can ({}).",
            fixed(most, 2),
            numbers(&leaning)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    for way in document
        .ways
        .iter()
        .filter(|w| !w.flips && w.turn_deg > FAR_TURN_DEG)
    {
        let text = format!(
            "between step {} and step {} {} turns {} deg.",
            way.from_step,
            way.to_step,
            way.joint,
            fixed(way.turn_deg, 0)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    if document.table_without_end && done.iter().any(|s| s.table.is_some()) {
        out.push_str(&wrap(
            "",
            0,
            "The table turns without end: its readings follow on from step to step and may leave one \
             turn. The ways are proved for turning as these readings say, not the other way round.",
        ));
    }
    postures(out, &done);
    let far: Vec<usize> = done
        .iter()
        .filter(|s| s.stray_mm.is_some_and(|mm| mm > 2.0))
        .map(|s| s.step)
        .collect();
    if !far.is_empty() {
        let most = done.iter().filter_map(|s| s.stray_mm).fold(0.0, f64::max);
        let text = format!(
            "with all axes moving in proportion the tip strays up to {} mm from the straight line \
             between point and approach or depart ({}); go there in a straight line, or shorter.",
            fixed(most, 0),
            numbers(&far)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    match document.clearance_needed_mm {
        Some(mm) => {
            let proved = document.ways.iter().filter(|w| w.state == "clear").count();
            let text = format!(
                "Proved to stay {} mm clear, all axes moving in proportion: the legs between each point and \
                 the places before and after it, and {} between steps. Other ways of moving, the way to \
                 the first step and from the last are not checked. What the keep-outs and bodies of the \
                 cell file do not tell is not seen.",
                fixed(mm, 1),
                counted(proved, "way")
            );
            out.push_str(&wrap("", 0, &text));
        }
        None => out.push_str(&wrap(
            "",
            0,
            "Clearances are NOT checked: the cell file tells no [[arm.body]]. The way to the first step \
             and from the last is not checked either.",
        )),
    }
    out.push_str(&wrap(
        "",
        0,
        "Track, table and joints are readings of the axes. Margin: least degrees of a joint to its limit \
         at the point, before and after it. Clear: least mm to anything there and on the way to the step, \
         of the postures looked at.",
    ));
    if document
        .steps
        .iter()
        .any(|s| s.approach_mm > 0.0 || s.depart_mm > 0.0)
    {
        out.push_str("Positions before and after the points: --csv or --json.\n");
    }
    if drawn {
        out.push_str("As drawn, not registered: nothing is known of how far off this is.\n");
    }
}

/// The same for a spreadsheet: one row a place, columns named as in taught.csv and more.
pub fn csv(document: &TaskDocument, joints: usize) -> String {
    let mut out = String::from(
        "# Calculated positions: prove each one slowly first, hands and tools out of the arm's reach.\n",
    );
    if document.verdict != "good" {
        out.push_str("# LOOK: not every step or way can be done as asked for; see the columns way and note.\n");
    }
    out.push_str("name,frame,track,table");
    for k in 1..=joints {
        let _ = write!(out, ",j{k}");
    }
    out.push_str(",step,part,dwell_s,margin_deg,clearance_mm,u95_mm,way,posture,look,note\n");
    for step in &document.steps {
        rows(&mut out, document, step, joints);
    }
    out
}

fn rows(out: &mut String, document: &TaskDocument, step: &StepDocument, joints: usize) {
    let number = |v: Option<f64>, decimals: usize| v.map_or(String::new(), |v| fixed(v, decimals));
    let quoted = |text: &str| match text.is_empty() {
        true => String::new(),
        false => format!("\"{}\"", text.replace('"', "\"\"")),
    };
    if !step.possible {
        let look = format!("NOT possible: {}", step.why.as_deref().unwrap_or(""));
        let _ = writeln!(
            out,
            "{},{}{},{},at,,,,,,,{},{}",
            step.point,
            step.frame,
            ",".repeat(joints + 2),
            step.step,
            quoted(&look),
            quoted(&step.note)
        );
        return;
    }
    let at_point = step.margins.as_ref();
    let mut places = Vec::new();
    let approach = (step.approach_margin_deg, step.approach_u95_mm);
    let depart = (step.depart_margin_deg, step.depart_u95_mm);
    let at = (
        at_point.map(|m| m.limit_margin_deg),
        at_point.and_then(|m| m.u95_mm),
    );
    for (part, values, worth) in [
        ("approach", &step.approach_joints, approach),
        ("at", &step.joints, at),
        ("depart", &step.depart_joints, depart),
    ] {
        if let Some(values) = values {
            places.push((part, values, worth));
        }
    }
    // The way to the step ends at its first place.
    let way = document.ways.iter().find(|w| w.to_step == step.step);
    for (k, (part, values, (margin, u95))) in places.into_iter().enumerate() {
        let way = way.filter(|_| k == 0);
        let state = way.map_or("", |w| w.state);
        let mut looks = Vec::new();
        if let Some(w) = way.filter(|w| matches!(w.state, "blocked" | "unproved")) {
            looks.push(format!(
                "the way here is {}: {}",
                w.state,
                w.near.as_deref().unwrap_or("")
            ));
        }
        if part == "at" {
            looks.extend(at_point.and_then(|m| m.nearly_singular.clone()));
        }
        if step.scant && step.smallest_margin_at == Some(part) {
            looks.push("close to a joint limit".to_owned());
        }
        let clearance = match k {
            0 => [step.smallest_clearance_mm, way.and_then(|w| w.clearance_mm)],
            _ => [step.smallest_clearance_mm, None],
        };
        let clearance = clearance.into_iter().flatten().reduce(f64::min);
        let _ = write!(
            out,
            "{},{},{},{}",
            step.point,
            step.frame,
            number(step.track, 4),
            number(step.table, 4)
        );
        for v in values {
            let _ = write!(out, ",{}", fixed(*v, 4));
        }
        let _ = writeln!(
            out,
            ",{},{part},{},{},{},{},{state},{},{},{}",
            step.step,
            number(step.dwell_s.filter(|_| part == "at"), 2),
            number(margin, 2),
            number(clearance, 2),
            number(u95, 3),
            quoted(step.posture.as_deref().unwrap_or("")),
            quoted(&looks.join("; ")),
            quoted(&step.note)
        );
    }
}
