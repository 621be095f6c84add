//! Changes between two registrations.

use crate::pictures::moved;
use crate::pictures::tests::LONG;
use crate::pictures::tests::fine;
use crate::pictures::tests::glazing;
use crate::pictures::tests::registered;
use crate::registration::ChangeDocument;
use crate::registration::MovedDocument;

fn change(name: &str, change: f64, u: f64, verdict: &str) -> ChangeDocument {
    ChangeDocument {
        name: name.to_owned(),
        unit: "mm".to_owned(),
        before: 100.0,
        after: 100.0 + change,
        change,
        u,
        verdict: verdict.to_owned(),
    }
}

#[test]
fn changes_are_told_by_how_sure_they_are() {
    let changes = vec![
        change("track.x", 50.5, 0.25, "real"),
        change("track.y", -0.6, 0.3, "perhaps"),
        change(LONG, 0.01, 0.3, "same"),
        change("tool.z", 5.0, 0.0, "drawing"),
        change("nothing", 0.0, 0.0, "same"),
    ];
    let told = MovedDocument {
        parts: vec!["track".to_owned()],
        followed: Vec::new(),
        from: "registration-0003.json".to_owned(),
        freed: Vec::new(),
        by_tolerance: Vec::new(),
        sentences: Vec::new(),
        changes,
        no_longer_count: Vec::new(),
    };
    let (chart, sentence) = moved::chart(&told).unwrap();
    assert!(
        sentence.starts_with(
            "One of 4 parameters really changed: track.x by +50.50 mm; one more perhaps did."
        ),
        "{sentence}"
    );
    let off: Vec<Option<f64>> = chart.groups[0].rows.iter().map(|r| r.off).collect();
    // 50.5/0.25 = 202; −0.6/0.3 = −2; what the drawing changed has no u.
    assert_eq!(off[0], Some(202.0));
    assert!((off[1].unwrap() + 2.0).abs() < 1e-12 && off[3].is_none());
    let (mut document, _) = registered(&glazing());
    assert_eq!(moved::moved(&document).unwrap(), None);
    document.moved = Some(told);
    fine(&moved::moved(&document).unwrap().unwrap());
    document.moved.as_mut().unwrap().changes = vec![change(LONG, 1.0, 1e-300, "real"); 90];
    fine(&moved::moved(&document).unwrap().unwrap());
    document.moved.as_mut().unwrap().changes.clear();
    assert_eq!(moved::moved(&document).unwrap(), None);
}
