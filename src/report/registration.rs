//! `register` for people: verdict, what was found, what does not fit, what to do next.

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::Path;

use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::assess::SUSPECT;
use crate::registration::Bench;
use crate::registration::Determined;
use crate::registration::Document;
use crate::registration::ONLY_AT_PAIRS;
use crate::registration::PointDocument;
use crate::registration::ReadingDocument;
use crate::report::assurance;
use crate::report::findings;
use crate::report::moves::moved;
use crate::report::notes::notes;
use crate::report::notes::place;
use crate::report::number::fixed;
use crate::report::number::probability;
use crate::report::number::uncertainty;
use crate::report::repeats::repeats;
use crate::report::robust::robust;
use crate::report::simulation::simulation;
use crate::report::tables::parameters;
use crate::report::tables::points;
use crate::report::tables::worst;
use crate::report::undetermined::advice_lines;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;

/// The text of a registration.
pub fn registered(
    bench: &Bench,
    determined: &Determined,
    document: &Document,
    record: Option<&Path>,
) -> String {
    let mut out = String::new();
    verdict(&mut out, bench, document);
    match &document.moved {
        Some(told) => {
            moved::moved(&mut out, document, told);
            moved::values(&mut out, document, told);
        }
        None => parameters(&mut out, bench, document),
    }
    points(&mut out, bench, document);
    findings::found(&mut out, document);
    assurance::checks(&mut out, document);
    worst(&mut out, document);
    repeats(&mut out, document);
    notes(&mut out, bench, determined, document);
    simulation(&mut out, document);
    open(&mut out, document);
    next(&mut out, bench, document);
    out.push('\n');
    match record {
        Some(path) => out.push_str(&wrap("Record: ", 8, &path.display().to_string())),
        None => out.push_str("No record was written; tip and reach go on with the newest one.\n"),
    }
    out.push('\n');
    out.push_str(CAUTION);
    out
}

fn verdict(out: &mut String, bench: &Bench, document: &Document) {
    let _ = writeln!(out, "{}: {}", verdict_word(document), document.cell);
    for sentence in sentences(bench, document) {
        out.push_str(&wrap("  ", 2, &sentence));
    }
}

/// `ACCEPTED`, `LOOK` or `UNDETERMINED`.
pub fn verdict_word(document: &Document) -> &'static str {
    match document.verdict.as_str() {
        "accepted" => "ACCEPTED",
        "undetermined" => "UNDETERMINED",
        _ => "LOOK",
    }
}

/// What the verdict rests on, and how sure the result is: a few sentences, the answer first.
pub fn sentences(bench: &Bench, document: &Document) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    let suspects = document.readings.iter().filter(|r| r.suspect).count()
        + document.parameters.iter().filter(|p| p.suspect).count();
    let fit = if document.parameters.is_empty() && suspects > 0 {
        format!(
            "{} not fit the drawing. Name under [solve] what is not known well enough.",
            match suspects {
                1 => "1 value does".to_owned(),
                n => format!("{n} values do"),
            }
        )
    } else if document.dof == Some(0) {
        "Nothing is left over to check the result: as many unknowns as readings. One slip would go \
         unnoticed."
            .to_owned()
    } else if let Some(text) = findings::verdict(document) {
        text
    } else if suspects > 0 {
        format!(
            "{} not fit the others{}.",
            match suspects {
                1 => "1 value does".to_owned(),
                n => format!("{n} values do"),
            },
            if suspects > 1 && document.suspects.is_empty() {
                "; the worst one may pull the others along"
            } else {
                ""
            }
        )
    } else if !global_test_holds(document) {
        "No single reading stands out, but together they fit worse than their stated uncertainties \
         allow."
            .to_owned()
    } else {
        "All readings fit each other within what was stated.".to_owned()
    };
    all.push(fit);
    if contradicted(document) {
        all.push(
            "How sure the tip is cannot be said while readings contradict each other: do not use the ± \
             and the radii below."
                .to_owned(),
        );
    } else if let Some((name, u)) = worst_point(document) {
        all.push(how_sure(bench, document, name, u));
    }
    all.push(assurance::verified(document));
    let limit = bench.cell.accept.tip_mm;
    all.extend(assurance::reliability(document, limit).filter(|_| !contradicted(document)));
    all.extend(robust(document));
    all.extend(doubts(document));
    all.push(counts(document));
    all
}

/// "76 readings: 106 residuals and 10 tolerances for 21 unknowns leave 95 to check; misfit 0.96 …"
fn counts(document: &Document) -> String {
    let rows = document.readings.iter().map(|r| (&r.file, r.line));
    let used = rows.collect::<BTreeSet<_>>().len();
    let dof = document.dof.unwrap_or(0);
    format!(
        "{}: {}{} and {} for {} leave {dof} to check{}.",
        counted(used, "reading"),
        counted(document.readings.len(), "residual"),
        match &document.moved {
            Some(_) => format!(", {} to the record before", counted(ties(document), "tie")),
            None => String::new(),
        },
        match tolerances(document) {
            1 => "1 tolerance".to_owned(),
            n => format!("{n} tolerances"),
        },
        counted(document.parameters.len(), "unknown"),
        match (document.sigma0, document.p_value) {
            (Some(s), Some(p)) => format!(
                "; misfit {} of what was stated, probability {}",
                fixed(s, 2),
                probability(p)
            ),
            _ => String::new(),
        }
    )
}

fn tolerances(document: &Document) -> usize {
    let parameters = document.parameters.iter();
    parameters.filter(|p| p.tolerance.is_some()).count()
}

/// Rows that tie to the record before: all residuals that are neither readings nor tolerances.
fn ties(document: &Document) -> usize {
    let all = document.dof.unwrap_or(0) + document.parameters.len();
    all.saturating_sub(document.readings.len() + tolerances(document))
}

/// "Tip within 1.4 mm (95 %) at the worst of 8 points (tile_east); asked for: 2.00 mm."
fn how_sure(bench: &Bench, document: &Document, name: &str, u95_mm: f64) -> String {
    let known = document.points.iter().filter(|p| p.u95_mm.is_some());
    let asked = match (bench.cell.accept.tip_mm, within_accept(bench, document)) {
        (Some(limit), true) => format!("asked for: {} mm", fixed(limit, 2)),
        (Some(limit), false) => format!("asked for: {} mm; NOT met", fixed(limit, 2)),
        (None, _) => "nothing was asked for under [accept]".to_owned(),
    };
    let shown = match bench.cell.accept.tip_mm {
        // Near the limit two digits can look like the limit itself.
        Some(limit) if (u95_mm / limit - 1.0).abs() < 0.05 => fixed(u95_mm, 3),
        _ => uncertainty(u95_mm),
    };
    let known = known.count();
    let of = match document.points.len() - known {
        0 => counted(known, "point"),
        // Met only at pairs of track and table, say: the radius there depends on the pair.
        _ => format!(
            "those {known} of {} points for which it can be told",
            document.points.len()
        ),
    };
    format!("Tip within {shown} mm (95 %) at the worst of {of} ({name}); {asked}.")
}

/// Whether readings contradict each other or the drawing.
pub(super) fn contradicted(document: &Document) -> bool {
    let suspect = document.readings.iter().any(|r| r.suspect)
        || document.parameters.iter().any(|p| p.suspect);
    suspect || !global_test_holds(document)
}

fn global_test_holds(document: &Document) -> bool {
    document.p_value.is_none_or(|p| p >= GLOBAL_LIMIT)
}

/// Whether the tip is as sure as was asked for, everywhere.
fn within_accept(bench: &Bench, document: &Document) -> bool {
    let met = |limit: f64| {
        document
            .points
            .iter()
            .all(|p| p.u95_mm.is_none_or(|u| u <= limit))
    };
    bench.cell.accept.tip_mm.is_none_or(met)
}

/// What the figures below do not say by themselves.
fn doubts(document: &Document) -> Vec<String> {
    let mut lines = Vec::new();
    if document.parameters.is_empty() {
        lines.push(
            "Nothing was solved for, so the radii below take the whole drawing as exact; they count \
             the stated play only."
                .to_owned(),
        );
    } else if document.dof == Some(0) {
        lines.push(
            "The ± and the radii below rest on readings that nothing checks, and take all that was \
             not solved for as exact."
                .to_owned(),
        );
    }
    let out = |at_pairs: bool| -> Vec<&str> {
        let which = |p: &&PointDocument| {
            let why = p.unreachable.as_deref();
            why.is_some_and(|why| (why == ONLY_AT_PAIRS) == at_pairs)
        };
        let points = document.points.iter().filter(which);
        points.map(|p| p.name.as_str()).collect()
    };
    if !out(false).is_empty() {
        lines.push(format!("Out of reach: {}.", out(false).join(", ")));
    }
    if !out(true).is_empty() {
        lines.push(format!(
            "How sure the tip is was not worked out at {}: {ONLY_AT_PAIRS}.",
            out(true).join(", ")
        ));
    }
    lines
}

fn worst_point(document: &Document) -> Option<(&str, f64)> {
    let known = document
        .points
        .iter()
        .filter_map(|p| Some((p.name.as_str(), p.u95_mm?)));
    known.max_by(|a, b| a.1.total_cmp(&b.1))
}

/// What is not settled or not checked, with the reading that would do it.
fn open(out: &mut String, document: &Document) {
    if document.advice.is_empty() {
        return;
    }
    out.push_str("\nWhat the readings do not tell\n");
    for advice in &document.advice {
        out.push_str(&advice_lines(advice));
    }
}

fn next(out: &mut String, bench: &Bench, document: &Document) {
    out.push_str("\nNext\n");
    for sentence in next_steps(bench, document) {
        out.push_str(&wrap("  ", 2, &sentence));
    }
}

/// What to do next.
pub fn next_steps(bench: &Bench, document: &Document) -> Vec<String> {
    let suspect = document
        .readings
        .iter()
        .filter(|r| r.suspect)
        .max_by(|a, b| {
            let size = |r: &ReadingDocument| r.standardized.unwrap_or(0.0).abs();
            size(a).total_cmp(&size(b))
        });
    let tied = document.parameters.iter().find(|p| p.suspect);
    let text = if document.parameters.is_empty() && suspect.is_some() {
        "Name in cell.toml under [solve] what the drawing does not know well enough, free or with a \
         tolerance; then register again."
            .to_owned()
    } else if document.dof == Some(0) {
        "Take at least one reading more than there are unknowns, then register again.".to_owned()
    } else if let Some(text) = findings::next(document) {
        text
    } else if let Some(r) = suspect {
        let largest_tie = tied.and_then(|p| p.standardized).unwrap_or(0.0).abs();
        if r.standardized.unwrap_or(0.0).abs() >= largest_tie {
            format!(
                "Look at {} first: measure it again, or correct what was written down. Then \
                 register again; the others may follow from it.",
                place(r)
            )
        } else {
            suspect_parameter(tied)
        }
    } else if tied.is_some() {
        suspect_parameter(tied)
    } else if !global_test_holds(document) {
        format!(
            "Go through what all readings of one kind share (instrument, pitch, a mark's place); \
             no single value is beyond {SUSPECT} of what is usual."
        )
    } else if !within_accept(bench, document) {
        "See with `notchpin plan` which readings would make the tip surer, or whether it is the play of \
         the axes that limits it."
            .to_owned()
    } else if let Some(name) = backward_play(document) {
        format!(
            "Do not key anything in yet: play cannot be below zero, so the approaches were probably noted \
             the wrong way round where {name} comes from. Look at up and down (ccw and cw) there."
        )
    } else if document.verdict == "accepted" && document.parameters.iter().any(|p| p.weak) {
        "Key in the values above except those marked WEAK, which the readings do not support; drive \
         slowly to one known mark and see that the tip meets it."
            .to_owned()
    } else if document.verdict == "accepted" {
        "Key in the values above if the controller takes them, or give tip and reach the readings \
         as they are; drive slowly to one known mark and see that the tip meets it."
            .to_owned()
    } else {
        "Look at the notes above, then register again.".to_owned()
    };
    let mut all = vec![text];
    if document.moved.is_some() && document.points.iter().any(|p| p.taught) {
        all.push(
            "The readings of taught points that depend on what moved lead elsewhere now: do not run them. \
             `notchpin transfer` gives the new ones."
                .to_owned(),
        );
    }
    all
}

/// A lost motion that came out below zero by more than chance.
fn backward_play(document: &Document) -> Option<&str> {
    let parameters = document.parameters.iter();
    parameters
        .filter(|p| p.name.ends_with("lost_motion"))
        .find(|p| p.value.zip(p.u).is_some_and(|(v, u)| v < -SUSPECT * u))
        .map(|p| p.name.as_str())
}

fn suspect_parameter(p: Option<&crate::registration::ParameterDocument>) -> String {
    let name = p.map_or("", |p| p.name.as_str());
    format!(
        "{name} came out far from the drawing for its tolerance: check its nominal value and \
         tolerance in cell.toml, and the readings that decide it."
    )
}
