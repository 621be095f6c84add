//! Rigid frame from point pairs: the proper rotation R and translation t that minimise `Σ w |R p + t − q|²`.
//!
//! With centred points and `H = Σ w p qᵀ = U S Vᵀ`: `R = V' U'ᵀ`, where U' and V' are U and V made right-handed by the
//! sign of their third column (Kabsch 1976, 1978; Umeyama 1991 for the sign), and `t = q̄ − R p̄`. R is
//! built from two right-handed triads, so it is never a mirror image, whatever the points. About z alone the same
//! minimum is `yaw = atan2(H₁₂ − H₂₁, H₁₁ + H₂₂)`.
//!
//! For targets with covariance `I/w_i` the covariance of a small rotation vector δ applied on the left
//! (`R → (1 + [δ]×) R`, target axes) is `[Σ w (|d|² I − d dᵀ)]⁻¹` with `d = R (p − p̄)`; that of the
//! target's centroid is `I/Σw`.

mod about_z;
mod error;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::plane::COINCIDENT;
use crate::fit::standalone::plane::by_row;
use crate::fit::standalone::svd3::Svd3;
use crate::fit::standalone::svd3::svd3;

pub use about_z::RigidAboutZ;
pub use about_z::fit_about_z;
pub use error::RigidError;
pub use error::Set;

/// The rotation is not unique where `(s₂ ± s₃)/s₁` is at or below this.
pub const NOT_UNIQUE: f64 = 1e-9;
/// The two sets are called mirrored only where `|s₃|/s₁` is above this: flat sets have no handedness, and their scatter
/// must not be taken for one. Each set is then thicker than about a thousandth of its length.
pub const HANDED: f64 = 1e-6;

/// Whether one set is the mirror image of the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handedness {
    Same,
    /// A mirror image would fit better; two marks may have been exchanged or a sign lost. The rotation given is
    /// the best proper one.
    Mirrored,
    /// The points are flat (on one line, for a turn about z), so that the question has no answer.
    Undecided,
}

/// Result of [`fit`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rigid {
    /// det = +1.
    pub rotation: Matrix3<f64>,
    pub translation: Vector3<f64>,
    /// `√(Σ w |R p + t − q|² / Σ w)`.
    pub rmsd: f64,
    /// Singular values of H, descending.
    pub singular_values: Vector3<f64>,
    /// `(s₂ + sign(det H)·s₃)/s₁`: 2 for points spread alike in all directions, 0 where the rotation is not unique.
    pub relative_gap: f64,
    pub handedness: Handedness,
    pub source_centroid: Vector3<f64>,
    pub target_centroid: Vector3<f64>,
    /// `Σ w`.
    pub weight: f64,
    /// `Σ w (p − p̄)(p − p̄)ᵀ`.
    pub source_scatter: Matrix3<f64>,
}

impl Rigid {
    /// Covariance of a small rotation vector in target axes, rad², for weights `1/u²` (formula above); none where it
    /// overflows, as for points nearly in line.
    #[must_use]
    pub fn rotation_covariance(&self) -> Option<Matrix3<f64>> {
        let inertia =
            Matrix3::from_diagonal_element(self.source_scatter.trace()) - self.source_scatter;
        let inverse = inertia.cholesky()?.inverse();
        let turned = self.rotation * inverse * self.rotation.transpose();
        turned
            .iter()
            .all(|c| c.is_finite())
            .then_some((turned + turned.transpose()) * 0.5)
    }

    /// Variance of each coordinate of the target's centroid, for weights `1/u²`.
    #[must_use]
    pub fn centroid_variance(&self) -> f64 {
        1.0 / self.weight
    }

    /// `R p + t`.
    #[must_use]
    pub fn apply(&self, point: &Vector3<f64>) -> Vector3<f64> {
        self.rotation * point + self.translation
    }
}

/// Centroids and second moments of the pairs.
struct Moments {
    pairs: usize,
    weight: f64,
    p: Vector3<f64>,
    q: Vector3<f64>,
    h: Matrix3<f64>,
    scatter: Matrix3<f64>,
    /// `Σ w (q − q̄)²`, coordinate by coordinate.
    target_squares: Vector3<f64>,
}

/// Checks the pairs and gathers their moments; nothing is allocated.
#[inline(always)]
fn moments(
    source: &[Vector3<f64>],
    target: &[Vector3<f64>],
    w: impl Fn(usize) -> f64,
    used: usize,
) -> Result<Moments, RigidError> {
    let (mut weight, mut p, mut q) = (0.0, Vector3::zeros(), Vector3::zeros());
    for (i, (a, b)) in source.iter().zip(target).enumerate() {
        let w = w(i);
        weight += w;
        p += a * w;
        q += b * w;
    }
    p /= weight;
    q /= weight;
    // Sums that are finite have finite terms; the row at fault is looked for only when they are not.
    if !(p.sum() + q.sum()).is_finite() {
        checks::finite(
            "a source coordinate",
            source.iter().flat_map(|p| [p.x, p.y, p.z]),
        )
        .map_err(by_row)?;
        checks::finite(
            "a target coordinate",
            target.iter().flat_map(|p| [p.x, p.y, p.z]),
        )
        .map_err(by_row)?;
        return Err(InputError::OutOfRange {
            what: "the sum of the coordinates",
        }
        .into());
    }
    if used == 1 {
        return Err(RigidError::OnePoint { shift: q - p });
    }
    let (mut h, mut s, mut squares) = (Matrix3::zeros(), Matrix3::zeros(), Vector3::zeros());
    for (i, (a, b)) in source.iter().zip(target).enumerate() {
        let (a, b, w) = (a - p, b - q, w(i));
        let aw = a * w;
        h += aw * b.transpose();
        s += aw * a.transpose();
        squares += b.component_mul(&b) * w;
    }
    if !(h.sum() + s.sum() + squares.sum()).is_finite() {
        return Err(InputError::OutOfRange {
            what: "the spread of the points",
        }
        .into());
    }
    Ok(Moments {
        pairs: used,
        weight,
        p,
        q,
        h,
        scatter: s,
        target_squares: squares,
    })
}

#[inline(always)]
fn rmsd(
    source: &[Vector3<f64>],
    target: &[Vector3<f64>],
    w: impl Fn(usize) -> f64,
    m: &Moments,
    r: &Matrix3<f64>,
) -> f64 {
    let pairs = source.iter().zip(target).enumerate();
    let sum: f64 = pairs
        .map(|(i, (a, b))| w(i) * (r * (a - m.p) - (b - m.q)).norm_squared())
        .sum();
    (sum / m.weight).sqrt()
}

/// Pairs with a weight above zero; refuses lists that do not match and sets without a pair.
fn count(
    source: &[Vector3<f64>],
    target: &[Vector3<f64>],
    weights: Option<&[f64]>,
) -> Result<usize, RigidError> {
    if source.len() != target.len() {
        let (found, expected) = (target.len(), source.len());
        return Err(InputError::LengthsDiffer {
            what: "target points",
            found,
            expected,
        }
        .into());
    }
    let used = checks::weights(weights, source.len())?;
    checks::enough("point pairs", used, 1)?;
    Ok(used)
}

/// Rotation and translation in space; three pairs or more, not on a line. `weights` multiply squared distances.
///
/// # Errors
/// [`RigidError`]; a mirrored pair of sets is no error but a flag on the result.
pub fn fit(
    source: &[Vector3<f64>],
    target: &[Vector3<f64>],
    weights: Option<&[f64]>,
) -> Result<Rigid, RigidError> {
    let used = count(source, target, weights)?;
    match weights {
        None => fit_with(source, target, |_| 1.0, used),
        Some(weights) => fit_with(source, target, |i| weights[i], used),
    }
}

#[inline(always)]
fn fit_with(
    s: &[Vector3<f64>],
    t: &[Vector3<f64>],
    w: impl Fn(usize) -> f64 + Copy,
    used: usize,
) -> Result<Rigid, RigidError> {
    let m = moments(s, t, w, used)?;
    let d = svd3(&m.h);
    let rotation = from_triads(&d);
    let rmsd = rmsd(s, t, w, &m, &rotation);
    // Both compare to false for what is not a number.
    if !(d.s[1] + d.s[2] > NOT_UNIQUE * d.s[0] && coincident(&m, 3).is_none()) {
        return Err(open(t, w, &m, &d, rmsd));
    }
    let translation = m.q - rotation * m.p;
    if !(rmsd + translation.sum()).is_finite() {
        return Err(InputError::OutOfRange {
            what: "the translation",
        }
        .into());
    }
    Ok(Rigid {
        rotation,
        translation,
        rmsd,
        singular_values: Vector3::new(d.s[0], d.s[1], d.s[2].abs()),
        relative_gap: (d.s[1] + d.s[2]) / d.s[0],
        handedness: handedness(d.s[2], d.s[0]),
        source_centroid: m.p,
        target_centroid: m.q,
        weight: m.weight,
        source_scatter: m.scatter,
    })
}

/// `Σ vᵢ uᵢᵀ`: takes the source's triad to the target's.
fn from_triads(d: &Svd3) -> Matrix3<f64> {
    d.v[0] * d.u[0].transpose() + d.v[1] * d.u[1].transpose() + d.v[2] * d.u[2].transpose()
}

fn handedness(signed_last: f64, first: f64) -> Handedness {
    if signed_last.abs() <= HANDED * first {
        Handedness::Undecided
    } else if signed_last > 0.0 {
        Handedness::Same
    } else {
        Handedness::Mirrored
    }
}

/// The set whose points are one point, with its rms spread; judged by the first `axes` coordinates.
fn coincident(m: &Moments, axes: usize) -> Option<(Set, f64)> {
    let sets = [
        (Set::Source, m.p, m.scatter.diagonal()),
        (Set::Target, m.q, m.target_squares),
    ];
    sets.into_iter().find_map(|(set, centre, squares)| {
        let spread = (squares.rows(0, axes).sum() / m.weight).sqrt();
        (!(spread > COINCIDENT * centre.rows(0, axes).norm())).then_some((set, spread))
    })
}

/// Names what leaves the rotation open.
#[cold]
fn open(
    t: &[Vector3<f64>],
    w: impl Fn(usize) -> f64 + Copy,
    m: &Moments,
    d: &Svd3,
    rmsd: f64,
) -> RigidError {
    if let Some((set, spread)) = coincident(m, 3) {
        return RigidError::Coincident {
            set,
            pairs: m.pairs,
            spread,
            rmsd,
        };
    }
    let own_scatter = |points: &[Vector3<f64>], centre: &Vector3<f64>| {
        points
            .iter()
            .enumerate()
            .fold(Matrix3::zeros(), |sum, (i, p)| {
                sum + (p - centre) * (p - centre).transpose() * w(i)
            })
    };
    let (source_axis, target_axis) = (d.u[0], d.v[0]);
    for (set, scatter) in [
        (Set::Source, m.scatter),
        (Set::Target, own_scatter(t, &m.q)),
    ] {
        let own = svd3(&scatter);
        // Squares of lengths: rounding alone is 1e-16 of the first.
        if own.s[1] <= 1e-14 * own.s[0] {
            return RigidError::Collinear {
                set,
                pairs: m.pairs,
                source_axis,
                target_axis,
                rmsd,
            };
        }
    }
    RigidError::NotUnique {
        singular_values: Vector3::new(d.s[0], d.s[1], d.s[2].abs()),
        rmsd,
    }
}
