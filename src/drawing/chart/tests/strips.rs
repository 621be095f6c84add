//! Lanes of marks.

use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::strips;
use crate::drawing::chart::strips::Strips;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::fine;
use crate::drawing::chart::tests::noise;
use crate::drawing::ink::OCHRE;
use crate::drawing::tests::readback::path_points;

fn strip(name: &str, values: Vec<(f64, bool)>) -> strips::Lane {
    strips::Lane {
        marks: "angle (deg)".to_owned(),
        name: name.to_owned(),
        shape: Shape::Diamond,
        ink: OCHRE,
        values,
        words: format!("farthest: {LONG} line 9, −0.12 deg (2.1)"),
    }
}

fn strips_of(lanes: Vec<strips::Lane>) -> Strips {
    Strips {
        title: "t".to_owned(),
        description: "d".to_owned(),
        label: "residual in units of what is usual for it".to_owned(),
        limit: 3.29,
        limit_words: "beyond ±3.29 it stands out".to_owned(),
        suspect_words: "stands out".to_owned(),
        lanes,
        notes: vec![LONG.to_owned()],
    }
}

#[test]
fn strips_are_sound() {
    let many = noise(2000, 3.0).iter().map(|p| (p.1, false)).collect();
    for lanes in [
        vec![strip(LONG, vec![(0.3, false)])],
        vec![strip("j1: level", vec![(0.3, false); 9])],
        vec![strip("j1: level", vec![(1e9, true), (-1e9, true)])],
        vec![strip("j1: level", many), strip("j2: height", Vec::new())],
        Vec::new(),
    ] {
        fine(|w| strips::strips(&strips_of(lanes.clone()), w));
    }
    assert!(strips::strips(&strips_of(vec![strip("a", vec![(f64::NAN, false)])]), 720.0).is_err());
}

#[test]
fn marks_that_coincide_are_set_over_each_other() {
    // Four alike, one a hair beside, one far off: 9.4 px from row to row (marks are 8.4 px high), on the line,
    // above, below, twice above and twice below; the one far off on the line.
    let values = [1.0, 1.0, 1.0, 1.0, 1.01, -2.0]
        .map(|v| (v, false))
        .to_vec();
    for all in fine(|w| strips::strips(&strips_of(vec![strip("j2: level", values.clone())]), w)) {
        let paths = all.iter().filter(|e| e.name == "path");
        let ink = Some("#a34e00");
        let drawn = paths
            .filter(|p| p.get("fill") == ink)
            .max_by_key(|p| p.get("d").unwrap().len());
        let d = drawn.unwrap().get("d").unwrap();
        // The upper corner of each diamond is written first.
        let tops: Vec<(f64, f64)> = d
            .split('M')
            .filter(|d| !d.is_empty())
            .map(|d| path_points(&format!("M{d}"))[0])
            .collect();
        assert_eq!(tops.len(), 6);
        for (k, a) in tops.iter().enumerate() {
            let near = |b: &(f64, f64)| (a.0 - b.0).abs() < 8.4 && (a.1 - b.1).abs() < 8.4;
            assert!(!tops[k + 1..].iter().any(near), "{tops:?}");
        }
        let line = tops[0].1;
        let off: Vec<f64> = tops.iter().map(|t| ((t.1 - line) / 9.4).round()).collect();
        assert_eq!(off, [0.0, -1.0, 1.0, -2.0, 2.0, 0.0]);
        assert!(tops[..4].iter().all(|t| t.0 == tops[0].0));
        assert!(all.iter().any(|e| e.text == "angle (deg)"));
    }
}

#[test]
fn marks_without_room_over_each_other_are_counted() {
    // Nine rows, eleven marks at one place: two lie on others.
    let values = vec![(0.5, false); 11];
    for all in fine(|w| strips::strips(&strips_of(vec![strip("j2: level", values.clone())]), w)) {
        let words: Vec<&str> = all.iter().map(|e| e.text.as_str()).collect();
        assert!(
            words.join(" ").contains("side by side: 2 of them."),
            "{words:?}"
        );
    }
}
