//! The audio side. Everything here runs inside the device's callback: no allocation, no free, no lock, no system call, no file, no log, no
//! panic, no unbounded loop.
//!
//! Whatever the device asks for, sound is made in blocks of [`synth::BLOCK`] frames that start on multiples of it, and every sound inside a
//! block starts on its own frame. So the callback's size never changes a sample. Commands take hold at the start of a block.

mod layout;
mod remark;

use rtrb::{Consumer, Producer};
use sequencer::cursor::Step;
use sequencer::{Cue, Cursor, Motion};
use std::sync::Arc;
use synth::{BLOCK, Band, ClipBank, Probe, Stems};
use units::{FrameInstant, FrameSpan, Gain, SampleRate};

use crate::command::{Command, Dial, HushLane, Levels, Numbered, Report, WornOut};
use crate::probing::Played;
use crate::schedule::{Schedule, Upcoming};
use crate::sent::Sender;
use crate::snapshot::{Counts, Snapshot};
use crate::{Observer, Score};

const BLOCK_SPAN: FrameSpan = FrameSpan(BLOCK as u64);
/// To begin a tone costs more than to sound it for a block. So that many on one beat do not all fall into one callback, one is handed to the
/// band in each of the blocks before.
const EARLY_SPAN: FrameSpan = FrameSpan(64 * BLOCK as u64);

/// Everything the audio side needs to talk to the control side. Made in a pair with [`crate::Controls`].
pub(crate) struct Lanes {
    pub(crate) commands: Consumer<Numbered>,
    pub(crate) levels: Arc<Levels>,
    pub(crate) hush: Arc<HushLane>,
    pub(crate) reports: Producer<Report>,
    pub(crate) worn_out: Producer<WornOut>,
    pub(crate) snapshots: triple_buffer::Input<Snapshot>,
    pub(crate) sent: Sender,
}

/// Fills the device's buffers. Owned by whoever calls [`Renderer::fill`]; it outlives every stream.
pub struct Renderer {
    rate: SampleRate,
    band: Band,
    clips: Option<Arc<ClipBank>>,
    no_clips: ClipBank,
    score: Option<Arc<Score>>,
    score_number: u32,
    cursor: Option<Cursor>,
    /// An edited plan that waits for its bar line.
    amendment: Option<(u32, Arc<Score>)>,
    /// What starts when the plan in force is through.
    queued: Option<(u32, Arc<Score>)>,
    schedule: Schedule,
    drone: bool,
    /// Whether it is the plan's own, to be let go with it.
    drone_of_plan: bool,
    now: FrameInstant,
    block: [[f32; 2]; BLOCK],
    /// How many frames of `block` have gone out.
    used: usize,
    lanes: Lanes,
    hush_state: u64,
    overtaken_to: u32,
    levels: [Gain; synth::BUS_COUNT + 1],
    dropped_reports: u64,
    /// What has not gone home yet; no command is taken while any waits. One command wears out three things at most.
    homebound: [Option<WornOut>; 3],
    probe: Played,
    /// Where the last remark is over.
    remark_ends: FrameInstant,
}

impl Renderer {
    /// Control thread: allocates everything it will ever use.
    pub(crate) fn new(rate: SampleRate, lanes: Lanes) -> Self {
        let mut renderer = Self {
            rate,
            band: Band::new(rate),
            clips: None,
            no_clips: ClipBank::default(),
            score: None,
            score_number: 0,
            cursor: None,
            amendment: None,
            queued: None,
            schedule: Schedule::new(),
            drone: false,
            drone_of_plan: false,
            now: FrameInstant::ZERO,
            block: [[0.0; 2]; BLOCK],
            used: BLOCK,
            lanes,
            hush_state: 0,
            overtaken_to: 0,
            levels: [Gain::new(-1.0); synth::BUS_COUNT + 1],
            dropped_reports: 0,
            homebound: [None, None, None],
            probe: Played::default(),
            remark_ends: FrameInstant::ZERO,
        };
        // the dials' first values are where everything starts, not a change
        for (slot, dial) in renderer.levels.iter_mut().zip(Dial::all()) {
            *slot = renderer.lanes.levels.get(dial);
            set_dial(&mut renderer.band, dial, *slot);
        }
        renderer
    }

    /// Frames per second.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// How many frames later than its frame number a sound leaves [`Self::fill`].
    #[must_use]
    pub fn latency(&self) -> FrameSpan {
        self.band.latency()
    }

    /// The first frame of the next block.
    #[must_use]
    pub fn now(&self) -> FrameInstant {
        self.now
    }

    /// Audio thread: fills `out`, interleaved in `channels` channels. The first two get left and right, a single one their mean, any more get
    /// silence.
    pub fn fill(&mut self, out: &mut [f32], channels: usize) {
        if channels == 0 {
            return;
        }
        for frame in out.chunks_mut(channels) {
            if self.used >= BLOCK {
                self.render_block(&mut (), None);
                self.used = 0;
            }
            let [left, right] = self.block.get(self.used).copied().unwrap_or_default();
            self.used += 1;
            match frame {
                [mono] => *mono = 0.5 * (left + right),
                [first, second, rest @ ..] => {
                    *first = left;
                    *second = right;
                    rest.fill(0.0);
                }
                [] => {}
            }
        }
        self.publish();
    }

    /// Renders the next whole block, telling `observer` of every sound as it is laid out. What [`Self::fill`] does, for offline use.
    pub fn next_block(&mut self, observer: &mut impl Observer, stems: Option<&mut Stems>) -> &[[f32; 2]; BLOCK] {
        self.render_block(observer, stems);
        self.used = BLOCK;
        self.publish();
        &self.block
    }

    fn render_block(&mut self, observer: &mut impl Observer, stems: Option<&mut Stems>) {
        let now = self.now;
        self.read_hush(now);
        self.read_commands(now);
        self.read_levels(now);
        self.advance(now, observer);
        self.start_sounds(now + BLOCK_SPAN);
        let clips = self.clips.as_deref().unwrap_or(&self.no_clips);
        self.band.render(now, clips, &mut self.block, stems);
        self.lanes.sent.send(now, self.band.latency(), &self.block);
        self.now = now + BLOCK_SPAN;
    }

    fn read_hush(&mut self, now: FrameInstant) {
        let (state, last) = self.lanes.hush.read();
        if state != self.hush_state {
            self.hush_state = state;
            self.overtaken_to = last;
            self.hush();
            self.report(Report::Hushed { at: now });
        }
    }

    fn hush(&mut self) {
        if let (Some(cursor), Some(score)) = (&mut self.cursor, &self.score) {
            cursor.halt(&score.plan);
        }
        self.schedule.clear();
        self.drone = false;
        self.drone_of_plan = false;
        self.band.set_drone(None);
        self.band.hush();
        self.probe.cut = true;
    }

    fn read_commands(&mut self, now: FrameInstant) {
        loop {
            // a command could bring other recorded sounds: the last exchange must be over
            if !self.send_home() || self.band.exchanging_samples() {
                return;
            }
            let Ok(Numbered { number, command }) = self.lanes.commands.pop() else { return };
            let overtaken = matches!(command, Command::Cue(_) | Command::Drone(Some(_)) | Command::Probe(_) | Command::Say(_))
                && number.wrapping_sub(self.overtaken_to) as i32 <= 0;
            if overtaken && self.hush_state != 0 {
                self.turn_away(command);
                self.report(Report::Overtaken { number, at: now });
            } else if let Command::Probe(probe) = command {
                self.begin_probe(number, probe, now);
            } else if let Command::Say(remark) = command {
                let said = self.say(remark, now);
                self.report(if said { Report::Applied { number, at: now } } else { Report::Refused { number } });
            } else {
                self.apply(number, command, now);
                self.report(Report::Applied { number, at: now });
            }
        }
    }

    /// A command that is not obeyed: what it brought goes home.
    fn turn_away(&mut self, command: Command) {
        if let Command::Probe(probe) = command {
            self.homebound = [Some(WornOut::Probe(probe)), None, None];
        }
    }

    /// Plays a probe, if nothing sounds and no plan runs.
    fn begin_probe(&mut self, number: u32, probe: Probe, now: FrameInstant) {
        let runs = self.cursor.as_ref().is_some_and(|cursor| matches!(cursor.position(now).motion, Motion::Running | Motion::Closing));
        let busy = runs || self.drone || self.probe.number.is_some() || !self.band.is_silent();
        match if busy { Err(probe) } else { self.band.probe(probe) } {
            Ok(()) => {
                self.probe = Played { number: Some(number), cut: false };
                self.report(Report::Applied { number, at: now });
            }
            Err(probe) => {
                self.turn_away(Command::Probe(probe));
                self.report(Report::Refused { number });
            }
        }
    }

    /// The class goes on: no more measuring.
    fn end_probe(&mut self) {
        self.band.end_probe();
        self.probe.cut = true;
    }

    fn apply(&mut self, number: u32, command: Command, now: FrameInstant) {
        match command {
            Command::Load { score, place } => {
                let mut cursor = Cursor::new(&score.plan, self.rate);
                if let Some((bar, tempo)) = place {
                    cursor.stand_at(&score.plan, bar, tempo);
                }
                self.cursor = Some(cursor);
                self.drop_sounds(now);
                self.let_go_of_plans_drone();
                self.score_number = number;
                self.band.set_samples(score.samples());
                let stale = self.amendment.take().map(|(_, score)| WornOut::Score(score));
                let passed_by = self.queued.take().map(|(_, score)| WornOut::Score(score));
                self.homebound = [self.score.replace(score).map(WornOut::Score), stale, passed_by];
            }
            Command::Queue { score, within } => {
                let stale = match score {
                    Some(score) => self.queued.replace((number, score)),
                    None => self.queued.take(),
                };
                self.homebound = [stale.map(|(_, score)| WornOut::Score(score)), None, None];
                if let Some(cursor) = &mut self.cursor {
                    cursor.limit(within.map(|span| now + span));
                }
            }
            Command::Amend(score) => {
                let stale = self.amendment.replace((number, score)).map(|(_, stale)| WornOut::Score(stale));
                self.homebound = [stale, None, None];
                self.take_up_amendment(now);
            }
            Command::Cue(Cue::Hush) => self.hush(),
            Command::Cue(cue) => {
                self.end_probe();
                if let (Some(cursor), Some(score)) = (&mut self.cursor, &self.score) {
                    cursor.cue(&score.plan, cue, now);
                }
            }
            Command::Drone(chord) => {
                if chord.is_some() {
                    self.end_probe();
                }
                self.drone = chord.is_some();
                self.drone_of_plan = false;
                self.band.set_drone(chord);
            }
            Command::Clips(clips) => {
                self.homebound = [self.clips.replace(clips).map(WornOut::Clips), None, None];
            }
            // begun elsewhere
            Command::Probe(_) | Command::Say(_) => self.turn_away(command),
            Command::Halt => {
                self.end_probe();
                if let (Some(cursor), Some(score)) = (&mut self.cursor, &self.score) {
                    cursor.halt(&score.plan);
                }
                self.drop_sounds(now);
            }
        }
    }

    /// Sends what is worn out home; false if some of it still waits.
    fn send_home(&mut self) -> bool {
        if self.lanes.worn_out.slots() > 0
            && let Some(samples) = self.band.worn_out_samples()
            && let Err(rtrb::PushError::Full(WornOut::Samples(samples))) = self.lanes.worn_out.push(WornOut::Samples(samples))
        {
            // there was room a moment ago and nobody else pushes; if not, it must not be freed here
            std::mem::forget(samples);
        }
        if self.lanes.worn_out.slots() > 0
            && let Some(probe) = self.band.worn_out_probe()
        {
            if let Err(rtrb::PushError::Full(probe)) = self.lanes.worn_out.push(WornOut::Probe(probe)) {
                // as above
                std::mem::forget(probe);
            }
            if let Some(number) = self.probe.number.take() {
                self.report(Report::Probed { number, whole: !self.probe.cut });
            }
        }
        for slot in &mut self.homebound {
            if let Some(item) = slot.take()
                && let Err(rtrb::PushError::Full(item)) = self.lanes.worn_out.push(item)
            {
                *slot = Some(item);
                return false;
            }
        }
        true
    }

    /// Puts an edited plan in force if the cursor stands or is about to decide the next bar.
    fn take_up_amendment(&mut self, now: FrameInstant) {
        let (Some(cursor), Some(old)) = (&mut self.cursor, &self.score) else {
            if let Some((number, score)) = self.amendment.take() {
                self.cursor = Some(Cursor::new(&score.plan, self.rate));
                self.score_number = number;
                self.band.set_samples(score.samples());
                self.score = Some(score);
            }
            return;
        };
        let [_, slot @ None, _] = &mut self.homebound else { return };
        if self.band.exchanging_samples() || !cursor.at_a_seam(now) {
            return;
        }
        if let Some((number, score)) = self.amendment.take() {
            cursor.transfer(&old.plan, &score.plan);
            self.band.set_samples(score.samples());
            self.score_number = number;
            *slot = self.score.replace(score).map(WornOut::Score);
        }
    }

    fn read_levels(&mut self, now: FrameInstant) {
        for (index, dial) in Dial::all().enumerate() {
            let gain = self.lanes.levels.get(dial);
            let Some(slot) = self.levels.get_mut(index) else { continue };
            if *slot != gain {
                *slot = gain;
                set_dial(&mut self.band, dial, gain);
                self.report(Report::Level { dial, gain, at: now });
            }
        }
    }

    fn advance(&mut self, now: FrameInstant, observer: &mut impl Observer) {
        if self.amendment.is_some() {
            self.take_up_amendment(now);
        }
        self.take_up_queued(now);
        let (Some(cursor), Some(score)) = (&mut self.cursor, &self.score) else { return };
        // one look-ahead holds at most a few bars; the bound is a safety net
        for _ in 0..16 {
            match cursor.step(&score.plan, now) {
                Some(Step::Bar(bar)) => layout::lay(score, bar, &mut self.schedule, observer),
                Some(Step::Stop { at }) => {
                    self.schedule.push(at, Upcoming::Release);
                    self.schedule.settle();
                }
                None => break,
            }
        }
    }

    /// Starts what is queued if the plan in force is through, one look-ahead after its last bar line, and lets go of that plan's drone.
    fn take_up_queued(&mut self, now: FrameInstant) {
        let Some(ended) = self.cursor.as_ref().and_then(Cursor::ended) else { return };
        self.let_go_of_plans_drone();
        let [old @ None, stale @ None, _] = &mut self.homebound else { return };
        if self.band.exchanging_samples() {
            return;
        }
        let Some((number, score)) = self.queued.take() else { return };
        let mut cursor = Cursor::new(&score.plan, self.rate);
        // the plan ended within the last block and was seen to in this one; one that has been through for longer is followed from now
        cursor.start_from(&score.plan, if ended + BLOCK_SPAN + BLOCK_SPAN < now { now } else { ended });
        self.cursor = Some(cursor);
        self.score_number = number;
        self.band.set_samples(score.samples());
        *old = self.score.replace(score).map(WornOut::Score);
        *stale = self.amendment.take().map(|(_, score)| WornOut::Score(score));
    }

    fn let_go_of_plans_drone(&mut self) {
        if std::mem::take(&mut self.drone_of_plan) {
            self.drone = false;
            self.band.set_drone(None);
        }
    }

    fn start_sounds(&mut self, end: FrameInstant) {
        while let Some((at, sound)) = self.schedule.take_before(end) {
            match sound {
                Upcoming::Tone(tone) => self.band.tone(tone),
                Upcoming::Sampled(tone) => self.band.sampled_tone(tone),
                Upcoming::Stroke { drum, level, bus } => self.band.strike(drum, at, level, bus),
                Upcoming::Say { clip, cut } => self.band.say(clip, at, cut),
                Upcoming::Click(kind) => self.band.click(kind, at, layout::CLICK_LEVEL),
                Upcoming::Breath(breath) => self.band.breath(breath, layout::BREATH_LEVEL),
                Upcoming::Release => self.band.release_tones(at),
                Upcoming::Hold => {
                    if let Some(chord) = self.score.as_ref().and_then(|score| score.chord()) {
                        self.drone = true;
                        self.drone_of_plan = true;
                        self.band.set_drone(Some(chord));
                    }
                }
            }
        }
        if let Some(clip) = self.schedule.word_before(end + self.band.word_notice()) {
            self.band.expect_word(clip);
        }
        if let Some(tone) = self.schedule.take_tone_before(end + EARLY_SPAN) {
            self.band.tone(tone);
        }
    }

    /// Everything laid out is forgotten, and what sounds of it ends.
    fn drop_sounds(&mut self, now: FrameInstant) {
        self.schedule.clear();
        self.band.release_tones(now);
        self.band.drop_tones_from(now);
    }

    fn report(&mut self, report: Report) {
        if self.lanes.reports.push(report).is_err() {
            self.dropped_reports += 1;
        }
    }

    fn publish(&mut self) {
        let position = self.cursor.as_ref().map(|cursor| cursor.position(self.now));
        let counts =
            Counts { non_finite: self.band.non_finite(), lost_sounds: self.schedule.lost(), dropped_reports: self.dropped_reports };
        self.lanes.snapshots.write(Snapshot {
            now: self.now,
            position,
            score: self.score_number,
            drone: self.drone,
            peak: self.band.peak(),
            master: self.levels.first().copied().unwrap_or(Gain::SILENCE),
            voice: self.clips.is_some(),
            counts,
        });
    }

    /// Whether nothing sounds and nothing is laid out.
    #[must_use]
    pub fn is_silent(&self) -> bool {
        self.band.is_silent()
    }
}

fn set_dial(band: &mut Band, dial: Dial, gain: Gain) {
    match dial {
        Dial::Master => band.set_master(gain),
        Dial::Bus(bus) => band.set_level(bus, gain),
    }
}
