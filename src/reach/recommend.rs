//! A point over a grid of stations: all of them, or the best one alone.

use std::sync::atomic::AtomicUsize;
use std::sync::atomic::Ordering;

use crate::cell::Belongs;
use crate::kinematics::table_value_rad;
use crate::kinematics::track_value_mm;
use crate::reach::Grid;
use crate::reach::PointReach;
use crate::reach::Refusal;
use crate::reach::Solution;
use crate::reach::Solver;
use crate::reach::Station;
use crate::reach::Wanted;
use crate::reach::intervals::track_intervals;
use crate::reach::limits::LIMIT_SLACK_MM;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::limits::within;
use crate::reach::pattern::Seed;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::shared::shared;
use crate::reach::solver::Root;
use crate::units::Approach;
use crate::units::Reading;

/// A seed's margin is that of its root to within this, where base or tool are out of true (5°).
const SEED_TRUST_RAD: f64 = 5.0 * std::f64::consts::PI / 180.0;
/// The same where the closed form is the root but for rounding and the frame's small tilts.
const SEED_TRUST_EXACT_RAD: f64 = 0.01;

/// The station with the largest margin.
#[derive(Debug, Clone, PartialEq)]
pub struct Recommended {
    /// Track reading; `None` without a track.
    pub track: Option<f64>,
    /// Table reading; `None` for a point of the plate.
    pub table: Option<f64>,
    /// The posture.
    pub solution: Solution,
}

impl Solver<'_> {
    /// Track readings with their values, those outside the travel left out.
    fn track_stations(&self, readings: &[f64]) -> Vec<(Option<f64>, f64)> {
        let Some(track) = &self.geometry.track else {
            return vec![(None, 0.0)];
        };
        let travel = self.cell.track.and_then(|t| t.travel_mm);
        readings
            .iter()
            .map(|r| {
                (
                    Some(*r),
                    track_value_mm(track, Reading(*r), Approach::Unnoted),
                )
            })
            .filter(|(_, v)| within(*v, travel, LIMIT_SLACK_MM))
            .collect()
    }

    /// Table readings with their values, those outside the travel left out.
    fn table_stations(&self, frame: Belongs, readings: &[f64]) -> Vec<(Option<f64>, f64)> {
        match (&self.geometry.turntable, frame) {
            (Some(table), Belongs::Platter) => readings
                .iter()
                .map(|r| {
                    (
                        Some(*r),
                        table_value_rad(table, Reading(*r), Approach::Unnoted),
                    )
                })
                .filter(|(_, v)| self.table_holds(*v))
                .collect(),
            _ => vec![(None, 0.0)],
        }
    }

    pub(super) fn table_holds(&self, turn_rad: f64) -> bool {
        let travel = self.cell.turntable.as_ref().and_then(|t| t.travel_rad);
        within(turn_rad, travel, LIMIT_SLACK_RAD)
    }
}

/// Everything about one point: the stations from which it is reached, among all pairs of the given
/// readings (the track's outer), and the ends of travel between which it is, for each table angle.
pub fn reach_point(
    solver: &Solver,
    wanted: &Wanted,
    track: &[f64],
    table: &[f64],
) -> Result<PointReach, Refusal> {
    reach_point_telling(solver, wanted, track, table, &|_| {})
}

/// The same, telling after each part how large a share (0 to 1) is done. Searches from many starts are
/// shared out over the threads that there are.
pub fn reach_point_telling(
    solver: &Solver,
    wanted: &Wanted,
    track: &[f64],
    table: &[f64],
    progress: &(dyn Fn(f64) + Sync),
) -> Result<PointReach, Refusal> {
    let plan = solver.plan(wanted)?;
    let tables = solver.table_stations(wanted.frame, table);
    let tracks = solver.track_stations(track);
    // Starting threads takes about as long as so many stations do in closed form.
    let threads = matches!(
        plan.method,
        Method::Numeric | Method::NumericSpare | Method::SixSpare
    ) || tracks.len() * tables.len() > FEW;
    let parts = tracks.len() + table.len().max(1);
    let done = AtomicUsize::new(0);
    let tell = || {
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        progress(done as f64 / parts as f64);
    };
    let rows = shared(threads, tracks.len(), &|| (), &|(), i| {
        let (track, travel_mm) = tracks[i];
        let mut row = Vec::new();
        let mut solutions = Vec::new();
        for (table, turn_rad) in &tables {
            solver.solve(wanted, travel_mm, *turn_rad, &mut solutions);
            if !solutions.is_empty() {
                row.push(Station {
                    track,
                    table: *table,
                    solutions: std::mem::take(&mut solutions),
                });
            }
        }
        tell();
        row
    });
    let angles: Vec<&[f64]> = match table.is_empty() {
        true => vec![&[]],
        false if wanted.frame == Belongs::Plate => vec![&table[..1]],
        false => table.chunks(1).collect(),
    };
    let intervals = shared(threads, angles.len(), &|| (), &|(), i| {
        let found = track_intervals(solver, wanted, angles[i]);
        tell();
        found
    });
    let mut all = Vec::new();
    for found in intervals {
        all.extend(found?);
    }
    Ok(PointReach {
        stations: rows.into_iter().flatten().collect(),
        intervals: all,
    })
}

/// Stations of a grid that one thread looks at alone.
const FEW: usize = 200;

/// The best station of a grid: the largest margin to the joint limits, the first one among equals.
/// The same as the best of [`reach_point`] over that grid, found with less work. `None` where no
/// station reaches the point, or it cannot be asked of this arm.
pub fn recommend(solver: &Solver, wanted: &Wanted, grid: &Grid) -> Option<Recommended> {
    let plan = solver.plan(wanted).ok()?;
    let tracks = solver.track_stations(&grid.track);
    let tables = solver.table_stations(wanted.frame, &grid.table);
    let tasks: Vec<_> = tables
        .iter()
        .map(|(_, turn)| solver.task(wanted, &plan, *turn))
        .collect();
    let closed = matches!(plan.method, Method::Closed | Method::ClosedStill);
    let mut best: Option<(usize, usize, Root)> = None;
    let mut roots = Vec::new();
    // Equal margins: the station that comes first in the grid.
    let better = |best: &Option<(usize, usize, Root)>, i: usize, k: usize, root: &Root| match best {
        None => true,
        Some((bi, bk, b)) => {
            root.margin > b.margin || (root.margin == b.margin && (i, k) < (*bi, *bk))
        }
    };
    if closed {
        let candidates = ranked(solver, &plan, &tasks, &tracks);
        for c in &candidates {
            if let Some((_, _, b)) = &best
                && c.margin + c.trust < b.margin
            {
                if c.trust >= SEED_TRUST_RAD || c.margin + SEED_TRUST_RAD < b.margin {
                    break;
                }
                continue;
            }
            let ask = solver.ask(&plan, &tasks[c.table], tracks[c.track].1);
            let travel_mm = tracks[c.track].1;
            for root in solver.refine(&plan, &tasks[c.table], travel_mm, &ask, &c.seed) {
                if solver.accepts(&plan, &root) && better(&best, c.track, c.table, &root) {
                    best = Some((c.track, c.table, root));
                }
            }
        }
    } else {
        for (i, (_, travel_mm)) in tracks.iter().enumerate() {
            for (k, task) in tasks.iter().enumerate() {
                solver.roots(&plan, task, *travel_mm, &[], &mut roots);
                for root in &roots {
                    if solver.accepts(&plan, root) && better(&best, i, k, root) {
                        best = Some((i, k, *root));
                    }
                }
            }
        }
    }
    best.map(|(i, k, root)| Recommended {
        track: tracks[i].0,
        table: tables[k].0,
        solution: solver.solution(&root),
    })
}

struct Candidate {
    track: usize,
    table: usize,
    margin: f64,
    trust: f64,
    seed: Seed,
}

/// Seeds of all stations that may be within the limits, largest margin first.
fn ranked(
    solver: &Solver,
    plan: &Plan,
    tasks: &[crate::reach::conditions::Task],
    tracks: &[(Option<f64>, f64)],
) -> Vec<Candidate> {
    let mut out = Vec::new();
    let Some(pattern) = &solver.pattern else {
        return out;
    };
    let mut seeds = [Seed::default(); 8];
    let mut top = f64::NEG_INFINITY;
    for (i, (_, travel_mm)) in tracks.iter().enumerate() {
        for (k, task) in tasks.iter().enumerate() {
            let ask = solver.ask(plan, task, *travel_mm);
            let exact = pattern.exact(&ask);
            let least = pattern.least_slack(&ask);
            let trust = if exact {
                SEED_TRUST_EXACT_RAD
            } else {
                SEED_TRUST_RAD
            };
            let count = pattern.seeds(&ask, &mut seeds);
            for seed in &seeds[..count] {
                if !(seed.slack >= least) {
                    continue;
                }
                let mut q = seed.values;
                settle(&solver.cell.joints, &mut q);
                // Near the end of reach a small miss of the cosine is a large one of the angle.
                let near = if seed.slack < 2.0 * least.abs() {
                    2.0 * (2.0 * least.abs()).sqrt()
                } else {
                    0.0
                };
                let margin = margin_of(&solver.cell.joints, &q) + near;
                if margin + trust < 0.0 {
                    continue;
                }
                // Azimuth and side lean may still refuse a seed; without them the best so far is
                // a floor for all others.
                if plan.azimuth.is_none() && !plan.steep && near == 0.0 {
                    top = top.max(margin - trust);
                }
                if margin + trust >= top {
                    out.push(Candidate {
                        track: i,
                        table: k,
                        margin,
                        trust,
                        seed: *seed,
                    });
                }
            }
        }
    }
    out.sort_by(|a, b| b.margin.total_cmp(&a.margin));
    out
}
