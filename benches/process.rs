//! Whole commands as processes, on copies of the demo cells, beside a command that does nothing.

#![allow(missing_docs)]

use std::hint::black_box;
use std::path::Path;
use std::process::Command;
use std::process::Stdio;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;

fn run(program: &str, arguments: &[&str], folder: &Path) {
    let status = Command::new(program)
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("the program starts");
    black_box(status);
}

fn process(c: &mut Criterion) {
    let program = env!("CARGO_BIN_EXE_notchpin");
    let demos = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    c.bench_function("process/true", |b| b.iter(|| run("true", &[], &demos)));
    c.bench_function("process/version", |b| {
        b.iter(|| run(program, &["--version"], &demos))
    });
    for cell in ["glazing-bench", "inch-rows", "six-joint"] {
        let arguments = ["register", cell, "--no-record"];
        c.bench_function(&format!("process/register/{cell}"), |b| {
            b.iter(|| run(program, &arguments, &demos))
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(30).measurement_time(std::time::Duration::from_secs(3));
    targets = process
}
criterion_main!(benches);
