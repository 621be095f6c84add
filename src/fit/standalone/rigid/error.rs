//! Why a pair of point sets gives no rotation.

use std::fmt;

use nalgebra::Vector3;

use crate::fit::standalone::checks::InputError;

/// One of the two sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Set {
    Source,
    Target,
}

impl fmt::Display for Set {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if *self == Set::Source {
            "source"
        } else {
            "target"
        })
    }
}

/// Why there is no rotation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RigidError {
    Input(InputError),
    /// One pair (with a weight above zero): the shift is known, the rotation is open.
    OnePoint {
        shift: Vector3<f64>,
    },
    /// All points of one set are one point.
    Coincident {
        set: Set,
        pairs: usize,
        spread: f64,
        rmsd: f64,
    },
    /// All points of one set are on one line: the turn about it is open. `source_axis` goes to `target_axis`.
    Collinear {
        set: Set,
        pairs: usize,
        source_axis: Vector3<f64>,
        target_axis: Vector3<f64>,
        rmsd: f64,
    },
    /// The sets match so badly, or the best mirror image is so symmetric, that several rotations are equally good.
    NotUnique {
        singular_values: Vector3<f64>,
        rmsd: f64,
    },
}

impl fmt::Display for RigidError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RigidError::Input(cause) => cause.fmt(f),
            RigidError::OnePoint { .. } => write!(
                f,
                "found one point pair, a rotation needs more (two about z, three in space)"
            ),
            RigidError::Coincident {
                set, pairs, spread, ..
            } => {
                write!(
                    f,
                    "the {pairs} {set} points are one point (spread {spread:.1e}), points apart from each other are needed"
                )
            }
            RigidError::Collinear {
                set,
                pairs,
                source_axis: a,
                ..
            } => write!(
                f,
                "the {pairs} {set} points are on one line (source direction {:.4}, {:.4}, {:.4}), so the turn about it is open; \
                 a point off the line is needed",
                a.x, a.y, a.z
            ),
            RigidError::NotUnique {
                singular_values: s,
                rmsd,
            } => write!(
                f,
                "several rotations fit equally well (singular values {:.3e}, {:.3e}, {:.3e}; rms distance {rmsd:.3e}); \
                 check that each point is paired with its own partner",
                s.x, s.y, s.z
            ),
        }
    }
}

impl std::error::Error for RigidError {}

impl From<InputError> for RigidError {
    fn from(cause: InputError) -> Self {
        RigidError::Input(cause)
    }
}
