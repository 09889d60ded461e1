//! Which ideas a panel has room for at all, before anybody has drawn in it.

use super::pattern::has_sides;
use super::{CATALOGUE, Idea, rules};
use crate::measure::balance;
use crate::worksheet::{Kind, Panel, PanelField};

/// The ideas that a drawing in this panel can suggest, in the order of the catalogue.
pub fn possible(panel: &Panel, field: &PanelField) -> Vec<&'static Idea> {
    CATALOGUE
        .iter()
        .filter(|idea| rules::speaks_of(idea.id, panel) && has_room(idea.id, panel, field))
        .collect()
}

fn has_room(id: &str, panel: &Panel, field: &PanelField) -> bool {
    let any = |is: fn(&Kind) -> bool| panel.sources.iter().any(|s| is(&s.kind));
    let several = panel.sources.len() > 1;
    match id {
        "like-poles-joined" => several,
        "straight-between" => several || any(|k| matches!(k, Kind::Horseshoe { .. })),
        "only-in-front" => panel.sources.iter().all(has_sides),
        "out-of-the-middle" => panel.sources.iter().any(has_sides),
        // A globe's sheet prints its geographic poles and not N and S.
        "south-to-north" => any(|k| !matches!(k, Kind::Globe { .. })),
        "lopsided" => balance::has_mirror(panel, field),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::class::arrangements;
    use crate::worksheet::Worksheet;

    fn ids(name: &str) -> Vec<&'static str> {
        let text = arrangements::find(name).unwrap().worksheet;
        let sheet = Worksheet::parse(name.as_ref(), text).unwrap();
        possible(&sheet.panels[0], &sheet.panels[0].field()).iter().map(|i| i.id).collect()
    }

    #[test]
    fn one_magnet_joins_no_like_poles_and_a_wire_has_no_poles() {
        assert!(ids("like-poles").contains(&"like-poles-joined"));
        let one = ids("single-bar");
        assert!(!one.contains(&"like-poles-joined") && one.contains(&"out-of-the-middle"));
        assert!(!ids("earth").contains(&"south-to-north") && ids("earth").contains(&"lopsided"));
        assert!(ids("horseshoe").contains(&"straight-between"));
        assert!(!ids("bar-and-horseshoe").contains(&"lopsided"));
        assert!(ids("three-bars").contains(&"equal-spacing") && !ids("four-bars").contains(&"equal-spacing"));
        assert_eq!(ids("straight-wire"), ["lines-cross"]);
    }
}
