//! The hand-worked examples of `docs/worked-examples.md`, with the same numbers.

use nalgebra::Vector2;
use notchpin::fit::standalone::Approach;
use notchpin::fit::standalone::circular::NotchRow;
use notchpin::fit::standalone::circular::turntable_index;
use notchpin::fit::standalone::line::LineModel;
use notchpin::fit::standalone::line::Term;
use notchpin::fit::standalone::line::carriage_position;
use notchpin::fit::standalone::line::fit;
use notchpin::fit::standalone::play::PlayError;
use notchpin::fit::standalone::play::side_play;

use crate::line::row;
use crate::support::near;

/// Example 1.
#[test]
fn eight_pitches() {
    let known_scale = LineModel {
        scale: Term::Known(1.0),
        ..LineModel::PLAIN
    };
    for (pitch, position, datum) in [(50.0, 463.2, 338.2), (25.4, 266.4, 141.4)] {
        let y = carriage_position(0.0, 8, pitch, 3.2, -60.0);
        near("carriage point", y, position, 1e-12);
        let found = fit(&[row(125.0, y)], known_scale).unwrap();
        near("track datum", found.offset.value, datum, 1e-12);
        assert_eq!(found.offset.sd, None);
    }
    // The second station: seven pitches further, the track reads 474.65.
    let rows = [
        row(125.0, carriage_position(0.0, 8, 50.0, 3.2, -60.0)),
        row(474.65, carriage_position(0.0, 15, 50.0, 3.2, -60.0)),
    ];
    let found = fit(&rows, LineModel::PLAIN).unwrap();
    near("scale", found.scale.value, 1.001_001_001, 5e-10);
    near("track datum", found.offset.value, 338.074_875, 5e-7);
}

fn notch(reading: f64, approach: Approach) -> NotchRow {
    NotchRow {
        notch: 90f64.to_radians(),
        reading,
        approach,
        weight: 1.0,
    }
}

/// Example 2.
#[test]
fn notch_from_both_sides() {
    let rows = [
        notch(85.10, Approach::Rising),
        notch(84.70, Approach::Falling),
    ];
    let (scale, switch) = (1f64.to_radians(), 180f64.to_radians());
    let found = turntable_index(&rows, scale, switch).unwrap();
    near(
        "rising",
        found.rising.unwrap().mean.mean.to_degrees(),
        4.90,
        1e-12,
    );
    near(
        "falling",
        found.falling.unwrap().mean.mean.to_degrees(),
        5.30,
        1e-12,
    );
    near("index", found.index.to_degrees(), 5.10, 1e-12);
    near(
        "lost motion",
        found.lost_motion.unwrap().to_degrees(),
        0.40,
        1e-12,
    );
    assert_eq!(found.index_sd, None);

    // The same table on a controller that counts the other way: r → −r, rising becomes falling.
    let mirrored = [
        notch(-85.10, Approach::Falling),
        notch(-84.70, Approach::Rising),
    ];
    let found = turntable_index(&mirrored, -scale, switch).unwrap();
    near("index", found.index.to_degrees(), 5.10, 1e-12);
    near(
        "lost motion",
        found.lost_motion.unwrap().to_degrees(),
        0.40,
        1e-12,
    );

    // One side only: half the lost motion stays in the index, and none is reported.
    let found = turntable_index(&rows[..1], scale, switch).unwrap();
    near("index", found.index.to_degrees(), 4.90, 1e-12);
    assert_eq!(found.lost_motion, None);
}

/// Across ±180° and with more rows: 179.9, 180.1 rising; −179.5, −179.7 falling, so index 180.2 = −179.8, lost 0.4;
/// residuals ±0.1 in each, s² = 4 · 0.01 / 2 = 0.02, sd of the difference √(0.02 · (1/2 + 1/2)) = 0.1414, of the index half.
#[test]
fn index_across_the_branch() {
    let at = |value: f64, approach| NotchRow {
        notch: 0.0,
        reading: -value,
        approach,
        weight: 1.0,
    };
    let (up, down) = (Approach::Rising, Approach::Falling);
    let unnoted = at(0.0, Approach::Unknown);
    let rows = [
        at(179.9, up),
        at(-179.9, up),
        at(-179.5, down),
        at(180.3, down),
        unnoted,
    ];
    let found = turntable_index(&rows, 1f64.to_radians(), 0.0).unwrap();
    near("index", found.index.to_degrees(), -179.8, 1e-10);
    near(
        "lost motion",
        found.lost_motion.unwrap().to_degrees(),
        0.4,
        1e-10,
    );
    near(
        "lost motion sd",
        found.lost_motion_sd.unwrap().to_degrees(),
        0.02f64.sqrt(),
        1e-10,
    );
    near(
        "index sd",
        found.index_sd.unwrap().to_degrees(),
        0.5 * 0.02f64.sqrt(),
        1e-10,
    );
    assert_eq!(found.set_aside, 1);
    assert!(turntable_index(&rows, 0.0, 0.0).is_err());
}

/// Example 3.
#[test]
fn tip_midway_between_two_holes() {
    let target = (Vector2::new(100.0, 50.0) + Vector2::new(100.0, 100.0)) / 2.0;
    let found = side_play(0.9, 0.5, Vector2::new(1.0, 0.0), 400.0).unwrap();
    let tip = target + found.free_centre;
    near("x", tip.x, 100.0, 1e-13);
    near("y", tip.y, 75.2, 1e-13);
    near("lost motion", found.lost_motion, 0.0035, 1e-16);
    near("in degrees", found.lost_motion.to_degrees(), 0.2005, 5e-5);
    // Heading along +y: left is −x.
    let found = side_play(0.9, 0.5, Vector2::new(0.0, 3.0), 400.0).unwrap();
    near("x", found.free_centre.x, -0.2, 1e-15);
    assert_eq!(
        side_play(-0.1, 0.5, Vector2::x(), 400.0),
        Err(PlayError::Negative {
            side: "left",
            play: -0.1
        })
    );
    assert!(side_play(0.1, 0.5, Vector2::zeros(), 400.0).is_err());
    assert!(side_play(0.1, 0.5, Vector2::x(), 0.0).is_err());
}
