//! Margins of a posture, against triangles and circles worked out by hand.

mod reach_support;

use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::reach::Cause;
use notchpin::reach::EdgeBy;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::Way;
use reach_support::*;

/// Links of the plain arm: shoulder to elbow, elbow to wrist, and the elbow's turn when straight.
fn links() -> (f64, f64, f64) {
    let straight = 10f64.atan2(220.0) - 230f64.atan2(15.0);
    (10f64.hypot(220.0), 230f64.hypot(15.0), straight)
}

fn unbound(mut cell: Cell) -> Cell {
    for j in &mut cell.joints {
        (j.limits_rad.low, j.limits_rad.high) = (-deg(400.0), deg(400.0));
    }
    cell
}

/// Tool straight down with the wrist level with the shoulder, at `ahead` mm from the shoulder: base at
/// (150 + s, 100, 80), shoulder 20 ahead and 180 above; the wrist is 190 above the tip.
fn down(ahead: f64) -> Wanted {
    Wanted {
        frame: Belongs::Plate,
        at_mm: v(150.0 + 20.0 + ahead, 100.0, 80.0 + 180.0 - 190.0),
        elevation_rad: Some(-deg(90.0)),
        azimuth_rad: None,
        roll_rad: None,
    }
}

#[test]
fn the_edge_of_reach_is_the_circle_of_the_stretched_arm() {
    let cell = unbound(fives().swap_remove(0).1);
    let solver = Solver::new(&cell, &cell.nominal);
    let (a, b, _) = links();
    let mut seen = Vec::new();
    for left in [0.5, 7.0, 40.0, 120.0] {
        let w = down(a + b - left);
        let mut out = Vec::new();
        solver.solve(&w, 0.0, 0.0, &mut out);
        for s in out.iter().filter(|s| s.values_rad[0].abs() < 0.1) {
            let edge = solver.edge(&w, 0.0, 0.0, &s.values_rad).expect("an edge");
            // By hand: the wrist may go as far as both links together, straight ahead.
            assert!((edge.distance_mm - left).abs() < 0.02, "{left}: {edge:?}");
            assert_eq!(edge.by, EdgeBy::Links);
            assert!(edge.toward.x > 0.999, "{edge:?}");
            seen.push(left);
        }
    }
    // Two elbows at each of the four, the tool straight down.
    for left in [0.5, 7.0, 40.0, 120.0] {
        let elbows = seen.iter().filter(|s| **s == left).count();
        assert!(elbows >= 2, "{left}: {elbows}");
    }
    // Too far from every edge to say how far: the sphere of 250 mm holds none.
    let w = down(300.0);
    let mut out = Vec::new();
    solver.solve(&w, 0.0, 0.0, &mut out);
    let edge = solver
        .edge(&w, 0.0, 0.0, &out[0].values_rad)
        .expect("an edge");
    // By hand: a + b − 300 ahead, or 300 − |a − b| back; the nearer is ahead.
    assert!(
        (edge.distance_mm - (a + b - 300.0)).abs() < 0.02,
        "{edge:?}"
    );
}

#[test]
fn the_edge_of_a_limit_is_the_plane_or_the_circle_of_that_limit() {
    let mut cell = unbound(fives().swap_remove(0).1);
    // By hand: joint 1 stands at 0 and may turn 5 degrees left: the plane through its axis at 5°
    // is 250 · sin 5° from a tip that is 250 from the axis.
    (
        cell.joints[0].limits_rad.low,
        cell.joints[0].limits_rad.high,
    ) = (-deg(90.0), deg(5.0));
    let solver = Solver::new(&cell, &cell.nominal);
    let w = down(230.0);
    let mut out = Vec::new();
    solver.solve(&w, 0.0, 0.0, &mut out);
    let q = &out
        .iter()
        .find(|s| s.values_rad[0].abs() < 1e-6)
        .expect("ahead")
        .values_rad;
    let edge = solver.edge(&w, 0.0, 0.0, q).expect("an edge");
    assert!(
        (edge.distance_mm - 250.0 * deg(5.0).sin()).abs() < 0.02,
        "{edge:?}"
    );
    assert_eq!(edge.by, EdgeBy::Limit(0, true));
    // By hand: the elbow may bend 2 degrees more than it is: a circle round the shoulder whose radius
    // the law of cosines gives.
    let (a, b, straight) = links();
    let mut cell = unbound(fives().swap_remove(0).1);
    let bend = (q[2] - straight).abs();
    let d = |bend: f64| (a * a + b * b + 2.0 * a * b * bend.cos()).sqrt();
    let (low, high) = (straight - bend - deg(2.0), straight + bend + deg(2.0));
    (
        cell.joints[2].limits_rad.low,
        cell.joints[2].limits_rad.high,
    ) = (low, high);
    let solver = Solver::new(&cell, &cell.nominal);
    let edge = solver.edge(&w, 0.0, 0.0, q).expect("an edge");
    let by_hand = d(bend) - d(bend + deg(2.0));
    assert!(
        (edge.distance_mm - by_hand).abs() < 0.02,
        "{edge:?}, {by_hand}"
    );
    assert!(matches!(edge.by, EdgeBy::Limit(2, _)));
}

#[test]
fn nearly_stretched_out_is_told_with_what_a_millimetre_costs() {
    let cell = unbound(fives().swap_remove(0).1);
    let solver = Solver::new(&cell, &cell.nominal);
    let (a, b, _) = links();
    let bend = |d: f64| ((d * d - a * a - b * b) / (2.0 * a * b)).acos();
    for left in [0.4, 1.5] {
        let w = down(a + b - left);
        let mut out = Vec::new();
        solver.solve(&w, 0.0, 0.0, &mut out);
        let s = out
            .iter()
            .find(|s| s.values_rad[0].abs() < 0.1)
            .expect("ahead");
        let near = solver.nearness(&w, 0.0, 0.0, &s.values_rad).expect("near");
        // By hand: 1 mm inward bends the elbow so much; for 1.5 left, outward costs more.
        let d = a + b - left;
        let by_hand = match left < 1.0 {
            true => bend(d - 1.0) - bend(d),
            false => bend(d) - bend(d + 1.0),
        };
        assert_eq!(near.joint, 2, "{near:?}");
        assert!(
            (near.cost_rad - by_hand).abs() < 2e-3 * by_hand,
            "{near:?}, {by_hand}"
        );
        assert_eq!(near.cause, Some(Cause::Stretched), "{near:?}");
        let way = if left < 1.0 {
            Way::Inward
        } else {
            Way::Outward
        };
        assert_eq!(near.way, way);
    }
    // Well inside nothing is near.
    let w = down(250.0);
    let mut out = Vec::new();
    solver.solve(&w, 0.0, 0.0, &mut out);
    let near = solver
        .nearness(&w, 0.0, 0.0, &out[0].values_rad)
        .expect("near");
    assert_eq!(near.cause, None, "{near:?}");
    assert!(near.smallest > 0.05, "{near:?}");
}

#[test]
fn the_smallest_singular_value_is_that_of_the_reference_for_two_links() {
    // By hand: two level links a, b with the tip alone asked for have J = [[−a s1 − b s12, −b s12],
    // [a c1 + b c12, b c12]] and the product of its singular values |a b sin θ2| (Yoshikawa 1985).
    let down =
        nalgebra::Matrix3::from_columns(&[v(1.0, 0.0, 0.0), v(0.0, -1.0, 0.0), v(0.0, 0.0, -1.0)]);
    let joints = [
        ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-170.0, 170.0]),
        ([0.0, 0.0, 1.0], [250.0, 0.0, 0.0], [-170.0, 170.0]),
    ];
    let cell = cell(
        &joints,
        [450.0, 0.0, 0.0],
        down,
        mounting([0.0, 0.0, 10.0], [0.0, 0.0, 0.0]),
    );
    let solver = Solver::new(&cell, &cell.nominal);
    let q = [0.3f64, 1.1];
    let tip = (
        250.0 * q[0].cos() + 200.0 * (q[0] + q[1]).cos(),
        250.0 * q[0].sin() + 200.0 * (q[0] + q[1]).sin(),
    );
    let w = Wanted {
        frame: Belongs::Plate,
        at_mm: v(150.0 + tip.0, 100.0 + tip.1, 70.0),
        elevation_rad: None,
        azimuth_rad: None,
        roll_rad: None,
    };
    let near = solver.nearness(&w, 0.0, 0.0, &q).expect("near");
    let j = nalgebra::Matrix2::new(
        -tip.1,
        -200.0 * (q[0] + q[1]).sin(),
        tip.0,
        200.0 * (q[0] + q[1]).cos(),
    );
    let by_hand = j.singular_values().min() / near.length_mm;
    assert!((near.smallest - by_hand).abs() < 1e-9, "{near:?} {by_hand}");
    assert!((j.determinant().abs() - 250.0 * 200.0 * q[1].sin()).abs() < 1e-6);
}
