//! The command `plumbrise`: everything is in the library.

fn main() -> std::process::ExitCode {
    plumbrise::cli::main()
}
