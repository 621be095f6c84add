//! `notchpin tip`.

use crate::answers;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::force;
use crate::cli::json;
use crate::readings::stand::Stand;
use crate::report;

pub fn run(args: &args::Tip, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Cell)?;
    console.warnings(&folder.problems);
    let cell = &folder.bench.cell;
    let mut stand = Stand::default();
    match (&args.track, &cell.track) {
        (Some(text), Some(_)) => stand.track = number("--track", text)?,
        (None, None) => {}
        (None, Some(_)) => return Err(usage("this cell has a track: give its reading, --track R")),
        (Some(_), None) => return Err(usage("this cell has no track: leave --track out")),
    }
    match (&args.table, &cell.turntable) {
        (Some(text), Some(_)) => stand.table = number("--table", text)?,
        (Some(_), None) => return Err(usage("this cell has no turntable: leave --table out")),
        (None, _) => {}
    }
    let joints: Vec<&str> = args.joints.split(',').collect();
    let n = cell.joints.len();
    if joints.len() != n {
        return Err(usage(&format!(
            "--joints gives {} readings, but the arm has {n} joints: give {n}, base to tip, with \
             commas between",
            joints.len()
        )));
    }
    for (reading, text) in stand.joints.iter_mut().zip(&joints) {
        *reading = number("--joints", text)?;
    }
    let force = force::find(&args.force, &folder, console)?;
    let document = answers::tip::tip(&force, &stand, args.table.is_some());
    let text = match args.json {
        true => json(&document)?,
        false => force.headed(report::tip(
            cell,
            &force.geometry,
            &stand,
            &document,
            &force.source,
            force.verdict.as_deref(),
        )),
    };
    console.answer(&text)?;
    if args.json {
        let verdict = force.verdict.as_deref();
        for look in report::looks(cell, &force.geometry, &stand, &document, verdict) {
            console.note(&format!("look: {look}"));
        }
    }
    Ok(match force.doubt {
        None => Status::Good,
        Some(_) => Status::Look,
    })
}

fn usage(text: &str) -> Failure {
    Failure::Message(text.to_owned())
}

fn number(option: &str, text: &str) -> Result<f64, Failure> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(Failure::Message(format!(
            "{option}: found {text:?}, expected a number such as -12.5; write what the controller \
             shows"
        ))),
    }
}
