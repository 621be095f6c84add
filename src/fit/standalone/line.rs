//! Track datum: the straight line between track readings and plate positions.
//!
//! `y = offset + scale · r − dir · lost / 2`  (the law of an axis), minimising `Σ w (y − …)²` by [`lsq`].
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | r | controller reading of the track | reading units |
//! | y | position of the carriage's reference point along the track, from [`carriage_position`] | mm |
//! | offset | where that point stands at reading 0: the track datum | mm |
//! | scale | travel per reading unit | mm per unit |
//! | lost | lost motion: half of it is missing on either approach | mm |
//! | dir | +1, −1, 0: the sense in which y was changing ([`Approach::of_value`] of the noted approach) | – |
//!
//! Any of the three may be known beforehand ([`Term::Known`]).

use std::fmt;

use nalgebra::DMatrix;

use crate::fit::standalone::Approach;
use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::lsq;
use crate::fit::standalone::lsq::Lsq;
use crate::fit::standalone::lsq::LsqError;

/// One reading of the track with the position that was counted for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineRow {
    /// r.
    pub reading: f64,
    /// y.
    pub position: f64,
    /// The sense in which y was changing; only used where lost motion takes part.
    pub approach: Approach,
    /// `1/u²`, or 1 where all rows are alike.
    pub weight: f64,
}

/// A term of the line: to be found, or known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Term {
    Free,
    Known(f64),
}

/// Which terms are to be found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineModel {
    pub offset: Term,
    pub scale: Term,
    pub lost_motion: Term,
}

impl LineModel {
    /// Offset and scale free, no lost motion.
    pub const PLAIN: Self = LineModel {
        offset: Term::Free,
        scale: Term::Free,
        lost_motion: Term::Known(0.0),
    };
    /// All three free.
    pub const WITH_REVERSAL: Self = LineModel {
        lost_motion: Term::Free,
        ..Self::PLAIN
    };
}

/// A term as found. A known term has no uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    pub value: f64,
    /// Row of this term in [`LineFit::lsq`]; none where it was known.
    pub index: Option<usize>,
    /// Standard deviation from the scatter seen; none where it was known or nothing is left over to judge by.
    pub sd: Option<f64>,
}

/// Result of [`fit`].
#[derive(Debug, Clone, PartialEq)]
pub struct LineFit {
    pub offset: Found,
    pub scale: Found,
    pub lost_motion: Found,
    /// Covariance of the free terms, residuals `y − line` in the order of the rows, rss, dof.
    pub lsq: Lsq,
}

impl LineFit {
    /// The line at reading r, and its standard deviation from the scatter seen (mean line, without the scatter of a
    /// single reading): `√(gᵀCg)·s` with `g = (1, r, −dir/2)` on the free terms. GUM (JCGM 100:2008) H.3.4.
    #[must_use]
    pub fn predict(&self, reading: f64, approach: Approach) -> (f64, Option<f64>) {
        let terms = [
            (self.offset, 1.0),
            (self.scale, reading),
            (self.lost_motion, -0.5 * approach.sign()),
        ];
        let value = terms.iter().map(|(term, g)| term.value * g).sum();
        let mut variance = 0.0;
        for (a, ga) in terms {
            for (b, gb) in terms {
                if let (Some(i), Some(j)) = (a.index, b.index) {
                    variance += ga * gb * self.lsq.covariance[(i, j)];
                }
            }
        }
        (
            value,
            self.lsq.residual_sd().map(|s| s * variance.max(0.0).sqrt()),
        )
    }

    /// Correlation of offset and scale; none where either was known.
    #[must_use]
    pub fn offset_scale_correlation(&self) -> Option<f64> {
        Some(self.lsq.correlation(self.offset.index?, self.scale.index?))
    }
}

/// Why [`fit`] gave no line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LineError {
    Input(InputError),
    /// Every reading is (to rounding) the same, so the scale cannot be told from the offset.
    OneStation {
        reading: f64,
        remainder: f64,
    },
    /// No pair of approaches from both sides (or only one side and unnoted rows at the same mix everywhere), so lost
    /// motion cannot be told from the offset.
    OneSide {
        rising: usize,
        falling: usize,
        remainder: f64,
    },
}

impl fmt::Display for LineError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LineError::Input(cause) => cause.fmt(f),
            LineError::OneStation { reading, .. } => write!(
                f,
                "all track readings are {reading}: the scale cannot be found from one station; count holes at a second one, or give the scale"
            ),
            LineError::OneSide {
                rising, falling, ..
            } => write!(
                f,
                "{rising} readings were approached rising and {falling} falling: lost motion cannot be told from the other terms; \
                 approach at least one station from both sides"
            ),
        }
    }
}

impl std::error::Error for LineError {}

impl From<InputError> for LineError {
    fn from(cause: InputError) -> Self {
        LineError::Input(cause)
    }
}

/// Where the carriage's reference point stands when its feature stands `count` pitches plus `gap` from a mark:
/// `mark + count · pitch + gap − feature`, all along the same plate axis, for a track parallel to it.
///
/// `mark` is the mark's plate coordinate, `feature` the feature's coordinate in the carriage frame.
#[must_use]
pub fn carriage_position(mark: f64, count: i32, pitch: f64, gap: f64, feature: f64) -> f64 {
    mark + f64::from(count) * pitch + gap - feature
}

/// Fits the line.
///
/// # Errors
/// [`LineError`]: numbers that cannot be used, too few rows, one station only, one side only.
pub fn fit(rows: &[LineRow], model: LineModel) -> Result<LineFit, LineError> {
    checks::finite("the track reading", rows.iter().map(|row| row.reading))?;
    checks::finite("the position", rows.iter().map(|row| row.position))?;
    let weights: Vec<f64> = rows.iter().map(|row| row.weight).collect();
    checks::weights(Some(&weights), rows.len())?;
    let named = [
        ("the known offset", model.offset),
        ("the known scale", model.scale),
        ("the known lost motion", model.lost_motion),
    ];
    for (what, term) in named {
        if let Term::Known(value) = term {
            checks::finite(what, [value])?;
        }
    }

    let effect = |term: usize, row: &LineRow| match term {
        0 => 1.0,
        1 => row.reading,
        _ => -0.5 * row.approach.sign(),
    };
    let terms = [model.offset, model.scale, model.lost_motion];
    let free: Vec<usize> = (0..3).filter(|&i| terms[i] == Term::Free).collect();
    let known = |i: usize| {
        if let Term::Known(value) = terms[i] {
            value
        } else {
            0.0
        }
    };
    let y: Vec<f64> = rows
        .iter()
        .map(|row| row.position - (0..3).map(|i| known(i) * effect(i, row)).sum::<f64>())
        .collect();
    let design = DMatrix::from_fn(rows.len(), free.len(), |i, j| effect(free[j], &rows[i]));
    let lsq = lsq::solve(&design, &y, Some(&weights)).map_err(|error| match error {
        LsqError::Input(cause) => LineError::Input(cause),
        LsqError::Dependent { column, remainder } => dependent(rows, free[column], remainder),
    })?;

    let found = |i: usize| match free.iter().position(|&term| term == i) {
        Some(j) => Found {
            value: lsq.params[j],
            index: Some(j),
            sd: lsq.sd(j),
        },
        None => Found {
            value: known(i),
            index: None,
            sd: None,
        },
    };
    Ok(LineFit {
        offset: found(0),
        scale: found(1),
        lost_motion: found(2),
        lsq,
    })
}

/// Names the term that the readings leave open.
fn dependent(rows: &[LineRow], term: usize, remainder: f64) -> LineError {
    let used = || rows.iter().filter(|row| row.weight > 0.0);
    if term == 2 {
        let count = |side| used().filter(|row| row.approach == side).count();
        LineError::OneSide {
            rising: count(Approach::Rising),
            falling: count(Approach::Falling),
            remainder,
        }
    } else {
        LineError::OneStation {
            reading: used().next().map_or(0.0, |row| row.reading),
            remainder,
        }
    }
}
