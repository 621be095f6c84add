//! The top of the report: the verdict, what to key in, how sure, for which record, with which cautions.

use std::fmt::Write;

use crate::drawing::svg::escaped;
use crate::paper::Paper;
use crate::paper::headline;
use crate::parameters::Parameter;
use crate::registration::ParameterDocument;
use crate::report;
use crate::report::CAUTION;
use crate::report::Lapsed;
use crate::report::counted;
use crate::report::moves::moved::kept_words;
use crate::report::moves::moved::ranges;
use crate::report::moves::moved::solved_anew;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::page::short;

/// So many sentences stand under the verdict: what it rests on, how sure, whether anything else confirms it.
const BESIDE_VERDICT: usize = 3;

fn sentences(paper: &Paper<'_>) -> Vec<String> {
    match paper.document.verdict.as_str() {
        "undetermined" => vec![
            "There is no registration: the readings do not settle all that is to be found."
                .to_owned(),
        ],
        _ => report::sentences(paper.bench, paper.document),
    }
}

pub fn verdict(out: &mut String, paper: &Paper<'_>) {
    let (document, origin) = (paper.document, paper.origin);
    // Not the verdict of a day whose values do not count any more, however good it was.
    let class = match &origin.lapsed {
        Some(_) => "look",
        None => document.verdict.as_str(),
    };
    let _ = write!(
        out,
        "<div class=\"verdict {}\">\n<p><strong>{}</strong>",
        escaped(class),
        headline(document, origin)
    );
    let mut sentences = sentences(paper).into_iter().take(BESIDE_VERDICT);
    if let Some(lapsed) = &origin.lapsed {
        let _ = writeln!(
            out,
            "{}.</p>\n<p>The verdict then: {}. {}</p>",
            escaped(&capital(lapsed.why())),
            report::verdict_word(document),
            escaped(&sentences.next().unwrap_or_default())
        );
    } else {
        let _ = writeln!(
            out,
            "{}</p>",
            escaped(&sentences.next().unwrap_or_default())
        );
    }
    for sentence in sentences {
        let _ = writeln!(out, "<p>{}</p>", escaped(&sentence));
    }
    out.push_str("</div>\n");
    told_of(out, paper);
}

/// How the verdict was come to: the sentences that did not stand beside it.
pub fn judged(out: &mut String, paper: &Paper<'_>) {
    let rest = sentences(paper).into_iter().skip(BESIDE_VERDICT);
    list(out, ("judged", "How that was judged"), rest.collect());
}

fn list(out: &mut String, (id, heading): (&str, &str), lines: Vec<String>) {
    if lines.is_empty() {
        return;
    }
    let _ = writeln!(out, "<h2 id=\"{id}\">{heading}</h2>\n<ul>");
    for line in lines {
        let _ = writeln!(out, "<li>{}</li>", escaped(&line));
    }
    out.push_str("</ul>\n");
}

/// A moment to the minute, as people read it.
fn moment(time: &str) -> String {
    match (time.get(..10), time.get(11..16)) {
        (Some(day), Some(minute)) if time.ends_with('Z') => format!("{day} {minute} UTC"),
        _ => time.to_owned(),
    }
}

fn told_of(out: &mut String, paper: &Paper<'_>) {
    let origin = paper.origin;
    for look in &origin.looks {
        let _ = writeln!(out, "<p class=\"caution\">{}</p>", escaped(look));
    }
    out.push_str("<dl class=\"origin\">\n");
    let mut row = |term: &str, words: &str| {
        let _ = writeln!(out, "<dt>{term}</dt><dd>{}</dd>", escaped(words));
    };
    let in_force = origin.lapsed.is_none() && paper.document.verdict == "accepted";
    let term = match in_force {
        true => "Valid for",
        false => "Report on",
    };
    match (&origin.record, &origin.taken) {
        (Some(record), Some(day)) => row(
            term,
            &format!(
                "{record}, readings of {day}, written {}",
                moment(&origin.time)
            ),
        ),
        (Some(record), None) => row(term, &format!("{record}, written {}", moment(&origin.time))),
        (None, _) => row(
            term,
            &format!(
                "the readings as they were at {}; not kept as a record",
                moment(&origin.time)
            ),
        ),
    }
    if let Some(note) = &origin.note {
        row("Note", note);
    }
    if let Some(before) = &origin.predecessor {
        row("Follows", before);
    }
    row("Solved by", &origin.program);
    row("Report made", &moment(&origin.made));
    let _ = writeln!(
        out,
        "<dt>{1}</dt><dd><a href=\"{0}\">{0}</a>, as JSON beside this file</dd>\n</dl>",
        escaped(paper.json),
        match paper.document.parameters.is_empty() {
            true => "What was worked out",
            false => "Full values",
        }
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
    let (heading, words) = match (&paper.origin.lapsed, sound(paper)) {
        (Some(lapsed @ (Lapsed::Superseded(_) | Lapsed::Doubted(_))), _) => (
            format!("Do NOT key in: {}", lapsed.why()),
            "These values were found then. They are kept here as a record of that day.",
        ),
        (Some(Lapsed::Due(_)), true) => (
            "What was found: register again before keying it in".to_owned(),
            "Values as found then; some of them drift, and how sure they were does not count that. ± is one standard \
             uncertainty; twice as much holds about 95 of 100.",
        ),
        (None, true) if !paper.document.set_aside.is_empty() => (
            "What was found without what was set aside: do not key it in yet".to_owned(),
            "The result rests on the other readings. Settle first what was wrong with those set aside, and register \
             again. ± is one standard uncertainty; twice as much holds about 95 of 100.",
        ),
        (None, true) => (
            "What to key in".to_owned(),
            "Values as found, where a controller takes them; else give tip and reach the readings as they are. ± is \
             one standard uncertainty; twice as much holds about 95 of 100.",
        ),
        (_, false) => (
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
        "<h2 id=\"key-in\">{}</h2>\n<p>{words}</p>\n<div class=\"scroll values\" tabindex=\"0\" role=\"region\" \
         aria-label=\"Values found\">\n<table>\n<caption>Values found</caption>\n<thead>\n<tr><th \
         scope=\"col\">parameter</th><th scope=\"col\" class=\"n\">{before}</th><th scope=\"col\" \
         class=\"n\">found ± u</th></tr>\n</thead>\n<tbody>",
        escaped(&heading),
        words = remarks(paper, words)
    );
    for p in parameters {
        parameter(out, paper, p);
    }
    out.push_str("</tbody>\n</table>\n</div>\n");
}

/// What must be known to read the values: units that differ from the controller's, what is held.
fn remarks(paper: &Paper<'_>, words: &str) -> String {
    let mut all = words.to_owned();
    // Which way round a value goes in is not to be guessed.
    all.push_str(
        " A zero is the angle at reading 0, not the reading at angle 0; angles of the platter rise counter-clockwise, \
         seen from above.",
    );
    let nominal = &paper.bench.cell.nominal;
    if let Some(scale) = nominal.track.as_ref().map(|t| t.scale_mm)
        && (scale.abs() - 1.0).abs() > 0.01
    {
        let _ = write!(
            all,
            " Lengths here are mm; the track's reading counts units of {} mm.",
            short(scale.abs(), 4)
        );
    }
    if let Some(moved) = &paper.document.moved {
        let _ = write!(
            all,
            " Solved anew: free to be what the readings of after the move say. Held: as in {}, with the \
             uncertainty it had there; newer readings may shift it a little within that.",
            escaped(&moved.from)
        );
    }
    all
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
    let drift = paper.origin.drifts.iter().find(|(name, _)| *name == p.name);
    let drift = drift.map_or(String::new(), |(_, words)| {
        format!(" <span class=\"off\">{}</span>", escaped(words))
    });
    let (before, held) = change.map_or((p.nominal, String::new()), |(before, words)| {
        (before, format!("; <strong>{}</strong>", escaped(words)))
    });
    let _ = writeln!(
        out,
        "<tr><th scope=\"row\">{} <br/><small>{words}{held}{mark}{drift}</small></th><td class=\"n\">{}</td><td \
         class=\"n\">{} <span>± {} {}</span></td></tr>",
        breakable(&p.name),
        fixed(before, d.min(4)),
        fixed(value, d),
        fixed(u, d),
        escaped(&p.unit.replace('/', " per "))
    );
}

/// A name of a parameter that breaks between its parts where there is no room.
fn breakable(name: &str) -> String {
    let name = escaped(name).replace('.', ".<wbr/>");
    name.replace('_', "_<wbr/>")
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
        "</ul>\n<p>Here ± holds 95 of 100; tables and drawings tell of the track where it starts, not at the middle of its travel. {}</p>",
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

/// Notes, and what repeated readings say.
pub fn lists(out: &mut String, paper: &Paper<'_>) {
    if paper.document.verdict == "undetermined" {
        return;
    }
    let notes = report::note_lines(paper.bench, paper.document);
    list(out, ("notes", "Notes"), notes);
    let repeats = report::repeat_lines(paper.document);
    list(out, ("repeats", "Repeated readings"), repeats);
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
        _ if paper.origin.lapsed.is_some() => {
            let lapsed = paper.origin.lapsed.iter();
            lapsed.map(|l| l.to_do().to_owned()).collect()
        }
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
