//! Arms of six and seven joints by the closed forms of six: single postures, and families of them.

use std::f64::consts::PI;

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::kinematics::Direction;
use crate::kinematics::radical_inverse;
use crate::kinematics::rotation_of;
use crate::reach::conditions::Task;
use crate::reach::conditions::Turning;
use crate::reach::limits::margin_of;
use crate::reach::limits::settle;
use crate::reach::numeric;
use crate::reach::numeric::same;
use crate::reach::plan::Plan;
use crate::reach::polish::Place;
use crate::reach::six::Chain;
use crate::reach::six::Six;
use crate::reach::small::Posture;
use crate::reach::solver::Root;
use crate::reach::solver::Solver;
use crate::reach::spare::climb;

/// Samples of a family with one freedom; of those with more.
const SAMPLES: [usize; 2] = [72, 240];
/// A sample this far outside the limits may still lead to a posture inside, rad.
const OUTSIDE_RAD: f64 = 0.25;
/// Samples nearer than this to one that leads lead to the same posture, rad.
const APART_RAD: f64 = 0.35;
/// Most samples of a family that are followed to their best posture.
const MOST_CLIMBS: usize = 24;

/// The closed form of an arm of six joints, or of one of seven with one joint held.
#[derive(Debug, Clone)]
pub(super) struct Sixes {
    chain: Chain,
    /// The form itself; of seven joints that with the held joint at 0.
    six: Six,
    held: Option<usize>,
}

impl Sixes {
    pub fn of(geometry: &Geometry) -> Option<Self> {
        let chain = Chain::of(geometry);
        match chain.axes.len() {
            6 => {
                let six = Six::of(&chain)?;
                Some(Sixes {
                    chain,
                    six,
                    held: None,
                })
            }
            7 => {
                // The form must be there wherever the held joint stands.
                let (held, six) = [2, 3, 1, 0, 4, 5, 6].into_iter().find_map(|held| {
                    let always = [0.4, -1.3, 2.1]
                        .iter()
                        .all(|v| Six::of(&chain.holding(held, *v)).is_some_and(|s| s.exact));
                    let six = Six::of(&chain.holding(held, 0.0))?;
                    always.then_some((held, six))
                })?;
                Some(Sixes {
                    chain,
                    six,
                    held: Some(held),
                })
            }
            _ => None,
        }
    }

    pub fn words(&self) -> String {
        match self.held {
            None => self.six.words().to_owned(),
            Some(held) => format!("with joint {} held, {}", held + 1, self.six.words()),
        }
    }

    /// Postures for tool axes and tip in the base frame; `value`: of the held joint.
    fn postures(
        &self,
        tool: &Matrix3<f64>,
        tip: &Vector3<f64>,
        value: f64,
        mut found: impl FnMut(Posture),
    ) {
        let Some(held) = self.held else {
            return self.six.postures(tool, tip, found);
        };
        let Some(six) = Six::of(&self.chain.holding(held, value)) else {
            return;
        };
        six.postures(tool, tip, |q| {
            let mut whole = Posture::default();
            whole[..held].copy_from_slice(&q[..held]);
            whole[held] = value;
            whole[held + 1..].copy_from_slice(&q[held..6]);
            found(whole);
        });
    }
}

/// Angles of the tool that a target leaves free.
fn freedoms(turning: &Turning) -> usize {
    match turning {
        Turning::Angles {
            elevation,
            azimuth,
            roll,
        } => [elevation, azimuth, roll]
            .iter()
            .filter(|a| a.is_none())
            .count(),
        Turning::Pole { roll, .. } => usize::from(roll.is_none()),
        Turning::Full(_) | Turning::Plane { .. } | Turning::Level { .. } => 0,
    }
}

/// The tool's axes in the point's frame where its free angles have the given shares (0 to 1) of
/// their ranges.
fn rotation(turning: &Turning, mut share: impl FnMut() -> f64) -> Matrix3<f64> {
    let full_turn = |share: f64| (2.0 * share - 1.0) * PI;
    match turning {
        Turning::Full(m) => *m,
        Turning::Angles {
            elevation,
            azimuth,
            roll,
        } => {
            // Even over the sphere.
            let e = elevation.unwrap_or_else(|| (2.0 * share() - 1.0).asin());
            rotation_of(&Direction {
                elevation_rad: e,
                azimuth_rad: azimuth.unwrap_or_else(|| full_turn(share())),
                roll_rad: roll.unwrap_or_else(|| full_turn(share())),
            })
        }
        Turning::Pole {
            elevation,
            azimuth,
            roll,
        } => rotation_of(&Direction {
            elevation_rad: *elevation,
            azimuth_rad: azimuth.unwrap_or(0.0),
            roll_rad: roll.unwrap_or_else(|| full_turn(share())),
        }),
        // Of other arms.
        Turning::Plane { .. } | Turning::Level { .. } => Matrix3::identity(),
    }
}

impl Solver<'_> {
    /// Tip and tool axes as the base sees them.
    fn in_base(
        &self,
        task: &Task,
        travel_mm: f64,
        tool: &Matrix3<f64>,
    ) -> (Matrix3<f64>, Vector3<f64>) {
        let tip = self
            .base_axes
            .tr_mul(&(task.target_mm - self.base_at(travel_mm)));
        (self.base_axes.tr_mul(&(task.frame * tool)), tip)
    }

    /// Six joints, six conditions.
    pub(super) fn six_roots(&self, plan: &Plan, task: &Task, place: &Place, out: &mut Vec<Root>) {
        let Some(sixes) = &self.six else { return };
        let (tool, tip) = self.in_base(task, place.travel_mm, &rotation(&task.turning, || 0.5));
        let mut seeds = Vec::new();
        sixes.postures(&tool, &tip, 0.0, |q| seeds.push(q));
        let mut found: Vec<Posture> = Vec::new();
        let mut take = |mut q: Posture| {
            if place.polish(&mut q, 30) {
                settle(&self.cell.joints, &mut q);
                if !found.iter().any(|f| same(f, &q, 6, 2e-6)) {
                    found.push(q);
                }
            }
        };
        seeds.iter().for_each(|q| take(*q));
        if !sixes.six.exact {
            // The axes only nearly meet: what the closed form lacks near an end of reach is sought.
            numeric::roots(
                place,
                self.cell,
                self.starts(),
                &seeds,
                numeric::Search::Patient(numeric::SHORT_PATIENCE),
                &mut found,
            );
        }
        for q in found {
            let root = self.root_of(plan, task, place.travel_mm, q);
            self.keep(root, 2e-6, out);
        }
    }

    /// Joints to spare: samples over the free angles, the best of them followed to the posture
    /// farthest from the limits.
    pub(super) fn six_spare(
        &self,
        plan: &Plan,
        place: &Place,
        hints: &[Posture],
        out: &mut Vec<Root>,
    ) {
        const BASES: [usize; 4] = [2, 3, 5, 7];
        let Some(sixes) = &self.six else { return };
        let joints = &self.cell.joints;
        let free = freedoms(&place.task.turning) + usize::from(sixes.held.is_some());
        let samples = SAMPLES[usize::from(free > 1)];
        let mut tops: Vec<(f64, Posture)> = Vec::new();
        for k in 0..samples {
            let mut next = 0;
            let mut share = || {
                next += 1;
                match free {
                    1 => (k as f64 + 0.5) / samples as f64,
                    _ => radical_inverse(k + 1, BASES[(next - 1) % 4]),
                }
            };
            let value = sixes.held.map_or(0.0, |held| {
                let limits = joints[held].limits_rad;
                let middle = 0.5 * (limits.low + limits.high);
                let half = (0.5 * (limits.high - limits.low)).min(PI);
                middle + half * (2.0 * share() - 1.0)
            });
            let wanted = rotation(&place.task.turning, &mut share);
            let (tool, tip) = self.in_base(place.task, place.travel_mm, &wanted);
            sixes.postures(&tool, &tip, value, |mut q| {
                settle(joints, &mut q);
                let margin = margin_of(joints, &q);
                if margin > -OUTSIDE_RAD {
                    tops.push((margin, q));
                }
            });
        }
        tops.sort_by(|a, b| b.0.total_cmp(&a.0));
        let n = joints.len();
        let mut followed: Vec<Posture> = Vec::new();
        for q in hints.iter().chain(tops.iter().map(|(_, q)| q)) {
            if followed.len() >= MOST_CLIMBS + hints.len() {
                break;
            }
            if followed.iter().any(|f| same(f, q, n, APART_RAD)) {
                continue;
            }
            followed.push(*q);
            let mut q = *q;
            if place.polish(&mut q, 14) {
                settle(joints, &mut q);
                climb(place, joints, &mut q);
                let root = self.root_of(plan, place.task, place.travel_mm, q);
                self.keep(root, 1e-3, out);
            }
        }
    }
}
