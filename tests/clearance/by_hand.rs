//! One shape each. The body is a capsule on the base: base and carriage stand at (s, 0, 500), and a
//! body on the base is not checked against the plate.

use notchpin::clearance::Other;
use notchpin::clearance::Surroundings;
use notchpin::clearance::WayClearance;

use crate::support::at;
use crate::support::cell;
use crate::support::is;
use crate::support::nearest;

/// A capsule of radius 10 from (0, 0, 500) to (100, 0, 500), and what else the text says.
fn capsule(more: &str) -> notchpin::cell::Cell {
    cell(&format!(
        "{more}\n[[arm.body]]\non = \"base\"\nfrom_mm = [0, 0, 0]\nto_mm = [100, 0, 0]\nradius_mm = 10\n"
    ))
}

fn keep_out(shape: &str) -> String {
    format!("[[keep_out]]\nname = \"thing\"\n{shape}\n")
}

/// The end (100, 0, 500) faces x = 130 in the middle of the face: 30 − 10.
#[test]
fn beside_a_box_face() {
    let cell = capsule(&keep_out(
        "box = { from_mm = [130, -50, 400], to_mm = [230, 50, 600] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 20.0);
    // 12 mm nearer after 12 mm of travel.
    is(&cell, &at(12.0, 0.0, &[]), 8.0);
}

/// The capsule's side is parallel to the face y = 40: 40 − 10.
#[test]
fn along_a_box_face() {
    let cell = capsule(&keep_out(
        "box = { from_mm = [-500, 40, 400], to_mm = [500, 90, 600] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 30.0);
}

/// The edge at y = 30, z = 460 runs along x below the line at y = 0, z = 500: √(30² + 40²) − 10.
#[test]
fn over_a_box_edge() {
    let cell = capsule(&keep_out(
        "box = { from_mm = [-50, 30, 300], to_mm = [150, 80, 460] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 40.0);
    // The edge at x = 50 … crosses below at right angles: the line is 60 above it.
    let cell = capsule(&keep_out(
        "box = { from_mm = [50, -80, 300], to_mm = [60, 80, 440] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 50.0);
}

/// From the end (100, 0, 500) to the corner (120, 30, 440): √(20² + 30² + 60²) = 70, less 10.
#[test]
fn over_a_box_corner() {
    let cell = capsule(&keep_out(
        "box = { from_mm = [120, 30, 300], to_mm = [220, 130, 440] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 60.0);
}

/// Corners may be given in any order.
#[test]
fn corners_in_the_other_order() {
    let cell = capsule(&keep_out(
        "box = { from_mm = [220, 30, 440], to_mm = [120, 130, 300] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 60.0);
}

/// A square of 100 mm about (200, 0), turned by 45°: its corner points at the capsule, half a
/// diagonal = 50·√2 before the middle: 100 − 50·√2 − 10. Turned by a quarter it is the same square
/// as before: 50 − 10.
#[test]
fn a_turned_box() {
    let turned = |deg: f64| {
        capsule(&keep_out(&format!(
            "box = {{ from_mm = [150, -50, 400], to_mm = [250, 50, 600], turn_deg = {deg} }}"
        )))
    };
    let root = 2f64.sqrt();
    is(&turned(45.0), &at(0.0, 0.0, &[]), 90.0 - 50.0 * root);
    is(&turned(0.0), &at(0.0, 0.0, &[]), 40.0);
    is(&turned(90.0), &at(0.0, 0.0, &[]), 40.0);
    // At −30° the end (100, 0) has local coordinates R(30°)·(−100, 0) = (−86.6025, −50): beside the
    // face's very end, so 86.6025 − 50 − 10.
    is(
        &turned(-30.0),
        &at(0.0, 0.0, &[]),
        50.0 * 3f64.sqrt() - 60.0,
    );
}

/// An upright cylinder of radius 30 about (170, 0): 70 − 30 − 10 from the end.
#[test]
fn beside_a_cylinder() {
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [170, 0, 400], radius_mm = 30, height_mm = 200 }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 30.0);
    // About (50, 90), beside the middle of the line: 90 − 30 − 10.
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [50, 90, 400], radius_mm = 30, height_mm = 200 }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 50.0);
}

/// The head of radius 30 at height 460, its axis at x = 160: from the end (100, 0, 500) to the rim
/// at (130, 0, 460): √(30² + 40²) − 10.
#[test]
fn over_a_cylinder_rim() {
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [160, 0, 400], radius_mm = 30, height_mm = 60 }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 40.0);
    // Above the head, axis at x = 50: 40 − 10.
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [50, 0, 400], radius_mm = 30, height_mm = 60 }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 30.0);
}

/// Lying along −y from (50, 200, 500), 100 long: its head is at y = 100; 100 − 10. Lying along
/// (3, 4, 0)/5 from (112, 16, 500), 10 long, radius 5: the foot's centre is 20 from the end along
/// the axis; 20 − 10.
#[test]
fn a_lying_cylinder() {
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [50, 200, 500], radius_mm = 30, height_mm = 100, axis = [0, -2, 0] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 90.0);
    let cell = capsule(&keep_out(
        "cylinder = { at_mm = [112, 16, 500], radius_mm = 5, height_mm = 10, axis = [3, 4, 0] }",
    ));
    is(&cell, &at(0.0, 0.0, &[]), 10.0);
}

/// A floor at z = 470: 30 − 10. A slanting wall through (200, 0, 500), free toward (−3, 0, 4)/5:
/// the end is 100·3/5 = 60 before it; 60 − 10. Behind a wall the middle line is inside: −10.
#[test]
fn a_half_space() {
    let wall = |text: &str| capsule(&keep_out(&format!("half_space = {{ {text} }}")));
    let floor = wall("at_mm = [7, 8, 470], free = [0, 0, 1]");
    is(&floor, &at(0.0, 0.0, &[]), 20.0);
    let slanting = wall("at_mm = [200, 0, 500], free = [-3, 0, 4]");
    is(&slanting, &at(0.0, 0.0, &[]), 50.0);
    let behind = wall("at_mm = [0, 0, 470], free = [0, 0, -1]");
    is(&behind, &at(0.0, 0.0, &[]), -10.0);
}

/// Where the middle line enters a shape, −radius is told, however deep it is.
#[test]
fn inside_a_shape() {
    for shape in [
        "box = { from_mm = [50, -50, 400], to_mm = [230, 50, 600] }",
        "box = { from_mm = [-500, -500, 0], to_mm = [500, 500, 1000] }",
        "cylinder = { at_mm = [50, 0, 0], radius_mm = 30, height_mm = 900 }",
        "cylinder = { at_mm = [0, 0, 0], radius_mm = 900, height_mm = 900 }",
    ] {
        is(&capsule(&keep_out(shape)), &at(0.0, 0.0, &[]), -10.0);
    }
    // Overlapping by less: the face x = 104 is 4 from the end: 4 − 10.
    let shallow = keep_out("box = { from_mm = [104, -50, 400], to_mm = [230, 50, 600] }");
    is(&capsule(&shallow), &at(0.0, 0.0, &[]), -6.0);
}

/// Platter at (1000, 0, 400). A box on it from x = 100 to 120, y = −10 to 10, up to 200 above it.
/// At 0° the near face is that of x = 100 in the platter's frame, 1100 on the plate. At 180° the
/// face x = 120 looks at the arm: 1000 − 120 = 880. The end of the capsule stands at s + 100.
#[test]
fn a_box_on_the_platter() {
    let text = "frame = \"platter\"\nbox = { from_mm = [100, -10, 0], to_mm = [120, 10, 200] }";
    let cell = capsule(&keep_out(text));
    is(&cell, &at(700.0, 0.0, &[]), 1100.0 - 800.0 - 10.0);
    is(&cell, &at(700.0, 180.0, &[]), 880.0 - 800.0 - 10.0);
    // At 90° its nearest edge is at x = 1000 − 10, y = 100: from (800, 0): √(190² + 100²) − 10.
    let by_hand = 190f64.hypot(100.0) - 10.0;
    is(&cell, &at(700.0, 90.0, &[]), by_hand);
}

/// The arm is stretched out along x at z = 500, the body from joint 2 to joint 3 (200 to 400),
/// radius 30, above the plate: 500 − 30. Joint 2 at 90° points it down: its end is at z = 300.
#[test]
fn over_the_plate() {
    let text =
        "[[arm.body]]\non = \"j2\"\nfrom_mm = [200, 0, 0]\nto_mm = [400, 0, 0]\nradius_mm = 30\n";
    let link = cell(text);
    is(&link, &at(0.0, 0.0, &[]), 470.0);
    is(&link, &at(0.0, 0.0, &[0.0, 90.0]), 270.0);
    let found = nearest(&link, &at(0.0, 0.0, &[])).unwrap();
    assert_eq!(found.other, Other::Plate);
    // The plate ends at x = 9·50 + 25 = 475. With the carriage at 535 and the link down at x = 735
    // the lower end (735, 0, 300) is √(260² + 300²) from the edge.
    let by_hand = 260f64.hypot(300.0) - 30.0;
    is(&link, &at(535.0, 0.0, &[0.0, 90.0]), by_hand);
    // Bodies on base and carriage stand on it: they are not compared.
    for on in ["base", "carriage"] {
        let still = cell(&text.replace("j2", on));
        assert_eq!(nearest(&still, &at(0.0, 0.0, &[])), None);
        assert!(!Surroundings::new(&still, &still.nominal).is_empty());
    }
    let touching = cell(&text.replace("radius_mm = 30", "radius_mm = 30\nmay_touch = [\"plate\"]"));
    assert_eq!(nearest(&touching, &at(0.0, 0.0, &[])), None);
}

/// Flange and tool have frames of their own: z along the plate's x, x down, so y = z × x is
/// (1, 0, 0) × (0, 0, −1) = (0, 1, 0). The tip is at (900, 0, 500); a ball of radius 20 about
/// (50, 0, −10) of the tool is at 900 − 10 along x and 50 lower: z = 450, over the plate (which ends
/// at 475): √(415² + 450²) − 20. The same ball given on the flange is at (50, 0, 90).
#[test]
fn on_flange_and_tool() {
    let by_hand = 415f64.hypot(450.0) - 20.0;
    for (on, place) in [("tool", "[50, 0, -10]"), ("flange", "[50, 0, 90]")] {
        let ball = cell(&format!(
            "[[arm.body]]\non = \"{on}\"\nfrom_mm = {place}\nto_mm = {place}\nradius_mm = 20\n"
        ));
        is(&ball, &at(0.0, 0.0, &[]), by_hand);
    }
}

/// Two capsules that cross at right angles: the base's along x at z = 500, 0 to 100 mm. Joint 2 at
/// −90° points its link up at x = 200, joint 3 at −90° back toward −x, 200 above, joint 4 at −90°
/// down again: the tool's body, given along y in the flange frame, crosses the base's line.
#[test]
fn two_crossing_capsules() {
    let text = "[[arm.body]]\non = \"base\"\nfrom_mm = [-300, 0, 0]\nto_mm = [100, 0, 0]\nradius_mm = 10\n\
        [[arm.body]]\non = \"flange\"\nname = \"bar\"\nfrom_mm = [0, -40, -35]\nto_mm = [0, 60, -35]\n\
        radius_mm = 5\nmay_touch = [\"plate\"]\n";
    let two = cell(text);
    // The base's line ends at x = 100; joint 4 is at (0, 0, 700) and the flange 200 below, at
    // (0, 0, 500); the bar 35 back up its z: 35 above the line, 35 − 10 − 5.
    let folded = at(0.0, 0.0, &[0.0, -90.0, -90.0, -90.0]);
    is(&two, &folded, 20.0);
    let found = nearest(&two, &folded).unwrap();
    assert_eq!((found.body, found.other), (1, Other::Body(0)));
    let surroundings = Surroundings::new(&two, &two.nominal);
    assert_eq!(surroundings.body_name(found.body), "bar");
    assert_eq!(surroundings.other_name(found.other), "the arm's own base");
    // Stretched out: from the base's end (100, 0) to the bar at x = 800 − 35 = 765: 665 − 15.
    is(&two, &at(0.0, 0.0, &[]), 650.0);
}

/// A link against one that is not its neighbour: joints 2 and 3 at ±90° make a step. Links j1 (0 to
/// 200) and j3 (400 to 600) are compared, j1 and j2, j2 and j3 are not.
#[test]
fn links_that_are_not_neighbours() {
    let link = |on: usize, radius_mm: f64| {
        let (from, to) = (200 * (on - 1), 200 * on);
        format!(
            "[[arm.body]]\non = \"j{on}\"\nfrom_mm = [{from}, 0, 0]\nto_mm = [{to}, 0, 0]\n\
             radius_mm = {radius_mm}\nmay_touch = [\"plate\"]\n"
        )
    };
    let neighbours = cell(&(link(1, 40.0) + &link(2, 30.0)));
    assert_eq!(nearest(&neighbours, &at(0.0, 0.0, &[])), None);
    let three = cell(&(link(1, 40.0) + &link(2, 30.0) + &link(3, 20.0)));
    // Stretched out: j1 ends at 200, j3 begins at 400: 200 − 40 − 20.
    is(&three, &at(0.0, 0.0, &[]), 140.0);
    // Up and back: j3 lies 200 above j1, over its whole length: the same.
    is(&three, &at(0.0, 0.0, &[0.0, -90.0, -90.0]), 140.0);
    // Joint 3 at −135°: the end of j3 is at (200, 200) + 200·(−cos 45°, −sin 45°): 200 − 141.4214
    // above j1.
    let by_hand = 200.0 - 100.0 * 2f64.sqrt() - 60.0;
    is(&three, &at(0.0, 0.0, &[0.0, -90.0, -135.0]), by_hand);
    // At −180° it lies in j2 and ends in joint 2, which is the end of j1: −(40 + 20).
    is(&three, &at(0.0, 0.0, &[0.0, -90.0, -180.0]), -60.0);
    // One may be told to touch the other, from either side.
    let plate = "may_touch = [\"plate\"]\n";
    for (first, second) in [(1, 3), (3, 1)] {
        let told =
            link(first, 40.0).replace(plate, &format!("may_touch = [\"plate\", \"j{second}\"]\n"));
        let touching = cell(&(told + &link(2, 30.0) + &link(second, 20.0)));
        assert_eq!(nearest(&touching, &at(0.0, 0.0, &[])), None);
    }
}

/// What a body may touch does not count for it, and counts for the others.
#[test]
fn may_touch() {
    let near = keep_out("box = { from_mm = [130, -50, 400], to_mm = [230, 50, 600] }");
    let body = |more: &str| {
        format!(
            "[[arm.body]]\non = \"base\"\nfrom_mm = [0, 0, 0]\nto_mm = [100, 0, 0]\nradius_mm = 10\n{more}\n"
        )
    };
    let touch = "may_touch = [\"thing\"]";
    // By hand: 30 − 10 from the near box.
    is(&cell(&(near.clone() + &body(""))), &at(0.0, 0.0, &[]), 20.0);
    let alone = cell(&(near.clone() + &body(touch)));
    assert_eq!(nearest(&alone, &at(0.0, 0.0, &[])), None);
    let both = cell(&(near.clone() + &body(touch) + &body("name = \"second\"")));
    let found = nearest(&both, &at(0.0, 0.0, &[])).unwrap();
    assert_eq!((found.body, found.other), (1, Other::KeepOut(0)));
    // A second keep-out, 60 away from the end, is seen past the first: 60 − 10.
    let far = near.replace("thing", "far").replace("130", "160");
    is(
        &cell(&(near + &far + &body(touch))),
        &at(0.0, 0.0, &[]),
        50.0,
    );
}

#[test]
fn without_bodies_nothing_is_said() {
    let bare = cell(&keep_out(
        "box = { from_mm = [130, -50, 400], to_mm = [230, 50, 600] }",
    ));
    let surroundings = Surroundings::new(&bare, &bare.nominal);
    assert!(surroundings.is_empty());
    let (from, to) = (at(0.0, 0.0, &[]), at(900.0, 0.0, &[]));
    assert_eq!(surroundings.nearest(&from), None);
    let nothing = WayClearance::Clear {
        at_least_mm: None,
        nearest: None,
    };
    assert_eq!(surroundings.way(&from, &to, 5.0), nothing);
}

/// Values that are not numbers are too near, and give no infinity.
#[test]
fn values_that_are_not_numbers() {
    let near = capsule(&keep_out(
        "box = { from_mm = [130, -50, 400], to_mm = [230, 50, 600] }",
    ));
    let surroundings = Surroundings::new(&near, &near.nominal);
    let good = at(0.0, 0.0, &[]);
    for travel_mm in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300] {
        let wrong = at(travel_mm, 0.0, &[]);
        assert_eq!(surroundings.nearest(&wrong).unwrap().clearance_mm, -10.0);
        for (from, to) in [(good, wrong), (wrong, good)] {
            let way = surroundings.way(&from, &to, 5.0);
            assert!(matches!(way, WayClearance::Blocked { .. }), "{way:?}");
        }
    }
}

/// Past a thin post: the end (s + 100, 0, 500) of the capsule goes from 100 to 500; the post of
/// radius 5 stands at (300, 20). Clearance is 20 − 5 − 10 = 5 once it is reached, and the first
/// place below 6 is where √(d² + 20²) − 15 = 6, d = √(21² − 20²) = √41 before: s = 200 − √41.
#[test]
fn a_way_past_a_post() {
    let post = keep_out("cylinder = { at_mm = [300, 20, 400], radius_mm = 5, height_mm = 200 }");
    let past = capsule(&post);
    let surroundings = Surroundings::new(&past, &past.nominal);
    let (from, to) = (at(0.0, 0.0, &[]), at(400.0, 0.0, &[]));
    match surroundings.way(&from, &to, 4.9) {
        WayClearance::Clear {
            at_least_mm: Some(bound),
            nearest: Some(nearest),
        } => {
            assert!((4.9..=5.0 + 1e-6).contains(&bound), "{bound}");
            assert!(nearest.clearance_mm >= bound);
            assert_eq!(nearest.other, Other::KeepOut(0));
        }
        other => panic!("{other:?}"),
    }
    match surroundings.way(&from, &to, 6.0) {
        WayClearance::Blocked { nearest, share } => {
            // First found within 1/256 of the way, 1.5625 mm.
            let first_mm = 200.0 - 41f64.sqrt();
            let done_mm = share * 400.0;
            assert!(
                done_mm >= first_mm && done_mm <= first_mm + 1.5626,
                "{done_mm}"
            );
            assert!(nearest.clearance_mm < 6.0);
        }
        other => panic!("{other:?}"),
    }
    // Touching the limit exactly cannot be proven by bounds.
    match surroundings.way(&from, &to, 5.0) {
        WayClearance::Unproved {
            at_least_mm,
            nearest,
            share,
        } => {
            assert!(at_least_mm < 5.0 && at_least_mm > 4.9, "{at_least_mm}");
            assert!((nearest.clearance_mm - 5.0).abs() < 1e-3);
            assert!((0.0..1.0).contains(&share));
        }
        // Rounding down may make the very limit a miss by 1e-9.
        WayClearance::Blocked { nearest, .. } => assert!(nearest.clearance_mm > 5.0 - 1e-6),
        other => panic!("{other:?}"),
    }
}
