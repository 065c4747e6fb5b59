//! The program: everything is in the library.

use std::env;
use std::process::ExitCode;

fn main() -> ExitCode {
    trug::commands::run(env::args_os()).into()
}
