//! From where to start again if something moves.

use crate::cell::Cell;
use crate::parts::Part;
use crate::parts::before;
use crate::parts::setting_order;
use crate::parts::then_again;
use crate::sheet::Rule;
use crate::sheet::Sheet;
use crate::sheet::Step;

/// Works out the rules of a sheet whose steps are numbered, and gives each group its own.
pub(super) fn set(cell: &Cell, sheet: &mut Sheet) {
    let all: Vec<&Step> = sheet.steps().collect();
    let mut rules = Vec::new();
    let mut add =
        |about: Option<Part>, condition: String, then: String, spoils: &dyn Fn(&Step) -> bool| {
            let spoilt = all.iter().filter(|s| spoils(s)).map(|s| s.number);
            let steps: Vec<usize> = spoilt.collect();
            if let Some(from) = steps.first().copied() {
                rules.push(Rule {
                    about: about.map_or("plate".to_owned(), Part::name),
                    joint: about.and_then(|part| match part {
                        Part::Joint(j) => Some(j),
                        _ => None,
                    }),
                    condition,
                    then,
                    from,
                    steps,
                });
            }
        };
    let loosened = |what: &str| format!("{what} is moved or its screws are loosened");
    add(
        None,
        "the plate is moved or its feet are turned".to_owned(),
        "nothing stands any more".to_owned(),
        &|_| true,
    );
    let on = |part: Part| move |step: &Step| step.parts.contains(&part);
    add(
        Some(Part::Track),
        loosened("the track"),
        String::new(),
        &on(Part::Track),
    );
    // The switch stands beside the platter: whoever moves the table moves or touches it.
    let round = [Part::Turntable, Part::Index, Part::Switch];
    add(
        Some(Part::Turntable),
        format!(
            "{}, its controller loses its zero, or its switch is touched",
            loosened("the turntable")
        ),
        String::new(),
        &|step| step.parts.iter().any(|p| round.contains(p)),
    );
    let foot = match cell.track {
        Some(_) => "the arm's foot on the carriage",
        None => "the arm's foot",
    };
    add(
        Some(Part::Mount),
        loosened(foot),
        String::new(),
        &on(Part::Mount),
    );
    for joint in setting_order(cell) {
        let stand = before(cell, joint);
        // What rests on no joint set after it, nor on itself, still stands.
        let spoils = |step: &Step| {
            let joints = step.parts.iter().filter_map(|p| match p {
                Part::Joint(j) => Some(*j),
                _ => None,
            });
            joints.into_iter().any(|j| !stand.contains(&j))
        };
        let later: Vec<String> = then_again(cell, joint)
            .iter()
            .map(|j| named(cell, *j))
            .collect();
        let then = match later.is_empty() {
            true => "its zero no longer stands".to_owned(),
            false => format!(
                "its zero and what was set after it ({}) no longer stand",
                later.join(", ")
            ),
        };
        add(
            Some(Part::Joint(joint)),
            format!("{} is disturbed", joint_words(cell, joint)),
            then,
            &spoils,
        );
    }
    add(
        Some(Part::Tool),
        "the tool is bumped, bent, taken off or changed".to_owned(),
        String::new(),
        &on(Part::Tool),
    );
    for group in &mut sheet.groups {
        let has = |number: &usize| group.steps.iter().any(|s| s.number == *number);
        let rules = rules.iter().enumerate();
        let of = |first: bool| {
            let own = rules.clone().filter(move |(_, r): &(usize, &Rule)| {
                r.steps.iter().any(has) && has(&r.from) == first
            });
            own.map(|(k, _)| k).collect::<Vec<usize>>()
        };
        (group.rules, group.also) = (of(true), of(false));
    }
    sheet.rules = rules;
}

fn named(cell: &Cell, joint: usize) -> String {
    let name = cell.joints.get(joint).map_or("", |j| j.name.as_str());
    let plain = Part::Joint(joint).name();
    match name.is_empty() || name == plain {
        true => plain,
        false => name.to_owned(),
    }
}

/// "joint 2 (shoulder)".
pub(super) fn joint_words(cell: &Cell, joint: usize) -> String {
    let plain = Part::Joint(joint).name();
    match named(cell, joint) {
        name if name == plain => format!("joint {}", joint + 1),
        name => format!("joint {} ({name})", joint + 1),
    }
}
