//! The inverse: from a target at one station to all postures that reach it.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::POLE_RAD;
use crate::kinematics::TableScene;
use crate::kinematics::joint_reading;
use crate::reach::Solution;
use crate::reach::Wanted;
use crate::reach::conditions::Task;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::numeric;
use crate::reach::numeric::Search;
use crate::reach::pattern::Ask;
use crate::reach::pattern::Pattern;
use crate::reach::pattern::Seed;
use crate::reach::pattern::from_up;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::plan::Refusal;
use crate::reach::polish::Place;
use crate::reach::small::Posture;
use crate::reach::spare::climb;

/// Starts without a new root before the search from many starts ends.
const PATIENCE: usize = 200;
/// Starts where joints are to spare.
const STARTS_SPARE: usize = 48;

/// One arm, its pattern recognised.
#[derive(Debug, Clone)]
pub struct Solver<'a> {
    pub(super) cell: &'a Cell,
    pub(super) geometry: &'a Geometry,
    pub(super) pattern: Option<Pattern>,
    starts: Vec<Posture>,
    length_mm: f64,
    /// Base axes and origin in the plate frame at travel 0.
    pub(super) base_axes: Matrix3<f64>,
    pub(super) base_mm: Vector3<f64>,
    pub(super) along: Vector3<f64>,
}

/// A root of the conditions; its joints may be outside their limits.
#[derive(Debug, Clone, Copy)]
pub(super) struct Root {
    pub values: Posture,
    pub margin: f64,
    pub side_lean: f64,
    /// Off the wanted azimuth where that only follows, rad.
    pub azimuth_miss: f64,
    pub branch: usize,
    /// How far inside reach the closed form says it is; 1 where it does not say.
    pub slack: f64,
}

impl<'a> Solver<'a> {
    /// Recognises the arm's pattern from the registered geometry.
    pub fn new(cell: &'a Cell, geometry: &'a Geometry) -> Self {
        let base = ArmScene::carriage(geometry, 0.0);
        let mut length_mm = geometry.tool.at_mm.norm();
        let mut last = geometry.flange_mm;
        for joint in geometry.joints.iter().rev() {
            length_mm += (last - joint.through_mm).norm();
            last = joint.through_mm;
        }
        Solver {
            cell,
            geometry,
            pattern: Pattern::of(geometry),
            starts: numeric::starts(&cell.joints),
            length_mm: length_mm.max(1.0),
            base_axes: base.base_axes,
            base_mm: base.base_mm,
            along: if geometry.track.is_some() {
                base.track_axes.column(0).into()
            } else {
                Vector3::zeros()
            },
        }
    }

    /// The same arm, always solved from many starts: a check on the closed form.
    #[must_use]
    pub fn without_closed_form(&self) -> Self {
        Solver {
            pattern: None,
            ..self.clone()
        }
    }

    /// Whether the closed form serves this arm.
    pub fn is_closed_form(&self) -> bool {
        self.pattern.is_some()
    }

    /// Why a point cannot be asked for at all, if so.
    pub fn refusal(&self, wanted: &Wanted) -> Option<Refusal> {
        self.plan(wanted).err()
    }

    pub(super) fn plan(&self, wanted: &Wanted) -> Result<Plan, Refusal> {
        Plan::new(
            wanted,
            self.geometry.joints.len(),
            self.pattern.as_ref(),
            self.geometry.turntable.is_some(),
        )
    }

    pub(super) fn task(&self, wanted: &Wanted, plan: &Plan, turn_rad: f64) -> Task {
        let (target_mm, frame) = match (wanted.frame, &self.geometry.turntable) {
            (Belongs::Platter, Some(table)) => {
                let table = TableScene::new(table, turn_rad);
                (
                    table.platter_axes * wanted.at_mm + table.centre_mm,
                    table.platter_axes,
                )
            }
            _ => (wanted.at_mm, Matrix3::identity()),
        };
        Task {
            target_mm,
            frame,
            turning: plan.turning,
            length_mm: self.length_mm,
        }
    }

    pub(super) fn ask(&self, plan: &Plan, task: &Task, travel_mm: f64) -> Ask {
        let base_mm = self.base_mm + self.along * travel_mm;
        let middle = self
            .cell
            .joints
            .get(4)
            .map_or(0.0, |j| 0.5 * (j.limits_rad.low + j.limits_rad.high));
        Ask {
            tip_mm: self.base_axes.tr_mul(&(task.target_mm - base_mm)),
            base_in_frame: task.frame.tr_mul(&self.base_axes),
            from_up: plan.elevation.map_or(0.0, from_up),
            in_plane: plan.steep,
            one_side: false,
            roll: plan.roll,
            roll_value: middle,
            most_cos: 1.0,
        }
    }

    /// All postures inside the limits that reach a point at one station, given by its values;
    /// largest margin first. Empty too where the point cannot be asked of this arm.
    pub fn solve(&self, wanted: &Wanted, travel_mm: f64, turn_rad: f64, out: &mut Vec<Solution>) {
        out.clear();
        let Ok(plan) = self.plan(wanted) else {
            return;
        };
        let mut roots = Vec::new();
        self.roots(
            &plan,
            &self.task(wanted, &plan, turn_rad),
            travel_mm,
            &[],
            &mut roots,
        );
        roots.retain(|r| self.accepts(&plan, r));
        roots.sort_by(|a, b| b.margin.total_cmp(&a.margin));
        out.extend(roots.iter().map(|r| self.solution(r)));
    }

    /// The closed form alone, not polished: the largest margin among its postures that are in
    /// reach and within the limits. `None` where there is none, or no closed form.
    pub fn seeds_only(&self, wanted: &Wanted, travel_mm: f64, turn_rad: f64) -> Option<f64> {
        let plan = self.plan(wanted).ok()?;
        let pattern = self.pattern.as_ref()?;
        let task = self.task(wanted, &plan, turn_rad);
        let mut seeds = [Seed::default(); 8];
        let count = pattern.seeds(&self.ask(&plan, &task, travel_mm), &mut seeds);
        seeds[..count]
            .iter()
            .filter(|s| s.slack >= 0.0)
            .map(|s| {
                let mut q = s.values;
                settle(&self.cell.joints, &mut q);
                margin_of(&self.cell.joints, &q)
            })
            .filter(|m| *m >= -LIMIT_SLACK_RAD)
            .reduce(f64::max)
    }

    pub(super) fn accepts(&self, plan: &Plan, root: &Root) -> bool {
        root.margin >= -LIMIT_SLACK_RAD && self.accepts_direction(plan, root)
    }

    /// Like [`Self::accepts`], limits apart.
    pub(super) fn accepts_direction(&self, plan: &Plan, root: &Root) -> bool {
        root.side_lean <= self.cell.accept.direction_rad + LIMIT_SLACK_RAD
            && (plan.azimuth.is_none() || root.azimuth_miss.abs() <= POLE_RAD + 1e-12)
    }

    pub(super) fn solution(&self, root: &Root) -> Solution {
        let values_rad = root.values[..self.geometry.joints.len()].to_vec();
        let readings = self
            .geometry
            .joints
            .iter()
            .zip(&values_rad)
            .map(|(joint, v)| joint_reading(joint, *v).0)
            .collect();
        Solution {
            readings,
            values_rad,
            limit_margin_rad: root.margin,
            side_lean_rad: root.side_lean,
        }
    }

    /// All roots of the conditions, within the joint limits or not. `hints`: postures nearby.
    pub(super) fn roots(
        &self,
        plan: &Plan,
        task: &Task,
        travel_mm: f64,
        hints: &[Posture],
        out: &mut Vec<Root>,
    ) {
        out.clear();
        let place = Place {
            geometry: self.geometry,
            travel_mm,
            task,
            free: if plan.method == Method::ClosedStill {
                4
            } else {
                self.geometry.joints.len()
            },
        };
        match (plan.method, &self.pattern) {
            (Method::Closed | Method::ClosedStill, Some(pattern)) => {
                let ask = self.ask(plan, task, travel_mm);
                let mut seeds = [Seed::default(); 8];
                let count = pattern.seeds(&ask, &mut seeds);
                for seed in &seeds[..count] {
                    for root in self.refine(plan, task, travel_mm, &ask, seed) {
                        self.keep(root, 2e-6, out);
                    }
                }
            }
            (Method::ClosedSpare, Some(pattern)) => {
                self.closed_spare(plan, &place, pattern, hints, out);
            }
            (method, _) => {
                let mut found = Vec::new();
                let spare = method == Method::NumericSpare;
                let search = if spare {
                    Search::Starts(STARTS_SPARE)
                } else {
                    Search::Patient(PATIENCE)
                };
                numeric::roots(
                    &place,
                    &self.cell.joints,
                    &self.starts,
                    hints,
                    search,
                    &mut found,
                );
                for mut q in found {
                    if spare {
                        climb(&place, &self.cell.joints, &mut q);
                    }
                    let root = self.root_of(plan, task, travel_mm, q);
                    self.keep(root, if spare { 1e-3 } else { 2e-6 }, out);
                }
            }
        }
    }

    /// Roots reached from `hints` alone.
    pub(super) fn follow(
        &self,
        plan: &Plan,
        task: &Task,
        travel_mm: f64,
        hints: &[Posture],
        out: &mut Vec<Root>,
    ) {
        out.clear();
        let place = Place {
            geometry: self.geometry,
            travel_mm,
            task,
            free: self.geometry.joints.len(),
        };
        let spare = matches!(plan.method, Method::ClosedSpare | Method::NumericSpare);
        for hint in hints {
            let mut q = *hint;
            if place.polish(&mut q, 14) {
                if spare {
                    climb(&place, &self.cell.joints, &mut q);
                }
                let root = self.root_of(plan, task, travel_mm, q);
                self.keep(root, if spare { 1e-3 } else { 2e-6 }, out);
            }
        }
    }

    pub(super) fn keep(&self, root: Root, within_rad: f64, out: &mut Vec<Root>) {
        let n = self.geometry.joints.len();
        match out
            .iter_mut()
            .find(|o| numeric::same(&o.values, &root.values, n, within_rad))
        {
            Some(twin) if root.margin > twin.margin => *twin = root,
            Some(_) => {}
            None => out.push(root),
        }
    }
}
