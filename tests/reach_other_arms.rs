//! Arms without a closed form, joints to spare, refusals, azimuths that only follow.

mod reach_support;

use std::path::Path;

use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::reach_point;
use notchpin::units::wrap_rad;
use reach_support::*;

fn six(spherical: bool) -> Cell {
    let side = if spherical { 0.0 } else { 40.0 };
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-170.0, 170.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 200.0], [-120.0, 120.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 450.0], [-150.0, 150.0]),
            ([1.0, 0.0, 0.0], [120.0, 0.0, 470.0], [-180.0, 180.0]),
            ([0.0, 1.0, 0.0], [300.0, side, 470.0], [-125.0, 125.0]),
            ([1.0, 0.0, 0.0], [330.0, 0.0, 470.0 + side], [-180.0, 180.0]),
        ],
        [370.0, 0.0, 470.0],
        ahead(),
        mounting([10.0, 5.0, 90.0], [20.0, 10.0, 0.0]),
    )
}

fn posture(cell: &Cell, dice: &mut Dice) -> Vec<f64> {
    cell.joints
        .iter()
        .map(|j| dice.within(j.limits_rad.low, j.limits_rad.high))
        .collect()
}

#[test]
fn six_joints_come_back_to_their_posture() {
    for spherical in [true, false] {
        let cell = six(spherical);
        let solver = Solver::new(&cell, &cell.nominal);
        assert_eq!(solver.is_closed_form(), spherical);
        let mut dice = Dice(5);
        let mut out = Vec::new();
        let (mut missed, mut roots) = (0, 0);
        let tries = 200;
        for _ in 0..tries {
            let q = posture(&cell, &mut dice);
            let wanted = solver.wanted_at(Belongs::Platter, 200.0, 0.5, &q).unwrap();
            solver.solve(&wanted, 200.0, 0.5, &mut out);
            roots += out.len();
            let found = out.iter().any(|s| {
                s.values_rad
                    .iter()
                    .zip(&q)
                    .all(|(a, b)| wrap_rad(a - b).abs() < 1e-5)
            });
            missed += usize::from(!found);
        }
        println!("spherical {spherical}: {missed} of {tries} missed, {roots} postures");
        assert!(missed == 0, "{missed} of {tries}");
    }
}

#[test]
fn joints_to_spare_take_the_largest_margin() {
    // Position only: compared with the best over a fine sweep of elevations and rolls.
    let cell = fives().swap_remove(0).1;
    let solver = Solver::new(&cell, &cell.nominal);
    let mut dice = Dice(23);
    let (mut out, mut fixed) = (Vec::new(), Vec::new());
    for _ in 0..10 {
        let at = v(
            dice.within(450.0, 650.0),
            dice.within(200.0, 400.0),
            dice.within(100.0, 300.0),
        );
        let mut wanted = Wanted {
            frame: Belongs::Plate,
            at_mm: at,
            elevation_rad: None,
            azimuth_rad: None,
            roll_rad: None,
        };
        solver.solve(&wanted, 300.0, 0.0, &mut out);
        let got = out.first().map_or(-1.0, |s| s.limit_margin_rad);
        let mut best = -1.0f64;
        for k in -89..=89 {
            wanted.elevation_rad = Some(deg(f64::from(k)));
            solver.solve(&wanted, 300.0, 0.0, &mut fixed);
            best = best.max(fixed.first().map_or(-1.0, |s| s.limit_margin_rad));
        }
        assert!(
            got >= best - 1e-9 && got < best + 0.03,
            "{got} but {best} by sweep"
        );
        // The tip is on the roll axis: joint 5 has nothing to do and stands in the middle.
        assert!(out[0].values_rad[4].abs() < 1e-3, "{:?}", out[0]);
    }
}

#[test]
fn six_joints_with_a_free_azimuth() {
    let cell = six(true);
    let solver = Solver::new(&cell, &cell.nominal);
    let mut wanted = Wanted {
        frame: Belongs::Plate,
        at_mm: v(600.0, 250.0, 200.0),
        elevation_rad: Some(deg(-50.0)),
        azimuth_rad: None,
        roll_rad: Some(0.3),
    };
    let (mut out, mut fixed) = (Vec::new(), Vec::new());
    solver.solve(&wanted, 300.0, 0.0, &mut out);
    let mut best = -1.0f64;
    for k in 0..180 {
        wanted.azimuth_rad = Some(deg(f64::from(k) * 2.0));
        solver.solve(&wanted, 300.0, 0.0, &mut fixed);
        best = best.max(fixed.first().map_or(-1.0, |s| s.limit_margin_rad));
    }
    assert!(
        out[0].limit_margin_rad >= best - 1e-9 && out[0].limit_margin_rad < best + 0.05,
        "{} {best}",
        out[0].limit_margin_rad
    );
}

#[test]
fn too_much_is_refused_by_name() {
    let mut cell = fives().swap_remove(0).1;
    cell.joints.pop();
    cell.nominal.joints.pop();
    let solver = Solver::new(&cell, &cell.nominal);
    let wanted = Wanted {
        frame: Belongs::Plate,
        at_mm: v(600.0, 250.0, 200.0),
        elevation_rad: Some(deg(-50.0)),
        azimuth_rad: None,
        roll_rad: Some(0.3),
    };
    let text = reach_point(&solver, &wanted, &[0.0], &[])
        .unwrap_err()
        .to_string();
    assert!(
        text.contains("5 conditions") && text.contains("elevation") && text.contains("roll"),
        "{text}"
    );
    let four = Wanted {
        roll_rad: None,
        ..wanted
    };
    assert!(
        reach_point(&solver, &four, &[300.0], &[])
            .unwrap()
            .reachable()
    );
    let down = Wanted {
        elevation_rad: Some(deg(-90.0)),
        ..four
    };
    assert!(
        reach_point(&solver, &down, &[300.0], &[])
            .unwrap()
            .reachable()
    );
}

#[test]
fn an_azimuth_that_only_follows_is_met_at_single_positions() {
    let mut cell = fives().swap_remove(0).1;
    for j in &mut cell.joints {
        (j.limits_rad.low, j.limits_rad.high) = (-deg(180.0), deg(180.0));
    }
    let solver = Solver::new(&cell, &cell.nominal);
    // By hand: the point lies 200 beside the track at s0 = 450; seen at 60° from s0 − 200/tan 60°.
    let wanted = Wanted {
        frame: Belongs::Plate,
        at_mm: v(600.0, 300.0, 200.0),
        elevation_rad: Some(deg(-50.0)),
        azimuth_rad: Some(deg(60.0)),
        roll_rad: Some(0.0),
    };
    let s = 450.0 - 200.0 / deg(60.0).tan();
    let got = reach_point(&solver, &wanted, &[s, s + 1.0], &[]).unwrap();
    assert_eq!(got.stations.len(), 1);
    let intervals = &got.intervals[0].intervals;
    assert_eq!(intervals.len(), 1, "{intervals:?}");
    assert!(
        (intervals[0][0] - s).abs() < 1e-3 && intervals[0][0] == intervals[0][1],
        "{intervals:?}"
    );
}

/// The planar arm of the reference stands upright on its side: pitches turning about −y, x ahead,
/// its second coordinate up; joint 1 stays at 0 since the point lies straight ahead.
#[test]
fn planar_three_links_of_the_reference() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/generated/planar3r.json");
    let file: serde_json::Value =
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let mut seen = 0;
    for case in file["cases"].as_array().unwrap() {
        let n = |v: &serde_json::Value| v.as_f64().unwrap();
        let l: Vec<f64> = (0..3).map(|i| n(&case["links"][i])).collect();
        let (x, y, phi) = (
            n(&case["target"][0]),
            n(&case["target"][1]),
            n(&case["target"][2]),
        );
        let full = [-180.0, 180.0];
        let mut cell = cell(
            &[
                ([0.0, 0.0, 1.0], [0.0; 3], full),
                ([0.0, -1.0, 0.0], [0.0; 3], full),
                ([0.0, -1.0, 0.0], [l[0], 0.0, 0.0], full),
                ([0.0, -1.0, 0.0], [l[0] + l[1], 0.0, 0.0], full),
            ],
            [l[0] + l[1] + l[2], 0.0, 0.0],
            ahead(),
            mounting([0.0; 3], [0.0; 3]),
        );
        (cell.nominal.track, cell.track) = (None, None);
        cell.nominal.mount = mounting([0.0; 3], [0.0; 3]);
        let solver = Solver::new(&cell, &cell.nominal);
        assert!(solver.is_closed_form());
        let wanted = Wanted {
            frame: Belongs::Plate,
            at_mm: v(x, 0.0, y),
            elevation_rad: Some(phi.sin().asin()),
            azimuth_rad: None,
            roll_rad: None,
        };
        let mut out = Vec::new();
        solver.solve(&wanted, 0.0, 0.0, &mut out);
        // Those of the reference: joint 1 at 0, and the pitches adding up to φ.
        let mine: Vec<_> = out
            .iter()
            .filter(|s| s.values_rad[0].abs() < 1e-9)
            .filter(|s| wrap_rad(s.values_rad[1..].iter().sum::<f64>() - phi).abs() < 1e-9)
            .collect();
        let wants = case["expected"]["solutions"]
            .as_array()
            .cloned()
            .unwrap_or_default();
        assert_eq!(mine.len(), wants.len(), "{}", case["name"]);
        for w in wants {
            assert!(
                mine.iter()
                    .any(|s| (0..3).all(|i| wrap_rad(s.values_rad[i + 1] - n(&w[i])).abs() < 1e-9)),
                "{}: {mine:?} lacks {w}",
                case["name"]
            );
        }
        seen += 1;
    }
    assert_eq!(seen, 16);
}

#[test]
fn six_joints_point_straight_down_exactly() {
    let cell = six(false);
    let solver = Solver::new(&cell, &cell.nominal);
    for (azimuth_rad, roll_rad) in [(None, None), (None, Some(0.4)), (Some(0.2), Some(0.4))] {
        let wanted = Wanted {
            frame: Belongs::Plate,
            at_mm: v(600.0, 250.0, 200.0),
            elevation_rad: Some(deg(-90.0)),
            azimuth_rad,
            roll_rad,
        };
        let mut out = Vec::new();
        solver.solve(&wanted, 300.0, 0.0, &mut out);
        assert!(!out.is_empty());
        for x in &out {
            let scene = notchpin::kinematics::ArmScene::new(&cell.nominal, 300.0, &x.values_rad);
            assert!((scene.tool_axes.column(2) - v(0.0, 0.0, -1.0)).norm() < 1e-10);
            let heading = match azimuth_rad {
                Some(a) => Some(v(f64::cos(a), f64::sin(a), 0.0)),
                None => scene.heading(),
            };
            let d = notchpin::kinematics::direction_of(&scene.tool_axes, heading);
            if let Some(r) = roll_rad {
                assert!(wrap_rad(d.roll_rad - r).abs() < 1e-9, "{d:?}");
            }
        }
    }
}

/// Four upright axes, links 250 and 200 long, the tool straight down 60 below.
fn upright(count: usize) -> Cell {
    let down =
        nalgebra::Matrix3::from_columns(&[v(1.0, 0.0, 0.0), v(0.0, -1.0, 0.0), v(0.0, 0.0, -1.0)]);
    let joints = [
        ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-150.0, 150.0]),
        ([0.0, 0.0, -1.0], [250.0, 0.0, 300.0], [-150.0, 150.0]),
        ([0.0, 0.0, 1.0], [450.0, 0.0, 300.0], [-180.0, 180.0]),
        ([0.0, 0.0, 1.0], [450.0, 0.0, 250.0], [-170.0, 170.0]),
    ];
    let tool = mounting([0.0, 0.0, 60.0], [0.0, 0.0, 0.0]);
    cell(&joints[..count], [450.0, 0.0, 200.0], down, tool)
}

#[test]
fn an_arm_that_cannot_lift_says_so_and_reaches_its_plane() {
    let cell = upright(3);
    let solver = Solver::new(&cell, &cell.nominal);
    // By hand: base at 80, flange 200 above it, tool 60 down: the tip stays at 220. From the base at
    // (150, 100) the point is 300 ahead and 200 aside; the links and the distance d make a triangle:
    // cos of the elbow's turn = (d² − 250² − 200²) / (2 · 250 · 200).
    let mut wanted = Wanted {
        frame: Belongs::Plate,
        at_mm: v(450.0, 300.0, 220.0),
        elevation_rad: Some(deg(-90.0)),
        azimuth_rad: Some(0.0),
        roll_rad: Some(0.0),
    };
    let mut out = Vec::new();
    solver.solve(&wanted, 0.0, 0.0, &mut out);
    assert_eq!(out.len(), 2, "{out:?}");
    let d2: f64 = 300.0 * 300.0 + 200.0 * 200.0;
    let bend = ((d2 - 62500.0 - 40000.0) / 100000.0).acos();
    for s in &out {
        assert!((s.values_rad[1].abs() - bend).abs() < 1e-9, "{s:?}");
        // All turns together keep the tool's x where it was asked to be: straight down with roll and
        // azimuth 0, x is x0 = y0 × z = (0, 1, 0) × (0, 0, −1) = (−1, 0, 0), half a turn from drawn.
        let whole = s.values_rad[0] - s.values_rad[1] + s.values_rad[2];
        assert!((wrap_rad(whole).abs() - deg(180.0)).abs() < 1e-9, "{s:?}");
        assert!(s.height_off_mm.abs() < 1e-9);
    }
    // 0.6 mm lower is within the millimetre that is usual; the rest is reported.
    wanted.at_mm.z = 219.4;
    solver.solve(&wanted, 0.0, 0.0, &mut out);
    assert!((out[0].height_off_mm - 0.6).abs() < 1e-9, "{out:?}");
    wanted.at_mm.z = 257.5;
    let why = solver.refusal(&wanted).expect("refused").to_string();
    assert!(
        why.contains("cannot lift") && why.contains("37.5 mm above"),
        "{why}"
    );
    wanted.at_mm.z = 220.0;
    wanted.elevation_rad = Some(deg(-45.0));
    let why = solver.refusal(&wanted).expect("refused").to_string();
    assert!(
        why.contains("elevation of -90.0") && why.contains("-45.0"),
        "{why}"
    );
    // A fourth joint is one to spare: the posture farthest from the limits, not a worse one.
    let cell = upright(4);
    let solver = Solver::new(&cell, &cell.nominal);
    wanted.elevation_rad = None;
    solver.solve(&wanted, 0.0, 0.0, &mut out);
    assert!(!out.is_empty());
    let best = out[0].limit_margin_rad;
    assert!(best > deg(50.0), "{}", best.to_degrees());
}
