//! Writes the demo cells again, byte for byte, from their true values and seeds:
//!
//!     cargo run --release --example make_demo_cells            writes
//!     cargo run --release --example make_demo_cells -- --check compares, and writes nothing
//!
//! All that stands in the demo cells is invented. The last digit of a reading can differ on a
//! system whose sine or logarithm rounds otherwise.

mod generate;

use std::fs;
use std::path::Path;
use std::process::ExitCode;

fn main() -> ExitCode {
    let check = match std::env::args().nth(1).as_deref() {
        None => false,
        Some("--check") => true,
        Some(other) => {
            eprintln!("{other} is not known; --check compares, nothing writes");
            return ExitCode::from(2);
        }
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut different = 0;
    for demo in generate::all(root) {
        let folder = root.join("demo-cells").join(demo.name);
        for (name, text) in &demo.files {
            let path = folder.join(name);
            if fs::read_to_string(&path).is_ok_and(|there| there == *text) {
                continue;
            }
            different += 1;
            println!(
                "{} {}",
                if check { "differs:" } else { "written:" },
                path.display()
            );
            if check {
                continue;
            }
            let parent = path.parent().unwrap_or(&folder);
            if let Err(e) = fs::create_dir_all(parent).and_then(|()| fs::write(&path, text)) {
                eprintln!("{} cannot be written: {e}", path.display());
                return ExitCode::from(2);
            }
        }
        let (parameters, slips) = (demo.truth.len(), demo.slips.len());
        println!("{}: {parameters} true values, {slips} slips", demo.name);
    }
    match (check, different) {
        (true, 1..) => ExitCode::FAILURE,
        _ => ExitCode::SUCCESS,
    }
}
