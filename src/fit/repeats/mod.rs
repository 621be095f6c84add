//! Readings that were repeated: what they say of the tip and of the axes by the standards' figures, and
//! whether they scatter as was stated.

pub mod iso230_2;
pub mod iso9283;

use std::collections::BTreeMap;

use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::fit::chi2::chi2_upper_tail;
use crate::fit::repeats::iso230_2::Axis;
use crate::fit::repeats::iso230_2::Runs;
use crate::fit::repeats::iso9283::Position;
use crate::parameters::Unknowns;
use crate::readings::RunAxis;
use crate::readings::Taken;

/// Two postures are the same where no joint differs by more than this, degrees.
const SAME_POSTURE_DEG: f64 = 2.0;
/// Fewer touches of one target say nothing of repeatability.
const LEAST_TOUCHES: usize = 3;
/// The scatter contradicts what was stated beyond this probability, either way.
const CONTRADICTS: f64 = 1e-3;
/// Few repeats may agree to the mark of the rule: that they scatter less is said from here on only.
const LEAST_FOR_LESS: usize = 5;

/// The tip at one target, touched again and again.
#[derive(Debug, Clone, PartialEq)]
pub struct TipRepeats {
    /// The touches, by their places in the list.
    pub readings: Vec<usize>,
    /// AP and RP, mm, of tip less target.
    pub position: Position,
}

/// One axis at several positions from both sides.
#[derive(Debug, Clone, PartialEq)]
pub struct AxisRepeats {
    /// Which.
    pub axis: RunAxis,
    /// The first reading of the series, by its place in the list.
    pub first: usize,
    /// How many positions.
    pub positions: usize,
    /// Fewest runs one way at a position.
    pub least_runs: usize,
    /// Figures of the standard, mm or rad.
    pub figures: Axis,
}

/// How readings of one kind scatter where nothing but the reading changed.
#[derive(Debug, Clone, PartialEq)]
pub struct KindScatter {
    /// File of the kind.
    pub kind: &'static str,
    /// Settings that were repeated.
    pub groups: usize,
    /// Σ ((x − mean)/u)².
    pub chi2: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// √(chi2/dof): the scatter over what was stated.
    pub ratio: f64,
    /// What should be stated instead, mm or rad: the stated u (root of the mean square) times the ratio.
    pub seen: f64,
    /// Whether that contradicts what was stated: they scatter more.
    pub more: bool,
    /// They scatter less.
    pub less: bool,
}

/// All that repeated readings say.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Repeats {
    /// Of the tip, a target and posture each.
    pub tips: Vec<TipRepeats>,
    /// Of track and turntable.
    pub axes: Vec<AxisRepeats>,
    /// Of each kind of reading.
    pub scatter: Vec<KindScatter>,
}

/// Gathers the repeats among some readings at a geometry.
pub fn repeats(geometry: &Geometry, taken: &[&Taken]) -> Repeats {
    let groups = groups(geometry, taken);
    Repeats {
        tips: tips(geometry, taken, &groups),
        axes: axes(geometry, taken),
        scatter: scatter(geometry, taken, &groups),
    }
}

/// Readings with the same setting, by their places; only what was repeated.
fn groups(geometry: &Geometry, taken: &[&Taken]) -> Vec<Vec<usize>> {
    let mut by_key: BTreeMap<(&str, Vec<i64>), Vec<Vec<usize>>> = BTreeMap::new();
    for (index, reading) in taken.iter().enumerate() {
        // Without an approach the play is in the scatter too.
        if reading.widened {
            continue;
        }
        let Some(key) = reading.reading.setting(geometry) else {
            continue;
        };
        let clusters = by_key.entry((reading.reading.file(), key)).or_default();
        let same = |cluster: &&mut Vec<usize>| same_posture(geometry, taken[cluster[0]], reading);
        match clusters.iter_mut().find(same) {
            Some(cluster) => cluster.push(index),
            None => clusters.push(vec![index]),
        }
    }
    let mut groups: Vec<Vec<usize>> = by_key.into_values().flatten().collect();
    groups.retain(|g| g.len() > 1);
    groups.sort();
    groups
}

fn same_posture(geometry: &Geometry, a: &Taken, b: &Taken) -> bool {
    let (a, b) = (a.reading.stand(), b.reading.stand());
    let joints = geometry.joints.iter().zip(a.joints.iter().zip(&b.joints));
    joints
        .map(|(law, (a, b))| (law.scale_rad * (a - b)).to_degrees().abs())
        .all(|off| off <= SAME_POSTURE_DEG)
}

fn residuals(geometry: &Geometry, taken: &Taken) -> crate::readings::Residuals {
    taken.reading.evaluate(geometry, &Unknowns::default(), None)
}

fn tips(geometry: &Geometry, taken: &[&Taken], groups: &[Vec<usize>]) -> Vec<TipRepeats> {
    let mut found = Vec::new();
    for group in groups {
        let first = &taken[group[0]].reading;
        if group.len() < LEAST_TOUCHES || !first.shows_tip() || first.components() < 3 {
            continue;
        }
        let off: Vec<Vector3<f64>> = group
            .iter()
            // Attained is where the tip was seen, commanded where the chain puts it.
            .map(|i| -Vector3::from(residuals(geometry, taken[*i]).value))
            .collect();
        if let Some(position) = iso9283::position(&Vector3::zeros(), &off) {
            found.push(TipRepeats {
                readings: group.clone(),
                position,
            });
        }
    }
    found
}

/// Each series by itself: what its positions share (the place of a foot, of a mark) is no deviation.
fn axes(geometry: &Geometry, taken: &[&Taken]) -> Vec<AxisRepeats> {
    type Series = (usize, BTreeMap<Vec<i64>, Runs>);
    let mut all: BTreeMap<(bool, Vec<i64>), Series> = BTreeMap::new();
    for (index, reading) in taken.iter().enumerate() {
        let Some(run) = reading.reading.run(geometry) else {
            continue;
        };
        if !run.deviation.is_finite() {
            continue;
        }
        let key = (run.axis == RunAxis::Table, run.series);
        let series = all.entry(key).or_insert_with(|| (index, BTreeMap::new()));
        let runs = series.1.entry(run.position).or_default();
        match run.up {
            true => runs.up.push(run.deviation),
            false => runs.down.push(run.deviation),
        }
    }
    let mut found = Vec::new();
    for ((table, _), (first, positions)) in all {
        let runs: Vec<Runs> = positions
            .into_values()
            .filter(|r| !r.up.is_empty() && !r.down.is_empty())
            .collect();
        let least_runs = runs.iter().map(|r| r.up.len().min(r.down.len())).min();
        if let (Some(least_runs), Some(figures), true) =
            (least_runs, iso230_2::axis(&runs), !runs.is_empty())
        {
            found.push(AxisRepeats {
                axis: if table {
                    RunAxis::Table
                } else {
                    RunAxis::Track
                },
                first,
                positions: runs.len(),
                least_runs,
                figures,
            });
        }
    }
    found
}

fn scatter(geometry: &Geometry, taken: &[&Taken], groups: &[Vec<usize>]) -> Vec<KindScatter> {
    let mut found: Vec<KindScatter> = Vec::new();
    let mut squares: Vec<(f64, usize)> = Vec::new();
    for group in groups {
        let first = taken[group[0]];
        let kind = first.reading.file();
        let rows: Vec<(f64, [f64; 3])> = group
            .iter()
            .map(|i| (taken[*i].u, residuals(geometry, taken[*i]).value))
            .collect();
        let mut chi2 = 0.0;
        let components = first.reading.components();
        for k in 0..components {
            let weights: f64 = rows.iter().map(|(u, _)| 1.0 / (u * u)).sum();
            let mean = rows.iter().map(|(u, r)| r[k] / (u * u)).sum::<f64>() / weights;
            chi2 += rows
                .iter()
                .map(|(u, r)| ((r[k] - mean) / u).powi(2))
                .sum::<f64>();
        }
        if !chi2.is_finite() {
            continue;
        }
        let at = match found.iter().position(|s| s.kind == kind) {
            Some(at) => at,
            None => {
                found.push(KindScatter {
                    kind,
                    groups: 0,
                    chi2: 0.0,
                    dof: 0,
                    ratio: 0.0,
                    seen: 0.0,
                    more: false,
                    less: false,
                });
                squares.push((0.0, 0));
                found.len() - 1
            }
        };
        found[at].groups += 1;
        found[at].chi2 += chi2;
        found[at].dof += components * (group.len() - 1);
        for (u, _) in rows {
            squares[at].0 += u * u;
            squares[at].1 += 1;
        }
    }
    for (s, (sum, n)) in found.iter_mut().zip(squares) {
        s.ratio = (s.chi2 / s.dof as f64).sqrt();
        s.seen = (sum / n as f64).sqrt() * s.ratio;
        let p = chi2_upper_tail(s.chi2, s.dof);
        s.more = p < CONTRADICTS;
        s.less = p > 1.0 - CONTRADICTS && s.dof >= LEAST_FOR_LESS && s.chi2 > 0.0;
    }
    found
}
