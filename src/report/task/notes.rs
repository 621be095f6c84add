//! What is said of a task under its table: margins, looks, what was proved and what was not.

use std::fmt::Write;

use crate::report::margins::MarginsDocument;
use crate::report::margins::chance;
use crate::report::margins::edge;
use crate::report::number::fixed;
use crate::report::task::StepDocument;
use crate::report::task::TaskDocument;
use crate::report::words::counted;
use crate::report::words::wrap;

/// Joints that turn more on one way are told, degrees.
const FAR_TURN_DEG: f64 = 120.0;

/// What the arm comes nearest to in the whole task.
fn nearest(out: &mut String, document: &TaskDocument) {
    let steps = document.steps.iter().filter_map(|s| {
        let place = format!("step {}", s.step);
        Some((
            s.smallest_clearance_mm?,
            place,
            s.smallest_clearance_to.clone()?,
        ))
    });
    let ways = document.ways.iter().filter_map(|w| {
        let place = format!("on the way from step {} to step {}", w.from_step, w.to_step);
        Some((w.clearance_mm?, place, w.near.clone()?))
    });
    if let Some((_, place, near)) = steps.chain(ways).min_by(|a, b| a.0.total_cmp(&b.0)) {
        out.push_str(&wrap(
            "Smallest clearance: ",
            4,
            &format!("{place}, {near}."),
        ));
    }
}

/// How the arm holds itself, by steps.
fn postures(out: &mut String, done: &[&StepDocument]) {
    let mut groups: Vec<(&str, Vec<usize>)> = Vec::new();
    for step in done {
        let posture = step.posture.as_deref().unwrap_or("");
        match groups.iter_mut().find(|(p, _)| *p == posture) {
            Some((_, steps)) => steps.push(step.step),
            None => groups.push((posture, vec![step.step])),
        }
    }
    let text: Vec<String> = match groups.as_slice() {
        [(only, _)] if done.len() > 1 => vec![format!("{only} at every step")],
        _ => groups
            .iter()
            .filter(|(p, _)| !p.is_empty())
            .map(|(p, steps)| format!("{p} ({})", numbers(steps)))
            .collect(),
    };
    if !text.is_empty() {
        out.push_str(&wrap("Posture: ", 4, &format!("{}.", text.join("; "))));
    }
}

/// Step numbers: `3, 5, 9`, a few of many.
fn numbers(steps: &[usize]) -> String {
    let shown: Vec<String> = steps.iter().take(12).map(usize::to_string).collect();
    let more = match steps.len() > 12 {
        true => format!(" and {} more", steps.len() - 12),
        false => String::new(),
    };
    let word = if steps.len() == 1 { "step" } else { "steps" };
    format!("{word} {}{more}", shown.join(", "))
}

/// Everything that stands under the table.
pub(super) fn notes(out: &mut String, document: &TaskDocument, drawn: bool) {
    let done: Vec<&StepDocument> = document.steps.iter().filter(|s| s.possible).collect();
    let margins = || {
        done.iter()
            .filter_map(|s| Some((s.step, s.margins.as_ref()?)))
    };
    if let Some(worst) = done.iter().min_by(|a, b| {
        let m = |s: &StepDocument| s.smallest_margin_deg.unwrap_or(f64::INFINITY);
        m(a).total_cmp(&m(b))
    }) && let Some(m) = &worst.margins
    {
        let joint = worst.smallest_margin_joint.as_deref().unwrap_or("");
        let place = match worst.smallest_margin_at {
            Some("approach") => " before the point",
            Some("depart") => " after the point",
            _ => " at the point",
        };
        let text = format!(
            "step {} ({}), {} deg of {joint}{place}; at the point itself {} deg, {}.",
            worst.step,
            worst.point,
            fixed(worst.smallest_margin_deg.unwrap_or(0.0), 1),
            fixed(m.limit_margin_deg, 1),
            edge(m)
        );
        out.push_str(&wrap("Smallest margin: ", 4, &text));
        nearest(out, document);
    }
    let tip = done.iter().flat_map(|s| {
        let at = s.margins.as_ref().and_then(|m| m.u95_mm);
        let all = [at, s.approach_u95_mm, s.depart_u95_mm];
        all.into_iter().flatten().map(|u| (s.step, u))
    });
    if let Some((step, u)) = tip.max_by(|a, b| a.1.total_cmp(&b.1)) {
        let text = format!(
            "within {} mm (95 %) at every point and the places before and after, worst at step {step}.",
            fixed(u.max(0.01), 2)
        );
        out.push_str(&wrap("Tip: ", 4, &text));
    }
    let unsure: Vec<(usize, &MarginsDocument)> = margins()
        .filter(|(_, m)| m.out_of_reach.is_some_and(|c| c.at_most > 0.001))
        .collect();
    for (step, m) in unsure.iter().take(5) {
        let Some(c) = &m.out_of_reach else { continue };
        let text = format!(
            "step {step}: the chance that this posture cannot reach it is {}.",
            chance(c)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    if unsure.len() > 5 {
        let _ = writeln!(
            out,
            "Look: the same of {} more steps, see --json.",
            unsure.len() - 5
        );
    }
    for (step, m) in margins() {
        if let Some(words) = &m.nearly_singular {
            out.push_str(&wrap("Look: ", 6, &format!("step {step}: {words}.")));
        }
    }
    for way in document.ways.iter().filter(|w| w.flips) {
        let posture = |n: usize| {
            document
                .steps
                .get(n - 1)
                .and_then(|s| s.posture.clone())
                .unwrap_or_default()
        };
        let text = format!(
            "the arm flips between step {} ({}) and step {} ({}); {} turns {} deg. Give it room.",
            way.from_step,
            posture(way.from_step),
            way.to_step,
            posture(way.to_step),
            way.joint,
            fixed(way.turn_deg, 0)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    for step in done.iter().filter(|s| s.scant) {
        let text = format!(
            "step {}: only {} deg to the limit of {} ({}); {} are asked for.",
            step.step,
            fixed(step.smallest_margin_deg.unwrap_or(0.0), 1),
            step.smallest_margin_joint.as_deref().unwrap_or(""),
            step.smallest_margin_at.unwrap_or("at"),
            fixed(document.margin_needed_deg, 1)
        );
        out.push_str(&wrap("Look: ", 6, &text));
    }
    let leaning = done
        .iter()
        .filter(|s| s.side_lean_deg.is_some_and(|l| l > 0.005));
    let leaning: Vec<usize> = leaning.map(|s| s.step).collect();
    if !leaning.is_empty() {
        let most = done
            .iter()
            .filter_map(|s| s.side_lean_deg)
            .fold(0.0, f64::max);
        let text = format!(
            "asked to point straight up or down the tool leans up to {} deg to the side, as near as this \
             arm can ({}).",
            fixed(most, 2),
            numbers(&leaning)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    for way in document
        .ways
        .iter()
        .filter(|w| !w.flips && w.turn_deg > FAR_TURN_DEG)
    {
        let text = format!(
            "between step {} and step {} {} turns {} deg.",
            way.from_step,
            way.to_step,
            way.joint,
            fixed(way.turn_deg, 0)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    if document.table_without_end && done.iter().any(|s| s.table.is_some()) {
        out.push_str(&wrap(
            "",
            0,
            "The table turns without end: its readings follow on from step to step and may leave one \
             turn. The ways are proved for turning as these readings say, not the other way round.",
        ));
    }
    postures(out, &done);
    let far: Vec<usize> = done
        .iter()
        .filter(|s| s.stray_mm.is_some_and(|mm| mm > 2.0))
        .map(|s| s.step)
        .collect();
    if !far.is_empty() {
        let most = done.iter().filter_map(|s| s.stray_mm).fold(0.0, f64::max);
        let text = format!(
            "with all axes moving in proportion the tip strays up to {} mm from the straight line \
             between point and approach or depart ({}); go there in a straight line, or shorter.",
            fixed(most, 0),
            numbers(&far)
        );
        out.push_str(&wrap("Note: ", 6, &text));
    }
    match document.clearance_needed_mm {
        Some(_) if done.is_empty() => {}
        Some(mm) => {
            let proved = document.ways.iter().filter(|w| w.state == "clear").count();
            let text = format!(
                "Proved to stay {} mm clear, all axes moving in proportion: of the steps that can be done the \
                 legs between each point and the places before and after it, and {} between steps. Other ways of moving, the way to \
                 the first step and from the last are not checked. What the keep-outs and bodies of the \
                 cell file do not tell is not seen.",
                fixed(mm, 1),
                counted(proved, "way")
            );
            out.push_str(&wrap("", 0, &text));
        }
        None => out.push_str(&wrap(
            "",
            0,
            "Clearances are NOT checked: the cell file tells no [[arm.body]]. The way to the first step \
             and from the last is not checked either.",
        )),
    }
    out.push_str(&wrap(
        "",
        0,
        "Track, table and joints are readings of the axes. Margin: least degrees of a joint to its limit \
         at the point, before and after it. Clear: least mm to anything there and on the way to the step, \
         of the postures looked at.",
    ));
    if document
        .steps
        .iter()
        .any(|s| s.approach_mm > 0.0 || s.depart_mm > 0.0)
    {
        out.push_str("Positions before and after the points: --csv or --json.\n");
    }
    if drawn {
        out.push_str("As drawn, not registered: nothing is known of how far off this is.\n");
    }
}
