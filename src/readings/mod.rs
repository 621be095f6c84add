//! The kinds of readings. Each kind has one file, which holds its columns, how a row is understood,
//! and its residual with derivatives; and one line in the list below. Nothing else names a kind.

mod attitude;
mod attitude_proposals;
mod height;
pub mod hints;
mod holes;
mod kind;
pub mod limits;
mod notch;
pub mod propose;
pub mod slips;
pub mod stand;
mod target;
mod touch;
mod touch_proposals;

use std::sync::Arc;

use nalgebra::Vector3;

use kind::millionths;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::diagnose::Problems;
use crate::kinematics::MAX_JOINTS;
use crate::kinematics::Posed;
use crate::parameters::Unknowns;
use crate::readings::hints::Hints;
use crate::readings::propose::Draft;
use crate::readings::propose::Maker;
use crate::readings::slips::Slips;
use crate::table::Columns;
use crate::table::Row;
use crate::table::Table;
use crate::table::Unit;
use crate::table::Written;
use crate::table::common::Use;
use crate::table::common::joints;
use crate::table::common::uncertainty;
use crate::table::common::use_row;

pub use attitude::Attitude;
pub use height::Height;
pub use holes::HoleCount;
pub use kind::AxesRead;
pub use kind::ByUnknown;
pub use kind::Kind;
pub use kind::ResidualUnit;
pub use kind::Residuals;
pub use kind::Run;
pub use kind::RunAxis;
pub use kind::Setting;
pub use kind::Shown;
pub use notch::NotchReading;
pub use target::Target;
pub use touch::Touch;

macro_rules! kinds {
    ($($kind:ident),* $(,)?) => {
        /// One reading of any kind.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Reading {
            $(#[doc = stringify!($kind)] $kind($kind),)*
        }

        /// Files of all kinds, in the order in which they are read and reported.
        pub const FILES: &[&str] = &[$(<$kind as Kind>::FILE,)*];

        impl Reading {
            /// The file that it stands in, without folder.
            pub fn file(&self) -> &'static str {
                match self { $(Reading::$kind(_) => <$kind as Kind>::FILE,)* }
            }
            /// Name of one such reading in a sentence.
            pub fn words(&self) -> &'static str {
                match self { $(Reading::$kind(_) => <$kind as Kind>::WORDS,)* }
            }
            /// What is the same where it is repeated; `None`: never repeated.
            pub fn setting(&self, geometry: &Geometry) -> Option<Vec<i64>> {
                match self { $(Reading::$kind(r) => r.setting(geometry),)* }
            }
            /// What it says of the positioning of an axis, where its approach was noted.
            pub fn run(&self, geometry: &Geometry) -> Option<Run> {
                match self { $(Reading::$kind(r) => r.run(geometry),)* }
            }
            /// Where a picture of residuals shows it.
            pub fn shown(&self, posed: &Posed<'_>) -> Shown {
                match self { $(Reading::$kind(r) => r.shown(posed),)* }
            }
            /// How the machine stood.
            pub fn stand(&self) -> &stand::Stand {
                match self { $(Reading::$kind(r) => r.stand().0,)* }
            }
            /// Whether it shows where the tip is.
            pub fn shows_tip(&self) -> bool {
                match self { $(Reading::$kind(_) => <$kind as Kind>::SHOWS_TIP,)* }
            }
            /// Unit of its residuals.
            pub fn unit(&self) -> ResidualUnit {
                match self { $(Reading::$kind(_) => <$kind as Kind>::UNIT,)* }
            }
            /// How many residuals it gives.
            pub fn components(&self) -> usize {
                match self { $(Reading::$kind(r) => r.components(),)* }
            }
            /// Name of a component; `None` for a reading with a single residual.
            pub fn component(&self, index: usize) -> Option<&'static str> {
                match self { $(Reading::$kind(r) => r.component(index),)* }
            }
            /// How the arm stood, where the reading needs the arm's heading.
            pub fn heading_joints(&self) -> Option<&stand::Stand> {
                match self { $(Reading::$kind(r) => r.heading_joints(),)* }
            }
            /// Where a component's residual is seen and in which direction it counts, plate frame.
            pub fn seen_at(
                &self,
                geometry: &Geometry,
                component: usize,
            ) -> Option<(Vector3<f64>, Vector3<f64>)> {
                match self { $(Reading::$kind(r) => r.seen_at(geometry, component),)* }
            }
            /// Lost motion of joint 1 that it shows, rad.
            pub fn joint_1_play_rad(&self, geometry: &Geometry) -> Option<f64> {
                match self { $(Reading::$kind(r) => r.joint_1_play_rad(geometry),)* }
            }
            /// What it says by itself about where things stand.
            pub fn hint(&self, geometry: &Geometry, hints: &mut Hints) {
                match self { $(Reading::$kind(r) => r.hint(geometry, hints),)* }
            }
            /// Residuals at the values of `geometry`; `by` is zeroed and gets the derivatives.
            pub fn evaluate(
                &self,
                geometry: &Geometry,
                unknowns: &Unknowns,
                by: Option<&mut ByUnknown>,
            ) -> Residuals {
                self.evaluate_posed(&Posed::new(geometry), unknowns, by)
            }
            /// The same, from turns that are worked out already.
            #[inline(always)]
            pub fn evaluate_posed(
                &self,
                posed: &Posed<'_>,
                unknowns: &Unknowns,
                by: Option<&mut ByUnknown>,
            ) -> Residuals {
                match self { $(Reading::$kind(r) => r.evaluate(posed, unknowns, by),)* }
            }
        }

        /// Readings of a kind that could be taken.
        pub fn propose(kind: &str, maker: &Maker<'_>, out: &mut Vec<Draft>) {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::propose(maker, out),)*
                _ => {}
            }
        }

        /// The columns of a kind, without unit, in the order in which a file has them.
        pub fn columns(kind: &str, cell: &Cell) -> Columns {
            match kind {
                $(<$kind as Kind>::FILE => columns_of::<$kind>(cell),)*
                _ => Columns::new(),
            }
        }

        /// The slips that people make when they write a row of this kind.
        pub fn slips_of(kind: &str, slips: &mut Slips<'_>) {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::slips(slips),)*
                _ => {}
            }
        }

        /// Columns of a kind that hold what was measured.
        pub fn results_of(kind: &str) -> &'static [&'static str] {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::RESULTS,)*
                _ => &[],
            }
        }

        /// What a person is asked for in a row of a kind: column, unit, explanation.
        pub fn asked_of(kind: &str) -> &'static [(&'static str, &'static str, &'static str)] {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::ASKED,)*
                _ => &[],
            }
        }

        /// What two rows of a kind may have exchanged by a slip.
        pub fn exchanged_by(kind: &str) -> &'static [&'static [&'static str]] {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::EXCHANGED,)*
                _ => &[],
            }
        }

        /// Columns of lengths of a kind that were read off a rule.
        pub fn lengths_of(kind: &str) -> &'static [&'static str] {
            match kind {
                $(<$kind as Kind>::FILE => <$kind as Kind>::LENGTHS,)*
                _ => &[],
            }
        }

        /// The given rows of a file as they were written; `lines` ascending.
        pub fn written(kind: &str, bytes: &[u8], setting: &Setting<'_>, lines: &[usize]) -> Vec<Written> {
            let mut problems = Problems::default();
            let columns = match kind {
                $(<$kind as Kind>::FILE => columns_of::<$kind>(setting.cell),)*
                _ => return Vec::new(),
            };
            Table::read(kind, bytes, &columns, &mut problems)
                .map_or_else(Vec::new, |table| table.written(lines))
        }

        /// Reads the file of one kind; `name` is the file's name as the user would say it.
        pub fn read(
            file: &str,
            name: &str,
            bytes: &[u8],
            setting: &Setting<'_>,
            problems: &mut Problems,
        ) -> Rows {
            match file {
                $(<$kind as Kind>::FILE => read_kind::<$kind>(name, bytes, setting, problems, Reading::$kind),)*
                _ => Rows::default(),
            }
        }
    };
}

// The list of kinds: one line for each.
kinds! {
    HoleCount,
    NotchReading,
    Touch,
    Attitude,
    Height,
}

/// Joint readings of a row, the first `needed` of which must be there; the others are 0 if empty.
fn joint_readings(
    row: &mut Row<'_>,
    first: usize,
    cell: &Cell,
    needed: usize,
) -> [f64; MAX_JOINTS] {
    let why = "the reading of the joint, for what was measured";
    joints(row, first, cell.joints.len(), needed, why).map(Option::unwrap_or_default)
}

/// A reading as it was taken: where it stands and how sure it is.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Its file, as the user would say it: `readings/holes.csv`.
    pub file: Arc<str>,
    /// Physical line in its file, the first being 1.
    pub line: usize,
    /// Standard uncertainty of each of its components, mm or rad, as used.
    pub u: f64,
    /// Whether a missing approach made `u` larger.
    pub widened: bool,
    /// `use`: whether it takes part, is left out, or checks the result.
    pub role: Use,
    /// What was read.
    pub reading: Reading,
}

impl Taken {
    /// Whether it takes part in the solution.
    pub fn used(&self) -> bool {
        self.role == Use::Yes
    }
}

/// A row that is laid out and not filled in yet; it says `use = no`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unfinished {
    /// Its file, as the user would say it.
    pub file: Arc<str>,
    /// Its physical line.
    pub line: usize,
}

/// The rows of one file.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Rows {
    /// Readings, in the order of the file.
    pub taken: Vec<Taken>,
    /// Rows that are laid out only.
    pub unfinished: Vec<Unfinished>,
}

fn columns_of<K: Kind>(cell: &Cell) -> Columns {
    let unit = match K::UNIT {
        ResidualUnit::Mm => Unit::Mm,
        ResidualUnit::Deg => Unit::Deg,
    };
    K::columns(cell).bookkeeping(unit)
}

/// A row understood anew after a change of its text; `None` where it cannot be, or where something in
/// it looks wrong at once (a count that ends beyond the plate, an axis beyond its limits).
pub fn understood(kind: &str, row: &Written, setting: &Setting<'_>) -> Option<Taken> {
    let mut problems = Problems::default();
    let rows = read(kind, kind, row.csv().as_bytes(), setting, &mut problems);
    let taken = rows.taken.into_iter().next()?;
    problems.is_empty().then_some(Taken {
        line: row.line,
        ..taken
    })
}

fn read_kind<K: Kind>(
    name: &str,
    bytes: &[u8],
    setting: &Setting<'_>,
    problems: &mut Problems,
    wrap: fn(K) -> Reading,
) -> Rows {
    let unit = match K::UNIT {
        ResidualUnit::Mm => Unit::Mm,
        ResidualUnit::Deg => Unit::Deg,
    };
    let columns = columns_of::<K>(setting.cell);
    let slots = limits::AxisSlots::of(&columns);
    let (u_slot, use_slot) = (columns.slot("u"), columns.slot("use"));
    let Some(table) = Table::read(name, bytes, &columns, problems) else {
        return Rows::default();
    };
    // Laid out by `plan`: nothing there may be taken for 0 because nobody wrote it.
    let results: Vec<usize> = match name.contains("-plan-") {
        // Those that every file must have are asked for anyway.
        true => K::RESULTS
            .iter()
            .map(|c| columns.slot(c))
            .filter(|slot| !columns.list()[*slot].required)
            .collect(),
        false => Vec::new(),
    };
    let file: Arc<str> = name.into();
    let mut rows = Rows::default();
    table.for_each(problems, |row| {
        let role = use_row(row, use_slot);
        if role == Use::No {
            row.may_be_unfinished();
        }
        let u = uncertainty(row, u_slot, unit, K::default_u(setting.cell));
        for slot in &results {
            row.needed_number(
                *slot,
                "what was measured (0 only if it was 0), or no under use",
            );
        }
        let understood = match row.is_unfinished() {
            true => None,
            false => K::understand(row, setting),
        };
        if row.is_unfinished() && !row.is_bad() {
            rows.unfinished.push(Unfinished {
                file: file.clone(),
                line: row.line(),
            });
            return;
        }
        if let (Some(kind), false) = (understood, row.is_bad()) {
            let (stand, axes) = kind.stand();
            limits::warn_beyond(row, &slots, setting.cell, stand, axes);
            let more = kind.widening(setting.cell);
            rows.taken.push(Taken {
                file: file.clone(),
                line: row.line(),
                u: if more > 0.0 { u.hypot(more) } else { u },
                widened: more > 0.0,
                role,
                reading: wrap(kind),
            });
        }
    });
    rows
}
