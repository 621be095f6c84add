//! Arrows from what was to what is.

use crate::drawing::chart::shifts;
use crate::drawing::chart::shifts::Shifts;
use crate::drawing::chart::shifts::Surely;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::figures;
use crate::drawing::chart::tests::fine;

fn shift(off: Option<f64>, surely: Surely) -> shifts::Row {
    shifts::Row {
        name: format!("marks.{LONG}.x"),
        off,
        surely,
        words: "12.345 → 12.567 mm: +0.222 ± 0.041 mm, real, 5.4 u".to_owned(),
    }
}

#[test]
fn shifts_are_sound() {
    for rows in [
        vec![shift(Some(5.0), Surely::Real)],
        vec![shift(None, Surely::Given)],
        vec![shift(Some(0.0), Surely::Same); 40],
        vec![
            shift(Some(1e9), Surely::Real),
            shift(Some(-1e9), Surely::Perhaps),
        ],
        Vec::new(),
    ] {
        let chart = Shifts {
            title: "t".to_owned(),
            description: "d".to_owned(),
            label: "after less before, in standard uncertainties".to_owned(),
            limits: vec![1.96, 3.29],
            limit_words: "±1.96 u and ±3.29 u".to_owned(),
            words: ["real", "perhaps", "same", "drawing"].map(str::to_owned),
            groups: vec![shifts::Group {
                heading: "in mm".to_owned(),
                rows,
            }],
            notes: vec![LONG.to_owned()],
        };
        fine(|w| shifts::shifts(&chart, w));
    }
}

#[test]
fn an_arrow_ends_at_its_difference() {
    let chart = Shifts {
        title: "t".to_owned(),
        description: "d".to_owned(),
        label: "after less before".to_owned(),
        limits: Vec::new(),
        limit_words: "limits".to_owned(),
        words: ["real", "perhaps", "same", "drawing"].map(str::to_owned),
        groups: vec![shifts::Group {
            heading: "in mm".to_owned(),
            rows: vec![shift(Some(-4.0), Surely::Real)],
        }],
        notes: Vec::new(),
    };
    for all in fine(|w| shifts::shifts(&chart, w)) {
        let ticks = figures(&all, "middle");
        let at = |v: f64| ticks.iter().find(|t| t.0 == v).unwrap().1;
        let arrow = all
            .iter()
            .find(|e| e.name == "line" && e.get("stroke-width") == Some("1.6"))
            .unwrap();
        assert!((arrow.number("x1") - at(0.0)).abs() < 0.02);
        // −4 lies twice as far out as −2.
        let far = at(0.0) - 2.0 * (at(0.0) - at(-2.0));
        assert!((arrow.number("x2") - far).abs() < 0.05);
    }
}
