//! Which signs and colours the terminal gets. Nothing is told by colour alone: every state has a word and a shape besides.

use ratatui::style::{Color, Modifier, Style};
use std::env;
use std::str::FromStr;
use thiserror::Error;

/// The signs a terminal can show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Glyphs {
    /// Lines, blocks and braille.
    Rich,
    /// Lines and blocks.
    Blocks,
    /// What every terminal can.
    Ascii,
}

/// Whether colours are used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Colour {
    /// The terminal's own sixteen.
    Sixteen,
    /// None: bold and reversed only.
    None,
}

/// Signs and colours together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Look {
    /// The signs.
    pub glyphs: Glyphs,
    /// The colours.
    pub colour: Colour,
}

/// A word that names no set of signs.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a set of signs; write rich, blocks or ascii")]
pub struct UnknownGlyphs(pub String);

/// What a piece of text is, from which its style follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Most text.
    Plain,
    /// Headings and what matters now.
    Strong,
    /// What can wait.
    Quiet,
    /// The state's word, a marked line, a key.
    Marked,
    /// The engine sounds.
    Sounds,
    /// The class plays.
    Plays,
    /// What needs the director's eye.
    Warns,
}

impl Glyphs {
    /// What the surroundings say the terminal can show: ASCII where the text is not UTF-8 and on consoles with small fonts.
    #[must_use]
    pub fn find() -> Self {
        let set = |name: &str| env::var(name).ok().filter(|value| !value.is_empty());
        let locale = set("LC_ALL").or_else(|| set("LC_CTYPE")).or_else(|| set("LANG")).unwrap_or_default().to_lowercase();
        let utf8 = locale.contains("utf-8") || locale.contains("utf8") || cfg!(any(windows, target_os = "macos"));
        let terminal = set("TERM").unwrap_or_default();
        match terminal.as_str() {
            _ if !utf8 => Self::Ascii,
            "linux" | "vt100" | "vt220" | "ansi" => Self::Ascii,
            _ => Self::Rich,
        }
    }
}

impl FromStr for Glyphs {
    type Err = UnknownGlyphs;

    fn from_str(text: &str) -> Result<Self, UnknownGlyphs> {
        match text {
            "rich" => Ok(Self::Rich),
            "blocks" => Ok(Self::Blocks),
            "ascii" => Ok(Self::Ascii),
            _ => Err(UnknownGlyphs(text.to_owned())),
        }
    }
}

impl Look {
    /// The signs asked for, or those the surroundings suggest; no colours where NO_COLOR is set (no-color.org).
    #[must_use]
    pub fn find(glyphs: Option<Glyphs>) -> Self {
        let no_colour = env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        Self { glyphs: glyphs.unwrap_or_else(Glyphs::find), colour: if no_colour { Colour::None } else { Colour::Sixteen } }
    }

    /// The style of a role. Foregrounds are among the eight that read on light and dark grounds alike; grounds are never set.
    #[must_use]
    pub fn style(self, role: Role) -> Style {
        let bold = Style::new().add_modifier(Modifier::BOLD);
        let coloured = |style: Style, colour: Color| if self.colour == Colour::Sixteen { style.fg(colour) } else { style };
        match role {
            Role::Plain => Style::new(),
            Role::Strong => bold,
            Role::Quiet => Style::new().add_modifier(Modifier::DIM),
            Role::Marked => bold.add_modifier(Modifier::REVERSED),
            Role::Sounds => coloured(bold, Color::Blue),
            Role::Plays => coloured(bold, Color::Magenta),
            Role::Warns => coloured(bold, Color::Red),
        }
    }

    /// Whether lines and blocks can be drawn.
    #[must_use]
    pub fn has_blocks(self) -> bool {
        self.glyphs != Glyphs::Ascii
    }
}
