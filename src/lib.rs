#![forbid(unsafe_code)]
pub mod cell;
pub mod diagnose;
pub mod fit;
pub mod frames;
pub mod kinematics;
pub mod parameters;
pub mod reach;
pub mod table;
pub mod units;
