//! `report`: one file that says what the registration says, with every drawing, whole or not at all.

mod sentences;

// The checks of the library's own pictures, run on those of a report.
use notchpin::drawing;
#[path = "../src/drawing/tests/readback.rs"]
#[allow(dead_code)]
mod readback;

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use roxmltree::Document;
use roxmltree::Node;
use roxmltree::ParsingOptions;
use sentences::Folder;
use serde_json::Value;

const CELLS: [&str; 8] = [
    "glaze-line",
    "glazing-bench",
    "inch-rows",
    "read-twice",
    "shifted-track",
    "six-joint",
    "slips",
    "slips-undetermined",
];

fn folder(cell: &str) -> Folder {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    Folder::copy_of(&root.join(cell))
}

/// Runs `report` into a file beside the cell and gives the page and its status.
fn report(folder: &Folder, more: &[&str]) -> (i32, String) {
    let out = folder.path("r.html");
    let _ = fs::remove_file(&out);
    let _ = fs::remove_file(folder.path("r.json"));
    let out = out.to_str().unwrap().to_owned();
    let mut arguments = vec!["report", "--out", &out];
    arguments.extend(more);
    let answer = folder.run(&arguments);
    assert!(answer.status < 2, "{}{}", answer.out, answer.err);
    assert!(
        answer.out.contains("Caution: calculated positions."),
        "{}",
        answer.out
    );
    (answer.status, folder.read("r.html"))
}

/// The page as a tree: that it is one proves that it is well-formed.
fn tree(page: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(page, options).expect("a well-formed page")
}

fn named<'a>(page: &'a Document<'a>, name: &'a str) -> impl Iterator<Item = Node<'a, 'a>> {
    page.descendants()
        .filter(move |n| n.tag_name().name() == name)
}

fn text_of(node: Node<'_, '_>) -> String {
    let all = node.descendants().filter(Node::is_text);
    let all: String = all.filter_map(|n| n.text()).collect();
    all.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The SVG texts of a page, as they stand in it.
fn drawings(page: &str) -> Vec<&str> {
    let starts = page.match_indices("<svg ").map(|(at, _)| at);
    starts
        .map(|at| &page[at..at + page[at..].find("</svg>").unwrap() + "</svg>".len()])
        .collect()
}

/// What must hold of every report.
fn sound(page: &str) {
    let tree = tree(page);
    let html = tree.root_element();
    assert_eq!(html.attribute("lang"), Some("en"));
    for forbidden in [
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "form",
        "foreignObject",
        "image",
        "use",
    ] {
        assert_eq!(named(&tree, forbidden).count(), 0, "{forbidden}");
    }
    assert_eq!(named(&tree, "h1").count(), 1);
    let mut ids = BTreeSet::new();
    let mut links = Vec::new();
    for node in tree.descendants() {
        for attribute in node.attributes() {
            assert!(!attribute.name().starts_with("on"), "{attribute:?}");
            match attribute.name() {
                "id" => assert!(
                    ids.insert(attribute.value().to_owned()),
                    "{attribute:?} twice"
                ),
                "href" => links.push(attribute.value().to_owned()),
                "src" => panic!("{attribute:?}"),
                _ => {}
            }
        }
    }
    for link in links {
        match link.strip_prefix('#') {
            Some(id) => assert!(ids.contains(id), "{link}"),
            // The full values beside it.
            None => assert_eq!(link, "r.json"),
        }
    }
    assert!(!page.contains("NaN") && !page.contains("inf,") && !page.contains("@import"));
    for table in named(&tree, "table") {
        let children: Vec<&str> = table.children().map(|n| n.tag_name().name()).collect();
        assert!(children.contains(&"caption") && children.contains(&"thead"));
        let heads = table.descendants().filter(|n| n.tag_name().name() == "th");
        for th in heads {
            assert!(
                matches!(th.attribute("scope"), Some("col" | "row")),
                "{}",
                text_of(th)
            );
        }
    }
    for figure in named(&tree, "figure") {
        let caption = figure
            .descendants()
            .find(|n| n.tag_name().name() == "figcaption");
        assert!(text_of(caption.unwrap()).len() > 20);
        let svgs = figure
            .descendants()
            .filter(|n| n.tag_name().name() == "svg");
        assert_eq!(svgs.count(), 2, "one for wide and one for narrow pages");
    }
    for svg in drawings(page) {
        let title = svg.split("<title").nth(1).unwrap_or_default();
        println!("{}", &title[..title.len().min(80)]);
        readback::sound(svg);
    }
}

fn slugs(page: &str) -> Vec<String> {
    let tree = tree(page);
    let sections = named(&tree, "section").filter(|s| s.attribute("class") == Some("drawing"));
    let ids = sections.filter_map(|s| {
        let heading = s.descendants().find(|n| n.tag_name().name() == "h2")?;
        heading.attribute("id").map(str::to_owned)
    });
    ids.collect()
}

#[test]
fn every_demo_cell_has_a_sound_report() {
    for cell in CELLS {
        println!("== {cell}");
        let folder = folder(cell);
        let registered = folder.run(["register"]);
        let (status, page) = report(&folder, &[]);
        sound(&page);
        let slugs = slugs(&page);
        let has = |slug: &str| slugs.iter().any(|s| s == slug);
        assert!(has("plan") && has("elevation"), "{slugs:?}");
        let tree = tree(&page);
        let word = named(&tree, "strong").next().map(text_of).unwrap();
        if registered.status == 2 {
            assert_eq!((word.as_str(), status), ("UNDETERMINED", 1));
            assert!(page.contains("would settle it") || page.contains("Would settle it"));
            assert_eq!(slugs.len(), 2);
            continue;
        }
        assert_eq!(status, registered.status);
        assert!(registered.out.starts_with(&word), "{word}");
        for slug in ["residuals-plan", "contributions", "reach-lanes"] {
            assert!(has(slug), "{cell}: {slug} of {slugs:?}");
        }
        // The accompanying file is the record, byte for byte.
        let record = fs::read(folder.path("records/registration-0001.json")).unwrap();
        assert_eq!(record, fs::read(folder.path("r.json")).unwrap());
        let record: Value = serde_json::from_slice(&record).unwrap();
        let sha256 = record["sha256"].as_str().expect("the record's digest");
        assert!(page.contains(sha256));
        tables_hold_everything(&tree, &record);
    }
}

/// Every parameter, every residual, every point and every input stands in a table.
fn tables_hold_everything(tree: &Document<'_>, record: &Value) {
    let rows: Vec<Vec<String>> = named(tree, "tr")
        .map(|tr| {
            let cells = tr
                .children()
                .filter(|n| matches!(n.tag_name().name(), "td" | "th"));
            cells.map(text_of).collect()
        })
        .collect();
    let body = match record.get("body") {
        Some(body) => body,
        None => record,
    };
    let document = &body["registration"];
    for p in document["parameters"].as_array().unwrap() {
        let name = p["name"].as_str().unwrap();
        let of_name: Vec<_> = rows
            .iter()
            .filter(|r| r.first().is_some_and(|c| c.split(' ').next() == Some(name)))
            .collect();
        assert_eq!(
            of_name.len(),
            2,
            "{name}: what to key in, and the full table"
        );
        let (value, u) = (p["value"].as_f64().unwrap(), p["u"].as_f64().unwrap());
        // JCGM 100, 7.2.6: two digits of u decide; what is printed is within half a step of the value.
        let decimals = (1.0 - u.log10().floor()).clamp(0.0, 6.0) as i32;
        for row in of_name {
            let figure = |c: &String| c.split(' ').next()?.parse::<f64>().ok();
            let near = row[1..].iter().filter_map(figure);
            let half = 0.5 * 10f64.powi(-decimals) * (1.0 + 1e-6);
            assert!(
                near.into_iter().any(|v| (v - value).abs() <= half),
                "{name} {value}: {row:?}"
            );
        }
    }
    let readings = document["readings"].as_array().unwrap();
    for r in readings {
        let line = r["line"].as_u64().unwrap();
        let part = r["component"].as_str().unwrap_or("");
        let head = format!("{line} {part}").trim().to_owned();
        let residual = r["residual"].as_f64().unwrap();
        let found = rows.iter().any(|row| {
            row.first() == Some(&head)
                && row
                    .get(1)
                    .and_then(|c| c.parse::<f64>().ok())
                    .is_some_and(|v| {
                        (v - residual).abs() <= 0.06 * r["u"].as_f64().unwrap().max(1e-6)
                    })
        });
        assert!(found, "{} line {head}: {residual}", r["file"]);
    }
    for p in document["points"].as_array().unwrap() {
        let name = p["name"].as_str().unwrap();
        assert!(
            rows.iter().any(|r| r.first().is_some_and(|c| c == name)),
            "{name}"
        );
    }
    for input in body["inputs"].as_array().unwrap() {
        let digest = input["sha256"].as_str().unwrap();
        assert!(
            rows.iter().any(|r| r.last().is_some_and(|c| c == digest)),
            "{input}"
        );
    }
}

#[test]
fn suspects_are_told_by_words_and_shape() {
    let folder = folder("slips");
    let registered = folder.run(["register", "--json"]);
    let document: Value = serde_json::from_str(&registered.out).unwrap();
    let (_, page) = report(&folder, &[]);
    let tree = tree(&page);
    assert!(page.contains("What was found: do not key it in yet"));
    let list = named(&tree, "ol")
        .next()
        .map(text_of)
        .expect("what does not fit");
    for suspect in document["suspects"].as_array().unwrap() {
        let line = format!("line {}", suspect["line"]);
        assert!(list.contains(&line), "{line} in {list}");
    }
    // Ringed, and named in words, on the drawing too.
    let on_plan = drawings(&page);
    let on_plan = on_plan
        .iter()
        .find(|s| s.contains("touches and counts are off by"))
        .unwrap();
    let rings = on_plan.split("class=\"suspects\"").nth(1).unwrap();
    assert!(
        rings.contains("<path") && rings.contains(" line "),
        "{rings}"
    );
}

#[test]
fn nothing_is_overwritten_and_both_files_come_or_none() {
    let folder = folder("read-twice");
    folder.run(["register"]);
    let out = folder.path("mine.html");
    let name = out.to_str().unwrap();
    folder.write("mine.html", "kept");
    let answer = folder.run(["report", "--out", name]);
    assert_eq!(answer.status, 2);
    assert!(
        answer.err.contains("nothing is overwritten"),
        "{}",
        answer.err
    );
    assert_eq!(folder.read("mine.html"), "kept");
    assert!(!folder.path("mine.json").exists(), "no half of a report");
    for odd in ["-", "mine.json", "noending", "no-such-folder/x.html"] {
        let answer = folder.run(["report", "--out", folder.path(odd).to_str().unwrap()]);
        assert_eq!(answer.status, 2, "{odd}");
        assert!(
            answer.err.contains("nothing was written") || answer.err.contains("Nothing was"),
            "{}",
            answer.err
        );
    }
    // With drawings too it is all or nothing.
    let into = folder.path("drawn");
    let answer = folder.run(["report", "--out", name, "--svg", into.to_str().unwrap()]);
    assert!(answer.status == 2 && !into.exists(), "{}", answer.err);
    let answer = folder.run([
        "report",
        "--out",
        folder.path("records/x.html").to_str().unwrap(),
    ]);
    assert_eq!(answer.status, 2, "{}", answer.out);
    let answer = folder.run([
        "report",
        "--point",
        "nowhere",
        "--out",
        folder.path("p.html").to_str().unwrap(),
    ]);
    assert_eq!(answer.status, 2);
    assert!(answer.err.contains("nowhere") && !folder.path("p.html").exists());
    // Without a name the next free one in the current folder.
    for expected in ["report-0001.html", "report-0001-2.html"] {
        let done = folder
            .command(["report"])
            .current_dir(folder.root())
            .output()
            .unwrap();
        assert!(done.status.code() < Some(2));
        assert!(folder.path(expected).exists(), "{expected}");
    }
}

#[test]
fn drawings_alone_are_whole_files() {
    let folder = folder("glazing-bench");
    folder.run(["register"]);
    let into = folder.path("drawings");
    let name = into.to_str().unwrap();
    let answer = folder.run(["report", "--svg", name]);
    assert!(answer.status < 2, "{}", answer.err);
    let mut files: Vec<_> = fs::read_dir(&into)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    files.sort();
    assert!(files.len() >= 9, "{files:?}");
    for file in &files {
        let text = fs::read_to_string(file).unwrap();
        readback::sound(&text);
        assert!(
            answer
                .out
                .replace('\n', "")
                .contains(file.file_name().unwrap().to_str().unwrap())
        );
    }
    assert!(!folder.path("report-0001.html").exists());
    let again = folder.run(["report", "--svg", name]);
    assert_eq!(again.status, 2);
}

#[test]
fn an_older_record_and_changed_files_are_said() {
    let folder = folder("glaze-line");
    folder.run(["register"]);
    folder.run(["register", "--note", "<b>second</b> & last"]);
    let (_, page) = report(&folder, &["--record", "1"]);
    assert!(
        page.contains("<strong>NO LONGER IN FORCE</strong>Superseded by registration-0002.json")
    );
    assert!(page.contains("Report on") && !page.contains("Valid for"));
    assert!(page.contains("Do NOT key in: superseded by") && !page.contains("What to key in"));
    assert!(page.contains("Nothing: this is how it was."));
    let (_, page) = report(&folder, &[]);
    assert!(!page.contains("superseded") && page.contains("What to key in"));
    assert!(page.contains("&lt;b&gt;second&lt;/b&gt; &amp; last"));
    let holes = folder.read("readings/holes.csv");
    folder.write("readings/holes.csv", &holes.replacen("1.9", "2.0", 1));
    let (_, page) = report(&folder, &[]);
    assert!(
        page.contains("Changed or gone since this was registered: readings/holes.csv"),
        "{page}"
    );
    sound(&page);
}

/// A recheck that found something moved counts more than a verdict of before it.
#[test]
fn a_record_that_a_recheck_contradicts_is_not_to_be_keyed_in() {
    let folder = folder("glazing-bench");
    folder.run(["register"]).ends(0);
    let (status, page) = report(&folder, &[]);
    assert_eq!(status, 0);
    assert!(page.contains("<strong>ACCEPTED</strong>") && page.contains("What to key in"));
    // A touch of the record again, 50 mm off: a hole of the plate.
    let touch = folder.read("readings/touch.csv");
    let rows: Vec<&str> = touch.lines().filter(|l| !l.starts_with('#')).collect();
    let columns: Vec<&str> = rows[0].split(',').map(str::trim).collect();
    let x = columns
        .iter()
        .position(|c| *c == "dx_mm")
        .expect("a column");
    let mut off: Vec<String> = rows[1].split(',').map(|c| c.trim().to_owned()).collect();
    off[x] = "50".to_owned();
    let moved = rows[0].to_owned() + "\n" + &off.join(",") + "\n";
    folder.write("again/touch.csv", &moved);
    assert_eq!(folder.run(["recheck", "--readings", "again"]).status, 1);
    let (status, page) = report(&folder, &[]);
    assert_eq!(status, 1);
    assert!(page.contains("<strong>DOES NOT HOLD ANY MORE</strong>The recheck of 2"));
    assert!(
        page.contains("(recheck-0001.json) found that registration-0001.json does not hold")
            && !page.contains("What to key in")
    );
    assert!(page.contains("The verdict then: ACCEPTED."));
    sound(&page);
    // Whoever asks for a place hears it too.
    let tip = folder.run([
        "tip",
        "--track",
        "300",
        "--table",
        "45",
        "--joints=90,-34,80,44,0",
    ]);
    let err = tip.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(err.contains("does not hold any more"), "{err}");
}

/// Readings of years ago, and a cell that asks for new ones after half a year.
#[test]
fn a_record_that_is_due_says_so_on_top() {
    let folder = folder("glazing-bench");
    let cell = folder.read("cell.toml");
    assert!(cell.contains("[accept]"), "{cell}");
    let cell = cell.replacen("[accept]", "[accept]\ndue_days = 180", 1);
    folder.write("cell.toml", &cell);
    folder.run(["register", "--taken", "2020-02-01"]).ends(0);
    let (status, page) = report(&folder, &[]);
    assert_eq!(status, 1);
    // By hand: 180 days after 1 February 2020, a leap year, is 30 July.
    assert!(
        page.contains("<strong>DUE AGAIN</strong>DUE SINCE 2020-07-30"),
        "{}",
        &page[..6000]
    );
    assert!(page.contains("register again before keying it in"));
    assert!(page.contains("readings of 2020-02-01, written "));
}

#[test]
fn a_cell_without_a_record_is_reported_as_it_is_now() {
    let folder = folder("inch-rows");
    let (_, page) = report(&folder, &[]);
    assert!(page.contains("This is not a record."));
    assert!(folder.records().is_empty());
    sound(&page);
    let document: Value = serde_json::from_str(&folder.read("r.json")).unwrap();
    assert!(document["parameters"].is_array());
}

#[test]
fn two_thousand_readings_stay_below_two_megabytes() {
    let folder = folder("glazing-bench");
    // The same touches again and again, each in a row of its own.
    let touch = folder.read("readings/touch.csv");
    let rows: Vec<&str> = touch.lines().filter(|l| !l.starts_with('#')).collect();
    let mut many = vec![rows[0]];
    many.extend(rows[1..].iter().cycle().take(1900));
    folder.write("readings/touch.csv", &(many.join("\n") + "\n"));
    folder.run(["register"]);
    let (_, page) = report(&folder, &[]);
    sound(&page);
    assert!(page.len() < 2_000_000, "{}", page.len());
    let tree = tree(&page);
    assert!(named(&tree, "tr").count() > 5_000);
}
