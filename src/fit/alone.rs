//! From what single readings say to the stand-alone fits: used for starts and for the quick look.

use crate::cell::TrackGeometry;
use crate::fit::standalone::Approach;
use crate::fit::standalone::circular::NotchRow;
use crate::fit::standalone::line;
use crate::fit::standalone::line::LineFit;
use crate::fit::standalone::line::LineModel;
use crate::fit::standalone::line::LineRow;
use crate::fit::standalone::turns::Turn;
use crate::readings::hints::CountHint;
use crate::readings::hints::Hints;
use crate::readings::hints::NotchHint;

/// Straight lines through the counts along x and along y.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackLines {
    /// Along x and along y; `None` where the counts give no line.
    pub along: [Option<LineFit>; 2],
    /// Direction of the track, rad; the given one unless there are both lines.
    pub yaw_rad: f64,
}

/// Fits the lines; each count comes with its u, mm. Lost motion is sought along the axis that the
/// track follows, where both approaches were noted.
pub fn track_lines(track: &TrackGeometry, counts: &[(CountHint, f64)]) -> TrackLines {
    let mut found = TrackLines {
        along: [None, None],
        yaw_rad: track.mounting.yaw_rad,
    };
    // The features' places depend a little on the direction that is sought: a second round is enough.
    for _ in 0..2 {
        let (s, c) = found.yaw_rad.sin_cos();
        for (along, fit) in found.along.iter_mut().enumerate() {
            let rows: Vec<LineRow> = counts
                .iter()
                .filter(|(h, _)| h.along == along)
                .map(|(h, u)| {
                    let f = h.feature_mm;
                    let across = [c * f.x - s * f.y, s * f.x + c * f.y][along];
                    LineRow {
                        reading: h.track,
                        position: h.position_mm - across,
                        // Along this axis the position rises where the direction does.
                        approach: Approach::from(h.approach)
                            .of_value(track.scale_mm * [c, s][along]),
                        weight: 1.0 / (u * u),
                    }
                })
                .collect();
            let follows = [c.abs(), s.abs()][along] > 0.5;
            let reversal = line::fit(&rows, LineModel::WITH_REVERSAL).ok();
            *fit = reversal
                .filter(|_| follows)
                .or_else(|| line::fit(&rows, LineModel::PLAIN).ok());
        }
        if let [Some(x), Some(y)] = &found.along {
            let sense = track.scale_mm.signum();
            found.yaw_rad = (y.scale.value * sense).atan2(x.scale.value * sense);
        }
    }
    found
}

/// A notch at the switch, with its u in rad.
pub fn notch_row(hint: &NotchHint, u: f64) -> NotchRow {
    NotchRow {
        notch: hint.angle_rad,
        reading: hint.table,
        approach: hint.approach.into(),
        weight: 1.0 / (u * u),
    }
}

/// The touches of one mark of the platter.
pub fn turns_of(hints: &Hints, mark: usize) -> Vec<Turn> {
    let turns = hints.turns.iter().filter(|h| h.mark == mark);
    turns
        .map(|h| Turn {
            angle: h.turn_rad,
            point: h.at_mm,
            weight: 1.0,
        })
        .collect()
}
