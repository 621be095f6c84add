//! The errors of two registrations together, carried to the tip.

use nalgebra::DMatrix;
use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::fit::chi2::radius_95;
use crate::fit::spread::Spread;
use crate::fit::spread::carried;
use crate::readings::stand::Stand;
use crate::records::InForce;

/// Two registrations, `old` in force when a point was taught, `new` now, and how their errors hang together.
pub struct Epoch<'a> {
    /// When it was taught.
    pub old: &'a InForce,
    /// Now.
    pub new: &'a InForce,
    /// Cov(e_new, e_old), mm and rad; the covariance itself where both are the same.
    pub between: &'a DMatrix<f64>,
}

/// A 3×3 covariance and its 95 % radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Errors {
    /// mm².
    pub covariance_mm2: Matrix3<f64>,
    /// mm.
    pub u95_mm: f64,
}

impl Epoch<'_> {
    /// The miss on going, with the new registration's readings `now`, to a place taught at `then` under the
    /// old one, in the point's frame: `G₁ C₁ G₁ᵀ + G₀ C₀ G₀ᵀ − G₁ X G₀ᵀ − G₀ Xᵀ G₁ᵀ` with X = Cov(e₁, e₀),
    /// and the lost-motion terms at both.
    pub fn arriving(&self, then: &Stand, now: &Stand, frame: Belongs) -> Errors {
        let old = Spread::new(&self.old.geometry, &self.old.unknowns, &self.old.covariance);
        let new = Spread::new(&self.new.geometry, &self.new.unknowns, &self.new.covariance);
        let (g0, g1) = (old.by_unknown(then, frame), new.by_unknown(now, frame));
        let mut sum = carried(&g1, &self.new.covariance) + carried(&g0, &self.old.covariance);
        let cross = mixed(&g1, self.between, &g0);
        sum -= cross + cross.transpose();
        sum += old.play_mm2(then, frame) + new.play_mm2(now, frame);
        errors(sum)
    }

    /// How surely the tip's shift at the same readings is known: as [`Self::arriving`], play apart.
    pub fn shifting(&self, stand: &Stand, frame: Belongs) -> Errors {
        let old = Spread::new(&self.old.geometry, &self.old.unknowns, &self.old.covariance);
        let new = Spread::new(&self.new.geometry, &self.new.unknowns, &self.new.covariance);
        let (g0, g1) = (old.by_unknown(stand, frame), new.by_unknown(stand, frame));
        let mut sum = carried(&g1, &self.new.covariance) + carried(&g0, &self.old.covariance);
        let cross = mixed(&g1, self.between, &g0);
        sum -= cross + cross.transpose();
        errors(sum)
    }
}

fn errors(sum: Matrix3<f64>) -> Errors {
    let covariance_mm2 = (sum + sum.transpose()) * 0.5;
    Errors {
        covariance_mm2,
        u95_mm: radius_95(&covariance_mm2),
    }
}

/// `G₁ X G₀ᵀ`.
fn mixed(g1: &[Vector3<f64>], between: &DMatrix<f64>, g0: &[Vector3<f64>]) -> Matrix3<f64> {
    let mut sum = Matrix3::zeros();
    for (i, a) in g1.iter().enumerate() {
        for (j, b) in g0.iter().enumerate() {
            sum += a * b.transpose() * between[(i, j)];
        }
    }
    sum
}
