//! Pairs of track and table at which a wanted azimuth is met, against geometry worked out by hand.

mod reach_support;

use notchpin::cell::Belongs;
use notchpin::kinematics::ArmScene;
use notchpin::kinematics::TableScene;
use notchpin::kinematics::direction_of;
use notchpin::reach::Pair;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::units::wrap_rad;
use reach_support::*;

fn wanted(at: [f64; 3], angles: [Option<f64>; 3]) -> Wanted {
    Wanted {
        frame: Belongs::Platter,
        at_mm: v(at[0], at[1], at[2]),
        elevation_rad: angles[0].map(deg),
        azimuth_rad: angles[1].map(deg),
        roll_rad: angles[2].map(deg),
    }
}

/// Misses of a pair: place (mm), elevation, azimuth, roll where asked (rad).
fn misses(solver_cell: &notchpin::cell::Cell, w: &Wanted, pair: &Pair) -> f64 {
    let g = &solver_cell.nominal;
    let scene = ArmScene::new(g, pair.travel_mm, &pair.solution.values_rad);
    let table = TableScene::new(g.turntable.as_ref().unwrap(), pair.turn_rad);
    let at = table.platter_axes.tr_mul(&(scene.tip_mm - table.centre_mm));
    let heading = scene.heading().map(|h| table.platter_axes.tr_mul(&h));
    let d = direction_of(&table.platter_axes.tr_mul(&scene.tool_axes), heading);
    let angle = |w: Option<f64>, is: f64| w.map_or(0.0, |w| wrap_rad(w - is).abs());
    (at - w.at_mm)
        .norm()
        .max(angle(w.elevation_rad, d.elevation_rad))
        .max(angle(w.azimuth_rad, d.azimuth_rad))
        .max(angle(w.roll_rad, d.roll_rad))
}

#[test]
fn the_curve_of_a_five_joint_arm_is_the_one_worked_out_by_hand() {
    let cell = fives().swap_remove(0).1;
    let solver = Solver::new(&cell, &cell.nominal);
    let w = wanted([90.0, 30.0, 40.0], [Some(-40.0), Some(25.0), None]);
    assert!(solver.needs_pairs(&w));
    let curves = solver.pairs(&w);
    assert!(!curves.is_empty());
    let (mut count, mut by_hand_met) = (0, 0);
    for curve in &curves {
        for p in &curve.pairs {
            assert!(misses(&cell, &w, p) < 1e-7, "{p:?}");
            // By hand, seen from above: joint 1's axis at B = (150 + s, 100), the table's centre at
            // C = (600, 400), the arm's plane through B. With C − B = D at bearing ψ and the point at
            // ρ and β on the platter, the plane has the tool's azimuth α + φ and holds the point:
            // D sin(α + φ − ψ) + ρ sin(α − β) = 0.
            let (dx, dy) = (450.0 - p.travel_mm, 300.0);
            let (far, psi) = (dx.hypot(dy), dy.atan2(dx));
            let (rho, beta) = (90f64.hypot(30.0), 30f64.atan2(90.0));
            let alpha = deg(25.0);
            let miss = far * (alpha + p.turn_rad - psi).sin() + rho * (alpha - beta).sin();
            assert!(miss.abs() < 1e-6, "{p:?}: {miss}");
            count += 1;
        }
    }
    // And the other way round: wherever the hand's angle is met by the arm, a pair is there.
    for s in [100.0f64, 333.3, 500.0, 777.7] {
        let (dx, dy) = (450.0 - s, 300.0);
        let (far, psi) = (dx.hypot(dy), dy.atan2(dx));
        let (rho, beta) = (90f64.hypot(30.0), 30f64.atan2(90.0));
        let alpha = deg(25.0);
        let sine = (-rho * (alpha - beta).sin() / far).asin();
        for turn in [psi - alpha + sine, psi - alpha + deg(180.0) - sine] {
            let turn = wrap_rad(turn);
            let mut out = Vec::new();
            solver.solve(&w, s, turn, &mut out);
            for known in &out {
                by_hand_met += 1;
                let found = solver.pairs_at(&w, s).iter().any(|p| {
                    wrap_rad(p.turn_rad - turn).abs() < 1e-9
                        && (p.solution.limit_margin_rad - known.limit_margin_rad).abs() < 1e-7
                });
                assert!(found, "{s} {turn}");
            }
        }
    }
    println!(
        "{} curves, {count} places, {by_hand_met} by hand",
        curves.len()
    );
    assert!(by_hand_met >= 4, "{by_hand_met}");
}

#[test]
fn ends_of_curves_are_ends_of_reach_or_limits() {
    let cell = fives().swap_remove(0).1;
    let solver = Solver::new(&cell, &cell.nominal);
    let w = wanted([90.0, 30.0, 40.0], [Some(-40.0), Some(25.0), None]);
    let mut inside = 0;
    for curve in solver.pairs(&w) {
        let (first, last) = (&curve.pairs[0], &curve.pairs[curve.pairs.len() - 1]);
        for (end, outward) in [(first, -1.0), (last, 1.0)] {
            let beyond = end.travel_mm + 0.01 * outward;
            if !(0.0..=900.0).contains(&beyond) {
                continue;
            }
            inside += 1;
            // 0.01 mm on, this posture is gone.
            let goes_on = solver.pairs_at(&w, beyond).iter().any(|p| {
                p.solution
                    .values_rad
                    .iter()
                    .zip(&end.solution.values_rad)
                    .all(|(a, b)| wrap_rad(a - b).abs() < 1e-3)
            });
            assert!(!goes_on, "{end:?}");
        }
    }
    println!("{inside} ends inside the travel");
    assert!(inside >= 2, "{inside}");
}

#[test]
fn with_a_roll_the_whole_direction_is_met() {
    for (name, cell) in fives() {
        let solver = Solver::new(&cell, &cell.nominal);
        let mut dice = Dice(31);
        let (mut tried, mut missed) = (0, 0);
        for _ in 0..60 {
            let q: Vec<f64> = cell
                .joints
                .iter()
                .map(|j| dice.within(j.limits_rad.low, j.limits_rad.high))
                .collect();
            let (s, turn) = (dice.within(0.0, 900.0), dice.within(-3.0, 3.0));
            let w = solver.wanted_at(Belongs::Platter, s, turn, &q).unwrap();
            let scene = ArmScene::new(&cell.nominal, s, &q);
            let table = TableScene::new(cell.nominal.turntable.as_ref().unwrap(), turn);
            let z = table.platter_axes.tr_mul(&scene.tool_axes.column(2));
            let w = Wanted {
                azimuth_rad: Some(z.y.atan2(z.x)),
                ..w
            };
            if !solver.needs_pairs(&w) {
                continue;
            }
            tried += 1;
            let pairs = solver.pairs_at(&w, s);
            assert!(pairs.iter().all(|p| misses(&cell, &w, p) < 1e-7), "{name}");
            let found = pairs.iter().any(|p| {
                wrap_rad(p.turn_rad - turn).abs() < 1e-6
                    && p.solution
                        .values_rad
                        .iter()
                        .zip(&q)
                        .all(|(a, b)| wrap_rad(a - b).abs() < 1e-5)
            });
            missed += usize::from(!found);
        }
        println!("{name}: {missed} of {tried} missed");
        assert!(tried > 40 && missed == 0, "{name}: {missed} of {tried}");
    }
}

#[test]
fn arms_of_fewer_joints_are_served_likewise() {
    // Three joints asked for place and elevation: 4 conditions. The table is the fourth joint.
    let mut cell = fives().swap_remove(0).1;
    cell.joints.truncate(3);
    cell.nominal.joints.truncate(3);
    let solver = Solver::new(&cell, &cell.nominal);
    let mut dice = Dice(8);
    let mut missed = 0;
    for _ in 0..20 {
        let q: Vec<f64> = cell
            .joints
            .iter()
            .map(|j| dice.within(j.limits_rad.low, j.limits_rad.high))
            .collect();
        let (s, turn) = (dice.within(0.0, 900.0), dice.within(-3.0, 3.0));
        let scene = ArmScene::new(&cell.nominal, s, &q);
        let mut w = solver.wanted_at(Belongs::Platter, s, turn, &q).unwrap();
        w.elevation_rad = Some(scene.tool_axes.column(2)[2].asin());
        assert!(solver.needs_pairs(&w));
        let pairs = solver.pairs_at(&w, s);
        assert!(
            pairs.iter().all(|p| misses(&cell, &w, p) < 1e-6),
            "{pairs:?}"
        );
        missed += usize::from(
            !pairs
                .iter()
                .any(|p| wrap_rad(p.turn_rad - turn).abs() < 1e-5),
        );
    }
    assert_eq!(missed, 0);
}
