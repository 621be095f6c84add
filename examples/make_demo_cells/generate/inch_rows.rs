//! `inch-rows`: an inch plate, the track along the rows, a table that counts clockwise.

use std::path::Path;

use notchpin::cell::Belongs;

use super::lab::Aim;
use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;

const SEED: u64 = 20_260_202;
const DOWN: f64 = -90.0;
const INCH: f64 = 25.4;

const TRUTH: [(&str, f64); 18] = [
    ("track.x", 129.3),
    ("track.y", 99.2),
    ("track.z", 64.1),
    ("track.yaw", 89.63),
    ("track.pitch", -0.09),
    ("track.roll", 0.13),
    ("track.lost_motion", 0.7),
    ("arm.j1.zero", -0.9),
    ("arm.j2.zero", 0.7),
    ("arm.j3.zero", -0.5),
    ("arm.j4.zero", 0.8),
    ("tool.z", 87.9),
    ("turntable.x", 485.1),
    ("turntable.y", 504.6),
    ("turntable.z", 90.1),
    ("turntable.index", -2.8),
    ("turntable.lost_motion", 0.5),
    ("turntable.switch", 88.9),
];

const POINTS: &str = "\
# Points to reach, in inches; an empty angle is free. (Invented.)
name,frame,x_in,y_in,z_in,elevation_deg,azimuth_deg,roll_deg
seed_bin,plate,16,10,3,-90,,0
label_roll,plate,15,32,4,-60,,0
tray_hub,platter,0,0,0.8,-90,,0
tray_edge,platter,0,3,0.8,-80,,0
";

pub fn make(root: &Path) -> Demo {
    let mut lab = Lab::new(root, "inch-rows", SEED, &TRUTH);
    holes(&mut lab);
    notches(&mut lab);
    touches(&mut lab);
    attitudes(&mut lab);
    heights(&mut lab);
    lab.plain("points.csv", POINTS);
    let aim = Aim {
        roll: Some(0.0),
        ..lean(DOWN)
    };
    lab.taught(
        "Driven there by hand and read off the controller; the track in inches. (Invented.)",
        &[
            (
                "tray_pick",
                Belongs::Plate,
                [15.0 * INCH, 30.0 * INCH, 2.0 * INCH],
                aim,
                24.0,
                0.0,
            ),
            (
                "tray_corner",
                Belongs::Platter,
                [2.0 * INCH, 2.0 * INCH, INCH],
                aim,
                15.0,
                20.0,
            ),
        ],
    );
    lab.finish()
}

fn holes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,from,count,gap_in,track,approach",
        "Holes to the edge of each foot; the gap by a rule in hundredths of an inch. (Invented.)",
    );
    for (feature, along, track) in [
        ("front_foot", "row", "2"),
        ("front_foot", "row", "14"),
        ("front_foot", "row", "26"),
        ("rear_foot", "row", "8"),
        ("rear_foot", "row", "22"),
        ("front_foot", "column", "2"),
        ("front_foot", "column", "28"),
        ("rear_foot", "column", "2"),
        ("rear_foot", "column", "28"),
    ] {
        for approach in ["up", "down"] {
            let fields = [
                ("feature", feature),
                ("along", along),
                ("track", track),
                ("approach", approach),
            ];
            sheet.count(&fields, "0.01");
        }
    }
    sheet.done();
}

fn notches(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "notch.csv",
        "notch,table,approach",
        "Twelve notches at the switch, each with the table turning ccw and cw, seen from above.
        The table's reading rises clockwise. (Invented.)",
    );
    for k in 0..12 {
        // scale -1: the reading that brings notch k to the switch rises with k.
        let drawn = (30.0 * f64::from(k) - 90.0 + 180.0).rem_euclid(360.0) - 180.0;
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
        "target,track,approach_track,table,approach_table,j1,j2,j3,j4,j5,dz_in,left_in,right_in,axes",
        "The tip brought to pins, a gauge block, holes (column:row) and marks of the platter.
        Offsets and play in inches. (Invented.)",
    );
    let mut at = |target, track, table, more: &[(&str, &str)], elevation, away| {
        let mut fields = vec![("target", target), ("track", track), ("table", table)];
        fields.extend(more);
        sheet.touch(&fields, lean(elevation), away);
    };
    let none = [0.0; 3];
    at("near_pin", "3", "", &[("approach_track", "up")], DOWN, none);
    at(
        "near_pin",
        "8",
        "",
        &[("approach_track", "down")],
        -70.0,
        none,
    );
    at(
        "far_pin",
        "25",
        "",
        &[("left_in", "0.02"), ("right_in", "0.01")],
        DOWN,
        none,
    );
    at(
        "far_pin",
        "29",
        "",
        &[("approach_track", "up")],
        -75.0,
        none,
    );
    at("block", "6", "", &[], -65.0, none);
    at("block", "13", "", &[("dz_in", "0.5")], DOWN, none);
    at("15:24", "18", "", &[("axes", "z")], DOWN, [4.0, 2.0, 0.0]);
    at(
        "16:28.5",
        "22",
        "",
        &[("axes", "xy")],
        -80.0,
        [0.0, 0.0, 5.0],
    );
    at("hub", "15", "0", &[("approach_table", "cw")], DOWN, none);
    at("hub", "12", "80", &[("approach_table", "cw")], -75.0, none);
    at("hub", "18", "-95", &[("approach_table", "ccw")], DOWN, none);
    at(
        "hub",
        "20",
        "170",
        &[("approach_table", "ccw")],
        -70.0,
        none,
    );
    at(
        "edge",
        "16",
        "-40",
        &[("approach_table", "ccw")],
        DOWN,
        none,
    );
    at(
        "edge",
        "13",
        "-150",
        &[("axes", "z")],
        DOWN,
        [2.0, -3.0, 0.0],
    );
    at(
        "edge",
        "17",
        "60",
        &[("left_in", "0.01"), ("right_in", "0.02")],
        -80.0,
        none,
    );
    sheet.done();
}

fn attitudes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "attitude.csv",
        "kind,body,axis,toward,by,angle_deg,track,j1,j2,j3,j4,j5",
        "Links and tool set level or plumb with a square that stands on the plate. (Invented.)",
    );
    for (track, toward) in [
        ("4", "left"),
        ("4", "ahead"),
        ("26", "left"),
        ("26", "ahead"),
    ] {
        let fields = [
            ("kind", "plumb"),
            ("body", "j1"),
            ("axis", "z"),
            ("toward", toward),
            ("angle_deg", "?"),
            ("track", track),
            ("j1", "0"),
        ];
        sheet.row(&fields, 0.0, "0.05");
    }
    for (track, j1) in [("4", "0"), ("26", "-50")] {
        let fields = [
            ("kind", "plumb"),
            ("body", "j2"),
            ("axis", "z"),
            ("by", "square"),
            ("track", track),
            ("j1", j1),
            ("j2", "?"),
        ];
        sheet.row(&fields, 0.0, "0.01");
        let fields = [
            ("kind", "level"),
            ("body", "j3"),
            ("axis", "x"),
            ("by", "square"),
            ("track", track),
            ("j1", j1),
            ("j2", "30"),
            ("j3", "?"),
        ];
        sheet.row(&fields, -30.0, "0.01");
        let fields = [
            ("kind", "plumb"),
            ("body", "tool"),
            ("axis", "-z"),
            ("track", track),
            ("j1", j1),
            ("j2", "20"),
            ("j3", "-10"),
            ("j4", "?"),
            ("j5", "0"),
        ];
        sheet.row(&fields, 80.0, "0.01");
    }
    sheet.done();
}

fn heights(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "height.csv",
        "of,over,height_in,track,j1,j2,j3,j4,j5",
        "Heights in inches by a height gauge on the plate, or of one pivot over another. (Invented.)",
    );
    for track in ["1", "15", "29"] {
        let fields = [
            ("of", "j2"),
            ("height_in", "?"),
            ("track", track),
            ("j1", "0"),
        ];
        sheet.row(&fields, 9.0, "0.01");
    }
    let fields = [
        ("of", "j3"),
        ("over", "j2"),
        ("height_in", "?"),
        ("track", "15"),
        ("j1", "0"),
        ("j2", "45"),
    ];
    sheet.row(&fields, 6.0, "0.01");
    for (track, j4) in [("10", "70"), ("20", "90")] {
        let fields = [
            ("of", "tip"),
            ("height_in", "?"),
            ("track", track),
            ("j1", "0"),
            ("j2", "40"),
            ("j3", "0"),
            ("j4", j4),
            ("j5", "0"),
        ];
        sheet.row(&fields, 3.0, "0.01");
    }
    sheet.done();
}
