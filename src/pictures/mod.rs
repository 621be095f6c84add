//! What a cell and its registration look like: drawings with a sentence each that says what to see.
//!
//! Every picture is made for a sheet of a given width, so that letters keep their size on a telephone:
//! [`WIDE`] on paper and screens, [`NARROW`] on a telephone. Numbers are rounded as in `report`.

pub mod arrows;
mod aside;
pub mod cell;
pub mod contributions;
mod directions;
pub mod drift;
pub mod joints;
mod marked;
pub mod moved;
pub mod notch_dial;
mod play;
pub mod reach_lanes;
mod residuals;
pub mod scene;
mod seen;
pub mod track_line;

use crate::drawing::Fault;

/// Width of a picture on paper and on screens, px.
pub const WIDE: f64 = 720.0;
/// Width of a picture on a telephone, px.
pub const NARROW: f64 = 360.0;

/// A drawing of a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Short name in small letters and hyphens, as `track-line`: file name and anchor.
    pub slug: String,
    /// Its heading.
    pub heading: String,
    /// What to see in it, in a sentence or two: the answer first.
    pub sentence: String,
    /// For [`WIDE`].
    pub wide: String,
    /// For [`NARROW`].
    pub narrow: String,
}

impl Picture {
    /// Draws for both widths.
    pub fn new(
        slug: &str,
        heading: &str,
        sentence: &str,
        draw: impl Fn(f64) -> Result<String, Fault>,
    ) -> Result<Picture, Fault> {
        Ok(Picture {
            slug: slug.to_owned(),
            heading: heading.to_owned(),
            sentence: sentence.to_owned(),
            wide: draw(WIDE)?,
            narrow: draw(NARROW)?,
        })
    }
}

#[cfg(test)]
mod tests;
