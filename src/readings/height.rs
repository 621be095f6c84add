//! Heights: of a joint's axis point or of the tip, over the plate or over another joint's.

use nalgebra::Vector3;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::kinematics::ArmScene;
use crate::kinematics::Level;
use crate::kinematics::Posed;
use crate::parameters::Unknowns;
use crate::readings::AxesRead;
use crate::readings::ByUnknown;
use crate::readings::Kind;
use crate::readings::ResidualUnit;
use crate::readings::Residuals;
use crate::readings::Setting;
use crate::readings::Shown;
use crate::readings::joint_readings;
use crate::readings::millionths;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::readings::stand::Stand;
use crate::readings::stand::point_motions;
use crate::table::Columns;
use crate::table::Row;

/// A point of the arm whose height can be taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spot {
    /// The axis point of a joint, from 0.
    Joint(usize),
    /// The tip.
    Tip,
}

/// One row of `height.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct Height {
    /// Whose height.
    pub of: Spot,
    /// Over which joint's axis point, from 0; over the plate if `None`.
    pub over: Option<usize>,
    /// mm.
    pub height_mm: f64,
    /// How the machine stood.
    pub stand: Stand,
}

const OF: usize = 0;
const OVER: usize = 1;
const HEIGHT: usize = 2;
const TRACK: usize = 3;
const FIRST_JOINT: usize = 4;

impl Spot {
    fn place(self, arm: &ArmScene) -> (Vector3<f64>, Level, Option<usize>) {
        match self {
            Spot::Joint(index) => (
                arm.joints[index].point_mm,
                Level::before_joint(index),
                Some(index),
            ),
            Spot::Tip => (arm.tip_mm, Level::TOOL, None),
        }
    }

    /// Joints that carry it.
    fn carried_by(self, all: usize) -> usize {
        match self {
            Spot::Joint(index) => index,
            Spot::Tip => all,
        }
    }
}

impl Height {
    /// Joints that the scene must hold: an axis point needs its own joint there, at any value.
    fn scene_joints(&self, all: usize) -> usize {
        let of = match self.of {
            Spot::Joint(index) => index + 1,
            Spot::Tip => all,
        };
        of.max(self.over.map_or(0, |index| index + 1))
    }
}

impl Kind for Height {
    const FILE: &'static str = "height.csv";
    const WORDS: &'static str = "height";
    const UNIT: ResidualUnit = ResidualUnit::Mm;
    const RESULTS: &'static [&'static str] = &["height"];
    const ASKED: &'static [(&'static str, &'static str, &'static str)] = &[
        (
            "of",
            "",
            "whose height: j1, j2, ... (the joint's axis point) or tip",
        ),
        (
            "over",
            "",
            "over which joint's axis point: j1, j2, ...; empty: over the plate",
        ),
        ("height", "", "the height that was measured"),
    ];
    const EXCHANGED: &'static [&'static [&'static str]] = &[&["height"], &["j#"], &["of", "over"]];
    const LENGTHS: &'static [&'static str] = &["height"];

    fn seen_at(
        &self,
        geometry: &Geometry,
        _component: usize,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let n = geometry.joints.len();
        let (place, _, _) = self.of.place(&self.stand.arm(geometry, n));
        Some((place, Vector3::z()))
    }

    fn shown(&self, _posed: &Posed<'_>) -> Shown {
        let part = match self.of {
            Spot::Joint(index) => format!("j{}", index + 1),
            Spot::Tip => "tip".to_owned(),
        };
        let words = match self.over {
            Some(index) => format!("height over j{}", index + 1),
            None => "height over the plate".to_owned(),
        };
        Shown::AtJoint { part, words }
    }

    fn setting(&self, _geometry: &Geometry) -> Option<Vec<i64>> {
        let of = match self.of {
            Spot::Joint(index) => index as i64,
            Spot::Tip => -1,
        };
        let over = self.over.map_or(-1, |index| index as i64);
        Some(vec![of, over, millionths(self.stand.track)])
    }

    /// Pivots and tip over the plate.
    fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
        let (cell, geometry) = (maker.cell, maker.geometry);
        let n = cell.joints.len();
        let spots = (1..n).map(Spot::Joint).chain([Spot::Tip]);
        for of in spots {
            let needed = of.carried_by(n);
            for track in maker.tracks.iter().step_by(2) {
                for posture in &maker.postures {
                    let stand = Stand {
                        track: *track,
                        joints: *posture,
                        ..Stand::default()
                    };
                    if !(maker.fits)(&stand) {
                        continue;
                    }
                    let (place, _, _) = of.place(&stand.arm(geometry, n));
                    let name = match of {
                        Spot::Joint(index) => format!("j{}", index + 1),
                        Spot::Tip => "tip".to_owned(),
                    };
                    let what = match of {
                        Spot::Joint(index) => format!("the axis of joint {}", index + 1),
                        Spot::Tip => "the tip".to_owned(),
                    };
                    let words = format!(
                        "{}: measure the height of {what} over the plate",
                        maker.at(Some(*track), None, &posture[..needed])
                    );
                    let draft = Draft::new(words, format!("height {name}"))
                        .given("of", name)
                        .track(cell, *track)
                        .joints(posture, needed)
                        .expect("height", place.z, 1);
                    out.push(draft);
                }
            }
        }
    }

    /// Inches for millimetres; another point of the arm, or another one below it; joints.
    fn slips(slips: &mut Slips<'_>) {
        let joints = slips.cell.joints.len();
        slips.units(&["height"], 0.7);
        for joint in 1..=joints {
            slips.other(SlipKind::Mark, "of", format!("j{joint}"), 0.7);
            slips.other(SlipKind::Mark, "over", format!("j{joint}"), 0.7);
        }
        slips.other(SlipKind::Mark, "of", "tip", 0.7);
        slips.other(SlipKind::Mark, "over", "", 0.7);
        slips.joints(joints);
    }

    fn columns(cell: &Cell) -> Columns {
        Columns::new()
            .text("of")
            .required()
            .text("over")
            .optional()
            .length("height")
            .required()
            .number("track")
            .optional()
            .joints(cell.joints.len())
            .optional()
    }

    fn default_u(cell: &Cell) -> f64 {
        cell.instruments.height_mm
    }

    fn stand(&self) -> (&Stand, AxesRead) {
        let axes = AxesRead {
            track: true,
            table: false,
            joints: self.of.carried_by(usize::MAX).max(self.over.unwrap_or(0)),
        };
        (&self.stand, axes)
    }

    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self> {
        let cell = setting.cell;
        let all = cell.joints.len();
        let numbered = |text: &str| {
            text.strip_prefix('j')
                .and_then(|n| n.parse::<usize>().ok())
                .filter(|n| (1..=all).contains(n))
                .map(|n| n - 1)
        };
        let of = match row.text(OF) {
            "tip" => Some(Spot::Tip),
            text => numbered(text).map(Spot::Joint),
        };
        if of.is_none() {
            row.reject(
                OF,
                &format!("j1 to j{all} (the joint's axis point), or tip"),
                "write whose height was taken",
            );
        }
        let over = match row.text(OVER) {
            "" => Some(None),
            text => numbered(text).map(Some),
        };
        if over.is_none() {
            row.reject(
                OVER,
                &format!("j1 to j{all} (the joint's axis point), or empty for the plate"),
                "write over what the height was taken",
            );
        }
        let height_mm = row.needed_length_mm(HEIGHT, "the height that was taken");
        let track = match &cell.nominal.track {
            Some(_) => row.needed_number(TRACK, "the reading of the track"),
            None => Some(row.number(TRACK).unwrap_or(0.0)),
        };
        let (of, over) = (of?, over?);
        if over.is_some_and(|o| of == Spot::Joint(o)) {
            row.reject(
                OVER,
                "another joint than the one whose height was taken",
                "correct one of the two names",
            );
        }
        let needed = of.carried_by(all).max(over.unwrap_or(0));
        let joints = joint_readings(row, FIRST_JOINT, cell, needed);
        Some(Height {
            of,
            over,
            height_mm: height_mm?,
            stand: Stand {
                track: track?,
                joints,
                ..Stand::default()
            },
        })
    }

    /// `z_N − (z_M or 0) − height`.
    #[inline(always)]
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        by: Option<&mut ByUnknown>,
    ) -> Residuals {
        let geometry = posed.geometry;
        let arm = &*self
            .stand
            .arm_in(posed, self.scene_joints(geometry.joints.len()));
        let (p, level, own) = self.of.place(arm);
        let below = self.over.map(|m| Spot::Joint(m).place(arm));
        if let Some(by) = by {
            let scene = self.stand.scene(geometry, arm, None);
            point_motions(unknowns, &scene, level, own, &p, |j, d| by[j][0] += d.z);
            if let Some((q, level, own)) = &below {
                point_motions(unknowns, &scene, *level, *own, q, |j, d| by[j][0] -= d.z);
            }
        }
        Residuals::one(p.z - below.map_or(0.0, |(q, _, _)| q.z) - self.height_mm)
    }
}
