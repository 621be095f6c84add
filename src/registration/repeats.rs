//! The JSON of what repeated readings say: millimetres and degrees.

use serde::Deserialize;
use serde::Serialize;

use crate::bench::Bench;
use crate::fit::repeats::AxisRepeats;
use crate::fit::repeats::Repeats;
use crate::readings::ResidualUnit;
use crate::readings::RunAxis;
use crate::readings::Taken;
use crate::registration::PlaceDocument;

/// What repeated readings say.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RepeatsDocument {
    /// The tip at targets that were touched again and again (ISO 9283).
    pub tips: Vec<TipRepeatsDocument>,
    /// Track and turntable (ISO 230-2).
    pub axes: Vec<AxisRepeatsDocument>,
    /// Scatter against what was stated.
    pub scatter: Vec<ScatterDocument>,
}

/// The tip at one target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TipRepeatsDocument {
    /// The touches.
    pub readings: Vec<PlaceDocument>,
    /// Whether any of them took part in the solution: then AP is near 0 by itself.
    pub took_part: bool,
    /// AP: how far the mean is off the target.
    pub accuracy_mm: f64,
    /// AP along x, y, z.
    pub accuracy_xyz_mm: [f64; 3],
    /// RP: mean distance from the mean, and three standard deviations of it.
    pub repeatability_mm: f64,
}

/// One axis.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AxisRepeatsDocument {
    /// track or turntable.
    pub axis: String,
    /// The first reading of the series.
    pub first: PlaceDocument,
    /// mm or deg, of all figures.
    pub unit: String,
    /// Positions reached from both sides.
    pub positions: usize,
    /// Fewest runs one way at a position.
    pub least_runs: usize,
    /// B.
    pub reversal: f64,
    /// Mean of B_i.
    pub mean_reversal: f64,
    /// E up, E down, E.
    pub systematic: [f64; 3],
    /// M.
    pub mean_deviation: f64,
    /// R up, R down, R; null where some position has a single run.
    pub repeatability: Option<[f64; 3]>,
    /// A up, A down, A; null likewise.
    pub accuracy: Option<[f64; 3]>,
}

/// Scatter of one kind of reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ScatterDocument {
    /// Its file.
    pub file: String,
    /// Settings that were repeated.
    pub groups: usize,
    /// Degrees of freedom.
    pub dof: usize,
    /// Scatter over what was stated.
    pub ratio: f64,
    /// What the repeats say that u is, mm or deg.
    pub seen: f64,
    /// mm or deg.
    pub unit: String,
    /// `more`, `less`, or `as stated`.
    pub verdict: String,
}

/// The document; `None` where nothing is repeated.
pub(super) fn repeats(
    bench: &Bench,
    repeated: &[usize],
    repeats: &Repeats,
) -> Option<RepeatsDocument> {
    let taken = |k: &usize| -> &Taken { &bench.taken[repeated[*k]] };
    if repeats.tips.is_empty() && repeats.axes.is_empty() && repeats.scatter.is_empty() {
        return None;
    }
    let tips = repeats.tips.iter().map(|t| TipRepeatsDocument {
        readings: t
            .readings
            .iter()
            .map(|k| PlaceDocument {
                file: taken(k).file.to_string(),
                line: taken(k).line,
            })
            .collect(),
        took_part: t.readings.iter().any(|k| taken(k).used()),
        accuracy_mm: t.position.accuracy,
        accuracy_xyz_mm: t.position.accuracy_xyz.into(),
        repeatability_mm: t.position.repeatability,
    });
    let scatter = repeats.scatter.iter().map(|s| {
        let unit = bench
            .taken
            .iter()
            .find(|t| t.reading.file() == s.kind)
            .map_or(ResidualUnit::Mm, |t| t.reading.unit());
        ScatterDocument {
            file: s.kind.to_owned(),
            groups: s.groups,
            dof: s.dof,
            ratio: s.ratio,
            seen: s.seen / unit.in_code(),
            unit: unit.as_str().to_owned(),
            verdict: match (s.more, s.less) {
                (true, _) => "more",
                (_, true) => "less",
                _ => "as stated",
            }
            .to_owned(),
        }
    });
    Some(RepeatsDocument {
        tips: tips.collect(),
        axes: repeats
            .axes
            .iter()
            .map(|a| axis(a, taken(&a.first)))
            .collect(),
        scatter: scatter.collect(),
    })
}

fn axis(found: &AxisRepeats, first: &Taken) -> AxisRepeatsDocument {
    let (name, unit) = match found.axis {
        RunAxis::Track => ("track", ResidualUnit::Mm),
        RunAxis::Table => ("turntable", ResidualUnit::Deg),
    };
    let one = unit.in_code();
    let three = |values: [f64; 3]| values.map(|v| v / one);
    let means = &found.figures.means;
    let scatter = found.figures.scatter.as_ref();
    AxisRepeatsDocument {
        axis: name.to_owned(),
        first: PlaceDocument {
            file: first.file.to_string(),
            line: first.line,
        },
        unit: unit.as_str().to_owned(),
        positions: found.positions,
        least_runs: found.least_runs,
        reversal: means.reversal / one,
        mean_reversal: means.mean_reversal / one,
        systematic: three([means.systematic_up, means.systematic_down, means.systematic]),
        mean_deviation: means.mean_deviation / one,
        repeatability: scatter
            .map(|s| three([s.repeatability_up, s.repeatability_down, s.repeatability])),
        accuracy: scatter.map(|s| three([s.accuracy_up, s.accuracy_down, s.accuracy])),
    }
}
