//! A network solved from some of the readings, and how well another reading agrees with it.

use nalgebra::DMatrix;
use nalgebra::DVector;
use nalgebra::SymmetricEigen;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::fit::adjust::Minimum;
use crate::fit::adjust::Network;
use crate::fit::assess::Assessment;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::assess::assess;
use crate::fit::solve::Limits;
use crate::fit::solve::Problem;
use crate::fit::solve::Solver;
use crate::fit::start::least;
use crate::parameters::Unknowns;
use crate::readings::Taken;

/// A reading agrees with a solution that it is no part of above this probability, the level of the global test.
pub(super) const FITS: f64 = GLOBAL_LIMIT;
/// Residuals times unknowns of a network that is solved in well under a millisecond.
pub(super) const SMALL: usize = 20_000;
/// A part of a reading's variance below this share is none.
const NOTHING: f64 = 1e-6;

/// What came out of some of the readings.
#[derive(Debug, Clone)]
pub struct Solved {
    /// The unknowns, tolerances that were released taken off.
    pub unknowns: Unknowns,
    /// Places in the bench's list of the readings that took part.
    pub used: Vec<usize>,
    /// Where S is least.
    pub minimum: Minimum,
    /// Tests and covariance.
    pub assessment: Assessment,
    /// The geometry there.
    pub geometry: Geometry,
}

/// Trials that run astray in a landscape that makes no sense are cut short.
const ROUGH: Limits = Limits {
    offset: 1e-6,
    evaluations: 40,
};

/// In a network with more residuals times unknowns than this a solution takes milliseconds: trials there start
/// from one place and end sooner.
pub(super) const LARGE: usize = 50_000;
const ROUGH_LARGE: Limits = Limits {
    offset: 1e-4,
    evaluations: 10,
};

/// Where a run starts.
#[derive(Debug, Clone, Copy)]
pub enum Start<'a> {
    /// At these values, and at the nominal ones; the least of both.
    Near(&'a [f64]),
    /// The same, but not to the end: good enough to compare trials that may be far off.
    Roughly(&'a [f64]),
    /// As a registration does: all that may be wrong by a quarter turn is tried.
    Anywhere,
}

/// Solves with some of the readings; `None` where they do not settle the unknowns.
pub fn solve(
    nominal: &Geometry,
    unknowns: &Unknowns,
    taken: &[&Taken],
    used: Vec<usize>,
    from: Start<'_>,
) -> Option<Solved> {
    let part: Vec<&Taken> = used.iter().map(|i| taken[*i]).collect();
    let mut network = Network::new(nominal, unknowns, part);
    let minimum = match from {
        Start::Anywhere => least(&mut network),
        Start::Near(start) => near(&mut network, &mut Solver::new(), start),
        Start::Roughly(start) => {
            let large = network.residuals() * network.unknowns() > LARGE;
            let limits = if large { ROUGH_LARGE } else { ROUGH };
            let mut solver = Solver::with_limits(limits);
            match large {
                true => network.minimum_from(&mut solver, start),
                false => near(&mut network, &mut solver, start),
            }
        }
    };
    if !minimum.chi2.is_finite() {
        return None;
    }
    let assessment = assess(&network, &minimum).ok()?;
    let geometry = network.geometry_at(&minimum.x);
    Some(Solved {
        unknowns: unknowns.clone(),
        used,
        minimum,
        assessment,
        geometry,
    })
}

/// From some values and from the nominal ones; the least of both.
fn near(network: &mut Network<'_>, solver: &mut Solver, start: &[f64]) -> Minimum {
    let near = network.minimum_from(solver, start);
    let values = network.nominal().to_vec();
    let drawn = network.minimum_from(solver, &values);
    match near.chi2 <= drawn.chi2 || !drawn.chi2.is_finite() {
        true => near,
        false => drawn,
    }
}

/// The readings of a bench by their places in its list.
pub fn all(bench: &Bench) -> Vec<&Taken> {
    bench.taken.iter().collect()
}

/// Residuals of some readings over their u, with derivatives by the unknowns.
#[derive(Debug, Clone)]
pub struct Block {
    /// Residuals.
    pub r: DVector<f64>,
    /// Derivatives, a row each.
    pub j: DMatrix<f64>,
}

/// Residuals and derivatives of readings at a geometry; `None` where not finite.
pub fn block(geometry: &Geometry, unknowns: &Unknowns, readings: &[&Taken]) -> Option<Block> {
    let n = unknowns.len();
    let m: usize = readings.iter().map(|t| t.reading.components()).sum();
    let mut r = DVector::zeros(m);
    let mut j = DMatrix::zeros(m, n);
    let mut by = vec![[0.0; 3]; n];
    let mut row = 0;
    for taken in readings {
        by.fill([0.0; 3]);
        let found = taken
            .reading
            .evaluate(geometry, unknowns, Some(&mut by[..]));
        for k in 0..found.count {
            r[row] = found.value[k] / taken.u;
            for (col, d) in by.iter().enumerate() {
                j[(row, col)] = d[k] / taken.u;
            }
            row += 1;
        }
    }
    let finite = r.iter().chain(j.iter()).all(|v| v.is_finite());
    finite.then_some(Block { r, j })
}

/// How well some readings agree with a solution that they are no part of.
#[derive(Debug, Clone)]
pub struct Predicted {
    /// rᵀ (I + J C Jᵀ)⁻¹ r: χ² with as many degrees of freedom as residuals, if nothing is wrong.
    pub t: f64,
    /// Residuals over their u.
    pub r: Vec<f64>,
    /// Standard uncertainty of each, in units of its u: that of the reading and of the prediction.
    pub sd: Vec<f64>,
}

impl Solved {
    /// Residuals and derivatives of readings at this solution; `None` where not finite.
    pub fn block(&self, readings: &[&Taken]) -> Option<Block> {
        block(&self.geometry, &self.unknowns, readings)
    }

    /// How well readings that took no part agree with this.
    pub fn predict(&self, readings: &[&Taken]) -> Option<Predicted> {
        let block = self.block(readings)?;
        let m = block.r.len();
        let q =
            DMatrix::identity(m, m) + &block.j * &self.assessment.covariance * block.j.transpose();
        let solved = q.clone().cholesky()?.solve(&block.r);
        Some(Predicted {
            t: block.r.dot(&solved),
            r: block.r.iter().copied().collect(),
            sd: (0..m).map(|i| q[(i, i)].sqrt()).collect(),
        })
    }

    /// By how much S would fall without one of the readings that took part, and with how many degrees
    /// of freedom (those of its residuals that anything checks), to first order.
    pub fn share(&self, reading: &Taken) -> Option<(f64, usize)> {
        let block = self.block(&[reading])?;
        let m = block.r.len();
        let q =
            DMatrix::identity(m, m) - &block.j * &self.assessment.covariance * block.j.transpose();
        let eigen = SymmetricEigen::try_new(q, f64::EPSILON, 1000)?;
        let mut sum = 0.0;
        let mut dof = 0;
        for (value, vector) in eigen
            .eigenvalues
            .iter()
            .zip(eigen.eigenvectors.column_iter())
        {
            if *value > NOTHING {
                sum += vector.dot(&block.r).powi(2) / value;
                dof += 1;
            }
        }
        sum.is_finite().then_some((sum, dof))
    }

    /// Nothing suspect, and the global test holds.
    pub fn ordinary(&self) -> bool {
        !self.assessment.any_suspect() && self.assessment.global_test_holds()
    }
}
