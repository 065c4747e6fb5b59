//! Generates field records, in the formats in which collectors keep them.

use jiff::civil::DateTime;
use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format as XlsxFormat, Formula, Workbook, Worksheet, XlsxError,
};

use crate::rng::Rng;
use crate::society::{SITES, Shape};

/// One line.
#[derive(Clone, Default)]
pub(crate) struct Line {
    pub(crate) number: String,
    pub(crate) collector: String,
    pub(crate) date: String,
    pub(crate) time: String,
    pub(crate) place: String,
    pub(crate) substrate: String,
    pub(crate) host: String,
    pub(crate) habitat: String,
    pub(crate) name: String,
    pub(crate) colour: String,
    pub(crate) smell: String,
    pub(crate) print: String,
    pub(crate) container: String,
    pub(crate) photos: String,
    pub(crate) waypoint: String,
    pub(crate) coordinates: String,
    pub(crate) latitude: String,
    pub(crate) longitude: String,
    pub(crate) datum: String,
    pub(crate) quantity: String,
    pub(crate) notes: String,
}

impl Line {
    pub(crate) fn of(
        number: &str,
        collector: &str,
        site: usize,
        noted: DateTime,
        rng: &mut Rng,
    ) -> Self {
        let site = &SITES[site];
        let habitat = match site.place {
            "Wren Gully" => "cool temperate rainforest, gully",
            "Thimble Spur" | "Saddle" => "wet eucalypt forest, spur",
            "Old Tramway" => "wet eucalypt forest, old cutting",
            _ => "cool temperate rainforest",
        };
        let containers = ["paper bag", "wax paper", "compartment box", "closed plastic box"];
        let count = 1 + rng.between(0.0, 9.0) as usize;
        let unit = match site.kind.shape {
            Shape::Cap | Shape::Bracket => "fruit bodies",
            Shape::Coral => "tufts",
            Shape::Cup => "clusters",
        };
        Self {
            number: number.to_owned(),
            collector: collector.to_owned(),
            date: noted.strftime("%Y-%m-%d").to_string(),
            time: noted.strftime("%H:%M").to_string(),
            place: site.place.to_owned(),
            substrate: site.substrate.to_owned(),
            host: site.host.to_owned(),
            habitat: habitat.to_owned(),
            name: site.kind.name.to_owned(),
            colour: site.kind.colour.to_owned(),
            smell: site.kind.smell.to_owned(),
            print: site.kind.print.to_owned(),
            container: containers[rng.between(0.0, 4.0) as usize].to_owned(),
            quantity: format!("{count} {unit}"),
            ..Self::default()
        }
    }
}

/// Heading and field of one column.
pub(crate) type Column = (&'static str, fn(&Line) -> &str);

/// Rows above the headings of a workbook: a title and a blank row.
const ABOVE: usize = 2;

/// A file of records.
pub(crate) struct Form {
    pub(crate) file: &'static str,
    pub(crate) workbook: bool,
    pub(crate) separator: char,
    pub(crate) latin1: bool,
    pub(crate) mark: bool,
    pub(crate) columns: Vec<Column>,
}

pub(crate) fn field_labels() -> Form {
    Form {
        file: "notebook.csv",
        workbook: false,
        separator: ',',
        latin1: false,
        mark: false,
        columns: vec![
            ("Number", |line| &line.number),
            ("Collector", |line| &line.collector),
            ("Date", |line| &line.date),
            ("Time", |line| &line.time),
            ("Place", |line| &line.place),
            ("Substrate", |line| &line.substrate),
            ("Host", |line| &line.host),
            ("Habitat", |line| &line.habitat),
            ("Name", |line| &line.name),
            ("Colour", |line| &line.colour),
            ("Smell", |line| &line.smell),
            ("Spore print", |line| &line.print),
            ("Quantity", |line| &line.quantity),
            ("Container", |line| &line.container),
            ("Photographs", |line| &line.photos),
            ("Waypoint", |line| &line.waypoint),
            ("Notes", |line| &line.notes),
        ],
    }
}

pub(crate) fn semicolons() -> Form {
    Form {
        file: "finds.csv",
        workbook: false,
        separator: ';',
        latin1: true,
        mark: false,
        columns: vec![
            ("No.", |line| &line.number),
            ("Collector", |line| &line.collector),
            ("Date", |line| &line.date),
            ("Time", |line| &line.time),
            ("Locality", |line| &line.place),
            ("Growing on", |line| &line.substrate),
            ("Tree", |line| &line.host),
            ("Habitat", |line| &line.habitat),
            ("Determined name", |line| &line.name),
            ("Colour when fresh", |line| &line.colour),
            ("Odour", |line| &line.smell),
            ("Spore print", |line| &line.print),
            ("Container", |line| &line.container),
            ("Photos", |line| &line.photos),
            ("Notes", |line| &line.notes),
        ],
    }
}

pub(crate) fn darwin_core() -> Form {
    Form {
        file: "records.tsv",
        workbook: false,
        separator: '\t',
        latin1: false,
        mark: true,
        columns: vec![
            ("recordNumber", |line| &line.number),
            ("recordedBy", |line| &line.collector),
            ("eventDate", |line| &line.date),
            ("eventTime", |line| &line.time),
            ("locality", |line| &line.place),
            ("habitat", |line| &line.habitat),
            ("substrate", |line| &line.substrate),
            ("host", |line| &line.host),
            ("scientificName", |line| &line.name),
            ("verbatimCoordinates", |line| &line.coordinates),
            ("decimalLatitude", |line| &line.latitude),
            ("decimalLongitude", |line| &line.longitude),
            ("geodeticDatum", |line| &line.datum),
            ("photographs", |line| &line.photos),
            ("container", |line| &line.container),
            ("occurrenceRemarks", |line| &line.notes),
        ],
    }
}

/// A workbook with German headings.
pub(crate) fn workbook() -> Form {
    Form {
        file: "fundbuch.xlsx",
        workbook: true,
        separator: ',',
        latin1: false,
        mark: false,
        columns: vec![
            ("Fundnummer", |line| &line.number),
            ("Sammler", |line| &line.collector),
            ("Datum", |line| &line.date),
            ("Uhrzeit", |line| &line.time),
            ("Fundort", |line| &line.place),
            ("Substrat", |line| &line.substrate),
            ("Wirt", |line| &line.host),
            ("Habitat", |line| &line.habitat),
            ("Art", |line| &line.name),
            ("Farbe", |line| &line.colour),
            ("Geruch", |line| &line.smell),
            ("Sporenpulver", |line| &line.print),
            ("Fotos", |line| &line.photos),
            ("Bemerkungen", |line| &line.notes),
        ],
    }
}

impl Form {
    /// The bytes of the file, and the line on which each record begins, counted from one.
    pub(crate) fn write(&self, lines: &[Line]) -> (Vec<u8>, Vec<usize>) {
        if self.workbook {
            return (self.book(lines), (0..lines.len()).map(|place| ABOVE + 2 + place).collect());
        }
        let headings: Vec<String> =
            self.columns.iter().map(|(heading, _)| self.quoted(heading)).collect();
        let joint = self.separator.to_string();
        let mut text = format!("{}\n", headings.join(&joint));
        let mut begins = Vec::new();
        for (place, line) in lines.iter().enumerate() {
            if self.latin1 && place == 7 {
                text.push('\n');
            }
            begins.push(1 + text.matches('\n').count());
            let cells: Vec<String> =
                self.columns.iter().map(|(_, field)| self.quoted(field(line))).collect();
            text.push_str(&cells.join(&joint));
            text.push('\n');
        }
        (self.encoded(&text), begins)
    }

    /// A workbook with a merged title, real dates and times, a total, and a sheet without records.
    fn book(&self, lines: &[Line]) -> Vec<u8> {
        let mut book = Workbook::new();
        let made = ExcelDateTime::from_ymd(2026, 6, 8).expect("a date of our time");
        book.set_properties(&DocProperties::new().set_creation_datetime(&made));
        let sheet = book.add_worksheet().set_name("2026").expect("a short name");
        self.fill(sheet, lines).expect("few cells");
        let books = book.add_worksheet().set_name("Literatur").expect("a short name");
        books.write(0, 0, "Pilze der Talwege, 2. Auflage").expect("one cell");
        book.save_to_buffer().expect("a small workbook")
    }

    fn fill(&self, sheet: &mut Worksheet, lines: &[Line]) -> Result<(), XlsxError> {
        let row_of = |place: usize| u32::try_from(place).unwrap_or(0);
        let bold = XlsxFormat::new().set_bold();
        let (date, time) = (
            XlsxFormat::new().set_num_format("dd.mm.yyyy"),
            XlsxFormat::new().set_num_format("hh:mm"),
        );
        let last = u16::try_from(self.columns.len() - 1).unwrap_or(0);
        sheet.merge_range(0, 0, 0, last, "Fundbuch von Tove Hartsfallow, 2026", &bold)?;
        for (column, (heading, _)) in (0_u16..).zip(&self.columns) {
            sheet.write_with_format(row_of(ABOVE), column, *heading, &bold)?;
        }
        for (place, line) in lines.iter().enumerate() {
            let row = row_of(ABOVE + 1 + place);
            for (column, (heading, field)) in (0_u16..).zip(&self.columns) {
                let text = field(line);
                match *heading {
                    _ if text.is_empty() => {}
                    "Datum" => {
                        let day = ExcelDateTime::parse_from_str(text)?;
                        sheet.write_with_format(row, column, &day, &date)?;
                    }
                    "Uhrzeit" => {
                        let clock = ExcelDateTime::parse_from_str(text)?;
                        sheet.write_with_format(row, column, &clock, &time)?;
                    }
                    _ => {
                        sheet.write(row, column, text)?;
                    }
                }
            }
        }
        let row = row_of(ABOVE + 2 + lines.len());
        sheet.write(row, 0, "Summe")?;
        let (from, to) = (ABOVE + 2, ABOVE + 1 + lines.len());
        let total = format!("=COUNTA(I{from}:I{to})");
        let total = Formula::new(total).set_result(lines.len().to_string());
        sheet.write_formula(row, 8, total)?;
        Ok(())
    }

    fn quoted(&self, cell: &str) -> String {
        if cell.contains([self.separator, '"', '\n']) {
            format!("\"{}\"", cell.replace('"', "\"\""))
        } else {
            cell.to_owned()
        }
    }

    fn encoded(&self, text: &str) -> Vec<u8> {
        if self.latin1 {
            return text.chars().map(|c| u8::try_from(u32::from(c)).unwrap_or(b'?')).collect();
        }
        let mark = if self.mark { "\u{feff}" } else { "" };
        format!("{mark}{text}").into_bytes()
    }
}
