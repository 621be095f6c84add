//! What moved? The plain explanations of readings that no longer fit, weighed against each other.
//!
//! Each explanation is one adjustment of the new readings in which only what it says is free and all
//! the rest is held by the covariance of the registration in force. They are ranked by Schwarz's
//! criterion, `S + k ln m` for k freed parameters and m new residuals (Schwarz 1978, Estimating the
//! dimension of a model): half its difference is about the logarithm of the odds between two
//! explanations that were as likely beforehand (Kass, Raftery 1995, Bayes factors).

use crate::bench::Bench;
use crate::causes;
use crate::causes::Cause;
use crate::causes::Suspect;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::solve;
use crate::fit::assess::GLOBAL_LIMIT;
use crate::fit::chi2::chi2_upper_tail;
use crate::moves::recheck::Recheck;
use crate::moves::recheck::readings_of;
use crate::moves::recheck::recheck;
use crate::moves::tying::Tied;
use crate::moves::tying::tied;
use crate::parts::Freedom;
use crate::parts::Part;
use crate::readings;
use crate::readings::Taken;
use crate::records::InForce;
use crate::table::common::Use;

/// An explanation is told as the one where it leads by this: odds of 9 to 1.
pub const LEAD: f64 = 4.4;
/// What a wrong reading costs beside a move: some two rows in a hundred are slips (*common practice*),
/// twice the logarithm of that.
const SLIP: f64 = 7.8;
/// What a second move at once costs beside one: as rare as a slip, judged.
const SECOND: f64 = 7.8;
/// As few residuals as this at least are counted: for fewer the criterion, which is one for many, would
/// give a freed parameter away for nothing.
const FEWEST: usize = 10;
/// So many readings that do not fit are tried as wrong ones.
const TRIED: usize = 12;
/// Movements that nobody takes for one: no screw or clamp lets go so far.
const FARTHEST_MM: f64 = 2000.0;

/// What an explanation says.
#[derive(Debug, Clone)]
pub enum What {
    /// These parts moved (one, or two where no single one explains the readings).
    Moved(Vec<Part>),
    /// One of the new readings is wrong.
    Reading(Box<Suspect>),
}

/// One explanation.
#[derive(Debug, Clone)]
pub struct Explanation {
    /// What it says.
    pub what: What,
    /// The ways that are free in it.
    pub freedoms: Vec<Freedom>,
    /// S at its best.
    pub chi2: f64,
    /// Freed parameters.
    pub parameters: usize,
    /// Residuals less freed parameters.
    pub dof: usize,
    /// P(χ² ≥ S); `None` with dof 0.
    pub p_value: Option<f64>,
    /// Schwarz's criterion; less is better.
    pub criterion: f64,
    /// The adjustment, for a move.
    pub solved: Option<(Tied, Solved)>,
}

impl Explanation {
    /// Whether the readings agree with it: the global test holds (or nothing is left to test).
    pub fn fits(&self) -> bool {
        self.p_value.is_none_or(|p| p >= GLOBAL_LIMIT)
    }

    /// Whether it is one wrong reading, and nothing moved.
    pub fn is_one_reading(&self) -> bool {
        matches!(&self.what, What::Reading(_))
    }

    /// The parts that it says have moved.
    pub fn parts(&self) -> &[Part] {
        match &self.what {
            What::Moved(parts) => parts,
            What::Reading(_) => &[],
        }
    }

    /// What the registration would be if it is right.
    pub fn in_force(&self) -> Option<InForce> {
        let (_, solved) = self.solved.as_ref()?;
        Some(InForce {
            geometry: solved.geometry.clone(),
            unknowns: solved.unknowns.clone(),
            covariance: solved.assessment.covariance.clone(),
        })
    }
}

/// All explanations that were tried.
#[derive(Debug, Clone)]
pub struct Weighed {
    /// The best first; one for each thing that may have happened.
    pub list: Vec<Explanation>,
    /// Residuals of the new readings.
    pub residuals: usize,
}

impl Weighed {
    /// Whether the first one explains the readings, with some to spare, and leads every other that does.
    pub fn named(&self) -> Option<&Explanation> {
        let first = self.list.first().filter(|e| e.fits() && e.dof > 0)?;
        self.rivals().is_empty().then_some(first)
    }

    /// Those that explain the readings about as well as the first one. One wrong reading that explains them
    /// at all is always among them: no movement is told from a single reading, and taking that one again
    /// settles it.
    pub fn rivals(&self) -> Vec<&Explanation> {
        let Some(first) = self.list.first().filter(|e| e.fits()) else {
            return Vec::new();
        };
        self.list[1..]
            .iter()
            .filter(|e| e.fits() && (e.criterion < first.criterion + LEAD || e.is_one_reading()))
            .collect()
    }
}

/// Weighs what may have happened where readings no longer fit.
pub fn explain(bench: &Bench, force: &InForce, seen: &Recheck) -> Weighed {
    let indices = readings_of(bench);
    let taken: Vec<&Taken> = bench.taken.iter().collect();
    let trial = Trial {
        bench,
        force,
        taken: &taken,
        indices: &indices,
        residuals: seen.dof,
    };
    let parts = Part::all(&bench.cell);
    let mut list: Vec<Explanation> = parts.iter().filter_map(|p| trial.part(*p)).collect();
    list.extend(trial.wrong_readings(seen));
    if !list.iter().any(Explanation::fits) {
        for (i, a) in parts.iter().enumerate() {
            list.extend(parts[i + 1..].iter().filter_map(|b| trial.two(*a, *b)));
        }
    }
    list.sort_by(|a, b| a.criterion.total_cmp(&b.criterion));
    Weighed {
        list,
        residuals: seen.dof,
    }
}

struct Trial<'a> {
    bench: &'a Bench,
    force: &'a InForce,
    taken: &'a [&'a Taken],
    indices: &'a [usize],
    residuals: usize,
}

impl Trial<'_> {
    /// The best of all ways in which one part can have moved: shifted only, turned only, both.
    fn part(&self, part: Part) -> Option<Explanation> {
        let freedoms = part.freedoms(&self.bench.cell);
        let subsets = (1..1_usize << freedoms.len()).map(|code| {
            let chosen = freedoms.iter().enumerate();
            let chosen = chosen.filter(|(i, _)| code >> i & 1 == 1);
            chosen.map(|(_, f)| f.clone()).collect::<Vec<_>>()
        });
        subsets
            .filter_map(|ways| self.moved(vec![part], ways, 0.0))
            .min_by(|a, b| a.criterion.total_cmp(&b.criterion))
    }

    fn two(&self, a: Part, b: Part) -> Option<Explanation> {
        let cell = &self.bench.cell;
        let ways = [a.freedoms(cell), b.freedoms(cell)].concat();
        self.moved(vec![a, b], ways, SECOND)
    }

    fn moved(&self, parts: Vec<Part>, ways: Vec<Freedom>, rarity: f64) -> Option<Explanation> {
        let k = ways.len();
        // With as many freedoms as residuals anything is explained.
        if k > self.residuals {
            return None;
        }
        let tied = tied(self.bench, self.force, &ways, &[])?;
        let nominal = &tied.bench.cell.nominal;
        let used = self.indices.to_vec();
        let solved = solve(nominal, &tied.unknowns, self.taken, used, Start::Anywhere)?;
        let far = |way: &Freedom| {
            way.shares.iter().any(|(p, _)| {
                let moved = p.get(&solved.geometry) - p.get(nominal);
                p.unit().in_code() == 1.0 && moved.abs() > FARTHEST_MM
            })
        };
        if ways.iter().any(far) {
            return None;
        }
        let chi2 = solved.minimum.chi2;
        let dof = self.residuals - k;
        Some(Explanation {
            what: What::Moved(parts),
            chi2,
            parameters: k,
            dof,
            p_value: (dof > 0).then(|| chi2_upper_tail(chi2, dof)),
            criterion: chi2 + k as f64 * self.cost() + rarity,
            freedoms: ways,
            solved: Some((tied, solved)),
        })
    }

    /// ln m.
    fn cost(&self) -> f64 {
        (self.residuals.max(FEWEST) as f64).ln()
    }

    /// Each reading that does not fit, taken for wrong, the others for right.
    fn wrong_readings(&self, seen: &Recheck) -> Vec<Explanation> {
        let Some(known) = self.as_known() else {
            return Vec::new();
        };
        // Those that are farthest off first.
        let ratio = |index: &usize| {
            let own = seen.seen.iter().filter(|s| s.index == *index);
            own.map(|s| s.ratio.abs()).fold(0.0, f64::max)
        };
        let mut tried = seen.failing.clone();
        tried.sort_by(|a, b| ratio(b).total_cmp(&ratio(a)));
        tried.truncate(TRIED);
        let suspects = causes::outside(self.bench, &known, &tried);
        let wrong = suspects.into_iter().map(|suspect| {
            // A slip that is named explains the row by itself: the readings with it put right. Else the row's
            // components are free: the readings without it.
            let put_right = suspect.cause.as_ref();
            let put_right = put_right.and_then(|c| corrected(self.bench, suspect.index, c));
            let (left, k) = match &put_right {
                Some(bench) => (recheck(bench, self.force), 0),
                None => {
                    let mut rest = self.bench.clone();
                    rest.taken[suspect.index].role = Use::No;
                    (recheck(&rest, self.force), self.components(suspect.index))
                }
            };
            let chi2 = left.map_or(0.0, |l| l.chi2);
            let dof = self.residuals - k;
            Explanation {
                what: What::Reading(Box::new(suspect)),
                freedoms: Vec::new(),
                chi2,
                parameters: k,
                dof,
                p_value: (dof > 0).then(|| chi2_upper_tail(chi2, dof)),
                criterion: chi2 + k as f64 * self.cost() + SLIP,
                solved: None,
            }
        });
        wrong.collect()
    }

    fn components(&self, index: usize) -> usize {
        self.bench.taken[index].reading.components()
    }

    /// The registration in force as a solution of no readings at all.
    fn as_known(&self) -> Option<Solved> {
        let tied = tied(self.bench, self.force, &[], &[])?;
        let start = tied.unknowns.read(&self.force.geometry);
        let nominal = &self.force.geometry;
        let none: Vec<usize> = Vec::new();
        solve(
            nominal,
            &tied.unknowns,
            self.taken,
            none,
            Start::Near(&start),
        )
    }
}

/// The readings with one row put right as a cause says; `None` where that cannot be read.
pub fn corrected(bench: &Bench, index: usize, cause: &Cause) -> Option<Bench> {
    let taken = &bench.taken[index];
    let source = bench.sources.iter().find(|s| *s.name == *taken.file)?;
    let setting = bench.setting();
    let rows = readings::written(source.kind, &source.bytes, &setting, &[taken.line]);
    let mut row = rows.into_iter().next()?;
    let columns: Vec<&str> = cause.column.split(", ").collect();
    let suggested: Vec<&str> = cause.suggested.split(", ").collect();
    if columns.len() != suggested.len() {
        return None;
    }
    for (column, text) in columns.iter().zip(&suggested) {
        row.set(column, text);
    }
    let right = readings::understood(source.kind, &row, &setting)?;
    let mut bench = bench.clone();
    bench.taken[index].reading = right.reading;
    Some(bench)
}
