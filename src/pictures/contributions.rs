//! How well each residual is checked by the others, and the smallest error that would be noticed.

use std::collections::BTreeSet;

use crate::bench::Bench;
use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::chart::bars::Bars;
use crate::drawing::chart::bars::Group;
use crate::drawing::chart::bars::Row;
use crate::drawing::chart::bars::bars;
use crate::pictures::Picture;
use crate::pictures::aside;
use crate::pictures::marked::Marked;
use crate::pictures::residuals::place;
use crate::pictures::residuals::value;
use crate::registration::Document;
use crate::registration::ReadingDocument;
use crate::report::counted;

/// Most rows that are drawn for being checked least.
pub(super) const MOST: usize = 40;
/// Most rows of a file that are drawn besides since they stand out.
const MOST_OUT: usize = 40;

/// Residuals with their redundancy; None without any.
pub fn contributions(document: &Document, bench: &Bench) -> Result<Option<Picture>, Fault> {
    let Some((chart, sentence)) = chart(document, bench) else {
        return Ok(None);
    };
    Picture::new(
        "contributions",
        "How well each reading is checked",
        &sentence,
        |width| bars(&chart, width),
    )
    .map(Some)
}

/// The chart and its sentence.
pub(super) fn chart(document: &Document, bench: &Bench) -> Option<(Bars, String)> {
    let mut files: Vec<(&str, Vec<&ReadingDocument>)> = Vec::new();
    for row in &document.readings {
        match files.iter_mut().find(|(file, _)| *file == row.file) {
            Some((_, rows)) => rows.push(row),
            None => files.push((&row.file, vec![row])),
        }
    }
    let all = document.readings.len();
    if all == 0 {
        return None;
    }
    let marked = Marked::of(document);
    let quotas = quotas(&files.iter().map(|f| f.1.len()).collect::<Vec<_>>(), MOST);
    let (mut shown, mut out) = (0, 0);
    let mut groups = Vec::new();
    for ((file, rows), quota) in files.iter_mut().zip(quotas) {
        let count = rows.len();
        rows.sort_by(|a, b| a.redundancy.total_cmp(&b.redundancy));
        // What stands out is drawn however well it is checked: it is what one looks for.
        let mut besides: Vec<&ReadingDocument> = rows.split_off(quota.min(count));
        let rest = besides.len();
        besides.retain(|r| marked.stands_out(r));
        out += besides.len().saturating_sub(MOST_OUT);
        let size = |r: &ReadingDocument| r.standardized.unwrap_or(0.0).abs();
        besides.sort_by(|a, b| size(b).total_cmp(&size(a)));
        besides.truncate(MOST_OUT);
        let beside = besides.len();
        if quota == 0 && beside == 0 {
            continue;
        }
        rows.extend(besides);
        rows.sort_by(|a, b| a.redundancy.total_cmp(&b.redundancy));
        shown += rows.len();
        let residuals = counted(count, "residual");
        let heading = match (rest, beside) {
            (0, _) => format!("{file}: {residuals}"),
            _ if quota == 0 => format!("{file}: what stands out of {residuals}"),
            (_, 0) => format!("{file}: the {quota} least checked of {residuals}"),
            (_, k) => format!(
                "{file}: the {quota} least checked of {residuals}, and {k} more that {} out",
                if k == 1 { "stands" } else { "stand" }
            ),
        };
        groups.push(Group {
            heading,
            unit: rows[0].unit.clone(),
            rows: rows.iter().map(|r| row(r, marked.stands_out(r))).collect(),
        });
    }
    let mut sentence = answer(document, shown);
    if let Some(text) = marked.none_marked(&document.readings) {
        sentence = format!("{text} {sentence}");
    }
    let files: BTreeSet<&str> = files.iter().map(|f| f.0).collect();
    if let Some(text) = aside::told(document, bench, |_| true, &files, &[]) {
        sentence = format!("{sentence} {text}");
    }
    let mut notes = vec![
        "Redundancy: 0, nothing checks it and an error of it goes straight into the result; 1, all the others \
         check it. Smallest noticeable error: a smaller slip stays unnoticed more than one time in five."
            .to_owned(),
    ];
    if shown < all {
        notes.push(format!(
            "{shown} of {all} residuals are drawn, the least checked of each file and what stands out; the \
             rest is in the table."
        ));
    }
    if out > 0 {
        notes.push(format!(
            "{} more that {} out are in the table only.",
            out,
            if out == 1 { "stands" } else { "stand" }
        ));
    }
    let chart = Bars {
        title: "How well each reading is checked".to_owned(),
        description: sentence.clone(),
        share_label: "redundancy, 0 to 1".to_owned(),
        amount_label: "smallest noticeable error".to_owned(),
        groups,
        notes,
    };
    Some((chart, sentence))
}

/// How many rows of each file are drawn: the same number of each, as far as they have so many.
pub(super) fn quotas(counts: &[usize], most: usize) -> Vec<usize> {
    let mut quotas = vec![0; counts.len()];
    let mut left = most;
    while left > 0 {
        let mut any = false;
        for (quota, count) in quotas.iter_mut().zip(counts) {
            if *quota < *count && left > 0 {
                *quota += 1;
                left -= 1;
                any = true;
            }
        }
        if !any {
            break;
        }
    }
    quotas
}

fn row(reading: &ReadingDocument, suspect: bool) -> Row {
    let name = match &reading.component {
        Some(component) => format!("line {}, {component}", reading.line),
        None => format!("line {}", reading.line),
    };
    Row {
        name: match suspect {
            true => format!("{name} (suspect)"),
            false => name,
        },
        share: reading.redundancy,
        share_words: axis::fixed(reading.redundancy, 2),
        amount: reading.detectable,
        amount_words: match reading.detectable {
            Some(d) => format!("{} {}", value(d, reading.u), reading.unit),
            None => "nothing checks it".to_owned(),
        },
    }
}

fn answer(document: &Document, shown: usize) -> String {
    let readings = &document.readings;
    let all = readings.len();
    let unchecked: Vec<&ReadingDocument> =
        readings.iter().filter(|r| r.detectable.is_none()).collect();
    let least = readings
        .iter()
        .filter(|r| r.detectable.is_some())
        .min_by(|a, b| a.redundancy.total_cmp(&b.redundancy));
    let mut text = match unchecked.len() {
        0 => "Every reading is checked by others.".to_owned(),
        n if n == all => {
            "Nothing checks any reading: there are only as many as unknowns.".to_owned()
        }
        1 => format!(
            "One of {} is checked by nothing: {}; an error of it would go straight into the result.",
            counted(all, "residual"),
            place(unchecked[0])
        ),
        n => {
            let named: Vec<String> = unchecked.iter().take(3).map(|r| place(r)).collect();
            let more = if n > 3 {
                format!(" and {} more", n - 3)
            } else {
                String::new()
            };
            format!(
                "{n} of {all} residuals are checked by nothing: {}{more}; errors of them would go straight into the result.",
                named.join(", ")
            )
        }
    };
    if let Some((row, d)) = least.and_then(|r| Some((r, r.detectable?))) {
        text.push_str(&format!(
            " The least checked is {} (redundancy {}): an error below {} {} may stay unnoticed \
             (more than one time in five).",
            place(row),
            axis::fixed(row.redundancy, 2),
            value(d, row.u),
            row.unit
        ));
    }
    if shown < all {
        text.push_str(&format!(
            " {shown} of {all} residuals are drawn, the least checked of each file and what stands out."
        ));
    }
    text
}
