//! Does what updates ask for: the engine, files, the journal. Everything slow or outside the state is here.

pub mod ears;
mod echoes;
mod files;
mod journal;
mod microphone;
mod open_ear;
mod watch;

use engine::Controls;
use engine::journal::Deed;
use records::{Days, Writer};
use sequencer::Cue;
use std::sync::Arc;
use std::time::Duration;
use units::Tempo;

use super::action::{Action, OpenedRoom};
use super::effect::{Effect, Errand, Start};
use super::shelf::{self, Shelf, Source};
use super::state::{Led, OpenedLesson, Voice};
use crate::folders::Folders;
use crate::inputs::Bindings;
use crate::standing::{Keeper, Store};
use crate::text;
use crate::text::{pedals, told};
use crate::workshop::{Choice, Files, MakeError, RoomText, Workshop};
use journal::JournalFile;
use microphone::{Microphone, Now};
use watch::Watch;

/// The engine's control side with the files around it.
pub struct Session {
    controls: Controls,
    workshop: Arc<Workshop>,
    folders: Option<Folders>,
    journal: Option<JournalFile>,
    watch: Option<Watch>,
    room: (Source, RoomText),
    /// What is led, newest last, until the engine has gone over to something newer.
    known: Vec<Arc<Led>>,
    /// The texts of what is led, to tell an edit from a touch.
    texts: Vec<String>,
    /// What comes by itself after what is led, with its texts.
    queued: Option<(Arc<Led>, Vec<String>)>,
    /// The files of everything that was led, as they last were without a fault.
    good: Vec<(Errand, Files)>,
    /// The lesson under way, and every file it names.
    lesson: Option<(Source, Vec<Source>)>,
    /// What is remembered of lessons and climbs.
    memory: Option<(Store, Keeper)>,
    /// What keeps verdicts.
    records: Option<Writer>,
    /// Faults of a file whose last good version was led instead, still to be told.
    passed_over: Option<String>,
    /// How many voices the engine has.
    voices: usize,
    /// What is wrong with the voice, as it was last told or will be.
    voice_news: String,
    /// What of it is still to be told.
    untold: Option<String>,
    wants_out: bool,
    /// The microphone, while it listens.
    microphone: Option<Microphone>,
    /// For how long the sound of echoes is kept, if it is.
    sound_kept: Option<Days>,
}

/// What is led, how it was made, and the texts it was made from.
type Making = (Arc<Led>, engine::journal::Recipe, Vec<String>);

impl Session {
    /// A session on `room`; without folders nothing is remembered and no journal is kept.
    #[must_use]
    pub fn new(controls: Controls, workshop: Arc<Workshop>, folders: Option<Folders>, room: (Source, RoomText)) -> Self {
        let texts = vec![room.1.text.clone()];
        // those of the opening are on their way
        let voices = workshop.voices();
        Self {
            controls,
            workshop,
            folders,
            journal: None,
            watch: None,
            room,
            known: Vec::new(),
            texts,
            queued: None,
            good: Vec::new(),
            lesson: None,
            memory: None,
            records: None,
            passed_over: None,
            voices,
            voice_news: String::new(),
            untold: None,
            wants_out: false,
            microphone: None,
            sound_kept: None,
        }
    }

    /// Starts the journal of this run. What goes wrong is told; the class goes on without.
    pub fn keep_journal(&mut self) -> Option<Action> {
        let folders = self.folders.as_ref()?;
        match JournalFile::start(folders, &self.room.1, self.controls.rate()) {
            Ok(journal) => {
                self.journal = Some(journal);
                None
            }
            Err(error) => Some(Action::Tell(told::no_journal(&error.to_string()))),
        }
    }

    /// What the teacher bound, and what is wrong in the file of it.
    #[must_use]
    pub fn bindings(&self) -> (Bindings, Option<book::Faults>) {
        self.folders.as_ref().map(|folders| files::bindings(&folders.inputs())).unwrap_or_default()
    }

    /// Watches the files in use from now on. What goes wrong is told; edits are then taken up by choosing the drill again.
    pub fn watch_files(&mut self) -> Option<Action> {
        match Watch::start() {
            Ok(watch) => {
                self.watch = Some(watch);
                self.watch_what_is_used();
                None
            }
            Err(error) => Some(Action::Tell(error.to_string())),
        }
    }

    /// Remembers the room for the next start. What goes wrong is noted in the journal: the class goes on.
    pub fn remember_room(&mut self) {
        if let (Some(folders), Some(path)) = (&self.folders, self.room.0.path())
            && let Err(error) = shelf::remember(folders, path)
        {
            self.controls.note_fault(&error.to_string());
        }
    }

    /// Whether the end was asked for.
    #[must_use]
    pub const fn wants_out(&self) -> bool {
        self.wants_out
    }

    /// Gives the engine its voice.
    pub fn give_voice(&mut self, clips: Arc<synth::ClipBank>) -> Action {
        self.controls.clips(clips);
        Action::Voice(Voice::Ready)
    }

    /// Notes a fault of the outside world in the journal.
    pub fn note_fault(&mut self, fault: &str) {
        self.controls.note_fault(fault);
    }

    /// Looks at the engine and the files in use: on every turn of the loop.
    pub fn poll(&mut self, now: Duration) -> Vec<Action> {
        let snapshot = self.controls.poll();
        let mut came = false;
        let in_force = self.controls.score_of(&snapshot).and_then(|score| {
            if let Some((led, texts)) = self.queued.take_if(|(queued, _)| Arc::ptr_eq(&queued.score, score)) {
                self.known.push(led);
                self.texts = texts;
                came = true;
            }
            let place = self.known.iter().position(|led| Arc::ptr_eq(&led.score, score))?;
            self.known.drain(..place);
            self.known.first().map(Arc::clone)
        });
        if came {
            self.watch_what_is_used();
        }
        let heard = self.microphone.as_mut().map(|microphone| {
            let rate = self.controls.rate();
            let led = snapshot.position.as_ref().zip(in_force.as_ref());
            let asked = led.map(|(position, led)| echoes::asked(&led.score.plan, &led.room, position, snapshot.now, rate));
            let ours_alone = led.is_some_and(|(position, led)| echoes::ours_alone(&led.score.plan, position));
            microphone.poll(&mut self.controls, &snapshot, Now { asked: asked.unwrap_or_default(), ours_alone })
        });
        let mut actions = vec![Action::Tick { snapshot, in_force, now }];
        actions.extend(heard.unwrap_or_default());
        let entries = self.controls.take_entries();
        if let Some(journal) = &mut self.journal
            && let Err(error) = journal.write(&entries)
        {
            self.journal = None;
            actions.push(Action::Tell(told::no_journal(&error.to_string())));
        }
        if self.watch.as_mut().is_some_and(|watch| watch.has_news(now)) {
            actions.push(Action::Edited);
        }
        if let Some(faults) = self.passed_over.take() {
            actions.push(Action::Faulty { what: told::FAULTY_FILE.to_owned(), faults });
        }
        actions.extend(self.untold.take().map(Action::Tell));
        actions.extend(self.memory.as_ref().and_then(|(_, keeper)| keeper.told()).map(Action::Tell));
        actions.extend(self.records.as_ref().and_then(Writer::told).map(Action::Tell));
        actions
    }

    /// Does what an update asked for, and says what came of it.
    pub fn perform(&mut self, effect: Effect) -> Option<Action> {
        match effect {
            Effect::Cue(cue) => {
                self.controls.cue(cue);
                None
            }
            Effect::Drone(drone) => {
                self.controls.drone(drone.as_ref().map(|(drone, room)| (drone, &**room)));
                None
            }
            Effect::Mix(mix, room) => {
                self.controls.mix(&mix, &room);
                None
            }
            Effect::Halt(why) => {
                self.controls.halt(&why);
                None
            }
            Effect::Lead(errand) => Some(self.lead(errand)),
            Effect::Queue(errand, within) => self.queue(errand, within),
            Effect::OpenLesson(source) => Some(self.open_lesson(source)),
            Effect::KeepLesson(standing) => {
                if let Some((_, keeper)) = &self.memory {
                    match standing {
                        Some(standing) => keeper.lesson(*standing),
                        None => keeper.forget_lesson(),
                    }
                }
                None
            }
            Effect::KeepClimb(standing) => {
                if let Some((_, keeper)) = &self.memory {
                    keeper.climb(standing);
                }
                None
            }
            Effect::Keep(echo, record) => {
                if let Some(records) = &self.records {
                    records.note(echo, *record);
                }
                None
            }
            Effect::KeepSection(echo, record) => {
                if let Some(records) = &self.records {
                    records.note_section(echo, *record);
                }
                None
            }
            Effect::KeepSound(echo, sound) => {
                if let (Some(records), Some(days)) = (&self.records, self.sound_kept) {
                    let (rate, samples) = *sound;
                    records.keep_sound(echo, records::Sound { rate, samples, days });
                }
                None
            }
            Effect::Reread(number) => self.reread(number),
            Effect::RereadLesson => Some(self.lesson_again()),
            Effect::OpenRoom(source) => Some(self.open_room(source)),
            Effect::Look => {
                let errand = self.known.last().map(|led| led.errand.clone());
                let beside = errand.as_ref().map(|errand| errand.sources().collect::<Vec<_>>()).unwrap_or_default();
                Some(Action::Shelf(Shelf::find(self.folders.as_ref(), &self.room.0, &beside)))
            }
            Effect::Bind(signal, deed) => {
                let path = self.folders.as_ref()?.inputs();
                let kept = files::keep_binding(&path, signal, deed);
                kept.err().map(|why| Action::Tell(pedals::not_kept(&path.display().to_string(), &why)))
            }
            Effect::Say(remark) => {
                self.controls.say(remark);
                None
            }
            Effect::Measure => {
                if let Some(microphone) = &mut self.microphone {
                    microphone.measure(&mut self.controls);
                }
                None
            }
            Effect::MeetAgain(loudspeaker) => {
                if let Some(microphone) = &mut self.microphone {
                    microphone.find_again(loudspeaker);
                }
                None
            }
            Effect::Listen(on) => {
                if let Some(microphone) = self.microphone.take() {
                    microphone.close(&mut self.controls);
                }
                self.microphone = on.then(|| Microphone::open(device::Wanted::Default, self.sound_kept.is_some()));
                None
            }
            Effect::OpenEar(whose) => {
                if let Some(microphone) = &mut self.microphone {
                    microphone.open_ear(whose);
                }
                None
            }
            Effect::CautionsRead => {
                let folders = self.folders.as_ref()?;
                files::note_cautions_read(folders).err().map(|error| Action::Tell(error.to_string()))
            }
            Effect::Quit => {
                self.controls.hush();
                self.wants_out = true;
                None
            }
        }
    }

    /// Writes what is left and ends the journal. The engine must have gone quiet. Gives what is to be told once the screen is gone: verdicts that
    /// could not be kept.
    pub fn end(&mut self) -> Option<String> {
        let snapshot = self.controls.poll();
        let mut entries = self.controls.take_entries();
        entries.push(engine::journal::Entry { frame: snapshot.now.0, deed: Deed::End });
        if let Some(mut journal) = self.journal.take() {
            // the screen is gone: there is nobody left to tell
            let _ = journal.write(&entries);
        }
        self.records.take().and_then(Writer::end)
    }

    /// Keeps the sound of every echo the microphone opened from now on hears, for so many days.
    pub const fn keep_sound(&mut self, days: Option<Days>) {
        self.sound_kept = days;
    }

    /// Keeps verdicts from now on. What goes wrong is told; the class goes on without.
    pub fn keep_records(&mut self) -> Option<Action> {
        match Writer::start(self.folders.as_ref()?.records.clone()) {
            Ok(writer) => {
                self.records = Some(writer);
                None
            }
            Err(error) => Some(Action::Tell(told::no_records(&error.to_string()))),
        }
    }

    /// Remembers lessons and climbs from now on. What goes wrong is told; the class goes on without.
    pub fn remember_standings(&mut self) -> Option<Action> {
        let store = Store::open(self.folders.as_ref()?);
        match Keeper::start(store.clone()) {
            Ok(keeper) => {
                self.memory = Some((store, keeper));
                None
            }
            Err(error) => Some(Action::Tell(error.to_string())),
        }
    }

    /// Lets the engine go on to `errand` by itself.
    fn queue(&mut self, errand: Option<Errand>, within: Option<Duration>) -> Option<Action> {
        let within = within.map(|within| self.controls.rate().span(within.as_secs_f64()));
        let Some(errand) = errand else {
            self.queued = None;
            self.controls.queue(None, within);
            return None;
        };
        match self.make_or_good(&errand) {
            Ok((led, recipe, texts)) => {
                self.bring_voice(&led);
                self.controls.queue(Some((Arc::clone(&led.score), recipe)), within);
                self.queued = Some((led, texts));
                None
            }
            Err(error) => {
                self.queued = None;
                self.controls.queue(None, within);
                Some(cannot_lead(&errand, &error))
            }
        }
    }

    fn open_lesson(&mut self, source: Source) -> Action {
        let standing = self.memory.as_ref().and_then(|(store, _)| store.lesson().value);
        let opened = files::lesson(&source, &self.room, standing.as_ref());
        match opened {
            Ok((room, lesson)) => {
                if let Some(room) = &room {
                    self.room = (room.source.clone(), room.text.clone());
                    self.remember_room();
                }
                self.adopt_lesson(&lesson);
                Action::Lesson(Box::new((room, lesson)))
            }
            Err(faults) => Action::Faulty { what: told::CANNOT_LEAD.to_owned(), faults: faults.to_string() },
        }
    }

    /// Follows the files of a lesson from now on.
    pub fn adopt_lesson(&mut self, lesson: &OpenedLesson) {
        let errands = lesson.items.iter().filter_map(|item| item.errand.as_ref().ok());
        self.lesson = Some((lesson.source.clone(), errands.flat_map(Errand::sources).cloned().collect()));
        self.watch_what_is_used();
    }

    /// The lesson under way as its files have it by now.
    fn lesson_again(&mut self) -> Action {
        let Some((source, _)) = &self.lesson else { return Action::LessonAgain(None) };
        match files::lesson(source, &self.room, None) {
            Ok((_, lesson)) => {
                self.adopt_lesson(&lesson);
                Action::LessonAgain(Some(Box::new(lesson)))
            }
            Err(faults) => {
                self.passed_over = Some(faults.to_string());
                Action::LessonAgain(None)
            }
        }
    }

    /// The bar and tempo a new errand stands at: where it was left, where it stood in an earlier run, or the stage its climb has reached.
    fn place_of(&mut self, errand: &Errand, led: &Led) -> Option<(u32, Tempo)> {
        let plan = &led.score.plan;
        if errand.place.is_some() {
            return errand.place;
        }
        if let Some((place, tempo)) = &errand.stood {
            let station = plan.stations.get(place.station)?;
            let bar = station.rounds.get(place.round).copied().filter(|top| *top as usize == place.bar).unwrap_or(station.first_bar);
            return Some((bar, tempo.or(plan.tempo_at(bar)).unwrap_or(plan.tempo)));
        }
        let of = led.climbing.as_ref()?;
        let (store, _) = self.memory.as_ref()?;
        let stages: Vec<Tempo> = plan.stations.iter().filter_map(|stage| plan.tempo_at(stage.first_bar)).collect();
        let stage = store.climbs().value?.offer(of, &stages)?;
        let (bar, tempo) = (plan.stations.get(stage)?.first_bar, stages.get(stage).copied()?);
        self.untold = Some(told::offered(&text::lesson::stood_at(&plan.title, tempo), tempo));
        Some((bar, tempo))
    }

    fn lead(&mut self, errand: Errand) -> Action {
        match self.make_or_good(&errand) {
            Ok((led, recipe, texts)) => {
                self.bring_voice(&led);
                let place = self.place_of(&errand, &led);
                let led = Arc::new(Led { stands_at: place.map_or(0, |(bar, _)| bar), ..Arc::unwrap_or_clone(led) });
                self.queued = None;
                self.controls.load(Arc::clone(&led.score), place, recipe);
                if errand.start == Start::AtOnce {
                    self.controls.cue(Cue::Go);
                }
                self.texts = texts;
                self.known.push(Arc::clone(&led));
                self.watch_what_is_used();
                Action::Led(led)
            }
            Err(error) => cannot_lead(&errand, &error),
        }
    }

    /// Gives the engine the words of a voice it has not had before, and tells once of what is wrong with the voice.
    fn bring_voice(&mut self, led: &Led) {
        let mut news = self.workshop.told_of(&led.room, &led.score);
        if self.workshop.voices() > self.voices {
            match self.workshop.clips() {
                Ok(clips) => {
                    self.voices = self.workshop.voices();
                    self.controls.clips(clips);
                }
                Err(error) => news.push(error.to_string()),
            }
        }
        let news = news.join("; ");
        if news != self.voice_news {
            self.untold = (!news.is_empty()).then(|| news.clone());
            if !news.is_empty() {
                self.controls.note_fault(&news);
            }
            self.voice_news = news;
        }
    }

    fn make(&mut self, errand: &Errand) -> Result<Making, MakeError> {
        let room = files::room(&self.room.0)?;
        let files = files::of(errand)?;
        let making = self.make_of(errand, &room, &files)?;
        self.room.1 = room;
        self.good.retain(|(known, _)| !known.sources().eq(errand.sources()));
        self.good.push((errand.clone(), files));
        Ok(making)
    }

    /// What `errand` asks for. A file saved with a mistake in it must not stop the class: its last good version serves, and the mistake is told
    /// after.
    fn make_or_good(&mut self, errand: &Errand) -> Result<Making, MakeError> {
        self.make(errand).or_else(|error| {
            let made = self.make_of_good(errand);
            self.passed_over = made.is_some().then(|| error.to_string());
            made.ok_or(error)
        })
    }

    fn make_of_good(&mut self, errand: &Errand) -> Option<Making> {
        let known = self.good.iter().find(|(known, _)| known.sources().eq(errand.sources()));
        let files = if errand.sources().next().is_some() { known?.1.clone() } else { Files::default() };
        let room = self.room.1.clone();
        self.make_of(errand, &room, &files).ok()
    }

    fn make_of(&mut self, errand: &Errand, room: &RoomText, files: &Files) -> Result<Making, MakeError> {
        let made = self.workshop.make(&errand.choice, room, files)?;
        // without its recorded sounds the class goes on with the built-in ones
        self.passed_over = made.passed_over.map(|faults| faults.to_string());
        if let Some(faults) = &self.passed_over {
            self.controls.note_fault(faults);
        }
        let texts = std::iter::once(&room.text).chain(files.texts()).cloned().collect();
        let climbing = files::climbing(errand, files, &self.room.0);
        let led = Led { errand: errand.clone(), room: Arc::new(made.room), score: made.score, climbing, stands_at: 0 };
        Ok((Arc::new(led), made.recipe, texts))
    }

    fn reread(&mut self, number: Option<usize>) -> Option<Action> {
        let renumbered =
            |errand: &Errand| Errand { choice: number.map_or(errand.choice.clone(), |number| Choice::Item { number }), ..errand.clone() };
        let Some(errand) = self.known.last().map(|led| renumbered(&led.errand)) else {
            return match files::open(self.room.0.clone(), &self.workshop) {
                Ok(opened) if self.texts.first() == Some(&opened.text.text) => None,
                Ok(opened) => Some(self.entered(opened)),
                Err(faults) => Some(Action::Faulty { what: told::FAULTY_FILE.to_owned(), faults: faults.to_string() }),
            };
        };
        match self.make(&errand) {
            Ok((_, _, texts)) if texts == self.texts => Some(Action::Mended),
            Ok((led, recipe, texts)) => {
                self.bring_voice(&led);
                self.controls.amend(Arc::clone(&led.score), recipe);
                self.texts = texts;
                self.known.push(Arc::clone(&led));
                Some(Action::Amended(led))
            }
            Err(error) => {
                self.controls.note_fault(&error.to_string());
                Some(Action::Faulty { what: told::FAULTY_FILE.to_owned(), faults: error.to_string() })
            }
        }
    }

    fn open_room(&mut self, source: Source) -> Action {
        match files::open(source, &self.workshop) {
            Ok(opened) => {
                let entered = self.entered(opened);
                self.remember_room();
                entered
            }
            Err(faults) => Action::Faulty { what: told::CANNOT_LEAD.to_owned(), faults: faults.to_string() },
        }
    }

    fn entered(&mut self, opened: OpenedRoom) -> Action {
        self.room = (opened.source.clone(), opened.text.clone());
        self.texts = vec![opened.text.text.clone()];
        self.watch_what_is_used();
        Action::Room(Box::new(opened))
    }

    fn watch_what_is_used(&mut self) {
        let Some(watch) = &mut self.watch else { return };
        let sources = self.known.last().into_iter().flat_map(|led| led.errand.sources());
        let lesson = self.lesson.iter().flat_map(|(source, files)| std::iter::once(source).chain(files));
        watch.only(std::iter::once(&self.room.0).chain(sources).chain(lesson).filter_map(Source::path));
    }
}

/// What is told of an errand that cannot be made.
fn cannot_lead(errand: &Errand, error: &MakeError) -> Action {
    match errand.choice {
        Choice::Item { number } => Action::ItemFaulty { number, faults: error.to_string() },
        _ => Action::Faulty { what: told::CANNOT_LEAD.to_owned(), faults: error.to_string() },
    }
}

pub use files::{Opening, cautions_were_read, opening};
