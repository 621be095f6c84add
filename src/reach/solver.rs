//! The inverse: from a target at one station to all postures that reach it.

use std::sync::OnceLock;

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
use crate::reach::level::Level;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::numeric;
use crate::reach::numeric::Search;
use crate::reach::numeric::Start;
use crate::reach::pattern::Ask;
use crate::reach::pattern::Pattern;
use crate::reach::pattern::Seed;
use crate::reach::pattern::from_up;
use crate::reach::plan::Method;
use crate::reach::plan::Plan;
use crate::reach::plan::Refusal;
use crate::reach::polish::Place;
use crate::reach::sixes::Sixes;
use crate::reach::small::Posture;
use crate::reach::spare::climb;

/// Starts without a new root before the search from many starts ends.
const PATIENCE: usize = 150;
/// Starts where joints are to spare.
const STARTS_SPARE: usize = 48;

/// One arm, its pattern recognised.
#[derive(Debug, Clone)]
pub struct Solver<'a> {
    pub(super) cell: &'a Cell,
    pub(super) geometry: &'a Geometry,
    pub(super) pattern: Option<Pattern>,
    pub(super) six: Option<Sixes>,
    pub(super) level: Option<Level>,
    /// Made when the first target asks for them.
    starts: OnceLock<Vec<Start>>,
    pub(super) length_mm: f64,
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
    /// How far above the point an arm that cannot lift keeps its tip, mm.
    pub height_off: f64,
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
            six: Sixes::of(geometry),
            level: Level::of(geometry),
            starts: OnceLock::new(),
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
            six: None,
            ..self.clone()
        }
    }

    /// The geometry that it knows.
    pub fn geometry(&self) -> &'a Geometry {
        self.geometry
    }

    /// The same arm in a geometry that differs by little: what was recognised is kept.
    #[must_use]
    pub fn with_geometry<'b>(&self, geometry: &'b Geometry) -> Solver<'b>
    where
        'a: 'b,
    {
        let base = ArmScene::carriage(geometry, 0.0);
        Solver {
            cell: self.cell,
            geometry,
            pattern: self.pattern.clone(),
            six: None,
            level: self.level.clone(),
            starts: OnceLock::new(),
            length_mm: self.length_mm,
            base_axes: base.base_axes,
            base_mm: base.base_mm,
            along: match geometry.track {
                Some(_) => base.track_axes.column(0).into(),
                None => Vector3::zeros(),
            },
        }
    }

    pub(super) fn starts(&self) -> &[Start] {
        self.starts
            .get_or_init(|| numeric::starts(self.cell, self.geometry))
    }

    /// Whether a closed form serves this arm.
    pub fn is_closed_form(&self) -> bool {
        self.pattern.is_some() || self.six.is_some()
    }

    /// How this arm is solved, in words.
    pub fn method_words(&self) -> String {
        match (&self.pattern, &self.six) {
            (Some(pattern), _) if pattern.rolls => {
                "closed form: upright first axis, three parallel level ones, a roll".to_owned()
            }
            (Some(_), _) => "closed form: upright first axis, three parallel level ones".to_owned(),
            (None, Some(six)) => format!("closed form: {}", six.words()),
            (None, None) => "numeric, from many starts".to_owned(),
        }
    }

    /// Why a point cannot be asked for at all, if so.
    pub fn refusal(&self, wanted: &Wanted) -> Option<Refusal> {
        self.plan(wanted).err()
    }

    /// How many joints a target leaves to spare: their postures are the ones farthest from the limits.
    pub fn spare_joints(&self, wanted: &Wanted) -> usize {
        let Ok(plan) = self.plan(wanted) else {
            return 0;
        };
        let conditions = plan.turning.place_rows() + plan.turning.conditions();
        match plan.method.spares() {
            true => self.geometry.joints.len().saturating_sub(conditions),
            false => 0,
        }
    }

    pub(super) fn plan(&self, wanted: &Wanted) -> Result<Plan, Refusal> {
        Plan::check(wanted, self.geometry.turntable.is_some())?;
        if let Some(level) = &self.level {
            let turning = self.level_turning(level, wanted)?;
            return Plan::level(turning, self.geometry.joints.len());
        }
        Plan::new(
            wanted,
            self.geometry.joints.len(),
            self.pattern.as_ref(),
            self.six.is_some(),
        )
    }

    /// Where the table brings a point of the platter, plate frame.
    pub(super) fn carried(&self, wanted: &Wanted, turn_rad: f64) -> Vector3<f64> {
        match &self.geometry.turntable {
            Some(table) => {
                let table = TableScene::new(table, turn_rad);
                table.platter_axes * wanted.at_mm + table.centre_mm
            }
            None => wanted.at_mm,
        }
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

    /// The base's origin in the plate frame.
    pub(super) fn base_at(&self, travel_mm: f64) -> Vector3<f64> {
        self.base_mm + self.along * travel_mm
    }

    pub(super) fn ask(&self, plan: &Plan, task: &Task, travel_mm: f64) -> Ask {
        let base_mm = self.base_at(travel_mm);
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
        if self.level.is_some() {
            let task = self.task(wanted, &plan, turn_rad);
            roots.retain(|r| self.level_points(wanted, r, &task, travel_mm));
        }
        roots.sort_by(|a, b| b.margin.total_cmp(&a.margin));
        out.extend(roots.iter().map(|r| self.solution(r)));
    }

    pub(super) fn accepts(&self, plan: &Plan, root: &Root) -> bool {
        root.margin >= -LIMIT_SLACK_RAD && self.accepts_direction(plan, root)
    }

    /// Like [`Self::accepts`], limits apart.
    pub(super) fn accepts_direction(&self, plan: &Plan, root: &Root) -> bool {
        root.side_lean <= self.cell.accept.direction_rad + LIMIT_SLACK_RAD
            && root.height_off.abs() <= self.height_allowed_mm()
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
            height_off_mm: root.height_off,
        }
    }

    /// Joints that a target moves: the first so many.
    pub(super) fn free(&self, plan: &Plan) -> usize {
        match plan.method {
            Method::ClosedStill => 4,
            _ => self.geometry.joints.len(),
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
        let place = Place::new(self.geometry, travel_mm, task, self.free(plan));
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
            (Method::Six, _) => self.six_roots(plan, task, &place, out),
            (Method::SixSpare, _) => self.six_spare(plan, &place, hints, out),
            (method, _) => {
                let mut found = Vec::new();
                let spare = method.spares();
                let search = if spare {
                    Search::Starts(STARTS_SPARE)
                } else {
                    Search::Patient(PATIENCE)
                };
                numeric::roots(&place, self.cell, self.starts(), hints, search, &mut found);
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
        let place = Place::new(self.geometry, travel_mm, task, self.geometry.joints.len());
        let spare = plan.method.spares();
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
