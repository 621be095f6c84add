//! Distances against another way to find them, and shapes that an algorithm may stumble over.

use nalgebra::Vector3;
use notchpin::cell::Belongs;
use notchpin::cell::Body;
use notchpin::cell::Cell;
use notchpin::cell::KeepOut;
use notchpin::cell::On;
use notchpin::cell::Shape;
use notchpin::cell::Touch;
use proptest::prelude::*;

use crate::support::at;
use crate::support::cell;
use crate::support::nearest;

type V = Vector3<f64>;

/// Told clearances are rounded down: in 200,000 drawn cases by 2.4e-5 mm in all but one of 10,000,
/// and by 2.1e-4 mm at most (a disc one thousandth of a millimetre thick).
const ROUNDED_DOWN_MM: f64 = 1e-3;

/// Distance of a point from a shape, by clamping; for cylinders in the plane of axis and point.
fn of_point(shape: &Shape, p: &V) -> f64 {
    match *shape {
        Shape::Box {
            centre_mm,
            half_mm,
            turn_rad,
        } => {
            let (s, c) = turn_rad.sin_cos();
            let d = p - centre_mm;
            let own = V::new(c * d.x + s * d.y, c * d.y - s * d.x, d.z);
            (own.abs() - half_mm).map(|g| g.max(0.0)).norm()
        }
        Shape::Cylinder {
            at_mm,
            axis,
            radius_mm,
            height_mm,
        } => {
            let d = p - at_mm;
            let up = d.dot(&axis);
            let aside = ((d - axis * up).norm() - radius_mm).max(0.0);
            aside.hypot((up - height_mm).max(-up).max(0.0))
        }
        Shape::HalfSpace { at_mm, free } => (p - at_mm).dot(&free).max(0.0),
    }
}

/// Distance of a line from a convex shape: along the line it is convex, so golden sections close in
/// on its lowest place (Kiefer 1953).
fn of_line(shape: &Shape, a: &V, b: &V) -> f64 {
    let there = |t: f64| of_point(shape, &(a + (b - a) * t));
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..100 {
        let (one, two) = (high - golden * (high - low), low + golden * (high - low));
        if there(one) <= there(two) {
            high = two;
        } else {
            low = one;
        }
    }
    [0.0, 1.0, low, high]
        .map(there)
        .into_iter()
        .fold(f64::MAX, f64::min)
}

/// One capsule on a base that stands in the plate's origin, and one shape.
fn one(shape: Shape, from_mm: V, to_mm: V, radius_mm: f64) -> Cell {
    let mut one = cell("");
    one.track = None;
    one.nominal.track = None;
    one.keep_outs = vec![KeepOut {
        name: "thing".into(),
        frame: Belongs::Plate,
        shape,
    }];
    one.bodies = vec![Body {
        on: On::Base,
        name: "bar".into(),
        from_mm,
        to_mm,
        radius_mm,
        may_touch: vec![],
    }];
    one
}

fn vector(most: f64) -> impl Strategy<Value = V> {
    [-most..most, -most..most, -most..most].prop_map(V::from)
}

fn shape() -> impl Strategy<Value = Shape> {
    let size = || prop_oneof![0.001..1.0, 1.0..500.0];
    let axis = || vector(1.0).prop_filter("a direction", |v| v.norm() > 0.1);
    prop_oneof![
        (vector(400.0), [size(), size(), size()], -4.0..4.0).prop_map(
            |(centre_mm, half, turn_rad)| {
                Shape::Box {
                    centre_mm,
                    half_mm: V::from(half),
                    turn_rad,
                }
            }
        ),
        (vector(400.0), axis(), size(), size()).prop_map(|(at_mm, axis, radius_mm, height_mm)| {
            Shape::Cylinder {
                at_mm,
                axis: axis.normalize(),
                radius_mm,
                height_mm,
            }
        }),
        (vector(400.0), axis()).prop_map(|(at_mm, free)| Shape::HalfSpace {
            at_mm,
            free: free.normalize(),
        }),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(4000))]

    /// Never above the distance found the other way, and not below by more than a hair.
    #[test]
    fn the_other_way_finds_the_same(
        shape in shape(),
        a in vector(500.0),
        b in vector(500.0),
        radius_mm in 0.1..80.0_f64,
    ) {
        let one = one(shape, a, b, radius_mm);
        let got = nearest(&one, &at(0.0, 0.0, &[])).unwrap().clearance_mm;
        let other = of_line(&shape, &a, &b) - radius_mm;
        prop_assert!(got <= other + 1e-9, "{got} is above {other}");
        prop_assert!(got >= other - ROUNDED_DOWN_MM, "{got} is below {other}");
    }

    /// Lines along faces, edges and axes, lines without length, shapes that just touch: no panic, no
    /// number that is none, and right within what the bounds give.
    #[test]
    fn whole_numbers_touch_and_line_up(
        kind in 0..3,
        place in [-3..4_i32, -3..4, -3..4],
        size in [1..3_i32, 1..3, 1..3],
        a in [-3..4_i32, -3..4, -3..4],
        b in [-3..4_i32, -3..4, -3..4],
        turn in 0..8_i32,
        scale in prop_oneof![Just(1e-3), Just(1.0), Just(50.0), Just(1e4)],
    ) {
        let v = |w: [i32; 3]| V::new(f64::from(w[0]), f64::from(w[1]), f64::from(w[2])) * scale;
        let turn_rad = f64::from(turn) * std::f64::consts::FRAC_PI_4;
        let along = [V::x(), V::y(), -V::z(), V::new(1.0, 1.0, 0.0).normalize()];
        let axis = along[(turn % 4) as usize];
        let shape = match kind {
            0 => Shape::Box { centre_mm: v(place), half_mm: v(size), turn_rad },
            1 => Shape::Cylinder {
                at_mm: v(place),
                axis,
                radius_mm: v(size).x,
                height_mm: v(size).y,
            },
            _ => Shape::HalfSpace { at_mm: v(place), free: axis },
        };
        let one = one(shape, v(a), v(b), scale);
        let got = nearest(&one, &at(0.0, 0.0, &[])).unwrap().clearance_mm;
        let other = of_line(&shape, &v(a), &v(b)) - scale;
        prop_assert!(got.is_finite());
        prop_assert!(got <= other + 1e-9 * scale.max(1.0), "{got} is above {other}");
        prop_assert!(got >= other - (1e-5 * scale).max(ROUNDED_DOWN_MM), "{got} is below {other}");
    }

    /// Two capsules, nearly parallel ones among them: against golden sections within golden sections
    /// (the distance of a point of one line from the other line is convex along it).
    #[test]
    fn two_lines(
        a in vector(300.0),
        b in vector(300.0),
        c in vector(300.0),
        off in vector(1.0),
        lean in prop_oneof![Just(0.0), Just(1e-9), Just(1e-6), Just(1e-3), Just(1.0), Just(300.0)],
    ) {
        let d = c + (b - a) * 0.7 + off * lean;
        let mut two = one(Shape::HalfSpace { at_mm: V::z() * -1e5, free: V::z() }, a, b, 3.0);
        two.bodies[0].may_touch = vec![Touch::KeepOut(0), Touch::Plate];
        let mut second = two.bodies[0].clone();
        second.on = On::Link(1);
        (second.from_mm, second.to_mm) = (c, d);
        second.radius_mm = 4.0;
        two.bodies.push(second);
        let got = nearest(&two, &at(0.0, 0.0, &[])).unwrap().clearance_mm;
        let of = |p: &V| {
            let along = d - c;
            let t = if along.norm_squared() > 0.0 { ((p - c).dot(&along) / along.norm_squared()).clamp(0.0, 1.0) } else { 0.0 };
            (p - c - along * t).norm()
        };
        let golden = (5f64.sqrt() - 1.0) / 2.0;
        let (mut low, mut high) = (0.0, 1.0);
        let there = |t: f64| of(&(a + (b - a) * t));
        for _ in 0..100 {
            let (one, two) = (high - golden * (high - low), low + golden * (high - low));
            if there(one) <= there(two) { high = two } else { low = one }
        }
        let other = [0.0, 1.0, low, high].map(there).into_iter().fold(f64::MAX, f64::min) - 7.0;
        prop_assert!(got <= other + 1e-9, "{got} is above {other}");
        prop_assert!(got >= other - ROUNDED_DOWN_MM, "{got} is below {other}");
    }
}
