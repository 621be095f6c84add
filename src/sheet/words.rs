//! What stands over a group of steps, and what the columns are called.

use crate::cell::Cell;
use crate::parts::setting_order;
use crate::sheet::Group;
use crate::sheet::order::Place;
use crate::sheet::rules::joint_words;

/// Whether a column says where to drive to or from which side.
pub(super) fn drives(column: &str) -> bool {
    let joint = column
        .strip_prefix('j')
        .is_some_and(|n| n.parse::<usize>().is_ok());
    joint || matches!(column, "track" | "table") || column.starts_with("approach")
}

/// What is written down in a column, and its sign; `kind` is what the row says under `kind`, if it does.
pub(super) fn meaning(kind: &str, column: &str) -> &'static str {
    match (kind, column) {
        (_, "count") => "pitches counted, positive toward +x or +y",
        (_, "gap_mm") => "what is left over, same sign",
        (_, "table") => "the table's reading",
        (_, "dx_mm") => "tip from target along the plate's x",
        (_, "dy_mm") => "tip from target along the plate's y",
        (_, "dz_mm") => "tip above target, positive up",
        ("level", "angle_deg") => "positive where the named direction points up",
        ("plumb", "angle_deg") => "positive where its end leans the named way",
        (_, "height_mm") => "height over the plate",
        _ => "",
    }
}

/// The unit in which a column is written down.
pub(super) fn unit(column: &str) -> &'static str {
    match column {
        c if c.ends_with("_mm") => "mm",
        c if c.ends_with("_deg") => "deg",
        "count" => "pitches",
        _ => "as the controller shows it",
    }
}

pub(super) fn empty_group() -> Group {
    Group {
        heading: String::new(),
        purpose: String::new(),
        means: String::new(),
        how: Vec::new(),
        caution: String::new(),
        rules: Vec::new(),
        also: Vec::new(),
        steps: Vec::new(),
    }
}

/// Heads a group whose steps are there.
pub(super) fn describe(cell: &Cell, place: Place, check: bool, group: &mut Group) {
    let has = |kind: &str| group.steps.iter().any(|s| s.kind == kind);
    let (levels, heights) = (has("attitude.csv"), has("height.csv"));
    let (heading, purpose) = headed(cell, place);
    group.heading = heading;
    group.purpose = purpose;
    group.means = means(place, levels, heights);
    group.how = how(place, levels, heights)
        .iter()
        .map(|s| (*s).to_owned())
        .collect();
    group.caution = caution(place).to_owned();
    if check {
        group.heading = format!("Check: {}", group.heading);
        group.purpose = format!(
            "These readings check the earlier ones. {} Take them as if the earlier ones did not exist, \
             better by another person.",
            group.purpose
        );
    }
}

fn headed(cell: &Cell, place: Place) -> (String, String) {
    let (heading, purpose) = match place {
        Place::Plate => (
            "How the plate lies against gravity",
            "They tell how far the plate is out of level: what a bubble says and what a square on the \
             plate says go together only then.",
        ),
        Place::Track => (
            "Where the track lies on the plate",
            "They tell where the track starts, in which direction it runs, and (come to from both \
             sides) how much play it has at a reversal.",
        ),
        Place::Turntable => (
            "How the turntable is turned",
            "They tell where the platter points at reading 0, where its switch is, and how much play it \
             has at a reversal.",
        ),
        Place::Foot => (
            "How the arm's foot stands",
            "They tell how level and how high the arm stands; no joint changes them.",
        ),
        Place::Joint(at) => {
            let joint = setting_order(cell).get(at).copied().unwrap_or(at);
            let own = joint_words(cell, joint);
            let purpose = match at {
                0 => format!("They tell where {own} has its zero."),
                _ => format!(
                    "They tell where {own} has its zero, given the joints that were set before it."
                ),
            };
            let mut heading = own;
            if let Some(first) = heading.get_mut(..1) {
                first.make_ascii_uppercase();
            }
            return (heading, purpose);
        }
        Place::Plates => (
            "Where the tip meets the plate",
            "They tie the arm with its tool to the plate.",
        ),
        Place::Platter => (
            "Where the tip meets the platter",
            "They tell where the turntable's centre and its platter are for the arm.",
        ),
    };
    (heading.to_owned(), purpose.to_owned())
}

fn means(place: Place, levels: bool, heights: bool) -> String {
    match place {
        Place::Plate => "A bubble level that shows degrees, or mm per metre (1 mm per metre is 0.057 deg).",
        Place::Track => "A pin that fits the holes, to count from; a steel rule or a caliper for what is left.",
        Place::Turntable => "The platter's notches, its switch, and the controller's display.",
        Place::Foot | Place::Joint(_) => match (levels, heights) {
            (true, true) => {
                "A square on the plate with a protractor or a rule (a level where a step says bubble); a \
                 height gauge, or a rule that stands on the plate."
            }
            (false, true) => "A height gauge, or a rule that stands on the plate.",
            _ => "A square on the plate with a protractor or a rule (a level where a step says bubble).",
        },
        Place::Plates => "The tool or pointed pin that cell.toml describes; a steel rule, a caliper or feeler gauges.",
        Place::Platter => {
            "The tool or pointed pin that cell.toml describes; the marks of the platter; a steel rule, a \
             caliper or feeler gauges."
        }
    }
    .to_owned()
}

fn how(place: Place, levels: bool, heights: bool) -> Vec<&'static str> {
    match place {
        Place::Plate => vec![
            "Wipe the plate and the level. Set the level with one end in the direction named, and wait until \
             the bubble rests.",
            "For the opposite direction turn it end for end on the same spot: so the level checks itself.",
        ],
        Place::Track => vec![
            "Bring the carriage to the reading from the side named: up with rising readings, down with \
             falling ones. If it went past, go well back and come again; do not correct backwards.",
            "Count pitches from the hole named to the feature, along the column or row direction named, and \
             measure what is left over the last hole.",
        ],
        Place::Turntable => vec![
            "Turn slowly in the sense named (ccw or cw, seen from above) until the notch stands at the \
             switch, and read the table.",
            "If it went past, go back well before the notch and come again from the same side.",
        ],
        Place::Foot | Place::Joint(_) => {
            let mut list =
                vec!["Drive to the readings of the step and let everything come to rest."];
            if levels {
                list.push(
                    "Square: set it on the plate against the body, and measure how far the named direction \
                     is off. Level: how far it points up. Plumb: how far its end leans the named way, as \
                     seen along the arm.",
                );
            }
            if heights {
                list.push(
                    "Height: measure from the plate's top to the middle of the joint's axis, or to the tip.",
                );
            }
            list
        }
        Place::Plates | Place::Platter => {
            let mut list = vec![
                "Drive to the readings of the step. The tip is meant to stop a little above its target; it \
                 need not touch.",
                "Measure how far the tip stands from the target along the plate's x, y and z, with sign: \
                 plus where the tip lies toward +x, +y or higher. Write 0 only where it is 0.",
            ];
            if place == Place::Platter {
                list.push("The target turns with the platter; x, y and z are those of the plate all the same.");
            }
            list.push(
                "If you move the arm closer, the readings of the step no longer hold: write those at which \
                 it stood into the note, and leave \"taken as described\" empty.",
            );
            list
        }
    }
}

fn caution(place: Place) -> &'static str {
    match place {
        Place::Plate => "Energy off and locked before you reach over the plate to set the level.",
        Place::Track => {
            "Drive with nobody in reach of the carriage; energy off and locked before you reach in to count \
             holes. If the carriage creeps when the energy goes off, note it and stop."
        }
        Place::Turntable => "Hands off the platter while it turns. Turn at creep speed.",
        Place::Foot | Place::Joint(_) => {
            "Prove each posture slowly, with a finger on the stop. Energy off and locked before you reach in \
             to set a square, a level or a gauge. If the arm sinks when the energy goes off, note it and \
             stop: never hold it up by hand."
        }
        Place::Plates => {
            "The positions are calculated from the drawing or from what is known so far: come near at creep \
             speed with a finger on the stop, and stop before the tip meets anything. Energy off and locked \
             before you reach in to measure."
        }
        Place::Platter => {
            "Hands off the platter while it turns; turn it with the arm well away. Come near at creep speed \
             with a finger on the stop, and stop before the tip meets anything. Energy off and locked before \
             you reach in to measure."
        }
    }
}
