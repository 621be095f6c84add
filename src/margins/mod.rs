//! What a posture at a point is worth: how far from the joint limits, from the edge of reach, from a
//! singular posture, from what stands around; how surely the tip is there, and with what chance the
//! point is out of this posture's reach.

mod chance;

pub use chance::Chance;

use nalgebra::Matrix3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::KeepOut;
use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::Surroundings;
use crate::fit::spread::Spread;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::TableScene;
use crate::kinematics::joint_reading;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::parameters::Unknowns;
use crate::reach::Edge;
use crate::reach::Nearness;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::readings::stand::Stand;

/// A joint and the limit that it is nearest to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToLimit {
    /// Distance of the joint's value, rad; below 0 outside.
    pub distance_rad: f64,
    /// The joint, from 0.
    pub joint: usize,
    /// Whether it is the upper limit.
    pub upper: bool,
}

/// What a posture is worth at a point.
#[derive(Debug, Clone, PartialEq)]
pub struct Margins {
    /// The joint nearest to its limit.
    pub limit: ToLimit,
    /// The nearest edge of reach; `None` beyond [`crate::reach::FARTHEST_MM`].
    pub edge: Option<Edge>,
    /// How near a singular posture is.
    pub nearness: Option<Nearness>,
    /// What is nearest to the arm; `None` where the cell tells no bodies.
    pub clearance: Option<Nearest>,
    /// 95 % radius of the tip in the point's frame, mm; `None` as drawn.
    pub u95_mm: Option<f64>,
    /// Chance that this posture cannot reach the point; `None` as drawn.
    pub chance: Option<Chance>,
}

/// Everything that margins are worked out from.
pub struct Assessor<'a> {
    /// The arm.
    pub solver: &'a Solver<'a>,
    /// The cell: limits and names.
    pub cell: &'a Cell,
    /// Bodies and keep-outs.
    pub surroundings: &'a Surroundings<'a>,
    /// The registration's uncertainty, and what it is one of.
    pub sure: Option<(Spread<'a>, &'a Unknowns)>,
}

/// The joint nearest to its limit.
pub fn to_limit(cell: &Cell, values_rad: &[f64]) -> ToLimit {
    let each = cell
        .joints
        .iter()
        .zip(values_rad)
        .enumerate()
        .map(|(joint, (info, v))| {
            let (below, above) = (v - info.limits_rad.low, info.limits_rad.high - v);
            ToLimit {
                distance_rad: below.min(above),
                joint,
                upper: above < below,
            }
        });
    let nearest = each.min_by(|a, b| a.distance_rad.total_cmp(&b.distance_rad));
    nearest.unwrap_or(ToLimit {
        distance_rad: f64::MAX,
        joint: 0,
        upper: false,
    })
}

impl<'a> Assessor<'a> {
    /// Values of all axes as one thing.
    pub fn axes(&self, travel_mm: f64, turn_rad: f64, values_rad: &[f64]) -> AxisValues {
        let mut joints_rad = [0.0; MAX_JOINTS];
        for (j, v) in joints_rad.iter_mut().zip(values_rad) {
            *j = *v;
        }
        AxisValues {
            travel_mm,
            turn_rad,
            joints_rad,
        }
    }

    /// What is nearest at values, with the table at whichever of these turns leaves most room; and which
    /// that is. With no turns to choose from, as it stands.
    pub fn roomiest(&self, at: &AxisValues, turns: &[f64]) -> Option<(Nearest, Option<f64>)> {
        let mut best = None;
        for turn in turns {
            let near = self.surroundings.nearest(&AxisValues {
                turn_rad: *turn,
                ..*at
            })?;
            if best.is_none_or(|(b, _): (Nearest, _)| near.clearance_mm > b.clearance_mm) {
                best = Some((near, Some(*turn)));
            }
        }
        best.or_else(|| Some((self.surroundings.nearest(at)?, None)))
    }

    /// Whether where the table stands matters to what is clear at a point of the plate.
    pub fn table_in_the_way(&self) -> bool {
        let turns = |k: &KeepOut| k.frame == Belongs::Platter;
        !self.surroundings.is_empty() && self.cell.keep_outs.iter().any(turns)
    }

    /// The readings that belong to values.
    pub fn stand(&self, at: &AxisValues) -> Stand {
        let geometry = self.solver.geometry();
        let mut stand = Stand::default();
        if let Some(track) = &geometry.track {
            stand.track = track_reading(track, at.travel_mm).0;
        }
        if let Some(table) = &geometry.turntable {
            stand.table = table_reading(table, at.turn_rad).0;
        }
        let joints = geometry.joints.iter().zip(&at.joints_rad);
        for (reading, (joint, value)) in stand.joints.iter_mut().zip(joints) {
            *reading = joint_reading(joint, *value).0;
        }
        stand
    }

    /// The 95 % radius of the tip at values, in a frame, mm.
    pub fn u95_mm(&self, at: &AxisValues, frame: Belongs) -> Option<f64> {
        let (spread, _) = self.sure.as_ref()?;
        Some(spread.at(&self.stand(at), frame).u95_mm)
    }

    /// All margins of a posture that meets a target.
    pub fn margins(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Margins {
        let at = self.axes(travel_mm, turn_rad, values_rad);
        let edge = self.solver.edge(wanted, travel_mm, turn_rad, values_rad);
        Margins {
            limit: to_limit(self.cell, values_rad),
            edge,
            nearness: self
                .solver
                .nearness(wanted, travel_mm, turn_rad, values_rad),
            clearance: self.surroundings.nearest(&at),
            u95_mm: self.u95_mm(&at, wanted.frame),
            chance: self.chance(wanted, &at, edge.as_ref()),
        }
    }

    /// The chance that the posture cannot stand at other axis values of the same target: where the tip is
    /// there, pointing as the target asks.
    pub fn chance_there(&self, wanted: &Wanted, at: &AxisValues) -> Option<Chance> {
        let n = self.cell.joints.len();
        let geometry = self.solver.geometry();
        let tip = ArmScene::new(geometry, at.travel_mm, &at.joints_rad[..n]).tip_mm;
        let at_mm = match (wanted.frame, &geometry.turntable) {
            (Belongs::Platter, Some(table)) => {
                let table = TableScene::new(table, at.turn_rad);
                table.platter_axes.tr_mul(&(tip - table.centre_mm))
            }
            _ => tip,
        };
        let there = Wanted { at_mm, ..*wanted };
        let values = &at.joints_rad[..n];
        let edge = self.solver.edge(&there, at.travel_mm, at.turn_rad, values);
        self.chance(&there, at, edge.as_ref())
    }

    /// The tip's covariance without play, in the plate's axes, mm².
    fn tip_covariance(&self, at: &AxisValues, frame: Belongs) -> Option<Matrix3<f64>> {
        let (spread, _) = self.sure.as_ref()?;
        let slopes = spread.by_unknown(&self.stand(at), frame);
        let own = crate::fit::spread::carried(&slopes, spread.covariance());
        let table = self.solver.geometry().turntable.as_ref();
        Some(match (frame, table) {
            (Belongs::Platter, Some(table)) => {
                let axes = TableScene::new(table, at.turn_rad).platter_axes;
                axes * own * axes.transpose()
            }
            _ => own,
        })
    }
}
