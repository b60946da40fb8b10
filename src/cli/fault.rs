//! A fault of the program itself: a plain error for people, its place for those who mend it.

use std::io::{self, Write};
use std::panic::{self, AssertUnwindSafe, PanicHookInfo, catch_unwind};

use super::common::Stop;
use crate::error::Error;

/// Makes a fault anywhere in the program say its place in a line. With `RUST_BACKTRACE` set
/// it says all it knows.
pub(super) fn say_the_place() {
    if std::env::var_os("RUST_BACKTRACE").is_none_or(|wanted| wanted == "0") {
        panic::set_hook(Box::new(|fault| {
            // Where nobody reads it there is nothing left to do.
            let _ = writeln!(io::stderr(), "plumbrise: {}", place(fault));
        }));
    }
}

fn place(fault: &PanicHookInfo) -> String {
    let what = fault.payload_as_str().unwrap_or("no more is known");
    match fault.location() {
        Some(at) => format!("fault at {}:{}: {what}", at.file(), at.line()),
        None => format!("fault: {what}"),
    }
}

/// What a command comes to; a fault of the program in it is an error like others.
pub(super) fn caught(command: impl FnOnce() -> Result<(), Stop>) -> Result<(), Stop> {
    catch_unwind(AssertUnwindSafe(command)).unwrap_or(Err(Stop::Error(Error::OwnFault)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::remedies::{exit_status, hint};

    #[test]
    fn a_fault_is_an_error_with_a_hint_and_the_status_of_anything_else() {
        let Err(Stop::Error(error)) = caught(|| panic!("on purpose")) else {
            panic!("no error came of it");
        };
        assert_eq!(exit_status(&error), 1);
        assert!(error.to_string().contains("fault of its own"));
        assert!(hint(&error).is_some_and(|hint| hint.contains("please report it")));
        assert!(caught(|| Ok(())).is_ok());
        assert!(matches!(caught(|| Err(Stop::Pipe)), Err(Stop::Pipe)));
    }
}
