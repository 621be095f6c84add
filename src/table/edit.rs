//! A table changed in place: one row, one column or one line, every other byte as it was.
//!
//! All of it works on bytes and gives new ones; a byte-order mark, comments, blank lines, line ends,
//! spacing and quoting of what is not changed stay.

use crate::table::scan::Cells;
use crate::table::scan::Record;
use crate::table::scan::Scanner;

const MARK: &[u8] = b"\xEF\xBB\xBF";
/// Cells of one record that are looked at; no table comes near.
const WIDTH: usize = 1000;

/// A byte-order mark, and the text after it.
fn split(bytes: &[u8]) -> Option<(&[u8], &str)> {
    let (mark, rest) = match bytes.strip_prefix(MARK) {
        Some(rest) => (MARK, rest),
        None => (&[][..], bytes),
    };
    Some((mark, std::str::from_utf8(rest).ok()?))
}

fn joined(mark: &[u8], parts: &[&str]) -> Vec<u8> {
    let mut all = mark.to_vec();
    for part in parts {
        all.extend_from_slice(part.as_bytes());
    }
    all
}

/// All records, the header among them.
fn records(source: &str) -> Vec<Record> {
    let mut scanner = Scanner::new(source, 0, 1);
    let mut cells = Cells::new(WIDTH);
    let mut found = Vec::new();
    while let Some(record) = scanner.next_record(&mut cells) {
        found.push(record);
    }
    found
}

/// Where the cells of a well-formed record stand, quotes and blanks included.
fn spans(source: &str, record: &Record) -> Vec<(usize, usize)> {
    let bytes = &source.as_bytes()[..record.end];
    let mut list = Vec::new();
    let mut from = record.start;
    loop {
        let mut at = from;
        while matches!(bytes.get(at), Some(b' ' | b'\t')) {
            at += 1;
        }
        if bytes.get(at) == Some(&b'"') {
            at += 1;
            while at < bytes.len() {
                match (bytes[at], bytes.get(at + 1)) {
                    (b'"', Some(b'"')) => at += 2,
                    (b'"', _) => break,
                    _ => at += 1,
                }
            }
        }
        while at < bytes.len() && bytes[at] != b',' {
            at += 1;
        }
        list.push((from, at));
        if at >= bytes.len() {
            return list;
        }
        from = at + 1;
    }
}

/// A text as it stands in a cell: in quotes where it needs them.
pub fn cell(text: &str) -> String {
    match text.contains([',', '"', '\n', '\r', '#']) || text.trim() != text {
        true => format!("\"{}\"", text.replace('"', "\"\"")),
        false => text.to_owned(),
    }
}

/// Texts as they stand in one line, commas between.
pub fn line_of<'t>(texts: impl IntoIterator<Item = &'t str>) -> String {
    let cells: Vec<String> = texts.into_iter().map(cell).collect();
    cells.join(",")
}

/// The texts of one line, blanks around them taken off; `None` where its quotes do not match.
pub fn texts_of(line: &str) -> Option<Vec<String>> {
    let mut cells = Cells::new(WIDTH);
    let record = Scanner::new(line, 0, 1).next_record(&mut cells)?;
    let all = 0..cells.count().min(WIDTH);
    record
        .misquoted
        .is_none()
        .then(|| all.map(|i| cells.text(line, i).trim().to_owned()).collect())
}

/// The names of the columns, as the header has them; `None` where there is no header.
pub fn header(bytes: &[u8]) -> Option<Vec<String>> {
    let (_, source) = split(bytes)?;
    let record = records(source).into_iter().next()?;
    texts_of(&source[record.start..record.end])
}

/// Puts texts into cells (by their places from 0) of the row that begins on a physical line. Blanks
/// around a cell stay, unless it needs quotes now. `None` where no well-formed row with such cells begins there.
pub fn set_cells(bytes: &[u8], line: usize, changes: &[(usize, &str)]) -> Option<Vec<u8>> {
    let (mark, source) = split(bytes)?;
    let record = records(source).into_iter().find(|r| r.line == line)?;
    if record.misquoted.is_some() {
        return None;
    }
    let spans = spans(source, &record);
    let mut out = source[..record.start].to_owned();
    for (index, (from, to)) in spans.iter().enumerate() {
        if index > 0 {
            out.push(',');
        }
        let old = &source[*from..*to];
        match changes.iter().rev().find(|(i, _)| *i == index) {
            None => out.push_str(old),
            Some((_, text)) => {
                let blank = [' ', '\t'];
                let body = old.trim_start_matches(blank);
                let new = cell(text);
                // Not every reader takes blanks beside quotes.
                let kept = !new.starts_with('"');
                if kept {
                    out.push_str(&old[..old.len() - body.len()]);
                }
                out.push_str(&new);
                if kept {
                    out.push_str(&body[body.trim_end_matches(blank).len()..]);
                }
            }
        }
    }
    out.push_str(&source[record.end..]);
    let there = changes.iter().all(|(i, _)| *i < spans.len());
    there.then(|| joined(mark, &[&out]))
}

/// Adds columns behind the last one, their cells empty in every row. `None` where there is no header.
pub fn add_columns(bytes: &[u8], names: &[&str]) -> Option<Vec<u8>> {
    let (mark, source) = split(bytes)?;
    let records = records(source);
    records.first()?;
    let mut out = String::with_capacity(source.len() + 64);
    let mut from = 0;
    for (k, record) in records.iter().enumerate() {
        out.push_str(&source[from..record.end]);
        from = record.end;
        let text = &source[record.start..record.end];
        // A row of nothing but commas is none, whatever its width.
        let nothing = text.split(',').all(|c| c.trim().is_empty());
        for name in names.iter().filter(|_| k == 0 || !nothing) {
            out.push(',');
            if k == 0 {
                out.push_str(&cell(name));
            }
        }
    }
    out.push_str(&source[from..]);
    Some(joined(mark, &[&out]))
}

/// The line end that a text uses; that of most systems where it has none.
fn line_end(source: &str) -> &'static str {
    match source.find(['\r', '\n']) {
        Some(at) if source[at..].starts_with("\r\n") => "\r\n",
        Some(at) if source[at..].starts_with('\r') => "\r",
        _ => "\n",
    }
}

/// Adds a line at the end; a text without a line end at its end has none there afterwards.
pub fn append_line(bytes: &[u8], line: &str) -> Option<Vec<u8>> {
    let (mark, source) = split(bytes)?;
    let end = line_end(source);
    Some(match source.is_empty() || source.ends_with(['\r', '\n']) {
        true => joined(mark, &[source, line, end]),
        false => joined(mark, &[source, end, line]),
    })
}

/// Where each physical line begins, and ends without its line end.
fn lines(source: &str) -> Vec<(usize, usize)> {
    let mut list = Vec::new();
    let mut from = 0;
    while let Some(at) = source[from..].find(['\r', '\n']) {
        let at = from + at;
        list.push((from, at));
        from = at + 1 + usize::from(source[at..].starts_with("\r\n"));
    }
    list.push((from, source.len()));
    list
}

/// Writes another text in the place of a physical line; its line end stays.
pub fn replace_line(bytes: &[u8], line: usize, text: &str) -> Option<Vec<u8>> {
    let (mark, source) = split(bytes)?;
    let (from, to) = *lines(source).get(line.checked_sub(1)?)?;
    Some(joined(mark, &[&source[..from], text, &source[to..]]))
}

/// The comments, with their physical lines.
pub fn comments(bytes: &[u8]) -> Vec<(usize, &str)> {
    let Some((_, source)) = split(bytes) else {
        return Vec::new();
    };
    let records = records(source);
    let inside = |at: usize| {
        let after = records.partition_point(|r| r.start <= at);
        after > 0 && at < records[after - 1].end
    };
    let numbered = lines(source).into_iter().enumerate();
    numbered
        .filter(|(_, (from, _))| source[*from..].starts_with('#') && !inside(*from))
        .map(|(k, (from, to))| (k + 1, &source[from..to]))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(bytes: Option<Vec<u8>>) -> String {
        String::from_utf8(bytes.unwrap()).unwrap()
    }

    #[test]
    fn a_cell_is_changed_and_nothing_else() {
        let old = "\u{FEFF}# a, \"b\r\nmark , gap_mm,note\r\n left ,\t1.5 ,\"a, \"\"b\"\"\nc\"\r\n\r\nright,,x";
        let new = text(set_cells(old.as_bytes(), 3, &[(1, "2.5")]));
        assert_eq!(new, old.replace("\t1.5 ,", "\t2.5 ,"));
        let new = text(set_cells(old.as_bytes(), 6, &[(1, "3"), (2, "x, #1")]));
        assert_eq!(new, old.replace("right,,x", "right,3,\"x, #1\""));
        assert_eq!(set_cells(old.as_bytes(), 4, &[(0, "1")]), None);
        assert_eq!(set_cells(old.as_bytes(), 6, &[(3, "1")]), None);
        assert_eq!(
            header(old.as_bytes()).unwrap(),
            ["mark", "gap_mm", "note"].map(str::to_owned)
        );
    }

    #[test]
    fn a_column_is_added_behind_the_last() {
        let old = "# c\na,b\n1,\"x\ny\"\n\n,\n2,3";
        let new = text(add_columns(old.as_bytes(), &["use", "note"]));
        assert_eq!(new, "# c\na,b,use,note\n1,\"x\ny\",,\n\n,\n2,3,,");
        assert_eq!(add_columns(b"# nothing\n", &["use"]), None);
    }

    #[test]
    fn lines_are_added_in_the_manner_of_the_file() {
        assert_eq!(text(append_line(b"a\r\n1\r\n", "2")), "a\r\n1\r\n2\r\n");
        assert_eq!(text(append_line(b"a\r\n1", "2")), "a\r\n1\r\n2");
        assert_eq!(text(append_line(b"", "a")), "a\n");
        assert_eq!(text(replace_line(b"a\r\n#1\r\nb", 2, "2")), "a\r\n2\r\nb");
        assert_eq!(replace_line(b"a\n", 3, "2"), None);
    }

    #[test]
    fn a_comment_is_no_line_of_a_note() {
        let old = b"# one\na,note\n1,\"x\n# two\"\n# three\n";
        assert_eq!(comments(old), [(1, "# one"), (5, "# three")]);
    }
}
