//! Which files are copies of each other? The first by order is kept, the others are set aside and
//! told. Equal hashes of photographs cover their headers only, so their bytes are compared before one
//! is called a copy. Layer: `ingest`.

use std::collections::HashMap;
use std::io::{self, BufReader, Read};
use std::path::Path;

use crate::error::{Error, open_regular};
use crate::model::{FileKind, Intake, SourceFile};

/// Takes copies out of an intake.
pub(super) fn set_aside(intake: &mut Intake) {
    let Intake { tracks, photos, records, set_aside, .. } = intake;
    keep_firsts(tracks, |track| &track.source, set_aside);
    keep_firsts(photos, |photo| &photo.source, set_aside);
    keep_firsts(records, |file| &file.source, set_aside);
}

fn keep_firsts<T>(files: &mut Vec<T>, source: impl Fn(&T) -> &SourceFile, told: &mut Vec<Error>) {
    let mut firsts: HashMap<String, Vec<SourceFile>> = HashMap::new();
    files.retain(|file| {
        let source = source(file);
        let alike = firsts.entry(source.hash.clone()).or_default();
        if let Some(first) = alike.iter().find(|first| is_copy(first, source)) {
            told.push(copy(first, source));
            return false;
        }
        alike.push(source.clone());
        true
    });
}

fn is_copy(first: &SourceFile, second: &SourceFile) -> bool {
    first.kind != FileKind::Photo || same_bytes(&first.path, &second.path).unwrap_or(false)
}

fn same_bytes(first: &Path, second: &Path) -> io::Result<bool> {
    let (mut first, mut second) =
        (BufReader::new(open_regular(first)?), BufReader::new(open_regular(second)?));
    let (mut one, mut other) = (vec![0; 64 * 1024], vec![0; 64 * 1024]);
    loop {
        let count = first.read(&mut one)?;
        if count == 0 {
            return Ok(second.read(&mut other)? == 0);
        }
        if second.read_exact(&mut other[..count]).is_err() || one[..count] != other[..count] {
            return Ok(false);
        }
    }
}

fn copy(first: &SourceFile, second: &SourceFile) -> Error {
    Error::input(format!("{} is a copy and was not read again", second.name()))
        .because(format!("its content is that of {}", first.path.display()))
        .in_file(&second.path)
}
