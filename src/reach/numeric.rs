//! Any arm: roots from many starts spread evenly over the limits, always the same ones.
//!
//! The starts whose tip and tool come nearest to the target are tried first: each branch has starts
//! near it, and few steps lead from there.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::radical_inverse;
use crate::reach::conditions::Task;
use crate::reach::conditions::Turning;
use crate::reach::limits::settle;
use crate::reach::polish::Place;
use crate::reach::small::Posture;
use crate::units::wrap_rad;

/// Starts that are spread over the limits.
const STARTS: usize = 2000;
/// Most of them that are tried for one target at one station.
const MOST_STARTS: usize = 640;
/// Most roots that are kept: a general arm of six joints has at most 16 in one full turn.
const MOST_ROOTS: usize = 64;
/// Starts without a new root where a closed form gave most of them.
pub(super) const SHORT_PATIENCE: usize = 40;

/// A posture, and where tip and tool are then, plate frame at travel 0.
#[derive(Debug, Clone)]
pub(super) struct Start {
    values: Posture,
    tip_mm: Vector3<f64>,
    tool: Matrix3<f64>,
}

/// Starts spread evenly over the limits (over one turn where a joint may turn more).
pub(super) fn starts(cell: &Cell, geometry: &Geometry) -> Vec<Start> {
    const BASES: [usize; 7] = [2, 3, 5, 7, 11, 13, 17];
    (0..STARTS)
        .map(|k| {
            let mut values = Posture::default();
            for (i, joint) in cell.joints.iter().enumerate() {
                let l = joint.limits_rad;
                let (middle, half) = (0.5 * (l.low + l.high), 0.5 * (l.high - l.low));
                let half = half.min(std::f64::consts::PI);
                values[i] = middle + half * (2.0 * radical_inverse(k + 1, BASES[i]) - 1.0);
            }
            let scene = ArmScene::new(geometry, 0.0, &values[..cell.joints.len()]);
            Start {
                values,
                tip_mm: scene.tip_mm,
                tool: scene.tool_axes,
            }
        })
        .collect()
}

/// The starts nearest to a target, nearest first. `shift_mm`: what the track adds to every tip.
fn nearest(starts: &[Start], task: &Task, shift_mm: Vector3<f64>) -> Vec<Posture> {
    let target = task.target_mm - shift_mm;
    let per = 1.0 / (task.length_mm * task.length_mm);
    let full = match &task.turning {
        Turning::Full(m) => Some(task.frame * m),
        _ => None,
    };
    let up: Vector3<f64> = task.frame.column(2).into();
    let sine = match &task.turning {
        Turning::Angles { elevation, .. } => elevation.map(f64::sin),
        Turning::Pole { elevation, .. } => Some(elevation.sin()),
        Turning::Plane { psi, .. } => Some(psi.cos()),
        Turning::Full(_) | Turning::Level { .. } => None,
    };
    let mut ranked: Vec<(f64, usize)> = starts
        .iter()
        .enumerate()
        .map(|(i, s)| {
            let mut far = (s.tip_mm - target).norm_squared() * per;
            if let Some(full) = &full {
                far += (s.tool - full).norm_squared() / 16.0;
            }
            if let Some(sine) = sine {
                far += 0.25 * (s.tool.column(2).dot(&up) - sine).powi(2);
            }
            (far, i)
        })
        .collect();
    let count = MOST_STARTS.min(ranked.len());
    if count < ranked.len() && count > 0 {
        ranked.select_nth_unstable_by(count - 1, |a, b| a.0.total_cmp(&b.0));
    }
    ranked.truncate(count);
    ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
    ranked.iter().map(|(_, i)| starts[*i].values).collect()
}

/// Whether two postures are the same but for full turns.
pub(super) fn same(a: &Posture, b: &Posture, joints: usize, within_rad: f64) -> bool {
    a[..joints]
        .iter()
        .zip(b)
        .all(|(x, y)| wrap_rad(x - y).abs() < within_rad)
}

/// How long to search.
#[derive(Debug, Clone, Copy)]
pub(super) enum Search {
    /// Isolated roots: until so many starts in a row gave none that is new. A root suggests others:
    /// each joint turned by half a turn, or mirrored, is a start as well.
    Patient(usize),
    /// Families of roots: so many starts, each leads to some root.
    Starts(usize),
}

/// Roots of a target, within limits or not.
pub(super) fn roots(
    place: &Place,
    cell: &Cell,
    starts: &[Start],
    hints: &[Posture],
    search: Search,
    found: &mut Vec<Posture>,
) {
    let joints = &cell.joints;
    let n = joints.len();
    let along = ArmScene::carriage(place.geometry, place.travel_mm);
    let still = ArmScene::carriage(place.geometry, 0.0);
    let starts = nearest(starts, place.task, along.base_mm - still.base_mm);
    let mut queue: Vec<Posture> = hints.to_vec();
    let mut next = 0;
    let mut since_new = 0;
    let (patience, isolated) = match search {
        Search::Patient(n) => (n, true),
        Search::Starts(n) => (n, false),
    };
    while since_new < patience && found.len() < MOST_ROOTS {
        let mut q = match queue.pop() {
            Some(q) => q,
            None if next < starts.len() => {
                next += 1;
                since_new += 1;
                starts[next - 1]
            }
            None => break,
        };
        if !place.descend(&mut q, 40) {
            continue;
        }
        settle(joints, &mut q);
        if found.iter().any(|f| same(f, &q, n, 2e-6)) {
            continue;
        }
        found.push(q);
        if !isolated {
            continue;
        }
        since_new = 0;
        if found.len() <= 16 {
            for i in 0..n {
                let mut turned = q;
                turned[i] += std::f64::consts::PI;
                queue.push(turned);
                let mut mirrored = q;
                mirrored[i] = -mirrored[i];
                queue.push(mirrored);
            }
        }
    }
}
