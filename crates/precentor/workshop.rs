//! From files and choices to scores: what the console and the command line both need before anything can sound.

use book::{Book, DrillFile, Fault, Faults, LessonFile, PieceFile};
use engine::Score;
use engine::journal::{FontNote, Recipe};
use engine::speech::{Pack, SpeechError, library};
use pitch::{Concert, PitchError};
use sequencer::compile::{self, CompileError};
use sequencer::meter::MeterError;
use sequencer::{ClimbSettings, Meter, Passage, Piece, Room, SectionIndex};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use synth::ClipBank;
use thiserror::Error;
use units::tempo::TempoError;
use units::{SampleRate, Tempo};

use crate::fonts::{FontShelf, Found};
pub use crate::texts::{DrillText, FileText, LessonText, PieceText, RoomText, Text};

/// What the class does next.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Choice {
    /// The drill, group after group.
    Drill,
    /// The drill seat by seat through one section.
    Roll {
        /// Which section, by name.
        section: String,
    },
    /// One section's landmarks, in order.
    Landmarks {
        /// Which section, by name.
        section: String,
    },
    /// Every section's note for a concert pitch, one section after another.
    InTurn {
        /// What sounds.
        concert: Concert,
    },
    /// The drill's model, one section after another.
    DrillInTurn,
    /// A passage of the piece up to its concert tempo.
    Climb {
        /// Which, by name; nothing for all of it.
        passage: Option<String>,
    },
    /// So many bars up to a tempo, with no piece.
    BareClimb {
        /// The tempo.
        tempo: Tempo,
        /// How its bars are counted.
        meter: Meter,
        /// How many bars a pass has.
        bars: u16,
    },
    /// A passage of the piece that fell apart, taken up again.
    Recheck {
        /// Which, by name; nothing for all of it.
        passage: Option<String>,
    },
    /// An item of the lesson.
    Item {
        /// Which, from zero.
        number: usize,
    },
}

/// The files a choice is made from, beside the room.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Files {
    /// For the choices that take a drill.
    pub drill: Option<DrillText>,
    /// For those that take a piece.
    pub piece: Option<PieceText>,
    /// For the item of a lesson.
    pub lesson: Option<LessonText>,
}

/// A choice, ready to sound.
#[derive(Clone, Debug)]
pub struct Made {
    /// The plan with its voices and words.
    pub score: Arc<Score>,
    /// The class it is for.
    pub room: Room,
    /// How it was made, for the journal.
    pub recipe: Recipe,
    /// What is to be mended in the room's recorded sounds; built-in ones serve meanwhile.
    pub passed_over: Option<Faults>,
}

/// Why a choice cannot sound.
#[derive(Debug, Error)]
pub enum MakeError {
    /// The room or the drill has faults, by itself or in this room.
    #[error(transparent)]
    File(#[from] Faults),
    /// The room and the choice do not go together.
    #[error(transparent)]
    Plan(#[from] CompileError),
    /// No section of that name.
    #[error("{room} has no section called \"{section}\"; {mend}")]
    UnknownSection {
        /// The room's name.
        room: String,
        /// The name asked for.
        section: String,
        /// The nearest name, or all of them.
        mend: String,
    },
    /// The choice needs a drill and there is none.
    #[error("there is no drill to take; name a drill file")]
    NoDrill,
    /// The choice needs a piece and there is none.
    #[error("there is no piece to take; name a piece file")]
    NoPiece,
    /// The choice needs a lesson and there is none.
    #[error("there is no lesson to take; name a lesson file")]
    NoLesson,
    /// No passage of that name.
    #[error("{piece} has no passage called \"{passage}\"; {mend}")]
    UnknownPassage {
        /// The piece's title.
        piece: String,
        /// The name asked for.
        passage: String,
        /// The nearest name, or all of them.
        mend: String,
    },
    /// A recipe of a kind this program does not make.
    #[error("a recipe of the kind \"{0}\" is not one this program makes; was it written by a newer one?")]
    UnknownKind(String),
    /// A recipe that lacks what its kind needs.
    #[error("a recipe of the kind \"{kind}\" has no {lacks}; was the file edited?")]
    Incomplete {
        /// The recipe's kind.
        kind: String,
        /// What is missing.
        lacks: &'static str,
    },
    /// A recipe with a pitch that is none.
    #[error(transparent)]
    Pitch(#[from] PitchError),
    /// A recipe with a tempo that is none.
    #[error(transparent)]
    Tempo(#[from] TempoError),
    /// A recipe with a meter that is none.
    #[error(transparent)]
    Meter(#[from] MeterError),
    /// A journal's SoundFont is gone or is another by now.
    #[error("the run sang from the SoundFont {path}, which {fault}; put the file of that day there")]
    Font {
        /// Where it lay.
        path: String,
        /// What became of it.
        fault: &'static str,
    },
}

/// Makes scores for one sample rate, spoken by the voices the rooms name.
#[derive(Debug)]
pub struct Workshop {
    rate: SampleRate,
    fonts: FontShelf,
    /// Where the teacher's own voices lie.
    own_voices: Option<PathBuf>,
    voices: Mutex<Vec<Voice>>,
    /// The clips of the first so many voices.
    bank: Mutex<(usize, Arc<ClipBank>)>,
}

/// A voice in use. Its clips stand in the bank behind those of the voices before it, for good: a bank with one voice more says the same under
/// the old numbers.
#[derive(Debug)]
struct Voice {
    /// As rooms name it.
    name: Option<String>,
    pack: Arc<Pack>,
    told: Vec<String>,
}

impl Workshop {
    /// A workshop for `rate` with the voices built in.
    #[must_use]
    pub fn new(rate: SampleRate) -> Self {
        Self { rate, fonts: FontShelf::default(), own_voices: None, voices: Mutex::default(), bank: Mutex::default() }
    }

    /// The same with the teacher's own voices, which lie in `folder`.
    #[must_use]
    pub fn with_own_voices(self, folder: Option<PathBuf>) -> Self {
        Self { own_voices: folder, ..self }
    }

    /// Frames per second of what is made.
    #[must_use]
    pub const fn rate(&self) -> SampleRate {
        self.rate
    }

    /// How many voices are in use: when there is one more, [`Self::clips`] has more to give.
    #[must_use]
    pub fn voices(&self) -> usize {
        self.shelf().len()
    }

    /// The words of every voice in use, or else of the usual one, decoded for the rate. Takes tens of milliseconds for each that is new.
    ///
    /// # Errors
    /// [`SpeechError`] naming the clip that cannot be decoded.
    pub fn clips(&self) -> Result<Arc<ClipBank>, SpeechError> {
        if self.voices() == 0 {
            self.voice(None);
        }
        let mut bank = self.bank.lock().unwrap_or_else(PoisonError::into_inner);
        // decoded outside the shelf's lock: scores can be made meanwhile
        let fresh: Vec<_> = self.shelf().iter().skip(bank.0).map(|voice| Arc::clone(&voice.pack)).collect();
        for pack in fresh {
            *bank = (bank.0 + 1, Arc::new(bank.1.with(pack.decode(self.rate)?)));
        }
        Ok(Arc::clone(&bank.1))
    }

    /// What the teacher should know of the voice of `room` that speaks `score`: that it is not there, or what it cannot say.
    #[must_use]
    pub fn told_of(&self, room: &Room, score: &Score) -> Vec<String> {
        let of_room = |voice: &&Voice| voice.name == room.voice;
        let mut told = self.shelf().iter().find(of_room).map(|voice| voice.told.clone()).unwrap_or_default();
        if !score.unspoken().is_empty() {
            told.push(format!("the voice cannot say {}; a click stands for it", score.unspoken().join(", ")));
        }
        told
    }

    /// The pack of the voice called `name`, numbered for the bank.
    fn voice(&self, name: Option<&str>) -> Arc<Pack> {
        let mut voices = self.shelf();
        if let Some(known) = voices.iter().find(|voice| voice.name.as_deref() == name) {
            return Arc::clone(&known.pack);
        }
        let found = library::find(name, self.own_voices.as_deref());
        let before: usize = voices.iter().map(|voice| voice.pack.clips()).sum();
        let pack = Arc::new(found.pack.numbered_from(u16::try_from(before).unwrap_or(u16::MAX)));
        voices.push(Voice { name: name.map(str::to_owned), pack: Arc::clone(&pack), told: found.told });
        pack
    }

    fn shelf(&self) -> MutexGuard<'_, Vec<Voice>> {
        self.voices.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Makes `choice` for the class of `room` from the files it takes.
    ///
    /// # Errors
    /// [`MakeError`]: every fault of the files at once, or one sentence.
    pub fn make(&self, choice: &Choice, room: &RoomText, files: &Files) -> Result<Made, MakeError> {
        self.make_with(choice, room, files, |_| {})
    }

    /// As [`Self::make`], with a drill that is not quite what its file says. The recipe knows nothing of the `change`: such a score is not for
    /// journals.
    ///
    /// # Errors
    /// As [`Self::make`].
    pub fn make_with(
        &self,
        choice: &Choice,
        room: &RoomText,
        files: &Files,
        change: impl FnOnce(&mut sequencer::Drill),
    ) -> Result<Made, MakeError> {
        self.made(choice, room, files, change, |class| self.fonts.find(class, &room.name, &room.text, None))
    }

    fn made(
        &self,
        choice: &Choice,
        room: &RoomText,
        files: &Files,
        change: impl FnOnce(&mut sequencer::Drill),
        sounds: impl FnOnce(&Room) -> Found,
    ) -> Result<Made, MakeError> {
        let read = room.read();
        let takes_a_drill = matches!(choice, Choice::Drill | Choice::Roll { .. } | Choice::DrillInTurn);
        let drill = takes_a_drill.then(|| files.drill.as_ref().ok_or(MakeError::NoDrill)).transpose()?;
        let takes_a_piece = matches!(choice, Choice::Climb { .. } | Choice::Recheck { .. });
        let piece = takes_a_piece.then(|| files.piece.as_ref().ok_or(MakeError::NoPiece)).transpose()?;
        let takes_a_lesson = matches!(choice, Choice::Item { .. });
        let lesson = takes_a_lesson.then(|| files.lesson.as_ref().ok_or(MakeError::NoLesson)).transpose()?;
        // all that is wrong in any of the files is told at once
        let read_drill = drill.map(Text::read).transpose();
        let read_piece = piece.map(Text::read).transpose();
        let read_lesson = lesson.map(Text::read).transpose();
        let (mut class, mut drill_file, piece_file, lesson_file) = all_of(read, read_drill, read_piece, read_lesson)?;
        let pack = self.voice(class.voice.as_deref());
        class.language = pack.language();
        if let Some(file) = &mut drill_file {
            change(&mut file.drill);
        }
        let section = |name: &str| find_section(&class, name);
        let drill_file = || drill_file.as_ref().ok_or(MakeError::NoDrill);
        let piece_file = || piece_file.as_ref().ok_or(MakeError::NoPiece);
        let plan = match choice {
            Choice::Drill => drill_file()?.compile(&class)?,
            Choice::Roll { section: name } => drill_file()?.roll(&class, section(name)?)?,
            Choice::DrillInTurn => drill_file()?.in_turn(&class)?,
            Choice::Landmarks { section: name } => compile::landmarks(&class, section(name)?)?,
            Choice::InTurn { concert } => compile::in_turn(&class, *concert)?,
            Choice::Climb { passage } => {
                let file = piece_file()?;
                compile::climb(&class, &file.piece, &find_passage(file, passage.as_deref())?, &file.climb)?
            }
            Choice::BareClimb { tempo, meter, bars } => {
                let piece = Piece::bare(format!("Up to {tempo}"), *tempo, *meter, *bars);
                compile::climb(&class, &piece, &piece.whole(), &ClimbSettings::default())?
            }
            Choice::Recheck { passage } => {
                let file = piece_file()?;
                compile::recheck(&class, &file.piece, &find_passage(file, passage.as_deref())?, &file.recheck)?
            }
            Choice::Item { number } => {
                let file = lesson_file.as_ref().ok_or(MakeError::NoLesson)?;
                file.plan(*number, &class, &mut |name| files.load(name))?
            }
        };
        let mut score = Score::new(plan, &class, &pack, self.rate);
        let found = sounds(&class);
        if let Some(sounds) = &found.sounds {
            score = score.with_sounds(sounds);
        }
        let recipe = Recipe { soundfont: found.note, ..choice.recipe(room, files) };
        Ok(Made { score: Arc::new(score), room: class, recipe, passed_over: found.faults })
    }

    /// Makes what a journal's recipe says.
    ///
    /// # Errors
    /// [`MakeError`], as [`Self::make`], or because the recipe is not whole.
    pub fn from_recipe(&self, recipe: &Recipe) -> Result<Made, MakeError> {
        let choice = Choice::of(recipe)?;
        let room = RoomText::new("the room in the journal", recipe.room.clone());
        let files = Files {
            drill: recipe.drill.clone().map(|text| DrillText::new("the drill in the journal", text)),
            piece: recipe.piece.clone().map(|text| PieceText::new("the piece in the journal", text)),
            lesson: recipe.lesson.clone().map(|text| LessonText::new("the lesson in the journal", text)),
        };
        let sounds = |class: &Room| match &recipe.soundfont {
            Some(note) => self.fonts.find(class, &room.name, &room.text, Some(note)),
            // the run had none, or could not use it
            None => Found::default(),
        };
        let made = self.made(&choice, &room, &files, |_| {}, sounds)?;
        match (&recipe.soundfont, &made.recipe.soundfont) {
            (Some(FontNote { path, .. }), None) => Err(MakeError::Font { path: path.clone(), fault: "cannot be read any more" }),
            (Some(then), Some(now)) if then.mark != now.mark => {
                Err(MakeError::Font { path: then.path.clone(), fault: "is another file by now, so that the run would not sound as it did" })
            }
            _ => Ok(made),
        }
    }
}

/// What the files say, or the faults of all of them: each file's stay together, in the order of its text.
type Read = (Room, Option<DrillFile>, Option<PieceFile>, Option<LessonFile>);

fn all_of(
    room: Result<Room, Faults>,
    drill: Result<Option<DrillFile>, Faults>,
    piece: Result<Option<PieceFile>, Faults>,
    lesson: Result<Option<LessonFile>, Faults>,
) -> Result<Read, Faults> {
    match (room, drill, piece, lesson) {
        (Ok(room), Ok(drill), Ok(piece), Ok(lesson)) => Ok((room, drill, piece, lesson)),
        (room, drill, piece, lesson) => {
            let faults = [room.err(), drill.err(), piece.err(), lesson.err()];
            let all: Vec<_> = faults.iter().flatten().flat_map(Faults::iter).cloned().collect();
            Err(Faults::new(all).unwrap_or_else(|| Fault::of_file("the files", "cannot be read", "check them").into()))
        }
    }
}

/// The passage of a piece called `name`, or all of it; else the nearest name to ask for instead.
fn find_passage(file: &PieceFile, name: Option<&str>) -> Result<Passage, MakeError> {
    let Some(name) = name else { return Ok(file.piece.whole()) };
    file.piece.passage(name).cloned().ok_or_else(|| {
        let names = || file.piece.passages.iter().map(|passage| passage.name.as_str());
        let mend = match book::suggest(name, names()) {
            Some(nearest) => format!("did you mean \"{nearest}\"?"),
            None => format!("it has {}", names().collect::<Vec<_>>().join(", ")),
        };
        MakeError::UnknownPassage { piece: file.piece.title.clone(), passage: name.to_owned(), mend }
    })
}

/// The section called `name`, or the nearest name to ask for instead.
///
/// # Errors
/// [`MakeError::UnknownSection`].
pub fn find_section(room: &Room, name: &str) -> Result<SectionIndex, MakeError> {
    room.find(name).ok_or_else(|| {
        let names = || room.sections.iter().map(|section| section.name.as_str());
        let mend = match book::suggest(name, names()) {
            Some(nearest) => format!("did you mean \"{nearest}\"?"),
            None => format!("it has {}", names().collect::<Vec<_>>().join(", ")),
        };
        MakeError::UnknownSection { room: room.name.clone(), section: name.to_owned(), mend }
    })
}

impl Choice {
    /// The choice's word, as recipes write it.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Drill => "drill",
            Self::Roll { .. } => "roll",
            Self::Landmarks { .. } => "landmarks",
            Self::InTurn { .. } => "in turn",
            Self::DrillInTurn => "drill in turn",
            Self::Climb { .. } => "climb",
            Self::BareClimb { .. } => "bare climb",
            Self::Recheck { .. } => "recheck",
            Self::Item { .. } => "item",
        }
    }

    fn recipe(&self, room: &RoomText, files: &Files) -> Recipe {
        let drill = || files.drill.as_ref().map(|drill| drill.text.clone());
        let piece = || files.piece.as_ref().map(|piece| piece.text.clone());
        let mut recipe = Recipe { kind: self.kind().to_owned(), room: room.text.clone(), ..Recipe::default() };
        match self {
            Self::Drill | Self::DrillInTurn => recipe.drill = drill(),
            Self::Roll { section } => (recipe.drill, recipe.section) = (drill(), Some(section.clone())),
            Self::Landmarks { section } => recipe.section = Some(section.clone()),
            Self::InTurn { concert } => recipe.concert = Some(concert.to_string()),
            Self::Climb { passage } | Self::Recheck { passage } => (recipe.piece, recipe.passage) = (piece(), passage.clone()),
            Self::BareClimb { tempo, meter, bars } => recipe.bare = Some((tempo.bpm(), meter.to_string(), *bars)),
            Self::Item { number } => {
                recipe.lesson = files.lesson.as_ref().map(|lesson| lesson.text.clone());
                recipe.item = Some(*number);
                (recipe.drill, recipe.piece) = (drill(), piece());
            }
        }
        recipe
    }

    fn of(recipe: &Recipe) -> Result<Self, MakeError> {
        let needed =
            |field: &Option<String>, lacks| field.clone().ok_or_else(|| MakeError::Incomplete { kind: recipe.kind.clone(), lacks });
        let section = || needed(&recipe.section, "section");
        let drill = || needed(&recipe.drill, "drill");
        let piece = || needed(&recipe.piece, "piece");
        Ok(match recipe.kind.as_str() {
            "drill" => drill().map(|_| Self::Drill)?,
            "drill in turn" => drill().map(|_| Self::DrillInTurn)?,
            "roll" => drill().and_then(|_| section()).map(|section| Self::Roll { section })?,
            "landmarks" => Self::Landmarks { section: section()? },
            "in turn" => Self::InTurn { concert: needed(&recipe.concert, "concert pitch")?.parse()? },
            "climb" => piece().map(|_| Self::Climb { passage: recipe.passage.clone() })?,
            "bare climb" => match &recipe.bare {
                Some((bpm, meter, bars)) => Self::BareClimb { tempo: Tempo::new(*bpm)?, meter: meter.parse()?, bars: *bars },
                None => return Err(MakeError::Incomplete { kind: recipe.kind.clone(), lacks: "tempo" }),
            },
            "recheck" => piece().map(|_| Self::Recheck { passage: recipe.passage.clone() })?,
            "item" => match (&recipe.lesson, recipe.item) {
                (Some(_), Some(number)) => Self::Item { number },
                _ => return Err(MakeError::Incomplete { kind: recipe.kind.clone(), lacks: "lesson and item" }),
            },
            other => return Err(MakeError::UnknownKind(other.to_owned())),
        })
    }
}

impl Files {
    /// A drill alone.
    #[must_use]
    pub fn drill(drill: DrillText) -> Self {
        Self { drill: Some(drill), ..Self::default() }
    }

    /// What the one file says that an item of the lesson calls `name`.
    fn load(&self, name: &str) -> Result<Book, Faults> {
        match (&self.drill, &self.piece) {
            (Some(drill), _) => Ok(Book::Drill(Box::new(drill.read()?))),
            (None, Some(piece)) => Ok(Book::Piece(Box::new(piece.read()?))),
            (None, None) => Err(Fault::of_file(name, "this file was not brought", "lead the lesson from its own folder").into()),
        }
    }

    /// Every text there is.
    pub fn texts(&self) -> impl Iterator<Item = &String> {
        let drill = self.drill.as_ref().map(|drill| &drill.text);
        let piece = self.piece.as_ref().map(|piece| &piece.text);
        drill.into_iter().chain(piece).chain(self.lesson.as_ref().map(|lesson| &lesson.text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use sequencer::Work;

    fn workshop() -> Workshop {
        Workshop::new(SampleRate::DEFAULT)
    }

    fn demo_drill() -> DrillText {
        DrillText::demos().remove(0)
    }

    fn every_choice(room: &Room) -> Vec<Choice> {
        let section = room.sections[0].name.clone();
        vec![
            Choice::Drill,
            Choice::Roll { section: section.clone() },
            Choice::Landmarks { section },
            Choice::InTurn { concert: "Bb3".parse().unwrap() },
            Choice::DrillInTurn,
            Choice::Climb { passage: Some("second strain".to_owned()) },
            Choice::Recheck { passage: None },
            Choice::BareClimb { tempo: Tempo::new(152.0).unwrap(), meter: "3/4".parse().unwrap(), bars: 8 },
        ]
    }

    #[test]
    fn every_item_of_a_lesson_made_again_from_its_recipe_is_the_same_plan() {
        let (room, lesson) = (RoomText::demo(), LessonText::demo());
        for (number, item) in book::demo::lesson().items.iter().enumerate() {
            let piece = matches!(item.item.as_ref().unwrap().work, Work::Climb { .. } | Work::Recheck { .. });
            let drill = (!piece).then(demo_drill);
            let files = Files { drill, piece: piece.then(PieceText::demo), lesson: Some(lesson.clone()) };
            let made = workshop().make(&Choice::Item { number }, &room, &files).unwrap();
            let again = workshop().from_recipe(&made.recipe).unwrap();
            assert!(!made.score.plan.bars.is_empty());
            assert_eq!(again.score.plan, made.score.plan, "item {number}");
            assert_eq!(again.recipe, made.recipe);
        }
    }

    #[test]
    fn every_choice_made_again_from_its_recipe_is_the_same_plan() {
        let room = RoomText::demo();
        let files = Files { drill: Some(demo_drill()), piece: Some(PieceText::demo()), lesson: None };
        for choice in every_choice(&book::demo::room()) {
            let made = workshop().make(&choice, &room, &files).unwrap();
            let again = workshop().from_recipe(&made.recipe).unwrap();
            assert!(!made.score.plan.bars.is_empty());
            assert_eq!(again.score.plan, made.score.plan, "{choice:?}");
            assert_eq!(again.recipe, made.recipe);
        }
    }

    #[test]
    fn what_is_missing_is_told_in_a_sentence() {
        let room = RoomText::demo();
        let message = |choice: &Choice| workshop().make(choice, &room, &Files::default()).unwrap_err().to_string();
        assert_eq!(message(&Choice::Drill), "there is no drill to take; name a drill file");
        let first = book::demo::room().sections[0].name.clone();
        let misspelt = format!("{first}z");
        let message = message(&Choice::Landmarks { section: misspelt });
        assert!(message.ends_with(&format!("did you mean \"{first}\"?")), "{message}");
        let recipe = Recipe { kind: "roll".to_owned(), room: room.text.clone(), drill: Some(demo_drill().text), ..Recipe::default() };
        let message = workshop().from_recipe(&recipe).unwrap_err().to_string();
        assert_eq!(message, "a recipe of the kind \"roll\" has no section; was the file edited?");
    }

    #[test]
    fn faults_of_room_and_drill_come_at_once() {
        let room = RoomText::new("room.toml", RoomText::demo().text.replace("version = 1", "version = 99"));
        let drill = DrillText::new("drill.toml", demo_drill().text.replace("version = 1", "version = 99"));
        let error = workshop().make(&Choice::Drill, &room, &Files::drill(drill)).unwrap_err().to_string();
        assert!(error.contains("room.toml") && error.contains("drill.toml"), "{error}");
    }

    fn in_voice(voice: &str) -> RoomText {
        let text = RoomText::demo().text.replace("version = 1", &format!("version = 1\nvoice = \"{voice}\""));
        RoomText::new("room.toml", text)
    }

    #[test]
    fn every_built_in_voice_says_every_word_of_its_language() {
        let shop = workshop();
        for name in library::built_in() {
            let made = shop.make(&Choice::InTurn { concert: "Bb3".parse().unwrap() }, &in_voice(name), &Files::default()).unwrap();
            assert_eq!(shop.told_of(&made.room, &made.score), Vec::<String>::new());
            assert_eq!(made.room.language.code(), name.get(..2).unwrap());
            let clips = shop.clips().unwrap();
            let pack = shop.voice(Some(name));
            for word in sequencer::words::vocabulary(pack.language()) {
                let index = pack.index_of(word).unwrap_or_else(|| panic!("no clip of {name} says {word}"));
                let clip = pack.word(index).spoken(engine::speech::Tier::Natural).unwrap();
                let lasts = clips.get(clip.clip).unwrap().samples().len() as f64 * 1000.0 / shop.rate().hz() as f64;
                assert!((lasts - clip.duration_ms).abs() < 0.2, "{word} of {name} lasts {lasts} ms");
            }
        }
        assert!(shop.voices() >= 3);
    }

    #[test]
    fn a_second_voice_leaves_the_first_ones_clips_where_they_are() {
        let shop = workshop();
        let alone = shop.clips().unwrap();
        shop.make(&Choice::Drill, &in_voice("es-formant"), &Files::drill(demo_drill())).unwrap();
        let both = shop.clips().unwrap();
        assert!(both.len() > alone.len());
        assert!((0..alone.len() as u16).all(|clip| both.get(clip) == alone.get(clip)));
    }

    #[test]
    fn a_voice_that_is_not_there_is_told_and_another_speaks() {
        let shop = workshop();
        let made = shop.make(&Choice::Drill, &in_voice("fr-nobody"), &Files::drill(demo_drill())).unwrap();
        let told = shop.told_of(&made.room, &made.score);
        assert!(told.iter().any(|told| told.contains("fr-nobody")), "{told:?}");
        assert_eq!(made.room.language, sequencer::Language::French);
        assert!(made.score.unspoken().is_empty());
    }

    #[test]
    fn the_teachers_own_words_come_first_and_the_gaps_are_filled() {
        let own = tempfile::tempdir().unwrap();
        let folder = own.path().join("mine");
        std::fs::create_dir_all(folder.join("clips")).unwrap();
        let spec = hound::WavSpec { channels: 1, sample_rate: 24_000, bits_per_sample: 16, sample_format: hound::SampleFormat::Int };
        let mut wav = hound::WavWriter::create(folder.join("clips/one.wav"), spec).unwrap();
        let hum = |n: i32| ((f64::from(n) * 700.0 * std::f64::consts::TAU / 24_000.0).sin() * 8000.0) as i16;
        (0..12_000).for_each(|n| wav.write_sample(if (3000..9000).contains(&n) { hum(n) } else { 0 }).unwrap());
        wav.finalize().unwrap();

        let shop = workshop().with_own_voices(Some(own.path().to_owned()));
        shop.make(&Choice::Drill, &in_voice("mine"), &Files::drill(demo_drill())).unwrap();
        let pack = shop.voice(Some("mine"));
        let spoken = |pack: &Pack, id: &str| pack.word(pack.index_of(id).unwrap()).spoken(engine::speech::Tier::Natural).unwrap();
        let built_in = Pack::builtin().unwrap();
        assert!((200.0..320.0).contains(&spoken(&pack, "one").duration_ms), "{:?}", spoken(&pack, "one"));
        assert_eq!(spoken(&pack, "two").attack_ms, spoken(&built_in, "two").attack_ms);
        assert!(shop.clips().unwrap().get(spoken(&pack, "one").clip).is_some());

        std::fs::write(folder.join("pack.toml"), "language = 7\n").unwrap();
        let again = workshop().with_own_voices(Some(own.path().to_owned()));
        let made = again.make(&Choice::Drill, &in_voice("mine"), &Files::drill(demo_drill())).unwrap();
        let told = again.told_of(&made.room, &made.score);
        assert!(told.iter().any(|told| told.contains("pack.toml")), "{told:?}");
        assert!(made.score.unspoken().is_empty());
    }
}
