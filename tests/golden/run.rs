//! Runs the built program in a temporary folder and captures its output.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

/// A temporary folder in which the program runs.
pub(crate) struct Desk {
    folder: TempDir,
}

impl Desk {
    /// An empty one.
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// The path of a file in it.
    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Puts a file there.
    pub(crate) fn file(&self, name: &str, content: impl AsRef<[u8]>) -> &Self {
        let path = self.path(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, content).unwrap();
        self
    }

    /// Runs the program there and returns what it did. It never ends in an unexpected way.
    pub(crate) fn run(&self, arguments: &[&str]) -> Output {
        let output = Command::new(env!("CARGO_BIN_EXE_trug"))
            .args(arguments)
            .current_dir(self.folder.path())
            .env_remove("TRUG_STORE")
            .env("NO_COLOR", "1")
            .env("XDG_CACHE_HOME", self.path("cache"))
            .output()
            .unwrap();
        let expected = matches!(output.status.code(), Some(0..=2));
        assert!(
            expected,
            "{arguments:?} ended with {}: {}",
            output.status,
            String::from_utf8_lossy(&output.stderr)
        );
        output
    }

    /// Runs the program and returns exit status, output and errors as one text, paths filtered.
    pub(crate) fn reported(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        let text = format!(
            "exit status: {}\n--- results\n{}--- notes\n{}",
            output.status.code().unwrap(),
            String::from_utf8_lossy(&output.stdout),
            String::from_utf8_lossy(&output.stderr)
        );
        filtered(&text, self.folder.path())
    }
}

/// The text without machine-dependent parts.
fn filtered(text: &str, folder: &Path) -> String {
    let real = folder.canonicalize().unwrap();
    text.replace(&*real.to_string_lossy(), "[folder]")
        .replace(&*folder.to_string_lossy(), "[folder]")
        .replace(env!("CARGO_MANIFEST_DIR"), "[trug]")
}

/// The folder of sample days.
pub(crate) fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-tracks")
}
