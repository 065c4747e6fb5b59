//! Packs `proj.db`, the table of reference systems that PROJ needs at run time, into the binary, so
//! that a copied binary keeps working when the build folder is gone.

use std::error::Error;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::{env, io};

use flate2::Compression;
use flate2::write::GzEncoder;

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo:rerun-if-changed=build.rs");
    let out = PathBuf::from(env::var("OUT_DIR")?);
    let database = newest_proj_database(&out)?;
    let mut packed = GzEncoder::new(File::create(out.join("proj.db.gz"))?, Compression::best());
    io::copy(&mut File::open(database)?, &mut packed)?;
    packed.finish()?;
    Ok(())
}

/// Every build script has a folder beside ours; the one of `proj-sys` leaves `share/proj/proj.db`.
fn newest_proj_database(out: &Path) -> Result<PathBuf, Box<dyn Error>> {
    let scripts = out.ancestors().nth(2).ok_or("OUT_DIR is not inside a build folder")?;
    fs::read_dir(scripts)?
        .filter_map(Result::ok)
        .filter(|entry| entry.file_name().to_string_lossy().starts_with("proj-sys-"))
        .map(|entry| entry.path().join("out/share/proj/proj.db"))
        .filter(|path| path.is_file())
        .max_by_key(|path| path.metadata().and_then(|data| data.modified()).ok())
        .ok_or_else(|| {
            "no proj.db beside this build: was crate proj-sys built with bundled_proj?".into()
        })
}
