//! Plate → track → carriage → base → joints → flange → tool, for one set of readings.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::frames::Carriage;
use crate::frames::Plate;
use crate::frames::Pose;
use crate::frames::Tool;
use crate::frames::turned;
use crate::kinematics::Posed;
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

impl ArmScene {
    /// The carriage alone, at travel `travel_mm` (ignored without a track).
    ///
    /// `T_plate_carriage(s) = Trans(track) Rz(yaw) Ry(pitch) Rx(roll) Trans(s, 0, 0)`; without a
    /// track the carriage frame is the plate frame.
    pub fn carriage(geometry: &Geometry, travel_mm: f64) -> Self {
        Self::of(&Posed::new(geometry), travel_mm, &[])
    }

    /// The arm up to and including the first `values_rad.len()` joints; flange and tool too where
    /// these are all of them. Values are in rad.
    pub fn new(geometry: &Geometry, travel_mm: f64, values_rad: &[f64]) -> Self {
        Self::of(&Posed::new(geometry), travel_mm, values_rad)
    }

    /// The same, from turns that are worked out already.
    ///
    /// `T_base_flange(θ) = Rot(axis_1, through_1, θ_1) … Rot(axis_n, through_n, θ_n) · F`.
    #[inline(always)]
    pub fn of(posed: &Posed<'_>, travel_mm: f64, values_rad: &[f64]) -> Self {
        let mut scene = Self::empty();
        scene.place(posed, travel_mm, values_rad);
        scene
    }

    /// The same, in a scene that is there already: one is too large to be made anew for every
    /// reading. What lies beyond the given joints keeps what it held and must not be looked at.
    #[inline(always)]
    pub fn place(&mut self, posed: &Posed<'_>, travel_mm: f64, values_rad: &[f64]) {
        let scene = self;
        let geometry = posed.geometry;
        scene.track_axes = posed.track_axes;
        if let Some(track) = &geometry.track {
            scene.track_mm = track.mounting.at_mm;
            scene.carriage_mm = scene.track_mm + posed.track_axes.column(0) * travel_mm;
        }
        scene.base_axes = posed.base_axes;
        scene.base_mm = posed.track_axes * geometry.mount.at_mm + scene.carriage_mm;
        let mut axes = scene.base_axes;
        let mut shift_mm = scene.base_mm;
        scene.solved = values_rad.len();
        for ((joint, value), own) in geometry
            .joints
            .iter()
            .zip(values_rad)
            .zip(&mut scene.joints)
        {
            own.axis = axes * joint.axis;
            own.point_mm = axes * joint.through_mm + shift_mm;
            axes = turned(&axes, &joint.axis, *value);
            shift_mm = own.point_mm - axes * joint.through_mm;
            own.axes = axes;
        }
        if scene.solved == geometry.joints.len() {
            scene.flange_mm = axes * geometry.flange_mm + shift_mm;
            scene.flange_axes = axes * geometry.flange_axes;
            scene.tip_mm = scene.flange_axes * geometry.tool.at_mm + scene.flange_mm;
            scene.tool_axes = match &posed.tool_turn {
                Some(turn) => scene.flange_axes * turn,
                None => scene.flange_axes,
            };
        }
    }

    #[inline(always)]
    pub(super) fn empty() -> Self {
        const JOINT: JointScene = JointScene {
            axis: ZERO,
            point_mm: ZERO,
            axes: TURN,
        };
        const ZERO: Vector3<f64> = Vector3::new(0.0, 0.0, 0.0);
        const TURN: Matrix3<f64> = Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0);
        ArmScene {
            track_mm: ZERO,
            track_axes: TURN,
            carriage_mm: ZERO,
            base_mm: ZERO,
            base_axes: TURN,
            joints: [JOINT; MAX_JOINTS],
            solved: 0,
            flange_mm: ZERO,
            flange_axes: TURN,
            tip_mm: ZERO,
            tool_axes: TURN,
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
