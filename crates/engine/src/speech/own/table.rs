//! `align.tsv` of a folder of recordings: what was measured, and what was set by hand.

use std::collections::HashMap;
use std::fmt::Write as _;

use super::Prepared;

const HEAD: &str = "# id\ttext\tgroup\ttier\tdur_ms\tp_centre_ms\tvowel_ms\ttail_ms\t(\"manual\": set by hand, never overwritten)\n";
/// The last column of a line that was set by hand.
const MANUAL: &str = "manual";

/// The lines that were set by hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ByHand {
    /// Each line as it stands, with its clip's name, in the table's order.
    lines: Vec<(String, String)>,
    p_centres: HashMap<String, f64>,
}

impl ByHand {
    /// Reads a table. Measured lines are passed over: they are measured anew.
    ///
    /// # Errors
    /// The first faulty line that claims to be set by hand, from 1, and what is wrong with it.
    pub fn parse(table: &str) -> Result<Self, (usize, &'static str)> {
        let mut by_hand = Self::default();
        for (number, line) in table.lines().enumerate() {
            let fields: Vec<&str> = line.split('\t').collect();
            if line.starts_with('#') || fields.last().is_none_or(|last| last.trim() != MANUAL) {
                continue;
            }
            let fault = |fault| (number + 1, fault);
            let &[name, _text, _group, _tier, _duration, p_centre, _vowel, _tail, _manual] = fields.as_slice() else {
                return Err(fault("a line set by hand has nine columns, the last \"manual\""));
            };
            let p_centre = p_centre.trim().parse().ok().filter(|ms: &f64| (0.0..60_000.0).contains(ms));
            let p_centre = p_centre.ok_or(fault("p_centre_ms is not a number of milliseconds"))?;
            if by_hand.p_centres.insert(name.to_owned(), p_centre).is_some() {
                return Err(fault("this clip was set by hand further up"));
            }
            by_hand.lines.push((name.to_owned(), line.to_owned()));
        }
        Ok(by_hand)
    }

    /// Where the beat of the clip called `name` was set to, in milliseconds.
    #[must_use]
    pub fn p_centre_ms(&self, name: &str) -> Option<f64> {
        self.p_centres.get(name).copied()
    }

    /// The table of `clips`. Every line set by hand stands as it was, also of clips that are gone.
    #[must_use]
    pub fn table(&self, clips: &[Prepared]) -> String {
        let mut table = HEAD.to_owned();
        for clip in clips {
            match self.lines.iter().find(|(name, _)| *name == clip.name) {
                Some((_, line)) => table.push_str(line),
                None => table.push_str(&line(clip)),
            }
            table.push('\n');
        }
        for (_, line) in self.lines.iter().filter(|(name, _)| clips.iter().all(|clip| clip.name != *name)) {
            table.push_str(line);
            table.push('\n');
        }
        table
    }

    /// Sets the beat of `clip` by hand, to where it is now.
    pub fn set(&mut self, clip: &Prepared) {
        let line = format!("{}\t{MANUAL}", line(clip));
        self.p_centres.insert(clip.name.clone(), clip.p_centre_ms);
        match self.lines.iter_mut().find(|(name, _)| *name == clip.name) {
            Some((_, old)) => *old = line,
            None => self.lines.push((clip.name.clone(), line)),
        }
    }
}

fn line(clip: &Prepared) -> String {
    let mut line = format!("{}\t{}\t{}\t{}", clip.name, clip.text, clip.group, clip.tier.letter());
    for ms in [clip.duration_ms(), clip.p_centre_ms, clip.vowel_ms, clip.duration_ms() - clip.p_centre_ms] {
        let _ = write!(line, "\t{ms:.1}");
    }
    line
}
