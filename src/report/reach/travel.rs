//! Along the track: where a point is reached, and how far a return to it may miss.

use std::fmt::Write;

use crate::cell::Cell;
use crate::report::number::fixed;
use crate::report::reach::PointDocument;
use crate::report::reach::StationDocument;
use crate::report::reach::words::chosen;
use crate::report::reach::words::place;
use crate::report::reach::words::radius;
use crate::report::reach::words::reading;
use crate::report::words::wrap;

/// Along the track: where the point can be reached, at the table angle of the best station.
pub(super) fn intervals(out: &mut String, point: &PointDocument, table: Option<f64>) {
    if point.track_intervals.is_empty() {
        return;
    }
    let shown = point
        .track_intervals
        .iter()
        .find(|i| i.table == table)
        .unwrap_or(&point.track_intervals[0]);
    let spans: Vec<String> = shown
        .intervals
        .iter()
        .map(|[a, b]| match b - a < 0.005 {
            true => fixed(*a, 2),
            false => format!("{} to {}", fixed(*a, 2), fixed(*b, 2)),
        })
        .collect();
    let mut text = match spans.is_empty() {
        true => "from nowhere along the track".to_owned(),
        false => format!("from track {}", spans.join(", and ")),
    };
    if let Some(table) = shown.table {
        let _ = write!(text, " at table {}", reading(table));
    }
    let n = point.track_intervals.len();
    if n > 1 {
        let some = point
            .track_intervals
            .iter()
            .filter(|i| !i.intervals.is_empty())
            .count();
        let _ = write!(
            text,
            "; from some track position at {some} of {n} table angles"
        );
    }
    out.push_str(&wrap("  reached   ", 12, &text));
}

/// How far a return to a taught point may miss, near where it was taught and from the worst station.
pub(super) fn returning(
    out: &mut String,
    cell: &Cell,
    point: &PointDocument,
    best: &StationDocument,
) {
    let misses = |s: &StationDocument| chosen(point, s)?.return_u95_mm;
    let known = || point.stations.iter().filter_map(|s| Some((s, misses(s)?)));
    let (Some(least), Some(most), Some(here)) = (
        known().min_by(|a, b| a.1.total_cmp(&b.1)),
        known().max_by(|a, b| a.1.total_cmp(&b.1)),
        misses(best),
    ) else {
        return;
    };
    let mut text = format!("back at it within {} mm in 95 of 100 returns", radius(here));
    if radius(least.1) != radius(most.1) {
        let _ = write!(
            text,
            " from the best station; {} at {}, {} at {}",
            radius(least.1),
            place(least.0.track, least.0.table),
            radius(most.1),
            place(most.0.track, most.0.table)
        );
    }
    text.push('.');
    if let Some(limit) = cell.accept.tip_mm {
        let far = known().filter(|(_, u)| *u > limit).count();
        let n = known().count();
        let _ = match far {
            0 => write!(
                text,
                " Good enough for the {} mm asked for, from all {n} stations.",
                reading(limit)
            ),
            _ => write!(
                text,
                " From {far} of {n} stations that is more than the {} mm asked for: teach it again \
                 there, or register better.",
                reading(limit)
            ),
        };
    }
    out.push_str(&wrap("  return    ", 12, &text));
}
