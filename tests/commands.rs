//! The command line in sentences: what each command answers, refuses, writes and leaves alone.

mod sentences;

use std::collections::BTreeSet;
use std::io::Read;
use std::process::Stdio;

use sentences::Folder;
use sentences::flat;
use sentences::program;
use sentences::run;
use sentences::small::CELL;
use sentences::small::HOLES;
use sentences::small::TIP;
use sentences::small::TOUCH;
use sentences::small::good;
use sentences::small::keys;
use sentences::small::miscounted;
use sentences::small::narrow;
use sentences::small::undetermined;
use serde_json::Value;

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
    for command in ["new", "check", "register", "plan", "sheet", "tip", "reach"] {
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

/// The keys of docs' formats; others may stand beside them at the top.
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
    let found = keys(&document);
    let missing: Vec<_> = wanted.iter().filter(|k| !found.contains(**k)).collect();
    assert!(missing.is_empty(), "missing: {missing:?}");
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
        "unnoticed_tip_mm",
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
