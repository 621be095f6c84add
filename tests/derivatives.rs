//! Every derivative of every reading by every parameter against central differences, away from the
//! nominal values: angles that are not 0, scales that are not 1, play that is not 0.

mod bench;

use std::collections::BTreeSet;

use bench::Read;
use nalgebra::DMatrix;
use nalgebra::Matrix3;
use nalgebra::Vector3;
use notchpin::cell::Belongs;
use notchpin::cell::Geometry;
use notchpin::fit::spread::Spread;
use notchpin::kinematics::MAX_JOINTS;
use notchpin::parameters::Parameter;
use notchpin::parameters::TABLE;
use notchpin::parameters::Unknowns;
use notchpin::points::tip_place;
use notchpin::readings::stand::Stand;
use notchpin::units::Approach;

/// Nothing at 0 or 1: a missing factor shows.
const CELL: &str = r#"format = 1
name = "askew"
[plate]
pitch_x_mm = 50.0
pitch_y_mm = 40.0
columns = 30
rows = 16
tilt_x_deg = 3.0
tilt_y_deg = -4.0
[marks]
pins = { hole = [3.5, 2] }
gauge = { at_mm = [610.0, 240.0, 25.0] }
spigot = { frame = "platter", at_mm = [80.0, -31.0, 12.0] }
[track]
at_mm = [150.0, 100.0, 62.0]
yaw_deg = 11.0
pitch_deg = -5.0
roll_deg = 7.0
scale = 1.003
lost_motion_mm = 0.6
features.left_foot = [-60.0, 85.0, 4.0]
features.nose = [70.0, 6.0, 5.0]
[mount]
at_mm = [3.0, -2.0, 18.0]
yaw_deg = -8.0
pitch_deg = 6.0
roll_deg = -3.0
[[arm.joint]]
axis = [0.1, -0.05, 1]
through_mm = [4, -7, 50]
limits_deg = [-165, 165]
scale = 0.97
zero_deg = 3.0
lost_motion_deg = 0.4
[[arm.joint]]
axis = [0.05, -1, 0.1]
through_mm = [40, -18, 176]
limits_deg = [-130, 130]
scale = -1.05
zero_deg = -5.0
lost_motion_deg = 0.2
[[arm.joint]]
axis = [0, -1, 0.07]
through_mm = [268, -15, 180]
limits_deg = [-150, 150]
scale = 0.9
zero_deg = 4.0
[[arm.joint]]
axis = [-1, 0.08, 0.1]
through_mm = [480, -18, 176]
limits_deg = [-170, 175]
scale = 1.1
zero_deg = 9.0
[arm.flange]
at_mm = [528, -18, 176]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [5, -9, 95]
yaw_deg = 21.0
pitch_deg = -13.0
roll_deg = 8.0
[turntable]
at_mm = [700, 430, 95]
tilt_x_deg = 4.0
tilt_y_deg = -6.0
scale = -0.9
index_deg = 33.0
lost_motion_deg = 0.7
switch_deg = 171.0
notch_angles_deg = [0, 44.0, 91.5]
ecc_cos_deg = 0.8
ecc_sin_deg = -0.5
"#;

const HOLES: &str = "feature,along,from,count,gap_mm,track,approach
left_foot,column,,8,3.2,125.5,up
nose,row,pins,-1,12.0,311.2,down
nose,column,gauge,2.5,0,40.0,
left_foot,row,gauge,0,1,700,up
";
const NOTCH: &str = "notch,table,approach
0,-201.5,ccw
1,33.0,down
2,97.0,
";
const TOUCH: &str = "target,track,table,j1,j2,j3,j4,dx_mm,dy_mm,dz_mm,left_mm,right_mm,axes,approach_track,approach_table
pins,101.5,,20,-30,41,15,1,2,3,0.9,-0.5,,up,
12:4,433.1,,-31,24,-17,75,1,2,3,,,,down,
gauge,433.1,,77,24,-67,-75,0,0,0,2.5,0.2,zx,,
spigot,201.0,41.5,15,33,-24,8,1,2,3,,,,down,cw
spigot,701.0,-141.5,-75,13,54,-38,1,2,3,1.9,0.4,yz,up,up
spigot,301.0,-11.5,-15,13,54,-38,1,2,3,,,x,,
";
const ATTITUDE: &str = "kind,body,axis,toward,by,angle_deg,track,j1,j2,j3,j4
level,plate,x,,bubble,1,,,,,
level,plate,-y,,bubble,1,,,,,
level,plate,x,,,0,,,,,
plumb,plate,z,,bubble,0,5,14,,,
plumb,plate,z,left,bubble,0,5,-104,,,
level,j1,x,,,3,7,33,,,
level,j2,x,,bubble,5,7,33,20,,
level,j3,-x,,,5,7,-33,20,-40,
level,flange,z,,bubble,5,7,-33,20,-40,16
level,tool,z,,,5,7,-33,20,-40,16
plumb,j2,z,,,5,7,-33,20,-40,16
plumb,j3,z,left,,5,7,-33,20,-40,16
plumb,flange,-x,,bubble,5,7,-33,20,-40,16
plumb,tool,x,left,bubble,5,7,50,20,-40,16
plumb,tool,y,ahead,square,5,7,50,20,-40,16
";
const HEIGHT: &str = "of,over,height_mm,track,j1,j2,j3,j4
j1,,100,200,,,,
j3,,300,200,40,-30,,
j4,j2,300,200,40,-30,22,
j2,j4,300,200,40,-30,22,
tip,,300,600,-40,-30,22,50
tip,j3,300,600,-40,30,62,50
";

fn askew() -> Read {
    bench::read(
        CELL,
        &[
            ("holes.csv", HOLES),
            ("notch.csv", NOTCH),
            ("touch.csv", TOUCH),
            ("attitude.csv", ATTITUDE),
            ("height.csv", HEIGHT),
        ],
    )
}

/// (f(x + h) − f(x − h)) / 2h, its error taken down once more by halving h (Richardson).
fn slope(x: f64, h: f64, mut f: impl FnMut(f64) -> [f64; 3]) -> [f64; 3] {
    let mut central = |h: f64| {
        let (a, b) = (f(x + h), f(x - h));
        [0, 1, 2].map(|k| (a[k] - b[k]) / (2.0 * h))
    };
    let (wide, narrow) = (central(h), central(h / 2.0));
    [0, 1, 2].map(|k| (4.0 * narrow[k] - wide[k]) / 3.0)
}

fn moved(geometry: &Geometry, parameter: &Parameter, value: f64) -> Geometry {
    let mut copy = geometry.clone();
    parameter.set(&mut copy, value);
    copy
}

/// A step that moves things by about a tenth: mm, or rad.
fn step(parameter: &Parameter) -> f64 {
    match parameter.unit().as_str() {
        "mm" => 0.1,
        "deg" => 1e-3,
        _ => 1e-5,
    }
}

#[test]
fn every_reading_by_every_parameter() {
    let read = askew();
    let bench = &read.bench;
    let all = Parameter::all(&bench.cell);
    let unknowns = Unknowns::new(all.iter().map(|(_, p)| (*p, None)).collect());
    let nominal = &bench.cell.nominal;
    let mut seen = BTreeSet::new();
    let mut kinds = BTreeSet::new();
    for taken in &bench.taken {
        let mut by = vec![[0.0; 3]; unknowns.len()];
        let at = taken.reading.evaluate(nominal, &unknowns, Some(&mut by));
        let alone = taken.reading.evaluate(nominal, &Unknowns::default(), None);
        assert_eq!(at.value, alone.value, "{:?}", taken.reading);
        kinds.insert(taken.reading.file());
        for ((name, parameter), analytic) in all.iter().zip(&by) {
            let numeric = slope(parameter.get(nominal), step(parameter), |value| {
                let geometry = moved(nominal, parameter, value);
                let nothing = Unknowns::default();
                taken.reading.evaluate(&geometry, &nothing, None).value
            });
            for k in 0..3 {
                // Residuals are up to 1000 mm: 1000 · 2⁻⁵² / h of rounding, and as much of h⁴.
                let allowed = 1e-12 * 1000.0 / step(parameter) + 1e-7 * numeric[k].abs();
                assert!(
                    (analytic[k] - numeric[k]).abs() <= allowed.max(1e-9),
                    "{} line {} component {k} by {name}: {} in the code, {} by differences",
                    taken.reading.file(),
                    taken.line,
                    analytic[k],
                    numeric[k],
                );
                if numeric[k].abs() > 1e-3 {
                    seen.insert(parameter.spec().pattern);
                }
            }
        }
    }
    let table: BTreeSet<_> = TABLE.iter().map(|spec| spec.pattern).collect();
    assert_eq!(seen, table, "parameters that no reading here depends on");
    let files: BTreeSet<_> = notchpin::readings::FILES.iter().copied().collect();
    assert_eq!(kinds, files, "kinds of readings that are not tested here");
}

/// The differences themselves, on a parabola.
#[test]
fn the_differences_can_disagree() {
    let wrong = slope(2.0, 1e-3, |x| [x * x, x, 1.0]);
    // By hand: d(x²)/dx at 2 is 4.
    assert!((wrong[0] - 4.0).abs() < 1e-9 && (wrong[1] - 1.0).abs() < 1e-9 && wrong[2] == 0.0);
}

fn postures() -> Vec<Stand> {
    let stand = |track, table, j: [f64; 4]| {
        let mut joints = [0.0; MAX_JOINTS];
        joints[..4].copy_from_slice(&j);
        Stand {
            track,
            table,
            joints,
            ..Stand::default()
        }
    };
    vec![
        stand(120.0, 40.0, [20.0, -30.0, 41.0, 15.0]),
        stand(640.0, -163.0, [-75.0, 33.0, -24.0, -60.0]),
    ]
}

/// The tip in a frame, in mm, as `points` gives it.
fn tip(geometry: &Geometry, stand: &Stand, frame: Belongs) -> [f64; 3] {
    tip_place(geometry, stand, frame).unwrap().at_mm.into()
}

/// G by differences of the tip, and C some full matrix: `G C Gᵀ + Σ (b/2)² g gᵀ`.
#[test]
fn the_spread_of_the_tip() {
    let read = askew();
    let nominal = &read.bench.cell.nominal;
    let all = Parameter::all(&read.bench.cell);
    let unknowns = Unknowns::new(all.iter().map(|(_, p)| (*p, None)).collect());
    let n = all.len();
    // L Lᵀ of a matrix without structure; entries scaled so that every unknown matters about alike.
    let root = DMatrix::from_fn(n, n, |i, j| {
        let unit = step(&all[i].1);
        unit * ((i * 37 + j * 101) as f64 * 0.7).sin()
    });
    let covariance = &root * root.transpose();
    let spread = Spread::new(nominal, &unknowns, &covariance);
    let mut moves_something = BTreeSet::new();
    for stand in postures() {
        for frame in [Belongs::Plate, Belongs::Platter] {
            let columns = columns(nominal, &all, &stand, frame);
            for (column, (_, parameter)) in columns.iter().zip(&all) {
                if column.norm() > 1e-3 {
                    moves_something.insert(parameter.spec().pattern);
                }
            }
            let g = DMatrix::from_fn(3, n, |i, j| columns[j][i]);
            let expected = &g * &covariance * g.transpose() + play(nominal, &stand, frame);
            let got = spread.at(&stand, frame).covariance_mm2;
            compare(&got, &expected);
        }
    }
    // All that moves the tip or the platter; the rest (dial, gravity, marks, features) does not.
    // An approach is not known here, so the lost motions have no column; they have their own term.
    let expected: BTreeSet<_> = TABLE
        .iter()
        .map(|s| s.pattern)
        .filter(|p| !p.ends_with("lost_motion") && !p.contains("switch") && !p.contains("ecc_"))
        .filter(|p| {
            !["plate.", "marks.", "features."]
                .iter()
                .any(|f| p.starts_with(f))
        })
        .filter(|p| !["tool.yaw", "tool.pitch", "tool.roll"].contains(p))
        .collect();
    assert_eq!(moves_something, expected);
}

/// The miss on returning: `(G₁ − G₀) C (G₁ − G₀)ᵀ` plus the play at both.
#[test]
fn the_spread_on_returning() {
    let read = askew();
    let nominal = &read.bench.cell.nominal;
    let all = Parameter::all(&read.bench.cell);
    let unknowns = Unknowns::new(all.iter().map(|(_, p)| (*p, None)).collect());
    let n = all.len();
    let covariance = DMatrix::from_fn(n, n, |i, j| {
        let unit = step(&all[i].1) * step(&all[j].1);
        unit * if i == j { 2.0 } else { 0.01 }
    });
    let spread = Spread::new(nominal, &unknowns, &covariance);
    let [then, now] = [postures()[0], postures()[1]];
    for frame in [Belongs::Plate, Belongs::Platter] {
        let (a, b) = (
            columns(nominal, &all, &then, frame),
            columns(nominal, &all, &now, frame),
        );
        let g = DMatrix::from_fn(3, n, |i, j| b[j][i] - a[j][i]);
        let expected = &g * &covariance * g.transpose()
            + play(nominal, &then, frame)
            + play(nominal, &now, frame);
        compare(
            &spread.returning(&then, &now, frame).covariance_mm2,
            &expected,
        );
    }
}

fn columns(
    nominal: &Geometry,
    all: &[(String, Parameter)],
    stand: &Stand,
    frame: Belongs,
) -> Vec<Vector3<f64>> {
    all.iter()
        .map(|(_, parameter)| {
            let at = parameter.get(nominal);
            slope(at, step(parameter), |value| {
                tip(&moved(nominal, parameter, value), stand, frame)
            })
            .into()
        })
        .collect()
}

/// Σ (b/2)² g gᵀ with g by differences: a value of an axis moves as its zero does, the travel as a
/// reading of the track times its scale.
fn play(nominal: &Geometry, stand: &Stand, frame: Belongs) -> DMatrix<f64> {
    let mut sum = DMatrix::zeros(3, 3);
    let mut add = |lost: f64, g: [f64; 3]| {
        let g = Vector3::from(g);
        sum += DMatrix::from_fn(3, 3, |i, j| lost * lost / 4.0 * g[i] * g[j]);
    };
    let track = nominal.track.unwrap();
    add(
        track.lost_motion_mm,
        slope(0.0, 0.1, |ds| {
            let track = stand.track + ds / nominal.track.unwrap().scale_mm;
            tip(nominal, &Stand { track, ..*stand }, frame)
        }),
    );
    for (index, joint) in nominal.joints.iter().enumerate() {
        add(
            joint.lost_motion_rad,
            slope(0.0, 1e-3, |turn| {
                let mut copy = nominal.clone();
                copy.joints[index].zero_rad += turn;
                tip(&copy, stand, frame)
            }),
        );
    }
    if frame == Belongs::Platter {
        add(
            nominal.turntable.unwrap().lost_motion_rad,
            slope(0.0, 1e-3, |turn| {
                let mut copy = nominal.clone();
                copy.turntable.as_mut().unwrap().index_rad += turn;
                tip(&copy, stand, frame)
            }),
        );
    }
    sum
}

fn compare(got: &Matrix3<f64>, expected: &DMatrix<f64>) {
    let largest = expected.diagonal().max();
    for i in 0..3 {
        for j in 0..3 {
            let d = got[(i, j)] - expected[(i, j)];
            assert!(d.abs() < 1e-7 * largest, "{i} {j}: {got} for {expected}");
        }
    }
}

/// `Approach` reaches the readings here: otherwise lost motion would have no derivative at all.
#[test]
fn rows_from_both_sides_are_among_them() {
    let read = askew();
    for side in [Approach::Up, Approach::Down, Approach::Unnoted] {
        let holes = read.bench.taken.iter().filter_map(|t| match &t.reading {
            notchpin::readings::Reading::HoleCount(h) => Some(h.stand.track_approach),
            _ => None,
        });
        assert!(holes.into_iter().any(|a| a == side), "{side:?}");
    }
}
