//! Touches: the tip stands at a known target, or a measured offset from it.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::Level;
use crate::kinematics::Posed;
use crate::kinematics::TableScene;
use crate::parameters::Family;
use crate::parameters::Motion;
use crate::parameters::Unknowns;
use crate::readings::AxesRead;
use crate::readings::ByUnknown;
use crate::readings::Kind;
use crate::readings::ResidualUnit;
use crate::readings::Residuals;
use crate::readings::Setting;
use crate::readings::Target;
use crate::readings::hints::Hints;
use crate::readings::hints::PairHint;
use crate::readings::hints::TurnHint;
use crate::readings::joint_readings;
use crate::readings::millionths;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::readings::stand::Stand;
use crate::readings::stand::heading_motions;
use crate::readings::stand::left_of;
use crate::readings::stand::point_motions;
use crate::readings::touch_proposals;
use crate::table::Columns;
use crate::table::Row;
use crate::table::common::approach;
use crate::table::common::approach_of_table;

/// One row of `touch.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct Touch {
    /// What was touched.
    pub target: Target,
    /// The frame of the target.
    pub frame: Belongs,
    /// Measured offset of the tip from the target, plate axes, mm.
    pub offset_mm: Vector3<f64>,
    /// Play to the left and to the right of the target, mm, if it was measured.
    pub play_mm: Option<(f64, f64)>,
    /// The components that count: 0, 1, 2 for x, y, z, ascending.
    pub axes: Vec<u8>,
    /// How the machine stood.
    pub stand: Stand,
}

const TARGET: usize = 0;
const TRACK: usize = 1;
const TABLE: usize = 2;
const DX: usize = 3;
const LEFT: usize = 6;
const RIGHT: usize = 7;
const AXES: usize = 8;
const APPROACH_TRACK: usize = 9;
const APPROACH_TABLE: usize = 10;
const FIRST_JOINT: usize = 11;

impl Kind for Touch {
    const FILE: &'static str = "touch.csv";
    const WORDS: &'static str = "touch";
    const UNIT: ResidualUnit = ResidualUnit::Mm;
    const RESULTS: &'static [&'static str] = &["dx", "dy", "dz"];
    const ASKED: &'static [(&'static str, &'static str, &'static str)] = &[
        (
            "target",
            "",
            "what the tip stands at: a mark, or a hole as column:row such as 12:4",
        ),
        (
            "dx",
            "",
            "how far the tip stands from the target along the plate's x; minus is the other way",
        ),
        (
            "dy",
            "",
            "how far the tip stands from the target along the plate's y; minus is the other way",
        ),
        (
            "dz",
            "",
            "how far the tip stands above the target; minus is below",
        ),
        (
            "left",
            "",
            "how far the tip can be pushed to the left of the target, looking along the arm",
        ),
        (
            "right",
            "",
            "how far the tip can be pushed to the right of the target, looking along the arm",
        ),
        (
            "axes",
            "",
            "the components that count, such as xy or z; empty: all three",
        ),
    ];
    const EXCHANGED: &'static [&'static [&'static str]] = &[
        &["target"],
        &["target", "dx", "dy", "dz"],
        &["j#"],
        &["dx", "dy", "dz"],
        &["table"],
        &["track"],
    ];
    const SHOWS_TIP: bool = true;
    const LENGTHS: &'static [&'static str] = &["dx", "dy", "dz", "left", "right"];

    fn seen_at(
        &self,
        geometry: &Geometry,
        component: usize,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let axis = usize::from(*self.axes.get(component)?);
        let tip = self.stand.arm(geometry, geometry.joints.len()).tip_mm;
        Some((tip, Vector3::ith(axis, 1.0)))
    }

    fn setting(&self, _geometry: &Geometry) -> Option<Vec<i64>> {
        let mut key = self.target.key().to_vec();
        key.push(millionths(self.stand.track));
        if self.frame == Belongs::Platter {
            key.push(millionths(self.stand.table));
        }
        key.push(self.stand.track_approach.dir() as i64);
        key.push(self.stand.table_approach.dir() as i64);
        key.extend(self.axes.iter().map(|a| i64::from(*a)));
        Some(key)
    }

    fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
        touch_proposals::propose(maker, out);
    }

    /// The wrong target, or one some holes off; an offset with the wrong sign, in swapped axes or in
    /// inches; left for right; approaches; joints.
    fn slips(slips: &mut Slips<'_>) {
        use SlipKind::*;
        let cell = slips.cell;
        slips.any_of(
            Target,
            "target",
            cell.marks.iter().map(|m| m.name.as_str()),
            0.5,
        );
        slips.holes_about("target");
        let offsets = ["dx", "dy", "dz"];
        for (k, a) in offsets.iter().enumerate() {
            slips.sign(Offset, a, 0.3);
            for b in &offsets[k + 1..] {
                slips.exchanged(Offset, a, b, 0.7);
            }
        }
        slips.signs(Offset, &offsets, 0.7);
        slips.exchanged(Offset, "left", "right", 0.7);
        slips.units(&offsets, 0.7);
        slips.units(&["left", "right"], 4.0);
        slips.approach("approach_track");
        slips.approach("approach_table");
        slips.joints(cell.joints.len());
    }

    fn columns(cell: &Cell) -> Columns {
        Columns::new()
            .text("target")
            .required()
            .number("track")
            .optional()
            .number("table")
            .optional()
            .length("dx")
            .optional()
            .length("dy")
            .optional()
            .length("dz")
            .optional()
            .length("left")
            .optional()
            .length("right")
            .optional()
            .text("axes")
            .optional()
            .text("approach_track")
            .optional()
            .text("approach_table")
            .optional()
            .joints(cell.joints.len())
    }

    fn default_u(cell: &Cell) -> f64 {
        cell.instruments.touch_mm
    }

    fn stand(&self) -> (&Stand, AxesRead) {
        let axes = AxesRead {
            track: true,
            table: self.frame == Belongs::Platter,
            joints: usize::MAX,
        };
        (&self.stand, axes)
    }

    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self> {
        let cell = setting.cell;
        let target = Target::understand(row, TARGET, cell);
        let frame = target.map(|t| t.frame(cell));
        let track = match &cell.nominal.track {
            Some(_) => row.needed_number(TRACK, "the reading of the track"),
            None => Some(row.number(TRACK).unwrap_or(0.0)),
        };
        let table = match frame {
            Some(Belongs::Platter) => row.needed_number(
                TABLE,
                "the reading of the turntable, for a target on the platter",
            ),
            _ => Some(row.number(TABLE).unwrap_or(0.0)),
        };
        let joints = joint_readings(row, FIRST_JOINT, cell, cell.joints.len());
        let mut offset_mm = Vector3::zeros();
        for axis in 0..3 {
            offset_mm[axis] = row.length_mm(DX + axis).unwrap_or(0.0);
        }
        let play_mm = match (row.length_mm(LEFT), row.length_mm(RIGHT)) {
            (Some(left), Some(right)) => Some((left, right)),
            (None, None) => None,
            (left, _) => {
                let empty = if left.is_none() { LEFT } else { RIGHT };
                if !row.is_bad() {
                    row.reject(
                        empty,
                        "the play to the left and to the right, both or neither",
                        "measure the other side too, or leave both empty",
                    );
                }
                None
            }
        };
        let axes = axes_of(row);
        let track_approach = approach(row, APPROACH_TRACK);
        let table_scale = cell.nominal.turntable.map(|t| t.scale_rad);
        let table_approach = approach_of_table(row, APPROACH_TABLE, table_scale.unwrap_or(1.0));
        Some(Touch {
            target: target?,
            frame: frame?,
            offset_mm,
            play_mm,
            axes: axes?,
            stand: Stand {
                track: track?,
                track_approach,
                table: table?,
                table_approach,
                joints,
            },
        })
    }

    fn components(&self) -> usize {
        self.axes.len()
    }

    fn component(&self, index: usize) -> Option<&'static str> {
        Some(["x", "y", "z"][self.axes[index] as usize])
    }

    fn heading_joints(&self) -> Option<&Stand> {
        self.play_mm.map(|_| &self.stand)
    }

    /// `(left + right) / ρ` rad, ρ being the horizontal distance of the tip from joint 1's axis
    /// point. `None` where no play was noted.
    fn joint_1_play_rad(&self, geometry: &Geometry) -> Option<f64> {
        let (left, right) = self.play_mm?;
        let arm = self.stand.arm(geometry, geometry.joints.len());
        let out = arm.tip_mm - arm.joints[0].point_mm;
        let distance = out.x.hypot(out.y);
        (distance > 1e-9).then(|| (left + right) / distance)
    }

    fn hint(&self, geometry: &Geometry, hints: &mut Hints) {
        if self.axes.len() < 3 {
            return;
        }
        let own = self.target.place_mm(geometry);
        let place = match self.frame {
            Belongs::Plate => own,
            Belongs::Platter => match self.stand.turntable(geometry) {
                Some(t) => t.platter_axes * own + t.centre_mm,
                None => return,
            },
        };
        let tip_mm = self.stand.arm(geometry, geometry.joints.len()).tip_mm;
        hints.pairs.push(PairHint {
            tip_mm,
            target_mm: place + self.offset_mm,
        });
        if let (Target::Mark(mark), Belongs::Platter) = (self.target, self.frame) {
            hints.turns.push(TurnHint {
                mark,
                turn_rad: self.stand.turn_rad(geometry),
                at_mm: tip_mm - self.offset_mm,
            });
        }
    }

    /// `tip_plate − target_plate − d`, the target of a platter mark carried through
    /// `T_plate_platter(φ)`; with play, d gains `(left − right)/2 · ez × heading`.
    #[inline(always)]
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        mut by: Option<&mut ByUnknown>,
    ) -> Residuals {
        let geometry = posed.geometry;
        let arm = &*self.stand.arm_in(posed, geometry.joints.len());
        let own = self.target.place_mm(geometry);
        let table = match self.frame {
            Belongs::Plate => None,
            Belongs::Platter => TableScene::of(posed, self.stand.turn_rad(geometry)),
        };
        let place = table
            .as_ref()
            .map_or(own, |t| t.platter_axes * own + t.centre_mm);
        let mut full = arm.tip_mm - place - self.offset_mm;
        let scene = self.stand.scene(geometry, arm, table.as_ref());
        let mut gather = |j: usize, d: &Vector3<f64>| {
            if let Some(by) = by.as_deref_mut() {
                let own = &mut by[j];
                own[0] += d.x;
                own[1] += d.y;
                own[2] += d.z;
            }
        };
        if let Some((left, right)) = self.play_mm {
            let half = (left - right) / 2.0;
            let h = heading_motions(unknowns, &scene, |j, dh| gather(j, &(left_of(&dh) * -half)));
            full -= left_of(&h) * half;
        }
        point_motions(unknowns, &scene, Level::TOOL, None, &arm.tip_mm, |j, d| {
            gather(j, &d)
        });
        if table.is_some() {
            for (j, motion) in unknowns.motions(Family::Platter, &scene) {
                if let Motion::Platter { twist, .. } = motion {
                    gather(j, &-twist.of_point(&place));
                }
            }
        }
        if let Target::Mark(mark) = self.target {
            for (j, motion) in unknowns.motions(Family::Mark, &scene) {
                if let Motion::Mark { index, axis } = motion
                    && index == mark
                {
                    let d = match &table {
                        Some(t) => -t.platter_axes.column(axis),
                        None => -Vector3::ith(axis, 1.0),
                    };
                    gather(j, &d);
                }
            }
        }
        let axes = &self.axes[..];
        let mut value = [full.x, full.y, full.z];
        if axes.len() < 3 {
            // Those that count move to the front; they are ascending, so none is overwritten early.
            for (k, axis) in axes.iter().enumerate() {
                value[k] = full[*axis as usize];
                for own in by.iter_mut().flat_map(|by| by.iter_mut()) {
                    own[k] = own[*axis as usize];
                }
            }
        }
        Residuals {
            count: axes.len(),
            value,
        }
    }
}

fn axes_of(row: &mut Row<'_>) -> Option<Vec<u8>> {
    let text = row.text(AXES);
    if text.is_empty() {
        return Some(vec![0, 1, 2]);
    }
    let mut named: Vec<u8> = Vec::new();
    for c in text.chars() {
        let Some(axis) = "xyz"
            .find(c)
            .map(|i| i as u8)
            .filter(|a| !named.contains(a))
        else {
            row.reject(
                AXES,
                "the axes that count, such as xyz, xy or z, each once",
                "write the letters of the plate axes along which the tip was fixed",
            );
            return None;
        };
        named.push(axis);
    }
    named.sort_unstable();
    Some(named)
}
