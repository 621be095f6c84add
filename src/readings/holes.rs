//! Hole counts: a feature of the carriage stands so many pitches and a gap from a mark.

use nalgebra::Vector3;

use crate::cell::Belongs;
use crate::cell::Cell;
use crate::cell::Geometry;
use crate::diagnose::nearest;
use crate::kinematics::ArmScene;
use crate::kinematics::Level;
use crate::kinematics::Posed;
use crate::parameters::Family;
use crate::parameters::Motion;
use crate::parameters::Unknowns;
use crate::readings::AxesRead;
use crate::readings::ByUnknown;
use crate::readings::Kind;
use crate::readings::ResidualUnit;
use crate::readings::Residuals;
use crate::readings::Run;
use crate::readings::RunAxis;
use crate::readings::Setting;
use crate::readings::Shown;
use crate::readings::Target;
use crate::readings::hints::CountHint;
use crate::readings::hints::Hints;
use crate::readings::millionths;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::readings::slips::plain;
use crate::readings::stand::Stand;
use crate::readings::stand::point_motions;
use crate::table::Columns;
use crate::table::Row;
use crate::table::common::approach;
use crate::units::Approach;

/// One row of `holes.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct HoleCount {
    /// Which feature of the carriage.
    pub feature: usize,
    /// Along x (a count of columns) or along y (a count of rows): 0 or 1.
    pub along: usize,
    /// Where the count starts.
    pub from: Target,
    /// Pitches counted, positive toward +x or +y.
    pub count: f64,
    /// Pitch in that direction, mm.
    pub pitch_mm: f64,
    /// What is left over, mm, same sign.
    pub gap_mm: f64,
    /// How the track stood.
    pub stand: Stand,
}

const FEATURE: usize = 0;
const ALONG: usize = 1;
const FROM: usize = 2;
const COUNT: usize = 3;
const GAP: usize = 4;
const TRACK: usize = 5;
const APPROACH: usize = 6;

impl Kind for HoleCount {
    const FILE: &'static str = "holes.csv";
    const WORDS: &'static str = "hole count";
    const UNIT: ResidualUnit = ResidualUnit::Mm;
    const RESULTS: &'static [&'static str] = &["count", "gap"];
    const ASKED: &'static [(&'static str, &'static str, &'static str)] = &[
        (
            "feature",
            "",
            "a feature of the carriage, as [track] in cell.toml names it",
        ),
        ("along", "", "column: counted along x; row: counted along y"),
        (
            "from",
            "",
            "the mark of the plate that the count began at; empty: hole (0, 0)",
        ),
        (
            "count",
            "pitches",
            "pitches counted, positive toward +x or +y; .5 is midway, negative is the other way",
        ),
        (
            "gap",
            "",
            "what is left over after the last pitch, with the sign of the count's direction",
        ),
    ];
    const EXCHANGED: &'static [&'static [&'static str]] = &[
        &["count", "gap"],
        &["count"],
        &["gap"],
        &["track", "approach"],
        &["track"],
    ];
    const LENGTHS: &'static [&'static str] = &["gap"];

    fn seen_at(
        &self,
        geometry: &Geometry,
        _component: usize,
    ) -> Option<(Vector3<f64>, Vector3<f64>)> {
        let at = ArmScene::carriage(geometry, self.stand.travel_mm(geometry));
        let feature = geometry.features_mm.get(self.feature)?;
        let place = at.carriage_mm + at.track_axes * feature;
        Some((place, Vector3::ith(self.along, 1.0)))
    }

    fn setting(&self, _geometry: &Geometry) -> Option<Vec<i64>> {
        let mut key = self.series();
        key.push(millionths(self.stand.track));
        key.push(self.stand.track_approach.dir() as i64);
        Some(key)
    }

    /// Counts along the way of the track, where the direction of travel makes up more than half.
    fn run(&self, geometry: &Geometry) -> Option<Run> {
        geometry.track.as_ref()?;
        let dir = self.stand.track_approach.dir();
        let mut free = self.clone();
        free.stand.track_approach = Approach::Unnoted;
        let posed = Posed::new(geometry);
        let along = posed.track_axes[(self.along, 0)];
        if dir == 0.0 || along.abs() < 0.5 {
            return None;
        }
        let off = free.evaluate(&posed, &Unknowns::default(), None).value[0];
        Some(Run {
            axis: RunAxis::Track,
            series: self.series(),
            position: vec![millionths(self.stand.track)],
            up: dir > 0.0,
            deviation: -off / along,
        })
    }

    fn shown(&self, posed: &Posed<'_>) -> Shown {
        Shown::AlongTrack {
            reading: self.stand.track,
            up: self.stand.track_approach.rising(),
            share: posed.track_axes[(self.along, 0)],
        }
    }

    /// Each feature along columns and rows, along the travel, from both sides.
    fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
        let (cell, geometry) = (maker.cell, maker.geometry);
        if geometry.track.is_none() {
            return;
        }
        let grid = &cell.plate;
        for (index, feature) in cell.features.iter().enumerate() {
            for (along, axis, pitch_mm, what) in [
                ("column", 0, grid.pitch_x_mm, "columns"),
                ("row", 1, grid.pitch_y_mm, "rows"),
            ] {
                for track in &maker.tracks {
                    for (way, approach, word) in [
                        ("up", Approach::Up, "rising"),
                        ("down", Approach::Down, "falling"),
                    ] {
                        let stand = Stand {
                            track: *track,
                            track_approach: approach,
                            ..Stand::default()
                        };
                        let arm = stand.arm(geometry, 0);
                        let at = arm.carriage_mm + arm.track_axes * geometry.features_mm[index];
                        let count = (at[axis] / pitch_mm).floor();
                        let holes = [grid.columns, grid.rows][axis];
                        if count < 0.0 || count > f64::from(holes - 1) {
                            continue;
                        }
                        let words = format!(
                            "bring the track to {} with its reading {word}; count {what} from hole \
                             (0, 0) to {feature}, and measure what is left",
                            plain(*track)
                        );
                        let draft = Draft::new(words, format!("{feature} {along} {track}"))
                            .given("feature", feature)
                            .given("along", along)
                            .track(cell, *track)
                            .given("approach", way)
                            .expect("count", count, 0)
                            .expect("gap", at[axis] - count * pitch_mm, 1);
                        out.push(draft);
                    }
                }
            }
        }
    }

    /// Off by some holes; the wrong foot or mark; column for row; a gap with the wrong sign or in
    /// inches; the approach.
    fn slips(slips: &mut Slips<'_>) {
        use SlipKind::*;
        let (row, cell) = (slips.row, slips.cell);
        if let Some(count) = row.number("count") {
            let most = cell.plate.columns.max(cell.plate.rows).min(200);
            for n in 1..=most {
                for sign in [1.0, -1.0] {
                    let other = count + sign * f64::from(n);
                    slips.other(Count, "count", plain(other), f64::from(n).ln());
                }
            }
            for half in [0.5, -0.5] {
                slips.other(Count, "count", plain(count + half), 1.5);
            }
        }
        let across = match row.text("along") {
            "row" => "column",
            _ => "row",
        };
        slips.other(Count, "along", across, 0.7);
        slips.any_of(
            Mark,
            "feature",
            cell.features.iter().map(String::as_str),
            0.5,
        );
        let plate = cell.marks.iter().filter(|m| m.frame == Belongs::Plate);
        slips.any_of(Mark, "from", plate.map(|m| m.name.as_str()), 0.5);
        slips.other(Mark, "from", "", 0.5);
        slips.sign(Gap, "gap", 0.3);
        slips.units(&["gap"], 0.7);
        slips.approach("approach");
    }

    fn columns(_cell: &Cell) -> Columns {
        Columns::new()
            .text("feature")
            .required()
            .text("along")
            .required()
            .text("from")
            .optional()
            .number("count")
            .required()
            .length("gap")
            .optional()
            .number("track")
            .required()
            .text("approach")
            .optional()
    }

    fn default_u(cell: &Cell) -> f64 {
        cell.instruments.holes_mm
    }

    fn stand(&self) -> (&Stand, AxesRead) {
        let axes = AxesRead {
            track: true,
            table: false,
            joints: 0,
        };
        (&self.stand, axes)
    }

    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self> {
        let cell = setting.cell;
        let feature = feature_of(row, cell);
        let along = match row.text(ALONG) {
            "column" => Some(0),
            "row" => Some(1),
            _ => {
                row.reject(
                    ALONG,
                    "column (counted along x) or row (counted along y)",
                    "write which way the holes were counted",
                );
                None
            }
        };
        let from = if row.text(FROM).is_empty() {
            Some(Target::Hole(Vector3::zeros()))
        } else {
            Target::mark(row, FROM, cell)
        };
        if from.is_some_and(|t| t.frame(cell) == Belongs::Platter) {
            row.reject(
                FROM,
                "a mark of the plate",
                "count from a mark of the plate; this one turns with the platter",
            );
        }
        let count = row.needed_number(COUNT, "the number of pitches counted");
        let gap_mm = row.length_mm(GAP).unwrap_or(0.0);
        let track = row.needed_number(TRACK, "the reading of the track");
        let approach = approach(row, APPROACH);
        if cell.nominal.track.is_none() {
            row.reject(
                TRACK,
                "a cell with a track",
                "hole counts say where the track is: add [track] to cell.toml, or remove this file",
            );
            return None;
        }
        if approach == Approach::Unnoted
            && row.text(APPROACH).is_empty()
            && setting.solves("track.lost_motion")
        {
            row.reject(
                APPROACH,
                "up or down, because track.lost_motion is solved for",
                "write whether the track's reading was rising (up) or falling (down)",
            );
        }
        let (along, from, count) = (along?, from?, count?);
        let grid = &cell.plate;
        let (pitch_mm, holes) = match along {
            0 => (grid.pitch_x_mm, grid.columns),
            _ => (grid.pitch_y_mm, grid.rows),
        };
        let at = from.place_mm(&cell.nominal)[along] / pitch_mm + count;
        if at < 0.0 || at > f64::from(holes - 1) {
            row.warn(
                COUNT,
                &format!("a count that ends on the plate: holes 0 to {}", holes - 1),
                "count again; this count ends beyond the plate",
            );
        }
        Some(HoleCount {
            feature: feature?,
            along,
            from,
            count,
            pitch_mm,
            gap_mm,
            stand: Stand {
                track: track?,
                track_approach: approach,
                ..Stand::default()
            },
        })
    }

    fn widening(&self, cell: &Cell) -> f64 {
        match (self.stand.track_approach, &cell.nominal.track) {
            (Approach::Unnoted, Some(track)) => track.lost_motion_mm.abs() / 2.0,
            _ => 0.0,
        }
    }

    fn hint(&self, geometry: &Geometry, hints: &mut Hints) {
        hints.counts.push(CountHint {
            along: self.along,
            feature_mm: geometry.features_mm[self.feature],
            position_mm: self.from.place_mm(geometry)[self.along]
                + self.count * self.pitch_mm
                + self.gap_mm,
            track: self.stand.track,
            approach: self.stand.track_approach,
        });
    }

    /// `e · (T_plate_carriage(s) f) − (mark · e + count · pitch + gap)`.
    #[inline(always)]
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        by: Option<&mut ByUnknown>,
    ) -> Residuals {
        let geometry = posed.geometry;
        let arm = &posed.still;
        let e = self.along;
        let mut on_carriage = geometry.features_mm[self.feature];
        on_carriage.x += self.stand.travel_mm(geometry);
        let point = arm.track_axes * on_carriage + arm.track_mm;
        let mark = self.from.place_mm(geometry);
        if let Some(by) = by {
            let scene = self.stand.scene(geometry, arm, None);
            point_motions(unknowns, &scene, Level::CARRIAGE, None, &point, |j, d| {
                by[j][0] += d[e];
            });
            for (j, motion) in unknowns.motions(Family::Feature, &scene) {
                if let Motion::Feature { index, axis } = motion
                    && index == self.feature
                {
                    by[j][0] += arm.track_axes[(e, axis)];
                }
            }
            for (j, motion) in unknowns.motions(Family::Mark, &scene) {
                if let Motion::Mark { index, axis } = motion
                    && Target::Mark(index) == self.from
                    && axis == e
                {
                    by[j][0] -= 1.0;
                }
            }
        }
        Residuals::one(point[e] - (mark[e] + self.count * self.pitch_mm + self.gap_mm))
    }
}

impl HoleCount {
    /// What counts share but for where the track stood.
    fn series(&self) -> Vec<i64> {
        let mut key = vec![self.feature as i64, self.along as i64];
        key.extend(self.from.key());
        key
    }
}

fn feature_of(row: &mut Row<'_>, cell: &Cell) -> Option<usize> {
    let text = row.text(FEATURE).to_owned();
    if let Some(index) = cell.features.iter().position(|f| *f == text) {
        return Some(index);
    }
    let advice = match nearest(&text, cell.features.iter().map(String::as_str)) {
        Some(near) => format!("write {near}, if that is meant"),
        None => "add it under [track] in cell.toml as features.NAME = [x, y, z]".to_owned(),
    };
    row.reject(FEATURE, "a feature of the carriage", &advice);
    None
}
