//! What a reading is held against as it is entered: the registration in force, else a solution of what
//! was entered so far, else the drawing.

use std::sync::Arc;

use nalgebra::DMatrix;

use crate::bench::Bench;
use crate::causes::Cause;
use crate::causes::outside;
use crate::causes::snoop::Ended;
use crate::causes::snoop::snoop;
use crate::causes::solved::Solved;
use crate::causes::solved::Start;
use crate::causes::solved::all;
use crate::causes::solved::solve;
use crate::cell::Geometry;
use crate::diagnose::Problems;
use crate::fit::assess::SUSPECT;
use crate::parameters::ParameterUnit;
use crate::parameters::Tie;
use crate::parameters::Unknowns;
use crate::readings::ResidualUnit;
use crate::readings::slips::SlipKind;
use crate::table::Written;

/// A drawing that foretells a reading no better than this, in units of its u, is no check of it.
const SHARP: f64 = 10.0;
/// As good as nothing is known of what the drawing leaves free: mm, rad, and of a scale its own size.
const ANYWHERE_MM: f64 = 1e4;
const ANYWHERE_RAD: f64 = 10.0;
/// The row that is being entered, as a file of the bench.
const TYPED: &str = "what was typed";

/// Where what is expected comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// The registration in force.
    Record,
    /// So many readings entered so far, so many more left out because they do not fit the others.
    SoFar(usize, usize),
    /// The drawing and its tolerances.
    Drawing,
    /// The registration in force where nothing moved; what moved from so many readings taken since.
    Moved(usize),
}

/// What readings are held against.
#[derive(Debug, Clone)]
pub struct Basis {
    bench: Bench,
    solved: Option<Solved>,
    /// Where it comes from.
    pub ground: Ground,
}

/// One component of a reading against what was expected of it, in mm or degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// Its name, where the reading has several.
    pub component: Option<&'static str>,
    /// How far off.
    pub off: f64,
    /// Standard uncertainty of that: of the reading and of what was expected.
    pub sd: f64,
}

impl Part {
    /// How many times what is usual.
    pub fn ratio(&self) -> f64 {
        (self.off / self.sd).abs()
    }
}

/// What may have been meant instead.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// What sort of slip.
    pub kind: SlipKind,
    /// Columns as in the header, what stands there, and what would fit.
    pub edits: Vec<(String, String, String)>,
    /// In words, after "if".
    pub words: String,
}

/// What came of a check.
#[derive(Debug, Clone, PartialEq)]
pub enum Checked {
    /// There is nothing to check this against yet.
    Nothing,
    /// It fits.
    Fits {
        /// Every component that could be checked.
        parts: Vec<Part>,
        /// Unit of the parts.
        unit: ResidualUnit,
    },
    /// It does not.
    Off {
        /// Every component that could be checked.
        parts: Vec<Part>,
        /// Unit of the parts.
        unit: ResidualUnit,
        /// What would fit, the likeliest first.
        suggestions: Vec<Suggestion>,
    },
}

impl Basis {
    /// From a registration: its geometry, its unknowns and their covariance.
    pub fn of_record(
        bench: &Bench,
        geometry: &Geometry,
        unknowns: &Unknowns,
        covariance: &DMatrix<f64>,
    ) -> Basis {
        let mut bench = without_readings(bench);
        bench.cell.nominal = geometry.clone();
        let at = unknowns.read(geometry);
        let free = unknowns.list.iter().map(|(p, _)| (*p, None)).collect();
        let nothing_freed = DMatrix::zeros(at.len(), 0);
        // Tied to what the record left behind, no reading is needed to be there again.
        let solved = Tie::new(at.clone(), covariance, &nothing_freed).and_then(|tie| {
            let tied = Unknowns::new(free).tied(tie);
            solve(geometry, &tied, &[], Vec::new(), Start::Near(&at))
        });
        Basis {
            bench,
            solved,
            ground: Ground::Record,
        }
    }

    /// From the readings of the bench that take part, where they settle all unknowns and agree once few
    /// are left out; else from the drawing.
    pub fn so_far(bench: &Bench, unknowns: &Unknowns) -> Basis {
        let used: Vec<usize> = (0..bench.taken.len())
            .filter(|i| bench.taken[*i].used())
            .collect();
        let nominal = &bench.cell.nominal;
        let count = used.len();
        let found = match used.is_empty() || unknowns.is_empty() {
            true => None,
            false => solve(nominal, unknowns, &all(bench), used, Start::Anywhere),
        };
        let agreed = found.and_then(|solved| match solved.ordinary() {
            true => Some(solved),
            false => {
                let rest = snoop(bench, solved, usize::MAX);
                (rest.ended == Ended::Agrees).then_some(rest.solved)
            }
        });
        match agreed {
            Some(solved) => Basis {
                ground: Ground::SoFar(solved.used.len(), count - solved.used.len()),
                bench: bench.clone(),
                solved: Some(solved),
            },
            None => Basis::drawing(bench, unknowns),
        }
    }

    /// From the drawing and its tolerances alone.
    pub fn drawing(bench: &Bench, unknowns: &Unknowns) -> Basis {
        let bench = without_readings(bench);
        let nominal = &bench.cell.nominal;
        let at = unknowns.read(nominal);
        let known =
            unknowns.list.iter().zip(&at).map(|((p, tolerance), at)| {
                (*p, Some(tolerance.unwrap_or(anywhere(p.unit(), *at))))
            });
        let known = Unknowns::new(known.collect());
        let solved = solve(nominal, &known, &[], Vec::new(), Start::Near(&at));
        Basis {
            bench,
            solved,
            ground: Ground::Drawing,
        }
    }

    /// After a move: from unknowns that are tied to a registration, some free, and the readings of the
    /// bench taken since. What these do not settle yet may be anywhere.
    pub fn moved(bench: &Bench, unknowns: &Unknowns) -> Basis {
        let used: Vec<usize> = (0..bench.taken.len())
            .filter(|i| bench.taken[*i].used())
            .collect();
        let nominal = &bench.cell.nominal;
        let ground = Ground::Moved(used.len());
        let settled = match used.is_empty() {
            true => None,
            false => solve(
                nominal,
                unknowns,
                &all(bench),
                used.clone(),
                Start::Anywhere,
            ),
        };
        if let Some(solved) = settled.filter(Solved::ordinary) {
            return Basis {
                bench: bench.clone(),
                solved: Some(solved),
                ground,
            };
        }
        let list = unknowns.list.iter().enumerate();
        let list = list.map(|(j, (p, tolerance))| match unknowns.free(j) {
            true => (*p, Some(anywhere(p.unit(), p.get(nominal)))),
            false => (*p, *tolerance),
        });
        let wide = unknowns.again(list.collect());
        let at = wide.read(nominal);
        Basis {
            solved: solve(nominal, &wide, &all(bench), used, Start::Near(&at)),
            bench: bench.clone(),
            ground,
        }
    }

    /// Holds a row against it.
    pub fn check(&self, kind: &'static str, row: &Written) -> Checked {
        let Some(solved) = &self.solved else {
            return Checked::Nothing;
        };
        let mut bench = self.bench.clone();
        let index = bench.taken.len();
        let mut row = row.clone();
        row.set("use", "yes");
        let mut problems = Problems::default();
        let bytes: Arc<[u8]> = row.csv().into_bytes().into();
        bench.read(kind, TYPED, bytes, &mut problems);
        let Some(taken) = bench.taken.get(index) else {
            return Checked::Nothing;
        };
        let Some(seen) = solved.predict(&[taken]) else {
            return Checked::Nothing;
        };
        let unit = taken.reading.unit();
        let scale = taken.u / unit.in_code();
        let vague = matches!(self.ground, Ground::Drawing | Ground::Moved(_));
        let sharp = |sd: f64| !vague || (sd * sd - 1.0) <= SHARP * SHARP;
        let parts: Vec<Part> = (0..seen.r.len())
            .filter(|k| sharp(seen.sd[*k]))
            .map(|k| Part {
                component: taken.reading.component(k),
                off: seen.r[k] * scale,
                sd: seen.sd[k] * scale,
            })
            .collect();
        if parts.is_empty() {
            return Checked::Nothing;
        }
        // Not the other way round: what is no number does not fit.
        if parts.iter().all(|p| p.ratio() <= SUSPECT) {
            return Checked::Fits { parts, unit };
        }
        let suspect = outside(&bench, solved, &[index]).into_iter().next();
        let causes = suspect.map_or_else(Vec::new, |s| match s.cause {
            Some(cause) => vec![cause],
            None => s.possible,
        });
        Checked::Off {
            parts,
            unit,
            suggestions: causes.iter().filter_map(suggestion).collect(),
        }
    }
}

/// As good as nothing known of a value.
fn anywhere(unit: ParameterUnit, at: f64) -> f64 {
    match unit {
        ParameterUnit::Mm => ANYWHERE_MM,
        ParameterUnit::Deg => ANYWHERE_RAD,
        _ => at.abs().max(f64::MIN_POSITIVE),
    }
}

fn without_readings(bench: &Bench) -> Bench {
    Bench::new(bench.cell.clone())
}

/// A cause as a change of the row that was typed.
fn suggestion(cause: &Cause) -> Option<Suggestion> {
    let split = |text: &str| text.split(", ").map(str::to_owned).collect::<Vec<_>>();
    let columns = split(&cause.column);
    let (found, suggested) = (split(&cause.found), split(&cause.suggested));
    let whole = columns.len() == found.len() && columns.len() == suggested.len();
    // "line 2: it fits the others if the count is 9, not 8".
    let (_, words) = cause.sentence.split_once(" if ")?;
    whole.then(|| Suggestion {
        kind: cause.kind,
        edits: columns
            .into_iter()
            .zip(found)
            .zip(suggested)
            .map(|((column, found), suggested)| (column, found, suggested))
            .collect(),
        words: words.to_owned(),
    })
}
