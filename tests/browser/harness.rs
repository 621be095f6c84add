//! The checks themselves, on pages written here: each finds what it is for, and nothing on a good page.

use serde_json::Value;

use crate::checks::barriers;
use crate::checks::narrow_and_wide;
use crate::checks::none;
use crate::checks::open_to_all;
use crate::checks::printable;
use crate::checks::quiet;
use crate::checks::right;
use crate::checks::wrong;
use crate::driver::browse;
use crate::page::PAPERS;
use crate::page::Page;
use crate::page::Scheme;

const GOOD: &str = "<!DOCTYPE html><html lang=en><head><meta charset=utf-8><title>A good page</title>
<meta name=viewport content='width=device-width'><style>
:root { color-scheme: light dark; } body { color: CanvasText; background: Canvas; } figure { margin: 0; break-inside: avoid; } svg { max-width: 100%; height: auto; }
text { font: 14px sans-serif; fill: currentColor; } section { break-before: page; }
@page { margin: 20mm; }</style></head><body><main>
<h1>A good page</h1><h2>With a table</h2>
<table><caption>Sizes</caption><tr><th scope=col>mm</th></tr><tr><td>1</td></tr></table>
<section><h2>With a figure</h2>
<figure><svg role=img viewBox='0 0 200 100' width=200 height=100><title>Two words</title><desc>One over the other.</desc>
<text x=10 y=30>above</text><text x=10 y=44>below</text>
<text transform='translate(190 90) rotate(-90)'>upright</text></svg>
<figcaption>Two words.</figcaption></figure>
<p><a href='record-0001.json'>the record</a>, <a href='#top'>up</a></p></section></main></body></html>";

/// The good page with one thing changed.
fn spoilt(page: &Page, from: &str, to: &str) -> tempfile::TempDir {
    assert!(GOOD.contains(from), "{from} is in the page");
    page.open_text(&GOOD.replace(from, to))
}

fn told(page: &Page, question: &str, expected: &str) {
    let wrong = wrong(page, question);
    let all = wrong.join("\n");
    assert!(
        all.contains(expected),
        "{question}: {expected:?} not in {all:?}"
    );
}

#[test]
fn a_good_page_is_right_in_everything() {
    browse(|page| {
        let _folder = page.open_text(GOOD);
        for question in [
            "headings()",
            "selfContained()",
            "tables()",
            "figures()",
            "words()",
        ] {
            right(page, "a good page", question);
        }
        open_to_all(page, "a good page");
        narrow_and_wide(page, "a good page", &["figures()", "words()"]);
        printable(page, "a good page", 1);
        quiet(page, "a good page");
        page.pictures("harness-good");
    });
}

#[test]
fn each_fault_of_a_page_is_told() {
    browse(|page| {
        for (from, to, question, expected) in [
            (
                "<h2>With a t",
                "<h1>Again</h1><h2>With a t",
                "headings()",
                "2 headings h1",
            ),
            (
                "<h2>With a t",
                "<h3>Deep</h3><h2>With a t",
                "headings()",
                "follows a heading of level 1",
            ),
            ("<p>", "<p onclick='1'>", "selfContained()", "has onclick"),
            (
                "<p>",
                "<script>1</script><p>",
                "selfContained()",
                "<script>",
            ),
            (
                "<p>",
                "<img alt='' src='other.png'><p>",
                "selfContained()",
                "src=other.png",
            ),
            (
                "record-0001.json",
                "http://127.0.0.1:9/record.json",
                "selfContained()",
                "leads to http",
            ),
            (
                "record-0001.json",
                "other.html",
                "selfContained()",
                "leads to other.html",
            ),
            (
                "href='#top'",
                "href='#nowhere'",
                "selfContained()",
                "#nowhere, which is not there",
            ),
            (
                "svg { max",
                "p { background: url(x.png); } svg { max",
                "selfContained()",
                "url(x.png)",
            ),
            (
                "<p>",
                "<p id=a></p><p id=a>",
                "selfContained()",
                "#a is there twice",
            ),
            ("<caption>Sizes</caption>", "", "tables()", "has no caption"),
            (" scope=col", "", "tables()", "has no scope"),
            ("th scope=col>mm</th", "td>mm</td", "tables()", "has no th"),
            ("role=img", "", "figures()", "has not role img"),
            (
                "<desc>One over the other.</desc>",
                "",
                "figures()",
                "has no desc",
            ),
            (
                "<figcaption>Two words.</figcaption>",
                "",
                "figures()",
                "has no figcaption",
            ),
            (
                "<figcaption>",
                "<svg role=img><title>t</title><desc>d</desc></svg><figcaption>",
                "figures()",
                "2 of 2 svg",
            ),
            (
                "y=44",
                "y=35",
                "words()",
                "\"below\" in the drawing <title> \"Two words\" lies on \"above\"",
            ),
            (
                "x=10 y=30",
                "x=180 y=30",
                "words()",
                "\"above\" in the drawing <title> \"Two words\" sticks out",
            ),
            (
                "break-inside: avoid",
                "break-inside: auto",
                "tall(500)",
                "may be cut",
            ),
        ] {
            let _folder = spoilt(page, from, to);
            told(page, question, expected);
        }
        let _folder = page.open_text(GOOD);
        // The drawing alone is 100 px high.
        told(page, "tall(90)", "high on paper of 90");
        none("the good page on high paper", &wrong(page, "tall(500)"));
    });
}

#[test]
fn a_page_that_is_too_wide_is_told_with_what_sticks_out() {
    browse(|page| {
        let _folder = spoilt(page, "<p>", "<p id=long style='width: 500px'>");
        page.window(360);
        told(page, "wide()", "in a window of 360");
        told(page, "wide()", "<p#long>");
        page.window(768);
        none("in a wider window", &wrong(page, "wide()"));
    });
}

#[test]
fn the_console_and_requests_are_heard() {
    browse(|page| {
        let _folder = spoilt(page, "<p>", "<script>console.warn('a warning')</script><p>");
        let noise = page.noise().join("\n");
        assert!(
            noise.contains("WARNING") && noise.contains("a warning"),
            "{noise}"
        );
    });
    browse(|page| {
        // Port 9 (discard) answers no one.
        let _folder = spoilt(
            page,
            "<p>",
            "<img alt='' src='http://127.0.0.1:9/x.png'><p>",
        );
        let noise = page.noise().join("\n");
        assert!(
            noise.contains("asks for http://127.0.0.1:9/x.png"),
            "{noise}"
        );
    });
    browse(|page| {
        let _folder = spoilt(page, "<p>", "<img alt='' src='beside.png'><p>");
        let noise = page.noise().join("\n");
        assert!(noise.contains("beside.png"), "{noise}");
    });
    browse(|page| {
        let _folder = page.open_text(GOOD);
        quiet(page, "a good page after noisy ones");
    });
}

#[test]
fn barriers_are_told_by_their_weight() {
    browse(|page| {
        // WCAG 2: text of usual size needs a contrast of 4.5; #999 on white has 2.8.
        let _folder = spoilt(
            page,
            "<p>",
            "<p style='color: #999; background: #fff'>faint words ",
        );
        let (serious, _) = barriers(page);
        assert!(serious.join("\n").contains("color-contrast"), "{serious:?}");
    });
    browse(|page| {
        let _folder = spoilt(page, "<p>", "<p><input>");
        let (serious, _) = barriers(page);
        assert!(serious.join("\n").contains("critical"), "{serious:?}");
    });
    browse(|page| {
        // Not wrong enough to fail: words outside of every landmark.
        let _folder = spoilt(page, "</main>", "</main><p>outside</p>");
        let (serious, others) = barriers(page);
        none("words outside of main", &serious);
        assert!(others.join("\n").contains("region"), "{others:?}");
    });
}

#[test]
fn schemes_and_paper_are_seen_by_the_page() {
    browse(|page| {
        let _folder = page.open_text(GOOD);
        let matches = |query: &str| page.script(&format!("return matchMedia('{query}').matches;"));
        page.scheme(Scheme::Dark);
        assert_eq!(matches("(prefers-color-scheme: dark)"), Value::Bool(true));
        page.scheme(Scheme::Light);
        assert_eq!(matches("(prefers-color-scheme: dark)"), Value::Bool(false));
        page.as_printed(600);
        assert_eq!(matches("print"), Value::Bool(true));
        assert_eq!(page.script("return innerWidth;"), Value::from(600));
        page.scheme(Scheme::Light);
        assert_eq!(matches("print"), Value::Bool(false));
    });
}

#[test]
fn a_pdf_has_the_size_of_its_paper() {
    browse(|page| {
        let _folder = page.open_text(GOOD);
        for paper in PAPERS {
            let pdf = page.pdf(paper);
            let text = String::from_utf8_lossy(&pdf);
            let after = text.split("/MediaBox [").nth(1).expect("a size of paper");
            let size = after.split(']').next().expect("the end of the list");
            let size: Vec<f64> = size
                .split_whitespace()
                .map(|n| n.parse().unwrap())
                .collect();
            // 72 points to an inch; the printer rounds to whole points.
            for (points, mm) in [(size[2], paper.size_mm.0), (size[3], paper.size_mm.1)] {
                assert!(
                    (points - mm / 25.4 * 72.0).abs() <= 1.0,
                    "{size:?} for {paper:?}"
                );
            }
        }
    });
}
