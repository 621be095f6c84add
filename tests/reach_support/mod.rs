//! Arms written out by hand, and a fixed sequence of random numbers.
#![allow(dead_code)]

use nalgebra::{Matrix3, Vector3};
use notchpin::cell::*;
use notchpin::units::Range;

/// A linear congruential sequence (Knuth's MMIX constants): the same on every run.
pub struct Dice(pub u64);

impl Dice {
    pub fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6364136223846793005)
            .wrapping_add(1442695040888963407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }
}

pub fn deg(x: f64) -> f64 {
    x.to_radians()
}

pub fn v(x: f64, y: f64, z: f64) -> Vector3<f64> {
    Vector3::new(x, y, z)
}

pub fn mounting(at: [f64; 3], angles_deg: [f64; 3]) -> Mounting {
    Mounting {
        at_mm: v(at[0], at[1], at[2]),
        yaw_rad: deg(angles_deg[0]),
        pitch_rad: deg(angles_deg[1]),
        roll_rad: deg(angles_deg[2]),
    }
}

/// Axis, through, limits in degrees.
pub type Joint = ([f64; 3], [f64; 3], [f64; 2]);

pub fn cell(joints: &[Joint], flange: [f64; 3], flange_axes: Matrix3<f64>, tool: Mounting) -> Cell {
    Cell {
        name: "bench".into(),
        plate: PlateGrid {
            pitch_x_mm: 50.0,
            pitch_y_mm: 50.0,
            columns: 30,
            rows: 16,
            in_inches: false,
        },
        marks: vec![],
        features: vec![],
        track: Some(TrackLimits {
            travel_mm: Some(Range {
                low: 0.0,
                high: 900.0,
            }),
        }),
        joints: joints
            .iter()
            .enumerate()
            .map(|(i, j)| JointInfo {
                name: format!("j{}", i + 1),
                limits_rad: Range {
                    low: deg(j.2[0]),
                    high: deg(j.2[1]),
                },
            })
            .collect(),
        turntable: Some(TurntableInfo {
            travel_rad: None,
            notches_rad: vec![],
        }),
        instruments: Instruments {
            holes_mm: 0.3,
            notch_rad: deg(0.1),
            touch_mm: 0.4,
            attitude_rad: deg(0.1),
            height_mm: 0.4,
        },
        solve: vec![],
        accept: Accept {
            due_days: None,
            tip_mm: None,
            direction_rad: deg(0.5),
            clearance_mm: 5.0,
            margin_rad: deg(1.0),
        },
        keep_outs: vec![],
        bodies: vec![],
        nominal: Geometry {
            track: Some(TrackGeometry {
                mounting: mounting([150.0, 100.0, 62.0], [0.0, 0.0, 0.0]),
                scale_mm: 1.0,
                sense: 1.0,
                lost_motion_mm: 0.0,
            }),
            mount: mounting([0.0, 0.0, 18.0], [0.0, 0.0, 0.0]),
            joints: joints
                .iter()
                .map(|j| JointGeometry {
                    axis: v(j.0[0], j.0[1], j.0[2]).normalize(),
                    through_mm: v(j.1[0], j.1[1], j.1[2]),
                    zero_rad: 0.0,
                    scale_rad: deg(1.0),
                    lost_motion_rad: 0.0,
                })
                .collect(),
            flange_mm: v(flange[0], flange[1], flange[2]),
            flange_axes,
            tool,
            turntable: Some(TurntableGeometry {
                at_mm: v(600.0, 400.0, 95.0),
                tilt_x_rad: 0.0,
                tilt_y_rad: 0.0,
                scale_rad: deg(1.0),
                sense: 1.0,
                index_rad: 0.0,
                lost_motion_rad: 0.0,
                switch_rad: 0.0,
                ecc_cos_rad: 0.0,
                ecc_sin_rad: 0.0,
            }),
            plate_tilt_x_rad: 0.0,
            plate_tilt_y_rad: 0.0,
            marks_mm: vec![],
            features_mm: vec![],
        },
    }
}

/// Flange z along base x, flange x down.
pub fn ahead() -> Matrix3<f64> {
    Matrix3::from_columns(&[v(0.0, 0.0, -1.0), v(0.0, 1.0, 0.0), v(1.0, 0.0, 0.0)])
}

/// Yaw, three pitches, roll; stretched ahead at 0. Signs of the axes and offsets to the side vary.
pub fn five(signs: [f64; 5], sides: [f64; 4], tool: Mounting) -> Cell {
    cell(
        &[
            ([0.0, 0.0, signs[0]], [0.0, 0.0, 0.0], [-165.0, 165.0]),
            (
                [0.0, signs[1], 0.0],
                [20.0, sides[0], 180.0],
                [-110.0, 110.0],
            ),
            (
                [0.0, signs[2], 0.0],
                [30.0, sides[1], 400.0],
                [-140.0, 150.0],
            ),
            (
                [0.0, signs[3], 0.0],
                [260.0, sides[2], 415.0],
                [-130.0, 130.0],
            ),
            (
                [signs[4], 0.0, 0.0],
                [300.0, sides[3], 415.0],
                [-175.0, 175.0],
            ),
        ],
        [340.0, sides[3], 415.0],
        ahead(),
        tool,
    )
}

/// The five-joint arms of these tests: name and cell.
pub fn fives() -> Vec<(&'static str, Cell)> {
    let plain = mounting([0.0, 0.0, 110.0], [0.0; 3]);
    let mut out = vec![
        ("plain", five([1.0; 5], [0.0; 4], plain)),
        (
            "turned axes",
            five([-1.0, 1.0, -1.0, 1.0, -1.0], [0.0; 4], plain),
        ),
        (
            "offsets",
            five(
                [1.0, -1.0, 1.0, -1.0, 1.0],
                [35.0, -10.0, 22.0, 14.0],
                plain,
            ),
        ),
        (
            "tool off the roll axis",
            five(
                [1.0, 1.0, 1.0, 1.0, -1.0],
                [5.0, 5.0, -8.0, 12.0],
                mounting([14.0, -9.0, 90.0], [30.0, 0.0, 0.0]),
            ),
        ),
    ];
    let mut tilted = five(
        [1.0, 1.0, -1.0, 1.0, 1.0],
        [12.0, 0.0, -6.0, 4.0],
        mounting([6.0, 4.0, 100.0], [10.0, 0.4, -0.3]),
    );
    tilted.nominal.mount = mounting([10.0, -5.0, 18.0], [12.0, 0.6, -0.4]);
    if let Some(t) = &mut tilted.nominal.track {
        t.mounting = mounting([150.0, 100.0, 62.0], [1.5, 0.3, -0.2]);
    }
    if let Some(t) = &mut tilted.nominal.turntable {
        (t.tilt_x_rad, t.tilt_y_rad, t.index_rad) = (deg(0.5), deg(-0.3), deg(20.0));
    }
    out.push(("out of true", tilted));
    let mut wall = five([1.0; 5], [15.0, 0.0, 0.0, 6.0], plain);
    wall.nominal.mount = mounting([0.0, 0.0, 500.0], [20.0, 35.0, 10.0]);
    out.push(("leaning base", wall));
    out
}

/// One turn.
pub const FULL: [f64; 2] = [-180.0, 180.0];

/// Six joints, the last three axes meet at the wrist.
pub fn meeting() -> Cell {
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-170.0, 170.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 200.0], [-120.0, 120.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 450.0], [-150.0, 150.0]),
            ([1.0, 0.0, 0.0], [120.0, 0.0, 470.0], FULL),
            ([0.0, 1.0, 0.0], [300.0, 0.0, 470.0], [-125.0, 125.0]),
            ([1.0, 0.0, 0.0], [330.0, 0.0, 470.0], FULL),
        ],
        [370.0, 0.0, 470.0],
        ahead(),
        mounting([10.0, 5.0, 90.0], [20.0, 10.0, 0.0]),
    )
}

/// Six joints, the wrist's axes do not meet and nothing is parallel for long: no closed form.
pub fn offset() -> Cell {
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], [-170.0, 170.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 200.0], [-120.0, 120.0]),
            ([0.0, 1.0, 0.0], [50.0, 0.0, 450.0], [-150.0, 150.0]),
            ([1.0, 0.0, 0.0], [120.0, 0.0, 470.0], FULL),
            ([0.0, 1.0, 0.0], [300.0, 40.0, 470.0], [-125.0, 125.0]),
            ([1.0, 0.0, 0.0], [330.0, 0.0, 510.0], FULL),
        ],
        [370.0, 0.0, 470.0],
        ahead(),
        mounting([10.0, 5.0, 90.0], [20.0, 10.0, 0.0]),
    )
}

/// Six joints, axes 2, 3 and 4 are parallel.
pub fn parallel() -> Cell {
    cell(
        &[
            ([0.0, 0.0, 1.0], [0.0, 0.0, 0.0], FULL),
            ([0.0, 1.0, 0.0], [0.0, 60.0, 140.0], FULL),
            ([0.0, 1.0, 0.0], [280.0, -20.0, 140.0], [-160.0, 160.0]),
            ([0.0, 1.0, 0.0], [510.0, 50.0, 140.0], FULL),
            ([0.0, 0.0, -1.0], [510.0, 100.0, 60.0], FULL),
            ([0.0, 1.0, 0.0], [510.0, 130.0, 60.0], FULL),
        ],
        [510.0, 150.0, 60.0],
        ahead(),
        mounting([0.0, 0.0, 80.0], [10.0, 0.0, 0.0]),
    )
}
