//! Which geometry a question is answered with, and how surely it is known.

use std::path::PathBuf;

use nalgebra::DMatrix;

use crate::cell::Cell;
use crate::cell::Geometry;
use crate::fit::spread::Spread;
use crate::parameters::Unknowns;
use crate::report::wrap;

/// The geometry in force, with its uncertainty if it comes from a record.
pub struct Force {
    /// Values of every parameter.
    pub geometry: Geometry,
    /// Unknowns and covariance of the record.
    pub sure: Option<(Unknowns, DMatrix<f64>)>,
    /// One line that says where it comes from.
    pub source: String,
    /// Verdict of the record.
    pub verdict: Option<String>,
    /// The record.
    pub record: Option<PathBuf>,
    /// That it does not hold any more, in a sentence without its end, where a recheck found so.
    pub doubt: Option<String>,
}

/// What a doubt means for whoever asks.
pub fn as_it_was(doubt: &str) -> String {
    format!("{doubt}: all this is as it was then. Do not drive by it; register what moved again.")
}

impl Force {
    /// The unknowns of the record, if there is one.
    pub fn unknowns(&self) -> Option<&Unknowns> {
        self.sure.as_ref().map(|(unknowns, _)| unknowns)
    }

    /// An answer in words with what must be known before it is used.
    pub fn headed(&self, text: String) -> String {
        match &self.doubt {
            Some(doubt) => format!("{}\n{text}", wrap("LOOK: ", 2, &as_it_was(doubt))),
            None => text,
        }
    }

    /// The uncertainty, if there is a record.
    pub fn spread(&self) -> Option<Spread<'_>> {
        let (unknowns, covariance) = self.sure.as_ref()?;
        Some(Spread::new(&self.geometry, unknowns, covariance))
    }

    /// A registration that was solved just now and is not kept.
    pub fn unkept(geometry: Geometry, sure: (Unknowns, DMatrix<f64>), verdict: &str) -> Force {
        Force {
            geometry,
            sure: Some(sure),
            source: "the readings as they are now; no record was kept".to_owned(),
            verdict: Some(verdict.to_owned()),
            record: None,
            doubt: None,
        }
    }

    /// The nominal values of the cell file.
    pub fn drawn(cell: &Cell) -> Force {
        Force {
            geometry: cell.nominal.clone(),
            sure: None,
            source: "the nominal values of cell.toml, as drawn; not registered".to_owned(),
            verdict: None,
            record: None,
            doubt: None,
        }
    }
}
