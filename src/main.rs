//! Words in, exit code out; everything else is in [`holdtrue::cli`].

fn main() -> std::process::ExitCode {
    holdtrue::cli::run(std::env::args_os(), &mut std::io::stdout().lock(), &mut std::io::stderr().lock())
        .into()
}
