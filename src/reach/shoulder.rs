//! Three joints that carry one point to another: at most four ways.
//!
//! Pieper 1968: what joint 1 cannot change, the point's height along its axis and its distance from
//! it, is set by joints 2 and 3 alone. With the common perpendicular of axes 1 and 2 for origin both
//! are linear in where joint 2 turns the point, so that its length leaves one equation in joint 3.

use nalgebra::Vector3;

use crate::reach::lines::Line;
use crate::reach::trig::Wave;

/// Axes nearer than this meet, mm: what that misses is polished away later.
const MEET_MM: f64 = 1e-3;

/// Calls `found` with the values of joints 1, 2, 3 that carry `from` to `to`.
pub(super) fn carry(
    axes: &[Line; 3],
    from: &Vector3<f64>,
    to: &Vector3<f64>,
    mut found: impl FnMut([f64; 3]),
) {
    let [one, two, three] = axes;
    let (q1, q2) = one.feet(two);
    let d = q2 - q1;
    let apart = d.norm();
    let h2 = &two.along;
    // u(θ3): the point from q2, before joint 2 turns it.
    let arm = from - three.at;
    let still = three.along * three.along.dot(&arm);
    let u = [still + three.at - q2, arm - still, three.along.cross(&arm)];
    let seen = |v: &Vector3<f64>| Wave {
        k: v.dot(&u[0]),
        c: v.dot(&u[1]),
        s: v.dot(&u[2]),
    };
    let eta = seen(h2);
    // |u|²: its cos² and sin² parts add up to a constant, since u1 and u2 are perpendicular and as long.
    let square = Wave {
        k: u[0].norm_squared() + u[1].norm_squared(),
        c: 2.0 * u[0].dot(&u[1]),
        s: 2.0 * u[0].dot(&u[2]),
    };
    let goal = to - q1;
    let height = one.along.dot(&goal) - one.along.dot(&d);
    let cos12 = one.along.dot(h2);
    let level1 = one.along - h2 * cos12;
    let sin12 = level1.norm();
    let k2 = square.times(-0.5).plus(Wave::constant(
        0.5 * (goal.norm_squared() - d.norm_squared()),
    ));
    // v, the part of the point across axis 2, along e_a and e_b.
    let (e_a, skew) = if one.parallel(two) {
        (h2.cross(&(d / apart.max(1e-300))), false)
    } else {
        (level1 / sin12, true)
    };
    let e_b = h2.cross(&e_a);
    let alpha = Wave::constant(height)
        .plus(eta.times(-cos12))
        .times(1.0 / sin12);
    let beta = k2.times(1.0 / d.dot(&e_b));
    let mut finish = |theta3: f64, va: f64, vb: f64| {
        let (s, c) = theta3.sin_cos();
        let now = u[0] + u[1] * c + u[2] * s;
        let theta2 = two.angle(&now, &(e_a * va + e_b * vb));
        let carried = two.turn(theta2, &(now + q2));
        found([one.angle(&(carried - q1), &goal), theta2, theta3]);
    };
    let rest = |theta3: f64, known: f64| {
        let left = square.at(theta3) - eta.at(theta3).powi(2) - known * known;
        // A little below nothing is rounding at an end of reach.
        (left > -1e-6 * (1.0 + square.at(theta3).abs())).then(|| left.max(0.0).sqrt())
    };
    match (skew, apart > MEET_MM) {
        (true, true) => {
            // α² + β² + η² = |u|².
            let all = alpha
                .by(alpha)
                .plus(beta.by(beta))
                .plus(eta.by(eta))
                .minus(square.by(Wave::constant(1.0)));
            for theta3 in all.zeros().as_slice() {
                finish(*theta3, alpha.at(*theta3), beta.at(*theta3));
            }
        }
        (true, false) => {
            for theta3 in k2.zeros().as_slice() {
                let a = alpha.at(*theta3);
                if let Some(b) = rest(*theta3, a) {
                    finish(*theta3, a, b);
                    finish(*theta3, a, -b);
                }
            }
        }
        (false, true) => {
            let level = eta.times(cos12).plus(Wave::constant(-height));
            for theta3 in level.zeros().as_slice() {
                let b = beta.at(*theta3);
                if let Some(a) = rest(*theta3, b) {
                    finish(*theta3, a, b);
                    finish(*theta3, -a, b);
                }
            }
        }
        // One and the same axis twice: a family, not a set of branches.
        (false, false) => {}
    }
}
