//! Whole pictures: well-formed, finite, inside the sheet, no text on another.

use crate::drawing::Fault;
use crate::drawing::map::AxisOf;
use crate::drawing::map::Kind;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Mark;
use crate::drawing::map::Room;
use crate::drawing::map::map;
use crate::drawing::tests::readback::Element;
use crate::drawing::tests::readback::elements;
use crate::drawing::tests::readback::path_points;
use crate::drawing::tests::readback::rooms;
use crate::drawing::tests::readback::sound;

pub(crate) mod readback;

fn spread(count: usize, low: f64, high: f64) -> Vec<f64> {
    let last = count.max(2) as f64 - 1.0;
    (0..count)
        .map(|k| low + (high - low) * k as f64 / last)
        .collect()
}

/// Two hills, holes, and a part that is not reached.
fn hills(x: &[f64], y: &[f64]) -> Vec<Option<f64>> {
    let share = |v: f64, all: &[f64]| (v - all[0]) / (all[all.len() - 1] - all[0]).max(1e-9);
    let at = |x: f64, y: f64| {
        let hill = |cx: f64, cy: f64, w: f64| (-((x - cx).powi(2) + (y - cy).powi(2)) / w).exp();
        let value = 44.0 * hill(0.15, 0.8, 0.05) + 31.0 * hill(0.7, 0.45, 0.03) - 2.0;
        let hole = (x - 0.6).hypot(y - 0.55) < 0.05;
        (value > 0.0 && !hole).then_some(value)
    };
    y.iter()
        .flat_map(|y0| x.iter().map(move |x0| (*x0, *y0)))
        .map(|(x0, y0)| at(share(x0, x), share(y0, y)))
        .collect()
}

fn picture<'a>(x: &'a [f64], y: &'a [f64], values: &'a [Option<f64>]) -> MapPicture<'a> {
    MapPicture {
        title: "Reach of hole <C4> & \"others\"",
        caption: &[],
        x: AxisOf {
            label: "track, reading",
            nodes: x,
        },
        y: AxisOf {
            label: "table, reading",
            nodes: y,
        },
        values,
        value_label: "margin, deg",
        limits_x: None,
        limits_y: None,
        marks: &[],
        level: None,
        room: Room::Sheet,
    }
}

const MARKS: [Mark; 5] = [
    Mark {
        x: 890.0,
        y: 176.0,
        label: "best for hole C4",
        kind: Kind::Best,
    },
    Mark {
        x: 900.0,
        y: -180.0,
        label: "corner",
        kind: Kind::Station,
    },
    Mark {
        x: 130.0,
        y: 100.0,
        label: "pick",
        kind: Kind::Taught,
    },
    Mark {
        x: 135.0,
        y: 104.0,
        label: "a very long name that nobody would write on a bench, but may",
        kind: Kind::Taught,
    },
    Mark {
        x: 5000.0,
        y: 0.0,
        label: "off & away",
        kind: Kind::Station,
    },
];

#[test]
fn a_full_map_is_sound() {
    let (x, y) = (spread(37, 0.0, 900.0), spread(25, -180.0, 180.0));
    let values = hills(&x, &y);
    let caption = ["First line.".to_owned(), "word ".repeat(60)];
    let svg = map(&MapPicture {
        caption: &caption,
        limits_x: Some((900.0, 0.0)),
        limits_y: Some((-180.0, 180.0)),
        marks: &MARKS,
        ..picture(&x, &y, &values)
    })
    .unwrap();
    let all = sound(&svg);
    let said = |words: &str| all.iter().any(|e| e.name == "text" && e.text == words);
    assert!(said("Reach of hole <C4> & \"others\""));
    for words in [
        "track, reading",
        "table, reading",
        "margin, deg",
        "cannot be reached",
        "limit of travel",
        "limit 900",
        "limit −180",
        "best of the map",
        "best for hole C4",
        "corner",
        "pick",
        "Outside the picture: off & away at 5000, 0.",
        "First line.",
    ] {
        assert!(said(words), "{words}");
    }
    // Hills of nearly 42 and nearly 29 from 0: seven bands of 6, so the level 18 has its figure on a
    // line around each hill and in the key.
    assert!(all.iter().filter(|e| e.text == "18").count() >= 3);
    let reached = values.iter().flatten().count();
    assert!(
        all[2]
            .text
            .contains(&format!("{reached} of 925 stations can be reached"))
    );
    assert!(svg.len() < 60_000, "{}", svg.len());
}

#[test]
fn strips_and_single_stations_are_sound() {
    let (x, one) = (spread(60, 0.0, 900.0), [12.5]);
    let values: Vec<Option<f64>> = (0..60)
        .map(|k| (k % 17 != 0).then_some(f64::from(k) * 0.5))
        .collect();
    let marks = [
        Mark {
            x: 890.0,
            y: 12.5,
            label: "best",
            kind: Kind::Best,
        },
        Mark {
            x: 400.0,
            y: 13.0,
            label: "elsewhere",
            kind: Kind::Station,
        },
    ];
    let row = map(&MapPicture {
        limits_x: Some((0.0, 900.0)),
        limits_y: Some((-180.0, 180.0)),
        marks: &marks,
        ..picture(&x, &one, &values)
    })
    .unwrap();
    let all = sound(&row);
    let texts: Vec<&str> = all.iter().map(|e| e.text.as_str()).collect();
    assert!(texts.contains(&"12.5"), "the strip's own reading");
    assert!(texts.contains(&"Outside the picture: elsewhere at 400, 13."));
    assert!(
        texts.contains(&"Not in the picture: limit of travel at −180 and 180 (table, reading).")
    );
    // The name of the mark stands off the strip, which is 44 px high in the middle of the plot.
    let rooms = rooms(&all);
    let room = |words: &str| rooms.iter().find(|(_, t)| t == words).unwrap().0;
    let middle = room("12.5").centre().1;
    assert!((room("best").centre().1 - middle).abs() > 22.0);
    let upright = map(&MapPicture {
        marks: &[Mark {
            x: 12.5,
            y: 450.0,
            label: "best station of them all",
            kind: Kind::Best,
        }],
        ..picture(&one, &x, &values)
    })
    .unwrap();
    let all = sound(&upright);
    assert!(all.iter().any(|e| e.text == "best station of them all"));
    sound(&map(&picture(&one, &one, &[Some(3.0)])).unwrap());
    sound(&map(&picture(&one, &one, &[None])).unwrap());
}

#[test]
fn nothing_reached_and_all_alike_are_sound() {
    let (x, y) = (spread(9, 0.0, 900.0), spread(7, 90.0, -90.0));
    let all = sound(&map(&picture(&x, &y, &[None; 63])).unwrap());
    assert!(all.iter().any(|e| e.text == "cannot be reached"));
    assert!(all[2].text.contains("0 of 63 stations"));
    let all = sound(&map(&picture(&x, &y, &[Some(7.0); 63])).unwrap());
    assert!(!all.iter().any(|e| e.text == "cannot be reached"));
}

#[test]
fn falling_nodes_give_the_same_fill_as_rising_ones() {
    let (x, y) = (spread(12, 0.0, 900.0), spread(9, -90.0, 90.0));
    let values = hills(&x, &y);
    let falling: Vec<f64> = x.iter().rev().copied().collect();
    let turned: Vec<Option<f64>> = values
        .chunks(12)
        .flat_map(|row| row.iter().rev().copied())
        .collect();
    let fills = |svg: String| -> Vec<String> {
        let all = elements(&svg).unwrap();
        let paths = all.iter().filter(|e| e.name == "path");
        paths.map(|e| e.get("d").unwrap().to_owned()).collect()
    };
    assert_eq!(
        fills(map(&picture(&x, &y, &values)).unwrap()),
        fills(map(&picture(&falling, &y, &turned)).unwrap())
    );
}

#[test]
fn cells_lie_where_their_nodes_are() {
    // Two by two stations, three of them reached with 1, 2, 9 deg. Cells meet halfway; the plot's inner
    // part is as wide as from the first node to the last.
    let (x, y) = ([0.0, 10.0], [0.0, 1.0]);
    let svg = map(&picture(&x, &y, &[Some(1.0), Some(2.0), None, Some(9.0)])).unwrap();
    let all = sound(&svg);
    let field = all
        .iter()
        .position(|e| e.get("class") == Some("field"))
        .unwrap();
    let paths: Vec<&Element> = all[field + 1..]
        .iter()
        .take_while(|e| e.name == "path")
        .collect();
    // Hatch first, then three bands, dark to light.
    assert_eq!(paths.len(), 4);
    assert!(paths[0].get("fill").unwrap().starts_with("url(#"));
    let centre = |e: &Element| {
        let points = &path_points(e.get("d").unwrap())[..4];
        let sum = points
            .iter()
            .fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        (sum.0 / 4.0, sum.1 / 4.0)
    };
    let [hatch, one, two, nine] = [0, 1, 2, 3].map(|k| centre(paths[k]));
    // Readings rise to the right and upward.
    assert!(hatch.0 == one.0 && hatch.1 < one.1);
    assert!(two.0 > one.0 && two.1 == one.1);
    assert!(nine.0 == two.0 && nine.1 == hatch.1);
}

#[test]
fn large_maps_stay_small() {
    let (x, y) = (spread(200, 0.0, 900.0), spread(200, -180.0, 180.0));
    let svg = map(&picture(&x, &y, &hills(&x, &y))).unwrap();
    sound(&svg);
    assert!(svg.len() < 300_000, "{}", svg.len());
    assert!(!svg.contains("coarser"));
    // Noise cannot be merged: it is drawn on fewer nodes, and that is said.
    let mut state = 1u32;
    let noise: Vec<Option<f64>> = (0..40_000)
        .map(|_| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let part = f64::from(state >> 8) / f64::from(1 << 24);
            (part > 0.2).then_some(40.0 * part)
        })
        .collect();
    let svg = map(&picture(&x, &y, &noise)).unwrap();
    sound(&svg);
    assert!(svg.len() < 300_000, "{}", svg.len());
    assert!(svg.contains("of 200 × 200 stations"));
}

#[test]
fn many_marks_do_not_write_on_one_another() {
    let (x, y) = (spread(20, 0.0, 900.0), spread(20, -180.0, 180.0));
    let values = hills(&x, &y);
    let names: Vec<String> = (0..60).map(|k| format!("station {k}")).collect();
    let marks: Vec<Mark> = names
        .iter()
        .enumerate()
        .map(|(k, name)| Mark {
            x: 100.0 + 9.0 * k as f64,
            y: -20.0 + 11.0 * ((k * k) % 13) as f64,
            label: name,
            kind: [Kind::Best, Kind::Taught, Kind::Station][k % 3],
        })
        .collect();
    let svg = map(&MapPicture {
        marks: &marks,
        ..picture(&x, &y, &values)
    })
    .unwrap();
    sound(&svg);
    // Each is named in the plot or below it, or counted there.
    let named = names
        .iter()
        .filter(|n| svg.contains(&format!(">{n}<")))
        .count();
    assert!(named > 20, "{named}");
    assert!(named == 60 || svg.contains("for want of room"));
}

#[test]
fn wide_figures_find_room() {
    for (low, high) in [
        (123_456.0, 123_456.9),
        (-1e9, 1e9),
        (-1e-6, 1e-6),
        (9.999e8, 1e9),
        (12.345, 12.346),
    ] {
        let nodes = spread(11, low, high);
        let values: Vec<Option<f64>> = (0..121).map(|k| Some(low + f64::from(k))).collect();
        let svg = map(&MapPicture {
            limits_x: Some((low, high)),
            limits_y: Some((low, low + 0.001 * (high - low))),
            ..picture(
                &nodes,
                &nodes,
                &values
                    .iter()
                    .map(|v| v.map(|v| v.min(1e9)))
                    .collect::<Vec<_>>(),
            )
        })
        .unwrap();
        sound(&svg);
    }
}

#[test]
fn what_cannot_be_drawn_is_refused() {
    let (x, y) = ([0.0, 1.0], [0.0, 1.0]);
    let four = [Some(1.0); 4];
    let plain = picture(&x, &y, &four);
    let place = |p: &MapPicture| match map(p) {
        Err(Fault::Number { place }) => place,
        other => panic!("{other:?}"),
    };
    for bad in [f64::NAN, f64::INFINITY, -1e12] {
        let values = [Some(1.0), Some(bad), None, None];
        assert_eq!(
            place(&MapPicture {
                values: &values,
                ..plain
            }),
            "values"
        );
        let nodes = [0.0, bad];
        assert_eq!(
            place(&MapPicture {
                x: AxisOf {
                    nodes: &nodes,
                    ..plain.x
                },
                ..plain
            }),
            "nodes"
        );
        let limits_y = Some((bad, 1.0));
        assert_eq!(place(&MapPicture { limits_y, ..plain }), "limits of travel");
        let marks = [Mark { x: bad, ..MARKS[0] }];
        assert_eq!(
            place(&MapPicture {
                marks: &marks,
                ..plain
            }),
            "marks"
        );
    }
    let count = Err(Fault::Count {
        values: 3,
        columns: 2,
        rows: 2,
    });
    assert_eq!(
        map(&MapPicture {
            values: &four[..3],
            ..plain
        }),
        count
    );
    for nodes in [&[][..], &[1.0, 1.0], &[0.0, 2.0, 1.0]] {
        let x = AxisOf { nodes, ..plain.x };
        assert!(matches!(
            map(&MapPicture { x, ..plain }),
            Err(Fault::Order { .. })
        ));
    }
}
