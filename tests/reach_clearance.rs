//! Reach among things that stand around: what is named is clear, what is told is what the clearance
//! library and the cell file say.

mod sentences;

use std::path::Path;

use notchpin::cell;
use notchpin::cell::Cell;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Nearest;
use notchpin::clearance::Surroundings;
use notchpin::diagnose::Problems;
use notchpin::kinematics::joint_value_rad;
use notchpin::kinematics::table_value_rad;
use notchpin::kinematics::track_value_mm;
use notchpin::units::Approach;
use notchpin::units::Reading;
use sentences::Answer;
use sentences::Folder;
use serde_json::Value;

fn glaze_line() -> Folder {
    Folder::copy_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glaze-line"))
}

/// The demo cell with one more keep-out: a ceiling, free below.
fn with_ceiling(z_mm: f64) -> Folder {
    let folder = glaze_line();
    let more = format!(
        "\n[[keep_out]]\nname = \"ceiling\"\nhalf_space = {{ at_mm = [0, 0, {z_mm:.9}], free = [0, 0, -1] }}\n"
    );
    let text = folder
        .read("cell.toml")
        .replace("\n[accept]", &format!("{more}\n[accept]"));
    assert!(text.contains("ceiling"));
    folder.write("cell.toml", &text);
    folder
}

fn cell_of(folder: &Folder) -> Cell {
    let mut problems = Problems::default();
    let cell = cell::parse("cell.toml", &folder.read("cell.toml"), &mut problems);
    let told: String = problems.iter().map(|p| format!("{p}\n")).collect();
    cell.unwrap_or_else(|| panic!("{told}"))
}

fn reach(folder: &Folder, arguments: &[&str]) -> (Answer, Value) {
    let answer = folder.run([&["reach", "--as-drawn", "--json"], arguments].concat());
    assert!(answer.status < 2, "{}", answer.err);
    let point = answer.json()["points"][0].clone();
    (answer, point)
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn numbers(list: &Value) -> Vec<f64> {
    list.as_array().expect("list").iter().map(number).collect()
}

fn axes(cell: &Cell, track: f64, table: f64, joints: &Value) -> AxisValues {
    let g = &cell.nominal;
    let mut at = AxisValues {
        travel_mm: track_value_mm(g.track.as_ref().unwrap(), Reading(track), Approach::Unnoted),
        turn_rad: table_value_rad(
            g.turntable.as_ref().unwrap(),
            Reading(table),
            Approach::Unnoted,
        ),
        joints_rad: [0.0; 7],
    };
    for (i, r) in numbers(joints).iter().enumerate() {
        at.joints_rad[i] = joint_value_rad(&g.joints[i], Reading(*r));
    }
    at
}

fn nearest(cell: &Cell, track: f64, table: f64, joints: &Value) -> Nearest {
    let surroundings = Surroundings::new(cell, &cell.nominal);
    let at = axes(cell, track, table, joints);
    surroundings.nearest(&at).expect("bodies")
}

/// Degrees of the joints to their limits, by the cell file as drawn: readings are values there.
fn limit_margin(cell: &Cell, joints: &Value) -> (f64, usize, bool) {
    let each = cell.joints.iter().zip(numbers(joints)).enumerate();
    let each = each.flat_map(|(i, (j, v))| {
        let (low, high) = (
            j.limits_rad.low.to_degrees(),
            j.limits_rad.high.to_degrees(),
        );
        [(v - low, i, false), (high - v, i, true)]
    });
    each.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
}

const SPOT: [&str; 6] = ["--point", "spot_1", "--track", "400", "--table", "-90"];

/// Height of the elbow by hand: shoulder 62 + 18 + 150 = 230 above the plate, 220 to the elbow, turns
/// of joint 2 downward.
fn elbow_mm(joints: &Value) -> f64 {
    230.0 - 220.0 * number(&joints[1]).to_radians().sin()
}

#[test]
fn of_two_postures_the_clear_one_is_named() {
    let (_, free) = reach(&glaze_line(), &SPOT);
    let solutions = free["stations"][0]["solutions"].as_array().unwrap();
    assert_eq!(solutions.len(), 2);
    let (first, second) = (&solutions[0]["joints"], &solutions[1]["joints"]);
    assert_eq!(&free["best"]["joints"], first);
    let (high, low) = (elbow_mm(first), elbow_mm(second));
    // Room for the second under a ceiling that the first goes into.
    assert!(high - low > 32.0 + 8.0 - 10.0, "{high} {low}");
    let folder = with_ceiling(high + 10.0);
    let (answer, point) = reach(&folder, &SPOT);
    assert_eq!(answer.status, 0);
    assert_eq!(point["reachable"], true);
    let now = point["stations"][0]["solutions"].as_array().unwrap();
    // Both are still told. By hand: the upper arm's middle line ends 10 below the ceiling, its radius is
    // 32: it is 22 inside.
    assert_eq!(now.len(), 2);
    assert_eq!(&now[0]["joints"], first);
    assert!(
        (number(&now[0]["clearance_mm"]) + 22.0).abs() < 1e-3,
        "{}",
        now[0]
    );
    assert_eq!(now[0]["clearance_to"], "the keep-out ceiling");
    // The second: 10 + the difference of the heights less 32, or what was nearest before.
    let under = high + 10.0 - low - 32.0;
    let before = number(&solutions[1]["clearance_mm"]);
    assert!((number(&now[1]["clearance_mm"]) - under.min(before)).abs() < 1e-3);
    assert_eq!(&point["best"]["joints"], second);
    // People are told the posture that is clear.
    let text = folder
        .run([&["reach", "--as-drawn"][..], &SPOT].concat())
        .ends(0);
    text.says("THE POINT CAN BE REACHED")
        .says(&format!("j2 {:.2}", number(&second[1])));
}

#[test]
fn where_both_collide_the_point_is_not_reached() {
    let (_, free) = reach(&glaze_line(), &SPOT);
    let solutions = free["stations"][0]["solutions"].as_array().unwrap();
    let low = elbow_mm(&solutions[1]["joints"]);
    let folder = with_ceiling(low + 10.0);
    let (answer, point) = reach(&folder, &SPOT);
    assert_eq!(answer.status, 1);
    assert_eq!(point["reachable"], false);
    assert!(point["best"].is_null(), "{}", point["best"]);
    let now = point["stations"][0]["solutions"].as_array().unwrap();
    // By hand: the first one's middle line goes through the ceiling: as deep as its radius at least, and
    // that is told; the second one is 22 inside.
    assert!(
        (number(&now[0]["clearance_mm"]) + 32.0).abs() < 1e-3,
        "{}",
        now[0]
    );
    assert!(
        (number(&now[1]["clearance_mm"]) + 22.0).abs() < 1e-3,
        "{}",
        now[1]
    );
    let text = folder
        .run([&["reach", "--as-drawn"][..], &SPOT].concat())
        .ends(1);
    text.says("CANNOT BE REACHED");
}

#[test]
fn a_clearance_asked_for_is_kept_to_the_hair() {
    let (_, free) = reach(&glaze_line(), &SPOT);
    let solutions = free["stations"][0]["solutions"].as_array().unwrap();
    let first = number(&solutions[0]["clearance_mm"]);
    for (more, index) in [(-0.01, 0), (0.01, usize::MAX)] {
        let folder = glaze_line();
        let text = folder.read("cell.toml");
        assert_eq!(text.matches("clearance_mm = 8.0").count(), 1);
        let asked = format!("clearance_mm = {:.6}", first + more);
        folder.write("cell.toml", &text.replace("clearance_mm = 8.0", &asked));
        let (_, point) = reach(&folder, &SPOT);
        match solutions.get(index) {
            Some(s) => assert_eq!(point["best"]["joints"], s["joints"]),
            None => assert!(point["best"].is_null() && point["reachable"] == false),
        }
    }
}

/// A point of the plate 20 mm above the platter, 112 before its centre: where the clamp passes.
fn beside_the_clamp() -> Folder {
    glaze_line().with(
        "points.csv",
        "name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg\n\
         edge,plate,700,338,115,-80,,\n",
    )
}

#[test]
fn what_turns_with_the_table_is_told_with_its_reading_and_as_the_map_has_it() {
    let folder = beside_the_clamp();
    let cell = cell_of(&folder);
    let tracks = "400:700:50";
    let turns: Vec<f64> = (0..12).map(|k| -180.0 + 30.0 * f64::from(k)).collect();
    let (_, point) = reach(
        &folder,
        &["--point", "edge", "--track", tracks, "--table=-180:150:30"],
    );
    assert_eq!(point["reachable"], true);
    let stations = point["stations"].as_array().unwrap();
    assert!(stations.len() >= 3, "{}", stations.len());
    let stem = folder.path("edge-map");
    let stem = stem.to_str().unwrap();
    let map = folder
        .run([
            "reach",
            "--as-drawn",
            "--json",
            "--point",
            "edge",
            "--track",
            tracks,
            "--table=-180:150:30",
            "--over",
            "table",
            "--map",
            stem,
        ])
        .json();
    assert_eq!(map["rows_are"], "table");
    let columns = numbers(&map["track"]);
    let rows = numbers(&map["rows"]);
    let (mut in_the_way, mut compared) = (0, 0);
    for station in stations {
        let track = number(&station["track"]);
        let solutions = station["solutions"].as_array().unwrap();
        for s in solutions {
            // By trying every reading of the table with the clearance library.
            let each: Vec<f64> = turns
                .iter()
                .map(|t| nearest(&cell, track, *t, &s["joints"]).clearance_mm)
                .collect();
            let most = each.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            assert!(
                (number(&s["clearance_mm"]) - most).abs() < 1e-9,
                "{s} {each:?}"
            );
            let told = number(&s["clear_at_table"]);
            let index = turns.iter().position(|t| (t - told).abs() < 1e-9).unwrap();
            assert!((each[index] - most).abs() < 1e-9, "{told} {each:?}");
            in_the_way += each.iter().filter(|c| **c < 8.0).count();
        }
        // And the map at the same track: the best margin of what is clear there.
        let column = columns
            .iter()
            .position(|c| (c - track).abs() < 1e-9)
            .unwrap();
        for (row, reading) in rows.iter().enumerate() {
            let clear = solutions
                .iter()
                .filter(|s| nearest(&cell, track, *reading, &s["joints"]).clearance_mm >= 8.0);
            let best = clear
                .map(|s| number(&s["limit_margin_deg"]))
                .reduce(f64::max);
            let told = map["margin_deg"][row * columns.len() + column].as_f64();
            match (told, best) {
                (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9, "{track} {reading}: {a} {b}"),
                (a, b) => assert_eq!(a, b, "{track} {reading}"),
            }
            compared += 1;
        }
    }
    println!("{compared} nodes, {in_the_way} times the clamp was in the way");
    assert!(in_the_way >= 3 && compared >= stations.len());
}

/// Margins of the map over elevations at the point's own −80 degrees, by track.
fn at_its_elevation(folder: &Folder, stem: &str, tracks: &str, more: &[&str]) -> Vec<(f64, Value)> {
    with_the_asked(folder, stem, tracks, more).0
}

/// The same, and what the map says of the elevation asked for.
fn with_the_asked(
    folder: &Folder,
    stem: &str,
    tracks: &str,
    more: &[&str],
) -> (Vec<(f64, Value)>, Value) {
    let stem = folder.path(stem);
    let stem = stem.to_str().unwrap();
    let given = ["reach", "--as-drawn", "--json", "--point", "edge"];
    let map = folder
        .run([&given[..], &["--track", tracks, "--map", stem], more].concat())
        .json();
    assert_eq!(map["rows_are"], "elevation");
    let (columns, rows) = (numbers(&map["track"]), numbers(&map["rows"]));
    let row = rows.iter().position(|e| (e + 80.0).abs() < 1e-9).unwrap();
    let margins = columns.iter().enumerate();
    let margins = margins
        .map(|(i, track)| (*track, map["margin_deg"][row * columns.len() + i].clone()))
        .collect();
    (margins, map["asked"].clone())
}

#[test]
fn the_map_over_elevations_agrees_at_the_elevation_of_the_point() {
    let folder = beside_the_clamp();
    let (_, point) = reach(&folder, &["--point", "edge", "--track", "400:700:50"]);
    let (map, asked) = with_the_asked(&folder, "all", "400:700:50", &[]);
    // The best on the line is the best of `reach`, and the largest value of the map's row.
    assert!((number(&asked["elevation_deg"]) + 80.0).abs() < 1e-9);
    let best = &asked["best"];
    assert_eq!(best["track"], point["best"]["track"]);
    let margin = number(&best["margin_deg"]);
    let told = number(&point["best"]["margins"]["limit_margin_deg"]);
    assert!((margin - told).abs() < 1e-9, "{margin} {told}");
    let most = map.iter().filter_map(|(_, m)| m.as_f64());
    assert!((most.fold(0.0, f64::max) - margin).abs() < 1e-9);
    let mut met = 0;
    for (track, told) in map {
        let mut stations = point["stations"].as_array().unwrap().iter();
        let station = stations.find(|s| number(&s["track"]) == track);
        let solutions = station.map(|s| s["solutions"].as_array().unwrap().clone());
        let clear = solutions.iter().flatten();
        let best = clear
            .filter(|s| number(&s["clearance_mm"]) >= 8.0)
            .map(|s| number(&s["limit_margin_deg"]))
            .reduce(f64::max);
        match (told.as_f64(), best) {
            (Some(a), Some(b)) => assert!((a - b).abs() < 1e-9, "{track}: {a} {b}"),
            (a, b) => assert_eq!(a, b, "{track}"),
        }
        met += usize::from(best.is_some());
    }
    assert!(met >= 3, "{met}");
}

#[test]
fn the_map_over_elevations_keeps_to_the_table_asked_for() {
    // The clamp stands at the point with the table at -90; `reach` says so of track 550.
    let folder = beside_the_clamp();
    let away = at_its_elevation(&folder, "away", "550", &["--table=90"]);
    assert!(away[0].1.is_number(), "{away:?}");
    let there = at_its_elevation(&folder, "there", "550", &["--table=-90"]);
    assert!(there[0].1.is_null(), "{there:?}");
}

#[test]
fn with_the_table_held_the_clamp_stands_in_the_way() {
    let folder = beside_the_clamp();
    // By hand: the clamp's middle is at 0 degrees of the platter, the point at 270 from its centre.
    let at = |table: &str| {
        let table = format!("--table={table}");
        reach(&folder, &["--point", "edge", "--track", "550", &table]).1
    };
    let (in_the_way, turned) = (at("-90"), at("90"));
    assert_eq!(in_the_way["reachable"], false);
    assert!(in_the_way["best"].is_null());
    for s in in_the_way["stations"][0]["solutions"].as_array().unwrap() {
        assert!(number(&s["clearance_mm"]) < 8.0);
        assert_eq!(s["clearance_to"], "the keep-out clamp");
    }
    assert_eq!(turned["reachable"], true);
}

#[test]
fn the_best_pair_is_a_clear_one() {
    let folder = glaze_line();
    let (_, free) = reach(&folder, &["--point", "rim_1"]);
    let places = |point: &Value| -> Vec<Value> {
        let curves = point["pairs"].as_array().expect("pairs").iter();
        curves
            .flat_map(|c| c["places"].as_array().unwrap().clone())
            .collect()
    };
    let cell = cell_of(&folder);
    for p in places(&free) {
        let near = nearest(
            &cell,
            number(&p["track"]),
            number(&p["table"]),
            &p["joints"],
        );
        assert!(
            (near.clearance_mm - number(&p["clearance_mm"])).abs() < 1e-9,
            "{p}"
        );
    }
    // A ceiling into which the elbow of the pair with the largest margin goes.
    let most = |list: &[Value]| -> Value {
        let margin = |p: &&Value| number(&p["limit_margin_deg"]);
        let best = list.iter().max_by(|a, b| margin(a).total_cmp(&margin(b)));
        best.expect("a pair").clone()
    };
    let best = most(&places(&free));
    let folder = with_ceiling(elbow_mm(&best["joints"]) + 35.0);
    let (_, point) = reach(&folder, &["--point", "rim_1"]);
    let all = places(&point);
    let clear: Vec<Value> = all
        .iter()
        .filter(|p| number(&p["clearance_mm"]) >= 8.0)
        .cloned()
        .collect();
    println!("{} of {} pairs are clear", clear.len(), all.len());
    assert!(!clear.is_empty() && clear.len() < all.len());
    let (wide, named) = (most(&all), most(&clear));
    assert!(number(&wide["clearance_mm"]) < 8.0, "{wide}");
    assert_eq!(point["best"]["joints"], named["joints"]);
    assert!(number(&point["best"]["margins"]["clearance_mm"]) >= 8.0);
}

#[test]
fn the_margins_of_the_best_are_those_of_the_file_and_of_the_clearance_library() {
    let folder = glaze_line();
    let cell = cell_of(&folder);
    let answer = folder.run([
        "reach",
        "--as-drawn",
        "--json",
        "--track",
        "0:900:60",
        "--table=-180:150:30",
    ]);
    let document = answer.json();
    let mut seen = 0;
    for point in document["points"].as_array().unwrap() {
        let best = &point["best"];
        if best.is_null() {
            continue;
        }
        let margins = &best["margins"];
        let (by_hand, joint, upper) = limit_margin(&cell, &best["joints"]);
        assert!(
            (number(&margins["limit_margin_deg"]) - by_hand).abs() < 1e-9,
            "{best}"
        );
        assert_eq!(margins["limit_joint"], format!("j{}", joint + 1));
        assert_eq!(margins["limit"], if upper { "upper" } else { "lower" });
        let track = number(&best["track"]);
        let near = match best["table"].as_f64() {
            Some(table) => nearest(&cell, track, table, &best["joints"]).clearance_mm,
            // A point of the plate: at the reading that leaves most room.
            None => (0..12)
                .map(|k| -180.0 + 30.0 * f64::from(k))
                .map(|t| nearest(&cell, track, t, &best["joints"]).clearance_mm)
                .fold(f64::NEG_INFINITY, f64::max),
        };
        let told = number(&margins["clearance_mm"]);
        assert!(
            (told - near).abs() < 1e-9,
            "{}: {told} {near}",
            point["name"]
        );
        assert!(told >= 8.0);
        // No clear posture of any station listed has more margin.
        for station in point["stations"].as_array().unwrap() {
            for s in station["solutions"].as_array().unwrap() {
                let clear = number(&s["clearance_mm"]) >= 8.0;
                assert!(!clear || number(&s["limit_margin_deg"]) <= by_hand + 1e-9);
            }
        }
        seen += 1;
    }
    assert_eq!(seen, 18);
}
