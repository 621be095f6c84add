//! A recheck as text.

use std::fmt::Write;

use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::assess::SUSPECT;
use crate::report::moves::recheck_document::DecidingDocument;
use crate::report::moves::recheck_document::ExplanationDocument;
use crate::report::moves::recheck_document::RecheckDocument;
use crate::report::moves::recheck_document::SeenDocument;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::probability;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;

/// So many explanations are told.
const TOLD: usize = 5;

/// For people: the answer, what was seen, what moved, what to do.
pub fn recheck(document: &RecheckDocument, written: Option<&str>) -> String {
    let mut out = String::new();
    verdict(&mut out, document);
    readings(&mut out, document);
    if document.holds {
        notices(&mut out, document);
    } else {
        explanations(&mut out, document);
    }
    if !document.next.is_empty() {
        out.push_str("\nNext\n");
        for step in &document.next {
            out.push_str(&wrap("  - ", 4, step));
        }
    }
    if let Some(path) = written {
        out.push_str(&wrap("\n", 0, &format!("As found, kept in {path}.")));
    }
    if !document.holds {
        out.push('\n');
        out.push_str(CAUTION);
    }
    out
}

fn amount(row: &SeenDocument, value: f64) -> String {
    let decimals = decimals_for(row.expected).clamp(1, 3);
    match row.unit.as_str() {
        "mm" => format!("{} mm", fixed(value.abs(), decimals)),
        _ => format!("{}°", fixed(value.abs(), decimals.max(2))),
    }
}

fn verdict(out: &mut String, document: &RecheckDocument) {
    let Some(worst) = document.readings.get(document.worst) else {
        return;
    };
    let expected = amount(worst, SUSPECT * worst.expected);
    let worst = amount(worst, worst.off);
    let slip = document.decided
        && document
            .explanations
            .first()
            .is_some_and(|e| e.what == "reading");
    let head = match document.holds {
        true => format!("STILL HOLDS: worst {worst} where up to {expected} was to be expected"),
        false if slip => format!(
            "ONE READING DOES NOT FIT: worst {worst} where up to {expected} was to be expected"
        ),
        false => {
            format!("NO LONGER HOLDS: worst {worst} where up to {expected} was to be expected")
        }
    };
    out.push_str(&wrap("", 0, &format!("{head}: {}", document.cell)));
    let places: std::collections::BTreeSet<(&str, usize)> = document
        .readings
        .iter()
        .map(|r| (r.file.as_str(), r.line))
        .collect();
    let test = format!(
        "{} ({}) against {}; together: chance of such misfit {}.",
        counted(places.len(), "reading"),
        counted(document.dof, "residual"),
        document.record,
        probability(document.p_value)
    );
    out.push_str(&wrap("  ", 2, &test));
    let small = !document.holds
        && document.p_value >= GLOBAL_LIMIT
        && !document.readings.iter().any(|r| r.fails);
    if small {
        let text = "No single reading is far off, but all together lean one way, as a small movement would have it.";
        out.push_str(&wrap("  ", 2, text));
    }
    if !document.as_before.is_empty() {
        let what = match document.again {
            true => "and count, as --again says",
            false => "and are left out: held against themselves they would say nothing",
        };
        let text = format!(
            "{} read the very same as rows of an earlier record, {what}.",
            counted(document.as_before.len(), "row")
        );
        out.push_str(&wrap("  ", 2, &text));
    }
}

fn readings(out: &mut String, document: &RecheckDocument) {
    out.push_str("\nReadings: expected less read             off    within (99.9 %)\n");
    for row in &document.readings {
        let component = row
            .component
            .as_deref()
            .map_or(String::new(), |c| format!(" {c}"));
        let place = format!("{}, line {}{component}", row.file, row.line);
        let sign = if row.off < 0.0 { "-" } else { "+" };
        let _ = writeln!(
            out,
            "  {place:<32} {:>9}  {:>9}{}",
            format!("{sign}{}", amount(row, row.off)),
            format!("±{}", amount(row, SUSPECT * row.expected)),
            if row.fails { "   does not fit" } else { "" }
        );
    }
}

/// What a holding recheck is worth: what it would have noticed.
fn notices(out: &mut String, document: &RecheckDocument) {
    out.push_str("\nWhat these readings would have noticed (four times out of five)\n");
    for notice in document.notices.iter().filter(|n| n.looked_at) {
        let ways: Vec<String> = notice
            .ways
            .iter()
            .map(|way| {
                let name = way.parameters.join(" with ");
                match way.least {
                    Some(least) if way.unit == "mm" => format!("{name} by {} mm", fixed(least, 1)),
                    Some(least) => format!("{name} by {}°", fixed(least, 2)),
                    None => format!("{name}: not seen"),
                }
            })
            .collect();
        out.push_str(&wrap(
            &format!("  {:<10} ", notice.part),
            13,
            &ways.join(", "),
        ));
    }
    let unseen: Vec<&str> = document
        .notices
        .iter()
        .filter(|n| !n.looked_at)
        .map(|n| n.part.as_str())
        .collect();
    if !unseen.is_empty() {
        out.push_str(&wrap(
            "  ",
            2,
            &format!("They do not look at: {}.", unseen.join(", ")),
        ));
    }
}

fn explanations(out: &mut String, document: &RecheckDocument) {
    let Some(first) = document.explanations.first() else {
        return;
    };
    let head = match (first.fits, document.decided) {
        (true, true) => "What moved",
        (true, false) => "What moved: these cannot be told apart yet",
        (false, _) => "What moved: nothing that was tried explains the readings; nearest",
    };
    let _ = writeln!(out, "\n{head}");
    // The first and what cannot be told apart from it; where nothing fits, the nearest ones.
    let fitting = document.explanations.iter().filter(|e| e.fits).count();
    let shown = |k: usize, e: &ExplanationDocument| match fitting {
        0 => k < 3,
        _ => k == 0 || e.rival,
    };
    let list = document.explanations.iter().enumerate();
    let list: Vec<_> = list.filter(|(k, e)| shown(*k, e)).take(TOLD).collect();
    let told = list.len();
    for (k, e) in list {
        let mark = format!("  {}. ", k + 1);
        out.push_str(&wrap(&mark, 5, &format!("{}.", capital(&e.sentence))));
        out.push_str(&wrap("     ", 5, &quality(e, first)));
    }
    let rest = document.explanations.len() - told;
    if fitting > 0 && rest > 0 {
        let text = format!(
            "{} that were tried explain the readings less well, or not at all.",
            counted_more(rest)
        );
        out.push_str(&wrap("  ", 2, &text));
    }
    for d in &document.deciding {
        out.push_str(&wrap("  ", 2, &deciding(d)));
    }
    out.push_str(&wrap(
        "  ",
        2,
        &format!("Ranked by {}.", document.criterion),
    ));
}

fn counted_more(n: usize) -> String {
    match n {
        1 => "1 more".to_owned(),
        n => format!("{n} more"),
    }
}

fn quality(e: &ExplanationDocument, first: &ExplanationDocument) -> String {
    let fit = match e.p_value {
        Some(_) if e.chi2 > 9999.0 => format!("misfit left more than 9999 on {}", e.dof),
        Some(p) => format!(
            "misfit left {} on {} (chance {})",
            fixed(e.chi2, 1),
            e.dof,
            probability(p)
        ),
        None => "as many readings as ways to move: it would explain anything".to_owned(),
    };
    let behind = e.criterion - first.criterion;
    let odds = match behind {
        b if b < 0.05 => String::new(),
        b if b < 1.0 => "; about as likely as the first".to_owned(),
        b if b > 2.0 * 999_f64.ln() => "; odds against the first: 1 to more than 999".to_owned(),
        b => format!(
            "; odds against the first: 1 to {}",
            fixed((b / 2.0).exp(), 0)
        ),
    };
    let misfits = if e.fits {
        ""
    } else {
        "; does not explain the readings"
    };
    format!("{}{odds}{misfits}.", capital(&fit))
}

fn deciding(d: &DecidingDocument) -> String {
    match (&d.reading, d.decides) {
        (Some(reading), true) => {
            format!(
                "This reading would decide between 1 and {}: {reading}.",
                d.against + 1
            )
        }
        (Some(reading), false) => format!(
            "No single reading decides between 1 and {}; this one helps most: {reading}.",
            d.against + 1
        ),
        (None, _) => format!(
            "No reading tells 1 and {} apart: they come to the same wherever the tip is brought; look at \
             the bench.",
            d.against + 1
        ),
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().collect::<String>() + chars.as_str(),
        None => String::new(),
    }
}
