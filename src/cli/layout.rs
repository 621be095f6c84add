//! Files of readings laid out to be filled in.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::Path;

use crate::bench::Bench;
use crate::cli::folder;
use crate::cli::whole;
use crate::plan::Plan;
use crate::report::wrap;
use crate::table::Written;

/// Lays out one file for each kind in a folder of the cell (`readings`, `recheck`), all of them or
/// none; none that is there is touched. `steps` gives each reading of the plan the number of its step
/// on a working sheet, for the column `step`.
pub fn lay_out(
    root: &Path,
    folder: &str,
    bench: &Bench,
    plan: &Plan,
    steps: Option<&[usize]>,
) -> io::Result<Vec<String>> {
    let readings = root.join(folder);
    fs::create_dir_all(&readings)?;
    let mut rows: BTreeMap<&str, Vec<(Written, String)>> = BTreeMap::new();
    for (k, step) in plan.steps.iter().enumerate() {
        let mut row = step.proposal.row(bench, false);
        row.set("use", "no");
        if let Some(number) = steps.and_then(|s| s.get(k)) {
            row.set("step", &number.to_string());
        }
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
        let file = whole::begun(&readings, &text_of(plan, kind, rows))?;
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
    Ok(done.into_iter().map(|n| format!("{folder}/{n}")).collect())
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
