//! Any arm: roots from many starts spread evenly over the limits, always the same ones.

use crate::cell::JointInfo;
use crate::reach::limits::settle;
use crate::reach::polish::Place;
use crate::reach::small::Posture;
use crate::units::wrap_rad;

/// Most starts that are tried for one target at one station.
const MOST_STARTS: usize = 640;
/// Most roots that are kept: a general arm of six joints has at most 16 in one full turn.
const MOST_ROOTS: usize = 64;

/// The radical inverse of `k` to a base: Halton's sequence.
fn radical_inverse(mut k: usize, base: usize) -> f64 {
    let (mut f, mut x) = (1.0, 0.0);
    while k > 0 {
        f /= base as f64;
        x += f * (k % base) as f64;
        k /= base;
    }
    x
}

/// Starts spread evenly over the limits (over one turn where a joint may turn more).
pub(super) fn starts(joints: &[JointInfo]) -> Vec<Posture> {
    const BASES: [usize; 7] = [2, 3, 5, 7, 11, 13, 17];
    (0..MOST_STARTS)
        .map(|k| {
            let mut q = Posture::default();
            for (i, joint) in joints.iter().enumerate() {
                let l = joint.limits_rad;
                let (middle, half) = (0.5 * (l.low + l.high), 0.5 * (l.high - l.low));
                let half = half.min(std::f64::consts::PI);
                q[i] = middle + half * (2.0 * radical_inverse(k + 1, BASES[i]) - 1.0);
            }
            q
        })
        .collect()
}

/// Whether two postures are the same but for full turns.
pub(super) fn same(a: &Posture, b: &Posture, joints: usize, within_rad: f64) -> bool {
    a[..joints]
        .iter()
        .zip(b)
        .all(|(x, y)| wrap_rad(x - y).abs() < within_rad)
}

/// How long to search.
#[derive(Debug, Clone, Copy)]
pub(super) enum Search {
    /// Isolated roots: until so many starts in a row gave none that is new. A root suggests others:
    /// each joint turned by half a turn, or mirrored, is a start as well.
    Patient(usize),
    /// Families of roots: so many starts, each leads to some root.
    Starts(usize),
}

/// Roots of a target, within limits or not.
pub(super) fn roots(
    place: &Place,
    joints: &[JointInfo],
    starts: &[Posture],
    hints: &[Posture],
    search: Search,
    found: &mut Vec<Posture>,
) {
    let n = joints.len();
    let mut queue: Vec<Posture> = hints.to_vec();
    let mut next = 0;
    let mut since_new = 0;
    let (patience, isolated) = match search {
        Search::Patient(n) => (n, true),
        Search::Starts(n) => (n, false),
    };
    while since_new < patience && found.len() < MOST_ROOTS {
        let mut q = match queue.pop() {
            Some(q) => q,
            None if next < starts.len() => {
                next += 1;
                since_new += 1;
                starts[next - 1]
            }
            None => break,
        };
        if !place.descend(&mut q, 40) {
            continue;
        }
        settle(joints, &mut q);
        if found.iter().any(|f| same(f, &q, n, 2e-6)) {
            continue;
        }
        found.push(q);
        if !isolated {
            continue;
        }
        since_new = 0;
        if found.len() <= 16 {
            for i in 0..n {
                let mut turned = q;
                turned[i] += std::f64::consts::PI;
                queue.push(turned);
                let mut mirrored = q;
                mirrored[i] = -mirrored[i];
                queue.push(mirrored);
            }
        }
    }
}
