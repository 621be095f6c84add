//! The tool's direction as three angles: elevation, azimuth, roll.
//!
//! z = (cos ε cos α, cos ε sin α, sin ε), y0 = (−sin α, cos α, 0), x0 = y0 × z,
//! x = cos ρ x0 + sin ρ y0, y = −sin ρ x0 + cos ρ y0.

use std::f64::consts::FRAC_PI_2;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::units::wrap_rad;

/// Within this of straight up or down, azimuth and roll turn about the same line (0.01°).
pub const POLE_RAD: f64 = 0.01 * std::f64::consts::PI / 180.0;

/// Elevation, azimuth and roll of a tool in some frame, rad.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Direction {
    /// −π/2: straight down.
    pub elevation_rad: f64,
    /// Counter-clockwise from the frame's x; at the pole that of the arm's heading.
    pub azimuth_rad: f64,
    /// About the tool's z.
    pub roll_rad: f64,
}

impl Direction {
    /// Whether an elevation is within 0.01° of straight up or down.
    pub fn is_pole(elevation_rad: f64) -> bool {
        elevation_rad.abs() >= FRAC_PI_2 - POLE_RAD
    }
}

/// The angles of a tool whose axes are the columns of `axes`; `heading` is the arm's heading in the
/// same frame, used for the azimuth at the pole. Where there is no heading either, the azimuth is 0.
pub fn direction_of(axes: &Matrix3<f64>, heading: Option<Vector3<f64>>) -> Direction {
    let z = axes.column(2);
    let level = z.x.hypot(z.y);
    let elevation_rad = z.z.atan2(level);
    let azimuth_rad = if Direction::is_pole(elevation_rad) {
        heading.map_or(0.0, |h| h.y.atan2(h.x))
    } else {
        z.y.atan2(z.x)
    };
    let (s, c) = azimuth_rad.sin_cos();
    let y0 = Vector3::new(-s, c, 0.0);
    let x0 = y0.cross(&z.into_owned());
    let x = axes.column(0);
    Direction {
        elevation_rad,
        azimuth_rad: wrap_rad(azimuth_rad),
        roll_rad: wrap_rad(x.dot(&y0).atan2(x.dot(&x0))),
    }
}

/// The tool axes, as columns, of a direction.
pub fn rotation_of(direction: &Direction) -> Matrix3<f64> {
    let (se, ce) = direction.elevation_rad.sin_cos();
    let (sa, ca) = direction.azimuth_rad.sin_cos();
    let (sr, cr) = direction.roll_rad.sin_cos();
    let z = Vector3::new(ce * ca, ce * sa, se);
    let y0 = Vector3::new(-sa, ca, 0.0);
    let x0 = y0.cross(&z);
    Matrix3::from_columns(&[x0 * cr + y0 * sr, y0 * cr - x0 * sr, z])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Angle;

    #[test]
    fn angles_come_back_from_the_rotation_that_they_make() {
        for e in [-80.0, -30.0, 0.0, 45.0, 89.0] {
            for a in [-170.0, -20.0, 0.0, 100.0] {
                for r in [-150.0, 0.0, 35.0] {
                    let d = Direction {
                        elevation_rad: Angle::deg(e).as_rad(),
                        azimuth_rad: Angle::deg(a).as_rad(),
                        roll_rad: Angle::deg(r).as_rad(),
                    };
                    let m = rotation_of(&d);
                    assert!((m.determinant() - 1.0).abs() < 1e-12);
                    let back = direction_of(&m, None);
                    assert!((back.elevation_rad - d.elevation_rad).abs() < 1e-12);
                    assert!((back.azimuth_rad - d.azimuth_rad).abs() < 1e-12);
                    assert!((back.roll_rad - d.roll_rad).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn straight_down_takes_the_heading_for_azimuth() {
        // By hand: tool down, its x along plate y, arm heading along plate y. α = 90°,
        // y0 = (−1, 0, 0), x0 = y0 × (0, 0, −1) = (0, −1, 0)·… = (0·(−1) − 0·0, 0·0 − (−1)(−1), 0)
        // = (0, −1, 0); x·y0 = 0, x·x0 = −1: roll is a half turn.
        let m = Matrix3::from_columns(&[
            Vector3::new(0.0, 1.0, 0.0),
            Vector3::new(1.0, 0.0, 0.0),
            Vector3::new(0.0, 0.0, -1.0),
        ]);
        let d = direction_of(&m, Some(Vector3::new(0.0, 1.0, 0.0)));
        assert!((d.azimuth_rad - FRAC_PI_2).abs() < 1e-12);
        assert!((d.roll_rad.abs() - std::f64::consts::PI).abs() < 1e-12);
    }
}
