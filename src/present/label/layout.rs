//! Describes what a label states, in which order, under which headings and in which language. The
//! collector's own layout is a small TOML text; without one the layout of the packet label holds.
//! Layer: `present`.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::language::Language;
use crate::error::{Error, Result};

/// What one line of a label states.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Content {
    /// Who determined it, and when.
    Determiner,
    /// Names that it had before.
    EarlierNames,
    /// Type status.
    TypeStatus,
    /// Country, state or province, county, municipality, locality.
    Place,
    /// Latitude and longitude, datum, 95 % radius.
    Position,
    /// The MGRS square.
    Grid,
    /// Coordinates as written.
    AsWritten,
    /// Elevation with its source.
    Elevation,
    /// Habitat.
    Habitat,
    /// Substrate.
    Substrate,
    /// Host.
    Host,
    /// Colour, bruising, latex, smell, taste when fresh.
    Characters,
    /// Chemical reactions.
    Reactions,
    /// Colour of the spore print.
    SporePrint,
    /// Spore and other microscopic measurements.
    Microscopy,
    /// How many.
    Quantity,
    /// Date, time and collector.
    Collected,
    /// Photographs.
    Photographs,
    /// Duplicates and to whom.
    Duplicates,
    /// Catalogue or accession number.
    Catalogue,
    /// Notes.
    Notes,
    /// Every other column under its own heading.
    Other,
}

impl Content {
    /// All, in the order of the built-in layout.
    pub const ALL: [Self; 22] = [
        Self::Determiner,
        Self::EarlierNames,
        Self::TypeStatus,
        Self::Place,
        Self::Position,
        Self::Grid,
        Self::AsWritten,
        Self::Elevation,
        Self::Habitat,
        Self::Substrate,
        Self::Host,
        Self::Characters,
        Self::Reactions,
        Self::SporePrint,
        Self::Microscopy,
        Self::Quantity,
        Self::Collected,
        Self::Photographs,
        Self::Duplicates,
        Self::Catalogue,
        Self::Notes,
        Self::Other,
    ];
}

/// The code in the corner of a label.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CodeKind {
    /// QR code of the record's identifier.
    #[default]
    Qr,
    /// Code 128 of the catalogue number, else of collector's number.
    #[serde(rename = "code-128")]
    Code128,
    /// Both.
    Both,
    /// None.
    None,
}

impl CodeKind {
    pub(super) fn square(self) -> bool {
        matches!(self, Self::Qr | Self::Both)
    }

    pub(super) fn bars(self) -> bool {
        matches!(self, Self::Code128 | Self::Both)
    }
}

/// The layout of packet labels.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Layout {
    /// Lines above all others: the institution or collection.
    pub heading: Vec<String>,
    /// The language of headings and of dates.
    pub language: Language,
    /// What is stated, in order.
    pub lines: Vec<Content>,
    /// Headings that replace those of the language.
    pub captions: BTreeMap<Content, String>,
    /// The code.
    pub code: CodeKind,
}

impl Default for Layout {
    fn default() -> Self {
        Self {
            heading: Vec::new(),
            language: Language::English,
            lines: Content::ALL.to_vec(),
            captions: BTreeMap::new(),
            code: CodeKind::Qr,
        }
    }
}

impl Layout {
    /// Reads a layout from TOML.
    ///
    /// # Errors
    /// When the text is not TOML, names something that a label does not state, or states a line twice.
    ///
    /// # Examples
    /// ```
    /// use trug::present::label::{Content, Layout};
    /// let layout = Layout::from_toml(
    ///     r#"
    ///     heading = ["Fungarium Nordquell"]
    ///     language = "de"
    ///     lines = ["determiner", "place", "position", "host", "collected"]
    ///     captions = { host = "bei" }
    ///     "#,
    /// )?;
    /// assert_eq!(layout.lines[3], Content::Host);
    /// assert!(Layout::from_toml(r#"lines = ["postion"]"#).is_err());
    /// # Ok::<(), trug::error::Error>(())
    /// ```
    pub fn from_toml(text: &str) -> Result<Self> {
        let layout: Self = toml::from_str(text).map_err(|error| {
            Error::input("the label layout cannot be read")
                .because(error.to_string().trim_end().to_owned())
                .hint("docs/labels.md lists the settings and the names of the lines")
        })?;
        let mut seen = Vec::new();
        for line in &layout.lines {
            if seen.contains(line) {
                return Err(Error::input("the label layout cannot be used")
                    .because(format!("`lines` names {line:?} twice"))
                    .hint("name each line once"));
            }
            seen.push(*line);
        }
        Ok(layout)
    }

    /// The heading of a line.
    pub(super) fn caption(&self, content: Content) -> &str {
        match self.captions.get(&content) {
            Some(caption) => caption,
            None => self.language.caption(content),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_layout_replaces_order_language_and_headings() {
        let layout = Layout::from_toml(
            "heading = ['A', 'B']\nlanguage = 'la'\nlines = ['host', 'place']\ncode = 'code-128'\n[captions]\nhost = 'ad'",
        )
        .unwrap();
        assert_eq!(layout.lines, [Content::Host, Content::Place]);
        assert_eq!(layout.caption(Content::Host), "ad");
        assert_eq!(layout.caption(Content::Place), "loc.");
        assert!(layout.code.bars() && !layout.code.square());
    }

    #[test]
    fn unknown_names_and_repeated_lines_are_refused_with_the_place() {
        let error = Layout::from_toml("language = 'en'\nlines = ['host', 'hots']").unwrap_err();
        let words = error.to_string();
        assert!(words.contains("hots") && words.contains('2'), "{words}");
        assert!(Layout::from_toml("lines = ['host', 'host']").is_err());
        assert!(Layout::from_toml("colour = 'red'").is_err());
        assert!(Layout::from_toml("").unwrap() == Layout::default());
    }
}
