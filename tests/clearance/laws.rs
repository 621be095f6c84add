//! Laws that hold in every cell: drawn cells with a track, a leaning turntable, four joints, bodies
//! everywhere and keep-outs of every sort.

use nalgebra::Vector3;
use notchpin::cell::Belongs;
use notchpin::cell::Body;
use notchpin::cell::Cell;
use notchpin::cell::KeepOut;
use notchpin::cell::On;
use notchpin::cell::Shape;
use notchpin::cell::Touch;
use notchpin::clearance::AxisValues;
use notchpin::clearance::Surroundings;
use notchpin::clearance::WayClearance;
use notchpin::frames::rot_z;
use proptest::prelude::*;

use crate::support::at;
use crate::support::cell;
use crate::support::nearest;

type V = Vector3<f64>;

fn vector(most: f64) -> impl Strategy<Value = V> {
    [-most..most, -most..most, -most..most].prop_map(V::from)
}

fn unit() -> impl Strategy<Value = V> {
    vector(1.0)
        .prop_filter("a direction", |v| v.norm() > 0.1)
        .prop_map(|v| v.normalize())
}

fn keep_out() -> impl Strategy<Value = KeepOut> {
    let place = || [-200.0..1400.0, -700.0..700.0, 0.0..1100.0].prop_map(V::from);
    let on_platter = || [-150.0..150.0, -150.0..150.0, 0.0..200.0].prop_map(V::from);
    let size = || 5.0..120.0_f64;
    let shape = move |at: V| {
        prop_oneof![
            ([size(), size(), size()], -3.0..3.0).prop_map(move |(half, turn_rad)| Shape::Box {
                centre_mm: at,
                half_mm: V::from(half),
                turn_rad,
            }),
            (unit(), size(), size()).prop_map(move |(axis, radius_mm, height_mm)| {
                Shape::Cylinder {
                    at_mm: at,
                    axis,
                    radius_mm,
                    height_mm,
                }
            }),
            unit().prop_map(move |free| Shape::HalfSpace {
                at_mm: at - free * 900.0,
                free,
            }),
        ]
    };
    let plate = place()
        .prop_flat_map(shape)
        .prop_map(|s| (Belongs::Plate, s));
    let platter = on_platter()
        .prop_flat_map(shape)
        .prop_map(|s| (Belongs::Platter, s));
    prop_oneof![plate, platter].prop_map(|(frame, shape)| KeepOut {
        name: "thing".into(),
        frame,
        shape,
    })
}

fn bodies() -> Vec<Body> {
    let body = |on, from: [f64; 3], to: [f64; 3], radius_mm| Body {
        on,
        name: format!("{on:?}"),
        from_mm: V::from(from),
        to_mm: V::from(to),
        radius_mm,
        may_touch: vec![],
    };
    vec![
        body(On::Carriage, [-60.0, 0.0, -30.0], [60.0, 0.0, -30.0], 25.0),
        body(On::Base, [0.0, 0.0, -20.0], [0.0, 0.0, 20.0], 30.0),
        body(On::Link(0), [0.0, 0.0, 0.0], [200.0, 0.0, 0.0], 25.0),
        body(On::Link(1), [200.0, 0.0, 0.0], [400.0, 0.0, 30.0], 22.0),
        body(On::Link(2), [400.0, 0.0, 30.0], [600.0, 0.0, 0.0], 20.0),
        body(On::Link(3), [600.0, 0.0, 0.0], [800.0, 0.0, 0.0], 15.0),
        body(On::Flange, [0.0, -40.0, 5.0], [0.0, 40.0, 5.0], 8.0),
        body(On::Tool, [0.0, 0.0, -90.0], [0.0, 10.0, 0.0], 4.0),
    ]
}

/// Joint 4 turns about the arm's length, so that not all axes are parallel; everything leans.
fn drawn(keep_outs: Vec<KeepOut>) -> Cell {
    let mut cell = cell("");
    let geometry = &mut cell.nominal;
    geometry.joints[3].axis = V::x();
    geometry.mount.roll_rad = 0.1;
    geometry.mount.at_mm = V::new(5.0, -7.0, 40.0);
    geometry.tool.pitch_rad = 0.4;
    let track = geometry.track.as_mut().unwrap();
    track.mounting.yaw_rad = 0.2;
    track.mounting.pitch_rad = -0.1;
    let table = geometry.turntable.as_mut().unwrap();
    (table.tilt_x_rad, table.tilt_y_rad) = (0.15, -0.1);
    cell.keep_outs = keep_outs;
    cell.bodies = bodies();
    cell
}

fn posture() -> impl Strategy<Value = AxisValues> {
    let joints = [-3.0..3.0_f64, -1.5..1.0, -1.5..1.5, -3.0..3.0];
    (0.0..600.0_f64, -3.0..3.0_f64, joints).prop_map(|(travel_mm, turn_rad, j)| AxisValues {
        travel_mm,
        turn_rad,
        joints_rad: [j[0], j[1], j[2], j[3], 0.0, 0.0, 0.0],
    })
}

/// The same cell, moved on the bench: everything turned about the plate's z and shifted. Leaning
/// mountings are turned by making anew the angles that stand for the turned axes.
fn moved(cell: &Cell, turn_rad: f64, shift: &V) -> Cell {
    let turn = rot_z(turn_rad);
    let mut moved = cell.clone();
    let carry = |p: &V| turn * p + shift;
    let track = moved.nominal.track.as_mut().unwrap();
    track.mounting.at_mm = carry(&track.mounting.at_mm);
    // Rz(turn) Rz(yaw) Ry(pitch) Rx(roll): the yaws add.
    track.mounting.yaw_rad += turn_rad;
    let table = moved.nominal.turntable.as_mut().unwrap();
    table.at_mm = carry(&table.at_mm);
    for keep_out in moved.keep_outs.iter_mut() {
        if keep_out.frame == Belongs::Platter {
            continue;
        }
        match &mut keep_out.shape {
            Shape::Box {
                centre_mm,
                turn_rad: own,
                ..
            } => {
                *centre_mm = carry(centre_mm);
                *own += turn_rad;
            }
            Shape::Cylinder { at_mm, axis, .. } => {
                *at_mm = carry(at_mm);
                *axis = turn * *axis;
            }
            Shape::HalfSpace { at_mm, free } => {
                *at_mm = carry(at_mm);
                *free = turn * *free;
            }
        }
    }
    moved
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// The plate cannot be moved, so nothing is compared with it here; the turntable stands upright,
    /// so that its index takes the turn.
    #[test]
    fn moving_the_whole_cell_changes_nothing(
        keep_outs in prop::collection::vec(keep_out(), 1..6),
        posture in posture(),
        turn_rad in -3.0..3.0_f64,
        shift in vector(2000.0),
    ) {
        let mut here = drawn(keep_outs);
        for body in here.bodies.iter_mut() {
            body.may_touch = vec![Touch::Plate];
        }
        let table = here.nominal.turntable.as_mut().unwrap();
        (table.tilt_x_rad, table.tilt_y_rad) = (0.0, 0.0);
        let there = moved(&here, turn_rad, &shift);
        let mut turned = posture;
        turned.turn_rad += turn_rad;
        let (one, two) = (nearest(&here, &posture).unwrap(), nearest(&there, &turned).unwrap());
        let off = (one.clearance_mm - two.clearance_mm).abs();
        prop_assert!(off < 1e-5, "{one:?} {two:?}");
    }

    #[test]
    fn the_order_of_keep_outs_changes_nothing(
        keep_outs in prop::collection::vec(keep_out(), 2..6),
        posture in posture(),
    ) {
        let one = drawn(keep_outs.clone());
        let two = drawn(keep_outs.into_iter().rev().collect());
        let (one, two) = (nearest(&one, &posture).unwrap(), nearest(&two, &posture).unwrap());
        prop_assert_eq!(one.clearance_mm, two.clearance_mm);
    }

    /// A body alone has the clearance that it has among the others.
    #[test]
    fn the_nearest_pair_is_the_least_of_all(
        keep_outs in prop::collection::vec(keep_out(), 1..5),
        posture in posture(),
    ) {
        let all = drawn(keep_outs);
        let found = nearest(&all, &posture).unwrap();
        let mut least = f64::MAX;
        for k in 0..all.keep_outs.len() {
            for b in 0..all.bodies.len() {
                let mut one = all.clone();
                one.keep_outs = vec![all.keep_outs[k].clone()];
                one.bodies = vec![all.bodies[b].clone()];
                least = least.min(nearest(&one, &posture).unwrap().clearance_mm);
            }
        }
        let mut bare = all.clone();
        bare.keep_outs.clear();
        least = least.min(nearest(&bare, &posture).unwrap().clearance_mm);
        prop_assert_eq!(found.clearance_mm, least);
    }
}

/// How many ways ended how, so that no law holds for want of cases.
#[derive(Default)]
struct Ended {
    clear: usize,
    blocked: usize,
    unproved: usize,
}

/// 2,000 postures along the way, for drawn ways: what is certified lies below all of them, and what
/// is blocked is truly too near there.
#[test]
fn a_way_keeps_what_it_promises() {
    use proptest::strategy::ValueTree;
    use proptest::test_runner::TestRunner;
    let mut runner = TestRunner::deterministic();
    let drawn_way = (
        prop::collection::vec(keep_out(), 0..4),
        posture(),
        posture(),
        prop_oneof![Just(0.02), Just(0.1), Just(0.4), Just(1.0)],
        0.0..8.0_f64,
    );
    let mut ended = Ended::default();
    for _ in 0..600 {
        let tree = drawn_way.new_tree(&mut runner).unwrap();
        let (keep_outs, from, end, share_of_way, least_mm) = tree.current();
        let to = from.toward(&end, share_of_way);
        let cell = drawn(keep_outs);
        let surroundings = Surroundings::new(&cell, &cell.nominal);
        let way = surroundings.way(&from, &to, least_mm);
        let dense = || {
            (0..=2000).map(|i| {
                let at = from.toward(&to, f64::from(i) / 2000.0);
                surroundings.nearest(&at).unwrap().clearance_mm
            })
        };
        match way {
            WayClearance::Clear {
                at_least_mm,
                nearest,
            } => {
                ended.clear += 1;
                let (bound, seen) = (at_least_mm.unwrap(), nearest.unwrap().clearance_mm);
                let least = dense().fold(f64::MAX, f64::min);
                assert!(bound >= least_mm && bound <= least, "{bound} {least}");
                assert!(seen >= bound);
            }
            WayClearance::Blocked { nearest, share } => {
                ended.blocked += 1;
                let there = surroundings.nearest(&from.toward(&to, share)).unwrap();
                assert_eq!(there, nearest);
                assert!(there.clearance_mm < least_mm);
                // All earlier ones are clear, but for what is hidden between two looks.
                let earlier = dense().take((share * 2000.0) as usize);
                let before = earlier.take_while(|mm| *mm >= least_mm).count();
                assert!(
                    before as f64 / 2000.0 > share - 2.0 / 256.0,
                    "too near already at {before}/2000, told at {share}"
                );
            }
            WayClearance::Unproved { at_least_mm, .. } => {
                ended.unproved += 1;
                let least = dense().fold(f64::MAX, f64::min);
                assert!(at_least_mm < least_mm && at_least_mm <= least);
            }
        }
    }
    let Ended {
        clear,
        blocked,
        unproved,
    } = ended;
    println!("{clear} clear, {blocked} blocked, {unproved} not proven");
    assert!(clear > 60 && blocked > 60, "{clear} {blocked}");
    assert!(unproved < 10, "{unproved}");
}

/// A platter half-space, which no shape's reach bounds, with the table turning alone.
#[test]
fn a_wall_on_the_platter_turns() {
    let wall = KeepOut {
        name: "wall".into(),
        frame: Belongs::Platter,
        shape: Shape::HalfSpace {
            at_mm: V::new(0.0, 60.0, 0.0),
            free: V::new(0.0, -1.0, 0.0),
        },
    };
    let mut cell = drawn(vec![wall]);
    let table = cell.nominal.turntable.as_mut().unwrap();
    (table.tilt_x_rad, table.tilt_y_rad) = (0.0, 0.0);
    for body in cell.bodies.iter_mut() {
        body.may_touch = vec![Touch::Plate];
    }
    let surroundings = Surroundings::new(&cell, &cell.nominal);
    let folded = |turn_deg: f64| at(0.0, turn_deg, &[0.0, -90.0, 150.0, 0.0]);
    // At −90° the wall's free side, −y of the platter, looks along −x, toward the arm, and the wall
    // stands at x = 1060; at +90° it looks along +x, and the arm is behind it.
    let toward = surroundings.way(&folded(-100.0), &folded(-80.0), 5.0);
    assert!(matches!(toward, WayClearance::Clear { .. }), "{toward:?}");
    match surroundings.way(&folded(-90.0), &folded(90.0), 5.0) {
        WayClearance::Blocked { nearest, share } => {
            assert!(nearest.clearance_mm < 5.0 && share > 0.05 && share < 0.95);
        }
        other => panic!("{other:?}"),
    }
}
