//! The report: one HTML file that needs nothing else, to be printed, mailed and archived.
//!
//! No script, no font, no reference to another file but the link to the full values beside it. It is
//! well-formed XML too. Drawings stand in it in two widths, of which a page shows one.

mod style;
mod tables;
mod top;

use std::fmt::Write;

use crate::bench::Bench;
use crate::drawing::svg::escaped;
use crate::pictures::Picture;
use crate::records::Input;
use crate::registration::Document;
use crate::report;
use crate::report::CAUTION;
use crate::report::Lapsed;
use crate::report::reach::ReachDocument;

/// Where a registration that is reported comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Origin {
    /// The record's file; `None` where it was solved for this report and not kept.
    pub record: Option<String>,
    /// The record's digest.
    pub sha256: Option<String>,
    /// When it was written, or when the report was made.
    pub time: String,
    /// The day of the readings, where somebody said so.
    pub taken: Option<String>,
    /// Who, what, why.
    pub note: Option<String>,
    /// The record before it.
    pub predecessor: Option<String>,
    /// The program that solved it.
    pub program: String,
    /// What a reader of this report must know about its standing: a newer record, changed files.
    pub looks: Vec<String>,
    /// Why it is not to be gone by any more.
    pub lapsed: Option<Lapsed>,
    /// Parameters that drift from record to record, and how.
    pub drifts: Vec<(String, String)>,
    /// When the report was made.
    pub made: String,
}

/// The word on top: the verdict, or why that does not count any more.
pub fn headline(document: &Document, origin: &Origin) -> &'static str {
    match &origin.lapsed {
        Some(lapsed) => lapsed.word(),
        None => report::verdict_word(document),
    }
}

/// What a report is made of.
#[derive(Debug, Clone, Copy)]
pub struct Paper<'a> {
    /// Cell and points; readings as far as they are still there.
    pub bench: &'a Bench,
    /// The registration.
    pub document: &'a Document,
    /// Where it comes from.
    pub origin: &'a Origin,
    /// Files that it rests on.
    pub inputs: &'a [Input],
    /// The drawings, in their order.
    pub pictures: &'a [Picture],
    /// From where the points are reached, where there is a registration.
    pub reach: Option<&'a ReachDocument>,
    /// The file with the full values, beside the report.
    pub json: &'a str,
    /// The version of the program that makes the report.
    pub version: &'a str,
}

/// The report.
pub fn html(paper: &Paper<'_>) -> String {
    let mut out = String::with_capacity(1 << 20);
    // A name that never ends must not bury the verdict.
    let name = escaped(&shortened(&paper.document.cell));
    out.push_str("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n");
    // Whatever a name may try: nothing is loaded, sent or run.
    out.push_str(
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src \
         'unsafe-inline'; form-action 'none'\"/>\n",
    );
    let title = match paper.document.verdict.as_str() {
        "undetermined" => format!("No registration yet of {name}"),
        _ => format!("Registration of {name}"),
    };
    let _ = writeln!(
        out,
        "<title>{title}</title>\n<style>{}</style>\n</head>\n<body>",
        style::style()
    );
    let _ = writeln!(out, "<header>\n<h1>{title}</h1>");
    top::verdict(&mut out, paper);
    out.push_str("</header>\n<main>\n");
    // What does not fit comes before values that are then not to be relied on.
    if !top::sound(paper) {
        top::not_fitting(&mut out, paper);
    }
    top::cautions(&mut out);
    top::key_in(&mut out, paper);
    if top::sound(paper) {
        top::not_fitting(&mut out, paper);
    }
    top::what_moved(&mut out, paper);
    top::next(&mut out, paper);
    top::judged(&mut out, paper);
    top::lists(&mut out, paper);
    contents(&mut out, paper);
    for picture in paper.pictures {
        figure(&mut out, picture);
    }
    tables::all(&mut out, paper);
    if let Some(lapsed) = &paper.origin.lapsed {
        // On each page of paper: a page may be looked at without the first.
        let _ = writeln!(
            out,
            "<p class=\"stamp\" aria-hidden=\"true\">{}</p>",
            lapsed.word()
        );
    }
    out.push_str("</main>\n<footer>\n");
    for sentence in CAUTION.replace('\n', " ").split_inclusive(". ") {
        let _ = write!(out, "{}", escaped(sentence));
    }
    out.push_str("\n</footer>\n</body>\n</html>\n");
    out
}

/// The name of a cell as a heading has room for it.
fn shortened(name: &str) -> String {
    const MOST: usize = 120;
    match name.chars().count() > MOST {
        true => name.chars().take(MOST - 1).chain(['…']).collect(),
        false => name.to_owned(),
    }
}

fn contents(out: &mut String, paper: &Paper<'_>) {
    out.push_str("<nav aria-label=\"Drawings and tables\">\n<h2>Drawings and tables</h2>\n<ul>\n");
    let drawings = paper.pictures.iter();
    let drawings = drawings.map(|p| (p.slug.as_str(), p.heading.as_str()));
    for (slug, heading) in drawings.chain(tables::headings(paper)) {
        let _ = writeln!(out, "<li><a href=\"#{slug}\">{}</a></li>", escaped(heading));
    }
    out.push_str("</ul>\n</nav>\n");
}

fn figure(out: &mut String, picture: &Picture) {
    let _ = writeln!(
        out,
        "<section class=\"drawing\">\n<h2 id=\"{}\">{}</h2>\n<figure>\n<figcaption>{}</figcaption>",
        escaped(&picture.slug),
        escaped(&picture.heading),
        escaped(&picture.sentence)
    );
    for (class, svg) in [("wide", &picture.wide), ("narrow", &picture.narrow)] {
        let _ = writeln!(out, "<div class=\"{class}\">\n{svg}</div>");
    }
    out.push_str("</figure>\n</section>\n");
}
