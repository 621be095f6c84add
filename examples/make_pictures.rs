//! Draws the pictures of README and docs/ from the demo cells, into docs/pictures:
//!
//! ```text
//! cargo run --release --example make_pictures
//! cargo run --release --example make_pictures -- --check
//! ```
//!
//! With `--check` nothing is written; a picture that is not as it would be drawn now ends it with status 1.

use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::Path;
use std::process::ExitCode;

/// A demo cell, its drawings that stand in the documents, and the names they have there.
const WANTED: &[(&str, &[(&str, &str)])] = &[
    (
        "glazing-bench",
        &[
            ("plan", "bench-plan"),
            ("elevation", "bench-elevation"),
            ("residuals-plan", "bench-residuals"),
            ("track-line", "bench-track"),
            ("notch-dial", "bench-dial"),
            ("joints", "bench-joints"),
            ("contributions", "bench-contributions"),
        ],
    ),
    ("slips", &[("residuals-plan", "slips-residuals")]),
    (
        "glaze-line",
        &[
            ("plan", "line-plan"),
            ("reach-lanes", "line-reach"),
            ("reach-map", "line-map"),
        ],
    ),
];

fn command(arguments: &[&str]) -> ExitCode {
    let all = std::iter::once("notchpin").chain(arguments.iter().copied());
    notchpin::cli::run(all.map(OsString::from))
}

fn main() -> io::Result<ExitCode> {
    let check = std::env::args().any(|a| a == "--check");
    let stale = pictures(check)?;
    for file in &stale {
        eprintln!("{file} is not as it would be drawn now");
    }
    Ok(match stale.is_empty() {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    })
}

/// Draws all pictures. Those that are not as they would be drawn now, if only that is asked for.
pub fn pictures(check: bool) -> io::Result<Vec<String>> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let into = root.join("docs/pictures");
    let mut stale = Vec::new();
    for (cell, pictures) in WANTED {
        let place = tempfile::tempdir()?;
        let copy = place.path().join(cell);
        let drawn = place.path().join("drawn");
        let names = [&copy, &drawn].map(|p| p.display().to_string());
        command(&["new", &names[0], "--from", cell, "-q"]);
        command(&["register", &names[0], "-q"]);
        command(&["report", &names[0], "--svg", &names[1], "-q"]);
        for (from, to) in *pictures {
            let text = fs::read_to_string(drawn.join(format!("{from}.svg")))?;
            let file = into.join(format!("{to}.svg"));
            if check {
                let there = fs::read_to_string(&file).unwrap_or_default();
                if there != text {
                    stale.push(file.display().to_string());
                }
            } else {
                fs::create_dir_all(&into)?;
                fs::write(&file, text)?;
                eprintln!("{}", file.display());
            }
        }
    }
    Ok(stale)
}
