//! The table of all parameters. A new parameter is one line here (and a field of the
//! geometry; a new way of moving is one more of `Moves`).

use crate::cell::Geometry;
use crate::parameters::Dial;
use crate::parameters::Family;
use crate::parameters::Moves;
use crate::parameters::Moves::*;
use crate::parameters::ParameterUnit;
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
