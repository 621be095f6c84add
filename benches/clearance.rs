//! Speed of the clearance at a posture and over a way: five joints, 8 bodies, 5 keep-outs.

use std::f64::consts::PI;
use std::hint::black_box;

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::cell;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Surroundings;
use notchpin::clearance::WayClearance;
use notchpin::diagnose::Problems;

const CELL: &str = r#"
format = 1
name = "made up for measuring"
[plate]
pitch_mm = 50.0
columns = 30
rows = 16
[track]
at_mm = [150.0, 100.0, 62.0]
travel_mm = [0.0, 900.0]
[mount]
at_mm = [0.0, 0.0, 18.0]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-165, 165]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [0, 0, 230]
limits_deg = [-110, 120]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [220, 0, 230]
limits_deg = [-145, 145]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [400, 0, 230]
limits_deg = [-115, 115]
[[arm.joint]]
axis = [1, 0, 0]
through_mm = [420, 0, 230]
limits_deg = [-180, 180]
[arm.flange]
at_mm = [470, 0, 230]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 110]
[turntable]
at_mm = [700.0, 450.0, 95.0]
[[keep_out]]
name = "table"
cylinder = { at_mm = [700, 450, 0], radius_mm = 120, height_mm = 90 }
[[keep_out]]
name = "work"
frame = "platter"
box = { from_mm = [-60, -40, 0], to_mm = [60, 40, 50], turn_deg = 20 }
[[keep_out]]
name = "oven"
box = { from_mm = [1000, 500, 0], to_mm = [1300, 700, 350] }
[[keep_out]]
name = "post"
cylinder = { at_mm = [450, 330, 0], radius_mm = 12, height_mm = 300 }
[[keep_out]]
name = "wall"
half_space = { at_mm = [0, 790, 0], free = [0, -1, 0] }
[[arm.body]]
on = "carriage"
from_mm = [-60, 0, 0]
to_mm = [60, 0, 0]
radius_mm = 50
[[arm.body]]
on = "base"
from_mm = [0, 0, 50]
to_mm = [0, 0, 110]
radius_mm = 45
[[arm.body]]
on = "j1"
from_mm = [0, -50, 230]
to_mm = [0, 50, 230]
radius_mm = 40
[[arm.body]]
on = "j2"
from_mm = [0, 0, 230]
to_mm = [220, 0, 230]
radius_mm = 30
[[arm.body]]
on = "j3"
from_mm = [220, 0, 230]
to_mm = [370, 0, 230]
radius_mm = 25
[[arm.body]]
on = "j4"
from_mm = [390, 0, 230]
to_mm = [420, 0, 230]
radius_mm = 22
[[arm.body]]
on = "flange"
from_mm = [0, -35, 10]
to_mm = [0, 35, 10]
radius_mm = 10
[[arm.body]]
on = "tool"
from_mm = [0, 0, -100]
to_mm = [0, 0, 0]
radius_mm = 5
"#;

fn postures() -> Vec<AxisValues> {
    let mut random = fastrand::Rng::with_seed(7);
    let mut between = |low: f64, high: f64| low + (high - low) * random.f64();
    (0..512)
        .map(|_| AxisValues {
            travel_mm: between(0.0, 900.0),
            turn_rad: between(-PI, PI),
            joints_rad: [
                between(-2.8, 2.8),
                between(-1.5, 0.4),
                between(0.0, 2.0),
                between(-1.0, 1.5),
                between(-3.0, 3.0),
                0.0,
                0.0,
            ],
        })
        .collect()
}

fn clearance(c: &mut Criterion) {
    let cell = cell::parse("cell.toml", CELL, &mut Problems::default()).expect("the cell is good");
    let surroundings = Surroundings::new(&cell, &cell.nominal);
    let postures = postures();
    let mut next = 0;
    c.bench_function("nearest pair of 8 bodies and 5 keep-outs", |b| {
        b.iter(|| {
            next = (next + 1) % postures.len();
            surroundings.nearest(black_box(&postures[next]))
        })
    });
    for part in [0.02, 0.2, 1.0] {
        let to = |i: usize| {
            let (from, to) = (&postures[i], &postures[(i + 1) % postures.len()]);
            from.toward(to, part)
        };
        let clear: Vec<usize> = (0..postures.len())
            .filter(|i| {
                let way = surroundings.way(&postures[*i], &to(*i), 5.0);
                matches!(way, WayClearance::Clear { .. })
            })
            .collect();
        let name = format!("clear ways, {part} from posture to posture");
        println!("{name}: {} of {}", clear.len(), postures.len());
        let mut next = 0;
        c.bench_function(&name, |b| {
            b.iter(|| {
                next = (next + 1) % clear.len();
                let i = clear[next];
                surroundings.way(black_box(&postures[i]), &to(i), 5.0)
            })
        });
    }
}

criterion_group!(benches, clearance);
criterion_main!(benches);
