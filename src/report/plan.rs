//! What to measure next, for people and as JSON.

use std::collections::BTreeMap;
use std::fmt::Write;

use serde::Serialize;

use crate::bench::Bench;
use crate::plan::Ended;
use crate::plan::Plan;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;

/// A radius beyond this says only that the tip is not settled yet.
const UNKNOWN_MM: f64 = 100.0;

/// `plan --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlanDocument {
    /// Name of the cell.
    pub cell: String,
    /// What was planned from: a file and its time, or the drawing.
    pub from: String,
    /// u95 of the tip to reach, mm; null where `[accept]` asks for nothing.
    pub goal_mm: Option<f64>,
    /// Whether every point that can be reached would be as sure as asked for.
    pub reached: bool,
    /// Why the plan ends where it does.
    pub stopped: String,
    /// Readings that could be taken.
    pub candidates: usize,
    /// What to measure, in this order.
    pub steps: Vec<StepDocument>,
    /// How sure the tip is.
    pub points: Vec<PlannedPointDocument>,
    /// Residuals of readings already taken that hardly anything checks, now and afterwards.
    pub unchecked_before: usize,
    /// See `unchecked_before`.
    pub unchecked_after: usize,
    /// Readings that do not fit and were left out.
    pub suspects: usize,
    /// Unknowns of play of which the drawing says 0: what is found of them comes on top.
    pub play_unknown: Vec<String>,
    /// Rows that were laid out earlier and are not filled in yet.
    pub unfinished: usize,
    /// The files that were laid out.
    pub written: Vec<String>,
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StepDocument {
    /// The kind's file.
    pub file: String,
    /// What is given in its row.
    pub cells: BTreeMap<String, String>,
    /// What is expected to be read.
    pub expected: BTreeMap<String, String>,
    /// What to do.
    pub words: String,
    /// `sure`: makes the tip surer; `settle`: settles an unknown that no point needs; `check`: checks
    /// other readings.
    pub purpose: String,
    /// Largest u95 of the tip after it, mm.
    pub worst_u95_mm: f64,
    /// The point where that is.
    pub point: String,
}

/// One point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PlannedPointDocument {
    /// Its name.
    pub name: String,
    /// u95 of the tip now, mm; null where it cannot be reached.
    pub u95_before_mm: Option<f64>,
    /// After the plan.
    pub u95_after_mm: Option<f64>,
    /// What the play of the axes alone leaves, mm.
    pub floor_mm: Option<f64>,
    /// Why it cannot be reached.
    pub unreachable: Option<String>,
}

/// Gathers the document.
pub fn document(
    bench: &Bench,
    plan: &Plan,
    from: &str,
    suspects: usize,
    written: &[String],
) -> PlanDocument {
    PlanDocument {
        cell: bench.cell.name.clone(),
        from: from.to_owned(),
        goal_mm: plan.goal_mm,
        reached: plan.reached(),
        stopped: plan.ended.as_str().to_owned(),
        candidates: plan.candidates,
        steps: plan
            .steps
            .iter()
            .map(|s| StepDocument {
                file: format!("readings/{}", s.proposal.kind),
                cells: s.proposal.draft.given.iter().cloned().collect(),
                expected: s.proposal.draft.expected.iter().cloned().collect(),
                words: s.proposal.draft.words.clone(),
                purpose: s.purpose.as_str().to_owned(),
                worst_u95_mm: s.worst_mm,
                point: plan.points[s.point].name.clone(),
            })
            .collect(),
        points: plan
            .points
            .iter()
            .enumerate()
            .map(|(k, p)| {
                let aimed = plan.aimed.iter().find(|a| a.point == k);
                PlannedPointDocument {
                    name: p.name.clone(),
                    u95_before_mm: aimed.map(|a| a.before_mm),
                    u95_after_mm: aimed.map(|a| a.after_mm),
                    floor_mm: aimed.map(|a| a.floor_mm),
                    unreachable: p.unreachable.clone(),
                }
            })
            .collect(),
        unchecked_before: plan.unchecked[0],
        unchecked_after: plan.unchecked[1],
        suspects,
        play_unknown: play_unknown(bench, from),
        unfinished: bench.unfinished.len(),
        written: written.to_vec(),
    }
}

/// Lost motions that are solved for and 0 as drawn, where the plan is made from the drawing.
fn play_unknown(bench: &Bench, from: &str) -> Vec<String> {
    let nominal = &bench.cell.nominal;
    let solved = bench.cell.solve.iter().map(|u| u.name.as_str());
    solved
        .filter(|name| match *name {
            "track.lost_motion" => nominal.track.is_some_and(|t| t.lost_motion_mm == 0.0),
            "turntable.lost_motion" => nominal.turntable.is_some_and(|t| t.lost_motion_rad == 0.0),
            _ => false,
        })
        .filter(|_| from.contains("the drawing"))
        .map(str::to_owned)
        .collect()
}

/// The answer for people.
pub fn plan(plan: &Plan, document: &PlanDocument) -> String {
    let mut out = String::new();
    headline(&mut out, plan, document);
    if !document.play_unknown.is_empty() {
        let text = format!(
            "The play of the axes is not known yet ({} is 0 as drawn): half of what is found comes on top.",
            document.play_unknown.join(", ")
        );
        out.push_str(&wrap("  ", 2, &text));
    }
    let n = counted(plan.candidates, "reading");
    let from = format!("From {}; {n} could be taken.", document.from);
    out.push_str(&wrap("  ", 2, &from));
    if document.unfinished > 0 {
        let rows = counted(document.unfinished, "row");
        let text =
            format!("{rows} laid out earlier and not filled in yet (use = no) are not counted on.");
        out.push_str(&wrap("  ", 2, &text));
    }
    if !document.steps.is_empty() {
        out.push_str(
            "\nWhat to measure, the most useful first (the bench may take them in any order)\n",
        );
        let mut last = "sure";
        for (k, step) in document.steps.iter().enumerate() {
            if step.purpose != last {
                last = &step.purpose;
                out.push_str(match last {
                    "settle" => "  needed only because [solve] asks for it:\n",
                    "check" => "  and so that every reading is checked by others:\n",
                    _ => "  and to make the tip surer:\n",
                });
            }
            let first = format!("  {:>2}. ", k + 1);
            let after = match (step.purpose == "sure", step.worst_u95_mm > UNKNOWN_MM) {
                (false, _) => String::new(),
                (true, true) => " [the tip is not settled yet]".to_owned(),
                (true, false) => format!(
                    " [then {} mm at {}]",
                    uncertainty(step.worst_u95_mm),
                    step.point
                ),
            };
            out.push_str(&wrap(&first, 6, &format!("{}.{after}", step.words)));
        }
    }
    points(&mut out, document);
    out.push_str("\nNext\n");
    let goal = plan.goal_mm.unwrap_or(f64::INFINITY);
    let stuck = plan.aimed.iter().any(|p| p.floor_mm > goal);
    let next = if document.suspects > 0 {
        format!(
            "First clear the {} that do not fit (`notchpin register`); then plan again.",
            counted(document.suspects, "reading")
        )
    } else if plan.ended == Ended::NoPoint {
        "Write the points that matter into points.csv, or teach them (taught.csv); then plan again."
            .to_owned()
    } else if stuck {
        "No reading helps against play: take it out of the axes, or ask for less under [accept]. Readings \
         help only with the rest."
            .to_owned()
    } else if document.steps.is_empty() {
        "Nothing to measure for this goal.".to_owned()
    } else if document.written.is_empty() {
        "Take these readings; or run this again with --write, which lays out files ready to fill in."
            .to_owned()
    } else {
        format!(
            "Fill in the empty cells of {}; write yes under use in each row that is filled in. Then \
             register.",
            document.written.join(", ")
        )
    };
    out.push_str(&wrap("  ", 2, &next));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

fn headline(out: &mut String, plan: &Plan, document: &PlanDocument) {
    let worst = plan
        .aimed
        .iter()
        .max_by(|a, b| a.after_mm.total_cmp(&b.after_mm));
    let first = match (plan.ended, document.reached, plan.goal_mm) {
        (Ended::NoPoint, ..) => "NO POINT TO AIM AT".to_owned(),
        (_, true, Some(_)) if document.steps.is_empty() && document.suspects > 0 => {
            "CLEAR THE SUSPECTS FIRST".to_owned()
        }
        (_, true, Some(_)) if document.steps.is_empty() => "NOTHING IS MISSING".to_owned(),
        (_, true, _) => format!("{} TO TAKE", counted(document.steps.len(), "READING"))
            .replace("READINGs", "READINGS"),
        (_, false, _) => "NOT REACHED by any readings that can be taken".to_owned(),
    };
    let _ = writeln!(out, "{first}: {}", document.cell);
    let mut say = |text: String| out.push_str(&wrap("  ", 2, &text));
    let Some(worst) = worst else {
        say("There is no point in points.csv or taught.csv that the arm can reach: add those that matter."
            .to_owned());
        return;
    };
    let name = &plan.points[worst.point].name;
    let asked = match plan.goal_mm {
        Some(goal) => format!("asked for: {} mm", fixed(goal, 2)),
        None => {
            "nothing is asked for under [accept]; the plan ends where more buys little".to_owned()
        }
    };
    say(format!(
        "The tip would be within {} mm (95 %) at the worst of {} ({name}); {asked}.",
        uncertainty(worst.after_mm),
        counted(plan.aimed.len(), "point")
    ));
    match plan.ended {
        Ended::Little | Ended::NothingLeft => say(format!(
            "More readings buy little: the next best one would improve it by less than 2 %. What is \
             left at {name}: {} mm by the play of the axes alone, the rest by unknowns that such \
             readings tell little of.",
            uncertainty(worst.floor_mm)
        )),
        Ended::Most => say(format!(
            "It ends after {}, as many as allowed (--most).",
            counted(document.steps.len(), "reading")
        )),
        Ended::ReachedUnchecked => say(
            "Some of them would still be checked by little else: have the last ones taken twice, by two \
             people."
                .to_owned(),
        ),
        Ended::Reached if document.steps.is_empty() => {
            say("Every point is sure enough, and every reading is checked by others.".to_owned());
        }
        _ => {}
    }
    if document.unchecked_before > 0 {
        say(format!(
            "Of the readings taken so far {} hardly checked by others; afterwards {}.",
            match document.unchecked_before {
                1 => "1 value is".to_owned(),
                n => format!("{n} values are"),
            },
            document.unchecked_after
        ));
    }
}

fn points(out: &mut String, document: &PlanDocument) {
    if document.points.is_empty() {
        return;
    }
    out.push_str("\nPoints: u95 of the tip now -> afterwards (left by play alone)\n");
    let width = document
        .points
        .iter()
        .map(|p| p.name.len())
        .max()
        .unwrap_or(0)
        .max(8);
    for p in &document.points {
        match (p.u95_before_mm, p.u95_after_mm, p.floor_mm) {
            (Some(before), Some(after), Some(floor)) => {
                let over = document.goal_mm.is_some_and(|goal| after > goal);
                let _ = writeln!(
                    out,
                    "  {:<width$}  {:>7} -> {:>6} mm  ({}){}",
                    p.name,
                    coarse(before),
                    uncertainty(after),
                    fixed(floor, 2),
                    if over {
                        "  MORE than [accept] allows"
                    } else {
                        ""
                    }
                );
            }
            _ => {
                let first = format!("  {:<width$}  ", p.name);
                let why = p.unreachable.as_deref().unwrap_or("not reached");
                let indent = first.chars().count();
                out.push_str(&wrap(&first, indent, why));
            }
        }
    }
}

/// Before any reading a radius may be no more than a word.
fn coarse(u95_mm: f64) -> String {
    match u95_mm > UNKNOWN_MM {
        true => "unknown".to_owned(),
        false => uncertainty(u95_mm),
    }
}
