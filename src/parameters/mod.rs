//! Every parameter of the model: its name, its unit, where its value lives, and what moves when it
//! changes. [`TABLE`] is the one place that knows them all.

mod moves;
mod table;
mod tie;

use std::sync::Arc;

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::Level;
use crate::kinematics::TableScene;
use crate::kinematics::Twist;

pub use moves::Moves;
pub use moves::up;
pub use table::TABLE;
pub use tie::Tie;

/// Unit of a parameter in files and on screens.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ParameterUnit {
    /// Millimetres.
    Mm,
    /// Degrees; radians inside.
    Deg,
    /// Millimetres per unit of reading.
    MmPerUnit,
    /// Degrees per unit of reading; radians inside.
    DegPerUnit,
}

impl ParameterUnit {
    /// As written in JSON.
    pub fn as_str(self) -> &'static str {
        match self {
            ParameterUnit::Mm => "mm",
            ParameterUnit::Deg => "deg",
            ParameterUnit::MmPerUnit => "mm/unit",
            ParameterUnit::DegPerUnit => "deg/unit",
        }
    }
    /// One unit of the file in units of the code (mm or rad).
    pub fn in_code(self) -> f64 {
        match self {
            ParameterUnit::Mm | ParameterUnit::MmPerUnit => 1.0,
            ParameterUnit::Deg | ParameterUnit::DegPerUnit => std::f64::consts::PI / 180.0,
        }
    }
}

/// Everything that the motion of a parameter may depend on.
pub struct Scene<'a> {
    /// Values of all parameters.
    pub geometry: &'a Geometry,
    /// The arm as it stands.
    pub arm: &'a ArmScene,
    /// Reading of the track and `dir` of its approach.
    pub track: (f64, f64),
    /// Readings of the joints as far as they are known.
    pub joints: &'a [f64],
    /// The turntable as it stands.
    pub table: Option<&'a TableScene>,
    /// Reading of the turntable and `dir` of its approach.
    pub turn: (f64, f64),
}

/// What belongs to the switch and the notch circle alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dial {
    /// Bearing of the switch.
    Switch,
    /// Cosine part of the eccentricity.
    EccCos,
    /// Sine part of the eccentricity.
    EccSin,
}

/// What moves when a parameter changes, per mm or rad of it.
#[derive(Debug, Clone, Copy)]
pub enum Motion {
    /// All of the arm from `level` on.
    Arm {
        /// First level that moves.
        level: Level,
        /// How it moves.
        twist: Twist,
    },
    /// The axis point of one joint; what the joint carries is shifted by another amount.
    AxisPoint {
        /// The joint, from 0.
        joint: usize,
        /// Motion of the axis point itself.
        own: Vector3<f64>,
        /// Motion of the link and all after it.
        later: Twist,
    },
    /// The platter; `turn` is its share of φ.
    Platter {
        /// How it moves.
        twist: Twist,
        /// dφ.
        turn: f64,
    },
    /// Notch readings alone.
    Dial(Dial),
    /// The direction of up as a bubble sees it.
    Gravity(Vector3<f64>),
    /// One coordinate of a mark.
    Mark {
        /// Which mark.
        index: usize,
        /// 0, 1, 2 for x, y, z of its own frame.
        axis: usize,
    },
    /// One coordinate of a feature of the carriage.
    Feature {
        /// Which feature.
        index: usize,
        /// 0, 1, 2 for x, y, z of the carriage.
        axis: usize,
    },
}

/// Which readings a parameter can matter to at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// Moves the arm or a part of it.
    Arm,
    /// Moves the platter.
    Platter,
    /// Switch and notch circle.
    Dial,
    /// The plate against gravity.
    Gravity,
    /// A mark's place.
    Mark,
    /// A feature's place.
    Feature,
}

/// One line of the table.
pub struct Spec {
    /// Name, with `#` for the number of a joint or the name of a mark or feature.
    pub pattern: &'static str,
    /// Unit in files.
    pub unit: ParameterUnit,
    /// What it is, in words of the bench.
    pub words: &'static str,
    /// Which readings it can matter to.
    pub family: Family,
    /// Where its value lives; `None` where the cell has no such thing.
    pub slot: fn(&mut Geometry, usize) -> Option<&mut f64>,
    /// What moves when it changes.
    pub moves: Moves,
}

/// One parameter of one cell: a line of the table and, for joints, marks and features, which one.
#[derive(Clone, Copy)]
pub struct Parameter {
    spec: &'static Spec,
    /// As in the table; kept here because it is asked for so often.
    moves: Moves,
    item: usize,
}

impl std::fmt::Debug for Parameter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}[{}]", self.spec.pattern, self.item)
    }
}

impl PartialEq for Parameter {
    fn eq(&self, other: &Self) -> bool {
        self.spec.pattern == other.spec.pattern && self.item == other.item
    }
}

impl Parameter {
    fn of(spec: &'static Spec, item: usize) -> Self {
        Parameter {
            spec,
            moves: spec.moves,
            item,
        }
    }

    /// The parameter of that name, if the cell has it.
    pub fn named(cell: &Cell, name: &str) -> Option<Parameter> {
        let mut probe = cell.nominal.clone();
        TABLE.iter().find_map(|spec| {
            let item = item_of(cell, spec.pattern, name)?;
            (spec.slot)(&mut probe, item)?;
            Some(Parameter::of(spec, item))
        })
    }

    /// All parameters that the cell has, with their names.
    pub fn all(cell: &Cell) -> Vec<(String, Parameter)> {
        let mut probe = cell.nominal.clone();
        let mut found = Vec::new();
        for spec in TABLE {
            for (item, key) in items(cell, spec.pattern).into_iter().enumerate() {
                if (spec.slot)(&mut probe, item).is_some() {
                    let name = spec.pattern.replace('#', &key);
                    found.push((name, Parameter::of(spec, item)));
                }
            }
        }
        found
    }

    /// Its line of the table.
    pub fn spec(&self) -> &'static Spec {
        self.spec
    }

    /// Which joint, mark or feature, from 0.
    pub fn item(&self) -> usize {
        self.item
    }

    /// Its unit.
    pub fn unit(&self) -> ParameterUnit {
        self.spec.unit
    }

    /// Its value, mm or rad.
    pub fn get(&self, geometry: &Geometry) -> f64 {
        // The slots give out places to write to; reading goes through a copy, off every hot path.
        let mut copy = geometry.clone();
        (self.spec.slot)(&mut copy, self.item).map_or(0.0, |v| *v)
    }

    /// Sets its value, mm or rad.
    pub fn set(&self, geometry: &mut Geometry, value: f64) {
        if let Some(place) = (self.spec.slot)(geometry, self.item) {
            *place = value;
        }
    }

    /// What moves when it changes.
    #[inline(always)]
    pub fn motion(&self, scene: &Scene<'_>) -> Motion {
        self.moves.motion(scene, self.item)
    }
}

/// The first level of the arm that a parameter can move.
fn first_level(parameter: &Parameter) -> Level {
    // Which level it is does not depend on any value: an empty cell will do.
    let nothing = Geometry::empty();
    let arm = ArmScene::carriage(&nothing, 0.0);
    let scene = Scene {
        geometry: &nothing,
        arm: &arm,
        track: (0.0, 0.0),
        joints: &[],
        table: None,
        turn: (0.0, 0.0),
    };
    match parameter.motion(&scene) {
        Motion::Arm { level, .. } => level,
        Motion::AxisPoint { joint, .. } => Level::before_joint(joint),
        _ => Level::TOOL,
    }
}

/// What can stand for `#` in a pattern.
fn items(cell: &Cell, pattern: &str) -> Vec<String> {
    if pattern.starts_with("arm.") {
        (1..=cell.joints.len()).map(|j| j.to_string()).collect()
    } else if pattern.starts_with("marks.") {
        cell.marks.iter().map(|m| m.name.clone()).collect()
    } else if pattern.starts_with("features.") {
        cell.features.clone()
    } else {
        vec![String::new()]
    }
}

fn item_of(cell: &Cell, pattern: &str, name: &str) -> Option<usize> {
    let Some((before, after)) = pattern.split_once('#') else {
        return (pattern == name).then_some(0);
    };
    let key = name.strip_prefix(before)?.strip_suffix(after)?;
    items(cell, pattern).iter().position(|k| k == key)
}

/// The unknowns of a registration, sorted by what they can matter to.
#[derive(Debug, Clone, Default)]
pub struct Unknowns {
    /// In the order of the cell file: parameter and tolerance (mm or rad).
    pub list: Vec<(Parameter, Option<f64>)>,
    moving: Vec<usize>,
    /// The same, with the first level that each of them can move.
    arm: Vec<(usize, Level)>,
    platter: Vec<usize>,
    dial: Vec<usize>,
    gravity: Vec<usize>,
    marks: Vec<usize>,
    features: Vec<usize>,
    /// What an earlier registration says of the first of them.
    tie: Option<Arc<Tie>>,
}

impl Unknowns {
    /// Sorts a list of unknowns.
    pub fn new(list: Vec<(Parameter, Option<f64>)>) -> Self {
        let of = |family: Family| {
            let wanted =
                |(_, (p, _)): &(usize, &(Parameter, Option<f64>))| p.spec().family == family;
            list.iter()
                .enumerate()
                .filter(wanted)
                .map(|(i, _)| i)
                .collect()
        };
        Unknowns {
            moving: of(Family::Arm),
            arm: of(Family::Arm)
                .into_iter()
                .map(|j: usize| (j, first_level(&list[j].0)))
                .collect(),
            platter: of(Family::Platter),
            dial: of(Family::Dial),
            gravity: of(Family::Gravity),
            marks: of(Family::Mark),
            features: of(Family::Feature),
            tie: None,
            list,
        }
    }

    /// The same, tied to what an earlier registration says of the first `tie.at.len()` of them.
    pub fn tied(mut self, tie: Tie) -> Self {
        self.tie = Some(Arc::new(tie));
        self
    }

    /// Another list, which begins with the same unknowns, tied in the same way.
    pub fn again(&self, list: Vec<(Parameter, Option<f64>)>) -> Self {
        Unknowns {
            tie: self.tie.clone(),
            ..Unknowns::new(list)
        }
    }

    /// What ties them.
    pub fn tie(&self) -> Option<&Tie> {
        self.tie.as_deref()
    }

    /// Whether nothing was known of an unknown beforehand: it has no tolerance and is not tied.
    pub fn free(&self, unknown: usize) -> bool {
        self.list[unknown].1.is_none() && !self.tie().is_some_and(|t| t.holds(unknown))
    }

    /// How many.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Their units, in order.
    pub fn units(&self) -> impl Iterator<Item = ParameterUnit> {
        self.list.iter().map(|(parameter, _)| parameter.unit())
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Motions of the unknowns that move something at `level` of the arm, with their places.
    #[inline(always)]
    pub fn arm_motions<'a>(
        &'a self,
        level: Level,
        scene: &'a Scene<'a>,
    ) -> impl Iterator<Item = (usize, Motion)> + 'a {
        self.arm
            .iter()
            .filter(move |(_, first)| *first <= level)
            .map(move |&(j, _)| (j, self.list[j].0.motion(scene)))
    }

    /// Motions of the unknowns of one family, with their places in the list.
    #[inline(always)]
    pub fn motions<'a>(
        &'a self,
        family: Family,
        scene: &'a Scene<'a>,
    ) -> impl Iterator<Item = (usize, Motion)> + 'a {
        let places = match family {
            Family::Arm => &self.moving,
            Family::Platter => &self.platter,
            Family::Dial => &self.dial,
            Family::Gravity => &self.gravity,
            Family::Mark => &self.marks,
            Family::Feature => &self.features,
        };
        places
            .iter()
            .map(move |&j| (j, self.list[j].0.motion(scene)))
    }

    /// The values in a geometry, mm or rad.
    pub fn read(&self, geometry: &Geometry) -> Vec<f64> {
        let mut copy = geometry.clone();
        self.list
            .iter()
            .map(|(p, _)| (p.spec.slot)(&mut copy, p.item).map_or(0.0, |v| *v))
            .collect()
    }

    /// Writes values into a geometry.
    pub fn write(&self, values: &[f64], geometry: &mut Geometry) {
        for ((p, _), value) in self.list.iter().zip(values) {
            p.set(geometry, *value);
        }
    }
}
