//! `notchpin reach`.

use std::time::Duration;
use std::time::Instant;

use crate::cell::Cell;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::asked::Asked;
use crate::cli::asked::asked;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::force::Force;
use crate::cli::json;
use crate::reach;
use crate::reach::Solver;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::reach::IntervalsDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::SolutionDocument;
use crate::report::reach::StationDocument;

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
    let mut document = ReachDocument { points: Vec::new() };
    let begin = Instant::now();
    for (done, point) in asked.iter().enumerate() {
        if done > 0 && begin.elapsed() > Duration::from_secs(1) {
            console.note(&format!(
                "{done} of {} points done, next: {}",
                asked.len(),
                point.name
            ));
        }
        let answer = answer(
            point,
            &folder,
            &force,
            &solver,
            track.as_deref(),
            table.as_deref(),
        )?;
        document.points.push(answer);
    }
    let text = match args.json {
        true => json(&document)?,
        false => report::reach::reach(cell, &document, &force.source, force.verdict.as_deref()),
    };
    console.answer(&text)?;
    let all = document.points.iter().all(|p| p.reachable);
    Ok(if all { Status::Good } else { Status::Look })
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

fn answer(
    point: &Asked<'_>,
    folder: &Folder,
    force: &Force,
    solver: &Solver<'_>,
    track: Option<&[f64]>,
    table: Option<&[f64]>,
) -> Result<PointDocument, Failure> {
    let cell = &folder.bench.cell;
    let mut document = PointDocument {
        name: point.name.to_owned(),
        frame: point.frame.as_str().to_owned(),
        taught: point.taught.is_some(),
        posture: point.taught.map(|t| t.joints[..cell.joints.len()].to_vec()),
        reachable: false,
        refused: None,
        stations: Vec::new(),
        track_intervals: Vec::new(),
    };
    let Some(wanted) = &point.wanted else {
        document.refused = Some("its readings do not give a place".to_owned());
        return Ok(document);
    };
    if let Some(refusal) = solver.refusal(wanted) {
        document.refused = Some(refusal.to_string());
        return Ok(document);
    }
    let grid = reach::grid(cell, &force.geometry, point.frame, track, table)
        .map_err(|refusal| Failure::Message(refusal.to_string()))?;
    let found = reach::reach_point(solver, wanted, &grid.track, &grid.table)
        .map_err(|refusal| Failure::Message(refusal.to_string()))?;
    document.reachable = found.reachable();
    document.track_intervals = found
        .intervals
        .iter()
        .map(|i| IntervalsDocument {
            table: i.table,
            intervals: i.intervals.clone(),
        })
        .collect();
    let spread = force.spread();
    for station in &found.stations {
        let solutions = station.solutions.iter().map(|solution| {
            let mut stand = Stand {
                track: station.track.unwrap_or(0.0),
                table: station.table.unwrap_or(0.0),
                ..Stand::default()
            };
            stand.joints[..solution.readings.len()].copy_from_slice(&solution.readings);
            let u95 = spread.as_ref().map(|s| s.at(&stand, point.frame).u95_mm);
            let back = spread.as_ref().zip(point.taught);
            SolutionDocument {
                joints: solution.readings.clone(),
                limit_margin_deg: solution.limit_margin_rad.to_degrees(),
                side_lean_deg: solution.side_lean_rad.to_degrees(),
                u95_mm: u95,
                return_u95_mm: back
                    .map(|(s, taught)| s.returning(taught, &stand, point.frame).u95_mm),
            }
        });
        document.stations.push(StationDocument {
            track: station.track,
            table: station.table,
            solutions: solutions.collect(),
        });
    }
    Ok(document)
}
