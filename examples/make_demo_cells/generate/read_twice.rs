//! `read-twice`: the bench of `slips` without slips; readings taken again, and some kept to check with.

use std::path::Path;

use notchpin::cell::Belongs;

use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::slips::SOLVED;
use super::slips::truth;

const DOWN: f64 = -90.0;

const POINTS: &str = "\
# Points to reach; an empty angle is free. (Invented.)
name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg
shelf,plate,1000,400,80,-90,,
tray,plate,850,300,30,-90,,
";

/// Touches: target, track, table, elevation.
pub(super) const TOUCHED: [(&str, &str, &str, f64); 10] = [
    ("pin_a", "20", "", -70.0),
    ("pin_b", "760", "", DOWN),
    ("pin_b", "890", "", -75.0),
    ("post", "240", "", -80.0),
    ("post", "420", "", DOWN),
    ("spigot", "560", "0", DOWN),
    ("spigot", "600", "20", DOWN),
    ("spigot", "420", "160", DOWN),
    ("rim_dot", "520", "30", DOWN),
    ("rim_dot", "450", "-120", DOWN),
];

pub fn make(root: &Path) -> Demo {
    let truth = truth(&SOLVED);
    let mut lab = Lab::new(root, "read-twice", 20_260_306, &truth);
    holes(
        &mut lab,
        3,
        "Holes from hole (0, 0) to the foot's edge; along the columns three times from each side. (Invented.)",
    );
    notches(
        &mut lab,
        "Every other notch brought to the switch twice from each side; read to 0.05 deg. (Invented.)",
    );
    touches(&mut lab);
    lab.plain("points.csv", POINTS);
    lab.taught(
        "Driven there by hand and read off the controller (invented).",
        &[(
            "tile_centre",
            Belongs::Platter,
            [0.0, 0.0, 20.0],
            lean(DOWN),
            550.0,
            0.0,
        )],
    );
    lab.finish()
}

/// Hole counts of the left foot, so many times along the columns.
pub(super) fn holes(lab: &mut Lab, runs: u32, remark: &str) {
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,count,gap_mm,track,approach",
        remark,
    );
    for run in 0..runs {
        for track in ["60", "300", "540", "780"] {
            for approach in ["up", "down"] {
                let fields = [
                    ("feature", "left_foot"),
                    ("along", "column"),
                    ("track", track),
                    ("approach", approach),
                ];
                sheet.count(&fields, "0.1");
                if run == 0 && (track == "60" || track == "780") {
                    let fields = [
                        ("feature", "left_foot"),
                        ("along", "row"),
                        ("track", track),
                        ("approach", approach),
                    ];
                    sheet.count(&fields, "0.1");
                }
            }
        }
    }
    sheet.done();
}

/// Every other notch, twice from each side.
pub(super) fn notches(lab: &mut Lab, remark: &str) {
    let mut sheet = lab.sheet("notch.csv", "notch,table,approach", remark);
    for k in [0, 2, 4, 6] {
        for approach in ["ccw", "cw", "ccw", "cw"] {
            let notch = k.to_string();
            let fields = [
                ("notch", notch.as_str()),
                ("table", "?"),
                ("approach", approach),
            ];
            sheet.row(&fields, 180.0 - 45.0 * f64::from(k), "0.05");
        }
    }
    sheet.done();
}

fn touches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "touch.csv",
        "target,track,table,j1,j2,j3,j4,j5,use,note",
        "The tip brought to pins and marks; one pin five times over, and four rows kept to check with. (Invented.)",
    );
    let mut touch = |target, track, table, elevation, role, note| {
        let fields = [
            ("target", target),
            ("track", track),
            ("table", table),
            ("use", role),
            ("note", note),
        ];
        sheet.touch(&fields, lean(elevation), [0.0; 3]);
    };
    for _ in 0..5 {
        touch(
            "pin_a",
            "180",
            "",
            DOWN,
            "",
            "driven away and back each time",
        );
    }
    for (target, track, table, elevation) in TOUCHED {
        touch(target, track, table, elevation, "", "");
    }
    for (target, track, table, elevation) in [
        ("12:7", "480", "", DOWN),
        ("17:8", "620", "", -75.0),
        ("spigot", "600", "-110", DOWN),
        ("rim_dot", "500", "60", DOWN),
    ] {
        touch(
            target,
            track,
            table,
            elevation,
            "check",
            "by another person",
        );
    }
    sheet.done();
}
