//! Where the tip is at a set of readings, and how surely.

use crate::answers::force::Force;
use crate::cell::Belongs;
use crate::points::tip_place;
use crate::readings::stand::Stand;
use crate::report::TipDocument;
use crate::report::TipFrame;

/// The tip in the plate's frame, and in the platter's where the table's reading is known.
pub fn tip(force: &Force, stand: &Stand, table_known: bool) -> TipDocument {
    let spread = force.spread();
    let frame = |belongs: Belongs| {
        let place = tip_place(&force.geometry, stand, belongs)?;
        let spread = spread.as_ref().map(|s| s.at(stand, belongs));
        Some(TipFrame::new(&place, spread.as_ref()))
    };
    TipDocument {
        plate: frame(Belongs::Plate),
        platter: table_known.then(|| frame(Belongs::Platter)).flatten(),
    }
}
