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
pub const ALL: [Ready; 4] = [
    Ready {
        name: "basics",
        about: "direction, meeting, spacing, shape, ends, coverage",
        text: include_str!("../../rubrics/basics.yaml"),
    },
    Ready {
        name: "lower-secondary",
        about: "arrows and pattern only, generous",
        text: include_str!("../../rubrics/lower-secondary.yaml"),
    },
    Ready {
        name: "upper-secondary",
        about: "the basics with narrower limits, symmetry, neutral point",
        text: include_str!("../../rubrics/upper-secondary.yaml"),
    },
    Ready {
        name: "self-check",
        about: "words only, no marks are shown",
        text: include_str!("../../rubrics/self-check.yaml"),
    },
];

/// A ready rubric by its name.
pub fn find(name: &str) -> Option<&'static Ready> {
    ALL.iter().find(|r| r.name == name)
}
