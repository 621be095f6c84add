//! `notchpin register --moved`: what moved is solved anew, the rest is tied to the record in force.

use std::collections::HashSet;
use std::path::Path;

use crate::bench::Bench;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::args;
use crate::cli::as_found::as_before;
use crate::cli::as_found::told_as_before;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::papers;
use crate::cli::register;
use crate::cli::register::Work;
use crate::cli::sets;
use crate::diagnose::nearest;
use crate::moves::Kin;
use crate::moves::Tied;
use crate::moves::Unused;
use crate::moves::change;
use crate::moves::cross;
use crate::moves::movement;
use crate::moves::no_longer_count;
use crate::parameters::Parameter;
use crate::parts;
use crate::parts::Freedom;
use crate::parts::Part;
use crate::records;
use crate::records::InForce;
use crate::registration::Determined;
use crate::registration::MovedDocument;
use crate::report::moves::changes;
use crate::report::moves::unused;
use crate::report::moves::words;

pub fn run(args: &args::Register, root: &Path, console: &Console) -> Done {
    // The old readings are only told about: where they cannot be read they are in nobody's way.
    let folder = match folder::read(root, folder::Need::Readings) {
        Ok(folder) => folder,
        Err(_) => folder::read(root, folder::Need::Points)?,
    };
    let cell = &folder.bench.cell;
    let kept = kept::in_force(&folder, args.record.as_deref(), console)?;
    let named = parts_named(&folder.bench, &args.moved)?;
    let followed = match args.only {
        true => Vec::new(),
        false => followed(&folder, &kept.force.unknowns.list, &named),
    };
    let mut set = sets::read_set(&folder, args.readings.as_deref())?;
    console.warnings(&set.problems);
    let same = as_before(&mut set, root, cell, &kept, args.again)?;
    if !same.is_empty() {
        console.note(&told_as_before(&same, args.again));
    }
    register::told_day(root, cell, args.kept.taken.as_deref(), console);
    let all = [named.clone(), followed.clone()].concat();
    let Some(tied) = Tied::parts(&set.bench, &kept.force, &all) else {
        return Err(Failure::Message(format!(
            "{}: its covariance cannot be used to hold what did not move; register afresh from readings of \
             everything",
            kept.link.file
        )));
    };
    let names = |parts: &[Part]| parts.iter().map(|p| p.name()).collect::<Vec<_>>();
    let share = |(name, share): &(String, f64)| records::Share {
        name: name.clone(),
        share: *share,
    };
    let moved = records::Moved {
        parts: names(&named),
        followed: names(&followed),
        from: kept.link.clone(),
        freed: tied
            .freed
            .iter()
            .map(|way| way.iter().map(share).collect())
            .collect(),
    };
    let old = old_readings(&folder, &kept, &tied);
    let tell = |determined: &Determined| {
        document(
            &set.bench,
            &kept,
            &tied,
            (&named, &followed),
            &old,
            determined,
        )
    };
    let readings = |input: &&records::Input| !input.file.starts_with("readings/");
    let mut inputs: Vec<records::Input> = folder.inputs.iter().filter(readings).cloned().collect();
    inputs.extend(set.inputs.iter().cloned());
    let work = Work {
        root,
        bench: &tied.bench,
        unknowns: &tied.unknowns,
        drawn: &folder.bench.cell,
        inputs,
        evidence: set.evidence.clone(),
        moved: Some(moved),
        tell: Some(&tell),
    };
    register::finish(args, &work, console)
}

/// The parts that an option names.
pub fn parts_named(bench: &Bench, names: &[String]) -> Result<Vec<Part>, Failure> {
    let cell = &bench.cell;
    let mut found = Vec::new();
    for name in names {
        let name = name.trim();
        let Some(part) = Part::named(cell, name) else {
            let all: Vec<String> = Part::all(cell).iter().map(|p| p.name()).collect();
            let advice = match nearest(name, all.iter().map(String::as_str)) {
                Some(near) => format!("write {near}, if that is meant"),
                None => "write one or several of them, with commas between".to_owned(),
            };
            return Err(Failure::Message(format!(
                "--moved: found {name:?}, expected a part of this cell that can have moved ({}); {advice}",
                all.join(", ")
            )));
        };
        if !found.contains(&part) {
            found.push(part);
        }
    }
    Ok(found)
}

/// The parts that an option names, with the joints that are set after one of them unless only the named
/// ones count.
pub fn with_followed(folder: &Folder, names: &[String], only: bool) -> Result<Vec<Part>, Failure> {
    let named = parts_named(&folder.bench, names)?;
    let followed = match only {
        true => Vec::new(),
        false => followed(folder, &[], &named),
    };
    Ok([named, followed].concat())
}

/// Joints that are set after one of these, and so are no longer to be trusted; those that nobody solves for
/// stay as they are drawn.
fn followed(folder: &Folder, known: &[(Parameter, Option<f64>)], named: &[Part]) -> Vec<Part> {
    let cell = &folder.bench.cell;
    let mut found: Vec<Part> = Vec::new();
    for part in named {
        let Part::Joint(joint) = part else { continue };
        for next in parts::then_again(cell, *joint) {
            let part = Part::Joint(next);
            let zero = Parameter::named(cell, &format!("arm.j{}.zero", next + 1));
            let solved = zero.is_some_and(|z| {
                known.iter().any(|(p, _)| *p == z)
                    || folder.unknowns.list.iter().any(|(p, _)| *p == z)
            });
            if solved && !named.contains(&part) && !found.contains(&part) {
                found.push(part);
            }
        }
    }
    found
}

/// Which readings that the record in force rests on, by itself or through those that it is tied to, no
/// longer count.
fn old_readings(folder: &Folder, kept: &Kept, tied: &Tied) -> Vec<Unused> {
    let bench = kept::readings_of(folder, kept);
    let ways = tied.freed.iter().map(|way| {
        let named = way
            .iter()
            .filter_map(|(name, share)| Some((Parameter::named(&bench.cell, name)?, *share)));
        Freedom {
            shares: named.collect(),
        }
    });
    no_longer_count(&bench, &kept.force, &ways.collect::<Vec<_>>())
}

fn document(
    bench: &Bench,
    kept: &Kept,
    tied: &Tied,
    (named, followed): (&[Part], &[Part]),
    old: &[Unused],
    determined: &Determined,
) -> MovedDocument {
    let cell = &bench.cell;
    let after = InForce {
        geometry: determined.geometry.clone(),
        unknowns: tied.unknowns.clone(),
        covariance: determined.assessment.covariance.clone(),
    };
    let kin = match tied.unknowns.tie() {
        Some(tie) => Kin::Tied(tie.clone(), kept.force.covariance.clone()),
        None => Kin::Apart,
    };
    let change = change(cell, &kept.force, &after, &cross(&kept.force, &after, &kin));
    let parts = named.iter().chain(followed);
    let movements =
        parts.map(|p| movement(*p, cell, &kept.force.geometry, &after.geometry, &change));
    // One parameter may be freed in several ways: named once.
    let mut freed: Vec<String> = Vec::new();
    for (name, _) in tied.freed.iter().flatten() {
        if !freed.contains(name) {
            freed.push(name.clone());
        }
    }
    MovedDocument {
        parts: named.iter().map(|p| p.name()).collect(),
        followed: followed.iter().map(|p| p.name()).collect(),
        from: kept.called(),
        by_tolerance: tied.by_tolerance.clone(),
        sentences: movements.map(|m| words::movement(&m, cell)).collect(),
        changes: changes(&change),
        no_longer_count: unused(old, named, followed, cell),
        freed,
    }
}

/// Why a full registration from the readings of a folder would put an older state in force again: rows of
/// before the last move, or of an older record where the newest rests on others, or a chain of records that is
/// broken at its end, so that nobody knows. `None` where nothing speaks against it.
pub fn stale(folder: &Folder) -> Option<String> {
    let cell = &folder.bench.cell;
    // The list first: another run may write a record and its line meanwhile.
    let list = papers::list_of(&folder.root);
    let Ok(paths) = kept::paths(&folder.root) else {
        // None is there, though one was written.
        let list = list?;
        return list.contains(papers::Sort::Registration.prefix()).then(|| {
            format!(
                "all registrations are missing that {}/records/list.txt tells of: put them back from a copy; \
                 --afresh says that all readings were taken as things stand now",
                folder.root.display()
            )
        });
    };
    // What a record said that is not there, or not as it was, nobody knows: it may have been of a move.
    let newest = paths.last()?;
    let fault = match papers::link_to(newest) {
        Ok(link) => list.and_then(|list| records::chain::newest_fault(&list, &link)),
        Err(why) => Some(why),
    };
    if let Some(fault) = fault {
        return Some(format!(
            "the chain of records is broken at its end ({fault}): if that was registered after something moved, \
             these readings would put it back. See `notchpin history {}`; --afresh says that all readings were \
             taken as things stand now",
            folder.root.display()
        ));
    }
    let all: Vec<Kept> = paths
        .iter()
        .filter_map(|p| kept::load(p, cell).ok())
        .collect();
    let last = all.iter().rposition(|k| k.body.moved.is_some());
    let digests = |records: &[Kept]| -> HashSet<String> {
        let rows = records.iter().flat_map(|k| &k.body.rows);
        rows.map(|r| r.sha256.clone()).collect()
    };
    // Without a move, rows of an older record are only then in the way when the newest rests on others.
    let newest = all.len().checked_sub(1)?;
    let from = last.unwrap_or(newest);
    let (before, since) = (digests(&all[..from]), digests(&all[from..]));
    let used: Vec<usize> = (0..folder.bench.taken.len())
        .filter(|i| folder.bench.taken[*i].used())
        .collect();
    let rows = records::rows_of(&folder.bench, &used);
    let old = |r: &&records::Row| before.contains(&r.sha256) && !since.contains(&r.sha256);
    let stale = rows.iter().filter(old).count();
    let Some(moved) = last.and_then(|last| all[last].body.moved.as_ref()) else {
        let mostly = 2 * stale > rows.len() && !rows.iter().any(|r| since.contains(&r.sha256));
        return mostly.then(|| {
            format!(
                "{stale} of the {} rows are of before {}, which rests on others: registering with them would put \
                 the older state in force again. Take the newer readings (--readings); --afresh says that these \
                 were read again",
                rows.len(),
                all[newest].called()
            )
        });
    };
    (stale > 0).then(|| {
        format!(
            "{stale} of the {} rows were taken before {} moved ({}): registering with them would put it back \
             where it was. Solve only what moved (--moved {} with new readings), or take all readings anew and \
             leave the old ones out; --afresh says that all of them were taken since",
            rows.len(),
            moved.parts.join(", "),
            all[from].called(),
            moved.parts.join(",")
        )
    })
}

/// A plan from readings of before a move would say that nothing is missing.
pub fn refuse_plan(folder: &Folder) -> Result<(), Failure> {
    match stale(folder) {
        None => Ok(()),
        Some(_) => Err(Failure::Message(
            "the folder readings holds rows of before the last move or of an older state, or the chain of records is \
             broken: a plan from them would rest on what no longer counts. After a move `notchpin sheet --moved` \
             says what to measure; `notchpin history` what the records say"
                .to_owned(),
        )),
    }
}
