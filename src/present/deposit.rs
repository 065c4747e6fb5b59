//! Writes a Darwin Core Archive: outings as events, finds as occurrences, fresh characters as
//! measurements, with the descriptions of tables and dataset. Refuses an archive from which a sensitive
//! place could be recovered. Layer: `present`.
//!
//! # What it promises
//! Identifiers are permanent: a find has the same `occurrenceID` in every deposit, corrected or not. The same finds
//! on the same day give the same bytes. Every column is a term of the published list (`tests/reference`), every
//! table is described in `meta.xml`, the dataset in `eml.xml`.
//!
//! # Privacy
//! Positions are those of the finds as given; [`archive`] reads its own result back and refuses it where a
//! sensitive place could be recovered from it, from other finds in it, or from what was published before.
//! `docs/deposit.md` lists files and terms.

mod absence;
mod description;
mod event;
mod identified;
mod measurement;
mod occurrence;
mod relationship;
mod table;

use std::collections::HashMap;
use std::io::{Cursor, Write};
use std::sync::Arc;

use jiff::civil::Date;
use uuid::Uuid;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::sensitive::{self, Audit, ForOthers, readback};
use crate::error::{Error, Result};
use crate::model::{KeptFind, Leak, NameCheck, Published};

pub use super::darwin_core::StatusWords;
pub use absence::{Absence, Searches, absences};
pub use description::{Dataset, Licence};
pub use event::Event;
use table::Table;

/// The basis of record.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Basis {
    /// Observed in the field.
    #[default]
    Observation,
    /// Collected and preserved.
    Specimen,
}

impl Basis {
    fn word(self) -> &'static str {
        match self {
            Self::Observation => "HumanObservation",
            Self::Specimen => "PreservedSpecimen",
        }
    }
}

/// Who holds the specimens, where their records do not say it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Holding {
    /// The institution's code.
    pub institution: Option<String>,
    /// The collection's code.
    pub collection: Option<String>,
}

impl Holding {
    fn terms(&self) -> impl Iterator<Item = (&'static str, String)> + '_ {
        let terms = [("institutionCode", &self.institution), ("collectionCode", &self.collection)];
        terms.into_iter().filter_map(|(term, code)| Some((term, code.clone()?)))
    }
}

/// The content of an archive.
///
/// `originals` serve for the comparison alone: nothing of them is written.
#[derive(Debug)]
pub struct Deposit<'a> {
    /// Title, creators and licence.
    pub dataset: Dataset,
    /// The original finds: not written, but compared with the output by the check for
    /// leaks.
    pub originals: &'a [KeptFind],
    /// The same finds, generalised.
    pub shown: &'a ForOthers,
    /// Earlier published states of each find.
    pub published: &'a HashMap<Uuid, Vec<Published>>,
    /// Indices of the finds to deposit.
    pub chosen: &'a [usize],
    /// The outings of these finds and of non-detections.
    pub events: &'a [Event],
    /// Non-detections.
    pub absences: &'a [Absence],
    /// What a checklist says of the names of identifications and of non-detections.
    pub names: &'a HashMap<String, Arc<NameCheck>>,
    /// The values of `occurrenceStatus`.
    pub status: StatusWords,
    /// The basis of record.
    pub basis: Basis,
    /// Who holds the specimens.
    pub holding: Holding,
    /// The day of writing.
    pub today: Date,
}

/// The archive as the bytes of a ZIP file.
///
/// The whole archive is built in memory.
///
/// # Errors
/// When a sensitive place could be recovered from it.
///
/// # References
/// Darwin Core Text Guide (TDWG 2009, amended since), for `meta.xml`; Ecological Metadata Language
/// 2.1.1 for `eml.xml`.
pub fn archive(deposit: &Deposit<'_>) -> Result<Vec<u8>> {
    let tables = tables(deposit);
    refuse_leaks(deposit, &tables)?;
    let mut files: Vec<(String, String)> =
        tables.iter().map(|table| (table.file().to_owned(), table.text())).collect();
    files.push(("meta.xml".to_owned(), description::meta(&tables)));
    files.push(("eml.xml".to_owned(), description::eml(&deposit.dataset, deposit.today)));
    let bytes = packed(&files).map_err(|error| {
        Error::program("the archive could not be compressed").because(error.to_string())
    })?;
    read_back(deposit, &bytes)?;
    Ok(bytes)
}

/// Reads the finished archive back and refuses it where a sensitive place could be
/// recovered from it and from earlier outputs.
fn read_back(deposit: &Deposit<'_>, bytes: &[u8]) -> Result<()> {
    let places: HashMap<Uuid, usize> =
        deposit.originals.iter().enumerate().map(|(index, find)| (find.id, index)).collect();
    let mut audit = Audit::new(deposit.shown.decisions(), &places);
    for index in deposit.chosen {
        if let (Some(original), Some(shown)) =
            (deposit.originals.get(*index), deposit.shown.finds.get(*index))
        {
            let earlier = deposit.published.get(&original.id).map_or(&[][..], Vec::as_slice);
            audit.add(original, shown, earlier);
        }
    }
    readback::archive(bytes, &mut |statement| audit.judge(&statement)).map_err(|error| {
        Error::program("the archive cannot be read back").because(error.to_string())
    })?;
    refuse(&audit.leaks())
}

fn tables(deposit: &Deposit<'_>) -> Vec<Table> {
    let chosen: Vec<&KeptFind> =
        deposit.chosen.iter().filter_map(|find| deposit.shown.finds.get(*find)).collect();
    let mut tables = vec![
        event::table(deposit.events, &deposit.shown.guarded),
        occurrence::table(
            &chosen,
            (deposit.absences, deposit.names),
            &deposit.holding,
            (deposit.status, deposit.basis),
        ),
        measurement::table(&chosen),
        relationship::table(&chosen),
    ];
    tables.extend(identified::table(&chosen, deposit.names));
    tables
}

fn refuse_leaks(deposit: &Deposit<'_>, tables: &[Table]) -> Result<()> {
    let rows: Vec<String> = deposit
        .originals
        .iter()
        .map(|find| tables.iter().map(|table| table.text_about(find)).collect())
        .collect();
    refuse(&sensitive::leaks(deposit.originals, deposit.shown, &rows))
}

fn refuse(leaks: &[Leak]) -> Result<()> {
    if leaks.is_empty() {
        return Ok(());
    }
    let more = leaks.len().saturating_sub(3);
    let more = if more == 0 { String::new() } else { format!("; and {more} more") };
    let reported: Vec<String> = leaks.iter().take(3).map(ToString::to_string).collect();
    Err(Error::input("the deposit would reveal a sensitive place, so it was not written")
        .because(format!("{}{more}", reported.join("; ")))
        .hint(sensitive::remedy(leaks)))
}

/// The files in one archive; the same files give the same bytes.
fn packed(files: &[(String, String)]) -> zip::result::ZipResult<Vec<u8>> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    let how = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    archive.set_comment(concat!("written by trug ", env!("CARGO_PKG_VERSION")))?;
    for (name, text) in files {
        archive.start_file(name.as_str(), how)?;
        archive.write_all(text.as_bytes())?;
    }
    Ok(archive.finish()?.into_inner())
}
