//! What is asked of every page, as assertions.

use serde_json::Value;

use crate::page::PAPERS;
use crate::page::Page;
use crate::page::Scheme;
use crate::page::WINDOW;

const QUESTIONS: &str = include_str!("checks.js");

/// Unchanged from its makers: axe/SOURCE.md.
const AXE: &str = include_str!("axe/axe.min.js");

/// Widths of a small telephone, a usual one, a tablet and a screen, px.
pub const WIDTHS: [u32; 4] = [320, 360, 768, 1280];

/// px of CSS in a millimetre.
const PX_PER_MM: f64 = 96.0 / 25.4;

/// The sentences of one question of `checks.js`.
pub fn wrong(page: &Page, question: &str) -> Vec<String> {
    let answer = page.script(&format!("{QUESTIONS}\nreturn {question};"));
    let list = answer.as_array().expect("a list of sentences");
    let text = |entry: &Value| entry.as_str().expect("a sentence").to_owned();
    list.iter().map(text).collect()
}

/// Nothing in a list of what is wrong.
#[track_caller]
pub fn none(about: &str, wrong: &[String]) {
    let shown: Vec<&str> = wrong.iter().take(20).map(String::as_str).collect();
    assert!(
        wrong.is_empty(),
        "{about}: {} wrong\n  {}",
        wrong.len(),
        shown.join("\n  ")
    );
}

/// Asks and asserts at once.
#[track_caller]
pub fn right(page: &Page, about: &str, question: &str) {
    none(&format!("{about}, {question}"), &wrong(page, question));
}

/// Nothing in the console, nothing asked of anyone else.
#[track_caller]
pub fn quiet(page: &Page, about: &str) {
    none(about, &page.noise());
}

/// What the accessibility checker finds: `(serious or critical, all others)`.
pub fn barriers(page: &Page) -> (Vec<String>, Vec<String>) {
    barriers_of(page, "{}")
}

/// The same by some of its rules.
fn barriers_of(page: &Page, rules: &str) -> (Vec<String>, Vec<String>) {
    if page.script("return window.axe === undefined;") == Value::Bool(true) {
        page.script(AXE);
    }
    // `preload` would ask for style sheets again.
    let found = page.script_later(&format!(
        "const done = arguments[arguments.length - 1];
         axe.run(document, {{preload: false, resultTypes: ['violations'], ...{rules}}}).then(
           found => done({{list: found.violations}}), error => done({{error: String(error)}}));",
    ));
    let list = found["list"].as_array();
    let list = list.unwrap_or_else(|| panic!("the checker: {}", found["error"]));
    let mut both = (Vec::new(), Vec::new());
    for rule in list {
        for node in rule["nodes"].as_array().into_iter().flatten() {
            let said = node["failureSummary"].as_str().unwrap_or_default();
            let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
            let line = format!(
                "{} ({}): {} {said}",
                rule["id"], rule["impact"], node["target"]
            );
            match rule["impact"].as_str() {
                Some("serious" | "critical") => both.0.push(line),
                _ => both.1.push(line),
            }
        }
    }
    both
}

/// No serious barrier; lesser ones are printed. In the dark nothing but colours can be another.
#[track_caller]
pub fn open_to_all(page: &Page, about: &str) {
    for (scheme, rules) in [
        (
            Scheme::Dark,
            "{runOnly: ['color-contrast', 'link-in-text-block']}",
        ),
        (Scheme::Light, "{}"),
    ] {
        page.scheme(scheme);
        let (serious, others) = barriers_of(page, rules);
        for line in others {
            println!("{about}, {scheme:?}: {line}");
        }
        none(&format!("{about}, {scheme:?}"), &serious);
    }
}

/// Nothing sticks out of the window at any width; `each` is asked at every one of them too.
#[track_caller]
pub fn narrow_and_wide(page: &Page, about: &str, each: &[&str]) {
    for width in WIDTHS {
        page.window(width);
        for question in [&["wide()"], each].concat() {
            right(page, &format!("{about} at {width} px"), question);
        }
    }
    page.window(WINDOW.0);
}

/// Prints on both papers, on more than `least` pages, without a figure that is cut.
#[track_caller]
pub fn printable(page: &Page, about: &str, least: usize) {
    let margins = page.script(&format!("{QUESTIONS}\nreturn margins();"));
    let mm = |side: usize| margins[side].as_f64().expect("a margin in mm");
    for paper in PAPERS {
        let about = format!("{about} on {}", paper.name);
        let pdf = page.pdf(paper);
        assert!(pdf.starts_with(b"%PDF-"), "{about} is no PDF");
        let pages = pages(&pdf);
        assert!(pages > least, "{about}: {pages} pages");
        let width = (paper.size_mm.0 - mm(1) - mm(3)) * PX_PER_MM;
        let height = (paper.size_mm.1 - mm(0) - mm(2)) * PX_PER_MM;
        page.as_printed(width as u32);
        right(page, &about, &format!("tall({height})"));
        right(page, &about, "wide()");
    }
    page.scheme(Scheme::Light);
    page.window(WINDOW.0);
}

/// Pages of a PDF as Chromium writes it: each is an object of type `Page`.
fn pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let after = |part: &&str| !part.starts_with('s');
    text.split("/Type /Page").skip(1).filter(after).count()
}
