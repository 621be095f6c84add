//! Reliability: what an error that nobody notices could do (Baarda 1968: the smallest error that the
//! test finds with 80 % power, and its effect on what is computed).

use nalgebra::Vector3;

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::fit::adjust::Minimum;
use crate::fit::assess::Assessment;
use crate::fit::assess::DETECTABLE;
use crate::fit::spread::Spread;
use crate::registration::PointCheck;

/// An error of one residual and what it does to the tip.
#[derive(Debug, Clone, PartialEq)]
pub struct Slip {
    /// Place of the reading in the bench's list.
    pub index: usize,
    /// Which component.
    pub component: usize,
    /// The error, mm or rad: the smallest that would be noticed with 80 % power; one unit (mm, degree)
    /// where nothing checks the residual.
    pub error: f64,
    /// How far it moves the tip at the point where it moves it most, mm.
    pub tip_mm: f64,
    /// That point, by its place in the list of points.
    pub point: usize,
}

/// The registration's reliability.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Reliability {
    /// For each residual what an unnoticed error of it does; `None` where there are no points, or
    /// where it moves no tip.
    pub residuals: Vec<Option<Slip>>,
    /// The largest of those that something checks.
    pub largest: Option<Slip>,
    /// Residuals that nothing checks: reading and component.
    pub unchecked: Vec<(usize, usize)>,
}

/// Works it out for every residual of the readings at every point.
///
/// An error ∇ of residual i moves the unknowns by `C J_iᵀ ∇/u_i` and the tip by `G C J_iᵀ ∇/u_i`; with
/// `∇ = 4.13 u_i/√r_i` this is the largest effect of an error that stays below the smallest noticeable one.
pub(super) fn reliability(
    spread: &Spread<'_>,
    minimum: &Minimum,
    assessment: &Assessment,
    used: &[usize],
    bench: &Bench,
    points: &[PointCheck],
) -> Reliability {
    let n = assessment.found.len();
    let covariance = spread.covariance();
    // G C of every point that is looked at: three rows of n.
    let effects: Vec<(usize, Vec<Vector3<f64>>)> = points
        .iter()
        .enumerate()
        .filter_map(|(k, p)| Some((k, p.stand?, p.frame)))
        .map(|(k, stand, frame): (usize, _, Belongs)| {
            let g = spread.by_unknown(&stand, frame);
            let row = |j: usize| (0..n).map(|i| g[i] * covariance[(i, j)]).sum();
            (k, (0..n).map(row).collect())
        })
        .collect();
    let mut found = Reliability::default();
    let mut row = 0;
    for index in used {
        let reading = &bench.taken[*index].reading;
        for component in 0..reading.components() {
            let test = &assessment.readings[row];
            let checked = test.standardized.is_some();
            let error = match checked {
                true => DETECTABLE * test.u / test.redundancy.sqrt(),
                false => reading.unit().in_code(),
            };
            let moved = effects.iter().map(|(k, effect)| {
                let by: Vector3<f64> = (0..n)
                    .map(|j| effect[j] * minimum.jacobian.get(row, j))
                    .sum();
                (*k, by.norm() * error / test.u)
            });
            let slip = moved
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .filter(|(_, tip_mm)| tip_mm.is_finite())
                .map(|(point, tip_mm)| Slip {
                    index: *index,
                    component,
                    error,
                    tip_mm,
                    point,
                });
            if !checked {
                found.unchecked.push((*index, component));
            } else if let Some(slip) = &slip
                && found
                    .largest
                    .as_ref()
                    .is_none_or(|l| slip.tip_mm > l.tip_mm)
            {
                found.largest = Some(slip.clone());
            }
            found.residuals.push(slip);
            row += 1;
        }
    }
    found
}
