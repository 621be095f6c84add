//! What the page of `notchpin view` asks, and what it is told: values in, values out.
//!
//! A [`Ground`] holds what was read from the cell folder and may be shared between threads; a [`Session`]
//! stands on it, one for each thread, and has a function for every request. All kinematics, clearances and
//! uncertainties are those of the commands. Nothing here opens files, prints, or knows a network.

// Negated comparisons send NaN to the refusing side.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod ask;
mod circle;
mod drag;
mod face;
mod ground;
mod handles;
mod one;
pub mod page;
mod points;
mod save;
mod scene;
mod session;
mod state;
pub mod tell;
mod tip;

pub use ground::Ground;
pub use ground::TaskSteps;
pub use save::Row;
pub use save::SAVE_FILE;
pub use session::Session;
pub use session::parsed;
pub use session::written;

/// Why a request gets no answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// As of HTTP: 400 for what cannot be understood, 404 for what there is not, 409 for what is taken, 500 for what
    /// could not be worked out, 503 for what is to be asked again later.
    pub status: u16,
    /// A sentence: found, expected.
    pub why: String,
}

impl Refused {
    /// What cannot be understood or is out of all bounds.
    pub fn bad(why: String) -> Refused {
        Refused { status: 400, why }
    }
    /// What there is not.
    pub fn missing(why: String) -> Refused {
        Refused { status: 404, why }
    }
    /// What is taken.
    pub fn taken(why: String) -> Refused {
        Refused { status: 409, why }
    }
    /// What is to be asked again later.
    pub fn busy(why: String) -> Refused {
        Refused { status: 503, why }
    }
    /// What could not be worked out or written.
    pub fn failed(why: String) -> Refused {
        Refused { status: 500, why }
    }
}
