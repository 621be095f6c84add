//! Lanes of marks.

use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::strips;
use crate::drawing::chart::strips::Strips;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::fine;
use crate::drawing::chart::tests::noise;
use crate::drawing::ink::OCHRE;

fn strip(name: &str, values: Vec<(f64, bool)>) -> strips::Lane {
    strips::Lane {
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
