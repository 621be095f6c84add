//! All that a cell folder says, understood.

use std::sync::Arc;

use crate::cell::Cell;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::diagnose::nearest;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::points::GivenPoint;
use crate::points::TaughtPoint;
use crate::readings;
use crate::readings::Setting;
use crate::readings::Taken;
use crate::readings::Unfinished;

/// A file of readings as it was written: slips are looked for in what a person wrote down.
#[derive(Debug, Clone)]
pub struct Source {
    /// Its kind: the name of the kind's file.
    pub kind: &'static str,
    /// Its name, as the user would say it.
    pub name: Arc<str>,
    /// What stands in it.
    pub bytes: Arc<[u8]>,
}

/// A cell with its readings and points.
#[derive(Debug, Clone)]
pub struct Bench {
    /// The cell.
    pub cell: Cell,
    /// All readings, kind by kind, in the order of their files.
    pub taken: Vec<Taken>,
    /// Rows that are laid out and not filled in yet.
    pub unfinished: Vec<Unfinished>,
    /// The files of readings as they were written.
    pub sources: Vec<Source>,
    /// `points.csv`.
    pub points: Vec<GivenPoint>,
    /// `taught.csv`.
    pub taught: Vec<TaughtPoint>,
}

impl Bench {
    /// A cell without readings and points.
    pub fn new(cell: Cell) -> Self {
        Bench {
            cell,
            taken: Vec::new(),
            unfinished: Vec::new(),
            sources: Vec::new(),
            points: Vec::new(),
            taught: Vec::new(),
        }
    }

    /// The same cell and points, without any reading.
    pub fn without_readings(&self) -> Self {
        Bench {
            points: self.points.clone(),
            taught: self.taught.clone(),
            ..Bench::new(self.cell.clone())
        }
    }

    /// Understands a file of readings and adds its rows; `kind` is one of [`readings::FILES`], `name`
    /// is what the user would say. Mistakes are reported.
    pub fn read(
        &mut self,
        kind: &'static str,
        name: &str,
        bytes: impl Into<Arc<[u8]>>,
        problems: &mut Problems,
    ) {
        let source = Source {
            kind,
            name: name.into(),
            bytes: bytes.into(),
        };
        let setting = self.setting();
        let rows = readings::read(kind, name, &source.bytes, &setting, problems);
        self.taken.extend(rows.taken);
        self.unfinished.extend(rows.unfinished);
        self.sources.push(source);
    }

    /// What a kind of reading needs to know to understand its rows.
    pub fn setting(&self) -> Setting<'_> {
        Setting {
            cell: &self.cell,
            solved: self.cell.solve.iter().map(|u| u.name.as_str()).collect(),
        }
    }
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
    for taken in bench.taken.iter().filter(|t| t.used()) {
        let Some(stand) = taken.reading.heading_joints() else {
            continue;
        };
        let arm = stand.arm(&bench.cell.nominal, 1);
        if arm.heading_raw().norm() < 1e-3 {
            problems.push(Problem {
                severity: Severity::Error,
                file: taken.file.to_string(),
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
