//! The answer of `reach` for people.

use std::fmt::Write;

use crate::cell::Cell;
use crate::report::margins::MarginsDocument;
use crate::report::margins::chance;
use crate::report::margins::edge;
use crate::report::number::decimals_for;
use crate::report::number::fixed;
use crate::report::reach::PairDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::SolutionDocument;
use crate::report::reach::StationDocument;
use crate::report::reach::travel::intervals;
use crate::report::reach::travel::returning;
use crate::report::words::CAUTION;
use crate::report::words::wrap;

/// The answer for people.
pub fn reach(cell: &Cell, document: &ReachDocument, source: &str, verdict: Option<&str>) -> String {
    let n = document.points.len();
    let reached = document.points.iter().filter(|p| p.reachable).count();
    let mut out = match (n, reached == n) {
        (1, true) => "THE POINT CAN BE REACHED.\n".to_owned(),
        (1, false) if document.points.iter().any(at_pairs) => {
            "LOOK: THE POINT IS MET ONLY AT CERTAIN PAIRS OF TRACK AND TABLE.\n".to_owned()
        }
        (1, false) if document.points.iter().any(elsewhere) => {
            "LOOK: THE POINT CANNOT BE REACHED FROM THE STATIONS ASKED FOR.\n".to_owned()
        }
        (1, false) => "THE POINT CANNOT BE REACHED.\n".to_owned(),
        (_, true) => format!("ALL {n} POINTS CAN BE REACHED.\n"),
        _ => format!("LOOK: {reached} of {n} points can be reached.\n"),
    };
    let paired = document.points.iter().filter(|p| at_pairs(p)).count();
    if paired > 0 && n > 1 {
        let _ = writeln!(
            out,
            "Look: {paired} of them only at certain pairs of track and table, given below."
        );
    }
    let unsure = document.points.iter().filter(|p| unsure(cell, p)).count();
    if unsure > 0 {
        let _ = writeln!(
            out,
            "Look: {unsure} of them less surely than [accept] asks for."
        );
    }
    if verdict == Some("look") {
        out.push_str("Look: this registration's verdict was look, not accepted.\n");
    }
    for point in &document.points {
        block(&mut out, cell, point);
    }
    out.push('\n');
    out.push_str(&wrap("From ", 5, source));
    out.push_str(
        "Track, table and joints are readings of the axes. Margin: degrees to the nearest joint limit.\n\n",
    );
    out.push_str(CAUTION);
    out
}

/// Not reached at the stations asked for, but from others.
pub(super) fn elsewhere(point: &PointDocument) -> bool {
    let anywhere = point
        .track_intervals
        .iter()
        .any(|i| !i.intervals.is_empty());
    !point.reachable && (anywhere || !point.stations.is_empty())
}

/// Not reached at the stations asked for, but at certain pairs of track and table.
pub(super) fn at_pairs(point: &PointDocument) -> bool {
    !point.reachable && point.pairs.as_ref().is_some_and(|p| !p.is_empty())
}

/// A station in words: `track 300, table 45`.
pub(super) fn place(track: Option<f64>, table: Option<f64>) -> String {
    let parts = [("track", track), ("table", table)];
    let parts: Vec<String> = parts
        .iter()
        .filter_map(|(name, v)| Some(format!("{name} {}", reading((*v)?))))
        .collect();
    match parts.is_empty() {
        true => "where it stands".to_owned(),
        false => parts.join(", "),
    }
}

/// An axis reading as a controller shows it; two decimals at the most.
pub(super) fn reading(value: f64) -> String {
    let text = fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// At one station: of a taught point the posture nearest to the taught one, of another the posture
/// farthest from the limits.
pub(super) fn chosen<'a>(
    point: &PointDocument,
    station: &'a StationDocument,
) -> Option<&'a SolutionDocument> {
    let clear = |s: &&SolutionDocument| {
        s.clearance_mm
            .is_none_or(|c| c >= point.clearance_needed_mm)
    };
    let Some(taught) = &point.posture else {
        return station.solutions.iter().find(clear);
    };
    let far = |s: &SolutionDocument| {
        let apart = s.joints.iter().zip(taught).map(|(a, b)| (a - b).abs());
        apart.fold(0.0, f64::max)
    };
    let clear = station.solutions.iter().filter(clear);
    clear.min_by(|a, b| far(a).total_cmp(&far(b)))
}

/// The best station: largest margin of the chosen posture.
pub fn best_of(point: &PointDocument) -> Option<(&StationDocument, &SolutionDocument)> {
    let known = point
        .stations
        .iter()
        .filter_map(|s| Some((s, chosen(point, s)?)));
    known.max_by(|a, b| a.1.limit_margin_deg.total_cmp(&b.1.limit_margin_deg))
}

/// Whether the tip is less sure than asked for at the best station.
fn unsure(cell: &Cell, point: &PointDocument) -> bool {
    let u = best_of(point).and_then(|(_, s)| s.u95_mm);
    u.zip(cell.accept.tip_mm)
        .is_some_and(|(u, limit)| u > limit)
}

/// An uncertainty in mm; nothing below a hundredth can be seen at a bench.
pub(super) fn radius(u: f64) -> String {
    match u < 0.01 {
        true => "0.01".to_owned(),
        false => fixed(u, decimals_for(u).min(2)),
    }
}

fn block(out: &mut String, cell: &Cell, point: &PointDocument) {
    let kind = if point.taught { "taught" } else { "given" };
    let _ = writeln!(
        out,
        "\n{} ({kind}, moves with the {})",
        point.name, point.frame
    );
    if let Some(why) = &point.refused {
        out.push_str(&wrap("  NOT possible: ", 16, why));
        return;
    }
    let best = best_of(point);
    let Some((station, solution)) = best else {
        nowhere(out, point);
        return;
    };
    let joints: Vec<String> = solution
        .joints
        .iter()
        .enumerate()
        .map(|(i, r)| format!("j{} {}", i + 1, fixed(*r, 2)))
        .collect();
    let text = format!(
        "{}: {}",
        place(station.track, station.table),
        joints.join(", ")
    );
    out.push_str(&wrap("  best      ", 12, &text));
    let mut text = format!("margin {} deg", fixed(solution.limit_margin_deg, 1));
    if solution.side_lean_deg.abs() > 0.005 {
        let lean = fixed(solution.side_lean_deg.abs(), 2);
        let _ = write!(
            text,
            "; leans {lean} deg to the side, as near as this arm can"
        );
    }
    if let Some(u) = solution.u95_mm {
        let _ = write!(text, "; tip within {} mm (95 %)", radius(u));
        if cell.accept.tip_mm.is_some_and(|limit| u > limit) {
            text.push_str(", MORE than [accept] allows");
        }
    }
    let postures = station.solutions.len();
    if postures > 1 {
        let _ = write!(
            text,
            "; {postures} postures, this one {}",
            match point.posture {
                Some(_) => "nearest to the taught one",
                None => "farthest from the limits",
            }
        );
    }
    if let Some(m) = point.best.as_ref().map(|b| &b.margins) {
        let _ = write!(text, "; {}", edge(m));
        if let (Some(mm), Some(of), Some(to)) = (m.clearance_mm, &m.clearance_of, &m.clearance_to) {
            let _ = write!(text, "; {} mm from {of} to {to}", fixed(mm, 0));
        }
    }
    if let Some(table) = solution.clear_at_table {
        let _ = write!(text, " with the table at {}", reading(table));
    }
    if solution.height_off_mm.abs() > 0.005 {
        let off = fixed(solution.height_off_mm.abs(), 2);
        let _ = write!(
            text,
            "; the tip stays {off} mm off the point, for this arm cannot leave its plane"
        );
    }
    out.push_str(&wrap("            ", 12, &text));
    if let Some(why) = point.best.as_ref().and_then(|b| b.why.as_ref()) {
        out.push_str(&wrap("  to spare  ", 12, why));
    }
    if let Some(m) = point.best.as_ref().map(|b| &b.margins) {
        looks(out, m);
    }
    intervals(out, point, station.table);
    pairs(out, point);
    returning(out, cell, point, station);
}

/// Where joints are to spare: why this posture of all that reach the point. `distances`: of each joint to
/// its limit, degrees.
pub fn why_spare(spare: usize, distances: &[f64]) -> Option<String> {
    if spare == 0 {
        return None;
    }
    let least = distances.iter().copied().fold(f64::INFINITY, f64::min);
    let tight: Vec<String> = distances
        .iter()
        .enumerate()
        .filter(|(_, d)| **d < least + 0.1)
        .map(|(i, _)| format!("j{}", i + 1))
        .collect();
    let joints = match spare {
        1 => "one joint is",
        2 => "two joints are",
        3 => "three joints are",
        _ => "four joints are",
    };
    let because = match tight.len() {
        1 => format!("no other posture near it leaves {} more", tight[0]),
        _ => format!(
            "moving on would bring one of {} nearer to its limit",
            tight.join(", ")
        ),
    };
    Some(format!(
        "{joints} to spare; of all postures the one farthest from the limits: {} deg, and {because}.",
        fixed(least, 1)
    ))
}

/// What a person must look at in the margins of the best posture.
fn looks(out: &mut String, m: &MarginsDocument) {
    if let Some(words) = &m.nearly_singular {
        out.push_str(&wrap("  look      ", 12, &format!("{words}.")));
    }
    if let Some(c) = m.out_of_reach.filter(|c| c.at_most > 0.001) {
        let text = format!(
            "the chance that it is out of this posture's reach is {}, by the registration.",
            chance(&c)
        );
        out.push_str(&wrap("  look      ", 12, &text));
    }
}

/// A point that no station asked for reaches.
fn nowhere(out: &mut String, point: &PointDocument) {
    let each = point
        .stations
        .iter()
        .flat_map(|s| s.solutions.iter().map(move |p| (s, p)));
    let least = |p: &SolutionDocument| p.clearance_mm.unwrap_or(0.0);
    if let Some((station, nearest)) = each.max_by(|a, b| least(a.1).total_cmp(&least(b.1))) {
        let text = format!(
            "reached, but everywhere too near something; most room at {}: {} mm to {}; {} mm are asked for",
            place(station.track, station.table),
            fixed(nearest.clearance_mm.unwrap_or(0.0), 1),
            nearest.clearance_to.as_deref().unwrap_or("something"),
            fixed(point.clearance_needed_mm, 1)
        );
        out.push_str(&wrap("  NOT clear ", 12, &text));
        return;
    }
    if point.pairs.as_ref().is_some_and(|p| !p.is_empty()) {
        out.push_str(
            "  NOT reached at the stations asked for, but at certain pairs of track and table:\n",
        );
        pairs(out, point);
        if let Some(m) = point.best.as_ref().map(|b| &b.margins) {
            let text = format!("there: {}", edge(m));
            out.push_str(&wrap("            ", 12, &text));
            looks(out, m);
        }
        return;
    }
    out.push_str("  NOT reached from any station asked for");
    let somewhere = point
        .track_intervals
        .iter()
        .any(|i| !i.intervals.is_empty());
    out.push_str(match somewhere {
        true => ", but from others:\n",
        false => ".\n",
    });
    if somewhere {
        let first = point
            .track_intervals
            .iter()
            .find(|i| !i.intervals.is_empty());
        intervals(out, point, first.and_then(|i| i.table));
    }
}

/// The pair with the largest margin that is clear.
pub fn best_pair(point: &PointDocument) -> Option<&PairDocument> {
    let places = point.pairs.iter().flatten().flat_map(|c| &c.places);
    let clear = places.filter(|p| {
        p.clearance_mm
            .is_none_or(|c| c >= point.clearance_needed_mm)
    });
    clear.max_by(|a, b| a.limit_margin_deg.total_cmp(&b.limit_margin_deg))
}

/// Pairs of track and table: the curves, and the best place.
fn pairs(out: &mut String, point: &PointDocument) {
    let Some(curves) = &point.pairs else { return };
    let Some(best) = best_pair(point) else {
        out.push_str(match curves.is_empty() {
            true => "  pairs     no pair of track and table meets all that is asked.\n",
            false => "  pairs     every pair that was looked at is too near something.\n",
        });
        return;
    };
    let joints: Vec<String> = best
        .joints
        .iter()
        .enumerate()
        .map(|(i, r)| format!("j{} {}", i + 1, fixed(*r, 2)))
        .collect();
    let text = format!(
        "all that is asked is met only at certain pairs of track and table; best: {}, table {}: {}; \
         margin {} deg",
        match best.track {
            Some(r) => format!("track {}", fixed(r, 2)),
            None => "where it stands".to_owned(),
        },
        fixed(best.table, 3),
        joints.join(", "),
        fixed(best.limit_margin_deg, 1)
    );
    out.push_str(&wrap("  pairs     ", 12, &text));
    out.push_str("            all of them, ends by track:\n");
    for curve in curves.iter().take(6) {
        let (Some(a), Some(b)) = (curve.places.first(), curve.places.last()) else {
            continue;
        };
        let most = curve
            .places
            .iter()
            .map(|p| p.limit_margin_deg)
            .fold(0.0, f64::max);
        let end = |p: &PairDocument| match p.track {
            Some(r) => format!("track {} with table {}", fixed(r, 2), fixed(p.table, 3)),
            None => format!("table {}", fixed(p.table, 3)),
        };
        let text = match a == b {
            true => format!("{}, margin {} deg", end(a), fixed(most, 1)),
            false => format!(
                "{} to {}, margin up to {} deg ({})",
                end(a),
                end(b),
                fixed(most, 1),
                curve.posture
            ),
        };
        out.push_str(&wrap("            ", 14, &text));
    }
    if curves.len() > 6 {
        let _ = writeln!(
            out,
            "            and {} curves more, see --json",
            curves.len() - 6
        );
    }
}
