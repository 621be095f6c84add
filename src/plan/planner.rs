//! One reading after another, each the one that helps most.

use std::collections::HashMap;

use nalgebra::DMatrix;

use crate::fit::assess::DETECTABLE;
use crate::plan::Ended;
use crate::plan::Purpose;
use crate::plan::Step;
use crate::plan::state::State;
use crate::plan::state::Update;
use crate::proposals::Proposal;

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
/// Without a point to aim at, one with a tolerance is settled once the readings halve that.
const SETTLED_TIED: f64 = 0.5;

struct Choice {
    candidate: usize,
    update: Update,
}

/// A plan in the making.
pub(super) struct Planner {
    pub(super) state: State,
    pub(super) candidates: Vec<Proposal>,
    pub(super) rows: Vec<DMatrix<f64>>,
    pub(super) left: Vec<usize>,
    pub(super) used: HashMap<(&'static str, String), i32>,
    pub(super) goal_mm: Option<f64>,
    /// Whether to go on without a point to aim at.
    pub(super) aimless: bool,
}

impl Planner {
    pub(super) fn run(
        &mut self,
        most: usize,
        steps: &mut Vec<Step>,
        progress: &mut dyn FnMut(usize),
    ) -> Ended {
        let no_point = self.state.targets.is_empty();
        if no_point && !self.aimless {
            return Ended::NoPoint;
        }
        // Why the tip gets no surer, once that is so.
        let mut given_up = no_point.then_some(Ended::NoPoint);
        loop {
            let sure = !no_point && self.sure();
            let (purpose, choice) = if !sure && given_up.is_none() {
                (Purpose::Sure, self.best_to_be_sure())
            } else if let Some(choice) = self.best_to_settle() {
                (Purpose::Settle, Ok(choice))
            } else {
                (Purpose::Check, self.best_to_check())
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
                worst_mm: u95s.get(worst).copied().unwrap_or(0.0),
                point: self.state.targets.get(worst).map_or(0, |t| t.point),
                purpose,
            });
            progress(steps.len());
        }
    }

    pub(super) fn u95s(&self) -> Vec<f64> {
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
        let aimless = self.state.targets.is_empty();
        let open: Vec<usize> = (0..self.state.scale.len())
            .filter(|j| {
                let left = self.state.c[(*j, *j)].sqrt();
                match self.state.tied[*j] {
                    true => aimless && left > SETTLED_TIED,
                    false => left > SETTLED_FREE,
                }
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
    pub(super) fn poorly_checked(&self, readings: usize) -> usize {
        let rows = self.state.rows.iter().take(readings);
        rows.flat_map(|row| self.state.redundancies(row))
            .filter(|r| *r < CHECKED)
            .count()
    }
}
