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
pub const ALL: [Ready; 12] = [
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
    Ready {
        name: "plotting-compass",
        about: "plotted dots, smooth lines through them, the compass read from above",
        text: include_str!("../../rubrics/plotting-compass.yaml"),
    },
    Ready {
        name: "earth",
        about: "the basics in a compass’s words, neutral points marked",
        text: include_str!("../../rubrics/earth.yaml"),
    },
    Ready {
        name: "globe",
        about: "as earth, without neutral points",
        text: include_str!("../../rubrics/globe.yaml"),
    },
    Ready {
        name: "wires",
        about: "one straight wire: closed rings, farther apart outwards",
        text: include_str!("../../rubrics/wires.yaml"),
    },
    Ready {
        name: "two-wires",
        about: "two straight wires: as for one, gaps along the lines, neutral point",
        text: include_str!("../../rubrics/two-wires.yaml"),
    },
    Ready {
        name: "coil",
        about: "even lines inside, each carried through",
        text: include_str!("../../rubrics/coil.yaml"),
    },
    Ready {
        name: "charges",
        about: "the basics in the words of electric fields",
        text: include_str!("../../rubrics/charges.yaml"),
    },
    Ready {
        name: "plates",
        about: "charges, with even lines between the plates",
        text: include_str!("../../rubrics/plates.yaml"),
    },
];

/// A ready rubric by its name.
pub fn find(name: &str) -> Option<&'static Ready> {
    ALL.iter().find(|r| r.name == name)
}
