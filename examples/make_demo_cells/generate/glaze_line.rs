//! `glaze-line`: the bench of `slips` with things to stay clear of, and tasks. `cell.toml`, `points.csv`
//! and the tasks are written by hand; the readings come from here.

use std::path::Path;

use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::read_twice::TOUCHED;
use super::read_twice::holes;
use super::read_twice::notches;
use super::slips::SOLVED;
use super::slips::truth;

const DOWN: f64 = -90.0;

pub fn make(root: &Path) -> Demo {
    let truth = truth(&SOLVED);
    let mut lab = Lab::new(root, "glaze-line", 20_260_401, &truth);
    holes(
        &mut lab,
        2,
        "Holes from hole (0, 0) to the foot's edge. (Invented.)",
    );
    notches(
        &mut lab,
        "Notches brought to the switch twice from each side; read to 0.05 deg. (Invented.)",
    );
    touches(&mut lab);
    lab.finish()
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
    for (target, track, table, elevation) in TOUCHED {
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
