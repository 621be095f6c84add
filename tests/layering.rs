//! The floors of the library: what each module may import, and that only the commands touch the
//! world. Imports are written ungrouped, as `use crate::units::Length;`, so that they can be read here.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// Lower floors know nothing of higher ones. `records` stands above the geometry, not above reach.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("diagnose", &[]),
    ("drawing", &["units"]),
    ("frames", &["units"]),
    ("cell", &["units", "frames", "diagnose"]),
    ("table", &["units", "diagnose"]),
    ("kinematics", &["units", "frames", "cell"]),
    ("clearance", &["units", "frames", "cell", "kinematics"]),
    ("parameters", &["cell", "kinematics"]),
    ("parts", &["cell", "parameters"]),
    (
        "readings",
        &[
            "units",
            "diagnose",
            "cell",
            "table",
            "kinematics",
            "parameters",
        ],
    ),
    (
        "points",
        &[
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "readings",
        ],
    ),
    (
        "fit",
        &[
            "units",
            "frames",
            "cell",
            "kinematics",
            "parameters",
            "readings",
        ],
    ),
    ("reach", &["units", "frames", "cell", "kinematics"]),
    (
        "bench",
        &["diagnose", "cell", "parameters", "readings", "points"],
    ),
    (
        "margins",
        &[
            "units",
            "cell",
            "kinematics",
            "clearance",
            "parameters",
            "readings",
            "fit",
            "reach",
        ],
    ),
    (
        "tasks",
        &[
            "units",
            "diagnose",
            "cell",
            "table",
            "kinematics",
            "clearance",
            "reach",
            "margins",
        ],
    ),
    (
        "causes",
        &[
            "units",
            "diagnose",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "readings",
            "fit",
            "bench",
        ],
    ),
    (
        "proposals",
        &[
            "units",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "readings",
            "reach",
            "fit",
            "bench",
        ],
    ),
    (
        "registration",
        &[
            "diagnose",
            "cell",
            "table",
            "parameters",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
        ],
    ),
    (
        "plan",
        &[
            "diagnose",
            "cell",
            "kinematics",
            "parameters",
            "readings",
            "fit",
            "bench",
            "proposals",
            "registration",
        ],
    ),
    (
        "records",
        &[
            "bench",
            "cell",
            "table",
            "parameters",
            "readings",
            "points",
            "registration",
        ],
    ),
    (
        "moves",
        &[
            "bench",
            "causes",
            "cell",
            "fit",
            "kinematics",
            "parameters",
            "parts",
            "proposals",
            "readings",
            "records",
            "table",
        ],
    ),
    (
        "transfer",
        &[
            "bench",
            "cell",
            "fit",
            "kinematics",
            "margins",
            "points",
            "reach",
            "readings",
            "records",
            "units",
        ],
    ),
    (
        "sheet",
        &[
            "cell",
            "kinematics",
            "parameters",
            "parts",
            "readings",
            "bench",
            "proposals",
            "plan",
        ],
    ),
    (
        "history",
        &[
            "bench",
            "cell",
            "parameters",
            "fit",
            "registration",
            "records",
        ],
    ),
    (
        "entry",
        &[
            "diagnose",
            "cell",
            "table",
            "parameters",
            "readings",
            "fit",
            "bench",
            "causes",
        ],
    ),
    (
        "report",
        &[
            "units",
            "drawing",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
        ],
    ),
    (
        "answers",
        &[
            "units",
            "drawing",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
            "report",
        ],
    ),
    (
        "pictures",
        &[
            "units",
            "drawing",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
            "report",
            "answers",
        ],
    ),
    (
        "paper",
        &[
            "units",
            "drawing",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
            "report",
            "pictures",
            "answers",
        ],
    ),
    (
        "view",
        &[
            "units",
            "drawing",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
            "report",
            "pictures",
            "answers",
        ],
    ),
    (
        "cli",
        &[
            "units",
            "clearance",
            "margins",
            "tasks",
            "diagnose",
            "frames",
            "cell",
            "table",
            "kinematics",
            "parameters",
            "parts",
            "moves",
            "transfer",
            "readings",
            "points",
            "fit",
            "reach",
            "bench",
            "causes",
            "proposals",
            "registration",
            "plan",
            "records",
            "sheet",
            "history",
            "entry",
            "report",
            "drawing",
            "answers",
            "pictures",
            "paper",
            "view",
        ],
    ),
];

/// Files, surroundings, the process and the terminal: the commands' work.
const WORLD: &[&str] = &[
    "std::fs",
    "std::env",
    "std::process",
    "println!",
    "print!",
    "eprintln!",
    "eprint!",
    "dbg!",
    "SystemTime",
];

/// What a text of one module names that it may not: module or forbidden word, with the line.
fn breaches(module: &str, text: &str, touches_nothing: bool) -> Vec<(usize, String)> {
    let allowed = MAY_IMPORT.iter().find(|(name, _)| *name == module);
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or_default();
        for (at, _) in code.match_indices("crate::") {
            let rest = &code[at + "crate::".len()..];
            let name: String = rest
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
                .collect();
            let fine = name == module
                || allowed.is_some_and(|(_, others)| others.contains(&name.as_str()));
            if !fine {
                let shown = if name.is_empty() {
                    rest.to_owned()
                } else {
                    name
                };
                found.push((number + 1, shown));
            }
        }
        if touches_nothing {
            for word in WORLD {
                let whole = |at: usize| {
                    let before = code[..at].chars().next_back();
                    !before.is_some_and(|c| c.is_ascii_alphanumeric() || c == '_')
                };
                if code.match_indices(word).any(|(at, _)| whole(at)) {
                    found.push((number + 1, (*word).to_owned()));
                }
            }
        }
    }
    found
}

fn sources(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// `src/fit/solve.rs` and `src/fit/mod.rs` are both `fit`; `src/diagnose.rs` is `diagnose`.
fn module_of(root: &Path, path: &Path) -> String {
    let first = path
        .strip_prefix(root)
        .unwrap()
        .components()
        .next()
        .unwrap();
    let first = first.as_os_str().to_str().unwrap();
    first.strip_suffix(".rs").unwrap_or(first).to_owned()
}

#[test]
fn no_module_reaches_above_its_floor() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    files.sort();
    let mut wrong = Vec::new();
    let mut looked_at = 0;
    for path in files {
        let module = module_of(&root, &path);
        if module == "lib" || module == "main" {
            continue;
        }
        assert!(
            MAY_IMPORT.iter().any(|(name, _)| *name == module),
            "{} belongs to no floor: add it to the table",
            path.display()
        );
        looked_at += 1;
        // Unit tests in files of their own may read reference values.
        let test = path
            .components()
            .any(|c| c.as_os_str() == "tests" || c.as_os_str() == "tests.rs");
        let text = fs::read_to_string(&path).unwrap();
        for (line, name) in breaches(&module, &text, module != "cli" && !test) {
            wrong.push(format!(
                "{}:{line}: {module} may not use {name}",
                path.display()
            ));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
    assert!(looked_at > 50, "only {looked_at} files were found");
}

#[test]
fn every_floor_exists_and_stands_on_lower_ones() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    for (place, (name, others)) in MAY_IMPORT.iter().enumerate() {
        let there = root.join(name).is_dir() || root.join(format!("{name}.rs")).is_file();
        assert!(there, "no module {name}");
        for other in *others {
            let below = MAY_IMPORT[..place].iter().any(|(lower, _)| lower == other);
            assert!(below, "{name} stands on {other}, which is not below it");
        }
    }
}

#[test]
fn the_library_lists_no_module_outside_the_table() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let text = fs::read_to_string(root.join("lib.rs")).unwrap();
    let mut listed: Vec<&str> = text
        .lines()
        .filter_map(|l| l.trim().trim_start_matches("pub ").strip_prefix("mod "))
        .map(|l| l.trim_end_matches(';'))
        .collect();
    let mut known: Vec<&str> = MAY_IMPORT.iter().map(|(name, _)| *name).collect();
    listed.sort_unstable();
    known.sort_unstable();
    assert_eq!(listed, known);
}

#[test]
fn the_checker_can_fail() {
    let names = |module: &str, text: &str| -> Vec<String> {
        breaches(module, text, module != "cli")
            .into_iter()
            .map(|(_, name)| name)
            .collect()
    };
    assert_eq!(names("frames", "use crate::cli::Args;"), ["cli"]);
    assert_eq!(
        names("kinematics", "\nlet x = crate::fit::solve();"),
        ["fit"]
    );
    assert_eq!(
        breaches("reach", "\n\nuse crate::fit::spread::Spread;", true)[0].0,
        3
    );
    assert_eq!(names("cell", "use crate::{units, fit};"), ["{units, fit};"]);
    assert_eq!(names("report", "println!(\"{x}\");"), ["println!"]);
    assert_eq!(names("records", "use std::fs;"), ["std::fs"]);
    // What is allowed, and what only looks like a breach.
    assert!(names("fit", "use crate::cell::Geometry;").is_empty());
    assert!(names("fit", "// use crate::cli::Args;").is_empty());
    assert!(names("cli", "use std::fs; println!();").is_empty());
}
