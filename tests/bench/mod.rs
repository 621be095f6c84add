//! Cells and readings given as text, understood by the library without any file.
#![allow(dead_code)]

use notchpin::cell;
use notchpin::diagnose::Problems;
use notchpin::parameters::Unknowns;
use notchpin::points::read_points;
use notchpin::points::read_taught;
use notchpin::readings;
use notchpin::registration::Bench;
use notchpin::registration::Determined;
use notchpin::registration::Outcome;
use notchpin::registration::Registration;
use notchpin::registration::register;
use notchpin::registration::resolve_unknowns;

/// A cell with its readings and its unknowns.
pub struct Read {
    pub bench: Bench,
    pub unknowns: Unknowns,
}

/// Understands a cell and files of readings; warnings are fine, errors are not.
pub fn read(cell: &str, files: &[(&str, &str)]) -> Read {
    let mut problems = Problems::default();
    let parsed = cell::parse("cell.toml", cell, &mut problems);
    let told =
        |problems: &Problems| -> String { problems.iter().map(|p| format!("{p}\n")).collect() };
    let cell = parsed.unwrap_or_else(|| panic!("{}", told(&problems)));
    let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems);
    let mut bench = Bench::new(cell);
    for file in readings::FILES {
        for (_, text) in files.iter().filter(|(name, _)| name == file) {
            bench.read(
                file,
                &format!("readings/{file}"),
                text.as_bytes(),
                &mut problems,
            );
        }
    }
    assert!(!problems.has_errors(), "{}", told(&problems));
    Read {
        bench,
        unknowns: unknowns.unwrap(),
    }
}

/// A text of a demo cell; empty where there is no such file.
pub fn demo_text(cell: &str, path: &str) -> String {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-cells");
    std::fs::read_to_string(root.join(cell).join(path)).unwrap_or_default()
}

/// A demo cell with some of its readings, and its points.
pub fn demo(cell: &str, files: &[&str]) -> Read {
    let texts: Vec<(&str, String)> = files
        .iter()
        .map(|f| (*f, demo_text(cell, &format!("readings/{f}"))))
        .collect();
    let texts: Vec<(&str, &str)> = texts.iter().map(|(f, t)| (*f, t.as_str())).collect();
    let mut read = read(&demo_text(cell, "cell.toml"), &texts);
    let mut problems = Problems::default();
    let own = &mut read.bench;
    let points = demo_text(cell, "points.csv");
    own.points = read_points("points.csv", points.as_bytes(), &own.cell, &mut problems);
    let taught = demo_text(cell, "taught.csv");
    own.taught = read_taught("taught.csv", taught.as_bytes(), &own.cell, &mut problems);
    assert!(!problems.has_errors());
    read
}

impl Read {
    pub fn register(&self) -> Registration {
        register(&self.bench, &self.unknowns)
    }

    /// The registration, which must exist.
    pub fn determined(&self) -> Determined {
        match self.register().outcome {
            Outcome::Determined(determined) => *determined,
            other => panic!("{other:?}"),
        }
    }

    /// The values found, in mm and degrees, by name in the order of `[solve]`.
    pub fn values(&self, determined: &Determined) -> Vec<(String, f64)> {
        let list = self.bench.cell.solve.iter().zip(&self.unknowns.list);
        list.zip(&determined.assessment.found)
            .map(|((named, (p, _)), found)| (named.name.clone(), found.value / p.unit().in_code()))
            .collect()
    }
}
