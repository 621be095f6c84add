//! Records: one file for each registration, never changed afterwards.
//!
//! A record is JSON: `{"format": 1, "sha256": "…", "body": {…}}`. The digest is that of the body's
//! text as it stands in the file, so a record that was edited or cut short is noticed. This module
//! makes and understands the text; opening and writing files is the commands' work.

pub mod chain;

use std::fmt;

use serde::Deserialize;
use serde::Serialize;
use serde_json::value::RawValue;
use sha2::Digest;
use sha2::Sha256;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::points::TaughtPoint;
use crate::readings;
use crate::registration::Document;
use crate::table::Written;

/// The format that this program writes and reads.
pub const FORMAT: u32 = 1;

/// What a record holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Body {
    /// Version of the program that wrote it.
    pub program: String,
    /// When it was written, UTC, RFC 3339.
    pub time: String,
    /// The day on which the readings were taken, where somebody said so.
    #[serde(default)]
    pub taken: Option<String>,
    /// Who, what, why.
    #[serde(default)]
    pub note: Option<String>,
    /// The record before it; null in the first one, and in those of versions that did not chain them.
    #[serde(default)]
    pub predecessor: Option<Link>,
    /// Digest of every input file.
    pub inputs: Vec<Input>,
    /// After a move: what was solved anew, and the record that the rest is tied to.
    #[serde(default)]
    pub moved: Option<Moved>,
    /// The rows of readings that took part.
    #[serde(default)]
    pub rows: Vec<Row>,
    /// The points of `taught.csv` as they were.
    #[serde(default)]
    pub taught: Vec<TaughtAs>,
    /// The readings themselves, where they stand outside the folder `readings`.
    #[serde(default)]
    pub evidence: Vec<Evidence>,
    /// Every parameter of the cell: nominal and solved.
    pub geometry: Vec<Value>,
    /// The registration as `register --json` prints it.
    pub registration: Document,
}

impl Body {
    /// When its readings were taken, as far as is known: the day that was said, else when it was written.
    pub fn date(&self) -> &str {
        self.taken.as_deref().unwrap_or(&self.time)
    }
}

/// Another record, by name and digest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Link {
    /// Its file in the folder `records`.
    pub file: String,
    /// The digest that stands in it.
    pub sha256: String,
}

/// What was solved anew after a move.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Moved {
    /// Parts as they were named: `track`, `j2`.
    pub parts: Vec<String>,
    /// Joints that were freed too, since they are set after one of these.
    #[serde(default)]
    pub followed: Vec<String>,
    /// The record whose values and covariance hold the rest.
    pub from: Link,
    /// The ways that were freed: parameters with the change of each.
    pub freed: Vec<Vec<Share>>,
}

/// A parameter's share of a way that was freed, in the units of its file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Share {
    /// Its name.
    pub name: String,
    /// Its change.
    pub share: f64,
}

/// One row of readings that took part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// File.
    pub file: String,
    /// Physical line.
    pub line: usize,
    /// The first 16 digits of the SHA-256 of what was written there, `note` and `step` left out.
    pub sha256: String,
}

/// A point of `taught.csv` as it was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TaughtAs {
    /// Its name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// Reading of the track.
    pub track: f64,
    /// Reading of the table.
    pub table: f64,
    /// Readings of the joints.
    pub joints: Vec<f64>,
}

/// A file of readings as it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Evidence {
    /// Its name, as the user would say it.
    pub file: String,
    /// Its kind: the file of that kind in `readings`.
    pub kind: String,
    /// What stood in it.
    pub text: String,
}

/// One input file as it was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Input {
    /// Its name in the cell folder.
    pub file: String,
    /// Its SHA-256, in hexadecimal.
    pub sha256: String,
    /// Its size.
    pub bytes: u64,
}

/// One parameter.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Value {
    /// Its name.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// As drawn.
    pub nominal: f64,
    /// As registered; that of the drawing where it was not solved for.
    pub value: f64,
}

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Envelope {
    format: u32,
    sha256: String,
    body: Box<RawValue>,
}

#[derive(Deserialize)]
struct FormatOnly {
    format: u32,
}

/// Why a record is refused.
#[derive(Debug, Clone, PartialEq)]
pub enum RecordError {
    /// It is not one of ours, or damaged: how it reads.
    Damaged(String),
    /// It was edited: the digest does not fit.
    Edited,
    /// It was written in another format.
    Format(u32),
    /// It does not fit the cell any more.
    OtherCell(String),
}

impl fmt::Display for RecordError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            RecordError::Damaged(how) => write!(f, "the record is damaged ({how})"),
            RecordError::Edited => {
                f.write_str("the record was changed after it was written; its digest does not fit")
            }
            RecordError::Format(found) => write!(
                f,
                "the record has format {found}; this program reads format {FORMAT}"
            ),
            RecordError::OtherCell(why) => {
                write!(f, "the record does not fit cell.toml as it is now: {why}")
            }
        }
    }
}

impl std::error::Error for RecordError {}

/// SHA-256 in hexadecimal.
pub fn digest(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        use fmt::Write;
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// Nominal and solved values of every parameter of a cell, in the units of its file.
pub fn geometry_values(cell: &Cell, solved: &Geometry) -> Vec<Value> {
    let all = Parameter::all(cell);
    let of = |p: &Parameter, geometry: &Geometry| p.get(geometry) / p.unit().in_code();
    all.iter()
        .map(|(name, p)| Value {
            name: name.clone(),
            unit: p.unit().as_str().to_owned(),
            nominal: of(p, &cell.nominal),
            value: of(p, solved),
        })
        .collect()
}

/// The text of a record: of a registration ([`Body`]) or of anything else that is kept beside them.
pub fn write(body: &impl Serialize) -> Result<String, serde_json::Error> {
    let text = serde_json::to_string_pretty(body)?;
    let envelope = Envelope {
        format: FORMAT,
        sha256: digest(text.as_bytes()),
        body: RawValue::from_string(text)?,
    };
    let mut out = serde_json::to_string_pretty(&envelope)?;
    out.push('\n');
    Ok(out)
}

/// Understands the text of a record of a registration.
pub fn read(text: &str) -> Result<Body, RecordError> {
    read_as(text)
}

/// Understands the text of a record, and gives the digest that stands in it and fits.
pub fn read_with_digest(text: &str) -> Result<(Body, String), RecordError> {
    let (body, sha256) = opened(text)?;
    let body = serde_json::from_str(body.get()).map_err(damaged)?;
    Ok((body, sha256))
}

/// The digest that stands in the text of a record, where it fits.
pub fn digest_in(text: &str) -> Result<String, RecordError> {
    let (_, sha256) = opened(text)?;
    Ok(sha256)
}

/// Understands the text of a record with another body.
pub fn read_as<T: serde::de::DeserializeOwned>(text: &str) -> Result<T, RecordError> {
    let (body, _) = opened(text)?;
    serde_json::from_str(body.get()).map_err(damaged)
}

fn damaged(e: serde_json::Error) -> RecordError {
    RecordError::Damaged(e.to_string())
}

/// The body and its digest, which fits.
fn opened(text: &str) -> Result<(Box<RawValue>, String), RecordError> {
    // Nearly always of this format, and megabytes long: read once.
    let envelope: Envelope = match serde_json::from_str::<Envelope>(text) {
        Ok(envelope) if envelope.format == FORMAT => envelope,
        // Another format may have other keys: which one it is says more than what is missing in it.
        other => {
            let format: FormatOnly = serde_json::from_str(text).map_err(damaged)?;
            if format.format != FORMAT {
                return Err(RecordError::Format(format.format));
            }
            other.map_err(damaged)?
        }
    };
    if digest(envelope.body.get().as_bytes()) != envelope.sha256 {
        return Err(RecordError::Edited);
    }
    Ok((envelope.body, envelope.sha256))
}

/// The rows of a bench that took part, as they were written.
pub fn rows_of(bench: &Bench, used: &[usize]) -> Vec<Row> {
    let mut rows = Vec::with_capacity(used.len());
    for source in &bench.sources {
        let of_file = used.iter().map(|i| &bench.taken[*i]);
        let mut lines: Vec<usize> = of_file
            .filter(|t| *t.file == *source.name)
            .map(|t| t.line)
            .collect();
        lines.sort_unstable();
        let written = readings::written(source.kind, &source.bytes, &bench.setting(), &lines);
        rows.extend(written.iter().map(|row| Row {
            file: source.name.to_string(),
            line: row.line,
            sha256: digest_of_row(source.kind, row),
        }));
    }
    rows
}

/// What tells whether two rows say the same: kind, columns and cells, whatever their order.
pub fn digest_of_row(kind: &str, row: &Written) -> String {
    let told = |header: &str| !matches!(header, "note" | "step");
    let pairs = row.header().iter().zip(row.cells());
    let mut cells: Vec<String> = pairs
        .filter(|(header, cell)| told(header) && !cell.is_empty())
        // 2 and 2.0 say the same.
        .map(|(header, cell)| match cell.parse::<f64>() {
            Ok(number) if number.is_finite() => format!("{header}={}", number + 0.0),
            _ => format!("{header}={cell}"),
        })
        .collect();
    cells.sort();
    let mut sha = digest(format!("{kind}\n{}", cells.join("\n")).as_bytes());
    sha.truncate(16);
    sha
}

/// The points of `taught.csv` as they are.
pub fn taught_of(bench: &Bench) -> Vec<TaughtAs> {
    let n = bench.cell.joints.len();
    let of = |p: &TaughtPoint| TaughtAs {
        name: p.name.clone(),
        frame: p.frame.as_str().to_owned(),
        track: p.stand.track,
        table: p.stand.table,
        joints: p.stand.joints[..n].to_vec(),
    };
    bench.taught.iter().map(of).collect()
}

/// What `tip` and `reach` need of a record: geometry, unknowns and their covariance (mm, rad).
#[derive(Debug, Clone)]
pub struct InForce {
    /// Values of every parameter as registered.
    pub geometry: Geometry,
    /// The unknowns of the registration.
    pub unknowns: Unknowns,
    /// Their covariance, mm and rad.
    pub covariance: nalgebra::DMatrix<f64>,
}

/// Puts a record's values into the cell as it is now.
pub fn in_force(cell: &Cell, body: &Body) -> Result<InForce, RecordError> {
    let misfit = |why: String| RecordError::OtherCell(why);
    let mut geometry = cell.nominal.clone();
    for value in &body.geometry {
        let Some(parameter) = Parameter::named(cell, &value.name) else {
            return Err(misfit(format!("the cell has no {} any more", value.name)));
        };
        parameter.set(&mut geometry, value.value * parameter.unit().in_code());
    }
    let known = Parameter::all(cell).len();
    if known != body.geometry.len() {
        return Err(misfit(format!(
            "the cell has {known} parameters, the record {}",
            body.geometry.len()
        )));
    }
    let parameters = &body.registration.parameters;
    let mut list = Vec::with_capacity(parameters.len());
    for p in parameters {
        let Some(parameter) = Parameter::named(cell, &p.name) else {
            return Err(misfit(format!("the cell has no {} any more", p.name)));
        };
        let tolerance = p.tolerance.map(|t| t * parameter.unit().in_code());
        list.push((parameter, tolerance));
    }
    let rows = &body.registration.covariance;
    let n = list.len();
    if rows.len() != n || rows.iter().any(|row| row.len() != n) {
        return Err(RecordError::Damaged(
            "its covariance has another size".to_owned(),
        ));
    }
    let in_code: Vec<f64> = list.iter().map(|(p, _)| p.unit().in_code()).collect();
    let covariance = nalgebra::DMatrix::from_fn(n, n, |i, j| rows[i][j] * in_code[i] * in_code[j]);
    Ok(InForce {
        geometry,
        unknowns: Unknowns::new(list),
        covariance,
    })
}
