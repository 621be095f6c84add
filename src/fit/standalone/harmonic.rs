//! First harmonic: the eccentricity of a notch circle (or of anything that turns).
//!
//! `y = offset + cos·cos θ + sin·sin θ [+ slope·θ] [− dir·lost/2]`, minimising `Σ w (y − …)²` by [`lsq`].
//! `amplitude = hypot(cos, sin)`, `phase = atan2(sin, cos)`, so that `y = offset + amplitude · cos(θ − phase)`.
//! θ in rad; y, offset, cos, sin, lost in the unit of y; slope in that unit per rad. The slope takes θ as it is given
//! (not wrapped): give the angles on one branch.

use std::fmt;

use nalgebra::DMatrix;

use crate::fit::standalone::Approach;
use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::lsq;
use crate::fit::standalone::lsq::Lsq;
use crate::fit::standalone::lsq::LsqError;

/// One reading at angle θ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HarmonicRow {
    /// θ, rad.
    pub angle: f64,
    pub value: f64,
    /// The sense in which the value was changing; only used with [`HarmonicModel::reversal`].
    pub approach: Approach,
    /// `1/u²`, or 1.
    pub weight: f64,
}

/// Which terms join the offset and the harmonic.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct HarmonicModel {
    pub slope: bool,
    pub reversal: bool,
}

/// Result of [`fit`]. Order in [`HarmonicFit::lsq`]: offset, cos, sin, then slope and lost motion where asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct HarmonicFit {
    pub offset: f64,
    pub cos: f64,
    pub sin: f64,
    pub slope: Option<f64>,
    pub lost_motion: Option<f64>,
    pub amplitude: f64,
    /// Where the harmonic is highest, rad in (−π, π]; none where the amplitude is 0.
    pub phase: Option<f64>,
    /// First-order standard deviation from the scatter seen.
    pub amplitude_sd: Option<f64>,
    /// The same, rad.
    pub phase_sd: Option<f64>,
    pub lsq: Lsq,
}

/// Why [`fit`] gave no result.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HarmonicError {
    Input(InputError),
    /// The angles do not tell this term from the ones before it.
    Undetermined {
        term: &'static str,
        remainder: f64,
    },
}

impl fmt::Display for HarmonicError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            HarmonicError::Input(cause) => cause.fmt(f),
            HarmonicError::Undetermined { term, remainder } => write!(
                f,
                "the readings do not settle the {term} (only {remainder:.1e} of its effect is its own); \
                 an offset and a harmonic need at least three different angles well spread, a slope one more, \
                 lost motion approaches from both sides"
            ),
        }
    }
}

impl std::error::Error for HarmonicError {}

impl From<InputError> for HarmonicError {
    fn from(cause: InputError) -> Self {
        HarmonicError::Input(cause)
    }
}

/// Name of a term and what one unit of it does to a row.
type Effect = (&'static str, fn(&HarmonicRow) -> f64);

/// Fits the harmonic.
///
/// # Errors
/// [`HarmonicError`]: numbers that cannot be used, too few rows, or a term that the angles leave open.
pub fn fit(rows: &[HarmonicRow], model: HarmonicModel) -> Result<HarmonicFit, HarmonicError> {
    checks::finite("the angle", rows.iter().map(|row| row.angle))?;
    checks::finite("the value", rows.iter().map(|row| row.value))?;
    let weights: Vec<f64> = rows.iter().map(|row| row.weight).collect();
    let mut terms: Vec<Effect> = vec![
        ("offset", |_| 1.0),
        ("cosine term", |row| row.angle.cos()),
        ("sine term", |row| row.angle.sin()),
    ];
    if model.slope {
        terms.push(("slope", |row| row.angle));
    }
    if model.reversal {
        terms.push(("lost motion", |row| -0.5 * row.approach.sign()));
    }
    let design = DMatrix::from_fn(rows.len(), terms.len(), |i, j| terms[j].1(&rows[i]));
    let y: Vec<f64> = rows.iter().map(|row| row.value).collect();
    let lsq = lsq::solve(&design, &y, Some(&weights)).map_err(|error| match error {
        LsqError::Input(cause) => HarmonicError::Input(cause),
        LsqError::Dependent { column, remainder } => HarmonicError::Undetermined {
            term: terms[column].0,
            remainder,
        },
    })?;

    let (cos, sin) = (lsq.params[1], lsq.params[2]);
    let amplitude = cos.hypot(sin);
    let first_order = |g: [f64; 2]| {
        let c = &lsq.covariance;
        let variance =
            g[0] * g[0] * c[(1, 1)] + 2.0 * g[0] * g[1] * c[(1, 2)] + g[1] * g[1] * c[(2, 2)];
        lsq.residual_sd().map(|s| s * variance.max(0.0).sqrt())
    };
    let turning = amplitude > 0.0;
    Ok(HarmonicFit {
        offset: lsq.params[0],
        cos,
        sin,
        slope: model.slope.then(|| lsq.params[3]),
        lost_motion: model.reversal.then(|| lsq.params[terms.len() - 1]),
        amplitude,
        phase: turning.then(|| sin.atan2(cos)),
        amplitude_sd: if turning {
            first_order([cos / amplitude, sin / amplitude])
        } else {
            None
        },
        phase_sd: if turning {
            first_order([-sin / amplitude, cos / amplitude]).map(|s| s / amplitude)
        } else {
            None
        },
        lsq,
    })
}
