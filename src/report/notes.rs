//! Notes under a registration: what was left out, what is weak, what nothing checks.

use crate::registration::Bench;
use crate::registration::Determined;
use crate::registration::DirectionDocument;
use crate::registration::Document;
use crate::registration::PlaceDocument;
use crate::registration::PlayDocument;
use crate::registration::ReadingDocument;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::registration::contradicted;
use crate::report::words::counted;
use crate::report::words::wrap;

/// Where a residual stands: `readings/touch.csv line 4, x`.
pub(super) fn place(r: &ReadingDocument) -> String {
    let part = r
        .component
        .as_deref()
        .map(|c| format!(", {c}"))
        .unwrap_or_default();
    format!("{} line {}{part}", r.file, r.line)
}

/// Lines by file: `readings/touch.csv line 4, 5`.
pub(super) fn places(rows: &[PlaceDocument]) -> String {
    let mut text = String::new();
    let mut last = None;
    for p in rows {
        match last == Some(&p.file) {
            true => text.push_str(&format!(", {}", p.line)),
            false if text.is_empty() => text.push_str(&format!("{} line {}", p.file, p.line)),
            false => text.push_str(&format!("; {} line {}", p.file, p.line)),
        }
        last = Some(&p.file);
    }
    text
}

/// A combination of parameters with their shares.
pub(super) fn combination(direction: &DirectionDocument) -> String {
    let parts: Vec<&str> = direction
        .parameters
        .iter()
        .map(|p| p.name.as_str())
        .collect();
    match parts.len() {
        1 => parts[0].to_owned(),
        _ => format!("{} (only together, not one by one)", parts.join(" with ")),
    }
}

/// Adds the notes, if there are any.
pub(super) fn notes(out: &mut String, bench: &Bench, determined: &Determined, document: &Document) {
    let mut lines = note_lines(bench, document);
    if determined.assessment.too_good() {
        lines.push(
            "The readings fit better than stated: the stated uncertainties are larger than what \
             was seen."
                .to_owned(),
        );
    }
    if !matches!(determined.ending, crate::fit::solve::Ending::Converged) {
        lines.push(format!("How the solver ended: {}.", determined.ending));
    }
    if lines.is_empty() {
        return;
    }
    out.push_str("\nNotes\n");
    for line in lines {
        out.push_str(&wrap("  - ", 4, &line));
    }
}

/// The notes that a registration's document gives, a sentence or two each.
pub fn note_lines(bench: &Bench, document: &Document) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    if !document.left_out.is_empty() {
        lines.push(format!(
            "Left out, because use = no: {}.",
            places(&document.left_out)
        ));
    }
    if !document.unfinished.is_empty() {
        let n = counted(document.unfinished.len(), "row");
        lines.push(format!(
            "{n} laid out and not filled in yet (use = no): {}.",
            places(&document.unfinished)
        ));
    }
    let widened: Vec<String> = bench
        .taken
        .iter()
        .filter(|t| t.used() && t.widened)
        .map(|t| format!("{} line {}", t.file, t.line))
        .collect();
    if !widened.is_empty() {
        lines.push(format!(
            "Approach not noted, so the axis's play widens the uncertainty: {}.",
            widened.join(", ")
        ));
    }
    let unchecked: Vec<String> = document
        .readings
        .iter()
        .filter(|r| r.standardized.is_none())
        .map(place)
        .collect();
    if !unchecked.is_empty() && document.advice.is_empty() {
        lines.push(format!(
            "Checked by nothing; a slip there would go unnoticed: {}.",
            unchecked.join("; ")
        ));
    }
    // What follows is read off the values found: nothing is, while readings contradict each other.
    let sound = !contradicted(document);
    for p in document.parameters.iter().filter(|p| p.weak && sound) {
        lines.push(match p.tolerance {
            Some(_) => format!(
                "The readings say almost nothing of {}; its value is that of the drawing.",
                p.name
            ),
            None => format!(
                "The readings hardly hold {}: do not rely on its value.",
                p.name
            ),
        });
    }
    for direction in document
        .by_tolerance_only
        .iter()
        .filter(|_| document.advice.is_empty())
    {
        lines.push(format!(
            "Settled only by the tolerances in [solve], by no reading: {}.",
            combination(direction)
        ));
    }
    for p in &document.parameters {
        if sound && p.name.ends_with("lost_motion") && p.value.is_some_and(|v| v < 0.0) {
            lines.push(format!(
                "{} came out below zero: either there is no play, or approaches were noted the \
                 wrong way round.",
                p.name
            ));
        }
    }
    if sound {
        lines.extend(far_from_drawing(bench, document));
        lines.extend(slopes(document));
    }
    lines.extend(play_line(document));
    lines
}

/// Values that came out about a whole notch, a hole or a quarter turn from the drawing.
fn far_from_drawing(bench: &Bench, document: &Document) -> Vec<String> {
    let grid = &bench.cell.plate;
    let notches = bench
        .cell
        .turntable
        .as_ref()
        .map_or(0, |t| t.notches_rad.len());
    let mut lines = Vec::new();
    for p in &document.parameters {
        let Some(value) = p.value else { continue };
        let off = value - p.nominal;
        let step = match p.name.as_str() {
            "track.x" | "turntable.x" => Some((grid.pitch_x_mm, "hole")),
            "track.y" | "turntable.y" => Some((grid.pitch_y_mm, "hole")),
            "turntable.index" | "turntable.switch" if notches > 1 => {
                Some((360.0 / notches as f64, "notch"))
            }
            n if n.ends_with(".yaw") => Some((90.0, "quarter turn")),
            _ => None,
        };
        if let Some((step, what)) = step
            && off.abs() > 0.75 * step
        {
            let n = (off.abs() / step).round().max(1.0);
            let what = match (n == 1.0, what) {
                (true, _) => format!("a whole {what}"),
                (false, "notch") => format!("{n} notches"),
                _ => format!("{n} {what}s"),
            };
            lines.push(format!(
                "{} came out about {what} from the drawing: check that it is really so, and not a \
                 slip that all readings share.",
                p.name
            ));
        }
    }
    lines
}

/// What the play at the pin says of joint 1, over all touches that noted it.
fn play_line(document: &Document) -> Option<String> {
    let by_size =
        |a: &&PlayDocument, b: &&PlayDocument| a.lost_motion_deg.total_cmp(&b.lost_motion_deg);
    let least = document.play.iter().min_by(by_size)?;
    let most = document.play.iter().max_by(by_size)?;
    let place = format!("{} line {}", most.file, most.line);
    Some(match document.play.len() {
        1 => format!(
            "Play at the pin ({place}): a lost motion of joint 1 of {} deg.",
            fixed(most.lost_motion_deg, 2)
        ),
        n => format!(
            "Play at the pin, {n} touches: a lost motion of joint 1 of {} to {} deg, most in {place}.",
            fixed(least.lost_motion_deg, 2),
            fixed(most.lost_motion_deg, 2)
        ),
    })
}

/// Tilts in words: what rises, what falls, where it is more than twice its uncertainty.
fn slopes(document: &Document) -> Vec<String> {
    // Positive pitch and tilt_y (about y) lower what is ahead along +x; positive roll and tilt_x
    // (about x) raise what is to the left, +y.
    let words = |name: &str| match name {
        "track.pitch" => Some(("The track", "ahead", -1.0)),
        "track.roll" => Some(("The track's left side", "against the right", 1.0)),
        "mount.pitch" => Some(("The arm's base", "ahead", -1.0)),
        "mount.roll" => Some(("The left side of the arm's base", "against the right", 1.0)),
        "turntable.tilt_x" => Some(("The turntable", "toward the plate's +y", 1.0)),
        "turntable.tilt_y" => Some(("The turntable", "toward the plate's +x", -1.0)),
        "plate.tilt_x" => Some(("The plate", "toward its +y", 1.0)),
        "plate.tilt_y" => Some(("The plate", "toward its +x", -1.0)),
        _ => None,
    };
    let mut lines = Vec::new();
    for p in &document.parameters {
        let (Some((what, whither, sign)), Some(value), Some(u)) = (words(&p.name), p.value, p.u)
        else {
            continue;
        };
        if value.abs() > 2.0 * u {
            let slope = sign * value.to_radians().tan() * 1000.0;
            let d = decimals_for(u.to_radians() * 1000.0).min(1);
            lines.push(format!(
                "{what} {} {whither} by {} mm per metre.",
                if slope > 0.0 { "rises" } else { "falls" },
                fixed(slope.abs(), d)
            ));
        }
    }
    lines
}
