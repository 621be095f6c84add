//! The parts of a cell that can move against each other after it was registered, and the parameters
//! that say where each of them is.

mod order;

use crate::cell::Cell;
use crate::parameters::Parameter;

pub use order::before;
pub use order::setting_order;
pub use order::then_again;

/// Something that can be shifted, bumped, bent, replaced, or lose its zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Part {
    /// The track on the plate.
    Track,
    /// The arm's foot on the carriage (on the plate, in a cell without a track).
    Mount,
    /// The zero of a joint, from 0.
    Joint(usize),
    /// The tool on the flange.
    Tool,
    /// The turntable on the plate, with its switch.
    Turntable,
    /// The zero of the turntable's controller.
    Index,
    /// The switch beside the platter.
    Switch,
}

/// A way in which a part can have moved: parameters that change together, each with its share.
#[derive(Debug, Clone, PartialEq)]
pub struct Freedom {
    /// Parameters with the change of each for one mm or rad of the movement.
    pub shares: Vec<(Parameter, f64)>,
}

impl Part {
    /// All parts of a cell, in the order of its chain from the plate.
    pub fn all(cell: &Cell) -> Vec<Part> {
        let mut parts = Vec::new();
        parts.extend(cell.track.is_some().then_some(Part::Track));
        parts.push(Part::Mount);
        parts.extend((0..cell.joints.len()).map(Part::Joint));
        parts.push(Part::Tool);
        if cell.turntable.is_some() {
            parts.extend([Part::Turntable, Part::Index, Part::Switch]);
        }
        parts
    }

    /// What it is called on the command line: `track`, `mount`, `j2`, …
    pub fn name(self) -> String {
        match self {
            Part::Track => "track".to_owned(),
            Part::Mount => "mount".to_owned(),
            Part::Joint(j) => format!("j{}", j + 1),
            Part::Tool => "tool".to_owned(),
            Part::Turntable => "turntable".to_owned(),
            Part::Index => "index".to_owned(),
            Part::Switch => "switch".to_owned(),
        }
    }

    /// The part of that name, if the cell has it.
    pub fn named(cell: &Cell, name: &str) -> Option<Part> {
        Part::all(cell).into_iter().find(|p| p.name() == name)
    }

    /// What it is, for a sentence.
    pub fn words(self, cell: &Cell) -> String {
        match self {
            Part::Track => "the track on the plate".to_owned(),
            Part::Mount if cell.track.is_none() => "the arm's foot on the plate".to_owned(),
            Part::Mount => "the arm's foot on its carriage".to_owned(),
            Part::Joint(j) => {
                let name = cell.joints.get(j).map_or("", |j| j.name.as_str());
                format!("the zero of joint {} ({name})", j + 1)
            }
            Part::Tool => "the tool on the flange".to_owned(),
            Part::Turntable => "the turntable on the plate".to_owned(),
            Part::Index => "the turntable's index (where it points at reading 0)".to_owned(),
            Part::Switch => "the turntable's switch".to_owned(),
        }
    }

    /// The ways in which it can have moved whatever is known of the cell: shifts along the plate, turns
    /// about the vertical, zeros; for a tool the place of its tip.
    pub fn freedoms(self, cell: &Cell) -> Vec<Freedom> {
        let alone = |names: &[&str]| {
            let of = |name: &&str| {
                let parameter = Parameter::named(cell, name)?;
                Some(Freedom {
                    shares: vec![(parameter, 1.0)],
                })
            };
            names.iter().filter_map(of).collect::<Vec<_>>()
        };
        match self {
            Part::Track => alone(&["track.x", "track.y", "track.yaw"]),
            Part::Mount => alone(&["mount.x", "mount.y", "mount.yaw"]),
            Part::Joint(j) => alone(&[format!("arm.j{}.zero", j + 1).as_str()]),
            Part::Tool => alone(&["tool.x", "tool.y", "tool.z"]),
            Part::Index => alone(&["turntable.index"]),
            Part::Switch => alone(&["turntable.switch"]),
            Part::Turntable => {
                let mut ways = alone(&["turntable.x", "turntable.y"]);
                // The switch stands on the same base: a turn of the base turns both.
                let both = ["turntable.index", "turntable.switch"];
                let named = both.iter().filter_map(|n| Parameter::named(cell, n));
                ways.push(Freedom {
                    shares: named.map(|p| (p, 1.0)).collect(),
                });
                ways
            }
        }
    }

    /// Parameters that are freed beside these where `[solve]` names them: heights and tilts, which a
    /// move over the plate hardly changes. A tolerance that `[solve]` gives them holds again.
    pub fn beside(self, cell: &Cell) -> Vec<Parameter> {
        let names: &[&str] = match self {
            Part::Track => &["track.z", "track.pitch", "track.roll"],
            Part::Mount => &["mount.z", "mount.pitch", "mount.roll"],
            Part::Tool => &["tool.yaw", "tool.pitch", "tool.roll"],
            Part::Turntable => &["turntable.z", "turntable.tilt_x", "turntable.tilt_y"],
            Part::Joint(_) | Part::Index | Part::Switch => &[],
        };
        let named = names.iter().filter_map(|n| Parameter::named(cell, n));
        named.collect()
    }
}
