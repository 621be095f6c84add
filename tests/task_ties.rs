//! Tasks whose steps are tied to one another: table and track held, turned short ways, every way held
//! against dense samples.

mod sentences;
mod task_support;

use sentences::Folder;
use serde_json::Value;
use task_support::*;

#[test]
fn a_table_that_is_free_serves_the_step_that_holds_it() {
    let folder = glaze_line();
    // A rim point is met only at pairs: the step after it must take one of its tables; and the other
    // way round, the first must take one of the second's.
    for rows in [
        "rim_1,30,30,tool,,\nspot_1,30,30,tool,,same\n",
        "spot_1,30,30,tool,,\nrim_2,30,30,tool,,same\n",
        "spot_1,30,30,tool,,\nrim_2,30,30,tool,same,same\n",
        "rim_1,30,30,tool,,\nspot_1,30,30,tool,,same\nspot_2,30,30,tool,,same\n",
    ] {
        let document = plan(&folder, rows, &[]);
        all_possible(&document);
        for k in 1..steps(&document).len() {
            let (a, b) = (table(&document, 0), table(&document, k));
            assert!((a - b).abs() < 1e-9, "{rows}: {a} {b}");
        }
        if rows.contains("same,same") {
            assert_eq!(steps(&document)[0]["track"], steps(&document)[1]["track"]);
        }
    }
}

#[test]
fn a_rim_point_is_refused_at_a_table_reading_that_is_not_its_own() {
    // Rim 1 from track 90 meets its azimuth at one reading, which is not 0; the step after it, which
    // holds the same reading, is done all the same.
    let folder = glaze_line();
    let rows = "rim_1,30,30,tool,90,0\nspot_1,30,30,tool,,0\n";
    let document = plan(&folder, rows, &[]);
    assert_eq!(steps(&document)[0]["possible"], false);
    assert_eq!(steps(&document)[1]["possible"], true);
    assert_eq!(table(&document, 1), 0.0);
}

#[test]
fn after_a_step_that_cannot_be_done_there_is_nothing_to_be_tied_to() {
    let folder = glaze_line();
    let rows =
        "pot,30,30,up,,\nspot_1,420,30,tool,,\nspot_2,30,30,tool,,same\nspot_3,30,30,tool,,same\n";
    let document = plan(&folder, rows, &[]);
    let s = steps(&document);
    assert_eq!(s[1]["possible"], false);
    for k in [0, 2, 3] {
        assert_eq!(s[k]["possible"], true, "{}", s[k]);
    }
    // The two after it are tied to each other.
    assert!((table(&document, 2) - table(&document, 3)).abs() < 1e-9);
}

#[test]
fn the_same_of_a_track_held_after_a_step_that_cannot_be_done() {
    let folder = glaze_line();
    // From 600 spot 2 is done (without the first row it is); it has nothing to do with the pot's 90.
    let rows = "spot_1,420,30,tool,,\nspot_2,30,30,tool,same,\n";
    assert_eq!(steps(&plan(&folder, rows, &[]))[1]["possible"], true);
    let rows = "pot,30,30,up,90,\nspot_1,420,30,tool,,\nspot_2,30,30,tool,same,\n";
    assert_eq!(steps(&plan(&folder, rows, &[]))[2]["possible"], true);
    let rows = "pot,30,30,up,,\nshelf_low,30,30,up,600,\nspot_2,30,30,tool,same,\nspot_3,30,30,tool,same,\n";
    let document = plan(&folder, rows, &[]);
    let s = steps(&document);
    assert_eq!(s[1]["possible"], false);
    for k in [0, 2, 3] {
        assert_eq!(s[k]["possible"], true, "{}", s[k]);
    }
    assert_eq!(s[2]["track"], s[3]["track"]);
}

#[test]
fn a_point_of_the_plate_between_keeps_the_table_where_it_is() {
    let folder = glaze_line();
    for first in ["", "30"] {
        let rows =
            format!("spot_1,30,30,tool,,{first}\npot,30,30,up,,same\nspot_2,30,30,tool,,same\n");
        let document = plan(&folder, &rows, &[]);
        all_possible(&document);
        let held = table(&document, 0);
        if first == "30" {
            assert!((held - 30.0).abs() < 1e-9, "{held}");
        }
        let pot = steps(&document)[1]["table"].as_f64();
        assert!(
            pot.is_none_or(|t| (t - held).abs() < 1e-9),
            "{pot:?} {held}"
        );
        assert!((table(&document, 2) - held).abs() < 1e-9);
    }
}

#[test]
fn a_track_that_is_held_everywhere_is_no_reason_to_refuse() {
    let folder = glaze_line();
    for held in [
        ["90", "550", "90", "880"],
        ["93.7", "547.3", "88.1", "881.9"],
    ] {
        let rows = format!(
            "pot,30,30,up,{},\nspot_1,30,30,tool,{},\nrim_1,30,30,tool,{},\nwash,30,30,up,{},\n",
            held[0], held[1], held[2], held[3]
        );
        let document = plan(&folder, &rows, &[]);
        all_possible(&document);
        for (step, held) in steps(&document).iter().zip(held) {
            let held: f64 = held.parse().unwrap();
            assert!((step["track"].as_f64().unwrap() - held).abs() < 1e-9);
        }
        for way in document["ways"].as_array().unwrap() {
            assert_eq!(way["state"], "clear", "{way}");
        }
    }
}

#[test]
fn a_joint_that_turns_more_than_once_round_goes_the_short_way() {
    // Two points behind the arm at bearings ±177 degrees of joint 1, seen from the base at (600, 100).
    let folder = glaze_line();
    let aside = 300.0 * 3f64.to_radians().sin();
    let x = 600.0 - 300.0 * 3f64.to_radians().cos();
    let text = format!(
        "name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg\n\
         left,plate,{x:.9},{:.9},90,-80,,\nright,plate,{x:.9},{:.9},90,-80,,\n",
        100.0 + aside,
        100.0 - aside
    );
    let cell = folder.read("cell.toml");
    let go = |limits: &str| {
        let folder = glaze_line();
        folder.write("points.csv", &text);
        assert_eq!(cell.matches("[-165, 165]").count(), 1);
        folder.write("cell.toml", &cell.replace("[-165, 165]", limits));
        let rows = "left,20,20,up,450,\nright,20,20,up,450,\nleft,20,20,up,450,\n";
        plan(&folder, rows, &[])
    };
    let document = go("[-350, 350]");
    all_possible(&document);
    let first = |document: &Value, k: usize| numbers(&steps(document)[k]["joints"])[0];
    for k in 0..2 {
        let turned = (first(&document, k) - first(&document, k + 1)).abs();
        assert!((turned - 6.0).abs() < 1e-6, "{turned}");
    }
    // With no more than one turn it has to go round, unless it reaches over its back.
    let document = go("[-178, 178]");
    let ahead = |k: usize| {
        steps(&document)[k]["posture"]
            .as_str()
            .map(|p| p.contains("ahead"))
    };
    println!("{:?} {:?}", ahead(0), ahead(1));
    if ahead(0) == Some(true) && ahead(1) == Some(true) {
        let turned = (first(&document, 0) - first(&document, 1)).abs();
        assert!((turned - 354.0).abs() < 1e-6, "{turned}");
    }
}

#[test]
fn readings_of_a_table_without_end_follow_on() {
    let folder = glaze_line();
    let round = "rim_1,30,30,tool,,\nrim_2,30,30,tool,,\nrim_3,30,30,tool,,\nrim_4,30,30,tool,,\n";
    let document = plan(&folder, &round.repeat(3), &[]);
    all_possible(&document);
    assert_eq!(document["table_without_end"], true);
    let turns: Vec<f64> = (0..12).map(|k| table(&document, k)).collect();
    for w in turns.windows(2) {
        assert!((w[1] - w[0]).abs() <= 180.0 + 1e-9, "{turns:?}");
    }
    // The rim's points follow one another by quarters of a turn: three rounds leave one turn.
    let span = |t: &[f64]| {
        let least = t.iter().copied().fold(f64::INFINITY, f64::min);
        t.iter().copied().fold(f64::NEG_INFINITY, f64::max) - least
    };
    println!("{turns:?}: {} degrees", span(&turns));
    assert!(span(&turns) > 360.0, "{turns:?}");
    // Readings that are given stay as they are, the long way round too; the way is proved for that.
    let rows = "spot_1,30,30,tool,,0\nspot_2,30,30,tool,,350\nspot_3,30,30,tool,,\nspot_4,30,30,tool,,same\n";
    let document = plan(&folder, rows, &[]);
    all_possible(&document);
    assert_eq!((table(&document, 0), table(&document, 1)), (0.0, 350.0));
    assert!((table(&document, 2) - 350.0).abs() <= 180.0 + 1e-9);
    assert!((table(&document, 3) - table(&document, 2)).abs() < 1e-9);
    for way in document["ways"].as_array().unwrap() {
        let (a, b) = (&way["from_step"], &way["to_step"]);
        let t = |s: &Value| table(&document, s.as_u64().unwrap() as usize - 1);
        let moved = way["table_move"].as_f64().unwrap();
        assert!((moved - (t(b) - t(a))).abs() < 1e-9, "{way}");
    }
}

/// What a row's cell holds, changed as is said to help; then the whole task again.
fn helped(folder: &Folder, rows: &[&str], step: &Value, help: &Value) -> Option<bool> {
    let slot = match help["change"].as_str().unwrap() {
        "approach" => 1,
        "depart" => 2,
        "track" => 4,
        "table" => 5,
        _ => return None,
    };
    let index = step["step"].as_u64().unwrap() as usize - 1;
    let mut rows: Vec<String> = rows.iter().map(|r| (*r).to_owned()).collect();
    let mut cells: Vec<String> = rows[index].split(',').map(str::to_owned).collect();
    cells[slot] = format!("{:.6}", number(&help["value"]));
    rows[index] = cells.join(",");
    let document = plan(folder, &(rows.join("\n") + "\n"), &[]);
    Some(steps(&document)[index]["possible"] == true)
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

/// Rim 1 from track 90 and spot 1 from 550 with the table where it was.
const FROM_ELSEWHERE: [&str; 3] = [
    "rim_1,30,30,tool,90,",
    "spot_1,30,30,tool,550,same",
    "spot_2,30,30,tool,550,",
];

#[test]
fn a_table_held_from_another_track_position_is_found() {
    let folder = glaze_line();
    let rows = FROM_ELSEWHERE[..2].join("\n") + "\n";
    // By trying: rim 1 from track 90 meets its azimuth at one reading; spot 1 is done with it from 550.
    let rim = table(&plan(&folder, "rim_1,30,30,tool,90,\n", &[]), 0);
    let spot = format!("spot_1,30,30,tool,550,{rim:.9}\n");
    all_possible(&plan(&folder, &spot, &[]));
    for rows in [
        rows,
        "spot_1,30,30,tool,550,\nrim_1,30,30,tool,90,same\n".to_owned(),
    ] {
        all_possible(&plan(&folder, &rows, &[]));
    }
}

#[test]
fn the_way_past_a_step_that_is_left_out_is_told() {
    // From track 90 the two rim points meet their azimuths with the table a quarter turn apart: the third
    // step is left out.
    let folder = glaze_line();
    let rows = "rim_1,30,30,tool,90,0\nrim_2,30,30,tool,90,\nrim_1,30,30,tool,90,same\nspot_2,30,30,tool,550,\n";
    let document = plan(&folder, rows, &[]);
    let s = steps(&document);
    let done: Vec<u64> = s
        .iter()
        .filter(|s| s["possible"] == true)
        .map(|s| s["step"].as_u64().unwrap())
        .collect();
    assert_eq!(done, [2, 4], "{document}");
    let ways = document["ways"].as_array().unwrap();
    assert_eq!(ways.len(), 1);
    assert_eq!(
        (&ways[0]["from_step"], &ways[0]["to_step"]),
        (&2.into(), &4.into())
    );
}

#[test]
fn what_is_said_to_help_a_step_that_is_tied_helps() {
    let folder = glaze_line();
    let (mut tried, mut idle) = (0, Vec::new());
    for rows in [
        &FROM_ELSEWHERE[..],
        &[
            "pot,30,30,up,90,",
            "spot_1,420,30,tool,,",
            "spot_2,30,30,tool,same,",
        ],
        &["rim_1,30,30,tool,90,", "rim_2,30,30,tool,90,same"],
        &["spot_1,30,30,tool,90,0", "wash,50,50,up,same,"],
    ] {
        let document = plan(&folder, &(rows.join("\n") + "\n"), &[]);
        for step in steps(&document).iter().filter(|s| s["possible"] == false) {
            for help in step["would_help"].as_array().unwrap() {
                if let Some(helps) = helped(&folder, rows, step, help) {
                    println!("{}: {} {helps}", step["point"], help["sentence"]);
                    if !helps {
                        idle.push(format!("{rows:?}: {help}"));
                    }
                    tried += 1;
                }
            }
        }
    }
    assert!(tried >= 3, "{tried}");
    assert!(idle.is_empty(), "{idle:?}");
}
