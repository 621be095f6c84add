//! Finds the columns of a table by its header.

use crate::diagnose::Problems;
use crate::diagnose::nearest;
use crate::table::Column;
use crate::table::Columns;
use crate::table::Slot;
use crate::table::Table;
use crate::table::Unit;
use crate::table::error;
use crate::table::excerpt;
use crate::table::misquotation;
use crate::table::scan::Cells;
use crate::table::scan::Scanner;
use crate::table::scan::place;

/// No kind of table comes near so many columns.
const MOST_COLUMNS: usize = 1000;

/// Suffixes that people write for a unit, whether this program knows them or not.
const SUFFIXES: [&str; 16] = [
    "mm",
    "in",
    "deg",
    "cm",
    "m",
    "um",
    "inch",
    "inches",
    "rad",
    "degrees",
    "degree",
    "mrad",
    "grad",
    "ft",
    "millimetres",
    "unit",
];

/// Reads the header and resolves every slot; `None` if the table cannot be read by it.
pub(super) fn read<'t>(
    file: &str,
    source: &'t str,
    columns: &Columns,
    problems: &mut Problems,
) -> Option<Table<'t>> {
    let mut scanner = Scanner::new(source, 0, 1);
    let mut cells = Cells::new(MOST_COLUMNS);
    let record = scanner.next_record(&mut cells);
    let width = record.map_or(0, |_| cells.count());
    let mut table = Table {
        file: file.to_owned(),
        source,
        body: scanner.position(),
        width,
        slots: columns.list().iter().map(|c| absent(c, width)).collect(),
        names: Vec::new(),
    };
    let Some(record) = record else {
        return Some(table);
    };
    if let Some(misquoted) = record.misquoted {
        problems.push(misquotation(file, source, &record, misquoted));
        return None;
    }
    if width > MOST_COLUMNS {
        let found = format!("{width} columns");
        let expected = format!("a header of at most {MOST_COLUMNS} columns");
        let advice = "the first line must name the columns".to_owned();
        let what = [found, expected, advice];
        problems.push(error(file, Some((record.line, 1)), None, what));
        return None;
    }
    let mut good = true;
    for index in 0..width {
        let written = cells.text(source, index).trim();
        table.names.push(written.to_owned());
        match resolve(written, index, columns, &mut table.slots, width) {
            Ok(()) => {}
            Err([expected, advice]) => {
                let at = first_byte(source, record.start, &cells, index);
                let (line, column) = place(source, record.start, record.line, at);
                let found = match written {
                    "" => "a column without a name".to_owned(),
                    name => format!("the column {}", excerpt(name)),
                };
                let field = (!written.is_empty()).then(|| excerpt(written));
                let what = [found, expected, advice];
                problems.push(error(file, Some((line, column)), field.as_deref(), what));
                good = false;
            }
        }
    }
    for (column, slot) in columns.list().iter().zip(&table.slots) {
        // A misspelt column was reported already; here it would be reported twice.
        if column.required && slot.index == width && good {
            let name = &slot.written;
            let what = [
                format!("no column {name}"),
                format!("a column {}", spellings(column)),
                format!("add the column {name} to the header and its cell to every row"),
            ];
            problems.push(error(file, Some((record.line, 1)), Some(name), what));
        }
    }
    let complete = |(c, s): (&Column, &Slot)| !c.required || s.index < width;
    let complete = columns.list().iter().zip(&table.slots).all(complete);
    (good && complete).then_some(table)
}

fn absent(column: &Column, width: usize) -> Slot {
    Slot {
        index: width,
        inches: false,
        written: column.usual_name(),
    }
}

/// Notes the column of the file that `written` names, or says what is expected and what to do.
fn resolve(
    written: &str,
    index: usize,
    columns: &Columns,
    slots: &mut [Slot],
    width: usize,
) -> Result<(), [String; 2]> {
    for (column, slot) in columns.list().iter().zip(slots) {
        let Some(inches) = column.named_by(written) else {
            continue;
        };
        if slot.index < width {
            let expected = format!("{} once", spellings(column));
            let advice = match slot.written == written {
                true => format!("remove one of the two columns {written}"),
                false => format!("keep either {} or {written}", slot.written),
            };
            return Err([expected, advice]);
        }
        *slot = Slot {
            index,
            inches,
            written: written.to_owned(),
        };
        return Ok(());
    }
    Err(unknown(written, columns, width))
}

/// What is expected instead of a column that no table of this kind has, and what to do.
fn unknown(written: &str, columns: &Columns, width: usize) -> [String; 2] {
    let list = columns.list();
    let all: Vec<String> = list.iter().map(Column::usual_name).collect();
    let expected = format!("columns among {}", all.join(", "));
    if written.is_empty() {
        let advice = "give the column a name, or remove the comma too many in every row";
        return [expected, advice.to_owned()];
    }
    for (separator, name) in [(';', "semicolons"), ('\t', "tabs")] {
        if width == 1 && list.len() > 1 && written.contains(separator) {
            let advice = format!(
                "this file separates its cells by {name}: save it with commas, decimals with a \
                 point"
            );
            return ["cells separated by commas".to_owned(), advice];
        }
    }
    let lower = written.to_lowercase().replace([' ', '-'], "_");
    let base = SUFFIXES
        .iter()
        .find_map(|s| lower.strip_suffix(s)?.strip_suffix('_'))
        .unwrap_or(&lower);
    let meant = list.iter().find(|c| c.name == lower);
    if let Some(column) = meant.or_else(|| list.iter().find(|c| c.name == base)) {
        let is = match column.unit {
            Unit::Mm => "is a length",
            Unit::Deg => "is an angle in degrees",
            Unit::None => "stands without a unit",
        };
        let advice = format!("{} {is}: write {}", column.name, spellings(column));
        return [spellings(column), advice];
    }
    let inches = list.iter().filter(|c| c.unit == Unit::Mm);
    let inches: Vec<String> = inches.map(|c| format!("{}_in", c.name)).collect();
    // A wrong letter must not turn millimetres into inches: usual names first.
    let usual = nearest(&lower, all.iter().map(String::as_str));
    match usual.or_else(|| nearest(&lower, inches.iter().map(String::as_str))) {
        Some(name) => [expected, format!("write {name} if that is what is meant")],
        None => [
            expected,
            "remove the column, or put its text under note".to_owned(),
        ],
    }
}

/// The names that a column may have in a header.
fn spellings(column: &Column) -> String {
    match column.unit {
        Unit::Mm => format!("{0}_mm or {0}_in", column.name),
        _ => column.usual_name(),
    }
}

/// First byte of a cell as it stands in the file, the quote and blanks before it included.
pub(super) fn first_byte(source: &str, record: usize, cells: &Cells, index: usize) -> usize {
    let bytes = source.as_bytes();
    let mut at = cells.get(index).start();
    if at > record && bytes[at - 1] == b'"' {
        at -= 1;
        while at > record && matches!(bytes[at - 1], b' ' | b'\t') {
            at -= 1;
        }
    }
    at
}
