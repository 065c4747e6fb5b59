//! Lets records that name a copy of a photograph find the photograph that was read in its place. Layer: `join`.

use std::path::PathBuf;

use crate::model::{Field, Photo, PhotoRef, Record, name_of};

use super::super::day::PhotoIndex;
use super::super::written;

/// The names of copies that were not read, with those of the photographs read.
pub(super) struct Copies {
    names: Vec<String>,
    originals: Vec<String>,
    by_copy: PhotoIndex,
    /// The names of the photographs that were read.
    read: Vec<String>,
    by_name: PhotoIndex,
}

impl Copies {
    pub(super) fn of(photos: &[Photo], copies: &[(PathBuf, PathBuf)]) -> Self {
        // without copies no name is looked for
        let read: Vec<String> =
            photos.iter().filter(|_| !copies.is_empty()).map(Photo::name).collect();
        let (names, originals): (Vec<String>, Vec<String>) =
            copies.iter().map(|(copy, original)| (name_of(copy), name_of(original))).unzip();
        let (by_copy, by_name) = (PhotoIndex::of(&names), PhotoIndex::of(&read));
        Self { names, originals, by_copy, read, by_name }
    }

    /// Lets each record name the photograph that was read where it names a copy; what was written is kept beside it.
    pub(super) fn name_originals(&self, records: &mut [Record]) {
        if self.names.is_empty() {
            return;
        }
        for record in records {
            let originals: Vec<PhotoRef> =
                record.photos.iter().map(|named| self.original(named.clone())).collect();
            if originals == record.photos {
                continue;
            }
            let written: Vec<&str> = record.photos.iter().map(|named| &*named.0).collect();
            let written = written.join(", ");
            record
                .fields
                .entry(Field::Other(Record::WRITTEN_PHOTOGRAPHS.into()))
                .or_insert(written);
            record.photos = originals;
        }
    }

    /// The name of the photograph that was read, where a name means none but a copy.
    fn original(&self, named: PhotoRef) -> PhotoRef {
        let means = |index: &PhotoIndex, names: &[String]| {
            index.candidates(&named).find(|&photo| written::names(&named, &names[photo]))
        };
        if means(&self.by_name, &self.read).is_some() {
            return named;
        }
        let copy = means(&self.by_copy, &self.names);
        copy.map_or_else(|| named.clone(), |copy| PhotoRef(self.originals[copy].clone()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Camera, FileKind, PhotoGps, SourceFile};

    #[test]
    fn a_record_that_names_a_copy_finds_the_photograph_that_was_read() {
        let photo = |name: &str| Photo {
            source: SourceFile {
                path: name.into(),
                kind: FileKind::Photo,
                bytes: 1,
                hash: name.into(),
            },
            camera: Camera::default(),
            taken: None,
            offset: None,
            gps: PhotoGps::default(),
            remarks: Vec::new(),
            damaged: false,
        };
        let photos = [photo("day/IMG_0007.JPG"), photo("day/IMG_0008.JPG")];
        let copies = [("day/phallus.JPG".into(), "day/IMG_0007.JPG".into())];
        let named = |copies: &[(PathBuf, PathBuf)], name: &str| {
            let mut records = [Record { photos: vec![PhotoRef(name.into())], ..Record::default() }];
            Copies::of(&photos, copies).name_originals(&mut records);
            let written = records[0].other(Record::WRITTEN_PHOTOGRAPHS);
            assert_eq!(written.is_some(), records[0].photos[0].0 != name, "{written:?}");
            records[0].photos[0].0.clone()
        };
        assert_eq!(named(&copies, "phallus"), "IMG_0007.JPG");
        assert_eq!(named(&copies, "IMG_0008.JPG"), "IMG_0008.JPG");
        assert_eq!(named(&copies, "amanita.JPG"), "amanita.JPG");
        assert_eq!(named(&[], "phallus"), "phallus");
    }
}
