//! Movements in words of the bench.

use crate::cell::Cell;
use crate::moves::Movement;
use crate::moves::Sure;
use crate::parts::Part;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::counted;

/// A length with as many decimals as its uncertainty supports: `50.3 mm`.
pub fn mm(s: &Sure) -> String {
    format!("{} mm", fixed(s.value.abs(), places(1.96 * s.u)))
}

/// A figure worth its uncertainty, never below a thousandth.
fn places(u: f64) -> usize {
    decimals_for(u).clamp(1, 3)
}

/// An angle with as many decimals as its uncertainty supports: `0.21°`.
pub fn degrees(s: &Sure) -> String {
    let u = 1.96 * s.u.to_degrees();
    format!("{}°", fixed(s.value.to_degrees().abs(), places(u).max(2)))
}

/// `± 0.4 mm`, 95 %.
pub fn give_or_take_mm(u: f64) -> String {
    format!(
        "±{} mm",
        fixed(1.96 * u, decimals_for(1.96 * u).clamp(1, 3))
    )
}

/// The same for an angle in rad.
pub fn give_or_take_deg(u: f64) -> String {
    let u = 1.96 * u.to_degrees();
    format!("±{}°", fixed(u, decimals_for(u).clamp(2, 3)))
}

/// Whether a movement is more than its 95 % uncertainty.
fn tells(s: &Sure) -> bool {
    s.value.abs() > 1.96 * s.u
}

/// What a part did, in a sentence without a full stop.
pub fn movement(m: &Movement, cell: &Cell) -> String {
    let what = m.part.words(cell);
    match m.part {
        Part::Track | Part::Mount | Part::Turntable => {
            let mut parts = along_axes(&m.shift, ["x", "y", "z"]);
            if let Some(turn) = m.turn.filter(tells) {
                let sense = if turn.value > 0.0 {
                    "counter-clockwise"
                } else {
                    "clockwise"
                };
                parts.push(format!("turned {} {sense}", degrees(&turn)));
            }
            let moved = match parts.is_empty() {
                true => format!("{what} hardly moved"),
                false if m.part == Part::Track => {
                    format!(
                        "{what} moved (in the middle of its travel): {}",
                        parts.join(", ")
                    )
                }
                false => format!("{what} moved: {}", parts.join(", ")),
            };
            match m.holes {
                Some(steps) => format!("{moved}; that is {}", holes(steps.columns, steps.rows)),
                None => moved,
            }
        }
        Part::Tool => {
            let parts = along_axes(&m.shift, ["the flange's x", "its y", "its z"]);
            match parts.is_empty() {
                true => format!("{what} hardly changed"),
                false => format!(
                    "the tip moved on the flange (tool bent or seated anew): {}",
                    parts.join(", ")
                ),
            }
        }
        Part::Joint(_) | Part::Index | Part::Switch => {
            let Some(turn) = m.turn else {
                return format!("{what} hardly changed");
            };
            if !tells(&turn) {
                return format!(
                    "{what} hardly changed, by less than {}",
                    degrees(&Sure {
                        value: 1.96 * turn.u + turn.value.abs(),
                        u: turn.u
                    })
                );
            }
            let sign = if turn.value > 0.0 { "+" } else { "-" };
            let text = format!(
                "{what} changed by {sign}{} ({})",
                degrees(&turn),
                give_or_take_deg(turn.u)
            );
            match m.notches {
                Some(n) => format!(
                    "{text}; that is {}",
                    counted(n.unsigned_abs() as usize, "notch").replace("notchs", "notches")
                ),
                None => text,
            }
        }
    }
}

/// `50.3 mm (±0.4 mm) toward +x` for each axis that moved more than its uncertainty.
fn along_axes(shift: &[Sure], names: [&str; 3]) -> Vec<String> {
    let moved = shift
        .iter()
        .zip(names)
        .filter(|(s, _)| tells(s) && s.value.abs() >= 0.05);
    moved
        .map(|(s, name)| {
            let sign = if s.value > 0.0 { "+" } else { "-" };
            let axis = match name.rsplit_once(' ') {
                Some((of, axis)) => format!("{of} {sign}{axis}"),
                None => format!("{sign}{name}"),
            };
            format!("{} ({}) toward {axis}", mm(s), give_or_take_mm(s.u))
        })
        .collect()
}

/// `one hole toward +x and two toward -y`.
pub fn holes(columns: i64, rows: i64) -> String {
    let of = |n: i64, axis: &str| {
        let sign = if n > 0 { "+" } else { "-" };
        (n != 0).then(|| {
            let many = match n.unsigned_abs() {
                1 => "one hole".to_owned(),
                n => format!("{n} holes"),
            };
            format!("{many} toward {sign}{axis}")
        })
    };
    let both: Vec<String> = [of(columns, "x"), of(rows, "y")]
        .into_iter()
        .flatten()
        .collect();
    both.join(" and ")
}
