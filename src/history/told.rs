//! The whole history of a cell, as `history --json` prints it.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::bench::Bench;
use crate::history::days::MONTH;
use crate::history::days::day_of;
use crate::history::days::text_of;
use crate::history::due::Due;
use crate::history::due::due;
use crate::history::line::LEVEL;
use crate::history::recheck::Recheck;
use crate::history::series::Record;
use crate::history::series::Series;
use crate::history::series::contradicted;
use crate::history::series::series;
use crate::records;
use crate::records::Body;
use crate::records::chain;
use crate::records::chain::Chain;
use crate::records::chain::Paper;
use crate::records::chain::number_in;

/// The history of a cell.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct History {
    /// Name of the cell.
    pub cell: String,
    /// `good`, or `look`.
    pub verdict: String,
    /// What a person must look at, a sentence each.
    pub look: Vec<String>,
    /// The day on which this was asked.
    pub today: String,
    /// Whether the records are all there and as they were written.
    pub chain: Chain,
    /// When it is due again.
    pub due: Due,
    /// The registrations, oldest first.
    pub records: Vec<RecordEntry>,
    /// The rechecks, oldest first.
    pub rechecks: Vec<RecheckEntry>,
    /// The parameters over time.
    pub parameters: Vec<Series>,
    /// How many of them were looked at for drift.
    pub looked_at: usize,
    /// How likely it is at most that any of them is called a drift where nothing drifts.
    pub level: f64,
    /// Days of a month of drift.
    pub month_days: f64,
    /// Which records do not count for drifts, and from which on all is counted anew; a sentence each.
    pub not_counted: Vec<String>,
    /// Files that a run left behind which was cut off.
    pub left_behind: Vec<String>,
}

/// A registration.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecordEntry {
    /// Its number.
    pub record: u64,
    /// Its file.
    pub file: String,
    /// The day of its readings, or else of its writing.
    pub day: Option<String>,
    /// When it was written.
    pub time: Option<String>,
    /// accepted or look; null where it cannot be read.
    pub verdict: Option<String>,
    /// Who, what, why.
    pub note: Option<String>,
    /// After a move: the parts that were solved anew. Null in a full registration.
    pub moved: Option<Vec<String>>,
    /// Joints that were solved anew too, since they are set after one of these.
    pub followed: Vec<String>,
    /// After a move: the record that holds the rest.
    pub tied_to: Option<String>,
    /// Readings that took part.
    pub readings: Option<usize>,
    /// Largest 95 % radius of the tip at its points, mm.
    pub worst_u95_mm: Option<f64>,
    /// The point where that is.
    pub point: Option<String>,
    /// Whether its readings contradict each other, so that no uncertainty holds.
    pub contradicted: bool,
    /// Why it cannot be read.
    pub problem: Option<String>,
}

/// A recheck.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RecheckEntry {
    /// Its number.
    pub recheck: u64,
    /// Its file.
    pub file: String,
    /// The day of its readings, or else of its writing.
    pub day: Option<String>,
    /// When it was written.
    pub time: Option<String>,
    /// The registration that was checked.
    pub against: Option<String>,
    /// Whether it still held.
    pub holds: Option<bool>,
    /// Who, what, why.
    pub note: Option<String>,
    /// Why it cannot be read.
    pub problem: Option<String>,
}

/// What a folder holds.
#[derive(Debug, Clone, Copy)]
pub struct Kept<'a> {
    /// The files of `records`.
    pub papers: &'a [Paper],
    /// The text of `list.txt`.
    pub list: Option<&'a str>,
    /// Files that a run left behind which was cut off.
    pub left_behind: &'a [String],
}

/// Puts the history together. `today` in days from 1970-01-01.
pub fn history(bench: &Bench, kept: Kept<'_>, today: i64) -> History {
    let [registrations, rechecks] = chain::PREFIXES.map(|prefix| {
        let mut found: Vec<(u64, &Paper)> = kept
            .papers
            .iter()
            .filter_map(|p| Some((number_in(&p.name, prefix)?, p)))
            .collect();
        found.sort_by_key(|(number, _)| *number);
        found
    });
    let bodies: Vec<Result<Body, String>> = registrations
        .iter()
        .map(|(_, p)| match &p.text {
            Ok(text) => records::read(text).map_err(|e| e.to_string()),
            Err(why) => Err(why.clone()),
        })
        .collect();
    let readable: Vec<Record<'_>> = registrations
        .iter()
        .zip(&bodies)
        .filter_map(|((number, paper), body)| {
            Some(Record {
                number: *number,
                file: &paper.name,
                body: body.as_ref().ok()?,
            })
        })
        .collect();
    let chain = chain::check(kept.papers, kept.list);
    let (parameters, not_counted) = series(&readable);
    let newest_reads = bodies.last().is_some_and(|b| b.is_ok());
    let due = match newest_reads {
        true => due(bench, &readable, &parameters, today),
        false => due(bench, &[], &[], today),
    };
    let entries = registrations.iter().zip(&bodies);
    let mut history = History {
        cell: bench.cell.name.clone(),
        verdict: String::new(),
        look: Vec::new(),
        today: text_of(today),
        chain,
        due,
        records: entries.map(|((n, p), body)| entry(*n, p, body)).collect(),
        rechecks: rechecks.iter().map(|(n, p)| recheck(*n, p)).collect(),
        looked_at: parameters.iter().filter(|s| s.drift.is_some()).count(),
        parameters,
        level: LEVEL,
        month_days: MONTH,
        not_counted,
        left_behind: kept.left_behind.to_vec(),
    };
    history.look = looks(&history, today);
    // Older versions kept no list; their records are not chained either.
    let chained = history.records.len() > history.chain.unchained.len();
    if kept.list.is_none() && chained {
        history.look.push(
            "records/list.txt is missing: whether the last records are all there cannot be said."
                .to_owned(),
        );
    }
    history.verdict = match history.look.is_empty() {
        true => "good".to_owned(),
        false => "look".to_owned(),
    };
    history
}

fn entry(number: u64, paper: &Paper, body: &Result<Body, String>) -> RecordEntry {
    let mut entry = RecordEntry {
        record: number,
        file: paper.name.clone(),
        day: None,
        time: None,
        verdict: None,
        note: None,
        moved: None,
        followed: Vec::new(),
        tied_to: None,
        readings: None,
        worst_u95_mm: None,
        point: None,
        contradicted: false,
        problem: None,
    };
    let body = match body {
        Ok(body) => body,
        Err(why) => {
            entry.problem = Some(why.clone());
            return entry;
        }
    };
    let known = body
        .registration
        .points
        .iter()
        .filter_map(|p| Some((p.u95_mm?, p)));
    let worst = known.max_by(|a, b| a.0.total_cmp(&b.0));
    let residuals = body.registration.readings.iter();
    let used: BTreeSet<(&str, usize)> = residuals.map(|r| (r.file.as_str(), r.line)).collect();
    RecordEntry {
        day: day_of(body.date()).map(text_of),
        time: Some(body.time.clone()),
        verdict: Some(body.registration.verdict.clone()),
        note: body.note.clone(),
        moved: body.moved.as_ref().map(|m| m.parts.clone()),
        followed: body
            .moved
            .as_ref()
            .map_or(Vec::new(), |m| m.followed.clone()),
        tied_to: body.moved.as_ref().map(|m| m.from.file.clone()),
        readings: Some(used.len()),
        worst_u95_mm: worst.map(|(u, _)| u),
        point: worst.map(|(_, p)| p.name.clone()),
        contradicted: contradicted(body),
        ..entry
    }
}

fn recheck(number: u64, paper: &Paper) -> RecheckEntry {
    let read: Result<Recheck, String> = match &paper.text {
        Ok(text) => records::read_as(text).map_err(|e| e.to_string()),
        Err(why) => Err(why.clone()),
    };
    let body = read.as_ref().ok();
    RecheckEntry {
        recheck: number,
        file: paper.name.clone(),
        day: body.and_then(|b| day_of(b.date())).map(text_of),
        time: body.map(|b| b.time.clone()),
        against: body.map(|b| b.against.file.clone()),
        holds: body.map(|b| b.holds),
        note: body.and_then(|b| b.note.clone()),
        problem: read.as_ref().err().cloned(),
    }
}

/// What a person must look at.
fn looks(history: &History, today: i64) -> Vec<String> {
    let mut looks = Vec::new();
    match history.chain.faults.len() {
        0 => {}
        1 => looks.push("The chain of records is broken at one place.".to_owned()),
        n => looks.push(format!("The chain of records is broken at {n} places.")),
    }
    let Some(newest) = history.records.last() else {
        return looks;
    };
    let file = &newest.file;
    match newest.verdict.as_deref() {
        Some("accepted") => {}
        Some(verdict) => looks.push(format!(
            "The newest record, {file}, has the verdict {verdict}."
        )),
        None => looks.push(format!("The newest record, {file}, cannot be read.")),
    }
    let unfit: Vec<&str> = history
        .records
        .iter()
        .filter(|r| r.problem.is_some())
        .map(|r| r.file.as_str())
        .collect();
    if !unfit.is_empty() && newest.verdict.is_some() {
        looks.push(format!(
            "Not usable with cell.toml as it is now, or damaged: {}.",
            unfit.join(", ")
        ));
    }
    let of_newest = history.rechecks.iter().rev();
    let last = of_newest
        .filter(|r| r.against.as_ref() == Some(file))
        .find(|r| r.holds.is_some());
    if let Some(failed) = last.filter(|r| r.holds == Some(false)) {
        looks.push(format!("{}: {file} does not hold any more.", failed.file));
    }
    if let (true, Some(day), Some(left)) =
        (history.due.past(), &history.due.day, history.due.days_left)
    {
        looks.push(format!(
            "A registration has been due since {day} ({} days).",
            -left
        ));
    }
    let late = newest
        .day
        .as_deref()
        .and_then(day_of)
        .filter(|day| *day > today + 1);
    if late.is_some() {
        looks.push(format!(
            "The readings of {file} were taken on {}, which is still to come: was --taken mistyped?",
            newest.day.as_deref().unwrap_or_default()
        ));
    }
    looks
}
