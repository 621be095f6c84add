//! `cell.toml` to [`Cell`].

use toml::de::DeTable;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::Mounting;
use crate::cell::parse::places::Places;
use crate::cell::parse::reader::Context;
use crate::cell::parse::reader::Kind;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::value::Item;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;

mod arm;
mod bench;
mod obstacles;
mod places;
mod reader;
mod syntax;
mod value;
mod wanted;

/// Largest cell file that is read.
pub const MAX_CELL_BYTES: usize = 4 << 20;

/// The format that is written and read.
const FORMAT: &str = "1";

/// Reads a cell. `file` is what messages call it. Every mistake is added to `problems`, in the
/// order of the file; the result is `None` exactly where one of them is an error.
pub fn parse(file: &str, text: &str, problems: &mut Problems) -> Option<Cell> {
    if text.len() > MAX_CELL_BYTES {
        problems.push(Problem {
            severity: Severity::Error,
            file: file.to_owned(),
            line: None,
            column: None,
            field: None,
            found: format!("a file of {} bytes", text.len()),
            expected: format!("at most {MAX_CELL_BYTES} bytes"),
            advice: "check that this is the cell file; a cell takes a few thousand bytes"
                .to_owned(),
        });
        return None;
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let places = Places::new(text);
    let (document, errors) = DeTable::parse_recoverable(text);
    let context = Context::new(text);
    let mut root = TableReader::new(&context, String::new(), 0..0, document.into_inner());
    let cell = read(&mut root, &places);
    root.finish();

    let mut findings = context.take_findings();
    syntax::merge(&errors, &mut findings, &places);
    findings.sort_by_key(|finding| finding.span.start);
    let refused = findings.iter().any(|f| f.severity == Severity::Error);
    for finding in findings {
        let (line, column) = places.find(finding.span.start);
        problems.push(Problem {
            severity: finding.severity,
            file: file.to_owned(),
            line: Some(line),
            column: Some(column),
            field: Some(finding.field).filter(|field| !field.is_empty()),
            found: finding.found,
            expected: finding.expected,
            advice: finding.advice,
        });
    }
    cell.filter(|_| !refused)
}

/// The whole file. Everything is read before anything is given up.
fn read(root: &mut TableReader<'_>, places: &Places<'_>) -> Option<Cell> {
    let format = root.need("format", Kind::Plain, "format = 1");
    let format = format.and_then(|item| check_format(&item));
    let name = root.need("name", Kind::Plain, "name = \"the cell by the window\"");
    let name = name.and_then(|item| cell_name(&item));
    let turntable_there = root.has("turntable");

    let plate = root.need(
        "plate",
        Kind::Plain,
        "[plate] with pitch_mm, columns and rows",
    );
    let plate = plate.and_then(|item| within(item, bench::plate));
    let grid = plate.as_ref().map(|(grid, _)| grid);
    let marks = optional(root, "marks", |t| bench::marks(t, grid, turntable_there));
    let track = optional(root, "track", bench::track);
    let mount = optional(root, "mount", bench::mounting);
    let arm = root.need(
        "arm",
        Kind::Plain,
        "[[arm.joint]] for each joint, and [arm.flange]",
    );
    let mut arm = arm.and_then(|item| within(item, arm::arm));
    let tool = optional(root, "tool", bench::mounting);
    let turntable = optional(root, "turntable", bench::turntable);
    let instruments = optional(root, "instruments", wanted::instruments);
    let solve = optional(root, "solve", |t| wanted::solve(t, places));
    let accept = optional(root, "accept", wanted::accept);
    let keep_outs = root.ask("keep_out", Kind::Plain);
    let keep_outs = keep_outs.map_or(Some(Vec::new()), |item| {
        obstacles::keep_outs(item, turntable_there)
    });
    // Names of what may be touched are looked up only where all of them are known.
    let bodies = match (&mut arm, &keep_outs) {
        (Some(arm), Some(keep_outs)) => {
            obstacles::settled(std::mem::take(&mut arm.bodies), keep_outs)
        }
        _ => None,
    };

    format?;
    let (plate, [plate_tilt_x_rad, plate_tilt_y_rad]) = plate?;
    let (marks, marks_mm) = marks?.unwrap_or_default().into_iter().unzip();
    let (track, track_geometry, features) = match track? {
        Some((limits, geometry, features)) => (Some(limits), Some(geometry), features),
        None => (None, None, Vec::new()),
    };
    let (features, features_mm) = features.into_iter().unzip();
    let arm = arm?;
    let (joints, joint_geometry) = arm.joints.into_iter().unzip();
    let (turntable, turntable_geometry) = turntable?.unzip();
    Some(Cell {
        name: name?,
        plate,
        marks,
        features,
        track,
        joints,
        turntable,
        instruments: instruments?.unwrap_or_else(wanted::usual_instruments),
        solve: solve?.unwrap_or_default(),
        accept: accept?.unwrap_or_else(wanted::usual_accept),
        keep_outs: keep_outs?,
        bodies: bodies?,
        nominal: Geometry {
            track: track_geometry,
            mount: mount?.unwrap_or_else(Mounting::default),
            joints: joint_geometry,
            flange_mm: arm.flange_mm,
            flange_axes: arm.flange_axes,
            tool: tool?.unwrap_or_else(Mounting::default),
            turntable: turntable_geometry,
            plate_tilt_x_rad,
            plate_tilt_y_rad,
            marks_mm,
            features_mm,
        },
    })
}

/// Reads a table with `f`, and reports what `f` did not ask for.
fn within<'a, T>(item: Item<'a>, f: impl FnOnce(&mut TableReader<'a>) -> Option<T>) -> Option<T> {
    let mut table = item.table()?;
    let read = f(&mut table);
    table.finish();
    read
}

/// A table that may be left out: `Some(None)`; `None` where it is wrong.
fn optional<'a, T>(
    root: &mut TableReader<'a>,
    key: &str,
    f: impl FnOnce(&mut TableReader<'a>) -> Option<T>,
) -> Option<Option<T>> {
    match root.ask(key, Kind::Plain) {
        None => Some(None),
        Some(item) => within(item, f).map(Some),
    }
}

fn check_format(item: &Item<'_>) -> Option<()> {
    let number = item.number()?;
    if number == 1.0 && item.written() == reader::quoted(FORMAT) {
        return Some(());
    }
    item.refuse(
        format!("format {}", item.written()),
        "format 1: this program reads format 1",
        "write format = 1, or use the version of the program that the file was written for",
    );
    None
}

fn cell_name(item: &Item<'_>) -> Option<String> {
    let name = item.text()?;
    if !name.trim().is_empty() && !name.contains(char::is_control) {
        return Some(name.to_owned());
    }
    item.refuse(
        item.written(),
        "a name of one line that is not blank",
        "write what people call the cell",
    );
    None
}
