//! How parameters move things: what the table names, as twists of the scene at hand.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::cell::Mounting;
use crate::kinematics::Level;
use crate::kinematics::Twist;
use crate::parameters::Dial;
use crate::parameters::Motion;
use crate::parameters::Scene;

/// What a parameter moves, as the table says it; the number is an axis or angle: 0, 1, 2 for x, y, z
/// or for roll, pitch, yaw.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// The whole track, along an axis of the plate.
    CarriageAlong(usize),
    /// The whole track, about its origin.
    TrackTurn(usize),
    /// The carriage along the track, as much as its reading.
    TravelByReading,
    /// The carriage along the track, by half a lost motion.
    TravelByApproach,
    /// The base, along an axis of the carriage.
    BaseAlong(usize),
    /// The base, about its origin.
    BaseTurn(usize),
    /// What the joint carries, about its axis.
    JointTurn,
    /// The same, as much as its reading.
    JointTurnByReading,
    /// The joint's axis, along an axis of the base at the zero posture.
    AxisPoint(usize),
    /// The flange, along an axis of the base at the zero posture.
    FlangeAlong(usize),
    /// The tip, along an axis of the flange.
    ToolAlong(usize),
    /// The tool, about the tip.
    ToolTurn(usize),
    /// The turntable, along an axis of the plate.
    TableAlong(usize),
    /// The turntable, about its centre.
    TableTilt(usize),
    /// The platter, about its axis.
    PlatterTurn,
    /// The same, as much as its reading.
    PlatterTurnByReading,
    /// The same, by half a lost motion.
    PlatterTurnByApproach,
    /// Switch or notch circle.
    DialPart(Dial),
    /// Gravity, by a tilt of the plate about x or y.
    GravityTilt(usize),
    /// The mark, along an axis of its frame.
    MarkAlong(usize),
    /// The feature, along an axis of the carriage.
    FeatureAlong(usize),
}

use Moves::*;

impl Moves {
    /// The motion itself, for the joint, mark or feature `item`.
    #[inline(always)]
    pub fn motion(self, s: &Scene<'_>, item: usize) -> Motion {
        match self {
            CarriageAlong(k) => carriage_along(Vector3::ith(k, 1.0)),
            TrackTurn(k) => track_turn(s, k),
            TravelByReading => travel(s, s.track.0),
            TravelByApproach => travel(
                s,
                -0.5 * s.track.1 * s.geometry.track.map_or(1.0, |t| t.sense),
            ),
            BaseAlong(k) => base_along(s, k),
            BaseTurn(k) => base_turn(s, k),
            JointTurn => joint_turn(s, item, 1.0),
            JointTurnByReading => joint_turn(s, item, s.joints.get(item).copied().unwrap_or(0.0)),
            AxisPoint(k) => axis_point(s, item, k),
            FlangeAlong(k) => flange_along(s, k),
            ToolAlong(k) => tool_along(s, k),
            ToolTurn(k) => tool_turn(s, k),
            TableAlong(k) => table_along(Vector3::ith(k, 1.0)),
            TableTilt(k) => table_tilt(s, k),
            PlatterTurn => platter_turn(s, 1.0),
            PlatterTurnByReading => platter_turn(s, s.turn.0),
            PlatterTurnByApproach => platter_turn(
                s,
                -0.5 * s.turn.1 * s.geometry.turntable.map_or(1.0, |t| t.sense),
            ),
            DialPart(part) => Motion::Dial(part),
            GravityTilt(0) => Motion::Gravity(up_by_tilt_x(s.geometry)),
            GravityTilt(_) => Motion::Gravity(up_by_tilt_y(s.geometry)),
            MarkAlong(axis) => Motion::Mark { index: item, axis },
            FeatureAlong(axis) => Motion::Feature { index: item, axis },
        }
    }
}

#[inline(always)]
fn carriage_along(direction: Vector3<f64>) -> Motion {
    Motion::Arm {
        level: Level::CARRIAGE,
        twist: Twist::along(direction),
    }
}

/// Axis in the parent frame of the turn `which` (0 roll, 1 pitch, 2 yaw) of Rz(yaw) Ry(pitch) Rx(roll):
/// yaw about the parent's z; pitch about Rz(yaw) ey; roll about the x that results.
#[inline(always)]
fn turn_axis(
    mounting: &Mounting,
    result: &Matrix3<f64>,
    parent: &Matrix3<f64>,
    which: usize,
) -> Vector3<f64> {
    match which {
        0 => result.column(0).into(),
        1 => {
            let (s, c) = mounting.yaw_rad.sin_cos();
            parent * Vector3::new(-s, c, 0.0)
        }
        _ => parent.column(2).into(),
    }
}

#[inline(always)]
fn track_turn(s: &Scene<'_>, which: usize) -> Motion {
    let mounting = s.geometry.track.map(|t| t.mounting).unwrap_or_default();
    let axis = turn_axis(&mounting, &s.arm.track_axes, &Matrix3::identity(), which);
    Motion::Arm {
        level: Level::CARRIAGE,
        twist: Twist::about(axis, s.arm.track_mm),
    }
}

#[inline(always)]
fn travel(s: &Scene<'_>, factor: f64) -> Motion {
    Motion::Arm {
        level: Level::CARRIAGE,
        twist: s.arm.travel_twist().times(factor),
    }
}

#[inline(always)]
fn base_along(s: &Scene<'_>, axis: usize) -> Motion {
    Motion::Arm {
        level: Level::BASE,
        twist: Twist::along(s.arm.track_axes.column(axis).into()),
    }
}

#[inline(always)]
fn base_turn(s: &Scene<'_>, which: usize) -> Motion {
    let axis = turn_axis(
        &s.geometry.mount,
        &s.arm.base_axes,
        &s.arm.track_axes,
        which,
    );
    Motion::Arm {
        level: Level::BASE,
        twist: Twist::about(axis, s.arm.base_mm),
    }
}

#[inline(always)]
fn joint_turn(s: &Scene<'_>, joint: usize, factor: f64) -> Motion {
    Motion::Arm {
        level: Level::link(joint),
        twist: s.arm.joint_twist(joint).times(factor),
    }
}

/// q + R (p − q): the axis point moves by R_before e, what the joint carries by (R_before −
/// R_after) e.
#[inline(always)]
fn axis_point(s: &Scene<'_>, joint: usize, axis: usize) -> Motion {
    let before = match joint {
        0 => &s.arm.base_axes,
        _ => &s.arm.joints[joint - 1].axes,
    };
    let own: Vector3<f64> = before.column(axis).into();
    Motion::AxisPoint {
        joint,
        own,
        later: Twist::along(own - s.arm.joints[joint].axes.column(axis)),
    }
}

#[inline(always)]
fn flange_along(s: &Scene<'_>, axis: usize) -> Motion {
    // The flange's place is given in base axes carried by all joints.
    let last = s.arm.solved.max(1) - 1;
    Motion::Arm {
        level: Level::FLANGE,
        twist: Twist::along(s.arm.joints[last].axes.column(axis).into()),
    }
}

#[inline(always)]
fn tool_along(s: &Scene<'_>, axis: usize) -> Motion {
    Motion::Arm {
        level: Level::TOOL,
        twist: Twist::along(s.arm.flange_axes.column(axis).into()),
    }
}

#[inline(always)]
fn tool_turn(s: &Scene<'_>, which: usize) -> Motion {
    let axis = turn_axis(
        &s.geometry.tool,
        &s.arm.tool_axes,
        &s.arm.flange_axes,
        which,
    );
    Motion::Arm {
        level: Level::TOOL,
        twist: Twist::about(axis, s.arm.tip_mm),
    }
}

#[inline(always)]
fn table_along(direction: Vector3<f64>) -> Motion {
    Motion::Platter {
        twist: Twist::along(direction),
        turn: 0.0,
    }
}

/// Ry(tilt_y) Rx(tilt_x): tilt_y about the plate's y, tilt_x about the x that follows.
#[inline(always)]
fn table_tilt(s: &Scene<'_>, which: usize) -> Motion {
    let Some(table) = s.table else {
        return table_along(Vector3::zeros());
    };
    let axis = match which {
        0 => table.fixed_axes.column(0).into(),
        _ => Vector3::y(),
    };
    Motion::Platter {
        twist: Twist::about(axis, table.centre_mm),
        turn: 0.0,
    }
}

#[inline(always)]
fn platter_turn(s: &Scene<'_>, factor: f64) -> Motion {
    let twist = s
        .table
        .map_or(Twist::along(Vector3::zeros()), |t| t.turn_twist());
    Motion::Platter {
        twist: twist.times(factor),
        turn: factor,
    }
}

/// Up as a bubble sees it, in the plate frame: (Ry(tilt_y) Rx(tilt_x))ᵀ ez = Rx(−tilt_x) Ry(−tilt_y) ez.
pub fn up(geometry: &Geometry) -> Vector3<f64> {
    let (sx, cx) = geometry.plate_tilt_x_rad.sin_cos();
    let (sy, cy) = geometry.plate_tilt_y_rad.sin_cos();
    Vector3::new(-sy, cy * sx, cy * cx)
}

fn up_by_tilt_x(geometry: &Geometry) -> Vector3<f64> {
    let (sx, cx) = geometry.plate_tilt_x_rad.sin_cos();
    let cy = geometry.plate_tilt_y_rad.cos();
    Vector3::new(0.0, cy * cx, -cy * sx)
}

fn up_by_tilt_y(geometry: &Geometry) -> Vector3<f64> {
    let (sx, cx) = geometry.plate_tilt_x_rad.sin_cos();
    let (sy, cy) = geometry.plate_tilt_y_rad.sin_cos();
    Vector3::new(-cy, -sy * sx, -sy * cx)
}
