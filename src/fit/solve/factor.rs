//! The triangular factor of J, and what is read off it. JᵀJ is never formed.

use crate::fit::solve::kernel::Absorb;
use crate::fit::solve::kernel::RowSolve;
use crate::fit::solve::tiles::Tiles;
use nalgebra::DMatrix;
use std::error::Error;
use std::fmt;

/// R and Qᵀr of an orthogonal factorisation J = QR, without Q.
#[derive(Clone, Debug, Default)]
pub struct Factor {
    unknowns: usize,
    /// Row-major, `unknowns` rows of `unknowns + 1`: R, and Qᵀr as the last column.
    upper: Vec<f64>,
}

/// R has no inverse: a column of J depends on those before it, or is not a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Dependent {
    /// The first such column.
    pub column: usize,
}

impl fmt::Display for Dependent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "unknown {} has no effect of its own on the residuals",
            self.column
        )
    }
}

impl Error for Dependent {}

/// Singular values of J·diag(scale), largest first, with the right singular vectors as columns.
#[derive(Clone, Debug)]
pub struct Spectrum {
    /// Largest first.
    pub values: Vec<f64>,
    /// Column k belongs to `values[k]`; components are in scaled columns.
    pub right: DMatrix<f64>,
}

impl Spectrum {
    /// Orthonormal basis, as columns, of the directions whose singular value is below `relative` of the largest.
    pub fn null_space(&self, relative: f64) -> DMatrix<f64> {
        let limit = relative * self.values.first().copied().unwrap_or(0.0);
        let kept = self
            .values
            .iter()
            .take_while(|value| **value > 0.0 && **value >= limit)
            .count();
        self.right
            .columns(kept, self.values.len() - kept)
            .into_owned()
    }
}

impl Factor {
    /// The factor of the first `rows` rows of J, with their residuals.
    pub fn of(jacobian: &Tiles, residuals: &[f64], rows: usize) -> Self {
        let mut factor = Factor::default();
        factor.refactor(jacobian, residuals, rows, &mut Vec::new());
        factor
    }

    /// As [`Factor::of`], in memory that is kept.
    pub(super) fn refactor(
        &mut self,
        jacobian: &Tiles,
        residuals: &[f64],
        rows: usize,
        scratch: &mut Vec<f64>,
    ) {
        assert!(
            rows <= jacobian.rows() && residuals.len() >= rows,
            "{rows} rows of {}",
            jacobian.rows()
        );
        let (n, height) = (jacobian.cols(), jacobian.height());
        self.unknowns = n;
        self.upper.clear();
        self.upper.resize(n * (n + 1), 0.0);
        scratch.resize(height * (n + 1), 0.0);
        let arch = pulp::Arch::new();
        for (index, tail) in residuals[..rows].chunks(height).enumerate() {
            let (columns, last) = scratch.split_at_mut(height * n);
            columns.copy_from_slice(jacobian.tile(index));
            last[..tail.len()].copy_from_slice(tail);
            last[tail.len()..].fill(0.0);
            for column in columns.chunks_exact_mut(height) {
                column[tail.len()..].fill(0.0);
            }
            arch.dispatch(Absorb {
                tile: scratch,
                height,
                upper: &mut self.upper,
                unknowns: n,
            });
        }
    }

    /// The factor of J with the rows diag(`damping`) below it, their residuals zero.
    pub(super) fn damp(
        &mut self,
        plain: &Factor,
        damping: impl Iterator<Item = f64>,
        scratch: &mut Vec<f64>,
    ) {
        let n = plain.unknowns;
        self.unknowns = n;
        self.upper.clone_from(&plain.upper);
        let height = n.next_multiple_of(8);
        scratch.clear();
        scratch.resize(height * (n + 1), 0.0);
        for (k, value) in damping.enumerate() {
            scratch[k * height + k] = value;
        }
        pulp::Arch::new().dispatch(Absorb {
            tile: scratch,
            height,
            upper: &mut self.upper,
            unknowns: n,
        });
    }

    /// Number of unknowns, n.
    pub fn unknowns(&self) -> usize {
        self.unknowns
    }

    /// Entry of R; zero below the diagonal.
    pub fn r(&self, row: usize, col: usize) -> f64 {
        assert!(row < self.unknowns && col < self.unknowns);
        if row <= col {
            self.upper[row * (self.unknowns + 1) + col]
        } else {
            0.0
        }
    }

    /// Row k of R from the diagonal on, followed by (Qᵀr)_k.
    pub(super) fn row(&self, k: usize) -> &[f64] {
        let width = self.unknowns + 1;
        &self.upper[k * width + k..(k + 1) * width]
    }

    /// (Qᵀr)_k, k < n: the part of the residuals that a change of the unknowns can still remove.
    pub fn projected(&self, k: usize) -> f64 {
        self.upper[k * (self.unknowns + 1) + self.unknowns]
    }

    /// ‖Qᵀr‖²: what of S a regular linear problem could still lose.
    pub(super) fn removable(&self) -> f64 {
        (0..self.unknowns).map(|k| self.projected(k).powi(2)).sum()
    }

    /// Lengths of the columns of J, which are those of R.
    pub(super) fn column_norms(&self, norms: &mut [f64]) {
        norms.fill(0.0);
        for k in 0..self.unknowns {
            for (norm, value) in norms[k..].iter_mut().zip(&self.row(k)[..self.unknowns - k]) {
                *norm += value * value;
            }
        }
        for norm in norms {
            *norm = norm.sqrt();
        }
    }

    /// Solves R p = −Qᵀr in place.
    pub(super) fn back_substitute(&self, p: &mut [f64]) {
        for k in (0..self.unknowns).rev() {
            let row = self.row(k);
            let (own, right) = row.split_at(1);
            let mut sum = -right[right.len() - 1];
            for (value, later) in right.iter().zip(&p[k + 1..]) {
                sum -= value * later;
            }
            p[k] = sum / own[0];
        }
    }

    /// Solves Rᵀ z = w in place.
    pub(super) fn forward_substitute(&self, w: &mut [f64]) {
        for k in 0..self.unknowns {
            let row = self.row(k);
            w[k] /= row[0];
            let (done, later) = w.split_at_mut(k + 1);
            for (value, slot) in row[1..].iter().zip(later) {
                *slot -= value * done[k];
            }
        }
    }

    /// ‖R p‖².
    pub(super) fn square_of_change(&self, p: &[f64]) -> f64 {
        let change = |k: usize| {
            self.row(k)
                .iter()
                .zip(&p[k..])
                .map(|(r, p)| r * p)
                .sum::<f64>()
        };
        (0..self.unknowns).map(|k| change(k).powi(2)).sum()
    }

    /// R⁻¹, row-major n x n.
    fn inverse(&self) -> Result<Vec<f64>, Dependent> {
        let n = self.unknowns;
        let mut inverse = vec![0.0; n * n];
        for k in (0..n).rev() {
            let row = self.row(k);
            let pivot = 1.0 / row[0];
            if !pivot.is_finite() || pivot == 0.0 {
                return Err(Dependent { column: k });
            }
            let (above, below) = inverse.split_at_mut((k + 1) * n);
            let target = &mut above[k * n..];
            for (value, lower) in row[1..n - k].iter().zip(below.chunks_exact(n)) {
                for (slot, entry) in target[k + 1..].iter_mut().zip(&lower[k + 1..]) {
                    *slot -= value * entry;
                }
            }
            for slot in &mut target[k + 1..] {
                *slot *= pivot;
            }
            target[k] = pivot;
        }
        Ok(inverse)
    }

    /// (JᵀJ)⁻¹ = R⁻¹R⁻ᵀ: the covariance of the unknowns where residuals have unit variance.
    pub fn covariance(&self) -> Result<DMatrix<f64>, Dependent> {
        let n = self.unknowns;
        let inverse = self.inverse()?;
        let mut covariance = DMatrix::zeros(n, n);
        for i in 0..n {
            for j in 0..=i {
                let (a, b) = (
                    &inverse[i * n + i..(i + 1) * n],
                    &inverse[j * n + i..(j + 1) * n],
                );
                let sum: f64 = a.iter().zip(b).map(|(a, b)| a * b).sum();
                covariance[(i, j)] = sum;
                covariance[(j, i)] = sum;
            }
        }
        Ok(covariance)
    }

    /// h_i = ‖J_i R⁻¹‖² for every row of `jacobian`: the share of residual i that the fit takes up.
    /// Over the rows that were factored, they add up to n.
    pub fn leverages(&self, jacobian: &Tiles) -> Result<Vec<f64>, Dependent> {
        assert_eq!(
            jacobian.cols(),
            self.unknowns,
            "columns of J and of its factor"
        );
        for k in 0..self.unknowns {
            let pivot = 1.0 / self.row(k)[0];
            if !pivot.is_finite() || pivot == 0.0 {
                return Err(Dependent { column: k });
            }
        }
        let height = jacobian.height();
        let mut leverages = vec![0.0; height * jacobian.count()];
        let mut scratch = vec![0.0; height * self.unknowns];
        let arch = pulp::Arch::new();
        for (index, sums) in leverages.chunks_exact_mut(height).enumerate() {
            scratch.copy_from_slice(jacobian.tile(index));
            arch.dispatch(RowSolve {
                tile: &mut scratch,
                height,
                upper: &self.upper,
                unknowns: self.unknowns,
                sums,
            });
        }
        leverages.truncate(jacobian.rows());
        Ok(leverages)
    }

    /// ‖R·diag(scale)‖_F·‖(R·diag(scale))⁻¹‖_F: at least the condition number, at most n times it.
    /// It decides most cases without a singular value decomposition.
    pub fn condition_bound_scaled(&self, scale: &[f64]) -> Result<f64, Dependent> {
        let n = self.unknowns;
        assert_eq!(scale.len(), n, "one scale per unknown");
        let inverse = self.inverse()?;
        let (mut direct, mut reverse) = (0.0, 0.0);
        for k in 0..n {
            direct += self.row(k)[..n - k]
                .iter()
                .zip(&scale[k..])
                .map(|(r, s)| (r * s).powi(2))
                .sum::<f64>();
            reverse += inverse[k * n..(k + 1) * n]
                .iter()
                .map(|v| (v / scale[k]).powi(2))
                .sum::<f64>();
        }
        Ok((direct * reverse).sqrt())
    }

    /// Singular values and right singular vectors of J·diag(scale), from those of R·diag(scale).
    /// `None` where an entry is not finite or the decomposition does not settle.
    pub fn singular_values_scaled(&self, scale: &[f64]) -> Option<Spectrum> {
        let n = self.unknowns;
        assert_eq!(scale.len(), n, "one scale per unknown");
        let (values, _, right) = decompose(n, |i, j| self.r(i, j) * scale[j])?;
        Some(Spectrum { values, right })
    }

    /// The shortest p, measured as ‖diag(norms)·p‖, among those with ‖R p + Qᵀr‖ least. `false` where there is none.
    pub(super) fn shortest_step(&self, norms: &[f64], p: &mut [f64]) -> bool {
        let n = self.unknowns;
        let Some((values, left, right)) = decompose(n, |i, j| self.r(i, j) / norms[j]) else {
            return false;
        };
        let limit = RANK_LIMIT * n as f64 * values.first().copied().unwrap_or(0.0);
        p.fill(0.0);
        for (k, value) in values
            .iter()
            .enumerate()
            .filter(|(_, value)| **value > limit)
        {
            let along: f64 = (0..n).map(|i| left[(i, k)] * self.projected(i)).sum();
            for j in 0..n {
                p[j] -= right[(j, k)] * along / value;
            }
        }
        for (p, norm) in p.iter_mut().zip(norms) {
            *p /= norm;
        }
        true
    }
}

/// Per unknown, the ratio below which a direction counts as dependent in a step: some roundings.
pub(super) const RANK_LIMIT: f64 = 8.0 * f64::EPSILON;

type Decomposition = (Vec<f64>, DMatrix<f64>, DMatrix<f64>);

fn decompose(n: usize, entry: impl Fn(usize, usize) -> f64) -> Option<Decomposition> {
    let matrix = DMatrix::from_fn(n, n, entry);
    if matrix.iter().any(|v| !v.is_finite()) {
        return None;
    }
    // Sorted by nalgebra, largest first. Some hundred sweeps are far more than it ever needs.
    let svd = nalgebra::SVD::try_new(matrix, true, true, f64::EPSILON, 10_000)?;
    let values = svd.singular_values.iter().copied().collect();
    let left = svd.u?;
    let right = svd.v_t?.transpose();
    Some((values, left, right))
}
