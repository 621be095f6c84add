//! recheck, register --moved, compare and transfer through the whole program.

#[path = "sentences/mod.rs"]
mod sentences;

use std::fs;
use std::path::Path;

use serde_json::Value;

use sentences::Folder;

/// The half-year bench, registered from its readings of September.
fn september() -> Folder {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/shifted-track");
    let folder = Folder::copy_of(&root);
    let set = at(&folder, "2026-09");
    let answer = folder.run(["register", "--readings", &set, "--taken", "2026-09-01"]);
    assert_eq!(answer.status, 0, "{}", answer.err);
    folder
}

fn at(folder: &Folder, name: &str) -> String {
    folder.path(name).display().to_string()
}

/// The status and the document that a command prints with `--json`.
fn document(folder: &Folder, arguments: &[&str]) -> (i32, Value) {
    let arguments = [arguments, &["--json"]].concat();
    let answer = folder.run(&arguments);
    let json = serde_json::from_str(&answer.out);
    (
        answer.status,
        json.unwrap_or_else(|e| panic!("{e}: {}{}", answer.out, answer.err)),
    )
}

/// The true values after the move, from truth.json and the move that the generator makes (shifted.rs).
const MOVED: [(&str, f64); 3] = [
    ("track.x", 153.4 + 50.6),
    ("track.y", 97.6 - 0.9),
    ("track.yaw", 0.42 + 0.21),
];

fn files(folder: &Folder) -> Vec<(String, Vec<u8>)> {
    let mut found = Vec::new();
    let mut open = vec![folder.root().to_owned()];
    while let Some(at) = open.pop() {
        for entry in fs::read_dir(at).unwrap() {
            let path = entry.unwrap().path();
            match path.is_dir() {
                true => open.push(path),
                false => found.push((path.display().to_string(), fs::read(&path).unwrap())),
            }
        }
    }
    found.sort();
    found
}

#[test]
fn a_recheck_that_holds_says_what_it_would_have_noticed() {
    let folder = september();
    // Readings of May against the registration of March.
    assert_eq!(folder.run(["register", "--taken", "2026-03-02"]).status, 0);
    let answer = folder.run([
        "recheck",
        "--readings",
        &at(&folder, "2026-05"),
        "--no-record",
    ]);
    assert_eq!(answer.status, 0, "{}{}", answer.out, answer.err);
    assert!(
        answer.out.starts_with("STILL HOLDS: worst "),
        "{}",
        answer.out
    );
    assert!(
        answer.out.contains("They do not look at: j5."),
        "{}",
        answer.out
    );
    let (status, json) = document(
        &folder,
        &[
            "recheck",
            "--readings",
            &at(&folder, "2026-05"),
            "--no-record",
        ],
    );
    assert_eq!((status, &json["holds"]), (0, &Value::from(true)));
    let roll = json["notices"]
        .as_array()
        .unwrap()
        .iter()
        .find(|n| n["part"] == "j5")
        .unwrap();
    // The pin stands on joint 5's axis: no touch can see its turn.
    assert_eq!(roll["looked_at"], false);
    assert!(!folder.root().join("records/recheck-0001.json").exists());
}

#[test]
fn a_track_moved_by_a_hole_is_found_and_told_apart() {
    let folder = september();
    let found = at(&folder, "2026-11-found");
    let (status, json) = document(&folder, &["recheck", "--readings", &found]);
    assert_eq!(status, 1);
    let first = &json["explanations"][0];
    assert_eq!(first["parts"], serde_json::json!(["track"]));
    assert_eq!(first["whole_holes"], serde_json::json!([1, 0]));
    // From three touches and a notch the foot on the carriage explains them as well.
    assert_eq!(json["decided"], false);
    assert_eq!(
        json["explanations"][1]["parts"],
        serde_json::json!(["mount"])
    );
    assert_eq!(json["deciding"][0]["decides"], true);
    assert_eq!(json["deciding"][0]["file"], "holes.csv");
    // As found, kept; the readings are in it.
    let kept = fs::read_to_string(folder.root().join("records/recheck-0001.json")).unwrap();
    assert!(kept.contains("pin_a,60"), "{kept}");
    // The six readings of afterwards hold counts too: no doubt is left.
    let (_, json) = document(
        &folder,
        &["recheck", "--readings", &at(&folder, "2026-11-after")],
    );
    assert_eq!(
        (&json["decided"], &json["explanations"][0]["parts"][0]),
        (&Value::from(true), &Value::from("track"))
    );
}

#[test]
fn registering_what_moved_finds_the_truth_and_leaves_the_rest() {
    let folder = september();
    let before = document(
        &folder,
        &[
            "register",
            "--readings",
            &at(&folder, "2026-09"),
            "--no-record",
        ],
    )
    .1;
    let inputs = files(&folder);
    let arguments = [
        "register",
        "--moved",
        "track",
        "--readings",
        &at(&folder, "2026-11-after"),
    ];
    let (status, json) = document(&folder, &arguments);
    assert_eq!((status, &json["verdict"]), (0, &Value::from("accepted")));
    let value = |json: &Value, name: &str| {
        let list = json["parameters"].as_array().unwrap().iter();
        let p = list.clone().find(|p| p["name"] == name).unwrap();
        (
            p["value"].as_f64().unwrap(),
            p["u"].as_f64().unwrap(),
            p["nominal"].as_f64().unwrap(),
        )
    };
    for (name, truth) in MOVED {
        let (found, u, _) = value(&json, name);
        assert!(
            (found - truth).abs() < 3.3 * u,
            "{name}: {found} ± {u}, true {truth}"
        );
    }
    // The drawing stays the drawing.
    assert_eq!(value(&json, "track.x").2, 150.0);
    for p in before["parameters"].as_array().unwrap() {
        let name = p["name"].as_str().unwrap();
        if ["track.x", "track.y", "track.z", "track.yaw"].contains(&name) {
            continue;
        }
        let (was, u_was, _) = value(&before, name);
        let (is, u_is, _) = value(&json, name);
        // Six readings can hardly shake what fifty have settled, and never make it less sure.
        assert!(
            (is - was).abs() < 3.3 * u_was && u_is <= u_was * (1.0 + 1e-9),
            "{name}"
        );
    }
    let unused = json["moved"]["no_longer_count"].as_array().unwrap();
    let file = |name: &str| unused.iter().find(|u| u["file"] == name);
    // Counts and touches stood on the track; notches did not.
    assert!(file("2026-09/holes.csv").is_some() && file("2026-09/touch.csv").is_some());
    assert!(file("2026-09/notch.csv").is_none(), "{unused:?}");
    for (path, bytes) in inputs {
        if !path.contains("/records/") {
            assert_eq!(fs::read(&path).unwrap(), bytes, "{path} was written to");
        }
    }
}

#[test]
fn a_disturbed_joint_takes_along_what_is_set_after_it() {
    let folder = september();
    let set = at(&folder, "2026-06");
    let (_, json) = document(
        &folder,
        &[
            "register",
            "--moved",
            "j2",
            "--readings",
            &set,
            "--no-record",
        ],
    );
    // Order of setting: roll (5), base (1), shoulder (2), elbow (3), wrist (4).
    assert_eq!(json["moved"]["followed"], serde_json::json!(["j3", "j4"]));
    assert_eq!(
        json["moved"]["freed"],
        serde_json::json!(["arm.j2.zero", "arm.j3.zero", "arm.j4.zero"])
    );
    let only = [
        "register",
        "--moved",
        "j2",
        "--only",
        "--readings",
        &set,
        "--no-record",
    ];
    let (_, json) = document(&folder, &only);
    assert_eq!(json["moved"]["freed"], serde_json::json!(["arm.j2.zero"]));
}

#[test]
fn old_readings_never_put_back_what_moved() {
    let folder = september();
    let after = at(&folder, "2026-11-after");
    // The readings of September stand in the folder readings, as most people keep them.
    for file in ["holes.csv", "notch.csv", "touch.csv"] {
        let text = fs::read_to_string(folder.root().join("2026-09").join(file)).unwrap();
        folder.write(&format!("readings/{file}"), &text);
    }
    assert_eq!(folder.run(["register"]).status, 0);
    assert_eq!(
        folder
            .run(["register", "--moved", "track", "--readings", &after])
            .status,
        0
    );
    let answer = folder.run(["register"]);
    assert_eq!(answer.status, 2);
    assert!(
        answer.err.contains("were taken before track moved"),
        "{}",
        answer.err
    );
    assert!(
        !folder
            .root()
            .join("records/registration-0004.json")
            .exists()
    );
    assert_eq!(folder.run(["register", "--afresh"]).status, 0);
}

#[test]
fn readings_held_against_themselves_are_refused() {
    let folder = september();
    let answer = folder.run(["recheck", "--readings", &at(&folder, "2026-09")]);
    assert_eq!(answer.status, 2);
    assert!(answer.err.contains("held against"), "{}", answer.err);
}

#[test]
fn bad_sets_and_names_are_answered() {
    let folder = september();
    for (arguments, told) in [
        (vec!["recheck"], "recheck"),
        (vec!["recheck", "--readings", "nowhere"], "nowhere"),
        (vec!["register", "--moved", "trakc"], "write track"),
        (vec!["register", "--moved", "j9"], "expected a part"),
        (vec!["transfer", "--record", "nowhere.json"], "nowhere.json"),
        (vec!["transfer", "--from", "17"], "registration-0001.json"),
        (vec!["transfer", "--point", "rack_pik"], "rack_pick"),
        (vec!["transfer", "--track", "1e999"], "controller"),
    ] {
        let answer = folder.run(&arguments);
        assert_eq!(answer.status, 2, "{arguments:?}: {}", answer.out);
        assert!(answer.err.contains(told), "{arguments:?}: {}", answer.err);
    }
    folder.write("monday/hole.csv", "feature\n");
    let answer = folder.run(["recheck", "--readings", "monday"]);
    assert!(
        answer.status == 2 && answer.err.contains("monday/hole.csv"),
        "{}",
        answer.err
    );
}

#[test]
fn two_records_are_compared_in_either_order() {
    let folder = september();
    folder.run(["recheck", "--readings", &at(&folder, "2026-11-found")]);
    folder.run([
        "register",
        "--moved",
        "track",
        "--readings",
        &at(&folder, "2026-11-after"),
    ]);
    let root = folder.root().display().to_string();
    let compare = |what: &[&str]| {
        let arguments: Vec<&str> = ["compare", &root, what[0], what[1], "--json"].to_vec();
        let answer = sentences::run(&arguments);
        let json: Value = serde_json::from_str(&answer.out).expect("JSON");
        (answer.status, json)
    };
    let (status, json) = compare(&["1", "2"]);
    assert_eq!((status, &json["changed"]), (1, &Value::from(true)));
    let of = |json: &Value, name: &str| {
        let list = json["parameters"].as_array().unwrap().iter();
        list.clone().find(|p| p["name"] == name).unwrap().clone()
    };
    let x = of(&json, "track.x");
    let (change, u) = (x["change"].as_f64().unwrap(), x["u"].as_f64().unwrap());
    assert!((change - 50.6).abs() < 3.3 * u, "{change} ± {u}");
    assert_eq!(x["verdict"], "real");
    assert_eq!(of(&json, "turntable.x")["verdict"], "same");
    // Every point stands elsewhere by the hole and a little.
    for p in json["points"].as_array().unwrap() {
        let (d, u) = (
            p["distance_mm"].as_f64().unwrap(),
            p["u95_mm"].as_f64().unwrap(),
        );
        assert!(
            (d - 50.0).abs() < 3.0 && u < 3.0 && p["real"] == true,
            "{p}"
        );
    }
    // As found against as left: the same move seen twice, nothing between them.
    let (status, json) = compare(&["recheck-0001.json", "registration-0002.json"]);
    assert_eq!(
        (status, &json["changed"]),
        (0, &Value::from(false)),
        "{json}"
    );
}

#[test]
fn points_are_carried_into_a_new_file_and_nothing_is_overwritten() {
    let folder = september();
    folder.run([
        "register",
        "--moved",
        "track",
        "--readings",
        &at(&folder, "2026-11-after"),
    ]);
    let out = at(&folder, "taught-after.csv");
    let answer = folder.run(["transfer", "--from", "1", "--out", &out]);
    // An arm of five joints cannot keep its tool's azimuth from there: that is said, and needs a look.
    assert_eq!(answer.status, 1, "{}{}", answer.out, answer.err);
    assert!(
        answer.out.contains("the tool stands turned by"),
        "{}",
        answer.out
    );
    let text = fs::read_to_string(&out).unwrap();
    let header = text.lines().find(|l| !l.starts_with('#')).unwrap();
    assert_eq!(header, "name,frame,track,table,j1,j2,j3,j4,j5,record");
    let again = folder.run(["transfer", "--from", "1", "--out", &out]);
    again.ends(2).complains("nothing is overwritten");
    assert_eq!(fs::read_to_string(&out).unwrap(), text);
    // Taken in the place of taught.csv, the new file needs no transfer any more.
    folder.write("taught.csv", &text);
    let (status, json) = document(&folder, &["transfer"]);
    assert_eq!(status, 0, "{json}");
    for p in json["points"].as_array().unwrap() {
        assert!(p["miss_distance_mm"].as_f64().unwrap() < 1e-6, "{p}");
        assert_eq!(p["known"], "as taught.csv says");
        assert!(
            p["taught_under"]
                .as_str()
                .unwrap()
                .starts_with("registration-0002.json")
        );
    }
}

#[test]
fn without_a_word_the_record_of_a_taught_point_is_assumed_and_said() {
    let folder = september();
    folder.run([
        "register",
        "--moved",
        "track",
        "--readings",
        &at(&folder, "2026-11-after"),
    ]);
    let (status, json) = document(&folder, &["transfer"]);
    assert_eq!(status, 1);
    let p = &json["points"][0];
    assert!(
        p["taught_under"]
            .as_str()
            .unwrap()
            .starts_with("registration-0001.json"),
        "{p}"
    );
    assert!(p["known"].as_str().unwrap().starts_with("assumed"));
    let look = json["look"].as_array().unwrap();
    let settles = |l: &Value| {
        l.as_str()
            .unwrap()
            .contains("the column record of taught.csv settles it")
    };
    assert!(look.iter().any(settles), "{look:?}");
}
