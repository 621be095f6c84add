//! `notchpin reach`.

use crate::answers::force::Force;
use crate::answers::map::Subject;
use crate::answers::reach::answer;
use crate::cell::Cell;
use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::asked::asked;
use crate::cli::folder;
use crate::cli::force;
use crate::cli::json;
use crate::cli::map;
use crate::cli::progress;
use crate::cli::task;
use crate::margins::Assessor;
use crate::reach;
use crate::reach::Solver;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::reach::ReachDocument;

pub fn run(args: &args::Reach, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let cell = &folder.bench.cell;
    let track = values("--track", args.track.as_deref())?;
    let table = values("--table", args.table.as_deref())?;
    if track.is_some() && cell.track.is_none() {
        return Err(message("this cell has no track: leave --track out"));
    }
    if table.is_some() && cell.turntable.is_none() {
        return Err(message("this cell has no turntable: leave --table out"));
    }
    let force = force::find(&args.force, &folder, console)?;
    outside(cell, &force, track.as_deref(), table.as_deref(), console);
    let solver = Solver::new(cell, &force.geometry);
    let asked = asked(&folder, &force, &solver, args.point.as_deref())?;
    if let Some(stem) = &args.map {
        let jobs;
        let name;
        let subject = match (&args.task, asked.as_slice()) {
            (Some(task), _) => {
                name = task::name_of(&root, Some(task), "--task")?;
                jobs = task::jobs(&root, &name, cell, &solver, &asked, console)?;
                Subject::Task(&name, &jobs)
            }
            (None, [one]) => Subject::Point(one),
            (None, _) => return Err(message("--map needs --point NAME or --task NAME")),
        };
        return map::run(
            args,
            stem,
            &subject,
            (cell, &force, &solver),
            (track, table),
            console,
        );
    }
    let surroundings = Surroundings::new(cell, &force.geometry);
    force::tell_overlaps(&surroundings, cell.accept.clearance_mm, console);
    let assessor = Assessor {
        solver: &solver,
        cell,
        surroundings: &surroundings,
        sure: force.spread().zip(force.unknowns()),
    };
    let mut document = ReachDocument { points: Vec::new() };
    let bar = progress::bar(
        console,
        100 * asked.len() as u64,
        "percent of the points looked at",
    );
    for (done, point) in asked.iter().enumerate() {
        let tell = |share: f64| bar.set_position((100.0 * (done as f64 + share)) as u64);
        let answer = answer(
            point,
            &assessor,
            &force,
            (track.as_deref(), table.as_deref()),
            &tell,
        )
        .map_err(Failure::Message)?;
        document.points.push(answer);
    }
    bar.finish_and_clear();
    let text = match args.json {
        true => json(&document)?,
        false => {
            let verdict = force.verdict.as_deref();
            force.headed(report::reach::reach(
                cell,
                &document,
                &force.source,
                verdict,
            ))
        }
    };
    console.answer(&text)?;
    let all = document.points.iter().all(|p| p.reachable);
    Ok(if all && force.doubt.is_none() {
        Status::Good
    } else {
        Status::Look
    })
}

/// Says which of the stations asked for lie outside the travel: they are not listed.
fn outside(
    cell: &Cell,
    force: &Force,
    track: Option<&[f64]>,
    table: Option<&[f64]>,
    console: &Console,
) {
    let at = |track: f64, table: f64| Stand {
        track,
        table,
        ..Stand::default()
    };
    let travel = cell.track.and_then(|t| t.travel_mm);
    let turn = cell.turntable.as_ref().and_then(|t| t.travel_rad);
    let off_track = |r: &&f64| {
        travel.is_some_and(|limits| !limits.holds(at(**r, 0.0).travel_mm(&force.geometry)))
    };
    let off_table =
        |r: &&f64| turn.is_some_and(|limits| !limits.holds(at(0.0, **r).turn_rad(&force.geometry)));
    for (axis, n) in [
        (
            "track",
            track.map_or(0, |t| t.iter().filter(off_track).count()),
        ),
        (
            "table",
            table.map_or(0, |t| t.iter().filter(off_table).count()),
        ),
    ] {
        if n > 0 {
            console.note(&format!(
                "look: {n} of the {axis} readings asked for lie outside its travel and are left out"
            ));
        }
    }
}

fn message(text: &str) -> Failure {
    Failure::Message(text.to_owned())
}

fn values(option: &str, text: Option<&str>) -> Result<Option<Vec<f64>>, Failure> {
    let parsed = text.map(reach::parse_grid).transpose();
    parsed.map_err(|why| Failure::Message(format!("{option}: {why}")))
}
