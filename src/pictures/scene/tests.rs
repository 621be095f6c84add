//! Scenes of small cells.
