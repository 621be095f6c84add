//! `[arm]`: joints, flange and bodies.

use nalgebra::Matrix3;
use nalgebra::Vector3;
use toml::de::DeValue;

use crate::cell::JointGeometry;
use crate::cell::JointInfo;
use crate::cell::parse::obstacles::NamedBody;
use crate::cell::parse::obstacles::bodies as bodies_of;
use crate::cell::parse::reader::Kind;
use crate::cell::parse::reader::TableReader;
use crate::cell::parse::reader::is_name;
use crate::cell::parse::value::EXPECTED_NAME;
use crate::cell::parse::value::Item;
use crate::units::Angle;

/// Fewest and most joints.
const FEWEST: usize = 2;
const MOST: usize = 7;

/// Flange axes may be this far from perpendicular.
const PERPENDICULAR_DEG: f64 = 0.01;

/// `[arm]` as read.
pub(super) struct Arm<'a> {
    pub(super) joints: Vec<(JointInfo, JointGeometry)>,
    pub(super) flange_mm: Vector3<f64>,
    pub(super) flange_axes: Matrix3<f64>,
    pub(super) bodies: Vec<NamedBody<'a>>,
}

/// `[arm]`.
pub(super) fn arm<'a>(t: &mut TableReader<'a>) -> Option<Arm<'a>> {
    let joints = t.need("joint", Kind::Plain, "[[arm.joint]], one table per joint");
    let joints = joints.and_then(joints_of);
    let flange = t.need("flange", Kind::Plain, "[arm.flange] with at_mm, z and x");
    let flange = flange.and_then(Item::table).and_then(|mut table| {
        let flange = flange_of(&mut table);
        table.finish();
        flange
    });
    // Where the joints are wrong, that is what is said, not that a link is missing.
    let count = joints.as_ref().map_or(MOST, Vec::len);
    let bodies = t.ask("body", Kind::Plain);
    let bodies = bodies.map_or(Some(Vec::new()), |item| bodies_of(item, count));
    let (flange_mm, flange_axes) = flange?;
    Some(Arm {
        joints: joints?,
        flange_mm,
        flange_axes,
        bodies: bodies?,
    })
}

fn joints_of(item: Item<'_>) -> Option<Vec<(JointInfo, JointGeometry)>> {
    if matches!(item.value, DeValue::Table(_)) {
        item.refuse(
            "one table",
            "a list of joints: one [[arm.joint]], in double brackets, per joint",
            "write [[arm.joint]] with double brackets over each joint",
        );
        return None;
    }
    let seed = item.alike();
    let path = item.field.clone();
    let tables = item.list("a list of joints: one [[arm.joint]], in double brackets, per joint")?;
    let count = tables.len();
    let mut taken: Vec<String> = Vec::new();
    let mut joints = Vec::new();
    // Far too many are said once, not each.
    for (i, item) in tables.into_iter().take(8 * MOST).enumerate() {
        let number = i + 1;
        let Some(mut table) = item.table() else {
            continue;
        };
        table.path = format!("{path}[{number}]");
        joints.extend(joint(&mut table, number, &mut taken));
        table.finish();
    }
    if !(FEWEST..=MOST).contains(&count) {
        seed.refuse_for_lack(
            if count == 1 { "1 joint".to_owned() } else { format!("{count} joints") },
            &format!("{FEWEST} to {MOST} joints"),
            "write one [[arm.joint]] for each powered joint, base to tip, without the gripper's jaws",
        );
        return None;
    }
    (joints.len() == count).then_some(joints)
}

fn joint(
    t: &mut TableReader<'_>,
    number: usize,
    taken: &mut Vec<String>,
) -> Option<(JointInfo, JointGeometry)> {
    let given = t.ask("name", Kind::Plain);
    let name = match &given {
        None => Some(format!("j{number}")),
        Some(item) => joint_name(item),
    };
    let axis = t.need("axis", Kind::Plain, "axis = [0, 0, 1]");
    let axis = axis.and_then(Item::direction);
    let through = t.need("through", Kind::Length, "through_mm = [0, 0, 0]");
    let through = through.and_then(Item::vector);
    let limits = t.need("limits", Kind::Degrees, "limits_deg = [-165, 165]");
    let limits = limits.and_then(Item::range);
    let scale = t.ask("scale", Kind::Plain);
    let scale = scale.map_or(Some(1.0), |item| item.scale());
    let zero = t.ask("zero", Kind::Degrees);
    let zero = zero.map_or(Some(0.0), |item| item.number());
    let lost_motion = t.ask("lost_motion", Kind::Degrees);
    let lost_motion = lost_motion.map_or(Some(0.0), |item| item.not_negative());
    if let Some(name) = &name
        && let Some(other) = taken.iter().position(|n| n == name)
    {
        let found = format!("the name `{name}`, which joint {} has too", other + 1);
        let expected = "a different name for each joint";
        let advice = "rename one of the two (a joint without a name is called j1, j2, …)";
        match &given {
            Some(item) => item.refuse(found, expected, advice),
            None => t.refuse("name", found, expected, advice),
        }
    }
    // A joint without a usable name keeps its place in the list.
    taken.push(name.clone().unwrap_or_default());
    let info = JointInfo {
        name: name?,
        limits_rad: limits?,
    };
    let geometry = JointGeometry {
        axis: axis?,
        through_mm: through?,
        zero_rad: zero?,
        scale_rad: Angle::deg(scale?).as_rad(),
        lost_motion_rad: lost_motion?,
    };
    Some((info, geometry))
}

fn joint_name(item: &Item<'_>) -> Option<String> {
    let name = item.text()?;
    if is_name(name) {
        return Some(name.to_owned());
    }
    item.refuse(
        format!("the name {}", item.written()),
        EXPECTED_NAME,
        "choose another name, such as base or elbow-2",
    );
    None
}

/// Origin, and axes x, y, z as columns; x is made exactly perpendicular to z, and y = z × x.
fn flange_of(t: &mut TableReader<'_>) -> Option<(Vector3<f64>, Matrix3<f64>)> {
    let at_mm = t.need("at", Kind::Length, "at_mm = [420, 0, 230]");
    let at_mm = at_mm.and_then(Item::vector);
    let z = t.need("z", Kind::Plain, "z = [1, 0, 0]");
    let z = z.and_then(Item::direction);
    let x = t.need("x", Kind::Plain, "x = [0, 0, -1]");
    let seed = x.as_ref().map(Item::alike);
    let x = x.and_then(Item::direction);
    let (z, x, seed) = (z?, x?, seed?);
    let lean_deg = x.dot(&z).clamp(-1.0, 1.0).asin().to_degrees();
    // The slack is for a lean written as exactly the limit.
    if lean_deg.abs() > PERPENDICULAR_DEG + 1e-9 {
        seed.refuse(
            format!("x at {:.3}° to z", 90.0 - lean_deg),
            &format!("x at 90° to z, within {PERPENDICULAR_DEG}°"),
            "write x with more decimals, or correct the axis that is wrong",
        );
        return None;
    }
    let x = (x - z * x.dot(&z)).normalize();
    let y = z.cross(&x);
    Some((at_mm?, Matrix3::from_columns(&[x, y, z])))
}
