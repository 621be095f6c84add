//! The ways from step to step: proved clear, or where they are not.

use std::collections::HashMap;

use crate::clearance::Nearest;
use crate::clearance::WayClearance;
use crate::tasks::State;
use crate::tasks::Task;

/// A blocked way is looked at in so many places for where it is worst.
const WORST_OF: u32 = 200;

/// What is known of a way's clearance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WayState {
    /// The cell tells no bodies: nothing was checked.
    NotChecked,
    /// Proved clear: nowhere nearer than the least clearance asked for. With the nearest pair of the
    /// postures looked at.
    Clear(Nearest),
    /// Too near: the nearest pair of the postures looked at, and from which share of the way on.
    Blocked(Nearest, f64),
    /// Not proved clear, from this share of the way on.
    Unproved(Nearest, f64),
}

impl WayState {
    /// Whether nothing speaks against the way.
    pub fn is_clear(&self) -> bool {
        matches!(self, WayState::NotChecked | WayState::Clear(_))
    }
}

/// The way from one step to the next that is done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Index of the step that it leaves.
    pub from: usize,
    /// Index of the step that it comes to.
    pub to: usize,
    /// What is known of its clearance.
    pub clearance: WayState,
    /// Whether the arm flips over to another way of holding itself.
    pub flips: bool,
    /// Largest turn of a joint, rad, and which (from 0).
    pub turn_rad: f64,
    /// See `turn_rad`.
    pub joint: usize,
}

/// Whether two states hold the arm in ways that a singular posture parts.
pub(super) fn flips(a: &State, b: &State) -> bool {
    let differ = |x: Option<bool>, y: Option<bool>| x.zip(y).is_some_and(|(x, y)| x != y);
    differ(a.bearing.ahead, b.bearing.ahead)
        || differ(a.bearing.elbow_up, b.bearing.elbow_up)
        || differ(a.bearing.side, b.bearing.side)
}

/// Ways that were proved before: from which state to which, with which turns of the table.
pub(super) type Known = HashMap<(usize, usize, usize, u64, u64), Way>;

/// All ways of a path.
pub(super) fn ways_of(
    task: &Task,
    jobs: &[usize],
    (chosen, path): (&[usize], &[State]),
    known: &mut Known,
) -> Vec<Way> {
    let mut ways = Vec::new();
    for i in 1..path.len().min(jobs.len()) {
        let (a, b) = (&path[i - 1], &path[i]);
        let turns = (a.at.turn_rad.to_bits(), b.at.turn_rad.to_bits());
        let key = (i, chosen[i - 1], chosen[i], turns.0, turns.1);
        let make = || way(task, (jobs[i - 1], a), (jobs[i], b));
        ways.push(*known.entry(key).or_insert_with(make));
    }
    ways
}

/// One way.
pub(super) fn way(task: &Task, (from, a): (usize, &State), (to, b): (usize, &State)) -> Way {
    let (mut start, end) = (*a.leave(), *b.entry());
    // Before the table has mattered it may stand where it will be needed.
    if a.table.is_none() && b.table.is_some() && a.at.turn_rad == 0.0 {
        start.turn_rad = end.turn_rad;
    }
    let needed = task.cell.accept.clearance_mm;
    let clearance = match task.surroundings.is_empty() {
        true => WayState::NotChecked,
        false => match task.surroundings.way(&start, &end, needed) {
            WayClearance::Clear { nearest, .. } => match nearest {
                Some(nearest) => WayState::Clear(nearest),
                None => WayState::NotChecked,
            },
            WayClearance::Blocked { nearest, share } => {
                let mut worst = nearest;
                for k in 0..=WORST_OF {
                    let at = start.toward(&end, f64::from(k) / f64::from(WORST_OF));
                    if let Some(near) = task.surroundings.nearest(&at)
                        && near.clearance_mm < worst.clearance_mm
                    {
                        worst = near;
                    }
                }
                WayState::Blocked(worst, share)
            }
            WayClearance::Unproved { nearest, share, .. } => WayState::Unproved(nearest, share),
        },
    };
    let turns = start
        .joints_rad
        .iter()
        .zip(&end.joints_rad)
        .map(|(x, y)| (x - y).abs())
        .enumerate();
    let (joint, turn_rad) = turns.max_by(|x, y| x.1.total_cmp(&y.1)).unwrap_or((0, 0.0));
    Way {
        from,
        to,
        clearance,
        flips: flips(a, b),
        turn_rad,
        joint,
    }
}
