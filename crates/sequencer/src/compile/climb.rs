//! A passage of a piece, stage by stage up to its concert tempo, and the recheck when it falls apart.

use std::ops::Range;
use units::{Beats, Tempo};

use super::builder::{Builder, Measure, StationHead};
use super::parts::Parts;
use super::{CompileError, Place, Problem, calling_bars, count_beats};
use crate::click::{ClickPattern, Ticked};
use crate::climb::{Advance, ClimbSettings, Pass, RecheckSettings};
use crate::plan::{Plan, PlanKind, Sound, TurnKind};
use crate::words::Phrase;
use crate::{Division, Passage, Piece, Room, SectionSet};

/// On how many of the last counted beats everyone inhales before they play: common practice, no source.
const BREATH_BEATS: i64 = 2;

/// A passage of `piece` from under-tempo to its concert tempo.
///
/// Where the passage changes its tempo, every part of it climbs to its own goal, all in as many stages as the longest way takes.
///
/// # Errors
/// A start above the goal, a passage without bars, or passes that nobody takes.
pub fn climb(room: &Room, piece: &Piece, passage: &Passage, settings: &ClimbSettings) -> Result<Plan, CompileError> {
    let ground = Ground::new(room, piece, passage, &settings.click, settings.count_off)?;
    let goals = ground.goals();
    let rule = |goal: Tempo| {
        // a start is for the goal the passage opens with; a slower part of it starts no quicker than it ends
        let rule = settings.rule(goal);
        let start = rule.start.map(|start| if goal == ground.opening() { start } else { start.min(goal) });
        crate::climb::ClimbRule { start, ..rule }
    };
    let wrong = |error| CompileError::one(Place::Whole, Problem::Climb(error));
    let steps = goals.iter().map(|goal| rule(*goal).fewest_steps().map_err(wrong)).collect::<Result<Vec<_>, _>>()?;
    let steps = steps.into_iter().max().unwrap_or(0);
    let ladders = goals.iter().map(|goal| rule(*goal).stages_in(steps).map_err(wrong)).collect::<Result<Vec<_>, _>>()?;

    let mut passes_of_first = ground.playable(&settings.first_stage);
    let mut passes_of_later = ground.playable(&settings.later_stages);
    if passes_of_first.is_empty() && passes_of_later.is_empty() {
        let problem = if settings.first_stage.is_empty() { Problem::NoPasses } else { Problem::NobodyTrusted };
        return Err(CompileError::one(Place::Whole, problem));
    }
    if passes_of_first.is_empty() {
        passes_of_first.clone_from(&passes_of_later);
    } else if passes_of_later.is_empty() {
        passes_of_later.clone_from(&passes_of_first);
    }
    let title = if passage.name == piece.title { piece.title.clone() } else { format!("{}: {}", piece.title, passage.name) };
    let opening = ladders.first().and_then(|ladder| ladder.first()).copied().unwrap_or(ground.opening());
    let mut builder = Builder::new(PlanKind::Climb, title, opening, ground.first_meter(), true);
    ground.tell_of_distrust(&mut builder, settings.first_stage.iter().chain(&settings.later_stages));
    let stages = steps as usize + 1;
    let mut counted = false;
    for stage in 0..stages {
        let tempi: Vec<_> = goals.iter().zip(&ladders).filter_map(|(goal, ladder)| Some((*goal, *ladder.get(stage)?))).collect();
        let own = |tempi: &[(Tempo, Tempo)]| tempi.first().map_or(opening, |(_, tempo)| *tempo);
        let tempo = own(&tempi);
        let label = format!("stage {} of {stages}, at {tempo}", stage + 1);
        builder.station(StationHead { label, sections: room.everyone(), seat: None });
        let passes = if stage == 0 { &passes_of_first } else { &passes_of_later };
        let takes = passes.iter().flat_map(|pass| (0..settings.repeats.max(1)).map(move |take| (*pass, take)));
        for (index, (pass, take)) in takes.clone().enumerate() {
            builder.round();
            let divided = pass == Pass::Count && !counted;
            counted |= divided;
            let division = divided.then_some(settings.subdivide);
            ground.pass(&mut builder, pass, take == 0, &tempi, division);
            let last = index + 1 == takes.clone().count();
            if settings.passes == Advance::OnGo && !last {
                builder.wait(TurnKind::Ask, ground.who(pass), format!("{} done; go for the next", pass.word()));
            }
        }
        // what comes now is about the whole stage
        builder.round();
        ground.rest(&mut builder, settings.rest.max(1));
        if stage + 1 < stages && settings.stages == Advance::OnGo {
            let next = ladders.first().and_then(|ladder| ladder.get(stage + 1)).map(ToString::to_string).unwrap_or_default();
            builder.wait(TurnKind::Ask, room.everyone(), format!("{tempo} done: go on to {next}, again, or back a stage"));
            after_stage(&mut builder);
        }
    }
    builder.finish(Parts::none(room))
}

/// A passage of `piece` at half tempo, then at its own: by default air, the trusted sections alone, and everyone twice.
///
/// # Errors
/// A passage without bars, or steps that nobody takes.
pub fn recheck(room: &Room, piece: &Piece, passage: &Passage, settings: &RecheckSettings) -> Result<Plan, CompileError> {
    let ground = Ground::new(room, piece, passage, &settings.click, settings.count_off)?;
    let steps: Vec<_> = settings.steps.iter().filter(|step| !ground.who(step.pass).is_empty()).collect();
    if steps.is_empty() {
        let problem = if settings.steps.is_empty() { Problem::NoPasses } else { Problem::NobodyTrusted };
        return Err(CompileError::one(Place::Whole, problem));
    }
    let half = |goal: Tempo| Tempo::new((goal.bpm() / 2.0).round()).unwrap_or(Tempo::SLOWEST);
    let title = format!("Recheck {}", passage.name);
    let opening = ground.opening();
    let mut builder = Builder::new(PlanKind::Recheck, title, opening, ground.first_meter(), true);
    ground.tell_of_distrust(&mut builder, settings.steps.iter().map(|step| &step.pass));
    for (index, step) in steps.iter().enumerate() {
        let at = |goal: Tempo| if step.half { half(goal) } else { goal };
        let tempi: Vec<_> = ground.goals().into_iter().map(|goal| (goal, at(goal))).collect();
        let label = format!("{} at {}", step.pass.word(), at(opening));
        builder.station(StationHead { label, sections: ground.who(step.pass), seat: None });
        builder.round();
        ground.pass(&mut builder, step.pass, true, &tempi, None);
        ground.rest(&mut builder, settings.rest);
        if let Some(next) = steps.get(index + 1).filter(|_| settings.passes == Advance::OnGo) {
            builder.wait(TurnKind::Ask, ground.who(step.pass), format!("{} done; go for {}", step.pass.word(), next.pass.word()));
        }
    }
    builder.finish(Parts::none(room))
}

fn after_stage(builder: &mut Builder) {
    if let Some(bar) = builder.last() {
        bar.after_stage = true;
    }
}

/// What is practised: the bars in playing order with the class that plays them.
struct Ground<'a> {
    room: &'a Room,
    piece: &'a Piece,
    /// Page bars in the order they are played, each with the concert tempo in force.
    bars: Vec<(usize, Tempo)>,
    click: &'a ClickPattern,
    count_off: u16,
    trusted: SectionSet,
}

impl<'a> Ground<'a> {
    fn new(room: &'a Room, piece: &'a Piece, passage: &Passage, click: &'a ClickPattern, count_off: u16) -> Result<Self, CompileError> {
        let Range { start, end } = passage.bars;
        let bars: Vec<_> = piece.played(&(start..end)).into_iter().map(|bar| (bar, piece.tempo_at(bar))).collect();
        if bars.is_empty() {
            return Err(CompileError::one(Place::Whole, Problem::EmptyPassage { passage: passage.name.clone() }));
        }
        let trusted = room.indexed().filter(|(_, section)| section.trusted).map(|(index, _)| index).collect();
        Ok(Self { room, piece, bars, click, count_off: count_off.max(1), trusted })
    }

    fn opening(&self) -> Tempo {
        self.bars.first().map_or(Tempo::SLOWEST, |(_, tempo)| *tempo)
    }

    fn first_meter(&self) -> crate::Meter {
        self.bars.first().and_then(|(bar, _)| self.piece.bars.get(*bar)).map_or(crate::Meter::COMMON, |bar| bar.meter)
    }

    /// Every concert tempo of the passage once, the opening one first.
    fn goals(&self) -> Vec<Tempo> {
        let mut goals: Vec<Tempo> = Vec::new();
        for (_, tempo) in &self.bars {
            if !goals.contains(tempo) {
                goals.push(*tempo);
            }
        }
        goals
    }

    fn who(&self, pass: Pass) -> SectionSet {
        if pass == Pass::Percussion { self.trusted } else { self.room.everyone() }
    }

    fn playable(&self, passes: &[Pass]) -> Vec<Pass> {
        passes.iter().copied().filter(|pass| !self.who(*pass).is_empty()).collect()
    }

    fn tell_of_distrust<'p>(&self, builder: &mut Builder, mut passes: impl Iterator<Item = &'p Pass>) {
        if passes.any(|pass| self.who(*pass).is_empty()) {
            let mend = "write trusted = true for one in the room file";
            builder.notice(format!("percussion is passed by: no section of the room is trusted to play alone; {mend}"));
        }
    }

    /// One take of a pass: its announcement, the count-off, and the passage. `tempi` says at what each goal is taken.
    fn pass(&self, builder: &mut Builder, pass: Pass, announced: bool, tempi: &[(Tempo, Tempo)], division: Option<Option<Division>>) {
        let who = self.who(pass);
        let at = |goal: Tempo| tempi.iter().find(|(known, _)| *known == goal).map_or(goal, |(_, tempo)| *tempo);
        let tempo = at(self.opening());
        let meter = self.first_meter();
        let first = builder.next_bar();
        builder.tick(Ticked::Every);
        if announced {
            let mut words = vec![pass.word()];
            words.extend(self.room.language.number(tempo.bpm().round() as u32));
            let bars = calling_bars(meter, tempo, words.len());
            for _ in 0..bars {
                builder.measure(TurnKind::Call, who, Measure::whole(meter));
            }
            builder.sound_bars_back(bars, Sound::Words(Phrase::new(&words)));
        }
        self.count_off(builder, pass, who);
        let mut in_force = self.opening();
        for (index, (bar, goal)) in self.bars.iter().enumerate() {
            let Some(page) = self.piece.bars.get(*bar) else { continue };
            builder.tick(if pass == Pass::Play { self.click.at(index) } else { Ticked::Every });
            let measure = Measure { meter: page.meter, opens_at: page.opens_at, length: page.length };
            builder.measure(TurnKind::Pass(pass), who, measure);
            builder.on_page(&page.number);
            if let Some(last) = builder.last().filter(|_| *goal != in_force) {
                last.tempo = Some(at(*goal));
                in_force = *goal;
            }
            if pass == Pass::Count {
                let natural = if page.meter.divides_into() == 3 { Division::Three } else { Division::Two };
                let wanted = division.map(|division| division.unwrap_or(natural));
                let fits = |division: &Division| division.fits(page.meter) && self.room.syllables.between(*division).is_some();
                count_beats(builder, self.room.syllables, wanted.filter(fits).unwrap_or_default());
            }
        }
        builder.take_tempo(first, tempo);
    }

    /// Counted bars in front of the passage; if it opens with a pick-up, a last one is counted up to it. Whoever plays inhales at the end.
    fn count_off(&self, builder: &mut Builder, pass: Pass, who: SectionSet) {
        let meter = self.first_meter();
        let breathes = matches!(pass, Pass::Air | Pass::Play | Pass::Percussion);
        let kind = if breathes { TurnKind::Breath } else { TurnKind::Count };
        let up_to = self.bars.first().and_then(|(bar, _)| self.piece.bars.get(*bar)).map_or(Beats::ZERO, |bar| bar.opens_at);
        let mut measures = vec![Measure::whole(meter); usize::from(self.count_off)];
        if up_to > Beats::ZERO {
            measures.push(Measure { meter, opens_at: Beats::ZERO, length: up_to });
        }
        let bars = measures.len();
        let mut beats = Beats::ZERO;
        for measure in measures {
            beats += measure.length;
            builder.measure(kind, who, measure);
            count_beats(builder, self.room.syllables, Division::Beat);
        }
        if breathes {
            builder.inhale(bars, beats, Beats::whole(BREATH_BEATS).min(beats));
        }
    }

    /// Silent bars for the lips behind a stage.
    fn rest(&self, builder: &mut Builder, bars: u16) {
        builder.tick(Ticked::Silent);
        for _ in 0..bars {
            builder.measure(TurnKind::Rest, self.room.everyone(), Measure::whole(self.first_meter()));
            after_stage(builder);
        }
    }
}
