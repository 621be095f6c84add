//! Which values of a parameter can be compared with each other, and the line through them.

use std::collections::BTreeMap;
use std::collections::BTreeSet;

use serde::Serialize;

use crate::fit::assess::GLOBAL_LIMIT;
use crate::history::days::MONTH;
use crate::history::days::day_of;
use crate::history::line::At;
use crate::history::line::LEVEL;
use crate::history::line::Line;
use crate::history::line::Sides;
use crate::history::line::holm;
use crate::history::line::line;
use crate::records::Body;

/// A file with so many rows of which half say the same as in an earlier record was not read anew: single
/// rows come out the same by chance, since people read to a tenth.
const FEWEST_ROWS: usize = 3;

/// A record of a registration that could be read.
#[derive(Debug, Clone, Copy)]
pub struct Record<'a> {
    /// Its number.
    pub number: u64,
    /// Its file.
    pub file: &'a str,
    /// What it holds.
    pub body: &'a Body,
}

/// One parameter over time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// Its name.
    pub name: String,
    /// mm, deg, mm/unit or deg/unit.
    pub unit: String,
    /// Its value in each record that solved for it.
    pub values: Vec<ValueThen>,
    /// The line through the values that count and belong together; null where there are fewer than two.
    pub drift: Option<Drift>,
}

/// A value in a record.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ValueThen {
    /// Number of the record.
    pub record: u64,
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Whether it takes part in the line.
    pub counts: bool,
    /// Why not.
    pub why_not: Option<String>,
}

/// A line through values over time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drift {
    /// The records that take part.
    pub records: Vec<u64>,
    /// How much it changes in 30.44 days.
    pub per_month: f64,
    /// Standard uncertainty of that.
    pub u: f64,
    /// Its 95 % uncertainty.
    pub u95: f64,
    /// How many times more the values scatter about the line than stated; 1 where they do not.
    pub scatter: f64,
    /// How likely so large a change is by chance.
    pub probability: f64,
    /// The same, corrected for the number of parameters that were looked at.
    pub corrected: f64,
    /// Whether it drifts.
    pub real: bool,
    /// Whether it is a lost motion that grows.
    pub wear: bool,
    /// What each value adds to the change per day.
    #[serde(skip)]
    pub shares: Vec<f64>,
}

/// Why a record's values are not comparable with those before it, or do not count at all.
#[derive(Debug, Clone, Default)]
struct Standing {
    /// It does not count.
    out: Option<String>,
    /// Everything starts anew with it.
    anew: Option<String>,
    /// After a move: the only parameters that it has a value of its own of.
    freed: Option<BTreeSet<String>>,
}

/// Whether readings contradict each other or the drawing, so that no u holds.
pub(super) fn contradicted(body: &Body) -> bool {
    let document = &body.registration;
    document.readings.iter().any(|r| r.suspect)
        || document.parameters.iter().any(|p| p.suspect)
        || document.p_value.is_some_and(|p| p < GLOBAL_LIMIT)
}

/// All parameters that any record solved for, in the order of the newest, with what starts a new count for
/// all of them: sentences. Records in order of their numbers.
pub fn series(records: &[Record<'_>]) -> (Vec<Series>, Vec<String>) {
    let standings = standings(records);
    let mut names: Vec<(String, String)> = Vec::new();
    for record in records.iter().rev() {
        for p in &record.body.registration.parameters {
            if !names.iter().any(|(name, _)| *name == p.name) {
                names.push((p.name.clone(), p.unit.clone()));
            }
        }
    }
    let mut found = Vec::with_capacity(names.len());
    let mut lines = Vec::new();
    for (name, unit) in names {
        let (values, drawn) = of_parameter(&name, records, &standings);
        if let Some((numbers, line)) = drawn {
            lines.push((found.len(), numbers, line));
        }
        found.push(Series {
            name,
            unit,
            values,
            drift: None,
        });
    }
    let chances: Vec<f64> = lines.iter().map(|(_, _, l)| l.probability).collect();
    for ((place, numbers, line), corrected) in lines.into_iter().zip(holm(&chances)) {
        let real = corrected <= LEVEL;
        let series = &mut found[place];
        series.drift = Some(Drift {
            records: numbers,
            per_month: line.per_day * MONTH,
            u: line.u_per_day * MONTH,
            u95: line.u95_per_day * MONTH,
            scatter: line.scatter,
            probability: line.probability,
            corrected,
            real,
            wear: real && is_play(&series.name),
            shares: line.shares,
        });
    }
    let told = standings.iter().zip(records).flat_map(|(s, r)| {
        let anew = s.anew.as_ref().map(|why| {
            format!(
                "From record {} on everything is counted anew: {why}.",
                r.number
            )
        });
        let out = s.out.as_ref();
        let out = out.map(|why| format!("Record {} does not count for drifts: {why}.", r.number));
        anew.into_iter().chain(out)
    });
    (found, told.collect())
}

pub(super) fn is_play(name: &str) -> bool {
    name.ends_with(".lost_motion")
}

type Drawn = (Vec<u64>, Line);

/// The values of one parameter, and the line through the last of them that belong together.
fn of_parameter(
    name: &str,
    records: &[Record<'_>],
    standings: &[Standing],
) -> (Vec<ValueThen>, Option<Drawn>) {
    let starts =
        |s: &Standing| s.anew.is_some() || s.freed.as_ref().is_some_and(|f| f.contains(name));
    let start = standings.iter().rposition(starts).unwrap_or(0);
    let mut values = Vec::new();
    let mut taken = Vec::new();
    for (k, (record, standing)) in records.iter().zip(standings).enumerate() {
        let parameters = &record.body.registration.parameters;
        let Some(p) = parameters.iter().find(|p| p.name == name) else {
            continue;
        };
        let (Some(value), Some(u)) = (p.value, p.u) else {
            continue;
        };
        let day = day_of(record.body.date());
        let moved = record.body.moved.as_ref();
        let tied = standing
            .freed
            .as_ref()
            .filter(|f| !f.contains(name))
            .and(moved);
        let why_not = if let Some(moved) = tied {
            Some(format!("held as in {}", moved.from.file))
        } else if let Some(why) = &standing.out {
            Some(why.clone())
        } else if k < start {
            Some("counted anew later".to_owned())
        } else if u <= 0.0 || p.weak {
            Some("the readings say almost nothing of it".to_owned())
        } else if day.is_none() {
            Some("its day cannot be read".to_owned())
        } else {
            None
        };
        if let (None, Some(day)) = (&why_not, day) {
            let day = day as f64;
            taken.push((record.number, At { day, value, u }));
        }
        values.push(ValueThen {
            record: record.number,
            value,
            u,
            counts: why_not.is_none(),
            why_not,
        });
    }
    let sides = match is_play(name) {
        true => Sides::Growth,
        false => Sides::Both,
    };
    let at: Vec<At> = taken.iter().map(|(_, at)| *at).collect();
    let drawn = line(&at, sides).map(|l| (taken.iter().map(|(n, _)| *n).collect(), l));
    (values, drawn)
}

fn standings(records: &[Record<'_>]) -> Vec<Standing> {
    let mut standings = vec![Standing::default(); records.len()];
    for (k, record) in records.iter().enumerate() {
        let standing = &mut standings[k];
        standing.freed = record.body.moved.as_ref().map(|moved| {
            let shares = moved.freed.iter().flatten();
            shares.map(|s| s.name.clone()).collect()
        });
        if let Some(before) = k.checked_sub(1).map(|b| &records[b]) {
            let full = records[..k].iter().rev().find(|r| r.body.moved.is_none());
            standing.anew = changed(before.body, full.map(|r| r.body), record.body);
        }
        if contradicted(record.body) {
            standing.out = Some("its readings contradict each other".to_owned());
        }
    }
    // Of records that rest on the same rows the last one counts.
    for k in (0..records.len()).rev() {
        if standings[k].out.is_some() {
            continue;
        }
        for before in 0..k {
            let same =
                standings[before].out.is_none() && same_rows(records[before].body, records[k].body);
            if same {
                standings[before].out = Some(format!(
                    "it rests on rows of readings that record {} has too",
                    records[k].number
                ));
            }
        }
    }
    standings
}

/// Why values of a record cannot be held against those before it: what is solved for, or what the drawing
/// holds, is not the same any more. `full` is the full registration before it.
fn changed(before: &Body, full: Option<&Body>, now: &Body) -> Option<String> {
    let solved = |body: &Body| -> BTreeSet<String> {
        let parameters = body.registration.parameters.iter();
        parameters.map(|p| p.name.clone()).collect()
    };
    let here = solved(now);
    // What is held now stands where it was, or all that is solved for shifts with it.
    let was: BTreeMap<&str, f64> = before
        .geometry
        .iter()
        .map(|v| (v.name.as_str(), v.value))
        .collect();
    let other = now.geometry.iter().find(|v| {
        let was = was.get(v.name.as_str());
        !here.contains(&v.name) && was.is_some_and(|was| !same(*was, v.value))
    });
    if let Some(other) = other {
        return Some(format!(
            "{} is held at another value than before",
            other.name
        ));
    }
    if now.moved.is_some() {
        return None;
    }
    let full = full?;
    let then = solved(full);
    if let Some(name) = here.symmetric_difference(&then).next() {
        return Some(match here.contains(name) {
            true => format!("{name} is solved for, and was not before"),
            false => format!("{name} is not solved for any more"),
        });
    }
    let was = |name: &str| full.registration.parameters.iter().find(|p| p.name == name);
    let other = now.registration.parameters.iter().find(|p| {
        was(&p.name).is_some_and(|w| match (w.tolerance, p.tolerance) {
            (None, None) => false,
            (Some(a), Some(b)) => !same(a, b) || !same(w.nominal, p.nominal),
            _ => true,
        })
    });
    other.map(|p| format!("the tolerance or the drawn value of {} was changed", p.name))
}

/// Two numbers of a file: the same but for the last digits of a change of units.
fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs())
}

/// Whether a later record rests on rows of an earlier one: half or more of the rows of any file, or of all
/// rows, say the same. Records of versions that noted no rows are compared by whole files.
fn same_rows(before: &Body, now: &Body) -> bool {
    if before.rows.is_empty() || now.rows.is_empty() {
        let used: BTreeSet<&str> = now
            .registration
            .readings
            .iter()
            .map(|r| r.file.as_str())
            .collect();
        let files = now.inputs.iter().filter(|i| used.contains(i.file.as_str()));
        return files
            .into_iter()
            .any(|i| before.inputs.iter().any(|b| b.sha256 == i.sha256));
    }
    let half = |of: &Body, other: &Body| {
        let there: BTreeSet<&str> = other.rows.iter().map(|r| r.sha256.as_str()).collect();
        let mut files: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
        for row in &of.rows {
            let again = usize::from(there.contains(row.sha256.as_str()));
            for key in ["", row.file.as_str()] {
                let (n, same) = files.entry(key).or_default();
                *n += 1;
                *same += again;
            }
        }
        let whole = |(key, (n, same)): (&&str, &(usize, usize))| {
            (key.is_empty() || *n >= FEWEST_ROWS) && 2 * same >= *n
        };
        files.iter().any(whole)
    };
    half(now, before) || half(before, now)
}
