//! The command line.

use std::path::PathBuf;

use clap::Args;
use clap::Parser;
use clap::Subcommand;

use crate::readings::FILES;

/// Ties a small cell together (arm on a track, turntable, perforated plate) from readings made by
/// hand, and says where the tip is, how surely, and what can be reached.
#[derive(Debug, Parser)]
#[command(name = "notchpin", version, propagate_version = true, after_help = EXAMPLES)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Leave out warnings and notes on standard error; errors are still told
    #[arg(long, short, global = true)]
    pub quiet: bool,
}

const EXAMPLES: &str = "\
First steps:
  notchpin new bench             lay out a cell folder from a built-in demo cell
  notchpin register bench        solve it: what to key in, how sure, what does not fit
  notchpin plan bench            what to measure next
  notchpin enter bench           type the readings in, each checked at once
  notchpin tip bench --track 300 --table 45 --joints=90,-34,80,44,0
  notchpin reach bench           which points can be reached, and from where
  notchpin task bench            a whole task: stations, postures, ways (new --from glaze-line)

Exit status: 0 done and acceptable; 1 done, but a person must look at something;
2 bad input or usage, nothing written.

Caution: positions and results are calculated. Keep hands and tools out of the arm's reach
while it is powered, register at reduced speed (10 % or less, never above 250 mm/s), switch
off and lock before reaching in, and prove each new position slowly first.";

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Lay out a cell folder that works at once, from a demo cell built into the program
    #[command(
        after_help = "Examples:\n  notchpin new bench\n  notchpin new --list\n  \
        notchpin new bench --from inch-rows"
    )]
    New(New),
    /// Read everything, say what is there and what looks wrong; solve nothing
    #[command(after_help = "Example:\n  notchpin check bench")]
    Check(Check),
    /// Solve the cell from its readings; print what was found, test it, write a record
    #[command(after_help = "Examples:\n  notchpin register bench\n  \
        notchpin register bench --set-aside\n  notchpin register bench --simulate 1000\n  notchpin register bench --json --no-record")]
    Register(Register),
    /// Say what to measure next so that the tip is sure enough; lay out files to fill in
    #[command(
        after_help = "Examples:\n  notchpin plan bench\n  notchpin plan bench --write\n\n\
        It plans from the readings of the folder, or from the drawing where there are none yet."
    )]
    Plan(Plan),
    /// Ask for readings one by one at the bench, check each at once, save every answer
    #[command(
        after_help = "Examples:\n  notchpin enter bench\n  notchpin enter bench --kind holes\n  \
        notchpin enter bench --readings recheck\n\n\
        It asks for the rows that `notchpin plan --write` laid out, in the order of their steps, and\n\
        goes on where it stopped. Each reading is held against the registration in force, else against\n\
        the readings entered so far, else against the drawing.\n\n\
        Status 1 where rows are left, or one was kept that does not fit. q stops; stopping at any\n\
        moment loses no answer but the one being typed."
    )]
    Enter(Enter),
    /// Say where the tip is for a set of axis readings
    #[command(after_help = "Example:\n  notchpin tip bench --track 300 --table 45 \
        --joints=90,-34,80,44,0")]
    Tip(Tip),
    /// Say whether and how each point can be reached, over track and table
    #[command(
        after_help = "Examples:\n  notchpin reach bench\n  notchpin reach bench --point \
        tile_north --track 0:900:50 --table 0\n  notchpin reach bench --point tile_north --map tile"
    )]
    Reach(Reach),
    /// Check a whole task: stations, postures, ways between, what would help where a step fails
    #[command(
        after_help = "Examples:\n  notchpin task bench\n  notchpin task bench --name glaze --csv\n  \
        notchpin task bench --prefer travel --as-drawn\n\n\
        A task is a file tasks/NAME.csv with the columns point, approach_mm, depart_mm, along, dwell_s,\n\
        track, table, note: see docs/files.md. Status 1 where a step or a way needs a look."
    )]
    Task(Task),
    /// Print a completion script for a shell
    Completions {
        /// Which shell
        shell: clap_complete::Shell,
    },
    /// Write the manual pages into a folder
    Man {
        /// The folder; it must exist
        folder: PathBuf,
    },
}

/// The cell folder.
#[derive(Debug, Args)]
pub struct CellFolder {
    /// The cell folder, or its cell.toml; the current folder if left out
    pub cell: Option<PathBuf>,
}

/// `new`.
#[derive(Debug, Args)]
pub struct New {
    /// The folder to make; it must not exist, or be empty
    #[arg(required_unless_present = "list")]
    pub folder: Option<PathBuf>,
    /// The demo cell to start from
    #[arg(long, value_name = "NAME")]
    pub from: Option<String>,
    /// List the demo cells
    #[arg(long)]
    pub list: bool,
}

/// `check`.
#[derive(Debug, Args)]
pub struct Check {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// `register`.
#[derive(Debug, Args)]
pub struct Register {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
    /// Write no record
    #[arg(long)]
    pub no_record: bool,
    /// Draw so many noisy copies of the readings and see whether the statistics hold on this cell
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u64).range(10..=1_000_000))]
    pub simulate: Option<u64>,
    /// Solve without the readings that do not fit; each one set aside is listed, in the record too
    #[arg(long)]
    pub set_aside: bool,
    /// Who, what, why: kept in the record and shown by `history`
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// The day on which the readings were taken, YYYY-MM-DD; today if left out
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub taken: Option<String>,
}

/// A day as it stands in a record.
fn day(text: &str) -> Result<String, String> {
    let shape = text.len() == 10;
    match humantime::parse_rfc3339(&format!("{text}T00:00:00Z")) {
        Ok(_) if shape => Ok(text.to_owned()),
        _ => Err("expected a day such as 2026-11-02".to_owned()),
    }
}

/// `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// At most so many readings
    #[arg(long, value_name = "N", default_value_t = 40, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub most: u32,
    /// Lay out files readings/KIND-plan-NNNN.csv, results blank, use = no; nothing is overwritten
    #[arg(long)]
    pub write: bool,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// The kinds of readings by the names of their files.
fn kinds() -> impl clap::builder::TypedValueParser {
    clap::builder::PossibleValuesParser::new(FILES.iter().map(|f| f.trim_end_matches(".csv")))
}

/// `enter`.
#[derive(Debug, Args)]
pub struct Enter {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// A folder of readings or one file of it, in the cell folder or elsewhere; readings if left out
    #[arg(long, value_name = "PATH")]
    pub readings: Option<PathBuf>,
    /// Ask for new rows of this kind instead of those that are laid out
    #[arg(long, value_parser = kinds())]
    pub kind: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub force: Force,
}

/// What the rows of a map are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Over {
    /// Readings of the table
    Table,
    /// Elevations of the tool
    Elevation,
}

/// How the stations of a task are chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Prefer {
    /// The fewest track positions; among those the largest smallest margin, nearly singular postures counting little
    Fewest,
    /// Little travel of the track from step to step
    Travel,
}

/// `task`.
#[derive(Debug, Args)]
pub struct Task {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// The task: its file is tasks/NAME.csv; may be left out where there is one
    #[arg(long, value_name = "NAME")]
    pub name: Option<String>,
    /// How stations are chosen
    #[arg(long, value_enum, default_value_t = Prefer::Fewest)]
    pub prefer: Prefer,
    /// Track readings that may be stations: A:B:STEP or one value; the whole travel if left out
    #[arg(long, value_name = "A:B:STEP", allow_hyphen_values = true)]
    pub track: Option<String>,
    /// Table readings to try where a step leaves the table free: A:B:STEP or one value; every 15 degrees
    /// if left out. A point that is met only at pairs of track and table takes its own
    #[arg(long, value_name = "A:B:STEP", allow_hyphen_values = true)]
    pub table: Option<String>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub force: Force,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
    /// Print a CSV table instead of text: one row a place, for a spreadsheet
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// Which geometry to use.
#[derive(Debug, Args)]
pub struct Force {
    /// Use this record instead of the newest one
    #[arg(long, value_name = "FILE", conflicts_with = "as_drawn")]
    pub record: Option<PathBuf>,
    /// Use the nominal values of cell.toml instead of a record
    #[arg(long)]
    pub as_drawn: bool,
}

/// `tip`.
#[derive(Debug, Args)]
pub struct Tip {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Reading of the track
    #[arg(long, value_name = "R", allow_hyphen_values = true)]
    pub track: Option<String>,
    /// Reading of the turntable; without it there is no answer in the platter frame
    #[arg(long, value_name = "R", allow_hyphen_values = true)]
    pub table: Option<String>,
    /// Readings of all joints, with commas between
    #[arg(
        long,
        value_name = "A,B,…",
        allow_hyphen_values = true,
        required = true
    )]
    pub joints: String,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub force: Force,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// `reach`.
#[derive(Debug, Args)]
pub struct Reach {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Track readings: A:B:STEP or one value; the whole travel if left out
    #[arg(long, value_name = "A:B:STEP", allow_hyphen_values = true)]
    pub track: Option<String>,
    /// Table readings: A:B:STEP or one value; the whole travel or one turn if left out
    #[arg(long, value_name = "A:B:STEP", allow_hyphen_values = true)]
    pub table: Option<String>,
    /// Only this point
    #[arg(long, value_name = "NAME")]
    pub point: Option<String>,
    /// Write FILE.csv and FILE.svg: the best margin over track and table, of --point or of --task
    #[arg(long, value_name = "FILE")]
    pub map: Option<PathBuf>,
    /// With --map: the whole task instead of one point
    #[arg(long, value_name = "NAME", requires = "map", conflicts_with = "point")]
    pub task: Option<String>,
    /// With --map: what the rows are; the table for a point of the platter, else the elevation
    #[arg(long, value_enum, requires = "map")]
    pub over: Option<Over>,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub force: Force,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}
