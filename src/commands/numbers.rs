//! Reads the numbers of options: those that are not finite are refused as such. Layer: `commands`.

/// A finite number.
///
/// # Errors
/// When the text is no number, or one that is too large to be computed with.
pub(super) fn finite(text: &str) -> Result<f64, String> {
    let number: f64 = text.parse().map_err(|_| "it is not a number".to_owned())?;
    match number {
        finite if finite.is_finite() => Ok(finite),
        _ if text.bytes().any(|byte| byte.is_ascii_digit()) => {
            Err("it is too large a number to compute with".to_owned())
        }
        _ => Err("it is not a finite number".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::finite;

    #[test]
    fn only_finite_numbers_are_read() {
        assert_eq!(finite("-2.5e3"), Ok(-2_500.0));
        assert_eq!(finite("1e-400"), Ok(0.0));
        for (text, why) in [
            ("1e400", "too large"),
            ("-1e400", "too large"),
            ("inf", "not a finite"),
            ("NaN", "not a finite"),
            ("12 m", "not a number"),
            ("", "not a number"),
        ] {
            assert!(finite(text).unwrap_err().contains(why), "{text}");
        }
    }
}
