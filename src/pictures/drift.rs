//! Parameters over time, from record to record.

use crate::drawing::Fault;
use crate::drawing::chart::multiples::Multiples;
use crate::drawing::chart::multiples::Panel;
use crate::drawing::chart::multiples::Then;
use crate::drawing::chart::multiples::multiples;
use crate::history::History;
use crate::history::MONTH;
use crate::history::Series;
use crate::history::day_of;
use crate::history::text_of;
use crate::pictures::Picture;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::value;
use crate::report::counted;

/// Most parameters that are drawn.
const MOST: usize = 6;
/// Most records that are drawn.
const MOST_RECORDS: usize = 150;

/// Parameters over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Drifts {
    /// The parameters.
    pub parameters: Vec<DriftOf>,
    /// Days on which something was moved, from 1970-01-01.
    pub moves: Vec<i64>,
    /// Records whose day or values cannot be read.
    pub unreadable: usize,
}

/// One parameter over time.
#[derive(Debug, Clone, PartialEq)]
pub struct DriftOf {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Its values, in order of their days.
    pub values: Vec<ValueOn>,
    /// Change in a month of 30.44 days, its 95 % uncertainty, and whether it is real.
    pub per_month: Option<(f64, f64, bool)>,
}

/// A value on a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ValueOn {
    /// Days from 1970-01-01.
    pub day: i64,
    /// The value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Whether it takes part in the line.
    pub counts: bool,
}

/// Fills it from a history.
pub fn of(history: &History) -> Drifts {
    let day = |record: u64| {
        let entry = history.records.iter().find(|r| r.record == record)?;
        day_of(entry.day.as_deref()?)
    };
    let parameter = |series: &Series| {
        let mut values: Vec<ValueOn> = series
            .values
            .iter()
            // What a registration after a move took over as it was is no value of its own.
            .filter(|v| {
                !v.why_not
                    .as_deref()
                    .is_some_and(|w| w.starts_with("held as in"))
            })
            .filter_map(|v| {
                Some(ValueOn {
                    day: day(v.record)?,
                    value: v.value,
                    u: v.u,
                    counts: v.counts,
                })
            })
            .collect();
        values.sort_by_key(|v| v.day);
        let from = values.len().saturating_sub(MOST_RECORDS);
        DriftOf {
            name: series.name.clone(),
            unit: series.unit.clone(),
            values: values.split_off(from),
            per_month: series.drift.as_ref().map(|d| (d.per_month, d.u95, d.real)),
        }
    };
    let moves = history.records.iter().filter(|r| r.moved.is_some());
    let mut moves: Vec<i64> = moves.filter_map(|r| day_of(r.day.as_deref()?)).collect();
    moves.sort_unstable();
    moves.dedup();
    let unreadable = history
        .records
        .iter()
        .filter(|r| r.problem.is_some() || r.day.as_deref().and_then(day_of).is_none());
    Drifts {
        parameters: history.parameters.iter().map(parameter).collect(),
        moves,
        unreadable: unreadable.count(),
    }
}

/// The picture; None where no parameter has two values.
pub fn drift(drifts: &Drifts) -> Result<Option<Picture>, Fault> {
    // Registrations of one day say nothing over time.
    let days = drifts.parameters.iter().flat_map(|p| &p.values);
    let (low, high) = days.fold((i64::MAX, i64::MIN), |(l, h), v| {
        (l.min(v.day), h.max(v.day))
    });
    if low >= high {
        return Ok(None);
    }
    let Some((chart, sentence)) = chart(drifts) else {
        return Ok(None);
    };
    Picture::new("drift", "Parameters over time", &sentence, |width| {
        multiples(&chart, width)
    })
    .map(Some)
}

/// How surely a parameter changed at all: the largest difference of two values in units of its u.
fn surely(parameter: &DriftOf) -> f64 {
    let values = &parameter.values;
    let mut most = 0.0;
    for (k, a) in values.iter().enumerate() {
        for b in &values[k + 1..] {
            let z = (a.value - b.value).abs() / a.u.hypot(b.u);
            most = if z > most { z } else { most };
        }
    }
    most
}

/// The chart and its sentence.
pub(super) fn chart(drifts: &Drifts) -> Option<(Multiples, String)> {
    let several = drifts.parameters.iter().filter(|p| p.values.len() > 1);
    // Those that drift first, then those that changed most surely.
    let mut ranked: Vec<(bool, f64, &DriftOf)> = several
        .map(|p| (p.per_month.is_some_and(|m| m.2), surely(p), p))
        .collect();
    ranked.sort_by(|a, b| b.0.cmp(&a.0).then(b.1.total_cmp(&a.1)));
    let all = ranked.len();
    ranked.truncate(MOST);
    if ranked.is_empty() {
        return None;
    }
    let days: Vec<i64> = ranked
        .iter()
        .flat_map(|(_, _, p)| p.values.iter().map(|v| v.day))
        .collect();
    let (first, last) = (days.iter().min().copied()?, days.iter().max().copied()?);
    let moves: Vec<i64> = drifts
        .moves
        .iter()
        .copied()
        .filter(|m| (first..=last).contains(m))
        .collect();
    let mut sentence = answer(drifts);
    if all > MOST {
        sentence.push_str(&format!(
            " {MOST} of {all} parameters are drawn, those that changed most surely."
        ));
    }
    if drifts.unreadable > 0 {
        sentence.push_str(&format!(
            " Not drawn: {} that cannot be read or {} no day.",
            counted(drifts.unreadable, "record"),
            if drifts.unreadable == 1 {
                "has"
            } else {
                "have"
            }
        ));
    }
    let panels: Vec<Panel> = ranked.iter().map(|(_, _, p)| panel(p)).collect();
    let mut description = sentence.clone();
    for panel in &panels {
        description.push_str(&format!(" {}: {}.", panel.name, panel.words));
    }
    let chart = Multiples {
        title: "Parameters over time".to_owned(),
        description,
        days: ticks(first, last, &days),
        events: moves.iter().map(|m| *m as f64).collect(),
        event_words: "something was moved".to_owned(),
        words: [
            "value of a record".to_owned(),
            "does not count for the line".to_owned(),
            "±1.96 u (95 %)".to_owned(),
            "line through the values that count".to_owned(),
        ],
        panels,
        notes: Vec::new(),
    };
    Some((chart, sentence))
}

fn panel(parameter: &DriftOf) -> Panel {
    let values = &parameter.values;
    let unit = &parameter.unit;
    let words = match parameter.per_month {
        Some((change, u95, real)) => {
            let sign = if change >= 0.0 { "+" } else { "" };
            // As the history says it: of many that are looked at one comes out so by chance.
            let (what, why) = match (real, change.abs() > u95) {
                (true, _) => ("drifts", ""),
                (false, true) => ("not sure", "; one of many may come out so by chance"),
                (false, false) => ("no drift told", ""),
            };
            format!(
                "{what}: {sign}{} ± {} {unit} a month (95 %{why})",
                value(change, u95),
                value(u95, u95)
            )
        }
        None => match values.first().zip(values.last()) {
            Some((a, b)) => {
                let u = a.u.hypot(b.u);
                format!("{} → {} {unit}", value(a.value, u), value(b.value, u))
            }
            None => String::new(),
        },
    };
    Panel {
        name: format!("{}, {unit}", parameter.name),
        words,
        values: values
            .iter()
            .map(|v| Then {
                day: v.day as f64,
                value: v.value,
                half: USUAL * v.u,
                counts: v.counts,
            })
            .collect(),
        // A line that may be chance would be read as a drift.
        line: parameter
            .per_month
            .filter(|m| m.2)
            .and_then(|_| line(parameter)),
    }
}

/// Through the weighted mean of the values that count, as every line of least squares does.
fn line(parameter: &DriftOf) -> Option<[(f64, f64); 2]> {
    let per_day = parameter.per_month?.0 / MONTH;
    let counting: Vec<&ValueOn> = parameter
        .values
        .iter()
        .filter(|v| v.counts && v.u > 0.0)
        .collect();
    let (first, last) = counting.first().zip(counting.last())?;
    // Weights relative to the surest one, so that their sum stays in range.
    let least = counting.iter().map(|v| v.u).fold(f64::INFINITY, f64::min);
    let weight = |v: &ValueOn| (least / v.u).powi(2);
    let sum: f64 = counting.iter().map(|v| weight(v)).sum();
    let day = counting
        .iter()
        .map(|v| weight(v) * v.day as f64)
        .sum::<f64>()
        / sum;
    let level = counting.iter().map(|v| weight(v) * v.value).sum::<f64>() / sum;
    let at = |d: i64| (d as f64, level + per_day * (d as f64 - day));
    Some([at(first.day), at(last.day)])
}

/// First days of months where there is room for them, else the days of the records.
pub(super) fn ticks(first: i64, last: i64, days: &[i64]) -> Vec<(f64, String)> {
    const ROOM: usize = 5;
    for step in [1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200] {
        let months = firsts(first, last, step);
        if months.len() <= ROOM && months.len() >= 2 {
            return months
                .into_iter()
                .map(|d| (d as f64, text_of(d)[..7].to_owned()))
                .collect();
        }
    }
    let mut all = days.to_vec();
    all.sort_unstable();
    all.dedup();
    all.into_iter().map(|d| (d as f64, text_of(d))).collect()
}

/// First days of every so many months, counted from January of year 0.
fn firsts(first: i64, last: i64, step: i64) -> Vec<i64> {
    let text = text_of(first);
    let (Ok(year), Ok(month)) = (
        text.get(..4).unwrap_or_default().parse::<i64>(),
        text.get(5..7).unwrap_or_default().parse::<i64>(),
    ) else {
        return Vec::new();
    };
    let mut count = 12 * year + month - 1;
    let mut out = Vec::new();
    loop {
        if count.rem_euclid(step) == 0 {
            let text = format!(
                "{:04}-{:02}-01",
                count.div_euclid(12),
                count.rem_euclid(12) + 1
            );
            match day_of(&text) {
                Some(day) if day > last => return out,
                Some(day) if day >= first => out.push(day),
                Some(_) => {}
                None => return out,
            }
            if out.len() > 12 {
                return out;
            }
        }
        count += 1;
    }
}

fn answer(drifts: &Drifts) -> String {
    let real: Vec<(&DriftOf, f64, f64)> = drifts
        .parameters
        .iter()
        .filter_map(|p| p.per_month.filter(|m| m.2).map(|m| (p, m.0, m.1)))
        .collect();
    let looked = drifts.parameters.iter().any(|p| p.per_month.is_some());
    let told: Vec<String> = real
        .iter()
        .take(3)
        .map(|(p, change, u95)| {
            let sign = if *change >= 0.0 { "+" } else { "" };
            format!(
                "{} ({sign}{} {} a month)",
                p.name,
                value(*change, *u95),
                p.unit
            )
        })
        .collect();
    let more = match real.len() - told.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    let mut text = match (looked, real.len()) {
        (false, _) => {
            "Drift cannot be told before two registrations from readings of different days."
                .to_owned()
        }
        (_, 0) => "Nothing drifts as far as can be told.".to_owned(),
        (_, 1) => format!("{} drifts, nothing else as far as can be told.", told[0]),
        (_, n) => format!(
            "{n} parameters drift: {}{more}; nothing else as far as can be told.",
            told.join(", ")
        ),
    };
    match drifts.moves.len() {
        0 => {}
        1 => text.push_str(" Something was moved once, where the broken upright line stands."),
        n => text.push_str(&format!(
            " Something was moved on {n} days, where the broken upright lines stand."
        )),
    }
    text
}
