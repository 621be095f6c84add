//! What is tied against batch solutions of old and new readings together.
