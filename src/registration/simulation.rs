//! Noisy copies of a registration on all cores.

use std::num::NonZero;
use std::sync::Mutex;

use serde::Deserialize;
use serde::Serialize;

use crate::bench::Bench;
use crate::fit::adjust::Network;
use crate::fit::simulate::Counts;
use crate::fit::simulate::Subject;
use crate::fit::simulate::simulate;
use crate::parameters::Unknowns;
use crate::readings::Taken;
use crate::registration::Determined;
use crate::registration::PointCheck;

/// `simulation` in JSON: shares are 0 to 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SimulationDocument {
    /// Copies that were solved.
    pub copies: usize,
    /// Copies that could not be.
    pub failed: usize,
    /// For each unknown the share of copies whose 95 % interval held the truth.
    pub parameters: Vec<HeldDocument>,
    /// For each point the share of copies whose tip lay within the 95 % radius, play left out.
    pub points: Vec<HeldDocument>,
    /// Mean over the unknowns; null where there is none.
    pub held: Option<f64>,
    /// Mean over the points; null where there is none.
    pub tip_held: Option<f64>,
    /// Share of good readings that were called suspect.
    pub false_suspects: f64,
    /// Share of copies that failed the global test.
    pub global_failures: f64,
    /// Copies with one error of the smallest noticeable size.
    pub spoilt: usize,
    /// Share of these in which it was found; null where nothing is checked.
    pub found: Option<f64>,
}

/// A share of copies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HeldDocument {
    /// Unknown or point.
    pub name: String,
    /// Share of the copies.
    pub held: f64,
}

/// Draws `copies` noisy copies on `threads` threads; `after_each` hears of each. The result does not depend on
/// the number of threads.
pub fn simulation(
    bench: &Bench,
    unknowns: &Unknowns,
    determined: &Determined,
    copies: u64,
    threads: NonZero<usize>,
    after_each: &(dyn Fn() + Sync),
) -> SimulationDocument {
    let x = unknowns.read(&determined.geometry);
    let seen: Vec<&PointCheck> = determined
        .points
        .iter()
        .filter(|p| p.stand.is_some())
        .collect();
    let points: Vec<_> = seen
        .iter()
        .filter_map(|p| Some((p.stand?, p.frame)))
        .collect();
    let subject = Subject {
        x: &x,
        assessment: &determined.assessment,
        points: &points,
    };
    let total = Mutex::new(Counts::default());
    let share = copies.div_ceil(threads.get() as u64).max(1);
    std::thread::scope(|scope| {
        for first in (0..copies).step_by(share as usize) {
            let (subject, total) = (&subject, &total);
            scope.spawn(move || {
                let taken: Vec<&Taken> = determined.used.iter().map(|i| &bench.taken[*i]).collect();
                let mut network = Network::new(&bench.cell.nominal, unknowns, taken);
                let numbers = first..(first + share).min(copies);
                let counts = simulate(&mut network, subject, numbers, &mut || after_each());
                if let Ok(mut total) = total.lock() {
                    total.add(&counts);
                }
            });
        }
    });
    let counts = total.into_inner().unwrap_or_default();
    let of = |part: usize, whole: usize| part as f64 / whole.max(1) as f64;
    let share_of =
        |held: &[usize]| -> Vec<f64> { held.iter().map(|h| of(*h, counts.copies)).collect() };
    let (held, tips) = (share_of(&counts.held), share_of(&counts.tip_held));
    let mean = |shares: &[f64]| {
        (!shares.is_empty()).then(|| shares.iter().sum::<f64>() / shares.len() as f64)
    };
    let named = |names: Vec<&str>, shares: &[f64]| -> Vec<HeldDocument> {
        let pairs = names.into_iter().zip(shares);
        pairs
            .map(|(name, held)| HeldDocument {
                name: name.to_owned(),
                held: *held,
            })
            .collect()
    };
    SimulationDocument {
        copies: counts.copies,
        failed: counts.failed,
        held: mean(&held),
        tip_held: mean(&tips),
        parameters: named(
            bench.cell.solve.iter().map(|u| u.name.as_str()).collect(),
            &held,
        ),
        points: named(seen.iter().map(|p| p.name.as_str()).collect(), &tips),
        false_suspects: of(counts.suspects, counts.tested),
        global_failures: of(counts.global_failures, counts.copies),
        spoilt: counts.spoilt,
        found: (counts.spoilt > 0).then(|| of(counts.found, counts.spoilt)),
    }
}
