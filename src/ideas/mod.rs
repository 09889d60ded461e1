//! Students' usual ideas: what a drawing suggests its maker believes, beyond single slips.
//!
//! A [`CATALOGUE`] of ideas, each with words for the student (what to look at again, not the answer), words for
//! the teacher (what to try next lesson), and where the idea is described. `rules` matches a panel's findings to
//! it, [`possible`] tells which a panel has room for. A match is a suggestion: how sure it is comes from how sure the things read are, and says nothing of what
//! the student thinks.

mod pattern;
mod possible;
mod rules;

pub use possible::possible;
pub use rules::find;

/// An idea of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Idea {
    /// As in the findings.
    pub id: &'static str,
    /// In a few words, for a heading.
    pub title: &'static str,
    /// To the student.
    pub student: &'static str,
    /// To the teacher.
    pub teacher: &'static str,
    /// Where it is described.
    pub source: &'static str,
}

/// Below this sureness a match is not told.
pub const TOLD_FROM: f64 = 0.5;

const TRADE: &str = "common practice";
const TORNKVIST: &str = "S. Tornkvist, K.-A. Pettersson and G. Transtromer, American Journal of Physics 61 (1993) 335: \
                         students accept crossings, kinks and closed loops in electric field lines";

/// Every idea, in the order in which they are told.
pub const CATALOGUE: [Idea; 10] = [
    Idea {
        id: "stops-in-space",
        title: "Lines start or stop in empty space",
        student: "Some of your lines begin or end where there is nothing. Put your finger there: which way would a \
                  compass point, and where would it send you next?",
        teacher: "Let them walk a plotting compass on from the loose end until it reaches a magnet or leaves the page.",
        source: TRADE,
    },
    Idea {
        id: "lines-cross",
        title: "Lines cross",
        student: "Look at a place where two of your lines cross. Which way does the field point there?",
        teacher: "Ask for the two directions at one crossing. A compass, or a small charge, set there goes one way only: which?",
        source: TORNKVIST,
    },
    Idea {
        id: "closed-rings",
        title: "Closed rings round a magnet",
        student: "Some of your lines run round a magnet in a ring. Which pole does such a line come from, and which \
                  does it lead to?",
        teacher: "Set the bar magnet beside a straight wire that carries a current: where are rings right, and why?",
        source: TORNKVIST,
    },
    Idea {
        id: "like-poles-joined",
        title: "Like poles joined by lines",
        student: "One of your lines joins two poles of the same kind. Follow it with arrows from both ends: what \
                  happens where they meet?",
        teacher: "Let them push two N poles together and say what they feel; then look at filings between them.",
        source: TRADE,
    },
    Idea {
        id: "only-in-front",
        title: "Field only in front of the poles",
        student: "Your lines leave from the ends of the magnets only. What would a compass do beside a magnet?",
        teacher: "Lead a compass once round a magnet at a hand's breadth: the needle points everywhere.",
        source: TRADE,
    },
    Idea {
        id: "equal-spacing",
        title: "Equal spacing everywhere",
        student: "Your lines keep the same distance from each other nearly everywhere. Where is the field strong, where \
                  weak, and how could the lines show it?",
        teacher: "Count lines through a coin laid near a pole and far from it; then feel the force at both places.",
        source: TRADE,
    },
    Idea {
        id: "south-to-north",
        title: "Arrows from S to N",
        student: "Look at your arrows beside an N pole. Which way does the N end of a compass needle point there?",
        teacher: "Hold a compass at an N pole. Some will have the way inside the magnet in mind: draw the whole loop.",
        source: TRADE,
    },
    Idea {
        id: "straight-between",
        title: "Straight lines between poles",
        student: "Your lines run straight from pole to pole. Would a compass point the same way all along each of them?",
        teacher: "Plot one line away from the axis with a compass, dot by dot, and lay a ruler along it.",
        source: TRADE,
    },
    Idea {
        id: "out-of-the-middle",
        title: "Lines out of the magnet's middle",
        student: "Some of your lines come straight out of the middle of a magnet. Is the magnet's pull strong there?",
        teacher: "Dip a bar magnet in paper clips: they hang at the ends and not at the middle.",
        source: TRADE,
    },
    Idea {
        id: "lopsided",
        title: "A lopsided pattern",
        student: "Compare the two sides of your drawing. Is there a reason why the field should differ between them?",
        teacher: "Fold the page along the mirror line of the magnets, or turn the magnet over: what must look the same?",
        source: TRADE,
    },
];

/// An idea by its id.
pub fn by_id(id: &str) -> Option<&'static Idea> {
    CATALOGUE.iter().find(|idea| idea.id == id)
}

/// docs/ideas.md: the catalogue.
pub fn markdown() -> String {
    let mut text = String::from(HEADER);
    for idea in &CATALOGUE {
        text += &format!("\n## {}\n\n`{}`\n\n", idea.title, idea.id);
        text += &format!(
            "- To the student: {}\n- To the teacher: {}\n- Source: {}\n",
            idea.student, idea.teacher, idea.source
        );
    }
    text
}

const HEADER: &str = "\
# Students' usual ideas

Beyond single slips, a drawing can suggest what its maker believes. Each panel is matched to this catalogue by rules on
what was measured; a match carries a sureness, is told from 0.5, and says nothing certain about a student: it is a reason
to ask. What the student reads asks a question and gives no answer away. The figures are in [figures.md](figures.md).
The words speak of magnets: where a panel holds wires, coils, charges or plates, only lines that cross are told.
Equal spacing is told of three magnets at most: among more the field's own gaps hardly vary.

This page is made from the program's own catalogue.
";

#[cfg(test)]
mod tests {
    use super::*;

    /// Set this variable to write docs/ideas.md anew.
    const REWRITE: &str = "LODEMARK_REWRITE";

    #[test]
    fn the_page_of_ideas_says_what_the_catalogue_says() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/ideas.md");
        if std::env::var_os(REWRITE).is_some() {
            std::fs::write(path, markdown()).unwrap();
        }
        let page = std::fs::read_to_string(path).unwrap();
        assert!(page == markdown(), "docs/ideas.md is not what the catalogue says; run with {REWRITE}=1");
    }

    #[test]
    fn every_idea_is_whole_and_gives_no_answer_away() {
        for (n, idea) in CATALOGUE.iter().enumerate() {
            assert!(CATALOGUE[..n].iter().all(|other| other.id != idea.id));
            assert!(idea.student.contains('?') && !idea.teacher.is_empty() && !idea.source.is_empty());
            assert_eq!(by_id(idea.id), Some(idea));
        }
    }
}
