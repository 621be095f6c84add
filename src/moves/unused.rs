//! Readings of before a move that no longer count: they depend on what has moved.

use crate::bench::Bench;
use crate::fit::assess::scaling_of;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::readings::Taken;
use crate::records::InForce;

/// A reading that changes by less than this share of its u for one scaling unit (1 mm, 1°) of what
/// moved does not depend on it.
const DEPENDS: f64 = 1e-3;

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

/// Which readings of a bench that took part depend on any of the parameters, by file.
pub fn no_longer_count(bench: &Bench, force: &InForce, freed: &[Parameter]) -> Vec<Unused> {
    let unknowns = Unknowns::new(freed.iter().map(|p| (*p, None)).collect());
    let scale = scaling_of(&unknowns, &unknowns.read(&force.geometry));
    let mut by = vec![[0.0; 3]; unknowns.len()];
    let mut list: Vec<Unused> = Vec::new();
    for taken in bench.taken.iter().filter(|t| t.used()) {
        if list.last().is_none_or(|u| u.file != *taken.file) {
            list.push(Unused {
                file: taken.file.to_string(),
                lines: Vec::new(),
                of: 0,
            });
        }
        let depends = depends(taken, force, &unknowns, &scale, &mut by);
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

fn depends(
    taken: &Taken,
    force: &InForce,
    unknowns: &Unknowns,
    scale: &[f64],
    by: &mut [[f64; 3]],
) -> bool {
    by.fill([0.0; 3]);
    let found = taken
        .reading
        .evaluate(&force.geometry, unknowns, Some(&mut by[..]));
    by.iter().zip(scale).any(|(d, scale)| {
        d[..found.count]
            .iter()
            .any(|v| (v * scale / taken.u).abs() > DEPENDS)
    })
}
