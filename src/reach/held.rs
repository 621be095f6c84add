//! A posture that meets a target and follows it while the target moves.

use nalgebra::Vector3;

use crate::kinematics::MAX_JOINTS;
use crate::reach::Solver;
use crate::reach::conditions::Task;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::plan::Plan;
use crate::reach::polish::Look;
use crate::reach::polish::Place;
use crate::reach::small::MAX_ROWS;
use crate::reach::small::Posture;

/// A joint that turns more in one step has jumped to another posture, rad.
pub(super) const JUMP_RAD: f64 = 0.6;

/// A posture that meets a target, ready to be moved.
pub(super) struct Held<'s, 'a> {
    pub solver: &'s Solver<'a>,
    pub plan: Plan,
    pub task: Task,
    pub travel_mm: f64,
    pub values: Posture,
}

/// The largest turn of a joint between two postures, rad.
pub(super) fn moved(a: &Posture, b: &Posture) -> f64 {
    a.iter()
        .zip(b)
        .fold(0.0, |m: f64, (x, y)| m.max((x - y).abs()))
}

impl Held<'_, '_> {
    pub fn joints(&self) -> usize {
        self.solver.geometry.joints.len()
    }

    /// Least distance of a joint to its limits, rad; those at the limit are inside.
    pub fn margin(&self, q: &Posture) -> f64 {
        margin_of(&self.solver.cell.joints, q) + LIMIT_SLACK_RAD
    }

    /// The posture that follows the target moved by `by` mm (plate frame), from `near`.
    pub fn follow(&self, by: Vector3<f64>, near: &Posture) -> Option<Posture> {
        let mut task = self.task;
        task.target_mm += by;
        if let Some(level) = &self.solver.level {
            // An arm that cannot lift does not follow up or down.
            let base = self.solver.base_at(self.travel_mm);
            let off = level.above(&self.solver.base_axes, &base, &task.target_mm);
            if off.abs() > self.solver.height_allowed_mm() {
                return None;
            }
        }
        let free = self.solver.free(&self.plan);
        let place = Place::new(self.solver.geometry, self.travel_mm, &task, free);
        let mut q = *near;
        (place.polish(&mut q, 12) && moved(&q, near) < JUMP_RAD).then_some(q)
    }

    /// How each joint turns with the target's place, rad per mm, the rest of what is asked held:
    /// the first three columns of the (pseudo-)inverse of the Jacobian of the conditions.
    /// `None` at a singular posture.
    pub fn slopes(&self, q: &Posture) -> Option<[Vector3<f64>; MAX_JOINTS]> {
        let free = self.solver.free(&self.plan);
        let place = Place::new(self.solver.geometry, self.travel_mm, &self.task, free);
        let mut look = Look::new();
        place.look(q, &mut look);
        let mut out = [Vector3::zeros(); MAX_JOINTS];
        for i in 0..3 {
            let mut right = [0.0; MAX_ROWS];
            match look.places() {
                3 => right[i] = 1.0 / self.task.length_mm,
                // Only what lies in the plane of an arm that cannot lift.
                _ => {
                    let mut at = Vector3::zeros();
                    at[i] = 1.0 / self.task.length_mm;
                    let seen = place.seen_in_plane(q, at);
                    (right[0], right[1]) = seen;
                }
            }
            let step = place.step_for(&look, &right)?;
            for (o, s) in out.iter_mut().zip(step) {
                o[i] = s;
            }
        }
        out.iter()
            .all(|v| v.iter().all(|x| x.is_finite()))
            .then_some(out)
    }

    /// The way along which 1 mm turns the joints most: the largest singular vector of the slopes.
    pub fn tiring(&self, slopes: &[Vector3<f64>; MAX_JOINTS]) -> Vector3<f64> {
        let mut square = nalgebra::Matrix3::zeros();
        for s in &slopes[..self.joints()] {
            square += s * s.transpose();
        }
        let eigen = square.symmetric_eigen();
        let k = eigen.eigenvalues.imax();
        eigen.eigenvectors.column(k).into()
    }
}
