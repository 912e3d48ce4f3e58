//! The bars of a page under their numbers.

use sequencer::piece::MAX_PIECE_BARS;
use std::collections::HashMap;
use std::ops::Range;

use crate::suggest;
use crate::view::{Bar, BarName};
use crate::walk::Walker;

/// A number as the page has it; what is written as a text but is a whole number counts as one.
pub(super) fn number(name: &BarName) -> String {
    match name {
        BarName::Number(number) => number.to_string(),
        BarName::Text(text) => text.parse::<u16>().map_or_else(|_| text.clone(), |number| number.to_string()),
    }
}

/// What a bar behind another is called: one more than the last whole number.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Running {
    last: Option<u32>,
}

impl Running {
    /// Goes past a bar called `number`.
    pub(super) fn pass(&mut self, number: &str) {
        if let Ok(number) = number.parse() {
            self.last = Some(number);
        }
    }

    /// What the next bar is called if nothing else is said.
    pub(super) fn next(self) -> String {
        self.last.map_or(1, |last| last.saturating_add(1)).to_string()
    }
}

/// Where the numbers jump.
struct Jump {
    number: String,
    after: Range<usize>,
    span: Range<usize>,
}

/// The bars so far. A page of no stated length grows as far as it is asked for.
pub(super) struct Page {
    numbers: Vec<String>,
    places: HashMap<String, usize>,
    running: Running,
    jumps: HashMap<String, Jump>,
    /// The last jump that was taken.
    jumped: Option<Range<usize>>,
    /// The most bars it may have.
    limit: usize,
    /// Whether its length was stated.
    stated: bool,
    /// Whether its numbers do not run to its end, which has been told of.
    broken: bool,
    /// How many bars something speaks of.
    reach: usize,
    /// Marks by their names in small letters.
    marks: HashMap<String, (String, usize)>,
}

impl Page {
    /// A page that begins with `first`, behind a pick-up or not; `bars` without the pick-up.
    pub(super) fn new(first: String, pickup: bool, bars: Option<usize>) -> Self {
        let before = usize::from(pickup);
        let mut page = Self {
            numbers: Vec::new(),
            places: HashMap::new(),
            running: Running::default(),
            jumps: HashMap::new(),
            jumped: None,
            limit: (bars.unwrap_or(MAX_PIECE_BARS) + before).min(MAX_PIECE_BARS),
            stated: bars.is_some(),
            broken: false,
            reach: 0,
            marks: HashMap::new(),
        };
        if pickup {
            page.push("0".to_owned());
        }
        page.push(first);
        page
    }

    fn push(&mut self, number: String) {
        self.running.pass(&number);
        self.places.insert(number.clone(), self.numbers.len());
        self.numbers.push(number);
    }

    /// Notes that the bar behind `after` is called `to`.
    pub(super) fn jump(&mut self, walker: &mut Walker<'_>, after: &Bar, to: &Bar) {
        let jump = Jump { number: number(&to.name), after: after.span.clone(), span: to.span.clone() };
        if self.jumps.insert(number(&after.name), jump).is_some() {
            walker.fault(after.span.clone(), "the bar behind this one has its number already", "keep one of the two");
        }
    }

    /// One bar more, unless the page is full.
    fn grow(&mut self, walker: &mut Walker<'_>) -> bool {
        if self.numbers.len() >= self.limit {
            return false;
        }
        let jump = self.numbers.last().and_then(|last| self.jumps.remove(last));
        let next = match jump {
            Some(jump) => {
                self.jumped = Some(jump.span);
                jump.number
            }
            None => self.running.next(),
        };
        if self.places.contains_key(&next) {
            let span = self.jumped.clone().unwrap_or(0..0);
            walker.fault(span, format!("this makes two bars {next}"), "give every bar a number of its own, such as \"12a\"");
            (self.limit, self.broken) = (self.numbers.len(), true);
            return false;
        }
        self.push(next);
        true
    }

    /// All the bars of a page of stated length, and the jumps of any.
    pub(super) fn fill(&mut self, walker: &mut Walker<'_>) {
        let asked = self.stated || !self.jumps.is_empty();
        while (self.stated || !self.jumps.is_empty()) && self.grow(walker) {}
        if asked {
            self.reach = self.numbers.len();
        }
    }

    /// The jumps that no bar leads to.
    pub(super) fn unused(&mut self, walker: &mut Walker<'_>) {
        for (after, jump) in std::mem::take(&mut self.jumps) {
            self.missing(walker, jump.after, &after);
        }
    }

    /// A mark over a bar.
    pub(super) fn mark(&mut self, name: &str, bar: usize) -> Option<String> {
        let earlier = self.marks.insert(name.to_lowercase(), (name.to_owned(), bar));
        earlier.map(|(name, _)| name)
    }

    /// The place of the bar with the number `bar`, marks left out of it.
    pub(super) fn numbered(&mut self, walker: &mut Walker<'_>, bar: &Bar) -> Option<usize> {
        let wanted = number(&bar.name);
        let place = self.look(walker, &wanted);
        if place.is_none() {
            self.missing(walker, bar.span.clone(), &wanted);
        }
        place
    }

    /// The place of `bar`: a whole number is a bar's, a text a mark's or else a bar's.
    pub(super) fn find(&mut self, walker: &mut Walker<'_>, bar: &Bar) -> Option<usize> {
        let marked = match &bar.name {
            BarName::Number(_) => None,
            BarName::Text(text) => self.marks.get(&text.to_lowercase()).map(|(_, place)| *place),
        };
        if let Some(place) = marked {
            self.reach = self.reach.max(place + 1);
            return marked;
        }
        self.numbered(walker, bar)
    }

    fn look(&mut self, walker: &mut Walker<'_>, number: &str) -> Option<usize> {
        while !self.places.contains_key(number) && self.grow(walker) {}
        let place = self.places.get(number).copied();
        self.reach = self.reach.max(place.map_or(0, |place| place + 1));
        place
    }

    /// Whether the page has `bars` bars, the pick-up with them.
    pub(super) fn reaches(&mut self, walker: &mut Walker<'_>, bars: usize) -> bool {
        while self.numbers.len() < bars && self.grow(walker) {}
        self.reach = self.reach.max(bars.min(self.numbers.len()));
        self.broken || self.numbers.len() >= bars
    }

    /// Whether a bar that is no whole number is called so.
    pub(super) fn has_text(&self, name: &str) -> bool {
        name.parse::<u16>().is_err() && self.places.keys().any(|number| number.eq_ignore_ascii_case(name))
    }

    /// How many bars the page has left behind the bar at `place`.
    pub(super) fn left(&self, place: usize) -> usize {
        self.numbers.len().saturating_sub(place)
    }

    /// What the last bar is called.
    pub(super) fn last(&self) -> &str {
        self.numbers.last().map_or("", String::as_str)
    }

    fn missing(&self, walker: &mut Walker<'_>, span: Range<usize>, wanted: &str) {
        if self.broken {
            return;
        }
        let names = self.marks.values().map(|(name, _)| name.as_str());
        let nearest = wanted.parse::<u32>().is_err().then(|| suggest(wanted, names)).flatten();
        let first = self.numbers.first().map_or("", String::as_str);
        let (message, mend) = match nearest {
            Some(nearest) => (format!("there is no bar or mark {wanted}"), format!("did you mean \"{nearest}\"?")),
            None if wanted.parse::<u32>().is_err() => {
                (format!("there is no bar or mark {wanted}"), "write a bar's number, or a [[mark]] with that name".to_owned())
            }
            None if self.stated => (
                format!("the page has no bar {wanted}; it goes from bar {first} to bar {}", self.last()),
                "write one of them, or more bars at the top".to_owned(),
            ),
            None => (format!("there is no bar {wanted}"), format!("write a bar from {first} on; a page has {MAX_PIECE_BARS} bars at most")),
        };
        walker.fault(span, message, mend);
    }

    /// The numbers of the bars that something speaks of.
    pub(super) fn into_numbers(mut self) -> Vec<String> {
        if !self.stated {
            self.numbers.truncate(self.reach.max(1));
        }
        self.numbers
    }

    /// Whether anything says how long the page is.
    pub(super) fn has_length(&self) -> bool {
        self.stated || self.reach > 0
    }
}
