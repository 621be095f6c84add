//! Points carried over, against geometry that can be done by hand.

use nalgebra::DMatrix;

use notchpin::points::TaughtPoint;
use notchpin::points::tip_place;
use notchpin::records::InForce;
use notchpin::transfer::Epoch;
use notchpin::transfer::Where;
use notchpin::transfer::carry;

use crate::made::Registered;
use crate::made::registered;

fn drawn(cell: &Registered) -> InForce {
    InForce {
        geometry: cell.bench().cell.nominal.clone(),
        unknowns: cell.force.unknowns.clone(),
        covariance: cell.force.covariance.clone(),
    }
}

/// Carries every taught point from one geometry to another; `check` gets taught and new readings.
fn carried(
    cell: &Registered,
    old: &InForce,
    new: &InForce,
    to: impl Fn(&TaughtPoint) -> Where,
    check: impl Fn(&TaughtPoint, &notchpin::transfer::Carried),
) {
    let between: DMatrix<f64> = cell.force.covariance.clone();
    let epoch = Epoch {
        old,
        new,
        between: &between,
    };
    assert!(cell.bench().taught.len() >= 2);
    for point in &cell.bench().taught {
        let carried = carry(cell.bench(), point, &epoch, &to(point)).unwrap();
        check(point, &carried);
    }
}

/// A tenth of a hundredth of a degree; a hundredth of a millimetre.
const DEG: f64 = 1e-3;

/// Arm drawn upright on a level track: with its foot turned by 5°, joint 1 turned back by 5° brings the
/// tip to the same place, and no other joint moves.
#[test]
fn a_foot_turned_by_5_degrees_is_undone_by_joint_1() {
    let cell = registered("glazing-bench");
    let old = drawn(&cell);
    let mut new = drawn(&cell);
    new.geometry = cell.moved(&old.geometry, &[("mount.yaw", 5.0)]);
    carried(
        &cell,
        &old,
        &new,
        |_| Where::AsTaught,
        |point, carried| {
            let now = carried.new.as_ref().unwrap();
            for j in 0..5 {
                let by = now.stand.joints[j] - point.stand.joints[j];
                let wanted = if j == 0 { -5.0 } else { 0.0 };
                assert!((by - wanted).abs() < DEG, "{} j{}: {by}", point.name, j + 1);
            }
            assert!(now.turned_rad.to_degrees() < DEG);
            // 2 r sin(2.5°) at the radius r of the tip from joint 1's axis.
            let place =
                tip_place(&old.geometry, &point.stand, notchpin::cell::Belongs::Plate).unwrap();
            let foot_x = 150.0 + point.stand.track;
            let r = ((place.at_mm.x - foot_x).powi(2) + (place.at_mm.y - 100.0).powi(2)).sqrt();
            let chord = 2.0 * r * 2.5_f64.to_radians().sin();
            assert!(
                (carried.miss.mm.norm() - chord).abs() < 1e-6,
                "{}",
                point.name
            );
        },
    );
}

/// A track shifted along itself by a hole: 50 mm less on its reading and everything is as it was.
#[test]
fn a_track_shifted_along_itself_is_undone_by_its_reading() {
    let cell = registered("glazing-bench");
    let old = drawn(&cell);
    let mut new = drawn(&cell);
    new.geometry = cell.moved(&old.geometry, &[("track.x", 50.0)]);
    let back = |point: &TaughtPoint| Where::At {
        track: Some(point.stand.track - 50.0),
        table: None,
    };
    carried(&cell, &old, &new, back, |point, carried| {
        let now = carried.new.as_ref().unwrap();
        for j in 0..5 {
            let by = now.stand.joints[j] - point.stand.joints[j];
            assert!(by.abs() < DEG, "{} j{}: {by}", point.name, j + 1);
        }
        assert!((carried.miss.mm.norm() - 50.0).abs() < 1e-9);
    });
}

/// An index that slipped by 3°: with 3° less on the table's reading everything is as it was; what belongs to
/// the plate does not change at all.
#[test]
fn a_slipped_index_is_undone_by_the_table_and_leaves_the_plate_alone() {
    let cell = registered("glazing-bench");
    let old = drawn(&cell);
    let mut new = drawn(&cell);
    new.geometry = cell.moved(&old.geometry, &[("turntable.index", 3.0)]);
    let back = |point: &TaughtPoint| Where::At {
        track: None,
        table: Some(point.stand.table - 3.0),
    };
    carried(&cell, &old, &new, back, |point, carried| {
        let now = carried.new.as_ref().unwrap();
        for j in 0..5 {
            let by = now.stand.joints[j] - point.stand.joints[j];
            assert!(by.abs() < DEG, "{} j{}: {by}", point.name, j + 1);
        }
        if point.frame == notchpin::cell::Belongs::Plate {
            assert!(carried.miss.mm.norm() < 1e-9);
        }
    });
}

/// The same registration and the same station: nothing changes, whatever the arm (five joints and six).
#[test]
fn nothing_changes_where_nothing_moved() {
    for name in ["glazing-bench", "inch-rows", "six-joint"] {
        let cell = registered(name);
        let force = &cell.force;
        carried(
            &cell,
            force,
            force,
            |_| Where::AsTaught,
            |point, carried| {
                let now = carried.new.as_ref().unwrap();
                let n = cell.bench().cell.joints.len();
                for j in 0..n {
                    let by = now.stand.joints[j] - point.stand.joints[j];
                    assert!(by.abs() < DEG, "{name} {} j{}: {by}", point.name, j + 1);
                }
                assert!(carried.miss.mm.norm() < 1e-9 && carried.miss.errors.u95_mm < 1e-3);
            },
        );
    }
}

/// Whatever moved, the tip comes to the place where the point was taught: forward, through the whole chain.
#[test]
fn carried_points_stay_where_they_were_in_their_own_frame() {
    for name in ["glazing-bench", "inch-rows", "six-joint"] {
        let cell = registered(name);
        let old = &cell.force;
        let mut new = old.clone();
        let by: &[(&str, f64)] = match name {
            "six-joint" => &[
                ("mount.x", 4.0),
                ("arm.j2.zero", 0.7),
                ("turntable.index", -2.0),
            ],
            _ => &[
                ("track.y", 7.0),
                ("track.yaw", 0.5),
                ("tool.z", 3.0),
                ("turntable.x", 5.0),
            ],
        };
        new.geometry = cell.moved(&old.geometry, by);
        let met = std::cell::Cell::new(0);
        for to in [Where::AsTaught, Where::Best] {
            carried(
                &cell,
                old,
                &new,
                |_| to.clone(),
                |point, carried| {
                    // At its own station a point can be out of reach by now; from the best one none is.
                    let Ok(now) = &carried.new else {
                        assert!(to == Where::AsTaught, "{name} {}", point.name);
                        return;
                    };
                    met.set(met.get() + 1);
                    let taught = tip_place(&old.geometry, &point.stand, point.frame).unwrap();
                    let comes = tip_place(&new.geometry, &now.stand, point.frame).unwrap();
                    let off = (comes.at_mm - taught.at_mm).norm();
                    assert!(off < 0.01, "{name} {}: {off}", point.name);
                    // Straight down a five-joint arm keeps the lean of its plane to the side, which is
                    // another where the plane stands otherwise; else the elevation is met.
                    let taught = taught.direction.elevation_rad.to_degrees();
                    let lean = (comes.direction.elevation_rad.to_degrees() - taught).abs();
                    let may_lean = taught.abs() > 89.0 && name != "six-joint";
                    assert!(lean < 0.02 || may_lean, "{name} {}: {lean}", point.name);
                },
            );
        }
        assert!(
            met.get() > cell.bench().taught.len(),
            "{name}: {}",
            met.get()
        );
    }
}
