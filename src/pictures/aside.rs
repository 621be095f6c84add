//! Readings that took no part in the registration: set aside when it was asked for, or left out by `use = no`.
//! A picture draws them with a mark of their own, or says that it does not.

use std::collections::BTreeSet;

use crate::bench::Bench;
use crate::readings::Reading;
use crate::registration::Document;
use crate::registration::PlaceDocument;
use crate::registration::ReadingDocument;
use crate::report::counted;

/// Most places that a sentence names.
const NAMED: usize = 5;

/// What a residual that took no part is, against what the others say: as a row of the document, without the
/// tests of one. The search for suspects kept it; nothing where it did not.
pub fn against_the_others(
    document: &Document,
    bench: &Bench,
    place: &PlaceDocument,
) -> Vec<ReadingDocument> {
    let is_here = |file: &str, line: usize| file == place.file && line == place.line;
    let mut suspects = document.suspects.iter();
    let suspect = suspects.find(|s| s.line.is_some_and(|line| is_here(&s.file, line)));
    let taken = bench.taken.iter().find(|t| is_here(&t.file, t.line));
    let Some((suspect, taken)) = suspect.zip(taken) else {
        return Vec::new();
    };
    if suspect.off.len() != taken.reading.components() || suspect.off.iter().any(|v| !v.is_finite())
    {
        return Vec::new();
    }
    let unit = taken.reading.unit();
    let each = suspect.off.iter().enumerate();
    each.map(|(k, off)| ReadingDocument {
        file: place.file.clone(),
        line: place.line,
        component: taken.reading.component(k).map(str::to_owned),
        residual: *off,
        unit: unit.as_str().to_owned(),
        u: taken.u / unit.in_code(),
        redundancy: 1.0,
        standardized: None,
        detectable: None,
        suspect: false,
        unnoticed_tip_mm: None,
        cause: None,
    })
    .collect()
}

/// What took no part, and the check readings, which a picture that says this does not draw.
pub fn told(
    document: &Document,
    bench: &Bench,
    shows: impl Fn(&Reading) -> bool,
    files: &BTreeSet<&str>,
    drawn: &[&PlaceDocument],
) -> Option<String> {
    let checks = checks_told(document, bench, &shows);
    let no_part = took_no_part(document, bench, shows, files, drawn);
    let both: Vec<String> = [no_part, checks].into_iter().flatten().collect();
    (!both.is_empty()).then(|| both.join(" "))
}

/// Says that check readings are not drawn, and where they stand; of those that the picture would show.
fn checks_told(
    document: &Document,
    bench: &Bench,
    shows: impl Fn(&Reading) -> bool,
) -> Option<String> {
    let rows = document.checks.iter().flat_map(|c| &c.rows);
    let rows: BTreeSet<(&str, usize)> = rows.map(|r| (r.file.as_str(), r.line)).collect();
    let shown = rows.iter().filter(|(file, line)| {
        let mut taken = bench.taken.iter();
        taken.any(|t| *t.file == **file && t.line == *line && shows(&t.reading))
    });
    let (verb, they) = match shown.count() {
        0 => return None,
        1 => (
            "One check reading (use = check) took no part and is".to_owned(),
            "it stands",
        ),
        n => (
            format!("{n} check readings (use = check) took no part and are"),
            "they stand",
        ),
    };
    Some(format!(
        "{verb} not drawn here; {they} in the report's table \"Readings kept to check with\"."
    ))
}

/// What took no part and what the picture does about it, of the readings that it would show: `shows` tells
/// of a reading; of those that are no longer in the files it is those of `files`. `drawn`: places of those
/// set aside that it draws with a mark of their own.
pub fn took_no_part(
    document: &Document,
    bench: &Bench,
    shows: impl Fn(&Reading) -> bool,
    files: &BTreeSet<&str>,
    drawn: &[&PlaceDocument],
) -> Option<String> {
    let here = |p: &&PlaceDocument| {
        let mut taken = bench.taken.iter();
        match taken.find(|t| *t.file == *p.file && t.line == p.line) {
            Some(taken) => shows(&taken.reading),
            None => files.contains(p.file.as_str()),
        }
    };
    let aside: Vec<&PlaceDocument> = document.set_aside.iter().filter(here).collect();
    let (marked, not): (Vec<&PlaceDocument>, Vec<&PlaceDocument>) =
        aside.into_iter().partition(|p| drawn.contains(p));
    let left_out: Vec<&PlaceDocument> = document.left_out.iter().filter(here).collect();
    let mut said = Vec::new();
    if !marked.is_empty() {
        said.push(format!(
            "{} set aside, as asked for: {} (hollow, at what {} off from what the others say).",
            were(&marked),
            places(&marked),
            if marked.len() == 1 {
                "it is"
            } else {
                "they are"
            }
        ));
    }
    if !not.is_empty() {
        said.push(format!(
            "{} set aside, as asked for, and not drawn: {}.",
            were(&not),
            places(&not)
        ));
    }
    if !left_out.is_empty() {
        said.push(format!(
            "{} left out by use = no, and not drawn: {}.",
            were(&left_out),
            places(&left_out)
        ));
    }
    (!said.is_empty()).then(|| said.join(" "))
}

/// `2 readings were`.
fn were(list: &[&PlaceDocument]) -> String {
    let verb = if list.len() == 1 { "was" } else { "were" };
    format!("{} {verb}", counted(list.len(), "reading"))
}

/// `readings/holes.csv:6, readings/holes.csv:9 and 3 more`.
fn places(list: &[&PlaceDocument]) -> String {
    let named = list.iter().take(NAMED);
    let named: Vec<String> = named.map(|p| format!("{}:{}", p.file, p.line)).collect();
    let more = match list.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    format!("{}{more}", named.join(", "))
}
