//! What stands behind a result: the readings kept to check with, and what one slip could still do.

use std::collections::BTreeSet;
use std::fmt::Write;

use crate::fit::assess::SUSPECT;
use crate::registration::Document;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::probability;
use crate::report::number::uncertainty;
use crate::report::words::counted;
use crate::report::words::wrap;

/// Most check rows that are listed one by one.
const CHECKS: usize = 12;

/// Whether anything but the readings themselves says that the result is right.
pub(super) fn verified(document: &Document) -> String {
    let Some(checks) = &document.checks else {
        return "Not verified independently: the readings only agree or disagree with each other. \
                Keep a few with use = check."
            .to_owned();
    };
    let rows: BTreeSet<(&str, usize)> = checks
        .rows
        .iter()
        .map(|r| (r.file.as_str(), r.line))
        .collect();
    let tip = checks.tip.as_ref().map_or_else(
        || "; none of them shows the tip".to_owned(),
        |t| {
            format!(
                "; the tip was off by {} mm at most, {} mm (rms) over {}",
                fixed(t.largest_mm, 1),
                fixed(t.rms_mm, 1),
                counted(t.touches, "touch").replace("touchs", "touches")
            )
        },
    );
    let sound = document.search.is_none() || !document.set_aside.is_empty();
    if !sound && document.suspects.is_empty() {
        return "The readings kept to check with confirm nothing while the others contradict each other."
            .to_owned();
    }
    if checks.hold && !sound {
        return format!(
            "Without the suspects the {} kept to check with agree{tip}; the values below are not those.",
            counted(rows.len(), "reading")
        );
    }
    match (checks.hold, rows.len()) {
        (true, 1) => {
            format!("Verified independently by 1 reading kept as a check: it agrees{tip}.")
        }
        (true, n) => {
            format!("Verified independently: {n} readings kept to check with agree{tip}.")
        }
        (false, n) => {
            let worst = checks
                .rows
                .iter()
                .max_by(|a, b| a.ratio.abs().total_cmp(&b.ratio.abs()));
            let which = worst.map_or(String::new(), |r| {
                format!(
                    " Worst: {} line {}, off by {} {}.",
                    r.file,
                    r.line,
                    fixed(r.observed, decimals_for(r.predicted)),
                    r.unit
                )
            });
            format!(
                "NOT CONFIRMED: {} kept to check with, and not all agree with the result.{which}",
                counted(n, "reading")
            )
        }
    }
}

/// The readings kept to check with.
pub(super) fn checks(out: &mut String, document: &Document) {
    let Some(checks) = &document.checks else {
        return;
    };
    let _ = writeln!(
        out,
        "\nChecked with (kept out of the solution): off by, expected (one u), off in units of that"
    );
    let mut rows: Vec<_> = checks.rows.iter().collect();
    rows.sort_by(|a, b| b.ratio.abs().total_cmp(&a.ratio.abs()));
    for r in rows.iter().take(CHECKS) {
        let part = r
            .component
            .as_deref()
            .map_or(String::new(), |c| format!(", {c}"));
        let d = decimals_for(r.predicted);
        let _ = writeln!(
            out,
            "  {:<34} {:>9} {:<3}  u {:<7} {:>6}{}",
            format!("{} line {}{part}", r.file, r.line),
            fixed(r.observed, d),
            r.unit,
            uncertainty(r.predicted),
            fixed(r.ratio, 1),
            if r.ratio.abs() > SUSPECT {
                "  does NOT fit"
            } else {
                ""
            }
        );
        if let Some(cause) = &r.cause {
            out.push_str(&wrap("      ", 6, &format!("{}.", cause.sentence)));
        }
    }
    if rows.len() > CHECKS {
        let _ = writeln!(out, "  and {} more that fit better", rows.len() - CHECKS);
    }
    let _ = writeln!(
        out,
        "  together: probability {} ({})",
        probability(checks.p_value),
        counted(checks.dof, "value")
    );
}

/// What one slip could do that nobody notices.
pub(super) fn reliability(document: &Document, accept_mm: Option<f64>) -> Option<String> {
    let slip = document.reliability.as_ref()?;
    let part = slip
        .component
        .as_deref()
        .map_or(String::new(), |c| format!(", {c}"));
    let over = accept_mm.is_some_and(|limit| slip.tip_mm > limit);
    Some(format!(
        "One slip that nobody notices could move the tip by up to {} mm{} (at {}; {} line {}{part} off \
         by {} {}).{}",
        fixed(slip.tip_mm, decimals_for(slip.tip_mm).min(2)),
        if over {
            ", MORE than [accept] allows"
        } else {
            ""
        },
        slip.point,
        slip.file,
        slip.line,
        uncertainty(slip.error),
        slip.unit,
        if over {
            " Take that reading a second time, another way."
        } else {
            ""
        }
    ))
}
