//! Packs what the binary needs at run time, so that a copied binary keeps working when the build
//! folder is gone: `proj.db`, the table of reference systems of PROJ, and the sample days of
//! `trug demo` with the map that they stand on.

use std::error::Error;
use std::fs::{self, File};
use std::path::{Path, PathBuf};
use std::{env, io};

use flate2::Compression;
use flate2::write::GzEncoder;

/// What of `sample-tracks` is not packed: the generator and the ground truth.
const NOT_PACKED: [&str; 2] = ["generate", "truth"];

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo:rerun-if-changed=build.rs");
    println!("cargo:rerun-if-changed=sample-tracks");
    println!("cargo:rerun-if-changed=sample-map");
    let out = PathBuf::from(env::var("OUT_DIR")?);
    pack(&out, "sample-tracks", "sample-days.tar.gz")?;
    pack(&out, "sample-map", "sample-map.tar.gz")?;
    let database = newest_proj_database(&out)?;
    let mut packed = GzEncoder::new(File::create(out.join("proj.db.gz"))?, Compression::best());
    io::copy(&mut File::open(database)?, &mut packed)?;
    packed.finish()?;
    Ok(())
}

/// Writes a folder as a compressed archive, in the order of its names and without times and owners, so
/// that equal files give equal bytes.
fn pack(out: &Path, folder: &str, name: &str) -> Result<(), Box<dyn Error>> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR")?).join(folder);
    let packed = GzEncoder::new(File::create(out.join(name))?, Compression::best());
    let mut archive = tar::Builder::new(packed);
    archive.mode(tar::HeaderMode::Deterministic);
    append(&mut archive, &root, Path::new(""))?;
    archive.into_inner()?.finish()?;
    Ok(())
}

fn append<W: io::Write>(
    archive: &mut tar::Builder<W>,
    root: &Path,
    inner: &Path,
) -> io::Result<()> {
    let mut names = fs::read_dir(root.join(inner))?
        .map(|entry| Ok(entry?.file_name()))
        .collect::<io::Result<Vec<_>>>()?;
    names.sort();
    for name in names.iter().filter(|name| NOT_PACKED.iter().all(|held| name.as_os_str() != *held))
    {
        let inner = inner.join(name);
        let path = root.join(&inner);
        if path.is_dir() {
            archive.append_dir(&inner, &path)?;
            append(archive, root, &inner)?;
        } else {
            archive.append_path_with_name(&path, &inner)?;
        }
    }
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
