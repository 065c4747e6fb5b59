//! Finds the one find or outing that a user means, or asks for what settles it. Layer: `commands`.

use std::env;

use jiff::Timestamp;
use jiff::civil::Date;

use crate::error::{Error, Result};
use crate::model::{Authored, KeptFind};
use crate::store::{KeptOuting, NumberQuery, Store};

/// The most finds listed in a question.
const LISTED: usize = 6;

/// The find with this number, or beginning of an identifier, on this day by this collector.
pub(super) fn find(
    store: &Store,
    number: &str,
    day: Option<Date>,
    collector: Option<&str>,
) -> Result<KeptFind> {
    let query =
        NumberQuery { number: number.to_owned(), day, collector: collector.map(str::to_owned) };
    let mut found = store.finds_of_number(&query)?;
    // one that is not withdrawn is meant before one that is
    if found.len() > 1 && found.iter().filter(|find| find.withdrawn.is_none()).count() == 1 {
        found.retain(|find| find.withdrawn.is_none());
    }
    match found.len() {
        1 => Ok(found.remove(0)),
        0 => Err(none(store, number, day, collector)?),
        count => Err(several(number, count, &found)),
    }
}

fn none(store: &Store, number: &str, day: Option<Date>, collector: Option<&str>) -> Result<Error> {
    let query = NumberQuery { number: number.to_owned(), day: None, collector: None };
    let anywhere = store.finds_of_number(&query)?;
    let whose = collector.map(|name| format!(" by {name}")).unwrap_or_default();
    let when = day.map(|day| format!(" on {day}")).unwrap_or_default();
    let error = Error::input(format!("there is no find {number}{when}{whose}"));
    Ok(if anywhere.is_empty() {
        error
            .because("no find in the store has this number or identifier")
            .hint("list the finds with trug finds")
    } else {
        error
            .because(format!("the number is used on {}", listed(&anywhere)))
            .hint("correct the day or the collector")
    })
}

fn several(number: &str, count: usize, found: &[KeptFind]) -> Error {
    let days = found.iter().any(|find| find.date != found[0].date);
    let collectors = found.iter().any(|find| find.collector != found[0].collector);
    let hint = match (days, collectors) {
        (true, _) => format!("add the day, such as --day {}", found[0].date),
        (false, true) => format!(
            "add the collector, such as --found-by \"{}\"",
            found[0].collector.as_deref().unwrap_or_default()
        ),
        (false, false) => {
            format!("give the identifier instead of the number, such as {}", short(&found[0]))
        }
    };
    Error::input(format!("{count} finds have the number {number}"))
        .because(listed(found))
        .hint(hint)
}

fn listed(found: &[KeptFind]) -> String {
    let one = |find: &KeptFind| {
        let whose = find.collector.as_deref().map(|name| format!(" by {name}"));
        format!("{}{} ({})", find.date, whose.unwrap_or_default(), short(find))
    };
    let mut shown: Vec<String> = found.iter().take(LISTED).map(one).collect();
    if found.len() > LISTED {
        shown.push(format!("{} more", found.len() - LISTED));
    }
    shown.join(", ")
}

/// The beginning of the identifier.
fn short(find: &KeptFind) -> String {
    find.id.to_string().chars().take(13).collect()
}

/// The outings of a day, of one collector where named.
pub(super) fn outings(
    store: &Store,
    day: Date,
    collector: Option<&str>,
) -> Result<Vec<KeptOuting>> {
    let mut outings = store.outings()?;
    outings.retain(|outing| outing.date == day);
    if outings.is_empty() {
        return Err(Error::input(format!("there is no outing on {day}"))
            .because("no outing in the store began on that local date")
            .hint("list the dates with trug effort --by day"));
    }
    let who: Vec<String> = outings.iter().map(named).collect();
    if let Some(name) = collector {
        let plain = |name: &str| name.trim().to_lowercase();
        outings.retain(|outing| {
            outing.collector.as_deref().is_some_and(|own| plain(own) == plain(name))
        });
        if outings.is_empty() {
            return Err(Error::input(format!("{name} has no outing on {day}"))
                .because(format!("its collectors are {}", who.join(", ")))
                .hint("write the name as it is stored"));
        }
    }
    Ok(outings)
}

/// The one outing of a day.
pub(super) fn outing(store: &Store, day: Date, collector: Option<&str>) -> Result<KeptOuting> {
    let mut outings = outings(store, day, collector)?;
    if outings.len() == 1 {
        return Ok(outings.remove(0));
    }
    let who: Vec<String> = outings
        .iter()
        .map(|outing| format!("{} ({})", named(outing), &outing.id.to_string()[..13]))
        .collect();
    Err(Error::input(format!("{} outings began on {day}", outings.len()))
        .because(who.join(", "))
        .hint("give the beginning of the outing's identifier instead of the day"))
}

/// Its collector.
pub(super) fn named(outing: &KeptOuting) -> String {
    outing.collector.clone().unwrap_or_else(|| "no collector".to_owned())
}

/// Who makes a change: as stated, else the user of this machine.
pub(super) fn authored(who: Option<&str>, reason: Option<&str>) -> Authored {
    let of_machine = || {
        let names = ["USER", "LOGNAME", "USERNAME"];
        names.iter().find_map(|name| env::var(name).ok()).filter(|name| !name.trim().is_empty())
    };
    Authored {
        who: who.map(str::to_owned).or_else(of_machine),
        made: Timestamp::now(),
        reason: reason.map(|reason| reason.trim().to_owned()).filter(|reason| !reason.is_empty()),
    }
}
