//! A straight line through the values of a parameter over time.

use statrs::distribution::ContinuousCDF;
use statrs::distribution::Normal;
use statrs::distribution::StudentsT;
use statrs::function::erf::erfc;

use crate::fit::chi2::chi2_upper_tail;
use crate::fit::standalone::Approach;
use crate::fit::standalone::line;
use crate::fit::standalone::line::LineModel;
use crate::fit::standalone::line::LineRow;

/// The level of all statements together.
pub const LEVEL: f64 = 0.05;
/// Values scatter more than stated where less than this of all chance gives as much.
pub const SCATTERS: f64 = 0.05;

/// One value of a parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct At {
    /// When, in days.
    pub day: f64,
    /// The value.
    pub value: f64,
    /// Its standard uncertainty, above 0.
    pub u: f64,
}

/// Which change is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Up or down.
    Both,
    /// Up: wear.
    Growth,
}

/// The line.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Its slope, per day.
    pub per_day: f64,
    /// Standard uncertainty of the slope, per day: from the stated u, times `scatter`.
    pub u_per_day: f64,
    /// Half the width of the interval that holds the slope with 95 %, per day.
    pub u95_per_day: f64,
    /// How many times more the values scatter about it than stated; 1 where they do not.
    pub scatter: f64,
    /// Values less two.
    pub dof: usize,
    /// The probability of a slope at least so large by chance where there is none.
    pub probability: f64,
    /// What each value adds to the slope: `per_day = Σ shares · values`.
    pub shares: Vec<f64>,
}

/// The weighted straight line through two or more values; `None` where they are of one day, or are no
/// numbers.
///
/// Weights are `1/u²`. The slope's standard uncertainty is that of the stated u, and its interval that of the
/// normal law. Where three or more values scatter about the line more than stated (`P(χ² ≥ S) < 0.05`), the
/// uncertainty is multiplied with `√(S/dof)`, and Student's t with `dof = n − 2` takes the place of the normal
/// law (JCGM 100:2008, G.3 and H.3).
pub fn line(values: &[At], sides: Sides) -> Option<Line> {
    if !values.iter().all(|v| v.u > 0.0 && v.u.is_finite()) {
        return None;
    }
    // The last value is a good zero of time: figures of the size of the span.
    let zero = values.last()?.day;
    let rows: Vec<LineRow> = values
        .iter()
        .map(|v| LineRow {
            reading: v.day - zero,
            position: v.value,
            approach: Approach::Unknown,
            weight: v.u.powi(-2),
        })
        .collect();
    let fit = line::fit(&rows, LineModel::PLAIN).ok()?;
    let dof = fit.lsq.dof;
    let stated = fit.lsq.covariance[(1, 1)].sqrt();
    let more = dof > 0 && chi2_upper_tail(fit.lsq.rss, dof) < SCATTERS;
    let scatter = match more {
        true => (fit.lsq.rss / dof as f64).sqrt().max(1.0),
        false => 1.0,
    };
    let u = stated * scatter;
    let ratio = fit.scale.value / u;
    let outside = |t: f64| match more {
        true => StudentsT::new(0.0, 1.0, dof as f64).map_or(1.0, |law| law.sf(t)),
        false => 0.5 * erfc(t * std::f64::consts::FRAC_1_SQRT_2),
    };
    let probability = match sides {
        Sides::Both => 2.0 * outside(ratio.abs()),
        Sides::Growth => outside(ratio),
    };
    let sum: f64 = rows.iter().map(|r| r.weight).sum();
    let mean = rows.iter().map(|r| r.weight * r.reading).sum::<f64>() / sum;
    let spread: f64 = rows
        .iter()
        .map(|r| r.weight * (r.reading - mean).powi(2))
        .sum();
    let shares = rows.iter().map(|r| r.weight * (r.reading - mean) / spread);
    Some(Line {
        per_day: fit.scale.value,
        u_per_day: u,
        u95_per_day: u * quantile(more.then_some(dof)),
        scatter,
        dof,
        probability,
        shares: shares.collect(),
    })
}

/// The factor that makes a standard uncertainty one of 95 %: of Student's t with so many degrees of
/// freedom, or of the normal law.
fn quantile(dof: Option<usize>) -> f64 {
    let upper = 1.0 - LEVEL / 2.0;
    match dof {
        Some(dof) => {
            StudentsT::new(0.0, 1.0, dof as f64).map_or(f64::NAN, |t| t.inverse_cdf(upper))
        }
        None => Normal::new(0.0, 1.0).map_or(f64::NAN, |n| n.inverse_cdf(upper)),
    }
}

/// Probabilities of many statements corrected for there being many (Holm 1979): the k-th smallest of n times
/// `n − k + 1`, never below the one before it, at most 1. Of all that are at or below a level, one or more
/// holds by chance alone at most that often, whatever ties them to each other.
pub fn holm(probabilities: &[f64]) -> Vec<f64> {
    let n = probabilities.len();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|a, b| probabilities[*a].total_cmp(&probabilities[*b]));
    let mut corrected = vec![1.0; n];
    let mut least: f64 = 0.0;
    for (k, i) in order.into_iter().enumerate() {
        least = least.max(probabilities[i] * (n - k) as f64).min(1.0);
        corrected[i] = least;
    }
    corrected
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: f64, value: f64, u: f64) -> At {
        At { day, value, u }
    }

    /// By hand: two values 100 days apart, 3 apart with u of 0.6 and 0.8: 0.03 a day with
    /// √(0.36 + 0.64) / 100 = 0.01. P(|z| ≥ 3) = 0.002700, P(z ≥ 3) = 0.001350.
    #[test]
    fn two_values_by_hand() {
        let values = [at(20.0, 5.0, 0.6), at(120.0, 8.0, 0.8)];
        let both = line(&values, Sides::Both).unwrap();
        assert!((both.per_day - 0.03).abs() < 1e-15);
        assert!((both.u_per_day - 0.01).abs() < 1e-15);
        assert!((both.u95_per_day - 0.0195996).abs() < 1e-7);
        assert!((both.probability - 0.002_699_796).abs() < 1e-8);
        assert_eq!((both.scatter, both.dof), (1.0, 0));
        let growth = line(&values, Sides::Growth).unwrap();
        assert!((growth.probability - 0.001_349_898).abs() < 1e-8);
        let back = [at(20.0, 8.0, 0.6), at(120.0, 5.0, 0.8)];
        let shrinking = line(&back, Sides::Growth).unwrap();
        assert!((shrinking.probability - 0.998_650_102).abs() < 1e-8);
    }

    /// By hand: values 0, 2, 1 on days −1, 0, 1: slope (1 − 0) / 2, residuals −1/2, 1, −1/2, S = 1.5 / u². With
    /// u = 0.1 S = 150, far beyond 3.84: slope's u = 0.1/√2 · √150 = 0.866; t of one degree of freedom 12.7062
    /// (JCGM 100:2008, table G.2: 12.71). With u = 1 S = 1.5: as stated, 1/√2.
    #[test]
    fn scatter_by_hand() {
        let of = |u: f64| {
            let values = [at(-1.0, 0.0, u), at(0.0, 2.0, u), at(1.0, 1.0, u)];
            line(&values, Sides::Both).unwrap()
        };
        let more = of(0.1);
        assert!((more.per_day - 0.5).abs() < 1e-14);
        assert!((more.scatter - 150f64.sqrt()).abs() < 1e-12);
        assert!((more.u_per_day - 0.75f64.sqrt()).abs() < 1e-12);
        assert!((more.u95_per_day / more.u_per_day - 12.706_205).abs() < 1e-4);
        let stated = of(1.0);
        assert_eq!(stated.scatter, 1.0);
        assert!((stated.u_per_day - 0.5f64.sqrt()).abs() < 1e-14);
    }

    /// JCGM 100:2008, table G.2, p = 95 %.
    #[test]
    fn quantiles_of_the_table() {
        for (dof, t) in [(1, 12.71), (2, 4.30), (3, 3.18), (10, 2.23), (50, 2.01)] {
            let found = quantile(Some(dof));
            assert!((found - t).abs() <= 0.005, "{dof}: {found}");
        }
        assert!((quantile(None) - 1.960).abs() < 5e-4);
    }

    #[test]
    fn shares_make_the_slope() {
        let values = [
            at(3.0, 1.2, 0.1),
            at(9.0, 0.7, 0.4),
            at(31.0, 2.9, 0.2),
            at(40.0, 2.0, 0.3),
        ];
        let found = line(&values, Sides::Both).unwrap();
        let sum: f64 = found
            .shares
            .iter()
            .zip(&values)
            .map(|(a, v)| a * v.value)
            .sum();
        assert!((sum - found.per_day).abs() < 1e-14);
        let u2: f64 = found
            .shares
            .iter()
            .zip(&values)
            .map(|(a, v)| (a * v.u).powi(2))
            .sum();
        assert!((u2.sqrt() * found.scatter - found.u_per_day).abs() < 1e-14);
    }

    #[test]
    fn one_day_has_no_slope() {
        assert!(line(&[at(5.0, 1.0, 0.1), at(5.0, 2.0, 0.1)], Sides::Both).is_none());
        assert!(line(&[at(5.0, 1.0, 0.1)], Sides::Both).is_none());
        assert!(line(&[], Sides::Both).is_none());
        assert!(line(&[at(5.0, 1.0, 0.0), at(9.0, 2.0, 0.1)], Sides::Both).is_none());
        assert!(line(&[at(5.0, f64::NAN, 0.1), at(9.0, 2.0, 0.1)], Sides::Both).is_none());
    }

    /// By hand: 4 · 0.01 = 0.04; 3 · 0.02 = 0.06; 2 · 0.025 = 0.05, raised to the 0.06 before it; 1 · 0.5.
    #[test]
    fn holms_correction_by_hand() {
        let found = holm(&[0.025, 0.01, 0.5, 0.02]);
        for (found, wanted) in found.iter().zip([0.06, 0.04, 0.5, 0.06]) {
            assert!((found - wanted).abs() < 1e-15);
        }
        assert!(holm(&[]).is_empty());
        assert_eq!(holm(&[0.9, 0.8]), [1.0, 1.0]);
    }
}
