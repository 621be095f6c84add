//! Whole tasks by the command: what it says is held against the forward chain, dense samples of the
//! ways, and stations tried one by one.

mod sentences;

use std::path::Path;

use notchpin::cell;
use notchpin::cell::Cell;
use notchpin::cell::Geometry;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Surroundings;
use notchpin::diagnose::Problems;
use notchpin::kinematics::joint_value_rad;
use notchpin::kinematics::table_value_rad;
use notchpin::kinematics::track_value_mm;
use notchpin::units::Approach;
use notchpin::units::Reading;
use notchpin::units::wrap_rad;
use sentences::Folder;
use serde_json::Value;

fn glaze_line() -> Folder {
    Folder::copy_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glaze-line"))
}

fn json(folder: &Folder, arguments: &[&str]) -> Value {
    let answer = folder.run([arguments, &["--json"]].concat());
    assert!(answer.status < 2, "{}", answer.err);
    serde_json::from_str(&answer.out).expect("JSON")
}

fn cell_of(folder: &Folder) -> Cell {
    let text = std::fs::read_to_string(folder.root().join("cell.toml")).unwrap();
    let mut problems = Problems::default();
    cell::parse("cell.toml", &text, &mut problems).expect("a cell")
}

fn values(geometry: &Geometry, step: &Value, joints: &Value) -> AxisValues {
    let mut at = AxisValues {
        travel_mm: 0.0,
        turn_rad: 0.0,
        joints_rad: [0.0; 7],
    };
    if let (Some(t), Some(r)) = (&geometry.track, step["track"].as_f64()) {
        at.travel_mm = track_value_mm(t, Reading(r), Approach::Unnoted);
    }
    if let (Some(t), Some(r)) = (&geometry.turntable, step["table"].as_f64()) {
        at.turn_rad = table_value_rad(t, Reading(r), Approach::Unnoted);
    }
    for (i, r) in joints.as_array().expect("joints").iter().enumerate() {
        at.joints_rad[i] = joint_value_rad(&geometry.joints[i], Reading(r.as_f64().unwrap()));
    }
    at
}

/// Name, frame, place, elevation, azimuth.
type Row = (String, String, [f64; 3], f64, Option<f64>);

/// The points of points.csv.
fn points(folder: &Folder) -> Vec<Row> {
    let text = std::fs::read_to_string(folder.root().join("points.csv")).unwrap();
    text.lines()
        .filter(|l| !l.starts_with('#') && !l.starts_with("name"))
        .map(|l| {
            let f: Vec<&str> = l.split(',').collect();
            let n = |i: usize| f[i].parse::<f64>().unwrap();
            (
                f[0].into(),
                f[1].into(),
                [n(2), n(3), n(4)],
                n(5),
                f[6].parse().ok(),
            )
        })
        .collect()
}

#[test]
fn every_step_brings_the_tip_to_its_point_and_every_way_stays_clear() {
    let folder = glaze_line();
    let answer = folder.run(["task", "--as-drawn", "--name", "glaze", "--json"]);
    assert_eq!(answer.status, 0, "{}", answer.err);
    let document: Value = serde_json::from_str(&answer.out).unwrap();
    let steps = document["steps"].as_array().unwrap();
    assert_eq!(steps.len(), 20);
    let cell = cell_of(&folder);
    let points = points(&folder);
    for step in steps {
        let name = step["point"].as_str().unwrap();
        let (_, frame, at, elevation, azimuth) = points.iter().find(|p| p.0 == name).unwrap();
        // The program's own forward chain, by the other command.
        let joints = step["joints"].as_array().unwrap();
        let joints: Vec<String> = joints
            .iter()
            .map(|j| format!("{:.9}", j.as_f64().unwrap()))
            .collect();
        let track = format!("{:.9}", step["track"].as_f64().unwrap());
        let table = format!("{:.9}", step["table"].as_f64().unwrap_or(0.0));
        let joints = format!("--joints={}", joints.join(","));
        let tip = json(
            &folder,
            &[
                "tip",
                "--as-drawn",
                "--track",
                &track,
                "--table",
                &table,
                &joints,
            ],
        );
        let tip = &tip[frame.as_str()];
        for (key, want) in ["x_mm", "y_mm", "z_mm"].iter().zip(at) {
            let is = tip[key].as_f64().unwrap();
            assert!(
                (is - want).abs() < 1e-5,
                "{name} {key}: {is}, wanted {want}"
            );
        }
        let is = tip["elevation_deg"].as_f64().unwrap();
        assert!((is - elevation).abs() < 1e-6, "{name}: elevation {is}");
        if let Some(azimuth) = azimuth {
            let off = wrap_rad((tip["azimuth_deg"].as_f64().unwrap() - azimuth).to_radians());
            assert!(off.abs() < 1e-6, "{name}: azimuth");
        }
        // Approach: so many mm above, straight up or back along the tool.
        if let Some(before) = step["approach_joints"].as_array() {
            let at = values(&cell.nominal, step, &step["joints"]);
            let up = values(&cell.nominal, step, &Value::Array(before.clone()));
            let scene = |v: &AxisValues| {
                notchpin::kinematics::ArmScene::new(&cell.nominal, v.travel_mm, &v.joints_rad[..5])
            };
            let (low, high) = (scene(&at), scene(&up));
            let back = match step["along"].as_str() {
                Some("up") => nalgebra::Vector3::z(),
                _ => -nalgebra::Vector3::from(low.tool_axes.column(2)),
            };
            let off = high.tip_mm - low.tip_mm - back * step["approach_mm"].as_f64().unwrap();
            assert!(off.norm() < 1e-6, "{name}: {off}");
        }
        // Margins by hand from the limits of the file.
        let at = values(&cell.nominal, step, &step["joints"]);
        let margin = cell
            .joints
            .iter()
            .zip(&at.joints_rad)
            .map(|(j, v)| {
                (v - j.limits_rad.low)
                    .min(j.limits_rad.high - v)
                    .to_degrees()
            })
            .fold(f64::INFINITY, f64::min);
        let told = step["margins"]["limit_margin_deg"].as_f64().unwrap();
        assert!((told - margin).abs() < 1e-6, "{name}: {told} {margin}");
        assert!(step["smallest_margin_deg"].as_f64().unwrap() <= told + 1e-9);
    }
    // Every way, with the table the short way round, at 500 places.
    let surroundings = Surroundings::new(&cell, &cell.nominal);
    let ways = document["ways"].as_array().unwrap();
    assert_eq!(ways.len(), 19);
    for way in ways {
        assert_eq!(way["state"], "clear");
        let step = |key: &str| &steps[way[key].as_u64().unwrap() as usize - 1];
        let (a, b) = (step("from_step"), step("to_step"));
        let place = |s: &Value, key: &str| match s[key].is_null() {
            true => values(&cell.nominal, s, &s["joints"]),
            false => values(&cell.nominal, s, &s[key]),
        };
        let (from, mut to) = (place(a, "depart_joints"), place(b, "approach_joints"));
        to.turn_rad = from.turn_rad + wrap_rad(to.turn_rad - from.turn_rad);
        for k in 0..=500 {
            let near = surroundings
                .nearest(&from.toward(&to, f64::from(k) / 500.0))
                .unwrap();
            assert!(near.clearance_mm >= 8.0 - 1e-6, "{way}: {near:?}");
        }
    }
    // The tile stays where it is for spots 1 to 4, and 5 to 8.
    for k in [1..5, 6..10] {
        for step in &steps[k] {
            assert_eq!(step["table"].as_f64(), Some(0.0), "{step}");
        }
    }
}

#[test]
fn no_two_of_the_stations_do_what_three_do() {
    let folder = glaze_line();
    let document = json(&folder, &["task", "--as-drawn", "--name", "glaze"]);
    assert_eq!(document["stations"].as_array().unwrap().len(), 3);
    assert_eq!(document["stations_at_least"], 3);
    // By trying: each step's own track positions, one command a position, then every pair of them.
    let mut able: Vec<u32> = Vec::new();
    for k in 0..=45 {
        let at = format!("{}", 20 * k);
        let answer = folder.run([
            "task",
            "--as-drawn",
            "--name",
            "glaze",
            "--json",
            "--track",
            &at,
        ]);
        let one: Value = serde_json::from_str(&answer.out).unwrap();
        let steps = one["steps"].as_array().unwrap();
        let mut can = 0;
        for (i, step) in steps.iter().enumerate() {
            can |= u32::from(step["possible"].as_bool().unwrap()) << i;
        }
        able.push(can);
    }
    let all = (1u32 << 20) - 1;
    let mut three = false;
    for (i, a) in able.iter().enumerate() {
        for (k, b) in able.iter().enumerate().skip(i) {
            assert!(
                a | b != all,
                "two stations do it: {} and {}",
                20 * i,
                20 * k
            );
            three |= able.iter().skip(k).any(|c| a | b | c == all);
        }
    }
    assert!(three, "three stations do it on this grid too");
}

#[test]
fn what_is_said_to_help_helps() {
    let folder = glaze_line();
    let answer = folder.run(["task", "--as-drawn", "--name", "impossible", "--json"]);
    assert_eq!(answer.status, 1, "{}", answer.err);
    let document: Value = serde_json::from_str(&answer.out).unwrap();
    let text = std::fs::read_to_string(folder.root().join("tasks/impossible.csv")).unwrap();
    let (mut tried, mut kinds) = (0, Vec::new());
    for step in document["steps"].as_array().unwrap() {
        if step["possible"] == true {
            continue;
        }
        assert!(step["joints"].is_null() && !step["why"].is_null(), "{step}");
        let line = step["line"].as_u64().unwrap() as usize;
        for help in step["would_help"].as_array().unwrap() {
            let change = help["change"].as_str().unwrap();
            let value = help["value"].as_f64();
            let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
            let header: Vec<String> = lines[1].split(',').map(str::to_owned).collect();
            let mut cells: Vec<String> = lines[line - 1].split(',').map(str::to_owned).collect();
            let column = |name: &str| header.iter().position(|h| h == name).unwrap();
            let mut points = std::fs::read_to_string(folder.root().join("points.csv")).unwrap();
            let point = cells[0].clone();
            match change {
                "track" | "table" => cells[column(change)] = format!("{:.6}", value.unwrap()),
                "approach" | "depart" => {
                    cells[column(&format!("{change}_mm"))] = format!("{}", value.unwrap());
                }
                "elevation" | "azimuth" => {
                    let slot = if change == "elevation" { 5 } else { 6 };
                    let changed = |l: &str| {
                        let mut f: Vec<String> = l.split(',').map(str::to_owned).collect();
                        f[slot] = value.map_or(String::new(), |v| format!("{v}"));
                        f.join(",")
                    };
                    points = points
                        .lines()
                        .map(|l| {
                            if l.starts_with(&format!("{point},")) {
                                changed(l)
                            } else {
                                l.into()
                            }
                        })
                        .collect::<Vec<String>>()
                        .join("\n");
                }
                other => panic!("{other} is not expected here"),
            }
            lines[line - 1] = cells.join(",");
            let other = glaze_line();
            other.write("points.csv", &points);
            other.write(
                "tasks/one.csv",
                &format!("{}\n{}\n", lines[1], lines[line - 1]),
            );
            let again = other.run(["task", "--as-drawn", "--name", "one"]);
            assert_eq!(
                again.status, 0,
                "{change} {value:?}: {}{}",
                again.out, again.err
            );
            tried += 1;
            kinds.push(change.to_owned());
        }
    }
    assert!(tried >= 4, "{kinds:?}");
    for kind in ["track", "table", "approach", "azimuth"] {
        assert!(
            kinds.iter().any(|k| k == kind),
            "{kind} is missing: {kinds:?}"
        );
    }
}

#[test]
fn stations_for_the_least_travel_travel_least() {
    let folder = glaze_line();
    let fewest = json(&folder, &["task", "--as-drawn", "--name", "glaze"]);
    let travel = json(
        &folder,
        &[
            "task",
            "--as-drawn",
            "--name",
            "glaze",
            "--prefer",
            "travel",
        ],
    );
    let (a, b) = (
        fewest["track_travel"].as_f64().unwrap(),
        travel["track_travel"].as_f64().unwrap(),
    );
    assert!(
        b < a,
        "{b} mm for the least travel, {a} for the fewest stations"
    );
    // By hand: the pot is reached up to some track position, the spots from some other one on, and
    // so on; there and back three times between pot and table is what cannot be spared.
    let tracks: Vec<f64> = travel["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["track"].as_f64().unwrap())
        .collect();
    let summed: f64 = tracks.windows(2).map(|w| (w[1] - w[0]).abs()).sum();
    assert!((summed - b).abs() < 1e-9);
}

#[test]
fn the_csv_is_one_row_a_place_and_can_be_taught_again() {
    let folder = glaze_line();
    let answer = folder.run(["task", "--as-drawn", "--name", "glaze", "--csv"]);
    assert_eq!(answer.status, 0);
    let lines: Vec<&str> = answer.out.lines().collect();
    assert!(
        lines[0].starts_with("# ") && lines[0].contains("prove"),
        "{}",
        lines[0]
    );
    assert!(
        lines[1].starts_with("name,frame,track,table,j1,j2,j3,j4,j5,"),
        "{}",
        lines[1]
    );
    // Twenty steps with a place before, at and after each.
    assert_eq!(lines.len(), 2 + 60);
    // As taught points they are reached again where they were.
    let mut taught = String::from("name,frame,track,table,j1,j2,j3,j4,j5\n");
    for (i, line) in lines[2..]
        .iter()
        .enumerate()
        .filter(|(_, l)| l.contains(",at,"))
        .take(6)
    {
        let cells: Vec<&str> = line.split(',').collect();
        taught += &format!("p{i},{}\n", cells[1..9].join(","));
    }
    folder.write("taught.csv", &taught);
    let document = json(
        &folder,
        &[
            "reach",
            "--as-drawn",
            "--point",
            "p1",
            "--track",
            "0",
            "--table",
            "-75",
        ],
    );
    assert_eq!(document["points"][0]["reachable"], true, "{document}");
}

#[test]
fn slips_in_a_task_are_told_with_their_place() {
    let folder = glaze_line();
    for (rows, expected) in [
        ("point\npott\n", "pot"),
        ("point,approach_mm\npot,-5\n", "0 to 2000"),
        ("point,along\npot,sideways\n", "tool, up"),
        ("point,track\npot,same\n", "no step before"),
        ("point,table\npot,left\n", "a reading, same"),
        ("point,dwell_s\npot,-1\n", "not below 0"),
        ("point,aproach_mm\npot,5\n", "approach_mm"),
    ] {
        folder.write("tasks/slip.csv", rows);
        let answer = folder.run(["task", "--as-drawn", "--name", "slip"]);
        assert_eq!(answer.status, 2, "{rows}{}", answer.out);
        assert!(answer.out.is_empty(), "{}", answer.out);
        assert!(answer.err.contains("tasks/slip.csv"), "{}", answer.err);
        assert!(answer.err.contains(expected), "{rows}: {}", answer.err);
    }
    folder.write("tasks/slip.csv", "point\n");
    let answer = folder.run(["task", "--as-drawn", "--name", "slip"]);
    assert_eq!(answer.status, 2);
    assert!(answer.err.contains("no steps"), "{}", answer.err);
    let answer = folder.run(["task", "--as-drawn", "--name", "nothing"]);
    assert_eq!(answer.status, 2);
    assert!(
        answer.err.contains("glaze, impossible, slip"),
        "{}",
        answer.err
    );
    let answer = folder.run(["task", "--as-drawn"]);
    assert_eq!(answer.status, 2);
    assert!(answer.err.contains("several tasks"), "{}", answer.err);
}

#[test]
fn texts_fit_and_warn() {
    let folder = glaze_line();
    for name in ["glaze", "impossible"] {
        let answer = folder.run(["task", "--as-drawn", "--name", name]);
        for line in answer.out.lines() {
            assert!(line.chars().count() <= 100, "{line}");
        }
        assert!(answer.out.contains("prove each new position slowly first"));
    }
    let answer = folder.run(["task", "--as-drawn", "--name", "impossible"]);
    assert!(
        answer
            .out
            .starts_with("LOOK: TASK impossible: 1 of 4 steps"),
        "{}",
        answer.out
    );
    assert!(
        answer.out.contains("Possible with the track at 850"),
        "{}",
        answer.out
    );
}

#[test]
fn maps_are_written_once_and_agree_with_reach() {
    let folder = glaze_line();
    let stem = folder.root().join("spot");
    let stem = stem.to_str().unwrap();
    let arguments = [
        "reach",
        "--as-drawn",
        "--point",
        "spot_1",
        "--map",
        stem,
        "--track",
        "300:700:100",
        "--table",
        "-90:90:45",
    ];
    let document = json(&folder, &arguments);
    assert_eq!(document["margin_deg"].as_array().unwrap().len(), 25);
    let csv = std::fs::read_to_string(format!("{stem}.csv")).unwrap();
    let svg = std::fs::read_to_string(format!("{stem}.svg")).unwrap();
    assert!(
        svg.starts_with("<svg") || svg.starts_with("<?xml"),
        "{}",
        &svg[..80]
    );
    assert_eq!(csv.lines().count(), 2 + 25);
    let reach = json(
        &folder,
        &[
            "reach",
            "--as-drawn",
            "--point",
            "spot_1",
            "--track",
            "300:700:100",
            "--table",
            "-90:90:45",
        ],
    );
    let stations = reach["points"][0]["stations"].as_array().unwrap();
    let mut met = 0;
    for (k, margin) in document["margin_deg"]
        .as_array()
        .unwrap()
        .iter()
        .enumerate()
    {
        let (track, table) = (
            300.0 + 100.0 * (k % 5) as f64,
            -90.0 + 45.0 * (k / 5) as f64,
        );
        let station = stations
            .iter()
            .find(|s| s["track"].as_f64() == Some(track) && s["table"].as_f64() == Some(table));
        let best = station.map(|s| {
            let clear = s["solutions"]
                .as_array()
                .unwrap()
                .iter()
                .filter(|s| s["clearance_mm"].as_f64().unwrap() >= 8.0);
            clear
                .map(|s| s["limit_margin_deg"].as_f64().unwrap())
                .fold(f64::NEG_INFINITY, f64::max)
        });
        let best = best.filter(|b| b.is_finite());
        met += usize::from(best.is_some());
        match (margin.as_f64(), best) {
            (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9, "{track} {table}: {a} {b}"),
            (a, b) => assert_eq!(a, b, "{track} {table}"),
        }
    }
    assert!(met > 5 && met < 25, "{met}");
    let again = folder.run(arguments);
    assert_eq!(again.status, 2);
    assert!(again.err.contains("not overwritten"), "{}", again.err);
}
