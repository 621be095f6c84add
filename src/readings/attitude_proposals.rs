//! Levels and plumbs that could be taken.

use nalgebra::Vector3;

use crate::kinematics::joint_value_rad;
use crate::parameters::Unknowns;
use crate::readings::Attitude;
use crate::readings::Kind;
use crate::readings::attitude::Body;
use crate::readings::attitude::Sense;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::propose::Posture;
use crate::readings::stand::Stand;
use crate::units::Reading;

/// Steps in which a joint is turned to find where a direction stands level or plumb.
const STEP_DEG: f64 = 5.0;
/// Beyond this off level or plumb no posture is proposed: a square or a level is set, not a protractor.
const NEAR_DEG: f64 = 2.0;

/// Links, flange and tool set level or plumb by turning the last joint that matters; the plate itself by
/// a bubble.
pub(super) fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
    let n = maker.cell.joints.len();
    // Turned end for end, the level checks itself (*common practice*).
    for axis in ["x", "-x", "y", "-y"] {
        let words = format!(
            "set a bubble level on the plate with its end toward {axis}, and read how far that end rises"
        );
        let draft = Draft::new(words, format!("plate {axis}"))
            .given("kind", "level")
            .given("body", "plate")
            .given("axis", axis)
            .given("by", "bubble")
            .expect("angle", 0.0, 1);
        out.push(draft);
    }
    let links = (0..n).map(|k| (Body::Link(k), format!("j{}", k + 1), k + 1));
    let outer = [
        (Body::Flange, "flange".to_owned(), n),
        (Body::Tool, "tool".to_owned(), n),
    ];
    for (body, name, joints) in links.chain(outer) {
        for (sense, kind, toward) in [
            (Sense::Level, "level", ""),
            (Sense::PlumbAhead, "plumb", "ahead"),
            (Sense::PlumbLeft, "plumb", "left"),
        ] {
            for (letter, axis) in [
                ("x", Vector3::x()),
                ("y", Vector3::y()),
                ("z", Vector3::z()),
            ] {
                for track in [maker.tracks.first(), maker.tracks.last()]
                    .into_iter()
                    .flatten()
                {
                    for posture in &maker.postures {
                        let row = Attitude {
                            sense,
                            body,
                            axis,
                            by_bubble: false,
                            angle_rad: 0.0,
                            stand: Stand {
                                track: *track,
                                joints: *posture,
                                ..Stand::default()
                            },
                        };
                        let Some((stand, angle_deg)) = set(maker, row, joints) else {
                            continue;
                        };
                        let place = format!("{kind} {name} {letter} {toward}");
                        let body_words = match body {
                            Body::Link(k) => format!("the link of joint {}", k + 1),
                            _ => format!("the {name}"),
                        };
                        let words = format!(
                            "{}: measure with a square on the plate how far the {letter} of \
                             {body_words} is off {}",
                            maker.at(Some(*track), None, &stand.joints[..joints]),
                            match toward {
                                "" => "level".to_owned(),
                                way => format!("plumb, toward {way}"),
                            }
                        );
                        let mut draft = Draft::new(words, place)
                            .given("kind", kind)
                            .given("body", &name)
                            .given("axis", letter);
                        if !toward.is_empty() {
                            draft = draft.given("toward", toward);
                        }
                        draft = draft
                            .given("by", "square")
                            .track(maker.cell, *track)
                            .joints(&stand.joints, joints)
                            .expect("angle", angle_deg, 1);
                        out.push(draft);
                    }
                }
            }
        }
    }
}

/// Turns the last of the joints that carry the body until the direction stands level or plumb.
fn set(maker: &Maker<'_>, mut row: Attitude, joints: usize) -> Option<(Stand, f64)> {
    let start: Posture = row.stand.joints;
    let last = joints - 1;
    let off = |row: &Attitude, posture: &Posture| {
        let mut row = row.clone();
        row.stand.joints = *posture;
        let posed = crate::kinematics::Posed::new(maker.geometry);
        row.evaluate(&posed, &Unknowns::default(), None).value[0].to_degrees()
    };
    // The first joint turns what is judged about the vertical: nothing to set there.
    let mut best: Option<(Posture, f64)> = None;
    let limits = maker.cell.joints[last].limits_rad;
    let law = &maker.geometry.joints[last];
    let per_unit = law.scale_rad.to_degrees().abs();
    let steps = ((limits.high - limits.low).to_degrees() / STEP_DEG).min(200.0) as usize;
    for k in 0..=steps {
        let value = limits.low.to_degrees() + STEP_DEG * k as f64;
        let mut posture = start;
        posture[last] = (value - law.zero_rad.to_degrees()) / law.scale_rad.to_degrees();
        // From the nearest step the joint goes the rest of the way: the direction turns as it does.
        for _ in 0..6 {
            let now = off(&row, &posture);
            let mut next = posture;
            next[last] += 0.1 / per_unit;
            let slope = (off(&row, &next) - now) * 10.0 * per_unit;
            if slope.abs() < 0.2 * per_unit || now.abs() > 20.0 {
                break;
            }
            posture[last] -= now / slope;
        }
        posture[last] = (posture[last] * 10.0).round() / 10.0;
        let left = off(&row, &posture);
        let value = joint_value_rad(law, Reading(posture[last]));
        if left.abs() <= NEAR_DEG
            && limits.holds(value)
            && best.as_ref().is_none_or(|b| left.abs() < b.1.abs() - 1e-9)
        {
            best = Some((posture, left));
        }
    }
    let (posture, left) = best?;
    row.stand.joints = posture;
    (maker.fits)(&row.stand).then_some((row.stand, left))
}
