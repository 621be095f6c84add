//! `notchpin history` on cells with several registrations: copies of a demo cell whose readings are changed.

mod sentences;

use std::path::Path;

use notchpin::records;
use notchpin::records::Link;
use notchpin::records::Moved;
use notchpin::records::Share;
use sentences::Folder;
use sentences::flat;
use sentences::small::narrow;
use serde_json::Value;
use serde_json::json;

/// What has changed since the demo cell's readings were taken.
#[derive(Debug, Clone, Copy, Default)]
struct Since {
    /// The track moved along x, mm.
    track_x_mm: f64,
    /// The table's lost motion grew, degrees.
    table_play_deg: f64,
}

fn bench() -> Folder {
    Folder::copy_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glazing-bench"))
}

/// Writes the demo cell's readings as they would be taken another day: each figure differs by a little (0.02
/// in the last session, far below the stated u), so that no row is the same, and by what has changed.
fn take(folder: &Folder, session: u32, since: Since) {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glazing-bench/readings");
    let little = 0.004 * f64::from(session);
    for (file, column) in [
        ("holes.csv", "gap_mm"),
        ("notch.csv", "table"),
        ("touch.csv", "j1"),
        ("attitude.csv", "angle_deg"),
        ("height.csv", "height_mm"),
    ] {
        let text = std::fs::read_to_string(source.join(file)).unwrap();
        let mut lines = text.lines().filter(|l| !l.starts_with('#'));
        let header: Vec<&str> = lines.next().unwrap().split(',').collect();
        let at = |name: &str| header.iter().position(|h| *h == name).unwrap();
        let mut out = header.join(",");
        for (k, line) in lines.enumerate() {
            let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
            let mut add = |column: usize, by: f64| {
                let value = cells[column].parse::<f64>().unwrap_or(0.0);
                cells[column] = format!("{:.5}", value + by);
            };
            add(at(column), if k % 2 == 0 { little } else { -little });
            let turn = |sense: &str| match sense {
                "ccw" => since.table_play_deg / 2.0,
                "cw" => -since.table_play_deg / 2.0,
                _ => 0.0,
            };
            let original: Vec<&str> = line.split(',').collect();
            match file {
                // What stood at a place stands further on now, and the same reading brings the tip further.
                "holes.csv" if original[at("along")] == "column" => {
                    add(at("gap_mm"), since.track_x_mm)
                }
                "touch.csv" => {
                    add(at("dx_mm"), since.track_x_mm);
                    let table = at("table");
                    if !original[table].is_empty() {
                        // The same angle of the platter needs half the growth more, from either side.
                        add(table, turn(original[at("approach_table")]));
                    }
                }
                "notch.csv" => add(at("table"), turn(original[at("approach")])),
                _ => {}
            }
            out = format!("{out}\n{}", cells.join(","));
        }
        folder.write(&format!("readings/{file}"), &format!("{out}\n"));
    }
}

fn register(folder: &Folder, day: &str) {
    folder.run(["register", "--taken", day]).ends(0);
}

fn set(folder: &Folder, from: &str, to: &str) {
    let text = folder.read("cell.toml");
    assert_eq!(text.matches(from).count(), 1, "{from}");
    folder.write("cell.toml", &text.replace(from, to));
}

fn due_days(folder: &Folder, days: u32) {
    set(
        folder,
        "[accept]\n",
        &format!("[accept]\ndue_days = {days}\n"),
    );
}

/// Two registrations of two days in a long gone January and April; the third day is free.
fn two(since: Since) -> Folder {
    let folder = bench();
    take(&folder, 1, Since::default());
    register(&folder, "2020-01-10");
    take(&folder, 2, since);
    register(&folder, "2020-04-19");
    folder
}

fn parameter<'a>(document: &'a Value, name: &str) -> &'a Value {
    let all = document["parameters"].as_array().unwrap();
    all.iter().find(|p| p["name"] == name).unwrap()
}

fn drifting(document: &Value) -> Vec<&str> {
    let all = document["parameters"].as_array().unwrap().iter();
    all.filter(|p| p["drift"]["real"] == true)
        .map(|p| p["name"].as_str().unwrap())
        .collect()
}

fn body(folder: &Folder, name: &str) -> records::Body {
    records::read(&folder.read(&format!("records/{name}"))).unwrap()
}

fn link(folder: &Folder, name: &str) -> Link {
    Link {
        file: name.to_owned(),
        sha256: records::digest_in(&folder.read(&format!("records/{name}"))).unwrap(),
    }
}

fn put(folder: &Folder, name: &str, body: &impl serde::Serialize) {
    folder.write(&format!("records/{name}"), &records::write(body).unwrap());
}

const ONE: &str = "registration-0001.json";
const TWO: &str = "registration-0002.json";
const THREE: &str = "registration-0003.json";

#[test]
fn without_records_there_is_nothing_to_read() {
    bench()
        .run(["history"])
        .ends(2)
        .answers_nothing()
        .complains("register");
    let folder = bench().with("records/notes.txt", "hello");
    folder.run(["history", "--json"]).ends(2).answers_nothing();
}

/// 10 January 2020 and 180 days: 21 days are left of January, 29, 31, 30, 31, 30 of the months to June make
/// 172; the 8th of July.
#[test]
fn due_days_count_from_the_newest_record() {
    let folder = bench();
    due_days(&folder, 180);
    register(&folder, "2020-01-10");
    let answer = folder.run(["history"]).ends(1);
    answer
        .says("LOOK: tile glazing bench")
        .says("DUE SINCE 2020-07-08: [accept] due_days");
    let document = folder.run(["history", "--json"]).ends(1).json();
    assert_eq!(document["due"]["day"], "2020-07-08");
    assert_eq!(document["due"]["rule"], "days");
    assert!(document["due"]["days_left"].as_i64().unwrap() < 0);
    set(&folder, "due_days = 180", "due_days = 200000");
    let answer = folder.run(["history"]).ends(0);
    narrow(&answer.out);
    answer
        .says("GOOD: tile glazing bench (invented) Chain whole, 1 record; due by ")
        .says("drift cannot be told before two registrations");
}

#[test]
fn without_a_rule_it_says_how_to_set_one() {
    let folder = bench();
    folder
        .run(["register", "--note", "after the big clean"])
        .ends(0);
    let answer = folder.run(["history"]).ends(0);
    answer
        .says("no rule: set [accept] due_days")
        .says("after the big clean");
}

/// The track moved by 1.2 mm in 100 days (10 January to 19 April 2020, a leap year: 21 + 29 + 31 + 19); all
/// else is as it was, so the tip moves by the same at every point. By hand, from what the records themselves
/// say: with U the largest radius of the points, b the slope and u its uncertainty, the registration is due
/// on the first day n with n b + U + 1.95996 n u > 2 mm.
#[test]
fn a_drift_of_the_track_decides_when_it_is_due() {
    let folder = two(Since {
        track_x_mm: 1.2,
        ..Since::default()
    });
    let document = folder.run(["history", "--json"]).ends(1).json();
    assert_eq!(drifting(&document), ["track.x"]);
    let (before, after) = (body(&folder, ONE), body(&folder, TWO));
    let of = |b: &records::Body| {
        let p = b
            .registration
            .parameters
            .iter()
            .find(|p| p.name == "track.x")
            .unwrap();
        (p.value.unwrap(), p.u.unwrap())
    };
    let ((x1, u1), (x2, u2)) = (of(&before), of(&after));
    assert!((x2 - x1 - 1.2).abs() < 0.02, "{x1} {x2}");
    let (b, u) = ((x2 - x1) / 100.0, u1.hypot(u2) / 100.0);
    let drift = &parameter(&document, "track.x")["drift"];
    assert!((drift["per_month"].as_f64().unwrap() - 30.44 * b).abs() < 1e-9);
    assert!((drift["u95"].as_f64().unwrap() - 30.44 * 1.959_964 * u).abs() < 1e-6);
    let points = after.registration.points.iter().filter_map(|p| p.u95_mm);
    let worst = points.fold(0.0, f64::max);
    let n = (1..)
        .find(|n| f64::from(*n) * (b + 1.959_964 * u) + worst > 2.0)
        .unwrap();
    assert!((10..80).contains(&n), "{n}");
    let due = &document["due"];
    assert_eq!(due["rule"], "drift");
    // From the 19th of April on: 30 April is day 11, 31 May day 42, 30 June day 72.
    let day = match n {
        ..=11 => format!("2020-04-{:02}", 19 + n),
        12..=42 => format!("2020-05-{:02}", n - 11),
        43..=72 => format!("2020-06-{:02}", n - 42),
        _ => format!("2020-07-{:02}", n - 72),
    };
    assert_eq!(due["day"], day.as_str());
    assert!((due["drift_mm"].as_f64().unwrap() - f64::from(n) * b).abs() < 1e-6);
    let known = worst + 1.959_964 * f64::from(n) * u;
    assert!((due["u95_mm"].as_f64().unwrap() - known).abs() < 1e-4);
    let answer = folder.run(["history"]).ends(1);
    narrow(&answer.out);
    answer
        .says("then the predicted drift of the tip at ")
        .says("track.x drifts, nothing else as far as can be told")
        .says("21 parameters were looked at together");
    // The rule that comes first decides.
    due_days(&folder, 5);
    let document = folder.run(["history", "--json"]).ends(1).json();
    assert_eq!(document["due"]["rule"], "days");
    assert_eq!(document["due"]["day"], "2020-04-24");
    assert_eq!(document["due"]["by_drift"], day.as_str());
}

#[test]
fn readings_taken_anew_that_agree_are_no_drift() {
    let folder = two(Since::default());
    due_days(&folder, 200_000);
    let document = folder.run(["history", "--json"]).ends(0).json();
    assert_eq!(drifting(&document), Vec::<&str>::new());
    assert_eq!(document["looked_at"], 21);
    assert_eq!(document["not_counted"], json!([]));
    folder
        .run(["history"])
        .ends(0)
        .says("nothing drifts as far as can be told");
}

/// The table's play grew by 0.5 degrees; its uncertainty is 0.05.
#[test]
fn growing_play_is_wear() {
    let folder = two(Since {
        table_play_deg: 0.5,
        ..Since::default()
    });
    let document = folder.run(["history", "--json"]).json();
    let play = parameter(&document, "turntable.lost_motion");
    assert_eq!(play["drift"]["wear"], true, "{play}");
    let grown = play["drift"]["per_month"].as_f64().unwrap();
    assert!((grown - 0.5 * 30.44 / 100.0).abs() < 0.01, "{grown}");
    let answer = folder.run(["history"]);
    narrow(&answer.out);
    answer
        .says("Wear: turntable.lost_motion grows by")
        .says("WEARS (2 values");
    // Play that becomes less is no wear.
    let folder = two(Since {
        table_play_deg: -0.5,
        ..Since::default()
    });
    let document = folder.run(["history", "--json"]).json();
    let play = parameter(&document, "turntable.lost_motion");
    assert_eq!(play["drift"]["wear"], false, "{play}");
}

/// The same readings registered again say nothing new: the last of the two counts.
#[test]
fn registrations_of_the_same_readings_count_once() {
    let folder = two(Since::default());
    register(&folder, "2020-06-01");
    let document = folder.run(["history", "--json"]).json();
    let x = parameter(&document, "track.x");
    assert_eq!(x["drift"]["records"], json!([1, 3]));
    assert_eq!(x["values"][1]["counts"], false);
    let why = x["values"][1]["why_not"].as_str().unwrap();
    assert!(why.contains("record 3 has too"), "{why}");
    let answer = folder.run(["history"]);
    answer
        .says("Record 2 does not count for drifts")
        .says("* not counted for the drift");
}

/// A few rows that come out the same, as they do by chance, tie nothing: the heights of the first day again
/// do, since they were not read anew.
#[test]
fn single_rows_that_read_the_same_tie_nothing() {
    let folder = bench();
    take(&folder, 1, Since::default());
    register(&folder, "2020-01-10");
    let holes = folder.read("readings/holes.csv");
    let heights = folder.read("readings/height.csv");
    take(&folder, 2, Since::default());
    let mut mixed: Vec<String> = folder
        .read("readings/holes.csv")
        .lines()
        .map(str::to_owned)
        .collect();
    for (k, line) in holes.lines().enumerate().take(6).skip(1) {
        mixed[k] = line.to_owned();
    }
    folder.write("readings/holes.csv", &(mixed.join("\n") + "\n"));
    register(&folder, "2020-04-19");
    let counts = |folder: &Folder| {
        let document = folder.run(["history", "--json"]).json();
        parameter(&document, "track.x")["drift"]["records"].clone()
    };
    assert_eq!(counts(&folder), json!([1, 2]));
    folder.write("readings/height.csv", &heights);
    take_all_but_heights(&folder);
    register(&folder, "2020-08-01");
    assert_eq!(counts(&folder), json!([2, 3]), "of 1 and 3 the last counts");
}

fn take_all_but_heights(folder: &Folder) {
    let heights = folder.read("readings/height.csv");
    take(folder, 3, Since::default());
    folder.write("readings/height.csv", &heights);
}

/// A count that is one hole off: the registration says so, and its values are not drawn into a line.
#[test]
fn a_registration_that_contradicts_itself_does_not_count() {
    let folder = two(Since::default());
    take(&folder, 3, Since::default());
    let holes = folder.read("readings/holes.csv");
    folder.write(
        "readings/holes.csv",
        &holes.replacen("left_foot,column,,10,", "left_foot,column,,11,", 1),
    );
    folder.run(["register", "--taken", "2020-08-01"]).ends(1);
    let answer = folder.run(["history"]).ends(1);
    narrow(&answer.out);
    answer
        .says("The newest record, registration-0003.json, has the verdict look.")
        .says("readings contradict each other");
    let document = folder.run(["history", "--json"]).json();
    assert_eq!(
        parameter(&document, "track.x")["drift"]["records"],
        json!([1, 2])
    );
}

#[test]
fn another_drawing_starts_everything_anew() {
    let folder = two(Since::default());
    set(&folder, "\"track.z\" = 1.5", "\"track.z\" = \"free\"");
    take(&folder, 3, Since::default());
    register(&folder, "2020-08-01");
    let document = folder.run(["history", "--json"]).json();
    assert_eq!(document["looked_at"], 0);
    folder.run(["history"]).says(
        "From record 3 on everything is counted anew: the tolerance or the drawn value of track.z was changed.",
    );
    // What the drawing holds without solving for it counts too.
    set(&folder, "at_mm = [0, 0, 90] ", "at_mm = [0.5, 0, 90] ");
    take(&folder, 4, Since::default());
    register(&folder, "2020-09-01");
    folder.run(["history"]).says(
        "From record 4 on everything is counted anew: tool.x is held at another value than before.",
    );
}

/// A record after a move of the track, tied to the first: made here from a full one, as `Moved` is described.
fn moved(folder: &Folder) {
    let mut moved = body(folder, TWO);
    let way = |name: &str| {
        vec![Share {
            name: name.to_owned(),
            share: 1.0,
        }]
    };
    moved.moved = Some(Moved {
        parts: vec!["track".to_owned()],
        followed: Vec::new(),
        from: link(folder, ONE),
        freed: vec![way("track.x"), way("track.y"), way("track.yaw")],
    });
    moved.predecessor = Some(link(folder, ONE));
    put(folder, TWO, &moved);
    let list = folder.read("records/list.txt");
    let first = list.lines().next().unwrap().to_owned();
    let second = link(folder, TWO);
    folder.write(
        "records/list.txt",
        &format!("{first}\n{} {}\n", second.file, second.sha256),
    );
}

#[test]
fn a_move_is_no_drift() {
    let folder = two(Since {
        track_x_mm: 40.0,
        ..Since::default()
    });
    moved(&folder);
    take(
        &folder,
        3,
        Since {
            track_x_mm: 40.0,
            ..Since::default()
        },
    );
    register(&folder, "2020-08-01");
    let document = folder.run(["history", "--json"]).json();
    assert_eq!(document["chain"]["faults"], json!([]));
    let records = |name: &str| parameter(&document, name)["drift"]["records"].clone();
    assert_eq!(
        records("track.x"),
        json!([2, 3]),
        "what was freed begins with the move"
    );
    assert_eq!(
        records("turntable.x"),
        json!([1, 3]),
        "what was held is no value of its own"
    );
    assert_eq!(drifting(&document), Vec::<&str>::new());
    assert_eq!(document["records"][1]["tied_to"], ONE);
    let answer = folder.run(["history"]);
    narrow(&answer.out);
    answer
        .says("after a move of track, the rest as in registration-0001.json")
        .says("held");
    assert!(
        answer_csv(&folder).contains("2,registration-0002.json,2020-04-19,accepted,move of track,")
    );
}

fn answer_csv(folder: &Folder) -> String {
    folder.run(["history", "--csv"]).out
}

/// 2 records of 21 unknowns: a header and 42 rows of 15 cells; the line stands beside the last value.
#[test]
fn the_table_has_a_row_for_each_record_and_parameter() {
    let folder = two(Since::default());
    folder
        .run(["register", "--taken", "2020-05-01", "--note", "x"])
        .ends(0);
    let text = answer_csv(&folder);
    let rows: Vec<Vec<&str>> = text.lines().map(|l| l.split(',').collect()).collect();
    assert_eq!(rows.len(), 1 + 63);
    assert!(rows.iter().all(|r| r.len() == 15), "{text}");
    let value: f64 = rows[1][8].parse().unwrap();
    let first = &body(&folder, ONE).registration.parameters[0];
    assert_eq!(
        (rows[1][6], value),
        (first.name.as_str(), first.value.unwrap())
    );
    assert!(rows[1][12].is_empty() && rows[43][12].parse::<f64>().is_ok());
}

fn recheck(folder: &Folder, time: &str, holds: bool) {
    put(
        folder,
        "recheck-0001.json",
        &json!({
            "program": "notchpin 9", "time": time, "taken": null, "note": "before the shift",
            "predecessor": null, "against": link(folder, TWO), "holds": holds, "more": [1, 2, 3],
        }),
    );
}

#[test]
fn rechecks_stand_between_the_registrations() {
    let folder = two(Since::default());
    recheck(&folder, "2999-01-01T00:00:00Z", true);
    let answer = folder.run(["history"]).ends(0);
    narrow(&answer.out);
    answer.says("recheck 1 of registration-0002.json: holds before the shift");
    recheck(&folder, "2999-01-01T00:00:00Z", false);
    let answer = folder.run(["history"]).ends(1);
    answer.says("recheck-0001.json: registration-0002.json does not hold any more.");
    recheck(&folder, "2001-01-01T00:00:00Z", true);
    let out = flat(&folder.run(["history"]).out);
    let at = |words: &str| out.find(words).unwrap();
    assert!(at("recheck 1") < at("1 2020-01-10"), "{out}");
    let document = folder.run(["history", "--json"]).json();
    assert_eq!(document["rechecks"][0]["holds"], true);
}

/// Three registrations in a chain.
fn chained() -> Folder {
    let folder = two(Since::default());
    take(&folder, 3, Since::default());
    register(&folder, "2020-08-01");
    folder
}

/// What `history` says is broken: kind and record.
fn faults(folder: &Folder) -> Vec<(String, String)> {
    let document = folder.run(["history", "--json"]).ends(1).json();
    let text = folder.run(["history"]).ends(1);
    narrow(&text.out);
    assert!(text.out.contains("Chain BROKEN"), "{}", text.out);
    let all = document["chain"]["faults"].as_array().unwrap().clone();
    let of = |f: &Value, key: &str| f[key].as_str().unwrap().to_owned();
    all.iter()
        .map(|f| (of(f, "kind"), of(f, "record")))
        .collect()
}

fn fault(kind: &str, record: &str) -> (String, String) {
    (kind.to_owned(), record.to_owned())
}

const TIP: [&str; 4] = [
    "tip",
    "--track=300",
    "--table=45",
    "--joints=90,-34,80,44,0",
];

fn remove(folder: &Folder, name: &str) {
    std::fs::remove_file(folder.path(&format!("records/{name}"))).unwrap();
}

#[test]
fn a_whole_chain_is_whole() {
    let folder = chained();
    let document = folder.run(["history", "--json"]).ends(0).json();
    assert_eq!(
        document["chain"],
        json!({"faults": [], "unchained": [], "notes": []})
    );
    assert!(!folder.run(TIP).ends(0).err.contains("chain"));
}

#[test]
fn a_missing_record_is_noticed_wherever_it_stood() {
    for name in [ONE, TWO] {
        let folder = chained();
        remove(&folder, name);
        assert_eq!(faults(&folder), [fault("missing", name)]);
        assert!(
            !folder.run(TIP).ends(0).err.contains("chain"),
            "the newest is there"
        );
        std::fs::remove_file(folder.path("records/list.txt")).unwrap();
        assert_eq!(
            faults(&folder),
            [fault("missing", name)],
            "without the list"
        );
    }
    let folder = chained();
    remove(&folder, THREE);
    assert_eq!(faults(&folder), [fault("missing", THREE)]);
    folder
        .run(TIP)
        .ends(0)
        .complains("registration-0003.json was written later and is not there");
    // What it said is not known, so old readings are not taken for new ones without a word. Registering
    // afresh takes the number, and the loss is still told.
    folder
        .run(["register", "--taken", "2020-08-02"])
        .ends(2)
        .complains("registration-0003.json");
    folder
        .run(["register", "--afresh", "--taken", "2020-08-02"])
        .ends(0);
    assert_eq!(faults(&folder), [fault("missing", THREE)]);
}

#[test]
fn an_edited_record_is_noticed() {
    let folder = chained();
    let name = format!("records/{TWO}");
    let text = folder.read(&name).replacen("2020-04-19", "2020-04-18", 1);
    folder.write(&name, &text);
    assert_eq!(faults(&folder), [fault("edited", TWO)]);
    folder.run(["history"]).says("CANNOT BE READ");
}

/// Edited by somebody who made the digest fit.
#[test]
fn a_record_with_a_new_digest_is_noticed() {
    let folder = chained();
    let mut edited = body(&folder, TWO);
    edited.note = Some("never happened".to_owned());
    put(&folder, TWO, &edited);
    assert_eq!(faults(&folder), [fault("replaced", TWO)]);
    std::fs::remove_file(folder.path("records/list.txt")).unwrap();
    assert_eq!(
        faults(&folder),
        [fault("replaced", TWO)],
        "its successor knows"
    );
    let folder = chained();
    let mut edited = body(&folder, THREE);
    edited.note = Some("never happened".to_owned());
    put(&folder, THREE, &edited);
    assert_eq!(
        faults(&folder),
        [fault("replaced", THREE)],
        "the list knows"
    );
    folder
        .run(TIP)
        .ends(0)
        .complains("is not the record that was written under that name");
}

#[test]
fn exchanged_names_are_noticed() {
    let folder = chained();
    let path = |name: &str| folder.path(&format!("records/{name}"));
    std::fs::rename(path(TWO), path("x")).unwrap();
    std::fs::rename(path(THREE), path(TWO)).unwrap();
    std::fs::rename(path("x"), path(THREE)).unwrap();
    let mut found = faults(&folder);
    found.sort();
    assert_eq!(found, [fault("renamed", TWO), fault("renamed", THREE)]);
    std::fs::remove_file(folder.path("records/list.txt")).unwrap();
    let mut found = faults(&folder);
    found.sort();
    assert_eq!(found, [fault("renamed", TWO), fault("renamed", THREE)]);
    let folder = chained();
    let path = |name: &str| folder.path(&format!("records/{name}"));
    std::fs::rename(path(THREE), path("registration-0007.json")).unwrap();
    assert_eq!(
        faults(&folder),
        [fault("renamed", "registration-0007.json")]
    );
    std::fs::remove_file(path("list.txt")).unwrap();
    assert_eq!(
        faults(&folder),
        [fault("renamed", "registration-0007.json")]
    );
}

#[test]
fn a_record_of_another_folder_is_noticed() {
    let other = bench();
    for session in 1..=3 {
        take(&other, session, Since::default());
        other.run(["register", "--note", "another bench"]).ends(0);
    }
    let folder = two(Since::default());
    folder.write(
        &format!("records/{THREE}"),
        &other.read(&format!("records/{THREE}")),
    );
    assert_eq!(faults(&folder), [fault("foreign", THREE)]);
    // The first record of another folder, put between.
    let folder = chained();
    let path = |name: &str| folder.path(&format!("records/{name}"));
    std::fs::rename(path(THREE), path("registration-0004.json")).unwrap();
    folder.write(
        &format!("records/{THREE}"),
        &other.read(&format!("records/{ONE}")),
    );
    assert!(faults(&folder).contains(&fault("foreign", THREE)));
}

/// Records of the versions that did not chain them: no fault.
#[test]
fn records_of_an_older_version_are_told_and_no_fault() {
    let folder = two(Since::default());
    for name in [ONE, TWO] {
        let text = folder.read(&format!("records/{name}"));
        let mut old: Value = serde_json::from_str(&text).unwrap();
        for key in [
            "predecessor",
            "taken",
            "note",
            "rows",
            "taught",
            "evidence",
            "moved",
        ] {
            old["body"].as_object_mut().unwrap().remove(key).unwrap();
        }
        put(&folder, name, &old["body"]);
    }
    remove(&folder, "list.txt");
    take(&folder, 3, Since::default());
    register(&folder, "2020-08-01");
    let document = folder.run(["history", "--json"]).ends(0).json();
    assert_eq!(document["chain"]["faults"], json!([]));
    assert_eq!(document["chain"]["unchained"], json!([TWO]));
    folder
        .run(["history"])
        .ends(0)
        .says("Not chained (older version): registration-0002.json");
}

#[test]
fn a_line_of_the_list_that_was_cut_short_is_no_fault() {
    let folder = chained();
    let list = folder.read("records/list.txt");
    let cut = list.len() - 30;
    folder.write("records/list.txt", &list[..cut]);
    let document = folder.run(["history", "--json"]).ends(0).json();
    let notes = document["chain"]["notes"].as_array().unwrap();
    assert!(notes[0].as_str().unwrap().contains("list.txt, line 3"));
    take(&folder, 4, Since::default());
    register(&folder, "2020-09-01");
    let list = folder.read("records/list.txt");
    let whole: Vec<&str> = list
        .lines()
        .filter(|l| l.len() == THREE.len() + 1 + 64)
        .collect();
    assert_eq!(
        whole.len(),
        4,
        "the next run adds what is missing, on lines of their own:\n{list}"
    );
    folder.run(["history"]).ends(0);
}

#[test]
fn what_a_cut_off_run_left_behind_is_mentioned_after_an_hour() {
    let folder = chained().with("records/.writing-abc123.tmp", "{\"format\":");
    assert!(!folder.run(["history"]).ends(0).out.contains(".writing"));
    let file = std::fs::File::options()
        .write(true)
        .open(folder.path("records/.writing-abc123.tmp"))
        .unwrap();
    let then = std::time::SystemTime::now() - std::time::Duration::from_secs(3700);
    file.set_modified(then).unwrap();
    folder
        .run(["history"])
        .ends(0)
        .says("left .writing-abc123.tmp behind");
}
