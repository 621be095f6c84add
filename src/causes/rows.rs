//! One row by itself: which slip of the pen explains it, if any.
//!
//! Every slip that people make in such a row is put right in turn, and what the row says then is held
//! against the solution of the others. The explanations are weighed against each other, and against
//! an error of any size: a correction must explain the row better than leaving it out.

use std::f64::consts::TAU;

use crate::bench::Bench;
use crate::causes::solved::FITS;
use crate::causes::solved::Predicted;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::cell::Geometry;
use crate::fit::chi2::chi2_upper_tail;
use crate::readings;
use crate::readings::Taken;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::table::Written;

/// So many explanations are solved anew; the others are judged to first order.
const SOLVED: usize = 8;
/// ln of how much rarer an error that is no slip of the list is than one of the commonest slips.
/// *Common practice*: judged, not counted.
const ANY_ERROR: f64 = -3.0;
/// The size of an error that may be anything is at least so many standard uncertainties.
const LEAST_SIZE: f64 = 3.0;

/// A slip that would explain a row.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// What sort.
    pub kind: SlipKind,
    /// Columns without unit, and what should stand there.
    pub edits: Vec<(String, String)>,
    /// The row as it was written.
    pub written: Written,
    /// What it says once put right.
    pub corrected: Taken,
    /// S of the others and of the row put right, above that of the others alone.
    pub t: f64,
    /// ln of its weight.
    pub weight: f64,
}

/// What may be behind one row that was set aside.
#[derive(Debug, Clone)]
pub struct Explained {
    /// Place in the bench's list.
    pub index: usize,
    /// The row as it was written.
    pub written: Option<Written>,
    /// Slips that explain it, the weightiest first.
    pub slips: Vec<Explanation>,
    /// ln of the weight of an error of any size.
    pub any_error: f64,
}

impl Explained {
    /// ln of the sum of all weights.
    pub fn total(&self) -> f64 {
        log_sum(self.slips.iter().map(|s| s.weight).chain([self.any_error]))
    }
}

/// ln Σ exp.
pub fn log_sum(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = values.clone().fold(f64::NEG_INFINITY, f64::max);
    match most.is_finite() {
        true => most + values.map(|v| (v - most).exp()).sum::<f64>().ln(),
        false => most,
    }
}

/// ln of the weight of an error of any size: its density where the row stands, over that of a row
/// that is right. The size may be anything up to twice what was seen.
pub fn any_error(seen: &Predicted) -> f64 {
    let parts = seen.r.iter().zip(&seen.sd).map(|(r, sd)| {
        let size = r.abs().max(LEAST_SIZE * sd);
        (sd * TAU.sqrt() / (2.0 * size)).ln()
    });
    ANY_ERROR + parts.sum::<f64>()
}

/// The row of a reading as it was written.
pub fn written(bench: &Bench, index: usize) -> Option<Written> {
    let taken = &bench.taken[index];
    let source = bench.sources.iter().find(|s| s.name == taken.file)?;
    let rows = readings::written(source.kind, &source.bytes, &bench.setting(), &[taken.line]);
    rows.into_iter().next()
}

/// Looks for slips in one row; `rest` is what the others say.
pub fn explain(bench: &Bench, rest: &Solved, index: usize) -> Option<Explained> {
    let own = &bench.taken[index];
    let seen = rest.predict(&[own])?;
    let mut explained = Explained {
        index,
        written: written(bench, index),
        slips: Vec::new(),
        any_error: any_error(&seen),
    };
    let Some(row) = &explained.written else {
        return Some(explained);
    };
    let kind = own.reading.file();
    let setting = bench.setting();
    let mut slips = Slips::new(row, &bench.cell);
    readings::slips_of(kind, &mut slips);
    let mut found: Vec<(Explanation, f64)> = Vec::new();
    for slip in slips.list {
        let mut changed = row.clone();
        for (column, text) in &slip.edits {
            changed.set(column, text);
        }
        let Some(corrected) = readings::understood(kind, &changed, &setting) else {
            continue;
        };
        let corrected = Taken {
            file: own.file.clone(),
            role: own.role,
            ..corrected
        };
        if corrected.reading == own.reading {
            continue;
        }
        let Some(t) = rest.predict(&[&corrected]).map(|p| p.t) else {
            continue;
        };
        if !fits(t, &corrected) {
            continue;
        }
        // The same reading by two slips is one explanation: the commoner one.
        let same = |e: &&mut (Explanation, f64)| e.0.corrected.reading == corrected.reading;
        let old = found.iter_mut().find(same);
        if old.as_ref().is_some_and(|e| e.1 <= slip.rarity) {
            continue;
        }
        let new = Explanation {
            kind: slip.kind,
            edits: slip.edits,
            written: row.clone(),
            corrected,
            t,
            weight: -t / 2.0 - slip.rarity,
        };
        match old {
            Some(old) => *old = (new, slip.rarity),
            None => found.push((new, slip.rarity)),
        }
    }
    found.sort_by(|a, b| b.0.weight.total_cmp(&a.0.weight));
    for (explanation, rarity) in found.iter_mut().take(SOLVED) {
        if let Some(t) = solved_anew(bench, rest, index, &explanation.corrected) {
            explanation.t = t;
            explanation.weight = -t / 2.0 - *rarity;
        }
    }
    found.sort_by(|a, b| b.0.weight.total_cmp(&a.0.weight));
    explained.slips = found.into_iter().map(|(e, _)| e).collect();
    explained.slips.retain(|e| fits(e.t, &e.corrected));
    Some(explained)
}

fn fits(t: f64, corrected: &Taken) -> bool {
    t.is_finite() && chi2_upper_tail(t.max(0.0), corrected.reading.components()) >= FITS
}

/// S with a reading put right added to the others, above that of the others alone.
fn solved_anew(bench: &Bench, rest: &Solved, index: usize, corrected: &Taken) -> Option<f64> {
    let mut taken = all(bench);
    taken[index] = corrected;
    let more = with(&bench.cell.nominal, rest, &taken, &[index])?;
    Some((more.minimum.chi2 - rest.minimum.chi2).max(0.0))
}

/// The rest with some more readings.
pub fn with(nominal: &Geometry, rest: &Solved, taken: &[&Taken], more: &[usize]) -> Option<Solved> {
    let mut used = rest.used.clone();
    used.extend(more);
    used.sort_unstable();
    used.dedup();
    let start = Start::Near(&rest.minimum.x);
    solve(nominal, &rest.unknowns, taken, used, start)
}
