//! The step inside a trust region: undamped where it fits, damped by further rows below R where it does not.

use crate::fit::solve::factor::Factor;
use crate::fit::solve::factor::RANK_LIMIT;

/// The step is accepted as filling the region within this share of the radius (Moré 1978).
const SLACK: f64 = 0.1;

/// Newton steps for the damping; Moré reports two or fewer on average.
const DAMPING_TRIALS: usize = 10;

/// What a step is expected to do.
#[derive(Clone, Copy, Debug)]
pub(super) struct Forecast {
    /// Damping λ; 0 for the Gauss-Newton step.
    pub damping: f64,
    /// ‖D p‖.
    pub length: f64,
    /// Predicted decrease of the sum of squares, ‖R p‖² + 2λ‖D p‖².
    pub decrease: f64,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Stepper {
    damped: Factor,
    scratch: Vec<f64>,
    work: Vec<f64>,
    /// The Gauss-Newton step at the present point.
    pub newton: Vec<f64>,
    full_rank: bool,
    damping: f64,
}

impl Stepper {
    pub fn resize(&mut self, unknowns: usize) {
        self.work.resize(unknowns, 0.0);
        self.newton.resize(unknowns, 0.0);
        self.damping = 0.0;
    }

    /// Finds the Gauss-Newton step; returns ‖R p‖², or NaN where no step is a number.
    pub fn at(&mut self, factor: &Factor, norms: &[f64]) -> f64 {
        let n = factor.unknowns();
        let limit = RANK_LIMIT * n as f64;
        self.full_rank = (0..n).all(|k| factor.row(k)[0].abs() > limit * norms[k]);
        if self.full_rank {
            factor.back_substitute(&mut self.newton);
            return factor.removable();
        }
        let lengths: Vec<f64> = norms
            .iter()
            .map(|norm| if *norm > 0.0 { *norm } else { 1.0 })
            .collect();
        if factor.shortest_step(&lengths, &mut self.newton) {
            factor.square_of_change(&self.newton)
        } else {
            f64::NAN
        }
    }

    /// The step with ‖D p‖ at most about `radius` (Moré 1978, §5: λ from Newton steps on 1/‖D p(λ)‖).
    pub fn within(
        &mut self,
        factor: &Factor,
        scale: &[f64],
        radius: f64,
        step: &mut [f64],
    ) -> Forecast {
        step.copy_from_slice(&self.newton);
        let mut length = scaled_norm(scale, step);
        if length <= (1.0 + SLACK) * radius {
            self.damping = 0.0;
            return Forecast {
                damping: 0.0,
                length,
                decrease: factor.square_of_change(step),
            };
        }
        let mut low = 0.0;
        if self.full_rank {
            low = (length - radius) / (radius * self.slope(false, factor, scale, step, length));
        }
        let mut high = self.gradient_norm(factor, scale) / radius;
        if high == 0.0 {
            high = f64::MIN_POSITIVE / radius.min(SLACK);
        }
        let mut damping = self.damping.clamp(low.min(high), high);
        if damping == 0.0 {
            damping = (0.001 * high).max((low * high).sqrt());
        }
        for _ in 0..DAMPING_TRIALS {
            damping = damping.max(f64::MIN_POSITIVE);
            let root = damping.sqrt();
            self.damped
                .damp(factor, scale.iter().map(|d| root * d), &mut self.scratch);
            self.damped.back_substitute(step);
            length = scaled_norm(scale, step);
            let excess = length - radius;
            if excess.abs() <= SLACK * radius
                || (low == 0.0 && excess < 0.0 && damping <= f64::MIN_POSITIVE)
            {
                break;
            }
            let correction = excess / (radius * self.slope(true, factor, scale, step, length));
            if excess > 0.0 {
                low = low.max(damping);
            } else {
                high = high.min(damping);
            }
            let next = (damping + correction).max(low);
            if !next.is_finite() {
                break;
            }
            damping = if next < high {
                next
            } else {
                0.5 * (damping + high)
            };
        }
        self.damping = damping;
        let decrease = factor.square_of_change(step) + 2.0 * damping * length * length;
        Forecast {
            damping,
            length,
            decrease,
        }
    }

    /// ‖R⁻ᵀ D (D p)/‖D p‖‖² for the factor in use: minus the slope of ‖D p(λ)‖, over ‖D p‖.
    fn slope(
        &mut self,
        damped: bool,
        factor: &Factor,
        scale: &[f64],
        step: &[f64],
        length: f64,
    ) -> f64 {
        for ((w, d), p) in self.work.iter_mut().zip(scale).zip(step) {
            *w = d * (d * p / length);
        }
        if damped { &self.damped } else { factor }.forward_substitute(&mut self.work);
        self.work.iter().map(|w| w * w).sum()
    }

    /// ‖D⁻¹ Rᵀ Qᵀr‖.
    fn gradient_norm(&mut self, factor: &Factor, scale: &[f64]) -> f64 {
        self.work.fill(0.0);
        for k in 0..factor.unknowns() {
            for (w, r) in self.work[k..].iter_mut().zip(factor.row(k)) {
                *w += r * factor.projected(k);
            }
        }
        self.work
            .iter()
            .zip(scale)
            .map(|(w, d)| (w / d).powi(2))
            .sum::<f64>()
            .sqrt()
    }
}

pub(super) fn scaled_norm(scale: &[f64], step: &[f64]) -> f64 {
    scale
        .iter()
        .zip(step)
        .map(|(d, p)| (d * p).powi(2))
        .sum::<f64>()
        .sqrt()
}
