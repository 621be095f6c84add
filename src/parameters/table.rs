//! The table of all parameters. A new parameter is one line here (and a field of the geometry).

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::cell::Mounting;
use crate::kinematics::Level;
use crate::kinematics::Twist;
use crate::parameters::Dial;
use crate::parameters::Family;
use crate::parameters::Motion;
use crate::parameters::ParameterUnit;
use crate::parameters::Scene;
use crate::parameters::Spec;

use Family::Arm as A;
use Family::Dial as D;
use Family::Feature as F;
use Family::Gravity as G;
use Family::Mark as M;
use Family::Platter as P;
use ParameterUnit::Deg as DEG;
use ParameterUnit::DegPerUnit as DEG_PER_UNIT;
use ParameterUnit::Mm as MM;
use ParameterUnit::MmPerUnit as MM_PER_UNIT;

type Slot = fn(&mut Geometry, usize) -> Option<&mut f64>;

const fn line(
    pattern: &'static str,
    unit: ParameterUnit,
    family: Family,
    words: &'static str,
    slot: Slot,
    moves: Moves,
) -> Spec {
    Spec {
        pattern,
        unit,
        words,
        family,
        slot,
        moves,
    }
}

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

/// Every parameter of the model.
#[rustfmt::skip]
pub static TABLE: &[Spec] = &[
    line("track.x", MM, A, "where the track starts, along x",
        |g, _| Some(&mut g.track.as_mut()?.mounting.at_mm.x), CarriageAlong(0)),
    line("track.y", MM, A, "where the track starts, along y",
        |g, _| Some(&mut g.track.as_mut()?.mounting.at_mm.y), CarriageAlong(1)),
    line("track.z", MM, A, "height of the track's start",
        |g, _| Some(&mut g.track.as_mut()?.mounting.at_mm.z), CarriageAlong(2)),
    line("track.yaw", DEG, A, "direction of the track on the plate",
        |g, _| Some(&mut g.track.as_mut()?.mounting.yaw_rad), TrackTurn(2)),
    line("track.pitch", DEG, A, "fall of the track ahead",
        |g, _| Some(&mut g.track.as_mut()?.mounting.pitch_rad), TrackTurn(1)),
    line("track.roll", DEG, A, "tilt of the track to its side",
        |g, _| Some(&mut g.track.as_mut()?.mounting.roll_rad), TrackTurn(0)),
    line("track.scale", MM_PER_UNIT, A, "travel per unit of the reading",
        |g, _| Some(&mut g.track.as_mut()?.scale_mm), TravelByReading),
    line("track.lost_motion", MM, A, "play of the track at a reversal",
        |g, _| Some(&mut g.track.as_mut()?.lost_motion_mm),
        TravelByApproach),

    line("mount.x", MM, A, "arm's base, along the track",
        |g, _| Some(&mut g.mount.at_mm.x), BaseAlong(0)),
    line("mount.y", MM, A, "arm's base, across the track",
        |g, _| Some(&mut g.mount.at_mm.y), BaseAlong(1)),
    line("mount.z", MM, A, "height of the arm's base",
        |g, _| Some(&mut g.mount.at_mm.z), BaseAlong(2)),
    line("mount.yaw", DEG, A, "turn of the arm's base",
        |g, _| Some(&mut g.mount.yaw_rad), BaseTurn(2)),
    line("mount.pitch", DEG, A, "fall of the arm's base ahead",
        |g, _| Some(&mut g.mount.pitch_rad), BaseTurn(1)),
    line("mount.roll", DEG, A, "tilt of the arm's base to its side",
        |g, _| Some(&mut g.mount.roll_rad), BaseTurn(0)),

    line("arm.j#.zero", DEG, A, "zero of the joint",
        |g, i| Some(&mut g.joints.get_mut(i)?.zero_rad), JointTurn),
    line("arm.j#.scale", DEG_PER_UNIT, A, "turn per unit of the reading",
        |g, i| Some(&mut g.joints.get_mut(i)?.scale_rad),
        JointTurnByReading),
    line("arm.j#.x", MM, A, "place of the joint's axis in the arm, along x",
        |g, i| Some(&mut g.joints.get_mut(i)?.through_mm.x), AxisPoint(0)),
    line("arm.j#.y", MM, A, "place of the joint's axis in the arm, along y",
        |g, i| Some(&mut g.joints.get_mut(i)?.through_mm.y), AxisPoint(1)),
    line("arm.j#.z", MM, A, "place of the joint's axis in the arm, along z",
        |g, i| Some(&mut g.joints.get_mut(i)?.through_mm.z), AxisPoint(2)),

    line("flange.x", MM, A, "place of the flange, along x",
        |g, _| Some(&mut g.flange_mm.x), FlangeAlong(0)),
    line("flange.y", MM, A, "place of the flange, along y",
        |g, _| Some(&mut g.flange_mm.y), FlangeAlong(1)),
    line("flange.z", MM, A, "place of the flange, along z",
        |g, _| Some(&mut g.flange_mm.z), FlangeAlong(2)),

    line("tool.x", MM, A, "place of the tip, along flange x",
        |g, _| Some(&mut g.tool.at_mm.x), ToolAlong(0)),
    line("tool.y", MM, A, "place of the tip, along flange y",
        |g, _| Some(&mut g.tool.at_mm.y), ToolAlong(1)),
    line("tool.z", MM, A, "length of the tool",
        |g, _| Some(&mut g.tool.at_mm.z), ToolAlong(2)),
    line("tool.yaw", DEG, A, "turn of the tool about its length",
        |g, _| Some(&mut g.tool.yaw_rad), ToolTurn(2)),
    line("tool.pitch", DEG, A, "lean of the tool about the flange's y",
        |g, _| Some(&mut g.tool.pitch_rad), ToolTurn(1)),
    line("tool.roll", DEG, A, "lean of the tool about its x",
        |g, _| Some(&mut g.tool.roll_rad), ToolTurn(0)),

    line("turntable.x", MM, P, "centre of the turntable along x",
        |g, _| Some(&mut g.turntable.as_mut()?.at_mm.x), TableAlong(0)),
    line("turntable.y", MM, P, "centre of the turntable along y",
        |g, _| Some(&mut g.turntable.as_mut()?.at_mm.y), TableAlong(1)),
    line("turntable.z", MM, P, "height of the platter",
        |g, _| Some(&mut g.turntable.as_mut()?.at_mm.z), TableAlong(2)),
    line("turntable.tilt_x", DEG, P, "tilt of the turntable about x",
        |g, _| Some(&mut g.turntable.as_mut()?.tilt_x_rad), TableTilt(0)),
    line("turntable.tilt_y", DEG, P, "tilt of the turntable about y",
        |g, _| Some(&mut g.turntable.as_mut()?.tilt_y_rad), TableTilt(1)),
    line("turntable.index", DEG, P, "platter angle at table reading 0",
        |g, _| Some(&mut g.turntable.as_mut()?.index_rad), PlatterTurn),
    line("turntable.scale", DEG_PER_UNIT, P, "turn of the platter per unit",
        |g, _| Some(&mut g.turntable.as_mut()?.scale_rad), PlatterTurnByReading),
    line("turntable.lost_motion", DEG, P, "play of the table at a reversal",
        |g, _| Some(&mut g.turntable.as_mut()?.lost_motion_rad),
        PlatterTurnByApproach),
    line("turntable.switch", DEG, D, "bearing of the switch",
        |g, _| Some(&mut g.turntable.as_mut()?.switch_rad), DialPart(Dial::Switch)),
    line("turntable.ecc_cos", DEG, D, "notch circle off centre, cosine part",
        |g, _| Some(&mut g.turntable.as_mut()?.ecc_cos_rad), DialPart(Dial::EccCos)),
    line("turntable.ecc_sin", DEG, D, "notch circle off centre, sine part",
        |g, _| Some(&mut g.turntable.as_mut()?.ecc_sin_rad), DialPart(Dial::EccSin)),

    line("plate.tilt_x", DEG, G, "tilt of the plate about x",
        |g, _| Some(&mut g.plate_tilt_x_rad), GravityTilt(0)),
    line("plate.tilt_y", DEG, G, "tilt of the plate about y",
        |g, _| Some(&mut g.plate_tilt_y_rad), GravityTilt(1)),

    line("marks.#.x", MM, M, "place of the mark along x",
        |g, i| Some(&mut g.marks_mm.get_mut(i)?.x), MarkAlong(0)),
    line("marks.#.y", MM, M, "place of the mark along y",
        |g, i| Some(&mut g.marks_mm.get_mut(i)?.y), MarkAlong(1)),
    line("marks.#.z", MM, M, "height of the mark",
        |g, i| Some(&mut g.marks_mm.get_mut(i)?.z), MarkAlong(2)),
    line("features.#.x", MM, F, "place of the feature, along the track",
        |g, i| Some(&mut g.features_mm.get_mut(i)?.x), FeatureAlong(0)),
    line("features.#.y", MM, F, "place of the feature, across the track",
        |g, i| Some(&mut g.features_mm.get_mut(i)?.y), FeatureAlong(1)),
    line("features.#.z", MM, F, "height of the feature",
        |g, i| Some(&mut g.features_mm.get_mut(i)?.z), FeatureAlong(2)),
];

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
