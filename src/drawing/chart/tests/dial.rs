//! Marks round a circle.

use crate::drawing::chart::dial;
use crate::drawing::chart::dial::Curve;
use crate::drawing::chart::dial::Dial;
use crate::drawing::chart::marks::Shape;
use crate::drawing::chart::marks::Tag;
use crate::drawing::chart::scatter::Gap;
use crate::drawing::chart::scatter::Usual;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::class;
use crate::drawing::chart::tests::cloud;
use crate::drawing::chart::tests::fine;
use crate::drawing::chart::tests::noise;
use crate::drawing::ink::BLUE;
use crate::drawing::ink::OCHRE;
use crate::drawing::tests::readback::Element;
use crate::drawing::tests::readback::path_points;

fn plain_dial(points: Vec<(f64, f64)>) -> Dial {
    Dial {
        title: "t".to_owned(),
        description: "d".to_owned(),
        label: "residual, deg, outward from the circle of zero".to_owned(),
        cloud: cloud(vec![class(Shape::Diamond, BLUE, points)], Vec::new()),
        curves: Vec::new(),
        gap: None,
        usual: None,
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
        cloud: cloud(vec![class(Shape::Diamond, BLUE, points)], suspects),
        notes: vec![LONG.to_owned()],
        ..plain_dial(Vec::new())
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
