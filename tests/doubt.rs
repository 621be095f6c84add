//! What is said of readings that do not fit, of checks, of what is open: through the whole program.

mod sentences;

use std::path::Path;

use sentences::Folder;
use sentences::flat;
use sentences::small::good;
use sentences::small::miscounted;
use sentences::small::narrow;
use serde_json::Value;

fn demo(cell: &str) -> Folder {
    Folder::copy_of(
        &Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("demo-cells")
            .join(cell),
    )
}

fn causes(document: &Value) -> Vec<(&str, &str, &str, &str)> {
    let list = document["causes"].as_array().unwrap().iter();
    let text =
        |c: &'static str| move |v: &'_ Value| v[c].as_str().unwrap().to_owned().leak() as &str;
    list.map(|c| {
        (
            text("kind")(c),
            text("column")(c),
            text("found")(c),
            text("suggested")(c),
        )
    })
    .collect()
}

/// The count of the small cell that is one hole too many, by hand: 11 for 10.
#[test]
fn a_miscount_is_named_and_nothing_is_changed() {
    let folder = miscounted();
    let before = folder.read("readings/holes.csv");
    let answer = folder
        .run(["register"])
        .ends(1)
        .says("readings/holes.csv line 3: everything fits if the count is 10, not 11.");
    narrow(&answer.out);
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(causes(&document), [("count", "count", "11", "10")]);
    let readings = document["readings"].as_array().unwrap();
    let named: Vec<&Value> = readings.iter().filter(|r| !r["cause"].is_null()).collect();
    assert_eq!(named.len(), 1);
    assert_eq!(
        (&named[0]["file"], &named[0]["line"]),
        (&"readings/holes.csv".into(), &3.into())
    );
    let cause = &named[0]["cause"];
    assert_eq!(cause["chi2_before"], document["chi2"]);
    // What comes out after the correction is what the corrected file gives.
    let right = good().run(["register", "--json", "--no-record"]).json();
    let after = cause["chi2_after"].as_f64().unwrap();
    assert!(
        (after - right["chi2"].as_f64().unwrap()).abs() < 1e-6,
        "{after}"
    );
    assert_eq!(folder.read("readings/holes.csv"), before);
}

/// The three slips of the demo cell (truth.json): each found, the first two named; the third, an approach,
/// is hardly beyond chance and is offered as a possibility.
#[test]
fn three_slips_are_found_one_after_another() {
    let folder = demo("slips");
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(document["search"], "agrees");
    let suspects = document["suspects"].as_array().unwrap();
    let truth: Value = serde_json::from_str(&folder.read("truth.json")).unwrap();
    let slips = truth["slips"].as_array().unwrap();
    assert_eq!(suspects.len(), slips.len());
    for slip in slips {
        let mine = suspects
            .iter()
            .find(|s| s["file"] == slip["file"] && s["line"] == slip["line"]);
        let suspect = mine.unwrap_or_else(|| panic!("{slip} not found"));
        let cause = match &suspect["cause"] {
            Value::Null => &suspect["possible"][0],
            cause => cause,
        };
        assert_eq!(cause["column"], slip["column"]);
        assert_eq!(cause["suggested"], slip["right"]);
        assert_eq!(cause["found"], slip["written"]);
    }
    assert!(document["rest"]["p_value"].as_f64().unwrap() > 0.01);
    let robust = &document["robust"];
    assert_eq!(robust["matters"], true);
}

#[test]
fn suspects_are_set_aside_only_when_asked_for_and_are_listed() {
    let folder = demo("slips");
    let plain = folder.run(["register", "--json"]).ends(1).json();
    assert_eq!(plain["set_aside"], serde_json::json!([]));
    let all = plain["readings"].as_array().unwrap().len();
    let document = folder
        .run(["register", "--json", "--set-aside"])
        .ends(1)
        .json();
    let aside = document["set_aside"].as_array().unwrap();
    assert_eq!(aside.len(), 3);
    assert_eq!(document["readings"].as_array().unwrap().len(), all - 3);
    assert_eq!(document["verdict"], "look");
    assert!(
        document["readings"]
            .as_array()
            .unwrap()
            .iter()
            .all(|r| r["suspect"] == false)
    );
    // The true values, from truth.json, lie within four u.
    let truth: Value = serde_json::from_str(&folder.read("truth.json")).unwrap();
    for p in document["parameters"].as_array().unwrap() {
        let off = p["value"].as_f64().unwrap()
            - truth["true_values"][p["name"].as_str().unwrap()]
                .as_f64()
                .unwrap();
        assert!(off.abs() < 4.0 * p["u"].as_f64().unwrap(), "{p}");
    }
    // In the record too.
    let record: Value =
        serde_json::from_str(&folder.read("records/registration-0002.json")).unwrap();
    let text = record.to_string();
    assert!(text.contains("set_aside"));
    let answer = folder
        .run(["register", "--set-aside", "--no-record"])
        .ends(1)
        .says("3 readings set aside");
    narrow(&answer.out);
    // Nothing to set aside: the same answer as without.
    let good = demo("glazing-bench");
    let plain = good
        .run(["register", "--json", "--no-record"])
        .ends(0)
        .json();
    assert_eq!(
        good.run(["register", "--json", "--no-record", "--set-aside"])
            .ends(0)
            .json(),
        plain
    );
}

#[test]
fn a_slip_of_the_whole_is_told_in_one_sentence() {
    let folder = demo("glazing-bench");
    let cell = folder.read("cell.toml");
    folder.write(
        "cell.toml",
        &cell.replace("pitch_mm = 50.0", "pitch_mm = 25.4"),
    );
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(
        causes(&document),
        [("pitch", "plate.pitch_mm", "25.4", "50")]
    );
    assert_eq!(document["search"], "whole");
    let named = document["readings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|r| !r["cause"].is_null());
    assert!(named.count() > 10, "every suspect has it");
    folder
        .run(["register", "--no-record"])
        .says("cell.toml: everything fits if plate.pitch_mm is 50, not 25.4");
}

/// Rows of a demo cell kept out with use = check: they agree, and the solution is that of the others alone.
#[test]
fn check_rows_are_kept_out_and_give_an_independent_verdict() {
    let folder = demo("glazing-bench");
    let touch = folder.read("readings/touch.csv");
    let header = touch.lines().find(|l| !l.starts_with('#')).unwrap();
    let columns: Vec<&str> = header.split(',').collect();
    let at = columns.iter().position(|c| *c == "use");
    let with = |role: &str, spoil: bool| {
        let mut data = 0;
        let lines: Vec<String> = touch
            .lines()
            .map(|line| {
                if line.starts_with('#') {
                    return line.to_owned();
                }
                let more = |cell: &str| match at {
                    Some(_) => line.to_owned(),
                    None => format!("{line},{cell}"),
                };
                if line == header {
                    return more("use");
                }
                data += 1;
                let chosen = data == 3 || data == 6;
                let cell = if chosen { role } else { "" };
                let mut row = more(cell);
                if let Some(at) = at {
                    let mut cells: Vec<&str> = line.split(',').collect();
                    if chosen {
                        cells[at] = role;
                    }
                    row = cells.join(",");
                }
                match spoil && data == 3 {
                    true => {
                        let j2 = columns.iter().position(|c| *c == "j2").unwrap();
                        let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
                        let value: f64 = cells[j2].parse().unwrap();
                        cells[j2] = format!("{:.2}", value + 1.5);
                        cells.join(",")
                    }
                    false => row,
                }
            })
            .collect();
        lines.join("\n") + "\n"
    };
    folder.write("readings/touch.csv", &with("no", false));
    let without = folder
        .run(["register", "--json", "--no-record"])
        .ends(0)
        .json();
    assert_eq!(without["verified"], "only with itself");
    folder.write("readings/touch.csv", &with("check", false));
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(0)
        .json();
    for key in ["parameters", "chi2", "dof", "readings"] {
        assert_eq!(document[key], without[key], "{key}");
    }
    assert_eq!(document["verified"], "independently");
    let checks = &document["checks"];
    assert_eq!(checks["hold"], true);
    let rows = checks["rows"].as_array().unwrap();
    assert_eq!(checks["dof"].as_u64().unwrap() as usize, rows.len());
    for row in rows {
        let (seen, u) = (
            row["observed"].as_f64().unwrap(),
            row["predicted"].as_f64().unwrap(),
        );
        assert!((row["ratio"].as_f64().unwrap() - seen / u).abs() < 1e-12);
        // More than the reading's own 0.4 mm: the prediction is not exact either.
        assert!(u > 0.4 && seen.abs() < 3.29 * u, "{row}");
    }
    let tip = &checks["tip"];
    let sum: f64 = rows
        .iter()
        .map(|r| r["observed"].as_f64().unwrap().powi(2))
        .sum();
    let touches = tip["touches"].as_f64().unwrap();
    assert!((tip["rms_mm"].as_f64().unwrap() - (sum / touches).sqrt()).abs() < 1e-9);
    let answer = folder
        .run(["register", "--no-record"])
        .ends(0)
        .says("Verified independently: 2 readings kept to check with agree");
    narrow(&answer.out);
    // A check reading that is off is no part of the solution, but the verdict is no longer good.
    folder.write("readings/touch.csv", &with("check", true));
    let spoilt = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(spoilt["parameters"], document["parameters"]);
    assert_eq!(
        (&spoilt["verdict"], &spoilt["checks"]["hold"]),
        (&"look".into(), &false.into())
    );
    folder
        .run(["register", "--no-record"])
        .ends(1)
        .says("NOT CONFIRMED")
        .says("do NOT key in yet");
    // And use = anything is still a mistake.
    folder.write("readings/touch.csv", &with("checks", false));
    folder
        .run(["register"])
        .ends(2)
        .complains("yes, no or check");
}

/// One unnoticed slip: the tip error is that which the error itself makes. By hand from the file: the named
/// reading is spoilt by the named error, and the tip at the named point moves by what was said.
#[test]
fn the_largest_unnoticed_slip_moves_the_tip_as_is_said() {
    let folder = demo("glazing-bench");
    let before = folder.run(["register", "--json"]).ends(0).json();
    let slip = before["reliability"].clone();
    let (file, line) = (
        slip["file"].as_str().unwrap(),
        slip["line"].as_u64().unwrap() as usize,
    );
    assert_eq!(file, "readings/touch.csv");
    let row = before["readings"].as_array().unwrap().iter().find(|r| {
        r["file"] == slip["file"]
            && r["line"] == slip["line"]
            && r["component"] == slip["component"]
    });
    let row = row.unwrap();
    assert_eq!(row["detectable"], slip["error"]);
    assert_eq!(row["unnoticed_tip_mm"], slip["tip_mm"]);
    let all = before["readings"].as_array().unwrap().iter();
    let most = all
        .map(|r| r["unnoticed_tip_mm"].as_f64().unwrap())
        .fold(0.0, f64::max);
    assert_eq!(most, slip["tip_mm"].as_f64().unwrap());
    // Spoil it.
    let text = folder.read(file);
    let header: Vec<&str> = text
        .lines()
        .find(|l| !l.starts_with('#'))
        .unwrap()
        .split(',')
        .collect();
    let column = format!("d{}_mm", slip["component"].as_str().unwrap());
    let at = header.iter().position(|c| *c == column).unwrap();
    let lines: Vec<String> = text
        .lines()
        .enumerate()
        .map(|(k, l)| {
            let mut cells: Vec<String> = l.split(',').map(str::to_owned).collect();
            if k + 1 == line {
                let value: f64 = cells[at].parse().unwrap_or(0.0);
                cells[at] = format!("{}", value + slip["error"].as_f64().unwrap());
            }
            cells.join(",")
        })
        .collect();
    let point = slip["point"].as_str().unwrap();
    let solution = reach(&folder, point);
    let at_first = tip(&folder, &solution);
    folder.write(file, &(lines.join("\n") + "\n"));
    folder.run(["register"]);
    let then = tip(&folder, &solution);
    let moved: f64 = at_first
        .iter()
        .zip(&then)
        .map(|(a, b)| (a - b).powi(2))
        .sum::<f64>()
        .sqrt();
    let said = slip["tip_mm"].as_f64().unwrap();
    assert!((moved / said - 1.0).abs() < 0.03, "{moved}, not {said}");
}

/// Readings of track, table and joints.
type Posture = (f64, f64, Vec<f64>);

/// The station and posture with the largest margin, as a command line for `tip`.
fn reach(folder: &Folder, point: &str) -> Posture {
    let document = folder.run(["reach", "--json", "--point", point]).json();
    let mut best: Option<(f64, Posture)> = None;
    for station in document["points"][0]["stations"].as_array().unwrap() {
        for s in station["solutions"].as_array().unwrap() {
            let margin = s["limit_margin_deg"].as_f64().unwrap();
            if best.as_ref().is_none_or(|(most, _)| margin > *most + 1e-9) {
                let joints = s["joints"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .map(|j| j.as_f64().unwrap());
                let track = station["track"].as_f64().unwrap();
                let table = station["table"].as_f64().unwrap_or(0.0);
                best = Some((margin, (track, table, joints.collect())));
            }
        }
    }
    best.unwrap().1
}

fn tip(folder: &Folder, (track, table, joints): &Posture) -> Vec<f64> {
    let joints: Vec<String> = joints.iter().map(f64::to_string).collect();
    let document = folder
        .run([
            "tip".to_owned(),
            format!("--track={track}"),
            format!("--table={table}"),
            format!("--joints={}", joints.join(",")),
            "--json".to_owned(),
        ])
        .ends(0)
        .json();
    let frame = &document["platter"];
    ["x_mm", "y_mm", "z_mm"]
        .iter()
        .map(|k| frame[k].as_f64().unwrap())
        .collect()
}

#[test]
fn what_cannot_be_told_apart_is_said_in_words_of_the_bench() {
    let folder = demo("slips-undetermined");
    let document = folder.run(["register", "--json"]).ends(2).json();
    let advice = &document["advice"][0];
    assert_eq!(advice["about"], "undetermined");
    let mut names: Vec<&str> = advice["parameters"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p.as_str().unwrap())
        .collect();
    names.sort_unstable();
    assert_eq!(names, ["turntable.index", "turntable.switch"]);
    assert!(
        advice["sentence"]
            .as_str()
            .unwrap()
            .contains("both shift where the notches meet the switch")
    );
    assert_eq!(advice["matters_for"], serde_json::json!([]));
    assert_eq!(advice["file"], "readings/touch.csv");
    let target = advice["cells"]["target"].as_str().unwrap();
    assert!(
        ["spigot", "rim_dot"].contains(&target),
        "a mark of the platter, not {target}"
    );
    let answer = folder
        .run(["register"])
        .ends(2)
        .says("would settle it")
        .says("energy off and locked");
    narrow(&answer.out);
}

/// By the geometry: the mount turns the arm about the vertical through its foot, and so does joint 1.
#[test]
fn two_turns_about_the_same_axis_are_told_as_such() {
    let folder = demo("glazing-bench");
    let cell = folder.read("cell.toml");
    let cell = cell.replace(
        "\"arm.j1.zero\" = 1.0",
        "\"arm.j1.zero\" = \"free\"\n\"mount.yaw\" = \"free\"",
    );
    folder.write("cell.toml", &cell);
    let document = folder.run(["register", "--json"]).ends(2).json();
    let sentence = document["advice"][0]["sentence"].as_str().unwrap();
    assert!(
        sentence.contains("mount.yaw") && sentence.contains("arm.j1.zero"),
        "{sentence}"
    );
    assert!(
        sentence.contains("both turn the arm about the same axis"),
        "{sentence}"
    );
    assert!(document["advice"][0]["reading"].is_null());
    folder
        .run(["register"])
        .says("no reading that could be taken would settle it");
}

/// Two notch readings more than unknowns of the table would be needed: with one notch each way its index and
/// lost motion are found by just these two, and nothing checks them.
#[test]
fn readings_that_nothing_checks_are_named_with_one_that_would() {
    let folder = demo("slips-undetermined");
    let cell = folder
        .read("cell.toml")
        .replace("\"turntable.switch\" = \"free\"\n", "");
    folder.write("cell.toml", &cell);
    folder.write(
        "readings/notch.csv",
        "notch,table,approach\n0,177.05,ccw\n0,176.40,cw\n",
    );
    let document = folder.run(["register", "--json", "--no-record"]).json();
    let about: Vec<&Value> = document["advice"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|a| a["about"] == "unchecked")
        .collect();
    assert!(!about.is_empty(), "{}", document["advice"]);
    for advice in &about {
        for r in advice["readings"].as_array().unwrap() {
            assert_eq!(r["file"], "readings/notch.csv");
        }
        assert!(advice["reading"].as_str().is_some(), "{advice}");
    }
    let text = folder.run(["register", "--no-record"]).out;
    assert!(flat(&text).contains("would check it"), "{text}");
    narrow(&text);
}

#[test]
fn the_simulation_is_drawn_on_request() {
    let folder = demo("inch-rows");
    let plain = folder.run(["register", "--json", "--no-record"]).json();
    assert!(plain["simulation"].is_null());
    let document = folder
        .run(["register", "--json", "--no-record", "--simulate", "50"])
        .ends(0)
        .json();
    assert_eq!(document["simulation"]["copies"], 50);
    let again = folder
        .run(["register", "--json", "--no-record", "--simulate", "50"])
        .json();
    assert_eq!(
        document["simulation"], again["simulation"],
        "the same copies each time"
    );
    let answer = folder
        .run(["register", "--no-record", "--simulate", "200"])
        .says("200 noisy copies");
    narrow(&answer.out);
    folder.run(["register", "--simulate", "5"]).ends(2);
}

#[test]
fn too_much_is_said_to_be_too_much() {
    let folder = demo("glazing-bench");
    // Every other row of every file is off by something else: nothing can be told from that.
    let text = folder.read("readings/notch.csv");
    let mut data = 0;
    let lines: Vec<String> = text
        .lines()
        .map(|l| {
            let mut cells: Vec<String> = l.split(',').map(str::to_owned).collect();
            if let Ok(value) = cells.get(1).unwrap_or(&String::new()).parse::<f64>() {
                data += 1;
                let off = f64::from((data * 37) % 23) - 11.0;
                cells[1] = format!("{:.2}", value + off);
            }
            cells.join(",")
        })
        .collect();
    folder.write("readings/notch.csv", &(lines.join("\n") + "\n"));
    let touch = folder.read("readings/touch.csv");
    let wild: Vec<String> = touch
        .lines()
        .enumerate()
        .map(|(k, l)| match k % 2 {
            0 => l.replace(",9", ",8"),
            _ => l.to_owned(),
        })
        .collect();
    folder.write("readings/touch.csv", &(wild.join("\n") + "\n"));
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(document["search"], "too many");
    assert_eq!(causes(&document), []);
    let answer = folder
        .run(["register", "--no-record"])
        .ends(1)
        .says("Too much does not fit to say what is wrong");
    narrow(&answer.out);
    // Setting aside is refused too: the answer stays the plain one.
    let aside = folder
        .run(["register", "--json", "--no-record", "--set-aside"])
        .ends(1)
        .json();
    assert_eq!(aside["set_aside"], serde_json::json!([]));
}

/// The demo cell holds the turntable 4 mm off where it truly stands (truth.json of glazing-bench: 704.2, 446.7
/// against 700, 450 as drawn), and does not solve for it: no reading is to blame.
#[test]
fn a_value_that_the_drawing_holds_wrongly_is_told_before_a_reading_is_blamed() {
    let folder = demo("glazing-bench");
    let cell = folder.read("cell.toml");
    let held = cell
        .replace("\"turntable.x\" = \"free\"\n", "")
        .replace("\"turntable.y\" = \"free\"\n", "");
    assert_ne!(cell, held);
    folder.write("cell.toml", &held);
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    let found = &document["unsolved"][0];
    assert_eq!(
        found["parameters"],
        serde_json::json!(["turntable.x", "turntable.y"])
    );
    for (off, truth) in found["off"].as_array().unwrap().iter().zip([4.2, -3.3]) {
        assert!((off.as_f64().unwrap() - truth).abs() < 1.0, "{found}");
    }
    assert_eq!(causes(&document), []);
    let answer = folder
        .run(["register", "--no-record"])
        .says("turntable.x")
        .says("add it to [solve]");
    narrow(&answer.out);
}

/// A slip elsewhere pulls the plain answer; a good check row is held against what is left without it.
#[test]
fn a_good_check_is_not_blamed_for_a_slip_elsewhere() {
    let folder = demo("read-twice");
    let holes = folder.read("readings/holes.csv");
    let slip = holes.replacen("left_foot,row,3,", "left_foot,row,4,", 1);
    assert_ne!(holes, slip);
    folder.write("readings/holes.csv", &slip);
    let document = folder
        .run(["register", "--json", "--no-record"])
        .ends(1)
        .json();
    assert_eq!(causes(&document), [("count", "count", "4", "3")]);
    assert_eq!(document["checks"]["hold"], true);
    assert_eq!(document["suspects"].as_array().unwrap().len(), 1);
    // And its repeats do not count what was written down wrong.
    for axis in document["repeats"]["axes"].as_array().unwrap() {
        assert!(axis["reversal"].as_f64().unwrap() < 5.0, "{axis}");
    }
    for s in document["repeats"]["scatter"].as_array().unwrap() {
        assert_eq!(s["verdict"], "as stated", "{s}");
    }
}

/// The post of the demo cell stands 40 mm high; written down as 47, both of its touches are off, and no slip in
/// a row is to blame. Nothing is set aside for it.
#[test]
fn a_mark_that_stands_elsewhere_is_not_blamed_on_its_touches() {
    let folder = demo("glazing-bench");
    let cell = folder.read("cell.toml");
    let at = cell.find("post = ").unwrap();
    let end = at + cell[at..].find(']').unwrap();
    let wrong = cell[at..end].replace("40.0", "47.0");
    assert_ne!(wrong, cell[at..end]);
    folder.write(
        "cell.toml",
        &format!("{}{wrong}{}", &cell[..at], &cell[end..]),
    );
    for arguments in [
        &["register", "--json", "--no-record"][..],
        &["register", "--json", "--no-record", "--set-aside"],
    ] {
        let document = folder.run(arguments).ends(1).json();
        assert_eq!(document["search"], "held");
        let found = &document["unsolved"][0];
        assert_eq!(found["parameters"], serde_json::json!(["marks.post.z"]));
        let off = found["off"][0].as_f64().unwrap();
        assert!((off + 7.0).abs() < 1.0, "{off}");
        assert_eq!(document["suspects"], serde_json::json!([]));
        assert_eq!(document["set_aside"], serde_json::json!([]));
        assert_eq!(causes(&document), []);
    }
    folder
        .run(["register", "--no-record"])
        .says("they would all agree if more were solved for")
        .says("marks.post.z");
}
