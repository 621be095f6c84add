//! `register` where the readings do not settle all unknowns.

use crate::registration::Bench;
use crate::registration::DirectionDocument;
use crate::registration::Document;
use crate::report::notes::combination;
use crate::report::words::wrap;

/// The text where the readings do not settle all unknowns.
pub fn undetermined(bench: &Bench, document: &Document) -> String {
    let mut out = format!(
        "UNDETERMINED: {}\n  There is no registration, and no record was written.\n\n",
        bench.cell.name
    );
    out.push_str("No reading settles\n");
    for direction in &document.undetermined {
        out.push_str(&wrap("  - ", 4, &combination(direction)));
        for line in advice(direction) {
            out.push_str(&wrap("      ", 6, &line));
        }
    }
    out.push_str(
        "\nNext\n  Take such a reading, or give one of the parameters a tolerance in [solve] \
         instead of \"free\",\n  or take it out of [solve]. Then register again.\n",
    );
    out
}

/// Readings that would settle a combination, for the parameters with the largest shares.
fn advice(direction: &DirectionDocument) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for p in direction.parameters.iter().take(3) {
        let line = match p.name.as_str() {
            n if n.starts_with("track.lost_motion") || n.starts_with("turntable.lost_motion") => {
                "come to the same place from both sides and note the approach (up, down)"
            }
            n if n.starts_with("track.") => {
                "count holes to the carriage's features along x and along y at two or more track \
                 positions (holes.csv), or touch plate targets from there (touch.csv)"
            }
            n if n.starts_with("turntable.switch") || n.starts_with("turntable.ecc") => {
                "touch a mark on the platter at three or more table angles (touch.csv): that \
                 settles the index, and the notches then settle the switch"
            }
            n if n.starts_with("turntable.") => {
                "touch one mark on the platter at three or more table angles (touch.csv), and \
                 bring notches to the switch (notch.csv)"
            }
            n if n.starts_with("plate.") => "set a bubble level on the plate (attitude.csv)",
            n if n.starts_with("arm.") => {
                "set that link level or plumb (attitude.csv), take its height (height.csv), or \
                 touch targets in more postures (touch.csv)"
            }
            n if n.starts_with("marks.") => "touch that mark (touch.csv)",
            n if n.starts_with("features.") => "count holes to that feature (holes.csv)",
            _ => "touch targets of the plate at different distances, heights and turns (touch.csv)",
        };
        let line = format!("would settle it: {line}");
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines
}
