//! What one step can do at one station: every posture that reaches the point and the places above it
//! within limits and clear of what stands around, or why there is none.

use std::f64::consts::TAU;

use nalgebra::Vector3;

use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::WayClearance;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::joint_reading;
use crate::margins::to_limit;
use crate::reach::Bearing;
use crate::reach::NEARLY_RAD;
use crate::reach::Solution;
use crate::reach::room_of_cost;
use crate::tasks::Along;
use crate::tasks::Job;
use crate::tasks::Task;

/// Samples of a straight way along which the tip is watched for straying.
const STRAY_SAMPLES: u32 = 8;

/// One place of a step: above the point before it, at it, above it afterward.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Before the point.
    Approach,
    /// At the point.
    At,
    /// After it.
    Depart,
}

impl Part {
    /// In words.
    pub fn as_str(self) -> &'static str {
        match self {
            Part::Approach => "approach",
            Part::At => "at",
            Part::Depart => "depart",
        }
    }
}

/// How a step is done at one station.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// Reading of the track; `None` without one.
    pub track: Option<f64>,
    /// Reading of the table; `None` where it does not matter.
    pub table: Option<f64>,
    /// Values of all axes at the point.
    pub at: AxisValues,
    /// Values before the point, where the step has an approach.
    pub approach: Option<AxisValues>,
    /// Values after it.
    pub depart: Option<AxisValues>,
    /// Least distance to a joint limit at all of these, rad.
    pub margin_rad: f64,
    /// The same, rad; of a nearly singular posture at most what [`crate::reach::room_of_cost`] says (10
    /// degrees or less). Choices go by this.
    pub room_rad: f64,
    /// What is nearest at all of these and on the ways between.
    pub clearance: Option<Nearest>,
    /// How the arm holds itself.
    pub bearing: Bearing,
    /// How far the tip strays from the straight line between point and approach or depart, mm.
    pub stray_mm: f64,
    /// The arm's solution at the point.
    pub solution: Solution,
}

impl State {
    /// Where the way to this step ends.
    pub fn entry(&self) -> &AxisValues {
        self.approach.as_ref().unwrap_or(&self.at)
    }
    /// Where the way from this step begins.
    pub fn leave(&self) -> &AxisValues {
        self.depart.as_ref().unwrap_or(&self.at)
    }
}

/// Why a step has no posture at a station. The later of these, the nearer it was to being done.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WhyNot {
    /// The axis would have to stand outside its travel.
    OutsideTravel,
    /// No posture within limits reaches the point.
    OutOfReach,
    /// The point is reached, but not the place before or after it.
    PartOutOfReach(Part),
    /// Something is too near.
    TooNear(Part, Nearest),
    /// The way between the point and the place before or after it could not be proved clear.
    Unproved(Part),
    /// It can be done, but not with track or table as at the step before, where it asks for that.
    NotTogether,
}

impl WhyNot {
    fn rank(&self) -> f64 {
        match self {
            WhyNot::OutsideTravel => 0.0,
            WhyNot::OutOfReach => 1.0,
            WhyNot::PartOutOfReach(_) => 2.0,
            WhyNot::TooNear(_, n) => 3.0 + 1e-6 * n.clearance_mm.clamp(-1e5, 1e5),
            WhyNot::Unproved(_) => 4.0,
            WhyNot::NotTogether => 5.0,
        }
    }
    /// Of two, the one that was nearer to being done.
    #[must_use]
    pub fn nearer(self, other: WhyNot) -> WhyNot {
        if other.rank() > self.rank() {
            other
        } else {
            self
        }
    }
}

impl Task<'_> {
    /// All ways to do a job with track and table at these readings; `table` is `None` where it does
    /// not matter. In the order of falling margin.
    pub fn states(
        &self,
        job: &Job,
        track: Option<f64>,
        table: Option<f64>,
    ) -> Result<Vec<State>, WhyNot> {
        let axes = self.axes();
        let (travel_mm, turn_rad) = (axes.travel_mm(track), axes.turn_rad(table));
        if !axes.may_stand(track, table) {
            return Err(WhyNot::OutsideTravel);
        }
        let mut solutions = Vec::new();
        self.solver
            .solve(&job.wanted, travel_mm, turn_rad, &mut solutions);
        self.states_of(job, (track, travel_mm), (table, turn_rad), &solutions)
    }

    /// The same from postures that reach the point there.
    pub(super) fn states_of(
        &self,
        job: &Job,
        track: (Option<f64>, f64),
        table: (Option<f64>, f64),
        solutions: &[Solution],
    ) -> Result<Vec<State>, WhyNot> {
        let mut states = Vec::new();
        let mut why = WhyNot::OutOfReach;
        for solution in &self.with_turns(solutions) {
            match self.state(job, track, table, solution) {
                Ok(state) => states.push(state),
                Err(other) => why = why.nearer(other),
            }
        }
        if states.is_empty() {
            return Err(why);
        }
        states.sort_by(|a, b| b.room_rad.total_cmp(&a.room_rad));
        Ok(states)
    }

    /// Where a joint may turn more than once round, the same postures with it a full turn on or back.
    fn with_turns(&self, solutions: &[Solution]) -> Vec<Solution> {
        let mut all = solutions.to_vec();
        for (i, joint) in self.cell.joints.iter().enumerate() {
            let limits = joint.limits_rad;
            if limits.high - limits.low <= TAU {
                continue;
            }
            for solution in solutions {
                for turn in [TAU, -TAU] {
                    let mut values = solution.values_rad.clone();
                    values[i] += turn;
                    if values[i] < limits.low || values[i] > limits.high {
                        continue;
                    }
                    let geometry = self.solver.geometry();
                    let mut readings = solution.readings.clone();
                    readings[i] = joint_reading(&geometry.joints[i], values[i]).0;
                    all.push(Solution {
                        limit_margin_rad: to_limit(self.cell, &values).distance_rad,
                        readings,
                        values_rad: values,
                        ..solution.clone()
                    });
                }
            }
        }
        all
    }

    fn state(
        &self,
        job: &Job,
        (track, travel_mm): (Option<f64>, f64),
        (table, turn_rad): (Option<f64>, f64),
        solution: &Solution,
    ) -> Result<State, WhyNot> {
        let axes = |values: &[f64]| {
            let mut joints_rad = [0.0; MAX_JOINTS];
            joints_rad[..values.len()].copy_from_slice(values);
            AxisValues {
                travel_mm,
                turn_rad,
                joints_rad,
            }
        };
        let at = axes(&solution.values_rad);
        let mut clearance = None;
        self.clear(Part::At, &at, &mut clearance)?;
        let scene = ArmScene::new(self.solver.geometry(), travel_mm, &solution.values_rad);
        let back = match job.step.along {
            Along::Tool => -Vector3::from(scene.tool_axes.column(2)),
            Along::Up => Vector3::z(),
        };
        let mut margin_rad = solution.limit_margin_rad;
        let mut stray_mm: f64 = 0.0;
        let mut above = |part: Part, distance_mm: f64| -> Result<Option<AxisValues>, WhyNot> {
            if distance_mm == 0.0 {
                return Ok(None);
            }
            let moved = self.solver.moved_posture(
                &job.wanted,
                travel_mm,
                turn_rad,
                &solution.values_rad,
                back * distance_mm,
            );
            let Some((values, margin)) = moved.filter(|(_, margin)| *margin >= -1e-9) else {
                return Err(WhyNot::PartOutOfReach(part));
            };
            margin_rad = margin_rad.min(margin);
            let there = axes(&values);
            self.clear_way(part, &at, &there, &mut clearance)?;
            stray_mm = stray_mm.max(self.stray(&at, &there));
            Ok(Some(there))
        };
        let approach = above(Part::Approach, job.step.approach_mm)?;
        let depart = match job.step.depart_mm == job.step.approach_mm {
            true => approach,
            false => above(Part::Depart, job.step.depart_mm)?,
        };
        let cost = self
            .solver
            .cost(&job.wanted, travel_mm, turn_rad, &solution.values_rad);
        Ok(State {
            // Degrees to a limit, until a posture is nearly singular.
            room_rad: match cost > NEARLY_RAD {
                true => margin_rad.min(room_of_cost(cost)),
                false => margin_rad,
            },
            track,
            table,
            at,
            approach,
            depart,
            margin_rad,
            clearance,
            bearing: self.solver.bearing(&solution.values_rad),
            stray_mm,
            solution: solution.clone(),
        })
    }

    fn clear(
        &self,
        part: Part,
        at: &AxisValues,
        least: &mut Option<Nearest>,
    ) -> Result<(), WhyNot> {
        let Some(nearest) = self.surroundings.nearest(at) else {
            return Ok(());
        };
        // A clearance that is no number is too near.
        if nearest.clearance_mm >= self.cell.accept.clearance_mm {
            keep_nearest(least, nearest);
            return Ok(());
        }
        Err(WhyNot::TooNear(part, nearest))
    }

    fn clear_way(
        &self,
        part: Part,
        from: &AxisValues,
        to: &AxisValues,
        least: &mut Option<Nearest>,
    ) -> Result<(), WhyNot> {
        if self.surroundings.is_empty() {
            return Ok(());
        }
        let needed = self.cell.accept.clearance_mm;
        match self.surroundings.way(from, to, needed) {
            WayClearance::Clear { nearest, .. } => {
                if let Some(nearest) = nearest {
                    keep_nearest(least, nearest);
                }
                Ok(())
            }
            WayClearance::Blocked { nearest, .. } => Err(WhyNot::TooNear(part, nearest)),
            WayClearance::Unproved { .. } => Err(WhyNot::Unproved(part)),
        }
    }

    /// How far the tip strays from the straight line while all axes move in proportion, mm.
    fn stray(&self, from: &AxisValues, to: &AxisValues) -> f64 {
        let n = self.cell.joints.len();
        let geometry = self.solver.geometry();
        let tip =
            |at: &AxisValues| ArmScene::new(geometry, at.travel_mm, &at.joints_rad[..n]).tip_mm;
        let (a, b) = (tip(from), tip(to));
        let along = b - a;
        let mut worst: f64 = 0.0;
        for k in 1..STRAY_SAMPLES {
            let share = f64::from(k) / f64::from(STRAY_SAMPLES);
            let off = tip(&from.toward(to, share)) - a;
            let length = along.norm().max(1e-9);
            worst = worst.max(along.cross(&off).norm() / length);
        }
        worst
    }

    /// The joint that is nearest to its limit at the places of a state.
    pub fn tightest(&self, state: &State) -> crate::margins::ToLimit {
        let n = self.cell.joints.len();
        let places = [
            Some(&state.at),
            state.approach.as_ref(),
            state.depart.as_ref(),
        ];
        let limits = places
            .into_iter()
            .flatten()
            .map(|p| to_limit(self.cell, &p.joints_rad[..n]));
        let first = to_limit(self.cell, &state.at.joints_rad[..n]);
        limits.fold(first, |a, b| {
            if b.distance_rad < a.distance_rad {
                b
            } else {
                a
            }
        })
    }
}

pub(super) fn keep_nearest(least: &mut Option<Nearest>, nearest: Nearest) {
    if least.is_none_or(|l| nearest.clearance_mm < l.clearance_mm) {
        *least = Some(nearest);
    }
}
