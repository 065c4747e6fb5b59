//! What years of days say: sites, visits, effort, season, detection, density. Pure: no clock, no
//! disk, no printing. Layer: `analyse`.
