//! Byte offsets to lines and character columns.

use std::ops::Range;

/// Bytes between two remembered character counts.
const STEP: usize = 256;

/// Finds line and column of a byte offset, each the first being 1.
pub(super) struct Places<'a> {
    text: &'a str,
    line_starts: Vec<usize>,
    /// Characters before byte `k · STEP`.
    counts: Vec<usize>,
}

impl<'a> Places<'a> {
    /// Walks the text once.
    pub(super) fn new(text: &'a str) -> Self {
        let mut line_starts = vec![0];
        let mut counts = Vec::with_capacity(text.len() / STEP + 1);
        let mut count = 0;
        for (i, byte) in text.bytes().enumerate() {
            if i % STEP == 0 {
                counts.push(count);
            }
            count += usize::from(starts_a_character(byte));
            if byte == b'\n' {
                line_starts.push(i + 1);
            }
        }
        if text.len().is_multiple_of(STEP) {
            counts.push(count);
        }
        Places {
            text,
            line_starts,
            counts,
        }
    }

    /// Line of the byte at `offset`.
    pub(super) fn line(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset)
    }

    /// Line and column of the byte at `offset`.
    pub(super) fn find(&self, offset: usize) -> (usize, usize) {
        let offset = offset.min(self.text.len());
        let line = self.line(offset);
        let start = self.line_starts[line - 1];
        (line, self.characters(offset) - self.characters(start) + 1)
    }

    /// The text of the line that holds `offset`, without its end.
    pub(super) fn line_text(&self, offset: usize) -> &'a str {
        let line = self.line(offset.min(self.text.len()));
        let start = self.line_starts[line - 1];
        let end = self.line_starts.get(line).copied();
        self.text[start..end.unwrap_or(self.text.len())].trim_end_matches(['\r', '\n'])
    }

    /// Start of the line with the most dots: where keys nested too deeply stand.
    pub(super) fn deepest(&self) -> usize {
        let dots = |start: &&usize| self.line_text(**start).matches('.').count();
        self.line_starts
            .iter()
            .max_by_key(dots)
            .map_or(0, |start| *start)
    }

    /// The text of these bytes.
    pub(super) fn slice(&self, span: &Range<usize>) -> &'a str {
        self.text.get(span.clone()).unwrap_or_default()
    }

    fn characters(&self, offset: usize) -> usize {
        let known = offset / STEP;
        let rest = &self.text.as_bytes()[known * STEP..offset];
        self.counts[known] + rest.iter().filter(|b| starts_a_character(**b)).count()
    }
}

/// Whether a byte of UTF-8 is not a continuation.
fn starts_a_character(byte: u8) -> bool {
    byte & 0xC0 != 0x80
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let text = "a = 1\r\nß = \"äö\" # x\n\n";
        let places = Places::new(text);
        let hash = text.find('#').unwrap();
        assert_eq!(places.find(hash), (2, 10));
        assert_eq!(places.line_text(hash), "ß = \"äö\" # x");
        assert_eq!(places.find(text.len()), (4, 1));
        assert_eq!(Places::new("").find(0), (1, 1));
    }

    #[test]
    fn the_remembered_counts_agree_with_counting() {
        // 700 characters of two bytes on one line: columns by hand are offset / 2 + 1.
        for n in [127, 128, 129, 700] {
            let text = "é".repeat(n);
            let places = Places::new(&text);
            for k in 0..=n {
                assert_eq!(places.find(2 * k), (1, k + 1));
            }
        }
    }
}
