//! Fitting: the least-squares solver, the stand-alone fits and the joint adjustment.
pub mod solve;
pub mod standalone;
