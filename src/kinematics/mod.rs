//! From readings to places: the law of an axis, and the chains of the arm and of the turntable.
//!
//! This floor does not know that anything is measured or fitted.

mod arm;
mod direction;
mod evenly;
mod law;
mod posed;
mod table;

pub use arm::ArmScene;
pub use arm::JointScene;
pub use arm::Level;
pub use arm::MAX_JOINTS;
pub use direction::Direction;
pub use direction::POLE_RAD;
pub use direction::direction_of;
pub use direction::rotation_of;
pub use evenly::radical_inverse;
pub use law::joint_reading;
pub use law::joint_value_rad;
pub use law::table_reading;
pub use law::table_value_rad;
pub use law::track_reading;
pub use law::track_value_mm;
pub use posed::Posed;
pub use table::TableScene;

use nalgebra::Vector3;

/// An infinitesimal motion of a rigid body: a point p moves by `turn × p + shift`.
///
/// All derivatives of the chains are of this form (Murray, Li, Sastry 1994, section 3.4: the
/// columns of the spatial Jacobian of a product of exponentials).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Twist {
    /// Turn, rad per unit of what moves.
    pub turn: Vector3<f64>,
    /// Motion of the point at the origin, mm per unit of what moves.
    pub shift_mm: Vector3<f64>,
}

impl Twist {
    /// A turn about the line through `point_mm` along the unit vector `axis`.
    pub fn about(axis: Vector3<f64>, point_mm: Vector3<f64>) -> Self {
        Twist {
            turn: axis,
            shift_mm: point_mm.cross(&axis),
        }
    }
    /// A shift without turn.
    pub fn along(shift_mm: Vector3<f64>) -> Self {
        Twist {
            turn: Vector3::zeros(),
            shift_mm,
        }
    }
    /// The same motion, `factor` times as fast.
    pub fn times(self, factor: f64) -> Self {
        Twist {
            turn: self.turn * factor,
            shift_mm: self.shift_mm * factor,
        }
    }
    /// Velocity of a point, mm per unit.
    #[inline]
    pub fn of_point(&self, p_mm: &Vector3<f64>) -> Vector3<f64> {
        self.turn.cross(p_mm) + self.shift_mm
    }
    /// Velocity of a direction, per unit.
    #[inline]
    pub fn of_direction(&self, d: &Vector3<f64>) -> Vector3<f64> {
        self.turn.cross(d)
    }
}
