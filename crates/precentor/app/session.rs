//! Does what updates ask for: the engine, files, the journal. Everything slow or outside the state is here.

mod files;
mod journal;
mod watch;

use engine::Controls;
use engine::journal::Deed;
use sequencer::Cue;
use std::sync::Arc;
use std::time::Duration;

use super::action::{Action, OpenedRoom};
use super::effect::{Effect, Errand, Start};
use super::shelf::{self, Shelf, Source};
use super::state::{Led, Voice};
use crate::folders::Folders;
use crate::inputs::Bindings;
use crate::text::{pedals, told};
use crate::workshop::{DrillText, MakeError, RoomText, Workshop};
use journal::JournalFile;
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
    /// Every drill that was led, as it last was without a fault.
    drills: Vec<(Source, DrillText)>,
    /// Faults of a file whose last good version was led instead, still to be told.
    passed_over: Option<String>,
    /// How many voices the engine has.
    voices: usize,
    /// What is wrong with the voice, as it was last told or will be.
    voice_news: String,
    /// What of it is still to be told.
    untold: Option<String>,
    wants_out: bool,
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
            drills: Vec::new(),
            passed_over: None,
            voices,
            voice_news: String::new(),
            untold: None,
            wants_out: false,
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
        let in_force = self.controls.score_of(&snapshot).and_then(|score| {
            let place = self.known.iter().position(|led| Arc::ptr_eq(&led.score, score))?;
            self.known.drain(..place);
            self.known.first().map(Arc::clone)
        });
        let mut actions = vec![Action::Tick { snapshot, in_force, now }];
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
            Effect::Reread => self.reread(),
            Effect::OpenRoom(source) => Some(self.open_room(source)),
            Effect::Look => {
                let drill = self.known.last().and_then(|led| led.errand.drill.clone());
                Some(Action::Shelf(Shelf::find(self.folders.as_ref(), &self.room.0, drill.as_ref())))
            }
            Effect::Bind(signal, deed) => {
                let path = self.folders.as_ref()?.inputs();
                let kept = files::keep_binding(&path, signal, deed);
                kept.err().map(|why| Action::Tell(pedals::not_kept(&path.display().to_string(), &why)))
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

    /// Writes what is left and ends the journal. The engine must have gone quiet.
    pub fn end(&mut self) {
        let snapshot = self.controls.poll();
        let mut entries = self.controls.take_entries();
        entries.push(engine::journal::Entry { frame: snapshot.now.0, deed: Deed::End });
        if let Some(mut journal) = self.journal.take() {
            // the screen is gone: there is nobody left to tell
            let _ = journal.write(&entries);
        }
    }

    fn lead(&mut self, errand: Errand) -> Action {
        let made = self.make(&errand).or_else(|error| {
            // a file saved with a mistake in it must not stop the class: its last good version serves, and the mistake is told after
            let made = self.make_of_good(&errand);
            self.passed_over = made.is_some().then(|| error.to_string());
            made.ok_or(error)
        });
        match made {
            Ok((led, recipe, texts)) => {
                self.bring_voice(&led);
                self.controls.load(Arc::clone(&led.score), errand.place, recipe);
                if errand.start == Start::AtOnce {
                    self.controls.cue(Cue::Go);
                }
                self.texts = texts;
                self.known.push(Arc::clone(&led));
                self.watch_what_is_used();
                Action::Led(led)
            }
            Err(error) => Action::Faulty { what: told::CANNOT_LEAD.to_owned(), faults: error.to_string() },
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
        let drill = errand.drill.as_ref().map(files::drill).transpose()?;
        let making = self.make_of(errand, &room, drill.as_ref())?;
        self.room.1 = room;
        if let (Some(source), Some(text)) = (&errand.drill, drill) {
            self.drills.retain(|(known, _)| known != source);
            self.drills.push((source.clone(), text));
        }
        Ok(making)
    }

    fn make_of_good(&mut self, errand: &Errand) -> Option<Making> {
        let drill = match &errand.drill {
            Some(source) => Some(self.drills.iter().find(|(known, _)| known == source)?.1.clone()),
            None => None,
        };
        let room = self.room.1.clone();
        self.make_of(errand, &room, drill.as_ref()).ok()
    }

    fn make_of(&mut self, errand: &Errand, room: &RoomText, drill: Option<&DrillText>) -> Result<Making, MakeError> {
        let made = self.workshop.make(&errand.choice, room, drill)?;
        // without its recorded sounds the class goes on with the built-in ones
        self.passed_over = made.passed_over.map(|faults| faults.to_string());
        if let Some(faults) = &self.passed_over {
            self.controls.note_fault(faults);
        }
        let texts = std::iter::once(&room.text).chain(drill.map(|drill| &drill.text)).cloned().collect();
        let led = Led { errand: errand.clone(), room: Arc::new(made.room), score: made.score };
        Ok((Arc::new(led), made.recipe, texts))
    }

    fn reread(&mut self) -> Option<Action> {
        let Some(errand) = self.known.last().map(|led| led.errand.clone()) else {
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
        let drill = self.known.last().and_then(|led| led.errand.drill.as_ref());
        let paths = [Some(&self.room.0), drill].into_iter().flatten().filter_map(Source::path);
        watch.only(paths);
    }
}

pub use files::{cautions_were_read, opening};
