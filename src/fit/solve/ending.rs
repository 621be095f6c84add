//! When to stop, and why it was.

use std::fmt;

/// Why the solver stopped. Whether the result is determined is another question; see [`Factor`](super::Factor).
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ending {
    /// What a further Gauss-Newton step would change is below [`Limits::offset`] or below rounding.
    Converged,
    /// No shorter step made S smaller: the derivatives are wrong, or S has a kink here.
    NoDownhillStep {
        /// S at the last point.
        cost: f64,
        /// ‖J p‖/‖r‖ of the Gauss-Newton step that was still open.
        offset: f64,
    },
    /// The limit on evaluations was reached first.
    IterationsSpent {
        /// S at the last point.
        cost: f64,
        /// ‖J p‖/‖r‖ of the Gauss-Newton step that was still open.
        offset: f64,
        /// Evaluations of the residuals, [`Limits::evaluations`].
        evaluations: usize,
    },
    /// At the start a residual or derivative is not a number, or S is too large to be one.
    NotFinite {
        /// The first residual that is not finite itself or in its derivatives; `None` where only a sum overflows.
        residual: Option<usize>,
    },
}

impl fmt::Display for Ending {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Ending::Converged => write!(f, "converged"),
            Ending::NoDownhillStep { cost, offset } => {
                write!(
                    f,
                    "no step made the sum of squares {cost:e} smaller, relative offset {offset:.1e}"
                )
            }
            Ending::IterationsSpent {
                cost,
                offset,
                evaluations,
            } => {
                write!(
                    f,
                    "{evaluations} evaluations spent at a sum of squares of {cost:e}, relative offset {offset:.1e}"
                )
            }
            Ending::NotFinite {
                residual: Some(residual),
            } => {
                write!(
                    f,
                    "residual {residual} or its derivatives are not finite at the start"
                )
            }
            Ending::NotFinite { residual: None } => {
                write!(f, "the sum of squares overflows at the start")
            }
        }
    }
}

/// When to stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Converged when ‖J p‖ ≤ offset·‖r‖ for the Gauss-Newton step p (Bates, Watts 1981): what is left to
    /// move is then this share of the standard uncertainties, times √m.
    pub offset: f64,
    /// At most this many points are evaluated.
    pub evaluations: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            offset: 1e-9,
            evaluations: 5_000,
        }
    }
}
