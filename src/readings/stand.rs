//! How the machine stood when a reading was taken, and how points and directions of the arm move
//! with the unknowns from there.

use std::cell::Ref;

use nalgebra::Vector3;

use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::Level;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::Posed;
use crate::kinematics::TableScene;
use crate::kinematics::joint_value_rad;
use crate::kinematics::table_value_rad;
use crate::kinematics::track_value_mm;
use crate::parameters::Motion;
use crate::parameters::Scene;
use crate::parameters::Unknowns;
use crate::units::Approach;
use crate::units::Reading;

/// Readings of the axes when a reading was taken. What was not needed is 0 and not looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stand {
    /// Reading of the track.
    pub track: f64,
    /// How the track came to rest.
    pub track_approach: Approach,
    /// Reading of the turntable.
    pub table: f64,
    /// How the table came to rest.
    pub table_approach: Approach,
    /// Readings of the joints.
    pub joints: [f64; MAX_JOINTS],
}

impl Default for Stand {
    fn default() -> Self {
        Stand {
            track: 0.0,
            track_approach: Approach::Unnoted,
            table: 0.0,
            table_approach: Approach::Unnoted,
            joints: [0.0; MAX_JOINTS],
        }
    }
}

impl Stand {
    /// Travel of the carriage, mm; 0 without a track.
    pub fn travel_mm(&self, geometry: &Geometry) -> f64 {
        geometry.track.as_ref().map_or(0.0, |track| {
            track_value_mm(track, Reading(self.track), self.track_approach)
        })
    }

    /// Turn of the platter, rad; 0 without a turntable.
    pub fn turn_rad(&self, geometry: &Geometry) -> f64 {
        geometry.turntable.as_ref().map_or(0.0, |table| {
            table_value_rad(table, Reading(self.table), self.table_approach)
        })
    }

    /// The arm up to its joint number `joints` (all of them: flange and tip too).
    pub fn arm(&self, geometry: &Geometry, joints: usize) -> ArmScene {
        let posed = Posed::new(geometry);
        self.arm_in(&posed, joints);
        posed.scratch.into_inner()
    }

    /// The same, from turns that are worked out already, laid out in the scratch scene of `posed`:
    /// it holds until the next one is asked for.
    #[inline(always)]
    pub fn arm_in<'p>(&self, posed: &'p Posed<'_>, joints: usize) -> Ref<'p, ArmScene> {
        let geometry = posed.geometry;
        let mut values = [0.0; MAX_JOINTS];
        for ((value, joint), reading) in values.iter_mut().zip(&geometry.joints).zip(&self.joints) {
            *value = joint_value_rad(joint, Reading(*reading));
        }
        let travel_mm = self.travel_mm(geometry);
        posed
            .scratch
            .borrow_mut()
            .place(posed, travel_mm, &values[..joints]);
        posed.scratch.borrow()
    }

    /// The turntable, if there is one.
    pub fn turntable(&self, geometry: &Geometry) -> Option<TableScene> {
        TableScene::of(&Posed::new(geometry), self.turn_rad(geometry))
    }

    /// All that the motions of parameters depend on.
    pub fn scene<'a>(
        &'a self,
        geometry: &'a Geometry,
        arm: &'a ArmScene,
        table: Option<&'a TableScene>,
    ) -> Scene<'a> {
        Scene {
            geometry,
            arm,
            track: (self.track, self.track_approach.dir()),
            joints: &self.joints,
            table,
            turn: (self.table, self.table_approach.dir()),
        }
    }
}

/// Calls `f(j, dp)` with the motion of a point at `level` for each unknown j that moves it, mm per
/// mm or rad. `axis_point` names the joint whose axis point it is, if it is one.
#[inline(always)]
pub fn point_motions(
    unknowns: &Unknowns,
    scene: &Scene<'_>,
    level: Level,
    axis_point: Option<usize>,
    p_mm: &Vector3<f64>,
    mut f: impl FnMut(usize, Vector3<f64>),
) {
    for (j, motion) in unknowns.arm_motions(level, scene) {
        match motion {
            Motion::Arm { level: from, twist } if from <= level => f(j, twist.of_point(p_mm)),
            Motion::AxisPoint { joint, own, .. } if Some(joint) == axis_point => f(j, own),
            Motion::AxisPoint { joint, later, .. } if Level::link(joint) <= level => {
                f(j, later.shift_mm);
            }
            _ => {}
        }
    }
}

/// Calls `f(j, dd)` with the motion of a direction at `level` for each unknown j that turns it, per
/// mm or rad.
#[inline(always)]
pub fn direction_motions(
    unknowns: &Unknowns,
    scene: &Scene<'_>,
    level: Level,
    d: &Vector3<f64>,
    mut f: impl FnMut(usize, Vector3<f64>),
) {
    for (j, motion) in unknowns.arm_motions(level, scene) {
        if let Motion::Arm { level: from, twist } = motion
            && from <= level
        {
            f(j, twist.of_direction(d));
        }
    }
}

/// The heading and how it moves with the unknowns: `f(j, dh)`. Not finite where it is undefined.
#[inline(always)]
pub fn heading_motions(
    unknowns: &Unknowns,
    scene: &Scene<'_>,
    mut f: impl FnMut(usize, Vector3<f64>),
) -> Vector3<f64> {
    let raw = scene.arm.heading_raw();
    let length = raw.norm();
    let h = raw / length;
    let ahead: Vector3<f64> = scene.arm.joints[0].axes.column(0).into();
    direction_motions(unknowns, scene, Level::link(0), &ahead, |j, d| {
        let level = Vector3::new(d.x, d.y, 0.0);
        f(j, (level - h * h.dot(&level)) / length);
    });
    h
}

/// `ez × h`: to the left of the heading.
pub fn left_of(h: &Vector3<f64>) -> Vector3<f64> {
    Vector3::new(-h.y, h.x, 0.0)
}
