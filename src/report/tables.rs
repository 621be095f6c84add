//! The tables of a registration: values found, points, worst readings.

use std::fmt::Write;

use crate::parameters::Parameter;
use crate::registration::Bench;
use crate::registration::Document;
use crate::registration::ReadingDocument;
use crate::report::findings;
use crate::report::notes::place;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::number::uncertainty;
use crate::report::registration::contradicted;
use crate::report::words::wrap;

/// A longer name of a point stands on a line of its own.
const LONGEST_NAME: usize = 40;
/// How many readings the list of the worst shows.
const WORST: usize = 5;

fn unit_words(unit: &str) -> &str {
    match unit {
        "mm/unit" => "mm per unit",
        "deg/unit" => "deg per unit",
        other => other,
    }
}

pub(super) fn parameters(out: &mut String, bench: &Bench, document: &Document) {
    if document.parameters.is_empty() {
        out.push_str(
            "\nNothing was solved for ([solve] is empty); the readings were only tested.\n",
        );
        return;
    }
    let unconfirmed = document.checks.as_ref().is_some_and(|c| !c.hold);
    let aside = !document.set_aside.is_empty();
    out.push_str(match contradicted(document) || unconfirmed || aside {
        true => "\nFound (do NOT key in yet): drawn -> found, ± one standard uncertainty\n",
        false => {
            "\nFound, to key in where a controller takes it: drawn -> found, ± one standard uncertainty\n"
        }
    });
    let width = document
        .parameters
        .iter()
        .map(|p| p.name.len())
        .max()
        .unwrap_or(0)
        .max(12);
    for p in &document.parameters {
        let (Some(value), Some(u)) = (p.value, p.u) else {
            continue;
        };
        let d = decimals_for(u);
        let words = Parameter::named(&bench.cell, &p.name).map_or("", |q| q.spec().words);
        let mark = match (p.suspect, p.weak) {
            (true, _) => "  does NOT fit",
            (_, true) => "  WEAK",
            _ => "",
        };
        let figures = format!(
            "{:>9} -> {:>9} ± {:<6} {:<3}",
            fixed(p.nominal, d.min(4)),
            fixed(value, d),
            fixed(u, d),
            unit_words(&p.unit)
        );
        let line = format!("  {:<width$} {figures}{mark}", p.name);
        let room = 98_usize.saturating_sub(line.chars().count().max(57) + 2);
        let _ = if words.chars().count() <= room {
            writeln!(out, "{line:<57}  {words}")
        } else {
            writeln!(out, "{line}")
        };
    }
}

pub(super) fn points(out: &mut String, bench: &Bench, document: &Document) {
    if document.points.is_empty() {
        return;
    }
    out.push_str(match contradicted(document) {
        true => {
            "\nPoints: radius that holds 95 % (NOT valid while readings contradict each other)\n"
        }
        false => "\nPoints: how sure the tip is there (radius that holds 95 %)\n",
    });
    let names = document.points.iter().map(|p| p.name.len());
    let width = names.max().unwrap_or(0).clamp(8, LONGEST_NAME);
    for p in &document.points {
        let figure = match (p.u95_mm, &p.unreachable) {
            (Some(u), _) => {
                let over = bench.cell.accept.tip_mm.is_some_and(|limit| u > limit);
                format!(
                    "{} mm{}",
                    uncertainty(u),
                    if over {
                        "  MORE than [accept] allows"
                    } else {
                        ""
                    }
                )
            }
            (None, Some(why)) => why.clone(),
            (None, None) => "not reached".to_owned(),
        };
        let kind = if p.taught { "taught" } else { "given" };
        // A name that is too long for the table stands on a line of its own.
        let name = match p.name.len() > width {
            true => {
                let _ = writeln!(out, "  {}", p.name);
                ""
            }
            false => p.name.as_str(),
        };
        let first = format!("  {name:<width$}  {kind:<6} {:<8} ", p.frame);
        let indent = first.chars().count();
        out.push_str(&wrap(&first, indent, &figure));
    }
}

pub(super) fn worst(out: &mut String, document: &Document) {
    let mut order: Vec<&ReadingDocument> = document.readings.iter().collect();
    order.retain(|r| r.standardized.is_some());
    order.sort_by(|a, b| {
        let size = |r: &ReadingDocument| r.standardized.unwrap_or(0.0).abs();
        size(b).total_cmp(&size(a))
    });
    if order.is_empty() {
        return;
    }
    // Those that only follow from the ones found are no suspects: they are not listed as such.
    let searched = matches!(
        document.search.as_deref(),
        Some("agrees" | "whole" | "held")
    );
    let suspects = match searched {
        true => 0,
        false => order.iter().filter(|r| r.suspect).count(),
    };
    let shown = WORST.max(suspects.min(20)).min(order.len());
    let _ = writeln!(
        out,
        "\nWorst readings ({shown} of {}): off by, stated u, off in units of what is usual",
        document.readings.len()
    );
    for r in &order[..shown] {
        let d = decimals_for(r.u);
        let w = r.standardized.unwrap_or(0.0);
        let _ = writeln!(
            out,
            "  {:<34} {:>9} {:<3}  u {:<7} {:>6}{}",
            place(r),
            fixed(r.residual, d),
            r.unit,
            uncertainty(r.u),
            fixed(w, 1),
            match (r.suspect, searched && !findings::is_suspect(document, r)) {
                (true, true) if matches!(document.search.as_deref(), Some("whole" | "held")) => {
                    "  explained by that"
                }
                (true, true) => "  probably dragged along",
                (true, false) => "  does NOT fit",
                _ => "",
            }
        );
    }
    if suspects > shown {
        let _ = writeln!(out, "  and {} more that do not fit", suspects - shown);
    }
}
