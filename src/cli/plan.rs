//! `notchpin plan`.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::io::Write;
use std::path::Path;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::progress;
use crate::plan::Plan;
use crate::plan::plan;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::register_with;
use crate::report;
use crate::report::wrap;
use crate::table::Written;
use crate::table::common::Use;

pub fn run(args: &args::Plan, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let (bench, geometry, from, suspects) = start(&folder)?;
    let bar = progress::bar(console, u64::from(args.most), "planning");
    let planned = plan(
        &bench,
        &folder.unknowns,
        &geometry,
        args.most as usize,
        &mut |steps| bar.set_position(steps as u64),
    );
    bar.finish_and_clear();
    let Some(planned) = planned else {
        return Err(Failure::Message(
            "the readings taken so far give derivatives that are not finite numbers; check the cell \
             file and the largest readings with `notchpin check`"
                .to_owned(),
        ));
    };
    let mut written = Vec::new();
    if args.write && !planned.steps.is_empty() {
        written = lay_out(&root, &bench, &planned).map_err(|e| {
            Failure::Message(format!(
                "the files could not be laid out in {}: {e}; nothing was left there",
                root.join("readings").display()
            ))
        })?;
    }
    let document = report::plan::document(&bench, &planned, &from, suspects, &written);
    let text = match args.json {
        true => json(&document)?,
        false => report::plan::plan(&planned, &document),
    };
    console.answer(&text)?;
    Ok(match document.reached && suspects == 0 {
        true => Status::Good,
        false => Status::Look,
    })
}

/// What to plan from: the cell as registered by the readings there are, suspects left out, else as drawn.
fn start(folder: &folder::Folder) -> Result<(Bench, Geometry, String, usize), Failure> {
    let bench = &folder.bench;
    let drawn = |why: String| Ok((bench.clone(), bench.cell.nominal.clone(), why, 0));
    let used = bench.taken.iter().filter(|t| t.used()).count();
    if used == 0 {
        return drawn("the drawing and its tolerances: no readings yet".to_owned());
    }
    let registration = register_with(bench, &folder.unknowns, SetAside::Suspects);
    let Outcome::Determined(found) = registration.outcome else {
        return drawn(format!(
            "the {used} readings of this folder, which do not settle all unknowns yet, and the drawing"
        ));
    };
    let sound = found.assessment.global_test_holds() && !found.assessment.any_suspect();
    if !sound && !found.assessment.found.is_empty() {
        return Err(Failure::Message(
            "the readings of this folder contradict each other too much to plan from them; see with \
             `notchpin register` what does not fit, and correct that first"
                .to_owned(),
        ));
    }
    let mut sound = bench.clone();
    for index in &found.set_aside {
        sound.taken[*index].role = Use::No;
    }
    let from = match found.set_aside.len() {
        0 => format!("the {used} readings of this folder"),
        n => format!(
            "{} of the {used} readings of this folder; {n} do not fit and were left out (see `notchpin \
             register`)",
            used - n
        ),
    };
    Ok((sound, found.geometry.clone(), from, found.set_aside.len()))
}

/// Lays out one file for each kind, all of them or none; none that is there is touched.
fn lay_out(root: &Path, bench: &Bench, plan: &Plan) -> io::Result<Vec<String>> {
    let readings = root.join("readings");
    fs::create_dir_all(&readings)?;
    let mut rows: BTreeMap<&str, Vec<(Written, String)>> = BTreeMap::new();
    for step in &plan.steps {
        let mut row = step.proposal.row(bench, false);
        row.set("use", "no");
        let note = step.proposal.draft.words.clone();
        rows.entry(step.proposal.kind)
            .or_default()
            .push((row, note));
    }
    let number = next_number(&readings)?;
    let mut ready = Vec::new();
    for (kind, rows) in &rows {
        let stem = kind.trim_end_matches(".csv");
        let name = format!("{stem}-plan-{number:04}.csv");
        let mut file = tempfile::Builder::new()
            .prefix(".writing-")
            .suffix(".tmp")
            .tempfile_in(&readings)?;
        file.write_all(text_of(plan, kind, rows).as_bytes())?;
        file.as_file().sync_all()?;
        ready.push((file, name));
    }
    let mut done: Vec<String> = Vec::new();
    for (file, name) in ready {
        if let Err(e) = file.persist_noclobber(readings.join(&name)) {
            for other in &done {
                let _ = fs::remove_file(readings.join(other));
            }
            return Err(e.error);
        }
        done.push(name);
    }
    Ok(done.into_iter().map(|n| format!("readings/{n}")).collect())
}

fn next_number(readings: &Path) -> io::Result<u64> {
    let mut last = 0;
    for entry in fs::read_dir(readings)? {
        let name = entry?.file_name();
        let number = name
            .to_str()
            .filter(|n| folder::planned_kind(n).is_some())
            .and_then(|n| {
                n.strip_suffix(".csv")?
                    .rsplit_once('-')?
                    .1
                    .parse::<u64>()
                    .ok()
            });
        last = last.max(number.unwrap_or(0));
    }
    Ok(last + 1)
}

fn text_of(plan: &Plan, kind: &str, rows: &[(Written, String)]) -> String {
    let expected: Vec<&str> = plan
        .steps
        .iter()
        .filter(|s| s.proposal.kind == kind)
        .flat_map(|s| s.proposal.draft.expected.iter().map(|(c, _)| c.as_str()))
        .collect();
    let blank = |header: &str| {
        expected.iter().any(|c| {
            header
                .strip_prefix(c)
                .is_some_and(|rest| matches!(rest, "" | "_mm" | "_in" | "_deg"))
        })
    };
    let header = rows[0].0.header();
    let kept: Vec<usize> = (0..header.len())
        .filter(|k| {
            let given = rows.iter().any(|(row, _)| !row.cells()[*k].is_empty());
            given || blank(&header[*k]) || header[*k] == "note"
        })
        .collect();
    let to_fill: Vec<&str> = kept
        .iter()
        .map(|k| header[*k].as_str())
        .filter(|name| blank(name))
        .collect();
    let intro = format!(
        "Laid out by a plan. Drive to the readings given, measure, and fill in {}; then write yes under \
         use. Calculated positions: hands and tools out of the arm's reach while it is powered, reduced \
         speed (10 % or less, never above 250 mm/s), energy off and locked before reaching in, prove \
         each position slowly first; never assume that the machine stands where a number says.",
        to_fill.join(", ")
    );
    let mut text = String::new();
    for line in wrap("", 0, &intro).lines() {
        text.push_str(&format!("# {line}\n"));
    }
    let join = |cells: Vec<String>| cells.join(",") + "\n";
    text.push_str(&join(kept.iter().map(|k| header[*k].clone()).collect()));
    for (row, note) in rows {
        let cell = |k: &usize| match header[*k].as_str() {
            "note" => format!("\"{}\"", note.replace('"', "\"\"")),
            _ => row.cells()[*k].clone(),
        };
        text.push_str(&join(kept.iter().map(cell).collect()));
    }
    text
}
