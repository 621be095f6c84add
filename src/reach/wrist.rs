//! Three joints whose axes meet: at most two ways to turn a body to a given attitude.

use nalgebra::Matrix3;

use crate::reach::lines::Line;

/// Calls `found` with the values that make up the rotation `whole`, if any do.
///
/// What joint 4 sees of axis 6 does not change with joints 4 and 6, so that
/// `h4 · Rot(h5, θ5) h6 = h4 · whole · h6` gives joint 5; the other two follow by one turn each.
/// Where axes 4 and 6 fall in line joint 4 is put at `still`, and joint 6 does the rest.
pub(super) fn turn(
    axes: &[Line; 3],
    whole: &Matrix3<f64>,
    still: f64,
    mut found: impl FnMut([f64; 3]),
) {
    let [four, five, six] = axes;
    let end = whole * six.along;
    let mut wave = five.seen(&four.along, &six.along);
    wave.k -= four.along.dot(&end);
    for theta5 in wave.zeros().as_slice() {
        let five_turn = five.rotation(*theta5);
        let before = five_turn * six.along;
        let in_line = four.along.cross(&before).norm() < 1e-9;
        let theta4 = match in_line {
            true => still,
            false => four.angle(&before, &end),
        };
        // Rot(h6, θ6) = Rot(h5, θ5)ᵀ Rot(h4, θ4)ᵀ whole: seen on a direction across axis 6.
        let left = five_turn.tr_mul(&four.rotation(theta4).tr_mul(whole));
        let across = six.across();
        found([theta4, *theta5, six.angle(&across, &(left * across))]);
    }
}
