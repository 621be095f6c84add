//! Records: numbered, never written over, refused when damaged.

mod sentences;

use std::process::Stdio;

use sentences::flat;
use sentences::small::CELL;
use sentences::small::HOLES;
use sentences::small::TIP;
use sentences::small::good;

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
    let folder = good();
    folder.run(["register"]).ends(0);
    let text = folder.read("records/registration-0001.json");
    folder.write("records/registration-0041.json", &text);
    folder.run(["register"]).ends(0);
    assert!(
        folder
            .records()
            .contains(&"registration-0042.json".to_owned())
    );
    assert_eq!(folder.read("records/registration-0041.json"), text);
}

#[test]
fn nothing_is_chained_to_a_record_that_cannot_be_read() {
    let folder = good().with("records/registration-0041.json", "{}");
    folder
        .run(["register"])
        .ends(2)
        .complains("registration-0041.json: the record is damaged");
    assert_eq!(folder.records(), ["registration-0041.json"]);
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
