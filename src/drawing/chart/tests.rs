//! Charts at both widths, with what is hard.
