//! A map of the best margin over track and table (or track and elevation), of a point or of a task.

use crate::answers::target::Asked;
use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::KeepOut;
use crate::reach;
use crate::reach::Solver;
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
    /// One point.
    Point(&'a Asked<'a>),
    /// A task by its name.
    Task(&'a str, &'a [Job]),
}

/// What the rows of a map are asked to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Over {
    /// Readings of the table.
    Table,
    /// Elevations of the tool.
    Elevation,
}

/// Columns and rows of a map.
#[derive(Debug, Clone)]
pub struct Raster {
    /// Track readings.
    pub tracks: Vec<f64>,
    /// The rows.
    pub rows: Rows,
    /// Where the table stands where the rows do not say it.
    pub table: Option<f64>,
    /// Table readings that are tried for room.
    clear_tables: Vec<f64>,
}

impl Raster {
    /// The nodes for a subject: those that are given, else the whole travel. An error is a sentence.
    pub fn new(
        subject: &Subject<'_>,
        (cell, solver): (&Cell, &Solver<'_>),
        over: Option<Over>,
        (track, table): (Option<Vec<f64>>, Option<Vec<f64>>),
    ) -> Result<Raster, String> {
        let geometry = solver.geometry();
        let slow = usize::from(!solver.is_closed_form());
        let tracks = match track {
            Some(track) => track,
            None => reach::track_nodes(cell, geometry, TRACKS[slow])
                .map_err(|refusal| refusal.to_string())?,
        };
        let asked = table.clone();
        let (rows, fixed) = rows(over, subject, cell, geometry, table, slow)?;
        let turns = |k: &KeepOut| k.frame == Belongs::Platter;
        let clear_tables = match (cell.keep_outs.iter().any(turns) && fixed.is_none(), asked) {
            (true, Some(asked)) => asked,
            (true, None) => reach::table_nodes(cell, geometry, TABLE_DEG[1]),
            (false, _) => Vec::new(),
        };
        Ok(Raster {
            tracks,
            rows,
            table: fixed,
            clear_tables,
        })
    }

    /// Works the map out; `tell` is told how many rows are done. An error is a sentence.
    pub fn map(
        &self,
        subject: &Subject<'_>,
        (cell, solver): (&Cell, &Solver<'_>),
        tell: &(dyn Fn(usize) + Sync),
    ) -> Result<MapDocument, String> {
        let mapper = Mapper {
            clear_tables: &self.clear_tables,
            cell,
            solver,
            tracks: &self.tracks,
            rows: &self.rows,
            table: self.table,
        };
        let (name, nodes) = match subject {
            Subject::Point(point) => {
                let Some(wanted) = &point.wanted else {
                    return refused("the readings of this point do not give a place");
                };
                if solver.needs_pairs(wanted) {
                    return Err(at_pairs(&[point.name]));
                }
                if let Some(refusal) = solver.refusal(wanted) {
                    return Err(refusal.to_string());
                }
                (point.name, mapper.point(wanted, tell))
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
                (*name, mapper.jobs(jobs, tell))
            }
        };
        let is_task = matches!(subject, Subject::Task(..));
        let mut document =
            MapDocument::new(name, is_task, &self.tracks, &self.rows, &nodes, Vec::new());
        if let Subject::Point(point) = subject {
            document.taught = point.taught.map(|t| (t.track, t.table));
        }
        Ok(document)
    }
}

/// Points that no node of a map meets.
fn at_pairs(points: &[&str]) -> String {
    format!(
        "{} ask{} for an azimuth or a roll that this arm meets only at certain pairs of track and table, \
         between the nodes of any map: see `notchpin reach --point` for the pairs, or leave that angle \
         free",
        points.join(", "),
        if points.len() == 1 { "s" } else { "" }
    )
}

fn refused<T>(text: &str) -> Result<T, String> {
    Err(text.to_owned())
}

/// The rows, and where the table stands where they do not say it.
fn rows(
    over: Option<Over>,
    subject: &Subject<'_>,
    cell: &Cell,
    geometry: &Geometry,
    table: Option<Vec<f64>>,
    slow: usize,
) -> Result<(Rows, Option<f64>), String> {
    let on_platter = match subject {
        Subject::Point(point) => point.frame == Belongs::Platter,
        Subject::Task(_, jobs) => {
            let turns = |job: &Job| job.wanted.frame == Belongs::Platter;
            jobs.iter().any(turns) || cell.turntable.is_some()
        }
    };
    let elevation = over == Some(Over::Elevation)
        || over.is_none() && !on_platter && matches!(subject, Subject::Point(_));
    if !elevation {
        if cell.turntable.is_none() {
            return match over {
                Some(_) => refused("this cell has no turntable: leave --over table out"),
                None => Ok((Rows::One, None)),
            };
        }
        let readings = match table {
            Some(table) => table,
            None => reach::table_nodes(cell, geometry, TABLE_DEG[slow]),
        };
        return Ok((Rows::Table(readings), None));
    }
    let point = match subject {
        Subject::Point(point) => point,
        Subject::Task(..) => {
            return refused("a task has its own elevations: leave --over elevation out");
        }
    };
    if point
        .wanted
        .is_some_and(|w| w.azimuth_rad.is_some() && cell.joints.len() < 6)
    {
        return refused(
            "this point asks for an azimuth, which this arm meets only at certain pairs of track and \
             table: map it --over table",
        );
    }
    let fixed = match (on_platter, table.as_deref()) {
        (true, Some([one])) => Some(*one),
        (true, _) => {
            return refused("a point of the platter needs one table reading here: give --table R");
        }
        (false, _) => None,
    };
    let step = ELEVATION_DEG[slow];
    let count = (180.0 / step).round() as usize;
    let elevations = (0..=count).map(|k| (-90.0 + k as f64 * step).to_radians());
    Ok((Rows::Elevation(elevations.collect()), fixed))
}
