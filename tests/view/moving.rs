//! Axes and tip moved by hand and by figures: the same as on the command line.

use crate::served::Served;
use crate::served::bench_stand;
use crate::served::close;
use crate::served::registered;
use serde_json::Value;
use serde_json::json;

#[test]
fn the_tip_is_that_of_the_command() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    for (geometry, more) in [("registered", ""), ("drawn", "--as-drawn")] {
        let mut arguments = vec![
            "tip",
            "--track",
            "300",
            "--table",
            "45",
            "--joints=90,-34,80,44,0",
            "--json",
        ];
        if !more.is_empty() {
            arguments.push(more);
        }
        let told = folder.run(&arguments).ends(0).json();
        let state = server.state(
            "stand",
            json!({"geometry": geometry, "stand": bench_stand()}),
        );
        for frame in ["plate", "platter"] {
            let (tip, cli) = (&state["tip"][frame], &told[frame]);
            for (k, key) in ["x_mm", "y_mm", "z_mm"].iter().enumerate() {
                assert!(close(&tip["at_mm"][k], &cli[key], 1e-9), "{frame} {key}");
            }
            for key in ["elevation_deg", "azimuth_deg", "roll_deg"] {
                assert!(close(&tip[key], &cli[key], 1e-9), "{frame} {key}");
            }
            match geometry {
                "registered" => assert!(close(&tip["u95_mm"], &cli["u95_mm"], 1e-9)),
                _ => assert_eq!(
                    (&tip["u95_mm"], &tip["text"]["u95"]),
                    (&Value::Null, &json!(""))
                ),
            }
        }
        assert_eq!(state["stand"], bench_stand());
        assert_eq!(state["held"], Value::Null);
    }
}

/// The place of a handle in a view.
fn handle(state: &Value, id: &str, view: &str) -> (f64, f64) {
    let handles = state["handles"].as_array().unwrap();
    let found = handles.iter().find(|h| h["id"] == id && h["view"] == view);
    let at = &found.unwrap_or_else(|| panic!("no {id} in {view}"))["at"];
    (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
}

fn joints(state: &Value) -> Vec<f64> {
    let joints = state["stand"]["joints"].as_array().unwrap();
    joints.iter().map(|j| j.as_f64().unwrap()).collect()
}

#[test]
fn the_tip_dragged_to_where_it_is_stays_and_there_and_back_comes_back() {
    for name in ["glazing-bench", "six-joint"] {
        let folder = registered(name);
        let server = Served::start(&folder, &[]);
        let cell = server.get("api/cell").is(200).json();
        for geometry in ["registered", "drawn"] {
            let start = &cell["start"][geometry];
            let drag = |stand: &Value, view: &str, key: &str, to: (f64, f64)| {
                server.state(
                    "drag",
                    json!({"geometry": geometry, "stand": stand, "handle": "tip", "view": view, key: [to.0, to.1]}),
                )
            };
            for view in ["plan", "elevation"] {
                let still = drag(&start["stand"], view, "to", handle(start, "tip", view));
                for (a, b) in joints(&still).iter().zip(joints(start)) {
                    assert!((a - b).abs() < 1e-6, "{name} {geometry} {view}: {a} {b}");
                }
                let exactly = drag(&start["stand"], view, "by_mm", (0.0, 0.0));
                assert_eq!(exactly["stand"], start["stand"]);
                let there = drag(&start["stand"], view, "by_mm", (4.0, 3.0));
                assert_eq!(there["held"], Value::Null, "{name} {geometry} {view}");
                // In plan z stays and x and y move by 4 and 3; in elevation y stays, x and z move.
                let (moved, kept) = if view == "plan" {
                    ([0, 1], 2)
                } else {
                    ([0, 2], 1)
                };
                let at =
                    |state: &Value, k: usize| state["tip"]["plate"]["at_mm"][k].as_f64().unwrap();
                for (k, by) in moved.into_iter().zip([4.0, 3.0]) {
                    assert!((at(&there, k) - at(start, k) - by).abs() < 1e-6);
                }
                assert!((at(&there, kept) - at(start, kept)).abs() < 1e-6);
                assert_eq!(there["stand"]["track"], start["stand"]["track"]);
                let back = drag(&there["stand"], view, "by_mm", (-4.0, -3.0));
                for (a, b) in joints(&back).iter().zip(joints(start)) {
                    assert!((a - b).abs() < 1e-6, "{name} {geometry} {view}: {a} {b}");
                }
            }
            // Far beyond what any arm here reaches: as far as it goes, and why.
            let far = drag(&start["stand"], "plan", "by_mm", (0.0, 2500.0));
            assert!(far["held"].as_str().unwrap().len() > 5);
            assert!(
                far["axes"]
                    .as_array()
                    .unwrap()
                    .iter()
                    .all(|a| a["inside"] == true)
            );
        }
    }
}

#[test]
fn carriage_platter_and_joints_follow_the_hand_within_their_limits() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let ask = |stand: &Value, handle: &str, view: &str, to: (f64, f64)| {
        server.state(
            "drag",
            json!({"geometry": "drawn", "stand": stand, "handle": handle, "view": view, "to": [to.0, to.1]}),
        )
    };
    let start = server.state(
        "stand",
        json!({"geometry": "drawn", "stand": bench_stand()}),
    );
    // As drawn the track runs along x with scale 1: a shift of the carriage in the picture is one of the
    // reading, by the picture's scale, whatever happens across.
    let one = server.state(
        "stand",
        json!({"geometry": "drawn", "stand": {"track": 400.0, "table": 45.0, "joints": [90.0, -34.0, 80.0, 44.0, 0.0]}}),
    );
    let (a, b) = (
        handle(&start, "track", "plan"),
        handle(&one, "track", "plan"),
    );
    let there = ask(&start["stand"], "track", "plan", (b.0, b.1 + 37.0));
    assert!(close(&there["stand"]["track"], &json!(400.0), 1e-6));
    let end = ask(&start["stand"], "track", "plan", (a.0 + 1e5, a.1));
    assert!(close(&end["stand"]["track"], &json!(900.0), 1e-6));
    assert_eq!(end["axes"][0]["inside"], true);
    assert!(end["held"].as_str().unwrap().contains("end of its travel"));
    // Each joint and the platter dragged to where it would be at another reading comes to that reading.
    let base = bench_stand();
    for (id, by, views) in [
        ("table", 30.0, &["plan"][..]),
        ("j1", -25.0, &["plan"]),
        ("j3", 10.0, &["elevation"]),
    ] {
        let mut other = base.clone();
        match id {
            "table" => other["table"] = json!(45.0 + by),
            _ => {
                let k: usize = id[1..].parse::<usize>().unwrap() - 1;
                other["joints"][k] = json!(base["joints"][k].as_f64().unwrap() + by);
            }
        }
        // Seen from the side, links that turn in the picture's plane: the base at 0.
        let mut from = base.clone();
        if id == "j3" {
            from["joints"][0] = json!(0.0);
            other["joints"][0] = json!(0.0);
        }
        let goal = server.state("stand", json!({"geometry": "drawn", "stand": other}));
        for view in views {
            let there = ask(&from, id, view, handle(&goal, id, view));
            assert_eq!(there["held"], Value::Null);
            let same = |a: &Value, b: &Value| close(a, b, 1e-6);
            assert!(
                same(&there["stand"]["table"], &other["table"]),
                "{id} {view}"
            );
            for k in 0..5 {
                assert!(
                    same(&there["stand"]["joints"][k], &other["joints"][k]),
                    "{id} {view} {there}"
                );
            }
        }
    }
}

/// By the state itself, and by the command: at the same readings each geometry tells where the other's tip is.
#[test]
fn each_geometry_tells_how_far_the_other_is() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let at = |geometry: &str| {
        server.state(
            "stand",
            json!({"geometry": geometry, "stand": bench_stand()}),
        )
    };
    let (found, drawn) = (at("registered"), at("drawn"));
    assert_eq!(found["other"]["geometry"], "drawn");
    assert_eq!(drawn["other"]["geometry"], "registered");
    let tip = |more: &[&str]| {
        let mut words = vec![
            "tip", "--track", "300", "--table", "45", "--joints=90,-34,80,44,0", "--json",
        ];
        words.extend(more);
        folder.run(&words).ends(0).json()
    };
    let (told, as_drawn) = (tip(&[]), tip(&["--as-drawn"]));
    for (frame, key) in [("plate", "by_mm"), ("platter", "by_platter_mm")] {
        for (k, axis) in ["x_mm", "y_mm", "z_mm"].iter().enumerate() {
            let by = as_drawn[frame][axis].as_f64().unwrap() - told[frame][axis].as_f64().unwrap();
            assert!(close(&found["other"][key][k], &json!(by), 1e-9), "{key} {axis}");
            assert!(close(&drawn["other"][key][k], &json!(-by), 1e-9), "{key} {axis}");
        }
    }
    // The demo's zeros are off by about half a degree each: what a metre of arm makes of that is seen.
    let far = |by: &Value| (0..3).map(|k| by[k].as_f64().unwrap().powi(2)).sum::<f64>().sqrt();
    let mm = far(&found["other"]["by_mm"]);
    let text = found["other"]["text"].as_str().unwrap();
    assert!(mm > 1.0 && text.starts_with(&format!("As drawn the tip would be {mm:.1} mm")), "{text}");
    let alone = Served::start(&folder, &["--as-drawn"]);
    let state = alone.state("stand", json!({"geometry": "drawn", "stand": bench_stand()}));
    assert_eq!(state["other"], Value::Null);
}

/// What stands around the arm is told though the arm's own parts may be nearer to each other.
#[test]
fn clearances_around_and_of_the_arm_itself_are_both_told() {
    let folder = registered("glazing-bench");
    let server = Served::start(&folder, &[]);
    let state = server.state(
        "stand",
        json!({"geometry": "registered", "stand": bench_stand()}),
    );
    let (around, own) = (&state["clearances"]["around"], &state["clearances"]["own"]);
    let what = around["what"].as_str().unwrap();
    assert!(what == "the plate" || what.starts_with("the keep-out "), "{what}");
    let what = own["what"].as_str().unwrap();
    assert!(what.starts_with("the arm's own "), "{what}");
}
