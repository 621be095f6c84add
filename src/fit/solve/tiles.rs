//! The Jacobian, stored for the factorisation that reads it.

/// Rows per tile are a multiple of this, so that no vector loop has a tail.
const LANES: usize = 8;

/// A tile and its residuals shall stay in the innermost cache.
const TILE_BYTES: usize = 24 * 1024;

/// A dense matrix cut into tiles of some tens of whole rows; each tile is column-major.
///
/// Writing a row touches one tile only, and the factorisation works through one tile at a time, so
/// neither leaves the innermost cache, however many rows there are. Rows past the last one are zero and stay zero.
#[derive(Clone, Debug, Default)]
pub struct Tiles {
    rows: usize,
    cols: usize,
    height: usize,
    data: Vec<f64>,
}

impl Tiles {
    /// A zero matrix.
    pub fn new(rows: usize, cols: usize) -> Self {
        let mut tiles = Tiles::default();
        tiles.resize(rows, cols);
        tiles
    }

    /// Makes this a zero matrix of another size; memory is kept.
    pub fn resize(&mut self, rows: usize, cols: usize) {
        let fitting = (TILE_BYTES / 8 / (cols + 1)).max(4 * LANES);
        let count = rows.div_ceil(fitting).max(1);
        self.rows = rows;
        self.cols = cols;
        self.height = rows.div_ceil(count).next_multiple_of(LANES).max(LANES);
        self.data.clear();
        self.data.resize(self.height * cols * self.count(), 0.0);
    }

    /// Number of rows.
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    pub fn cols(&self) -> usize {
        self.cols
    }

    /// Rows per tile, a multiple of eight; the last tile is filled up with zeros.
    pub fn height(&self) -> usize {
        self.height
    }

    /// Number of tiles.
    pub fn count(&self) -> usize {
        self.rows.div_ceil(self.height)
    }

    /// One tile, column after column, each of `height` values.
    pub fn tile(&self, index: usize) -> &[f64] {
        let size = self.height * self.cols;
        &self.data[index * size..(index + 1) * size]
    }

    fn place(&self, row: usize, col: usize) -> usize {
        assert!(
            row < self.rows && col < self.cols,
            "entry ({row}, {col}) of a {} x {} matrix",
            self.rows,
            self.cols
        );
        (row / self.height * self.cols + col) * self.height + row % self.height
    }

    /// One entry.
    pub fn get(&self, row: usize, col: usize) -> f64 {
        self.data[self.place(row, col)]
    }

    /// Writes one entry. Entries never written are zero, or what the previous evaluation left there.
    pub fn set(&mut self, row: usize, col: usize, value: f64) {
        let place = self.place(row, col);
        self.data[place] = value;
    }

    /// Writes a whole row; `values` has one entry per column.
    pub fn set_row(&mut self, row: usize, values: &[f64]) {
        assert!(
            row < self.rows && values.len() == self.cols,
            "row {row} of a {} x {} matrix",
            self.rows,
            self.cols
        );
        let start = row / self.height * self.cols * self.height + row % self.height;
        for (slot, value) in self.data[start..]
            .iter_mut()
            .step_by(self.height)
            .zip(values)
        {
            *slot = *value;
        }
    }

    /// Writes a whole row, as many entries as there are columns.
    #[inline(always)]
    pub fn fill_row(&mut self, row: usize, entries: impl Iterator<Item = f64>) {
        assert!(
            row < self.rows,
            "row {row} of a {} x {} matrix",
            self.rows,
            self.cols
        );
        let (tile, offset) = (row / self.height, row % self.height);
        let size = self.height * self.cols;
        let columns = self.data[tile * size..(tile + 1) * size].chunks_exact_mut(self.height);
        for (column, entry) in columns.zip(entries) {
            column[offset] = entry;
        }
    }

    /// Writes a row that is zero but for some entries (column, value).
    pub fn set_sparse_row(&mut self, row: usize, entries: &[(usize, f64)]) {
        if self.cols == 0 {
            return;
        }
        assert!(
            row < self.rows,
            "row {row} of a {} x {} matrix",
            self.rows,
            self.cols
        );
        let start = row / self.height * self.cols * self.height + row % self.height;
        for slot in self.data[start..]
            .iter_mut()
            .step_by(self.height)
            .take(self.cols)
        {
            *slot = 0.0;
        }
        for &(col, value) in entries {
            self.set(row, col, value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_written_is_read_back_at_every_size() {
        for (rows, cols) in [(1, 1), (7, 3), (150, 15), (161, 15), (5_032, 39), (3, 8)] {
            let mut tiles = Tiles::new(rows, cols);
            for row in 0..rows {
                let values: Vec<f64> = (0..cols)
                    .map(|col| (row * cols + col) as f64 + 1.0)
                    .collect();
                tiles.set_row(row, &values);
            }
            for row in 0..rows {
                for col in 0..cols {
                    assert_eq!(tiles.get(row, col), (row * cols + col) as f64 + 1.0);
                }
            }
            let written = tiles.data.iter().filter(|v| **v != 0.0).count();
            assert_eq!(written, rows * cols, "rows past the last stay zero");
            assert_eq!(tiles.height() % LANES, 0);
        }
    }

    #[test]
    fn a_sparse_row_forgets_what_was_there() {
        let mut tiles = Tiles::new(20, 3);
        tiles.set_row(17, &[1.0, 2.0, 3.0]);
        tiles.set_sparse_row(17, &[(1, 5.0)]);
        assert_eq!(
            [tiles.get(17, 0), tiles.get(17, 1), tiles.get(17, 2)],
            [0.0, 5.0, 0.0]
        );
    }

    #[test]
    #[should_panic(expected = "entry (2, 0) of a 2 x 2 matrix")]
    fn an_entry_outside_is_refused() {
        Tiles::new(2, 2).set(2, 0, 1.0);
    }
}
