//! How far a point may be moved before a posture can no longer follow it: the edge of reach.
//!
//! The tool's direction is held as asked for; an azimuth that the arm meets only at certain pairs of
//! track and table is let go. The nearest edge is sought along the way to each joint
//! limit, the way that tires the arm most, and the six axes of the plate; from the edge that was met
//! the search goes on square to it, until it comes no nearer. So the distance is one that was really
//! met, to 0.01 mm; another edge still nearer is possible in theory only where the edge is strongly
//! curved.

use nalgebra::Vector3;

use crate::cell::JointInfo;
use crate::kinematics::MAX_JOINTS;
use crate::reach::Solver;
use crate::reach::Wanted;
use crate::reach::conditions::Task;
use crate::reach::conditions::Turning;
use crate::reach::held::Held;
use crate::reach::held::JUMP_RAD;
use crate::reach::held::moved;
use crate::reach::limits::LIMIT_SLACK_RAD;
use crate::reach::limits::margin_of;
use crate::reach::polish::Place;
use crate::reach::small::Posture;

/// Farther edges are not sought, mm.
pub const FARTHEST_MM: f64 = 250.0;
/// Edges are found to this, mm.
const FOUND_MM: f64 = 0.005;
/// First step away from the point, mm.
const FIRST_MM: f64 = 1.0;
/// A tip that is moved with its posture following is moved in steps of this at most, mm.
const MOVED_STEP_MM: f64 = 10.0;
/// Rounds of turning square to the edge that was met.
const ROUNDS: usize = 5;

/// What ends the reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum EdgeBy {
    /// Joint (from 0) comes to its lower (false) or upper (true) limit.
    Limit(usize, bool),
    /// The arm comes to the end of what its links allow.
    Links,
}

/// The nearest edge of reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// How far it is, mm.
    pub distance_mm: f64,
    /// Unit vector toward it, plate frame.
    pub toward: Vector3<f64>,
    /// What it is made by.
    pub by: EdgeBy,
}

/// How far along one way.
struct Exit {
    far: f64,
    by: EdgeBy,
    /// Square to the edge, outward; zero where it is not known.
    normal: Vector3<f64>,
}

impl<'a> Solver<'a> {
    /// The posture as one that follows its target; `None` where it does not meet it.
    pub(super) fn held<'s>(
        &'s self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Option<Held<'s, 'a>> {
        let wanted = &self.relaxed(wanted);
        let plan = self.plan(wanted).ok()?;
        let mut values = Posture::default();
        values[..self.geometry.joints.len()].copy_from_slice(values_rad);
        let mut task = self.task(wanted, &plan, turn_rad);
        let meets = |task: &Task| {
            let mut q = values;
            let place = Place::new(self.geometry, travel_mm, task, self.free(&plan));
            place.polish(&mut q, 8) && moved(&q, &values) < 1e-5
        };
        if !meets(&task) {
            // Steep planar arms: the tool leans to the other side of the plane.
            if let Turning::Plane { psi, .. } = &mut task.turning {
                *psi = -*psi;
            }
            if !meets(&task) {
                return None;
            }
        }
        Some(Held {
            solver: self,
            plan,
            task,
            travel_mm,
            values,
        })
    }

    /// A target without what the arm can only meet at certain pairs of track and table, so that the rest
    /// can be followed.
    fn relaxed(&self, wanted: &Wanted) -> Wanted {
        let mut less = *wanted;
        for drop in [
            |w: &mut Wanted| w.azimuth_rad = None,
            |w: &mut Wanted| w.roll_rad = None,
            |w: &mut Wanted| w.elevation_rad = None,
        ] {
            if self.plan(&less).is_ok() {
                break;
            }
            drop(&mut less);
        }
        less
    }

    /// The nearest edge of reach of a posture at a target: how far the point may be moved, whichever
    /// way, while this posture can follow within its limits. `None` where it is farther than
    /// [`FARTHEST_MM`], or the posture does not meet the target. With joints to spare: as far as the
    /// arm follows by the shortest turns, which may be less than it could.
    pub fn edge(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Option<Edge> {
        let held = self.held(wanted, travel_mm, turn_rad, values_rad)?;
        held.nearest_edge()
    }

    /// The posture that follows from one at a target while the tip moves by `by_mm` (plate axes) with
    /// the tool's direction as asked for, and its least distance to a joint limit, rad (negative
    /// outside). `None` where it cannot follow.
    pub fn moved_posture(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
        by_mm: Vector3<f64>,
    ) -> Option<(Vec<f64>, f64)> {
        let held = self.held(wanted, travel_mm, turn_rad, values_rad)?;
        let steps = (by_mm.norm() / MOVED_STEP_MM).ceil().clamp(1.0, 1000.0);
        let mut q = held.values;
        let mut k = 0.0;
        while k < steps {
            k += 1.0;
            q = held.follow(by_mm * (k / steps), &q)?;
        }
        let values = q[..self.geometry.joints.len()].to_vec();
        Some((values, margin_of(&self.cell.joints, &q)))
    }

    /// What 1 mm of the tip costs at most by a posture that meets a target, rad: the largest turn of one
    /// joint along the way of the largest singular value of [`Self::slopes`]; linear. Infinite at a
    /// singular posture.
    pub fn cost(&self, wanted: &Wanted, travel_mm: f64, turn_rad: f64, values_rad: &[f64]) -> f64 {
        let Some(held) = self.held(wanted, travel_mm, turn_rad, values_rad) else {
            return f64::INFINITY;
        };
        match held.slopes(&held.values) {
            Some(slopes) => {
                let way = held.tiring(&slopes);
                let each = slopes[..held.joints()].iter().map(|s| s.dot(&way).abs());
                each.fold(0.0, f64::max)
            }
            None => f64::INFINITY,
        }
    }

    /// How each joint turns with the place of a target that a posture meets, rad per mm, plate axes;
    /// the rest of what is asked held. `None` at a singular posture, or where it does not meet it.
    pub fn slopes(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        values_rad: &[f64],
    ) -> Option<[Vector3<f64>; MAX_JOINTS]> {
        let held = self.held(wanted, travel_mm, turn_rad, values_rad)?;
        held.slopes(&held.values)
    }

    /// The posture nearest to a given one that meets a target, and its least distance to a joint
    /// limit, rad (negative outside). `None` where none is found from there.
    pub fn nearest_posture(
        &self,
        wanted: &Wanted,
        travel_mm: f64,
        turn_rad: f64,
        from_rad: &[f64],
    ) -> Option<(Vec<f64>, f64)> {
        let wanted = &self.relaxed(wanted);
        let plan = self.plan(wanted).ok()?;
        let task = self.task(wanted, &plan, turn_rad);
        let n = self.geometry.joints.len();
        let mut from = Posture::default();
        from[..n].copy_from_slice(from_rad.get(..n)?);
        let follow = |task: &Task| {
            let mut q = from;
            let place = Place::new(self.geometry, travel_mm, task, self.free(&plan));
            (place.polish(&mut q, 14) && moved(&q, &from) < JUMP_RAD).then_some(q)
        };
        let mut mirrored = task;
        let other = match &mut mirrored.turning {
            Turning::Plane { psi, .. } => {
                *psi = -*psi;
                follow(&mirrored)
            }
            _ => None,
        };
        let q = match (follow(&task), other) {
            (Some(a), Some(b)) if moved(&b, &from) < moved(&a, &from) => b,
            (Some(a), _) => a,
            (None, Some(b)) => b,
            (None, None) => return None,
        };
        // An azimuth that only follows has moved with the geometry; all else must still be met.
        let root = self.root_of(&plan, &task, travel_mm, q);
        let lean = root.side_lean <= self.cell.accept.direction_rad + LIMIT_SLACK_RAD;
        let high = root.height_off.abs() <= self.height_allowed_mm();
        (lean && high).then(|| (q[..n].to_vec(), margin_of(&self.cell.joints, &q)))
    }
}

impl Held<'_, '_> {
    /// How far along a unit vector; `None` beyond the farthest.
    fn exit(&self, toward: &Vector3<f64>, farthest: f64) -> Option<Exit> {
        let (mut at, mut q) = (0.0, self.values);
        let mut step: f64 = FIRST_MM;
        let mut by = EdgeBy::Links;
        for _ in 0..400 {
            if at >= farthest {
                return None;
            }
            if step < FOUND_MM {
                break;
            }
            match self.follow(toward * (at + step), &q) {
                Some(next) if self.margin(&next) >= 0.0 => {
                    at += step;
                    let turned = moved(&next, &q);
                    q = next;
                    step *= if turned < 0.1 { 1.7 } else { 1.0 };
                }
                Some(next) => {
                    by = self.limit_of(&next).unwrap_or(EdgeBy::Links);
                    step *= 0.5;
                }
                None => {
                    by = EdgeBy::Links;
                    step *= 0.5;
                }
            }
        }
        Some(Exit {
            far: at,
            by,
            normal: self.normal(&q, by, toward),
        })
    }

    fn limit_of(&self, q: &Posture) -> Option<EdgeBy> {
        let joints = &self.solver.cell.joints;
        let worst = |(i, j): (usize, &JointInfo)| {
            let (below, above) = (q[i] - j.limits_rad.low, j.limits_rad.high - q[i]);
            (below.min(above), i, above < below)
        };
        let (_, i, upper) = joints
            .iter()
            .enumerate()
            .map(worst)
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(EdgeBy::Limit(i, upper))
    }

    fn normal(&self, q: &Posture, by: EdgeBy, toward: &Vector3<f64>) -> Vector3<f64> {
        let Some(slopes) = self.slopes(q) else {
            return Vector3::zeros();
        };
        let n = match by {
            EdgeBy::Limit(i, true) => slopes[i],
            EdgeBy::Limit(i, false) => -slopes[i],
            EdgeBy::Links => self.tiring(&slopes),
        };
        let size = n.norm();
        if !(size > 1e-12) {
            return Vector3::zeros();
        }
        match n.dot(toward) < 0.0 && by == EdgeBy::Links {
            true => -n / size,
            false => n / size,
        }
    }

    fn nearest_edge(&self) -> Option<Edge> {
        if self.margin(&self.values) < 0.0 {
            return None;
        }
        let mut ways: Vec<Vector3<f64>> = Vec::new();
        if let Some(slopes) = self.slopes(&self.values) {
            ways.extend(slopes[..self.joints()].iter().flat_map(|s| [*s, -s]));
            let t = self.tiring(&slopes);
            ways.extend([t, -t]);
        }
        for axis in [Vector3::x(), Vector3::y(), Vector3::z()] {
            ways.extend([axis, -axis]);
        }
        let mut best: Option<Edge> = None;
        for way in ways {
            let size = way.norm();
            if !(size > 1e-12) {
                continue;
            }
            let mut toward = way / size;
            for _ in 0..ROUNDS {
                let farthest = best.map_or(FARTHEST_MM, |b| b.distance_mm + 1.0);
                let Some(exit) = self.exit(&toward, farthest * 1.5) else {
                    break;
                };
                if best.is_none_or(|b| exit.far < b.distance_mm) && exit.far <= FARTHEST_MM {
                    best = Some(Edge {
                        distance_mm: exit.far,
                        toward,
                        by: exit.by,
                    });
                }
                let turned = exit.normal.dot(&toward);
                if exit.normal == Vector3::zeros() || !(0.1..=0.9999).contains(&turned) {
                    break;
                }
                toward = exit.normal;
            }
        }
        best
    }
}
