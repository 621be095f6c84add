//! The floors of the library: what each module may import, and that only the commands touch the
//! world. Imports are written ungrouped, as `use crate::units::Length;`, so that they can be read here.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

/// Each module with the highest ones that it stands on: it may import these and all that they stand on. Lower
/// floors know nothing of higher ones. `records` stands above the geometry, not above reach.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("diagnose", &[]),
    ("drawing", &["units"]),
    ("frames", &["units"]),
    ("cell", &["diagnose", "frames"]),
    ("table", &["units", "diagnose"]),
    ("kinematics", &["cell"]),
    ("clearance", &["kinematics"]),
    ("parameters", &["kinematics"]),
    ("parts", &["parameters"]),
    ("readings", &["table", "parameters"]),
    ("points", &["readings"]),
    ("fit", &["readings"]),
    ("reach", &["kinematics"]),
    ("bench", &["points"]),
    ("margins", &["clearance", "fit", "reach"]),
    ("tasks", &["margins"]),
    ("causes", &["fit", "bench"]),
    ("proposals", &["fit", "reach", "bench"]),
    ("registration", &["causes", "proposals"]),
    ("plan", &["registration"]),
    ("records", &["registration"]),
    ("moves", &["parts", "records"]),
    ("transfer", &["margins", "records"]),
    ("sheet", &["parts", "plan"]),
    ("history", &["records"]),
    ("entry", &["causes"]),
    (
        "report",
        &[
            "drawing", "tasks", "moves", "transfer", "sheet", "history", "entry",
        ],
    ),
    ("answers", &["report"]),
    ("pictures", &["answers"]),
    ("paper", &["pictures"]),
    ("view", &["pictures"]),
    ("cli", &["paper", "view"]),
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

/// Whether a module stands on another one, in one step or more.
fn stands_on(module: &str, other: &str) -> bool {
    let floor = MAY_IMPORT.iter().find(|(name, _)| *name == module);
    floor.is_some_and(|(_, others)| {
        let mut others = others.iter();
        others.any(|lower| *lower == other || stands_on(lower, other))
    })
}

/// What a text of one module names that it may not: module or forbidden word, with the line.
fn breaches(module: &str, text: &str, touches_nothing: bool) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let code = line.split("//").next().unwrap_or_default();
        for (at, _) in code.match_indices("crate::") {
            let rest = &code[at + "crate::".len()..];
            let name: String = rest
                .chars()
                .take_while(|c| c.is_ascii_alphanumeric() || *c == '_')
                .collect();
            let fine = name == module || stands_on(module, &name);
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
