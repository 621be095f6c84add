//! `notchpin view` as a child process, asked by raw bytes: what it answers, what it keeps out, what it
//! writes and that it writes nothing else.

#[path = "../sentences/mod.rs"]
mod sentences;

mod hostile;
mod moving;
mod page;
mod points;
mod saving;
mod served;
