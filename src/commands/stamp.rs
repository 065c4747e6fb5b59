//! `trug stamp`: where each photograph was taken, in a file beside it. Layer: `commands`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::output;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::model::{Day, PlacedPhoto};
use crate::present::xmp::{self, Stamp};
use crate::store::Store;

/// Write where each photograph was taken into an XMP file beside it.
///
/// Position, direction, uncertainty and corrected time, for photo programs that read such files. The
/// photographs themselves are never changed, and an XMP file that trug did not write is left alone.
/// The files say exactly where you were: think before you pass them on.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Only photographs of outings that began on this day or later.
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,

    /// Only photographs of outings that began on this day or earlier.
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,

    /// Put the files into this folder instead of beside the photographs.
    #[arg(long, value_name = "FOLDER")]
    into: Option<PathBuf>,
}

#[derive(Default)]
struct Told {
    written: usize,
    without_position: usize,
    left_alone: Vec<Error>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let store = Store::open(&arguments.store.path())?;
    if let Some(folder) = &arguments.into {
        fs::create_dir_all(folder).map_err(|error| Error::file("make", folder, &error))?;
    }
    let mut told = Told::default();
    for outing in store.outings()? {
        let early = arguments.from.is_some_and(|from| outing.date < from);
        let late = arguments.to.is_some_and(|to| outing.date > to);
        if !early && !late {
            stamp_day(&store.day(outing.id)?, arguments.into.as_deref(), &mut told);
        }
    }
    for error in &told.left_alone {
        console.warning(error);
    }
    console.print(&format!(
        "{} written, {} photographs without a position, {} left alone\n",
        told.written,
        told.without_position,
        told.left_alone.len()
    ))?;
    if told.written > 0 {
        console.note("These files say exactly where you were: think before you pass them on.");
    }
    Ok(if told.left_alone.is_empty() { Exit::Done } else { Exit::SomeSetAside })
}

fn stamp_day(day: &Day, into: Option<&Path>, told: &mut Told) {
    for photo in &day.photos {
        let Some(stamp) = stamp(day, photo) else {
            told.without_position += 1;
            continue;
        };
        let path = beside(&photo.photo.source.path, into);
        match write(&path, &photo.photo.source.path, into.is_some(), &stamp) {
            Ok(()) => told.written += 1,
            Err(error) => told.left_alone.push(error),
        }
    }
}

fn stamp(day: &Day, photo: &PlacedPhoto) -> Option<Stamp> {
    let (at, radius) = photo.at?;
    let numbers = photo
        .finds
        .iter()
        .filter_map(|index| Some(day.finds.get(*index)?.record.number.as_ref()?.0.clone()))
        .collect();
    Some(Stamp { at, radius, when: photo.when, direction: photo.photo.gps.direction, numbers })
}

/// The same name with the ending `.xmp`, as ISO 16684-1 has it.
fn beside(photo: &Path, into: Option<&Path>) -> PathBuf {
    let name = photo.with_extension("xmp");
    match (into, name.file_name()) {
        (Some(folder), Some(file)) => folder.join(file),
        _ => name,
    }
}

fn write(path: &Path, photo: &Path, elsewhere: bool, stamp: &Stamp) -> Result<()> {
    if !elsewhere && !photo.is_file() {
        return Err(Error::input(format!("{} is no longer there", photo.display()))
            .because("an XMP file belongs beside its photograph")
            .hint("name a folder for the files with --into"));
    }
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
    output::write(path, xmp::packet(stamp).as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_file_has_the_name_of_the_photograph() {
        assert_eq!(beside(Path::new("a/P1.JPG"), None), Path::new("a/P1.xmp"));
        assert_eq!(beside(Path::new("a/P1.JPG"), Some(Path::new("b"))), Path::new("b/P1.xmp"));
    }
}
