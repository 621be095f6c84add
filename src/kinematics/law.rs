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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cell::Mounting;
    use nalgebra::Vector3;

    fn track(scale_mm: f64) -> TrackGeometry {
        TrackGeometry {
            mounting: Mounting::default(),
            scale_mm,
            sense: scale_mm.signum(),
            lost_motion_mm: 0.6,
        }
    }

    fn table(scale_rad: f64) -> TurntableGeometry {
        TurntableGeometry {
            at_mm: Vector3::zeros(),
            tilt_x_rad: 0.0,
            tilt_y_rad: 0.0,
            scale_rad,
            sense: scale_rad.signum(),
            index_rad: 0.25,
            lost_motion_rad: 0.02,
            switch_rad: 0.0,
            ecc_cos_rad: 0.0,
            ecc_sin_rad: 0.0,
        }
    }

    /// By hand: a rising reading moves a carriage of positive scale forward, so half the play is
    /// missing in front: 2 · 100 − 0.3; falling, behind: + 0.3. At a negative scale a rising
    /// reading moves it back: −2 · 100 + 0.3, and falling − 0.3. Not noted: the middle.
    #[test]
    fn half_the_play_is_missing_on_the_side_of_the_motion() {
        for (scale, approach, by_hand) in [
            (2.0, Approach::Up, 199.7),
            (2.0, Approach::Down, 200.3),
            (2.0, Approach::Unnoted, 200.0),
            (-2.0, Approach::Up, -199.7),
            (-2.0, Approach::Down, -200.3),
            (-2.0, Approach::Unnoted, -200.0),
        ] {
            let got = track_value_mm(&track(scale), Reading(100.0), approach);
            assert!((got - by_hand).abs() < 1e-12, "{scale} {approach:?}: {got}");
        }
    }

    /// By hand: 0.1 · 10 + 0.25 − 0.01 rising; −0.1 · 10 + 0.25 + 0.01 with the scale negative.
    #[test]
    fn the_table_has_its_index_added() {
        for (scale, approach, by_hand) in [
            (0.1, Approach::Up, 1.24),
            (0.1, Approach::Down, 1.26),
            (-0.1, Approach::Up, -0.74),
            (-0.1, Approach::Down, -0.76),
        ] {
            let got = table_value_rad(&table(scale), Reading(10.0), approach);
            assert!((got - by_hand).abs() < 1e-12, "{scale} {approach:?}: {got}");
        }
    }

    /// The sign in front of the play is that of the nominal scale, while the scale is solved for.
    #[test]
    fn the_play_keeps_its_side_while_the_scale_is_solved() {
        let mut solved = track(2.0);
        solved.scale_mm = -0.001;
        let got = track_value_mm(&solved, Reading(0.0), Approach::Up);
        assert!((got + 0.3).abs() < 1e-12, "{got}");
    }

    #[test]
    fn a_reading_comes_back_from_its_value() {
        let joint = JointGeometry {
            axis: Vector3::z(),
            through_mm: Vector3::zeros(),
            zero_rad: 0.3,
            scale_rad: -0.02,
            lost_motion_rad: 0.1,
        };
        // By hand: −0.02 · 40 + 0.3 = −0.5; a joint's own play is no part of its value.
        assert!((joint_value_rad(&joint, Reading(40.0)) + 0.5).abs() < 1e-12);
        assert!((joint_reading(&joint, -0.5).0 - 40.0).abs() < 1e-9);
        let (track, table) = (track(-2.0), table(-0.1));
        assert!((track_reading(&track, -200.0).0 - 100.0).abs() < 1e-9);
        assert!((table_reading(&table, -0.75).0 - 10.0).abs() < 1e-9);
    }
}
