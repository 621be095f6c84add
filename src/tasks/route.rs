//! One posture a step, so that the whole task runs well: the shortest way through the table of what
//! every step can do (dynamic programming over the steps), and the ways between proved clear. A way
//! that is not clear is struck out and the search done again.

use std::collections::HashMap;
use std::collections::HashSet;

use crate::kinematics::table_reading;
use crate::reach::Bearing;
use crate::tasks::Fate;
use crate::tasks::Held;
use crate::tasks::Planned;
use crate::tasks::Prefer;
use crate::tasks::State;
use crate::tasks::Task;
use crate::tasks::Way;
use crate::tasks::WhyNot;
use crate::tasks::advice;
use crate::tasks::options::Options;
use crate::tasks::ways::Known;
use crate::tasks::ways::flips;
use crate::tasks::ways::way;
use crate::tasks::ways::ways_of;

/// Searches before a way that is not clear is told as it is.
const MOST_SEARCHES: usize = 80;
/// So many single pairs of postures are struck out at one place before all alike are.
const SINGLES: usize = 6;
/// Most states that are kept for a step; more where the table must stand as at a neighbouring step.
const MOST_STATES: usize = 400;
/// Table angles that are kept for a step at a station: of a few stations, and of all.
const TABLES: [usize; 2] = [8, 2];

// What a choice costs, in degrees of joint travel. A move of the track makes people wait and brings
// in its play; a flip swings the arm through a singular posture.
const TRACK_MOVE: f64 = 400.0;
const TRACK_MM: f64 = 0.1;
const FLIP: f64 = 120.0;
const TABLE_DEG: f64 = 0.5;
const JOINT_DEG: f64 = 0.15;
/// A degree of margin is worth so much, up to [`ENOUGH_DEG`], and below [`LITTLE_DEG`] much more.
const MARGIN_DEG: f64 = 2.0;
const ENOUGH_DEG: f64 = 25.0;
const LITTLE_MARGIN_DEG: f64 = 20.0;
const LITTLE_DEG: f64 = 10.0;
// These come before all others, in this order.
const TRACK_MM_FIRST: f64 = 1e3;
const STRUCK_OUT: f64 = 1e12;
const NOT_TIED: f64 = 1e15;

/// Chooses postures at these nodes, none with less room than `least` where that can be, and proves
/// the ways.
pub(super) fn route(task: &Task, options: &Options, nodes: &[usize], least: f64) -> Planned {
    let jobs: Vec<usize> = options.groups().into_iter().flatten().collect();
    let states: Vec<Vec<State>> = jobs
        .iter()
        .map(|job| kept(task, options, *job, nodes, least))
        .collect();
    let (path, ways) = prove(task, &jobs, &states);
    let mut fates: Vec<Option<Fate>> = vec![None; task.jobs.len()];
    let mut stations: Vec<f64> = Vec::new();
    let mut why: Vec<WhyNot> = options.why.clone();
    for (job, why) in why.iter_mut().enumerate() {
        // It can be done from somewhere, but not from where those it is tied to can.
        if options.best[job].iter().any(Option::is_some) {
            *why = WhyNot::NotTogether;
        }
    }
    for (i, (job, state)) in jobs.iter().zip(&path).enumerate() {
        // Only to the step right before it: where that is not done there is nothing to be tied to.
        let before = i.checked_sub(1).filter(|k| jobs[*k] + 1 == *job);
        if before
            .and_then(|k| path.get(k))
            .is_some_and(|b| !tied(task, *job, b, state))
        {
            why[*job] = WhyNot::NotTogether;
            continue;
        }
        if let Some(track) = state.track
            && !stations.contains(&track)
        {
            stations.push(track);
        }
        fates[*job] = Some(Fate::Done(Box::new(state.clone())));
    }
    let mut stand = (None, None);
    let fates: Vec<Fate> = fates
        .into_iter()
        .enumerate()
        .map(|(job, fate)| match fate {
            Some(Fate::Done(state)) => {
                stand = (state.track.or(stand.0), state.table.or(stand.1));
                Fate::Done(state)
            }
            _ => Fate::Impossible(why[job], advice::advise(task, job, why[job], stand)),
        })
        .collect();
    let done = |k: usize| matches!(fates[k], Fate::Done(_));
    let ways = match jobs.iter().all(|k| done(*k)) {
        true => ways,
        // Past a step that is left out after all the way is another one.
        false => {
            let kept: Vec<usize> = (0..jobs.len().min(path.len()))
                .filter(|i| done(jobs[*i]))
                .collect();
            kept.windows(2)
                .filter_map(|pair| match pair {
                    [a, b] => Some(way(task, (jobs[*a], &path[*a]), (jobs[*b], &path[*b]))),
                    _ => None,
                })
                .collect()
        }
    };
    Planned {
        fates,
        stations,
        at_least: 0,
        tried: 0,
        ways,
    }
}

/// The states of a job that the search chooses from.
fn kept(task: &Task, options: &Options, job: usize, nodes: &[usize], least: f64) -> Vec<State> {
    let few = task.prefer == Prefer::Fewest;
    let mut all: Vec<State> = Vec::new();
    for node in nodes {
        let mut here = options.at_node(job, *node, TABLES[usize::from(!few)]);
        if !few {
            here.sort_by(|a, b| b.room_rad.total_cmp(&a.room_rad));
            here.truncate(if options.linked(job) { 60 } else { 4 });
        }
        all.extend(here);
    }
    all.sort_by(|a, b| b.room_rad.total_cmp(&a.room_rad));
    // No step gets less room than the tightest one must have.
    let best = all.first().map_or(0.0, |s| s.room_rad);
    let floor = least.min(best) - 1e-9;
    let enough = all.iter().filter(|s| s.room_rad >= floor).count();
    let most = if options.linked(job) || !few {
        4 * MOST_STATES
    } else {
        MOST_STATES
    };
    all.truncate(
        if options.linked(job) {
            all.len()
        } else {
            enough
        }
        .min(most),
    );
    all
}

/// Searches, proves the ways, strikes out what is not clear, and searches again. The path is the best
/// that was found: fewest ways that are not clear, then the first one.
fn prove(task: &Task, jobs: &[usize], states: &[Vec<State>]) -> (Vec<State>, Vec<Way>) {
    let mut struck = Struck::default();
    let mut known = Known::new();
    let mut best: Option<(usize, Vec<State>, Vec<Way>)> = None;
    for _ in 0..MOST_SEARCHES {
        let chosen = search(task, jobs, states, &struck);
        let path = unwound(task, jobs, states, &chosen);
        let ways = ways_of(task, jobs, (&chosen, &path), &mut known);
        let bad = ways.iter().filter(|w| !w.clearance.is_clear()).count();
        let mut new = false;
        for (i, way) in ways.iter().enumerate() {
            if !way.clearance.is_clear() {
                new |= struck.add(i, chosen[i], chosen[i + 1], states);
            }
        }
        if best.as_ref().is_none_or(|(b, _, _)| bad < *b) {
            best = Some((bad, path, ways));
        }
        if bad == 0 || !new {
            break;
        }
    }
    best.map_or((Vec::new(), Vec::new()), |(_, path, ways)| (path, ways))
}

/// Pairs of states between which the way is not clear.
#[derive(Default)]
struct Struck {
    single: HashSet<(usize, usize, usize)>,
    count: HashMap<usize, usize>,
    alike: HashSet<(usize, Alike, Alike)>,
}

/// Station and way of holding the arm.
type Alike = (Option<u64>, Bearing);

fn alike(state: &State) -> Alike {
    (state.track.map(f64::to_bits), state.bearing)
}

impl Struck {
    /// Whether that is new.
    fn add(&mut self, i: usize, a: usize, b: usize, states: &[Vec<State>]) -> bool {
        let count = self.count.entry(i).or_insert(0);
        *count += 1;
        let mut new = self.single.insert((i, a, b));
        if *count > SINGLES
            && let (Some(a), Some(b)) = (states[i].get(a), states[i + 1].get(b))
        {
            new |= self.alike.insert((i, alike(a), alike(b)));
        }
        new
    }
    fn has(&self, i: usize, (a, sa): (usize, &State), (b, sb): (usize, &State)) -> bool {
        self.single.contains(&(i, a, b))
            || !self.alike.is_empty() && self.alike.contains(&(i, alike(sa), alike(sb)))
    }
    fn is_empty(&self) -> bool {
        self.single.is_empty()
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
    let room = state.room_rad.to_degrees();
    MARGIN_DEG * (ENOUGH_DEG - room).max(0.0) + LITTLE_MARGIN_DEG * (LITTLE_DEG - room).max(0.0)
}

fn cost(task: &Task, (job, follows): (usize, bool), a: &State, b: &State) -> f64 {
    let mut cost = 0.0;
    if follows && !tied(task, job, a, b) {
        cost += NOT_TIED;
    }
    let travel = (a.at.travel_mm - b.at.travel_mm).abs();
    if travel > 1e-9 {
        cost += match task.prefer {
            Prefer::Fewest => TRACK_MOVE + TRACK_MM * travel,
            Prefer::Travel => TRACK_MM_FIRST * travel,
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

/// For each step the state of the cheapest way through all of them.
fn search(task: &Task, jobs: &[usize], states: &[Vec<State>], struck: &Struck) -> Vec<usize> {
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
                let follows = jobs[i - 1] + 1 == jobs[i];
                let mut whole = costs[a] + cost(task, (jobs[i], follows), before, state);
                if !struck.is_empty() && struck.has(i - 1, (a, before), (b, state)) {
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

/// The chosen states, with a table that turns without end wound so that its readings follow on from
/// one another: each is reached from the one before the short way, unless its step gives the reading.
fn unwound(task: &Task, jobs: &[usize], states: &[Vec<State>], chosen: &[usize]) -> Vec<State> {
    let mut path: Vec<State> = Vec::with_capacity(jobs.len());
    let mut before: Option<f64> = None;
    for ((job, states), k) in jobs.iter().zip(states).zip(chosen) {
        let Some(mut state) = states.get(*k).cloned() else {
            continue;
        };
        let table = task.solver.geometry().turntable.as_ref();
        let turn = match (state.table, before, table) {
            (Some(_), Some(before), Some(table)) => {
                let held = matches!(task.jobs[*job].step.table, Held::At(_));
                let turn = match held {
                    true => state.at.turn_rad,
                    false => task.nearest_turn(before, state.at.turn_rad),
                };
                if (turn - state.at.turn_rad).abs() > 1e-9 {
                    state.table = Some(table_reading(table, turn).0);
                }
                Some(turn)
            }
            (Some(_), None, _) => Some(state.at.turn_rad),
            // Where the table does not matter it stays.
            (None, before, _) => before,
            (Some(_), _, None) => None,
        };
        if let Some(turn) = turn {
            let places = [
                Some(&mut state.at),
                state.approach.as_mut(),
                state.depart.as_mut(),
            ];
            for place in places.into_iter().flatten() {
                place.turn_rad = turn;
            }
            before = Some(turn);
        }
        path.push(state);
    }
    path
}
