//! Joints to spare: the posture of a family that stays farthest from the joint limits.

use crate::cell::JointInfo;
use crate::kinematics::MAX_JOINTS;
use crate::reach::limits::margin_of;
use crate::reach::polish::Look;
use crate::reach::polish::Place;
use crate::reach::small::LINES;
use crate::reach::small::MAX_SPARE;
use crate::reach::small::Posture;
use crate::reach::small::RowSpace;
use crate::reach::small::largest_minimum;

/// Weight of all joints' margins together against the least one: it decides between postures whose
/// least margin is the same, and costs less than its own square in that margin.
const REST: f64 = 1e-5;

fn merit(joints: &[JointInfo], q: &Posture) -> f64 {
    let rest: f64 = joints
        .iter()
        .zip(q)
        .map(|(j, v)| (v - j.limits_rad.low).min(j.limits_rad.high - v))
        .sum();
    margin_of(joints, q) + REST * rest
}

/// Climbs from a root `q` to the nearest posture with the largest least margin, keeping all
/// conditions: linear steps in the spare directions within a box that shrinks, each brought back
/// to a root. Bounded; `q` stays a root throughout.
pub(super) fn climb(place: &Place, joints: &[JointInfo], q: &mut Posture) {
    let n = joints.len();
    let mut look = Look::new();
    place.look(q, &mut look);
    // A joint that moves nothing here moves nothing along the way either: its middle is best.
    let idle: [bool; MAX_JOINTS] =
        std::array::from_fn(|i| i < n && (0..look.rows).all(|r| look.j[r][i].abs() < 1e-12));
    let centre = |q: &mut Posture| {
        for i in (0..n).filter(|i| idle[*i]) {
            q[i] = 0.5 * (joints[i].limits_rad.low + joints[i].limits_rad.high);
        }
    };
    centre(q);
    let mut best = merit(joints, q);
    let mut reach = 0.3;
    for _ in 0..120 {
        if reach < 1e-10 {
            break;
        }
        place.look(q, &mut look);
        // At a singular posture the directions are not known.
        let Some(space) = RowSpace::of(&look.j, look.rows, n) else {
            break;
        };
        let (mut next, longest) = step(joints, &space, q, reach);
        centre(&mut next);
        if place.polish(&mut next, 8) && moved(q, &next, n) < 2.0 * reach + 1e-9 {
            let now = merit(joints, &next);
            if now > best + 1e-15 {
                let small = now - best < 1e-3 * longest * REST;
                *q = next;
                best = now;
                reach = if small {
                    reach * 0.3
                } else {
                    (reach * 1.5).min(0.5)
                };
                continue;
            }
        }
        reach = 0.3 * reach.min(if longest > 0.0 { longest } else { reach });
    }
}

/// The best linear step within the box, and its longest part.
fn step(joints: &[JointInfo], space: &RowSpace, q: &Posture, reach: f64) -> (Posture, f64) {
    let n = joints.len();
    let spare = space.spare.min(MAX_SPARE);
    let mut slopes = [[0.0; MAX_SPARE]; LINES];
    let mut heights = [0.0; LINES];
    let mut gain = [0.0; MAX_SPARE];
    for i in 0..n {
        let limits = joints[i].limits_rad;
        let (below, above) = (q[i] - limits.low, limits.high - q[i]);
        (heights[2 * i], heights[2 * i + 1]) = (below, above);
        for k in 0..spare {
            let s = space.null[k][i];
            slopes[2 * i][k] = s;
            slopes[2 * i + 1][k] = -s;
            gain[k] += if below < above { REST * s } else { -REST * s };
        }
    }
    let y = largest_minimum(&slopes[..2 * n], &heights[..2 * n], &gain, spare, reach);
    let mut next = *q;
    for (direction, y) in space.null.iter().zip(&y[..spare]) {
        for (x, d) in next.iter_mut().zip(&direction[..n]) {
            *x += y * d;
        }
    }
    (next, y.iter().fold(0.0f64, |m, x| m.max(x.abs())))
}

fn moved(a: &Posture, b: &Posture, n: usize) -> f64 {
    a[..n]
        .iter()
        .zip(b)
        .fold(0.0f64, |m, (x, y)| m.max((x - y).abs()))
}
