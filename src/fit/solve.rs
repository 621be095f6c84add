//! Damped least squares.
