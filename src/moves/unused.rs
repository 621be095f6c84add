//! Readings of before a move that no longer count: they depend on what has moved.

use crate::bench::Bench;
use crate::parameters::Unknowns;
use crate::parts::Freedom;
use crate::readings::Taken;
use crate::records::InForce;

/// A reading that changes by less than this share of its u for 1 mm or 1° of what moved does not depend
/// on it.
const DEPENDS: f64 = 0.1;

/// Readings of one file that no longer count.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unused {
    /// The file.
    pub file: String,
    /// Physical lines.
    pub lines: Vec<usize>,
    /// Readings of the file that took part.
    pub of: usize,
}

/// Which readings of a bench that took part depend on any of the ways that were freed, by file.
pub fn no_longer_count(bench: &Bench, force: &InForce, ways: &[Freedom]) -> Vec<Unused> {
    let ways: Vec<(Unknowns, &Freedom)> = ways
        .iter()
        .map(|way| {
            let list = way.shares.iter().map(|(p, _)| (*p, None));
            (Unknowns::new(list.collect()), way)
        })
        .collect();
    let mut list: Vec<Unused> = Vec::new();
    for taken in bench.taken.iter().filter(|t| t.used()) {
        if list.last().is_none_or(|u| u.file != *taken.file) {
            list.push(Unused {
                file: taken.file.to_string(),
                lines: Vec::new(),
                of: 0,
            });
        }
        let depends = ways
            .iter()
            .any(|(list, way)| depends(taken, force, list, way));
        if let Some(last) = list.last_mut() {
            last.of += 1;
            if depends {
                last.lines.push(taken.line);
            }
        }
    }
    list.retain(|u| !u.lines.is_empty());
    list
}

/// Whether a reading changes with a movement, all parameters that change together taken together: a turn
/// of the whole table moves notches and switch alike.
fn depends(taken: &Taken, force: &InForce, list: &Unknowns, way: &Freedom) -> bool {
    let mut by = vec![[0.0; 3]; list.len()];
    let found = taken
        .reading
        .evaluate(&force.geometry, list, Some(&mut by[..]));
    (0..found.count).any(|k| {
        let parts = by.iter().zip(&way.shares);
        let by_one: f64 = parts
            .map(|(d, (p, share))| d[k] * share * p.unit().in_code())
            .sum();
        (by_one / taken.u).abs() > DEPENDS
    })
}
