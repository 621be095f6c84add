//! Which points the tool attains, from where, in which posture, with what margin.
