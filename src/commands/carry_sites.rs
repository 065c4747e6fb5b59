//! Adds sites and the round of the day to the page to carry: exact unless sensitive; exact sensitive places only
//! encrypted. Layer: `commands`.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use jiff::Timestamp;
use uuid::Uuid;

use super::carry::{Arguments, Which};
use super::console::Console;
use super::years::Years;
use super::{carry_inputs, next, others};
use crate::analyse::sites::SiteRule;
use crate::earth::local::Plane;
use crate::error::{Error, Result, read_regular};
use crate::model::{KeptFind, Site};
use crate::present::carry::{CarriedSite, Carry, seal, secret};
use crate::present::sensitive::Care;
use crate::store::FindQuery;
use crate::units::LatLon;

/// Taxa listed for a site.
const TAXA: usize = 8;
/// The shortest passphrase, letters (project choice).
const SHORTEST: usize = 12;

/// Adds the sites that are asked for.
pub(super) fn add(carried: &mut Carry, arguments: &Arguments, console: &mut Console) -> Result<()> {
    let path = arguments.store.path();
    let passphrase = arguments.passphrase.as_deref().map(passphrase).transpose()?;
    if let Some(hours) = arguments.hours {
        let from = carried.safe.first().map(|goal| goal.at.to_string());
        let asked = (carried.day, arguments.start, hours, from);
        carried.round = Some(next::round_to_carry(&arguments.store, asked, console)?);
    }
    let wants_sites = arguments.sites != Which::None;
    if !wants_sites && passphrase.is_none() {
        return Ok(());
    }
    let mut years = Years::open(&path)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let wanted = |site: &&Site| match (arguments.sites, &carried.round) {
        (Which::All, _) => true,
        (Which::Round, Some(round)) => round.sites.contains(&site.id.0),
        _ => false,
    };
    let chosen: Vec<&Site> =
        sites.sites.iter().filter(|site| in_area(carried, site.at)).filter(wanted).collect();
    let care = Care::ExactUnlessSensitive;
    let prepared = others::prepare_query(&years.store, &FindQuery::default(), care)?;
    others::print_notices(&prepared.shown.notices, console);
    let shown: HashMap<Uuid, &KeptFind> =
        prepared.shown.finds.iter().map(|find| (find.id, find)).collect();
    let exact: HashMap<Uuid, &KeptFind> =
        prepared.originals.iter().map(|find| (find.id, find)).collect();
    let (mut listed, mut hidden, mut in_cells) = (Vec::new(), Vec::new(), HashSet::new());
    for site in chosen {
        let finds: Vec<Uuid> = site.finds.iter().map(|find| years.finds[*find].id).collect();
        let sensitive =
            finds.iter().any(|id| shown.get(id).is_some_and(|f| f.generalised.is_some()));
        if sensitive {
            hidden.push(exactly(site, &finds, &exact));
            listed.extend(generalised(site, &finds, &shown));
            in_cells.extend(finds);
        } else {
            listed.push(exactly(site, &finds, &shown));
        }
    }
    // later outputs follow from the cells of this page
    let published = prepared.published_within(|find| in_cells.contains(&find.id));
    years.store.record_published(&published, Timestamp::now())?;
    carried.withheld = hidden.len();
    carried.sites = listed;
    if let Some(passphrase) = passphrase {
        let paths = carry_inputs::all_paths(arguments, carried, console)?;
        let text = secret(&hidden, paths.as_ref(), carried.centre);
        let nonce = *Uuid::new_v4().as_bytes();
        let nonce = blake3::hash(&nonce).as_bytes().first_chunk::<12>().copied();
        let salt = *Uuid::new_v4().as_bytes();
        carried.sealed = Some(seal::seal(&text, &passphrase, salt, nonce.unwrap_or_default())?);
    }
    Ok(())
}

fn in_area(carried: &Carry, at: LatLon) -> bool {
    let (east, north) = Plane::about(carried.centre).to_plane(at);
    east.abs().max(north.abs()) <= carried.reach.0
}

fn exactly(site: &Site, finds: &[Uuid], known: &HashMap<Uuid, &KeptFind>) -> CarriedSite {
    CarriedSite {
        id: site.id.0,
        name: site.name.clone(),
        at: [site.at.latitude(), site.at.longitude()],
        radius_m: site.radius.metres().0.ceil(),
        generalised: false,
        taxa: taxa(finds, known),
        last: finds.iter().filter_map(|id| known.get(id)).map(|find| find.date).max(),
    }
}

/// The cell of a sensitive site; `None` where its coordinates are withheld.
fn generalised(
    site: &Site,
    finds: &[Uuid],
    shown: &HashMap<Uuid, &KeptFind>,
) -> Option<CarriedSite> {
    let levels = finds.iter().filter_map(|id| {
        let find = shown.get(id)?;
        Some((find.generalised.as_ref()?, find.place.as_ref()))
    });
    let (strictest, place) = levels.max_by_key(|(generalised, _)| generalised.level)?;
    strictest.cell?;
    let place = place?;
    Some(CarriedSite {
        id: site.id.0,
        name: None,
        at: [place.at.latitude(), place.at.longitude()],
        radius_m: place.radius.metres().0.ceil(),
        generalised: true,
        taxa: Vec::new(),
        last: None,
    })
}

/// The names, the most frequent first.
fn taxa(finds: &[Uuid], known: &HashMap<Uuid, &KeptFind>) -> Vec<String> {
    let mut counts: HashMap<&str, usize> = HashMap::new();
    for find in finds.iter().filter_map(|id| known.get(id)) {
        if let Some(name) = find.record.name.as_deref().map(str::trim).filter(|n| !n.is_empty()) {
            *counts.entry(name).or_default() += 1;
        }
    }
    let mut names: Vec<(&str, usize)> = counts.into_iter().collect();
    names.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    names.into_iter().take(TAXA).map(|(name, _)| name.to_owned()).collect()
}

fn passphrase(file: &Path) -> Result<String> {
    let bytes = read_regular(file).map_err(|source| Error::file("read", file, &source))?;
    let text = String::from_utf8_lossy(&bytes);
    let line = text.lines().next().unwrap_or_default().trim();
    let letters = line.chars().count();
    if letters < SHORTEST {
        return Err(Error::input(format!("the passphrase in {} is too short", file.display()))
            .because(format!("its first line has {letters} letters; {SHORTEST} are needed"))
            .hint("write a sentence of several words into the first line"));
    }
    Ok(line.to_owned())
}
