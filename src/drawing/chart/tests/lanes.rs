//! Lanes of intervals.

use crate::drawing::chart::lanes;
use crate::drawing::chart::lanes::Lanes;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::figures;
use crate::drawing::chart::tests::fine;
use crate::drawing::tests::readback::Element;

fn lane(name: &str, intervals: Vec<[f64; 2]>) -> lanes::Lane {
    lanes::Lane {
        name: name.to_owned(),
        reached: !intervals.is_empty(),
        condition: false,
        intervals,
        taught: Some(120.0),
        best: Some(250.0),
        words: format!("track 100 to 300; {LONG}"),
    }
}

fn lanes_of(lanes: Vec<lanes::Lane>) -> Lanes {
    Lanes {
        title: "t".to_owned(),
        description: "d".to_owned(),
        label: Some("track, reading".to_owned()),
        limits: Some([0.0, 900.0]),
        lanes,
        notes: vec![LONG.to_owned()],
    }
}

#[test]
fn lanes_are_sound() {
    for list in [
        vec![lane("bead", vec![[100.0, 300.0]])],
        vec![lane(LONG, Vec::new())],
        vec![lane(LONG, vec![[5.0, 5.0]]); 60],
        vec![lane("far", vec![[-1e9, 1e9]])],
        Vec::new(),
    ] {
        let chart = lanes_of(list);
        fine(|w| lanes::lanes(&chart, w));
        fine(|w| {
            lanes::lanes(
                &Lanes {
                    label: None,
                    limits: None,
                    ..chart.clone()
                },
                w,
            )
        });
    }
    assert!(lanes::lanes(&lanes_of(vec![lane("a", vec![[0.0, f64::NAN]])]), 720.0).is_err());
}

#[test]
fn a_lane_ends_where_its_figures_stand() {
    // Ticks at 0, 200, 400, 600, 800 or closer; the bar from 200 to 600 ends under those figures.
    let mut chart = lanes_of(vec![lane("bead", vec![[200.0, 600.0]])]);
    chart.limits = Some([0.0, 800.0]);
    for all in fine(|w| lanes::lanes(&chart, w)) {
        let ticks = figures(&all, "middle");
        let at = |v: f64| ticks.iter().find(|t| t.0 == v).unwrap().1;
        // The ground, then the bar.
        let rect: Vec<&Element> = all.iter().filter(|e| e.name == "rect").collect();
        let (left, wide) = (rect[1].number("x"), rect[1].number("width"));
        assert!((left - at(200.0)).abs() < 0.02);
        assert!((left + wide - at(600.0)).abs() < 0.02);
    }
}
