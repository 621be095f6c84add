//! What would make an impossible step possible: tried in earnest, one change at a time.

use crate::clearance::Nearest;
use crate::tasks::Held;
use crate::tasks::Job;
use crate::tasks::Part;
use crate::tasks::State;
use crate::tasks::Task;
use crate::tasks::WhyNot;

/// Elevations are tried in steps of this many degrees, both ways.
const ELEVATION_DEG: u32 = 3;
/// Stations that are tried for one change; each costs a search where there is no closed form.
const MOST_STATIONS: usize = 25;

/// A change that makes a step possible.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advice {
    /// Another track reading; the nearest one that was found.
    Track(f64),
    /// Another table reading, the nearest one that was found, and the track reading it goes with.
    Table(f64, Option<f64>),
    /// Both.
    TrackAndTable(f64, f64),
    /// A shorter approach, mm; the longest that works, and whether the depart was shortened with it.
    Approach(f64, bool),
    /// A shorter depart, mm.
    Depart(f64),
    /// Another elevation of the tool, rad; the nearest one that was found.
    Elevation(f64),
    /// The azimuth left free.
    AzimuthFree,
    /// The roll left free.
    RollFree,
    /// Something out of the way: so many mm are lacking.
    OutOfTheWay(Nearest, f64),
}

/// What would make a job possible. `stand`: readings of track and table at the step before it that is
/// done, where they are known.
pub(super) fn advise(
    task: &Task,
    job: usize,
    why: WhyNot,
    stand: (Option<f64>, Option<f64>),
) -> Vec<Advice> {
    let this = &task.jobs[job];
    let held = |held: Held, before: Option<f64>| match held {
        Held::At(reading) => Some(reading),
        Held::Same => before,
        Held::Free => None,
    };
    let track = held(this.step.track, stand.0);
    let table = held(this.step.table, stand.1);
    let mut out = Vec::new();
    let tried =
        |job: &Job, track: Option<f64>, table: Option<f64>| nearest(task, job, track, table);
    let tied_track = this.step.track != Held::Free;
    let tied_table = this.step.table != Held::Free;
    // Where it stands already is no advice.
    let other = |found: Option<f64>, held: Option<f64>| {
        found.filter(|f| held.is_none_or(|h| (f - h).abs() > 1e-9))
    };
    if tied_track && let Some(found) = freed(task, this, None, table, track) {
        // A table that had to follow is part of the advice.
        let turned = other(found.table, table).filter(|_| tied_table);
        out.extend(other(found.track, track).map(|s| match turned {
            Some(t) => Advice::TrackAndTable(s, t),
            None => Advice::Track(s),
        }));
    }
    if tied_table && let Some(found) = freed(task, this, track, None, table) {
        let moved = other(found.track, track).filter(|_| tied_track);
        out.extend(other(found.table, table).map(|t| match moved {
            Some(s) => Advice::TrackAndTable(s, t),
            None => Advice::Table(t, found.track),
        }));
        out.dedup();
    }
    if out.is_empty()
        && tied_track
        && tied_table
        && let Some(found) = freed(task, this, None, None, track)
        && let (Some(s), Some(t)) = (found.track, found.table)
    {
        out.push(Advice::TrackAndTable(s, t));
    }
    if let WhyNot::PartOutOfReach(_) | WhyNot::TooNear(..) | WhyNot::Unproved(_) = why {
        out.extend(shorter(this, Part::Approach, &|job| {
            tried(job, track, table).is_some()
        }));
        out.extend(shorter(this, Part::Depart, &|job| {
            tried(job, track, table).is_some()
        }));
    }
    if let WhyNot::TooNear(_, near) = why {
        let lacking = task.cell.accept.clearance_mm - near.clearance_mm;
        out.push(Advice::OutOfTheWay(near, lacking));
    }
    if let Some(elevation) = this.wanted.elevation_rad
        && let Some(found) = other_elevation(task, this, elevation, track, table)
    {
        out.push(Advice::Elevation(found));
    }
    let mut free = this.clone();
    free.wanted.azimuth_rad = None;
    if this.wanted.azimuth_rad.is_some() && tried(&free, track, table).is_some() {
        out.push(Advice::AzimuthFree);
    }
    let mut free = this.clone();
    free.wanted.roll_rad = None;
    if this.wanted.roll_rad.is_some() && tried(&free, track, table).is_some() {
        out.push(Advice::RollFree);
    }
    out
}

/// Candidate readings of the track, thinned, the nearest to `around` first.
fn tracks(task: &Task, held: Option<f64>, around: Option<f64>) -> Vec<Option<f64>> {
    if let Some(held) = held {
        return vec![Some(held)];
    }
    if task.cell.track.is_none() {
        return vec![None];
    }
    let mut all: Vec<f64> = task.tracks.to_vec();
    match around {
        Some(near) => all.sort_by(|a, b| (a - near).abs().total_cmp(&(b - near).abs())),
        None => {
            let every = all.len().div_ceil(MOST_STATIONS).max(1);
            all = all.into_iter().step_by(every).collect();
        }
    }
    all.into_iter().map(Some).collect()
}

/// The first state that is found for a job.
fn nearest(task: &Task, job: &Job, track: Option<f64>, table: Option<f64>) -> Option<State> {
    freed(task, job, track, table, None)
}

/// The same, stations nearest to `around` tried first.
fn freed(
    task: &Task,
    job: &Job,
    track: Option<f64>,
    table: Option<f64>,
    around: Option<f64>,
) -> Option<State> {
    // What is advised shall not be at the very limit.
    let least = task.cell.accept.margin_rad;
    let tables: Vec<Option<f64>> = match (table, task.table_matters(job)) {
        (Some(table), _) => vec![Some(table)],
        (None, false) => vec![None],
        (None, true) => {
            let mut all = task.tables.to_vec();
            if let (Some(near), true) = (around, track.is_some()) {
                all.sort_by(|a, b| (a - near).abs().total_cmp(&(b - near).abs()));
            }
            all.into_iter().map(Some).collect()
        }
    };
    for track in tracks(task, track, around) {
        let travel = task.axes().travel_mm(track);
        if table.is_none() && task.solver.needs_pairs(&job.wanted) {
            for pair in task.solver.pairs_at(&job.wanted, travel) {
                let one = std::slice::from_ref(&pair.solution);
                let at = (Some(pair.table), pair.turn_rad);
                if let Ok(states) = task.states_of(job, (track, travel), at, one)
                    && let Some(state) = states.into_iter().find(|s| s.margin_rad >= least)
                {
                    return Some(state);
                }
            }
            continue;
        }
        for table in &tables {
            let turn = task.axes().turn_rad(*table);
            if task.solver.promises() && task.solver.seeds_only(&job.wanted, travel, turn).is_none()
            {
                continue;
            }
            if let Ok(states) = task.states(job, track, *table)
                && let Some(state) = states.into_iter().find(|s| s.margin_rad >= least)
            {
                return Some(state);
            }
        }
    }
    None
}

/// The longest approach or depart that works, to 1 mm.
fn shorter(job: &Job, part: Part, works: &dyn Fn(&Job) -> bool) -> Option<Advice> {
    let length = match part {
        Part::Approach => job.step.approach_mm,
        _ => job.step.depart_mm,
    };
    if length < 2.0 {
        return None;
    }
    let with = |mm: f64| {
        let mut job = job.clone();
        match part {
            Part::Approach => job.step.approach_mm = mm,
            _ => job.step.depart_mm = mm,
        }
        // Both are often the same, and then both are too long.
        if job.step.depart_mm > mm && job.step.depart_mm == length {
            job.step.depart_mm = mm;
        }
        job
    };
    if !works(&with(0.0)) {
        return None;
    }
    let (mut good, mut bad) = (0.0, length);
    while bad - good > 1.0 {
        let middle = (0.5 * (good + bad)).floor().max(good + 0.5);
        if works(&with(middle)) {
            good = middle;
        } else {
            bad = middle;
        }
    }
    let good: f64 = good;
    let good = good.floor();
    Some(match part {
        Part::Approach => Advice::Approach(good, job.step.depart_mm == length),
        _ => Advice::Depart(good),
    })
}

fn other_elevation(
    task: &Task,
    job: &Job,
    elevation: f64,
    track: Option<f64>,
    table: Option<f64>,
) -> Option<f64> {
    let mut off = 0;
    loop {
        off += ELEVATION_DEG;
        if off > 180 {
            return None;
        }
        for sign in [1.0, -1.0] {
            let tried = elevation + sign * f64::from(off).to_radians();
            if tried.abs() > std::f64::consts::FRAC_PI_2 {
                continue;
            }
            let mut other = job.clone();
            other.wanted.elevation_rad = Some(tried);
            if nearest(task, &other, track, table).is_some() {
                return Some(tried);
            }
        }
    }
}
