//! The languages the voice speaks, and how each puts numbers together.

/// A language of the speaking voice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// Spanish.
    Spanish,
    /// French.
    French,
}

impl Language {
    /// Every one.
    pub const ALL: [Self; 3] = [Self::English, Self::Spanish, Self::French];

    /// Its two letters of ISO 639-1.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::Spanish => "es",
            Self::French => "fr",
        }
    }

    /// The language with these letters.
    #[must_use]
    pub fn of_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|language| language.code() == code)
    }

    /// The letters of every one, for a message.
    #[must_use]
    pub fn codes() -> String {
        Self::ALL.map(Self::code).join(", ")
    }

    /// Ids that only this language's numbers need.
    #[must_use]
    pub const fn own_words(self) -> &'static [&'static str] {
        match self {
            Self::English => &[],
            Self::Spanish => &["twenty_joined", "hundred_and", "two_hundred"],
            Self::French => &["twenty_joined", "two_hundred"],
        }
    }

    /// A number from 1 to 240 in words. English has tempi in the short form a conductor says: 104 is "one oh four", 152 "one fifty
    /// two". Anything else says nothing.
    ///
    /// The rules of Spanish and French are those of their school grammars, from memory; a native speaker has yet to look.
    #[must_use]
    pub fn number(self, n: u32) -> Vec<&'static str> {
        if n == 0 || n > 240 {
            return Vec::new();
        }
        match self {
            Self::English => english(n as usize),
            Self::Spanish => spanish(n as usize),
            Self::French => french(n as usize),
        }
    }
}

pub(crate) const ONE_TO_NINETEEN: [&str; 19] = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];
pub(crate) const TENS: [&str; 8] = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"];

/// One to nineteen; nothing for anything else.
fn small(n: usize) -> Option<&'static str> {
    ONE_TO_NINETEEN.get(n.checked_sub(1)?).copied()
}

/// Twenty to ninety, the ones of `n` left out.
fn tens(n: usize) -> Option<&'static str> {
    TENS.get((n / 10).checked_sub(2)?).copied()
}

fn english(n: usize) -> Vec<&'static str> {
    let under_hundred = |n: usize| -> Vec<&'static str> {
        match small(n) {
            Some(word) => vec![word],
            None => tens(n).into_iter().chain(small(n % 10)).collect(),
        }
    };
    let mut words: Vec<_> = small(n / 100).into_iter().collect();
    match n % 100 {
        0 => words.push("hundred"),
        ones @ 1..=9 if n > 100 => words.extend(["oh"].into_iter().chain(small(ones))),
        rest => words.append(&mut under_hundred(rest)),
    }
    words
}

/// 31 is "treinta y uno", but 21 "veintiuno"; 100 "cien", but 104 "ciento cuatro".
fn spanish(n: usize) -> Vec<&'static str> {
    let mut words = match (n / 100, n % 100) {
        (0, _) => Vec::new(),
        (1, 0) => vec!["hundred"],
        (1, _) => vec!["hundred_and"],
        _ => vec!["two_hundred"],
    };
    let rest = n % 100;
    match (small(rest), rest) {
        (Some(word), _) => words.push(word),
        (None, 21..=29) => words.extend(["twenty_joined"].into_iter().chain(small(rest % 10))),
        (None, _) => {
            words.extend(tens(rest));
            words.extend(small(rest % 10).into_iter().flat_map(|ones| ["and", ones]));
        }
    }
    words
}

/// 21 is "vingt et un", 22 "vingt-deux"; 71 "soixante et onze", 72 "soixante-douze"; 81 "quatre-vingt-un", 91 "quatre-vingt-onze".
fn french(n: usize) -> Vec<&'static str> {
    let mut words = match n / 100 {
        0 => Vec::new(),
        1 => vec!["hundred"],
        _ => vec!["two_hundred"],
    };
    let rest = n % 100;
    match (small(rest), rest % 10) {
        (Some(word), _) => words.push(word),
        (None, 0) => words.extend(tens(rest)),
        (None, ones) => {
            let by_twenties = matches!(rest, 61..=79 | 81..=99);
            let over = if by_twenties && matches!(rest / 10, 7 | 9) { ones + 10 } else { ones };
            let ten = match rest / 10 {
                7 => Some("sixty"),
                9 => Some("eighty"),
                2 if ones > 1 => Some("twenty_joined"),
                _ => tens(rest),
            };
            let and = (ones == 1 && rest < 80).then_some("and");
            words.extend(ten.into_iter().chain(and).chain(small(over)));
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use Language::{English, French, Spanish};

    #[test]
    fn tempi_are_said_as_a_conductor_says_them() {
        assert_eq!(English.number(72), ["seventy", "two"]);
        assert_eq!(English.number(104), ["one", "oh", "four"]);
        assert_eq!(English.number(152), ["one", "fifty", "two"]);
        assert_eq!(English.number(120), ["one", "twenty"]);
        assert_eq!(English.number(200), ["two", "hundred"]);
        assert_eq!(English.number(13), ["thirteen"]);
        assert_eq!(English.number(7), ["seven"]);
    }

    #[test]
    fn spanish_numbers_follow_their_own_rules() {
        assert_eq!(Spanish.number(16), ["sixteen"]);
        assert_eq!(Spanish.number(20), ["twenty"]);
        assert_eq!(Spanish.number(21), ["twenty_joined", "one"]);
        assert_eq!(Spanish.number(72), ["seventy", "and", "two"]);
        assert_eq!(Spanish.number(100), ["hundred"]);
        assert_eq!(Spanish.number(104), ["hundred_and", "four"]);
        assert_eq!(Spanish.number(152), ["hundred_and", "fifty", "and", "two"]);
        assert_eq!(Spanish.number(240), ["two_hundred", "forty"]);
    }

    #[test]
    fn french_counts_by_twenties_above_sixty() {
        assert_eq!(French.number(21), ["twenty", "and", "one"]);
        assert_eq!(French.number(22), ["twenty_joined", "two"]);
        assert_eq!(French.number(61), ["sixty", "and", "one"]);
        assert_eq!(French.number(70), ["seventy"]);
        assert_eq!(French.number(71), ["sixty", "and", "eleven"]);
        assert_eq!(French.number(72), ["sixty", "twelve"]);
        assert_eq!(French.number(80), ["eighty"]);
        assert_eq!(French.number(81), ["eighty", "one"]);
        assert_eq!(French.number(91), ["eighty", "eleven"]);
        assert_eq!(French.number(97), ["eighty", "seventeen"]);
        assert_eq!(French.number(104), ["hundred", "four"]);
        assert_eq!(French.number(200), ["two_hundred"]);
    }

    #[test]
    fn every_number_has_few_enough_words_and_nothing_else_has_any() {
        for language in Language::ALL {
            for n in 1..=240 {
                let words = language.number(n).len();
                assert!((1..=4).contains(&words), "{n} in {}: {words} words", language.code());
            }
            assert!(language.number(0).is_empty() && language.number(241).is_empty());
        }
    }
}
