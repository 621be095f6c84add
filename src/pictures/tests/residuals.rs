//! Residuals along the track, round the table and at joints: where they are drawn, and what is said.

use std::fmt::Write;

use crate::bench::Bench;
use crate::cell::Geometry;
use crate::parameters::Unknowns;
use crate::pictures::notch_dial;
use crate::pictures::residuals::residuals;
use crate::pictures::tests::bench_of;
use crate::pictures::tests::every;
use crate::pictures::tests::glazing;
use crate::pictures::tests::registered;
use crate::pictures::track_line;
use crate::readings::ResidualUnit;
use crate::registration::Document;

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
    let (chart, sentence) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
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
            let points = chart.cloud.classes[classes].iter().flat_map(|c| &c.points);
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
    let drawn: usize = chart.cloud.classes.iter().map(|c| c.points.len()).sum();
    assert_eq!((drawn, counted), (20, 20));
    // Ten counts along the travel, ten across it (rows).
    let of: Vec<usize> = chart.cloud.classes.iter().map(|c| c.points.len()).collect();
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
    let (chart, sentence) = notch_dial::chart(&shifted, &bench, &all, &geometry).unwrap();
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
        let mut near = chart.cloud.classes.iter().flat_map(|c| &c.points);
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
    let (track, said) = track_line::chart(&none, &bench, &all, &geometry).unwrap();
    assert!(
        said.starts_with(
            "Nothing checks any of these 20 readings: the registration follows them, right or wrong."
        ),
        "{said}"
    );
    let (dial, said) = notch_dial::chart(&none, &bench, &all, &geometry).unwrap();
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
    let (_, said) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
    assert!(
        said.starts_with(
            "The 17 readings that others check lie within 0.50 mm of the registration. 3 more are checked by \
             nothing: they say nothing here."
        ),
        "{said}"
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
    let cell = include_str!("../../../demo-cells/glazing-bench/cell.toml");
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
