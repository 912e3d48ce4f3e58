//! Words that no plan holds, said in a rest.

use sequencer::words::Phrase;
use sequencer::{Motion, TurnKind};
use units::{FrameInstant, FrameSpan};

use super::Renderer;
use super::layout::JOIN_SECONDS;
use crate::schedule::Upcoming;

impl Renderer {
    /// Lays `remark` out from `now` on, if the plan rests and every word of it is over a look-ahead before the bar line: what comes then has
    /// not been decided until there. Whether it did.
    pub(super) fn say(&mut self, remark: Phrase, now: FrameInstant) -> bool {
        let (Some(score), Some(cursor)) = (&self.score, &self.cursor) else { return false };
        let position = cursor.position(now);
        let Some(bar) = score.plan.bar(position.bar) else { return false };
        if position.motion != Motion::Running
            || bar.turn != TurnKind::Rest
            || position.beat < 0.0
            || now < self.remark_ends
            || remark.words().is_empty()
        {
            return false;
        }
        let seconds = (bar.length.as_f64() - position.beat) * 60.0 / position.tempo.bpm();
        let line = now + self.rate.span(seconds.max(0.0));
        // the other sounds make room before the first word
        let mut start = now + self.band.word_notice();
        let mut laid = [None; Phrase::MAX];
        let mut end = start;
        for (slot, word) in laid.iter_mut().zip(remark.words()) {
            let Some(clip) = score.remark(word) else { return false };
            *slot = Some((start, clip.clip));
            end = start + clip.length;
            start = end.back(self.rate.span(JOIN_SECONDS));
        }
        if self.schedule.word_before(end).is_some() || end + cursor.look_ahead() > line {
            return false;
        }
        for (start, clip) in laid.into_iter().flatten() {
            self.schedule.push(start, Upcoming::Say { clip, cut: None });
        }
        self.schedule.settle();
        self.remark_ends = end + FrameSpan(1);
        true
    }
}
