//! The table of a pack: one line per clip.

use super::Tier;

/// One line of `align.tsv`.
#[derive(Debug)]
pub(super) struct Row<'a> {
    /// The clip's name: the id, and `~q`, `~t` or `~s` for a short tier.
    pub(super) name: &'a str,
    pub(super) id: &'a str,
    pub(super) text: &'a str,
    pub(super) tier: Tier,
    pub(super) duration_ms: f64,
    pub(super) p_centre_ms: f64,
}

/// Where a perceptual attack may come from: the synthesiser's own times, the clip's envelope, or a person's ear.
const ORIGINS: [&str; 3] = ["phones", "measured", "manual"];

impl<'a> Row<'a> {
    pub(super) fn parse(line: &'a str) -> Result<Self, &'static str> {
        let fields: Vec<&str> = line.split('\t').collect();
        let (&[name, text, _group, tier, duration, p_centre, _vowel, _tail]
        | &[name, text, _group, tier, duration, p_centre, _vowel, _tail, _]) = fields.as_slice()
        else {
            return Err("eight or nine columns are needed: id, text, group, tier, dur_ms, p_centre_ms, vowel_ms, tail_ms, origin");
        };
        if fields.get(8).is_some_and(|origin| !ORIGINS.contains(origin)) {
            return Err("the origin is not phones, measured or manual");
        }
        let tier = Tier::from_letter(tier).ok_or("the tier is not F, Q, T or S")?;
        let id = name.split_once('~').map_or(name, |(id, _)| id);
        if id.is_empty() || !name.chars().all(|letter| letter.is_ascii_alphanumeric() || matches!(letter, '_' | '~')) {
            return Err("the id is not letters, digits and underscores");
        }
        let ms = |field: &str| field.parse().ok().filter(|ms: &f64| (0.0..60_000.0).contains(ms));
        let duration_ms = ms(duration).ok_or("dur_ms is not a number of milliseconds")?;
        let p_centre_ms = ms(p_centre).ok_or("p_centre_ms is not a number of milliseconds")?;
        Ok(Self { name, id, text, tier, duration_ms, p_centre_ms })
    }
}
