//! Whole commands as a user runs them: what they print, how they exit, what they leave behind.

#![allow(clippy::unwrap_used)]
