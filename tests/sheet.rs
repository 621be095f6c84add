//! `sheet`: the order of its steps, from where to start again, and that it can be printed and filled in.

mod bench;
mod sentences;

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::path::Path;

use bench::Read;
use bench::demo;
use notchpin::cell::Geometry;
use notchpin::parameters::Parameter;
use notchpin::parameters::Unknowns;
use notchpin::parts::Part;
use notchpin::parts::setting_order;
use notchpin::plan::Plan;
use notchpin::plan::Purpose;
use notchpin::plan::Step as PlanStep;
use notchpin::plan::plan_or_settle;
use notchpin::proposals::proposals;
use notchpin::report::sheet::html;
use notchpin::report::sheet::markdown;
use notchpin::sheet::Job;
use notchpin::sheet::Sheet;
use notchpin::sheet::Step;
use notchpin::sheet::sheet;
use sentences::Folder;
use sentences::flat;
use sentences::small::CELL;
use sentences::small::narrow;
use serde_json::Value;

const CELLS: [&str; 7] = [
    "glaze-line",
    "glazing-bench",
    "inch-rows",
    "read-twice",
    "six-joint",
    "slips",
    "slips-undetermined",
];

fn folder(cell: &str) -> Folder {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    Folder::copy_of(&root.join(cell))
}

/// A sheet from the drawing alone.
fn drawn(cell: &str) -> (Read, Plan, Sheet) {
    let read = demo(cell, &[]);
    let geometry = read.bench.cell.nominal.clone();
    let plan = plan_or_settle(&read.bench, &read.unknowns, &geometry, 40, &mut |_| {}).unwrap();
    let job = Job::commissioning(&read.bench.cell, &plan);
    let sheet = sheet(&read.bench, &geometry, &plan, &job);
    (read, plan, sheet)
}

/// A sheet of one in `one_in` readings that could be taken, in a jumbled order, every fifth of them as a check: a
/// plan seldom asks for levels and heights where touches say more.
fn jumbled(cell: &str, one_in: usize) -> (Read, Plan, Sheet) {
    let (read, mut plan, _) = drawn(cell);
    let geometry = read.bench.cell.nominal.clone();
    let all = proposals(&read.bench, &read.unknowns, &geometry);
    let mut steps: Vec<PlanStep> = all
        .into_iter()
        .step_by(one_in)
        .enumerate()
        .map(|(k, proposal)| PlanStep {
            proposal,
            worst_mm: 1.0,
            point: 0,
            purpose: match k % 5 {
                0 => Purpose::Check,
                _ => Purpose::Sure,
            },
        })
        .collect();
    fastrand::Rng::with_seed(7).shuffle(&mut steps);
    plan.steps = steps;
    let job = Job::commissioning(&read.bench.cell, &plan);
    let sheet = sheet(&read.bench, &geometry, &plan, &job);
    assert_eq!(sheet.steps().count(), plan.steps.len());
    (read, plan, sheet)
}

/// All steps of `sheet --json`, in order.
fn steps(document: &Value) -> Vec<Value> {
    let groups = document["groups"].as_array().unwrap();
    let each = groups
        .iter()
        .flat_map(|g| g["steps"].as_array().unwrap().clone());
    each.collect()
}

fn numbers(document: &Value) -> Vec<u64> {
    let steps = steps(document);
    steps.iter().map(|s| s["step"].as_u64().unwrap()).collect()
}

/// By how many of its u a reading changes where a parameter changes by 1 mm or 1 degree: half of that to each
/// side, so that what is bent cancels.
fn moved(read: &Read, plan: &Plan, step: &Step, name: &str) -> f64 {
    let taken = &plan.steps[step.planned].proposal.taken;
    let p = Parameter::named(&read.bench.cell, name).unwrap();
    let at = |change: f64| {
        let mut geometry: Geometry = read.bench.cell.nominal.clone();
        let value = p.get(&geometry);
        p.set(&mut geometry, value + change * p.unit().in_code());
        let none = Unknowns::default();
        taken.reading.evaluate(&geometry, &none, None)
    };
    let (low, high) = (at(-0.5), at(0.5));
    let most = (0..low.count).map(|k| (high.value[k] - low.value[k]).abs() / taken.u);
    most.fold(0.0, f64::max)
}

/// Twice what the sheet itself takes for resting on something: what is near that border may go either way.
const CLEARLY: f64 = 0.2;

/// Each level and height stands with or after every joint on which it rests, in the usual order of setting;
/// what it rests on is found by differences of what would be read.
#[test]
fn what_a_joint_is_judged_by_stands_before_it() {
    let mut judged = 0;
    for cell in ["glazing-bench", "inch-rows", "six-joint"] {
        let (read, plan, sheet) = jumbled(cell, 7);
        let order = setting_order(&read.bench.cell);
        let mut last = (false, 0);
        for group in &sheet.groups {
            let check = group.heading.starts_with("Check: ");
            let heading = group.heading.trim_start_matches("Check: ");
            let Some(rest) = heading.strip_prefix("Joint ") else {
                continue;
            };
            let joint: usize = rest.split(' ').next().unwrap().parse().unwrap();
            let place = order.iter().position(|j| *j == joint - 1).unwrap();
            assert!((check, place) >= last, "{cell}: {heading}");
            last = (check, place);
            for step in &group.steps {
                for (at, j) in order.iter().enumerate() {
                    let by = moved(&read, &plan, step, &format!("arm.j{}.zero", j + 1));
                    judged += usize::from(by > CLEARLY);
                    assert!(
                        by < CLEARLY || at <= place,
                        "{cell} step {} rests on joint {}: {}",
                        step.number,
                        j + 1,
                        step.words
                    );
                }
            }
        }
    }
    assert!(judged > 100, "{judged}");
}

/// Whatever clearly changes with a part is named by the rule of that part, and no step before the one to start
/// again from changes with it.
#[test]
fn rules_name_all_that_no_longer_stands() {
    let parameters: &[(&str, &[&str])] = &[
        ("track", &["track.x", "track.y", "track.yaw", "track.z"]),
        ("mount", &["mount.x", "mount.y", "mount.yaw", "mount.pitch"]),
        ("tool", &["tool.x", "tool.y", "tool.z"]),
        (
            "turntable",
            &["turntable.x", "turntable.index", "turntable.switch"],
        ),
        ("j1", &["arm.j1.zero"]),
        ("j2", &["arm.j2.zero"]),
        ("j3", &["arm.j3.zero"]),
    ];
    for (cell, few) in [
        ("glazing-bench", true),
        ("six-joint", true),
        ("glazing-bench", false),
    ] {
        let (read, plan, sheet) = if few { drawn(cell) } else { jumbled(cell, 7) };
        let count = sheet.steps().count();
        let all: BTreeSet<usize> = (1..=count).collect();
        for rule in &sheet.rules {
            assert!(all.contains(&rule.from), "{rule:?}");
            assert_eq!(rule.steps.first(), Some(&rule.from));
            assert!(rule.steps.iter().all(|s| all.contains(s)));
        }
        assert_eq!(sheet.rules[0].about, "plate");
        assert_eq!(sheet.rules[0].steps.len(), count);
        for (about, names) in parameters {
            if read.bench.cell.track.is_none() && *about == "track" {
                assert!(sheet.rules.iter().all(|r| r.about != "track"));
                continue;
            }
            let rule = sheet.rules.iter().find(|r| r.about == *about);
            let rule = rule.unwrap_or_else(|| panic!("{cell}: no rule for {about}"));
            let mut clear = 0;
            for step in sheet.steps() {
                let by = names.iter().map(|n| moved(&read, &plan, step, n));
                if by.fold(0.0, f64::max) > CLEARLY {
                    clear += 1;
                    assert!(
                        rule.steps.contains(&step.number) && step.number >= rule.from,
                        "{cell}, {about}: {}",
                        step.words
                    );
                }
            }
            assert!(clear > 0, "{cell}, {about}");
        }
        // Each rule is told in the group that has its first step.
        for (k, rule) in sheet.rules.iter().enumerate() {
            let tells = sheet.groups.iter().filter(|g| g.rules.contains(&k));
            let tells: Vec<_> = tells.collect();
            assert_eq!(tells.len(), 1);
            assert!(tells[0].steps.iter().any(|s| s.number == rule.from));
        }
    }
}

/// What is set after a joint goes with it: by hand for an arm base, shoulder, elbow, wrist, roll, whose roll is
/// set first. The base's rule names shoulder, elbow and wrist, and the step from which the first of them is judged.
#[test]
fn a_disturbed_joint_spoils_what_was_set_after_it() {
    let (read, _, sheet) = jumbled("glazing-bench", 7);
    let joints = &read.bench.cell.joints;
    let names: Vec<&str> = joints.iter().map(|j| j.name.as_str()).collect();
    assert_eq!(names, ["base", "shoulder", "elbow", "wrist", "turn"]);
    let rule = |name: &str| sheet.rules.iter().find(|r| r.about == name).unwrap();
    let (base, wrist) = (rule("j1"), rule("j4"));
    assert!(base.then.contains("(shoulder, elbow, wrist)"));
    assert!(rule("j5").then.contains("(base, shoulder, elbow, wrist)"));
    assert_eq!(wrist.then, "its zero no longer stands");
    // Level readings tell nothing of the base; the first that goes with it is the first about the shoulder.
    let first = |heading: &str| {
        let group = sheet.groups.iter().find(|g| g.heading.starts_with(heading));
        group.map(|g| g.steps[0].number).unwrap()
    };
    assert_eq!(base.from, first("Joint 2 (shoulder)"));
    assert_eq!(rule("j2").from, first("Joint 2 (shoulder)"));
    assert_eq!(rule("j3").from, first("Joint 3 (elbow)"));
    assert_eq!(wrist.from, first("Joint 4 (wrist)"));
    assert!(base.from < rule("j3").from && rule("j3").from < wrist.from);
    assert!(first("Joint 5 (turn)") < base.from);
}

/// The track is driven once along and once back, the table once round and once back, and kinds stand in the
/// order in which they rest on each other.
#[test]
fn axes_go_there_once_and_back_once() {
    for cell in ["glazing-bench", "inch-rows"] {
        let (_, plan, sheet) = jumbled(cell, 1);
        let (mut tracks, mut turns) = (0, 0);
        for group in &sheet.groups {
            let cell_of = |step: &Step, column: &str| {
                let all = step.given.iter().chain(&step.drive);
                all.clone()
                    .find(|g| g.column == column)
                    .map(|g| g.text.clone())
            };
            for pair in group.steps.windows(2) {
                let approach = |k: usize| cell_of(&pair[k], "approach").unwrap();
                let table = |k: usize| {
                    plan.steps[pair[k].planned]
                        .proposal
                        .taken
                        .reading
                        .stand()
                        .table
                };
                if pair[0].kind == "holes.csv" {
                    tracks += 1;
                    let track =
                        |k: usize| cell_of(&pair[k], "track").unwrap().parse::<f64>().unwrap();
                    match (approach(0).as_str(), approach(1).as_str()) {
                        ("up", "up") => assert!(track(0) <= track(1)),
                        ("down", "down") => assert!(track(0) >= track(1)),
                        (first, second) => assert_eq!((first, second), ("up", "down")),
                    }
                }
                if pair[0].kind == "notch.csv" {
                    turns += 1;
                    // The inch cell's table counts clockwise: ccw is with falling readings there.
                    let sense = if cell == "inch-rows" { -1.0 } else { 1.0 };
                    let way = sense * (table(1) - table(0));
                    match (approach(0).as_str(), approach(1).as_str()) {
                        ("ccw", "ccw") => assert!(way >= 0.0),
                        ("cw", "cw") => assert!(way <= 0.0),
                        (first, second) => assert_eq!((first, second), ("ccw", "cw")),
                    }
                }
            }
        }
        assert!(tracks > 10 && turns > 10, "{cell}: {tracks} {turns}");
        let kinds = |check: bool| {
            let own = sheet
                .groups
                .iter()
                .filter(|g| g.heading.starts_with("Check: ") == check);
            let mut list: Vec<usize> = Vec::new();
            for group in own {
                list.push(match group.steps[0].kind {
                    "attitude.csv" if group.heading.contains("gravity") => 0,
                    "holes.csv" => 1,
                    "notch.csv" => 2,
                    "attitude.csv" | "height.csv" => 3,
                    _ => 4,
                });
            }
            list
        };
        for check in [false, true] {
            assert!(kinds(check).is_sorted(), "{cell}: {:?}", kinds(check));
        }
    }
}

/// Tags are balanced, attributes quoted, `&` and `<` escaped; nothing is loaded, run or sent.
fn well_formed(html: &str) {
    let body = html
        .strip_prefix("<!DOCTYPE html>\n")
        .expect("its type first");
    let mut open: Vec<&str> = Vec::new();
    let mut rest = body;
    while let Some(at) = rest.find('<') {
        text_is_escaped(&rest[..at]);
        let end = rest[at..].find('>').expect("the tag ends") + at;
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        let (closing, tag) = match tag.strip_prefix('/') {
            Some(name) => (true, name),
            None => (false, tag),
        };
        let (tag, empty) = match tag.strip_suffix('/') {
            Some(tag) => (tag, true),
            None => (tag, false),
        };
        let name = tag.split(char::is_whitespace).next().unwrap();
        assert!(name.chars().all(|c| c.is_ascii_alphanumeric()), "<{tag}>");
        assert!(
            !["script", "link", "img", "iframe", "object", "form"].contains(&name),
            "{tag}"
        );
        if closing {
            assert_eq!(open.pop(), Some(name), "</{name}>");
            continue;
        }
        let mut attributes = tag[name.len()..].trim();
        while !attributes.is_empty() {
            let (key, value) = attributes.split_once("=\"").expect("a quoted value");
            assert!(
                // Attributes of the drawing have capitals within, as viewBox.
                key.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')
                    && key.starts_with(|c: char| c.is_ascii_lowercase()),
                "{key}"
            );
            assert!(!["src", "href", "action"].contains(&key) && !key.starts_with("on"));
            let (value, more) = value.split_once('"').expect("the end of the value");
            text_is_escaped(value);
            attributes = more.trim_start();
        }
        match empty {
            true => assert!(
                ["meta", "input", "col", "rect", "path", "line"].contains(&name),
                "{name}"
            ),
            false => open.push(name),
        }
    }
    assert!(open.is_empty(), "{open:?}");
    assert!(rest.trim().is_empty());
    // A drawing names its language and parts of itself; nothing else is named.
    let own = html
        .replace("xmlns=\"http://www.w3.org/2000/svg\"", "")
        .replace("=\"url(#", "");
    for word in ["http:", "https:", "url(", "@import", "<script"] {
        assert!(!own.contains(word), "{word}");
    }
}

fn text_is_escaped(text: &str) {
    for (at, _) in text.match_indices('&') {
        let known = ["&amp;", "&lt;", "&gt;", "&quot;", "&#39;"];
        assert!(known.iter().any(|e| text[at..].starts_with(e)), "{text}");
    }
}

#[test]
fn the_checker_of_pages_can_fail() {
    for bad in [
        "<p><b></p></b>",
        "<p>a & b</p>",
        "<p class=x></p>",
        "<p>",
        "<input type=\"text\">",
        "<script></script>",
        "<a href=\"x\"></a>",
        "<p onclick=\"x\"></p>",
    ] {
        let page = format!("<!DOCTYPE html>\n{bad}");
        assert!(
            std::panic::catch_unwind(|| well_formed(&page)).is_err(),
            "{bad}"
        );
    }
    well_formed("<!DOCTYPE html>\n<p class=\"x\">a &amp; b<input type=\"text\"/></p>");
}

/// Every demo cell, in every form: each step has its number once in each of them, in order, and the cautions stand
/// there. A status of 1 says that the points are not all as sure as asked for.
#[test]
fn every_demo_cell_has_its_sheet_in_every_form() {
    for cell in CELLS {
        let folder = folder(cell);
        let most = ["--most", "25"];
        let run = |form: &str| {
            let answer = folder.run([&["sheet", form][..], &most].concat());
            assert!(answer.status < 2, "{cell}: {}", answer.err);
            answer
        };
        let document = run("--json").json();
        let count = steps(&document).len();
        assert!(count > 5, "{cell}: {count}");
        let expected: Vec<u64> = (1..=count as u64).collect();
        assert_eq!(numbers(&document), expected, "{cell}");
        let html = run("--html").out;
        well_formed(&html);
        let markdown = run("--markdown").out;
        narrow(&markdown);
        assert_eq!(markdown, folder.run([&["sheet"][..], &most].concat()).out);
        let numbers = |text: &str, before: &str, after: char| -> Vec<u64> {
            let parts = text.split(before).skip(1);
            parts
                .map(|p| p.split(after).next().unwrap().parse().unwrap())
                .collect()
        };
        assert_eq!(numbers(&html, "<tr id=\"step-", '"'), expected, "{cell}");
        assert_eq!(numbers(&markdown, "\n### Step ", ':'), expected, "{cell}");
        for text in [&html, &markdown] {
            let text = flat(text).replace("&quot;", "\"");
            for words in [
                "Hands and tools out of the arm's reach while it is powered",
                "10 % or less, never above 250 mm/s",
                "energy off and locked before reaching in",
                "prove each new position slowly first",
                "Never assume that the machine stands where a number says",
                "Local rules and qualified people decide",
                "valid for this state of the bench only",
                "taken as described",
                "Tool fitted",
                "signature",
                "notchpin enter",
                "start again from step 1",
            ] {
                let text = text.replace("&#39;", "'");
                assert!(text.contains(words), "{cell}: {words}");
            }
        }
        let cautions = |kind: &str, words: &str| {
            for group in document["groups"].as_array().unwrap() {
                let own = group["steps"].as_array().unwrap().iter();
                if own.clone().any(|s| s["reading"] == kind) {
                    let caution = group["caution"].as_str().unwrap();
                    assert!(caution.contains(words), "{cell}, {kind}: {caution}");
                }
            }
        };
        cautions("touch", "creep speed");
        cautions("hole count", "energy off and locked");
        cautions("notch at the switch", "Hands off the platter");
    }
}

/// Nobody shall read what he expects: what a reading would be, as drawn, stands nowhere in its step.
#[test]
fn what_is_expected_is_not_told() {
    let (_, plan, sheet) = drawn("glazing-bench");
    let mut looked_for = 0;
    for step in sheet.steps() {
        let draft = &plan.steps[step.planned].proposal.draft;
        let cells = step.given.iter().chain(&step.drive);
        let told: Vec<&str> = cells.map(|g| g.text.as_str()).collect();
        let all = format!("{} {}", step.words, told.join(" "));
        let numbers: Vec<&str> = all
            .split(|c: char| !c.is_ascii_digit() && c != '.' && c != '-')
            .collect();
        for (column, text) in &draft.expected {
            // Whole numbers such as counts may be those of a hole, a notch or a track reading.
            if text.contains('.') && !told.contains(&text.as_str()) {
                looked_for += 1;
                assert!(!numbers.contains(&text.as_str()), "{column}: {all}");
            }
            assert!(step.given.iter().all(|g| g.column != *column));
            assert!(
                step.fill
                    .iter()
                    .any(|f| f.column.starts_with(column.as_str()))
            );
        }
    }
    assert!(looked_for > 20, "{looked_for}");
    let answer = folder("glazing-bench").run(["sheet", "--json", "--most", "5"]);
    assert!(!answer.out.contains("expected"));
}

/// What a cell file says is text, never a part of the page.
#[test]
fn a_hostile_name_stays_a_name() {
    let name = r##"name = "<script>alert(1)</script> & 'x' \"y\" **b** `c` # d""##;
    let cell = CELL.replace("name = \"small bench\"", name);
    assert_ne!(cell, CELL);
    let folder = Folder::new(&cell);
    let page = folder.run(["sheet", "--html"]).out;
    well_formed(&page);
    assert!(page.contains("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#39;x&#39; &quot;y&quot;"));
    let text = folder.run(["sheet"]).out;
    let first = r#"# Working sheet: \<script\>alert(1)\</script\> \& 'x' "y" \*\*b\*\* \`c\` # d"#;
    assert_eq!(text.lines().next(), Some(first));
    // A file of the cell cannot say more than one line; what is handed over by others may.
    let (_, _, mut sheet) = drawn("six-joint");
    sheet.title = "a\n# b <b>\u{0}\u{7}&".to_owned();
    sheet.introduction = vec!["- one\n\n# two </p><script>".to_owned()];
    well_formed(&html(&sheet));
    let text = markdown(&sheet);
    assert!(text.contains("\n## a # b \\<b\\> \\&\n"), "{text}");
    assert!(
        text.contains("\n\\- one # two \\</p\\>\\<script\\>\n"),
        "{text}"
    );
}

#[test]
fn a_file_that_is_there_is_never_overwritten() {
    let folder = Folder::new(CELL);
    let file = folder.path("first.html");
    let out = file.to_str().unwrap();
    let told = folder.run(["sheet", "--most", "9", "--out", out]);
    assert!(told.status < 2, "{}", told.err);
    narrow(&told.out);
    let told = told.says("SHEET WRITTEN").says("Caution");
    assert!(told.out.contains("first.html"));
    let first = folder.read("first.html");
    well_formed(&first);
    folder
        .run(["sheet", "--most", "9", "--write", "--out", out])
        .ends(2)
        .answers_nothing()
        .complains("first.html")
        .complains("not overwritten");
    assert_eq!(folder.read("first.html"), first);
    assert!(
        !folder.path("readings").exists(),
        "nothing is laid out either"
    );
    let names = |folder: &Folder| {
        let all = std::fs::read_dir(folder.root()).unwrap();
        let all = all.map(|e| e.unwrap().file_name().into_string().unwrap());
        all.collect::<BTreeSet<String>>()
    };
    let before = names(&folder);
    for (name, words) in [
        ("sheet.pdf", "ends in .html or .md"),
        ("sheet", "ends in .html or .md"),
        ("nowhere/sheet.md", "a folder that exists"),
    ] {
        let path = folder.path(name);
        folder
            .run(["sheet", "--write", "--out", path.to_str().unwrap()])
            .ends(2)
            .complains(words);
    }
    let left = std::fs::read_dir(folder.path("readings"));
    assert_eq!(
        left.map_or(0, Iterator::count),
        0,
        "nothing is left laid out"
    );
    let mut after = names(&folder);
    after.remove("readings");
    assert_eq!(after, before);
    // The ending says the form.
    let file = folder.path("first.md");
    folder.run(["sheet", "--most", "9", "--out", file.to_str().unwrap()]);
    assert_eq!(
        folder.read("first.md"),
        folder.run(["sheet", "--most", "9"]).out
    );
    folder.run(["sheet", "--html", "--json"]).ends(2);
}

/// Each row that is laid out has the number of its step, once, with what the step gives; what was measured is blank,
/// and the folder is still read without a complaint.
#[test]
fn rows_are_laid_out_with_the_numbers_of_their_steps() {
    for cell in ["glazing-bench", "inch-rows", "six-joint"] {
        let folder = folder(cell);
        std::fs::remove_dir_all(folder.path("readings")).unwrap();
        let out = folder.path("sheet.md");
        let out = out.to_str().unwrap();
        let answer = folder.run(["sheet", "--write", "--json", "--out", out]);
        let document = answer.json();
        assert_eq!(document["sheet"], out);
        let mut rows: BTreeMap<u64, (String, BTreeMap<String, String>)> = BTreeMap::new();
        for file in document["written"].as_array().unwrap() {
            let file = file.as_str().unwrap();
            let text = folder.read(file);
            let mut lines = text.lines().filter(|l| !l.starts_with('#'));
            let header: Vec<&str> = lines.next().unwrap().split(',').collect();
            let mut last = 0;
            for line in lines {
                // Commas stand within quotes too: every second piece between quotes is inside of them.
                let pieces = line.split('"').enumerate();
                let inside = pieces.map(|(k, p)| match k % 2 {
                    0 => p.to_owned(),
                    _ => p.replace(',', ";"),
                });
                let line: String = inside.collect();
                let cells: Vec<&str> = line.split(',').collect();
                assert_eq!(cells.len(), header.len());
                let row: BTreeMap<String, String> = header
                    .iter()
                    .zip(&cells)
                    .filter(|(h, _)| **h != "note")
                    .map(|(h, c)| ((*h).to_owned(), (*c).to_owned()))
                    .collect();
                let step: u64 = row["step"].parse().unwrap();
                assert!(step > last, "{file}: rows stand in the order of the sheet");
                last = step;
                let before = rows.insert(step, (file.to_owned(), row));
                assert!(before.is_none(), "{cell}: step {step} twice");
            }
        }
        let sheet = folder.read("sheet.md");
        for step in steps(&document) {
            let number = step["step"].as_u64().unwrap();
            let (file, row) = rows.remove(&number).expect("a row");
            assert_eq!(step["file"], file.as_str());
            assert!(sheet.contains(&format!("- Row: {file}, step {number}\n")));
            for part in ["given", "drive"] {
                for (column, text) in step[part].as_object().unwrap() {
                    assert_eq!(row[column], text.as_str().unwrap(), "{cell} {number}");
                }
            }
            for fill in step["fill"].as_array().unwrap() {
                assert_eq!(row[fill["column"].as_str().unwrap()], "");
            }
        }
        assert!(rows.is_empty());
        folder.run(["check"]).says("not filled in yet");
    }
}

/// Commissioning takes no notice of readings; `--for more` plans what `plan` plans.
#[test]
fn what_is_planned_from() {
    let full = folder("glazing-bench");
    let document = full.run(["sheet", "--json"]).json();
    std::fs::remove_file(full.path("readings/touch.csv")).unwrap();
    assert_eq!(full.run(["sheet", "--json"]).json(), document);
    let more = full.run(["sheet", "--for", "more", "--json"]);
    let plan = full.run(["plan", "--json"]);
    assert_eq!(more.status, plan.status);
    let cells = |step: &Value| {
        let mut all = BTreeMap::new();
        for part in ["given", "drive", "cells"] {
            for (column, text) in step[part].as_object().into_iter().flatten() {
                all.insert(column.clone(), text.as_str().unwrap().to_owned());
            }
        }
        (step["words"].as_str().unwrap().to_owned(), all)
    };
    let of_sheet: BTreeSet<_> = steps(&more.json()).iter().map(cells).collect();
    let plan = plan.json();
    let of_plan: BTreeSet<_> = plan["steps"]
        .as_array()
        .unwrap()
        .iter()
        .map(cells)
        .collect();
    assert!(!of_plan.is_empty());
    assert_eq!(of_sheet, of_plan);
    assert_ne!(steps(&more.json()).len(), steps(&document).len());
    // Suspects are left out and must be cleared: a person must look.
    folder("slips").run(["sheet", "--for", "more"]).ends(1);
}

/// Without a point there is still something to measure: what [solve] names is settled.
#[test]
fn without_points_there_are_steps() {
    for cell in ["glazing-bench", "six-joint"] {
        let folder = folder(cell);
        for file in ["points.csv", "taught.csv"] {
            std::fs::remove_file(folder.path(file)).unwrap();
        }
        let answer = folder.run(["sheet", "--json"]).ends(1);
        assert!(steps(&answer.json()).len() > 5, "{cell}");
        folder
            .run(["sheet"])
            .ends(1)
            .says("so these readings aim at none");
        folder.run(["plan"]).ends(1).says("NO POINT TO AIM AT");
    }
}

/// A cell with few unknowns, and one with none: nothing is missing there.
#[test]
fn few_unknowns_or_none() {
    let folder = Folder::new(CELL);
    let answer = folder.run(["sheet", "--json"]);
    assert!(answer.status < 2, "{}", answer.err);
    assert!(!steps(&answer.json()).is_empty());
    let cell = CELL.split("[solve]").next().unwrap();
    let folder = Folder::new(cell);
    let out = folder.path("none.html");
    let answer = folder.run(["sheet", "--write", "--out", out.to_str().unwrap()]);
    assert!(answer.status < 2, "{}", answer.err);
    answer.says("There is no step to take");
    assert!(!out.exists() && !folder.path("readings").exists());
}

/// By hand: base, shoulder, elbow, wrist are set in this order after the roll.
#[test]
fn what_moved_is_told_with_what_is_set_again() {
    let (read, plan, _) = drawn("glazing-bench");
    let cell = &read.bench.cell;
    let names: Vec<&str> = cell.joints.iter().map(|j| j.name.as_str()).collect();
    let job = Job {
        title: "After a repair".to_owned(),
        introduction: vec!["The shoulder was apart.".to_owned()],
        moved: vec![Part::Joint(1), Part::Track],
        folder: "recheck".to_owned(),
    };
    let sheet = sheet(&read.bench, &cell.nominal, &plan, &job);
    let text = sheet.introduction.join(" ");
    assert!(text.starts_with("The shoulder was apart."));
    let again = format!(
        "After joint 2 ({}) these are set again, in this order: joint 3 ({}), joint 4 ({}).",
        names[1], names[2], names[3]
    );
    assert!(text.contains(&again), "{text}");
    assert!(text.contains("the track on the plate"), "{text}");
}

#[test]
fn inches_are_told_what_to_write() {
    folder("inch-rows")
        .run(["sheet", "--most", "6"])
        .says("If you read inches");
    let mm = folder("six-joint").run(["sheet", "--most", "6"]);
    assert!(!mm.out.contains("inches"));
}
