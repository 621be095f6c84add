//! Which rows are drawn for being checked least.

use crate::pictures::contributions;
use crate::pictures::tests::glazing;
use crate::pictures::tests::registered;

#[test]
fn a_suspect_is_drawn_among_the_contributions() {
    let bench = glazing();
    let (mut document, _) = registered(&bench);
    // The best checked of a file that not all rows are drawn of.
    let file = "readings/touch.csv";
    let row = document
        .readings
        .iter_mut()
        .filter(|r| r.file == file)
        .max_by(|a, b| a.redundancy.total_cmp(&b.redundancy))
        .unwrap();
    row.suspect = true;
    row.standardized = Some(9.0);
    let name = format!(
        "line {}, {} (suspect)",
        row.line,
        row.component.clone().unwrap()
    );
    let (chart, sentence) = contributions::chart(&document, &bench).unwrap();
    let group = chart.groups.iter().find(|g| g.heading.starts_with(file));
    let group = group.unwrap();
    assert!(group.rows.iter().any(|r| r.name == name), "{name}");
    assert!(
        group.heading.ends_with("and 1 more that stands out"),
        "{}",
        group.heading
    );
    assert!(
        sentence.contains("41 of 106 residuals are drawn"),
        "{sentence}"
    );
    assert!(
        sentence.contains("may stay unnoticed (more than one time in five)"),
        "{sentence}"
    );
}

#[test]
fn the_least_checked_are_drawn_and_the_rest_is_told() {
    // By hand: 40 places over 20, 16, 48, 16 and 6 rows, one after another: 8 each would be 40, but the last
    // file has 6 only, so that 2 are left for the first two.
    assert_eq!(
        contributions::quotas(&[20, 16, 48, 16, 6], 40),
        [9, 9, 8, 8, 6]
    );
    assert_eq!(contributions::quotas(&[3, 2], 40), [3, 2]);
    assert_eq!(
        contributions::quotas(&[1; 50], 40).iter().sum::<usize>(),
        40
    );
    let bench = glazing();
    let (document, _) = registered(&bench);
    let (chart, sentence) = contributions::chart(&document, &bench).unwrap();
    let drawn: usize = chart.groups.iter().map(|g| g.rows.len()).sum();
    assert_eq!((drawn, document.readings.len()), (40, 106));
    assert!(sentence.contains("40 of 106 residuals are drawn"));
    // The least checked of a file is among them.
    for file in ["readings/touch.csv", "readings/holes.csv"] {
        let rows = document.readings.iter().filter(|r| r.file == file);
        let least = rows.map(|r| r.redundancy).fold(1.0, f64::min);
        let group = chart.groups.iter().find(|g| g.heading.starts_with(file));
        assert_eq!(group.unwrap().rows[0].share, least);
    }
}
