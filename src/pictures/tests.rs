//! Pictures of whole cells: sound at both widths, and true to the registration.

use std::fmt::Write;

use crate::bench::Bench;
use crate::bench::resolve_unknowns;
use crate::cell;
use crate::cell::Geometry;
use crate::diagnose::Problems;
use crate::drawing::tests::readback::sound;
use crate::history::day_of;
use crate::parameters::Unknowns;
use crate::pictures::NARROW;
use crate::pictures::Picture;
use crate::pictures::WIDE;
use crate::pictures::contributions;
use crate::pictures::drift;
use crate::pictures::drift::DriftOf;
use crate::pictures::drift::Drifts;
use crate::pictures::drift::ValueOn;
use crate::pictures::joints;
use crate::pictures::moved;
use crate::pictures::notch_dial;
use crate::pictures::notch_dial::Round;
use crate::pictures::notch_dial::wave;
use crate::pictures::play::Axis;
use crate::pictures::play::Noted;
use crate::pictures::play::Play;
use crate::pictures::play::play;
use crate::pictures::reach_lanes;
use crate::pictures::reach_lanes::Reach;
use crate::pictures::reach_lanes::ReachPoint;
use crate::pictures::residuals::residuals;
use crate::pictures::track_line;
use crate::readings::ResidualUnit;
use crate::registration::ChangeDocument;
use crate::registration::Document;
use crate::registration::MovedDocument;
use crate::registration::Outcome;
use crate::registration::document;
use crate::registration::register;
use crate::report::reach::IntervalsDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::Standing;

macro_rules! demo {
    ($cell:literal, $($file:literal),*) => {
        bench_of(
            include_str!(concat!("../../demo-cells/", $cell, "/cell.toml")),
            &[$(($file, include_str!(concat!("../../demo-cells/", $cell, "/readings/", $file)))),*],
        )
    };
}

fn bench_of(cell: &str, files: &[(&'static str, &str)]) -> Bench {
    let mut problems = Problems::default();
    let cell = cell::parse("cell.toml", cell, &mut problems).unwrap();
    let mut bench = Bench::new(cell);
    for (kind, text) in files {
        let name = format!("readings/{kind}");
        bench.read(kind, &name, text.as_bytes().to_vec(), &mut problems);
    }
    bench
}

fn glazing() -> Bench {
    demo!(
        "glazing-bench",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv",
        "height.csv"
    )
}

fn registered(bench: &Bench) -> (Document, Geometry) {
    let mut problems = Problems::default();
    let unknowns = resolve_unknowns(&bench.cell, "cell.toml", &mut problems).unwrap();
    let registration = register(bench, &unknowns);
    let found = document(bench, &unknowns, &registration);
    match registration.outcome {
        Outcome::Determined(determined) => (found, determined.geometry),
        other => panic!("{other:?}"),
    }
}

/// Sound at both widths, not too large, every letter readable and nothing cut.
fn fine(picture: &Picture) {
    for (svg, width) in [(&picture.wide, WIDE), (&picture.narrow, NARROW)] {
        assert!(svg.len() < 150_000, "{} {}", picture.slug, svg.len());
        let all = sound(svg);
        assert_eq!(all[0].number("width"), width);
        for text in all.iter().filter(|e| e.name == "text") {
            assert!(
                text.number("font-size") >= 10.5 && !text.text.contains('…'),
                "{text:?}"
            );
        }
    }
}

fn every(bench: &Bench, document: &Document, geometry: &Geometry) -> Vec<Picture> {
    let all = [
        track_line::track_line(document, bench, geometry),
        notch_dial::notch_dial(document, bench, geometry),
        joints::joints(document, bench, geometry),
        contributions::contributions(document),
    ];
    let all: Vec<Picture> = all.into_iter().filter_map(|p| p.unwrap()).collect();
    all.iter().for_each(fine);
    all
}

#[test]
fn pictures_of_whole_cells_are_sound() {
    let slugs = |bench: &Bench| -> Vec<String> {
        let (document, geometry) = registered(bench);
        let all = every(bench, &document, &geometry);
        all.into_iter().map(|p| p.slug).collect()
    };
    let all = ["track-line", "notch-dial", "joints", "contributions"];
    assert_eq!(slugs(&glazing()), all);
    let slips = demo!(
        "slips",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv"
    );
    assert_eq!(slugs(&slips), all);
    // No track: no picture of it.
    let six = demo!(
        "six-joint",
        "notch.csv",
        "touch.csv",
        "attitude.csv",
        "height.csv"
    );
    assert_eq!(slugs(&six), all[1..]);
}

#[test]
fn what_is_drawn_along_the_track_is_the_residual_without_play() {
    // Put back means: as if the track had no play. The kind itself says what the residual is then.
    let bench = glazing();
    let (document, geometry) = registered(&bench);
    let all = residuals(&document, &bench, &geometry);
    let (chart, sentence) = track_line::chart(&document, &all, &geometry).unwrap();
    let found = document
        .parameters
        .iter()
        .find(|p| p.name == "track.lost_motion");
    let found = found.unwrap().value.unwrap();
    let gap = chart.gap.unwrap();
    // The track of this cell reads upward along its travel: rising readings lie above.
    assert!((gap.from - gap.to - found).abs() < 1e-12, "{gap:?} {found}");
    assert!(gap.words.contains(&format!("{found:.2}")), "{}", gap.words);
    assert!(sentence.contains("which is the play of the track"));
    let mut free = geometry.clone();
    free.track.as_mut().unwrap().lost_motion_mm = 0.0;
    // Rz(yaw) Ry(pitch): the travel's share along x is cos yaw · cos pitch. Counts of rows see next to nothing
    // of it and are drawn as they are.
    let mounting = geometry.track.unwrap().mounting;
    let share = mounting.yaw_rad.cos() * mounting.pitch_rad.cos();
    let mut counted = 0;
    for taken in bench
        .taken
        .iter()
        .filter(|t| t.reading.file() == "holes.csv")
    {
        let value = |geometry: &Geometry| {
            let reading = &taken.reading;
            reading.evaluate(geometry, &Unknowns::default(), None).value[0]
        };
        let track = taken.reading.stand().track;
        let along = (track, value(&free) / share);
        let across = (track, value(&geometry));
        let near = |a: &(f64, f64), b: &(f64, f64)| a.0 == b.0 && (a.1 - b.1).abs() < 1e-9;
        let drawn = |classes: std::ops::Range<usize>, at: (f64, f64)| {
            let points = chart.classes[classes].iter().flat_map(|c| &c.points);
            points.filter(|p| near(p, &at)).count()
        };
        assert_eq!(
            drawn(0..3, along) + drawn(3..4, across),
            1,
            "line {}",
            taken.line
        );
        counted += 1;
    }
    let drawn: usize = chart.classes.iter().map(|c| c.points.len()).sum();
    assert_eq!((drawn, counted), (20, 20));
    // Ten counts along the travel, ten across it (rows).
    let of: Vec<usize> = chart.classes.iter().map(|c| c.points.len()).collect();
    assert_eq!(of, [5, 5, 0, 10]);
}

#[test]
fn what_is_drawn_round_the_table_is_the_residual_without_play_and_shift() {
    let bench = glazing();
    let (document, mut geometry) = registered(&bench);
    // A shift that the registration does not know would be taken out of the residuals: take it in.
    let table = geometry.turntable.as_mut().unwrap();
    table.ecc_cos_rad = 0.002;
    table.ecc_sin_rad = -0.001;
    let mut shifted = document.clone();
    for row in &mut shifted.readings {
        let place = bench
            .taken
            .iter()
            .find(|t| *t.file == *row.file && t.line == row.line);
        let reading = &place.unwrap().reading;
        if reading.file() == "notch.csv" {
            let value = reading
                .evaluate(&geometry, &Unknowns::default(), None)
                .value[0];
            row.residual = value / ResidualUnit::Deg.in_code();
        }
    }
    let all = residuals(&shifted, &bench, &geometry);
    let (chart, sentence) = notch_dial::chart(&shifted, &all, &geometry).unwrap();
    assert!(sentence.contains("as cell.toml holds it"), "{sentence}");
    let mut free = geometry.clone();
    let table = free.turntable.as_mut().unwrap();
    (table.lost_motion_rad, table.ecc_cos_rad, table.ecc_sin_rad) = (0.0, 0.0, 0.0);
    let mut counted = 0;
    for taken in bench
        .taken
        .iter()
        .filter(|t| t.reading.file() == "notch.csv")
    {
        let value = taken
            .reading
            .evaluate(&free, &Unknowns::default(), None)
            .value[0]
            .to_degrees();
        let mut near = chart.classes.iter().flat_map(|c| &c.points);
        assert!(
            near.any(|p| (p.1 - value).abs() < 1e-9),
            "line {}",
            taken.line
        );
        counted += 1;
    }
    assert_eq!(counted, 16);
    // √(0.002² + 0.001²) rad = 0.1281°; drawn with its sign turned, at 0° −0.002 rad = −0.1146°.
    assert!((chart.curves[0].cos + 0.1146).abs() < 1e-4);
    assert!(sentence.contains("0.13 deg"), "{sentence}");
}

#[test]
fn rows_that_are_no_longer_in_the_files_are_counted() {
    let mut bench = glazing();
    let (document, geometry) = registered(&bench);
    bench
        .taken
        .retain(|t| !(t.reading.file() == "holes.csv" && t.line == 4));
    let picture = track_line::track_line(&document, &bench, &geometry)
        .unwrap()
        .unwrap();
    assert!(
        picture.sentence.contains("All 19 readings")
            && picture
                .sentence
                .contains("Not drawn: 1 residual of the registration that is no longer"),
        "{}",
        picture.sentence
    );
    let whole = notch_dial::notch_dial(&document, &bench, &geometry)
        .unwrap()
        .unwrap();
    assert!(!whole.sentence.contains("Not drawn"));
}

#[test]
fn a_suspect_is_named_first() {
    // slips: its README says that line 6 of holes.csv is one hole of 50 mm off.
    let bench = demo!(
        "slips",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv"
    );
    let (document, geometry) = registered(&bench);
    let picture = track_line::track_line(&document, &bench, &geometry)
        .unwrap()
        .unwrap();
    let rest = picture
        .sentence
        .strip_prefix("One reading stands out: readings/holes.csv line 6: ")
        .and_then(|rest| rest.split_once(" mm from what the others say. "));
    let (off, rest) = rest.unwrap_or_else(|| panic!("{}", picture.sentence));
    let row = |line: usize| {
        let mut rows = document.readings.iter();
        rows.find(|r| r.file == "readings/holes.csv" && r.line == line)
            .unwrap()
    };
    let off: f64 = off.parse().unwrap();
    assert!((off - 50.0).abs() <= row(6).u, "{off} ± {}", row(6).u);
    // It is not what is drawn, of which the picture speaks next and says so.
    assert!((row(6).residual.abs() - off).abs() > 1.0);
    assert!(
        rest.contains("of the registration that it took part in."),
        "{rest}"
    );
    assert!(picture.wide.contains("it is drawn at what is"));
    assert!(picture.wide.contains("holes.csv line 6"));
    assert!(picture.sentence.contains("took part in the registration"));
}

#[test]
fn what_nothing_checks_is_not_said_to_fit() {
    let bench = glazing();
    let (mut document, geometry) = registered(&bench);
    let unchecked = |document: &mut Document, keep: usize| {
        for (k, r) in document.readings.iter_mut().enumerate() {
            if k % 20 >= keep {
                (r.standardized, r.detectable) = (None, None);
                (r.residual, r.redundancy) = (1e-13, 1e-16);
            }
        }
    };
    let mut none = document.clone();
    unchecked(&mut none, 0);
    let all = residuals(&none, &bench, &geometry);
    // Twenty counts and sixteen notches of this cell (see the tests above).
    let (track, said) = track_line::chart(&none, &all, &geometry).unwrap();
    assert!(
        said.starts_with(
            "Nothing checks any of these 20 readings: the registration follows them, right or wrong."
        ),
        "{said}"
    );
    let (dial, said) = notch_dial::chart(&none, &all, &geometry).unwrap();
    assert!(
        said.starts_with("Nothing checks any of these 16 notch readings:"),
        "{said}"
    );
    assert!(
        !said.contains("lie within") && !said.contains("for the eye"),
        "{said}"
    );
    assert!(track.usual.is_some() && dial.usual.is_some());
    // Some are checked: only of those it is said how near they lie.
    let mut rows = document.readings.iter_mut();
    let mut holes: Vec<_> = rows
        .by_ref()
        .filter(|r| r.file == "readings/holes.csv")
        .collect();
    for (k, r) in holes.iter_mut().enumerate() {
        r.residual = if k == 0 { 0.5 } else { 0.125 };
        if k >= 17 {
            r.standardized = None;
        }
    }
    let u = holes[0].u;
    // Two digits of a u between 0.1 and 1 are hundredths.
    assert!((0.1..1.0).contains(&u));
    let all = residuals(&document, &bench, &geometry);
    let (_, said) = track_line::chart(&document, &all, &geometry).unwrap();
    assert!(
        said.starts_with(
            "The 17 readings that others check lie within 0.50 mm of the registration. 3 more are checked by \
             nothing: they say nothing here."
        ),
        "{said}"
    );
}

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
    let found = wave(&rounds(&places, [0.75, 0.25, 0.0], 0.4, -0.3, 0.05), true).unwrap();
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
        wave(&at, true).unwrap().chance
    };
    assert!(chance(0.0611) && !chance(0.0613));
    // Places at 0, ±60°, ±120° and twice 180°: sums of cos² 1 + 4/4 + 2 = 4 and of sin² 4 · 3/4 = 3; of cos
    // −1, of sin and of both 0. With a level over seven, cos has 4 − 1/7 = 27/7: along sin chance reaches
    // √5.991 · 0.05/√3 = 0.0707, along cos √5.991 · 0.05/√(27/7) = 0.0623.
    let places = [0.0, 60.0, 120.0, 180.0, 180.0, 240.0, 300.0].map(|deg| (deg, 2));
    let along = |cos: f64, sin: f64| {
        let at = rounds(&places, [0.1; 3], cos, sin, 0.05);
        wave(&at, true).unwrap().chance
    };
    assert!(along(0.0, 0.0706) && !along(0.0, 0.0708));
    assert!(along(0.0622, 0.0) && !along(0.0624, 0.0));
}

#[test]
fn no_wave_is_drawn_where_notches_tell_none() {
    let found = |degrees: &[f64]| {
        let places: Vec<(f64, usize)> = degrees.iter().map(|d| (*d, 2)).collect();
        wave(&rounds(&places, [0.0; 3], 0.4, 0.3, 0.05), true).is_some()
    };
    // From 240° round to 0°: 120°, just near enough; from 239° one degree too far.
    assert!(found(&[0.0, 48.0, 96.0, 144.0, 192.0, 240.0]));
    assert!(!found(&[0.0, 48.0, 96.0, 144.0, 192.0, 239.0]));
    // Five places, one of them twice; 360° is 0°.
    assert!(!found(&[0.0, 72.0, 144.0, 216.0, 288.0, 288.0]));
    assert!(!found(&[0.0, 72.0, 144.0, 216.0, 288.0, 360.0]));
}

#[test]
fn a_suspect_is_drawn_among_the_contributions() {
    let bench = glazing();
    let (mut document, _) = registered(&bench);
    // The best checked of a file that not all rows are drawn of.
    let file = "readings/touch.csv";
    let row = document
        .readings
        .iter_mut()
        .filter(|r| r.file == file)
        .max_by(|a, b| a.redundancy.total_cmp(&b.redundancy))
        .unwrap();
    row.suspect = true;
    row.standardized = Some(9.0);
    let name = format!(
        "line {}, {} (suspect)",
        row.line,
        row.component.clone().unwrap()
    );
    let (chart, sentence) = contributions::chart(&document).unwrap();
    let group = chart.groups.iter().find(|g| g.heading.starts_with(file));
    let group = group.unwrap();
    assert!(group.rows.iter().any(|r| r.name == name), "{name}");
    assert!(
        group.heading.ends_with("and 1 more that stands out"),
        "{}",
        group.heading
    );
    assert!(
        sentence.contains("41 of 106 residuals are drawn"),
        "{sentence}"
    );
    assert!(
        sentence.contains("may stay unnoticed (more than one time in five)"),
        "{sentence}"
    );
}

#[test]
fn hard_residuals_are_drawn() {
    let bench = glazing();
    let (document, geometry) = registered(&bench);
    // All alike; huge; a single one; nothing checked.
    let changed = |change: &dyn Fn(&mut Document)| {
        let mut other = document.clone();
        change(&mut other);
        every(&bench, &other, &geometry);
    };
    changed(&|d| d.readings.iter_mut().for_each(|r| r.residual = 0.25));
    changed(&|d| d.readings.iter_mut().for_each(|r| r.residual = 0.0));
    changed(&|d| {
        for r in &mut d.readings {
            (r.residual, r.standardized, r.detectable) = (-1e8, Some(1e8), Some(1e8));
            r.suspect = true;
        }
    });
    changed(&|d| d.readings.truncate(1));
    changed(&|d| d.readings.clear());
    changed(&|d| {
        for r in &mut d.readings {
            (r.standardized, r.detectable, r.redundancy) = (None, None, 0.0);
        }
    });
    // A number that is not finite is refused.
    let mut bad = document.clone();
    bad.readings[0].residual = f64::NAN;
    assert!(track_line::track_line(&bad, &bench, &geometry).is_err());
}

#[test]
fn two_thousand_readings_stay_small() {
    let mut holes = String::from("feature,along,from,count,gap_mm,track,approach\n");
    let mut notch = String::from("notch,table,approach\n");
    let cell = include_str!("../../demo-cells/glazing-bench/cell.toml");
    for k in 0..2000 {
        let way = ["up", "down"][k % 2];
        let track = 60 + (k * 37) % 800;
        let _ = writeln!(
            holes,
            "left_foot,column,,3,{}.{},{track},{way}",
            k % 9,
            k % 10
        );
        let _ = writeln!(notch, "{},{}.{},{way}", k % 8, (k % 8) * 45, k % 10);
    }
    let bench = bench_of(cell, &[("holes.csv", &holes), ("notch.csv", &notch)]);
    assert_eq!(bench.taken.len(), 4000);
    // Not registered, which these do not settle: the rows of a document are all that counts here.
    let (mut document, geometry) = registered(&glazing());
    let row = document.readings[0].clone();
    document.readings = bench
        .taken
        .iter()
        .enumerate()
        .map(|(k, t)| crate::registration::ReadingDocument {
            file: t.file.to_string(),
            line: t.line,
            residual: ((k * 7919) % 1000) as f64 / 500.0 - 1.0,
            suspect: k % 97 == 0,
            unit: t.reading.unit().as_str().to_owned(),
            ..row.clone()
        })
        .collect();
    let all = every(&bench, &document, &geometry);
    assert_eq!(all.len(), 3);
}

#[test]
fn the_least_checked_are_drawn_and_the_rest_is_told() {
    // By hand: 40 places over 20, 16, 48, 16 and 6 rows, one after another: 8 each would be 40, but the last
    // file has 6 only, so that 2 are left for the first two.
    assert_eq!(
        contributions::quotas(&[20, 16, 48, 16, 6], 40),
        [9, 9, 8, 8, 6]
    );
    assert_eq!(contributions::quotas(&[3, 2], 40), [3, 2]);
    assert_eq!(
        contributions::quotas(&[1; 50], 40).iter().sum::<usize>(),
        40
    );
    let bench = glazing();
    let (document, _) = registered(&bench);
    let (chart, sentence) = contributions::chart(&document).unwrap();
    let drawn: usize = chart.groups.iter().map(|g| g.rows.len()).sum();
    assert_eq!((drawn, document.readings.len()), (40, 106));
    assert!(sentence.contains("40 of 106 residuals are drawn"));
    // The least checked of a file is among them.
    for file in ["readings/touch.csv", "readings/holes.csv"] {
        let rows = document.readings.iter().filter(|r| r.file == file);
        let least = rows.map(|r| r.redundancy).fold(1.0, f64::min);
        let group = chart.groups.iter().find(|g| g.heading.starts_with(file));
        assert_eq!(group.unwrap().rows[0].share, least);
    }
}

const LONG: &str = "foot_<left>_&_\"right\"_of_the_carriage_that_somebody_named_so";

fn point(name: &str, intervals: &[[f64; 2]], reached: bool) -> ReachPoint {
    ReachPoint {
        name: name.to_owned(),
        frame: "plate".to_owned(),
        reached,
        standing: match reached {
            true => Standing::Reached,
            false => Standing::Nowhere,
        },
        intervals: intervals.to_vec(),
        taught: Some(300.0),
        best: reached.then_some(250.0),
        words: "words".to_owned(),
    }
}

#[test]
fn lanes_say_who_shares_a_place() {
    let reach = Reach {
        track: true,
        limits: Some([0.0, 900.0]),
        points: vec![
            point("a", &[[100.0, 400.0], [500.0, 800.0]], true),
            point(LONG, &[[350.0, 760.0]], true),
        ],
    };
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    // Shared by hand: 350 to 400, and 500 to 760, which is wider.
    assert!(picture.sentence.contains("All 2 points can be reached."));
    assert!(
        picture.sentence.contains("from 500 to 760"),
        "{}",
        picture.sentence
    );
    assert!(
        picture
            .wide
            .contains("prove each new position slowly first")
    );
    let mut other = reach.clone();
    other.points.push(point("c", &[], false));
    other.points.push(point("d", &[[820.0, 830.0]], true));
    let picture = reach_lanes::reach_lanes(&other).unwrap().unwrap();
    fine(&picture);
    assert!(
        picture
            .sentence
            .starts_with("1 of 4 points cannot be reached: c. No single place")
    );
    assert!(picture.sentence.contains("No single place of the track"));
    // One place only: the end of one is the beginning of the other.
    let touching = Reach {
        points: vec![
            point("a", &[[100.0, 200.0]], true),
            point("b", &[[200.0, 300.0]], true),
        ],
        ..reach.clone()
    };
    let (_, sentence) = reach_lanes::chart(&touching);
    assert!(
        sentence.contains(
            "Only with the track at 200 all of them that can be reached are reached from one place, by the joints' \
             limits; clearances are looked at at the stations only."
        ),
        "{sentence}"
    );
    // Both ends round inward: 100.04 up to 100.1, 199.96 down to 199.9; a tenth stays a tenth.
    let between = |low: f64, high: f64| {
        let points = vec![
            point("a", &[[low, high]], true),
            point("b", &[[0.0, 900.0]], true),
        ];
        reach_lanes::chart(&Reach {
            points,
            ..reach.clone()
        })
        .1
    };
    let said = between(100.04, 199.96);
    assert!(said.contains("track from 100.1 to 199.9 all"), "{said}");
    let said = between(100.3, 199.7);
    assert!(said.contains("track from 100.3 to 199.7 all"), "{said}");
    // Narrower than tenths.
    let said = between(100.032, 100.058);
    assert!(said.contains("track from 100.032 to 100.058 all"), "{said}");
    let many = Reach {
        points: vec![point(LONG, &[[1.0, 2.0]], true); 200],
        track: false,
        limits: None,
    };
    fine(&reach_lanes::reach_lanes(&many).unwrap().unwrap());
    let none = Reach {
        points: Vec::new(),
        ..many
    };
    assert_eq!(reach_lanes::reach_lanes(&none).unwrap(), None);
}

#[test]
fn conditions_are_told_apart_from_what_cannot_be_reached() {
    let under = |name: &str, standing, intervals: &[[f64; 2]]| ReachPoint {
        standing,
        ..point(name, intervals, false)
    };
    let mut reach = Reach {
        track: true,
        limits: Some([0.0, 900.0]),
        points: vec![
            point("a", &[[100.0, 400.0]], true),
            under("b", Standing::Pairs, &[[350.0, 760.0]]),
            under("c", Standing::Pairs, &[[350.0, 760.0]]),
            under("d", Standing::TooNear, &[[10.0, 20.0]]),
            under("e", Standing::Nowhere, &[]),
        ],
    };
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    assert!(
        picture.sentence.starts_with(
            "1 of 5 points cannot be reached: e. 2 of 5 points are reached only at certain pairs of track and \
             table: b, c. 1 of 5 points is reached only too near to something: d."
        ),
        "{}",
        picture.sentence
    );
    let key = "only under the condition told";
    assert!(picture.wide.contains(key) && picture.wide.contains(">not reached<"));
    // Each entry of the key is there only where it is used.
    reach.points.truncate(3);
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    assert!(picture.wide.contains(key) && !picture.wide.contains(">not reached<"));
    reach.points.truncate(1);
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    assert!(!picture.wide.contains(key));
    // Without a travel the answer is neither yes nor no.
    reach.points = vec![under("b", Standing::Pairs, &[])];
    reach.track = false;
    reach.limits = None;
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    assert!(picture.wide.contains("b (plate): under a condition"));
    assert_eq!(
        picture.sentence,
        "b is reached only at certain pairs of track and table."
    );
}

#[test]
fn lanes_are_filled_from_what_reach_found() {
    let bench = glazing();
    let geometry = bench.cell.nominal.clone();
    let of = |table: f64, intervals: &[[f64; 2]]| IntervalsDocument {
        table: Some(table),
        intervals: intervals.to_vec(),
    };
    let document = ReachDocument {
        points: vec![PointDocument {
            name: "bead".to_owned(),
            frame: "platter".to_owned(),
            taught: false,
            posture: None,
            clearance_needed_mm: 0.0,
            reachable: true,
            refused: None,
            best: None,
            stations: Vec::new(),
            track_intervals: vec![
                of(0.0, &[[500.0, 600.0], [10.0, 20.0]]),
                of(45.0, &[[550.0, 700.0]]),
            ],
            pairs: None,
        }],
    };
    let reach = reach_lanes::of(&document, &bench, &geometry);
    // 500 to 600 and 550 to 700 are one.
    assert_eq!(reach.points[0].intervals, [[10.0, 20.0], [500.0, 700.0]]);
    assert_eq!(reach.points[0].words, "track 10 to 20, 500 to 700");
    assert!(reach.track);
    fine(&reach_lanes::reach_lanes(&reach).unwrap().unwrap());
    assert_eq!(
        reach_lanes::merged(vec![[3.0, 1.0], [1.0, 2.0], [5.0, 5.0]]),
        [[1.0, 3.0], [5.0, 5.0]]
    );
}

fn change(name: &str, change: f64, u: f64, verdict: &str) -> ChangeDocument {
    ChangeDocument {
        name: name.to_owned(),
        unit: "mm".to_owned(),
        before: 100.0,
        after: 100.0 + change,
        change,
        u,
        verdict: verdict.to_owned(),
    }
}

#[test]
fn changes_are_told_by_how_sure_they_are() {
    let changes = vec![
        change("track.x", 50.5, 0.25, "real"),
        change("track.y", -0.6, 0.3, "perhaps"),
        change(LONG, 0.01, 0.3, "same"),
        change("tool.z", 5.0, 0.0, "drawing"),
        change("nothing", 0.0, 0.0, "same"),
    ];
    let told = MovedDocument {
        parts: vec!["track".to_owned()],
        followed: Vec::new(),
        from: "registration-0003.json".to_owned(),
        freed: Vec::new(),
        by_tolerance: Vec::new(),
        sentences: Vec::new(),
        changes,
        no_longer_count: Vec::new(),
    };
    let (chart, sentence) = moved::chart(&told).unwrap();
    assert!(
        sentence.starts_with(
            "One of 4 parameters really changed: track.x by +50.50 mm; one more perhaps did."
        ),
        "{sentence}"
    );
    let off: Vec<Option<f64>> = chart.groups[0].rows.iter().map(|r| r.off).collect();
    // 50.5/0.25 = 202; −0.6/0.3 = −2; what the drawing changed has no u.
    assert_eq!(off[0], Some(202.0));
    assert!((off[1].unwrap() + 2.0).abs() < 1e-12 && off[3].is_none());
    let (mut document, _) = registered(&glazing());
    assert_eq!(moved::moved(&document).unwrap(), None);
    document.moved = Some(told);
    fine(&moved::moved(&document).unwrap().unwrap());
    document.moved.as_mut().unwrap().changes = vec![change(LONG, 1.0, 1e-300, "real"); 90];
    fine(&moved::moved(&document).unwrap().unwrap());
    document.moved.as_mut().unwrap().changes.clear();
    assert_eq!(moved::moved(&document).unwrap(), None);
}

fn parameter(
    name: &str,
    values: &[(i64, f64, f64)],
    per_month: Option<(f64, f64, bool)>,
) -> DriftOf {
    let on = |&(day, value, u): &(i64, f64, f64)| ValueOn {
        day,
        value,
        u,
        counts: true,
    };
    DriftOf {
        name: name.to_owned(),
        unit: "deg".to_owned(),
        values: values.iter().map(on).collect(),
        per_month,
    }
}

#[test]
fn drifts_are_drawn_as_lines() {
    let day = day_of("2026-03-02").unwrap();
    // 0.1 in 30.44 days, from equal weights: the line goes through both values.
    let values = [(day, 1.0, 0.01), (day + 3044, 11.0, 0.01)];
    let drifting = parameter("turntable.index", &values, Some((0.1, 0.01, true)));
    let still = parameter(
        LONG,
        &[(day, 1.0, 0.5), (day + 3044, 1.1, 0.5)],
        Some((0.001, 0.1, false)),
    );
    let drifts = Drifts {
        parameters: vec![still, drifting, parameter("once", &[(day, 1.0, 0.1)], None)],
        moves: vec![day + 1000],
        unreadable: 1,
    };
    let (chart, sentence) = drift::chart(&drifts).unwrap();
    assert_eq!(chart.panels.len(), 2);
    assert!(chart.panels[0].name.starts_with("turntable.index"));
    let [a, b] = chart.panels[0].line.unwrap();
    assert!(
        (a.1 - 1.0).abs() < 1e-9 && (b.1 - 11.0).abs() < 1e-9,
        "{a:?} {b:?}"
    );
    assert!(
        sentence.starts_with("turntable.index (+0.100 deg a month) drifts"),
        "{sentence}"
    );
    assert!(
        sentence.contains("Something was moved once") && sentence.contains("Not drawn: 1 record")
    );
    fine(&drift::drift(&drifts).unwrap().unwrap());
    let one = Drifts {
        parameters: vec![parameter("once", &[(day, 1.0, 0.1)], None)],
        moves: Vec::new(),
        unreadable: 0,
    };
    assert_eq!(drift::drift(&one).unwrap(), None);
    let same_day = Drifts {
        parameters: vec![parameter(LONG, &[(day, 1e8, 0.0), (day, 1e8, 0.0)], None); 9],
        ..one
    };
    assert_eq!(
        drift::drift(&same_day).unwrap(),
        None,
        "one day says nothing over time"
    );
    let alike = Drifts {
        parameters: vec![parameter(LONG, &[(day, 1e8, 0.0), (day + 1, 1e8, 0.0)], None); 9],
        ..same_day
    };
    fine(&drift::drift(&alike).unwrap().unwrap());
}

#[test]
fn days_stand_at_the_first_of_months() {
    let day = |text: &str| day_of(text).unwrap();
    let words = |first: &str, last: &str| -> Vec<String> {
        let days = [day(first), day(last)];
        drift::ticks(days[0], days[1], &days)
            .into_iter()
            .map(|t| t.1)
            .collect()
    };
    // April to November are eight months; every second one of the year (January, March, …) are four.
    assert_eq!(
        words("2026-03-02", "2026-11-10"),
        ["2026-05", "2026-07", "2026-09", "2026-11"]
    );
    assert_eq!(
        words("2026-03-02", "2026-03-20"),
        ["2026-03-02", "2026-03-20"]
    );
    assert_eq!(
        words("2020-06-01", "2026-06-01"),
        ["2022-01", "2024-01", "2026-01"]
    );
}
