//! Stations: positions of track and table, in readings.

use std::f64::consts::PI;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::reach::Refusal;
use crate::units::Range;

/// Most nodes of one axis.
const MOST_NODES: f64 = 1e6;
/// No axis reads more; beyond, a turn of the table means nothing any more.
const LARGEST: f64 = 1e7;
/// Steps that people find round, times a power of ten.
const ROUND: [f64; 4] = [1.0, 2.0, 2.5, 5.0];
/// The track's travel is cut in at least this many steps.
const LEAST_STEPS: f64 = 24.0;

/// Stations are all pairs of these readings.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Grid {
    /// Track readings; empty in a cell without a track.
    pub track: Vec<f64>,
    /// Table readings; empty for a point of the plate.
    pub table: Vec<f64>,
}

/// `A:B:STEP`, meaning A + k·STEP for k = 0 … floor((B − A)/STEP + 1e-9), or one value.
pub fn parse_grid(text: &str) -> Result<Vec<f64>, String> {
    let number = |part: &str| match part.trim().parse::<f64>() {
        Ok(x) if x.abs() <= LARGEST => Ok(x),
        Ok(x) if x.is_finite() => Err(format!(
            "`{part}` in `{text}` is no reading of an axis; give one between -1e7 and 1e7"
        )),
        _ => Err(format!(
            "`{part}` in `{text}` is not a finite number; write A:B:STEP or one value, such as 0:900:50"
        )),
    };
    let parts: Vec<&str> = text.split(':').collect();
    match parts[..] {
        [one] => Ok(vec![number(one)?]),
        [from, to, step] => {
            let (from, to, step) = (number(from)?, number(to)?, number(step)?);
            if step == 0.0 {
                return Err(format!(
                    "the step of `{text}` is 0; give a step toward {to}"
                ));
            }
            let count = ((to - from) / step + 1e-9).floor();
            if count < 0.0 {
                return Err(format!(
                    "the step of `{text}` leads away from {to}; give it the other sign"
                ));
            }
            // NaN and infinity land here.
            if !(count < MOST_NODES) {
                return Err(format!(
                    "`{text}` asks for more than {MOST_NODES} positions; give a longer step"
                ));
            }
            Ok((0..=count as usize)
                .map(|k| from + k as f64 * step)
                .collect())
        }
        _ => Err(format!(
            "`{text}` is neither A:B:STEP nor one value; write for example 0:900:50"
        )),
    }
}

/// The track's travel in readings on a round step, in at least so many steps, both ends included.
/// Empty in a cell without a track.
pub fn track_nodes(cell: &Cell, geometry: &Geometry, least: usize) -> Result<Vec<f64>, Refusal> {
    if geometry.track.is_none() {
        return Ok(Vec::new());
    }
    let (low, high) = track_travel(cell, geometry).ok_or(Refusal::NoTravel)?;
    Ok(match high > low {
        true => nodes(low, high, round_step(high - low, least as f64)),
        false => vec![low],
    })
}

/// Table readings at a step of so many degrees: over its travel, or over one turn, both ends included.
/// Empty in a cell without a turntable.
pub fn table_nodes(cell: &Cell, geometry: &Geometry, step_deg: f64) -> Vec<f64> {
    let Some(turntable) = &geometry.turntable else {
        return Vec::new();
    };
    let step = two_digits(step_deg.to_radians() / turntable.scale_rad.abs());
    match cell.turntable.as_ref().and_then(|t| t.travel_rad) {
        Some(travel) => {
            let (low, high) = readings(travel, |v| table_reading(turntable, v).0);
            if high > low {
                nodes(low, high, step)
            } else {
                vec![low]
            }
        }
        None => {
            let half = (180.0 / step_deg).round() as i32;
            (-half..=half).map(|k| f64::from(k) * step).collect()
        }
    }
}

/// The largest round step that cuts `span` in at least so many steps.
fn round_step(span: f64, least: f64) -> f64 {
    let most = span / least * (1.0 + 1e-12);
    let decade = 10f64.powf(most.log10().floor());
    ROUND
        .iter()
        .map(|r| r * decade)
        .filter(|s| *s <= most)
        .fold(decade, f64::max)
}

/// A + k·STEP from the lower end, and the upper end itself.
fn nodes(low: f64, high: f64, step: f64) -> Vec<f64> {
    let span = high - low;
    if !(span.is_finite() && step > 0.0 && span / step < MOST_NODES) {
        return Vec::new();
    }
    let count = (span / step + 1e-9).floor() as usize;
    let mut out: Vec<f64> = (0..=count).map(|k| low + k as f64 * step).collect();
    if let Some(last) = out.last_mut() {
        if high - *last > 1e-9 * span.max(1.0) {
            out.push(high);
        } else {
            *last = high;
        }
    }
    out
}

fn readings(range: Range, of: impl Fn(f64) -> f64) -> (f64, f64) {
    let (a, b) = (of(range.low), of(range.high));
    (a.min(b), a.max(b))
}

/// The track's travel as readings, ascending; `None` where the file does not say.
pub(super) fn track_travel(cell: &Cell, geometry: &Geometry) -> Option<(f64, f64)> {
    let travel = cell.track?.travel_mm?;
    let track = geometry.track.as_ref()?;
    Some(readings(travel, |v| track_reading(track, v).0))
}

/// The stations asked for; an axis that is left out takes its whole travel: the track in 25 to 60
/// positions on a round step from its lower end, the table every 15° (of one turn where it turns
/// without end), both ends included.
pub fn grid(
    cell: &Cell,
    geometry: &Geometry,
    frame: Belongs,
    track: Option<&[f64]>,
    table: Option<&[f64]>,
) -> Result<Grid, Refusal> {
    let mut out = Grid::default();
    match (&geometry.track, track) {
        (None, Some(_)) => return Err(Refusal::NoAxis("track")),
        (None, None) => {}
        (Some(_), Some(asked)) => out.track = asked.to_vec(),
        (Some(_), None) => {
            let (low, high) = track_travel(cell, geometry).ok_or(Refusal::NoTravel)?;
            out.track = if high > low {
                nodes(low, high, round_step(high - low, LEAST_STEPS))
            } else {
                vec![low]
            };
        }
    }
    match (&geometry.turntable, table) {
        (None, Some(_)) => return Err(Refusal::NoAxis("turntable")),
        (None, None) if frame == Belongs::Platter => return Err(Refusal::NoTurntable),
        (Some(turntable), asked) if frame == Belongs::Platter => {
            out.table = match (asked, cell.turntable.as_ref().and_then(|t| t.travel_rad)) {
                (Some(asked), _) => asked.to_vec(),
                (None, Some(travel)) => {
                    let (low, high) = readings(travel, |v| table_reading(turntable, v).0);
                    let step = two_digits(15.0 * PI / 180.0 / turntable.scale_rad.abs());
                    if high > low {
                        nodes(low, high, step)
                    } else {
                        vec![low]
                    }
                }
                (None, None) => {
                    let step = two_digits(15.0 * PI / 180.0 / turntable.scale_rad.abs());
                    (-12..12).map(|k| f64::from(k) * step).collect()
                }
            };
        }
        _ => {}
    }
    Ok(out)
}

/// A positive number rounded to two digits: a scale that was solved must not make odd steps.
fn two_digits(x: f64) -> f64 {
    if !(x.is_finite() && x > 0.0) {
        return 0.0;
    }
    let decade = 10f64.powf(x.log10().floor() - 1.0);
    (x / decade).round() * decade
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_grid_is_parsed_or_refused_in_words() {
        // By hand.
        assert_eq!(
            parse_grid("0:100:25"),
            Ok(vec![0.0, 25.0, 50.0, 75.0, 100.0])
        );
        assert_eq!(parse_grid("10:-10:-10"), Ok(vec![10.0, 0.0, -10.0]));
        assert_eq!(parse_grid("0:0.3:0.1").map(|v| v.len()), Ok(4));
        assert_eq!(parse_grid("12.5"), Ok(vec![12.5]));
        assert_eq!(parse_grid("5:5:1"), Ok(vec![5.0]));
        for bad in [
            "",
            "a",
            "nan",
            "0:inf:1",
            "0:1",
            "0:10:0",
            "0:10:-1",
            "0:1e9:1",
            "0:1:2:3",
            "0:1e308:1e-308",
        ] {
            let message = parse_grid(bad).expect_err(bad);
            assert!(message.contains(bad), "{message}");
        }
    }

    #[test]
    fn default_steps_are_round() {
        // By hand: 900/24 = 37.5, 1200/24 = 50, 480/24 = 20, 3000/24 = 125.
        assert_eq!(round_step(900.0, LEAST_STEPS), 25.0);
        assert_eq!(round_step(1200.0, LEAST_STEPS), 50.0);
        assert_eq!(round_step(480.0, LEAST_STEPS), 20.0);
        assert_eq!(round_step(3000.0, LEAST_STEPS), 100.0);
        assert_eq!(nodes(0.0, 5.0, 2.0), [0.0, 2.0, 4.0, 5.0]);
        assert_eq!(two_digits(14.9955), 15.0);
    }
}
