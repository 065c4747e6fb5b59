//! Files that trug makes: written whole or not at all, several of one command all or none, and never over
//! a file that trug did not write as it is now. Layer: `commands`.

mod receipts;
mod staged;
mod target;

use std::path::Path;

use clap::Args;

use crate::error::{Error, Result};
use crate::present::render;

pub(super) use staged::{Staged, Unfinished, place_all};
pub(super) use target::Target;

/// Whether files that are there already may be replaced.
#[derive(Clone, Copy, Debug, Default, Args)]
pub(super) struct Overwrite {
    /// Replace a file that is there already, even if trug did not write it or it was changed since.
    /// Photographs, tracks, field records and stores are never replaced.
    #[arg(long)]
    overwrite: bool,
}

impl Overwrite {
    pub(super) fn asked(self) -> bool {
        self.overwrite
    }
}

/// The files of one command: all are written beside their places before the first is put into its own.
#[derive(Debug, Default)]
pub(super) struct Outputs {
    overwrite: Overwrite,
    staged: Vec<Staged>,
}

impl Outputs {
    pub(super) fn new(overwrite: Overwrite) -> Self {
        Self { overwrite, staged: Vec::new() }
    }

    /// Writes the bytes beside their place.
    ///
    /// # Errors
    /// When the disk refuses, when something is in the place that trug did not write, or when the command
    /// has another file for that place.
    pub(super) fn write(&mut self, path: &Path, bytes: &[u8]) -> Result<()> {
        let staged = Unfinished::at(path, self.overwrite)?.whole(bytes)?;
        if self.staged.iter().any(|other| other.place() == staged.place()) {
            return Err(Error::input(format!("{} is named twice", path.display()))
                .because("two outputs of one command cannot use the same file")
                .hint("give each output its own file name"));
        }
        self.staged.push(staged);
        Ok(())
    }

    /// Writes a drawing in the form that the end of the path asks for: `.svg`, `.png` or `.pdf`.
    ///
    /// # Errors
    /// As [`Outputs::write`], and for another end.
    pub(super) fn picture(&mut self, path: &Path, svg: &str) -> Result<()> {
        let end = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        let title = path.file_stem().unwrap_or_default().to_string_lossy();
        match end.as_str() {
            "svg" => self.write(path, svg.as_bytes()),
            "png" => self.write(path, &render::png(svg, 200.0)?),
            "pdf" => self.write(path, &render::pdf(svg, &title)?),
            _ => Err(Error::input(format!("cannot draw into {}", path.display()))
                .because(format!("the image format \"{end}\" is not supported"))
                .hint("end the name with .svg, .png or .pdf")),
        }
    }

    /// Puts all files into their places, or none.
    ///
    /// # Errors
    /// When the disk refuses; what was in the places before is there again then.
    pub(super) fn place(self) -> Result<()> {
        place_all(self.staged)
    }
}

/// Writes the bytes to the path: into a file beside it first, then in one step into place.
///
/// # Errors
/// When the disk refuses, or when something is there that trug did not write.
pub(super) fn write(path: &Path, bytes: &[u8], overwrite: Overwrite) -> Result<()> {
    let mut outputs = Outputs::new(overwrite);
    outputs.write(path, bytes)?;
    outputs.place()
}

/// Writes the bytes at a place that was looked at.
///
/// # Errors
/// When the disk refuses.
pub(super) fn write_at(target: Target, bytes: &[u8]) -> Result<()> {
    place_all(vec![Unfinished::in_place_of(target)?.whole(bytes)?])
}

/// Writes a drawing in the form that the end of the path asks for: `.svg`, `.png` or `.pdf`.
///
/// # Errors
/// As [`fn@write`], and for another end.
pub(super) fn picture(path: &Path, svg: &str, overwrite: Overwrite) -> Result<()> {
    let mut outputs = Outputs::new(overwrite);
    outputs.picture(path, svg)?;
    outputs.place()
}

#[cfg(test)]
mod tests;
