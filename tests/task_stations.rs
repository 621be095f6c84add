//! Whole tasks: the stations held against all others that could have been chosen, and tasks drawn at
//! random held against all that is said of them.

mod reach_support;
mod sentences;
mod task_support;

use notchpin::cell::Cell;
use notchpin::reach::NEARLY_RAD;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::room_of_cost;
use reach_support::Dice;
use sentences::Folder;
use serde_json::Value;
use task_support::*;

/// The rows of the demo cell's task with the table held by its reading, so that each stands alone.
fn rows_alone(folder: &Folder) -> Vec<String> {
    let text = folder.read("tasks/glaze.csv");
    let mut held = String::new();
    let mut rows = Vec::new();
    for line in text.lines().skip(2) {
        let f: Vec<&str> = line.split(',').collect();
        if f[6] != "same" {
            held = f[6].to_owned();
        }
        rows.push(format!(
            "{},{},{},{},{},{held}\n",
            f[0], f[1], f[2], f[3], f[5]
        ));
    }
    rows
}

/// Room of a step as the program counts it: degrees to a limit, and of a nearly singular posture at
/// most what `room_of_cost` says.
fn room_deg(cell: &Cell, wanted: &Wanted, step: &Value) -> f64 {
    let solver = Solver::new(cell, &cell.nominal);
    let margin = step["smallest_margin_deg"].as_f64().unwrap();
    let at = values(cell, step, "joints", step["table"].as_f64());
    let cost = solver.cost(wanted, at.travel_mm, at.turn_rad, &at.joints_rad[..5]);
    match cost > NEARLY_RAD {
        true => margin.min(room_of_cost(cost).to_degrees()),
        false => margin,
    }
}

#[test]
fn of_all_sets_of_as_few_stations_the_one_with_the_largest_smallest_margin_is_chosen() {
    let folder = glaze_line();
    let cell = cell_of(&folder);
    let points = points(&folder);
    let rows = rows_alone(&folder);
    assert_eq!(rows.len(), 20);
    let tracks: Vec<u32> = (1..=11).map(|k| 80 * k).collect();
    // By trying: every different step alone at every position, one command each.
    let mut kinds = rows.clone();
    kinds.sort();
    kinds.dedup();
    let mut room: Vec<Vec<Option<f64>>> = Vec::new();
    for row in &kinds {
        folder.write("tasks/one.csv", &format!("{HEADER}{row}"));
        let name = row.split(',').next().unwrap();
        let wanted = &points.iter().find(|p| p.0 == name).unwrap().1;
        let one = |track: &u32| {
            let track = format!("{track}");
            let answer = folder.run([
                "task",
                "--as-drawn",
                "--name",
                "one",
                "--json",
                "--track",
                &track,
            ]);
            let document = answer.json();
            let step = &steps(&document)[0];
            (step["possible"] == true).then(|| room_deg(&cell, wanted, step))
        };
        room.push(tracks.iter().map(one).collect());
    }
    // The smallest room of a set of stations, every step from where it has most.
    let smallest = |set: &[usize]| -> Option<f64> {
        let mut least = f64::INFINITY;
        for of_step in &room {
            let best = set.iter().filter_map(|k| of_step[*k]).reduce(f64::max)?;
            least = least.min(best);
        }
        Some(least)
    };
    let sets = |count: usize| -> Vec<Vec<usize>> {
        let all = 0..1u32 << tracks.len();
        let few = all.filter(|m| m.count_ones() as usize == count);
        few.map(|m| (0..tracks.len()).filter(|k| m >> k & 1 == 1).collect())
            .collect()
    };
    let (few, mut known) = (1..=tracks.len())
        .map(|n| (n, sets(n)))
        .map(|(n, s)| (n, s.into_iter().filter_map(|s| Some((smallest(&s)?, s)))))
        .map(|(n, s)| (n, s.collect::<Vec<_>>()))
        .find(|(_, s)| !s.is_empty())
        .expect("all stations together do it");
    known.sort_by(|a, b| b.0.total_cmp(&a.0));
    println!(
        "{few} stations, {} sets do it, best {:?}",
        known.len(),
        known[0]
    );
    let document = plan(&folder, &rows.concat(), &["--track", "80:880:80"]);
    all_possible(&document);
    assert_eq!(document["stations_at_least"], few);
    let mut chosen: Vec<usize> = numbers(&document["stations"])
        .iter()
        .map(|t| tracks.iter().position(|k| f64::from(*k) == *t).unwrap())
        .collect();
    chosen.sort_unstable();
    assert_eq!(chosen.len(), few);
    let chosen_room = smallest(&chosen).unwrap();
    println!("chosen {chosen:?}: {chosen_room}");
    assert!(
        (chosen_room - known[0].0).abs() < 1e-6,
        "{chosen_room} {:?}",
        known[0]
    );
    // And no step has less, where all ways are proved clear.
    let clear = document["ways"].as_array().unwrap().iter();
    assert!(clear.clone().all(|w| w["state"] == "clear"));
    for step in steps(&document) {
        let name = step["point"].as_str().unwrap();
        let wanted = &points.iter().find(|p| p.0 == name).unwrap().1;
        let room = room_deg(&cell, wanted, step);
        assert!(room >= chosen_room - 1e-6, "{name}: {room} {chosen_room}");
    }
}

/// Tasks drawn at random from the demo cell's points, held axes among them; everything that is said of
/// them is held against the forward chain, the ties of the file, and dense samples of the ways.
#[test]
fn tasks_drawn_at_random_keep_what_they_promise() {
    let names = [
        "pot",
        "wash",
        "dry",
        "shelf_mid",
        "spot_1",
        "spot_3",
        "spot_5",
        "spot_8",
        "rim_1",
        "rim_2",
        "rim_3",
        "rim_4",
    ];
    let folder = glaze_line();
    let mut dice = Dice(41);
    let mut pick = |n: usize| (dice.unit() * n as f64) as usize;
    let (mut possible, mut ties, mut not) = (0, 0, 0);
    for _ in 0..60 {
        let count = 3 + pick(5);
        let mut rows: Vec<[String; 6]> = Vec::new();
        for k in 0..count {
            let hold = |kind: usize, reading: f64| match kind {
                0 if k > 0 => "same".to_owned(),
                1 => format!("{reading:.1}"),
                _ => String::new(),
            };
            let (track, table) = (pick(5), pick(3));
            let at = [80.0, 93.7, 300.0, 550.0, 880.0][pick(5)];
            let turn = -300.0 + 50.0 * pick(13) as f64;
            rows.push([
                names[pick(names.len())].to_owned(),
                ["0", "25", "40"][pick(3)].to_owned(),
                ["0", "25", "40"][pick(3)].to_owned(),
                ["tool", "up"][pick(2)].to_owned(),
                hold(track, at),
                hold(table, turn),
            ]);
        }
        let text: String = rows.iter().map(|r| r.join(",") + "\n").collect();
        let document = plan(&folder, &text, &[]);
        let all = steps(&document);
        for (k, (step, row)) in all.iter().zip(&rows).enumerate() {
            if step["possible"] != true {
                not += 1;
                assert!(!step["why"].is_null(), "{step}");
                continue;
            }
            possible += 1;
            for (key, slot) in [("track", 4), ("table", 5)] {
                let is = step[key].as_f64();
                if let Ok(held) = row[slot].parse::<f64>() {
                    assert!(is.is_none_or(|is| (is - held).abs() < 1e-9), "{text}{step}");
                }
                if row[slot] == "same" && all[k - 1]["possible"] == true {
                    let before = all[k - 1][key].as_f64();
                    let same = is.zip(before).is_none_or(|(a, b)| (a - b).abs() < 1e-9);
                    assert!(same, "{text}step {}: {key} {is:?} after {before:?}", k + 1);
                    ties += 1;
                }
            }
        }
        // A free table is never more than half a turn from where it stood.
        let done: Vec<usize> = (0..count).filter(|k| all[*k]["possible"] == true).collect();
        for w in done.windows(2) {
            let (a, b) = (all[w[0]]["table"].as_f64(), all[w[1]]["table"].as_f64());
            if let (Some(a), Some(b), "") = (a, b, rows[w[1]][5].as_str()) {
                assert!((b - a).abs() <= 180.0 + 1e-6, "{text}: {a} {b}");
            }
        }
        let good = done.len() == count
            && document["ways"]
                .as_array()
                .unwrap()
                .iter()
                .all(|w| w["state"] == "clear")
            && all.iter().all(|s| s["scant"] == false);
        assert_eq!(document["verdict"] == "good", good, "{text}");
        // Between steps that are done there is a way, unless one between them was left out in the end.
        let left_out = all.iter().any(|s| {
            s["why"]
                .as_str()
                .is_some_and(|w| w.contains("as at the step before"))
        });
        let told = document["ways"].as_array().unwrap().len();
        let between = done.len().saturating_sub(1);
        assert!(told == between || left_out && told < between, "{text}");
    }
    println!("{possible} steps done, {not} not, {ties} ties");
    assert!(possible > 150 && not > 30 && ties > 20);
}
