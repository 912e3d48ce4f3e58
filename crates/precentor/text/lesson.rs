//! A lesson: its items, the clock, and what to do where time is short.

use sequencer::lesson::{Clock, Excerpt, Ground, Proposal, Spell};
use sequencer::{Item, Work};
use std::path::Path;
use std::time::Duration;

/// What the screen calls an item.
#[must_use]
pub fn item(item: &Item) -> String {
    let word = item.work.word();
    let of = match &item.work {
        _ if item.title.is_some() => return item.title.clone().unwrap_or_default(),
        Work::Drone(Some(drone)) => drone.root.to_string(),
        Work::Drone(None) | Work::Talk { .. } => return word.to_owned(),
        Work::Landmarks { section } | Work::Roll { section, .. } => section.clone(),
        Work::Drill { file } => stem(file),
        Work::Climb { of: Ground::Bare { tempo, .. }, .. } => return format!("{word} to {tempo}"),
        Work::Climb { of: Ground::Piece(of), .. } | Work::Recheck { of, .. } => excerpt(of),
    };
    format!("{word} {of}")
}

/// What the screen calls an item that cannot be led.
#[must_use]
pub fn at_fault(number: usize) -> String {
    format!("item {} (has faults)", number + 1)
}

fn excerpt(of: &Excerpt) -> String {
    of.passage.clone().unwrap_or_else(|| stem(&of.file))
}

fn stem(file: &str) -> String {
    Path::new(file).file_stem().map_or_else(|| file.to_owned(), |stem| stem.to_string_lossy().into_owned())
}

/// An item that was left out.
pub const LEFT_OUT: &str = "left out";
/// In front of the standing item's clock.
pub const STANDS: &str = "now:";
/// An item for which the hour is too short.
pub const NO_LONGER_FITS: &str = "no longer fits";
/// An item that cannot be led.
pub const AT_FAULT: &str = "has faults";

/// What an item is planned for.
#[must_use]
pub fn minutes(minutes: u16) -> String {
    format!("{minutes} min")
}

/// Which item of how many stands, and its clock.
#[must_use]
pub fn place(at: usize, of: usize, name: &str, clock: &str) -> String {
    format!("item {at} of {of}, {name}: {clock}")
}

/// At the end of an item that goes on when the director says so.
#[must_use]
pub fn go_starts(item: &str) -> String {
    format!("go starts the next item: {item}")
}

/// At the end of an item after which another comes by itself.
#[must_use]
pub fn comes(item: &str) -> String {
    format!("the next item, {item}")
}

/// The whole lesson's clock: "12 of 50 min, 38 left; the plan is over by 2".
#[must_use]
pub fn clock(clock: &Clock) -> String {
    let mut line = run(&clock.hour);
    if let Some(left) = clock.hour.left.filter(|_| clock.hour.over == Duration::ZERO) {
        line += &format!(", {} left", up(left));
    }
    if clock.behind > Duration::ZERO && clock.hour.over == Duration::ZERO {
        line += &format!("; the plan is over by {}", up(clock.behind));
    }
    line
}

/// The standing item's clock: "3 of 8 min".
#[must_use]
pub fn run(spell: &Spell) -> String {
    let run = down(spell.run);
    match spell.planned {
        None => format!("{run} min"),
        Some(planned) if spell.over > Duration::ZERO => format!("{run} of {} min, over by {}", down(planned), up(spell.over)),
        Some(planned) => format!("{run} of {} min", down(planned)),
    }
}

/// How late the lesson was begun.
#[must_use]
pub fn begun_late(by: Duration) -> String {
    format!("begun {} min late", up(by))
}

/// Which items no longer fit, by their names.
#[must_use]
pub fn no_longer_fit<S: AsRef<str>>(misfits: &[usize], names: &[S]) -> String {
    match misfits {
        [one] => format!("{} no longer fits", name(*one, names)),
        several => format!("{} no longer fit", all(several.iter().map(|item| name(*item, names)))),
    }
}

/// What is proposed, in one sentence.
#[must_use]
pub fn proposal<S: AsRef<str>>(proposal: &Proposal, names: &[S]) -> String {
    let mut parts = Vec::new();
    if !proposal.shorten.is_empty() {
        let shorter =
            proposal.shorten.iter().map(|shorter| format!("{} from {} to {} min", name(shorter.item, names), shorter.from, shorter.to));
        parts.push(format!("shorten {}", all(shorter)));
    }
    if !proposal.leave_out.is_empty() {
        parts.push(format!("leave out {}", all(proposal.leave_out.iter().map(|item| name(*item, names)))));
    }
    if proposal.still_over > Duration::ZERO {
        let over = up(proposal.still_over);
        parts.push(if parts.is_empty() {
            format!("{over} min too long, and nothing to shorten")
        } else {
            format!("{over} min too long even then")
        });
    }
    parts.join("; ")
}

/// A lesson that stood somewhere is offered.
#[must_use]
pub fn resume(title: &str, item: &str, ago: Duration) -> String {
    match ago.as_secs() / 60 {
        0 => format!("{title} stood at {item} less than a minute ago."),
        minutes @ 1..60 => format!("{title} stood at {item} {minutes} min ago."),
        minutes => format!("{title} stood at {item} {} h {} min ago.", minutes / 60, minutes % 60),
    }
}

/// A climb that stood somewhere is offered.
#[must_use]
pub fn stood_at(what: &str, tempo: units::Tempo) -> String {
    format!("{what} stood at {tempo} last time.")
}

fn name<S: AsRef<str>>(item: usize, names: &[S]) -> String {
    names.get(item).map_or_else(|| format!("item {}", item + 1), |name| name.as_ref().to_owned())
}

fn all(words: impl Iterator<Item = String>) -> String {
    words.collect::<Vec<_>>().join(", ")
}

/// Whole minutes that have passed.
const fn down(time: Duration) -> u64 {
    time.as_secs() / 60
}

/// Whole minutes that hold what is left: with those that have passed they make up the whole.
const fn up(time: Duration) -> u64 {
    (time.as_secs() + (time.subsec_nanos() > 0) as u64).div_ceil(60)
}

#[cfg(test)]
mod tests {
    use super::*;
    use sequencer::lesson::{Progress, Shorter};
    use sequencer::{Hour, Slot};

    const fn seconds(seconds: u64) -> Duration {
        Duration::from_secs(seconds)
    }

    fn clock_at(ago: Duration, item: usize, spent: &[Duration]) -> Clock {
        let slots = [20, 30].map(|minutes| Slot { minutes: Some(minutes), ..Slot::default() });
        Hour::Long { minutes: 50 }.clock(&slots, &Progress { begun: Duration::ZERO, ago, item, spent })
    }

    #[test]
    fn the_clock_says_what_ran_and_what_is_left() {
        let at = |ago, item, spent: &[Duration]| clock(&clock_at(ago, item, spent));
        assert_eq!(at(seconds(12 * 60 + 30), 0, &[seconds(12 * 60 + 30)]), "12 of 50 min, 38 left");
        assert_eq!(at(seconds(12 * 60), 0, &[seconds(10 * 60)]), "12 of 50 min, 38 left; the plan is over by 2");
        assert_eq!(at(seconds(55 * 60), 1, &[seconds(20 * 60)]), "55 of 50 min, over by 5");
        let open = Hour::Open.clock(&[], &Progress { begun: Duration::ZERO, ago: seconds(90), item: 0, spent: &[] });
        assert_eq!(clock(&open), "1 min");
    }

    #[test]
    fn an_item_says_how_long_it_stands() {
        assert_eq!(run(&clock_at(seconds(200), 0, &[seconds(200)]).item), "3 of 20 min");
        assert_eq!(run(&clock_at(seconds(1300), 0, &[seconds(1300)]).item), "21 of 20 min, over by 2");
    }

    #[test]
    fn what_to_do_is_told_by_name() {
        let names = ["Warm up", "drill", "climb trio", "recheck trio"];
        assert_eq!(no_longer_fit(&[2], &names), "climb trio no longer fits");
        assert_eq!(no_longer_fit(&[2, 3, 4], &names), "climb trio, recheck trio, item 5 no longer fit");
        let shorter = |item, from, to| Shorter { item, from, to };
        let both = Proposal { shorten: vec![shorter(1, 8, 6), shorter(2, 20, 10)], leave_out: vec![3], still_over: Duration::ZERO };
        assert_eq!(proposal(&both, &names), "shorten drill from 8 to 6 min, climb trio from 20 to 10 min; leave out recheck trio");
        let over = Proposal { still_over: seconds(61), ..both };
        assert!(proposal(&over, &names).ends_with("recheck trio; 2 min too long even then"));
        let nothing = Proposal { still_over: seconds(60), ..Proposal::default() };
        assert_eq!(proposal(&nothing, &names), "1 min too long, and nothing to shorten");
    }

    #[test]
    fn every_item_has_a_name() {
        let lesson = book::demo::lesson();
        let names: Vec<_> = lesson.items.iter().map(|file| item(file.item.as_ref().unwrap())).collect();
        let expected =
            ["Warm up", "landmarks Horns", "drill middle-note", "roll Horns", "climb second strain", "recheck second strain", "talk"];
        assert_eq!(names, expected);
    }

    #[test]
    fn an_offer_says_how_long_ago() {
        assert_eq!(resume("Week 7", "climb trio", seconds(59)), "Week 7 stood at climb trio less than a minute ago.");
        assert_eq!(resume("Week 7", "climb trio", seconds(240)), "Week 7 stood at climb trio 4 min ago.");
        assert_eq!(resume("Week 7", "climb trio", seconds(7500)), "Week 7 stood at climb trio 2 h 5 min ago.");
        assert_eq!(stood_at("trio", units::Tempo::new(114.0).unwrap()), "trio stood at 114 last time.");
        assert_eq!(begun_late(seconds(330)), "begun 6 min late");
    }
}
