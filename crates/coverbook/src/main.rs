//! The binary.

fn main() -> std::process::ExitCode {
    coverbook::cli::run()
}
