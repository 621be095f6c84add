//! The likely cause of readings that do not fit: suspects are found one after another, and for each
//! the slips that people make are tried in turn. Nothing is changed; a person decides.

pub mod drawing;
pub mod pairs;
pub mod rows;
pub mod snoop;
pub mod solved;
pub mod whole;
mod words;

use crate::bench::Bench;
use crate::causes::drawing::Unsolved;
use crate::causes::drawing::unsolved;
use crate::causes::pairs::Exchange;
use crate::causes::pairs::exchanges;
use crate::causes::rows::Explained;
use crate::causes::rows::Explanation;
use crate::causes::rows::explain;
use crate::causes::rows::log_sum;
use crate::causes::snoop::Ended;
use crate::causes::snoop::Snooped;
use crate::causes::snoop::snoop;
use crate::causes::solved::Solved;
use crate::causes::solved::all;
use crate::causes::whole::WholeSlip;
use crate::causes::whole::whole;
use crate::parameters::Unknowns;
use crate::readings::slips::SlipKind;
use crate::table::Written;

/// A cause is named where its share of all that may explain the row is at least this.
const NAMED: f64 = 0.9;
/// Others are worth a mention from this share on.
const WORTH_A_WORD: f64 = 0.03;
/// ln of how much rarer a second slip is, given one: some two rows in a hundred are slips (*common
/// practice*: judged, not counted).
const SECOND_SLIP: f64 = -3.9;
/// So many rows may be behind what one slip of the whole explains as well.
const FEW: usize = 3;
/// ln of 9 to 1: the lead that one of two ways to explain the same rows must have.
const LEAD: f64 = 2.2;

/// What is likely behind something that does not fit.
#[derive(Debug, Clone)]
pub struct Cause {
    /// What sort of slip.
    pub kind: SlipKind,
    /// The file to correct, as the user would say it.
    pub file: String,
    /// Its lines; none for a whole file or cell.
    pub lines: Vec<usize>,
    /// Places in the bench's list of the readings that it explains.
    pub readings: Vec<usize>,
    /// Columns, as in the header.
    pub column: String,
    /// What stands there.
    pub found: String,
    /// What should stand there.
    pub suggested: String,
    /// S as it was written, other suspects left out.
    pub chi2_before: f64,
    /// S with this put right.
    pub chi2_after: f64,
    /// Its share of all that may explain the same, 0 to 1.
    pub share: f64,
    /// In a sentence.
    pub sentence: String,
}

/// A suspect and what may be behind it.
#[derive(Debug, Clone)]
pub struct Suspect {
    /// Place in the bench's list.
    pub index: usize,
    /// How far off it is from what the others say, mm or rad, a component each.
    pub off: Vec<f64>,
    /// The cause, where one explains it best by far.
    pub cause: Option<Cause>,
    /// Otherwise what may explain it, the likeliest first.
    pub possible: Vec<Cause>,
}

/// What was found.
#[derive(Debug, Clone)]
pub struct Findings {
    /// What was set aside one after another, and the rest solved.
    pub snooped: Snooped,
    /// The suspects, in the order in which they were found.
    pub suspects: Vec<Suspect>,
    /// A slip of the whole file or cell that explains all at once.
    pub whole: Option<Cause>,
    /// Otherwise such slips that may.
    pub whole_possible: Vec<Cause>,
    /// What the drawing holds and is probably wrong there: with it solved for, all readings agree.
    pub unsolved: Vec<Unsolved>,
    /// Whether that is to blame rather than any reading.
    pub held: bool,
}

impl Findings {
    /// Whether it is single rows that are wrong, and the rest agrees.
    pub fn rows_are_to_blame(&self) -> bool {
        self.snooped.ended == Ended::Agrees && self.whole.is_none() && !self.suspects.is_empty()
    }

    /// All causes that are named, those of the whole first; one that explains two rows stands once.
    pub fn named(&self) -> Vec<&Cause> {
        let mut list: Vec<&Cause> = self.whole.iter().collect();
        for cause in self.suspects.iter().filter_map(|s| s.cause.as_ref()) {
            if !list
                .iter()
                .any(|c| c.lines == cause.lines && c.file == cause.file && c.kind == cause.kind)
            {
                list.push(cause);
            }
        }
        list
    }
}

/// Likely causes of readings that took no part in a solution and do not fit it.
pub fn outside(bench: &Bench, solved: &Solved, rows: &[usize]) -> Vec<Suspect> {
    let explained: Vec<Option<Explained>> =
        rows.iter().map(|i| explain(bench, solved, *i)).collect();
    let context = Context {
        bench,
        rest: solved,
        plain: solved,
        aside: rows,
        alone: false,
    };
    context.weigh(&explained, &[])
}

/// Looks for causes where a solution of all readings that take part is not ordinary.
pub fn find(bench: &Bench, unknowns: &Unknowns, plain: Solved) -> Findings {
    let slips = whole(bench, unknowns, &plain);
    // Where one slip of the whole explains all, few rows need to be tried beside it.
    let snooped = match slips.is_empty() {
        true => snoop(bench, plain.clone(), usize::MAX),
        false => snoop(bench, plain.clone(), FEW),
    };
    let aside = snooped.aside.clone();
    let rest = &snooped.solved;
    let trusted = snooped.ended == Ended::Agrees;
    let explained: Vec<Option<Explained>> = match trusted {
        true => aside.iter().map(|i| explain(bench, rest, *i)).collect(),
        false => aside.iter().map(|_| None).collect(),
    };
    let swaps: Vec<Exchange> = match trusted {
        true => aside
            .iter()
            .flat_map(|i| exchanges(bench, rest, &aside, *i))
            .collect(),
        false => Vec::new(),
    };
    let context = Context {
        bench,
        rest,
        plain: &plain,
        aside: &aside,
        alone: snooped.released.is_empty(),
    };
    let mut suspects = context.weigh(&explained, &swaps);
    for suspect in &mut suspects {
        suspect.off = own_residuals(bench, rest, suspect.index);
    }
    let (mut named_whole, mut possible_whole) = (None, Vec::new());
    let settled = aside.len() == 1 && snooped.released.is_empty() && suspects[0].cause.is_some();
    if !settled {
        let of_rows = context.weight_of_rows(&explained, &swaps, &snooped);
        let lead = |w: &WholeSlip| (rest.minimum.chi2 - w.chi2) / 2.0 - whole::RARITY;
        let causes: Vec<Cause> = slips
            .iter()
            .map(|w| context.whole_cause(w, &slips))
            .collect();
        if let Some(first) = causes.first()
            && (!trusted || lead(&slips[0]) > of_rows + LEAD)
        {
            match first.share >= NAMED {
                true => named_whole = Some(first.clone()),
                false => possible_whole = causes,
            }
            // The rows that were tried beside it only follow from it.
            suspects.clear();
        }
    }
    let (mut unsolved_for, mut held) = (Vec::new(), false);
    if named_whole.is_none() && possible_whole.is_empty() {
        unsolved_for = unsolved(bench, unknowns, &plain);
        let of_rows = context.weight_of_rows(&explained, &swaps, &snooped);
        let ahead = unsolved_for
            .first()
            .map_or(f64::NEG_INFINITY, |u| u.weight(rest.minimum.chi2) - of_rows);
        // Where the rows explain nothing by themselves, the drawing does not have to lead.
        held = !unsolved_for.is_empty() && (!trusted || ahead > LEAD);
        if held {
            suspects.clear();
        } else if trusted && ahead < -LEAD {
            unsolved_for.clear();
        } else if !unsolved_for.is_empty() {
            // Neither leads: no row is blamed for certain.
            for s in &mut suspects {
                s.possible.splice(0..0, s.cause.take());
            }
        }
    }
    Findings {
        snooped,
        suspects,
        whole: named_whole,
        whole_possible: possible_whole,
        unsolved: unsolved_for,
        held,
    }
}

fn own_residuals(bench: &Bench, rest: &Solved, index: usize) -> Vec<f64> {
    let taken = &bench.taken[index];
    let seen = rest.predict(&[taken]);
    seen.map_or_else(Vec::new, |p| p.r.iter().map(|r| r * taken.u).collect())
}

struct Context<'a> {
    bench: &'a Bench,
    rest: &'a Solved,
    plain: &'a Solved,
    aside: &'a [usize],
    alone: bool,
}

impl Context<'_> {
    /// For each suspect the explanation that leads, if one does.
    fn weigh(&self, explained: &[Option<Explained>], swaps: &[Exchange]) -> Vec<Suspect> {
        let mut suspects: Vec<Suspect> = self
            .aside
            .iter()
            .map(|i| Suspect {
                index: *i,
                off: Vec::new(),
                cause: None,
                possible: Vec::new(),
            })
            .collect();
        let place = |index: usize| self.aside.iter().position(|i| *i == index);
        let total = |index: usize| {
            let own = place(index).and_then(|k| explained[k].as_ref());
            own.map_or(0.0, Explained::total)
        };
        for (k, own) in explained.iter().enumerate() {
            let Some(own) = own else { continue };
            // The same row may be half of an exchange: then the other half must be explained too.
            let halves = swaps
                .iter()
                .filter(|s| s.pair.contains(&own.index))
                .map(|s| {
                    let other = s.pair[usize::from(s.pair[0] == own.index)];
                    match place(other) {
                        Some(_) => s.weight - total(other) - SECOND_SLIP,
                        None => s.weight,
                    }
                });
            let halves: Vec<f64> = halves.collect();
            let rows = own.slips.iter().map(|s| s.weight);
            let all = log_sum(rows.chain(halves.iter().copied()).chain([own.any_error]));
            let mut candidates: Vec<Cause> = Vec::new();
            for slip in &own.slips {
                let share = (slip.weight - all).exp();
                if share >= WORTH_A_WORD {
                    candidates.push(self.row_cause(own, slip, share));
                }
            }
            let mine = swaps.iter().filter(|s| s.pair.contains(&own.index));
            for (swap, weight) in mine.zip(&halves) {
                let share = (weight - all).exp();
                if share >= WORTH_A_WORD {
                    candidates.push(self.swap_cause(swap, own.index, share));
                }
            }
            candidates.sort_by(|a, b| b.share.total_cmp(&a.share));
            match candidates.first() {
                Some(first) if first.share >= NAMED => suspects[k].cause = Some(first.clone()),
                _ => suspects[k].possible = candidates,
            }
        }
        suspects
    }

    /// ln of the weight of the best way to explain all suspects row by row.
    fn weight_of_rows(
        &self,
        explained: &[Option<Explained>],
        swaps: &[Exchange],
        snooped: &Snooped,
    ) -> f64 {
        let mut sum = 0.0;
        let mut slips = snooped.released.len();
        let mut done: Vec<usize> = Vec::new();
        for own in explained.iter().flatten() {
            if done.contains(&own.index) {
                continue;
            }
            let swap = swaps
                .iter()
                .filter(|s| s.pair.contains(&own.index))
                .max_by(|a, b| a.weight.total_cmp(&b.weight));
            slips += 1;
            match swap {
                Some(s) if s.weight > own.total() => {
                    done.extend(s.pair);
                    sum += s.weight;
                }
                _ => sum += own.total(),
            }
        }
        sum + SECOND_SLIP * slips.saturating_sub(1) as f64
    }

    /// S with all other suspects left out and these rows as they were written.
    fn before(&self, readings: &[usize]) -> f64 {
        let whole = self.alone && readings.len() == self.aside.len();
        if whole && readings.iter().all(|i| self.plain.used.contains(i)) {
            return self.plain.minimum.chi2;
        }
        let taken = all(self.bench);
        rows::with(&self.bench.cell.nominal, self.rest, &taken, readings)
            .map_or(self.plain.minimum.chi2, |s| s.minimum.chi2)
    }

    fn row_cause(&self, own: &Explained, e: &Explanation, share: f64) -> Cause {
        let alone = self.alone && self.aside.len() == 1;
        let join = |part: &dyn Fn(&(String, String)) -> String| {
            let parts: Vec<String> = e.edits.iter().map(part).collect();
            parts.join(", ")
        };
        Cause {
            kind: e.kind,
            file: self.bench.taken[own.index].file.to_string(),
            lines: vec![e.written.line],
            readings: vec![own.index],
            column: join(&|edit| e.written.name(&edit.0).to_owned()),
            found: join(&|edit| e.written.text(&edit.0).to_owned()),
            suggested: join(&|edit| edit.1.clone()),
            chi2_before: self.before(&[own.index]),
            chi2_after: self.rest.minimum.chi2 + e.t,
            share,
            sentence: words::of_row(e, alone),
        }
    }

    fn swap_cause(&self, e: &Exchange, index: usize, share: f64) -> Cause {
        let mine = usize::from(e.pair[1] == index);
        let both_aside = e.pair.iter().filter(|i| self.aside.contains(i)).count();
        let alone = self.alone && self.aside.len() == both_aside;
        let join = |row: &Written| {
            let parts: Vec<&str> = e.columns.iter().map(|c| row.text(c)).collect();
            parts.join(", ")
        };
        let names: Vec<&str> = e.columns.iter().map(|c| e.written[0].name(c)).collect();
        let mut lines = vec![e.written[0].line, e.written[1].line];
        lines.sort_unstable();
        let gain = 2.0 * (e.weight + pairs::RARITY) + e.t;
        Cause {
            kind: SlipKind::Swap,
            file: self.bench.taken[index].file.to_string(),
            lines,
            readings: e.pair.to_vec(),
            column: names.join(", "),
            found: join(&e.written[mine]),
            suggested: join(&e.written[1 - mine]),
            chi2_before: self.before(&e.pair),
            chi2_after: self.rest.minimum.chi2 - gain + e.t,
            share,
            sentence: words::of_exchange(e, alone),
        }
    }

    fn whole_cause(&self, w: &WholeSlip, all: &[WholeSlip]) -> Cause {
        let weights = all.iter().map(|o| -o.chi2 / 2.0);
        Cause {
            kind: w.kind,
            file: w.file.clone(),
            lines: Vec::new(),
            readings: self.plain.used.clone(),
            column: w.column.clone(),
            found: w.found.clone(),
            suggested: w.suggested.clone(),
            chi2_before: self.plain.minimum.chi2,
            chi2_after: w.chi2,
            share: (-w.chi2 / 2.0 - log_sum(weights)).exp(),
            sentence: words::of_whole(w),
        }
    }
}
