//! `slips` and `slips-undetermined`: a smaller bench of the same build as `glazing-bench`.

use std::path::Path;

use notchpin::cell::Belongs;

use super::glazing;
use super::lab::Demo;
use super::lab::Lab;
use super::lab::lean;
use super::sheet::Fields;

const DOWN: f64 = -90.0;

/// True values by name, those that the cell solves for.
pub(super) fn truth(wanted: &[&str]) -> Vec<(&'static str, f64)> {
    let all = glazing::TRUTH.iter().copied();
    all.filter(|(name, _)| wanted.contains(name)).collect()
}

const POINTS: &str = "\
# Points to reach; an empty angle is free. (Invented.)
name,frame,x_mm,y_mm,z_mm,elevation_deg,azimuth_deg,roll_deg
shelf,plate,1000,400,80,-90,,
tray,plate,850,300,30,-90,,
";

/// What the bench solves for, with the turntable.
pub(super) const SOLVED: [&str; 14] = [
    "track.x",
    "track.y",
    "track.z",
    "track.yaw",
    "track.lost_motion",
    "arm.j1.zero",
    "arm.j2.zero",
    "arm.j3.zero",
    "arm.j4.zero",
    "tool.z",
    "turntable.x",
    "turntable.y",
    "turntable.index",
    "turntable.lost_motion",
];

/// Three slips of the kind that happen: a count off by one, a notch number, an approach.
pub fn make(root: &Path) -> Demo {
    let truth = truth(&SOLVED);
    let mut lab = Lab::new(root, "slips", 20_260_304, &truth);
    holes(&mut lab, true);
    notches(&mut lab, true);
    touches(&mut lab, true);
    attitudes(&mut lab);
    lab.plain("points.csv", POINTS);
    lab.taught(
        "Driven there by hand and read off the controller (invented).",
        &[
            (
                "rack_pick",
                Belongs::Plate,
                [300.0, 420.0, 60.0],
                lean(DOWN),
                150.0,
                0.0,
            ),
            (
                "tile_centre",
                Belongs::Platter,
                [0.0, 0.0, 20.0],
                lean(DOWN),
                550.0,
                0.0,
            ),
        ],
    );
    lab.finish()
}

/// Index and switch both free, and no touch of a mark on the platter: only their difference shows.
pub fn make_undetermined(root: &Path) -> Demo {
    let truth = truth(&[
        "track.x",
        "track.y",
        "track.z",
        "track.yaw",
        "track.lost_motion",
        "arm.j1.zero",
        "arm.j2.zero",
        "arm.j3.zero",
        "arm.j4.zero",
        "turntable.index",
        "turntable.lost_motion",
        "turntable.switch",
    ]);
    let mut lab = Lab::new(root, "slips-undetermined", 20_260_305, &truth);
    holes(&mut lab, false);
    notches(&mut lab, false);
    touches(&mut lab, false);
    attitudes(&mut lab);
    lab.plain("points.csv", POINTS);
    lab.taught(
        "Driven there by hand and read off the controller (invented).",
        &[(
            "rack_pick",
            Belongs::Plate,
            [300.0, 420.0, 60.0],
            lean(DOWN),
            150.0,
            0.0,
        )],
    );
    lab.finish()
}

fn holes(lab: &mut Lab, slip: bool) {
    let mut sheet = lab.sheet(
        "holes.csv",
        "feature,along,from,count,gap_mm,track,approach",
        "Holes from hole (0, 0) to the foot's edge, and what is left by a steel rule. (Invented.)",
    );
    for (feature, along, track) in [
        ("left_foot", "column", "60"),
        ("left_foot", "column", "420"),
        ("left_foot", "column", "780"),
        ("right_foot", "column", "240"),
        ("left_foot", "row", "60"),
        ("left_foot", "row", "780"),
        ("right_foot", "row", "420"),
    ] {
        for approach in ["up", "down"] {
            let fields: &Fields<'_> = &[
                ("feature", feature),
                ("along", along),
                ("track", track),
                ("approach", approach),
            ];
            sheet.count(fields, "0.1");
            if slip && (along, track, approach) == ("column", "420", "down") {
                sheet.slip("count", |right| {
                    let count: i32 = right.parse().expect("a whole count");
                    (count + 1).to_string()
                });
            }
        }
    }
    sheet.done();
}

fn notches(lab: &mut Lab, slips: bool) {
    let mut sheet = lab.sheet(
        "notch.csv",
        "notch,table,approach",
        "Each notch brought to the switch from both sides; read off the dial to 0.05 deg. (Invented.)",
    );
    for k in 0..8 {
        let drawn = 180.0 - 45.0 * f64::from(k);
        for approach in ["ccw", "cw"] {
            let notch = k.to_string();
            let fields = [
                ("notch", notch.as_str()),
                ("table", "?"),
                ("approach", approach),
            ];
            sheet.row(&fields, drawn, "0.05");
            match (k, approach) {
                (5, "cw") if slips => sheet.slip("notch", |_| "6".to_owned()),
                (2, "ccw") if slips => sheet.slip("approach", |_| "cw".to_owned()),
                _ => {}
            }
        }
    }
    sheet.done();
}

fn touches(lab: &mut Lab, platter: bool) {
    let mut sheet = lab.sheet(
        "touch.csv",
        "target,track,table,j1,j2,j3,j4,j5",
        "The tip brought to pins and posts, and to marks of the platter where there are any. (Invented.)",
    );
    for (target, track, elevation) in [
        ("pin_a", "20", DOWN),
        ("pin_a", "180", -70.0),
        ("pin_b", "760", DOWN),
        ("pin_b", "890", -75.0),
        ("post", "240", -80.0),
        ("post", "420", DOWN),
    ] {
        sheet.touch(
            &[("target", target), ("track", track)],
            lean(elevation),
            [0.0; 3],
        );
    }
    if platter {
        for (target, track, table) in [
            ("spigot", "560", "0"),
            ("spigot", "600", "20"),
            ("spigot", "420", "160"),
            ("spigot", "600", "-110"),
            ("rim_dot", "520", "30"),
            ("rim_dot", "450", "-120"),
        ] {
            let fields = [("target", target), ("track", track), ("table", table)];
            sheet.touch(&fields, lean(DOWN), [0.0; 3]);
        }
    }
    sheet.done();
}

fn attitudes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "attitude.csv",
        "kind,body,axis,by,track,j1,j2,j3,j4,j5",
        "Links and tool set level or plumb with a square that stands on the plate. (Invented.)",
    );
    let level = |body| {
        [
            ("kind", "level"),
            ("body", body),
            ("axis", "x"),
            ("by", "square"),
        ]
    };
    for (track, j1) in [("100", "0"), ("760", "45")] {
        let mut fields = level("j2").to_vec();
        fields.extend([("track", track), ("j1", j1), ("j2", "?")]);
        sheet.row(&fields, 0.0, "0.01");
        let mut fields = level("j3").to_vec();
        fields.extend([("track", track), ("j1", j1), ("j2", "-40"), ("j3", "?")]);
        sheet.row(&fields, 40.0, "0.01");
        let fields = [
            ("kind", "plumb"),
            ("body", "tool"),
            ("axis", "-z"),
            ("track", track),
            ("j1", j1),
            ("j2", "-50"),
            ("j3", "90"),
            ("j4", "?"),
            ("j5", "0"),
        ];
        sheet.row(&fields, 50.0, "0.01");
    }
    sheet.done();
}
