//! From where points are reached: who shares a place.

use crate::pictures::reach_lanes;
use crate::pictures::reach_lanes::Reach;
use crate::pictures::reach_lanes::ReachPoint;
use crate::pictures::tests::LONG;
use crate::pictures::tests::fine;
use crate::pictures::tests::glazing;
use crate::report::reach::IntervalsDocument;
use crate::report::reach::PointDocument;
use crate::report::reach::ReachDocument;
use crate::report::reach::Standing;

fn point(name: &str, intervals: &[[f64; 2]], reached: bool) -> ReachPoint {
    ReachPoint {
        name: name.to_owned(),
        frame: "plate".to_owned(),
        reached,
        standing: match reached {
            true => Standing::Reached,
            false => Standing::Nowhere,
        },
        intervals: intervals.to_vec(),
        taught: Some(300.0),
        best: reached.then_some(250.0),
        words: "words".to_owned(),
    }
}

#[test]
fn lanes_say_who_shares_a_place() {
    let reach = Reach {
        track: true,
        limits: Some([0.0, 900.0]),
        points: vec![
            point("a", &[[100.0, 400.0], [500.0, 800.0]], true),
            point(LONG, &[[350.0, 760.0]], true),
        ],
    };
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    // Shared by hand: 350 to 400, and 500 to 760, which is wider.
    assert!(picture.sentence.contains("All 2 points can be reached."));
    assert!(
        picture.sentence.contains("from 500 to 760"),
        "{}",
        picture.sentence
    );
    assert!(
        picture
            .wide
            .contains("prove each new position slowly first")
    );
    let mut other = reach.clone();
    other.points.push(point("c", &[], false));
    other.points.push(point("d", &[[820.0, 830.0]], true));
    let picture = reach_lanes::reach_lanes(&other).unwrap().unwrap();
    fine(&picture);
    assert!(
        picture
            .sentence
            .starts_with("1 of 4 points cannot be reached: c. No single place")
    );
    assert!(picture.sentence.contains("No single place of the track"));
    // One place only: the end of one is the beginning of the other.
    let touching = Reach {
        points: vec![
            point("a", &[[100.0, 200.0]], true),
            point("b", &[[200.0, 300.0]], true),
        ],
        ..reach.clone()
    };
    let (_, sentence) = reach_lanes::chart(&touching);
    assert!(
        sentence.contains(
            "Only with the track at 200 all of them that can be reached are reached from one place, by the joints' \
             limits; clearances are looked at at the stations only."
        ),
        "{sentence}"
    );
    // Both ends round inward: 100.04 up to 100.1, 199.96 down to 199.9; a tenth stays a tenth.
    let between = |low: f64, high: f64| {
        let points = vec![
            point("a", &[[low, high]], true),
            point("b", &[[0.0, 900.0]], true),
        ];
        reach_lanes::chart(&Reach {
            points,
            ..reach.clone()
        })
        .1
    };
    let said = between(100.04, 199.96);
    assert!(said.contains("track from 100.1 to 199.9 all"), "{said}");
    let said = between(100.3, 199.7);
    assert!(said.contains("track from 100.3 to 199.7 all"), "{said}");
    // Narrower than tenths.
    let said = between(100.032, 100.058);
    assert!(said.contains("track from 100.032 to 100.058 all"), "{said}");
    let many = Reach {
        points: vec![point(LONG, &[[1.0, 2.0]], true); 200],
        track: false,
        limits: None,
    };
    fine(&reach_lanes::reach_lanes(&many).unwrap().unwrap());
    let none = Reach {
        points: Vec::new(),
        ..many
    };
    assert_eq!(reach_lanes::reach_lanes(&none).unwrap(), None);
}

#[test]
fn conditions_are_told_apart_from_what_cannot_be_reached() {
    let under = |name: &str, standing, intervals: &[[f64; 2]]| ReachPoint {
        standing,
        ..point(name, intervals, false)
    };
    let mut reach = Reach {
        track: true,
        limits: Some([0.0, 900.0]),
        points: vec![
            point("a", &[[100.0, 400.0]], true),
            under("b", Standing::Pairs, &[[350.0, 760.0]]),
            under("c", Standing::Pairs, &[[350.0, 760.0]]),
            under("d", Standing::TooNear, &[[10.0, 20.0]]),
            under("e", Standing::Nowhere, &[]),
        ],
    };
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    assert!(
        picture.sentence.starts_with(
            "1 of 5 points cannot be reached: e. 2 of 5 points are reached only at certain pairs of track and \
             table: b, c. 1 of 5 points is reached only too near to something: d."
        ),
        "{}",
        picture.sentence
    );
    let key = "only under the condition told";
    assert!(picture.wide.contains(key) && picture.wide.contains(">not reached<"));
    // Each entry of the key is there only where it is used.
    reach.points.truncate(3);
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    assert!(picture.wide.contains(key) && !picture.wide.contains(">not reached<"));
    reach.points.truncate(1);
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    assert!(!picture.wide.contains(key));
    // Without a travel the answer is neither yes nor no.
    reach.points = vec![under("b", Standing::Pairs, &[])];
    reach.track = false;
    reach.limits = None;
    let picture = reach_lanes::reach_lanes(&reach).unwrap().unwrap();
    fine(&picture);
    assert!(picture.wide.contains("b (plate): under a condition"));
    assert_eq!(
        picture.sentence,
        "b is reached only at certain pairs of track and table."
    );
}

#[test]
fn lanes_are_filled_from_what_reach_found() {
    let bench = glazing();
    let geometry = bench.cell.nominal.clone();
    let of = |table: f64, intervals: &[[f64; 2]]| IntervalsDocument {
        table: Some(table),
        intervals: intervals.to_vec(),
    };
    let document = ReachDocument {
        points: vec![PointDocument {
            name: "bead".to_owned(),
            frame: "platter".to_owned(),
            taught: false,
            posture: None,
            clearance_needed_mm: 0.0,
            reachable: true,
            refused: None,
            best: None,
            stations: Vec::new(),
            track_intervals: vec![
                of(0.0, &[[500.0, 600.0], [10.0, 20.0]]),
                of(45.0, &[[550.0, 700.0]]),
            ],
            pairs: None,
        }],
    };
    let reach = reach_lanes::of(&document, &bench, &geometry);
    // 500 to 600 and 550 to 700 are one.
    assert_eq!(reach.points[0].intervals, [[10.0, 20.0], [500.0, 700.0]]);
    assert_eq!(reach.points[0].words, "track 10 to 20, 500 to 700");
    assert!(reach.track);
    fine(&reach_lanes::reach_lanes(&reach).unwrap().unwrap());
    assert_eq!(
        reach_lanes::merged(vec![[3.0, 1.0], [1.0, 2.0], [5.0, 5.0]]),
        [[1.0, 3.0], [5.0, 5.0]]
    );
}
