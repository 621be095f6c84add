//! One row as it is asked for, question by question.

use crate::cell::Cell;
use crate::diagnose::Problem;
use crate::diagnose::Problems;
use crate::diagnose::Severity;
use crate::readings;
use crate::readings::Setting;
use crate::readings::Taken;
use crate::table::Written;

/// One cell that is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// Its column, as the header has it.
    pub column: String,
    /// Its unit in words; empty for names.
    pub unit: String,
    /// What it is.
    pub words: String,
    /// Whether an empty answer is refused.
    pub needed: bool,
    /// What an empty answer stands for, shown in brackets.
    pub default: Option<String>,
}

/// A row while it is filled in.
#[derive(Debug, Clone)]
pub struct Form {
    /// The name of its kind's file.
    pub kind: &'static str,
    /// The row as answered so far.
    pub row: Written,
    /// Whether it was laid out, so that nothing that was to be measured may stay empty.
    pub laid_out: bool,
    questions: Vec<Question>,
    at: usize,
    /// So many were answered, whether asked again or not.
    done: usize,
    /// Places of questions that the answers before them have made idle.
    idle: Vec<usize>,
}

/// What a row says, read with `use = yes`.
#[derive(Debug, Clone)]
pub struct Judged {
    /// The reading, where nothing is wrong with the row.
    pub taken: Option<Taken>,
    /// What is wrong with it, or looks so.
    pub problems: Vec<Problem>,
}

impl Judged {
    /// The error in a column, if there is one.
    pub fn error_in(&self, column: &str) -> Option<&Problem> {
        self.errors().find(|p| p.field.as_deref() == Some(column))
    }

    /// All errors.
    pub fn errors(&self) -> impl Iterator<Item = &Problem> {
        self.problems
            .iter()
            .filter(|p| p.severity == Severity::Error)
    }
}

/// Reads a row as it would count.
pub fn judge(kind: &str, row: &Written, laid_out: bool, setting: &Setting<'_>) -> Judged {
    let mut row = row.clone();
    row.set("use", "yes");
    // A file of this name wants every result, as those that `plan` lays out do.
    let name = if laid_out {
        "row-plan-0000.csv"
    } else {
        "row.csv"
    };
    let mut problems = Problems::default();
    let rows = readings::read(kind, name, row.csv().as_bytes(), setting, &mut problems);
    Judged {
        taken: rows.taken.into_iter().next(),
        problems: problems.iter().cloned().collect(),
    }
}

impl Form {
    /// A row that was laid out: what was to be measured, and what else it lacks. `planned` says that its
    /// file was laid out by `plan`; in another file a row whose last needed cell is filled in counts as
    /// finished, so those cells come last there.
    pub fn laid_out(
        kind: &'static str,
        row: Written,
        planned: bool,
        setting: &Setting<'_>,
    ) -> Form {
        let mut form = Form {
            kind,
            row,
            laid_out: true,
            questions: Vec::new(),
            at: 0,
            done: 0,
            idle: Vec::new(),
        };
        let columns = readings::columns(kind, setting.cell);
        for column in readings::results_of(kind) {
            form.questions.push(form.question(column, true));
        }
        let is_result = |form: &Form, name: &str| {
            let results = readings::results_of(kind).iter();
            results.map(|c| form.row.name(c)).any(|c| c == name)
        };
        let lacking = judge(kind, &form.row, planned, setting);
        let blank = |p: &&Problem| {
            p.field
                .as_deref()
                .is_some_and(|f| form.row.text(f).is_empty())
        };
        let lacking: Vec<String> = lacking
            .errors()
            .filter(blank)
            .filter_map(|p| p.field.clone())
            .collect();
        let mut added = 0;
        for name in &lacking {
            let bare = columns
                .list()
                .iter()
                .find(|c| form.row.name(&c.name) == name);
            if let (Some(column), false) = (bare, is_result(&form, name)) {
                let question = form.question(&column.name, true);
                form.questions.insert(added, question);
                added += 1;
            }
        }
        if !planned {
            form.questions.sort_by_key(|q| lacking.contains(&q.column));
        }
        form.at = form.first_blank();
        form
    }

    /// A new row: every column of its kind that the cell has a use for, those that must be there first.
    /// Axis readings stand as in the row before.
    pub fn fresh(
        kind: &'static str,
        header: Vec<String>,
        before: Option<&Written>,
        cell: &Cell,
    ) -> Form {
        let mut form = Form {
            kind,
            row: Written::blank(header),
            laid_out: false,
            questions: Vec::new(),
            at: 0,
            done: 0,
            idle: Vec::new(),
        };
        let columns = readings::columns(kind, cell);
        let results = readings::results_of(kind);
        let of_use = |name: &str| match name {
            "u" | "use" | "step" | "note" => false,
            "track" | "approach_track" => cell.track.is_some(),
            "table" | "approach_table" => cell.turntable.is_some(),
            _ => true,
        };
        let mut list: Vec<_> = columns.list().iter().filter(|c| of_use(&c.name)).collect();
        list.sort_by_key(|c| !c.required);
        list.extend(columns.list().iter().filter(|c| c.name == "note"));
        for column in list {
            let usual = column.usual_name();
            if form.row.name(&column.name) == column.name && column.name != usual {
                form.row.set(&usual, "");
            } else {
                let text = form.row.text(&column.name).to_owned();
                form.row.set(&column.name, &text);
            }
            let mut question = form.question(&column.name, column.required);
            let axis = matches!(column.name.as_str(), "track" | "table") || is_joint(&column.name);
            if axis && !results.contains(&column.name.as_str()) {
                let text = before.map_or("", |row| row.text(&column.name));
                question.default = (!text.is_empty()).then(|| text.to_owned());
            }
            form.questions.push(question);
        }
        form
    }

    /// Columns of an unfinished row, answered before: the questions begin after them.
    pub fn resume(&mut self, answers: &[(String, String)]) {
        while let Some(question) = self.questions.get(self.at) {
            let Some((_, text)) = answers.iter().find(|(c, _)| *c == question.column) else {
                break;
            };
            self.row.set(&question.column, text);
            self.at += 1;
        }
        self.done = self.at;
    }

    fn question(&self, column: &str, needed: bool) -> Question {
        let asked = readings::asked_of(self.kind);
        let own = asked.iter().find(|(c, ..)| *c == column);
        let name = self.row.name(column).to_owned();
        let unit = match own.map(|(_, unit, _)| *unit) {
            Some(unit) if !unit.is_empty() => unit,
            None if matches!(column, "track" | "table") || is_joint(column) => "as shown",
            _ if name.ends_with("_in") => "inches",
            _ if name.ends_with("_mm") => "mm",
            _ if name.ends_with("_deg") => "degrees",
            _ => "",
        };
        let words = match own {
            Some((.., words)) => (*words).to_owned(),
            None => shared_words(self.kind, column),
        };
        Question {
            unit: unit.to_owned(),
            words,
            needed,
            default: None,
            column: name,
        }
    }

    /// The cell to ask for now; `None` when all were answered.
    pub fn current(&self) -> Option<&Question> {
        self.questions.get(self.at)
    }

    /// What was answered, in the order of the questions.
    pub fn answers(&self) -> Vec<(String, String)> {
        let done = self.questions.iter().take(self.done);
        done.map(|q| (q.column.clone(), self.row.text(&q.column).to_owned()))
            .collect()
    }

    /// What is given: columns and texts of the kind that are not asked for.
    pub fn given(&self) -> Vec<(&str, &str)> {
        let cells = self.row.header().iter().zip(self.row.cells());
        cells
            .filter(|(name, text)| {
                let kept = ["use", "note", "step", "u_mm", "u_in", "u_deg"];
                let asked = self.questions.iter().any(|q| q.column == **name);
                !text.is_empty() && !asked && !kept.contains(&name.as_str())
            })
            .map(|(name, text)| (name.as_str(), text.as_str()))
            .collect()
    }

    /// What was answered before: columns and texts of the questions whose cells are filled in.
    pub fn answered(&self) -> Vec<(&str, &str)> {
        let asked = self.questions.iter().map(|q| q.column.as_str());
        asked
            .map(|column| (column, self.row.text(column)))
            .filter(|(_, text)| !text.is_empty())
            .collect()
    }

    fn first_blank(&self) -> usize {
        let blank = |q: &Question| self.row.text(&q.column).is_empty();
        self.questions.iter().position(blank).unwrap_or(0)
    }

    /// Takes an answer (empty: an empty cell) and goes on, or says what is wrong with it.
    pub fn answer(&mut self, text: &str, setting: &Setting<'_>) -> Result<(), Box<Problem>> {
        let Some(question) = self.questions.get(self.at) else {
            return Ok(());
        };
        if text.is_empty() && question.needed {
            return Err(Box::new(empty(question)));
        }
        let mut row = self.row.clone();
        row.set(&question.column, text);
        let judged = judge(self.kind, &row, self.laid_out, setting);
        if let Some(problem) = judged.error_in(&question.column) {
            return Err(Box::new(problem.clone()));
        }
        self.row = row;
        self.at += 1;
        self.pass_idle(setting);
        self.done = self.done.max(self.at);
        Ok(())
    }

    /// Passes over joints whose readings do not matter for what was answered, as for the level of the plate.
    fn pass_idle(&mut self, setting: &Setting<'_>) {
        self.idle.retain(|k| *k < self.at);
        while let Some(question) = self.questions.get(self.at) {
            if self.laid_out || question.needed || !is_joint(&question.column) {
                return;
            }
            let mut row = self.row.clone();
            row.set(&question.column, "");
            let judged = judge(self.kind, &row, self.laid_out, setting);
            if judged.error_in(&question.column).is_some() {
                return;
            }
            self.row = row;
            self.idle.push(self.at);
            self.at += 1;
        }
    }

    /// Goes back to the question before; its answer stands in brackets. Says whether there was one.
    pub fn back(&mut self) -> bool {
        let asked = (0..self.at).rev().find(|k| !self.idle.contains(k));
        if let Some(at) = asked {
            self.at = at;
            self.recall(at);
        }
        asked.is_some()
    }

    /// Asks all over again, answers in brackets.
    pub fn again(&mut self) {
        self.at = 0;
        for k in 0..self.questions.len() {
            self.recall(k);
        }
    }

    /// Asks for one column again, or for one more; says whether the kind has it.
    pub fn ask(&mut self, column: &str, cell: &Cell) -> bool {
        if let Some(at) = self.questions.iter().position(|q| q.column == column) {
            self.at = at;
            for k in at..self.questions.len() {
                self.recall(k);
            }
            return true;
        }
        let columns = readings::columns(self.kind, cell);
        let bare = columns
            .list()
            .iter()
            .find(|c| self.row.name(&c.name) == column || c.usual_name() == column);
        let blank = self.row.text(column).is_empty();
        let Some(bare) = bare.filter(|_| blank) else {
            return false;
        };
        let question = Question {
            column: column.to_owned(),
            ..self.question(&bare.name, true)
        };
        self.at = self.questions.len();
        self.questions.push(question);
        true
    }

    fn recall(&mut self, at: usize) {
        let text = self.row.text(&self.questions[at].column);
        if !text.is_empty() {
            self.questions[at].default = Some(text.to_owned());
        }
    }

    /// Writes something else into cells, as a suggestion says.
    pub fn put(&mut self, edits: &[(String, String)]) {
        for (column, text) in edits {
            self.row.set(column, text);
        }
        self.at = self.questions.len();
    }
}

fn empty(question: &Question) -> Problem {
    let number = !question.unit.is_empty();
    Problem {
        severity: Severity::Error,
        file: String::new(),
        line: None,
        column: None,
        field: Some(question.column.clone()),
        found: "nothing".to_owned(),
        expected: match number {
            true => "what was measured (0 only if it was 0)".to_owned(),
            false => "an answer: this cell must not be empty".to_owned(),
        },
        advice: "? explains it; later leaves the row for now".to_owned(),
    }
}

fn is_joint(column: &str) -> bool {
    column
        .strip_prefix('j')
        .is_some_and(|n| !n.is_empty() && n.bytes().all(|b| b.is_ascii_digit()))
}

/// What columns are that several kinds have.
fn shared_words(kind: &str, column: &str) -> String {
    let turns = column == "approach_table"
        || (column == "approach" && readings::results_of(kind).contains(&"table"));
    match column {
        "track" => "reading of the track, as its display shows it".to_owned(),
        "table" => "reading of the turntable, as its display shows it".to_owned(),
        "note" => "for people; empty: none".to_owned(),
        _ if is_joint(column) => {
            format!("reading of joint {}, as the controller shows it", &column[1..])
        }
        _ if column.starts_with("approach") && turns => {
            "how the table came to rest: up (its reading rising) or down, or ccw or cw as it turned, \
             seen from above; empty: not noted"
                .to_owned()
        }
        _ if column.starts_with("approach") => {
            "how the track came to rest: up (its reading rising) or down (falling); empty: not noted"
                .to_owned()
        }
        _ => "see the tables of docs/files.md".to_owned(),
    }
}
