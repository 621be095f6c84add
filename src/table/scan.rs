//! Splits CSV text (RFC 4180) into records and cells, counting physical lines.
//!
//! The marks of the format (comma, quote, line feed, carriage return) are found 64 bytes at a
//! time as a bit mask, so that the work per cell does not depend on its length. All offsets are
//! bytes into the text and fit `u32`, with the top bit free: see `MAX_TABLE_BYTES`.

use wide::u8x16;

/// Set in `Cell::end` when the text of the cell holds doubled quotes and was rewritten.
const REWRITTEN: u32 = 1 << 31;

/// Where the text of a cell stands, without its quotes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Cell {
    start: u32,
    end: u32,
}

/// The cell of a column that the file does not have.
const ABSENT: Cell = Cell { start: 0, end: 0 };

impl Cell {
    fn new(start: usize, end: usize) -> Self {
        Cell {
            start: start as u32,
            end: end as u32,
        }
    }
    /// First byte of the text.
    #[inline]
    pub(super) fn start(self) -> usize {
        self.start as usize
    }
    /// One past the last byte; beyond every text for a rewritten cell.
    #[inline]
    pub(super) fn end(self) -> usize {
        self.end as usize
    }
}

/// The cells of one record. Reused from record to record.
#[derive(Debug)]
pub(super) struct Cells {
    list: Vec<Cell>,
    width: usize,
    count: usize,
    surplus_at: usize,
    rewritten: Vec<(u32, String)>,
}

impl Cells {
    /// Room for `width` cells; more are counted, not kept. Index `width` is an absent cell.
    pub(super) fn new(width: usize) -> Self {
        Cells {
            list: vec![ABSENT; width + 1],
            width,
            count: 0,
            surplus_at: 0,
            rewritten: Vec::new(),
        }
    }
    fn clear(&mut self) {
        self.count = 0;
        if !self.rewritten.is_empty() {
            self.rewritten.clear();
        }
    }
    #[inline]
    fn push(&mut self, cell: Cell) {
        if self.count < self.width {
            self.list[self.count] = cell;
        } else if self.count == self.width {
            self.surplus_at = cell.start();
        }
        self.count += 1;
    }
    /// How many cells the record has, those not kept included.
    pub(super) fn count(&self) -> usize {
        self.count
    }
    /// Where the first cell that was not kept starts.
    pub(super) fn surplus_at(&self) -> usize {
        self.surplus_at
    }
    #[inline]
    pub(super) fn get(&self, index: usize) -> Cell {
        self.list[index]
    }
    /// The text of a cell, without quotes, not trimmed.
    pub(super) fn text<'r>(&'r self, source: &'r str, index: usize) -> &'r str {
        let cell = self.list[index];
        if cell.end & REWRITTEN == 0 {
            return &source[cell.start()..cell.end()];
        }
        self.rewritten
            .iter()
            .find(|(start, _)| *start == cell.start)
            .map_or("", |(_, text)| text)
    }
    /// Whether no kept cell holds anything but blanks.
    pub(super) fn all_blank(&self, source: &str) -> bool {
        (0..self.count.min(self.width)).all(|i| self.text(source, i).trim().is_empty())
    }
}

/// Finds the marks of the format, in order.
#[derive(Debug)]
struct Marks<'a> {
    bytes: &'a [u8],
    base: usize,
    mask: u64,
}

impl<'a> Marks<'a> {
    fn new(bytes: &'a [u8], base: usize) -> Self {
        let mask = mask_at(bytes, base);
        Marks { bytes, base, mask }
    }
    /// The next mark, or the length of the text if there is none.
    #[inline]
    fn next(&mut self) -> usize {
        while self.mask == 0 {
            if self.bytes.len() <= self.base + 64 {
                return self.bytes.len();
            }
            self.base += 64;
            self.mask = mask_at(self.bytes, self.base);
        }
        let at = self.base + self.mask.trailing_zeros() as usize;
        self.mask &= self.mask - 1;
        at
    }
}

/// Bit k is set where byte `base + k` is a mark.
#[inline]
fn mask_at(bytes: &[u8], base: usize) -> u64 {
    match bytes.get(base..).and_then(<[u8]>::first_chunk::<64>) {
        Some(block) => mask_of(block),
        None => {
            let rest = bytes.get(base..).unwrap_or_default();
            let mut block = [0; 64];
            block[..rest.len()].copy_from_slice(rest);
            mask_of(&block)
        }
    }
}

#[inline]
fn mask_of(block: &[u8; 64]) -> u64 {
    let mut mask = 0;
    for (i, part) in block.as_chunks::<16>().0.iter().enumerate() {
        let part = u8x16::new(*part);
        let is = |byte: u8| part.cmp_eq(u8x16::splat(byte));
        let hits = is(b',') | is(b'"') | is(b'\n') | is(b'\r');
        mask |= u64::from(hits.move_mask() as u16) << (16 * i);
    }
    mask
}

/// Quotes that do not match.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Misquoted {
    /// The quote opened here is never closed.
    Unclosed(usize),
    /// A quoted cell goes on here after its closing quote.
    TextAfter(usize),
}

/// One record: where it stands and whether its quotes match.
#[derive(Debug, Clone, Copy)]
pub(super) struct Record {
    /// First byte.
    pub(super) start: usize,
    /// One past the last byte, line end excluded.
    pub(super) end: usize,
    /// Physical line of its first byte.
    pub(super) line: usize,
    /// What is wrong with its quotes.
    pub(super) misquoted: Option<Misquoted>,
}

/// Walks through the records of a text.
#[derive(Debug)]
pub(super) struct Scanner<'a> {
    source: &'a str,
    bytes: &'a [u8],
    marks: Marks<'a>,
    at: usize,
    line: usize,
}

impl<'a> Scanner<'a> {
    /// Starts at byte `at`, which begins physical line `line`.
    pub(super) fn new(source: &'a str, at: usize, line: usize) -> Self {
        let bytes = source.as_bytes();
        Scanner {
            source,
            bytes,
            marks: Marks::new(bytes, at),
            at,
            line,
        }
    }
    /// Where the next record starts, and its line.
    pub(super) fn position(&self) -> (usize, usize) {
        (self.at, self.line)
    }

    /// Fills `cells` with the next record that is neither a comment nor a blank line.
    #[inline]
    pub(super) fn next_record(&mut self, cells: &mut Cells) -> Option<Record> {
        while let Some(&first) = self.bytes.get(self.at) {
            let (start, line) = (self.at, self.line);
            if first == b'#' {
                self.skip_line();
                continue;
            }
            cells.clear();
            let mut misquoted = None;
            let mut from = start;
            let end = loop {
                let at = self.marks.next();
                match self.bytes.get(at) {
                    Some(b',') => {
                        cells.push(Cell::new(from, at));
                        from = at + 1;
                    }
                    Some(b'"') => {
                        if !is_blank(&self.bytes[from..at]) {
                            continue; // a quote inside bare text is text
                        }
                        let (stop, fault) = self.quoted(at, cells);
                        misquoted = misquoted.or(fault);
                        if self.bytes.get(stop) != Some(&b',') {
                            self.end_line(stop);
                            break stop;
                        }
                        from = stop + 1;
                    }
                    _ => {
                        cells.push(Cell::new(from, at));
                        self.end_line(at);
                        break at;
                    }
                }
            };
            if cells.count == 1 && misquoted.is_none() && cells.all_blank(self.source) {
                continue;
            }
            return Some(Record {
                start,
                end,
                line,
                misquoted,
            });
        }
        None
    }

    /// Steps over the line end that stands at `at`, or stops at the end of the text.
    #[inline]
    fn end_line(&mut self, at: usize) {
        self.at = self.after_line_end(at);
        self.line += 1;
    }

    /// One past the line end at `at`, whose first byte was already taken from the marks.
    #[inline]
    fn after_line_end(&mut self, at: usize) -> usize {
        if self.bytes.get(at) == Some(&b'\r') && self.bytes.get(at + 1) == Some(&b'\n') {
            self.marks.next();
            return at + 2;
        }
        (at + 1).min(self.bytes.len())
    }

    fn skip_line(&mut self) {
        let end = self.next_line_end();
        self.end_line(end);
    }

    /// The next carriage return or line feed, or the end of the text.
    fn next_line_end(&mut self) -> usize {
        loop {
            let at = self.marks.next();
            if !matches!(self.bytes.get(at), Some(b',' | b'"')) {
                return at;
            }
        }
    }

    /// Reads the cell whose quote opens at `open`; gives the comma or line end that follows.
    fn quoted(&mut self, open: usize, cells: &mut Cells) -> (usize, Option<Misquoted>) {
        let mut doubled = false;
        let close = loop {
            let at = self.marks.next();
            match self.bytes.get(at) {
                Some(b'"') if self.bytes.get(at + 1) == Some(&b'"') => {
                    self.marks.next();
                    doubled = true;
                }
                Some(b'"') => break at,
                Some(b',') => {}
                Some(_) => {
                    self.after_line_end(at);
                    self.line += 1;
                }
                None => {
                    cells.push(Cell::new(open + 1, at));
                    return (at, Some(Misquoted::Unclosed(open)));
                }
            }
        };
        let mut cell = Cell::new(open + 1, close);
        if doubled {
            let text = self.source[open + 1..close].replace("\"\"", "\"");
            cells.rewritten.push((cell.start, text));
            cell.end |= REWRITTEN;
        }
        cells.push(cell);
        let stop = self.marks.next();
        let between = &self.bytes[close + 1..stop];
        if is_blank(between) && self.bytes.get(stop) != Some(&b'"') {
            return (stop, None);
        }
        let blanks = between
            .iter()
            .take_while(|b| matches!(b, b' ' | b'\t'))
            .count();
        let stop = match self.bytes.get(stop) {
            Some(b',' | b'"') => self.next_line_end(),
            _ => stop,
        };
        (stop, Some(Misquoted::TextAfter(close + 1 + blanks)))
    }
}

fn is_blank(bytes: &[u8]) -> bool {
    bytes.iter().all(|b| matches!(b, b' ' | b'\t'))
}

/// Physical line (the first being 1) and character (the first being 1) of byte `at`, found by
/// walking from byte `from`, which begins line `line`.
pub(super) fn place(source: &str, from: usize, line: usize, at: usize) -> (usize, usize) {
    let (mut line, mut begin) = (line, from);
    let bytes = &source.as_bytes()[..at];
    for (i, byte) in bytes.iter().enumerate().skip(from) {
        let lone_return = *byte == b'\r' && source.as_bytes().get(i + 1) != Some(&b'\n');
        if *byte == b'\n' || lone_return {
            line += 1;
            begin = i + 1;
        }
    }
    (line, source[begin..at].chars().count() + 1)
}

#[cfg(test)]
mod tests;
