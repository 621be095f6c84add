//! A robust estimate beside the plain one: least squares with weights that fall where residuals are
//! large, worked out again and again (iteratively reweighted least squares, Holland and Welsch 1977).
//!
//! First Huber's ψ (Huber 1964, 1981), whose minimum is unique for linear residuals; from there Tukey's
//! bisquare (Beaton, Tukey 1974), which gives gross errors no weight at all. The residuals are over their
//! stated u, so the scale is 1 and is not estimated. Constants for 95 % efficiency at the normal law.

use crate::fit::solve::Limits;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::solve::Tiles;

/// Huber's constant.
pub const HUBER: f64 = 1.345;
/// Tukey's constant for the bisquare.
pub const BISQUARE: f64 = 4.685;
/// At most so many rounds for each ψ.
const ROUNDS: usize = 60;

/// How the weight of a residual falls with its size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Psi {
    /// Weight 1 up to k, then k/|r|.
    Huber(f64),
    /// Weight (1 − (r/c)²)² up to c, then 0.
    Bisquare(f64),
}

impl Psi {
    /// The weight of a residual over its scale.
    pub fn weight(self, r: f64) -> f64 {
        let size = r.abs();
        match self {
            Psi::Huber(k) if size <= k => 1.0,
            Psi::Huber(k) => k / size,
            Psi::Bisquare(c) if size < c => (1.0 - (size / c).powi(2)).powi(2),
            Psi::Bisquare(_) => 0.0,
        }
    }
}

/// What came out.
#[derive(Debug, Clone, PartialEq)]
pub struct Robust {
    /// The unknowns.
    pub x: Vec<f64>,
    /// Weights of the residuals, 0 to 1.
    pub weights: Vec<f64>,
    /// Rounds of reweighting.
    pub rounds: usize,
    /// Whether the residuals settled to within the tolerance.
    pub converged: bool,
}

/// A problem with its residuals multiplied.
struct Weighted<'p, P: Problem + ?Sized> {
    inner: &'p mut P,
    roots: Vec<f64>,
}

impl<P: Problem + ?Sized> Problem for Weighted<'_, P> {
    fn unknowns(&self) -> usize {
        self.inner.unknowns()
    }

    fn residuals(&self) -> usize {
        self.inner.residuals()
    }

    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        self.inner.residuals_at(x, r);
        for (r, root) in r.iter_mut().zip(&self.roots) {
            *r *= root;
        }
    }

    fn linearise(&mut self, x: &[f64], r: &mut [f64], jacobian: &mut Tiles) {
        self.inner.linearise(x, r, jacobian);
        let n = self.inner.unknowns();
        for (row, root) in self.roots.iter().enumerate() {
            if *root == 1.0 {
                continue;
            }
            r[row] *= root;
            for col in 0..n {
                let value = jacobian.get(row, col);
                jacobian.set(row, col, value * root);
            }
        }
    }
}

/// Reweights from a start until no residual moves by more than `tolerance` of the scale. `None` where the
/// weighted problem breaks down or no longer settles the unknowns.
pub fn reweighted<P: Problem + ?Sized>(
    problem: &mut P,
    start: &[f64],
    psi: Psi,
    scale: f64,
    tolerance: f64,
) -> Option<Robust> {
    let m = problem.residuals();
    let mut residuals = vec![0.0; m];
    let mut next = vec![0.0; m];
    let mut x = start.to_vec();
    let mut solver = Solver::with_limits(Limits {
        offset: (tolerance * 0.1).min(1e-4),
        // A step or two for each round: the weights change again at once.
        evaluations: 3,
    });
    problem.residuals_at(&x, &mut residuals);
    let mut rounds = 0;
    loop {
        let weights: Vec<f64> = residuals.iter().map(|r| psi.weight(r / scale)).collect();
        let mut weighted = Weighted {
            inner: problem,
            roots: weights.iter().map(|w| w.sqrt()).collect(),
        };
        let solution = solver.solve(&mut weighted, &x);
        if !solution.cost.is_finite() || solution.factor.covariance().is_err() {
            return None;
        }
        x.copy_from_slice(solution.x);
        rounds += 1;
        problem.residuals_at(&x, &mut next);
        let moved = residuals.iter().zip(&next).map(|(a, b)| (a - b).abs());
        let moved = moved.fold(0.0, f64::max) / scale;
        std::mem::swap(&mut residuals, &mut next);
        // NaN lands on the refusing side.
        let converged = moved <= tolerance;
        if converged || rounds >= ROUNDS || !moved.is_finite() {
            return x.iter().all(|v| v.is_finite()).then_some(Robust {
                x,
                weights,
                rounds,
                converged,
            });
        }
    }
}

/// Huber's estimate first, Tukey's bisquare from there; scale 1. A hundredth of the stated uncertainties is
/// near enough to see whether it matters.
pub fn robust<P: Problem + ?Sized>(problem: &mut P, start: &[f64]) -> Option<Robust> {
    const TOLERANCE: f64 = 1e-2;
    let huber = reweighted(problem, start, Psi::Huber(HUBER), 1.0, 0.3)?;
    let last = reweighted(problem, &huber.x, Psi::Bisquare(BISQUARE), 1.0, TOLERANCE)?;
    Some(Robust {
        rounds: huber.rounds + last.rounds,
        ..last
    })
}
