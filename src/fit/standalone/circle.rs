//! Circle through points, in the plane and in space.
//!
//! The *algebraic* circle (Kåsa 1976) is linear: `x² + y² = 2 a x + 2 b y + c`; on a short arc it comes out too small.
//! The *geometric* circle, which is the result, minimises `Σ (|p − centre| − radius)²`: Gauss-Newton from the
//! algebraic start with halved steps where a full one goes uphill (Gander, Golub and Strebel 1994; Coope 1993).
//! Covariance `(JᵀJ)⁻¹` of (centre x, centre y, radius) at the result, for points of unit variance across the circle.
//! In space: plane by total least squares ([`plane`]), then the circle of the points' feet in that plane.

use std::fmt;

use nalgebra::DMatrix;
use nalgebra::Matrix3;
use nalgebra::Vector2;
use nalgebra::Vector3;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::lsq;
use crate::fit::standalone::lsq::LsqError;
use crate::fit::standalone::plane;
use crate::fit::standalone::plane::COINCIDENT;
use crate::fit::standalone::plane::Plane;
use crate::fit::standalone::plane::PlaneError;
use crate::fit::standalone::plane::STRAIGHT;

/// More steps than this are not taken.
pub const MAX_STEPS: usize = 200;
/// A circle larger than this, over the spread of its points, is a straight line for every purpose.
pub const FLATTEST: f64 = 1e8;

/// Result of [`fit`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    pub centre: Vector2<f64>,
    pub radius: f64,
    /// `(JᵀJ)⁻¹` of (centre x, centre y, radius); times the variance of a point, their covariance.
    pub covariance: Matrix3<f64>,
    /// `Σ (distance to the centre − radius)²`.
    pub rss: f64,
    /// `√(rss/n)`.
    pub rms: f64,
    /// n − 3.
    pub dof: usize,
    /// The algebraic circle, from which the geometric one was started.
    pub kasa_centre: Vector2<f64>,
    pub kasa_radius: f64,
    /// Steps taken.
    pub steps: usize,
}

impl Circle {
    /// `√(rss/dof)`; none with three points.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        (self.dof > 0).then(|| (self.rss / self.dof as f64).sqrt())
    }

    /// Standard deviations of (centre x, centre y, radius) from the scatter seen.
    #[must_use]
    pub fn sd(&self) -> Option<Vector3<f64>> {
        self.residual_sd()
            .map(|s| self.covariance.diagonal().map(|c| s * c.sqrt()))
    }
}

/// Result of [`fit_in_space`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpaceCircle {
    pub centre: Vector3<f64>,
    pub radius: f64,
    pub plane: Plane,
    /// The circle in the plane's own x and y, from its centroid.
    pub in_plane: Circle,
}

/// Why there is no circle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CircleError {
    Input(InputError),
    /// All points are one point.
    Coincident {
        points: usize,
        spread: f64,
    },
    /// All points are on one line, or so near it that the circle has no size.
    Collinear {
        points: usize,
        length: f64,
        width: f64,
    },
    /// The best circle was not reached; its last radius is given.
    NotConverged {
        steps: usize,
        radius: f64,
        last_step: f64,
    },
}

impl fmt::Display for CircleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            CircleError::Input(cause) => cause.fmt(f),
            CircleError::Coincident { points, spread } => {
                PlaneError::Coincident { points, spread }.fmt(f)
            }
            CircleError::Collinear {
                points,
                length,
                width,
            } => write!(
                f,
                "the {points} points are on one line (spread {length:.3e} along it, {width:.1e} across), no circle fits better than the line; \
                 touch the mark over a longer arc"
            ),
            CircleError::NotConverged {
                steps,
                radius,
                last_step,
            } => write!(
                f,
                "no best circle after {steps} steps (radius {radius:.6e}, last step {last_step:.1e}); touch the mark over a longer arc"
            ),
        }
    }
}

impl std::error::Error for CircleError {}

impl From<InputError> for CircleError {
    fn from(cause: InputError) -> Self {
        CircleError::Input(cause)
    }
}

impl From<PlaneError> for CircleError {
    fn from(cause: PlaneError) -> Self {
        match cause {
            PlaneError::Input(cause) => CircleError::Input(cause),
            PlaneError::Coincident { points, spread } => CircleError::Coincident { points, spread },
            PlaneError::Collinear {
                points,
                length,
                width,
            } => CircleError::Collinear {
                points,
                length,
                width,
            },
        }
    }
}

/// Points moved to their centroid and scaled to unit spread.
struct Unit {
    points: Vec<Vector2<f64>>,
    centroid: Vector2<f64>,
    spread: f64,
}

impl Unit {
    /// The rows of J at a circle, `d(distance − radius)/d(x, y, radius)`, and the residuals.
    fn rows(&self, circle: Vector3<f64>) -> (DMatrix<f64>, Vec<f64>) {
        let mut jacobian = DMatrix::from_element(self.points.len(), 3, -1.0);
        let residuals = self.points.iter().enumerate().map(|(i, p)| {
            let (dx, dy) = (p.x - circle.x, p.y - circle.y);
            let distance = dx.hypot(dy);
            // A point at the centre has no direction: it pulls on the radius only.
            let inverse = if distance > 0.0 { 1.0 / distance } else { 0.0 };
            (jacobian[(i, 0)], jacobian[(i, 1)]) = (-dx * inverse, -dy * inverse);
            distance - circle.z
        });
        let residuals = residuals.collect();
        (jacobian, residuals)
    }

    fn rss(&self, circle: Vector3<f64>) -> f64 {
        self.points
            .iter()
            .map(|p| ((p.x - circle.x).hypot(p.y - circle.y) - circle.z).powi(2))
            .sum()
    }

    fn flat(&self) -> CircleError {
        let n = self.points.len();
        let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
        for p in &self.points {
            (xx, xy, yy) = (xx + p.x * p.x, xy + p.x * p.y, yy + p.y * p.y);
        }
        let gap = (0.5 * (xx - yy)).hypot(xy);
        let length = (0.5 * (xx + yy) + gap).max(0.0).sqrt();
        let width = if length > 0.0 {
            (xx * yy - xy * xy).max(0.0).sqrt() / length
        } else {
            0.0
        };
        CircleError::Collinear {
            points: n,
            length: length * self.spread,
            width: width * self.spread,
        }
    }
}

/// Fits a circle in the plane; three points or more, not on a line.
///
/// # Errors
/// [`CircleError`].
pub fn fit(points: &[Vector2<f64>]) -> Result<Circle, CircleError> {
    checks::finite("a coordinate", points.iter().flat_map(|p| [p.x, p.y])).map_err(|error| {
        match error {
            InputError::NotFinite { what, row, value } => InputError::NotFinite {
                what,
                row: row / 2,
                value,
            },
            other => other,
        }
    })?;
    checks::enough("points", points.len(), 3)?;
    let n = points.len();
    let centroid = points.iter().sum::<Vector2<f64>>() / n as f64;
    let size = points.iter().map(|p| p.amax()).fold(0.0, f64::max);
    let spread = (points
        .iter()
        .map(|p| (p - centroid).norm_squared())
        .sum::<f64>()
        / n as f64)
        .sqrt();
    checks::in_range("the spread of the points", [centroid.x, centroid.y, spread])?;
    if !(spread > COINCIDENT * size) {
        return Err(CircleError::Coincident { points: n, spread });
    }
    let unit = Unit {
        points: points.iter().map(|p| (p - centroid) / spread).collect(),
        centroid,
        spread,
    };
    let start = kasa(&unit)?;
    let (found, steps) = gauss_newton(&unit, start)?;

    let (jacobian, residuals) = unit.rows(found);
    let at_end = lsq::solve(&jacobian, &residuals, None).map_err(|error| linear(&unit, error))?;
    let covariance = Matrix3::from_fn(|i, j| at_end.covariance[(i, j)]);
    let place = |c: Vector3<f64>| unit.centroid + c.xy() * unit.spread;
    let rss = unit.rss(found) * spread * spread;
    let circle = Circle {
        centre: place(found),
        radius: found.z * spread,
        covariance,
        rss,
        rms: (rss / n as f64).sqrt(),
        dof: n - 3,
        kasa_centre: place(start),
        kasa_radius: start.z * spread,
        steps,
    };
    checks::in_range(
        "the circle",
        [circle.centre.x, circle.centre.y, circle.radius, rss],
    )?;
    Ok(circle)
}

/// The algebraic circle of unit points, as (x, y, radius).
fn kasa(unit: &Unit) -> Result<Vector3<f64>, CircleError> {
    let design = DMatrix::from_fn(unit.points.len(), 3, |i, j| match j {
        0 => 2.0 * unit.points[i].x,
        1 => 2.0 * unit.points[i].y,
        _ => 1.0,
    });
    let y: Vec<f64> = unit.points.iter().map(|p| p.norm_squared()).collect();
    let found = lsq::solve(&design, &y, None)
        .map_err(|error| linear(unit, error))?
        .params;
    let (a, b, c) = (found[0], found[1], found[2]);
    let radius = (c + a * a + b * b).max(0.0).sqrt();
    if let CircleError::Collinear { length, width, .. } = unit.flat()
        && !(width > STRAIGHT * length && radius < FLATTEST)
    {
        return Err(unit.flat());
    }
    Ok(Vector3::new(a, b, radius))
}

/// The geometric circle of unit points; gives the steps taken too.
fn gauss_newton(unit: &Unit, start: Vector3<f64>) -> Result<(Vector3<f64>, usize), CircleError> {
    let mut circle = start;
    let mut rss = unit.rss(circle);
    let mut last_step = f64::INFINITY;
    for step in 1..=MAX_STEPS {
        let (jacobian, residuals) = unit.rows(circle);
        let change = lsq::solve(&jacobian, &residuals, None)
            .map_err(|error| linear(unit, error))?
            .params;
        let mut change = -Vector3::new(change[0], change[1], change[2]);
        let mut next = unit.rss(circle + change);
        let full = change.norm();
        for _ in 0..40 {
            if next <= rss || change.norm() <= 1e-9 * circle.z {
                break;
            }
            change *= 0.5;
            next = unit.rss(circle + change);
        }
        circle += change;
        let better = next < rss;
        rss = next;
        last_step = change.norm();
        if !(circle.z < FLATTEST) {
            return Err(unit.flat());
        }
        if last_step <= 1e-15 * circle.z || (!better && full <= 1e-9 * circle.z) {
            return Ok((circle, step));
        }
    }
    // Where the points scatter much the steps shrink by a constant factor only; what is left by then is rounding.
    if last_step <= 1e-11 * circle.z {
        return Ok((circle, MAX_STEPS));
    }
    let last_step = last_step * unit.spread;
    Err(CircleError::NotConverged {
        steps: MAX_STEPS,
        radius: circle.z * unit.spread,
        last_step,
    })
}

fn linear(unit: &Unit, error: LsqError) -> CircleError {
    match error {
        LsqError::Input(cause) => CircleError::Input(cause),
        LsqError::Dependent { .. } => unit.flat(),
    }
}

/// Fits a circle in space; three points or more, not on a line. The plane's normal is the circle's axis.
///
/// # Errors
/// [`CircleError`].
pub fn fit_in_space(points: &[Vector3<f64>]) -> Result<SpaceCircle, CircleError> {
    let plane = plane::fit(points)?;
    let feet: Vec<Vector2<f64>> = points
        .iter()
        .map(|p| {
            Vector2::new(
                (p - plane.centroid).dot(&plane.x),
                (p - plane.centroid).dot(&plane.y),
            )
        })
        .collect();
    let in_plane = fit(&feet)?;
    let centre = plane.centroid + plane.x * in_plane.centre.x + plane.y * in_plane.centre.y;
    Ok(SpaceCircle {
        centre,
        radius: in_plane.radius,
        plane,
        in_plane,
    })
}
