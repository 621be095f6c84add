//! The page itself, what does not change, and how it ends.

use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::Command;

use crate::served::Served;
use crate::served::bench_stand;
use crate::served::close;
use crate::served::demo;
use crate::served::registered;
use serde_json::Value;
use serde_json::json;

#[test]
fn the_page_and_what_does_not_change() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let page = server.get("").is(200);
    assert!(page.body.contains("<html"));
    for head in [
        "content-security-policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; \
         connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
        "x-content-type-options: nosniff",
        "referrer-policy: no-referrer",
        "cross-origin-opener-policy: same-origin",
        "cross-origin-resource-policy: same-origin",
        "cache-control: no-store",
        "content-type: text/html",
    ] {
        assert!(page.head.contains(head), "{head} in {}", page.head);
    }
    assert!(server.get("inks.css").is(200).head.contains("text/css"));
    let cell = server.get("api/cell").is(200).json();
    assert_eq!(cell["format"], 1);
    assert_eq!(cell["geometries"], json!(["registered", "drawn"]));
    let ids: Vec<&str> = cell["axes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|a| a["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids, ["track", "table", "j1", "j2", "j3", "j4", "j5"]);
    assert_eq!(cell["axes"][1]["endless"], true);
    // As drawn limits are those of the cell file, scale 1 and zero 0; as registered those that the controller
    // shows, since zeros and the track's datum were found.
    let axes = |geometry: &str| cell["start"][geometry]["axes"].clone();
    let (drawn, registered) = (axes("drawn"), axes("registered"));
    assert_eq!((&drawn[0]["low"], &drawn[0]["high"]), (&json!(0.0), &json!(900.0)));
    assert_eq!(drawn[1]["low"], Value::Null);
    assert!(close(&drawn[2]["low"], &json!(-165.0), 1e-9));
    let record = folder.read("records/registration-0001.json");
    let record: Value = serde_json::from_str(&record).unwrap();
    let parameters = record["body"]["geometry"].as_array().unwrap();
    for k in 0..5 {
        let name = format!("arm.j{}.zero", k + 1);
        let zero = parameters.iter().find(|p| p["name"] == name.as_str());
        let zero = zero.unwrap()["value"].as_f64().unwrap();
        // model.md, 2: value = scale · reading + zero, and limits are limits of the value; the scale is 1.
        let low = |axes: &Value| axes[2 + k]["low"].as_f64().unwrap();
        let apart = low(&registered) - low(&drawn);
        assert!((apart + zero).abs() < 1e-6, "{name}: {apart}, {zero}");
        assert!(zero != 0.0, "{name} was found");
    }
    assert_eq!(cell["verdicts"]["registered"]["verdict"], "accepted");
    assert_eq!(cell["verdicts"]["drawn"]["verdict"], Value::Null);
    for geometry in ["registered", "drawn"] {
        for view in ["plan", "elevation"] {
            let svg = cell["drawings"][geometry][view].as_str().unwrap();
            assert!(
                svg.contains("<g class=\"moving\">\n</g>"),
                "{geometry} {view}"
            );
        }
        assert_eq!(cell["start"][geometry]["geometry"], geometry);
    }
    assert!(
        cell["caution"]
            .as_str()
            .unwrap()
            .contains("prove each new position slowly")
    );
    let names: Vec<&str> = cell["points"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["name"].as_str().unwrap())
        .collect();
    assert!(names.contains(&"tile_edge"));
}

#[test]
fn it_stops_with_status_0() {
    let folder = demo("glazing-bench");
    // Not registered: as drawn alone, and it says so.
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    assert_eq!(cell["geometries"], json!(["drawn"]));
    assert_eq!(cell["verdicts"]["drawn"]["verdict"], Value::Null);
    assert_eq!(cell["verdicts"].as_object().unwrap().len(), 1);
    let body = json!({"geometry": "registered", "stand": bench_stand()});
    assert_eq!(server.post("stand", &body).status, 404);
    assert_eq!(server.post("stop", &json!({})).is(200).body, "{}");
    assert_eq!(server.ends(), Some(0));
    if cfg!(unix) {
        for signal in ["-INT", "-TERM"] {
            let server = Served::start(&folder, &["--as-drawn"]);
            server.still_answers();
            let id = server.child.id().to_string();
            assert!(
                Command::new("kill")
                    .args([signal, &id])
                    .status()
                    .unwrap()
                    .success()
            );
            assert_eq!(server.ends(), Some(0), "{signal}");
        }
    }
}

/// All files of the page are built in, under their own names.
#[test]
fn every_file_of_the_page_is_served() {
    let folder = demo("glazing-bench");
    let server = Served::start(&folder, &["--as-drawn"]);
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/view/page");
    for entry in fs::read_dir(page).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let asked = if name == "index.html" { "" } else { name };
        let reply = server.get(asked).is(200);
        assert_eq!(reply.body, fs::read_to_string(&path).unwrap(), "{name}");
    }
}
