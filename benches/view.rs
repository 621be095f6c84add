//! Speed of the answers of the page: a tip, a carriage and a joint dragged, and a stand. From the question as
//! it comes in to the answer as JSON; the network is not in it.

use std::fs;
use std::hint::black_box;
use std::path::Path;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use nalgebra::DMatrix;
use notchpin::answers::force::Force;
use notchpin::bench::Bench;
use notchpin::cell;
use notchpin::diagnose::Problems;
use notchpin::pictures::scene::Known;
use notchpin::points;
use notchpin::registration::resolve_unknowns;
use notchpin::view::Ground;
use notchpin::view::Session;
use notchpin::view::tell::Residuals;
use serde_json::json;

/// A demo cell, with a covariance that is invented: how long it takes does not hang on what stands in it.
fn ground(name: &str) -> Ground {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-cells")
        .join(name);
    let mut problems = Problems::default();
    let text = fs::read_to_string(root.join("cell.toml")).expect("a cell file");
    let cell = cell::parse("cell.toml", &text, &mut problems).expect("a cell");
    let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems).expect("unknowns");
    let n = unknowns.len();
    let mut bench = Bench::new(cell);
    let taught = fs::read(root.join("taught.csv")).expect("taught points");
    bench.taught = points::read_taught("taught.csv", &taught, &bench.cell, &mut problems);
    let force = Force {
        sure: Some((unknowns, DMatrix::identity(n, n) * 1e-6)),
        ..Force::drawn(&bench.cell)
    };
    Ground::new(
        bench,
        (Some(force), None),
        Vec::new(),
        Vec::new(),
        Residuals::default(),
        Known::default(),
    )
}

fn view(c: &mut Criterion) {
    for name in ["glazing-bench", "six-joint"] {
        let ground = ground(name);
        let session = Session::new(&ground);
        let told = session.cell().expect("a cell");
        let start = &told.start["registered"];
        let stand = &start.stand;
        let mut ask = |what: &str, body: serde_json::Value, question: &str| {
            let body = body.to_string();
            let answer = session.answer(question, body.as_bytes());
            assert!(matches!(answer, Some(Ok(_))), "{what}: {answer:?}");
            c.bench_function(&format!("{name}: {what}"), |b| {
                b.iter(|| session.answer(question, black_box(body.as_bytes())));
            });
        };
        let mut drag = |what: &str, handle: &str, key: &str, to: [f64; 2]| {
            let body = json!({"geometry": "registered", "stand": stand, "handle": handle, "view": "plan", key: to});
            ask(what, body, "drag");
        };
        drag("tip by 5 mm", "tip", "by_mm", [4.0, 3.0]);
        drag("tip out of reach", "tip", "by_mm", [0.0, 2000.0]);
        if stand.track.is_some() {
            drag("carriage", "track", "to", [300.0, 200.0]);
        }
        drag("joint", "j1", "to", [300.0, 200.0]);
        ask(
            "stand",
            json!({"geometry": "registered", "stand": stand}),
            "stand",
        );
    }
}

criterion_group!(benches, view);
criterion_main!(benches);
