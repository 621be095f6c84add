//! `notchpin recheck`.

use std::path::Path;
use std::time::SystemTime;

use serde::Deserialize;
use serde::Serialize;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::as_found::as_before;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::kept::quoted;
use crate::cli::papers;
use crate::cli::register;
use crate::cli::sets;
use crate::cli::sets::Set;
use crate::moves::Deciding;
use crate::moves::explain;
use crate::moves::recheck;
use crate::moves::tell_apart;
use crate::records;
use crate::records::Evidence;
use crate::records::Input;
use crate::records::Link;
use crate::report::moves;
use crate::report::moves::RecheckFacts;

/// So many rivals are told apart from the first explanation.
const RIVALS: usize = 3;

/// What is kept of a recheck.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct AsFound {
    pub(super) program: String,
    pub(super) time: String,
    pub(super) taken: Option<String>,
    pub(super) note: Option<String>,
    pub(super) predecessor: Option<Link>,
    pub(super) against: Link,
    pub(super) holds: bool,
    pub(super) inputs: Vec<Input>,
    pub(super) evidence: Vec<Evidence>,
    pub(super) recheck: serde_json::Value,
}

pub fn run(args: &args::Recheck, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let kept = kept::in_force(&folder, args.record.as_deref(), console)?;
    let mut set = sets::read_set(&folder, args.readings.as_deref())?;
    console.warnings(&set.problems);
    register::told_day(
        &root,
        &folder.bench.cell,
        args.kept.taken.as_deref(),
        console,
    );
    let as_before = as_before(&mut set, &root, &folder.bench.cell, &kept, args.again)?;
    let Some(seen) = recheck(&set.bench, &kept.force) else {
        return Err(Failure::Message(
            "no reading of this set can be held against the registration: rows with use = no do not \
             count, and every prediction must be a finite number"
                .to_owned(),
        ));
    };
    let weighed = (!seen.holds).then(|| explain(&set.bench, &kept.force, &seen));
    let mut deciding: Vec<(usize, Option<Deciding>)> = Vec::new();
    if let Some(weighed) = &weighed {
        let rivals = weighed.rivals().len();
        for k in 1..=rivals.min(RIVALS) {
            let (a, b) = (&weighed.list[0], &weighed.list[k]);
            // A wrong reading is decided by taking it again.
            if a.solved.is_some() && b.solved.is_some() {
                deciding.push((k, tell_apart(&set.bench, a, b)));
            }
        }
    }
    let shown = args.folder.cell.as_deref().unwrap_or(Path::new("."));
    let set_given = args.readings.as_ref();
    let document = moves::document(&RecheckFacts {
        bench: &set.bench,
        force: &kept.force,
        record: &kept.called(),
        seen: &seen,
        weighed: weighed.as_ref(),
        deciding: &deciding,
        as_before,
        again: args.again,
        set: &[
            args.record
                .as_ref()
                .map(|r| format!(" --record {}", quoted(r))),
            set_given.map(|p| format!(" --readings {}", quoted(p))),
        ]
        .into_iter()
        .flatten()
        .collect::<String>(),
        folder: &quoted(shown),
    });
    let value = serde_json::to_value(&document)
        .map_err(|e| Failure::Message(format!("the answer cannot be written as JSON: {e}")))?;
    let written = match args.no_record {
        true => None,
        false => Some(keep(args, &root, &kept, &set, seen.holds, value)?),
    };
    let text = match args.json {
        true => json(&document)?,
        false => moves::recheck(&document, written.as_deref()),
    };
    if let (true, Some(path)) = (args.json, &written) {
        console.note(&format!("as found, kept in {path}"));
    }
    console
        .answer(&text)
        .map_err(|e| register::kept_anyway(e, written.as_deref().map(Path::new)))?;
    Ok(match seen.holds {
        true => Status::Good,
        false => Status::Look,
    })
}

fn keep(
    args: &args::Recheck,
    root: &Path,
    kept: &Kept,
    set: &Set,
    holds: bool,
    recheck: serde_json::Value,
) -> Result<String, Failure> {
    let body = AsFound {
        program: format!("notchpin {}", env!("CARGO_PKG_VERSION")),
        time: humantime::format_rfc3339_seconds(SystemTime::now()).to_string(),
        taken: args.kept.taken.clone(),
        note: args.kept.note.clone(),
        predecessor: None,
        against: kept.link.clone(),
        holds,
        inputs: set.inputs.clone(),
        evidence: set.evidence.clone(),
        recheck,
    };
    let make = |predecessor| {
        let kept = AsFound {
            predecessor,
            ..body.clone()
        };
        records::write(&kept).map_err(|e| e.to_string())
    };
    let path = papers::write_record(root, papers::Sort::Recheck, &make).map_err(|e| {
        Failure::Message(format!(
            "what was found could not be kept in {}: {e}; {}",
            root.join("records").display(),
            e.advice()
        ))
    })?;
    Ok(path.display().to_string())
}
