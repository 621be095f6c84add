//! Notch to switch: a notch of the platter is brought to the limit switch.

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::cell::TurntableGeometry;
use crate::kinematics::Posed;
use crate::kinematics::table_reading;
use crate::kinematics::table_value_rad;
use crate::parameters::Dial;
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
use crate::readings::hints::Hints;
use crate::readings::hints::NotchHint;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::SlipKind;
use crate::readings::slips::Slips;
use crate::readings::stand::Stand;
use crate::table::Columns;
use crate::table::Row;
use crate::table::common::approach_of_table;
use crate::units::Approach;
use crate::units::Reading;
use crate::units::wrap_rad;

/// One row of `notch.csv`.
#[derive(Debug, Clone, PartialEq)]
pub struct NotchReading {
    /// Which notch, from 0.
    pub notch: usize,
    /// Its nominal angle in the platter frame, rad.
    pub angle_rad: f64,
    /// How the table stood.
    pub stand: Stand,
}

/// More notches than this add nothing to a plan.
const MOST_NOTCHES: usize = 72;

const NOTCH: usize = 0;
const TABLE: usize = 1;
const APPROACH: usize = 2;

impl Kind for NotchReading {
    const FILE: &'static str = "notch.csv";
    const WORDS: &'static str = "notch at the switch";
    const UNIT: ResidualUnit = ResidualUnit::Deg;
    const RESULTS: &'static [&'static str] = &["table"];
    const ASKED: &'static [(&'static str, &'static str, &'static str)] = &[
        (
            "notch",
            "number",
            "number of the notch at the switch; the first one is 0",
        ),
        (
            "table",
            "as shown",
            "reading of the turntable when the notch came to the switch",
        ),
    ];
    const EXCHANGED: &'static [&'static [&'static str]] =
        &[&["table"], &["table", "approach"], &["approach"]];
    const LENGTHS: &'static [&'static str] = &[];

    /// On another turn of the table it is another position: a wrong scale would show as scatter.
    fn setting(&self, geometry: &Geometry) -> Option<Vec<i64>> {
        let turn = geometry.turntable.as_ref().map_or(0, |t| self.turn(t));
        let dir = self.stand.table_approach.dir() as i64;
        Some(vec![self.notch as i64, turn, dir])
    }

    fn run(&self, geometry: &Geometry) -> Option<Run> {
        let table = geometry.turntable.as_ref()?;
        let dir = self.stand.table_approach.dir();
        let mut free = self.clone();
        free.stand.table_approach = Approach::Unnoted;
        let off = free
            .evaluate(&Posed::new(geometry), &Unknowns::default(), None)
            .value[0];
        (dir != 0.0).then(|| Run {
            axis: RunAxis::Table,
            series: Vec::new(),
            position: vec![self.notch as i64, self.turn(table)],
            up: dir > 0.0,
            deviation: -off,
        })
    }

    fn shown(&self, _posed: &Posed<'_>) -> Shown {
        Shown::RoundTable {
            angle_rad: self.angle_rad,
            up: self.stand.table_approach.rising(),
        }
    }

    /// Each notch from both sides.
    fn propose(maker: &Maker<'_>, out: &mut Vec<Draft>) {
        let (Some(info), Some(table)) = (&maker.cell.turntable, &maker.geometry.turntable) else {
            return;
        };
        for (notch, angle) in info.notches_rad.iter().enumerate().take(MOST_NOTCHES) {
            let (sin, cos) = angle.sin_cos();
            let turn = table.switch_rad - angle - table.ecc_cos_rad * cos - table.ecc_sin_rad * sin;
            for (way, up) in [("ccw", table.sense > 0.0), ("cw", table.sense < 0.0)] {
                let dir = if up { 1.0 } else { -1.0 };
                let play = dir * table.sense * table.lost_motion_rad / 2.0;
                let near = wrap_rad(turn - table.index_rad);
                let value = near + table.index_rad + play;
                if info.travel_rad.is_some_and(|t| !t.holds(value)) {
                    continue;
                }
                let reading = table_reading(table, value).0;
                let words = format!(
                    "turn the table {way} (seen from above) until notch {notch} stands at the \
                     switch, and read the table"
                );
                let draft = Draft::new(words, format!("notch {notch}"))
                    .given("notch", notch.to_string())
                    .given("approach", way)
                    .expect("table", reading, 2);
                out.push(draft);
            }
        }
    }

    /// The wrong notch; the approach.
    fn slips(slips: &mut Slips<'_>) {
        let count = slips
            .cell
            .turntable
            .as_ref()
            .map_or(0, |t| t.notches_rad.len());
        let own = slips.row.number("notch").unwrap_or(0.0);
        for notch in 0..count.min(2000) {
            let off = (notch as f64 - own).abs();
            let off = off.min(count as f64 - off).max(1.0);
            slips.other(SlipKind::Notch, "notch", notch.to_string(), off.ln());
        }
        slips.approach("approach");
    }

    fn columns(_cell: &Cell) -> Columns {
        Columns::new()
            .number("notch")
            .required()
            .number("table")
            .required()
            .text("approach")
            .optional()
    }

    fn default_u(cell: &Cell) -> f64 {
        cell.instruments.notch_rad
    }

    fn stand(&self) -> (&Stand, AxesRead) {
        let axes = AxesRead {
            track: false,
            table: true,
            joints: 0,
        };
        (&self.stand, axes)
    }

    fn understand(row: &mut Row<'_>, setting: &Setting<'_>) -> Option<Self> {
        let cell = setting.cell;
        let Some((info, table)) = cell.turntable.as_ref().zip(cell.nominal.turntable.as_ref())
        else {
            row.reject(
                NOTCH,
                "a cell with a turntable",
                "add [turntable] to cell.toml, or remove this file",
            );
            return None;
        };
        let notch = row.needed_number(NOTCH, "the number of the notch at the switch");
        let reading = row.needed_number(TABLE, "the reading of the turntable");
        let approach = approach_of_table(row, APPROACH, table.scale_rad);
        if approach == Approach::Unnoted
            && row.text(APPROACH).is_empty()
            && setting.solves("turntable.lost_motion")
        {
            row.reject(
                APPROACH,
                "up, down, ccw or cw, because turntable.lost_motion is solved for",
                "write which way the table turned when the notch came to the switch",
            );
        }
        let notch = notch?;
        let count = info.notches_rad.len();
        if notch < 0.0 || notch.fract() != 0.0 || notch >= count as f64 {
            let expected = match count {
                0 => "a platter with notches".to_owned(),
                n => format!(
                    "a notch of this platter: a whole number from 0 to {}",
                    n - 1
                ),
            };
            let advice = match count {
                0 => "add notches or notch_angles_deg under [turntable] in cell.toml",
                _ => "look again which notch stands at the switch; the first one is number 0",
            };
            row.reject(NOTCH, &expected, advice);
            return None;
        }
        let notch = notch as usize;
        Some(NotchReading {
            notch,
            angle_rad: info.notches_rad[notch],
            stand: Stand {
                table: reading?,
                table_approach: approach,
                ..Stand::default()
            },
        })
    }

    fn widening(&self, cell: &Cell) -> f64 {
        match (self.stand.table_approach, &cell.nominal.turntable) {
            (Approach::Unnoted, Some(table)) => table.lost_motion_rad.abs() / 2.0,
            _ => 0.0,
        }
    }

    fn hint(&self, _geometry: &Geometry, hints: &mut Hints) {
        hints.notches.push(NotchHint {
            angle_rad: self.angle_rad,
            table: self.stand.table,
            approach: self.stand.table_approach,
        });
    }

    /// `wrap( φ(r, dir) + α_k + ecc_cos · cos α_k + ecc_sin · sin α_k − switch )`.
    #[inline(always)]
    fn evaluate(
        &self,
        posed: &Posed<'_>,
        unknowns: &Unknowns,
        by: Option<&mut ByUnknown>,
    ) -> Residuals {
        let geometry = posed.geometry;
        let Some(table) = &geometry.turntable else {
            return Residuals::one(f64::NAN);
        };
        let turn = table_value_rad(table, Reading(self.stand.table), self.stand.table_approach);
        let (sin, cos) = self.angle_rad.sin_cos();
        if let Some(by) = by {
            let scene = self.stand.scene(geometry, &posed.still, None);
            for (j, motion) in unknowns.motions(Family::Platter, &scene) {
                if let Motion::Platter { turn, .. } = motion {
                    by[j][0] += turn;
                }
            }
            for (j, motion) in unknowns.motions(Family::Dial, &scene) {
                by[j][0] += match motion {
                    Motion::Dial(Dial::Switch) => -1.0,
                    Motion::Dial(Dial::EccCos) => cos,
                    Motion::Dial(Dial::EccSin) => sin,
                    _ => 0.0,
                };
            }
        }
        Residuals::one(wrap_rad(
            turn + self.angle_rad + table.ecc_cos_rad * cos + table.ecc_sin_rad * sin
                - table.switch_rad,
        ))
    }
}

impl NotchReading {
    /// On which full turn of the table the notch stood at the switch.
    fn turn(&self, table: &TurntableGeometry) -> i64 {
        let at = table.scale_rad * self.stand.table + table.index_rad + self.angle_rad;
        ((at - table.switch_rad) / std::f64::consts::TAU).round() as i64
    }
}
