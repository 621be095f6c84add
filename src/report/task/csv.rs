//! A task for a spreadsheet.

use std::fmt::Write;

use crate::report::number::fixed;
use crate::report::task::StepDocument;
use crate::report::task::TaskDocument;

/// The same for a spreadsheet: one row a place, columns named as in taught.csv and more.
pub fn csv(document: &TaskDocument, joints: usize) -> String {
    let mut out = String::from(
        "# Calculated positions: prove each one slowly first, hands and tools out of the arm's reach.\n",
    );
    if document.verdict != "good" {
        out.push_str("# LOOK: not every step or way can be done as asked for; see the columns way and look.\n");
    }
    out.push_str("name,frame,track,table");
    for k in 1..=joints {
        let _ = write!(out, ",j{k}");
    }
    out.push_str(",step,part,dwell_s,margin_deg,clearance_mm,u95_mm,way,posture,look,note\n");
    for step in &document.steps {
        rows(&mut out, document, step, joints);
    }
    out
}

fn rows(out: &mut String, document: &TaskDocument, step: &StepDocument, joints: usize) {
    let number = |v: Option<f64>, decimals: usize| v.map_or(String::new(), |v| fixed(v, decimals));
    let quoted = |text: &str| match text.is_empty() {
        true => String::new(),
        false => format!("\"{}\"", text.replace('"', "\"\"")),
    };
    if !step.possible {
        let look = format!("NOT possible: {}", step.why.as_deref().unwrap_or(""));
        let _ = writeln!(
            out,
            "{},{}{},{},at,,,,,,,{},{}",
            step.point,
            step.frame,
            ",".repeat(joints + 2),
            step.step,
            quoted(&look),
            quoted(&step.note)
        );
        return;
    }
    let at_point = step.margins.as_ref();
    let mut places = Vec::new();
    let approach = (step.approach_margin_deg, step.approach_u95_mm);
    let depart = (step.depart_margin_deg, step.depart_u95_mm);
    let at = (
        at_point.map(|m| m.limit_margin_deg),
        at_point.and_then(|m| m.u95_mm),
    );
    for (part, values, worth) in [
        ("approach", &step.approach_joints, approach),
        ("at", &step.joints, at),
        ("depart", &step.depart_joints, depart),
    ] {
        if let Some(values) = values {
            places.push((part, values, worth));
        }
    }
    // The way to the step ends at its first place.
    let way = document.ways.iter().find(|w| w.to_step == step.step);
    for (k, (part, values, (margin, u95))) in places.into_iter().enumerate() {
        let way = way.filter(|_| k == 0);
        let state = way.map_or("", |w| w.state);
        let mut looks = Vec::new();
        if let Some(w) = way.filter(|w| matches!(w.state, "blocked" | "unproved")) {
            looks.push(format!(
                "the way here is {}: {}",
                w.state,
                w.near.as_deref().unwrap_or("")
            ));
        }
        if part == "at" {
            looks.extend(at_point.and_then(|m| m.nearly_singular.clone()));
        }
        if step.scant && step.smallest_margin_at == Some(part) {
            looks.push("close to a joint limit".to_owned());
        }
        let clearance = match k {
            0 => [step.smallest_clearance_mm, way.and_then(|w| w.clearance_mm)],
            _ => [step.smallest_clearance_mm, None],
        };
        let clearance = clearance.into_iter().flatten().reduce(f64::min);
        let _ = write!(
            out,
            "{},{},{},{}",
            step.point,
            step.frame,
            number(step.track, 4),
            number(step.table, 4)
        );
        for v in values {
            let _ = write!(out, ",{}", fixed(*v, 4));
        }
        let _ = writeln!(
            out,
            ",{},{part},{},{},{},{},{state},{},{},{}",
            step.step,
            number(step.dwell_s.filter(|_| part == "at"), 2),
            number(margin, 2),
            number(clearance, 2),
            number(u95, 3),
            quoted(step.posture.as_deref().unwrap_or("")),
            quoted(&looks.join("; ")),
            quoted(&step.note)
        );
    }
}
