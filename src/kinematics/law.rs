//! The law of an axis: value = scale · r + zero − dir · sign(nominal scale) · lost_motion / 2.

use crate::cell::JointGeometry;
use crate::cell::TrackGeometry;
use crate::cell::TurntableGeometry;
use crate::units::Approach;
use crate::units::Reading;

/// Travel of the carriage, mm.
pub fn track_value_mm(track: &TrackGeometry, reading: Reading, approach: Approach) -> f64 {
    track.scale_mm * reading.0 - approach.dir() * track.sense * track.lost_motion_mm / 2.0
}

/// The track reading that gives a travel, its approach not known.
pub fn track_reading(track: &TrackGeometry, value_mm: f64) -> Reading {
    Reading(value_mm / track.scale_mm)
}

/// Turn of the platter φ, rad.
pub fn table_value_rad(table: &TurntableGeometry, reading: Reading, approach: Approach) -> f64 {
    table.scale_rad * reading.0 + table.index_rad
        - approach.dir() * table.sense * table.lost_motion_rad / 2.0
}

/// The table reading that gives a turn φ (not wrapped), its approach not known.
pub fn table_reading(table: &TurntableGeometry, value_rad: f64) -> Reading {
    Reading((value_rad - table.index_rad) / table.scale_rad)
}

/// Turn of a joint, rad.
pub fn joint_value_rad(joint: &JointGeometry, reading: Reading) -> f64 {
    joint.scale_rad * reading.0 + joint.zero_rad
}

/// The joint reading that gives a turn.
pub fn joint_reading(joint: &JointGeometry, value_rad: f64) -> Reading {
    Reading((value_rad - joint.zero_rad) / joint.scale_rad)
}
