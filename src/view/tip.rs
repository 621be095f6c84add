//! The tip brought to another place, with the arm held as it is.

use std::f64::consts::FRAC_PI_2;
use std::f64::consts::PI;

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::reach::Bearing;
use crate::reach::Solution;
use crate::reach::Wanted;
use crate::readings::stand::Stand;
use crate::view::drag::Dragged;
use crate::view::face::Face;

/// A way shorter than this is none, mm.
const STILL_MM: f64 = 1e-9;
/// No way is followed farther, mm.
const FARTHEST_MM: f64 = 3000.0;
/// Most that a joint may turn in one drag, rad.
const MOST_TURN_RAD: f64 = FRAC_PI_2;
/// Steps along a way on which the arm does not get to the end, mm.
const STEP_MM: f64 = 10.0;
/// How often the last of them is halved: to 0.04 mm.
const HALVINGS: usize = 8;
/// A joint is this far beyond its limit before that counts, rad.
const SLACK_RAD: f64 = 1e-9;

/// Whether two postures are held alike, as far as both say.
fn alike(a: &Bearing, b: &Bearing) -> bool {
    let same = |a: Option<bool>, b: Option<bool>| match (a, b) {
        (Some(a), Some(b)) => a == b,
        _ => true,
    };
    same(a.ahead, b.ahead)
        && same(a.elbow_up, b.elbow_up)
        && same(a.tool_outward, b.tool_outward)
        && same(a.side, b.side)
}

/// The largest turn of a joint between two postures, rad.
fn most_turn(a: &[f64], b: &[f64]) -> f64 {
    a.iter()
        .zip(b)
        .fold(0.0, |m: f64, (a, b)| m.max((a - b).abs()))
}

/// Of joints with so much room, and so much at the start, the one that has left its limits by most, or gone on
/// outside them; what is no number counts as outside.
fn beyond(rooms: &[f64], floors: &[f64]) -> Option<usize> {
    let lacks = rooms.iter().zip(floors).map(|(r, f)| r - f.min(0.0));
    let out = lacks.enumerate().filter(|(_, lack)| !(*lack >= -SLACK_RAD));
    out.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(k, _)| k)
}

/// What stopped a tip on its way.
enum Stop {
    /// A joint (from 0) at its limit.
    Limit(usize),
    /// The arm does not get farther as it is held.
    Held,
    /// A joint would turn far.
    Turn,
}

impl Face<'_> {
    /// Moves the tip by so much, plate frame, mm: direction, track and table stay.
    pub fn tip_by(&self, stand: &Stand, by: Vector3<f64>) -> Dragged {
        let length = by.norm();
        if length < STILL_MM {
            return (*stand, None);
        }
        let by = by * (FARTHEST_MM / length).min(1.0);
        let geometry = &self.force.geometry;
        let values = self.values(stand);
        let (travel, turn) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
        let at = self.solver.wanted_at(Belongs::Plate, travel, turn, &values);
        let Some(now) = at else {
            return (
                *stand,
                Some("the arm cannot be followed from here".to_owned()),
            );
        };
        if let Some(refusal) = self.solver.refusal(&now) {
            return (*stand, Some(refusal.to_string()));
        }
        let wanted = Wanted {
            at_mm: now.at_mm + by,
            ..now
        };
        // Where one joint or more is to spare, the posture that follows is the one nearby; and a search
        // from many starts takes too long for a hand that waits.
        let mut solutions = Vec::new();
        if self.solver.is_closed_form() && self.solver.spare_joints(&wanted) == 0 {
            self.solver.solve(&wanted, travel, turn, &mut solutions);
            if let Some(there) = self.kept(&values, &solutions) {
                return (self.with_values(stand, &there), None);
            }
        }
        let (there, stop) = self.as_far(&now, &by, (travel, turn), &values);
        let why = stop.map(|stop| match stop {
            Stop::Limit(k) => match self.cell.joints.get(k) {
                Some(joint) => format!("joint {} would pass its limit", joint.name),
                None => "a joint would pass its limit".to_owned(),
            },
            Stop::Held if !solutions.is_empty() => {
                "the arm can get there only in another posture".to_owned()
            }
            Stop::Held => "out of reach there".to_owned(),
            Stop::Turn => "a joint would turn by more than 90 degrees at once".to_owned(),
        });
        (self.with_values(stand, &there), why)
    }

    /// Of postures the one that is held as this one is, nearest to it, no joint turning far.
    fn kept(&self, values: &[f64], solutions: &[Solution]) -> Option<Vec<f64>> {
        let bearing = self.solver.bearing(values);
        let each = solutions
            .iter()
            .filter(|s| alike(&self.solver.bearing(&s.values_rad), &bearing));
        let (turn, there) = self.nearest(values, each)?;
        (turn <= MOST_TURN_RAD).then_some(there)
    }

    /// Of postures the one nearest to this one, and the largest turn of a joint to it.
    fn nearest<'s>(
        &self,
        values: &[f64],
        solutions: impl Iterator<Item = &'s Solution>,
    ) -> Option<(f64, Vec<f64>)> {
        let each = solutions.map(|s| {
            let there = self.unwound(values, &s.values_rad);
            (most_turn(&there, values), there)
        });
        each.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// A posture with every joint at that of its full turns that is nearest to another posture.
    fn unwound(&self, near: &[f64], values: &[f64]) -> Vec<f64> {
        let joints = self.cell.joints.iter().zip(near).zip(values);
        let each = joints.map(|((info, near), value)| {
            let turns = ((near - value) / (2.0 * PI)).round();
            let other = value + 2.0 * PI * turns;
            match info.limits_rad.holds(other) {
                true => other,
                false => *value,
            }
        });
        each.collect()
    }

    /// As far along a way as the arm follows in its posture and within its limits, and what stopped it.
    fn as_far(
        &self,
        now: &Wanted,
        by: &Vector3<f64>,
        (travel, turn): (f64, f64),
        values: &[f64],
    ) -> (Vec<f64>, Option<Stop>) {
        let length = by.norm();
        let way = by / length;
        // A joint that is beyond its limit already may not go farther; the others stay within theirs.
        let floors = self.rooms(values);
        let mut here = values.to_vec();
        let mut done = 0.0;
        let follow = |done: f64, step: f64, from: &[f64]| -> Result<Vec<f64>, Stop> {
            let at = Wanted {
                at_mm: now.at_mm + way * done,
                ..*now
            };
            let moved = self
                .solver
                .moved_posture(&at, travel, turn, from, way * step);
            let Some((there, _)) = moved else {
                return Err(Stop::Held);
            };
            if let Some(k) = beyond(&self.rooms(&there), &floors) {
                return Err(Stop::Limit(k));
            }
            if !(most_turn(&there, values) <= MOST_TURN_RAD) {
                return Err(Stop::Turn);
            }
            Ok(there)
        };
        while length - done > STILL_MM {
            let step = STEP_MM.min(length - done);
            match follow(done, step, &here) {
                Ok(there) => {
                    here = there;
                    done += step;
                }
                Err(mut stop) => {
                    let mut part = step;
                    for _ in 0..HALVINGS {
                        part *= 0.5;
                        match follow(done, part, &here) {
                            Ok(there) => {
                                here = there;
                                done += part;
                            }
                            Err(why) => stop = why,
                        }
                    }
                    return (here, Some(stop));
                }
            }
        }
        (here, None)
    }

    /// How far each joint is within its limits, rad; below 0 outside.
    fn rooms(&self, values_rad: &[f64]) -> Vec<f64> {
        let each = self.cell.joints.iter().zip(values_rad);
        each.map(|(info, v)| (v - info.limits_rad.low).min(info.limits_rad.high - v))
            .collect()
    }

    /// The tip brought to a place of a frame, the tool at an elevation or as it is; from where track and
    /// table stand, in the posture nearest to the present one.
    pub fn tip_to(
        &self,
        stand: &Stand,
        frame: Belongs,
        at_mm: Vector3<f64>,
        elevation_rad: Option<f64>,
    ) -> Dragged {
        let held = |why: String| (*stand, Some(why));
        let geometry = &self.force.geometry;
        let values = self.values(stand);
        let (travel, turn) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
        let Some(now) = self.solver.wanted_at(frame, travel, turn, &values) else {
            return held("this cell has no turntable: ask in the frame plate".to_owned());
        };
        if elevation_rad.is_some() && now.elevation_rad.is_none() {
            return held("an arm of so few joints cannot choose its tool's elevation".to_owned());
        }
        let wanted = Wanted {
            at_mm,
            elevation_rad: elevation_rad.or(now.elevation_rad),
            ..now
        };
        if let Some(refusal) = self.solver.refusal(&wanted) {
            return held(refusal.to_string());
        }
        let mut solutions = Vec::new();
        self.solver.solve(&wanted, travel, turn, &mut solutions);
        match self.nearest(&values, solutions.iter()) {
            Some((_, there)) => (self.with_values(stand, &there), None),
            None => held(
                "out of reach there with track and table where they are, or only beyond a joint's limit"
                    .to_owned(),
            ),
        }
    }

    /// The posture for a target at one station that has the largest margin of those that are clear.
    pub fn best_at(&self, wanted: &Wanted, stand: &Stand) -> Option<Stand> {
        let geometry = &self.force.geometry;
        let (travel, turn) = (stand.travel_mm(geometry), stand.turn_rad(geometry));
        let mut solutions = Vec::new();
        self.solver.solve(wanted, travel, turn, &mut solutions);
        let needed = self.cell.accept.clearance_mm;
        let clear = |there: &Stand| {
            let near = self.surroundings.nearest(&self.axes(there));
            near.is_none_or(|n| n.clearance_mm >= needed)
        };
        let each = solutions
            .iter()
            .map(|s| self.with_values(stand, &s.values_rad));
        each.into_iter().find(clear)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: the third joint is outside by 0.3 already. It may come back and stay, not go on, and gives no
    /// other joint leave to go outside.
    #[test]
    fn one_joint_outside_lets_no_other_one_out() {
        let floors = [1.0, 0.2, -0.3];
        assert_eq!(beyond(&[0.5, 0.0, -0.3], &floors), None);
        assert_eq!(beyond(&[0.5, 0.1, -0.1], &floors), None);
        assert_eq!(beyond(&[0.5, -0.2, -0.3], &floors), Some(1));
        assert_eq!(beyond(&[0.5, 0.1, -0.4], &floors), Some(2));
        assert_eq!(beyond(&[-0.5, -0.2, -0.3], &floors), Some(0));
        assert_eq!(beyond(&[0.5, f64::NAN, 0.0], &floors), Some(1));
    }
}
