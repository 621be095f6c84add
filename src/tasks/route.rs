//! One posture a step, so that the whole task runs well: the shortest way through the table of what
//! every step can do (dynamic programming over the steps), and the ways between proved clear. A way
//! that is not clear is struck out and the search done again.

use std::collections::HashSet;

use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::WayClearance;
use crate::tasks::Fate;
use crate::tasks::Held;
use crate::tasks::Planned;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;
use crate::tasks::advice;
use crate::tasks::options::Options;

/// Searches before a way that is not clear is told as it is.
const MOST_SEARCHES: usize = 60;
/// Most states that are kept for a step.
const MOST_STATES: usize = 160;

// What a choice costs, in degrees of joint travel. A move of the track makes people wait and brings
// in its play; a flip swings the arm through a singular posture.
const TRACK_MOVE: f64 = 400.0;
const TRACK_MM: f64 = 0.1;
const TRACK_MM_ALONE: f64 = 20.0;
const FLIP: f64 = 120.0;
const TABLE_DEG: f64 = 0.5;
const JOINT_DEG: f64 = 0.15;
/// A degree of margin is worth so much, up to [`MARGIN_ENOUGH_DEG`].
const MARGIN_DEG: f64 = 2.0;
const MARGIN_ENOUGH_DEG: f64 = 25.0;
const STRUCK_OUT: f64 = 1e6;
const NOT_TIED: f64 = 1e9;

/// What is known of a way's clearance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WayState {
    /// The cell tells no bodies: nothing was checked.
    NotChecked,
    /// Proved clear: nowhere nearer than the least clearance asked for. With the nearest pair of the
    /// postures looked at.
    Clear(Nearest),
    /// Too near, at this share of the way.
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

/// Chooses postures at these nodes, and proves the ways.
pub(super) fn route(task: &Task, options: &mut Options, nodes: &[usize]) -> Planned {
    let jobs: Vec<usize> = options.groups().into_iter().flatten().collect();
    let mut states: Vec<Vec<State>> = jobs
        .iter()
        .map(|job| {
            let mut all: Vec<State> = Vec::new();
            for node in nodes {
                all.extend(options.at_node(*job, *node));
            }
            all.sort_by(|a, b| b.room_rad.total_cmp(&a.room_rad));
            all
        })
        .collect();
    keep_linked(task, &jobs, &mut states);
    let mut struck: HashSet<(usize, usize, usize)> = HashSet::new();
    let mut chosen = search(task, &jobs, &states, &struck);
    let mut ways = ways_of(task, &jobs, &states, &chosen);
    for _ in 0..MOST_SEARCHES {
        let mut new = false;
        for (i, way) in ways.iter().enumerate() {
            if !way.clearance.is_clear() {
                new |= struck.insert((i, chosen[i], chosen[i + 1]));
            }
        }
        if !new {
            break;
        }
        let next = search(task, &jobs, &states, &struck);
        let next_ways = ways_of(task, &jobs, &states, &next);
        let bad = |ways: &[Way]| ways.iter().filter(|w| !w.clearance.is_clear()).count();
        let now_bad = bad(&ways);
        // The last search may only be kept where it is no worse.
        if bad(&next_ways) > now_bad && struck.len() > 2000 {
            break;
        }
        chosen = next;
        ways = next_ways;
    }
    let mut fates: Vec<Option<Fate>> = vec![None; task.jobs.len()];
    let mut stations: Vec<f64> = Vec::new();
    for (i, job) in jobs.iter().enumerate() {
        let Some(state) = states[i].get(chosen[i]) else {
            continue;
        };
        let before = i.checked_sub(1).and_then(|k| states[k].get(chosen[k]));
        if before.is_some_and(|b| !tied(task, *job, b, state)) {
            continue;
        }
        if let Some(track) = state.track
            && !stations.contains(&track)
        {
            stations.push(track);
        }
        fates[*job] = Some(Fate::Done(Box::new(state.clone())));
    }
    let fates: Vec<Fate> = fates
        .into_iter()
        .enumerate()
        .map(|(job, fate)| {
            fate.unwrap_or_else(|| {
                let why = options.why[job];
                Fate::Impossible(why, advice::advise(task, job, why))
            })
        })
        .collect();
    ways.retain(|w| {
        let done = |k: usize| matches!(fates[k], Fate::Done(_));
        done(w.from) && done(w.to)
    });
    Planned {
        fates,
        stations,
        at_least: 0,
        tried: 0,
        ways,
    }
}

/// Too many states are thinned, but not where the table must stand as at a neighbouring step.
fn keep_linked(task: &Task, jobs: &[usize], states: &mut [Vec<State>]) {
    for (job, states) in jobs.iter().zip(states.iter_mut()) {
        let next = task.jobs.get(job + 1);
        let same = |held: Held| held == Held::Same;
        let linked = same(task.jobs[*job].step.table) || next.is_some_and(|n| same(n.step.table));
        states.truncate(if linked { 4 * MOST_STATES } else { MOST_STATES });
    }
}

/// Whether a state stands as its step asks it to stand to the one before.
fn tied(task: &Task, job: usize, before: &State, state: &State) -> bool {
    let step = &task.jobs[job].step;
    let same = |a: Option<f64>, b: Option<f64>| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() < 1e-9,
        _ => true,
    };
    (step.track != Held::Same || same(before.track, state.track))
        && (step.table != Held::Same || same(before.table, state.table))
}

fn own_cost(state: &State) -> f64 {
    let margin = state.room_rad.to_degrees().min(MARGIN_ENOUGH_DEG);
    MARGIN_DEG * (MARGIN_ENOUGH_DEG - margin)
}

fn cost(task: &Task, job: usize, a: &State, b: &State) -> f64 {
    let mut cost = 0.0;
    if !tied(task, job, a, b) {
        cost += NOT_TIED;
    }
    let travel = (a.at.travel_mm - b.at.travel_mm).abs();
    if travel > 1e-9 {
        cost += match task.prefer {
            Prefer::Fewest => TRACK_MOVE + TRACK_MM * travel,
            Prefer::Travel => TRACK_MM_ALONE * travel,
        };
    }
    if flips(a, b) {
        cost += FLIP;
    }
    if a.table.is_some() && b.table.is_some() {
        let to = task.nearest_turn(a.at.turn_rad, b.at.turn_rad);
        cost += TABLE_DEG * (a.at.turn_rad - to).abs().to_degrees();
    }
    let (from, to) = (a.leave(), b.entry());
    let turned: f64 = from
        .joints_rad
        .iter()
        .zip(&to.joints_rad)
        .map(|(x, y)| (x - y).abs())
        .sum();
    cost + JOINT_DEG * turned.to_degrees()
}

fn flips(a: &State, b: &State) -> bool {
    let differ = |x: Option<bool>, y: Option<bool>| x.zip(y).is_some_and(|(x, y)| x != y);
    differ(a.bearing.ahead, b.bearing.ahead)
        || differ(a.bearing.elbow_up, b.bearing.elbow_up)
        || differ(a.bearing.side, b.bearing.side)
}

/// For each step the state of the cheapest way through all of them.
fn search(
    task: &Task,
    jobs: &[usize],
    states: &[Vec<State>],
    struck: &HashSet<(usize, usize, usize)>,
) -> Vec<usize> {
    let mut back: Vec<Vec<usize>> = Vec::with_capacity(jobs.len());
    let mut costs: Vec<f64> = Vec::new();
    for (i, here) in states.iter().enumerate() {
        let mut next = Vec::with_capacity(here.len());
        let mut from = Vec::with_capacity(here.len());
        for (b, state) in here.iter().enumerate() {
            let own = own_cost(state);
            if i == 0 {
                next.push(own);
                from.push(0);
                continue;
            }
            let mut best = (f64::INFINITY, 0);
            for (a, before) in states[i - 1].iter().enumerate() {
                // Costs are not negative: what is dearer already stays so.
                if costs[a] >= best.0 {
                    continue;
                }
                let mut whole = costs[a] + cost(task, jobs[i], before, state);
                if !struck.is_empty() && struck.contains(&(i - 1, a, b)) {
                    whole += STRUCK_OUT;
                }
                if whole < best.0 {
                    best = (whole, a);
                }
            }
            next.push(best.0 + own);
            from.push(best.1);
        }
        costs = next;
        back.push(from);
    }
    let mut chosen = vec![0; jobs.len()];
    let end = costs
        .iter()
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(b.1))
        .map_or(0, |(k, _)| k);
    let mut at = end;
    for i in (0..jobs.len()).rev() {
        chosen[i] = at;
        at = back[i].get(at).copied().unwrap_or(0);
    }
    chosen
}

fn ways_of(task: &Task, jobs: &[usize], states: &[Vec<State>], chosen: &[usize]) -> Vec<Way> {
    let mut ways = Vec::new();
    for i in 1..jobs.len() {
        let (Some(a), Some(b)) = (states[i - 1].get(chosen[i - 1]), states[i].get(chosen[i]))
        else {
            continue;
        };
        ways.push(way(task, (jobs[i - 1], a), (jobs[i], b)));
    }
    ways
}

fn way(task: &Task, (from, a): (usize, &State), (to, b): (usize, &State)) -> Way {
    let (mut start, mut end): (AxisValues, AxisValues) = (*a.leave(), *b.entry());
    // Where the table does not matter it is left where the other step has it.
    if a.table.is_none() {
        start.turn_rad = end.turn_rad;
    } else if b.table.is_none() {
        end.turn_rad = start.turn_rad;
    } else {
        end.turn_rad = task.nearest_turn(start.turn_rad, end.turn_rad);
    }
    let needed = task.cell.accept.clearance_mm;
    let clearance = match task.surroundings.is_empty() {
        true => WayState::NotChecked,
        false => match task.surroundings.way(&start, &end, needed) {
            WayClearance::Clear { nearest, .. } => match nearest {
                Some(nearest) => WayState::Clear(nearest),
                None => WayState::NotChecked,
            },
            WayClearance::Blocked { nearest, share } => WayState::Blocked(nearest, share),
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
