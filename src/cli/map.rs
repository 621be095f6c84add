//! `notchpin reach --map`: the best margin over a raster, as CSV and as a picture.

use std::fs;
use std::io::Write;
use std::path::Path;
use std::path::PathBuf;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::KeepOut;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::asked::Asked;
use crate::cli::force::Force;
use crate::cli::json;
use crate::cli::progress;
use crate::reach;
use crate::reach::Solver;
use crate::report;
use crate::report::map::MapDocument;
use crate::tasks::Job;
use crate::tasks::Mapper;
use crate::tasks::Rows;

/// Track positions and rows of a map where none are asked for; fewer where each costs a search.
const TRACKS: [usize; 2] = [120, 36];
const TABLE_DEG: [f64; 2] = [5.0, 15.0];
const ELEVATION_DEG: [f64; 2] = [2.5, 10.0];

/// What is mapped.
pub enum Subject<'a> {
    Point(&'a Asked<'a>),
    Task(&'a str, &'a [Job]),
}

pub fn run(
    args: &args::Reach,
    stem: &Path,
    subject: &Subject<'_>,
    (cell, force, solver): (&Cell, &Force, &Solver<'_>),
    (track, table): (Option<Vec<f64>>, Option<Vec<f64>>),
    console: &Console,
) -> Done {
    let slow = usize::from(!solver.is_closed_form());
    let tracks = match track {
        Some(track) => track,
        None => reach::track_nodes(cell, &force.geometry, TRACKS[slow])
            .map_err(|refusal| Failure::Message(refusal.to_string()))?,
    };
    let asked = table.clone();
    let (rows, fixed) = rows(args, subject, cell, force, table, slow)?;
    let files = [with(stem, "csv"), with(stem, "svg")];
    for file in &files {
        if file.exists() {
            return Err(Failure::Message(format!(
                "{} is there already and is not overwritten; give --map another name",
                file.display()
            )));
        }
    }
    let turns = |k: &KeepOut| k.frame == Belongs::Platter;
    let clear_tables = match (cell.keep_outs.iter().any(turns) && fixed.is_none(), asked) {
        (true, Some(asked)) => asked,
        (true, None) => reach::table_nodes(cell, &force.geometry, TABLE_DEG[1]),
        (false, _) => Vec::new(),
    };
    let mapper = Mapper {
        clear_tables: &clear_tables,
        cell,
        solver,
        tracks: &tracks,
        rows: &rows,
        table: fixed,
    };
    let bar = progress::bar(console, rows.count() as u64, "rows of the map");
    let tell = |done: usize| bar.set_position(done as u64);
    let (name, nodes) = match subject {
        Subject::Point(point) => {
            let Some(wanted) = &point.wanted else {
                return Err(message("the readings of this point do not give a place"));
            };
            if solver.needs_pairs(wanted) {
                return Err(at_pairs(&[point.name]));
            }
            if let Some(refusal) = solver.refusal(wanted) {
                return Err(Failure::Message(refusal.to_string()));
            }
            (point.name, mapper.point(wanted, &tell))
        }
        Subject::Task(name, jobs) => {
            let mut only: Vec<&str> = Vec::new();
            for job in jobs.iter().filter(|j| solver.needs_pairs(&j.wanted)) {
                if !only.contains(&job.step.point.as_str()) {
                    only.push(&job.step.point);
                }
            }
            if !only.is_empty() {
                return Err(at_pairs(&only));
            }
            (*name, mapper.jobs(jobs, &tell))
        }
    };
    bar.finish_and_clear();
    let is_task = matches!(subject, Subject::Task(..));
    let names = files.iter().map(|f| f.display().to_string()).collect();
    let mut document = MapDocument::new(name, is_task, &tracks, &rows, &nodes, names);
    if let Subject::Point(point) = subject {
        document.taught = point.taught.map(|t| (t.track, t.table));
    }
    let svg = report::map::picture(cell, &force.geometry, &document, &force.source)
        .map_err(|fault| Failure::Message(format!("the map cannot be drawn: {fault}")))?;
    write(&files[0], &report::map::csv(&document))?;
    if let Err(failure) = write(&files[1], &svg) {
        // Both or none.
        let _ = fs::remove_file(&files[0]);
        return Err(failure);
    }
    let text = match args.json {
        true => json(&document)?,
        false => report::map::words(&document, &force.source, force.verdict.as_deref()),
    };
    console.answer(&text)?;
    Ok(match document.best.is_some() {
        true => Status::Good,
        false => Status::Look,
    })
}

/// Points that no node of a map meets.
fn at_pairs(points: &[&str]) -> Failure {
    Failure::Message(format!(
        "{} ask{} for an azimuth or a roll that this arm meets only at certain pairs of track and table, \
         between the nodes of any map: see `notchpin reach --point` for the pairs, or leave that angle \
         free",
        points.join(", "),
        if points.len() == 1 { "s" } else { "" }
    ))
}

fn message(text: &str) -> Failure {
    Failure::Message(text.to_owned())
}

/// The rows, and where the table stands where they do not say it.
fn rows(
    args: &args::Reach,
    subject: &Subject<'_>,
    cell: &Cell,
    force: &Force,
    table: Option<Vec<f64>>,
    slow: usize,
) -> Result<(Rows, Option<f64>), Failure> {
    let on_platter = match subject {
        Subject::Point(point) => point.frame == Belongs::Platter,
        Subject::Task(_, jobs) => {
            let turns = |job: &Job| job.wanted.frame == Belongs::Platter;
            jobs.iter().any(turns) || cell.turntable.is_some()
        }
    };
    let elevation = args.over == Some(args::Over::Elevation)
        || args.over.is_none() && !on_platter && matches!(subject, Subject::Point(_));
    if !elevation {
        if cell.turntable.is_none() {
            return match args.over {
                Some(_) => Err(message(
                    "this cell has no turntable: leave --over table out",
                )),
                None => Ok((Rows::One, None)),
            };
        }
        let readings = match table {
            Some(table) => table,
            None => reach::table_nodes(cell, &force.geometry, TABLE_DEG[slow]),
        };
        return Ok((Rows::Table(readings), None));
    }
    let point = match subject {
        Subject::Point(point) => point,
        Subject::Task(..) => {
            return Err(message(
                "a task has its own elevations: leave --over elevation out",
            ));
        }
    };
    if point
        .wanted
        .is_some_and(|w| w.azimuth_rad.is_some() && cell.joints.len() < 6)
    {
        return Err(message(
            "this point asks for an azimuth, which this arm meets only at certain pairs of track and \
             table: map it --over table",
        ));
    }
    let fixed = match (on_platter, table.as_deref()) {
        (true, Some([one])) => Some(*one),
        (true, _) => {
            return Err(message(
                "a point of the platter needs one table reading here: give --table R",
            ));
        }
        (false, _) => None,
    };
    let step = ELEVATION_DEG[slow];
    let count = (180.0 / step).round() as usize;
    let elevations = (0..=count).map(|k| (-90.0 + k as f64 * step).to_radians());
    Ok((Rows::Elevation(elevations.collect()), fixed))
}

fn with(stem: &Path, ending: &str) -> PathBuf {
    let mut name = stem.as_os_str().to_owned();
    name.push(".");
    name.push(ending);
    PathBuf::from(name)
}

/// Writes a file that must not be there yet: into one of its own first, then given its name.
fn write(path: &Path, text: &str) -> Result<(), Failure> {
    let fail = |e: std::io::Error| {
        Failure::Message(format!(
            "{} cannot be written: {}; give --map a name in a folder that is there and may be written to",
            path.display(),
            e.kind()
        ))
    };
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".writing-").suffix(".tmp");
    // To be handed to others: readable as any new file is.
    #[cfg(unix)]
    let builder = {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(fs::Permissions::from_mode(0o666))
    };
    let mut file = builder.tempfile_in(folder).map_err(fail)?;
    file.write_all(text.as_bytes()).map_err(fail)?;
    file.as_file().sync_all().map_err(fail)?;
    file.persist_noclobber(path).map_err(|e| fail(e.error))?;
    Ok(())
}
