//! The way out against published rules of walking time and a general graph library.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small tables")]

mod graphs;
mod light;
mod rules;
