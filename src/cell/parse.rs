//! `cell.toml` to [`Cell`].
use crate::cell::Cell;
use crate::diagnose::Problems;
/// Largest cell file that is read.
pub const MAX_CELL_BYTES: usize = 4 << 20;
/// Reads a cell.
pub fn parse(_file: &str, _text: &str, _problems: &mut Problems) -> Option<Cell> {
    None
}
