//! `glaze-line`: the bench of `slips` with things to stay clear of, and tasks. `cell.toml`, `points.csv`
//! and the tasks are written by hand; the readings come from here.

use std::path::Path;

use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::slips::SOLVED;
use super::slips::truth;

const DOWN: f64 = -90.0;

pub fn make(root: &Path) -> Demo {
    let truth = truth(&SOLVED);
    let mut lab = Lab::new(root, "glaze-line", 20_260_401, &truth);
    holes(&mut lab);
    notches(&mut lab);
    touches(&mut lab);
    lab.finish()
}

fn holes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,count,gap_mm,track,approach",
        "Holes from hole (0, 0) to the foot's edge. (Invented.)",
    );
    for run in 0..2 {
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

fn notches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "notch.csv",
        "notch,table,approach",
        "Notches brought to the switch twice from each side; read to 0.05 deg. (Invented.)",
    );
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
        "target,track,table,j1,j2,j3,j4,j5",
        "The tip brought to pins and marks. (Invented.)",
    );
    let mut touch = |target, track, table, elevation| {
        let fields = [("target", target), ("track", track), ("table", table)];
        sheet.touch(&fields, lean(elevation), [0.0; 3]);
    };
    for (target, track, table, elevation) in [
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
    ] {
        touch(target, track, table, elevation);
    }
    for (target, track, table, elevation) in [
        ("12:7", "480", "", DOWN),
        ("17:8", "620", "", -75.0),
        ("5:7", "60", "", -75.0),
        ("24:7", "880", "", -80.0),
        ("spigot", "600", "-110", DOWN),
        ("rim_dot", "500", "60", DOWN),
    ] {
        touch(target, track, table, elevation);
    }
    sheet.done();
}
