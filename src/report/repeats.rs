//! What repeated readings say.

use std::fmt::Write;

use crate::registration::AxisRepeatsDocument;
use crate::registration::Document;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::words::wrap;

/// So many series are told, the longest first.
const SERIES: usize = 3;

/// The section, where anything was repeated that says more than that all is as stated.
pub(super) fn repeats(out: &mut String, document: &Document) {
    let lines = repeat_lines(document);
    if !lines.is_empty() {
        out.push_str("\nRepeated readings\n");
    }
    for line in lines {
        out.push_str(&wrap("  ", 4, &line));
    }
}

/// Its sentences.
pub fn repeat_lines(document: &Document) -> Vec<String> {
    let mut lines = Vec::new();
    let Some(repeats) = &document.repeats else {
        return lines;
    };
    // Where all is off, figures of repeats would be nonsense too.
    if matches!(
        document.search.as_deref(),
        Some("whole" | "too many" | "held")
    ) && repeats.scatter.iter().all(|s| s.verdict != "more")
    {
        return lines;
    }
    if repeats.tips.is_empty()
        && repeats.axes.is_empty()
        && repeats.scatter.iter().all(|s| s.verdict == "as stated")
    {
        return lines;
    }
    for tip in &repeats.tips {
        let of: Vec<String> = tip.readings.iter().map(|p| p.line.to_string()).collect();
        let text = format!(
            "Tip, {} lines {}: {} mm off the target on the mean (AP{}), repeats within {} mm (RP, ISO \
             9283; {} touches, the standard asks for 30).",
            tip.readings[0].file,
            of.join(", "),
            fixed(tip.accuracy_mm, 2),
            match tip.took_part {
                true => "; small by itself, since they shaped the result",
                false => "",
            },
            fixed(tip.repeatability_mm, 2),
            tip.readings.len()
        );
        lines.push(text);
    }
    axes(&mut lines, &repeats.axes);
    for s in &repeats.scatter {
        let mut text = String::new();
        match s.verdict.as_str() {
            "more" => {
                let _ = write!(
                    text,
                    "The repeats of {} scatter {} times as much as stated: the stated u is too small; \
                     they say {} {}.",
                    s.file,
                    fixed(s.ratio, 1),
                    uncertainty(s.seen),
                    s.unit
                );
            }
            "less" => {
                let _ = write!(
                    text,
                    "The repeats of {} scatter only {} times as much as stated ({} {}): the stated u is \
                     more than their scatter, which is right if it counts what all of them share.",
                    s.file,
                    fixed(s.ratio, 2),
                    uncertainty(s.seen),
                    s.unit
                );
            }
            _ => continue,
        }
        lines.push(text);
    }
    lines
}

/// A line for each of the longest series, and once what the standard asks for.
fn axes(lines: &mut Vec<String>, all: &[AxisRepeatsDocument]) {
    let mut order: Vec<&AxisRepeatsDocument> = all.iter().collect();
    order.sort_by_key(|a| std::cmp::Reverse((a.positions, a.least_runs)));
    for axis in order.iter().take(SERIES) {
        lines.push(axis_line(axis));
    }
    if order.len() > SERIES {
        let more = order.len() - SERIES;
        lines.push(format!(
            "and {more} shorter series (--json has all of them)"
        ));
    }
    if !all.is_empty() {
        let text = match all.iter().any(|a| a.repeatability.is_some()) {
            true => "B, E, R and A as ISO 230-2 has them; it asks for 5 runs each way.",
            false => {
                "B and E as ISO 230-2 has them; for its repeatability and accuracy each position needs two \
                 runs each way, and it asks for 5."
            }
        };
        lines.push(text.to_owned());
    }
}

fn axis_line(axis: &AxisRepeatsDocument) -> String {
    let d = 2;
    let name = match axis.axis.as_str() {
        "track" => "Track",
        _ => "Turntable",
    };
    let unit = &axis.unit;
    let places = match axis.positions {
        1 => "1 position".to_owned(),
        n => format!("{n} positions"),
    };
    let mut text = format!(
        "{name}, {} line {} on, {places}: reversal {} {unit} at most (B), {} on the mean; systematic \
         deviation {} (E)",
        axis.first.file,
        axis.first.line,
        fixed(axis.reversal, d),
        fixed(axis.mean_reversal.abs(), d),
        fixed(axis.systematic[2], d),
    );
    if let (Some(r), Some(a)) = (&axis.repeatability, &axis.accuracy) {
        let _ = write!(
            text,
            "; repeatability {} up, {} down, {} both ways (R); accuracy {} up, {} down, {} both ways (A); {} \
             runs each way",
            fixed(r[0], d),
            fixed(r[1], d),
            fixed(r[2], d),
            fixed(a[0], d),
            fixed(a[1], d),
            fixed(a[2], d),
            axis.least_runs
        );
    }
    text.push('.');
    text
}
