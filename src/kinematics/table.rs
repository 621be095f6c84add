//! Plate → turntable → platter, for one angle of the table.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::TurntableGeometry;
use crate::frames::Plate;
use crate::frames::Platter;
use crate::frames::Pose;
use crate::frames::rot_x;
use crate::frames::rot_y;
use crate::frames::rot_z;
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
        let fixed_axes = rot_y(table.tilt_y_rad) * rot_x(table.tilt_x_rad);
        TableScene {
            centre_mm: table.at_mm,
            fixed_axes,
            platter_axes: fixed_axes * rot_z(turn_rad),
        }
    }

    /// The same, from turns that are worked out already; `None` without a turntable.
    #[inline]
    pub fn of(posed: &Posed<'_>, turn_rad: f64) -> Option<Self> {
        let table = posed.geometry.turntable.as_ref()?;
        let (sin, cos) = turn_rad.sin_cos();
        let (x, y) = (posed.table_axes.column(0), posed.table_axes.column(1));
        Some(TableScene {
            centre_mm: table.at_mm,
            fixed_axes: posed.table_axes,
            platter_axes: Matrix3::from_columns(&[
                x * cos + y * sin,
                y * cos - x * sin,
                posed.table_axes.column(2).into(),
            ]),
        })
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
