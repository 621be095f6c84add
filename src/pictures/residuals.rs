//! What the pictures of residuals share: residuals beside the readings that they belong to, and words.

use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::axis;
use crate::kinematics::Posed;
use crate::pictures::aside::against_the_others;
use crate::pictures::marked::Marked;
use crate::readings::Reading;
use crate::readings::Shown;
use crate::readings::Taken;
use crate::registration::Document;
use crate::registration::PlaceDocument;
use crate::registration::ReadingDocument;
use crate::report::counted;
use crate::report::number::decimals_for;

/// Beyond this a standardised residual is suspect (α = 0.001, as in the report).
pub const SUSPECT: f64 = 3.29;
/// Half of the interval that holds 95 % of a normal distribution, in units of u.
pub const USUAL: f64 = 1.96;

/// A residual with its reading.
#[derive(Debug, Clone)]
pub struct Placed<'a> {
    /// Its row of the document.
    pub row: &'a ReadingDocument,
    /// Where it is shown.
    pub shown: Shown,
    /// Which component of its reading it is, from 0.
    component: usize,
    /// Whether it stands out.
    pub suspect: bool,
}

impl Placed<'_> {
    /// Whether other readings check it; else its residual is 0 but for rounding, right or wrong.
    pub fn checked(&self) -> bool {
        self.row.standardized.is_some()
    }
}

/// A residual that was set aside.
#[derive(Debug, Clone)]
pub struct Aside<'a> {
    /// Its reading.
    pub place: &'a PlaceDocument,
    /// What it is against the others.
    pub row: ReadingDocument,
    /// Where it is shown.
    pub shown: Shown,
}

/// The residuals of a registration.
#[derive(Debug, Clone)]
pub struct Residuals<'a> {
    /// Those whose reading is known, in the order of the document.
    pub placed: Vec<Placed<'a>>,
    /// Those set aside whose reading is known.
    pub aside: Vec<Aside<'a>>,
    posed: Posed<'a>,
    /// Rows of the document without a reading in the bench.
    missing: Vec<&'a ReadingDocument>,
    /// Files that the bench has readings of.
    files: BTreeSet<&'a str>,
    /// Which of them are marked as wrong.
    pub marked: Marked<'a>,
}

/// Puts residuals and readings together, by file and line.
pub fn residuals<'a>(
    document: &'a Document,
    bench: &'a Bench,
    geometry: &'a Geometry,
) -> Residuals<'a> {
    let taken: HashMap<(&str, usize), &Taken> = bench
        .taken
        .iter()
        .map(|t| ((&*t.file, t.line), t))
        .collect();
    let posed = Posed::new(geometry);
    let marked = Marked::of(document);
    let mut components: HashMap<(&str, usize), usize> = HashMap::new();
    let (mut placed, mut missing) = (Vec::new(), Vec::new());
    for row in &document.readings {
        let place = (row.file.as_str(), row.line);
        let next = components.entry(place).or_default();
        let component = *next;
        *next += 1;
        let Some(taken) = taken.get(&place) else {
            missing.push(row);
            continue;
        };
        placed.push(Placed {
            row,
            shown: taken.reading.shown(&posed),
            component,
            suspect: marked.stands_out(row),
        });
    }
    let mut aside = Vec::new();
    for place in &document.set_aside {
        let Some(taken) = taken.get(&(place.file.as_str(), place.line)) else {
            continue;
        };
        let rows = against_the_others(document, bench, place).into_iter();
        aside.extend(rows.map(|row| Aside {
            place,
            row,
            shown: taken.reading.shown(&posed),
        }));
    }
    Residuals {
        placed,
        aside,
        posed,
        missing,
        files: bench.taken.iter().map(|t| &*t.file).collect(),
        marked,
    }
}

impl Residuals<'_> {
    /// Where a reading is shown.
    pub fn shown(&self, reading: &Reading) -> Shown {
        reading.shown(&self.posed)
    }

    /// Says how many rows of these files, or of files that are not there at all, are not drawn since
    /// their readings are not in the files any more.
    pub fn not_drawn(&self, drawn: &[&Placed<'_>]) -> Option<String> {
        let files: BTreeSet<&str> = drawn.iter().map(|p| p.row.file.as_str()).collect();
        let here = |row: &&&ReadingDocument| {
            files.contains(row.file.as_str()) || !self.files.contains(row.file.as_str())
        };
        match self.missing.iter().filter(here).count() {
            0 => None,
            n => Some(format!(
                "Not drawn: {} of the registration that {} no longer in the files.",
                counted(n, "residual"),
                if n == 1 { "is" } else { "are" }
            )),
        }
    }

    /// Says that what stands out took part, so that what was found from all of them may be wrong.
    pub fn doubt(&self) -> Option<String> {
        self.marked.doubtful().then(|| {
            "Readings that do not fit took part in the registration: what it found, the play too, may be wrong."
                .to_owned()
        })
    }

    /// How far off a suspect is from what the others say; None where that is not known.
    fn off(&self, placed: &Placed<'_>) -> Option<f64> {
        let off = self.marked.off(&placed.row.file, placed.row.line)?;
        let off = off.get(placed.component).copied();
        off.filter(|v| v.is_finite())
    }

    /// A suspect in a few words: file, line, how far off, and from what.
    pub fn label(&self, placed: &Placed<'_>) -> String {
        let row = placed.row;
        let (off, from) = match self.off(placed) {
            Some(off) => (off, "from what the others say"),
            None => (row.residual, "off"),
        };
        let off = value(off.abs(), row.u);
        format!("{}: {off} {} {from}", place(row), row.unit)
    }

    /// Says that labels of suspects and the places of their marks are different things.
    pub fn drawn_where(&self, drawn: &[&Placed<'_>]) -> Option<String> {
        let known = drawn.iter().any(|p| p.suspect && self.off(p).is_some());
        known.then(|| {
            "What stands out took part in the registration and pulls it along: it is drawn at what is left, \
             its residual. Its label says how far it is from what the others say."
                .to_owned()
        })
    }

    /// What to say first: how near the residuals lie, which stand out, and how many nothing checks.
    pub fn answer(&self, drawn: &[&Placed<'_>], what: &str) -> String {
        let (out, fit): (Vec<&&Placed>, Vec<&&Placed>) = drawn.iter().partition(|p| p.suspect);
        let (checked, unchecked): (Vec<&Placed>, Vec<&Placed>) =
            fit.into_iter().partition(|p| p.checked());
        let largest = checked
            .iter()
            .max_by(|a, b| a.row.residual.abs().total_cmp(&b.row.residual.abs()));
        let within = largest.map_or(String::new(), |p| {
            // Rounded up: "within" must hold.
            let decimals = decimals_for(p.row.u);
            let scale = 10f64.powi(decimals as i32);
            let size = (p.row.residual.abs() * scale - 1e-9).ceil().max(0.0) / scale;
            format!("within {} {}", axis::fixed(size, decimals), p.row.unit)
        });
        let mut said: Vec<String> = Vec::new();
        if !out.is_empty() {
            let named: Vec<String> = out.iter().take(3).map(|p| self.label(p)).collect();
            let named = named.join("; ");
            let more = match out.len().saturating_sub(3) {
                0 => String::new(),
                more => format!("; and {more} more"),
            };
            said.push(match out.len() {
                1 => format!("One {what} stands out: {named}."),
                k => format!("{k} {what}s stand out: {named}{more}."),
            });
        }
        let none_marked = self.marked.none_marked(drawn.iter().map(|p| p.row));
        let pulled = none_marked.is_some();
        said.extend(none_marked);
        // Of a registration that suspects took part in, the others are not as far off as this says.
        let of = match out.len() {
            0 if pulled => "of the registration that all of them took part in",
            0 => "of the registration",
            1 => "of the registration that it took part in",
            _ => "of the registration that they took part in",
        };
        match (checked.len(), out.is_empty(), unchecked.is_empty()) {
            (0, _, _) => {}
            (1, true, true) => said.push(format!("The one {what} lies {within} {of}.")),
            (n, true, true) => said.push(format!("All {n} {what}s lie {within} {of}.")),
            (1, true, false) => {
                said.push(format!(
                    "The one {what} that others check lies {within} {of}."
                ));
            }
            (n, true, false) => {
                said.push(format!(
                    "The {n} {what}s that others check lie {within} {of}."
                ));
            }
            (1, false, _) => said.push(format!("One other lies {within} {of}.")),
            (n, false, true) => said.push(format!("The other {n} lie {within} {of}.")),
            (n, false, false) => {
                said.push(format!(
                    "Of the others, {n} are checked and lie {within} {of}."
                ));
            }
        }
        let all = checked.is_empty() && out.is_empty();
        match (unchecked.len(), all) {
            (0, _) => {}
            (1, true) => said.push(format!(
                "Nothing checks the one {what}: the registration follows it, right or wrong."
            )),
            (n, true) => said.push(format!(
                "Nothing checks any of these {n} {what}s: the registration follows them, right or wrong."
            )),
            (1, false) => {
                said.push("One more is checked by nothing: it says nothing here.".to_owned());
            }
            (n, false) => said.push(format!(
                "{n} more are checked by nothing: they say nothing here."
            )),
        }
        said.join(" ")
    }
}

/// `readings/holes.csv line 9`, and the component where there is one.
pub fn place(row: &ReadingDocument) -> String {
    match &row.component {
        Some(component) => format!("{} line {} {component}", row.file, row.line),
        None => format!("{} line {}", row.file, row.line),
    }
}

/// A value with as many decimals as its uncertainty supports, with a minus sign.
pub fn value(value: f64, u: f64) -> String {
    axis::fixed(value, decimals_for(u))
}

/// The middle one of some values; 0 where there are none.
pub fn middle(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut all: Vec<f64> = values.into_iter().collect();
    all.sort_by(f64::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(0.0)
}

/// The mean; None where there are none.
pub fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// A parameter of the document that was solved: value and u.
pub fn solved(document: &Document, name: &str) -> Option<(f64, f64)> {
    let found = document.parameters.iter().find(|p| p.name == name)?;
    found.value.zip(found.u)
}
