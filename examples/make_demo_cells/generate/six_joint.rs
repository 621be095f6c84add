//! `six-joint`: no track, six joints, notches that are not evenly spaced.

use std::path::Path;

use notchpin::cell::Belongs;

use super::lab::Aim;
use super::lab::Demo;
use super::lab::Lab;

const SEED: u64 = 20_260_506;

const TRUTH: [(&str, f64); 16] = [
    ("mount.x", 203.1),
    ("mount.y", 297.8),
    ("mount.z", 12.6),
    ("mount.yaw", -0.55),
    ("mount.pitch", 0.1),
    ("mount.roll", -0.12),
    ("arm.j2.zero", 0.6),
    ("arm.j3.zero", -0.7),
    ("arm.j5.zero", 0.5),
    ("tool.z", 75.8),
    ("turntable.x", 552.4),
    ("turntable.y", 377.9),
    ("turntable.z", 60.7),
    ("turntable.index", 2.3),
    ("turntable.lost_motion", 0.4),
    ("turntable.switch", -91.2),
];

const POINTS: &str = "\
# Points to reach; an empty angle is free. (Invented.)
name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg
gauge_rest,plate,480,200,60,-90,,
dial_face,plate,500,420,120,-45,20,0
hub_test,platter,0,0,25,-90,0,0
";

/// Elevation and azimuth, the hand not turned.
fn aim(elevation: f64, azimuth: f64) -> Aim {
    Aim {
        elevation,
        azimuth: Some(azimuth),
        roll: Some(0.0),
    }
}

pub fn make(root: &Path) -> Demo {
    let mut lab = Lab::new(root, "six-joint", SEED, &TRUTH);
    notches(&mut lab);
    touches(&mut lab);
    attitudes(&mut lab);
    heights(&mut lab);
    lab.plain("points.csv", POINTS);
    lab.taught(
        "Driven there by hand and read off the controller. (Invented.)",
        &[
            (
                "tray_left",
                Belongs::Plate,
                [450.0, 450.0, 40.0],
                aim(-90.0, 0.0),
                0.0,
                0.0,
            ),
            (
                "ring_seat",
                Belongs::Platter,
                [40.0, 20.0, 20.0],
                aim(-80.0, 10.0),
                0.0,
                25.0,
            ),
        ],
    );
    lab.finish()
}

fn notches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "notch.csv",
        "notch,table,approach",
        "Five notches at the switch, from both sides. (Invented.)",
    );
    for (notch, angle) in [
        ("0", 0.0),
        ("1", 50.0),
        ("2", 115.0),
        ("3", 190.0),
        ("4", 280.0),
    ] {
        let drawn = (-90.0 - angle + 180.0_f64).rem_euclid(360.0) - 180.0;
        for approach in ["up", "down"] {
            let fields = [("notch", notch), ("table", "?"), ("approach", approach)];
            sheet.row(&fields, drawn, "0.05");
        }
    }
    sheet.done();
}

fn touches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "touch.csv",
        "target,table,approach_table,j1,j2,j3,j4,j5,j6,dz_mm,axes",
        "The tip brought to pins, a step and marks of the platter, the tool leaning differently
        each time. (Invented.)",
    );
    for (target, elevation, azimuth) in [
        ("corner", -90.0, 0.0),
        ("corner", -60.0, -40.0),
        ("pin_far", -80.0, 30.0),
        ("pin_far", -55.0, -10.0),
        ("step", -90.0, -20.0),
        ("step", -65.0, -60.0),
        ("7:10", -75.0, 60.0),
        ("9:6", -85.0, 20.0),
    ] {
        sheet.touch(&[("target", target)], aim(elevation, azimuth), [0.0; 3]);
    }
    sheet.touch(
        &[("target", "8:3"), ("dz_mm", "20")],
        aim(-90.0, 0.0),
        [0.0; 3],
    );
    for (target, table, way, elevation, azimuth) in [
        ("peg", "0", "ccw", -90.0, 0.0),
        ("peg", "95", "ccw", -70.0, 20.0),
        ("peg", "-130", "cw", -75.0, 0.0),
        ("peg", "170", "ccw", -85.0, -20.0),
        ("scribe", "-60", "cw", -90.0, 0.0),
        ("scribe", "60", "ccw", -70.0, 10.0),
    ] {
        let fields = [
            ("target", target),
            ("table", table),
            ("approach_table", way),
        ];
        sheet.touch(&fields, aim(elevation, azimuth), [0.0; 3]);
    }
    sheet.done();
}

fn attitudes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "attitude.csv",
        "kind,body,axis,toward,angle_deg,j1,j2,j3,j4,j5,j6",
        "Judged with a square that stands on the plate. (Invented.)",
    );
    for (j1, toward) in [
        ("0", "ahead"),
        ("0", "left"),
        ("90", "ahead"),
        ("90", "left"),
    ] {
        let fields = [
            ("kind", "plumb"),
            ("body", "j1"),
            ("axis", "z"),
            ("toward", toward),
            ("angle_deg", "?"),
            ("j1", j1),
        ];
        sheet.row(&fields, 0.0, "0.05");
    }
    for j1 in ["0", "40"] {
        let fields = [
            ("kind", "plumb"),
            ("body", "j2"),
            ("axis", "z"),
            ("j1", j1),
            ("j2", "?"),
        ];
        sheet.row(&fields, 0.0, "0.01");
        let fields = [
            ("kind", "level"),
            ("body", "j3"),
            ("axis", "x"),
            ("j1", j1),
            ("j2", "20"),
            ("j3", "?"),
        ];
        sheet.row(&fields, -20.0, "0.01");
        let fields = [
            ("kind", "plumb"),
            ("body", "tool"),
            ("axis", "-z"),
            ("j1", j1),
            ("j2", "20"),
            ("j3", "10"),
            ("j4", "0"),
            ("j5", "?"),
            ("j6", "0"),
        ];
        sheet.row(&fields, 60.0, "0.01");
    }
    sheet.done();
}

fn heights(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "height.csv",
        "of,over,height_mm,j1,j2,j3,j4,j5,j6",
        "By a height gauge on the plate, or of one pivot over another. (Invented.)",
    );
    for j1 in ["0", "90"] {
        let fields = [("of", "j2"), ("height_mm", "?"), ("j1", j1)];
        sheet.row(&fields, 180.0, "0.1");
        let fields = [
            ("of", "j5"),
            ("over", "j2"),
            ("height_mm", "?"),
            ("j1", j1),
            ("j2", "30"),
            ("j3", "0"),
            ("j4", "0"),
        ];
        sheet.row(&fields, 200.0, "0.1");
    }
    sheet.done();
}
