//! The top of the report: the verdict, what to key in, how sure, for which record, with which cautions.

use std::fmt::Write;

use crate::drawing::svg::escaped;
use crate::paper::Paper;
use crate::parameters::Parameter;
use crate::registration::ParameterDocument;
use crate::report;
use crate::report::CAUTION;
use crate::report::counted;
use crate::report::moves::moved::kept_words;
use crate::report::moves::moved::ranges;
use crate::report::moves::moved::solved_anew;
use crate::report::number::decimals_for;
use crate::report::number::fixed;

pub fn verdict(out: &mut String, paper: &Paper<'_>) {
    let document = paper.document;
    let word = report::verdict_word(document);
    let _ = writeln!(
        out,
        "<div class=\"verdict {}\">\n<p><strong>{word}</strong>",
        escaped(&document.verdict)
    );
    let sentences = match document.verdict.as_str() {
        "undetermined" => vec![
            "There is no registration: the readings do not settle all that is to be found."
                .to_owned(),
        ],
        _ => report::sentences(paper.bench, document),
    };
    let mut sentences = sentences.iter();
    let _ = writeln!(out, "{}</p>", escaped(sentences.next().map_or("", |s| s)));
    for sentence in sentences {
        let _ = writeln!(out, "<p>{}</p>", escaped(sentence));
    }
    out.push_str("</div>\n");
    origin(out, paper);
}

fn origin(out: &mut String, paper: &Paper<'_>) {
    let origin = paper.origin;
    if let Some(by) = &origin.superseded {
        let _ = writeln!(
            out,
            "<p class=\"caution\"><strong>No longer in force: {}.</strong></p>",
            escaped(by)
        );
    }
    for look in &origin.looks {
        let _ = writeln!(out, "<p class=\"caution\">{}</p>", escaped(look));
    }
    out.push_str("<dl class=\"origin\">\n");
    let mut row = |term: &str, words: &str| {
        let _ = writeln!(out, "<dt>{term}</dt><dd>{}</dd>", escaped(words));
    };
    match &origin.record {
        Some(record) => row("Valid for", &format!("{record} of {}", origin.time)),
        None => row(
            "Valid for",
            &format!(
                "the readings as they were on {}; not kept as a record",
                origin.time
            ),
        ),
    }
    if let Some(day) = &origin.taken {
        row("Readings of", day);
    }
    if let Some(note) = &origin.note {
        row("Note", note);
    }
    if let Some(before) = &origin.predecessor {
        row("Follows", before);
    }
    row("Solved by", &origin.program);
    let _ = writeln!(
        out,
        "<dt>Full values</dt><dd><a href=\"{0}\">{0}</a>, as JSON beside this file</dd>\n</dl>",
        escaped(paper.json)
    );
}

/// Whether the values found may be keyed in: nothing contradicts.
pub fn sound(paper: &Paper<'_>) -> bool {
    let document = paper.document;
    let suspect = document.readings.iter().any(|r| r.suspect)
        || document.parameters.iter().any(|p| p.suspect);
    let unconfirmed = document.checks.as_ref().is_some_and(|c| !c.hold);
    !suspect
        && !unconfirmed
        && document
            .p_value
            .is_none_or(|p| p >= crate::fit::assess::GLOBAL_LIMIT)
}

pub fn key_in(out: &mut String, paper: &Paper<'_>) {
    let parameters = &paper.document.parameters;
    if parameters.is_empty() {
        return;
    }
    let (heading, words) = match (&paper.origin.superseded, sound(paper)) {
        (Some(by), _) => (
            format!("Do NOT key in: {by}"),
            "These values were found then. They are kept here as a record of that day.",
        ),
        (None, true) => (
            "What to key in".to_owned(),
            "Values as found, where a controller takes them; else give tip and reach the readings as they are. ± is \
             one standard uncertainty; twice as much holds about 95 of 100.",
        ),
        (None, false) => (
            "What was found: do not key it in yet".to_owned(),
            "Readings contradict each other or the check: these values, and how sure they seem, are not to be \
             relied on.",
        ),
    };
    let before = match paper.document.moved {
        Some(_) => "before",
        None => "drawn",
    };
    let _ = writeln!(
        out,
        "<h2 id=\"key-in\">{}</h2>\n<p>{words}</p>\n<div class=\"scroll\" tabindex=\"0\" role=\"region\" \
         aria-label=\"Values found\">\n<table>\n<caption>Values found</caption>\n<thead>\n<tr><th \
         scope=\"col\">parameter</th><th scope=\"col\" class=\"n\">{before}</th><th scope=\"col\" \
         class=\"n\">found ± u</th></tr>\n</thead>\n<tbody>",
        escaped(&heading)
    );
    for p in parameters {
        parameter(out, paper, p);
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}

fn parameter(out: &mut String, paper: &Paper<'_>, p: &ParameterDocument) {
    let (Some(value), Some(u)) = (p.value, p.u) else {
        return;
    };
    let d = decimals_for(u);
    let words = Parameter::named(&paper.bench.cell, &p.name).map_or("", |q| q.spec().words);
    let mark = match (p.suspect, p.weak) {
        (true, _) => " <span class=\"off\">does NOT fit the drawing</span>",
        (_, true) => " <span class=\"off\">WEAK: the readings hardly hold it</span>",
        _ => "",
    };
    let change = paper.document.moved.as_ref().and_then(|m| {
        let change = m.changes.iter().find(|c| c.name == p.name)?;
        let anew = m.freed.contains(&p.name);
        Some((
            change.before,
            if anew {
                "solved anew"
            } else {
                kept_words(change)
            },
        ))
    });
    let (before, held) = change.map_or((p.nominal, String::new()), |(before, words)| {
        (before, format!("; <strong>{}</strong>", escaped(words)))
    });
    let _ = writeln!(
        out,
        "<tr><th scope=\"row\">{} <br/><small>{words}{held}{mark}</small></th><td class=\"n\">{}</td><td \
         class=\"n\">{} ± {} {}</td></tr>",
        escaped(&p.name),
        fixed(before, d.min(4)),
        fixed(value, d),
        fixed(u, d),
        escaped(&p.unit.replace('/', " per "))
    );
}

pub fn cautions(out: &mut String) {
    let _ = writeln!(
        out,
        "<div class=\"caution\">\n<h2>Before anything moves</h2>\n<p>{}</p>\n</div>",
        escaped(&capital(CAUTION.trim().trim_start_matches("Caution: ")))
    );
}

pub fn not_fitting(out: &mut String, paper: &Paper<'_>) {
    let all = report::not_fitting(paper.document);
    let advice = &paper.document.advice;
    if !all.of_all.is_empty() || !all.each.is_empty() {
        out.push_str("<h2 id=\"not-fitting\">What does not fit</h2>\n");
        let aside = match paper.document.set_aside.len() {
            0 => "Nothing was changed or left out.".to_owned(),
            n => format!(
                "{} set aside, as asked for: the result rests on the others. Nothing in the files was changed.",
                counted(n, "reading")
            ),
        };
        let _ = writeln!(out, "<p>{aside}</p>");
        for sentence in &all.of_all {
            let _ = writeln!(out, "<p>{}</p>", escaped(sentence));
        }
        if !all.each.is_empty() {
            out.push_str("<ol>\n");
            for sentence in &all.each {
                let _ = writeln!(out, "<li>{}</li>", escaped(sentence));
            }
            out.push_str("</ol>\n");
        }
        if let Some(rest) = &all.rest {
            let _ = writeln!(out, "<p>{}</p>", escaped(rest));
        }
    }
    if !advice.is_empty() {
        out.push_str("<h2 id=\"open\">What the readings do not tell</h2>\n<ul>\n");
        for a in advice {
            let _ = writeln!(
                out,
                "<li>{} {}</li>",
                escaped(&a.sentence),
                escaped(&capital(&report::what_would(a)))
            );
        }
        out.push_str("</ul>\n");
    }
}

/// After a move: what moved, what was solved anew, which readings no longer count.
pub fn what_moved(out: &mut String, paper: &Paper<'_>) {
    let Some(told) = &paper.document.moved else {
        return;
    };
    out.push_str("<h2 id=\"what-moved\">What moved</h2>\n<ul>\n");
    for sentence in &told.sentences {
        let _ = writeln!(out, "<li>{}.</li>", escaped(&capital(sentence)));
    }
    let _ = writeln!(
        out,
        "</ul>\n<p>{}</p>",
        escaped(&solved_anew(paper.document, told))
    );
    if told.no_longer_count.is_empty() {
        return;
    }
    out.push_str("<p>Readings of before that no longer count:</p>\n<ul>\n");
    for unused in &told.no_longer_count {
        let lines = match unused.lines.len() == unused.of {
            true => format!("all {}", counted(unused.of, "row")),
            false => format!(
                "lines {} of {}",
                ranges(&unused.lines),
                counted(unused.of, "row")
            ),
        };
        let _ = writeln!(
            out,
            "<li>{}: {lines}; {}</li>",
            escaped(&unused.file),
            escaped(&unused.why)
        );
    }
    out.push_str("</ul>\n");
}

pub fn notes(out: &mut String, paper: &Paper<'_>) {
    let lines = match paper.document.verdict.as_str() {
        "undetermined" => Vec::new(),
        _ => report::note_lines(paper.bench, paper.document),
    };
    if lines.is_empty() {
        return;
    }
    out.push_str("<h2 id=\"notes\">Notes</h2>\n<ul>\n");
    for line in lines {
        let _ = writeln!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>\n");
}

/// With a capital in front: what stood after a dash is a sentence here.
fn capital(text: &str) -> String {
    let mut rest = text.chars();
    match rest.next() {
        Some(first) => first.to_uppercase().chain(rest).collect(),
        None => String::new(),
    }
}

pub fn next(out: &mut String, paper: &Paper<'_>) {
    let steps = match paper.document.verdict.as_str() {
        _ if paper.origin.superseded.is_some() => vec![
            "Nothing: this is how it was. Go by the newest record.".to_owned(),
        ],
        "undetermined" => vec![
            "Take the readings named above, or give one of the parameters a tolerance in [solve] of \
             cell.toml; then register again. `notchpin plan` lists all readings that are missing."
                .to_owned(),
        ],
        _ => report::next_steps(paper.bench, paper.document),
    };
    out.push_str("<h2 id=\"next\">Next</h2>\n");
    for step in steps {
        let _ = writeln!(out, "<p>{}</p>", escaped(&step));
    }
}
