//! What the readings cannot tell apart: null directions of the Jacobian, named.

use nalgebra::DMatrix;

use crate::fit::solve::Factor;

/// A singular value below this share of the largest counts as none.
pub const RANK_LIMIT: f64 = 1e-8;
/// A parameter's share below this is left out.
const LEAST_SHARE: f64 = 1e-3;

/// A direction in which the unknowns can move together without any reading noticing.
#[derive(Debug, Clone, PartialEq)]
pub struct FreeDirection {
    /// Unknown (its place in the list) and its share, the squared component; largest first.
    pub shares: Vec<(usize, f64)>,
    /// The direction itself, in scaled columns, length 1; its largest component is positive.
    pub vector: Vec<f64>,
}

/// The null directions of J with its columns scaled. Named after the null space is brought to
/// reduced row echelon form, pivots at the largest entries, each row normalised.
///
/// `None` where the decomposition did not settle (entries that are not finite).
pub fn free_directions(factor: &Factor, scale: &[f64]) -> Option<Vec<FreeDirection>> {
    if scale.is_empty() {
        return Some(Vec::new());
    }
    // The bound is at least the condition number: below the limit nothing can be free.
    if let Ok(bound) = factor.condition_bound_scaled(scale)
        && bound < 1.0 / RANK_LIMIT
    {
        return Some(Vec::new());
    }
    let spectrum = factor.singular_values_scaled(scale)?;
    let basis = spectrum.null_space(RANK_LIMIT).transpose();
    Some(
        echelon(basis)
            .row_iter()
            .map(|row| {
                let mut shares: Vec<(usize, f64)> = row
                    .iter()
                    .enumerate()
                    .map(|(j, v)| (j, v * v))
                    .filter(|(_, share)| *share >= LEAST_SHARE)
                    .collect();
                shares.sort_by(|a, b| b.1.total_cmp(&a.1));
                let largest = shares.first().map_or(0.0, |(j, _)| row[*j]);
                let sign = if largest < 0.0 { -1.0 } else { 1.0 };
                FreeDirection {
                    shares,
                    vector: row.iter().map(|v| v * sign).collect(),
                }
            })
            .collect(),
    )
}

/// Gauss-Jordan with the pivot of each step at the largest entry of the rows that are left.
fn echelon(mut rows: DMatrix<f64>) -> DMatrix<f64> {
    let (k, n) = rows.shape();
    for step in 0..k {
        let mut pivot = (step, 0);
        for i in step..k {
            for j in 0..n {
                // A later entry must be larger by more than rounding: ties fall to the first.
                if rows[(i, j)].abs() > rows[pivot].abs() * (1.0 + 1e-9) {
                    pivot = (i, j);
                }
            }
        }
        rows.swap_rows(step, pivot.0);
        let head = rows[(step, pivot.1)];
        if head == 0.0 {
            continue;
        }
        for j in 0..n {
            rows[(step, j)] /= head;
        }
        for i in (0..k).filter(|i| *i != step) {
            let factor = rows[(i, pivot.1)];
            for j in 0..n {
                let take = factor * rows[(step, j)];
                rows[(i, j)] -= take;
            }
        }
    }
    for mut row in rows.row_iter_mut() {
        let length = row.norm();
        if length > 0.0 {
            row /= length;
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn echelon_form_names_each_direction_by_itself() {
        // By hand: the plane spanned by (1, 1, 0)/√2 and (0, 0, 1), given turned by 45° in itself.
        let h = 0.5_f64;
        let r = 0.5_f64.sqrt();
        let got = echelon(DMatrix::from_row_slice(2, 3, &[h, h, r, h, h, -r]));
        for row in got.row_iter() {
            let pair = (row[0].abs() - r).abs() < 1e-12 && (row[1].abs() - r).abs() < 1e-12;
            let single = (row[2].abs() - 1.0).abs() < 1e-12;
            assert!(pair != single, "{row}");
        }
    }
}
