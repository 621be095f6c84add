//! Turn about z and translation, in closed form.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::rigid::Handedness;
use crate::fit::standalone::rigid::NOT_UNIQUE;
use crate::fit::standalone::rigid::RigidError;
use crate::fit::standalone::rigid::coincident;
use crate::fit::standalone::rigid::count;
use crate::fit::standalone::rigid::handedness;
use crate::fit::standalone::rigid::moments;
use crate::fit::standalone::rigid::rmsd;

/// Result of [`fit_about_z`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RigidAboutZ {
    /// Turn about z, rad, in (−π, π].
    pub yaw: f64,
    /// After turning: `q = Rz(yaw) p + t`.
    pub translation: Vector3<f64>,
    /// In all three coordinates.
    pub rmsd: f64,
    /// Of the 2×2 H of x and y, descending.
    pub singular_values: [f64; 2],
    /// `(s₁ ± s₂)/s₁`.
    pub relative_gap: f64,
    pub handedness: Handedness,
    /// `1/Σ w |p − p̄|²` in x and y: variance of the yaw, rad², for weights `1/u²`.
    pub yaw_variance: f64,
    pub source_centroid: Vector3<f64>,
    pub target_centroid: Vector3<f64>,
}

/// Turn about z and translation; two pairs or more. Heights take part in the translation and the rmsd only.
///
/// # Errors
/// [`RigidError`]; points on one line are no error here unless the line is upright (then they coincide seen from above).
pub fn fit_about_z(
    source: &[Vector3<f64>],
    target: &[Vector3<f64>],
    weights: Option<&[f64]>,
) -> Result<RigidAboutZ, RigidError> {
    let used = count(source, target, weights)?;
    match weights {
        None => about_z_with(source, target, |_| 1.0, used),
        Some(weights) => about_z_with(source, target, |i| weights[i], used),
    }
}

#[inline(always)]
fn about_z_with(
    s: &[Vector3<f64>],
    t: &[Vector3<f64>],
    w: impl Fn(usize) -> f64 + Copy,
    used: usize,
) -> Result<RigidAboutZ, RigidError> {
    let m = moments(s, t, w, used)?;
    let h = &m.h;
    // s₁ ± s₂ without an iteration: the lengths of the turning and the mirroring part of H.
    let turning = (h[(0, 0)] + h[(1, 1)]).hypot(h[(0, 1)] - h[(1, 0)]);
    let mirroring = (h[(0, 0)] - h[(1, 1)]).hypot(h[(0, 1)] + h[(1, 0)]);
    let (first, second) = (0.5 * (turning + mirroring), 0.5 * (turning - mirroring));
    let yaw = (h[(0, 1)] - h[(1, 0)]).atan2(h[(0, 0)] + h[(1, 1)]);
    let (sin, cos) = yaw.sin_cos();
    let rotation = Matrix3::new(cos, -sin, 0.0, sin, cos, 0.0, 0.0, 0.0, 1.0);
    let rmsd = rmsd(s, t, w, &m, &rotation);
    let spread = m.scatter[(0, 0)] + m.scatter[(1, 1)];
    if let Some((set, spread)) = coincident(&m, 2) {
        return Err(RigidError::Coincident {
            set,
            pairs: used,
            spread,
            rmsd,
        });
    }
    if !(turning > NOT_UNIQUE * first && first > f64::EPSILON * spread * NOT_UNIQUE) {
        return Err(RigidError::NotUnique {
            singular_values: Vector3::new(first, second.abs(), 0.0),
            rmsd,
        });
    }
    let translation = m.q - rotation * m.p;
    if !(rmsd + translation.sum()).is_finite() {
        return Err(InputError::OutOfRange {
            what: "the translation",
        }
        .into());
    }
    Ok(RigidAboutZ {
        yaw,
        translation,
        rmsd,
        singular_values: [first, second.abs()],
        relative_gap: turning / first,
        handedness: handedness(second, first),
        yaw_variance: 1.0 / spread,
        source_centroid: m.p,
        target_centroid: m.q,
    })
}
