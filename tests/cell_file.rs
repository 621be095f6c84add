//! Reading `cell.toml`: what a whole file becomes, and what each mistake is answered with.

use notchpin::cell::Belongs;
use notchpin::cell::Cell;
use notchpin::cell::MAX_CELL_BYTES;
use notchpin::cell::On;
use notchpin::cell::Shape;
use notchpin::cell::Touch;
use notchpin::cell::parse;
use notchpin::diagnose::Problem;
use notchpin::diagnose::Problems;
use notchpin::diagnose::Severity;

#[path = "cell_file/mistakes.rs"]
mod mistakes;

const WHOLE: &str = include_str!("cell_file/whole.toml");

/// Only what must be there.
const LEAST: &str = r#"format = 1
name = "least"
[plate]
pitch_mm = 25
columns = 4
rows = 3
[[arm.joint]]
axis = [0, 0, 2]
through_mm = [0, 0, 0]
limits_deg = [-90, 90]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [0, 0, 100]
limits_deg = [0, 45.5]
[arm.flange]
at_mm = [200, 0, 100]
z = [1, 0, 0]
x = [0, 0, -1]
"#;

fn read(text: &str) -> (Option<Cell>, Vec<Problem>) {
    let mut problems = Problems::default();
    let cell = parse("cell.toml", text, &mut problems);
    assert_eq!(cell.is_none(), problems.has_errors(), "{text}");
    (cell, problems.iter().cloned().collect())
}

fn good(text: &str) -> Cell {
    let (cell, problems) = read(text);
    let problems: Vec<_> = problems.iter().map(Problem::to_string).collect();
    assert!(problems.is_empty(), "{}", problems.join("\n"));
    cell.unwrap()
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-12, "{a} is not {b}");
}

#[test]
fn the_whole_example_is_read() {
    let cell = good(WHOLE);
    assert_eq!(cell.name, "tile glazing bench");
    assert_eq!((cell.plate.pitch_x_mm, cell.plate.pitch_y_mm), (50.0, 50.0));
    assert_eq!((cell.plate.columns, cell.plate.rows), (30, 16));
    let marks: Vec<_> = cell
        .marks
        .iter()
        .map(|m| (m.name.as_str(), m.frame))
        .collect();
    let plate = Belongs::Plate;
    assert_eq!(
        marks,
        [
            ("pins", plate),
            ("gauge", plate),
            ("spigot", Belongs::Platter)
        ]
    );
    // Hole [3, 2] at a pitch of 50 mm, by hand.
    assert_eq!(cell.nominal.marks_mm[0].as_slice(), [150.0, 100.0, 0.0]);
    assert_eq!(cell.nominal.marks_mm[2].as_slice(), [80.0, 0.0, 12.0]);
    assert_eq!(cell.features, ["left_foot", "right_foot"]);
    assert_eq!(cell.nominal.features_mm[1].as_slice(), [-60.0, -85.0, 0.0]);

    let track = cell.nominal.track.unwrap();
    assert_eq!(track.mounting.at_mm.as_slice(), [150.0, 100.0, 62.0]);
    close(track.mounting.yaw_rad.to_degrees(), 0.25);
    assert_eq!((track.scale_mm, track.lost_motion_mm), (1.0, 0.0));
    let travel = cell.track.unwrap().travel_mm.unwrap();
    assert_eq!((travel.low, travel.high), (0.0, 900.0));

    let names: Vec<_> = cell.joints.iter().map(|j| j.name.as_str()).collect();
    assert_eq!(names, ["base", "shoulder", "elbow", "j4", "j5"]);
    close(cell.joints[0].limits_rad.low.to_degrees(), -165.0);
    close(cell.nominal.joints[1].zero_rad.to_degrees(), 1.5);
    close(cell.nominal.joints[2].scale_rad.to_degrees(), -0.5);
    close(cell.nominal.joints[3].lost_motion_rad.to_degrees(), 0.3);
    assert_eq!(cell.nominal.joints[1].axis.as_slice(), [0.0, 1.0, 0.0]);
    // y = z × x = (1, 0, 0) × (0, 0, -1) = (0, 1, 0), by hand; columns x, y, z.
    let axes = cell.nominal.flange_axes;
    assert_eq!(axes.column(0).as_slice(), [0.0, 0.0, -1.0]);
    assert_eq!(axes.column(1).as_slice(), [0.0, 1.0, 0.0]);
    assert_eq!(axes.column(2).as_slice(), [1.0, 0.0, 0.0]);
    assert_eq!(cell.nominal.tool.at_mm.z, 110.0);

    let turntable = cell.turntable.unwrap();
    assert_eq!(turntable.notches_rad.len(), 8);
    close(turntable.notches_rad[3].to_degrees(), 135.0);
    close(turntable.travel_rad.unwrap().high.to_degrees(), 360.0);
    close(
        cell.nominal.turntable.unwrap().switch_rad.to_degrees(),
        180.0,
    );
    close(cell.instruments.notch_rad.to_degrees(), 0.1);

    let solve: Vec<_> = cell
        .solve
        .iter()
        .map(|u| (u.name.as_str(), u.tolerance, u.line, u.column))
        .collect();
    let first = WHOLE
        .lines()
        .position(|l| l.starts_with("\"track.x\""))
        .unwrap()
        + 1;
    assert_eq!(
        solve,
        [
            ("track.x", None, first, 1),
            ("track.yaw", Some(1.0), first + 1, 1),
            ("turntable.index", None, first + 2, 1),
            ("arm.j2.zero", Some(3.0), first + 3, 1),
        ]
    );
    assert_eq!(cell.accept.tip_mm, Some(2.0));
    close(cell.accept.direction_rad.to_degrees(), 0.5);
    assert_eq!(cell.accept.clearance_mm, 8.0);
}

#[test]
fn keep_outs_and_bodies_are_read() {
    let cell = good(WHOLE);
    let names: Vec<_> = cell
        .keep_outs
        .iter()
        .map(|k| (k.name.as_str(), k.frame))
        .collect();
    let (plate, platter) = (Belongs::Plate, Belongs::Platter);
    assert_eq!(
        names,
        [("oven", plate), ("spindle", platter), ("rear-wall", plate)]
    );
    // Corners (900, 600, 400) and (600, 700, 0): middle (750, 650, 200), halves 150, 50, 200.
    let Shape::Box {
        centre_mm,
        half_mm,
        turn_rad,
    } = cell.keep_outs[0].shape
    else {
        panic!("{:?}", cell.keep_outs[0]);
    };
    assert_eq!(centre_mm.as_slice(), [750.0, 650.0, 200.0]);
    assert_eq!(half_mm.as_slice(), [150.0, 50.0, 200.0]);
    close(turn_rad.to_degrees(), 30.0);
    let Shape::Cylinder {
        at_mm,
        axis,
        radius_mm,
        height_mm,
    } = cell.keep_outs[1].shape
    else {
        panic!("{:?}", cell.keep_outs[1]);
    };
    assert_eq!(at_mm.as_slice(), [10.0, 20.0, 0.0]);
    assert_eq!((radius_mm, height_mm), (30.0, 200.0));
    // (0, 3, 4) is 5 long.
    close(axis.y, 0.6);
    close(axis.z, 0.8);
    let Shape::HalfSpace { at_mm, free } = cell.keep_outs[2].shape else {
        panic!("{:?}", cell.keep_outs[2]);
    };
    assert_eq!(at_mm.as_slice(), [0.0, 800.0, 0.0]);
    assert_eq!(free.as_slice(), [0.0, -1.0, 0.0]);

    let [arm, tool] = cell.bodies.as_slice() else {
        panic!("{:?}", cell.bodies);
    };
    assert_eq!((arm.on, arm.name.as_str()), (On::Link(1), "upper arm"));
    assert_eq!(arm.to_mm.as_slice(), [200.0, 0.0, 120.0]);
    assert_eq!(arm.radius_mm, 40.0);
    // The keep-out `oven`, the plate, and the body that is called after what carries it.
    assert_eq!(
        arm.may_touch,
        [Touch::KeepOut(0), Touch::Plate, Touch::Body(1)]
    );
    assert_eq!((tool.on, tool.name.as_str()), (On::Tool, "tool"));
    assert!(tool.may_touch.is_empty());
}

#[test]
fn a_keep_out_without_a_table_to_turn_it() {
    // LEAST has 18 lines.
    let text = format!(
        "{LEAST}[[keep_out]]\nname = \"post\"\nframe = \"platter\"\nhalf_space = {{ at_mm = [0, 0, 0], free = [1, 0, 0] }}\n"
    );
    assert_eq!(outline(&text), [(21, 9, "keep_out[1].frame".to_owned())]);
    assert!(read(&text).1[0].found.contains("a keep-out of the platter"));
}

#[test]
fn a_body_on_every_carrier() {
    let body = |on: &str| {
        format!(
            "[[arm.body]]\non = \"{on}\"\nfrom_mm = [0, 0, 0]\nto_mm = [0, 0, 0]\nradius_mm = 1\n"
        )
    };
    let carriers = ["carriage", "base", "j1", "j2", "flange", "tool"];
    let cell = good(&(LEAST.to_owned() + &carriers.map(body).concat()));
    let by_hand = [
        On::Carriage,
        On::Base,
        On::Link(0),
        On::Link(1),
        On::Flange,
        On::Tool,
    ];
    assert_eq!(
        cell.bodies.iter().map(|b| b.on).collect::<Vec<_>>(),
        by_hand
    );
    // Joints between base and carrier in an arm of two.
    let levels: Vec<_> = cell.bodies.iter().map(|b| b.on.level(2)).collect();
    assert_eq!(levels, [0, 0, 1, 2, 2, 2]);
    // LEAST has 18 lines; there is no third joint.
    let text = LEAST.to_owned() + &body("j3");
    assert_eq!(outline(&text), [(20, 6, "arm.body[1].on".to_owned())]);
}

#[test]
fn what_may_be_left_out_has_its_default() {
    let cell = good(LEAST);
    assert!(cell.track.is_none() && cell.turntable.is_none());
    assert!(cell.solve.is_empty() && cell.marks.is_empty());
    assert_eq!(cell.nominal.mount, cell.nominal.tool);
    assert_eq!(cell.nominal.mount.at_mm.as_slice(), [0.0; 3]);
    assert_eq!(cell.joints[1].name, "j2");
    // The axis is made a unit vector.
    assert_eq!(cell.nominal.joints[0].axis.as_slice(), [0.0, 0.0, 1.0]);
    close(cell.nominal.joints[0].scale_rad.to_degrees(), 1.0);
    close(cell.instruments.holes_mm, 0.3);
    close(cell.instruments.touch_mm, 0.4);
    close(cell.instruments.height_mm, 0.4);
    close(cell.instruments.attitude_rad.to_degrees(), 0.1);
    assert_eq!(cell.accept.tip_mm, None);
    assert_eq!(cell.accept.clearance_mm, 5.0);
    assert!(cell.keep_outs.is_empty() && cell.bodies.is_empty());
    close(cell.accept.direction_rad.to_degrees(), 0.5);
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_change_nothing() {
    let plain = format!("{:?}", good(WHOLE));
    let other = format!("\u{feff}{}", WHOLE.replace('\n', "\r\n"));
    assert_eq!(format!("{:?}", good(&other)), plain);
    let (_, problems) = read(&format!("\u{feff}{}", LEAST.replace("format", "fromat")));
    assert_eq!((problems[0].line, problems[0].column), (Some(1), Some(1)));
}

#[test]
fn inches_are_millimetres_times_25_4() {
    let mm = r#"
[track]
at_mm = [254, -50.8, 25.4]
lost_motion_mm = 2.54
travel_mm = [0, 254]
[tool]
at_mm = [0, 0, 127]
[turntable]
at_mm = [508, 0, 25.4]
[marks]
pin = { at_mm = [25.4, 0, 254] }
[instruments]
holes_mm = 2.54
touch_mm = 5.08
height_mm = 25.4
[accept]
tip_mm = 12.7
clearance_mm = 2.54
[[keep_out]]
name = "a"
box = { from_mm = [0, 0, 0], to_mm = [25.4, 50.8, 127] }
[[keep_out]]
name = "b"
cylinder = { at_mm = [254, 0, 0], radius_mm = 25.4, height_mm = 50.8 }
[[keep_out]]
name = "c"
half_space = { at_mm = [0, 0, 25.4], free = [0, 0, 1] }
[[arm.body]]
on = "j1"
from_mm = [0, 0, 254]
to_mm = [25.4, 0, 254]
radius_mm = 50.8
"#;
    let inches = r#"
[track]
at_in = [10, -2, 1]
lost_motion_in = 0.1
travel_in = [0, 10]
[tool]
at_in = [0, 0, 5]
[turntable]
at_in = [20, 0, 1]
[marks]
pin = { at_in = [1, 0, 10] }
[instruments]
holes_in = 0.1
touch_in = 0.2
height_in = 1
[accept]
tip_in = 0.5
clearance_in = 0.1
[[keep_out]]
name = "a"
box = { from_in = [0, 0, 0], to_in = [1, 2, 5] }
[[keep_out]]
name = "b"
cylinder = { at_in = [10, 0, 0], radius_in = 1, height_in = 2 }
[[keep_out]]
name = "c"
half_space = { at_in = [0, 0, 1], free = [0, 0, 1] }
[[arm.body]]
on = "j1"
from_in = [0, 0, 10]
to_in = [1, 0, 10]
radius_in = 2
"#;
    let least_mm = LEAST.replace("pitch_mm = 25\n", "pitch_x_mm = 25.4\npitch_y_mm = 50.8\n");
    let least_in = LEAST
        .replace("pitch_mm = 25\n", "pitch_x_in = 1\npitch_y_in = 2\n")
        .replace("[0, 0, 100]", "[0, 0, 5]")
        .replace("through_mm", "through_in")
        .replace("at_mm = [200, 0, 100]", "at_in = [10, 0, 5]");
    let least_mm = least_mm
        .replace("through_mm = [0, 0, 100]", "through_mm = [0, 0, 127]")
        .replace("at_mm = [200, 0, 100]", "at_mm = [254, 0, 127]");
    let a = good(&format!("{least_mm}{mm}"));
    let mut b = good(&format!("{least_in}{inches}"));
    assert!(b.plate.in_inches && !a.plate.in_inches);
    b.plate.in_inches = false;
    assert_eq!(format!("{a:?}"), format!("{b:?}"));
}

#[test]
fn unknowns_may_be_nested_and_keep_the_order_of_the_file() {
    let text = format!(
        "{LEAST}[solve]\n\"tool.z\" = 0.5\nmarks.pin.x = 2\nmarks.pin.y = \"free\"\ntrack = {{ yaw = 1 }}\n\"arm.j1.zero\" = \"free\"\n"
    );
    let cell = good(&text);
    let names: Vec<_> = cell.solve.iter().map(|u| u.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "tool.z",
            "marks.pin.x",
            "marks.pin.y",
            "track.yaw",
            "arm.j1.zero"
        ]
    );
    // LEAST has 18 lines and [solve] is the 19th; the column is that of the last part of the key.
    assert_eq!((cell.solve[2].line, cell.solve[2].column), (22, 11));
}

#[test]
fn a_leaning_flange_axis_is_made_perpendicular() {
    // 0.0099° of lean: tan = 1.7279e-4.
    let cell = good(&LEAST.replace("x = [0, 0, -1]", "x = [0.00017279, 0, -1]"));
    let axes = cell.nominal.flange_axes;
    assert_eq!(axes.column(2).as_slice(), [1.0, 0.0, 0.0]);
    close(
        (axes.transpose() * axes - nalgebra::Matrix3::identity()).norm(),
        0.0,
    );
    close(axes.determinant(), 1.0);
}

#[test]
fn listed_notches_and_halves_of_holes() {
    let text = format!(
        "{LEAST}[turntable]\nat_mm = [0, 0, 0]\nscale = -2\nnotch_angles_deg = [0, 45.2, -90]\n[marks]\nmid = {{ hole = [1.5, 2] }}\n"
    );
    let cell = good(&text);
    let notches = cell.turntable.unwrap().notches_rad;
    close(notches[1].to_degrees(), 45.2);
    close(notches[2].to_degrees(), -90.0);
    close(cell.nominal.turntable.unwrap().scale_rad.to_degrees(), -2.0);
    assert_eq!(cell.nominal.marks_mm[0].as_slice(), [37.5, 50.0, 0.0]);
}

#[test]
fn a_hole_off_the_plate_is_a_warning() {
    let (cell, problems) = read(&format!("{LEAST}[marks]\noff = {{ hole = [4, 2] }}\n"));
    assert!(cell.is_some());
    assert_eq!(problems.len(), 1);
    assert_eq!(problems[0].severity, Severity::Warning);
    assert_eq!((problems[0].line, problems[0].column), (Some(20), Some(16)));
    assert!(problems[0].expected.contains("column from 0 to 3"));
}

#[test]
fn a_file_too_large_is_not_read() {
    let (_, problems) = read(&"#".repeat(MAX_CELL_BYTES + 1));
    assert!(problems[0].found.contains("4194305 bytes"));
    assert!(problems[0].expected.contains("4194304 bytes"));
}

#[test]
fn every_mistake_of_a_file_is_reported_in_its_order() {
    let text = LEAST
        .replace("format = 1", "format = 2")
        .replace("pitch_mm = 25", "pitch_mm = -25")
        .replace("columns = 4", "columns = 4.5")
        .replace("axis = [0, 1, 0]", "axis = [0, \"1\", nan]")
        .replace("[0, 45.5]", "[45.5, 0]")
        .replace("z = [1, 0, 0]", "zz = [1, 0, 0]")
        + "[tol]\nat_mm = 3\n[mount]\nat_mm = 3\n";
    let (_, problems) = read(&text);
    let places: Vec<_> = problems
        .iter()
        .map(|p| (p.line.unwrap(), p.column.unwrap()))
        .collect();
    let by_hand = [
        (1, 10),
        (4, 12),
        (5, 11),
        (12, 12),
        (12, 17),
        (14, 14),
        (17, 1),
        (19, 2),
        (22, 9),
    ];
    assert_eq!(places, by_hand);
}

/// Line, column and field of each message.
fn outline(text: &str) -> Vec<(usize, usize, String)> {
    let one = |p: &Problem| {
        let field = p.field.clone().unwrap_or_default();
        (p.line.unwrap(), p.column.unwrap(), field)
    };
    read(text).1.iter().map(one).collect()
}

#[test]
fn what_a_cell_lacks_is_said() {
    let fields = |text: &str| outline(text).into_iter().map(|o| o.2).collect::<Vec<_>>();
    assert_eq!(fields(""), ["format", "name", "plate", "arm"]);
    let (_, problems) = read("");
    assert_eq!((problems[2].line, problems[2].column), (Some(1), Some(1)));
    assert!(problems[3].advice.contains("[[arm.joint]]"));
    // LEAST has 18 lines.
    let platter = format!("{LEAST}[marks]\np = {{ frame = \"platter\", at_mm = [0, 0, 0] }}\n");
    assert_eq!(outline(&platter), [(20, 15, "marks.p.frame".to_owned())]);
    assert!(read(&platter).1[0].expected.contains("[turntable]"));
    let flangeless = LEAST.split("[arm.flange]").next().unwrap();
    assert_eq!(outline(flangeless), [(7, 3, "arm.flange".to_owned())]);
}

#[test]
fn a_joint_too_few_or_too_many() {
    let joint =
        "[[arm.joint]]\naxis = [0, 1, 0]\nthrough_mm = [0, 0, 100]\nlimits_deg = [0, 45.5]\n";
    let one = LEAST.replacen(joint, "", 1);
    let eight = LEAST.replacen(joint, &joint.repeat(7), 1);
    for (text, found) in [(one, "1 joint"), (eight, "8 joints")] {
        assert_eq!(outline(&text), [(7, 1, "arm.joint".to_owned())]);
        assert_eq!(read(&text).1[0].found, found);
    }
    let single = LEAST
        .replacen(joint, "", 1)
        .replace("[[arm.joint]]", "[arm.joint]");
    assert_eq!(outline(&single), [(7, 1, "arm.joint".to_owned())]);
    assert!(read(&single).1[0].advice.contains("double brackets"));
}

#[test]
fn syntax_and_meaning_are_reported_together_without_echoes() {
    // The open list hides what follows it, but not what stands before it.
    let text = LEAST
        .replace("rows = 3", "rows = -3")
        .replace("[0, 0, 2]", "[0, 0, 2");
    assert_eq!(
        outline(&text),
        [(6, 8, "plate.rows".to_owned()), (9, 1, String::new())]
    );
    // A value without quotes hides nothing.
    let text = LEAST
        .replace("\"least\"", "least")
        .replace("rows = 3", "rows = -3");
    assert_eq!(
        outline(&text),
        [(2, 8, String::new()), (6, 8, "plate.rows".to_owned())]
    );
}

#[test]
fn deep_nesting_is_refused() {
    let dots = "a.".repeat(100_000);
    for deep in [
        format!("{dots}a = 1"),
        format!("[{dots}a]"),
        format!("a = {}", "[".repeat(100_000)),
    ] {
        let (_, problems) = read(&format!("{LEAST}{deep}"));
        assert_eq!(problems[0].line, Some(19));
        assert!(problems[0].advice.contains("nesting"), "{}", problems[0]);
    }
}

mod any_text {
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn never_panics(text in any::<String>()) {
            super::read(&text);
        }

        #[test]
        fn never_panics_on_what_looks_like_toml(
            text in r#"([a-z_]{1,3}|[\[\]{}=.,"'#\n\r \\é-]|[0-9]{1,2}|nan|"free"){0,60}"#
        ) {
            super::read(&text);
        }

        #[test]
        fn never_panics_on_a_cell_with_a_slip(
            from in 0..super::WHOLE.len(),
            len in 0..8_usize,
            put in r#"[\[\]{}=.,"'#\n a-z0-9-]{0,4}"#,
        ) {
            let to = (from + len).min(super::WHOLE.len());
            if let (Some(a), Some(b)) = (super::WHOLE.get(..from), super::WHOLE.get(to..)) {
                super::read(&format!("{a}{put}{b}"));
            }
        }
    }
}
