//! The working sheet for the bench: the readings of a plan in the order in which they rest on each
//! other, with what a person has to know at each, and from where to start again if something moves.
//! What is expected to be read never stands on it: people read what they expect.

mod depends;
mod job;
mod order;
mod rules;
mod words;

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::parts::Part;
use crate::plan::Plan;
use crate::plan::Purpose;
use crate::proposals::Proposal;
use crate::sheet::depends::depends;
use crate::sheet::order::Place;
use crate::sheet::order::arranged;

pub use job::Job;

/// A working sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Name of the cell.
    pub cell: String,
    /// What is being done.
    pub title: String,
    /// What it is for and what it rests on, a sentence or a few each.
    pub introduction: Vec<String>,
    /// The parts that moved, as `register --moved` calls them; empty for a first registration.
    pub moved: Vec<String>,
    /// The steps, grouped; numbered through from 1.
    pub groups: Vec<Group>,
    /// From where to start again, for everything that can move; plate first, then along the chain.
    pub rules: Vec<Rule>,
}

/// Steps that are taken together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// What they are about.
    pub heading: String,
    /// What they are for.
    pub purpose: String,
    /// What is needed for them.
    pub means: String,
    /// How they are done at the bench, a sentence each.
    pub how: Vec<String>,
    /// The caution that belongs there.
    pub caution: String,
    /// Rules, by their place in `Sheet::rules`, of which this group has the first step.
    pub rules: Vec<usize>,
    /// Rules of which an earlier group has the first step, and that spoil steps of this one too.
    pub also: Vec<usize>,
    /// The steps.
    pub steps: Vec<Step>,
}

/// One reading to take.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Its number on the sheet, from 1.
    pub number: usize,
    /// Its place in the plan.
    pub planned: usize,
    /// The file of its kind: `touch.csv`.
    pub kind: &'static str,
    /// What such a reading is called.
    pub name: &'static str,
    /// The file where its row stands or belongs: `readings/touch.csv`, or the one that was laid out.
    pub file: String,
    /// What to do, in words.
    pub words: String,
    /// What is given: body, target, feature …
    pub given: Vec<Given>,
    /// Axis readings to drive to, and from which side.
    pub drive: Vec<Given>,
    /// What to write down.
    pub fill: Vec<Fill>,
    /// What it is for.
    pub purpose: Purpose,
    /// The parts that make it another reading if they move.
    pub parts: Vec<Part>,
}

/// A cell of its row that is given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Given {
    /// The column.
    pub column: String,
    /// What it is called on the sheet.
    pub label: String,
    /// What stands there.
    pub text: String,
}

/// A cell of its row to fill in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fill {
    /// The column, with its unit: `gap_mm`.
    pub column: String,
    /// What it is, and its sign.
    pub meaning: &'static str,
    /// The unit in which it is written down.
    pub unit: &'static str,
}

/// From where to start again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    /// What moved: `plate`, or the name of a part.
    pub about: String,
    /// Which joint that is, from 0, if it is one.
    pub joint: Option<usize>,
    /// What happened: "the track is moved or its screws are loosened".
    pub condition: String,
    /// What no longer stands then; empty where that needs no words.
    pub then: String,
    /// The step to start again from.
    pub from: usize,
    /// The steps that no longer stand, ascending.
    pub steps: Vec<usize>,
}

impl Sheet {
    /// All steps, in order.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        self.groups.iter().flat_map(|g| &g.steps)
    }

    /// The plan with its readings in the order of the sheet, and the number of each: what is laid out
    /// from it stands in that order.
    pub fn arranged(&self, plan: &Plan) -> (Plan, Vec<usize>) {
        let mut plan = plan.clone();
        let order = self.steps().map(|s| (s.number, s.planned));
        let (numbers, steps) = order
            .filter_map(|(number, k)| Some((number, plan.steps.get(k)?.clone())))
            .unzip();
        plan.steps = steps;
        (plan, numbers)
    }

    /// Says in which of these files the rows of each kind were laid out.
    pub fn laid_out(&mut self, files: &[String]) {
        for step in self.groups.iter_mut().flat_map(|g| &mut g.steps) {
            let start = format!("{}-plan-", step.kind.trim_end_matches(".csv"));
            let own = |name: &&String| {
                let last = name.rsplit('/').next().unwrap_or(name);
                last.starts_with(&start)
            };
            if let Some(name) = files.iter().find(own) {
                step.file.clone_from(name);
            }
        }
    }
}

/// The sheet for a plan that was made at a geometry.
pub fn sheet(bench: &Bench, geometry: &Geometry, plan: &Plan, job: &Job) -> Sheet {
    let cell = &bench.cell;
    let needed: Vec<Vec<Part>> = plan
        .steps
        .iter()
        .map(|s| depends(cell, geometry, &s.proposal.taken))
        .collect();
    let mut groups: Vec<(Place, bool, Group)> = Vec::new();
    for (k, arranged) in arranged(cell, geometry, plan, &needed).iter().enumerate() {
        let (place, check) = (arranged.place, arranged.check);
        if groups.last().is_none_or(|g| (g.0, g.1) != (place, check)) {
            groups.push((place, check, words::empty_group()));
        }
        let planned = &plan.steps[arranged.planned];
        let step = Step {
            number: k + 1,
            planned: arranged.planned,
            parts: needed[arranged.planned].clone(),
            purpose: planned.purpose,
            ..step(bench, &planned.proposal, &job.folder)
        };
        if let Some((_, _, group)) = groups.last_mut() {
            group.steps.push(step);
        }
    }
    for (place, check, group) in &mut groups {
        words::describe(cell, *place, *check, group);
    }
    let groups: Vec<Group> = groups.into_iter().map(|(_, _, group)| group).collect();
    let mut sheet = Sheet {
        cell: cell.name.clone(),
        moved: job.moved.iter().map(|p| p.name()).collect(),
        title: job.title.clone(),
        introduction: job.introduction_of(cell),
        groups,
        rules: Vec::new(),
    };
    rules::set(cell, &mut sheet);
    sheet
}

/// A step as its reading says it; where it stands on the sheet is not known here.
fn step(bench: &Bench, proposal: &Proposal, folder: &str) -> Step {
    let draft = &proposal.draft;
    let row = proposal.row(bench, false);
    let mut given = Vec::new();
    let mut drive = Vec::new();
    for (column, text) in &draft.given {
        let cell = Given {
            column: column.clone(),
            label: label(&bench.cell, column),
            text: text.clone(),
        };
        match words::drives(column) {
            true => drive.push(cell),
            false => given.push(cell),
        }
    }
    let kind = draft.given.iter().find(|(column, _)| column == "kind");
    let kind = kind.map_or("", |(_, text)| text.as_str());
    let fill = draft.expected.iter().map(|(column, _)| {
        let column = row.name(column).to_owned();
        Fill {
            meaning: words::meaning(kind, &column),
            unit: words::unit(&column),
            column,
        }
    });
    Step {
        number: 0,
        planned: 0,
        kind: proposal.kind,
        name: proposal.taken.reading.words(),
        file: format!("{folder}/{}", proposal.kind),
        words: draft.words.clone(),
        given,
        drive,
        fill: fill.collect(),
        purpose: Purpose::Sure,
        parts: Vec::new(),
    }
}

/// `j2` is "j2 (shoulder)" on the sheet.
fn label(cell: &Cell, column: &str) -> String {
    let joint = column
        .strip_prefix('j')
        .and_then(|n| n.parse::<usize>().ok())
        .and_then(|n| cell.joints.get(n.checked_sub(1)?));
    match joint {
        Some(joint) if joint.name != column => format!("{column} ({})", joint.name),
        _ => column.to_owned(),
    }
}
