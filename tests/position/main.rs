//! Tests the position engine on simulated days with known truth.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    clippy::unwrap_used,
    reason = "a simulator of known sizes in a test"
)]

mod association;
mod calibration;
mod carried;
mod doubtful;
#[path = "../../sample-tracks/generate/exif.rs"]
mod exif;
mod gaps;
mod photo_track;
mod premises;
mod second;
mod set_between;
mod simulation;
mod trips;
mod withheld;
mod written;
