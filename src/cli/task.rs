//! `notchpin task`.

use crate::cell::Cell;
use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::asked::Asked;
use crate::cli::asked::asked;
use crate::cli::folder;
use crate::cli::force;
use crate::cli::force::Force;
use crate::cli::json;
use crate::cli::progress;
use crate::diagnose::Problems;
use crate::kinematics::MAX_JOINTS;
use crate::margins::Assessor;
use crate::reach;
use crate::reach::Solver;
use crate::report;
use crate::report::MarginsDocument;
use crate::report::task::Ground;
use crate::report::task::StepDocument;
use crate::report::task::TaskDocument;
use crate::tasks;
use crate::tasks::Fate;
use crate::tasks::Job;
use crate::tasks::Planned;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;

/// Track positions that are tried where none are asked for: at least so many.
const STATIONS: usize = 48;
/// Table angles that are tried where none are asked for, degrees apart.
const TABLE_DEG: f64 = 15.0;

pub fn run(args: &args::Task, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let name = name_of(&root, args.name.as_deref())?;
    let force = force::find(&args.force, &folder, console)?;
    let cell = &folder.bench.cell;
    let solver = Solver::new(cell, &force.geometry);
    let points = asked(&folder, &force, &solver, None)?;
    let jobs = jobs(&root, &name, cell, &solver, &points, console)?;
    let (tracks, tables) = readings(args, cell, &force, &jobs)?;
    let surroundings = Surroundings::new(cell, &force.geometry);
    let task = Task {
        cell,
        solver: &solver,
        surroundings: &surroundings,
        jobs: &jobs,
        tracks: &tracks,
        tables: &tables,
        prefer: match args.prefer {
            args::Prefer::Fewest => Prefer::Fewest,
            args::Prefer::Travel => Prefer::Travel,
        },
    };
    let bar = progress::bar(console, 100, "percent of the task looked at");
    let planned = task.plan(&mut |share| bar.set_position((100.0 * share) as u64));
    bar.finish_and_clear();
    let spread = force.spread();
    let assessor = Assessor {
        solver: &solver,
        cell,
        surroundings: &surroundings,
        sure: spread.zip(force.unknowns()),
    };
    let document = document(&name, &task, &planned, &assessor);
    let n = cell.joints.len();
    let text = match (args.json, args.csv) {
        (true, _) => json(&document)?,
        (_, true) => report::task::csv(&document, n),
        _ => {
            let verdict = force.verdict.as_deref();
            report::task::task(&document, n, &force.source, verdict, args.force.as_drawn)
        }
    };
    console.answer(&text)?;
    if args.csv || args.json {
        console
            .note("prove each new position slowly first, hands and tools out of the arm's reach");
    }
    Ok(match planned.is_good() {
        true => Status::Good,
        false => Status::Look,
    })
}

/// The task that is meant.
pub fn name_of(root: &std::path::Path, given: Option<&str>) -> Result<String, Failure> {
    let names = folder::tasks_of(root);
    let list = names.join(", ");
    match (given, names.as_slice()) {
        (Some(name), _) => {
            let name = name.strip_suffix(".csv").unwrap_or(name);
            let name = name.strip_prefix("tasks/").unwrap_or(name);
            if names.iter().any(|n| n == name) {
                return Ok(name.to_owned());
            }
            Err(Failure::Message(format!(
                "--name: found {name:?}, expected a task of this cell; {}",
                match names.is_empty() {
                    true => format!("write {}", root.join("tasks").join("NAME.csv").display()),
                    false => format!("there are: {list}"),
                }
            )))
        }
        (None, [one]) => Ok(one.clone()),
        (None, []) => Err(Failure::Message(format!(
            "this cell has no tasks: write {} with the columns point, approach_mm, depart_mm, along, \
             dwell_s, track, table (docs/files.md)",
            root.join("tasks").join("NAME.csv").display()
        ))),
        (None, _) => Err(Failure::Message(format!(
            "this cell has several tasks: name one with --name ({list})"
        ))),
    }
}

pub fn jobs(
    root: &std::path::Path,
    name: &str,
    cell: &Cell,
    solver: &Solver,
    points: &[Asked<'_>],
    console: &Console,
) -> Result<Vec<Job>, Failure> {
    let file = format!("tasks/{name}.csv");
    let mut problems = Problems::default();
    let Some(bytes) = folder::task(root, &file, &mut problems) else {
        return Err(problems.into());
    };
    let names: Vec<&str> = points.iter().map(|p| p.name).collect();
    let steps = tasks::read(&file, &bytes, cell, &names, &mut problems);
    if problems.has_errors() {
        return Err(problems.into());
    }
    console.warnings(&problems);
    if steps.is_empty() {
        return Err(Failure::Message(format!(
            "{file} has no steps: write one line for each point, in order"
        )));
    }
    let mut jobs = Vec::new();
    for step in steps {
        let Some(point) = points.iter().find(|p| p.name == step.point) else {
            continue;
        };
        let refuse = |why: String| {
            Failure::Message(format!(
                "{file}:{}: the point {} cannot be asked of this arm: {why}",
                step.line, step.point
            ))
        };
        let Some(wanted) = point.wanted else {
            return Err(refuse("its readings do not give a place".to_owned()));
        };
        if let Some(refusal) = solver.refusal(&wanted)
            && !solver.needs_pairs(&wanted)
        {
            return Err(refuse(refusal.to_string()));
        }
        jobs.push(Job { step, wanted });
    }
    Ok(jobs)
}

fn readings(
    args: &args::Task,
    cell: &Cell,
    force: &Force,
    jobs: &[Job],
) -> Result<(Vec<f64>, Vec<f64>), Failure> {
    let list = |option: &str, text: Option<&str>| {
        let parsed = text.map(reach::parse_grid).transpose();
        parsed.map_err(|why| Failure::Message(format!("{option}: {why}")))
    };
    let track = list("--track", args.track.as_deref())?;
    let table = list("--table", args.table.as_deref())?;
    let refuse = |axis: &str| {
        Err(Failure::Message(format!(
            "this cell has no {axis}: leave that option out"
        )))
    };
    if track.is_some() && cell.track.is_none() {
        return refuse("track");
    }
    if table.is_some() && cell.turntable.is_none() {
        return refuse("turntable");
    }
    let held = jobs.iter().all(|j| j.step.track != tasks::Held::Free);
    let stations = match (track, held) {
        (Some(track), _) => track,
        // Every step says where the track stands: others are only for what would help.
        (None, true) => reach::track_nodes(cell, &force.geometry, STATIONS).unwrap_or_default(),
        (None, false) => reach::track_nodes(cell, &force.geometry, STATIONS)
            .map_err(|refusal| Failure::Message(refusal.to_string()))?,
    };
    let tables = match (table, &cell.turntable) {
        (Some(table), _) => table,
        (None, None) => Vec::new(),
        (None, Some(turntable)) => {
            let mut all = reach::table_nodes(cell, &force.geometry, TABLE_DEG);
            // Without end, the last one is the first one again.
            if turntable.travel_rad.is_none() {
                all.pop();
            }
            all
        }
    };
    Ok((stations, tables))
}

fn document(name: &str, task: &Task, planned: &Planned, assessor: &Assessor) -> TaskDocument {
    let ground = Ground {
        cell: task.cell,
        solver: task.solver,
        surroundings: task.surroundings,
    };
    let steps: Vec<StepDocument> = planned
        .fates
        .iter()
        .zip(task.jobs)
        .enumerate()
        .map(|(i, (fate, job))| {
            let frame = job.wanted.frame.as_str();
            match fate {
                Fate::Done(state) => {
                    let margins = margins(assessor, job, state);
                    ground.done(i + 1, &job.step, frame, state, margins)
                }
                Fate::Impossible(why, advice) => {
                    ground.impossible(i + 1, &job.step, frame, why, advice)
                }
            }
        })
        .collect();
    let track = |step: usize| steps.get(step).and_then(|s: &StepDocument| s.track);
    let ways = planned
        .ways
        .iter()
        .map(|w| {
            let moved = track(w.to).zip(track(w.from)).map_or(0.0, |(b, a)| b - a);
            ground.way(w, moved)
        })
        .collect();
    let places: Vec<f64> = steps.iter().filter_map(|s| s.track).collect();
    TaskDocument {
        task: name.to_owned(),
        verdict: if planned.is_good() { "good" } else { "look" },
        prefer: match task.prefer {
            Prefer::Fewest => "fewest",
            Prefer::Travel => "travel",
        },
        stations: planned.stations.clone(),
        stations_at_least: planned.at_least,
        stations_tried: planned.tried,
        track_travel: places.windows(2).map(|w| (w[1] - w[0]).abs()).sum(),
        table_without_end: task
            .cell
            .turntable
            .as_ref()
            .is_some_and(|t| t.travel_rad.is_none()),
        clearance_needed_mm: match task.surroundings.is_empty() {
            true => None,
            false => Some(task.cell.accept.clearance_mm),
        },
        steps,
        ways,
    }
}

fn margins(assessor: &Assessor, job: &Job, state: &State) -> MarginsDocument {
    let n = assessor.cell.joints.len().min(MAX_JOINTS);
    let margins = assessor.margins(
        &job.wanted,
        state.at.travel_mm,
        state.at.turn_rad,
        &state.at.joints_rad[..n],
    );
    MarginsDocument::new(assessor.cell, assessor.surroundings, &margins)
}
