//! Writes a stamp beside a photograph, into a folder or into a copy, and never over a file that trug
//! did not write. Layer: `commands`.

use std::path::{Path, PathBuf};

use super::names::Names;
use crate::commands::output::{self, Overwrite, Target as OutputTarget};
use crate::error::{Error, Result, read_regular};
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

/// The result of one photograph.
pub(super) enum Outcome {
    Written,
    /// Copied unchanged with an XMP file beside it, and the reason.
    Beside(Error),
}

/// Where the files of one run go.
pub(super) struct Place<'a> {
    pub(super) target: &'a Target,
    pub(super) names: &'a Names,
    pub(super) replacing: Overwrite,
}

impl Place<'_> {
    pub(super) fn write(&self, photo: &SourceFile, stamp: &Stamp) -> Result<Outcome> {
        match self.target {
            Target::Beside => {
                if !photo.path.is_file() {
                    return Err(Error::input(format!("{} no longer exists", photo.path.display()))
                        .because("the XMP file must be beside its photograph")
                        .hint("name a folder for the files with --into"));
                }
                // the same name with another extension, as in ISO 16684-1
                self.packet(&photo.path.with_extension("xmp"), stamp)
            }
            Target::Folder(folder) => self.packet(&self.names.within(folder, photo, "xmp"), stamp),
            Target::Copies(folder) => self.copy(folder, photo, stamp),
        }
    }

    fn packet(&self, path: &Path, stamp: &Stamp) -> Result<Outcome> {
        let ours = |there: &[u8]| xmp::is_ours(&String::from_utf8_lossy(there));
        self.put(path, xmp::packet(stamp).as_bytes(), ours)?;
        Ok(Outcome::Written)
    }

    fn copy(&self, folder: &Path, photo: &SourceFile, stamp: &Stamp) -> Result<Outcome> {
        let ending = photo.path.extension().unwrap_or_default().to_string_lossy().into_owned();
        let path = self.names.within(folder, photo, &ending);
        if self.names.is_original(&path) {
            return Err(Error::input(format!("skipped {}", path.display()))
                .because("it is an imported original, not a copy")
                .hint("name another folder for the copies"));
        }
        let bytes =
            read_regular(&photo.path).map_err(|error| Error::file("read", &photo.path, &error))?;
        let plain_tiff = matches!(ending.to_lowercase().as_str(), "tif" | "tiff");
        match exif::stamped(&bytes, stamp, plain_tiff) {
        Ok(stamped) => {
            self.put(&path, &stamped, exif::is_ours)?;
            Ok(Outcome::Written)
        }
        // an unsupported format may contain an undetected position
        Err(reason) if stamp.generalised.is_some() || reason == Unfit::HasPosition => Err(Error::input(format!("{} was not copied", photo.path.display()))
            .because(match reason {
                Unfit::HasPosition => "it already contains an exact position, which a generalised copy would reveal".to_owned(),
                Unfit::Form(why) => format!("{why}, and it cannot be checked for an exact position"),
            })
            .hint("allow exact positions with --coordinates, or remove the position with another program first")),
        Err(reason) => {
            self.put(&path, &bytes, |_| false)?;
            self.packet(&self.names.within(folder, photo, "xmp"), stamp)?;
            Ok(Outcome::Beside(
                Error::input(format!("{} was copied unchanged, with an XMP file beside it", path.display()))
                    .because(match reason {
                        Unfit::Form(why) => why,
                        Unfit::HasPosition => "it already contains a position".to_owned(),
                    })
                    .hint("keep the two files together"),
            ))
        }
    }
    }

    /// Writes a file unless another program's file exists. A file with trug's mark that was changed since is
    /// replaced only with --overwrite.
    fn put(&self, path: &Path, bytes: &[u8], marked: impl FnOnce(&[u8]) -> bool) -> Result<()> {
        let refusal = match OutputTarget::of(path, Overwrite::default()) {
            Ok(target) => return output::write_at(target, bytes),
            Err(refusal) => refusal,
        };
        let Ok(there) = read_regular(path) else { return Err(refusal) };
        if there == bytes {
            return Ok(());
        }
        let marked = marked(&there);
        if marked && self.replacing.asked() {
            return output::write_at(OutputTarget::known(path)?, bytes);
        }
        let alone = Error::input(format!("skipped {}", path.display()));
        Err(if marked {
            alone.because("it was changed since trug wrote it, or it was written elsewhere").hint(
                "use --overwrite to replace it, or name another folder with --into or --copies",
            )
        } else {
            alone
                .because("another program wrote it")
                .hint("name another folder with --into or --copies")
        })
    }
}
