use std::process::ExitCode;

fn main() -> ExitCode {
    footring::commands::run(std::env::args_os())
}
