//! Nonlinear least squares on orthogonal factorisations.
//!
//! Minimises S(x) = Σ r_i(x)². With J = ∂r/∂x = QR, the Gauss-Newton step solves R p = −Qᵀr. Where that step does not
//! bring S down as forecast, a radius is put on ‖D p‖, D the largest column norms of J so far, and the step becomes
//! that of J with the rows √λ·D below it (Levenberg 1944, Marquardt 1963; λ, D and the radius as in Moré 1978). Those
//! rows are rotated into R; JᵀJ is never formed, so the digits lost are those of cond(J), not of its square.
//!
//! Why the solve ended, what it found and how well that is determined are separate: [`Ending`], [`Solution::x`],
//! and [`Factor`], from which covariance, leverages, singular values and free directions are read.
//!
//! ```
//! use notchpin::fit::solve::{Ending, Problem, Solver, Tiles};
//!
//! /// y = a·exp(b·t), through (0, 2), (1, 4), (2, 8).
//! struct Growth;
//! impl Problem for Growth {
//!     fn unknowns(&self) -> usize { 2 }
//!     fn residuals(&self) -> usize { 3 }
//!     fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
//!         for (t, y) in [2.0, 4.0, 8.0].into_iter().enumerate() {
//!             r[t] = x[0] * (x[1] * t as f64).exp() - y;
//!         }
//!     }
//!     fn linearise(&mut self, x: &[f64], r: &mut [f64], j: &mut Tiles) {
//!         self.residuals_at(x, r);
//!         for t in 0..3 {
//!             let e = (x[1] * t as f64).exp();
//!             j.set_row(t, &[e, x[0] * t as f64 * e]);
//!         }
//!     }
//! }
//! let mut solver = Solver::new();
//! let solution = solver.solve(&mut Growth, &[1.0, 1.0]);
//! assert_eq!(solution.ending, Ending::Converged);
//! assert!((solution.x[1] - 2f64.ln()).abs() < 1e-12);
//! ```

mod ending;
mod factor;
mod kernel;
mod step;
mod tiles;

#[cfg(test)]
mod tests;

pub use ending::Ending;
pub use ending::Limits;
pub use factor::Dependent;
pub use factor::Factor;
pub use factor::Spectrum;
pub use tiles::Tiles;

use std::mem;
use step::Stepper;
use step::scaled_norm;

/// Something with residuals to be made small. Sign: r = computed − observed, or the reverse, as long as J goes with it.
pub trait Problem {
    /// Number of unknowns, n.
    fn unknowns(&self) -> usize;

    /// Number of residuals, m. Fewer than unknowns is allowed; the step is then the shortest one.
    fn residuals(&self) -> usize;

    /// Writes the m residuals at `x`. Values that are not finite mean "not there": the step is taken back.
    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]);

    /// Writes the residuals at `x` and their derivatives: row i, column k of `j` is ∂r_i/∂x_k. Entries that are
    /// not written keep what the last call wrote there, zero before the first.
    fn linearise(&mut self, x: &[f64], r: &mut [f64], j: &mut Tiles);
}

/// Where the solver ended; borrows the solver's memory.
#[derive(Clone, Debug)]
pub struct Solution<'a> {
    /// The unknowns.
    pub x: &'a [f64],
    /// Residuals at `x`.
    pub residuals: &'a [f64],
    /// Derivatives at `x`.
    pub jacobian: &'a Tiles,
    /// Factor of `jacobian`.
    pub factor: &'a Factor,
    /// S, the sum of squared residuals at `x`.
    pub cost: f64,
    /// Steps taken.
    pub iterations: usize,
    /// Points evaluated, the start included.
    pub evaluations: usize,
    /// Why it stopped.
    pub ending: Ending,
}

/// The memory of a solve; reuse it and nothing is allocated while iterating.
#[derive(Clone, Debug, Default)]
pub struct Solver {
    limits: Limits,
    x: Vec<f64>,
    residuals: Vec<f64>,
    jacobian: Tiles,
    factor: Factor,
    trial: Vec<f64>,
    trial_residuals: Vec<f64>,
    trial_factor: Factor,
    scratch: Vec<f64>,
    norms: Vec<f64>,
    scale: Vec<f64>,
    step: Vec<f64>,
    stepper: Stepper,
}

/// A step must bring at least this share of the forecast (Moré 1978: 1e-4).
const WORTHWHILE: f64 = 1e-4;

/// Rounding of the residuals, in units of ε·‖D x‖: a step that moves them less is no step.
const ROUNDING: f64 = 4.0 * f64::EPSILON;

/// Where S is at its rounding, steps go on while each takes away at least a tenth of ‖J p‖².
const POLISHING: f64 = 0.9;

impl Solver {
    /// A solver with the default limits.
    pub fn new() -> Self {
        Solver::default()
    }

    /// A solver with limits of its own.
    pub fn with_limits(limits: Limits) -> Self {
        Solver {
            limits,
            ..Solver::default()
        }
    }

    /// Minimises S from `start`.
    pub fn solve<P: Problem + ?Sized>(&mut self, problem: &mut P, start: &[f64]) -> Solution<'_> {
        let (n, m) = (problem.unknowns(), problem.residuals());
        assert_eq!(start.len(), n, "one start value per unknown");
        self.resize(n, m);
        self.x.copy_from_slice(start);
        let mut run = Run {
            iterations: 0,
            evaluations: 1,
            cost: 0.0,
            stale: false,
        };
        problem.linearise(&self.x, &mut self.residuals, &mut self.jacobian);
        run.cost = sum_of_squares(&self.residuals);
        self.factor
            .refactor(&self.jacobian, &self.residuals, m, &mut self.scratch);
        self.factor.column_norms(&mut self.norms);
        let ending = if run.cost.is_finite() && all_finite(&self.norms) {
            self.iterate(problem, &mut run)
        } else {
            Ending::NotFinite {
                residual: self.first_not_finite(),
            }
        };
        if run.stale {
            problem.linearise(&self.x, &mut self.residuals, &mut self.jacobian);
        }
        Solution {
            x: &self.x,
            residuals: &self.residuals,
            jacobian: &self.jacobian,
            factor: &self.factor,
            cost: run.cost,
            iterations: run.iterations,
            evaluations: run.evaluations,
            ending,
        }
    }

    fn resize(&mut self, n: usize, m: usize) {
        self.jacobian.resize(m, n);
        for vector in [&mut self.residuals, &mut self.trial_residuals] {
            vector.clear();
            vector.resize(m, 0.0);
        }
        for vector in [
            &mut self.x,
            &mut self.trial,
            &mut self.norms,
            &mut self.scale,
            &mut self.step,
        ] {
            vector.clear();
            vector.resize(n, 0.0);
        }
        self.stepper.resize(n);
    }

    fn iterate<P: Problem + ?Sized>(&mut self, problem: &mut P, run: &mut Run) -> Ending {
        let mut radius = f64::INFINITY;
        loop {
            for (scale, norm) in self.scale.iter_mut().zip(&self.norms) {
                *scale = scale.max(*norm);
                if *scale == 0.0 {
                    // A column that was zero so far has no length to be measured by; any positive one damps it.
                    *scale = 1.0;
                }
            }
            let open = self.stepper.at(&self.factor, &self.norms);
            let extent = scaled_norm(&self.norms, &self.x);
            if open.sqrt() <= (self.limits.offset * run.cost.sqrt()).max(ROUNDING * extent) {
                return Ending::Converged;
            }
            let offset = (open / run.cost).sqrt();
            let mut first = true;
            loop {
                if run.evaluations >= self.limits.evaluations {
                    return Ending::IterationsSpent {
                        cost: run.cost,
                        offset,
                        evaluations: run.evaluations,
                    };
                }
                let forecast =
                    self.stepper
                        .within(&self.factor, &self.scale, radius, &mut self.step);
                let mut moved = false;
                for ((trial, x), p) in self.trial.iter_mut().zip(&self.x).zip(&self.step) {
                    *trial = x + p;
                    moved |= *trial != *x;
                }
                if !moved || !forecast.length.is_finite() {
                    return Ending::NoDownhillStep {
                        cost: run.cost,
                        offset,
                    };
                }
                // An undamped step is likely to stay, so its derivatives are taken along.
                let along = first && forecast.damping == 0.0;
                self.evaluate_trial(problem, run, along);
                first = false;
                let cost = sum_of_squares(&self.trial_residuals);
                if along && open <= ROUNDING * run.cost.sqrt() * (run.cost.sqrt() + extent) {
                    // S can no longer tell the two points apart; what is left to move still can.
                    let left = if cost.is_finite() && self.factor_trial() {
                        self.trial_factor.removable()
                    } else {
                        open
                    };
                    if left < open {
                        self.accept(run, cost);
                    } else {
                        self.factor.column_norms(&mut self.norms);
                    }
                    if left < POLISHING * open {
                        break;
                    }
                    return Ending::Converged;
                }
                let decrease = decrease(&self.residuals, &self.trial_residuals);
                let mut gain = if cost.is_finite() {
                    decrease / forecast.decrease
                } else {
                    f64::NEG_INFINITY
                };
                if gain >= WORTHWHILE {
                    if !along {
                        problem.linearise(
                            &self.trial,
                            &mut self.trial_residuals,
                            &mut self.jacobian,
                        );
                        run.stale = true;
                    }
                    if !self.factor_trial() {
                        gain = f64::NEG_INFINITY;
                        self.factor.column_norms(&mut self.norms);
                    }
                }
                radius = next_radius(radius, gain, decrease, &forecast);
                if gain >= WORTHWHILE {
                    self.accept(run, cost);
                    break;
                }
                if forecast.length <= f64::EPSILON * extent {
                    return Ending::NoDownhillStep {
                        cost: run.cost,
                        offset,
                    };
                }
            }
        }
    }

    fn evaluate_trial<P: Problem + ?Sized>(&mut self, problem: &mut P, run: &mut Run, along: bool) {
        if along {
            problem.linearise(&self.trial, &mut self.trial_residuals, &mut self.jacobian);
            run.stale = true;
        } else {
            problem.residuals_at(&self.trial, &mut self.trial_residuals);
        }
        run.evaluations += 1;
    }

    /// Factors J at the trial point; the norms become those of its columns. `false` where they are not finite.
    fn factor_trial(&mut self) -> bool {
        let m = self.residuals.len();
        self.trial_factor
            .refactor(&self.jacobian, &self.trial_residuals, m, &mut self.scratch);
        self.trial_factor.column_norms(&mut self.norms);
        all_finite(&self.norms)
    }

    fn accept(&mut self, run: &mut Run, cost: f64) {
        mem::swap(&mut self.x, &mut self.trial);
        mem::swap(&mut self.residuals, &mut self.trial_residuals);
        mem::swap(&mut self.factor, &mut self.trial_factor);
        run.cost = cost;
        run.iterations += 1;
        run.stale = false;
    }

    fn first_not_finite(&self) -> Option<usize> {
        let row_finite =
            |i: usize| (0..self.jacobian.cols()).all(|k| self.jacobian.get(i, k).is_finite());
        (0..self.residuals.len()).find(|&i| !(self.residuals[i].is_finite() && row_finite(i)))
    }
}

struct Run {
    iterations: usize,
    evaluations: usize,
    cost: f64,
    /// The Jacobian at hand is not that of the present point.
    stale: bool,
}

/// The radius after a step whose decrease was `gain` times the forecast.
fn next_radius(radius: f64, gain: f64, decrease: f64, forecast: &step::Forecast) -> f64 {
    if gain > 0.75 {
        return if forecast.damping == 0.0 {
            radius.max(2.0 * forecast.length)
        } else {
            2.0 * forecast.length
        };
    }
    if gain > 0.25 {
        return radius;
    }
    // The least point along the step of the parabola through S and its slope here and S at the trial point.
    let slope = -0.5 * forecast.decrease;
    let shrink = if decrease >= 0.0 {
        0.5
    } else {
        0.5 * slope / (slope + 0.5 * decrease)
    };
    let shrink = if shrink > 0.1 { shrink.min(0.5) } else { 0.1 };
    shrink * radius.min(forecast.length)
}

fn sum_of_squares(r: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    let (eights, rest) = r.as_chunks::<8>();
    for eight in eights {
        for (sum, value) in sums.iter_mut().zip(eight) {
            *sum += value * value;
        }
    }
    sums.iter().sum::<f64>() + rest.iter().map(|v| v * v).sum::<f64>()
}

/// Σ old² − Σ new², without taking the difference of two large sums.
fn decrease(old: &[f64], new: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    let (old8, old_rest) = old.as_chunks::<8>();
    let (new8, new_rest) = new.as_chunks::<8>();
    for (a, b) in old8.iter().zip(new8) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += (a - b) * (a + b);
        }
    }
    sums.iter().sum::<f64>()
        + old_rest
            .iter()
            .zip(new_rest)
            .map(|(a, b)| (a - b) * (a + b))
            .sum::<f64>()
}

fn all_finite(values: &[f64]) -> bool {
    values.iter().all(|value| value.is_finite())
}
