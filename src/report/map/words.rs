//! A map in words: a sentence under its picture, and the printed answer.

use crate::report::map::MapBest;
use crate::report::map::MapDocument;
use crate::report::map::reading;
use crate::report::number::fixed;
use crate::report::words::CAUTION;
use crate::report::words::wrap;

/// The title of the picture.
pub fn title(document: &MapDocument) -> String {
    format!("Margin of the {} {}", document.kind, document.of)
}

/// What to see in the picture, in a few sentences.
pub fn sentence(document: &MapDocument) -> String {
    let n = document.margin_deg.len();
    let reached = document.margin_deg.iter().flatten().count();
    if document.best.is_none() && document.asked.and_then(|a| a.best).is_none() {
        return format!("It is reached at none of the {n} places of the map.");
    }
    let bar = match (document.with_track, document.rows_are) {
        (false, "elevation") => {
            " The bar shows the elevations of the tool: this cell has no track, the arm stays where it stands."
        }
        (false, "table") => {
            " The bar shows the readings of the table: this cell has no track, the arm stays where it stands."
        }
        _ => "",
    };
    format!(
        "{} It is reached at {reached} of {n} places of the map; the lighter, the more room.{bar}",
        best(document)
    )
}

/// Where there is most room: as asked first, then what another elevation would give. Empty where there is none.
pub(super) fn best(document: &MapDocument) -> String {
    let deg = |b: &MapBest| format!("{} deg", fixed(b.margin_deg, 1));
    let Some(asked) = &document.asked else {
        return document.best.as_ref().map_or(String::new(), |b| {
            format!(
                "Most room of the map for the joints {}: {} to the nearest limit.",
                at(document.place(b)),
                deg(b)
            )
        });
    };
    let how = asked_for(document);
    let mut text = match &asked.best {
        Some(b) => format!(
            "At {how} (the marked line), most room for the joints {}: {} to the nearest limit.",
            at(track_of(b)),
            deg(b)
        ),
        None => format!("At {how} (the marked line), {}.", not_reached(document)),
    };
    match document.elsewhere() {
        Some(b) => text.push_str(&format!(
            " {}: {} {}.",
            with_another(document),
            deg(b),
            at(document.place(b))
        )),
        None if asked.best.is_some() => {
            text.push_str(" No other elevation of the map leaves more.")
        }
        None => {}
    }
    text
}

/// `the elevation asked for, -90 deg`.
fn asked_for(document: &MapDocument) -> String {
    document.asked.map_or(String::new(), |a| {
        let how = match a.taught {
            true => "it was taught at",
            false => "asked for",
        };
        format!("the elevation {how}, {} deg", reading(a.elevation_deg))
    })
}

fn not_reached(document: &MapDocument) -> String {
    let clear = match document.clearance_mm.iter().any(Option::is_some) {
        true => ", clear of everything,",
        false => "",
    };
    match document.with_track {
        true => format!("it is not reached{clear} from any station that was looked at"),
        false => format!("it is not reached{clear} from where the arm stands"),
    }
}

fn with_another(document: &MapDocument) -> &'static str {
    match document.asked.is_some_and(|a| a.taught && a.best.is_some()) {
        true => "With another elevation or posture",
        false => "With another elevation",
    }
}

fn track_of(best: &MapBest) -> String {
    let track = best.track.map(|r| format!("track {}", reading(r)));
    track.unwrap_or_default()
}

/// `at track 700`, or where the arm stands.
fn at(place: String) -> String {
    match place.is_empty() {
        true => "where the arm stands".to_owned(),
        false => format!("at {place}"),
    }
}

/// Where the best station as asked was looked for, if not at the columns of the map. Ends in a space.
pub(super) fn grids(document: &MapDocument) -> String {
    let Some(asked) = document.asked.filter(|a| a.best.is_some()) else {
        return String::new();
    };
    let posture = match asked.taught {
        true => ", in the posture nearest to the taught one",
        false => "",
    };
    match (asked.same_stations, asked.taught) {
        (true, false) => String::new(),
        (true, true) => "On the line the posture nearest to the taught one is meant. ".to_owned(),
        (false, _) => format!(
            "The best as asked is looked for at {} track readings, as by `reach --point`{posture}; the map has {}, \
             of which one may leave a little more. ",
            asked.stations,
            document.track.len()
        ),
    }
}

/// The answer for people.
pub fn words(document: &MapDocument, source: &str, verdict: Option<&str>) -> String {
    let n = document.margin_deg.len();
    let reached = document.margin_deg.iter().flatten().count();
    let mut out = first(document, n);
    if document.best.is_some() {
        let share = 100.0 * reached as f64 / n.max(1) as f64;
        let all = match document.kind {
            "task" => {
                "every step can be done, track and table standing still; ways are not checked"
            }
            _ => "it is reached",
        };
        let text = format!("At {reached} of {n} nodes ({} %) {all}.", fixed(share, 0));
        out.push_str(&wrap("", 0, &text));
    }
    let grids = grids(document);
    if !grids.is_empty() {
        out.push_str(&wrap("", 0, grids.trim_end()));
    }
    if verdict == Some("look") {
        out.push_str("Look: this registration's verdict was look, not accepted.\n");
    }
    for file in &document.files {
        out.push_str(&wrap("Written: ", 9, file));
    }
    out.push_str(&wrap("From ", 5, source));
    out.push('\n');
    out.push_str(CAUTION);
    out
}

/// The answer in a line or two: as asked first, then what another elevation would give.
fn first(document: &MapDocument, n: usize) -> String {
    let (of, kind) = (&document.of, document.kind);
    let margin = |b: &MapBest| format!("best margin {} deg", fixed(b.margin_deg, 1));
    let Some(best) = &document.best else {
        return match (kind, document.asked.and_then(|a| a.best)) {
            // Between the nodes of the map.
            (_, Some(b)) => wrap(
                "",
                2,
                &format!("MAP of the {kind} {of}: {}.", as_asked(document, &b)),
            ),
            ("task", None) => format!(
                "LOOK: MAP of the task {of}: at none of the {n} nodes can every step be done; `notchpin task`\n\
                 tells from which stations it can.\n"
            ),
            _ => format!("LOOK: MAP of the {kind} {of}: reached from none of the {n} nodes.\n"),
        };
    };
    let Some(asked) = &document.asked else {
        let text = format!(
            "MAP of the {kind} {of}: {} {}.",
            margin(best),
            at(document.place(best))
        );
        return wrap("", 2, &text);
    };
    let mut out = match &asked.best {
        Some(b) => wrap(
            "",
            2,
            &format!("MAP of the {kind} {of}: {}.", as_asked(document, b)),
        ),
        None => {
            let how = asked_for(document);
            let text = format!(
                "LOOK: MAP of the {kind} {of}: NOT reached as it is asked for. At {how}, {}.",
                not_reached(document)
            );
            wrap("", 2, &text)
        }
    };
    if let Some(b) = document.elsewhere() {
        let text = format!(
            "{}: {} {}.",
            with_another(document),
            margin(b),
            at(document.place(b))
        );
        out.push_str(&wrap("", 2, &text));
    }
    out
}

fn as_asked(document: &MapDocument, best: &MapBest) -> String {
    format!(
        "best margin {} deg {}, at {}",
        fixed(best.margin_deg, 1),
        at(track_of(best)),
        asked_for(document)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::map::AskedElevation;
    use crate::tasks::Node;
    use crate::tasks::Rows;

    /// Two columns and two rows, -90 and -50: 70 and 60 below, 85 and nothing above.
    fn map(asked: Option<AskedElevation>) -> MapDocument {
        let rows = Rows::Elevation(vec![-90_f64.to_radians(), -50_f64.to_radians()]);
        let node = |deg: Option<f64>| Node {
            margin_rad: deg.map(f64::to_radians),
            clearance_mm: None,
        };
        let nodes = [Some(70.0), Some(60.0), Some(85.0), None].map(node);
        let tracks = [500.0, 700.0];
        let mut map = MapDocument::new("shelf", false, &tracks, &rows, &nodes, Vec::new());
        map.asked = asked;
        map
    }

    fn asked(best: Option<(f64, f64)>) -> Option<AskedElevation> {
        Some(AskedElevation {
            elevation_deg: -90.0,
            best: best.map(|(track, margin_deg)| MapBest {
                track: Some(track),
                row: -90.0,
                margin_deg,
            }),
            stations: 2,
            same_stations: true,
            taught: false,
        })
    }

    #[test]
    fn what_is_asked_for_is_told_first_and_another_elevation_as_such() {
        let map_of = |best| map(asked(best));
        assert_eq!(
            best(&map_of(Some((500.0, 70.0)))),
            "At the elevation asked for, -90 deg (the marked line), most room for the joints at track 500: 70.0 deg \
             to the nearest limit. With another elevation: 85.0 deg at track 500, elevation -50 deg."
        );
        // As good as it gets.
        let text = best(&map_of(Some((500.0, 85.0))));
        assert!(
            text.ends_with("No other elevation of the map leaves more."),
            "{text}"
        );
        let text = best(&map_of(None));
        assert!(
            text.contains("it is not reached from any station that was looked at. With another elevation: 85.0"),
            "{text}"
        );
        // Free: the whole map.
        assert_eq!(
            best(&map(None)),
            "Most room of the map for the joints at track 500, elevation -50 deg: 85.0 deg to the nearest limit."
        );
    }

    #[test]
    fn the_printed_answer_says_the_same() {
        let text = words(&map(asked(Some((500.0, 70.0)))), "x", None);
        let mut lines = text.lines();
        assert_eq!(
            lines.next(),
            Some(
                "MAP of the point shelf: best margin 70.0 deg at track 500, at the elevation asked for, -90 deg."
            )
        );
        assert_eq!(
            lines.next(),
            Some("With another elevation: best margin 85.0 deg at track 500, elevation -50 deg.")
        );
        assert_eq!(lines.next(), Some("At 3 of 4 nodes (75 %) it is reached."));
        let text = words(&map(asked(None)), "x", None);
        assert!(
            text.starts_with("LOOK: MAP of the point shelf: NOT reached as it is asked for."),
            "{text}"
        );
        assert!(text.lines().all(|l| l.chars().count() <= 100), "{text}");
    }
}
