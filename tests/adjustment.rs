//! The joint adjustment as a whole: truths come back, and what should not matter does not.

mod bench;

use bench::Read;
use notchpin::parameters::Parameter;
use notchpin::parameters::Unknowns;
use notchpin::readings::Reading;
use notchpin::registration::Verdict;
use proptest::prelude::*;
use proptest::test_runner::Config;
use proptest::test_runner::RngAlgorithm;
use proptest::test_runner::TestRng;
use proptest::test_runner::TestRunner;

/// Places that can be wrong by a hole, a notch or a quarter turn; millimetres or inches.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    track: [f64; 3],
    track_yaw: f64,
    j1_zero: f64,
    table: [f64; 3],
    index: f64,
    lost_motion: f64,
    /// Shift of everything on the plate, mm.
    shift: [f64; 2],
}

const PLAIN: Drawn = Drawn {
    track: [150.0, 100.0, 62.0],
    track_yaw: 0.0,
    j1_zero: 0.0,
    table: [700.0, 430.0, 95.0],
    index: 0.0,
    lost_motion: 0.0,
    shift: [0.0, 0.0],
};

#[derive(Debug, Clone, Copy, PartialEq)]
enum Ruler {
    Mm,
    Inch,
}

impl Ruler {
    fn suffix(self) -> &'static str {
        if self == Ruler::Inch { "in" } else { "mm" }
    }
    fn of(self, mm: f64) -> f64 {
        if self == Ruler::Inch { mm / 25.4 } else { mm }
    }
}

/// The cell file. `free` leaves the places free and holds the rest near its nominal value.
fn cell(d: &Drawn, ruler: Ruler) -> String {
    let (l, s) = (|mm: f64| ruler.of(mm), ruler.suffix());
    let [sx, sy] = d.shift;
    format!(
        r#"format = 1
name = "property"
[plate]
pitch_{s} = {pitch:?}
columns = 60
rows = 60
[marks]
pins = {{ at_{s} = [{px:?}, {py:?}, {zero:?}] }}
post = {{ at_{s} = [{qx:?}, {qy:?}, {qz:?}] }}
spigot = {{ frame = "platter", at_{s} = [{mx:?}, {zero:?}, {mz:?}] }}
rim = {{ frame = "platter", at_{s} = [{rx:?}, {ry:?}, {mz:?}] }}
[track]
at_{s} = [{tx:?}, {ty:?}, {tz:?}]
yaw_deg = {yaw:?}
scale = 1.0
features.left_foot = [-60.0, 85.0, 0.0]
features.nose = [70.0, 0.0, 5.0]
[mount]
at_{s} = [0, 0, {mount:?}]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 50]
limits_deg = [-165, 165]
zero_deg = {j1:?}
[[arm.joint]]
axis = [0, -1, 0]
through_mm = [40, -18, 176]
limits_deg = [-130, 130]
[[arm.joint]]
axis = [0, -1, 0]
through_mm = [268, -18, 176]
limits_deg = [-150, 150]
[arm.flange]
at_mm = [460, -18, 176]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_{s} = [0, 0, {tool:?}]
[turntable]
at_{s} = [{cx:?}, {cy:?}, {cz:?}]
index_deg = {index:?}
lost_motion_deg = {lost:?}
switch_deg = 180.0
notches = 8
[solve]
"track.x" = "free"
"track.y" = "free"
"track.z" = "free"
"track.yaw" = "free"
"arm.j1.zero" = "free"
"arm.j2.zero" = 2.0
"turntable.x" = "free"
"turntable.y" = "free"
"turntable.z" = "free"
"turntable.index" = "free"
"turntable.lost_motion" = "free"
"tool.z" = 3.0
"#,
        pitch = l(50.0),
        zero = 0.0,
        px = l(150.0 + sx),
        py = l(100.0 + sy),
        qx = l(300.0 + sx),
        qy = l(330.0 + sy),
        qz = l(40.0),
        mx = l(80.0),
        mz = l(12.0),
        rx = l(-45.0),
        ry = l(60.0),
        tx = l(d.track[0] + sx),
        ty = l(d.track[1] + sy),
        tz = l(d.track[2]),
        yaw = d.track_yaw,
        mount = l(18.0),
        j1 = d.j1_zero,
        tool = l(95.0),
        cx = l(d.table[0] + sx),
        cy = l(d.table[1] + sy),
        cz = l(d.table[2]),
        index = d.index,
        lost = d.lost_motion,
    )
}

/// Rows without what was measured: `?` stands for it.
const HOLES: &[&str] = &[
    "left_foot,column,pins,3,?,100,up",
    "left_foot,column,pins,7,?,300,down",
    "left_foot,row,pins,2,?,100,up",
    "nose,row,pins,4,?,700,down",
    "nose,column,,12,?,500,",
    "nose,row,,3,?,400,",
];
const NOTCH: &[&str] = &["0,?,up", "2,?,down", "3,?,up", "5,?,down", "7,?,up"];
const TOUCH: &[&str] = &[
    "pins,120,0,20,-40,-30,?",
    "post,260,0,-35,25,-60,?",
    "post,650,0,140,-10,35,?",
    "spigot,400,30,50,-20,-45,?",
    "spigot,620,-100,-70,40,-70,?",
    "rim,500,77,10,15,-80,?",
    "rim,300,171,95,-30,20,?",
    "8:5,200,0,-120,35,-25,?",
];

/// Readings that the truth would give exactly (plus `noise`, in units of 1 mm, 0.1°), as files.
///
/// Each row is read with 0 for what was measured; the residual at the truth is then what must be
/// noted. The model itself is tested elsewhere (independent.rs); here only the way back.
fn files(
    truth: &Drawn,
    ruler: Ruler,
    mut noise: impl FnMut() -> f64,
) -> Vec<(&'static str, String)> {
    let s = ruler.suffix();
    let read = |file: &str, header: &str, row: &str| -> Reading {
        let text = format!("{header}\n{row}\n");
        bench::read(&cell(truth, Ruler::Mm), &[(file, &text)])
            .bench
            .taken[0]
            .reading
            .clone()
    };
    let nominal = bench::read(&cell(truth, Ruler::Mm), &[]).bench.cell.nominal;
    let residual = |reading: &Reading| reading.evaluate(&nominal, &Unknowns::default(), None).value;
    let mut holes = format!("feature,along,from,count,gap_{s},track,approach\n");
    for row in HOLES {
        // A mark keeps its place among the holes; a count from hole (0, 0) grows with the shift.
        let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
        if cells[2].is_empty() {
            let along = usize::from(cells[1] == "row");
            let count: f64 = cells[3].parse().unwrap();
            cells[3] = format!("{}", count + truth.shift[along] / 50.0);
        }
        let row = cells.join(",");
        let bare = row.replace('?', "0");
        let gap = residual(&read(
            "holes.csv",
            "feature,along,from,count,gap_mm,track,approach",
            &bare,
        ))[0];
        holes += &(row.replace('?', &format!("{:?}", ruler.of(gap + noise()))) + "\n");
    }
    let mut notch = "notch,table,approach\n".to_owned();
    for row in NOTCH {
        // The residual falls by what is taken off the table's reading (scale 1).
        let bare = row.replace('?', "0");
        let turn = residual(&read("notch.csv", "notch,table,approach", &bare))[0].to_degrees();
        notch += &(row.replace('?', &format!("{:?}", -turn + 0.1 * noise())) + "\n");
    }
    let header = "target,track,table,j1,j2,j3,dx_mm,dy_mm,dz_mm";
    let mut touch = header.replace("_mm", &format!("_{s}")) + "\n";
    for row in TOUCH {
        let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
        if let Some((column, line)) = cells[0].split_once(':') {
            let hole =
                |text: &str, along: usize| text.parse::<f64>().unwrap() + truth.shift[along] / 50.0;
            cells[0] = format!("{}:{}", hole(column, 0), hole(line, 1));
        }
        let row = cells.join(",");
        let d = residual(&read("touch.csv", header, &row.replace('?', "0,0,0")));
        let d = d.map(|v| format!("{:?}", ruler.of(v + noise()))).join(",");
        touch += &(row.replace('?', &d) + "\n");
    }
    vec![
        ("holes.csv", holes),
        ("notch.csv", notch),
        ("touch.csv", touch),
    ]
}

fn solve(drawn: &Drawn, ruler: Ruler, files: &[(&'static str, String)]) -> Read {
    let files: Vec<(&str, &str)> = files.iter().map(|(n, t)| (*n, t.as_str())).collect();
    bench::read(&cell(drawn, ruler), &files)
}

/// Values that the truth has, in the order of `[solve]`.
fn true_values(truth: &Drawn) -> Vec<f64> {
    let read = bench::read(&cell(truth, Ruler::Mm), &[]);
    let values = read.unknowns.read(&read.bench.cell.nominal);
    let list = read.unknowns.list.iter().zip(values);
    list.map(|((p, _), v)| v / Parameter::unit(p).in_code())
        .collect()
}

/// The same cases on every run.
fn runner(cases: u32) -> TestRunner {
    let config = Config {
        cases,
        failure_persistence: None,
        ..Config::default()
    };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

fn truths() -> impl Strategy<Value = Drawn> {
    let near = |at: f64, by: f64| at - by..at + by;
    (
        (
            near(150.0, 30.0),
            near(100.0, 30.0),
            near(62.0, 4.0),
            near(0.0, 8.0),
        ),
        near(0.0, 8.0),
        (near(700.0, 40.0), near(430.0, 40.0), near(95.0, 5.0)),
        near(0.0, 20.0),
        near(0.3, 0.3),
    )
        .prop_map(
            |((x, y, z, yaw), j1_zero, (cx, cy, cz), index, lost_motion)| Drawn {
                track: [x, y, z],
                track_yaw: yaw,
                j1_zero,
                table: [cx, cy, cz],
                index,
                lost_motion,
                shift: [0.0, 0.0],
            },
        )
}

/// How the drawing is wrong: holes along x and y, and quarter turns; notches of the index.
fn slips() -> impl Strategy<Value = (i32, i32, i32, i32, i32)> {
    (-1..=1, -1..=1, -1..=1, -1..=1, -2..=2)
}

/// Fixed noise of about one part of the stated uncertainty: no randomness, no pattern.
fn noise(size: f64) -> impl FnMut() -> f64 {
    let mut k = 0.0_f64;
    move || {
        k += 1.0;
        size * (k * k * 1.7 + 0.3).sin()
    }
}

#[test]
fn exact_readings_bring_the_truth_back_from_any_start() {
    let cases = (truths(), slips());
    let check = |(truth, (x, y, yaw, j1, index)): (Drawn, (i32, i32, i32, i32, i32))| {
        let drawn = Drawn {
            track: [
                truth.track[0] + 50.0 * f64::from(x),
                truth.track[1] + 50.0 * f64::from(y),
                truth.track[2] - 2.0,
            ],
            track_yaw: truth.track_yaw + 90.0 * f64::from(yaw),
            j1_zero: truth.j1_zero + 90.0 * f64::from(j1),
            index: truth.index + 45.0 * f64::from(index),
            lost_motion: 0.0,
            ..truth
        };
        let read = solve(&drawn, Ruler::Mm, &files(&truth, Ruler::Mm, || 0.0));
        let found = read.determined();
        for ((name, value), wanted) in read.values(&found).iter().zip(true_values(&truth)) {
            prop_assert!(
                (value - wanted).abs() < 1e-7,
                "{name}: {value}, truth {wanted}"
            );
        }
        prop_assert!(
            found.assessment.chi2 < 1e-12,
            "chi2 {}",
            found.assessment.chi2
        );
        Ok(())
    };
    runner(96).run(&cases, check).unwrap();
}

#[test]
fn the_order_of_rows_changes_nothing() {
    let shuffles = Just((HOLES.len(), NOTCH.len(), TOUCH.len())).prop_flat_map(|(h, n, t)| {
        let mixed = |count: usize| Just((0..count).collect::<Vec<_>>()).prop_shuffle();
        (mixed(h), mixed(n), mixed(t))
    });
    let straight = files(&PLAIN, Ruler::Mm, noise(0.2));
    let read = solve(&PLAIN, Ruler::Mm, &straight);
    let first = read.determined();
    let check = |(holes, notch, touch): (Vec<usize>, Vec<usize>, Vec<usize>)| {
        let mixed: Vec<_> = straight
            .iter()
            .zip([holes, notch, touch])
            .map(|((name, text), order)| {
                let lines: Vec<&str> = text.lines().collect();
                let rows = order.iter().map(|k| lines[k + 1].to_owned() + "\n");
                (*name, format!("{}\n{}", lines[0], rows.collect::<String>()))
            })
            .collect();
        let other = solve(&PLAIN, Ruler::Mm, &mixed).determined();
        same(&first, &other, 1e-9);
        Ok(())
    };
    runner(24).run(&shuffles, check).unwrap();
}

/// chi2, values and u of two registrations, in mm and rad. Values against their own u.
#[track_caller]
fn same(
    a: &notchpin::registration::Determined,
    b: &notchpin::registration::Determined,
    relative: f64,
) {
    let (a, b) = (&a.assessment, &b.assessment);
    assert_eq!(a.dof, b.dof);
    assert!(
        (a.chi2 - b.chi2).abs() <= relative * a.chi2,
        "chi2 {} {}",
        a.chi2,
        b.chi2
    );
    for (a, b) in a.found.iter().zip(&b.found) {
        assert!((a.u - b.u).abs() <= relative * a.u, "u {} {}", a.u, b.u);
        let allowed = relative * a.value.abs().max(a.u);
        assert!(
            (a.value - b.value).abs() <= allowed,
            "{} {}",
            a.value,
            b.value
        );
    }
}

#[test]
fn the_plates_origin_changes_nothing_but_places() {
    let read = solve(&PLAIN, Ruler::Mm, &files(&PLAIN, Ruler::Mm, noise(0.2)));
    let first = read.determined();
    let check = |(columns, rows): (i32, i32)| {
        let shift = [50.0 * f64::from(columns), 50.0 * f64::from(rows)];
        let moved = Drawn { shift, ..PLAIN };
        let read = solve(&moved, Ruler::Mm, &files(&moved, Ruler::Mm, noise(0.2)));
        let mut other = read.determined();
        let names = read.values(&other);
        for ((name, _), found) in names.iter().zip(&mut other.assessment.found) {
            match name.as_str() {
                "track.x" | "turntable.x" => found.value -= shift[0],
                "track.y" | "turntable.y" => found.value -= shift[1],
                _ => {}
            }
        }
        same(&first, &other, 1e-8);
        Ok(())
    };
    runner(16).run(&(0..20_i32, 0..20_i32), check).unwrap();
}

#[test]
fn inches_and_millimetres_say_the_same() {
    let check = |truth: Drawn| {
        let mm = solve(&PLAIN, Ruler::Mm, &files(&truth, Ruler::Mm, noise(0.2))).determined();
        let inch = solve(&PLAIN, Ruler::Inch, &files(&truth, Ruler::Inch, noise(0.2))).determined();
        same(&mm, &inch, 1e-9);
        Ok(())
    };
    runner(12).run(&truths(), check).unwrap();
}

#[test]
fn redundancies_add_up_to_what_is_left_over() {
    let check = |truth: Drawn| {
        let read = solve(&PLAIN, Ruler::Mm, &files(&truth, Ruler::Mm, noise(0.2)));
        let found = read.determined().assessment;
        let readings: f64 = found.readings.iter().map(|t| t.redundancy).sum();
        let tied = found.found.iter().filter_map(|f| f.tolerance);
        let tolerances: f64 = tied.map(|t| t.redundancy).sum();
        // 6 counts, 5 notches, 8 touches of 3, 2 tolerances, 12 unknowns: 6 + 5 + 24 + 2 − 12 = 25.
        prop_assert_eq!(found.dof, 25);
        prop_assert!(
            (readings + tolerances - 25.0).abs() < 1e-9,
            "{readings} + {tolerances}"
        );
        Ok(())
    };
    runner(12).run(&truths(), check).unwrap();
}

/// With one gross error d in reading i, w_i is the largest of all |w| (Baarda 1968): w_j = ρ_ij w_i.
#[test]
fn a_planted_error_has_the_largest_w() {
    let straight = files(&PLAIN, Ruler::Mm, noise(0.05));
    let places: Vec<(usize, usize, usize)> = (0..straight.len())
        .flat_map(|file| (1..straight[file].1.lines().count()).map(move |line| (file, line)))
        .flat_map(|(file, line)| {
            let columns: &'static [usize] = match file {
                0 => &[4],
                1 => &[1],
                _ => &[6, 7, 8],
            };
            columns.iter().map(move |column| (file, line, *column))
        })
        .collect();
    let mut caught = 0;
    for (file, line, column) in places {
        let mut spoilt = straight.clone();
        let mut lines: Vec<String> = spoilt[file].1.lines().map(str::to_owned).collect();
        let mut cells: Vec<String> = lines[line].split(',').map(str::to_owned).collect();
        // 25 mm or 25°: far beyond what is stated, short of another minimum.
        let value: f64 = cells[column].parse().unwrap();
        cells[column] = format!("{:?}", value + 25.0);
        lines[line] = cells.join(",");
        spoilt[file].1 = lines.join("\n") + "\n";
        let read = solve(&PLAIN, Ruler::Mm, &spoilt);
        let registration = read.register();
        assert_eq!(registration.verdict, Verdict::Look);
        let found = read.determined().assessment;
        assert!(found.p_value.unwrap() < 1e-3 && !found.global_test_holds());
        let mut worst = (0.0, "", 0, 0);
        let mut row = 0;
        for taken in &read.bench.taken {
            for k in 0..taken.reading.components() {
                let w = found.readings[row].standardized.unwrap_or(0.0).abs();
                if w > worst.0 {
                    worst = (w, taken.reading.file(), taken.line, k);
                }
                row += 1;
            }
        }
        let component = if file == 2 { column - 6 } else { 0 };
        assert_eq!(
            (worst.1, worst.2, worst.3),
            (straight[file].0, line + 1, component),
            "planted in {} line {} column {column}",
            straight[file].0,
            line + 1
        );
        caught += 1;
    }
    assert_eq!(caught, 6 + 5 + 24);
}

#[test]
fn readings_that_fit_too_well_are_noticed_but_pass() {
    let read = solve(&PLAIN, Ruler::Mm, &files(&PLAIN, Ruler::Mm, || 0.0));
    let registration = read.register();
    let found = read.determined().assessment;
    assert_eq!(registration.verdict, Verdict::Accepted);
    assert!(found.too_good() && found.global_test_holds() && !found.any_suspect());
    let read = solve(&PLAIN, Ruler::Mm, &files(&PLAIN, Ruler::Mm, noise(0.4)));
    let found = read.determined().assessment;
    assert!(
        !found.too_good() && found.global_test_holds(),
        "{:?}",
        found.p_value
    );
}
