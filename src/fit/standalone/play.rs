//! Free play of the tip, left and right of a target, seen along the arm's heading.

use std::fmt;

use nalgebra::Vector2;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;

/// Result of [`side_play`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SidePlay {
    /// From the target to the tip's free centre, plate axes: `(left − right)/2 · el`.
    pub free_centre: Vector2<f64>,
    /// Lost motion of joint 1 that this play amounts to, rad: `(left + right)/ρ`.
    pub lost_motion: f64,
}

/// Why the play says nothing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PlayError {
    Input(InputError),
    /// A play is a length: it cannot be below zero.
    Negative {
        side: &'static str,
        play: f64,
    },
    /// The tip must stand away from joint 1's axis.
    Distance {
        distance: f64,
    },
    /// The heading has no length.
    NoHeading {
        length: f64,
    },
}

impl fmt::Display for PlayError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PlayError::Input(cause) => cause.fmt(f),
            PlayError::Negative { side, play } => write!(
                f,
                "the play to the {side} is {play}, zero or more is needed"
            ),
            PlayError::Distance { distance } => {
                write!(
                    f,
                    "the tip is {distance} from joint 1's axis, a distance above zero is needed"
                )
            }
            PlayError::NoHeading { length } => {
                write!(f, "the heading has length {length}, a direction is needed")
            }
        }
    }
}

impl std::error::Error for PlayError {}

impl From<InputError> for PlayError {
    fn from(cause: InputError) -> Self {
        PlayError::Input(cause)
    }
}

/// What the play says: `left` and `right` are how far the tip goes to either side of the target, `heading` is the arm's
/// horizontal direction (any length), `distance` (ρ) is the tip's horizontal distance from joint 1's axis. Left is
/// `el = ez × heading`. Same length unit throughout.
///
/// # Errors
/// [`PlayError`].
pub fn side_play(
    left: f64,
    right: f64,
    heading: Vector2<f64>,
    distance: f64,
) -> Result<SidePlay, PlayError> {
    checks::finite(
        "the play, heading or distance",
        [left, right, heading.x, heading.y, distance],
    )?;
    for (side, play) in [("left", left), ("right", right)] {
        if play < 0.0 {
            return Err(PlayError::Negative { side, play });
        }
    }
    if distance <= 0.0 {
        return Err(PlayError::Distance { distance });
    }
    let length = heading.x.hypot(heading.y);
    if !(length > 0.0 && length.is_finite()) {
        return Err(PlayError::NoHeading { length });
    }
    let el = Vector2::new(-heading.y, heading.x) / length;
    let found = SidePlay {
        free_centre: el * (0.5 * (left - right)),
        lost_motion: (left + right) / distance,
    };
    checks::in_range(
        "the play",
        [found.free_centre.x, found.free_centre.y, found.lost_motion],
    )?;
    Ok(found)
}
