//! The table of a task for people.

use std::fmt::Write;

use crate::report::number::fixed;
use crate::report::task::TaskDocument;
use crate::report::task::WayDocument;
use crate::report::task::notes::notes;
use crate::report::task::reading;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;

/// The answer for people.
pub fn task(
    document: &TaskDocument,
    joints: usize,
    source: &str,
    verdict: Option<&str>,
    drawn: bool,
) -> String {
    let n = document.steps.len();
    let done = document.steps.iter().filter(|s| s.possible).count();
    let name = &document.task;
    let bad_ways = document
        .ways
        .iter()
        .filter(|w| matches!(w.state, "blocked" | "unproved"));
    let bad_ways: Vec<&WayDocument> = bad_ways.collect();
    let scant = document.steps.iter().any(|s| s.scant);
    let mut out = match (done == n, bad_ways.is_empty()) {
        (true, true) if scant => {
            format!("LOOK: TASK {name}: every step can be done, some only just")
        }
        (true, true) if n == 1 => format!("TASK {name}: THE STEP CAN BE DONE"),
        (true, true) => format!("TASK {name}: ALL {n} STEPS CAN BE DONE"),
        (true, false) => {
            format!("LOOK: TASK {name}: every step can be done, but not every way between")
        }
        (false, _) => format!(
            "LOOK: TASK {name}: {} of {} can be done",
            done,
            counted(n, "step")
        ),
    };
    if !document.stations.is_empty() {
        let list: Vec<String> = document.stations.iter().map(|s| reading(*s)).collect();
        let _ = write!(out, ", from track {}", list.join(", "));
    }
    out = wrap("", 2, &out);
    stations(&mut out, document, done);
    if verdict == Some("look") {
        out.push_str("Look: this registration's verdict was look, not accepted.\n");
    }
    impossible(&mut out, document);
    for way in &bad_ways {
        let text = format!(
            "the way from step {} to step {} is {} {} % of the way on; nearest: {}. Depart farther, or \
             put a point between.",
            way.from_step,
            way.to_step,
            if way.state == "blocked" {
                "blocked from"
            } else {
                "not proved clear from"
            },
            fixed(100.0 * way.share.unwrap_or(0.0), 0),
            way.near.as_deref().unwrap_or("")
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    out.push('\n');
    table(&mut out, document, joints);
    out.push('\n');
    notes(&mut out, document, drawn);
    out.push_str(&wrap("From ", 5, source));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

fn stations(out: &mut String, document: &TaskDocument, done: usize) {
    let used = document.stations.len();
    if done == 0 || used == 0 {
        return;
    }
    let text = match (document.prefer, used <= document.stations_at_least) {
        ("travel", _) => format!(
            "Chosen for little travel of the track from step to step: {} in all, of the {} positions \
             tried.",
            reading(document.track_travel),
            document.stations_tried
        ),
        _ if done < document.steps.len() => return,
        (_, true) if used == 1 => return,
        (_, true) => format!(
            "No fewer of the {} track positions tried can do it, with the table angles tried.",
            document.stations_tried
        ),
        (_, false) => format!(
            "At least {} of the {} track positions tried are needed; whether fewer than {used} do was \
             not proved.",
            document.stations_at_least, document.stations_tried
        ),
    };
    out.push_str(&wrap("", 0, &text));
}

fn impossible(out: &mut String, document: &TaskDocument) {
    for step in document.steps.iter().filter(|s| !s.possible) {
        let why = step.why.as_deref().unwrap_or("");
        let text = format!(
            "step {} ({}, line {}): {why}.",
            step.step, step.point, step.line
        );
        out.push_str(&wrap("NOT possible: ", 14, &text));
        let help: Vec<&str> = step
            .would_help
            .iter()
            .map(|h| h.sentence.as_str())
            .collect();
        let text = match help.is_empty() {
            true => "No single change that was tried makes it possible.".to_owned(),
            false => format!("Possible {}.", help.join("; or ")),
        };
        out.push_str(&wrap("              ", 14, &text));
    }
}

fn table(out: &mut String, document: &TaskDocument, joints: usize) {
    let with_track = document.steps.iter().any(|s| s.track.is_some());
    let with_table = document.steps.iter().any(|s| s.table.is_some());
    let width = 8;
    let name = document.steps.iter().map(|s| s.point.chars().count()).max();
    let room: usize = if joints <= 6 { 14 } else { 7 };
    let name = name.unwrap_or(5).clamp(5, room);
    let mut head = format!("step {:name$}", "point");
    if with_track {
        let _ = write!(head, "{:>8}", "track");
    }
    if with_table {
        let _ = write!(head, "{:>8}", "table");
    }
    for k in 1..=joints {
        let _ = write!(head, "{:>width$}", format!("j{k}"));
    }
    head.push_str("  margin  clear");
    out.push_str(head.trim_end());
    out.push('\n');
    for step in &document.steps {
        let mut line = format!("{:>4} {:name$}", step.step, cut(&step.point, name));
        let Some(values) = &step.joints else {
            line.push_str("  not possible, see above");
            out.push_str(&line);
            out.push('\n');
            continue;
        };
        let cell = |value: Option<f64>| value.map_or("-".to_owned(), |v| fixed(v, 2));
        if with_track {
            let _ = write!(line, "{:>8}", cell(step.track));
        }
        if with_table {
            let _ = write!(line, "{:>8}", cell(step.table));
        }
        for v in values {
            let _ = write!(line, "{:>width$}", fixed(*v, 2));
        }
        let margin = step
            .smallest_margin_deg
            .map_or(String::new(), |m| fixed(m, 1));
        let way = document.ways.iter().find(|w| w.to_step == step.step);
        let least = [step.smallest_clearance_mm, way.and_then(|w| w.clearance_mm)];
        let least = least.into_iter().flatten().reduce(f64::min);
        let clear = least.map_or("-".to_owned(), |c| fixed(c.floor(), 0));
        let _ = write!(line, "{margin:>8}{clear:>7}");
        out.push_str(line.trim_end());
        out.push('\n');
    }
}

fn cut(text: &str, width: usize) -> String {
    match text.chars().count() > width {
        true => text.chars().take(width - 1).chain(['~']).collect(),
        false => text.to_owned(),
    }
}
