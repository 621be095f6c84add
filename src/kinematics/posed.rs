//! A geometry with the turns that no reading changes worked out once.

use std::cell::RefCell;

use nalgebra::Matrix3;

use crate::cell::Geometry;
use crate::cell::Mounting;
use crate::frames::rot_x;
use crate::frames::rot_y;
use crate::frames::rot_zyx;
use crate::kinematics::ArmScene;

/// A geometry ready for many postures: the turns of track, mount, tool and table are done.
#[derive(Debug, Clone)]
pub struct Posed<'a> {
    /// The values.
    pub geometry: &'a Geometry,
    /// Axes of track and carriage in the plate frame.
    pub track_axes: Matrix3<f64>,
    /// Axes of the base in the plate frame.
    pub base_axes: Matrix3<f64>,
    /// Turn of the tool on the flange; `None` where it is not turned.
    pub tool_turn: Option<Matrix3<f64>>,
    /// Axes of the turntable in the plate frame: `Ry(tilt_y) Rx(tilt_x)`.
    pub table_axes: Matrix3<f64>,
    /// The carriage at travel 0, for readings that do not ask for the arm.
    pub still: ArmScene,
    /// Where the scenes of readings are laid out, one after the other.
    pub scratch: RefCell<ArmScene>,
}

fn turn(mounting: &Mounting) -> Option<Matrix3<f64>> {
    let angles = [mounting.yaw_rad, mounting.pitch_rad, mounting.roll_rad];
    if angles == [0.0; 3] {
        return None;
    }
    Some(rot_zyx(angles[0], angles[1], angles[2]))
}

impl<'a> Posed<'a> {
    /// Works out the turns.
    pub fn new(geometry: &'a Geometry) -> Self {
        let track = geometry.track.as_ref().and_then(|t| turn(&t.mounting));
        let track_axes = track.unwrap_or_else(Matrix3::identity);
        let mut posed = Posed {
            geometry,
            track_axes,
            base_axes: turn(&geometry.mount).map_or(track_axes, |m| track_axes * m),
            tool_turn: turn(&geometry.tool),
            table_axes: geometry
                .turntable
                .as_ref()
                .map_or_else(Matrix3::identity, |t| {
                    rot_y(t.tilt_y_rad) * rot_x(t.tilt_x_rad)
                }),
            still: ArmScene::empty(),
            scratch: RefCell::new(ArmScene::empty()),
        };
        posed.still = ArmScene::of(&posed, 0.0, &[]);
        posed
    }
}
