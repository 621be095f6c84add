//! Slips of the pen, put into the text of a cell; and what they would be put right by.

use crate::made::Draw;
use crate::made::Made;
use crate::made::Rows;

/// One change of the text of a row or of two.
#[derive(Debug, Clone, PartialEq)]
pub struct Edit {
    pub row: usize,
    pub column: usize,
    pub text: String,
}

/// A slip: what was changed.
#[derive(Debug, Clone)]
pub struct Slip {
    pub kind: &'static str,
    pub what: Change,
}

#[derive(Debug, Clone)]
pub enum Change {
    /// In one or two rows of a file.
    Rows { table: usize, edits: Vec<Edit> },
    /// A column's name in the header of a file.
    Header {
        table: usize,
        column: usize,
        name: String,
    },
    /// A key of cell.toml: what stood there, what stands there now.
    Toml {
        key: &'static str,
        from: String,
        to: String,
    },
}

pub const KINDS: [&str; 13] = [
    "count",
    "mark",
    "gap",
    "unit",
    "notch",
    "approach",
    "offset",
    "target",
    "attitude",
    "joint",
    "swap",
    "pitch",
    "direction",
];

impl Slip {
    pub fn put_into(&self, made: &mut Made) {
        match &self.what {
            Change::Rows { table, edits } => {
                for edit in edits {
                    made.tables[*table].rows[edit.row][edit.column].clone_from(&edit.text);
                }
            }
            Change::Header {
                table,
                column,
                name,
            } => {
                made.tables[*table].header[*column].clone_from(name);
            }
            Change::Toml { from, to, .. } => {
                assert!(made.toml.contains(from.as_str()), "{from}");
                made.toml = made.toml.replacen(from.as_str(), to, 1);
            }
        }
    }
}

fn number(text: &str) -> Option<f64> {
    text.parse().ok()
}

fn minus(text: &str) -> String {
    text.strip_prefix('-')
        .map_or_else(|| format!("-{text}"), str::to_owned)
}

/// All slips that the issue lists, in one row of a file.
pub fn of_row(made: &Made, table: usize, row: usize) -> Vec<Slip> {
    let rows = &made.tables[table];
    let mut list = List {
        rows,
        table,
        row,
        found: Vec::new(),
    };
    match rows.file {
        "holes.csv" => list.holes(),
        "notch.csv" => list.notch(made),
        "touch.csv" => list.touch(),
        "attitude.csv" => list.attitude(),
        _ => list.height(),
    }
    list.swaps();
    list.found
}

struct List<'a> {
    rows: &'a Rows,
    table: usize,
    row: usize,
    found: Vec<Slip>,
}

impl List<'_> {
    fn text(&self, column: &str) -> &str {
        self.rows
            .column(column)
            .map_or("", |c| &self.rows.rows[self.row][c])
    }

    fn push(&mut self, kind: &'static str, changes: &[(&str, String)]) {
        let edits: Vec<Edit> = changes
            .iter()
            .filter_map(|(column, text)| {
                let column = self.rows.column(column)?;
                let text = text.clone();
                Some(Edit {
                    row: self.row,
                    column,
                    text,
                })
            })
            .filter(|e| self.rows.rows[e.row][e.column] != e.text)
            .collect();
        if !edits.is_empty() {
            let what = Change::Rows {
                table: self.table,
                edits,
            };
            self.found.push(Slip { kind, what });
        }
    }

    fn sign(&mut self, kind: &'static str, column: &str) {
        if number(self.text(column)).is_some_and(|v| v != 0.0) {
            let text = minus(self.text(column));
            self.push(kind, &[(column, text)]);
        }
    }

    fn exchange(&mut self, kind: &'static str, a: &str, b: &str) {
        let (at_a, at_b) = (self.text(a).to_owned(), self.text(b).to_owned());
        if !at_a.is_empty() && !at_b.is_empty() {
            self.push(kind, &[(a, at_b), (b, at_a)]);
        }
    }

    /// The number that would stand there had it been read in the other unit.
    fn unit(&mut self, column: &str) {
        let Some(value) = number(self.text(column)).filter(|v| *v != 0.0) else {
            return;
        };
        let at = self.rows.column(column).unwrap();
        let text = match self.rows.header[at].ends_with("_in") {
            true => format!("{:.1}", value * 25.4),
            false => format!("{:.3}", value / 25.4),
        };
        self.push("unit", &[(column, text)]);
    }

    fn approach(&mut self) {
        let other = match self.text("approach") {
            "up" => "down",
            "down" => "up",
            "ccw" => "cw",
            "cw" => "ccw",
            _ => return,
        };
        self.push("approach", &[("approach", other.to_owned())]);
    }

    fn joints(&mut self) {
        let names: Vec<String> = (1..=6).map(|j| format!("j{j}")).collect();
        for (k, a) in names.iter().enumerate() {
            self.sign("joint", a);
            for b in &names[k + 1..] {
                if self.rows.column(b).is_some() {
                    self.exchange("joint", a, b);
                }
            }
        }
    }

    fn holes(&mut self) {
        let count = number(self.text("count")).unwrap();
        for n in 1..=12 {
            for off in [f64::from(n), -f64::from(n)] {
                self.push("count", &[("count", format!("{}", count + off))]);
            }
        }
        for off in [0.5, -0.5] {
            self.push("count", &[("count", format!("{}", count + off))]);
        }
        let along = if self.text("along") == "row" {
            "column"
        } else {
            "row"
        };
        self.push("count", &[("along", along.to_owned())]);
        for feature in ["left_foot", "right_foot", "front"] {
            self.push("mark", &[("feature", feature.to_owned())]);
        }
        for from in ["", "pin_a", "pin_b", "pin_c", "post"] {
            self.push("mark", &[("from", from.to_owned())]);
        }
        self.sign("gap", "gap");
        self.unit("gap");
        self.approach();
    }

    fn notch(&mut self, made: &Made) {
        let count = made.toml.lines().find_map(|l| l.strip_prefix("notches = "));
        let list = made.toml.lines().find(|l| l.starts_with("notch_angles"));
        let listed = list.map_or(0, |l| l.matches(',').count() + 1);
        for notch in 0..count.map_or(listed, |c| c.parse().unwrap()) {
            self.push("notch", &[("notch", notch.to_string())]);
        }
        self.approach();
    }

    fn touch(&mut self) {
        let target = self.text("target").to_owned();
        if let Some((c, r)) = target.split_once(':') {
            let (c, r): (f64, f64) = (c.parse().unwrap(), r.parse().unwrap());
            for dc in -2..=2 {
                for dr in -2..=2 {
                    let other = format!("{}:{}", c + f64::from(dc), r + f64::from(dr));
                    self.push("target", &[("target", other)]);
                }
            }
        }
        for mark in ["pin_a", "pin_b", "pin_c", "post", "spigot", "dot"] {
            self.push("target", &[("target", mark.to_owned())]);
        }
        let axes = ["dx", "dy", "dz"];
        for (k, a) in axes.iter().enumerate() {
            self.sign("offset", a);
            self.unit(a);
            for b in &axes[k + 1..] {
                self.exchange("offset", a, b);
            }
        }
        self.joints();
    }

    fn attitude(&mut self) {
        let kind = if self.text("kind") == "plumb" {
            "level"
        } else {
            "plumb"
        };
        self.push("attitude", &[("kind", kind.to_owned())]);
        for axis in ["x", "y", "z", "-x", "-y", "-z"] {
            self.push("attitude", &[("axis", axis.to_owned())]);
        }
        if self.text("kind") == "plumb" {
            for toward in ["ahead", "left"] {
                self.push("attitude", &[("toward", toward.to_owned())]);
            }
        }
        self.sign("attitude", "angle");
        self.joints();
    }

    fn height(&mut self) {
        self.unit("height");
        for name in ["j2", "j3", "tip"] {
            self.push("mark", &[("of", name.to_owned())]);
        }
        for name in ["", "j2", "j3"] {
            self.push("mark", &[("over", name.to_owned())]);
        }
        self.joints();
    }

    /// The results of two rows exchanged.
    fn swaps(&mut self) {
        let columns: &[&str] = match self.rows.file {
            "holes.csv" => &["count", "gap"],
            "notch.csv" => &["table"],
            "touch.csv" => &["target"],
            "attitude.csv" => &["angle"],
            _ => &["height"],
        };
        for other in (0..self.rows.rows.len()).filter(|o| *o != self.row) {
            let mut edits = Vec::new();
            for name in columns {
                let column = self.rows.column(name).unwrap();
                for (row, from) in [(self.row, other), (other, self.row)] {
                    let text = self.rows.rows[from][column].clone();
                    if text != self.rows.rows[row][column] {
                        edits.push(Edit { row, column, text });
                    }
                }
            }
            if !edits.is_empty() {
                let what = Change::Rows {
                    table: self.table,
                    edits,
                };
                self.found.push(Slip { kind: "swap", what });
            }
        }
    }
}

/// Slips of a whole file or of cell.toml.
pub fn of_whole(made: &Made) -> Vec<Slip> {
    let mut found = Vec::new();
    let mut toml = |kind, key, from: &str, to: String| {
        if made.toml.contains(from) && from != to {
            let from = from.to_owned();
            found.push(Slip {
                kind,
                what: Change::Toml { key, from, to },
            });
        }
    };
    for (key, from) in [
        ("plate.pitch_mm", "pitch_mm = 50.0"),
        ("plate.pitch_mm", "pitch_mm = 25.4"),
        ("plate.pitch_in", "pitch_in = 1.0"),
        ("plate.pitch_mm", "pitch_mm = 25.0"),
    ] {
        let others: &[&str] = match key {
            "plate.pitch_mm" => &["pitch_mm = 50.0", "pitch_mm = 25.4", "pitch_mm = 25.0"],
            _ => &["pitch_in = 2.0"],
        };
        for to in others {
            toml("pitch", key, from, (*to).to_owned());
        }
    }
    for (key, head) in [
        ("track.scale", "[track]"),
        ("turntable.scale", "[turntable]"),
    ] {
        let at = made.toml.find(head).unwrap();
        let scale = made.toml[at..]
            .lines()
            .find(|l| l.starts_with("scale = "))
            .unwrap();
        let end = at + made.toml[at..].find(scale).unwrap() + scale.len();
        let block = &made.toml[at..end];
        let value = scale.strip_prefix("scale = ").unwrap();
        let start = &block[..block.len() - scale.len()];
        toml(
            "direction",
            key,
            block,
            format!("{start}scale = {}", minus(value)),
        );
    }
    for (table, rows) in made.tables.iter().enumerate() {
        for name in ["gap", "height"] {
            let Some(column) = rows.column(name) else {
                continue;
            };
            let other = match rows.header[column].ends_with("_in") {
                true => format!("{name}_mm"),
                false => format!("{name}_in"),
            };
            let what = Change::Header {
                table,
                column,
                name: other,
            };
            found.push(Slip { kind: "unit", what });
        }
    }
    found
}

/// A slip of a kind somewhere in a cell.
pub fn any(made: &Made, kind: &str, draw: &mut Draw) -> Option<Slip> {
    let whole = of_whole(made);
    let of_kind =
        |list: Vec<Slip>| -> Vec<Slip> { list.into_iter().filter(|s| s.kind == kind).collect() };
    if matches!(kind, "pitch" | "direction") || (kind == "unit" && draw.0.bool()) {
        let list = of_kind(whole);
        return (!list.is_empty()).then(|| draw.one_of(&list).clone());
    }
    for _ in 0..200 {
        let table = draw.0.usize(..made.tables.len());
        let row = draw.0.usize(..made.tables[table].rows.len());
        let list = of_kind(of_row(made, table, row));
        if !list.is_empty() {
            return Some(draw.one_of(&list).clone());
        }
    }
    None
}
