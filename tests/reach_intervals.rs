//! Ends of travel against circles worked out by hand, recommendations against full grids, limits.

mod reach_support;

use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::grid;
use notchpin::reach::reach_point;
use notchpin::reach::recommend;
use notchpin::reach::track_intervals;
use reach_support::*;

fn plain() -> Cell {
    fives().swap_remove(0).1
}

fn down(frame: Belongs, at: [f64; 3]) -> Wanted {
    Wanted {
        frame,
        at_mm: v(at[0], at[1], at[2]),
        elevation_rad: Some(-deg(90.0)),
        azimuth_rad: None,
        roll_rad: None,
    }
}

/// Wide limits: only the lengths of the arm bound its reach.
fn unbound(cell: &mut Cell) {
    for j in &mut cell.joints {
        (j.limits_rad.low, j.limits_rad.high) = (-deg(180.0), deg(180.0));
    }
}

#[test]
fn the_circle_of_reach_cuts_the_track() {
    let mut cell = plain();
    unbound(&mut cell);
    for scale in [1.0, -1.0, 2.5] {
        cell.nominal.track.as_mut().unwrap().scale_mm = scale;
        let solver = Solver::new(&cell, &cell.nominal);
        // By hand. Shoulder 20 mm ahead of joint 1's axis and 180 above the base at z = 80, so at
        // 260. Links |(10, 220)| and |(230, 15)|. Pointing down, the wrist is 40 + 40 + 110 = 190
        // above the tip at 130: 320, which is 60 above the shoulder. Level reach from joint 1:
        // 20 + sqrt((a + b)² − 60²). The track runs along y = 100; the point lies 200 beside it at
        // x = 600, that is s0 = 450.
        let stretched = 10f64.hypot(220.0) + 230f64.hypot(15.0);
        let out = 20.0 + (stretched * stretched - 60.0 * 60.0).sqrt();
        let half = (out * out - 200.0 * 200.0).sqrt();
        let got =
            track_intervals(&solver, &down(Belongs::Plate, [600.0, 300.0, 130.0]), &[]).unwrap();
        assert_eq!(got.len(), 1);
        assert_eq!(got[0].table, None);
        let (a, b) = ((450.0 - half) / scale, (450.0 + half) / scale);
        let (a, b) = (a.min(b), a.max(b));
        assert_eq!(got[0].intervals.len(), 1, "{:?}", got[0].intervals);
        let [x, y] = got[0].intervals[0];
        assert!(
            (x - a).abs() < 1e-3 && (y - b).abs() < 1e-3,
            "{x} {y}, by hand {a} {b}"
        );
    }
}

#[test]
fn an_interval_narrower_than_the_samples_and_one_just_missed() {
    let mut cell = plain();
    unbound(&mut cell);
    let solver = Solver::new(&cell, &cell.nominal);
    let stretched = 10f64.hypot(220.0) + 230f64.hypot(15.0);
    let out = 20.0 + (stretched * stretched - 60.0 * 60.0).sqrt();
    // By hand: half a width h at a distance of sqrt(R² − h²) beside the track.
    for half in [0.4f64, 0.05] {
        let beside = (out * out - half * half).sqrt();
        let at = [150.0 + 301.1, 100.0 + beside, 130.0];
        let got = track_intervals(&solver, &down(Belongs::Plate, at), &[]).unwrap();
        assert_eq!(
            got[0].intervals.len(),
            1,
            "half a width {half}: {:?}",
            got[0]
        );
        let [x, y] = got[0].intervals[0];
        assert!(
            (x - 301.1 + half).abs() < 1e-2 && (y - 301.1 - half).abs() < 1e-2,
            "{x} {y}"
        );
    }
    let at = [451.1, 100.0 + out + 1e-4, 130.0];
    let got = track_intervals(&solver, &down(Belongs::Plate, at), &[]).unwrap();
    assert!(got[0].intervals.is_empty());
}

#[test]
fn a_gap_where_the_elbow_would_fold_too_far() {
    let mut cell = plain();
    unbound(&mut cell);
    // By hand. The elbow may leave the straight by a right angle at most: wrist at least
    // sqrt(a² + b²) from the shoulder. Straight is where the forearm, drawn at atan2(230, 15) from
    // the upright, turns back onto the upper arm's atan2(10, 220).
    let straight = 10f64.atan2(220.0) - 230f64.atan2(15.0);
    let limits = &mut cell.joints[2].limits_rad;
    (limits.low, limits.high) = (straight - deg(90.0), straight + deg(90.0));
    let solver = Solver::new(&cell, &cell.nominal);
    let (a2, b2): (f64, f64) = (100.0 + 48400.0, 52900.0 + 225.0);
    let near = (a2 + b2 - 3600.0).sqrt() - 20.0;
    let stretched = a2.sqrt() + b2.sqrt();
    let far = 20.0 + (stretched * stretched - 3600.0).sqrt();
    // The point is on the track's line at s0 = 450; bent backward, the shoulder is 20 behind.
    let got = track_intervals(&solver, &down(Belongs::Plate, [600.0, 100.0, 130.0]), &[]).unwrap();
    // The far ends lie outside the travel.
    assert!(far > 450.0);
    let want = [[0.0, 450.0 - near], [450.0 + near, 900.0]];
    assert_eq!(got[0].intervals.len(), 2, "{:?}", got[0].intervals);
    for (x, y) in got[0].intervals.iter().flatten().zip(want.iter().flatten()) {
        assert!(
            (x - y).abs() < 1e-3,
            "{:?}, by hand {want:?}",
            got[0].intervals
        );
    }
}

#[test]
fn limits_are_inclusive() {
    let mut cell = plain();
    let solver = Solver::new(&cell, &cell.nominal);
    let q: Vec<f64> = [20.0, 30.0, 60.0, 45.0, 10.0].map(deg).to_vec();
    let wanted = solver.wanted_at(Belongs::Plate, 900.0, 0.0, &q).unwrap();
    for (joint, q) in cell.joints.iter_mut().zip(&q) {
        joint.limits_rad.high = *q;
    }
    let solver = Solver::new(&cell, &cell.nominal);
    let mut out = Vec::new();
    solver.solve(&wanted, 900.0, 0.0, &mut out);
    assert!(
        out.iter().any(|s| s.limit_margin_rad.abs() < 1e-9),
        "{out:?}"
    );
    let got = reach_point(&solver, &wanted, &[900.0, 900.1, -0.1], &[]).unwrap();
    assert_eq!(got.stations.len(), 1);
    cell.joints[2].limits_rad.high = q[2] - 1e-6;
    Solver::new(&cell, &cell.nominal).solve(&wanted, 900.0, 0.0, &mut out);
    assert!(!out.iter().any(|s| (s.values_rad[0] - q[0]).abs() < 1e-3 && (s.values_rad[2] - q[2]).abs() < 1e-3));
}

#[test]
fn the_recommended_station_is_the_best_of_the_whole_grid() {
    for (name, cell) in fives() {
        let solver = Solver::new(&cell, &cell.nominal);
        let mut dice = Dice(3);
        let mut reached = 0;
        for k in 0..8 {
            let frame = if k % 3 == 0 {
                Belongs::Plate
            } else {
                Belongs::Platter
            };
            let shift = if frame == Belongs::Plate {
                v(600.0, 400.0, 95.0)
            } else {
                v(0.0, 0.0, 0.0)
            };
            let wanted = Wanted {
                frame,
                at_mm: shift
                    + v(
                        dice.within(-150.0, 150.0),
                        dice.within(-150.0, 150.0),
                        dice.within(0.0, 100.0),
                    ),
                elevation_rad: Some(deg([-90.0, -60.0, -20.0, -89.5][k % 4])),
                azimuth_rad: None,
                roll_rad: (k % 4 != 3).then(|| dice.within(-3.0, 3.0)),
            };
            let table: Vec<f64> = (-2..3).map(|i| f64::from(i) * 33.0).collect();
            let track: Vec<f64> = (0..10).map(|i| f64::from(i) * 90.0).collect();
            let g = grid(&cell, &cell.nominal, frame, Some(&track), Some(&table)).unwrap();
            let best = recommend(&solver, &wanted, &g);
            let full = reach_point(&solver, &wanted, &g.track, &g.table)
                .unwrap()
                .stations;
            let mut want: Option<(f64, Option<f64>, Option<f64>)> = None;
            for s in &full {
                let m = s.solutions[0].limit_margin_rad;
                if want.is_none_or(|w| m > w.0) {
                    want = Some((m, s.track, s.table));
                }
            }
            match (best, want) {
                (Some(b), Some(w)) => {
                    reached += 1;
                    assert_eq!(
                        (b.solution.limit_margin_rad, b.track, b.table),
                        w,
                        "{name} {k}"
                    );
                }
                (None, None) => {}
                (b, w) => panic!("{name} {k}: {b:?} but {w:?}"),
            }
        }
        assert!(reached > 0, "{name}: {reached}");
    }
}

#[test]
fn default_stations_and_refusals() {
    let cell = plain();
    let g = grid(&cell, &cell.nominal, Belongs::Platter, None, None).unwrap();
    assert_eq!((g.track.len(), g.table.len()), (37, 24));
    assert_eq!(
        (g.track[1], g.track[36], g.table[0], g.table[23]),
        (25.0, 900.0, -180.0, 165.0)
    );
    let mut bare = cell.clone();
    (bare.nominal.turntable, bare.turntable) = (None, None);
    let solver = Solver::new(&bare, &bare.nominal);
    let refused = reach_point(&solver, &down(Belongs::Platter, [0.0; 3]), &[0.0], &[]).unwrap_err();
    assert!(refused.to_string().contains("no turntable"), "{refused}");
    let mut bad = down(Belongs::Plate, [0.0; 3]);
    bad.at_mm.x = f64::NAN;
    assert!(reach_point(&solver, &bad, &[0.0], &[]).is_err());
}

#[test]
fn a_plane_out_of_plumb_leans_to_the_side() {
    let mut cell = plain();
    // By hand: the base rolled by 0.3° about the track's x; the point straight ahead in the arm's
    // plane, so the plane is out of plumb by 0.3° and the tool leans by as much to the side.
    cell.nominal.mount.roll_rad = deg(0.3);
    let base = v(150.0 + 400.0, 100.0, 80.0);
    let out = v(330.0, 0.0, 60.0);
    let rolled = notchpin::frames::rot_x(deg(0.3)) * out;
    let mut wanted = down(Belongs::Plate, (base + rolled).into());
    for roll in [None, Some(0.7)] {
        wanted.roll_rad = roll;
        let mut found = Vec::new();
        Solver::new(&cell, &cell.nominal).solve(&wanted, 400.0, 0.0, &mut found);
        assert!(!found.is_empty());
        for x in found.iter().filter(|x| x.values_rad[0].abs() < 1e-6) {
            assert!((x.side_lean_rad - deg(0.3)).abs() < 1e-9, "{x:?}");
        }
        let mut strict = cell.clone();
        strict.accept.direction_rad = deg(0.29);
        Solver::new(&strict, &strict.nominal).solve(&wanted, 400.0, 0.0, &mut found);
        assert!(found.iter().all(|x| x.values_rad[0].abs() > 1e-6));
    }
}
