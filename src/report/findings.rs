//! What does not fit and what may be behind it, and the readings kept to check with.

use crate::registration::CauseDocument;
use crate::registration::Document;
use crate::registration::ReadingDocument;
use crate::registration::SuspectDocument;
use crate::registration::UnsolvedDocument;
use crate::report::notes::places;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::probability;
use crate::report::words::counted;
use crate::report::words::wrap;

/// What to do where a value of the drawing is wrong.
const HELD: &str = "Look at the drawing and at the bench for what is said above; add it to [solve] in \
                    cell.toml, and register again.";

/// Whether a residual belongs to a suspect that was found by itself.
pub(super) fn is_suspect(document: &Document, r: &ReadingDocument) -> bool {
    let same = |s: &SuspectDocument| s.file == r.file && s.line == Some(r.line);
    document.suspects.iter().any(same)
}

/// The first sentence under the verdict, where something does not fit.
pub(super) fn verdict(document: &Document) -> Option<String> {
    if let Some(cause) = document.causes.iter().find(|c| c.lines.is_empty()) {
        return Some(format!(
            "One slip explains all that does not fit. {}.",
            cause.sentence
        ));
    }
    if !document.set_aside.is_empty() {
        let n = counted(document.set_aside.len(), "reading");
        let fit = match document.readings.iter().any(|r| r.suspect) {
            true => "the others do not all fit each other either",
            false => "the others fit each other within what was stated",
        };
        return Some(format!("{n} set aside, as asked for; {fit}."));
    }
    match (document.search.as_deref()?, document.suspects.len()) {
        ("held", _) => Some(
            "The readings contradict each other; they would all agree if more were solved for (below)."
                .to_owned(),
        ),
        (_, 0) => None,
        ("agrees", 1) => Some(
            "1 reading does not fit the others (below); all others agree once it is left out."
                .to_owned(),
        ),
        ("agrees", n) => Some(format!(
            "{n} readings do not fit the others (below); all others agree once these are left out."
        )),
        ("too many", n) => Some(format!(
            "Too much does not fit to say what is wrong: with {n} left out one after another, the \
             others still contradict each other."
        )),
        _ => None,
    }
}

/// The suspects one after another with their causes.
pub(super) fn found(out: &mut String, document: &Document) {
    let all = not_fitting(document);
    if all.of_all.is_empty() && all.each.is_empty() {
        return;
    }
    out.push_str("\nWhat does not fit, one after another; nothing was changed\n");
    for sentence in &all.of_all {
        out.push_str(&wrap("  ", 2, sentence));
    }
    for (k, sentence) in all.each.iter().enumerate() {
        out.push_str(&wrap(&format!("  {}. ", k + 1), 5, sentence));
    }
    if let Some(rest) = &all.rest {
        out.push_str(&wrap("  ", 2, rest));
    }
}

/// What does not fit, in sentences.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct NotFitting {
    /// What is behind several or all.
    pub of_all: Vec<String>,
    /// The suspects in the order in which they were found.
    pub each: Vec<String>,
    /// How the others agree without.
    pub rest: Option<String>,
}

/// What does not fit; nothing where everything does.
pub fn not_fitting(document: &Document) -> NotFitting {
    let mut all = NotFitting::default();
    let whole = document.causes.iter().filter(|c| c.lines.is_empty());
    let whole: Vec<&CauseDocument> = whole.collect();
    if document.suspects.is_empty()
        && whole.is_empty()
        && document.possible_causes.is_empty()
        && document.unsolved.is_empty()
    {
        return all;
    }
    all.of_all
        .extend(whole.iter().map(|cause| format!("{}.", cause.sentence)));
    if !document.possible_causes.is_empty() {
        let causes: Vec<&str> = document
            .possible_causes
            .iter()
            .map(|c| c.sentence.as_str())
            .collect();
        all.of_all.push(format!(
            "One of these may be behind all of it: {}.",
            causes.join("; or ")
        ));
    }
    if document.search.as_deref() == Some("too many") {
        all.of_all.push(
            "No cause is named, because too much is wrong. Look at what readings share: the pitch, \
             places of marks, the direction of an axis, the unit of a column, a value that cell.toml \
             holds at the drawing, a stated u that is too small; or begin with one file and mark the \
             rows of the others use = no."
                .to_owned(),
        );
    }
    if !document.unsolved.is_empty() {
        all.of_all.push(unsolved(&document.unsolved));
    }
    let mut told: Vec<&CauseDocument> = Vec::new();
    for suspect in &document.suspects {
        // Two rows that were exchanged are one entry.
        if let Some(cause) = &suspect.cause {
            if is_told(&told, cause) {
                continue;
            }
            told.push(cause);
        }
        let text = match (&suspect.parameter, suspect.line) {
            (Some(p), _) => format!(
                "{p} came out far from the drawing for its tolerance: check its value and \
                 tolerance in cell.toml"
            ),
            (None, _) => of_reading(document, suspect),
        };
        all.each.push(format!("{text}."));
    }
    if document.search.as_deref() == Some("agrees")
        && let Some(rest) = &document.rest
        && let (Some(sigma0), Some(p)) = (rest.sigma0, rest.p_value)
    {
        all.rest = Some(format!(
            "The others agree without: misfit {} of what was stated, probability {}.",
            fixed(sigma0, 2),
            probability(p)
        ));
    }
    all
}

/// What is behind all that does not fit, in sentences, where that is one slip of a whole file or cell, or a
/// value of cell.toml, and no row by itself. None where rows are blamed, or where nobody knows.
pub fn common_cause(document: &Document) -> Option<String> {
    let aside = !document.set_aside.is_empty();
    if aside || document.suspects.iter().any(|s| s.line.is_some()) {
        return None;
    }
    let known = match document.search.as_deref()? {
        "whole" | "held" => true,
        // The search ended at values of the drawing alone.
        "agrees" => !document.suspects.is_empty(),
        _ => false,
    };
    let told = not_fitting(document);
    let sentences: Vec<String> = told.of_all.into_iter().chain(told.each).collect();
    (known && !sentences.is_empty()).then(|| sentences.join(" "))
}

/// Whether the same exchange of two rows was told at the other one.
fn is_told(told: &[&CauseDocument], cause: &CauseDocument) -> bool {
    cause.lines.len() > 1
        && told
            .iter()
            .any(|t| t.kind == cause.kind && t.file == cause.file && t.lines == cause.lines)
}

/// What the drawing holds and is probably wrong there.
fn unsolved(list: &[UnsolvedDocument]) -> String {
    let one = |u: &UnsolvedDocument| {
        let parts: Vec<String> = u
            .parameters
            .iter()
            .zip(&u.off)
            .map(|(name, off)| {
                let decimals = if off.abs() < 0.1 { 4 } else { 2 };
                format!("{name} ({} off the drawing)", fixed(*off, decimals))
            })
            .collect();
        parts.join(" and ")
    };
    let all: Vec<String> = list.iter().map(one).collect();
    let which = match all.len() {
        1 => format!("if this is solved for too: {}", all[0]),
        _ => format!(
            "if any one of these is solved for too: {}",
            all.join("; or ")
        ),
    };
    format!(
        "Before you blame a reading: everything fits {which}. cell.toml holds it at the drawing; if it may \
         be wrong there, add it to [solve] and register again."
    )
}

fn of_reading(document: &Document, suspect: &SuspectDocument) -> String {
    let line = suspect.line.unwrap_or(0);
    let place = format!("{} line {line}", suspect.file);
    if let Some(cause) = &suspect.cause {
        return format!("{} {}", suspect.file, cause.sentence);
    }
    if !suspect.possible.is_empty() {
        let all: Vec<&str> = suspect
            .possible
            .iter()
            .take(4)
            .map(|c| tail(&c.sentence))
            .collect();
        let doubt = match all.len() {
            1 => "perhaps, but not surely",
            _ => "cannot be told apart",
        };
        return format!(
            "{place}: it would fit if {} ({doubt}; look at the sheet or measure again)",
            all.join("; or if ")
        );
    }
    match document.search.as_deref() {
        Some("too many") => place,
        _ => format!(
            "{place}: no usual slip of the pen explains it{}; measure it again",
            off(suspect)
        ),
    }
}

/// " (off by 4.50 deg)": how far a suspect is from what the others say.
fn off(suspect: &SuspectDocument) -> String {
    let unit = suspect.unit.as_deref().unwrap_or("mm");
    let size = |v: &f64| fixed(*v, decimals_for(v.abs() / 10.0).min(2));
    match suspect.off.len() {
        0 => String::new(),
        1 => format!(" (off by {} {unit})", size(&suspect.off[0])),
        _ => {
            let all: Vec<String> = suspect.off.iter().map(size).collect();
            format!(" (off by {} {unit})", all.join(", "))
        }
    }
}

/// What stands after "if" in a sentence.
fn tail(sentence: &str) -> &str {
    sentence
        .split_once(" if ")
        .map_or(sentence, |(_, rest)| rest)
}

/// What to do about it.
pub(super) fn next(document: &Document) -> Option<String> {
    if !document.set_aside.is_empty() {
        return Some(format!(
            "Go back to what was set aside ({}): correct it or measure it again, or write use = no \
             in its row to leave it out for good. Then register again.",
            places(&document.set_aside)
        ));
    }
    if document.causes.iter().any(|c| c.lines.is_empty()) {
        return Some(
            "Look at the sheet or the bench whether that is so; if it is, correct the file and \
             register again."
                .to_owned(),
        );
    }
    if document.suspects.is_empty() && document.checks.as_ref().is_some_and(|c| !c.hold) {
        let explained = document
            .checks
            .iter()
            .flat_map(|c| &c.rows)
            .any(|r| r.cause.is_some());
        let first = match explained {
            true => "Look whether what is said under Checked with is what happened. If not: either",
            false => "Either",
        };
        return Some(format!(
            "{first} the check is wrong or the result. Measure it again, another way. If it stays as it is, \
             take more readings there, and let them take part."
        ));
    }
    if document.search.as_deref() == Some("held") {
        return Some(HELD.to_owned());
    }
    let first = document.suspects.first()?;
    let search = document.search.as_deref()?;
    let explained = |s: &SuspectDocument| s.cause.is_some() || !s.possible.is_empty();
    if search == "too many" {
        let place = match first.line {
            Some(line) => format!("{} line {line}", first.file),
            None => first.file.clone(),
        };
        return Some(format!(
            "Think of what many readings share. If nothing comes to mind, begin with {place}. Then \
             register again."
        ));
    }
    if search != "agrees" {
        return None;
    }
    let mut parts: Vec<&str> = Vec::new();
    if document.suspects.iter().any(explained) {
        parts.push(
            "Look at the sheet or the bench whether that is what happened, and correct what was \
             written down.",
        );
    }
    if document
        .suspects
        .iter()
        .any(|s| s.parameter.is_none() && !explained(s))
    {
        parts.push("Measure again what no slip explains.");
    }
    if document.suspects.iter().any(|s| s.parameter.is_some()) {
        parts.push("Correct cell.toml where the drawing is wrong.");
    }
    parts.push("Then register again.");
    if document.suspects.iter().any(|s| s.parameter.is_none()) {
        parts.push("Meanwhile --set-aside solves without these readings.");
    }
    Some(parts.join(" "))
}
