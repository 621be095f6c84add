//! What is said of the play and of a wave, by hand.

use crate::pictures::notch_dial::Round;
use crate::pictures::notch_dial::wave;
use crate::pictures::play::Axis;
use crate::pictures::play::Noted;
use crate::pictures::play::Play;
use crate::pictures::play::play;

fn noted(up: &[f64], down: &[f64]) -> Noted {
    let both = [up.to_vec(), down.to_vec()];
    Noted {
        fit: both.clone(),
        checked: both,
        levels: None,
    }
}

#[test]
fn play_is_not_said_to_be_seen_where_it_is_not() {
    let axis = |doubtful: bool| Axis {
        name: "track",
        unit: "mm",
        usual: 0.25,
        doubtful,
    };
    let of = |lost: f64, half: f64, up: &[f64], down: &[f64], doubtful: bool| {
        play(Some((lost, 0.15)), half, &noted(up, down), &axis(doubtful))
    };
    let said = |p: &Play| p.sentence.clone().unwrap();
    // As it should be: 0.6 above and 0.5 below are 1.1 apart.
    let fine = of(1.14, 0.57, &[0.5, 0.7], &[-0.5, -0.5], false);
    assert_eq!(
        said(&fine),
        "Rising and falling differ by 1.14 ± 0.15 mm, which is the play of the track."
    );
    assert_eq!(fine.levels, [Some(0.57), Some(-0.57)]);
    // A slip blew it up: means 0.6 and −0.6 are 1.2 apart, not 13.5.
    let slip = of(13.5, 6.75, &[0.5, 0.7], &[-0.5, -0.7], true);
    assert_eq!(
        said(&slip),
        "The registration says 13.50 ± 0.15 mm for the play of the track; the rising and falling readings that \
         fit lie about 1.20 mm apart: it is probably wrong."
    );
    assert_eq!(
        slip.gap.clone().unwrap(),
        "lost motion 13.50 ± 0.15 mm: probably wrong"
    );
    // An axis whose readings fall along its travel: rising lie below, and the same is said.
    let turned = of(13.5, -6.75, &[-0.5, -0.7], &[0.5, 0.7], true);
    assert_eq!(said(&turned), said(&slip));
    let round = of(13.5, -6.75, &[0.5, 0.7], &[-0.5, -0.7], true);
    assert!(said(&round).contains("1.20 mm apart, the other way round"));
    // Below zero by more than 1.96 · 0.15 = 0.294: not possible. By less: none.
    let below = of(-0.3, -0.15, &[-0.15], &[0.15], false);
    assert_eq!(
        said(&below),
        "The registration says −0.30 ± 0.15 mm for the play of the track. Play cannot be below zero: look at how \
         the approaches were noted."
    );
    let zero = of(-0.28, -0.14, &[-0.14], &[0.14], false);
    assert!(said(&zero).ends_with("is none as far as can be told."));
    // One direction only: it comes from elsewhere, and no gap is drawn.
    let held = of(1.14, 0.57, &[0.5], &[], false);
    assert_eq!(
        said(&held),
        "The play of the track, 1.14 ± 0.15 mm, is not seen here: no falling reading that fits is drawn."
    );
    assert_eq!((held.levels, held.gap), ([Some(0.57), None], None));
    let drawing = play(None, 0.57, &noted(&[], &[-0.5]), &axis(false));
    assert_eq!(
        said(&drawing),
        "The play of the track that cell.toml holds, 1.14 mm, is not seen here: no rising reading that fits is drawn."
    );
    // 3.29 · 0.25 · √(1/2 + 1/2) = 0.82 is less than 1.14 − 0.1.
    let other = play(None, 0.57, &noted(&[0.0, 0.1], &[0.0, -0.1]), &axis(false));
    assert!(
        said(&other).ends_with("those that fit lie about 0.10 mm apart: look at what is held."),
        "{other:?}"
    );
}

/// A level and a wave at some places, degrees: u, then level of the class.
fn rounds(places: &[(f64, usize)], levels: [f64; 3], cos: f64, sin: f64, u: f64) -> Vec<Round> {
    let one = |&(deg, class): &(f64, usize)| {
        let (s, c) = deg.to_radians().sin_cos();
        Round {
            deg,
            value: levels[class] + cos * c + sin * s,
            u,
            class,
        }
    };
    places.iter().map(one).collect()
}

#[test]
fn a_wave_for_the_eye_keeps_its_level() {
    // Uneven places, more of them where the wave is high: the mean is not the level.
    let places: Vec<(f64, usize)> = [0.0, 10.0, 20.0, 30.0, 120.0, 210.0, 300.0]
        .iter()
        .flat_map(|deg| [(*deg, 0), (*deg, 1)])
        .collect();
    let found = wave(&rounds(&places, [0.75, 0.25, 0.0], 0.4, -0.3, 0.05)).unwrap();
    let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
    assert!(near(found.amplitudes.0, 0.4) && near(found.amplitudes.1, -0.3));
    let [up, down] = found.levels.unwrap();
    assert!(near(up, 0.75) && near(down, 0.25) && near(found.level, 0.5));
    assert!(!found.chance);
    // Even places: cos and sin each have the variance 2u²/n, so chance reaches √5.991 · 0.05 · √(2/8) =
    // 0.0612.
    let even: Vec<(f64, usize)> = (0..8).map(|k| (45.0 * f64::from(k), 2)).collect();
    let chance = |size: f64| {
        let at = rounds(&even, [0.0; 3], 0.6 * size, 0.8 * size, 0.05);
        wave(&at).unwrap().chance
    };
    assert!(chance(0.0611) && !chance(0.0613));
    // Places at 0, ±60°, ±120° and twice 180°: sums of cos² 1 + 4/4 + 2 = 4 and of sin² 4 · 3/4 = 3; of cos
    // −1, of sin and of both 0. With a level over seven, cos has 4 − 1/7 = 27/7: along sin chance reaches
    // √5.991 · 0.05/√3 = 0.0707, along cos √5.991 · 0.05/√(27/7) = 0.0623.
    let places = [0.0, 60.0, 120.0, 180.0, 180.0, 240.0, 300.0].map(|deg| (deg, 2));
    let along = |cos: f64, sin: f64| {
        let at = rounds(&places, [0.1; 3], cos, sin, 0.05);
        wave(&at).unwrap().chance
    };
    assert!(along(0.0, 0.0706) && !along(0.0, 0.0708));
    assert!(along(0.0622, 0.0) && !along(0.0624, 0.0));
}

#[test]
fn no_wave_is_drawn_where_notches_tell_none() {
    let found = |degrees: &[f64]| {
        let places: Vec<(f64, usize)> = degrees.iter().map(|d| (*d, 2)).collect();
        wave(&rounds(&places, [0.0; 3], 0.4, 0.3, 0.05)).is_some()
    };
    // From 240° round to 0°: 120°, just near enough; from 239° one degree too far.
    assert!(found(&[0.0, 48.0, 96.0, 144.0, 192.0, 240.0]));
    assert!(!found(&[0.0, 48.0, 96.0, 144.0, 192.0, 239.0]));
    // Five places, one of them twice; 360° is 0°.
    assert!(!found(&[0.0, 72.0, 144.0, 216.0, 288.0, 288.0]));
    assert!(!found(&[0.0, 72.0, 144.0, 216.0, 288.0, 360.0]));
}

#[test]
fn missing_marks_of_one_direction_imitate_no_wave() {
    // Rising and falling 5 deg apart at eight notches, falling ones missing at 0° and 45°. One mean for both
    // would leave something there that a wave can follow; a mean each leaves nothing.
    let missing = [0.0, 45.0];
    let places: Vec<(f64, usize)> = (0..8)
        .map(|k| 45.0 * f64::from(k))
        .flat_map(|deg| [(deg, 0), (deg, 1)])
        .filter(|(deg, class)| *class == 0 || !missing.contains(deg))
        .collect();
    assert_eq!(places.len(), 14);
    let levels = [2.5, -2.5, 0.0];
    let none = wave(&rounds(&places, levels, 0.0, 0.0, 0.25)).unwrap();
    assert!(none.amplitudes.0.hypot(none.amplitudes.1) < 1e-12);
    assert!(none.chance);
    let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
    let [up, down] = none.levels.unwrap();
    assert!(near(up, 2.5) && near(down, -2.5));
    // A true one of 0.6, −0.8: 1 deg. Even readings would tell each to 0.25 · √(2/14) = 0.094.
    let found = wave(&rounds(&places, levels, 0.6, -0.8, 0.25)).unwrap();
    assert!(near(found.amplitudes.0, 0.6) && near(found.amplitudes.1, -0.8));
    assert!(!found.chance && near(found.level, 0.0));
    // Readings whose direction was not noted have a mean of their own too.
    let mut three = places.clone();
    three.extend([(0.0, 2), (45.0, 2), (90.0, 2)]);
    let none = wave(&rounds(&three, [2.5, -2.5, 9.0], 0.0, 0.0, 0.25)).unwrap();
    assert!(none.amplitudes.0.hypot(none.amplitudes.1) < 1e-12);
}

#[test]
fn one_sided_readings_tell_no_wave() {
    // Rising at 0°, 30° … 150°, falling at 180° … 330°: together all round, each on one side. Within a side
    // the sum of squares of sin about its mean is 3 − 3.732²/6 = 0.679: 1.357 of the 6 that twelve even readings
    // have, so that u² is 4.4 times as large, more than 2².
    let sided: Vec<(f64, usize)> = (0..12)
        .map(|k| (30.0 * f64::from(k), usize::from(k >= 6)))
        .collect();
    assert_eq!(
        wave(&rounds(&sided, [1.0, -1.0, 0.0], 0.4, 0.3, 0.05)),
        None
    );
    // The same places with the directions in turn: six each, 60° apart, whose means of cos and sin are 0.
    let mixed: Vec<(f64, usize)> = (0..12)
        .map(|k| (30.0 * f64::from(k), (k % 2) as usize))
        .collect();
    assert!(wave(&rounds(&mixed, [1.0, -1.0, 0.0], 0.4, 0.3, 0.05)).is_some());
    // As many readings as are fitted: nothing is left over to judge by.
    let few: Vec<(f64, usize)> = [0.0, 90.0, 180.0, 270.0].map(|deg| (deg, 0)).to_vec();
    assert_eq!(wave(&rounds(&few, [0.0; 3], 1.0, 0.0, 0.05)), None);
}
