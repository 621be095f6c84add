//! The tables of the report: parameters, readings, points, files.

use std::fmt::Write;

use crate::drawing::svg::escaped;
use crate::paper::Paper;
use crate::paper::top::sound;
use crate::registration::ReadingDocument;
use crate::registration::SuspectDocument;
use crate::report;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::reach::PointDocument;
use crate::report::reach::Standing;
use crate::report::reach::standing;

/// Anchors and headings of the tables that the report has.
pub fn headings(paper: &Paper<'_>) -> Vec<(&'static str, &'static str)> {
    let mut all = Vec::new();
    if !paper.document.parameters.is_empty() {
        all.push(("parameters", "All parameters"));
    }
    if !paper.document.readings.is_empty() {
        all.push(("readings", "All readings"));
    }
    if !paper.document.points.is_empty() {
        all.push(("points", "All points"));
    }
    all.push(("files", "Files and version"));
    all
}

pub fn all(out: &mut String, paper: &Paper<'_>) {
    for (slug, heading) in headings(paper) {
        let _ = writeln!(out, "<section>\n<h2 id=\"{slug}\">{heading}</h2>");
        match slug {
            "parameters" => parameters(out, paper),
            "readings" => readings(out, paper),
            "points" => points(out, paper),
            _ => files(out, paper),
        }
        out.push_str("</section>\n");
    }
}

/// Opens a table; each column by its name, and whether it holds figures.
fn open(out: &mut String, caption: &str, columns: &[(&str, bool)]) {
    open_as(out, "scroll", caption, columns);
}

fn open_as(out: &mut String, class: &str, caption: &str, columns: &[(&str, bool)]) {
    let caption = escaped(caption);
    let _ = write!(
        out,
        "<div class=\"{class}\" tabindex=\"0\" role=\"region\" aria-label=\"{caption}\">\n<table>\n\
         <caption>{caption}</caption>\n<thead>\n<tr>"
    );
    for (name, figures) in columns {
        let class = if *figures { " class=\"n\"" } else { "" };
        let _ = write!(out, "<th scope=\"col\"{class}>{name}</th>");
    }
    out.push_str("</tr>\n</thead>\n<tbody>\n");
}

fn close(out: &mut String) {
    out.push_str("</tbody>\n</table>\n</div>\n");
}

/// A figure, or a dash where there is none.
fn cell(out: &mut String, text: Option<String>) {
    let _ = write!(
        out,
        "<td class=\"n\">{}</td>",
        text.as_deref().unwrap_or("–")
    );
}

/// The same in a table whose style says by itself which columns hold figures.
fn figure(out: &mut String, text: Option<String>) {
    let _ = write!(out, "<td>{}</td>", text.as_deref().unwrap_or("–"));
}

fn parameters(out: &mut String, paper: &Paper<'_>) {
    out.push_str(
        "<p>Redundancy is the share of a value's tolerance that the readings check, 0 to 1; off is how far the \
         value lies from the drawing in units of what is usual, beyond 3.29 it does not fit.</p>\n",
    );
    open(
        out,
        "All parameters",
        &[
            ("parameter", false),
            ("found", true),
            ("u", true),
            ("unit", false),
            ("off", true),
            ("remark", false),
            ("drawn", true),
            ("tolerance", true),
            ("redundancy", true),
        ],
    );
    for p in &paper.document.parameters {
        let d = p.u.map_or(3, decimals_for);
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", escaped(&p.name));
        cell(out, p.value.map(|v| fixed(v, d)));
        cell(out, p.u.map(|u| fixed(u, d)));
        let _ = write!(out, "<td>{}</td>", escaped(&p.unit.replace('/', " per ")));
        cell(out, p.standardized.map(|w| fixed(w, 1)));
        let remark = match (p.suspect, p.weak) {
            (true, _) => "<strong class=\"off\">does not fit</strong>",
            (_, true) => "weak",
            _ => "",
        };
        let _ = write!(out, "<td>{remark}</td>");
        cell(out, Some(fixed(p.nominal, d.min(4))));
        // After a move what was not freed is tied to the record before, not free.
        let moved = paper.document.moved.as_ref();
        let held = moved.is_some_and(|m| !m.freed.contains(&p.name));
        let tolerance = match (p.tolerance, held) {
            (Some(tolerance), _) => report::number::uncertainty(tolerance),
            (None, true) => "held".to_owned(),
            (None, false) => "free".to_owned(),
        };
        cell(out, Some(tolerance));
        cell(out, p.redundancy.map(|r| fixed(r, 2)));
        out.push_str("</tr>\n");
    }
    close(out);
}

fn readings(out: &mut String, paper: &Paper<'_>) {
    let document = paper.document;
    out.push_str(
        "<p>Residual is what the result says less what was read. Redundancy 0: checked by nothing, 1: fully. \
         Off is the residual in units of what is usual, beyond 3.29 it does not fit. Noticeable is the smallest \
         error that would be found with 80 % power.</p>\n",
    );
    out.push_str("<div class=\"columns\">\n");
    let mut rest = &document.readings[..];
    while let Some(first) = rest.first() {
        let end = rest
            .iter()
            .position(|r| r.file != first.file)
            .unwrap_or(rest.len());
        let (of_file, after) = rest.split_at(end);
        of_one_file(out, of_file, &document.suspects);
        rest = after;
    }
    out.push_str("</div>\n");
    let places = |rows: &[crate::registration::PlaceDocument]| {
        let each = rows.iter().map(|p| format!("{} line {}", p.file, p.line));
        each.collect::<Vec<_>>().join(", ")
    };
    for (words, rows) in [
        ("Left out, because use = no", &document.left_out),
        ("Laid out and not filled in", &document.unfinished),
        ("Set aside, as asked for", &document.set_aside),
    ] {
        if !rows.is_empty() {
            let _ = writeln!(out, "<p>{words}: {}.</p>", escaped(&places(rows)));
        }
    }
    if let Some(checks) = &document.checks {
        open(
            out,
            "Readings kept to check with (use = check)",
            &[
                ("file and line", false),
                ("off by", true),
                ("unit", false),
                ("u", true),
                ("off", true),
            ],
        );
        for r in &checks.rows {
            let part = r
                .component
                .as_deref()
                .map_or(String::new(), |c| format!(", {c}"));
            let _ = write!(
                out,
                "<tr><th scope=\"row\">{} line {}{part}</th>",
                escaped(&r.file),
                r.line
            );
            cell(out, Some(fixed(r.observed, decimals_for(r.predicted))));
            let _ = write!(out, "<td>{}</td>", escaped(&r.unit));
            cell(out, Some(uncertainty(r.predicted)));
            cell(out, Some(fixed(r.ratio, 1)));
            out.push_str("</tr>\n");
        }
        close(out);
    }
}

fn of_one_file(out: &mut String, rows: &[ReadingDocument], named: &[SuspectDocument]) {
    let first = &rows[0];
    let _ = writeln!(out, "<h3>{}</h3>", escaped(&first.file));
    open_as(
        out,
        "scroll rows",
        &format!("Readings of {}, residuals in {}", first.file, first.unit),
        &[
            ("line", false),
            ("residual", true),
            ("u", true),
            ("off", true),
            ("remark", false),
            ("redundancy", true),
            ("noticeable", true),
        ],
    );
    for r in rows {
        let part = r.component.as_deref().unwrap_or("");
        let part = match part.is_empty() {
            true => String::new(),
            false => format!(" {part}"),
        };
        let _ = write!(out, "<tr><th scope=\"row\">{}{part}</th>", r.line);
        figure(out, Some(fixed(r.residual, decimals_for(r.u))));
        figure(out, Some(uncertainty(r.u)));
        figure(out, r.standardized.map(|w| fixed(w, 1)));
        let suspect = named
            .iter()
            .position(|s| s.file == r.file && s.line == Some(r.line));
        let remark = match (r.suspect, r.standardized) {
            _ if suspect.is_some() => "<strong class=\"off\">does not fit</strong>",
            (true, _) if !named.is_empty() => "off beyond chance; may be pulled along",
            (true, _) => "<strong class=\"off\">does not fit</strong>",
            (_, None) => "checked by nothing",
            _ => "",
        };
        let _ = write!(out, "<td>{remark}</td>");
        figure(out, Some(fixed(r.redundancy, 2)));
        figure(out, r.detectable.map(|d| fixed(d, decimals_for(d))));
        out.push_str("</tr>\n");
    }
    close(out);
}

fn points(out: &mut String, paper: &Paper<'_>) {
    let reach = paper.reach.map_or(&[][..], |r| &r.points);
    let caption = match sound(paper) {
        true => "All points: how sure the tip is there, and from where they are reached",
        false => {
            "All points: how sure the tip is there (NOT valid while readings contradict each other), and from \
             where they are reached"
        }
    };
    open(
        out,
        caption,
        &[
            ("point", false),
            ("within, mm (95 %)", true),
            ("reached, clear", false),
            ("margin, deg", true),
            ("by the joints' limits, from track", false),
            ("of", false),
            ("kind", false),
        ],
    );
    for p in &paper.document.points {
        let found = reach.iter().find(|r| r.name == p.name);
        let _ = write!(out, "<tr><th scope=\"row\">{}</th>", escaped(&p.name));
        cell(out, p.u95_mm.map(uncertainty));
        let (reached, margin, travel) = reached(found);
        let _ = write!(out, "<td>{}</td>", escaped(&reached));
        cell(out, margin);
        let _ = writeln!(
            out,
            "<td>{}</td><td>{}</td><td>{}</td></tr>",
            escaped(&travel),
            escaped(&p.frame),
            if p.taught { "taught" } else { "given" }
        );
    }
    close(out);
}

/// Ends of travel between which a point is reached, with the table where its best station has it.
fn travel(point: &PointDocument) -> String {
    let table = point.best.as_ref().and_then(|b| b.table);
    let all = &point.track_intervals;
    let Some(shown) = all.iter().find(|i| i.table == table).or(all.first()) else {
        return String::new();
    };
    let spans = shown.intervals.iter();
    let spans = spans.map(|[a, b]| format!("{} to {}", fixed(*a, 0), fixed(*b, 0)));
    let spans: Vec<String> = spans.collect();
    match (spans.is_empty(), shown.table) {
        (true, _) => String::new(),
        (false, None) => spans.join(", "),
        (false, Some(table)) => format!("{} at table {}", spans.join(", "), fixed(table, 0)),
    }
}

/// Whether a point is reached, with what margin, between which ends of travel.
fn reached(point: Option<&PointDocument>) -> (String, Option<String>, String) {
    let Some(point) = point else {
        return ("not worked out".to_owned(), None, String::new());
    };
    let margin = point
        .best
        .as_ref()
        .map(|b| fixed(b.margins.limit_margin_deg, 0));
    // Of a point that is met at pairs only, a travel without its table says nothing.
    let travel = match standing(point) {
        Standing::Pairs => String::new(),
        _ => travel(point),
    };
    let words = match &point.refused {
        Some(why) => format!("no: {why}"),
        None => standing(point).words().to_owned(),
    };
    (words, margin, travel)
}

fn files(out: &mut String, paper: &Paper<'_>) {
    open(
        out,
        match paper.document.verdict.as_str() {
            "undetermined" => "Files that were read, with their SHA-256 digests",
            _ => "Files that the registration rests on, with their SHA-256 digests",
        },
        &[("file", false), ("bytes", true), ("digest", false)],
    );
    let record = paper.origin.record.iter().zip(&paper.origin.sha256);
    for (file, digest) in record {
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">records/{}</th><td class=\"n\">–</td><td class=\"digest\">{}</td></tr>",
            escaped(file),
            escaped(digest)
        );
    }
    for input in paper.inputs {
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">{}</th><td class=\"n\">{}</td><td class=\"digest\">{}</td></tr>",
            escaped(&input.file),
            input.bytes,
            escaped(&input.sha256)
        );
    }
    close(out);
    let _ = writeln!(
        out,
        "<p>Report made by notchpin {}. {} Lengths in mm, angles in degrees; axis readings as the controller \
         shows them. Numbers here are rounded as their uncertainty allows; the full values stand in <a \
         href=\"{2}\">{2}</a>.</p>",
        escaped(paper.version),
        match paper.origin.record {
            Some(_) => "The digest of the record is the one that stands in it.",
            None => "",
        },
        escaped(paper.json)
    );
}
