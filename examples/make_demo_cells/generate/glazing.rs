//! `glazing-bench`: a track along the columns, eight notches, all kinds of readings.

use std::path::Path;

use notchpin::cell::Belongs;

use super::glazing_arm;
use super::lab::Aim;
use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::sheet::Fields;

const SEED: u64 = 20_260_101;

/// Where things truly stand.
pub const TRUTH: [(&str, f64); 21] = [
    ("track.x", 153.4),
    ("track.y", 97.6),
    ("track.z", 62.9),
    ("track.yaw", 0.42),
    ("track.pitch", 0.11),
    ("track.roll", -0.16),
    ("track.lost_motion", 0.9),
    ("arm.j1.zero", 0.8),
    ("arm.j2.zero", -0.9),
    ("arm.j3.zero", 0.6),
    ("arm.j4.zero", -0.7),
    ("arm.j5.zero", 0.5),
    ("tool.z", 91.3),
    ("turntable.x", 704.2),
    ("turntable.y", 446.7),
    ("turntable.z", 95.8),
    ("turntable.index", 3.1),
    ("turntable.lost_motion", 0.6),
    ("turntable.switch", 181.7),
    ("plate.tilt_x", 0.12),
    ("plate.tilt_y", -0.2),
];

const DOWN: f64 = -90.0;

pub fn make(root: &Path) -> Demo {
    make_from(root, SEED)
}

/// The same bench with other noise.
pub fn make_from(root: &Path, seed: u64) -> Demo {
    let mut lab = Lab::new(root, "glazing-bench", seed, &TRUTH);
    holes(&mut lab);
    notches(&mut lab, 8);
    touches(&mut lab);
    glazing_arm::attitudes(&mut lab);
    glazing_arm::heights(&mut lab);
    lab.plain("points.csv", POINTS);
    let turned = |elevation, roll| Aim {
        roll: Some(roll),
        ..lean(elevation)
    };
    lab.taught(
        "Driven there by hand and read off the controller (invented).",
        &[
            (
                "rack_pick",
                Belongs::Plate,
                [300.0, 420.0, 60.0],
                turned(DOWN, 0.0),
                150.0,
                0.0,
            ),
            (
                "tile_centre",
                Belongs::Platter,
                [0.0, 0.0, 20.0],
                turned(DOWN, 0.0),
                550.0,
                0.0,
            ),
            (
                "tile_edge",
                Belongs::Platter,
                [70.0, -40.0, 20.0],
                turned(-60.0, 0.0),
                480.0,
                35.0,
            ),
        ],
    );
    lab.finish()
}

const POINTS: &str = "\
# Points to reach: place and direction of the tool. An empty angle is free.
# elevation -90 is straight down.
name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg
park,plate,400,420,150,-45,,0
kiln_shelf,plate,1000,400,80,-90,,0
tile_north,platter,0,80,20,-90,,0
tile_east,platter,80,0,20,-75,,0
drip_tray,plate,850,300,30,-90,,
";

/// Hole counts at both feet, each place reached from both sides.
fn holes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,from,count,gap_mm,track,approach,note",
        "Holes from hole (0, 0), or from the mark under `from`, to the foot's edge; the gap is what
        is left, by a steel rule. up: the carriage came with its reading rising. (Invented.)",
    );
    let mut both = |feature, along, from, track| {
        for approach in ["up", "down"] {
            let fields: &Fields<'_> = &[
                ("feature", feature),
                ("along", along),
                ("from", from),
                ("track", track),
                ("approach", approach),
            ];
            sheet.count(fields, "0.1");
        }
    };
    both("left_foot", "column", "", "60");
    both("left_foot", "column", "", "420");
    both("left_foot", "column", "pin_a", "780");
    both("right_foot", "column", "", "150");
    both("right_foot", "column", "", "640");
    both("left_foot", "row", "", "60");
    both("left_foot", "row", "", "780");
    both("right_foot", "row", "", "60");
    both("right_foot", "row", "", "420");
    both("right_foot", "row", "", "860");
    sheet.done();
}

/// Each notch at the switch, from both sides.
fn notches(lab: &mut Lab, count: u32) {
    let mut sheet = lab.sheet(
        "notch.csv",
        "notch,table,approach",
        "Each notch brought to the switch from both sides; read off the dial to 0.05 deg.
        ccw, cw: the table's turning seen from above. (Invented.)",
    );
    for k in 0..count {
        let drawn = 180.0 - 360.0 / f64::from(count) * f64::from(k);
        for approach in ["ccw", "cw"] {
            let notch = k.to_string();
            let fields = [
                ("notch", notch.as_str()),
                ("table", "?"),
                ("approach", approach),
            ];
            sheet.row(&fields, drawn, "0.05");
        }
    }
    sheet.done();
}

fn touches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "touch.csv",
        "target,track,approach_track,table,approach_table,j1,j2,j3,j4,j5,dx_mm,dy_mm,dz_mm,\
        left_mm,right_mm,axes,note",
        "The tip brought to pins, holes (column:row) and marks of the platter. left, right: how far
        the tip could be pushed by hand to either side, looking along the arm. axes: what counts,
        where the tip was not brought to the point in all three. (Invented.)",
    );
    let mut at = |target, track, table, more: &Fields<'_>, elevation, away| {
        let mut fields = vec![("target", target), ("track", track), ("table", table)];
        fields.extend(more);
        sheet.touch(&fields, lean(elevation), away);
    };
    let none = [0.0; 3];
    at("pin_a", "20", "", &[("approach_track", "up")], DOWN, none);
    at(
        "pin_a",
        "180",
        "",
        &[("approach_track", "down")],
        -70.0,
        none,
    );
    at(
        "pin_a",
        "60",
        "",
        &[("left_mm", "0.5"), ("right_mm", "0.3")],
        -60.0,
        none,
    );
    at("pin_b", "760", "", &[("approach_track", "up")], DOWN, none);
    at(
        "pin_b",
        "890",
        "",
        &[("left_mm", "0.2"), ("right_mm", "0.6")],
        -75.0,
        none,
    );
    at(
        "post",
        "240",
        "",
        &[("approach_track", "down")],
        -80.0,
        none,
    );
    at(
        "post",
        "400",
        "",
        &[("dz_mm", "10"), ("note", "on a 10 mm gauge block")],
        DOWN,
        none,
    );
    at(
        "9:7",
        "210",
        "",
        &[("axes", "xy"), ("note", "over the hole; 6 mm above")],
        DOWN,
        [0.0, 0.0, 6.0],
    );
    at(
        "13.5:6",
        "500",
        "",
        &[("axes", "z"), ("note", "on the plate between holes")],
        DOWN,
        [4.0, -3.0, 0.0],
    );
    at(
        "18:6",
        "640",
        "",
        &[("dx_mm", "5"), ("note", "5 mm past the hole by the rule")],
        -65.0,
        none,
    );
    at(
        "spigot",
        "560",
        "0",
        &[("approach_table", "ccw")],
        DOWN,
        none,
    );
    at(
        "spigot",
        "480",
        "70",
        &[("approach_table", "ccw")],
        -75.0,
        none,
    );
    at(
        "spigot",
        "420",
        "160",
        &[("approach_table", "cw"), ("approach_track", "up")],
        DOWN,
        none,
    );
    at(
        "spigot",
        "600",
        "-110",
        &[("approach_table", "cw")],
        -80.0,
        none,
    );
    at(
        "spigot",
        "650",
        "-45",
        &[("left_mm", "0.4"), ("right_mm", "0.3")],
        DOWN,
        none,
    );
    at(
        "rim_dot",
        "520",
        "30",
        &[("approach_table", "ccw")],
        DOWN,
        none,
    );
    at(
        "rim_dot",
        "450",
        "-120",
        &[("axes", "xy"), ("approach_table", "cw")],
        -70.0,
        [0.0, 0.0, 4.0],
    );
    at(
        "rim_dot",
        "620",
        "100",
        &[("axes", "z")],
        DOWN,
        [3.0, 2.0, 0.0],
    );
    sheet.done();
}
