//! All that a cell folder says, understood.

use crate::cell::Cell;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::diagnose::nearest;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::points::GivenPoint;
use crate::points::TaughtPoint;
use crate::readings::Taken;

/// A cell with its readings and points.
#[derive(Debug, Clone)]
pub struct Bench {
    /// The cell.
    pub cell: Cell,
    /// All readings, kind by kind, in the order of their files.
    pub taken: Vec<Taken>,
    /// `points.csv`.
    pub points: Vec<GivenPoint>,
    /// `taught.csv`.
    pub taught: Vec<TaughtPoint>,
}

/// Finds the parameters that `[solve]` names; reports those that the cell does not have.
pub fn resolve_unknowns(cell: &Cell, file: &str, problems: &mut Problems) -> Option<Unknowns> {
    let mut list: Vec<(Parameter, Option<f64>)> = Vec::new();
    let mut good = true;
    for unknown in &cell.solve {
        let mut report = |expected: String, advice: String| {
            good = false;
            problems.push(Problem {
                severity: Severity::Error,
                file: file.to_owned(),
                line: Some(unknown.line),
                column: Some(unknown.column),
                field: Some("solve".to_owned()),
                found: format!("{:?}", unknown.name),
                expected,
                advice,
            });
        };
        match Parameter::named(cell, &unknown.name) {
            Some(p) if list.iter().any(|(q, _)| *q == p) => report(
                "each unknown once".to_owned(),
                "remove one of the two lines".to_owned(),
            ),
            Some(p) => list.push((p, unknown.tolerance.map(|t| t * p.unit().in_code()))),
            None => {
                let all = Parameter::all(cell);
                let near = nearest(&unknown.name, all.iter().map(|(name, _)| name.as_str()));
                report(
                    "the name of a parameter that this cell has".to_owned(),
                    match near {
                        Some(near) => format!("write \"{near}\", if that is meant"),
                        None => "see the list of parameters in docs/files.md".to_owned(),
                    },
                );
            }
        }
    }
    good.then(|| Unknowns::new(list))
}

/// Reports the readings that need the arm's heading where it has none: its x stands vertical.
pub fn check_headings(bench: &Bench, problems: &mut Problems) {
    for taken in bench.taken.iter().filter(|t| t.used) {
        let Some(stand) = taken.reading.heading_joints() else {
            continue;
        };
        let arm = stand.arm(&bench.cell.nominal, 1);
        if arm.heading_raw().norm() < 1e-3 {
            problems.push(Problem {
                severity: Severity::Error,
                file: format!("readings/{}", taken.reading.file()),
                line: Some(taken.line),
                column: None,
                field: None,
                found: "a reading that is judged along the arm's heading".to_owned(),
                expected: "an arm whose x at the zero posture is not vertical".to_owned(),
                advice: "leave this row out (use = no), or describe the arm with x ahead"
                    .to_owned(),
            });
        }
    }
}
