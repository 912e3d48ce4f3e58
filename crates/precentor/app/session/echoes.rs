//! The notes asked in an echo while the class answers: of whom, when, and what came of each. Sound comes in with the moment it was made;
//! nothing of it is kept but the last moments.

use listen::Player;
use listen::section::heads::Timbre;
use pitch::{Instrument, Tuning};
use sequencer::cursor::Position;
use sequencer::plan::Part;
use sequencer::{Motion, Plan, Room, SectionIndex, TurnKind};
use std::collections::{HashMap, VecDeque};
use units::{Beats, FrameInstant, FrameSpan, SampleRate};

use crate::app::action::Action;
use crate::app::state::{SeatHeard, Seated, SectionHeard};
use crate::hearing::{self, Asked, Solo, WholeSection};

/// Sound that is kept back, in seconds: an echo may have begun before the console knows of it.
const KEPT: f64 = 1.0;
/// How far two looks may see one note apart, in seconds; the same note of a repeated round lies a bar away or more.
const SAME: f64 = 0.4;
/// How long before its end a note counts as over, in seconds: what is broken off then was heard.
const NEARLY: f64 = 0.1;
/// How far the sound's own time may slip between two stretches, in seconds; more, and something between them was lost.
const APART: f64 = 0.005;
/// How much longer a note is listened to where nobody knows how late the microphone is, in seconds.
const UNTIMED: f64 = 0.1;

/// A stretch of sound.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sound<'a> {
    /// What was heard.
    pub(super) samples: &'a [f32],
    /// Its rate.
    pub(super) rate: SampleRate,
    /// When its first sample was made, in frames of that rate since the engine's first.
    pub(super) at: FrameInstant,
    /// Whether that is known, or only what it would be if nothing took time.
    pub(super) timed: bool,
}

/// A note asked of a seat, or of a section that answers alone.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Note {
    asked: Asked,
    /// The bar and the number that tell it from the others of its plan.
    place: (u32, usize),
    /// Whether it is the last of its echo.
    last: bool,
    instrument: &'static Instrument,
    tuning: Tuning,
    heads: u8,
}

impl Note {
    /// Whose timbre it has.
    const fn players(&self) -> Players {
        (self.asked.section, self.instrument.id())
    }

    /// What is asked, by frames of `rate` instead of the engine's.
    fn asked_at(&self, engine: SampleRate, rate: SampleRate) -> Asked {
        let Asked { at, end, .. } = self.asked;
        Asked { at: at.at_rate(engine, rate), end: end.at_rate(engine, rate), ..self.asked }
    }
}

/// What is asked just now, at `now` of `rate`.
pub(super) fn asked(plan: &Plan, room: &Room, position: &Position, now: FrameInstant, rate: SampleRate) -> Vec<Note> {
    let running = matches!(position.motion, Motion::Running | Motion::Closing);
    let Some(bar) = plan.bar(position.bar).filter(|bar| running && bar.turn == TurnKind::Echo) else { return Vec::new() };
    let mut sections = bar.sections.iter();
    let (Some(section), None) = (sections.next(), sections.next()) else { return Vec::new() };
    let (Some(who), Part::Notes(notes)) = (room.section(section), plan.part(section)) else { return Vec::new() };
    if !who.instrument.is_pitched() {
        return Vec::new();
    }
    let top = plan.turn_around(position.bar).start;
    let before: Beats = plan.bars[top as usize..position.bar as usize].iter().map(|bar| bar.length).sum();
    let beat = before.as_f64() + position.beat;
    let frames_a_beat = f64::from(rate.hz()) * 60.0 / position.tempo.bpm();
    let frame_of = |at: Beats| FrameInstant((now.0 as f64 + (at.as_f64() - beat) * frames_a_beat).max(0.0).round() as u64);
    let tuning = room.equal_tuning();
    let seat = plan.station_of(bar).and_then(|station| station.seat);
    let played = notes.iter().enumerate().filter_map(|(index, note)| Some((index, note, note.pitch?.written)));
    let mut list: Vec<Note> = played
        .map(|(index, note, written)| {
            let (at, end) = (frame_of(note.start), frame_of(note.start + note.length));
            let asked = Asked { turn: top as usize, round: bar.round, section, seat, written, at, end };
            let heads = who.heads();
            Note { asked, place: (top, index), last: false, instrument: who.instrument, tuning, heads }
        })
        .collect();
    if let Some(last) = list.last_mut() {
        last.last = true;
    }
    list
}

/// Whether only we sound while the plan stands so, so that our own way through the room may be learnt.
pub(super) fn ours_alone(plan: &Plan, position: &Position) -> bool {
    let turn = plan.bar(position.bar).filter(|_| position.motion == Motion::Running).map(|bar| bar.turn);
    matches!(turn, Some(TurnKind::Call | TurnKind::Count | TurnKind::Model | TurnKind::Landmark))
}

/// A section and the id of its instrument: another room may have others in its place.
type Players = (SectionIndex, &'static str);

/// Listens for every note that is asked, and tells what came.
#[derive(Default)]
pub(super) struct Echoes {
    pending: Vec<Pending>,
    recent: VecDeque<f32>,
    /// The frame after the newest sample.
    now: FrameInstant,
    rate: Option<SampleRate>,
    timed: bool,
    block: Vec<f32>,
    /// Whether the sound of what is told is handed on.
    keeps: bool,
    /// How each section sounds, as far as seats of it were heard alone.
    timbres: HashMap<Players, Timbre>,
}

struct Pending {
    note: Note,
    ear: Option<Ear>,
    /// From where on it has not been listened to yet.
    fed: FrameInstant,
    /// Whether it was told, before it was over.
    told: bool,
    /// What was heard of it, where sound is kept.
    kept: Vec<f32>,
}

/// Who listens.
enum Ear {
    Seat(Box<Player>, Option<Box<Solo>>),
    Section(Box<WholeSection>),
}

impl Echoes {
    /// For sound that is handed on after each echo, or forgotten.
    pub(super) fn new(keeps: bool) -> Self {
        Self { keeps, ..Self::default() }
    }

    /// Takes what is asked just now, as the plan stands at `now` of `rate`: what was asked and is not yet over, and is asked no more, was
    /// broken off.
    pub(super) fn follow(&mut self, asked: Vec<Note>, now: FrameInstant, rate: SampleRate) {
        let same = |a: &Note, b: &Note| a.place == b.place && a.asked.at.offset_from(b.asked.at).0.unsigned_abs() <= rate.span(SAME).0;
        let over = |note: &Note| note.asked.end <= now + rate.span(NEARLY);
        self.pending.retain(|pending| match over(&pending.note) {
            true => !pending.told,
            false => asked.iter().any(|note| same(note, &pending.note)),
        });
        for note in asked {
            if !over(&note) && !self.pending.iter().any(|pending| same(&pending.note, &note)) {
                self.pending.push(Pending { fed: FrameInstant::ZERO, ear: None, note, told: false, kept: Vec::new() });
            }
        }
    }

    /// Takes the next stretch of sound; `engine` is the rate of the frames that notes are asked at.
    pub(super) fn hear(&mut self, sound: Sound<'_>, engine: SampleRate) -> Vec<Action> {
        let away = sound.at.offset_from(self.now).0.unsigned_abs() > sound.rate.span(APART).0;
        if self.rate != Some(sound.rate) || self.timed != sound.timed || away {
            self.recent.clear();
            self.now = sound.at;
        } else if self.pending.iter().all(|pending| pending.ear.is_none()) {
            // the two clocks slip against each other: followed while nobody is listened to
            self.now = sound.at;
        }
        (self.rate, self.timed) = (Some(sound.rate), sound.timed);
        let most = sound.rate.span(KEPT).0 as usize + sound.samples.len();
        self.recent.extend(sound.samples);
        self.recent.drain(..self.recent.len().saturating_sub(most));
        self.now += FrameSpan(sound.samples.len() as u64);
        let mut news = Vec::new();
        for index in 0..self.pending.len() {
            if !self.pending[index].told && self.listen(index, sound, engine) {
                let pending = &mut self.pending[index];
                pending.told = true;
                news.extend(pending.ear.take().and_then(|ear| told(&pending.note, ear, sound, engine, &mut self.timbres)));
                let samples = std::mem::take(&mut pending.kept);
                if !samples.is_empty() {
                    news.push(Action::EchoSound(Box::new((sound.rate, samples))));
                }
            }
        }
        news
    }

    /// Lets the note at `index` hear what is there; whether it is over.
    fn listen(&mut self, index: usize, sound: Sound<'_>, engine: SampleRate) -> bool {
        let rate = sound.rate;
        let note = self.pending[index].note.clone();
        let next = |other: &&Pending| other.note.place == (note.place.0, note.place.1 + 1) && other.note.asked.at >= note.asked.end;
        let follower = self.pending.iter().find(next).map(|next| next.note.asked_at(engine, rate));
        let asked = note.asked_at(engine, rate);
        let (mut from, mut upto) = asked.window(rate, follower.as_ref());
        if note.asked.seat.is_none() {
            (from, upto) = WholeSection::window(&asked, rate);
        } else if !sound.timed {
            upto += rate.span(UNTIMED);
        }
        let oldest = self.now.back(FrameSpan(self.recent.len() as u64));
        let pending = &mut self.pending[index];
        let start = from.max(pending.fed).max(oldest);
        let end = upto.min(self.now);
        if start < end {
            let first = start.offset_from(oldest).0.max(0) as usize;
            let length = end.offset_from(start).0.max(0) as usize;
            self.block.clear();
            self.block.extend(self.recent.iter().skip(first).take(length));
            if pending.ear.is_none() {
                pending.ear = ear(&note, &asked, rate, start, &self.timbres);
            }
            if self.keeps {
                pending.kept.extend_from_slice(&self.block);
            }
            match &mut pending.ear {
                Some(Ear::Seat(player, solo)) => {
                    player.hear(&self.block, |_| ());
                    solo.iter_mut().for_each(|solo| solo.hear(&self.block));
                }
                Some(Ear::Section(section)) => section.hear(&self.block),
                None => {}
            }
            pending.fed = end;
        }
        self.now >= upto
    }
}

/// Who listens to `note` from `start` on; nobody where nothing can be told.
fn ear(note: &Note, asked: &Asked, rate: SampleRate, start: FrameInstant, timbres: &HashMap<Players, Timbre>) -> Option<Ear> {
    if note.asked.seat.is_some() {
        let mut player = Player::new(note.instrument, rate, note.tuning).ok()?;
        player.expect(Some(note.asked.written));
        player.resume(start);
        let solo = Solo::new(note.instrument, &note.tuning, asked, rate, start).map(Box::new);
        return Some(Ear::Seat(Box::new(player), solo));
    }
    let mut whole = WholeSection::new(note.instrument, &note.tuning, note.heads, asked, rate, start)?;
    if let Some(timbre) = timbres.get(&note.players()) {
        whole.add_timbre(*timbre);
    }
    Some(Ear::Section(Box::new(whole)))
}

/// What came of a note; `timbres` learn from a seat's.
fn told(note: &Note, ear: Ear, sound: Sound<'_>, engine: SampleRate, timbres: &mut HashMap<Players, Timbre>) -> Option<Action> {
    let asked = note.asked_at(engine, sound.rate);
    let Asked { section, seat, written: target, .. } = asked;
    match ear {
        Ear::Seat(mut player, solo) => {
            let judged = if sound.timed { asked.judged(&mut player, sound.rate) } else { hearing::judged_untimed(&mut player) };
            if let Some(solo) = solo {
                solo.teach(&judged, timbres.entry(note.players()).or_insert_with(Timbre::parametric));
            }
            Some(Action::Echoed(SeatHeard { seat: seat?, target, judged, last: note.last }))
        }
        Ear::Section(mut whole) => {
            let seated = whole.shares().map(|(shares, names)| Seated::new(&shares, names));
            // how far apart they came is told of an entry whose beat is known
            let entries = whole.entries().filter(|_| sound.timed && seated.is_some());
            Some(Action::SectionEchoed(Box::new(SectionHeard { section, target, heads: note.heads, last: note.last, seated, entries })))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use listen::section::entries::Word;
    use records::Verdict;
    use sequencer::{Cue, Cursor, SectionIndex, compile};
    use std::num::NonZeroI8;
    use units::Hertz;

    const RATE: SampleRate = SampleRate::DEFAULT;
    /// Frames between two looks: about what a console does.
    const LOOK: u64 = 1440;

    /// Four flutes on F5, which is overblown from F4.
    #[test]
    fn a_section_of_woodwinds_is_told_how_many_are_an_octave_off() {
        let text = "version = 1\nname = \"Gull Lane School\"\n[[section]]\nname = \"Flutes\"\ninstrument = \"flute\"\nseats = 4\n";
        let room = book::read_room("room.toml", text).unwrap();
        let mut drill = drill("F5:4");
        drill.own.iter_mut().for_each(|(section, _)| *section = "Flutes".to_owned());
        let plan = compile::drill(&room, &drill).unwrap();
        let echo = bar(1);
        let players: Vec<Plays> = [(698.46, 4.0), (698.46, -6.0), (349.23, 3.0), (698.46, 9.0)]
            .into_iter()
            .map(|(hz, cents)| Plays { from: echo + 1000, frames: 158_000, hz: hz * (cents / 1200.0_f64).exp2() })
            .collect();
        let told = run_in(&room, &plan, &players, 2400, true, &[], (echo as f64 + 160_000.0) / 48_000.0);
        let [Action::SectionEchoed(heard)] = &told[..] else { panic!("{told:?}") };
        let notes: Vec<_> = heard.seated.as_ref().unwrap().notes.iter().map(|on| on.written.to_string()).collect();
        assert_eq!(notes, ["F4", "F5", "C6"]);
        assert!(heard.on_target().unwrap().share > 0.4, "{heard:?}");
        assert_eq!(heard.astray().unwrap().written.to_string(), "F4", "{heard:?}");
        assert!(heard.entries.is_some());
    }

    fn room() -> Room {
        let text = "version = 1\nname = \"Gull Lane School\"\n[[section]]\nname = \"Horns\"\ninstrument = \"horn in F\"\nseats = 4\n";
        book::read_room("room.toml", text).unwrap()
    }

    fn drill(line: &str) -> sequencer::Drill {
        let text = format!(
            "version = 1\ntitle = \"Answer\"\ntempo = 72\n[line]\nall = {{ written = \"{line}\" }}\n[[turn]]\nmodel = {{}}\n[[turn]]\necho = {{}}\n\
             [[turn]]\nrest = {{}}\n"
        );
        book::read_drill("drill.toml", &text.replace("all =", "Horns =")).unwrap().drill
    }

    /// A player on `hz` at frame `n` since it came in.
    fn tone(hz: f64, n: i64, frames: i64) -> f32 {
        if n < 0 || n > frames {
            return 0.0;
        }
        let rise = (n as f64 / 1200.0).min(1.0);
        let part = |h: i32| (f64::from(h) * hz * n as f64 / 48_000.0 * std::f64::consts::TAU).sin() / f64::from(h);
        (0.05 * rise * (1..8).map(part).sum::<f64>()) as f32
    }

    /// Somebody who plays: from which frame for how long, how high.
    struct Plays {
        from: i64,
        frames: i64,
        hz: f64,
    }

    /// Runs `plan` for `seconds`, the players sounding `late` frames after their time, and gives what was told; `cues` are given on the way.
    fn run(plan: &Plan, players: &[Plays], late: i64, timed: bool, cues: &[(u64, Cue)], seconds: f64) -> Vec<Action> {
        run_in(&room(), plan, players, late, timed, cues, seconds)
    }

    fn run_in(room: &Room, plan: &Plan, players: &[Plays], late: i64, timed: bool, cues: &[(u64, Cue)], seconds: f64) -> Vec<Action> {
        let mut cursor = Cursor::new(plan, RATE);
        let mut echoes = Echoes::default();
        let mut news = Vec::new();
        let mut now = FrameInstant::ZERO;
        cursor.cue(plan, Cue::Go, now);
        while now.0 < RATE.span(seconds).0 {
            for (_, cue) in cues.iter().filter(|(at, _)| (now.0..now.0 + LOOK).contains(at)) {
                cursor.cue(plan, *cue, now);
            }
            let before = now;
            for _ in 0..LOOK / 48 {
                while cursor.step(plan, now).is_some() {}
                now += FrameSpan(48);
            }
            echoes.follow(asked(plan, room, &cursor.position(now), now, RATE), now, RATE);
            if timed && before.0 < late as u64 {
                continue;
            }
            let heard = |n: u64| players.iter().map(|plays| tone(plays.hz, n as i64 - late - plays.from, plays.frames)).sum::<f32>();
            let samples: Vec<f32> = (before.0..now.0).map(heard).collect();
            let at = if timed { before.back(FrameSpan(late as u64)) } else { before };
            news.extend(echoes.hear(Sound { samples: &samples, rate: RATE, at, timed }, RATE));
        }
        news
    }

    fn written(note: &str) -> Hertz {
        let horn = Instrument::find("horn in F").unwrap();
        Tuning::default().frequency(horn.sounding(note.parse().unwrap()))
    }

    /// Where bar `bar` of a plan at 72 begins.
    fn bar(bar: i64) -> i64 {
        14_400 + bar * 160_000
    }

    fn seats(news: &[Action]) -> Vec<SeatHeard> {
        news.iter().filter_map(|action| if let Action::Echoed(heard) = action { Some(*heard) } else { None }).collect()
    }

    #[test]
    fn every_seat_of_a_roll_is_told_with_its_entry_where_the_microphone_is_known() {
        let plan = compile::roll(&room(), &drill("G4:4"), SectionIndex(0)).unwrap();
        // per seat: call, model, echo, rest
        let echo = |seat: i64| bar(4 * seat + 2);
        let players = [
            Plays { from: echo(0) + 1440, frames: 140_000, hz: written("G4").hz() },
            Plays { from: echo(1) + 9600, frames: 130_000, hz: written("C4").hz() },
            // seat 3 plays nothing; seat 4 comes in before its beat
            Plays { from: echo(3) - 4800, frames: 140_000, hz: written("G4").hz() * (-30.0_f64 / 1200.0).exp2() },
        ];
        for (late, timed) in [(0, true), (2400, true), (9600, true), (2400, false)] {
            let told = seats(&run(&plan, &players, late, timed, &[], 56.0));
            let verdicts: Vec<_> = told.iter().map(|heard| (heard.seat, heard.judged.verdict)).collect();
            let low = Verdict::Partials(NonZeroI8::new(-2).unwrap());
            assert_eq!(verdicts, [(1, Verdict::OnIt), (2, low), (3, Verdict::Nothing), (4, Verdict::Flat)], "{late} {timed}");
            let entries: Vec<_> = told.iter().map(|heard| heard.judged.entry_ms).collect();
            if timed {
                for (entry, truth) in entries.iter().zip([Some(30.0), Some(200.0), None, Some(-100.0)]) {
                    assert!(entry.zip(truth).is_none_or(|(entry, truth)| (entry - truth).abs() < 20.0), "{entries:?}");
                    assert_eq!(entry.is_some(), truth.is_some());
                }
            } else {
                assert_eq!(entries, [None; 4]);
            }
        }
    }

    #[test]
    fn every_note_of_a_line_is_told() {
        let plan = compile::roll(&room(), &drill("G4:2 E4:2"), SectionIndex(0)).unwrap();
        let echo = bar(2);
        let players = [
            Plays { from: echo, frames: 78_000, hz: written("G4").hz() },
            Plays { from: echo + 80_000, frames: 78_000, hz: written("C4").hz() },
        ];
        let told = seats(&run(&plan, &players, 0, true, &[], 13.9));
        let notes: Vec<_> = told.iter().map(|heard| (heard.target.to_string(), heard.judged.heard.unwrap().to_string())).collect();
        assert_eq!(notes, [("G4".to_owned(), "G4".to_owned()), ("E4".to_owned(), "C4".to_owned())]);
    }

    #[test]
    fn an_echo_that_is_hushed_or_left_is_not_judged() {
        let plan = compile::roll(&room(), &drill("G4:4 G4:4"), SectionIndex(0)).unwrap();
        let echo = bar(3);
        let players = [Plays { from: echo, frames: 300_000, hz: written("G4").hz() }];
        let hushed = run(&plan, &players, 0, true, &[(echo as u64 + 80_000, Cue::Hush)], 20.0);
        assert_eq!(seats(&hushed).len(), 0);
        // left at the bar line in the middle: the first note was heard, the second not asked
        let left = run(&plan, &players, 0, true, &[(echo as u64 + 80_000, Cue::Next)], 16.0);
        assert_eq!(seats(&left).len(), 1);
    }

    #[test]
    fn a_section_is_told_before_its_bar_line_how_many_sit_where() {
        let plan = compile::drill(&room(), &drill("G4:4")).unwrap();
        let echo = bar(1);
        let players: Vec<Plays> = [("G4", 4.0), ("G4", -6.0), ("C4", 3.0), ("G4", 9.0)]
            .into_iter()
            .map(|(note, cents)| Plays { from: echo + 1000, frames: 158_000, hz: written(note).hz() * (cents / 1200.0_f64).exp2() })
            .collect();
        let told = run(&plan, &players, 2400, true, &[], (echo as f64 + 160_000.0) / 48_000.0);
        let [Action::SectionEchoed(heard)] = &told[..] else { panic!("{told:?}") };
        assert_eq!((heard.target.to_string(), heard.heads, heard.last), ("G4".to_owned(), 4, true));
        let on = heard.on_target().unwrap();
        assert!((on.share - 0.75).abs() < 0.2 && on.bounds.0 <= 0.75 && 0.75 <= on.bounds.1, "{on:?}");
        assert_eq!(heard.astray().unwrap().written.to_string(), "C4");
        let entries = heard.entries.unwrap();
        assert_eq!(entries.word, Word::Together);
        // 21 ms, and what a section's mean is told to
        assert!((entries.mean_ms - 21.0).abs() < 30.0, "{entries:?}");
        let untimed = run(&plan, &players, 2400, false, &[], (echo as f64 + 160_000.0) / 48_000.0);
        assert!(matches!(&untimed[..], [Action::SectionEchoed(heard)] if heard.entries.is_none() && heard.seated.is_some()), "{untimed:?}");
        let silence = run(&plan, &[], 0, true, &[], 7.5);
        assert!(matches!(&silence[..], [Action::SectionEchoed(heard)] if heard.seated.is_none()), "{silence:?}");
    }

    #[test]
    fn a_section_that_comes_in_one_after_another_is_told_ragged() {
        let plan = compile::drill(&room(), &drill("G4:4")).unwrap();
        let echo = bar(1);
        let players: Vec<Plays> = [-90, -20, 50, 110]
            .into_iter()
            .map(|ms: i64| Plays { from: echo + 48 * ms, frames: 158_000, hz: written("G4").hz() * (ms as f64 / 12_000.0).exp2() })
            .collect();
        let told = run(&plan, &players, 2400, true, &[], (echo as f64 + 160_000.0) / 48_000.0);
        let [Action::SectionEchoed(heard)] = &told[..] else { panic!("{told:?}") };
        let entries = heard.entries.unwrap();
        // these four are 75 ms apart, as a standard deviation
        assert_eq!(entries.word, Word::Ragged, "{entries:?}");
        assert!((entries.spread_ms - 75.0).abs() < 2.0 * entries.doubt_ms, "{entries:?}");
    }

    #[test]
    fn whoever_plays_together_with_others_is_not_told() {
        let mut drill = drill("G4:4");
        drill.everyone = drill.own.first().map(|(_, line)| line.clone());
        let mut room = room();
        room.sections.push(sequencer::Section { name: "More horns".to_owned(), ..room.sections[0].clone() });
        let plan = compile::drill(&room, &drill).unwrap();
        let position = Position { bar: 1, beat: 1.0, motion: Motion::Running, tempo: plan.tempo };
        assert_eq!(asked(&plan, &room, &position, FrameInstant(300_000), RATE), []);
    }
}
