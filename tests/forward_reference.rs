//! Forward kinematics and rotations against values made outside this project
//! (`tests/reference/generated/SOURCE.md`).

mod reach_support;

use std::path::Path;

use nalgebra::Matrix3;
use notchpin::cell::Cell;
use notchpin::frames::rot_about;
use notchpin::frames::rot_zyx;
use notchpin::kinematics::ArmScene;
use reach_support::*;

/// 1e-12 of the length of the arm, about 800 mm.
const TOLERANCE_MM: f64 = 8e-10;

fn text(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/generated")
        .join(name);
    std::fs::read_to_string(path).expect("reference file")
}

fn rows(name: &str) -> Vec<Vec<Option<f64>>> {
    text(name)
        .lines()
        .skip(1)
        .map(|l| l.split(',').map(|c| c.parse().ok()).collect())
        .collect()
}

fn arm() -> Cell {
    let file: serde_json::Value = serde_json::from_str(&text("fk5_exact.json")).expect("json");
    let three = |v: &serde_json::Value| -> [f64; 3] {
        std::array::from_fn(|i| v[i].as_f64().expect("number"))
    };
    let chain = &file["product_of_exponentials"];
    let joints: Vec<Joint> = chain["screws"]
        .as_array()
        .expect("screws")
        .iter()
        .map(|s| (three(&s["axis"]), three(&s["point"]), [-180.0, 180.0]))
        .collect();
    let home = |r: usize, c: usize| chain["home"][r][c].as_f64().expect("number");
    let mut cell = cell(
        &joints,
        [home(0, 3), home(1, 3), home(2, 3)],
        Matrix3::from_fn(home),
        mounting([0.0; 3], [0.0; 3]),
    );
    cell.nominal.track = None;
    cell.nominal.mount = mounting([0.0; 3], [0.0; 3]);
    cell
}

#[test]
fn poses_of_200_postures() {
    let cell = arm();
    for row in rows("fk5_pose.csv") {
        let row: Vec<f64> = row.into_iter().map(|x| x.expect("number")).collect();
        let scene = ArmScene::new(&cell.nominal, 0.0, &row[..5]);
        for i in 0..3 {
            for k in 0..3 {
                assert!((scene.tool_axes[(i, k)] - row[5 + 4 * i + k]).abs() < 1e-12);
            }
            assert!((scene.tip_mm[i] - row[8 + 4 * i]).abs() < TOLERANCE_MM);
        }
    }
}

#[test]
fn derivatives_of_200_postures() {
    let cell = arm();
    let poses = rows("fk5_pose.csv");
    for row in rows("fk5_jacobian.csv") {
        let row: Vec<f64> = row.into_iter().map(|x| x.expect("number")).collect();
        let q: Vec<f64> = poses[row[0] as usize][..5]
            .iter()
            .map(|x| x.expect("number"))
            .collect();
        let scene = ArmScene::new(&cell.nominal, 0.0, &q);
        for k in 0..5 {
            let twist = scene.joint_twist(k);
            let shift = twist.of_point(&scene.tip_mm);
            for i in 0..3 {
                assert!((shift[i] - row[1 + 5 * i + k]).abs() < TOLERANCE_MM);
                assert!((twist.turn[i] - row[16 + 5 * i + k]).abs() < 1e-12);
            }
        }
    }
}

#[test]
fn closed_forms() {
    let cell = arm();
    let file: serde_json::Value = serde_json::from_str(&text("fk5_exact.json")).expect("json");
    let mut seen = 0;
    for case in file["cases"].as_array().expect("cases") {
        let q: Vec<f64> = case["q"]
            .as_array()
            .expect("q")
            .iter()
            .map(|t| turn(t.as_str().expect("text")))
            .collect();
        let scene = ArmScene::new(&cell.nominal, 0.0, &q);
        for i in 0..3 {
            let at = |k: usize| case["transform"][i][k].as_f64().expect("number");
            for k in 0..3 {
                assert!((scene.tool_axes[(i, k)] - at(k)).abs() < 1e-12);
            }
            assert!((scene.tip_mm[i] - at(3)).abs() < TOLERANCE_MM);
        }
        seen += 1;
    }
    assert_eq!(seen, 12);
}

/// `0`, `pi/3`, `-5*pi/6` …
fn turn(text: &str) -> f64 {
    let (sign, text) = text.strip_prefix('-').map_or((1.0, text), |t| (-1.0, t));
    let (top, bottom) = text
        .split_once('/')
        .map_or((text, 1.0), |(t, b)| (t, b.parse().expect("number")));
    let top = match top.split_once("*") {
        Some((f, "pi")) => f.parse::<f64>().expect("number") * std::f64::consts::PI,
        None if top == "pi" => std::f64::consts::PI,
        _ => top.parse().expect("number"),
    };
    sign * top / bottom
}

#[test]
fn rotations() {
    for row in rows("rotations.csv") {
        let at = |k: usize| row[k].expect("number");
        let matrix = Matrix3::from_fn(|r, c| at(8 + 3 * r + c));
        let vector = v(at(17), at(18), at(19));
        let angle = at(20);
        let back = rot_about(&(vector / vector.norm()), angle);
        assert!((back - matrix).abs().max() < 1e-12);
        // Fixed x-y-z angles are those of Rz Ry Rx; the one gimbal lock has none.
        if let (Some(x), Some(y), Some(z)) = (row[21], row[22], row[23]) {
            assert!((rot_zyx(z, y, x) - matrix).abs().max() < 1e-12);
        }
    }
}
