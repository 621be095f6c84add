//! Which columns a kind of table has.

/// The unit of a column, as its name says it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// A length: `_mm` or `_in` in the file, millimetres in code.
    Mm,
    /// An angle: `_deg` in the file, radians in code.
    Deg,
    /// A name, a count or what a controller shows: no suffix.
    None,
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Name without the suffix of the unit: `gap` for `gap_mm`.
    pub name: String,
    /// Its unit.
    pub unit: Unit,
    /// Whether every table must have it.
    pub required: bool,
}

impl Column {
    /// The name as it usually stands in a header: `gap_mm`.
    pub fn usual_name(&self) -> String {
        match self.unit {
            Unit::Mm => format!("{}_mm", self.name),
            Unit::Deg => format!("{}_deg", self.name),
            Unit::None => self.name.clone(),
        }
    }
    /// Whether a header names this column, and if so whether in inches.
    pub(super) fn named_by(&self, written: &str) -> Option<bool> {
        let suffix = written.strip_prefix(self.name.as_str())?;
        match (self.unit, suffix) {
            (Unit::Mm, "_mm") | (Unit::Deg, "_deg") | (Unit::None, "") => Some(false),
            (Unit::Mm, "_in") => Some(true),
            _ => None,
        }
    }
}

/// The columns of a kind of table. A slot is a place in this list; it stays the same however the
/// columns of a file are ordered.
///
/// A column is required unless `optional()` follows it.
///
/// ```
/// use notchpin::table::Columns;
/// let columns = Columns::new().text("feature").length("gap").optional().joints(6);
/// assert_eq!(columns.slot("gap"), 1);
/// assert_eq!(columns.slot("j6"), 7);
/// ```
#[derive(Debug, Clone, Default)]
pub struct Columns {
    list: Vec<Column>,
    /// How many columns the last call added.
    last: usize,
}

impl Columns {
    /// No columns yet.
    pub fn new() -> Self {
        Columns::default()
    }
    fn with(mut self, name: &str, unit: Unit) -> Self {
        assert!(
            self.list.iter().all(|c| c.name != name),
            "column {name} is listed twice"
        );
        self.list.push(Column {
            name: name.to_owned(),
            unit,
            required: true,
        });
        self.last = 1;
        self
    }
    /// A column of names or words.
    pub fn text(self, name: &str) -> Self {
        self.with(name, Unit::None)
    }
    /// A column of counts or of what a controller shows.
    pub fn number(self, name: &str) -> Self {
        self.with(name, Unit::None)
    }
    /// A column of lengths: `name_mm` or `name_in`.
    pub fn length(self, name: &str) -> Self {
        self.with(name, Unit::Mm)
    }
    /// A column of angles: `name_deg`.
    pub fn angle(self, name: &str) -> Self {
        self.with(name, Unit::Deg)
    }
    /// The columns `j1` to `jn`: what the controller shows for each joint, in neighbouring slots.
    pub fn joints(mut self, n: usize) -> Self {
        for joint in 1..=n {
            self = self.with(&format!("j{joint}"), Unit::None);
        }
        self.last = n;
        self
    }
    /// What every file of readings may have: `u` (uncertainty), `use`, `note`, and `step` (the step of
    /// the working sheet that it was written on).
    pub fn bookkeeping(mut self, unit: Unit) -> Self {
        self = self.with("u", unit).optional();
        self = self.text("use").optional();
        self = self.text("note").optional();
        self.text("step").optional()
    }
    /// A table may lack the column (or the joints) added last.
    pub fn optional(self) -> Self {
        self.mark_last(false)
    }
    /// Every table must have the column (or the joints) added last; this is so if nothing is said.
    pub fn required(self) -> Self {
        self.mark_last(true)
    }
    fn mark_last(mut self, required: bool) -> Self {
        let from = self.list.len() - self.last;
        for column in &mut self.list[from..] {
            column.required = required;
        }
        self
    }
    /// The slot of a column, by its name without suffix.
    ///
    /// # Panics
    /// If there is no such column: the list and the code that reads it do not agree.
    pub fn slot(&self, name: &str) -> usize {
        match self.list.iter().position(|c| c.name == name) {
            Some(slot) => slot,
            None => panic!("no column {name} among {:?}", self.list),
        }
    }
    /// All of them, in the order of their slots.
    pub fn list(&self) -> &[Column] {
        &self.list
    }
}
