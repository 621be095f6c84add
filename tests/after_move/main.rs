//! After a move: rechecks, what moved, what is tied, against laws, simulation and batch solutions.

#[path = "../bench/mod.rs"]
mod bench;
mod carried;
mod made;
mod ranking;
mod simulated;
mod tied;
