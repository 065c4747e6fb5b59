//! Reads one file of an archive within what the archive may unpack to. Layer: `ingest`.

use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::super::sort::Kind;
use super::super::sort::{Content, FRONT, empty, identify_input};
use super::{front_of, identify, report};
use crate::error::Error;
use crate::ingest::track;
use crate::model::{FileKind, IgnoredCause, IgnoredFile};

/// A file within an archive.
pub(super) struct Member {
    pub(super) path: PathBuf,
    /// Whether the user named the archive itself.
    pub(super) named: bool,
    /// Whether files that are no tracks are part of a map and not worth a report.
    pub(super) quiet: bool,
    pub(super) length: Option<u64>,
}

/// The bytes that may still be unpacked.
pub(super) struct Budget {
    most: u64,
    left: u64,
}

impl Budget {
    pub(super) fn of(most: u64) -> Self {
        Self { most, left: most }
    }
}

/// Inputs within an archive that are not read there.
#[derive(Debug, Default)]
pub(super) struct Unread {
    pub(super) photographs: Vec<PathBuf>,
    pub(super) tables: Vec<PathBuf>,
}

impl Unread {
    /// The report on them; `None` where there are none.
    pub(super) fn report(&self, archive: &Path) -> Option<Error> {
        let none = self.photographs.is_empty() && self.tables.is_empty();
        (!none).then(|| report::unread(archive, self))
    }
}

/// A stream that ends at a fault or at the end of the budget, and remembers which.
struct Bounded<'a, R> {
    raw: R,
    budget: &'a mut Budget,
    damage: Option<io::Error>,
    exceeded: bool,
}

impl<R: Read> Read for Bounded<'_, R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.exceeded || self.damage.is_some() || into.is_empty() {
            return Ok(0);
        }
        let most = usize::try_from(self.budget.left.saturating_add(1)).unwrap_or(usize::MAX);
        let room = into.len().min(most);
        match self.raw.read(&mut into[..room]) {
            Ok(count) if count as u64 > self.budget.left => {
                self.exceeded = true;
                self.budget.left = 0;
                Ok(0)
            }
            Ok(count) => {
                self.budget.left -= count as u64;
                Ok(count)
            }
            Err(fault) if fault.kind() == io::ErrorKind::Interrupted => Err(fault),
            Err(fault) => {
                self.damage = Some(fault);
                Ok(0)
            }
        }
    }
}

impl Member {
    /// What the file gives; `None` where it is no track.
    pub(super) fn read(
        self,
        packed: impl Read,
        budget: &mut Budget,
        unread: &mut Unread,
    ) -> Option<Content> {
        let most = budget.most;
        let mut stream = Bounded { raw: packed, budget, damage: None, exceeded: false };
        let read = front_of(&mut stream, FRONT).and_then(|mut front| {
            track::complete_front(&mut front, &mut stream)?;
            Ok(front)
        });
        let front = match read {
            Ok(front) => front,
            Err(fault) => return Some(Content::Refused(Error::file("read", &self.path, &fault))),
        };
        if identify(&front).is_some() || front.get(257..262) == Some(b"ustar") {
            return Some(Content::Refused(report::nested(&self.path)));
        }
        let Some(format) = track::format(&front) else {
            if stream.exceeded {
                return Some(Content::Refused(report::too_large(&self.path, most)));
            }
            return self.other(&front, stream, unread);
        };
        if track::is_own_export(&front) {
            let own = || Content::Refused(super::super::sort::own_track(&self.path));
            return Some(if self.named {
                own()
            } else {
                self.ignored(IgnoredCause::WrittenByTrug)
            });
        }
        Some(self.track(format, &front, stream, most))
    }

    fn track<R: Read>(
        self,
        format: FileKind,
        front: &[u8],
        mut stream: Bounded<R>,
        most: u64,
    ) -> Content {
        let read = track::read_from(front.chain(&mut stream), &self.path, format, self.length);
        if stream.exceeded {
            return Content::Refused(report::too_large(&self.path, most));
        }
        match read {
            Ok(mut file) => {
                let damage = stream.damage.map(|fault| report::cut(&self.path, &fault));
                file.set_aside.extend(damage);
                Content::Track(Box::new(file))
            }
            Err(error) => Content::Refused(error),
        }
    }

    fn ignored(self, cause: IgnoredCause) -> Content {
        Content::Other(IgnoredFile { path: self.path, cause })
    }

    /// A file that is no track. One whose name says that it is one is described by its reader.
    fn other<R: Read>(
        self,
        front: &[u8],
        stream: Bounded<R>,
        unread: &mut Unread,
    ) -> Option<Content> {
        if self.quiet {
            return None;
        }
        let most = stream.budget.most;
        match (identify_input(front), self.named_format()) {
            (Some(Kind::Photo), _) => unread.photographs.push(self.path),
            (_, Some(_)) if front.is_empty() => return Some(Content::Refused(empty(&self.path))),
            (_, Some(format)) => return Some(self.track(format, front, stream, most)),
            (Some(_), None) => unread.tables.push(self.path),
            (None, None) if front.is_empty() => return Some(self.ignored(IgnoredCause::Empty)),
            (None, None) => return Some(self.ignored(IgnoredCause::UnsupportedFormat)),
        }
        None
    }

    /// The format of a track that the ending of the name states.
    fn named_format(&self) -> Option<FileKind> {
        let ending = self.path.extension()?.to_string_lossy().to_lowercase();
        match ending.as_str() {
            "gpx" => Some(FileKind::Gpx),
            "kml" => Some(FileKind::Kml),
            "geojson" => Some(FileKind::GeoJson),
            "nmea" => Some(FileKind::Nmea),
            _ => None,
        }
    }
}
