//! The ready arrangements that a new class folder starts from.

/// A ready worksheet.
#[derive(Clone, Copy, Debug)]
pub struct Arrangement {
    /// As in `lodemark new DIR --from NAME`.
    pub name: &'static str,
    /// What it shows, in a few words.
    pub about: &'static str,
    /// Its worksheet.yaml.
    pub worksheet: &'static str,
}

/// Every arrangement, the easiest first.
pub const ALL: [Arrangement; 5] = [
    Arrangement {
        name: "single-bar",
        about: "one bar magnet",
        worksheet: include_str!("arrangements/single-bar.yaml"),
    },
    Arrangement {
        name: "unlike-poles",
        about: "two bar magnets, N facing S",
        worksheet: include_str!("arrangements/unlike-poles.yaml"),
    },
    Arrangement {
        name: "like-poles",
        about: "two bar magnets, N facing N, with a neutral point between them",
        worksheet: include_str!("arrangements/like-poles.yaml"),
    },
    Arrangement {
        name: "horseshoe",
        about: "a horseshoe magnet",
        worksheet: include_str!("arrangements/horseshoe.yaml"),
    },
    Arrangement {
        name: "three-bars",
        about: "three bar magnets, their N poles facing one another (letter paper)",
        worksheet: include_str!("arrangements/three-bars.yaml"),
    },
];

/// An arrangement by its name.
pub fn find(name: &str) -> Option<&'static Arrangement> {
    ALL.iter().find(|a| a.name == name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::print::layout;
    use crate::rubric::Rubric;
    use crate::worksheet::Worksheet;
    use std::path::Path;

    #[test]
    fn every_arrangement_prints_and_has_a_rubric_that_fits() {
        for arrangement in ALL {
            let sheet = Worksheet::parse(Path::new("worksheet.yaml"), arrangement.worksheet).unwrap();
            assert_eq!(sheet.id, arrangement.name);
            assert_eq!(layout::check(&sheet, Path::new("worksheet.yaml")), []);
            let panels: Vec<&str> = sheet.panels.iter().map(|p| p.id.as_str()).collect();
            for ready in crate::rubric::ready::ALL {
                Rubric::parse(Path::new("rubric.yaml"), ready.text, &panels).unwrap();
            }
        }
    }
}
