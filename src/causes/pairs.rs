//! Two rows that may have exchanged what was read.

use crate::bench::Bench;
use crate::causes::rows::with;
use crate::causes::rows::written;
use crate::causes::solved::FITS;
use crate::causes::solved::Solved;
use crate::causes::solved::all;
use crate::fit::chi2::chi2_upper_tail;
use crate::readings;
use crate::readings::Taken;
use crate::table::Written;

/// ln of how much rarer two swapped rows are than the commonest slip in one row.
pub const RARITY: f64 = 1.0;
/// A row that took part and pulls S by less than this was hardly swapped with another one.
const WORTH_A_TRIAL: f64 = 4.0;

/// Exchanges that differ by less say the same; the first in the list is the simplest.
const ALIKE: f64 = 1e-6;

/// Two rows that fit once they are exchanged.
#[derive(Debug, Clone)]
pub struct Exchange {
    /// Places in the bench's list.
    pub pair: [usize; 2],
    /// Columns that were exchanged, without unit.
    pub columns: Vec<String>,
    /// The two rows as they were written.
    pub written: [Written; 2],
    /// What they say once put right.
    pub corrected: [Taken; 2],
    /// S with both put right, above that of the rest without the second if it took part.
    pub t: f64,
    /// ln of its weight.
    pub weight: f64,
}

/// Exchanges that explain a row which was set aside; `aside` are all such rows.
pub fn exchanges(bench: &Bench, rest: &Solved, aside: &[usize], first: usize) -> Vec<Exchange> {
    let own = &bench.taken[first];
    let others: Vec<usize> = (0..bench.taken.len())
        .filter(|j| *j != first && bench.taken[*j].file == own.file)
        .filter(|j| match aside.contains(j) {
            true => *j > first || !aside.contains(&first),
            false => {
                rest.used.contains(j)
                    && rest
                        .share(&bench.taken[*j])
                        .is_some_and(|(fall, _)| fall > WORTH_A_TRIAL)
            }
        })
        .collect();
    let mut found = Vec::new();
    for second in others {
        found.extend(best_of(bench, rest, aside, first, second));
    }
    found
}

fn best_of(
    bench: &Bench,
    rest: &Solved,
    aside: &[usize],
    first: usize,
    second: usize,
) -> Option<Exchange> {
    let kind = bench.taken[first].reading.file();
    let rows = [written(bench, first)?, written(bench, second)?];
    let shrunk;
    let (base, gain) = match aside.contains(&second) {
        true => (rest, 0.0),
        false => {
            let mut smaller = rest.clone();
            smaller.used.retain(|i| *i != second);
            shrunk = with(&bench.cell.nominal, &smaller, &all(bench), &[])?;
            let gain = rest.minimum.chi2 - shrunk.minimum.chi2;
            (&shrunk, gain.max(0.0))
        }
    };
    let mut best: Option<Exchange> = None;
    for group in readings::exchanged_by(kind) {
        let columns = columns_of(group, bench.cell.joints.len());
        let Some(corrected) = swapped(bench, [first, second], &rows, &columns) else {
            continue;
        };
        let near = base.predict(&[&corrected[0], &corrected[1]]);
        if !near.is_some_and(|p| fits(p.t, &corrected)) {
            continue;
        }
        let mut taken = all(bench);
        taken[first] = &corrected[0];
        taken[second] = &corrected[1];
        let Some(both) = with(&bench.cell.nominal, base, &taken, &[first, second]) else {
            continue;
        };
        let t = (both.minimum.chi2 - base.minimum.chi2).max(0.0);
        let weight = (gain - t) / 2.0 - RARITY;
        if fits(t, &corrected) && best.as_ref().is_none_or(|b| weight > b.weight + ALIKE) {
            best = Some(Exchange {
                pair: [first, second],
                columns,
                written: rows.clone(),
                corrected,
                t,
                weight,
            });
        }
    }
    best
}

fn fits(t: f64, corrected: &[Taken; 2]) -> bool {
    let dof: usize = corrected.iter().map(|t| t.reading.components()).sum();
    t.is_finite() && chi2_upper_tail(t.max(0.0), dof) >= FITS
}

/// `j#` stands for all joints.
fn columns_of(group: &[&str], joints: usize) -> Vec<String> {
    let mut columns = Vec::new();
    for name in group {
        match *name {
            "j#" => columns.extend((1..=joints).map(|j| format!("j{j}"))),
            name => columns.push(name.to_owned()),
        }
    }
    columns
}

/// Both rows with some cells exchanged; `None` where that changes nothing or makes no sense.
fn swapped(
    bench: &Bench,
    pair: [usize; 2],
    rows: &[Written; 2],
    columns: &[String],
) -> Option<[Taken; 2]> {
    let mut changed = rows.clone();
    for column in columns {
        if rows[0].text(column) != rows[1].text(column) {
            changed[0].set(column, rows[1].text(column));
            changed[1].set(column, rows[0].text(column));
        }
    }
    if changed == *rows {
        return None;
    }
    let setting = bench.setting();
    let understand = |k: usize| {
        let own = &bench.taken[pair[k]];
        let new = readings::understood(own.reading.file(), &changed[k], &setting)?;
        Some(Taken {
            file: own.file.clone(),
            role: own.role,
            ..new
        })
    };
    let corrected = [understand(0)?, understand(1)?];
    let was = [&bench.taken[pair[0]].reading, &bench.taken[pair[1]].reading];
    let same = (corrected[0].reading == *was[0] && corrected[1].reading == *was[1])
        || (corrected[0].reading == *was[1] && corrected[1].reading == *was[0]);
    (!same).then_some(corrected)
}
