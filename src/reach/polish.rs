//! From a posture that is nearly right to one that is: Newton's method on the registered geometry.

use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::Posed;
use crate::reach::conditions::Task;
use crate::reach::conditions::across;
use crate::reach::conditions::evaluate;
use crate::reach::small::MAX_ROWS;
use crate::reach::small::Posture;
use crate::reach::small::RowSpace;
use crate::reach::small::Rows;
use crate::reach::small::solve_square;

/// What a root may miss at most: position, mm.
pub(super) const ROOT_MM: f64 = 1e-9;
/// What a root may miss at most: angles, rad.
pub(super) const ROOT_RAD: f64 = 1e-11;

/// The arm at one travel, and what it shall do there.
pub(super) struct Place<'a> {
    pub geometry: &'a Geometry,
    /// The turns that no joint changes, and room for the scene of one posture.
    posed: Posed<'a>,
    pub travel_mm: f64,
    pub task: &'a Task,
    /// Joints that may move: the first so many.
    pub free: usize,
}

/// Residuals and derivatives of one posture.
pub(super) struct Look {
    pub r: [f64; MAX_ROWS],
    pub j: Rows,
    pub rows: usize,
    /// Rows of the place; the others are of angles.
    places: usize,
}

impl Look {
    pub fn new() -> Self {
        Look {
            r: [0.0; MAX_ROWS],
            j: [[0.0; MAX_JOINTS]; MAX_ROWS],
            rows: 0,
            places: 3,
        }
    }
    fn split(&self, length_mm: f64) -> (f64, f64) {
        let r = &self.r;
        let places = self.places;
        let place = r[..places].iter().map(|x| x * x).sum::<f64>().sqrt() * length_mm;
        let turn = r[places..self.rows]
            .iter()
            .fold(0.0f64, |m, x| m.max(x.abs()));
        (place, turn)
    }
    /// Rows of the place: three, or two of an arm that cannot lift.
    pub fn places(&self) -> usize {
        self.places
    }
    fn square(&self) -> f64 {
        self.r[..self.rows].iter().map(|x| x * x).sum()
    }
}

impl<'a> Place<'a> {
    pub fn new(geometry: &'a Geometry, travel_mm: f64, task: &'a Task, free: usize) -> Self {
        Place {
            geometry,
            posed: Posed::new(geometry),
            travel_mm,
            task,
            free,
        }
    }

    pub fn look(&self, q: &Posture, look: &mut Look) {
        let mut scene = self.posed.scratch.borrow_mut();
        let values = &q[..self.geometry.joints.len()];
        scene.place(&self.posed, self.travel_mm, values);
        look.places = self.task.turning.place_rows();
        look.rows = evaluate(&scene, self.task, &mut look.r, &mut look.j);
    }

    /// Newton's steps, the shortest ones where there are joints to spare. True if it is a root.
    pub fn polish(&self, q: &mut Posture, steps: usize) -> bool {
        let mut look = Look::new();
        let mut before = f64::INFINITY;
        let mut earlier = f64::INFINITY;
        for k in 0..steps {
            self.look(q, &mut look);
            let (place, turn) = look.split(self.task.length_mm);
            if !(place.is_finite() && turn.is_finite()) {
                return false;
            }
            let now = place / self.task.length_mm + turn;
            // Done, or as good as rounding lets it be.
            if (place < 1e-11 && turn < 1e-14)
                || (place <= ROOT_MM && turn <= ROOT_RAD && now > 0.25 * before)
            {
                return true;
            }
            before = now;
            // Near an end of reach each step gains a factor of four; less leads nowhere.
            if k % 5 == 4 {
                if k > 5 && now > 0.1 * earlier {
                    return false;
                }
                earlier = now;
            }
            let Some(d) = self.step(&look) else {
                break;
            };
            let size = d[..self.free].iter().fold(0.0f64, |m, x| m.max(x.abs()));
            let f = if size > 0.6 { 0.6 / size } else { 1.0 };
            for (x, d) in q.iter_mut().zip(&d[..self.free]) {
                *x -= f * d;
            }
        }
        self.is_root(q)
    }

    /// Whether a posture meets all conditions.
    pub fn is_root(&self, q: &Posture) -> bool {
        let mut look = Look::new();
        self.look(q, &mut look);
        let (place, turn) = look.split(self.task.length_mm);
        place <= ROOT_MM && turn <= ROOT_RAD
    }

    fn step(&self, look: &Look) -> Option<Posture> {
        self.step_for(look, &look.r)
    }

    /// The (shortest) turns of the joints that change the conditions by `right`, linearly.
    pub fn step_for(&self, look: &Look, right: &[f64; MAX_ROWS]) -> Option<Posture> {
        if look.rows == self.free {
            let mut a = [[0.0; MAX_JOINTS]; MAX_JOINTS];
            let mut b = [0.0; MAX_JOINTS];
            a[..look.rows].copy_from_slice(&look.j[..look.rows]);
            b[..look.rows].copy_from_slice(&right[..look.rows]);
            solve_square(&mut a, &mut b, look.rows)?;
            Some(b)
        } else {
            let space = RowSpace::of(&look.j, look.rows, self.free)?;
            Some(space.shortest(right))
        }
    }

    /// What an arm of parallel axes sees of a vector (plate frame): its two rows of the place.
    pub fn seen_in_plane(&self, q: &Posture, v: Vector3<f64>) -> (f64, f64) {
        let mut scene = self.posed.scratch.borrow_mut();
        let values = &q[..self.geometry.joints.len()];
        scene.place(&self.posed, self.travel_mm, values);
        across(&scene.joints[0].axis, &v)
    }

    /// Levenberg and Marquardt's damped steps from anywhere; true if a root was found.
    pub fn descend(&self, q: &mut Posture, steps: usize) -> bool {
        let mut look = Look::new();
        let mut trial = Look::new();
        self.look(q, &mut look);
        let mut cost = look.square();
        let mut damping = 1e-2;
        for _ in 0..steps {
            if cost < 1e-6 {
                let mut end = *q;
                if self.polish(&mut end, 12) {
                    *q = end;
                    return true;
                }
            }
            let mut a = [[0.0; MAX_JOINTS]; MAX_JOINTS];
            let mut b = [0.0; MAX_JOINTS];
            for i in 0..self.free {
                for k in 0..=i {
                    let sum: f64 = (0..look.rows).map(|r| look.j[r][i] * look.j[r][k]).sum();
                    a[i][k] = sum;
                    a[k][i] = sum;
                }
                b[i] = (0..look.rows).map(|r| look.j[r][i] * look.r[r]).sum();
                a[i][i] += damping;
            }
            if solve_square(&mut a, &mut b, self.free).is_none() {
                return false;
            }
            let mut next = *q;
            for (x, d) in next.iter_mut().zip(&b[..self.free]) {
                *x -= d.clamp(-1.0, 1.0);
            }
            self.look(&next, &mut trial);
            let new_cost = trial.square();
            if new_cost < cost {
                let slow = new_cost > 0.999 * cost && cost < 1e3 && damping < 1e-3;
                *q = next;
                std::mem::swap(&mut look, &mut trial);
                cost = new_cost;
                damping = (damping * 0.2).max(1e-9);
                if slow && cost > 1e-6 {
                    return false;
                }
            } else {
                damping *= 6.0;
                if !(damping < 1e6) {
                    return false;
                }
            }
        }
        false
    }
}
