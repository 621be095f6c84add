//! What a registration after a move found changed: each parameter before and after.

use crate::drawing::Fault;
use crate::drawing::axis;
use crate::drawing::chart::shifts::Group;
use crate::drawing::chart::shifts::Row;
use crate::drawing::chart::shifts::Shifts;
use crate::drawing::chart::shifts::Surely;
use crate::drawing::chart::shifts::shifts;
use crate::pictures::Picture;
use crate::pictures::residuals::SUSPECT;
use crate::pictures::residuals::USUAL;
use crate::pictures::residuals::value;
use crate::registration::ChangeDocument;
use crate::registration::Document;
use crate::registration::MovedDocument;
use crate::report::counted;

/// Most rows that are drawn.
const MOST: usize = 40;

/// Changes after a move; None for a full registration, or where nothing changed.
pub fn moved(document: &Document) -> Result<Option<Picture>, Fault> {
    let Some((chart, mut sentence)) = document.moved.as_ref().and_then(chart) else {
        return Ok(None);
    };
    let silent = silent(document);
    if !silent.is_empty() {
        sentence.push_str(&format!(
            " Not drawn, since nothing that was read after the move tells of it: {}.",
            silent.join(", ")
        ));
    }
    Picture::new("moved", "What changed with the move", &sentence, |width| {
        shifts(&chart, width)
    })
    .map(Some)
}

/// Parameters that were solved for, and of which no reading after the move tells: taken over as they were.
fn silent(document: &Document) -> Vec<&str> {
    let changes = document.moved.iter().flat_map(|m| &m.changes);
    let still = changes.filter(|c| c.u <= 0.0 && c.verdict != "drawing");
    let solved = |name: &str| document.parameters.iter().any(|p| p.name == name);
    still
        .map(|c| c.name.as_str())
        .filter(|name| solved(name))
        .collect()
}

/// The chart and its sentence.
pub(super) fn chart(moved: &MovedDocument) -> Option<(Shifts, String)> {
    // What neither registration solved for and the drawing did not change says nothing.
    let mut told: Vec<&ChangeDocument> = moved
        .changes
        .iter()
        .filter(|c| c.u > 0.0 || c.verdict == "drawing")
        .collect();
    if told.is_empty() {
        return None;
    }
    let all = told.len();
    let sentence = answer(&told, moved);
    if all > MOST {
        let mut order: Vec<usize> = (0..all).collect();
        order.sort_by(|a, b| size(told[*b]).total_cmp(&size(told[*a])));
        order.truncate(MOST);
        order.sort_unstable();
        told = order.iter().map(|k| told[*k]).collect();
    }
    let mut groups: Vec<Group> = Vec::new();
    for change in &told {
        let heading = format!("in {}", change.unit);
        match groups.iter_mut().find(|g| g.heading == heading) {
            Some(group) => group.rows.push(row(change)),
            None => groups.push(Group {
                heading,
                rows: vec![row(change)],
            }),
        }
    }
    let mut description = sentence.clone();
    for row in groups.iter().flat_map(|g| &g.rows) {
        description.push_str(&format!(" {}: {}.", row.name, row.words));
    }
    let mut notes = Vec::new();
    if told.len() < all {
        notes.push(format!(
            "{} of {all} parameters are drawn, those that changed most surely.",
            told.len()
        ));
    }
    let chart = Shifts {
        title: "Parameters before and after the move".to_owned(),
        description,
        label: "after less before, in standard uncertainties of the difference (u)".to_owned(),
        limits: vec![USUAL, SUSPECT],
        limit_words: "±1.96 u and ±3.29 u".to_owned(),
        words: [
            "after: a real change".to_owned(),
            "after: perhaps changed".to_owned(),
            "after: the same, as far as can be told".to_owned(),
            "after: changed in the drawing".to_owned(),
        ],
        groups,
        notes,
    };
    Some((chart, sentence))
}

/// How sure a change is, in units of its uncertainty; a change of the drawing is certain.
fn size(change: &ChangeDocument) -> f64 {
    match change.u > 0.0 {
        true => (change.change / change.u).abs(),
        false => f64::MAX,
    }
}

fn row(change: &ChangeDocument) -> Row {
    let surely = match change.verdict.as_str() {
        "real" => Surely::Real,
        "perhaps" => Surely::Perhaps,
        "drawing" => Surely::Given,
        _ => Surely::Same,
    };
    let u = if change.u > 0.0 { change.u } else { 0.001 };
    let sign = if change.change >= 0.0 { "+" } else { "" };
    let off = (change.u > 0.0).then(|| change.change / change.u);
    // Past the largest value of an axis it is drawn at the edge all the same.
    let off = off.map(|v| v.clamp(-axis::LARGEST, axis::LARGEST));
    let how = match (surely, off) {
        (Surely::Given, _) => "changed in the drawing".to_owned(),
        (Surely::Real, Some(off)) => format!("real, {} u", axis::fixed(off.abs(), 1)),
        (Surely::Perhaps, Some(off)) => format!("perhaps, {} u", axis::fixed(off.abs(), 1)),
        _ => "the same".to_owned(),
    };
    let with_u = match change.u > 0.0 {
        true => format!(" ± {}", value(change.u, u)),
        false => String::new(),
    };
    Row {
        name: change.name.clone(),
        off,
        surely,
        words: format!(
            "{} → {} {unit}: {sign}{}{with_u} {unit}, {how}",
            value(change.before, u),
            value(change.after, u),
            value(change.change, u),
            unit = change.unit,
        ),
    }
}

fn answer(told: &[&ChangeDocument], moved: &MovedDocument) -> String {
    let of = |verdict: &str| -> Vec<&&ChangeDocument> {
        told.iter().filter(|c| c.verdict == verdict).collect()
    };
    let mut real = of("real");
    real.sort_by(|a, b| size(b).total_cmp(&size(a)));
    let perhaps = of("perhaps");
    let named: Vec<String> = real
        .iter()
        .take(3)
        .map(|c| {
            let sign = if c.change >= 0.0 { "+" } else { "" };
            format!("{} by {sign}{} {}", c.name, value(c.change, c.u), c.unit)
        })
        .collect();
    let more = match real.len() - named.len() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    let mut text = match real.len() {
        0 => format!(
            "None of {} changed for certain",
            counted(told.len(), "parameter")
        ),
        1 => format!(
            "One of {} really changed: {}",
            counted(told.len(), "parameter"),
            named[0]
        ),
        n => format!(
            "{n} of {} parameters really changed: {}{more}",
            told.len(),
            named.join(", ")
        ),
    };
    match perhaps.len() {
        0 => {}
        1 => text.push_str("; one more perhaps did"),
        n => text.push_str(&format!("; {n} more perhaps did")),
    }
    text.push_str(&format!(". Before: {}.", moved.from));
    text
}
