//! A map of the best margin over track and table (or track and elevation), of a point or of a task.

use crate::answers::target::Asked;
use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::KeepOut;
use crate::clearance::Surroundings;
use crate::margins::Assessor;
use crate::reach;
use crate::reach::Solution;
use crate::reach::Solver;
use crate::reach::Station;
use crate::readings::stand::Stand;
use crate::report::map::AskedElevation;
use crate::report::map::MapBest;
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
    /// Track readings that were asked for.
    given: Option<Vec<f64>>,
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
        let given = track.clone();
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
            given,
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
            document.asked = self.asked(point, (cell, solver))?;
        }
        Ok(document)
    }

    /// The elevation that a point asks for and its best station there, where the rows are elevations: over the
    /// stations of `reach --point`, in the posture that it names. An error is a sentence.
    fn asked(
        &self,
        point: &Asked<'_>,
        (cell, solver): (&Cell, &Solver<'_>),
    ) -> Result<Option<AskedElevation>, String> {
        let Some((wanted, elevation_rad)) = point.wanted.and_then(|w| Some((w, w.elevation_rad?)))
        else {
            return Ok(None);
        };
        if !matches!(self.rows, Rows::Elevation(_)) {
            return Ok(None);
        }
        let geometry = solver.geometry();
        let table = self.table.map(|r| vec![r]);
        let table = table.as_deref().filter(|_| point.frame == Belongs::Platter);
        let grid = reach::grid(cell, geometry, point.frame, self.given.as_deref(), table)
            .map_err(|refusal| refusal.to_string())?;
        let found = reach::reach_point(solver, &wanted, &grid.track, &grid.table)
            .map_err(|refusal| refusal.to_string())?;
        let surroundings = Surroundings::new(cell, geometry);
        let assessor = Assessor {
            solver,
            cell,
            surroundings: &surroundings,
            sure: None,
        };
        let elevation_deg = elevation_rad.to_degrees();
        let margin = |s: &Station| {
            let solution = self.chosen(point, s, &assessor)?;
            Some(MapBest {
                track: s.track,
                row: elevation_deg,
                margin_deg: solution.limit_margin_rad.to_degrees(),
            })
        };
        let known = found.stations.iter().filter_map(margin);
        Ok(Some(AskedElevation {
            elevation_deg,
            best: known.max_by(|a, b| a.margin_deg.total_cmp(&b.margin_deg)),
            stations: grid.track.len(),
            same_stations: grid.track == self.tracks,
            taught: point.taught.is_some(),
        }))
    }

    /// The posture of a station that counts: clear; of a taught point the nearest to the taught one, of another
    /// the one farthest from the limits.
    fn chosen<'s>(
        &self,
        point: &Asked<'_>,
        station: &'s Station,
        assessor: &Assessor<'_>,
    ) -> Option<&'s Solution> {
        let geometry = assessor.solver.geometry();
        let turn_rad = |reading: f64| {
            let stand = Stand {
                table: reading,
                ..Stand::default()
            };
            stand.turn_rad(geometry)
        };
        let stand = Stand {
            track: station.track.unwrap_or(0.0),
            ..Stand::default()
        };
        let turns: Vec<f64> = self.clear_tables.iter().map(|r| turn_rad(*r)).collect();
        let clear = |s: &&Solution| {
            let at = assessor.axes(
                stand.travel_mm(geometry),
                turn_rad(station.table.unwrap_or(0.0)),
                &s.values_rad,
            );
            let near = assessor.roomiest(&at, &turns);
            near.is_none_or(|(near, _)| near.clearance_mm >= assessor.cell.accept.clearance_mm)
        };
        let mut each = station.solutions.iter().filter(clear);
        let Some(taught) = point.taught else {
            return each.next();
        };
        let far = |s: &Solution| {
            let apart = s.readings.iter().zip(&taught.joints);
            apart.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
        };
        each.min_by(|a, b| far(a).total_cmp(&far(b)))
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
