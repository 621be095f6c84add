//! What is said of a re-registration after a move.

use std::fmt::Write;

use crate::registration::ChangeDocument;
use crate::registration::Document;
use crate::registration::MovedDocument;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::counted;
use crate::report::words::wrap;

/// What moved, what was solved anew, what no longer counts.
pub fn moved(out: &mut String, document: &Document, told: &MovedDocument) {
    out.push_str("\nWhat moved\n");
    for sentence in &told.sentences {
        out.push_str(&wrap("  - ", 4, &format!("{sentence}.")));
    }
    out.push_str(&wrap("  ", 2, &solved_anew(document, told)));
    if !told.followed.is_empty() {
        let text = format!(
            "{} solved anew too, since {} set after it in the usual order; with --only they stay as they were.",
            match told.followed.len() {
                1 => format!("{} was", told.followed[0]),
                _ => format!("{} were", told.followed.join(", ")),
            },
            match told.followed.len() {
                1 => "it is",
                _ => "they are",
            }
        );
        out.push_str(&wrap("  ", 2, &text));
    }
    if !told.no_longer_count.is_empty() {
        out.push_str("\nReadings of before that no longer count\n");
        for unused in &told.no_longer_count {
            let lines = match unused.lines.len() == unused.of {
                true => format!("all {}", counted(unused.of, "row")),
                false => format!(
                    "{} of {} rows (lines {})",
                    unused.lines.len(),
                    unused.of,
                    ranges(&unused.lines)
                ),
            };
            out.push_str(&wrap(&format!("  {:<22} ", unused.file), 25, &lines));
        }
        let why = told.no_longer_count.first().map_or("", |u| u.why.as_str());
        out.push_str(&wrap(
            "  ",
            2,
            &format!("Why: {why}. The record keeps what they said of the rest."),
        ));
    }
}

/// What was solved anew and what is held, in a sentence or two.
pub fn solved_anew(document: &Document, told: &MovedDocument) -> String {
    let mut solved = format!("Solved anew: {}", told.freed.join(", "));
    if !told.by_tolerance.is_empty() {
        let _ = write!(
            solved,
            " (near the drawing, by the tolerance that [solve] gives: {})",
            told.by_tolerance.join(", ")
        );
    }
    let kept = document.parameters.len().saturating_sub(told.freed.len());
    format!(
        "{solved}. The other {} are held by {} with its uncertainty.",
        counted(kept, "unknown"),
        told.from
    )
}

/// `3 to 8, 11`.
pub fn ranges(lines: &[usize]) -> String {
    let mut parts: Vec<(usize, usize)> = Vec::new();
    for line in lines {
        match parts.last_mut() {
            Some((_, last)) if *last + 1 == *line => *last = *line,
            _ => parts.push((*line, *line)),
        }
    }
    let shown = parts.iter().map(|(a, b)| match a == b {
        true => a.to_string(),
        false => format!("{a} to {b}"),
    });
    shown.collect::<Vec<_>>().join(", ")
}

/// The values: those solved anew first.
pub fn values(out: &mut String, document: &Document, told: &MovedDocument) {
    out.push_str(match document.verdict == "accepted" {
        true => "\nFound, to key in where a controller takes it: before -> now, ± one standard uncertainty\n",
        false => "\nFound (do NOT key in yet): before -> now, ± one standard uncertainty\n",
    });
    let width = document
        .parameters
        .iter()
        .map(|p| p.name.len())
        .max()
        .unwrap_or(0)
        .max(12);
    let mut row = |name: &str, mark: &str| {
        let parameter = document.parameters.iter().find(|p| p.name == name);
        let change = told.changes.iter().find(|c| c.name == name);
        if let (Some(p), Some(c)) = (parameter, change)
            && let (Some(value), Some(u)) = (p.value, p.u)
        {
            let d = decimals_for(u).min(4);
            let weak = match (p.suspect, p.weak) {
                (true, _) => "  does NOT fit",
                (_, true) => "  WEAK",
                _ => "",
            };
            let _ = writeln!(
                out,
                "  {name:<width$} {:>9} -> {:>9} ± {:<6} {:<3}  {mark}{weak}",
                fixed(c.before, d),
                fixed(value, d),
                fixed(u, d),
                p.unit.replace("/unit", " per unit"),
            );
        }
    };
    for name in &told.freed {
        row(name, "solved anew");
    }
    let rest = document
        .parameters
        .iter()
        .filter(|p| !told.freed.contains(&p.name));
    for p in rest {
        let change = told.changes.iter().find(|c| c.name == p.name);
        row(&p.name, change.map_or("", kept_words));
    }
}

/// What became of a value that was not solved anew.
pub fn kept_words(c: &ChangeDocument) -> &'static str {
    match c.verdict.as_str() {
        "real" => "held, against the new readings",
        "perhaps" => "held; perhaps changed",
        _ => "held",
    }
}
