//! `notchpin reach`.

use std::time::Duration;
use std::time::Instant;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::force::Force;
use crate::cli::json;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::joint_value_rad;
use crate::reach;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::readings::stand::Stand;
use crate::report;
use crate::report::reach::IntervalsDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::SolutionDocument;
use crate::report::reach::StationDocument;
use crate::units::Reading;

/// A point of either file.
struct Asked<'a> {
    name: &'a str,
    frame: Belongs,
    /// Its coordinates, or what could be made of its readings.
    wanted: Option<Wanted>,
    /// How the machine stood when it was taught.
    taught: Option<&'a Stand>,
}

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

/// The points that were asked for: all of both files, or those of one name.
fn asked<'a>(
    folder: &'a Folder,
    force: &Force,
    solver: &Solver<'_>,
    name: Option<&str>,
) -> Result<Vec<Asked<'a>>, Failure> {
    let bench = &folder.bench;
    let mut all: Vec<Asked<'a>> = Vec::new();
    for p in &bench.points {
        all.push(Asked {
            name: &p.name,
            frame: p.frame,
            wanted: Some(Wanted {
                frame: p.frame,
                at_mm: p.at_mm,
                elevation_rad: p.elevation_rad,
                azimuth_rad: p.azimuth_rad,
                roll_rad: p.roll_rad,
            }),
            taught: None,
        });
    }
    for p in &bench.taught {
        let geometry = &force.geometry;
        let mut values_rad = [0.0; MAX_JOINTS];
        for ((value, joint), reading) in values_rad
            .iter_mut()
            .zip(&geometry.joints)
            .zip(&p.stand.joints)
        {
            *value = joint_value_rad(joint, Reading(*reading));
        }
        let travel_mm = p.stand.travel_mm(geometry);
        let turn_rad = p.stand.turn_rad(geometry);
        let n = geometry.joints.len();
        all.push(Asked {
            name: &p.name,
            frame: p.frame,
            wanted: solver.wanted_at(p.frame, travel_mm, turn_rad, &values_rad[..n]),
            taught: Some(&p.stand),
        });
    }
    let Some(name) = name else {
        if all.is_empty() {
            return Err(message(
                "this cell has no points: write points.csv (name, frame, x_mm, y_mm, z_mm, \
                 elevation_deg, azimuth_deg, roll_deg) or taught.csv (name, frame, track, table, \
                 j1 …)",
            ));
        }
        return Ok(all);
    };
    let names: Vec<&str> = all.iter().map(|p| p.name).collect();
    if !names.contains(&name) {
        let advice = match crate::diagnose::nearest(name, names) {
            Some(near) => format!("write {near}, if that is meant"),
            None => "see points.csv and taught.csv for the names".to_owned(),
        };
        return Err(Failure::Message(format!(
            "--point: found {name:?}, expected the name of a point of this cell; {advice}"
        )));
    }
    all.retain(|p| p.name == name);
    Ok(all)
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
