//! A task of 200 steps on the demo cell with keep-outs: planned whole, every way proved.

#[path = "../tests/bench/mod.rs"]
mod bench;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::clearance::Surroundings;
use notchpin::reach::Solver;
use notchpin::reach::Wanted;
use notchpin::reach::table_nodes;
use notchpin::reach::track_nodes;
use notchpin::tasks::Along;
use notchpin::tasks::Held;
use notchpin::tasks::Job;
use notchpin::tasks::Prefer;
use notchpin::tasks::Step;
use notchpin::tasks::Task;

fn task(c: &mut Criterion) {
    let mut group = c.benchmark_group("task");
    group.sample_size(10);
    for clear in [true, false] {
        let mut bench = bench::demo("glaze-line", &[]).bench;
        if !clear {
            bench.cell.bodies.clear();
        }
        let cell = &bench.cell;
        let solver = Solver::new(cell, &cell.nominal);
        let surroundings = Surroundings::new(cell, &cell.nominal);
        let points = bench.points.iter().filter(|p| p.azimuth_rad.is_none());
        let points: Vec<_> = points.collect();
        // Every step is another point: shifted by a little, so that none was looked at before.
        let jobs: Vec<Job> = (0..200)
            .map(|k| {
                let p = points[k % points.len()];
                let mut at_mm = p.at_mm;
                at_mm.z += 0.1 * (k / points.len()) as f64;
                Job {
                    step: Step {
                        point: p.name.clone(),
                        approach_mm: 40.0,
                        depart_mm: 40.0,
                        along: Along::Up,
                        dwell_s: None,
                        track: Held::Free,
                        table: Held::Free,
                        note: String::new(),
                        line: k + 2,
                    },
                    wanted: Wanted {
                        frame: p.frame,
                        at_mm,
                        elevation_rad: p.elevation_rad,
                        azimuth_rad: p.azimuth_rad,
                        roll_rad: p.roll_rad,
                    },
                }
            })
            .collect();
        let tracks = track_nodes(cell, &cell.nominal, 48).expect("a travel");
        let tables = table_nodes(cell, &cell.nominal, 15.0);
        let task = Task {
            cell,
            solver: &solver,
            surroundings: &surroundings,
            jobs: &jobs,
            tracks: &tracks,
            tables: &tables,
            prefer: Prefer::Fewest,
        };
        let words = if clear {
            "four capsules, six keep-outs"
        } else {
            "no capsules"
        };
        println!("{words}: good {}", task.plan(&mut |_| {}).is_good());
        group.bench_function(format!("200 steps, {words}"), |b| {
            b.iter(|| task.plan(&mut |_| {}))
        });
    }
}

criterion_group!(benches, task);
criterion_main!(benches);
