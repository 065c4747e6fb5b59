//! Prepares the stamp of a photograph beside it, in a folder or in a copy, and never over a file that trug
//! did not write. Nothing is in place until all photographs are done. Layer: `commands`.

use std::path::{Path, PathBuf};

use super::names::{self, Names};
use super::stale::StaleCopy;
use crate::commands::output::{Overwrite, Staged, Target as OutputTarget, Unfinished};
use crate::error::{Error, read_regular};
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

/// The files of one photograph, not yet in place.
#[derive(Default)]
pub(super) struct Prepared {
    /// Those that change; a file that is already there unchanged is not written again.
    pub(super) files: Vec<Staged>,
    /// Copied unchanged with an XMP file beside it, and the reason.
    pub(super) beside: Option<Error>,
}

/// Why a photograph has no files.
pub(super) enum Refusal {
    /// The photograph cannot be stamped.
    Photograph(Error),
    /// Another program's file is in the way.
    Occupied(Error),
    /// The disk or the folder refuses; the whole command fails.
    Disk(Error),
}

type Attempt<T> = std::result::Result<T, Refusal>;

/// Where the files of one run go.
pub(super) struct Place<'a> {
    pub(super) target: &'a Target,
    pub(super) names: &'a Names,
    pub(super) replacing: Overwrite,
}

impl Place<'_> {
    pub(super) fn prepare(&self, photo: &SourceFile, stamp: &Stamp) -> Attempt<Prepared> {
        match self.target {
            Target::Beside => {
                if !photo.path.is_file() {
                    let gone = Error::input(format!("{} no longer exists", photo.path.display()))
                        .because("the XMP file must be beside its photograph")
                        .hint("name a folder for the files with --into");
                    return Err(Refusal::Photograph(gone));
                }
                // the same name with another extension, as in ISO 16684-1
                self.packet(&photo.path.with_extension("xmp"), stamp)
            }
            Target::Folder(folder) => self.packet(&self.names.within(folder, photo, "xmp"), stamp),
            Target::Copies(folder) => self.copy(folder, photo, stamp),
        }
    }

    /// The copies that earlier runs made of a photograph that is withheld now; where several folders have a photograph
    /// of that name, one without the start of its hash may be of either.
    pub(super) fn earlier_copies(&self, photo: &SourceFile) -> Vec<StaleCopy> {
        let Target::Copies(folder) = self.target else { return Vec::new() };
        let ending = photo.path.extension().unwrap_or_default().to_string_lossy().into_owned();
        let names = names::possible(folder, photo, &ending);
        let there = |path: &PathBuf| path.exists() && !self.names.is_original(path);
        let stale = |copy| StaleCopy { photo: photo.path.clone(), copy };
        names.into_iter().filter(there).map(stale).collect()
    }

    fn packet(&self, path: &Path, stamp: &Stamp) -> Attempt<Prepared> {
        let ours = |there: &[u8]| xmp::is_ours(&String::from_utf8_lossy(there));
        let file = self.put(path, xmp::packet(stamp).as_bytes(), ours)?;
        Ok(Prepared { files: file.into_iter().collect(), beside: None })
    }

    fn copy(&self, folder: &Path, photo: &SourceFile, stamp: &Stamp) -> Attempt<Prepared> {
        let ending = photo.path.extension().unwrap_or_default().to_string_lossy().into_owned();
        let path = self.names.within(folder, photo, &ending);
        if self.names.is_original(&path) {
            let original = Error::input(format!("will not overwrite {}", path.display()))
                .because("it is an imported original, not a copy")
                .hint("name another folder for the copies");
            return Err(Refusal::Occupied(original));
        }
        let bytes = read_regular(&photo.path)
            .map_err(|error| Refusal::Photograph(Error::file("read", &photo.path, &error)))?;
        let plain_tiff = matches!(ending.to_lowercase().as_str(), "tif" | "tiff");
        match exif::stamped(&bytes, stamp, plain_tiff) {
            Ok(stamped) => {
                let file = self.put(&path, &stamped, exif::is_ours)?;
                Ok(Prepared { files: file.into_iter().collect(), beside: None })
            }
            // an unsupported format may contain an undetected position
            Err(reason) if stamp.generalised.is_some() || reason == Unfit::HasPosition => {
                Err(Refusal::Photograph(not_copied(photo, reason)))
            }
            Err(reason) => {
                let mut prepared = self.packet(&self.names.within(folder, photo, "xmp"), stamp)?;
                prepared.files.extend(self.put(&path, &bytes, |_| false)?);
                prepared.beside = Some(copied_unchanged(&path, reason));
                Ok(prepared)
            }
        }
    }

    /// Prepares a file unless another program's file exists; `None` where it exists unchanged. A file with
    /// trug's mark that was changed since is replaced only with --overwrite.
    fn put(
        &self,
        path: &Path,
        bytes: &[u8],
        marked: impl FnOnce(&[u8]) -> bool,
    ) -> Attempt<Option<Staged>> {
        let staged = |target: OutputTarget| {
            let file = Unfinished::in_place_of(target).and_then(|file| file.whole(bytes));
            file.map(Some).map_err(Refusal::Disk)
        };
        let refusal = match OutputTarget::of(path, Overwrite::default()) {
            Ok(target) => return staged(target),
            Err(refusal) => refusal,
        };
        let Ok(there) = read_regular(path) else { return Err(Refusal::Disk(refusal)) };
        if there == bytes {
            return Ok(None);
        }
        let marked = marked(&there);
        if marked && self.replacing.asked() {
            return staged(OutputTarget::known(path).map_err(Refusal::Disk)?);
        }
        let occupied = Error::input(format!("will not overwrite {}", path.display()));
        Err(Refusal::Occupied(if marked {
            occupied.because("it was changed since trug wrote it, or it was written elsewhere")
        } else {
            occupied.because("another program wrote it")
        }))
    }
}

fn not_copied(photo: &SourceFile, reason: Unfit) -> Error {
    Error::input(format!("{} was not copied", photo.path.display()))
        .because(match reason {
            Unfit::HasPosition => {
                "it already contains an exact position, which a generalised copy would reveal"
                    .to_owned()
            }
            Unfit::Form(why) => format!("{why}, and it cannot be checked for an exact position"),
        })
        .hint("allow exact positions with --coordinates, or remove the position with another program first")
}

fn copied_unchanged(path: &Path, reason: Unfit) -> Error {
    let what = format!("{} was copied unchanged, with an XMP file beside it", path.display());
    Error::input(what)
        .because(match reason {
            Unfit::Form(why) => why,
            Unfit::HasPosition => "it already contains a position".to_owned(),
        })
        .hint("keep the two files together")
}
