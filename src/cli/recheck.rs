//! `notchpin recheck`.

use std::collections::HashSet;
use std::fs;
use std::path::Path;
use std::time::SystemTime;

use serde::Deserialize;
use serde::Serialize;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::papers;
use crate::cli::sets;
use crate::cli::sets::Set;
use crate::diagnose::Problems;
use crate::moves::Deciding;
use crate::moves::explain;
use crate::moves::recheck;
use crate::moves::tell_apart;
use crate::moves::tied;
use crate::readings;
use crate::records;
use crate::records::Evidence;
use crate::records::InForce;
use crate::records::Input;
use crate::records::Link;
use crate::registration::Outcome;
use crate::registration::PlaceDocument;
use crate::registration::SetAside;
use crate::registration::register_with;
use crate::report::moves;
use crate::report::moves::RecheckFacts;

/// So many rivals are told apart from the first explanation.
const RIVALS: usize = 3;

/// What is kept of a recheck.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct AsFound {
    program: String,
    time: String,
    taken: Option<String>,
    note: Option<String>,
    predecessor: Option<Link>,
    against: Link,
    holds: bool,
    inputs: Vec<Input>,
    evidence: Vec<Evidence>,
    recheck: serde_json::Value,
}

pub fn run(args: &args::Recheck, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let kept = kept::in_force(&root, &folder.bench.cell, args.record.as_deref())?;
    let set = sets::read_set(&folder, args.readings.as_deref())?;
    console.warnings(&set.problems);
    let as_before = as_before(&set, &root, &folder.bench.cell, &kept)?;
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
        set: &set_given.map_or(String::new(), |p| format!(" --readings {}", p.display())),
        folder: &shown.display().to_string(),
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
    console.answer(&text)?;
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
        records::write(&AsFound {
            predecessor,
            ..body.clone()
        })
    };
    let path = papers::write_record(root, papers::Sort::Recheck, &make).map_err(|e| {
        Failure::Message(format!(
            "what was found could not be kept in {}: {e}; give the folder write access, or use \
             --no-record",
            root.join("records").display()
        ))
    })?;
    Ok(path.display().to_string())
}

/// Rows of a set that read the very same as rows that a record up to `kept` rests on. A set of nothing
/// else is refused: old readings held against themselves would say that all is well.
pub fn as_before(
    set: &Set,
    root: &Path,
    cell: &crate::cell::Cell,
    kept: &Kept,
) -> Result<Vec<PlaceDocument>, Failure> {
    let earlier = kept::up_to(root, cell, kept);
    let known: HashSet<&str> = earlier
        .iter()
        .flat_map(|k| &k.body.rows)
        .map(|r| r.sha256.as_str())
        .collect();
    let all: Vec<usize> = (0..set.bench.taken.len()).collect();
    let rows = records::rows_of(&set.bench, &all);
    let same: Vec<PlaceDocument> = rows
        .iter()
        .filter(|r| known.contains(r.sha256.as_str()))
        .map(|r| PlaceDocument {
            file: r.file.clone(),
            line: r.line,
        })
        .collect();
    if same.len() > 1 && same.len() == rows.len() {
        return Err(Failure::Message(format!(
            "all {} rows of {} are rows that the registration rests on already ({}); held against \
             themselves they would say nothing. Take readings at the bench as it stands now and write \
             them into a folder of their own.",
            rows.len(),
            same[0].file,
            kept.link.file
        )));
    }
    Ok(same)
}

/// What a recheck found, as a registration: that which it was held against, with its readings added; where
/// it no longer held, the parts freed that the best explanation names.
pub fn as_found(folder: &Folder, root: &Path, all: &[Kept], text: &str) -> Result<Kept, Failure> {
    let given = Path::new(text);
    let path = match given.is_file() {
        true => given.to_owned(),
        false => {
            let name = format!("{}.json", text.trim_end_matches(".json"));
            root.join("records").join(name)
        }
    };
    let refuse = |why: String| Failure::Message(format!("{}: {why}", path.display()));
    let told = fs::read_to_string(&path).map_err(|e| refuse(format!("cannot be read: {e}")))?;
    let body: AsFound = records::read_as(&told).map_err(|e| refuse(e.to_string()))?;
    let sha256 = records::digest_in(&told).map_err(|e| refuse(e.to_string()))?;
    let Some(against) = all.iter().find(|k| k.link.sha256 == body.against.sha256) else {
        return Err(refuse(format!(
            "it was held against {}, which is not there any more",
            body.against.file
        )));
    };
    let mut bench = folder.bench.clone();
    bench.taken.clear();
    bench.unfinished.clear();
    bench.sources.clear();
    let mut problems = Problems::default();
    for file in &body.evidence {
        let Some(kind) = readings::FILES.iter().find(|k| **k == file.kind) else {
            continue;
        };
        bench.read(kind, &file.file, file.text.as_bytes(), &mut problems);
    }
    if problems.has_errors() {
        return Err(problems.into());
    }
    let unusable = || refuse("its readings cannot be used with cell.toml as it is now".to_owned());
    let seen = recheck(&bench, &against.force).ok_or_else(unusable)?;
    let parts = match seen.holds {
        true => Vec::new(),
        false => {
            let weighed = explain(&bench, &against.force, &seen);
            let best = weighed.list.first().filter(|e| e.fits());
            best.map(|e| e.parts().to_vec()).unwrap_or_default()
        }
    };
    let freedoms: Vec<_> = parts.iter().flat_map(|p| p.freedoms(&bench.cell)).collect();
    let tied = tied(&bench, &against.force, &freedoms, &[]).ok_or_else(unusable)?;
    let registration = register_with(&tied.bench, &tied.unknowns, SetAside::Nothing);
    let Outcome::Determined(found) = registration.outcome else {
        return Err(refuse(
            "its readings do not settle what moved; compare it after more readings, or compare registrations"
                .to_owned(),
        ));
    };
    let share = |(name, share): &(String, f64)| records::Share {
        name: name.clone(),
        share: *share,
    };
    let mut as_body = against.body.clone();
    as_body.taken = body.taken.clone();
    as_body.time.clone_from(&body.time);
    as_body.rows = records::rows_of(&bench, &found.used);
    as_body.moved = Some(records::Moved {
        parts: parts.iter().map(|p| p.name()).collect(),
        followed: Vec::new(),
        from: against.link.clone(),
        freed: tied
            .freed
            .iter()
            .map(|way| way.iter().map(share).collect())
            .collect(),
    });
    let name = path
        .file_name()
        .and_then(|n| n.to_str())
        .unwrap_or_default();
    Ok(Kept {
        link: Link {
            file: name.to_owned(),
            sha256,
        },
        body: as_body,
        force: InForce {
            geometry: found.geometry.clone(),
            unknowns: tied.unknowns.clone(),
            covariance: found.assessment.covariance.clone(),
        },
    })
}
