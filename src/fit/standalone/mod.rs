//! Stand-alone fits.
