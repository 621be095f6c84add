//! Means of angles, and the turntable's index from notches brought to the switch.
//!
//! With `C = Σ w cos θ / Σ w` and `S = Σ w sin θ / Σ w`: mean `= atan2(S, C)`, resultant length `R = √(C² + S²)`,
//! circular variance `1 − R`, circular standard deviation `√(−2 ln R)` (rad).
//! Source: Mardia and Jupp, *Directional Statistics*, 2000. The variance is computed as `Σ w 2 sin²((θ − mean)/2) / Σ w`,
//! which equals `1 − R` and does not cancel where the angles lie close together.

use std::f64::consts::PI;
use std::f64::consts::TAU;
use std::fmt;

use crate::fit::standalone::Approach;
use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::units::wrap_rad;

/// Result of [`mean`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircularMean {
    /// In (−π, π].
    pub mean: f64,
    /// 1 where all angles agree, near 0 where they point everywhere.
    pub resultant_length: f64,
    /// `1 − resultant_length`.
    pub variance: f64,
    /// `√(−2 ln R)`, rad.
    pub sd: f64,
}

/// Why there is no mean, or no index.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CircularError {
    Input(InputError),
    /// The angles cancel: no direction is better than another.
    NoDirection {
        resultant_length: f64,
    },
    /// A scale of 0 says that the table does not turn.
    ScaleZero,
}

impl fmt::Display for CircularError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CircularError::Input(cause) => cause.fmt(f),
            CircularError::NoDirection { resultant_length } => write!(
                f,
                "the angles cancel (resultant length {resultant_length:.1e}), so they have no mean; look for notches with a wrong number"
            ),
            CircularError::ScaleZero => write!(
                f,
                "the turntable's scale is 0, a turn per reading unit is needed"
            ),
        }
    }
}

impl std::error::Error for CircularError {}

impl From<InputError> for CircularError {
    fn from(cause: InputError) -> Self {
        CircularError::Input(cause)
    }
}

/// Below this resultant length the mean is rounding.
const NO_DIRECTION: f64 = 1e-12;

/// Weighted circular mean; `angles` in radians, on any branch.
///
/// # Errors
/// [`CircularError::Input`], or [`CircularError::NoDirection`] where the angles cancel.
pub fn mean(angles: &[f64], weights: Option<&[f64]>) -> Result<CircularMean, CircularError> {
    checks::finite("the angle", angles.iter().copied())?;
    let used = checks::weights(weights, angles.len())?;
    checks::enough("angles", used, 1)?;
    let weight = |i: usize| weights.map_or(1.0, |w| w[i]);
    let sum = |f: &dyn Fn(f64) -> f64| {
        angles
            .iter()
            .enumerate()
            .map(|(i, &a)| weight(i) * f(a))
            .sum::<f64>()
    };
    let total = sum(&|_| 1.0);
    let (c, s) = (sum(&f64::cos) / total, sum(&f64::sin) / total);
    checks::in_range("the sum of the weights", [total, c, s])?;
    let resultant_length = c.hypot(s);
    if !(resultant_length > NO_DIRECTION) {
        return Err(CircularError::NoDirection { resultant_length });
    }
    let first = s.atan2(c);
    // One step of Newton's method on Σ w sin(θ − mean) = 0 takes out the rounding of the sums.
    let mut mean = first + sum(&|a| (a - first).sin()) / (total * resultant_length);
    if mean > PI {
        mean -= TAU;
    } else if mean <= -PI {
        mean += TAU;
    }
    let variance =
        (sum(&|a| 2.0 * (0.5 * (a - mean)).sin().powi(2)) / total).min(1.0 - NO_DIRECTION);
    Ok(CircularMean {
        mean,
        resultant_length,
        variance,
        sd: (-2.0 * (-variance).ln_1p()).sqrt(),
    })
}

/// A notch brought to the switch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NotchRow {
    /// α: nominal angle of the notch in the platter frame, rad, counter-clockwise.
    pub notch: f64,
    /// r: controller reading of the turntable.
    pub reading: f64,
    /// Whether the *reading* was rising or falling.
    pub approach: Approach,
    /// `1/u²`, or 1.
    pub weight: f64,
}

/// Mean of `switch − α − scale · r` over the rows of one approach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Side {
    pub mean: CircularMean,
    /// Rows with a weight above zero.
    pub rows: usize,
    /// Sum of their weights.
    pub weight: f64,
}

/// Result of [`turntable_index`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Index {
    /// Angle of the table at reading 0, in [−π, π).
    pub index: f64,
    /// Lost motion, rad; none unless both approaches are there. A negative value is reported as it is.
    pub lost_motion: Option<f64>,
    /// Standard deviation of the index from the scatter within the approaches; none with one row for each.
    pub index_sd: Option<f64>,
    /// Standard deviation of the lost motion, likewise.
    pub lost_motion_sd: Option<f64>,
    pub rising: Option<Side>,
    pub falling: Option<Side>,
    pub unknown: Option<Side>,
    /// Rows without an approach that stand beside both approaches and take no part in the index.
    pub set_aside: usize,
}

/// Index of the turntable, `φ = scale · r + index − dir · sign(scale) · lost/2`, from notches at the switch, where
/// `φ + α = switch`: per approach the circular mean `m = switch − α − scale · r`, then
/// `index` = midway from `m₊` to `m₋` and `lost = sign(scale) · wrap_rad(m₋ − m₊)`.
///
/// With one approach only, the index is that approach's mean and still contains half the lost motion. Rows without
/// an approach are used (pooled, by weight) unless both approaches are there; then they are set aside and counted.
/// `scale` in rad per reading unit, `switch` in rad; the eccentricity of the notch circle is not taken out.
///
/// # Errors
/// [`CircularError`].
pub fn turntable_index(rows: &[NotchRow], scale: f64, switch: f64) -> Result<Index, CircularError> {
    checks::finite("the scale", [scale])?;
    checks::finite("the switch angle", [switch])?;
    if scale == 0.0 {
        return Err(CircularError::ScaleZero);
    }
    checks::finite("the notch angle", rows.iter().map(|row| row.notch))?;
    checks::finite("the table reading", rows.iter().map(|row| row.reading))?;
    let weights: Vec<f64> = rows.iter().map(|row| row.weight).collect();
    let used = checks::weights(Some(&weights), rows.len())?;
    checks::enough("notch readings", used, 1)?;
    let values: Vec<f64> = rows
        .iter()
        .map(|row| switch - row.notch - scale * row.reading)
        .collect();
    checks::in_range("scale times reading", values.iter().copied())?;

    let mut squares = 0.0;
    let mut sides = 0;
    let mut side = |keep: &[Approach]| -> Result<Option<Side>, CircularError> {
        let (mut angles, mut kept) = (Vec::new(), Vec::new());
        for (row, &value) in rows.iter().zip(&values) {
            if row.weight > 0.0 && keep.contains(&row.approach) {
                angles.push(value);
                kept.push(row.weight);
            }
        }
        if angles.is_empty() {
            return Ok(None);
        }
        let mean = mean(&angles, Some(&kept))?;
        if keep.len() == 1 && keep[0] != Approach::Unknown {
            sides += 1;
            squares += angles
                .iter()
                .zip(&kept)
                .map(|(a, w)| w * wrap_rad(a - mean.mean).powi(2))
                .sum::<f64>();
        }
        Ok(Some(Side {
            mean,
            rows: angles.len(),
            weight: kept.iter().sum(),
        }))
    };
    let rising = side(&[Approach::Rising])?;
    let falling = side(&[Approach::Falling])?;
    let unknown = side(&[Approach::Unknown])?;
    let pooled = side(&[Approach::Rising, Approach::Unknown, Approach::Falling])?;

    if let (Some(up), Some(down)) = (rising, falling) {
        let difference = wrap_rad(down.mean.mean - up.mean.mean);
        let dof = (up.rows + down.rows).saturating_sub(sides);
        let variance =
            (dof > 0).then(|| squares / dof as f64 * (1.0 / up.weight + 1.0 / down.weight));
        return Ok(Index {
            index: wrap_rad(up.mean.mean + 0.5 * difference),
            lost_motion: Some(scale.signum() * difference),
            index_sd: variance.map(|v| 0.5 * v.sqrt()),
            lost_motion_sd: variance.map(f64::sqrt),
            rising,
            falling,
            unknown,
            set_aside: unknown.map_or(0, |side| side.rows),
        });
    }
    let Some(all) = pooled else {
        return Err(InputError::TooFew {
            what: "notch readings",
            found: 0,
            needed: 1,
        }
        .into());
    };
    let squares: f64 = rows
        .iter()
        .zip(&values)
        .map(|(row, v)| row.weight * wrap_rad(v - all.mean.mean).powi(2))
        .sum();
    Ok(Index {
        index: wrap_rad(all.mean.mean),
        lost_motion: None,
        index_sd: (all.rows > 1).then(|| (squares / (all.rows - 1) as f64 / all.weight).sqrt()),
        lost_motion_sd: None,
        rising,
        falling,
        unknown,
        set_aside: 0,
    })
}
