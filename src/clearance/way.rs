//! The clearance over a whole way, by a bound on how fast it can change.
//!
//! Over the whole way each point of a body moves at most L relative to what it is compared with, so
//! their distance changes by at most L·δ over a share δ of the way (a distance changes no faster
//! than the points that it is between move: it is Lipschitz with constant L). Between two postures
//! of clearances c₀ and c₁, a share δ apart, it is therefore at least (c₀ + c₁ − L·δ)/2: the lowest
//! place where two lines of slope ∓L from both ends meet. Stretches are halved until this is enough,
//! a posture is too near, or the stretch is as short as [`SMALLEST_STEP`].
//!
//! The bound on a single function is that of Piyavskii (1972) and Shubert (1972); bounding the
//! motion of a chain by the sum of joint motions times reaches is that of conservative advancement
//! (Mirtich 1996; Schwarzer, Saha, Latombe 2005 for ways in joint space). All from memory.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::WayClearance;
use crate::clearance::surroundings::Carrier;
use crate::clearance::surroundings::Pair;
use crate::clearance::surroundings::Part;
use crate::clearance::surroundings::Surroundings;
use crate::clearance::surroundings::With;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;

/// Stretches are halved to this share of the way and no further.
pub const SMALLEST_STEP: f64 = 1.0 / 4096.0;

/// Where a posture is too near, an earlier one is looked for down to this share of the way.
const FIRST_STEP: f64 = 1.0 / 256.0;

/// Most postures that are looked at on one way.
const MOST_SAMPLES: usize = 2000;

/// Rounding of coordinates and of the bound, mm: places are below 1e6 mm, of 1e-16 each.
const ROUNDING_MM: f64 = 1e-8;

/// A pair that is not yet proven clear on a stretch, with its clearances at both ends.
#[derive(Debug, Clone, Copy)]
struct Open {
    pair: usize,
    from_mm: f64,
    to_mm: f64,
}

/// A stretch of the way, as shares, with the pairs that are open there.
#[derive(Debug)]
struct Stretch {
    from: f64,
    to: f64,
    open: Vec<Open>,
}

impl Surroundings<'_> {
    /// The whole way, with all axes moving in proportion. `least_mm` is the least clearance that
    /// counts as clear.
    pub fn way(&self, from: &AxisValues, to: &AxisValues, least_mm: f64) -> WayClearance {
        let (Some(start), Some(end)) = (self.nearest(from), self.nearest(to)) else {
            return WayClearance::Clear {
                at_least_mm: None,
                nearest: None,
            };
        };
        let blocked = |nearest, share| WayClearance::Blocked { nearest, share };
        // What is not a number is not clear.
        let clear = |clearance_mm: f64| clearance_mm >= least_mm;
        if !clear(start.clearance_mm) {
            return blocked(start, 0.0);
        }
        let rates_mm: Vec<f64> = self
            .pairs
            .iter()
            .map(|pair| self.rate_mm(pair, from, to))
            .collect();
        let mut nearest = nearer(start, end);
        let mut found = (!clear(end.clearance_mm)).then_some((end, 1.0));
        let mut at_least_mm = nearest.clearance_mm;
        let mut unproved: Option<f64> = None;
        let mut samples = 2;

        let pairs: Vec<usize> = (0..self.pairs.len()).collect();
        // Each clearance, and whether it is that of a close look and not only a lower bound.
        let look = |at: &AxisValues, open: &[usize], step: f64| -> Vec<(f64, bool)> {
            let stand = self.stand(at);
            let one = |index: &usize| {
                let pair = &self.pairs[*index];
                let quick_mm = self.at_least_mm(&stand, pair);
                // So far that the stretches on both sides are clear whatever their other ends are.
                if quick_mm >= least_mm + rates_mm[*index] * step + 2.0 * ROUNDING_MM {
                    return (quick_mm, false);
                }
                (self.clearance_mm(&stand, pair), true)
            };
            open.iter().map(one).collect()
        };
        let ends = look(from, &pairs, 1.0)
            .into_iter()
            .zip(look(to, &pairs, 1.0));
        let open = pairs.iter().zip(ends).map(|(pair, (start, end))| Open {
            pair: *pair,
            from_mm: start.0,
            to_mm: end.0,
        });
        let mut stretches = vec![Stretch {
            from: 0.0,
            to: 1.0,
            open: open.collect(),
        }];
        // The last is always the earliest on the way.
        while let Some(mut stretch) = stretches.pop() {
            let step = stretch.to - stretch.from;
            let mut worst_mm = f64::INFINITY;
            stretch.open.retain(|open| {
                let fall_mm = rates_mm[open.pair] * step;
                let bound_mm = (open.from_mm + open.to_mm - fall_mm) / 2.0 - ROUNDING_MM;
                let proven = bound_mm >= least_mm;
                if proven {
                    at_least_mm = at_least_mm.min(bound_mm);
                } else {
                    worst_mm = worst_mm.min(bound_mm);
                }
                !proven
            });
            if stretch.open.is_empty() {
                continue;
            }
            let smallest = if found.is_some() {
                FIRST_STEP
            } else {
                SMALLEST_STEP
            };
            if step <= smallest || samples >= MOST_SAMPLES {
                at_least_mm = at_least_mm.min(worst_mm);
                unproved.get_or_insert(stretch.from);
                continue;
            }
            let middle = stretch.from + step / 2.0;
            let at = from.toward(to, middle);
            let open: Vec<usize> = stretch.open.iter().map(|o| o.pair).collect();
            let seen = look(&at, &open, step / 2.0);
            samples += 1;
            for (index, (clearance_mm, _)) in open.iter().zip(&seen).filter(|s| s.1.1) {
                let one = self.named(&self.pairs[*index], *clearance_mm);
                nearest = nearer(nearest, one);
            }
            let halves = |left: bool| {
                let pairs = stretch.open.iter().zip(&seen);
                pairs.map(move |(open, (middle_mm, _))| Open {
                    pair: open.pair,
                    from_mm: if left { open.from_mm } else { *middle_mm },
                    to_mm: if left { *middle_mm } else { open.to_mm },
                })
            };
            if seen.iter().any(|(mm, _)| !clear(*mm)) {
                // What comes after no longer matters.
                stretches.clear();
                let there = self.nearest(&at).unwrap_or(nearest);
                found = Some((there, middle));
            } else {
                stretches.push(Stretch {
                    from: middle,
                    to: stretch.to,
                    open: halves(false).collect(),
                });
            }
            stretches.push(Stretch {
                from: stretch.from,
                to: middle,
                open: halves(true).collect(),
            });
        }
        match (found, unproved) {
            (Some((nearest, share)), _) => blocked(nearest, share),
            (None, Some(share)) => WayClearance::Unproved {
                share,
                nearest,
                at_least_mm,
            },
            (None, None) => WayClearance::Clear {
                at_least_mm: Some(at_least_mm),
                nearest: Some(nearest),
            },
        }
    }

    /// L: how far points of a pair's body move at most over the whole way, as seen from what it is
    /// compared with, mm.
    fn rate_mm(&self, pair: &Pair, from: &AxisValues, to: &AxisValues) -> f64 {
        let part = &self.parts[pair.body];
        let turns = |low: usize, high: usize, part: &Part| -> f64 {
            (low..high)
                .map(|i| {
                    let turn_rad = (to.joints_rad[i] - from.joints_rad[i]).abs();
                    turn_rad * self.reach_mm(i, part)
                })
                .sum()
        };
        match pair.with {
            // Seen from the inner body, only the joints between the two move the outer one.
            With::Body(index) => {
                let other = &self.parts[index];
                let (inner, outer) = if other.level < part.level {
                    (other, part)
                } else {
                    (part, other)
                };
                turns(inner.level, outer.level, outer)
            }
            With::Obstacle(index) => {
                let obstacle = &self.obstacles[index];
                let travel_mm = match self.posed.geometry.track {
                    Some(_) => (to.travel_mm - from.travel_mm).abs(),
                    None => 0.0,
                };
                let turn_rad = match (obstacle.frame, &self.posed.geometry.turntable) {
                    (Belongs::Platter, Some(_)) => (to.turn_rad - from.turn_rad).abs(),
                    _ => 0.0,
                };
                let own_mm = travel_mm + turns(0, part.level, part);
                if turn_rad == 0.0 {
                    return own_mm;
                }
                // Either the shape's points turn about the table's axis, or, seen from the platter,
                // the body's points do: the smaller of both holds.
                let body_mm = self.table_reach_mm(part, from, to);
                let shape_mm = obstacle.shape.reach_from_z_mm().unwrap_or(body_mm);
                own_mm + turn_rad * shape_mm.min(body_mm)
            }
        }
    }

    /// A bound, whatever the posture, of the distance of a body's points from the axis of joint
    /// `index`: from the axis to the next joint's axis point, which is the same in all postures,
    /// then from axis point to axis point, then to the farther end of the middle line.
    fn reach_mm(&self, index: usize, part: &Part) -> f64 {
        let joints = &self.posed.geometry.joints;
        let axis = &joints[index];
        let from_axis = |p: &Vector3<f64>| axis.axis.cross(&(p - axis.through_mm)).norm();
        let ends = [&part.ends_mm.a_mm, &part.ends_mm.b_mm];
        let last = part.level - 1;
        if index == last {
            return ends.map(from_axis).into_iter().fold(0.0, f64::max);
        }
        let chain =
            (index + 2..=last).map(|i| (joints[i].through_mm - joints[i - 1].through_mm).norm());
        from_axis(&joints[index + 1].through_mm) + chain.sum::<f64>() + self.beyond_mm(last, part)
    }

    /// From the axis point of the last joint before a body to the farther end of its middle line.
    fn beyond_mm(&self, last: usize, part: &Part) -> f64 {
        let through_mm = self.posed.geometry.joints[last].through_mm;
        let ends = [part.ends_mm.a_mm, part.ends_mm.b_mm];
        ends.map(|p| (p - through_mm).norm())
            .into_iter()
            .fold(0.0, f64::max)
    }

    /// A bound of the distance of a body's points from the table's axis over the whole way, mm. The
    /// distance of the base from the axis is convex in the travel, so an end of the way is farthest.
    fn table_reach_mm(&self, part: &Part, from: &AxisValues, to: &AxisValues) -> f64 {
        let Some(table) = &self.posed.geometry.turntable else {
            return 0.0;
        };
        let up = self.posed.table_axes.column(2);
        let start = [from.travel_mm, to.travel_mm].map(|travel_mm| {
            let scene = ArmScene::of(&self.posed, travel_mm, &[]);
            let start_mm = match part.carrier {
                Carrier::Carriage => scene.carriage_mm,
                _ => scene.base_mm,
            };
            up.cross(&(start_mm - table.at_mm)).norm()
        });
        let joints = &self.posed.geometry.joints[..part.level.min(MAX_JOINTS)];
        let (Some(first), Some(last)) = (joints.first(), joints.len().checked_sub(1)) else {
            let ends = [part.ends_mm.a_mm.norm(), part.ends_mm.b_mm.norm()];
            return start[0].max(start[1]) + ends[0].max(ends[1]);
        };
        let chain = joints
            .windows(2)
            .map(|pair| (pair[1].through_mm - pair[0].through_mm).norm());
        start[0].max(start[1])
            + first.through_mm.norm()
            + chain.sum::<f64>()
            + self.beyond_mm(last, part)
    }
}

/// The one with the smaller clearance.
fn nearer(one: Nearest, other: Nearest) -> Nearest {
    if other.clearance_mm < one.clearance_mm {
        other
    } else {
        one
    }
}
