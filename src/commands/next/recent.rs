//! Loads the weather before the date of `trug next`, and applies it where it has earned its place. Layer:
//! `commands`.

use jiff::civil::Date;

use crate::analyse::next::rank::Outlook;
use crate::analyse::next::weather::{Recent, areas_of_sites, recent};
use crate::analyse::season::Stint;
use crate::analyse::sites::Sites;
use crate::analyse::spotted::belongs;
use crate::commands::console::Console;
use crate::commands::years::Years;
use crate::error::Result;
use crate::model::SiteId;
use crate::units::LatLon;

/// The estimates under the weather before the date, and what became of that weather. Only outings before
/// the date count, as in the estimates.
pub(super) fn with_weather(
    years: &Years,
    sites: &Sites,
    outlook: Outlook,
    (taxon, date): (Option<&str>, Date),
    console: &Console,
) -> Result<(Outlook, Recent)> {
    if years.store.weather_stations()?.is_empty() {
        return Ok((outlook, Recent::NoStation));
    }
    let hours = years.hours(console)?;
    let wanted = |name: &str| taxon.is_none_or(|taxon| belongs(name, taxon));
    let mut stints: Vec<Stint> = hours.stints(&years.seen, wanted);
    stints.retain(|stint| stint.date < date);
    let weathers = years.weathers()?;
    let effect = match weathers.series_effect(&stints) {
        Ok(effect) => effect,
        Err(little) => return Ok((outlook, Recent::TooLittle(little))),
    };
    let listed: Vec<SiteId> = outlook.sites.iter().map(|own| own.site).collect();
    let places: Vec<(SiteId, LatLon)> = sites.sites.iter().map(|site| (site.id, site.at)).collect();
    let areas = areas_of_sites(&places, &weathers.areas);
    let (state, factors) = recent(&effect, &listed, &areas, date);
    Ok((outlook.under(factors), state))
}
