//! Finds the areas of all outings and the weather that their stations give. Layer: `commands`.

use std::collections::HashMap;

use jiff::civil::Date;
use uuid::Uuid;

use super::Years;
use crate::analyse::season::Stint;
use crate::analyse::weather::effect::TooLittleWeather;
use crate::analyse::weather::{
    Area, Local, Sought, WeatherEffect, areas, estimate, estimate_series, local,
};
use crate::analyse::years::Adjust;
use crate::error::Result;
use crate::units::Metres;

/// The weather of all outings.
pub(in crate::commands) struct Weathers {
    /// The areas with the weather of each.
    pub(in crate::commands) areas: Vec<(Area, Local)>,
}

impl Weathers {
    /// The effect of weather on the finds of these stints.
    ///
    /// # Errors
    /// When too few outings with a find have weather.
    pub(in crate::commands) fn effect(
        &self,
        stints: &[Stint],
    ) -> std::result::Result<WeatherEffect, TooLittleWeather> {
        estimate(stints, &self.of_outings())
    }

    /// The same without the single measures.
    ///
    /// # Errors
    /// When too few outings with a find have weather.
    pub(in crate::commands) fn series_effect(
        &self,
        stints: &[Stint],
    ) -> std::result::Result<WeatherEffect, TooLittleWeather> {
        estimate_series(stints, &self.of_outings())
    }

    fn of_outings(&self) -> Vec<(Vec<usize>, &Local)> {
        self.areas.iter().map(|(area, local)| (area.outings.clone(), local)).collect()
    }

    /// The logarithm of what the weather did to each outing; none where it has not earned its place.
    pub(in crate::commands) fn adjust(
        &self,
        effect: &WeatherEffect,
        stints: &[Stint],
    ) -> Option<Adjust> {
        let dates: HashMap<usize, Date> =
            stints.iter().map(|stint| (stint.outing, stint.date)).collect();
        let mut adjust = Adjust::new();
        for (number, (area, _)) in self.areas.iter().enumerate() {
            for outing in &area.outings {
                let Some(date) = dates.get(outing) else { continue };
                let (factor, _) = effect.forecast(number, *date)?;
                adjust.insert(*outing, factor.factor.ln());
            }
        }
        Some(adjust)
    }
}

impl Years {
    /// Where each outing was and how high, in the order of the outings.
    fn sought(&self) -> Vec<Option<Sought>> {
        let mut heights: HashMap<Uuid, Vec<f64>> = HashMap::new();
        let mut places = HashMap::new();
        for find in &self.finds {
            places.entry(find.outing).or_insert(find.at);
            heights.entry(find.outing).or_default().extend(find.height);
        }
        let mut median = |outing: &Uuid| {
            let heights = heights.get_mut(outing)?;
            heights.sort_unstable_by(f64::total_cmp);
            heights.get(heights.len() / 2).copied().map(Metres)
        };
        self.outings
            .iter()
            .map(|outing| {
                let at = outing.began.or_else(|| places.get(&outing.id).copied())?;
                Some(Sought { at, elevation: median(&outing.id) })
            })
            .collect()
    }

    /// The areas of all outings with their weather.
    pub(in crate::commands) fn weathers(&self) -> Result<Weathers> {
        let series = self.store.weather()?;
        let areas = areas(&self.sought())
            .into_iter()
            .map(|area| {
                let weather = local(&series, area.at, area.elevation);
                (area, weather)
            })
            .collect();
        Ok(Weathers { areas })
    }
}
