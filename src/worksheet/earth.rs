//! The key `earth`: a uniform background, given directly or by place and date.

use super::Earth;
use super::parse::degrees;
use crate::field::wmm;
use crate::problem::yaml::{At, Fields};

/// Strongest uniform background, microtesla; the Earth's horizontal part is at most about 42.
const MAX_EARTH_UT: f64 = 100.0;

/// `{ horizontal_ut, north_deg }`, or `{ latitude_deg, longitude_deg, date }` with one of `north_deg` (where a compass
/// needle's N end points on the sheet) and `geographic_north_deg` (where geographic north lies).
pub(super) fn read_earth(at: &At) -> Option<Earth> {
    const DIRECT: [&str; 2] = ["horizontal_ut", "north_deg"];
    const BY_PLACE: [&str; 5] =
        ["latitude_deg", "longitude_deg", "date", "north_deg", "geographic_north_deg"];
    let by_place = at.entries()?.iter().any(|(key, _)| BY_PLACE[..3].contains(key));
    let keys = at.fields(if by_place { &BY_PLACE } else { &DIRECT })?;
    if by_place {
        return read_place(&keys);
    }
    let horizontal = keys
        .need(
            "horizontal_ut",
            "add horizontal_ut: and the horizontal flux density in microtesla, or latitude_deg:, longitude_deg: and date:",
        )
        .and_then(|h| h.number_in(0.0..=MAX_EARTH_UT, "microtesla"));
    let north =
        keys.need("north_deg", "add north_deg: and where a compass needle's N end points").and_then(degrees);
    Some(Earth { horizontal_ut: horizontal?, north_deg: north? })
}

fn read_place(keys: &Fields) -> Option<Earth> {
    let latitude = keys
        .need("latitude_deg", "add latitude_deg: and degrees north of the equator")
        .and_then(|l| l.number_in(-90.0..=90.0, "degrees"));
    let longitude = keys
        .need("longitude_deg", "add longitude_deg: and degrees east of Greenwich")
        .and_then(|l| l.number_in(-180.0..=360.0, "degrees"));
    let year = keys.need("date", "add date: and the day, as 2026-09-01").and_then(read_date);
    let needle = keys.get("north_deg").map(degrees);
    let geographic = keys.get("geographic_north_deg").map(degrees);
    let place = wmm::at(latitude?, longitude?, 0.0, year?);
    let north_deg = match (needle, geographic) {
        (Some(needle), None) => needle?,
        // Declination is counted to the east, clockwise as one looks at the sheet.
        (None, Some(north)) => north? - place.declination_deg(),
        _ => {
            keys.at().problem(
                "it must be said which way the sheet lies, once",
                "give one of north_deg: (where a compass needle's N end points) and geographic_north_deg:",
            );
            return None;
        }
    };
    // Nanotesla to microtesla.
    Some(Earth { horizontal_ut: place.horizontal_nt() * 1e-3, north_deg })
}

/// A day as a year with decimals, if the model holds on it.
fn read_date(at: &At) -> Option<f64> {
    let text = at.text()?;
    let parts: Vec<&str> = text.split('-').collect();
    let lengths: Vec<usize> = parts.iter().map(|p| p.len()).collect();
    let number = |i: usize| {
        parts.get(i).filter(|p| p.bytes().all(|b| b.is_ascii_digit())).and_then(|p| p.parse::<u16>().ok())
    };
    let day = match (lengths.as_slice(), number(0), number(1), number(2)) {
        ([4, 2, 2], Some(year), Some(month), Some(day)) => day_of_year(year, month, day).map(|d| (year, d)),
        _ => None,
    };
    let Some((year, day)) = day else {
        at.problem(format!("\"{text}\" is no day"), "write year-month-day, as 2026-09-01");
        return None;
    };
    let years = f64::from(year) + f64::from(day) / if is_leap(year) { 366.0 } else { 365.0 };
    if !wmm::VALID_YEARS.contains(&years) {
        at.problem(
            "the World Magnetic Model 2025 does not hold on that day",
            format!(
                "write a day from {}-01-01 to {}-12-31",
                wmm::VALID_YEARS.start,
                wmm::VALID_YEARS.end - 1.0
            ),
        );
        return None;
    }
    Some(years)
}

fn is_leap(year: u16) -> bool {
    year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400))
}

/// Days gone in the year before this one; `None` for a day that is in no calendar.
fn day_of_year(year: u16, month: u16, day: u16) -> Option<u16> {
    let february = if is_leap(year) { 29 } else { 28 };
    let lengths = [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
    let month = usize::from(month).checked_sub(1)?;
    let length = *lengths.get(month)?;
    ((1..=length).contains(&day)).then(|| lengths[..month].iter().sum::<u16>() + day - 1)
}

#[cfg(test)]
mod tests {
    use super::day_of_year;

    #[test]
    fn days_of_the_calendar() {
        assert_eq!(day_of_year(2025, 1, 1), Some(0));
        assert_eq!((day_of_year(2027, 12, 31), day_of_year(2028, 12, 31)), (Some(364), Some(365)));
        assert_eq!((day_of_year(2028, 2, 29), day_of_year(2100, 2, 29)), (Some(59), None));
        assert_eq!(
            (day_of_year(2026, 0, 5), day_of_year(2026, 13, 5), day_of_year(2026, 6, 31)),
            (None, None, None)
        );
    }
}
