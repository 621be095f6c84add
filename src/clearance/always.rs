//! Pairs that are too near in every posture: the capsules are drawn so, and nothing would ever be clear.

use crate::clearance::AxisValues;
use crate::clearance::Other;
use crate::clearance::surroundings::Surroundings;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::radical_inverse;
use crate::units::Range;

/// Postures that are tried.
const POSTURES: usize = 64;

impl Surroundings<'_> {
    /// Pairs (body, what it is near to) that are nearer than `least_mm` in each of 64 postures spread
    /// over all limits, and how many postures were tried. Only pairs that a motion could part.
    pub fn always_near(&self, least_mm: f64) -> (Vec<(usize, Other)>, usize) {
        const BASES: [usize; 9] = [2, 3, 5, 7, 11, 13, 17, 19, 23];
        let cell = self.cell();
        let travel = cell.track.and_then(|t| t.travel_mm);
        let turn = cell.turntable.as_ref().and_then(|t| t.travel_rad);
        let within =
            |range: Option<Range>, s: f64| range.map_or(0.0, |r| r.low + (r.high - r.low) * s);
        let mut near: Option<Vec<(usize, Other)>> = None;
        for k in 1..=POSTURES {
            let mut joints_rad = [0.0; MAX_JOINTS];
            for (i, (value, joint)) in joints_rad.iter_mut().zip(&cell.joints).enumerate() {
                *value = within(Some(joint.limits_rad), radical_inverse(k, BASES[i]));
            }
            let at = AxisValues {
                travel_mm: within(travel, radical_inverse(k, BASES[7])),
                turn_rad: match turn {
                    Some(_) => within(turn, radical_inverse(k, BASES[8])),
                    None => std::f64::consts::TAU * radical_inverse(k, BASES[8]),
                },
                joints_rad,
            };
            let here = self.nearer_than(&at, least_mm);
            near = Some(match near {
                None => here,
                Some(before) => before.into_iter().filter(|p| here.contains(p)).collect(),
            });
        }
        (near.unwrap_or_default(), POSTURES)
    }
}
