//! What the pictures of residuals share: residuals beside the readings that they belong to, and words.

use std::collections::BTreeSet;
use std::collections::HashMap;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::drawing::axis;
use crate::kinematics::Posed;
use crate::readings::Shown;
use crate::readings::Taken;
use crate::registration::Document;
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
    /// Whether it stands out.
    pub suspect: bool,
}

/// The residuals of a registration.
#[derive(Debug, Clone)]
pub struct Residuals<'a> {
    /// Those whose reading is known, in the order of the document.
    pub placed: Vec<Placed<'a>>,
    /// Rows of the document without a reading in the bench.
    missing: Vec<&'a ReadingDocument>,
    /// Files that the bench has readings of.
    files: BTreeSet<&'a str>,
    /// How far off suspects are from what the others say, where that is known.
    off: HashMap<(&'a str, usize), f64>,
}

/// Puts residuals and readings together, by file and line.
pub fn residuals<'a>(
    document: &'a Document,
    bench: &'a Bench,
    geometry: &Geometry,
) -> Residuals<'a> {
    let taken: HashMap<(&str, usize), &Taken> = bench
        .taken
        .iter()
        .map(|t| ((&*t.file, t.line), t))
        .collect();
    let posed = Posed::new(geometry);
    let mut off = HashMap::new();
    for suspect in &document.suspects {
        if let Some(line) = suspect.line {
            let largest = suspect.off.iter().copied();
            let largest = largest.fold(f64::NAN, |a: f64, b| {
                if b.abs() > a.abs() || a.is_nan() {
                    b
                } else {
                    a
                }
            });
            off.insert((suspect.file.as_str(), line), largest);
        }
    }
    let (mut placed, mut missing) = (Vec::new(), Vec::new());
    for row in &document.readings {
        let place = (row.file.as_str(), row.line);
        let Some(taken) = taken.get(&place) else {
            missing.push(row);
            continue;
        };
        placed.push(Placed {
            row,
            shown: taken.reading.shown(&posed),
            suspect: stands_out(document, row),
        });
    }
    Residuals {
        placed,
        missing,
        files: bench.taken.iter().map(|t| &*t.file).collect(),
        off,
    }
}

/// Whether a row stands out: of those that one slip makes stand out, only what the search ended at.
pub fn stands_out(document: &Document, row: &ReadingDocument) -> bool {
    let mut named = document.suspects.iter().filter(|s| s.line.is_some());
    match document.suspects.iter().any(|s| s.line.is_some()) {
        false => row.suspect,
        true => named.any(|s| s.line == Some(row.line) && s.file == row.file),
    }
}

impl Residuals<'_> {
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
    pub fn doubt(&self, document: &Document) -> Option<String> {
        let part = document.readings.iter().any(|r| r.suspect);
        (part && document.set_aside.is_empty()).then(|| {
            "Readings that do not fit took part in the registration: what it found, the play too, may be wrong."
                .to_owned()
        })
    }

    /// How far off a suspect is from what the others say; where that is not known, its residual.
    pub fn off(&self, placed: &Placed<'_>) -> f64 {
        let place = (placed.row.file.as_str(), placed.row.line);
        let off = self.off.get(&place).copied().filter(|v| v.is_finite());
        off.unwrap_or(placed.row.residual)
    }

    /// A suspect in a few words: file, line, how far off.
    pub fn label(&self, placed: &Placed<'_>) -> String {
        let row = placed.row;
        let off = value(self.off(placed).abs(), row.u);
        format!("{}: {off} {} off", place(row), row.unit)
    }

    /// What to say first: how near the residuals lie, and which stand out.
    pub fn answer(&self, drawn: &[&Placed<'_>], what: &str) -> String {
        let (out, fit): (Vec<&&Placed>, Vec<&&Placed>) = drawn.iter().partition(|p| p.suspect);
        let largest = fit
            .iter()
            .max_by(|a, b| a.row.residual.abs().total_cmp(&b.row.residual.abs()));
        let within = largest.map_or(String::new(), |p| {
            // Rounded up: "within" must hold.
            let decimals = decimals_for(p.row.u);
            let scale = 10f64.powi(decimals as i32);
            let size = (p.row.residual.abs() * scale - 1e-9).ceil().max(0.0) / scale;
            format!("within {} {}", axis::fixed(size, decimals), p.row.unit)
        });
        match (out.len(), fit.len()) {
            (0, 1) => format!("The one {what} lies {within} of the registration."),
            (0, n) => format!("All {n} {what}s lie {within} of the registration."),
            (k, n) => {
                let named: Vec<String> = out.iter().take(3).map(|p| self.label(p)).collect();
                let named = named.join("; ");
                let more = match k.saturating_sub(3) {
                    0 => String::new(),
                    more => format!("; and {more} more"),
                };
                let stands = match k {
                    1 => format!("One {what} stands out: {named}"),
                    _ => format!("{k} {what}s stand out: {named}{more}"),
                };
                match n {
                    0 => format!("{stands}."),
                    1 => format!("{stands}. The other one lies {within}."),
                    _ => format!("{stands}. The other {n} lie {within}."),
                }
            }
        }
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

/// What is known of a lost motion, and how it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Play {
    /// Half of it, with the sign that the rising readings have on paper; 0 where none is taken into account.
    pub half: f64,
    /// Level of the rising and of the falling readings.
    pub levels: [Option<f64>; 2],
    /// `lost motion 0.85 ± 0.07 mm`; None where only one direction was read.
    pub gap: Option<String>,
    /// In a sentence.
    pub sentence: Option<String>,
    /// In the key, for the two levels.
    pub level_words: [String; 2],
}

/// The play of an axis: what the registration found, or what it holds, or else what the readings show.
/// `half` in the unit of the residuals; `up`, `down`: what is drawn of the readings that fit, the half put back.
pub fn play(
    found: Option<(f64, f64)>,
    half: f64,
    (up, down): (&[f64], &[f64]),
    unit: &str,
    usual: f64,
    axis_name: &str,
) -> Play {
    let both = !up.is_empty() && !down.is_empty();
    let size = 2.0 * half.abs();
    if let Some((lost, u)) = found {
        let lost_words = format!("{} ± {} {unit}", value(lost, u), value(u, u));
        return Play {
            half,
            levels: [Some(half), Some(-half)],
            gap: Some(format!("lost motion {lost_words}")),
            sentence: Some(format!(
                "Rising and falling differ by {lost_words}, which is the play of the {axis_name}."
            )),
            level_words: [
                "rising, as found".to_owned(),
                "falling, as found".to_owned(),
            ],
        };
    }
    if half != 0.0 {
        let lost = format!("{} {unit}", value(size, usual));
        return Play {
            half,
            levels: [Some(half), Some(-half)],
            gap: Some(format!("lost motion {lost}, held")),
            sentence: Some(format!(
                "Rising and falling are taken to differ by {lost}, the play that cell.toml holds."
            )),
            level_words: ["rising, as held".to_owned(), "falling, as held".to_owned()],
        };
    }
    let means = [mean(up), mean(down)];
    let gap = means[0]
        .zip(means[1])
        .map(|(a, b)| value((a - b).abs(), usual));
    Play {
        half: 0.0,
        levels: if both { means } else { [None, None] },
        sentence: gap.as_ref().map(|g| {
            format!(
                "Rising and falling differ by {g} {unit} on average; no play of the {axis_name} is solved for."
            )
        }),
        gap: gap.map(|g| format!("difference {g} {unit}")),
        level_words: ["mean of rising".to_owned(), "mean of falling".to_owned()],
    }
}
