//! How does a stamp get to its place: beside a photograph, into a folder, into a copy? Never over anything
//! that trug did not write. Layer: `commands`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::names::Names;
use crate::commands::output;
use crate::error::{Error, Result};
use crate::model::SourceFile;
use crate::present::exif::{self, Unfit};
use crate::present::xmp::{self, Stamp};

/// Where stamps go.
pub(super) enum Target {
    /// XMP files beside the photographs.
    Beside,
    /// XMP files into a folder.
    Folder(PathBuf),
    /// Copies of the photographs into a folder.
    Copies(PathBuf),
}

/// What became of one.
pub(super) enum Outcome {
    Written,
    /// Copied as it is, with an XMP file beside it, and why.
    Beside(Error),
}

pub(super) fn write(
    target: &Target,
    names: &Names,
    photo: &SourceFile,
    stamp: &Stamp,
) -> Result<Outcome> {
    match target {
        Target::Beside => {
            if !photo.path.is_file() {
                return Err(Error::input(format!("{} is no longer there", photo.path.display()))
                    .because("an XMP file belongs beside its photograph")
                    .hint("name a folder for the files with --into"));
            }
            // the same name with another ending, as ISO 16684-1 has it
            packet(&photo.path.with_extension("xmp"), stamp)
        }
        Target::Folder(folder) => packet(&names.within(folder, photo, "xmp"), stamp),
        Target::Copies(folder) => copy(folder, names, photo, stamp),
    }
}

fn packet(path: &Path, stamp: &Stamp) -> Result<Outcome> {
    match fs::read_to_string(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Ok(there) if xmp::is_ours(&there) => {}
        Ok(_) => {
            return Err(Error::input(format!("{} was left alone", path.display()))
                .because("another program wrote it")
                .hint("put trug's files into another folder with --into"));
        }
        Err(error) => return Err(Error::file("read", path, &error)),
    }
    output::replace(path, xmp::packet(stamp).as_bytes())?;
    Ok(Outcome::Written)
}

fn copy(folder: &Path, names: &Names, photo: &SourceFile, stamp: &Stamp) -> Result<Outcome> {
    let ending = photo.path.extension().unwrap_or_default().to_string_lossy().into_owned();
    let path = names.within(folder, photo, &ending);
    if names.is_original(&path) {
        return Err(Error::input(format!("{} was left alone", path.display()))
            .because("it is a photograph that you imported, not a copy")
            .hint("name another folder for the copies"));
    }
    let bytes = fs::read(&photo.path).map_err(|error| Error::file("read", &photo.path, &error))?;
    let plain_tiff = matches!(ending.to_lowercase().as_str(), "tif" | "tiff");
    match exif::stamped(&bytes, stamp, plain_tiff) {
        Ok(stamped) => {
            put(&path, &stamped, exif::is_ours)?;
            Ok(Outcome::Written)
        }
        // a form that cannot be written can hold a position that cannot be seen
        Err(reason) if stamp.generalised.is_some() || reason == Unfit::Tells => Err(Error::input(format!("{} was not copied", photo.path.display()))
            .because(match reason {
                Unfit::Tells => "it holds an exact position already, so a coarse copy could not be vouched for".to_owned(),
                Unfit::Form(why) => format!("{why}, and whether it holds an exact position cannot be told"),
            })
            .hint("give exact positions with --coordinates, or take the position out with another program first")),
        Err(reason) => {
            put(&path, &bytes, |there| there == bytes)?;
            packet(&names.within(folder, photo, "xmp"), stamp)?;
            Ok(Outcome::Beside(
                Error::input(format!("{} was copied as it is, with an XMP file beside it", path.display()))
                    .because(match reason {
                        Unfit::Form(why) => why,
                        Unfit::Tells => "it holds a position already".to_owned(),
                    })
                    .hint("keep the two files together"),
            ))
        }
    }
}

/// Puts a copy in its place, unless something else is there.
fn put(path: &Path, bytes: &[u8], ours: impl FnOnce(&[u8]) -> bool) -> Result<()> {
    match fs::read(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => {}
        Ok(there) if ours(&there) => {}
        Ok(_) => {
            return Err(Error::input(format!("{} was left alone", path.display()))
                .because("it is no copy that trug made")
                .hint("name another folder for the copies"));
        }
        Err(error) => return Err(Error::file("read", path, &error)),
    }
    output::replace(path, bytes)
}
