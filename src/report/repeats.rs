//! What repeated readings say.

use std::fmt::Write;

use crate::registration::AxisRepeatsDocument;
use crate::registration::Document;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::words::wrap;

/// The section, where anything was repeated that says more than that all is as stated.
pub(super) fn repeats(out: &mut String, document: &Document) {
    let Some(repeats) = &document.repeats else {
        return;
    };
    if repeats.tips.is_empty()
        && repeats.axes.is_empty()
        && repeats.scatter.iter().all(|s| s.verdict == "as stated")
    {
        return;
    }
    out.push_str("\nRepeated readings\n");
    for tip in &repeats.tips {
        let lines: Vec<String> = tip.readings.iter().map(|p| p.line.to_string()).collect();
        let text = format!(
            "Tip, {} lines {}: {} mm off the target on the mean (AP{}), repeats within {} mm (RP, ISO \
             9283; {} touches, the standard asks for 30).",
            tip.readings[0].file,
            lines.join(", "),
            fixed(tip.accuracy_mm, 2),
            match tip.took_part {
                true => "; small by itself, since they shaped the result",
                false => "",
            },
            fixed(tip.repeatability_mm, 2),
            tip.readings.len()
        );
        out.push_str(&wrap("  ", 4, &text));
    }
    for axis in &repeats.axes {
        out.push_str(&wrap("  ", 4, &axis_line(axis)));
    }
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
        out.push_str(&wrap("  ", 4, &text));
    }
}

fn axis_line(axis: &AxisRepeatsDocument) -> String {
    let d = 2;
    let name = match axis.axis.as_str() {
        "track" => "Track",
        _ => "Turntable",
    };
    let unit = &axis.unit;
    let mut text = format!(
        "{name} (from {} line {} on), {} positions from both sides: reversal {} {unit} at most (B), {} on the mean; \
         systematic deviation {} {unit} (E, both ways)",
        axis.first.file,
        axis.first.line,
        axis.positions,
        fixed(axis.reversal, d),
        fixed(axis.mean_reversal.abs(), d),
        fixed(axis.systematic[2], d),
    );
    match (&axis.repeatability, &axis.accuracy) {
        (Some(r), Some(a)) => {
            let _ = write!(
                text,
                "; repeatability {} up, {} down, {} {unit} both ways (R); accuracy {} up, {} down, {} \
                 {unit} both ways (A)",
                fixed(r[0], d),
                fixed(r[1], d),
                fixed(r[2], d),
                fixed(a[0], d),
                fixed(a[1], d),
                fixed(a[2], d)
            );
        }
        _ => {
            text.push_str("; for repeatability and accuracy every position needs two runs each way")
        }
    }
    let _ = write!(
        text,
        " (ISO 230-2; {} each way, the standard asks for 5).",
        match axis.least_runs {
            1 => "1 run".to_owned(),
            n => format!("{n} runs"),
        }
    );
    text
}
