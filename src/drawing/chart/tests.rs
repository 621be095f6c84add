//! Charts at both widths, with what is hard; and places on paper worked out by hand.

use crate::drawing::Fault;
use crate::drawing::chart::bars;
use crate::drawing::chart::bars::Bars;
use crate::drawing::chart::dial;
use crate::drawing::chart::dial::Curve;
use crate::drawing::chart::dial::Dial;
use crate::drawing::chart::lanes;
use crate::drawing::chart::lanes::Lanes;
use crate::drawing::chart::marks::Class;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::multiples;
use crate::drawing::chart::multiples::Multiples;
use crate::drawing::chart::multiples::Panel;
use crate::drawing::chart::multiples::Then;
use crate::drawing::chart::scatter;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Level;
use crate::drawing::chart::scatter::Scatter;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::chart::shifts;
use crate::drawing::chart::shifts::Shifts;
use crate::drawing::chart::shifts::Surely;
use crate::drawing::chart::strips;
use crate::drawing::chart::strips::Strips;
use crate::drawing::ink;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::OCHRE;
use crate::drawing::tests::readback::Element;
use crate::drawing::tests::readback::path_points;
use crate::drawing::tests::readback::sound;

const WIDTHS: [f64; 2] = [720.0, 360.0];
/// 60 characters, without a place to break and with what must be escaped.
const LONG: &str = "foot_<left>_&_\"right\"_of_the_carriage_that_somebody_named_so";

/// Sound at both widths, with letters that can be read, nothing cut, and not too long.
fn fine(draw: impl Fn(f64) -> Result<String, Fault>) -> Vec<Vec<Element>> {
    let one = |width: f64| {
        let svg = draw(width).unwrap();
        assert!(svg.len() < 150_000, "{} bytes at {width}", svg.len());
        let all = sound(&svg);
        assert_eq!(all[0].number("width"), width);
        for text in all.iter().filter(|e| e.name == "text") {
            assert!(text.number("font-size") >= 10.5, "{text:?}");
            assert!(!text.text.contains('…'), "cut: {text:?}");
        }
        all
    };
    WIDTHS.iter().map(|w| one(*w)).collect()
}

fn class(shape: Shape, ink: crate::drawing::svg::Colour, points: Vec<(f64, f64)>) -> Class {
    Class {
        words: format!("{shape:?} of {LONG}"),
        shape,
        ink,
        points,
    }
}

fn plain_scatter(points: Vec<(f64, f64)>) -> Scatter {
    Scatter {
        title: "t".to_owned(),
        description: "d".to_owned(),
        x_label: "track, reading".to_owned(),
        y_label: "residual, mm".to_owned(),
        classes: vec![class(Shape::Up, BLUE, points)],
        levels: Vec::new(),
        gap: None,
        usual: None,
        suspects: Vec::new(),
        suspect_words: "stands out".to_owned(),
        notes: Vec::new(),
    }
}

/// All that a scatter chart can have.
fn full_scatter(points: Vec<(f64, f64)>, size: f64) -> Scatter {
    let level = |value: f64, ink, dashed| Level {
        value,
        ink,
        dashed,
        words: format!("level of {LONG}"),
    };
    let down: Vec<(f64, f64)> = points.iter().map(|p| (p.0, -p.1)).collect();
    let suspects = points
        .iter()
        .step_by(1 + points.len() / 9)
        .map(|p| Tag {
            at: *p,
            label: format!("{LONG} line 9: 2.4 mm off"),
        })
        .collect();
    Scatter {
        classes: vec![
            class(Shape::Up, BLUE, points),
            class(Shape::Down, OCHRE, down),
            class(Shape::Square, ink::INK, vec![(0.0, 0.0)]),
            class(Shape::Cross, ink::GREY, vec![(1.0, 0.1 * size)]),
        ],
        levels: vec![
            level(0.4 * size, BLUE, false),
            level(-0.4 * size, OCHRE, true),
        ],
        gap: Some(Gap {
            from: 0.4 * size,
            to: -0.4 * size,
            words: "lost motion 0.85 ± 0.07 mm".to_owned(),
        }),
        usual: Some(Usual {
            half: 0.2 * size,
            words: "±0.49 mm: 95 % of readings lie so near".to_owned(),
        }),
        suspects,
        notes: vec![LONG.to_owned(), "word ".repeat(80)],
        ..plain_scatter(Vec::new())
    }
}

/// Places that look like noise, the same every time.
fn noise(count: usize, size: f64) -> Vec<(f64, f64)> {
    (0..count)
        .map(|k| {
            let k = k as f64;
            (
                900.0 * (0.618_034 * k).fract(),
                size * ((k * 12.9898).sin() * 43_758.545).fract(),
            )
        })
        .collect()
}

#[test]
fn scatter_charts_are_sound() {
    for points in [
        vec![(420.0, 0.3)],
        vec![(420.0, 0.3); 8],
        vec![(1e9, -1e9), (-1e9, 1e9)],
        noise(30, 1.0),
        noise(2000, 1.0),
    ] {
        fine(|w| scatter::scatter(&plain_scatter(points.clone()), w));
        let size = points.iter().fold(0.0, |a: f64, p| a.max(p.1.abs()));
        fine(|w| scatter::scatter(&full_scatter(points.clone(), 0.5 * size), w));
    }
    fine(|w| scatter::scatter(&plain_scatter(Vec::new()), w));
    let bad = plain_scatter(vec![(0.0, f64::NAN)]);
    assert_eq!(
        scatter::scatter(&bad, 720.0),
        Err(Fault::Number { place: "residuals" })
    );
}

/// Where the figures of an axis stand: what is written there and the place of its middle.
fn figures(all: &[Element], anchor: &str) -> Vec<(f64, f64, f64)> {
    all.iter()
        .filter(|e| e.name == "text" && e.get("text-anchor") == Some(anchor))
        .filter_map(|e| {
            let value = e.text.replace('−', "-").parse().ok()?;
            Some((value, e.number("x"), e.number("y")))
        })
        .collect()
}

#[test]
fn the_gap_is_as_long_as_the_lost_motion() {
    // Levels 0.8 apart. The figures on the left give px per mm, without the chart's own scale.
    let mut chart = plain_scatter(vec![(0.0, 0.3), (900.0, -0.5)]);
    chart.gap = Some(Gap {
        from: 0.4,
        to: -0.4,
        words: "lost motion 0.80 mm".to_owned(),
    });
    for all in fine(|w| scatter::scatter(&chart, w)) {
        let ticks = figures(&all, "end");
        let (a, b) = (ticks[0], ticks[ticks.len() - 1]);
        let px_per_mm = (a.2 - b.2).abs() / (a.0 - b.0).abs();
        // The dimension is the only thin upright line to the right of the plot.
        let right = all
            .iter()
            .filter(|e| e.name == "line" && e.number("x1") == e.number("x2"))
            .max_by(|a, b| a.number("x1").total_cmp(&b.number("x1")))
            .unwrap();
        let long = (right.number("y1") - right.number("y2")).abs();
        assert!((long - 0.8 * px_per_mm).abs() < 0.05, "{long} {px_per_mm}");
    }
}

#[test]
fn what_stands_out_does_not_squeeze_the_rest() {
    let mut chart = plain_scatter(vec![(0.0, 0.3), (450.0, 50.0), (900.0, -0.5)]);
    chart.suspects = vec![Tag {
        at: (450.0, 50.0),
        label: "holes.csv line 9: 50.0 mm off".to_owned(),
    }];
    for all in fine(|w| scatter::scatter(&chart, w)) {
        assert!(figures(&all, "end").iter().all(|t| t.0.abs() <= 1.0));
        assert!(all.iter().any(|e| e.text.starts_with("holes.csv line 9")));
    }
}

fn plain_dial(points: Vec<(f64, f64)>) -> Dial {
    Dial {
        title: "t".to_owned(),
        description: "d".to_owned(),
        label: "residual, deg, outward from the circle of zero".to_owned(),
        classes: vec![class(Shape::Diamond, BLUE, points)],
        curves: Vec::new(),
        gap: None,
        usual: None,
        suspects: Vec::new(),
        suspect_words: "stands out".to_owned(),
        notes: Vec::new(),
    }
}

fn full_dial(points: Vec<(f64, f64)>, size: f64) -> Dial {
    let curve = |constant: f64, ink, dashed| Curve {
        constant,
        cos: 0.3 * size,
        sin: -0.2 * size,
        ink,
        dashed,
        words: format!("curve of {LONG}"),
    };
    let suspects = points
        .iter()
        .step_by(1 + points.len() / 9)
        .map(|p| Tag {
            at: *p,
            label: format!("{LONG} line 9: 2.4 deg off"),
        })
        .collect();
    Dial {
        curves: vec![
            curve(0.5 * size, BLUE, false),
            curve(-0.5 * size, OCHRE, true),
        ],
        gap: Some(Gap {
            from: 0.5 * size,
            to: -0.5 * size,
            words: "lost motion 0.85 ± 0.07 deg".to_owned(),
        }),
        usual: Some(Usual {
            half: 0.2 * size,
            words: "±0.49 deg: 95 % of readings lie so near".to_owned(),
        }),
        suspects,
        notes: vec![LONG.to_owned()],
        ..plain_dial(points)
    }
}

#[test]
fn dials_are_sound() {
    let round = |points: Vec<(f64, f64)>| -> Vec<(f64, f64)> {
        points.iter().map(|p| (0.4 * p.0, p.1)).collect()
    };
    for points in [
        vec![(30.0, 0.05)],
        vec![(30.0, 0.05); 8],
        vec![(-300.0, 1e6), (10.0, -1e6)],
        round(noise(24, 0.1)),
        round(noise(2000, 0.1)),
    ] {
        fine(|w| dial::dial(&plain_dial(points.clone()), w));
        let size = points.iter().fold(0.0, |a: f64, p| a.max(p.1.abs()));
        fine(|w| dial::dial(&full_dial(points.clone(), 0.5 * size), w));
    }
    fine(|w| dial::dial(&plain_dial(Vec::new()), w));
    assert!(dial::dial(&plain_dial(vec![(f64::INFINITY, 0.0)]), 720.0).is_err());
}

#[test]
fn a_dial_turns_like_a_protractor() {
    // At 0 to the right of the centre, at 90° above it, at 180° to the left; the value 0 on the circle of
    // zero, 1 and −1 as far outside and inside of it.
    let points = vec![(0.0, 0.0), (90.0, 1.0), (180.0, -1.0)];
    for all in fine(|w| dial::dial(&plain_dial(points.clone()), w)) {
        let paths: Vec<&Element> = all.iter().filter(|e| e.name == "path").collect();
        // The first circle that is drawn is that of zero: it begins at its left end and goes to the right one.
        let circle = path_points(paths[0].get("d").unwrap());
        let (left, right) = (circle[0], circle[1]);
        let (x, y, zero) = ((left.0 + right.0) / 2.0, left.1, (right.0 - left.0) / 2.0);
        let fill = Some("#005a94");
        let marks = paths.iter().find(|p| p.get("fill") == fill).unwrap();
        let corners: Vec<Vec<(f64, f64)>> = marks
            .get("d")
            .unwrap()
            .split('M')
            .filter(|d| !d.is_empty())
            .map(|d| path_points(&format!("M{d}")))
            .collect();
        // The middle of a diamond lies between its upper and its lower corner.
        let middle = |k: usize| {
            let c = &corners[k];
            ((c[1].0 + c[3].0) / 2.0, (c[0].1 + c[2].1) / 2.0)
        };
        let [right, above, left] = [middle(0), middle(1), middle(2)];
        assert!((right.0 - x - zero).abs() < 0.2 && (right.1 - y).abs() < 0.2);
        assert!((above.0 - x).abs() < 0.2 && above.1 < y - zero);
        assert!((left.1 - y).abs() < 0.2 && left.0 > x - zero && left.0 < x);
        let (out, inside) = ((y - above.1) - zero, zero - (x - left.0));
        assert!(out > 5.0 && (out - inside).abs() < 0.2, "{out} {inside}");
        // 90° stands above, 0° to the right.
        let at = |words: &str| {
            let e = all.iter().find(|e| e.text == words).unwrap();
            (e.number("x"), e.number("y"))
        };
        assert!(at("90°").1 < y - zero && (at("90°").0 - x).abs() < 1.0);
        assert!(at("0°").0 > x + zero && at("270°").1 > y + zero);
    }
}

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

fn bar(share: f64, amount: Option<f64>, words: &str) -> bars::Row {
    bars::Row {
        name: "line 12, x".to_owned(),
        share,
        share_words: format!("{share:.2}"),
        amount,
        amount_words: words.to_owned(),
    }
}

fn bars_of(rows: Vec<bars::Row>) -> Bars {
    Bars {
        title: "t".to_owned(),
        description: "d".to_owned(),
        share_label: "redundancy, 0 to 1".to_owned(),
        amount_label: "smallest noticeable error".to_owned(),
        groups: vec![bars::Group {
            heading: format!("readings/{LONG}.csv"),
            unit: "mm".to_owned(),
            rows,
        }],
        notes: vec![LONG.to_owned()],
    }
}

#[test]
fn bars_are_sound_and_as_long_as_they_should_be() {
    for rows in [
        vec![bar(0.5, Some(1.2), "1.20 mm")],
        vec![bar(0.0, None, "nothing checks it")],
        vec![bar(1.0, Some(0.0), "0.00 mm"); 40],
        vec![
            bar(0.7, Some(1e9), "1000000000 mm"),
            bar(0.7, Some(1.0), "1.00 mm"),
        ],
        Vec::new(),
    ] {
        fine(|w| bars::bars(&bars_of(rows.clone()), w));
    }
    let rows = vec![
        bar(1.0, Some(2.0), "2.0 mm"),
        bar(0.5, Some(1.0), "1.0 mm"),
        bar(0.25, Some(0.5), "0.5 mm"),
    ];
    for all in fine(|w| bars::bars(&bars_of(rows.clone()), w)) {
        // After the ground, the hatch's own and two of the key: two for each row.
        let wide: Vec<f64> = all
            .iter()
            .filter(|e| e.name == "rect")
            .map(|e| e.number("width"))
            .skip(4)
            .collect();
        assert_eq!(wide.len(), 6);
        for column in [0, 1] {
            let (one, half, quarter) = (wide[column], wide[column + 2], wide[column + 4]);
            assert!(one > 40.0);
            assert!((half - one / 2.0).abs() < 0.02 && (quarter - one / 4.0).abs() < 0.02);
        }
    }
}

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

fn panel(values: Vec<Then>) -> Panel {
    Panel {
        name: format!("marks.{LONG}.x, mm"),
        words: "drifts: +0.060 ± 0.011 deg a month (95 %)".to_owned(),
        line: values
            .first()
            .zip(values.last())
            .map(|(a, b)| [(a.day, a.value), (b.day, b.value)]),
        values,
    }
}

#[test]
fn small_multiples_are_sound() {
    let then = |day: f64, value: f64, counts: bool| Then {
        day,
        value,
        half: 0.1 * value.abs(),
        counts,
    };
    let many: Vec<Then> = (0..150)
        .map(|k| then(20_000.0 + f64::from(k), f64::from(k), k % 7 > 0))
        .collect();
    for panels in [
        vec![panel(vec![then(20_000.0, 1.0, true)])],
        vec![panel(vec![then(20_000.0, 1.0, true), then(20_000.0, 1.0, false)]); 3],
        vec![panel(vec![then(20_000.0, 9e8, true), then(20_900.0, -9e8, true)]); 2],
        vec![panel(many); 6],
        vec![panel(Vec::new())],
        Vec::new(),
    ] {
        let chart = Multiples {
            title: "t".to_owned(),
            description: "d".to_owned(),
            days: (0..6)
                .map(|k| (20_000.0 + 30.0 * f64::from(k), format!("2026-0{}", k + 1)))
                .collect(),
            events: vec![20_050.0],
            event_words: "something was moved".to_owned(),
            words: ["value", "does not count", "±1.96 u (95 %)", "line"].map(str::to_owned),
            panels,
            notes: vec![LONG.to_owned()],
        };
        fine(|w| multiples::multiples(&chart, w));
    }
}
