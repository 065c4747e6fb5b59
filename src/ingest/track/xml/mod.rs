//! Reads XML as a stream in any encoding, damaged or not: valid tags go to an assembly of the format,
//! damage is counted. Memory is bounded whatever the file. Layer: `ingest`.

mod assemble;
mod encoding;
mod mending;
mod pull;
mod source;
mod tag;

pub(super) use assemble::Assemble;
pub(super) use pull::read;
pub(super) use source::Source;
pub(super) use tag::{attribute, first_local_name, line_of};
