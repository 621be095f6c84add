//! From a seed of the closed form to a root, and what a root is worth.

use crate::kinematics::ArmScene;
use crate::kinematics::direction_of;
use crate::reach::conditions::PlaneOf;
use crate::reach::conditions::Task;
use crate::reach::conditions::Turning;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::pattern::Ask;
use crate::reach::pattern::Seed;
use crate::reach::plan::Plan;
use crate::reach::polish::Place;
use crate::reach::small::Posture;
use crate::reach::solver::Root;
use crate::reach::solver::Solver;
use crate::units::wrap_rad;
use nalgebra::Vector3;

impl Solver<'_> {
    /// Polishes a seed of the closed form to a root. Near the end of reach, where the seed is not
    /// exact, a second start farther inside is polished too.
    pub(super) fn refine(
        &self,
        plan: &Plan,
        task: &Task,
        travel_mm: f64,
        ask: &Ask,
        seed: &Seed,
    ) -> impl Iterator<Item = Root> + use<> {
        let mut out = [None, None];
        if let Some(pattern) = &self.pattern {
            let exact = pattern.exact(ask);
            // NaN is refused too.
            if seed.slack >= pattern.least_slack(ask) {
                out[0] = self.refine_one(plan, task, travel_mm, seed);
                if !exact && seed.slack < 0.03 {
                    let wide = Ask {
                        most_cos: 0.97,
                        ..*ask
                    };
                    let mut seeds = [Seed::default(); 8];
                    let count = pattern.seeds(&wide, &mut seeds);
                    out[1] = seeds[..count]
                        .iter()
                        .find(|s| s.branch == seed.branch)
                        .and_then(|s| self.refine_one(plan, task, travel_mm, s));
                }
            }
        }
        out.into_iter().flatten()
    }

    fn refine_one(&self, plan: &Plan, task: &Task, travel_mm: f64, seed: &Seed) -> Option<Root> {
        let mut task = *task;
        if let Turning::Plane { psi, .. } = &mut task.turning
            && seed.branch & 2 != 0
        {
            *psi = -*psi;
        }
        let place = Place::new(self.geometry, travel_mm, &task, self.free(plan));
        let mut q = seed.values;
        if !place.polish(&mut q, 30) {
            return None;
        }
        let mut root = self.root_of(plan, &task, travel_mm, q);
        root.branch = seed.branch;
        root.slack = seed.slack;
        Some(root)
    }

    pub(super) fn root_of(&self, plan: &Plan, task: &Task, travel_mm: f64, q: Posture) -> Root {
        let mut values = q;
        settle(&self.cell.joints, &mut values);
        let mut root = Root {
            values,
            margin: margin_of(&self.cell.joints, &values),
            side_lean: 0.0,
            azimuth_miss: 0.0,
            height_off: self.level.as_ref().map_or(0.0, |level| {
                level.above(&self.base_axes, &self.base_at(travel_mm), &task.target_mm)
            }),
            branch: 0,
            slack: 1.0,
        };
        if !plan.steep && plan.azimuth.is_none() {
            return root;
        }
        let n = self.geometry.joints.len();
        let scene = ArmScene::new(self.geometry, travel_mm, &values[..n]);
        let tool = task.frame.tr_mul(&scene.tool_axes);
        if plan.steep {
            let up = Vector3::z();
            root.side_lean = PlaneOf::new(task.frame.tr_mul(&scene.joints[1].axis), up)
                .map_or(std::f64::consts::FRAC_PI_2, |p| {
                    p.side_lean(&tool.column(2).into(), &up)
                });
        }
        if let Some(wanted) = plan.azimuth {
            let heading = scene.heading().map(|h| task.frame.tr_mul(&h));
            root.azimuth_miss = wrap_rad(direction_of(&tool, heading).azimuth_rad - wanted);
        }
        root
    }
}
