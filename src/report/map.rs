//! `reach --map`: the map as a document, as CSV, as a picture and in words.

mod words;

pub use words::sentence;
pub use words::title;
pub use words::words;

use std::fmt::Write;

use serde::Serialize;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::drawing::Fault;
use crate::drawing::map::AxisOf;
use crate::drawing::map::Kind;
use crate::drawing::map::Level;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Mark;
use crate::drawing::map::Plot;
use crate::drawing::map::Room;
use crate::drawing::map::map_with_plot;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::report::number::fixed;
use crate::tasks::Node;
use crate::tasks::Rows;

/// Margins that differ by less are told alike.
const LIKE_DEG: f64 = 0.05;
/// Elevations that differ by less are the same.
const SAME_DEG: f64 = 1e-6;

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
    /// The best node of the whole map; where the rows are elevations it may have another one than the point
    /// asks for.
    pub best: Option<MapBest>,
    /// Of a map over elevations: the elevation that the point asks for, and its best station there; null
    /// elsewhere, and where the point leaves it free.
    pub asked: Option<AskedElevation>,
    /// Files that were written.
    pub files: Vec<String>,
    /// Whether the cell has a track.
    #[serde(skip)]
    pub with_track: bool,
    /// Where the point was taught: readings of track and table.
    #[serde(skip)]
    pub taught: Option<(f64, f64)>,
}

/// The elevation that a point asks for.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct AskedElevation {
    /// Degrees; of a taught point the elevation that it was taught at.
    pub elevation_deg: f64,
    /// The best station there, as `reach --point` finds it: over the same stations, and of a taught point in
    /// the posture nearest to the taught one. Null where no station reaches the point, clear of everything.
    pub best: Option<MapBest>,
    /// How many track readings were looked at for it; 0 without a track.
    pub stations: usize,
    /// Whether these are the columns of the map.
    #[serde(skip)]
    pub same_stations: bool,
    /// Whether the point was taught.
    #[serde(skip)]
    pub taught: bool,
}

/// A best place of a map.
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
            asked: None,
            margin_deg,
            files,
            with_track: !tracks.is_empty(),
            taught: None,
        }
    }

    /// The best node, where it has another elevation than the point asks for (of a taught point: or another
    /// posture) and more room than what is best as asked.
    fn elsewhere(&self) -> Option<&MapBest> {
        let (asked, best) = (self.asked.as_ref()?, self.best.as_ref()?);
        let more = asked
            .best
            .is_none_or(|a| best.margin_deg > a.margin_deg + LIKE_DEG);
        let other = (best.row - asked.elevation_deg).abs() > SAME_DEG || asked.taught;
        (more && other).then_some(best)
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
    let labels = Labels::of(document);
    let marks = marks(document, &labels);
    let caption = [caption(document, cell, source)];
    let tracks = AxisOf {
        label: "track, reading",
        nodes: &document.track,
    };
    let rows = AxisOf {
        label: match document.rows_are {
            "table" => "table, reading",
            "elevation" => "elevation of the tool, deg",
            _ => "",
        },
        nodes: &document.rows,
    };
    let level = document.asked.as_ref().map(|asked| Level {
        at: asked.elevation_deg,
        upright: !document.with_track,
        label: &labels.asked,
        key: match asked.taught {
            true => "elevation as taught",
            false => "elevation asked for",
        },
    });
    let picture = MapPicture {
        title: &title,
        caption: &caption,
        x: tracks,
        y: rows,
        values: &document.margin_deg,
        value_label: "margin, deg",
        limits_x,
        limits_y,
        room,
        marks: &marks,
        level,
    };
    if document.with_track {
        return map_with_plot(&picture);
    }
    // Without a track the rows lie along the sheet, as one bar.
    let marks: Vec<Mark> = marks
        .iter()
        .map(|m| Mark {
            x: m.y,
            y: m.x,
            ..*m
        })
        .collect();
    let (svg, plot) = map_with_plot(&MapPicture {
        x: rows,
        y: AxisOf {
            label: "",
            nodes: &document.track,
        },
        limits_x: limits_y,
        limits_y: None,
        marks: &marks,
        ..picture
    })?;
    Ok((svg, plot.turned()))
}

/// What marks and the line are named with.
struct Labels {
    best: String,
    elsewhere: String,
    asked: String,
}

impl Labels {
    fn of(document: &MapDocument) -> Labels {
        let deg = |b: &MapBest| format!("{} deg", fixed(b.margin_deg, 1));
        let best = match &document.asked {
            Some(asked) => asked.best.as_ref(),
            None => document.best.as_ref(),
        };
        Labels {
            best: best.map_or(String::new(), |b| format!("best: {}", deg(b))),
            elsewhere: document.elsewhere().map_or(String::new(), deg),
            asked: document.asked.map_or(String::new(), |a| {
                let how = if a.taught { "as taught" } else { "asked for" };
                format!("{how}: {} deg", reading(a.elevation_deg))
            }),
        }
    }
}

/// The marks of a map, by track and row.
fn marks<'a>(document: &MapDocument, labels: &'a Labels) -> Vec<Mark<'a>> {
    let mark = |b: &MapBest, label: &'a str, kind| Mark {
        x: b.track.unwrap_or(0.0),
        y: b.row,
        label,
        kind,
    };
    let mut marks = Vec::new();
    match &document.asked {
        Some(asked) => {
            let best = asked.best.as_ref();
            marks.extend(best.map(|b| mark(b, &labels.best, Kind::Asked)));
            let other = document.elsewhere();
            marks.extend(other.map(|b| mark(b, &labels.elsewhere, Kind::Elsewhere)));
        }
        None => {
            let best = document.best.as_ref();
            marks.extend(best.map(|b| mark(b, &labels.best, Kind::Best)));
        }
    }
    let taught = document.taught.and_then(|(track, table)| {
        let row = match document.rows_are {
            "table" => table,
            "elevation" => document.asked?.elevation_deg,
            _ => return None,
        };
        Some(Mark {
            x: if document.with_track { track } else { 0.0 },
            y: row,
            label: "taught here",
            kind: Kind::Taught,
        })
    });
    marks.extend(taught);
    marks
}

/// What stands below the picture.
fn caption(document: &MapDocument, cell: &Cell, source: &str) -> String {
    let best = words::best(document);
    let grids = words::grids(document);
    format!(
        "{best} {grids}From {source}. Degrees to the nearest joint limit of the best posture{}. Axes in readings. \
         Calculated positions: prove each one slowly first.",
        match cell.bodies.is_empty() {
            true => "; clearances are not checked",
            false => " that is clear of everything the cell file tells",
        }
    )
    .trim_start()
    .to_owned()
}
