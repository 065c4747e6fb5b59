//! Reads a changed identification of a listed find. A changed name is a new identification; another
//! determiner, date or remark for the same name corrects the present one. Layer: `commands`.

use jiff::civil::Date;

use crate::error::{Error, Result};
use crate::ingest::record::listing;
use crate::model::{Determination, Field, KeptFind, Patch};

/// What of an identification was changed; `None` for a cell that was not.
#[derive(Debug, Default)]
pub(super) struct Edited {
    /// The name with its qualifier.
    pub(super) name: Option<String>,
    pub(super) determiner: Option<String>,
    pub(super) on: Option<String>,
    pub(super) type_status: Option<String>,
    /// Method and remarks as one text.
    pub(super) remarks: Option<String>,
}

/// The identification that was meant, if any was changed.
pub(super) fn determination(find: &KeptFind, edited: Edited, today: Date) -> Result<Option<Patch>> {
    let Edited { name, determiner, on, type_status, remarks } = edited;
    if [&name, &determiner, &on, &type_status, &remarks].iter().all(|part| part.is_none()) {
        return Ok(None);
    }
    let mut named = match name {
        Some(name) => Determination { name, accepted: true, ..Determination::default() },
        None => accepted(find),
    };
    if named.name.is_empty() && determiner.as_deref().is_some_and(|name| !name.is_empty()) {
        return Err(Error::input("a determiner without a name")
            .because("the row says who identified the find, and not as what")
            .hint("fill in the name"));
    }
    let filled = |text: String| Some(text).filter(|text| !text.is_empty());
    if let Some(determiner) = determiner {
        named.determiner = filled(determiner);
    }
    if let Some(on) = on {
        named.on = date(find, &on, today)?;
    }
    if let Some(type_status) = type_status {
        named.type_status = filled(type_status);
    }
    if let Some(remarks) = remarks {
        set_remarks(&mut named, remarks);
    }
    Ok(Some(Patch::Determination(named)))
}

/// The identification in force.
pub(in super::super) fn accepted(find: &KeptFind) -> Determination {
    let of_record = || {
        let field = |field: &Field| find.record.fields.get(field).cloned();
        let on = field(&Field::Other("dateIdentified".to_owned()));
        Determination {
            name: find.record.name.clone().unwrap_or_default(),
            determiner: field(&Field::IdentifiedBy),
            on: on.and_then(|on| listing::dates(&on).first().copied()),
            accepted: true,
            ..Determination::default()
        }
    };
    find.determinations.iter().find(|named| named.accepted).cloned().unwrap_or_else(of_record)
}

fn date(find: &KeptFind, cell: &str, today: Date) -> Result<Option<Date>> {
    if cell.is_empty() {
        return Ok(None);
    }
    match listing::dates(cell)[..] {
        [on] => possible(on, find.date, today).map(Some),
        [a, b] => Err(Error::input(format!("the date \"{cell}\" can be read in two ways"))
            .because(format!("{a} or {b}"))
            .hint("write it as 2026-05-03")),
        _ => Err(Error::input(format!("\"{cell}\" is not a date")).hint("write it as 2026-05-03")),
    }
}

/// A find is identified on the day of collecting or later, and not in the future.
///
/// # Errors
/// For every other date.
pub(in super::super) fn possible(on: Date, collected: Date, today: Date) -> Result<Date> {
    let (what, why) = if on < collected {
        ("before it was collected", format!("it was collected on {collected}"))
    } else if on > today.max(collected) {
        ("which is in the future", format!("it is {today} at the most anywhere"))
    } else {
        return Ok(on);
    };
    Err(Error::input(format!("it was identified on {on}, {what}"))
        .because(why)
        .hint("correct the date of the identification"))
}

/// `method: microscopy; spores seen`: the method apart where it is the one known.
fn set_remarks(named: &mut Determination, text: String) {
    let method = named.method.clone().unwrap_or_default();
    let rest = text.strip_prefix(&format!("method: {method}")).filter(|_| !method.is_empty());
    let remarks = if let Some(rest) = rest {
        rest.trim_start_matches([';', ' ']).to_owned()
    } else {
        named.method = None;
        text
    };
    named.remarks = Some(remarks).filter(|remarks| !remarks.is_empty());
}
