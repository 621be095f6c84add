//! The tip's shift over the working range.

use crate::bench::Bench;
use crate::cell::Belongs;
use crate::kinematics::joint_reading;
use crate::kinematics::radical_inverse;
use crate::kinematics::track_reading;
use crate::readings::stand::Stand;
use crate::transfer::carried::shift_at;
use crate::transfer::kinship::Epoch;

/// So many postures are looked at.
const POSTURES: usize = 400;
/// Tried for that many at most: many would put the tip through the plate.
const TRIED: usize = 8 * POSTURES;
const BASES: [usize; 8] = [2, 3, 5, 7, 11, 13, 17, 19];

/// What was seen over the range.
#[derive(Debug, Clone, PartialEq)]
pub struct OverRange {
    /// Postures that were looked at.
    pub postures: usize,
    /// Half of them shift by less, mm.
    pub median_mm: f64,
    /// The largest shift, mm.
    pub largest_mm: f64,
    /// 95 % radius of that shift, mm.
    pub largest_u95_mm: f64,
    /// Where that is.
    pub at: Stand,
}

/// The tip's shift in the plate's frame at postures spread evenly over travel and joint limits (Halton
/// 1960), the tip above the plate. `None` where there is no such posture.
pub fn over_range(bench: &Bench, epoch: &Epoch<'_>) -> Option<OverRange> {
    let (cell, geometry) = (&bench.cell, &epoch.new.geometry);
    let n = geometry.joints.len();
    let travel = cell.track.and_then(|t| t.travel_mm);
    let mut seen: Vec<(f64, f64, Stand)> = Vec::new();
    for k in 1..=TRIED {
        let share = |axis: usize| radical_inverse(k, BASES[axis]);
        let mut stand = Stand::default();
        if let (Some(track), Some(range)) = (&geometry.track, travel) {
            let value = range.low + (range.high - range.low) * share(7);
            stand.track = track_reading(track, value).0;
        }
        for j in 0..n {
            let range = cell.joints[j].limits_rad;
            let value = range.low + (range.high - range.low) * share(j);
            stand.joints[j] = joint_reading(&geometry.joints[j], value).0;
        }
        if stand.arm(geometry, n).tip_mm.z <= 0.0 {
            continue;
        }
        let shift = shift_at(epoch, &stand, Belongs::Plate)?;
        seen.push((shift.mm.norm(), shift.errors.u95_mm, stand));
        if seen.len() == POSTURES {
            break;
        }
    }
    seen.sort_by(|a, b| a.0.total_cmp(&b.0));
    let last = seen.last()?;
    Some(OverRange {
        postures: seen.len(),
        median_mm: seen[seen.len() / 2].0,
        largest_mm: last.0,
        largest_u95_mm: last.1,
        at: last.2,
    })
}
