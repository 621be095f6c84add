//! What a task is planned with: its steps as targets, and the stations that are tried.

use crate::answers::target::Asked;
use crate::cell::Cell;
use crate::reach;
use crate::reach::Solver;
use crate::tasks::Held;
use crate::tasks::Job;
use crate::tasks::Step;

/// Track positions that are tried where none are asked for: at least so many.
const STATIONS: usize = 48;
/// Table angles that are tried where none are asked for, degrees apart.
const TABLE_DEG: f64 = 15.0;

/// A step whose point cannot be asked of the arm.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unasked {
    /// Line of the step in its file.
    pub line: usize,
    /// The point.
    pub point: String,
    /// Why.
    pub why: String,
}

/// The steps with their targets.
pub fn jobs(
    steps: Vec<Step>,
    points: &[Asked<'_>],
    solver: &Solver<'_>,
) -> Result<Vec<Job>, Unasked> {
    let mut jobs = Vec::new();
    for step in steps {
        let Some(point) = points.iter().find(|p| p.name == step.point) else {
            continue;
        };
        let refuse = |why: String| Unasked {
            line: step.line,
            point: step.point.clone(),
            why,
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

/// Readings of track and table that are tried: those that are given, else over the whole travel. An error is
/// a sentence.
pub fn stations(
    solver: &Solver<'_>,
    cell: &Cell,
    jobs: &[Job],
    (track, table): (Option<Vec<f64>>, Option<Vec<f64>>),
) -> Result<(Vec<f64>, Vec<f64>), String> {
    let geometry = solver.geometry();
    let held = jobs.iter().all(|j| j.step.track != Held::Free);
    let stations = match (track, held) {
        (Some(track), _) => track,
        // Every step says where the track stands: others are only for what would help.
        (None, true) => reach::track_nodes(cell, geometry, STATIONS).unwrap_or_default(),
        (None, false) => {
            reach::track_nodes(cell, geometry, STATIONS).map_err(|refusal| refusal.to_string())?
        }
    };
    let tables = match (table, &cell.turntable) {
        (Some(table), _) => table,
        (None, None) => Vec::new(),
        (None, Some(turntable)) => {
            let mut all = reach::table_nodes(cell, geometry, TABLE_DEG);
            // Without end, the last one is the first one again.
            if turntable.travel_rad.is_none() {
                all.pop();
            }
            all
        }
    };
    Ok((stations, tables))
}
