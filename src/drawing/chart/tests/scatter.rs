//! Marks over a line.

use crate::drawing::Fault;
use crate::drawing::chart::cloud::Cloud;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::scatter;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Level;
use crate::drawing::chart::scatter::Scatter;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::class;
use crate::drawing::chart::tests::cloud;
use crate::drawing::chart::tests::figures;
use crate::drawing::chart::tests::fine;
use crate::drawing::chart::tests::noise;
use crate::drawing::ink;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::OCHRE;

fn plain_scatter(points: Vec<(f64, f64)>) -> Scatter {
    Scatter {
        title: "t".to_owned(),
        description: "d".to_owned(),
        x_label: "track, reading".to_owned(),
        y_label: "residual, mm".to_owned(),
        cloud: cloud(vec![class(Shape::Up, BLUE, points)], Vec::new()),
        levels: Vec::new(),
        gap: None,
        usual: None,
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
        cloud: Cloud {
            aside: vec![Tag {
                at: (450.0, size),
                label: format!("{LONG} line 12: set aside"),
            }],
            ..cloud(
                vec![
                    class(Shape::Up, BLUE, points),
                    class(Shape::Down, OCHRE, down),
                    class(Shape::Square, ink::INK, vec![(0.0, 0.0)]),
                    class(Shape::Cross, ink::GREY, vec![(1.0, 0.1 * size)]),
                ],
                suspects,
            )
        },
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
        notes: vec![LONG.to_owned(), "word ".repeat(80)],
        ..plain_scatter(Vec::new())
    }
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
    chart.cloud.suspects = vec![Tag {
        at: (450.0, 50.0),
        label: "holes.csv line 9: 50.0 mm off".to_owned(),
    }];
    for all in fine(|w| scatter::scatter(&chart, w)) {
        assert!(figures(&all, "end").iter().all(|t| t.0.abs() <= 1.0));
        assert!(all.iter().any(|e| e.text.starts_with("holes.csv line 9")));
    }
}
