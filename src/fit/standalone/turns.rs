//! Axis of a turntable from touches of one platter mark at known table angles.
//!
//! Model: `p_k = centre + radius · Q (cos φ_k, sin φ_k, 0)`, Q a rotation whose third column is the axis. A circle through
//! the points has to find the angles as well; here they are known, which settles the centre with fewer points and on
//! shorter arcs (the centre of a circle on an arc of half-angle a has a standard deviation growing as 1/a², here as 1/a),
//! and gives the sense of the axis, which a circle cannot.
//!
//! [`axis_from_turns`] is the exact least-squares solution, without iteration: the points are matched to those on the
//! unit circle by rotation, scale and translation (Umeyama 1991), for `H = Σ w s' p'ᵀ`, `Q` from its singular vectors,
//! `radius = Σ s' · Qᵀp' / Σ |s'|²`, `centre = p̄ − radius Q s̄`. Fitting centre and two free vectors for cos and sin, which is linear
//! too, was not taken: it forgets that the two are perpendicular and of equal length, and pays for that on short arcs.
//! [`centre_from_turns`] is the same with the axis along z: two turns are enough.

use std::fmt;

use nalgebra::Matrix3;
use nalgebra::Vector2;
use nalgebra::Vector3;

use crate::fit::standalone::checks;
use crate::fit::standalone::checks::InputError;
use crate::fit::standalone::plane::by_row;
use crate::fit::standalone::rigid;
use crate::fit::standalone::rigid::RigidError;

/// One touch of the mark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// φ: angle of the table, rad, counter-clockwise about the axis.
    pub angle: f64,
    /// Where the mark was touched, plate frame.
    pub point: Vector3<f64>,
    /// `1/u²` of each coordinate, or 1.
    pub weight: f64,
}

/// Result of [`axis_from_turns`]. The covariances are for weights `1/u²`; for weights of 1, times the variance of a coordinate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnAxis {
    /// The point of the axis at the mark's height.
    pub centre: Vector3<f64>,
    /// Unit vector; the table turns right-handed about it with rising φ.
    pub axis: Vector3<f64>,
    /// Distance of the mark from the axis.
    pub radius: f64,
    /// Unit vector from the centre to the mark at φ = 0.
    pub mark: Vector3<f64>,
    pub centre_covariance: Matrix3<f64>,
    /// Of the axis's components; its null direction is the axis.
    pub axis_covariance: Matrix3<f64>,
    pub radius_variance: f64,
    /// `Σ w |p − model|²`.
    pub rss: f64,
    /// 3n − 7.
    pub dof: usize,
}

/// Result of [`centre_from_turns`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TurnCentre {
    pub centre: Vector2<f64>,
    /// From the centre to the mark at φ = 0.
    pub mark: Vector2<f64>,
    /// Variance of each coordinate of the centre, and of the mark, as for [`TurnAxis`].
    pub centre_variance: f64,
    pub mark_variance: f64,
    /// `Σ w |p − model|²` in x and y.
    pub rss: f64,
    /// 2n − 4.
    pub dof: usize,
}

/// Why there is no axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurnError {
    Input(InputError),
    /// The turns are too much alike: `different` directions of the table were found.
    TooFewTurns {
        different: usize,
        needed: usize,
    },
    /// The mark stood still (or hardly moved) while the table turned: it sits on the axis, or was not the same mark.
    MarkOnAxis {
        radius: f64,
        spread: f64,
    },
    /// The points are on one line although the turns are not: the plane is open.
    Collinear {
        points: usize,
        direction: Vector3<f64>,
    },
    /// Points and turns do not belong together.
    NotUnique {
        rmsd: f64,
    },
}

impl fmt::Display for TurnError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TurnError::Input(cause) => cause.fmt(f),
            TurnError::TooFewTurns { different, needed } => {
                write!(
                    f,
                    "the mark was touched at {different} different table angle(s), at least {needed} are needed"
                )
            }
            TurnError::MarkOnAxis { radius, spread } => write!(
                f,
                "the mark hardly follows the table (radius {radius:.3e}, spread of the points {spread:.3e}); \
                 touch the same mark each time, one away from the centre"
            ),
            TurnError::Collinear {
                points,
                direction: d,
            } => write!(
                f,
                "the {points} touched points are on one line ({:.4}, {:.4}, {:.4}) although the table turned; touch over a longer arc",
                d.x, d.y, d.z
            ),
            TurnError::NotUnique { rmsd } => {
                write!(
                    f,
                    "points and table angles do not belong together (rms distance {rmsd:.3e}); check their order"
                )
            }
        }
    }
}

impl std::error::Error for TurnError {}

impl From<InputError> for TurnError {
    fn from(cause: InputError) -> Self {
        TurnError::Input(cause)
    }
}

/// Two table angles closer than this are one, rad.
const SAME_TURN: f64 = 1e-9;

/// Checks the rows; refuses fewer than `needed` different turns.
fn check(turns: &[Turn], needed: usize) -> Result<usize, TurnError> {
    checks::finite("the table angle", turns.iter().map(|turn| turn.angle))?;
    checks::finite(
        "a coordinate",
        turns.iter().flat_map(|t| [t.point.x, t.point.y, t.point.z]),
    )
    .map_err(by_row)?;
    let weights: Vec<f64> = turns.iter().map(|turn| turn.weight).collect();
    let used = checks::weights(Some(&weights), turns.len())?;
    checks::enough("touches of the mark", used, needed)?;
    let mut different: Vec<Vector2<f64>> = Vec::new();
    for turn in turns.iter().filter(|turn| turn.weight > 0.0) {
        let here = Vector2::new(turn.angle.cos(), turn.angle.sin());
        if different.iter().all(|d| (d - here).norm() > SAME_TURN) {
            different.push(here);
        }
        if different.len() >= needed {
            return Ok(used);
        }
    }
    Err(TurnError::TooFewTurns {
        different: different.len(),
        needed,
    })
}

/// Centre, axis and radius from one mark touched at three or more table angles.
///
/// # Errors
/// [`TurnError`].
pub fn axis_from_turns(turns: &[Turn]) -> Result<TurnAxis, TurnError> {
    let used = check(turns, 3)?;
    let unit: Vec<Vector3<f64>> = turns
        .iter()
        .map(|t| Vector3::new(t.angle.cos(), t.angle.sin(), 0.0))
        .collect();
    let points: Vec<Vector3<f64>> = turns.iter().map(|t| t.point).collect();
    let weights: Vec<f64> = turns.iter().map(|t| t.weight).collect();
    let found = rigid::fit(&unit, &points, Some(&weights)).map_err(|error| match error {
        RigidError::Input(cause) => TurnError::Input(cause),
        RigidError::OnePoint { .. } => TurnError::TooFewTurns {
            different: 1,
            needed: 3,
        },
        RigidError::Coincident { spread, .. } => TurnError::MarkOnAxis {
            radius: 0.0,
            spread,
        },
        RigidError::Collinear { target_axis, .. } => TurnError::Collinear {
            points: used,
            direction: target_axis,
        },
        RigidError::NotUnique { rmsd, .. } => TurnError::NotUnique { rmsd },
    })?;
    let q = found.rotation;
    let spread_of_unit = found.source_scatter.trace();
    let along: f64 = (0..turns.len())
        .map(|i| {
            weights[i]
                * (q * (unit[i] - found.source_centroid)).dot(&(points[i] - found.target_centroid))
        })
        .sum();
    let radius = along / spread_of_unit;
    if !(radius > 0.0) {
        return Err(TurnError::MarkOnAxis {
            radius,
            spread: found.rmsd,
        });
    }
    let lever = q * found.source_centroid;
    let centre = found.target_centroid - lever * radius;
    let axis: Vector3<f64> = q.column(2).into();
    let rss: f64 = (0..turns.len())
        .map(|i| weights[i] * (centre + q * unit[i] * radius - points[i]).norm_squared())
        .sum();

    // δp̄, the rotation δ and δradius are uncorrelated; the centre moves by δp̄ + radius·lever × δ − lever·δradius.
    let rotation = found
        .rotation_covariance()
        .ok_or(TurnError::NotUnique { rmsd: found.rmsd })?
        / (radius * radius);
    let radius_variance = 1.0 / spread_of_unit;
    let arm = lever.cross_matrix() * radius;
    let centre_covariance = Matrix3::from_diagonal_element(found.centroid_variance())
        + arm * rotation * arm.transpose()
        + lever * lever.transpose() * radius_variance;
    let tilt = axis.cross_matrix();
    let axis_covariance = tilt * rotation * tilt.transpose();
    checks::in_range(
        "the axis",
        centre
            .iter()
            .chain(centre_covariance.iter())
            .chain(axis_covariance.iter())
            .copied()
            .chain([rss]),
    )?;
    Ok(TurnAxis {
        centre,
        axis,
        radius,
        mark: q.column(0).into(),
        centre_covariance,
        axis_covariance,
        radius_variance,
        rss,
        dof: 3 * used - 7,
    })
}

/// Centre from one mark touched at two or more table angles, for an axis along z: `p_k = centre + Rz(φ_k) mark`, linear in
/// its four unknowns. Heights are not used.
///
/// # Errors
/// [`TurnError`].
pub fn centre_from_turns(turns: &[Turn]) -> Result<TurnCentre, TurnError> {
    let used = check(turns, 2)?;
    let total: f64 = turns.iter().map(|t| t.weight).sum();
    let direction = |t: &Turn| Vector2::new(t.angle.cos(), t.angle.sin());
    let mean_direction = turns
        .iter()
        .map(|t| direction(t) * t.weight)
        .sum::<Vector2<f64>>()
        / total;
    let mean_point = turns
        .iter()
        .map(|t| t.point.xy() * t.weight)
        .sum::<Vector2<f64>>()
        / total;
    let (mut mark, mut spread) = (Vector2::zeros(), 0.0);
    for t in turns {
        let (e, p) = (direction(t) - mean_direction, t.point.xy() - mean_point);
        // The complex product conj(e)·p: p turned back by e.
        mark += Vector2::new(e.x * p.x + e.y * p.y, e.x * p.y - e.y * p.x) * t.weight;
        spread += t.weight * e.norm_squared();
    }
    mark /= spread;
    let turned =
        |e: Vector2<f64>| Vector2::new(e.x * mark.x - e.y * mark.y, e.x * mark.y + e.y * mark.x);
    let centre = mean_point - turned(mean_direction);
    let rss: f64 = turns
        .iter()
        .map(|t| t.weight * (centre + turned(direction(t)) - t.point.xy()).norm_squared())
        .sum();
    let centre_variance = 1.0 / total + mean_direction.norm_squared() / spread;
    checks::in_range(
        "the centre",
        [centre.x, centre.y, mark.x, mark.y, rss, centre_variance],
    )?;
    Ok(TurnCentre {
        centre,
        mark,
        centre_variance,
        mark_variance: 1.0 / spread,
        rss,
        dof: 2 * used - 4,
    })
}
