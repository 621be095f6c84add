//! What the page asks, as it comes in: every number is looked at before it is used.

use serde::Deserialize;
use serde::Deserializer;
use serde::Serialize;
use serde::de::Error;
use serde_json::value::RawValue;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::kinematics::MAX_JOINTS;
use crate::readings::stand::Stand;
use crate::view::Refused;

/// No axis reads more, and no place of a cell lies farther off, mm.
const LARGEST: f64 = 1e7;
/// No picture is larger, px.
const LARGEST_PX: f64 = 1e6;
/// Longest name that is looked up, characters.
const LONGEST_NAME: usize = 200;

/// Which geometry a question is answered with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Which {
    /// That of the record in force.
    Registered,
    /// The nominal values of the cell file.
    Drawn,
}

impl Which {
    /// As written in answers.
    pub fn as_str(self) -> &'static str {
        match self {
            Which::Registered => "registered",
            Which::Drawn => "drawn",
        }
    }
}

/// A frame by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FrameName {
    /// Fixed to the plate.
    Plate,
    /// Turns with the platter.
    Platter,
}

impl FrameName {
    /// The frame.
    pub fn belongs(self) -> Belongs {
        match self {
            FrameName::Plate => Belongs::Plate,
            FrameName::Platter => Belongs::Platter,
        }
    }
}

/// A view by its name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ViewName {
    /// From above.
    Plan,
    /// From the side, along +y.
    Elevation,
}

/// What all axes read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AxesRead {
    /// Null without a track.
    pub track: Option<f64>,
    /// Null without a turntable.
    pub table: Option<f64>,
    /// Base to tip.
    pub joints: Vec<f64>,
}

impl AxesRead {
    /// As the page is told.
    pub fn of(cell: &Cell, stand: &Stand) -> AxesRead {
        AxesRead {
            track: cell.track.map(|_| stand.track),
            table: cell.turntable.as_ref().map(|_| stand.table),
            joints: stand.joints[..cell.joints.len().min(MAX_JOINTS)].to_vec(),
        }
    }

    /// The readings, where they are those of this cell.
    pub fn stand(&self, cell: &Cell) -> Result<Stand, Refused> {
        let n = cell.joints.len();
        if self.joints.len() != n {
            return Err(Refused::bad(format!(
                "stand.joints has {} readings, expected {n}, base to tip",
                self.joints.len()
            )));
        }
        let mut stand = Stand {
            track: axis("track", self.track, cell.track.is_some())?,
            table: axis("table", self.table, cell.turntable.is_some())?,
            ..Stand::default()
        };
        for (reading, given) in stand.joints.iter_mut().zip(&self.joints) {
            *reading = within("stand.joints", *given, LARGEST)?;
        }
        Ok(stand)
    }
}

/// Readings as an object. A list of the same values without names is not taken for one: their order is nothing
/// that a person checks.
fn object<'de, D: Deserializer<'de>>(from: D) -> Result<AxesRead, D::Error> {
    let raw = <&RawValue>::deserialize(from)?.get();
    match raw.trim_start().starts_with('{') {
        true => serde_json::from_str(raw).map_err(D::Error::custom),
        false => Err(D::Error::custom("stand is no object, expected {\"track\": …}")),
    }
}

fn axis(name: &str, given: Option<f64>, there: bool) -> Result<f64, Refused> {
    match (given, there) {
        (Some(reading), true) => within(name, reading, LARGEST),
        (None, false) => Ok(0.0),
        (None, true) => Err(Refused::bad(format!(
            "stand.{name} is null or not there, expected its reading"
        ))),
        (Some(_), false) => Err(Refused::bad(format!(
            "stand.{name} has a reading, and this cell has no {name}: null is expected"
        ))),
    }
}

/// A number that something can be done with. What is not a number lands on the refusing side.
pub(super) fn within(name: &str, value: f64, largest: f64) -> Result<f64, Refused> {
    match value.abs() <= largest {
        true => Ok(value),
        // Not with all its figures: there may be three hundred.
        false => Err(Refused::bad(format!(
            "{name} is {value:e}, expected a number between {} and {largest}",
            -largest
        ))),
    }
}

fn pair(name: &str, pair: [f64; 2], largest: f64) -> Result<(f64, f64), Refused> {
    Ok((
        within(name, pair[0], largest)?,
        within(name, pair[1], largest)?,
    ))
}

/// `stand`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StandAsk {
    /// Which geometry.
    pub geometry: Which,
    /// Where all axes are.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
}

/// `drag`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DragAsk {
    /// Which geometry.
    pub geometry: Which,
    /// Where all axes are before.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
    /// track, table, j1 …, tip.
    pub handle: String,
    /// In which picture.
    pub view: ViewName,
    /// To which place of the picture, px.
    #[serde(default)]
    pub to: Option<[f64; 2]>,
    /// Or by how much along the two directions of the picture, mm.
    #[serde(default)]
    pub by_mm: Option<[f64; 2]>,
}

/// Where a handle shall go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Goal {
    /// To a place of the picture, px.
    To((f64, f64)),
    /// By so much along the directions of the picture, mm.
    By((f64, f64)),
}

impl DragAsk {
    /// Where to.
    pub fn goal(&self) -> Result<Goal, Refused> {
        match (self.to, self.by_mm) {
            (Some(to), None) => Ok(Goal::To(pair("to", to, LARGEST_PX)?)),
            (None, Some(by)) => Ok(Goal::By(pair("by_mm", by, LARGEST)?)),
            _ => Err(Refused::bad(
                "one of to and by_mm is expected, and not both".to_owned(),
            )),
        }
    }
}

/// `place`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlaceAsk {
    /// Which geometry.
    pub geometry: Which,
    /// Where all axes are before.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
    /// The frame of the place.
    pub frame: FrameName,
    /// The place, mm.
    pub at_mm: [f64; 3],
    /// Elevation of the tool, deg; null: as it is.
    #[serde(default)]
    pub elevation_deg: Option<f64>,
}

impl PlaceAsk {
    /// The place, mm, and the elevation, rad.
    pub fn place(&self) -> Result<(nalgebra::Vector3<f64>, Option<f64>), Refused> {
        for value in self.at_mm {
            within("at_mm", value, LARGEST)?;
        }
        if let Some(elevation) = self.elevation_deg {
            within("elevation_deg", elevation, 90.0)?;
        }
        let [x, y, z] = self.at_mm;
        Ok((
            nalgebra::Vector3::new(x, y, z),
            self.elevation_deg.map(f64::to_radians),
        ))
    }
}

/// `points`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PointsAsk {
    /// Which geometry.
    pub geometry: Which,
}

/// `point`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PointAsk {
    /// Which geometry.
    pub geometry: Which,
    /// The point.
    pub name: String,
    /// Where all axes are.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
}

/// `map`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MapAsk {
    /// Which geometry.
    pub geometry: Which,
    /// The point.
    pub name: String,
    /// Where all axes are.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
    /// Which place of the map, px.
    pub to: [f64; 2],
}

impl MapAsk {
    /// The place, px.
    pub fn place(&self) -> Result<(f64, f64), Refused> {
        pair("to", self.to, LARGEST_PX)
    }
}

/// `save`.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SaveAsk {
    /// Which geometry.
    pub geometry: Which,
    /// Where all axes are.
    #[serde(deserialize_with = "object")]
    pub stand: AxesRead,
    /// The new point's name.
    pub name: String,
    /// What it moves with.
    pub frame: FrameName,
    /// Whether it shall be written.
    pub confirmed: bool,
}

/// A name that is looked up.
pub(super) fn name(text: &str) -> Result<&str, Refused> {
    match text.chars().count() <= LONGEST_NAME {
        true => Ok(text),
        false => Err(Refused::bad(format!(
            "name is longer than {LONGEST_NAME} characters"
        ))),
    }
}
