//! `reach --map`: the map as a document, as CSV, as a picture and in words.

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::map::AxisOf;
use crate::drawing::map::Kind;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Mark;
use crate::drawing::map::Plot;
use crate::drawing::map::Room;
use crate::drawing::map::map_with_plot;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::report::number::fixed;
use crate::report::words::CAUTION;
use crate::report::words::wrap;
use crate::tasks::Node;
use crate::tasks::Rows;

/// `reach --map --json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MapDocument {
    /// The point or the task.
    pub of: String,
    /// point or task.
    pub kind: &'static str,
    /// What the rows are: table (readings), elevation (degrees) or none.
    pub rows_are: &'static str,
    /// Track readings of the columns; one 0 without a track.
    pub track: Vec<f64>,
    /// Values of the rows.
    pub rows: Vec<f64>,
    /// By row, then by column: degrees to the nearest joint limit of the best posture that is clear;
    /// null where there is none.
    pub margin_deg: Vec<Option<f64>>,
    /// Its clearance, mm; null where the cell tells no bodies.
    pub clearance_mm: Vec<Option<f64>>,
    /// The best node.
    pub best: Option<MapBest>,
    /// Files that were written.
    pub files: Vec<String>,
    /// Whether the cell has a track.
    #[serde(skip)]
    pub with_track: bool,
    /// Where the point was taught: readings of track and table.
    #[serde(skip)]
    pub taught: Option<(f64, f64)>,
}

/// The best node of a map.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MapBest {
    /// Reading of the track; null without one.
    pub track: Option<f64>,
    /// Value of the row.
    pub row: f64,
    /// Degrees to the nearest joint limit.
    pub margin_deg: f64,
}

impl MapDocument {
    /// From what was worked out.
    pub fn new(
        of: &str,
        is_task: bool,
        tracks: &[f64],
        rows: &Rows,
        nodes: &[Node],
        files: Vec<String>,
    ) -> Self {
        let (rows_are, values) = match rows {
            Rows::Table(readings) => ("table", readings.clone()),
            Rows::Elevation(rad) => ("elevation", rad.iter().map(|e| e.to_degrees()).collect()),
            Rows::One => ("none", vec![0.0]),
        };
        let columns = tracks.len().max(1);
        let margin_deg: Vec<Option<f64>> = nodes
            .iter()
            .map(|n| n.margin_rad.map(f64::to_degrees))
            .collect();
        // Of equal margins the first.
        let best = margin_deg
            .iter()
            .enumerate()
            .filter_map(|(k, m)| Some((k, (*m)?)))
            .fold(None, |best: Option<(usize, f64)>, (k, m)| match best {
                Some((_, b)) if b >= m => best,
                _ => Some((k, m)),
            });
        MapDocument {
            of: of.to_owned(),
            kind: if is_task { "task" } else { "point" },
            rows_are,
            track: if tracks.is_empty() {
                vec![0.0]
            } else {
                tracks.to_vec()
            },
            rows: values.clone(),
            clearance_mm: nodes.iter().map(|n| n.clearance_mm).collect(),
            best: best.map(|(k, margin_deg)| MapBest {
                track: tracks.get(k % columns).copied(),
                row: values.get(k / columns).copied().unwrap_or(0.0),
                margin_deg,
            }),
            margin_deg,
            files,
            with_track: !tracks.is_empty(),
            taught: None,
        }
    }

    fn row_name(&self) -> &'static str {
        match self.rows_are {
            "elevation" => "elevation_deg",
            _ => "table",
        }
    }

    fn place(&self, best: &MapBest) -> String {
        let track = best.track.map(|r| format!("track {}", reading(r)));
        let row = match self.rows_are {
            "table" => Some(format!("table {}", reading(best.row))),
            "elevation" => Some(format!("elevation {} deg", reading(best.row))),
            _ => None,
        };
        let parts: Vec<String> = [track, row].into_iter().flatten().collect();
        parts.join(", ")
    }
}

fn reading(value: f64) -> String {
    let text = fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// One line a node.
pub fn csv(document: &MapDocument) -> String {
    let mut out = format!(
        "# Best margin of the {} {}, calculated: prove each position slowly first.\ntrack,{},margin_deg,clearance_mm\n",
        document.kind,
        document.of,
        document.row_name()
    );
    let columns = document.track.len();
    for (k, margin) in document.margin_deg.iter().enumerate() {
        let track = match document.with_track {
            true => fixed(document.track[k % columns], 4),
            false => String::new(),
        };
        let row = match document.rows_are {
            "none" => String::new(),
            _ => fixed(document.rows[k / columns], 4),
        };
        let number = |v: Option<f64>| v.map_or(String::new(), |v| fixed(v, 3));
        let clearance = document.clearance_mm.get(k).copied().flatten();
        let _ = writeln!(
            out,
            "{track},{row},{},{}",
            number(*margin),
            number(clearance)
        );
    }
    out
}

/// The picture.
pub fn picture(
    cell: &Cell,
    geometry: &Geometry,
    document: &MapDocument,
    source: &str,
    room: Room,
) -> Result<String, Fault> {
    Ok(picture_with_plot(cell, geometry, document, source, room)?.0)
}

/// Its title.
pub fn title(document: &MapDocument) -> String {
    format!("Margin of the {} {}", document.kind, document.of)
}

/// What to see in it, in a sentence.
pub fn sentence(document: &MapDocument) -> String {
    let n = document.margin_deg.len();
    let reached = document.margin_deg.iter().flatten().count();
    match &document.best {
        Some(best) => format!(
            "Most room for the joints at {}: {} deg to the nearest limit. It is reached at {reached} of {n} \
             places of the map; the lighter, the more room.",
            document.place(best),
            fixed(best.margin_deg, 1)
        ),
        None => format!("It is reached at none of the {n} places of the map."),
    }
}

/// The picture, and where its plot lies in it.
pub fn picture_with_plot(
    cell: &Cell,
    geometry: &Geometry,
    document: &MapDocument,
    source: &str,
    room: Room,
) -> Result<(String, Plot), Fault> {
    let title = title(document);
    let span = |a: f64, b: f64| (a.min(b), a.max(b));
    let travel = cell
        .track
        .and_then(|t| t.travel_mm)
        .zip(geometry.track.as_ref());
    let limits_x = travel.map(|(t, track)| {
        span(
            track_reading(track, t.low).0,
            track_reading(track, t.high).0,
        )
    });
    let turn = cell
        .turntable
        .as_ref()
        .and_then(|t| t.travel_rad)
        .zip(geometry.turntable.as_ref());
    let limits_y = turn
        .filter(|_| document.rows_are == "table")
        .map(|(t, table)| {
            span(
                table_reading(table, t.low).0,
                table_reading(table, t.high).0,
            )
        });
    let name = document
        .best
        .as_ref()
        .map(|b| format!("best: {} deg", fixed(b.margin_deg, 1)));
    let mut marks = Vec::new();
    if let (Some(b), Some(name)) = (&document.best, &name) {
        marks.push(Mark {
            x: b.track.unwrap_or(0.0),
            y: b.row,
            label: name,
            kind: Kind::Best,
        });
    }
    if let (Some((x, y)), true) = (document.taught, document.rows_are == "table") {
        marks.push(Mark {
            x,
            y,
            label: "taught here",
            kind: Kind::Taught,
        });
    }
    let best = document.best.as_ref().map_or(String::new(), |b| {
        format!(
            "Best at {}: {} deg. ",
            document.place(b),
            fixed(b.margin_deg, 1)
        )
    });
    let words = format!(
        "{best}From {source}. Degrees to the nearest joint limit of the best posture{}. Axes in readings. \
         Calculated positions: prove each one slowly first.",
        match cell.bodies.is_empty() {
            true => "; clearances are not checked",
            false => " that is clear of everything the cell file tells",
        }
    );
    let caption = [words];
    map_with_plot(&MapPicture {
        title: &title,
        caption: &caption,
        x: AxisOf {
            label: match document.with_track {
                true => "track, reading",
                false => "this cell has no track",
            },
            nodes: &document.track,
        },
        y: AxisOf {
            label: match document.rows_are {
                "table" => "table, reading",
                "elevation" => "elevation of the tool, deg",
                _ => "",
            },
            nodes: &document.rows,
        },
        values: &document.margin_deg,
        value_label: "margin, deg",
        limits_x: limits_x.filter(|_| document.with_track),
        limits_y,
        room,
        marks: &marks,
    })
}

/// The answer for people.
pub fn words(document: &MapDocument, source: &str, verdict: Option<&str>) -> String {
    let (of, kind) = (&document.of, document.kind);
    let n = document.margin_deg.len();
    let reached = document.margin_deg.iter().flatten().count();
    let mut out = match &document.best {
        Some(best) => wrap(
            "",
            2,
            &format!(
                "MAP of the {kind} {of}: best margin {} deg at {}.",
                fixed(best.margin_deg, 1),
                document.place(best)
            ),
        ),
        None if kind == "task" => format!(
            "LOOK: MAP of the task {of}: at none of the {n} nodes can every step be done; `notchpin task`\n\
             tells from which stations it can.\n"
        ),
        None => format!("LOOK: MAP of the {kind} {of}: reached from none of the {n} nodes.\n"),
    };
    if document.best.is_some() {
        let share = 100.0 * reached as f64 / n.max(1) as f64;
        let all = match kind {
            "task" => {
                "every step can be done, track and table standing still; ways are not checked"
            }
            _ => "it is reached",
        };
        let text = format!("At {reached} of {n} nodes ({} %) {all}.", fixed(share, 0));
        out.push_str(&wrap("", 0, &text));
    }
    if verdict == Some("look") {
        out.push_str("Look: this registration's verdict was look, not accepted.\n");
    }
    for file in &document.files {
        out.push_str(&wrap("Written: ", 9, file));
    }
    out.push_str(&wrap("From ", 5, source));
    out.push('\n');
    out.push_str(CAUTION);
    out
}
