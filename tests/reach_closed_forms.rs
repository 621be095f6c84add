//! Closed forms against poses that were worked out outside this project: the poses of the
//! reference arm (`tests/reference/generated/SOURCE.md`) and those of whole cells by a second
//! implementation (`tests/reference/independent/SOURCE.md`). Targets are made from the outside pose,
//! never from our own forward chain.

mod reach_support;

use std::path::Path;

use nalgebra::Matrix3;
use nalgebra::Vector3;
use notchpin::cell;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::cell::Geometry;
use notchpin::diagnose::Problems;
use notchpin::kinematics::joint_value_rad;
use notchpin::kinematics::table_value_rad;
use notchpin::kinematics::track_value_mm;
use notchpin::parameters::Parameter;
use notchpin::reach::Solution;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::units::Approach;
use notchpin::units::Reading;
use notchpin::units::wrap_rad;
use reach_support::*;
use serde_json::Value;

fn reference(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(name);
    std::fs::read_to_string(path).expect("reference file")
}

fn rows(name: &str) -> Vec<Vec<f64>> {
    reference(name)
        .lines()
        .skip(1)
        .map(|l| l.split(',').map(|c| c.parse().expect("number")).collect())
        .collect()
}

/// The reference's five-joint arm. Its tool's x lies along the roll axis; here that is the tool's z:
/// our tool axes are (−z, y, x) of the reference.
fn five_of_the_reference() -> Cell {
    let file: Value = serde_json::from_str(&reference("generated/fk5_exact.json")).expect("json");
    let three = |v: &Value| -> [f64; 3] { std::array::from_fn(|i| v[i].as_f64().unwrap()) };
    let chain = &file["product_of_exponentials"];
    let joints: Vec<Joint> = chain["screws"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| (three(&s["axis"]), three(&s["point"]), [-400.0, 400.0]))
        .collect();
    let home = |r: usize, c: usize| chain["home"][r][c].as_f64().unwrap();
    let mut cell = cell(
        &joints,
        [home(0, 3), home(1, 3), home(2, 3)],
        turned(&Matrix3::from_fn(home)),
        mounting([0.0; 3], [0.0; 3]),
    );
    (cell.nominal.track, cell.track) = (None, None);
    cell.nominal.mount = mounting([0.0; 3], [0.0; 3]);
    cell
}

fn turned(axes: &Matrix3<f64>) -> Matrix3<f64> {
    Matrix3::from_columns(&[
        -axes.column(2),
        axes.column(1).into(),
        axes.column(0).into(),
    ])
}

/// Elevation, azimuth and roll of tool axes as the model has them: z's angle above the level, its
/// bearing, and the turn of x from x0 = y0 × z toward y0 = (−sin a, cos a, 0).
fn angles(axes: &Matrix3<f64>) -> [f64; 3] {
    let (x, z): (Vector3<f64>, Vector3<f64>) = (axes.column(0).into(), axes.column(2).into());
    let azimuth = z.y.atan2(z.x);
    let y0 = v(-azimuth.sin(), azimuth.cos(), 0.0);
    let roll = x.dot(&y0).atan2(x.dot(&y0.cross(&z)));
    [z.z.atan2(z.x.hypot(z.y)), azimuth, roll]
}

fn is_there(out: &[Solution], q: &[f64], within_rad: f64) -> bool {
    out.iter().any(|s| {
        let each = s.values_rad.iter().zip(q);
        each.clone()
            .all(|(a, b)| wrap_rad(a - b).abs() < within_rad)
    })
}

#[test]
fn five_joints_come_back_from_the_poses_of_the_reference() {
    let cell = five_of_the_reference();
    let solver = Solver::new(&cell, &cell.nominal);
    assert!(solver.is_closed_form(), "{}", solver.method_words());
    let (mut tried, mut out) = (0, Vec::new());
    for row in rows("generated/fk5_pose.csv") {
        let axes = turned(&Matrix3::from_fn(|i, k| row[5 + 4 * i + k]));
        let [elevation, _, roll] = angles(&axes);
        // Within 1 degree of straight up or down the plane's own lean is what is asked for.
        if elevation.abs() > deg(89.0) {
            continue;
        }
        let wanted = Wanted {
            frame: Belongs::Plate,
            at_mm: v(row[8], row[12], row[16]),
            elevation_rad: Some(elevation),
            azimuth_rad: None,
            roll_rad: Some(roll),
        };
        solver.solve(&wanted, 0.0, 0.0, &mut out);
        // At a singular posture (the special rows at the head of the file) half of the digits go.
        let sine = singular(&cell, &row[..5]);
        let within = if sine < 1e-6 { 1e-5 } else { 1e-7 };
        assert!(is_there(&out, &row[..5], within), "{row:?}: {out:?}");
        tried += 1;
    }
    println!("{tried} postures");
    assert!(tried > 190, "{tried}");
}

/// Sine of the elbow's bend from the straight line, by the reference's lengths L2, a3, L3.
fn singular(cell: &Cell, q: &[f64]) -> f64 {
    let p = |i: usize| cell.nominal.joints[i].through_mm;
    let (a, b) = (p(2) - p(1), p(3) - p(2));
    let angle = |w: Vector3<f64>| w.x.atan2(w.z);
    (angle(b) + q[2] - angle(a)).sin().abs()
}

#[test]
fn slopes_undo_the_jacobian_of_the_reference() {
    let cell = five_of_the_reference();
    let solver = Solver::new(&cell, &cell.nominal);
    let poses = rows("generated/fk5_pose.csv");
    let (mut tried, mut worst) = (0, 0.0f64);
    for row in rows("generated/fk5_jacobian.csv") {
        let pose = &poses[row[0] as usize];
        let axes = turned(&Matrix3::from_fn(|i, k| pose[5 + 4 * i + k]));
        let [elevation, _, roll] = angles(&axes);
        if elevation.abs() > deg(80.0) || singular(&cell, &pose[..5]) < 0.05 {
            continue;
        }
        let wanted = Wanted {
            frame: Belongs::Plate,
            at_mm: v(pose[8], pose[12], pose[16]),
            elevation_rad: Some(elevation),
            azimuth_rad: None,
            roll_rad: Some(roll),
        };
        let Some(slopes) = solver.slopes(&wanted, 0.0, 0.0, &pose[..5]) else {
            continue;
        };
        let steepest = slopes[..5].iter().map(|s| s.norm()).fold(0.0, f64::max);
        // Near a singular posture digits are lost; 0.1 rad per mm is far beyond what is called nearly so.
        if steepest > 0.1 {
            continue;
        }
        // dp = J dq and dq = S dp, so the position rows times S are the identity; and the tool turns so
        // that its elevation stays: (ω × z) has no z.
        let position = nalgebra::SMatrix::<f64, 3, 5>::from_fn(|i, k| row[1 + 5 * i + k]);
        let angular = nalgebra::SMatrix::<f64, 3, 5>::from_fn(|i, k| row[16 + 5 * i + k]);
        let s = nalgebra::SMatrix::<f64, 5, 3>::from_fn(|k, i| slopes[k][i]);
        let off = (position * s - Matrix3::identity()).abs().max();
        let z: Vector3<f64> = axes.column(2).into();
        let turns = angular * s;
        let lifts = (0..3)
            .map(|i| Vector3::from(turns.column(i)).cross(&z).z.abs())
            .fold(0.0, f64::max);
        worst = worst.max(off).max(lifts * 100.0);
        assert!(off < 1e-8 && lifts < 1e-10, "{row:?}: {off} {lifts}");
        tried += 1;
    }
    println!("{tried} postures, worst {worst:e}");
    assert!(tried > 120, "{tried}");
}

/// A cell of the second implementation, with the parameter values that that one found.
fn solved(name: &str) -> (Cell, Geometry, Vec<Value>) {
    let text = reference(&format!("independent/{name}/cell/cell.toml"));
    let mut problems = Problems::default();
    let cell = cell::parse("cell.toml", &text, &mut problems).expect("a cell");
    let expected: Value =
        serde_json::from_str(&reference(&format!("independent/{name}/expected.json"))).unwrap();
    let mut geometry = cell.nominal.clone();
    for p in expected["register"]["parameters"].as_array().unwrap() {
        let parameter = Parameter::named(&cell, p["name"].as_str().unwrap()).expect("parameter");
        let value = p["value"].as_f64().unwrap() * parameter.unit().in_code();
        parameter.set(&mut geometry, value);
    }
    let tips = expected["tip"].as_array().unwrap().clone();
    (cell, geometry, tips)
}

/// The geometry that a `tip` was asked of.
fn of<'a>(case: &Value, drawn: &'a Geometry, found: &'a Geometry) -> &'a Geometry {
    let arguments = case["arguments"].as_array().unwrap();
    match arguments.iter().any(|a| a == "--as-drawn") {
        true => drawn,
        false => found,
    }
}

/// Values of the axes for the arguments of a `tip`.
fn values(geometry: &Geometry, case: &Value) -> (f64, f64, Vec<f64>) {
    let (mut travel, mut turn, mut joints) = (0.0, 0.0, Vec::new());
    if let Some(t) = &geometry.turntable {
        turn = table_value_rad(t, Reading(0.0), Approach::Unnoted);
    }
    let arguments = case["arguments"].as_array().unwrap().iter();
    let arguments: Vec<&str> = arguments.map(|a| a.as_str().unwrap()).collect();
    // Some are written in two words.
    let whole = arguments.join(" ").replace("--joints ", "--joints=");
    for argument in whole.split(' ') {
        let Some((option, text)) = argument.split_once('=') else {
            continue;
        };
        let numbers: Vec<f64> = text.split(',').map(|n| n.parse().unwrap()).collect();
        match option {
            "--joints" => {
                let each = geometry.joints.iter().zip(&numbers);
                joints = each.map(|(j, r)| joint_value_rad(j, Reading(*r))).collect();
            }
            "--track" => {
                let track = geometry.track.as_ref().unwrap();
                travel = track_value_mm(track, Reading(numbers[0]), Approach::Unnoted);
            }
            "--table" => {
                let table = geometry.turntable.as_ref().unwrap();
                turn = table_value_rad(table, Reading(numbers[0]), Approach::Unnoted);
            }
            other => panic!("{other}"),
        }
    }
    (travel, turn, joints)
}

fn target(frame: Belongs, pose: &Value, joints: usize) -> Wanted {
    let n = |key: &str| pose[key].as_f64().unwrap();
    let angle = |key: &str, least: usize| (joints >= least).then(|| n(key).to_radians());
    Wanted {
        frame,
        at_mm: v(n("x_mm"), n("y_mm"), n("z_mm")),
        elevation_rad: angle("elevation_deg", 4),
        azimuth_rad: angle("azimuth_deg", 6),
        roll_rad: angle("roll_deg", 5),
    }
}

/// What is met, by the outside's own numbers, 11 digits of them: some 1e-8 mm and 1e-9 rad, more where
/// joints turn much for a millimetre.
const WITHIN_RAD: f64 = 1e-6;

#[test]
fn whole_cells_come_back_from_the_poses_of_the_second_implementation() {
    let (mut closed, mut tried, mut out) = (Vec::new(), 0, Vec::new());
    for name in [
        "three-joints",
        "four-joints",
        "full-five",
        "no-track",
        "inch",
        "small",
        "widened",
        "bubble",
        "dof-zero",
        "every-parameter",
        "quarter-turn",
        "solve-empty",
        "tolerance-only",
        "yaw-quarter",
        "six-joints",
    ] {
        let (mut cell, geometry, tips) = solved(name);
        for j in &mut cell.joints {
            (j.limits_rad.low, j.limits_rad.high) = (-deg(400.0), deg(400.0));
        }
        for case in &tips {
            let geometry = of(case, &cell.nominal, &geometry);
            let solver = Solver::new(&cell, geometry);
            if solver.is_closed_form() {
                closed.push((name, geometry.joints.len()));
            }
            let (travel, turn, q) = values(geometry, case);
            for frame in [Belongs::Plate, Belongs::Platter] {
                let pose = &case["expected"][frame.as_str()];
                if pose.is_null() {
                    continue;
                }
                // Nearly straight up or down there are no digits to spare for the roll.
                if pose["elevation_deg"].as_f64().unwrap().abs() > 89.0 {
                    continue;
                }
                let wanted = target(frame, pose, q.len());
                solver.solve(&wanted, travel, turn, &mut out);
                assert!(
                    is_there(&out, &q, WITHIN_RAD),
                    "{name} ({}) {}: {q:?} not in {out:?}",
                    solver.method_words(),
                    case["arguments"]
                );
                tried += 1;
            }
        }
    }
    println!("{tried} targets; closed forms: {closed:?}");
    assert!(tried >= 60, "{tried}");
    for joints in [4, 5, 6] {
        assert!(closed.iter().any(|c| c.1 == joints), "{joints}: {closed:?}");
    }
}

#[test]
fn within_the_limits_as_given_the_outside_posture_is_found_too() {
    let (mut tried, mut out) = (0, Vec::new());
    for name in ["four-joints", "full-five", "no-track", "inch", "six-joints"] {
        let (cell, geometry, tips) = solved(name);
        for case in &tips {
            let geometry = of(case, &cell.nominal, &geometry);
            let solver = Solver::new(&cell, geometry);
            let (travel, turn, q) = values(geometry, case);
            let inside = cell
                .joints
                .iter()
                .zip(&q)
                .all(|(j, v)| j.limits_rad.holds(*v));
            if !inside {
                continue;
            }
            let wanted = target(Belongs::Plate, &case["expected"]["plate"], q.len());
            solver.solve(&wanted, travel, turn, &mut out);
            assert!(
                is_there(&out, &q, WITHIN_RAD),
                "{name}: {q:?} not in {out:?}"
            );
            for s in &out {
                let within = cell.joints.iter().zip(&s.values_rad);
                assert!(within.clone().all(|(j, v)| {
                    *v >= j.limits_rad.low - 1e-9 && *v <= j.limits_rad.high + 1e-9
                }));
            }
            tried += 1;
        }
    }
    assert!(tried >= 10, "{tried}");
}

#[test]
fn seven_joints_hold_the_outside_pose_with_no_less_margin() {
    let (mut cell, geometry, tips) = solved("seven-joints");
    for j in &mut cell.joints {
        (j.limits_rad.low, j.limits_rad.high) = (-deg(175.0), deg(175.0));
    }
    let mut out = Vec::new();
    for case in &tips {
        let geometry = of(case, &cell.nominal, &geometry);
        let solver = Solver::new(&cell, geometry);
        let (travel, turn, q) = values(geometry, case);
        let wanted = target(Belongs::Plate, &case["expected"]["plate"], 7);
        solver.solve(&wanted, travel, turn, &mut out);
        // One joint is to spare: the posture that was drawn is one of a family, and the best of the
        // family stands no nearer to a limit than it.
        let margin = |q: &[f64]| {
            let limits = cell.joints.iter().zip(q);
            limits
                .map(|(j, v)| (v - j.limits_rad.low).min(j.limits_rad.high - v))
                .fold(f64::INFINITY, f64::min)
        };
        let best = out.first().expect("a posture").limit_margin_rad;
        assert!(best >= margin(&q) - 1e-9, "{best} {}", margin(&q));
        assert!((margin(&out[0].values_rad) - best).abs() < 1e-12);
    }
    assert_eq!(tips.len(), 3);
}

#[test]
fn the_workspace_of_two_links_ends_at_their_sum_and_difference() {
    let file: Value = serde_json::from_str(&reference("generated/planar3r.json")).unwrap();
    let mut seen = 0;
    for case in file["cases"].as_array().unwrap() {
        let l: Vec<f64> = (0..3).map(|i| case["links"][i].as_f64().unwrap()).collect();
        let full = [-400.0, 400.0];
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
        let mut out = Vec::new();
        // By hand: the wrist stands l3 behind the tip; it comes no farther than l1 + l2 from the
        // shoulder and no nearer than |l1 − l2|.
        let ends = [(l[0] + l[1], -1.0), ((l[0] - l[1]).abs(), 1.0)];
        for (radius, inward) in ends {
            for (bearing, elevation) in [(20.0, -40.0), (65.0, 10.0), (-30.0, 70.0)] {
                for (off, reached) in [(0.01, true), (-0.01, false)] {
                    let r = radius + inward * off;
                    let (b, e) = (deg(bearing), deg(elevation));
                    let (x, z) = (r * b.cos() + l[2] * e.cos(), r * b.sin() + l[2] * e.sin());
                    let wanted = Wanted {
                        frame: Belongs::Plate,
                        at_mm: v(x, 0.0, z),
                        elevation_rad: Some(e),
                        azimuth_rad: None,
                        roll_rad: None,
                    };
                    solver.solve(&wanted, 0.0, 0.0, &mut out);
                    // Those with joint 1 ahead and the tool outward: the others have their own wrist.
                    let here = out.iter().any(|s| {
                        let sum: f64 = s.values_rad[1..].iter().sum();
                        wrap_rad(s.values_rad[0]).abs() < 1e-9 && wrap_rad(sum - e).abs() < 1e-9
                    });
                    assert_eq!(here, reached, "{} {radius} {off}: {out:?}", case["name"]);
                    seen += 1;
                }
            }
        }
    }
    assert_eq!(seen, 16 * 12);
}
