//! Lists the edits by another program that opening a store took in: refused ones, those that look like a slip, and
//! the others. Layer: `commands`.

use super::checklist;
use super::console::Console;
use crate::error::{Error, Result};
use crate::model::{Change, ChangeLine};
use crate::present::corrections::TakenIn;
use crate::present::summary::words::counted;
use crate::store::{NumberQuery, Store};

/// The most edits that are listed; the journal has all of them.
const LISTED: usize = 20;

/// Lists the edits by another program that opening the store took in. Refused and doubtful ones make the exit
/// status that of inputs in doubt.
pub(super) fn list_taken_in(store: &Store, console: &mut Console) -> Result<()> {
    let Some(change) = store.taken_in().map(|id| store.change(id)).transpose()?.flatten() else {
        return Ok(());
    };
    let TakenIn { refused, mut doubtful, other } = TakenIn::of(&change);
    doubtful.extend(used_numbers(store, &change)?);
    let named = |line: &&ChangeLine| line.property == "determination" && line.refused.is_none();
    let names = change.amendments.iter().filter(named).map(|line| line.after.as_str());
    checklist::note_names(store, names, console)?;
    if !refused.is_empty() {
        let count = counted(refused.len(), "edit", "edits");
        console.doubt(
            &Error::input(format!("{count} by another program refused"))
                .because(listed(&refused).join("; "))
                .hint("the values before are in force; correct these finds with trug amend"),
        );
    }
    if !doubtful.is_empty() {
        let count = counted(doubtful.len(), "edit", "edits");
        console.doubt(
            &Error::input(format!("{count} by another program may be a slip"))
                .because(listed(&doubtful).join("; "))
                .hint(format!("if they are: trug undo {}", change.id)),
        );
    }
    if !other.is_empty() {
        let count = counted(other.len(), "edit", "edits");
        let id = change.id;
        console.note(&format!(
            "{count} by another program taken in as change {id}; to reverse: trug undo {id}\n{}",
            listed(&other).iter().map(|line| format!("  {line}")).collect::<Vec<_>>().join("\n")
        ));
    }
    Ok(())
}

/// The most edited numbers that are looked up.
const LOOKED_UP: usize = 1_000;

/// Edited numbers that another find of the same collector has.
fn used_numbers(store: &Store, change: &Change) -> Result<Vec<String>> {
    let mut used = Vec::new();
    let is_number = |line: &&ChangeLine| line.property == "number" && line.refused.is_none();
    for line in change.amendments.iter().filter(is_number).take(LOOKED_UP) {
        let query = NumberQuery { number: line.after.clone(), day: None, collector: None };
        let same = store.finds_of_number(&query)?;
        let own = same.iter().find(|find| Some(find.id) == line.find);
        let other = same.iter().find(|find| {
            let is_other = Some(find.id) != line.find && find.withdrawn.is_none();
            is_other && own.is_none_or(|own| own.collector == find.collector)
        });
        if let Some(other) = other {
            let (number, date) = (&line.after, other.date);
            used.push(format!("{number} is also the number of a find of {date}"));
        }
    }
    Ok(used)
}

fn listed(lines: &[String]) -> Vec<String> {
    let mut shown: Vec<String> = lines.iter().take(LISTED).cloned().collect();
    if lines.len() > LISTED {
        shown.push(format!("{} more; trug history lists them", lines.len() - LISTED));
    }
    shown
}
