//! The ready rubrics, to begin with or to extend.

/// A ready rubric.
#[derive(Clone, Copy, Debug)]
pub struct Ready {
    /// As in `extends: NAME` and `lodemark new --rubric NAME`.
    pub name: &'static str,
    /// What it is for, in a few words.
    pub about: &'static str,
    /// Its rubric.yaml.
    pub text: &'static str,
}

/// Every ready rubric.
pub const ALL: [Ready; 1] = [Ready {
    name: "basics",
    about: "direction, meeting, spacing, shape, ends, coverage",
    text: include_str!("../../rubrics/basics.yaml"),
}];

/// A ready rubric by its name.
pub fn find(name: &str) -> Option<&'static Ready> {
    ALL.iter().find(|r| r.name == name)
}
