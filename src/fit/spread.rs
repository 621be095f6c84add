//! Uncertainty at the tip, in the frame that a point belongs to.

use nalgebra::DMatrix;
use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::fit::chi2::radius_95;
use crate::kinematics::Level;
use crate::parameters::Family;
use crate::parameters::Motion;
use crate::parameters::Unknowns;
use crate::readings::stand::Stand;
use crate::readings::stand::point_motions;

/// A registration's uncertainty, ready to be carried to any posture.
#[derive(Debug, Clone)]
pub struct Spread<'a> {
    geometry: &'a Geometry,
    unknowns: &'a Unknowns,
    covariance: &'a DMatrix<f64>,
}

/// The tip's uncertainty in one frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipSpread {
    /// Covariance, mm².
    pub covariance_mm2: Matrix3<f64>,
    /// Radius that holds 95 % of the tips, mm.
    pub u95_mm: f64,
}

/// Derivatives of the tip in one frame at one posture.
struct Slopes {
    /// By the unknowns: mm per mm or rad.
    by_unknown: Vec<Vector3<f64>>,
    /// Σ (b/2)² g gᵀ over the axes with a lost motion, mm².
    play_mm2: Matrix3<f64>,
}

/// `G C Gᵀ`, mm², made symmetric; `g` has the derivatives of the tip by each unknown.
pub fn carried(g: &[Vector3<f64>], covariance: &DMatrix<f64>) -> Matrix3<f64> {
    let mut all = Matrix3::zeros();
    for (i, gi) in g.iter().enumerate() {
        let mut sum = Vector3::zeros();
        for (j, gj) in g.iter().enumerate() {
            sum += gj * covariance[(i, j)];
        }
        all += gi * sum.transpose();
    }
    (all + all.transpose()) * 0.5
}

impl<'a> Spread<'a> {
    /// `covariance` is that of `unknowns`, in mm and rad, at the values in `geometry`.
    pub fn new(
        geometry: &'a Geometry,
        unknowns: &'a Unknowns,
        covariance: &'a DMatrix<f64>,
    ) -> Self {
        Spread {
            geometry,
            unknowns,
            covariance,
        }
    }

    /// `G C Gᵀ + Σ (b_a/2)² g_a g_aᵀ` at a posture, and its 95 % radius.
    pub fn at(&self, stand: &Stand, frame: Belongs) -> TipSpread {
        let slopes = self.slopes(stand, frame);
        self.spread(&slopes.by_unknown, slopes.play_mm2)
    }

    /// The miss on returning to a point taught at one posture from another, both in the point's
    /// frame: `(G₁ − G₀) C (G₁ − G₀)ᵀ` plus the lost-motion terms at both.
    pub fn returning(&self, taught: &Stand, now: &Stand, frame: Belongs) -> TipSpread {
        let before = self.slopes(taught, frame);
        let after = self.slopes(now, frame);
        let change: Vec<Vector3<f64>> = after
            .by_unknown
            .iter()
            .zip(&before.by_unknown)
            .map(|(a, b)| a - b)
            .collect();
        self.spread(&change, before.play_mm2 + after.play_mm2)
    }

    /// Derivatives of the tip in a frame by the unknowns, mm per mm or rad.
    pub fn by_unknown(&self, stand: &Stand, frame: Belongs) -> Vec<Vector3<f64>> {
        self.slopes(stand, frame).by_unknown
    }

    /// Σ (b/2)² g gᵀ over the axes with a lost motion, mm²: what no reading takes away.
    pub fn play_mm2(&self, stand: &Stand, frame: Belongs) -> Matrix3<f64> {
        self.slopes(stand, frame).play_mm2
    }

    /// The covariance of the unknowns, mm and rad.
    pub fn covariance(&self) -> &DMatrix<f64> {
        self.covariance
    }

    fn spread(&self, g: &[Vector3<f64>], play_mm2: Matrix3<f64>) -> TipSpread {
        let play_mm2 = (play_mm2 + play_mm2.transpose()) * 0.5;
        let covariance_mm2 = carried(g, self.covariance) + play_mm2;
        TipSpread {
            covariance_mm2,
            u95_mm: radius_95(&covariance_mm2),
        }
    }

    fn slopes(&self, stand: &Stand, frame: Belongs) -> Slopes {
        let geometry = self.geometry;
        let arm = stand.arm(geometry, geometry.joints.len());
        let table = match frame {
            Belongs::Plate => None,
            Belongs::Platter => stand.turntable(geometry),
        };
        let tip = arm.tip_mm;
        let scene = stand.scene(geometry, &arm, table.as_ref());
        let mut by_unknown = vec![Vector3::zeros(); self.unknowns.len()];
        point_motions(self.unknowns, &scene, Level::TOOL, None, &tip, |j, d| {
            by_unknown[j] += d;
        });
        let mut play_mm2 = Matrix3::zeros();
        let mut play = |lost: f64, g: Vector3<f64>| {
            play_mm2 += g * g.transpose() * (lost * lost / 4.0);
        };
        if let Some(track) = &geometry.track {
            play(track.lost_motion_mm, arm.travel_twist().of_point(&tip));
        }
        for (index, joint) in geometry.joints.iter().enumerate() {
            play(joint.lost_motion_rad, arm.joint_twist(index).of_point(&tip));
        }
        if let (Some(table), Some(law)) = (&table, &geometry.turntable) {
            // Seen from the platter, the platter's own motion is taken off the tip's.
            play(law.lost_motion_rad, table.turn_twist().of_point(&tip));
            for (j, motion) in self.unknowns.motions(Family::Platter, &scene) {
                if let Motion::Platter { twist, .. } = motion {
                    by_unknown[j] -= twist.of_point(&tip);
                }
            }
            let back = table.platter_axes.transpose();
            for d in &mut by_unknown {
                *d = back * *d;
            }
            play_mm2 = back * play_mm2 * table.platter_axes;
        }
        Slopes {
            by_unknown,
            play_mm2,
        }
    }
}
