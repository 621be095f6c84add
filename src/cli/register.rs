//! `notchpin register`.

use std::num::NonZero;
use std::path::Path;
use std::time::SystemTime;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::folder;
use crate::cli::json;
use crate::cli::kept;
use crate::cli::moved;
use crate::cli::papers;
use crate::cli::progress;
use crate::cli::sets;
use crate::parameters::Parameter;
use crate::parameters::Unknowns;
use crate::plan::advise;
use crate::records;
use crate::registration::Determined;
use crate::registration::MovedDocument;
use crate::registration::Outcome;
use crate::registration::SetAside;
use crate::registration::Verdict;
use crate::registration::document;
use crate::registration::register_with;
use crate::registration::simulation;
use crate::report;

/// What is solved and kept.
pub struct Work<'a> {
    /// The cell folder.
    pub root: &'a Path,
    /// Cell and readings.
    pub bench: &'a Bench,
    /// What is solved for.
    pub unknowns: &'a Unknowns,
    /// The cell as drawn.
    pub drawn: &'a Cell,
    /// Digests of the files that were read.
    pub inputs: Vec<records::Input>,
    /// Readings from outside the folder `readings`, as they are.
    pub evidence: Vec<records::Evidence>,
    /// After a move: what the record says of it.
    pub moved: Option<records::Moved>,
    /// After a move: what is said of it, once there is a result.
    #[allow(clippy::type_complexity)]
    pub tell: Option<&'a dyn Fn(&Determined) -> MovedDocument>,
}

pub fn run(args: &args::Register, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    if !args.moved.is_empty() {
        return moved::run(args, &root, console);
    }
    let mut folder = folder::read(
        &root,
        match args.readings {
            Some(_) => folder::Need::Points,
            None => folder::Need::Readings,
        },
    )?;
    console.warnings(&folder.problems);
    let mut evidence = Vec::new();
    if let Some(path) = &args.readings {
        let set = sets::read_set(&folder, Some(path))?;
        console.warnings(&set.problems);
        folder.inputs.extend(set.inputs);
        folder.bench = set.bench;
        evidence = set.evidence;
    }
    match (moved::stale(&folder), args.afresh) {
        (Some(told), false) => return Err(Failure::Message(told)),
        (Some(_), true) => console.note(
            "look: --afresh takes all rows as read again since the last move; if some were not, the result is \
             wrong.",
        ),
        (None, _) => {}
    }
    told_day(
        &root,
        &folder.bench.cell,
        args.kept.taken.as_deref(),
        console,
    );
    let work = Work {
        root: &root,
        bench: &folder.bench,
        unknowns: &folder.unknowns,
        drawn: &folder.bench.cell,
        inputs: folder.inputs.clone(),
        evidence,
        moved: None,
        tell: None,
    };
    finish(args, &work, console)
}

/// An answer that could not be written although the record was.
pub fn kept_anyway(failure: Failure, written: Option<&Path>) -> Failure {
    match (failure, written) {
        (Failure::Message(text), Some(path)) => Failure::Message(format!(
            "{text}; the record was written all the same: {}",
            path.display()
        )),
        (failure, _) => failure,
    }
}

/// Says where a day of readings lies before that of the newest record.
pub fn told_day(root: &Path, cell: &Cell, day: Option<&str>, console: &Console) {
    let newest = kept::paths(root).ok();
    let newest = newest.and_then(|paths| kept::load(paths.last()?, cell).ok());
    let today = humantime::format_rfc3339_seconds(SystemTime::now()).to_string();
    if day.is_some_and(|day| day > &today[..10]) {
        console.note(
            "look: the readings are said to be of a day that is still to come; was it mistyped?",
        );
    }
    if let (Some(day), Some(newest)) = (day, newest)
        && day < newest.day()
    {
        console.note(&format!(
            "look: the readings are said to be of {day}, before those of {}; was the day mistyped?",
            newest.called()
        ));
    }
}

/// Solves, prints, keeps.
pub fn finish(args: &args::Register, work: &Work<'_>, console: &Console) -> Done {
    let (bench, unknowns) = (work.bench, work.unknowns);
    let aside = match args.set_aside {
        true => SetAside::Suspects,
        false => SetAside::Nothing,
    };
    let registration = register_with(bench, unknowns, aside);
    let mut document = document(bench, unknowns, &registration);
    document.advice = advise(bench, unknowns, &registration);
    // After a move the adjustment starts from the record before; the drawing stays the drawing.
    for p in &mut document.parameters {
        if let Some(parameter) = Parameter::named(work.drawn, &p.name) {
            p.nominal = parameter.get(&work.drawn.nominal) / parameter.unit().in_code();
        }
    }
    let determined = match &registration.outcome {
        Outcome::Determined(determined) => determined,
        Outcome::Failed(why) => {
            return Err(Failure::Message(format!(
                "{why}; nothing was written. Check the cell file and the largest readings."
            )));
        }
        Outcome::Undetermined(_) => {
            let text = match args.json {
                true => json(&document)?,
                false => report::undetermined(bench, &document),
            };
            console.answer(&text)?;
            return Err(Failure::Told);
        }
    };
    document.moved = work.tell.map(|tell| tell(determined));
    if args.set_aside && document.set_aside.is_empty() {
        console.note(match document.search.as_deref() {
            None => "nothing had to be set aside: everything fits",
            Some("held") => {
                "nothing was set aside: a value that cell.toml holds is wrong, not a reading"
            }
            Some("whole") => {
                "nothing was set aside: one slip of the whole explains what does not fit"
            }
            _ => "nothing was set aside: it cannot be said which readings are wrong",
        });
    }
    if let Some(copies) = args.simulate {
        let bar = progress::bar(console, copies, "drawing copies");
        let threads = std::thread::available_parallelism().unwrap_or(NonZero::<usize>::MIN);
        document.simulation = Some(simulation(
            bench,
            unknowns,
            determined,
            copies,
            threads,
            &|| bar.inc(1),
        ));
        bar.finish_and_clear();
    }
    let mut written = None;
    let mut unwritten = None;
    if !args.no_record {
        let body = records::Body {
            program: format!("notchpin {}", env!("CARGO_PKG_VERSION")),
            time: humantime::format_rfc3339_seconds(SystemTime::now()).to_string(),
            taken: args.kept.taken.clone(),
            note: args.kept.note.clone(),
            predecessor: None,
            inputs: work.inputs.clone(),
            moved: work.moved.clone(),
            rows: records::rows_of(bench, &determined.used),
            taught: records::taught_of(bench),
            evidence: work.evidence.clone(),
            geometry: records::geometry_values(work.drawn, &determined.geometry),
            registration: document.clone(),
        };
        let make = |predecessor| {
            let mut body = body.clone();
            if let (Some(moved), None, Some(before)) = (&body.moved, &args.record, &predecessor)
                && moved.from != *before
            {
                return Err(format!(
                    "{} was written while this ran; it may rest on the same readings",
                    before.file
                ));
            }
            body.predecessor = predecessor;
            records::write(&body).map_err(|e| e.to_string())
        };
        match papers::write_record(work.root, papers::Sort::Registration, &make) {
            Ok(path) => written = Some(path),
            Err(e) => unwritten = Some(e),
        }
    }
    if let Some(papers::Unwritten::Made(why)) = &unwritten {
        return Err(Failure::Message(format!(
            "no record was written: {why}; run it again, if it is still wanted"
        )));
    }
    let text = match args.json {
        true => json(&document)?,
        false => report::registered(bench, determined, &document, written.as_deref()),
    };
    if args.json
        && let Some(path) = &written
    {
        console.note(&format!("record written: {}", path.display()));
    }
    console
        .answer(&text)
        .map_err(|e| kept_anyway(e, written.as_deref()))?;
    if let Some(e) = unwritten {
        return Err(Failure::Message(format!(
            "no record could be written in {}: {e}; {}",
            work.root.join("records").display(),
            e.advice()
        )));
    }
    Ok(match registration.verdict {
        Verdict::Accepted => Status::Good,
        _ => Status::Look,
    })
}
