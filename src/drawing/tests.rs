//! Whole pictures: well-formed, finite, inside the sheet, no text on another.

use crate::drawing::Fault;
use crate::drawing::map::AxisOf;
use crate::drawing::map::Kind;
use crate::drawing::map::MapPicture;
use crate::drawing::map::Mark;
use crate::drawing::map::map;
use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::area_of;

/// An element as it was read back: its name, its attributes, the text right inside.
#[derive(Debug, Default)]
struct Element {
    name: String,
    attributes: Vec<(String, String)>,
    text: String,
}

impl Element {
    fn get(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(n, _)| n == name);
        found.map(|(_, v)| v.as_str())
    }
    fn number(&self, name: &str) -> f64 {
        let text = self
            .get(name)
            .unwrap_or_else(|| panic!("{name} of {self:?}"));
        text.parse().unwrap()
    }
}

/// The text without its escapes; an error where `&` or `<` stand bare.
fn unescaped(text: &str) -> Result<String, String> {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(['&', '<', '>']) {
        out.push_str(&rest[..at]);
        rest = &rest[at..];
        let known = [
            ("&amp;", '&'),
            ("&lt;", '<'),
            ("&gt;", '>'),
            ("&quot;", '"'),
            ("&#39;", '\''),
        ];
        let (name, c) = known
            .iter()
            .find(|(name, _)| rest.starts_with(name))
            .ok_or_else(|| format!("bare character at `{}`", &rest[..rest.len().min(20)]))?;
        out.push(*c);
        rest = &rest[name.len()..];
    }
    out.push_str(rest);
    Ok(out)
}

/// Elements in the order in which they open; an error where the text is not well-formed (of the
/// subset of XML that pictures use: elements, attributes in double quotes, text).
fn elements(svg: &str) -> Result<Vec<Element>, String> {
    let mut all: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    let mut rest = svg;
    while let Some(at) = rest.find('<') {
        let text = unescaped(&rest[..at])?;
        match open.last() {
            Some(k) => all[*k].text.push_str(text.trim()),
            None if text.trim().is_empty() && (at == 0 || !all.is_empty()) => {}
            None => return Err(format!("text outside: {text}")),
        }
        let end = rest.find('>').ok_or("a tag does not end")?;
        let tag = &rest[at + 1..end];
        rest = &rest[end + 1..];
        if let Some(name) = tag.strip_prefix('/') {
            let k = open.pop().ok_or("one end too many")?;
            if all[k].name != name {
                return Err(format!("{} ends as {name}", all[k].name));
            }
            continue;
        }
        let (tag, empty) = match tag.strip_suffix('/') {
            Some(tag) => (tag, true),
            None => (tag, false),
        };
        let (name, mut written) = tag.split_once(' ').unwrap_or((tag, ""));
        if name.is_empty() || !name.chars().all(|c| c.is_ascii_alphanumeric()) {
            return Err(format!("name `{name}`"));
        }
        let mut element = Element {
            name: name.to_owned(),
            ..Element::default()
        };
        while !written.is_empty() {
            let (name, value) = written.split_once("=\"").ok_or("no value")?;
            let (value, after) = value.split_once('"').ok_or("a value does not end")?;
            if element.get(name).is_some() {
                return Err(format!("{name} twice"));
            }
            let pair = (name.to_owned(), unescaped(value)?);
            element.attributes.push(pair);
            written = after.strip_prefix(' ').unwrap_or(after);
        }
        if !empty {
            open.push(all.len());
        }
        all.push(element);
        if open.is_empty() && (empty || all.len() > 1) {
            return Err("two roots".to_owned());
        }
    }
    if !open.is_empty() || !rest.trim().is_empty() {
        return Err("something is left open".to_owned());
    }
    Ok(all)
}

/// Rooms of all texts, with what they say.
fn rooms(all: &[Element]) -> Vec<(Area, String)> {
    all.iter()
        .filter(|e| e.name == "text")
        .map(|e| {
            let anchor = match e.get("text-anchor") {
                None => Anchor::Start,
                Some("middle") => Anchor::Middle,
                Some("end") => Anchor::End,
                other => panic!("{other:?}"),
            };
            let (at, size) = ((e.number("x"), e.number("y")), e.number("font-size"));
            let upright = e.get("transform").is_some();
            (area_of(&e.text, size, at, anchor, upright), e.text.clone())
        })
        .collect()
}

/// Everything that must hold of any picture. Gives its elements.
fn sound(svg: &str) -> Vec<Element> {
    let all = elements(svg).unwrap();
    let root = &all[0];
    assert_eq!(root.name, "svg");
    let sheet = Area::new(0.0, 0.0, root.number("width"), root.number("height"));
    assert_eq!(
        root.get("viewBox").unwrap(),
        format!("0 0 {} {}", sheet.right, sheet.bottom)
    );
    // Named for readers who do not see it.
    assert_eq!(root.get("role"), Some("img"));
    let named: Vec<&str> = root.get("aria-labelledby").unwrap().split(' ').collect();
    for (id, (element, name)) in named.iter().zip(all[1..].iter().zip(["title", "desc"])) {
        assert_eq!(
            (element.name.as_str(), element.get("id")),
            (name, Some(*id))
        );
        assert!(!element.text.is_empty());
    }
    // Its own ground, over the whole sheet.
    assert_eq!(
        (all[3].name.as_str(), all[3].number("width")),
        ("rect", sheet.right)
    );
    assert_eq!(all[3].number("height"), sheet.bottom);
    for element in &all {
        assert!(
            [
                "svg", "title", "desc", "rect", "line", "path", "text", "g", "defs", "pattern"
            ]
            .contains(&element.name.as_str()),
            "{element:?}"
        );
        for (name, value) in &element.attributes {
            assert!(
                !value.contains("NaN") && !value.contains("inf"),
                "{element:?}"
            );
            assert!(!name.starts_with("on") && name != "href" && name != "xlink:href");
            let outside = value.contains("://") && name != "xmlns";
            assert!(!outside && !value.contains("data:"), "{element:?}");
            if value.starts_with("url(") {
                assert!(value.starts_with("url(#"), "{element:?}");
            }
        }
        for name in [
            "x",
            "y",
            "x1",
            "x2",
            "y1",
            "y2",
            "width",
            "height",
            "font-size",
        ] {
            if let Some(value) = element.get(name) {
                assert!(value.parse::<f64>().unwrap().is_finite());
            }
        }
        match element.name.as_str() {
            "line" => {
                let ends = Area {
                    left: element.number("x1").min(element.number("x2")),
                    right: element.number("x1").max(element.number("x2")),
                    top: element.number("y1").min(element.number("y2")),
                    bottom: element.number("y1").max(element.number("y2")),
                };
                assert!(sheet.holds(&ends), "{element:?}");
            }
            "rect" => {
                let [x, y, w, h] = ["x", "y", "width", "height"].map(|n| element.number(n));
                assert!(w >= 0.0 && h >= 0.0);
                assert!(sheet.holds(&Area::new(x, y, w, h)), "{element:?}");
            }
            "path" => {
                for at in path_points(element.get("d").unwrap()) {
                    assert!(
                        sheet.grown(-7.0).holds(&Area::around(at, 0.0, 0.0)),
                        "{at:?}"
                    );
                }
            }
            _ => {}
        }
    }
    let rooms = rooms(&all);
    for (k, (room, text)) in rooms.iter().enumerate() {
        assert!(
            sheet.grown(-7.0).holds(room),
            "`{text}` leaves the sheet: {room:?}"
        );
        for (other, beside) in &rooms[k + 1..] {
            assert!(
                !room.meets(other),
                "`{text}` {room:?} on `{beside}` {other:?}"
            );
        }
    }
    all
}

/// Points that a path of M, l, h, v, z and a goes through.
fn path_points(d: &str) -> Vec<(f64, f64)> {
    let spaced: String = d
        .chars()
        .flat_map(|c| match c {
            '-' => vec![' ', '-'],
            c if c.is_ascii_alphabetic() => vec![' ', c, ' '],
            c => vec![c],
        })
        .collect();
    let (mut points, mut at, mut start) = (Vec::new(), (0.0, 0.0), (0.0, 0.0));
    let mut words = spaced.split_whitespace().peekable();
    let mut letter = "";
    while let Some(word) = words.peek().copied() {
        if word.chars().all(|c| c.is_ascii_alphabetic()) {
            letter = word;
            words.next();
        }
        let mut next = || words.next().unwrap().parse::<f64>().unwrap();
        match letter {
            "M" => {
                at = (next(), next());
                start = at;
            }
            "l" => at = (at.0 + next(), at.1 + next()),
            "h" => at.0 += next(),
            "v" => at.1 += next(),
            "a" => {
                let [_, _, _, _, _, dx, dy] = [(); 7].map(|()| next());
                at = (at.0 + dx, at.1 + dy);
            }
            "z" => at = start,
            other => panic!("{other} in {d}"),
        }
        points.push(at);
    }
    points
}

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
        "best station",
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
    sound(&map(&picture(&one, &x, &values)).unwrap());
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

#[test]
fn the_checks_can_fail() {
    assert!(elements("<svg a=\"1\"><g></svg>").is_err());
    assert!(elements("<svg>a & b</svg>").is_err());
    assert!(elements("<svg a=\"1\" a=\"2\"/>").is_err());
    assert!(elements("<svg/><svg/>").is_err());
    assert!(elements("<svg><g/></svg>").is_ok());
    assert_eq!(
        path_points("M1 2h3v-1l.5.5".replace(".5.5", "0.5 0.5").as_str()).len(),
        4
    );
    let one = "<svg><text x=\"0\" y=\"10\" font-size=\"10\">aaa</text>\
               <text x=\"15\" y=\"10\" font-size=\"10\">b</text></svg>";
    let rooms = rooms(&elements(one).unwrap());
    assert!(rooms[0].0.meets(&rooms[1].0));
}
