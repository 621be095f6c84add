//! Arrows: what found no room in the drawing stands below it, and check readings are drawn.

use crate::drawing::tests::readback::path_points;
use crate::drawing::tests::readback::sound;
use crate::pictures::Picture;
use crate::pictures::arrows::arrows;
use crate::pictures::scene::Known;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::pictures::tests::bench_of;
use crate::pictures::tests::fine;
use crate::pictures::tests::registered;

fn drawn(bench: &crate::bench::Bench, view: View) -> Picture {
    let (document, geometry) = registered(bench);
    let known = Known::new(&document.parameters);
    let subject = Subject {
        cell: &bench.cell,
        found: &geometry,
        drawn: None,
        spots: &[],
        known: &known,
    };
    let picture = arrows(&subject, bench, &document, view).unwrap().unwrap();
    fine(&picture);
    picture
}

/// All words of a drawing, one after another.
fn words(svg: &str) -> String {
    let all = sound(svg);
    let texts = all.iter().filter(|e| e.name == "text");
    texts.map(|e| e.text.as_str()).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_suspect_is_named_on_a_narrow_sheet_too() {
    // slips: its README says that line 6 of holes.csv is one hole of 50 mm off.
    let bench = demo!(
        "slips",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv"
    );
    let plan = drawn(&bench, View::Plan);
    assert_eq!(
        plan.heading,
        "What touches and counts are off by, from above"
    );
    for svg in [&plan.wide, &plan.narrow] {
        let words = words(svg);
        assert!(words.contains("holes.csv line 6:"), "{words}");
        for meaning in [
            "ring: named as what does not fit",
            "red and heavy: off beyond chance",
            "ellipse: 95 % of such arrows",
            "square at the foot: ends outside",
            "two strokes: longer than drawn",
        ] {
            assert!(words.contains(meaning), "{meaning} in {words}");
        }
        // No length stands alone: it has the name of its row before it.
        let lengths: Vec<usize> = words.match_indices(" mm").map(|(at, _)| at).collect();
        assert!(lengths.len() > 3, "{words}");
        assert!(words.contains("holes 1"), "{words}");
    }
    // Nothing was counted in heights.
    let front = drawn(&bench, View::Elevation);
    assert_eq!(front.heading, "What touches are off by, from the front");
}

#[test]
fn check_readings_are_drawn_with_a_mark_of_their_own() {
    // Four rows of its touch.csv say check, all of them touches.
    let bench = demo!("read-twice", "holes.csv", "notch.csv", "touch.csv");
    let plan = drawn(&bench, View::Plan);
    let told = "4 check readings, which took no part, are drawn with a diamond";
    assert!(plan.sentence.contains(told), "{}", plan.sentence);
    for svg in [&plan.wide, &plan.narrow] {
        assert!(words(svg).contains("diamond at the foot: check reading"));
    }
}

#[test]
fn what_was_read_high_over_the_plate_is_on_the_sheet() {
    // Heights of the glazing bench go up to the raised arm, far over track and platter.
    let front = drawn(&crate::pictures::tests::glazing(), View::Elevation);
    for svg in [&front.wide, &front.narrow] {
        let all = sound(svg);
        let from = all.iter().position(|e| e.get("class") == Some("arrows"));
        let paths = all[from.unwrap()..].iter().filter(|e| e.name == "path");
        let lowest_y = paths
            .flat_map(|e| path_points(e.get("d").unwrap()))
            .map(|p| p.1)
            .fold(f64::INFINITY, f64::min);
        assert!(lowest_y >= 5.0, "{lowest_y}");
    }
}
