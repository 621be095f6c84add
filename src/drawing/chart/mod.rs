//! Charts: numbers over a line, round a circle, in lanes, as bars, over time.
//!
//! Each chart takes a plain struct and a width and gives a sheet as high as it needs. Letters have the same
//! size at every width. What an ink tells, a shape, a hatch or a word tells too.

pub mod bars;
pub mod cloud;
pub mod dial;
pub mod lanes;
pub mod marks;
pub mod multiples;
mod paper;
pub mod scatter;
pub mod shifts;
pub mod strips;

use crate::drawing::Fault;
use crate::drawing::axis;

/// Values that an axis takes; else why not.
fn check(values: impl IntoIterator<Item = f64>, place: &'static str) -> Result<(), Fault> {
    match values.into_iter().all(|v| v.abs() <= axis::LARGEST) {
        true => Ok(()),
        false => Err(Fault::Number { place }),
    }
}

/// Lowest and highest of some values, made wider by a share; room around 0 or the one value where they are
/// all alike.
fn view(values: impl IntoIterator<Item = f64>, share: f64) -> (f64, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for v in values {
        low = low.min(v);
        high = high.max(v);
    }
    if low > high {
        return (-1.0, 1.0);
    }
    let room = share * (high - low);
    if room > 1e-9 * low.abs().max(high.abs()) {
        return (low - room, high + room);
    }
    let room = match low.abs().max(high.abs()) {
        0.0 => 1.0,
        size => 0.1 * size,
    };
    (low - room, high + room)
}

#[cfg(test)]
mod tests;
