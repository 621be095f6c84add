//! The demo cells, generated in memory. `cell.toml` and `README.md` of each are written by hand;
//! readings, points and true values come from here.

mod glaze_line;
mod glazing;
mod glazing_arm;
mod inch_rows;
mod lab;
mod random;
mod read_twice;
mod sheet;
mod shifted;
mod six_joint;
mod slips;

use std::path::Path;

pub use lab::Demo;
#[allow(unused_imports)]
pub use lab::Slip;

/// The glazing bench with other noise.
#[allow(dead_code)]
pub fn glazing_bench(root: &Path, seed: u64) -> Demo {
    glazing::make_from(root, seed)
}

/// All demo cells; `root` is the folder of the package.
pub fn all(root: &Path) -> Vec<Demo> {
    vec![
        glazing::make(root),
        inch_rows::make(root),
        six_joint::make(root),
        slips::make(root),
        slips::make_undetermined(root),
        read_twice::make(root),
        glaze_line::make(root),
        shifted::make(root),
    ]
}
