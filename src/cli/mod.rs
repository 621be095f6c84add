//! The commands: arguments in, files read, answers out. Nothing here computes.

mod args;
mod as_found;
mod asked;
mod check;
mod compare;
mod demo;
mod enter;
mod folder;
mod force;
mod history;
mod kept;
mod layout;
mod map;
mod moved;
mod new;
mod papers;
mod plan;
mod progress;
mod reach;
mod recheck;
mod register;
mod report;
mod rewrite;
mod sets;
mod sheet;
mod standing;
mod start;
mod task;
mod tip;
mod transfer;
mod view;
mod whole;

use std::ffi::OsString;
use std::io;
use std::io::Write;
use std::process::ExitCode;

use clap::CommandFactory;
use clap::Parser;

use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::report::wrap;

/// How a command ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Status {
    /// Done and acceptable.
    Good,
    /// Done, but a person must look at something.
    Look,
}

/// Why a command could not do its work: bad input or usage.
#[derive(Debug)]
pub(crate) enum Failure {
    /// Problems of input files.
    Input(Problems),
    /// One sentence or a few.
    Message(String),
    /// The answer is on standard output already; the status is still 2.
    Told,
}

impl From<Problems> for Failure {
    fn from(problems: Problems) -> Self {
        Failure::Input(problems)
    }
}

type Done = Result<Status, Failure>;

/// What a command writes to.
pub(crate) struct Console {
    quiet: bool,
}

impl Console {
    /// Whether warnings and notes are wanted.
    pub(crate) fn quiet(&self) -> bool {
        self.quiet
    }

    /// The answer, on standard output. A reader that went away is no error.
    pub(crate) fn answer(&self, text: &str) -> Result<(), Failure> {
        let mut out = io::stdout().lock();
        match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
            Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(Failure::Message(format!(
                "the answer cannot be written: {e}"
            ))),
            _ => Ok(()),
        }
    }
    /// A note for the person, on standard error.
    pub(crate) fn note(&self, text: &str) {
        if !self.quiet {
            for line in text.lines() {
                let indent = line.len() - line.trim_start().len();
                let (blanks, words) = line.split_at(indent);
                let _ = write!(io::stderr().lock(), "{}", wrap(blanks, indent + 2, words));
            }
        }
    }
    /// Warnings among the problems of a folder that could be used.
    pub(crate) fn warnings(&self, problems: &Problems) {
        for problem in problems.iter() {
            self.note(&problem.to_string());
        }
    }
}

/// Runs the program.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let parsed = match args::Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(e) => {
            let status = if e.use_stderr() { 2 } else { 0 };
            // Help into a pipe that was closed is no error.
            let _ = e.print();
            return ExitCode::from(status);
        }
    };
    let console = Console {
        quiet: parsed.quiet,
    };
    let done = match parsed.command {
        args::Command::New(a) => new::run(&a, &console),
        args::Command::Register(a) => register::run(&a, &console),
        args::Command::History(a) => history::run(&a, &console),
        args::Command::Check(a) => check::run(&a, &console),
        args::Command::Compare(a) => compare::run(&a, &console),
        args::Command::Plan(a) => plan::run(&a, &console),
        args::Command::Sheet(a) => sheet::run(&a, &console),
        args::Command::Enter(a) => enter::run(&a, &console),
        args::Command::Reach(a) => reach::run(&a, &console),
        args::Command::Report(a) => report::run(&a, &console),
        args::Command::Recheck(a) => recheck::run(&a, &console),
        args::Command::Task(a) => task::run(&a, &console),
        args::Command::Tip(a) => tip::run(&a, &console),
        args::Command::Transfer(a) => transfer::run(&a, &console),
        args::Command::View(a) => view::run(&a, &console),
        args::Command::Completions { shell } => completions(shell, &console),
        args::Command::Man { folder } => man(&folder, &console),
    };
    match done {
        Ok(Status::Good) => ExitCode::SUCCESS,
        Ok(Status::Look) => ExitCode::from(1),
        Err(failure) => {
            tell(failure, &console);
            ExitCode::from(2)
        }
    }
}

fn tell(failure: Failure, console: &Console) {
    let mut out = io::stderr().lock();
    match failure {
        Failure::Told => {}
        Failure::Message(text) => {
            let _ = write!(out, "{}", wrap("error: ", 7, &text));
        }
        Failure::Input(problems) => {
            let mut errors = 0;
            for problem in problems.iter() {
                let error = problem.severity == Severity::Error;
                errors += usize::from(error);
                if error || !console.quiet {
                    let _ = writeln!(out, "{problem}");
                }
            }
            let s = if errors == 1 { "" } else { "s" };
            let _ = writeln!(
                out,
                "{errors} error{s}; nothing was solved and nothing written"
            );
        }
    }
}

fn completions(shell: clap_complete::Shell, console: &Console) -> Done {
    let mut text = Vec::new();
    clap_complete::generate(
        shell,
        &mut args::Arguments::command(),
        "notchpin",
        &mut text,
    );
    console.answer(&String::from_utf8_lossy(&text))?;
    Ok(Status::Good)
}

fn man(folder: &std::path::Path, console: &Console) -> Done {
    clap_mangen::generate_to(args::Arguments::command(), folder).map_err(|e| {
        Failure::Message(format!(
            "the manual pages cannot be written to {}: {e}; give a folder that exists",
            folder.display()
        ))
    })?;
    console.note(&format!("manual pages written to {}", folder.display()));
    Ok(Status::Good)
}

/// The JSON text of a document, with a line end.
pub(crate) fn json(document: &impl serde::Serialize) -> Result<String, Failure> {
    let mut text = serde_json::to_string_pretty(document)
        .map_err(|e| Failure::Message(format!("the answer cannot be written as JSON: {e}")))?;
    text.push('\n');
    Ok(text)
}
