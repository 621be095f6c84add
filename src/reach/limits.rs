//! Limits of the joints' values, ends included.

use crate::cell::JointInfo;
use crate::reach::small::Posture;
use crate::units::Range;
use crate::units::wrap_rad;

/// A value this far beyond a limit is still at the limit, rad.
pub(super) const LIMIT_SLACK_RAD: f64 = 1e-9;
/// The same for travel, mm.
pub(super) const LIMIT_SLACK_MM: f64 = 1e-9;

/// Of the values that differ by full turns, the one farthest from the limits (nearest to their
/// middle).
pub(super) fn nearest_middle(value_rad: f64, limits: Range) -> f64 {
    let middle = 0.5 * (limits.low + limits.high);
    middle + wrap_rad(value_rad - middle)
}

/// Brings every joint to the full turn that is farthest from its limits.
pub(super) fn settle(joints: &[JointInfo], q: &mut Posture) {
    for (joint, v) in joints.iter().zip(q) {
        *v = nearest_middle(*v, joint.limits_rad);
    }
}

/// The least distance of a joint to one of its limits, rad; negative outside.
pub(super) fn margin_of(joints: &[JointInfo], q: &Posture) -> f64 {
    joints
        .iter()
        .zip(q)
        .map(|(joint, v)| (v - joint.limits_rad.low).min(joint.limits_rad.high - v))
        .fold(f64::INFINITY, f64::min)
}

/// Whether a value lies within limits that may not be given.
pub(super) fn within(value: f64, limits: Option<Range>, slack: f64) -> bool {
    match limits {
        Some(l) => value >= l.low - slack && value <= l.high + slack,
        None => value.is_finite(),
    }
}
