//! Describes the tables of an archive (`meta.xml`) and the dataset (`eml.xml`). Layer: `present`.

use jiff::civil::Date;
use uuid::Uuid;

use super::table::Table;
use crate::present::markup::Element;

/// The metadata of a dataset.
#[derive(Clone, Debug)]
pub struct Dataset {
    /// Its title.
    pub title: String,
    /// Its creators.
    pub creators: Vec<String>,
    /// Its abstract.
    pub summary: String,
    /// Its licence.
    pub licence: Licence,
}

/// A licence under which others may use a dataset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Licence {
    /// Creative Commons Zero 1.0.
    Zero,
    /// Creative Commons Attribution 4.0.
    Attribution,
    /// Creative Commons Attribution Non Commercial 4.0.
    NonCommercial,
}

impl Licence {
    fn name_and_address(self) -> (&'static str, &'static str) {
        match self {
            Self::Zero => ("CC0 1.0", "http://creativecommons.org/publicdomain/zero/1.0/legalcode"),
            Self::Attribution => {
                ("CC BY 4.0", "http://creativecommons.org/licenses/by/4.0/legalcode")
            }
            Self::NonCommercial => {
                ("CC BY-NC 4.0", "http://creativecommons.org/licenses/by-nc/4.0/legalcode")
            }
        }
    }
}

const HEAD: &str = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n";

/// The description of the tables: the first is the core, the others extend it by its identity.
///
/// # References
/// Darwin Core Text Guide, <http://rs.tdwg.org/dwc/text/>.
pub(super) fn meta(tables: &[Table]) -> String {
    let mut archive = Element::new("archive")
        .set("xmlns", "http://rs.tdwg.org/dwc/text/")
        .set("metadata", "eml.xml");
    for (place, table) in tables.iter().enumerate() {
        archive = archive.with(part(table, place == 0));
    }
    format!("{HEAD}{archive}\n")
}

fn part(table: &Table, core: bool) -> Element {
    let (name, id) = if core { ("core", "id") } else { ("extension", "coreid") };
    let mut part = Element::new(name)
        .set("encoding", "UTF-8")
        .set("fieldsTerminatedBy", ",")
        .set("linesTerminatedBy", "\\n")
        .set("fieldsEnclosedBy", "\"")
        .set("ignoreHeaderLines", 1)
        .set("rowType", table.row_type())
        .with(Element::new("files").with(Element::new("location").with_text(table.file())))
        .with(Element::new(id).set("index", 0));
    for (place, term) in table.terms().enumerate() {
        part = part.with(Element::new("field").set("index", place).set("term", term));
    }
    part
}

/// The description of the dataset.
///
/// # References
/// Ecological Metadata Language 2.1.1, the order of elements in `dataset`.
pub(super) fn eml(dataset: &Dataset, today: Date) -> String {
    let (licence, address) = dataset.licence.name_and_address();
    let paragraph = |text: &str| Element::new("para").with_text(text);
    let named = |name: &'static str, person: &str| {
        Element::new(name)
            .with(Element::new("individualName").with(Element::new("surName").with_text(person)))
    };
    let first = dataset.creators.first().map_or("the collector", String::as_str);
    let rights = Element::new("para").with_text("This work is licensed under ").with(
        Element::new("ulink")
            .set("url", address)
            .with(Element::new("citetitle").with_text(licence)),
    );
    let described = Element::new("dataset")
        .with(Element::new("title").set("xml:lang", "en").with_text(&dataset.title))
        .with_all(dataset.creators.iter().map(|person| named("creator", person)))
        .with(named("metadataProvider", first))
        .with(Element::new("pubDate").with_text(&today.to_string()))
        .with(Element::new("language").with_text("en"))
        .with(Element::new("abstract").with(paragraph(&dataset.summary)))
        .with(Element::new("intellectualRights").with(rights))
        .with(named("contact", first));
    let id = Uuid::new_v5(&Uuid::NAMESPACE_OID, format!("{} {first}", dataset.title).as_bytes());
    let root = Element::new("eml:eml")
        .set("xmlns:eml", "eml://ecoinformatics.org/eml-2.1.1")
        .set("packageId", format!("{id}/{today}"))
        .set("system", "trug")
        .set("scope", "system")
        .with(described);
    format!("{HEAD}{root}\n")
}
