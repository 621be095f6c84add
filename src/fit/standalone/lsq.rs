//! Small dense linear least squares by orthogonal factorisation.
//!
//! Minimises `Σ w_i (y_i − (A x)_i)²`. Rows are multiplied by `√w_i`, columns are scaled to unit length, and the
//! Householder factorisation `A = Q R` gives `x` and `(AᵀWA)⁻¹ = R⁻¹R⁻ᵀ`; the matrix `AᵀWA` is never formed, so the
//! condition of the problem is not squared. One step of refinement with the residuals follows.
//! Source: Golub and Van Loan, *Matrix Computations*, sections on Householder QR and the full-rank least-squares problem.

use nalgebra::{DMatrix, DVector};
use std::fmt;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;

/// A unit-length column whose part perpendicular to the columns before it is shorter than this adds nothing.
pub const DEPENDENT: f64 = 1e-12;

/// Result of [`solve`].
#[derive(Debug, Clone, PartialEq)]
pub struct Lsq {
    /// One value for each column of the design.
    pub params: Vec<f64>,
    /// `(AᵀWA)⁻¹`: the covariance of the parameters for weights `1/u²`.
    pub covariance: DMatrix<f64>,
    /// `y − A x`, row by row, not weighted.
    pub residuals: Vec<f64>,
    /// `Σ w r²`.
    pub rss: f64,
    /// Rows with a weight above zero, less parameters.
    pub dof: usize,
}

impl Lsq {
    /// `√(rss/dof)`; none where nothing is left over to judge by.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.rss / self.dof as f64).sqrt())
    }

    /// Standard deviation of parameter `i` from the scatter seen: `residual_sd · √covariance_ii`.
    #[must_use]
    pub fn sd(&self, i: usize) -> Option<f64> {
        self.residual_sd()
            .map(|s| s * self.covariance[(i, i)].sqrt())
    }

    /// Correlation coefficient of parameters `i` and `j`.
    #[must_use]
    pub fn correlation(&self, i: usize, j: usize) -> f64 {
        self.covariance[(i, j)] / (self.covariance[(i, i)].sqrt() * self.covariance[(j, j)].sqrt())
    }
}

/// Why [`solve`] gave no result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LsqError {
    /// The numbers themselves.
    Input(InputError),
    /// Column `column` follows from the columns before it; `remainder` of its unit length is its own.
    Dependent { column: usize, remainder: f64 },
}

impl fmt::Display for LsqError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LsqError::Input(cause) => cause.fmt(f),
            LsqError::Dependent { column, remainder } => write!(
                f,
                "the readings do not tell unknown {column} from those before it (only {remainder:.1e} of its effect is its own); \
                 readings at other positions are needed"
            ),
        }
    }
}

impl std::error::Error for LsqError {}

impl From<InputError> for LsqError {
    fn from(cause: InputError) -> Self {
        LsqError::Input(cause)
    }
}

/// Solves for the columns of `design` (rows × unknowns).
///
/// # Errors
/// [`LsqError::Input`] for numbers that cannot be used, [`LsqError::Dependent`] where the columns are not independent.
pub fn solve(design: &DMatrix<f64>, y: &[f64], weights: Option<&[f64]>) -> Result<Lsq, LsqError> {
    let (rows, unknowns) = design.shape();
    if y.len() != rows {
        return Err(InputError::LengthsDiffer {
            what: "values",
            found: y.len(),
            expected: rows,
        }
        .into());
    }
    for column in design.column_iter() {
        checks::finite("an entry of the design", column.iter().copied())?;
    }
    checks::finite("the value", y.iter().copied())?;
    let used = checks::weights(weights, rows)?;
    checks::enough("readings", used, unknowns.max(1))?;
    if unknowns == 0 {
        return Ok(nothing_unknown(y, weights, used));
    }

    let root = |i: usize| weights.map_or(1.0, |w| w[i].sqrt());
    let mut a = DMatrix::from_fn(rows, unknowns, |i, j| root(i) * design[(i, j)]);
    let mut lengths = DVector::zeros(unknowns);
    for (j, mut column) in a.column_iter_mut().enumerate() {
        let length = column.norm();
        checks::in_range("the size of a column", [length])?;
        if length == 0.0 {
            return Err(LsqError::Dependent {
                column: j,
                remainder: 0.0,
            });
        }
        column /= length;
        lengths[j] = length;
    }
    let qr = a.qr();
    let r = qr.r();
    if let Some(column) = (0..unknowns).find(|&j| !(r[(j, j)].abs() > DEPENDENT)) {
        return Err(LsqError::Dependent {
            column,
            remainder: r[(column, column)].abs(),
        });
    }
    let singular = InputError::OutOfRange {
        what: "the factorisation",
    };
    let step = |rest: &[f64]| -> Result<DVector<f64>, LsqError> {
        let mut b = DVector::from_fn(rows, |i, _| root(i) * rest[i]);
        qr.q_tr_mul(&mut b);
        let z = r
            .solve_upper_triangular(&b.rows(0, unknowns))
            .ok_or(singular)?;
        Ok(z.component_div(&lengths))
    };
    let rest = |x: &DVector<f64>| -> Vec<f64> {
        (0..rows)
            .map(|i| {
                y[i] - design
                    .row(i)
                    .iter()
                    .zip(x.iter())
                    .map(|(a, x)| a * x)
                    .sum::<f64>()
            })
            .collect()
    };
    let mut x = step(y)?;
    x += step(&rest(&x))?;
    let residuals = rest(&x);
    let rss = residuals
        .iter()
        .enumerate()
        .map(|(i, e)| (root(i) * e).powi(2))
        .sum();

    let inverse = r
        .solve_upper_triangular(&DMatrix::identity(unknowns, unknowns))
        .ok_or(singular)?;
    let inverse = DMatrix::from_fn(unknowns, unknowns, |i, j| inverse[(i, j)] / lengths[i]);
    let covariance = &inverse * inverse.transpose();
    let fit = Lsq {
        params: x.iter().copied().collect(),
        covariance,
        residuals,
        rss,
        dof: used - unknowns,
    };
    checks::in_range(
        "the result",
        fit.params
            .iter()
            .chain(fit.covariance.iter())
            .copied()
            .chain([rss]),
    )?;
    Ok(fit)
}

/// Every term is known: only residuals are left.
fn nothing_unknown(y: &[f64], weights: Option<&[f64]>, used: usize) -> Lsq {
    let rss = y
        .iter()
        .enumerate()
        .map(|(i, e)| weights.map_or(1.0, |w| w[i]) * e * e)
        .sum();
    Lsq {
        params: Vec::new(),
        covariance: DMatrix::zeros(0, 0),
        residuals: y.to_vec(),
        rss,
        dof: used,
    }
}
