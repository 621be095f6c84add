//! A part's movement over the plate in words of the plate: which way, how far, by how many holes.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::parts::Part;

/// How far from a whole number of pitches a shift may lie: screws have play in their holes (*common
/// practice*: a millimetre or two at either end).
const PLAY_MM: f64 = 3.0;
/// No farther than this share of the pitch in any case.
const NEAR_WHOLE: f64 = 0.2;

/// A shift by whole holes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WholeSteps {
    /// Holes along +x.
    pub columns: i64,
    /// Holes along +y.
    pub rows: i64,
}

/// Where a part stands, at both ends of what it is: of the travel for a track.
fn ends(part: Part, cell: &Cell, geometry: &Geometry) -> Vec<Vector3<f64>> {
    match part {
        Part::Track => {
            let travel = cell.track.and_then(|t| t.travel_mm);
            let [low, high] = travel.map_or([0.0, 0.0], |t| [t.low, t.high]);
            [low, high]
                .map(|s| ArmScene::carriage(geometry, s).carriage_mm)
                .to_vec()
        }
        Part::Mount => vec![ArmScene::new(geometry, 0.0, &[]).base_mm],
        Part::Turntable => geometry.turntable.iter().map(|t| t.at_mm).collect(),
        _ => Vec::new(),
    }
}

/// How far a part moved over the plate in its middle, mm; `None` for what does not stand on the plate.
pub fn shift_mm(part: Part, cell: &Cell, old: &Geometry, new: &Geometry) -> Option<Vector3<f64>> {
    let (before, after) = (ends(part, cell, old), ends(part, cell, new));
    let n = before.len();
    let sum = before.iter().zip(&after).map(|(a, b)| b - a);
    (n > 0).then(|| sum.sum::<Vector3<f64>>() / n as f64)
}

/// Whether a part moved by whole holes of the plate, at each of its ends by the same number.
pub fn whole_steps(part: Part, cell: &Cell, old: &Geometry, new: &Geometry) -> Option<WholeSteps> {
    let (before, after) = (ends(part, cell, old), ends(part, cell, new));
    let middle = shift_mm(part, cell, old, new)?;
    let pitch = [cell.plate.pitch_x_mm, cell.plate.pitch_y_mm];
    let steps = [middle.x / pitch[0], middle.y / pitch[1]].map(f64::round);
    if !steps.iter().all(|s| s.is_finite()) || steps == [0.0, 0.0] {
        return None;
    }
    let near = before.iter().zip(&after).all(|(a, b)| {
        let d = b - a;
        let off = [d.x - steps[0] * pitch[0], d.y - steps[1] * pitch[1]];
        off.iter()
            .zip(pitch)
            .all(|(o, p)| o.abs() <= PLAY_MM.min(NEAR_WHOLE * p))
    });
    near.then_some(WholeSteps {
        columns: steps[0] as i64,
        rows: steps[1] as i64,
    })
}
