//! Which panics end a fuzz run.

/// From here on only a panic in the project's own code ends the run. One in a library that decodes images is caught by `scan`
/// and becomes a refused page: that is what the user sees, and no finding.
pub fn only_ours() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        let theirs =
            panic.location().is_some_and(|at| at.file().contains(".cargo") || at.file().contains("rustc"));
        if !theirs {
            usual(panic);
        }
    }));
}
