//! Speed of the inverse, of the forward chain with its derivatives, and of a recommendation.

#[path = "../tests/reach_support/mod.rs"]
mod reach_support;

use std::hint::black_box;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::cell::Belongs;
use notchpin::kinematics::ArmScene;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::grid;
use notchpin::reach::recommend;
use notchpin::reach::track_intervals;
use reach_support::*;

fn reach(c: &mut Criterion) {
    let arms = fives();
    let wanted = Wanted {
        frame: Belongs::Platter,
        at_mm: v(60.0, -40.0, 30.0),
        elevation_rad: Some(deg(-60.0)),
        azimuth_rad: None,
        roll_rad: Some(0.4),
    };
    let down = Wanted {
        elevation_rad: Some(deg(-90.0)),
        ..wanted
    };
    for name in ["plain", "out of true"] {
        let cell = &arms.iter().find(|a| a.0 == name).expect("arm").1;
        let solver = Solver::new(cell, &cell.nominal);
        c.bench_function(
            &format!("closed form unpolished, straight down, {name}"),
            |b| b.iter(|| solver.seeds_only(black_box(&down), black_box(300.0), black_box(0.3))),
        );
        c.bench_function(&format!("all solutions, polished, {name}"), |b| {
            let mut out = Vec::new();
            b.iter(|| {
                solver.solve(
                    black_box(&wanted),
                    black_box(300.0),
                    black_box(0.3),
                    &mut out,
                )
            })
        });
        let g = grid(cell, &cell.nominal, Belongs::Platter, None, None).expect("grid");
        c.bench_function(
            &format!(
                "recommend, {} stations, {name}",
                g.track.len() * g.table.len()
            ),
            |b| b.iter(|| recommend(&solver, black_box(&wanted), &g)),
        );
        c.bench_function(&format!("track intervals, one table angle, {name}"), |b| {
            b.iter(|| track_intervals(&solver, black_box(&wanted), &[0.0]))
        });
    }
    let cell = &arms[0].1;
    let q = [0.1, 0.4, 0.7, -0.3, 0.5];
    c.bench_function("forward chain with derivatives", |b| {
        b.iter(|| {
            let scene = ArmScene::new(&cell.nominal, black_box(300.0), black_box(&q));
            let j: [_; 5] = std::array::from_fn(|k| scene.joint_twist(k).of_point(&scene.tip_mm));
            (scene.tip_mm, scene.tool_axes, j)
        })
    });
}

criterion_group!(benches, reach);
criterion_main!(benches);
