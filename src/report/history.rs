//! The history of a cell for people, and for a spreadsheet.

use std::fmt::Write;

use crate::cell::Cell;
use crate::history::Drift;
use crate::history::History;
use crate::history::RecheckEntry;
use crate::history::RecordEntry;
use crate::history::Rule;
use crate::history::Series;
use crate::parameters::Parameter;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::probability;
use crate::report::number::uncertainty;
use crate::report::words::counted;
use crate::report::words::wrap;

/// Width of a line.
const WIDTH: usize = 98;
/// At most so many records stand beside each other.
const BESIDE: usize = 4;
/// A longer name has a line of its own.
const LONGEST_NAME: usize = 26;

/// The answer for people.
pub fn history(cell: &Cell, history: &History) -> String {
    let mut out = String::new();
    headline(&mut out, history);
    faults(&mut out, history);
    records(&mut out, history);
    values(&mut out, history);
    drifts(&mut out, cell, history);
    next(&mut out, history);
    out
}

fn headline(out: &mut String, history: &History) {
    let word = match history.look.is_empty() {
        true => "GOOD",
        false => "LOOK",
    };
    out.push_str(&wrap(&format!("{word}: "), 2, &history.cell));
    let chain = match history.chain.whole() {
        true => "Chain whole",
        false => "Chain BROKEN",
    };
    let answer = format!(
        "{chain}, {}; {}; {}.",
        counted(history.records.len(), "record"),
        due(history),
        moving(history)
    );
    out.push_str(&wrap("  ", 2, &answer));
    for look in &history.look {
        out.push_str(&wrap("  - ", 4, look));
    }
    if let Some(why) = &history.due.not_predicted {
        let text = format!("How far the tip drifts could not be predicted: {why}.");
        out.push_str(&wrap("  ", 2, &text));
    }
}

/// When a registration is due, and why, in a sentence without its end.
pub fn due(history: &History) -> String {
    let due = &history.due;
    let Some(day) = &due.day else {
        return match (&due.not_predicted, due.tip_mm) {
            (Some(_), _) => "when it is due cannot be said".to_owned(),
            (None, _) => "no rule: set [accept] due_days".to_owned(),
        };
    };
    let by = match due.past() {
        true => format!("DUE SINCE {day}"),
        false => format!("due by {day}"),
    };
    match due.rule {
        Rule::Drift => {
            let mm = |v: Option<f64>| v.map_or(String::new(), |v| fixed(v, 2));
            format!(
                "{by}: then the predicted drift of the tip at {}, {} mm, and the {} mm to which it will be known \
                 (95 %) reach the tolerance of {} mm",
                due.point.as_deref().unwrap_or_default(),
                mm(due.drift_mm),
                mm(due.u95_mm),
                mm(due.tip_mm)
            )
        }
        _ => format!("{by}: [accept] due_days after the newest record"),
    }
}

fn moving(history: &History) -> String {
    let real: Vec<&str> = real(history).map(|(s, _)| s.name.as_str()).collect();
    match (history.looked_at, real.len()) {
        (0, _) => "drift cannot be told before two registrations from readings of different days"
            .to_owned(),
        (_, 0) => "nothing drifts as far as can be told".to_owned(),
        (_, 1) => format!("{} drifts, nothing else as far as can be told", real[0]),
        _ => format!(
            "{} drift, nothing else as far as can be told",
            real.join(", ")
        ),
    }
}

/// Parameters that drift, and by how much a month, in words.
pub fn drifting(history: &History) -> Vec<(String, String)> {
    let each = real(history).map(|(series, drift)| {
        let d = decimals_for(drift.u95);
        let by = fixed(drift.per_month, d);
        let sign = if drift.per_month > 0.0 { "+" } else { "" };
        let words = format!("drifts by {sign}{by} {} a month", series.unit);
        (series.name.clone(), words)
    });
    each.collect()
}

fn real(history: &History) -> impl Iterator<Item = (&Series, &Drift)> {
    let drawn = history
        .parameters
        .iter()
        .filter_map(|s| Some((s, s.drift.as_ref()?)));
    drawn.filter(|(_, d)| d.real)
}

fn faults(out: &mut String, history: &History) {
    let chain = &history.chain;
    if !chain.whole() {
        out.push_str("\nThe chain is broken\n");
        for fault in &chain.faults {
            let text = format!("{}. To do: {}.", fault.sentence, fault.to_do);
            out.push_str(&wrap("  - ", 4, &text));
        }
    }
    if !chain.unchained.is_empty() {
        let names = chain.unchained.join(", ");
        let text = format!("Not chained (older version): {names}.");
        out.push('\n');
        out.push_str(&wrap("", 2, &text));
    }
    for note in &chain.notes {
        out.push('\n');
        out.push_str(&wrap("Note: ", 2, &format!("{note}.")));
    }
}

fn records(out: &mut String, history: &History) {
    out.push_str("\nRecords\n");
    let mut rechecks: Vec<&RecheckEntry> = history.rechecks.iter().collect();
    for record in &history.records {
        // Rechecks stand where they were made; those that cannot be read, at the end.
        let before = |r: &&RecheckEntry| match (&r.day, &record.day) {
            (Some(a), Some(b)) => a < b || (a == b && r.time < record.time),
            _ => false,
        };
        let (earlier, later): (Vec<_>, Vec<_>) = rechecks.into_iter().partition(before);
        for recheck in earlier {
            one_recheck(out, recheck);
        }
        rechecks = later;
        one_record(out, record);
    }
    for recheck in rechecks {
        one_recheck(out, recheck);
    }
}

fn one_record(out: &mut String, record: &RecordEntry) {
    let first = format!(
        "  {:>4}  {:<10}  ",
        record.record,
        record.day.as_deref().unwrap_or("no day")
    );
    let indent = first.chars().count();
    if let Some(why) = &record.problem {
        out.push_str(&wrap(&first, indent, &format!("CANNOT BE READ: {why}")));
        return;
    }
    let kind = match (&record.moved, &record.tied_to) {
        (Some(parts), tied) => {
            let also = match record.followed.is_empty() {
                true => String::new(),
                false => format!(" (and {}, set after it)", record.followed.join(", ")),
            };
            format!(
                "after a move of {}{also}, the rest as in {}",
                parts.join(", "),
                tied.as_deref().unwrap_or("the record before")
            )
        }
        _ => "full registration".to_owned(),
    };
    let sure = match (record.worst_u95_mm, record.contradicted) {
        (_, true) => ", readings contradict each other".to_owned(),
        (Some(u), _) => format!(
            ", tip within {} mm (95 %) at {}",
            uncertainty(u),
            record.point.as_deref().unwrap_or_default()
        ),
        (None, _) => String::new(),
    };
    let text = format!(
        "{}: {kind}, {}{sure}",
        record.verdict.as_deref().unwrap_or_default(),
        counted(record.readings.unwrap_or(0), "reading")
    );
    out.push_str(&wrap(&first, indent, &text));
    note(out, indent, record.note.as_deref());
}

fn one_recheck(out: &mut String, recheck: &RecheckEntry) {
    let first = format!(
        "        {:<10}  ",
        recheck.day.as_deref().unwrap_or("no day")
    );
    let indent = first.chars().count();
    let what = match (&recheck.problem, recheck.holds) {
        (Some(why), _) => format!("CANNOT BE READ: {why}"),
        (_, Some(true)) => "holds".to_owned(),
        _ => "does NOT hold any more".to_owned(),
    };
    let against = recheck
        .against
        .as_deref()
        .map_or(String::new(), |a| format!(" of {a}"));
    let text = format!("recheck {}{against}: {what}", recheck.recheck);
    out.push_str(&wrap(&first, indent, &text));
    note(out, indent, recheck.note.as_deref());
}

fn note(out: &mut String, indent: usize, note: Option<&str>) {
    if let Some(note) = note {
        out.push_str(&wrap(&" ".repeat(indent), indent, &broken(note)));
    }
}

/// A word that is longer than a line would run over it.
fn broken(text: &str) -> String {
    let mut out = String::new();
    for word in text.split_whitespace() {
        for (k, c) in word.chars().enumerate() {
            if k > 0 && k % 60 == 0 {
                out.push(' ');
            }
            // What a terminal would take for a command is not told on.
            out.push(if c.is_control() { '?' } else { c });
        }
        out.push(' ');
    }
    out
}

/// The parameters over the last few records.
fn values(out: &mut String, history: &History) {
    let readable = history.records.iter().filter(|r| r.problem.is_none());
    let records: Vec<&RecordEntry> = readable.collect();
    if records.is_empty() || history.parameters.is_empty() {
        return;
    }
    let names = history.parameters.iter().map(|s| s.name.len());
    let name_width = names.max().unwrap_or(0).min(LONGEST_NAME);
    let units = history.parameters.iter().map(|s| s.unit.len());
    let unit_width = units.max().unwrap_or(0);
    let column = |record: &RecordEntry| -> Vec<String> {
        history
            .parameters
            .iter()
            .map(|s| cell_of(s, record.record))
            .collect()
    };
    let head = |r: &RecordEntry| format!("{}: {}", r.record, r.day.as_deref().unwrap_or("no day"));
    let columns: Vec<(String, Vec<String>)> = records
        .iter()
        .rev()
        .take(BESIDE)
        .map(|r| (head(r), column(r)))
        .collect();
    let widths = columns.iter().map(|(head, cells)| {
        let all = cells.iter().map(|c| c.chars().count());
        all.max().unwrap_or(0).max(head.chars().count()) + 2
    });
    let mut room = WIDTH - 2 - name_width - 1 - unit_width;
    let mut shown: Vec<(usize, &(String, Vec<String>))> = Vec::new();
    for (width, column) in widths.zip(&columns) {
        if width > room && !shown.is_empty() {
            break;
        }
        room = room.saturating_sub(width);
        shown.push((width, column));
    }
    shown.reverse();
    let _ = writeln!(
        out,
        "\nValues ± one standard uncertainty{}",
        match shown.len() < history.records.len() {
            true => format!(
                ", of the last {} (--csv has all)",
                counted(shown.len(), "record")
            ),
            false => String::new(),
        }
    );
    let mut line = " ".repeat(2 + name_width + 1 + unit_width);
    for (width, (head, _)) in &shown {
        let _ = write!(line, "{head:>width$}");
    }
    let _ = writeln!(out, "{line}");
    for (k, series) in history.parameters.iter().enumerate() {
        let name = match series.name.len() > name_width {
            true => {
                let _ = writeln!(out, "  {}", series.name);
                ""
            }
            false => series.name.as_str(),
        };
        let mut line = format!("  {name:<name_width$} {:<unit_width$}", series.unit);
        for (width, (_, cells)) in &shown {
            let _ = write!(line, "{:>width$}", cells[k]);
        }
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let starred = shown
        .iter()
        .any(|(_, (_, cells))| cells.iter().any(|c| c.ends_with('*')));
    if starred {
        out.push_str("  * not counted for the drift\n");
    }
    for sentence in &history.not_counted {
        out.push_str(&wrap("  ", 2, sentence));
    }
}

fn cell_of(series: &Series, record: u64) -> String {
    let Some(v) = series.values.iter().find(|v| v.record == record) else {
        return "-".to_owned();
    };
    if v.why_not
        .as_deref()
        .is_some_and(|why| why.starts_with("held as in"))
    {
        return "held ".to_owned();
    }
    let d = decimals_for(v.u);
    let mark = match v.counts {
        true => ' ',
        false => '*',
    };
    format!("{} ± {}{mark}", fixed(v.value, d), fixed(v.u, d))
}

fn drifts(out: &mut String, cell: &Cell, history: &History) {
    let mut drawn: Vec<(&Series, &Drift)> = history
        .parameters
        .iter()
        .filter_map(|s| Some((s, s.drift.as_ref()?)))
        .collect();
    if drawn.is_empty() {
        return;
    }
    drawn.sort_by_key(|(_, d)| !d.real);
    let _ = writeln!(
        out,
        "\nChange in a month of {} days ± its 95 % uncertainty",
        history.month_days
    );
    let width = drawn
        .iter()
        .map(|(s, _)| s.name.len())
        .max()
        .unwrap_or(0)
        .min(LONGEST_NAME);
    for (series, drift) in &drawn {
        let d = decimals_for(drift.u95);
        let first = format!(
            "  {:<width$} {:>10} ± {:<8} {:<8}  ",
            series.name,
            fixed(drift.per_month, d),
            fixed(drift.u95, d),
            series.unit
        );
        let indent = first.chars().count().min(60);
        out.push_str(&wrap(&first, indent, &judged(drift)));
    }
    let text = format!(
        "{} looked at together, so that where nothing drifts any of them is called a drift in at most {} of 100 \
         such histories (Holm).",
        match history.looked_at {
            1 => "1 parameter was".to_owned(),
            n => format!("{n} parameters were"),
        },
        fixed(100.0 * history.level, 0)
    );
    out.push_str(&wrap("  ", 2, &text));
    for (series, drift) in drawn.iter().filter(|(_, d)| d.wear) {
        let words = Parameter::named(cell, &series.name).map_or("play", |p| p.spec().words);
        let d = decimals_for(drift.u95);
        let text = format!(
            "{} grows by {} {} a month ({words}): something wears or works loose. Have bearings, gears, belts and \
             screws of that axis looked at.",
            series.name,
            fixed(drift.per_month, d),
            series.unit
        );
        out.push_str(&wrap("  Wear: ", 4, &text));
    }
}

fn judged(drift: &Drift) -> String {
    let scatter = match drift.scatter > 1.0 {
        true => format!(
            "; its values scatter {} times more than stated, and the ± counts that",
            fixed(drift.scatter, 1)
        ),
        false => String::new(),
    };
    let n = counted(drift.records.len(), "value");
    let word = if drift.wear {
        format!("WEARS ({n}; probability {})", probability(drift.corrected))
    } else if drift.real {
        format!("DRIFTS ({n}; probability {})", probability(drift.corrected))
    } else if drift.per_month.abs() > drift.u95 && drift.probability <= 0.05 {
        format!("not sure: one of many may come out like this by chance ({n})")
    } else {
        format!("no drift to be told ({n})")
    };
    format!("{word}{scatter}")
}

fn next(out: &mut String, history: &History) {
    out.push_str("\nNext\n");
    let due = &history.due;
    let mut steps: Vec<String> = Vec::new();
    if !history.chain.whole() {
        steps.push(
            "See to the chain first, as told above; keep a copy of the folder records.".to_owned(),
        );
    }
    if due.past() {
        steps.push("Take new readings and register again.".to_owned());
    } else if let Some(day) = &due.day {
        let left = due.days_left.unwrap_or(0);
        steps.push(format!(
            "Register again, from new readings, by {day} ({} from today, {}).",
            counted(usize::try_from(left).unwrap_or(0), "day"),
            history.today
        ));
    } else if history.due.not_predicted.is_none() {
        steps.push(
            "Say in cell.toml after how many days it is to be registered again: [accept] due_days = 180.".to_owned(),
        );
    }
    if due.tip_mm.is_none() && real(history).next().is_some() {
        steps.push(
            "With [accept] tip_mm in cell.toml the drift of the tip is held against that tolerance.".to_owned(),
        );
    }
    if !history.left_behind.is_empty() {
        let text = format!(
            "A run that was cut off left {} behind; such files are never read, and can be deleted.",
            history.left_behind.join(", ")
        );
        steps.push(text);
    }
    for step in steps {
        out.push_str(&wrap("  - ", 4, &step));
    }
}

/// For a spreadsheet: one row for each record and parameter.
pub fn csv(history: &History) -> String {
    let mut out = String::from(
        "record,file,day,verdict,what,tied_to,parameter,unit,value,u,counts,why_not,change_per_month,change_u95,drifts\n",
    );
    for record in &history.records {
        let what = match (&record.problem, &record.moved) {
            (Some(_), _) => "unreadable".to_owned(),
            (_, Some(parts)) => format!("move of {}", parts.join(" ")),
            _ => "full".to_owned(),
        };
        let head = [
            record.record.to_string(),
            record.file.clone(),
            record.day.clone().unwrap_or_default(),
            record.verdict.clone().unwrap_or_default(),
            what,
            record.tied_to.clone().unwrap_or_default(),
        ];
        let mut any = false;
        for series in &history.parameters {
            let Some(v) = series.values.iter().find(|v| v.record == record.record) else {
                continue;
            };
            any = true;
            // The line stands beside the last value that takes part in it.
            let last = series
                .drift
                .as_ref()
                .filter(|d| d.records.last() == Some(&record.record));
            let cells = [
                series.name.clone(),
                series.unit.clone(),
                v.value.to_string(),
                v.u.to_string(),
                if v.counts { "yes" } else { "no" }.to_owned(),
                v.why_not.clone().unwrap_or_default(),
                last.map_or(String::new(), |d| d.per_month.to_string()),
                last.map_or(String::new(), |d| d.u95.to_string()),
                last.map_or("", |d| if d.real { "yes" } else { "no" })
                    .to_owned(),
            ];
            row(&mut out, head.iter().chain(&cells));
        }
        if !any {
            let blank = vec![String::new(); 9];
            row(&mut out, head.iter().chain(&blank));
        }
    }
    out
}

fn row<'a>(out: &mut String, cells: impl Iterator<Item = &'a String>) {
    let cells: Vec<String> = cells
        .map(|c| match c.contains([',', '"', '\n', '\r']) {
            true => format!("\"{}\"", c.replace('"', "\"\"")),
            false => c.clone(),
        })
        .collect();
    let _ = writeln!(out, "{}", cells.join(","));
}
