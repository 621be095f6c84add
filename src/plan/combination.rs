//! A combination of parameters that readings cannot tell apart, in words of the bench.

use nalgebra::Vector3;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::kinematics::Level;
use crate::kinematics::Twist;
use crate::parameters::Motion;
use crate::parameters::Unknowns;
use crate::readings::stand::Stand;

/// A component below this is no part of a combination.
const PART: f64 = 0.05;
/// Two motions are the same where they differ by less than this share.
const SAME: f64 = 1e-3;

/// The parameters of a direction (in scaled columns), largest first, with their components.
pub(super) fn parts(vector: &[f64]) -> Vec<(usize, f64)> {
    let mut parts: Vec<(usize, f64)> = vector
        .iter()
        .copied()
        .enumerate()
        .filter(|(_, v)| v.abs() > PART)
        .collect();
    parts.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    parts
}

/// "mount.yaw (turn of the arm's base)".
pub(super) fn named(bench: &Bench, unknowns: &Unknowns, j: usize) -> String {
    let name = &bench.cell.solve[j].name;
    match unknowns.list[j].0.spec().words {
        "" => name.clone(),
        words => format!("{name} ({words})"),
    }
}

/// Why two parameters cannot be told apart, where it can be said: what they move alike.
pub(super) fn reason(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    pair: [usize; 2],
) -> Option<&'static str> {
    let motions = pair.map(|j| motion(bench, unknowns, geometry, j));
    match motions {
        [Some(Moves::Arm(a)), Some(Moves::Arm(b))] => alike(&a.1, &b.1),
        [Some(Moves::Platter), Some(Moves::Dial)] | [Some(Moves::Dial), Some(Moves::Platter)] => {
            Some("both shift where the notches meet the switch")
        }
        [Some(Moves::Place), Some(Moves::Arm(_))] | [Some(Moves::Arm(_)), Some(Moves::Place)] => {
            Some("a target that is elsewhere looks like an arm that is elsewhere")
        }
        _ => None,
    }
}

enum Moves {
    Arm((Level, Twist)),
    Platter,
    Dial,
    Place,
}

/// What a parameter moves, in a posture that readings were taken in.
fn motion(bench: &Bench, unknowns: &Unknowns, geometry: &Geometry, j: usize) -> Option<Moves> {
    let seen = bench
        .taken
        .iter()
        .filter(|t| t.used() && t.reading.shows_tip());
    let stand = seen.map(|t| *t.reading.stand()).next().unwrap_or_default();
    let arm = stand.arm(geometry, geometry.joints.len());
    let table = stand.turntable(geometry);
    let scene = Stand::scene(&stand, geometry, &arm, table.as_ref());
    Some(match unknowns.list[j].0.motion(&scene) {
        Motion::Arm { level, twist } => Moves::Arm((level, twist)),
        Motion::AxisPoint { later, joint, .. } => Moves::Arm((Level::before_joint(joint), later)),
        Motion::Platter { .. } => Moves::Platter,
        Motion::Dial(_) => Moves::Dial,
        Motion::Mark { .. } | Motion::Feature { .. } => Moves::Place,
        Motion::Gravity(_) => return None,
    })
}

fn alike(a: &Twist, b: &Twist) -> Option<&'static str> {
    let parallel = |x: &Vector3<f64>, y: &Vector3<f64>| {
        x.cross(y).norm() < SAME * x.norm() * y.norm() && x.norm() > 0.0 && y.norm() > 0.0
    };
    let turns = [a, b].map(|t| t.turn.norm() > 1e-12);
    match turns {
        [true, true] if parallel(&a.turn, &b.turn) => {
            // The same line: per rad the points of both axes stand still under the other turn.
            let (a, b) = (a.times(1.0 / a.turn.norm()), b.times(1.0 / b.turn.norm()));
            let way = a.turn.dot(&b.turn).signum();
            let apart = (a.shift_mm - b.shift_mm * way).norm();
            match apart < 1.0 {
                true => Some("both turn the arm about the same axis"),
                false => Some("both turn the arm about parallel axes"),
            }
        }
        [false, false] if parallel(&a.shift_mm, &b.shift_mm) => {
            Some("both shift the arm the same way")
        }
        _ => None,
    }
}
