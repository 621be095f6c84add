//! Records: one file for each registration, never changed afterwards.
//!
//! A record is JSON: `{"format": 1, "sha256": "…", "body": {…}}`. The digest is that of the body's
//! text as it stands in the file, so a record that was edited or cut short is noticed. This module
//! makes and understands the text; opening and writing files is the commands' work.

use std::fmt;

use serde::Deserialize;
use serde::Serialize;
use serde_json::value::RawValue;
use sha2::Digest;
use sha2::Sha256;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::registration::Document;

/// The format that this program writes and reads.
pub const FORMAT: u32 = 1;

/// What a record holds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Body {
    /// Version of the program that wrote it.
    pub program: String,
    /// When, UTC, RFC 3339.
    pub time: String,
    /// Digest of every input file.
    pub inputs: Vec<Input>,
    /// Every parameter of the cell: nominal and solved.
    pub geometry: Vec<Value>,
    /// The registration as `register --json` prints it.
    pub registration: Document,
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

/// The text of a record.
pub fn write(body: &Body) -> Result<String, serde_json::Error> {
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

/// Understands the text of a record.
pub fn read(text: &str) -> Result<Body, RecordError> {
    let damaged = |e: serde_json::Error| RecordError::Damaged(e.to_string());
    let format: FormatOnly = serde_json::from_str(text).map_err(damaged)?;
    if format.format != FORMAT {
        return Err(RecordError::Format(format.format));
    }
    let envelope: Envelope = serde_json::from_str(text).map_err(damaged)?;
    if digest(envelope.body.get().as_bytes()) != envelope.sha256 {
        return Err(RecordError::Edited);
    }
    serde_json::from_str(envelope.body.get()).map_err(damaged)
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
