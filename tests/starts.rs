//! Where the adjustment starts, and what it calls undetermined: `fit::start` and `fit::identify`
//! through the library.

mod bench;

use std::f64::consts::FRAC_PI_2;

use bench::Read;
use notchpin::fit::adjust::Network;
use notchpin::fit::identify::free_directions;
use notchpin::fit::solve::Solver;
use notchpin::fit::start::least;
use notchpin::registration::Outcome;

/// An arm of two joints fixed to the plate at its origin, beside a turntable.
fn cell(solve: &str, nominal: &str) -> String {
    format!(
        r#"format = 1
name = "starts"
[plate]
pitch_mm = 50
columns = 20
rows = 20
[track]
at_mm = [0, 0, 0]
{nominal}
features.foot = [0, 100, 0]
features.nose = [100, 0, 0]
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
[turntable]
at_mm = [500, 0, 20]
switch_deg = 180
notches = 8
[solve]
{solve}
"#
    )
}

fn holes(rows: &str) -> String {
    format!("feature,along,count,gap_mm,track,approach\n{rows}")
}

fn used(read: &Read) -> Network<'_> {
    Network::new(
        &read.bench.cell.nominal,
        &read.unknowns,
        read.bench.taken.iter().collect(),
    )
}

/// The track really runs along +y (yaw 90°), from (200, 300): carriage at (200, 300 + r). The foot is
/// 100 to its left, at x = 200 − 100; the nose 100 ahead, at y = 300 + r + 100.
const TURNED: &str = "foot,column,2,0,0,\nfoot,column,2,0,200,\nfoot,row,6,0,0,\nfoot,row,10,0,200,
nose,row,8,0,0,\nnose,column,4,0,0,\nnose,column,4,0,200,\n";

#[test]
fn a_yaw_drawn_a_quarter_turn_off_is_found() {
    let solve = "\"track.x\" = \"free\"\n\"track.y\" = \"free\"\n\"track.yaw\" = \"free\"";
    for (drawn, expected) in [
        ("yaw_deg = 0", 90.0),
        ("yaw_deg = 179", 90.0),
        ("yaw_deg = -90", 90.0),
    ] {
        let read = bench::read(&cell(solve, drawn), &[("holes.csv", &holes(TURNED))]);
        let mut network = used(&read);
        let found = least(&mut network);
        assert!(found.chi2 < 1e-12, "{drawn}: {}", found.chi2);
        let mut yaw = found.x[2].to_degrees() - expected;
        yaw -= 360.0 * (yaw / 360.0).round();
        assert!(yaw.abs() < 1e-9, "{drawn}: {}", found.x[2].to_degrees());
        // Reported on the branch nearest the drawing: never more than half a turn away.
        let away = found.x[2] - network.nominal()[2];
        assert!(away.abs() <= 2.0 * FRAC_PI_2 + 1e-9, "{drawn}: {away}");
    }
}

/// Notch k stands at the switch (180°) where index + r + 45 k = 180. The index is drawn 0 and is up
/// to four notches off, and 22° more.
#[test]
fn an_index_drawn_off_is_found_from_every_notch() {
    for notches_off in -4..4 {
        let index = 22.0 + 45.0 * f64::from(notches_off);
        let rows: String = (0..8)
            .map(|k| format!("{k},{},\n", 180.0 - 45.0 * f64::from(k) - index))
            .collect();
        let text = format!("notch,table,approach\n{rows}");
        let solve = "\"turntable.index\" = \"free\"";
        let read = bench::read(&cell(solve, ""), &[("notch.csv", &text)]);
        let found = least(&mut used(&read));
        assert!(found.chi2 < 1e-12, "{index}: {}", found.chi2);
        assert!(
            (found.x[0].to_degrees() - index).abs() < 1e-9,
            "{index}: {}",
            found.x[0]
        );
    }
}

/// The search is needed: one run of the solver from the drawing stops elsewhere here, where the slope
/// is nought: joint 1 is drawn half a turn away from where it is, the place of greatest misfit.
#[test]
fn the_drawing_alone_can_lead_into_another_minimum() {
    let solve = "\"arm.j1.zero\" = \"free\"\n\"tool.z\" = 1.0";
    // The tip, 400 out, was found at (0, 400, 100): joint 1 stood at +90°. It is drawn at −90°.
    let drawn = cell(solve, "").replace(
        "limits_deg = [-180, 180]",
        "limits_deg = [-180, 180]\nzero_deg = -90",
    );
    let touch = "target,track,j1,j2,dz_mm,axes\n0:8,0,0,0,100,xyz\n0:8,0,0,0,100,xyz\n";
    let read = bench::read(&drawn, &[("touch.csv", touch)]);
    let mut network = used(&read);
    let nominal = network.nominal().to_vec();
    let alone = network.minimum_from(&mut Solver::new(), &nominal);
    let searched = least(&mut network);
    assert!(alone.chi2 > 1e3, "from the drawing alone: {}", alone.chi2);
    assert!(searched.chi2 < 1e-12, "{}", searched.chi2);
    let turned = searched.x[0].rem_euclid(4.0 * FRAC_PI_2);
    assert!((turned - FRAC_PI_2).abs() < 1e-9, "{turned}");
}

/// Names and shares of the directions that nothing settles.
fn named(read: &Read) -> Vec<Vec<(String, f64)>> {
    let Outcome::Undetermined(free) = read.register().outcome else {
        panic!("determined");
    };
    free.iter()
        .map(|direction| {
            let name = |(j, share): &(usize, f64)| (read.bench.cell.solve[*j].name.clone(), *share);
            direction.shares.iter().map(name).collect()
        })
        .collect()
}

/// By hand: counts along x see track.x + feature.x (yaw 0): only their sum is settled. The free
/// direction is (1, −1)/√2: half each, both scaled by 1 mm.
#[test]
fn what_only_a_sum_settles_is_named_in_halves() {
    let solve = "\"track.x\" = \"free\"\n\"features.foot.x\" = \"free\"\n\"track.y\" = \"free\"";
    let rows = holes("foot,column,2,0,100,\nfoot,column,4,0,200,\nfoot,row,2,0,0,\n");
    let read = bench::read(&cell(solve, ""), &[("holes.csv", &rows)]);
    let free = named(&read);
    assert_eq!(free.len(), 1, "{free:?}");
    let mut names: Vec<&str> = free[0].iter().map(|(n, _)| n.as_str()).collect();
    names.sort_unstable();
    assert_eq!(names, ["features.foot.x", "track.x"]);
    for (name, share) in &free[0] {
        assert!((share - 0.5).abs() < 1e-9, "{name}: {share}");
    }
}

/// A tolerance settles the sum: with 3 mm on one of the two there is a registration, and the same
/// direction is reported as settled by tolerances only. Scaled by (1 mm, 3 mm) the direction
/// (1, −1) mm is (1, −1/3), so the shares are 0.9 and 0.1.
#[test]
fn a_tolerance_settles_it_and_is_said_to() {
    let solve = "\"track.x\" = \"free\"\n\"features.foot.x\" = 3.0";
    let rows = holes("foot,column,2,0,100,\nfoot,column,4,0,200,\n");
    let read = bench::read(&cell(solve, ""), &[("holes.csv", &rows)]);
    let found = read.determined().assessment;
    assert_eq!(found.by_tolerance_only.len(), 1);
    let shares = &found.by_tolerance_only[0].shares;
    assert_eq!((shares[0].0, shares[1].0), (0, 1));
    assert!(
        (shares[0].1 - 0.9).abs() < 1e-9 && (shares[1].1 - 0.1).abs() < 1e-9,
        "{shares:?}"
    );
    // By hand: two counts of 0.3 mm and a tolerance of 3: u² = 0.3²/2 + 3².
    assert!((found.found[0].u - (0.045_f64 + 9.0).sqrt()).abs() < 1e-9);
    // Nothing was learnt of the foot: u = t. That is weak; the start, within 10 mm, is not.
    assert!(found.found[1].weak && !found.found[0].weak);
}

#[test]
fn a_well_measured_cell_has_no_free_direction() {
    let solve = "\"track.x\" = \"free\"\n\"track.y\" = \"free\"\n\"track.yaw\" = \"free\"";
    let read = bench::read(
        &cell(solve, "yaw_deg = 88"),
        &[("holes.csv", &holes(TURNED))],
    );
    let mut network = used(&read);
    let found = least(&mut network);
    let scale = notchpin::fit::assess::scaling(&network);
    assert_eq!(free_directions(&found.factor, &scale), Some(Vec::new()));
    // Each scale is 1 mm, or 1° in radians.
    assert_eq!(scale, [1.0, 1.0, std::f64::consts::PI / 180.0]);
}
