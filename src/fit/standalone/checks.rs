//! Checks of what goes into a fit, shared by all of them.

use std::fmt;

/// What is wrong with the numbers handed to a fit. Rows count from 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum InputError {
    /// Fewer rows with a weight above zero than the fit has unknowns to settle.
    TooFew {
        what: &'static str,
        found: usize,
        needed: usize,
    },
    /// Two lists that must run side by side do not.
    LengthsDiffer {
        what: &'static str,
        found: usize,
        expected: usize,
    },
    /// A number is infinite or not a number.
    NotFinite {
        what: &'static str,
        row: usize,
        value: f64,
    },
    /// A weight is negative, infinite or not a number.
    Weight { row: usize, value: f64 },
    /// Finite numbers went in, but their squares leave the range of double precision.
    OutOfRange { what: &'static str },
}

impl fmt::Display for InputError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            InputError::TooFew {
                what,
                found,
                needed,
            } => {
                write!(
                    f,
                    "found {found} {what} with a weight above zero, at least {needed} are needed"
                )
            }
            InputError::LengthsDiffer {
                what,
                found,
                expected,
            } => {
                write!(
                    f,
                    "found {found} {what} for {expected} rows, there must be one for each row"
                )
            }
            InputError::NotFinite { what, row, value } => {
                write!(
                    f,
                    "{what} in row {row} is {value}, a finite number is needed"
                )
            }
            InputError::Weight { row, value } => {
                write!(
                    f,
                    "the weight of row {row} is {value}, zero or a finite positive number is needed"
                )
            }
            InputError::OutOfRange { what } => {
                write!(
                    f,
                    "{what} is too large or too small to compute with; give the readings in a nearer unit"
                )
            }
        }
    }
}

impl std::error::Error for InputError {}

/// Refuses the first value that is not finite.
///
/// # Errors
/// [`InputError::NotFinite`] with the row and the value.
pub fn finite(what: &'static str, values: impl IntoIterator<Item = f64>) -> Result<(), InputError> {
    for (row, value) in values.into_iter().enumerate() {
        if !value.is_finite() {
            return Err(InputError::NotFinite { what, row, value });
        }
    }
    Ok(())
}

/// Refuses weights that are negative or not finite, and lists of another length than `rows`. Gives the number of
/// rows that take part, which is `rows` where no weights are given.
///
/// # Errors
/// [`InputError::LengthsDiffer`] or [`InputError::Weight`].
pub fn weights(weights: Option<&[f64]>, rows: usize) -> Result<usize, InputError> {
    let Some(weights) = weights else {
        return Ok(rows);
    };
    if weights.len() != rows {
        return Err(InputError::LengthsDiffer {
            what: "weights",
            found: weights.len(),
            expected: rows,
        });
    }
    let mut used = 0;
    for (row, &value) in weights.iter().enumerate() {
        if !(value >= 0.0 && value.is_finite()) {
            return Err(InputError::Weight { row, value });
        }
        used += usize::from(value > 0.0);
    }
    Ok(used)
}

/// Refuses fewer than `needed` rows.
///
/// # Errors
/// [`InputError::TooFew`].
pub fn enough(what: &'static str, found: usize, needed: usize) -> Result<(), InputError> {
    if found < needed {
        Err(InputError::TooFew {
            what,
            found,
            needed,
        })
    } else {
        Ok(())
    }
}

/// Refuses a result that overflowed.
///
/// # Errors
/// [`InputError::OutOfRange`].
pub fn in_range(
    what: &'static str,
    values: impl IntoIterator<Item = f64>,
) -> Result<(), InputError> {
    if values.into_iter().all(f64::is_finite) {
        Ok(())
    } else {
        Err(InputError::OutOfRange { what })
    }
}
