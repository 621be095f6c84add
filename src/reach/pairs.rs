//! One condition more than the arm has joints: the table's turn serves as one more joint.
//!
//! A five-joint arm meets a wanted azimuth of a platter point only at certain pairs of track
//! position and table angle; an arm of fewer joints meets other angles so. Seen from the platter the
//! table is the first joint of the chain:
//!
//! `T_platter_tool(s, φ, θ) = A⁻¹ · Rot(−table axis, table centre, φ) · T_plate_tool(s, θ)` with
//! `A = T_plate_platter(0)`, so that the inverse of an arm of one joint more gives every φ at once.
//! Along the travel these φ make curves.

use std::f64::consts::PI;

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::JointGeometry;
use crate::cell::JointInfo;
use crate::cell::Mounting;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::TableScene;
use crate::kinematics::table_reading;
use crate::kinematics::track_reading;
use crate::reach::Refusal;
use crate::reach::Solution;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::plan::Method;
use crate::reach::small::Posture;
use crate::reach::solver::Root;
use crate::units::Range;
use crate::units::wrap_rad;

/// Ends of a curve are found to this, mm of travel.
pub(super) const END_MM: f64 = 1e-3;
/// Longest step between samples of a curve, mm; where each costs a search, mm.
const STEP_MM: f64 = 1.0;
const STEP_SEARCHED_MM: f64 = 15.0;
const MOST_SAMPLES: f64 = 3000.0;
/// Postures of neighbouring samples farther apart than this, rad, are not of one curve.
pub(super) const APART_RAD: f64 = 0.35;

/// One place of a curve: where track and table stand, and the posture.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Travel, mm, and its reading; `None` without a track.
    pub travel_mm: f64,
    /// See `travel_mm`.
    pub track: Option<f64>,
    /// Turn of the table, rad, and its reading.
    pub turn_rad: f64,
    /// See `turn_rad`.
    pub table: f64,
    /// The posture there.
    pub solution: Solution,
}

/// A curve of pairs, by rising travel. One pair alone where there is no track.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Its places; the first and the last are its ends.
    pub pairs: Vec<Pair>,
}

/// The chain with the table for its first joint, at one travel.
struct Extended {
    cell: Cell,
    geometry: Geometry,
}

/// A place before limits are asked for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub s: f64,
    /// The table first, then the joints.
    pub values: Posture,
    /// Whether the last joint does nothing for the target.
    pub still: bool,
    /// Positive within all limits.
    pub inside: f64,
}

impl Solver<'_> {
    /// Whether a target is one that only certain pairs of track and table meet.
    pub fn needs_pairs(&self, wanted: &Wanted) -> bool {
        if wanted.frame != Belongs::Platter
            || self.geometry.turntable.is_none()
            || self.geometry.joints.len() >= MAX_JOINTS
            || self.level.is_some()
        {
            return false;
        }
        match self.plan(wanted) {
            Ok(plan) => plan.azimuth.is_some() && !plan.steep,
            Err(Refusal::TooFewJoints {
                joints, conditions, ..
            }) => conditions == joints + 1,
            Err(_) => false,
        }
    }

    /// What is asked of the longer chain. A roll that nothing but the last joint makes is any roll.
    fn pair_target(&self, wanted: &Wanted) -> (Wanted, bool) {
        let still = self
            .plan(wanted)
            .is_ok_and(|plan| plan.method == Method::ClosedStill);
        let mut asked = *wanted;
        if still {
            asked.roll_rad = Some(0.0);
        }
        (asked, still)
    }

    fn extended(&self, travel_mm: f64) -> Option<Extended> {
        let table = self.geometry.turntable.as_ref()?;
        let scene = TableScene::new(table, 0.0);
        let base = ArmScene::carriage(self.geometry, travel_mm);
        let (axes, origin) = (base.base_axes, base.base_mm);
        let carry = |p: &Vector3<f64>| axes * p + origin;
        let mut joints = vec![JointGeometry {
            axis: -Vector3::from(scene.fixed_axes.column(2)),
            through_mm: table.at_mm,
            zero_rad: 0.0,
            scale_rad: 1.0,
            lost_motion_rad: 0.0,
        }];
        joints.extend(self.geometry.joints.iter().map(|j| JointGeometry {
            axis: axes * j.axis,
            through_mm: carry(&j.through_mm),
            ..*j
        }));
        let turns = self.cell.turntable.as_ref().and_then(|t| t.travel_rad);
        let mut infos = vec![JointInfo {
            name: "table".to_owned(),
            limits_rad: turns.unwrap_or(Range { low: -PI, high: PI }),
        }];
        infos.extend(self.cell.joints.iter().cloned());
        let geometry = Geometry {
            track: None,
            mount: Mounting::default(),
            joints,
            flange_mm: carry(&self.geometry.flange_mm),
            flange_axes: axes * self.geometry.flange_axes,
            ..self.geometry.clone()
        };
        Some(Extended {
            cell: Cell {
                joints: infos,
                track: None,
                ..self.cell.clone()
            },
            geometry,
        })
    }

    /// All places at one travel, within limits or not; `near`: only those reached from there.
    pub(super) fn spots(
        &self,
        asked: &Wanted,
        still: bool,
        s: f64,
        near: Option<&Posture>,
    ) -> Vec<Spot> {
        let Some(extended) = self.extended(s) else {
            return Vec::new();
        };
        let solver = Solver::new(&extended.cell, &extended.geometry);
        let Ok(plan) = solver.plan(asked) else {
            return Vec::new();
        };
        let task = solver.task(asked, &plan, 0.0);
        let mut roots = Vec::new();
        match near {
            Some(near) => solver.follow(&plan, &task, 0.0, &[*near], &mut roots),
            None => solver.roots(&plan, &task, 0.0, &[], &mut roots),
        }
        roots
            .iter()
            .map(|root| self.spot(s, root.values, still))
            .collect()
    }

    fn spot(&self, s: f64, values: Posture, still: bool) -> Spot {
        let inside = margin_of(&self.cell.joints, &self.arm_of(&values, still));
        let table = match self.cell.turntable.as_ref().and_then(|t| t.travel_rad) {
            Some(t) => (values[0] - t.low).min(t.high - values[0]),
            None => f64::INFINITY,
        };
        Spot {
            s,
            values,
            still,
            inside: inside.min(table) + LIMIT_SLACK_RAD,
        }
    }

    /// The arm's joints; the last one in the middle of its limits where it does nothing.
    fn arm_of(&self, values: &Posture, still: bool) -> Posture {
        let n = self.cell.joints.len();
        let mut arm = Posture::default();
        arm[..n].copy_from_slice(&values[1..=n]);
        if still && let Some(last) = self.cell.joints.last() {
            arm[n - 1] = 0.5 * (last.limits_rad.low + last.limits_rad.high);
        }
        settle(&self.cell.joints, &mut arm);
        arm
    }

    pub(super) fn pair(&self, spot: &Spot) -> Option<Pair> {
        let table = self.geometry.turntable.as_ref()?;
        let n = self.cell.joints.len();
        let values = self.arm_of(&spot.values, spot.still);
        let turn_rad = match self.cell.turntable.as_ref().and_then(|t| t.travel_rad) {
            Some(_) => spot.values[0],
            None => wrap_rad(spot.values[0]),
        };
        Some(Pair {
            travel_mm: spot.s,
            track: self
                .geometry
                .track
                .as_ref()
                .map(|t| track_reading(t, spot.s).0),
            turn_rad,
            table: table_reading(table, turn_rad).0,
            solution: self.solution_of(&values[..n]),
        })
    }

    /// The pairs of one travel (a value, mm): every table angle at which the target is met within
    /// all limits there, largest margin first.
    pub fn pairs_at(&self, wanted: &Wanted, travel_mm: f64) -> Vec<Pair> {
        if !self.needs_pairs(wanted) {
            return Vec::new();
        }
        let (asked, still) = self.pair_target(wanted);
        let mut pairs: Vec<Pair> = self
            .spots(&asked, still, travel_mm, None)
            .iter()
            .filter(|spot| spot.inside >= 0.0)
            .filter_map(|spot| self.pair(spot))
            .collect();
        pairs.sort_by(|a, b| {
            let margin = |p: &Pair| p.solution.limit_margin_rad;
            margin(b).total_cmp(&margin(a))
        });
        pairs
    }

    /// All curves over the whole travel of the track. Each table angle on them is exact; their ends
    /// are found to 0.001 mm. A curve shorter than the step between samples (1 mm; 15 mm where the
    /// longer chain has no closed form) can be missed. Empty where the target needs no pairs, or the
    /// cell does not give the travel.
    pub fn pairs(&self, wanted: &Wanted) -> Vec<Curve> {
        if !self.needs_pairs(wanted) {
            return Vec::new();
        }
        let (asked, still) = self.pair_target(wanted);
        let travel = match (&self.geometry.track, self.cell.track) {
            (None, _) => Range {
                low: 0.0,
                high: 0.0,
            },
            (Some(_), Some(limits)) => match limits.travel_mm {
                Some(travel) => travel,
                None => return Vec::new(),
            },
            (Some(_), None) => return Vec::new(),
        };
        let closed = self.extended(travel.low).is_some_and(|e| {
            let longer = Solver::new(&e.cell, &e.geometry);
            longer.plan(&asked).is_ok_and(|p| p.method == Method::Six)
        });
        let step = if closed { STEP_MM } else { STEP_SEARCHED_MM };
        let span = travel.high - travel.low;
        let count = (span / step).ceil().clamp(0.0, MOST_SAMPLES) as usize;
        // Chains of spots, each followed from sample to sample.
        let mut open: Vec<Vec<Spot>> = Vec::new();
        let mut done: Vec<Vec<Spot>> = Vec::new();
        for i in 0..=count {
            let s = match count {
                0 => travel.low,
                _ => travel.low + span * i as f64 / count as f64,
            };
            let spots = self.spots(&asked, still, s, None);
            let mut taken = vec![false; spots.len()];
            let mut next = self.matched(&open, &spots, &mut taken);
            let mut still_open = Vec::new();
            for (mut chain, next) in open.into_iter().zip(&mut next) {
                if next.is_none()
                    && let Some(last) = chain.last().copied()
                {
                    let end = self.end(&asked, still, &last, s);
                    // It runs fast, and goes on: step by step it comes to one of the spots.
                    if (end.s - s).abs() < 2.0 * END_MM {
                        *next = self
                            .nearest(&end, &spots, &taken)
                            .inspect(|k| taken[*k] = true);
                    }
                    chain.push(end);
                }
                match next {
                    Some(k) => {
                        chain.push(spots[*k]);
                        still_open.push(chain);
                    }
                    // Where two curves meet and end.
                    None => done.push(chain),
                }
            }
            for (spot, _) in spots.iter().zip(&taken).filter(|(_, taken)| !**taken) {
                let mut chain = Vec::new();
                if i > 0 {
                    let before = travel.low + span * (i - 1) as f64 / count as f64;
                    chain.push(self.end(&asked, still, spot, before));
                }
                chain.push(*spot);
                still_open.push(chain);
            }
            open = still_open;
        }
        done.extend(open);
        let mut curves: Vec<Curve> = done
            .iter()
            .flat_map(|chain| self.within(&asked, still, chain))
            .collect();
        curves.sort_by(|a, b| {
            let first = |c: &Curve| c.pairs.first().map_or(0.0, |p| p.travel_mm);
            first(a).total_cmp(&first(b))
        });
        curves
    }

    /// A posture as a solution; nothing is asked of its direction.
    pub(super) fn solution_of(&self, values: &[f64]) -> Solution {
        let mut posture = Posture::default();
        posture[..values.len()].copy_from_slice(values);
        self.solution(&Root {
            values: posture,
            margin: margin_of(&self.cell.joints, &posture),
            side_lean: 0.0,
            azimuth_miss: 0.0,
            height_off: 0.0,
            branch: 0,
            slack: 1.0,
        })
    }
}
