//! Which way a reading counts, by hand: level, plumb, height, hole count, notch and touch.

mod bench;

use notchpin::kinematics::ArmScene;
use notchpin::parameters::Unknowns;

/// Two joints at the plate's origin: the first turns about z, the second lifts (its axis points to
/// −y, so a positive turn raises what points ahead). The tip lies 400 ahead of the base.
fn cell(rest: &str) -> String {
    format!(
        r#"format = 1
name = "signs"
[plate]
pitch_mm = 50
columns = 20
rows = 20
{plate}
[marks]
peg = {{ frame = "platter", at_mm = [80, 0, 0] }}
[track]
at_mm = [0, 0, 0]
features.foot = [-60, 85, 0]
[[arm.joint]]
axis = [0, 0, 1]
through_mm = [0, 0, 0]
limits_deg = [-180, 180]
[[arm.joint]]
axis = [0, -1, 0]
through_mm = [0, 0, 100]
limits_deg = [-90, 90]
[arm.flange]
at_mm = [300, 0, 100]
z = [1, 0, 0]
x = [0, 0, -1]
[tool]
at_mm = [0, 0, 100]
{tool}
[turntable]
at_mm = [500, 0, 20]
switch_deg = 180
notches = 8
"#,
        plate = if rest.contains("plate") {
            PLATE_TILT
        } else {
            ""
        },
        tool = if rest.contains("lean") { TOOL_LEAN } else { "" },
    )
}

/// The plate falls 2° ahead (Ry(+2°)) and its left side is 1° higher (Rx(+1°)).
const PLATE_TILT: &str = "tilt_x_deg = 1\ntilt_y_deg = 2";
/// The tool turned about the flange's x.
const TOOL_LEAN: &str = "roll_deg = 4";

/// What a reading would have to show so that nothing is left over: its residual where 0 was noted.
fn shows(which: &str, file: &str, header: &str, row: &str) -> [f64; 3] {
    let read = bench::read(&cell(which), &[(file, &format!("{header}\n{row}\n"))]);
    let nothing = Unknowns::default();
    let taken = &read.bench.taken[0];
    taken
        .reading
        .evaluate(&read.bench.cell.nominal, &nothing, None)
        .value
}

fn attitude(which: &str, row: &str) -> f64 {
    let header = "kind,body,axis,toward,by,j1,j2";
    shows(which, "attitude.csv", header, row)[0].to_degrees()
}

#[track_caller]
fn close(got: f64, by_hand: f64) {
    assert!((got - by_hand).abs() < 1e-9, "{got}, by hand {by_hand}");
}

#[test]
fn a_link_pitched_nose_up_reads_plus_on_a_level() {
    // Joint 2 at +10 raises the link's x (ahead) by 10° above the horizontal, wherever joint 1 points.
    close(attitude("", "level,j2,x,,,0,10"), 10.0);
    close(attitude("", "level,j2,x,,,77,10"), 10.0);
    close(attitude("", "level,j2,-x,,,77,10"), -10.0);
    // Its y stays level.
    close(attitude("", "level,j2,y,,,77,10"), 0.0);
}

#[test]
fn a_lean_ahead_reads_plus_on_a_plumb() {
    // Nose up by 10°: the link's z, upright at 0, now leans back by 10°; nose down, ahead.
    close(attitude("", "plumb,j2,z,,,0,10"), -10.0);
    close(attitude("", "plumb,j2,z,,,0,-10"), 10.0);
    // Along the heading, not along the plate's x: joint 1 at 90 points to +y.
    close(attitude("", "plumb,j2,z,ahead,,90,-10"), 10.0);
    close(attitude("", "plumb,j2,z,left,,90,-10"), 0.0);
}

#[test]
fn a_lean_to_the_left_reads_plus_toward_the_left() {
    // The flange's x points down, its z ahead, so its y = z × x = ex × (−ez) = +ey: to the left.
    // The tool is turned by +4° about the flange's x (down): its y goes from left toward z, ahead;
    // its z from ahead toward −y, right. So the tool's z "leans" 4° to the right: −4 to the left.
    close(attitude("lean", "plumb,tool,z,left,,0,0"), -4.0);
    close(attitude("lean", "plumb,tool,-z,left,,0,0"), 4.0);
    // y to the left, toward z: it leans ahead by 4°.
    close(attitude("lean", "plumb,tool,y,ahead,,30,0"), 4.0);
}

#[test]
fn a_bubble_sees_the_tilt_of_the_plate_and_a_square_does_not() {
    // Gravity's up in the plate frame is (Ry(2°) Rx(1°))ᵀ ez. The plate's x falls 2°: −2 on a bubble.
    close(attitude("plate", "level,plate,x,,bubble,,"), -2.0);
    close(attitude("plate", "level,plate,x,,square,,"), 0.0);
    // The plate's y rises by asin(cos 2° · sin 1°).
    let rise = (2_f64.to_radians().cos() * 1_f64.to_radians().sin())
        .asin()
        .to_degrees();
    close(attitude("plate", "level,plate,y,,bubble,,"), rise);
    // A link raised by 2° against a plate that falls 2° is level by the bubble but for the 1°:
    // (cos 2°, 0, sin 2°) · (−sin 2°, ·, cos 2° cos 1°) = sin 2° cos 2° (cos 1° − 1).
    let (s, c) = 2_f64.to_radians().sin_cos();
    let left = (s * c * (1_f64.to_radians().cos() - 1.0))
        .asin()
        .to_degrees();
    close(attitude("plate", "level,j2,x,,bubble,0,2"), left);
    close(attitude("plate", "level,j2,x,,square,0,2"), 2.0);
    // The plate's normal leans ahead by 2° against the plumb line, seen along +x: tan = sin 2°/(cos 2° cos 1°),
    // as h is made perpendicular to up: asin(ez · h), h = (ex − up (up·ex)) / |…|, up·ex = −sin 2°,
    // ez · h = sin 2° · cos 2° cos 1° / cos 2° = sin 2° cos 1°.
    let lean = (s * 1_f64.to_radians().cos()).asin().to_degrees();
    close(attitude("plate", "plumb,plate,z,ahead,bubble,0,"), lean);
    close(attitude("plate", "plumb,plate,z,ahead,square,0,"), 0.0);
}

#[test]
fn heights_counts_notches_and_touches_by_hand() {
    let height = |row: &str| shows("", "height.csv", "of,over,height_mm,track,j1,j2", row)[0];
    // Joint 2's axis point is 100 above the plate and above joint 1's; the tip at 30° is 200 higher.
    close(height("j2,,0,0,0,0"), 100.0);
    close(height("j1,j2,0,0,0,0"), -100.0);
    close(height("tip,,0,0,50,30"), 300.0);
    // The foot at track 210 stands at x = 150 = 2 · 50 + 50: one pitch beyond the second hole.
    let holes = |row: &str| shows("", "holes.csv", "feature,along,count,gap_mm,track", row)[0];
    close(holes("foot,column,2,0,210"), 50.0);
    close(holes("foot,column,2,48,210"), 2.0);
    close(holes("foot,row,1.5,0,210"), 10.0);
    // Notch 2 (90°) with the table at 89 stands at 179: 1° short of the switch, and 350° is −10°.
    let notch = |row: &str| shows("", "notch.csv", "notch,table", row)[0].to_degrees();
    close(notch("2,89"), -1.0);
    close(notch("0,530"), -10.0);
    // Peg at table 90: (500, 80, 20); the tip at (400, 0, 100) stands (−100, −80, 80) from it.
    let d = shows("", "touch.csv", "target,track,table,j1,j2", "peg,0,90,0,0");
    for (got, by_hand) in d.into_iter().zip([-100.0, -80.0, 80.0]) {
        close(got, by_hand);
    }
    // Heading +y (joint 1 at 90), play 3 left and 1 right: the free centre is 1 to the left, −x,
    // of the target; tip (0, 400, 100), target (0, 400, 0): left over (0 + 1, 0, 100).
    let d = shows(
        "",
        "touch.csv",
        "target,track,j1,j2,left_mm,right_mm",
        "0:8,0,90,0,3,1",
    );
    for (got, by_hand) in d.into_iter().zip([1.0, 0.0, 100.0]) {
        close(got, by_hand);
    }
}

/// The chain that the signs above rest on: tip (400, 0, 100) at rest.
#[test]
fn the_arm_at_rest() {
    let read = bench::read(&cell(""), &[]);
    let arm = ArmScene::new(&read.bench.cell.nominal, 0.0, &[0.0, 0.0]);
    for (got, by_hand) in arm.tip_mm.iter().zip([400.0, 0.0, 100.0]) {
        close(*got, by_hand);
    }
}
