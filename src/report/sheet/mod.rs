//! The working sheet, as HTML, as Markdown and as JSON.

mod html;
mod markdown;

use std::collections::BTreeMap;

use serde::Serialize;

use crate::plan::Plan;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;
use crate::sheet::Given;
use crate::sheet::Group;
use crate::sheet::Rule;
use crate::sheet::Sheet;
use crate::sheet::Step;

pub use html::html;
pub use html::html_with;
pub use markdown::markdown;

/// What the readings are good for, and for how long.
const STATE: &str = "The readings are valid for this state of the bench only. If something is bumped, moved, \
    loosened or exchanged, note it and stop; then see \"If something moves\".";

/// The boxes at the head.
const HEAD: [&str; 5] = [
    "Date",
    "By whom",
    "Tool fitted",
    "Temperature",
    "Controller and program checked",
];

/// The boxes at the end.
const SIGNED: [&str; 4] = [
    "Taken by (signature)",
    "Date, time",
    "Looked through by (signature)",
    "Date, time",
];

/// `sheet --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetDocument {
    /// Name of the cell.
    pub cell: String,
    /// What is being done.
    pub title: String,
    /// What it is for and what it rests on.
    pub introduction: Vec<String>,
    /// What holds at every step.
    pub cautions: Vec<String>,
    /// Whether every point would be as sure as asked for.
    pub reached: bool,
    /// Why the plan ends where it does.
    pub stopped: String,
    /// The groups, in order.
    pub groups: Vec<GroupDocument>,
    /// From where to start again if something moves.
    pub rules: Vec<RuleDocument>,
    /// The file of the sheet, where one was written.
    pub sheet: Option<String>,
    /// The files that were laid out.
    pub written: Vec<String>,
}

/// Steps that are taken together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupDocument {
    /// What they are about.
    pub heading: String,
    /// What they are for.
    pub purpose: String,
    /// What is needed.
    pub means: String,
    /// How they are done.
    pub how: Vec<String>,
    /// The caution that belongs there.
    pub caution: String,
    /// Rules (`about`) of which it has the first step.
    pub rules: Vec<String>,
    /// The steps.
    pub steps: Vec<SheetStepDocument>,
}

/// One step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetStepDocument {
    /// Its number, from 1: the column `step` of its row.
    pub step: usize,
    /// The file of its row.
    pub file: String,
    /// What such a reading is called.
    pub reading: String,
    /// What to do.
    pub words: String,
    /// Cells that are given.
    pub given: BTreeMap<String, String>,
    /// Axis readings to drive to, and from which side.
    pub drive: BTreeMap<String, String>,
    /// What to write down.
    pub fill: Vec<FillDocument>,
    /// `sure`, `settle` or `check`, as in a plan.
    pub purpose: String,
    /// Parts that make it another reading if they move.
    pub rests_on: Vec<String>,
}

/// What to write down.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FillDocument {
    /// The column.
    pub column: String,
    /// Its unit.
    pub unit: String,
    /// What it is, and its sign.
    pub meaning: String,
}

/// From where to start again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RuleDocument {
    /// `plate`, or the name of a part.
    pub about: String,
    /// In words.
    pub sentence: String,
    /// The step to start again from.
    pub from_step: usize,
    /// The steps that no longer stand.
    pub steps: Vec<usize>,
}

/// Gathers the document; `file` is the sheet's, `written` are those that were laid out.
pub fn document(
    sheet: &Sheet,
    plan: &Plan,
    file: Option<&str>,
    written: &[String],
) -> SheetDocument {
    let cells = |list: &[Given]| {
        let pairs = list.iter().map(|g| (g.column.clone(), g.text.clone()));
        pairs.collect::<BTreeMap<String, String>>()
    };
    let groups = sheet.groups.iter().map(|g| GroupDocument {
        heading: g.heading.clone(),
        purpose: g.purpose.clone(),
        means: g.means.clone(),
        how: g.how.clone(),
        caution: g.caution.clone(),
        rules: g
            .rules
            .iter()
            .map(|k| sheet.rules[*k].about.clone())
            .collect(),
        steps: g
            .steps
            .iter()
            .map(|s| SheetStepDocument {
                step: s.number,
                file: s.file.clone(),
                reading: s.name.to_owned(),
                words: s.words.clone(),
                given: cells(&s.given),
                drive: cells(&s.drive),
                fill: s
                    .fill
                    .iter()
                    .map(|f| FillDocument {
                        column: f.column.clone(),
                        unit: f.unit.to_owned(),
                        meaning: f.meaning.to_owned(),
                    })
                    .collect(),
                purpose: s.purpose.as_str().to_owned(),
                rests_on: s.parts.iter().map(|p| p.name()).collect(),
            })
            .collect(),
    });
    let rules = sheet.rules.iter().map(|r| RuleDocument {
        about: r.about.clone(),
        sentence: sentence(r),
        from_step: r.from,
        steps: r.steps.clone(),
    });
    SheetDocument {
        cell: sheet.cell.clone(),
        title: sheet.title.clone(),
        introduction: sheet.introduction.clone(),
        cautions: cautions(),
        reached: plan.reached(),
        stopped: plan.ended.as_str().to_owned(),
        groups: groups.collect(),
        rules: rules.collect(),
        sheet: file.map(str::to_owned),
        written: written.to_vec(),
    }
}

/// What is said where the sheet went into a file.
pub fn told(sheet: &Sheet, file: &str, written: &[String]) -> String {
    let first = format!(
        "SHEET WRITTEN: {file}, {} in {}",
        counted(sheet.steps().count(), "step"),
        counted(sheet.groups.len(), "group")
    );
    let mut out = wrap("", 2, &first);
    for sentence in &sheet.introduction {
        out.push_str(&wrap("  ", 2, sentence));
    }
    out.push_str("\nNext\n");
    let next = match written.is_empty() {
        true => "Print it, or open it on a tablet; take the steps in their order. --write lays out files of \
                 readings with the numbers of the steps."
            .to_owned(),
        false => format!(
            "Print it, or open it on a tablet; take the steps in their order. Their rows are laid out in \
             {}: fill them in, and write yes under use.",
            written.join(", ")
        ),
    };
    out.push_str(&wrap("  ", 2, &next));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

/// What is said where there is nothing to measure.
pub fn nothing(sheet: &Sheet, plan: &Plan) -> String {
    let first = match plan.reached() {
        true => format!("NOTHING IS MISSING: {}", sheet.cell),
        false => format!("NO READING COULD BE PROPOSED: {}", sheet.cell),
    };
    let mut out = wrap("", 2, &first);
    for sentence in &sheet.introduction {
        out.push_str(&wrap("  ", 2, sentence));
    }
    out.push_str(&wrap(
        "  ",
        2,
        "There is no step to take, so no sheet was made and nothing written. notchpin plan says more.",
    ));
    out
}

/// The cautions in full, a sentence each.
fn cautions() -> Vec<String> {
    let flat = CAUTION.split_whitespace().collect::<Vec<_>>().join(" ");
    vec![
        flat,
        "A stopped arm is not a safe arm. Drive with a finger on the stop and with nobody in reach of arm, \
         carriage or platter."
            .to_owned(),
        "The home position of a device is not a position of this sheet. Stop where anything looks other than \
         the step says, and note it."
            .to_owned(),
    ]
}

/// How the readings come into the program.
fn entering(sheet: &Sheet) -> Vec<String> {
    let moved = match sheet.moved.is_empty() {
        true => String::new(),
        false => format!(" --moved {}", sheet.moved.join(",")),
    };
    let mut list = vec![format!(
        "Enter them with notchpin enter CELL{moved} (CELL: the cell's folder), or type them into the files: one \
         row for each step, its number in the column step."
    )];
    let mut files: Vec<&str> = sheet.steps().map(|s| s.file.as_str()).collect();
    files.sort_unstable();
    files.dedup();
    list.push(match files.iter().any(|f| f.contains("-plan-")) {
        true => format!(
            "The rows are laid out in {}: fill in the empty cells, and write yes under use.",
            files.join(", ")
        ),
        false => format!("The rows belong in {}.", files.join(", ")),
    });
    list.push(format!(
        "Leave out what was not taken. Where a step was not taken as described, write down how it was: \
         correct the row's axis readings to those at which the machine stood. Then notchpin register CELL{moved}."
    ));
    list
}

/// "If the track is moved or its screws are loosened now, start again from step 5."
fn sentence(rule: &Rule) -> String {
    let then = match rule.then.is_empty() {
        true => String::new(),
        false => format!(" {}:", rule.then),
    };
    format!(
        "If {} now,{then} start again from step {}.",
        rule.condition, rule.from
    )
}

/// The rules that stand over a group: several joints with the same step are told in one.
fn over(sheet: &Sheet, group: &Group) -> Vec<String> {
    let mut told = Vec::new();
    let own: Vec<&Rule> = group.rules.iter().map(|k| &sheet.rules[*k]).collect();
    let joint = |rule: &&&Rule| rule.joint.is_some();
    let joints: Vec<&&Rule> = own.iter().filter(joint).collect();
    let one_step = joints.iter().all(|r| r.from == joints[0].from);
    for rule in &own {
        if rule.joint.is_none() || joints.len() == 1 || !one_step {
            told.push(sentence(rule));
        } else if rule.about == joints[0].about {
            let mut numbers = joints.iter().filter_map(|r| r.joint);
            let last = numbers.next_back().map_or(0, |j| j + 1);
            let others: Vec<String> = numbers.map(|j| (j + 1).to_string()).collect();
            told.push(format!(
                "If joint {} or {last} is disturbed now, its zero and what was set after it no longer stand: \
                 start again from step {}.",
                others.join(", "),
                rule.from
            ));
        }
    }
    if !group.also.is_empty() {
        told.push(format!(
            "If one of these moves now, start again from the step behind it: {}.",
            shortly(sheet, &group.also)
        ));
    }
    told
}

/// What stands before the axis readings of a step; a notch has only the side to come from.
fn driven(step: &Step) -> &'static str {
    match step.drive.iter().all(|g| g.column.starts_with("approach")) {
        true => "Come to it with",
        false => "Drive to",
    }
}

/// The words of a step as a sentence.
fn full(words: &str) -> String {
    let mut text = format!("{words}.");
    if let Some(first) = text.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    text
}

/// "track: step 5; j1: step 14".
fn shortly(sheet: &Sheet, rules: &[usize]) -> String {
    let each = rules.iter().map(|k| {
        let rule = &sheet.rules[*k];
        format!("{}: step {}", rule.about, rule.from)
    });
    each.collect::<Vec<_>>().join("; ")
}

/// "5 to 12, 21, 23 to 40".
fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == *n => *last = *n,
            _ => runs.push((*n, *n)),
        }
    }
    let each = runs.iter().map(|(first, last)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    });
    each.collect::<Vec<_>>().join(", ")
}

/// A, B, … Z, then AA.
fn letter(group: usize) -> String {
    let last = char::from(b'A' + (group % 26) as u8).to_string();
    match group / 26 {
        0 => last,
        more => letter(more - 1) + &last,
    }
}

#[cfg(test)]
mod tests {
    use super::letter;
    use super::ranges;

    #[test]
    fn numbers_are_drawn_together() {
        assert_eq!(ranges(&[1, 2, 3, 5, 6, 8]), "1 to 3, 5, 6, 8");
        assert_eq!(ranges(&[]), "");
    }

    #[test]
    fn letters_go_on_after_z() {
        assert_eq!([letter(0), letter(25), letter(26)], ["A", "Z", "AA"]);
    }
}
