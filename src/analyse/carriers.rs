//! Determines who carried each receiver, for the rule that two tracks show one walk: from the collector, else from
//! names of people in the names of the track's file and folders, else from the people whose tracks lie in the same
//! folder on other dates. None of it depends on what was found on the date of the track. Layer: `analyse`.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};

use jiff::civil::Date;

use crate::model::same_person;

/// What decides who carried a receiver.
#[derive(Clone, Copy, Debug)]
pub struct Carried<'a> {
    /// The local date of the outing.
    pub date: Date,
    /// The collector that its records name.
    pub collector: Option<&'a str>,
    /// The file of its track; none without a track.
    pub file: Option<&'a Path>,
}

/// Who carried a receiver.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Carrier {
    /// The person, in one spelling; none where nothing tells.
    pub person: Option<String>,
    /// The file of the track.
    file: Option<PathBuf>,
    /// The folder whose other tracks name the person; none where the collector or the file does.
    by_folder: Option<PathBuf>,
    /// Whether several people of the store carried receivers on another date.
    in_company: bool,
}

impl Carrier {
    /// A person without a track.
    #[cfg(test)]
    pub fn of(person: Option<&str>) -> Self {
        Self { person: person.and_then(plain), ..Self::default() }
    }

    /// Whether two tracks of the same time may be of one person.
    ///
    /// A folder that holds both tracks does not tell them apart. Where nothing tells, two tracks are of two people if
    /// several people of the store carry receivers on one date, else of one: neither depends on the finds of the date.
    #[must_use]
    pub fn may_be(&self, other: &Self) -> bool {
        match (self.person_beside(other), other.person_beside(self)) {
            (Some(own), Some(other)) => own == other,
            _ => !self.in_company && !other.in_company,
        }
    }

    fn person_beside(&self, other: &Self) -> Option<&str> {
        let holds_both =
            |folder: &PathBuf| other.file.as_ref().is_some_and(|file| below(file, folder));
        if self.by_folder.as_ref().is_some_and(holds_both) {
            return None;
        }
        self.person.as_deref()
    }
}

/// Whether a file lies in a folder; all files lie in the empty one.
fn below(file: &Path, folder: &Path) -> bool {
    folder.as_os_str().is_empty() || file.starts_with(folder)
}

fn plain(name: &str) -> Option<String> {
    let name = name.trim().to_lowercase();
    (!name.is_empty()).then_some(name)
}

/// Who carried the receiver of each outing.
#[must_use]
pub fn carriers(outings: &[Carried<'_>]) -> Vec<Carrier> {
    let people = People::of(outings.iter().filter_map(|own| own.collector));
    let root = common_folder(outings.iter().filter_map(|own| own.file));
    let company = Company::of(outings, &people, &root);
    let carrier = |own: &Carried<'_>| {
        let file = own.file.map(Path::to_path_buf);
        let in_company = company.on_other_dates(own.date);
        let named = own.collector.and_then(|name| people.id(name));
        let named = named.or_else(|| own.file.and_then(|file| people.named_in(file, &root)));
        let (id, by_folder) = match (named, own.file) {
            (None, Some(file)) => company.owner(file, own.date).unzip(),
            (named, _) => (named, None),
        };
        Carrier { person: id.map(|id| people.names[id].clone()), file, by_folder, in_company }
    };
    outings.iter().map(carrier).collect()
}

/// The collectors of a store, each in one spelling.
struct People {
    names: Vec<String>,
    of: HashMap<String, usize>,
}

impl People {
    fn of<'a>(collectors: impl Iterator<Item = &'a str>) -> Self {
        let spelled: BTreeSet<String> = collectors.filter_map(plain).collect();
        let (mut names, mut of): (Vec<String>, _) = (Vec::new(), HashMap::new());
        for name in spelled {
            let known = names
                .iter()
                .position(|known| several(known) == several(&name) && same_person(known, &name));
            let id = known.unwrap_or_else(|| {
                names.push(name.clone());
                names.len() - 1
            });
            of.insert(name, id);
        }
        Self { names, of }
    }

    fn id(&self, collector: &str) -> Option<usize> {
        self.of.get(&plain(collector)?).copied()
    }

    /// The person whom the name of the file, or the nearest folder below the root that names anybody, names.
    fn named_in(&self, file: &Path, root: &Path) -> Option<usize> {
        let folders = file.ancestors().skip(1).take_while(|folder| *folder != root);
        let folders = folders.take(DEEPEST).filter_map(Path::file_name);
        std::iter::once(file.file_stem()?).chain(folders).find_map(|name| {
            let words = words(&name.to_string_lossy());
            let hits = |id: usize| self.words_of(id).filter(|word| words.contains(word)).count();
            let most = (0..self.names.len()).map(hits).max().filter(|most| *most > 0)?;
            let mut best = (0..self.names.len()).filter(|id| hits(*id) == most);
            Some(best.next().filter(|_| best.next().is_none()))
        })?
    }

    /// The words of a name that a file can be named after: of three letters, and a shorter given name.
    fn words_of(&self, id: usize) -> impl Iterator<Item = String> {
        let words = if several(&self.names[id]) { Vec::new() } else { words(&self.names[id]) };
        let long = |place: usize, word: &String| {
            let letters = word.chars().count();
            letters >= 3 || place == 0 && letters == 2
        };
        words.into_iter().enumerate().filter(move |(k, word)| long(*k, word)).map(|(_, word)| word)
    }
}

/// How many folders above a file may name a person (project choice).
const DEEPEST: usize = 4;

/// Whether a collector is several people.
fn several(name: &str) -> bool {
    name.contains([';', '&', '+', '/', '|'])
}

fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

/// The folder that holds all files.
fn common_folder<'a>(mut files: impl Iterator<Item = &'a Path>) -> PathBuf {
    let Some(first) = files.next().and_then(Path::parent) else { return PathBuf::new() };
    files.fold(first.to_path_buf(), |shared, file| {
        let both = shared.components().zip(file.components());
        both.take_while(|(a, b)| a == b).map(|(a, _)| a).collect()
    })
}

/// The people whose tracks lie in each folder, and the dates on which several people carried receivers.
struct Company {
    root: PathBuf,
    folders: HashMap<PathBuf, BTreeMap<usize, BTreeSet<Date>>>,
    shared: BTreeSet<Date>,
}

impl Company {
    fn of(outings: &[Carried<'_>], people: &People, root: &Path) -> Self {
        let mut folders: HashMap<PathBuf, BTreeMap<usize, BTreeSet<Date>>> = HashMap::new();
        let mut on: BTreeMap<Date, BTreeSet<usize>> = BTreeMap::new();
        for own in outings {
            let named =
                own.collector.filter(|name| !several(name)).and_then(|name| people.id(name));
            let (Some(file), Some(person)) = (own.file, named) else { continue };
            on.entry(own.date).or_default().insert(person);
            for folder in file.ancestors().skip(1) {
                let of = folders.entry(folder.to_path_buf()).or_default();
                of.entry(person).or_default().insert(own.date);
                if folder == root {
                    break;
                }
            }
        }
        let shared = on.into_iter().filter(|(_, people)| people.len() > 1).map(|(date, _)| date);
        Self { root: root.to_path_buf(), folders, shared: shared.collect() }
    }

    /// Whether several people carried receivers on another date.
    fn on_other_dates(&self, date: Date) -> bool {
        self.shared.len() > usize::from(self.shared.contains(&date))
    }

    /// The only person whose tracks of other dates lie in the nearest folder that holds any, and the folder.
    fn owner(&self, file: &Path, date: Date) -> Option<(usize, PathBuf)> {
        let mut nearest = file.ancestors().skip(1).take_while(|folder| below(folder, &self.root));
        nearest.find_map(|folder| {
            let people = self.folders.get(folder)?;
            let elsewhere = |dates: &BTreeSet<Date>| dates.iter().any(|other| *other != date);
            let mut others = people.iter().filter(|(_, dates)| elsewhere(dates));
            let (first, _) = others.next()?;
            Some(others.next().is_none().then(|| (*first, folder.to_path_buf())))
        })?
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    const ILSE: Option<&str> = Some("Ilse Fennwick");
    const BO: Option<&str> = Some("Bo Harlan");

    /// Whether the last two may be of one person.
    fn may_be(outings: &[(i8, Option<&str>, &str)]) -> bool {
        let carried: Vec<Carried<'_>> = outings
            .iter()
            .map(|(day, collector, file)| Carried {
                date: date(2021, 9, *day),
                collector: *collector,
                file: Some(Path::new(*file)),
            })
            .collect();
        let found = carriers(&carried);
        found[found.len() - 2].may_be(&found[found.len() - 1])
    }

    #[test]
    fn a_folder_or_file_of_another_person_makes_two_people_without_a_find() {
        for (own, other) in [
            ("d/ilse/1.gpx", "d/bo/1.gpx"),
            ("d/2021/a-Ilse.gpx", "d/2021/a-Bo.gpx"),
            ("d/x/1.gpx", "d/y/1.gpx"),
            ("d/1.gpx", "d/2.gpx"),
        ] {
            let earlier = [(1, ILSE, own), (1, BO, other)];
            for pair in [
                [(2, ILSE, own), (2, BO, other)],
                [(2, ILSE, own), (2, None, other)],
                [(2, None, own), (2, None, other)],
            ] {
                let all: Vec<_> = earlier.into_iter().chain(pair).collect();
                assert!(!may_be(&all), "{own} {other} {pair:?}");
            }
        }
    }

    #[test]
    fn one_person_may_carry_two_receivers() {
        assert!(may_be(&[(1, ILSE, "d/1.gpx"), (2, ILSE, "d/2.gpx"), (2, None, "d/3.gpx")]));
        assert!(may_be(&[(1, ILSE, "d/a.gpx"), (2, ILSE, "d/a2.gpx"), (2, None, "d/phone/2.gpx")]));
        // in company, her own folder tells that the second receiver is hers
        let earlier =
            [(1, ILSE, "d/i/hand/1.gpx"), (1, ILSE, "d/i/phone/1.gpx"), (1, BO, "d/b/1.gpx")];
        let pair = [(2, ILSE, "d/i/hand/2.gpx"), (2, None, "d/i/phone/2.gpx")];
        assert!(may_be(&earlier.into_iter().chain(pair).collect::<Vec<_>>()));
    }

    #[test]
    fn folders_above_all_tracks_and_names_of_several_people_name_nobody() {
        let carried = |collector, file| Carried {
            date: date(2021, 9, 1),
            collector,
            file: Some(Path::new(file)),
        };
        let found = carriers(&[
            carried(ILSE, "home/bo/walks/1.gpx"),
            carried(BO, "home/bo/walks/2/2.gpx"),
            carried(None, "home/bo/walks/3.gpx"),
            carried(None, "home/bo/walks/ilse and bo.gpx"),
            carried(None, "home/bo/walks/fennwick.gpx"),
        ]);
        let names: Vec<_> = found.iter().map(|own| own.person.as_deref()).collect();
        let ilse = Some("ilse fennwick");
        assert_eq!(names, [ilse, Some("bo harlan"), None, None, ilse]);
    }
}
