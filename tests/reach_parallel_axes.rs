//! Arms whose axes are all parallel: upright ones that cannot lift, and planar ones that stand, against
//! the law of cosines worked out by hand.

mod sentences;

use sentences::Folder;
use sentences::flat;
use serde_json::Value;

/// Three upright axes, links 250 and 200, the tool straight down; base at 80, flange 200 above, tool
/// 60: the tip stays at 220.
const UPRIGHT: &str = r#"format = 1
name = "three upright axes"
[plate]
pitch_mm = 50
columns = 30
rows = 16
[track]
at_mm = [150, 100, 62]
travel_mm = [0, 900]
[mount]
at_mm = [0, 0, 18]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-150, 150]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [250, 0, 300]
limits_deg = [-150, 150]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [450, 0, 300]
limits_deg = [-180, 180]
[arm.flange]
at_mm = [450, 0, 200]
z = [0, 0, -1]
x = [1, 0, 0]
[tool]
at_mm = [0, 0, 60]
"#;

/// Three axes along y in a plane that stands: shoulder, elbow and wrist at x = 0, 150 and 300, all 150
/// up, the flange at 400; the base at (100, 200, 0).
const STANDING: &str = r#"format = 1
name = "a planar arm that stands"
[plate]
pitch_mm = 50
columns = 30
rows = 16
[mount]
at_mm = [100, 200, 0]
roll_deg = ROLL
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [0, 0, 150]
limits_deg = [-170, 170]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [150, 0, 150]
limits_deg = [-170, 170]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [300, 0, 150]
limits_deg = [-170, 170]
[arm.flange]
at_mm = [400, 0, 150]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 0]
"#;

fn standing(roll_deg: f64) -> Folder {
    Folder::new(&STANDING.replace("ROLL", &format!("{roll_deg}")))
}

fn point(folder: &Folder, at: [f64; 3], elevation: f64) {
    folder.write(
        "points.csv",
        &format!(
            "name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg\n\
             p,plate,{:.12},{:.12},{:.12},{elevation},,\n",
            at[0], at[1], at[2]
        ),
    );
}

#[test]
fn an_approach_straight_up_is_refused_where_the_arm_cannot_lift() {
    let folder = Folder::new(UPRIGHT);
    point(&folder, [450.0, 300.0, 220.0], -90.0);
    // Without an approach the step is done.
    folder.write(
        "tasks/flat.csv",
        "point,approach_mm,depart_mm,along\np,0,0,up\n",
    );
    let answer = folder
        .run(["task", "--as-drawn", "--name", "flat", "--json"])
        .ends(0);
    assert_eq!(answer.json()["steps"][0]["possible"], true);
    // With one the arm would have to lift by 30 mm. The tool points down: back along it is up as well.
    for along in ["up", "tool"] {
        let row = format!("point,approach_mm,depart_mm,along\np,30,0,{along}\n");
        folder.write("tasks/lift.csv", &row);
        let answer = folder
            .run(["task", "--as-drawn", "--name", "lift", "--json"])
            .ends(1);
        let step = &answer.json()["steps"][0];
        assert_eq!(step["possible"], false);
        let why = step["why"].as_str().unwrap();
        assert!(
            why.contains("the point is reached, but not the place before it"),
            "{why}"
        );
        // What helps is a shorter approach, and only one of nothing.
        for help in step["would_help"].as_array().unwrap() {
            if help["change"] == "approach" {
                assert!(help["value"].as_f64().unwrap() <= 1.0, "{help}");
            }
        }
    }
    let row = "point,approach_mm,depart_mm,along\np,0,30,up\n";
    folder.write("tasks/lift.csv", row);
    let answer = folder
        .run(["task", "--as-drawn", "--name", "lift", "--json"])
        .ends(1);
    let why = answer.json()["steps"][0]["why"]
        .as_str()
        .unwrap()
        .to_owned();
    assert!(why.contains("but not the place after it"), "{why}");
}

/// Postures (degrees) of the standing arm for a tip `u` ahead and `w` up in its plane, the tool at
/// `psi` above its x: by the law of cosines. Turns about +y are downward.
fn by_hand(u: f64, w: f64, psi_deg: f64) -> Vec<[f64; 3]> {
    let psi = psi_deg.to_radians();
    let (x, z) = (u - 100.0 * psi.cos(), w - 100.0 * psi.sin() - 150.0);
    let cos = (x * x + z * z - 2.0 * 150.0 * 150.0) / (2.0 * 150.0 * 150.0);
    assert!(cos.abs() < 1.0, "{cos}");
    let mut out = Vec::new();
    for elbow in [cos.acos(), -cos.acos()] {
        // Equal links: the first one stands half the elbow's turn off the line to the wrist.
        let first = -z.atan2(x) - elbow / 2.0;
        let third = -psi - first - elbow;
        let turn = |a: f64| (a.to_degrees() + 180.0).rem_euclid(360.0) - 180.0;
        let q = [turn(first), turn(elbow), turn(third)];
        if q.iter().all(|a| a.abs() <= 170.0) {
            out.push(q);
        }
    }
    out
}

/// Solutions of `reach` at the arm's one stand.
fn solutions(folder: &Folder) -> Vec<Value> {
    let answer = folder.run(["reach", "--as-drawn", "--json"]).ends(0);
    let document = answer.json();
    let stations = document["points"][0]["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 1);
    stations[0]["solutions"].as_array().unwrap().clone()
}

/// Every posture of `reach` gives the elevation and the place by `tip`; those by hand are all there
/// and no others.
fn agrees(folder: &Folder, at: [f64; 3], elevation: f64, mut hand: Vec<[f64; 3]>) {
    let found = solutions(folder);
    hand.dedup_by(|a, b| (0..3).all(|i| (a[i] - b[i]).abs() < 1e-6));
    assert_eq!(found.len(), hand.len(), "{found:?} {hand:?}");
    for s in &found {
        let joints: Vec<f64> = s["joints"]
            .as_array()
            .unwrap()
            .iter()
            .map(|j| j.as_f64().unwrap())
            .collect();
        let known = |q: &&[f64; 3]| (0..3).all(|i| (joints[i] - q[i]).abs() < 1e-6);
        assert!(hand.iter().any(|q| known(&q)), "{joints:?} not in {hand:?}");
        let list: Vec<String> = joints.iter().map(|j| format!("{j:.12}")).collect();
        let joints = format!("--joints={}", list.join(","));
        let tip = folder
            .run(["tip", "--as-drawn", &joints, "--json"])
            .ends(0)
            .json();
        let tip = &tip["plate"];
        for (key, want) in ["x_mm", "y_mm", "z_mm"].iter().zip(at) {
            assert!(
                (tip[key].as_f64().unwrap() - want).abs() < 1e-6,
                "{key}: {tip}"
            );
        }
        let is = tip["elevation_deg"].as_f64().unwrap();
        assert!((is - elevation).abs() < 1e-6, "{is}, wanted {elevation}");
    }
}

#[test]
fn a_planar_arm_that_stands_meets_its_elevation() {
    let folder = standing(0.0);
    // −45: the tool 45 degrees below x, or 45 below −x (225 degrees).
    let (u, w) = (180.0, 120.0);
    let at = [100.0 + u, 200.0, w];
    point(&folder, at, -45.0);
    let hand = [by_hand(u, w, -45.0), by_hand(u, w, 225.0)].concat();
    assert!(hand.len() >= 3, "{hand:?}");
    agrees(&folder, at, -45.0, hand);
    // Straight up: one way to hold the tool, two elbows.
    let (u, w) = (150.0, 300.0);
    let at = [100.0 + u, 200.0, w];
    point(&folder, at, 90.0);
    let hand = by_hand(u, w, 90.0);
    assert_eq!(hand.len(), 2);
    agrees(&folder, at, 90.0, hand);
}

/// The base rolled by 20 degrees: its plane holds x and (0, −sin 20, cos 20).
fn rolled(u: f64, w: f64) -> [f64; 3] {
    let (s, c) = 20f64.to_radians().sin_cos();
    [100.0 + u, 200.0 - w * s, w * c]
}

#[test]
fn a_planar_arm_that_leans_meets_its_elevation() {
    let folder = standing(20.0);
    // By hand: a tool at ψ in the plane points up by sin ψ cos 20, so sin ψ = sin(−45) / cos 20.
    let (u, w) = (180.0, 120.0);
    let at = rolled(u, w);
    point(&folder, at, -45.0);
    let psi = ((-45f64).to_radians().sin() / 20f64.to_radians().cos())
        .asin()
        .to_degrees();
    let hand = [by_hand(u, w, psi), by_hand(u, w, 180.0 - psi)].concat();
    assert!(hand.len() >= 2, "{hand:?}");
    agrees(&folder, at, -45.0, hand);
    // Steeper than 70 degrees no tool of this plane can point.
    let at = rolled(150.0, 300.0);
    for (elevation, reached) in [(69.0, true), (71.0, false), (90.0, false)] {
        point(&folder, at, elevation);
        let answer = folder.run(["reach", "--as-drawn", "--json"]);
        assert_eq!(
            answer.json()["points"][0]["reachable"],
            reached,
            "{elevation}"
        );
    }
}

#[test]
fn a_point_beside_the_plane_is_refused_with_its_distance() {
    for roll in [0.0, 20.0] {
        let folder = standing(roll);
        let (s, c) = f64::to_radians(roll).sin_cos();
        // 37.5 along the plane's normal (0, cos, sin) from a place of the plane.
        let (u, w) = (180.0, 120.0);
        let at = [100.0 + u, 200.0 - w * s + 37.5 * c, w * c + 37.5 * s];
        point(&folder, at, -45.0);
        let answer = folder.run(["reach", "--as-drawn", "--json"]).ends(1);
        let document = answer.json();
        let why = flat(document["points"][0]["refused"].as_str().unwrap());
        assert!(why.contains("37.5 mm beside it"), "{why}");
        assert_eq!(document["points"][0]["reachable"], false);
        folder.write("tasks/one.csv", "point\np\n");
        folder
            .run(["task", "--as-drawn", "--name", "one"])
            .ends(2)
            .complains("37.5 mm beside it");
    }
}
