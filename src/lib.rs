#![forbid(unsafe_code)]
pub mod cell;
pub mod cli;
pub mod diagnose;
pub mod fit;
pub mod frames;
pub mod kinematics;
pub mod parameters;
pub mod points;
pub mod reach;
pub mod readings;
pub mod records;
pub mod registration;
pub mod report;
pub mod table;
pub mod units;
