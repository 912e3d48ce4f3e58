//! Where a plan stands. Stepped from the audio thread: nothing here allocates, and every decision falls on a defined frame.
//!
//! A bar is decided one look-ahead before its bar line, because its first spoken word begins before the beat it belongs to. A cue that
//! comes later than that takes hold at the bar line after.

use units::{BeatClock, Beats, FrameInstant, FrameSpan, SampleRate, Tempo};

use crate::plan::{Bar, PlanKind};
use crate::{Cue, Plan, TurnKind};

/// How long before its bar line a bar is decided, in seconds. The longest lead of a spoken word is 0.212 s.
pub const LOOK_AHEAD_SECONDS: f64 = 0.3;

/// Whether a plan moves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Motion {
    /// Loaded, or stopped between runs: `go` starts at its bar.
    Ready,
    /// The pulse goes on.
    Running,
    /// Decided to stop; the bar that sounds is the last.
    Closing,
    /// Stands at a bar line until `go`.
    Held,
    /// Stands in a `talk` or `ask` turn until `go`.
    Waiting,
    /// Through; `go` starts again from the top.
    Done,
}

/// What the cursor decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// A bar is coming: lay out its sounds.
    Bar(LaidBar),
    /// No bar comes after this frame: tones end here.
    Stop {
        /// The bar line it stops at.
        at: FrameInstant,
    },
}

/// A bar laid onto the sample clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LaidBar {
    /// Which bar of the plan.
    pub index: u32,
    /// The pulse it goes by.
    pub clock: BeatClock,
    /// Its bar line, in beats from the clock's anchor.
    pub origin: Beats,
    /// The frame of its bar line.
    pub start: FrameInstant,
    /// The frame of the bar line after it.
    pub end: FrameInstant,
    /// Whether it does not follow on from the bar before it in the plan, so that tones held over must end at its start.
    pub jumped: bool,
}

impl LaidBar {
    /// The frame nearest to `beat` of this bar (zero is the bar line); may lie beyond its end.
    #[must_use]
    pub fn frame_of(&self, beat: Beats) -> FrameInstant {
        self.clock.frame_of(self.origin + beat)
    }
}

/// Where a plan stands at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    /// Which bar of the plan sounds, or is next when standing.
    pub bar: u32,
    /// Beats since its bar line; negative in the moments before the first beat.
    pub beat: f64,
    /// Whether it moves.
    pub motion: Motion,
    /// The tempo in force.
    pub tempo: Tempo,
}

/// A request that waits for the bar line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Wish {
    /// To stand, at the top of this bar's round or else of the present one.
    Hold(Option<u32>),
    Jump(u32),
    Finish,
}

/// Where the plan will stand once the bar that sounds is over.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stand {
    Held(u32),
    Waiting(u32),
    Done,
}

/// Steps one plan. Made for a sample rate; told of cues; asked for steps before every block.
#[derive(Clone, Debug)]
pub struct Cursor {
    rate: SampleRate,
    look_ahead: FrameSpan,
    tempo: Tempo,
    motion: Motion,
    /// Where `go` starts from while standing.
    resume: u32,
    /// The pulse in force and the beats from its anchor to the next bar line.
    clock: BeatClock,
    line: Beats,
    /// The next bar line.
    line_frame: FrameInstant,
    /// A bar that must be laid next, whatever follows in the plan.
    opening: Option<u32>,
    playing: Option<LaidBar>,
    laid: Option<LaidBar>,
    wish: Option<Wish>,
    stand: Option<Stand>,
    /// A start asked for while closing.
    restart: Option<u32>,
    tempo_wish: Option<Tempo>,
    /// The last tempo the plan itself asked for.
    planned: Option<Tempo>,
    /// From here on no new round is begun.
    limit: Option<FrameInstant>,
    /// The bar line at which the plan was through.
    ended: Option<FrameInstant>,
}

impl Cursor {
    /// A cursor at the top of `plan`, ready to go.
    #[must_use]
    pub fn new(plan: &Plan, rate: SampleRate) -> Self {
        let planned = plan.tempo_in_force(0);
        let tempo = planned.unwrap_or(plan.tempo);
        Self {
            rate,
            look_ahead: rate.span(LOOK_AHEAD_SECONDS),
            tempo,
            motion: Motion::Ready,
            resume: 0,
            clock: BeatClock { anchor: FrameInstant::ZERO, tempo, rate },
            line: Beats::ZERO,
            line_frame: FrameInstant::ZERO,
            opening: None,
            playing: None,
            laid: None,
            wish: None,
            stand: None,
            restart: None,
            tempo_wish: None,
            planned,
            limit: None,
            ended: None,
        }
    }

    /// How long before its bar line a bar is decided.
    #[must_use]
    pub fn look_ahead(&self) -> FrameSpan {
        self.look_ahead
    }

    /// Whether the plan moves.
    #[must_use]
    pub fn motion(&self) -> Motion {
        self.motion
    }

    /// The tempo in force, or the one that will be at the next start.
    #[must_use]
    pub fn tempo(&self) -> Tempo {
        self.tempo_wish.unwrap_or(self.tempo)
    }

    /// Ends the plan at the first round that would begin at or after `limit`, or lets it run its course.
    pub fn limit(&mut self, limit: Option<FrameInstant>) {
        self.limit = limit;
    }

    /// The bar line at which the plan was through, once it is.
    #[must_use]
    pub fn ended(&self) -> Option<FrameInstant> {
        self.ended.filter(|_| self.motion == Motion::Done)
    }

    /// Starts the plan from its top, its first bar line one look-ahead after `from`, a frame that may have just passed.
    pub fn start_from(&mut self, plan: &Plan, from: FrameInstant) {
        self.start(plan, 0, from);
    }

    /// Takes this plan up at `bar`, standing, at `tempo` or at the one the plan asks for there.
    pub fn stand_at(&mut self, plan: &Plan, bar: u32, tempo: Tempo) {
        let bar = if plan.bar(bar).is_some() { bar } else { 0 };
        self.planned = plan.tempo_in_force(bar);
        self.tempo = self.planned.unwrap_or(tempo);
        self.stop_dead(Motion::Held, bar);
    }

    /// Stops the pulse at once and keeps the place: the top of the round that was under way.
    pub fn halt(&mut self, plan: &Plan) {
        match self.motion {
            Motion::Running | Motion::Closing => {
                let top = self.opening.unwrap_or_else(|| plan.round_top(self.current_bar()));
                self.stop_dead(Motion::Held, top);
            }
            Motion::Ready | Motion::Held | Motion::Waiting | Motion::Done => {}
        }
    }

    /// Takes a cue given at `now`. Level cues are not the cursor's business and do nothing here.
    pub fn cue(&mut self, plan: &Plan, cue: Cue, now: FrameInstant) {
        match cue {
            Cue::Louder | Cue::Softer => {}
            Cue::Hush => self.halt(plan),
            Cue::Quicker => self.nudge(Cue::TEMPO_STEP),
            Cue::Slower => self.nudge(-Cue::TEMPO_STEP),
            Cue::Go | Cue::Hold | Cue::Again | Cue::Next | Cue::Back | Cue::Landmark => match self.motion {
                Motion::Running => self.cue_running(plan, cue),
                Motion::Closing if cue == Cue::Hold => self.restart = None,
                Motion::Closing => {
                    self.restart = self.standing_target(plan, cue).or(self.restart);
                }
                Motion::Ready | Motion::Held | Motion::Waiting | Motion::Done => {
                    if let Some(target) = self.standing_target(plan, cue) {
                        self.start(plan, target, now);
                    }
                }
            },
        }
    }

    /// Whether a plan can be exchanged for an edited one at `now`: while standing, or just before the next bar is decided.
    #[must_use]
    pub fn at_a_seam(&self, now: FrameInstant) -> bool {
        match self.motion {
            Motion::Running => now + self.look_ahead >= self.line_frame,
            Motion::Closing => false,
            Motion::Ready | Motion::Held | Motion::Waiting | Motion::Done => true,
        }
    }

    /// Goes over from one version of a plan to another at a seam: to the same place if it is still there, or the top of that round, or else
    /// of the plan. The pulse goes on; a tempo that was edited where the plan stands takes hold with the next bar.
    pub fn transfer(&mut self, from: &Plan, to: &Plan) {
        let here = if self.motion == Motion::Running { self.last_laid().or(self.opening) } else { Some(self.resume) };
        let here = here.unwrap_or(0);
        let asked = |plan: &Plan, bar: u32| plan.tempo_in_force(bar).unwrap_or(plan.tempo);
        let (was, becomes) = (asked(from, here), asked(to, counterpart(from, to, here)));
        if becomes != was {
            self.tempo_wish = Some(becomes);
            self.planned = self.planned.map(|_| becomes);
        }
        if self.motion != Motion::Running {
            let resume = counterpart(from, to, self.resume);
            let waits = to.bar(resume).is_some_and(Bar::waits);
            // an edit may have taken the talk away: what stands there now is played, not passed by
            let motion = if self.motion == Motion::Waiting && !waits { Motion::Held } else { self.motion };
            self.stop_dead(motion, resume);
            return;
        }
        let follows = self.opening.or_else(|| self.last_laid().and_then(|bar| from.following(bar)));
        match (self.wish, follows) {
            (Some(Wish::Jump(bar)), _) => self.wish = Some(Wish::Jump(counterpart(from, to, bar))),
            (None, Some(bar)) => self.wish = Some(Wish::Jump(counterpart(from, to, bar))),
            // the old plan ended here; the new one may go on from the same bar
            (None, None) if self.last_laid().is_some_and(|bar| exact_counterpart(from, to, bar).is_some()) => {}
            (None, None) => self.wish = Some(Wish::Finish),
            (Some(Wish::Hold(Some(bar))), _) => self.wish = Some(Wish::Hold(Some(counterpart(from, to, bar)))),
            (Some(Wish::Hold(None) | Wish::Finish), _) => {}
        }
        self.opening = self.opening.map(|bar| counterpart(from, to, bar));
        for laid in [&mut self.playing, &mut self.laid].into_iter().flatten() {
            laid.index = counterpart(from, to, laid.index);
        }
    }

    /// The next decision due at `now`, the start of the block about to be rendered. Call until it returns nothing.
    pub fn step(&mut self, plan: &Plan, now: FrameInstant) -> Option<Step> {
        if let Some(laid) = self.laid
            && now >= laid.start
        {
            self.playing = self.laid.take();
        }
        match self.motion {
            Motion::Running if now + self.look_ahead >= self.line_frame => Some(self.decide(plan)),
            Motion::Closing if now >= self.line_frame => {
                self.close();
                if let Some(target) = self.restart.take() {
                    self.start(plan, target, now);
                    return self.step(plan, now);
                }
                None
            }
            _ => None,
        }
    }

    /// Where the plan stands at `now`.
    #[must_use]
    pub fn position(&self, now: FrameInstant) -> Position {
        let beat_in = |bar: &LaidBar| bar.clock.beats_at(now) - bar.origin.as_f64();
        let (bar, beat) = match (self.motion, self.playing, self.laid) {
            (Motion::Running | Motion::Closing, _, Some(laid)) if now >= laid.start => (laid.index, beat_in(&laid)),
            (Motion::Running | Motion::Closing, Some(playing), _) => (playing.index, beat_in(&playing)),
            (Motion::Running | Motion::Closing, None, Some(laid)) => (laid.index, beat_in(&laid)),
            (Motion::Running, None, None) => (self.opening.unwrap_or(self.resume), 0.0),
            _ => (self.resume, 0.0),
        };
        Position { bar, beat, motion: self.motion, tempo: self.tempo }
    }

    fn nudge(&mut self, bpm: i32) {
        let wanted = self.tempo().nudged(bpm);
        if self.motion == Motion::Running {
            self.tempo_wish = Some(wanted);
        } else {
            self.tempo = wanted;
            self.tempo_wish = None;
        }
    }

    fn current_bar(&self) -> u32 {
        self.playing.or(self.laid).map_or(self.resume, |bar| bar.index)
    }

    /// The bar the next decision would come from: the last one laid.
    fn last_laid(&self) -> Option<u32> {
        self.laid.or(self.playing).map(|bar| bar.index)
    }

    fn stop_dead(&mut self, motion: Motion, resume: u32) {
        self.motion = motion;
        self.resume = resume;
        self.tempo = self.tempo_wish.take().unwrap_or(self.tempo);
        self.opening = None;
        self.playing = None;
        self.laid = None;
        self.wish = None;
        self.stand = None;
        self.restart = None;
    }

    fn start(&mut self, plan: &Plan, bar: u32, now: FrameInstant) {
        match plan.bar(bar) {
            // past the last bar: there is nothing left to lead
            None => {
                self.ended = Some(now);
                return self.stop_dead(Motion::Done, 0);
            }
            // a plan may open with talk: it stands there, and the next `go` leaves it
            Some(first) if first.waits() => return self.stop_dead(Motion::Waiting, bar),
            Some(_) => self.stop_dead(Motion::Running, bar),
        }
        self.opening = Some(bar);
        self.line = Beats::ZERO;
        self.line_frame = now + self.look_ahead;
        self.clock = BeatClock { anchor: self.line_frame, tempo: self.tempo, rate: self.rate };
    }

    fn standing_target(&self, plan: &Plan, cue: Cue) -> Option<u32> {
        let resume = match (self.restart, self.stand) {
            // a start asked for while closing is where the next cue counts from
            (Some(bar), _) | (None, Some(Stand::Held(bar) | Stand::Waiting(bar))) => bar,
            (None, Some(Stand::Done)) => 0,
            (None, None) => self.resume,
        };
        let talking = self.restart.is_none() && (self.motion == Motion::Waiting || matches!(self.stand, Some(Stand::Waiting(_))));
        let done = self.restart.is_none() && (self.motion == Motion::Done || self.stand == Some(Stand::Done));
        match cue {
            Cue::Go if done => Some(0),
            Cue::Go if talking => plan.following(resume).or(Some(plan.bars.len() as u32)),
            Cue::Go => Some(resume),
            Cue::Again if done => Some(again_top(plan, plan.last_bar())),
            Cue::Again => Some(again_top(plan, resume)),
            Cue::Landmark if done => Some(again_top(plan, plan.last_bar())),
            Cue::Landmark => Some(landmark(plan, resume, 0).unwrap_or_else(|| again_top(plan, resume))),
            Cue::Next if done => None,
            Cue::Next => next_station(plan, resume),
            Cue::Back if done && !plan.bars.last().is_some_and(|bar| bar.after_stage) => {
                plan.stations.last().map(|station| station.first_bar)
            }
            Cue::Back if done => Some(previous_station(plan, plan.last_bar())),
            Cue::Back => Some(previous_station(plan, resume)),
            _ => None,
        }
    }

    fn cue_running(&mut self, plan: &Plan, cue: Cue) {
        let from = match self.wish {
            Some(Wish::Jump(target) | Wish::Hold(Some(target))) => target,
            _ => self.last_laid().or(self.opening).unwrap_or(0),
        };
        self.wish = match (cue, self.wish) {
            (Cue::Hold, Some(Wish::Jump(target))) => Some(Wish::Hold(Some(target))),
            (Cue::Hold, wish @ Some(Wish::Hold(_))) => wish,
            (Cue::Hold, _) => Some(Wish::Hold(None)),
            // nothing of the new group has been heard yet: an impatient second `go` must not pass it by
            (Cue::Go, None) if plan.bar(from).is_some_and(|bar| bar.turn == TurnKind::Call) => None,
            // a hold thought better of: on as before
            (Cue::Go, Some(Wish::Hold(target))) => target.map(Wish::Jump),
            (Cue::Again, _) => Some(Wish::Jump(again_top(plan, from))),
            (Cue::Go, _) if plan.kind == PlanKind::Climb => Some(next_pass(plan, from).map_or(Wish::Finish, Wish::Jump)),
            (Cue::Next | Cue::Go, _) => Some(next_station(plan, from).map_or(Wish::Finish, Wish::Jump)),
            (Cue::Back, _) => Some(Wish::Jump(previous_station(plan, from))),
            (Cue::Landmark, _) => Some(Wish::Jump(landmark(plan, from, 1).unwrap_or_else(|| again_top(plan, from)))),
            (_, wish) => wish,
        };
    }

    /// Decides what happens at the next bar line.
    fn decide(&mut self, plan: &Plan) -> Step {
        let last = self.last_laid();
        let follows = match self.opening {
            Some(bar) => Some(bar),
            None => last.and_then(|bar| plan.following(bar)),
        };
        let first = self.opening.take().is_some();
        let target = match self.wish.take() {
            Some(Wish::Hold(at)) => {
                return self.begin_closing(Stand::Held(at.unwrap_or_else(|| plan.round_top(last.or(follows).unwrap_or(0)))));
            }
            Some(Wish::Finish) => None,
            Some(Wish::Jump(bar)) => Some(bar),
            None => follows,
        };
        let Some((index, bar)) = target.and_then(|index| plan.bar(index).map(|bar| (index, bar))) else {
            return self.begin_closing(Stand::Done);
        };
        let round = |bar: &Bar| (bar.station, bar.round);
        // the first bar of a round may be passed by: what counts is that another round begins
        let opens_round = || last.is_some_and(|last| index <= last || plan.bar(last).map(round) != Some(round(bar)));
        if !first && self.limit.is_some_and(|limit| self.line_frame >= limit) && opens_round() {
            return self.begin_closing(Stand::Done);
        }
        if bar.waits() {
            return self.begin_closing(Stand::Waiting(index));
        }
        let jumped = first || follows != Some(index);
        let planned = bar.tempo.filter(|tempo| self.planned.replace(*tempo) != Some(*tempo));
        if let Some(tempo) = planned.or(self.tempo_wish.filter(|_| jumped || !bar.tied_over)) {
            self.tempo_wish = None;
            self.tempo = tempo;
            // the new tempo counts from this bar line's frame, so the beat goes on without a gap
            self.clock = BeatClock { anchor: self.line_frame, tempo, rate: self.rate };
            self.line = Beats::ZERO;
        }
        let origin = self.line;
        self.line += bar.length;
        let start = self.line_frame;
        self.line_frame = self.clock.frame_of(self.line);
        let laid = LaidBar { index, clock: self.clock, origin, start, end: self.line_frame, jumped };
        self.laid = Some(laid);
        Step::Bar(laid)
    }

    fn begin_closing(&mut self, stand: Stand) -> Step {
        self.motion = Motion::Closing;
        self.stand = Some(stand);
        Step::Stop { at: self.line_frame }
    }

    fn close(&mut self) {
        let restart = self.restart;
        match self.stand {
            Some(Stand::Held(bar)) => self.stop_dead(Motion::Held, bar),
            Some(Stand::Waiting(bar)) => self.stop_dead(Motion::Waiting, bar),
            Some(Stand::Done) | None => {
                self.ended = Some(self.line_frame);
                self.stop_dead(Motion::Done, 0);
            }
        }
        self.restart = restart;
    }
}

/// The first bar of the station after the one `bar` stands in.
fn next_station(plan: &Plan, bar: u32) -> Option<u32> {
    let station = plan.bar(bar)?.station;
    plan.stations.get(usize::from(station) + 1).map(|station| station.first_bar)
}

/// The top of the next round of the station `bar` stands in, or of the next station.
fn next_pass(plan: &Plan, bar: u32) -> Option<u32> {
    let here = plan.bar(bar)?;
    let rounds = &plan.station_of(here)?.rounds;
    rounds.get(usize::from(here.round) + 1).copied().or_else(|| next_station(plan, bar))
}

/// Where the landmark comes in front of the round `rounds_on` rounds after that of `bar`.
fn landmark(plan: &Plan, bar: u32, rounds_on: usize) -> Option<u32> {
    let here = plan.bar(bar)?;
    plan.station_of(here)?.landmarks.get(usize::from(here.round) + rounds_on).copied()
}

/// Where `again` leads from `bar`: the top of its round, or behind a stage the top of the stage.
fn again_top(plan: &Plan, bar: u32) -> u32 {
    let stage = plan.bar(bar).filter(|bar| bar.after_stage).and_then(|bar| plan.station_of(bar));
    stage.map_or_else(|| plan.round_top(bar), |stage| stage.first_bar)
}

/// The top of the station `bar` stands in, or of the one before if `bar` is in its first round or behind its last.
fn previous_station(plan: &Plan, bar: u32) -> u32 {
    let Some(here) = plan.bar(bar) else { return 0 };
    let back = u16::from(here.round == 0 || here.after_stage);
    plan.stations.get(usize::from(here.station.saturating_sub(back))).map_or(0, |station| station.first_bar)
}

/// The bar of `to` that stands where `bar` stands in `from`, or the top of its round, or of its station.
fn counterpart(from: &Plan, to: &Plan, bar: u32) -> u32 {
    exact_counterpart(from, to, bar).unwrap_or_else(|| {
        let station = from.bar(bar).and_then(|old| Some((old, to.stations.get(usize::from(old.station))?)));
        station.map_or(0, |(old, station)| {
            station.rounds.get(usize::from(old.round)).or(station.rounds.last()).copied().unwrap_or(station.first_bar)
        })
    })
}

/// The bar of `to` at the very place of `bar` in `from`: same station, round, distance from its top and turn.
fn exact_counterpart(from: &Plan, to: &Plan, bar: u32) -> Option<u32> {
    let old = from.bar(bar)?;
    let top = *to.stations.get(usize::from(old.station))?.rounds.get(usize::from(old.round))?;
    let same = (top + bar).checked_sub(from.round_top(bar))?;
    let new = to.bar(same)?;
    (new.turn == old.turn && new.station == old.station && new.round == old.round).then_some(same)
}
