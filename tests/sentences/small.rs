//! A small cell, and what can be amiss with it.

use std::collections::BTreeSet;

use serde_json::Value;

use super::Folder;

/// A small cell: an arm of two joints on a track beside a turntable.
pub const CELL: &str = r#"format = 1
name = "small bench"
[plate]
pitch_mm = 50.0
columns = 30
rows = 16
[marks]
spigot = { frame = "platter", at_mm = [80.0, 0.0, 12.0] }
[track]
at_mm = [150.0, 100.0, 60.0]
travel_mm = [0.0, 900.0]
features.foot = [-60.0, 85.0, 0.0]
[[arm.joint]]
name = "turn"
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-170, 170]
[[arm.joint]]
name = "lift"
axis = [0, -1, 0]
through_mm = [0, 0, 100]
limits_deg = [-90, 90]
[arm.flange]
at_mm = [300, 0, 100]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 100]
[turntable]
at_mm = [700.0, 450.0, 95.0]
index_deg = 0.0
switch_deg = 180.0
notches = 8
[solve]
"track.x" = "free"
"track.y" = "free"
"track.yaw" = "free"
"turntable.index" = "free"
"#;

/// foot at x = 150 − 60 + r and y = 100 + 85: 90 + 10 = 2 · 50, 90 + 422 = 10 · 50 + 12, 185 = 3 · 50 + 35.
/// The last digits differ by a little, as hand readings do.
pub const HOLES: &str = "feature,along,from,count,gap_mm,track,approach
foot,column,,2,0.2,10,up
foot,column,,10,11.9,422,up
foot,column,,18,0.1,810,down
foot,row,,3,35.1,10,
foot,row,,3,34.8,422,
foot,row,,3,35.2,810,
";
/// The table reads 180 − 45 k where notch k stands at the switch.
pub const NOTCH: &str = "notch,table,approach
0,180.05,up
2,89.95,up
5,-44.98,up
";
/// Both joints at 0: the tip stands 400 mm ahead of the base, at z = 160.
pub const TOUCH: &str = "target,track,j1,j2,dz_mm,dx_mm,dy_mm
13:2,100,0,0,160.1,0.1,0.1
17:2,300,0,0,159.8,-0.1,0
";

pub fn good() -> Folder {
    Folder::new(CELL)
        .with("readings/holes.csv", HOLES)
        .with("readings/notch.csv", NOTCH)
        .with("readings/touch.csv", TOUCH)
}

/// The twin of `good` with a count that is one hole off.
pub fn miscounted() -> Folder {
    good().with(
        "readings/holes.csv",
        &HOLES.replace("column,,10,", "column,,11,"),
    )
}

/// Nothing tells the table's index.
pub fn undetermined() -> Folder {
    Folder::new(CELL).with("readings/holes.csv", HOLES)
}

pub const TIP: [&str; 5] = [
    "tip",
    "--track=300",
    "--table=45",
    "--joints=10,20",
    "--json",
];

pub fn narrow(text: &str) {
    for line in text.lines() {
        assert!(
            line.chars().count() <= 100,
            "{} columns:\n{line}",
            line.chars().count()
        );
    }
}

pub fn keys(value: &Value) -> BTreeSet<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}
