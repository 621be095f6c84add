//! New readings beside those that records rest on already, and what a recheck found as a registration.

use std::collections::HashMap;
use std::fs;
use std::path::Path;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cli::Failure;
use crate::cli::folder::Folder;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::recheck::AsFound;
use crate::cli::sets::Set;
use crate::diagnose::Problems;
use crate::moves::Explanation;
use crate::moves::What;
use crate::moves::corrected;
use crate::moves::explain;
use crate::moves::recheck;
use crate::moves::tied;
use crate::readings;
use crate::records;
use crate::records::InForce;
use crate::records::Link;
use crate::registration::Outcome;
use crate::registration::PlaceDocument;
use crate::registration::SetAside;
use crate::registration::register_with;
use crate::table::common::Use;

/// A row that an earlier record rests on, with that record's file.
type Known = (records::Row, String);

/// Rows of a bench that read the very same as rows that a record up to `kept` rests on; and how many count.
fn known_rows(bench: &Bench, root: &Path, cell: &Cell, kept: &Kept) -> (Vec<Known>, usize) {
    let earlier = kept::up_to(root, cell, kept);
    let mut known: HashMap<&str, &str> = HashMap::new();
    for record in &earlier {
        for row in &record.body.rows {
            known.entry(&row.sha256).or_insert(&record.link.file);
        }
    }
    let counting: Vec<usize> = (0..bench.taken.len())
        .filter(|i| bench.taken[*i].role != Use::No)
        .collect();
    let rows = records::rows_of(bench, &counting);
    let count = rows.len();
    let old = rows.into_iter().filter_map(|r| {
        let file = (*known.get(r.sha256.as_str())?).to_owned();
        Some((r, file))
    });
    (old.collect(), count)
}

fn leave_out(bench: &mut Bench, rows: &[Known]) {
    for (row, _) in rows {
        let own = bench.taken.iter_mut();
        for taken in own.filter(|t| *t.file == *row.file && t.line == row.line) {
            taken.role = Use::No;
        }
    }
}

/// Leaves out what an earlier record rests on already: only what was read since counts.
pub fn only_new(bench: &mut Bench, root: &Path, cell: &Cell, kept: &Kept) {
    let (old, _) = known_rows(bench, root, cell, kept);
    leave_out(bench, &old);
}

/// Rows of a set that read the very same as rows that a record up to `kept` rests on: they are left out,
/// since held against themselves old readings say that all is well, and solved with they count twice; with
/// `again` they count. A set of nothing else is refused.
pub fn as_before(
    set: &mut Set,
    root: &Path,
    cell: &Cell,
    kept: &Kept,
    again: bool,
) -> Result<Vec<PlaceDocument>, Failure> {
    let (old, count) = known_rows(&set.bench, root, cell, kept);
    if let (Some((row, record)), true, false) = (old.first(), old.len() == count, again) {
        return Err(Failure::Message(format!(
            "all {count} rows read the very same as rows that earlier records rest on ({} line {} as in {record}); \
             held against themselves they would say nothing. Take readings at the bench as it stands now, into \
             a folder of their own; --again says that they were read again and came out the same",
            row.file, row.line
        )));
    }
    if !again {
        leave_out(&mut set.bench, &old);
    }
    let place = |(row, _): &Known| PlaceDocument {
        file: row.file.clone(),
        line: row.line,
    };
    Ok(old.iter().map(place).collect())
}

/// What is said of such rows.
pub fn told_as_before(same: &[PlaceDocument], again: bool) -> String {
    let places: Vec<String> = same
        .iter()
        .map(|p| format!("{} line {}", p.file, p.line))
        .collect();
    let places = places.join(", ");
    match again {
        true => format!(
            "look: these rows read the very same as rows of an earlier record, and count: {places}"
        ),
        false => format!(
            "look: these rows read the very same as rows that an earlier record rests on, and are left out so \
             that nothing counts twice: {places}. --again says that they were read again."
        ),
    }
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
    let mut bench = folder.bench.without_readings();
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
    let (mut parts, mut freedoms) = (Vec::new(), Vec::new());
    if !seen.holds {
        let weighed = explain(&bench, &against.force, &seen);
        let Some(best) = weighed.list.into_iter().next().filter(Explanation::fits) else {
            return Err(refuse(
                "nothing explains its readings, so it says of no parameter where it was; take more readings"
                    .to_owned(),
            ));
        };
        parts = best.parts().to_vec();
        freedoms = best.freedoms.clone();
        // A wrong reading counts as it should have been read, or not at all.
        if let What::Reading(suspect) = &best.what {
            let right = suspect.cause.as_ref();
            match right.and_then(|cause| corrected(&bench, suspect.index, cause)) {
                Some(right) => bench = right,
                None => bench.taken[suspect.index].role = Use::No,
            }
        }
    }
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
