//! Bars in groups.

use crate::drawing::chart::bars;
use crate::drawing::chart::bars::Bars;
use crate::drawing::chart::tests::LONG;
use crate::drawing::chart::tests::fine;

fn bar(share: f64, amount: Option<f64>, words: &str) -> bars::Row {
    bars::Row {
        name: "line 12, x".to_owned(),
        share,
        share_words: format!("{share:.2}"),
        amount,
        amount_words: words.to_owned(),
    }
}

fn bars_of(rows: Vec<bars::Row>) -> Bars {
    Bars {
        title: "t".to_owned(),
        description: "d".to_owned(),
        share_label: "redundancy, 0 to 1".to_owned(),
        amount_label: "smallest noticeable error".to_owned(),
        groups: vec![bars::Group {
            heading: format!("readings/{LONG}.csv"),
            unit: "mm".to_owned(),
            rows,
        }],
        notes: vec![LONG.to_owned()],
    }
}

#[test]
fn bars_are_sound_and_as_long_as_they_should_be() {
    for rows in [
        vec![bar(0.5, Some(1.2), "1.20 mm")],
        vec![bar(0.0, None, "nothing checks it")],
        vec![bar(1.0, Some(0.0), "0.00 mm"); 40],
        vec![
            bar(0.7, Some(1e9), "1000000000 mm"),
            bar(0.7, Some(1.0), "1.00 mm"),
        ],
        Vec::new(),
    ] {
        fine(|w| bars::bars(&bars_of(rows.clone()), w));
    }
    let rows = vec![
        bar(1.0, Some(2.0), "2.0 mm"),
        bar(0.5, Some(1.0), "1.0 mm"),
        bar(0.25, Some(0.5), "0.5 mm"),
    ];
    for all in fine(|w| bars::bars(&bars_of(rows.clone()), w)) {
        // After the ground, the hatch's own and two of the key: two for each row.
        let wide: Vec<f64> = all
            .iter()
            .filter(|e| e.name == "rect")
            .map(|e| e.number("width"))
            .skip(4)
            .collect();
        assert_eq!(wide.len(), 6);
        for column in [0, 1] {
            let (one, half, quarter) = (wide[column], wide[column + 2], wide[column + 4]);
            assert!(one > 40.0);
            assert!((half - one / 2.0).abs() < 0.02 && (quarter - one / 4.0).abs() < 0.02);
        }
    }
}
