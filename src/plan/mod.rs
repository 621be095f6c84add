//! What to measure next: the fewest readings that make the tip sure enough at every point, and then
//! those with which no single slip goes unnoticed.
//!
//! Greedy: of all readings that could be taken, the one that helps most comes first; each shrinks the
//! covariance by a rank of as many as it has components (Sherman, Morrison 1950; Woodbury 1950). That
//! choosing so is never far from the best choice of as many readings: Nemhauser, Wolsey, Fisher 1978.

mod advise;
mod combination;
mod planner;
mod state;

pub use advise::advise;

use std::collections::HashMap;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::chi2::radius_95;
use crate::parameters::Unknowns;
use crate::plan::planner::Planner;
use crate::plan::state::State;
use crate::proposals::Proposal;
use crate::proposals::proposals;
use crate::registration::PointCheck;
use crate::registration::points_at;

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

/// Plans at most `most` readings at a geometry; `progress` hears after each how many there are.
pub fn plan(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    most: usize,
    progress: &mut dyn FnMut(usize),
) -> Option<Plan> {
    planned(bench, unknowns, geometry, (most, false), progress)
}

/// The same where there may be no point to aim at: then the readings settle the unknowns and check each
/// other, and it ends with [`Ended::NoPoint`]. `worst_mm` and `point` of such steps mean nothing.
pub fn plan_or_settle(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    most: usize,
    progress: &mut dyn FnMut(usize),
) -> Option<Plan> {
    planned(bench, unknowns, geometry, (most, true), progress)
}

fn planned(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    (most, aimless): (usize, bool),
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
        aimless,
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
