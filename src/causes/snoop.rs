//! Suspects one after another: the reading whose absence explains most is set aside, the rest is
//! solved anew, until what is left agrees (data snooping, Baarda 1968; taken step by step, as
//! Kok 1984, On data snooping and multiple outlier testing, describes it; both from memory).

use crate::bench::Bench;
use crate::causes::solved::FITS;
use crate::causes::solved::SMALL;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::fit::assess::SUSPECT;
use crate::fit::chi2::chi2_upper_tail;
use crate::parameters::Unknowns;
use crate::readings::Taken;

/// How the search for suspects ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// What is left agrees.
    Agrees,
    /// Too many would have to be set aside to say which are wrong.
    TooMany,
    /// No single reading stands out, but together they fit worse than stated.
    NothingStandsOut,
}

/// What was set aside, and what came out of the rest.
#[derive(Debug, Clone)]
pub struct Snooped {
    /// Places in the bench's list, in the order in which they were found.
    pub aside: Vec<usize>,
    /// Unknowns whose tolerance does not fit.
    pub released: Vec<usize>,
    /// The rest, solved.
    pub solved: Solved,
    /// How it ended.
    pub ended: Ended,
}

/// Something that can be set aside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Reading(usize),
    Tolerance(usize),
}

/// Most readings that are set aside: a sixth, at least 3, at most 40. With more the rest can no longer
/// say which are wrong.
fn most_of(readings: usize) -> usize {
    (readings / 6).clamp(3, 40)
}

/// Sets suspects aside, `most` of them or fewer, beginning from a solution of all readings that take
/// part.
pub fn snoop(bench: &Bench, start: Solved, most: usize) -> Snooped {
    let taken = all(bench);
    let limit = most.min(most_of(start.used.len()));
    let start_used = start.used.clone();
    let mut state = start;
    let mut found: Vec<Part> = Vec::new();
    let ended = loop {
        if state.ordinary() {
            break Ended::Agrees;
        }
        if !state.assessment.any_suspect() {
            break Ended::NothingStandsOut;
        }
        if found.len() >= limit {
            break Ended::TooMany;
        }
        let Some((part, rest)) = next(bench, &taken, &state) else {
            break Ended::TooMany;
        };
        found.push(part);
        state = rest;
        if let Part::Reading(i) = part
            && much_of_one_file(&taken, &start_used, &found, i)
        {
            break Ended::TooMany;
        }
    };
    if ended == Ended::Agrees {
        state = readmit(bench, &taken, &mut found, state);
    }
    let mut snooped = Snooped {
        aside: Vec::new(),
        released: Vec::new(),
        solved: state,
        ended,
    };
    for part in found {
        match part {
            Part::Reading(i) => snooped.aside.push(i),
            Part::Tolerance(j) => snooped.released.push(j),
        }
    }
    snooped
}

/// Whether more than a third of the rows of a file, and four or more, are set aside: then it is hardly these
/// rows that are wrong, but what they share, or what the cell holds for known.
fn much_of_one_file(taken: &[&Taken], used: &[usize], found: &[Part], last: usize) -> bool {
    let file = &taken[last].file;
    let rows = used.iter().filter(|i| taken[**i].file == *file).count();
    let aside = found.iter().filter(|part| match part {
        Part::Reading(i) => taken[*i].file == *file,
        Part::Tolerance(_) => false,
    });
    let aside = aside.count();
    aside >= 4 && 3 * aside > rows
}

/// What explains most when it is set aside, and the rest solved without it.
fn next(bench: &Bench, taken: &[&Taken], state: &Solved) -> Option<(Part, Solved)> {
    let mut order: Vec<(Part, f64, usize)> = Vec::new();
    for i in &state.used {
        if let Some((fall, dof)) = state.share(taken[*i])
            && dof > 0
        {
            order.push((Part::Reading(*i), fall, dof));
        }
    }
    for (j, found) in state.assessment.found.iter().enumerate() {
        if let Some(w) = found.tolerance.and_then(|t| t.standardized) {
            order.push((Part::Tolerance(j), w * w, 1));
        }
    }
    // Each degree of freedom that is given up must earn its keep (Akaike 1974: two for each).
    let worth = |fall: f64, dof: usize| fall - 2.0 * dof as f64;
    order.sort_by(|a, b| worth(b.1, b.2).total_cmp(&worth(a.1, a.2)));
    let rows = state.minimum.whitened.len() * state.unknowns.len();
    // The larger the misfit, the less the first order says; then more of them are really tried.
    let rough = state.assessment.sigma0.is_some_and(|s| s > 3.0);
    let tried = match (rough, rows < SMALL) {
        (true, true) => 15,
        (true, false) => 4,
        (false, _) => 3,
    };
    let mut best: Option<(Part, Solved, f64)> = None;
    for (part, fall, dof) in order.into_iter().take(tried) {
        if fall <= SUSPECT * SUSPECT {
            continue;
        }
        let Some(rest) = without(bench, taken, state, part) else {
            continue;
        };
        let left = rest.minimum.chi2 + 2.0 * dof as f64;
        if best.as_ref().is_none_or(|b| left < b.2) {
            best = Some((part, rest, left));
        }
    }
    let (part, rough, _) = best?;
    let fine = solve(
        &bench.cell.nominal,
        &rough.unknowns,
        taken,
        rough.used.clone(),
        Start::Near(&rough.minimum.x),
    );
    Some((part, fine.unwrap_or(rough)))
}

fn without(bench: &Bench, taken: &[&Taken], state: &Solved, part: Part) -> Option<Solved> {
    let mut used = state.used.clone();
    let mut unknowns = state.unknowns.clone();
    match part {
        Part::Reading(i) => used.retain(|k| *k != i),
        Part::Tolerance(j) => unknowns = released(&unknowns, j),
    }
    let start = Start::Roughly(&state.minimum.x);
    solve(&bench.cell.nominal, &unknowns, taken, used, start)
}

fn released(unknowns: &Unknowns, j: usize) -> Unknowns {
    let mut list = unknowns.list.clone();
    list[j].1 = None;
    unknowns.again(list)
}

/// Takes back what fits after all: it was set aside while something worse pulled it along.
fn readmit(bench: &Bench, taken: &[&Taken], found: &mut Vec<Part>, mut state: Solved) -> Solved {
    for part in found.clone() {
        let Part::Reading(i) = part else { continue };
        let fits = state
            .predict(&[taken[i]])
            .is_some_and(|p| chi2_upper_tail(p.t, p.r.len()) >= FITS);
        if !fits {
            continue;
        }
        let mut used = state.used.clone();
        used.push(i);
        used.sort_unstable();
        let start = Start::Near(&state.minimum.x);
        if let Some(again) = solve(&bench.cell.nominal, &state.unknowns, taken, used, start)
            && again.ordinary()
        {
            found.retain(|p| *p != part);
            state = again;
        }
    }
    state
}
