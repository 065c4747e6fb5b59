//! Assigns the columns of a file to fields. Of several with the same meaning the most specific one
//! is used, or all of them where their texts are complementary; other columns keep their headings.
//! Layer: `ingest`.

use std::cell::OnceCell;
use std::collections::{HashMap, HashSet};

use super::alike::{self, Alike};
use super::column::Column;
use super::columns::{Columns, Meaning};
use super::headings::{self, ranked};
use super::length::{Habit, Quantity};
use super::table::{Row, Table};
use super::translated;
use super::verbatim;
use super::{abbreviated, by_content, date, filled};
use crate::ingest::position;
use crate::model::{Field, term};

/// The meaning of one column of the file.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Slot {
    Known(Column),
    /// Kept under this heading.
    Other(String),
}

/// The columns of a file in their order.
#[derive(Debug)]
pub(super) struct Layout {
    slots: Vec<Slot>,
    /// The known columns in their order, each with its place.
    known: Vec<(Column, usize)>,
    /// The headings, numbered where they are repeated.
    names: Vec<String>,
    unknown: Vec<usize>,
    collector_named: bool,
    /// Columns with one meaning.
    alike: Vec<Alike>,
    /// Columns whose text is kept under a term besides.
    verbatim: Vec<(usize, &'static str)>,
}

impl Layout {
    pub(super) fn of(table: &Table, columns: &Columns) -> Self {
        let mut own = OwnHeadings::default();
        let names =
            table.headings.iter().enumerate().map(|(index, heading)| own.name(heading, index));
        let names: Vec<String> = names.collect();
        let mapping = columns.of_table(&table.headings);
        let meanings: Vec<Option<Meaning>> = names
            .iter()
            .zip(&table.headings)
            .map(|(name, heading)| mapping.of(heading, name))
            .collect();
        let others = abbreviated::Others::of(&table.headings);
        let country = OnceCell::new();
        let by_language = |heading: &str| {
            // one heading alone depends on the language
            let decide = || translated::by_language(heading, &table.headings);
            translated::is_of_language(heading).then(|| *country.get_or_init(decide)).flatten()
        };
        let mut ranks: Vec<_> = table
            .headings
            .iter()
            .zip(&meanings)
            .map(|(heading, stated)| match stated {
                Some(Meaning::Column(column)) => Some((*column, 0)),
                Some(Meaning::Own) => None,
                None => {
                    let found = ranked(heading).map(|found| verbatim::ranked(heading, found));
                    let found =
                        found.or_else(|| Some((by_language(heading)?, headings::TRANSLATED)));
                    let shortened = || abbreviated::by_others(heading, &others);
                    found.or_else(|| Some((shortened()?, headings::ABBREVIATED)))
                }
            })
            .collect();
        let stated: Vec<bool> = meanings.iter().map(Option::is_some).collect();
        by_content::names_ranked(&mut ranks, &stated, table);
        if let Some((north, side)) = by_content::degrees(table)
            && !stated[north]
            && !stated[side]
        {
            ranks[north] = Some((Column::Latitude, 0));
            ranks[side] = Some((Column::Longitude, 0));
        }
        // of each column the rank and place of the best heading
        let mut best: HashMap<Column, (usize, usize)> = HashMap::new();
        for (index, found) in ranks.iter().enumerate() {
            if let Some((column, rank)) = *found {
                let least = best.entry(column).or_insert((rank, index));
                *least = (*least).min((rank, index));
            }
        }
        let demoted = verbatim::demoted(&best, &table.headings);
        let is_known = |index: usize, column: Column, rank: usize| {
            if verbatim::is_last(rank) {
                return best.get(&column) == Some(&(rank, index)) && !demoted(column);
            }
            column.joins() || best.get(&column).is_some_and(|&(_, at)| at == index)
        };
        let mut unknown = Vec::new();
        let mut slots = Vec::with_capacity(names.len());
        for (index, name) in names.iter().enumerate() {
            match ranks[index] {
                Some((column, rank)) if is_known(index, column, rank) => {
                    slots.push(Slot::Known(column));
                }
                found => {
                    // kept under its heading, and written as such or on labels
                    let heading = &table.headings[index];
                    let is_kept =
                        || term::of_heading(heading).is_some() || term::is_of_label(heading);
                    if found.is_none() && meanings[index].is_none() && !is_kept() {
                        unknown.push(index);
                    }
                    let term = verbatim::term(&table.headings[index]);
                    slots.push(Slot::Other(term.map_or_else(|| name.clone(), str::to_owned)));
                }
            }
        }
        let alike = alike::of(&ranks, &slots);
        let collector_named = table.headings.iter().zip(&slots).any(|(heading, slot)| {
            *slot == Slot::Known(Column::Collector) && headings::is_both(heading)
        });
        let known = |index: usize| matches!(slots[index], Slot::Known(_));
        let headings = table.headings.iter().enumerate().filter(|(index, _)| known(*index));
        let verbatim =
            headings.filter_map(|(index, own)| Some((index, verbatim::kept(own)?))).collect();
        let known = Vec::new();
        let mut layout = Self { slots, known, names, unknown, collector_named, alike, verbatim };
        layout.datum_may_be_a_date(table);
        layout.height_may_be_an_elevation(table);
        layout.spores_may_be_sizes(table);
        layout.catalogue_may_be_the_number();
        layout.separate_fields(&mut own);
        layout.known = layout.sorted();
        layout
    }

    fn sorted(&self) -> Vec<(Column, usize)> {
        let known = self.slots.iter().enumerate().filter_map(|(place, slot)| match slot {
            Slot::Known(column) => Some((*column, place)),
            Slot::Other(_) => None,
        });
        let mut known: Vec<_> = known.collect();
        known.sort_unstable();
        known
    }

    /// A column that is kept under a heading which is that of a known field of the file gets another one: two
    /// columns never share a field.
    fn separate_fields(&mut self, own: &mut OwnHeadings) {
        let known = |slot: &Slot| match slot {
            Slot::Known(column) => column.field(),
            Slot::Other(_) => None,
        };
        let known: HashSet<Field> = self.slots.iter().filter_map(known).collect();
        for (index, slot) in self.slots.iter_mut().enumerate() {
            if let Slot::Other(name) = slot
                && known.contains(&Field::from(name.clone()))
            {
                *name = own.name(name, index);
            }
        }
    }

    /// Spores are those of a print, of which the colour is noted, or measured: `8-9 x 5`.
    fn spores_may_be_sizes(&mut self, table: &Table) {
        let Some(place) = self.place(Column::SporePrint) else { return };
        let cells = || table.rows.iter().filter_map(|row| filled(row.cells.get(place)?));
        let is_size = |cell: &&str| {
            cell.trim_start_matches(['(', '[']).starts_with(|c: char| c.is_ascii_digit())
                || cell.contains(['\u{b5}', '\u{3bc}'])
        };
        if 2 * cells().filter(is_size).count() > cells().count() {
            self.slots[place] = Slot::Other(self.names[place].clone());
        }
    }

    /// A catalogue number is the number of the find where the table has no other.
    fn catalogue_may_be_the_number(&mut self) {
        if self.place(Column::Number).is_some() {
            return;
        }
        if let Some(place) = self.place(Column::CatalogNumber) {
            self.slots[place] = Slot::Known(Column::Number);
        }
    }

    /// Columns whose headings are not known, with their names.
    pub(super) fn unknown(&self) -> impl Iterator<Item = (usize, &str)> {
        self.unknown.iter().filter_map(|&index| match &self.slots[index] {
            Slot::Other(name) => Some((index, name.as_str())),
            Slot::Known(_) => None,
        })
    }

    /// The heading of a column, numbered where it is repeated.
    pub(super) fn name(&self, index: usize) -> &str {
        self.names.get(index).map_or("", String::as_str)
    }

    /// Columns with one meaning.
    pub(super) fn alike(&self) -> &[Alike] {
        &self.alike
    }

    /// Columns whose text is kept under a term besides.
    pub(super) fn verbatim(&self) -> &[(usize, &'static str)] {
        &self.verbatim
    }

    /// Whether the collector is the determiner, too: `leg./det.`.
    pub(super) fn collector_named(&self) -> bool {
        self.collector_named
    }

    /// In several languages a date is headed `Datum`. The first such column is the date where no other is; any
    /// other one is kept under its heading.
    fn datum_may_be_a_date(&mut self, table: &Table) {
        let mut dated = self.slots.contains(&Slot::Known(Column::Date)).then_some(0);
        let (mut used, mut kept) = (Vec::new(), Vec::new());
        for index in 0..self.slots.len() {
            if self.slots[index] != Slot::Known(Column::Datum)
                || !is_date(table, index, dated.is_none())
            {
                continue;
            }
            if dated.is_none() {
                dated = Some(index);
                used.push(index);
                self.slots[index] = Slot::Known(Column::Date);
            } else {
                kept.push(index);
                self.slots[index] = Slot::Other(self.names[index].clone());
            }
        }
        if !kept.is_empty() {
            self.alike.retain(|alike| alike.column != Column::Datum);
            let of_date = || self.place(Column::Date).into_iter().collect();
            let used = if used.is_empty() { of_date() } else { used };
            self.alike.push(Alike { column: Column::Date, used, kept });
        } else if !used.is_empty() {
            self.alike.retain(|alike| alike.column != Column::Datum);
        }
    }

    /// A column headed `Höhe` or `height` holds elevations where most of its cells are a hundred metres or
    /// more, which no tree and no fruiting body has.
    fn height_may_be_an_elevation(&mut self, table: &Table) {
        const TALLEST: f64 = 100.0;
        if self.slots.contains(&Slot::Known(Column::Elevation)) {
            return;
        }
        let heights = |heading: &String| headings::is_height(heading);
        let Some(index) = table.headings.iter().position(heights) else { return };
        let cells = || table.rows.iter().filter_map(|row| filled(row.cells.get(index)?));
        let habit = Habit::of(cells(), None, Quantity::Elevation, false);
        // where marks are open, the larger reading
        let high = |cell: &&str| {
            let readings = habit.readings(cell).unwrap_or_default();
            readings.iter().any(|reading| reading.low.0 >= TALLEST)
        };
        if index < self.slots.len() && 2 * cells().filter(high).count() > cells().count() {
            self.slots[index] = Slot::Known(Column::Elevation);
        }
    }

    /// Where a column stands first.
    pub(super) fn place(&self, column: Column) -> Option<usize> {
        self.slots.iter().position(|slot| *slot == Slot::Known(column))
    }

    pub(super) fn slots(&self) -> &[Slot] {
        &self.slots
    }

    /// The filled cells of a row under a column.
    pub(super) fn cells<'r>(
        &'r self,
        row: &'r Row,
        column: Column,
    ) -> impl Iterator<Item = &'r str> + Clone + 'r {
        let first = self.known.partition_point(|(known, _)| *known < column);
        let places = self.known[first..].iter().take_while(move |(known, _)| *known == column);
        places.filter_map(|(_, place)| filled(row.cells.get(*place)?))
    }

    /// The text under a term that is kept as typed, where no other column of the row serves for it.
    pub(super) fn typed(&self, row: &Row, term: &str) -> Option<String> {
        let own = |slot: &Slot| matches!(slot, Slot::Other(name) if name == term);
        let mut cells = self.slots.iter().zip(&row.cells);
        cells.find_map(|(slot, cell)| filled(cell).filter(|_| own(slot)).map(str::to_owned))
    }

    /// What the cells of a column of lengths and its heading show.
    pub(super) fn lengths(&self, table: &Table, column: Column, quantity: Quantity) -> Habit {
        let heading = self.place(column).and_then(|place| table.headings.get(place));
        let both = heading.is_some_and(|heading| headings::names_both_units(heading));
        let unit = heading.filter(|_| !both).and_then(|heading| headings::unit(heading));
        let cells = table.rows.iter().flat_map(|row| self.cells(row, column));
        // common practice: feet are written where English is
        let foreign = |heading: &String| translated::is_foreign(heading);
        let english = !heading.is_some_and(foreign)
            && table.headings.iter().filter(|heading| foreign(heading)).count() < 2;
        let feet = quantity == Quantity::Elevation && (both || english);
        Habit::of(cells, unit, quantity, feet)
    }

    /// The text under a column; of several columns joined by semicolons.
    pub(super) fn text(&self, row: &Row, column: Column) -> Option<String> {
        let mut parts = self.cells(row, column);
        let first = parts.next()?;
        let Some(second) = parts.next() else { return Some(first.to_owned()) };
        let mut parts: Vec<&str> = [first, second].into_iter().chain(parts).collect();
        parts.dedup();
        Some(parts.join("; "))
    }
}

/// Whether a column headed `Datum` holds dates, by all of its cells: no fewer are dates than systems of coordinates. A
/// column of neither holds dates where the other headings are of a language in which this is the word for them, and
/// no other column has dates.
fn is_date(table: &Table, index: usize, is_only: bool) -> bool {
    /// So many rows are looked at, and so many cells that are no dates.
    const MOST: (usize, usize) = (2_000, 20);
    let (mut dates, mut systems, mut others) = (0, 0, 0);
    for cell in table.rows.iter().take(MOST.0).filter_map(|row| filled(row.cells.get(index)?)) {
        if date::read(cell).is_some() || date::with_year(cell, "2000").is_some() {
            dates += 1;
        } else if others < MOST.1 {
            others += 1;
            systems += usize::from(position::is_system(cell));
        }
    }
    if dates + systems > 0 {
        return dates > 0 && dates >= systems;
    }
    let heading = &table.headings[index];
    is_only
        && headings::bare(heading) == "datum"
        && table.headings.iter().any(|own| translated::is_foreign(own))
}

/// Names for columns whose headings are kept as they are.
#[derive(Default)]
struct OwnHeadings {
    taken: HashSet<String>,
    /// The number appended to a repeated heading.
    next: HashMap<String, usize>,
}

impl OwnHeadings {
    /// The heading itself, numbered where it is empty or repeated.
    fn name(&mut self, heading: &str, index: usize) -> String {
        let heading = heading.split_whitespace().collect::<Vec<_>>().join(" ");
        if heading.is_empty() {
            return format!("column {}", index + 1);
        }
        let mut name = heading.clone();
        let next = self.next.entry(heading.clone()).or_insert(2);
        while !self.taken.insert(name.clone()) {
            name = format!("{heading} ({next})");
            *next += 1;
        }
        name
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_that_stand_again_are_numbered() {
        let mut own = OwnHeadings::default();
        let names = ["Soil", "Soil (2)", " Soil", "Soil", "", "Soil (2)"];
        let names: Vec<String> =
            names.iter().enumerate().map(|(index, name)| own.name(name, index)).collect();
        let expected = ["Soil", "Soil (2)", "Soil (3)", "Soil (4)", "column 5", "Soil (2) (2)"];
        assert_eq!(names, expected);
    }

    #[test]
    fn a_second_column_does_not_take_the_field_of_the_first() {
        let text = "Number,Date,Smell,smell,Country,country\n1,2026-05-03,faint,of flour,AU,au\n";
        let table = super::super::table::read(text, &Columns::default()).unwrap().unwrap();
        let layout = Layout::of(&table, &Columns::default());
        assert_eq!(layout.slots()[2], Slot::Known(Column::Smell));
        assert_eq!(layout.slots()[3], Slot::Other("smell (2)".into()));
        assert_eq!(layout.slots()[5], Slot::Other("country (2)".into()));
    }

    #[test]
    fn each_heading_that_stands_again_is_tried_once() {
        let mut own = OwnHeadings::default();
        for count in 0..50_000 {
            own.name("Soil", count);
        }
        assert_eq!(own.next["Soil"], 50_001);
    }
}
