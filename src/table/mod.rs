//! CSV tables to typed rows.
