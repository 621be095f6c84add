//! `notchpin view`: a page of the cell, served to this machine alone.

mod browser;
mod bucket;
mod guard;
mod keep;
mod serve;
mod witness;
mod workers;

use std::path::Path;
use std::path::PathBuf;
use std::sync::Arc;

use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::force;
use crate::cli::kept;
use crate::cli::papers;
use crate::cli::report::statistics_of;
use crate::cli::standing::standing;
use crate::cli::view::witness::Witness;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::pictures::Picture;
use crate::pictures::scene::Known;
use crate::tasks;
use crate::tasks::Step;
use crate::view::Ground;
use crate::view::TaskSteps;
use crate::view::tell::DrawingTold;
use crate::view::tell::Residuals;

pub fn run(args: &args::View, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let witness = Witness::of(&root);
    let folder = folder::read(&root, folder::Need::Points)?;
    console.warnings(&folder.problems);
    let unregistered = args.force.record.is_none()
        && papers::records_of(&root).is_ok_and(|records| records.is_empty());
    let registered = match args.force.as_drawn || unregistered {
        true => None,
        false => Some(force::find(&args.force, &folder, console)?),
    };
    if unregistered && !args.force.as_drawn {
        console.note(
            "look: this cell is not registered yet: the page shows everything as drawn. `notchpin register` \
             makes a registration.",
        );
    }
    let record = registered.as_ref().and_then(|f| f.record.as_ref());
    let stale = record.map_or(Vec::new(), |record| kept::stale_points(&folder, record));
    let names = folder.bench.points.iter().map(|p| p.name.as_str());
    let names: Vec<&str> = names
        .chain(folder.bench.taught.iter().map(|p| p.name.as_str()))
        .collect();
    let tasks = folder::tasks_of(&root);
    let tasks = tasks.into_iter().map(|name| TaskSteps {
        steps: steps(&root, &name, &folder, &names),
        name,
    });
    let tasks = tasks.collect::<Vec<_>>();
    let (residuals, known) = residuals(&root, record.map(PathBuf::as_path));
    let standing = record.map(|path| standing(&root, path, &folder.bench));
    let lapsed = standing.transpose()?.and_then(|s| s.lapsed);
    let ground = Ground::new(
        folder.bench,
        (registered, lapsed),
        stale,
        tasks,
        residuals,
        known,
    );
    serve::serve(Arc::new(ground), (&root, witness), args, console)
}

/// The drawings of a report, and the values that dimension lines are drawn for.
fn residuals(root: &Path, record: Option<&Path>) -> (Residuals, Known) {
    let none = |why: &str| {
        let residuals = Residuals {
            drawings: Vec::new(),
            why_not: Some(why.to_owned()),
        };
        (residuals, Known::default())
    };
    if record.is_none() {
        return none("There is no registration: the readings say nothing yet.");
    }
    // What is told on the console was told when the record was found.
    let silent = Console { quiet: true };
    let (pictures, known) = match statistics_of(root, record, &silent) {
        Ok(found) => found,
        Err(failure) => {
            return none(&format!(
                "The drawings of this record cannot be made: {}",
                sentence(&failure)
            ));
        }
    };
    let told = |p: Picture| DrawingTold {
        slug: p.slug,
        heading: p.heading,
        sentence: p.sentence,
        svg: p.wide,
    };
    let residuals = Residuals {
        drawings: pictures.into_iter().map(told).collect(),
        why_not: None,
    };
    (residuals, known)
}

/// A failure in a sentence: of several problems the first one.
fn sentence(failure: &Failure) -> String {
    let problem = match failure {
        Failure::Input(problems) => problems.iter().find(|p| p.severity == Severity::Error),
        Failure::Message(text) => return text.clone(),
        Failure::Told => None,
    };
    problem.map_or("see `notchpin report`".to_owned(), |p| {
        let line = p
            .line
            .map_or(String::new(), |line| format!(", line {line}"));
        format!("{}{line}: found {}; {}", p.file, p.found, p.advice)
    })
}

/// The steps of a task; or what is wrong with it, in a sentence.
fn steps(
    root: &Path,
    name: &str,
    folder: &folder::Folder,
    names: &[&str],
) -> Result<Vec<Step>, String> {
    let file = format!("tasks/{name}.csv");
    let mut problems = Problems::default();
    let bytes = folder::task(root, &file, &mut problems);
    let steps = bytes
        .map(|bytes| tasks::read(&file, &bytes, &folder.bench.cell, names, &mut problems))
        .unwrap_or_default();
    let error = problems.iter().find(|p| p.severity == Severity::Error);
    match error {
        Some(problem) => Err(format!(
            "{file} cannot be used: found {}; see `notchpin task`",
            problem.found
        )),
        None => Ok(steps),
    }
}

fn failed(what: &str, e: impl std::fmt::Display) -> Failure {
    Failure::Message(format!("{what}: {e}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnose::Problem;

    #[test]
    fn a_failure_is_told_in_its_own_words() {
        let message = Failure::Message("record 3 is gone".to_owned());
        assert_eq!(sentence(&message), "record 3 is gone");
        let problem = |severity, found: &str| Problem {
            severity,
            file: "readings/holes.csv".to_owned(),
            line: Some(7),
            column: None,
            field: None,
            found: found.to_owned(),
            expected: "a count".to_owned(),
            advice: "write the count".to_owned(),
        };
        let mut problems = Problems::default();
        problems.push(problem(Severity::Warning, "a blank line"));
        problems.push(problem(Severity::Error, "no count"));
        assert_eq!(
            sentence(&Failure::Input(problems)),
            "readings/holes.csv, line 7: found no count; write the count"
        );
    }
}
