//! What is reported: a record, or the readings as they are now.

use std::fs;
use std::path::Path;
use std::time::SystemTime;

use crate::answers::force::Force;
use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cli::Console;
use crate::cli::Failure;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::progress;
use crate::cli::standing::standing;
use crate::paper::Origin;
use crate::plan::advise;
use crate::records;
use crate::registration::Document;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::document;
use crate::registration::register_with;
use crate::report::Lapsed;

/// What is reported.
pub struct Told {
    pub document: Document,
    /// The readings that it rests on, as far as they are still there; points of now.
    pub bench: Bench,
    pub origin: Origin,
    pub inputs: Vec<records::Input>,
    /// The geometry with its uncertainty; `None` where there is no registration.
    pub force: Option<Force>,
    /// Taught points whose readings lead elsewhere by now, with the geometry in which they were taught.
    pub stale: Vec<(String, Geometry)>,
    /// Full values, as they stand beside the report.
    pub full: String,
    /// In the name of the report.
    pub number: String,
}

/// A record, with what a reader must know of its standing.
pub fn of_record(root: &Path, record: Option<&Path>, console: &Console) -> Result<Told, Failure> {
    let folder = folder::read(root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let named = args::Force {
        record: record.map(Path::to_owned),
        as_drawn: false,
    };
    let force = force::find(&named, &folder, console)?;
    let path = force.record.clone().unwrap_or_default();
    let kept = kept::load(&path, &folder.bench.cell)?;
    let bench = kept::readings_of(&folder, &kept);
    let standing = standing(root, &path, &folder.bench)?;
    let mut looks = standing.looks;
    let stale = kept::stale_points(&folder, &path);
    let superseded = matches!(standing.lapsed, Some(Lapsed::Superseded(_)));
    if !superseded && !stale.is_empty() {
        let names: Vec<&str> = stale.iter().map(|(name, _)| name.as_str()).collect();
        looks.push(format!(
            "Something moved after these points were taught: {}. Their readings in taught.csv lead elsewhere \
             now: do not run them. `notchpin transfer` gives the new ones.",
            names.join(", ")
        ));
    }
    let changed: Vec<&str> = kept
        .body
        .inputs
        .iter()
        .filter(|i| fs::read(root.join(&i.file)).map_or(true, |b| records::digest(&b) != i.sha256))
        .map(|i| i.file.as_str())
        .collect();
    if !changed.is_empty() {
        looks.push(format!(
            "Changed or gone since this was registered: {}. Numbers are those of the record; drawings show of \
             these files only what the record kept.",
            changed.join(", ")
        ));
    }
    let full = fs::read_to_string(&path)
        .map_err(|e| Failure::Message(format!("{} cannot be read: {e}", path.display())))?;
    let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned());
    let number = stem
        .as_deref()
        .and_then(|s| s.rsplit('-').next())
        .unwrap_or("0000");
    let body = kept.body.clone();
    Ok(Told {
        origin: Origin {
            record: Some(kept.link.file.clone()),
            sha256: Some(kept.link.sha256.clone()),
            time: body.time,
            taken: body.taken,
            note: body.note,
            predecessor: body.predecessor.map(|p| p.file),
            program: body.program,
            looks,
            lapsed: standing.lapsed,
            drifts: standing.drifts,
            made: now(),
        },
        stale,
        number: number.to_owned(),
        inputs: body.inputs,
        document: body.registration,
        bench,
        force: Some(force),
        full,
    })
}

/// Solves the readings as they are now; nothing is kept.
pub fn of_now(root: &Path, console: &Console) -> Result<Told, Failure> {
    let folder = folder::read(root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let Folder {
        bench,
        unknowns,
        inputs,
        ..
    } = folder;
    let line = progress::line(console, "registering the readings as they are now");
    let registration = register_with(&bench, &unknowns, SetAside::Nothing);
    let mut document = document(&bench, &unknowns, &registration);
    document.advice = advise(&bench, &unknowns, &registration);
    line.finish_and_clear();
    let force = match registration.outcome {
        Outcome::Determined(determined) => Some(Force::unkept(
            determined.geometry,
            (unknowns, determined.assessment.covariance),
            &document.verdict,
        )),
        Outcome::Undetermined(_) => None,
        Outcome::Failed(why) => {
            return Err(Failure::Message(format!(
                "{why}; nothing was written. Check the cell file and the largest readings."
            )));
        }
    };
    Ok(Told {
        full: json(&document)?,
        origin: Origin {
            record: None,
            sha256: None,
            time: now(),
            taken: None,
            note: None,
            predecessor: None,
            program: format!("notchpin {}", env!("CARGO_PKG_VERSION")),
            looks: vec![
                match document.verdict.as_str() {
                    "undetermined" => {
                        "Nothing was kept: `notchpin register` keeps a record once the readings settle everything."
                    }
                    _ => "This is not a record. `notchpin register` keeps one.",
                }
                .to_owned(),
            ],
            lapsed: None,
            drifts: Vec::new(),
            made: now(),
        },
        stale: Vec::new(),
        number: "now".to_owned(),
        inputs,
        document,
        bench,
        force,
    })
}

/// This moment.
fn now() -> String {
    humantime::format_rfc3339_seconds(SystemTime::now()).to_string()
}
