//! Whether a slip can be told at all, by trying everything; and whether the program told it.

use notchpin::diagnose::Problems;
use notchpin::fit::adjust::Network;
use notchpin::fit::solve::Solver;
use notchpin::fit::start::least;
use notchpin::readings::Reading;
use notchpin::readings::Taken;
use notchpin::registration::Bench;
use notchpin::registration::CauseDocument;
use notchpin::registration::Document;
use notchpin::registration::document;
use notchpin::registration::register;
use notchpin::registration::resolve_unknowns;

use crate::made::Made;
use crate::slip::Change;
use crate::slip::Slip;
use crate::slip::of_row;
use crate::slip::of_whole;

/// The slip costs at least so much of chi2 (five standard deviations and more).
const VISIBLE: f64 = 30.0;
/// Any other correction costs at least so much more than the right one (1 : 400).
const TELLS: f64 = 12.0;

/// A length read in the other unit was rounded to a thousandth of an inch or a tenth of a millimetre.
const ROUNDING_MM: f64 = 0.06;

/// Understands a cell; `None` where that is refused.
pub fn read(made: &Made) -> Option<(Bench, notchpin::parameters::Unknowns)> {
    let mut problems = Problems::default();
    let cell = notchpin::cell::parse("cell.toml", &made.toml, &mut problems)?;
    let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems)?;
    let mut bench = Bench::new(cell);
    for rows in &made.tables {
        let name = format!("readings/{}", rows.file);
        bench.read(rows.file, &name, rows.text().into_bytes(), &mut problems);
    }
    (!problems.has_errors()).then_some((bench, unknowns))
}

/// The least sum of squares near some values, and where; from everywhere if `near` is empty.
fn chi2(made: &Made, near: &[f64]) -> Option<(f64, Vec<f64>)> {
    let (bench, unknowns) = read(made)?;
    let taken: Vec<&Taken> = bench.taken.iter().collect();
    let mut network = Network::new(&bench.cell.nominal, &unknowns, taken);
    let minimum = match near {
        [] => least(&mut network),
        near => network.minimum_from(&mut Solver::new(), near),
    };
    minimum
        .chi2
        .is_finite()
        .then_some((minimum.chi2, minimum.x))
}

pub fn registered(made: &Made) -> Option<Document> {
    let (bench, unknowns) = read(made)?;
    let registration = register(&bench, &unknowns);
    Some(document(&bench, &unknowns, &registration))
}

pub fn readings(made: &Made) -> Option<Vec<Reading>> {
    let (bench, _) = read(made)?;
    Some(bench.taken.into_iter().map(|t| t.reading).collect())
}

/// Whether the slip can be told from the readings: it is visible, and no other correction of what was
/// changed explains the readings about as well.
pub fn distinguishable(right: &Made, wrong: &Made, slip: &Slip) -> bool {
    let Some((least_right, x)) = chi2(right, &[]) else {
        return false;
    };
    let Some((with_slip, _)) = chi2(wrong, &x) else {
        return false;
    };
    if with_slip < least_right + VISIBLE {
        return false;
    }
    let meant = readings(right).unwrap();
    let mut others: Vec<Slip> = Vec::new();
    match &slip.what {
        Change::Rows { table, edits } => {
            let mut rows: Vec<usize> = edits.iter().map(|e| e.row).collect();
            rows.dedup();
            for row in rows {
                others.extend(of_row(wrong, *table, row));
            }
        }
        Change::Header { .. } | Change::Toml { .. } => others = of_whole(wrong),
    }
    let whole = !matches!(slip.what, Change::Rows { .. });
    for other in others {
        let mut tried = wrong.clone();
        other.put_into(&mut tried);
        let Some(said) = readings(&tried) else {
            continue;
        };
        if tried.toml == right.toml && same(&said, &meant, 0.0) {
            continue;
        }
        let near: &[f64] = if whole { &[] } else { &x };
        let Some((least_other, _)) = chi2(&tried, near) else {
            continue;
        };
        // A number read in the other unit comes back only as well as it was rounded.
        let almost = slip.kind == "unit" && same(&said, &meant, ROUNDING_MM);
        if least_other < least_right + TELLS && !almost {
            return false;
        }
    }
    true
}

/// Whether two lists of readings say the same, lengths to within a tolerance, mm.
fn same(a: &[Reading], b: &[Reading], tolerance: f64) -> bool {
    if tolerance == 0.0 {
        // Rows that were exchanged as a whole are the same readings in another order.
        let mut left: Vec<&Reading> = b.iter().collect();
        return a.iter().all(|r| {
            let at = left.iter().position(|l| *l == r);
            at.map(|at| left.swap_remove(at)).is_some()
        }) && left.is_empty();
    }
    a.iter().zip(b).all(|(a, b)| near(a, b, tolerance))
}

fn near(a: &Reading, b: &Reading, tolerance: f64) -> bool {
    match (a, b) {
        (Reading::HoleCount(a), Reading::HoleCount(b)) => {
            let mut c = b.clone();
            c.gap_mm = a.gap_mm;
            c == *a && (a.gap_mm - b.gap_mm).abs() <= tolerance
        }
        (Reading::Touch(a), Reading::Touch(b)) => {
            let mut c = b.clone();
            c.offset_mm = a.offset_mm;
            c == *a && (a.offset_mm - b.offset_mm).amax() <= tolerance
        }
        (Reading::Height(a), Reading::Height(b)) => {
            let mut c = b.clone();
            c.height_mm = a.height_mm;
            c == *a && (a.height_mm - b.height_mm).abs() <= tolerance
        }
        (a, b) => a == b,
    }
}

/// What the program made of a slip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told {
    /// The slip, and nothing else.
    Right,
    /// Something that it was not.
    Wrong,
    /// No cause.
    Nothing,
}

/// Holds the causes that were named against what is right: each, put into the file, must give the right
/// readings.
pub fn told(right: &Made, wrong: &Made, slip: &Slip, document: &Document) -> Told {
    if document.causes.is_empty() {
        return Told::Nothing;
    }
    let all = document.causes.iter().all(|cause| {
        let mut corrected = wrong.clone();
        put_right(&mut corrected, cause)
            && cause.kind == slip.kind
            && match (&slip.what, cause.file.as_str()) {
                (Change::Toml { from, key, .. }, "cell.toml") => {
                    let value = from.rsplit(" = ").next().unwrap().parse::<f64>().unwrap();
                    cause.column == *key && cause.suggested.parse::<f64>() == Ok(value)
                }
                _ => {
                    let tolerance = if slip.kind == "unit" {
                        ROUNDING_MM
                    } else {
                        0.0
                    };
                    let (said, meant) = (readings(&corrected), readings(right));
                    let exact = said.clone().zip(meant.clone());
                    exact.is_some_and(|(a, b)| same(&a, &b, 0.0))
                        || said
                            .zip(meant)
                            .is_some_and(|(a, b)| same(&a, &b, tolerance))
                }
            }
    });
    if all { Told::Right } else { Told::Wrong }
}

/// Follows the advice of a cause; `false` where it does not fit the files.
fn put_right(made: &mut Made, cause: &CauseDocument) -> bool {
    if cause.file == "cell.toml" {
        return true;
    }
    let Some(rows) = made
        .tables
        .iter_mut()
        .find(|t| cause.file == format!("readings/{}", t.file))
    else {
        return false;
    };
    let columns: Vec<&str> = cause.column.split(", ").collect();
    let places: Option<Vec<usize>> = columns
        .iter()
        .map(|c| rows.header.iter().position(|h| h == c))
        .collect();
    let Some(places) = places else { return false };
    let suggested: Vec<&str> = cause.suggested.split(", ").collect();
    match cause.lines[..] {
        [] => {
            for (place, name) in places.iter().zip(&suggested) {
                (*name).clone_into(&mut rows.header[*place]);
            }
        }
        [line] => {
            let found: Vec<&str> = cause.found.split(", ").collect();
            for ((place, text), was) in places.iter().zip(&suggested).zip(found) {
                let cell = &mut rows.rows[line - 2][*place];
                if cell != was {
                    return false;
                }
                (*text).clone_into(cell);
            }
        }
        [a, b] => {
            for place in places {
                let (at_a, at_b) = (
                    rows.rows[a - 2][place].clone(),
                    rows.rows[b - 2][place].clone(),
                );
                rows.rows[a - 2][place] = at_b;
                rows.rows[b - 2][place] = at_a;
            }
        }
        _ => return false,
    }
    true
}
