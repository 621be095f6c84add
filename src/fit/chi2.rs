//! Probabilities: the χ² tail, and the radius that holds 95 % of a normal cloud in space.

use nalgebra::Matrix3;
use statrs::function::erf::erfc;
use statrs::function::gamma::gamma_ur;

/// `P(χ²_dof ≥ s)`, the regularised upper incomplete gamma function Q(dof/2, s/2).
pub fn chi2_upper_tail(s: f64, dof: usize) -> f64 {
    // What is not a number fails every test.
    if !s.is_finite() {
        return 0.0;
    }
    if s <= 0.0 {
        return 1.0;
    }
    gamma_ur(dof as f64 / 2.0, s / 2.0)
}

/// P(χ²_3 ≥ t²) and −d/dt of it: erfc(t/√2) + √(2/π) t e^(−t²/2), √(2/π) t² e^(−t²/2).
fn chi_3_tail(t: f64) -> (f64, f64) {
    const ROOT_2_OVER_PI: f64 = 0.797_884_560_802_865_4;
    let bell = ROOT_2_OVER_PI * t * (-0.5 * t * t).exp();
    (erfc(t * std::f64::consts::FRAC_1_SQRT_2) + bell, bell * t)
}

/// Gauss-Legendre nodes and weights on (0, 1), 16 points (Abramowitz, Stegun 1964, table 25.4).
const NODES: [(f64, f64); 8] = [
    (0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
    (0.281_603_550_779_258_9, 0.182_603_415_044_923_6),
    (0.458_016_777_657_227_4, 0.169_156_519_395_002_54),
    (0.617_876_244_402_643_7, 0.149_595_988_816_576_73),
    (0.755_404_408_355_003, 0.124_628_971_255_533_87),
    (0.865_631_202_387_831_7, 0.095_158_511_682_492_78),
    (0.944_575_023_073_232_6, 0.062_253_523_938_647_89),
    (0.989_400_934_991_649_9, 0.027_152_459_411_754_095),
];

/// Radius r with `P(λ₁z₁² + λ₂z₂² + λ₃z₃² ≤ r²) = 0.95`, λ the eigenvalues of the covariance.
///
/// The probability is that of Imhof 1961 (Biometrika 48, 419), computed by splitting the normal
/// vector into length and direction: z = R·n with R² ~ χ²₃ and n even over the sphere, so that
/// `P(> r) = mean over n of P(χ²₃ > r²/(n·Λn))`, a smooth integral over one octant. Its root is
/// found by Newton's method inside a bracket, to a relative 1e-6. Returns 0 for a zero covariance.
pub fn radius_95(covariance: &Matrix3<f64>) -> f64 {
    let symmetric = (covariance + covariance.transpose()) * 0.5;
    let eigen = symmetric.symmetric_eigenvalues();
    let mut lambda = [eigen[0].max(0.0), eigen[1].max(0.0), eigen[2].max(0.0)];
    lambda.sort_by(f64::total_cmp);
    let largest = lambda[2];
    if largest == 0.0 {
        return 0.0;
    }
    if !largest.is_finite() {
        return f64::NAN;
    }
    let (a, b) = (lambda[0] / largest, lambda[1] / largest);
    // n = (√(1−c²) sin φ, √(1−c²) cos φ, c): the sharpest variation, along the largest axis, is
    // taken up by c = u² or so; both integrals by 16-point Gauss-Legendre rules.
    let mut spread = [(0.0, 0.0); 256];
    let mut k = 0;
    for (u, wu) in octant() {
        for (v, wv) in octant() {
            let (s, c) = (std::f64::consts::FRAC_PI_2 * v).sin_cos();
            let level = 1.0 - u * u;
            let q: f64 = level * (a * s * s + b * c * c) + u * u;
            spread[k] = (q.sqrt().recip(), wu * wv);
            k += 1;
        }
    }
    let tail = |r: f64| {
        let (mut p, mut slope) = (0.0, 0.0);
        for (inverse, weight) in &spread {
            let (tail, density) = chi_3_tail(r * inverse);
            p += weight * tail;
            slope += weight * density * inverse;
        }
        (p - 0.05, slope)
    };
    // One axis alone gives 1.95996; three equal ones 2.79548.
    let (mut low, mut high) = (1.9, 2.9);
    let mut r = 1.96 + 0.49 * b + 0.35 * a;
    for _ in 0..60 {
        let (excess, slope) = tail(r);
        if excess > 0.0 {
            low = r;
        } else {
            high = r;
        }
        let newton = r + excess / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            0.5 * (low + high)
        };
        if (next - r).abs() < 1e-7 {
            r = next;
            break;
        }
        r = next;
    }
    r * largest.sqrt()
}

/// Nodes and weights of the 16-point rule on (0, 1).
fn octant() -> impl Iterator<Item = (f64, f64)> {
    NODES
        .iter()
        .flat_map(|(x, w)| [((1.0 - x) / 2.0, w / 2.0), ((1.0 + x) / 2.0, w / 2.0)])
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Vector3;

    /// Quantiles of χ (square roots of χ² quantiles at 0.95; Abramowitz, Stegun 1964, table 26.8:
    /// 3.84146, 5.99146, 7.81473).
    #[test]
    fn equal_axes_give_the_quantiles_of_chi() {
        for (l, chi2) in [
            ([1.0, 1.0, 1.0], 7.814_73),
            ([1.0, 1.0, 0.0], 5.991_46),
            ([1.0, 0.0, 0.0], 3.841_46),
        ] {
            let r = radius_95(&Matrix3::from_diagonal(&Vector3::from(l)));
            assert!(
                (r * r - chi2).abs() < 2e-3 * chi2,
                "{l:?}: {} for {chi2}",
                r * r
            );
        }
    }

    #[test]
    fn chi2_tails_match_the_table() {
        // Abramowitz, Stegun 1964, table 26.8: P(χ²_10 ≥ 18.307) = 0.05, P(χ²_1 ≥ 10.828) = 0.001.
        assert!((chi2_upper_tail(18.307_04, 10) - 0.05).abs() < 1e-6);
        assert!((chi2_upper_tail(10.827_57, 1) - 0.001).abs() < 1e-7);
        assert_eq!(chi2_upper_tail(0.0, 3), 1.0);
    }

    #[test]
    fn a_turned_cloud_has_the_same_radius() {
        let flat = Matrix3::from_diagonal(&Vector3::new(4.0, 0.3, 0.001));
        let turn = crate::frames::rot_zyx(0.4, -1.1, 0.7);
        let a = radius_95(&flat);
        let b = radius_95(&(turn * flat * turn.transpose()));
        assert!((a - b).abs() < 1e-9 * a);
    }
}
