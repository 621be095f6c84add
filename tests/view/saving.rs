//! The one file that is written, and that nothing else is.

use std::fs;
use std::thread;

use crate::served::Served;
use crate::served::digests;
use crate::served::registered;
use serde_json::Value;
use serde_json::json;

#[test]
fn a_row_is_kept_only_when_confirmed_and_nothing_else_is_written() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    let ask = |name: &str, confirmed: bool| {
        server.post("save", &json!({
            "geometry": "registered", "stand": stand, "name": name, "frame": "platter", "confirmed": confirmed
        }))
    };
    let before = digests(folder.root());
    let looked = ask("new_spot", false).is(200).json();
    assert_eq!(
        (&looked["file"], &looked["written"]),
        (&json!("taught-on-page.csv"), &json!(false))
    );
    assert!(looked["text"].as_str().unwrap().contains("taught.csv"));
    assert_eq!(digests(folder.root()), before);
    let hostile = [
        "",
        "name",
        "tile_edge",
        "Tile_Edge",
        "rack_pick",
        "=1+1",
        "+1",
        "-1",
        "@x",
        "a,b",
        "a\nb",
        "a\"b",
        "../x",
        "a b",
        "ä",
        "a\u{0}b",
        "a\u{202e}b",
        &"n".repeat(61),
    ];
    for name in hostile {
        let status = ask(name, true).status;
        assert!([400, 409].contains(&status), "{name:?}: {status}");
    }
    let given = folder.read("points.csv");
    let given = given
        .lines()
        .find(|l| !l.starts_with('#') && !l.starts_with("name"))
        .unwrap();
    let given = given.split(',').next().unwrap();
    assert_eq!(ask(given, true).status, 409);
    assert_eq!(digests(folder.root()), before);
    let written = ask("new_spot", true).is(200).json();
    assert_eq!(written["written"], true);
    assert_eq!(ask("new_spot", true).status, 409);
    assert_eq!(ask("NEW_spot", true).status, 409);
    assert_eq!(ask("other-spot", true).status, 200);
    let mut after = digests(folder.root());
    assert!(after.remove("taught-on-page.csv").is_some());
    assert_eq!(after, before);
    let text = folder.read("taught-on-page.csv");
    assert!(text.contains(written["row"].as_str().unwrap()));
    // The rows are those of taught.csv: put there they are read, and lead to the same place.
    let rows: Vec<&str> = text.lines().filter(|l| !l.starts_with('#')).collect();
    assert_eq!(rows[0], "name,frame,track,table,j1,j2,j3,j4,j5,record");
    assert_eq!(rows.len(), 3);
    folder.write("taught.csv", &format!("{}\n", rows.join("\n")));
    let check = folder.run([
        "reach", "--json", "--point", "new_spot", "--track", "300", "--table", "45",
    ]);
    assert!(check.status < 2, "{}", check.err);
    // As drawn, or beyond a limit: not kept.
    let mut out = stand.clone();
    out["joints"][1] = json!(300.0);
    for (geometry, stand) in [("drawn", &stand), ("registered", &out)] {
        let body = json!({"geometry": geometry, "stand": stand, "name": "spot3", "frame": "plate", "confirmed": true});
        assert_eq!(server.post("save", &body).status, 400);
    }
}

/// Every axis at each of its limits as the page is told them: within, nothing to look at in that, and kept.
#[test]
fn a_reading_at_a_limit_is_within_it() {
    for name in ["glazing-bench", "inch-rows"] {
        let folder = registered(name);
        let server = Served::start(&folder, &[]);
        let cell = server.get("api/cell").is(200).json();
        let axes = cell["start"]["registered"]["axes"].clone();
        for (k, axis) in axes.as_array().unwrap().iter().enumerate() {
            for end in ["low", "high"] {
                let Some(limit) = axis[end].as_f64() else {
                    continue;
                };
                let mut stand = cell["start"]["registered"]["stand"].clone();
                let id = axis["id"].as_str().unwrap();
                match id.strip_prefix('j') {
                    Some(j) => stand["joints"][j.parse::<usize>().unwrap() - 1] = json!(limit),
                    None => stand[id] = json!(limit),
                }
                let state =
                    server.state("stand", json!({"geometry": "registered", "stand": stand}));
                assert_eq!(state["axes"][k]["inside"], true, "{name} {id} {end}");
                let looks = state["looks"].to_string();
                assert!(!looks.contains("outside its"), "{name} {id} {end}: {looks}");
                let body = json!({
                    "geometry": "registered", "stand": stand, "name": format!("{id}-{end}"),
                    "frame": "plate", "confirmed": false
                });
                server.post("save", &body).is(200);
            }
        }
    }
}

#[test]
fn what_stands_in_the_place_of_the_file_is_left_alone() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    let ask = |confirmed: bool| {
        let body = json!({"geometry": "registered", "stand": stand, "name": "spot", "frame": "plate", "confirmed": confirmed});
        server.post("save", &body)
    };
    let save = || ask(true).status;
    let path = folder.path("taught-on-page.csv");
    let other = folder.path("other.txt");
    fs::write(&other, "untouched\n").unwrap();
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(&other, &path).unwrap();
        assert_eq!(save(), 409);
        fs::remove_file(&path).unwrap();
        std::os::unix::fs::symlink(folder.path("nowhere"), &path).unwrap();
        assert_eq!(save(), 409);
        assert!(!folder.path("nowhere").exists());
        fs::remove_file(&path).unwrap();
        fs::hard_link(&other, &path).unwrap();
        assert_eq!(save(), 409);
        fs::remove_file(&path).unwrap();
    }
    fs::create_dir(&path).unwrap();
    assert_eq!(save(), 409);
    fs::remove_dir(&path).unwrap();
    for odd in [
        "a,b,c\n1,2,3\n",
        "name,frame,track,table,j1,j2,j3,j4,j5,record\nbroken row\n",
    ] {
        fs::write(&path, odd).unwrap();
        assert_eq!(save(), 409, "{odd}");
        assert_eq!(fs::read_to_string(&path).unwrap(), odd);
        // What would be refused is not promised either.
        assert_eq!(ask(false).status, 409, "{odd}");
    }
    fs::remove_file(&path).unwrap();
    // A name in a file that cannot be read may be this one.
    for name in ["points.csv", "taught.csv"] {
        let good = folder.read(name);
        folder.write(name, &format!("{good}\nspot,plate\n"));
        let why = ask(true).is(409).json();
        assert!(why["error"].as_str().unwrap().contains(name), "{why}");
        assert!(!path.exists());
        folder.write(name, &good);
    }
    assert_eq!(fs::read_to_string(&other).unwrap(), "untouched\n");
    // A last line without its end does not swallow the row.
    let header = "name,frame,track,table,j1,j2,j3,j4,j5,record";
    fs::write(&path, format!("{header}\nfirst,plate,1,2,3,4,5,6,7,")).unwrap();
    assert_eq!(save(), 200);
    assert_eq!(fs::read_to_string(&path).unwrap().lines().count(), 3);
    // Lines end as those that are there.
    fs::write(&path, format!("{header}\r\nfirst,plate,1,2,3,4,5,6,7,\r\n")).unwrap();
    assert_eq!(save(), 200);
    let text = fs::read_to_string(&path).unwrap();
    assert_eq!(
        (text.matches("\r\n").count(), text.matches('\n').count()),
        (3, 3)
    );
}

/// A program that holds the file open and locked, as a spreadsheet may, does not stop the page.
#[test]
fn a_file_that_another_program_holds_is_not_waited_for_without_end() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let body = json!({
        "geometry": "registered", "stand": cell["start"]["registered"]["stand"], "name": "spot",
        "frame": "plate", "confirmed": true
    });
    let path = folder.path("taught-on-page.csv");
    let held = fs::File::create(&path).unwrap();
    held.lock().unwrap();
    let why = server.post("save", &body).is(409).json();
    let why = why["error"].as_str().unwrap();
    assert!(why.contains("in use by another program"), "{why}");
    assert_eq!(fs::metadata(&path).unwrap().len(), 0);
    held.unlock().unwrap();
    server.post("save", &body).is(200);
}

#[test]
fn two_pages_of_one_cell_lose_no_row() {
    let folder = registered("glazing-bench");
    let servers = [Served::start(&folder, &[]), Served::start(&folder, &[])];
    let cell = servers[0].get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    thread::scope(|scope| {
        for (s, server) in servers.iter().enumerate() {
            for t in 0..2 {
                let stand = &stand;
                scope.spawn(move || {
                    for k in 0..10 {
                        let body = json!({
                            "geometry": "registered", "stand": stand, "name": format!("p{s}-{t}-{k}"),
                            "frame": "plate", "confirmed": true
                        });
                        server.post("save", &body).is(200);
                    }
                });
            }
        }
    });
    let text = folder.read("taught-on-page.csv");
    let rows = text.lines().filter(|l| l.starts_with('p'));
    let names: std::collections::BTreeSet<&str> =
        rows.map(|l| l.split(',').next().unwrap()).collect();
    assert_eq!(names.len(), 40);
    assert_eq!(text.lines().filter(|l| l.starts_with("name,")).count(), 1);
}

/// Somebody changes the cell while its page is open: the page hears of it, and what it worked out before is not kept.
#[test]
fn nothing_is_kept_of_a_cell_that_was_changed_meanwhile() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let stand = cell["start"]["registered"]["stand"].clone();
    let save = |name: &str| {
        let body = json!({"geometry": "registered", "stand": stand, "name": name, "frame": "plate", "confirmed": true});
        server.post("save", &body)
    };
    let fresh = || server.get("api/fresh").is(200).json()["changed"].clone();
    assert_eq!(fresh(), Value::Null);
    save("first").is(200);
    // Its own file is no change.
    assert_eq!(fresh(), Value::Null);
    save("second").is(200);
    folder.run(["register"]);
    let told = fresh();
    let told = told.as_str().unwrap();
    assert!(
        told.contains("records/registration-0002.json was added"),
        "{told}"
    );
    let before = folder.read("taught-on-page.csv");
    let refused = save("third").is(409).json();
    let why = refused["error"].as_str().unwrap();
    assert!(
        why.contains("registration-0002.json") && why.contains("again"),
        "{why}"
    );
    assert_eq!(folder.read("taught-on-page.csv"), before);
}

/// Why a position cannot be kept is told with the position, before a name is asked for.
#[test]
fn what_cannot_be_kept_is_told_with_the_position() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let unkept = |geometry: &str, table: f64, j2: f64| {
        let stand = json!({"track": 300.0, "table": table, "joints": [90.0, j2, 80.0, 44.0, 0.0]});
        let state = server.state("stand", json!({"geometry": geometry, "stand": stand}));
        let body = json!({"geometry": geometry, "stand": stand, "name": "spot", "frame": "plate", "confirmed": false});
        let status = server.post("save", &body).status;
        assert_eq!(
            status == 200,
            state["unkept"].is_null(),
            "{geometry} {table} {j2}"
        );
        state["unkept"].as_str().unwrap_or_default().to_owned()
    };
    assert_eq!(unkept("registered", 45.0, -34.0), "");
    assert!(unkept("drawn", 45.0, -34.0).contains("as drawn"));
    assert!(unkept("registered", 45.0, 300.0).contains("j2 is beyond its limit"));
    // A thousand turns are 360,000 of its readings.
    assert_eq!(unkept("registered", 359_000.0, -34.0), "");
    assert!(unkept("registered", 361_000.0, -34.0).contains("1000 turns"));
}

/// Somebody read again, and the registration does not hold: no page says that it does, and nothing is kept of it.
#[test]
fn what_a_recheck_contradicts_is_said_everywhere_and_not_kept() {
    let folder = registered("glazing-bench");
    let touch = folder.read("readings/touch.csv");
    let rows: Vec<&str> = touch.lines().filter(|l| !l.starts_with('#')).collect();
    let columns: Vec<&str> = rows[0].split(',').map(str::trim).collect();
    let x = columns.iter().position(|c| *c == "dx_mm").unwrap();
    let mut off: Vec<String> = rows[1].split(',').map(|c| c.trim().to_owned()).collect();
    // A hole of the plate.
    off[x] = "50".to_owned();
    folder.write(
        "again/touch.csv",
        &format!("{}\n{}\n", rows[0], off.join(",")),
    );
    assert_eq!(folder.run(["recheck", "--readings", "again"]).status, 1);
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let verdict = &cell["verdicts"]["registered"];
    assert_eq!(verdict["lapsed"], "DOES NOT HOLD ANY MORE");
    assert_eq!(cell["verdicts"]["drawn"]["lapsed"], Value::Null);
    let start = &cell["start"]["registered"];
    let first = start["looks"][0].as_str().unwrap();
    assert!(
        first.contains("DOES NOT HOLD") && first.contains("recheck-0001.json"),
        "{first}"
    );
    assert!(
        start["unkept"]
            .as_str()
            .unwrap()
            .contains("does not hold any more")
    );
    let body = json!({"geometry": "registered", "stand": start["stand"], "name": "spot", "frame": "plate", "confirmed": true});
    server.post("save", &body).is(400);
    assert!(!folder.path("taught-on-page.csv").exists());
    // The commands say it before their answer, and do not end as if all were well.
    for command in [
        &[
            "tip",
            "--track",
            "300",
            "--table",
            "45",
            "--joints=90,-34,80,44,0",
        ][..],
        &["reach", "--point", "park"],
        &["transfer"],
    ] {
        let told = folder.run(command);
        let text = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(told.status, 1, "{command:?}");
        assert!(text.contains("does not hold any more"), "{text}");
    }
    let refused = folder.run(["transfer", "--out", "carried.csv"]);
    assert_eq!(refused.status, 2);
    assert!(!folder.path("carried.csv").exists());
}
