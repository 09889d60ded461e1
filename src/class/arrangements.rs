//! The ready arrangements that a new class folder starts from.

/// A ready worksheet.
#[derive(Clone, Copy, Debug)]
pub struct Arrangement {
    /// As in `lodemark new DIR --from NAME`.
    pub name: &'static str,
    /// What it shows, in a few words.
    pub about: &'static str,
    /// To the teacher, in a sentence or two: what to make of it in the lesson.
    pub note: &'static str,
    /// The ready rubric that fits it, by its name.
    pub rubric: &'static str,
    /// Its worksheet.yaml.
    pub worksheet: &'static str,
}

/// The worksheet.yaml of an arrangement.
macro_rules! worksheet {
    ($name:literal) => {
        include_str!(concat!("arrangements/", $name, ".yaml"))
    };
}

/// The ready rubric of the first lessons on magnets.
const BASICS: &str = "basics";
/// Where gaps between neighbouring lines tell nothing of strength (four magnets): a rubric that does not look at them.
const NO_GAPS: &str = "lower-secondary";
const EARTH: &str = "earth";
const GLOBE: &str = "globe";
const WIRES: &str = "wires";
const TWO_WIRES: &str = "two-wires";
const COIL: &str = "coil";
const CHARGES: &str = "charges";
const PLATES: &str = "plates";

/// Every arrangement: magnets, then the Earth, currents and charges; the easiest of each first.
pub const ALL: [Arrangement; 23] = [
    Arrangement {
        name: "single-bar",
        about: "one bar magnet",
        note: "Before they draw, lead a compass once round the magnet: beside the magnet too the needle takes a direction.",
        rubric: BASICS,
        worksheet: worksheet!("single-bar"),
    },
    Arrangement {
        name: "unlike-poles",
        about: "two bar magnets, N facing S",
        note: "Ask where the field is strongest and how a drawing shows it: lines crowd at the facing poles and bulge between.",
        rubric: BASICS,
        worksheet: worksheet!("unlike-poles"),
    },
    Arrangement {
        name: "like-poles",
        about: "two bar magnets, N facing N, with a neutral point between them",
        note: "Ask what a compass does half way: the lines turn aside there, and none leads from one N to the other.",
        rubric: BASICS,
        worksheet: worksheet!("like-poles"),
    },
    Arrangement {
        name: "like-poles-south",
        about: "two bar magnets, S facing S, with a neutral point between them",
        note: "The same pattern as between two N poles with every arrow reversed: let them compare the two sheets.",
        rubric: BASICS,
        worksheet: worksheet!("like-poles-south"),
    },
    Arrangement {
        name: "bars-parallel",
        about: "two bar magnets side by side, the same way round, with two neutral points between them",
        note: "Between the magnets the field runs back from N to S; where it turns, near the poles, lie two neutral points.",
        rubric: BASICS,
        worksheet: worksheet!("bars-parallel"),
    },
    Arrangement {
        name: "bars-antiparallel",
        about: "two bar magnets side by side, opposite ways round, with a neutral point between them",
        note: "Each N has an S beside it, and lines lead across at both ends; half way between the two the field vanishes.",
        rubric: BASICS,
        worksheet: worksheet!("bars-antiparallel"),
    },
    Arrangement {
        name: "unequal-bars",
        about: "two bar magnets of unequal strength, N facing N, with a neutral point near the weaker",
        note: "The neutral point lies nearer to the weaker magnet: ask for its place before they draw a line.",
        rubric: BASICS,
        worksheet: worksheet!("unequal-bars"),
    },
    Arrangement {
        name: "two-discs",
        about: "two disc magnets, magnetised across, unlike poles facing",
        note: "A disc shows that poles need no ends: feel with a paper clip where its rim pulls and where it does not.",
        rubric: BASICS,
        worksheet: worksheet!("two-discs"),
    },
    Arrangement {
        name: "horseshoe",
        about: "a horseshoe magnet",
        note: "Between the ends of the limbs the lines run nearly straight across; they bulge out before the open side.",
        rubric: BASICS,
        worksheet: worksheet!("horseshoe"),
    },
    Arrangement {
        name: "bar-and-horseshoe",
        about: "a bar magnet before a horseshoe magnet, with a neutral point",
        note: "From the bar’s N lines lead to the S limb only; before the N limb lies a neutral point.",
        rubric: BASICS,
        worksheet: worksheet!("bar-and-horseshoe"),
    },
    Arrangement {
        name: "three-bars",
        about: "three bar magnets, their N poles facing one another (letter paper)",
        note: "Lines from three N poles must all turn away from one another: ask where they can go.",
        rubric: BASICS,
        worksheet: worksheet!("three-bars"),
    },
    Arrangement {
        name: "four-bars",
        about: "four bar magnets as a cross, N and S by turns, with five neutral points",
        note: "In the middle the field vanishes, and lines pass it on four sides: each leads from an N to the S beside it.",
        rubric: NO_GAPS,
        worksheet: worksheet!("four-bars"),
    },
    Arrangement {
        name: "bar-n-north",
        about: "a weak magnet in the Earth’s field, its N to the north, with neutral points east and west",
        note: "Plot it with a compass far from iron and telephones: the neutral points lie beside the magnet, east and west.",
        rubric: EARTH,
        worksheet: worksheet!("bar-n-north"),
    },
    Arrangement {
        name: "bar-n-south",
        about: "a weak magnet in the Earth’s field, its N to the south, with neutral points north and south",
        note: "Plot it with a compass far from iron and telephones: the neutral points lie on the magnet’s axis.",
        rubric: EARTH,
        worksheet: worksheet!("bar-n-south"),
    },
    Arrangement {
        name: "earth",
        about: "the Earth as a magnet",
        note: "A compass needle’s N points to geographic north, so a magnetic S pole lies under it: let them find this out.",
        rubric: GLOBE,
        worksheet: worksheet!("earth"),
    },
    Arrangement {
        name: "straight-wire",
        about: "a straight wire, its current towards you",
        note: "Rings that widen outwards: ask how the drawing shows that the field halves at twice the distance.",
        rubric: WIRES,
        worksheet: worksheet!("straight-wire"),
    },
    Arrangement {
        name: "wires-alike",
        about: "two wires, their currents alike, with a neutral point between them",
        note: "Near each wire rings, far off one ring round both; half way the two fields cancel, and the wires attract.",
        rubric: TWO_WIRES,
        worksheet: worksheet!("wires-alike"),
    },
    Arrangement {
        name: "wires-opposite",
        about: "two wires, their currents opposite",
        note: "Between the wires both fields point the same way and the lines crowd; the wires repel.",
        rubric: TWO_WIRES,
        worksheet: worksheet!("wires-opposite"),
    },
    Arrangement {
        name: "coil",
        about: "a coil of many turns",
        note: "Inside the lines run even and straight, outside as round a bar magnet: each line closes through the coil.",
        rubric: COIL,
        worksheet: worksheet!("coil"),
    },
    Arrangement {
        name: "one-charge",
        about: "one positive charge",
        note: "Straight lines outwards, evenly round: ask how the drawing shows that the field falls off.",
        rubric: CHARGES,
        worksheet: worksheet!("one-charge"),
    },
    Arrangement {
        name: "charges-alike",
        about: "two positive charges, with a neutral point between them",
        note: "Half way a third charge would feel no force: no line leads there straight on, and none joins the two.",
        rubric: CHARGES,
        worksheet: worksheet!("charges-alike"),
    },
    Arrangement {
        name: "charges-opposite",
        about: "a positive and a negative charge",
        note: "Every line leads from the positive charge to the negative one, some round outside the frame: compare unlike poles.",
        rubric: CHARGES,
        worksheet: worksheet!("charges-opposite"),
    },
    Arrangement {
        name: "plates",
        about: "two plates, charged oppositely",
        note: "Even and straight between the plates, bulging at their edges: ask where a charge would feel the same force.",
        rubric: PLATES,
        worksheet: worksheet!("plates"),
    },
];

/// An arrangement by its name.
pub fn find(name: &str) -> Option<&'static Arrangement> {
    ALL.iter().find(|a| a.name == name)
}

/// docs/arrangements.md: every arrangement with its picture.
pub fn markdown() -> String {
    let mut text = String::from(HEADER);
    for a in &ALL {
        text += &format!(
            "| ![{}: the computed field]({PICTURES}/{}.png) | `{}` | {} | {} | `{}` |\n",
            a.about, a.name, a.name, a.about, a.note, a.rubric
        );
    }
    text
}

/// Where the pictures lie, as seen from docs/.
const PICTURES: &str = "pictures/arrangements";

const HEADER: &str = "\
# Ready arrangements

What `lodemark new DIR --from NAME` can begin with; `lodemark new --list` shows the same list. Sizes, places and strengths
are in the folder's worksheet.yaml and can be changed. The pictures are the computed fields, as `lodemark field` draws them,
with a ringed cross at each neutral point. `--rubric NAME` begins with another rubric than the one named here.

This page is made from the program's own list.

| | name | what it is | for the lesson | rubric |
|---|---|---|---|---|
";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::print::layout;
    use crate::rubric::Rubric;
    use crate::worksheet::Worksheet;
    use std::path::Path;

    /// Set this variable to write docs/arrangements.md anew.
    const REWRITE: &str = "LODEMARK_REWRITE";

    #[test]
    fn the_page_of_arrangements_says_what_the_list_says() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/docs/arrangements.md");
        if std::env::var_os(REWRITE).is_some() {
            std::fs::write(path, markdown()).unwrap();
        }
        let page = std::fs::read_to_string(path).unwrap();
        assert!(page == markdown(), "docs/arrangements.md is not what the list says; run with {REWRITE}=1");
    }

    #[test]
    fn every_arrangement_prints_and_has_a_rubric_that_fits() {
        for arrangement in ALL {
            let sheet = Worksheet::parse(Path::new("worksheet.yaml"), arrangement.worksheet).unwrap();
            assert_eq!(sheet.id, arrangement.name);
            assert_eq!(layout::check(&sheet, Path::new("worksheet.yaml")), []);
            assert!(crate::rubric::ready::find(arrangement.rubric).is_some(), "{}", arrangement.rubric);
            let panels: Vec<&str> = sheet.panels.iter().map(|p| p.id.as_str()).collect();
            for ready in crate::rubric::ready::ALL {
                Rubric::parse(Path::new("rubric.yaml"), ready.text, &panels).unwrap();
            }
        }
    }
}
