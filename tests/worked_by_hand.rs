//! The readings of docs/worked-examples.md through the whole program: cell and readings as text, the
//! document of `register` against the arithmetic.

mod sentences;

use sentences::Folder;
use serde_json::Value;

fn one(document: &Value, name: &str) -> f64 {
    let all = document["parameters"].as_array().unwrap();
    let found = all.iter().find(|p| p["name"] == name).unwrap();
    found["value"].as_f64().unwrap()
}

/// An arm of two joints on a track; `solve` and a turntable come from the test.
fn by_hand(pitch: &str, solve: &str) -> String {
    format!(
        r#"format = 1
name = "worked"
[plate]
{pitch}
columns = 40
rows = 20
[track]
at_mm = [0.0, 0.0, 60.0]
features.front_foot = [-60.0, 85.0, 0.0]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-170, 170]
[[arm.joint]]
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
switch_deg = 180.0
notches = 8
[solve]
{solve}
"#
    )
}

/// docs/worked-examples.md, 1. At 50 mm: 8 · 50 + 3.2 − (−60) − 125 = 338.2. At one inch:
/// 8 · 25.4 + 3.2 + 60 − 125 = 141.4.
#[test]
fn eight_pitches_counted_along_the_track() {
    for (pitch, wanted) in [
        ("pitch_mm = 50", 338.2),
        ("pitch_in = 1.0", 141.4),
        ("pitch_mm = 25.4", 141.4),
    ] {
        let folder = Folder::new(&by_hand(pitch, "\"track.x\" = \"free\"")).with(
            "readings/holes.csv",
            "feature,along,count,gap_mm,track\nfront_foot,column,8,3.2,125.00\n",
        );
        // Nothing is left over to check: dof 0 asks for a look.
        let document = folder.run(["register", "--json"]).ends(1).json();
        assert_eq!(document["dof"], 0);
        let got = one(&document, "track.x");
        assert!(
            (got - wanted).abs() < 1e-9,
            "{pitch}: {got}, by hand {wanted}"
        );
    }
}

/// Example 1's second station: count 15 at 474.65. scale = 350/349.65, datum = 463.2 − 125 · scale.
#[test]
fn a_second_station_gives_the_scale() {
    let solve = "\"track.x\" = \"free\"\n\"track.scale\" = \"free\"";
    let folder = Folder::new(&by_hand("pitch_mm = 50", solve)).with(
        "readings/holes.csv",
        "feature,along,count,gap_mm,track\nfront_foot,column,8,3.2,125.00\nfront_foot,column,15,3.2,474.65\n",
    );
    let document = folder.run(["register", "--json"]).ends(1).json();
    assert!((one(&document, "track.scale") - 1.001001001).abs() < 1e-9);
    assert!((one(&document, "track.x") - 338.074875).abs() < 1e-6);
}

/// Example 2: notch 2 (90°) at the switch (180°), 85.10 rising and 84.70 falling:
/// index = (4.90 + 5.30)/2 = 5.10, lost motion = 5.30 − 4.90 = 0.40.
#[test]
fn a_notch_brought_to_the_switch_from_both_sides() {
    let solve = "\"turntable.index\" = \"free\"\n\"turntable.lost_motion\" = \"free\"";
    for (up, down) in [("up", "down"), ("ccw", "cw")] {
        let folder = Folder::new(&by_hand("pitch_mm = 50", solve)).with(
            "readings/notch.csv",
            &format!("notch,table,approach\n2,85.10,{up}\n2,84.70,{down}\n"),
        );
        let document = folder.run(["register", "--json"]).ends(1).json();
        assert!((one(&document, "turntable.index") - 5.10).abs() < 1e-9);
        assert!((one(&document, "turntable.lost_motion") - 0.40).abs() < 1e-9);
    }
}

/// Example 3, with the tip 400 mm ahead of joint 1's axis: midway between (100, 50) and (100, 100) is hole
/// 2:1.5; play 0.9 to the left and 0.5 to the right puts the tip's free centre at (100, 75.2), so the
/// base at (−300, 75.2). The play is 1.4/400 rad = 0.2005°.
#[test]
fn the_tip_midway_between_two_holes() {
    let solve = "\"track.x\" = \"free\"\n\"track.y\" = \"free\"\n\"track.z\" = \"free\"";
    let folder = Folder::new(&by_hand("pitch_mm = 50", solve)).with(
        "readings/touch.csv",
        "target,track,j1,j2,left_mm,right_mm\n2:1.5,0,0,0,0.9,0.5\n",
    );
    let document = folder.run(["register", "--json"]).ends(1).json();
    assert!((one(&document, "track.x") + 300.0).abs() < 1e-9);
    assert!((one(&document, "track.y") - 75.2).abs() < 1e-9);
    let play = &document["play"][0];
    assert_eq!((&play["joint"], &play["line"]), (&"j1".into(), &2.into()));
    let lost = play["lost_motion_deg"].as_f64().unwrap();
    assert!(
        (lost - 0.0035 * 180.0 / std::f64::consts::PI).abs() < 1e-9,
        "{lost}"
    );
    let tip = folder
        .run(["tip", "--track=0", "--joints=0,0", "--json"])
        .ends(0)
        .json();
    assert!((tip["plate"]["y_mm"].as_f64().unwrap() - 75.2).abs() < 1e-9);
}
