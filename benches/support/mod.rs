//! Made-up cells of any size for measuring. The values mean nothing; their number and kind do.

use notchpin::cell;
use notchpin::diagnose::Problems;
use notchpin::parameters::Unknowns;
use notchpin::readings::stand::Stand;
use notchpin::registration::Bench;
use notchpin::registration::resolve_unknowns;

const CELL: &str = r#"
format = 1
name = "made up for measuring"
[plate]
pitch_mm = 50.0
columns = 30
rows = 16
[marks]
spigot = { frame = "platter", at_mm = [80.0, 0.0, 12.0] }
[track]
at_mm = [150.0, 100.0, 62.0]
travel_mm = [0.0, 900.0]
features.left_foot = [-60.0, 85.0, 0.0]
features.right_foot = [-60.0, -85.0, 0.0]
[mount]
at_mm = [0.0, 0.0, 18.0]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-165, 165]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [0, 0, 230]
limits_deg = [-110, 120]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [220, 0, 230]
limits_deg = [-145, 145]
[[arm.joint]]
axis = [0, 1, 0]
through_mm = [400, 0, 230]
limits_deg = [-115, 115]
[[arm.joint]]
axis = [1, 0, 0]
through_mm = [420, 0, 230]
limits_deg = [-180, 180]
[arm.flange]
at_mm = [420, 0, 230]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 110]
[turntable]
at_mm = [700.0, 450.0, 95.0]
switch_deg = 180.0
notches = 8
[solve]
"#;

/// 15 unknowns.
pub const FEW: &[&str] = &[
    "track.x=free",
    "track.y=free",
    "track.z=2.0",
    "track.yaw=free",
    "track.lost_motion=free",
    "turntable.x=free",
    "turntable.y=free",
    "turntable.z=2.0",
    "turntable.index=free",
    "turntable.lost_motion=free",
    "arm.j2.zero=3.0",
    "arm.j3.zero=3.0",
    "arm.j4.zero=3.0",
    "arm.j5.zero=3.0",
    "tool.z=1.0",
];

/// 25 more.
pub const MORE: &[&str] = &[
    "track.pitch=0.2",
    "track.roll=0.2",
    "track.scale=0.01",
    "mount.yaw=1.0",
    "mount.pitch=0.2",
    "mount.roll=0.2",
    "arm.j1.zero=3.0",
    "arm.j2.scale=0.01",
    "arm.j3.scale=0.01",
    "arm.j4.scale=0.01",
    "arm.j2.x=1.0",
    "arm.j3.x=1.0",
    "arm.j3.z=1.0",
    "arm.j4.x=1.0",
    "arm.j4.z=1.0",
    "tool.x=1.0",
    "tool.y=1.0",
    "turntable.tilt_x=0.5",
    "turntable.tilt_y=0.5",
    "turntable.scale=0.01",
    "turntable.switch=1.0",
    "turntable.ecc_cos=0.5",
    "turntable.ecc_sin=0.5",
    "marks.spigot.x=1.0",
    "marks.spigot.y=1.0",
];

/// A repeatable stream of numbers in [−1, 1) (SplitMix64; Steele, Lea, Flood 2014).
pub struct Stream(pub u64);

impl Stream {
    /// The next number.
    pub fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// A cell with `counts` hole counts, `notches` notches and `touches` touches, and some levels.
pub fn bench(unknown: &[&str], counts: usize, notches: usize, touches: usize) -> (Bench, Unknowns) {
    let mut text = CELL.to_owned();
    for line in unknown {
        let (name, value) = line.split_once('=').expect("name=value");
        let value = if value == "free" { "\"free\"" } else { value };
        text.push_str(&format!("\"{name}\" = {value}\n"));
    }
    let mut problems = Problems::default();
    let cell = cell::parse("cell.toml", &text, &mut problems).expect("a good cell");
    let unknowns = resolve_unknowns(&cell, "cell.toml", &mut problems).expect("known names");
    // The truth is a little off the drawing.
    let mut truth = cell.nominal.clone();
    let mut stream = Stream(7);
    let drawn = unknowns.read(&truth);
    let off: Vec<f64> = drawn.iter().map(|v| v + 0.004 * stream.next()).collect();
    unknowns.write(&off, &mut truth);
    let mut files = vec![
        (
            "holes.csv",
            "feature,along,from,count,gap_mm,track,approach\n".to_owned(),
        ),
        ("notch.csv", "notch,table,approach\n".to_owned()),
        (
            "touch.csv",
            "target,track,table,j1,j2,j3,j4,j5,dx_mm,dy_mm,dz_mm\n".to_owned(),
        ),
        (
            "attitude.csv",
            "kind,body,axis,angle_deg,j1,j2,j3,j4,j5\n".to_owned(),
        ),
    ];
    let side = |k: usize| if k.is_multiple_of(2) { "up" } else { "down" };
    for k in 0..counts {
        let track = 10.0 * (40.0 + 40.0 * stream.next()).round();
        let (foot, along, at) = match k % 4 {
            0 => ("left_foot", "column", 90.0 + track),
            1 => ("right_foot", "column", 90.0 + track),
            2 => ("left_foot", "row", 185.0),
            _ => ("right_foot", "row", 15.0),
        };
        let count = (at / 50.0_f64).floor();
        let gap = at - 50.0 * count + 0.3 * stream.next();
        files[0].1 += &format!("{foot},{along},,{count},{gap:.2},{track},{}\n", side(k / 4));
    }
    for k in 0..notches {
        let notch = k % 8;
        let turn = 180.0 - 45.0 * notch as f64 + 0.1 * stream.next();
        files[1].1 += &format!("{notch},{turn:.2},{}\n", side(k / 8));
    }
    for k in 0..touches {
        let mut stand = Stand {
            track: (450.0 + 400.0 * stream.next()).round(),
            table: (170.0 * stream.next()).round(),
            ..Stand::default()
        };
        for (reading, most) in stand.joints.iter_mut().zip([120.0, 60.0, 90.0, 60.0, 90.0]) {
            *reading = (10.0 * most * stream.next()).round() / 10.0;
        }
        let tip = stand.arm(&truth, 5).tip_mm;
        let platter = k % 3 == 0;
        let (name, place) = match platter {
            true => {
                let table = stand.turntable(&truth).expect("a turntable");
                (
                    "spigot".to_owned(),
                    table.platter_axes * truth.marks_mm[0] + table.centre_mm,
                )
            }
            false => ("12:4".to_owned(), nalgebra::Vector3::new(600.0, 200.0, 0.0)),
        };
        let d = tip - place;
        let noise = [0, 1, 2].map(|_| 0.4 * stream.next());
        let j = stand.joints;
        files[2].1 += &format!(
            "{name},{},{},{},{},{},{},{},{:.3},{:.3},{:.3}\n",
            stand.track,
            stand.table,
            j[0],
            j[1],
            j[2],
            j[3],
            j[4],
            d.x + noise[0],
            d.y + noise[1],
            d.z + noise[2]
        );
        if k % 4 == 0 {
            files[3].1 += &format!(
                "level,j2,x,{:.2},{},{},{},{},{}\n",
                -10.0 + 0.1 * stream.next(),
                j[0],
                10.0,
                j[2],
                j[3],
                j[4]
            );
        }
    }
    let mut bench = Bench::new(cell);
    for (file, text) in &files {
        bench.read(file, file, text.as_bytes(), &mut problems);
    }
    assert!(!problems.has_errors(), "{:?}", problems.iter().next());
    (bench, unknowns)
}
