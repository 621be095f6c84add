//! Level, plumb and height residuals, a lane for each joint and kind, in units of what is usual.

use crate::bench::Bench;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::strips::Lane;
use crate::drawing::chart::strips::Strips;
use crate::drawing::chart::strips::strips;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::OCHRE;
use crate::pictures::Picture;
use crate::pictures::directions::no_part;
use crate::pictures::residuals::Placed;
use crate::pictures::residuals::Residuals;
use crate::pictures::residuals::SUSPECT;
use crate::pictures::residuals::place;
use crate::pictures::residuals::residuals;
use crate::pictures::residuals::value;
use crate::readings::Shown;
use crate::registration::Document;
use crate::report::counted;

/// What a lane is known by: its place from above, part, what was taken.
type Key<'a> = (usize, &'a str, &'a str);

/// Most suspects named in a lane.
const NAMED: usize = 4;

/// Readings of joints; None without any.
pub fn joints(
    document: &Document,
    bench: &Bench,
    geometry: &Geometry,
) -> Result<Option<Picture>, Fault> {
    let all = residuals(document, bench, geometry);
    let Some((chart, sentence)) = chart(document, bench, &all) else {
        return Ok(None);
    };
    Picture::new("joints", "Level, plumb and heights", &sentence, |width| {
        strips(&chart, width)
    })
    .map(Some)
}

/// The chart and its sentence.
pub(super) fn chart(
    document: &Document,
    bench: &Bench,
    all: &Residuals<'_>,
) -> Option<(Strips, String)> {
    let mut lanes: Vec<(Key, Vec<&Placed>)> = Vec::new();
    for placed in &all.placed {
        let Shown::AtJoint { part, words } = &placed.shown else {
            continue;
        };
        let key = (order(part), part.as_str(), words.as_str());
        match lanes.iter_mut().find(|(k, _)| *k == key) {
            Some((_, list)) => list.push(placed),
            None => lanes.push((key, vec![placed])),
        }
    }
    lanes.sort_by(|a, b| a.0.cmp(&b.0));
    let drawn: Vec<&Placed> = lanes
        .iter()
        .flat_map(|(_, list)| list.iter().copied())
        .collect();
    if drawn.is_empty() {
        return None;
    }
    let mut sentence = answer(all, &drawn);
    let at_joint = |shown: &Shown| matches!(shown, Shown::AtJoint { .. });
    let more = [
        no_part(document, bench, (&drawn, &[]), all, at_joint),
        all.not_drawn(&drawn),
    ];
    for text in more.into_iter().flatten() {
        sentence.push(' ');
        sentence.push_str(&text);
    }
    let shown: Vec<Lane> = lanes
        .iter()
        .map(|((_, part, words), list)| lane(all, &named(part, &bench.cell), words, list))
        .collect();
    let mut description = sentence.clone();
    for lane in shown.iter().filter(|l| !l.words.is_empty()) {
        description.push_str(&format!(" {}: {}.", lane.name, lane.words));
    }
    let chart = Strips {
        title: "Residuals of levels, plumbs and heights".to_owned(),
        description,
        label: "residual in units of what is usual for it (standardised)".to_owned(),
        limit: SUSPECT,
        limit_words: "±3.29: by chance one in 1000 lies beyond".to_owned(),
        suspect_words: "stands out".to_owned(),
        lanes: shown,
        notes: Vec::new(),
    };
    Some((chart, sentence))
}

/// The plate first, then the joints in order, then flange, tool and tip.
fn order(part: &str) -> usize {
    match part {
        "plate" => 0,
        "flange" => 1000,
        "tool" => 1001,
        "tip" => 1002,
        joint => number(joint).unwrap_or(999),
    }
}

fn number(part: &str) -> Option<usize> {
    part.strip_prefix('j')?.parse().ok()
}

/// `j2, elbow`.
fn named(part: &str, cell: &Cell) -> String {
    let joint = number(part).and_then(|n| cell.joints.get(n.checked_sub(1)?));
    match joint {
        Some(joint) if joint.name != part => format!("{part}, {}", joint.name),
        _ => part.to_owned(),
    }
}

fn lane(all: &Residuals<'_>, part: &str, words: &str, list: &[&Placed]) -> Lane {
    let values = list
        .iter()
        .filter_map(|p| Some((p.row.standardized?, p.suspect)));
    let unchecked = list.iter().filter(|p| p.row.standardized.is_none()).count();
    let mut told: Vec<String> = Vec::new();
    let suspects: Vec<&&Placed> = list.iter().filter(|p| p.suspect).collect();
    if suspects.is_empty() {
        let worst = list
            .iter()
            .filter_map(|p| Some((p, p.row.standardized?)))
            .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        if let Some((p, w)) = worst {
            let label = if list.len() == 1 { "" } else { "farthest: " };
            told.push(format!(
                "{label}{}, {} {} ({})",
                place(p.row),
                value(p.row.residual, p.row.u),
                p.row.unit,
                axis::fixed(w, 1)
            ));
        }
    }
    for p in suspects.iter().take(NAMED) {
        told.push(format!("stands out: {}", all.label(p)));
    }
    if suspects.len() > NAMED {
        told.push(format!("and {} more stand out", suspects.len() - NAMED));
    }
    if unchecked > 0 {
        told.push(format!(
            "{} that nothing checks, not drawn",
            counted(unchecked, "reading")
        ));
    }
    let height = list.first().is_some_and(|p| p.row.unit == "mm");
    Lane {
        name: format!("{part}: {words} ({})", counted(list.len(), "reading")),
        marks: match height {
            true => "height (mm)".to_owned(),
            false => "level or plumb (deg)".to_owned(),
        },
        shape: if height { Shape::Up } else { Shape::Diamond },
        ink: if height { BLUE } else { OCHRE },
        values: values.collect(),
        words: told.join("; "),
    }
}

fn answer(all: &Residuals<'_>, drawn: &[&Placed]) -> String {
    let suspects: Vec<&&Placed> = drawn.iter().filter(|p| p.suspect).collect();
    let checked: Vec<(&Placed, f64)> = drawn
        .iter()
        .filter_map(|p| Some((*p, p.row.standardized?)))
        .collect();
    let worst = checked
        .iter()
        .filter(|(p, _)| !p.suspect)
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let unchecked = match drawn.len() - checked.len() {
        0 => String::new(),
        1 => " One reading is checked by nothing.".to_owned(),
        n => format!(" {n} readings are checked by nothing."),
    };
    let farthest = worst.map_or(String::new(), |(p, w)| {
        format!(
            "{}, {} {}, {} times what is usual for it",
            place(p.row),
            value(p.row.residual, p.row.u),
            p.row.unit,
            axis::fixed(w.abs(), 1)
        )
    });
    let none_marked = all.marked.none_marked(drawn.iter().map(|p| p.row));
    let first = match (suspects.len(), worst) {
        (0, None) => "Nothing checks any of these readings.".to_owned(),
        (0, Some(_)) if none_marked.is_some() => format!(
            "{} The farthest of {} is {farthest}.",
            none_marked.unwrap_or_default(),
            counted(drawn.len(), "reading")
        ),
        (0, Some((_, w))) if w.abs() > SUSPECT => format!(
            "None of {} is to blame as far as can be told: some lie far out because readings elsewhere do not \
             fit; the farthest is {farthest}.",
            counted(drawn.len(), "reading")
        ),
        (0, Some(_)) => format!(
            "None of {} stands out; the farthest is {farthest}.",
            counted(drawn.len(), "reading")
        ),
        (1, _) => format!(
            "One of {} stands out: {}.",
            counted(drawn.len(), "reading"),
            all.label(suspects[0])
        ),
        (n, _) => {
            let named: Vec<String> = suspects.iter().take(3).map(|p| all.label(p)).collect();
            let more = match n.saturating_sub(3) {
                0 => String::new(),
                more => format!("; and {more} more"),
            };
            format!(
                "{n} of {} readings stand out: {}{more}.",
                drawn.len(),
                named.join("; ")
            )
        }
    };
    match checked.is_empty() {
        true => first,
        false => format!("{first}{unchecked}"),
    }
}
