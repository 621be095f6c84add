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
  notchpin recheck bench         after a knock: does it still hold; if not, what moved
  notchpin transfer bench        new readings for the taught points after a move
  notchpin report bench          all of it as one HTML file with drawings
  notchpin history bench         what drifts, and when a registration is due again
  notchpin enter bench           type the readings in, each checked at once
  notchpin tip bench --track 300 --table 45 --joints=90,-34,80,44,0
  notchpin reach bench           which points can be reached, and from where
  notchpin task bench            a whole task: stations, postures, ways (new --from glaze-line)
  notchpin view bench            the cell on a page in the browser, to look at and to try postures

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
        notchpin register bench --set-aside\n  notchpin register bench --simulate 1000\n  notchpin register bench --json --no-record\n  \
        notchpin register bench --moved track --readings monday/")]
    Register(Register),
    /// Hold a few new readings against the registration: does it still hold; if not, what moved?
    #[command(
        after_help = "Examples:\n  notchpin recheck bench\n  notchpin recheck bench --readings monday/\n\n\
        The readings are files named and written as those in readings/ (holes.csv, touch.csv, ...); three\n\
        readings are enough to start. Without --readings they are looked for in the cell's folder recheck.\n\
        Status 1 where the registration no longer holds."
    )]
    Recheck(Recheck),
    /// Tell all registrations of a cell in order: whether they are whole, what drifts or wears, when the next is due
    #[command(
        after_help = "Examples:\n  notchpin history bench\n  notchpin history bench --csv > history.csv\n\n\
        When it is due: [accept] due_days after the newest record, or the day on which the predicted drift\n\
        of the tip and its uncertainty reach [accept] tip_mm; whichever comes first. Status 1 where the chain\n\
        of records is broken, a registration is due, or the newest one or its recheck asks for a look."
    )]
    History(History),
    /// Say what to measure next so that the tip is sure enough; lay out files to fill in
    #[command(
        after_help = "Examples:\n  notchpin plan bench\n  notchpin plan bench --write\n\n\
        It plans from the readings of the folder, or from the drawing where there are none yet."
    )]
    Plan(Plan),
    /// Make the working sheet for the bench: steps in their order, boxes to fill in, what to redo
    #[command(
        after_help = "Examples:\n  notchpin sheet bench\n  notchpin sheet bench --out commissioning.html\n  \
        notchpin sheet bench --for more --write --out more.md\n\n\
        The sheet holds positions to drive to, never what is expected to be read there. It is printed, or\n\
        filled in on a tablet. A file that exists is never overwritten."
    )]
    Sheet(Sheet),
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
    /// Make a report of a registration: one HTML file with drawings, to print, mail and keep
    #[command(
        after_help = "Examples:\n  notchpin report bench\n  notchpin report bench --record 2 --out june.html\n  \
        notchpin report bench --svg drawings\n\n\
        The file needs nothing else: no script, no network. The full values are written beside it as JSON.\n\
        Without a record the readings are solved as they are now, and the report says that no record was\n\
        kept. Status 1 where the verdict is not accepted. A file that exists is never overwritten."
    )]
    Report(Report),
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
    /// Hold two records against each other: what changed, how surely, how far the tip stands elsewhere
    #[command(
        after_help = "Examples:\n  notchpin compare bench\n  notchpin compare bench 1 3\n  \
        notchpin compare bench recheck-0001.json registration-0002.json\n\n\
        Records are named by number, name or path; without them the two newest are compared. A recheck\n\
        stands for what was found then (as found), a registration for what was left (as left).\n\
        Status 1 where something really changed."
    )]
    Compare(Compare),
    /// Carry taught points over: new readings after a change of the registration, or at another station
    #[command(
        after_help = "Examples:\n  notchpin transfer bench\n  notchpin transfer bench --track 450\n  \
        notchpin transfer bench --best --out bench/taught-after.csv\n\n\
        A point of the platter stays where it is on the platter, one of the plate where it is on the plate.\n\
        Under which record a point was taught stands in the column record of taught.csv; where it does\n\
        not, the program assumes one and says which. Nothing is overwritten. Status 1 where a point\n\
        cannot be reached, lost margin, or was taught under an assumed record."
    )]
    Transfer(Transfer),
    /// Show the cell on a page in the browser: drag arm, carriage and platter, see what it reads and reaches
    #[command(
        after_help = "Examples:\n  notchpin view bench\n  notchpin view bench --as-drawn\n  \
        notchpin view bench --no-open --port 8600\n\n\
        The page is for this machine alone, at an address that holds a random word; it is printed on standard\n\
        output. Ctrl-C ends it. The page commands no machine. Positions are kept only where you confirm each\n\
        one, as rows of taught-on-page.csv in the cell folder, which no command reads: move them into\n\
        taught.csv once they are proved. Nothing else is written."
    )]
    View(View),
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
    #[command(flatten)]
    #[allow(missing_docs)]
    pub kept: KeptWith,
    /// Solve anew only what moved, from new readings; all the rest stays as the record in force has it,
    /// with its uncertainty: track, mount, j1 to jN, tool, turntable, index, switch; several with commas
    #[arg(long, value_name = "PART,…", value_delimiter = ',')]
    pub moved: Vec<String>,
    /// With --moved: only the joints that are named; those set after them stay as they are
    #[arg(long, requires = "moved")]
    pub only: bool,
    /// Take the readings from this folder or file instead of the folder readings (with --moved: instead of
    /// the folder recheck)
    #[arg(long, value_name = "PATH")]
    pub readings: Option<PathBuf>,
    /// With --moved: the record to go on from; the newest if left out
    #[arg(long, value_name = "FILE", requires = "moved")]
    pub record: Option<PathBuf>,
    /// With --moved: rows that read the very same as rows of an earlier record count all the same: they were
    /// read again
    #[arg(long, requires = "moved")]
    pub again: bool,
    /// All readings in the folder readings were taken since the last move: solve everything from them
    #[arg(long, conflicts_with = "moved")]
    pub afresh: bool,
}

/// `compare`.
#[derive(Debug, Args)]
pub struct Compare {
    /// The cell (the current folder if left out) and two records (the two newest if left out)
    #[arg(value_name = "CELL] [A B", num_args = 0..=3)]
    pub what: Vec<String>,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// `transfer`.
#[derive(Debug, Args)]
pub struct Transfer {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Only this point of taught.csv
    #[arg(long, value_name = "NAME")]
    pub point: Option<String>,
    /// Track reading to carry the points to; as taught if left out
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub track: Option<f64>,
    /// Table reading to carry the points to; as taught if left out
    #[arg(long, value_name = "R", allow_hyphen_values = true, value_parser = finite)]
    pub table: Option<f64>,
    /// To the station with the largest margin to the joint limits
    #[arg(long, conflicts_with_all = ["track", "table"])]
    pub best: bool,
    /// The record under which points were taught that do not say so themselves: number, name or path
    #[arg(long, value_name = "RECORD")]
    pub from: Option<String>,
    /// Go to the geometry of this record instead of the newest one
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// Write the new readings into a new file with the columns of taught.csv
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Print that table instead of text
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// A number that a controller may show.
fn finite(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        // No controller shows more.
        Ok(value) if value.abs() <= 1e7 => Ok(value),
        _ => Err("expected a number such as -12.5: write what the controller shows".to_owned()),
    }
}

/// What goes into a record beside the result.
#[derive(Debug, Args)]
pub struct KeptWith {
    /// Who, what, why: kept in the record and shown by `history`
    #[arg(long, value_name = "TEXT", value_parser = clap::builder::NonEmptyStringValueParser::new())]
    pub note: Option<String>,
    /// The day on which the readings were taken, YYYY-MM-DD; today if left out
    #[arg(long, value_name = "DAY", value_parser = day)]
    pub taken: Option<String>,
}

/// `recheck`.
#[derive(Debug, Args)]
pub struct Recheck {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// The new readings: a folder with files as in readings/, or one such file; the cell's folder
    /// recheck if left out
    #[arg(long, value_name = "PATH")]
    pub readings: Option<PathBuf>,
    /// Hold them against this record instead of the newest one
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// Keep nothing of it
    #[arg(long)]
    pub no_record: bool,
    /// Rows that read the very same as rows of an earlier record count all the same: they were read again
    #[arg(long)]
    pub again: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub kept: KeptWith,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
}

/// A day as it stands in a record.
fn day(text: &str) -> Result<String, String> {
    let shape = text.len() == 10;
    match humantime::parse_rfc3339(&format!("{text}T00:00:00Z")) {
        Ok(_) if shape => Ok(text.to_owned()),
        _ => Err("expected a day such as 2026-11-02".to_owned()),
    }
}

/// `history`.
#[derive(Debug, Args)]
pub struct History {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// Print one JSON document instead of text
    #[arg(long)]
    pub json: bool,
    /// Print a CSV table instead of text: one row a record and parameter, for a spreadsheet
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
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

/// What a working sheet is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum For {
    /// The first registration: planned from the drawing and its tolerances, whatever was read
    Commissioning,
    /// Readings to add: planned from those there are, as `plan` does
    More,
}

/// `sheet`.
#[derive(Debug, Args)]
pub struct Sheet {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// What it is for
    #[arg(long = "for", value_name = "WHAT", value_enum, default_value_t = For::Commissioning)]
    pub purpose: For,
    /// After a move: what to measure so that these parts can be registered anew, and no more; track, mount,
    /// j1 to jN, tool, turntable, index, switch; several with commas
    #[arg(
        long,
        value_name = "PART,…",
        value_delimiter = ',',
        conflicts_with = "purpose"
    )]
    pub moved: Vec<String>,
    /// With --moved: only the joints that are named, not those set after them
    #[arg(long, requires = "moved")]
    pub only: bool,
    /// With --moved: readings taken since, a folder or a file; the cell's folder recheck if left out
    #[arg(long, value_name = "PATH", requires = "moved")]
    pub readings: Option<PathBuf>,
    /// With --moved: the record to go on from; the newest if left out
    #[arg(long, value_name = "FILE", requires = "moved")]
    pub record: Option<PathBuf>,
    /// At most so many readings
    #[arg(long, value_name = "N", default_value_t = 40, value_parser = clap::value_parser!(u32).range(1..=500))]
    pub most: u32,
    /// Write the sheet into this file, as its ending says: .html or .md; nothing is overwritten
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Print the sheet as HTML
    #[arg(long, conflicts_with_all = ["out", "markdown", "json"])]
    pub html: bool,
    /// Print the sheet as Markdown; so it is where nothing else is said
    #[arg(long, conflicts_with_all = ["out", "json"])]
    pub markdown: bool,
    /// Lay out files readings/KIND-plan-NNNN.csv with the numbers of the steps, results blank, use = no
    #[arg(long)]
    pub write: bool,
    /// Print one JSON document instead of the sheet
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
    /// What moved since the registration: there nothing is expected but what readings taken since say
    #[arg(long, value_name = "PART,…", value_delimiter = ',')]
    pub moved: Vec<String>,
    /// With --moved: only the joints that are named, not those set after them
    #[arg(long, requires = "moved")]
    pub only: bool,
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

/// `report`.
#[derive(Debug, Args)]
pub struct Report {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// The record to report on, by number, name or path; the newest if left out
    #[arg(long, value_name = "FILE")]
    pub record: Option<PathBuf>,
    /// The file to write; report-NNNN.html in the current folder if left out
    #[arg(long, value_name = "FILE.html")]
    pub out: Option<PathBuf>,
    /// Write the drawings alone, as SVG files, into this folder; with --out the report too
    #[arg(long, value_name = "FOLDER")]
    pub svg: Option<PathBuf>,
    /// The point at which the arm is drawn and whose map is shown; one that is reached if left out
    #[arg(long, value_name = "NAME")]
    pub point: Option<String>,
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

/// `view`.
#[derive(Debug, Args)]
pub struct View {
    #[command(flatten)]
    #[allow(missing_docs)]
    pub folder: CellFolder,
    /// The port to serve the page at; a free one if left out
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1024..))]
    pub port: Option<u16>,
    /// Open no browser, only print the address
    #[arg(long)]
    pub no_open: bool,
    #[command(flatten)]
    #[allow(missing_docs)]
    pub force: Force,
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
