//! Reads a picture back, and what must hold of any.

use crate::drawing::text::Anchor;
use crate::drawing::text::Area;
use crate::drawing::text::area_of;

/// An element as it was read back: its name, its attributes, the text right inside.
#[derive(Debug, Default)]
pub(crate) struct Element {
    pub(crate) name: String,
    attributes: Vec<(String, String)>,
    pub(crate) text: String,
}

impl Element {
    pub(crate) fn get(&self, name: &str) -> Option<&str> {
        let found = self.attributes.iter().find(|(n, _)| n == name);
        found.map(|(_, v)| v.as_str())
    }
    pub(crate) fn number(&self, name: &str) -> f64 {
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
pub(crate) fn elements(svg: &str) -> Result<Vec<Element>, String> {
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
pub(crate) fn rooms(all: &[Element]) -> Vec<(Area, String)> {
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
pub(crate) fn sound(svg: &str) -> Vec<Element> {
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
pub(crate) fn path_points(d: &str) -> Vec<(f64, f64)> {
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
