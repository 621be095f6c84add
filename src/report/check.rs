//! `check`: what is there and what looks wrong, before anything is solved.

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Belongs;
use crate::diagnose::Problems;
use crate::fit::quick::QuickLook;
use crate::fit::quick::Worst;
use crate::parameters::Unknowns;
use crate::reach::Solver;
use crate::readings;
use crate::registration::Bench;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::counted;
use crate::report::words::wrap;
use crate::table::common::Use;

/// What is left between tips and targets beyond what a drawing usually is off (*common practice*:
/// a bench is set up to a few millimetres), mm.
const FAR_MM: f64 = 20.0;

/// `check --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckDocument {
    /// Name of the cell.
    pub cell: String,
    /// Readings of each file.
    pub files: Vec<FileDocument>,
    /// Unknowns.
    pub unknowns: usize,
    /// Residuals of the readings and tolerances.
    pub residuals: usize,
    /// Points of points.csv.
    pub points: usize,
    /// Points of taught.csv.
    pub taught: usize,
    /// Tasks, and how many steps each has.
    pub tasks: Vec<TaskRow>,
    /// Capsules that the arm is made of.
    pub bodies: usize,
    /// Things that it must stay clear of.
    pub keep_outs: usize,
    /// What looks wrong, a sentence each.
    pub look: Vec<String>,
}

/// One task.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TaskRow {
    /// Its name: of its file, without folder and ending.
    pub name: String,
    /// Its steps.
    pub steps: usize,
}

/// One file of readings.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FileDocument {
    /// Its name.
    pub file: String,
    /// Rows that take part.
    pub used: usize,
    /// Rows with `use = check`: kept out of the solution, tested against it.
    pub checks: usize,
    /// Rows with `use = no`.
    pub left_out: usize,
    /// Rows with `use = no` that are not filled in yet.
    pub unfinished: usize,
    /// Rows whose missing approach widens their uncertainty.
    pub widened: usize,
}

/// Gathers the document.
pub fn document(
    bench: &Bench,
    unknowns: &Unknowns,
    problems: &Problems,
    quick: &QuickLook,
    tasks: Vec<TaskRow>,
    overlaps: Vec<String>,
) -> CheckDocument {
    let of = |file: &str| {
        let rows = || bench.taken.iter().filter(|t| &*t.file == file);
        let unfinished = bench.unfinished.iter().filter(|u| &*u.file == file);
        FileDocument {
            file: file.to_owned(),
            used: rows().filter(|t| t.used()).count(),
            checks: rows().filter(|t| t.role == Use::Check).count(),
            left_out: rows().filter(|t| t.role == Use::No).count(),
            unfinished: unfinished.count(),
            widened: rows().filter(|t| t.used() && t.widened).count(),
        }
    };
    let used = bench.taken.iter().filter(|t| t.used());
    let tolerances = unknowns.list.iter().filter(|(_, t)| t.is_some()).count();
    let residuals = used.map(|t| t.reading.components()).sum::<usize>() + tolerances;
    CheckDocument {
        cell: bench.cell.name.clone(),
        files: names_of_files(bench).iter().map(|file| of(file)).collect(),
        unknowns: unknowns.len(),
        residuals,
        points: bench.points.len(),
        taught: bench.taught.len(),
        tasks,
        bodies: bench.cell.bodies.len(),
        keep_outs: bench.cell.keep_outs.len(),
        look: looks(bench, unknowns, problems, quick, residuals)
            .into_iter()
            .chain(overlaps)
            .collect(),
    }
}

/// Each kind's own file, read or not, and the others that were read.
fn names_of_files(bench: &Bench) -> Vec<String> {
    let mut names = Vec::new();
    for kind in readings::FILES {
        let own = format!("readings/{kind}");
        let more = bench.sources.iter().filter(|s| s.kind == *kind);
        let more: Vec<String> = more.map(|s| s.name.to_string()).collect();
        names.extend((!more.contains(&own)).then_some(own));
        names.extend(more);
    }
    names
}

fn looks(
    bench: &Bench,
    unknowns: &Unknowns,
    problems: &Problems,
    quick: &QuickLook,
    residuals: usize,
) -> Vec<String> {
    let mut found = Vec::new();
    for problem in problems.iter() {
        let place = problem
            .line
            .map(|l| format!(" line {l}"))
            .unwrap_or_default();
        found.push(format!(
            "{}{place}: found {}, expected {}; {}.",
            problem.file, problem.found, problem.expected, problem.advice
        ));
    }
    if bench.taken.iter().all(|t| !t.used()) {
        found.push("There are no readings yet: fill in the files of the folder readings.".into());
    } else if residuals < unknowns.len() {
        found.push(format!(
            "{residuals} residuals cannot settle {} unknowns: take more readings, or solve for less.",
            unknowns.len()
        ));
    } else if residuals == unknowns.len() && !unknowns.is_empty() {
        found.push("As many unknowns as residuals: no slip would be noticed.".into());
    }
    if let Some(arm) = quick.arm.as_ref().filter(|a| a.rms_mm > FAR_MM) {
        found.push(format!(
            "The arm as drawn misses its targets by {} mm even when turned and shifted as a whole: \
             look for a wrong target, a joint reading with the wrong sign, or two swapped.",
            fixed(arm.rms_mm, 0)
        ));
    }
    for p in bench
        .points
        .iter()
        .filter(|p| p.frame == Belongs::Plate && p.at_mm.z < 0.0)
    {
        found.push(format!(
            "points.csv line {}: {} lies {} mm below the top of the plate.",
            p.line,
            p.name,
            fixed(-p.at_mm.z, 1)
        ));
    }
    let mut wrong = |device: &str, worst: &Option<Worst>, degrees: bool| {
        let Some(w) = worst.as_ref().filter(|w| w.looks_wrong()) else {
            return;
        };
        let (size, unit) = match degrees {
            true => (w.residual.to_degrees(), "deg"),
            false => (w.residual, "mm"),
        };
        found.push(format!(
            "{} line {} does not fit the other readings of the {device}: about {} {unit} \
             off. It may be this one, or another that pulls the rest along.",
            w.file,
            w.line,
            fixed(size, decimals_for(size.abs() / 10.0))
        ));
    };
    if let Some(track) = &quick.track {
        wrong("track", &track.worst, false);
    }
    if let Some(index) = &quick.index {
        wrong("turntable", &index.worst, true);
    }
    found
}

/// The answer for people.
pub fn check(bench: &Bench, document: &CheckDocument, quick: &QuickLook) -> String {
    let cell = &bench.cell;
    let used: usize = document.files.iter().map(|f| f.used).sum();
    let mut out = match document.look.len() {
        0 => format!("NOTHING LOOKS WRONG: {}\n", cell.name),
        1 => format!("LOOK at one thing: {}\n", cell.name),
        n => format!("LOOK at {n} things: {}\n", cell.name),
    };
    out.push_str(&wrap(
        "  ",
        2,
        &format!(
            "{} ({} residuals with tolerances), {}, {} given and {} taught. Nothing was solved.",
            counted(used, "reading"),
            document.residuals,
            counted(document.unknowns, "unknown"),
            counted(document.points, "point"),
            document.taught
        ),
    ));
    for look in &document.look {
        out.push_str(&wrap("  - ", 4, look));
    }
    out.push_str("\nThe cell\n");
    let grid = &cell.plate;
    let pitch = match grid.pitch_x_mm == grid.pitch_y_mm {
        true => format!("pitch {} mm", grid.pitch_x_mm),
        false => format!(
            "pitch {} mm along x, {} mm along y",
            grid.pitch_x_mm, grid.pitch_y_mm
        ),
    };
    let _ = writeln!(
        out,
        "  plate      {} x {} holes, {pitch}",
        grid.columns, grid.rows
    );
    if let Some(track) = &cell.track {
        let travel = track.travel_mm.map_or("travel not given".to_owned(), |t| {
            format!("travel {} to {} mm", fixed(t.low, 1), fixed(t.high, 1))
        });
        let _ = writeln!(
            out,
            "  track      {travel}, {}",
            counted(cell.features.len(), "feature")
        );
    }
    let solved = Solver::new(cell, &cell.nominal).method_words();
    let arm = format!("{} joints; {solved}", cell.joints.len());
    out.push_str(&wrap("  arm        ", 13, &arm));
    if let Some(table) = &cell.turntable {
        let turns = match table.travel_rad {
            None => "turns without end".to_owned(),
            Some(t) => format!(
                "turns {} to {} deg",
                fixed(t.low.to_degrees(), 1),
                fixed(t.high.to_degrees(), 1)
            ),
        };
        let notches = counted(table.notches_rad.len(), "notch").replace("notchs", "notches");
        let _ = writeln!(out, "  turntable  {notches}, {turns}");
    }
    if document.bodies + document.keep_outs > 0 {
        let bodies = counted(document.bodies, "capsule");
        let things = counted(document.keep_outs, "keep-out");
        let _ = writeln!(out, "  clearance  the arm as {bodies}, {things}");
    }
    if !document.tasks.is_empty() {
        let named = |t: &TaskRow| format!("{} ({})", t.name, counted(t.steps, "step"));
        let tasks: Vec<String> = document.tasks.iter().map(named).collect();
        out.push_str(&wrap("  tasks      ", 13, &tasks.join(", ")));
    }
    out.push_str("\nReadings\n");
    for f in &document.files {
        if f.used + f.checks + f.left_out + f.unfinished == 0 {
            let _ = writeln!(out, "  {:<24}  none: missing or empty", f.file);
            continue;
        }
        let mut line = format!("  {:<24} {:>5} used", f.file, f.used);
        if f.checks > 0 {
            let _ = write!(line, ", {} to check the result (use = check)", f.checks);
        }
        if f.unfinished > 0 {
            let _ = write!(line, ", {} not filled in yet (use = no)", f.unfinished);
        }
        if f.left_out > 0 {
            let _ = write!(line, ", {} left out (use = no)", f.left_out);
        }
        if f.widened > 0 {
            let _ = write!(
                line,
                ", {} without approach: less sure by half the play",
                f.widened
            );
        }
        let _ = writeln!(out, "{line}");
    }
    look_at_devices(&mut out, quick);
    out.push_str("\nNext\n");
    let next = match document.look.is_empty() {
        true => "Register: notchpin register, with this folder.",
        false => "Look at the things above; then register: notchpin register, with this folder.",
    };
    out.push_str(&wrap("  ", 2, next));
    out
}

/// What each device's own readings say, in a line each.
fn look_at_devices(out: &mut String, quick: &QuickLook) {
    if *quick == QuickLook::default() {
        return;
    }
    out.push_str("\nEach device by itself (rough; the arm as drawn)\n");
    if let Some(t) = &quick.track {
        let mut parts = Vec::new();
        for (axis, origin) in ["x", "y"].iter().zip(t.origin_mm) {
            if let Some(o) = origin {
                parts.push(format!("{axis} {} mm", fixed(o, 1)));
            }
        }
        let mut text = format!("reading 0 stands at {}", parts.join(", "));
        if let Some(yaw) = t.yaw_rad {
            let _ = write!(text, "; direction {} deg", fixed(yaw.to_degrees(), 2));
        }
        if let Some(scale) = t.scale_mm {
            let _ = write!(text, "; {} mm per unit", fixed(scale, 4));
        }
        if let Some(play) = t.lost_motion_mm {
            let _ = write!(text, "; play {} mm", fixed(play, 1));
        }
        out.push_str(&wrap("  track      ", 13, &text));
    }
    if let Some(i) = &quick.index {
        let mut text = format!(
            "index {} deg, switch as drawn",
            fixed(i.index_rad.to_degrees(), 2)
        );
        if let Some(play) = i.lost_motion_rad {
            let _ = write!(text, "; play {} deg", fixed(play.to_degrees(), 2));
        }
        out.push_str(&wrap("  turntable  ", 13, &text));
    }
    for c in &quick.centres {
        let lean = c.lean_rad.map_or(String::new(), |l| {
            format!(", axis leaning {} deg", fixed(l.to_degrees(), 1))
        });
        let text = format!(
            "turns about x {}, y {} mm{lean}; {} is {} mm off its axis ({})",
            fixed(c.centre_mm.x, 1),
            fixed(c.centre_mm.y, 1),
            c.mark,
            fixed(c.radius_mm, 1),
            counted(c.touches, "touch").replace("touchs", "touches")
        );
        out.push_str(&wrap("  turntable  ", 13, &text));
    }
    if let Some(a) = &quick.arm {
        let text = format!(
            "to meet its {} targets the drawing has to be turned by {} deg and shifted by x {}, \
             y {}, z {} mm; {} mm are left",
            a.touches,
            fixed(a.yaw_rad.to_degrees(), 2),
            fixed(a.shift_mm.x, 1),
            fixed(a.shift_mm.y, 1),
            fixed(a.shift_mm.z, 1),
            fixed(a.rms_mm, 1)
        );
        out.push_str(&wrap("  arm        ", 13, &text));
    }
}
