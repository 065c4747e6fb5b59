//! Generates the sample days: six outings of an invented society in an invented reserve, and three
//! earlier autumns, with the truth. The output is the same bytes every time.
//!
//! `cargo run --example generate` writes into `sample-tracks` and `sample-map`; other folders may be named.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "whole seconds, pixels and small counts"
)]

mod autumns;
mod days;
mod drawing;
mod exif;
mod ground;
mod map;
mod notebook;
mod outing;
mod receiver;
mod rng;
mod society;
mod tracks;
mod walk;
mod weather;

use std::error::Error;
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use jpeg_encoder::{ColorType, Encoder};

use days::Folder;
use outing::Shot;

fn main() -> Result<(), Box<dyn Error>> {
    let into = std::env::args().nth(1).unwrap_or_else(|| "sample-tracks".to_owned());
    let into = PathBuf::from(into);
    let under = std::env::args().nth(2).unwrap_or_else(|| "sample-map".to_owned());
    map::write(Path::new(&under))?;
    let mut folders = vec![days::clear_day(), days::gap_day(), days::troubled_day()];
    folders.extend(days::night_walk());
    folders.extend([days::workbook_day(), days::kml_day()]);
    let mut number = 1;
    for year in autumns::YEARS {
        let folder = autumns::autumn(year, number);
        number += folder.lines.len();
        folders.push(folder);
    }
    let mut finds = "folder,file,line,recordNumber,decimalLatitude,decimalLongitude,\
                     height_m,time_utc\n"
        .to_owned();
    let mut cameras = "folder,make,model,serial,photographs,ahead_s\n".to_owned();
    for folder in &folders {
        write_folder(&into, folder, &mut finds, &mut cameras)?;
    }
    let weather = into.join("weather");
    fs::create_dir_all(&weather)?;
    fs::write(weather.join("nettlewick.csv"), weather::table())?;
    let truth = into.join("truth");
    fs::create_dir_all(&truth)?;
    fs::write(truth.join("finds.csv"), finds)?;
    fs::write(truth.join("cameras.csv"), cameras)?;
    fs::write(truth.join("seasons.csv"), seasons())?;
    Ok(())
}

/// What the sites give in the earlier years, whoever comes.
fn seasons() -> String {
    let mut rows =
        "kind,place,part,decimalLatitude,decimalLongitude,peak_day_of_year,sd_days,fruitings\n"
            .to_owned();
    for (index, site) in society::SITES.iter().enumerate() {
        let (latitude, longitude) = site.spot.degrees();
        let part = if autumns::is_far(index) { "far" } else { "near" };
        let _ = writeln!(
            rows,
            "{},{},{part},{latitude:.7},{longitude:.7},{},{},{}",
            site.kind.name,
            site.place,
            site.peak,
            outing::SEASON,
            autumns::fruitings(index)
        );
    }
    rows
}

fn write_folder(
    into: &Path,
    folder: &Folder,
    finds: &mut String,
    cameras: &mut String,
) -> Result<(), Box<dyn Error>> {
    let place = into.join(&folder.name);
    fs::create_dir_all(&place)?;
    for (name, track) in &folder.tracks {
        fs::write(place.join(name), track)?;
    }
    for shot in &folder.shots {
        fs::write(place.join(&shot.name), jpeg(shot)?)?;
    }
    let (records, begins) = folder.form.write(&folder.lines);
    fs::write(place.join(folder.form.file), records)?;
    for (truth, line) in folder.truths.iter().zip(begins) {
        let (latitude, longitude) = truth.find.degrees();
        writeln!(
            finds,
            "{},{},{line},{},{latitude:.7},{longitude:.7},{:.1},{}",
            folder.name,
            folder.form.file,
            truth.number,
            truth.find.height(),
            truth.instant
        )?;
    }
    if let Some(camera) = &folder.camera {
        writeln!(
            cameras,
            "{},{},{},{},{},{:.0}",
            folder.name,
            camera.make,
            camera.model,
            camera.serial,
            folder.shots.len(),
            camera.ahead
        )?;
    }
    Ok(())
}

fn jpeg(shot: &Shot) -> Result<Vec<u8>, Box<dyn Error>> {
    let mut bytes = Vec::new();
    let mut encoder = Encoder::new(&mut bytes, 62);
    encoder.add_app_segment(1, &exif::segment(&shot.header))?;
    encoder.encode(
        shot.drawing.pixels(),
        drawing::WIDTH as u16,
        drawing::HEIGHT as u16,
        ColorType::Rgb,
    )?;
    Ok(bytes)
}
