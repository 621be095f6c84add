use nalgebra::Matrix3;
use nalgebra::Rotation3;
use nalgebra::Vector3;
use notchpin::fit::standalone::circle::fit_in_space;
use notchpin::fit::standalone::turns::Turn;
use notchpin::fit::standalone::turns::TurnError;
use notchpin::fit::standalone::turns::axis_from_turns;
use notchpin::fit::standalone::turns::centre_from_turns;

use crate::support::near;

fn turn(degrees: f64, point: Vector3<f64>) -> Turn {
    Turn {
        angle: degrees.to_radians(),
        point,
        weight: 1.0,
    }
}

/// A table at (410, 220, 35), tilted by 0.4° and −0.7°, mark 120 from the axis and 25° on.
fn table(degrees: &[f64]) -> (Vector3<f64>, Vector3<f64>, Vec<Turn>) {
    let centre = Vector3::new(410.0, 220.0, 35.0);
    let tilt = *Rotation3::from_euler_angles(
        0.4f64.to_radians(),
        -0.7f64.to_radians(),
        25f64.to_radians(),
    )
    .matrix();
    let at = |d: &f64| {
        turn(
            *d,
            centre + tilt * Vector3::new(d.to_radians().cos(), d.to_radians().sin(), 0.0) * 120.0,
        )
    };
    (
        centre,
        tilt.column(2).into(),
        degrees.iter().map(at).collect(),
    )
}

#[test]
fn exact_touches_give_the_axis_back() {
    for angles in [
        &[0.0, 120.0, 240.0][..],
        &[0.0, 5.0, 10.0],
        &[-170.0, 0.0, 20.0, 90.0, 190.0],
    ] {
        let (centre, axis, turns) = table(angles);
        let found = axis_from_turns(&turns).unwrap();
        near("axis", (found.axis - axis).norm(), 0.0, 1e-11);
        near("centre", (found.centre - centre).norm(), 0.0, 1e-9);
        near("radius", found.radius, 120.0, 1e-9);
        assert_eq!(found.dof, 3 * angles.len() - 7);
        // Turned the other way the axis points down.
        let back: Vec<Turn> = turns
            .iter()
            .map(|t| Turn {
                angle: -t.angle,
                ..*t
            })
            .collect();
        near(
            "axis down",
            (axis_from_turns(&back).unwrap().axis + axis).norm(),
            0.0,
            1e-11,
        );
    }
}

/// Touches at 0° and 90°: (12, 5) and (5, 2). By hand: mark z and centre c with c + z = 12 + 5i, c + iz = 5 + 2i, so
/// z = (7 + 3i)/(1 − i) = (7 + 3i)(1 + i)/2 = 2 + 5i and c = 10.
#[test]
fn two_turns_give_the_centre() {
    let turns = [
        turn(0.0, Vector3::new(12.0, 5.0, 1.0)),
        turn(90.0, Vector3::new(5.0, 2.0, 9.0)),
    ];
    let found = centre_from_turns(&turns).unwrap();
    near("centre x", found.centre.x, 10.0, 1e-14);
    near("centre y", found.centre.y, 0.0, 1e-14);
    near("mark x", found.mark.x, 2.0, 1e-14);
    near("mark y", found.mark.y, 5.0, 1e-14);
    near("rss", found.rss, 0.0, 1e-25);
    assert_eq!(found.dof, 0);
}

/// The covariance against differences: the centre is moved by each coordinate of each touch in turn, and the squares add up.
#[test]
fn covariance_is_the_sum_of_the_squared_effects() {
    let (_, _, turns) = table(&[0.0, 12.0, 31.0, 45.0]);
    let found = axis_from_turns(&turns).unwrap();
    let plane = centre_from_turns(&turns).unwrap();
    let (mut centre, mut axis, mut radius, mut flat) =
        (Matrix3::zeros(), Matrix3::zeros(), 0.0, 0.0);
    let h = 1e-4;
    for i in 0..turns.len() {
        for k in 0..3 {
            let moved = |by: f64| {
                let mut t = turns.clone();
                t[i].point[k] += by;
                (axis_from_turns(&t).unwrap(), centre_from_turns(&t).unwrap())
            };
            let (up, down) = (moved(h), moved(-h));
            let slope = (up.0.centre - down.0.centre) / (2.0 * h);
            centre += slope * slope.transpose();
            let slope = (up.0.axis - down.0.axis) / (2.0 * h);
            axis += slope * slope.transpose();
            radius += ((up.0.radius - down.0.radius) / (2.0 * h)).powi(2);
            flat += ((up.1.centre.x - down.1.centre.x) / (2.0 * h)).powi(2);
        }
    }
    near(
        "centre",
        (found.centre_covariance - centre).amax(),
        0.0,
        1e-5 * centre.amax(),
    );
    near(
        "axis",
        (found.axis_covariance - axis).amax(),
        0.0,
        1e-5 * axis.amax(),
    );
    near("radius", found.radius_variance, radius, 1e-6 * radius);
    near("plane centre", plane.centre_variance, flat, 1e-6 * flat);
}

/// On a 30° arc with 0.05 mm of scatter, known turns place the centre better than the circle does.
#[test]
fn known_turns_beat_the_circle_on_a_short_arc() {
    let (centre, _, mut turns) = table(&[0.0, 10.0, 20.0, 30.0]);
    let scatter = [0.05, -0.05, 0.05, -0.05];
    for (t, s) in turns.iter_mut().zip(scatter) {
        t.point += (t.point - centre).normalize() * s;
    }
    let points: Vec<Vector3<f64>> = turns.iter().map(|t| t.point).collect();
    let by_turns = (axis_from_turns(&turns).unwrap().centre - centre).norm();
    let by_circle = (fit_in_space(&points).unwrap().centre - centre).norm();
    assert!(by_turns < by_circle, "turns {by_turns}, circle {by_circle}");
}

#[test]
fn degenerate_turns_are_named() {
    let (centre, _, turns) = table(&[0.0, 90.0, 180.0]);
    assert!(matches!(
        axis_from_turns(&turns[..2]),
        Err(TurnError::Input(_))
    ));
    let alike: Vec<Turn> = turns
        .iter()
        .map(|t| Turn {
            angle: turns[0].angle,
            ..*t
        })
        .collect();
    assert_eq!(
        axis_from_turns(&alike),
        Err(TurnError::TooFewTurns {
            different: 1,
            needed: 3
        })
    );
    let full: Vec<Turn> = turns
        .iter()
        .zip([0.0, 360.0, 720.0])
        .map(|(t, d)| Turn {
            angle: f64::to_radians(d),
            ..*t
        })
        .collect();
    assert!(matches!(
        centre_from_turns(&full),
        Err(TurnError::TooFewTurns {
            different: 1,
            needed: 2
        })
    ));
    let still: Vec<Turn> = turns
        .iter()
        .map(|t| Turn {
            point: centre,
            ..*t
        })
        .collect();
    assert!(matches!(
        axis_from_turns(&still),
        Err(TurnError::MarkOnAxis { .. })
    ));
    let along: Vec<Turn> = turns
        .iter()
        .enumerate()
        .map(|(i, t)| Turn {
            point: centre * (i + 1) as f64,
            ..*t
        })
        .collect();
    assert!(matches!(
        axis_from_turns(&along),
        Err(TurnError::Collinear { points: 3, .. })
    ));
    let nan: Vec<Turn> = turns
        .iter()
        .map(|t| Turn {
            angle: f64::NAN,
            ..*t
        })
        .collect();
    assert!(matches!(axis_from_turns(&nan), Err(TurnError::Input(_))));
}
