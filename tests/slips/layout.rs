//! The cell file of an invented cell.

use crate::cells::Style;
use crate::made::Draw;

pub fn toml(number: u64, draw: &mut Draw, style: &Style) -> String {
    // The layout along a track that runs along u, turned by quarter turns and shifted onto the plate.
    let quarter = number % 4;
    let turn = |u: f64, v: f64| match quarter {
        0 => (u, v),
        1 => (900.0 - v, u),
        2 => (1500.0 - u, 900.0 - v),
        _ => (v, 1500.0 - u),
    };
    let (pitch_key, pitch) = *draw.one_of(&[
        ("pitch_mm = 50.0", 50.0),
        ("pitch_mm = 25.4", 25.4),
        ("pitch_in = 1.0", 25.4),
        ("pitch_mm = 50.0", 50.0),
    ]);
    let size = if quarter.is_multiple_of(2) {
        (1550.0, 950.0)
    } else {
        (950.0, 1550.0)
    };
    let (columns, rows) = ((size.0 / pitch) as u32, (size.1 / pitch) as u32);
    let hole = |u: f64, v: f64| {
        let (x, y) = turn(u, v);
        format!("[{}, {}]", (x / pitch).round(), (y / pitch).round())
    };
    let at = |u: f64, v: f64, z: f64| {
        let (x, y) = turn(u, v);
        format!("[{x:.1}, {y:.1}, {z:.1}]")
    };
    let yaw = [0.0, 90.0, 180.0, -90.0][quarter as usize];
    let (a1, a2) = (draw.between(200.0, 250.0), draw.between(180.0, 220.0));
    let (h, tool) = (draw.between(140.0, 165.0), draw.between(80.0, 110.0));
    let (out, reach) = (a1 + a2, a1 + a2 + 60.0);
    let joint = |axis: &str, x: f64, z: f64, low: f64, high: f64| {
        format!(
            "[[arm.joint]]\naxis = {axis}\nthrough_mm = [{x:.1}, 0, {z:.1}]\nlimits_deg = [{low}, {high}]\n"
        )
    };
    let mut joints = joint("[0, 0, 1]", 0.0, 0.0, -175.0, 175.0)
        + &joint("[0, 1, 0]", 0.0, h, -115.0, 70.0)
        + &joint("[0, 1, 0]", a1, h, -25.0, 155.0);
    if style.six {
        joints += &joint("[1, 0, 0]", a1 + 60.0, h, -175.0, 175.0);
    }
    joints += &joint("[0, 1, 0]", out, h, -125.0, 125.0);
    joints += &joint("[1, 0, 0]", out, h, -178.0, 178.0);
    let count = draw.0.usize(6..=12);
    // Every third platter was filed by hand: its notches are listed.
    let notches = match number % 3 {
        1 => {
            let step = 360.0 / count as f64;
            let list: Vec<String> = (0..count)
                .map(|k| {
                    format!(
                        "{:.1}",
                        step * k as f64 + if k == 0 { 0.0 } else { draw.between(-2.0, 2.0) }
                    )
                })
                .collect();
            format!("notch_angles_deg = [{}]", list.join(", "))
        }
        _ => format!("notches = {count}"),
    };
    let (jitter_u, jitter_v) = (draw.between(-20.0, 20.0), draw.between(-15.0, 15.0));
    let zeros = if style.six {
        ""
    } else {
        "\"arm.j4.zero\" = 1.0\n"
    };
    format!(
        r#"format = 1
name = "generated {number} (invented)"
[plate]
{pitch_key}
columns = {columns}
rows = {rows}
[marks]
pin_a = {{ hole = {pin_a} }}
pin_b = {{ hole = {pin_b} }}
pin_c = {{ hole = {pin_c} }}
post = {{ at_mm = {post} }}
spigot = {{ frame = "platter", at_mm = [{spigot:.1}, 0.0, 12.0] }}
dot = {{ frame = "platter", at_mm = [-55.0, {dot:.1}, 0.0] }}
[track]
at_mm = {track}
yaw_deg = {yaw:.1}
scale = {track_scale:.1}
travel_mm = [0.0, 900.0]
features.left_foot = [-60.0, 85.0, -50.0]
features.right_foot = [-45.0, -85.0, -50.0]
features.front = [110.0, 20.0, -50.0]
[mount]
at_mm = [0.0, 0.0, 18.0]
{joints}[arm.flange]
at_mm = [{reach:.1}, 0, {h:.1}]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, {tool:.1}]
[turntable]
at_mm = {centre}
scale = {table_scale:.1}
switch_deg = {switch:.1}
{notches}
[solve]
"track.x" = "free"
"track.y" = "free"
"track.z" = 1.5
"track.yaw" = "free"
"track.lost_motion" = "free"
"arm.j1.zero" = 1.0
"arm.j2.zero" = 1.0
"arm.j3.zero" = 1.0
{zeros}"tool.z" = 1.5
"turntable.x" = "free"
"turntable.y" = "free"
"turntable.index" = "free"
"turntable.lost_motion" = "free"
"#,
        pin_a = hole(300.0, 430.0),
        pin_b = hole(1130.0, 410.0),
        pin_c = hole(620.0, 400.0),
        post = at(480.0, 390.0, 40.0),
        spigot = draw.between(70.0, 95.0),
        dot = draw.between(45.0, 70.0),
        track = at(230.0 + jitter_u, 120.0 + jitter_v, 60.0),
        track_scale = style.track,
        centre = at(780.0, 520.0, 85.0),
        table_scale = style.table,
        switch = draw.between(-170.0, 170.0),
    )
}
