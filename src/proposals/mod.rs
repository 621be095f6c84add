//! Readings that could be taken at this bench: where the machine can stand for them, and what each
//! would say about the unknowns.

mod postures;

use nalgebra::DMatrix;
use nalgebra::Vector3;

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::cell::Geometry;
use crate::fit::assess::scaling_of;
use crate::kinematics::track_reading;
use crate::parameters::Unknowns;
use crate::proposals::postures::fits;
use crate::proposals::postures::over;
use crate::proposals::postures::samples;
use crate::readings;
use crate::readings::Taken;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::table::Written;

/// Positions along the travel.
const TRACKS: usize = 5;
/// Positions round the table.
const TABLES: usize = 8;
/// Holes of the plate that the tip is brought to, along x and along y.
const HOLES: [u32; 2] = [6, 4];
/// A reading that moves by less than this share of its u for one scaling unit of every unknown says
/// nothing of them.
const SAYS_NOTHING: f64 = 1e-3;

/// A reading that could be taken.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// Its kind: the name of the kind's file.
    pub kind: &'static str,
    /// What is given, what is to be filled in, and in words.
    pub draft: Draft,
    /// The reading, if it came out as expected.
    pub taken: Taken,
    /// Derivatives of its residuals over their u by the unknowns, mm and rad.
    pub j: DMatrix<f64>,
}

impl Proposal {
    /// Its row, results filled in as expected or left blank.
    pub fn row(&self, bench: &Bench, filled: bool) -> Written {
        row(self.kind, &self.draft, bench, filled)
    }
}

fn row(kind: &str, draft: &Draft, bench: &Bench, filled: bool) -> Written {
    let mut row = Written::empty(&readings::columns(kind, &bench.cell));
    for (column, text) in &draft.given {
        row.set(column, text);
    }
    for (column, text) in draft.expected.iter().filter(|_| filled) {
        row.set(column, text);
    }
    row
}

/// All that can be proposed at a geometry, kind by kind, always in the same order. Each of them says
/// something of some unknown.
pub fn proposals(bench: &Bench, unknowns: &Unknowns, geometry: &Geometry) -> Vec<Proposal> {
    let cell = &bench.cell;
    let over = over(cell, geometry);
    let fits = |stand: &readings::stand::Stand| fits(cell, geometry, stand);
    let drive = |frame: Belongs, at: Vector3<f64>, track: f64, table: f64| {
        over.postures(frame, at, track, table)
    };
    let maker = Maker {
        cell,
        geometry,
        tracks: tracks(bench, geometry),
        tables: tables(bench, geometry),
        holes: holes(bench),
        drive: &drive,
        postures: samples(cell, geometry),
        fits: &fits,
    };
    let mut found = Vec::new();
    for kind in readings::FILES {
        let mut drafts = Vec::new();
        readings::propose(kind, &maker, &mut drafts);
        let made = drafts
            .into_iter()
            .filter_map(|draft| make(bench, unknowns, geometry, kind, draft));
        found.extend(made);
    }
    found
}

fn make(
    bench: &Bench,
    unknowns: &Unknowns,
    geometry: &Geometry,
    kind: &'static str,
    draft: Draft,
) -> Option<Proposal> {
    let row = row(kind, &draft, bench, true);
    let taken = readings::understood(kind, &row, &bench.setting())?;
    let n = unknowns.len();
    let mut by = vec![[0.0; 3]; n];
    let found = taken
        .reading
        .evaluate(geometry, unknowns, Some(&mut by[..]));
    let j = DMatrix::from_fn(found.count, n, |k, col| by[col][k] / taken.u);
    if !j.iter().all(|v| v.is_finite()) {
        return None;
    }
    let scale = scaling(bench, unknowns);
    let most = (0..n)
        .map(|col| j.column(col).amax() * scale[col])
        .fold(0.0, f64::max);
    (most > SAYS_NOTHING).then_some(Proposal {
        kind,
        draft,
        taken,
        j,
    })
}

/// The scale of each unknown, as for identifiability.
pub fn scaling(bench: &Bench, unknowns: &Unknowns) -> Vec<f64> {
    scaling_of(unknowns, &unknowns.read(&bench.cell.nominal))
}

/// Decimals with which an axis is read off: fine enough for its unit, no finer than people set it.
fn decimals(per_unit: f64, step: f64) -> i32 {
    (per_unit.abs() / step).log10().ceil().clamp(0.0, 4.0) as i32
}

fn rounded(value: f64, decimals: i32) -> f64 {
    let ten = 10f64.powi(decimals);
    (value * ten).round() / ten
}

/// Track readings along the travel; where no travel is given, along that of the readings taken.
fn tracks(bench: &Bench, geometry: &Geometry) -> Vec<f64> {
    let Some(track) = &geometry.track else {
        return vec![0.0];
    };
    let travel = bench.cell.track.and_then(|t| t.travel_mm);
    let (low, high) = match travel {
        Some(t) => (t.low, t.high),
        None => {
            let seen = bench
                .taken
                .iter()
                .map(|t| t.reading.stand().track * track.scale_mm);
            let low = seen.clone().fold(f64::INFINITY, f64::min);
            let high = seen.fold(f64::NEG_INFINITY, f64::max);
            match high > low {
                true => (low, high),
                false => (0.0, 0.0),
            }
        }
    };
    // A little away from the ends, where an axis can be approached from both sides.
    let inside = 0.02 * (high - low);
    let digits = decimals(track.scale_mm, 1.0);
    let mut list: Vec<f64> = (0..TRACKS)
        .map(|k| low + inside + (high - low - 2.0 * inside) * k as f64 / (TRACKS - 1) as f64)
        .map(|value| rounded(track_reading(track, value).0, digits))
        .collect();
    list.dedup();
    list
}

fn tables(bench: &Bench, geometry: &Geometry) -> Vec<f64> {
    let (Some(table), Some(info)) = (&geometry.turntable, &bench.cell.turntable) else {
        return Vec::new();
    };
    let digits = decimals(table.scale_rad.to_degrees(), 1.0);
    let mut list: Vec<f64> = (0..TABLES)
        .filter_map(|k| {
            let step = 360.0 * k as f64 / TABLES as f64;
            let reading = step / table.scale_rad.to_degrees();
            let turns = [
                reading,
                -reading,
                reading - 360.0 / table.scale_rad.to_degrees(),
            ];
            turns.into_iter().map(|r| rounded(r, digits)).find(|r| {
                let value = table.scale_rad * r + table.index_rad;
                info.travel_rad.is_none_or(|t| t.holds(value))
            })
        })
        .collect();
    list.sort_by(f64::total_cmp);
    list.dedup();
    list
}

fn holes(bench: &Bench) -> Vec<(u32, u32)> {
    let grid = &bench.cell.plate;
    let spread = |count: u32, n: u32| -> Vec<u32> {
        let mut list: Vec<u32> = (0..n)
            .map(|k| (f64::from(count - 1) * (f64::from(k) + 0.5) / f64::from(n)).round() as u32)
            .collect();
        list.dedup();
        list
    };
    let mut list = Vec::new();
    for column in spread(grid.columns, HOLES[0]) {
        for row in spread(grid.rows, HOLES[1]) {
            list.push((column, row));
        }
    }
    list
}
