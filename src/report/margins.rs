//! Margins of a posture, as a document and in words.

use serde::Serialize;

use crate::cell::Cell;
use crate::clearance::Nearest;
use crate::clearance::Surroundings;
use crate::margins::Margins;
use crate::reach::Cause;
use crate::reach::EdgeBy;
use crate::reach::FARTHEST_MM;
use crate::reach::Nearness;
use crate::report::number::fixed;

/// What a posture is worth at a point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarginsDocument {
    /// Degrees to the nearest joint limit.
    pub limit_margin_deg: f64,
    /// The joint that is nearest to its limit, and which: lower or upper.
    pub limit_joint: String,
    /// See `limit_joint`.
    pub limit: &'static str,
    /// How far the point may be moved, whichever way, while this posture can follow, mm; null where
    /// that is farther than 250 mm.
    pub edge_mm: Option<f64>,
    /// What the arm comes to then, in words.
    pub edge_by: Option<String>,
    /// Smallest singular value of the Jacobian of the conditions, places over `length_scale_mm`.
    pub smallest_singular_value: Option<f64>,
    /// See `smallest_singular_value`.
    pub length_scale_mm: Option<f64>,
    /// Largest turn of one joint that 1 mm of the tip costs, degrees.
    pub cost_deg_per_mm: Option<f64>,
    /// Where the posture is nearly singular: why, in words.
    pub nearly_singular: Option<String>,
    /// Clearance of what is nearest to the arm, mm; null where the cell tells no bodies.
    pub clearance_mm: Option<f64>,
    /// The body of the arm that it is measured from.
    pub clearance_of: Option<String>,
    /// What it is measured to.
    pub clearance_to: Option<String>,
    /// 95 % radius of the tip in the point's frame; null as drawn.
    pub u95_mm: Option<f64>,
    /// Chance that this posture cannot reach the point; null as drawn.
    pub out_of_reach: Option<ChanceDocument>,
}

/// A chance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ChanceDocument {
    /// The share of the geometries drawn.
    pub share: f64,
    /// Not above this, in 95 of 100 such statements.
    pub at_most: f64,
}

impl MarginsDocument {
    /// From what was worked out.
    pub fn new(cell: &Cell, surroundings: &Surroundings, m: &Margins) -> Self {
        let near = m.nearness.as_ref();
        let joint = |i: usize| cell.joints.get(i).map_or("", |j| j.name.as_str());
        MarginsDocument {
            limit_margin_deg: m.limit.distance_rad.to_degrees(),
            limit_joint: format!("j{}", m.limit.joint + 1),
            limit: if m.limit.upper { "upper" } else { "lower" },
            edge_mm: m.edge.map(|e| e.distance_mm),
            edge_by: m.edge.map(|e| match e.by {
                EdgeBy::Links => "the end of what the links allow".to_owned(),
                EdgeBy::Limit(i, upper) => format!(
                    "the {} limit of j{} ({})",
                    if upper { "upper" } else { "lower" },
                    i + 1,
                    joint(i)
                ),
            }),
            smallest_singular_value: near.map(|n| n.smallest),
            length_scale_mm: near.map(|n| n.length_mm),
            cost_deg_per_mm: near.map(|n| n.cost_rad.to_degrees().min(180.0)),
            nearly_singular: near.and_then(|n| singular(cell, n)),
            clearance_mm: m.clearance.map(|c| c.clearance_mm),
            clearance_of: m
                .clearance
                .map(|c| surroundings.body_name(c.body).to_owned()),
            clearance_to: m.clearance.map(|c| surroundings.other_name(c.other)),
            u95_mm: m.u95_mm,
            out_of_reach: m.chance.map(|c| ChanceDocument {
                share: c.share,
                at_most: c.at_most,
            }),
        }
    }
}

/// Why a posture is nearly singular, with what a millimetre costs; `None` where it is not.
fn singular(cell: &Cell, near: &Nearness) -> Option<String> {
    let name = |i: usize| match cell.joints.get(i) {
        Some(j) if j.name != format!("j{}", i + 1) => format!("j{} ({})", i + 1, j.name),
        _ => format!("j{}", i + 1),
    };
    let cause = match near.cause? {
        Cause::Stretched => "nearly stretched out".to_owned(),
        Cause::Folded => "nearly folded up".to_owned(),
        Cause::OverBase => "tip or wrist nearly on the axis of j1".to_owned(),
        Cause::InLine(a, b) => {
            format!("the axes of {} and {} nearly in one line", name(a), name(b))
        }
        Cause::Other => "nearly singular".to_owned(),
    };
    let degrees = near.cost_rad.to_degrees();
    let cost = match near.stuck {
        false => format!(
            "1 mm {} costs {} deg of {}",
            near.way.as_str(),
            fixed(degrees, 1),
            name(near.joint)
        ),
        true => format!("it can go 1 mm neither {} nor back", near.way.as_str()),
    };
    Some(format!("{cause}: {cost}"))
}

/// A clearance in words: `23.4 mm from upper arm to the keep-out oven`.
pub fn clearance(surroundings: &Surroundings, near: &Nearest) -> String {
    let other = surroundings.other_name(near.other);
    let body = surroundings.body_name(near.body);
    match near.clearance_mm < 0.0 {
        true => format!("{body} {} mm inside {other}", fixed(-near.clearance_mm, 1)),
        // Rounded down: what is too near must not look as if it were enough.
        false => format!(
            "{} mm from {body} to {other}",
            fixed((10.0 * near.clearance_mm).floor() / 10.0, 1)
        ),
    }
}

/// A chance in words.
pub fn chance(chance: &ChanceDocument) -> String {
    let percent = |p: f64| match p {
        p if p < 1e-5 => "0.001 %".to_owned(),
        p if p < 0.01 => format!("{} %", fixed(100.0 * p, 1)),
        p => format!("{} %", fixed(100.0 * p, 0)),
    };
    match chance.share > 0.0 {
        true => format!(
            "about {} (at most {})",
            percent(chance.share),
            percent(chance.at_most)
        ),
        false => format!("below {}", percent(chance.at_most.max(1e-5))),
    }
}

/// The edge of reach in words.
pub fn edge(m: &MarginsDocument) -> String {
    match (m.edge_mm, &m.edge_by) {
        (Some(mm), Some(by)) => format!("edge of reach {} mm away ({by})", fixed(mm, 1)),
        _ => format!("edge of reach more than {FARTHEST_MM:.0} mm away"),
    }
}
