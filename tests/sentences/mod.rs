//! Cell folders in a temporary place, and the program run on them: `folder.run(["register"])`.
#![allow(dead_code)]

pub mod small;

use std::fs;
use std::path::Path;
use std::path::PathBuf;
use std::process::Command;
use std::process::Stdio;

use serde_json::Value;
use tempfile::TempDir;

/// A cell folder that lives as long as the test.
pub struct Folder {
    dir: TempDir,
}

/// How a run ended and what it said.
pub struct Answer {
    pub status: i32,
    pub out: String,
    pub err: String,
}

/// The program, not yet with arguments.
pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_notchpin"));
    command.stdin(Stdio::null());
    command
}

/// Runs the program with nothing but arguments.
pub fn run(arguments: &[&str]) -> Answer {
    finish(program().args(arguments))
}

fn finish(command: &mut Command) -> Answer {
    let output = command.output().expect("the program starts");
    let answer = Answer {
        status: output.status.code().expect("the program ends by itself"),
        out: String::from_utf8(output.stdout).expect("UTF-8 on standard output"),
        err: String::from_utf8(output.stderr).expect("UTF-8 on standard error"),
    };
    for text in [&answer.out, &answer.err] {
        assert!(!text.contains('\u{1b}'), "escape codes in {text:?}");
        assert!(!text.contains("panicked"), "{text}");
    }
    answer
}

impl Folder {
    /// A folder with this cell file and nothing else.
    pub fn new(cell: &str) -> Self {
        let dir = tempfile::tempdir().expect("a temporary folder");
        Folder { dir }.with("cell.toml", cell)
    }

    /// A copy of a folder in the repository.
    pub fn copy_of(from: &Path) -> Self {
        let dir = tempfile::tempdir().expect("a temporary folder");
        copy(from, dir.path());
        Folder { dir }
    }

    /// The same with one more file, or another text in it.
    pub fn with(self, name: &str, text: &str) -> Self {
        self.write(name, text);
        self
    }

    pub fn write(&self, name: &str, text: &str) {
        let path = self.dir.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    pub fn root(&self) -> &Path {
        self.dir.path()
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub fn read(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Names in `records` but for their list, sorted; empty where there is no such folder.
    pub fn records(&self) -> Vec<String> {
        let mut names = self.kept();
        names.retain(|name| name != "list.txt");
        names
    }

    /// All names in `records`, sorted.
    pub fn kept(&self) -> Vec<String> {
        let Ok(entries) = fs::read_dir(self.path("records")) else {
            return Vec::new();
        };
        let mut names: Vec<String> = entries
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    /// Runs a command on this folder: the folder comes right after the command's name.
    pub fn run<S: AsRef<str>>(&self, arguments: impl AsRef<[S]>) -> Answer {
        finish(&mut self.command(arguments))
    }

    /// The same, not yet started.
    pub fn command<S: AsRef<str>>(&self, arguments: impl AsRef<[S]>) -> Command {
        let arguments = arguments.as_ref();
        let mut command = program();
        command.arg(arguments[0].as_ref()).arg(self.root());
        for argument in &arguments[1..] {
            command.arg(argument.as_ref());
        }
        command
    }
}

impl Answer {
    /// The exit status is this one.
    #[track_caller]
    pub fn ends(self, status: i32) -> Self {
        assert_eq!(
            self.status, status,
            "\nout: {}\nerr: {}",
            self.out, self.err
        );
        self
    }

    /// Standard output holds these words.
    #[track_caller]
    pub fn says(self, words: &str) -> Self {
        assert!(
            flat(&self.out).contains(words),
            "no {words:?} in\n{}",
            self.out
        );
        self
    }

    /// Standard error holds these words.
    #[track_caller]
    pub fn complains(self, words: &str) -> Self {
        assert!(
            flat(&self.err).contains(words),
            "no {words:?} in\n{}",
            self.err
        );
        self
    }

    /// Nothing on standard output.
    #[track_caller]
    pub fn answers_nothing(self) -> Self {
        assert!(self.out.is_empty(), "{}", self.out);
        self
    }

    #[track_caller]
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out)
            .unwrap_or_else(|e| panic!("{e}\nout: {}\nerr: {}", self.out, self.err))
    }
}

/// One space for every run of white space: sentences are wrapped on the screen.
pub fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap_or_else(|e| panic!("{}: {e}", from.display())) {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.file_type().unwrap().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
