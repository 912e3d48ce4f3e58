//! The control side: what the console, the command line and the tests hold.

use rtrb::{Consumer, Producer, PushError, RingBuffer};
use sequencer::words::Phrase;
use sequencer::{Cue, Drone, Mix, Role, Room};
use std::collections::VecDeque;
use std::sync::Arc;
use synth::{Bus, ClipBank, Probe};
use units::{Decibels, FrameInstant, FrameSpan, Gain, SampleRate, Tempo};

use crate::command::{COMMANDS, Command, Dial, HushLane, Levels, Numbered, REPORTS, Report, WornOut};
use crate::journal::{Deed, DroneNote, Entry, Recipe};
use crate::probing::{Asked, Probing};
use crate::renderer::{Lanes, Renderer};
use crate::score::{drone_chord, section_bus};
use crate::sent::{self, Sent};
use crate::{Score, Snapshot};

/// How much one step louder or softer changes the level.
pub const LEVEL_STEP: Decibels = Decibels(2.0);
/// The softest master level: 40 dB under full.
pub const SOFTEST: Decibels = Decibels(-40.0);

/// Makes a renderer and its controls for a sample rate. Allocates everything both will use.
#[must_use]
pub fn pair(rate: SampleRate) -> (Controls, Renderer) {
    let (commands, commands_out) = RingBuffer::new(COMMANDS);
    let (reports_in, reports) = RingBuffer::new(REPORTS);
    let (worn_out_in, worn_out) = RingBuffer::new(2 * COMMANDS);
    let (snapshots_in, snapshots) = triple_buffer::triple_buffer(&Snapshot::initial());
    let levels = Arc::new(Levels::new());
    let hush = Arc::new(HushLane::default());
    let (sender, sent) = sent::lane(rate);
    let lanes = Lanes {
        commands: commands_out,
        levels: Arc::clone(&levels),
        hush: Arc::clone(&hush),
        reports: reports_in,
        worn_out: worn_out_in,
        snapshots: snapshots_in,
        sent: sender,
    };
    let controls = Controls {
        rate,
        commands,
        levels,
        hush,
        reports,
        worn_out,
        snapshots,
        numbered: 0,
        backlog: VecDeque::new(),
        deeds: VecDeque::new(),
        entries: Vec::new(),
        scores: VecDeque::new(),
        sent,
        probe: Asked::default(),
    };
    (controls, Renderer::new(rate, lanes))
}

/// Commands the renderer and reads what it reports. Control thread; never waits for the audio side.
pub struct Controls {
    rate: SampleRate,
    commands: Producer<Numbered>,
    levels: Arc<Levels>,
    hush: Arc<HushLane>,
    reports: Consumer<Report>,
    worn_out: Consumer<WornOut>,
    snapshots: triple_buffer::Output<Snapshot>,
    /// The number of the last command.
    numbered: u32,
    /// Commands that found the queue full.
    backlog: VecDeque<Numbered>,
    /// What each command not yet reported was, for the journal.
    deeds: VecDeque<(u32, Deed)>,
    entries: Vec<Entry>,
    /// Every score that may still be in force, by the number of its command.
    scores: VecDeque<(u32, Arc<Score>)>,
    sent: Sent,
    probe: Asked,
}

impl Controls {
    /// Frames per second of the renderer.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// Loads a plan, standing at its top, or at `place` (bar and tempo) when coming back to one. `recipe` says how it was made, so that the
    /// journal can make it again.
    pub fn load(&mut self, score: Arc<Score>, place: Option<(u32, Tempo)>, recipe: Recipe) {
        let deed = Deed::Load { recipe, place: place.map(|(bar, tempo)| (bar, tempo.bpm())) };
        let number = self.send(Command::Load { score: Arc::clone(&score), place }, Some(deed));
        self.remember(number, score);
    }

    /// Exchanges the plan for an edited version of itself at the next bar line, without stopping.
    pub fn amend(&mut self, score: Arc<Score>, recipe: Recipe) {
        let number = self.send(Command::Amend(Arc::clone(&score)), Some(Deed::Amend { recipe }));
        self.remember(number, score);
    }

    /// Lets `next` start by itself when the plan in force is through, in place of what was queued before; nothing takes it back. `within`
    /// bounds how long from now the plan in force begins new rounds.
    pub fn queue(&mut self, next: Option<(Arc<Score>, Recipe)>, within: Option<FrameSpan>) {
        let (score, recipe) = next.unzip();
        let deed = Deed::Queue { recipe, within: within.map(|span| span.0) };
        let number = self.send(Command::Queue { score: score.clone(), within }, Some(deed));
        if let Some(score) = score {
            self.remember(number, score);
        }
    }

    /// Passes on a word from the director.
    pub fn cue(&mut self, cue: Cue) {
        match cue {
            Cue::Hush => self.hush(),
            Cue::Louder => self.nudge_level(LEVEL_STEP),
            Cue::Softer => self.nudge_level(Decibels(-LEVEL_STEP.0)),
            _ => {
                self.send(Command::Cue(cue), Some(Deed::Cue { cue: cue.word().to_owned() }));
            }
        }
    }

    /// Silence at once. Cues given before it and not yet in force are overtaken by it.
    pub fn hush(&mut self) {
        self.hush.ask(self.numbered);
    }

    /// Holds a drone in `room`, or lets it go.
    pub fn drone(&mut self, drone: Option<(&Drone, &Room)>) {
        self.chord(drone.map(|(drone, room)| drone_chord(drone, room)));
    }

    /// Holds a drone's chord as it is, or lets it go: what a journal has of a drone.
    pub fn chord(&mut self, chord: Option<synth::DroneChord>) {
        let note = chord.as_ref().map(DroneNote::of);
        self.send(Command::Drone(chord), Some(Deed::Drone { drone: note }));
    }

    /// Gives the renderer its voice.
    pub fn clips(&mut self, clips: Arc<ClipBank>) {
        self.send(Command::Clips(clips), Some(Deed::Voice));
    }

    /// Plays a known sound to measure with, softly and under the master level. It is refused while anything else sounds or a plan runs, and
    /// whatever is asked for next ends it, hush at once. [`Self::probing`] tells what became of it.
    pub fn probe(&mut self, probe: Probe) {
        let deed = Deed::Probe { kind: probe.kind().to_owned() };
        let number = self.send(Command::Probe(probe), Some(deed));
        self.probe.ask(number);
    }

    /// Says a remark at once, in the rest that is under way. It is refused, and nothing is said, where the plan does not rest, the voice lacks a
    /// word of it, or it would not be over a look-ahead before the bar line.
    pub fn say(&mut self, remark: Phrase) {
        let words = remark.words().iter().map(|word| (*word).to_owned()).collect();
        self.send(Command::Say(remark), Some(Deed::Say { words }));
    }

    /// What became of the probe last asked for, as of the last [`Self::poll`].
    #[must_use]
    pub fn probing(&self) -> Option<Probing> {
        self.probe.state()
    }

    /// Asks for what is given out from the next block on, or for no more of it. Until it is asked for nothing is kept.
    pub fn want_sent(&mut self, wanted: bool) {
        self.sent.want(wanted);
    }

    /// Hands what was given out since the last call to `out`, in order: the mean of left and right behind the limiter. The frame is that of
    /// the plan's sounds: one laid out for frame n begins on sample n. Where frames are missing, nobody read for
    /// [`sent::SENT_SECONDS`], or nothing was wanted.
    pub fn sent(&mut self, out: impl FnMut(FrameInstant, &[f32])) {
        self.sent.read(out);
    }

    /// Frames given out, wanted, and dropped because nobody read them.
    #[must_use]
    pub fn sent_dropped(&self) -> FrameSpan {
        self.sent.dropped()
    }

    /// The device is gone: the plan stands where it was.
    pub fn halt(&mut self, why: &str) {
        self.send(Command::Halt, Some(Deed::Halt { why: why.to_owned() }));
    }

    /// Sets a level; the newest value wins.
    pub fn set_level(&mut self, dial: Dial, gain: Gain) {
        self.levels.set(dial, gain);
    }

    /// Brings every role to its level in `mix`, and every section of `room` to its own beside the other sections.
    pub fn mix(&mut self, mix: &Mix, room: &Room) {
        let roles = [(Bus::Drone, Role::Drone), (Bus::Voice, Role::Voice), (Bus::Click, Role::Click), (Bus::Breath, Role::Breath)];
        for (bus, role) in roles {
            self.set_level(Dial::Bus(bus), mix.level(role).gain());
        }
        let model = mix.level(Role::Model).0;
        for (index, section) in room.indexed() {
            self.set_level(Dial::Bus(section_bus(index)), Decibels(model + section.level.0).gain());
        }
    }

    /// A level as last set.
    #[must_use]
    pub fn level(&self, dial: Dial) -> Gain {
        self.levels.get(dial)
    }

    /// Notes a fault of the outside world in the journal.
    pub fn note_fault(&mut self, fault: &str) {
        let at = self.snapshots.output_buffer().now;
        self.entries.push(Entry { frame: at.0, deed: Deed::Fault { fault: fault.to_owned() } });
    }

    /// The newest snapshot. Also retries what found the queue full, frees what came home and reads the reports: call it on every tick.
    pub fn poll(&mut self) -> Snapshot {
        self.flush();
        while self.worn_out.pop().is_ok() {}
        while let Ok(report) = self.reports.pop() {
            self.take_report(report);
        }
        let snapshot = *self.snapshots.read();
        while self.scores.get(1).is_some_and(|(number, _)| *number <= snapshot.score) {
            self.scores.pop_front();
        }
        snapshot
    }

    /// The score a snapshot speaks of.
    #[must_use]
    pub fn score_of(&self, snapshot: &Snapshot) -> Option<&Arc<Score>> {
        self.scores.iter().find(|(number, _)| *number == snapshot.score).map(|(_, score)| score)
    }

    /// How many commands wait for room in the queue; zero unless the audio side stands still.
    #[must_use]
    pub fn waiting(&self) -> usize {
        self.backlog.len()
    }

    /// The journal entries that came in since this was last asked.
    pub fn take_entries(&mut self) -> Vec<Entry> {
        std::mem::take(&mut self.entries)
    }

    fn nudge_level(&mut self, by: Decibels) {
        let level = self.levels.get(Dial::Master).decibels().0 + by.0;
        self.levels.set(Dial::Master, Decibels(level.clamp(SOFTEST.0, 0.0)).gain());
    }

    fn send(&mut self, command: Command, deed: Option<Deed>) -> u32 {
        self.numbered = self.numbered.wrapping_add(1);
        let number = self.numbered;
        if let Some(deed) = deed {
            self.deeds.push_back((number, deed));
        }
        self.backlog.push_back(Numbered { number, command });
        self.flush();
        number
    }

    fn flush(&mut self) {
        while let Some(next) = self.backlog.pop_front() {
            if let Err(PushError::Full(next)) = self.commands.push(next) {
                self.backlog.push_front(next);
                return;
            }
        }
    }

    fn remember(&mut self, number: u32, score: Arc<Score>) {
        self.scores.push_back((number, score));
    }

    fn take_report(&mut self, report: Report) {
        let (at, deed) = match report {
            Report::Applied { number, at } => {
                self.probe.applied(number, at);
                (at, self.deed_of(number))
            }
            Report::Overtaken { number, .. } | Report::Refused { number } => {
                self.deed_of(number);
                self.probe.refused(number);
                return;
            }
            Report::Probed { number, whole } => return self.probe.over(number, whole),
            Report::Hushed { at } => (at, Some(Deed::Cue { cue: Cue::Hush.word().to_owned() })),
            Report::Level { dial, gain, at } => (at, Some(Deed::level(dial, gain))),
        };
        if let Some(deed) = deed {
            self.entries.push(Entry { frame: at.0, deed });
        }
    }

    /// The deed of a command; those before it whose reports were dropped are forgotten.
    fn deed_of(&mut self, number: u32) -> Option<Deed> {
        while let Some((known, deed)) = self.deeds.pop_front() {
            if known == number {
                return Some(deed);
            }
        }
        None
    }
}

/// Compile-time proof that both sides may be moved to the threads they run on.
const _: () = {
    const fn sendable<T: Send>() {}
    sendable::<Controls>();
    sendable::<Renderer>();
};
