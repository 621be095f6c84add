//! Six joints of which the second, third and fourth are parallel: at most eight ways (sixteen where
//! axes 5 and 6 do not meet).
//!
//! What the three parallel joints cannot change is what their common direction h sees. Of the tool
//! it sees the direction of axis 6 and the place of that axis: two equations, linear in the sines
//! and cosines of joints 1 and 5. Joint 6 follows from h itself, and the three parallel joints are
//! then two links in a plane.

use nalgebra::Matrix2;
use nalgebra::Matrix3;
use nalgebra::Vector2;
use nalgebra::Vector3;

use crate::reach::lines::Line;
use crate::reach::trig::Wave;

/// A row of the two equations that sees less of joint 5 than this share does not see it.
const BLIND: f64 = 1e-9;

/// Calls `found` with the values of all six joints that give the tool the rotation `turn` and the
/// shift `shift` from where it is at the zero posture.
pub(super) fn solve(
    axes: &[Line; 6],
    turn: &Matrix3<f64>,
    shift: &Vector3<f64>,
    mut found: impl FnMut([f64; 6]),
) {
    let [one, two, _, _, five, six] = axes;
    let h = &two.along;
    let (q5, q6) = five.feet(six);
    // Left sides, waves of joint 1: h · Rot(h1, −θ1) x = x · Rot(h1, θ1) h.
    let place = turn * q6 + shift;
    let mut direction = one.seen(&(turn * six.along), h);
    let mut where_ = one.seen(&(place - one.at), h);
    where_.k += h.dot(&one.at) - h.dot(&q5);
    // Right sides, waves of joint 5.
    let by_direction = five.seen(h, &six.along);
    let by_place = five.seen(h, &(q6 - q5));
    direction.k -= by_direction.k;
    where_.k -= by_place.k;
    let rows = [
        Vector2::new(by_direction.c, by_direction.s),
        Vector2::new(by_place.c, by_place.s),
    ];
    let arm = (q6 - q5).norm().max(1.0);
    let matrix = Matrix2::new(rows[0].x, rows[0].y, rows[1].x / arm, rows[1].y / arm);
    let mut finish = |theta1: f64, theta5: f64| {
        rest(axes, turn, shift, theta1, theta5, &mut found);
    };
    if matrix.determinant().abs() > BLIND {
        let det = matrix.determinant();
        let scaled = where_.times(1.0 / arm);
        let cos = direction
            .times(matrix.m22 / det)
            .plus(scaled.times(-matrix.m12 / det));
        let sin = scaled
            .times(matrix.m11 / det)
            .plus(direction.times(-matrix.m21 / det));
        let mut unit = cos.by(cos).plus(sin.by(sin));
        unit.k -= 1.0;
        for theta1 in unit.zeros().as_slice() {
            finish(*theta1, sin.at(*theta1).atan2(cos.at(*theta1)));
        }
        return;
    }
    // One combination of the rows does not see joint 5: it gives joint 1.
    let (lead, other, blind, seeing) = match rows[0].norm() >= rows[1].norm() / arm {
        true => (rows[0], rows[1], where_, direction),
        false => (rows[1], rows[0], direction, where_),
    };
    if !(lead.norm() > 0.0) {
        return;
    }
    let share = other.dot(&lead) / lead.norm_squared();
    let alone = blind.plus(seeing.times(-share));
    for theta1 in alone.zeros().as_slice() {
        let left = Wave {
            k: -seeing.at(*theta1),
            c: lead.x,
            s: lead.y,
        };
        for theta5 in left.zeros().as_slice() {
            finish(*theta1, *theta5);
        }
    }
}

/// Joints 2, 3, 4 and 6 once joints 1 and 5 are known.
fn rest(
    axes: &[Line; 6],
    turn: &Matrix3<f64>,
    shift: &Vector3<f64>,
    theta1: f64,
    theta5: f64,
    found: &mut impl FnMut([f64; 6]),
) {
    let [one, two, three, four, five, six] = axes;
    let h = &two.along;
    let (one_turn, five_turn) = (one.rotation(theta1), five.rotation(theta5));
    let theta6 = six.angle(&turn.tr_mul(&(one_turn * h)), &five_turn.tr_mul(h));
    // What is left for the parallel joints: e1⁻¹ · E · e6⁻¹ · e5⁻¹.
    let back = |p: &Vector3<f64>| {
        let p = six.turn(-theta6, &five.turn(-theta5, p));
        let p = turn * p + shift;
        one.turn(-theta1, &p)
    };
    let zero = back(&Vector3::zeros());
    let any = two.across();
    let whole = two.angle(&any, &(back(&any) - zero));
    let wrist = back(&four.at) - two.at;
    let wrist = wrist - h * h.dot(&wrist);
    let fore = four.at - three.at;
    let upper = three.at - two.at;
    let flat = |v: Vector3<f64>| v - h * h.dot(&v);
    let (fore, upper) = (flat(fore), flat(upper));
    // |upper + Rot(h3, θ3) fore|² = |wrist|².
    let mut bend = three.seen(&upper, &fore).times(2.0);
    bend.k += upper.norm_squared() + fore.norm_squared() - wrist.norm_squared();
    let sign3 = three.along.dot(h).signum();
    let sign4 = four.along.dot(h).signum();
    for theta3 in bend.zeros().as_slice() {
        let chain = upper + three.rotation(*theta3) * fore;
        let theta2 = two.angle(&chain, &wrist);
        let theta4 = sign4 * (whole - theta2 - sign3 * theta3);
        found([theta1, theta2, *theta3, theta4, theta5, theta6]);
    }
}
