#![forbid(unsafe_code)]
pub mod fit;
