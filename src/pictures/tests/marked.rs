//! Which readings are marked as wrong where one slip explains them all.

use crate::pictures::Picture;
use crate::pictures::arrows::arrows;
use crate::pictures::contributions;
use crate::pictures::joints;
use crate::pictures::notch_dial;
use crate::pictures::residuals::residuals;
use crate::pictures::scene::Known;
use crate::pictures::scene::Subject;
use crate::pictures::scene::View;
use crate::pictures::tests::bench_of;
use crate::pictures::tests::every;
use crate::pictures::tests::registered;
use crate::pictures::tests::solved;
use crate::pictures::track_line;
use crate::registration::SetAside;

/// The glazing bench with the pitch of another plate in its cell file.
fn wrong_pitch() -> crate::bench::Bench {
    let right = "pitch_mm = 50.0";
    let cell = include_str!("../../../demo-cells/glazing-bench/cell.toml");
    assert!(cell.contains(right));
    bench_of(
        &cell.replace(right, "pitch_mm = 25.4"),
        &[
            (
                "holes.csv",
                include_str!("../../../demo-cells/glazing-bench/readings/holes.csv"),
            ),
            (
                "notch.csv",
                include_str!("../../../demo-cells/glazing-bench/readings/notch.csv"),
            ),
            (
                "touch.csv",
                include_str!("../../../demo-cells/glazing-bench/readings/touch.csv"),
            ),
            (
                "attitude.csv",
                include_str!("../../../demo-cells/glazing-bench/readings/attitude.csv"),
            ),
            (
                "height.csv",
                include_str!("../../../demo-cells/glazing-bench/readings/height.csv"),
            ),
        ],
    )
}

/// What was changed, in the words of the findings.
const PITCH: &str = "cell.toml: everything fits if plate.pitch_mm is 50, not 25.4";

#[test]
fn where_one_slip_of_the_whole_explains_all_no_reading_is_marked() {
    let bench = wrong_pitch();
    let (document, geometry) = registered(&bench);
    // Many rows lie beyond chance, and the search names none of them.
    let far = document.readings.iter().filter(|r| r.suspect).count();
    assert!(far > 10 && document.suspects.is_empty(), "{far}");
    let all = residuals(&document, &bench, &geometry);
    assert!(all.placed.iter().all(|p| !p.suspect));
    let (track, said) = track_line::chart(&document, &bench, &all, &geometry).unwrap();
    assert!(track.cloud.suspects.is_empty());
    assert!(
        said.starts_with("Some lie beyond chance, but no single reading is marked as wrong")
            && said.contains(PITCH),
        "{said}"
    );
    let (dial, _) = notch_dial::chart(&document, &bench, &all, &geometry).unwrap();
    assert!(dial.cloud.suspects.is_empty());
    let (lanes, _) = joints::chart(&document, &bench, &all).unwrap();
    assert!(lanes.lanes.iter().flat_map(|l| &l.values).all(|v| !v.1));
    let (bars, said) = contributions::chart(&document, &bench).unwrap();
    let mut rows = bars.groups.iter().flat_map(|g| &g.rows);
    assert!(rows.all(|r| !r.name.contains("suspect")));
    assert!(said.contains(PITCH), "{said}");
    for picture in every(&bench, &document, &geometry) {
        assert!(!picture.wide.contains("stands out:"), "{}", picture.slug);
    }
    let known = Known::new(&document.parameters);
    let subject = Subject {
        cell: &bench.cell,
        found: &geometry,
        drawn: None,
        spots: &[],
        known: &known,
    };
    let plan: Picture = arrows(&subject, &bench, &document, View::Plan)
        .unwrap()
        .unwrap();
    assert!(
        plan.sentence.contains(PITCH) && !plan.sentence.contains("do not fit (ringed)"),
        "{}",
        plan.sentence
    );
}

#[test]
fn nothing_is_set_aside_and_marked_where_the_whole_is_to_blame() {
    let bench = wrong_pitch();
    let (document, geometry) = solved(&bench, SetAside::Suspects);
    assert!(document.set_aside.is_empty());
    let all = residuals(&document, &bench, &geometry);
    assert!(all.aside.is_empty() && all.placed.iter().all(|p| !p.suspect));
}
