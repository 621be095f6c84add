//! `[[keep_out]]` and `[[arm.body]]`.

use nalgebra::Vector3;
use toml::de::DeValue;

use crate::cell::Belongs;
use crate::cell::Body;
use crate::cell::KeepOut;
use crate::cell::On;
use crate::cell::Shape;
use crate::cell::Touch;
use crate::cell::parse::bench::belongs;
use crate::cell::parse::reader::Kind;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::reader::exclude;
use crate::cell::parse::reader::is_name;
use crate::cell::parse::reader::quoted;
use crate::cell::parse::value::EXPECTED_NAME;
use crate::cell::parse::value::Item;
use crate::diagnose::nearest;

/// More keep-outs or bodies than this are a slip of the pen.
const MOST: usize = 200;

/// Places and sizes beyond this are a slip of the pen, mm. Distances stay exact to 1e-9 mm.
const FARTHEST_MM: f64 = 1e6;

/// What `may_touch` calls the plate.
const PLATE: &str = "plate";

/// `[[keep_out]]`, in the order of the file.
pub(super) fn keep_outs(item: Item<'_>, turntable: bool) -> Option<Vec<KeepOut>> {
    let mut taken: Vec<String> = Vec::new();
    tables(item, "[[keep_out]]", |table, _| {
        keep_out(table, turntable, &mut taken)
    })
}

/// Reads the table of one sort of shape.
type Reader = fn(&mut TableReader<'_>) -> Option<Shape>;

fn keep_out(t: &mut TableReader<'_>, turntable: bool, taken: &mut Vec<String>) -> Option<KeepOut> {
    let name = t.need("name", Kind::Plain, "name = \"oven\"");
    let name = name.and_then(|item| keep_out_name(&item, taken));
    // One without a usable name keeps its place in the list.
    taken.push(name.clone().unwrap_or_default());
    let frame = match t.ask("frame", Kind::Plain) {
        None => Some(Belongs::Plate),
        Some(item) => belongs(&item, turntable, "a keep-out"),
    };
    let mut shapes = Vec::new();
    let mut first: Option<Item<'_>> = None;
    let readers: [(&str, Reader); 3] = [
        ("box", cuboid),
        ("cylinder", cylinder),
        ("half_space", half_space),
    ];
    for (key, read) in readers {
        let Some(item) = t.ask(key, Kind::Plain) else {
            continue;
        };
        match &first {
            Some(first) => exclude(&item, first),
            None => first = Some(item.alike()),
        }
        shapes.push(item.table().and_then(|mut table| {
            let shape = read(&mut table);
            table.finish();
            shape
        }));
    }
    if shapes.is_empty() {
        let keys = readers.map(|(key, _)| key.to_owned()).to_vec();
        let example = "box = { from_mm = [0, 0, 0], to_mm = [100, 80, 200] }";
        t.lacks(keys, example);
    }
    Some(KeepOut {
        name: name?,
        frame: frame?,
        shape: shapes.pop()??,
    })
}

fn keep_out_name(item: &Item<'_>, taken: &[String]) -> Option<String> {
    let name = item.text()?;
    if !is_name(name) {
        item.refuse(
            format!("the name {}", item.written()),
            EXPECTED_NAME,
            "choose another name, such as oven or rear-wall",
        );
        return None;
    }
    if name == PLATE {
        item.refuse(
            "the name `plate`",
            "another name: `plate` is the plate itself, which is checked always",
            "choose another name, such as riser",
        );
        return None;
    }
    if let Some(other) = taken.iter().position(|n| n == name) {
        item.refuse(
            format!("the name `{name}`, which keep-out {} has too", other + 1),
            "a different name for each keep-out",
            "rename one of the two",
        );
    }
    Some(name.to_owned())
}

fn cuboid(t: &mut TableReader<'_>) -> Option<Shape> {
    let from = t.need("from", Kind::Length, "from_mm = [0, 0, 0]");
    let from = from.and_then(place);
    let to = t.need("to", Kind::Length, "to_mm = [100, 80, 200]");
    let seed = to.as_ref().map(Item::alike);
    let to = to.and_then(place);
    let turn = t.ask("turn", Kind::Degrees);
    let turn = turn.map_or(Some(0.0), |item| item.number());
    let (from, to, seed) = (from?, to?, seed?);
    let half_mm = (to - from).abs() / 2.0;
    let flat = ["x", "y", "z"].into_iter().zip(half_mm.iter());
    let flat: Vec<_> = flat.filter(|(_, h)| **h <= 0.0).map(|f| f.0).collect();
    if !flat.is_empty() {
        seed.refuse(
            format!("a box without size along {}", flat.join(" and ")),
            "two opposite corners that differ in x, y and z",
            "correct one of the corners, so that the box has a volume",
        );
        return None;
    }
    Some(Shape::Box {
        centre_mm: (from + to) / 2.0,
        half_mm,
        turn_rad: turn?,
    })
}

fn cylinder(t: &mut TableReader<'_>) -> Option<Shape> {
    let at = t.need("at", Kind::Length, "at_mm = [100, 100, 0]");
    let at = at.and_then(place);
    let radius = t.need("radius", Kind::Length, "radius_mm = 30");
    let radius = radius.and_then(|item| size(&item));
    let height = t.need("height", Kind::Length, "height_mm = 200");
    let height = height.and_then(|item| size(&item));
    let axis = t.ask("axis", Kind::Plain);
    let axis = axis.map_or(Some(Vector3::z()), Item::direction);
    Some(Shape::Cylinder {
        at_mm: at?,
        axis: axis?,
        radius_mm: radius?,
        height_mm: height?,
    })
}

fn half_space(t: &mut TableReader<'_>) -> Option<Shape> {
    let at = t.need("at", Kind::Length, "at_mm = [0, 800, 0]");
    let at = at.and_then(place);
    let free = t.need("free", Kind::Plain, "free = [0, -1, 0]");
    let free = free.and_then(Item::direction);
    Some(Shape::HalfSpace {
        at_mm: at?,
        free: free?,
    })
}

/// A body whose `may_touch` is not understood yet: keep-outs may stand later in the file.
pub(super) struct NamedBody<'a> {
    body: Body,
    may_touch: Vec<Item<'a>>,
}

/// `[[arm.body]]`, in the order of the file, for an arm of so many joints.
pub(super) fn bodies(item: Item<'_>, joints: usize) -> Option<Vec<NamedBody<'_>>> {
    tables(item, "[[arm.body]]", |table, _| body(table, joints))
}

fn body<'a>(t: &mut TableReader<'a>, joints: usize) -> Option<NamedBody<'a>> {
    let on = t.need("on", Kind::Plain, "on = \"j2\"");
    let written = on.as_ref().and_then(|item| match &item.value {
        DeValue::String(text) => Some(text.to_string()),
        _ => None,
    });
    let on = on.and_then(|item| carrier(&item, joints));
    let name = match t.ask("name", Kind::Plain) {
        None => written,
        Some(item) => body_name(&item),
    };
    let from = t.need("from", Kind::Length, "from_mm = [0, 0, 150]");
    let from = from.and_then(place);
    let to = t.need("to", Kind::Length, "to_mm = [220, 0, 150]");
    let to = to.and_then(place);
    let radius = t.need("radius", Kind::Length, "radius_mm = 40");
    let radius = radius.and_then(|item| size(&item));
    let may_touch = match t.ask("may_touch", Kind::Plain) {
        None => Some(Vec::new()),
        Some(item) => item.list("a list of names"),
    };
    Some(NamedBody {
        body: Body {
            on: on?,
            name: name?,
            from_mm: from?,
            to_mm: to?,
            radius_mm: radius?,
            may_touch: Vec::new(),
        },
        may_touch: may_touch?,
    })
}

fn carrier(item: &Item<'_>, joints: usize) -> Option<On> {
    let text = item.text()?;
    let on = match text {
        "carriage" => Some(On::Carriage),
        "base" => Some(On::Base),
        "flange" => Some(On::Flange),
        "tool" => Some(On::Tool),
        _ => (0..joints)
            .find(|i| text == format!("j{}", i + 1))
            .map(On::Link),
    };
    if on.is_none() {
        item.refuse(
            item.written(),
            &format!("\"carriage\", \"base\", \"j1\" to \"j{joints}\", \"flange\" or \"tool\""),
            "say what carries the body; j2 is the link that the second joint moves",
        );
    }
    on
}

fn body_name(item: &Item<'_>) -> Option<String> {
    let name = item.text()?;
    if !name.trim().is_empty() && !name.contains(char::is_control) {
        return Some(name.to_owned());
    }
    item.refuse(
        item.written(),
        "a name of one line that is not blank",
        "write what people call this part of the arm",
    );
    None
}

/// Understands `may_touch` of every body: a keep-out, `plate`, or else all bodies of that name.
pub(super) fn settled(bodies: Vec<NamedBody<'_>>, keep_outs: &[KeepOut]) -> Option<Vec<Body>> {
    let names: Vec<String> = bodies.iter().map(|b| b.body.name.clone()).collect();
    let mut complete = true;
    let mut settled = Vec::with_capacity(bodies.len());
    for NamedBody {
        mut body,
        may_touch,
    } in bodies
    {
        for item in may_touch {
            match touched(&item, keep_outs, &names) {
                Some(touches) => body.may_touch.extend(touches),
                None => complete = false,
            }
        }
        settled.push(body);
    }
    complete.then_some(settled)
}

fn touched(item: &Item<'_>, keep_outs: &[KeepOut], bodies: &[String]) -> Option<Vec<Touch>> {
    let name = item.text()?;
    if name == PLATE {
        return Some(vec![Touch::Plate]);
    }
    if let Some(index) = keep_outs.iter().position(|k| k.name == name) {
        return Some(vec![Touch::KeepOut(index)]);
    }
    let same = bodies.iter().enumerate().filter(|(_, body)| *body == name);
    let same: Vec<_> = same.map(|(index, _)| Touch::Body(index)).collect();
    if !same.is_empty() {
        return Some(same);
    }
    let known = keep_outs.iter().map(|k| k.name.as_str());
    let known = known
        .chain([PLATE])
        .chain(bodies.iter().map(String::as_str));
    // No name is nearly this long, and comparing takes time.
    let near = nearest(name, known.filter(|_| name.len() < 64));
    let advice = match near {
        Some(near) => format!(
            "did you mean {}? Correct the name, or remove it",
            quoted(near)
        ),
        None => "correct the name, or add the [[keep_out]]".to_owned(),
    };
    item.refuse(
        format!("{}, which nothing is called", quoted(name)),
        "the name of a keep-out, \"plate\", or the name of another body",
        &advice,
    );
    None
}

/// A list of tables; every wrong one is reported. `header` is how one of them begins.
fn tables<'a, T>(
    item: Item<'a>,
    header: &str,
    mut one: impl FnMut(&mut TableReader<'a>, usize) -> Option<T>,
) -> Option<Vec<T>> {
    let expected = format!("a list: one {header}, in double brackets, for each");
    if matches!(item.value, DeValue::Table(_)) {
        let advice = format!("write {header} with double brackets over each");
        item.refuse("one table", &expected, &advice);
        return None;
    }
    let seed = item.alike();
    let path = item.field.clone();
    let items = item.list(&expected)?;
    let count = items.len();
    if count > MOST {
        seed.refuse_for_lack(
            format!("{count} of them"),
            &format!("at most {MOST}"),
            "describe the cell by fewer and larger shapes",
        );
        return None;
    }
    let mut read = Vec::with_capacity(count);
    for (i, item) in items.into_iter().enumerate() {
        let Some(mut table) = item.table() else {
            continue;
        };
        table.path = format!("{path}[{}]", i + 1);
        read.extend(one(&mut table, i));
        table.finish();
    }
    (read.len() == count).then_some(read)
}

/// A point that is not absurdly far away.
fn place(item: Item<'_>) -> Option<Vector3<f64>> {
    let seed = item.alike();
    let place = item.vector()?;
    if place.amax() <= FARTHEST_MM {
        return Some(place);
    }
    seed.refuse(
        seed.written(),
        "a place within 1 km of the frame's origin",
        "check the numbers: they are millimetres where the key ends in _mm",
    );
    None
}

/// A radius or height.
fn size(item: &Item<'_>) -> Option<f64> {
    let size = item.positive()?;
    if size <= FARTHEST_MM {
        return Some(size);
    }
    item.refuse(
        item.written(),
        "at most 1 km",
        "check the number: it is in millimetres where the key ends in _mm",
    );
    None
}
