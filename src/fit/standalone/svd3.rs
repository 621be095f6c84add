//! Singular values of a 3×3 matrix by one-sided Jacobi rotations, without heap allocation.
//!
//! Columns are turned against each other until they are perpendicular: `H V = U S`. The product `HᵀH` is never formed,
//! so a small second singular value keeps its digits; that decides how well three points nearly in line are turned.
//! Source: Hestenes 1958; Demmel and Veselić 1992 for the accuracy.

use nalgebra::{Matrix3, Vector3};

/// `H = s₁ u₁ v₁ᵀ + s₂ u₂ v₂ᵀ + s₃ u₃ v₃ᵀ` with `u₃ = u₁ × u₂` and `v₃ = v₁ × v₂`: both triads are right-handed, and the
/// sign that this needs is carried by `s₃`, which is negative where `det H` is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Svd3 {
    pub u: [Vector3<f64>; 3],
    pub v: [Vector3<f64>; 3],
    /// `s[0] ≥ s[1] ≥ |s[2]|`.
    pub s: [f64; 3],
}

/// Columns count as perpendicular when the cosine between them is below this.
const COSINE: f64 = 4.0 * f64::EPSILON;
/// Convergence is quadratic: after a sweep that met no squared cosine above this, none above rounding is left.
const LAST_SWEEP: f64 = 1e-17;
/// Four or five sweeps settle a 3×3 matrix; the bound only makes sure of an end.
const SWEEPS: usize = 20;

/// The entries must be finite; a matrix of zeros gives zeros and unit triads.
pub(crate) fn svd3(h: &Matrix3<f64>) -> Svd3 {
    let size = h.amax();
    if size == 0.0 {
        let e = [Vector3::x(), Vector3::y(), Vector3::z()];
        return Svd3 {
            u: e,
            v: e,
            s: [0.0; 3],
        };
    }
    let grow = 1.0 / size;
    let mut b = [h.column(0) * grow, h.column(1) * grow, h.column(2) * grow];
    let mut v = [Vector3::x(), Vector3::y(), Vector3::z()];
    let mut squares = [
        b[0].norm_squared(),
        b[1].norm_squared(),
        b[2].norm_squared(),
    ];
    for _ in 0..SWEEPS {
        let mut turned = false;
        for (p, q) in [(0, 1), (0, 2), (1, 2)] {
            turned |= make_perpendicular(&mut b, &mut v, &mut squares, p, q);
        }
        squares = [
            b[0].norm_squared(),
            b[1].norm_squared(),
            b[2].norm_squared(),
        ];
        if !turned {
            break;
        }
    }
    for (p, q) in [(0, 1), (1, 2), (0, 1)] {
        if squares[p] < squares[q] {
            b.swap(p, q);
            v.swap(p, q);
            squares.swap(p, q);
        }
    }
    let s0 = squares[0].sqrt();
    let u0 = b[0] / s0;
    let across = b[1] - u0 * u0.dot(&b[1]);
    let length = across.norm();
    let u1 = if length > 0.0 {
        again(&u0, &(across / length))
    } else {
        perpendicular(&u0)
    };
    let u2 = u0.cross(&u1);
    let v2 = v[0].cross(&v[1]);
    let s2 = u2.dot(&b[2]) * v2.dot(&v[2]);
    Svd3 {
        u: [u0, u1, u2],
        v: [v[0], v[1], v2],
        s: [s0 * size, squares[1].sqrt() * size, s2 * size],
    }
}

/// One rotation of columns p and q; false where another sweep is not needed for them.
#[inline(always)]
fn make_perpendicular(
    b: &mut [Vector3<f64>; 3],
    v: &mut [Vector3<f64>; 3],
    sq: &mut [f64; 3],
    p: usize,
    q: usize,
) -> bool {
    let dot = b[p].dot(&b[q]);
    if dot * dot <= COSINE * COSINE * sq[p] * sq[q] {
        return false;
    }
    let another = dot * dot > LAST_SWEEP * sq[p] * sq[q];
    // t = tan of the smaller angle that makes the columns perpendicular: t² + 2ζt − 1 = 0, 2ζ = (|q|² − |p|²)/(p·q).
    let half = 0.5 * (sq[q] - sq[p]);
    let t = dot / (half + half.signum() * (half * half + dot * dot).sqrt());
    let c = 1.0 / (1.0 + t * t).sqrt();
    let s = c * t;
    (b[p], b[q]) = (b[p] * c - b[q] * s, b[p] * s + b[q] * c);
    (v[p], v[q]) = (v[p] * c - v[q] * s, v[p] * s + v[q] * c);
    sq[p] -= t * dot;
    sq[q] += t * dot;
    another
}

/// Second pass of Gram-Schmidt: the first leaves a rest where the column was almost along `u`.
fn again(u: &Vector3<f64>, w: &Vector3<f64>) -> Vector3<f64> {
    let w = w - u * u.dot(w);
    let length = w.norm();
    if length > 0.5 {
        w / length
    } else {
        perpendicular(u)
    }
}

/// A unit vector perpendicular to the unit vector `u`.
pub(crate) fn perpendicular(u: &Vector3<f64>) -> Vector3<f64> {
    let away = match u.iamin() {
        0 => Vector3::x(),
        1 => Vector3::y(),
        _ => Vector3::z(),
    };
    u.cross(&away).normalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every decade of the second and third singular value: triads stay perpendicular and rebuild the matrix.
    #[test]
    fn rebuilds_the_matrix_over_all_decades() {
        let left = *nalgebra::Rotation3::from_euler_angles(0.3, -1.1, 2.0).matrix();
        let right = *nalgebra::Rotation3::from_euler_angles(-2.2, 0.4, 0.9).matrix();
        for k in 0..=40 {
            for sign in [1.0, -1.0, 0.0] {
                let second = 10f64.powf(-0.5 * f64::from(k));
                let s = Vector3::new(7e4, 7e4 * second, 7e4 * sign * second * 0.5);
                let h = left * Matrix3::from_diagonal(&s) * right.transpose();
                let d = svd3(&h);
                let (u, v) = (Matrix3::from_columns(&d.u), Matrix3::from_columns(&d.v));
                assert!(
                    (u.transpose() * u - Matrix3::identity()).amax() < 4e-15,
                    "u, second = {second:e}"
                );
                assert!(
                    (v.transpose() * v - Matrix3::identity()).amax() < 4e-15,
                    "v, second = {second:e}"
                );
                assert!(
                    (u.determinant() - 1.0).abs() < 4e-15 && (v.determinant() - 1.0).abs() < 4e-15
                );
                let rebuilt = u * Matrix3::from_diagonal(&Vector3::from(d.s)) * v.transpose();
                assert!(
                    (rebuilt - h).amax() < 7e4 * 8e-16 * 4.0,
                    "second = {second:e}: {:e}",
                    (rebuilt - h).amax()
                );
                for i in 0..3 {
                    assert!(
                        (d.s[i] - s[i]).abs() < 7e4 * 4e-15,
                        "second = {second:e}, s[{i}]"
                    );
                }
            }
        }
    }

    #[test]
    fn zero_rank_one_and_equal_values() {
        assert_eq!(svd3(&Matrix3::zeros()).s, [0.0; 3]);
        let one = svd3(&(Vector3::new(1.0, 2.0, 2.0) * Vector3::new(0.0, 3.0, 4.0).transpose()));
        assert!(
            (one.s[0] - 15.0).abs() < 1e-14 && one.s[1].abs() < 1e-14 && one.s[2].abs() < 1e-14
        );
        assert!(one.u[0].dot(&one.u[1]).abs() < 1e-15);
        let mirror = svd3(&-Matrix3::identity());
        assert_eq!(mirror.s, [1.0, 1.0, -1.0]);
    }
}
