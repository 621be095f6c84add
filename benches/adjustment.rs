//! The joint adjustment from start values to covariance; with and without what is judged on top.

#![allow(missing_docs)]

mod support;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::fit::adjust::Network;
use notchpin::fit::assess::assess;
use notchpin::fit::robust::robust;
use notchpin::fit::solve::Solver;
use notchpin::readings::Taken;
use std::hint::black_box;

fn adjustment(c: &mut Criterion) {
    let all: Vec<&str> = support::FEW.iter().chain(support::MORE).copied().collect();
    for (name, unknown, counts, notches, touches) in [
        ("small", support::FEW, 12, 12, 29),
        ("large", &all[..], 200, 60, 1392),
    ] {
        let (bench, unknowns) = support::bench(unknown, counts, notches, touches);
        let used: Vec<&Taken> = bench.taken.iter().collect();
        let mut network = Network::new(&bench.cell.nominal, &unknowns, used);
        let start = network.nominal().to_vec();
        let mut solver = Solver::new();
        let minimum = network.minimum_from(&mut solver, &start);
        println!(
            "{name}: {} readings, {} residuals, {} unknowns, {} steps, sigma0 {:.2}, {}",
            bench.taken.len(),
            network.reading_rows(),
            unknowns.len(),
            minimum.iterations,
            (minimum.chi2 / network.reading_rows() as f64).sqrt(),
            minimum.ending,
        );
        // The least of many runs says what the code costs when nothing else runs on the machine.
        let mut least = f64::INFINITY;
        for _ in 0..if name == "small" { 3000 } else { 60 } {
            let begin = std::time::Instant::now();
            let solution = solver.solve(&mut network, black_box(&start));
            black_box(solution.factor.covariance().expect("determined"));
            least = least.min(begin.elapsed().as_secs_f64());
        }
        println!("{name}: least of many runs {:.1} us", 1e6 * least);
        c.bench_function(&format!("adjustment/{name}/to_covariance"), |b| {
            b.iter(|| {
                let solution = solver.solve(&mut network, black_box(&start));
                black_box(solution.factor.covariance().expect("determined"))
            })
        });
        c.bench_function(&format!("adjustment/{name}/robust"), |b| {
            b.iter(|| black_box(robust(&mut network, black_box(&minimum.x)).expect("settled")))
        });
        c.bench_function(&format!("adjustment/{name}/judged"), |b| {
            b.iter(|| {
                let minimum = network.minimum_from(&mut solver, black_box(&start));
                black_box(assess(&network, &minimum).expect("determined"))
            })
        });
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(30).measurement_time(std::time::Duration::from_secs(3));
    targets = adjustment
}
criterion_main!(benches);
