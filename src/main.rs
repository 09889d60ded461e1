fn main() -> std::process::ExitCode {
    lodemark::cli::main()
}
