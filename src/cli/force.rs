//! Which geometry a command works with: the newest record, a given one, or the drawing.

use std::fs;
use std::path::Path;
use std::path::PathBuf;

use crate::answers::force::Force;
use crate::answers::force::as_it_was;
use crate::clearance::Surroundings;
use crate::cli::Console;
use crate::cli::Failure;
use crate::cli::args;
use crate::cli::folder::Folder;
use crate::cli::kept;
use crate::cli::papers;
use crate::cli::standing;
use crate::records;

/// Which bodies are drawn so that nothing they are compared with would ever be clear of them.
pub fn overlaps(surroundings: &Surroundings<'_>, least_mm: f64) -> Vec<String> {
    let (near, tried) = surroundings.always_near(least_mm);
    let told = near.into_iter().map(|(body, other)| {
        format!(
            "{} and {} are nearer than {least_mm} mm to each other in all {tried} postures that were tried: \
             nothing will count as clear. Draw the capsule smaller, or give it may_touch = [...]",
            surroundings.body_name(body),
            surroundings.other_name(other)
        )
    });
    told.collect()
}

/// Tells them.
pub fn tell_overlaps(surroundings: &Surroundings<'_>, least_mm: f64, console: &Console) {
    for told in overlaps(surroundings, least_mm) {
        console.note(&format!("look: {told}"));
    }
}

/// Finds what is in force.
pub fn find(args: &args::Force, folder: &Folder, console: &Console) -> Result<Force, Failure> {
    if args.as_drawn {
        return Ok(Force::drawn(&folder.bench.cell));
    }
    let path = match &args.record {
        Some(path) => kept::named(&folder.root, &path.to_string_lossy())?,
        None => newest(&folder.root)?,
    };
    let refuse = |why: String| {
        Failure::Message(format!(
            "{}: {why}; use another one with --record FILE, make a new one with `notchpin \
             register`, or work with --as-drawn",
            path.display()
        ))
    };
    let text = fs::read_to_string(&path).map_err(|e| refuse(format!("cannot be read: {e}")))?;
    let (body, sha256) = records::read_with_digest(&text).map_err(|e| refuse(e.to_string()))?;
    if args.record.is_none()
        && let Some(fault) = papers::newest_fault(&folder.root, &path, sha256)
    {
        console.note(&format!(
            "warning: the chain of records is broken: {fault}. See `notchpin history {}`.",
            folder.root.display()
        ));
    }
    let doubt = standing::doubted(&folder.root, &path);
    if let Some(doubt) = &doubt {
        console.note(&format!("look: {}", as_it_was(doubt)));
    }
    let in_force =
        records::in_force(&folder.bench.cell, &body).map_err(|e| refuse(e.to_string()))?;
    let now = folder.inputs.iter().find(|i| i.file == "cell.toml");
    let then = body.inputs.iter().find(|i| i.file == "cell.toml");
    if now != then {
        console.note(
            "warning: cell.toml has changed since this registration; limits are those of now, \
             places and angles those of the record. Register again to be sure.",
        );
    }
    let changed: Vec<&str> = body
        .inputs
        .iter()
        .filter(|i| i.file.starts_with("readings/"))
        .filter(|i| {
            fs::read(folder.root.join(&i.file)).map_or(true, |b| records::digest(&b) != i.sha256)
        })
        .map(|i| i.file.as_str())
        .collect();
    if !changed.is_empty() {
        console.note(&format!(
            "warning: readings have changed since this registration ({}); register again to use \
             them.",
            changed.join(", ")
        ));
    }
    let stale = kept::stale_points(folder, &path);
    if !stale.is_empty() {
        let names: Vec<&str> = stale.iter().map(|(name, _)| name.as_str()).collect();
        console.note(&format!(
            "look: something moved after these points were taught: {}. They are taken where they were taught; \
             their readings in taught.csv lead elsewhere now. `notchpin transfer {}` gives the new ones.",
            names.join(", "),
            kept::quoted(&folder.root)
        ));
    }
    Ok(Force {
        geometry: in_force.geometry,
        sure: Some((in_force.unknowns, in_force.covariance)),
        source: format!("{} of {}", path.display(), body.time),
        verdict: Some(body.registration.verdict),
        record: Some(path),
        doubt,
    })
}

fn newest(root: &Path) -> Result<PathBuf, Failure> {
    let records = papers::records_of(root).map_err(|e| {
        Failure::Message(format!(
            "{} cannot be read: {e}",
            root.join("records").display()
        ))
    })?;
    match records.last() {
        Some((_, path)) => Ok(path.clone()),
        None => Err(Failure::Message(format!(
            "{} holds no registration yet; make one with `notchpin register {}`, or work with \
             --as-drawn",
            root.display(),
            root.display()
        ))),
    }
}
