//! Ties a small cell together (an arm on a linear track, a turntable, a perforated plate) from
//! readings made by hand at the bench: fits by least squares what single settings cannot know, says
//! how sure it is and which reading does not fit, and answers where the tip is and what it reaches.
//!
//! The floors, from the ground up; nothing imports upward:
//! [`units`], [`diagnose`] < [`drawing`], [`frames`] < [`cell`], [`table`] < [`kinematics`] <
//! [`clearance`], [`parameters`] < [`parts`], [`readings`], [`points`] < [`fit`], [`reach`] <
//! [`bench`](mod@bench), [`margins`] < [`causes`], [`proposals`], [`tasks`] < [`registration`] <
//! [`entry`], [`plan`], [`records`] < [`moves`], [`history`], [`sheet`], [`transfer`] < [`report`] <
//! [`answers`] < [`pictures`] < [`paper`], [`view`] < [`cli`].
//!
//! Millimetres and radians inside; degrees and inches at the edge. All frames are right-handed;
//! the plate's frame is the world, z up. The types keep frames apart, but they do not see time: a
//! pose that depends on axis readings is computed from them and never stored.
#![forbid(unsafe_code)]
pub mod answers;
pub mod bench;
pub mod causes;
pub mod cell;
pub mod clearance;
pub mod cli;
pub mod diagnose;
pub mod drawing;
pub mod entry;
pub mod fit;
pub mod frames;
pub mod history;
pub mod kinematics;
pub mod margins;
pub mod moves;
pub mod paper;
pub mod parameters;
pub mod parts;
pub mod pictures;
pub mod plan;
pub mod points;
pub mod proposals;
pub mod reach;
pub mod readings;
pub mod records;
pub mod registration;
pub mod report;
pub mod sheet;
pub mod table;
pub mod tasks;
pub mod transfer;
pub mod units;
pub mod view;
