//! The demo cells: they are what their generator makes, and the program finds in them what was put
//! there.

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Output;
use std::sync::OnceLock;

use serde_json::Value;

#[path = "../examples/make_demo_cells/generate/mod.rs"]
mod generate;

use generate::Demo;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Generated once for all tests.
fn demos() -> &'static [Demo] {
    static ALL: OnceLock<Vec<Demo>> = OnceLock::new();
    ALL.get_or_init(|| generate::all(root()))
}

fn demo(name: &str) -> Demo {
    let mut all = demos().iter().cloned();
    all.find(|d| d.name == name).expect("a demo cell")
}

fn notchpin(arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_notchpin"));
    command.args(arguments).output().expect("the program runs")
}

/// A copy of a demo cell, laid out by the program itself.
fn laid_out(name: &str) -> (tempfile::TempDir, PathBuf) {
    let beside = tempfile::tempdir().expect("a temporary folder");
    let cell = beside.path().join("cell");
    let done = notchpin(&["new", cell.to_str().expect("UTF-8"), "--from", name]);
    assert_eq!(done.status.code(), Some(0), "{done:?}");
    (beside, cell)
}

fn register(cell: &Path) -> (Option<i32>, Value) {
    let path = cell.to_str().expect("UTF-8");
    let done = notchpin(&["register", path, "--json", "--no-record"]);
    assert!(
        done.stderr.is_empty(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let document = serde_json::from_slice(&done.stdout).expect("JSON");
    (done.status.code(), document)
}

/// Solved values lie within four standard uncertainties of the true ones.
fn assert_true(demo: &Demo, document: &Value) {
    let parameters = document["parameters"].as_array().expect("parameters");
    assert_eq!(parameters.len(), demo.truth.len());
    for p in parameters {
        let name = p["name"].as_str().expect("a name");
        let (value, u) = (p["value"].as_f64(), p["u"].as_f64());
        let (value, u) = (value.expect("a value"), u.expect("an uncertainty"));
        let truth = demo
            .truth
            .iter()
            .find(|(n, _)| n == name)
            .expect("a true value")
            .1;
        let off = (value - truth) / u;
        assert!(
            off.abs() < 4.0,
            "{}: {name}: {value} ± {u}, true {truth}",
            demo.name
        );
    }
}

#[test]
fn the_committed_files_are_what_the_generator_makes() {
    for demo in demos() {
        let folder = root().join("demo-cells").join(demo.name);
        for (name, text) in &demo.files {
            let there = fs::read_to_string(folder.join(name)).expect("a committed file");
            assert_eq!(
                &there, text,
                "{}/{name}: run the example make_demo_cells",
                demo.name
            );
        }
    }
}

#[test]
fn honest_cells_are_accepted_near_their_true_values() {
    for name in ["glazing-bench", "inch-rows", "six-joint"] {
        let demo = demo(name);
        let (_beside, cell) = laid_out(name);
        let (status, document) = register(&cell);
        assert_eq!(
            (status, &document["verdict"]),
            (Some(0), &Value::from("accepted")),
            "{name}"
        );
        assert_true(&demo, &document);
        for p in document["parameters"].as_array().expect("parameters") {
            assert_eq!(p["weak"], Value::from(false), "{name}: {p}");
        }
        for p in document["points"].as_array().expect("points") {
            assert!(p["u95_mm"].is_f64(), "{name}: {p}");
        }
        assert_eq!(
            document["by_tolerance_only"],
            serde_json::json!([]),
            "{name}"
        );
    }
}

/// The reading with the largest standardised residual: file and line.
fn worst(document: &Value) -> (String, usize, f64) {
    let size = |r: &Value| r["standardized"].as_f64().unwrap_or(0.0).abs();
    let readings = document["readings"].as_array().expect("readings");
    let worst = readings
        .iter()
        .max_by(|a, b| size(a).total_cmp(&size(b)))
        .expect("one");
    let line = worst["line"].as_u64().expect("a line") as usize;
    (
        worst["file"].as_str().expect("a file").to_owned(),
        line,
        size(worst),
    )
}

/// Writes what should have been written.
fn mend(cell: &Path, slip: &generate::Slip) {
    let path = cell.join(&slip.file);
    let text = fs::read_to_string(&path).expect("readings");
    let header = text
        .lines()
        .find(|l| !l.starts_with('#'))
        .expect("a header");
    let slot = header
        .split(',')
        .position(|c| c == slip.column)
        .expect("the column");
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut cells: Vec<&str> = lines[slip.line - 1].split(',').collect();
    assert_eq!(cells[slot], slip.written);
    cells[slot] = &slip.right;
    lines[slip.line - 1] = cells.join(",");
    fs::write(&path, lines.join("\n") + "\n").expect("readings written");
}

#[test]
fn the_worst_reading_is_a_slip_each_time_until_all_are_mended() {
    let mut demo = demo("slips");
    let (_beside, cell) = laid_out("slips");
    assert_eq!(demo.slips.len(), 3);
    let (_, first) = register(&cell);
    for slip in &demo.slips {
        let readings = first["readings"].as_array().expect("readings");
        let suspect = readings.iter().any(|r| {
            r["suspect"] == true
                && r["file"].as_str() == Some(slip.file.as_str())
                && r["line"].as_u64() == Some(slip.line as u64)
        });
        assert!(suspect, "{slip:?}");
    }
    while !demo.slips.is_empty() {
        let (status, document) = register(&cell);
        assert_eq!(
            (status, &document["verdict"]),
            (Some(1), &Value::from("look"))
        );
        let (file, line, size) = worst(&document);
        assert!(size > 3.29);
        let planted = |s: &generate::Slip| s.file == file && s.line == line;
        let found = demo.slips.iter().position(planted);
        let slip = demo
            .slips
            .remove(found.unwrap_or_else(|| panic!("{file} line {line}")));
        mend(&cell, &slip);
    }
    let (status, document) = register(&cell);
    assert_eq!(
        (status, &document["verdict"]),
        (Some(0), &Value::from("accepted"))
    );
    assert_true(&demo, &document);
}

#[test]
fn index_and_switch_without_a_platter_touch_are_undetermined() {
    let (_beside, cell) = laid_out("slips-undetermined");
    let (status, document) = register(&cell);
    assert_eq!(
        (status, &document["verdict"]),
        (Some(2), &Value::from("undetermined"))
    );
    let free = document["undetermined"].as_array().expect("a list");
    assert_eq!(free.len(), 1);
    let names: Vec<_> = free[0]["parameters"]
        .as_array()
        .expect("a list")
        .iter()
        .collect();
    let mut names: Vec<_> = names.iter().filter_map(|p| p["name"].as_str()).collect();
    names.sort_unstable();
    assert_eq!(names, ["turntable.index", "turntable.switch"]);
}

#[test]
fn what_new_suggests_can_be_run() {
    for demo in demos() {
        let beside = tempfile::tempdir().expect("a temporary folder");
        let cell = beside.path().join("cell");
        let path = cell.to_str().expect("UTF-8");
        let done = notchpin(&["new", path, "--from", demo.name]);
        let told = String::from_utf8(done.stdout).expect("UTF-8");
        assert!(
            told.contains("invented") && told.contains("Caution"),
            "{told}"
        );
        let registered = notchpin(&["register", path, "-q"]);
        assert!(!registered.stdout.is_empty());
        let line = told
            .lines()
            .find(|l| l.starts_with("  notchpin tip "))
            .expect("a tip command");
        let words: Vec<&str> = line.split_whitespace().skip(1).collect();
        let tip = notchpin(&words);
        assert_eq!(tip.status.code(), Some(0), "{}: {line}: {tip:?}", demo.name);
    }
}

#[test]
fn new_lists_each_demo_cell_and_holds_all_its_files() {
    let listed = String::from_utf8(notchpin(&["new", "--list"]).stdout).expect("UTF-8");
    for demo in demos() {
        assert!(listed.contains(demo.name), "{listed}");
        let (_beside, cell) = laid_out(demo.name);
        for (name, text) in demo.files.iter().filter(|(n, _)| n != "truth.json") {
            assert_eq!(
                &fs::read_to_string(cell.join(name)).expect("laid out"),
                text
            );
        }
        assert!(!cell.join("truth.json").exists());
        for name in ["cell.toml", "README.md"] {
            let own = fs::read(root().join("demo-cells").join(demo.name).join(name));
            assert_eq!(
                own.expect("there"),
                fs::read(cell.join(name)).expect("laid out")
            );
        }
    }
}

fn names_in(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let name = |e: std::io::Result<fs::DirEntry>| e.expect("an entry").file_name();
    entries
        .map(|e| name(e).to_string_lossy().into_owned())
        .collect()
}

#[test]
fn new_takes_an_empty_folder_and_leaves_anything_else_alone() {
    let beside = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| beside.path().join(name);
    fs::create_dir(at("empty")).expect("made");
    fs::create_dir(at("full")).expect("made");
    fs::write(at("full").join("notes.txt"), "mine").expect("written");
    fs::write(at("file"), "mine").expect("written");
    let run = |name: &str| notchpin(&["new", at(name).to_str().expect("UTF-8")]);
    assert_eq!(run("empty").status.code(), Some(0));
    assert!(at("empty").join("cell.toml").exists());
    for name in ["full", "file", "missing/inside", "empty"] {
        let done = run(name);
        assert_eq!(done.status.code(), Some(2), "{name}");
        assert!(done.stdout.is_empty());
        let told = String::from_utf8(done.stderr).expect("UTF-8");
        assert!(told.contains("Nothing was written"), "{told}");
    }
    assert_eq!(names_in(&at("full")), ["notes.txt"]);
    let mut names = names_in(beside.path());
    names.sort();
    assert_eq!(names, ["empty", "file", "full"]);
    let unknown = notchpin(&["new", at("x").to_str().expect("UTF-8"), "--from", "slip"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&unknown.stderr).contains("--from slips"));
    // The folder that one stands in.
    fs::create_dir(at("here")).expect("made");
    let mut command = Command::new(env!("CARGO_BIN_EXE_notchpin"));
    let done = command
        .args(["new", "."])
        .current_dir(at("here"))
        .output()
        .expect("runs");
    assert_eq!(done.status.code(), Some(2));
    assert!(names_in(&at("here")).is_empty());
}
