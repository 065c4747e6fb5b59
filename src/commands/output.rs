//! Writes output files: each completely or not at all, all files of one command or none, and never over
//! a file that trug did not write or that was changed since. Layer: `commands`.

mod inputs;
mod journal;
mod receipts;
mod session;
mod staged;
mod target;

use std::path::Path;

use clap::Args;

use super::without_effect::needs;
use crate::error::{Error, Result};
use crate::present::render;

pub(super) use receipts::Receipt;
pub(super) use session::{recover, remove_stale};
pub(super) use staged::{Staged, Unfinished, place_all};
pub(super) use target::Target;

/// Whether existing files may be replaced.
#[derive(Clone, Copy, Debug, Default, Args)]
pub(super) struct Overwrite {
    /// Replace an existing file even if trug did not write it or it was changed since.
    /// Photographs, tracks, field records, other inputs that trug reads, and stores are never replaced.
    #[arg(long)]
    overwrite: bool,
}

impl Overwrite {
    pub(super) fn asked(self) -> bool {
        self.overwrite
    }

    /// # Errors
    /// When --overwrite is given and the command writes no file.
    pub(super) fn needs_output(self, options: &str, any: bool) -> Result<()> {
        needs("--overwrite", self.overwrite, options, any)
    }
}

/// The files of one command: all are written to temporary files before the first is moved into place.
#[derive(Debug, Default)]
pub(super) struct Outputs {
    overwrite: Overwrite,
    staged: Vec<Staged>,
}

impl Outputs {
    pub(super) fn new(overwrite: Overwrite) -> Self {
        Self { overwrite, staged: Vec::new() }
    }

    /// Writes the bytes to a temporary file beside the target.
    ///
    /// # Errors
    /// When the disk reports an error, when the target exists and trug did not write it, or when the command
    /// has another file for the same target.
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

    /// Writes a drawing in the format of the file name extension: `.svg`, `.png` or `.pdf`.
    ///
    /// # Errors
    /// As [`Outputs::write`], and for another extension.
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

    /// Writes the pages of a drawing: one PDF, or a file for each page, the second named `NAME-2.svg`.
    ///
    /// # Errors
    /// As [`Outputs::picture`].
    pub(super) fn pictures(&mut self, path: &Path, pages: &[String]) -> Result<()> {
        let end = path.extension().unwrap_or_default().to_string_lossy().into_owned();
        let title = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        if end.eq_ignore_ascii_case("pdf") {
            return self.write(path, &render::pages(pages, &title)?);
        }
        for (place, page) in pages.iter().enumerate() {
            let name = if place == 0 {
                path.to_owned()
            } else {
                path.with_file_name(format!("{title}-{}.{end}", place + 1))
            };
            self.picture(&name, page)?;
        }
        Ok(())
    }

    /// Moves all files into place, or none.
    ///
    /// # Errors
    /// When the disk reports an error; the previous files are restored then.
    pub(super) fn place(self) -> Result<()> {
        place_all(self.staged)
    }
}

/// Writes the bytes to a temporary file and moves it into place in one step.
///
/// # Errors
/// When the disk reports an error, or when the file exists and trug did not write it.
pub(super) fn write(path: &Path, bytes: &[u8], overwrite: Overwrite) -> Result<()> {
    let mut outputs = Outputs::new(overwrite);
    outputs.write(path, bytes)?;
    outputs.place()
}

/// Writes a drawing in the format of the file name extension: `.svg`, `.png` or `.pdf`.
///
/// # Errors
/// As [`fn@write`], and for another extension.
pub(super) fn picture(path: &Path, svg: &str, overwrite: Overwrite) -> Result<()> {
    let mut outputs = Outputs::new(overwrite);
    outputs.picture(path, svg)?;
    outputs.place()
}

/// Writes the pages of a drawing.
///
/// # Errors
/// As [`fn@picture`].
pub(super) fn pictures(path: &Path, pages: &[String], overwrite: Overwrite) -> Result<()> {
    let mut outputs = Outputs::new(overwrite);
    outputs.pictures(path, pages)?;
    outputs.place()
}

#[cfg(test)]
mod tests;
