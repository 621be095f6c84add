//! `shifted-track`: half a year of one bench. Commissioned in March, read again in June and September while
//! the table's belt creeps and the track wears; in November the track is found moved by a hole, a little
//! turned. `cell.toml` and `README.md` are written by hand; the readings come from here.

use std::path::Path;

use notchpin::cell::Belongs;

use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::read_twice::TOUCHED;
use super::read_twice::notches;
use super::slips::SOLVED;
use super::slips::truth;

const DOWN: f64 = -90.0;

const POINTS: &str = "\
# Points to reach; an empty angle is free. (Invented.)
name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg
shelf,plate,1000,400,80,-90,,
tray,plate,850,300,30,-90,,
";

/// What creeps and wears in a month: the index of the table, the play of track and table.
const INDEX_DEG: f64 = 0.06;
const TRACK_PLAY_MM: f64 = 0.05;

pub fn make(root: &Path) -> Demo {
    let truth = truth(&SOLVED);
    let mut lab = Lab::new(root, "shifted-track", 20_260_302, &truth);
    lab.plain("points.csv", POINTS);
    lab.taught(
        "Driven there by hand after the registration of March and read off the controller (invented).",
        &[
            ("rack_pick", Belongs::Plate, [300.0, 420.0, 60.0], lean(DOWN), 150.0, 0.0),
            ("rack_place", Belongs::Plate, [420.0, 440.0, 60.0], lean(DOWN), 250.0, 0.0),
            ("tile_centre", Belongs::Platter, [0.0, 0.0, 20.0], lean(DOWN), 550.0, 0.0),
            ("tile_north", Belongs::Platter, [60.0, 40.0, 20.0], lean(-80.0), 500.0, 45.0),
        ],
    );
    everything(&mut lab, "March", "readings");
    // Two months later nothing is wrong yet.
    aged(&mut lab, 2.0);
    few(&mut lab, "May", "2026-05");
    aged(&mut lab, 1.0);
    everything(&mut lab, "June", "2026-06");
    aged(&mut lab, 3.0);
    everything(&mut lab, "September", "2026-09");
    aged(&mut lab, 2.0);
    // The track was unscrewed to clean under it, and screwed down again a hole further on.
    let turn = 0.21_f64;
    lab.shift("track.x", 50.6);
    lab.shift("track.y", -0.9);
    lab.shift("track.yaw", turn);
    few(&mut lab, "a Monday in November", "2026-11-found");
    six(&mut lab);
    lab.finish()
}

fn aged(lab: &mut Lab, months: f64) {
    lab.shift("turntable.index", INDEX_DEG * months);
    lab.shift("track.lost_motion", TRACK_PLAY_MM * months);
}

/// All that a registration of the whole bench takes.
fn everything(lab: &mut Lab, month: &str, folder: &'static str) {
    lab.goes_to(folder);
    let remark = format!("{month}: holes from hole (0, 0) to the foot's edge. (Invented.)");
    super::read_twice::holes(lab, 2, &remark);
    notches(
        lab,
        &format!(
            "{month}: notches brought to the switch twice from each side; read to 0.05 deg. (Invented.)"
        ),
    );
    let comment = format!("{month}: the tip brought to pins and marks. (Invented.)");
    let mut sheet = lab.sheet("touch.csv", "target,track,table,j1,j2,j3,j4,j5", &comment);
    let more = [
        ("12:7", "480", "", DOWN),
        ("17:8", "620", "", -75.0),
        ("5:7", "120", "", -75.0),
        ("24:7", "880", "", -80.0),
        ("spigot", "600", "-110", DOWN),
        ("rim_dot", "500", "60", DOWN),
    ];
    for (target, track, table, elevation) in TOUCHED.into_iter().chain(more) {
        let fields = [("target", target), ("track", track), ("table", table)];
        sheet.touch(&fields, lean(elevation), [0.0; 3]);
    }
    sheet.done();
}

/// Three touches and a notch: as little as shows whether all is well.
fn few(lab: &mut Lab, when: &str, folder: &'static str) {
    lab.goes_to(folder);
    let comment = format!("{when}: a pin, a post and a mark of the platter touched. (Invented.)");
    let mut sheet = lab.sheet("touch.csv", "target,track,table,j1,j2,j3,j4,j5", &comment);
    for (target, track, table) in [
        ("pin_a", "60", ""),
        ("post", "300", ""),
        ("spigot", "560", "0"),
    ] {
        let fields = [("target", target), ("track", track), ("table", table)];
        sheet.touch(&fields, lean(DOWN), [0.0; 3]);
    }
    sheet.done();
    let comment = format!("{when}: one notch brought to the switch. (Invented.)");
    let mut sheet = lab.sheet("notch.csv", "notch,table,approach", &comment);
    sheet.row(
        &[("notch", "2"), ("table", "?"), ("approach", "ccw")],
        90.0,
        "0.05",
    );
    sheet.done();
}

/// Six readings that see where the track lies.
fn six(lab: &mut Lab) {
    lab.goes_to("2026-11-after");
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,count,gap_mm,track,approach",
        "After the move: holes from hole (0, 0) to the left foot's edge, near both ends of the travel. (Invented.)",
    );
    for (along, track) in [("column", "60"), ("row", "60"), ("row", "780")] {
        let fields = [
            ("feature", "left_foot"),
            ("along", along),
            ("track", track),
            ("approach", "up"),
        ];
        sheet.count(&fields, "0.1");
    }
    sheet.done();
    let mut sheet = lab.sheet(
        "touch.csv",
        "target,track,table,j1,j2,j3,j4,j5",
        "After the move: two pins and the spigot touched. (Invented.)",
    );
    for (target, track, table) in [
        ("pin_a", "100", ""),
        ("pin_b", "760", ""),
        ("spigot", "480", "20"),
    ] {
        let fields = [("target", target), ("track", track), ("table", table)];
        sheet.touch(&fields, lean(DOWN), [0.0; 3]);
    }
    sheet.done();
}
