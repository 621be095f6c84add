//! Plane through points, by least squares of the perpendicular distances.
//!
//! The normal is the right singular vector of the centred points (n × 3) with the smallest singular value. The points
//! are first reduced to a 3×3 triangle by Householder factorisation, so that the scatter matrix, which would square
//! the condition, is never formed. Source: Golub and Van Loan, *Matrix Computations*, total least squares.

use std::fmt;

use nalgebra::Matrix3;
use nalgebra::MatrixXx3;
use nalgebra::Vector3;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::svd3::svd3;

/// Points straighter than this (second over first singular value) span no plane; points closer together than this
/// (over the size of their coordinates) are one point.
pub const STRAIGHT: f64 = 1e-9;
/// See [`STRAIGHT`]; in terms of the largest coordinate.
pub const COINCIDENT: f64 = 1e-12;

/// Result of [`fit`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    pub centroid: Vector3<f64>,
    /// Unit normal; its largest component is positive.
    pub normal: Vector3<f64>,
    /// Two unit vectors in the plane, `x × y = normal`; x is the direction in which the points spread most.
    pub x: Vector3<f64>,
    pub y: Vector3<f64>,
    /// Of the centred points, descending; their squares are the eigenvalues of the scatter matrix.
    pub singular_values: Vector3<f64>,
    /// Sum of the squared distances from the plane.
    pub rss: f64,
    /// `√(rss/n)`.
    pub rms: f64,
}

/// Why there is no plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PlaneError {
    Input(InputError),
    /// All points are one point.
    Coincident {
        points: usize,
        spread: f64,
    },
    /// All points are on one line.
    Collinear {
        points: usize,
        length: f64,
        width: f64,
    },
}

impl fmt::Display for PlaneError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PlaneError::Input(cause) => cause.fmt(f),
            PlaneError::Coincident { points, spread } => {
                write!(
                    f,
                    "the {points} points are one point (spread {spread:.1e}), three apart from each other are needed"
                )
            }
            PlaneError::Collinear {
                points,
                length,
                width,
            } => write!(
                f,
                "the {points} points are on one line (spread {length:.3e} along it, {width:.1e} across), a point off the line is needed"
            ),
        }
    }
}

impl std::error::Error for PlaneError {}

impl From<InputError> for PlaneError {
    fn from(cause: InputError) -> Self {
        PlaneError::Input(cause)
    }
}

/// Fits the plane; three points or more.
///
/// # Errors
/// [`PlaneError`].
pub fn fit(points: &[Vector3<f64>]) -> Result<Plane, PlaneError> {
    checks::finite("a coordinate", points.iter().flat_map(|p| [p.x, p.y, p.z])).map_err(by_row)?;
    checks::enough("points", points.len(), 3)?;
    let n = points.len() as f64;
    let centroid = points.iter().sum::<Vector3<f64>>() / n;
    let size = points.iter().map(|p| p.amax()).fold(0.0, f64::max);
    let centred = MatrixXx3::from_fn(points.len(), |i, j| points[i][j] - centroid[j]);
    checks::in_range("the spread of the points", [centred.norm_squared()])?;
    let triangle: Matrix3<f64> = centred.qr().r().fixed_view::<3, 3>(0, 0).into();
    let d = svd3(&triangle);
    let (length, width) = (d.s[0], d.s[1]);
    if !(length > COINCIDENT * size * n.sqrt()) {
        return Err(PlaneError::Coincident {
            points: points.len(),
            spread: length,
        });
    }
    if !(width > STRAIGHT * length) {
        return Err(PlaneError::Collinear {
            points: points.len(),
            length,
            width,
        });
    }
    let sign = d.v[2][d.v[2].iamax()].signum();
    let normal = d.v[2] * sign;
    let rss = points
        .iter()
        .map(|p| (p - centroid).dot(&normal).powi(2))
        .sum::<f64>();
    let singular_values = Vector3::new(length, width, d.s[2].abs());
    Ok(Plane {
        centroid,
        normal,
        x: d.v[0],
        y: d.v[1] * sign,
        singular_values,
        rss,
        rms: (rss / n).sqrt(),
    })
}

/// Three coordinates make one row.
pub(crate) fn by_row(error: InputError) -> InputError {
    match error {
        InputError::NotFinite { what, row, value } => InputError::NotFinite {
            what,
            row: row / 3,
            value,
        },
        other => other,
    }
}
