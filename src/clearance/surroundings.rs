//! A cell's bodies and keep-outs made ready for many postures.

use nalgebra::Matrix3;
use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Body;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::On;
use crate::cell::PlateGrid;
use crate::cell::Shape;
use crate::cell::Touch;
use crate::clearance::AxisValues;
use crate::clearance::Nearest;
use crate::clearance::Other;
use crate::clearance::PLATE_DEPTH_MM;
use crate::clearance::distance::Line;
use crate::clearance::distance::Placed;
use crate::kinematics::ArmScene;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::Posed;
use crate::kinematics::TableScene;

/// What a body's ends are carried by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Carrier {
    Carriage,
    Base,
    Link(usize),
}

/// A body, its ends in the carriage frame or in the base frame at the zero posture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Part {
    pub(super) carrier: Carrier,
    /// Joints between the base and the body.
    pub(super) level: usize,
    pub(super) ends_mm: Line,
    radius_mm: f64,
}

/// A shape of the plate or of the platter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Obstacle {
    pub(super) frame: Belongs,
    pub(super) shape: Placed,
}

/// Two things that are compared.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    pub(super) body: usize,
    pub(super) with: With,
    /// Of the body, and of the other where that is a body, mm.
    radii_mm: f64,
}

/// Index of an obstacle (the plate is the last) or of a body.
#[derive(Debug, Clone, Copy)]
pub(super) enum With {
    Obstacle(usize),
    Body(usize),
}

/// A cell's bodies with all that they must stay clear of, in one geometry.
#[derive(Debug)]
pub struct Surroundings<'a> {
    cell: &'a Cell,
    pub(super) posed: Posed<'a>,
    pub(super) parts: Vec<Part>,
    pub(super) obstacles: Vec<Obstacle>,
    pub(super) pairs: Vec<Pair>,
}

/// Where everything is for one set of axis values.
#[derive(Debug)]
pub(super) struct Stand {
    lines: Vec<Line>,
    table: Option<TableScene>,
}

impl<'a> Surroundings<'a> {
    /// Makes ready. `geometry` is that of the cell, nominal or as registered.
    pub fn new(cell: &'a Cell, geometry: &'a Geometry) -> Self {
        let posed = Posed::new(geometry);
        let joints = geometry.joints.len().min(MAX_JOINTS);
        let parts: Vec<_> = cell
            .bodies
            .iter()
            .map(|b| part(b, &posed, joints))
            .collect();
        let mut obstacles: Vec<_> = cell
            .keep_outs
            .iter()
            .map(|keep_out| Obstacle {
                frame: keep_out.frame,
                shape: Placed::new(&keep_out.shape),
            })
            .collect();
        obstacles.push(Obstacle {
            frame: Belongs::Plate,
            shape: Placed::new(&plate(&cell.plate)),
        });
        let pairs = pairs(cell, &parts);
        Surroundings {
            cell,
            posed,
            parts,
            obstacles,
            pairs,
        }
    }

    /// Whether the cell tells no bodies: nothing is known of clearances then.
    pub fn is_empty(&self) -> bool {
        self.parts.is_empty()
    }

    /// What people call a body.
    pub fn body_name(&self, body: usize) -> &str {
        self.cell.bodies.get(body).map_or("", |b| b.name.as_str())
    }

    /// What people call what a body is near to: `the keep-out oven`, `the plate`, `the arm's own
    /// fore arm`.
    pub fn other_name(&self, other: Other) -> String {
        match other {
            Other::Plate => "the plate".to_owned(),
            Other::KeepOut(index) => {
                let name = self.cell.keep_outs.get(index).map_or("", |k| &k.name);
                format!("the keep-out {name}")
            }
            Other::Body(index) => format!("the arm's own {}", self.body_name(index)),
        }
    }

    /// The nearest pair at one posture; `None` where there is nothing to compare. Values that are
    /// not finite give the least clearance that a pair can have.
    pub fn nearest(&self, at: &AxisValues) -> Option<Nearest> {
        self.nearest_of(at, |_| true)
    }

    /// The same of what stands around the arm alone: keep-outs and plate.
    pub fn nearest_around(&self, at: &AxisValues) -> Option<Nearest> {
        self.nearest_of(at, |pair| matches!(pair.with, With::Obstacle(_)))
    }

    /// The same of the arm's own bodies alone.
    pub fn nearest_own(&self, at: &AxisValues) -> Option<Nearest> {
        self.nearest_of(at, |pair| matches!(pair.with, With::Body(_)))
    }

    fn nearest_of(&self, at: &AxisValues, of: impl Fn(&Pair) -> bool) -> Option<Nearest> {
        let stand = self.stand(at);
        let pairs = || self.pairs.iter().enumerate().filter(|(_, pair)| of(pair));
        // The pair that looks nearest first: it spares most of the others a close look.
        let quick = |pair: &Pair| self.at_least_mm(&stand, pair);
        let first = pairs().map(|(index, pair)| (index, quick(pair)));
        let (first, _) = first.min_by(|a, b| a.1.total_cmp(&b.1))?;
        let mut best = self.pairs[first];
        let mut least_mm = self.clearance_mm(&stand, &best);
        for (index, pair) in pairs() {
            // Written so that what is not a number is looked at closely.
            if index == first || quick(pair) >= least_mm {
                continue;
            }
            let clearance_mm = self.clearance_mm(&stand, pair);
            if clearance_mm < least_mm {
                (best, least_mm) = (*pair, clearance_mm);
            }
        }
        Some(self.named(&best, least_mm))
    }

    /// The cell.
    pub(super) fn cell(&self) -> &Cell {
        self.cell
    }

    /// All pairs nearer than so many mm at one posture.
    pub(super) fn nearer_than(&self, at: &AxisValues, least_mm: f64) -> Vec<(usize, Other)> {
        let stand = self.stand(at);
        let near = self.pairs.iter().filter(|pair| {
            // What is not a number is near.
            let clear = self.at_least_mm(&stand, pair) >= least_mm
                || self.clearance_mm(&stand, pair) >= least_mm;
            !clear
        });
        near.map(|pair| {
            let named = self.named(pair, 0.0);
            (named.body, named.other)
        })
        .collect()
    }

    /// A pair as it is told.
    pub(super) fn named(&self, pair: &Pair, clearance_mm: f64) -> Nearest {
        let other = match pair.with {
            With::Body(index) => Other::Body(index),
            With::Obstacle(index) if index == self.cell.keep_outs.len() => Other::Plate,
            With::Obstacle(index) => Other::KeepOut(index),
        };
        Nearest {
            clearance_mm,
            body: pair.body,
            other,
        }
    }

    /// Works out where everything is.
    pub(super) fn stand(&self, at: &AxisValues) -> Stand {
        let joints = self.posed.geometry.joints.len().min(MAX_JOINTS);
        let scene = ArmScene::of(&self.posed, at.travel_mm, &at.joints_rad[..joints]);
        Stand {
            lines: self.parts.iter().map(|p| self.line(p, &scene)).collect(),
            table: TableScene::of(&self.posed, at.turn_rad),
        }
    }

    /// The middle line of a body in the plate frame.
    fn line(&self, part: &Part, scene: &ArmScene) -> Line {
        let (axes, at_mm) = match part.carrier {
            Carrier::Carriage => (&scene.track_axes, scene.carriage_mm),
            Carrier::Base => (&scene.base_axes, scene.base_mm),
            Carrier::Link(index) => {
                let joint = &scene.joints[index];
                let through_mm = self.posed.geometry.joints[index].through_mm;
                (&joint.axes, joint.point_mm - joint.axes * through_mm)
            }
        };
        carried(axes, &at_mm, &part.ends_mm)
    }

    /// The line of a pair's body in the own axes of the obstacle.
    fn own(&self, stand: &Stand, pair: &Pair, obstacle: &Obstacle) -> Line {
        let line = &stand.lines[pair.body];
        match (obstacle.frame, &stand.table) {
            (Belongs::Platter, Some(table)) => {
                let back = table.platter_axes.transpose();
                let at_mm = -(back * table.centre_mm);
                obstacle.shape.own(&carried(&back, &at_mm, line))
            }
            _ => obstacle.shape.own(line),
        }
    }

    /// A quick lower bound of a pair's clearance, mm.
    pub(super) fn at_least_mm(&self, stand: &Stand, pair: &Pair) -> f64 {
        let apart_mm = match pair.with {
            With::Body(index) => stand.lines[pair.body].at_least_mm(&stand.lines[index]),
            With::Obstacle(index) => {
                let obstacle = &self.obstacles[index];
                obstacle.shape.at_least_mm(&self.own(stand, pair, obstacle))
            }
        };
        apart_mm - pair.radii_mm
    }

    /// A pair's clearance, mm.
    pub(super) fn clearance_mm(&self, stand: &Stand, pair: &Pair) -> f64 {
        let apart_mm = match pair.with {
            With::Body(index) => stand.lines[pair.body].distance_mm(&stand.lines[index]),
            With::Obstacle(index) => {
                let obstacle = &self.obstacles[index];
                obstacle.shape.distance_mm(&self.own(stand, pair, obstacle))
            }
        };
        apart_mm - pair.radii_mm
    }
}

/// A line of a frame whose axes and origin are given, in the frame that they are given in.
fn carried(axes: &Matrix3<f64>, at_mm: &Vector3<f64>, line: &Line) -> Line {
    Line {
        a_mm: axes * line.a_mm + at_mm,
        b_mm: axes * line.b_mm + at_mm,
    }
}

/// Flange and tool are carried by the last joint: their bodies go to the base frame as they lie at
/// the zero posture, like those of the links.
fn part(body: &Body, posed: &Posed<'_>, joints: usize) -> Part {
    let geometry = posed.geometry;
    let ends_mm = Line {
        a_mm: body.from_mm,
        b_mm: body.to_mm,
    };
    let on_flange = |line: &Line| carried(&geometry.flange_axes, &geometry.flange_mm, line);
    let (carrier, ends_mm) = match body.on {
        On::Carriage => (Carrier::Carriage, ends_mm),
        On::Base => (Carrier::Base, ends_mm),
        On::Link(index) if index < joints => (Carrier::Link(index), ends_mm),
        // A link beyond the last joint: the file cannot say it.
        On::Link(_) => (last(joints), ends_mm),
        On::Flange => (last(joints), on_flange(&ends_mm)),
        On::Tool => {
            let turn = posed.tool_turn.unwrap_or_else(Matrix3::identity);
            let tool = carried(&turn, &geometry.tool.at_mm, &ends_mm);
            (last(joints), on_flange(&tool))
        }
    };
    Part {
        carrier,
        level: body.on.level(joints).min(joints),
        ends_mm,
        radius_mm: body.radius_mm,
    }
}

fn last(joints: usize) -> Carrier {
    joints.checked_sub(1).map_or(Carrier::Base, Carrier::Link)
}

/// The plate as a box: the field of holes and half a pitch all round.
fn plate(grid: &PlateGrid) -> Shape {
    let half = |pitch_mm: f64, count: u32| pitch_mm * f64::from(count) / 2.0;
    let half_mm = Vector3::new(
        half(grid.pitch_x_mm, grid.columns),
        half(grid.pitch_y_mm, grid.rows),
        PLATE_DEPTH_MM / 2.0,
    );
    Shape::Box {
        centre_mm: Vector3::new(
            half_mm.x - grid.pitch_x_mm / 2.0,
            half_mm.y - grid.pitch_y_mm / 2.0,
            -half_mm.z,
        ),
        half_mm,
        turn_rad: 0.0,
    }
}

/// All that is compared, in the order of the file.
fn pairs(cell: &Cell, parts: &[Part]) -> Vec<Pair> {
    let mut pairs = Vec::new();
    let count = cell.keep_outs.len();
    for (index, (body, part)) in cell.bodies.iter().zip(parts).enumerate() {
        let mut compare = |with, touch, radii_mm| {
            if !body.may_touch.contains(&touch) {
                pairs.push(Pair {
                    body: index,
                    with,
                    radii_mm,
                });
            }
        };
        for other in 0..count {
            compare(With::Obstacle(other), Touch::KeepOut(other), part.radius_mm);
        }
        if part.level > 0 {
            compare(With::Obstacle(count), Touch::Plate, part.radius_mm);
        }
        let earlier = cell.bodies.iter().zip(parts).take(index).enumerate();
        for (place, (other, its)) in earlier {
            let apart = part.level.abs_diff(its.level) >= 2;
            if apart && !other.may_touch.contains(&Touch::Body(index)) {
                let radii_mm = part.radius_mm + its.radius_mm;
                compare(With::Body(place), Touch::Body(place), radii_mm);
            }
        }
    }
    pairs
}
