//! The chance that a posture cannot reach a point, given what the registration does not know.
//!
//! The readings of track and table stay; the geometry is drawn from the registration's covariance,
//! and each time the posture is carried over to the geometry drawn. Where limits and edge of reach lie
//! eight standard deviations away and more nothing is drawn.

use nalgebra::DVector;
use statrs::distribution::Beta;
use statrs::distribution::ContinuousCDF;

use crate::clearance::AxisValues;
use crate::margins::Assessor;
use crate::parameters::ParameterUnit;
use crate::reach::Edge;
use crate::reach::Wanted;

/// Geometries that are drawn.
const DRAWS: u32 = 1000;
/// Nothing is drawn where every end is farther, in standard deviations.
const FAR: f64 = 8.0;
/// What is said then.
const FAR_CHANCE: f64 = 1e-6;

/// A chance, found by drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Chance {
    /// The share of the geometries drawn that could not.
    pub share: f64,
    /// The chance is not above this, in 95 of 100 such statements (Clopper, Pearson 1934).
    pub at_most: f64,
}

impl Assessor<'_> {
    /// The chance that this posture cannot reach the point within its limits.
    pub(super) fn chance(
        &self,
        wanted: &Wanted,
        at: &AxisValues,
        edge: Option<&Edge>,
    ) -> Option<Chance> {
        let (spread, unknowns) = self.sure.as_ref()?;
        if unknowns.is_empty() {
            return None;
        }
        let stand = self.stand(at);
        let n = self.cell.joints.len();
        let values = &at.joints_rad[..n];
        if self.is_far(wanted, at, edge) {
            return Some(Chance {
                share: 0.0,
                at_most: FAR_CHANCE,
            });
        }
        let covariance = spread.covariance();
        let eigen = covariance.clone().symmetric_eigen();
        let scale = eigen.eigenvalues.map(|v| v.max(0.0).sqrt());
        let x = unknowns.read(self.solver.geometry());
        let mut random = fastrand::Rng::with_seed(20);
        let mut out = 0;
        for _ in 0..DRAWS {
            let z = DVector::from_fn(scale.len(), |i, _| scale[i] * normal(&mut random));
            let moved = &eigen.eigenvectors * z;
            let drawn: Vec<f64> = x.iter().zip(moved.iter()).map(|(a, b)| a + b).collect();
            let mut geometry = self.solver.geometry().clone();
            unknowns.write(&drawn, &mut geometry);
            let solver = self.solver.with_geometry(&geometry);
            let (travel, turn) = (stand.travel_mm(&geometry), stand.turn_rad(&geometry));
            let reached = solver
                .nearest_posture(wanted, travel, turn, values)
                .is_some_and(|(_, margin)| margin >= 0.0);
            out += u32::from(!reached);
        }
        Some(Chance {
            share: f64::from(out) / f64::from(DRAWS),
            at_most: at_most(out, DRAWS),
        })
    }

    /// All angles that the registration leaves open, together, rad: no turn of the tool is less sure.
    fn turn_sigma(&self) -> f64 {
        let Some((spread, unknowns)) = self.sure.as_ref() else {
            return 0.0;
        };
        let angles = unknowns.units().enumerate();
        let variances = angles
            .filter(|(_, unit)| *unit == ParameterUnit::Deg)
            .map(|(i, _)| spread.covariance()[(i, i)].max(0.0));
        variances.sum::<f64>().sqrt()
    }

    /// Whether limits and edge are so far that nothing needs to be drawn.
    fn is_far(&self, wanted: &Wanted, at: &AxisValues, edge: Option<&Edge>) -> bool {
        let Some(tip) = self.tip_covariance(at, wanted.frame) else {
            return false;
        };
        let n = self.cell.joints.len();
        let values = &at.joints_rad[..n];
        let Some(slopes) = self
            .solver
            .slopes(wanted, at.travel_mm, at.turn_rad, values)
        else {
            return false;
        };
        let turn = self.turn_sigma().max(TURN_RAD);
        let largest = tip.symmetric_eigenvalues().max().max(0.0).sqrt();
        let edge_far = edge.is_none_or(|e| e.distance_mm > FAR * largest);
        // A geometry turned by what moves the tip so far turns the tool as well: both count.
        let limits_far = self
            .cell
            .joints
            .iter()
            .zip(values)
            .zip(slopes)
            .all(|((j, v), s)| {
                let room = (v - j.limits_rad.low).min(j.limits_rad.high - v);
                let by_place = (s.transpose() * tip * s)[0].max(0.0).sqrt();
                room > FAR * (by_place + turn)
            });
        edge_far && limits_far
    }
}

/// The least that is taken for the turn of the tool that a registration leaves open, rad.
const TURN_RAD: f64 = 0.002;

/// The upper end of the 95 % interval of a share of which `k` of `n` were seen.
fn at_most(k: u32, n: u32) -> f64 {
    if k >= n {
        return 1.0;
    }
    Beta::new(f64::from(k) + 1.0, f64::from(n - k)).map_or(1.0, |b| b.inverse_cdf(0.95))
}

/// A standard normal number (Box, Muller 1958).
fn normal(random: &mut fastrand::Rng) -> f64 {
    let u = 1.0 - random.f64();
    (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * random.f64()).cos()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: none of n seen, the chance p with (1 − p)^n = 0.05; all seen, 1.
    #[test]
    fn the_upper_end_of_a_share() {
        let by_hand = 1.0 - 0.05f64.powf(1.0 / 1000.0);
        assert!((at_most(0, 1000) - by_hand).abs() < 1e-9);
        assert_eq!(at_most(7, 7), 1.0);
    }
}
