//! `notchpin task`.

use crate::answers;
use crate::answers::target::Asked;
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
use crate::cli::progress;
use crate::diagnose::Problems;
use crate::kinematics::MAX_JOINTS;
use crate::margins::Assessor;
use crate::margins::to_limit;
use crate::reach;
use crate::reach::Solver;
use crate::report;
use crate::report::MarginsDocument;
use crate::report::task::Ground;
use crate::report::task::PlaceWorth;
use crate::report::task::StepDocument;
use crate::report::task::TaskDocument;
use crate::report::task::Worth;
use crate::tasks;
use crate::tasks::Fate;
use crate::tasks::Job;
use crate::tasks::Part;
use crate::tasks::Planned;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;

pub fn run(args: &args::Task, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let name = name_of(&root, args.name.as_deref(), "--name")?;
    let force = force::find(&args.force, &folder, console)?;
    let cell = &folder.bench.cell;
    let solver = Solver::new(cell, &force.geometry);
    let points = asked(&folder, &force, &solver, None)?;
    let jobs = jobs(&root, &name, cell, &solver, &points, console)?;
    let (tracks, tables) = readings(args, cell, &solver, &jobs)?;
    let surroundings = Surroundings::new(cell, &force.geometry);
    force::tell_overlaps(&surroundings, cell.accept.clearance_mm, console);
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
    Ok(match document.verdict == "good" {
        true => Status::Good,
        false => Status::Look,
    })
}

/// The task that is meant.
pub fn name_of(
    root: &std::path::Path,
    given: Option<&str>,
    option: &str,
) -> Result<String, Failure> {
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
                "{option}: found {name:?}, expected a task of this cell; {}",
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
        problems.push(folder::at_line(
            &file,
            None,
            None,
            "no steps".to_owned(),
            "a header and one line for each step",
            "write point, approach_mm, depart_mm, along, dwell_s, track, table; then one line for each \
             point, in order",
        ));
        return Err(problems.into());
    }
    answers::task::jobs(steps, points, solver).map_err(|unasked| {
        problems.push(folder::at_line(
            &file,
            Some(unasked.line),
            Some("point"),
            format!(
                "{}, which cannot be asked of this arm: {}",
                unasked.point, unasked.why
            ),
            "a point that this arm can be asked for",
            "change the point in points.csv, or take the step out",
        ));
        problems.into()
    })
}

fn readings(
    args: &args::Task,
    cell: &Cell,
    solver: &Solver,
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
    answers::task::stations(solver, cell, jobs, (track, table)).map_err(Failure::Message)
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
                    let worth = worth(assessor, job, state);
                    ground.done(i + 1, &job.step, frame, state, &worth)
                }
                Fate::Impossible(why, advice) => {
                    ground.impossible(i + 1, &job.step, frame, why, advice)
                }
            }
        })
        .collect();
    let track = |step: usize| steps.get(step).and_then(|s: &StepDocument| s.track);
    let table = |step: usize| steps.get(step).and_then(|s: &StepDocument| s.table);
    let ways = planned
        .ways
        .iter()
        .map(|w| {
            let moved = track(w.to).zip(track(w.from)).map_or(0.0, |(b, a)| b - a);
            let turned = table(w.to).zip(table(w.from)).map_or(0.0, |(b, a)| b - a);
            ground.way(w, moved, turned)
        })
        .collect();
    let places: Vec<f64> = steps.iter().filter_map(|s| s.track).collect();
    TaskDocument {
        task: name.to_owned(),
        verdict: match planned.is_good() && planned.scant(task.cell).is_empty() {
            true => "good",
            false => "look",
        },
        prefer: match task.prefer {
            Prefer::Fewest => "fewest",
            Prefer::Travel => "travel",
        },
        stations: planned.stations.clone(),
        stations_at_least: planned.at_least,
        stations_tried: planned.tried,
        track_travel: places
            .windows(2)
            .map(|w| (w[1] - w[0]).abs())
            .fold(0.0, |a, b| a + b),
        margin_needed_deg: task.cell.accept.margin_rad.to_degrees(),
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

/// What a step's posture is worth at the point and at the places before and after it.
fn worth(assessor: &Assessor, job: &Job, state: &State) -> Worth {
    let n = assessor.cell.joints.len().min(MAX_JOINTS);
    let mut margins = assessor.margins(
        &job.wanted,
        state.at.travel_mm,
        state.at.turn_rad,
        &state.at.joints_rad[..n],
    );
    let mut places = Vec::new();
    for (part, place) in [
        (Part::Approach, state.approach.as_ref()),
        (Part::At, Some(&state.at)),
        (Part::Depart, state.depart.as_ref()),
    ] {
        let Some(place) = place else { continue };
        if part != Part::At {
            let chance = assessor.chance_there(&job.wanted, place);
            margins.chance = match (margins.chance, chance) {
                (Some(a), Some(b)) if b.at_most > a.at_most => Some(b),
                (a, b) => a.or(b),
            };
        }
        places.push(PlaceWorth {
            part,
            limit: to_limit(assessor.cell, &place.joints_rad[..n]),
            u95_mm: assessor.u95_mm(place, job.wanted.frame),
        });
    }
    Worth {
        margins: MarginsDocument::new(assessor.cell, assessor.surroundings, &margins),
        places,
    }
}
