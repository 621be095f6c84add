//! Laws that hold for all readings: the order of rows, the origin and the unit change nothing beyond scaling.

use nalgebra::Matrix3;
use nalgebra::Rotation3;
use nalgebra::Vector2;
use nalgebra::Vector3;
use notchpin::fit::standalone::Approach;
use notchpin::fit::standalone::circle;
use notchpin::fit::standalone::circular;
use notchpin::fit::standalone::circular::NotchRow;
use notchpin::fit::standalone::line;
use notchpin::fit::standalone::line::LineModel;
use notchpin::fit::standalone::line::LineRow;
use notchpin::fit::standalone::rigid;
use notchpin::fit::standalone::turns;
use notchpin::fit::standalone::turns::Turn;
use proptest::prelude::*;

const INCH: f64 = 25.4;

fn approach() -> impl Strategy<Value = Approach> {
    prop_oneof![
        Just(Approach::Rising),
        Just(Approach::Falling),
        Just(Approach::Unknown)
    ]
}

fn line_rows() -> impl Strategy<Value = Vec<LineRow>> {
    let one = (0.0..2000.0f64, -1.0..1.0f64, approach(), 0.1..10.0f64).prop_map(
        |(reading, error, approach, weight)| LineRow {
            reading,
            position: 340.0 + 1.002 * reading + error - 0.15 * approach.sign(),
            approach,
            weight,
        },
    );
    // Two stations from both sides make every term determined.
    prop::collection::vec(one, 2..12).prop_map(|mut rows| {
        for (reading, approach) in [
            (0.0, Approach::Rising),
            (0.0, Approach::Falling),
            (2000.0, Approach::Rising),
        ] {
            rows.push(LineRow {
                reading,
                position: 340.0 + 1.002 * reading,
                approach,
                weight: 1.0,
            });
        }
        rows
    })
}

fn point() -> impl Strategy<Value = Vector3<f64>> {
    prop::array::uniform3(-500.0..500.0f64).prop_map(Vector3::from)
}

fn rotation() -> impl Strategy<Value = Matrix3<f64>> {
    prop::array::uniform3(-3.2..3.2f64)
        .prop_map(|a| *Rotation3::from_euler_angles(a[0], a[1], a[2]).matrix())
}

/// Points around a circle with some scatter.
fn ring() -> impl Strategy<Value = Vec<Vector2<f64>>> {
    let angles = prop::collection::vec((0.0..6.2f64, -1.0..1.0f64), 4..12);
    (point(), 50.0..300.0f64, angles).prop_map(|(c, radius, angles)| {
        let fixed = [(0.0, 0.0), (2.0, 0.3), (4.0, -0.2)];
        let all = angles.into_iter().chain(fixed);
        all.map(|(a, error)| c.xy() + Vector2::new(a.cos(), a.sin()) * (radius + error))
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn line_order_origin_unit(rows in line_rows(), shift in -1e3..1e3f64) {
        let model = LineModel::WITH_REVERSAL;
        let base = line::fit(&rows, model).unwrap();
        let terms = |f: &line::LineFit| [f.offset.value, f.scale.value, f.lost_motion.value];

        let mut reversed = rows.clone();
        reversed.reverse();
        let found = terms(&line::fit(&reversed, model).unwrap());
        for (a, b) in found.iter().zip(terms(&base)) { prop_assert!((a - b).abs() < 1e-9); }

        let moved: Vec<LineRow> = rows.iter().map(|r| LineRow { position: r.position + shift, ..*r }).collect();
        let found = terms(&line::fit(&moved, model).unwrap());
        prop_assert!((found[0] - base.offset.value - shift).abs() < 1e-9);
        prop_assert!((found[1] - base.scale.value).abs() < 1e-12);
        prop_assert!((found[2] - base.lost_motion.value).abs() < 1e-9);

        let inches: Vec<LineRow> = rows.iter().map(|r| LineRow { position: r.position / INCH, reading: r.reading / INCH, ..*r }).collect();
        let found = line::fit(&inches, model).unwrap();
        prop_assert!((found.offset.value * INCH - base.offset.value).abs() < 1e-9);
        prop_assert!((found.scale.value - base.scale.value).abs() < 1e-12);
        prop_assert!((found.lost_motion.value * INCH - base.lost_motion.value).abs() < 1e-9);
        prop_assert!((found.lsq.rss * INCH * INCH - base.lsq.rss).abs() < 1e-9 * (1.0 + base.lsq.rss));
    }

    #[test]
    fn circular_mean_turns_with_its_angles(angles in prop::collection::vec(-1.2..1.2f64, 1..20), by in -20.0..20.0f64) {
        let base = circular::mean(&angles, None).unwrap();
        let mut turned: Vec<f64> = angles.iter().map(|a| a + by).collect();
        turned.reverse();
        let found = circular::mean(&turned, None).unwrap();
        prop_assert!(notchpin::units::wrap_rad(found.mean - base.mean - by).abs() < 1e-12);
        prop_assert!((found.resultant_length - base.resultant_length).abs() < 1e-12);
        prop_assert!(found.mean > -std::f64::consts::PI && found.mean <= std::f64::consts::PI);
    }

    /// Degrees or radians per reading unit, and any number of whole turns, leave index and lost motion alone.
    #[test]
    fn index_unit_and_turns(index in -3.0..3.0f64, lost in 0.0..0.05f64, readings in prop::collection::vec((0.0..6.0f64, -3i32..3), 1..9)) {
        let mut in_radians = Vec::new();
        for (k, (notch, whole)) in readings.iter().enumerate() {
            for approach in [Approach::Rising, Approach::Falling] {
                // switch 1.0: r = switch − α − index + dir·lost/2 + whole turns
                let turn = f64::from(*whole) * std::f64::consts::TAU;
                let reading = 1.0 - notch - index + 0.5 * lost * approach.sign() + turn;
                in_radians.push(NotchRow { notch: *notch, reading, approach, weight: 1.0 + k as f64 });
            }
        }
        let mut in_degrees: Vec<NotchRow> = in_radians.iter().map(|r| NotchRow { reading: r.reading.to_degrees(), ..*r }).collect();
        in_degrees.reverse();
        for (rows, scale) in [(in_radians, 1.0), (in_degrees, 1f64.to_radians())] {
            let found = circular::turntable_index(&rows, scale, 1.0).unwrap();
            prop_assert!(notchpin::units::wrap_rad(found.index - index).abs() < 1e-12);
            prop_assert!((found.lost_motion.unwrap() - lost).abs() < 1e-12);
        }
    }

    #[test]
    fn circle_order_origin_unit(points in ring(), shift in point()) {
        let base = circle::fit(&points).unwrap();
        let mut other: Vec<Vector2<f64>> = points.iter().map(|p| (p + shift.xy()) / INCH).collect();
        other.reverse();
        let found = circle::fit(&other).unwrap();
        prop_assert!((found.centre * INCH - shift.xy() - base.centre).norm() < 1e-8);
        prop_assert!((found.radius * INCH - base.radius).abs() < 1e-8);
        prop_assert!((found.covariance - base.covariance).amax() < 1e-7 * base.covariance.amax());
    }

    #[test]
    fn axis_turns_and_moves_with_the_cell(r in rotation(), t in point(), scatter in prop::collection::vec(point(), 3..8)) {
        let n = scatter.len() as f64;
        let turns: Vec<Turn> = scatter.iter().enumerate().map(|(k, s)| {
            let angle = 4.0 * k as f64 / n;
            let point = Vector3::new(300.0 + 120.0 * angle.cos(), 120.0 * angle.sin(), 20.0) + s * 1e-3;
            Turn { angle, point, weight: 1.0 + k as f64 }
        }).collect();
        let base = turns::axis_from_turns(&turns).unwrap();
        let mut other: Vec<Turn> = turns.iter().map(|x| Turn { point: (r * x.point + t) / INCH, ..*x }).collect();
        other.reverse();
        let found = turns::axis_from_turns(&other).unwrap();
        prop_assert!((found.centre * INCH - (r * base.centre + t)).norm() < 1e-9);
        prop_assert!((found.axis - r * base.axis).norm() < 1e-11);
        prop_assert!((found.rss * INCH * INCH - base.rss).abs() < 1e-9);
    }

    /// Any pairs at all: where there is an answer it is a proper rotation, and no turn of it fits better.
    #[test]
    fn rigid_is_never_a_mirror_image(pairs in prop::collection::vec((point(), point(), 0.1..3.0f64), 1..9), small in point()) {
        let source: Vec<_> = pairs.iter().map(|p| p.0).collect();
        let target: Vec<_> = pairs.iter().map(|p| p.1).collect();
        let weights: Vec<_> = pairs.iter().map(|p| p.2).collect();
        if let Ok(found) = rigid::fit(&source, &target, Some(&weights)) {
            prop_assert!((found.rotation.determinant() - 1.0).abs() < 1e-13);
            prop_assert!((found.rotation.transpose() * found.rotation - Matrix3::identity()).amax() < 1e-13);
            let turned = *Rotation3::new(small * 2e-5).matrix() * found.rotation;
            let sum: f64 = pairs.iter().map(|(p, q, w)| {
                w * (turned * (p - found.source_centroid) - (q - found.target_centroid)).norm_squared()
            }).sum();
            prop_assert!((sum / found.weight).sqrt() >= found.rmsd * (1.0 - 1e-12));
        } else {
            prop_assert!(pairs.len() < 3);
        }
    }

    #[test]
    fn rigid_order_origin_unit(source in prop::collection::vec(point(), 4..9), r in rotation(), t in point()) {
        let target: Vec<_> = source.iter().enumerate().map(|(i, p)| r * p + t + Vector3::repeat(0.1 * (i as f64).sin())).collect();
        let Ok(base) = rigid::fit(&source, &target, None) else { return Ok(()) };
        prop_assume!(base.relative_gap > 1e-3);
        let mut other: Vec<_> = source.iter().zip(&target).map(|(p, q)| (p / INCH, (q + t) / INCH)).collect();
        other.reverse();
        let (source, target): (Vec<_>, Vec<_>) = other.into_iter().unzip();
        let found = rigid::fit(&source, &target, None).unwrap();
        prop_assert!((found.rotation - base.rotation).amax() < 1e-11);
        prop_assert!((found.translation * INCH - t - base.translation).norm() < 1e-8);
        prop_assert!((found.rmsd * INCH - base.rmsd).abs() < 1e-9);
        prop_assert_eq!(found.handedness, base.handedness);
    }

    #[test]
    fn about_z_agrees_with_space(source in prop::collection::vec(point(), 2..9), yaw in -3.1..3.1f64, t in point()) {
        let turn = *Rotation3::from_euler_angles(0.0, 0.0, yaw).matrix();
        let target: Vec<_> = source.iter().map(|p| turn * p + t).collect();
        let found = rigid::fit_about_z(&source, &target, None).unwrap();
        prop_assert!(notchpin::units::wrap_rad(found.yaw - yaw).abs() < 1e-9);
        prop_assert!((found.translation - t).norm() < 1e-6);
        prop_assert!(found.rmsd < 1e-9);
    }
}
