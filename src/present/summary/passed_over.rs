//! Lists the files of a folder that an import ignored because their format is not supported. Layer:
//! `present`.

use std::path::PathBuf;

use super::words::counted;

/// More names than this are counted.
const NAMED: usize = 5;

/// One line that lists the ignored files; `None` where there are none.
#[must_use]
pub fn passed_over(files: &[PathBuf]) -> Option<String> {
    if files.is_empty() {
        return None;
    }
    let name = |path: &PathBuf| {
        path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
    };
    let mut names: Vec<String> = files.iter().take(NAMED).map(name).collect();
    if files.len() > NAMED {
        names.push(format!("{} more", files.len() - NAMED));
    }
    let number = counted(files.len(), "file", "files");
    Some(format!("Ignored {number} of unsupported formats ({})", names.join(", ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_files_are_listed_and_many_are_counted() {
        assert_eq!(passed_over(&[]), None);
        let files = |number: usize| -> Vec<PathBuf> {
            (1..=number).map(|one| PathBuf::from(format!("day/{one}.xmp"))).collect()
        };
        assert_eq!(
            passed_over(&files(1)).as_deref(),
            Some("Ignored 1 file of unsupported formats (1.xmp)")
        );
        let many = passed_over(&files(8)).unwrap();
        assert!(many.starts_with("Ignored 8 files of unsupported formats (1.xmp,"), "{many}");
        assert!(many.ends_with("5.xmp, 3 more)"), "{many}");
    }
}
