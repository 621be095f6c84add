//! `enter`: what is said between the questions.

use crate::diagnose::Problem;
use crate::entry::Checked;
use crate::entry::Form;
use crate::entry::Ground;
use crate::entry::Part;
use crate::entry::Question;
use crate::entry::Suggestion;
use crate::readings::ResidualUnit;
use crate::readings::slips::SlipKind;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;

/// At the start: what will be asked, against what, and how to answer.
pub fn opening(cell: &str, what: &str, ground: Ground, source: Option<&str>) -> String {
    let mut out = format!("ENTERING READINGS: {cell}\n");
    out.push_str(&wrap("  ", 2, what));
    out.push_str(&wrap("  ", 2, &basis(ground, source)));
    out.push_str(&wrap(
        "  ",
        2,
        "Decimals with a point. ? explains what is asked, back goes to the question before, later \
         leaves the row for now, q stops. Every answer is saved at once; nothing is changed unless \
         you say so.",
    ));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

/// What answers are checked against.
pub fn basis(ground: Ground, source: Option<&str>) -> String {
    match ground {
        Ground::Record => format!(
            "Checked against the registration in force: {}.",
            source.unwrap_or("the newest record")
        ),
        Ground::SoFar(used, 0) => format!(
            "Checked against what the {} entered so far say together.",
            counted(used, "reading")
        ),
        Ground::SoFar(used, aside) => format!(
            "Checked against what {used} of the {} readings entered so far say together; left out as \
             not fitting these: {aside}.",
            used + aside
        ),
        Ground::Moved(0) => format!(
            "Held against {}, where nothing moved; what moved is free until readings settle it.",
            source.unwrap_or("the registration in force")
        ),
        Ground::Moved(used) => format!(
            "Held against {}, where nothing moved; what moved as {} taken since say it.",
            source.unwrap_or("the registration in force"),
            counted(used, "reading")
        ),
        Ground::Drawing => {
            "Checked against the drawing and its tolerances, where these say enough: \
                          the readings entered so far do not settle the cell, or do not agree."
                .to_owned()
        }
    }
}

/// Over the questions of a row: where it stands, what to do, what is given.
pub fn heading(place: &str, step: &str, file: &str, line: usize, form: &Form) -> String {
    let step = match step {
        "" => String::new(),
        step => format!("step {step}, "),
    };
    let mut out = wrap("\n", 2, &format!("{place} ({step}{file} line {line})"));
    let note = form.row.text("note");
    if !note.is_empty() {
        out.push_str(&wrap("  to do: ", 4, note));
    }
    let given = form.given();
    if !given.is_empty() {
        let given: Vec<String> = given.iter().map(|(c, t)| format!("{c} {t}")).collect();
        out.push_str(&wrap("  given: ", 4, &given.join(", ")));
    }
    let answered = form.answered();
    if !answered.is_empty() {
        let answered: Vec<String> = answered.iter().map(|(c, t)| format!("{c} {t}")).collect();
        out.push_str(&wrap("  answered already: ", 4, &answered.join(", ")));
    }
    out
}

/// The question itself, without a line end.
pub fn question(question: &Question) -> String {
    let unit = match question.unit.as_str() {
        "" => String::new(),
        unit => format!(" ({unit})"),
    };
    let default = match &question.default {
        Some(text) => format!(" [{text}]"),
        None => String::new(),
    };
    format!("  {}{unit}{default}: ", bare(&question.column))
}

/// A column's name where its unit is told in words.
fn bare(column: &str) -> &str {
    let without = |suffix| column.strip_suffix(suffix);
    let bare = without("_mm")
        .or_else(|| without("_in"))
        .or_else(|| without("_deg"));
    bare.unwrap_or(column)
}

/// What a column is.
pub fn explained(question: &Question) -> String {
    let empty = match (&question.default, question.needed) {
        (Some(text), _) => format!("Enter alone: {text}."),
        (None, true) => "It must not stay empty.".to_owned(),
        (None, false) => "Enter alone, or -: an empty cell.".to_owned(),
    };
    wrap(
        "    ",
        4,
        &format!("{}: {}. {empty}", question.column, question.words),
    )
}

/// Why an answer was not taken.
pub fn refused(problem: &Problem) -> String {
    let column = problem.field.as_deref().unwrap_or("the row");
    let text = format!(
        "{column}: found {}, expected {}; {}.",
        problem.found, problem.expected, problem.advice
    );
    wrap("    ", 4, &text)
}

fn amount(value: f64, unit: ResidualUnit, decimals: usize) -> String {
    let unit = match unit {
        ResidualUnit::Mm => " mm",
        ResidualUnit::Deg => "°",
    };
    format!("{}{unit}", fixed(value.abs(), decimals))
}

/// What 95 of 100 good readings are off by at most: twice the standard uncertainty.
fn usual(part: &Part) -> f64 {
    2.0 * part.sd
}

/// The component that is farthest from what is usual.
fn worst(parts: &[Part]) -> Option<&Part> {
    parts.iter().max_by(|a, b| a.ratio().total_cmp(&b.ratio()))
}

/// "0.3 mm off (x), ±1.1 mm was to be expected".
fn off(part: &Part, unit: ResidualUnit) -> String {
    let along = match part.component {
        Some(name) => format!(" ({name})"),
        None => String::new(),
    };
    let decimals = decimals_for(usual(part));
    format!(
        "{} off{along}, ±{} was to be expected",
        amount(part.off, unit, decimals),
        amount(usual(part), unit, decimals)
    )
}

/// After a row that was accepted.
pub fn saved(checked: &Checked) -> String {
    let text = match checked {
        Checked::Nothing => "saved; nothing to check this against yet".to_owned(),
        Checked::Fits { parts, unit } => match worst(parts) {
            Some(part) if part.ratio() > 2.0 => {
                format!("saved; it may be: {}", off(part, *unit))
            }
            Some(part) => format!("saved; fits: {}", off(part, *unit)),
            None => "saved".to_owned(),
        },
        Checked::Off { parts, unit, .. } => match worst(parts) {
            Some(part) => format!("saved as written, though {}", off(part, *unit)),
            None => "saved as written".to_owned(),
        },
    };
    wrap("  ", 4, &text)
}

/// What stands under `note` of a row that was kept although it does not fit.
pub fn kept(checked: &Checked, before: &str) -> Option<String> {
    let Checked::Off { parts, unit, .. } = checked else {
        return None;
    };
    let how = worst(parts).map(|p| {
        let how = amount(p.off, *unit, decimals_for(usual(p)));
        how.replace('°', " deg")
    })?;
    let words = format!("kept though {how} off what was expected");
    Some(match before {
        "" => words,
        before => format!("{before}; {words}"),
    })
}

/// A row that looks wrong at once, or does not fit: what was found, what would fit.
pub fn doubt(warnings: &[&Problem], checked: &Checked) -> String {
    let mut out = String::new();
    for problem in warnings {
        out.push_str(&refused(problem).replacen("    ", "  Look: ", 1));
    }
    let Checked::Off {
        parts,
        unit,
        suggestions,
    } = checked
    else {
        return out;
    };
    let how = worst(parts).map_or_else(String::new, |p| off(p, *unit));
    match suggestions.as_slice() {
        [] => out.push_str(&wrap(
            "  ",
            4,
            &format!(
                "That does not fit: {how}. No usual slip of the pen explains it: read it again, and \
                 look for what has moved."
            ),
        )),
        [one] => match holes(one) {
            Some(words) => out.push_str(&wrap("  ", 4, &format!("That is {words}? ({how}.)"))),
            None => out.push_str(&wrap(
                "  ",
                4,
                &format!("That does not fit: {how}. It would fit if {}.", one.words),
            )),
        },
        several => {
            let words: Vec<&str> = several.iter().take(MOST).map(|s| s.words.as_str()).collect();
            let words = words.join("; or if ");
            out.push_str(&wrap(
                "  ",
                4,
                &format!("That does not fit: {how}. It would fit if {words}."),
            ));
        }
    }
    out
}

/// So many suggestions are told.
const MOST: usize = 3;

/// "one hole from what is expected: 9 rather than 8", of a count.
fn holes(suggestion: &Suggestion) -> Option<String> {
    let [(column, found, fits)] = suggestion.edits.as_slice() else {
        return None;
    };
    if suggestion.kind != SlipKind::Count || column != "count" {
        return None;
    }
    let far = (fits.parse::<f64>().ok()? - found.parse::<f64>().ok()?).abs();
    let far = match far {
        0.5 => "half a hole".to_owned(),
        1.0 => "one hole".to_owned(),
        f => format!("{} holes", fixed(f, usize::from(f.fract() != 0.0))),
    };
    Some(format!(
        "{far} from what is expected: {fits} rather than {found}"
    ))
}

/// What can be done about a row in doubt, and the question, without a line end.
pub fn choices(checked: &Checked) -> String {
    let mut out = String::new();
    for (key, suggestion) in suggested(checked) {
        let parts: Vec<String> = suggestion
            .edits
            .iter()
            .map(|(column, _, fits)| match fits.as_str() {
                "" => format!("nothing under {column}"),
                fits => format!("{fits} under {column}"),
            })
            .collect();
        out.push_str(&wrap(
            "  ",
            4,
            &format!(
                "{key}: write {}, if you have seen that it is so",
                parts.join(", ")
            ),
        ));
    }
    out.push_str("  keep / correct / later / q? ");
    out
}

/// Suggestions, and what to answer to take each.
pub fn suggested(checked: &Checked) -> Vec<(String, &Suggestion)> {
    let Checked::Off { suggestions, .. } = checked else {
        return Vec::new();
    };
    let alone = suggestions.len() == 1;
    let told = suggestions.iter().take(MOST).enumerate();
    told.map(|(k, s)| match alone {
        true => ("s".to_owned(), s),
        false => (format!("s{}", k + 1), s),
    })
    .collect()
}

/// At the end.
pub fn closing(filled: usize, left: usize, kept: usize) -> String {
    let mut parts = vec![format!("{} entered", counted(filled, "row"))];
    if left > 0 {
        parts.push(format!(
            "{left} left: the same command goes on where it stopped"
        ));
    }
    if kept > 0 {
        parts.push(format!("{kept} kept that did not fit"));
    }
    let next = match (filled, left) {
        (0, _) => "",
        (_, 0) => ". Next: `notchpin register`",
        _ => "",
    };
    wrap("\n", 2, &format!("{}{next}.", parts.join("; ")))
}
