//! Plate → turntable → platter, for one angle of the table.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::TurntableGeometry;
use crate::frames::Plate;
use crate::frames::Platter;
use crate::frames::Pose;
use crate::frames::rot_x;
use crate::frames::rot_y;
use crate::frames::turned;
use crate::kinematics::Posed;
use crate::kinematics::Twist;

/// The turntable in the plate frame for one angle.
#[derive(Debug, Clone, Copy)]
pub struct TableScene {
    /// Centre of rotation in the platter's top face, mm.
    pub centre_mm: Vector3<f64>,
    /// Axes of the turntable: `Ry(tilt_y) Rx(tilt_x)`.
    pub fixed_axes: Matrix3<f64>,
    /// Axes of the platter: `Ry(tilt_y) Rx(tilt_x) Rz(φ)`.
    pub platter_axes: Matrix3<f64>,
}

impl TableScene {
    /// `T_plate_platter(φ) = Trans(turntable) Ry(tilt_y) Rx(tilt_x) Rz(φ)`.
    pub fn new(table: &TurntableGeometry, turn_rad: f64) -> Self {
        Self::turned(
            table,
            rot_y(table.tilt_y_rad) * rot_x(table.tilt_x_rad),
            turn_rad,
        )
    }

    /// The same, from turns that are worked out already; `None` without a turntable.
    #[inline]
    pub fn of(posed: &Posed<'_>, turn_rad: f64) -> Option<Self> {
        let table = posed.geometry.turntable.as_ref()?;
        Some(Self::turned(table, posed.table_axes, turn_rad))
    }

    #[inline(always)]
    fn turned(table: &TurntableGeometry, fixed_axes: Matrix3<f64>, turn_rad: f64) -> Self {
        TableScene {
            centre_mm: table.at_mm,
            fixed_axes,
            platter_axes: turned(&fixed_axes, &Vector3::z(), turn_rad),
        }
    }

    /// `T_plate_platter(φ)`.
    pub fn platter_pose(&self) -> Pose<Platter, Plate> {
        Pose::asserted(self.platter_axes, self.centre_mm)
    }

    /// How the platter moves per rad of turn.
    pub fn turn_twist(&self) -> Twist {
        Twist::about(self.fixed_axes.column(2).into(), self.centre_mm)
    }
}
