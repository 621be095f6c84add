//! The order of the steps.

use std::cmp::Ordering;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::parts::Part;
use crate::parts::setting_order;
use crate::plan::Plan;
use crate::plan::Purpose;
use crate::plan::Step;
use crate::proposals::Proposal;
use crate::readings::Reading;

/// What a step is about; in the order of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Place {
    /// The plate against gravity.
    Plate,
    /// The track on the plate.
    Track,
    /// Turntable and switch.
    Turntable,
    /// What carries the arm: levels and heights that no joint changes.
    Foot,
    /// A joint, by its place in the order of setting.
    Joint(usize),
    /// The tip at targets of the plate.
    Plates,
    /// The tip at targets of the platter.
    Platter,
}

/// A step of a plan in its place.
#[derive(Debug, Clone)]
pub(super) struct Arranged {
    /// Which step of the plan.
    pub planned: usize,
    /// What it is about.
    pub place: Place,
    /// Whether it is there to check others: those come last.
    pub check: bool,
    /// Its place among those of the same group.
    within: [f64; 5],
}

/// The steps of a plan in the order of the sheet; `needed` has the parts on which each rests.
pub(super) fn arranged(
    cell: &Cell,
    geometry: &Geometry,
    plan: &Plan,
    needed: &[Vec<Part>],
) -> Vec<Arranged> {
    let settings = setting_order(cell);
    let mut list: Vec<Arranged> = plan
        .steps
        .iter()
        .zip(needed)
        .enumerate()
        .map(|(planned, (step, parts))| Arranged {
            planned,
            place: place(&step.proposal, parts, &settings),
            check: step.purpose == Purpose::Check || repeated(&plan.steps[..planned], step),
            within: within(cell, geometry, &step.proposal),
        })
        .collect();
    list.sort_by(|a, b| {
        let groups = (a.check, a.place).cmp(&(b.check, b.place));
        let places = a.within.iter().zip(&b.within);
        places.fold(groups, |so_far, (x, y)| {
            so_far.then_with(|| x.partial_cmp(y).unwrap_or(Ordering::Equal))
        })
    });
    list
}

fn repeated(before: &[Step], step: &Step) -> bool {
    before.iter().any(|b| {
        b.proposal.kind == step.proposal.kind && b.proposal.draft.given == step.proposal.draft.given
    })
}

/// Levels and heights stand with the joint that is set last of all those on which they rest, so that
/// whatever they rest on stands before them.
fn place(proposal: &Proposal, parts: &[Part], settings: &[usize]) -> Place {
    match &proposal.taken.reading {
        Reading::HoleCount(_) => Place::Track,
        Reading::NotchReading(_) => Place::Turntable,
        Reading::Touch(_) if given(proposal, "table").is_some() => Place::Platter,
        Reading::Touch(_) => Place::Plates,
        Reading::Attitude(_) if given(proposal, "body") == Some("plate") => Place::Plate,
        Reading::Attitude(_) | Reading::Height(_) => {
            last_set(parts, settings).map_or(Place::Foot, Place::Joint)
        }
    }
}

/// The place in the order of setting of the last joint among these parts.
pub(super) fn last_set(parts: &[Part], settings: &[usize]) -> Option<usize> {
    let joint = |part: &Part| match part {
        Part::Joint(j) => settings.iter().position(|s| s == j),
        _ => None,
    };
    parts.iter().filter_map(joint).max()
}

fn given<'a>(proposal: &'a Proposal, column: &str) -> Option<&'a str> {
    let cell = proposal.draft.given.iter().find(|(c, _)| c == column);
    cell.map(|(_, text)| text.as_str())
}

/// The way through a group: the axes go once there and once back, and move little.
fn within(cell: &Cell, geometry: &Geometry, proposal: &Proposal) -> [f64; 5] {
    let stand = proposal.taken.reading.stand();
    let is = |column: &str, text: &str| f64::from(given(proposal, column) == Some(text));
    let track = stand.track;
    match &proposal.taken.reading {
        // Once along with rising readings, then once back with falling ones.
        Reading::HoleCount(count) => {
            let down = is("approach", "down");
            let way = if down > 0.0 { -track } else { track };
            [down, way, count.feature as f64, count.along as f64, 0.0]
        }
        // Round the table in one sense, then back in the other, in the order in which the notches come by.
        Reading::NotchReading(_) => {
            let cw = is("approach", "cw");
            let table = geometry.turntable.as_ref();
            let turn = table.map_or(0.0, |t| t.scale_rad * stand.table + t.index_rad);
            [cw, if cw > 0.0 { -turn } else { turn }, 0.0, 0.0, 0.0]
        }
        // The level is turned end for end before it is set across.
        Reading::Attitude(_) if given(proposal, "body") == Some("plate") => {
            let axes = ["x", "-x", "y", "-y"];
            let at = axes.iter().position(|a| given(proposal, "axis") == Some(a));
            [at.unwrap_or(axes.len()) as f64, 0.0, 0.0, 0.0, 0.0]
        }
        Reading::Attitude(_) => [0.0, track, body(cell, proposal), is("kind", "plumb"), 0.0],
        Reading::Height(_) => [1.0, track, 0.0, 0.0, 0.0],
        Reading::Touch(_) => [track, stand.table, 0.0, 0.0, 0.0],
    }
}

/// Links before flange before tool.
fn body(cell: &Cell, proposal: &Proposal) -> f64 {
    let n = cell.joints.len();
    let place = match given(proposal, "body") {
        Some("flange") => n,
        Some("tool") => n + 1,
        Some(link) => link
            .strip_prefix('j')
            .and_then(|k| k.parse().ok())
            .unwrap_or(n),
        None => 0,
    };
    place as f64
}
