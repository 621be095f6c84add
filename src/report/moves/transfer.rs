//! Points carried over: text, CSV, JSON.

use std::collections::BTreeSet;
use std::fmt::Write;

use serde::Serialize;

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::readings::stand::Stand;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::words::CAUTION;
use crate::report::words::counted;
use crate::report::words::wrap;
use crate::transfer::Carried;
use crate::transfer::Where;

/// A joint that comes nearer to its limit than this is told; within three times this where it lost half.
const LOST_DEG: f64 = 5.0;
/// A tool that turns by more than this against the taught direction is told.
const TURNED_DEG: f64 = 5.0;

/// One point and where its record comes from.
pub struct TransferRow {
    /// The point.
    pub carried: Carried,
    /// The record under which it was taught.
    pub record: String,
    /// How that is known.
    pub assumed: String,
    /// Readings that both registrations share, where that is not taken into account.
    pub shared: usize,
}

/// What a transfer is told from.
pub struct TransferFacts<'a> {
    /// The cell.
    pub bench: &'a Bench,
    /// The points.
    pub rows: &'a [TransferRow],
    /// The record in force, as it is called.
    pub record: &'a str,
    /// Its file.
    pub record_file: &'a str,
    /// Where to.
    pub to: &'a Where,
}

/// `transfer --json`.
#[derive(Debug, Clone, Serialize)]
pub struct TransferDocument {
    /// Name of the cell.
    pub cell: String,
    /// The record in force.
    pub record: String,
    /// `as taught`, `best` or `given`.
    pub to: String,
    /// The points.
    pub points: Vec<CarriedDocument>,
    /// What a person must look at.
    pub look: Vec<String>,
}

/// One point.
#[derive(Debug, Clone, Serialize)]
pub struct CarriedDocument {
    /// Its name.
    pub name: String,
    /// plate or platter.
    pub frame: String,
    /// The record under which it was taught.
    pub taught_under: String,
    /// How that is known.
    pub known: String,
    /// The readings as taught.
    pub taught: ReadingsDocument,
    /// Where it is, in its own frame, mm.
    pub at_mm: [f64; 3],
    /// By how much the old readings miss it now, in its own frame, mm.
    pub miss_mm: [f64; 3],
    /// The same as a distance.
    pub miss_distance_mm: f64,
    /// 95 % radius of that, mm.
    pub miss_u95_mm: f64,
    /// Least distance of a joint to its limits as taught, degrees.
    pub margin_before_deg: f64,
    /// The new readings; null where there are none.
    pub new: Option<NewDocument>,
    /// Why there are none.
    pub unreachable: Option<String>,
}

/// Axis readings.
#[derive(Debug, Clone, Serialize)]
pub struct ReadingsDocument {
    /// Of the track; null without one.
    pub track: Option<f64>,
    /// Of the table; null without one.
    pub table: Option<f64>,
    /// Of the joints.
    pub joints: Vec<f64>,
}

/// New readings.
#[derive(Debug, Clone, Serialize)]
pub struct NewDocument {
    /// The readings.
    pub readings: ReadingsDocument,
    /// Least distance of a joint to its limits, degrees.
    pub margin_deg: f64,
    /// How surely the tip arrives where it was taught, 95 %, mm.
    pub u95_mm: f64,
    /// By how much the tool's direction differs from the taught one, degrees.
    pub turned_deg: f64,
    /// The largest turn of a joint against the taught posture, degrees.
    pub posture_deg: f64,
}

/// Gathers the document.
pub fn transfer_document(facts: &TransferFacts<'_>) -> TransferDocument {
    let points: Vec<CarriedDocument> = facts.rows.iter().map(|r| point(r, facts)).collect();
    let mut look: Vec<String> = Vec::new();
    for p in &points {
        match (&p.new, &p.unreachable) {
            (None, Some(why)) => look.push(format!("{}: {why}", p.name)),
            (Some(new), _) if lost(p.margin_before_deg, new.margin_deg) => look.push(format!(
                "{}: a joint now comes within {:.1}° of its limit ({:.1}° as taught)",
                p.name, new.margin_deg, p.margin_before_deg
            )),
            _ => {}
        }
        if let Some(turned) = p
            .new
            .as_ref()
            .map(|n| n.turned_deg)
            .filter(|t| *t > TURNED_DEG)
        {
            look.push(format!(
                "{}: the tool stands turned by {turned:.1}° against the taught direction, which an arm of so few \
                 joints cannot keep from there",
                p.name
            ));
        }
    }
    let assumed: BTreeSet<(&str, &str)> = points
        .iter()
        .filter(|p| p.known.starts_with("assumed"))
        .map(|p| (p.taught_under.as_str(), p.known.as_str()))
        .collect();
    for (record, why) in assumed {
        look.push(format!(
            "taken as taught under {record} ({why}); the column record of taught.csv settles it"
        ));
    }
    TransferDocument {
        cell: facts.bench.cell.name.clone(),
        record: facts.record.to_owned(),
        to: match facts.to {
            Where::AsTaught => "as taught",
            Where::Best => "best",
            Where::At { .. } => "given",
        }
        .to_owned(),
        points,
        look,
    }
}

fn lost(before_deg: f64, after_deg: f64) -> bool {
    (after_deg < LOST_DEG && after_deg < before_deg - 0.05)
        || (after_deg < 3.0 * LOST_DEG && after_deg < 0.5 * before_deg)
}

fn readings(stand: &Stand, facts: &TransferFacts<'_>) -> ReadingsDocument {
    let cell = &facts.bench.cell;
    ReadingsDocument {
        track: cell.track.is_some().then_some(stand.track),
        table: cell.turntable.is_some().then_some(stand.table),
        joints: stand.joints[..cell.joints.len()].to_vec(),
    }
}

fn point(row: &TransferRow, facts: &TransferFacts<'_>) -> CarriedDocument {
    let c = &row.carried;
    CarriedDocument {
        name: c.name.clone(),
        frame: c.frame.as_str().to_owned(),
        taught_under: row.record.clone(),
        known: row.assumed.clone(),
        taught: readings(&c.taught, facts),
        at_mm: c.place.at_mm.into(),
        miss_mm: c.miss.mm.into(),
        miss_distance_mm: c.miss.mm.norm(),
        miss_u95_mm: c.miss.errors.u95_mm,
        margin_before_deg: c.margin_rad.to_degrees(),
        new: c.new.as_ref().ok().map(|new| NewDocument {
            readings: readings(&new.stand, facts),
            margin_deg: new.margin_rad.to_degrees(),
            u95_mm: new.errors.u95_mm,
            turned_deg: new.turned_rad.to_degrees(),
            posture_deg: new.posture_rad.to_degrees(),
        }),
        unreachable: c.new.as_ref().err().cloned(),
    }
}

/// The points as rows of `taught.csv`, with the record that is in force; those without readings stand as
/// comments.
pub fn transfer_csv(facts: &TransferFacts<'_>) -> String {
    let cell = &facts.bench.cell;
    let joints: Vec<String> = (1..=cell.joints.len()).map(|j| format!("j{j}")).collect();
    let mut out = String::new();
    let mut comment = |text: String| {
        for line in wrap("", 0, &text).lines() {
            let _ = writeln!(out, "# {line}");
        }
    };
    comment(format!(
        "Taught points carried over to {}. Calculated readings: prove each slowly before it is used.",
        facts.record
    ));
    comment(CAUTION.replace('\n', " "));
    for row in facts.rows {
        if let Err(why) = &row.carried.new {
            comment(format!("{} is left out: {why}", row.carried.name));
        }
    }
    let _ = writeln!(out, "name,frame,track,table,{},record", joints.join(","));
    for row in facts.rows {
        let Ok(new) = &row.carried.new else { continue };
        let own = readings(&new.stand, facts);
        let one = |v: Option<f64>| v.map_or(String::new(), figure);
        let joints: Vec<String> = own.joints.iter().map(|v| figure(*v)).collect();
        // Where the table stands is nothing to a point of the plate.
        let table = match row.carried.frame {
            Belongs::Platter => one(own.table),
            Belongs::Plate => String::new(),
        };
        let _ = writeln!(
            out,
            "{},{},{},{},{},{}",
            row.carried.name,
            row.carried.frame.as_str(),
            one(own.track),
            table,
            joints.join(","),
            facts.record_file
        );
    }
    out
}

/// A reading to a ten-thousandth: finer than any controller shows, no rounding that matters.
fn figure(value: f64) -> String {
    let text = fixed(value, 4);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// For people.
pub fn transfer(document: &TransferDocument, written: Option<&str>) -> String {
    let mut out = String::new();
    let lost = document.points.iter().filter(|p| p.new.is_none()).count();
    let worst = document
        .points
        .iter()
        .max_by(|a, b| a.miss_distance_mm.total_cmp(&b.miss_distance_mm));
    let head = match lost {
        0 => format!(
            "All of {} can be reached",
            counted(document.points.len(), "taught point")
        ),
        n => format!(
            "{n} of {} cannot be reached",
            counted(document.points.len(), "taught point")
        ),
    };
    out.push_str(&wrap(
        "",
        0,
        &format!(
            "{head} there: {}; geometry of {}",
            document.cell, document.record
        ),
    ));
    if let Some(worst) = worst {
        let text = format!(
            "With the old readings the tip would miss by up to {} mm ({}).",
            fixed(
                worst.miss_distance_mm,
                decimals_for(worst.miss_u95_mm).clamp(1, 2)
            ),
            worst.name
        );
        out.push_str(&wrap("  ", 2, &text));
    }
    out.push_str("\nNew readings, in the posture nearest to the taught one\n");
    let width = document
        .points
        .iter()
        .map(|p| p.name.len())
        .max()
        .unwrap_or(4)
        .max(5);
    for p in &document.points {
        let Some(new) = &p.new else {
            let why = p.unreachable.as_deref().unwrap_or_default();
            out.push_str(&wrap(&format!("  {:<width$}  ", p.name), width + 4, why));
            continue;
        };
        let mut axes = Vec::new();
        if let Some(track) = new.readings.track {
            axes.push(format!("track {}", fixed(track, 2)));
        }
        if let (Some(table), "platter") = (new.readings.table, p.frame.as_str()) {
            axes.push(format!("table {}", fixed(table, 2)));
        }
        let joints: Vec<String> = new.readings.joints.iter().map(|j| fixed(*j, 2)).collect();
        axes.push(format!("joints {}", joints.join(", ")));
        out.push_str(&wrap(
            &format!("  {:<width$}  ", p.name),
            width + 4,
            &axes.join("  "),
        ));
    }
    let _ = writeln!(
        out,
        "\n  {:<width$}  {:>10} {:>12} {:>16} {:>14}",
        "", "old miss", "arrives", "to a limit", "tool turned"
    );
    for p in &document.points {
        let miss = format!(
            "{} mm",
            fixed(p.miss_distance_mm, decimals_for(p.miss_u95_mm).clamp(1, 2))
        );
        let rest = match &p.new {
            Some(new) => {
                let limits = format!(
                    "{} -> {}°",
                    fixed(p.margin_before_deg, 1),
                    fixed(new.margin_deg, 1)
                );
                format!(
                    "{:>12} {limits:>16} {:>14}",
                    format!(
                        "±{} mm",
                        fixed(new.u95_mm, decimals_for(new.u95_mm).clamp(1, 2))
                    ),
                    format!("{}°", fixed(new.turned_deg, 2)),
                )
            }
            None => "   out of reach".to_owned(),
        };
        let _ = writeln!(out, "  {:<width$}  {miss:>10} {rest}", p.name);
    }
    out.push_str(&wrap(
        "  ",
        2,
        "Old miss: how far from the point the tip would stand with the old readings. Arrives: within this (95 \
         %) of where the point was taught. Tool turned: what an arm of few joints cannot keep.",
    ));
    if !document.look.is_empty() {
        out.push_str("\nLook\n");
        for look in &document.look {
            out.push_str(&wrap("  - ", 4, look));
        }
    }
    out.push('\n');
    out.push_str(&match written {
        Some(path) => wrap("", 0, &format!("Written: {path}, with the columns of taught.csv. taught.csv itself was not touched; once each point is proved, put the new file in its place.")),
        None => wrap("", 0, "Nothing was written; --out FILE writes them with the columns of taught.csv."),
    });
    out.push('\n');
    out.push_str(CAUTION);
    out
}
