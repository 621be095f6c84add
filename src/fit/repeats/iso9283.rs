//! Pose accuracy and repeatability of the tip, ISO 9283:1998 (formulas from memory of the standard).

use nalgebra::Vector3;

/// Position accuracy and repeatability at one commanded pose, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Position {
    /// Mean attained position.
    pub barycentre: Vector3<f64>,
    /// AP: distance of the mean from the commanded position.
    pub accuracy: f64,
    /// AP along x, y, z: mean less commanded.
    pub accuracy_xyz: Vector3<f64>,
    /// Mean distance of the attained positions from their mean.
    pub mean_distance: f64,
    /// S_l: standard deviation of that distance (n − 1).
    pub spread: f64,
    /// RP = mean distance + 3 S_l.
    pub repeatability: f64,
}

/// Accuracy and repeatability of one figure (an angle, a distance).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figure {
    /// Mean of what was attained.
    pub mean: f64,
    /// Mean less commanded: AD, or AP of an angle.
    pub accuracy: f64,
    /// 3 S (n − 1): RD, or RP of an angle; the standard writes ±.
    pub repeatability: f64,
}

/// AP and RP of positions; `None` for fewer than two, or where a figure is not finite.
pub fn position(commanded: &Vector3<f64>, attained: &[Vector3<f64>]) -> Option<Position> {
    let n = attained.len();
    if n < 2 {
        return None;
    }
    let barycentre = attained.iter().sum::<Vector3<f64>>() / n as f64;
    let distances: Vec<f64> = attained.iter().map(|p| (p - barycentre).norm()).collect();
    let (mean_distance, spread) = mean_and_sd(&distances);
    let accuracy_xyz = barycentre - commanded;
    let position = Position {
        barycentre,
        accuracy: accuracy_xyz.norm(),
        accuracy_xyz,
        mean_distance,
        spread,
        repeatability: mean_distance + 3.0 * spread,
    };
    (position.repeatability.is_finite() && position.accuracy.is_finite()).then_some(position)
}

/// Accuracy and repeatability of one figure; `None` for fewer than two, or where not finite.
pub fn figure(commanded: f64, attained: &[f64]) -> Option<Figure> {
    if attained.len() < 2 {
        return None;
    }
    let (mean, sd) = mean_and_sd(attained);
    let figure = Figure {
        mean,
        accuracy: mean - commanded,
        repeatability: 3.0 * sd,
    };
    (figure.mean.is_finite() && figure.repeatability.is_finite()).then_some(figure)
}

/// Mean and standard deviation with n − 1; for two or more.
pub(super) fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    (mean, (squares / (n - 1.0)).sqrt())
}
