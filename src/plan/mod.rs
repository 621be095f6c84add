//! What to measure next: the fewest readings that make the tip sure enough at every point, and then
//! those with which no single slip goes unnoticed.
//!
//! Greedy: of all readings that could be taken, the one that helps most comes first; each shrinks the
//! covariance by a rank of as many as it has components (Sherman, Morrison 1950; Woodbury 1950). That
//! choosing so is never far from the best choice of as many readings: Nemhauser, Wolsey, Fisher 1978.

mod advise;
mod combination;
mod state;

pub use advise::advise;

use std::collections::HashMap;

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::assess::DETECTABLE;
use crate::fit::chi2::radius_95;
use crate::parameters::Unknowns;
use crate::plan::state::State;
use crate::plan::state::Update;
use crate::proposals::Proposal;
use crate::proposals::proposals;
use crate::registration::PointCheck;
use crate::registration::points_at;

/// The worst point counts most: powers of its mean square.
const POWER: i32 = 4;
/// A reading that improves the whole by less than this share buys little.
const LITTLE: f64 = 0.02;
/// A residual is checked well enough from this redundancy on: a slip of 8.3 u is noticed
/// (4.13/sqrt(0.25), Baarda 1968).
const CHECKED: f64 = 0.25;
/// A place that is used again says less that is independent.
const AGAIN: f64 = 0.8;
/// A reading must add at least so much redundancy where it is wanted.
const CHECKS_LITTLE: f64 = 0.02;

/// An unknown is settled once the readings hold it to this many of its scaling units (its tolerance; free:
/// 1 mm, 1 degree): the bound beyond which a registration calls it weak, with room to spare.
const SETTLED_FREE: f64 = 3.0;

/// What a reading of a plan is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// The tip is to be surer at the points.
    Sure,
    /// An unknown of `[solve]` would stay open, though no point needs it.
    Settle,
    /// Others are to be checked.
    Check,
}

impl Purpose {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            Purpose::Sure => "sure",
            Purpose::Settle => "settle",
            Purpose::Check => "check",
        }
    }
}

/// Why a plan ends where it does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// Every point is sure enough, and every reading is checked.
    Reached,
    /// Every point is sure enough; some readings stay unchecked by any that could be taken.
    ReachedUnchecked,
    /// More readings buy little.
    Little,
    /// The number of readings that was allowed is used up.
    Most,
    /// No reading that could be taken says anything more.
    NothingLeft,
    /// No point was given that can be looked at.
    NoPoint,
}

impl Ended {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            Ended::Reached => "reached",
            Ended::ReachedUnchecked => "reached, some readings unchecked",
            Ended::Little => "more buys little",
            Ended::Most => "as many readings as allowed",
            Ended::NothingLeft => "nothing left to measure",
            Ended::NoPoint => "no point to aim at",
        }
    }
}

/// One reading of a plan.
#[derive(Debug, Clone)]
pub struct Step {
    /// The reading.
    pub proposal: Proposal,
    /// Largest u95 of the tip after it, mm.
    pub worst_mm: f64,
    /// The point where that is.
    pub point: usize,
    /// What it is for.
    pub purpose: Purpose,
}

/// How sure the tip is at a point, before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedPoint {
    /// Its place in the list of points.
    pub point: usize,
    /// u95 now, mm.
    pub before_mm: f64,
    /// u95 after all readings of the plan, mm.
    pub after_mm: f64,
    /// u95 that would be left if everything were known: the play of the axes, mm.
    pub floor_mm: f64,
}

/// A plan.
#[derive(Debug, Clone)]
pub struct Plan {
    /// u95 to reach, mm.
    pub goal_mm: Option<f64>,
    /// All points, those out of reach too.
    pub points: Vec<PointCheck>,
    /// Those that are aimed at.
    pub aimed: Vec<PlannedPoint>,
    /// What to measure, in this order.
    pub steps: Vec<Step>,
    /// Why it ends there.
    pub ended: Ended,
    /// How many readings could be taken.
    pub candidates: usize,
    /// Residuals of readings taken that hardly anything checks: before and after.
    pub unchecked: [usize; 2],
}

impl Plan {
    /// Whether every point would be as sure as was asked for.
    pub fn reached(&self) -> bool {
        match self.goal_mm {
            Some(goal) => !self.aimed.is_empty() && self.aimed.iter().all(|p| p.after_mm <= goal),
            None => !self.aimed.is_empty(),
        }
    }
}

struct Choice {
    candidate: usize,
    update: Update,
}

/// Plans at most `most` readings at a geometry; `progress` hears after each how many there are.
pub fn plan(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    most: usize,
    progress: &mut dyn FnMut(usize),
) -> Option<Plan> {
    let mut state = State::new(bench, unknowns, geometry)?;
    let points = points_at(bench, geometry, unknowns, &state.covariance());
    state.aim(geometry, unknowns, &points);
    let candidates = proposals(bench, unknowns, geometry);
    let mut planner = Planner {
        rows: candidates.iter().map(|p| state.scaled(&p.j)).collect(),
        left: (0..candidates.len()).collect(),
        candidates,
        used: HashMap::new(),
        goal_mm: bench.cell.accept.tip_mm,
        state,
    };
    let taken = planner.state.rows.len();
    let before: Vec<f64> = planner.u95s();
    let unchecked_before = planner.poorly_checked(taken);
    let mut steps = Vec::new();
    let ended = planner.run(most, &mut steps, progress);
    let after = planner.u95s();
    let aimed = planner.state.targets.iter().zip(before).zip(after);
    let aimed = aimed
        .map(|((t, before_mm), after_mm)| PlannedPoint {
            point: t.point,
            before_mm,
            after_mm,
            floor_mm: radius_95(&t.play_mm2),
        })
        .collect();
    Some(Plan {
        goal_mm: planner.goal_mm,
        aimed,
        points,
        steps,
        ended,
        candidates: planner.candidates.len(),
        unchecked: [unchecked_before, planner.poorly_checked(taken)],
    })
}

struct Planner {
    state: State,
    candidates: Vec<Proposal>,
    rows: Vec<DMatrix<f64>>,
    left: Vec<usize>,
    used: HashMap<(&'static str, String), i32>,
    goal_mm: Option<f64>,
}

impl Planner {
    fn run(
        &mut self,
        most: usize,
        steps: &mut Vec<Step>,
        progress: &mut dyn FnMut(usize),
    ) -> Ended {
        if self.state.targets.is_empty() {
            return Ended::NoPoint;
        }
        // Why the tip gets no surer, once that is so.
        let mut given_up: Option<Ended> = None;
        loop {
            let sure = self.sure();
            let (purpose, choice) = match (sure || given_up.is_some(), self.best_to_settle()) {
                (false, _) => (Purpose::Sure, self.best_to_be_sure()),
                (true, Some(choice)) => (Purpose::Settle, Ok(choice)),
                (true, None) => (Purpose::Check, self.best_to_check()),
            };
            let end = |ended: Ended| match (sure, ended) {
                (true, Ended::Reached) => Ended::Reached,
                (true, _) => Ended::ReachedUnchecked,
                (false, ended) => given_up.unwrap_or(ended),
            };
            let choice = match (choice, purpose) {
                (Ok(choice), _) => choice,
                (Err(ended), Purpose::Sure) => {
                    given_up = Some(ended);
                    continue;
                }
                (Err(ended), _) => return end(ended),
            };
            if steps.len() >= most {
                return end(Ended::Most);
            }
            let Choice { candidate, update } = choice;
            self.left.retain(|k| *k != candidate);
            self.state.add(self.rows[candidate].clone(), &update);
            let proposal = self.candidates[candidate].clone();
            let key = (proposal.kind, proposal.draft.place.clone());
            *self.used.entry(key).or_insert(0) += 1;
            let u95s = self.u95s();
            let worst = (0..u95s.len()).max_by(|a, b| u95s[*a].total_cmp(&u95s[*b]));
            let worst = worst.unwrap_or(0);
            steps.push(Step {
                proposal,
                worst_mm: u95s[worst],
                point: self.state.targets[worst].point,
                purpose,
            });
            progress(steps.len());
        }
    }

    fn u95s(&self) -> Vec<f64> {
        self.state
            .targets
            .iter()
            .map(|t| self.state.u95_mm(t))
            .collect()
    }

    /// Whether every point is as sure as was asked for.
    fn sure(&self) -> bool {
        self.goal_mm
            .is_some_and(|goal| self.u95s().iter().all(|u| *u <= goal))
    }

    /// Σ (mean square of the tip's error)^4 over the points: mostly that of the worst.
    fn badness(&self, update: Option<&Update>) -> f64 {
        let unit = self.goal_mm.unwrap_or(1.0).powi(2);
        let all = self.state.targets.iter();
        all.map(|t| (self.state.tip(t, update).trace() / unit).powi(POWER))
            .sum()
    }

    fn weight(&self, candidate: usize) -> f64 {
        let p = &self.candidates[candidate];
        let times = self.used.get(&(p.kind, p.draft.place.clone())).copied();
        AGAIN.powi(times.unwrap_or(0))
    }

    fn best_to_be_sure(&self) -> Result<Choice, Ended> {
        let now = self.badness(None);
        let mut best: Option<(Choice, f64, f64)> = None;
        for candidate in &self.left {
            let Some(update) = self.state.update(&self.rows[*candidate]) else {
                continue;
            };
            let left = self.badness(Some(&update));
            let gain = (now - left) * self.weight(*candidate);
            if best.as_ref().is_none_or(|b| gain > b.1) {
                let choice = Choice {
                    candidate: *candidate,
                    update,
                };
                best = Some((choice, gain, left));
            }
        }
        let (choice, _, left) = best.ok_or(Ended::NothingLeft)?;
        // As a share of the radius: the fourth power of its square is the eighth of it.
        let share = 1.0 - (left / now).powf(0.5 / f64::from(POWER));
        match share >= LITTLE {
            true => Ok(choice),
            false => Err(Ended::Little),
        }
    }

    /// The reading that settles most of what is still open, where anything is.
    fn best_to_settle(&self) -> Option<Choice> {
        let open: Vec<usize> = (0..self.state.scale.len())
            .filter(|j| {
                let free = !self.state.tied[*j];
                free && self.state.c[(*j, *j)].sqrt() > SETTLED_FREE
            })
            .collect();
        let mut best: Option<(Choice, f64)> = None;
        for candidate in self.left.iter().filter(|_| !open.is_empty()) {
            let Some(update) = self.state.update(&self.rows[*candidate]) else {
                continue;
            };
            let gain: f64 = open
                .iter()
                .map(|j| {
                    let now = self.state.c[(*j, *j)];
                    let left = (now - update.a.row(*j).norm_squared()).max(1e-12);
                    (now / left).ln()
                })
                .sum();
            let gain = gain * self.weight(*candidate);
            if best.as_ref().is_none_or(|b| gain > b.1) {
                let choice = Choice {
                    candidate: *candidate,
                    update,
                };
                best = Some((choice, gain));
            }
        }
        // A tenth of the logarithm: anything less does not settle it.
        best.filter(|(_, gain)| *gain > 0.1)
            .map(|(choice, _)| choice)
    }

    /// Rows that hardly anything checks, with what they lack, among those of readings that are settled.
    fn lacking(&self) -> Vec<(DMatrix<f64>, f64)> {
        let mut found = Vec::new();
        for row in &self.state.rows {
            for (i, r) in self.state.redundancies(row).into_iter().enumerate() {
                let one = row.rows(i, 1).into_owned();
                if r < CHECKED {
                    found.push((one, CHECKED - r));
                } else if r < 2.0 * CHECKED && self.moves_too_far(&one, r) {
                    found.push((one, 2.0 * CHECKED - r));
                }
            }
        }
        found
    }

    /// Whether an error of a residual that is just not noticed could move the tip at some point farther than
    /// was asked for.
    fn moves_too_far(&self, row: &DMatrix<f64>, redundancy: f64) -> bool {
        let Some(goal) = self.goal_mm else {
            return false;
        };
        let size = DETECTABLE / redundancy.max(1e-9).sqrt();
        let moved = &self.state.c * row.transpose();
        let targets = self.state.targets.iter();
        targets
            .map(|t| (&t.g * &moved).norm() * size)
            .any(|mm| mm > goal)
    }

    fn best_to_check(&self) -> Result<Choice, Ended> {
        let lacking = self.lacking();
        if lacking.is_empty() {
            return Err(Ended::Reached);
        }
        let mut best: Option<(Choice, f64)> = None;
        for candidate in &self.left {
            let Some(update) = self.state.update(&self.rows[*candidate]) else {
                continue;
            };
            let gain = lacking.iter().map(|(row, lack)| {
                let more = (row * &update.a).norm_squared();
                more.min(*lack)
            });
            let gain = gain.sum::<f64>() * self.weight(*candidate);
            if best.as_ref().is_none_or(|b| gain > b.1) {
                let choice = Choice {
                    candidate: *candidate,
                    update,
                };
                best = Some((choice, gain));
            }
        }
        match best {
            Some((choice, gain)) if gain > CHECKS_LITTLE => Ok(choice),
            _ => Err(Ended::NothingLeft),
        }
    }

    /// Residuals of the first readings that hardly anything checks.
    fn poorly_checked(&self, readings: usize) -> usize {
        let rows = self.state.rows.iter().take(readings);
        rows.flat_map(|row| self.state.redundancies(row))
            .filter(|r| *r < CHECKED)
            .count()
    }
}
