//! Tasks on the demo cell, each plan held against its points and dense samples of its ways.
#![allow(dead_code)]

use std::path::Path;

use notchpin::cell;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Surroundings;
use notchpin::diagnose::Problems;
use notchpin::kinematics::joint_value_rad;
use notchpin::kinematics::table_value_rad;
use notchpin::kinematics::track_value_mm;
use notchpin::reach::Wanted;
use notchpin::units::Approach;
use notchpin::units::Reading;
use notchpin::units::wrap_rad;
use serde_json::Value;

use crate::sentences::Folder;

pub const HEADER: &str = "point,approach_mm,depart_mm,along,track,table\n";

pub fn glaze_line() -> Folder {
    Folder::copy_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glaze-line"))
}

pub fn cell_of(folder: &Folder) -> Cell {
    let mut problems = Problems::default();
    cell::parse("cell.toml", &folder.read("cell.toml"), &mut problems).expect("a cell")
}

/// Plans a task of these rows; held against its points and dense samples of its ways.
pub fn plan(folder: &Folder, rows: &str, more: &[&str]) -> Value {
    folder.write("tasks/ties.csv", &format!("{HEADER}{rows}"));
    let arguments = [
        &["task", "--as-drawn", "--name", "ties", "--json"][..],
        more,
    ];
    let answer = folder.run(arguments.concat());
    assert!(answer.status < 2, "{rows}{}", answer.err);
    let document = answer.json();
    meets_its_points(folder, &document);
    keeps_clear(folder, &document);
    document
}

pub fn steps(document: &Value) -> &[Value] {
    document["steps"].as_array().expect("steps")
}

pub fn numbers(list: &Value) -> Vec<f64> {
    let each = list.as_array().expect("list").iter();
    each.map(|x| x.as_f64().expect("number")).collect()
}

/// The points of points.csv by name.
pub fn points(folder: &Folder) -> Vec<(String, Wanted)> {
    let text = folder.read("points.csv");
    let lines = text.lines();
    let lines = lines.filter(|l| !l.starts_with('#') && !l.starts_with("name"));
    lines
        .map(|l| {
            let f: Vec<&str> = l.split(',').collect();
            let n = |i: usize| f[i].parse::<f64>().unwrap();
            let angle = |i: usize| f[i].parse::<f64>().ok().map(f64::to_radians);
            let wanted = Wanted {
                frame: match f[1] {
                    "platter" => Belongs::Platter,
                    _ => Belongs::Plate,
                },
                at_mm: nalgebra::Vector3::new(n(2), n(3), n(4)),
                elevation_rad: angle(5),
                azimuth_rad: angle(6),
                roll_rad: angle(7),
            };
            (f[0].to_owned(), wanted)
        })
        .collect()
}

pub fn meets_its_points(folder: &Folder, document: &Value) {
    let points = points(folder);
    for step in steps(document).iter().filter(|s| s["possible"] == true) {
        let name = step["point"].as_str().unwrap();
        let wanted = &points.iter().find(|p| p.0 == name).unwrap().1;
        let list: Vec<String> = numbers(&step["joints"])
            .iter()
            .map(|j| format!("{j:.10}"))
            .collect();
        let joints = format!("--joints={}", list.join(","));
        let track = format!("--track={:.10}", step["track"].as_f64().unwrap());
        let table = format!("--table={:.10}", step["table"].as_f64().unwrap_or(0.0));
        let tip = folder
            .run(["tip", "--as-drawn", &track, &table, &joints, "--json"])
            .ends(0)
            .json();
        let tip = &tip[wanted.frame.as_str()];
        for (key, want) in ["x_mm", "y_mm", "z_mm"].iter().zip(wanted.at_mm.iter()) {
            let is = tip[key].as_f64().unwrap();
            assert!((is - want).abs() < 1e-5, "{name} {key}: {is}");
        }
        for (key, want) in [
            ("elevation_deg", wanted.elevation_rad),
            ("azimuth_deg", wanted.azimuth_rad),
        ] {
            if let Some(want) = want {
                let off = wrap_rad(tip[key].as_f64().unwrap().to_radians() - want);
                assert!(off.abs() < 1e-6, "{name} {key}: {off}");
            }
        }
    }
}

pub fn values(cell: &Cell, step: &Value, key: &str, table: Option<f64>) -> AxisValues {
    let g = &cell.nominal;
    let joints = match step[key].is_null() {
        true => &step["joints"],
        false => &step[key],
    };
    let mut at = AxisValues {
        travel_mm: 0.0,
        turn_rad: 0.0,
        joints_rad: [0.0; 7],
    };
    if let (Some(t), Some(r)) = (&g.track, step["track"].as_f64()) {
        at.travel_mm = track_value_mm(t, Reading(r), Approach::Unnoted);
    }
    if let (Some(t), Some(r)) = (&g.turntable, table) {
        at.turn_rad = table_value_rad(t, Reading(r), Approach::Unnoted);
    }
    for (i, r) in numbers(joints).iter().enumerate() {
        at.joints_rad[i] = joint_value_rad(&g.joints[i], Reading(*r));
    }
    at
}

/// Every way that is said to be clear, sampled densely, the table going as the printed readings say;
/// and the legs to and from every point.
pub fn keeps_clear(folder: &Folder, document: &Value) {
    let cell = cell_of(folder);
    let surroundings = Surroundings::new(&cell, &cell.nominal);
    let needed = document["clearance_needed_mm"].as_f64().unwrap() - 1e-6;
    let sampled = |from: &AxisValues, to: &AxisValues, what: &Value| {
        for k in 0..=400 {
            let at = from.toward(to, f64::from(k) / 400.0);
            let near = surroundings.nearest(&at).unwrap();
            assert!(near.clearance_mm >= needed, "{what}: {near:?}");
        }
    };
    let all = steps(document);
    // Where the table does not matter to a step it stays where it was.
    let mut table = None;
    let mut tables = Vec::new();
    for step in all {
        table = step["table"].as_f64().or(table);
        tables.push(table);
    }
    for (step, table) in all.iter().zip(&tables) {
        if step["possible"] != true {
            continue;
        }
        let at = values(&cell, step, "joints", *table);
        sampled(&values(&cell, step, "approach_joints", *table), &at, step);
        sampled(&at, &values(&cell, step, "depart_joints", *table), step);
    }
    for way in document["ways"].as_array().unwrap() {
        if way["state"] != "clear" {
            continue;
        }
        let index = |key: &str| way[key].as_u64().unwrap() as usize - 1;
        let (a, b) = (index("from_step"), index("to_step"));
        let from = values(&cell, &all[a], "depart_joints", tables[a].or(tables[b]));
        let to = values(&cell, &all[b], "approach_joints", tables[b]);
        sampled(&from, &to, way);
    }
}

pub fn all_possible(document: &Value) {
    for step in steps(document) {
        assert_eq!(step["possible"], true, "{step}");
    }
}

pub fn table(document: &Value, step: usize) -> f64 {
    steps(document)[step]["table"].as_f64().expect("a table")
}
