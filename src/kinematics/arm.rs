//! Plate → track → carriage → base → joints → flange → tool, for one set of readings.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::cell::Mounting;
use crate::frames::Carriage;
use crate::frames::Plate;
use crate::frames::Pose;
use crate::frames::Tool;
use crate::frames::rot_about;
use crate::frames::rot_zyx;
use crate::kinematics::Twist;

/// Most joints that an arm may have.
pub const MAX_JOINTS: usize = 7;

/// How far out on the arm something sits. What moves a level moves all later ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Level(u8);

impl Level {
    /// The carriage.
    pub const CARRIAGE: Level = Level(0);
    /// The arm's base.
    pub const BASE: Level = Level(1);
    /// The flange.
    pub const FLANGE: Level = Level(9);
    /// The tool and its tip.
    pub const TOOL: Level = Level(10);
    /// The link that joint `index` (from 0) moves.
    pub const fn link(index: usize) -> Level {
        Level(2 + index as u8)
    }
    /// What carries the axis of joint `index` (from 0): the link before it, or the base.
    pub const fn before_joint(index: usize) -> Level {
        Level(1 + index as u8)
    }
}

/// One joint in the plate frame.
#[derive(Debug, Clone, Copy)]
pub struct JointScene {
    /// Unit vector along the axis.
    pub axis: Vector3<f64>,
    /// The axis point (`through`, carried by the joints before), mm.
    pub point_mm: Vector3<f64>,
    /// Axes of the link that the joint moves: base axes carried by joints 1 … this one.
    pub axes: Matrix3<f64>,
}

/// The whole arm in the plate frame for one set of axis values. Lengths in mm.
#[derive(Debug, Clone, Copy)]
pub struct ArmScene {
    /// Origin of the track.
    pub track_mm: Vector3<f64>,
    /// Axes of track and carriage.
    pub track_axes: Matrix3<f64>,
    /// Carriage reference point.
    pub carriage_mm: Vector3<f64>,
    /// Base origin.
    pub base_mm: Vector3<f64>,
    /// Base axes.
    pub base_axes: Matrix3<f64>,
    /// Joints; only the first `solved` are filled.
    pub joints: [JointScene; MAX_JOINTS],
    /// Number of joints that are filled.
    pub solved: usize,
    /// Flange origin.
    pub flange_mm: Vector3<f64>,
    /// Flange axes.
    pub flange_axes: Matrix3<f64>,
    /// Tip.
    pub tip_mm: Vector3<f64>,
    /// Tool axes.
    pub tool_axes: Matrix3<f64>,
}

fn mounted(
    axes: &Matrix3<f64>,
    at_mm: &Vector3<f64>,
    mounting: &Mounting,
) -> (Matrix3<f64>, Vector3<f64>) {
    let origin = axes * mounting.at_mm + at_mm;
    if mounting.yaw_rad == 0.0 && mounting.pitch_rad == 0.0 && mounting.roll_rad == 0.0 {
        return (*axes, origin);
    }
    let turn = rot_zyx(mounting.yaw_rad, mounting.pitch_rad, mounting.roll_rad);
    (axes * turn, origin)
}

impl ArmScene {
    /// The carriage alone, at travel `travel_mm` (ignored without a track).
    ///
    /// `T_plate_carriage(s) = Trans(track) Rz(yaw) Ry(pitch) Rx(roll) Trans(s, 0, 0)`; without a
    /// track the carriage frame is the plate frame.
    pub fn carriage(geometry: &Geometry, travel_mm: f64) -> Self {
        let mut scene = Self::empty();
        scene.place_carriage(geometry, travel_mm);
        scene
    }

    /// The arm up to and including the first `values_rad.len()` joints; flange and tool too where
    /// these are all of them. Values are in rad.
    pub fn new(geometry: &Geometry, travel_mm: f64, values_rad: &[f64]) -> Self {
        let mut scene = Self::empty();
        scene.place_carriage(geometry, travel_mm);
        scene.place_arm(geometry, values_rad);
        scene
    }

    fn empty() -> Self {
        let joint = JointScene {
            axis: Vector3::zeros(),
            point_mm: Vector3::zeros(),
            axes: Matrix3::identity(),
        };
        ArmScene {
            track_mm: Vector3::zeros(),
            track_axes: Matrix3::identity(),
            carriage_mm: Vector3::zeros(),
            base_mm: Vector3::zeros(),
            base_axes: Matrix3::identity(),
            joints: [joint; MAX_JOINTS],
            solved: 0,
            flange_mm: Vector3::zeros(),
            flange_axes: Matrix3::identity(),
            tip_mm: Vector3::zeros(),
            tool_axes: Matrix3::identity(),
        }
    }

    fn place_carriage(&mut self, geometry: &Geometry, travel_mm: f64) {
        if let Some(track) = &geometry.track {
            let m = &track.mounting;
            self.track_mm = m.at_mm;
            self.track_axes = rot_zyx(m.yaw_rad, m.pitch_rad, m.roll_rad);
            self.carriage_mm = m.at_mm + self.track_axes.column(0) * travel_mm;
        }
        (self.base_axes, self.base_mm) =
            mounted(&self.track_axes, &self.carriage_mm, &geometry.mount);
    }

    /// `T_base_flange(θ) = Rot(axis_1, through_1, θ_1) … Rot(axis_n, through_n, θ_n) · F`.
    fn place_arm(&mut self, geometry: &Geometry, values_rad: &[f64]) {
        let mut axes = self.base_axes;
        let mut shift_mm = self.base_mm;
        self.solved = values_rad.len();
        for ((joint, value), scene) in geometry.joints.iter().zip(values_rad).zip(&mut self.joints)
        {
            scene.axis = axes * joint.axis;
            scene.point_mm = axes * joint.through_mm + shift_mm;
            axes *= rot_about(&joint.axis, *value);
            shift_mm = scene.point_mm - axes * joint.through_mm;
            scene.axes = axes;
        }
        if self.solved == geometry.joints.len() {
            self.flange_mm = axes * geometry.flange_mm + shift_mm;
            self.flange_axes = axes * geometry.flange_axes;
            (self.tool_axes, self.tip_mm) =
                mounted(&self.flange_axes, &self.flange_mm, &geometry.tool);
        }
    }

    /// `T_plate_carriage(s)`.
    pub fn carriage_pose(&self) -> Pose<Carriage, Plate> {
        Pose::asserted(self.track_axes, self.carriage_mm)
    }

    /// `T_plate_tool(s, θ)`.
    pub fn tool_pose(&self) -> Pose<Tool, Plate> {
        Pose::asserted(self.tool_axes, self.tip_mm)
    }

    /// How everything from joint `index` on moves per rad of that joint.
    pub fn joint_twist(&self, index: usize) -> Twist {
        let joint = &self.joints[index];
        Twist::about(joint.axis, joint.point_mm)
    }

    /// How everything from the carriage on moves per mm of travel.
    pub fn travel_twist(&self) -> Twist {
        Twist::along(self.track_axes.column(0).into())
    }

    /// The horizontal part of where the arm points: that of R_plate_base · Rot(axis_1, θ_1) · ex.
    /// Not normalised; its length is how surely the heading is defined.
    pub fn heading_raw(&self) -> Vector3<f64> {
        let ahead = self.joints[0].axes.column(0);
        Vector3::new(ahead.x, ahead.y, 0.0)
    }

    /// The heading: horizontal unit vector ahead of the arm; `None` where the arm's x is vertical.
    pub fn heading(&self) -> Option<Vector3<f64>> {
        let raw = self.heading_raw();
        let length = raw.norm();
        (length > 1e-9).then(|| raw / length)
    }
}
