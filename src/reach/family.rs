//! A planar arm with joints to spare: one posture of largest margin for each family.

use crate::reach::conditions::Turning;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::pattern::Pattern;
use crate::reach::pattern::Seed;
use crate::reach::plan::Plan;
use crate::reach::polish::Place;
use crate::reach::small::Posture;
use crate::reach::solver::Root;
use crate::reach::solver::Solver;
use crate::reach::spare::climb;

/// Plane angles tried for a planar arm whose tool may point anywhere in its plane.
const PLANE_STEPS: usize = 32;

impl Solver<'_> {
    pub(super) fn closed_spare(
        &self,
        plan: &Plan,
        place: &Place,
        pattern: &Pattern,
        hints: &[Posture],
        out: &mut Vec<Root>,
    ) {
        let joints = &self.cell.joints;
        let mut ask = self.ask(plan, place.task, place.travel_mm);
        let mut seeds = [Seed::default(); 8];
        let mut tops: Vec<(Posture, bool)> = hints.iter().map(|h| (*h, false)).collect();
        if plan.elevation.is_some() {
            let half = joints
                .get(4)
                .map_or(0.0, |j| 0.5 * (j.limits_rad.high - j.limits_rad.low));
            let middle = ask.roll_value;
            for f in [0.0, -0.6, 0.6] {
                ask.roll_value = middle + f * half.min(std::f64::consts::PI);
                let count = pattern.seeds(&ask, &mut seeds);
                tops.extend(seeds[..count].iter().map(|s| (s.values, s.branch & 2 != 0)));
            }
        } else {
            // Along the circle of plane angles, the best seeds of each branch.
            ask.in_plane = true;
            ask.one_side = true;
            let mut margins = [[f64::NEG_INFINITY; PLANE_STEPS]; 8];
            let mut values = [[Posture::default(); PLANE_STEPS]; 8];
            for k in 0..PLANE_STEPS {
                ask.from_up = k as f64 * std::f64::consts::TAU / PLANE_STEPS as f64;
                let count = pattern.seeds(&ask, &mut seeds);
                for s in &seeds[..count] {
                    let mut q = s.values;
                    settle(joints, &mut q);
                    if s.slack > -0.02 {
                        margins[s.branch][k] = margin_of(joints, &q);
                        values[s.branch][k] = q;
                    }
                }
            }
            for (m, v) in margins.iter().zip(&values) {
                for k in 0..PLANE_STEPS {
                    let before = m[(k + PLANE_STEPS - 1) % PLANE_STEPS];
                    if m[k].is_finite() && m[k] >= before && m[k] > m[(k + 1) % PLANE_STEPS] {
                        tops.push((v[k], false));
                    }
                }
            }
        }
        for (top, behind) in tops {
            let mut task = *place.task;
            if let Turning::Plane { psi, .. } = &mut task.turning
                && behind
            {
                *psi = -*psi;
            }
            let place = Place::new(self.geometry, place.travel_mm, &task, place.free);
            let mut q = top;
            if place.polish(&mut q, 14) {
                settle(joints, &mut q);
                climb(&place, joints, &mut q);
                let root = self.root_of(plan, &task, place.travel_mm, q);
                self.keep(root, 1e-3, out);
            }
        }
    }
}
