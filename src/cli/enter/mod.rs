//! `notchpin enter`.

mod sheets;
mod talk;

use crate::bench::Bench;
use crate::cli::Console;
use crate::cli::Done;
use crate::cli::Failure;
use crate::cli::Status;
use crate::cli::args;
use crate::cli::as_found::only_new;
use crate::cli::folder;
use crate::cli::folder::Folder;
use crate::cli::force;
use crate::cli::kept;
use crate::cli::kept::Kept;
use crate::cli::moved;
use crate::cli::papers;
use crate::cli::sets;
use crate::diagnose::Problem;
use crate::diagnose::Severity;
use crate::entry::Basis;
use crate::entry::Checked;
use crate::entry::Form;
use crate::entry::Ground;
use crate::entry::Said;
use crate::entry::judge;
use crate::entry::said;
use crate::moves::Tied;
use crate::parts::Part;
use crate::readings::FILES;
use crate::report::counted;
use crate::report::entry as words;
use sheets::Sheets;
use talk::Talk;

pub fn run(args: &args::Enter, console: &Console) -> Done {
    let root = folder::root_of(args.folder.cell.as_deref());
    let folder = folder::read(&root, folder::Need::Readings)?;
    console.warnings(&folder.problems);
    let kind = args.kind.as_deref();
    let kind = kind.and_then(|kind| {
        let mut files = FILES.iter().copied();
        files.find(|f| f.strip_suffix(".csv") == Some(kind))
    });
    let recheck = root.join(sets::RECHECK);
    let place = match (&args.readings, args.moved.is_empty()) {
        (None, false) => {
            // New rows after a move have a folder of their own.
            if kind.is_some() && !recheck.exists() {
                std::fs::create_dir(&recheck).map_err(|e| {
                    Failure::Message(format!("{} cannot be made: {e}", recheck.display()))
                })?;
            }
            Some(recheck.as_path())
        }
        (given, _) => given.as_deref(),
    };
    let sheets = sheets::open(&folder, place, kind)?;
    let since = match args.moved.is_empty() {
        true => None,
        false => Some(Since {
            force: kept::in_force(&folder, args.force.record.as_deref(), console)?,
            parts: moved::with_followed(&folder, &args.moved, args.only)?,
        }),
    };
    let (basis, source) = match &since {
        Some(since) => (
            since.basis(&since.since_then(sheets.new_bench(&folder), &folder)),
            Some(since.force.called()),
        ),
        None => basis(&args.force, &folder, &sheets, console)?,
    };
    let mut session = Session {
        talk: Talk::new(console),
        grows: since.is_some() || source.is_none() && !args.force.as_drawn,
        since,
        source,
        folder: &folder,
        sheets,
        basis,
        filled: 0,
        kept: 0,
    };
    match kind {
        None => session.laid_out(),
        Some(_) => session.fresh(),
    }
}

/// A move that readings are entered after.
struct Since {
    force: Kept,
    parts: Vec<Part>,
}

impl Since {
    /// The readings of a bench that no earlier record rests on.
    fn since_then(&self, mut bench: Bench, folder: &Folder) -> Bench {
        only_new(&mut bench, &folder.root, &folder.bench.cell, &self.force);
        bench
    }

    fn basis(&self, bench: &Bench) -> Basis {
        match Tied::parts(bench, &self.force.force, &self.parts) {
            Some(tied) => Basis::moved(&tied.bench, &tied.unknowns),
            None => Basis::drawing(bench, &self.force.force.unknowns),
        }
    }
}

/// What readings are held against, and the record's name where it is one.
fn basis(
    args: &args::Force,
    folder: &Folder,
    sheets: &Sheets,
    console: &Console,
) -> Result<(Basis, Option<String>), Failure> {
    let bench = &folder.bench;
    if args.as_drawn {
        return Ok((Basis::drawing(bench, &folder.unknowns), None));
    }
    // Where the records cannot be listed, looking for the newest says so.
    let none = papers::records_of(&folder.root).is_ok_and(|records| records.is_empty());
    if args.record.is_none() && none {
        let so_far = sheets.bench(folder);
        return Ok((Basis::so_far(&so_far, &folder.unknowns), None));
    }
    let force = force::find(args, folder, console)?;
    let basis = match (force.unknowns(), force.spread()) {
        (Some(unknowns), Some(spread)) => {
            Basis::of_record(bench, &force.geometry, unknowns, spread.covariance())
        }
        _ => Basis::drawing(bench, &folder.unknowns),
    };
    Ok((basis, Some(force.source)))
}

/// How the questions of a row ended.
enum Ended {
    /// All were answered, and the row can be written.
    Settled(Checked, bool),
    /// The row is left for now.
    Later,
    /// Nothing more is asked.
    Quit,
}

struct Session<'a> {
    talk: Talk<'a>,
    since: Option<Since>,
    /// Whether what is expected follows from the readings entered so far.
    grows: bool,
    source: Option<String>,
    folder: &'a Folder,
    sheets: Sheets,
    basis: Basis,
    filled: usize,
    kept: usize,
}

/// Where a row that is laid out stands.
struct Place {
    sheet: usize,
    line: usize,
    step: String,
}

impl Session<'_> {
    fn bench(&self) -> &Bench {
        &self.folder.bench
    }

    fn open(&self, what: &str) -> Result<(), Failure> {
        let name = &self.folder.bench.cell.name;
        self.talk.say(&words::opening(
            name,
            what,
            self.basis.ground,
            self.source.as_deref(),
        ))
    }

    /// Asks for the rows that are laid out and not filled in.
    fn laid_out(&mut self) -> Done {
        let places = self.places();
        let begun: Vec<String> = self
            .sheets
            .list
            .iter()
            .filter_map(|sheet| {
                let (line, _) = sheet.begun()?;
                let kind = sheet.kind.trim_end_matches(".csv");
                Some(format!(
                    "{} line {line} has a new row that is not finished: `notchpin enter --kind {kind}` \
                     goes on with it.",
                    sheet.name
                ))
            })
            .collect();
        for line in &begun {
            self.talk.say(&crate::report::wrap("", 2, line))?;
        }
        if places.is_empty() {
            self.talk.say(&crate::report::wrap(
                "",
                2,
                "Nothing to ask for: no row is laid out and not filled in. Lay rows out with \
                 `notchpin plan --write`, after a move with `notchpin sheet --moved PART --write`, or enter new ones with \
                 --kind.",
            ))?;
            return Ok(match begun.is_empty() {
                true => Status::Good,
                false => Status::Look,
            });
        }
        let rows = counted(places.len(), "row");
        self.open(&format!("{rows} to fill in, in the order of their steps."))?;
        for (k, place) in places.iter().enumerate() {
            let title = format!("Row {} of {}", k + 1, places.len());
            match self.row(place, &title)? {
                Ended::Quit => break,
                Ended::Settled(..) | Ended::Later => {}
            }
        }
        let left = places.len() - self.filled;
        self.close(left, begun.len())
    }

    fn close(&self, left: usize, begun: usize) -> Done {
        self.talk
            .say(&words::closing(self.filled, left, self.kept))?;
        Ok(match left + begun + self.kept {
            0 => Status::Good,
            _ => Status::Look,
        })
    }

    /// Steps in their order, then what has no step, file by file.
    fn places(&self) -> Vec<Place> {
        let mut places = Vec::new();
        for (index, sheet) in self.sheets.list.iter().enumerate() {
            for row in sheet.rows(self.bench()).unfinished {
                let written = sheet.written(row.line, self.bench());
                places.push(Place {
                    sheet: index,
                    line: row.line,
                    step: written.map_or_else(String::new, |w| w.text("step").to_owned()),
                });
            }
        }
        let step = |p: &Place| p.step.parse().unwrap_or(f64::INFINITY);
        places.sort_by(|a, b| step(a).total_cmp(&step(b)));
        places
    }

    /// One row that is laid out.
    fn row(&mut self, place: &Place, title: &str) -> Result<Ended, Failure> {
        let sheet = &self.sheets.list[place.sheet];
        let Some(written) = sheet.written(place.line, self.bench()) else {
            return Ok(Ended::Later);
        };
        let setting = self.folder.bench.setting();
        let planned = sheet.is_planned();
        let mut form = Form::laid_out(sheet.kind, written.clone(), planned, &setting);
        self.talk.say(&words::heading(
            title,
            &place.step,
            &sheet.name,
            place.line,
            &form,
        ))?;
        let ended = self.fill(&mut form, |sheets, form, column| {
            sheets.list[place.sheet].set(place.line, &[(column, form.row.text(column))])
        })?;
        if let Ended::Settled(checked, kept) = &ended {
            if let Some(note) = words::kept(checked, form.row.text("note")) {
                form.row.set("note", &note);
            }
            form.row.set("use", "yes");
            let changed = form.row.header().iter().zip(form.row.cells());
            let changed: Vec<(&str, &str)> = changed
                .filter(|(name, text)| written.text(name) != text.as_str())
                .map(|(name, text)| (name.as_str(), text.as_str()))
                .collect();
            self.sheets.list[place.sheet].set(place.line, &changed)?;
            self.accepted(checked, *kept)?;
        }
        Ok(ended)
    }

    /// Asks for new rows of one kind until nothing more comes.
    fn fresh(&mut self) -> Done {
        let sheet = &self.sheets.list[0];
        let what = format!(
            "New rows of {}, one after another; q ends. In brackets: what Enter alone stands for.",
            sheet.name
        );
        self.open(&what)?;
        loop {
            let sheet = &self.sheets.list[0];
            let begun = sheet.begun();
            let rows = sheet.rows(self.bench());
            let taken = rows.taken.iter().map(|t| t.line);
            let last = taken.chain(rows.unfinished.iter().map(|u| u.line)).max();
            let before = last.and_then(|line| sheet.written(line, self.bench()));
            let (kind, header) = (sheet.kind, sheet.header());
            let cell = &self.folder.bench.cell;
            let mut form = Form::fresh(kind, header, before.as_ref(), cell);
            let title = match &begun {
                None => format!("\nNew row {} of {}\n", self.filled + 1, sheet.name),
                Some((line, answers)) => {
                    form.resume(answers);
                    let answers: Vec<String> =
                        answers.iter().map(|(c, t)| format!("{c} {t}")).collect();
                    let head = format!("\nThe row of {} line {line} goes on: ", sheet.name);
                    crate::report::wrap(&head, 2, &answers.join(", "))
                }
            };
            self.talk.say(&title)?;
            let mut line = begun.as_ref().map(|(line, _)| *line);
            let ended = self.fill(&mut form, |sheets, form, _| {
                let sheet = &mut sheets.list[0];
                sheet.begin(line, &form.row, &form.answers())?;
                line = sheet.begun().map(|(line, _)| line);
                Ok(())
            })?;
            let Ended::Settled(checked, kept) = &ended else {
                let begun = usize::from(self.sheets.list[0].begun().is_some());
                return self.close(begun, 0);
            };
            if let Some(note) = words::kept(checked, form.row.text("note")) {
                form.row.set("note", &note);
            }
            self.sheets.list[0].add(line, &form.row)?;
            self.accepted(checked, *kept)?;
        }
    }

    /// After a row was written.
    fn accepted(&mut self, checked: &Checked, kept: bool) -> Result<(), Failure> {
        self.filled += 1;
        self.kept += usize::from(kept);
        self.talk.say(&words::saved(checked))?;
        if self.grows {
            let before = self.basis.ground;
            self.basis = match &self.since {
                Some(since) => {
                    since.basis(&since.since_then(self.sheets.new_bench(self.folder), self.folder))
                }
                None => Basis::so_far(&self.sheets.bench(self.folder), &self.folder.unknowns),
            };
            let now = self.basis.ground;
            if (before == Ground::Drawing) != (now == Ground::Drawing) {
                let told = format!("From now on: {}", words::basis(now, None));
                self.talk.say(&crate::report::wrap("  ", 4, &told))?;
            }
        }
        Ok(())
    }

    /// Asks for all cells of a row. `save` keeps an answer that is not the last one: the last one is
    /// written with the row, when it is settled, so that a row that is not settled is never taken for
    /// a finished one.
    fn fill(
        &mut self,
        form: &mut Form,
        mut save: impl FnMut(&mut Sheets, &Form, &str) -> Result<(), Failure>,
    ) -> Result<Ended, Failure> {
        let setting = self.folder.bench.setting();
        loop {
            while let Some(question) = form.current().cloned() {
                let Some(line) = self.talk.ask(&words::question(&question))? else {
                    return Ok(Ended::Quit);
                };
                let text = match said(&line) {
                    Said::Help => {
                        self.talk.say(&words::explained(&question))?;
                        continue;
                    }
                    Said::Back => {
                        if !form.back() {
                            self.talk
                                .say("    This is the first question of the row.\n")?;
                        }
                        continue;
                    }
                    Said::Later => return Ok(Ended::Later),
                    Said::Quit => return Ok(Ended::Quit),
                    Said::Garbled => {
                        self.talk.say(
                            "    The answer holds marks that no text has, as an arrow key leaves them: \
                             type it again.\n",
                        )?;
                        continue;
                    }
                    Said::Nothing => question.default.clone().unwrap_or_default(),
                    Said::Empty => String::new(),
                    Said::Text(text) => text.to_owned(),
                };
                match form.answer(&text, &setting) {
                    Err(problem) => self.talk.say(&words::refused(&problem))?,
                    Ok(()) if form.current().is_some() => {
                        save(&mut self.sheets, form, &question.column)?;
                    }
                    Ok(()) => {}
                }
            }
            let judged = judge(form.kind, &form.row, form.laid_out, &setting);
            if let Some(problem) = judged.errors().next() {
                self.talk.say(&words::refused(problem))?;
                let column = problem.field.as_deref().unwrap_or_default();
                if form.ask(column, setting.cell) {
                    continue;
                }
                self.talk.say(
                    "    That stands in the file and is not asked for: correct it there. The row is \
                     left.\n",
                )?;
                return Ok(Ended::Later);
            }
            let warnings = judged.problems.iter();
            let warnings: Vec<&Problem> = warnings
                .filter(|p| p.severity == Severity::Warning)
                .collect();
            let checked = self.basis.check(form.kind, &form.row);
            let off = matches!(checked, Checked::Off { .. });
            if !off && warnings.is_empty() {
                return Ok(Ended::Settled(checked, false));
            }
            self.talk.say(&words::doubt(&warnings, &checked))?;
            if let Some(ended) = self.decide(form, checked)? {
                return Ok(ended);
            }
        }
    }

    /// What to do about a row in doubt; `None`: ask again, or look again at what was changed.
    fn decide(&mut self, form: &mut Form, checked: Checked) -> Result<Option<Ended>, Failure> {
        loop {
            let Some(line) = self.talk.ask(&words::choices(&checked))? else {
                return Ok(Some(Ended::Quit));
            };
            let line = line.trim();
            let suggested = words::suggested(&checked);
            if let Some((_, suggestion)) = suggested.iter().find(|(key, _)| key == line) {
                let edits = suggestion.edits.iter();
                let edits: Vec<(String, String)> = edits
                    .map(|(c, _, fits)| (c.clone(), fits.clone()))
                    .collect();
                form.put(&edits);
                return Ok(None);
            }
            match line {
                "k" | "keep" => return Ok(Some(Ended::Settled(checked, true))),
                "c" | "correct" | "back" => {
                    form.again();
                    return Ok(None);
                }
                "l" | "later" => return Ok(Some(Ended::Later)),
                "q" | "quit" => return Ok(Some(Ended::Quit)),
                _ => self.talk.say(
                    "    k keeps it as written, c asks again, l leaves the row for later, q stops.\n",
                )?,
            }
        }
    }
}
