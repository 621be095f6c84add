//! Readings that took no part: drawn with a mark of their own, or named as not drawn.

use crate::pictures::contributions;
use crate::pictures::notch_dial;
use crate::pictures::residuals::residuals;
use crate::pictures::tests::bench_of;
use crate::pictures::tests::every;
use crate::pictures::tests::glazing;
use crate::pictures::tests::registered;
use crate::pictures::tests::solved;
use crate::pictures::track_line;
use crate::registration::SetAside;
use crate::table::common::Use;

#[test]
fn what_was_set_aside_is_drawn_hollow_where_it_lies_from_the_others() {
    // slips: its README says that line 6 of holes.csv is one hole of 50 mm off.
    let bench = demo!(
        "slips",
        "holes.csv",
        "notch.csv",
        "touch.csv",
        "attitude.csv"
    );
    let (document, geometry) = solved(&bench, SetAside::Suspects);
    let row = "readings/holes.csv";
    assert!(
        document
            .set_aside
            .iter()
            .any(|p| p.file == row && p.line == 6)
    );
    // It is in no other mark.
    assert!(
        document
            .readings
            .iter()
            .all(|r| r.file != row || r.line != 6)
    );
    let all = residuals(&document, &bench, &geometry);
    let (chart, said) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
    let [tag] = &chart.cloud.aside[..] else {
        panic!("{:?}", chart.cloud.aside);
    };
    // 50 mm, but for its own error (u 0.3 mm) and half of a play below 2 mm.
    assert!((tag.at.1.abs() - 50.0).abs() < 2.0, "{tag:?}");
    assert!(
        tag.label
            .starts_with("readings/holes.csv line 6: set aside, "),
        "{tag:?}"
    );
    assert!(
        said.contains(
            "1 reading was set aside, as asked for: readings/holes.csv:6 (hollow, at what it is off from what \
             the others say)."
        ),
        "{said}"
    );
    // Of the others, none is marked, and it does not squeeze them.
    assert!(chart.cloud.suspects.is_empty());
    assert!(
        chart
            .cloud
            .classes
            .iter()
            .flat_map(|c| &c.points)
            .all(|p| p.1.abs() < 5.0)
    );
    // Those elsewhere are told where they would be.
    let n = document.set_aside.len();
    let (_, said) = contributions::chart(&document, &bench).unwrap();
    assert!(
        said.contains(&format!(
            "{n} readings were set aside, as asked for, and not drawn: "
        )) && said.contains("readings/holes.csv:6"),
        "{n} {said}"
    );
    let track = &every(&bench, &document, &geometry)[0];
    assert!(track.wide.contains("set aside: took no part") && track.narrow.contains("set aside"));
}

#[test]
fn what_was_set_aside_and_is_not_known_any_more_is_named() {
    let bench = glazing();
    let (mut document, geometry) = registered(&bench);
    // A record without what the search found.
    let line = document.readings[0].line;
    document.readings.remove(0);
    document.set_aside.push(crate::registration::PlaceDocument {
        file: "readings/holes.csv".to_owned(),
        line,
    });
    document.readings.sort_by(|a, b| a.file.cmp(&b.file));
    let all = residuals(&document, &bench, &geometry);
    let (chart, said) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
    assert!(chart.cloud.aside.is_empty());
    let told =
        format!("1 reading was set aside, as asked for, and not drawn: readings/holes.csv:{line}.");
    assert!(said.contains(&told), "{said}");
}

#[test]
fn rows_that_say_use_no_are_named_where_they_would_be_drawn() {
    let mut bench = glazing();
    let mut holes: Vec<_> = bench
        .taken
        .iter_mut()
        .filter(|t| &*t.file == "readings/holes.csv")
        .collect();
    holes[..7].iter_mut().for_each(|t| t.role = Use::No);
    let lines: Vec<usize> = holes.iter().map(|t| t.line).collect();
    let (document, geometry) = registered(&bench);
    let all = residuals(&document, &bench, &geometry);
    let (chart, said) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
    // Seven of twenty.
    assert_eq!(chart.cloud.places().count(), 13);
    let named: Vec<String> = lines[..5]
        .iter()
        .map(|l| format!("readings/holes.csv:{l}"))
        .collect();
    let told = format!(
        "7 readings were left out by use = no, and not drawn: {} and 2 more.",
        named.join(", ")
    );
    assert!(said.contains(&told), "{said}");
    // Nothing of that is missing round the table.
    let (_, said) = notch_dial::chart(&document, &bench, &all, &geometry).unwrap();
    assert!(!said.contains("use = no"), "{said}");
}
