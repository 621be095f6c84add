//! The command line in sentences: what each command answers, refuses, writes and leaves alone.

mod sentences;

use std::collections::BTreeSet;
use std::io::Read;
use std::process::Stdio;

use sentences::Folder;
use sentences::flat;
use sentences::program;
use sentences::run;
use serde_json::Value;

/// A small cell: an arm of two joints on a track beside a turntable.
const CELL: &str = r#"format = 1
name = "small bench"
[plate]
pitch_mm = 50.0
columns = 30
rows = 16
[marks]
spigot = { frame = "platter", at_mm = [80.0, 0.0, 12.0] }
[track]
at_mm = [150.0, 100.0, 60.0]
travel_mm = [0.0, 900.0]
features.foot = [-60.0, 85.0, 0.0]
[[arm.joint]]
name = "turn"
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-170, 170]
[[arm.joint]]
name = "lift"
axis = [0, -1, 0]
through_mm = [0, 0, 100]
limits_deg = [-90, 90]
[arm.flange]
at_mm = [300, 0, 100]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 100]
[turntable]
at_mm = [700.0, 450.0, 95.0]
index_deg = 0.0
switch_deg = 180.0
notches = 8
[solve]
"track.x" = "free"
"track.y" = "free"
"track.yaw" = "free"
"turntable.index" = "free"
"#;

/// foot at x = 150 − 60 + r and y = 100 + 85: 90 + 10 = 2 · 50, 90 + 422 = 10 · 50 + 12, 185 = 3 · 50 + 35.
/// The last digits differ by a little, as hand readings do.
const HOLES: &str = "feature,along,from,count,gap_mm,track,approach
foot,column,,2,0.2,10,up
foot,column,,10,11.9,422,up
foot,column,,18,0.1,810,down
foot,row,,3,35.1,10,
foot,row,,3,34.8,422,
foot,row,,3,35.2,810,
";
/// The table reads 180 − 45 k where notch k stands at the switch.
const NOTCH: &str = "notch,table,approach
0,180.05,up
2,89.95,up
5,-44.98,up
";
/// Both joints at 0: the tip stands 400 mm ahead of the base, at z = 160.
const TOUCH: &str = "target,track,j1,j2,dz_mm,dx_mm,dy_mm
13:2,100,0,0,160.1,0.1,0.1
17:2,300,0,0,159.8,-0.1,0
";

fn good() -> Folder {
    Folder::new(CELL)
        .with("readings/holes.csv", HOLES)
        .with("readings/notch.csv", NOTCH)
        .with("readings/touch.csv", TOUCH)
}

/// The twin of `good` with a count that is one hole off.
fn miscounted() -> Folder {
    good().with(
        "readings/holes.csv",
        &HOLES.replace("column,,10,", "column,,11,"),
    )
}

/// Nothing tells the table's index.
fn undetermined() -> Folder {
    Folder::new(CELL).with("readings/holes.csv", HOLES)
}

const TIP: [&str; 5] = [
    "tip",
    "--track=300",
    "--table=45",
    "--joints=10,20",
    "--json",
];

fn narrow(text: &str) {
    for line in text.lines() {
        assert!(
            line.chars().count() <= 100,
            "{} columns:\n{line}",
            line.chars().count()
        );
    }
}

fn keys(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

#[test]
fn a_good_cell_is_accepted_with_status_0() {
    good().run(["register"]).ends(0).says("small bench");
}

#[test]
fn a_slip_asks_for_a_look_with_status_1() {
    let answer = miscounted().run(["register", "--json"]).ends(1);
    let document = answer.json();
    assert_eq!(document["verdict"], "look");
    let readings = document["readings"].as_array().unwrap();
    let w = |r: &&Value| r["standardized"].as_f64().unwrap_or(0.0).abs();
    let worst = readings
        .iter()
        .max_by(|a, b| w(a).total_cmp(&w(b)))
        .unwrap();
    assert_eq!(
        (&worst["file"], &worst["line"]),
        (&"readings/holes.csv".into(), &3.into())
    );
    assert_eq!(worst["suspect"], true);
}

#[test]
fn usage_that_cannot_be_understood_ends_with_status_2() {
    assert_eq!(run(&["regster"]).status, 2);
    assert_eq!(run(&[]).status, 2);
    assert_eq!(run(&["register", "--colour"]).status, 2);
    assert_eq!(run(&["register", "/no/such/folder"]).status, 2);
}

#[test]
fn records_are_numbered_and_never_written_over() {
    let folder = good();
    folder.run(["register"]).ends(0);
    assert_eq!(folder.records(), ["registration-0001.json"]);
    let first = folder.read("records/registration-0001.json");
    folder.run(["register"]).ends(0);
    assert_eq!(
        folder.records(),
        ["registration-0001.json", "registration-0002.json"]
    );
    assert_eq!(folder.read("records/registration-0001.json"), first);
}

#[test]
fn no_record_is_written_when_none_is_wanted() {
    let folder = good();
    folder.run(["register", "--no-record"]).ends(0);
    folder.run(["register", "--no-record", "--json"]).ends(0);
    assert!(folder.records().is_empty());
}

#[test]
fn a_number_after_a_gap_is_the_next_one() {
    let folder = good().with("records/registration-0041.json", "{}");
    folder.run(["register"]).ends(0);
    assert!(
        folder
            .records()
            .contains(&"registration-0042.json".to_owned())
    );
    assert_eq!(folder.read("records/registration-0041.json"), "{}");
}

#[test]
fn eight_at_once_write_eight_records() {
    let folder = good();
    let mut running: Vec<_> = (0..8)
        .map(|_| {
            let mut command = folder.command(["register"]);
            command.stdout(Stdio::null()).stderr(Stdio::null());
            command.spawn().unwrap()
        })
        .collect();
    for child in &mut running {
        assert!(child.wait().unwrap().success());
    }
    let names = folder.records();
    let wanted: Vec<String> = (1..=8)
        .map(|k| format!("registration-{k:04}.json"))
        .collect();
    assert_eq!(names, wanted, "nothing else may be left behind");
    for name in names {
        let path = folder.path(&format!("records/{name}"));
        let mut arguments = TIP.to_vec();
        let path = path.to_str().unwrap();
        arguments.extend(["--record", path]);
        folder.run(arguments).ends(0);
    }
}

#[test]
fn tip_needs_a_record_or_the_drawing() {
    let folder = good();
    folder
        .run(TIP)
        .ends(2)
        .answers_nothing()
        .complains("--as-drawn");
    let mut drawn = TIP.to_vec();
    drawn.push("--as-drawn");
    let document = folder.run(drawn).ends(0).json();
    assert!(document["plate"]["u95_mm"].is_null());
    folder.run(["register"]).ends(0);
    let document = folder.run(TIP).ends(0).json();
    assert!(document["plate"]["u95_mm"].as_f64().unwrap() > 0.0);
    assert!(document["platter"]["u95_mm"].as_f64().unwrap() > 0.0);
}

/// By hand, as drawn: track 300, both joints 0: base at (450, 100, 60), tip 400 ahead and 100 up, at
/// (850, 100, 160). Table at 90: seen from its centre (150, −350, 65), turned back by 90°:
/// x' = y = −350, y' = −x = −150, z' = 65.
#[test]
fn the_tip_as_drawn_by_hand() {
    let answer = good().run([
        "tip",
        "--as-drawn",
        "--track",
        "300",
        "--table",
        "90",
        "--joints",
        "0,0",
        "--json",
    ]);
    let document = answer.ends(0).json();
    for (frame, wanted) in [
        ("plate", [850.0, 100.0, 160.0]),
        ("platter", [-350.0, -150.0, 65.0]),
    ] {
        for (key, wanted) in ["x_mm", "y_mm", "z_mm"].iter().zip(wanted) {
            let got = document[frame][key].as_f64().unwrap();
            assert!(
                (got - wanted).abs() < 1e-9,
                "{frame} {key}: {got}, by hand {wanted}"
            );
        }
    }
}

#[test]
fn the_newest_record_is_in_force_and_another_one_on_request() {
    let folder = good();
    folder.run(["register"]).ends(0);
    // The track moved: the same counts with gaps 1 mm larger along x.
    let moved = HOLES
        .replace("2,0.2,", "2,1.2,")
        .replace("11.9", "12.9")
        .replace("18,0.1", "18,1.1");
    folder.write("readings/holes.csv", &moved);
    folder.write("readings/touch.csv", "target,track,j1,j2\n");
    folder.run(["register"]).ends(0);
    let x = |arguments: Vec<&str>| {
        folder.run(arguments).ends(0).json()["plate"]["x_mm"]
            .as_f64()
            .unwrap()
    };
    let newest = x(TIP.to_vec());
    let first = folder.path("records/registration-0001.json");
    let mut old = TIP.to_vec();
    old.extend(["--record", first.to_str().unwrap()]);
    let oldest = x(old);
    assert!((newest - oldest - 1.0).abs() < 0.2, "{newest} {oldest}");
}

fn refused(edit: impl Fn(&str) -> String, words: &str) {
    let folder = good();
    folder.run(["register"]).ends(0);
    let name = "records/registration-0001.json";
    let text = folder.read(name);
    let edited = edit(&text);
    assert_ne!(text, edited);
    folder.write(name, &edited);
    for arguments in [TIP.to_vec(), vec!["reach", "--json"]] {
        let answer = folder.run(arguments).ends(2).answers_nothing();
        assert!(
            flat(&answer.err).contains("registration-0001.json"),
            "{}",
            answer.err
        );
        assert!(flat(&answer.err).contains(words), "{words}: {}", answer.err);
    }
    assert_eq!(
        folder.read(name),
        edited,
        "a refused record is left as it is"
    );
}

#[test]
fn a_record_with_one_digit_changed_is_refused() {
    refused(
        |text| {
            let at = text.find("\"chi2\"").unwrap() + 7;
            let digit = at + text[at..].find(|c: char| c.is_ascii_digit()).unwrap();
            let other = if &text[digit..=digit] == "7" {
                "8"
            } else {
                "7"
            };
            format!("{}{other}{}", &text[..digit], &text[digit + 1..])
        },
        "changed",
    );
}

#[test]
fn a_record_cut_short_is_refused() {
    refused(|text| text[..text.len() / 2].to_owned(), "damaged");
}

#[test]
fn an_empty_record_is_refused() {
    refused(|_| String::new(), "damaged");
}

#[test]
fn a_record_of_a_later_format_is_refused() {
    refused(
        |text| text.replacen("\"format\": 1", "\"format\": 2", 1),
        "format 2",
    );
}

#[test]
fn a_record_of_another_cell_is_refused() {
    let folder = good();
    folder.run(["register"]).ends(0);
    folder.write("cell.toml", &CELL.replace("spigot", "peg"));
    let answer = folder.run(TIP).ends(2).complains("registration-0001.json");
    assert!(
        flat(&answer.err).contains("does not fit cell.toml"),
        "{}",
        answer.err
    );
}

#[test]
fn what_nothing_settles_is_named_and_not_recorded() {
    let folder = undetermined();
    let document = folder.run(["register", "--json"]).ends(2).json();
    assert_eq!(document["verdict"], "undetermined");
    let named = &document["undetermined"][0]["parameters"][0];
    assert_eq!(named["name"], "turntable.index");
    assert!((named["share"].as_f64().unwrap() - 1.0).abs() < 1e-9);
    for key in ["chi2", "dof", "sigma0", "p_value"] {
        assert!(document[key].is_null(), "{key}");
    }
    assert_eq!(document["by_tolerance_only"], serde_json::json!([]));
    let text = folder.run(["register"]).ends(2);
    assert!(flat(&text.out).contains("turntable.index"), "{}", text.out);
    narrow(&text.out);
    assert!(folder.records().is_empty());
}

#[test]
fn every_mistake_is_told_with_its_place() {
    let folder = good()
        .with(
            "readings/holes.csv",
            &HOLES.replace("3,34.8,422", "three,34.8,422"),
        )
        .with(
            "readings/touch.csv",
            &TOUCH.replace("13:2", "spigt").replace("159.8,", "159.8.1,"),
        );
    let answer = folder.run(["register"]).ends(2).answers_nothing();
    let told: Vec<&str> = answer
        .err
        .lines()
        .filter(|l| l.starts_with("error: "))
        .collect();
    assert_eq!(told.len(), 3, "{}", answer.err);
    // Line and character of each, counted by hand in the texts above.
    assert!(
        told[0].starts_with("error: readings/holes.csv, line 6, column 11"),
        "{}",
        told[0]
    );
    assert!(
        told[1].starts_with("error: readings/touch.csv, line 2, column 1"),
        "{}",
        told[1]
    );
    assert!(
        told[2].starts_with("error: readings/touch.csv, line 3, column 14"),
        "{}",
        told[2]
    );
    narrow(&answer.err);
    assert!(flat(&answer.err).contains("write spigot"), "{}", answer.err);
    assert!(folder.records().is_empty(), "nothing may be written");
}

#[test]
fn a_misspelt_file_loses_no_readings_silently() {
    let folder = good().with("readings/touches.csv", TOUCH);
    let answer = folder
        .run(["register"])
        .ends(2)
        .complains("readings/touches.csv");
    assert!(flat(&answer.err).contains("touch.csv"), "{}", answer.err);
    assert!(folder.records().is_empty());
}

#[test]
fn an_unknown_key_names_the_nearest_known_one() {
    let folder = good().with("cell.toml", &CELL.replace("pitch_mm", "pich_mm"));
    folder.run(["register"]).ends(2).complains("pitch_mm");
}

#[test]
fn a_folder_without_a_cell_is_told() {
    let folder = Folder::new("");
    std::fs::remove_file(folder.path("cell.toml")).unwrap();
    folder.run(["register"]).ends(2).complains("cell.toml");
}

#[test]
fn the_cell_file_itself_may_be_named() {
    let folder = good();
    let file = folder.path("cell.toml");
    assert_eq!(
        run(&["register", file.to_str().unwrap(), "--no-record"]).status,
        0
    );
    let mut here = program();
    here.current_dir(folder.root())
        .args(["register", "--no-record"]);
    assert!(here.output().unwrap().status.success());
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let folder = good();
    folder.run(["register"]).ends(0);
    for arguments in [vec!["register", "--no-record", "--json"], TIP.to_vec()] {
        let mut command = folder.command(&arguments);
        command.stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().unwrap();
        drop(child.stdout.take());
        let mut err = String::new();
        child
            .stderr
            .take()
            .unwrap()
            .read_to_string(&mut err)
            .unwrap();
        let status = child.wait().unwrap();
        assert_eq!(status.code(), Some(0), "{arguments:?}: {err}");
    }
    for arguments in [["completions", "bash"], ["help", "register"]] {
        let mut child = program()
            .args(arguments)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        assert_eq!(child.wait().unwrap().code(), Some(0), "{arguments:?}");
    }
}

#[test]
fn texts_are_narrow_and_carry_their_caution() {
    let folder = good().with(
        "points.csv",
        "name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg\nhigh,plate,850,100,160,,,\n",
    );
    for answer in [
        folder.run(["register"]),
        miscounted().run(["register"]),
        folder.run(["tip", "--track=300", "--table=45", "--joints=10,20"]),
        folder.run(["tip", "--track=300", "--joints=10,20", "--as-drawn"]),
    ] {
        assert!(answer.status < 2, "{}", answer.err);
        narrow(&answer.out);
        narrow(&answer.err);
        let text = flat(&answer.out).to_lowercase();
        assert!(text.contains("caution"), "{text}");
    }
    narrow(&folder.run(["reach"]).out);
}

#[test]
fn json_holds_no_caution_and_nothing_but_json() {
    let folder = good();
    let answer = folder.run(["register", "--json"]).ends(0);
    answer.json();
    assert!(answer.out.starts_with('{') && answer.out.trim_end().ends_with('}'));
}

#[test]
fn joints_may_begin_with_a_minus() {
    let folder = good();
    let joined = folder
        .run([
            "tip",
            "--as-drawn",
            "--track=0",
            "--joints=-10,20",
            "--json",
        ])
        .ends(0);
    let apart = folder
        .run([
            "tip",
            "--as-drawn",
            "--track",
            "0",
            "--joints",
            "-10,20",
            "--json",
        ])
        .ends(0);
    assert_eq!(joined.out, apart.out);
    // By hand: the first joint turned clockwise seen from above, so the tip lies toward −y of the base.
    assert!(joined.json()["plate"]["y_mm"].as_f64().unwrap() < 100.0);
    assert!(joined.json()["platter"].is_null());
}

#[test]
fn readings_of_axes_that_do_not_fit_the_cell_are_refused() {
    let folder = good();
    let drawn = |rest: &[&str]| {
        let mut all = vec!["tip", "--as-drawn"];
        all.extend(rest);
        folder.run(all)
    };
    drawn(&["--track=0", "--joints=1,2,3"])
        .ends(2)
        .complains("2 joints");
    drawn(&["--track=0", "--joints=1"])
        .ends(2)
        .complains("2 joints");
    drawn(&["--track=0", "--joints=1,x"])
        .ends(2)
        .complains("\"x\"");
    drawn(&["--track=0", "--joints=1,nan"]).ends(2);
    drawn(&["--joints=1,2"]).ends(2).complains("--track");
    drawn(&["--track=inf", "--joints=1,2"]).ends(2);
    let at = CELL.find("[turntable]").unwrap();
    let bare = CELL[..at].replace(
        "spigot = { frame = \"platter\", at_mm = [80.0, 0.0, 12.0] }",
        "",
    );
    let bare = Folder::new(&bare);
    bare.run([
        "tip",
        "--as-drawn",
        "--track=0",
        "--table=0",
        "--joints=1,2",
    ])
    .ends(2)
    .complains("no turntable");
}

#[test]
fn help_and_version_are_answers() {
    let help = run(&["--help"]);
    assert_eq!(help.status, 0);
    for command in ["new", "check", "register", "tip", "reach"] {
        assert!(help.out.contains(command), "{command}");
        let own = run(&[command, "--help"]);
        assert_eq!(own.status, 0, "{command}");
        assert!(own.out.contains("Usage"), "{command}");
    }
    let version = run(&["--version"]);
    assert_eq!(version.status, 0);
    assert_eq!(
        version.out.trim(),
        format!("notchpin {}", env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn completions_and_manual_pages() {
    let script = run(&["completions", "bash"]);
    assert_eq!(script.status, 0);
    assert!(script.out.contains("_notchpin") && script.out.contains("--as-drawn"));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().to_str().unwrap();
    assert_eq!(run(&["man", path]).status, 0);
    let names: BTreeSet<String> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    for name in [
        "notchpin.1",
        "notchpin-register.1",
        "notchpin-tip.1",
        "notchpin-reach.1",
    ] {
        assert!(names.contains(name), "no {name} in {names:?}");
    }
    assert_eq!(run(&["man", &format!("{path}/not-there")]).status, 2);
}

/// The keys of docs' formats, and two that were added: `left_out` and `points`.
#[test]
fn register_json_has_the_keys_that_were_promised() {
    let folder = good()
        .with(
            "readings/touch.csv",
            &format!("{TOUCH}13:2,100,0,0,160,0,0\n")
                .replace("dy_mm", "dy_mm,left_mm,right_mm,use")
                .replace("0.1,0.1\n", "0.1,0.1,0.4,0.3,\n")
                .replace("-0.1,0\n", "-0.1,0,,,\n")
                .replace("160,0,0\n", "160,0,0,,,no\n"),
        )
        .with(
            "taught.csv",
            "name,frame,track,table,j1,j2\ntop,plate,100,,10,20\n",
        );
    let document = folder.run(["register", "--json"]).ends(0).json();
    let wanted = [
        "cell",
        "parameters",
        "covariance",
        "chi2",
        "dof",
        "sigma0",
        "p_value",
        "readings",
        "play",
        "by_tolerance_only",
        "undetermined",
        "verdict",
        "left_out",
        "points",
    ];
    assert_eq!(keys(&document), BTreeSet::from(wanted));
    let wanted = [
        "name",
        "value",
        "u",
        "unit",
        "nominal",
        "tolerance",
        "redundancy",
        "standardized",
        "suspect",
        "weak",
    ];
    assert_eq!(keys(&document["parameters"][0]), BTreeSet::from(wanted));
    let wanted = [
        "file",
        "line",
        "component",
        "residual",
        "unit",
        "u",
        "redundancy",
        "standardized",
        "detectable",
        "suspect",
        "cause",
    ];
    assert_eq!(keys(&document["readings"][0]), BTreeSet::from(wanted));
    let wanted = ["file", "line", "joint", "lost_motion_deg"];
    assert_eq!(keys(&document["play"][0]), BTreeSet::from(wanted));
    let left_out = document["left_out"].as_array().unwrap();
    assert_eq!(left_out.len(), 1);
    assert_eq!(left_out[0]["line"], 4);
    assert_eq!(document["points"].as_array().unwrap().len(), 1);
    let n = document["parameters"].as_array().unwrap().len();
    let rows = document["covariance"].as_array().unwrap();
    assert!(rows.len() == n && rows.iter().all(|r| r.as_array().unwrap().len() == n));
}

#[test]
fn colours_are_never_used_whatever_the_surroundings_say() {
    for (name, value) in [
        ("NO_COLOR", "1"),
        ("CLICOLOR_FORCE", "1"),
        ("TERM", "xterm-256color"),
    ] {
        let folder = good();
        let output = folder
            .command(["register"])
            .env(name, value)
            .output()
            .unwrap();
        assert!(
            output.status.success() && !output.stdout.is_empty(),
            "{name}"
        );
        assert!(
            !output.stdout.contains(&0x1b) && !output.stderr.contains(&0x1b),
            "{name}"
        );
    }
}
