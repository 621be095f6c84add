//! Rigid frame from 4, 20 and 1,000 point pairs. Seeded data; one call is one fit with rotation, translation, rmsd and flags.

use std::hint::black_box;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use nalgebra::Rotation3;
use nalgebra::Vector3;
use notchpin::fit::standalone::rigid;

/// Pairs with 0.1 of scatter, from a small congruential generator.
fn pairs(n: usize) -> (Vec<Vector3<f64>>, Vec<Vector3<f64>>) {
    let mut state: u64 = 20_240_517;
    let mut next = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    let turn = *Rotation3::from_euler_angles(0.3, -0.5, 2.1).matrix();
    let mut point = |size: f64| Vector3::new(next(), next(), next()) * size;
    let source: Vec<_> = (0..n).map(|_| point(600.0)).collect();
    let target = source
        .iter()
        .map(|p| turn * p + Vector3::new(410.0, 220.0, 35.0) + point(0.2))
        .collect();
    (source, target)
}

fn bench(c: &mut Criterion) {
    for n in [4, 20, 1000] {
        let (source, target) = pairs(n);
        c.bench_function(&format!("rigid/{n}"), |b| {
            b.iter(|| rigid::fit(black_box(&source), black_box(&target), None))
        });
    }
    let (source, target) = pairs(4);
    c.bench_function("rigid about z/4", |b| {
        b.iter(|| rigid::fit_about_z(black_box(&source), black_box(&target), None))
    });
}

criterion_group!(benches, bench);
criterion_main!(benches);
