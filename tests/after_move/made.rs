//! Benches after a move: a true geometry drawn from what a registration knows, something moved in it, and
//! new readings with errors as stated.

use nalgebra::DVector;

use notchpin::bench::Bench;
use notchpin::cell::Geometry;
use notchpin::parameters::Parameter;
use notchpin::parameters::Unknowns;
use notchpin::proposals::Proposal;
use notchpin::proposals::proposals;
use notchpin::readings;
use notchpin::readings::Reading;
use notchpin::readings::Taken;
use notchpin::records::InForce;

use crate::bench::Read;
use crate::bench::demo;

/// Draws from a fixed seed.
pub struct Draw(pub fastrand::Rng);

impl Draw {
    pub fn seeded(seed: u64) -> Self {
        Draw(fastrand::Rng::with_seed(seed))
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.f64()
    }

    /// Box and Muller 1958.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.f64()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.0.f64()).cos()
    }

    /// Of either sign, between two sizes.
    pub fn either(&mut self, low: f64, high: f64) -> f64 {
        let size = self.between(low, high);
        if self.0.bool() { size } else { -size }
    }
}

/// A demo cell, registered.
pub struct Registered {
    pub read: Read,
    pub force: InForce,
}

const FILES: [&str; 5] = [
    "holes.csv",
    "notch.csv",
    "touch.csv",
    "attitude.csv",
    "height.csv",
];

pub fn registered(cell: &str) -> Registered {
    let read = demo(cell, &FILES);
    let determined = read.determined();
    let force = InForce {
        geometry: determined.geometry.clone(),
        unknowns: read.unknowns.clone(),
        covariance: determined.assessment.covariance.clone(),
    };
    Registered { read, force }
}

impl Registered {
    pub fn bench(&self) -> &Bench {
        &self.read.bench
    }

    /// What the cell may truly be, given the registration.
    pub fn truth(&self, draw: &mut Draw) -> Geometry {
        let c = self.force.covariance.clone();
        let n = c.nrows();
        let scale: Vec<f64> = (0..n).map(|i| c[(i, i)].sqrt()).collect();
        let correlation =
            nalgebra::DMatrix::from_fn(n, n, |i, j| c[(i, j)] / (scale[i] * scale[j]));
        let l = correlation.cholesky().unwrap().l();
        let z = DVector::from_iterator(n, (0..n).map(|_| draw.normal()));
        let off = l * z;
        let mut x = self.force.unknowns.read(&self.force.geometry);
        for i in 0..n {
            x[i] += off[i] * scale[i];
        }
        let mut truth = self.force.geometry.clone();
        self.force.unknowns.write(&x, &mut truth);
        truth
    }

    /// The parameter of that name.
    pub fn parameter(&self, name: &str) -> Parameter {
        Parameter::named(&self.read.bench.cell, name).unwrap()
    }

    /// Changes parameters, in the units of files.
    pub fn moved(&self, truth: &Geometry, by: &[(&str, f64)]) -> Geometry {
        let mut moved = truth.clone();
        for (name, by) in by {
            let p = self.parameter(name);
            p.set(&mut moved, p.get(truth) + by * p.unit().in_code());
        }
        moved
    }

    /// All readings that can be taken at a geometry.
    pub fn possible(&self, truth: &Geometry) -> Vec<Proposal> {
        let cell = &self.read.bench.cell;
        let all: Vec<(Parameter, Option<f64>)> = Parameter::all(cell)
            .into_iter()
            .map(|(_, p)| (p, None))
            .collect();
        proposals(&self.read.bench, &Unknowns::new(all), truth)
    }

    /// Some readings as they would be written down at the bench: what is expected at the true geometry
    /// with an error of the size that is stated.
    pub fn taken(&self, chosen: &[&Proposal], draw: &mut Draw) -> Bench {
        let mut bench = self.read.bench.clone();
        bench.taken.clear();
        bench.sources.clear();
        for kind in readings::FILES {
            let of_kind: Vec<&&Proposal> = chosen.iter().filter(|p| p.kind == *kind).collect();
            let mut text = String::new();
            for proposal in of_kind {
                let csv = self.row(proposal, draw);
                let (header, row) = csv.split_once('\n').unwrap();
                if text.is_empty() {
                    text = format!("{header}\n");
                }
                text.push_str(row);
            }
            if text.is_empty() {
                continue;
            }
            let mut problems = notchpin::diagnose::Problems::default();
            bench.read(
                kind,
                &format!("recheck/{kind}"),
                text.into_bytes(),
                &mut problems,
            );
            assert!(!problems.has_errors(), "{:?}", problems.iter().next());
        }
        bench
    }

    /// The readings of a bench as they would come out at another truth, with other errors. Joints, track and
    /// table stay (but for a notch, where the table is what was read); what was measured against them changes by the residual that the truth leaves.
    pub fn same_places(&self, fixed: &Bench, truth: &Geometry, draw: &mut Draw) -> Bench {
        let mut bench = fixed.clone();
        let none = Unknowns::default();
        for taken in &mut bench.taken {
            let found = taken.reading.evaluate(truth, &none, None);
            let mut wanted = [0.0; 3];
            for value in &mut wanted[..found.count] {
                *value = taken.u * draw.normal();
            }
            taken.reading = shifted(&taken.reading, &found.value, &wanted);
        }
        bench
    }

    /// The first count of a bench off by one, as a slip of the pen.
    pub fn miscounted(&self, bench: &mut Bench, draw: &mut Draw) {
        let by = if draw.0.bool() { 1 } else { -1 };
        let mut fresh = self.read.bench.clone();
        fresh.taken.clear();
        fresh.sources.clear();
        for source in &bench.sources {
            let mut text = String::from_utf8(source.bytes.to_vec()).unwrap();
            if source.kind == "holes.csv" {
                let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
                let at = lines[0].split(',').position(|h| h == "count").unwrap();
                let mut cells: Vec<String> = lines[1].split(',').map(str::to_owned).collect();
                cells[at] = (cells[at].parse::<i64>().unwrap() + by).to_string();
                lines[1] = cells.join(",");
                text = lines.join("\n") + "\n";
            }
            let mut problems = notchpin::diagnose::Problems::default();
            fresh.read(source.kind, &source.name, text.into_bytes(), &mut problems);
            assert!(!problems.has_errors(), "{:?}", problems.iter().next());
        }
        *bench = fresh;
    }

    fn row(&self, proposal: &Proposal, draw: &mut Draw) -> String {
        let mut row = proposal.row(&self.read.bench, true);
        let unit = proposal.taken.reading.unit().in_code();
        for (column, text) in &proposal.draft.expected {
            let value: f64 = text.parse().unwrap();
            if column == "count" {
                continue;
            }
            let inch = if row.in_inches(column) { 25.4 } else { 1.0 };
            let error = proposal.taken.u / unit / inch * draw.normal();
            row.set(column, &format!("{:.4}", value + error));
        }
        row.csv()
    }
}

/// The readings of a bench.
pub fn all(bench: &Bench) -> Vec<&Taken> {
    bench.taken.iter().collect()
}

/// A reading of which the residuals at the truth become the wanted ones, by what was measured.
fn shifted(reading: &Reading, found: &[f64; 3], wanted: &[f64; 3]) -> Reading {
    let mut reading = reading.clone();
    match &mut reading {
        // Residual: place less what was counted.
        Reading::HoleCount(r) => r.gap_mm += found[0] - wanted[0],
        // Residual: value less switch; in the cells that use this the table reads degrees, rising.
        Reading::NotchReading(r) => r.stand.table -= (found[0] - wanted[0]).to_degrees(),
        Reading::Touch(r) => {
            assert_eq!(r.axes, [0, 1, 2]);
            for k in 0..3 {
                r.offset_mm[k] += found[k] - wanted[k];
            }
        }
        Reading::Attitude(r) => r.angle_rad += found[0] - wanted[0],
        Reading::Height(r) => r.height_mm += found[0] - wanted[0],
    }
    reading
}
