//! The solver's share of an adjustment, on one thread: factoring by backend, and whole solves of a synthetic problem
//! whose evaluation costs little more than writing J. Small: 150 residuals, 15 unknowns; large: 5,032 and 39.

use criterion::Criterion;
use criterion::criterion_group;
use criterion::criterion_main;
use notchpin::fit::solve::Ending;
use notchpin::fit::solve::Factor;
use notchpin::fit::solve::Problem;
use notchpin::fit::solve::Solver;
use notchpin::fit::solve::Tiles;
use std::hint::black_box;

const SIZES: [(&str, usize, usize); 2] = [("small", 150, 15), ("large", 5_032, 39)];

/// Evenly spread numbers in −0.5 .. 0.5 from a counter (splitmix64).
fn spread(count: usize) -> Vec<f64> {
    let mix = |i: usize| {
        let mut z = (i as u64 + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    };
    (0..count).map(mix).collect()
}

/// r_i = t + 0.1 t² − y_i with t = a_i·x.
struct Curved {
    unknowns: usize,
    rows: Vec<f64>,
    observed: Vec<f64>,
    row: Vec<f64>,
}

impl Curved {
    fn new(residuals: usize, unknowns: usize) -> Self {
        let rows = spread(residuals * unknowns);
        let noise = spread(2 * residuals);
        let computed = |row: &[f64]| {
            let t: f64 = row.iter().sum();
            t + 0.1 * t * t
        };
        let observed = rows
            .chunks(unknowns)
            .zip(&noise[residuals..])
            .map(|(row, e)| computed(row) + 1e-3 * e)
            .collect();
        Curved {
            unknowns,
            rows,
            observed,
            row: vec![0.0; unknowns],
        }
    }
}

impl Problem for Curved {
    fn unknowns(&self) -> usize {
        self.unknowns
    }

    fn residuals(&self) -> usize {
        self.observed.len()
    }

    fn residuals_at(&mut self, x: &[f64], r: &mut [f64]) {
        for ((r, row), y) in r
            .iter_mut()
            .zip(self.rows.chunks(self.unknowns))
            .zip(&self.observed)
        {
            let t: f64 = row.iter().zip(x).map(|(a, x)| a * x).sum();
            *r = t + 0.1 * t * t - y;
        }
    }

    fn linearise(&mut self, x: &[f64], r: &mut [f64], j: &mut Tiles) {
        for (i, row) in self.rows.chunks(self.unknowns).enumerate() {
            let t: f64 = row.iter().zip(x).map(|(a, x)| a * x).sum();
            r[i] = t + 0.1 * t * t - self.observed[i];
            for (slot, a) in self.row.iter_mut().zip(row) {
                *slot = (1.0 + 0.2 * t) * a;
            }
            j.set_row(i, &self.row);
        }
    }
}

fn factoring(c: &mut Criterion) {
    for (name, m, n) in SIZES {
        let values = spread(m * n);
        let r = spread(m);
        let mut tiles = Tiles::new(m, n);
        for (i, row) in values.chunks(n).enumerate() {
            tiles.set_row(i, row);
        }
        c.bench_function(&format!("qr/{name}/own tiles"), |b| {
            b.iter(|| Factor::of(black_box(&tiles), &r, m))
        });
        let matrix = faer::Mat::from_fn(m, n, |i, j| values[i * n + j]);
        c.bench_function(&format!("qr/{name}/faer"), |b| {
            b.iter(|| {
                let qr = black_box(&matrix).qr();
                let mut rhs = faer::Mat::from_fn(m, 1, |i, _| r[i]);
                use faer::linalg::householder as h;
                let par = faer::Par::Seq;
                let scratch = h::apply_block_householder_sequence_transpose_on_the_left_in_place_scratch::<f64>(
                    m,
                    qr.Q_coeff().nrows(),
                    1,
                );
                let mut memory = faer::dyn_stack::MemBuffer::new(scratch);
                h::apply_block_householder_sequence_transpose_on_the_left_in_place_with_conj(
                    qr.Q_basis(),
                    qr.Q_coeff(),
                    faer::Conj::No,
                    rhs.as_mut(),
                    par,
                    faer::dyn_stack::MemStack::new(&mut memory),
                );
                (qr, rhs)
            })
        });
        let matrix = nalgebra::DMatrix::from_row_slice(m, n, &values);
        let vector = nalgebra::DVector::from_column_slice(&r);
        c.bench_function(&format!("qr/{name}/nalgebra"), |b| {
            b.iter(|| {
                let qr = black_box(&matrix).clone().qr();
                let mut rhs = vector.clone();
                qr.q_tr_mul(&mut rhs);
                (qr, rhs)
            })
        });
    }
}

fn solving(c: &mut Criterion) {
    for (name, m, n) in SIZES {
        let mut problem = Curved::new(m, n);
        let mut solver = Solver::new();
        let start = vec![0.9; n];
        let solution = solver.solve(&mut problem, &start);
        assert_eq!(solution.ending, Ending::Converged);
        println!(
            "{name}: {} iterations, {} evaluations",
            solution.iterations, solution.evaluations
        );
        let (mut r, mut tiles) = (vec![0.0; m], Tiles::new(m, n));
        c.bench_function(&format!("curved/{name}/one evaluation"), |b| {
            b.iter(|| problem.linearise(black_box(&start), &mut r, &mut tiles))
        });
        c.bench_function(&format!("curved/{name}/solve"), |b| {
            b.iter(|| solver.solve(&mut problem, black_box(&start)).cost)
        });
        c.bench_function(
            &format!("curved/{name}/solve, covariance, leverages"),
            |b| {
                b.iter(|| {
                    let solution = solver.solve(&mut problem, black_box(&start));
                    (
                        solution.factor.covariance(),
                        solution.factor.leverages(solution.jacobian),
                    )
                })
            },
        );
        let solution = solver.solve(&mut problem, &start);
        let scale = vec![1.0; n];
        let (factor, jacobian) = (solution.factor, solution.jacobian);
        c.bench_function(&format!("read off/{name}/covariance"), |b| {
            b.iter(|| factor.covariance())
        });
        c.bench_function(&format!("read off/{name}/leverages"), |b| {
            b.iter(|| factor.leverages(jacobian))
        });
        c.bench_function(&format!("read off/{name}/condition bound"), |b| {
            b.iter(|| factor.condition_bound_scaled(black_box(&scale)))
        });
        c.bench_function(&format!("read off/{name}/singular values"), |b| {
            b.iter(|| factor.singular_values_scaled(black_box(&scale)))
        });
    }
}

criterion_group!(benches, factoring, solving);
criterion_main!(benches);
