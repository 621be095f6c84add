//! Unknowns tied to values and a covariance that an earlier registration left behind.
//!
//! With the covariance C of the earlier values x₀, an adjustment that ties them adds
//! `(x − x₀)ᵀ C⁻¹ (x − x₀)` to its sum of squares. What has moved since is freed along some
//! directions D: the sum is then taken at its least over all shifts along D,
//!
//! ```text
//! min over p of ‖L⁻¹ (x − x₀ − D p)‖²  =  ‖Q₂ᵀ L⁻¹ (x − x₀)‖²,   C = L Lᵀ,   L⁻¹ D = (Q₁ Q₂) (R; 0)
//! ```
//!
//! which is what eliminating the old values of the moved things from the joint adjustment of all old
//! and new readings leaves over (to first order; exact for a linear model). Freeing a single unknown
//! keeps the marginal covariance of the others. No matrix of normal equations is formed.

use nalgebra::DMatrix;

/// The rows that tie: `rows · (x − at)` are residuals of unit variance.
#[derive(Debug, Clone, PartialEq)]
pub struct Tie {
    /// Earlier values of the unknowns, mm and rad; what is freed stands where it stood.
    pub at: Vec<f64>,
    /// A row for each direction that stays tied, a column for each unknown.
    pub rows: DMatrix<f64>,
    /// Unknowns that are free only together, as a turn of the whole table is index and switch.
    pub together: Vec<Vec<usize>>,
}

impl Tie {
    /// Ties unknowns to values with a covariance (mm and rad), free along the columns of `freed`.
    /// `None` where the covariance is none.
    pub fn new(at: Vec<f64>, covariance: &DMatrix<f64>, freed: &DMatrix<f64>) -> Option<Tie> {
        let n = at.len();
        // Correlations: parameters in mm and rad differ by orders of magnitude.
        let scale: Vec<f64> = (0..n).map(|i| covariance[(i, i)].sqrt()).collect();
        if !scale.iter().all(|s| s.is_finite() && *s > 0.0) {
            return None;
        }
        let correlation = DMatrix::from_fn(n, n, |i, j| covariance[(i, j)] / (scale[i] * scale[j]));
        let factor = correlation.cholesky()?;
        let mut whitener = DMatrix::identity(n, n);
        factor
            .l_dirty()
            .solve_lower_triangular_mut(&mut whitener)
            .then_some(())?;
        for (j, s) in scale.iter().enumerate() {
            for i in 0..n {
                whitener[(i, j)] /= s;
            }
        }
        let k = freed.ncols();
        let mut rank = 0;
        if k > 0 {
            let basis = span(&(&whitener * freed))?;
            rank = basis.ncols();
            basis.qr().q_tr_mul(&mut whitener);
        }
        let mut rows = whitener.rows(rank, n - rank).into_owned();
        // Rounding must not leave a trace of what was freed.
        for j in 0..n {
            let whole = 1.0 / scale[j];
            if (0..rows.nrows()).all(|i| rows[(i, j)].abs() < 1e-9 * whole) {
                rows.column_mut(j).fill(0.0);
            }
        }
        let members = |c: usize| (0..n).filter(|i| freed[(*i, c)] != 0.0).collect::<Vec<_>>();
        let together = (0..k).map(members).filter(|m| m.len() > 1).collect();
        rows.iter()
            .all(|v| v.is_finite())
            .then_some(Tie { at, rows, together })
    }

    /// How many rows.
    pub fn len(&self) -> usize {
        self.rows.nrows()
    }

    /// Whether nothing is tied.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether an unknown is tied in any direction.
    pub fn holds(&self, unknown: usize) -> bool {
        unknown < self.at.len() && self.rows.column(unknown).iter().any(|v| *v != 0.0)
    }

    /// A row's residual at some values; unknowns beyond those of the tie are not tied.
    pub fn residual(&self, row: usize, x: &[f64]) -> f64 {
        let columns = self.at.iter().zip(x).enumerate();
        columns
            .map(|(j, (at, x))| self.rows[(row, j)] * (x - at))
            .sum()
    }
}

/// Directions that count as the same: singular values below this share of the largest are none.
const DEPENDENT: f64 = 1e-9;

/// An orthonormal basis of what the columns span: several freed directions may hang together (index,
/// switch, and both at once). `None` where the decomposition does not settle.
fn span(columns: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let mut scaled = columns.clone();
    for mut column in scaled.column_iter_mut() {
        let length = column.norm();
        if length > 0.0 {
            column /= length;
        }
    }
    let svd = scaled.try_svd(true, false, f64::EPSILON, 1000)?;
    let u = svd.u?;
    let least = DEPENDENT * svd.singular_values.max();
    let kept: Vec<usize> = (0..svd.singular_values.len())
        .filter(|i| svd.singular_values[*i] > least)
        .collect();
    Some(u.select_columns(&kept))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two unknowns with covariance ((4, 2), (2, 9)); by hand: freeing the first leaves the second's
    /// marginal variance 9, freeing the sum leaves the difference with variance 4 + 9 − 2·2 = 9.
    #[test]
    fn freeing_leaves_the_marginal_covariance_of_the_rest() {
        let c = DMatrix::from_row_slice(2, 2, &[4.0, 2.0, 2.0, 9.0]);
        let first = DMatrix::from_column_slice(2, 1, &[1.0, 0.0]);
        let tie = Tie::new(vec![1.0, 2.0], &c, &first).unwrap();
        assert_eq!((tie.len(), tie.holds(0), tie.holds(1)), (1, false, true));
        let r = tie.residual(0, &[77.0, 5.0]);
        assert!((r.abs() - 1.0).abs() < 1e-12, "3 off with u = 3: {r}");

        let both = DMatrix::from_column_slice(2, 1, &[1.0, 1.0]);
        let tie = Tie::new(vec![0.0, 0.0], &c, &both).unwrap();
        let r = tie.residual(0, &[10.0, 13.0]);
        assert!(
            (r.abs() - 1.0).abs() < 1e-12,
            "difference 3 with u = 3: {r}"
        );
    }

    /// A direction that is the sum of two others frees nothing more.
    #[test]
    fn dependent_directions_free_no_more_than_they_span() {
        let c = DMatrix::from_row_slice(3, 3, &[4.0, 2.0, 1.0, 2.0, 9.0, 0.5, 1.0, 0.5, 1.0]);
        let two = DMatrix::from_column_slice(3, 2, &[1.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
        let three =
            DMatrix::from_column_slice(3, 3, &[1.0, 1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0]);
        let [two, three] = [two, three].map(|d| Tie::new(vec![0.0; 3], &c, &d).unwrap());
        assert_eq!((two.len(), three.len()), (1, 1));
        let x = [5.0, -3.0, 2.0];
        let [a, b] = [&two, &three].map(|t| t.residual(0, &x).abs());
        // The third alone is left: 2 off with u = 1.
        assert!(
            (a - 2.0).abs() < 1e-12 && (b - 2.0).abs() < 1e-12,
            "{a} {b}"
        );
    }

    #[test]
    fn nothing_freed_is_the_whole_quadratic_form() {
        let c = DMatrix::from_row_slice(2, 2, &[4.0, 2.0, 2.0, 9.0]);
        let tie = Tie::new(vec![0.0, 0.0], &c, &DMatrix::zeros(2, 0)).unwrap();
        let sum: f64 = (0..2).map(|i| tie.residual(i, &[1.0, 1.0]).powi(2)).sum();
        // C⁻¹ = ((9, −2), (−2, 4)) / 32, so (1, 1) C⁻¹ (1, 1)ᵀ = 9 / 32.
        assert!((sum - 9.0 / 32.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_no_covariance_is_refused() {
        let none = DMatrix::zeros(2, 0);
        for c in [
            [1.0, 2.0, 2.0, 1.0],
            [0.0, 0.0, 0.0, 1.0],
            [f64::NAN, 0.0, 0.0, 1.0],
        ] {
            let c = DMatrix::from_row_slice(2, 2, &c);
            assert_eq!(Tie::new(vec![0.0; 2], &c, &none), None);
        }
    }
}
