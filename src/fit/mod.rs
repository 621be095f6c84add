//! Fitting: the least-squares solver, the stand-alone fits and the joint adjustment.

pub mod adjust;
pub mod alone;
pub mod assess;
pub mod chi2;
pub mod identify;
pub mod quick;
pub mod repeats;
pub mod robust;
pub mod simulate;
pub mod solve;
pub mod spread;
pub mod standalone;
pub mod start;
