//! Repeated readings: the standards' figures against values made outside, and their grouping by hand.

mod bench;

use nalgebra::Vector3;
use notchpin::fit::repeats::iso230_2;
use notchpin::fit::repeats::iso230_2::Runs;
use notchpin::fit::repeats::iso9283;
use notchpin::fit::repeats::repeats;
use notchpin::readings::RunAxis;
use notchpin::readings::Taken;
use serde_json::Value;

/// Relative to the largest size of what a case was made from; tests/reference/generated/SOURCE.md.
const ISO_9283: f64 = 1e-10;
const ISO_230_2: f64 = 1e-11;

fn cases(name: &str) -> Vec<Value> {
    let path = format!(
        "{}/tests/reference/generated/{name}",
        env!("CARGO_MANIFEST_DIR")
    );
    let text = std::fs::read_to_string(path).unwrap();
    let all: Value = serde_json::from_str(&text).unwrap();
    let list = all["cases"].as_array().unwrap().clone();
    assert_eq!(list.len(), 6);
    list
}

fn numbers(value: &Value) -> Vec<f64> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| v.as_f64().unwrap()).collect()
}

fn points(value: &Value) -> Vec<Vector3<f64>> {
    let list = value.as_array().unwrap();
    list.iter().map(|v| Vector3::from_vec(numbers(v))).collect()
}

#[track_caller]
fn near(what: &str, got: f64, wanted: &Value, tolerance: f64) {
    let wanted = wanted
        .as_f64()
        .unwrap_or_else(|| panic!("{what}: {wanted}"));
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got}, not {wanted}"
    );
}

fn largest(values: impl IntoIterator<Item = f64>) -> f64 {
    values.into_iter().fold(0.0, |m: f64, v| m.max(v.abs()))
}

/// ISO 9283:1998, formulas from memory; expected values by numpy (tests/reference/generated/SOURCE.md).
#[test]
fn pose_accuracy_and_repeatability_agree_with_values_made_outside() {
    for case in cases("iso9283.json") {
        let mut means = Vec::new();
        let bound = ISO_9283
            * largest(
                points(&case["attained"])
                    .iter()
                    .flat_map(|p| p.iter().copied())
                    .collect::<Vec<f64>>(),
            );
        for (commanded, attained, pose) in [
            ("commanded", "attained", "pose1"),
            ("commanded2", "attained2", "pose2"),
        ] {
            let target = Vector3::from_vec(numbers(&case[commanded]));
            let found = iso9283::position(&target, &points(&case[attained])).unwrap();
            let wanted = &case["expected"][pose];
            near("AP", found.accuracy, &wanted["AP"], bound);
            near("l", found.mean_distance, &wanted["l_mean"], bound);
            near("S_l", found.spread, &wanted["S_l"], bound);
            near("RP", found.repeatability, &wanted["RP"], bound);
            for k in 0..3 {
                near(
                    "barycentre",
                    found.barycentre[k],
                    &wanted["barycentre"][k],
                    ISO_9283,
                );
                near(
                    "AP_xyz",
                    found.accuracy_xyz[k],
                    &wanted["AP_xyz"][k],
                    ISO_9283,
                );
            }
            means.push(target);
        }
        let wanted = &case["expected"];
        let angles = numbers(&case["attained_angle_deg"]);
        let commanded = case["commanded_angle_deg"].as_f64().unwrap();
        let angle = iso9283::figure(commanded, &angles).unwrap();
        near("AP angle", angle.accuracy, &wanted["AP_angle"], bound);
        near(
            "RP angle",
            angle.repeatability,
            &wanted["RP_angle"],
            ISO_9283,
        );
        let pairs = points(&case["attained"])
            .into_iter()
            .zip(points(&case["attained2"]));
        let lengths: Vec<f64> = pairs.map(|(a, b)| (a - b).norm()).collect();
        let length = iso9283::figure((means[0] - means[1]).norm(), &lengths).unwrap();
        near(
            "mean distance",
            length.mean,
            &wanted["mean_distance"],
            ISO_9283,
        );
        near("AD", length.accuracy, &wanted["AD"], bound);
        near("RD", length.repeatability, &wanted["RD"], bound);
    }
}

/// ISO 230-2:2014, formulas from memory; expected values by numpy (tests/reference/generated/SOURCE.md).
#[test]
fn positioning_of_an_axis_agrees_with_values_made_outside() {
    for case in cases("iso230_2.json") {
        let runs = |key: &str| -> Vec<Vec<f64>> {
            case[key].as_array().unwrap().iter().map(numbers).collect()
        };
        let positions: Vec<Runs> = runs("deviations_up")
            .into_iter()
            .zip(runs("deviations_down"))
            .map(|(up, down)| Runs { up, down })
            .collect();
        let all = positions
            .iter()
            .flat_map(|p| p.up.iter().chain(&p.down).copied());
        let bound = ISO_230_2 * largest(all.collect::<Vec<f64>>());
        let found = iso230_2::axis(&positions).unwrap();
        let (means, scatter) = (&found.means, found.scatter.as_ref().unwrap());
        let wanted = &case["expected"];
        for k in 0..positions.len() {
            near("mean up", means.up[k], &wanted["mean_up"][k], bound);
            near(
                "mean down",
                means.down[k],
                &wanted["mean_down"][k],
                ISO_230_2,
            );
            near("s up", scatter.sd_up[k], &wanted["s_up"][k], bound);
            near(
                "s down",
                scatter.sd_down[k],
                &wanted["s_down"][k],
                ISO_230_2,
            );
            near(
                "B_i",
                means.reversal_each[k],
                &wanted["reversal_each"][k],
                ISO_230_2,
            );
        }
        for (key, got) in [
            ("B", means.reversal),
            ("B_mean", means.mean_reversal),
            ("R_up", scatter.repeatability_up),
            ("R_down", scatter.repeatability_down),
            ("R", scatter.repeatability),
            ("E_up", means.systematic_up),
            ("E_down", means.systematic_down),
            ("E", means.systematic),
            ("M", means.mean_deviation),
            ("A_up", scatter.accuracy_up),
            ("A_down", scatter.accuracy_down),
            ("A", scatter.accuracy),
        ] {
            near(key, got, &wanted[key], bound);
        }
    }
}

#[test]
fn a_single_run_each_way_gives_the_reversal_but_no_repeatability() {
    let runs = |up: &[f64], down: &[f64]| Runs {
        up: up.to_vec(),
        down: down.to_vec(),
    };
    // By hand: B_i = 0.4 and 0.6; means 0.2, 0.3, -0.2, -0.3, so E = 0.6; middles 0 and 0, so M = 0.
    let found = iso230_2::axis(&[runs(&[0.2], &[-0.2]), runs(&[0.3], &[-0.3])]).unwrap();
    assert!((found.means.reversal - 0.6).abs() < 1e-15);
    assert!((found.means.systematic - 0.6).abs() < 1e-15);
    assert!(found.means.mean_deviation.abs() < 1e-15 && found.scatter.is_none());
    assert!(iso230_2::axis(&[runs(&[0.2], &[])]).is_none());
    assert!(iso230_2::axis(&[]).is_none());
    assert!(iso9283::position(&Vector3::zeros(), &[Vector3::x()]).is_none());
}

const CELL: &str = r#"
format = 1
name = "repeats (invented)"
[plate]
pitch_mm = 50.0
columns = 20
rows = 10
[track]
at_mm = [100.0, 100.0, 0.0]
scale = -1.0
features.foot = [0.0, 0.0, 0.0]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-170, 170]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [200, 0, 0]
limits_deg = [-170, 170]
[arm.flange]
at_mm = [300, 0, 0]
z = [0, 0, 1]
x = [1, 0, 0]
[turntable]
at_mm = [700.0, 450.0, 0.0]
notches = 4
[solve]
"#;

/// The track stands at x = 100 − reading. By hand: at reading −100 (value 200, place 300) counts end at
/// 300.3 and 300.5 with the reading falling and at 299.9 and 299.7 with it rising: deviations +0.3, +0.5
/// down and −0.1, −0.3 up. At reading −200: +0.2, +0.4 down; −0.2, −0.4 up.
/// Means 0.4, −0.2, 0.3, −0.3: B_i = −0.6 and −0.6. Every pair differs by 0.2, so s = 0.2/√2 and
/// R = 2s + 2s + 0.6 = 0.8·/√2 + 0.6. The pairs scatter with Σ = 4 · 2 · (0.1/0.3)² = 0.8889 over 4.
#[test]
fn counts_from_both_sides_give_the_tracks_figures() {
    let holes = "feature,along,count,gap_mm,track,approach\n\
                 foot,column,6,0.3,-100,down\n\
                 foot,column,6,0.5,-100,down\n\
                 foot,column,6,-0.1,-100,up\n\
                 foot,column,6,-0.3,-100,up\n\
                 foot,column,8,0.2,-200,down\n\
                 foot,column,8,0.4,-200,down\n\
                 foot,column,8,-0.2,-200,up\n\
                 foot,column,8,-0.4,-200,up\n\
                 foot,row,2,0,-100,up\n";
    let read = bench::read(CELL, &[("holes.csv", holes)]);
    let taken: Vec<&Taken> = read.bench.taken.iter().collect();
    let found = repeats(&read.bench.cell.nominal, &taken);
    assert_eq!(found.axes.len(), 1);
    let track = &found.axes[0];
    assert_eq!(
        (track.axis, track.positions, track.least_runs),
        (RunAxis::Track, 2, 2)
    );
    let (means, scatter) = (
        &track.figures.means,
        track.figures.scatter.as_ref().unwrap(),
    );
    assert!((means.reversal - 0.6).abs() < 1e-9);
    assert!((means.mean_reversal + 0.6).abs() < 1e-9);
    assert!((means.systematic - 0.7).abs() < 1e-9);
    let by_hand = 0.6 + 0.8 / 2f64.sqrt();
    assert!((scatter.repeatability - by_hand).abs() < 1e-9);
    assert_eq!(found.scatter.len(), 1);
    let s = &found.scatter[0];
    assert_eq!((s.kind, s.groups, s.dof), ("holes.csv", 4, 4));
    assert!((s.chi2 - 8.0 / 9.0).abs() < 1e-9, "{}", s.chi2);
    assert!(!s.more && !s.less);
}

/// By hand: the arm stretched out along the plate's x from the track at (100, 100) has its tip at
/// (400, 100). Offsets noted from hole 8:2 at (400, 100): 0.3, 0, −0.3 along x. Tip less target less
/// offset: mean 0; distances 0.3, 0, 0.3, mean 0.2, S = √(0.03), RP = 0.2 + 3·√0.03. A posture 5°
/// away is another pose. With u = 0.01 the scatter is far beyond what was stated.
#[test]
fn touches_of_one_target_give_the_tips_figures() {
    let touch = "target,track,j1,j2,dx_mm,u_mm\n\
                 8:2,0,0,0,0.3,0.01\n\
                 8:2,0,0,0,0,0.01\n\
                 8:2,0,0,0,-0.3,0.01\n\
                 8:2,0,5,0,0,0.01\n";
    let read = bench::read(CELL, &[("touch.csv", touch)]);
    let taken: Vec<&Taken> = read.bench.taken.iter().collect();
    let found = repeats(&read.bench.cell.nominal, &taken);
    assert_eq!(found.tips.len(), 1);
    assert_eq!(found.tips[0].readings, [0, 1, 2]);
    let position = &found.tips[0].position;
    assert!(position.accuracy < 1e-9);
    assert!((position.repeatability - (0.2 + 3.0 * 0.03f64.sqrt())).abs() < 1e-9);
    // Σ = 2·0.3²/0.01² over 3 components of 3 touches: 6 degrees of freedom; u seen = 0.01·√(1800/6).
    let s = &found.scatter[0];
    assert!((s.chi2 - 1800.0).abs() < 1e-6 && s.dof == 6 && s.more);
    assert!((s.seen - 0.01 * 300f64.sqrt()).abs() < 1e-9);
}

#[test]
fn the_report_says_what_the_repeats_say() {
    let holes = "feature,along,count,gap_mm,track,approach,u_mm\n\
                 foot,column,6,0.3,-100,down,0.02\n\
                 foot,column,6,0.5,-100,down,0.02\n\
                 foot,column,6,-0.1,-100,up,0.02\n\
                 foot,column,8,0.2,-200,down,0.02\n\
                 foot,column,8,-0.2,-200,up,0.02\n";
    let read = bench::read(CELL, &[("holes.csv", holes)]);
    let registration = read.register();
    let document = notchpin::registration::document(&read.bench, &read.unknowns, &registration);
    let repeats = document.repeats.as_ref().unwrap();
    assert_eq!(repeats.axes[0].axis, "track");
    assert_eq!(repeats.axes[0].repeatability, None);
    assert_eq!(repeats.scatter[0].verdict, "more");
    let text = notchpin::report::registered(&read.bench, &read.determined(), &document, None);
    for words in [
        "Repeated readings",
        "(B)",
        "ISO 230-2",
        "the stated u is too small",
    ] {
        assert!(text.contains(words), "{words} is not in\n{text}");
    }
}
