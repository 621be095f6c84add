//! Readings that were kept out of the solution to check it: `use = check`.

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::causes::solved::Solved;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::assess::SUSPECT;
use crate::fit::chi2::chi2_upper_tail;
use crate::readings::Taken;
use crate::table::common::Use;

/// One residual of a check reading.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckRow {
    /// Place in the bench's list.
    pub index: usize,
    /// Which component.
    pub component: usize,
    /// What was seen: measured against predicted, mm or rad.
    pub observed: f64,
    /// Standard uncertainty of that difference before it was seen, mm or rad: that of the reading and
    /// that of the prediction.
    pub predicted: f64,
    /// `observed / predicted`.
    pub ratio: f64,
}

/// The tip over all check touches.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckedTip {
    /// How many touches.
    pub touches: usize,
    /// Root of the mean square of the distances, mm.
    pub rms_mm: f64,
    /// The largest, mm.
    pub largest_mm: f64,
    /// Place of that one in the bench's list.
    pub largest_at: usize,
}

/// The independent verdict.
#[derive(Debug, Clone, PartialEq)]
pub struct Checks {
    /// Every residual of every check reading.
    pub rows: Vec<CheckRow>,
    /// The tip, where touches were kept to check with.
    pub tip: Option<CheckedTip>,
    /// rᵀ (I + J C Jᵀ)⁻¹ r over all of them.
    pub chi2: f64,
    /// Residuals.
    pub dof: usize,
    /// P(χ² ≥ chi2).
    pub p_value: f64,
    /// Places of the readings that do not fit.
    pub failing: Vec<usize>,
    /// Whether all of them together and each by itself agree with the registration.
    pub hold: bool,
}

/// Holds the check readings against a registration; `None` where there are none.
///
/// What is seen at a check reading has the covariance `u² (I + J C Jᵀ)`: its own and that of the
/// prediction. Each residual is tested at α = 0.001, two-sided; all together by χ² at 0.001.
pub fn check(bench: &Bench, solved: &Solved) -> Option<Checks> {
    let indices: Vec<usize> = (0..bench.taken.len())
        .filter(|i| bench.taken[*i].role == Use::Check)
        .collect();
    if indices.is_empty() {
        return None;
    }
    let readings: Vec<&Taken> = indices.iter().map(|i| &bench.taken[*i]).collect();
    let block = solved.block(&readings)?;
    let m = block.r.len();
    let q =
        DMatrix::identity(m, m) + &block.j * &solved.assessment.covariance * block.j.transpose();
    let chi2 = block.r.dot(&q.clone().cholesky()?.solve(&block.r));
    let mut rows = Vec::with_capacity(m);
    let mut failing: Vec<usize> = Vec::new();
    for index in &indices {
        let taken = &bench.taken[*index];
        for component in 0..taken.reading.components() {
            let at = rows.len();
            let predicted = q[(at, at)].sqrt();
            let ratio = block.r[at] / predicted;
            if ratio.abs() > SUSPECT && !failing.contains(index) {
                failing.push(*index);
            }
            rows.push(CheckRow {
                index: *index,
                component,
                observed: block.r[at] * taken.u,
                predicted: predicted * taken.u,
                ratio,
            });
        }
    }
    let p_value = chi2_upper_tail(chi2, m);
    Some(Checks {
        tip: tip(bench, &rows),
        rows,
        chi2,
        dof: m,
        p_value,
        hold: failing.is_empty() && p_value >= GLOBAL_LIMIT,
        failing,
    })
}

fn tip(bench: &Bench, rows: &[CheckRow]) -> Option<CheckedTip> {
    let mut squares: Vec<(usize, f64)> = Vec::new();
    for row in rows {
        if !bench.taken[row.index].reading.shows_tip() {
            continue;
        }
        let square = row.observed * row.observed;
        match squares.last_mut() {
            Some((index, sum)) if *index == row.index => *sum += square,
            _ => squares.push((row.index, square)),
        }
    }
    let largest = squares.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let sum: f64 = squares.iter().map(|s| s.1).sum();
    Some(CheckedTip {
        touches: squares.len(),
        rms_mm: (sum / squares.len() as f64).sqrt(),
        largest_mm: largest.1.sqrt(),
        largest_at: largest.0,
    })
}
