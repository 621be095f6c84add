//! `tip`: where the tip is.

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::fit::spread::TipSpread;
use crate::kinematics::joint_value_rad;
use crate::points::TipPlace;
use crate::readings::stand::Stand;
use crate::report::number::fixed;
use crate::report::page;
use crate::report::words::CAUTION;
use crate::report::words::wrap;
use crate::units::Reading;

/// `tip --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TipDocument {
    /// In the plate frame.
    pub plate: Option<TipFrame>,
    /// In the platter frame; null without `--table`.
    pub platter: Option<TipFrame>,
}

/// The tip in one frame.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TipFrame {
    /// mm.
    pub x_mm: f64,
    /// mm.
    pub y_mm: f64,
    /// mm.
    pub z_mm: f64,
    /// −90: straight down.
    pub elevation_deg: f64,
    /// From the frame's x, counter-clockwise.
    pub azimuth_deg: f64,
    /// About the tool's z.
    pub roll_deg: f64,
    /// Null as drawn.
    pub covariance_mm2: Option<[[f64; 3]; 3]>,
    /// Radius that holds 95 % of the tips; null as drawn.
    pub u95_mm: Option<f64>,
}

impl TipFrame {
    /// From what was computed.
    pub fn new(place: &TipPlace, spread: Option<&TipSpread>) -> Self {
        TipFrame {
            x_mm: place.at_mm.x,
            y_mm: place.at_mm.y,
            z_mm: place.at_mm.z,
            elevation_deg: place.direction.elevation_rad.to_degrees(),
            azimuth_deg: place.direction.azimuth_rad.to_degrees(),
            roll_deg: place.direction.roll_rad.to_degrees(),
            covariance_mm2: spread.map(|s| {
                let c = &s.covariance_mm2;
                [0, 1, 2].map(|i| [0, 1, 2].map(|j| c[(i, j)]))
            }),
            u95_mm: spread.map(|s| s.u95_mm),
        }
    }
}

/// The answer for people.
pub fn tip(
    cell: &Cell,
    geometry: &Geometry,
    stand: &Stand,
    document: &TipDocument,
    source: &str,
    verdict: Option<&str>,
) -> String {
    let mut out = String::new();
    // Before any number that somebody could drive to.
    for warning in looks(cell, geometry, stand, document, verdict) {
        out.push_str(&wrap("Look: ", 6, &warning));
    }
    let frames = [("plate", &document.plate), ("platter", &document.platter)];
    for (name, frame) in frames {
        let Some(f) = frame else { continue };
        let _ = match f.u95_mm {
            Some(_) => writeln!(
                out,
                "Tip in the {name} frame: {}, {}",
                page::tip_at(f),
                page::within(f.u95_mm)
            ),
            None => writeln!(
                out,
                "Tip in the {name} frame: {}, uncertainty not known",
                page::tip_at(f)
            ),
        };
        let _ = writeln!(out, "  tool: {}", page::tip_direction(f));
    }
    if document.platter.is_none() && cell.turntable.is_some() {
        out.push_str("Give the table's reading too (--table R) for the place on the platter.\n");
    }
    out.push_str(&wrap("From ", 5, source));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

/// What a person must look at before driving there, a sentence each.
pub fn looks(
    cell: &Cell,
    geometry: &Geometry,
    stand: &Stand,
    document: &TipDocument,
    verdict: Option<&str>,
) -> Vec<String> {
    let mut found = beyond_limits(cell, geometry, stand, document.platter.is_some());
    found.extend(looks_beside_limits(document, verdict));
    found
}

/// The same without the limits of the axes.
pub fn looks_beside_limits(document: &TipDocument, verdict: Option<&str>) -> Vec<String> {
    let mut found = Vec::new();
    if let Some(plate) = document.plate.as_ref().filter(|p| p.z_mm < 0.0) {
        found.push(format!(
            "the tip would stand {} mm below the top of the plate",
            fixed(-plate.z_mm, 1)
        ));
    }
    if verdict == Some("look") {
        found.push(
            "this registration's verdict was look, not accepted: place and radius may both be wrong"
                .to_owned(),
        );
    }
    found
}

/// Axis values beyond their limits, in a sentence each.
fn beyond_limits(cell: &Cell, geometry: &Geometry, stand: &Stand, table: bool) -> Vec<String> {
    let mut found = Vec::new();
    let range =
        |low: f64, high: f64, unit: &str| format!("{} to {} {unit}", fixed(low, 2), fixed(high, 2));
    if let Some(limits) = cell.track.and_then(|t| t.travel_mm) {
        let value = stand.travel_mm(geometry);
        if !limits.holds_nearly(value) {
            found.push(format!(
                "the track would stand at {} mm, beyond its travel of {}",
                fixed(value, 2),
                range(limits.low, limits.high, "mm")
            ));
        }
    }
    if let Some(limits) = cell
        .turntable
        .as_ref()
        .and_then(|t| t.travel_rad)
        .filter(|_| table)
    {
        let value = stand.turn_rad(geometry);
        if !limits.holds_nearly(value) {
            found.push(format!(
                "the table would stand at {} deg, beyond its travel of {}",
                fixed(value.to_degrees(), 2),
                range(limits.low.to_degrees(), limits.high.to_degrees(), "deg")
            ));
        }
    }
    for ((info, joint), reading) in cell.joints.iter().zip(&geometry.joints).zip(&stand.joints) {
        let value = joint_value_rad(joint, Reading(*reading));
        let limits = info.limits_rad;
        if !limits.holds_nearly(value) {
            found.push(format!(
                "joint {} would stand at {} deg, beyond its limits of {}",
                info.name,
                fixed(value.to_degrees(), 2),
                range(limits.low.to_degrees(), limits.high.to_degrees(), "deg")
            ));
        }
    }
    found
}
