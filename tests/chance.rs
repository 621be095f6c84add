//! The chance that a posture is out of reach, against the normal law worked out with another library
//! and against geometries drawn here.

mod reach_support;
mod sentences;

use std::path::Path;

use nalgebra::DMatrix;
use nalgebra::DVector;
use notchpin::cell;
use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::diagnose::Problems;
use notchpin::kinematics::joint_value_rad;
use notchpin::kinematics::track_value_mm;
use notchpin::parameters::Parameter;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::units::Approach;
use notchpin::units::Reading;
use notchpin::units::wrap_rad;
use reach_support::Dice;
use sentences::Folder;
use serde_json::Value;
use statrs::distribution::ContinuousCDF;
use statrs::distribution::Normal;

fn glaze_line() -> Folder {
    Folder::copy_of(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells/glaze-line"))
}

/// The cell file with something changed.
fn change(folder: &Folder, from: &str, to: &str) {
    let text = folder.read("cell.toml");
    assert_eq!(text.matches(from).count(), 1, "{from}");
    folder.write("cell.toml", &text.replace(from, to));
}

fn cell_of(folder: &Folder) -> Cell {
    let mut problems = Problems::default();
    cell::parse("cell.toml", &folder.read("cell.toml"), &mut problems).expect("a cell")
}

/// A reach of one point, with one posture at the station given.
fn best(folder: &Folder, point: &str, track: f64) -> Value {
    let track = format!("{track}");
    let answer = folder.run(["reach", "--point", point, "--track", &track, "--json"]);
    assert!(answer.status < 2, "{}", answer.err);
    answer.json()["points"][0]["best"].clone()
}

fn registered(folder: &Folder) -> Value {
    let answer = folder.run(["register", "--json"]);
    assert!(answer.status < 2, "{}", answer.err);
    answer.json()
}

fn numbers(list: &Value) -> Vec<f64> {
    let each = list.as_array().expect("list").iter();
    each.map(|x| x.as_f64().expect("number")).collect()
}

fn value(solved: &Value, name: &str) -> f64 {
    let mut all = solved["parameters"].as_array().unwrap().iter();
    let one = all.find(|p| p["name"] == name).expect("parameter");
    one["value"].as_f64().unwrap()
}

/// Links of the arm from its cell file: shoulder to elbow, elbow to wrist.
const LINKS: [f64; 2] = [220.0, 200.0];

/// Where joint 4 turns when the flange leans by `delta` (rad) more about the tip, which stays where
/// joints 2 to 4 at `q` have it, `length` from the wrist; `None` out of reach. All turns are downward.
fn turned(q: &[f64], length: f64, delta: f64) -> Option<f64> {
    let [a, b] = LINKS;
    let (upper, fore, hand) = (q[0], q[0] + q[1], q[0] + q[1] + q[2]);
    let tip = (
        a * upper.cos() + b * fore.cos() + length * hand.cos(),
        a * upper.sin() + b * fore.sin() + length * hand.sin(),
    );
    let hand = hand + delta;
    let (x, y) = (tip.0 - length * hand.cos(), tip.1 - length * hand.sin());
    let cos = (x * x + y * y - a * a - b * b) / (2.0 * a * b);
    if cos.abs() > 1.0 {
        return None;
    }
    let elbow = cos.acos() * q[1].signum();
    let upper = y.atan2(x) - (b * elbow.sin()).atan2(a + b * elbow.cos());
    Some(wrap_rad(hand - upper - elbow))
}

/// The glaze line with the tool's pitch known to 3 degrees alone, and joint 4's upper limit so far
/// away at the pot from track 0.
fn with_room(room_deg: f64) -> (Folder, Value) {
    let folder = glaze_line();
    change(&folder, "[solve] ", "[solve]\n\"tool.pitch\" = 3.0\n#");
    registered(&folder);
    let joints = numbers(&best(&folder, "pot", 0.0)["joints"]);
    let cell = cell_of(&folder);
    assert_eq!(cell.joints[3].name, "wrist");
    // The limit is one of the value, which the zero found for the joint puts off the reading.
    let solved = registered(&folder);
    let zero = value(&solved, "arm.j4.zero");
    let limit = joints[3] + zero + room_deg;
    change(&folder, "[-120, 120]", &format!("[-120, {limit:.9}]"));
    let solved = registered(&folder);
    (folder, solved)
}

#[test]
fn a_tool_pitch_that_is_not_known_gives_the_chance_of_the_normal_law() {
    let (folder, solved) = with_room(4.2);
    let u = solved["parameters"]
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["name"] == "tool.pitch")
        .unwrap()["u"]
        .as_f64()
        .unwrap();
    // The readings say nothing of the tool's pitch by themselves.
    println!("u of tool.pitch {u}");
    let best = best(&folder, "pot", 0.0);
    let margins = &best["margins"];
    let room = margins["limit_margin_deg"].as_f64().unwrap();
    assert!((room - 4.2).abs() < 1e-3, "{margins}");
    assert_eq!(
        (&margins["limit_joint"], &margins["limit"]),
        (&"j4".into(), &"upper".into())
    );
    let chance = &margins["out_of_reach"];
    let share = chance["share"].as_f64().unwrap();
    // By hand. With the tool pitched by δ the flange leans by δ so that the tool still points straight
    // down; the tip stays, so the wrist goes round it, and the law of cosines gives the rest.
    let zero = |name: &str| value(&solved, name).to_radians();
    let readings = numbers(&best["joints"]);
    let q: Vec<f64> = (1..4)
        .map(|i| readings[i].to_radians() + zero(&format!("arm.j{}.zero", i + 1)))
        .collect();
    let length = 60.0 + value(&solved, "tool.z");
    let wrist_turn = |delta: f64| turned(&q, length, delta);
    assert!((wrist_turn(0.0).unwrap() - q[2]).abs() < 1e-9);
    let limit = q[2] + room.to_radians();
    let normal = Normal::new(0.0, u).unwrap();
    // The law's weight of all δ that take the joint beyond its limit, or the arm out of reach.
    let (mut by_law, steps, step) = (0.0, 4000, 12.0 * u / 4000.0);
    for k in 0..steps {
        let at = -6.0 * u + step * (f64::from(k) + 0.5);
        if wrist_turn(at.to_radians()).is_none_or(|turn| turn > limit) {
            by_law += normal.cdf(at + 0.5 * step) - normal.cdf(at - 0.5 * step);
        }
    }
    // Far more than if the joint made up for the pitch alone, with the wrist where it was.
    let alone = 1.0 - normal.cdf(room);
    println!("with the wrist where it was {alone}");
    assert!(by_law > 1.5 * alone, "{by_law} {alone}");
    println!("share {share}, by the law {by_law}");
    assert!(
        share > by_law / 1.25 && share < by_law * 1.25,
        "{share}, by the law {by_law}"
    );
    assert!(chance["at_most"].as_f64().unwrap() > share);
}

#[test]
fn far_from_all_ends_the_chance_is_told_as_nothing_worth() {
    let folder = glaze_line();
    registered(&folder);
    let best = best(&folder, "pot", 0.0);
    assert!(best["margins"]["limit_margin_deg"].as_f64().unwrap() > 30.0);
    let chance = &best["margins"]["out_of_reach"];
    assert_eq!(chance["share"], 0.0);
    assert!(chance["at_most"].as_f64().unwrap() <= 1e-6, "{chance}");
}

/// A standard normal number by the sum of twelve (Irwin, Hall): not the law that the program draws by.
/// Its tails end at 6, which the shares of these tests do not come near.
fn normal(dice: &mut Dice) -> f64 {
    (0..12).map(|_| dice.unit()).sum::<f64>() - 6.0
}

#[test]
fn near_the_edge_of_the_links_it_agrees_with_geometries_drawn_here() {
    let folder = glaze_line();
    let solved = registered(&folder);
    let cell = cell_of(&folder);
    let mut geometry = cell.nominal.clone();
    let parameters = solved["parameters"].as_array().unwrap();
    let known: Vec<Parameter> = parameters
        .iter()
        .map(|p| Parameter::named(&cell, p["name"].as_str().unwrap()).unwrap())
        .collect();
    let x: Vec<f64> = parameters
        .iter()
        .zip(&known)
        .map(|(p, k)| p["value"].as_f64().unwrap() * k.unit().in_code())
        .collect();
    for (k, x) in known.iter().zip(&x) {
        k.set(&mut geometry, *x);
    }
    // The covariance is told in the file's units.
    let rows = solved["covariance"].as_array().unwrap();
    let covariance = DMatrix::from_fn(x.len(), x.len(), |i, j| {
        rows[i][j].as_f64().unwrap() * known[i].unit().in_code() * known[j].unit().in_code()
    });
    let root = covariance.cholesky().expect("positive").l();
    let solver = Solver::new(&cell, &geometry);
    let track = geometry.track.as_ref().unwrap();
    let travel = track_value_mm(track, Reading(0.0), Approach::Unnoted);
    // Outward from where the tool points ahead and down, until the links end.
    let (y, z) = (geometry.mount.at_mm.y + track.mounting.at_mm.y, 110.0);
    let target = |x: f64| Wanted {
        frame: Belongs::Plate,
        at_mm: nalgebra::Vector3::new(x, y, z),
        elevation_rad: Some((-75f64).to_radians()),
        azimuth_rad: None,
        roll_rad: None,
    };
    let mut out = Vec::new();
    let (mut inside, mut outside) = (400.0, 900.0);
    for _ in 0..60 {
        let middle = 0.5 * (inside + outside);
        solver.solve(&target(middle), travel, 0.0, &mut out);
        match out.is_empty() {
            true => outside = middle,
            false => inside = middle,
        }
    }
    println!("the links end at x {inside}");
    let mut compared = 0;
    for back in [0.03, 0.1, 0.25, 1.2] {
        let x_mm = inside - back;
        let wanted = target(x_mm);
        folder.write(
            "points.csv",
            &format!(
                "name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg\n\
                 edge,plate,{x_mm:.9},{y:.9},{z},-75,,\n"
            ),
        );
        let best = best(&folder, "edge", 0.0);
        let told = best["margins"]["out_of_reach"]["share"].as_f64().unwrap();
        let by = best["margins"]["edge_by"].as_str().unwrap();
        assert!(by.contains("the links allow"), "{best}");
        let q: Vec<f64> = geometry
            .joints
            .iter()
            .zip(numbers(&best["joints"]))
            .map(|(j, r)| joint_value_rad(j, Reading(r)))
            .collect();
        // Drawn here: the whole inverse in every geometry; reached where any posture of the same bearing
        // of joint 1 and the same tool is left (at the edge the two elbows are one).
        let mut dice = Dice(77);
        let draws = 4000;
        let mut lost = 0;
        for _ in 0..draws {
            let step = &root * DVector::from_fn(x.len(), |_, _| normal(&mut dice));
            let mut drawn = geometry.clone();
            for ((k, x), s) in known.iter().zip(&x).zip(step.iter()) {
                k.set(&mut drawn, x + s);
            }
            let travel = track_value_mm(
                drawn.track.as_ref().unwrap(),
                Reading(0.0),
                Approach::Unnoted,
            );
            let other = Solver::new(&cell, &drawn);
            other.solve(&wanted, travel, 0.0, &mut out);
            let near = out
                .iter()
                .any(|s| wrap_rad(s.values_rad[0] - q[0]).abs() < 0.3);
            lost += u32::from(!near);
        }
        let share = f64::from(lost) / f64::from(draws);
        // Both are shares of draws: 1000 by the program, 4000 here.
        let spread = (share * (1.0 - share) * (1.0 / 1000.0 + 1.0 / 4000.0)).sqrt();
        println!("{back} mm inside: told {told}, drawn here {share} +- {spread:.4}");
        assert!(
            (told - share).abs() < 4.0 * spread + 0.002,
            "{back}: told {told}, drawn here {share}"
        );
        compared += usize::from(share > 0.02 && share < 0.98);
    }
    assert!(compared >= 3, "{compared}");
}
