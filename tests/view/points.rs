//! Points, their postures and their maps.

use std::thread;
use std::time::Duration;
use std::time::Instant;

use crate::served::LONG;
use crate::served::Served;
use crate::served::close;
use crate::served::registered;
use serde_json::Value;
use serde_json::json;

#[test]
fn a_place_is_reached_and_points_are_told() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let cell = server.get("api/cell").is(200).json();
    let start = &cell["start"]["registered"];
    let tip = &start["tip"]["plate"];
    let at: Vec<f64> = (0..3).map(|k| tip["at_mm"][k].as_f64().unwrap()).collect();
    let goal = [at[0] + 20.0, at[1] - 15.0, at[2] + 30.0];
    let there = server.state(
        "place",
        json!({"geometry": "registered", "stand": start["stand"], "frame": "plate", "at_mm": goal, "elevation_deg": null}),
    );
    assert_eq!(there["held"], Value::Null);
    for k in 0..3 {
        assert!(close(
            &there["tip"]["plate"]["at_mm"][k],
            &json!(goal[k]),
            1e-6
        ));
    }
    let nowhere = server.state(
        "place",
        json!({"geometry": "registered", "stand": start["stand"], "frame": "plate", "at_mm": [9000, 0, 0]}),
    );
    assert!(nowhere["held"].is_string());
    assert_eq!(nowhere["stand"], start["stand"]);
    // All points, once they are known, as `reach` tells them.
    let began = Instant::now();
    let points = loop {
        let told = server.state("points", json!({"geometry": "registered"}));
        if told["pending"] == false {
            break told;
        }
        assert!(began.elapsed() < LONG * 3);
        thread::sleep(Duration::from_millis(200));
    };
    let reach = folder.run(["reach", "--json"]).json();
    let told = points["points"].as_array().unwrap();
    assert_eq!(told.len(), reach["points"].as_array().unwrap().len());
    for (a, b) in told.iter().zip(reach["points"].as_array().unwrap()) {
        assert_eq!((&a["name"], &a["reachable"]), (&b["name"], &b["reachable"]));
        let margin = &b["best"]["margins"]["limit_margin_deg"];
        assert_eq!(&a["margin_deg"], margin, "{}", a["name"]);
    }
    let one = server.state(
        "point",
        json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"]}),
    );
    let from: Vec<&str> = one["postures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["from"].as_str().unwrap())
        .collect();
    assert!(
        from.contains(&"best") && from.contains(&"taught"),
        "{from:?}"
    );
    assert!(one["map"].as_str().unwrap().starts_with("<svg"));
    // Each posture leads to the point: the same place on the platter, from wherever.
    let places: Vec<Value> = one["postures"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| {
            server.state(
                "stand",
                json!({"geometry": "registered", "stand": p["stand"]}),
            )["tip"]["platter"]["at_mm"]
                .clone()
        })
        .collect();
    for place in &places {
        for k in 0..3 {
            assert!(close(&place[k], &places[0][k], 1e-5), "{places:?}");
        }
    }
    // The middle of the map's plot lies in it; a corner of the sheet does not.
    let beside = server.state(
        "map",
        json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"], "to": [1.0, 1.0]}),
    );
    assert!(beside["held"].as_str().unwrap().contains("beside"));
    // Places all over the plot: where the point is reached the tip stands on it, elsewhere it says so.
    let mut reached = 0;
    for x in [150.0, 300.0, 450.0, 600.0] {
        for y in [120.0, 250.0, 400.0] {
            let there = server.state(
                "map",
                json!({"geometry": "registered", "name": "tile_edge", "stand": start["stand"], "to": [x, y]}),
            );
            if there["held"].is_string() {
                assert_eq!(there["stand"], start["stand"]);
                continue;
            }
            reached += 1;
            for k in 0..3 {
                let at = &there["tip"]["platter"]["at_mm"][k];
                assert!(close(at, &places[0][k], 1e-5), "{at} {places:?}");
            }
        }
    }
    assert!(reached > 0);
    let missing = json!({"geometry": "registered", "name": "tile_egde", "stand": start["stand"]});
    let why = server.post("point", &missing).is(404).json();
    assert!(why["error"].as_str().unwrap().contains("tile_edge"));
}

/// The cross-hair of a map begins where track and table stand; what is told of a place is what going there gives.
#[test]
fn a_place_of_a_map_is_told_before_going_there() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let stand = bench_stand();
    let one = server.state(
        "point",
        json!({"geometry": "registered", "name": "tile_edge", "stand": stand}),
    );
    let ask = |name: &str, to: &Value| {
        server.state(name, json!({
            "geometry": "registered", "name": "tile_edge", "stand": stand, "to": to
        }))
    };
    let told = ask("station", &one["map_at"]);
    let text = told["text"].as_str().unwrap();
    assert!(text.starts_with("track 300, table 45: "), "{text}");
    let there = ask("map", &one["map_at"]);
    assert_eq!(told["reached"].as_bool().unwrap(), there["held"].is_null());
    for x in [200.0, 400.0, 600.0] {
        for y in [150.0, 300.0] {
            let (told, there) = (ask("station", &json!([x, y])), ask("map", &json!([x, y])));
            assert_eq!(told["reached"].as_bool().unwrap(), there["held"].is_null());
            let track = there["stand"]["track"].as_f64().unwrap();
            let at = told["text"].as_str().unwrap().strip_prefix("track ").unwrap();
            let at: f64 = at.split(',').next().unwrap().parse().unwrap();
            assert!(!told["reached"].as_bool().unwrap() || (at - track).abs() < 0.01, "{at} {track}");
        }
    }
    assert_eq!(ask("station", &json!([1.0, 1.0]))["reached"], false);
    // Where the arm cannot get at all: said of the station, and not of nowhere.
    let cell = server.get("api/cell").is(200).json();
    assert!(cell["points"].as_array().unwrap().len() > 1);
    let none = one["postures"].as_array().unwrap().iter().all(|p| p["from"] != "here");
    assert_eq!(one["not_from_here"].is_string(), none);
}
