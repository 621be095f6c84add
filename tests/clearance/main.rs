//! Clearances of the arm: against shapes worked by hand, and by laws.

mod by_hand;
mod laws;
mod shapes;
mod support;
