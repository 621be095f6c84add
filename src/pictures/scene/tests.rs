//! Scenes of a small cell, by hand, and hard ones that must stay sound.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Shape;
use crate::cell::parse;
use crate::diagnose::Problems;
use crate::drawing::tests::readback::elements;
use crate::drawing::tests::readback::path_points;
use crate::drawing::tests::readback::rooms;
use crate::drawing::tests::readback::sound;
use crate::pictures::NARROW;
use crate::pictures::WIDE;
use crate::pictures::scene::Known;
use crate::pictures::scene::Scene;
use crate::pictures::scene::Spot;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::pictures::scene::shapes;
use crate::readings::stand::Stand;
use crate::registration::ParameterDocument;

const CELL: &str = r#"format = 1
name = "small bench"
[plate]
pitch_mm = 50.0
columns = 20
rows = 12
[marks]
pin = { hole = [4, 8] }
spigot = { frame = "platter", at_mm = [80.0, 0.0, 12.0] }
[track]
at_mm = [150.0, 100.0, 60.0]
travel_mm = [0.0, 600.0]
[[arm.joint]]
name = "turn"
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-170, 170]
[[arm.joint]]
name = "lift"
axis = [0, -1, 0]
through_mm = [0, 0, 100]
limits_deg = [-90, 90]
[arm.flange]
at_mm = [300, 0, 100]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 100]
[turntable]
at_mm = [700.0, 400.0, 95.0]
index_deg = 0.0
switch_deg = 180.0
notches = 8
"#;

fn cell(more: &str) -> Cell {
    let mut problems = Problems::default();
    let cell = parse("cell.toml", &format!("{CELL}{more}"), &mut problems);
    cell.unwrap_or_else(|| {
        panic!(
            "{:?}",
            problems.iter().map(|p| p.to_string()).collect::<Vec<_>>()
        )
    })
}

fn parameter(name: &str, value: f64, u: f64, nominal: f64) -> ParameterDocument {
    ParameterDocument {
        name: name.to_owned(),
        value: Some(value),
        u: Some(u),
        unit: "mm".to_owned(),
        nominal,
        tolerance: None,
        redundancy: None,
        standardized: None,
        suspect: false,
        weak: false,
    }
}

fn subject<'a>(cell: &'a Cell, spots: &'a [Spot], known: &'a Known) -> Subject<'a> {
    Subject {
        cell,
        found: &cell.nominal,
        drawn: None,
        spots,
        known,
    }
}

#[test]
fn places_lie_to_scale_and_come_back() {
    let cell = cell("");
    let known = Known::default();
    for (view, up) in [(View::Plan, Vector3::y()), (View::Elevation, Vector3::z())] {
        let scene = Scene::new(subject(&cell, &[], &known), view, WIDE);
        let at = |p: Vector3<f64>| scene.to_px(&p);
        let origin = at(Vector3::zeros());
        // 200 mm to the right and 100 mm up are as many px as the scale says, y on paper runs down.
        let there = at(Vector3::x() * 200.0 + up * 100.0);
        let k = scene.px_per_mm();
        assert!((there.0 - origin.0 - 200.0 * k).abs() < 1e-9);
        assert!((there.1 - origin.1 + 100.0 * k).abs() < 1e-9);
        let (u, v) = scene.to_mm(there);
        assert!((u - 200.0).abs() < 1e-9 && (v - 100.0).abs() < 1e-9);
    }
}

#[test]
fn outlines_by_hand() {
    let cube = Shape::Box {
        centre_mm: Vector3::new(10.0, 20.0, 30.0),
        half_mm: Vector3::new(4.0, 3.0, 2.0),
        turn_rad: std::f64::consts::FRAC_PI_2,
    };
    // Turned by a quarter, its sides change places: x from 7 to 13, y from 16 to 24, z from 28 to 32.
    let ends = |outline: &[(f64, f64)]| {
        let fold = |f: fn(f64, f64) -> f64, pick: fn(&(f64, f64)) -> f64, from: f64| {
            outline.iter().map(pick).fold(from, f)
        };
        [
            fold(f64::min, |p| p.0, f64::INFINITY),
            fold(f64::max, |p| p.0, f64::NEG_INFINITY),
            fold(f64::min, |p| p.1, f64::INFINITY),
            fold(f64::max, |p| p.1, f64::NEG_INFINITY),
        ]
    };
    for (view, expected) in [
        (View::Plan, [7.0, 13.0, 16.0, 24.0]),
        (View::Elevation, [7.0, 13.0, 28.0, 32.0]),
    ] {
        let outline = shapes::outline(&cube, view, None);
        // Rounding may leave a corner of the far face beside that of the near one.
        assert!((4..=8).contains(&outline.len()), "{outline:?}");
        for (a, b) in ends(&outline).iter().zip(expected) {
            assert!((a - b).abs() < 1e-9, "{outline:?}");
        }
    }
    let can = Shape::Cylinder {
        at_mm: Vector3::new(5.0, 5.0, 0.0),
        axis: Vector3::z(),
        radius_mm: 2.0,
        height_mm: 9.0,
    };
    let seen = ends(&shapes::outline(&can, View::Elevation, None));
    for (a, b) in seen.iter().zip([3.0, 7.0, 0.0, 9.0]) {
        assert!((a - b).abs() < 1e-9, "{seen:?}");
    }
    // A square with a point on an edge, one inside and one twice has four corners.
    let points = vec![
        (0.0, 0.0),
        (2.0, 0.0),
        (1.0, 0.0),
        (2.0, 2.0),
        (0.0, 2.0),
        (1.0, 1.0),
        (0.0, 0.0),
    ];
    assert_eq!(
        shapes::hull(points),
        [(0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)]
    );
}

#[test]
fn dimensions_end_where_the_values_are() {
    let cell = cell("");
    let known = Known::new(&[
        parameter("track.x", 150.0, 0.093, 140.0),
        parameter("turntable.y", 400.0, 0.21, 390.5),
    ]);
    let scene = Scene::new(subject(&cell, &[], &known), View::Plan, WIDE);
    let svg = scene.svg("t", "d", Some(&Stand::default())).unwrap();
    let all = sound(&svg);
    let texts: Vec<String> = rooms(&all).into_iter().map(|(_, t)| t).collect();
    // Two digits of u decide (JCGM 100, 7.2.6); the drawing's value in brackets.
    assert!(
        texts.contains(&"150.000 ± 0.093 (140)".to_owned()),
        "{texts:?}"
    );
    assert!(
        texts.contains(&"400.00 ± 0.21 (390.5)".to_owned()),
        "{texts:?}"
    );
    let group = all
        .iter()
        .position(|e| e.get("class") == Some("dimensions"))
        .unwrap();
    let lines: Vec<[f64; 4]> = all[group..]
        .iter()
        .filter(|e| e.name == "line")
        .map(|e| ["x1", "y1", "x2", "y2"].map(|n| e.number(n)))
        .collect();
    let (origin, track) = (
        scene.to_px(&Vector3::zeros()),
        scene.to_px(&Vector3::new(150.0, 100.0, 60.0)),
    );
    let ends = |l: &[f64; 4]| {
        (l[0] - origin.0).abs() < 0.01 && (l[2] - track.0).abs() < 0.01 && l[1] == l[3]
    };
    assert!(lines.iter().any(ends), "{lines:?}");
}

#[test]
fn the_arm_stands_where_its_readings_say() {
    let cell = cell("");
    let known = Known::default();
    let scene = Scene::new(subject(&cell, &[], &known), View::Plan, WIDE);
    // Track at 100, joint at 90 deg: the base at x 250, y 100, the tip 400 mm along y from it.
    let mut stand = Stand {
        track: 100.0,
        ..Stand::default()
    };
    stand.joints[0] = 90.0;
    let part = scene.moving(&cell.nominal, &stand).unwrap();
    let all = elements(&format!("<svg>{part}</svg>")).unwrap();
    let (x, y) = scene.to_px(&Vector3::new(250.0, 500.0, 160.0));
    let paths: Vec<Vec<(f64, f64)>> = all
        .iter()
        .filter_map(|e| e.get("d"))
        .map(path_points)
        .collect();
    // Tenths of a px are written.
    let there = |p: &(f64, f64)| (p.0 - x).hypot(p.1 - y) < 0.2;
    assert!(
        paths.iter().any(|p| p.iter().any(there)),
        "{x} {y}: {paths:?}"
    );
}

#[test]
fn hard_cells_stay_sound_at_every_width() {
    let far = "[[keep_out]]\nname = \"wall\"\nhalf_space = { at_mm = [0, 620, 0], free = [0, -1, 0] }\n\
               [[keep_out]]\nname = \"far\"\nbox = { from_mm = [90000, 0, 0], to_mm = [90100, 50, 60] }\n\
               [[keep_out]]\nname = \"clamp\"\nframe = \"platter\"\nbox = { from_mm = [95, -12, 0], to_mm = [130, 12, 45] }\n";
    let known = Known::new(&[
        parameter("track.x", 150.0, 0.09, 140.0),
        parameter("track.y", 100.0, 0.09, 90.0),
        parameter("track.z", 60.0, 0.2, 62.0),
        parameter("turntable.x", 700.0, 0.09, 700.0),
        parameter("turntable.y", 400.0, 0.21, 390.5),
        parameter("turntable.z", 95.0, 0.21, 95.0),
    ]);
    let spots: Vec<Spot> = (0..60)
        .map(|k| Spot {
            name: format!("spot <{k}> & \"more\""),
            frame: if k % 2 == 0 {
                crate::cell::Belongs::Plate
            } else {
                crate::cell::Belongs::Platter
            },
            at_mm: Vector3::new(7.0 * f64::from(k), 3.0 * f64::from(k % 9), 5.0),
        })
        .collect();
    for more in ["", far] {
        let cell = cell(more);
        let mut found = cell.nominal.clone();
        if let Some(track) = &mut found.track {
            track.mounting.yaw_rad = 0.3;
        }
        let subject = Subject {
            found: &found,
            drawn: Some(&cell.nominal),
            ..subject(&cell, &spots, &known)
        };
        for view in [View::Plan, View::Elevation] {
            for width in [WIDE, NARROW, 300.0] {
                for readings in [0.0, 45.0, 1e5] {
                    let mut stand = Stand {
                        track: readings,
                        table: readings,
                        ..Stand::default()
                    };
                    stand.joints[0] = readings;
                    let scene = Scene::new(subject, view, width);
                    sound(&scene.svg("A cell", "of invention", Some(&stand)).unwrap());
                    sound(
                        &Scene::faint(subject, view, width)
                            .svg("A", "b", None)
                            .unwrap(),
                    );
                }
                // One thing that is far off does not make all else small.
                assert!(Scene::new(subject, view, width).px_per_mm() * 1000.0 > 0.4 * width);
            }
        }
    }
}

#[test]
fn readings_beyond_all_paper_are_refused() {
    let cell = cell("");
    let known = Known::default();
    let scene = Scene::new(subject(&cell, &[], &known), View::Plan, WIDE);
    let stand = Stand {
        track: 1e12,
        ..Stand::default()
    };
    assert!(scene.moving(&cell.nominal, &stand).is_err());
    assert!(scene.svg("t", "d", Some(&stand)).is_err());
}

#[test]
fn the_tip_gets_as_far_as_the_arm_is_long() {
    // The lift turns about an axis 100 mm above the base; flange and tip lie level with it, 300 and 100 mm
    // ahead: stretched out the tip is 400 mm from the first axis, and nowhere farther.
    let cell = cell("");
    let far = super::extent::reach_mm(&cell, &cell.nominal);
    assert!((far - 400.0).abs() < 0.4, "{far}");
}

#[test]
fn a_name_without_room_is_listed_below() {
    let (cell, known) = (cell(""), Known::new(&[]));
    // Sixty points within 60 mm: names of some 40 px have no room for all of them.
    let spots: Vec<Spot> = (0..60)
        .map(|k| Spot {
            name: format!("spot_{k:02}"),
            frame: crate::cell::Belongs::Plate,
            at_mm: Vector3::new(400.0 + f64::from(k), 200.0, 5.0),
        })
        .collect();
    for width in [WIDE, NARROW, 300.0] {
        let scene = Scene::new(subject(&cell, &spots, &known), View::Plan, width);
        let all = sound(&scene.svg("A cell", "of invention", None).unwrap());
        let texts: Vec<&str> = all
            .iter()
            .filter(|e| e.name == "text")
            .map(|e| e.text.as_str())
            .collect();
        let first = texts
            .iter()
            .position(|t| t.starts_with("Not written for want of room: "))
            .unwrap();
        // Each is written once, beside its mark or in the list.
        let (beside, listed) = texts.split_at(first);
        let listed = listed.join(" ");
        for spot in &spots {
            let beside = beside.contains(&spot.name.as_str());
            assert_ne!(beside, listed.contains(&spot.name), "{} {width}", spot.name);
        }
        assert!(all[0].number("height") > scene.size_px().1);
    }
}
