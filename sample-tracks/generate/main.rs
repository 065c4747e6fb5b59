//! Makes the sample days: four outings of an invented society in an invented reserve, and two earlier
//! years, with the truth beside them. The same bytes every time.
//!
//! `cargo run --example generate` writes into `sample-tracks`; another folder may be named.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "whole seconds, pixels and small counts"
)]

mod chance;
mod days;
mod drawing;
mod exif;
mod ground;
mod notebook;
mod outing;
mod receiver;
mod society;
mod tracks;
mod walk;

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
    let mut folders = vec![days::clear_day(), days::gap_day(), days::troubled_day()];
    folders.extend(days::night_walk());
    folders.push(days::earlier_year(2024, &[(4, 13), (4, 27), (5, 11), (5, 25), (6, 8)], 1));
    folders.push(days::earlier_year(2025, &[(4, 12), (4, 26), (5, 10), (5, 24), (6, 7)], 301));
    let mut finds = "folder,file,line,recordNumber,decimalLatitude,decimalLongitude,\
                     height_m,time_utc\n"
        .to_owned();
    let mut cameras = "folder,make,model,serial,photographs,ahead_s\n".to_owned();
    for folder in &folders {
        write_folder(&into, folder, &mut finds, &mut cameras)?;
    }
    let truth = into.join("truth");
    fs::create_dir_all(&truth)?;
    fs::write(truth.join("finds.csv"), finds)?;
    fs::write(truth.join("cameras.csv"), cameras)?;
    Ok(())
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
